"""The kinds of assets, in the order in which they are listed everywhere: a kind is one entry of ``KINDS``.

A kind's record in the project file is the class of its name in ``project.assets``, its facts are the class with its name as tag in
``joints.facts``. What works on one kind alone is named here as text, so that nothing of it loads before it is needed; a step
that calls it gets the ``Call`` among its arguments, and so depends on that kind's code and no other's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pipeline.target.calls import Call


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What the rooms must know of a kind, apart from its own modules.

    Attributes:
        number: what an entry of the directory says; never changed, since programs compare with it.
        plural: word for several, as a heading has it.
        constants: facts that the include files give as constants, by their keys.
        layouts: names in ``joints.layouts`` of the record a blob begins with, of version 1, 2, ..., empty for one that is no longer
            written; none for plain bytes.
        bound: name in ``plain.bounds`` of the most bytes of a source file that is not a picture; empty where the target decides.
        planned: keys that say how large an asset to come is, apart from its bytes; None where none can be planned.
        aligned_as: the kind whose alignment in a target file it takes, where the target names none for it.
        steps: yields the steps that make an asset of it: (site, asset).
        check: notes what is wrong with one asset of a checked project: (document, project, asset).
        decode: the blob back to what it holds: (blob, target, find_pool) -> ``reading.decoded.Decoded``.
        compare: what is wrong with it, one text each: (decoded, facts, target); facts as conversion wrote them.
        proofs: part of a proof's file name after the asset's -> what draws it, given a ``proofs.subject.Subject``; "" is the
            proof itself. Empty for a kind without anything to look at.
        about: the key of its record that names the asset it is about, with which its proofs are drawn; empty for a kind without one.
        shown: what the report's script shows of it: (``proofs.subject.Subject``, its colours by the names of variants) ->
            ``joints.shown.Shown`` and the bytes of a picture or recording, None without one; ``shown_as``: the ending of that file.
        thumbnail: draws a small picture for the ledger and the packet, given the same.
        art: it is drawn, brought to size, and coloured by a palette.
        scaled: its art has a scale, which may be looked for.
        pixels: its blob holds pixels.
        video: it takes video memory when it is loaded.
        large: its proof may be larger than a page, where it scrolls.
        late: it is made when all places are decided, since it depends on them: until then there are no facts of it.
        shows_code: it shows the build code, which therefore does not depend on it.
    """

    number: int
    plural: str
    constants: tuple[str, ...] = ()
    layouts: tuple[str, ...] = ()
    bound: str = ""
    planned: tuple[str, ...] | None = None
    aligned_as: str = ""
    steps: Call | None = None
    check: Call | None = None
    decode: Call | None = None
    compare: Call | None = None
    proofs: Mapping[str, Call] = field(default_factory=dict)
    about: str = ""
    shown: Call | None = None
    shown_as: str = ""
    thumbnail: Call | None = None
    art: bool = False
    scaled: bool = False
    pixels: bool = False
    video: bool = False
    large: bool = False
    late: bool = False
    shows_code: bool = False


def _made(name: str) -> Call:
    return Call(f"pipeline.graph.steps.{name}")


def _check(name: str) -> Call:
    return Call(f"pipeline.project.loading.{name}")


def _read(name: str) -> Call:
    return Call(f"pipeline.reading.kinds.{name}")


def _drawn(**parts: str) -> dict[str, Call]:
    return {part.replace("_", "-").removeprefix("itself"): Call(f"pipeline.proofs.kinds.{name}") for part, name in parts.items()}


def _look(name: str) -> Call:
    return Call(f"pipeline.proofs.looks.{name}")


def _small(name: str) -> Call:
    return Call(f"pipeline.proofs.thumbnail:{name}")


