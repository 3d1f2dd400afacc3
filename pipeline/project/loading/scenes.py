"""Checks of bundles, scenes, planned assets and load lists: every name means something, and every number can be kept."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

import pipeline.project.file as pf
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.loading.sources import IDENTIFIER
from pipeline.project.loading.tiles import check_layers
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.kinds import KINDS

_LARGEST = 1 << 32  # bytes of memory or of an image that numbers of four bytes can count


def check_scenes(document: Document, project: LoadedProject) -> None:
    """Note every problem of bundles, scenes and planned assets."""
    spec = project.spec
    for name, planned in spec.planned.items():
        _check_planned(document, project, name, planned)
    loaded = {**project.assets, **spec.planned}
    for name, members in spec.bundle.items():
        if name in loaded:
            taken = f"a {project.assets[name].kind}" if name in project.assets else "a planned asset"
            document.say(("bundle", name), f"{name!r} is also {taken}", "give the bundle another name")
        _check_members(document, _members_of(spec, name), members, loaded)
    _check_runs(document, project)
    for name, scene in spec.scene.items():
        _check_scene(document, ("scene", name), scene, {**loaded, **spec.bundle}, spec.scene)
        _check_direct(document, project, ("scene", name, "direct"), scene)
        _check_packed(document, project, ("scene", name, "packed"), scene)
        _check_streams(document, project, name, scene)
        check_layers(document, project, name, scene)


def _members_of(spec: pf.Project, name: str) -> tuple:
    return ("bundle", name, "members") if isinstance(spec.bundles[name], pf.Bundle) else ("bundle", name)


def _check_runs(document: Document, project: LoadedProject) -> None:
    """Note members of contiguous bundles whose place is not the bundle's to decide."""
    seen: dict[str, str] = {}
    for name, members in project.spec.runs.items():
        path = _members_of(project.spec, name)
        if not members:
            document.say(path, "a contiguous bundle has no members", "name its assets, or remove the bundle")
        for rank, member in enumerate(members):
            asset = project.assets.get(member)
            if member in seen:
                wrong = f"{member!r} is in the contiguous bundle {seen[member]!r} too, and can be at one place only"
                if seen[member] == name:
                    wrong = f"{member!r} is named twice"
                    document.say((*path, rank), wrong, "name it once")
                else:
                    remedy = "load it by a bundle of its own, or leave it out of one of the two and name it in the scenes that need it"
                    document.say((*path, rank), wrong, remedy)
            elif asset is not None and KINDS[asset.kind].late:
                remedy = "leave it out here, and name it in scenes"
                document.say((*path, rank), f"a {asset.kind} has a place of its own", remedy)
            elif asset is not None and asset.spec.address is not None:
                wrong = f"{member!r} has an address of its own"
                document.say((*path, rank), wrong, "remove address from the asset, or leave it out of the contiguous bundle")
            elif member in project.spec.planned:
                document.say((*path, rank), f"{member!r} is only planned", "leave it out until there is an asset")
            seen.setdefault(member, name)


def _check_scene(document: Document, path: tuple, scene: pf.Scene, known: Mapping[str, Any], scenes: Collection[str]) -> None:
    _check_members(document, (*path, "always"), scene.always, known)
    _check_members(document, (*path, "direct"), scene.direct, known)
    _check_members(document, (*path, "packed"), scene.packed, known)
    for rank, name in enumerate(scene.after or []):
        if name not in scenes and name not in document.broken:
            near = nearest_name(name, scenes)
            document.say((*path, "after", rank), f"there is no scene {name!r}", f"did you mean {near}?" if near else "name a scene")
    for rank, choice in enumerate(scene.choose):
        place = (*path, "choose", rank)
        _check_members(document, (*place, "of"), choice.of, known)
        members = sum(known[one].count if isinstance(known.get(one), pf.Planned) else 1 for one in set(choice.of))
        if not choice.repeat and choice.count > members:
            document.say((*place, "count"), f"{choice.count} of {members}", "choose fewer, or allow repeat")
    chosen = {member: None for choice in scene.choose for member in choice.of}
    for rank, names in enumerate(scene.never):
        for at, name in enumerate(names):
            if name not in chosen and name not in document.broken:
                near = nearest_name(name, chosen)
                remedy = f"did you mean {near}?" if near else "name members that the scene chooses from"
                document.say((*path, "never", rank, at), f"the scene chooses no {name!r}", remedy)
        if len(set(names)) < max(len(names), 2):
            document.say((*path, "never", rank), f"{names} are not two different members", "name two or more, each once")


