"""A real ``watch`` of a project, and what a browser would see of it."""

from __future__ import annotations

import http.client
import json
import os
import queue
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

ROOT = Path(__file__).parent.parent
_LONGEST = 60  # seconds for anything at all


class Watched:
    """``watch`` in a process of its own; its events are read as an open page reads them.

    Attributes:
        lines: what it has printed so far.
        events: the states that the page was given so far.
        counted: how many lines a test has looked at.
    """

    def __init__(self, project: Path, *words: str, door: tuple[str, ...] = ("-m", "pipeline")) -> None:
        self.lines: list[str] = []
        self.counted = 0
        self.events: list[dict] = []
        self._heard: queue.SimpleQueue[dict] = queue.SimpleQueue()
        self._printed: queue.SimpleQueue[str] = queue.SimpleQueue()
        command = [sys.executable, *door, "watch", f"project={project}", *words]
        self.process = subprocess.Popen(
            command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            start_new_session=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        threading.Thread(target=self._read_lines, daemon=True).start()
        address = re.search(r"http://127\.0\.0\.1:(\d+)/ ", self.until_printed("Report  "))
        assert address, self.lines
        self.port = int(address[1])
        threading.Thread(target=self._read_events, daemon=True).start()

    def _read_lines(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.lines.append(line)
            self._printed.put(line)

    def _read_events(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=_LONGEST)
        connection.request("GET", "/events")
        for line in connection.getresponse():
            if line.startswith(b"data: "):
                self._heard.put(json.loads(line[6:]))

    def until_printed(self, text: str) -> str:
        """Return the next line in which a text is."""
        while True:
            line = self._printed.get(timeout=_LONGEST)
            if text in line:
                return line

    def until(self, **wanted: str) -> dict:
        """Return the next state that has these values."""
        while True:
            event = self._heard.get(timeout=_LONGEST)
            self.events.append(event)
            if all(event[name] == value for name, value in wanted.items()):
                return event

    def nothing_for(self, seconds: float) -> bool:
        """Return whether the state stays as it is for so long."""
        try:
            self.events.append(self._heard.get(timeout=seconds))
        except queue.Empty:
            return True
        return False

    def until_another(self, report: str) -> dict:
        """Return the next state with another report."""
        while True:
            event = self._heard.get(timeout=_LONGEST)
            self.events.append(event)
            if event["report"] not in ("", report):
                return event

    def get(self, path: str = "/", **headers: str) -> tuple[int, str, http.client.HTTPResponse]:
        """Return status, text and the answer itself."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=_LONGEST)
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.read().decode(), answer

    def end(self, number: int = signal.SIGINT) -> int:
        """Ask it to end, all its processes as a terminal does it, and return its exit status."""
        os.killpg(self.process.pid, number)
        return self.process.wait(_LONGEST)
