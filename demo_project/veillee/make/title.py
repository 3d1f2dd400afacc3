"""The title picture, painted at 512 x 384 in as many colours as it likes; the project file brings it to the console's screen."""

from __future__ import annotations

import math
from pathlib import Path

from keepers import mielle_painted
from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageFont

FONT = Path(__file__).resolve().parents[3] / "templates/fonts/DejaVuSans-Bold.ttf"
WIDTH, HEIGHT = 512, 384
TOP, LOW, HORIZON = (14, 16, 48), (86, 64, 132), (232, 150, 118)
MOON = (338, 192)


def draw_title(art: Path) -> None:
    """Write the picture."""
    picture = _sky()
    _halo(picture, MOON, 190, (255, 226, 170), 0.55)
    draw = ImageDraw.Draw(picture)
    draw.ellipse([MOON[0] - 72, MOON[1] - 72, MOON[0] + 72, MOON[1] + 72], (255, 241, 206))
    for x, y, size in ((-30, -24, 15), (26, 8, 20), (-14, 34, 11), (38, -36, 8), (-46, 10, 7)):
        draw.ellipse([MOON[0] + x - size, MOON[1] + y - size, MOON[0] + x + size, MOON[1] + y + size], (238, 214, 168))
    for rank in range(90):
        x, y = rank * 197 % WIDTH, rank * 71 % 190
        if math.hypot(x - MOON[0], y - MOON[1]) > 100:
            draw.ellipse([x, y, x + 1 + rank % 3 // 2, y + 1 + rank % 3 // 2], (214, 214, 240))
    _hills(draw)
    _dyke(draw)
    _figure(picture)
    _reeds(ImageDraw.Draw(picture))
    _words(picture)
    picture.save(art / "titre.png", optimize=True)


def _sky() -> Image.Image:
    picture = Image.new("RGB", (WIDTH, HEIGHT))
    draw = ImageDraw.Draw(picture)
    for y in range(HEIGHT):
        part = min(1.0, y / 300)
        first, second, part = (TOP, LOW, part / 0.6) if part < 0.6 else (LOW, HORIZON, (part - 0.6) / 0.4)
        draw.line([0, y, WIDTH, y], tuple(round(a + (b - a) * part) for a, b in zip(first, second)))
    return picture


def _halo(picture: Image.Image, middle: tuple[int, int], reach: int, colour: tuple[int, int, int], strength: float) -> None:
    """Add light around a point."""
    light = Image.radial_gradient("L").resize((reach * 2, reach * 2))
    light = light.point([round(max(0.0, 1 - level / 180) ** 2 * 255 * strength) for level in range(256)])
    glow = Image.new("RGB", picture.size)
    glow.paste(colour, (middle[0] - reach, middle[1] - reach), light)
    picture.paste(ImageChops.screen(picture, glow))


def _hills(draw: ImageDraw.ImageDraw) -> None:
    for top, wave, length, colour in ((262, 22, 150, (78, 62, 122)), (284, 16, 98, (52, 44, 96)), (302, 8, 60, (30, 28, 68))):
        edge = [(x, top + wave * math.sin(x / length * 3 + top) + wave * 0.3 * math.sin(x / 13)) for x in range(0, WIDTH + 4, 4)]
        draw.polygon([*edge, (WIDTH, HEIGHT), (0, HEIGHT)], colour)
    for x, high in ((396, 30), (418, 24), (438, 34), (466, 26), (488, 30)):
        draw.polygon([(x - 12, 306 - high), (x, 306 - high - 16), (x + 12, 306 - high)], (58, 44, 92))
        draw.rectangle([x - 10, 306 - high, x + 10, 316], (24, 22, 56))
        draw.rectangle([x - 5, 312 - high, x, 319 - high], (255, 206, 112))


def _dyke(draw: ImageDraw.ImageDraw) -> None:
    draw.rectangle([0, 330, WIDTH, HEIGHT], (40, 34, 58))
    for row, (top, high, wide) in enumerate(((332, 14, 40), (347, 17, 52), (365, 22, 66))):
        for rank in range(-1, WIDTH // wide + 2):
            x, tone = rank * wide + row * 19, (rank * 7 + row * 5) % 4 * 7
            draw.rounded_rectangle([x + 2, top, x + wide - 2, top + high - 2], 5, (74 + tone, 64 + tone, 92 + tone))
            draw.line([x + 6, top + 1, x + wide - 6, top + 1], (128 + tone, 112 + tone, 128 + tone), 2)


def _figure(picture: Image.Image) -> None:
    figure = mielle_painted()
    shape = figure.getchannel("A")
    edge = shape.filter(ImageFilter.MaxFilter(7))
    left, top = 64, 86
    lantern = (left + 152, top + 74)
    _halo(picture, lantern, 150, (255, 176, 84), 0.9)
    picture.paste((24, 16, 40), (left, top), edge)
    picture.paste(figure, (left, top), figure)
    _halo(picture, lantern, 70, (255, 200, 110), 0.5)
    for x, y, size in ((268, 262, 4), (300, 236, 3), (352, 292, 4), (404, 246, 3), (452, 276, 4), (40, 250, 4), (238, 316, 3)):
        _halo(picture, (x, y), 26, (255, 214, 120), 0.9)
        ImageDraw.Draw(picture).ellipse([x - size, y - size, x + size, y + size], (255, 246, 190))


def _reeds(draw: ImageDraw.ImageDraw) -> None:
    for rank in range(26):
        x, high = 300 + rank * 9 + rank * 37 % 7, 34 + rank * 53 % 44
        if 336 < x < 360:
            continue
        bend = (rank * 29 % 21) - 10
        draw.line([x, HEIGHT, x + bend * 0.4, HEIGHT - high * 0.6, x + bend, HEIGHT - high], (22, 46, 52), 3)
        if rank % 3 == 0:
            draw.rounded_rectangle([x + bend - 3, HEIGHT - high - 18, x + bend + 3, HEIGHT - high], 3, (94, 58, 50))


def _words(picture: Image.Image) -> None:
    draw = ImageDraw.Draw(picture)
    for text, size, at in (("LA VEILLÉE", 44, (178, 8)), ("DES LUEURS", 44, (196, 58))):
        font = ImageFont.truetype(str(FONT), size)
        draw.text((at[0] + 3, at[1] + 4), text, (20, 12, 36), font, stroke_width=5, stroke_fill=(20, 12, 36))
        draw.text(at, text, (86, 42, 52), font, stroke_width=4, stroke_fill=(40, 22, 48))
        mask = Image.new("L", picture.size)
        ImageDraw.Draw(mask).text(at, text, 255, font)
        gold = Image.new("RGB", picture.size)
        for y in range(at[1], at[1] + size + 14):
            part = min(1.0, max(0.0, (y - at[1] - 12) / (size - 14)))
            ImageDraw.Draw(gold).line([0, y, WIDTH, y], (255, round(244 - 76 * part), round(196 - 122 * part)))
        picture.paste(gold, mask=mask)