def _check_direct(document: Document, project: LoadedProject, path: tuple, scene: pf.Scene) -> None:
    """Note what is read straight from the cartridge and is packed there: it has to be unpacked into memory."""
    for rank, member in enumerate(scene.direct):
        found = [project.assets[one] for one in project.spec.parts([member]) if one in project.assets]
        found += [project.assets[pool] for pool in (getattr(one.spec, "pool", None) for one in found) if pool in project.assets]
        packed = [one.name for one in found if getattr(one.spec, "packing", "stored") != "stored"]
        if packed:
            names = ", ".join(map(repr, dict.fromkeys(packed)))
            wrong = f"{names} may be packed in the image, and using a packed asset takes memory"
            document.say((*path, rank), wrong, 'give it packing = "stored", or leave it out of direct')


def _check_packed(document: Document, project: LoadedProject, path: tuple, scene: pf.Scene) -> None:
    """Note what a scene both reads straight from the cartridge and keeps packed in memory."""
    direct = set(project.spec.parts(scene.direct))
    for rank, member in enumerate(scene.packed):
        both = [one for one in project.spec.parts([member]) if one in direct]
        if both:
            wrong = f"{', '.join(map(repr, both))} is under direct too, which takes no memory"
            document.say((*path, rank), wrong, "leave it out of one of the two")


def _check_streams(document: Document, project: LoadedProject, name: str, scene: pf.Scene) -> None:
    """Note every problem of a scene's tables ``streamed``, ``sets`` and ``window``."""
    path = ("scene", name)
    _check_named(document, project, (*path, "streamed"), scene, scene.streamed, "sprite")
    _check_named(document, project, (*path, "window"), scene, scene.window, "background")
    for member, said in scene.streamed.items():
        _check_streamed(document, project, (*path, "streamed", member), member, said)
    for member, said in scene.window.items():
        _check_window(document, project, (*path, "window", member), member, said)
    roles = dict.fromkeys(said.role for said in scene.streamed.values() if said.role)
    for role in scene.sets:
        if role not in roles:
            near = nearest_name(role, roles)
            remedy = f"did you mean {near}?" if near else "name the role of something under streamed"
            document.say((*path, "sets", role), f"nothing streamed here has the role {role!r}", remedy)


def _check_named(document: Document, project: LoadedProject, path: tuple, scene: pf.Scene, names: Iterable[str], kind: str) -> None:
    """Note names that are not in the scene, hold nothing of the kind, are named twice, or are held in another way too."""
    spec = project.spec
    loaded = spec.parts(scene.members)
    other = {"direct": spec.parts(scene.direct), "packed": spec.parts(scene.packed)}
    before: dict[str, str] = {}
    for name in names:
        if name in document.broken:
            continue
        parts = spec.parts([name])
        planned = [part for part in parts if part in spec.planned]
        found = [project.assets[part] for part in parts if part in project.assets and project.assets[part].kind == kind]
        if not set(parts) <= set(loaded) and not set(parts) & document.broken:
            near = nearest_name(name, [*loaded, *scene.always])
            remedy = f"did you mean {near}?" if near else "name what always or choose of this scene loads"
            document.say((*path, name), f"the scene does not load {name!r}", remedy)
        elif planned and not found:
            wrong = f"{planned[0]!r} is planned, and has no frames or pixels to measure yet"
            document.say((*path, name), wrong, "leave it out until it exists")
        elif not found and not set(parts) & document.broken:
            held = f"{name!r} is a {project.assets[name].kind}" if name in project.assets else f"there is no {kind} in {name!r}"
            document.say((*path, name), f"{held}, which has no {_PARTS[kind]}", f"name a {kind}, or a bundle that holds one")
        for asset in found:
            _check_once(document, (*path, name), asset, other, before)
            before[asset.name] = name


_PARTS = {"sprite": "frames to stream", "background": "picture to move a window over"}


def _check_once(document: Document, path: tuple, asset: Asset, other: dict[str, list[str]], before: dict[str, str]) -> None:
    for table, parts in other.items():
        if asset.name in parts:
            document.say(path, f"{asset.name!r} is under {table} too", "leave it out of one of the two")
    if asset.name in before:
        document.say(path, f"{asset.name!r} is under {before[asset.name]} already", "name it once")


def _found(project: LoadedProject, member: str, kind: str) -> list[Asset]:
    parts = project.spec.parts([member])
    return [project.assets[part] for part in parts if part in project.assets and project.assets[part].kind == kind]


def _check_streamed(document: Document, project: LoadedProject, path: tuple, member: str, said: pf.Streamed) -> None:
    if said.within > 1 and said.buffers < 2:
        wrong = f"{said.within} pictures for a fetch into the only buffer, which is shown"
        document.say((*path, "within"), wrong, "give buffers = 2, or leave within out")
    for sprite in _found(project, member, "sprite"):
        _check_stored(document, project, path, sprite, "by frame")
        if said.unit == "animation" and not (sprite.spec.animations or sprite.spec.animated):
            document.say((*path, "unit"), f"{sprite.name!r} has no animations", 'give it some, or write unit = "frame"')


