"""What a person sees who stops the process by hand. Imports next to nothing, so that it is in force before the rest is read."""

import sys

_SAID = "\nStopped. Build again to go on; finished steps are kept.\n"


def say_it_in_a_line() -> None:
    """Let Ctrl-C end the process with one line and, as a shell sees it, status 130; every other error is left to Python."""
    sys.excepthook = _end


def _end(kind, error, trace) -> None:
    if issubclass(kind, KeyboardInterrupt):
        if sys.stderr is not None:
            sys.stderr.write(_SAID)
    else:
        sys.__excepthook__(kind, error, trace)
