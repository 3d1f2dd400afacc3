"""Notes on frames: scaled as art is scaled, by exact fractions; what is refused and where; layers; the image read back; the budget."""

from __future__ import annotations

import math
import struct
import zlib
from fractions import Fraction
from pathlib import Path

import msgspec
import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.graph.plan import plan_project
from pipeline.graph.steps.assets import makers
from pipeline.joints.budget import read_budget_file
from pipeline.joints.facts import NotesFacts, read_facts
from pipeline.joints.map import decode_map
from pipeline.joints.places import facts_file
from pipeline.pixels.scaling.noted import scaled_place, scaled_span
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.questions.trial import Trials
from pipeline.reading.verify import verify_image
from tests.makers import TARGETS, make_project, run_steps
from tests.reading.decoding import decode_blob

KINDS = """
[note_kinds]
boxes = ["body", "strike"]
points = ["hand", "overhead"]
numbers = ["damage", "push"]
events = ["step", "whoosh"]
colours = { body = "#00ff00", strike = "#FF0000", hand = "#0000ff" }
[notes.ada_notes]
of = "ada"
"""
NOTES = """
[[frame]]
frames = "*"
boxes.body = [4, 2, 10, 19]
points.hand = [12, 8]
numbers.push = -300
[[frame]]
frames = "walk_1"
boxes.strike = [[10, 6, 8, 4], [0, 0, 1, 1]]
numbers.damage = 12
events = ["whoosh"]
ticks = 7
"""
FILE = 'file = "ada.notes.toml"\n'


def noted_project(folder: Path, notes: str | None = NOTES, keys: str = "", sprite: str = "", more: str = "", target: str = "basalt32"):
    """Return a project whose sprite of two frames of 20 x 24 has notes in a file, where any are given."""
    change = ("[sprite.ada.animations]", f"{sprite}\n[sprite.ada.animations]")
    make_project(folder, change, more=KINDS + (FILE if notes is not None else "") + keys + "\n" + more, target=target)
    if notes is not None:
        (folder / "ada.notes.toml").write_text(notes, encoding="utf-8")
    return folder


def blob_of(folder: Path) -> bytes:
    """Convert and return the blob."""
    run_steps(load_project(folder), "noted:ada_notes")
    return (folder / "build/blobs/ada_notes.bin").read_bytes()


def refused(folder: Path) -> str:
    """Return why notes cannot be converted."""
    with pytest.raises(ProjectError) as caught:
        run_steps(load_project(folder), "noted:ada_notes")
    return str(caught.value)


def read(blob: bytes, order: str = ">") -> tuple[int, list[dict]]:
    """Read a blob by the layout that the guide prints, with struct: hash of the sprite, and what is said of each frame."""
    head = struct.unpack_from(order + "BBH7I", blob)
    version, number_count, frame_count, sprite, _, _, frames, boxes, points, numbers = head
    assert version == 1
    found = []
    for rank in range(frame_count):
        first_box, first_point, box_count, point_count, events, ticks = struct.unpack_from(order + "IIHHHH", blob, frames + 16 * rank)
        found.append(
            {
                "boxes": [struct.unpack_from(order + "HhhHH", blob, boxes + 10 * (first_box + one)) for one in range(box_count)],
                "points": [struct.unpack_from(order + "Hhh", blob, points + 6 * (first_point + one)) for one in range(point_count)],
                "numbers": struct.unpack_from(f"{order}{number_count}h", blob, numbers + 2 * number_count * rank),
                "events": events,
                "ticks": ticks,
            }
        )
    return sprite, found


