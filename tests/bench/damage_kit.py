"""A damage machine for what is handed out: kit, packet and every other file of a build, altered and looked at again.

Bits of the kit are flipped, members exchanged, renamed and replaced; a tester has ``unzip`` and the kit's own SHA256SUMS, the
author ``kit.json`` and the next build. Every file in the build folder is altered and built again: the outputs must then be
those of the good build, and no traceback be shown. Run: ``python -m tests.bench.damage_kit --flips 20000 --seed 1``.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import os
import random
import sys
import tempfile
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from doit.doit_cmd import DoitMain

from pipeline.graph.command import ProjectLoader
from tests.bench.damage import flipped
from tests.graph.builds import make_project, outputs

SUMS = "SHA256SUMS"


def seen_by_tester(kit: bytes) -> str:
    """Return what a tester finds wrong with a kit: its archive cannot be read, or its files are not as its list says; or nothing."""
    try:
        with zipfile.ZipFile(io.BytesIO(kit)) as archive:
            names = archive.namelist()
            files = {name.rpartition("/")[2]: archive.read(name) for name in names}
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, NotImplementedError, RuntimeError, KeyError):
        return "the archive"
    if len({name.rpartition("/")[0] for name in names}) != 1 or len(files) != len(names):
        return "its folders"
    try:
        listed = dict(reversed(line.split("  ", 1)) for line in files.pop(SUMS).decode().splitlines())
    except (KeyError, ValueError):
        return "the list of sums"
    if listed.keys() != files.keys():
        return "its names"
    return "a file's sum" if any(hashlib.sha256(data).hexdigest() != listed[name] for name, data in files.items()) else ""


def regions(kit: bytes) -> list[tuple[str, range]]:
    """Return the parts of a zip archive as its layout has them: headers, names, members' bytes, the directory at its end."""
    found, archive = [], zipfile.ZipFile(io.BytesIO(kit))
    for one in archive.infolist():
        data_at = one.header_offset + 30 + len(one.filename)
        found.append(("header of a member", range(one.header_offset, one.header_offset + 30)))
        found.append(("name of a member", range(one.header_offset + 30, data_at)))
        found.append((f"member {one.filename.rpartition('/')[2].rpartition('-')[2]}", range(data_at, data_at + one.compress_size)))
    found.append(("directory of the archive", range(archive.start_dir, len(kit))))
    return found


