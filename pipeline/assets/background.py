"""Backgrounds: one prepared picture to a blob."""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.art import Artwork
from pipeline.assets.blob import name_hash, put_record, save_blob
from pipeline.assets.prepared import PreparedFrames
from pipeline.errors import refuse
from pipeline.pixels.pack import pack_picture
from pipeline.project_file import Background
from pipeline.records import BACKGROUND, NO_PALETTE, VERSION, record_bytes
from pipeline.sizes import round_up
from pipeline.target import PictureRules


def convert_background(work: Path, blobs: Path, name: str, spec: Background, rules: PictureRules, alignment: int) -> str:
    """Write a background's blob and facts; return one line about it.

    Raises:
        ProjectError: a side is longer than 65,535 pixels.
    """
    frames = PreparedFrames(work, name)
    art = Artwork(frames, blobs, spec.palette, rules, name, spec.dither)
    pixels = next(iter(art))
    if max(pixels.shape) > 65535:
        raise refuse("project.toml", f"[background.{name}]", f"{frames.width} x {frames.height} pixels", "use a smaller scale")
    pixels_at = round_up(record_bytes(BACKGROUND), max(alignment, 4))
    head = put_record(
        BACKGROUND,
        rules.byte_order,
        version=VERSION,
        pixel_format=rules.rank,
        width=pixels.shape[1],
        height=pixels.shape[0],
        palette=name_hash(spec.palette) if spec.palette else NO_PALETTE,
        pixels=pixels_at,
    )
    blob = head.ljust(pixels_at, b"\0") + pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell)
    facts = {
        "width": frames.width,
        "height": frames.height,
        "source_width": frames.facts["source"][0],
        "source_height": frames.facts["source"][1],
        "scale": frames.facts["scale"],
        "cells": [pixels.shape[1] // rules.cell[0], pixels.shape[0] // rules.cell[1]],
        "palette": spec.palette,
        "intent": art.intent.facts(),
        "colour_error": art.errors.facts(),
        "origin": spec.origin,
    }
    return f"{frames.width} x {frames.height}, {save_blob(blobs, name, 'background', blob, facts)}"
