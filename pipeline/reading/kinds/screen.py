"""Boot notices back to a picture and its own palette, with codes that read."""

from __future__ import annotations

from pipeline.joints.codes import code_fault
from pipeline.joints.facts import ScreenFacts
from pipeline.joints.layouts import SCREEN
from pipeline.reading.compare import size_of, wrong_head, wrong_pixels
from pipeline.reading.decoded import Decoded, FindPool, read_record
from pipeline.reading.pixels import format_of, read_entries, read_picture
from pipeline.reading.show import screen_rgb
from pipeline.target.records import Target


def decode_screen(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a boot notice; see ``decoded.decode_blob``."""
    head = read_record(SCREEN, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    pixels = read_picture(blob, head["pixels"], head, pixel_format, target)[None]
    return Decoded(head, pixels, read_entries(blob, head, target), pixel_format=pixel_format)


def compare_screen(decoded: Decoded, facts: ScreenFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    return wrong_head(decoded, size_of(facts.intent)) + wrong_pixels(decoded, facts.intent) + _wrong_codes(decoded, facts)


def _wrong_codes(decoded: Decoded, facts: ScreenFacts) -> list[str]:
    rgb, faults = screen_rgb(decoded), []
    for code in facts.codes:
        fault = code_fault(rgb, code.left, code.top, facts.module_pixels, code.link, facts.code_version)
        if fault:
            faults.append(f"the code {code.label!r} {fault}")
    return faults
