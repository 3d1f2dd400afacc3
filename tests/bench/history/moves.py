"""Drawing moves: each is one operation of ``world`` or a few that go together."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.plain.shipped import TEMPLATES

from .opening import (
    ISSUES,
    OWN_TARGET,
    TESTERS,
    figure,
    flapping,
    packed,
    recording,
    scenery,
    shipped_target,
    shipped_wording,
    strip,
    swatches,
)  # fmt: skip
from .values import bad_value, keys_of, record_at, required, value_for
from .world import Operation, World, tables

Move = Callable[[random.Random, World], list[Operation]]
PROJECT = "project.toml"
_NAMED = ("sprite", "pool", "background", "palette", "sound", "screen", "data", "font", "bundle", "scene", "planned", "pad")
_FREE = ("apple", "birch", "cedar", "zinnia", "one2", "two10")
# Names that the tool never gives its own files: these must stay for ever.
_FOREIGN = ("my notes.txt", "rom/For the lathe.txt", "proofs/Sketch 1.xcf", "blobs/read me", "include/Own Program.s", "kit/poster.odt")


def edit_key(rng: random.Random, world: World) -> list[Operation]:
    """Give a key of a random table another value, or take it out."""
    name = rng.choice([PROJECT] * 6 + [one for one in (ISSUES, TESTERS, OWN_TARGET) if one in world.documents])
    records = dict(_records(world, name))
    path = _fairly(rng, list(records))
    record, key = records[path], rng.choice(keys_of(records[path]))
    there = world.at(name, [*path, key])
    if there is not None and key not in required(record) and not isinstance(there, dict) and rng.random() < 0.3:
        return [["drop", name, [*path, key]]]
    value = value_for(record, key, rng, world)
    return [["set", name, [*path, key], value]] if value is not None and value != there else []


def _records(world: World, name: str) -> list[tuple[tuple, Any]]:
    """Return place and record of every table of a document that has one."""
    spots = [path for path, table in tables(world.documents[name]) if isinstance(table, dict)]
    return [(path, record) for path in spots if (record := record_at(name, path))]


def order_keys(rng: random.Random, world: World) -> list[Operation]:
    """Shuffle the keys of a table or the elements of a list."""
    name = rng.choice([PROJECT] * 4 + [one for one in world.documents if one != PROJECT])
    spots = [path for path, table in tables(world.documents[name]) if len(table) > 1]
    return [["order", name, list(_fairly(rng, spots)), rng.randint(1, 10**6)]] if spots else []


def _fairly(rng: random.Random, spots: list[tuple]) -> tuple:
    """Return one of some places; half the time every table at the top has the same luck, however many places are in it."""
    if rng.random() < 0.5:
        head = rng.choice(sorted({path[:1] for path in spots}))
        spots = [path for path in spots if path[:1] == head]
    return rng.choice(spots)


def change_list(rng: random.Random, world: World) -> list[Operation]:
    """Put an element of a list in again, take one out, or move one."""
    name = rng.choice([PROJECT] * 4 + [one for one in world.documents if one in (ISSUES, TESTERS)])
    spots = [(list(path), table) for path, table in tables(world.documents[name]) if isinstance(table, list) and table]
    if not spots:  # the moves before took out every list's last element
        return []
    path, found = rng.choice(spots)
    rank = rng.randrange(len(found))
    if rng.random() < 0.5:
        return [["drop", name, [*path, rank]]]
    value = found[rank]
    if isinstance(value, dict):
        fresh = {"id": f"SG-{rng.randint(4, 9)}", "number": rng.randint(8, 30), "name": rng.choice(("", "New")), "action": "Run"}
        value = value | {key: fresh[key] for key in fresh.keys() & value.keys()}
    elif rng.random() < 0.5 and isinstance(value, str):
        value = rng.choice(("Another one.", "Zebra", "horn", "coin", "one"))
    return [["insert", name, path, rng.randint(0, len(found)), value]]


def rename_key(rng: random.Random, world: World) -> list[Operation]:
    """Give an asset, bundle, scene, pad or planned asset another name everywhere."""
    kind = rng.choice([kind for kind in _NAMED if world.at(PROJECT, [kind])])
    name = rng.choice(list(world.at(PROJECT, [kind])))
    return [["rename", PROJECT, [kind, name], rng.choice([one for one in _FREE if one != name])]]


def remove_key(rng: random.Random, world: World) -> list[Operation]:
    """Remove an asset, bundle, scene, pad or planned asset, and what names it."""
    kind = rng.choice([kind for kind in _NAMED if world.at(PROJECT, [kind])])
    return [["purge", PROJECT, [kind, rng.choice(list(world.at(PROJECT, [kind])))]]]


def add_asset(rng: random.Random, world: World) -> list[Operation]:
    """Add an asset, or a copy of one, and perhaps name it in a bundle or scene."""
    kind = rng.choice([kind for kind in _NAMED if kind not in ("pool", "palette", "screen") and world.at(PROJECT, [kind])])
    like, name = rng.choice(list(world.at(PROJECT, [kind]).values())), rng.choice(_FREE)
    moves: list[Operation] = [["set", PROJECT, [kind, name], like]]
    if rng.random() < 0.5 and kind in ("sprite", "background", "sound", "data", "font"):
        lists = [path for path, table in tables(world.documents[PROJECT]) if isinstance(table, list) and path[-1] in ("always", "of")]
        if lists:
            moves.append(["insert", PROJECT, list(rng.choice(lists)), 0, name])
    return moves


def drop_table(rng: random.Random, world: World) -> list[Operation]:
    """Remove a whole table, or bring one back as it was at the start."""
    gone = [key for key in world.first[PROJECT] if key not in world.documents[PROJECT]]
    if gone and rng.random() < 0.7:
        key = rng.choice(gone)
        return [["set", PROJECT, [key], world.first[PROJECT][key]]]
    tables_there = [key for key in world.documents[PROJECT] if key not in ("format", "game", "links")]
    return [["drop", PROJECT, [rng.choice(tables_there)]]] if tables_there else []


def restyle(rng: random.Random, world: World) -> list[Operation]:
    """Write a document otherwise, with the same meaning."""
    return [["style", rng.choice(list(world.documents)), rng.randint(1, 10**6)]]


def text_with_path(rng: random.Random, world: World) -> list[Operation]:
    """Write the project's own path into a text, or a dot that could replace it."""
    text = rng.choice((str(world.project), ".", f"in {world.project}/art", "in ./art"))
    place = rng.choice((
        ["game", "summary"], ["game", "author"], ["contents", "missing"], ["instructions", "test"], ["palette", "figures", "origin"],
    ))  # fmt: skip
    value = [text] if place[-1] in ("missing", "test") else text
    return [["set", PROJECT, place, value]] if world.at(PROJECT, place[:-1]) is not None and len(text) <= 60 else []


