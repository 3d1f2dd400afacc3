"""What a target says about commands of its blitter or sprite unit: the checks."""

from __future__ import annotations

from pipeline.plain.checked import Document
from pipeline.target.records import Target


def check_commands(document: Document, target: Target) -> None:
    """Note why the patterns of a command cannot say where a cell is drawn from and to."""
    sprites, path = target.sprites, ("sprites", "commands")
    for pattern in sprites.commands:
        if pattern.width % 8:
            wrong = f"{pattern.text} has {pattern.width} bits"
            document.say(path, wrong, "write 8, 16, 24 or 32 bits for each number; x for bits that do not count")
            return
    if not sprites.commands:
        return
    letters = [letter for pattern in sprites.commands for letter in pattern.fields]
    twice = next((letter for letter in letters if letters.count(letter) > 1), None)
    if twice:
        document.say(path, f"two numbers of a command hold {twice}", "write all bits of a letter in one of them")
    if not {"S", "N"} & set(letters):
        document.say(path, "no number says which cell is drawn", "write the bits of its source as S, or of its number as N")
    for letter, can in (("H", sprites.flip_x), ("V", sprites.flip_y)):
        if can and letter not in letters:
            side = "flip_x" if letter == "H" else "flip_y"
            document.say(path, f"a cell may be mirrored ({side}), and no bit {letter} says so", f"add {letter}, or leave {side} out")
        wide = [pattern.bits(letter) for pattern in sprites.commands if pattern.bits(letter) > 1]
        if wide:
            document.say(path, f"{wide[0]} bits {letter}", "mirroring takes one bit; write x for bits that do not count")
