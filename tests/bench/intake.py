"""An export of 100,000 rows: time and memory of reading, keeping and comparing it. Run: ``python -m tests.bench.intake``.

The rows are invented (``tests.intake.invented_reports``). Reading is set against Python's csv alone on the same file.
"""

from __future__ import annotations

import csv
import random
import resource
import tempfile
import time
from pathlib import Path

from pipeline.intake.alike.sentences import encoder
from pipeline.intake.decisions import Decisions
from pipeline.intake.exports import Export, open_export
from pipeline.intake.groups import Compared, group_reports
from pipeline.intake.keep import Taken, export_dates, keep_rows
from pipeline.intake.store import Reports, Testers, load_reports, save_reports
from pipeline.project.intake import BugColumns, BugForm, kept_fields
from tests.intake.invented_reports import labelled_set

ROWS = 100_000
_COLUMNS = BugColumns(what="What happened", where="Where", build="Build", time="Time", tester="Tester", contact="E-mail")


def write_export(path: Path, rows: int) -> None:
    """Write an export of invented rows."""
    chance, pool = random.Random(3), [one for seed in range(60) for half in ("first", "second") for one in labelled_set(half, seed=seed)]
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Time", "Build", "What happened", "Where", "Tester", "E-mail"])
        for rank in range(rows):
            one = chance.choice(pool)
            what = f"{one.what} Seen {chance.choice(('once', 'twice'))}\nafter {chance.randrange(9999)} minutes."
            writer.writerow([f"{rank:06}", "7ZZ9K2", what, one.where, f"tester {rank % 400}", f"t{rank % 400}@example.org"])


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "bugs.csv"
        write_export(path, ROWS)
        form = BugForm(columns=_COLUMNS)
        plain = _timed("csv alone", lambda: _plain(path))
        export = open_export(path, path.name, {"bugs": form})
        reading = _timed("read, streaming", lambda: sum(1 for _ in export.rows()))
        print(f"reading is {reading / plain:.1f} times csv alone")
        reports, testers = Reports("bugs"), Testers()
        _timed("keep", lambda: _keep(export, form, reports, testers))
        _timed("keep again, nothing new", lambda: _keep(export, form, reports, testers))
        assert len(reports.reports) == ROWS
        _timed("write", lambda: save_reports(Path(scratch), reports))
        _timed("read back", lambda: len(load_reports(Path(scratch), "bugs").reports))
        for count in (1000, 10_000, ROWS):
            some = reports.reports[:count]
            _timed(f"compare {count:,}", lambda some=some: _compare(some))


def _keep(export: Export, form: BugForm, reports: Reports, testers: Testers) -> Taken:
    fields = kept_fields(form)
    return keep_rows(export, fields, reports, testers, export_dates(export, fields, ""))


def _plain(path: Path) -> int:
    with open(path, encoding="utf-8", newline="") as file:
        return sum(1 for _ in csv.reader(file))


def _compare(reports: list[dict]) -> int:
    compared = Compared([one["what"] for one in reports], encode=encoder())
    return len(group_reports([one["id"] for one in reports], compared, Decisions()))


def _timed(name: str, work) -> float:
    start = time.perf_counter()
    result = work()
    took = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(f"{name:<26} {took:7.2f} s, peak so far {peak} MiB; {result}", flush=True)
    return took


if __name__ == "__main__":
    main()
