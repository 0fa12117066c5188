"""A power cut, at the seam of system calls: what the disk had not been made to keep may be gone or there."""

from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.shell.takes.reader import Take
from tests.shell.takes.child import HZ, events, frame
from tests.shell.takes.test_survival import ROOT

CALL = re.compile(r"^\d+ +(\w+)\((.*)\) += (-?\d+)")
CUTS = 120

Write = tuple[str, int, bytes]
"""File, offset, bytes."""


def bytes_in(text: str) -> bytes:
    """The bytes of strace's own spelling, all in hexadecimal."""
    return bytes(int(pair, 16) for pair in re.findall(r"\\x([0-9a-f]{2})", text))


def calls(folder: Path, count: int) -> list[tuple[str, object]]:
    """What a recording asked of the system, in order: write, sync, unlink, and what it then held safe."""
    log = folder / "calls"
    subprocess.run(
        [
            *("strace", "-f", "-xx", "-s", "200000", "-o", str(log)),
            *("-e", "trace=openat,close,pwrite64,write,fdatasync,fsync,ftruncate,unlink"),
            *(sys.executable, "-m", "tests.shell.takes.child", "commit", str(folder), str(count)),
        ],
        cwd=ROOT,
        check=True,
        capture_output=True,
        timeout=60,
    )
    out: list[tuple[str, object]] = []
    names: dict[str, str] = {}
    for line in log.read_text().splitlines():
        found = CALL.match(line)
        if not found:
            continue
        name, arguments, result = found.groups()
        fd = arguments.split(",")[0]
        if name == "openat":
            path = Path(os.fsdecode(bytes_in(arguments)))
            names[result] = path.name if path.parent == folder and path.name.startswith("cut") else ""
        elif name == "close":
            names.pop(fd, None)
        elif name == "write" and fd == "1":
            out.append(("safe", int(bytes_in(arguments).split()[1])))
        elif name == "unlink" and Path(os.fsdecode(bytes_in(arguments))).name.startswith("cut"):
            out.append(("unlink", Path(os.fsdecode(bytes_in(arguments))).name))
        elif names.get(fd) and name == "pwrite64":
            out.append(("write", (names[fd], int(arguments.rsplit(",", 1)[1]), bytes_in(arguments))))
        elif names.get(fd) and name == "ftruncate":
            out.append(("write", (names[fd], int(arguments.split(",")[1]), b"")))
        elif names.get(fd) and name in ("fsync", "fdatasync"):
            out.append(("sync", names[fd]))
    return out


def after(done: list[tuple[str, object]], chance: random.Random, folder: Path) -> int:
    """Lay out the files as a power cut after these calls may leave them; the frames safe by then."""
    disk: dict[str, bytearray] = {}
    waiting: list[Write] = []
    safe = 0

    def put(name: str, at: int, data: bytes) -> None:
        file = disk.setdefault(name, bytearray())
        if not data:
            del file[at:]
            return
        file.extend(bytes(max(0, at + len(data) - len(file))))
        file[at : at + len(data)] = data

    for what, detail in done:
        if what == "write":
            waiting.append(detail)  # type: ignore[arg-type]
        elif what == "sync":
            for write in waiting:
                if write[0] == detail:
                    put(*write)
            waiting = [write for write in waiting if write[0] != detail]
        elif what == "unlink":
            disk.pop(str(detail), None)
            waiting = [write for write in waiting if write[0] != detail]
        else:
            safe = int(detail)  # type: ignore[call-overload]
    for write in waiting:
        if chance.random() < 0.5:
            put(*write)
    for name, data in disk.items():
        (folder / name).write_bytes(data)
    return safe


@pytest.mark.skipif(
    shutil.which("strace") is None, reason="strace, which shows system calls, is not installed"
)
def test_a_power_cut_costs_no_commit(tmp_path: Path) -> None:
    """Cut between any two system calls, with any of what was not yet synced lost, each commit is whole."""
    recorded = tmp_path / "recorded"
    recorded.mkdir()
    log = calls(recorded, 60)
    begun = next(n for n, (what, _) in enumerate(log) if what == "safe")
    assert sum(what == "sync" for what, _ in log) > 3 * 12
    chance = random.Random(5)
    kept = []
    for cut in chance.choices(range(begun + 1, len(log) + 1), k=CUTS):
        folder = tmp_path / "after"
        folder.mkdir()
        safe = after(log[:cut], chance, folder)
        with Take(folder / "cut.take") as take:
            found = list(take.frames())
            assert [k for k, *_ in found] == list(range(len(found)))
            assert all((j, t, shown) == (0, k / HZ, frame(k)) for k, j, t, shown in found)
            assert [e for _, _, e in take.events()] == [e for k in range(len(found)) for e in events(k)]
            assert take.gaps == ()
            assert safe <= len(found) <= safe + 5
        kept.append(len(found))
        shutil.rmtree(folder)
    assert len(set(kept)) > 8