@pytest.mark.parametrize("target", TARGETS)
def test_image_holds_what_the_file_says(tmp_path, target):
    """In every target's order, at full size; the include files give ranks, and the sprite is known by the CRC-32 of its name."""
    folder = noted_project(tmp_path / "p", target=target)
    run_steps(load_project(folder), "verify", "include")
    project = load_project(folder)
    entry = decode_map((folder / "build/map.json").read_bytes(), "map.json").by_name()["ada_notes"]
    image = next((folder / "build/rom").glob("*.rom")).read_bytes()
    sprite, frames = read(image[entry.offset : entry.offset + entry.bytes], ">" if project.target.byte_order == "big" else "<")
    assert (entry.kind, sprite) == ("notes", zlib.crc32(b"ada"))
    assert frames == [
        {"boxes": [(0, 4, 2, 10, 19)], "points": [(0, 12, 8)], "numbers": (0, -300), "events": 0, "ticks": 0},
        {
            "boxes": [(0, 4, 2, 10, 19), (1, 10, 6, 8, 4), (1, 0, 0, 1, 1)], "points": [(0, 12, 8)], "numbers": (12, -300),
            "events": 2, "ticks": 7,
        },
    ]  # fmt: skip
    constants = (folder / "build/include/assets.inc").read_text()
    for line in ("ASSET_KIND_NOTES = 12", "NOTE_BOX_STRIKE = 1", "NOTE_POINT_HAND = 0", "NOTE_NUMBER_PUSH = 1", "NOTE_EVENT_WHOOSH = 1"):
        assert line in constants


SPRITES = [
    "scale = 0.77", "scale = [0.5, 1.25]", "height = 17", "scale = 2", "scale = 0.3\nanchor = [7.25, 24]", "scale = 1\nanchor = [3.5, 2.5]",
    "scale = 0.77\nanchor = [-9, 40]", 'scale = 0.9\nalign = "bottom"', 'scale = 0.9\nalign = "centre"', 'align = "top"',
    'scale = 0.6\nalign = "anchors"\nanchor = "feet"', 'scale = 0.77\narrangement = "pieces"', 'scale = 0.77\narrangement = "frames"',
]  # fmt: skip


@pytest.mark.parametrize("sprite", SPRITES)
def test_boxes_hold_what_is_drawn_in_them(tmp_path, sprite):
    """Each frame shows one rectangle, and its box is that rectangle: scaled, the box is exactly the pixels that the scaled rectangle
    touches, wherever frames are put and whatever is cut. A point is in the pixel that holds its middle. Source: the scaler itself, with
    area means and every touched pixel kept.
    """
    folder = noted_project(tmp_path / "p", "", sprite=f'resample = "area"\nalpha = 1\n{sprite}')
    boxes = {0: (3, 5, 9, 14), 1: (7, 1, 6, 20)}
    text = ""
    for rank, (left, top, width, height) in boxes.items():
        size = (20, 24) if "align" not in sprite else (20 + 3 * rank, 24 - 2 * rank)
        picture = Image.new("RGBA", size)
        ImageDraw.Draw(picture).rectangle((left, top, left + width - 1, top + height - 1), fill=(200, 60, 40, 255))
        picture.save(folder / f"art/ada/walk_{rank}.png")
        text += f"[[frame]]\nframes = [{rank}]\nboxes.body = [{left}, {top}, {width}, {height}]\n"
        text += f"points.hand = [{left}, {top}]\npoints.overhead = [{left + width - 1}, {top + height - 1}]\n"
    (folder / "ada.notes.toml").write_text(text)
    project = load_project(folder)
    run_steps(project, "noted:ada_notes", "sprite:ada")
    _, frames = read((folder / "build/blobs/ada_notes.bin").read_bytes())
    drawn = decode_blob("sprite", (folder / "build/blobs/ada.bin").read_bytes(), project.target)
    clear = drawn.head.get("clear", 0)
    for pixels, said in zip(drawn.pixels, frames, strict=True):
        rows, columns = np.nonzero(pixels != clear)
        ((_, x, y, width, height),) = said["boxes"]
        assert (x, y, x + width - 1, y + height - 1) == (columns.min(), rows.min(), columns.max(), rows.max())
        for _, column, row in said["points"]:
            assert x <= column < x + width
            assert y <= row < y + height


def test_spans_and_places_are_exact():
    """The pixels that a span touches, found one by one with fractions: pixel n is touched where (n, n + 1) and the span share more than
    an end. The middle of a point lies in its pixel. Over many factors and origins. Source: the definition, by exact fractions.
    """
    for number in range(0, 20000, 61):
        factor, origin = Fraction(number % 37 + 1, number % 23 + 1), Fraction(number % 19 - 9, number % 7 + 1)
        start, length = number % 13, number % 5 + 1
        side = math.ceil(origin + 40 * factor) + 3
        if origin < 0 or side < 1:
            origin = -origin
            side = math.ceil(origin + 40 * factor) + 3
        first, count = scaled_span(start, length, factor, origin, side)
        touched = [
            pixel for pixel in range(side)
            if max(Fraction(pixel), origin + start * factor) < min(Fraction(pixel + 1), origin + (start + length) * factor)
        ]  # fmt: skip
        assert (first, count) == (touched[0], len(touched))
        pixel = scaled_place(start, factor, origin, side)
        assert pixel <= origin + (start + Fraction(1, 2)) * factor < pixel + 1


