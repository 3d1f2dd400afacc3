"""Strict JSON: what RFC 8259 allows is read, and what RFC 7493 (I-JSON) warns of is refused with its place."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.errors import ProjectError
from pipeline.plain.strict_json import read_strictly

leaves = st.none() | st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False, allow_infinity=False) | st.text()
values = st.recursive(leaves, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4))


def read(text: bytes) -> object:
    return read_strictly(text, "file.json", "correct it")


@given(values, st.booleans())
def test_what_pythons_json_writes_is_read(value, escaped):
    """Any value, with letters as they are or escaped, with a byte order mark or without."""
    data = json.dumps(value, ensure_ascii=escaped).encode("utf-8", "surrogatepass")
    assert read(data) == value
    assert read(b"\xef\xbb\xbf" + data) == value


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b'{"a": 1, "b": 2, "a": 3}', "file.json: not JSON: the key 'a' is twice in one object"),
        (b'[{"a": {"b": 1, "b": 1}}]', "file.json: not JSON: the key 'b' is twice in one object"),
        (b"[9223372036854775808]", "file.json: not JSON: a whole number of 19 digits; the largest is 9223372036854775807"),
        (b"[-9223372036854775809]", "file.json: not JSON: a whole number of 19 digits; the largest is 9223372036854775807"),
        (b"[" + b"1" * 5000 + b"]", "file.json: not JSON: a whole number of 5,000 digits; the largest is 9223372036854775807"),
        (b"[1e999]", "file.json: not JSON: 1e999 is too large for a number"),
        (b"[NaN]", "file.json: not JSON: NaN is not a number"),
        (b'["\\ud800"]', "file.json: not JSON: half of a surrogate pair (\\ud800 to \\udfff) is alone in a text"),
        (b'["\xff"]', "file.json, byte 2: not UTF-8 text"),
        (b"[1,\n 2,]", "file.json, line 2, column 4: not JSON: "),
        (b"[" * 65 + b"]" * 65, "file.json: objects and arrays nested more than 64 deep"),
        (b'{"a":[' * 32 + b"{}" + b"]}" * 32, "file.json: objects and arrays nested more than 64 deep"),
        (b"[" * 200 + b"]" * 200, "file.json: objects and arrays nested more than 64 deep"),
        (b"[" * 100_000, "file.json: objects and arrays nested more than 64 deep"),
    ],
)
def test_odd_json_is_refused_with_its_place(text, said):
    with pytest.raises(ProjectError) as caught:
        read(text)
    problem = str(caught.value.problems[0])
    assert problem.startswith(said)
    assert problem.endswith("\n    correct it")


def test_as_deep_as_allowed_is_read():
    """64 levels, side by side as many as there are; brackets in texts are not levels."""
    deep = b"[" * 64 + b"]" * 64
    assert json.dumps(read(deep)).encode() == deep
    wide = b"[" + b",".join([b'{"a": []}'] * 200) + b"]"
    assert len(read(wide)) == 200
    assert read(json.dumps(["[{" * 200]).encode()) == ["[{" * 200]
