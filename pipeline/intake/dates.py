"""Times as forms and spreadsheets write them, read by the column as a whole, so that the same moment is the same in any style.

A moment is kept as ISO 8601 to the second, the minute or the day, whatever was written: ``2026-03-01T10:12:33``, ``2026-03-01T10:12``,
``2026-03-01``. It is what a clock showed: offsets and names of time zones do not count, since spreadsheets drop them.

Styles: ISO 8601 and RFC 3339; day, month and year in numbers, with one of ``/ . -``; months by name in six languages; days since
1899-12-30, as spreadsheets count them (ECMA-376, part 1, 18.17.4; from memory), and seconds or milliseconds since 1970 (POSIX), if
a whole column is written so.
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from dataclasses import dataclass, field

from pipeline.plain.errors import Problem, ProjectError

ORDERS = ("day first", "month first")
_CLOCK = (
    r"(?:[\st,]+(?:(?:at|um|à|a las|alle|às)\s+)?(?P<hour>[0-9]{1,2})[:.h](?P<minute>[0-9]{2})(?:[:.](?P<second>[0-9]{2})(?:[.,][0-9]+)?)?"
    r"\s*(?P<half>[ap]\.?\s?m\.?)?(?:\s*uhr)?)?"
)
_ZONE = r"\s*(?:z|(?:(?:gmt|utc)\s*)?[+-][0-9]{1,2}(?::?[0-9]{2})?|[a-z]{2,5}|\((?:[^()]*)\))?\s*"
_DAY_NAME = r"(?:[^\W\d_]+\.?,?\s+)?"
_ISO = re.compile(rf"(?P<year>[0-9]{{4}})(?P<sign>[-/.])(?P<month>[0-9]{{1,2}})(?P=sign)(?P<day>[0-9]{{1,2}}){_CLOCK}{_ZONE}")
_NUMBERS = re.compile(
    rf"{_DAY_NAME}(?P<first>[0-9]{{1,2}})(?P<sign>[-/.])\s?(?P<next>[0-9]{{1,2}})(?P=sign)\s?(?P<year>[0-9]{{4}}|[0-9]{{2}}),?"
    rf"{_CLOCK}{_ZONE}"
)
_NAMED = re.compile(
    rf"{_DAY_NAME}(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th|er|\.|º)?[\s-]+(?:de\s+)?(?P<name>[^\W\d_]{{3,}})\.?,?[\s-]+(?:de\s+)?"
    rf"(?P<year>[0-9]{{4}}),?{_CLOCK}{_ZONE}"
)
_NAME_FIRST = re.compile(
    rf"{_DAY_NAME}(?P<name>[^\W\d_]{{3,}})\.?\s+(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?,?\s+(?P<year>[0-9]{{4}}),?{_CLOCK}{_ZONE}"
)
_SERIAL = re.compile(r"(?P<days>[3-7][0-9]{4})(?:[.,](?P<part>[0-9]+))?")
_FIRST_SERIAL, _LAST_SERIAL = 36526, 73050  # 2000-01-01 to 2099-12-31
_EPOCH_OF_SERIALS = datetime.date(1899, 12, 30)
_SECONDS = re.compile(r"1[0-9]{9}(?P<thousandths>[0-9]{3})?")
_EXACT_DIGITS = 5  # of a day: 0.86 seconds
# English, German, Spanish, French, Italian and Portuguese by their first letters, accents left out; common practice, no source.
_MONTHS = (
    "jan ene gen", "feb fev fevr", "mar mae mrz", "apr abr avr", "may mai mag", "jun giu juin", "jul lug juil", "aug ago aou", "sep set",
    "oct okt ott out", "nov", "dec dez dic",
)  # fmt: skip
_MONTH_OF = {start: rank for rank, starts in enumerate(_MONTHS, 1) for start in starts.split()}
_ORDERED = 4  # different days that only one reading puts in the order of time, to believe it


@dataclass
class DateColumn:
    """The times of one column: ``see`` all, then ``settle`` how they are read, then ``moment`` of each.

    Attributes:
        order: one of ``ORDERS``, as the author says or as is found out; empty where it makes no difference.
        why: what decided, in words; empty where nothing had to be.
        unread: how many are not a date; ``first_unread``: the line of the first, and its text.
    """

    order: str = ""
    why: str = ""
    unread: int = 0
    first_unread: tuple[int, str] = (0, "")
    _seen: int = 0
    _serials: int = 0
    _forced: dict[str, tuple[int, str]] = field(default_factory=dict)
    _open: tuple[int, str] = (0, "")
    _dotted: bool = True
    _ways: dict[str, _Way] = field(default_factory=lambda: {order: _Way() for order in ORDERS})

    def see(self, text: str, line: int) -> None:
        """Take a cell into account; empty ones do not count."""
        plain = _folded(text)
        if not plain:
            return
        self._seen += 1
        if _serial(plain):
            self._serials += 1
            self._not_read(line, text)
            return
        match = _NUMBERS.fullmatch(plain)
        if match is None:
            if not _fixed(plain):
                self._not_read(line, text)
            return
        readings = {order: _numbers(match, order) for order in ORDERS}
        possible = [order for order, moment in readings.items() if moment]
        for order in possible:
            self._ways[order].add(readings[order])
        if not possible:
            self._not_read(line, text)
        elif len(possible) == 1:
            self._forced.setdefault(possible[0], (line, text))
            for order in ORDERS:
                self._ways[order].possible &= order in possible
        elif readings[ORDERS[0]] != readings[ORDERS[1]]:
            self._open = self._open if self._open[0] else (line, text)
            self._dotted &= match["sign"] == "."

    def _not_read(self, line: int, text: str) -> None:
        self.unread += 1
        self.first_unread = self.first_unread if self.first_unread[0] else (line, text)

    def settle(self, shown: str, column: str, table: str) -> None:
        """Find out whether days or months come first.

        Args:
            shown: the file; ``column``: its heading; ``table``: where the setting goes, such as ``[intake.bugs]``. For messages.

        Raises:
            ProjectError: nothing in the column decides, or some lines contradict others, or the author's word.
        """
        if self._seen and self._serials == self._seen:
            self.unread, self.why = 0, "as days or seconds counted from a fixed day"
            return
        if self.order:
            other = ORDERS[1 - ORDERS.index(self.order)]
            if other in self._forced:
                remedy = f'write dates = "{other}" into {table} of project.toml, or leave it out; or export the column in one style'
                wrong = f'can only be {other}, and project.toml says "{self.order}"'
                raise self._refusal(shown, column, self._forced[other], wrong, remedy)
            self.why = "as project.toml says" if self._open[0] or self._forced else ""
            return
        if len(self._forced) == 2:
            (line, text), late = sorted(self._forced.values())
            wrong = f"can only be read one way, and {text!r} in line {line} only the other way"
            raise self._refusal(shown, column, late, wrong, "format the column in one style, year first is safest, and export it again")
        if self._forced:
            self.order, (line, text) = next(iter(self._forced.items()))
            self.why = f"since line {line} has {text.strip()!r}"
        elif self._open[0]:
            self._decide_open(shown, column, table)

    def _decide_open(self, shown: str, column: str, table: str) -> None:
        ordered = [order for order in ORDERS if self._ways[order].in_order()]
        if len(ordered) == 1:
            self.order, self.why = ordered[0], "since only so its lines are in the order of time"
        elif self._dotted:
            # No locale of the Unicode CLDR writes month.day.year (from memory).
            self.order, self.why = ORDERS[0], "since it is written with full stops"
        else:
            wrong = "may be day first or month first, and no line of the column decides it"
            remedy = f'write dates = "day first" or dates = "month first" into {table} of project.toml, or export with the year first'
            raise self._refusal(shown, column, self._open, wrong, remedy)

    def _refusal(self, shown: str, column: str, at: tuple[int, str], wrong: str, remedy: str) -> ProjectError:
        return ProjectError(Problem(shown, f"line {at[0]}, column {column!r}", f"{at[1].strip()!r} {wrong}", remedy))

    def moment(self, text: str) -> str:
        """Return the moment that a cell says, or nothing where it is not a date."""
        plain = _folded(text)
        if self._seen and self._serials == self._seen:
            return _serial(plain)
        match = _NUMBERS.fullmatch(plain)
        if match is None:
            return _fixed(plain)
        if self.order:
            return _numbers(match, self.order)
        readings = {_numbers(match, order) for order in ORDERS}
        return readings.pop() if len(readings) == 1 else ""


@dataclass
class _Way:
    """How a column looks when it is read one way: whether its moments never go back, or never forward."""

    possible: bool = True
    last: str = ""
    days: int = 0
    rising: bool = True
    falling: bool = True

    def add(self, moment: str) -> None:
        if self.last:
            self.rising &= self.last[:10] <= moment[:10]
            self.falling &= self.last[:10] >= moment[:10]
        self.days += self.last[:10] != moment[:10]
        self.last = moment

    def in_order(self) -> bool:
        return self.possible and self.days >= _ORDERED and (self.rising or self.falling)


def same_moment(one: str, other: str) -> bool:
    """Say whether two moments may be one: they agree as far as the coarser goes."""
    return bool(one and other) and (one.startswith(other) or other.startswith(one))


def has_clock(moment: str) -> bool:
    """Say whether a moment is known to the minute at least."""
    return "T" in moment


def _folded(text: str) -> str:
    """Return a text as it is read: compatibility forms, case and accents folded, runs of white space as one space."""
    if text.isascii():
        return " ".join(text.casefold().split())
    plain = unicodedata.normalize("NFKD", text.replace("\u200e", "").replace("\u200f", "").casefold())
    return " ".join("".join(char for char in plain if not unicodedata.combining(char)).split())


def _fixed(plain: str) -> str:
    """Return the moment of a text whose parts cannot be mixed up, or nothing."""
    match = _ISO.fullmatch(plain)
    if match is not None:
        return _moment(match, int(match["year"]), int(match["month"]), int(match["day"]))
    match = _NAMED.fullmatch(plain) or _NAME_FIRST.fullmatch(plain)
    month = match and next((rank for start, rank in _MONTH_OF.items() if match["name"].startswith(start)), 0)
    return _moment(match, int(match["year"]), month, int(match["day"])) if match and month else ""


def _numbers(match: re.Match[str], order: str) -> str:
    first, second, year = int(match["first"]), int(match["next"]), int(match["year"])
    day, month = (first, second) if order == ORDERS[0] else (second, first)
    return _moment(match, year if len(match["year"]) == 4 else 2000 + year, month, day)


def _moment(match: re.Match[str], year: int, month: int, day: int) -> str:
    try:
        date = datetime.date(year, month, day)
    except ValueError:
        return ""
    if match["hour"] is None:
        return date.isoformat()
    hour, minute, second, half = int(match["hour"]), int(match["minute"]), match["second"], match["half"]
    if half:
        if not 1 <= hour <= 12:
            return ""
        hour = hour % 12 + (12 if half[0] == "p" else 0)
    if hour > 23 or minute > 59 or int(second or 0) > 60:
        return ""
    return f"{date.isoformat()}T{hour:02}:{minute:02}" + (f":{second}" if second else "")


def _serial(plain: str) -> str:
    """Return the moment of days since 1899-12-30, or of seconds since 1970; nothing for other texts.

    A fraction too short to say the second says the day alone.
    """
    match = _SECONDS.fullmatch(plain)
    if match is not None:
        seconds = int(plain) // (1000 if match["thousandths"] else 1)
        return (datetime.datetime(1970, 1, 1) + datetime.timedelta(seconds=seconds)).isoformat()
    match = _SERIAL.fullmatch(plain)
    if match is None or not _FIRST_SERIAL <= int(match["days"]) <= _LAST_SERIAL:
        return ""
    day, part = _EPOCH_OF_SERIALS + datetime.timedelta(int(match["days"])), match["part"] or ""
    if len(part) < _EXACT_DIGITS:
        return day.isoformat()
    seconds = (2 * 86400 * int(part) + 10 ** len(part)) // (2 * 10 ** len(part))
    return (datetime.datetime.combine(day, datetime.time()) + datetime.timedelta(seconds=seconds)).isoformat()
