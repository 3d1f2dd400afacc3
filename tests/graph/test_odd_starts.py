"""Words, paths, streams and surroundings nobody means to give: an answer in words, the right exit status, and the same bytes.

Most cases are run by one process that has the tool loaded and forks for each. Exit statuses are those of doit's documentation:
0 good, 1 a step failed, 2 the run could not go on, 3 refused before any step. Streams are those of POSIX.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from pipeline.graph.freshness.unchanged import RECORD
from tests.conftest import LONG, only_long, some
from tests.graph.builds import ROOT, build, make_project

COMMAND = [sys.executable, "-m", "pipeline"]
# Reads cases from standard input, each a list of words; prints what became of each.
DRIVER = """
import json, os, sys, tempfile
sys.argv = ["romwright"]
import pipeline.__main__ as front

def one(words):
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        child = os.fork()
        if child == 0:
            os.dup2(out.fileno(), 1), os.dup2(err.fileno(), 2)
            sys.argv[1:] = [os.fsdecode(bytes.fromhex(word)) for word in words]
            try:
                sys.exit(front.main())
            except SystemExit as end:
                sys.stdout.flush(), sys.stderr.flush()
                os._exit(end.code if isinstance(end.code, int) else 1)
            except BaseException:
                import traceback
                traceback.print_exc()
                os._exit(99)
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        texts = []
        for file in (out, err):
            file.seek(0)
            texts.append(file.read().decode("utf-8", "replace"))
        return [status, *texts]

