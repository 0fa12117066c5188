"""A port in plain software."""

from __future__ import annotations

import threading

import pytest

from bridge.shell.outputs.memory import KEPT, MemoryOutput
from bridge.values.errors import DeviceError

from .bench import picture


def test_it_keeps_the_newest_up_to_its_bound() -> None:
    """Older frames make room; the count goes on."""
    output = MemoryOutput(kept=3)
    output.open()
    for value in range(5):
        output.send(picture(value))
    assert output.frames == tuple(picture(value) for value in (2, 3, 4))
    assert output.newest == picture(4)
    assert output.count == 5


def test_by_default_it_is_bounded() -> None:
    """A night of 40 Hz does not fill the machine."""
    output = MemoryOutput()
    frame = picture(1)
    for _ in range(KEPT + 5):
        output.send(frame)
    assert (len(output.frames), output.count) == (KEPT, KEPT + 5)
    assert KEPT == 10_000


def test_unplugged_it_fails_like_a_device() -> None:
    """Until it is plugged in again neither opening nor sending works."""
    output = MemoryOutput()
    assert output.newest is None
    output.unplug("pulled", "push")
    with pytest.raises(DeviceError, match="pulled; push"):
        output.open()
    with pytest.raises(DeviceError, match="pulled"):
        output.send(picture(1))
    with pytest.raises(DeviceError, match="pulled"):
        output.close(picture(1))
    output.close(None)
    output.plug()
    output.open()
    output.send(picture(2))
    assert output.frames == (picture(2),)


def test_waiting_ends_with_the_frame() -> None:
    """wait_for returns when the frame comes, and gives up in time when none does."""
    output = MemoryOutput()
    assert not output.wait_for(1, 0.01)
    sender = threading.Thread(target=output.send, args=(picture(1),))
    sender.start()
    assert output.wait_for(1, 5)
    sender.join()
