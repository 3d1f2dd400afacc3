"""Names of files: words, numbers, rows, figures and places in a project, over thousands of names as people write them.

No outside source: many a reading could be another. What is recorded was looked at; if a change is meant, see ``tests.recorded``.
"""

from __future__ import annotations

import hashlib
import itertools
import random
from pathlib import PurePosixPath

from pipeline.bringing import names, vocabulary
from pipeline.bringing.group import Picture, group_pictures, number_rows
from pipeline.bringing.measuring.shapes import Box
from pipeline.bringing.places import Placing, _inner_names, _matches, _ranks
from pipeline.bringing.records import Anim, Found, Frame, Looked
from pipeline.project.loading.sources import IDENTIFIER
from tests.bringing.invented_art import FOLDERS, STEMS
from tests.recorded import differing, hash_of

SUFFIXES = ("", "s", "es", "d", "ed", "ing", "ning", "ped", "e", "x")
ODD = (
    "walk_01", "Walk (3)", "HeroRun2", "a1b2", "a1b22c", "7", "007", "frame_03_delay-0.1s", "orc-9_walk", "x123456789", "x1234567890",
    "3_x_3", "Élan vital", "ÉLAN", "Straße 3", "бег_2", "a" * 40, "_", "", "--", "9lives", "a_9", "ABC", "aBcD", "2x4", "hero!", "ß", "カ1",
    "12_345_6",
)  # fmt: skip


def test_words_and_numbers():
    """Every movement in every form; stems with numbers at every place; names for each, all of them valid."""
    forms = [base + suffix for base in sorted(vocabulary.ACTIONS) for suffix in SUFFIXES]
    doubled = [base + base[-1] + suffix for base in sorted(vocabulary.ACTIONS) for suffix in ("ing", "ed")]
    found = {"movements": hash_of(" ".join(word for word in (*forms, *doubled) if names.is_movement(word)).encode())}
    words = ("hero", "walk", "left", "e", "2", "slow", "orc", "10", "fast", "up")
    splits = [names.split_action(some) for count in range(4) for some in itertools.product(words, repeat=count)]
    found["subjects and actions"] = hash_of(repr(splits).encode())
    stems = [*ODD, *(stem.format(n=number) for stem in STEMS for number in (1, 10, 123))]
    for stem in stems:
        named = [names.identifier(stem, "sprite"), names.identifier(f"{stem} {stem}", "sound")]
        assert all(IDENTIFIER.fullmatch(one) for one in named)
        said = [names.words_of(stem), names.read_name(stem), names.inner_number(stem), named]
        found[stem] = hash_of(repr(said).encode())
    folders = [*FOLDERS, "Hero Sheets", "item 3", "hud", "tiles_16", "2d", "objecticons", "raw art", "orcs"]
    found["folders"] = str([(one, names.is_generic(one), names.holds_many(one)) for one in folders])
    found["in order"] = " ".join(sorted(stems, key=names.natural))
    assert differing("names of files", found) == set()


def test_free_names_by_their_words():
    """The wanted one, else the first free number from 2, within 32 characters."""
    for wanted in ("ada", "a" * 30, "a" * 31, "a" * 32, "b" * 28 + "____"):
        taken: list[str] = []
        for rank in range(1, 13):
            name = names.unique(wanted, taken)
            end = f"_{rank}" if rank > 1 else ""
            assert name == (wanted[: 32 - len(end)].rstrip("_") if end else wanted) + end
            assert len(name) <= 32
            assert name not in taken
            taken.append(name)


def invented(seed: int) -> list[Picture]:
    """Return pictures of one to four rows, often in one folder, of few sizes, and often of one figure."""
    chance, made = random.Random(seed), {}
    folders = (*FOLDERS, "hero/run", "enemies/bat/fly left", "cat/1", "01 idle", "frames", "slime", "zoo", "zoo")
    common = chance.choice(folders)
    for _ in range(chance.randint(1, 5)):
        folder = common if chance.random() < 0.7 else chance.choice(folders)
        stem = chance.choice((
            "{n}", "walk_{n:02}", "hero_walk_{n}", "hero{n}", "bat fly {n}", "hero_hit{n}_left", "coin-{n}x", "slime_zork_{n}", "icon{n}",
            "zork", "slime_zork", "hero_{w}", "{w}", "{w}_{n}",
            "orc_zork_{n}", "orc_walk_{n}", "orc_zork_walk_{n}", "orc", "orc_{w}_{n}", "orc{n}", "elf_run_{n}", "elf_zork",
        ))  # fmt: skip
        size = chance.choice(((16, 16), (16, 16), (32, 24)))
        for number in range(chance.choice((0, 1, 15)), chance.choice((2, 4, 9, 17))):
            word = ("axe", "bow", "cap", "dirk", "egg", "fig", "gem", "hat", "ink", "jug")[number % 10]
            name = "/".join(filter(None, (folder, f"{stem.format(n=number, w=word)}.png")))
            made[name] = Picture(name, (number, number) if stem == "icon{n}" and number else size)
    return list(made.values())


def test_rows_and_figures():
    """A hundred and twenty folders; each picture is in one row and in one figure."""
    found = {}
    for seed in range(120):
        pictures = invented(seed)
        rows, figures = number_rows(pictures), group_pictures(pictures, ("art", "hero", "items")[seed % 3])
        every = sorted(one.name for one in pictures)
        assert sorted(one.name for row in rows for one in row.pictures) == every
        assert sorted(name for figure in figures for _, files in figure.rows for name in files) == every
        found[f"{seed}"] = hash_of(repr((rows, figures)).encode())
    assert differing("rows and figures", found) == set()


