"""Tiles drawn with the lines of a palette: against going through every line of every tile."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.pixels.colours.colour import to_rgb
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.tiles.lines import draw_on_lines
from pipeline.plain.bits import parse_pattern

PATTERN = parse_pattern("xBBBBBGGGGGRRRRR")


def gaps(word: int, line: np.ndarray) -> list[float]:
    """Return the difference between a word and each entry of a line."""
    points = metric_points(to_rgb(np.append(line, word).astype(np.uint32), PATTERN))
    return metric_distance(points[:, :-1], points[:, -1:]).tolist()


@pytest.mark.parametrize("seed", range(6))
def test_every_tile_takes_its_best_line(seed):
    """The line is the first with the least sum, and each pixel the first nearest entry, found one by one."""
    random = np.random.default_rng(seed)
    lines = [random.integers(0, 1 << 15, size).astype(np.uint32) for size in (5, 3, 1, 7)]
    known = np.concatenate(lines)
    words = np.where(random.random((8, 12)) < 0.5, random.choice(known, (8, 12)), random.integers(0, 1 << 15, (8, 12))).astype(np.uint32)
    drawn, line_of = draw_on_lines(words, lines, (4, 2), PATTERN)
    for row in range(4):
        for column in range(3):
            cell = words[2 * row : 2 * row + 2, 4 * column : 4 * column + 4]
            sums = [sum(min(gaps(int(word), line)) for word in cell.ravel()) for line in lines]
            assert line_of[row, column] == sums.index(min(sums))
            line = lines[line_of[row, column]]
            for word, rank in zip(cell.ravel(), drawn[2 * row : 2 * row + 2, 4 * column : 4 * column + 4].ravel(), strict=True):
                seen = gaps(int(word), line)
                assert seen[rank] == min(seen)
                assert word not in line or line[rank] == word


def test_mirror_images_come_to_one_line_and_mirrored_entries():
    """A tile and its mirror image use the same line, so that one stored tile serves both."""
    random = np.random.default_rng(3)
    lines = [random.integers(0, 1 << 15, 6).astype(np.uint32) for _ in range(3)]
    tile = random.integers(0, 1 << 15, (8, 8)).astype(np.uint32)
    drawn, line_of = draw_on_lines(np.concatenate([tile, tile[:, ::-1], tile[::-1]], axis=1), lines, (8, 8), PATTERN)
    assert len(np.unique(line_of)) == 1
    assert np.array_equal(drawn[:, 8:16], drawn[:, 7::-1])
    assert np.array_equal(drawn[:, 16:], drawn[::-1, :8])
