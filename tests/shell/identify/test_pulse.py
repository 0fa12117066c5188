"""The search on a strange line: one slot at a time, slowly, through the engine and its guards."""

from __future__ import annotations

from bridge.core.engine import Engine
from bridge.shell.identify.answers import Answer, of_line
from bridge.shell.identify.pulse import HALF_SECONDS, Pulse, bare_rig
from bridge.values.mapping import Mapping
from bridge.values.numbers import half_up

RIG = bare_rig()


class Timed:
    """Says lines at times of the show; the time is told by asking, 40 times a second."""

    keys = False
    help = ""

    def __init__(self, lines: dict[float, str]) -> None:
        self._lines, self._asked = lines, 0

    def poll(self) -> Answer | None:
        """What is said now."""
        self._asked += 1
        line = self._lines.get((self._asked - 1) / 40)
        return Answer("end") if line == "END" else of_line(line) if line is not None else None

    def ask(self, _question: str) -> str:
        """Nothing."""
        return ""

    def __enter__(self) -> Timed:
        return self

    def __exit__(self, *_: object) -> None:
        pass


def run(lines: dict[float, str], seconds: float = 8.0) -> tuple[Pulse, list[bytes], list[str]]:
    """The pulse, the slots of every frame, and what it said."""
    said: list[str] = []
    pulse = Pulse(RIG, 0.3, Timed(lines), said.append)
    engine = Engine(RIG, Mapping("pulse"))
    frames = []
    for k in range(int(seconds * 40)):
        frames.append(engine.advance(pulse.take(k / 40), k / 40).universe(1))
        if pulse.done:
            break
    return pulse, frames, said


def test_one_slot_pulses_slowly() -> None:
    """A slot is lit and dark in turn, under one flash a second, at a low level, and no other slot is."""
    _, frames, _ = run({})
    lit = [frame[0] > 0 for frame in frames]
    rises = sum(now and not before for before, now in zip([False, *lit], lit, strict=False))
    assert 6 <= rises <= 7
    assert 2 * HALF_SECONDS > 1.0
    assert {frame[0] for frame in frames} == {0, half_up(0.3 * 255)}
    assert not any(any(frame[1:]) for frame in frames)


def test_on_back_and_by_number() -> None:
    """n and 0 go on, b back, a number goes to that slot; what was lit is dark at once; Enter has found it."""
    pulse, frames, said = run({1.0: "n", 2.0: "0", 3.0: "b", 4.0: "99", 5.0: ""})
    assert [line.split()[1] for line in said] == ["1", "2", "3", "2", "99"]
    assert pulse.found == 99
    assert all(sum(value > 0 for value in frame) <= 1 for frame in frames)
    assert not any(frames[-1])


def test_numbers_that_are_no_slots() -> None:
    """A number without a slot is told, and the pulse stays where it is."""
    pulse, _, said = run({1.0: "513", 2.0: "foo", 3.0: "q"})
    assert said[1:] == ["  '513' is no slot; give 1 to 512", "  'foo' is no slot; give 1 to 512"]
    assert (pulse.found, pulse.silent, pulse.done) == (None, False, True)


def test_where_nobody_answers() -> None:
    """At the end of input it is over at once, and dark."""
    pulse, frames, _ = run({0.0: "END"})
    assert pulse.silent
    assert pulse.found is None
    assert not any(frames[-1])


def test_past_the_last_slot_it_ends() -> None:
    """After 512 there is nothing more to try."""
    pulse, frames, _ = run({0.0: "512", 1.0: "n"})
    assert pulse.done
    assert pulse.found is None
    assert not any(frames[-1])
