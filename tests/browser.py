"""A page in Chromium, driven over a pair of pipes with its documented protocol (Chrome DevTools Protocol, --remote-debugging-pipe)."""

from __future__ import annotations

import base64
import itertools
import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

# The browser takes commands from descriptor 3 and answers on 4.
_PLACE_PIPES = """
import fcntl, os, sys
high = [fcntl.fcntl(int(word), fcntl.F_DUPFD, 10) for word in sys.argv[1:3]]
for number, one in zip((3, 4), high):
    os.dup2(one, number)
os.execvp(sys.argv[3], sys.argv[3:])
"""
_LONGEST = 30.0  # seconds until something is true


class Browser:
    """A window without a screen.

    Args:
        program: the browser's path.
        profile: an empty folder that it may fill.
    """

    def __init__(self, program: str, profile: Path, url: str, size: tuple[int, int] = (1200, 900)) -> None:
        taken, self._asks = os.pipe()
        answers, given = os.pipe()
        command = [program, "--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe", f"--user-data-dir={profile}"]
        command += [f"--window-size={size[0]},{size[1]}", "about:blank"]
        self._process = subprocess.Popen(
            [sys.executable, "-c", _PLACE_PIPES, str(taken), str(given), *command], pass_fds=(taken, given),
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(taken)
        os.close(given)
        self._answers = os.fdopen(answers, "rb")
        self._numbers, self._session = itertools.count(1), ""
        target = self.ask("Target.createTarget", url=url)["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]

    def ask(self, method: str, **given: Any) -> dict:
        """Send a command and return its result."""
        number = next(self._numbers)
        message = {"id": number, "method": method, "params": given} | ({"sessionId": self._session} if self._session else {})
        os.write(self._asks, json.dumps(message).encode() + b"\0")
        while True:
            text = bytearray()
            while (byte := self._answers.read(1)) not in (b"\0", b""):
                text += byte
            answer = json.loads(text)
            if answer.get("id") == number:
                assert "error" not in answer, answer
                return answer["result"]

    def value(self, script: str) -> Any:
        """Return what a script gives in the page."""
        found = self.ask("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def until(self, script: str) -> None:
        """Wait until a script gives something true."""
        ends = time.monotonic() + _LONGEST
        while not self.value(script):
            assert time.monotonic() < ends, script
            time.sleep(0.05)

    def picture(self, file: Path) -> None:
        """Save what the window shows as PNG."""
        file.write_bytes(base64.b64decode(self.ask("Page.captureScreenshot")["data"]))

    def close(self) -> None:
        """End it."""
        self._process.terminate()
        self._process.wait(10)
        os.close(self._asks)
        self._answers.close()
