"""The front door: ``doit`` reads this file. The graph itself is made in ``pipeline.graph``."""

from pipeline.stopped import say_it_in_a_line

say_it_in_a_line()

from pipeline.graph.streams import steady_streams  # noqa: E402 (reading the tool may be stopped by hand already)

steady_streams()

from pipeline.graph.front import load_plan, settings, tasks  # noqa: E402 (after closed streams have been opened)

_plan = load_plan()
DOIT_CONFIG = settings(_plan)


def task_build():
    """Every step of the project."""
    yield from tasks(_plan)
