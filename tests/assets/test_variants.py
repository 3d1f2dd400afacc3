"""Variants: other colours at the numbers of a palette, read from the image by ``reading``, which shares no code with its writer."""

from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import Image

from pipeline.graph.plan import plan_project
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from tests.assets.test_numbered import COLOURS, in_image, project_of
from tests.makers import TARGETS, build_here, make_project, problems, write_text

FILE = ("[palette.figures]\ncolours = 8\n", '[palette.figures]\nfile = "art/ada/walk_0.png"\norder = "file"\n')


def _colours(built, name: str) -> list[tuple[int, int, int]]:
    return built.facts[name].colours


def _variant(keys: str, name: str = "second") -> str:
    return f'[palette.{name}]\nvariant_of = "figures"\n{keys}\n'


def test_replaced_colours_stand_at_the_same_numbers(tmp_path):
    """By colour, for all entries that have it as drawn, or by number for one of them; the rest is as in the palette."""
    folder = project_of(tmp_path / "p", FILE, more=_variant('replace = [["#101010", "#ff0000"], ["#c82828", "#00ff00"], [7, "#0000ff"]]'))
    built = build_here(folder)
    base, other = _colours(built, "figures"), _colours(built, "second")
    changed = {1: (0, 255, 0), 3: (255, 0, 0), 6: (255, 0, 0), 7: (0, 0, 255)}
    assert other == [changed.get(number, colour) for number, colour in enumerate(base)]
    assert base[1] == base[5], "what the console shows alike is one entry as drawn"
    facts = built.facts["second"]
    assert (facts.first, facts.transparent, facts.in_place, facts.variant_of) == (0, True, True, "figures")
    write_text(folder, (folder / "project.toml").read_text().replace('["#101010", "#ff0000"]', '[3, "#ff0000"]'))
    assert _colours(build_here(folder), "second")[6] == base[6], "a number is one entry"


@pytest.mark.parametrize("target", TARGETS)
def test_a_turned_variant_is_rounded_to_the_console(tmp_path, target):
    """Half a turn exchanges the colours of a pair that is opposite in OKLCh; every entry is one that the console can show.

    Expected by the definition (B. Ottosson, 2020), worked out below with cosine and sine of the machine.
    """
    more = _variant("hue = 180\nlightness = 0.8\nworn_by = [\"ada\"]")
    built = build_here(make_project(tmp_path / "p", target=target, more=more))
    base, other = np.array(_colours(built, "figures")[1:]), np.array(_colours(built, "second")[1:])
    entry = built.project.target.palette.entry
    for axis, letter in enumerate("RGB"):
        bits = entry.bits(letter)
        # A level is widened by repeating its bits from the top.
        assert all(int((f"{level >> (8 - bits):0{bits}b}" * 8)[:8], 2) == level for level in other[:, axis].tolist())
    wanted = np.array([_by_definition(colour, 180, 0.8) for colour in base])
    half = [127.5 / (2 ** entry.bits(letter) - 1) for letter in "RGB"]
    assert (np.abs(other - wanted).max(axis=0) <= np.ceil(half) + 2).all()


