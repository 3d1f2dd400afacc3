"""The packet as one self-contained page, ``packet.html``, for a phone, a tablet or the web: the words and values of the PDF packet."""

from __future__ import annotations

import base64
import datetime
import hashlib
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pipeline.joints.found.findings import read_cautions
from pipeline.joints.map import ASSETS, read_map
from pipeline.joints.places import Sources
from pipeline.packet.content.changed import changed_lines
from pipeline.packet.content.content import NOT_POSSIBLE, clean, packet_content
from pipeline.packet.content.filled import Wording
from pipeline.packet.content.found import all_cautions
from pipeline.packet.content.party import Share
from pipeline.plain.files import read_json, write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.project.plan import PADS, Grid
from pipeline.project.testers import label_of, listed_tester
from pipeline.project.wording import MessageFile, read_wording

_CELL = 20  # units of a drawing's coordinates for a column or row of a pad's face
_SHOULDER = 8  # of them that a shoulder is above the body
_LETTERS = {"round": 2, "square": 3, "bar": 6, "shoulder": 6, "cross": 0}  # of a button's name that fit onto it
# Where an arm of a cross is from the cross's middle -> its triangle, around the arm's own middle.
_ARMS = {(0, -1): "M0-5L5 4H-5Z", (0, 1): "M0 5L5-4H-5Z", (-1, 0): "M-5 0L4-5V5Z", (1, 0): "M5 0L-4-5V5Z"}
_SHOWN = 12  # assets whose pictures before and now are shown, as in the PDF
_SEEN = 240  # pixels up to which a small picture beside an issue is enlarged
_UNSEEN = ("sound",)
_WIDTH, _HEIGHT = 24, 4  # bytes of a PNG at which its width begins, and of each of its two sizes (PNG specification, 11.2.2)


def write_page(
    map_file: Path,
    wording: MessageFile,
    template: Template,
    style: Template,
    script: Template,
    spec: dict[str, Any],
    date: datetime.date | None,
    console: str,
    out: Path,
    boot: Path | None,
    image_name: str,
    changes_file: Path | None = None,
    grids: tuple[Grid, ...] = (),
    shares: dict[int, Share] | None = None,
    tester: str = "",
    name: str = "",
    message: str = "",
    issue_pictures: dict[str, Path] | None = None,
    cautions_file: Path | None = None,
) -> str:
    """Write the page; return one line about it.

    Args:
        template, style, script: ``packet.html.j2``, ``packet.css`` and ``packet.js``.
        others: see ``packet.document.write_packet``.

    Raises:
        ProjectError: the wording is not whole, or a template has a mistake.
    """
    changes = read_json(changes_file) if changes_file else None
    messages = read_wording(wording)
    values = packet_content(spec, read_map(map_file).image, date, console, image_name, changes, tester, messages.numbers)
    values |= {"boot_screen": boot is not None, "name": clean(name), "message": clean(message), "found": read_cautions(cautions_file)}
    words = Wording(messages, values)
    looks, runs = render(style, {}), render(script, {})
    values |= {
        "say": words.text,
        "key": f"packet-{values['code']}-{values['build']}{f'-{tester}' if tester else ''}",
        "style": looks,
        "script": runs,
        "style_hash": _hash(looks),
        "script_hash": _hash(runs),
        "boot": _picture(boot.read_bytes()) if boot else None,
        "issues": _issues(values["issues"], issue_pictures or {}),
        "plan": [*_plan(grids, shares, bool(tester), words)],
        **_fixed(values, words),
        **_shares(words, tester, values["name"]),
    }
    values["contents"] = [*_contents(values, words)]
    page = render(template, values, markup=True).encode()
    write_bytes(out, page)
    return f"one page, {len(page):,} bytes"


def write_own_page(listed: Sources, number: int, mark: str, **page: Any) -> str:
    """Write a tester's page; return one line about it, without their name.

    Args:
        listed, number, mark: as of ``personal.write_personal``.
        page: see ``write_page``.

    Raises:
        ProjectError: see ``write_page``; or the list changed meanwhile.
    """
    tester = listed_tester(listed.folder, number, mark)
    return f"{label_of(number)}: {write_page(tester=label_of(number), name=tester.name, message=tester.message, **page)}"


