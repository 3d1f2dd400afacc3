"""``map.json``: what is written is read, and what is not such a file is refused in words. Common practice, no source."""

from __future__ import annotations

import json

import pytest
from msgspec import to_builtins

from pipeline.joints.map import read_map, write_map
from pipeline.plain.errors import ProjectError
from tests.makers import as_map, map_entry, map_json


def test_what_is_written_is_read(tmp_path):
    """The file is plain JSON with its version first, and the record comes back from it."""
    path, image = tmp_path / "map.json", as_map(map_json()).image
    write_map(path, image, [map_entry("ada", offset=64), map_entry("ben", offset=96)])
    assert list(json.loads(path.read_bytes())) == ["version", "image", "entries"]
    found = read_map(path)
    assert found.image == image
    assert [(name, one.offset) for name, one in found.by_name().items()] == [("ada", 64), ("ben", 96)]


def _without(key: str) -> dict:
    return {name: value for name, value in map_json()["image"].items() if name != key}


ENTRY = to_builtins(map_entry("ada"))


@pytest.mark.parametrize(
    ("damaged", "place"),
    [
        (map_json() | {"version": 2}, ", version: is 2, this version of the tool reads 1"),
        (map_json() | {"version": 2, "more": 1}, ", version: is 2, this version of the tool reads 1"),
        ({"image": map_json()["image"], "entries": []}, ": is damaged: Object missing required field version"),
        (map_json() | {"image": _without("used")}, ", image: is damaged: Object missing required field used"),
        (map_json(sha256="0"), ", image.sha256: is damaged"),
        (map_json(crc32="0BADCAFE"), ", image.crc32: is damaged"),
        (map_json(bytes=0), ", image.bytes: is damaged"),
        (map_json() | {"entries": [ENTRY | {"alignment": 0}]}, ", entries[0].alignment: is damaged"),
        (map_json() | {"entries": [ENTRY, ENTRY | {"offset": -1}]}, ", entries[1].offset: is damaged"),
        (map_json() | {"entries": [ENTRY | {"colour": 1}]}, ", entries[0]: is damaged"),
        ([], ": is damaged"),
    ],
)
def test_damaged_map_is_refused(tmp_path, damaged, place):
    """Another version, a missing or unknown key, and a number that no image has, each with its place and what to do."""
    path = tmp_path / "build/map.json"
    path.parent.mkdir()
    path.write_text(json.dumps(damaged))
    with pytest.raises(ProjectError) as refusal:
        read_map(path)
    assert str(refusal.value).startswith(f"build/map.json{place}")
    assert "build again" in str(refusal.value)


@pytest.mark.parametrize("data", [b"", b"{", b"\xff", b"[" * 100_000])
def test_what_is_not_json_is_refused(tmp_path, data):
    """So is a file that was cut off, and one that is not there."""
    path = tmp_path / "map.json"
    path.write_bytes(data)
    with pytest.raises(ProjectError, match="is damaged"):
        read_map(path)
    path.unlink()
    with pytest.raises(ProjectError, match="cannot be read"):
        read_map(path)
