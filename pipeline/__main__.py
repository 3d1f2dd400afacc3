"""The ``romwright`` command, and ``python -m pipeline``: the same tasks as ``doit`` in a clone, from any folder."""

from __future__ import annotations

import sys

from doit.cmd_base import TaskLoader2
from doit.doit_cmd import DoitMain
from doit.loader import generate_tasks

from pipeline.graph.front import load_plan, settings, tasks


class ProjectLoader(TaskLoader2):
    """Hands doit the tasks of the project named on the command line."""

    def setup(self, opt_values) -> None:
        self.plan = load_plan()

    def load_doit_config(self) -> dict:
        return settings(self.plan)

    def load_tasks(self, cmd, pos_args) -> list:
        return generate_tasks("build", tasks(self.plan))


def main() -> int:
    """Run the command line and return its exit status: 0 only when all is well."""
    # Settings files of the current folder belong to whatever is developed there, not to us.
    return DoitMain(ProjectLoader(), config_filenames=()).run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
