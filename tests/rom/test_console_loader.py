"""The generated C loader fills memory as the plan says, and no corrupt image makes it read or write outside.

What memory must hold is put together from blobs, packed forms and ``lists.json``; where assets and runs are is read from ``map.json``. The
loader is built with gcc and clang, with sanitizers; image and memory are blocks of their exact sizes. On a console with banks
only the bank asked for last can be seen.
"""

from __future__ import annotations

import itertools
import random
import struct
import subprocess
import zlib
from pathlib import Path

import pytest

from pipeline.joints.lists import Lists, read_lists_file
from pipeline.target.kinds import KIND_NUMBERS
from tests.conftest import need_tool, some, tries
from tests.makers import Built, target_data, toml_text
from tests.rom.reader_walk import HERE, PLAIN, SANITIZERS, WARNINGS, compiled, hash_of, linked, shared_kind

CODECS = {"stored": 0, "packbits": 1, "lz4": 2}
LISTS = """
[lists.load]
[bundle.dots]
members = ["near", "dot", "far"]
contiguous = true
[bundle.duo]
members = ["bea", "figures"]
[bundle.ferry]
members = ["cid", "ferry_cells"]
[bundle.view]
members = ["quay", "quay_colours"]
contiguous = true
[program.made]
command = ["/bin/sh", "-c", "printf made > $0", "{output}"]
reserve = "2 KiB"
[planned.variables]
kind = "data"
bytes = 200
[scene.race]
always = ["figures", "dots", "variables"]
direct = ["level"]
packed = ["words"]
[[scene.race.choose]]
name = "courier"
count = 2
of = ["ada", "duo", "ferry"]
[[scene.race.choose]]
count = 1
of = ["view", "pier", "words"]
[scene.shop]
always = ["bell", "dots", "level", "made"]
direct = ["bell"]
[[scene.shop.choose]]
count = 1
of = ["ada", "duo", "ferry"]
"""
PACKED = "".join(f'[defaults.{kind}]\npacking = "lz4"\n' for kind in ("sprite", "font", "palette"))
# Scene and what goes into its slots; each load follows the one before.
LOADS = [
    ("race", ["ada", "duo", "view"]),
    ("race", ["ada", "ferry", "pier"]),
    ("shop", ["ada"]),
    ("shop", ["duo"]),
    ("race", ["duo", None, "words"]),
    ("play", []),
    ("race", [None, None, None]),
]


def _console(banks: bool) -> str:
    data = target_data("pebble8" if banks else "basalt32")
    data["memory"] |= {"size": "96 KiB", "granularity": 8 if banks else 32}
    data["memory"]["reserved"] = [{"name": "system", "bytes": 512, "address": data["memory"]["base"]}, {"name": "stack", "bytes": 1000}]
    data["screen"]["buffers"] = 0
    if banks:
        data["cartridge"]["sizes"] = ["60 KiB", "120 KiB"]
        data["cartridge"]["banks"]["size"] = "10 KiB"
        data["header"]["fields"] = [one for one in data["header"]["fields"] if one["name"] != "size"]
    return toml_text(data)


@pytest.fixture(scope="module", params=some(["stored", "banks", "packed"], 2))
def made(request) -> Built:
    """A project with load lists: as it is, with packed assets, on a console with banks."""
    return _make(request.param)


def _make(form: str) -> Built:
    banks = form == "banks"
    more = LISTS + (PACKED if form == "packed" else "")
    goals = ("loader", "unpackers") if form == "packed" else ("loader",)
    return shared_kind("pebble8" if banks else "basalt32", _console(banks), more, goals)


