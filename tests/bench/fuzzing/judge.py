"""Whether a refusal is one an author can read: a file, a remedy, a sensible length, nothing that moves the cursor or the text."""

from __future__ import annotations

import unicodedata

from pipeline.plain.errors import Problem, ProjectError

MOST_OF_ONE = 2_000  # characters of one problem
MOST_OF_ALL = 100_000  # of all of a file
_BIDI = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_LINE_ENDS = set("\u2028\u2029")


def faults_of(error: BaseException) -> list[str]:
    """Return what is wrong with a refusal, each in a few words that are the same for the same mistake."""
    faults = text_faults(str(error))
    for problem in error.problems if isinstance(error, ProjectError) else ():
        faults += _problem_faults(problem)
    if len(str(error)) > MOST_OF_ALL:
        faults.append(f"the message is over {MOST_OF_ALL:,} characters")
    return list(dict.fromkeys(faults))


def _problem_faults(problem: Problem) -> list[str]:
    faults = []
    if not problem.file.strip():
        faults.append("the message names no file")
    if not problem.wrong.strip():
        faults.append("the message does not say what is wrong")
    if len(problem.remedy.strip()) < 3:
        faults.append("the message has no remedy")
    if ": " not in str(problem).partition("\n")[0]:
        faults.append("the message breaks the line in a file's name or place")
    if len(str(problem)) > MOST_OF_ONE:
        faults.append(f"one problem is reported in over {MOST_OF_ONE:,} characters")
    return faults


def text_faults(text: str) -> list[str]:
    """Return what a terminal or an editor would act on instead of showing it."""
    faults = []
    if any(unicodedata.category(char) == "Cc" and char not in "\n\t" for char in text):
        faults.append("the message has control characters")
    if _BIDI & set(text):
        faults.append("the message has characters that turn the direction of writing")
    if _LINE_ENDS & set(text):
        faults.append("the message has Unicode line ends")
    if any(unicodedata.category(char) == "Cs" for char in text):
        faults.append("the message has half a character (a surrogate)")
    return faults
