"""Where a project's files are during a build, and small things that steps of every room need."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Cache, Out
from pipeline.graph.steps.step import Step
from pipeline.joints.notice import TELEVISION_LINES
from pipeline.joints.places import (
    FactsFiles,
    FrameFiles,
    OriginalFiles,
    ShownFiles,
    Sources,
    blob_files,
    facts_file,
    facts_files,
    frame_files,
    image_file,
    original_files,
    shown_files,
)
from pipeline.joints.views import ContentView, PaletteView, SizeView
from pipeline.plain.rendering import Template, find_template
from pipeline.project.model import Asset, LoadedProject
from pipeline.project.wording import MessageFile, find_wording
from pipeline.target.calls import Call
from pipeline.target.kinds import KINDS, calls_of, kinds_with
from pipeline.target.records import DrawRules, SpriteLimits, Target, has_small_banks

# The build's own records; the last two are the only folders among them.
REASONS, GROWTH, TRIALS, CACHE = "reasons.json", "growth.json", "trials", "cache"
# Files generated for the program.
INCLUDE_FILES = ("assets.h", "assets.inc", "assets_equ.inc")
UNPACKERS = ("unpack.h", "unpack.c")
READERS = ("reader.h", "reader.c")
SMALL_READERS = ("reader8.h", "reader8.c")
# Keys of an asset that say only where it is, as if they were left out.
PLACED = {"address": None, "alignment": None, "split": False, "area": None}
TABLES = ("tables.h", "tables.c")
LOADERS = ("load.h", "load.c")


class Site:
    """A project and the places of its build: the folder ``build`` of the project, or another for a trial.

    Attributes:
        folder, build, work, blobs, state, trials, caches: folders.
        reasons, growth_log: records of builds, in ``state``.
        notes, kit: the plain-text notes, and the list of kits.
        image, map, draft, draft_map, layout, code, verified, budget, choices, advice, letters, layers: files; see the guide.
        banks: the file of what banks hold; None for a target without banks.
        findings, cautions: what may harm a player, and what testers read about it.
        lists, lists_size: the plan of load lists, and what they take in the image; None for a project without them.
    """

    def __init__(self, project: LoadedProject, build: Path | None = None) -> None:
        self.project = project
        self.folder = project.folder
        self.build = build or project.folder / "build"
        self.work, self.blobs = self.build / "work", self.build / "blobs"
        self.layout, self.code = self.work / "layout.json", self.work / "build_code.json"
        self.image = self.build / "rom" / f"{project.spec.game.code.lower()}.rom"
        self.map = self.build / "map.json"
        # What is not verified yet is kept separately, under the same names.
        self.draft, self.draft_map = self.work / self.image.name, self.work / self.map.name
        self.verified = self.work / "verified.json"
        self.budget, self.layers = self.build / "budget.json", self.build / "backgrounds.json"
        self.choices = self.work / "choices.json"
        self.notes, self.kit = self.work / "NOTES.txt", self.build / "kit" / "kit.json"
        self.advice = self.work / "advice.json"
        self.letters = self.work / "letters.json"
        self.findings, self.cautions = self.build / "findings.json", self.work / "cautions.json"
        self.state = self.build / ".state"
        self.trials = self.state / TRIALS
        self.caches = project.folder / "build" / ".state" / CACHE  # the build's, also in a trial
        self.reasons, self.growth_log = self.state / REASONS, self.state / GROWTH
        self.banks = self.work / "banks.json" if project.target.cartridge.banks else None
        wanted = bool(project.of_kind("lists"))
        self.lists, self.lists_size = (self.build / "lists.json", self.work / "lists.size.json") if wanted else (None, None)

    def sources(self, asset: Asset) -> Sources:
        """Return the source files of an asset."""
        return Sources(self.folder, asset.files)

    def written(self, *names: str) -> Sources:
        """Return files that the author keeps in the project folder."""
        return Sources(self.folder, names)

    def prepared(self, name: str) -> FrameFiles:
        """Return the files of scaled art; see ``assets.sources.prepare``."""
        asset = self.project.assets[name]
        palette = self.project.spec.palette.get(asset.spec.palette or "") if asset.kind in ("sprite", "background") else None
        return frame_files(self.work, name, numbered=palette is not None and palette.order == "file")

    def cuts(self, name: str) -> Path:
        """Return the picture that shows where a sheet's frames cut through figures; see ``assets.sources.sheets``."""
        return self.work / f"{name}.cuts.png"

    def tile_map(self, name: str) -> Path:
        """Return the file of a background's map of tiles; see ``assets.backgrounds.forms``."""
        return self.work / f"{name}.map"

    def fetched(self, name: str) -> Path:
        """Return the file of what is fetched of a streamed sprite; see ``joints.fetched``."""
        return self.work / f"{name}.fetched.json"

    def windows(self, name: str) -> Path:
        """Return the file of the tiles that a background's windows need; see ``joints.fetched``."""
        return self.work / f"{name}.windows.json"

    def cache(self, name: str) -> Cache:
        """Return where results of an asset's frames are kept."""
        return Cache(self.caches / f"{name}.results")

    def facts(self, name: str) -> Path:
        """Return the facts file of an asset."""
        return facts_file(self.blobs, name)

    def palette(self, asset: Asset) -> PaletteView | None:
        """Return an asset's palette; None where it has none."""
        return PaletteView(self.facts(asset.spec.palette)) if asset.spec.palette else None

    def packed(self) -> tuple[str, ...]:
        """Return the names of the assets that are packed, or looked at for packing; sorted, since steps only look them up."""
        return tuple(sorted(name for name, asset in self.project.assets.items() if getattr(asset.spec, "packing", "stored") != "stored"))

    def image_facts(self, *names: str) -> dict[str, FactsFiles]:
        """Return the files that describe some assets' bytes in the image, by name; sorted, since steps only look them up."""
        packed = self.packed()
        return {name: facts_files(self.blobs, name, name in packed) for name in sorted(names)}

    def image_sizes(self, *names: str) -> dict[str, SizeView]:
        """Return what says how many bytes some assets take in the image, by name; sorted, since steps only look them up."""
        return {name: SizeView(files.packed or files.facts) for name, files in self.image_facts(*names).items()}

    def contents_drawn(self, *names: str | None) -> tuple[ContentView, ...]:
        """Return what says of some assets whether their bytes are other ones, for steps that read them in the image; None is left out."""
        return tuple(ContentView(self.facts(name)) for name in dict.fromkeys(names) if name)

    def program_files(self) -> dict[str, Path]:
        """Return all generated files for the program, by name."""
        unpackers, loaders = UNPACKERS if self.packed() else (), LOADERS if self.lists else ()
        return self.includes(*INCLUDE_FILES, *self.readers(), *self.tables(), *unpackers, *loaders)

    def proof(self, name: str) -> Path:
        """Return the proof of an asset."""
        return self.build / "proofs" / f"{name}.png"

    def before(self, name: str) -> Path:
        """Return the file of sampled frames before the palette; see ``assets.sources.sample``."""
        return self.work / f"{name}.before.png"

    def originals(self, name: str) -> OriginalFiles:
        """Return the files that show a background with parts at full detail; see ``joints.originals``."""
        return original_files(self.work, name)

    def shown(self, asset: Asset) -> ShownFiles | None:
        """Return what the report's script shows of an asset; None for a kind of which it shows nothing. See ``joints.shown``."""
        kind = KINDS[asset.kind]
        return shown_files(self.work, asset.name, kind.shown_as) if kind.shown else None

    def proofs(self, asset: Asset) -> dict[str, Path]:
        """Return every proof of an asset, by the part of the file name after its own; see ``target.kinds``."""
        without = set()
        about = self.project.about(asset)
        shown = self.project.assets[about] if about else asset
        if shown.kind == "sprite" and not (shown.spec.animations or shown.spec.animated):
            without |= {"anim", "onion"}
        if asset.kind == "background" and not asset.spec.part:
            without |= {"parts", "originals"}
        if asset.kind == "screen" and self.project.target.screen.height > TELEVISION_LINES:
            without.add("tv")
        parts = [part for part in KINDS[asset.kind].proofs if part not in without]
        parts += ["worn"] if self.wearers(asset) else []
        return {part: self.proof(f"{asset.name}.{part}" if part else asset.name) for part in parts}

    def wearers(self, asset: Asset) -> list[Asset]:
        """Return the assets that are shown in a palette's colours as a variant; none for a palette that is not one, and other kinds."""
        if asset.kind != "palette" or not asset.spec.variant_of:
            return []
        return [user for user in self.project.users_of(asset.spec.variant_of) if user.name in asset.spec.worn_by or not asset.spec.worn_by]

    def worn(self, name: str) -> Path:
        """Return the file about what a variant makes of the art that wears it; see ``joints.shown``."""
        return self.work / f"{name}.worn.json"

    def drawn_on(self) -> Target:
        """Return what drawing assets from the image looks at of the target."""
        return msgspec.structs.replace(self.project.target, header=None, directory=None, summary="", codecs=[])

    def flashes(self, name: str) -> Path:
        """Return the file of how an asset or an effect flashes; see ``joints.found.flashes``."""
        return self.work / f"{name}.flashes.json"

    def decoders(self, *kinds: str) -> dict[str, Call]:
        """Return kind -> what decodes it, of some kinds and of those that showing them takes: pools of sprites, palettes of art."""
        more = [trait for trait, users in (("pool", ("sprite",)), ("palette", kinds_with("art"))) if {*kinds} & {*users}]
        return calls_of("decode", *kinds, *more)

    def all_facts(self) -> dict[str, FactsFiles]:
        """Return the files that describe every asset's bytes in the image, by name."""
        return self.image_facts(*self.project.assets)

    def conversion_facts(self) -> dict[str, Path]:
        """Return the facts of every asset's conversion, by name."""
        return {name: self.facts(name) for name in sorted(self.project.assets)}

    def contents(self) -> dict[str, Path]:
        """Return every asset's bytes in the image, by name."""
        packed = self.packed()
        return {name: image_file(self.blobs, name, name in packed) for name in sorted(self.project.assets)}

    def includes(self, *names: str) -> dict[str, Path]:
        """Return generated files for the program, by name."""
        return {name: self.build / "include" / name for name in names}

    def readers(self) -> tuple[str, ...]:
        """Return the names of the generated files that read the image; the small form is for banks that 16 bits can number."""
        return READERS + (SMALL_READERS if has_small_banks(self.project.target) else ())

    def tables(self) -> tuple[str, ...]:
        """Return the names of the generated files that hold what is in assets; none where the project does not ask for them."""
        return TABLES if self.project.spec.game.tables else ()

    def template(self, name: str) -> Template:
        """Return a template, the project's own where it has one."""
        return find_template(self.folder, name)

    def wording(self) -> MessageFile:
        """Return the message file of the project's language."""
        return find_wording(self.folder, self.project.spec.game.language)

    def cell(self) -> tuple[int, int]:
        """Return width and height of the target's cell in pixels."""
        return self.project.target.cells.width, self.project.target.cells.height

    def flips(self) -> tuple[bool, bool]:
        """Return whether the target mirrors cells left to right, and top to bottom."""
        return self.project.target.sprites.flip_x, self.project.target.sprites.flip_y

    def draws(self, asset: Asset) -> dict[str, DrawRules]:
        """Return how the pieces of a sprite are prepared for drawing, as arguments of a step; none where they are not."""
        if asset.spec.prepared == "none":
            return {}
        sprites = self.project.target.sprites
        commands = tuple(sprites.commands) if asset.spec.prepared == "commands" else ()
        return {"draws": DrawRules(asset.name, commands, sprites.command_unit)}

    def drawn_sizes(self) -> SpriteLimits:
        """Return the limits that scaling looks at."""
        unasked = {"unit": None, "per_line": None, "pixels_per_line": None, "per_picture": None, "over": "refuse"}
        return msgspec.structs.replace(self.project.target.sprites, commands=[], command_unit=1, **unasked)

    def hardware(self) -> SpriteLimits | None:
        """Return what the console draws at most on a line and in a picture; None where the target says nothing of that."""
        limits = self.project.target.sprites
        return limits if limits.hardware() else None

    def bare(self, asset: Asset) -> Any:
        """Return an asset's record without what only packing and placement look at."""
        unpacked = {key: value for key, value in {"packing": "stored", "bank": None, **PLACED}.items() if hasattr(asset.spec, key)}
        return msgspec.structs.replace(asset.spec, **unpacked)

    def asset_step(self, asset: Asset, call: str, arguments: dict[str, Any]) -> Step:
        """Return the step that makes an asset's blob and facts."""
        arguments = {**arguments, "out": Out(blob_files(self.blobs, asset.name)), "name": asset.name}
        return Step(f"{asset.kind}:{asset.name}", call, arguments, doc=f"convert {asset.kind} {asset.name}")
