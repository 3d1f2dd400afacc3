"""Doing what ``pipeline/guide/walk.md`` says, as a reader would: its command blocks, one after the other, in a clone of its own."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pypdf

from tests.graph.builds import ROOT

GUIDE = (ROOT / "pipeline/guide/walk.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(sh|text)\n(.*?)^```", re.MULTILINE | re.DOTALL)
_KEPT = ("ledger.json", "reports/*.json", "build/triage.*", "build/report.html", "build/packet.pdf", "build/work/NOTES.txt")


class Walk:
    """A clone with the demo in it, in which the page's commands are run; what was seen on the way.

    Attributes:
        said: what each command block printed. files: after each block, file -> bytes of what a person looks at.
        twice: files after the first exports were read again. settled: after the second release, before new reports.
        removed: the same, with an issue fixed in the release taken out of issues.toml. named: files that hold a tester's name, then.
        kit: the second one. pictures: of the ledger, by name.
        labels: the bug of every report.
    """

    def __init__(self, folder: Path) -> None:
        self.folder, self.game = folder, folder / "my_game"
        self.said: list[str] = []
        self.files: list[dict[str, bytes]] = []
        self.twice: dict[str, bytes] = {}
        self.settled: dict[str, bytes] = {}
        self.removed: dict[str, bytes] = {}
        self.named: list[str] = []
        self.labels: list[str] = []
        shutil.copy(ROOT / "dodo.py", folder)
        shutil.copytree(ROOT / "demo_project", folder / "demo_project", ignore=shutil.ignore_patterns("build", "reports"))

    def run(self, commands: str) -> str:
        """Run a block as a shell does that ends at the first failure; return what it printed."""
        commands = commands.replace(".venv/bin/python", f"'{sys.executable}'")
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
        done = subprocess.run(
            ["bash", "-ec", commands], cwd=self.folder, env=environment, capture_output=True, encoding="utf-8", timeout=180
        )
        assert done.returncode == 0, commands + done.stdout + done.stderr
        return done.stdout

    def doit(self, *words: str) -> str:
        """Run a command on the copy that the page does not have."""
        return self.run(f".venv/bin/python -m doit {' '.join(words)} project=my_game")

    def kept(self) -> dict[str, bytes]:
        """Return file -> bytes of what a person looks at."""
        return {path.relative_to(self.game).as_posix(): path.read_bytes() for name in _KEPT for path in self.game.glob(name)}


def labels(walk: Walk) -> list[str]:
    """Return the bug of every report of both builds, as the script that wrote them knows it."""
    code = "import json, reports; print(json.dumps([one.bug for one in reports.bug_reports(*reports.released())]))"
    done = subprocess.run([sys.executable, "-c", code], cwd=walk.game / "make", capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def files_with_names(walk: Walk) -> list[str]:
    """Return the files of the copy that hold the name or address of any tester; the kit unpacked, the packet as text.

    The scripts that invent them are not looked at.
    """
    unpacked = walk.folder / "unpacked"
    for path in (walk.game / "build/kit").glob("*.zip"):
        zipfile.ZipFile(path).extractall(unpacked)
    pages = pypdf.PdfReader(walk.game / "build/packet.pdf").pages
    (unpacked / "packet.txt").write_text("\n".join(page.extract_text() for page in pages), encoding="utf-8")
    with open(walk.game / "reports/exports/bugs.csv", encoding="utf-8", newline="") as file:
        names = {row["Your name"] for row in csv.DictReader(file)} - {""}
    assert len(names) > 50
    (walk.folder / "names").write_text("\n".join(names) + "\n@example.org\n", encoding="utf-8")
    command = ["grep", "-rlaF", "-f", "names", "--exclude-dir=make", "my_game", "unpacked"]
    found = subprocess.run(command, cwd=walk.folder, capture_output=True, text=True)
    shutil.rmtree(unpacked)
    return sorted(found.stdout.split())


def take_walk(folder: Path) -> Walk:
    """Do the whole page in a folder, with a few looks in between that it does not have."""
    walk = Walk(folder)
    for kind, block in BLOCK.findall(GUIDE):
        if kind != "sh":
            continue
        if block == "rm -r my_game\n":
            walk.labels = labels(walk)
        walk.said.append(walk.run(block))
        walk.files.append(walk.kept())
        if "reports.py" in block and not walk.twice:
            for name in ("bugs.csv", "feedback.txt"):
                walk.doit("intake", f"csv=my_game/reports/exports/{name}")
            walk.twice = walk.kept()
        if "doit release" in block and len(walk.said) > 1:
            walk.doit("intake")
            walk.settled = walk.kept()
            issues = walk.game / "issues.toml"
            text = issues.read_text(encoding="utf-8")
            issues.write_text("".join(part for part in re.split(r"(?=\[\[issue\]\])", text) if '"HR-004"' not in part), encoding="utf-8")
            walk.doit("intake")
            walk.removed = walk.kept()
            issues.write_text(text, encoding="utf-8")
            walk.named = files_with_names(walk)
            (kit,) = (walk.game / "build/kit").glob("*.zip")
            walk.kit = kit.read_bytes()
            walk.pictures = {path.stem: path.read_bytes() for path in (walk.game / "ledger").iterdir()}
    return walk
