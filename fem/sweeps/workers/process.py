"""A local worker: a process that computes tasks one after the other."""

from __future__ import annotations

import gc
import os
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from multiprocessing.connection import Connection


def serve(calls: Connection, parent: int, work: str) -> None:
    """Answer tasks with their rows, or a text that says what went wrong, until there are no more.

    It ends with the parent, whatever it is doing.

    Parameters
    ----------
    calls
        Where tasks come from and rows go.
    parent
        Its process number.
    work
        Function that makes rows of a task, as "module:name".
    """
    gc.set_threshold(200_000)  # rows come by the thousand and stay: as in `fem.cli`
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()
    from importlib import import_module

    module, _, name = work.partition(":")
    compute = getattr(import_module(module), name)
    with ThreadPoolExecutor(1) as here:  # holds whatever goes wrong
        while True:
            try:
                future = here.submit(compute, calls.recv())
                fault = future.exception()
                calls.send(future.result() if fault is None else f"{type(fault).__name__}: {fault}")
            except (EOFError, OSError):  # the parent has closed, or is gone
                return


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)