def _hash(text: str) -> str:
    """Return what a policy calls a style or a script: the hash of just the text that is in the page (CSP Level 3, 2.3.1)."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _picture(png: bytes) -> dict[str, Any]:
    at = _WIDTH - 2 * _HEIGHT
    width, height = (int.from_bytes(png[start : start + _HEIGHT], "big") for start in (at, at + _HEIGHT))
    return {"uri": f"data:image/png;base64,{base64.b64encode(png).decode()}", "width": width, "height": height}


def _fixed(values: dict[str, Any], words: Wording) -> dict[str, Any]:
    """Return what is put together from values and fixed words."""
    numbers = words.numbers
    size = words.text("facts.exact", count=numbers.count(values["bytes"]), size=numbers.size(values["bytes"]))
    facts = [("plan.tester", values["tester"]), *((f"first.{key}", values[key]) for key in ("version", "console", "date", "author"))]
    facts.insert(2, ("first.phase", words.values["phase"]))
    file_facts = {"file": words.text("facts.named"), "bytes": size, **{key: values[key] for key in ("crc32", "sha256", "build")}}
    links = [(words.text(f"more.{key}"), values[key]) for key in ("feedback", "bugs")]
    links += [(words.text("plan.download"), values["download"])] if values["download"] else []
    changes, below = values["changes"], {"plan": values["tasks"], "retest": values["retest"]}
    return {
        "facts": [(words.text(key), value) for key, value in facts if value],
        "file_facts": [(words.text(f"facts.{key}"), value) for key, value in file_facts.items()],
        "links": [*links, *((one["label"], one["link"]) for one in values["more"])],
        "days": [words.text(f"test.{key}") for key, day in (("until", "deadline"), ("expires", "expires")) if values[day]],
        "wishes": [*values["test"], *(words.text(f"phone.{key}") for key, there in below.items() if there)],
        "cautions_all": all_cautions(values["cautions"], values["found"], words),
        "steps": values["run"] or words.texts("run.steps"),
        "report_points": words.pairs("report.points"),
        "thanks_note": words.text("thanks.note", names=words.listed(values["thanks"])) if values["thanks"] else "",
        "pads_shown": [*_pads(values)],
        "changed": changed_lines(changes, words) if changes else [],
        "changed_pictures": [*_changed_pictures(changes, words)] if changes else [],
    }


def _shares(words: Wording, tester: str, name: str) -> dict[str, str]:
    if not tester:
        return {"plan_title": words.text("plan.heading"), "plan_note": words.text("plan.note")}
    return {"plan_title": words.text("plan.share"), "plan_note": words.text(f"plan.share_{'named' if name else 'note'}")}


def _contents(values: dict[str, Any], words: Wording) -> Iterator[tuple[str, str]]:
    """Yield the sections in the order of the template: id and heading."""
    shown = {
        **{"boot": values["boot"], "test": True, "cautions": True, "run": values["steps"], "controls": values["controls"]},
        **{"plan": values["plan"], "included": values["included"], "missing": values["missing"], "retest": values["retest"]},
        **{"issues": True, "changes": values["changes"], "report": values["report_points"], "thanks": values["thanks"]},
        **{"links": True, "facts": True},
    }
    named = {"boot": words.text("first.boot"), "plan": values["plan_title"], "links": words.text("more.heading")}
    for key, there in shown.items():
        if there:
            yield key, named.get(key) or words.text(f"{key}.heading")


def _issues(issues: list[dict[str, Any]], pictures: dict[str, Path]) -> list[dict[str, Any]]:
    shown = {key: _picture(path.read_bytes()) for key, path in pictures.items()}
    for one in shown.values():
        # A few pixels alone would be too small to see.
        times = max(1, _SEEN // max(one["width"], one["height"]))
        one |= {key: one[key] * times for key in ("width", "height")}
    return [one | {"picture": shown.get(one["id"])} for one in issues]


def _pads(values: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield each pad: name, drawing if its buttons have places, and (action, buttons) of what can be done with it."""
    drawings = {one["name"]: _drawing(one) for one in values["pad_drawings"]}
    for rank, name in enumerate(values["pads"]):
        done = [(one["action"], one["buttons"][rank]) for one in values["controls"]]
        yield {"name": name, "drawing": drawings.get(name), "controls": [pair for pair in done if pair[1] != NOT_POSSIBLE]}


