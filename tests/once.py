"""Making something once for all workers of a run of tests: the first that asks makes it, the others read what it left."""

from __future__ import annotations

import fcntl
import hashlib
import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from tests.warm import SHARED

Made = TypeVar("Made")


def once(name: str, make: Callable[[], Made]) -> Made:
    """Return what a function made in this worker or in another one; each gets values of its own, and shares the files.

    Args:
        name: of what is made, with all that it depends on; any text.
    """
    if SHARED not in os.environ:  # a measurement
        return make()
    place = Path(os.environ[SHARED]) / hashlib.sha256(name.encode()).hexdigest()
    with place.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if place.exists():
            return pickle.loads(place.read_bytes())
        made = make()
        place.write_bytes(pickle.dumps(made))
        return made
