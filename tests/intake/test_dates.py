"""Times in the styles of forms, spreadsheets and locales, read by the column as a whole.

References: ISO 8601-1:2019 and RFC 3339, 5.8 (both examples); RFC 5322, appendix A.1.1; ECMA-376, part 1, 18.17.4.1 (serial numbers;
from memory); POSIX.1, 4.19 (seconds since the epoch); the standard library's ``datetime`` and ``locale``-free formats.
"""

from __future__ import annotations

import datetime
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.dates import ORDERS, DateColumn, same_moment
from pipeline.plain.errors import ProjectError


def column(texts: list[str], order: str = "") -> DateColumn:
    """Return a settled column of some texts, the first in line 2."""
    made = DateColumn(order)
    for line, text in enumerate(texts, 2):
        made.see(text, line)
    made.settle("a.csv", "Sent", "[intake.bugs]")
    return made


def moments(*texts: str, order: str = "") -> list[str]:
    made = column(list(texts), order)
    return [made.moment(text) for text in texts]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50"),  # RFC 3339, 5.8: the clock of the text counts, not its offset
        ("1996-12-19T16:39:57-08:00", "1996-12-19T16:39:57"),
        ("Fri, 21 Nov 1997 09:55:06 -0600", "1997-11-21T09:55:06"),  # RFC 5322, A.1.1
        ("2026-03-01 10:12", "2026-03-01T10:12"),
        ("2026/03/01 10:12:33 AM GMT+1", "2026-03-01T10:12:33"),
        ("2026/03/01 12:05:06 am", "2026-03-01T00:05:06"),
        ("2026/03/01 12:05 p. m.", "2026-03-01T12:05"),
        ("2026-3-1", "2026-03-01"),
        ("1. März 2026 um 10:12 Uhr", "2026-03-01T10:12"),
        ("So., 1. Mrz. 2026, 10.12 Uhr", "2026-03-01T10:12"),
        ("March 1, 2026 at 10:12 PM", "2026-03-01T22:12"),
        ("1 de marzo de 2026 10:12", "2026-03-01T10:12"),
        ("1er août 2026", "2026-08-01"),
        ("1-Mar-2026 7:05:09", "2026-03-01T07:05:09"),
        ("\u200e3/1/2026\u202f13:05", "2026-03-01T13:05"),  # a narrow no-break space, as CLDR 42 has it, and a mark of direction
        ("2026-02-30", ""),
        ("2026-03-01 25:00", ""),
        ("2026-03-01 13:00 PM", ""),
        ("yesterday", ""),
        ("1", ""),
        ("", ""),
    ],
)
def test_styles(text, moment):
    """A moment is what a clock showed, to the second, the minute or the day; what is not a date is nothing."""
    assert column([text], "month first").moment(text) == moment


def test_days_counted_by_spreadsheets_and_seconds_counted_by_systems():
    """ECMA-376, 18.17.4.1: 1 is 1900-01-01, and after February 1900 the count is one more (from memory); POSIX: 1e9 seconds."""
    day = datetime.date(2026, 3, 1)
    serial = (day - datetime.date(1900, 1, 1)).days + 2
    assert moments(f"{serial}.425382", f"{serial},5", f"{serial}") == ["2026-03-01T10:12:33", "2026-03-01", "2026-03-01"]
    assert moments("1000000000", "1000000000123") == ["2001-09-09T01:46:40"] * 2
    # Beside other texts such a number is not a date.
    assert moments("46082", "soon") == ["", ""]