def make_bad(rng: random.Random, world: World) -> list[Operation]:
    """Write a wrong value, build, and put it right again."""
    name = rng.choice([PROJECT] * 5 + [one for one in world.documents if one != PROJECT])
    spots = [(list(path), table) for path, table in tables(world.documents[name]) if isinstance(table, dict) and table]
    path, table = rng.choice(spots)
    key = rng.choice([*table, "mispelt"])
    mark = f"bad {rng.randint(1, 10**9)}"
    way = rng.random()
    wrong = ["drop", name, [*path, key]] if way < 0.2 else ["set", name, [*path, key], bad_value(rng)]
    if way > 0.85:
        wrong = ["write", name, packed(rng.choice((b"", b"\xff\xfe", b"= 1\n", b"[game\n", b"\x00")))]
    look = ["compare", [], [], False] if rng.random() < 0.5 else ["run", [], False]
    return [["keep", mark], wrong, look, ["back", mark, rng.choice(("old", "new"))]]


def edit_art(rng: random.Random, world: World) -> list[Operation]:
    """Draw a picture, recording, palette or other source again: other pixels, colours, size or length."""
    name = rng.choice(sources_of(world))
    number, ending = rng.randint(0, 40), Path(name).suffix
    if ending == ".png" and "numbers" in name:
        data = strip(10, (6, 8), number)
    elif ending == ".png" and name.startswith(("art/one", "art/two")):
        size = rng.choice(((12, 16),) * 8 + ((13, 16), (12, 20)))
        folder = Path(name).parent.as_posix()
        if size != (12, 16):  # every frame of a figure has one size
            frames = [one for one in sources_of(world) if Path(one).parent.as_posix() == folder]
            return [["write", one, packed(figure(number, rank, size))] for rank, one in enumerate(frames)]
        data = figure(rng.choice((0, 120, number * 9)), number, size)
    elif ending == ".png" and "coin" in name:
        data = figure(number * 9, number, rng.choice(((16, 16), (16, 16), (24, 16))))
    elif ending == ".png":
        data = scenery(rng.choice(((64, 48), (48, 32), (40, 40))), number)
    elif ending == ".gif":
        data = flapping((12, 8), rng.randint(2, 3), rng.choice((40, 60, 80)))
    elif ending == ".wav":
        data = recording(rng.choice((200, 300, 450)), 8000, number, rng.random() < 0.3)
    elif ending == ".gpl":
        data = swatches(rng.randint(2, 4), number)
    elif ending == ".txt":
        data = rng.choice(("Über den Hügel, 12:45?\n", "Zum Meer!\r\n", "Żółw\n", "A\n")).encode()
    elif name == "changes.md":
        data = f"## {rng.choice(('0.1.0', '0.1.1', '0.2.0'))}\n\nWords {number}.\n".encode()
    else:
        data = bytes((number * 7 + at) % 256 for at in range(rng.choice((40, 100, 101))))
    return [["write", name, packed(data)]]


