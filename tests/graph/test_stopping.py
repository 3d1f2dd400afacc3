"""A stop that a library takes for an error of its own is a stop all the same.

Common practice, no source: libraries have bare ``except:`` clauses, which also catch what Ctrl-C raises.
"""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.conftest import some
from tests.graph.builds import ROOT

DRIVER = """
import os, signal, sys, time, types
from pipeline.graph import stopping
stopping.install()
from pipeline.graph.perform import perform

def ended(number):
    os.kill(os.getpid(), number)
    time.sleep(5)

def another_error():
    try:
        ended(NUMBER)
    except:
        raise ValueError("cannot escape b'/Helv'")

def an_authors_mistake():
    from pipeline.plain.errors import refuse
    try:
        ended(NUMBER)
    except:
        raise refuse("a.png", "", "is damaged", "save it again") from None

def nothing_said():
    try:
        ended(NUMBER)
    except:
        return "1 file"

sys.modules["steps"] = module = types.ModuleType("steps")
module.step = WHAT
print(perform("steps:step", {}))
"""


@pytest.mark.parametrize("number", some(["INT", "TERM", "HUP"], 1))
@pytest.mark.parametrize("what", ["another_error", "an_authors_mistake", "nothing_said"])
def test_stop_that_a_library_catches_ends_the_build(what, number):
    """No failed step, no result that is recorded, no traceback: the line that says a build was stopped."""
    code = DRIVER.replace("NUMBER", f"signal.SIG{number}").replace("WHAT", what)
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert (done.stdout, done.stderr.strip()) == ("", "Stopped. Build again to go on; finished steps are kept.")
    assert done.returncode != 0
