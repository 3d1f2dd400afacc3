"""Exports of 10,000 and 100,000 rows: time for each row and peak memory of all that ``doit intake`` does.

    python -m tests.bench.intake                 reading, keeping, writing; whole intakes of feedback and of bugs, without comparing
    python -m tests.bench.intake compare [ROWS]  the whole intake of bugs, which compares them; 100,000 rows take many minutes

The rows are invented (``tests.intake.invented_reports``). Each figure is that of a process of its own, in processor time; what the
interpreter and its libraries need before the first row is measured with an export of 10 rows, and left out of the time of a row.
"""

from __future__ import annotations

import csv
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pipeline.intake import take_in
from pipeline.intake.exports import open_export
from pipeline.project.intake import BugColumns, BugForm, FeedbackColumns, FeedbackForm, Intake
from tests.intake.invented_reports import labelled_set
from tests.intake.makers import CODES, GAME, ISSUES, kept_files, project

ROWS = (10_000, 100_000)
_TRIES = 3  # of short measurements; the quickest counts
_COLUMNS = BugColumns(what="What happened", where="Where", build="Build", time="Time", tester="Tester", contact="E-mail")
INTAKE = Intake(
    bugs=BugForm(columns=_COLUMNS, dates="day first"),
    feedback=FeedbackForm(
        questions={"fun": "Fun?", "pace": "Pace?", "wish": "Wish?"},
        columns=FeedbackColumns(time="Time", build="Build", tester="Tester"),
        dates="day first",
    ),
)


def write_export(path: Path, rows: int) -> None:
    """Write an export of invented rows."""
    chance, pool = random.Random(3), [one for seed in range(60) for half in ("first", "second") for one in labelled_set(half, seed=seed)]
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Time", "Build", "What happened", "Where", "Tester", "E-mail"])
        for rank in range(rows):
            one = chance.choice(pool)
            what = f"{one.what} Seen {chance.choice(('once', 'twice'))}\nafter {chance.randrange(9999)} minutes."
            writer.writerow([_time(rank), "7ZZ9K2", what, one.where, f"tester {rank % 400}", f"t{rank % 400}@example.org"])


def write_feedback(path: Path, rows: int) -> None:
    """Write an export of invented answers, each wish another."""
    chance, pool = random.Random(4), [one.what for one in labelled_set("first", seed=1)]
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Time", "Build", "Fun?", "Pace?", "Wish?", "Tester"])
        for rank in range(rows):
            fun, pace = chance.choice(("1", "2", "3", "4", "5", "4/5", "no idea")), chance.choice(("too slow", "right", "too fast"))
            wish = f"{chance.choice(pool)} {chance.randrange(9999)}"
            writer.writerow([_time(rank), chance.choice(CODES), fun, pace, wish, f"tester {rank % 400}"])


def _time(rank: int) -> str:
    return f"{1 + rank // 1440 % 28:02}/{1 + rank // 40320 % 12:02}/2026 {rank // 60 % 24:02}:{rank % 60:02}"


def main(words: list[str]) -> None:
    """Measure and print."""
    if words[:1] == ["--one"]:
        return _one(words[1], Path(words[2]))
    sizes = (1000, 10_000, *map(int, words[1:])) if words[:1] == ["compare"] else ROWS
    with tempfile.TemporaryDirectory() as scratch:
        for kind in ("compare",) if words[:1] == ["compare"] else ("csv alone", "read", "feedback", "feedback again", "bugs", "bugs again"):
            figures = {rows: _measured(kind, rows, Path(scratch)) for rows in (10, *sizes)}
            each = {rows: (figures[rows][0] - figures[10][0]) / rows * 1e6 for rows in sizes}
            shown = "; ".join(f"{rows:,} rows {figures[rows][0]:.1f} s, {each[rows]:.1f} µs each, {figures[rows][1]} MiB" for rows in sizes)
            print(f"{kind:<15} {shown}; each row {each[sizes[-1]] / each[sizes[0]]:.2f} times", flush=True)
    return None


def _measured(kind: str, rows: int, scratch: Path) -> tuple[float, int]:
    """Return the seconds and MiB of a process."""
    folder = scratch / f"{kind}-{rows}"
    folder.mkdir()
    project(folder)
    (write_feedback if kind.startswith("feedback") else write_export)(folder / "export.csv", rows)
    if kind.endswith("again"):
        subprocess.run([sys.executable, "-m", "tests.bench.intake", "--one", kind, str(folder)], check=True, capture_output=True)
    command = [sys.executable, "-m", "tests.bench.intake", "--one", kind, str(folder)]
    found = []
    for _ in range(_TRIES if rows < ROWS[-1] and kind != "compare" else 1):
        found.append(subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()[-2:])
        for path in (folder / "reports").glob("*") if not kind.endswith("again") else ():
            path.unlink()
    return min(float(seconds) for seconds, _ in found), max(int(peak) for _, peak in found)


def _one(kind: str, folder: Path) -> None:
    """Do one thing, and print processor time and peak memory (VmHWM, proc(5))."""
    export, start = folder / "export.csv", time.process_time()
    if kind == "csv alone":
        with open(export, encoding="utf-8", newline="") as file:
            sum(1 for _ in csv.reader(file))
    elif kind == "read":
        sum(1 for _ in open_export(export, "export.csv", {"bugs": INTAKE.bugs}).rows())
    elif kind.startswith("bugs"):
        take_in._read(folder / "reports", {"bugs": INTAKE.bugs}, export, "bugs")
    else:
        take_in.take_in(*kept_files(folder), INTAKE, ISSUES, GAME, {}, export, "")
    peak = Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]
    print(time.process_time() - start, int(peak) // 1024)


if __name__ == "__main__":
    main(sys.argv[1:])
