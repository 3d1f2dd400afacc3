"""Fonts: glyphs of the characters asked for, brought to one box, to a blob with a table of code points and widths."""

from __future__ import annotations

import dataclasses

from pipeline.assets.art import Artwork
from pipeline.assets.blob import put_record, save_blob, save_facts, show_padding
from pipeline.assets.fonts.characters import also_said, asked_characters, control_problems, is_control
from pipeline.assets.fonts.source import OutlineSource, StripSource
from pipeline.assets.sources.prepared import GlyphTable, PreparedFrames, write_frames
from pipeline.joints.facts import FontFacts
from pipeline.joints.layouts import FONT, GLYPH, NO_PALETTE, VERSION, name_hash, record_bytes
from pipeline.joints.pixel_size import padding_bytes
from pipeline.joints.places import BlobFiles, FrameFiles, Sources
from pipeline.joints.views import PaletteView
from pipeline.pixels.glyphs import Box, Glyph, box_of, evenly_spaced, in_box
from pipeline.pixels.pack import pack_picture, padded
from pipeline.plain.bounds import CHARACTERS, PICTURE_PIXELS
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import replacing
from pipeline.plain.sizes import round_up
from pipeline.project.art import is_picture, strip_order
from pipeline.project.assets import Font
from pipeline.target.calls import Call
from pipeline.target.records import PictureRules


def prepare_font(
    sources: Sources, out: FrameFiles, name: str, spec: Font, said: Sources | None = None, read: Call | None = None
) -> str:
    """Draw or cut the glyphs of a font, one frame each, and write them; return one line about it.

    Args:
        sources: the font or strip, then the text files.
        said: files of texts, whose characters it must have as well; ``read`` reads them, see ``texts.read``.

    Raises:
        ProjectError: the source cannot be used, a text cannot be read, or a character has no glyph (all are reported at once).
    """
    folder, files = sources.folder, sources.names
    source = (StripSource if is_picture(files[0]) else OutlineSource)(folder, files[0], spec)
    problems = []
    key, characters = ("characters", spec.characters) if spec.characters or spec.texts else ("order", strip_order(spec))
    asked = asked_characters(folder, f"[font.{name}] {key}", characters, files[1:], problems)
    asked = also_said(asked, said, read, problems) if said and read else asked
    problems += control_problems(asked)
    asked = {character: uses for character, uses in asked.items() if not is_control(character)}
    problems += source.problems(asked)
    if problems:
        raise ProjectError(problems)
    if not asked:
        raise refuse("project.toml", f"[font.{name}]", "its texts hold no character", "put words in them, or list characters")
    if len(asked) > CHARACTERS:
        wrong = f"{len(asked):,} characters, at most {CHARACTERS:,} are taken"
        raise refuse("project.toml", f"[font.{name}]", wrong, "use fewer, or two fonts")
    glyphs = source.glyphs(asked)
    glyphs = evenly_spaced(glyphs) if spec.spacing == "fixed" else glyphs
    box = _box(name, spec, glyphs)
    if len(glyphs) * box.width * box.height > PICTURE_PIXELS:
        pixels = len(glyphs) * box.width * box.height
        wrong = f"{len(glyphs):,} glyphs of {box.width} x {box.height} have {pixels:,} pixels; at most {PICTURE_PIXELS:,} are taken"
        raise refuse("project.toml", f"[font.{name}]", wrong, "use fewer characters, a smaller size, or two fonts")
    with replacing(out.pixels) as file:
        for glyph in glyphs:
            file.write(in_box(glyph, box).tobytes())
    table = GlyphTable(
        glyphs=[(ord(character), glyph.advance) for character, glyph in zip(asked, glyphs, strict=True)],
        left=box.left,
        baseline=box.baseline,
        line_height=source.line_height if spec.line_height is None else spec.line_height,
    )
    write_frames(out.described, len(glyphs), (box.width, box.height), (box.width, box.height), table=table)
    return f"{len(glyphs)} glyphs, {box.width} x {box.height} pixels"


