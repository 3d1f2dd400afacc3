"""Texts of strangers, made fit to be shown: in a page, in a table that a spreadsheet opens, in a line of TOML."""

from __future__ import annotations

import json
import re
import unicodedata

from pipeline.joints.links import link_problem

# What makes a spreadsheet take a cell as a formula: OWASP, "CSV Injection"; the wide forms of the four signs count there too.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_LINK = re.compile(r"https?://[^\s<>\"']+", re.IGNORECASE)


def visible(text: str) -> str:
    """Return a text in which characters that change how others are shown (Unicode Cc, Cf, Zl, Zp and the like) are named: [U+202E].

    Line feeds and tabs stay; a zero width joiner between letters is named too, which spoils a few emoji and no sense.
    """
    out = []
    for char in text.replace("\r\n", "\n").replace("\r", "\n"):
        hidden = char not in "\n\t" and unicodedata.category(char) in ("Cc", "Cf", "Zl", "Zp", "Cs", "Co")
        out.append(f"[U+{ord(char):04X}]" if hidden else char)
    return "".join(out)


def cell(text: str) -> str:
    """Return a text as a cell that no spreadsheet runs as a formula: OWASP's advice, an apostrophe before it."""
    plain = visible(text)
    return f"'{plain}" if plain.lstrip(" ").startswith(_FORMULA) or plain.startswith(_FORMULA) else plain


def links(text: str) -> list[dict[str, str]]:
    """Return the parts of a text that name pictures: ``text``, and ``link`` where it is a whole http or https address, else nothing."""
    found = []
    for word in re.split(r"[\s,;]+(?=\S)", text):
        plain = word.strip(" ,;")
        link = plain if _LINK.fullmatch(plain) and "{" not in plain and link_problem(plain) is None else ""
        if plain:
            found.append({"text": visible(plain), "link": link})
    return found


def toml_text(text: str) -> str:
    """Return a text as a basic string of TOML 1.0 on one line; characters that are not ASCII letters of a page are escaped if hidden."""
    quoted = json.dumps(" ".join(text.split()), ensure_ascii=False)
    hidden = {char for char in quoted if unicodedata.category(char) in ("Cc", "Cf", "Zl", "Zp", "Co")}
    for char in sorted(hidden):
        quoted = quoted.replace(char, f"\\U{ord(char):08X}")
    return quoted
