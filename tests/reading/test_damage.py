"""The damage machine in its short form: every damaged image is found; and a check that is taken away is missed at once.

What must be found follows from the notation of targets: a checksum's range holds every bit of blobs and padding, and map and
facts hold the sums of what was built. Common practice, no source. ``tests.bench.damage`` is the long form.
"""

from __future__ import annotations

import random

import pytest

from pipeline.reading import reader, verify
from tests.bench.damage import Count, Good, Remembered, flipped, flips, good_image, map_of, put_right, run, with_sums
from tests.conftest import some, tries
from tests.makers import TARGETS
from tests.recorded import differing, hash_of


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def good(request, tmp_path_factory) -> Good:
    """An image with every kind of asset, for each shipped target."""
    folder = tmp_path_factory.mktemp("damage") / "project"
    folder.mkdir()
    return good_image(folder, request.param)


@pytest.fixture(scope="module")
def small(tmp_path_factory) -> Good:
    """An image of the smallest cartridge, in banks."""
    folder = tmp_path_factory.mktemp("damage") / "project"
    folder.mkdir()
    return good_image(folder, "pebble8")


def test_all_damage_is_found(good):
    """Flips in every region, exchanged parts, other sizes and altered maps; single flips by the image's bytes alone as well."""
    tally = run(good, 20261120, tries(8, 300), leave_out=("tables", *(() if len(good.data) < 1 << 17 else ("exchanged",))))
    assert tally.missed == []
    assert {"sprite", "pool", "palette", "sound", "screen", "program", "font"} <= good.regions.keys()
    assert [one for one in tally.unseen if one.startswith("one bit flipped, ") and "corrected" not in one] == []
    assert all(made for made, _, _ in tally.sorts.values())


def test_what_is_kept_between_images_changes_no_answer(good):
    """With and without decoded assets kept, the same faults are reported."""
    chance = random.Random(7)
    images = [good.data]
    for places in good.regions.values():
        place = chance.choice(places)
        data = flipped(good.data, [chance.randrange(place.start * 8, place.stop * 8)])
        images += [data, with_sums(good, data)]
    plain = [(good.by_bytes(data), good.by_all(data, map_of(good, data))) for data in images]
    said = {str(rank): hash_of(repr(one).encode()) for rank, one in enumerate(plain)}
    assert differing(f"faults of damage, {good.target.name}", said) == set()
    with Remembered(good):
        for _ in range(2):
            assert [(good.by_bytes(data), good.by_all(data, map_of(good, data))) for data in images] == plain


# name of a function that checks, its module, what it returns when it checks nothing
TAKEN_AWAY = [
    (verify, "_compare_asset", lambda *_: []),
    (verify, "_compare_directory", lambda *_: []),
    (reader, "_check_padding", lambda *_: None),
    (reader, "_check_header_values", lambda *_: None),
]


@pytest.mark.parametrize(("module", "name", "nothing"), some(TAKEN_AWAY, 2), ids=some([one[1] for one in TAKEN_AWAY], 2))
def test_check_that_is_taken_away_is_missed(small, monkeypatch, module, name, nothing):
    """Each check finds something that no other finds once sums are right, so a build without it lets damage pass."""
    monkeypatch.setattr(module, name, nothing)
    tally = Count()
    with Remembered(small):
        put_right(small, random.Random(1), tries(400, 800), tally)
    assert tally.missed


def test_sums_that_are_not_checked_are_missed(small, monkeypatch):
    """Without the header's checksums a tester's look passes flips that only they cover."""
    monkeypatch.setattr(reader, "_check_sums", lambda *_: None)
    tally = Count()
    with Remembered(small):
        flips(small, random.Random(1), tries(150, 300), tally)
    assert tally.unseen
