"""Random histories of a project equal clean builds; the long form is ``python -m tests.bench.histories``."""

from __future__ import annotations

import tomllib

import pytest

from tests.bench.history.machine import Figures, all_switches, fewer, play, replay, target_of
from tests.bench.history.moves import sources_of
from tests.bench.history.opening import TARGETS, opening, shipped_target, shipped_wording
from tests.bench.history.toml_text import DATE, write_toml
from tests.bench.history.values import PLACES, covered, keys_of
from tests.bench.history.warm import Runner
from tests.bench.history.world import World
from tests.conftest import only_long

_SEEDS = ("short-0", "short-1", "short-2")  # of the targets in turn


@pytest.fixture(scope="module")
def runner():
    with Runner() as made:
        yield made


@pytest.mark.parametrize("number", range(len(_SEEDS)))
def test_history_equals_clean_builds(number, runner, tmp_path):
    """Outputs, statuses, refusals and answers are those of a clean build of the same files, after every few moves."""
    only_long()
    figures = Figures()
    play(_SEEDS[number], target_of(number), 4, tmp_path / "history", runner, all_switches(), figures)
    assert figures.compared >= 2


def test_every_key_is_varied():
    """A key that is new in a record is given values, or named among those that moves of their own edit."""
    every = [(file, place, record) for file, places in PLACES.items() for place, record in places.items()]
    assert [f"{file} [{place}] {key}" for file, place, record in every for key in keys_of(record) if not covered(record, key)] == []


@pytest.mark.parametrize("style", range(12))
def test_written_documents_mean_what_they_hold(style):
    """Every style of writing reads back as the same data (read by tomllib, the standard library's TOML reader)."""

    def plain(value):
        if isinstance(value, dict):
            return {key: plain(one) for key, one in value.items()}
        if isinstance(value, list):
            return [plain(one) for one in value]
        return str(value).removeprefix(DATE) if hasattr(value, "isoformat") or isinstance(value, str) else value

    documents = [shipped_wording("de"), *(shipped_target(name) for name in TARGETS), *opening(TARGETS[style % 3])[0].values()]
    for document in documents:
        assert plain(tomllib.loads(write_toml(document, style))) == plain(document)


def test_mistake_in_the_tool_is_found(runner, tmp_path):
    """Where outputs are not looked at, one that somebody changed stays changed, which verification refuses, and the history says so."""
    only_long()
    documents, files = opening("pebble8")
    del documents["project.toml"]["screen"], documents["reports/testers.toml"]
    build = ["compare", ["rom"], [], False]
    log = [build, ["harm", "blobs/level.bin", "rubbish"], build]
    game = ("pebble8", documents, files)
    assert replay(game, log, tmp_path / "right", runner, all_switches()) is None
    with Runner("outputs are not looked at") as one:
        found = replay(game, log, tmp_path / "wrong", one, all_switches())
    assert str(found).startswith("status: doit rom ended with 2, clean with 0")


def test_only_what_matters_is_left():
    """Of a list of 40 the three elements remain that are needed together, in their order."""
    tried = []

    def holds(log):
        tried.append(log)
        return [one for one in log if one in ([3], [17], [38])] == [[3], [17], [38]]

    assert fewer([[rank] for rank in range(40)], holds) == [[3], [17], [38]]
    assert len(tried) < 200


def test_orders_and_reverts_do_what_they_say(tmp_path):
    """A shuffled table keeps its content in another order; going back restores bytes, and times where asked."""
    documents, files = opening("pebble8")
    world = World(tmp_path / "world", "pebble8", documents, files)
    world.apply(["keep", "first"])
    before = world.sources()
    world.apply(["order", "project.toml", ["sprite"], 2])
    assert world.documents["project.toml"]["sprite"] == documents["project.toml"]["sprite"]
    assert list(world.documents["project.toml"]["sprite"]) != list(documents["project.toml"]["sprite"])
    for name in sources_of(world):
        world.apply(["flip", name, 50])
    assert world.sources() != before
    world.apply(["back", "first", "old"])
    assert world.sources() == before
