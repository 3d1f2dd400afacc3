"""Parallel builds that end. doit's own parallel runner waits for ever when a worker is killed, and a worker waits for ever
when its parent is; here both notice.
"""

from __future__ import annotations

import multiprocessing
import os
import queue
import signal
import threading
import time
from contextlib import suppress
from multiprocessing.queues import Queue

import doit.cmd_run
from doit.exceptions import InvalidTask, UnmetDependency
from doit.runner import ERROR, MRunner, MThreadRunner, Runner

from pipeline.graph import stopping

_MOST = 64  # workers, however many are asked for
_LOOK = 1.0  # seconds between looks at the other side
_DEATH_SIGNAL = 1  # PR_SET_PDEATHSIG of Linux's prctl
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class WatchedQueue(Queue):
    """A queue whose ``get`` gives up when nobody can put anything any more.

    Attributes:
        workers: in the parent, the processes that answer through it.
    """

    def __init__(self) -> None:
        super().__init__(ctx=multiprocessing.get_context())
        self.workers: list[multiprocessing.Process] = []

    def get(self, block: bool = True, timeout: float | None = None):
        """Return the next item, waiting for it.

        Raises:
            InvalidTask: a worker died; doit ends the build with an error, keeping what was finished.
        """
        while True:
            try:
                return super().get(block, timeout if timeout is not None else _LOOK)
            except queue.Empty:
                if timeout is not None or not block:
                    raise
                self._look_around()

    def _look_around(self) -> None:
        codes = [worker.exitcode for worker in self.workers]
        lost = [code for code in codes if code not in (None, 0)]
        if lost or (codes and all(code is not None for code in codes)):
            how = f"signal {-lost[0]}" if lost and lost[0] < 0 else f"status {lost[0] if lost else 0}"
            raise InvalidTask(f"a worker process died ({how}); the build was stopped, finished steps are kept. Build again")


class PreparedRunner(Runner):
    """doit's runner, which does something with the lock taken before any step runs, and after the last.

    Attributes:
        prepare: called with the runner and its tasks by name; may raise InvalidTask to end the build.
        conclude: called with the runner after the last step, before the records are written.
    """

    prepare = staticmethod(lambda runner, tasks: None)
    conclude = staticmethod(lambda runner: None)

    def run_tasks(self, task_dispatcher):
        self.reporter.started = False  # until then there is nothing to sum up
        self.prepare(self, task_dispatcher.tasks)
        self.reporter.started = True
        super().run_tasks(task_dispatcher)

    def finish(self):
        self.conclude(self)
        return super().finish()

    def _handle_task_error(self, node, base_fail):
        if not isinstance(base_fail, UnmetDependency):
            super()._handle_task_error(node, base_fail)
            return
        # doit would forget the last good run of a step that did not even begin, and so make all again that needs a source
        # which was broken for a moment. What that run read and left is compared by content, so it can be kept.
        node.run_status, self.final_result = "failure", ERROR
        self.reporter.add_failure(node.task, base_fail)


class PreparedThreads(PreparedRunner, MThreadRunner):
    """The same with threads as workers."""


class WatchedRunner(PreparedRunner, MRunner):
    """doit's process runner on watched queues."""

    def __init__(self, *words, **options) -> None:
        super().__init__(*words, **options)
        self._queues: list[WatchedQueue] = []

    def Queue(self) -> WatchedQueue:  # noqa: N802 (doit's name)
        """Return a new queue, which doit asks for by this name."""
        self._queues.append(WatchedQueue())
        return self._queues[-1]

    def run_tasks(self, task_dispatcher):
        """Run the tasks; stopped by hand at whatever moment, wait for nobody who waits for us."""
        try:
            super().run_tasks(task_dispatcher)
        except BaseException:
            for worker in multiprocessing.active_children():
                worker.terminate()
            for one in self._queues:
                one.cancel_join_thread()  # what it has still to hand out would be taken by nobody
            raise

    def _run_start_processes(self, job_q, result_q):
        self.num_process = min(self.num_process, _MOST)
        # A signal waits until it is known which workers there are, and a worker has learnt to ignore it.
        kept = signal.pthread_sigmask(signal.SIG_BLOCK, _SIGNALS)
        try:
            workers = super()._run_start_processes(job_q, result_q)
            result_q.workers = workers
            # A build that is stopped does not wait at its end until somebody has read what its workers were to do next.
            job_q.cancel_join_thread()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, kept)
        return workers

    def execute_task_subprocess(self, job_q, result_q, reporter_class):
        # A group of its own, so that what the worker has started can be ended with it.
        os.setpgrp()
        stopping.ignore_in_worker()
        signal.pthread_sigmask(signal.SIG_UNBLOCK, _SIGNALS)
        end_at_once_with_parent()
        threading.Thread(target=_end_with_parent, args=(os.getppid(),), daemon=True).start()
        super().execute_task_subprocess(job_q, result_q, reporter_class)


def end_at_once_with_parent() -> None:
    """Ask the system to kill this process when its parent ends, where it can (Linux): a next build may begin at once."""
    # Loaded here: only parallel builds need it.
    import ctypes

    with suppress(AttributeError, OSError):
        ctypes.CDLL(None).prctl(_DEATH_SIGNAL, int(signal.SIGKILL))


def _end_with_parent(parent: int) -> None:
    """End this worker and what it has started as soon as its parent is gone: a next build must not find it still writing."""
    while os.getppid() == parent:
        time.sleep(_LOOK / 4)
    os.killpg(0, signal.SIGKILL)


def install(prepare, conclude) -> None:
    """Put these runners in the places where doit looks for its own, and fork workers where the system can.

    Forking is asked for since doit hands workers task objects that cannot be pickled.

    Args:
        prepare, conclude: see ``PreparedRunner``.
    """
    PreparedRunner.prepare, PreparedRunner.conclude = staticmethod(prepare), staticmethod(conclude)
    doit.cmd_run.Runner, doit.cmd_run.MRunner, doit.cmd_run.MThreadRunner = PreparedRunner, WatchedRunner, PreparedThreads
    if "fork" in multiprocessing.get_all_start_methods():
        multiprocessing.set_start_method("fork", force=True)