def _by_definition(rgb: np.ndarray, degrees: float, lightness: float) -> list[float]:
    """Return an 8-bit colour turned in OKLCh, chroma cut as far as needed, from the published matrices."""
    code = rgb / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    first = np.array([[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566],
                      [0.0883024619, 0.2817188376, 0.6299787005]])  # fmt: skip
    second = np.array([[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
                       [0.0259040371, 0.7827717662, -0.8086757660]])  # fmt: skip
    lab = second @ np.cbrt(first @ linear)
    hue, chroma = np.arctan2(lab[2], lab[1]) + np.radians(degrees), np.hypot(lab[1], lab[2])
    for part in np.linspace(1, 0, 2001):
        turned = np.array([lab[0] * lightness, chroma * part * np.cos(hue), chroma * part * np.sin(hue)])
        found = np.linalg.solve(first, np.linalg.solve(second, turned) ** 3)
        if (found > -1e-4).all() and (found < 1 + 1e-4).all():
            break
    found = found.clip(0, 1)
    return (np.where(found <= 0.0031308, found * 12.92, 1.055 * found ** (1 / 2.4) - 0.055) * 255).tolist()


def test_a_variant_from_a_file(tmp_path):
    """An indexed PNG by its numbers; a text palette with the transparent colour or without; of another length it is refused."""
    folder = project_of(tmp_path / "p", FILE, more=_variant('file = "night.png"'))
    night = [(0, 0, 0), *[(number * 16, 0, 64) for number in range(1, 8)]]
    picture = Image.frombytes("P", (8, 1), bytes(range(8)))
    picture.putpalette([value for colour in night for value in colour])
    picture.save(folder / "night.png", transparency=0)
    built = build_here(folder)
    first = _colours(built, "second")
    assert np.abs(np.array(first[1:]) - night[1:]).max() <= 4, "half a level of 5 bits, at most"
    for name, colours in (("night.gpl", night), ("short.gpl", night[1:])):
        (folder / name).write_text("GIMP Palette\n" + "".join(f"{red} {green} {blue}\n" for red, green, blue in colours))
        text = (folder / "project.toml").read_text()
        write_text(folder, text.replace(text.split("variant_of")[1].split('file = "')[1].split('"')[0], name))
        assert _colours(build_here(folder), "second") == first
    (folder / "short.gpl").write_text("GIMP Palette\n1 2 3\n")
    with pytest.raises(ProjectError, match="has 1 colour, palette 'figures' has numbers 0 to 7, number 0 the transparent one"):
        build_here(folder)
    (folder / "short.gpl").write_text("GIMP Palette\n" + "1 2 3\n" * 9)
    with pytest.raises(ProjectError, match="has 9 colours, palette 'figures' has numbers 0 to 7"):
        build_here(folder)
    write_text(folder, (folder / "project.toml").read_text().replace("short.gpl", "night.png"))
    picture.save(folder / "night.png", transparency=3)
    with pytest.raises(ProjectError, match="number 3 is transparent, but the palette's transparent entry is number 0"):
        build_here(folder)


def test_lines_and_another_place_of_the_console(tmp_path):
    """A variant of lines has lines; one with a first of its own is loaded there, a whole line away."""
    table = "[palette.quay_colours]\n"
    changes = ((f"{table}colours = 8\nfirst = 16\n", f"{table}lines = 2\nfirst = 16\ntransparent = true\n"),
               ('palette = "quay_colours"\n', 'palette = "quay_colours"\narrangement = "tiles"\n'))  # fmt: skip
    more = '[palette.dusk]\nvariant_of = "quay_colours"\nlightness = 0.5\n' + _variant("chroma = 0\nfirst = 48")
    folder = make_project(tmp_path / "p", *changes, target="lattice16", more=more)
    built = build_here(folder, "verify", "report")
    base, dusk = built.facts["quay_colours"], built.facts["dusk"]
    assert (dusk.first, dusk.line_entries, dusk.line_used) == (base.first, base.line_entries, base.line_used)
    assert built.facts["second"].first == 48
    assert not built.facts["second"].in_place
    assert all(len(set(colour)) == 1 for colour in _colours(built, "second")), "no chroma leaves greys"
    assert (folder / "build/proofs/dusk.worn.png").is_file()
    text = (folder / "project.toml").read_text()
    write_text(folder, text.replace("first = 48", "first = 40"))
    said = "\n".join(problems(folder))
    assert "do not find colours from 40 on" in said
    assert "leave it out, or write 16, 32 or 48" in said


def test_art_is_drawn_in_a_variant_and_colours_that_fall_together_are_named(tmp_path):
    """The picture has the colours of both, from the image; entries 2 and 4, one colour in the variant, are reported by asset and number."""
    keys = 'replace = [[2, "#0000ff"], [3, "#ffffff"], [4, "#0000ff"]]\n'
    folder = project_of(tmp_path / "p", FILE, more=_variant(keys) + _variant('replace = [[2, "#0000ff"]]', "third"))
    numbers = np.zeros((24, 20), dtype=np.uint8)
    numbers[4:20, 4:16] = np.random.default_rng(1).choice([1, 2, 3, 4, 6], (16, 12))
    for rank in range(2):
        picture = Image.frombytes("P", (20, 24), numbers.tobytes())
        picture.putpalette([value for colour in COLOURS for value in colour])
        picture.save(folder / f"art/ada/walk_{rank}.png", transparency=0)
    built = build_here(folder, "verify", "report", "kit")
    record = json.loads((folder / "build/work/second.worn.json").read_bytes())
    # 3 and 6 are equal in the palette itself, and then no longer; 2 and 4 fall together.
    assert record["remarks"] == ["in second, colours of ada fall together: entries 2 and 4"]
    assert json.loads((folder / "build/work/third.worn.json").read_bytes())["remarks"] == []
    page = (folder / "build/report.html").read_text()
    assert "in second, colours of ada fall together: entries 2 and 4" in page
    assert "a variant of figures" in page
    with Image.open(folder / "build/proofs/second.worn.png") as picture:
        shown = {tuple(colour) for colour in np.unique(np.asarray(picture.convert("RGB")).reshape(-1, 3), axis=0).tolist()}
    held = in_image(built, "ada")
    for name in ("figures", "second"):
        assert {tuple(_colours(built, name)[number]) for number in np.unique(held).tolist() if number} <= shown
    header = (folder / "build/include/assets.h").read_text() if (folder / "build/include/assets.h").is_file() else ""
    assert not header or "SECOND_ENTRY_COUNT" in header.upper()


@pytest.mark.parametrize(("replaced", "differ"), [(1, "1 colour differs"), (2, "2 colours differ")])
def test_the_line_about_a_variant_counts_what_differs(tmp_path, replaced, differ):
    """In words that fit the number: of colours, and of entries."""
    keys = ", ".join(f'[{number}, "#0000ff"]' for number in range(1, 1 + replaced))
    folder = project_of(tmp_path / "p", FILE, more=_variant(f"replace = [{keys}]"))
    build_here(folder)
    steps = {step.name: step for step in plan_project(load_project(folder), {}).steps}
    assert steps["palette:second"].run().startswith(f"{differ} from figures; 8 entries for ")


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('replace = [["#123456", "#000000"]]', "'#123456' is not a colour of 'figures'"),
        ('replace = [["#c82828", "#000000"], [1, "#ffffff"]]', "1 is entry 1, which an earlier pair replaces"),
        ('replace = [[3, "#000000"], [3, "#ffffff"]]', "3 is entry 3, which an earlier pair replaces"),
        ('replace = [[0, "#000000"]]', "0 is the transparent entry of 'figures'"),
        ('replace = [[8, "#000000"]]', "8 is not an entry with a colour of 'figures'"),
    ],
)
def test_a_replacement_that_does_not_fit_is_refused(tmp_path, keys, said):
    """Each names the pair, and what could be meant."""
    with pytest.raises(ProjectError) as error:
        build_here(project_of(tmp_path / "p", FILE, more=_variant(keys)))
    assert said in str(error.value)
    assert "[palette.second] replace" in str(error.value)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("", "changes no colour of its palette"),
        ("hue = 181", "hue"),
        ("lightness = -1", "lightness"),
        ('replace = [["#12345", "#000000"]]', "replace"),
        ('replace = [["#123456"]]', "expected a pair: a colour or an entry's number, then a colour, saw"),
        ("replace = 3", "expected a list of pairs: a colour or an entry's number, then a colour, saw 3"),
        ("hue = 20\nfirst = 1", "leave it out; no others of 256 entries have these numbers"),
        ('file = "level.bin"\nhue = 20', "the variant's colours are taken from a file"),
        ("hue = 20\ntransparent = false", "transparent: comes from the palette it varies"),
        ("hue = 20\ncolours = 4", "colours: comes from the palette it varies"),
        ('hue = 20\nlocked = ["#000000"]', "does not go with variant_of"),
        ("hue = 20\nexact = true", "does not go with variant_of"),
        ('hue = 20\nworn_by = ["adda"]', "did you mean ada?"),
        ('hue = 20\nworn_by = ["quay"]', "'quay' does not have the palette 'figures'"),
        ("hue = 20\nfirst = 300", "leaves the console's 256"),
    ],
)
def test_what_is_wrong_with_a_variant_is_said(tmp_path, keys, said):
    """Before anything is built."""
    assert any(said in line for line in problems(make_project(tmp_path / "p", more=_variant(keys))))