json.dump([one(words) for words in json.load(sys.stdin)], sys.__stdout__)
"""


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    """A small project that has been built up to its image."""
    folder = make_project(tmp_path_factory.mktemp("odd") / "project")
    build(folder, "rom")
    return folder


def cases(project):
    """Return name -> words, exit status, and what is said."""
    own = f"project={project}"
    long = "x" * 5000
    return {
        "unknown step": (["foo", own], 3, "there is no step foo"),
        "unknown word": (["projct=x"], 3, "did you mean project=?"),
        "word without a name": (["=", own], 3, "unknown word ="),
        "word of other letters": (["pro-ject=x", own], 3, "did you mean project=?"),
        "empty word": (["", own], 3, "one of the words is empty"),
        "unknown option": (["--frob", own], 3, "option --frob not recognized"),
        "option after its step": (["rom", own, "-n", "2"], 0, "Nothing to do"),
        "command after its step": (["rom", own, "list"], 3, "list is a command and not a step"),
        "misspelt step": (["budgt", own], 3, "did you mean budget?"),
        "misspelt step to list": (["list", "kitt", own], 3, "did you mean kit?"),
        "misspelt step to describe": (["info", "rmo", own], 3, "did you mean rom?"),
        "misspelt step to clean": (["clean", "rmo", own], 3, "did you mean rom?"),
        "misspelt command": (["lits", own], 3, "did you mean list?"),
        "misspelt asset": (["sprite:twoo", own], 3, "did you mean sprite:two?"),
        "step after an option it has not": (["rom", "--frob", own], 3, "option --frob not recognized"),
        "workers of no number": (["-n", "x", own], 3, "num_process"),
        "workers below none": (["-n", "-1", "rom", own], 0, "Nothing to do"),
        "a dash": (["-", own], 3, "there is no step -"),
        "records elsewhere": (["--db-file", "/nowhere/x", own], 3, "--db-file cannot be used here"),
        "records of another kind": (["--back=json", own], 3, "--back cannot be used here"),
        "another reporter": (["-r", "json", own], 3, "-r cannot be used here"),
        "a look into the records": (["dumpdb", own], 3, "there is no step dumpdb"),
        "escape sequence": (["\x1b[31mfoo\u202e", own], 3, "\\x1b[31mfoo\\u202e"),
        "long step": ([long * 10, own], 3, "characters left out"),
        "project of nothing": (["project="], 3, "names no folder"),
        "project that is a file": ([f"{own}/project.toml"], 3, "is a file, and not the folder of a project"),
        "project that is not there": (["project=/nowhere"], 3, "there is no /nowhere/project.toml"),
        "root as a project": (["project=/"], 3, "there is no /project.toml"),
        "somebody unknown": (["project=~nobody-of-that-name/x"], 3, "there is no ~nobody-of-that-name/x/project.toml"),
        "long project": ([f"project=/tmp/{long}"], 3, "too long"),
        "project with a newline": (["project=a\nb"], 3, "there is no a\\nb/project.toml"),
        "project that is not UTF-8": (["project=\udcff"], 3, "there is no \\udcff/project.toml"),
        "start in a file": (["start", f"{own}/project.toml"], 3, "is a file"),
        "start nowhere": (["start"], 3, "start needs a folder"),
        "start again": (["start", own], 3, "is already in"),
        "start again from art": (["start", own, "from=art"], 3, "to add the art to it: bring from=art"),
        "target without art": (["start", "project=none", "target=pebble8"], 3, "none is named"),
        "bring from nowhere": (["bring", own, "from=no/such/folder"], 1, "does not exist"),
        "bring without a folder": (["bring", own], 1, "write: bring from=FOLDER"),
        "since a version that never was": (["changes", "since=foo", own], 3, "no version 'foo' was released"),
        "since much": (["changes", f"since={long}", own], 3, "characters left out"),
        "name of nothing": (["where", "name=a\nb\x1b", own], 1, "there is no asset 'a\\nb\\x1b'"),
        "name that is not UTF-8": (["where", "name=\udcff", own], 1, "there is no asset '\\udcff'"),
        "scaling nothing": (["fit", "of=,,", own], 1, "there is no '' to scale"),
        "export that is not there": (["intake", "csv=nothere.csv", own], 1, "[intake]"),
        "export with a long name": (["intake", f"csv={long}", own], 1, "[intake]"),
        "form of no name": (["intake", "form=zzz", own], 1, "there is no form 'zzz'"),
        "erasing nobody": (["erase", "tester=", own], 1, "nobody is named"),
        "erasing somebody unknown": (["erase", "tester=a\nb", own], 1, "nothing of 'a\\nb'"),
        "list": (["list", own], 0, "verify"),
        "help": (["--help"], 0, "romwright [STEP ...]"),
    }


def test_odd_words_are_answered_in_words(project):
    """Each ends with its status, says what is wrong, and shows neither a traceback nor what would change a terminal."""
    table = cases(project)
    given = json.dumps([[os.fsencode(word).hex() for word in words] for words, _, _ in table.values()])
    ran = subprocess.run([sys.executable, "-c", DRIVER], input=given, cwd=ROOT, capture_output=True, text=True, check=True, timeout=300)
    wrong = []
    for (name, (_, status, said)), (ended, out, err) in zip(table.items(), json.loads(ran.stdout), strict=True):
        printed = out + err
        readable = "Traceback" not in printed and "\x1b" not in printed and "\u202e" not in printed and len(printed) < 8000
        if ended != status or said not in printed or not readable:
            wrong.append((name, ended, printed[-600:]))
    assert wrong == []


def shell(project, line: str, *door: str) -> tuple[int, str]:
    """Run a line of a shell, in which $R is the tool, with the project; return the status and standard error."""
    door = door or tuple(COMMAND)
    env = {key: value for key, value in os.environ.items() if key != "PYTHONUNBUFFERED"}
    line = line.replace("$R", " ".join(door)).replace("$P", f"project={project}")
    ran = subprocess.run(["bash", "-c", line], cwd=ROOT, env=env, stderr=subprocess.PIPE, text=True, timeout=120)
    assert "Traceback" not in ran.stderr
    assert "Exception ignored" not in ran.stderr
    return ran.returncode, ran.stderr


STREAMS = {
    "closed output": ("$R rom $P >&-", 0, ""),
    "all closed": ("$R rom $P <&- >&- 2>&-", 0, ""),
    "answer to a closed output": ("$R list $P >&-", 0, ""),
    "full output": ("$R rom $P > /dev/full", 3, "the output cannot be written: No space left on device"),
    "list on a full output": ("$R list $P > /dev/full", 3, "the output cannot be written: No space left on device"),
    "all full": ("$R rom $P > /dev/full 2>&1", 3, ""),
    "a pipe nobody reads": ("$R list $P | true; exit ${PIPESTATUS[0]}", 0, ""),
    "refusal nobody reads": ("$R project=/nowhere 2>/dev/full", 3, ""),
}


DOORS = {"command": COMMAND, "doit": [sys.executable, "-m", "doit"]}
WAYS = [f"{name}-{door}" for rank, name in enumerate(STREAMS) for door in (DOORS if LONG else [list(DOORS)[rank % 2]])]


@pytest.mark.parametrize("way", some(WAYS, 3))
def test_streams_may_be_closed_full_or_cut_off(project, way):
    """By either door, which take turns; what cannot be written is said on standard error, and what nobody reads is not an error."""
    name, _, opened = way.rpartition("-")
    (line, status, said), door = STREAMS[name], DOORS[opened]
    ended, printed = shell(project, line, *door)
    assert (ended, said in printed) == (status, True)


def test_full_output_ends_a_build_with_workers(project):
    """Workers are ended too; what was finished is kept. The status is 2, as steps have run before the output was lost."""
    (project / "level.bin").write_bytes(os.urandom(100))
    ended, printed = shell(project, "$R -n 2 rom $P > /dev/full")
    assert (ended, "the output cannot be written" in printed) == (2, True)
    assert shell(project, "$R rom $P > /dev/null") == (0, "")


STOPPED = {
    "while all is looked at": (["rom"], "pipeline.graph.freshness.unchanged:Watch.answer"),
    "while the project is read": (["rom"], "pipeline.project.loading.load:load_project"),
    "while the plan is made": (["rom"], "pipeline.graph.plan:plan_project"),
    "while the tool is read": (["rom"], "pipeline.graph.freshness.compare:Freshness.__init__"),
    "in a question": (["where"], "pipeline.questions.where:show_where"),
    "in intake": (["intake"], "pipeline.intake.take_in:take_in"),
    "in erase": (["erase", "tester=1"], "pipeline.intake.forgetting.erase:erase"),
}
STOPPER = """
import importlib, os, signal, sys
module, _, name = sys.argv.pop(1).partition(":")
sys.argv[0] = "romwright"
import pipeline.__main__ as front
*owner, name = name.split(".")
place = importlib.import_module(module)
for part in owner:
    place = getattr(place, part)
