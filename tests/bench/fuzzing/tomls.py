"""The files an author writes in TOML: project, target, issues, testers, decisions; each read by what reads it in a build."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path
from typing import Any

from PIL import Image, ImageDraw

import pipeline.project.file as pf
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.graph.freshness.compare import Freshness
from pipeline.graph.places import with_lines
from pipeline.graph.plan import plan_project
from pipeline.intake.builds import Build, Builds
from pipeline.intake.decisions import Decisions, read_decisions
from pipeline.intake.take_in import write_triage
from pipeline.joints.places import Sources, frame_files
from pipeline.plain.checked import read_document
from pipeline.plain.errors import ProjectError
from pipeline.plain.written import Record
from pipeline.project.assets import Sheet, Sprite
from pipeline.project.boxes import Boxes
from pipeline.project.file import NoteKinds
from pipeline.project.intake import BugColumns, BugForm, Intake
from pipeline.project.loading.load import load_project
from pipeline.project.notes import DrawnFrame, Noted, NotesFile, take_notes
from pipeline.project.testers import LIST, TesterList, read_testers, remove_tester
from pipeline.target.calls import Call
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import SpriteLimits, Target
from tests.bench.fuzzing.formats import MIB, Format, Wrong
from tests.bench.fuzzing.parts import Part, damaged
from tests.bench.fuzzing.toml_data import Names, changed_data, nested
from tests.bench.fuzzing.toml_text import document_of, value_of
from tests.intake.makers import kept_files
from tests.makers import TARGETS, make_project, project_text

_MORE = """
[sprite.ben]
sheet = { file = "art/sheet.png", columns = 2, rows = 2, count = 3 }
palette = "figures"
arrangement = "pieces"
pool = "cells"
scale = [0.5, 1.0]
[pool.cells]
[background.far]
file = "art/quay.png"
palette = "quay_colours"
arrangement = "tiles"
tile = [8, 8]
map_entry = "HVccPxtttttttttt"
[font.small]
file = "art/letters.png"
cell = [8, 8]
order = "AB"
palette = "figures"
[planned.more]
kind = "sprite"
like = "ada"
count = 2
[links.more]
Rules = "https://example.org/rules"
[contents]
included = ["One quay"]
[instructions]
test = ["Walk to the end."]
[burn]
forms = ["even-odd", "s-record"]
[[plan.task]]
text = "Walk."
scene = "play"
cover = ["who", "pads"]
[intake.bugs]
columns = { what = "What happened", build = "Build", tester = "Who" }
severities = { "It stops" = "critical" }
"""
_FILES = [
    "art/ada/walk_0.png",
    "art/quay.png",
    "art/sheet.png",
    "art/letters.png",
    "sound/bell.wav",
    "main.bin",
    "level.bin",
    "art/colours.gpl",
]
_ASSETS = [
    "ada",
    "ben",
    "quay",
    "far",
    "figures",
    "quay_colours",
    "bell",
    "main",
    "level",
    "boot",
    "crew",
    "cells",
    "small",
    "more",
    "none",
]
NAMES = Names(
    {
        "file": _FILES,
        "frames": ["art/ada/*.png", "walk_*", [0, 1], [1, 0, 1], [0, 9], "art/*.png", "none*"],
        "animated": ["art/moving.gif", "art/quay.png"],
        "locked_file": ["art/colours.gpl", "art/quay.png"],
        "palette": ["figures", "quay_colours", "none"],
        "pool": ["cells", "none"],
        "pixels": ["index8", "index4", "index2", "direct", "none"],
        "like": ["ada", "quay", "bell", "none"],
        "background": ["quay", "far", "none"],
        "always": [["quay", "quay_colours"], ["ada"], ["crew"], _ASSETS[:4], ["more"], ["none"]],
        "of": [["crew"], ["ada", "ben"], ["more"], ["crew", "more", "ada"], []],
        "never": [[["ada", "ben"]], [["crew", "none"]], [[]]],
        "direct": [["level"], ["bell"], ["ada"], []],
        "packed": [["level"], ["bell"], []],
        "bundle": [{"crew": ["ada", "figures"]}, {"crew": []}, {"a": ["b"], "b": ["a"]}],
        "target": [*TARGETS, "console.toml", "none.toml", "basalt"],
        "language": ["en", "de", "en-GB", "fr", "x"],
        "cover": [["who"], ["who", "pads"], ["pads"], ["none"]],
        "buttons": [["A", "B"], {"A": "9 3", "B": "6.5 4 bar"}, {"three": "A"}, {"three": "A + B"}, {"four": "A"}, {"A": "99 99"}, {}],
        "feedback": ["https://example.org/f/{build}", "https://example.org/f?t={tester}", "https://example.org/f", "nowhere"],
        "bugs": ["https://example.org/b/{build}", "http://example.org/" + "b" * 300],
        "order": ["AB", "A", "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "A\nB", "AA", "\u00c4\U0001f600"],
        "characters": ["AB", "0123456789", "\u00e9", "\u0301", "\t"],
        "texts": [["*.txt"], ["text.txt"], ["none.txt"], []],
        "map_entry": ["HVccPxtttttttttt", "tttttttt", "ccHVPttttttttttt", "HHtt", "tt"],
        "version": ["0.1.0", "0.2.0-rc.1", "1.0.0", "01.0.0"],
        "since": ["0.1.0", "0.0.1", "9.9.9"],
        "fixed_in": ["0.1.0", "0.0.1"],
        "command": [["true"], ["no-such-program"], [], ["{output}", "{nothing}"]],
        "depends": [["level.bin"], ["*.bin"], ["/nowhere/*"], ["../*"]],
        "keep": [["what"], ["what", "build"], ["build"]],
        "pads": [["three"], ["none"], []],
    }
)


def project_folder(folder: Path) -> None:
    """Write a project with something of every kind, and every file its keys may name."""
    folder.rmdir()
    make_project(folder)
    sheet = Image.new("RGBA", (16, 16))
    ImageDraw.Draw(sheet).rectangle((2, 2, 12, 9), fill=(9, 99, 200, 255))
    sheet.save(folder / "art/sheet.png")
    letters = Image.new("RGBA", (16, 8))
    ImageDraw.Draw(letters).rectangle((1, 1, 5, 6), fill=(200, 60, 40, 255))
    ImageDraw.Draw(letters).rectangle((9, 1, 12, 6), fill=(200, 60, 40, 255))
    letters.save(folder / "art/letters.png")
    sheet.save(folder / "art/moving.gif", save_all=True, append_images=[letters.resize((16, 16))], duration=50)
    (folder / "art/colours.gpl").write_text("GIMP Palette\nName: x\n#\n200 60 40 a\n0 0 0 b\n")
    (folder / "text.txt").write_text("AB\n")
    (folder / "console.toml").write_bytes((SHIPPED / "lattice16.toml").read_bytes())
    (folder / "project.toml").write_text(project_text(more=_MORE))


def _base_project(chance: random.Random) -> dict[str, Any]:
    target = chance.choice((TARGETS[0], TARGETS[0], *TARGETS))
    more = _MORE if target == TARGETS[0] else ""
    choose = ("choose = [{ count = 1,", 'choose = [{ name = "who", count = 1,')
    return tomllib.loads(project_text(choose, target=target, more=more))


def make_document(chance: random.Random, data: dict[str, Any], kind: type[Record], names: Names = NAMES) -> Part:
    """Return a TOML document near some data: a third as it is or with allowed changes, others with one or more mistakes."""
    how = chance.random()
    if how < 0.35:
        made = changed_data(chance, data, kind, names, chance.choice((0, 1, 1, 2, 3)), 0.0)
    elif how < 0.85:
        made = changed_data(chance, data, kind, names, chance.choice((1, 1, 2, 5, 12)), 0.5)
    else:
        made = data
    top = document_of(chance, made)
    if how >= 0.85 or chance.random() < 0.1:
        top = damaged(chance, top, chance.choice((1, 1, 2, 4)))
    if chance.random() < 0.03:
        top = _huge(chance, top)
    return top


def _huge(chance: random.Random, top: Part) -> Part:
    """Add something that costs a reader much: depth, many keys, long texts, long dotted keys, many tables."""
    count = chance.choice((100, 1000, 20000))
    how = chance.randrange(6)
    if how == 0:
        more = Part([b"deep = ", value_of(chance, nested(chance, count)), b"\n"])
    elif how == 1:
        more = Part([Part([f"k{rank} = {rank}\n".encode() for rank in range(count)])])
    elif how == 2:
        more = Part([b'long = "', b"word " * count, b'"\n'])
    elif how == 3:
        more = Part([b".".join([b"a"] * min(count, 3000)), b" = 1\n"])
    elif how == 4:
        more = Part([Part([f"[data.d{rank}]\nfile = 1\n".encode() for rank in range(min(count, 3000))])])
    else:
        more = Part([b"many = [", b"1, " * count, b"]\n"])
    nodes = list(top.nodes)
    nodes.insert(0 if how not in (4,) else len(nodes), more)
    return Part(nodes, top.rule)


def _run_project(folder: Path, data: bytes) -> str:
    project = _loaded(folder)
    plan = plan_project(project, {"of": "", "name": "", "since": "", "csv": "", "form": "", "tester": ""})
    if len({step.name for step in plan.steps}) != len(plan.steps):
        raise Wrong("two steps have one name")
    written = [str(path).casefold() for step in plan.steps for path in step.writes]
    if len(set(written)) != len(written):
        raise Wrong("two steps write one file")
    outside = [path for step in plan.steps for path in step.writes if not path.is_relative_to(plan.build)]
    if outside:
        raise Wrong("a step writes outside the build folder")
    for step in plan.steps[:3]:
        Freshness(step, plan.folder)._inputs()
    return "accepted"


def _loaded(folder: Path):
    try:
        return load_project(folder)
    except ProjectError as error:
        with_lines(str(error), folder)
        raise


def _run_target(folder: Path, data: bytes) -> str:
    target = load_target(folder / "console.toml", "console.toml")
    # The next stage: a project for this console is planned, or refused in words.
    try:
        plan_project(load_project(folder))
    except ProjectError:
        if not target.cartridge.sizes:
            raise Wrong("a target without a cartridge size was accepted") from None
    return "accepted"


def _target_data(chance: random.Random) -> dict[str, Any]:
    return tomllib.loads((SHIPPED / f"{chance.choice(TARGETS)}.toml").read_text(encoding="utf-8"))


_TARGET_NAMES = Names(
    {
        "pixels": ["index8", "index4", "index2", "direct", "none"],
        "pixel": ["IIIIIIII", "IIII", "II", "I", "xBBBBBGGGGGRRRRR", "RRRRRGGGGGGBBBBB", "IxI", "", "R" * 64, "AAAARRRRGGGGBBBB"],
        "entry": ["xBBBBBGGGGGRRRRR", "BBGGGRRR", "RGB", "0000BBB0GGG0RRR0", "RRRR", "x" * 70],
        "map_entry": ["HVccPxtttttttttt", "tttttttt", "ccHVPttttttttttt", "HHtt"],
        "sizes": [["64 KiB"], ["1 MiB", "2 MiB"], [], [0], ["2 MiB", "1 MiB"], [1 << 40], [12345]],
        "checksum": ["CRC-32/ISO-HDLC", "CRC-16/ARC", "sum16", "sha256", "same", "xor8", "CRC-32", "none"],
        "value": ["project.title", "image.bytes", "directory.count", "asset.crc32", "build.code", "program.entry", "none"],
        "covers": [[["start", "end"]], [["header_end", "used"]], [[0, 4]], [[4, 0]], [["end", "start"]], [["nowhere", 3]], []],
        "of": ["header_sum", "none"],
        "hex": ["00", "0g", "ffff", ""],
        "table": [{"64 KiB": 1}, {"alpha": 1 << 40}, {}],
        "alignment": [{"default": 4}, {"sprite": 3}, {"none": 1}, 4, 3],
    },
    ("sprite", "default", "index8", "extra", "data"),
)


def _prepare_target(folder: Path) -> None:
    project_folder(folder)
    (folder / "project.toml").write_text(project_text(target="lattice16").replace('"lattice16"', '"console.toml"'))


_BOXES = {
    "join": 2,
    "frame": [{"box": [2, 2, 12, 20], "anchor": [8, 22], "name": "walk_0"}, {"box": [20, 4, 12, 18]}, {"box": [1, 1, 40, 24]}],
}


def _prepare_boxes(folder: Path) -> None:
    picture = Image.new("RGBA", (48, 32))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((3, 3, 12, 20), fill=(200, 40, 30, 255))
    draw.rectangle((21, 5, 30, 20), fill=(30, 40, 200, 255))
    picture.save(folder / "s.png")


def _run_boxes(folder: Path, data: bytes) -> str:
    spec = Sprite(sheet=Sheet(file="s.png", boxes="s.boxes.toml"), align="anchors")
    files, cuts = frame_files(folder / "build/work", "ada"), folder / "build/work/ada.cuts.png"
    call = Call("pipeline.assets.sources.boxes:boxed")
    prepare_sprite(Sources(folder, ("s.png",)), files, "ada", spec, SpriteLimits(), folder / "s.boxes.toml", call, cuts)
    return "accepted"


_NOTE_KINDS = NoteKinds(boxes=["body", "strike"], points=["hand"], numbers=["damage"], events=["step"])
_NOTES = {
    "frame": [
        {"frames": "*", "boxes": {"body": [4, 2, 10, 19]}, "points": {"hand": [12, 8]}},
        {"frames": [1], "boxes": {"strike": [[10, 6, 8, 4], [0, 0, 1, 1]]}, "numbers": {"damage": -12}, "events": ["step"], "ticks": 7},
    ]
}
_NOTE_NAMES = Names(
    {
        "frames": ["*", "walk_*", "walk_1", "none", [0], [0, 1], [2], [-1], []],
        "boxes": [
            {"body": [0, 0, 20, 24]}, {"body": [0, 0, 21, 24]}, {"none": [0, 0, 1, 1]}, {"body": []}, {"body": [[]]},
            {"body": [[1, 2, 3, 4], 5]}, {"body": [[1, 2, 3, 4]] * 300},
        ],
        "points": [{"hand": [0, 0]}, {"hand": [20, 24]}, {"none": [0, 0]}, {"hand": []}, {"hand": [1]}],
        "numbers": [{"damage": 1 << 15}, {"damage": -32768}, {"none": 1}],
        "events": [["step"], ["step", "step"], ["none"], []],
    }
)  # fmt: skip


def _run_notes(folder: Path, data: bytes) -> str:
    frames = [DrawnFrame(f"frame {rank}", 20, 24) for rank in range(2)]
    found = [Noted(), Noted()]
    take_notes(found, folder, "ada.notes.toml", _NOTE_KINDS, ("art/walk_0.png", "art/walk_1.png"), frames)
    for noted in found:
        for left, top, width, height in (box for boxes in noted.boxes.values() for box in boxes):
            if not (0 <= left < left + width <= 20 and 0 <= top < top + height <= 24):
                raise Wrong("a box outside its frame was accepted")
        if not {*noted.boxes, *noted.points, *noted.numbers, *noted.events} <= {"body", "strike", "hand", "damage", "step"}:
            raise Wrong("a word that is not known was accepted")
    return "accepted"


def _run_issues(folder: Path, data: bytes) -> str:
    plan_project(_loaded(folder))
    return "accepted"


def _prepare_issues(folder: Path) -> None:
    project_folder(folder)
    text = project_text()
    (folder / "project.toml").write_text(text[: text.index("[[issue]]")])


_ISSUES = {
    "issue": [
        {"id": "TF-001", "severity": "minor", "where": "Quay", "what": "The bell rings twice.", "since": "0.1.0"},
        {
            "id": "TF-002",
            "severity": "major",
            "where": "Boat",
            "what": "It sinks.",
            "status": "fixed",
            "fixed_in": "0.1.0",
            "reproduce": ["Go"],
        },
    ]
}
_TESTERS = {"tester": [{"number": 3, "name": "Ada"}, {"number": 4, "name": "Ben", "pads": ["three"]}, {"number": 12}]}
_DECISIONS = {
    "same": [["R-0001", "R-0002"]],
    "not_same": [["R-0003", "R-0004", "R-0001"]],
    "issue": {"R-0001": "TF-007", "R-0003": ""},
    "fixed": {"TF-009": "0.1.0"},
}
_DECISION_NAMES = Names(
    {
        "same": [[["R-0001", "R-0002"]], [["R-0001", "R-0002", "R-0003"], ["R-0003", "R-0005"]], [["R-0001"]], [["R-1", "R-2"]], []],
        "not_same": [[["R-0003", "R-0004"]], [["R-0001", "R-0002"]], [["R-0006", "R-0006"]], []],
        "issue": [{"R-0001": "TF-007"}, {"R-0002": "TF-009"}, {"R-0002": ""}, {"R-0001": "none"}, {"x": "TF-007"}],
        "fixed": [{"TF-009": "0.1.0"}, {"TF-009": "9.9.9"}, {}],
    }
)


def _run_testers(folder: Path, data: bytes) -> str:
    testers = read_testers(folder, ["three"])
    for one in testers[:2]:
        before = read_document(folder / LIST, LIST).data["tester"]
        done, said = remove_tester(folder, one.number)
        after = read_document(folder / LIST, LIST).data.get("tester", [])
        if done and after != [entry for entry in before if entry["number"] != one.number]:
            raise Wrong("taking a tester out changed another")
        if not done and (folder / LIST).read_bytes() != data and one is testers[0]:
            raise Wrong("a tester who could not be taken out changed the file")
        if not said:
            raise Wrong("nothing is said of a tester who is taken out")
    return "accepted"


def _run_decisions(folder: Path, data: bytes) -> str:
    issues, builds = [pf.Issue(id="TF-007", severity="minor", where="Quay", what="Rings.")], Builds([Build("110011", "0.1.0", "alpha")])
    read_decisions(folder / "reports", {"TF-007"}, {"0.1.0"})
    game = {"title": "Tin Ferry", "code": "TINF", "version": "0.1.0", "phase": "alpha"}
    write_triage(folder, kept_files(folder)[-1], Intake(bugs=BugForm(columns=BugColumns(what="What"))), issues, game, {}, builds)
    return "accepted"


def _prepare_reports(folder: Path) -> None:
    (folder / "reports").mkdir()
    (folder / "build").mkdir()
    texts = ("The bell rings twice.", "The bell rings two times at the quay.", "It sinks.", "The boat sinks at once.", "No sound.")
    reports = ",\n".join(f'{{"id": "R-{rank:04}", "build": "110011", "what": "{text}"}}' for rank, text in enumerate(texts, 1))
    (folder / "reports/bugs.json").write_text(f'{{"format": 1, "next": 6, "fields": ["build", "what"], "reports": [{reports}]}}')


FORMATS = (
    Format(
        "project",
        lambda chance: make_document(chance, _base_project(chance), pf.Project),
        "project.toml",
        project_folder,
        _run_project,
        256 * MIB,
    ),
    Format(
        "target",
        lambda chance: make_document(chance, _target_data(chance), Target, _TARGET_NAMES),
        "console.toml",
        _prepare_target,
        _run_target,
        256 * MIB,
    ),
    Format("boxes", lambda chance: make_document(chance, _BOXES, Boxes), "s.boxes.toml", _prepare_boxes, _run_boxes, 256 * MIB),
    Format(
        "notes",
        lambda chance: make_document(chance, _NOTES, NotesFile, _NOTE_NAMES),
        "ada.notes.toml",
        lambda folder: None,
        _run_notes,
        256 * MIB,
    ),
    Format("issues", lambda chance: make_document(chance, _ISSUES, pf.IssueFile), "issues.toml", _prepare_issues, _run_issues, 256 * MIB),
    Format(
        "testers",
        lambda chance: make_document(chance, _TESTERS, TesterList),
        LIST,
        _prepare_reports,
        _run_testers,
        256 * MIB,
        own=("reports",),
    ),
    Format(
        "decisions",
        lambda chance: make_document(chance, _DECISIONS, Decisions, _DECISION_NAMES),
        "reports/decisions.toml",
        _prepare_reports,
        _run_decisions,
        256 * MIB,
    ),
)