def test_what_is_cut_off_a_frame_is_cut_off_boxes_and_points():
    """A last column that art covers too little of is not made (``least_seen``): what lies there goes into the one before."""
    assert scaled_span(9, 1, Fraction(1, 3), Fraction(0), 3) == (2, 1)
    assert scaled_place(9, Fraction(1, 3), Fraction(0), 3) == 2
    assert scaled_span(0, 10, Fraction(1, 3), Fraction(0), 3) == (0, 3)
    assert scaled_span(0, 1, Fraction(1), Fraction(-2), 5) == (0, 1)


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        ('[[frame]]\nframes = "*"\nboxes.body = [12, 2, 9, 4]\n', "line 3, [frame[0].boxes] body: body [12, 2, 9, 4] is not in frame 0"),
        ('[[frame]]\nframes = [1]\nboxes.body = [0, 20, 2, 5]\n', "body [0, 20, 2, 5] is not in frame 1 (walk_1) of 20 x 24"),
        ('[[frame]]\nframes = [1]\nboxes.body = [0, 0, 0, 5]\n', "body [0, 0, 0, 5] is not in frame 1"),
        ('[[frame]]\nframes = [1]\nboxes.body = [-1, 0, 3, 5]\n', "body [-1, 0, 3, 5] is not in frame 1"),
        ('[[frame]]\nframes = [1]\npoints.hand = [20, 0]\n', "hand [20, 0] is not in frame 1 (walk_1) of 20 x 24 pixels"),
        ('[[frame]]\nframes = [1]\nboxes.bdy = [0, 0, 3, 5]\n', "unknown word 'bdy'\n    did you mean body?"),
        ('[[frame]]\nframes = [1]\nevents = ["bang"]\n', "'bang'\n    add it to events of [note_kinds] in the project file; known are"),
        ('[[frame]]\nframes = [2]\nticks = 3\n', "there is no frame 2\n    frames are numbered 0 to 1"),
        ('[[frame]]\nframes = "run_*"\nticks = 3\n', "no frame matches 'run_*'"),
        ('[[frame]]\nframes = [0, 1]\nboxes.body = [1, 2, 3]\n', "[1, 2, 3] is not a box\n    write left, top, width and height"),
        ('[[frame]]\nframes = [0]\nboxes.body = [[1, 2, 3, 4], 5]\n', "[[1, 2, 3, 4], 5] is not a box"),
        ('[[frame]]\nframes = [0]\npoints.hand = [1]\n', "[1] is not a point"),
        ('[[frame]]\nframes = [0]\nnumbers.push = 40000\n', "-32768 to 32767"),
        ('[[frame]]\nframes = [0]\nticks = -1\n', "0 to 65535"),
        ('[[frame]]\nframes = [0]\ncolour = 3\n', "unknown key 'colour'"),
        ('[[frame]]\nboxes.body = [0, 0, 3, 5]\n', "frames is missing"),
        ('[[frame]]\nframes = "*"\nboxes.body = []\n', "says nothing of any frame"),
        ("", "says nothing of any frame"),
        ("frame = 3\n", "frame"),
        ("[[frame\n", "not TOML"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_file_is_refused_with_its_place(tmp_path, notes, said):
    """Line and table, frame, kind and values, and what to do. Common practice, no source."""
    found = refused(noted_project(tmp_path / "p", notes))
    assert "ada.notes.toml" in found
    assert said in found


def test_problems_of_a_file_are_reported_together(tmp_path):
    """Each box and point once, however many frames it is written for, with the first frame that it leaves, and how many more."""
    notes = '[[frame]]\nframes = "*"\nboxes.body = [1, 2]\nboxes.strik = [0, 0, 1, 1]\npoints.hand = [3]\n'
    assert refused(noted_project(tmp_path / "a", notes)).count("ada.notes.toml, ") == 3
    found = refused(noted_project(tmp_path / "b", '[[frame]]\nframes = "*"\nboxes.body = [15, 0, 6, 1]\npoints.hand = [0, 24]\n'))
    assert found.count("ada.notes.toml, ") == 2
    both = "is not in frame 0 (walk_0) of 20 x 24 pixels, nor in 1 other frame\n"
    assert f"body [15, 0, 6, 1] {both}" in found
    assert f"hand [0, 24] {both}" in found
    found = refused(noted_project(tmp_path / "c", '[[frame]]\nframes = [1]\nboxes.body = [[0, 0, 3, 5], [0, 0, 0, 5], [19, 23, 1, 2]]\n'))
    assert "body [0, 0, 0, 5] is not in frame 1 (walk_1) of 20 x 24 pixels\n" in found
    assert "body [19, 23, 1, 2] is not" in found
    assert found.count("ada.notes.toml, ") == 2


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('of = "ada"', 'of = "adda"', "there is no sprite 'adda'\n    did you mean ada?"),
        (FILE, "", "has neither file nor layer"),
        ('file = "ada.notes.toml"', 'file = "main.bin"', "'main.bin' is not a TOML file"),
        ('file = "ada.notes.toml"', 'layer = "*.toml"', "'*.toml' does not name pictures"),
        ('["step", "whoosh"]', '["step", "body"]', "'body' is already one of boxes"),
        ('["step", "whoosh"]', '["step", "step"]', "'step' is already one of events"),
        ('["step", "whoosh"]', '["Step"]', "a name of small letters"),
        ('["step", "whoosh"]', str([f"e{rank}" for rank in range(17)]).replace("'", '"'), "a list of at most 16 names"),
        ('strike = "#FF0000"', 'strike = "#00ff00"', "#00ff00 already marks body"),
        ('strike = "#FF0000"', 'stroke = "#FF0000"', "'stroke' is not a box or point\n    did you mean strike?"),
        ('strike = "#FF0000"', 'whoosh = "#FF0000"', "'whoosh' is not a box or point\n    only boxes and points are drawn"),
    ],
)
def test_keys_that_cannot_be_are_refused(tmp_path, old, new, said):
    """With the line of the project file. Common practice, no source."""
    folder = noted_project(tmp_path / "p")
    text = (folder / "project.toml").read_text()
    assert old in text
    (folder / "project.toml").write_text(text.replace(old, new))
    with pytest.raises(ProjectError) as caught:
        load_project(folder)
    assert said in str(caught.value)


