"""Law 6 with any bytes at all: each harness over its seeds, what was kept of long runs, and two hundred more.

Long runs, led by the lines they reach: `python -m tests.fuzz.run TARGET SECONDS`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings

from tests.fuzz.inputs import any_input
from tests.fuzz.run import Judge
from tests.fuzz.targets import CORPUS, TARGETS, seeds_of, words

WORDS = words()


@pytest.mark.parametrize("name", TARGETS)
def test_seeds_end_in_values_or_the_one_named_error(name: str) -> None:
    """Law 6 for inputs that reach far, and for those that once reached something new."""
    for seed in seeds_of(name):
        TARGETS[name].run(seed)


@pytest.mark.parametrize("name", TARGETS)
def test_any_bytes_end_in_values_or_the_one_named_error(name: str) -> None:
    """Law 6 for seeds changed at random, and for any bytes."""
    target = TARGETS[name]

    @settings(max_examples=200)
    @given(any_input(seeds_of(name), target.longest, WORDS if target.text else ()))
    def runs(data: bytes) -> None:
        target.run(data)

    runs()


def test_an_escape_is_kept_once_for_each_place(tmp_path: Path) -> None:
    """Whatever a harness raises is an escape: its first input is kept, later ones are counted."""

    def run(data: bytes) -> None:
        if data.startswith(b"\xff"):
            raise LookupError("nothing of ours")

    judge = Judge("none", run, tmp_path, 60.0)
    for data in (b"", b"\xff1", b"\xff2"):
        judge(data)
    assert [path.read_bytes() for path in tmp_path.glob("*.input")] == [b"\xff1"]
    assert (judge.runs, list(judge.found.values()), judge.report()) == (3, [2], 1)


def test_the_corpus_stays_small() -> None:
    """What is kept of long runs is less than 200 kB in all, in folders named after targets."""
    kept = [path for path in CORPUS.rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in kept) < 200_000
    assert {path.parent.name for path in kept} <= set(TARGETS)
