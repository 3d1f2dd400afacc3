"""The database of step records: one that is damaged is begun anew, and one that cannot be written ends the build in words."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import doit.cmd_base
from doit.dependency import DatabaseException, Dependency, SqliteDB
from doit.exceptions import InvalidTask


class StepDatabase(SqliteDB):
    """doit's sqlite3 backend with an author's errors told as such.

    Attributes:
        known: names of the plan's steps and groups; records of others are dropped. Empty: none are.
    """

    known: frozenset[str] = frozenset()

    def __init__(self, name, codec, *, module_name=None):
        try:
            super().__init__(name, codec, module_name=module_name)
            _check_layout(self._conn)
        except DatabaseException:
            # Losing the records costs a full build; keeping damaged ones could cost a wrong one.
            for path in (Path(name), Path(f"{name}-journal")):
                path.unlink(missing_ok=True)
            try:
                super().__init__(name, codec, module_name=module_name)
            except DatabaseException as error:
                raise _cannot_write(error.__context__ or error) from None

    def _get_task_data(self, task_id):
        try:
            data = super()._get_task_data(task_id)
        except (sqlite3.DatabaseError, ValueError, RecursionError):
            return {}
        return data if _is_record(data) else {}

    def remove(self, task_id):
        try:
            super().remove(task_id)
        except sqlite3.Error as error:
            self._give_up(error)

    def dump(self):
        try:
            # A step that is no more leaves no record: it may have been a person's packet.
            if self.known:
                with suppress(sqlite3.DatabaseError):
                    _drop_others(self._conn, self.known)
            super().dump()
        except sqlite3.Error as error:
            self._give_up(error)

    def _give_up(self, error: sqlite3.Error) -> None:
        """Throw a file away that is damaged inside, so that the next build begins it anew; else say that it cannot be written."""
        if type(error) is not sqlite3.DatabaseError:
            raise _cannot_write(error) from None
        Path(self.name).unlink(missing_ok=True)


def drop_records(path: Path, known: frozenset[str]) -> None:
    """Drop the records of steps that are no more, while no build runs; damaged ones are left to the next build."""
    if path.is_file():
        with closing(sqlite3.connect(path)) as connection, suppress(sqlite3.DatabaseError):
            _drop_others(connection, known)
            connection.commit()


def _drop_others(connection: sqlite3.Connection, known: frozenset[str]) -> None:
    connection.execute("pragma secure_delete = on")
    names = [tuple(row.values())[0] if isinstance(row, dict) else row[0] for row in connection.execute("select task_id from doit")]
    connection.executemany("delete from doit where task_id = ?", [(name,) for name in names if name not in known])


def _check_layout(connection: sqlite3.Connection) -> None:
    """Raise doit's DatabaseException when what is called as doit's table is another, which no record could be written into."""
    try:
        columns = [tuple(row.values())[1] for row in connection.execute("pragma table_info(doit)")]
        kinds = [tuple(row.values())[0] for row in connection.execute("select type from sqlite_master where name = 'doit'")]
    except sqlite3.DatabaseError as error:
        raise DatabaseException(str(error)) from error
    if columns != ["task_id", "task_data"] or kinds != ["table"]:
        connection.close()
        raise DatabaseException("the table of records is laid out otherwise")


def _is_record(data: Any) -> bool:
    """Say whether a step's record is laid out as ``freshness`` and doit write it; any other counts as none."""
    try:
        values, needed = data.get("_values_:", {}), data.get("deps:", [])
        inputs, outputs = values.get("inputs", {}), values.get("outputs", {})
        names = [name for table in (*inputs.values(), outputs) for name, _ in table.items()]
    except AttributeError:
        return False
    return isinstance(needed, list) and all(isinstance(one, str) for one in needed) and not any(_is_odd(name) for name in names)


def _is_odd(name: str) -> bool:
    """Say whether a text cannot be the name of a file: it has a zero byte or half a character, or is longer than systems take."""
    return "\0" in name or len(name) > 4096 or any("\ud800" <= char <= "\udfff" for char in name)


def _cannot_write(error: BaseException) -> InvalidTask:
    return InvalidTask(
        f"the records of this build cannot be written: {error}\n"
        "    free some room on the disk, or check permissions of build/.state, and build again"
    )


class StepRecords(Dependency):
    """doit's records, kept in this database."""

    def __init__(self, db_class, backend_name, *words, **options):
        super().__init__(StepDatabase if db_class is SqliteDB else db_class, backend_name, *words, **options)


def install(known: frozenset[str]) -> None:
    """Put these records in the place where doit's commands look for its own; by then the backend's class is chosen.

    Args:
        known: see ``StepDatabase``.
    """
    StepDatabase.known = known
    doit.cmd_base.Dependency = StepRecords
