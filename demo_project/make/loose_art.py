"""Draw a folder of art as artists send it, invented for the guide: ``python loose_art.py FOLDER [late]``.

Frames of several sizes, a sheet with gaps, one without a grid on a key colour, an animated GIF, a large background, sounds, a palette,
names in another script, and two files that cannot be used. ``late`` draws only what comes a week later.
"""

from __future__ import annotations

import math
import sys
import wave
from pathlib import Path

from PIL import Image, ImageDraw

INK, SKIN, COAT, GOLD, LEAF, KEY = (40, 34, 46), (236, 188, 150), (58, 110, 170), (236, 190, 70), (96, 150, 84), (255, 0, 255)


def walker(width: int, height: int, turn: float, lift: int = 0) -> Image.Image:
    """Return a small person on a canvas of a size of its own, feet at its lower edge; ``turn`` swings the legs, ``lift`` is in pixels."""
    picture = Image.new("RGBA", (width, height))
    draw = ImageDraw.Draw(picture)
    middle, ground = width // 2, height - 1 - lift
    swing = round(6 * math.sin(turn))
    for side in (swing, -swing):
        draw.line((middle, ground - 14, middle + side, ground), fill=INK, width=3)
    draw.rounded_rectangle((middle - 6, ground - 30, middle + 6, ground - 13), 4, fill=COAT, outline=INK)
    draw.line((middle, ground - 26, middle - swing, ground - 17), fill=INK, width=2)
    draw.ellipse((middle - 6, ground - 43, middle + 6, ground - 30), fill=SKIN, outline=INK)
    return picture


def draw_walker(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for rank in range(6):
        walker(28 + rank % 3 * 2, 46, rank / 6 * math.tau).save(folder / f"walk_{rank + 1:02}.png")
    for rank in range(3):
        walker(24, 46, 0.2 * rank).save(folder / f"Idle ({rank + 1}).png")
    for rank in range(4):
        walker(30, 58, 1.2, lift=4 * min(rank, 3 - rank) + 2).save(folder / f"jump-{rank:04}.png")


def draw_coins(file: Path) -> None:
    """Eight turns of a coin, 24 x 24 each, two pixels apart and two from the edge."""
    sheet = Image.new("RGBA", (4 * 26 + 2, 2 * 26 + 2))
    draw = ImageDraw.Draw(sheet)
    for rank in range(8):
        left, top = 2 + rank % 4 * 26, 2 + rank // 4 * 26
        half = max(2, round(11 * abs(math.cos(rank / 8 * math.pi))))
        draw.ellipse((left + 12 - half, top + 1, left + 11 + half, top + 22), fill=GOLD, outline=INK)
    sheet.save(file)


def draw_critters(file: Path) -> None:
    """Five beetles of several sizes on magenta, where there was room."""
    sheet = Image.new("RGB", (150, 80), KEY)
    draw = ImageDraw.Draw(sheet)
    for left, top, width, height in ((5, 6, 30, 20), (44, 3, 26, 24), (80, 8, 34, 18), (12, 42, 38, 28), (70, 44, 33, 25)):
        for leg in range(3):
            x = left + 6 + leg * (width - 12) // 2
            draw.line((x, top + height // 2, x, top + height), fill=INK, width=2)
        draw.ellipse((left, top, left + width, top + height - 4), fill=LEAF, outline=INK)
    sheet.save(file)


def draw_bird(file: Path) -> None:
    frames = []
    for rank in range(4):
        picture = Image.new("RGBA", (32, 24))
        draw = ImageDraw.Draw(picture)
        draw.ellipse((8, 8, 26, 18), fill=COAT, outline=INK)
        tip = 12 + round(10 * math.cos(rank / 4 * math.tau))
        draw.polygon([(12, 12), (20, 12), (16, tip)], fill=SKIN, outline=INK)
        frames.append(picture)
    frames[0].save(file, save_all=True, append_images=frames[1:], duration=90, loop=0, disposal=2)


def draw_meadow(file: Path) -> None:
    picture = Image.new("RGB", (640, 480))
    draw = ImageDraw.Draw(picture)
    for y in range(480):
        draw.line((0, y, 639, y), fill=(130 + y // 6, 180 + y // 12, 224))
    for base, colour in ((330, (120, 160, 130)), (390, (96, 140, 96)), (440, (70, 112, 72))):
        ridge = [(x, base - round(30 * math.sin((x + base) / 70) ** 2)) for x in range(0, 641, 8)]
        draw.polygon([(0, 480), *ridge, (640, 480)], fill=colour)
    picture.save(file)


def draw_clouds(folder: Path) -> None:
    for rank in range(1, 4):
        picture = Image.new("RGBA", (48, 24))
        draw = ImageDraw.Draw(picture)
        for x, y, radius in ((12, 14, 8), (24, 10 + rank, 9), (36, 14, 7)):
            draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=(250, 250, 252))
        picture.save(folder / f"облако {rank}.png")


def record(file: Path, seconds: float, first: int, last: int) -> None:
    """Write a tone that glides from one pitch to another, in hertz: WAV, 16-bit PCM."""
    rate, phase, samples = 22050, 0.0, bytearray()
    count = int(rate * seconds)
    for rank in range(count):
        phase += math.tau * (first + (last - first) * rank / count) / rate
        samples += int(12000 * math.sin(phase) * (1 - rank / count)).to_bytes(2, "little", signed=True)
    with wave.open(str(file), "wb") as out:
        out.setparams((1, 2, rate, 0, "NONE", "not compressed"))
        out.writeframes(bytes(samples))


def main() -> None:
    """Draw everything, or only what comes later."""
    folder = Path(sys.argv[1])
    (folder / "sounds").mkdir(parents=True, exist_ok=True)
    if sys.argv[2:] == ["late"]:
        draw_clouds(folder)
        record(folder / "sounds/chirp.wav", 0.2, 1400, 2200)
        return
    draw_walker(folder / "Ines")
    draw_coins(folder / "coins.png")
    draw_critters(folder / "critters.png")
    draw_bird(folder / "bird.gif")
    draw_meadow(folder / "meadow.png")
    record(folder / "sounds/jump.wav", 0.3, 300, 700)
    record(folder / "sounds/coin.wav", 0.25, 900, 1300)
    colours = "\n".join(f"{red} {green} {blue}" for red, green, blue in (INK, SKIN, COAT, GOLD, LEAF))
    (folder / "book.gpl").write_text(f"GIMP Palette\nName: Ink and coat\n{colours}\n", encoding="utf-8")
    (folder / "To do.txt").write_text("the beetles need a shadow\n", encoding="utf-8")
    whole = (folder / "coins.png").read_bytes()
    (folder / "coins old.png").write_bytes(whole[: len(whole) // 2])


if __name__ == "__main__":
    main()
