"""Comparing an image, as the reader finds it, with what the build meant to put into it."""

from __future__ import annotations

import functools
import hashlib
import zlib
from collections.abc import Mapping
from pathlib import Path

from msgspec.structs import asdict

from pipeline.cache.results import Results, key_of
from pipeline.joints.facts import Facts, ProgramFacts, image_facts
from pipeline.joints.map import ImageMap, MapEntry, MappedImage, decode_map
from pipeline.joints.places import FactsFiles
from pipeline.plain.errors import Problem, ProjectError
from pipeline.plain.files import read_json, write_bytes, write_json
from pipeline.reading.compare import name_hash
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, decode_blob
from pipeline.reading.loads import wrong_places
from pipeline.reading.reader import FoundEntry, FoundImage, read_image, seen_address
from pipeline.reading.unpack import UnpackFault, unpack
from pipeline.target.calls import Call
from pipeline.target.fields import CODEC_NUMBERS
from pipeline.target.kinds import KINDS, calls_of
from pipeline.target.records import Target

DECODERS, COMPARISONS = calls_of("decode", *KINDS), calls_of("compare", *KINDS)


def verify_image(
    data: bytes,
    target: Target,
    image_map: ImageMap,
    facts: dict[str, Facts],
    wanted: dict[str, str],
    decoders: Mapping[str, Call] = DECODERS,
    comparisons: Mapping[str, Call] = COMPARISONS,
    results: Results | None = None,
    program: str | None = None,
) -> list[str]:
    """Return everything that is wrong with an image, one sentence each; empty when all is well.

    Args:
        data: the image's bytes.
        image_map: the content of ``map.json``.
        facts: asset name -> the facts written by conversion.
        wanted: header values the project decides (``project.title``, ``build.code``, ...).
        decoders, comparisons: kind -> what decodes it and what compares it with its facts, of the kinds in the image; see ``target.kinds``.
        program: name of the program that the header's program values are about; None: none is compared.
        results: in which is kept which bytes were found to be as meant; they are not decoded again.
    """
    found = read_image(data, target, None if target.directory else _entries_of(image_map))
    faults = list(found.faults)
    faults += _compare_whole(data, image_map.image, wanted.get("build.code"))
    faults += _compare_values(found, target, wanted)
    faults += _compare_directory(found, image_map.entries)
    faults += _compare_map(image_map, target)
    faults += _compare_program(found, image_map.entries, facts, program, target)
    find_pool = _pools_in(data, image_map.entries, target, decoders)
    known, around = results or Results(None), _around(data, image_map.entries, target)
    for entry in image_map.entries:
        blob, meant = data[entry.offset : entry.offset + entry.bytes], facts.get(entry.name)
        key = _key(entry, blob, meant, around, decoders, comparisons)
        if known.get(key) is not None:
            continue
        wrong = _compare_asset(entry, blob, meant, target, find_pool, decoders, comparisons)
        if not wrong:
            known.put(key, b"")
        faults += wrong
    return faults + _wrong_lists(data, image_map.entries, target, decoders)


def _wrong_lists(data: bytes, entries: list[MapEntry], target: Target, decoders: Mapping[str, Call]) -> list[str]:
    """Return what load lists say otherwise than the image is; those that do not decode are reported separately."""
    faults = []
    for entry in entries:
        if entry.kind == "lists":
            try:
                decoded = decode_blob(entry.kind, data[entry.offset : entry.offset + entry.bytes], target, decoders)
            except BlobFault:
                continue
            faults += wrong_places(decoded, entries, target)
    return faults


def _around(data: bytes, entries: list[MapEntry], target: Target) -> bytes:
    """Return what the content of every asset is judged by apart from itself: the target, and the pools."""
    pools = [
        (one.name, one.codec, one.unpacked_bytes, hashlib.sha256(data[one.offset : one.offset + one.bytes]).hexdigest())
        for one in entries
        if one.kind == "pool"
    ]
    return repr((target, pools)).encode()


def _key(
    entry: MapEntry, blob: bytes, facts: Facts | None, around: bytes, decoders: Mapping[str, Call], comparisons: Mapping[str, Call]
) -> bytes:
    """Return the key of what comparing an asset finds: of its bytes, of what is said about them, and of the code that looks at them."""
    looks = [decoders.get(entry.kind), comparisons.get(entry.kind), decoders.get("pool")]
    code = (key_of(call.name if call else "") for call in looks)
    said = repr((entry.name, entry.kind, entry.codec, entry.unpacked_bytes, facts))
    return key_of("pipeline.reading.verify:verify_image", *code, around, said.encode(), hashlib.sha256(blob).digest())


