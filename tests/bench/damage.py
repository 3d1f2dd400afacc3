"""A damage machine: bits flipped, parts exchanged and sums corrected in images of every shipped target; each must be found.

Two looks are taken at every damaged image. The tester's: its bytes and the target, as ``reading.reader`` checks them. The author's:
map, facts and project as well, as ``reading.verify`` compares them. Run: ``python -m tests.bench.damage --flips 50000 --seed 1``.

An image is damaged in one place and read whole, once for both looks. What is kept between two images is only how an asset
decodes whose bytes, and those of every pool, are those of the good image: decoding depends on nothing else.
"""

from __future__ import annotations

import argparse
import copy
import functools
import hashlib
import json
import random
import sys
import tempfile
import time
import zlib
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pipeline.rom.image as writer
from pipeline.joints.facts import Facts, image_facts
from pipeline.joints.map import ImageMap, MapEntry, decode_map
from pipeline.joints.places import facts_files
from pipeline.plain.errors import ProjectError
from pipeline.reading import verify
from pipeline.reading.reader import read_image
from pipeline.target.fields import directory_offset
from pipeline.target.records import Target
from tests.bench.fuzzing.tomls import project_folder
from tests.makers import TARGETS, build_here, project_text

_MORE = """
[sprite.ben]
sheet = { file = "art/sheet.png", columns = 2, rows = 2, count = 3, cut = "anyway" }
palette = "figures"
arrangement = "pieces"
pool = "cells"
[pool.cells]
[background.far]
file = "art/quay.png"
palette = "quay_colours"
arrangement = "tiles"
tile = [8, 8]
map_entry = "HVccPxtttttttttt"
packing = "best"
[font.small]
file = "art/letters.png"
cell = [8, 8]
order = "AB"
palette = "figures"
[defaults.data]
packing = "best"
"""


@dataclass(frozen=True)
class Good:
    """A built image and all that is known of it.

    Attributes:
        wanted: header values the project decides.
        program: that the header's program values are about.
        regions: name -> offsets of bytes, in the image's order.
    """

    target: Target
    data: bytes
    map: dict[str, Any]
    facts: dict[str, Facts]
    wanted: dict[str, str]
    regions: dict[str, list[range]]
    program: str | None

    @functools.cached_property
    def _as_read(self) -> ImageMap:
        return _as_read(self.map)

    def by_bytes(self, data: bytes) -> list[str]:
        """Return what a tester's look finds."""
        return list(verify.read_image(data, self.target).faults)

    def by_all(self, data: bytes, image_map: dict | None = None, facts: dict | None = None) -> list[str]:
        """Return what the author's look finds."""
        try:
            as_read = _as_read(image_map) if image_map else self._as_read
        except ProjectError as error:
            return [str(error)]
        return verify.verify_image(data, self.target, as_read, facts or self.facts, self.wanted, program=self.program)


def _as_read(image_map: dict[str, Any]) -> ImageMap:
    return decode_map(json.dumps(image_map).encode(), "map.json")


@dataclass
class Count:
    """How much damage of one sort was made and found.

    Attributes:
        sorts: sort of damage, place -> number made, found by bytes, found by all.
        finders: sort of damage -> what found it, in the first words of the fault.
        missed: what the author's look did not find. unseen: what a tester's did not, by place.
    """

    sorts: dict[tuple[str, str], list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0, 0]))
    finders: dict[str, Counter] = field(default_factory=lambda: defaultdict(Counter))
    missed: list[str] = field(default_factory=list)
    unseen: Counter = field(default_factory=Counter)

    def note(self, sort: str, place: str, by_bytes: list[str], by_all: list[str], what: str) -> None:
        """Note one damaged image."""
        row = self.sorts[sort, place]
        row[0] += 1
        row[1] += bool(by_bytes)
        row[2] += bool(by_all)
        self.finders[sort].update({_finder(fault) for fault in (*by_bytes, *by_all)})
        if not by_all:
            self.missed.append(f"{sort}, {place}: {what}")
        if not by_bytes:
            self.unseen[f"{sort}, {place}"] += 1

    def report(self) -> str:
        """Return the figures as lines."""
        lines = [f"  {sort:<34} {place:<22} {made:>7} made, {seen:>7} found by bytes alone, {found:>7} with map and facts"
                 for (sort, place), (made, seen, found) in sorted(self.sorts.items())]  # fmt: skip
        for sort, finders in self.finders.items():
            lines.append(f"  {sort} was found by: " + ", ".join(f"{name} {count}" for name, count in finders.most_common()))
        return "\n".join([*lines, *(f"  NOT FOUND {one}" for one in self.missed[:20])])


