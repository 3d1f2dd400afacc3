"""The database of step records, damaged in ways that its own reader accepts: what is not a record counts as none.

Common practice, no source: records are a cache, so losing them costs a build and believing wrong ones could cost a wrong one.
"""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from doit.dependency import JSONCodec

from pipeline.graph.database import StepDatabase
from pipeline.graph.freshness.digest import file_digest

GOOD = {"_values_:": {"inputs": {"settings": {"a": "1"}, "reads": {}}, "outputs": {"build/map.json": "0"}}, "deps:": ["a.png"]}


def write(path, table: str, *rows: tuple) -> None:
    """Write a database of one table and some rows."""
    with sqlite3.connect(path) as connection:
        connection.execute(table)
        for row in rows:
            connection.execute(f"insert into doit values ({', '.join('?' * len(row))})", row)
    connection.close()


OURS = "create table doit (task_id text not null primary key, task_data json)"
DEEP = "[" * 100_000
BAD = [
    "[]", "1", '"x"', "null", DEEP, '{"deps:": 1}', '{"deps:": [1]}', '{"_values_:": []}', '{"_values_:": {"inputs": []}}',
    '{"_values_:": {"inputs": {"reads": 1}}}', '{"_values_:": {"inputs": null}}', '{"_values_:": {"outputs": ["a"]}}',
]  # fmt: skip


def test_name_that_no_file_can_have_is_a_missing_output():
    """A zero byte, or half a character: the step runs again."""
    assert [file_digest(Path(name)) for name in ("a\0b", "\ud800")] == [None, None]


@pytest.mark.parametrize("data", BAD, ids=[one[:40] for one in BAD])
def test_record_of_another_shape_counts_as_none(tmp_path, data):
    """Whatever is where a record should be, the step is one that was never built; others keep their records."""
    path = tmp_path / "steps.sqlite3"
    write(path, OURS, ("bad", data), ("good", json.dumps(GOOD)))
    database = StepDatabase(str(path), JSONCodec())
    assert database.get("bad", "_values_:") is None
    assert database.get("bad", "deps:") is None
    assert database.get("good", "_values_:") == GOOD["_values_:"]


@pytest.mark.parametrize(
    "table",
    [
        "create table doit (task_id text)",
        "create table doit (task_id text, task_data json, more int)",
        "create view doit as select 1 as task_id, 2 as task_data",
    ],
)
def test_table_laid_out_otherwise_is_begun_again(tmp_path, table):
    """A database that no record could be written into does not stop this build or any later one."""
    path = tmp_path / "steps.sqlite3"
    write(path, table)
    database = StepDatabase(str(path), JSONCodec())
    database.set("rom", "_values_:", GOOD["_values_:"])
    database.dump()
    assert StepDatabase(str(path), JSONCodec()).get("rom", "_values_:") == GOOD["_values_:"]


@pytest.mark.parametrize("head", [bytes(8), b"\xff" * 8, b"\x0d\x00\x00\x7f\xff\x0f\xff\x00"], ids=["zeros", "ones", "many cells"])
def test_file_damaged_inside_is_begun_again_by_the_same_build(head, tmp_path):
    """The head of any page overwritten (SQLite file format, 1.6): the records of this build are kept, not only those of the next."""
    path = tmp_path / "steps.sqlite3"
    write(path, OURS, *((f"step{rank:04}", json.dumps(GOOD)) for rank in range(200)))
    whole = path.read_bytes()
    pages = len(whole) // 4096
    assert pages > 5
    for page in range(pages):
        at = 4096 * page + (100 if page == 0 and head[0] else 0)  # the file's own head comes before the first page's
        path.write_bytes(whole[:at] + head + whole[at + 8 :])
        database = StepDatabase(str(path), JSONCodec())
        database.set("rom", "_values_:", GOOD["_values_:"])
        database.dump()
        assert StepDatabase(str(path), JSONCodec()).get("rom", "_values_:") == GOOD["_values_:"], page
