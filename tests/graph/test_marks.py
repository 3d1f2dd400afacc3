"""Kits with an image for each tester: patched, in order, named in packet and notes, found again by a question."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
import zlib
from pathlib import Path

import pypdf
import pytest

from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.reading.verify import verify_image
from pipeline.rom.image import marked_image
from pipeline.target.loading import load_target
from tests.graph.builds import build, clean_outputs, outputs, run
from tests.graph.test_release import change, ready

SHIPPED = Path(__file__).parents[2] / "pipeline/targets/basalt32.toml"
LAST = '{ name = "image used", offset = 0x64, bytes = 4, value = "image.used" },'
FIELD = '{ name = "tester", offset = 0x6C, bytes = 2, value = "tester.number" },'
PEOPLE = """
[[tester]]
number = 3
name = "Zabriska Quill"
[[tester]]
number = 258
"""


@pytest.fixture(scope="module")
def marked(tmp_path_factory) -> Path:
    """A project with two testers, released."""
    folder = ready(tmp_path_factory.mktemp("marked") / "small")
    text = SHIPPED.read_text(encoding="utf-8")
    assert text.count(LAST) == 1
    (folder / "own.toml").write_text(text.replace(LAST, f"{LAST}\n    {FIELD}"), encoding="utf-8")
    change(folder / "project.toml", ('target = "basalt32"', 'target = "own.toml"\nmark = true'))
    (folder / "reports").mkdir()
    (folder / "reports/testers.toml").write_text(PEOPLE, encoding="utf-8")
    released = run(folder, "release")
    assert released.returncode == 0, released.stdout
    build(folder)
    return folder


def kit(folder: Path, end: str) -> dict[str, bytes]:
    """Return the files of a kit by the ends of their names."""
    (path,) = (folder / "build/kit").rglob(f"SMALL-*{end}.zip")
    with zipfile.ZipFile(path) as archive:
        return {name.rpartition("/")[2].rpartition("-")[2]: archive.read(name) for name in archive.namelist()}


def image(folder: Path, end: str) -> bytes:
    return next(data for name, data in kit(folder, end).items() if name.endswith(".rom"))


ENDS = {0: "-??????", 3: "-T03", 258: "-T258"}


def test_images_differ_in_number_and_sums_alone(marked):
    """The number is at 0x6C, big-endian; the sum over the header is CRC-32 of its first 252 bytes (zlib)."""
    plain = image(marked, ENDS[0])
    assert plain == (marked / "build/rom/small.rom").read_bytes()
    for number, end in ENDS.items():
        own = image(marked, end)
        differing = {at for at in range(len(own)) if own[at] != plain[at]}
        assert differing <= {0x6C, 0x6D, 0xFC, 0xFD, 0xFE, 0xFF}
        assert bool(differing) == bool(number)
        assert int.from_bytes(own[0x6C:0x6E], "big") == number
        assert int.from_bytes(own[0xFC:0x100], "big") == zlib.crc32(own[:0xFC])


def test_verification_accepts_each_image_and_no_other(marked):
    """All that ``doit verify`` looks at, with the map of the tester's image; a bit more, and it does not."""
    target = load_target(marked / "own.toml")
    facts = {path.stem: read_facts(path) for path in (marked / "build/blobs").glob("*.json")}
    plain = read_map(marked / "build/map.json")
    for number in (3, 258):
        known = read_map(marked / f"build/work/testers/T{number:02}-map.json")
        own = image(marked, ENDS[number])
        wanted = {"build.code": plain.image.build_code}
        assert verify_image(own, target, known, facts, wanted) == []
        assert known.entries == plain.entries
        assert known.image.build_code == plain.image.build_code
        spoilt = bytearray(own)
        spoilt[0x6D] ^= 1
        assert verify_image(bytes(spoilt), target, known, facts, wanted) != []
    assert marked_image(image(marked, ENDS[3]), target, 258, plain.image.used, len(plain.entries)) == image(marked, ENDS[258])


def test_testers_read_that_the_image_is_theirs_and_its_sums(marked):
    """In packet and notes, with the SHA-256 that hashlib computes of the image in the same kit; sums of the kit agree."""
    for number, end in ENDS.items():
        files = kit(marked, end)
        own = image(marked, end)
        pages = pypdf.PdfReader(io.BytesIO(files["packet.pdf"])).pages
        for text in (" ".join(page.extract_text() for page in pages), files["notes.txt"].decode()):
            words = " ".join(text.split())
            said = f"The image in this kit is yours alone: it carries your number, T{number}, so that a copy of it can be traced to you."
            assert (said in words) == bool(number)
            assert "yours alone" not in words or number
            assert f"{zlib.crc32(own):08x}" in words
            assert hashlib.sha256(own).hexdigest() in "".join(text.split())
        assert hashlib.sha256(own).hexdigest() in files["SHA256SUMS"].decode()


def test_ledger_knows_each_image_by_number(marked):
    """And no name."""
    text = (marked / "ledger.json").read_text(encoding="utf-8")
    (entry,) = json.loads(text)["releases"]
    assert entry["kit"]["images"] == {f"T{number}": hashlib.sha256(image(marked, ENDS[number])).hexdigest() for number in (3, 258)}
    assert "Quill" not in text


def test_where_finds_whose_an_image_is(marked, tmp_path):
    """Of the ledger, by its bytes; changed, by its header; of nobody; and a file that is none."""
    asked = tmp_path / "found.rom"
    code = read_map(marked / "build/map.json").image.build_code

    def answer(data: bytes) -> str:
        asked.write_bytes(data)
        done = run(marked, "where", f"file={asked}")
        assert "Quill" not in done.stdout
        return done.stdout

    own = image(marked, ENDS[258])
    said = answer(own)
    assert f"0.1.0, build {code}, as it was handed out, the image of T258" in said
    assert hashlib.sha256(own).hexdigest() in said
    said = answer(own[:-1] + bytes([own[-1] ^ 1]))
    assert "not an image of the ledger or of the current build" in said
    assert f"its header says build {code}, which is 0.1.0" in said
    assert "its header says it is the image of T258" in said
    assert "it was changed, or is of another console: " in said
    assert "its header has no tester's number" in answer(image(marked, ENDS[0]))
    assert "not an image" in answer(b"nothing of the kind")
    missing = run(marked, "where", "file=nowhere.rom")
    assert missing.returncode != 0
    assert "nowhere.rom: cannot be read" in missing.stdout + missing.stderr


def test_rebuild_equals_a_clean_build(marked, tmp_path):
    """With a tester more, one less, and without marks."""
    (marked / "reports/testers.toml").write_text(PEOPLE.replace("258", "4"), encoding="utf-8")
    build(marked)
    assert build(marked) == []
    assert outputs(marked) == clean_outputs(marked, tmp_path)
    change(marked / "project.toml", ("mark = true\n", ""))
    build(marked)
    assert image(marked, "-T03") == image(marked, ENDS[0])
    assert not list((marked / "build/work/testers").glob("*.json"))


def test_a_console_without_room_for_a_number_is_refused(tmp_path):
    """With what to add."""
    folder = ready(tmp_path / "small")
    change(folder / "project.toml", ('target = "basalt32"', 'target = "basalt32"\nmark = true'))
    done = run(folder, "rom")
    assert done.returncode != 0
    assert "[game] mark: the header of Basalt 32 keeps no 2 bytes for a tester's number" in done.stdout + done.stderr
    assert 'add a field with bytes = 2 and value = "tester.number" to its target file' in done.stdout + done.stderr
