"""What comes of a build, each thing as a hash: pixels of pictures, drawing operators of pages, other files without their pictures."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pypdf
from PIL import Image, ImageSequence

from pipeline.bringing.bring import show_found
from pipeline.questions.start import start_project
from tests.graph.builds import run
from tests.graph.everything import make_everything
from tests.recorded import hash_of

_NOT_GIVEN = ("work", ".state", "schema")  # folders of the tool's own, and what tests/reference compares


def looks(folder: Path) -> dict[str, str]:
    """Build a project with every kind of asset, write a new one, and return what can be seen of both: name -> hash."""
    project, started = make_everything(folder / "every"), folder / "started"
    done = run(project, "commands=yes")
    assert done.returncode == 0, done.stdout + done.stderr
    start_project(started, "started")
    show_found(project, project / "build/found.png", project / "build/budget.json", started / "art", "art", link=False, add=False)
    # What each step says of itself, in any order, but for the sizes of pictures and packets, which depend on libraries.
    steps = (line.strip().partition("  ")[2] for line in done.stdout.splitlines() if re.match(r" *[0-9]+/[0-9]+ ", line))
    said = sorted(line for line in steps if not re.search(r"pictures?, |pages, ", line))
    new = {path.relative_to(folder).as_posix(): _look(path) for path in sorted(started.rglob("*")) if path.is_file()}
    return {"said": hash_of("\n".join(said).encode())} | looks_of(project) | new


def looks_of(project: Path) -> dict[str, str]:
    """Return what a person and a program get of a built project: name, with that of the project's folder -> hash."""
    found, out = {}, project / "build"
    for path in sorted(path for path in out.rglob("*") if path.is_file() and path.relative_to(out).parts[0] not in _NOT_GIVEN):
        if path.name == "kit.json":  # hashes of archives
            continue
        name = path.relative_to(project.parent).as_posix()
        if path.suffix == ".pdf":
            found |= {f"{name}, page {number}": page for number, page in enumerate(pages_of(path), 1)}
        else:
            found[name] = _look(path)
    return found


def _look(path: Path) -> str:
    if path.suffix == ".png":
        return _picture(path)
    if path.suffix == ".zip":
        return _archive(path)
    # How pictures and packets are packed depends on libraries; the same pictures are among the proofs.
    return hash_of(re.sub(rb"base64,[A-Za-z0-9+/=]+", b"", path.read_bytes()))


def _archive(path: Path) -> str:
    """Return the hash of names and of what does not depend on how a library packs: the packet is there as a file, too."""
    with zipfile.ZipFile(path) as archive:
        kept = (archive.read(name) if not name.endswith((".pdf", "SHA256SUMS")) else b"" for name in archive.namelist())
        return hash_of(*(part for name, data in zip(archive.namelist(), kept, strict=True) for part in (name.encode(), data)))


def _picture(path: Path) -> str:
    with Image.open(path) as picture:
        frames = [(frame.size, frame.info.get("duration"), frame.convert("RGBA").tobytes()) for frame in ImageSequence.Iterator(picture)]
    return hash_of(*(part for size, shown, pixels in frames for part in (repr((size, shown)).encode(), pixels)))


def pages_of(path: Path) -> list[str]:
    """Return the hash of each page of a PDF: what is drawn, and the boxes, names and links of what can be clicked or filled in."""
    return [hash_of(page.get_contents().get_data(), _notes(page)) for page in pypdf.PdfReader(path).pages]


def _notes(page: pypdf.PageObject) -> bytes:
    notes = (note.get_object() for note in page.get("/Annots", ()))
    return repr([[repr(note.get(key)) for key in ("/Rect", "/T", "/TU", "/FT", "/Ff", "/V", "/MaxLen", "/DA")] for note in notes]).encode()