def draw_layer(path: Path, size: tuple[int, int], boxes=(), points=()) -> None:
    """Draw outlines of boxes (colour, box) and pixels (colour, place) on a clear picture."""
    path.parent.mkdir(exist_ok=True)
    picture = Image.new("RGBA", size)
    draw = ImageDraw.Draw(picture)
    for colour, (left, top, width, height) in boxes:
        draw.rectangle((left, top, left + width - 1, top + height - 1), outline=colour)
    for colour, place in points:
        draw.point(place, fill=colour)
    picture.save(path)


def test_layer_of_frames_and_the_file_after_it(tmp_path):
    """Outlines that cross give the boxes they were drawn for; what the file says of a kind replaces what a picture shows."""
    folder = noted_project(tmp_path / "p", '[[frame]]\nframes = [0]\nboxes.strike = [1, 1, 2, 2]\n', 'layer = "marks/*.png"\n')
    draw_layer(
        folder / "marks/walk_0.png", (20, 24), [("#00ff00", (4, 2, 10, 19)), ("#ff0000", (8, 8, 12, 5))], [("#0000ff", (15, 9))]
    )
    _, frames = read(blob_of(folder))
    assert frames[0]["boxes"] == [(0, 4, 2, 10, 19), (1, 1, 1, 2, 2)]
    assert frames[0]["points"] == [(0, 15, 9)]
    assert frames[1] == {"boxes": [], "points": [], "numbers": (0, 0), "events": 0, "ticks": 0}