def _finder(fault: str) -> str:
    """Return which check found a fault, without its names and numbers."""
    sorts = {
        "the map says": "sums of the whole image in the map",
        "has another CRC-32": "an entry's CRC-32",
        "in the image is not what": "facts",
        "checksum ": "a header checksum",
        "header field": "a fixed header field",
        "header bytes": "a header's blank bytes",
        "the header says": "a header value",
        "the directory's": "the map's entries",
        "directory": "the directory itself",
        "padding": "padding",
        "overlap": "entries that overlap",
        "aligned": "alignment",
        "empty or leaves": "an entry's place",
        "cartridge size": "the size",
        "does not unpack": "unpacking",
        "does not decode": "decoding",
        "bank": "banks",
    }
    return next((sort for words, sort in sorts.items() if words in fault), "another comparison")


def good_image(folder: Path, target: str) -> Good:
    """Build a project with every kind of asset for a shipped target, and return its image.

    Args:
        folder: an empty one.
    """
    project_folder(folder)
    (folder / "project.toml").write_text(project_text(target=target, more=_MORE))
    made = build_here(folder)
    packed = {one["name"] for one in made.map["entries"] if one["codec"] != "stored"}
    packed |= {"far", "level"}
    files = {one["name"]: facts_files(folder / "build/blobs", one["name"], one["name"] in packed) for one in made.map["entries"]}
    facts = {name: image_facts(one) for name, one in files.items()}
    game = made.project.spec.game
    named = {one.value for one in made.project.target.header.fields}
    values = {"project.title": game.title, "project.code": game.code, "project.version": game.version, "project.phase": game.phase}
    wanted = {name: value for name, value in values.items() if name in named} | {"build.code": made.map["image"]["build_code"]}
    regions = _regions(made.project.target, made.image, made.map)
    good = Good(made.project.target, made.image, made.map, facts, wanted, regions, made.project.header_program())
    assert not good.by_all(made.image)
    return good


def _regions(target: Target, data: bytes, image_map: dict[str, Any]) -> dict[str, list[range]]:
    header = range(target.header.offset, target.header.offset + target.header.size)
    start = directory_offset(target)
    directory = range(start, start + target.directory.entry_bytes * len(image_map["entries"]))
    regions: dict[str, list[range]] = {"header": [header], "directory": [directory]}
    taken = [header, directory]
    for one in image_map["entries"]:
        place = range(one["offset"], one["offset"] + one["bytes"])
        packed = "" if one["codec"] == "stored" else f", {one['codec']}"
        regions.setdefault(f"{one['kind']}{packed}", []).append(place)
        taken.append(place)
    at = 0
    for place in sorted(taken, key=lambda one: one.start):
        if place.start > at:
            regions.setdefault("padding between", []).append(range(at, place.start))
        at = max(at, place.stop)
    if at < len(data):
        regions["padding at the end"] = [range(at, len(data))]
    return regions


