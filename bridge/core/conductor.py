"""Knows: who rules the beat: a MIDI clock, a hand that taps, the music that is heard, or none of them.

Must never know: what follows the beat, lamps, ports' devices.
"""

from __future__ import annotations

from bridge.core.beats import Beats
from bridge.core.ports import PortNames
from bridge.parts.pulse import Pulse
from bridge.parts.taps import Taps
from bridge.values.events import RealTime, SongPosition
from bridge.values.sound import BeatHeard, Timing

CLOCK, TAP, SOUND, SET = "clock", "tap", "sound", "set"

TAPPED = 60.0
"""Seconds for which a tapped tempo rules over what stands behind it."""

HEARD = 3.0
"""Seconds without a beat after which the music's does not rule any more; at 20 beats a minute that is one."""

BAR = 4.0
"""Beats within which a clock's place counts: it says where a bar begins, music that is heard does not."""


class Conductor:
    """Steers the beats by the first source that is there.

    Args:
        timing: which sources, in which order.
        beats: what is steered.
    """

    def __init__(self, timing: Timing, ports: PortNames, beats: Beats) -> None:
        self._timing, self._ports, self._beats = timing, ports, beats
        self._pulses: dict[str, Pulse] = {}
        self._taps = Taps()
        self._tapped = self._heard = float("-inf")
        self._port = ""
        beats.ruled = self.rules

    def rules(self, t: float) -> bool:
        """True if a clock, a hand or the music rules the beat at `t`."""
        return self.ruler(t) != SET

    def ruler(self, t: float) -> str:
        """What rules the beat at `t`: clock, tap, sound, or set (by the mapping or a control)."""
        for source in self._timing.order:
            if source == CLOCK and self._clock(t):
                return CLOCK
            if source == TAP and t - self._tapped < TAPPED:
                return TAP
            if source == SOUND and t - self._heard < HEARD:
                return SOUND
        return SET

    @property
    def tapping(self) -> bool:
        """True if taps count."""
        return TAP in self._timing.order

    def tap(self, stamp: float) -> None:
        """A tap on the beat."""
        tempo = self._taps.tap(stamp)
        if tempo is None:
            return
        self._tapped = stamp
        if self.ruler(stamp) == TAP:
            self._beats.steer(round(self._beats.at(stamp)), tempo)

    def hear(self, beat: BeatHeard) -> None:
        """A beat of the music."""
        if beat.bpm <= 0.0:
            self._heard = float("-inf")
            return
        self._heard = beat.stamp
        if self.ruler(beat.stamp) == SOUND:
            self._beats.steer(round(self._beats.at(beat.stamp)), beat.bpm)

    def take(self, event: RealTime | SongPosition) -> bool:
        """A message of a MIDI clock; True if it moved the beat."""
        if not self._ports.matches(event.port, self._timing.clock_from):
            return False
        pulse = self._pulses.setdefault(event.port, Pulse())
        if isinstance(event, SongPosition):
            pulse.place(event.sixteenths)
        elif event.kind == "clock":
            pulse.tick(event.stamp)
            return self._follow(event.port, pulse, event.stamp)
        elif event.kind == "start":
            pulse.start()
        elif event.kind == "continue":
            pulse.go_on()
        elif event.kind == "stop":
            pulse.stop(event.stamp)
        return False

    def port_gone(self, port: str) -> None:
        """A port vanished, and its clock with it; the beat goes on at its tempo."""
        self._pulses.pop(port, None)

    def adopt(self, old: Conductor) -> None:
        """Take over what another mapping's conductor has heard."""
        self._pulses, self._taps = old._pulses, old._taps
        self._tapped, self._heard, self._port = old._tapped, old._heard, old._port

    def _clock(self, t: float) -> str:
        """The port whose clock counts: the one that did before, while it ticks, else the first; or none.

        Asking changes nothing, for the screen asks too, and no take knows when.
        """
        for port in (self._port, *self._pulses):
            pulse = self._pulses.get(port)
            if pulse is not None and pulse.here(t):
                return port
        return ""

    def _follow(self, port: str, pulse: Pulse, t: float) -> bool:
        if self.ruler(t) != CLOCK or self._clock(t) != port:
            return False
        self._port = port
        if pulse.running:
            self._beats.steer(pulse.beat(t), pulse.bpm, BAR)
        else:
            # A song that stands: its clock still gives the tempo.
            self._beats.tempo = pulse.bpm
        return True
