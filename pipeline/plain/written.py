"""The base of the records an author writes, and what their fields say: what a key is for, its limits, how it is written."""

from __future__ import annotations

import functools
import types
from collections.abc import Callable
from typing import Annotated, Any, Union, dataclass_transform, get_args, get_origin

from msgspec import Meta, Struct, field
from msgspec.structs import FieldInfo, fields, replace

_NONE = type(None)


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # for type checkers: what derives from it is frozen too
class Record(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Base of every record an author writes; frozen, so that nothing downstream re-checks or changes it."""


class About:
    """What a key is for and which values it takes, beside a type in ``Annotated``; see ``about``."""

    __slots__ = ("text", "limits")

    def __init__(self, text: Meta, limits: Meta | None) -> None:
        self.text = text
        self.limits = limits


def about(text: str, examples: list | None = None, **limits: Any) -> About:
    """Return what is written beside a field's type: ``Annotated[int | None, about("Knots.", ge=0)]``.

    Args:
        text: what the key is for, as messages, the reference page and the schema show it.
        examples: values an author may copy.
        **limits: as of ``msgspec.Meta``; of an optional type they hold where there is a value.
    """
    return About(Meta(description=text, examples=examples), Meta(**limits) if limits else None)


class Written:
    """Beside a type in ``Annotated``: an author writes something else, from which the value is read.

    Attributes:
        hint: the type of what an author writes.
        read: makes the value of it; raises ValueError whose text is what is wrong, ``; ``, and what to do.
    """

    __slots__ = ("hint", "read")

    def __init__(self, hint: Any, read: Callable[[Any], Any]) -> None:
        self.hint = hint
        self.read = read


@functools.cache
def written_fields(record: type[Struct]) -> dict[str, FieldInfo]:
    """Return key -> field of a record; its type is that of what an author writes, with all metadata as msgspec understands it.

    Made once: Python evaluates every annotation for it, and each table of a file asks.
    """
    return {one.encode_name: replace(one, type=as_written(one.type)) for one in fields(record)}


def as_written(hint: Any) -> Any:
    """Return a declared type as the type of what an author writes; ``reader`` still finds how that is read."""
    origin = get_origin(hint)
    if origin is Annotated:
        return _annotated(hint.__origin__, hint.__metadata__)
    if origin in (Union, types.UnionType):
        return Union[tuple(as_written(option) for option in get_args(hint))]  # noqa: UP007 (made from a tuple)
    if origin in (list, dict, tuple):
        return types.GenericAlias(origin, tuple(as_written(part) for part in get_args(hint)))
    return hint


def reader(hint: Any) -> Callable[[Any], Any] | None:
    """Return what makes the value out of what was written (a size, a bit pattern), if that is not the value itself."""
    return next((one.read for one in metadata(hint) if isinstance(one, Written)), None)


def metadata(hint: Any) -> list[Any]:
    """Return the metadata of a type and of the parts of an optional one, outermost first."""
    bare = hint.__origin__ if hasattr(hint, "__metadata__") else hint
    inner = get_args(bare) if get_origin(bare) in (Union, types.UnionType) else ()
    return [meta for one in (hint, *inner) for meta in getattr(one, "__metadata__", ())]


def _annotated(bare: Any, metas: tuple) -> Any:
    written = next((meta for meta in metas if isinstance(meta, Written)), None)
    made = as_written(bare) if written is None else Annotated[written.hint, written]
    for meta in metas:
        if isinstance(meta, About):
            made = Annotated[made if meta.limits is None else _limited(made, meta.limits), meta.text]
        elif meta is not written:
            made = Annotated[made, meta]
    return made


def _limited(hint: Any, limits: Meta) -> Any:
    """Return a type with limits, which msgspec takes only on the part of an optional type that is not None."""
    options = get_args(hint)
    if get_origin(hint) in (Union, types.UnionType) and _NONE in options:
        some = Union[tuple(one for one in options if one is not _NONE)]  # noqa: UP007 (made from a tuple)
        return Union[Annotated[some, limits], None]  # noqa: UP007 (of a type that is known only here)
    return Annotated[hint, limits]
