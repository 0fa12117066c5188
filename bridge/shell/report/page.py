"""Knows: the order of a report's parts, and how it becomes one page that needs nothing else.

Must never know: how any part is told or drawn.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from bridge.shell.cautions import FLASHING, NO_FLASH_GUARD
from bridge.shell.guard_lines import off_lines
from bridge.shell.report.bins import Bins
from bridge.shell.report.collect import Collected
from bridge.shell.report.drawing import text
from bridge.shell.report.facts import Facts
from bridge.shell.report.gear import guards, machine, outputs
from bridge.shell.report.spread import evenness, keys
from bridge.shell.report.style import STYLE
from bridge.shell.report.timing import along, lateness
from bridge.shell.report.words import headline, is_steady, length, ms, percent, verdict
from bridge.shell.sheet import POLICY
from bridge.shell.whole_file import whole_file
from bridge.values.errors import UsageError


def check_writable(path: Path, take: Path | None = None) -> None:
    """Refuse, before the show, a name under which no report could be written after it.

    Args:
        take: where the show is recorded to; a report of the same name would replace the take.

    Raises:
        UsageError: no name of a page, a folder, no folder to write in, one that may not be written in, or
            the name of the take.
    """
    try:
        folder, is_folder = path.resolve().parent, path.is_dir()
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise UsageError(f"--report {path}: that can be no file: {why}; give a shorter name") from error
    if is_folder:
        raise UsageError(f"--report {path}: that is a folder; give a file, like --report show.html")
    if path.suffix.lower() not in (".html", ".htm"):
        raise UsageError(
            f"the report is a page: write --report {path.with_suffix('.html').name}, and open it in a browser"
        )
    if take is not None and path.resolve() == take.resolve():
        raise UsageError(f"--report {path}: that is where the show is recorded to; give another name")
    if not folder.is_dir():
        raise UsageError(f"--report {path}: there is no folder {path.parent}; make it, or name another")
    try:
        # As long a name as the page has until it is whole.
        with tempfile.NamedTemporaryFile(dir=folder, prefix=f".{path.name}.", suffix=".part"):
            pass
    except OSError as error:
        raise UsageError(
            f"--report {path}: it cannot be written there: {error.strerror or error}; name another file"
        ) from error


def write_report(show: Collected, path: Path, facts: Facts) -> None:
    """Write the page; what stood there before is replaced, whole or not at all.

    Raises:
        DeviceError: the file cannot be written.
    """
    page = report_html(show, facts).encode()
    with whole_file(path) as file:
        file.write(page)


def report_html(show: Collected, facts: Facts) -> str:
    """The page as text; everything that comes from outside is escaped."""
    title = text(facts.title or facts.rig.name or "a show")
    body = [
        _header(title, facts),
        _warnings(facts),
        _verdict(show, facts),
        _figures(show),
        lateness(show),
        along(show),
        evenness(show),
        keys(show),
        outputs(show, facts),
        guards(show, facts),
        machine(show, facts),
        _footer(),
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}: report of the show</title><style>{STYLE}</style></head>\n<body><main>\n"
        + "\n".join(part for part in body if part)
        + "\n</main></body></html>\n"
    )


def _header(title: str, facts: Facts) -> str:
    when = f" of {text(facts.when)}" if facts.when else ""
    ended = ", ended before its time" if facts.interrupted else ""
    return f'<header class="top"><h1>{title}</h1><p>Report of the show{when}{ended}</p></header>'


def _warnings(facts: Facts) -> str:
    found = off_lines(facts.rig)
    if facts.rig.guards.get("flash", "limit") == "warn":
        found.append(NO_FLASH_GUARD)
    if not found:
        return ""
    items = "".join(f"<li>{text(line)}</li>" for line in [*found, *([FLASHING] if _flashes(facts) else [])])
    return f'<div class="warn"><b>Before the next show</b><ul>{items}</ul></div>'


def _flashes(facts: Facts) -> bool:
    return facts.rig.guards.get("flash", "limit") != "limit"


def _verdict(show: Collected, facts: Facts) -> str:
    sentences = verdict(show)
    kind = "verdict" if is_steady(show) and len(sentences) == 1 else "verdict unsteady"
    said = "".join(f"<p>{text(sentence)}</p>" for sentence in sentences)
    slept = ""
    if facts.slept >= 1.0:
        slept = f"<p>The machine slept for {text(length(facts.slept))} meanwhile, and its clock with it.</p>"
    return f'<div class="{kind}">{said}{slept}<p class="short">{text(headline(show))}</p></div>'


def _figures(show: Collected) -> str:
    if not show.frames:
        return ""
    found = [
        ("frames a second", f"{show.rate:.2f}" if show.rate else f"{show.hz:g}"),
        ("99 % of frames late by at most", ms(show.lateness.quantile(0.99))),
        ("the latest frame", ms(show.lateness.worst)),
        ("frames left out", f"{show.skipped:,}"),
    ]
    took = [bins for log in show.outputs for bins in (log.steady, log.early) if bins.count]
    if took:
        found.append(("99 % of keys on the wire within", ms(max(_slow(bins) for bins in took))))
    seconds = sum(log.seconds for log in show.outputs)
    if seconds > 0.0:
        found.append(("outputs up", percent(sum(log.up_seconds for log in show.outputs) / seconds)))
    cells = "".join(f"<div><dt>{text(name)}</dt><dd>{text(value)}</dd></div>" for name, value in found)
    return f'<dl class="figures">{cells}</dl>'


def _slow(bins: Bins) -> float:
    return bins.quantile(0.99)


def _footer() -> str:
    told = (
        "Times are those of this computer: when it handed frames over, not when light left a lamp. Quantiles "
        "are right to 5 %. The local code and the makers' sheets decide what a rig may carry."
    )
    return f'<footer class="note">{text(told)}</footer>'
