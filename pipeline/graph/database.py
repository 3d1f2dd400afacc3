"""The database of step records: a damaged one is started again, and one that cannot be written ends the build with a message."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from pathlib import Path

import doit.cmd_base
import msgspec
from doit.dependency import DatabaseException, Dependency, SqliteDB
from doit.exceptions import InvalidTask


class _Values(msgspec.Struct):
    inputs: dict[str, dict[str, str | None]] = {}
    outputs: dict[str, str | None] = {}
    reasons: list[str] = []
    said: str = ""


class _Record(msgspec.Struct):
    """What is relied on of a step's record; doit keeps more, which it does not look into."""

    values: _Values = msgspec.field(default_factory=_Values, name="_values_:")
    checker: str | None = msgspec.field(default=None, name="checker:")
    dependencies: list[str] | None = msgspec.field(default=None, name="deps:")


_COLUMNS = [("task_id", "TEXT"), ("task_data", "JSON")]


class StepDatabase(SqliteDB):
    """doit's sqlite3 backend, which reports an author's errors as such.

    Attributes:
        known: names of the steps whose records are kept; those of others are dropped, and none is written. Empty: all are kept.
    """

    known: frozenset[str] = frozenset()

    def __init__(self, name, codec, *, module_name=None):
        try:
            super().__init__(name, codec, module_name=module_name)
            if not _has_our_table(self._conn):
                self._conn.close()
                raise DatabaseException("another table")
        except DatabaseException as error:
            if isinstance(error.__context__, sqlite3.OperationalError) and "locked" in str(error.__context__):
                raise _cannot_write(error.__context__) from None  # another process has it, and will let go of it
            # Losing the records costs a full build; keeping damaged ones could cost a wrong one.
            for path in (Path(name + ending) for ending in ("", "-journal", "-wal", "-shm")):
                path.unlink(missing_ok=True)
            try:
                super().__init__(name, codec, module_name=module_name)
            except DatabaseException as error:
                raise _cannot_write(error.__context__ or error) from None

    def _get_task_data(self, task_id):
        try:
            data = super()._get_task_data(task_id)
            msgspec.convert(data, _Record)
        except (sqlite3.DatabaseError, ValueError, RecursionError):
            return {}  # the step runs again
        return data

    def remove(self, task_id):
        try:
            super().remove(task_id)
        except sqlite3.Error as error:
            self._give_up(error)

    def dump(self):
        try:
            # A step that no longer exists leaves no record: it may have been a person's packet.
            if self.known:
                with suppress(sqlite3.DatabaseError):
                    _drop_others(self._conn, self.known)
            super().dump()
        except sqlite3.Error as error:
            self._give_up(error)

    def _give_up(self, error: sqlite3.Error) -> None:
        """Throw a file away that is damaged inside, so that the next build starts a new one; else say that it cannot be written."""
        if type(error) is not sqlite3.DatabaseError:
            raise _cannot_write(error) from None
        Path(self.name).unlink(missing_ok=True)


def _has_our_table(connection: sqlite3.Connection) -> bool:
    """Say whether a database has the table of doit's records, and no page of it is damaged."""
    try:
        sound = [list(row.values()) for row in connection.execute("pragma quick_check(1)")] == [["ok"]]
        columns = [(row["name"], row["type"].upper()) for row in connection.execute("pragma table_info(doit)")]
        kinds = [row["type"] for row in connection.execute("select type from sqlite_master where name = 'doit'")]
    except sqlite3.OperationalError as error:
        raise _cannot_write(error) from None
    except sqlite3.DatabaseError:
        return False
    return sound and columns == _COLUMNS and kinds == ["table"]


def _drop_others(connection: sqlite3.Connection, known: frozenset[str]) -> None:
    connection.execute("pragma secure_delete = on")
    names = [tuple(row.values())[0] if isinstance(row, dict) else row[0] for row in connection.execute("select task_id from doit")]
    connection.executemany("delete from doit where task_id = ?", [(name,) for name in names if name not in known])


def _cannot_write(error: BaseException) -> InvalidTask:
    return InvalidTask(
        f"the records of this build cannot be written: {error}\n"
        "    free some room on the disk, or check permissions of build/.state, and build again"
    )


class StepRecords(Dependency):
    """doit's records, kept in this database.

    Its mark that a step is to be ignored has no effect and is not set: what depends on a step that did not run would be
    called up to date, and handed out.
    """

    def __init__(self, db_class, backend_name, *words, **options):
        super().__init__(StepDatabase if db_class is SqliteDB else db_class, backend_name, *words, **options)

    def save_success(self, task, result_hash=None):
        """Keep the record of a step. A question, which always runs, has none: what it was asked and said can name a person."""
        if not StepDatabase.known or task.name in StepDatabase.known:
            super().save_success(task, result_hash)

    def status_is_ignore(self, task):
        return False

    def ignore(self, task):
        wrong = f"{task.name} cannot be ignored: a build must not depend on a step that did not run"
        raise InvalidTask(f"{wrong}\n    name the steps you want instead, such as: doit rom")


def install(known: frozenset[str]) -> None:
    """Put these records in the place where doit's commands look for its own; by then the backend's class is chosen.

    Args:
        known: see ``StepDatabase``.
    """
    StepDatabase.known = known
    doit.cmd_base.Dependency = StepRecords
