"""Knows: what `new` asks and the two commented files it writes.

Must never know: how the files are read.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from bridge.commands.loading import Say
from bridge.shell.outputs import output_from_text
from bridge.shell.whole_file import whole_file
from bridge.values.errors import UsageError
from bridge.values.rig import OutputSpec

T = TypeVar("T")

RIG = """\
# {name}: the lamps, supplies and outputs there are. `lampwright check` reads it and says what is wrong.
rig: {quoted}
refresh_hz: 40                # frames a second; 512 slots allow 44 at most
on_exit: blackout             # or hold: leave the last picture

supplies:
  main: {{volts: 12, amps: {amps:g}}}    # what is printed on your supply; a fifth of it is kept back
  # Fuse each output of a supply for the thinnest wire behind it, not for its lamp.

lamp_types:
  lamp:
    watts: {watts:g}                  # of one lamp at full
    response: cie             # level looks even to the eye; or linear, square, dali
    # floor: 0.02             # if your lamps start to glow only above this drive
    # ceiling: 0.9            # if they must never run at full

grids:                        # makes lamps.1.1 (lower left) to lamps.{columns}.{rows}, column.row
  - name: lamps
    columns: {columns}
    rows: {rows}
    at: [0, 0]                # metres, as the audience sees it; x to the right, y up
    spacing: [1, 1]
    type: lamp
    supply: main
    slot: 1                   # the first lamp's DMX address; the others follow row by row

groups:
  left: [{left}]
  right: [{right}]

# What `lampwright check` can work out besides, once it is told:
# decoders:                   # boxes that turn slots into current, and what they may carry
#   box: {{slots: 24, start: 1, amps_per_slot: 3, amps: 20}}
# cables:                     # runs of copper, for the voltage lost and a fuse for each
#   - {{name: trunk, from: main, carries: lamps, length_m: 10, mm2: 2.5}}
# dmx: {{devices: 1, length_m: 10, terminated: true}}

{outputs}
guards: {{load: limit, flash: limit, heat: warn}}
"""

MAPPING = """\
# What plays the lamps of {name}. Middle C is C4.
mapping: {quoted}
{inputs}
curve: linear                 # touch; or square, cie, soft, hard, full
feel: organ

feels:                        # times in milliseconds
  organ: {{attack_ms: 0, release_ms: 150}}
  bell: {{attack_ms: 0, decay_ms: 800, sustain: 0}}

keys:                         # one key a lamp, from {low} up
  - notes: {low}..{high}
    lamps: lamps
    spread: each
    between: [0.15, 1]        # the softest and the hardest strike
  - {{notes: C2, lamps: left, spread: together, mode: shot, feel: bell}}
  - {{notes: D2, lamps: right, spread: together, mode: shot, feel: bell}}

looks:
  walkin: {{lamps: 0.3}}

controls:
  - {{control: 7, sets: master}}               # the volume fader of most keyboards
  - {{notes: A1, does: look, look: walkin, fade_ms: 2000}}
  - {{notes: B1, does: look, look: none, fade_ms: 2000}}
  - {{notes: C1, does: blackout}}              # dark while the key is down
  - {{notes: D1, does: release_all}}
