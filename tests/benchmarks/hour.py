"""One real hour: `lampwright play --record` at 40 Hz; is memory flat, the take sound, the rate without drift?

The whole program plays the demo's song again and again (one MIDI file as long as the run, written here), its
house and stage page included, and sends sACN to 127.0.0.40. This process listens; the kernel stamps each
packet. Twice a minute it reads the memory and the processor time of the show and all its children: PSS, where
a page that n processes share counts as one n-th, and what is anonymous (made by the process, of no file),
whose growth is judged, since PSS moves with every other Python that starts on the machine. At the end
`take info` reads the take, and our reader checks every row of it.

Drift: how much later, against 1/40 s times its number, a packet leaves at the end than at the beginning; of
each end the least late tenth of ten seconds' packets, so that late ones are not taken for drift. Both by the
one clock of this machine: it says that no error adds up, not that the machine's quartz is right.

`python -m tests.benchmarks.hour [SECONDS]`, an hour unless given; writes hour.txt beside this file, which
`run_all` quotes. Costs some hundredths of a core itself. Linux only. Not part of the test run.
"""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import mido
import numpy as np

from bridge.shell.takes.reader import Take
from tests.benchmarks.show import LAMPWRIGHT, SONG, boathouse, descendants, free_port, goal, machine, table
from tests.benchmarks.wire_ear import Heard, WireEar

HOST, HZ = "127.0.0.40", 40.0
EVERY = 30.0
SETTLED = 300.0
"""Seconds after which memory must be flat; a tenth of a run shorter than fifty minutes."""
FLAT_MB_AN_HOUR = 1.0
DRIFT_MS = 1.0
TICK = os.sysconf("SC_CLK_TCK") if hasattr(os, "sysconf") else 100


@dataclass(frozen=True, slots=True)
class Sample:
    """One moment, seconds after the beginning: by process PSS and anonymous in kB; processor seconds used."""

    at: float
    pss: dict[str, int]
    own: dict[str, int]
    used: dict[str, float]


def long_song(path: Path, seconds: float) -> None:
    """The demo's song again and again for so long."""
    song = mido.MidiFile(SONG)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)])
    heard = [(message.time, message) for message in song if not message.is_meta]
    ticks_a_second, now, written, whole = 2 * 480, 0.0, 0, max(song.length + 1.0, 5.0)
    begin = 0.0
    while begin < seconds:
        now = begin
        for delta, message in heard:
            now += delta
            at = round(now * ticks_a_second)
            track.append(message.copy(time=at - written))
            written = at
        begin += whole
    out = mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track])
    out.save(path)


def sample(pid: int, begin: float) -> Sample:
    """What the show and its children hold and have used."""
    pss, own, used = {}, {}, {}
    helpers = 0
    for child, line in [(pid, "show"), *descendants(pid)]:
        name = "show" if child == pid else "house" if "spawn_main" in line else "helper"
        if name == "helper":
            helpers += 1
            name = f"helper {helpers}"
        with contextlib.suppress(OSError, StopIteration):
            rollup = Path(f"/proc/{child}/smaps_rollup").read_text("ascii").splitlines()
            pss[name] = int(next(row for row in rollup if row.startswith("Pss:")).split()[1])
            own[name] = int(next(row for row in rollup if row.startswith("Anonymous:")).split()[1])
            fields = Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()
            used[name] = (int(fields[11]) + int(fields[12])) / TICK
    return Sample(time.perf_counter() - begin, pss, own, used)


