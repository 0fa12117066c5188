"""Knows: what the commands share: options, how a line is said, and which exit code an error has.

Must never know: any one command.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from bridge.values.errors import BridgeError, FileError, UsageError

RigOption = Annotated[Path, typer.Option("--rig", help="The rig file: lamps, supplies, outputs.")]
MappingOption = Annotated[Path, typer.Option("--mapping", help="The mapping file: what plays the lamps.")]
OutOption = Annotated[
    list[str] | None,
    typer.Option(
        "--out", help="Send there instead: sacn:HOST/1, artnet:HOST/0, break:PORT, packet:PORT, memory."
    ),
]
SecondsOption = Annotated[float | None, typer.Option("--seconds", min=0.0, help="End after so long.")]
ReportOption = Annotated[
    Path | None,
    typer.Option("--report", help="Write a page of how it went: late frames and why, outputs (HTML)."),
]
NoPage = Annotated[bool, typer.Option("--no-page", help="Serve no stage page.")]
PageHost = Annotated[
    str, typer.Option("--page-host", help="Serve the page to other machines too; its link then has a secret.")
]
PagePort = Annotated[int | None, typer.Option("--page-port", min=0, max=65535, help="Serve the page here.")]
PageViewOnly = Annotated[bool, typer.Option("--page-view-only", help="The page shows and changes nothing.")]
RIG, MAPPING = Path("rig.yaml"), Path("mapping.yaml")


UNSAID: list[OSError] = []
"""Why lines could not be said; a command that went well otherwise then ends with 1."""


def say(text: str) -> None:
    """A line for the player."""
    # The terminal may have been closed; the show still has to end as it should.
    try:
        print(text, flush=True)
    except OSError as error:
        UNSAID.append(error)


def _nobody_reads() -> bool:
    """True where the reader of standard output has left: what could not be written is still waiting there."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        return True
    return False


def guarded(work: Callable[[], int]) -> None:
    """Run a command's work and leave with its exit code."""
    try:
        code = work()
    except (FileError, UsageError) as error:
        print(error, file=sys.stderr)
        code = 2
    except BridgeError as error:
        print(error, file=sys.stderr)
        code = 1
    except KeyboardInterrupt:
        code = 130
    except BrokenPipeError:
        if not _nobody_reads():
            # Some other pipe, and no reason to be silent.
            raise
        # Whoever read our output has left; there is nobody to tell.
        sys.stderr.close()
        code = 1
    if UNSAID and code == 0:
        with contextlib.suppress(OSError):
            print(f"what this said could not be written: {UNSAID[0].strerror}", file=sys.stderr)
        code = 1
    if UNSAID:
        # Python flushes standard output once more at its end, and would complain there.
        sys.stdout = None
    raise typer.Exit(code)
