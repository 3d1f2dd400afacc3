"""The ``romwright`` command, and ``python -m pipeline``: the same tasks as ``doit`` in a clone, from any folder."""

from __future__ import annotations

import sys

from pipeline.graph import stopping

stopping.install()  # first: a build can be stopped while the rest is loaded

# ruff: noqa: E402
from doit.cmd_base import TaskLoader2
from doit.doit_cmd import DoitMain
from doit.loader import generate_tasks

from pipeline.graph.front import load_plan, settings, tasks

_USAGE = """\
romwright [STEP ...] [project=PATH] [-n 2] [why=yes] [commands=yes]

  romwright start project=PATH    a new project that builds at once
  romwright project=PATH          everything, up to the kit
  romwright rom | verify | budget | proofs | packet | kit | report | schema
  romwright fit [of=NAME,NAME]    the largest scale at which everything fits
  romwright where [name=NAME]     where an asset stands in the image, and its first bytes
  romwright savings               what else would make it fit, measured
  romwright growth                image and scenes of every build so far, as a chart
  romwright why                   why each step of the last build ran
  romwright intake [csv=FILE]     what testers sent, compared and in order
  romwright forget tester=NUMBER  remove everything one tester sent
  romwright list                  all steps

In a project's own folder project= can be left out. -n 2 builds with two workers.
A project's own commands run after you have said yes; commands=yes says it for one run."""


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
    if {"-h", "--help", "help"} & set(sys.argv[1:]):
        print(_USAGE)
        return 0
    # Settings files of the current folder belong to whatever is developed there, not to us.
    return DoitMain(ProjectLoader(), config_filenames=()).run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
