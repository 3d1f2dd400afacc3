"""Strict reading of JSON that an author keeps (RFC 8259, and RFC 7493 for what readers agree on): every oddity is refused."""

from __future__ import annotations

import json
import math
import re
from itertools import accumulate
from typing import Any

from pipeline.plain.errors import refuse

_LEVELS = 64  # of objects and arrays inside each other
_LARGEST = 2**63 - 1
_STRING = re.compile(rb'"(?:[^"\\]++|\\.)*+"', re.DOTALL)
_PLAIN = re.compile(rb"[^\[\]{}]++")
_STEPS = [(byte in b"[{") - (byte in b"]}") for byte in range(256)]  # of levels, by what opens or closes one
_SURROGATE = re.compile(rb"\\u[dD][89a-fA-F]")


def read_strictly(data: bytes, shown: str, remedy: str) -> Any:
    """Return what a JSON text holds.

    Args:
        data: the text, UTF-8; a byte order mark at its beginning is skipped.
        shown: the file as the author knows it; remedy: what to do about a file that is not right.

    Raises:
        ProjectError: not UTF-8, not JSON, nested too deep, a key twice in one object, an invalid number or one with more than
            64 bits, half of a surrogate pair.
    """
    if _too_deep(data):
        raise refuse(shown, "", f"objects and arrays nested more than {_LEVELS} deep", remedy)
    try:
        text = data.decode("utf-8-sig")
        value = json.loads(text, object_pairs_hook=_object, parse_constant=_no_number, parse_float=_float, parse_int=_int)
        if _SURROGATE.search(data):
            json.dumps(value, ensure_ascii=False).encode()
    except UnicodeDecodeError as error:
        raise refuse(shown, f"byte {error.start}", "not UTF-8 text", remedy) from None
    except UnicodeEncodeError:
        raise refuse(shown, "", "not JSON: half of a surrogate pair (\\ud800 to \\udfff) is alone in a text", remedy) from None
    except json.JSONDecodeError as error:
        raise refuse(shown, f"line {error.lineno}, column {error.colno}", f"not JSON: {error.msg}", remedy) from None
    except (ValueError, RecursionError) as error:
        raise refuse(shown, "", f"not JSON: {error}", remedy) from None
    return value


def _too_deep(data: bytes) -> bool:
    """Say whether there are more levels than allowed, without calling itself for each."""
    marks = _PLAIN.sub(b"", _STRING.sub(b"", data))
    return max(accumulate(map(_STEPS.__getitem__, marks)), default=0) > _LEVELS


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the key {twice!r} is twice in one object")
    return made


def _int(digits: str) -> int:
    if len(digits) > 20 or not -_LARGEST - 1 <= int(digits) <= _LARGEST:
        raise ValueError(f"a whole number of {len(digits.lstrip('-')):,} digits; the largest is {_LARGEST}")
    return int(digits)


def _float(digits: str) -> float:
    number = float(digits)
    if not math.isfinite(number):
        raise ValueError(f"{digits} is too large for a number")
    return number


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is not a number")
