"""From a checked project to the steps of its build: what each reads, writes and is told."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec

from pipeline.graph.step import Plan, Step
from pipeline.pixel_size import packed_bytes, screen_bytes
from pipeline.project import Asset, LoadedProject, build_date
from pipeline.rendering import template_file
from pipeline.rom.wish import Wish
from pipeline.shipped import TEMPLATES
from pipeline.target import picture_rules, pixel_base


class Planner:
    """Makes the steps of one project, room by room."""

    def __init__(self, project: LoadedProject) -> None:
        self.project = project
        self.folder = project.folder
        self.build = project.folder / "build"
        self.work, self.blobs = self.build / "work", self.build / "blobs"
        self.layout, self.code = self.work / "layout.json", self.work / "build_code.json"
        self.image = self.build / "rom" / f"{project.spec.game.code.lower()}.rom"
        self.map = self.build / "map.json"
        self.verified = self.work / "verified.json"
        self.budget = self.build / "budget.json"

    def plan(self) -> Plan:
        """Return the whole plan, in the order in which a reader would tell it."""
        steps = [
            *self._art(),
            *self._sounds_and_data(),
            *self._placing(),
            *self._programs(),
            self._build_code(),
            *self._screens(),
            *self._image(),
            self._budget_step(),
            *self._proofs(),
            *self._release(),
            self._schema(),
            *self._questions(),
        ]
        # Asked for one by one, since doit would otherwise run them in the order of a set.
        return Plan(self.folder, steps, [step.name for step in steps if not step.always])

    # Art: sources to scaled frames, frames to palettes, both to blobs.

    def _art(self) -> Iterator[Step]:
        for asset in self.project.of_kind("sprite", "background"):
            yield self._prepare(asset)
        for asset in self.project.of_kind("palette"):
            yield self._palette(asset)
        for asset in self.project.of_kind("sprite"):
            yield self._sprite(asset)
        for asset in self.project.of_kind("background"):
            yield self._background(asset)

    def _prepare(self, asset: Asset) -> Step:
        arguments = {"folder": self.folder, "work": self.work, "name": asset.name}
        if asset.kind == "sprite":
            # Only what scaling depends on, so that a new palette or animation does not scale everything again.
            spec = msgspec.structs.replace(asset.spec, palette=None, pixels=None, animations={}, address=None, alignment=None, origin="")
            arguments |= {"files": asset.files, "spec": spec, "limits": self.project.target.sprites}
        else:
            spec = msgspec.structs.replace(asset.spec, palette=None, pixels=None, address=None, alignment=None, origin="")
            arguments |= {"file": asset.files[0], "spec": spec}
        return Step(
            f"prepare:{asset.name}",
            f"pipeline.assets.prepare:prepare_{asset.kind}",
            arguments,
            reads=self._sources(asset),
            writes=self._prepared(asset.name),
            doc=f"scale {asset.kind} {asset.name}",
        )

    def _palette(self, asset: Asset) -> Step:
        target, users = self.project.target, self.project.users_of(asset.name)
        formats = [self.project.pixel_format(user) for user in users] or [target.screen.pixels]
        rooms = [self._pixel_room(asset.spec.first, name) for name in formats]
        most = min([asset.spec.colours or target.palette.entries - asset.spec.first, *rooms])
        arguments = {"blobs": self.blobs, "name": asset.name, "spec": self._bare(asset), "most": most}
        arguments["rules"] = picture_rules(target, formats[0])
        if asset.spec.file:
            arguments |= {"folder": self.folder}
            return self._asset(asset, "pipeline.assets.palette:load_palette", arguments, self._sources(asset))
        arguments |= {"work": self.work, "users": tuple(user.name for user in users)}
        reads = tuple(path for user in users for path in self._prepared(user.name))
        return self._asset(asset, "pipeline.assets.palette:compute_palette", arguments, reads)

    def _pixel_room(self, first: int, format_name: str) -> int:
        pattern = self.project.target.pixel_formats[format_name].pixel
        if not pattern.bits("I"):
            return self.project.target.palette.entries
        return (1 << pattern.width) - pixel_base(first, pattern.width)

    def _sprite(self, asset: Asset) -> Step:
        arguments = self._picture_arguments(asset) | {"files": asset.files, "refresh": self.project.target.screen.refresh}
        return self._asset(asset, "pipeline.assets.sprite:convert_sprite", arguments, self._picture_reads(asset))

    def _background(self, asset: Asset) -> Step:
        arguments = self._picture_arguments(asset)
        return self._asset(asset, "pipeline.assets.background:convert_background", arguments, self._picture_reads(asset))

    def _picture_arguments(self, asset: Asset) -> dict:
        return {
            "work": self.work,
            "blobs": self.blobs,
            "name": asset.name,
            "spec": self._bare(asset),
            "rules": picture_rules(self.project.target, self.project.pixel_format(asset)),
            "alignment": self.project.alignment(asset),
        }

    def _picture_reads(self, asset: Asset) -> tuple[Path, ...]:
        palette = (self._facts(asset.spec.palette),) if asset.spec.palette else ()
        return (*self._prepared(asset.name), *palette)

    # Sounds, data, programs, screens.

    def _sounds_and_data(self) -> Iterator[Step]:
        target = self.project.target
        for asset in self.project.of_kind("sound"):
            arguments = {
                "folder": self.folder,
                "blobs": self.blobs,
                "name": asset.name,
                "spec": self._bare(asset),
                "sample_format": asset.spec.format or target.sound.formats[0],
                "byte_order": target.byte_order,
                "sample_order": target.order_of(target.sound.byte_order),
                "alignment": self.project.alignment(asset),
            }
            yield self._asset(asset, "pipeline.assets.sound:convert_sound", arguments, self._sources(asset))
        for asset in self.project.of_kind("data"):
            arguments = {"folder": self.folder, "blobs": self.blobs, "name": asset.name, "spec": self._bare(asset)}
            yield self._asset(asset, "pipeline.assets.data:convert_data", arguments, self._sources(asset))

    def _programs(self) -> Iterator[Step]:
        for asset in self.project.of_kind("program"):
            arguments = {"folder": self.folder, "blobs": self.blobs, "name": asset.name, "spec": self._bare(asset)}
            if asset.spec.file:
                yield self._asset(asset, "pipeline.assets.program:take_program", arguments, self._sources(asset))
                continue
            arguments |= {"build": self.build, "layout": self.layout}
            reads = (*self._sources(asset), self.layout, *self._include_files())
            writes = (self.work / f"{asset.name}.program",)
            yield self._asset(asset, "pipeline.assets.program:build_program", arguments, reads, writes)

    def _screens(self) -> Iterator[Step]:
        game, links, screen = self.project.spec.game, self.project.spec.links, self.project.target.screen
        for asset in self.project.of_kind("screen"):
            arguments = {
                "blobs": self.blobs,
                "name": asset.name,
                "spec": self._bare(asset),
                "code_file": self.code,
                "game": {"title": game.title, "version": game.version, "phase": game.phase},
                "links": {"feedback": links.feedback, "bugs": links.bugs},
                "size": (screen.width, screen.height),
                "rules": picture_rules(self.project.target, screen.pixels),
                "alignment": self.project.alignment(asset),
            }
            yield self._asset(asset, "pipeline.assets.screen:make_screen", arguments, (self.code,))

    def _build_code(self) -> Step:
        names = tuple(asset.name for asset in self.project.assets.values() if asset.kind != "screen")
        return Step(
            "code",
            "pipeline.release.build_code:write_build_code",
            {
                "blobs": self.blobs,
                "out": self.code,
                "version": self.project.spec.game.version,
                "target_file": self.project.target_file,
                "names": names,
            },
            reads=(self.project.target_file, *(self._facts(name) for name in names)),
            writes=(self.code,),
            doc="compute the build code from the content",
        )

    # The image.

    def _placing(self) -> Iterator[Step]:
        wishes = self._wishes()
        known = [wish.name for wish in wishes if wish.bytes is None and not wish.last]
        yield Step(
            "layout",
            "pipeline.rom.steps:plan_layout",
            {"blobs": self.blobs, "out": self.layout, "wishes": wishes, "target": self._placing_rules()},
            reads=tuple(self._facts(name) for name in known),
            writes=(self.layout,),
            doc="decide where every asset stands",
        )
        game = self.project.spec.game
        described = [asset.name for asset in self.project.assets.values() if asset.kind not in ("program", "screen")]
        yield Step(
            "include",
            "pipeline.rom.include:write_include",
            {
                "folder": self.folder,
                "blobs": self.blobs,
                "layout": self.layout,
                "out": self.build / "include",
                "game": {"title": game.title, "version": game.version},
                "kinds": {asset.name: asset.kind for asset in self.project.assets.values()},
                "banks": self.project.target.cartridge.banks is not None,
            },
            reads=(self.layout, *(self._facts(name) for name in described), *self._templates("assets.h.j2", "assets.inc.j2")),
            writes=self._include_files(),
            doc="write assets.h and assets.inc for the program",
        )

    def _wishes(self) -> tuple[Wish, ...]:
        return tuple(self._wish(asset) for asset in self.project.assets.values())

    def _wish(self, asset: Asset) -> Wish:
        project, size, last = self.project, None, False
        if asset.kind == "screen":
            rules = picture_rules(project.target, project.target.screen.pixels)
            size = screen_bytes(project.target.screen.width, project.target.screen.height, rules, project.alignment(asset))
        elif asset.kind == "program":
            size, last = asset.spec.reserve, asset.spec.command is not None and asset.spec.reserve is None
        return Wish(asset.name, asset.kind, project.alignment(asset), asset.spec.address, size, last)

    def _placing_rules(self):
        """The target without what placement does not look at."""
        target = self.project.target
        return msgspec.structs.replace(target, palette=None, pixel_formats={}, sound=None, summary="", screen=None, memory=None)

    def _image(self) -> Iterator[Step]:
        values = self._values()
        yield Step(
            "rom",
            "pipeline.rom.steps:write_rom",
            {
                "blobs": self.blobs,
                "layout": self.layout,
                "code_file": self.code,
                "image_file": self.image,
                "map_file": self.map,
                "wishes": self._wishes(),
                "target": self.project.target,
                "wanted": self.project.spec.game.cartridge,
                "values": values,
            },
            reads=(self.layout, self.code, *self._all_blobs()),
            writes=(self.image, self.map),
            doc="write the image and map.json",
        )
        yield Step(
            "verify",
            "pipeline.rom.verify:verify_files",
            {
                "image": self.image,
                "map_file": self.map,
                "code_file": self.code,
                "blobs": self.blobs,
                "out": self.verified,
                "target": self.project.target,
                "wanted": values,
            },
            reads=(self.image, self.map, self.code, *self._all_facts()),
            writes=(self.verified,),
            doc="read the image back and check all of it",
        )

    def _values(self) -> dict[str, str]:
        """The project's values that the target's header names."""
        game, date = self.project.spec.game, build_date(self.project)
        values = {
            "project.title": game.title,
            "project.code": game.code,
            "project.version": game.version,
            "project.phase": game.phase,
            "project.date": date.strftime("%Y%m%d") if date else "",
        }
        named = {field.value for field in self.project.target.header.fields}
        return {name: value for name, value in values.items() if name in named}

    def _proofs(self) -> Iterator[Step]:
        screen = self.project.target.screen
        names = []
        for asset in self.project.of_kind("sprite", "background", "palette", "sound", "screen"):
            palette = getattr(asset.spec, "palette", None)
            names.append(f"proof:{asset.name}")
            yield Step(
                names[-1],
                "pipeline.report.proofs:write_proof",
                {
                    "image": self.image,
                    "map_file": self.map,
                    "out": self._proof(asset.name),
                    "name": asset.name,
                    "palette": palette,
                    "target": msgspec.structs.replace(self.project.target, header=None, directory=None, summary=""),
                    "pixel_aspect": screen.pixel_aspect,
                },
                # The image is read, but a proof depends only on its asset's bytes there, which verify has compared.
                reads=(self._facts(asset.name), *((self._facts(palette),) if palette else ())),
                writes=(self._proof(asset.name),),
                after=("verify",),
                doc=f"draw {asset.name} from the image",
            )
        yield Step("proofs", "", {}, after=tuple(names), doc="draw every asset from the image's own bytes")

    # Memory and release.

    def _budget_step(self) -> Step:
        spec, target = self.project.spec, self.project.target
        used = self._in_scenes()
        return Step(
            "budget",
            "pipeline.memory.budget:write_budget",
            {
                "blobs": self.blobs,
                "out": self.budget,
                "assets": {name: self.project.alignment(self.project.assets[name]) for name in used},
                "bundles": spec.bundle,
                "scenes": spec.scene,
                "memory": target.memory.size,
                "granularity": target.memory.granularity,
                "held": self._held(),
            },
            reads=tuple(self._facts(name) for name in used),
            writes=(self.budget,),
            doc="what each scene needs at worst, and what is left",
        )

    def _in_scenes(self) -> list[str]:
        spec, named = self.project.spec, set()
        for scene in spec.scene.values():
            for member in [*scene.always, *(member for choice in scene.choose for member in choice.of)]:
                named.update(spec.bundle.get(member, [member]))
        return [name for name in self.project.assets if name in named]

    def _held(self) -> dict[str, int]:
        target = self.project.target
        held: dict[str, int] = {}
        for reserved in target.memory.reserved:
            held[reserved.name] = held.get(reserved.name, 0) + reserved.bytes
        if target.screen.buffers:
            one = packed_bytes(target.screen.width, target.screen.height, target.pixel_formats[target.screen.pixels], self._cell())
            held[f"{target.screen.buffers} screen buffers"] = one * target.screen.buffers
        return held

    def _cell(self) -> tuple[int, int]:
        return self.project.target.cells.width, self.project.target.cells.height

    def _release(self) -> Iterator[Step]:
        packet, notes = self.build / "packet.pdf", self.work / "NOTES.txt"
        facts = {
            "folder": self.folder,
            "map_file": self.map,
            "spec": self._told(),
            "date": build_date(self.project),
            "console": self.project.target.name,
        }
        screens = self.project.of_kind("screen")
        boot = self._proof(screens[0].name) if screens else None
        yield Step(
            "packet",
            "pipeline.release.packet:write_packet",
            {**facts, "out": packet, "boot": boot, "image_name": self.image.name},
            reads=(self.map, *((boot,) if boot else ()), *self._templates("packet.toml"), *sorted((TEMPLATES / "fonts").glob("*.ttf"))),
            writes=(packet,),
            doc="render the tester packet",
        )
        yield Step(
            "notes",
            "pipeline.release.notes:write_notes",
            {**facts, "out": notes},
            reads=(self.map, *self._templates("notes.txt.j2")),
            writes=(notes,),
            doc="write the plain-text notes",
        )
        manifest = self.build / "kit" / "kit.json"
        yield Step(
            "kit",
            "pipeline.release.kit:write_kit",
            {
                "image": self.image,
                "map_file": self.map,
                "packet": packet,
                "notes": notes,
                "budget_file": self.budget,
                "manifest": manifest,
                "code": self.project.spec.game.code,
                "version": self.project.spec.game.version,
                "date": build_date(self.project),
            },
            reads=(self.image, self.map, packet, notes, self.verified, self.budget),
            writes=(manifest,),
            manifest=manifest,
            doc="zip image, packet, checksums and notes for testers",
        )
        yield self._report()

    def _report(self) -> Step:
        game = self.project.spec.game
        return Step(
            "report",
            "pipeline.report.page:write_page",
            {
                "folder": self.folder,
                "blobs": self.blobs,
                "proofs": self.build / "proofs",
                "map_file": self.map,
                "budget_file": self.budget,
                "out": self.build / "report.html",
                "game": {key: getattr(game, key) for key in ("title", "version", "phase", "code", "language")},
                "console": self.project.target.name,
                "issues": self.project.spec.issue,
            },
            reads=(
                self.map,
                self.budget,
                *self._all_facts(),
                *(self._proof(a.name) for a in self.project.of_kind("sprite", "background", "palette", "sound", "screen")),
                *self._templates("report.html.j2"),
            ),
            writes=(self.build / "report.html",),
            doc="one page with everything in the build",
        )

    def _told(self):
        """The part of the project file that testers are told."""
        spec = self.project.spec
        return {
            key: getattr(spec, key) for key in ("game", "links", "pad", "control", "issue", "contents", "instructions")
        }

    def _schema(self) -> Step:
        files = tuple(self.build / "schema" / f"{name}.schema.json" for name in ("project", "target"))
        return Step(
            "schema",
            "pipeline.reference.schema:write_schemas",
            {"out": self.build / "schema"},
            writes=files,
            doc="write JSON Schema of both files, for editors",
        )

    def _questions(self) -> Iterator[Step]:
        yield Step(
            "why",
            "pipeline.graph.reasons:tell_reasons",
            {"state": self.build / ".state"},
            always=True,
            doc="tell why each step of the last build ran",
        )

    # Small things every room needs.

    def _asset(self, asset: Asset, call: str, arguments: dict, reads: tuple[Path, ...], more: tuple[Path, ...] = ()) -> Step:
        writes = (self.blobs / f"{asset.name}.bin", self._facts(asset.name), *more)
        return Step(f"{asset.kind}:{asset.name}", call, arguments, reads, writes, doc=f"convert {asset.kind} {asset.name}")

    def _bare(self, asset: Asset):
        """The asset's record without what only placement looks at."""
        return msgspec.structs.replace(asset.spec, address=None, alignment=None)

    def _sources(self, asset: Asset) -> tuple[Path, ...]:
        return tuple(self.folder / name for name in asset.files)

    def _prepared(self, name: str) -> tuple[Path, Path]:
        return self.work / f"{name}.rgba", self.work / f"{name}.frames.json"

    def _facts(self, name: str) -> Path:
        return self.blobs / f"{name}.json"

    def _proof(self, name: str) -> Path:
        return self.build / "proofs" / f"{name}.png"

    def _all_facts(self) -> tuple[Path, ...]:
        return tuple(self._facts(name) for name in self.project.assets)

    def _all_blobs(self) -> tuple[Path, ...]:
        return (*self._all_facts(), *(self.blobs / f"{name}.bin" for name in self.project.assets))

    def _include_files(self) -> tuple[Path, Path]:
        return self.build / "include" / "assets.h", self.build / "include" / "assets.inc"

    def _templates(self, *names: str) -> tuple[Path, ...]:
        return tuple(template_file(self.folder, name) for name in names)


def plan_project(project: LoadedProject) -> Plan:
    """Return the steps of a project's build."""
    return Planner(project).plan()