def unpacked(kit: bytes) -> dict[str, bytes]:
    """Return the files of an archive by name."""
    with zipfile.ZipFile(io.BytesIO(kit)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def flip_kit(kit: bytes, count: int, chance: random.Random) -> dict[str, Counter]:
    """Flip bits in each region in turn; return region -> what a tester found, empty text where nothing was.

    In deflated data there are flips that unpack to the same bytes, as of a distance in a run of one value: "the same files".
    """
    places, counts, whole = regions(kit), {}, unpacked(kit)
    for rank in range(count):
        name, place = places[rank % len(places)]
        bits = [chance.randrange(place.start * 8, place.stop * 8) for _ in range(chance.choice((1, 1, 1, 2, 9)))]
        data = flipped(kit, bits)
        if data != kit:
            seen = seen_by_tester(data) or ("the same files" if name.startswith("member ") and unpacked(data) == whole else "")
            counts.setdefault(name, Counter())[seen] += 1
    return counts


def rewritten(kit: bytes, change: Callable[[dict[str, bytes]], dict[str, bytes]]) -> bytes:
    """Return a kit with other members, as an archive in good order."""
    with zipfile.ZipFile(io.BytesIO(kit)) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in change(files).items():
            archive.writestr(name, data)
    return out.getvalue()


def changed_kits(kit: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield kits with members exchanged, renamed, left out, added and altered under right sums of the archive."""
    with zipfile.ZipFile(io.BytesIO(kit)) as archive:
        names = archive.namelist()
    for first in names:
        for second in names:
            if first < second:
                yield f"{first} and {second} exchanged", rewritten(kit, lambda files, a=first, b=second: files | {a: files[b], b: files[a]})
        yield f"{first} left out", rewritten(kit, lambda files, a=first: {name: data for name, data in files.items() if name != a})
        yield f"{first} renamed", rewritten(kit, lambda files, a=first: {name + "x" * (name == a): data for name, data in files.items()})
        yield f"{first} altered", rewritten(kit, lambda files, a=first: files | {a: files[a][:-1] + b"?"})
        yield f"{first} emptied", rewritten(kit, lambda files, a=first: files | {a: b""})
    yield "a file added", rewritten(kit, lambda files: files | {names[0].rpartition("/")[0] + "/more.txt": b"x"})
    yield "cut short", kit[:-30]
    yield "empty", b""


def run_doit(project: Path, *words: str) -> tuple[int, str]:
    """Run a build in a forked child, so that nothing is imported again; return its exit status and what it said."""
    reading, writing = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        status = 99
        try:
            os.close(reading)
            os.dup2(writing, 1)
            os.dup2(writing, 2)
            sys.stdout, sys.stderr = os.fdopen(1, "w", closefd=False), os.fdopen(2, "w", closefd=False)
            sys.argv = ["romwright", *words, f"project={project}"]
            status = DoitMain(ProjectLoader(), config_filenames=()).run(sys.argv[1:])
            sys.stdout.flush()
        finally:
            os._exit(status)
    os.close(writing)
    with os.fdopen(reading, errors="replace") as file:
        said = file.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), said


def _flip(path: Path) -> None:
    data = path.read_bytes()
    path.write_bytes(flipped(data, [len(data) * 4]) if data else b"x")


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def _flip_with_times(path: Path) -> None:
    """Alter a file and set its times back, as a copy that keeps them would."""
    before = path.stat()
    _flip(path)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


ALTERED = {"a bit flipped": _flip, "cut in half": _cut, "removed": Path.unlink, "a bit flipped, times set back": _flip_with_times}


def alter_outputs(project: Path, names: list[str], words: tuple[str, ...] = ()) -> Iterator[tuple[str, str]]:
    """Alter files of a build one at a time and build again; yield the change and what is wrong after that, empty when nothing is.

    Args:
        names: files of ``build``, or several with `` and `` between them, which are exchanged.
        words: of the command line: steps to run, or none for all.
    """
    good = outputs(project)
    for name in names:
        for how, alter in {"exchanged": None}.items() if " and " in name else ALTERED.items():
            paths = [project / "build" / one for one in name.split(" and ")]
            if alter is None:
                first, second = (path.read_bytes() for path in paths)
                paths[0].write_bytes(second)
                paths[1].write_bytes(first)
            else:
                alter(paths[0])
            status, said = run_doit(project, *words)
            wrong = []
            if status:
                wrong.append(f"status {status}")
            if "Traceback" in said:
                wrong.append("a traceback")
            if outputs(project) != good:
                wrong.append("the outputs are not those of the good build")
                run_doit(project)
            yield f"{name} {how}", ", ".join(wrong)


def build_project(folder: Path) -> Path:
    """Build a small project with everything up to the kit.

    Raises:
        AssertionError: it cannot be built.
    """
    project = make_project(folder)
    status, said = run_doit(project)
    assert status == 0, said
    return project


def kit_of(project: Path) -> Path:
    """Return the kit of a built project."""
    return next((project / "build/kit").glob("*.zip"))


def main() -> int:
    """Damage a kit and every file of a build; return 1 when something was not found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--flips", type=int, default=20000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    bad = 0
    with tempfile.TemporaryDirectory() as top:
        project = build_project(Path(top).resolve() / "project")
        kit = kit_of(project).read_bytes()
        for name, found in flip_kit(kit, options.flips, random.Random(options.seed)).items():
            shown = ", ".join(f"{what or 'NOTHING'} {count}" for what, count in found.most_common())
            sys.stdout.write(f"  kit, bits flipped in the {name}: {found.total()} made; a tester finds: {shown}\n")
        for what, data in changed_kits(kit):
            found = seen_by_tester(data)
            bad += not found
            sys.stdout.write(f"  kit, {what}: a tester finds {found or 'NOTHING'}\n")
        names = sorted(outputs(project))
        names += ["packet.pdf and packet-author.pdf", "blobs/one.bin and blobs/two.bin", "map.json and budget.json"]
        for what, wrong in alter_outputs(project, names):
            bad += bool(wrong)
            if wrong:
                sys.stdout.write(f"  NOT REPAIRED {what}: {wrong}\n")
        sys.stdout.write(f"  {len(names)} files altered in {len(ALTERED)} ways and built again\n")
        _tell_verify(project, names)
    return int(bad > 0)


def _tell_verify(project: Path, names: list[str]) -> None:
    """Say which files ``doit verify`` puts right, and which it leaves as they are."""
    left = [what for what, wrong in alter_outputs(project, names, ("verify",)) if "outputs" in wrong]
    sys.stdout.write(f"  doit verify looks at and puts right all but: {', '.join(sorted({one.split(' ')[0] for one in left}))}\n")


if __name__ == "__main__":
    sys.exit(main())
