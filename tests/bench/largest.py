"""The largest accepted input of each kind: peak memory and time. Run: ``python -m tests.bench.largest [KIND ...]``.

Every input is made in one process and used in another, whose peak is what the system reports of it when it ends.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Callable
from pathlib import Path

from pipeline.plain import bounds


def _project(folder: Path, *changes: tuple[str, str], target: str = "basalt32", more: str = "") -> None:
    from tests.makers import make_project

    make_project(folder, *changes, target=target, more=more)


def _noise(path: Path, size: tuple[int, int], block: int = 8, colours: int = 200) -> None:
    import numpy as np
    from PIL import Image

    rng = np.random.default_rng(3)
    some = rng.integers(0, 256, (colours, 3), dtype=np.uint8)
    small = some[rng.integers(0, colours, (-(-size[1] // block), -(-size[0] // block)))]
    Image.fromarray(small.repeat(block, 0).repeat(block, 1)[: size[1], : size[0]]).save(path, compress_level=1)


def _wide(folder: Path, keys: str, target: str = "basalt32", more: str = "") -> None:
    _project(folder, ('file = "art/quay.png"', f'file = "art/quay.png"\nscale = [1, 0.5]\n{keys}'), target=target, more=more)


def make_bitmap(folder: Path) -> None:
    _wide(folder, 'pixels = "index4"')
    _noise(folder / "art/quay.png", (4096, 4096))


def make_parts(folder: Path) -> None:
    part = '[[background.quay.part]]\nfile = "art/part.png"\nat = [0.5, 0.5]\nblend = 40\nscale = 0.3\nclip = true\n'
    _wide(folder, 'pixels = "index4"', more=part + "repeat = [8, 1]\nevery = [390, 0]\n")
    _noise(folder / "art/quay.png", (4096, 4096))
    _noise(folder / "art/part.png", (4096, 4096), block=1)


def make_colourful(folder: Path) -> None:
    _wide(folder, 'pixels = "index4"\nresample = "lanczos"\nlight = "linear"')
    _noise(folder / "art/quay.png", (4096, 4096), block=1, colours=100_000)


def make_tiles(folder: Path) -> None:
    import numpy as np
    from PIL import Image

    _wide(folder, 'arrangement = "tiles"', target="lattice16")
    rng = np.random.default_rng(3)
    tiles = rng.integers(0, 4, (60, 16, 8)).repeat(1, axis=1)
    chosen = tiles[rng.integers(0, 60, (256, 512))].swapaxes(1, 2).reshape(4096, 4096)
    colours = np.array([[0, 0, 0], [255, 0, 0], [0, 255, 0], [0, 0, 255]], dtype=np.uint8)
    Image.fromarray(colours[chosen].repeat(2, axis=0)[::2]).save(folder / "art/quay.png", compress_level=1)


def make_sprite(folder: Path) -> None:
    from PIL import Image, ImageDraw

    _project(folder, ('frames = "art/ada/*.png"', 'frames = "art/ada/*.png"\narrangement = "frames"'))
    for rank in range(bounds.SPRITE_PIXELS // 512**2):
        picture = Image.new("RGBA", (512, 512))
        ImageDraw.Draw(picture).rectangle((rank, 10, rank + 200, 200), fill=(rank, 60, 40, 255))
        picture.save(folder / f"art/ada/walk_{rank}.png", compress_level=1)


def make_animation(folder: Path) -> None:
    from PIL import Image

    _project(
        folder,
        ('frames = "art/ada/*.png"', 'animated = "art/ada.gif"\narrangement = "frames"'),
        ('[sprite.ada.animations]\nwalk = { frames = "walk_*", ms = 80 }\n', ""),
    )
    frames = [Image.new("P", (64, 64), rank % 16) for rank in range(bounds.FRAMES)]
    for rank, frame in enumerate(frames):
        frame.putpalette([level for colour in range(256) for level in (colour, rank % 7, 3)])
    frames[0].save(folder / "art/ada.gif", save_all=True, append_images=frames[1:], duration=20)


def make_sound(folder: Path) -> None:
    _project(folder, ('file = "sound/bell.wav"', 'file = "sound/bell.wav"\nrate = 8000'))
    _write_wav(folder / "sound/bell.wav", 44_100, 2, 2, bounds.SOUND_BYTES - 1024)


def make_long_sound(folder: Path) -> None:
    _project(folder)
    _largest_target(folder)
    _write_wav(folder / "sound/bell.wav", 22_050, 1, 1, bounds.SOUND_BYTES - (1 << 20))


def _write_wav(path: Path, rate: int, channels: int, width: int, size: int) -> None:
    with wave.open(str(path), "wb") as file:
        file.setparams((channels, width, rate, 0, "NONE", ""))
        block = bytes(range(1, 241)) * 4096
        for at in range(0, size, len(block)):
            file.writeframes(block[: size - at - size % (channels * width)])


def _largest_target(folder: Path) -> None:
    from tests.makers import changed, target_data, toml_text

    data = changed(target_data(), (("cartridge", "sizes"), ["1 MiB", "128 MiB"]))
    (folder / "console.toml").write_text(toml_text(data))
    text = (folder / "project.toml").read_text().replace('"basalt32"', '"console.toml"')
    (folder / "project.toml").write_text(text)


def make_data(folder: Path) -> None:
    _project(folder)
    _largest_target(folder)
    (folder / "level.bin").write_bytes(os.urandom(1 << 20) * 120)


def make_level(folder: Path) -> None:
    _project(folder, more='[level.cave]\nfile = "cave.csv"\n')
    _largest_target(folder)
    (folder / "cave.csv").write_bytes((b"7," * 2047 + b"7\n") * 4096)


def make_text(folder: Path) -> None:
    _project(folder, more='[font.small]\nfile = "a.ttf"\nsize = 16\ntexts = ["a.txt"]\npalette = "figures"\n')
    from pipeline.plain.shipped import REGULAR

    (folder / "a.ttf").write_bytes(REGULAR.read_bytes())
    (folder / "a.txt").write_bytes((b"The ferry leaves at nine. " * 3 + b"\n") * (bounds.TEXT_BYTES // 79))


def make_project_file(folder: Path) -> None:
    _project(folder)
    text = (folder / "project.toml").read_text() + "[links.more]\n"
    while len(text) < bounds.TOML_BYTES - 100_000:
        text += "".join(f'l{len(text)}_{rank} = "https://example.org/{rank}"\n' for rank in range(2000))
    (folder / "project.toml").write_text(text)


def make_effect(folder: Path) -> None:
    """An effect as long as may be, of as many steps as may be, whose pictures differ."""
    steps = [f'{{ hold = 1, fill = "#{(rank * 16_769) % (1 << 24):06x}", share = 0.5 }}' for rank in range(1000)]
    more = f'[effect.storm]\nover = "quay"\ntimes = {bounds.EFFECT_TICKS // 1000}\nsteps = [{", ".join(steps)}]\n'
    _project(folder, more=more)


def make_issues(folder: Path) -> None:
    what = "The bell rings twice. " * 8
    head = '[[issue]]\nseverity = "minor"\nwhere = "Quay"\n'
    text = "".join(f'{head}id = "T-{rank}"\nwhat = "{what}"\n' for rank in range(bounds.ISSUES))
    _project(folder, ('[[issue]]\nid = "TF-001"\nseverity = "minor"\nwhere = "Quay"\nwhat = "The bell rings twice."\n', ""))
    (folder / "issues.toml").write_text(text)


def make_ledger(folder: Path) -> None:
    _project(folder)
    asset = {"kind": "data", "bytes": 9, "sha256": "0" * 64, "drawn": "0" * 64, "picture": "0" * 64, "look": "0" * 64, "frame": [9, 9]}
    issues = {"open": [], "fixed": []}
    one = {"phase": "alpha", "date": "", "build_code": "7ZZ9K2", "budget": {}, "kit": {"file": "", "sha256": ""}, "issues": issues}
    one |= {"image": {"bytes": 1, "used": 1, "crc32": "", "sha256": ""}, "assets": {f"a{rank}": asset for rank in range(200)}}
    count = bounds.JSON_BYTES // len(json.dumps(one)) - 1
    (folder / "ledger.json").write_text(json.dumps({"releases": [{"version": f"0.0.{rank}"} | one for rank in range(count)]}))


def make_export(folder: Path) -> None:
    from tests.bench.intake import write_export

    columns = "what = 'What happened', where = 'Where', build = 'Build', time = 'Time', tester = 'Tester'"
    _project(folder, more=f"[intake.bugs]\ncolumns = {{ {columns} }}\n")
    write_export(folder / "bugs.csv", bounds.EXPORT_ROWS)


def make_palette(folder: Path) -> None:
    _project(folder, ("colours = 8\ntransparent = true", 'file = "a.gpl"\ntransparent = true'))
    line = b"200 60 40 a colour with a name\n"
    (folder / "a.gpl").write_bytes(b"GIMP Palette\n" + line * ((bounds.PALETTE_BYTES - 13) // len(line)))


def make_palette_picture(folder: Path) -> None:
    _project(folder, ("colours = 8\ntransparent = true", 'locked_file = "a.png"\ntransparent = true'))
    _noise(folder / "a.png", (1024, 1024), block=1, colours=7)


def make_depends(folder: Path) -> None:
    _project(folder, ('file = "main.bin"', 'command = ["sh", "-c", "cp main.bin {output}"]\ndepends = ["big"]'))
    with open(folder / "big", "wb") as file:
        file.truncate(bounds.COMMAND_BYTES)


KINDS: dict[str, tuple[Callable[[Path], None], list[str]]] = {
    "background, bitmap, few colours": (make_bitmap, ["background:quay"]),
    "background, bitmap, many colours, linear light": (make_colourful, ["background:quay"]),
    "background of parts": (make_parts, ["prepare:quay", "sample:quay", "originals:quay"]),
    "background, tiles": (make_tiles, ["background:quay"]),
    "background, image and proofs": (make_bitmap, ["verify", "proof:quay"]),
    "sprite": (make_sprite, ["sprite:ada"]),
    "sprite, image and proofs": (make_sprite, ["verify", "proof:ada"]),
    "animation": (make_animation, ["sprite:ada"]),
    "sound": (make_sound, ["sound:bell"]),
    "sound, largest target": (make_long_sound, ["sound:bell"]),
    "data, largest target": (make_data, ["data:level"]),
    "data, largest target, image": (make_data, ["verify"]),
    "level": (make_level, ["level:cave"]),
    "level, image and proofs": (make_level, ["verify", "proof:cave"]),
    "text for a font": (make_text, ["font:small"]),
    "project file": (make_project_file, []),
    "effect": (make_effect, ["flashing:storm"]),
    "known issues, packet": (make_issues, ["packet"]),
    "ledger": (make_ledger, []),
    "export": (make_export, ["intake"]),
    "text palette": (make_palette, ["palette:figures"]),
    "picture of a palette": (make_palette_picture, ["palette:figures"]),
    "file of a command": (make_depends, ["program:main"]),
}


def use(folder: Path, goals: list[str]) -> None:
    """Load the project, hash its sources and run some steps with all they need."""
    from pipeline.graph.freshness.digest import file_digest
    from pipeline.graph.plan import plan_project
    from pipeline.project.loading.load import load_project
    from tests.makers import run_steps

    project = load_project(folder)
    for asset in project.assets.values():
        for file in asset.files:
            file_digest(folder / file)
    if goals == ["intake"]:
        step = next(one for one in plan_project(project, {"csv": str(folder / "bugs.csv")}).steps if one.name == "intake")
        print(step.run()[:200])
    elif goals:
        run_steps(project, *goals)


def measure(kind: str, scratch: Path) -> tuple[int, float]:
    """Return peak memory in bytes and seconds of using the largest input of a kind.

    Raises:
        RuntimeError: it was refused, or something went wrong.
    """
    folder = scratch / "project"
    _child("make", kind, folder)
    return _child("use", kind, folder)


def _child(how: str, kind: str, folder: Path) -> tuple[int, float]:
    start = time.monotonic()
    running = subprocess.Popen([sys.executable, "-m", "tests.bench.largest", f"--{how}", kind, str(folder)])
    _, status, used = os.wait4(running.pid, 0)
    running.returncode = status
    if status:
        raise RuntimeError(f"{kind}: {how} ended with {status}")
    return used.ru_maxrss * 1024, time.monotonic() - start


def main(words: list[str]) -> None:
    """Measure and print; or be one of the children."""
    if words and words[0] in ("--make", "--use"):
        make, goals = KINDS[words[1]]
        return make(Path(words[2])) if words[0] == "--make" else use(Path(words[2]), goals)
    for kind in words or KINDS:
        with tempfile.TemporaryDirectory() as scratch:
            try:
                peak, seconds = measure(kind, Path(scratch))
                print(f"{kind:<50} {peak / bounds.MIB:7,.0f} MiB {seconds:7.1f} s", flush=True)
            except RuntimeError as error:
                print(error, flush=True)
    return None


if __name__ == "__main__":
    main(sys.argv[1:])
