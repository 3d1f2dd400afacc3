"""doit's own command line, run on the tasks of a project without a file for doit to read."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from doit.cmd_base import TaskLoader2
from doit.doit_cmd import DoitMain
from doit.loader import generate_tasks

from pipeline.graph.freshness.unchanged import Watch
from pipeline.graph.front import load_plan, settings, tasks
from pipeline.graph.words import COMMANDS, in_order, plain_words


class ProjectLoader(TaskLoader2):
    """Hands doit the tasks of the project named on the command line.

    Args:
        watch: taken before the plan is made.
        first: steps that are done before the others where no step is asked for by name.
    """

    def __init__(self, watch: Watch | None = None, first: Collection[str] = ()) -> None:
        super().__init__()
        self._watch, self._first = watch, first

    def setup(self, opt_values) -> None:
        self.plan = load_plan()

    def load_doit_config(self) -> dict:
        config = settings(self.plan, self._watch)
        config["default_tasks"] = sorted(config["default_tasks"], key=lambda name: name not in self._first)
        return config

    def load_tasks(self, cmd, pos_args) -> list:
        return list(generate_tasks("build", tasks(self.plan)))


class Command(DoitMain):
    """doit's way to run a command, with those commands that are of use here."""

    DOIT_CMDS = COMMANDS


def run_words(words: Sequence[str], watch: Watch | None = None, first: Collection[str] = ()) -> int:
    """Do what some words ask for; return the exit status: 0 only when all is well.

    Args:
        words: also those of ``sys.argv``, from which the project is taken.
        watch, first: see ``ProjectLoader``.
    """
    plain_words()
    # Settings files of the current folder belong to whatever is developed there, not to us.
    return Command(ProjectLoader(watch, first), config_filenames=()).run(in_order(words))
