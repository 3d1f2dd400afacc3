"""Load lists: the plan of memory and the places in the image, as tables that a program follows."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.joints import layouts
from pipeline.joints.facts import Facts, IntentFacts, ListsFacts, image_facts
from pipeline.joints.layouts import LISTS, LISTS_VERSION, RECORDS, Part, name_hash, record_bytes
from pipeline.joints.lists import Buffers, Group, Lists, Place, read_lists_file
from pipeline.joints.places import BlobFiles, FactsFiles
from pipeline.plain.bits import ByteOrder
from pipeline.plain.files import read_json
from pipeline.target.fields import CODEC_NUMBERS
from pipeline.target.kinds import KIND_NUMBERS

_TABLES = ("scenes", "slots", "groups", "steps", "places", "bundles", "buffers")  # in the order of ``Lists.counts``
_IN_MEMORY, _IN_PART = 1, 2  # of a place


def convert_lists(
    plan: Path,
    layout: Path,
    facts: dict[str, FactsFiles],
    fixed: dict[str, int],
    kinds: dict[str, str],
    out: BlobFiles,
    name: str,
    origin: str,
    byte_order: ByteOrder,
    bank: int | None,
) -> str:
    """Write the load lists' blob and facts; return one line about them.

    Args:
        plan: ``lists.json``; ``layout``: ``work/layout.json``.
        facts: of the assets of scenes and bundles, by name, but for those in ``fixed``.
        fixed: bytes of boot notices, by name.
        kinds: name -> kind of every asset.
        bank: bytes of a bank; None without banks.

    Raises:
        ProjectError: a file cannot be read.
    """
    lists = read_lists_file(plan)
    known = {asset: image_facts(files) for asset, files in facts.items()}
    writer = _Writer(lists, read_json(layout), known, fixed, kinds, bank)
    tables = writer.tables()
    numbers = [value for rows in tables.values() for row in rows for value in row.values()]
    stored = ListsFacts(
        **save_blob(out.content, name, _parts(lists, tables, byte_order), origin),
        scenes=list(lists.scenes),
        bundles=list(lists.bundles),
        steps=len(tables["LIST_STEP"]),
        places=len(tables["LIST_PLACE"]),
        intent=IntentFacts(shape=[len(numbers)], sha256=hashlib.sha256(b"".join(one.to_bytes(4, "little") for one in numbers)).hexdigest()),
    )
    return f"{len(lists.scenes)} scenes, {len(lists.bundles)} bundles, {stored.steps} steps, {save_facts(out.facts, stored)}"


def _parts(lists: Lists, tables: dict[str, list[dict[str, int]]], byte_order: ByteOrder) -> Iterable[bytes]:
    at, head = record_bytes(LISTS), {}
    for (name, rows), table in zip(tables.items(), _TABLES, strict=True):
        head |= {table: at, f"{table.removesuffix('s')}_count": len(rows)}
        at += len(rows) * record_bytes(RECORDS[name])
    yield put_record(LISTS, byte_order, version=LISTS_VERSION, memory_bytes=lists.memory, **head)
    for name, rows in tables.items():
        for row in rows:
            yield put_record(RECORDS[name], byte_order, **row)


class _Writer:
    """Fills the tables, groups first for what is always there and then for members, in the order of the plan."""

    def __init__(
        self, lists: Lists, layout: dict, facts: dict[str, Facts], fixed: dict[str, int], kinds: dict[str, str], bank: int | None
    ) -> None:
        self._lists, self._layout, self._facts, self._fixed, self._kinds, self._bank = lists, layout, facts, fixed, kinds, bank
        self._made: dict[str, list[dict[str, int]]] = {name: [] for name in lists.counts()}

    def tables(self) -> dict[str, list[dict[str, int]]]:
        """Return the records of each table, by the name of their layout; a record has all fields of it."""
        for name, scene in self._lists.scenes.items():
            group, first = self._group(scene.common), len(self._made["LIST_SLOT"])
            for choice in scene.choices:
                members = [self._group(one) for one in choice.members]
                for slot in choice.slots:
                    self._add("LIST_SLOT", at=slot.at, bytes=slot.bytes, first_group=members[0], group_count=len(members))
            count = len(self._made["LIST_SLOT"]) - first
            self._add("LIST_SCENE", name_hash=name_hash(name), group=group, first_slot=first, slot_count=count)
        for name, bundle in self._lists.bundles.items():
            first = len(self._made["LIST_PLACE"])
            for asset in bundle.members:
                self._cartridge_place(asset)
            run = self._run(bundle.members) if bundle.contiguous else {}
            self._add(
                "LIST_BUNDLE", name_hash=name_hash(name), first_place=first, place_count=len(bundle.members),
                contiguous=int(bundle.contiguous), **run,
            )  # fmt: skip
        return self._made

    def _add(self, name: str, **values: int) -> int:
        record: tuple[Part, ...] = getattr(layouts, name)
        self._made[name].append({part.name: values.pop(part.name, 0) for part in record})
        assert not values, f"{name} has no {', '.join(values)}"
        return len(self._made[name]) - 1

    def _group(self, group: Group) -> int:
        steps, places, buffers = (len(self._made[name]) for name in ("LIST_STEP", "LIST_PLACE", "LIST_BUFFER"))
        at = {one.asset: one for one in group.places}
        for assets in group.steps:
            self._copies(assets, at[assets[0]])
        for place in group.places:
            size, unpacked, codec = self._stored(place.asset)
            held = place.bytes if place.spans else size if place.packed else unpacked
            self._add(
                "LIST_PLACE", **self._named(place.asset), at=place.at, bytes=held, unpacked_bytes=unpacked,
                codec=CODEC_NUMBERS[codec if place.packed else "stored"], in_memory=_IN_PART if place.spans else _IN_MEMORY,
            )  # fmt: skip
        for asset in (*group.in_part, *group.direct):
            self._cartridge_place(asset)
        for one in group.buffers:
            self._buffer(one)
        return self._add(
            "LIST_GROUP", name_hash=name_hash(group.name), first_step=steps, step_count=group.copies, first_place=places,
            place_count=len(self._made["LIST_PLACE"]) - places, first_buffer=buffers, buffer_count=len(group.buffers),
        )  # fmt: skip

    def _copies(self, assets: list[str], place: Place) -> None:
        """Add what is copied of one asset, or of a contiguous bundle: a copy, or one for each span of what is there in part."""
        asset, source = assets[0], self._source(assets[0])
        size, unpacked, codec = self._stored(asset)
        if place.packed:
            unpacked, codec = size, "stored"
        if len(assets) > 1:
            size = unpacked = self._run(assets)["bytes"]
        if not place.spans:
            self._add("LIST_STEP", **source, bytes=size, at=place.at, unpacked_bytes=unpacked, codec=CODEC_NUMBERS[codec])
        for span in place.spans:
            within = source | {"source": source["source"] + span.start}
            self._add(
                "LIST_STEP", **within, bytes=span.bytes, at=place.at + span.at, unpacked_bytes=span.bytes, codec=CODEC_NUMBERS["stored"]
            )

    def _buffer(self, one: Buffers) -> None:
        units = one.window
        held = {} if units is None else {
            "columns": units.columns, "rows": units.rows, "unit_width": units.width, "unit_height": units.height,
            "unit_bytes": units.bytes, "apart": int(units.apart), "tiles": units.tiles,
        }  # fmt: skip
        self._add(
            "LIST_BUFFER", name_hash=name_hash(one.asset), at=one.at, set_bytes=one.set_bytes, bytes=one.bytes, sets=one.sets,
            count=one.count, **held,
        )  # fmt: skip

    def _cartridge_place(self, asset: str) -> None:
        (size, unpacked, codec), source = self._stored(asset), self._source(asset)
        self._add(
            "LIST_PLACE", **self._named(asset), at=source["source"], bank=source["bank"], bytes=size, unpacked_bytes=unpacked,
            codec=CODEC_NUMBERS[codec],
        )  # fmt: skip

    def _named(self, asset: str) -> dict[str, int]:
        return {"name_hash": name_hash(asset), "kind": KIND_NUMBERS[self._kinds[asset]]}

    def _stored(self, asset: str) -> tuple[int, int, str]:
        """Return bytes in the image, bytes unpacked, and codec."""
        if asset in self._fixed:
            return self._fixed[asset], self._fixed[asset], "stored"
        facts = self._facts[asset]
        return facts.bytes, facts.unpacked_bytes, facts.codec

    def _source(self, asset: str) -> dict[str, int]:
        bank, offset = divmod(self._layout[asset]["offset"], self._bank) if self._bank else (0, self._layout[asset]["offset"])
        return {"source": offset, "bank": bank}

    def _run(self, assets: list[str]) -> dict[str, int]:
        """Return where a contiguous bundle starts, and its bytes."""
        first, last = (self._layout[asset]["offset"] for asset in (assets[0], assets[-1]))
        return {**self._source(assets[0]), "bytes": last + self._stored(assets[-1])[0] - first}
