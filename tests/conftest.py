"""Knows: what all tests share: Hypothesis without a clock, the same cases on every run in CI."""

from __future__ import annotations

import atexit
import os
import signal
import sys

from hypothesis import HealthCheck, settings

APART = "LAMPWRIGHT_APART"
GROUPS = ("shell/test_ports.py", "shell/test_jack_life.py", "shell/song", "shell/sound", "commands")
"""Tests that start and kill sound servers under clients of this very process: libjack may take the process
with it, so `test_apart.py` runs each group in one of its own. To run one by hand, set LAMPWRIGHT_APART=1."""

collect_ignore = [] if os.environ.get(APART) else list(GROUPS)

# A test run that a shell has put into the background ignores Ctrl-C, one under nohup a closed terminal, and
# so would every show it starts.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
    signal.signal(signal.SIGHUP, signal.SIG_DFL)

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("house"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "house")


def pytest_unconfigure() -> None:
    """PortAudio aborts the process at its end where a sound server has gone: leave it alone then."""
    sound = sys.modules.get("sounddevice")
    if sound is not None:
        atexit.unregister(sound._exit_handler)
