"""Knows: what a show tells the house beside the picture: a small dictionary, about ten times a second.

Must never know: who shows it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from bridge.core.engine import Engine
from bridge.parts.guard_load import LoadGuard
from bridge.parts.notes import note_name
from bridge.shell.evening import Evening
from bridge.shell.recording import Recording
from bridge.shell.replaying import Replaying
from bridge.shell.tally import Tally
from bridge.values.beat import OutputState
from bridge.values.events import Bend, ChannelPressure, Control, Event, KeyPressure, NoteOff, NoteOn, Program

SHOWN_TAKES = 20


def news(
    engine: Engine, tally: Tally, outputs: Iterable[OutputState], title: str, notices: Sequence[str]
) -> dict[str, Any]:
    """The state of a show, ready for JSON."""
    held, shape = engine.chord
    return {
        "title": title,
        "master": round(engine.master, 4),
        "blackout": engine.blackout,
        "look": engine.look,
        "looks": list(engine.mapping.looks),
        "refresh": engine.rig.refresh_hz,
        "late_ms": [tally.late_ms(0.5), tally.late_ms(0.99)],
        "skipped": tally.skipped,
        "errors": tally.errors,
        "outputs": [{"name": o.name, "state": o.state, "note": o.note} for o in outputs],
        "notices": list(notices),
        "events": [event_line(event, heard, engine.mapping.middle_c) for event, heard in engine.recent],
        "tempo": {"ruler": engine.tempo[0], "bpm": round(engine.tempo[1], 1)},
        "chord": {"name": held, "shape": shape},
        "guards": _guards(engine),
        "loads": _loads(engine),
    }


def evening_news(evening: Evening | None, t: float) -> dict[str, Any]:
    """The set list and the song, where there is an evening."""
    if evening is None:
        return {}
    return {
        "set": {"songs": evening.names, "at": evening.index, "playing": evening.playing},
        "song": {
            "name": evening.number.name,
            "at": round(evening.position(t), 1),
            "length": round(evening.length, 1),
        },
    }


def take_news(recording: Recording | None, replaying: Replaying | None, t: float) -> dict[str, Any]:
    """What is being recorded and shown again, and the takes there are."""
    out: dict[str, Any] = {}
    if recording is not None:
        out["take"] = {"recording": recording.on, "seconds": round(recording.seconds(t), 1)}
    if replaying is not None:
        out.setdefault("take", {})
        out["take"] |= {"replaying": replaying.showing, "loop": replaying.loop}
        if replaying.showing and not out["take"].get("recording"):
            out["take"]["seconds"] = round(replaying.position(t), 1)
        out["takes"] = [
            {"number": one.number, "name": one.name, "seconds": one.seconds, "notes": one.notes}
            for one in replaying.known[-SHOWN_TAKES:]
        ]
    return out


def event_line(event: Event, heard: bool, middle_c: str) -> dict[str, Any]:
    """One arrival: port, channel, what it was, whether a rule heard it."""
    what = type(event).__name__
    if isinstance(event, NoteOn | NoteOff):
        what = f"{note_name(event.note, middle_c)} ({event.note})"
        what += f" at {event.velocity}" if isinstance(event, NoteOn) else " up"
    elif isinstance(event, Control):
        what = f"control {event.control} at {event.value}"
    elif isinstance(event, Bend):
        what = f"bend {event.value:+d}"
    elif isinstance(event, ChannelPressure | KeyPressure):
        what = f"pressure {event.value}"
    elif isinstance(event, Program):
        what = f"program {event.program + 1}"
    return {
        "t": round(event.stamp, 3),
        "port": getattr(event, "port", ""),
        "channel": getattr(event, "channel", 0),
        "what": what,
        "heard": heard,
    }


def _guards(engine: Engine) -> list[dict[str, Any]]:
    out = []
    for name, mode in engine.rig.guards.items():
        guard = engine.guards.get(name)
        held, times = guard.held if guard is not None else (0.0, 0)
        out.append({"name": name, "mode": mode, "held": round(held, 3), "times": times})
    return out


def _loads(engine: Engine) -> list[dict[str, Any]]:
    guard = engine.guards.get("load")
    if not isinstance(guard, LoadGuard):
        return []
    return [
        {
            "supply": supply.name,
            "amps": round(float(amps), 2),
            "limit": round(supply.amps * (1 - supply.headroom), 2),
        }
        for supply, amps in zip(engine.rig.supplies, guard.supply_load, strict=True)
    ]