def verify_files(
    image: Path,
    map_file: Path,
    code_file: Path,
    facts: dict[str, FactsFiles],
    out: Path,
    target: Target,
    wanted: dict[str, str],
    decoders: dict[str, Call],
    comparisons: dict[str, Call],
    published: dict[str, Path] | None = None,
    program: str | None = None,
    split: tuple[str, ...] = (),
    cache: Path | None = None,
) -> str:
    """Verify the files of a build and write what was checked; return one line about it.

    Args:
        facts: of every asset, by name.
        wanted, decoders, comparisons: see ``verify_image``.
        published: where image and map go when they are as meant, by the name of the argument; until then the files there stay.
        program: see ``verify_image``.
        split: names of assets that may cross the target's boundary of transfers, as programs may.
        cache: where is kept which bytes were found to be as meant; see ``cache.results``.

    Raises:
        ProjectError: carries every fault found.
    """
    data, text = image.read_bytes(), map_file.read_bytes()
    image_map = decode_map(text, map_file.name)
    meant = {entry.name: image_facts(facts[entry.name]) for entry in image_map.entries}
    wanted = {**wanted, "build.code": read_json(code_file)["build_code"]}
    with Results(cache) as results:
        faults = verify_image(data, target, image_map, meant, wanted, decoders, comparisons, results, program)
    faults += _crossing(image_map.entries, target, split)
    if faults:
        remedy = "delete the build folder and build again; if that does not help, it is a mistake of the tool"
        raise ProjectError(Problem(image.name, "", fault, remedy) for fault in faults)
    if published:
        # The very bytes that were verified, whatever has become of the file meanwhile.
        write_bytes(published["image"], data)
        write_bytes(published["map_file"], text)
    write_json(out, {"image": image.name, "sha256": image_map.image.sha256, "entries": len(meant), "program": program, "faults": []})
    return f"header, directory, padding and {len(meant)} assets are as meant; {image.name} is ready"


def _crossing(entries: list[MapEntry], target: Target, split: tuple[str, ...]) -> list[str]:
    """Return which assets a transfer cannot fetch, since they cross a boundary."""
    boundary = target.cartridge.boundary
    if boundary is None:
        return []
    whole = [one for one in entries if one.kind != "program" and one.name not in split]
    return [
        f"{one.name} at {one.address:#x} crosses a multiple of {boundary:,} bytes"
        for one in whole
        if one.address // boundary != (one.address + one.bytes - 1) // boundary
    ]


def _entries_of(image_map: ImageMap) -> list[FoundEntry]:
    return [
        FoundEntry(
            zlib.crc32(one.name.encode()), one.kind, one.offset, one.bytes, int(one.crc32, 16),
            one.alignment, one.name, one.codec, one.unpacked_bytes,
        )
        for one in image_map.entries
    ]  # fmt: skip


def _compare_whole(data: bytes, image: MappedImage, build_code: str | None) -> list[str]:
    seen = {
        "bytes": len(data),
        "crc32": f"{zlib.crc32(data):08x}",
        "sha256": hashlib.sha256(data).hexdigest(),
    }
    if build_code is not None:
        seen["build_code"] = build_code  # packet, kit and forms take it from the map, also where no header holds it
    said = asdict(image)
    return [f"the map says {key} of the image is {said[key]}, it is {value}" for key, value in seen.items() if said[key] != value]


def _compare_values(found: FoundImage, target: Target, wanted: dict[str, str]) -> list[str]:
    faults = []
    widths = {one.value: one.bytes for one in target.header.fields if one.value}
    pads = {one.value: chr(one.pad) for one in target.header.fields if one.value}
    for name, value in wanted.items():
        if name in found.values and found.values[name] != value[: widths[name]].rstrip(pads[name]):
            faults.append(f"the header says {name} is {found.values[name]!r}, the project says {value!r}")
    return faults


def _compare_directory(found: FoundImage, entries: list[MapEntry]) -> list[str]:
    faults = []
    if len(found.entries) != len(entries):
        faults.append(f"the directory has {len(found.entries)} entries, the map {len(entries)}")
    for seen, meant in zip(found.entries, entries, strict=False):
        pairs = {
            "name_hash": (seen.name_hash, zlib.crc32(meant.name.encode())),
            "kind": (seen.kind or meant.kind, meant.kind),
            "offset": (seen.offset, meant.offset),
            "bytes": (seen.bytes, meant.bytes),
            "crc32": (seen.crc32, int(meant.crc32, 16)),
            "alignment": (seen.alignment or meant.alignment, meant.alignment),
            "name": (seen.name or meant.name, meant.name),
            "codec": (seen.codec or meant.codec, meant.codec),
            "unpacked_bytes": (meant.unpacked_bytes if seen.unpacked_bytes is None else seen.unpacked_bytes, meant.unpacked_bytes),
        }
        for key, (value, expected) in pairs.items():
            if value != expected:
                faults.append(f"the directory's {key} of {meant.name} is {value}, the map's is {expected}")
    return faults