def test_layer_of_a_sheet(tmp_path):
    """One picture of the sheet's size is cut where the sheet is cut; boxes are in each frame's own pixels."""
    folder = noted_project(tmp_path / "p", None, 'layer = "marks.png"\n')
    sheet, marks = Image.new("RGBA", (40, 24)), Image.new("RGBA", (40, 24))
    for rank in range(2):
        ImageDraw.Draw(sheet).rectangle((20 * rank + 4, 2, 20 * rank + 12 + rank, 20), fill=(200, 60, 40, 255))
        ImageDraw.Draw(marks).rectangle((20 * rank + 4, 2, 20 * rank + 12 + rank, 20), outline="#00ff00")
    sheet.save(folder / "art/sheet.png")
    marks.save(folder / "marks.png")
    sheet_keys = 'sheet = { file = "art/sheet.png", columns = 2, rows = 1 }'
    text = (folder / "project.toml").read_text().replace('frames = "art/ada/*.png"', sheet_keys)
    (folder / "project.toml").write_text(text.replace('frames = "walk_*"', "frames = [0, 1]"))
    _, frames = read(blob_of(folder))
    assert [one["boxes"] for one in frames] == [[(0, 4, 2, 9, 19)], [(0, 4, 2, 10, 19)]]
    Image.new("RGBA", (39, 24)).save(folder / "marks.png")
    assert "marks.png: 39 x 24 pixels, frames reach to 40 x 24" in refused(folder)


def test_frames_of_boxes_have_their_names(tmp_path):
    """Figures found on a sheet: patterns over the names in its boxes file, places from each frame's own corner, on the canvas of all."""
    folder = noted_project(tmp_path / "p", '[[frame]]\nframes = "tall"\nboxes.body = [0, 0, 6, 18]\npoints.hand = [5, 17]\n')
    sheet = Image.new("RGBA", (40, 24))
    ImageDraw.Draw(sheet).rectangle((2, 2, 11, 11), fill=(200, 60, 40, 255))
    ImageDraw.Draw(sheet).rectangle((20, 4, 25, 21), fill=(200, 60, 40, 255))
    sheet.save(folder / "art/sheet.png")
    boxes = '[[frame]]\nbox = [2, 2, 10, 10]\nname = "wide"\n[[frame]]\nbox = [20, 4, 6, 18]\nname = "tall"\n'
    (folder / "art/sheet.boxes.toml").write_text(boxes)
    sheet_keys = 'sheet = { file = "art/sheet.png", boxes = "art/sheet.boxes.toml" }\nalign = "bottom"'
    text = (folder / "project.toml").read_text().replace('frames = "art/ada/*.png"', sheet_keys)
    (folder / "project.toml").write_text(text.replace('frames = "walk_*"', "frames = [0, 1]"))
    _, frames = read(blob_of(folder))
    assert frames[0]["boxes"] == []
    assert frames[1]["boxes"] == [(0, 2, 0, 6, 18)]  # on a canvas of 10 x 18, at the middle of its lower edge
    assert frames[1]["points"] == [(0, 7, 17)]


def test_animated_source(tmp_path):
    """Frames of an animation have numbers; a layer gives a picture for each, in their order."""
    folder = noted_project(tmp_path / "p", '[[frame]]\nframes = [1]\nticks = 4\n', 'layer = "marks/*.png"\n')
    pictures = [Image.open(folder / f"art/ada/walk_{rank}.png") for rank in range(2)]
    pictures[0].save(folder / "art/ada.png", save_all=True, append_images=pictures[1:], duration=80)
    text = (folder / "project.toml").read_text().replace('frames = "art/ada/*.png"', 'animated = "art/ada.png"')
    (folder / "project.toml").write_text(text.replace('[sprite.ada.animations]\nwalk = { frames = "walk_*", ms = 80 }', ""))
    draw_layer(folder / "marks/a.png", (20, 24), [("#00ff00", (4, 2, 10, 19))])
    draw_layer(folder / "marks/b.png", (20, 24), [("#00ff00", (5, 2, 10, 19))])
    _, frames = read(blob_of(folder))
    assert [(one["boxes"], one["ticks"]) for one in frames] == [([(0, 4, 2, 10, 19)], 0), ([(0, 5, 2, 10, 19)], 4)]
    (folder / "marks/b.png").unlink()
    assert "marks/a.png: 1 picture for 2 frames" in refused(folder)


