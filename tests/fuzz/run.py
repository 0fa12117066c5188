"""Knows: how a harness is run for a while: `python -m tests.fuzz.run TARGET SECONDS [FOLDER]`.

Must never know: what any harness does.

With atheris (not among our dependencies: `pip install atheris`) inputs are led by the lines they reach;
without it they are the seeds, changed at random. Each input has two seconds of processor time and 512 MB. An
escape does not end the run: the first input of each place that raised is kept in FOLDER, and all are named at
the end.
"""

from __future__ import annotations

import hashlib
import os
import random
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

MOST_SECONDS = 2.0
MOST_GROWTH = 512 * 1024
"""Kilobytes by which the highest use of memory may rise over one input."""


def peak() -> int:
    """Kilobytes of memory this process has had at most; 0 where the system does not say (Windows)."""
    try:
        import resource
    except ImportError:
        return 0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most // 1024 if sys.platform == "darwin" else most


class Judge:
    """Runs inputs and keeps those that fail.

    Args:
        name, run: the harness. folder: where failing inputs are kept. seconds: how long it goes on.
    """

    def __init__(self, name: str, run: Callable[[bytes], None], folder: Path, seconds: float) -> None:
        self._name, self._run, self._folder = name, run, folder
        self._ends = time.monotonic() + seconds
        self.found: dict[str, int] = {}
        self.runs = 0
        self.slowest = 0.0

    def __call__(self, data: bytes) -> None:
        """One input."""
        self.runs += 1
        before, begun = peak(), time.process_time()
        try:
            self._run(data)
        except Exception as error:
            self._keep(_place_of(error), data, traceback.format_exc())
        took = time.process_time() - begun
        grown = peak() - before
        self.slowest = max(self.slowest, took)
        if took > MOST_SECONDS:
            self._keep("slow", data, f"{took:.1f} s")
        if grown > MOST_GROWTH:
            self._keep("large", data, f"{grown // 1024} MB more")

    @property
    def over(self) -> bool:
        """True when its time is up."""
        return time.monotonic() >= self._ends

    def report(self) -> int:
        """Say what was found; the exit code."""
        print(f"{self._name}: {self.runs} runs, slowest {self.slowest:.2f} s, {peak() // 1024} MB at most")
        for place, count in sorted(self.found.items()):
            print(f"  {place}: {count} times")
        sys.stdout.flush()
        return 1 if self.found else 0

    def _keep(self, place: str, data: bytes, story: str) -> None:
        seen = self.found.get(place, 0)
        self.found[place] = seen + 1
        if seen:
            return
        stem = self._folder / f"escape-{hashlib.sha256(place.encode()).hexdigest()[:10]}"
        stem.with_suffix(".input").write_bytes(data)
        stem.with_suffix(".txt").write_text(f"{place}\n{story}", encoding="utf-8", errors="replace")
        print(f"ESCAPE {place} -> {stem.name}\n{story}", file=sys.stderr, flush=True)


def _place_of(error: BaseException) -> str:
    """What was raised and the innermost line of ours that led there."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if f"{os.sep}bridge{os.sep}" in frame.filename] or list(frames)
    return f"{type(error).__name__} {Path(ours[-1].filename).name}:{ours[-1].lineno}"


def _led(name: str, seconds: int, folder: Path, atheris: Any) -> None:
    with atheris.instrument_imports(include=["bridge"]):
        from tests.fuzz.inputs import reworded
        from tests.fuzz.targets import TARGETS, seeds_of, words
    target, seeds, listed = TARGETS[name], seeds_of(name), words()
    judge = Judge(name, target.run, folder, seconds)
    corpus = folder / "corpus"
    corpus.mkdir(exist_ok=True)
    for seed in seeds:
        (corpus / hashlib.sha256(seed).hexdigest()[:16]).write_bytes(seed)

    def one(data: bytes) -> None:
        judge(data)
        if judge.over:
            # libFuzzer would end the process without a word of ours.
            os._exit(judge.report())

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        if target.text and seed % 4:
            return reworded(data, random.Random(seed), listed, seeds)[:most]
        return bytes(atheris.Mutate(data, len(data) or 1)[:most])

    flags = [f"-max_len={target.longest}", "-timeout=30", "-rss_limit_mb=2048", "-len_control=0"]
    atheris.Setup(
        [sys.argv[0], *flags, f"-artifact_prefix={folder}/", str(corpus)], one, custom_mutator=mutate
    )
    atheris.Fuzz()


def _at_random(name: str, seconds: int, folder: Path) -> int:
    from tests.fuzz.inputs import changed, reworded
    from tests.fuzz.targets import TARGETS, seeds_of, words

    target, seeds, listed = TARGETS[name], seeds_of(name), words()
    judge, chance = Judge(name, target.run, folder, seconds), random.Random()
    while not judge.over:
        data = chance.choice(seeds)
        if target.text and chance.random() < 0.7:
            judge(reworded(data, chance, listed, seeds)[: target.longest])
        else:
            judge(changed(data, chance, target.longest))
    return judge.report()


def main() -> int:
    """Run a target for some seconds."""
    name, seconds = sys.argv[1], int(sys.argv[2])
    folder = Path(sys.argv[3] if len(sys.argv) > 3 else tempfile.mkdtemp(prefix=f"fuzz-{name}-"))
    folder.mkdir(parents=True, exist_ok=True)
    # What a harness leaves lying when the process is ended goes there too.
    tempfile.tempdir = str(folder)
    warnings.simplefilter("error", RuntimeWarning)
    print(f"escapes and corpus go to {folder}", flush=True)
    try:
        import atheris
    except ImportError:
        return _at_random(name, seconds, folder)
    _led(name, seconds, folder, atheris)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
