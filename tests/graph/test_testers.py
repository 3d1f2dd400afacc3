"""Packets for testers as an author builds them: whose changes when what changes, what goes, and where a name gets to."""

from __future__ import annotations

import fcntl
import functools
import io
import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pypdf
import pytest
import zxingcpp
from PIL import Image

from pipeline.project.loading.load import load_project
from tests.graph.builds import build, clean_outputs, copy_built, make_project, outputs, reasons, run
from tests.graph.looks import looks_of
from tests.recorded import differing

_PLAN = """
[pad.three]
name = "Three-button pad"
buttons = ["A"]
[pad.six]
name = "Six-button pad"
buttons = ["A", "X"]
[[scene.play.choose]]
name = "figure"
count = 1
of = ["one", "two"]
[[plan.task]]
text = "Walk over the hill."
scene = "play"
cover = ["figure", "pads"]
"""
_NAMES = ("Zabriska Quill", "Odalric")
_LIST = f'[[tester]]\nnumber = 1\nname = "{_NAMES[0]}"\n[[tester]]\nnumber = 3\nname = "{_NAMES[1]}"\n'
_LIST += '[[tester]]\nnumber = 4\npads = ["three"]\n'
PACKETS = ["tester:T01", "tester:T03", "tester:T04"]


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A project with a plan of four cells and three testers that has been built; nothing changes it."""
    folder = make_project(tmp_path_factory.mktemp("built") / "small")
    text = (folder / "project.toml").read_text().replace("/{build}", "/{build}?t={tester}")
    (folder / "project.toml").write_text(text + _PLAN)
    write_list(folder)
    assert set(PACKETS) <= set(build(folder))
    return folder


def test_build_looks_as_it_was_looked_at(built):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing("build with testers", looks_of(built)) == set()


@pytest.fixture
def project(built, tmp_path) -> Path:
    """A copy of it in the same state."""
    return copy_built(built, tmp_path / "small")


def write_list(folder: Path, text: str = _LIST) -> None:
    (folder / "reports").mkdir(exist_ok=True)
    (folder / "reports/testers.toml").write_text(text)


def kits(folder: Path) -> list[str]:
    return sorted(path.stem.rpartition("-")[2] for path in (folder / "build/kit").rglob("*.zip") if path.parent.name == "testers")


def packets(folder: Path) -> dict[str, bytes]:
    """Return step -> packet it made."""
    return {f"tester:{path.name[:3]}": path.read_bytes() for path in sorted((folder / "build/work/testers").iterdir())}


def contents(path: Path) -> bytes:
    """Return all a file holds: members of archives, text and plain streams of PDFs, cells of databases."""
    if path.suffix == ".sqlite3":
        return path.read_bytes() + repr(sqlite3.connect(path).execute("select * from doit").fetchall()).encode()
    return unfolded(path.read_bytes(), path.suffix)


@functools.cache  # a packet is in kits too, and is searched for each name
def unfolded(data: bytes, suffix: str) -> bytes:
    """Return a file's bytes, and after them those of its members, or the text of its pages."""
    found = data
    if suffix == ".zip":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for name in archive.namelist():
                found += name.encode() + unfolded(archive.read(name), Path(name).suffix)
    elif suffix == ".pdf":
        reader = pypdf.PdfReader(io.BytesIO(data))
        found += "".join(" ".join(page.extract_text().split()) for page in reader.pages).encode()
        found += repr(reader.metadata).encode()
    return found


def named_in(folder: Path, name: str) -> list[str]:
    """Return the files of the build that hold a name in UTF-8 or UTF-16, in any case."""
    found = []
    for path in sorted((folder / "build").rglob("*")):
        if path.is_file():
            data = contents(path).lower()
            if any(name.lower().encode(code) in data for code in ("utf-8", "utf-16-le", "utf-16-be")):
                found.append(path.relative_to(folder / "build").as_posix())
    return found


def own_files(number: str) -> list[str]:
    return [f"work/testers/{number}-packet.{end}" for end in ("html", "pdf")]


def test_a_name_is_in_its_own_packet_and_nowhere_else(project):
    """Every file of the build, decompressed, the terminal and the reasons; before and after a name is changed."""
    shutil.rmtree(project / "build")
    said = run(project, "why=yes").stdout
    code = json.loads((project / "build/map.json").read_text())["image"]["build_code"]
    assert kits(project) == ["T01", "T03", "T04"]
    for number, name in zip(("T01", "T03"), _NAMES, strict=True):
        assert named_in(project, name) == [f"kit/testers/SMALL-0.1.0-{code}-{number}.zip", *own_files(number)]
        assert name not in said
    write_list(project, _LIST.replace("Odalric", "Wenzeslaus"))
    again = run(project, "why=yes").stdout
    assert "setting changed: mark" in again
    assert "Wenzeslaus" not in again
    assert named_in(project, "Odalric") == []
    assert named_in(project, "Wenzeslaus") == [f"kit/testers/SMALL-0.1.0-{code}-T03.zip", *own_files("T03")]
    assert "Wenzeslaus" not in run(project, "why").stdout


