"""Knows: what `play` and `demo` do: from files and options to a show and its exit code.

Must never know: how a show is built, or any argument's spelling.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from bridge.app import Plan, Show, wants_screen
from bridge.commands.loading import Say, header_of, load, read_text, shipped, song, tail
from bridge.shell.feeds import ListFeed
from bridge.shell.outputs import output_from_text
from bridge.values.mapping import Mapping
from bridge.values.rig import OutputSpec, Rig

INTERRUPTED = 130


def outputs(rig: Rig, given: Sequence[str] | None) -> list[OutputSpec]:
    """The rig's outputs, or those given on the command line instead.

    Raises:
        UsageError: one that cannot be read.
    """
    if not given:
        return list(rig.outputs)
    return [output_from_text(text, rig.universes) for text in given]


def perform(say: Say, plan: Plan) -> int:
    """Run a show to its end; its exit code."""
    show = Show(plan, say)
    show.run()
    show.report()
    return INTERRUPTED if show.interrupted else 0


def demo(say: Say, seconds: float | None, _no_page: bool) -> int:
    """The boathouse, playing our song."""
    folder = ("examples", "boathouse")
    rig, mapping, notices = load(shipped(*folder, "rig.yaml"), shipped(*folder, "mapping.yaml"))
    events, ends = song(shipped(*folder, "evening.mid"), mapping)
    plan = Plan(rig, mapping, list(rig.outputs), [ListFeed(events)], notices=notices, title="an evening song")
    plan.seconds = ends + tail(mapping) if seconds is None else seconds
    plan.screen = wants_screen()
    code = perform(say, plan)
    say(
        "Next: `lampwright new` writes a rig and a mapping of your own; "
        "`lampwright ports` shows what is plugged in."
    )
    return code


def play(
    say: Say,
    rig_path: Path,
    mapping_paths: Sequence[Path],
    midi_in: Sequence[str],
    midi_file: Path | None,
    out: Sequence[str] | None,
    seconds: float | None,
    record: Path | None,
    _no_page: bool,
) -> int:
    """Play live, from a file, or both; program changes switch where there are several mappings."""
    mapping_path = mapping_paths[0]
    rig, mapping, notices = load(rig_path, mapping_path)
    plan = Plan(rig, mapping, outputs(rig, out), notices=notices, seconds=seconds, title=mapping.name)
    plan.screen = wants_screen()
    plan.watch = mapping_path
    plan.record, plan.recording = record or free_take(mapping), record is not None
    plan.header = header_of(rig, rig_path, mapping_path, mapping.name)
    plan.thru = mapping.thru
    if len(mapping_paths) > 1:
        plan.mappings = [(load(rig_path, path)[1], read_text(path)) for path in mapping_paths]
    if midi_file is not None:
        events, ends = song(midi_file, mapping)
        plan.feeds.append(ListFeed(events))
        if seconds is None and not midi_in:
            plan.seconds = ends + tail(mapping)
    if midi_in or midi_file is None:
        plan.ports = ports_of(midi_in, mapping)
    return perform(say, plan)


def free_take(mapping: Mapping) -> Path:
    """Where `does: record` puts takes when no name was given: this folder, named after the mapping."""
    plain = "".join(letter if letter.isalnum() else "-" for letter in mapping.name.casefold()).strip("-")
    return Path(f"{plain[:60] or 'take'}.take")


def ports_of(midi_in: Sequence[str], mapping: Mapping) -> Any:
    """Opens the ports named on the command line, else those of the mapping's inputs, else all there are."""
    from bridge.shell.ports import LivePorts

    wanted = list(midi_in) or list(mapping.inputs.values())
    return lambda: LivePorts(wanted or None)
