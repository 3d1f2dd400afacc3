"""Parts of a release by themselves: the build code from its definition, pictures of the ledger, and what is said when it is there."""

from __future__ import annotations

import base64
import hashlib
import struct
import zlib

import pytest

from pipeline.joints import facts as records
from pipeline.plain.bounds import PICTURE_PIXELS
from pipeline.project.ledger import Release, ReleasedImage, ReleasedIssues, ReleasedKit
from pipeline.release import record, steps
from pipeline.release.build_code import build_code
from tests.made_facts import made_facts

DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford's base 32


def code_of(*lines: str) -> str:
    number = int(hashlib.sha256("".join(f"{line}\n" for line in lines).encode()).hexdigest()[:8], 16) >> 2
    return "".join(DIGITS[number >> shift & 31] for shift in (25, 20, 15, 10, 5, 0))


def test_build_code_by_its_definition():
    """The first 30 bits of a SHA-256 over version, target, settings and assets, sorted; a codec counts, a boot notice does not."""
    ada = made_facts(records.SpriteFacts, "ada", sha256="a" * 64)
    bell = made_facts(records.SoundFacts, "bell", sha256="b" * 64, codec="lz4")
    boot = made_facts(records.ScreenFacts, "boot", sha256="c" * 64)
    expected = ("version 1.0.0", "target tt", "setting a 1", "setting z 2", f"sound bell {'b' * 64} lz4", f"sprite ada {'a' * 64}")
    assert build_code("1.0.0", "tt", {"z": "2", "a": "1"}, [bell, ada, boot]) == code_of(*expected)
    assert build_code("1.0.0", "tt", {"a": "1", "z": "2"}, [ada, bell]) == code_of(*expected)
    assert build_code("1.0.1", "tt", {}, []) == code_of("version 1.0.1", "target tt")


def release(version: str, sha256: str) -> Release:
    image = ReleasedImage(bytes=1, used=1, crc32="0" * 8, sha256="0" * 64)
    return Release(
        version=version, phase="alpha", date="", build_code="AAAAAA", image=image, budget={}, kit=ReleasedKit(file="k.zip", sha256=sha256),
        assets={}, issues=ReleasedIssues(open=[], fixed=[]),
    )  # fmt: skip


def test_release_that_is_there():
    """Nothing was changed; where another zlib packed the kit, which one was handed out."""
    same = "1.0.0 is in the ledger already, with the same content: nothing was changed."
    assert steps._released_before(release("1.0.0", "s1"), "s1") == same
    other = f"{same}\nThe kit made here has other bytes (another zlib?). The one handed out has SHA-256 s1"
    assert steps._released_before(release("1.0.0", "s1"), "s2") == other


def png(width: int, height: int) -> bytes:
    """Return the beginning of a PNG: its mark and header (PNG specification, 11.2.2)."""
    head = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))


@pytest.mark.parametrize(
    ("width", "height", "kept"), [(1, 1, True), (PICTURE_PIXELS, 1, True), (PICTURE_PIXELS + 1, 1, False), (4097, 4096, False)]
)
def test_pictures_of_the_ledger(tmp_path, width, height, kept):
    """Shown if they have the bytes their name says and at most as many pixels as a picture may have; one that is missing is left out."""
    data = png(width, height)
    name = record.picture_name(data)
    file = record.picture_file(tmp_path, name)
    assert file == tmp_path / f"ledger/{name}.png"
    assert name == hashlib.sha256(data).hexdigest()[: len(name)]
    assert steps._kept(tmp_path, name) is None
    file.parent.mkdir()
    file.write_bytes(data)
    assert steps._kept(tmp_path, name) == (data if kept else None)
    assert steps._text(data) == base64.b64encode(data).decode()
    file.write_bytes(data + b"x")
    assert [steps._kept(tmp_path, name), steps._kept(tmp_path, ""), steps._text(None)] == [None] * 3
