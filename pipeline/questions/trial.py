"""Trials: what assets would become if the project said something else, by converting them, without touching the build.

A step of a trial is known by a key made of all it depends on, so that what the build or an earlier trial has made already
is not made again. What trials make is kept beside the build's own records, compressed, the longest unused thrown away.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import stat
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

import msgspec

from pipeline.cache.code import code_digests, library_versions
from pipeline.graph.freshness.digest import file_digest
from pipeline.graph.freshness.settings import flatten, shown_path
from pipeline.graph.steps.assets import asset_steps
from pipeline.graph.steps.memory import budget_settings, in_part, streaming_steps
from pipeline.graph.steps.packing import packing_steps
from pipeline.graph.steps.site import TRIALS, Site
from pipeline.graph.steps.step import Step
from pipeline.graph.stopping import refuse_to_go_on
from pipeline.joints.budget import Budget
from pipeline.joints.facts import Facts, decode_image_facts
from pipeline.joints.fetched import decode_frames, decode_windows
from pipeline.memory.budget import Fetching, count_scenes
from pipeline.plain.errors import refuse
from pipeline.plain.files import TEMPORARY, remove_tree, write_bytes
from pipeline.project.file import Scene
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.calls import Call

MOST_BYTES = 512 << 20  # that trials may leave
_DIGEST = hashlib.sha256().digest_size


class Trials:
    """Trials of one project, whose build must be up to date as far as its assets go.

    Args:
        kept: the folder in which they are kept.
        steps: kind -> what yields the steps of an asset; see ``graph.steps.assets.makers``.

    Attributes:
        ran: names of the steps that had to run, in order, over all trials of this object.
    """

    def __init__(self, project: LoadedProject, kept: Path, steps: Mapping[str, Call]) -> None:
        self.project = project
        self.ran: list[str] = []
        self._kept, self._steps = kept, steps
        self._stage = self._kept / f"stage-{os.getpid()}"  # of two questions that are answered at once each has its own
        _clear(self._stage)
        self._digests: dict[Path, str | None] = {}  # sources do not change while a question is answered
        self._built = _Keyed(Site(project), steps, self._digests)

    def __enter__(self) -> Trials:
        return self

    def __exit__(self, *_) -> None:
        with suppress(OSError):  # the next trial clears it
            remove_tree(self._stage)
            _trim(self._kept, MOST_BYTES)

    def change(self, assets: Iterable[Asset], scenes: Mapping[str, Scene] | None = None) -> Trial:
        """Return the trial in which these assets, and these scenes, take the place of the project's of the same names.

        Raises:
            ProjectError: when its facts are asked for and something cannot be converted so.
        """
        changed = self.project.assets | {asset.name: asset for asset in assets}
        spec = self.project.spec
        spec = msgspec.structs.replace(spec, scene=spec.scene | dict(scenes)) if scenes else spec
        return Trial(self, dataclasses.replace(self.project, assets=changed, spec=spec))

    def content(self, keyed: _Keyed, path: Path) -> bytes:
        """Return what a step of a trial writes at a path of its stage."""
        step = keyed.makers[path]
        key = keyed.key(step)
        if key in self._built.steps:
            made = self._built.steps[key]
            return made.writes[step.writes.index(path)].read_bytes()
        kept = self._kept / key
        content = _content(kept / path.name, key)
        if content is None:
            self._run(keyed, step, kept, key)
            content = _content(kept / path.name, key)
        if content is None:
            raise refuse(f"build/.state/{TRIALS}", "", f"what {step.name} made cannot be read back", "remove that folder and ask again")
        os.utime(kept)
        return content

    def _run(self, keyed: _Keyed, step: Step, kept: Path, key: str) -> None:
        for path in step.reads:
            if path in keyed.makers:
                write_bytes(path, self.content(keyed, path))
        step.run()
        refuse_to_go_on()  # what it made can be wrong then, and is not to be kept
        self._refuse_changed(path for path in step.reads if path not in keyed.makers)
        self.ran.append(step.name)
        unfinished = kept.with_name(f"{kept.name}.{os.getpid()}{TEMPORARY}")
        _clear(unfinished)
        for path in step.writes:
            write_bytes(unfinished / path.name, _packed(path.read_bytes(), key, path.name))
            path.unlink()
        _clear(kept)
        try:
            os.replace(unfinished, kept)
        except OSError:  # another question, answered at once, has kept the same
            _clear(unfinished)

    def _refuse_changed(self, sources: Iterable[Path]) -> None:
        """Refuse sources that are not what the keys were made of: what was made of them would be kept for what they were."""
        changed = [path for path in sources if file_digest(path) != self._digests[path]]
        if changed:
            raise refuse(shown_path(changed[0], self.project.folder), "", "changed while the question was answered", "ask again")

    def keyed(self, project: LoadedProject) -> _Keyed:
        """Return a project's steps as a trial runs them."""
        return _Keyed(Site(project, self._stage), self._steps, self._digests)


