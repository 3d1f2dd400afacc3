"""Blobs written at once and part by part: the same file and facts, and nothing left when that fails."""

import errno
import hashlib
import zlib

import pytest

from pipeline.assets.blob import body_file, body_parts, save_blob, save_facts
from pipeline.joints.facts import DataFacts, read_facts
from pipeline.joints.places import blob_files, facts_file
from pipeline.plain.errors import ProjectError


def test_parts_make_the_file_and_facts_that_the_whole_makes(tmp_path):
    """A body longer than what is read at once; sums by the standard library over the whole."""
    whole = bytes(range(256)) * 4000
    with body_file(tmp_path / "parts/figure.bin") as body:
        for at in range(100, len(whole), 7777):
            body.write(whole[at : at + 7777])
        out = blob_files(tmp_path / "parts", "figure")
        said = save_facts(out.facts, DataFacts(**save_blob(out.content, "figure", body_parts(whole[:100], body), "mine")))
    assert (tmp_path / "parts/figure.bin").read_bytes() == whole
    facts = read_facts(facts_file(tmp_path / "parts", "figure"), DataFacts)
    assert facts.crc32 == f"{zlib.crc32(whole):08x}"
    assert facts.sha256 == hashlib.sha256(whole).hexdigest()
    assert (facts.bytes, facts.origin, said) == (1_024_000, "mine", "1,024,000 bytes")
    once = save_blob(tmp_path / "whole/figure.bin", "figure", [whole], "mine")
    assert once == save_blob(tmp_path / "halves/figure.bin", "figure", [whole[:9], whole[9:]], "mine")
    assert sorted(path.name for path in (tmp_path / "parts").iterdir()) == ["figure.bin", "figure.json"]


def test_a_full_disk_is_reported_and_leaves_the_blob_before(tmp_path):
    """What the system says while the body is written (here: no room) is reported for the blob, which stays as it was."""
    save_blob(tmp_path / "figure.bin", "figure", [b"before"], "")
    with pytest.raises(ProjectError, match=r"figure\.bin: cannot be written: No space left"), body_file(tmp_path / "figure.bin"):
        raise OSError(errno.ENOSPC, "No space left on device")
    assert (tmp_path / "figure.bin").read_bytes() == b"before"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["figure.bin"]


def test_a_file_that_cannot_be_read_meanwhile_is_not_named_with_the_blob(tmp_path):
    """A missing source stays the error it is."""
    with pytest.raises(FileNotFoundError, match="frames"), body_file(tmp_path / "blobs/figure.bin"):
        (tmp_path / "frames.rgba").read_bytes()
