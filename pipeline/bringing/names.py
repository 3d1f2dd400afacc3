"""Names of files: their words and numbers, and what an asset can be called."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from typing import NamedTuple

LONGEST = 32  # characters of an identifier
# What people call the movements of a figure. Common practice, no source; singular and plain forms, endings are taken off first.
_ACTIONS = frozenset(
    "aim appear attack bite block blink blow bounce break burn cast celebrate charge cheer climb collapse crawl crouch damage dance dash dead "
    "death defend die dig disappear dive dodge draw drift drink duck eat exit explode fall fight fire flap flip float fly gallop glide grab "
    "guard hang hit hop hover hurt idle jump kick kill knock ladder land laugh lay lie lift look lose melee move open close pick play plant "
    "pull punch push reload rest ride rise roar roll run shoot shot sit skid slash sleep slide smash sneak spawn spin stab stance stand start "
    "static stay step stop strike stun swim swing talk taunt throw tumble turn unsheathe use victory wait wake walk wave win yawn "
    "ability action anim animation cycle loop frame pose "
    "warten gehen laufen springen sterben fallen stehen marche saute court attente meurt camina salta corre muere espera"
    "".split()
)
_DIRECTIONS = frozenset(
    "left right up down l r u d n e s w ne nw se sw north east south west front back side forward backward forwards backwards "
    "links rechts gauche droite".split()
)
# Folders that say what kind of file they hold, and not whose it is.
_GENERIC = frozenset(
    "art arts asset assets graphic graphics gfx image images img imgs picture pictures pic pics png pngs gif gifs bmp bmps sprite sprites "
    "texture textures frame frames data resource resources res media char chars character characters enemy enemies npc npcs monster monsters "
    "object objects obj item items tile tiles tileset tilesets player players hero heroes misc other export exports exported final source raw "
    "sheet sheets spritesheet spritesheets strip strips animation animations anim anims 2d pixel pixelart creature creatures".split()
)
_ONE_OF_MANY = frozenset(
    "item items icon icons tile tiles object objects obj misc other ui gui hud menu button buttons inventory invitems face faces number "
    "numbers letter letters thumbnail thumbnails cursor cursors objecticons".split()
)
_WORD = re.compile(r"[^\W\d_]+|\d+")
_CAPITALS = re.compile(r"(?<=[a-z])(?=[A-Z])")


class Named(NamedTuple):
    """What the name of a file says.

    Attributes:
        words: in small letters, without the number.
        number: of the frame; None without one.
        skeleton: the name with the number's digits taken out: equal for the frames of one row.
    """

    words: tuple[str, ...]
    number: int | None
    skeleton: str


def natural(name: str) -> tuple:
    """Return a sort key that counts numbers in names: walk_2 before walk_10."""
    parts = re.split(r"([0-9]+)", name)
    return tuple((int(part), part) if rank % 2 else (0, part) for rank, part in enumerate(parts))


def words_of(text: str) -> tuple[str, ...]:
    """Return the words and numbers of a name in small letters; ``HeroRun 2`` has three."""
    return tuple(word.lower() for word in _WORD.findall(_CAPITALS.sub(" ", unicodedata.normalize("NFC", text))))


def read_name(stem: str) -> Named:
    """Return words and number of a file's name without its ending; the number is the last one that ends a word."""
    found = list(re.finditer(r"[0-9]+", stem))
    # A number in the middle counts only where nothing but marks follow it, as in "Walk (3)".
    last = found[-1] if found and not _WORD.search(stem, found[-1].end()) else None
    if last is None or len(last[0]) > 9:
        return Named(words_of(stem), None, stem)
    return Named(words_of(stem[: last.start()]), int(last[0]), f"{stem[: last.start()]}\0{stem[last.end() :]}")


def inner_number(stem: str) -> Named | None:
    """Return the same for a number that words follow, as in ``frame_03_delay`` or ``07_walk``; None without one.

    Of several numbers that of most digits counts, and the first of those.
    """
    found = [one for one in re.finditer(r"[0-9]+", stem) if len(one[0]) <= 9]
    if not found:
        return None
    one = max(found, key=lambda match: (len(match[0]), -match.start()))
    return Named(words_of(stem[: one.start()] + " " + stem[one.end() :]), int(one[0]), f"{stem[: one.start()]}\0{stem[one.end() :]}")


