"""What is known of the build at this moment, for every page that is open."""

from __future__ import annotations

import threading
from typing import NamedTuple

BUILDING, WAITING, FAILED, GOOD = "building", "waiting", "failed", "good"


class State(NamedTuple):
    """One moment.

    Attributes:
        serial: grows with every change.
        build: BUILDING, WAITING (for another build to end), FAILED or GOOD.
        said: why the last build that ended failed, for a person; empty where it was good.
        report: names the report on the disk: another one has another name. Empty while there is none.
    """

    serial: int
    build: str
    said: str
    report: str


class Known:
    """The present state; safe for threads."""

    def __init__(self, report: str) -> None:
        self._changed = threading.Condition()
        self._now = State(0, BUILDING, "", report)
        self._over = False

    @property
    def now(self) -> State:
        """The state at this moment."""
        return self._now

    @property
    def over(self) -> bool:
        """Whether watching has ended."""
        return self._over

    def set(self, **changes: str) -> None:
        """Change the state, and wake up whoever waits."""
        with self._changed:
            new = self._now._replace(**changes)
            if new != self._now:
                self._now = new._replace(serial=self._now.serial + 1)
                self._changed.notify_all()

    def end(self) -> None:
        """Wake up whoever waits, for the last time."""
        with self._changed:
            self._over = True
            self._changed.notify_all()

    def after(self, serial: int, seconds: float) -> State | None:
        """Return the state once it is another than ``serial``; None when that many seconds have passed, or watching has ended."""
        with self._changed:
            self._changed.wait_for(lambda: self._over or self._now.serial != serial, seconds)
            return None if self._over or self._now.serial == serial else self._now
