"""Texts to a blob: in each language a table of all keys, and each text as ranks of a font's glyphs or as Unicode code points."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.assets.texts.read import Said, read_texts
from pipeline.joints.facts import IntentFacts, TextFacts
from pipeline.joints.layouts import NO_FONT, STRING, TEXT, VERSION, name_hash, record_bytes
from pipeline.joints.places import BlobFiles, Sources
from pipeline.joints.views import CharactersView
from pipeline.plain.bits import ByteOrder
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.sizes import counted, listed, round_up
from pipeline.project.assets import Text

_FAULTS = 20  # problems of a kind that are reported
_MOST_UNITS = 65535  # of a text
_MOST_KEYS = 65535

Texts = Mapping[str, Mapping[str, Said]]  # language -> key -> text


@dataclass(frozen=True)
class Characters:
    """How characters are stored.

    Attributes:
        ranks: character -> what a unit holds; None: its code point.
        advances: character -> pixels the pen moves on; empty without a font.
        unit_bytes: bytes of a unit.
        end, line_break: units that end a text and a line.
    """

    ranks: Mapping[str, int] | None
    advances: Mapping[str, int]
    unit_bytes: int
    end: int
    line_break: int

    def units(self, text: str) -> list[int]:
        """Return a text's units without its end."""
        return [self.line_break if one == "\n" else ord(one) if self.ranks is None else self.ranks[one] for one in text]

    def width(self, text: str) -> int:
        """Return the pixels that the widest line of a text takes, 0 without a font."""
        return max(sum(self.advances.get(one, 0) for one in line) for line in text.split("\n"))


def convert_text(
    sources: Sources,
    font: CharactersView | None,
    out: BlobFiles,
    name: str,
    spec: Text,
    byte_order: ByteOrder,
    alignment: int,
    room: int,
) -> str:
    """Write the blob and facts of texts; return one line about them.

    Args:
        sources: a file for each of the languages that ``spec`` names, in its order.
        font: whose glyphs texts are stored as; None: code points.
        room: bytes that it may have; see ``bounds.asset_room``.

    Raises:
        ProjectError: a file cannot be read, a key is missing in a language, the font lacks a character, a text is too wide or too long,
            or all together is too large.
    """
    files = dict(zip(spec.languages, sources.names, strict=True))
    texts = {language: read_texts(sources.folder, file) for language, file in files.items()}
    keys = list(next(iter(texts.values())))
    _check_keys(name, texts, files, keys)
    every = "".join(said.text for some in texts.values() for said in some.values())
    characters = _characters(name, spec, font, every)
    _check_characters(texts, files, characters, spec.font)
    _check_widths(texts, files, characters, spec)
    units = [characters.units(texts[language][key].text) for language in texts for key in keys]
    blob = _blob(units, characters, len(texts), len(keys), spec.font, byte_order, max(alignment, 4))
    if len(blob) > room:
        wrong = f"{len(blob):,} bytes, the target's largest cartridge or memory holds {room:,}"
        raise refuse("project.toml", f"[text.{name}]", wrong, "split it")
    facts = TextFacts(
        **save_blob(out.content, name, [blob], spec.origin),
        font=spec.font,
        unit_bytes=characters.unit_bytes,
        languages=list(texts),
        keys=keys,
        characters=sum(map(len, units)),
        different=len(set(every) - {"\n"}),
        widest=[max(characters.width(said.text) for said in some.values()) for some in texts.values()],
        intent=IntentFacts(shape=[len(texts), len(keys)], sha256=_sum(units)),
    )
    size = f"{counted(len(keys), 'text')} in {counted(len(texts), 'language')}, {counted(facts.characters, 'character')}"
    return f"{size} of {counted(facts.unit_bytes, 'byte')}, {save_facts(out.facts, facts)}"


def _check_keys(name: str, texts: Texts, files: Mapping[str, str], keys: list[str]) -> None:
    """Refuse keys that some languages have and others lack."""
    every = dict.fromkeys(key for some in texts.values() for key in some)
    problems = [
        Problem(files[language], "", f"{key} is missing, which {listed([one for one in texts if key in texts[one]])} has", "add it there")
        for language, some in texts.items()
        for key in every
        if key not in some
    ]
    if len(keys) > _MOST_KEYS:
        wrong = f"has {len(keys):,} texts, at most {_MOST_KEYS:,} are taken"
        problems.append(Problem(next(iter(files.values())), "", wrong, "split it"))
    if problems:
        raise ProjectError(problems[:_FAULTS])


