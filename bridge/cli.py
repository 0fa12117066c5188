"""Knows: the commands, their arguments and exit codes; turns an error of ours into clear lines.

Must never know: how anything is built or done. Imports what a command needs only when it runs, so that
`--help` answers at once.

Exit codes: 0 done, 1 it ran and something failed, 2 what you wrote is wrong, 130 interrupted after a clean
end.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.cli_options import (
    MAPPING,
    RIG,
    MappingOption,
    NoPage,
    OutOption,
    PageHost,
    PagePort,
    PageViewOnly,
    ReportOption,
    RigOption,
    SecondsOption,
    guarded,
    say,
)
from bridge.cli_take import takes

app = typer.Typer(
    name="lampwright",
    help="Play dimmed lamps like an instrument: MIDI in, DMX out.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


@app.command()
def demo(
    seconds: SecondsOption = None,
    no_page: NoPage = False,
    page_host: PageHost = "127.0.0.1",
    page_port: PagePort = None,
    page_view_only: PageViewOnly = False,
    report: ReportOption = None,
) -> None:
    """The boathouse, playing a song of ours, with nothing to plug in."""
    from bridge.commands import play as work
    from bridge.commands.paging import PageWanted

    page = PageWanted(no_page, page_host, page_port, page_view_only)
    guarded(lambda: work.demo(say, seconds, page, report))


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Where to write rig.yaml and mapping.yaml.")] = Path(),
    name: Annotated[str | None, typer.Option(help="What the rig is called.")] = None,
    columns: Annotated[int | None, typer.Option(min=1, max=512, help="Lamps side by side.")] = None,
    rows: Annotated[int | None, typer.Option(min=1, max=512, help="Rows of lamps.")] = None,
    watts: Annotated[float | None, typer.Option(min=0.0, help="Watts of one lamp.")] = None,
    out: Annotated[str | None, typer.Option(help="Where frames go, as --out of play; none.")] = None,
    keyboard: Annotated[str | None, typer.Option(help="A part of the keyboard's name; any.")] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Ask nothing; take what was not given as it is.")
    ] = False,
) -> None:
    """Asks six questions and writes a rig and a mapping with comments, ready to play."""
    from bridge.commands.new import new as work

    guarded(lambda: work(say, folder, name, columns, rows, watts, out, keyboard, yes))


@app.command()
def play(
    rig: RigOption = RIG,
    mapping: Annotated[
        list[Path] | None,
        typer.Option("--mapping", help="The mapping file; several: program changes switch between them."),
    ] = None,
    midi_in: Annotated[
        list[str] | None,
        typer.Option("--midi-in", help="A MIDI port, by its name or a part of it; may be repeated."),
    ] = None,
    midi_file: Annotated[
        Path | None,
        typer.Option("--midi-file", help="Play a standard MIDI file."),
    ] = None,
    out: OutOption = None,
    record: Annotated[
        Path | None, typer.Option("--record", help="Record a take from the first frame on.")
    ] = None,
    song: Annotated[Path | None, typer.Option("--song", help="Play along with an audio file.")] = None,
    offset_ms: Annotated[
        float, typer.Option("--offset-ms", help="Milliseconds by which the lamps come later than the song.")
    ] = 0.0,
    calibrate: Annotated[
        bool,
        typer.Option("--calibrate", help="Ask for soft and hard strokes, and write the curve they need."),
    ] = False,
    set_list: Annotated[
        Path | None, typer.Option("--set", help="Play the songs of an evening, started by pad, key or page.")
    ] = None,
    listen: Annotated[
        str | None,
        typer.Option("--listen", help="Follow a sound input: a part of its name, or '' for the usual one."),
    ] = None,
    stand_by: Annotated[
        bool,
        typer.Option(
            "--stand-by",
            help="Send sACN at a priority 10 lower: another computer plays, and this one takes over when it "
            "falls silent.",
        ),
    ] = False,
    seconds: SecondsOption = None,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Begin anew, though the show before ended badly.")
    ] = False,
    no_page: NoPage = False,
    page_host: PageHost = "127.0.0.1",
    page_port: PagePort = None,
    page_view_only: PageViewOnly = False,
    report: ReportOption = None,
) -> None:
    """Play the lamps live from keyboards and pads, or from a MIDI file in real time."""
    from bridge.commands import play as work
    from bridge.commands.paging import PageWanted

    if calibrate:
        from bridge.commands.calibrate import calibrate as sit

        guarded(lambda: sit(say, rig, (mapping or [MAPPING])[0], midi_in or []))
    page = PageWanted(no_page, page_host, page_port, page_view_only)
    wanted = work.Wanted(
        rig,
        mapping or [MAPPING],
        midi_in or [],
        midi_file,
        out,
        seconds,
        record,
        song,
        offset_ms,
        set_list,
        page,
        listen,
        stand_by,
        report,
        fresh,
    )
    guarded(lambda: work.play(say, wanted))


@app.command()
def render(
    rig: RigOption = RIG,
    mapping: MappingOption = MAPPING,
    midi_file: Annotated[
        Path | None,
        typer.Option(
            "--midi-file", help="The standard MIDI file to play; none for a mapping that runs by itself."
        ),
    ] = None,
    csv: Annotated[Path | None, typer.Option("--csv", help="Write every frame's slots.")] = None,
    png: Annotated[Path | None, typer.Option("--png", help="Draw slots over time.")] = None,
    gif: Annotated[Path | None, typer.Option("--gif", help="Draw the rig in motion.")] = None,
    seconds: SecondsOption = None,
) -> None:
    """Play a MIDI file, or a mapping by itself, faster than time and write what would have gone out."""
    from bridge.commands import render as work

    guarded(lambda: work.render(say, rig, mapping, midi_file, csv, png, gif, seconds))


@app.command()
def check(
    rig: RigOption = RIG,
    mapping: Annotated[Path | None, typer.Option("--mapping", help="Check a mapping too.")] = None,
    chart: Annotated[
        Path | None,
        typer.Option("--chart", help="Draw the keys and pads with the names of their lamps (PNG)."),
    ] = None,
    set_list: Annotated[
        Path | None, typer.Option("--set", help="Check an evening too, with every file it names.")
    ] = None,
    sheet: Annotated[
        Path | None,
        typer.Option("--sheet", help="Write the page to wire the rig by, to print on A4 (HTML)."),
    ] = None,
) -> None:
    """Mistakes, warnings, the patch, what every key drives, what the rig asks of wires and supplies."""
    from bridge.commands import check as work

    guarded(lambda: work.check(say, rig, mapping, chart, sheet, set_list))


@app.command()
def identify(
    rig: RigOption = RIG,
    out: OutOption = None,
    level: Annotated[float, typer.Option(min=0.0, max=1.0, help="How bright each lamp is lit.")] = 0.5,
    each: Annotated[
        float | None, typer.Option(min=0.1, help="Walk alone, so many seconds a lamp; else you answer.")
    ] = None,
) -> None:
    """Lights the lamps one by one and names what is wired wrong; without a rig, finds the DMX adapter."""
    from bridge.commands import identify as work

    guarded(lambda: work.identify(say, rig, out, level, each))


@app.command()
def listen(
    what: Annotated[str, typer.Argument(help="A sound file, or a part of a sound input's name.")],
    rig: RigOption = RIG,
    mapping: Annotated[
        Path | None, typer.Option("--mapping", help="Hear it as this mapping's section sound says.")
    ] = None,
    png: Annotated[Path | None, typer.Option("--png", help="Draw what was heard.")] = None,
    seconds: SecondsOption = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Play no sound of a file.")] = False,
) -> None:
    """Shows the bands, strokes and beats of a song or an input, so that you can set them up."""
    from bridge.commands.listen import listen as work

    guarded(lambda: work(say, what, rig, mapping, png, seconds, not quiet))


@app.command()
def ports() -> None:
    """MIDI, serial and sound devices here, each with the line to paste; what is missing and how to get it."""
    from bridge.commands import ports as work

    guarded(lambda: work.ports(say))


@app.command()
def schema(
    kind: Annotated[str, typer.Argument(help="rig, mapping or set")],
) -> None:
    """Writes the JSON Schema of a file language, for editors that complete and check."""
    from bridge.commands import schema as work

    guarded(lambda: work.schema(say, kind))


@app.command()
def replay(
    take: Annotated[Path, typer.Argument(help="The take.")],
    out: OutOption = None,
    rig: Annotated[Path | None, typer.Option("--rig", help="Perform the notes anew on this rig.")] = None,
    mapping: Annotated[
        Path | None, typer.Option("--mapping", help="Perform the notes anew by this mapping.")
    ] = None,
    loop: Annotated[bool, typer.Option("--loop", help="Begin again at the end.")] = False,
    begin: Annotated[float, typer.Option("--from", min=0.0, help="Begin at this second.")] = 0.0,
    end: Annotated[float | None, typer.Option("--to", min=0.0, help="End at this second.")] = None,
    speed: Annotated[float, typer.Option("--speed", help="2 is twice as fast.")] = 1.0,
    transpose: Annotated[
        int, typer.Option("--transpose", help="Semitones, where notes are performed anew.")
    ] = 0,
    midi_in: Annotated[
        list[str] | None, typer.Option("--midi-in", help="Play on top from this port; may be repeated.")
    ] = None,
    record: Annotated[Path | None, typer.Option("--record", help="Record both as a new take.")] = None,
    seconds: SecondsOption = None,
    no_page: NoPage = False,
    page_host: PageHost = "127.0.0.1",
    page_port: PagePort = None,
    page_view_only: PageViewOnly = False,
    report: ReportOption = None,
) -> None:
    """Show the frames of a take as they went out, or perform its notes anew."""
    from bridge.commands.paging import PageWanted
    from bridge.commands.replay import Replay
    from bridge.commands.replay import replay as work

    how = Replay(begin, end, loop, speed, transpose)
    page = PageWanted(no_page, page_host, page_port, page_view_only)
    guarded(lambda: work(say, take, rig, mapping, out, how, midi_in or [], record, seconds, page, report))


app.add_typer(takes, name="take")