KINDS = {
    "sprite": Kind(
        number=1, plural="sprites", steps=_made("art:sprite_steps"),
        constants=("frames", "width", "height"), layouts=("SPRITE", "PIECED", "FRAMED", "PREPARED"),
        bound="PICTURE_BYTES", planned=("width", "height", "frames", "scale"), check=_check("art:check_sprite"),
        decode=_read("sprite:decode_sprite"), compare=_read("sprite:compare_sprite"),
        proofs=_drawn(
            itself="sprite:contact_sheet", anim="animation:animation", onion="onion:onion_skins", before_after="before:before_after"
        ),
        shown=_look("frames:sprite_frames"), shown_as="png",
        thumbnail=_small("small_frames"), art=True, scaled=True, pixels=True, video=True, large=True,
    ),
    "pool": Kind(
        number=8, plural="pools", steps=_made("pools:pool_steps"),
        constants=("cell_count",), layouts=("POOL",), aligned_as="sprite", check=_check("pools:check_pool"),
        decode=_read("sprite:decode_pool"), compare=_read("sprite:compare_pool"),
        proofs=_drawn(itself="sprite:contact_sheet"), pixels=True, video=True, large=True,
    ),
    "background": Kind(
        number=2, plural="backgrounds", steps=_made("art:background_steps"), constants=("width", "height"), layouts=("BACKGROUND", "TILED"),
        bound="PICTURE_BYTES", planned=("width", "height", "scale"), check=_check("art:check_background"),
        decode=_read("background:decode_background"), compare=_read("background:compare_background"),
        proofs=_drawn(
            itself="background:background", before_after="before:before_after", parts="parts:outlines", originals="parts:compared"
        ),
        shown=_look("frames:background_picture"), shown_as="png",
        thumbnail=_small("small_background"), art=True, scaled=True, pixels=True, video=True, large=True,
    ),
    "palette": Kind(
        number=3, plural="palettes", steps=_made("art:palette_steps"), constants=("first", "entry_count"), layouts=("PALETTE",),
        bound="PALETTE_BYTES", check=_check("art:check_palette"),
        decode=_read("palette:decode_palette"), compare=_read("palette:compare_palette"),
        proofs=_drawn(itself="palette:palette"), thumbnail=_small("small_palette"),
    ),
    "sound": Kind(
        number=4, plural="sounds", steps=_made("others:sound_steps"), constants=("rate", "samples"), layouts=("SOUND",),
        bound="SOUND_BYTES", planned=("seconds",), check=_check("others:check_sound"),
        decode=_read("sound:decode_sound"), compare=_read("sound:compare_sound"),
        proofs=_drawn(itself="sound:sound"), shown=_look("recording:recording"), shown_as="wav",
        thumbnail=Call("pipeline.proofs.kinds.sound:small_sound"),
    ),
    "screen": Kind(
        number=5, plural="screens", steps=_made("others:screen_steps"),
        layouts=("SCREEN", "TILED_SCREEN"), decode=_read("screen:decode_screen"), compare=_read("screen:compare_screen"),
        proofs=_drawn(itself="screen:screen", tv="screen:television"), pixels=True, late=True, shows_code=True,
    ),
    "program": Kind(number=6, plural="programs", steps=_made("others:program_steps"), check=_check("others:check_program"), late=True),
    "data": Kind(number=7, plural="data", steps=_made("others:data_steps"), check=_check("others:check_data"), planned=()),
    "font": Kind(
        number=9, plural="fonts", steps=_made("art:font_steps"),
        constants=("glyph_count", "width", "height", "left", "baseline", "line_height", "advance"),
        layouts=("FONT",), bound="FONT_BYTES", check=_check("fonts:check_font"),
        decode=_read("font:decode_font"), compare=_read("font:compare_font"),
        proofs=_drawn(itself="font:font_sheet"), shown=_look("frames:font_glyphs"), shown_as="png",
        thumbnail=_small("small_frames"), art=True, pixels=True, video=True,
    ),
    "level": Kind(
        number=10, plural="levels", steps=_made("others:level_steps"),
        constants=("width", "height", "cell_bytes", "least", "most"), layouts=("LEVEL",), aligned_as="data",
        bound="LEVEL_BYTES", planned=("width", "height"), check=_check("others:check_level"),
        decode=_read("level:decode_level"), compare=_read("level:compare_level"),
        proofs=_drawn(itself="level:level"), thumbnail=Call("pipeline.proofs.kinds.level:small_level"), large=True,
    ),
    "text": Kind(
        number=11, plural="texts", steps=_made("others:text_steps"), constants=("unit_bytes",), layouts=("TEXT",), aligned_as="data",
        bound="TOML_BYTES", check=_check("fonts:check_text"), decode=_read("text:decode_text"), compare=_read("text:compare_text"),
        proofs=_drawn(itself="text:texts"), about="font", large=True,
    ),
    "notes": Kind(
        number=12, plural="notes", steps=_made("others:notes_steps"), constants=("frames", "boxes", "points"), layouts=("NOTES",),
        aligned_as="data", bound="TOML_BYTES", check=_check("notes:check_notes"),
        decode=_read("notes:decode_notes"), compare=_read("notes:compare_notes"),
        proofs=_drawn(itself="notes:noted_sheet", anim="notes:noted_animation"), shown=_look("noted:noted_frames"), about="of", large=True,
    ),
    "lists": Kind(
        number=13, plural="load lists", steps=_made("others:lists_steps"), layouts=("", "LISTS"), aligned_as="data",
        check=_check("scenes:check_lists"), decode=_read("lists:decode_lists"), compare=_read("lists:compare_lists"), late=True,
    ),
}  # fmt: skip

KIND_NUMBERS = {name: kind.number for name, kind in sorted(KINDS.items(), key=lambda pair: pair[1].number)}


def kinds_with(trait: str) -> tuple[str, ...]:
    """Return the kinds of which a field of ``Kind`` is true or not empty, in their order."""
    return tuple(name for name, kind in KINDS.items() if getattr(kind, trait))


def calls_of(trait: str, *kinds: str) -> dict[str, Call]:
    """Return kind -> the function that a field of ``Kind`` names, of ``kinds`` that have one: what a step is handed."""
    return {name: getattr(KINDS[name], trait) for name in sorted({*kinds}) if getattr(KINDS[name], trait)}
