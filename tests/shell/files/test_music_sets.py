"""From the file to the light: a band, a stroke, the beat and the tempo set whatever a controller can set."""

from __future__ import annotations

import pytest

from bridge.core.engine import Engine
from bridge.shell.files.control_model import SETS
from bridge.shell.files.mapping import mapping_from_text
from bridge.values.events import BeatHeard, Bend, Event, NoteOff, NoteOn, Onset, Sound
from bridge.values.rig import Lamp, Rig

HZ, SECONDS = 40, 3.0

SOURCES = {"band": "band: middle", "onset": "onset: bass", "beat": "beat: true", "tempo": "tempo: true"}

TARGETS = {
    "master": "",
    "level": "lamps: [l4, l5]",
    "attack_ms": "feel: slow, between: [0, 1500]",
    "decay_ms": "feel: slow, between: [100, 1500]",
    "sustain": "feel: slow",
    "release_ms": "between: [0, 1500]",
    "tempo": "",
    "look": "look: warm",
    "fade_ms": "between: [0, 3000]",
    "strength": "texture: rise, between: [0.2, 1]",
    "amount": "texture: rise",
    "width": "texture: ripple, between: [0.1, 1]",
    "speed": "texture: ripple, between: [0, 3]",
    "scale": "texture: ripple, between: [0.5, 6]",
    "direction": "texture: rise, between: [180, 350]",
    "centre_x": "texture: ripple, between: [0, 5]",
    "centre_y": "texture: ripple, between: [0, 3]",
}

TEXT = """
mapping: test
feels:
  slow: {{attack_ms: 20, decay_ms: 200, sustain: 0.5, release_ms: 100}}
keys:
  - {{notes: 60, lamps: [l0, l1], feel: slow}}
  - {{notes: 61, lamps: l2, repeat: 0.5, feel: slow}}
looks:
  warm: {{l3: 0.8}}
  cold: {{l5: 0.9}}
textures:
  ripple: {{kind: rings, lamps: [l6, l7, l8], centre: [2, 1], scale: 3, hz: 0.7, run: true}}
  rise: {{kind: fill, lamps: [l9, l10, l11], hz: 0, amount: 0.4, run: true}}
controls:
  - {{{source}, sets: {word}{more}}}
  - {{notes: 62, does: look, look: cold}}
time: {{order: [sound]}}
tempo: 100
"""

OFF = {"load": "off", "flash": "off", "heat": "off"}
RIG = Rig(
    "test",
    tuple(Lamp(f"l{n}", n, 1, n + 1, at=(n * 0.7, float(n % 3))) for n in range(12)),
    groups={"all": tuple(range(12))},
    guards=OFF,
)


def engine(source: str, word: str) -> Engine:
    """The engine of a file whose one control sets `word` by `source`."""
    more = f", {TARGETS[word]}" if TARGETS[word] else ""
    mapping, warnings = mapping_from_text(TEXT.format(source=source, word=word, more=more), RIG)
    assert warnings == []
    return Engine(RIG, mapping)


def played(t: float, k: int) -> list[Event]:
    """What hands play: a key every half second, one that repeats throughout, a look in the middle."""
    out: list[Event] = []
    if k == 4:
        out.append(NoteOn(t, "keys", 1, 61, 127))
    if k % 20 == 8:
        out.append(NoteOn(t, "keys", 1, 60, 127))
    if k % 20 == 18:
        out.append(NoteOff(t, "keys", 1, 60))
    if k == HZ:
        out.append(NoteOn(t, "keys", 1, 62, 127))
    return out


def music(kind: str, t: float, k: int) -> list[Event]:
    """What is heard: a band that swells, strokes, or beats at 130 a minute."""
    if kind == "band" and k >= 4:
        return [Sound(t, "song", (0.0, 0.3 + 0.6 * (k % 50) / 50, 0.0))]
    if kind == "onset" and k % 16 == 6:
        return [Onset(t, "song", 0, 0.8)]
    if kind in ("beat", "tempo") and k % 18 == 2:
        return [BeatHeard(t, "song", 130.0 if k < 60 else 133.0, 1.0)]
    return []


class Source:
    """What a source stands at, as the docs say it, for a wheel to be turned to."""

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self.value: float | None = None
        self.since = 0.0
        """Seconds from which it stands there."""
        self._struck = -1.0

    def look(self, events: list[Event], t: float, heard: Engine) -> float | None:
        """Its value 0..1 at `t`; None where it has not been heard yet."""
        self.since = t
        for event in events:
            if isinstance(event, Sound):
                self.value = event.bands[1]
            elif isinstance(event, Onset):
                self.value, self._struck = event.strength, t
        if self._kind == "onset" and self.value and t >= self._struck + 0.1:
            self.value, self.since = 0.0, self._struck + 0.1
        if self._kind == "beat":
            self.value = heard.beat(t) % 1.0
        if self._kind == "tempo":
            self.value = (heard.tempo[1] - 40.0) / 200.0
        return self.value


def run(kind: str, word: str) -> tuple[list[list[int]], list[list[int]], list[list[int]]]:
    """Frames with the music as source, with a wheel turned to the same places, and with nothing turned."""
    heard, wheel, still = engine(SOURCES[kind], word), engine("bend: true", word), engine("bend: true", word)
    source, out = Source(kind), ([], [], [])  # type: ignore[var-annotated]
    for k in range(round(SECONDS * HZ)):
        t = k / HZ
        sound, hands = music(kind, t, k), played(t, k)
        out[0].append(list(heard.advance([*sound, *hands], t).universe(1)[:12]))
        before, value = source.value, source.look(sound, t, heard)
        # What turns with an event turns before the keys of its frame, what turns with time after them.
        turn: list[Event] = (
            []
            if value in (None, before)
            else [Bend(source.since, "wheel", 1, round((value or 0.0) * 16383) - 8192)]
        )
        with_time = kind in ("beat", "tempo")
        events = [*sound, *hands, *turn] if with_time else [*sound, *turn, *hands]
        out[1].append(list(wheel.advance(events, t).universe(1)[:12]))
        out[2].append(list(still.advance([*sound, *hands], t).universe(1)[:12]))
    return out


def test_every_word_of_sets_is_tried() -> None:
    """The table above holds all that a controller can set."""
    assert set(TARGETS) == set(SETS)


@pytest.mark.parametrize("word", TARGETS)
@pytest.mark.parametrize("kind", SOURCES)
def test_music_sets_what_a_controller_sets(kind: str, word: str) -> None:
    """Each source moves the light exactly as a wheel does that is turned to where the source stands."""
    heard, wheel, still = run(kind, word)
    furthest = max(abs(a - b) for x, y in zip(heard, wheel, strict=True) for a, b in zip(x, y, strict=True))
    assert furthest <= 2
    if (kind, word) != ("tempo", "tempo"):
        assert heard != still
