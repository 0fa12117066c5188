"""Knows: the commands under `take` and their arguments.

Must never know: how anything is done. Imports what a command needs only when it runs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.cli_options import MAPPING, RIG, MappingOption, RigOption, guarded, say

takes = typer.Typer(help="What is in a take, and what can be made of it.", no_args_is_help=True)

TakeArgument = Annotated[Path, typer.Argument(help="The take.")]
NewArgument = Annotated[
    Path, typer.Argument(help="The take to write; an existing one is never written over.")
]
FromOption = Annotated[float, typer.Option("--from", min=0.0, help="Begin at this second.")]
ToOption = Annotated[float | None, typer.Option("--to", min=0.0, help="End at this second.")]


@takes.command()
def info(take: TakeArgument) -> None:
    """Length, notes, lamps used, late frames, guards that acted, and what is missing."""
    from bridge.commands.take import info as work

    guarded(lambda: work(say, take))


@takes.command()
def export(
    take: TakeArgument,
    out: Annotated[Path, typer.Argument(help="Where to: .mid, .csv, .png, .gif or .mp4.")],
    begin: FromOption = 0.0,
    end: ToOption = None,
    notes: Annotated[
        bool, typer.Option("--notes", help="To .mid: the frames as notes of the mapping, lamp by lamp.")
    ] = False,
    threshold: Annotated[
        float, typer.Option(min=0.0, max=1.0, help="With --notes: a level this low counts as dark.")
    ] = 0.0,
    shortest_ms: Annotated[float, typer.Option(min=0.0, help="With --notes: no note is shorter.")] = 0.0,
) -> None:
    """Write a take as a MIDI file, a table, a chart, an animation or a film."""
    from bridge.commands.take import export as work

    guarded(lambda: work(say, take, out, begin, end, notes, threshold, shortest_ms))


@takes.command()
def trim(take: TakeArgument, out: NewArgument, begin: FromOption = 0.0, end: ToOption = None) -> None:
    """Write a part of a take as a new one."""
    from bridge.commands.take import cut as work

    guarded(lambda: work(say, take, out, begin, end))


@takes.command()
def align(
    take: TakeArgument,
    out: NewArgument,
    tempo: Annotated[float, typer.Option(min=1.0, help="Beats a minute.")],
    beats: Annotated[float, typer.Option(help="Beats from point to point: 0.25 is a sixteenth.")] = 0.25,
    first: Annotated[float, typer.Option(help="Second at which beat 0 falls.")] = 0.0,
    strength: Annotated[
        float, typer.Option(min=0.0, max=1.0, help="0 moves nothing, 1 onto the grid.")
    ] = 1.0,
    begin: FromOption = 0.0,
    end: ToOption = None,
) -> None:
    """Move notes nearer to a grid of beats; the frames are performed anew."""
    from bridge.commands.take import onto_grid as work

    guarded(lambda: work(say, take, out, tempo, beats, first, strength, begin, end))


@takes.command(name="import")
def import_midi(
    song: Annotated[Path, typer.Argument(help="A standard MIDI file.")],
    out: NewArgument,
    rig: RigOption = RIG,
    mapping: MappingOption = MAPPING,
) -> None:
    """Make a take of a MIDI file played through a rig and a mapping."""
    from bridge.commands.take import from_midi as work

    guarded(lambda: work(say, song, out, rig, mapping))
