"""The README's pictures, put together from the built demos. Run: ``python -m tests.bench.readme_picture`` (needs pdftoppm)."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from pipeline.joints.map import read_map
from pipeline.project.loading.load import load_project
from pipeline.proofs.subject import coloured
from tests.reading.decoding import take as read

ROOT = Path(__file__).parent.parent.parent
GUIDE = ROOT / "pipeline/guide"
FIRST, SECOND, THIRD = ROOT / "demo_project", ROOT / "demo_project/veillee", ROOT / "demo_project/diver"
_PAPER, _LINE = (238, 240, 243), (170, 176, 186)
_GAP, _HEIGHT = 24, 700
_SEEN = (585, 384)  # a screen of Brindille 16 at twice its size, its pixels 8 : 7


def main() -> None:
    """Write all three."""
    _first().save(GUIDE / "what-comes-out.png", optimize=True)
    _second().save(GUIDE / "second-demo.png", optimize=True)
    _third().save(GUIDE / "third-demo.png", optimize=True)


def _first() -> Image.Image:
    """Boot notice and couriers on a harbour on the left, the packet's first page on the right."""
    page = _page(FIRST, _HEIGHT)
    sheet = Image.new("RGB", (640 + page.width + 3 * _GAP, _HEIGHT + 2 * _GAP), _PAPER)
    with Image.open(FIRST / "build/proofs/boot.png") as boot:
        notice = boot.convert("RGB").resize((480, 360), Image.Resampling.NEAREST)
    _put(sheet, notice, (_GAP + 80, _GAP))
    _put(sheet, _harbour(), (_GAP, _GAP + _HEIGHT - 320))
    _put(sheet, page, (640 + 2 * _GAP, _GAP))
    return sheet.quantize(255, dither=Image.Dither.NONE)


def _second() -> Image.Image:
    """Title and a walk along the dyke on the left, the packet's first page on the right."""
    images = _Images(SECOND)
    height = 2 * _SEEN[1] + _GAP
    page = _page(SECOND, height)
    sheet = Image.new("RGB", (_SEEN[0] + page.width + 3 * _GAP, height + 2 * _GAP), _PAPER)
    title = Image.fromarray(images.coloured("titre", "titre_couleurs")[0][0])
    _put(sheet, _seen(title), (_GAP, _GAP))
    _put(sheet, _seen(_dyke(images)), (_GAP, 2 * _GAP + _SEEN[1]))
    _put(sheet, page, (_SEEN[0] + 2 * _GAP, _GAP))
    return sheet.quantize(255, dither=Image.Dither.NONE)


def _third() -> Image.Image:
    """Boot notice and bowl of the handheld side by side, each at twice its size."""
    with Image.open(THIRD / "build/proofs/boot.png") as boot:
        screens = [boot.convert("RGB"), _bowl()]
    wide, high = (2 * side for side in screens[0].size)
    sheet = Image.new("RGB", (2 * wide + 3 * _GAP, high + 2 * _GAP), _PAPER)
    for rank, screen in enumerate(screens):
        _put(sheet, screen.resize((wide, high), Image.Resampling.NEAREST), (_GAP + rank * (wide + _GAP), _GAP))
    return sheet.quantize(255, dither=Image.Dither.NONE)


def _seen(picture: Image.Image) -> Image.Image:
    """Return a screen as a television shows it: first to whole multiples, so that pixels stay as wide as each other."""
    large = picture.resize((picture.width * 16, picture.height * 2), Image.Resampling.NEAREST)
    return large.resize(_SEEN, Image.Resampling.BOX)


def _put(sheet: Image.Image, picture: Image.Image, place: tuple[int, int]) -> None:
    frame = Image.new("RGB", (picture.width + 2, picture.height + 2), _LINE)
    sheet.paste(frame, (place[0] - 1, place[1] - 1))
    sheet.paste(picture, place)


def _page(project: Path, height: int) -> Image.Image:
    with tempfile.TemporaryDirectory() as scratch:
        command = ["pdftoppm", "-r", "110", "-f", "1", "-l", "1", "-png", str(project / "build/packet.pdf"), f"{scratch}/page"]
        subprocess.run(command, check=True)
        with Image.open(next(Path(scratch).glob("*.png"))) as page:
            return page.convert("RGB").resize((round(height * 0.7071), height), Image.Resampling.LANCZOS)


class _Images:
    """What a built project's image holds, from its own bytes by way of the proofs' source, the decoder."""

    def __init__(self, project: Path) -> None:
        self._target = load_project(project).target
        self._image = next((project / "build/rom").glob("*.rom"))
        self._entries = read_map(project / "build/map.json").by_name()

    def take(self, name: str) -> Any:
        return read(self._image, name, self._entries, self._target)

    def coloured(self, name: str, palette: str) -> tuple[np.ndarray, np.ndarray]:
        return coloured(self.take(name), self.take(palette))

    def stand(self, ground: Image.Image, name: str, palette: str, frame: int, place: tuple[int, int]) -> None:
        """Put a sprite's frame onto a picture, its anchor at a place."""
        rgb, clear = self.coloured(name, palette)
        head = self.take(name).head
        mask = Image.fromarray((~clear[frame]).astype("uint8") * 255)
        ground.paste(Image.fromarray(rgb[frame]), (place[0] - head["anchor_x"], place[1] - head["anchor_y"]), mask)


def _harbour() -> Image.Image:
    """Three couriers on a harbour."""
    images = _Images(FIRST)
    ground = Image.fromarray(images.coloured("palmsteps", "palmsteps_colours")[0][0])
    for name, frame, left in (("orrin", 50, 90), ("pell", 30, 270), ("tove", 20, 440)):
        images.stand(ground, name, "couriers", frame, (left + images.take(name).head["anchor_x"], 296))
    return ground


def _dyke(images: _Images) -> Image.Image:
    """Both keepers and the toad on the dyke, one lamp lit: one screen."""
    bands = [images.coloured(name, palette)[0][0] for name, palette in (("lointain", "ciel"), ("digue", "chemins"))]
    ground = Image.fromarray(np.concatenate([np.roll(bands[0], -116, axis=1), np.roll(bands[1], -24, axis=1)])[:, :256])
    for name, frame, place in (
        ("lampe", 1, (16, 120)), ("lampe", 2, (144, 120)), ("mielle", 7, (56, 124)), ("tobin", 10, (98, 124)), ("grouf", 1, (204, 127)),
        ("phalene", 0, (140, 62)), ("phalene", 2, (36, 60)),
    ):  # fmt: skip
        images.stand(ground, name, "figures", frame, place)
    return ground


def _bowl() -> Image.Image:
    """The diver and all who live in the bowl."""
    images = _Images(THIRD)
    ground = Image.fromarray(images.coloured("bowl", "water")[0][0])
    for name, palette, frame, place in (
        ("guppy", "coral", 1, (150, 62)), ("guppy", "coral", 3, (84, 46)), ("snail", "coral", 1, (52, 148)),
        ("crab", "shell", 4, (168, 154)), ("diver", "tin", 8, (120, 140)), ("bubble", "glass", 2, (130, 92)),
        ("bubble", "glass", 1, (127, 72)),
    ):  # fmt: skip
        images.stand(ground, name, palette, frame, place)
    return ground


if __name__ == "__main__":
    main()
