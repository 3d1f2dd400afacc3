"""The fuzzer by grammar in its short form: 600 documents from a fixed seed, 2,000 in CI, and what it must itself find.

Every case ends in a result or in a refusal in words, within bounds of time and memory, and writes nowhere but in the build
folder (common practice, no source). Results are compared with Pillow, pypng, libsndfile, fontTools and Python's csv, named
beside each comparison in ``tests.bench.fuzzing``. The long form is ``python -m tests.bench.fuzzing``.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError, refuse
from tests.bench.fuzzing.formats import MIB, Format, Wrong
from tests.bench.fuzzing.judge import faults_of, text_faults
from tests.bench.fuzzing.parts import Part, damaged, rendered
from tests.bench.fuzzing.registry import FORMATS
from tests.bench.fuzzing.runner import Tally, document, run_cases, run_document, shrunk
from tests.conftest import LONG, tries
from tests.recorded import differing, hash_of

SEED = 20261120
CASES = tries(120, 2000)
LEAST = 0.15  # of a format's cases that are accepted, and of those that are not


def share(one: Format) -> int:
    """Return how many of the cases a format gets, by its weight: at least 20, of which some are accepted and some are not."""
    return max(20, CASES * one.share // sum(other.share for other in FORMATS.values()))


@pytest.mark.parametrize("name", FORMATS)
def test_every_document_is_read_or_refused_in_words(name):
    """No traceback, hang, lie in a result, or write elsewhere; and the grammar is neither too wild nor too tame to find them."""
    one, tally, said = FORMATS[name], Tally(name), {}
    for result in run_cases(one, range(SEED, SEED + share(one))):
        tally.add(result)
        # Words of Python's own, and what a library packs into a document, are others with another release.
        case = hash_of(sys.version[:4].encode(), rendered(document(one, result.seed)))
        said[f"{result.seed} {case}"] = hash_of(result.outcome.encode(), result.details.encode())
    assert tally.failures == {}, tally.report()
    assert tally.cases == share(one)
    accepted, others = tally.outcomes["accepted"], tally.outcomes["refused"] + tally.outcomes["set aside"]
    # What is said of each document has no outside source.
    assert LONG or differing(f"documents, {name}", said, known_only=True) == set()
    assert min(accepted, others) >= max(1, int(LEAST * tally.cases) - (tally.cases < 40)), tally.report()


def test_seed_gives_the_same_document_again():
    """What is replayed is what failed."""
    for one in FORMATS.values():
        assert rendered(document(one, 7)) == rendered(document(one, 7)), one.name


def numbers(chance: random.Random) -> Part:
    """Return a document of lines, each a number."""
    return damaged(chance, Part([b"%d\n" % chance.randrange(100) for _ in range(20)]), 1)


def format_of(run) -> Format:
    """Return a format of such documents, read by a function of this module."""
    return Format("numbers", numbers, "a.txt", lambda folder: (folder / "build").mkdir(), run, 64 * MIB, seconds=1)


def falls_over(folder: Path, data: bytes) -> str:
    """Fail as a reader does that checks nothing."""
    [int(line) for line in data.splitlines()]
    return "accepted"


def hangs(folder: Path, data: bytes) -> str:
    """Never end, whatever the tool catches."""
    while True:
        try:
            sum(range(1000))
        except Exception:
            continue


def takes_memory(folder: Path, data: bytes) -> str:
    """Hold more than the bound for a moment."""
    bytes(1024 * MIB)  # more than a process may have left over from what it gave back
    return "accepted"


def writes_elsewhere(folder: Path, data: bytes) -> str:
    """Write beside the build folder, by a link inside it."""
    link = folder / "build/link"
    if not link.is_symlink():
        link.symlink_to(folder.parent / "elsewhere.txt")
    link.write_text("x")
    return "accepted"


def removes_elsewhere(folder: Path, data: bytes) -> str:
    """Remove what is the author's."""
    (folder / "a.txt").unlink()
    return "accepted"


def says_little(folder: Path, data: bytes) -> str:
    """Refuse without a remedy, with what a terminal acts on."""
    raise refuse("", "", "bad \x1b[2J \u202e", "")