def test_pictures_of_a_layer_that_cannot_be_are_refused(tmp_path):
    """File, and what is wrong with it. Common practice, no source."""
    folder = noted_project(tmp_path / "p", None, 'layer = "marks/*.png"\n')
    draw_layer(folder / "marks/walk_0.png", (20, 24))
    assert "marks/walk_0.png: shows no box and no point\n    draw in the colours of [note_kinds.colours]: body #00ff00" in refused(folder)
    draw_layer(folder / "marks/walk_0.png", (20, 24), [("#0000ff", (1, 1, 3, 3))])
    assert "has 8 pixels of #0000ff, which marks the point hand: (1, 1), (2, 1), (3, 1), ..." in refused(folder)
    draw_layer(folder / "marks/walk_0.png", (21, 24))
    assert "marks/walk_0.png: 21 x 24 pixels, its frame has 20 x 24" in refused(folder)
    draw_layer(folder / "marks/walk_9.png", (20, 24))
    (folder / "marks/walk_0.png").unlink()
    assert "marks/walk_9.png: belongs to no frame" in refused(folder)


def test_verify_finds_other_notes(tmp_path):
    """What is in the blob and differs from what conversion found is named. Common practice, no source."""
    folder = noted_project(tmp_path / "p")
    project = load_project(folder)
    run_steps(project, "verify")
    build = folder / "build"
    image_map = decode_map((build / "map.json").read_bytes(), "map.json")
    facts = {entry.name: read_facts(facts_file(build / "blobs", entry.name)) for entry in image_map.entries}
    image = next((build / "rom").glob("*.rom")).read_bytes()
    known = read_facts(facts_file(build / "blobs", "ada_notes"), NotesFacts)
    other = msgspec.structs.replace(known.intent, sha256="0" * 64)
    for changed, said in (
        (msgspec.structs.replace(known, boxes=2), "ada_notes: its box count is 4, not 2"),
        (msgspec.structs.replace(known, of="bea"), "ada_notes: its sprite is "),
        (msgspec.structs.replace(known, intent=other), "ada_notes: what it says of its frames is not what conversion wrote"),
    ):
        assert any(fault.startswith(said) for fault in verify_image(image, project.target, image_map, {**facts, "ada_notes": changed}, {}))
    assert verify_image(image, project.target, image_map, facts, {}) == []


def test_budget_counts_notes_with_their_sprite_and_trials_make_them(tmp_path):
    """A scene that loads the sprite loads the notes; one that reads it from the cartridge does not. At another scale boxes are scaled."""
    folder = noted_project(tmp_path / "p", more='[scene.direct]\nalways = ["quay", "ada"]\ndirect = ["ada"]\n')
    project = load_project(folder)
    run_steps(project, "memory")
    budget = read_budget_file(folder / "build/budget.json")
    size = (folder / "build/blobs/ada_notes.bin").stat().st_size
    play, direct = budget.scenes["play"], budget.scenes["direct"]
    assert play.bytes - direct.bytes > size
    ada = project.assets["ada"]
    half = msgspec.structs.replace(ada.spec, scale=0.5)
    with Trials(project, folder / "build/.state/trials", makers(late=False)) as trials:
        trial = trials.change([type(ada)(ada.name, ada.kind, half, ada.files)])
        assert trial.facts("ada_notes").bytes == size
        assert "noted:ada_notes" in trials.ran


def test_only_what_notes_depend_on_makes_them_again(tmp_path):
    """A step of notes reads their files and the description of the scaled frames; without notes the description is as it was."""
    folder = noted_project(tmp_path / "p")
    steps = {step.name: step for step in plan_project(load_project(folder)).steps}
    read_files = {path.relative_to(folder).as_posix() for path in steps["noted:ada_notes"].reads}
    assert read_files == {"ada.notes.toml", "build/work/ada.frames.json"}
    run_steps(load_project(folder), "prepare:ada")
    with_notes = msgspec.json.decode((folder / "build/work/ada.frames.json").read_bytes())
    text = (folder / "project.toml").read_text()
    (folder / "project.toml").write_text(text[: text.index("[notes.ada_notes]")])
    run_steps(load_project(folder), "prepare:ada")
    without = msgspec.json.decode((folder / "build/work/ada.frames.json").read_bytes())
    assert with_notes.pop("placed")
    assert with_notes == without
