"""The reference pages are those of the code, and JSON Schema accepts and refuses what the reader does.

The schema is judged by jsonschema, an independent implementation of JSON Schema 2020-12.
"""

from __future__ import annotations

import datetime
import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from pipeline.project.file import IssueFile, Project
from pipeline.project.testers import TesterList
from pipeline.reference.pages import GUIDE, pages
from pipeline.reference.schema import write_schemas
from pipeline.target.loading import SHIPPED
from pipeline.target.records import Target
from tests.makers import TARGETS, changed, project_text, record_problems, toml_text

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def schemas(tmp_path_factory):
    """Validators of both written schemas, by the file's name."""
    folder = tmp_path_factory.mktemp("schema")
    outs = {name: folder / f"{name}.schema.json" for name in ("project", "target", "issues", "testers")}
    assert write_schemas(outs) == "project.schema.json, target.schema.json, issues.schema.json, testers.schema.json"
    written = {name: json.loads(out.read_bytes()) for name, out in outs.items()}
    for schema in written.values():
        jsonschema.Draft202012Validator.check_schema(schema)
    return {name: jsonschema.Draft202012Validator(schema) for name, schema in written.items()}


def as_json(text: str):
    """Return a TOML text as the JSON an editor checks; dates become text (RFC 3339), as JSON has none."""
    return json.loads(json.dumps(tomllib.loads(text), default=datetime.date.isoformat))


@pytest.mark.parametrize("name", pages())
def test_page_in_the_guide_is_the_one_the_code_makes(name):
    """A changed record needs a new page: python -m pipeline.reference.pages."""
    assert (GUIDE / name).read_text(encoding="utf-8") == pages()[name]


@pytest.mark.parametrize("name", TARGETS)
def test_schema_accepts_shipped_target(schemas, name):
    """An editor marks nothing in a shipped target."""
    text = (SHIPPED / f"{name}.toml").read_text(encoding="utf-8")
    assert [error.message for error in schemas["target"].iter_errors(as_json(text))] == []


def test_schema_accepts_the_demo_and_the_tests_project(schemas):
    """An editor marks nothing in the demo's project file, nor in a small one."""
    for text in ((ROOT / "demo_project/project.toml").read_text(encoding="utf-8"), project_text()):
        assert [error.message for error in schemas["project"].iter_errors(as_json(text))] == []


GOOD = tomllib.loads(project_text())
# path, value: each is refused by the reader and marked by an editor.
WRONG = [
    (("gmae",), {}),
    (("game", "titel"), "T"),
    (("sprite", "ada", "scal"), 1),
    (("sprite", "ada", "animations", "walk", "lop"), True),
    (("defaults",), {"sprite": {"scal": 1}}),
    (("defaults",), {"sprit": {}}),
    (("game", "code"), "lower"),
    (("game", "phase"), "gamma"),
    (("game", "version"), "1"),
    (("game", "title"), ""),
    (("game", "title"), "x" * 61),
    (("palette", "figures", "colours"), 1),
    (("palette", "figures", "transparent"), "yes"),
    (("sprite", "ada", "alpha"), 256),
    (("sprite", "ada", "scale"), 0),
    (("sprite", "ada", "scale"), [1]),
    (("sprite", "ada", "scale"), [1, 1, 1]),
    (("sprite", "ada", "scale"), [1, 9]),
    (("sprite", "ada", "height"), 0),
    (("background", "quay", "resample"), "dominent"),
    (("issue", 0, "severity"), "mini"),
    (("issue", 0, "id"), None),
    (("links",), None),
    (("format",), 2),
]


@pytest.mark.parametrize(("path", "value"), WRONG, ids=[f"{'.'.join(map(str, path))} {value}"[:40] for path, value in WRONG])
def test_schema_and_reader_refuse_alike(schemas, tmp_path, path, value):
    """What the reader refuses in a record, an editor marks."""
    data = changed(GOOD, (path, value))
    assert not schemas["project"].is_valid(data)
    if path[0] != "defaults" or "sprit" in value:  # a kind's defaults are checked where they are applied, not in the record
        assert len(record_problems(tmp_path, toml_text(data), Project)) == 1


WRONG_TARGET = [(("memory", "sise"), 1), (("byte_order",), "middle"), (("header", "fields", 0, "lenght"), 1), (("cells", "width"), 0)]


@pytest.mark.parametrize(("path", "value"), WRONG_TARGET, ids=[".".join(map(str, path)) for path, _ in WRONG_TARGET])
def test_schema_and_reader_refuse_targets_alike(schemas, tmp_path, path, value):
    """The same for a target file."""
    data = changed(tomllib.loads((SHIPPED / "pebble8.toml").read_text(encoding="utf-8")), (path, value))
    assert not schemas["target"].is_valid(data)
    assert len(record_problems(tmp_path, toml_text(data), Target)) == 1


ISSUE = {"issue": [{"id": "A-1", "severity": "minor", "where": "w", "what": "x", "status": "fixed", "fixed_in": "0.2.0"}]}
WRONG_ISSUE = [
    (("issue", 0, "severity"), "mini"),
    (("issue", 0, "status"), "closed"),
    (("issue", 0, "id"), None),
    (("issue", 0, "fixed_in"), "soon"),
    (("issue", 0, "reproduce"), "Jump."),
    (("issues",), []),
]


def test_schema_accepts_the_guides_issue(schemas):
    """The issue that the guide shows, as a reader would paste it."""
    text = (GUIDE / "release.md").read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]
    assert text.startswith("[[issue]]")
    assert [error.message for error in schemas["issues"].iter_errors(as_json(text))] == []
    assert schemas["issues"].is_valid(ISSUE)


@pytest.mark.parametrize(("path", "value"), WRONG_ISSUE, ids=[".".join(map(str, path)) for path, _ in WRONG_ISSUE])
def test_schema_and_reader_refuse_issues_alike(schemas, tmp_path, path, value):
    """The same for a file of known issues."""
    data = changed(ISSUE, (path, value))
    assert not schemas["issues"].is_valid(data)
    assert len(record_problems(tmp_path, toml_text(data), IssueFile)) == 1


def test_schema_of_testers_and_reader_agree_on_the_guides_list(schemas, tmp_path):
    """The list that the guide shows is accepted by both; a number out of range and an unknown key by neither."""
    text = (GUIDE / "test-plan.md").read_text(encoding="utf-8").split("[[tester]]", 1)[1].split("```")[0]
    good = tomllib.loads("[[tester]]" + text)
    assert schemas["testers"].is_valid(good)
    assert record_problems(tmp_path, toml_text(good), TesterList) == []
    for path, value in ((("tester", 0, "number"), 1000), (("tester", 0, "adress"), "x")):
        data = changed(good, (path, value))
        assert not schemas["testers"].is_valid(data)
        assert len(record_problems(tmp_path, toml_text(data), TesterList)) == 1


def test_schema_lets_defaults_leave_required_keys_out(schemas):
    """Defaults of a sound need no file, though a sound does."""
    assert schemas["project"].is_valid(changed(GOOD, (("defaults",), {"sound": {"rate": 8000}})))
    assert not schemas["project"].is_valid(changed(GOOD, (("sound", "bell", "file"), None)))
