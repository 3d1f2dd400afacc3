"""``intake`` and ``erase`` as an author runs them."""

from __future__ import annotations

from tests.graph.builds import make_project, run

_FORMS = """
[intake.bugs]
columns = { build = "Build code", what = "What happened", severity = "How bad", tester = "Name", contact = "E-mail" }
severities = { "It stops" = "critical" }
names = { "hill" = ["the green mound"] }
"""


def test_export_read_looked_at_again_and_a_person_forgotten(tmp_path):
    """An export in UTF-16 with tabs becomes a page; without csv= the page is made again; a wrong word is reported."""
    project = make_project(tmp_path / "small")
    (project / "project.toml").write_text((project / "project.toml").read_text() + _FORMS)
    rows = ["Build code\tWhat happened\tHow bad\tName\tE-mail", "7zz9k2\tHangs at the green mound\tIt stops\tAnna\ta@example.org",
            "\tIt hangs at the hill\tIt stops\tKofi\tk@example.org"]  # fmt: skip
    (tmp_path / "bugs.txt").write_text("\n".join(rows), encoding="utf-16")
    done = run(project, "intake", f"csv={tmp_path / 'bugs.txt'}")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "bugs.txt: 2 rows of the bugs form, 2 new; not kept: contact" in done.stdout
    assert "2 bug reports in 1 group;" in done.stdout
    page = (project / "build/triage.html").read_bytes()
    assert run(project, "intake").stdout.startswith("2 bug reports")
    assert (project / "build/triage.html").read_bytes() == page
    assert "T1" in run(project, "erase", "tester=Anna").stdout
    assert b"green mound" not in (project / "build/triage.html").read_bytes()
    for words in (("erase", "tester=Anna"), ("run", "erase")):
        failed = run(project, *words)
        assert failed.returncode == 1
        assert ("nothing of 'Anna' is in reports" if len(words[1]) > 6 else "nobody is named") in failed.stdout
    assert "unknown word cvs=; did you mean csv=?" in run(project, "intake", "cvs=x").stderr


def test_forms_are_checked_with_the_project(tmp_path):
    """Fields that are not there, one column for two fields, and answers to no question are reported with their lines."""
    project = make_project(tmp_path / "small")
    text = (project / "project.toml").read_text()
    bad = '[intake.bugs]\ncolumns = { what = "What", where = "what " }\nkeep = ["what", "wher"]\n[intake.feedback]\n'
    bad += 'questions = { fun = "Fun?", time = "Time?" }\nanswers = { fan = ["a"] }\n'
    (project / "project.toml").write_text(text + bad)
    errors = run(project, "intake").stderr
    for part in (
        "[intake.bugs] keep[1]: 'wher' is not a field of this form\n    did you mean where?",
        "what and where name the same column, 'what '",
        "time is the name of a column",
        "there is no question 'fan'",
    ):
        assert part in errors