def stop(*words, **named):
    os.kill(os.getpid(), signal.SIGINT)
    raise AssertionError("the signal did not stop it")
for known in [place, *(one for one in sys.modules.values() if getattr(one, "__name__", "").startswith("pipeline"))]:
    if getattr(known, name, None) is getattr(place, name) and known is not place:
        setattr(known, name, stop)
setattr(place, name, stop)
sys.exit(front.main())
"""


@pytest.mark.parametrize(("words", "place"), some(STOPPED.values(), 2), ids=some(STOPPED, 2))
def test_being_stopped_by_hand_is_said_in_a_line(project, words, place):
    """Wherever the signal comes: one line, and the end by SIGINT that a shell shows as 130."""
    (project / "build/.state" / RECORD).unlink(missing_ok=True)  # with it, the rest is not read
    ran = subprocess.run(
        [sys.executable, "-c", STOPPER, place, *words, f"project={project}"], cwd=ROOT, capture_output=True, text=True, timeout=120
    )
    assert ran.returncode == -signal.SIGINT
    assert ran.stderr.strip() == "Stopped. Build again to go on; finished steps are kept."


def test_workers_stopped_by_hand_end(project):
    """A step that never ends, with two workers: nobody waits for anybody."""
    (project / "slow.py").write_text("import pathlib, time\npathlib.Path('running').write_text('x')\ntime.sleep(60)\n")
    text = (project / "project.toml").read_text()
    slow = text.replace('file = "main.bin"', f'command = ["{sys.executable}", "slow.py", "{{output}}"]')
    (project / "project.toml").write_text(slow)
    try:
        started = subprocess.Popen(
            [*COMMAND, "-n", "2", "rom", "commands=yes", f"project={project}"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(1500):
            if (project / "running").exists() or started.poll() is not None:
                break
            time.sleep(0.02)
        started.send_signal(signal.SIGINT)
        _, printed = started.communicate(timeout=30)
    finally:
        (project / "project.toml").write_text(text)
    assert started.returncode == -signal.SIGINT
    assert printed.strip() == "Stopped. Build again to go on; finished steps are kept."


def test_path_too_long_for_the_records_is_refused(tmp_path):
    """SQLite opens no file with a path beyond 504 bytes, measured; a folder as deep as that fits is built in."""
    length = len(os.fsencode(str(tmp_path)))
    for most, status in ((504, 0), (505, 3), (1500, 3), (3900, 3)):
        folder = tmp_path / str(most)
        rest = most - len("/build/.state/steps.sqlite3") - length - 1 - len(str(most))
        while rest > 120:
            folder /= "d" * 99
            rest -= 100
        folder /= "e" * (rest - 1)
        folder.mkdir(parents=True)
        ran = subprocess.run([*COMMAND, "start", f"project={folder}"], cwd=ROOT, capture_output=True, text=True, timeout=60)
        assert "Traceback" not in ran.stderr
        assert (ran.returncode, "too long" in ran.stderr) == (status, status == 3), most


def test_name_of_a_source_that_is_not_utf8_is_refused(tmp_path):
    """Such a name cannot be in a file between steps; names with newlines, and as long as a name may be, can."""
    project = make_project(tmp_path / "project")
    (project / "art/one/f0.png").rename(project / "art/one/f0\n.png")
    (project / "art/one/f1.png").rename(project / f"art/one/{'f' * 251}.png")
    (project / "art/one/f2.png").rename(project / "art/one/f -rf.png")
    assert shell(project, "$R rom $P > /dev/null") == (0, "")
    odd = os.fsencode(project / "art/one/f3") + b"\xff.png"
    os.rename(project / "art/one/f3.png", odd)
    ended, printed = shell(project, "$R rom $P")
    assert ended == 3
    assert "[sprite.one] frames: the name 'art/one/f3\\udcff.png' is not UTF-8\n    rename the file" in printed


def test_surroundings_change_no_byte(tmp_path):
    """No locale, home, terminal or folder for temporary files; another time zone, mask and hash seed; docstrings left out."""
    only_long()
    words = ["rom", "include", "schema", "notes", "report"]
    bare = {"PATH": os.environ["PATH"], "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "LC_ALL": "C", "COLUMNS": "1", "PYTHONHASHSEED": "7"}
    bare |= {"TMPDIR": "/nowhere", "TZ": "Pacific/Kiritimati", "PYTHONDONTWRITEBYTECODE": "1"}
    made = []
    for name, flags, env in (("plain", [], dict(os.environ)), ("bare", ["-OO"], bare)):
        project = make_project(tmp_path / name / "project")
        ran = subprocess.run(
            [sys.executable, *flags, "-m", "pipeline", *words, f"project={project}"],
            cwd=ROOT, env=env, capture_output=True, timeout=180, umask=0o077 if flags else -1,
        )  # fmt: skip
        assert ran.returncode == 0, ran.stderr
        files = [path for path in sorted((project / "build").rglob("*")) if path.is_file() and ".state" not in path.parts]
        made.append({path.relative_to(project).as_posix(): path.read_bytes() for path in files})
    assert made[0].keys() == made[1].keys()
    assert [name for name in made[0] if made[0][name] != made[1][name]] == []
    assert "build/schema/project.schema.json" in made[0]