def _drawing(pad: dict[str, Any]) -> dict[str, Any]:
    """Return a pad's buttons in units of its drawing, and the middles of its direction crosses."""
    crosses = {tuple(one["box"][:2]) for one in pad["buttons"] if one["shape"] == "cross"}
    hubs = {(x - dx, y - dy) for x, y in crosses for dx, dy in _ARMS if (x - 2 * dx, y - 2 * dy) in crosses} - crosses
    above = _SHOULDER if any(one["shape"] == "shoulder" for one in pad["buttons"]) else 0
    keys = []
    for one in pad["buttons"]:
        left, top, right, bottom = (edge * _CELL for edge in one["box"])
        key = {"shape": one["shape"], "x": (left + right) / 2, "y": (top + bottom) / 2, "width": right - left, "height": bottom - top}
        short = one["name"] if len(one["name"]) <= _LETTERS[one["shape"]] else ""
        keys.append(key | {"used": bool(one["does"]), "short": short, "arrow": _arrow(one, hubs)})
    return {"name": pad["name"], "columns": pad["columns"], "rows": pad["rows"], "buttons": keys, "hubs": sorted(hubs), "above": above}


def _arrow(button: dict[str, Any], hubs: set[tuple[float, float]]) -> str:
    """Return the path of an arm's triangle around its middle; empty for other buttons."""
    x, y = button["box"][:2]
    ways = [path for (dx, dy), path in _ARMS.items() if (x - dx, y - dy) in hubs] if button["shape"] == "cross" else []
    return ways[0] if ways else ""


def _plan(grids: tuple[Grid, ...], shares: dict[int, Share] | None, own: bool, words: Wording) -> Iterator[dict[str, Any]]:
    """Yield each task: text and tables; a task without a grid has an id. Of a tester's plan only what is theirs."""
    share = next(iter(shares.values())) if own and shares else None
    for rank, grid in enumerate(grids):
        mine = None if share is None else share[rank]
        if mine is not None and not mine:
            continue
        count = "" if mine is None or not grid.heads else f" ({words.text('plan.cells', own=f'{len(mine)}', count=f'{len(grid.cells)}')})"
        yield {"text": grid.text + count, "id": f"plan-{rank + 1}", "tables": [*_tables(grid, rank, mine, words)] if grid.heads else []}


def _tables(grid: Grid, rank: int, mine: tuple[int, ...] | None, words: Wording) -> Iterator[dict[str, Any]]:
    """Yield the tables of a grid: the longest dimension down, the next across, one table for each value of the others."""
    order = sorted(range(len(grid.heads)), key=lambda side: -len(grid.values[side]))
    down, across = order[0], order[1] if len(order) > 1 else None
    others = [side for side in range(len(grid.heads)) if side not in (down, across)]
    at = {cell: number for number, cell in enumerate(grid.cells)}
    columns = range(len(grid.values[across])) if across is not None else [0]
    for fixed in itertools.product(*(range(len(grid.values[side])) for side in others)):
        known = dict(zip(others, fixed, strict=True))
        rows = []
        for y, name in enumerate(grid.values[down]):
            places = [known | {down: y} | ({across: x} if across is not None else {}) for x in columns]
            cells = [at.get(tuple(place[side] for side in range(len(grid.heads)))) for place in places]
            heads = grid.values[across] if across is not None else ("",)
            shown = [_cell(grid, rank, cell, mine) | {"column": head} for cell, head in zip(cells, heads, strict=True)]
            rows.append({"name": name, "cells": shown})
        title = ", ".join(
            words.text("plan.of", head=_side(grid, side, words), value=grid.values[side][value]) for side, value in known.items()
        )
        names = grid.values[across] if across is not None else ()
        yield {"title": title, "corner": _side(grid, down, words), "columns": names or ("",), "rows": rows}


def _cell(grid: Grid, rank: int, cell: int | None, mine: tuple[int, ...] | None) -> dict[str, str]:
    if cell is None:
        return {"id": "", "name": "", "text": ""}
    if mine is not None and cell not in mine:
        return {"id": "", "name": "", "text": "·"}
    name = ", ".join(values[at] for values, at in zip(grid.values, grid.cells[cell], strict=True))
    return {"id": f"plan-{rank + 1}-{cell + 1}", "name": name, "text": ""}


def _side(grid: Grid, side: int, words: Wording) -> str:
    name = grid.heads[side]
    return words.text("plan.pads") if name == PADS else name[:1].upper() + name[1:]


def _changed_pictures(changes: dict[str, Any], words: Wording) -> Iterator[dict[str, Any]]:
    found = [(one, key) for key in ASSETS if key != "recoloured" for one in changes[key] if any(one["pictures"].values())]
    for one, key in [pair for pair in found if pair[0]["kind"] not in _UNSEEN][:_SHOWN]:
        shown = [(words.text(f"changes.{when}"), png) for when, png in one["pictures"].items() if png]
        pictures = [_picture(base64.b64decode(png)) | {"label": label} for label, png in shown]
        yield {"name": one["name"], "how": words.text(f"changes.{key}"), "pictures": pictures}