def sources_of(world: World) -> list[str]:
    """Return the sources that are not documents, templates or records of the tool."""
    left = {*world.documents, "fonts/mono.ttf", "ledger.json", "make.py"}
    apart = ("ledger/", "templates/", "reports/", "exports/")
    return [name for name in sorted(world.sources()) if name not in left and not name.startswith(apart)]


def frames(rng: random.Random, world: World) -> list[Operation]:
    """Insert a frame in the middle, remove one, rename one, swap two."""
    folder = rng.choice(("art/one", "art/two"))
    there = [name for name in sorted(world.sources()) if Path(name).parent.as_posix() == folder]
    way = rng.random()
    if way < 0.35 or len(there) < 2:
        new = f"{folder}/f{rng.choice(('10', '1b', '00', '2', '0'))}.png"
        return [["write", new, packed(figure(rng.choice((0, 120)), rng.randint(0, 9)))]]
    one, other = rng.sample(there, 2)
    if way < 0.55:
        return [["remove", one]]
    if way < 0.8:
        return [["move", one, f"{folder}/f{rng.choice(('9', '10', '1a', '02'))}.png"]]
    return [["move", one, "art/swap"], ["move", other, one], ["move", "art/swap", other]]


def same_size(rng: random.Random, world: World) -> list[Operation]:
    """Change one byte of a source; the tool either takes it or refuses it."""
    name = rng.choice([one for one in sources_of(world) if one.endswith((".bin", ".wav", ".txt", ".gpl", ".md"))])
    return [["flip", name, rng.randint(44, 10**4)]]


def links(rng: random.Random, world: World) -> list[Operation]:
    """Put a link in place of a source, or a file back in place of a link."""
    name = rng.choice(sources_of(world))
    there = world.sources()
    if there[name].link:
        return [["remove", name], ["write", name, packed((world.project / name).read_bytes())]]
    like = [one for one in sources_of(world) if one != name and Path(one).suffix == Path(name).suffix and not there[one].link]
    if not like:
        return []
    other = rng.choice(like)
    if rng.random() < 0.4:
        return [["hardlink", name, other]]
    return [["symlink", name, "../" * name.count("/") + other]]


def touch(rng: random.Random, world: World) -> list[Operation]:
    return [["touch", name] for name in rng.sample(sorted(world.sources()), 3)]


