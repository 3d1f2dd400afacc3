"""Files that take their places together: each single call of the system fails in turn, and all is as it was before."""

from __future__ import annotations

import builtins
import os
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.release import record, together
from pipeline.release.kit import write_kit
from pipeline.release.together import Together
from tests.project.test_ledger import kept
from tests.release.test_kit import OwnFiles, make_parts


def state(folder: Path) -> dict[str, bytes | None]:
    """Return every file and folder below a folder, with its bytes."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))}


class Failing:
    """Lets the ``turn``-th of all calls that write fail as a full disk does; ``at`` counts them."""

    def __init__(self, patch: pytest.MonkeyPatch, turn: int) -> None:
        self.turn, self.at = turn, 0
        real_open = builtins.open

        def opened(path, mode="r", *given, **named):
            if "x" not in mode:
                return real_open(path, mode, *given, **named)
            self.count(path)
            file = real_open(path, mode, *given, **named)
            write = file.write

            class Written:
                def __enter__(self):
                    return self

                def __exit__(self, *_):
                    file.close()

                def write(me, data):  # noqa: N805
                    write(data[: len(data) // 2])  # half of it is there when the disk is full
                    self.count(path)
                    return write(data[len(data) // 2 :])

            return Written()

        patch.setattr(together, "open", opened, raising=False)
        for name in ("replace", "link"):
            patch.setattr(together.os, name, self.wrapped(getattr(os, name)))
        patch.setattr(Path, "mkdir", self.wrapped(Path.mkdir))
        patch.setattr(together.shutil, "copy2", self.wrapped(together.shutil.copy2))

    def count(self, path) -> None:
        self.at += 1
        if self.at == self.turn:
            raise OSError(28, "No space left on device", str(path))

    def wrapped(self, real):
        def call(*given, **named):
            self.count(given[0])
            return real(*given, **named)

        return call


def fail_in_turn(folder: Path, action, most: int = 200) -> int:
    """Run something once for every call of it that can fail, which then fails; return how many there are."""
    before = state(folder)
    for turn in range(1, most):
        with pytest.MonkeyPatch.context() as patch:
            failing = Failing(patch, turn)
            refused = outcome(action)
        if failing.at < turn:
            return turn - 1
        # A link that cannot be made is not needed: a copy replaces it.
        if refused:
            assert "No space left on device" in refused
            assert state(folder) == before, turn
        restore(folder, before)
    raise AssertionError("it never ended well")


def outcome(action) -> str:
    """Return what an action is refused with; empty where it ends well."""
    try:
        action()
    except ProjectError as error:
        return str(error)
    return ""


def restore(folder: Path, before: dict[str, bytes | None]) -> None:
    """Put a folder back to an earlier state."""
    for name in [name for name in reversed(state(folder)) if name not in before]:
        path = folder / name
        path.unlink() if path.is_file() else path.rmdir()
    for name, data in before.items():
        if data is None:
            (folder / name).mkdir(exist_ok=True)
        else:
            (folder / name).write_bytes(data)


@pytest.mark.parametrize("known", [False, True])
def test_a_release_writes_everything_or_nothing(tmp_path, known):
    """The first, which makes the folder of pictures, and one after it; each write, rename and folder in turn."""
    if known:
        record.add_release(tmp_path, kept("0.1.0"), [b"old picture"])
    pictures = [b"old picture", b"new picture", b"another"]
    entry = kept("0.2.0")
    count = fail_in_turn(tmp_path, lambda: record.add_release(tmp_path, entry, pictures))
    assert count >= (9 if known else 12), count
    assert {path.read_bytes() for path in (tmp_path / "ledger").iterdir()} == {*pictures}


def test_kits_are_all_new_or_all_old(tmp_path):
    """Two testers' and everybody's with their manifest; an old kit of the same name is there again."""
    arguments = make_parts(tmp_path)
    (tmp_path / "one.pdf").write_bytes(b"%PDF")
    own = {name: OwnFiles(tmp_path / "one.pdf") for name in ("T03", "T04")}
    write_kit(**arguments, own={"T03": own["T03"]})
    (tmp_path / "kit/KEST-0.2.0-AAAAAA.zip").write_bytes(b"of the build before")
    arguments["notes"].write_text("Other notes\n")
    count = fail_in_turn(tmp_path, lambda: write_kit(**arguments, own=own))
    assert count >= 4 * 3 + 3, count
    names = {path.name for path in (tmp_path / "kit").rglob("*.zip")}
    assert len(names) == 3
    assert "KEST-0.2.0-AAAAAA.zip" not in names


def test_an_error_between_two_files_leaves_nothing(tmp_path):
    """Whatever it is; a link at the place is replaced, not followed, and is back when another file fails."""
    (tmp_path / "target").write_bytes(b"safe")
    (tmp_path / "place").symlink_to("target")

    def write(*names: str, then: type[BaseException] | None = None) -> None:
        with Together() as files:
            for name in names:
                files.write(tmp_path / name, b"1")
            if then:
                raise then

    with pytest.raises(KeyboardInterrupt):
        write("new/one", then=KeyboardInterrupt)
    assert state(tmp_path) == {"place": b"safe", "target": b"safe"}
    (tmp_path / "folder/inside").mkdir(parents=True)
    with pytest.raises(ProjectError):
        write("place", "folder")  # where a folder is
    assert (tmp_path / "place").is_symlink()
    write("place")
    assert not (tmp_path / "place").is_symlink()
    assert (tmp_path / "target").read_bytes() == b"safe"
