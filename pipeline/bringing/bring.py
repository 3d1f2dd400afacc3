"""The two questions about a folder of art: a project made of it, and what it would add to a project."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from pipeline.bringing.fit import Fitted, fit
from pipeline.bringing.guess import describe
from pipeline.bringing.look import NOT_ART, look_through
from pipeline.bringing.names import unique
from pipeline.bringing.needs import budget_of, show_needs
from pipeline.bringing.picture import draw_found
from pipeline.bringing.places import Placed, Placing
from pipeline.bringing.records import Description, Found, Left
from pipeline.bringing.text import not_taken, scene, summary, tables
from pipeline.bringing.write import write_project
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import TOML_BYTES
from pipeline.plain.errors import ProjectError, refuse, shown
from pipeline.plain.files import sha256_of, write_bytes
from pipeline.plain.rendering import find_template, render
from pipeline.plain.sizes import counted
from pipeline.project.loading.load import load_project
from pipeline.project.model import PROJECT_FILE, LoadedProject
from pipeline.target.loading import find_target, load_target
from pipeline.target.records import Target

FOUND = "found.png"
# "Branch to itself" of the 68000: a program that waits for ever, to be replaced by the game's.
_WAITING_PROGRAM = bytes.fromhex("60fe")
_OWN = (PROJECT_FILE, "issues.toml", "ledger.json", "changes.md")
_MARK = "# ---- Brought in from"


def start_from(folder: Path, written: str, source: Path, source_written: str, target: str, link: bool) -> str:
    """Write a new project of the art in a folder; return lines about it.

    Args:
        folder: of the project; made when it does not exist. written: the folder as the author wrote it.
        source: of the art. source_written: the same.
        target: name of a shipped target, or path of a target file in the project.
        link: name the art where it is.

    Raises:
        ProjectError: the folder of art cannot be used or holds nothing that can, the target is not known, or a file of the project
            is in the way; then nothing has been written.
    """
    _check_folders(folder, source, source_written, link)
    console = load_target(find_target(target, folder, "target=", lambda: ""))
    description = _described(source, folder, console, set())
    if not description.found:
        raise _nothing(source_written, description)
    placing = Placing(source, folder, description.looked, link)
    fitted, placed = _fitted(description, console, placing, set(), None)
    left = (*description.left, *fitted.left)
    taken_names = {one.found.name for one in placed} | {one.name for one in fitted.palettes}
    values = {"title": _title(source), "code": _code(source), "target": target, "main": unique("main", taken_names)}
    values |= {"boot": unique("boot", taken_names), "source": f"the folder {shown(_folder_name(source), 200)}"}
    values |= {"assets": tables(placed, fitted, defaults=True), "scene": scene(placed, fitted, values["main"]), "left": not_taken(left)}
    text = render(find_template(folder, "start/from.toml.j2"), values).encode()
    extra = {".gitignore": b"build/\nreports/\n", "program/wait.bin": _WAITING_PROGRAM}
    extra = {name: data for name, data in extra.items() if name != ".gitignore" or not (folder / name).exists()}
    picture = draw_found(source, placed)
    write_project(folder, placing, placed, text, extra | {f"build/{FOUND}": picture})
    lines = [f"{counted(len(placed), 'asset')} of {source_written} in {written}", *summary(placed, left)]
    return "\n".join([*lines, f"see {written}/build/{FOUND}; next: build it with project={written}"])


def show_found(folder: Path, picture: Path, budget: Path, source: Path | None, source_written: str, link: bool, add: bool) -> str:
    """Show what the art in a folder would add to a project, as text to paste and as ``build/found.png``; or add it.

    Args:
        folder: of the project. picture: the file of the picture. budget: that of the last build, if there was one.
        source, source_written, link: as of ``start_from``; None where the author named none.
        add: copy the art and append the text to the project file.

    Raises:
        ProjectError: as of ``start_from``.
    """
    if source is None:
        raise refuse("bring", "", "no folder of art is named", "write: bring from=FOLDER")
    _check_folders(folder, source, source_written, link)
    project = load_project(folder)
    description, known = _new(_described(source, folder, project.target, _names(project)), project)
    if not description.found:
        if not known:
            raise _nothing(source_written, description)
        said = f"nothing new in {source_written}: {counted(known, 'asset')} in the project already"
        return "\n".join([said, *summary([], description.left)])
    placing = Placing(source, folder, description.looked, link)
    known_budget = budget_of(budget)
    used = known_budget.image.bytes + known_budget.image.planned if known_budget else 0
    fitted, placed = _fitted(description, project.target, placing, _names(project), _own_scale(project), used)
    left = (*description.left, *fitted.left)
    text = _appended(tables(placed, fitted, defaults=False), left, _folder_name(source))
    drawn = draw_found(source, placed)
    needs = show_needs(fitted, project.target, known_budget, list(project.spec.scene))
    if not add:
        write_bytes(picture, drawn)
        end = f"to copy the art and append this to {PROJECT_FILE}: bring from={source_written} write=yes"
        return "\n".join([text.rstrip(), "", *needs, "", f"see build/{FOUND}; {end}"])
    before = read_whole(folder / PROJECT_FILE, PROJECT_FILE, TOML_BYTES, folder)
    write_project(folder, placing, placed, before + (b"" if before.endswith(b"\n") else b"\n") + text.encode(), {})
    write_bytes(picture, drawn)
    lines = [f"{counted(len(placed), 'asset')} of {source_written} added to {PROJECT_FILE}", *summary(placed, left), *needs]
    return "\n".join([*lines, f"see build/{FOUND}; next: name them in a bundle or a scene, and build"])


def _check_folders(folder: Path, source: Path, source_written: str, link: bool) -> None:
    if not source.is_dir():
        wrong = "is a file, and not a folder of art" if source.exists() else "does not exist"
        raise refuse(source_written, "", wrong, "name the folder that holds your art: from=FOLDER")
    inside = Path(os.path.realpath(source)).is_relative_to(os.path.realpath(folder))
    if link and not inside:
        wrong = "is not inside the project folder, and a project reads nothing outside"
        raise refuse(source_written, "", wrong, "leave link= out, so that the art is copied; or move the folder into the project")
    if inside and not link:
        wrong = "is inside the project folder already"
        raise refuse(source_written, "", wrong, "add link=yes to have the art read where it is")


def _described(source: Path, folder: Path, target: Target, taken: set[str]) -> Description:
    own = os.path.realpath(source) == os.path.realpath(folder)
    but = [folder / name for name in (*NOT_ART, *_OWN)] if own or source.is_relative_to(folder) else [folder]
    looked = look_through(source, but)
    return describe(looked, (target.screen.width, target.screen.height), _folder_name(source), taken)


def _nothing(source_written: str, description: Description) -> ProjectError:
    seen = f"{counted(len(description.left), 'file')}, of which none can be used" if description.left else "no file"
    first = f", such as {shown(description.left[0].file, 100)}, which {shown(description.left[0].why, 200)}" if description.left else ""
    return refuse(source_written, "", f"holds {seen}{first}", "name a folder of pictures such as PNG, of WAV sounds, fonts or palettes")


def _fitted(
    description: Description, target: Target, placing: Placing, taken: set[str], scale: float | None, used: int = 0
) -> tuple[Fitted, list[Placed]]:
    fitted = fit(description.found, target, taken | {one.name for one in description.found}, scale, used)
    return fitted, [placing.place(one) for one, _ in fitted.assets]


def _names(project: LoadedProject) -> set[str]:
    return {*project.assets, *project.spec.bundle, *project.spec.planned}


def _own_scale(project: LoadedProject) -> float | None:
    """Return the scale that the project gives all sprites; None if it gives none, or one that is not a single factor."""
    given = project.spec.defaults.sprite.get("scale", 1.0)
    return float(given) if isinstance(given, (int, float)) and "height" not in project.spec.defaults.sprite else 1.0


def _new(description: Description, project: LoadedProject) -> tuple[Description, int]:
    """Return a description without what the project has already, by content, and how many assets that is."""
    known = _contents(project)
    fresh: list[Found] = []
    left: list[Left] = []
    there = 0
    for one in description.found:
        mine = {description.looked[name].digest for name in one.files}
        if mine <= known:
            there += 1
        elif 2 * len(mine & known) >= len(mine):
            there_already = f"{len(mine & known)} of {len(mine)} files are in the project"
            why = f"belongs to {one.kind} {one.name}, of which {there_already}; add the rest yourself"
            left += [Left(name, why) for name in one.files if description.looked[name].digest not in known]
        else:
            fresh.append(one)
    return replace(description, found=tuple(fresh), left=(*description.left, *left)), there


def _contents(project: LoadedProject) -> set[str]:
    """Return the SHA-256 of the content of every file of the project's assets."""
    return {sha256_of(project.folder / name) for name in {name for asset in project.assets.values() for name in asset.files}}


def _appended(assets: str, left: tuple[Left, ...], name: str) -> str:
    rest = not_taken(left)
    return f"\n{_MARK} the folder {shown(name, 100)} ----\n\n{assets}" + (f"\n{rest}" if rest else "")


def _folder_name(source: Path) -> str:
    """Return the name of a folder without its place: a project is the same on every machine."""
    return Path(os.path.realpath(source)).name


def _title(source: Path) -> str:
    words = _folder_name(source).replace("_", " ").replace("-", " ").split()
    title = " ".join(words).title()[:30]
    return title if title.isascii() and title.isprintable() and title else "My Game"


def _code(source: Path) -> str:
    letters = "".join(char for char in _folder_name(source).upper() if char.isascii() and char.isalnum())
    letters = letters.lstrip("0123456789")[:4]
    return letters if len(letters) > 1 else "GAME"

