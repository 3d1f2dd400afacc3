"""The picture in the README, put together from a built demo. Run: ``python -m tests.bench.readme_picture`` (needs pdftoppm)."""

from __future__ import annotations

import json
import subprocess
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parent.parent.parent
BUILD = ROOT / "demo_project/build"
OUT = ROOT / "pipeline/guide/what-comes-out.png"
_PAPER, _LINE = (238, 240, 243), (170, 176, 186)
_GAP, _HEIGHT = 24, 700


def main() -> None:
    """Write the picture: boot notice and couriers on a harbour on the left, the packet's first page on the right."""
    page = _page().resize((round(_HEIGHT * 0.7071), _HEIGHT), Image.Resampling.LANCZOS)
    width = 640 + page.width + 3 * _GAP
    sheet = Image.new("RGB", (width, _HEIGHT + 2 * _GAP), _PAPER)
    with Image.open(BUILD / "proofs/boot.png") as boot:
        notice = boot.convert("RGB").resize((480, 360), Image.Resampling.NEAREST)
    _put(sheet, notice, (_GAP + 80, _GAP))
    _put(sheet, _scene(), (_GAP, _GAP + _HEIGHT - 320))
    _put(sheet, page, (640 + 2 * _GAP, _GAP))
    sheet.quantize(255, dither=Image.Dither.NONE).save(OUT, optimize=True)


def _put(sheet: Image.Image, picture: Image.Image, place: tuple[int, int]) -> None:
    frame = Image.new("RGB", (picture.width + 2, picture.height + 2), _LINE)
    sheet.paste(frame, (place[0] - 1, place[1] - 1))
    sheet.paste(picture, place)


def _page() -> Image.Image:
    with tempfile.TemporaryDirectory() as scratch:
        command = ["pdftoppm", "-r", "110", "-f", "1", "-l", "1", "-png", str(BUILD / "packet.pdf"), f"{scratch}/page"]
        subprocess.run(command, check=True)
        with Image.open(next(Path(scratch).glob("*.png"))) as page:
            return page.convert("RGB")


def _scene() -> Image.Image:
    """Three couriers on a harbour, all from the image's own bytes by way of the proofs' source, the decoder."""
    from pipeline.project import load_project
    from pipeline.report.proof_subject import coloured
    from pipeline.report.proof_subject import take as read

    target = load_project(ROOT / "demo_project").target
    image = next((BUILD / "rom").glob("*.rom"))
    entries = {entry["name"]: entry for entry in json.loads((BUILD / "map.json").read_bytes())["entries"]}
    take = {name: read(image, name, entries, target) for name in ("palmsteps", "palmsteps_colours", "couriers", "pell", "tove", "orrin")}
    ground = Image.fromarray(coloured(take["palmsteps"], take["palmsteps_colours"])[0][0])
    for name, frame, left in (("orrin", 50, 90), ("pell", 30, 270), ("tove", 20, 440)):
        rgb, clear = coloured(take[name], take["couriers"])
        mask = Image.fromarray((~clear[frame]).astype("uint8") * 255)
        top = 296 - take[name].head["anchor_y"]
        ground.paste(Image.fromarray(rgb[frame]), (left, top), mask)
    return ground


if __name__ == "__main__":
    main()