def dies(folder: Path, data: bytes) -> str:
    """End the process."""
    os._exit(9)


def is_wrong(folder: Path, data: bytes) -> str:
    """Give another result than the reference."""
    raise Wrong("another number of samples")


FOUND = [
    (falls_over, "ValueError in test_fuzzing.py:<listcomp>"),
    (hangs, "over 1 s of processor time"),
    (takes_memory, "more than 64 MiB"),
    (writes_elsewhere, "wrote outside the build folder: open"),
    (removes_elsewhere, "wrote outside the build folder: os.remove a.txt"),
    (says_little, "the message names no file"),
    (dies, "the process ended"),
    (is_wrong, "wrong: another number of samples"),
]


@pytest.mark.parametrize(("run", "kind"), FOUND, ids=[one[0].__name__ for one in FOUND])
def test_mistakes_of_a_reader_are_found(run, kind):
    """What the cases are checked for is found when a reader does it."""
    count = 1 if run is hangs else 30
    kinds = {seen for result in run_cases(format_of(run), range(count)) for seen in result.kinds}
    assert any(seen.startswith(kind) for seen in kinds), kinds


def test_what_a_reader_would_do_elsewhere_does_not_happen(tmp_path):
    """A reader with a mistake may name any file of the machine: each way of removing or changing one is stopped, not only reported."""
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "a.txt").write_text("mine")
    ways = [
        lambda: (kept / "a.txt").unlink(),
        lambda: (kept / "a.txt").write_text("other"),
        lambda: (kept / "a.txt").rename(kept / "b.txt"),
        lambda: os.truncate(kept / "a.txt", 0),
        lambda: shutil.rmtree(kept),
        lambda: (kept / "new").mkdir(),
        lambda: (kept / "link").symlink_to("a.txt"),
        lambda: os.link(kept / "a.txt", kept / "other"),
        lambda: shutil.copyfile(__file__, kept / "a.txt"),
        lambda: subprocess.run(["true"]),
    ]
    for rank, way in enumerate(ways):
        (result,) = run_cases(format_of(lambda folder, data, way=way: str(way())), [0])
        assert result.outcome == "failed", rank
        assert result.kinds[0].startswith("wrote outside the build folder: "), (rank, result)
        assert [path.name for path in kept.iterdir()] == ["a.txt"], rank
        assert (kept / "a.txt").read_text() == "mine", rank


def test_failing_document_is_made_smaller():
    """One bad line of many is what is left of a document that fails."""
    top = Part([b"1\n"] * 30 + [b"two\n"] + [b"3\n"] * 30)
    one = format_of(falls_over)
    (kind,) = run_document(one, top).kinds
    assert len(rendered(shrunk(one, top, kind))) <= 2


@pytest.mark.parametrize(
    ("file", "wrong", "remedy", "fault"),
    [
        ("a.png", "is bad", "save it", None),
        ("", "is bad", "save it", "the message names no file"),
        ("a.png", "is bad", "", "the message has no remedy"),
        ("a.png", "", "save it", "the message does not say what is wrong"),
        # What a refusal quotes is shown and cut by the refusal itself.
        ("a.png", "is \x07\u202e\u2028bad", "save it", None),
        ("a\nb.png", "is bad", "save it", None),
        ("a.png", "is bad" * 10_000, "save it", None),
    ],
)
def test_refusals_are_judged(file, wrong, remedy, fault):
    """A refusal that an author can read passes; each sort of one that they cannot is reported."""
    error = refuse(file, "", wrong, remedy)
    assert isinstance(error, ProjectError)
    assert faults_of(error) == ([fault] if fault else [])


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("plain\n    text", None),
        ("a bell \x07", "the message has control characters"),
        ("turned \u202e round", "the message has characters that turn the direction of writing"),
        ("an end \u2028 of a line", "the message has Unicode line ends"),
        ("half \ud800 a character", "the message has half a character (a surrogate)"),
    ],
)
def test_raw_texts_are_judged(text, fault):
    """What a terminal would act on is found, wherever a text comes from."""
    assert text_faults(text) == ([fault] if fault else [])