def sprite(files: tuple[str, ...], name: str, animations: tuple[Anim, ...]) -> Found:
    frames = tuple(Frame(file, Box(0, 0, 8, 8), Box(0, 0, 8, 8)) for file in files)
    return Found("sprite", name, files, "", "", frames=frames, canvas=(8, 8), animations=animations)


def test_places_in_a_project(tmp_path):
    """Copied and named where it is: patterns match just the frames, in their order; what is in the way is gone around."""
    found = {}
    for seed in range(24):
        chance = random.Random(seed)
        every = [one.name for one in invented(seed)] or ["one.png"]
        files = tuple(sorted((name for name in every if name.count("/") == every[0].count("/")), key=names.natural))
        looked = {file: Looked(file, "picture", digest=f"{rank:064x}") for rank, file in enumerate(files)}
        cuts = sorted(chance.sample(range(len(files) + 1), min(2, len(files) + 1)))
        parts = [range(cuts[0]), range(cuts[0], len(files)), range(len(files) - 1, -1, -1)]
        animations = tuple(Anim(f"a{rank}", tuple(part)) for rank, part in enumerate(parts) if part)
        one = sprite(files, "hero", animations)
        project = tmp_path / f"{seed}"
        art = project / "from"
        for file in files:
            (art / file).parent.mkdir(parents=True, exist_ok=True)
            (art / file).write_bytes(file.encode())
        if seed % 3 == 0:
            (project / "art/hero").mkdir(parents=True)
            (project / "art/hero/other.png").write_bytes(b"x")
        if seed % 4 == 0:
            (art / "other_99.png").write_bytes(b"x")
        for link in (False, True):
            placing = Placing(art, project, looked, link)
            for _ in range(2):
                placed = placing.place(one)
                stems = [PurePosixPath(write.to).stem for write in placed.writes] or [PurePosixPath(name).stem for name in files]
                for anim in one.animations:
                    said = placed.animations[anim.name]
                    assert (_ranks(said, stems) if isinstance(said, str) else said) == list(anim.frames)
                if not placed.writes:
                    assert _matches(project, placed.keys["frames"]) == [f"from/{file}" for file in files]
                found[f"{seed}, {link}, {_}"] = hash_of(repr((placed.keys, placed.animations, placed.writes)).encode())
    kinds = {"sound": "bell.WAV", "font": "a/plain.ttf", "palette": "sky.GPL", "background": "sky.png"}
    for kind, file in kinds.items():
        placing = Placing(tmp_path, tmp_path / "p", {file: Looked(file, "sound", digest="0")}, False)
        for _ in range(3):
            found[f"{kind}, {_}"] = repr(placing.place(Found(kind, "Bell", (file,), "", "")).writes)
    assert differing("places of found art", found) == set()


def test_place_that_holds_the_same_is_taken(tmp_path):
    """Of an earlier try, half-written files of it too; a link, a folder or another content is not."""
    content = b"frame"
    digest = hashlib.sha256(content).hexdigest()
    looked = {f"f{rank}.png": Looked(f"f{rank}.png", "picture", digest=digest) for rank in range(2)}
    one = sprite(tuple(looked), "hero", ())

    def folder(name: str, *files: str, data: bytes = content) -> str:
        for file in files:
            (tmp_path / name / "art/hero" / file).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name / "art/hero" / file).write_bytes(data)
        return Placing(tmp_path, tmp_path / name, looked, False).place(one).writes[0].to

    assert folder("none") == "art/hero/f0.png"
    assert folder("same", "f0.png", "f1.png", "f1.png.77.part") == "art/hero/f0.png"
    assert folder("half", "f1.png") == "art/hero/f0.png"
    assert folder("more", "f0.png", "f2.png") == "art/hero_2/f0.png"
    assert folder("other", "f0.png", data=b"x") == "art/hero_2/f0.png"
    (tmp_path / "file/art").mkdir(parents=True)
    (tmp_path / "file/art/hero").write_bytes(b"x")
    assert folder("file") == "art/hero_2/f0.png"
    (tmp_path / "link/art/hero").mkdir(parents=True)
    (tmp_path / "link/art/hero/f0.png").symlink_to(tmp_path / "same/art/hero/f0.png")
    assert folder("link") == "art/hero_2/f0.png"


def test_names_of_copies():
    """As they are below the folder they share, where that works everywhere; else numbers of one length, in their order."""
    for files, inner in (
        (("a/x.png", "a/y.png"), ["x.png", "y.png"]), (("x.png", "y.png"), ["x.png", "y.png"]),
        (("a/1/x.png", "a/2/x.png"), ["1/x.png", "2/x.png"]), (("a/x.png", "b/c/x.png"), ["01.png", "02.png"]),
        (("a/X.png", "a/x.png"), ["01.png", "02.png"]), (("a/y.png", "a/x.png"), ["01.png", "02.png"]),
        (("a/x.png", "a/y.gif"), ["01.png", "02.gif"]), (("a/x\n.png", "a/y.png"), ["01.png", "02.png"]), (("a/x\\.png",), ["01.png"]),
        (("a/" + "x" * 116 + ".png",), ["x" * 116 + ".png"]), (("a/" + "x" * 117 + ".PNG",), ["01.png"]),
        (tuple(f"a/{rank}.PNG" for rank in range(98, -1, -1)), [f"{rank:02}.png" for rank in range(1, 100)]),
        (tuple(f"a/{rank}.png" for rank in range(99, -1, -1)), [f"{rank:03}.png" for rank in range(1, 101)]),
    ):  # fmt: skip
        assert _inner_names(files) == inner, files