def _box(name: str, spec: Font, glyphs: list[Glyph]) -> Box:
    box = box_of(glyphs)
    if spec.box is None:
        return box
    if box.width > spec.box[0] or box.height > spec.box[1]:
        wrong = f"{spec.box[0]} x {spec.box[1]} pixels do not hold the glyphs, which need {box.width} x {box.height}"
        raise refuse("project.toml", f"[font.{name}] box", wrong, "make box larger or the font smaller, or leave box out")
    return box._replace(width=spec.box[0], height=spec.box[1])


def convert_font(
    prepared: FrameFiles,
    palette: PaletteView | None,
    out: BlobFiles,
    name: str,
    spacing: str,
    origin: str,
    rules: PictureRules,
    alignment: int,
) -> str:
    """Write a font's blob and facts; return one line about it.

    Glyphs that look the same share one picture. Their box is padded to whole cells where pixels are stored cell by cell.

    Raises:
        ProjectError: a number leaves its field.
    """
    frames = PreparedFrames(prepared)
    if rules.pixel_format.order == "rows":
        rules = dataclasses.replace(rules, cell=(1, 1))
    art = Artwork(frames, palette, rules, name, "none")
    pictures: dict[bytes, int] = {}
    shown = []
    for pixels in art:
        packed = padded(pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell, rules.starts.cell), rules.starts.glyph)
        shown.append(pictures.setdefault(packed, len(pictures)))
    described = frames.facts.table
    if described is None:
        raise ValueError(f"the frames of {name} are not a font's")
    table = described.glyphs
    measures = _measures(art, described, spacing, len(pictures))
    glyphs_at = record_bytes(FONT)
    pixels_at = round_up(glyphs_at + record_bytes(GLYPH) * len(table), max(alignment, 4))
    try:
        head = put_record(
            FONT,
            rules.byte_order,
            version=VERSION,
            pixel_format=rules.rank,
            **measures,
            palette=name_hash(art.palette) if art.palette else NO_PALETTE,
            clear=art.base if art.palette else rules.pixel_format.pixel.fixed,
            picture_bytes=len(next(iter(pictures))),
            glyphs=glyphs_at,
            pixels=pixels_at,
        )
        rows = [
            put_record(GLYPH, rules.byte_order, code=code, advance=advance, picture=picture)
            for (code, advance), picture in zip(table, shown, strict=True)
        ]
    except OverflowError:
        remedy = "a font holds at most 65,535 glyphs, sizes and widths; use fewer characters, or a smaller size"
        raise refuse("project.toml", f"[font.{name}]", "a number leaves its field in the blob", remedy) from None
    facts = FontFacts(
        **save_blob(out.content, name, [(head + b"".join(rows)).ljust(pixels_at, b"\0"), *pictures], origin),
        glyph_count=measures["glyph_count"],
        picture_count=measures["picture_count"],
        width=measures["width"],
        height=measures["height"],
        left=measures["left"],
        baseline=measures["baseline"],
        line_height=measures["line_height"],
        advance=measures["advance"],
        spacing=spacing,
        characters=table,
        palette=art.palette,
        intent=art.intent.facts(),
        colour_error=art.colour_error(),
        padding=len(pictures) * padding_bytes(measures["width"], measures["height"], rules, len(next(iter(pictures)))),
    )
    return f"{len(table)} glyphs of {facts.width} x {facts.height}, {save_facts(out.facts, facts)}{show_padding(facts)}"


def _measures(art: Artwork, table: GlyphTable, spacing: str, pictures: int) -> dict[str, int]:
    """Return what facts and record of a font hold under the same name."""
    count, height, width = art.intent.shape
    return {
        "glyph_count": count,
        "picture_count": pictures,
        "width": width,
        "height": height,
        "left": table.left,
        "baseline": table.baseline,
        "line_height": table.line_height,
        "advance": table.glyphs[0][1] if spacing == "fixed" else 0,
    }