def _characters(name: str, spec: Text, font: CharactersView | None, every: str) -> Characters:
    if font is None:
        most = max(map(ord, every), default=0)
        ranks, advances, needed = None, {}, 1 if most < 1 << 8 else 2 if most < 1 << 16 else 4
    else:
        glyphs = font.read().characters
        ranks, advances = {chr(code): rank for rank, (code, _) in enumerate(glyphs)}, {chr(code): advance for code, advance in glyphs}
        needed = 1 if len(glyphs) <= (1 << 8) - 2 else 2 if len(glyphs) <= (1 << 16) - 2 else 4
    size = spec.unit_bytes or needed
    if size < needed:
        what = f"U+{most:04X}" if font is None else f"the {len(glyphs):,} glyphs of {spec.font}, an end and a line break"
        wrong = f"{counted(size, 'byte')} cannot hold {what}"
        raise refuse("project.toml", f"[text.{name}] unit_bytes", wrong, f"set unit_bytes = {needed}, or leave it out")
    last = (1 << 8 * size) - 1
    return Characters(ranks, advances, size, *((0, 10) if font is None else (last, last - 1)))


def _check_characters(texts: Texts, files: Mapping[str, str], characters: Characters, font: str | None) -> None:
    """Refuse characters that the font lacks, each once with the first keys that need it; and control characters."""
    uses: dict[str, list[tuple[str, str]]] = {}
    for language, some in texts.items():
        for key, said in some.items():
            for character in dict.fromkeys(said.text):
                lacks = unicodedata.category(character) == "Cc" if characters.ranks is None else character not in characters.ranks
                if character != "\n" and lacks:
                    uses.setdefault(character, []).append((language, key))
    problems = []
    for character, places in sorted(uses.items()):
        language, key = places[0]
        more = f" and {counted(len(places) - 1, 'other text')}" if len(places) > 1 else ""
        shown = f"{character!r} (U+{ord(character):04X})"
        if characters.ranks is None:
            wrong, remedy = f"{key}{more} has the control character {shown}", "write plain text; a line break is \\n"
        else:
            wrong = f"{key}{more} in {language} needs {shown}, which the font {font} lacks"
            remedy = "add the character to the font's characters or texts, or write the text without it"
        problems.append(Problem(files[language], texts[language][key].place, wrong, remedy))
    if problems:
        raise ProjectError(problems[:_FAULTS])


def _check_widths(texts: Texts, files: Mapping[str, str], characters: Characters, spec: Text) -> None:
    problems = []
    for language, some in texts.items():
        for key, said in some.items():
            limit = said.width or spec.width
            width = characters.width(said.text)
            if limit and width > limit:
                wrong = f"{key} in {language} is {width} pixels wide, {limit} are allowed"
                problems.append(Problem(files[language], said.place, wrong, "shorten it, or break its line"))
            if said.width and characters.ranks is None:
                wrong = f"{key} has a width, and no font says how wide its characters are"
                problems.append(Problem(files[language], said.place, wrong, "name a font in the asset, or leave width out"))
            if len(said.text) > _MOST_UNITS:
                wrong = f"{key} has {len(said.text):,} characters, at most {_MOST_UNITS:,} are taken"
                problems.append(Problem(files[language], said.place, wrong, "split it"))
    if problems:
        raise ProjectError(problems[:_FAULTS])


def _blob(
    units: list[list[int]], characters: Characters, languages: int, keys: int, font: str | None, order: ByteOrder, alignment: int
) -> bytes:
    """Return record, table and texts; equal texts are stored once."""
    size, start = characters.unit_bytes, round_up(record_bytes(TEXT), alignment)
    at, table, texts, known = start + record_bytes(STRING) * len(units), [], [], dict[bytes, int]()
    for some in units:
        stored = b"".join(unit.to_bytes(size, order) for unit in (*some, characters.end))
        if stored not in known:
            known[stored] = at
            texts.append(stored)
            at += len(stored)
        table.append(put_record(STRING, order, units=len(some), lines=1 + some.count(characters.line_break), text=known[stored]))
    head = put_record(
        TEXT, order, version=VERSION, unit_bytes=size, language_count=languages, key_count=keys, font=name_hash(font) if font else NO_FONT,
        end=characters.end, line_break=characters.line_break, texts=start,
    )  # fmt: skip
    return b"".join([head.ljust(start, b"\0"), *table, *texts])


def _sum(units: list[list[int]]) -> str:
    """Return the sum that the facts keep; see ``joints.facts.TextFacts``."""
    numbers = (number for some in units for number in (len(some), *some))
    return hashlib.sha256(b"".join(number.to_bytes(4, "little") for number in numbers)).hexdigest()
