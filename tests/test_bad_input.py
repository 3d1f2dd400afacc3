"""Files an author may hand in that cannot be used: each is refused in words, and the last good build stays as it was.

Pictures and recordings are damaged byte by byte after the published layouts: PNG (ISO/IEC 15948), APNG's acTL chunk (PNG
third edition), GIF89a, RIFF WAVE (Microsoft and IBM, 1991). Where a message ends in words of Pillow or of the system
(POSIX error texts), the test compares the part before them.
"""

from __future__ import annotations

import hashlib
import io
import resource
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import png as pypng
import pytest
from PIL import Image

from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from tests.graph.builds import copy_built, run
from tests.makers import (
    PROJECT,
    build_here,
    draw_frame,
    make_project,
    project_text,
    run_steps,
    target_data,
    toml_text,
    write_text,
    write_wav,
)
from tests.sound.whole import read_wav

ROOT = Path(__file__).parent.parent
AGAIN = "save it again from the paint program"
MOST = "at most 16,777,216 are taken"
DAMAGED = "is damaged or cut short: "


def chunk(name: bytes, content: bytes) -> bytes:
    """Return one PNG chunk: length, name, content, CRC-32 of the last two (ISO/IEC 15948, 5.3)."""
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def png(width: int = 4, height: int = 4, depth: int = 8, colour: int = 2, rows: bytes | None = None) -> bytes:
    """Return a PNG whose rows may be given; colour 0 is grey, 2 is RGB (ISO/IEC 15948, 11.2.2)."""
    rows = bytes((1 + width * depth * (3 if colour == 2 else 1) // 8) * height) if rows is None else rows
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def picture(kind: str, mode: str = "RGB", frames: int = 1) -> bytes:
    """Return a picture as Pillow saves it, a grey slope; every frame is shifted against the one before."""
    slope = Image.linear_gradient("L").resize((20, 64))
    still = [slope.crop((0, rank, 20, rank + 24)).convert("RGB").convert(mode) for rank in range(frames)]
    out = io.BytesIO()
    more = {"save_all": True, "append_images": still[1:], "duration": 40} if frames > 1 else {}
    still[0].save(out, kind, **more)
    return out.getvalue()


HUGE_TGA = bytes([0, 0, 10, *[0] * 9, 255, 255, 255, 255, 24, 0])
HUGE_WEBP = b"RIFF\x16\0\0\0WEBPVP8X\x0a\0\0\0" + bytes(4) + b"\xff" * 6  # a canvas of 2^24 x 2^24 (RFC 9649, 2.7)
# name, content (None: no such file), what is wrong, remedy
PICTURES = [
    ("a.png", None, "cannot be read: No such file or directory", "check the file and its permissions"),
    ("a.png", b"", "is an empty file", AGAIN),
    ("a.png", b"no picture", "is not a picture that can be read", "save it as PNG"),
    ("a.png", png(depth=16, colour=0), "has 16 bits a channel", "save it with 8 bits a channel"),
    ("a.png", png(depth=16, colour=2), "has 16 bits a channel", "save it with 8 bits a channel"),
    ("a.tif", picture("TIFF", "CMYK"), "has CMYK colours", "convert it to RGB and save it as PNG"),
    ("a.jpg", picture("JPEG", "CMYK"), "has CMYK colours", "convert it to RGB and save it as PNG"),
    ("a.png", picture("JPEG"), "is a JPEG file with the ending of a PNG file", "rename it, or save it again"),
    ("a.tga", picture("PNG"), "is a PNG file with the ending of a TGA file", "rename it, or save it again"),
    ("a.png", picture("TGA"), "is not a picture that can be read", "save it as PNG"),
    ("a.tif", picture("TIFF"), "is a TIFF file", "save it as PNG"),
    ("a.webp", picture("WEBP", frames=3), "is an animated WebP file", "save it as an animated GIF or PNG, or one frame of it as PNG"),
    ("a.tga", picture("TGA", "LA"), "is a TGA file with 16 bits a pixel", "save it with 24 or 32 bits a pixel, or as PNG"),
    ("a.ppm", b"P3 1 1 255 9 9 9", "is a PPM file of the form P3", "save it in binary form (P4, P5 or P6), or as PNG"),
    ("a.ppm", b"P6 1 1 15 " + bytes(3), "is a PPM file whose largest value is not 255", "save it with 8 bits a channel, or as PNG"),
    ("a.ppm", b"P6 9000 9000 255 ", f"has 9,000 x 9,000 pixels, 81,000,000 in all; {MOST}", "scale it down first"),
    ("a.tga", HUGE_TGA, f"has 65,535 x 65,535 pixels, 4,294,836,225 in all; {MOST}", "scale it down first"),
    ("a.webp", HUGE_WEBP, f"has 16,777,216 x 16,777,216 pixels, 281,474,976,710,656 in all; {MOST}", "scale it down first"),
    ("a.png", picture("BMP"), "is a BMP file with the ending of a PNG file", "rename it, or save it again"),
    ("a.gif", picture("PNG"), "is a PNG file with the ending of a GIF file", "rename it, or save it again"),
    ("a.png", picture("PNG", frames=3), "an animation of 3 frames where one picture is expected", None),
    ("a.gif", picture("GIF", frames=3), "an animation of 3 frames where one picture is expected", None),
    ("a.png", png(9000, 9000, 1, 0), f"has 9,000 x 9,000 pixels, 81,000,000 in all; {MOST}", "scale it down first"),
    ("a.png", png(10000, 10000, rows=b""), f"has 10,000 x 10,000 pixels, 100,000,000 in all; {MOST}", "scale it down first"),
    ("a.png", png(60000, 60000, rows=b""), f"has 60,000 x 60,000 pixels, 3,600,000,000 in all; {MOST}", "scale it down first"),
    ("a.png", png(0, 7, rows=b""), "has 0 x 7 pixels", "export it with a canvas of at least one pixel"),
]


@pytest.mark.parametrize(("name", "content", "wrong", "remedy"), PICTURES, ids=[f"{one[0]} {one[2]}" for one in PICTURES])
def test_picture_that_cannot_be_used_is_refused(tmp_path, name, content, wrong, remedy):
    """What the file is, or why it is none, is said without a traceback."""
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(ProjectError) as caught:
        open_picture(tmp_path, name)
    assert str(caught.value) == f"{name}: {wrong}\n    {remedy or 'name it under animated of a sprite, or save one frame'}"


@pytest.mark.parametrize("kind", ["PNG", "GIF", "BMP", "TGA", "PCX", "PPM", "JPEG", "WEBP"])
def test_still_picture_cut_anywhere_is_refused(tmp_path, kind):
    """Cut in the middle, or of its last bytes, a picture never passes; PNG's last four are the sum of an empty chunk."""
    whole = picture(kind)
    open_whole(tmp_path, kind, whole)
    needed = len(whole) - 26 if kind == "TGA" else len(whole)  # a footer of 26 bytes is optional (Truevision TGA 2.0)
    for length in [*range(1, needed - 4, 7), needed // 2, needed - 12, needed - 5]:
        with pytest.raises(ProjectError) as caught:
            open_whole(tmp_path, kind, whole[:length])
        said = str(caught.value)
        assert said.startswith((f"a.{kind.lower()}: {DAMAGED}", f"a.{kind.lower()}: is not a picture")), said
        assert said.endswith((f"\n    {AGAIN}", "\n    save it as PNG")), said


def open_whole(folder: Path, kind: str, content: bytes):
    """Open bytes as a still picture."""
    (folder / f"a.{kind.lower()}").write_bytes(content)
    return open_picture(folder, f"a.{kind.lower()}")


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
def test_transparent_grey_of_few_bits_stays_transparent(tmp_path, depth):
    """Every grey of a depth in turn as the transparent one (tRNS, ISO/IEC 15948, 11.3.2.1), against what pypng decodes."""
    greys = list(range(1 << depth))
    for key in {0, 1, len(greys) // 2, len(greys) - 1}:
        with open(tmp_path / "a.png", "wb") as file:
            pypng.Writer(width=len(greys), height=1, greyscale=True, bitdepth=depth, transparent=key).write(file, [greys])
        _, _, rows, _ = pypng.Reader(filename=str(tmp_path / "a.png")).asRGBA8()
        assert open_picture(tmp_path, "a.png").tobytes() == b"".join(map(bytes, rows))


def test_interlaced_animation_is_read(tmp_path):
    """Adam7 (ISO/IEC 15948, 8.2) in every frame of an APNG; 1 x 1 pixel is one row of the first pass."""
    rows = [zlib.compress(bytes([0, grey, 9, 9, 255])) for grey in (10, 20, 30)]
    control = [chunk(b"fcTL", struct.pack(">IIIIIHHBB", number, 1, 1, 0, 0, 1, 10, 0, 0)) for number in (0, 1, 3)]
    data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 6, 0, 0, 1))
    data += chunk(b"acTL", struct.pack(">II", 3, 0)) + control[0] + chunk(b"IDAT", rows[0])
    data += control[1] + chunk(b"fdAT", struct.pack(">I", 2) + rows[1]) + control[2] + chunk(b"fdAT", struct.pack(">I", 4) + rows[2])
    (tmp_path / "a.png").write_bytes(data + chunk(b"IEND", b""))
    assert [frame.getpixel((0, 0)) for frame, _ in open_animation(tmp_path, "a.png")] == [(10, 9, 9, 255), (20, 9, 9, 255), (30, 9, 9, 255)]


@pytest.mark.parametrize("kind", ["PNG", "GIF"])
def test_animation_cut_anywhere_is_refused_or_shorter(tmp_path, kind):
    """An animation cut short is refused, or, cut between two frames of a GIF, has fewer frames; nothing else happens."""
    whole, name = picture(kind, frames=4), f"a.{kind.lower()}"
    (tmp_path / name).write_bytes(whole)
    assert len(list(open_animation(tmp_path, name))) == 4
    for length in range(1, len(whole) - 4, 3):
        (tmp_path / name).write_bytes(whole[:length])
        count, said = opened(tmp_path, name)
        if count:
            assert kind == "GIF", length
            assert 2 <= count <= 4, length
        else:
            assert said.startswith((f"{name}: {DAMAGED}", f"{name}: is not a picture", f"{name}: holds one frame")), length


def opened(folder: Path, name: str) -> tuple[int, str]:
    """Return the frames of an animation, or 0 and the refusal."""
    try:
        return len(list(open_animation(folder, name))), ""
    except ProjectError as error:
        return 0, str(error)


def test_animation_that_claims_more_frames_than_it_has_is_refused(tmp_path):
    """APNG's acTL chunk says how many frames there are; here it says 9 of 3."""
    whole = picture("PNG", frames=3)
    at = whole.index(b"acTL") - 4
    (tmp_path / "a.png").write_bytes(whole[:at] + chunk(b"acTL", struct.pack(">II", 9, 0)) + whole[at + 20 :])
    with pytest.raises(ProjectError) as caught:
        list(open_animation(tmp_path, "a.png"))
    assert str(caught.value).startswith(f"a.png: {DAMAGED}")


def test_still_picture_where_an_animation_is_expected_is_refused(tmp_path):
    """One frame is not an animation."""
    (tmp_path / "a.gif").write_bytes(picture("GIF"))
    with pytest.raises(ProjectError) as caught:
        list(open_animation(tmp_path, "a.gif"))
    assert str(caught.value) == "a.gif: holds one frame, no animation\n    name it under frames, or save it as an animation"


def wav(code: int = 1, channels: int = 1, rate: int = 8000, bits: int = 16, data: bytes = bytes(64), claimed: int | None = None) -> bytes:
    """Return a RIFF WAVE file of a format code and sample width; the data chunk may claim another length."""
    block = channels * bits // 8
    form = struct.pack("<HHIIHH", code, channels, rate, rate * block, block, bits)
    body = b"WAVE" + b"fmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(data) if claimed is None else claimed) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


EXPORT = "export it again, best as WAV or FLAC"
UNKNOWN = "cannot be decoded: File contains data in an unimplemented format"  # libsndfile's words
RECORDINGS = [
    (b"", "is an empty file", "record or export it again"),
    (b"OggS" + bytes(60), "is damaged: the checksum of page 1 of the Ogg file is wrong", EXPORT),
    (wav(code=0xFFFE), UNKNOWN, EXPORT),
    (wav(data=b""), "holds no samples", "export it again"),
    (wav(rate=0), "holds no samples", "export it again"),
    (wav()[:-12], "is cut short: 26 of 32 samples are there", "export it again"),
    (wav(claimed=2000), "is cut short: 32 of 1000 samples are there", "export it again"),
]


@pytest.mark.parametrize(("content", "wrong", "remedy"), RECORDINGS, ids=[one[1] for one in RECORDINGS])
def test_recording_that_cannot_be_used_is_refused(content, wrong, remedy):
    """What the recording is, or what is missing of it, is said."""
    with pytest.raises(ProjectError) as caught:
        read_wav(content, "bell.wav")
    assert str(caught.value) == f"bell.wav: {wrong}\n    {remedy}"


def test_recording_cut_anywhere_is_refused():
    """No beginning of a recording passes for the whole."""
    whole = wav()
    assert len(read_wav(whole, "bell.wav")[0]) == 32
    for length in range(len(whole)):
        with pytest.raises(ProjectError):
            read_wav(whole[:length], "bell.wav")


# From here on: whole builds.


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """A project built once by the command authors use."""
    folder = make_project(tmp_path_factory.mktemp("good") / "ferry")
    done = doit(folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture
def ferry(good, tmp_path):
    """A copy of the built project; after the test its image, map and kit must be those of the good build."""
    folder = copy_built(good, tmp_path / "ferry")
    before = kept(good)
    assert [sum(name.startswith(part) for name in before) for part in ("rom/", "map.json", "kit/")] == [1, 1, 2]
    yield folder
    assert kept(folder) == before


def kept(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of what a good build leaves to hand out: image, map and kit."""
    build = folder / "build"
    files = [*(build / "rom").iterdir(), build / "map.json", *(build / "kit").iterdir()]
    return {path.relative_to(build).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def doit(folder: Path, *words: str, limit: int | None = None) -> subprocess.CompletedProcess:
    """Run the build from the repository, perhaps with a limit in bytes on every file written."""
    if limit is None:
        return run(folder, *words)
    command = [sys.executable, "-m", "doit", "-f", "dodo.py", *words, f"project={folder}"]

    def limit_files():
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, preexec_fn=limit_files)


def refused(folder: Path) -> str:
    """Build in this process as far as it goes; return the whole text of the refusal."""
    with pytest.raises(ProjectError) as caught:
        run_steps(load_project(folder), "kit")
    return str(caught.value)


def change(folder: Path, *changes: tuple[str, str], more: str = "") -> None:
    """Rewrite the project file with pieces exchanged."""
    write_text(folder, project_text(*changes, more=more))


MAIN = 'file = "main.bin"'
BELL = 'file = "sound/bell.wav"'
WALK = 'walk = { frames = "walk_*", ms = 80 }'
FIGURES = "colours = 8\ntransparent = true"
LEVEL = 'file = "level.bin"'


def test_frames_of_two_sizes_are_refused(ferry):
    """Frames of a sprite share one canvas."""
    draw_frame(ferry / "art/ada/walk_1.png", 1, (21, 24))
    assert refused(ferry) == (
        "art/ada/walk_1.png: 21 x 24 pixels, the first frame has 20 x 24\n"
        "    give all frames one canvas size, so that they stay in place, or put them on one by align = \"bottom\""
    )


def test_frame_larger_than_the_console_draws_is_refused(ferry):
    """The limit of the target file holds after scaling."""
    change(ferry, ('palette = "figures"', 'palette = "figures"\nscale = 8'))
    for rank in range(2):
        draw_frame(ferry / f"art/ada/walk_{rank}.png", rank, (70, 24))
    assert refused(ferry) == (
        "art/ada/walk_0.png: 560 x 192 pixels after scaling, the target draws at most 512 x 512\n"
        "    set a smaller scale, or split the figure"
    )


def test_anchor_that_cannot_be_stored_is_refused_with_its_place(ferry):
    """A blob holds an anchor in 16 bits, signed (blobs.md)."""
    change(ferry, ('palette = "figures"', 'palette = "figures"\nscale = 0.5\nanchor = [80000, -3]'))
    assert refused(ferry) == (
        "project.toml, [sprite.ada] anchor: 40000, -1 after scaling; -32,768 to 32,767 can be stored\n"
        "    give a point in the source frame or near it, in pixels from its top left"
    )


def test_more_colours_than_an_exact_palette_holds_are_refused(ferry):
    """With exact = true three colours do not become two."""
    change(ferry, (FIGURES, "colours = 2\ntransparent = true\nexact = true"))
    assert refused(ferry) == (
        "project.toml, [palette.figures]: 2 colours, 1 fit\n"
        "    reduce the colours in the art, raise colours, or set exact = false to have the best ones chosen"
    )


def test_more_colours_in_a_loaded_palette_than_it_holds_are_refused(ferry):
    """A palette's picture of 24 grey rows has more colours than 8."""
    (ferry / "art/colours.png").write_bytes(picture("PNG"))
    change(ferry, (FIGURES, FIGURES + '\nfile = "art/colours.png"'))
    count = len({(red >> 3) for red in Image.open(ferry / "art/colours.png").convert("RGB").tobytes()})
    said = refused(ferry)
    assert said.startswith("art/colours.png: ")
    assert said.endswith(
        " colours as the console shows them, palette 'figures' holds 7\n"
        "    remove colours from the file, or raise colours of the palette if the pixels can hold more"
    )
    assert abs(int(said.split()[1]) - count) <= 1  # rounding to the nearest of 32 levels, not down


def test_sheet_that_does_not_part_is_refused(ferry):
    """A sheet's columns divide its width."""
    sheet = 'sheet = { file = "art/ada/walk_0.png", columns = 3, rows = 1 }'
    change(ferry, ('frames = "art/ada/*.png"', sheet), (WALK, "walk = { frames = [0], ms = 80 }"))
    assert refused(ferry) == (
        "art/ada/walk_0.png: 20 pixels across do not divide into 3 columns\n"
        "    by its empty lines, likeliest first: frame = [6, 24], margin = [1, 0] (3 x 1) "
        "or frame = [8, 24], margin = [2, 0] (2 x 1) or frame = [10, 24] (2 x 1)"
    )


SHORT = "write milliseconds, for example 80"
NUMBERS = [
    ("1e9", f"a step takes at most 1093343 ms\n    {SHORT}"),
    ("inf", f"a step takes at most 1093343 ms\n    {SHORT}"),
    ("nan", f"a duration must be above 0\n    {SHORT}"),
    ("[80, nan]", f"a duration must be above 0\n    {SHORT}"),
]


@pytest.mark.parametrize(("duration", "said"), NUMBERS)
def test_duration_that_is_none_is_refused(ferry, duration, said):
    """TOML's nan and inf are not durations; a step counts pictures in 16 bits: 65,535 at 59.94 a second are 1,093,343 ms."""
    change(ferry, (WALK, f'walk = {{ frames = "walk_*", ms = {duration} }}'))
    assert refused(ferry) == f"project.toml, line 15, [sprite.ada.animations.walk] ms: {said}"


def test_animated_source_that_stands_too_long_is_refused(ferry):
    """A frame of an animated PNG may be shown for 65,535 seconds, more pictures than a step can count."""
    frames = [Image.new("RGBA", (20, 24), (rank * 90, 0, 0, 255)) for rank in (1, 2)]
    frames[0].save(ferry / "art/still.png", save_all=True, append_images=frames[1:], duration=20_000_000)
    change(ferry, ('frames = "art/ada/*.png"', 'animated = "art/still.png"'), ("[sprite.ada.animations]\n" + WALK, ""))
    assert "art/still.png" in refused(ferry) or "[sprite.ada" in refused(ferry)


@pytest.mark.parametrize(("anchor", "shown"), [("[nan, 0]", "[nan, 0.0]"), ("[0, inf]", "[0.0, inf]")])
def test_anchor_that_is_no_place_is_refused(ferry, anchor, shown):
    """TOML's nan and inf are numbers, but no places."""
    change(ferry, ('palette = "figures"', f'palette = "figures"\nanchor = {anchor}'))
    assert refused(ferry) == f"project.toml, line 14, [sprite.ada] anchor: {shown} is not a point\n    write pixels, for example [60, 152]"


def test_recording_faster_than_the_console_plays_is_refused(ferry):
    """A rate left out means as recorded, and that may be above what the sound unit plays: 96,000 Hz against 44,100."""
    write_wav(ferry / "sound/bell.wav", rate=96000)
    said = refused(ferry)
    assert "96000 Hz" in said
    assert "44100 Hz" in said


def test_empty_data_and_program_are_refused(ferry):
    """Nothing cannot be placed."""
    (ferry / "level.bin").write_bytes(b"")
    assert refused(ferry) == "level.bin: is an empty file\n    put something in it, or remove the asset"


def python(code: str) -> str:
    """Return the project's command for a program made by a line of Python."""
    return f"command = ['{sys.executable}', '-c', '''{code}''', '{{output}}']"


COMMAND = "project.toml, [program.main] command: "
PROGRAMS = [
    (
        python('print("one"); print("two"); raise SystemExit(3)'),
        f"{COMMAND}ended with status 3:\n      | one\n      | two\n    correct what it complains about",
    ),
    (
        python("for rank in range(30): print(rank)\nraise SystemExit(1)"),
        f"{COMMAND}ended with status 1:" + "".join(f"\n      | {rank}" for rank in range(18, 30)) + "\n    correct what it complains about",
    ),
    (python("raise SystemExit(1)"), f"{COMMAND}ended with status 1:\n      | (it printed nothing)\n    correct what it complains about"),
    (
        "command = ['no-such-compiler', '{output}']",
        f"{COMMAND}'no-such-compiler' cannot be run: No such file or directory\n"
        "    install it, or correct the command; it is looked for in PATH",
    ),
    (python("pass"), f"{COMMAND}ended well but made no output\n    let it write the file that {{output}} names"),
    (
        python("import sys; open(sys.argv[1], 'wb').write(bytes(99))") + "\nreserve = 64",
        "[program.main] command: 99 bytes, 35 more than its reserve\n    raise reserve of [program.main], or make the program smaller",
    ),
    (
        MAIN + "\nentry = 64",
        "project.toml, [program.main] entry: entry 64 lies after the program's 64 bytes\n    give the offset of its first instruction",
    ),
]


@pytest.mark.parametrize(("text", "said"), PROGRAMS, ids=[said.partition(": ")[2][:40] for _, said in PROGRAMS])
def test_program_that_cannot_be_made_is_refused(ferry, text, said):
    """A command that fails is reported with its last twelve lines; one that is not there, or makes nothing, with what to do."""
    change(ferry, (MAIN, text))
    assert refused(ferry) == said


def test_command_is_given_to_no_shell(ferry):
    """Words that a shell would act on reach the program as they are."""
    code = 'import sys; print(sys.argv[2:]); raise SystemExit(1)'
    change(ferry, (MAIN, f"command = ['{sys.executable}', '-c', '{code}', '{{output}}', '$HOME; touch x', '*', '{{address}}']"))
    said = refused(ferry)
    assert "| ['$HOME; touch x', '*', '0x20" in said
    assert not (ferry / "x").exists()


def test_two_programs_of_unknown_size_are_refused(tmp_path):
    """The place after all others is free for one; with a reserve for the other they are apart."""
    make = python("import sys; open(sys.argv[1], 'wb').write(bytes(99))")
    folder = make_project(tmp_path / "ferry", (MAIN, make), more=f"[program.second]\n{make}\n")
    where = "project.toml, line 48, [program.second] reserve"
    assert refused(folder) == (
        f"{where}: is missing: only one built program may be of unknown size\n    set reserve to the most it may take"
    )
    change(folder, (MAIN, make), more=f"[program.second]\n{make}\nreserve = 128\n")
    assert len(build_here(folder).map["entries"]) == 9


def test_image_larger_than_the_cartridge_says_what_to_do(ferry):
    """The bytes over are those of the tables, the assets and at most their alignment; the next size is named."""
    change(ferry, ('phase = "alpha"', 'phase = "alpha"\ncartridge = "1 MiB"'))
    (ferry / "level.bin").write_bytes(bytes(1 << 20))
    said = refused(ferry)
    assert said.startswith("project.toml, [game] cartridge: the image needs at least 1,")
    assert 'set cartridge = "2 MiB", the next size, or make assets smaller or pack them; the largest: level 1 MiB, boot 75.0 KiB, ' in said


def test_image_larger_than_every_cartridge_names_no_more_than_it_needs(tmp_path):
    """4 MiB of data and the rest fit no cartridge here; "at least" is never more than header, directory and the assets' own bytes."""
    folder = make_project(tmp_path / "ferry", target="lattice16")
    sizes = {entry["name"]: entry["bytes"] for entry in build_here(folder).map["entries"]} | {"level": 4 << 20}
    (folder / "level.bin").write_bytes(bytes(4 << 20))
    said = refused(folder)
    assert said.startswith("project.toml, [game] cartridge: the image needs at least ")
    assert "no larger cartridge of Lattice 16 holds it; make assets smaller or pack them; the largest: level 4 MiB, " in said
    needed = int(said.partition("at least ")[2].partition(" ")[0].replace(",", ""))
    assert 4 << 20 < needed <= 512 + 20 * len(sizes) + sum(sizes.values())


def test_title_outside_ascii_is_refused_where_the_header_takes_none(ferry):
    """The header of this console holds ASCII."""
    change(ferry, ('title = "Tin Ferry"', 'title = "Fähre"'))
    assert refused(ferry).endswith(
        "[game] title: 'Fähre' has letters outside ASCII, which the cartridge header of Basalt 32 does not take\n"
        "    keep it, and add plain_title with only ASCII letters"
    )
    change(ferry, ('title = "Tin Ferry"', 'title = "Fähre"\nplain_title = "Faehre"'))
    load_project(ferry)


def test_directory_that_runs_into_the_header_is_refused(tmp_path):
    """A directory fixed in front of the header has room for eight entries of 32 bytes there, and this project has nine."""
    data = target_data("basalt32")
    data["header"]["offset"] = 256
    for one in data["header"]["fields"]:
        one["offset"] += 256
        if one.get("covers"):
            one["covers"] = [["header_end", "end"]] if one["name"] == "content sum" else [["header", 0x1FC]]
    data["directory"]["offset"] = 0
    folder = make_project(tmp_path / "ferry", ('target = "basalt32"', 'target = "console.toml"'), more=f"[data.ninth]\n{LEVEL}\n")
    (folder / "console.toml").write_text(toml_text(data))
    assert refused(folder) == (
        "project.toml, line 7, [game] target: the directory of 9 assets runs into the header of Basalt 32\n"
        "    move the directory in the target file, or give it no offset"
    )


# What the author did; how the output of the build ends, but for the line that says how many steps failed.
COMMANDS = {
    "misspelt target": (
        lambda folder: change(folder, ('target = "basalt32"', 'target = "basalt"')),
        "project.toml, line 7, [game] target: unknown target 'basalt'\n    did you mean basalt32? shipped targets: basalt32, lattice16, "
        "pebble8; or write the path of a .toml file inside the project\n",
    ),
    "broken syntax": (
        lambda folder: write_text(folder, PROJECT + "[sprite.bob\n"),
        "project.toml, line 48, column 12: not TOML: Expected ']' at the end of a table declaration\n"
        "    correct the syntax there; see toml.io for the rules\n",
    ),
    "cut picture": (
        lambda folder: (folder / "art/quay.png").write_bytes(picture("PNG")[:-12]),
        f"art/quay.png: is damaged or cut short: it ends too early, after {len(picture('PNG')) - 12} bytes\n"
        "    save it again from the paint program\n",
    ),
    "failing command": (
        lambda folder: change(folder, (MAIN, python('print("line 3: no such register"); raise SystemExit(1)'))),
        "project.toml, line 28, [program.main] command: ended with status 1:\n      | line 3: no such register\n"
        "    correct what it complains about\n",
    ),
}


@pytest.mark.parametrize("case", COMMANDS)
def test_build_command_says_what_is_wrong_without_a_traceback(ferry, case):
    """The command fails with the refusal on the screen and no traceback; image, map and kit stay."""
    act, said = COMMANDS[case]
    act(ferry)
    done = doit(ferry, "commands=yes")
    assert done.returncode != 0
    assert said in done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="this system cannot limit file sizes")
def test_full_disk_is_reported_and_leaves_the_last_good_build(ferry):
    """When the system no longer writes (here: no file above 512 KiB), the image is not replaced and no half file is left."""
    (ferry / "level.bin").write_bytes(b"changed" * 20)
    done = doit(ferry, limit=512 << 10)
    assert done.returncode != 0
    said = "tinf.rom: cannot be written: File too large\n    free some room on the disk, or check permissions, and build again"
    assert said in done.stdout
    assert "Traceback" not in done.stdout + done.stderr
    assert not list((ferry / "build").rglob("*.part"))


def test_disk_too_full_for_the_builds_own_records_is_reported_without_a_traceback(ferry):
    """When not even the database of steps can be written (here: no file above 4 KiB), that is said in words."""
    (ferry / "level.bin").write_bytes(b"changed" * 20)
    done = doit(ferry, limit=4 << 10)
    assert done.returncode != 0
    assert "Traceback" not in done.stdout + done.stderr
    assert not list((ferry / "build").rglob("*.part"))
