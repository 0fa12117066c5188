"""Knows: what `identify` does: a show that walks from lamp to lamp, what was seen, the file put right.

Must never know: wires, slots of the moment, or how a lamp is lit.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from bridge.commands.adapter import find_adapter
from bridge.commands.loading import Say
from bridge.commands.performing import INTERRUPTED, outputs, perform
from bridge.parts.grid_orders import grid_orders
from bridge.parts.wiring import diagnose
from bridge.plan import Plan
from bridge.shell.cautions import ON_THE_LADDER
from bridge.shell.files import read_rig
from bridge.shell.files.edit import EditError
from bridge.shell.files.rig_edit import with_output, with_slots
from bridge.shell.identify.hands import Hands, hands
from bridge.shell.identify.little_map import little_map
from bridge.shell.identify.walk import ALONE_SECONDS, Walk
from bridge.shell.identify.words import fault_lines
from bridge.shell.outputs import output_from_text
from bridge.shell.whole_file import whole_file
from bridge.values.errors import FileError, Problem, UsageError
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.values.wiring import Diagnosis

USUAL = Path("rig.yaml")


def identify(say: Say, rig_path: Path, out: Sequence[str] | None, level: float, each: float | None) -> int:
    """Walk the rig; without one here, find the adapter that leads to it.

    Args:
        each: seconds for each lamp, to walk without answers; None asks.

    Raises:
        FileError: the rig is wrong. UsageError: no output is named.
    """
    if rig_path == USUAL and not rig_path.exists():
        return _adapter(say, out)
    text = _text_of(rig_path)
    rig, warnings = read_rig(rig_path)
    for line in map(str, warnings):
        say(line)
    specs = outputs(rig, out)
    if not specs:
        raise UsageError("the rig names no output, so no lamp would light; add --out, like --out sacn:HOST/1")
    who = hands() if each is None else None
    # A lamp that rests lit would be taken for the one that is meant.
    dark = replace(rig, lamps=tuple(replace(lamp, rest=0.0) for lamp in rig.lamps))
    walk = Walk(dark, level, who, say, each or ALONE_SECONDS, little_map(rig))
    plan = Plan(dark, Mapping("identify"), specs, [walk])
    plan.title = "identify"
    plan.done = lambda: walk.done
    say(
        "Each lamp lights alone, in the order of the rig file. One that stays dark, or another that lights\n"
        "in its place, is patched or wired differently from what the file says. Ctrl-C ends."
    )
    say(textwrap.fill(ON_THE_LADDER, 100))
    if who is None:
        return perform(say, plan)
    say(who.help)
    with who:
        code = perform(say, plan)
    if code == INTERRUPTED or walk.alone:
        return code
    return _conclude(say, who, rig_path, text, rig, walk)


def _conclude(say: Say, who: Hands, path: Path, text: str, rig: Rig, walk: Walk) -> int:
    """Say what is wrong, and write the file that would be right, if somebody wants that."""
    if not walk.seen:
        say("nothing was said of any lamp, so there is nothing to conclude")
        return 0
    diagnosis = diagnose(rig, walk.seen, grid_orders)
    tried = f"{len(walk.seen)} slots of {len({(lamp.universe, lamp.slot) for lamp in rig.lamps})}"
    if not diagnosis.faults:
        say(f"\nall as it should be: {tried} tried")
        return 0
    count = len(diagnosis.faults)
    say(f"\n{tried} tried, {'one fault' if count == 1 else f'{count} faults'} found:")
    for line in fault_lines(rig, diagnosis):
        say(f"  - {line}")
    new = _corrected(say, text, rig, diagnosis)
    if new is None:
        return 0
    answer = who.ask(f"\nLet {path} say how the lamps hang in truth? The file as it is will be kept. [y/N]")
    if answer.lower() in ("y", "yes"):
        backup = _write(path, text, new)
        say(f"wrote {path}; the file of before is {backup}")
    return 0


def _corrected(say: Say, text: str, rig: Rig, diagnosis: Diagnosis) -> str | None:
    """The text that says the truth; None, told, where the file need not or cannot say it."""
    if diagnosis.lost:
        say("the file cannot be put right before these are known")
        return None
    try:
        new = with_slots(text, rig, diagnosis.hangs, diagnosis.starts)
    except EditError as error:
        say(f"the file is not put right by itself: {error}")
        return None
    return new if new != text else None


def _write(path: Path, old: str, new: str) -> Path:
    """Write the new text, the old one kept beside it; its name.

    Raises:
        UsageError: the file was changed meanwhile.
    """
    if _text_of(path) != old:
        raise UsageError(f"{path} was changed meanwhile; nothing was written, walk once more")
    number = 1
    while (
        backup := path.with_name(f"{path.stem}.before{number if number > 1 else ''}{path.suffix}")
    ).exists():
        number += 1
    with whole_file(backup) as kept:
        kept.write(old.encode())
    with whole_file(path) as file:
        file.write(new.encode())
    return backup


def _text_of(path: Path) -> str:
    """The text as it is, byte order mark and line ends included; reading the rig reports what is wrong."""
    try:
        return path.read_bytes().decode()
    except (OSError, UnicodeDecodeError):
        read_rig(path)
        raise FileError([Problem(0, 0, "this file cannot be read", file=str(path))]) from None


def _adapter(say: Say, out: Sequence[str] | None) -> int:
    say("There is no rig.yaml here, so: which adapter is this?")
    found = find_adapter(say, hands(), [output_from_text(text) for text in out or ()])
    if found is None:
        say("no adapter was found; with rig.yaml here, `lampwright identify` walks its lamps")
        return 1
    say(f"the line for your rig file, under outputs:\n  - {found.line}")
    say("`lampwright new` writes a rig; with rig.yaml here, `lampwright identify` walks its lamps")
    return 0


def add_output(say: Say, path: Path) -> None:
    """Find the adapter and write its line into a rig file; used where a rig was just made."""
    found = find_adapter(say, hands(), [])
    if found is None:
        return
    text = _text_of(path)
    try:
        new = with_output(text, found.line)
    except EditError as error:
        say(f"{error}; the line for it, under outputs:\n  - {found.line}")
        return
    with whole_file(path) as file:
        file.write(new.encode())
    say(f"wrote it into {path}: {found.line}")