class Trial:
    """One changed project."""

    def __init__(self, trials: Trials, project: LoadedProject) -> None:
        self.project = project
        self._trials, self._keyed = trials, trials.keyed(project)

    def facts(self, name: str) -> Facts:
        """Return the facts an asset would have, with those of its form in the image.

        Raises:
            ProjectError: it cannot be converted.
        """
        files = self._keyed.site.image_facts(name)[name]
        packed = self._trials.content(self._keyed, files.packed) if files.packed else None
        if files.facts in self._keyed.makers:
            return decode_image_facts(self._trials.content(self._keyed, files.facts), packed, name)
        return decode_image_facts(Site(self.project).facts(name).read_bytes(), packed, name)

    def budget(self, kept_packed: Iterable[str] = ()) -> Budget:
        """Return the budget it would have; see ``memory.budget``.

        Args:
            kept_packed: names of assets of which memory holds what the image holds.

        Raises:
            ProjectError: an asset cannot be converted, or a scene not be counted.
        """
        settings = budget_settings(self._keyed.site)
        facts = {name: self.facts(name) for name in settings["assets"]}
        for name in set(kept_packed) & facts.keys():
            facts[name] = msgspec.structs.replace(facts[name], unpacked_bytes=facts[name].bytes)
        return count_scenes(facts, self._fetching(), **settings)[0]

    def _fetching(self) -> Fetching:
        """Return what is measured of assets that scenes hold in part."""
        site, found = self._keyed.site, in_part(self.project)
        frames = {name: decode_frames(self._trials.content(self._keyed, site.fetched(name)), name) for name in found.frames}
        windows = {name: decode_windows(self._trials.content(self._keyed, site.windows(name)), name) for name in found.windows}
        return Fetching(frames, windows)


class _Keyed:
    """The steps of a project's assets with the keys of what they depend on."""

    def __init__(self, site: Site, steps: Mapping[str, Call], digests: dict[Path, str | None]) -> None:
        self.site, self._digests = site, digests
        every = [*asset_steps(site, steps), *packing_steps(site), *streaming_steps(site)]
        self.makers = {path: step for step in every for path in step.writes}
        self._keys: dict[str, str] = {}
        self.steps = {self.key(step): step for step in every}

    def key(self, step: Step) -> str:
        """Return the key of a step: equal for steps that make the same of the same, wherever they are."""
        if step.name not in self._keys:
            parts = {
                "call": step.call,
                "settings": flatten(step.arguments, self.site.build),
                "reads": [[path.name, self.key(self.makers[path]) if path in self.makers else self._digest(path)] for path in step.reads],
                "code": code_digests(*step.calls),
                "libraries": library_versions(*step.calls),
            }
            self._keys[step.name] = hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()[:32]
        return self._keys[step.name]

    def _digest(self, path: Path) -> str | None:
        if path not in self._digests:
            self._digests[path] = file_digest(path)
        return self._digests[path]


def _packed(data: bytes, key: str, name: str) -> bytes:
    """Return what is kept of a file: a SHA-256 of the step's key, the file's name and the rest, then the compressed content."""
    import lz4.frame

    body = lz4.frame.compress(data)
    return _sum(key, name, body) + body


def _sum(key: str, name: str, body: bytes) -> bytes:
    return hashlib.sha256(f"{key}/{name}/".encode() + body).digest()


def _content(path: Path, key: str) -> bytes | None:
    """Return the content of a kept file, or None where it is missing, damaged, or reached through a link."""
    import lz4.frame

    try:
        if not stat.S_ISDIR(os.lstat(path.parent).st_mode) or not stat.S_ISREG(os.lstat(path).st_mode):
            return None
        kept = path.read_bytes()
    except OSError:
        return None
    body = kept[_DIGEST:]
    return lz4.frame.decompress(body) if _sum(key, path.name, body) == kept[:_DIGEST] else None


def _clear(path: Path) -> None:
    try:
        remove_tree(path)
    except OSError as error:
        wrong = f"cannot be removed: {error.strerror}"
        raise refuse(f"build/.state/{TRIALS}/{path.name}", "", wrong, f"remove the folder {TRIALS} and ask again") from None


def _trim(folder: Path, most: int) -> None:
    """Throw away what was used longest ago until at most ``most`` bytes are left, and at once whatever is not a folder."""
    if not folder.is_dir():
        return
    with os.scandir(folder) as entries:
        kept = sorted((not one.is_dir(follow_symlinks=False), -one.stat(follow_symlinks=False).st_mtime, one.path) for one in entries)
    total = 0
    for odd, _, path in kept:
        total += 0 if odd else sum(one.stat(follow_symlinks=False).st_size for one in os.scandir(path))
        if odd or total > most:
            remove_tree(Path(path))
