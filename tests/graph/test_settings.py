"""Settings as text: what differs gives other text, what is the same gives the same wherever the project is."""

from __future__ import annotations

import datetime
from pathlib import Path
from types import SimpleNamespace

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.graph.freshness.compare import Freshness
from pipeline.graph.freshness.settings import flatten
from pipeline.graph.steps.step import Step
from pipeline.plain.bits import parse_pattern

HOME = Path("/abc/someone/game")


class Box(msgspec.Struct):
    """A record for the tests."""

    a: object = 1
    b: object = 2


class Crate(msgspec.Struct):
    """Another with the same fields."""

    a: object = 1
    b: object = 2


UNLIKE = [
    (None, "None"),
    (1, "1"),
    (1, 1.0),
    (1, True),
    (b"a", "a"),
    (datetime.date(2026, 1, 2), "2026-01-02"),
    (datetime.date(2026, 1, 2), "datetime.date(2026, 1, 2)"),
    (HOME / "art", "art"),
    (HOME / "art", "./art"),
    (HOME / "art", "path './art'"),
    (HOME, Path(".")),
    (HOME / "art", Path("art")),
    (HOME / "art", Path("/abc/someone/game2/art")),
    (f"is in {HOME}", "is in ."),
    (str(HOME), "."),
    ({}, None),
    ({}, "{}"),
    ({"k": {}}, {}),
    ({"a.b": 1}, {"a": {"b": 1}}),
    ({"'a'": 1}, {"a": 1}),
    ({1: "x"}, {"1": "x"}),
    ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
    ([{"a": 1, "b": 2}], [{"b": 2, "a": 1}]),
    (Box({"a": 1, "b": 2}), Box({"b": 2, "a": 1})),
    ((Box({"a": 1, "b": 2}),), (Box({"b": 2, "a": 1}),)),
    ([[{"a": {"c": 1, "d": 2}}]], [[{"a": {"d": 2, "c": 1}}]]),
    (Box(), {"a": 1, "b": 2}),
    (Box(), Crate()),
    ([Box()], [Crate()]),
    (["a", "b"], ["a, b"]),
    ((1, 2), [1, 2]),
    ((HOME,), (str(HOME),)),
    ([HOME / "a", HOME / "b"], [HOME / "a', path './b"]),
    ("x" * 200, "x" * 201),
    ("sha256 0", b"sha256 0"),
    ({"order of a": "b"}, {"a": "b"}),
    (parse_pattern("IIII"), parse_pattern("IIIx")),
]


@pytest.mark.parametrize(("one", "other"), UNLIKE)
def test_what_differs_gives_other_text(one, other):
    """Type, order, paths and texts, empty and missing, names with dots."""
    assert flatten({"key": one}, HOME) != flatten({"key": other}, HOME)


_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.sampled_from([0.0, 1.0, 0.5]) | st.text("a.'1, ", max_size=3)
    | st.sampled_from([HOME, HOME / "a", Path("a"), Path("/a"), str(HOME), "./a", "{}", "[]", "None", "order of a"]),
    lambda inner: st.lists(inner, max_size=3)
    | st.lists(inner, max_size=3).map(tuple)
    | st.dictionaries(st.text("a.' ", max_size=2) | st.integers(0, 2) | st.just("order of a"), inner, max_size=3)
    | st.builds(Box, inner, inner)
    | st.builds(Crate, inner, inner),
    max_leaves=6,
)  # fmt: skip


def _exactly(value):
    """Return a value that is equal only for the same types, values and orders."""
    if isinstance(value, msgspec.Struct):
        return type(value), _exactly(value.a), _exactly(value.b)
    if isinstance(value, dict):
        return dict, tuple((type(key), key, _exactly(part)) for key, part in value.items())
    if isinstance(value, list | tuple):
        return type(value), tuple(map(_exactly, value))
    return type(value), value


@given(_VALUES, _VALUES)
def test_same_text_only_for_the_same(one, other):
    """Two made-up structures give the same text just when they are the same in types, values and order."""
    same = flatten({"key": one}, HOME) == flatten({"key": other}, HOME)
    assert same == (_exactly(one) == _exactly(other))


def test_moved_project_gives_the_same_text():
    """Paths inside the folder are relative to it."""
    settings = [{"file": folder / "art/a.png", "all": (folder, [folder / "b"])} for folder in (HOME, Path("/elsewhere"))]
    assert flatten(settings[0], HOME) == flatten(settings[1], Path("/elsewhere"))


def test_order_of_arguments_is_nothing():
    """The outermost table is a function's arguments by name."""
    assert flatten({"a": 1, "b": 2}, HOME) == flatten({"b": 2, "a": 1}, HOME)


def test_unknown_types_are_not_handed_to_steps():
    """A set of objects known by where they are in memory would be another at every start."""
    for value in (object(), [object()], {"a": object()}, {None: 1}):
        with pytest.raises(TypeError):
            flatten({"key": value}, HOME)


def _reasons(tmp_path: Path, before: dict, now: dict) -> list[str]:
    task = SimpleNamespace(value_savers=[], values={"read": {}}, result=None)
    Freshness(Step("s", "pipeline.plain.sizes:show_size", before), tmp_path)(task, {})
    saved = task.value_savers[0]()
    check = Freshness(Step("s", "pipeline.plain.sizes:show_size", now), tmp_path)
    assert check(task, saved) == (not check.reasons)
    return check.reasons


def test_reasons_tell_an_order_and_not_what_follows_from_an_entry(tmp_path):
    """A swap is reported as the order; where an entry came or went, that is reported and its order is not."""
    one, two = {"t": {"walk": 1, "run": 2}}, {"t": {"run": 2, "walk": 1}}
    assert _reasons(tmp_path, one, one) == []
    assert _reasons(tmp_path, one, two) == ["setting changed: order of t from walk, run to run, walk"]
    assert _reasons(tmp_path, one, {"t": {"walk": 1, "run": 2, "sit": 3}}) == ["setting added: t.sit"]
    assert _reasons(tmp_path, one, {"t": {"run": 2}}) == ["setting gone: t.walk"]


def test_another_function_of_the_same_module_is_noticed(tmp_path):
    """Which function runs is part of what a step depends on."""
    task = SimpleNamespace(value_savers=[], values={"read": {}}, result=None)
    Freshness(Step("s", "pipeline.plain.sizes:show_size", {}), tmp_path)(task, {})
    check = Freshness(Step("s", "pipeline.plain.sizes:parse_size", {}), tmp_path)
    assert not check(task, task.value_savers[0]())
    assert check.reasons == ["tool changed: function"]