def test_a_changed_entry_makes_only_what_it_changes(project, tmp_path):
    """A name: that packet. A pad less: the packets whose shares change, and the author's. Nothing: nothing. As a clean build."""
    assert build(project) == []
    write_list(project, _LIST.replace("Odalric", "Wenzeslaus"))
    assert build(project) == ["tester:T03", "paged:T03", "kit"]
    assert reasons(project)["tester:T03"] == ["setting changed: mark"]
    before = packets(project)
    write_list(project, _LIST.replace("Odalric", "Wenzeslaus").replace('pads = ["three"]', 'pads = ["six"]'))
    ran = build(project)
    changed = [name for name, data in packets(project).items() if before[name] != data]
    assert "tester:T04" in changed
    assert [name for name in ran if name.startswith("tester")] == changed
    assert {"author", "kit"} <= set(ran)
    assert not {"packet", "notes", "image", "report"} & set(ran)
    assert outputs(project) == clean_outputs(project, tmp_path)


def test_who_is_off_the_list_leaves_no_packet_and_no_record(project, tmp_path):
    """Packet, kit and the step's record go with the next build; without a list all of them."""
    write_list(project, _LIST.partition("[[tester]]\nnumber = 4")[0])
    build(project)
    assert kits(project) == ["T01", "T03"]
    assert not (project / "build/work/testers/T04-packet.pdf").exists()
    assert records(project) == ["tester:T01", "tester:T03"]
    (project / "reports/testers.toml").unlink()
    build(project)
    assert kits(project) == records(project) == []
    assert outputs(project) == clean_outputs(project, tmp_path)


def records(folder: Path) -> list[str]:
    rows = sqlite3.connect(folder / "build/.state/steps.sqlite3").execute("select task_id from doit where task_id like 'tester:%'")
    return sorted(name for (name,) in rows)


@pytest.mark.parametrize("who", ["T3", "Odalric"])
def test_erase_takes_the_list_the_packet_the_kit_and_the_record(who, project):
    """At once, not with the next build; the others' shares follow with it. What was asked is in no record either."""
    assert run(project, "erase", f"tester={who}x").returncode != 0
    done = run(project, "erase", f"tester={who}")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "testers.toml: the entry of T3, lines 4 to 6" in done.stdout
    assert kits(project) == ["T01", "T04"]
    assert records(project) == ["tester:T01", "tester:T04"]
    with closing(sqlite3.connect(project / "build/.state/steps.sqlite3")) as known:
        assert known.execute("select * from doit where task_id in ('erase', 'intake')").fetchall() == []
    assert named_in(project, "Odalric") == []
    assert "Odalric" not in (project / "reports/testers.toml").read_text()
    build(project)
    assert kits(project) == ["T01", "T04"]


def test_nobody_is_forgotten_while_a_build_runs(project):
    """A build that reads the list could put the person back: the command is refused, and list and kits stay whole."""
    before = contents(project / "reports/testers.toml")
    with open(project / "build/.state/lock", "r+b") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = run(project, "erase", "tester=T3")
    assert done.returncode != 0
    assert "another build of this project is running" in done.stdout + done.stderr
    assert contents(project / "reports/testers.toml") == before
    assert kits(project) == ["T01", "T03", "T04"]
    assert run(project, "erase", "tester=T3").returncode == 0


def test_links_carry_a_number_only_in_the_testers_own(project):
    """The image, the notes, both general packets and the build code know nothing of it."""
    code = json.loads((project / "build/map.json").read_text())["image"]["build_code"]
    own = "".join(page.extract_text() for page in pypdf.PdfReader(project / "build/work/testers/T03-packet.pdf").pages)
    assert f"https://example.org/b/{code}?t=T3" in own
    for name in ("packet.pdf", "packet-author.pdf", "work/NOTES.txt", "rom/small.rom", "map.json", "blobs/boot.json"):
        data = contents(project / "build" / name)
        assert b"?t=" not in data, name
        assert b"{tester}" not in data, name
    with Image.open(project / "build/proofs/boot.png") as notice:
        codes = {one.text for one in zxingcpp.read_barcodes(notice.convert("L").resize((notice.width * 4, notice.height * 4), 0))}
    assert codes == {f"https://example.org/{letter}/{code}" for letter in "fb"}
    (project / "project.toml").write_text((project / "project.toml").read_text().replace("?t={tester}", ""))
    build(project)
    assert json.loads((project / "build/map.json").read_text())["image"]["build_code"] == code


def test_problems_of_the_list_are_reported_before_anything_is_built(project):
    """With file, line, key and remedy, and no name."""
    shutil.rmtree(project / "build")
    write_list(project, _LIST.replace('["three"]', '["thre"]').replace("number = 3", "number = 1"))
    done = run(project)
    assert done.returncode == 3
    assert "reports/testers.toml, line 5, [[tester]] number 2 number: 1 is given twice" in done.stderr
    assert "pads[0]: there is no pad 'thre'\n    did you mean three?" in done.stderr
    assert not any(name in done.stderr for name in _NAMES)


def test_a_testers_packet_shows_only_the_pads_they_have(project):
    """T4 has the three-button pad: neither grid nor controls nor report page name the other one; T1 has both."""
    own, other = (
        " ".join(page.extract_text() for page in pypdf.PdfReader(project / f"build/work/testers/{number}-packet.pdf").pages)
        for number in ("T04", "T01")
    )
    names = [pad.name for pad in load_project(project).spec.pad.values()]
    assert [name in own for name in names] == [key == "three" for key in load_project(project).spec.pad]
    assert all(name in other for name in names)


def test_what_nobody_can_do_is_reported(project):
    """In the line of the kit, which also says that links carry no number."""
    write_list(project, '[[tester]]\nnumber = 4\npads = ["three"]\n')
    (project / "project.toml").write_text((project / "project.toml").read_text().replace("?t={tester}", ""))
    said = run(project).stdout
    assert "no link carries their number: see {tester} in [links]; 2 cells of the plan are nobody's: see packet-author.pdf" in said