def templates(rng: random.Random, world: World) -> list[Operation]:
    """Add, change or remove a template or message file of the project's own."""
    shipped = sorted(path.relative_to(TEMPLATES).as_posix() for path in TEMPLATES.rglob("*") if path.suffix in (".j2", ".c", ".h"))
    shipped = [name for name in shipped if not name.startswith(("start/", "triage"))]
    own = [name for name in world.sources() if name.startswith("templates/") and name not in world.documents]
    wordings = [name for name in world.documents if name.startswith("templates/")]
    way = rng.random()
    if way < 0.2 and own:
        return [["remove", rng.choice(own)]]
    if way < 0.3 and wordings:
        return [["doc", rng.choice(wordings), None]]
    if way < 0.4:
        return [["doc", f"templates/packet.{rng.choice(('en', 'de', 'en-gb', 'pl'))}.toml", shipped_wording(rng.choice(("en", "de")))]]
    if way < 0.7 and wordings:
        name = rng.choice(wordings)
        path, table = rng.choice([(path, table) for path, table in tables(world.documents[name]) if isinstance(table, dict) and path])
        key = rng.choice(list(table))
        return [["set", name, [*path, key], rng.choice(("Words", "{{ title }}", "ż")) if isinstance(table[key], str) else table[key][::-1]]]
    name = rng.choice(shipped)
    comment = "/* {} */\n" if name.endswith((".c", ".h", ".c.j2", ".h.j2")) else "; {}\n"
    return [["write", f"templates/{name}", packed((TEMPLATES / name).read_bytes() + comment.format(rng.randint(1, 5)).encode())]]


def quiet_edits(rng: random.Random, world: World) -> list[Operation]:
    """Change what reaches no image, one thing after another, and compare after each.

    A change of the image runs nearly every step behind it, so that what one of them does not look at stays hidden.
    """
    operations: list[Operation] = [["keep", f"quiet {rng.randint(1, 10**9)}"]]
    if "templates/packet.en.toml" not in world.documents:
        operations.append(["doc", "templates/packet.en.toml", shipped_wording("en")])
    texts = [(table, key) for table, keys in shipped_wording("en").items() for key, value in keys.items() if isinstance(value, str)]
    edits: list[Operation] = [["set", "templates/packet.en.toml", list(rng.choice(texts)), f"Words {rng.randint(1, 99)}"] for _ in range(2)]
    for name in ("notes.txt.j2", "report.html.j2", "console/reader.h.j2", "assets.inc.j2"):
        edits.append(["write", f"templates/{name}", packed((TEMPLATES / name).read_bytes() + b"; %d\n" % rng.randint(1, 99))])
    edits.append(["write", "changes.md", packed(f"## {world.at(PROJECT, ['game', 'version'])}\n\nQuiet {rng.randint(1, 99)}.\n".encode())])
    for path in (["game", "summary"], ["contents", "missing"], ["control"], ["links", "more"], ["plan", "names"]):
        record, key = record_at(PROJECT, tuple(path[:-1])), path[-1]
        value = value_for(record, key, rng, world)
        edits.append(["set", PROJECT, path, value] if value is not None else ["touch", "project.toml"])
    for edit in rng.sample(edits, 3):
        operations += [edit, ["compare", [], [], False]]
    return operations


def own_target(rng: random.Random, world: World) -> list[Operation]:
    """Copy the target into the project, edit the copy, go back to the shipped one."""
    named = world.at(PROJECT, ["game", "target"])
    if OWN_TARGET not in world.documents:
        return [["doc", OWN_TARGET, shipped_target(world.target)], ["set", PROJECT, ["game", "target"], OWN_TARGET]]
    if named == OWN_TARGET and rng.random() < 0.2:
        return [["set", PROJECT, ["game", "target"], world.target]]
    if named != OWN_TARGET:
        return [["set", PROJECT, ["game", "target"], OWN_TARGET]]
    path, record = rng.choice(_records(world, OWN_TARGET))
    key = rng.choice(keys_of(record))
    value = value_for(record, key, rng, world)
    return [["set", OWN_TARGET, [*path, key], value]] if value is not None else []


def issues_and_testers(rng: random.Random, world: World) -> list[Operation]:
    """Move known issues between their two places, or let a list of testers come and go."""
    if rng.random() < 0.5:
        if TESTERS in world.documents:
            return [["doc", TESTERS, None]]
        return [["doc", TESTERS, {"tester": [{"number": number} for number in rng.sample(range(1, 9), rng.randint(0, 2))]}]]
    if ISSUES in world.documents:
        return [["doc", ISSUES, None], ["set", PROJECT, ["issue"], world.documents[ISSUES].get("issue", [])]]
    return [["doc", ISSUES, {"issue": world.at(PROJECT, ["issue"]) or []}], ["drop", PROJECT, ["issue"]]]


def harm_build(rng: random.Random, world: World) -> list[Operation]:
    """Damage, delete or replace files of the build."""
    made = [name for name in built_files(world) if not name.startswith(".state")]
    ways = ["remove", "empty", "cut", "rubbish", "append", "sneak"] + [way for way in ("outside", "folder") if way in world.allowed]
    return [["harm", name, rng.choice(ways)] for name in rng.sample(made, min(len(made), rng.choice((1, 1, 1, 3, 12))))]