def _check_window(document: Document, project: LoadedProject, path: tuple, member: str, said: pf.SceneWindow) -> None:
    for background in _found(project, member, "background"):
        _check_stored(document, project, path, background, "in strips")
        if said.tiles == "streamed" and background.spec.arrangement != "tiles":
            wrong = f"{background.name!r} is a bitmap, which has no tiles"
            document.say((*path, "tiles"), wrong, 'leave it out, or give the background arrangement = "tiles"')


def _check_stored(document: Document, project: LoadedProject, path: tuple, asset: Asset, how: str) -> None:
    """Note what is packed as a whole: no part of it can be fetched."""
    pool = project.assets.get(getattr(asset.spec, "pool", "") or "")
    for one in (asset, pool):
        if one is not None and one.spec.packing != "stored":
            wrong = f"{one.name!r} may be packed in the image as a whole, and cannot be fetched {how}"
            document.say(path, wrong, 'give it packing = "stored", or leave it out here')


def _sizes(planned: pf.Planned) -> tuple[str, ...]:
    return KINDS[planned.kind].planned or ()


def _check_planned(document: Document, project: LoadedProject, name: str, planned: pf.Planned) -> None:
    path = ("planned", name)
    if not IDENTIFIER.fullmatch(name):
        document.say(path, f"{name!r} is not a valid name", "use small letters, digits and underscores")
    if name in project.assets:
        document.say(path, f"{name!r} is already a {project.assets[name].kind}", "the asset is there: remove what was planned")
    for key in ("width", "height", "frames", "scale", "seconds"):
        if getattr(planned, key) is not None and key not in _sizes(planned):
            document.say((*path, key), f"a {planned.kind} has no {key}", "leave it out")
    if planned.like is not None:
        _check_like(document, project, (*path, "like"), planned.kind, planned.like)
    elif planned.bytes is None:
        _check_measured(document, project, path, planned)


def _check_like(document: Document, project: LoadedProject, path: tuple, kind: str, like: str) -> None:
    if like in document.broken:
        return
    kin = [asset.name for asset in project.of_kind(kind)]
    if kind == "data":
        document.say(path, "data is like nothing else", "give bytes")
    elif like not in kin:
        near = nearest_name(like, kin)
        document.say(path, f"there is no {kind} {like!r}", f"did you mean {near}?" if near else "name one, or give bytes")


def _check_measured(document: Document, project: LoadedProject, path: tuple, planned: pf.Planned) -> None:
    needed = [key for key in _sizes(planned) if key != "scale" and getattr(planned, key) is None]
    if not _sizes(planned) or not project.of_kind(planned.kind):
        document.say((*path, "bytes"), f"is missing: there is no {planned.kind} to estimate from", "give bytes")
    elif needed:
        document.say((*path, needed[0]), "is missing", f"give {', '.join(needed)}, or like, or bytes")


def _check_members(document: Document, path: tuple, members: list[str], known) -> None:
    for rank, member in enumerate(members):
        if member not in known and member not in document.broken:
            near = nearest_name(member, known)
            remedy = f"did you mean {near}?" if near else "name an asset or a bundle of this project"
            document.say((*path, rank), f"there is no {member!r}", remedy)


def check_lists(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with load lists."""
    path, spec = ("lists", asset.name), project.spec
    if asset.name != project.of_kind("lists")[0].name:
        document.say(path, "a project has one table of load lists", "put its scenes into the first, and remove this one")
        return
    if not spec.scene:
        document.say(path, "the project has no scene to load", "add a [scene.NAME] table, or remove the lists")
    for rank, name in enumerate(asset.spec.scenes or []):
        if name not in spec.scene and name not in document.broken:
            near = nearest_name(name, spec.scene)
            document.say((*path, "scenes", rank), f"there is no scene {name!r}", f"did you mean {near}?" if near else "name a scene")
    if max(project.target.memory.size, *project.target.cartridge.sizes) > _LARGEST:
        document.say(path, "load lists number 4 GiB of memory and of cartridge, and the target has more", "remove the lists")
    _check_known_sizes(document, project)


def _check_known_sizes(document: Document, project: LoadedProject) -> None:
    """Note members that have no size before the lists are made."""
    spec = project.spec
    found: list[tuple[tuple, list[str]]] = [(("bundle", name), members) for name, members in spec.bundle.items()]
    for name, scene in spec.scene.items():
        found.append((("scene", name, "always"), scene.always))
        found += [(("scene", name, "choose", rank, "of"), choice.of) for rank, choice in enumerate(scene.choose)]
    for path, members in found:
        for member in members:
            asset = project.assets.get(member)
            if asset is None:
                continue
            if asset.kind == "lists":
                document.say(path, f"{member!r} are load lists, which are read in the cartridge", "leave them out")
            elif asset.kind == "program" and asset.spec.command and asset.spec.reserve is None:
                wrong = f"the size of {member!r} is not known before it is built, and a load list needs it"
                document.say(path, wrong, f"set reserve of [program.{member}], or leave it out")
