"""How few cells frames need as pieces, beside a grid and strips. Run: ``python -m tests.bench.pieces``.

Figures: the demo's couriers, scaled; and scikit-image's silhouette of a horse (``skimage.data.horse``), turned, sheared
and swirled. Each line is one set. Ratios are cells to the bound of area, opaque pixels / pixels of a cell; ``proved`` is
the same for the bound by prices, so no covering can lie below it. Times are processor time on this machine.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
from PIL import Image
from skimage import data, transform

from pipeline.pixels.pieces.pieces import Pool, cover, cut_pieces, pool
from pipeline.pixels.pieces.prices import least_cells, pixel_prices
from tests.pixels.inverses import draw_pieces

ROOT = Path(__file__).parent.parent.parent
_RECORD = 6  # bytes that say a piece's place and cell


def main() -> None:
    """Measure and print."""
    for name, frames, cell in _sets():
        _measure(name, frames, cell)


def _sets() -> list[tuple[str, list[np.ndarray], tuple[int, int]]]:
    couriers, horses = _couriers(0.75, step=3), _horses(40, 80)
    large = _couriers(1.6, step=60)
    return [
        ("couriers 90 x 120", couriers, (16, 16)),
        ("horses, 80 high and more", horses, (16, 16)),
        ("couriers 90 x 120", couriers[::4], (8, 8)),
        ("horses, 80 high and more", horses[::4], (8, 8)),
        ("horses, 80 high and more", horses[::2], (16, 8)),
        ("horses, 80 high and more", horses[::2], (32, 32)),
        ("couriers 192 x 256", large, (16, 16)),
        ("horses, 200 high and more", _horses(6, 200), (16, 16)),
    ]


def _couriers(scale: float, step: int) -> list[np.ndarray]:
    """Return frames of 15 colours and 0, uint8."""
    size = round(120 * scale), round(160 * scale)
    frames = []
    for path in sorted((ROOT / "demo_project/art/couriers").glob("*/*.png"))[::step]:
        with Image.open(path) as picture:
            frames.append(picture.convert("RGBA").resize(size, Image.Resampling.BOX))
    sheet = Image.new("RGB", (size[0], size[1] * len(frames)))
    for rank, frame in enumerate(frames):
        sheet.paste(frame.convert("RGB"), (0, size[1] * rank))
    colours = np.asarray(sheet.quantize(15, dither=Image.Dither.NONE)).reshape(len(frames), size[1], size[0]) + 1
    opaque = np.stack([np.asarray(frame)[..., 3] >= 128 for frame in frames])
    return list(np.where(opaque, colours, 0).astype(np.uint8))


def _horses(count: int, height: int) -> list[np.ndarray]:
    """Return figures of noise in 15 colours: nothing of them comes back, but they are irregular."""
    random = np.random.default_rng(1)
    horse = np.pad((~data.horse().astype(bool)).astype(float), 120)
    frames = []
    for rank in range(count):
        figure = transform.swirl(horse, strength=random.uniform(-2, 2), radius=random.uniform(150, 300))
        figure = transform.rotate(figure, random.uniform(0, 360) if rank % 2 else random.uniform(-17, 17), resize=True)
        shear = transform.AffineTransform(shear=random.uniform(-0.4, 0.4))
        scale = height / 328 * random.uniform(0.85, 1.1)  # the silhouette is 328 rows high
        mask = transform.rescale(transform.warp(figure, shear.inverse), scale, anti_aliasing=True) > 0.5
        frames.append(np.where(mask, random.integers(1, 16, mask.shape), 0).astype(np.uint8))
    return frames


def _measure(name: str, frames: list[np.ndarray], cell: tuple[int, int]) -> None:
    counts, spent, cells, worst = [], [], [], None
    for frame in frames:
        mask = frame != 0
        begin = time.process_time()
        places = cover(mask, *cell)
        spent.append(1000 * (time.process_time() - begin))
        cells.append(cut_pieces(frame, places, *cell))
        assert np.array_equal(draw_pieces(cells[-1], places, frame.shape[1], frame.shape[0]), frame)
        proved = least_cells(pixel_prices(mask, *cell))
        counts.append((_grid(mask, *cell), _strips(mask, *cell), len(places), proved))
        worst = max(len(places) - counts[-1][1], -999 if worst is None else worst)
    area = np.array([np.count_nonzero(frame) for frame in frames]) / (cell[0] * cell[1])
    grid, strips, ours, proved = (np.array(counts) / area[:, None]).mean(axis=0)
    optimal = sum(ours == least for *_, ours, least in counts)
    print(f"{name}, cells of {cell[0]} x {cell[1]}: {len(frames)} frames, {area.mean() * cell[0] * cell[1]:.0f} opaque pixels each")
    print(f"  to the bound: grid {grid:.3f}, strips {strips:.3f}, pieces {ours:.3f}, proved {proved:.3f}; proved best {optimal}")
    print(f"  against strips, worst frame: {worst:+d} cells; {np.mean(spent):.1f} ms a frame, at most {max(spent):.1f}")
    _bytes(frames, pool(cells, True, True), cell)


def _bytes(frames: list[np.ndarray], made: Pool, cell: tuple[int, int]) -> None:
    """Print the bytes of pool and records beside frames that are cut to their opaque rows and columns, a byte a pixel."""
    plain = sum(np.ptp(y) * np.ptp(x) + np.ptp(y) + np.ptp(x) + 1 for y, x in map(np.nonzero, frames))
    ours = made.cells.nbytes + _RECORD * len(made.index)
    print(f"  {len(made.index)} pieces, {len(made.cells)} cells stored: {ours / plain:.3f} of the bytes of a plain sheet of trimmed frames")


def _grid(mask: np.ndarray, width: int, height: int) -> int:
    """Return the cells that a grid at its best offset needs."""
    counts = []
    for down in range(height):
        for right in range(width):
            grown = ((down, -(mask.shape[0] + down) % height), (right, -(mask.shape[1] + right) % width))
            padded = np.pad(mask, grown)
            cells = padded.reshape(padded.shape[0] // height, height, padded.shape[1] // width, width)
            counts.append(int(cells.any(axis=(1, 3)).sum()))
    return min(counts)


def _strips(mask: np.ndarray, width: int, height: int) -> int:
    """Return the cells that rows, or columns, of cells need, at the best offset, each row from left to right."""
    return min(_rows(mask, width, height), _rows(mask.T, height, width))


def _rows(mask: np.ndarray, width: int, height: int) -> int:
    counts = []
    for down in range(height):
        padded, count = np.pad(mask, ((down, height), (0, 0))), 0
        for top in range(0, len(padded) - height + 1, height):
            end = -1
            for x in np.flatnonzero(padded[top : top + height].any(axis=0)).tolist():
                if x >= end:
                    count, end = count + 1, x + width
        counts.append(count)
    return min(counts)


if __name__ == "__main__":
    main()