def harm_state(rng: random.Random, world: World) -> list[Operation]:
    """Damage or delete the build's own records."""
    made = [name for name in built_files(world) if name.startswith(".state") and not name.endswith("lock")]
    if "orphans" not in world.allowed:
        made = [name for name in made if "outputs.json" not in name]
    if "database" not in world.allowed:
        made = [name for name in made if "steps.sqlite3" not in name]
    return [["harm", rng.choice(made), rng.choice(("remove", "empty", "cut", "rubbish", "append", "sneak"))]] if made else []


def harm_cache(rng: random.Random, world: World) -> list[Operation]:
    """Damage or delete results of frames, put those of another version there, or another asset's, as if they were shared."""
    made = [name for name in built_files(world) if name.startswith(".state/cache/")]
    ways = ("remove", "empty", "cut", "rubbish", "append", "sneak", "older", "other", "other")
    return [["harm", name, rng.choice(ways)] for name in rng.sample(made, min(len(made), rng.choice((1, 2, 9))))]


def clear_build(rng: random.Random, world: World) -> list[Operation]:
    folders = ["", "proofs", "work", "blobs", "kit", "rom", ".state/cache"] + ([".state", ".state"] if "orphans" in world.allowed else [])
    return [["clear", rng.choice(folders)]]


def built_files(world: World) -> list[str]:
    build = world.project / "build"
    return sorted(path.relative_to(build).as_posix() for path in build.rglob("*") if path.is_file())


def foreign(rng: random.Random, world: World) -> list[Operation]:
    return [["foreign", rng.choice(_FOREIGN), packed(b"mine %d" % rng.randint(0, 9))]]


def move_away(rng: random.Random, world: World) -> list[Operation]:
    return [["away", rng.choice([name for name in ("game", "other game", "third") if name != world.name])]]


def environment(rng: random.Random, world: World) -> list[Operation]:
    name, values = rng.choice((
        ("TZ", ("Pacific/Kiritimati", "UTC", None)), ("LC_ALL", ("C", "C.UTF-8", None)), ("PYTHONHASHSEED", ("1", "77", None)),
        ("SOURCE_DATE_EPOCH", ("1700000000", "1", None)),
    ))  # fmt: skip
    return [["env", name, rng.choice(values)]]


def part(rng: random.Random, world: World) -> list[Operation]:
    """Run a part of the build, one step, or one of doit's own commands."""
    doc = world.documents.get(PROJECT, {})
    single = [f"{step}:{name}" for kind, steps in _STEPS.items() for name in doc.get(kind, {}) for step in steps]
    commands = [
        ["rom"], ["verify"], ["proofs"], ["budget"], ["packet"], ["kit"], ["report"], ["where"], ["fit"], ["savings"], ["why"], ["growth"],
        ["burn"], ["preflight"], ["changes"], ["schema"], ["list"], ["-n", "2"], ["-n", "2", "rom"], ["forget", "rom"], ["forget"],
        ["clean"], ["intake"], ["why=yes"], ["reset-dep"], ["info", "rom"], ["-a", "rom"], ["-s", "rom"], ["rom", "kit"],
    ]  # fmt: skip
    commands += [["ignore", "rom"]] if "ignore" in world.allowed else []
    commands += [["where", f"name={rng.choice(list(doc.get('sprite', {'x': 0})) or ['x'])}"]]
    commands += [[rng.choice(single)] for _ in range(8)] if single else []
    words = rng.choice(commands)
    return [["run", words, world.real and ("-n" in words or rng.random() < 0.1)]]


_STEPS = {
    "sprite": ("sprite", "prepare", "sample", "proof", "shown", "pack"), "background": ("background", "proof", "shown"),
    "palette": ("palette", "proof"), "sound": ("sound", "proof"), "screen": ("screen", "proof"), "data": ("data",), "pool": ("pool",),
    "font": ("font", "prepare"), "program": ("program",),
}  # fmt: skip