class Remembered:
    """Keeps how assets decode whose bytes, and those of every pool, are the good image's; see the module's text."""

    def __init__(self, good: Good) -> None:
        self._good = {good.data[one["offset"] : one["offset"] + one["bytes"]] for one in good.map["entries"]}
        self._decoded: dict[tuple[str, bytes], Any] = {}
        self._compared: dict[tuple[int, str], list[str]] = {}
        self._decode, self._compare = verify.decode_blob, verify._compare_content
        self._pools_good = True
        self._pools, self._last = verify._pools_in, (b"", None)

    def __enter__(self) -> Remembered:
        verify.decode_blob, verify._compare_content, verify._pools_in, verify.read_image = self.decode, self.compare, self.pools, self.read
        return self

    def __exit__(self, *_) -> None:
        verify.decode_blob, verify._compare_content, verify._pools_in = self._decode, self._compare, self._pools
        verify.read_image = read_image

    def read(self, data: bytes, target: Target, entries=None):
        """Read an image, or return how the very same bytes were read for the other look just before."""
        if entries is not None:
            return read_image(data, target, entries)
        if self._last[0] is not data:
            self._last = data, read_image(data, target)
        return self._last[1]

    def pools(self, data: bytes, entries: list[MapEntry], target: Target, decoders):
        """Note whether every pool has the good image's bytes."""
        pools = [data[one.offset : one.offset + one.bytes] for one in entries if one.kind == "pool"]
        self._pools_good = all(one in self._good for one in pools)
        return self._pools(data, entries, target, decoders)

    def decode(self, kind: str, blob: bytes, target: Target, decoders, find_pool=None):
        """Decode a blob, or return how it decoded."""
        if not self._pools_good or kind == "pool":
            return self._decode(kind, blob, target, decoders, find_pool)
        key = (kind, blob)
        if key not in self._decoded:
            if len(self._decoded) > 200:
                self._decoded.clear()
                self._compared.clear()
            self._decoded[key] = self._decode(kind, blob, target, decoders, find_pool)
        return self._decoded[key]

    def compare(self, kind: str, decoded, facts: Facts, target: Target, comparisons) -> list[str]:
        """Compare a decoded asset with its facts, or return what was found when both were compared before."""
        if not any(decoded is one for one in self._decoded.values()):
            return self._compare(kind, decoded, facts, target, comparisons)
        key = (id(decoded), repr(facts))
        if key not in self._compared:
            self._compared[key] = self._compare(kind, decoded, facts, target, comparisons)
        return self._compared[key]


def flips(good: Good, chance: random.Random, count: int, tally: Count) -> None:
    """Flip one bit, or some, in every region in turn, so that small regions get as many as large ones."""
    names = list(good.regions)
    for rank in range(count):
        name = names[rank % len(names)]
        bits = [_some_bit(good, chance, name)]
        if chance.random() < 0.4:
            bits += _more_bits(good, chance, name, bits[0])
        data = flipped(good.data, bits)
        if data == good.data:
            continue
        sort = "one bit flipped" if len(bits) == 1 else "several bits flipped"
        tally.note(sort, name, good.by_bytes(data), good.by_all(data), f"bits {bits[:8]}")


def flipped(data: bytes, bits: list[int]) -> bytes:
    """Return bytes with some bits turned; bit 8 n is the lowest of byte n."""
    changed = bytearray(data)
    for bit in bits:
        changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


def _some_bit(good: Good, chance: random.Random, name: str) -> int:
    place = chance.choice(good.regions[name])
    return chance.randrange(place.start * 8, place.stop * 8)


def _more_bits(good: Good, chance: random.Random, name: str, first: int) -> list[int]:
    """Return further bits: near, anywhere, or the same bit of a byte a word further, which simple sums do not see."""
    how = chance.randrange(4)
    last = len(good.data) * 8 - 1
    if how == 0:
        return [min(last, first + chance.randrange(1, 32))]
    if how == 1:
        return [min(last, first + 8 * chance.choice((1, 2, 4, 32, 256)))]
    if how == 2:
        return [_some_bit(good, chance, chance.choice(list(good.regions))) for _ in range(chance.choice((1, 2, 7, 63)))]
    return [_some_bit(good, chance, name) for _ in range(chance.choice((1, 3)))]


def every_table_bit(good: Good, tally: Count) -> None:
    """Flip each bit of header and directory alone."""
    for name in ("header", "directory"):
        for place in good.regions[name]:
            for bit in range(place.start * 8, place.stop * 8):
                data = flipped(good.data, [bit])
                tally.note("each bit of the tables flipped", name, good.by_bytes(data), good.by_all(data), f"bit {bit}")


def with_sums(good: Good, data: bytes) -> bytes:
    """Return an image with its header's checksums corrected, as the writer makes them."""
    target, changed = good.target, bytearray(data)
    directory = good.regions["directory"][0]
    places, used = (directory.start, directory.stop), good.map["image"]["used"]
    fields = [one for one in target.header.fields if one.checksum is not None]
    for one in fields:
        changed[one.offset : one.offset + one.bytes] = one.placeholder.to_bytes(one.bytes, target.order_of(one.byte_order))
    results: dict[str, int | bytes] = {}
    for one in fields:
        results[one.name] = writer._field_checksum(changed, target, one, one.checksum, results, places, used)
        changed[one.offset : one.offset + one.bytes] = writer._as_bytes(results[one.name], one, target)
    return bytes(changed)


