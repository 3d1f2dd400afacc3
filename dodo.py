"""The front door: ``doit`` reads this file. The graph itself is made in ``pipeline.graph``."""

import sys

from pipeline.graph import stopping

stopping.install()  # first: a build can be stopped while the rest is loaded

from pipeline.graph.streams import steady_streams  # noqa: E402

steady_streams()

if "watch" in sys.argv[1:]:
    from pipeline.graph.words import asks_to_watch

    if asks_to_watch(sys.argv[1:]):
        from pipeline.watching.watch import watch_project

        raise SystemExit(watch_project(sys.argv[1:]))

from pipeline.graph.freshness.unchanged import Watch  # noqa: E402

_watch = Watch(sys.argv[1:])
_answer = _watch.answer()
if _answer is not None:
    print(_answer)
    raise SystemExit

from pipeline.graph.front import load_plan, settings, tasks  # noqa: E402
from pipeline.graph.words import start_in_order  # noqa: E402

start_in_order(__file__)

_plan = load_plan()
DOIT_CONFIG = settings(_plan, _watch)


def task_build():
    """Every step of the project."""
    yield from tasks(_plan)
