"""What a person sees of a build, each thing as a hash: pixels of pictures, drawing operators of pages, the report without its pictures.

``python -m tests.graph.looks`` records them in ``looks.json`` after a change that is meant. Look at what changed before.
"""

from __future__ import annotations

import hashlib
import json
import re
import tempfile
from pathlib import Path

import pypdf
from PIL import Image, ImageSequence

from pipeline.bringing.bring import show_found
from pipeline.questions.start import start_project
from tests.graph.builds import build
from tests.graph.everything import make_everything

KNOWN = Path(__file__).with_name("looks.json")


def looks(folder: Path) -> dict[str, str]:
    """Build a project with every kind of asset, write a new one, and return what can be seen of both: name -> hash."""
    project, started = make_everything(folder / "every"), folder / "started"
    build(project, "commands=yes")
    start_project(started, "started")
    show_found(project, project / "build/found.png", project / "build/budget.json", started / "art", "art", link=False, add=False)
    pictures = [*sorted(project.glob("build/proofs/*.png")), project / "build/found.png", *sorted(started.rglob("*.png"))]
    found = {path.relative_to(folder).as_posix(): _picture(path) for path in pictures}
    for path in sorted(project.glob("build/*.pdf")):
        found |= {f"{path.name}, page {number}": page for number, page in enumerate(_pages(path), 1)}
    # How a picture is packed depends on libraries; the same pictures are among the proofs.
    report = re.sub(rb"base64,[A-Za-z0-9+/=]+", b"", (project / "build/report.html").read_bytes())
    return found | {"report.html": _hash(report)}


def _picture(path: Path) -> str:
    with Image.open(path) as picture:
        frames = [(frame.size, frame.info.get("duration"), frame.convert("RGBA").tobytes()) for frame in ImageSequence.Iterator(picture)]
    return _hash(*(part for size, shown, pixels in frames for part in (repr((size, shown)).encode(), pixels)))


def _pages(path: Path) -> list[str]:
    return [_hash(page.get_contents().get_data()) for page in pypdf.PdfReader(path).pages]


def _hash(*parts: bytes) -> str:
    return hashlib.sha256(b"".join(parts)).hexdigest()[:16]


def main() -> None:
    """Record."""
    with tempfile.TemporaryDirectory() as scratch:
        KNOWN.write_text(json.dumps(looks(Path(scratch)), indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
