"""The records of ``[intake]``: which column of a form's export holds what, and what of it is kept."""

from __future__ import annotations

import unicodedata
from typing import Annotated, Literal

from msgspec import Meta, field

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.written import Record, about

PERSONAL = ("contact",)  # kept only when asked for
# Fields of a packet's report page, in the order in which they are kept: those of a bug form, the version, and how often it was counted.
FROM_PAGE = (
    "what", "build", "version", "time", "tester", "where", "known", "expected", "steps", "severity", "often", "counted", "pad", "console",
    "cartridge", "screen",
)  # fmt: skip
_TAKEN = ("id", "at", "former", "page")  # what a kept report has apart from fields


# One heading, or several that a form had or has in another language.
_Heading = str | Annotated[list[Annotated[str, Meta(min_length=1)]], Meta(min_length=1)]
_Needed = Annotated[str, Meta(min_length=1)] | Annotated[list[Annotated[str, Meta(min_length=1)]], Meta(min_length=1)]


_ROW = "What identifies an answer in the form's table, such as a number; it finds an answer that was edited."
_Dates = Annotated[
    Literal["day first", "month first"] | None,
    about("How the export writes 03/04/2026; left out: what the column of times itself shows.", examples=["day first"]),
]


class BugColumns(Record):
    """Columns of a bug form's export, by their headings; case and spaces at the ends do not count.

    Several headings for one column are a list: what a form calls it now, did before, or does in another language.
    """

    what: Annotated[_Needed, about("What happened.", examples=["What happened", ["What happened?", "Was ist passiert?"]])]
    build: Annotated[_Heading, about("The build code, as the tester typed it.")] = ""
    expected: Annotated[_Heading, about("What the tester expected instead.")] = ""
    steps: Annotated[_Heading, about("What to do to see it again.")] = ""
    severity: Annotated[_Heading, about("How bad it is.")] = ""
    often: Annotated[_Heading, about("How often it happens.")] = ""
    known: Annotated[_Heading, about("Which known issue it is, by its number.")] = ""
    where: Annotated[_Heading, about("Where in the game.")] = ""
    console: Annotated[_Heading, about("Which console.")] = ""
    cartridge: Annotated[_Heading, about("Which cartridge.")] = ""
    screen: Annotated[_Heading, about("Which television or monitor.")] = ""
    pad: Annotated[_Heading, about("Which pad.")] = ""
    picture: Annotated[_Heading, about("Links to pictures; shown as links, never loaded.")] = ""
    time: Annotated[_Heading, about("When it was sent, as the form writes it.")] = ""
    row: Annotated[_Heading, about(_ROW)] = ""
    tester: Annotated[_Heading, about("Who sent it: a name, a number, an address.")] = ""
    contact: Annotated[_Heading, about("How to reach them. Left out of what is kept, unless keep names it.")] = ""


class FeedbackColumns(Record):
    """Columns of a feedback form's export apart from the questions, by their headings."""

    build: Annotated[_Heading, about("The build code, as the tester typed it.")] = ""
    time: Annotated[_Heading, about("When it was sent, as the form writes it.")] = ""
    row: Annotated[_Heading, about(_ROW)] = ""
    tester: Annotated[_Heading, about("Who sent it.")] = ""
    contact: Annotated[_Heading, about("How to reach them. Left out of what is kept, unless keep names it.")] = ""


_KEEP = "Fields that are kept, by their keys in columns; left out: all but contact. What is not kept is never written anywhere."


class BugForm(Record):
    """The form for bugs."""

    columns: BugColumns
    keep: Annotated[list[str] | None, about(_KEEP, examples=[["build", "what", "severity"]])] = None
    dates: _Dates = None
    severities: Annotated[
        dict[str, Literal["critical", "major", "minor", "cosmetic"]],
        about("What the form's own words mean.", examples=[{"It stops": "critical"}]),
    ] = field(default_factory=dict)
    frequencies: Annotated[
        list[str], about("The form's own words for how often, most often first.", examples=[["Always", "Sometimes", "Once"]])
    ] = field(default_factory=list)
    names: Annotated[
        dict[str, list[str]],
        about(
            "Name = what else testers call it; reports that say either are compared as one.", examples=[{"Tove": ["the girl with the hat"]}]
        ),
    ] = field(default_factory=dict)


