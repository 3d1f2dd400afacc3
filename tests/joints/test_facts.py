"""Facts: every kind is written and read back; what is damaged, of another format or of another kind is refused in words."""

from __future__ import annotations

import json

import msgspec
import pytest

from pipeline.joints import facts as records
from pipeline.joints.facts import FORMAT, PackedFacts, image_facts, read_facts, write_facts, write_packed_facts
from pipeline.joints.places import facts_file, facts_files, packed_files
from pipeline.plain.errors import ProjectError
from pipeline.target.kinds import KINDS
from tests.made_facts import made_facts, stored_tiles

EVERY = [one for one in vars(records).values() if isinstance(one, type) and issubclass(one, records.Facts) and one is not records.Facts]


def test_each_kind_has_its_record():
    """The kinds of a project file, each once, are the tags of the records."""
    assert sorted(one.__struct_config__.tag for one in EVERY) == sorted(KINDS)


@pytest.mark.parametrize("kind", EVERY, ids=[one.__name__ for one in EVERY])
def test_facts_are_written_and_read_back(tmp_path, kind):
    """JSON (RFC 8259) that names kind and version first; what is read is what was written, of the same kind."""
    facts = made_facts(kind, "ada", origin="Drawn for this test.")
    write_facts(facts_file(tmp_path, "ada"), facts)
    written = json.loads((tmp_path / "ada.json").read_bytes())
    assert list(written)[:3] == ["kind", "version", "name"]
    assert (written["kind"], written["version"]) == (facts.kind, FORMAT)
    assert not {"tried", "unpacked_sha256"} & written.keys()
    assert read_facts(facts_file(tmp_path, "ada")) == read_facts(facts_file(tmp_path, "ada"), kind) == facts


def test_facts_in_the_image_are_those_of_the_packed_bytes(tmp_path):
    """Codec, size and sums of the packed bytes over those of conversion; the rest stays."""
    facts = made_facts(records.BackgroundFacts, "quay", stored=stored_tiles(3))
    sums = {"crc32": "1" * 8, "sha256": "2" * 64, "unpacked_sha256": facts.sha256}
    packed = PackedFacts(version=FORMAT, codec="lz4", bytes=40, unpacked_bytes=64, tried={"lz4": 40}, **sums)
    write_facts(facts_file(tmp_path, "quay"), facts)
    write_packed_facts(packed_files(tmp_path, "quay").facts, packed)
    assert image_facts(facts_files(tmp_path, "quay", packed=False)) == facts
    found = image_facts(facts_files(tmp_path, "quay", packed=True), kind=records.BackgroundFacts)
    assert found == msgspec.structs.replace(facts, codec="lz4", bytes=40, tried={"lz4": 40}, **sums)
    assert found.arrangement == "tiles"


WRONG = [
    ({"version": 0}, "ada.json, version: is 0, this version of the tool reads 1"),
    ({"version": 2, "frames": None}, "ada.json, version: is 2, this version of the tool reads 1"),
    ({"kind": "film"}, "ada.json, kind: is damaged: Invalid value 'film'"),
    ({"bytes": -1}, "ada.json, bytes: is damaged: Expected int >= 0"),
    ({"sha256": "0" * 63}, "ada.json, sha256: is damaged: Expected str matching regex"),
    ({"anchor": [0, 40_000]}, r"ada.json, anchor\[1\]: is damaged: Expected int <= 32767"),
    ({"stored": {"arrangement": "heap"}}, "ada.json, stored.arrangement: is damaged: Invalid value 'heap'"),
    ({"more": 1}, "ada.json: is damaged: Object contains unknown field more"),
]


@pytest.mark.parametrize(("changed", "said"), WRONG, ids=[str(rank) for rank in range(len(WRONG))])
def test_damaged_facts_and_another_format_are_refused(tmp_path, changed, said):
    """Nothing else is taken for facts; common practice, no source."""
    write_facts(facts_file(tmp_path, "ada"), made_facts(records.SpriteFacts, "ada"))
    path = tmp_path / "ada.json"
    path.write_text(json.dumps(json.loads(path.read_bytes()) | changed))
    with pytest.raises(ProjectError, match=said):
        read_facts(facts_file(tmp_path, "ada"))


def test_facts_of_another_kind_are_refused(tmp_path):
    """Where a palette is asked for, a sound's facts are refused."""
    write_facts(facts_file(tmp_path, "bell"), made_facts(records.SoundFacts, "bell"))
    with pytest.raises(ProjectError, match="bell.json, kind: is sound, not palette"):
        read_facts(facts_file(tmp_path, "bell"), records.PaletteFacts)


def test_damaged_facts_of_packed_bytes_are_refused(tmp_path):
    """So is the second file, by its own name."""
    write_facts(facts_file(tmp_path, "level"), made_facts(records.DataFacts, "level"))
    packed_files(tmp_path, "level").facts.write_text('{"version": 1, "codec": "lz4"}')
    with pytest.raises(ProjectError, match=r"level.packed.json: is damaged: Object missing required field bytes"):
        image_facts(facts_files(tmp_path, "level", packed=True))