def map_of(good: Good, data: bytes) -> dict[str, Any]:
    """Return the map with the sums of another image, as if it had been written for it."""
    made = copy.deepcopy(good.map)
    made["image"] |= {"crc32": f"{zlib.crc32(data):08x}", "sha256": hashlib.sha256(data).hexdigest()}
    return made


def _entry_field(good: Good, value: str) -> tuple[int, int] | None:
    return next(((one.offset, one.bytes) for one in good.target.directory.fields if one.value == value), None)


def put_right(good: Good, chance: random.Random, count: int, tally: Count) -> None:
    """Flip bits, and correct every sum in the image and the map's of the whole, but for the facts: the most that could go wrong."""
    names = list(good.regions)
    start, width = good.regions["directory"][0].start, good.target.directory.entry_bytes
    for rank in range(count):
        name = names[rank % len(names)]
        bit = _some_bit(good, chance, name)
        data = bytearray(flipped(good.data, [bit]))
        image_map = None
        for number, one in enumerate(good.map["entries"]):
            if one["offset"] <= bit // 8 < one["offset"] + one["bytes"]:
                total = zlib.crc32(data[one["offset"] : one["offset"] + one["bytes"]])
                at, size = _entry_field(good, "asset.crc32")
                at += start + number * width
                data[at : at + size] = total.to_bytes(size, good.target.byte_order)
                image_map = (number, total)
        made = with_sums(good, bytes(data))
        if made == good.data:
            continue  # it was a bit of a checksum, corrected
        right_map = map_of(good, made)
        if image_map:
            right_map["entries"][image_map[0]]["crc32"] = f"{image_map[1]:08x}"
        tally.note("one bit flipped, every sum corrected", name, good.by_bytes(made), good.by_all(made, right_map), f"bit {bit}")


def exchanged(good: Good, tally: Count) -> None:
    """Exchange the contents of two entries, two entries of the directory, and parts of two entries; sums corrected each time."""
    entries = good.map["entries"]
    start, width = good.regions["directory"][0].start, good.target.directory.entry_bytes
    for first in range(len(entries)):
        for second in range(first + 1, len(entries)):
            one, other = (start + rank * width for rank in (first, second))
            what = f"{entries[first]['name']} and {entries[second]['name']}"
            data = _exchanged(good.data, one, other, width)
            _note(good, tally, "two entries exchanged", "directory", data, what)
            for part in good.target.directory.fields:
                data = _exchanged(good.data, one + part.offset, other + part.offset, part.bytes)
                if data != good.data:
                    _note(good, tally, f"{part.name} of two entries exchanged", "directory", data, what)
            size = min(entries[first]["bytes"], entries[second]["bytes"])
            data = _exchanged(good.data, entries[first]["offset"], entries[second]["offset"], size)
            if data != good.data:
                _note(good, tally, "contents of two entries exchanged", "blobs", _with_crcs(good, data), what)


def _with_crcs(good: Good, data: bytes) -> bytes:
    """Return an image with every entry's CRC-32 corrected."""
    changed = bytearray(data)
    start, width = good.regions["directory"][0].start, good.target.directory.entry_bytes
    at, size = _entry_field(good, "asset.crc32")
    for number, one in enumerate(good.map["entries"]):
        total = zlib.crc32(data[one["offset"] : one["offset"] + one["bytes"]])
        changed[start + number * width + at : start + number * width + at + size] = total.to_bytes(size, good.target.byte_order)
    return bytes(changed)


def _exchanged(data: bytes, first: int, second: int, size: int) -> bytes:
    changed = bytearray(data)
    changed[first : first + size], changed[second : second + size] = data[second : second + size], data[first : first + size]
    return bytes(changed)


def _note(good: Good, tally: Count, sort: str, place: str, data: bytes, what: str) -> None:
    made = with_sums(good, data)
    tally.note(sort, place, good.by_bytes(made), good.by_all(made, map_of(good, made)), what)


