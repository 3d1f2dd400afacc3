"""The front door: ``doit`` reads this file. The graph itself is made in ``pipeline.graph``."""

from pipeline.graph.front import load_plan, settings, tasks

_plan = load_plan()
DOIT_CONFIG = settings(_plan)


def task_build():
    """Every step of the project."""
    yield from tasks(_plan)
