"""Inputs just above each bound, or that have no end, each used in a process of little memory: ``python -m tests.above_bounds``."""

from __future__ import annotations

import io
import json
import os
import re
import struct
import sys
import zlib
from collections.abc import Callable
from pathlib import Path

from PIL import Image

from pipeline.plain import bounds
from pipeline.plain.errors import ProjectError

CASES: dict[str, Callable[[Path], object]] = {}


def case(function: Callable[[Path], object]) -> Callable[[Path], object]:
    """Name a case by its function."""
    CASES[function.__name__] = function
    return function


def project(folder: Path, *changes: tuple[str, str], more: str = "", then: Callable[[Path], object] = lambda _: None, target="basalt32"):
    """Make a small project, change it, and load it."""
    from pipeline.project.loading.load import load_project
    from tests.makers import make_project

    then(make_project(folder / "ferry", *changes, more=more, target=target))
    return load_project(folder / "ferry")


def steps(loaded, *goals: str) -> None:
    """Run some steps of a project."""
    from tests.makers import run_steps

    run_steps(loaded, *goals)


def sparse(path: Path, size: int, head: bytes = b"") -> None:
    """Write a file of a size that takes no room."""
    with open(path, "wb") as file:
        file.write(head)
        file.truncate(size)


def png(width: int, height: int, *chunks: tuple[bytes, bytes], rows: bytes = b"") -> bytes:
    """Return a PNG of grey bits with more chunks after its header (PNG specification, third edition)."""
    head = (b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
    parts = [head, *chunks, (b"IDAT", zlib.compress(rows or bytes((1 + -(-width // 8)) * height))), (b"IEND", b"")]
    sums = [(len(body), name + body, zlib.crc32(name + body)) for name, body in parts]
    return b"\x89PNG\r\n\x1a\n" + b"".join(struct.pack(">I", size) + body + struct.pack(">I", crc) for size, body, crc in sums)


def gif(sizes: list[tuple[int, int]]) -> bytes:
    """Return a GIF89a of a 4 x 4 canvas with frames of some sizes, each of one code: damaged, but its blocks are whole."""
    head = b"GIF89a" + struct.pack("<HHBBB", 4, 4, 0x80, 0, 0) + bytes((0, 0, 0, 255, 255, 255))
    frames = (b"\x2c" + struct.pack("<HHHHB", 0, 0, *size, 0) + b"\x02\x02\x4c\x01\x00" for size in sizes)
    return head + b"".join(frames) + b";"


def wav(rate: int = 8000, count: int = 8, bits: int = 8, extra: bytes = b"") -> bytes:
    """Return a RIFF WAVE recording of silence (Microsoft and IBM, 1991)."""
    form = struct.pack("<HHIIHH", 1, 1, rate, rate * bits // 8, bits // 8, bits)
    data = bytes([128]) * (count * bits // 8)
    body = b"WAVEfmt " + struct.pack("<I", 16) + form + extra + b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _pipe(name: str) -> Callable[[Path], object]:
    return lambda folder: ((folder / name).unlink(missing_ok=True), (folder / name).parent.mkdir(exist_ok=True), os.mkfifo(folder / name))


def _link(name: str, to: str) -> Callable[[Path], object]:
    return lambda folder: ((folder / name).unlink(missing_ok=True), (folder / name).symlink_to(to))


@case
def issues_pipe(folder: Path):
    return project(folder, then=_pipe("issues.toml"))


@case
def project_pipe(folder: Path):
    return project(folder, then=_pipe("project.toml"))


@case
def ledger_device(folder: Path):
    return project(folder, then=_link("ledger.json", "/dev/zero"))


@case
def long_effect(folder: Path):
    return project(folder, more=f"[effect.storm]\ntimes = 100\nsteps = [{{ hold = {bounds.EFFECT_TICKS // 100 + 1} }}]\n")


@case
def issues_outside(folder: Path):
    (folder / "elsewhere.toml").write_text("")
    return project(folder, then=_link("issues.toml", str(folder / "elsewhere.toml")))


@case
def testers_pipe(folder: Path):
    from pipeline.project.testers import read_testers

    _pipe("reports/testers.toml")(folder)
    return read_testers(folder)


@case
def decisions_pipe(folder: Path):
    from pipeline.intake.decisions import read_decisions

    _pipe("decisions.toml")(folder)
    return read_decisions(folder, set(), set())


@case
def reports_device(folder: Path):
    from pipeline.intake.store import load_reports

    _pipe("bugs.json")(folder)
    return load_reports(folder, "bugs")


@case
def changes_pipe(folder: Path):
    from pipeline.project.words import read_words

    _pipe("changes.md")(folder)
    return read_words(folder)


@case
def template_large(folder: Path):
    from pipeline.plain.rendering import find_template, render

    (folder / "templates").mkdir()
    sparse(folder / "templates/notes.txt.j2", bounds.WORDS_BYTES + 1)
    return render(find_template(folder, "notes.txt.j2"), {})


@case
def picture_becomes_a_pipe(folder: Path):
    loaded = project(folder)
    _pipe("art/quay.png")(folder / "ferry")
    steps(loaded, "prepare:quay")


@case
def sound_becomes_a_device(folder: Path):
    loaded = project(folder)
    (folder / "ferry/sound/bell.wav").unlink()
    os.mkfifo(folder / "ferry/sound/bell.wav")
    steps(loaded, "sound:bell")


@case
def project_file_large(folder: Path):
    return project(folder, then=lambda made: sparse(made / "project.toml", 100_000_000))


@case
def ledger_large(folder: Path):
    return project(folder, then=lambda made: sparse(made / "ledger.json", bounds.JSON_BYTES + 1))


@case
def many_issues(folder: Path):
    text = "".join(f'[[issue]]\nid = "T-{rank}"\nseverity = "minor"\nwhere = "Quay"\nwhat = "No."\n' for rank in range(bounds.ISSUES))
    return project(folder, more=text)


@case
def data_of_6_gib(folder: Path):
    return project(folder, then=lambda made: sparse(made / "level.bin", 6 << 30))


@case
def data_grows_behind_the_check(folder: Path):
    loaded = project(folder)
    sparse(folder / "ferry/level.bin", 6 << 30)
    steps(loaded, "data:level")


def _level(folder: Path, data: bytes) -> None:
    more = '[level.cave]\nfile = "cave.csv"\n'
    steps(project(folder, more=more, then=lambda made: (made / "cave.csv").write_bytes(data)), "level:cave")


@case
def level_large(folder: Path):
    more = '[level.cave]\nfile = "cave.csv"\n'
    return project(folder, more=more, then=lambda made: sparse(made / "cave.csv", bounds.LEVEL_BYTES + 1))


@case
def level_of_one_long_row(folder: Path):
    _level(folder, b"1," * (bounds.LEVEL_BYTES // 2 - 1) + b"1")


@case
def level_of_many_rows(folder: Path):
    _level(folder, b"1\n" * (bounds.GRID_SIDE + 1))


@case
def level_no_cartridge_holds(folder: Path):
    _level(folder, (b"1," * 2999 + b"1\n") * 2500)


@case
def level_of_wrong_cells(folder: Path):
    _level(folder, (b"x," * 1999 + b"x\n") * 3000)


_NOTED = '[note_kinds]\nboxes = ["body"]\n[notes.ada_notes]\nof = "ada"\nfile = "ada.notes.toml"\n'


def _noted(folder: Path, text: str) -> None:
    steps(project(folder, more=_NOTED, then=lambda made: (made / "ada.notes.toml").write_text(text)), "noted:ada_notes")


@case
def notes_large(folder: Path):
    return project(folder, more=_NOTED, then=lambda made: sparse(made / "ada.notes.toml", bounds.TOML_BYTES + 1))


@case
def notes_on_many_frames(folder: Path):
    _noted(folder, f"[[frame]]\nframes = {[0, 1] * (bounds.NOTED_FRAMES // 2 + 1)}\n")


@case
def notes_of_many_boxes(folder: Path):
    numbers = f"frames = {[0, 1]}\nboxes.body = {[[0, 0, 1, 1]] * 256}\n"
    _noted(folder, f"[[frame]]\n{numbers}")


@case
def texts_large(folder: Path):
    more = '[text.words]\nlanguages = { en = "en.txt" }\n'
    return project(folder, more=more, then=lambda made: sparse(made / "en.txt", bounds.TOML_BYTES + 1))


@case
def texts_of_many_keys(folder: Path):
    more = '[text.words]\nlanguages = { en = "en.txt" }\n'
    text = "".join(f"k{rank}=a\n" for rank in range(65536))
    steps(project(folder, more=more, then=lambda made: (made / "en.txt").write_text(text)), "text:words")


@case
def program_large(folder: Path):
    return project(folder, then=lambda made: sparse(made / "main.bin", (6 << 20) + 1))


@case
def text_large(folder: Path):
    more = '[font.small]\nfile = "a.ttf"\nsize = 16\ntexts = ["*.txt"]\npalette = "figures"\n'

    def write(made: Path) -> None:
        sparse(made / "a.ttf", bounds.FONT_BYTES + 1)
        sparse(made / "a.txt", bounds.TEXT_BYTES + 1)

    return project(folder, more=more, then=write)


@case
def palette_large(folder: Path):
    change = ("colours = 8\ntransparent = true", 'file = "a.gpl"\ntransparent = true')
    return project(folder, change, then=lambda made: sparse(made / "a.gpl", bounds.PALETTE_BYTES + 1))


@case
def palette_picture_large(folder: Path):
    change = ("colours = 8\ntransparent = true", 'file = "a.png"\ntransparent = true')
    steps(project(folder, change, then=lambda made: (made / "a.png").write_bytes(png(1025, 1024))), "palette:figures")


@case
def many_files(folder: Path):
    def write(made: Path) -> None:
        for rank in range(bounds.FILES + 1):
            (made / f"art/ada/walk_{rank}.png").touch()

    return project(folder, then=write)


@case
def folder_of_many_files(folder: Path):
    from pipeline.bringing.look import look_through

    art = folder / "art"
    art.mkdir()
    for rank in range(bounds.BROUGHT_FILES + 1):
        (art / f"walk_{rank}.png").touch()
    return look_through(art)


@case
def many_frames_in_files(folder: Path):
    def write(made: Path) -> None:
        for rank in range(bounds.FRAMES + 1):
            (made / f"art/ada/walk_{rank}.png").touch()

    steps(project(folder, then=write), "prepare:ada")


@case
def picture_of_8192(folder: Path):
    steps(project(folder, then=lambda made: (made / "art/quay.png").write_bytes(png(8192, 8192))), "prepare:quay")


@case
def background_scaled_large(folder: Path):
    change = ('file = "art/quay.png"', 'file = "art/quay.png"\nscale = 8')
    steps(project(folder, change, then=lambda made: (made / "art/quay.png").write_bytes(png(400, 400))), "prepare:quay")


def _parts(folder: Path, *parts: str, side: int = 64):
    """Make a project whose background has parts of its own picture."""
    more = "".join(f'[[background.quay.part]]\nfile = "art/quay.png"\nat = [0, 0]\n{one}\n' for one in parts)
    return project(folder, more=more, then=lambda made: (made / "art/quay.png").write_bytes(png(side, side)))


@case
def many_parts(folder: Path):
    _parts(folder, *["scale = 0.5"] * 65)


@case
def many_copies_of_parts(folder: Path):
    _parts(folder, "scale = 0.1\nrepeat = [64, 32]\nevery = [0.1, 0.1]", "scale = 0.1\nrepeat = [683, 3]\nevery = [0.01, 0.1]")


@case
def parts_of_many_pixels(folder: Path):
    # Each copy is of 2048 x 2048 pixels, 4,194,304; the last part of 300 x 300.
    many = "scale = 0.01\nrepeat = [16, 1]\nevery = [1, 0]"
    steps(_parts(folder, many, many, "box = [0, 0, 300, 300]", side=2048), "prepare:quay")


@case
def bitmap_no_cartridge_holds(folder: Path):
    # 1448 x 1448 pixels of 2 bits are 524,176 bytes; the largest cartridge of this console has 524,288. One cell more is too much.
    loaded = project(folder, target="pebble8", then=lambda made: (made / "art/quay.png").write_bytes(png(1448, 1456)))
    steps(loaded, "background:quay")


@case
def sheet_no_cartridge_holds(folder: Path):
    change = ('frames = "art/ada/*.png"', 'sheet = { file = "art/sheet.png", columns = 25, rows = 1 }')
    more = ('[sprite.ada.animations]\nwalk = { frames = "walk_*", ms = 80 }\n', "")
    steps(project(folder, change, more, then=lambda made: (made / "art/sheet.png").write_bytes(png(512 * 25, 512))), "sprite:ada")


def _animated(folder: Path, data: bytes, ending: str) -> None:
    change = ('frames = "art/ada/*.png"', f'animated = "art/ada.{ending}"')
    more = ('[sprite.ada.animations]\nwalk = { frames = "walk_*", ms = 80 }\n', "")
    steps(project(folder, change, more, then=lambda made: (made / f"art/ada.{ending}").write_bytes(data)), "prepare:ada")


@case
def gif_of_20000_frames(folder: Path):
    _animated(folder, gif([(4, 4)] * 20_000), "gif")


@case
def gif_whose_later_frame_is_large(folder: Path):
    _animated(folder, gif([(4, 4), (4, 4), (60_000, 60_000)]), "gif")


@case
def png_announces_frames(folder: Path):
    _animated(folder, png(4, 4, (b"acTL", struct.pack(">II", 20_000, 0))), "png")


@case
def png_frame_large(folder: Path):
    frame = struct.pack(">IIIIIHHBB", 0, 60_000, 60_000, 0, 0, 1, 10, 0, 0)
    _animated(folder, png(4, 4, (b"acTL", struct.pack(">II", 2, 0)), (b"fcTL", frame)), "png")


@case
def animation_of_many_pixels(folder: Path):
    frame = struct.pack(">IIIIIHHBB", 0, 4000, 4000, 0, 0, 1, 10, 0, 0)
    _animated(folder, png(4000, 4000, (b"acTL", struct.pack(">II", 40, 0)), (b"fcTL", frame)), "png")


@case
def sprite_of_many_pixels(folder: Path):
    def write(made: Path) -> None:
        for rank in range(130):
            (made / f"art/ada/walk_{rank}.png").write_bytes(png(512, 512))

    steps(project(folder, then=write), "prepare:ada")


@case
def png_of_many_chunks(folder: Path):
    chunks = [(b"tEXt", b"a\0b")] * bounds.PNG_CHUNKS
    steps(project(folder, then=lambda made: (made / "art/quay.png").write_bytes(png(4, 4, *chunks))), "prepare:quay")


@case
def jpeg_of_many_scans(folder: Path):
    def write(made: Path) -> None:
        out = io.BytesIO()
        Image.new("RGB", (8, 8)).save(out, "JPEG", progressive=True)
        data = out.getvalue()
        last = data.rindex(b"\xff\xda")
        (made / "art/quay.jpg").write_bytes(data[:last] + data[last:-2] * bounds.JPEG_SCANS + data[-2:])

    change = ('file = "art/quay.png"', 'file = "art/quay.jpg"')
    steps(project(folder, change, then=write), "prepare:quay")


@case
def sound_of_1_hz(folder: Path):
    change = ('file = "sound/bell.wav"', 'file = "sound/bell.wav"\nrate = 44100')
    steps(project(folder, change, then=lambda made: (made / "sound/bell.wav").write_bytes(wav(1, 6000))), "sound:bell")


@case
def sound_no_cartridge_holds(folder: Path):
    change = ('file = "sound/bell.wav"', 'file = "sound/bell.wav"\nrate = 44100')
    count = (6 << 20) * 1000 // 44100 + 1
    steps(project(folder, change, then=lambda made: (made / "sound/bell.wav").write_bytes(wav(1000, count))), "sound:bell")


@case
def sound_of_many_chunks(folder: Path):
    extra = b"junk\0\0\0\0" * bounds.SOUND_CHUNKS
    steps(project(folder, then=lambda made: (made / "sound/bell.wav").write_bytes(wav(extra=extra))), "sound:bell")


@case
def sound_of_many_samples(folder: Path):
    # RFC 9639, 8.2: blocks of 4096, 8000 Hz, one channel, 16 bits, and how many samples there are.
    head = struct.pack(">HH6x", 4096, 4096) + (8000 << 44 | 15 << 36 | bounds.SOUND_SAMPLES + 1).to_bytes(8, "big") + bytes(16)
    flac = b"fLaC\x80" + len(head).to_bytes(3, "big") + head
    steps(project(folder, then=lambda made: (made / "sound/bell.wav").write_bytes(flac)), "sound:bell")


@case
def sound_large(folder: Path):
    return project(folder, then=lambda made: sparse(made / "sound/bell.wav", bounds.SOUND_BYTES + 1, wav()))


def _export(folder: Path, data: bytes) -> None:
    from pipeline.intake.exports import open_export
    from pipeline.project.intake import BugColumns, BugForm

    (folder / "bugs.csv").write_bytes(data)
    forms = {"bugs": BugForm(columns=BugColumns(what="what", build="build"))}
    for _ in open_export(folder / "bugs.csv", "bugs.csv", forms).rows():
        pass


@case
def export_cell(folder: Path):
    _export(folder, b"build,what\n1," + b"x" * (bounds.EXPORT_CELL + 1) + b"\n")


@case
def export_row(folder: Path):
    _export(folder, b'build,what\n1,"a\n' + b"x\n" * bounds.EXPORT_ROW)


@case
def export_line(folder: Path):
    _export(folder, b"build,what\n1," + b"x" * 60_000_000)


@case
def export_rows(folder: Path):
    _export(folder, b"build,what\n" + b"1,x\n" * (bounds.EXPORT_ROWS + 1))


@case
def export_columns(folder: Path):
    _export(folder, b"build,what" + b",x" * bounds.EXPORT_COLUMNS + b"\n")


@case
def export_large(folder: Path):
    from pipeline.intake.exports import open_export
    from pipeline.project.intake import BugColumns, BugForm

    sparse(folder / "bugs.csv", bounds.EXPORT_BYTES + 1, b"build,what\n")
    open_export(folder / "bugs.csv", "bugs.csv", {"bugs": BugForm(columns=BugColumns(what="what"))})


@case
def export_pipe(folder: Path):
    from pipeline.intake.exports import open_export
    from pipeline.project.intake import BugColumns, BugForm

    os.mkfifo(folder / "bugs.csv")
    open_export(folder / "bugs.csv", "bugs.csv", {"bugs": BugForm(columns=BugColumns(what="what"))})


def _pages(*paths: Path) -> None:
    from pipeline.intake.filled import read_pages
    from pipeline.plain.errors import ProjectError

    problems = read_pages([(path, path.name) for path in paths]).problems
    raise ProjectError(problems)


def _form(path: Path, fields: int, levels: int = 1) -> Path:
    import pikepdf

    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        made = [pikepdf.Dictionary(T=pikepdf.String(f"f{rank}")) for rank in range(fields)]
        for level in range(levels - 1):
            made = [pikepdf.Dictionary(T=pikepdf.String(f"l{level}"), Kids=pikepdf.Array(made))]
        pdf.Root.AcroForm = pikepdf.Dictionary(Fields=pikepdf.Array(made))
        pdf.save(path)
    return path


@case
def page_large(folder: Path):
    sparse(folder / "a.pdf", bounds.PDF_BYTES + 1, b"%PDF-1.7")
    _pages(folder / "a.pdf")


@case
def page_fields(folder: Path):
    _pages(_form(folder / "a.pdf", bounds.PAGE_FIELDS + 1))


@case
def page_levels(folder: Path):
    _pages(_form(folder / "a.pdf", 1, bounds.PAGE_LEVELS + 1))


@case
def page_files(folder: Path):
    _pages(*(folder / f"{rank}.pdf" for rank in range(bounds.PAGE_FILES + 1)))


@case
def kept_reports(folder: Path):
    from pipeline.intake.store import Reports, save_reports

    save_reports(folder, Reports("bugs", reports=[{"id": f"R-{rank}", "what": "x"} for rank in range(bounds.KEPT_REPORTS + 1)]))


def _target(folder: Path, *changes: tuple[tuple, object]) -> None:
    from tests.makers import changed, read_target, target_data, toml_text

    read_target(folder, toml_text(changed(target_data(), *changes)))


@case
def target_aspect(folder: Path):
    _target(folder, (("screen", "pixel_aspect"), [4096, 1]))


@case
def target_cartridge(folder: Path):
    _target(folder, (("cartridge", "sizes"), ["1 MiB", "129 MiB"]))


@case
def target_memory(folder: Path):
    _target(folder, (("memory", "size"), "129 MiB"))


def _command(folder: Path, script: str) -> None:
    steps(project(folder, ('file = "main.bin"', f"command = ['sh', '-c', '{script}', 'sh', '{{output}}']")), "program:main")


@case
def command_writes_for_ever(folder: Path):
    _command(folder, 'yes > "$1"')


@case
def command_writes_too_much(folder: Path):
    _command(folder, 'head -c 6291457 /dev/zero > "$1"')


@case
def command_prints_for_long(folder: Path):
    _command(folder, "yes | head -c 1100000000; exit 3")


@case
def glyph_of_absurd_size(folder: Path):
    from tests.assets.fonts import made_font

    more = '[font.small]\nfile = "a.ttf"\nsize = 256\ncharacters = "A"\npalette = "figures"\n'
    data = made_font([65], shapes={65: (-16_000, -16_000, 16_000, 16_000)})
    steps(project(folder, more=more, then=lambda made: (made / "a.ttf").write_bytes(data)), "prepare:small")


def main(name: str, folder: str) -> None:
    """Run a case and print what it was refused with, on one line."""
    try:
        CASES[name](Path(folder))
    except ProjectError as error:
        print(json.dumps(re.sub(r"\s+", " ", str(error))))


if __name__ == "__main__":
    main(*sys.argv[1:])
