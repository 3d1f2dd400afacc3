"""Cycles of 68000 instructions, for the forms that a C compiler makes of small loops over bytes.

Values: M68000 8-/16-/32-Bit Microprocessors User's Manual, section 8 (instruction execution times), written from memory.
They count cycles with memory that never makes the processor wait. Instructions are read as objdump writes them.
"""

from __future__ import annotations

import re

# Cycles to fetch an operand: byte or word, long.
_FETCH = {
    "register": (0, 0),
    "immediate": (4, 8),
    "(An)": (4, 8),
    "(An)+": (4, 8),
    "-(An)": (6, 10),
    "d(An)": (8, 12),
    "d(An,Xn)": (10, 14),
}
# Cycles to store the result of a move.
_STORE = {"register": (0, 0), "(An)": (4, 8), "(An)+": (4, 8), "-(An)": (4, 8), "d(An)": (8, 12), "d(An,Xn)": (10, 14)}
_LEA = {"(An)": 4, "d(An)": 8, "d(An,Xn)": 12}
_FORMS = (
    (r"%(d|a)[0-7]|%sp|%fp", "register"),
    (r"#-?\w+", "immediate"),
    (r"%\w+@", "(An)"),
    (r"%\w+@\+", "(An)+"),
    (r"%\w+@-", "-(An)"),
    (r"%\w+@\(-?\d+\)", "d(An)"),
    (r"%\w+@\(-?\d+,%\w+:[wl]\)", "d(An,Xn)"),
)
_BRANCH = re.compile(r"(b(?:ra|hi|ls|cc|cs|ne|eq|vc|vs|pl|mi|ge|lt|gt|le))([sbw])")


def cycles(text: str, taken: bool) -> int:
    """Return the cycles of one instruction.

    Args:
        text: such as ``moveb %a0@+,%a1@+``.
        taken: whether a branch is taken; of no meaning for others.

    Raises:
        KeyError, ValueError: the form is not in the tables.
    """
    name, _, rest = text.partition(" ")
    operands = re.split(r",(?![^(]*\))", rest) if rest else []
    branch = _BRANCH.fullmatch(name)
    if branch:
        return 10 if taken else 8 + 4 * (branch[2] == "w")
    if name in _FIXED:
        return _FIXED[name]
    if name == "dbf":
        return 10 if taken else 14
    if name == "lea":
        return _LEA[_form(operands[0])]
    if name == "moveml":
        return _many(operands)
    return _sized(name[:-1], name[-1] == "l", operands)


_FIXED = {"moveq": 4, "rts": 16, "nop": 4, "extw": 4, "extl": 4, "swap": 4, "seq": 6, "sne": 6}


def _form(operand: str) -> str:
    for pattern, form in _FORMS:
        if re.fullmatch(pattern, operand):
            return form
    raise ValueError(f"no form for {operand!r}")


def _many(operands: list[str]) -> int:
    listed = next(one for one in operands if "@" not in one)
    count = 0
    for part in listed.split("/"):
        first, _, last = part.partition("-")
        count += int((last or first)[2]) - int(first[2]) + 1
    return (12 if operands[1] == listed else 8) + 8 * count


def _sized(name: str, long: bool, operands: list[str]) -> int:
    forms = [_form(one) for one in operands]
    fetch = _FETCH[forms[0]][long]
    if name in ("move", "movea"):
        return 4 + fetch + _STORE[forms[1]][long]
    if forms[-1] != "register":
        raise ValueError(f"no times for {name} to memory")
    if name == "tst":
        return 4 + fetch
    if name in ("clr", "neg", "not"):
        return 6 if long else 4
    if name in ("addq", "subq"):
        return 8 if long or operands[1].startswith("%a") else 4
    if name in ("addi", "subi", "andi", "ori", "cmpi"):
        return (14 if name in ("andi", "cmpi") else 16) if long else 8
    if name in ("lsr", "lsl", "asr", "asl", "ror", "rol") and forms[0] == "immediate":
        return (8 if long else 6) + 2 * int(operands[0][1:])
    if name == "cmp" or name == "cmpa":
        return (6 if long or name == "cmpa" else 4) + fetch
    if name in ("add", "sub", "and", "or"):
        return (8 if forms[0] in ("register", "immediate") else 6) + fetch if long else 4 + fetch
    if name in ("adda", "suba"):
        return (8 if not long or forms[0] in ("register", "immediate") else 6) + fetch
    raise ValueError(f"no times for {name}")
