"""Stopping by hand: Ctrl-C, and a request to end, stop a build in one line of words; imported before all else, to be there early."""

from __future__ import annotations

import atexit
import signal
import sys

_REQUESTS = ("SIGTERM", "SIGHUP")  # by another program, by a terminal that was closed
SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", *_REQUESTS))
_asked = False


def install() -> None:
    """Treat a request to end as Ctrl-C, where it would end the process anyway, and say either in a line."""
    sys.excepthook = _say_stopped
    atexit.register(_ignore)  # a build that is done cannot be stopped any more
    for name in ("SIGINT", *_REQUESTS):
        if signal.getsignal(getattr(signal, name)) in (signal.SIG_DFL, signal.default_int_handler):
            signal.signal(getattr(signal, name), _stop)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, SIGNALS)  # which a process that started this one in its place had blocked


def refuse_to_go_on() -> None:
    """Stop where a stop was asked for and did not get here: a library that catches everything took it for an error of its own.

    Raises:
        KeyboardInterrupt: it was.
    """
    if _asked:
        raise KeyboardInterrupt


def ignore_in_worker() -> None:
    """Leave Ctrl-C to the parent, which ends its workers; a request to end ends a worker at once."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in _REQUESTS:
        signal.signal(getattr(signal, name), signal.SIG_DFL)


def end_workers() -> None:
    """End this process's workers at once: one that waits for work would be waited for."""
    if "multiprocessing" in sys.modules:
        for worker in sys.modules["multiprocessing"].active_children():
            worker.kill()


def _ignore() -> None:
    for name in ("SIGINT", *_REQUESTS):
        signal.signal(getattr(signal, name), signal.SIG_IGN)


def _stop(number, frame) -> None:
    global _asked
    _asked = True
    raise KeyboardInterrupt


def _say_stopped(kind, error, trace) -> None:
    """Say in a line that the build was stopped by hand; leave every other error to Python."""
    if not issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)
        return
    _ignore()  # nothing is left to stop
    end_workers()
    if sys.stderr is not None:
        sys.stderr.write("\nStopped. Build again to go on; finished steps are kept.\n")
