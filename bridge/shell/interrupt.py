"""Knows: how a command that is told to end unwinds: Ctrl-C, an ended session and `kill` alike.

Must never know: what the command does, or what it has to put away.

A show has its own way to end (`app.Show`), which is in force while it runs. Everything else ends by a
`KeyboardInterrupt`, so that files half written are put away. Not so while a module is being imported: there
it would come out as another error, or leave the module half made (Python 3.11 makes a RuntimeError of it).
"""

from __future__ import annotations

import _thread
import os
import signal
import threading
import time
from types import CodeType, FrameType

ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
CODE = 130

AGAIN = 0.02
"""Seconds after which a signal that came in the middle of an import comes again."""

IMPATIENT = 2.0
"""Seconds after an interrupt in which another changes nothing: what is being put away has to be finished."""

IMPORTING = "<frozen importlib._bootstrap"


def leave_at_once() -> None:
    """From now on an ending signal ends this process, since nothing has begun; what is ignored stays so."""
    _put(lambda _number, _frame: os._exit(CODE))


def unwind(work: CodeType) -> None:
    """From now on an ending signal is a `KeyboardInterrupt` within `work`, and an end at once outside."""
    asked = [float("-inf")]

    def end(number: int, frame: FrameType | None) -> None:
        inside, importing = _where(frame, work)
        if not inside:
            os._exit(CODE)
        if importing:
            again = threading.Timer(AGAIN, _once_more, (signal.Signals(number),))
            again.daemon = True
            again.start()
            return
        before, asked[0] = asked[0], time.monotonic()
        if asked[0] - before > IMPATIENT:
            raise KeyboardInterrupt

    _put(end)


def _once_more(number: signal.Signals) -> None:
    """Send the main thread a signal again: a real one where there is a way, since it also ends a wait."""
    main = threading.main_thread().ident
    if hasattr(signal, "pthread_kill") and main is not None:
        signal.pthread_kill(main, number)
    else:
        _thread.interrupt_main(number)


def _put(handler: signal._HANDLER) -> None:
    for name in ENDINGS:
        number = getattr(signal, name, None)
        # A program put into the background by a script is told to ignore Ctrl-C, one under nohup to stay.
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, handler)


def _where(frame: FrameType | None, work: CodeType) -> tuple[bool, bool]:
    """Whether the work is going on, and whether it is just importing something."""
    importing = False
    while frame is not None:
        if frame.f_code is work:
            return True, importing
        importing |= frame.f_code.co_filename.startswith(IMPORTING)
        frame = frame.f_back
    return False, importing