def resized(good: Good, chance: random.Random, tally: Count) -> None:
    """Cut the image short or make it longer: anywhere, at the ends of regions, by what it is padded with and by other bytes."""
    ends = {place.stop for places in good.regions.values() for place in places} | {
        place.start for places in good.regions.values() for place in places
    }
    lengths = {*ends, *range(0, 64), *(chance.randrange(len(good.data)) for _ in range(200)), len(good.data) - 1, len(good.data) // 2}
    for length in sorted(lengths - {len(good.data)}):
        data = good.data[:length]
        tally.note("cut short", "image", good.by_bytes(data), good.by_all(data), f"to {length}")
    pad = bytes([good.target.cartridge.pad])
    for more in (pad, b"\0", pad * 100, good.data, pad * len(good.data), bytes(len(good.data))):
        data = good.data + more
        tally.note("made longer", "image", good.by_bytes(data), good.by_all(data), f"by {len(more)}")
        try:
            made = with_sums(good, data)
        except ProjectError:
            continue  # words are not added up over half of one
        tally.note("made longer, sums corrected", "image", good.by_bytes(made), good.by_all(made, map_of(good, made)), f"by {len(more)}")


def map_altered(good: Good, tally: Count) -> None:
    """Change each value of the map, drop each key and entry, and exchange entries; the image stays good."""
    for what, made in _altered_maps(good.map):
        try:
            found = good.by_all(good.data, made)
        except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
            found = [f"not read: {error!r}"]
        if not found and what.endswith("'alignment')") and not _entry_field(good, "asset.alignment"):
            # Only the map holds it then, and its place has this alignment too; the build compares the file with what it wrote.
            tally.unseen["map altered, another alignment that its place has"] += 1
            continue
        tally.note("map altered", what.split(" ")[0], [], found, what)


def _altered_maps(image_map: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for path in _leaves(image_map):
        for make in (_one_more, _one_less):
            made = copy.deepcopy(image_map)
            owner = made
            for part in path[:-1]:
                owner = owner[part]
            owner[path[-1]] = make(owner[path[-1]])
            yield f"{path[0]} {path}", made
    for rank in range(len(image_map["entries"])):
        made = copy.deepcopy(image_map)
        del made["entries"][rank]
        yield f"entries {rank} left out", made
        made = copy.deepcopy(image_map)
        made["entries"].insert(0, made["entries"].pop())
        yield "entries reversed", made


def _leaves(value: Any, path: tuple = ()) -> Iterator[tuple]:
    if isinstance(value, dict):
        for key, one in value.items():
            yield from _leaves(one, (*path, key))
    elif isinstance(value, list):
        for rank, one in enumerate(value):
            yield from _leaves(one, (*path, rank))
    else:
        yield path


def _one_more(value: Any) -> Any:
    return value + 1 if isinstance(value, int) else value + "x"


def _one_less(value: Any) -> Any:
    return value - 1 if isinstance(value, int) else chr(ord(value[0]) ^ 1) + value[1:]


def run(good: Good, seed: int, count: int, say: Callable[[str], None] = lambda line: None, leave_out: Collection[str] = ()) -> Count:
    """Damage one image in every way; ``count`` single and multiple flips.

    Args:
        say: gets how long each sort of damage took.
        leave_out: sorts of damage, by their names below.
    """
    tally = Count()
    with Remembered(good):
        for name, work in (
            ("flips", lambda chance: flips(good, chance, count, tally)),
            ("tables", lambda chance: every_table_bit(good, tally)),
            ("corrected", lambda chance: put_right(good, chance, max(200, count // 10), tally)),
            ("exchanged", lambda chance: exchanged(good, tally)),
            ("resized", lambda chance: resized(good, chance, tally)),
            ("map", lambda chance: map_altered(good, tally)),
        ):
            if name in leave_out:
                continue
            start = time.process_time()
            work(random.Random(f"{seed} {name}"))
            say(f"    {name}: {time.process_time() - start:.1f} s")
    return tally


def main() -> int:
    """Damage an image of every shipped target; return 1 when something was not found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--flips", type=int, default=5000, help="of each target")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--target", action="append", choices=TARGETS)
    options = parser.parse_args()
    missed = 0
    for target in options.target or TARGETS:
        with tempfile.TemporaryDirectory() as top:
            (Path(top) / "project").mkdir()
            good = good_image(Path(top) / "project", target)
        sys.stdout.write(f"{target}: {len(good.data)} bytes, {good.map['image']['used']} used, {len(good.map['entries'])} assets\n")
        tally = run(good, options.seed, options.flips, lambda line: sys.stdout.write(line + "\n"))
        sys.stdout.write(tally.report() + "\n")
        sys.stdout.flush()
        missed += len(tally.missed)
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