class FeedbackForm(Record):
    """The form for feedback."""

    questions: Annotated[
        dict[str, _Needed], about("Question = heading of its column, or a list of them.", examples=[{"fun": "How much fun was it?"}])
    ]
    columns: Annotated[FeedbackColumns, about("The other columns.")] = field(default_factory=FeedbackColumns)
    keep: Annotated[list[str] | None, about(_KEEP + " Questions are named by their keys.", examples=[["build", "fun"]])] = None
    dates: _Dates = None
    answers: Annotated[
        dict[str, list[str]], about("Question = its answers in order; left out: numbers in order, other answers by how many gave them.")
    ] = field(default_factory=dict)


class Intake(Record):
    """How reports come back: the forms whose exports ``doit intake csv=FILE`` reads."""

    bugs: BugForm | None = None
    feedback: FeedbackForm | None = None


def named_columns(form: BugForm | FeedbackForm) -> dict[str, tuple[str, ...]]:
    """Return field -> headings for every column a form names, the questions of a feedback form among them."""
    columns = {key: getattr(form.columns, key) for key in form.columns.__struct_fields__}
    columns |= form.questions if isinstance(form, FeedbackForm) else {}
    return {key: (said,) if isinstance(said, str) else tuple(said) for key, said in columns.items() if said}


def needed_fields(form: BugForm | FeedbackForm) -> tuple[str, ...]:
    """Return the fields of which an export must have one: what happened; any question, or without questions any column."""
    if isinstance(form, BugForm):
        return ("what",)
    return tuple(form.questions) or tuple(named_columns(form))


def kept_fields(form: BugForm | FeedbackForm) -> tuple[str, ...]:
    """Return the fields of a form that are kept, in the order of the record."""
    return tuple(key for key in named_columns(form) if (key not in PERSONAL if form.keep is None else key in form.keep))


def kept_of_page(form: BugForm | None) -> tuple[str, ...]:
    """Return the fields of a packet's report page that are kept: all, or what the bug form keeps."""
    return FROM_PAGE if form is None or form.keep is None else tuple(key for key in FROM_PAGE if key in form.keep)


def check_intake(document: Document, intake: Intake) -> None:
    """Note fields to keep that the form does not have, headings named twice, and questions named like a column."""
    for name, form in (("bugs", intake.bugs), ("feedback", intake.feedback)):
        if form is not None:
            _check_form(document, ("intake", name), form)


def _check_form(document: Document, path: tuple, form: BugForm | FeedbackForm) -> None:
    columns = named_columns(form)
    for rank, key in enumerate(form.keep or ()):
        if key not in columns:
            near = nearest_name(key, columns)
            remedy = f"did you mean {near}?" if near else f"the form has {', '.join(columns)}"
            document.say((*path, "keep", rank), f"{key!r} is not a field of this form", remedy)
    if isinstance(form, BugForm) and form.keep is not None and "what" not in form.keep:
        document.say((*path, "keep"), "what is not kept, so nothing could be compared", "add what to keep")
    seen: dict[str, str] = {}
    for key, heading in ((key, heading) for key, headings in columns.items() for heading in headings):
        plain = same_heading(heading)
        if plain in seen:
            wrong = f"{seen[plain]} and {key} name the same column, {heading!r}", "give each its own column"
            twice = f"{key} has the heading {heading!r} twice", "write it once"
            document.say((*path, "columns"), *(twice if seen[plain] == key else wrong))
        seen.setdefault(plain, key)
    if isinstance(form, FeedbackForm):
        for key in form.questions:
            if key in form.columns.__struct_fields__:
                document.say((*path, "questions", key), f"{key} is the name of a column", "name the question otherwise")
            if key in _TAKEN:
                document.say((*path, "questions", key), f"{key} is a name that kept reports use", "name the question otherwise")
        for key in form.answers:
            if key not in form.questions:
                document.say((*path, "answers", key), f"there is no question {key!r}", f"the questions are {', '.join(form.questions)}")


def same_heading(heading: str) -> str:
    """Return a heading as it is compared: compatibility forms and case folded (Unicode), runs of white space as one space."""
    return " ".join(unicodedata.normalize("NFKC", heading).casefold().split())
