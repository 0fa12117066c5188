"""What holds for every kind of output in the registry."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.shell.outputs import OUTPUTS, OutputWorker
from bridge.values.errors import DeviceError

from .bench import BENCHES, NO_PTY, Bench, black, eventually, picture

pytestmark = pytest.mark.skipif(NO_PTY, reason="needs pseudo-terminals")


@pytest.fixture(params=OUTPUTS)
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Bench]:
    """One kind after the other; a new kind needs a bench of its own."""
    made = BENCHES[request.param](tmp_path)
    yield made
    made.close()


@pytest.fixture
def worker(bench: Bench) -> Iterator[OutputWorker]:
    """A worker for it."""
    made = OutputWorker(bench.output, bench.spec)
    yield made
    made.close(hold=True)


def test_every_kind_has_a_bench() -> None:
    """No kind of output goes untested."""
    assert set(BENCHES) == set(OUTPUTS)


def test_a_frame_arrives_as_it_is(bench: Bench, worker: OutputWorker) -> None:
    """The slots that arrive are those of the frame, and the output is up without a word."""
    worker.post(picture(200))
    assert bench.take() == picture(200).universe(1)
    assert eventually(lambda: worker.state().sent == 1)
    state = worker.state()
    assert (state.state, state.note, state.failed) == ("up", "", 0)


def test_an_open_output_without_frames_is_up_and_sends_nothing(worker: OutputWorker) -> None:
    """Before the first frame there is nothing to send."""
    assert eventually(lambda: worker.state().state == "up")
    assert worker.state().sent == 0


def test_it_comes_back_with_its_device_and_its_picture(bench: Bench, worker: OutputWorker) -> None:
    """A failing device is marked down with a reason and is opened again; lamps regain their levels."""
    worker.post(picture(10))
    assert bench.take() == picture(10).universe(1)
    bench.fail()
    worker.post(picture(20))
    assert eventually(lambda: worker.state().state == "down")
    assert worker.state().note
    assert worker.state().failed
    bench.heal()
    assert bench.take_until(picture(20).universe(1))
    assert eventually(lambda: worker.state().state == "up")
    assert worker.state().note == ""


@pytest.mark.parametrize("hold", [False, True])
def test_the_last_thing_seen_is_what_was_asked(bench: Bench, hold: bool) -> None:
    """A clean end leaves black, or with hold the last picture, within a second; then the thread is gone."""
    before = set(threading.enumerate())
    worker = OutputWorker(bench.output, bench.spec)
    assert set(threading.enumerate()) - before
    worker.post(picture(99))
    assert bench.take() == picture(99).universe(1)
    began = time.monotonic()
    assert worker.close(hold)
    assert time.monotonic() - began < 1.0
    assert not set(threading.enumerate()) - before
    assert worker.state().note == "ended"
    assert bench.take() == (picture(99).universe(1) if hold else black())
    rest = [] if bench.spec.kind == "memory" else [bench.take(), bench.take()]
    assert all(slots == (picture(99).universe(1) if hold else black()) for slots in rest)


@pytest.mark.parametrize("bench", sorted(set(OUTPUTS) - {"memory"}), indirect=True)
def test_sending_while_closed_is_a_device_error(bench: Bench) -> None:
    """What is not open says so, and nothing else is raised; memory needs no opening."""
    with pytest.raises(DeviceError, match="closed"):
        bench.output.send(picture(1))


def test_closing_twice_or_unopened_is_harmless(bench: Bench) -> None:
    """close(None) may come at any time, and open again after it."""
    bench.output.close(None)
    bench.output.open()
    bench.output.close(None)
    bench.output.close(None)
    bench.output.open()
    bench.output.send(picture(3))
    bench.output.close(None)
    assert bench.take() == picture(3).universe(1)


@pytest.mark.parametrize("bench", ["memory", "serial"], indirect=True)
def test_a_worker_stops_at_once_while_its_device_is_gone(bench: Bench) -> None:
    """Waiting to open again is cut short by the end."""
    bench.fail()
    worker = OutputWorker(bench.output, bench.spec)
    assert eventually(lambda: worker.state().failed >= 2)
    began = time.monotonic()
    assert worker.close(hold=False)
    assert time.monotonic() - began < 0.25
    bench.heal()