def drift_ms(heard: Heard) -> float:
    """Milliseconds by which packets are later at the end than at the beginning."""
    # A packet that was left out would shift all after it: number them by the time they belong to, counted
    # from the mean moment within a period, since any single one, the first above all, may be late.
    at = np.array(heard.at) - heard.at[0]
    mean = float(np.angle(np.exp(2j * np.pi * at * HZ).mean())) / (2 * np.pi * HZ)
    late = (at - mean - np.round((at - mean) * HZ) / HZ) * 1e3
    some = min(len(late) // 2, int(10 * HZ))
    # The tenth that is least late: one that is late by half a period would count as early.
    return float(np.quantile(late[-some:], 0.1) - np.quantile(late[:some], 0.1))


def growth(samples: list[Sample], name: str) -> float:
    """Anonymous MB an hour, the line of least squares through the samples."""
    points = [(one.at, one.own[name]) for one in samples if name in one.own]
    if len(points) < 3:
        return 0.0
    x, y = np.array(points).T
    return float(np.polyfit(x / 3600, y / 1024, 1)[0])


def run(seconds: float, folder: Path) -> tuple[Heard, list[Sample], str, int]:
    """Play; what was heard, the samples, what the show said at its end and its exit code."""
    boathouse(folder)
    long_song(folder / "long.mid", seconds)
    options = ["play", "--midi-file", "long.mid", "--record", "hour.take", "--out", f"sacn:{HOST}/1"]
    options += ["--page-port", str(free_port()), "--seconds", str(seconds)]
    samples: list[Sample] = []
    with WireEar(HOST) as ear:
        show = subprocess.Popen(
            [*LAMPWRIGHT, *options],
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        try:
            begin = time.perf_counter()
            ear.first(1, 60.0)
            due = begin + min(5.0, seconds / 4)
            while show.poll() is None and time.perf_counter() < begin + seconds + 30:
                time.sleep(0.2)
                if time.perf_counter() >= due:
                    samples.append(sample(show.pid, begin))
                    due += min(EVERY, seconds / 20)
        finally:
            if show.poll() is None:
                show.terminate()
            said = show.communicate(timeout=60)[0]
    heard = ear.heard[1]
    # The last picture goes out three times at once.
    return (
        heard.cut(0.0, heard.at[-1] - 2 / HZ),
        [one for one in samples if "show" in one.pss],
        said,
        show.returncode,
    )


def main(seconds: float) -> None:
    """Run, print and write."""
    conditions = machine()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        heard, samples, said, code = run(seconds, folder)
        info = subprocess.run(
            [*LAMPWRIGHT, "take", "info", "hour.take"],
            cwd=folder,
            capture_output=True,
            text=True,
            check=False,
        )
        size = (folder / "hour.take").stat().st_size
        with Take.open(folder / "hour.take") as take:
            gaps, complete = take.check(), take.complete
            frames = sum(1 for _ in take.frames())
    settled = [one for one in samples if one.at >= min(SETTLED, seconds / 10)] or samples
    rows = []
    for process in samples[-1].pss:
        mine = [one.own[process] / 1024 for one in settled if process in one.own]
        pss = f"{samples[-1].pss[process] / 1024:.1f}"
        whole = samples[-1].used[process] - samples[0].used.get(process, 0.0)
        share = 100 * whole / max(1e-9, samples[-1].at - samples[0].at)
        least, most = min(mine), max(mine)
        rows.append(
            (
                process,
                pss,
                f"{mine[0]:.1f}",
                f"{mine[-1]:.1f}",
                f"{least:.1f}",
                f"{most:.1f}",
                f"{growth(settled, process):+.2f}",
                f"{share:.1f}",
            )
        )
    errors = heard.errors_ms(HZ)
    drift = drift_ms(heard)
    p50, p99 = np.quantile(errors, [0.5, 0.99])
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        head = ("process", "PSS MB", "own: first", "last", "least", "most", "MB an hour", "% of a core")
        notes = (
            f"{len(heard.at)} packets, {heard.missed()} missed; interval error p50 {p50:.2f}, p99 {p99:.2f}, "
            f"max {errors.max():.2f} ms; drift {drift:+.3f} ms, {heard.ppm(HZ):+.3f} ppm",
            f"the show ended with {code}; take: {size / 1e6:.1f} MB, {frames} frames, "
            f"{len(gaps)} gaps, {'complete' if complete else 'NOT complete'}",
            *said.strip().splitlines()[-4:],
            "take info:",
            *("  " + line for line in info.stdout.strip().splitlines()),
            conditions,
        )
        table(f"One real run of {seconds:g} s at {HZ:g} Hz, recorded, page served", head, rows, notes)
        grew = max(growth(settled, process) for process in samples[-1].pss)
        sound = complete and not gaps and info.returncode == 0 and code == 0
        long = f"{seconds / 3600:g} h" if seconds >= 3600 else f"{seconds:g} s"
        goal(
            f"{long} real at 40 Hz: memory",
            f"flat: under {FLAT_MB_AN_HOUR:g} MB an hour",
            f"{grew:+.2f} MB an hour",
            "",
            grew < FLAT_MB_AN_HOUR,
        )
        goal(
            f"{long} real at 40 Hz: take",
            "sound, no gap",
            f"{frames} frames, {len(gaps)} gaps",
            "",
            sound,
        )
        goal(
            f"{long} real at 40 Hz: drift",
            f"none: under {DRIFT_MS:g} ms",
            f"{drift:+.3f} ms, {heard.missed()} missed",
            "",
            abs(drift) < DRIFT_MS and heard.missed() == 0,
        )
    print(out.getvalue(), end="")
    Path(__file__).with_name("hour.txt").write_text(out.getvalue(), encoding="utf-8")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 3600.0)