"""

NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]
FIRST_NOTE = 48
MOST_WATTS = 90_000.0
"""What the one supply of a new rig can be asked for."""


def new(
    say: Say,
    folder: Path,
    name: str | None,
    columns: int | None,
    rows: int | None,
    watts: float | None,
    out: str | None,
    keyboard: str | None,
    yes: bool,
) -> int:
    """Ask what was not given, write rig.yaml and mapping.yaml; an existing file is never overwritten.

    Raises:
        UsageError: a file is there already, or an answer cannot be used.
        DeviceError: the files cannot be written.
    """
    rig_path, mapping_path = folder / "rig.yaml", folder / "mapping.yaml"
    for path in (rig_path, mapping_path):
        if _there(path):
            raise UsageError(f"{path} is there already; name another folder, or move it away")
    name = ask("What is the rig called?", "My lamps", name, yes, str)
    columns = ask("How many lamps stand side by side?", 6, columns, yes, _whole)
    rows = ask("How many rows of them?", 4, rows, yes, _whole)
    watts = ask("How many watts has one lamp?", 8.0, watts, yes, _watts)
    out = ask(
        "Where do frames go (none, sacn:HOST/1, artnet:HOST/0, break:PORT, packet:PORT)?",
        "none",
        out,
        yes,
        _out,
    )
    keyboard = ask(
        "A part of the keyboard's name, as `lampwright ports` shows it (any)?", "any", keyboard, yes, str
    )
    if columns * rows > 512:
        raise UsageError(f"{columns} x {rows} lamps need {columns * rows} slots; one universe has 512")
    if columns * rows * watts > MOST_WATTS:
        raise UsageError(
            f"{columns * rows} lamps of {watts:g} W are more than one supply gives; write a rig by hand"
        )
    amps = max(1.0, round(1.25 * columns * rows * watts / 12 + 0.5))
    half = max(1, columns // 2)
    last = FIRST_NOTE + min(columns * rows, 128 - FIRST_NOTE) - 1
    text = RIG.format(
        name=name.replace("\n", " "),
        quoted=_quoted(name),
        amps=amps,
        watts=watts,
        columns=columns,
        rows=rows,
        left=", ".join(f"lamps.{n}" for n in range(1, half + 1)),
        right=", ".join(f"lamps.{n}" for n in range(columns - half + 1, columns + 1)),
        outputs=_outputs(out),
    )
    inputs = "" if keyboard == "any" else f"inputs: {{keys: {_quoted(keyboard)}}}\n"
    second = MAPPING.format(
        name=name.replace("\n", " "),
        quoted=_quoted(name),
        inputs=inputs,
        low=_note(FIRST_NOTE),
        high=_note(last),
    )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{folder} cannot be a folder: {error.strerror}; name another") from error
    with whole_file(rig_path) as one, whole_file(mapping_path) as two:
        one.write(text.encode())
        two.write(second.encode())
    at = "" if folder == Path() else f" --rig {rig_path} --mapping {mapping_path}"
    say(f"wrote {rig_path} and {mapping_path}")
    say(f"check them with `lampwright check{at}`, then `lampwright play{at}`")
    if columns * rows > 128 - FIRST_NOTE:
        say(f"the last {columns * rows - (128 - FIRST_NOTE)} lamps have no key yet: there are only 128 notes")
    if out == "none" and not yes and sys.stdin.isatty():
        _offer_adapter(say, rig_path)
    return 0


def _offer_adapter(say: Say, rig_path: Path) -> None:
    """Where somebody is there to answer: find the adapter, and write its line into the rig."""
    answer = ask("A DMX adapter on a serial port: look for it now (y or n)?", "n", None, False, str)
    if answer.lower() in ("y", "yes"):
        from bridge.commands.identify import add_output

        add_output(say, rig_path)


def ask(question: str, usual: T, given: T | None, yes: bool, read: Callable[[str], T]) -> T:
    """The option given, else the usual with `--yes`, else what the player types (Enter: the usual)."""
    if given is not None and str(given).strip():
        return read(str(given))
    if yes:
        return usual
    try:
        answer = input(f"{question} [{usual}] ").strip()
    except EOFError:
        answer = ""
    return read(answer) if answer else usual


def _there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError as error:
        raise UsageError(f"{path} cannot be a file: {error.strerror}; name another folder") from error


def _whole(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 512:
        raise UsageError(f"{text!r} is not a number of lamps; write 1 to 512")
    return int(text)


def _watts(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0.0 < value < 10_000.0:
        raise UsageError(f"{text!r} is not a lamp's power; write watts, like 8")
    return value


def _out(text: str) -> str:
    if text != "none":
        output_from_text(text)
    return text


def _outputs(out: str) -> str:
    if out == "none":
        return (
            "# outputs:                    # none yet: the rig is shown in the terminal only\n"
            "#   - {kind: sacn, host: 192.168.1.50, universe: 1}\n"
            "#   - {kind: serial, port: auto, framing: break}\n"
        )
    spec = output_from_text(out)
    return f"outputs:\n  - {_output_line(spec)}\n"


def _output_line(spec: OutputSpec) -> str:
    if spec.kind == "serial":
        return f"{{kind: serial, port: {_quoted(spec.port)}, framing: {spec.framing}}}"
    if spec.kind == "memory":
        return "{kind: memory}"
    host = f"host: {_quoted(spec.host)}, " if spec.host else ""
    return f"{{kind: {spec.kind}, {host}as: {spec.carried_as}}}"


def _quoted(text: str) -> str:
    """A YAML double-quoted scalar."""
    safe = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(ch if ch.isprintable() else " " for ch in safe) + '"'


def _note(number: int) -> str:
    return f"{NAMES[number % 12]}{number // 12 - 1}"