def release(rng: random.Random, world: World) -> list[Operation]:
    """Record the build as released, and go on with the next version."""
    version = world.at(PROJECT, ["game", "version"])
    later = {"0.1.0": "0.1.1", "0.1.1": "0.2.0-rc.1", "0.2.0-rc.1": "0.2.0", "0.2.0": "1.0.0"}.get(version)
    moves: list[Operation] = [["run", ["release"], False]]
    if later and rng.random() < 0.8:
        moves.append(["set", PROJECT, ["game", "version"], later])
    return moves


def intake(rng: random.Random, world: World) -> list[Operation]:
    """Take in what testers sent, or remove what one of them sent."""
    columns = world.at(PROJECT, ["intake", "bugs", "columns"])
    if not columns or rng.random() < 0.3:
        return [["run", ["erase", f"tester={rng.choice((1, 3, 'Zabriska Quill'))}"], False]]
    cells = {"what": ("It stops.", "The hill is green", "Ü"), "severity": ("Bad", "A blemish", "So so"), "build": ("XPAQPR", "000000")}
    rows = [list(columns.values())] + [[rng.choice(cells.get(key, ("Zabriska Quill", "T3", ""))) for key in columns] for _ in range(3)]
    text = "".join(",".join(f'"{cell}"' for cell in row) + "\r\n" for row in rows)
    return [["write", "exports/bugs.csv", packed(text.encode())], ["run", ["intake", "csv={project}/exports/bugs.csv"], False]]


def program_command(rng: random.Random, world: World) -> list[Operation]:
    """Let a command make the program, change its script, or take the finished file again."""
    number = rng.randint(0, 9)
    script = f"import sys\ndata = open('level.bin', 'rb').read()\nopen(sys.argv[1], 'wb').write(bytes([{number}]) * 16 + data[:40])\n"
    made = {"command": ["python3", "make.py", "{output}"], "depends": ["level.bin"], "reserve": "1 KiB", "origin": "Made."}
    if (world.at(PROJECT, ["program", "main"]) or {}).get("command") and rng.random() < 0.5:
        made = {"file": "main.bin", "origin": "Made."}
    return [["write", "make.py", packed(script.encode())], ["set", PROJECT, ["program"], {"main": made}]]


def revert(rng: random.Random, world: World) -> list[Operation]:
    """Go back to what was kept earlier."""
    return [["back", rng.choice(list(world.kept)), rng.choice(("old", "new"))]] if world.kept else []


def write_otherwise(rng: random.Random, world: World) -> list[Operation]:
    return [["how", rng.choice(("plain", "replace", "keep", "keep"))]]


# Move -> its weight.
MOVES: dict[Move, int] = {
    edit_key: 26, order_keys: 14, change_list: 8, rename_key: 5, remove_key: 5, add_asset: 5, drop_table: 4, restyle: 2,
    text_with_path: 2, make_bad: 5, edit_art: 14, frames: 8, same_size: 4, links: 4, touch: 2, templates: 14, own_target: 6,
    issues_and_testers: 3, harm_build: 8, harm_state: 5, harm_cache: 4, clear_build: 2, foreign: 2, move_away: 2, environment: 3, part: 14,
    release: 4, quiet_edits: 7, revert: 9, write_otherwise: 4, intake: 2, program_command: 3,
}  # fmt: skip
# What a history may leave out: switch -> moves, or ways of a move.
SWITCHES: dict[str, tuple[Move, ...]] = {
    "order": (order_keys,), "paths": (text_with_path,), "moved": (move_away,), "orphans": (), "database": (), "outside": (), "folder": (),
    "ignore": (), "commands": (program_command,), "damage": (harm_build, harm_state, harm_cache, clear_build), "releases": (release,),
    "links": (links,),
}  # fmt: skip


def draw(rng: random.Random, world: World) -> tuple[str, list[Operation]]:
    """Return the name of a random move and its operations; none where it has nothing to move."""
    left_out = {move for switch, moves in SWITCHES.items() if switch not in world.allowed for move in moves}
    moves = [move for move in MOVES if move not in left_out]
    move = rng.choices(moves, [MOVES[move] for move in moves])[0]
    return move.__name__, move(rng, world)


def changes_sources(operations: list[Operation]) -> bool:
    """Return whether operations may make the project one that is refused."""
    quiet = {"run", "compare", "harm", "foreign", "clear", "touch", "how", "keep", "env", "away"}
    return any(word not in quiet for word, *_ in operations)

