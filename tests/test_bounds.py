"""Every input has a limit: what is above it, or has no end, is refused with both numbers, in little memory and time.

Source of the limits on the process: setrlimit(2). The numbers themselves are the project's own, common practice, no source.
"""

from __future__ import annotations

import json
import os
import zlib
from pathlib import Path

import pytest
from PIL import Image

from pipeline.assets.sources.pictures import open_picture
from pipeline.graph.freshness.digest import file_digest
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import STATED, TOML_BYTES, asset_room, most_frames, most_samples
from pipeline.plain.errors import ProjectError
from tests.above_bounds import CASES, png
from tests.bench.largest import KINDS
from tests.conftest import some
from tests.graph.builds import warm

ROOT = Path(__file__).parent.parent
MEMORY = 1 << 30  # bytes of address space, the interpreter and its libraries included
SECONDS = 60  # on a machine that does other things too; most take less than one
PIPE, DEVICE, OUTSIDE = "it is a named pipe, not a regular file", "it is a device, not a regular file", "leads outside the project folder"
# case -> what its refusal says, the number seen and the most among it
SAID = {
    "issues_pipe": ("issues.toml: cannot be read", PIPE),
    "project_pipe": ("project.toml: cannot be read", PIPE),
    "ledger_device": ("ledger.json", OUTSIDE),
    "long_effect": ("[effect.storm] steps", "takes 3,700 refreshes", "3,600"),
    "issues_outside": ("issues.toml", OUTSIDE),
    "testers_pipe": ("reports/testers.toml", PIPE),
    "decisions_pipe": ("reports/decisions.toml", PIPE),
    "reports_device": ("reports/bugs.json", PIPE),
    "changes_pipe": ("changes.md", PIPE),
    "template_large": ("templates/notes.txt.j2", "1,048,577 bytes", "1,048,576"),
    "picture_becomes_a_pipe": ("art/quay.png", PIPE),
    "sound_becomes_a_device": ("sound/bell.wav", PIPE),
    "project_file_large": ("project.toml", "100,000,000 bytes", "4,194,304"),
    "ledger_large": ("ledger.json", "33,554,433 bytes", "33,554,432"),
    "many_issues": ("1,001 known issues", "1,000"),
    "data_of_6_gib": ("[data.level]", "6,442,450,944 bytes", "6,291,456"),
    "data_grows_behind_the_check": ("level.bin", "6,442,450,944 bytes", "6,291,456"),
    "level_large": ("[level.cave]", "16,777,217 bytes", "16,777,216"),
    "level_of_one_long_row": ("cave.csv", "more than 65,535 columns"),
    "level_of_many_rows": ("cave.csv", "more than 65,535 rows"),
    "level_no_cartridge_holds": ("cave.csv", "7,500,000 cells", "6,291,456"),
    "level_of_wrong_cells": ("cave.csv, row 1, column 1: 'x' is not a whole number", "column 20:"),
    "notes_large": ("[notes.ada_notes]", "4,194,305 bytes", "4,194,304"),
    "notes_on_many_frames": ("ada.notes.toml", "speaks of frames 131,074 times", "131,072"),
    "notes_of_many_boxes": ("ada.notes.toml", "256 boxes of a kind", "at most 255"),
    "texts_large": ("[text.words]", "4,194,305 bytes", "4,194,304"),
    "texts_of_many_keys": ("en.txt", "has 65,536 texts", "65,535"),
    "program_large": ("[program.main]", "6,291,457 bytes", "6,291,456"),
    "text_large": ("'a.ttf' has 33,554,433 bytes", "33,554,432", "'a.txt' has 8,388,609 bytes", "8,388,608"),
    "palette_large": ("a.gpl", "4,194,305 bytes", "4,194,304"),
    "palette_picture_large": ("a.png", "1,025 x 1,024 pixels", "1,048,576"),
    "many_files": ("art/ada/*.png", "16,385 files or more", "16,384"),
    "folder_of_many_files": ("art: holds more than 16,384 files",),
    "many_frames_in_files": ("[sprite.ada]", "4,097 frames", "4,096"),
    "picture_of_8192": ("art/quay.png", "67,108,864 in all", "16,777,216"),
    "background_scaled_large": ("[background.quay]", "3,200 x 3,200", "10,240,000 in all", "8,388,608"),
    "many_parts": ("[[background.quay.part]] number 65: 65 parts", "at most 64"),
    "many_copies_of_parts": ("[background.quay]", "4,097 copies", "4,096"),
    "parts_of_many_pixels": ("[[background.quay.part]] number 3", "art/quay.png, have 134,307,728 pixels", "134,217,728"),
    "bitmap_no_cartridge_holds": ("[background.quay]", "bitmap of 527,072 bytes", "524,288"),
    "sheet_no_cartridge_holds": ("[sprite.ada]", "sheet of 6,553,600 bytes", "6,291,456"),
    "gif_of_20000_frames": ("art/ada.gif", "20,000 frames", "4,096"),
    "gif_whose_later_frame_is_large": ("art/ada.gif", "needs 60,000 x 60,000 pixels for frame 2", "16,777,216"),
    "png_announces_frames": ("art/ada.png", "20,000 frames", "4,096"),
    "png_frame_large": ("art/ada.png", "60,000 x 60,000 pixels", "16,777,216"),
    "animation_of_many_pixels": ("art/ada.png", "640,000,000 pixels in all", "536,870,912"),
    "sprite_of_many_pixels": ("[sprite.ada]", "34,078,720 in all", "33,554,432"),
    "png_of_many_chunks": ("art/quay.png", "65,537 chunks", "65,536"),
    "sound_of_1_hz": ("sound/bell.wav", "recorded at 1 Hz", "1,000 to 768,000 Hz"),
    "sound_no_cartridge_holds": ("sound/bell.wav", "6,291,483 samples", "6,291,456"),
    "jpeg_of_many_scans": ("art/quay.jpg", "scans", "100"),
    "sound_of_many_chunks": ("sound/bell.wav", "4,097 chunks", "4,096"),
    "sound_of_many_samples": ("sound/bell.wav", "134,217,729 samples", "134,217,728"),
    "sound_large": ("sound/bell.wav", "134,217,729 bytes", "134,217,728"),
    "export_cell": ("bugs.csv, line 2, column 2", "131,073 characters in one cell", "131,072"),
    "export_row": ("bugs.csv, line 2", "1,048,577 characters or more", "1,048,576"),
    "export_line": ("bugs.csv, line 2", "1,048,577 characters or more", "1,048,576"),
    "export_rows": ("bugs.csv, line 100002", "100,001 rows", "100,000"),
    "export_columns": ("bugs.csv, line 1", "1,026 columns", "1,024"),
    "export_large": ("bugs.csv", "67,108,865 bytes", "67,108,864"),
    "export_pipe": ("bugs.csv", PIPE),
    "page_large": ("a.pdf", "67,108,865 bytes", "67,108,864"),
    "page_fields": ("a.pdf: is damaged", "more than 4,096 fields"),
    "page_levels": ("a.pdf: is damaged", "16 levels"),
    "page_files": ("csv=", "2,001 PDF files", "2,000"),
    "kept_reports": ("reports/bugs.json", "100,001 reports", "100,000"),
    "target_aspect": ("[screen] pixel_aspect", "4,096.0 times", "at most 4 times"),
    "target_cartridge": ("[cartridge] sizes[1]", "135,266,304 bytes", "134,217,728"),
    "target_memory": ("[memory] size", "135,266,304 bytes", "134,217,728"),
    "command_writes_for_ever": ("[program.main] command", "bytes or more", "6,291,456"),
    "command_writes_too_much": ("[program.main] command", "6,291,457 bytes", "6,291,456"),
    "command_prints_for_long": ("[program.main] command: ended with status 3", "| y"),
    "glyph_of_absurd_size": ("a.ttf: cannot be drawn", "8,192 x 8,192 pixels", "4,096"),
}


