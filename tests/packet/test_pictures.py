"""Pictures of what changed, taken out of the PDF again by pypdf (their pixels) and pdfium (where they are)."""

from __future__ import annotations

import base64
import io
import json
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
from PIL import Image

import pipeline.project.file as pf
from pipeline.joints.map import ASSETS
from pipeline.packet import document
from pipeline.packet.document import write_packet
from pipeline.packet.sections.what_changed import changes_part
from pipeline.packet.typeset import style
from tests.conftest import some
from tests.release.making import DATE, make_game, make_spec, packet_files

pytestmark = pytest.mark.usefixtures("set_once")
ISSUES = ("fixed", "new", "again", "settled", "gone")
LISTS = {part: {"added": [], "removed": []} for part in ("included", "missing")}


@pytest.fixture(scope="module", autouse=True)
def only_what_is_looked_at():
    """Make packets of what changed alone; other files look at whole packets."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(document, "_PARTS", (changes_part,))
        yield


def pixels(seed: int, width: int, height: int) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)


def plain(rank: int, width: int, height: int) -> np.ndarray:
    """Return pixels of two colours, of which a PDF is made in a third of the time."""
    array = np.full((height, width, 3), rank, dtype=np.uint8)
    array[::2] = 255 - rank
    return array


def text(array: np.ndarray | None) -> str | None:
    if array is None:
        return None
    out = io.BytesIO()
    Image.fromarray(array).save(out, "PNG")
    return base64.b64encode(out.getvalue()).decode()


def asset(name: str, kind: str, before: np.ndarray | None, now: np.ndarray | None) -> dict:
    sizes = {"before": None if before is None else 100, "now": None if now is None else 200}
    return {"name": name, "was": "", "kind": kind, **sizes, "pictures": {"before": text(before), "now": text(now)}}


def changes(**assets: list[dict]) -> dict:
    since = {"version": "0.3.0", "phase": "beta", "date": "2031-03-01", "build_code": "8ZZZZZ"}
    more = ("unseen", "timing", "anchors", "controls", "words", "scenes")
    lists = dict.fromkeys((*ASSETS, *ISSUES, *more), ())
    empty = {key: list(value) for key, value in lists.items()}
    return {"since": since, "image": {"before": 1, "now": 2}, **empty, "contents": LISTS, **assets}


def packet(folder: Path, found: dict, paper: str = "A4") -> Path:
    given = folder / "changes.json"
    given.write_text(json.dumps(found))
    out = folder / "packet.pdf"
    spec = make_spec(game=make_game(paper=paper), instructions=pf.Instructions())
    write_packet(*packet_files(folder), spec, DATE, "Basalt 32", out, None, "kest.rom", changes_file=given)
    return out


def pictures(path: Path) -> list[np.ndarray]:
    """Return every picture of the file in the order of its pages, each once."""
    found = {}
    for page in pypdf.PdfReader(path, strict=True).pages:
        for image in page.images:
            found.setdefault(image.name, np.asarray(image.image.convert("RGB")))
    return list(found.values())


def holds(found: list[np.ndarray], wanted: np.ndarray) -> bool:
    """Whether one of the pictures is the wanted one, every pixel of it a square of equal pixels."""
    for one in found:
        times = one.shape[0] // wanted.shape[0]
        if times and np.array_equal(one, np.repeat(np.repeat(wanted, times, axis=0), times, axis=1)):
            return True
    return False


def test_pictures_before_and_now_are_in_the_packet_to_the_pixel(tmp_path):
    """Of changed and recoloured art both, of what is new or gone one, of sounds nothing."""
    strip, sky, wave = (24, 12), (16, 12), (30, 6)
    found = changes(
        changed=[asset("owl", "sprite", pixels(1, *strip), pixels(2, *strip)),
                 asset("dusk", "background", pixels(3, *sky), pixels(4, *sky))],
        added=[asset("hoot", "sound", None, pixels(5, *wave)), asset("wing", "sprite", None, pixels(10, *strip))],
        removed=[asset("bat", "sprite", pixels(6, *strip), None)],
        recoloured=[asset("jay", "sprite", pixels(8, *strip), pixels(9, *strip))],
    )  # fmt: skip
    path = packet(tmp_path, found)
    inside = pictures(path)
    for seed, size in ((1, strip), (2, strip), (3, sky), (4, sky), (10, strip), (6, strip), (8, strip), (9, strip)):
        assert holds(inside, pixels(seed, *size)), seed
    assert not holds(inside, pixels(5, *wave))
    words = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages)
    assert "owl Changed Before Now" in words
    assert "wing Added Now" in words
    assert "Added hoot, wing" in words
    assert "bat Removed Before" in words


def test_figures_come_first_and_many_are_counted(tmp_path):
    """Of fifteen, twelve are shown and three counted; texts, listed first in the build, come after figures; one more is one."""
    several = [asset(f"bell{rank}", "text", pixels(rank, 10, 4), pixels(90 + rank, 10, 4)) for rank in range(5)]
    several += [asset(f"owl{rank}", "sprite", pixels(20 + rank, 10, 4), pixels(60 + rank, 10, 4)) for rank in range(10)]
    path = packet(tmp_path, changes(changed=several))
    inside = pictures(path)
    assert all(holds(inside, pixels(20 + rank, 10, 4)) for rank in range(10))
    assert [holds(inside, pixels(rank, 10, 4)) for rank in range(5)] == [True, True, False, False, False]
    assert "3 more are not shown here." in " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    path = packet(tmp_path, changes(changed=several[2:]))
    assert "1 more is not shown here." in " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("size", some([(288, 48), (192, 144), (240, 48), (6, 90), (1, 1)], 2))
def test_no_picture_leaves_the_margins_or_covers_another(tmp_path, paper, size):
    found = changes(changed=[asset(f"a{rank}", "sprite", plain(rank, *size), plain(50 + rank, *size)) for rank in range(12)])
    document = pypdfium2.PdfDocument(packet(tmp_path, found, paper))
    count = 0
    for page in document:
        boxes = [one.get_bounds() for one in page.get_objects([pypdfium2.raw.FPDF_PAGEOBJ_IMAGE])]
        count += len(boxes)
        for left, bottom, right, top in boxes:
            assert left >= style.MARGIN - 0.5
            assert right <= page.get_width() - style.MARGIN + 0.5
            assert bottom >= style.BOTTOM - 0.5
            assert top <= page.get_height() - style.TOP + 0.5
        for rank, (left, bottom, right, top) in enumerate(boxes):
            for other in boxes[rank + 1 :]:
                apart = right <= other[0] + 0.1 or other[2] <= left + 0.1 or top <= other[1] + 0.1 or other[3] <= bottom + 0.1
                assert apart, (boxes[rank], other)
    assert count == 24


def test_no_pictures_no_table(tmp_path):
    """A ledger whose pictures were not committed leaves only words."""
    path = packet(tmp_path, changes(changed=[asset("owl", "sprite", None, None)]))
    assert pictures(path) == []
    assert "Pictures are decoded" not in " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


@pytest.mark.parametrize("how", ["added", "removed", "changed", "recoloured", ""])
def test_that_no_asset_changed_is_said_only_then(tmp_path, how):
    path = packet(tmp_path, changes(**({how: [asset("owl", "sprite", None, None)]} if how else {})))
    said = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages)
    assert ("No picture, sound, text or program changed." in said) == (not how)
    assert ("owl" in said) == bool(how)