@pytest.mark.parametrize(
    ("texts", "order", "why"),
    [
        (["01/03/2026 10:12", "25/03/2026 9:00"], "day first", "since line 3 has '25/03/2026 9:00'"),
        (["3/1/26 10:12 AM", "3/25/26 9:00 AM"], "month first", "since line 3 has '3/25/26 9:00 AM'"),
        (["01-03-2026", "31-03-2026"], "day first", "since line 3 has '31-03-2026'"),
        (["01.03.2026", "02.03.2026"], "day first", "since it is written with full stops"),
        (["01.03.2026", "03.25.2026"], "month first", "since line 3 has '03.25.2026'"),
        # Only with days first do the lines go forward: 9 to 12 March, then 1 April.
        (["09/03/2026", "10/03/2026", "12/03/2026", "01/04/2026"], "day first", "since only so its lines are in the order of time"),
        (["04/01/2026", "03/12/2026", "03/10/2026", "03/09/2026"], "month first", "since only so its lines are in the order of time"),
        (["03/03/2026", "04/04/2026"], "", ""),
        (["2026-01-02"], "", ""),
    ],
)
def test_a_column_decides_by_its_own_evidence(texts, order, why):
    """A number above 12, the order of the lines, or full stops; where both readings are the same, nothing has to be decided."""
    made = column(texts)
    assert (made.order, made.why) == (order, why)
    assert all(made.moment(text) for text in texts)


@pytest.mark.parametrize(
    ("texts", "order", "message"),
    [
        (["5/5/2026", "01/03/2026", "02/03/2026"], "", "a.csv, line 3, column 'Sent': '01/03/2026' may be day first or month first"),
        (
            ["25/03/2026", "03/25/2026"],
            "",
            "a.csv, line 3, column 'Sent': '03/25/2026' can only be read one way, and '25/03/2026' in line 2",
        ),
        (["01/03/2026", "25/03/2026"], "month first", "a.csv, line 3, column 'Sent': '25/03/2026' can only be day first, and project.toml"),
    ],
)
def test_columns_that_do_not_decide_are_refused(texts, order, message):
    """With the line, and the setting to write where one helps."""
    with pytest.raises(ProjectError) as caught:
        column(texts, order)
    assert str(caught.value).startswith(message)
    remedies = {
        "may be": 'write dates = "day first" or dates = "month first" into [intake.bugs]',
        "project.toml": 'write dates = "day first"',
    }
    assert all(remedy in str(caught.value) for word, remedy in remedies.items() if word in message)


def test_what_the_author_says_counts():
    """Unclear alone, clear with the setting."""
    assert moments("01/03/2026", order="day first") == ["2026-03-01"]
    assert moments("01/03/2026", order="month first") == ["2026-01-03"]


def test_what_is_not_a_date_is_counted():
    """With the first line."""
    made = column(["2026-03-01", "soon", "", "later"])
    assert (made.unread, made.first_unread) == (2, (3, "soon"))


@given(st.lists(st.datetimes(datetime.datetime(2001, 1, 1), datetime.datetime(2068, 12, 31)), min_size=1, max_size=30), st.randoms())
def test_what_strftime_writes_is_read(times, chance: random.Random):
    """Any column that datetime formats in one style comes back to the minute, once it has a day above 12 or the author says the order."""
    style, order = chance.choice(
        [
            ("%d/%m/%Y %H:%M", "day first"), ("%m/%d/%Y %I:%M %p", "month first"), ("%d.%m.%y, %H.%M", "day first"), ("%Y-%m-%dT%H:%M", ""),
            ("%d-%m-%Y %H:%M", "day first"), ("%m/%d/%y %H:%M", "month first"), ("%d %b %Y %H:%M", ""), ("%B %d, %Y %H:%M", ""),
        ]
    )  # fmt: skip
    texts = [time.strftime(style) for time in times]
    wanted = [time.strftime("%Y-%m-%dT%H:%M") for time in times]
    assert moments(*texts, order=order) == wanted
    try:
        found = moments(*texts)
    except ProjectError:
        assert all(time.day <= 12 for time in times)
        assert order
    else:
        # The order of lines may mislead only where no day is above 12.
        assert found == wanted or order and all(time.day <= 12 for time in times)


def test_moments_agree_as_far_as_the_coarser_goes():
    """Seconds that a spreadsheet drops do not make another moment."""
    assert same_moment("2026-03-01T10:12:33", "2026-03-01T10:12")
    assert same_moment("2026-03-01", "2026-03-01T10:12")
    assert not same_moment("2026-03-01T10:12:33", "2026-03-01T10:12:34")
    assert not same_moment("", "")
    assert set(ORDERS) == {"day first", "month first"}