def _compare_map(image_map: ImageMap, target: Target) -> list[str]:
    """Whether the map agrees with itself and with the target; what it says of the bytes is compared elsewhere."""
    image, entries, faults = image_map.image, image_map.entries, []
    if image.used + image.pad != image.bytes:
        faults.append(f"the map's used {image.used} and pad {image.pad} are not its {image.bytes} bytes")
    if any(entry.offset + entry.bytes > image.used for entry in entries):
        faults.append(f"an entry of the map ends after its used {image.used}")
    for entry in entries:
        if entry.address != seen_address(entry.offset, target):
            faults.append(f"the map says {entry.name} is seen at {entry.address:#x}, not {seen_address(entry.offset, target):#x}")
        grown = entry.codec == "stored" and entry.unpacked_bytes != entry.bytes
        aligned = entry.offset % entry.alignment == 0
        if not aligned or entry.codec not in CODEC_NUMBERS or grown:
            faults.append(f"the map's alignment, codec or unpacked size of {entry.name} cannot be")
    return faults


def _compare_program(
    found: FoundImage, entries: list[MapEntry], facts: dict[str, Facts], program: str | None, target: Target
) -> list[str]:
    meant = next((entry for entry in entries if entry.name == program), None)
    if meant is None:
        return [] if program is None else [f"the map has no program {program}, which the header is about"]
    known = facts[meant.name]
    wanted = {"program.address": meant.address, "program.bytes": meant.bytes}
    wanted["program.bank"] = meant.offset // target.cartridge.banks.size if target.cartridge.banks else 0
    if isinstance(known, ProgramFacts):
        wanted["program.entry"] = meant.address + known.entry
    return [
        f"the header says {name} is {found.values[name]:#x}, of {program} it is {value:#x}"
        for name, value in wanted.items()
        if found.values.get(name, value) != value
    ]


def _pools_in(data: bytes, entries: list[MapEntry], target: Target, decoders: Mapping[str, Call]) -> FindPool:
    """Return how to come by the image's pools, each decoded once; one that does not decode is reported separately."""
    places = {name_hash(entry.name): entry for entry in entries if entry.kind == "pool"}

    @functools.cache
    def find(pool: int) -> Decoded | None:
        if pool not in places:
            return None
        place = places[pool]
        stored = data[place.offset : place.offset + place.bytes]
        return decode_blob("pool", unpack(place.codec, stored, place.unpacked_bytes), target, decoders)

    return find


def _compare_asset(
    entry: MapEntry,
    blob: bytes,
    facts: Facts | None,
    target: Target,
    find_pool: FindPool,
    decoders: Mapping[str, Call],
    comparisons: Mapping[str, Call],
) -> list[str]:
    name = entry.name
    if facts is None:
        return [f"{name} has no facts"]
    if hashlib.sha256(blob).hexdigest() != facts.sha256:
        return [f"{name} in the image is not what conversion made"]
    if entry.codec not in ("stored", *target.codecs):
        return [f"{name} is packed with {entry.codec}, which programs for {target.name} do not unpack"]
    try:
        blob = unpack(entry.codec, blob, entry.unpacked_bytes)
        if hashlib.sha256(blob).hexdigest() != (facts.unpacked_sha256 or facts.sha256):
            return [f"{name} does not unpack to what conversion made"]
        decoded = decode_blob(entry.kind, blob, target, decoders, find_pool)
    except UnpackFault as fault:
        return [f"{name} does not unpack: {fault}"]
    except BlobFault as fault:
        return [f"{name} does not decode: {fault}"]
    return [f"{name}: {fault}" for fault in _compare_content(entry.kind, decoded, facts, target, comparisons)]


def _compare_content(kind: str, decoded: Decoded, facts: Facts, target: Target, comparisons: Mapping[str, Call]) -> list[str]:
    if kind != facts.kind:
        return [f"it is a {kind}, conversion made a {facts.kind}"]
    return comparisons[kind](decoded, facts, target) if kind in comparisons else []