def _compile(made: Built, folder: Path, *flags: str, compiler: str = "gcc", loader: Path | None = None) -> Path:
    include = made.project.folder / "build/include"
    banks = made.project.target.cartridge.banks
    seen = [f"-DBANK_BYTES={banks.size}ul", f"-DWINDOW={banks.window}ul", f"-DHOME={banks.home}ul"] if banks else []
    sources = [loader or include / "load.c", include / "reader.c", *include.glob("unpack.c"), HERE / "load_cases.c"]
    options = (*WARNINGS, *(flags or SANITIZERS), *seen)
    objects = [compiled(source, options, (f"-I{include}",), compiler) for source in sources]
    return linked(objects, flags or SANITIZERS, folder / f"load_cases_{compiler}", compiler)


@pytest.fixture(scope="module")
def program(made, tmp_path_factory) -> Path:
    """Its loader, compiled for this machine."""
    return _compile(made, tmp_path_factory.mktemp("program"))


def _orders(made: Built) -> bytes:
    numbers = [zlib.crc32(b"load"), made.project.target.memory.size, len(made.map["entries"])]
    for one in made.map["entries"]:
        numbers += [hash_of(one), KIND_NUMBERS[one["kind"]]]
    bundles = made.project.spec.bundle
    numbers += [len(bundles), *(zlib.crc32(name.encode()) for name in bundles), len(LOADS)]
    for scene, chosen in LOADS:
        numbers += [zlib.crc32(scene.encode()), len(chosen), *(zlib.crc32(one.encode()) if one else 0 for one in chosen)]
    return struct.pack(f"<{len(numbers)}I", *numbers)