@pytest.mark.parametrize("name", some(CASES, 15))
def test_refused_in_little_memory_and_time(tmp_path, name):
    """What is just above a bound, or endless, is refused in words, with the number seen and the most."""
    done = warm().call("tests.above_bounds:main", [name, str(tmp_path)], dict(os.environ), memory=MEMORY, seconds=SECONDS)
    assert done.status == 0, done.err[-2000:]
    said = json.loads(done.out)
    assert [part for part in SAID[name] if part not in said] == [], said


def test_every_case_is_looked_at():
    """The table of answers has every case and no other."""
    assert SAID.keys() == CASES.keys()


def test_only_regular_files_have_a_digest(tmp_path):
    """A pipe, a device and a folder count as files that cannot be read; nothing waits."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "device").symlink_to("/dev/zero")
    (tmp_path / "file").write_bytes(b"abc")
    assert [file_digest(tmp_path / name) for name in ("pipe", "device", ".", "none")] == [None] * 4
    # FIPS 180-2, appendix B.1
    assert file_digest(tmp_path / "file") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_texts_and_profiles_of_a_png_do_not_count(tmp_path):
    """Chunks that inflate to 100 MB (PNG specification, 11.3: iCCP, zTXt, iTXt) are skipped; the picture is what it was."""
    bomb = zlib.compress(bytes(100_000_000))
    chunks = [(b"iCCP", b"a\0\0" + bomb), (b"zTXt", b"a\0\0" + bomb), (b"iTXt", b"a\0\1\0\0\0" + bomb)]
    (tmp_path / "plain.png").write_bytes(png(16, 2, rows=b"\0\xf0\x0f\0\xaa\x55"))
    (tmp_path / "bombs.png").write_bytes(png(16, 2, *chunks, rows=b"\0\xf0\x0f\0\xaa\x55"))
    plain, bombs = (open_picture(tmp_path, name) for name in ("plain.png", "bombs.png"))
    assert list(bombs.tobytes()) == list(plain.tobytes())


def test_pixels_beyond_those_of_the_header_are_not_inflated(tmp_path):
    """IDAT may go on for 100 MB after the last row (PNG specification, 10.1: what is after it does not count)."""
    (tmp_path / "a.png").write_bytes(png(8, 8, rows=bytes(16) + bytes(100_000_000)))
    assert open_picture(tmp_path, "a.png").size == (8, 8)


def test_file_at_its_most_is_read_and_a_link_inside_too(tmp_path):
    """The most itself is accepted; a link may lead to another file of the project."""
    (tmp_path / "a").write_bytes(bytes(10))
    (tmp_path / "link").symlink_to("a")
    assert read_whole(tmp_path / "link", "link", 10, tmp_path) == bytes(10)
    with pytest.raises(ProjectError, match="has 10 bytes, at most 9 are read"):
        read_whole(tmp_path / "a", "a", 9, tmp_path)


def test_picture_at_its_most_is_read(tmp_path):
    """4096 x 4096 pixels are accepted."""
    Image.new("1", (4096, 4096)).save(tmp_path / "a.png")
    assert open_picture(tmp_path, "a.png").size == (4096, 4096)


def test_bounds_that_follow_from_a_target():
    """The largest cartridge, or main memory if it is larger; samples of the width they are stored in."""
    assert asset_room([1 << 20, 4 << 20], 2 << 20) == 4 << 20
    assert asset_room([1 << 20], 2 << 20) == 2 << 20
    assert most_samples(1001, 16) == 500
    assert most_samples(1001, 4) == 2002
    assert (most_frames(100), most_frames(65535)) == (100, STATED["FRAMES"].most)


def test_page_says_what_the_code_does():
    """Every stated bound is in the page with its number and reason, in the order of the code, and no other does."""
    page = (ROOT / "pipeline/guide/bounds.md").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| ") and line.count("|") == 4 and "---" not in line]
    found = [[cell.strip() for cell in line.strip("|").split("|")] for line in rows]
    wanted = [[one.what, f"{one.most:,} {one.unit}", one.why] for one in STATED.values()]
    start = found.index(["what", "limit", "why"]) + 1
    assert found[start : start + len(wanted)] == wanted
    assert TOML_BYTES == 4 << 20


def test_page_names_every_measurement():
    """The kinds that the bench measures are those of the page's table of memory."""
    page = (ROOT / "pipeline/guide/bounds.md").read_text(encoding="utf-8")
    measured = page.partition("| largest input of its kind |")[2].partition("\n\n")[0]
    assert [line.split("|")[1].strip() for line in measured.splitlines()[2:]] == list(KINDS)


def test_readme_links_the_page():
    """The page is among those of "More"."""
    assert "(pipeline/guide/bounds.md)" in (ROOT / "README.md").read_text(encoding="utf-8").partition("## More")[2]
