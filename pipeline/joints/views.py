"""What a step reads of another's record where it does not read all of it: only these fields decide whether it runs again.

A step is handed the view and not the file, so that it can read nothing else of it. The files are those of ``facts``; a view's record has
the names of its fields, and what they mean.
"""

from __future__ import annotations

import functools
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar, Generic, Literal, TypeVar

import msgspec

from pipeline.joints.facts import FORMAT, Count, Rgb, Sha256
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import FileRecord, read_record, write_record


class _Fields(FileRecord, frozen=True, kw_only=True, forbid_unknown_fields=False):
    """Some fields of a record; all others in its file are left unread."""


_R = TypeVar("_R", bound=_Fields)


class PaletteEntries(_Fields, frozen=True, kw_only=True):
    """What art sees of its palette, and a variant of what it varies; see ``facts.PaletteFacts``."""

    kind: Literal["palette"]
    name: str
    first: Count
    transparent: bool
    entry_count: Count
    line_entries: Count
    line_used: list[Count]
    colours: list[Rgb]
    exact: bool
    drawn: list[Rgb] = msgspec.field(default_factory=list)


class StoredSize(_Fields, frozen=True, kw_only=True):
    """Bytes in the image; see ``facts.Facts``."""

    bytes: Count


class Content(_Fields, frozen=True, kw_only=True):
    """The SHA-256 of a blob; see ``facts.Facts``."""

    sha256: Sha256


class Characters(_Fields, frozen=True, kw_only=True):
    """Code point and advance of a font's glyphs; see ``facts.FontFacts``."""

    kind: Literal["font"]
    characters: list[tuple[Count, Count]]


class _Worst(msgspec.Struct, frozen=True):
    worst_frame: Count | None


class WorstFrame(_Fields, frozen=True, kw_only=True):
    """The frame that lost most to the palette; see ``facts.ColourError``."""

    colour_error: _Worst


@dataclass(frozen=True)
class View(Generic[_R]):
    """A file of which only some fields count; each kind of view names the record that holds them."""

    path: Path
    record: ClassVar[type[Any]]

    def read(self) -> _R:
        """Return the fields.

        Raises:
            ProjectError: the file cannot be read, is damaged, has another format number, or is of another kind.
        """
        return read_record(self.path, _decoder(self.record), FORMAT)

    @property
    def paths(self) -> tuple[Path, ...]:
        """The file, for those who look at what a step reads."""
        return (self.path,)

    def digest(self) -> str | None:
        """Return the SHA-256 of the fields in hex; None where they cannot be read."""
        try:
            return hashlib.sha256(msgspec.json.encode(self.read())).hexdigest()
        except ProjectError:
            return None


class PaletteView(View[PaletteEntries]):
    """A palette's facts, as art reads them."""

    record = PaletteEntries


class SizeView(View[StoredSize]):
    """Facts of an asset or of its packed form, as placement reads them."""

    record = StoredSize


def write_size(path: Path, count: int) -> None:
    """Write a file that a ``SizeView`` can read, about something whose facts come later."""
    write_record(path, StoredSize(version=FORMAT, bytes=count))


class ContentView(View[Content]):
    """Facts of an asset, for a step that reads its bytes in the image."""

    record = Content


class WorstFrameView(View[WorstFrame]):
    """Facts of a sprite, as sampling reads them."""

    record = WorstFrame


class CharactersView(View[Characters]):
    """Facts of a font, as texts read them."""

    record = Characters


@functools.cache  # made when first asked for: a build with nothing to do needs few of them
def _decoder(record: type[Any]) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(record)
