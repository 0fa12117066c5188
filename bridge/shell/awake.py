"""Knows: how each system is asked not to sleep while a show is on, and whether the machine runs on battery.

Must never know: what is played.

Linux asks systemd's inhibitor, macOS its own command for staying awake, Windows its power interface; all
three are from memory of their documentation, and only the first can be tried here. Where a system has none
of them, nothing is asked and the player is told.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

CONTINUOUS, SYSTEM, DISPLAY = 0x80000000, 0x1, 0x2
BATTERIES = Path("/sys/class/power_supply")


def command(platform: str = sys.platform, pid: int | None = None) -> Sequence[str]:
    """The program that keeps this system awake for as long as it runs; empty where there is none."""
    if platform.startswith("linux"):
        return (
            "systemd-inhibit",
            "--what=sleep:idle:handle-lid-switch",
            "--who=Lampwright",
            "--why=a show is on",
            "--mode=block",
            "cat",
        )
    if platform == "darwin":
        return ("caffeinate", "-dims", "-w", str(os.getpid() if pid is None else pid))
    return ()


class Awake:
    """Asks at its birth, and takes it back with `close`.

    Args:
        asked: the program to run; that of this system unless given.

    Attributes:
        note: why the machine may sleep all the same; empty where it was asked not to.
    """

    def __init__(self, asked: Sequence[str] | None = None) -> None:
        self.note = ""
        self._process: subprocess.Popen[bytes] | None = None
        if asked is None and sys.platform == "win32":
            _windows(CONTINUOUS | SYSTEM | DISPLAY)
            return
        words = command() if asked is None else asked
        if not words or shutil.which(words[0]) is None:
            self.note = "this machine was not asked to stay awake; switch its sleep off yourself"
            return
        try:
            # It ends when its input does, so that it cannot outlive us, whatever becomes of us.
            self._process = subprocess.Popen(
                words, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
        except OSError as error:
            self.note = (
                f"this machine was not asked to stay awake ({error.strerror}); switch its sleep off yourself"
            )

    @property
    def holding(self) -> bool:
        """True while the system has been asked and has not refused."""
        return self._process is not None and self._process.poll() is None

    def close(self) -> None:
        """Let the machine sleep again; safe to call twice."""
        if sys.platform == "win32":
            _windows(CONTINUOUS)
        process, self._process = self._process, None
        if process is None:
            return
        with contextlib.suppress(OSError):
            if process.stdin is not None:
                process.stdin.close()
        try:
            process.wait(1.0)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _windows(state: int) -> None:
    if sys.platform == "win32":
        import ctypes

        ctypes.windll.kernel32.SetThreadExecutionState(state)


def on_battery(folder: Path | None = None) -> bool:
    """True where the system says that a battery is being used up; False where it is not, or nothing is known.

    What macOS and Windows answer is from memory of their documentation, and untested.
    """
    if sys.platform == "win32":
        import ctypes

        status = (ctypes.c_ubyte * 12)()  # SYSTEM_POWER_STATUS; its first byte is ACLineStatus, 0 for off
        return bool(ctypes.windll.kernel32.GetSystemPowerStatus(status)) and status[0] == 0
    if sys.platform == "darwin":
        try:
            told = subprocess.run(["pmset", "-g", "batt"], capture_output=True, timeout=2.0, check=False)
        except (OSError, subprocess.SubprocessError):
            return False
        return b"'Battery Power'" in told.stdout
    folder = BATTERIES if folder is None else folder
    for entry in sorted(folder.glob("*/status")) if folder.is_dir() else ():
        try:
            kind = (entry.parent / "type").read_text(encoding="ascii").strip()
            if kind == "Battery" and entry.read_text(encoding="ascii").strip() == "Discharging":
                return True
        except (OSError, UnicodeDecodeError):
            continue
    return False