def test_a_variant_of_the_wrong_thing_is_refused(tmp_path):
    """Of no palette, of itself, of a variant; art that names a variant; a key of variants at another palette."""
    folder = make_project(tmp_path / "p")
    text = (folder / "project.toml").read_text()
    for more, said in (
        ('[palette.second]\nvariant_of = "figurs"\nhue = 20\n', "did you mean figures?"),
        ('[palette.second]\nvariant_of = "ada"\nhue = 20\n', "there is no palette 'ada'"),
        ('[palette.second]\nvariant_of = "second"\nhue = 20\n', "is not a variant of itself"),
        (_variant("hue = 20") + '[palette.third]\nvariant_of = "second"\nhue = 20\n', "'second' is a variant itself"),
        (_variant("hue = 20") + '[sprite.bo]\nframes = "art/ada/*.png"\npalette = "second"\n', "'second' is a variant of 'figures'"),
    ):
        write_text(folder, text + more)
        assert any(said in line for line in problems(folder)), said
    write_text(folder, text.replace("[palette.figures]\n", "[palette.figures]\nhue = 20\n"))
    assert any("the palette is not a variant" in line for line in problems(folder))


def test_defaults_do_not_get_in_the_way(tmp_path):
    """What defaults say of palettes counts for a variant by its palette alone."""
    more = '[defaults.palette]\ntransparent = true\nexact = true\nlocked = ["#ffffff"]\n' + _variant("hue = 90")
    folder = make_project(tmp_path / "p", ("[palette.quay_colours]\n", "[palette.quay_colours]\ntransparent = false\n"), more=more)
    built = build_here(folder)
    assert built.facts["second"].transparent
    assert built.facts["second"].entry_count == built.facts["figures"].entry_count