def _base_forms(word: str) -> set[str]:
    forms = {word, word.removesuffix("ing"), word.removesuffix("ed"), word.removesuffix("s"), word.removesuffix("d")}
    forms |= {word.removesuffix("ing") + "e", word.removesuffix("er"), word.removesuffix("es")}
    # running, stopped: the last letter is doubled
    return forms | {form[:-1] for form in forms if len(form) > 3 and form[-1] == form[-2]}


def is_action(word: str) -> bool:
    """Return whether a word names a movement, a pose or a direction."""
    return word in _DIRECTIONS or not _ACTIONS.isdisjoint(_base_forms(word))


def is_movement(word: str) -> bool:
    """Return whether a word names a movement or a pose."""
    return not _ACTIONS.isdisjoint(_base_forms(word))


def split_action(words: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return subject and action: ``hero walk left`` is hero, and walk left. Numbers between stay where their neighbours are."""
    at = len(words)
    while at and (is_action(words[at - 1]) or (words[at - 1].isdigit() and at > 1 and is_action(words[at - 2]))):
        at -= 1
    if not any(is_movement(word) or len(word) > 1 for word in words[at:]):
        at = len(words)  # "orc e" is more likely the fifth orc than an orc that looks east
    if at == len(words) and words and is_movement(words[0]):
        return (), words  # "walk slow"
    return words[:at], words[at:]


def is_generic(folder: str) -> bool:
    """Return whether a folder's name says only what kind of files it holds."""
    words = words_of(folder)
    return not words or all(word in _GENERIC or word in _ONE_OF_MANY or word.isdigit() for word in words)


def holds_many(folder: str) -> bool:
    """Return whether a folder's name says that each of its files is a thing of its own."""
    return any(word in _ONE_OF_MANY for word in (*words_of(folder), folder.lower()))


def identifier(text: str, kind: str) -> str:
    """Return a name that a project file takes: small letters, digits and underscores, a letter first, at most 32.

    Letters of other scripts become their Latin ones, or the sound that Unicode names them by; a text of which nothing is left,
    or too little to know it by, becomes the name of its kind.
    """
    latin = "_".join("".join(map(_latin, word)) for word in words_of(text))
    clean = re.sub(r"_+", "_", re.sub(r"[^a-z0-9_]", "", latin)).strip("_")
    clean = clean if not clean or clean[0].isalpha() else f"{kind}_{clean}"
    return clean[:LONGEST].rstrip("_") or kind


def _latin(letter: str) -> str:
    plain = "".join(one for one in unicodedata.normalize("NFKD", letter) if one.isascii() and one.isalnum()).lower()
    if plain:
        return plain
    name = unicodedata.name(letter, "")
    if letter in _SPELT:
        return _SPELT[letter]
    spelt = re.fullmatch(r"(?:HIRAGANA|KATAKANA) LETTER (?:SMALL )?([A-Z]+)|HANGUL SYLLABLE ([A-Z]+)", name)
    return (spelt[1] or spelt[2]).lower() if spelt else ""


# Letters whose Unicode names are no sounds. After ISO 9:1995 and ISO 843:1997, in the letters that identifiers have.
_SPELT = dict(
    pair.split("=")
    for pair in (
        "а=a б=b в=v г=g д=d е=e ё=e ж=zh з=z и=i й=j к=k л=l м=m н=n о=o п=p р=r с=s т=t у=u ф=f х=h ц=c ч=ch ш=sh щ=shh ъ= ы=y ь= э=e ю=yu я=ya "
        "і=i ї=i є=ye ґ=g ў=u ј=j љ=lj њ=nj ћ=c ђ=dj џ=dz "
        "α=a β=v γ=g δ=d ε=e ζ=z η=i θ=th ι=i κ=k λ=l μ=m ν=n ξ=x ο=o π=p ρ=r σ=s ς=s τ=t υ=y φ=f χ=ch ψ=ps ω=o ά=a έ=e ή=i ί=i ό=o ύ=y ώ=o "
        "ß=ss æ=ae œ=oe ø=o đ=d ð=d þ=th ł=l ı=i"
    ).split()
)


def unique(wanted: str, taken: Collection[str]) -> str:
    """Return a name that is not taken: the wanted one, or that with the first free number from 2."""
    rank, name = 1, wanted
    while name in taken:
        rank += 1
        name = f"{wanted[: LONGEST - len(str(rank)) - 1].rstrip('_')}_{rank}"
    return name