def _run(program: Path, made: Built, folder: Path, cases: bytes | None = None, image: bytes | None = None) -> bytes:
    files = {"image": image or made.image, "orders": _orders(made), "answers": b""} | ({} if cases is None else {"cases": cases})
    for name, content in files.items():
        (folder / name).write_bytes(content)
    done = subprocess.run([program, *(folder / name for name in files)], capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr
    return (folder / "answers").read_bytes()


def _plan(made: Built) -> Lists:
    return read_lists_file(made.project.folder / "build/lists.json")


def _there(made: Built, scene: str, chosen: list[str | None]) -> dict[str, tuple[bool, int, bytes, str]]:
    """Return asset -> whether it is in memory, its offset there or in the image, its bytes, its codec; as the plan says."""
    plan, blobs, entries = _plan(made).scenes[scene], made.project.folder / "build/blobs", {one["name"]: one for one in made.map["entries"]}
    found: dict[str, tuple[bool, int, bytes, str]] = {}
    slots = [(slot, choice) for choice in plan.choices for slot in choice.slots]
    groups = [(0, plan.common)]
    for (slot, choice), member in zip(slots, chosen, strict=True):
        groups += [(slot.at, group) for group in choice.members if group.name == member]
    for start, group in groups:
        for one in group.places:
            entry = entries[one.asset]
            blob = blobs / f"{one.asset}{'.packed' if one.packed else ''}.bin"
            found.setdefault(one.asset, (True, start + one.at, blob.read_bytes(), entry["codec"] if one.packed else "stored"))
        for name in group.direct:
            one = entries[name]
            found.setdefault(name, (False, one["offset"], made.image[one["offset"] : one["offset"] + one["bytes"]], one["codec"]))
    return found


def test_one_call_loads_a_scene_and_what_stays_is_not_touched(made, program, tmp_path):
    """After each load every asset is where the plan says, byte for byte, and is found there; bundles are where the map says."""
    answers, at = _run(program, made, tmp_path), 0
    size = made.project.target.memory.size

    def take(count: int) -> list[int]:
        nonlocal at
        at += 4 * count
        return list(struct.unpack(f"<{count}I", answers[at - 4 * count : at]))

    for scene, chosen in LOADS:
        assert take(1) == [1], scene
        memory, at = answers[at : at + size], at + size
        there = _there(made, scene, chosen)
        for one in made.map["entries"]:
            if one["name"] not in there:
                assert take(1) == [0], one["name"]
                continue
            in_memory, offset, content, codec = there[one["name"]]
            assert take(5) == [1, int(in_memory), offset, len(content), CODECS[codec]], one["name"]
            assert not in_memory or memory[offset : offset + len(content)] == content
        assert memory[:512] == b"\xa5" * 512  # the system's, and the stack at the end
        assert memory[-1000:] == b"\xa5" * 1000
    entries = {one["name"]: one for one in made.map["entries"]}
    for name, members in made.project.spec.bundle.items():
        first, last = entries[members[0]], entries[members[-1]]
        run = last["offset"] + last["bytes"] - first["offset"] if name in made.project.spec.runs else 0
        assert take(2 + len(members)) == [1, run, *(entries[one]["offset"] for one in members)]
    assert at == len(answers)


def test_a_contiguous_bundle_that_is_stored_is_one_copy(made):
    """Of the steps of the plan; and in the image the members follow each other as the map says."""
    plan, entries = _plan(made), {one["name"]: one for one in made.map["entries"]}
    for name, members in made.project.spec.runs.items():
        stored = all(entries[one]["codec"] == "stored" for one in members)
        steps = [step for scene in plan.scenes.values() for group in scene.groups() for step in group.steps if set(step) & set(members)]
        assert name == "view" or all(step == members for step in steps) == stored
        for one, other in itertools.pairwise(members):
            assert 0 <= entries[other]["offset"] - entries[one]["offset"] - entries[one]["bytes"] < 64


def test_what_stays_is_not_loaded_again(made, tmp_path):
    """With a copy of the program's own that counts: the second load of the same scene copies only what is new."""
    include = made.project.folder / "build/include"
    counter = tmp_path / "count.c"
    counter.write_text(
        "#include <stdio.h>\n"
        "void counted(unsigned char *to, const unsigned char *from, unsigned long bytes);\n"
        "void counted(unsigned char *to, const unsigned char *from, unsigned long bytes)\n"
        '{\n    fprintf(stderr, "%lu ", bytes);\n    while (bytes--)\n        *to++ = *from++;\n}\n'
    )
    banks = made.project.target.cartridge.banks
    seen = [f"-DBANK_BYTES={banks.size}ul", f"-DWINDOW={banks.window}ul", f"-DHOME={banks.home}ul"] if banks else []
    sources = [include / "load.c", include / "reader.c", *include.glob("unpack.c"), HERE / "load_cases.c", counter]
    out = tmp_path / "counting"
    words = ["-O1", *seen, "-DRW_COPY=counted", f"-I{include}", *map(str, sources), "-o", str(out)]
    subprocess.run([need_tool("gcc"), *words], check=True, capture_output=True)
    (tmp_path / "image").write_bytes(made.image)
    (tmp_path / "orders").write_bytes(_orders(made))
    done = subprocess.run([out, *(tmp_path / name for name in ("image", "orders", "answers"))], capture_output=True, text=True, check=True)
    copied = sum(map(int, done.stderr.split()))
    before: dict[str, tuple] = {}
    wanted, entries = 0, {one["name"]: one for one in made.map["entries"]}
    for scene, chosen in LOADS:
        there = _there(made, scene, chosen)
        for name, (in_memory, offset, content, codec) in there.items():
            new = before.get(name, (False, 0))[:2] != (in_memory, offset)
            stored = codec == entries[name]["codec"]
            wanted += len(content) if in_memory and new and stored else 0
        before = there
    runs = sum(map(len, made.project.spec.runs.values())) * len(LOADS) * 32  # padding inside runs is copied too
    assert wanted <= copied <= wanted + runs


def test_it_compiles_with_other_compilers(made, tmp_path):
    """clang, with all warnings of the reader's own test; and C++ takes it too."""
    program = _compile(made, tmp_path, "-O1", compiler="clang")
    assert _run(program, made, tmp_path)
    include = made.project.folder / "build/include"
    words = [need_tool("g++"), "-Wall", "-Wextra", "-Werror", "-x", "c++", "-c", f"-I{include}", str(include / "load.c"), "-o", "/dev/null"]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def _cases(made: Built, count: int, seed: int) -> bytes:
    """Return cases for ``load_cases.c``: changed bytes of the lists and of the directory, and images cut short."""
    chance, cases = random.Random(seed), bytearray()
    (lists,) = (one for one in made.map["entries"] if one["kind"] == "lists")
    directory = made.project.target.header.offset + made.project.target.header.size
    width = made.project.target.directory.entry_bytes * len(made.map["entries"])
    for _ in range(count):
        if chance.random() < 0.05:
            cases += bytes(4) + chance.randrange(made.map["image"]["used"]).to_bytes(4, "little")
            continue
        changes = chance.randint(1, 4)
        cases += changes.to_bytes(4, "little")
        for _ in range(changes):
            kind = chance.random()
            place = lists["offset"] + chance.randrange(40 if kind < 0.3 else lists["bytes"])
            if kind > 0.9:
                place = directory + chance.randrange(width)
            old = made.image[place]
            new = chance.choice((0, 0xFF, 0x7F, 0x80, old ^ 1 << chance.randrange(8), old + 1 & 0xFF, chance.randrange(256)))
            cases += place.to_bytes(4, "little") + bytes([new])
    return bytes(cases)


def test_corrupt_lists_do_no_harm(made, program, tmp_path):
    """No byte outside image or memory is touched, every walk ends, and most spoilt lists are noticed; 100,000 in the longest form."""
    count = tries(300, 2_000, 34_000)
    image = made.image[: made.map["image"]["used"]]
    answers = _run(program, made, tmp_path, _cases(made, count, seed=7), image)
    failures = struct.unpack(f"<{count}I", answers)
    whole = len(LOADS) * len(made.map["entries"])  # calls that fail in a good image too: what a scene does not load
    assert sum(one > whole for one in failures) > 0
    assert len(set(failures)) > 20


GUARDS = {
    "what is read of the image": ("bank == 0 && lies_inside(source, bytes, lists->image_bytes) ?", "bank == 0 && source + bytes ?"),
    "tables": ("return lies_inside(table, product(count, size), lists->bytes);", "return table + product(count, size) + lists->bytes > 0;"),
    "ranks of a table": ("return first <= all && count <= all - first;", "return first + count + all + 1 > 0;"),
    "what is written": ("from == 0 || !lies_inside(copy->at, copy->unpacked_bytes, lists->memory_bytes)", "from == 0"),
    "where assets are in memory": ("if (!lies_inside(place, asset->bytes, room))", "if (room == MOST)"),
}


@pytest.fixture(scope="module")
def guarded() -> Built:
    """A build whose loader loses its guards."""
    return _make("stored")


@pytest.mark.parametrize("guard", some(GUARDS, 3))
def test_the_cases_notice_a_missing_guard(guarded, guard, tmp_path):
    """Without one of its checks the loader reads or writes outside with one of the corrupt images, and the sanitizers stop it."""
    made = guarded
    old, new = GUARDS[guard]
    text = (made.project.folder / "build/include/load.c").read_text()
    assert text.count(old) == 1
    text = text.replace(old, new)
    if guard == "what is written":  # two checks come before a write
        text = text.replace("return lies_inside(within, copy->unpacked_bytes, group->bytes);", "return group->bytes + within > 0;")
    (tmp_path / "load.c").write_text(text)
    program = _compile(made, tmp_path, *SANITIZERS, *PLAIN, loader=tmp_path / "load.c")
    for name, content in {"image": made.image[: made.map["image"]["used"]], "orders": _orders(made), "answers": b""}.items():
        (tmp_path / name).write_bytes(content)
    (tmp_path / "cases").write_bytes(_cases(made, 3000, seed=11))
    words = [program, *(tmp_path / name for name in ("image", "orders", "answers", "cases"))]
    assert subprocess.run(words, capture_output=True, timeout=300).returncode != 0
