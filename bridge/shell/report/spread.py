"""Knows: the parts of a report that tell how times spread: how even frames came, how fast keys were sent.

Must never know: when in the show any of it was, or how the page is set.
"""

from __future__ import annotations

import math
from typing import Final

from bridge.shell.report.bins import Bins
from bridge.shell.report.collect import Collected
from bridge.shell.report.drawing import heading, histogram, note, numbers, said, table, text
from bridge.shell.report.output_log import OutputLog
from bridge.shell.report.words import counted, ms, percent

EVEN_MS: Final = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
EVEN_LATE: Final = 5
"""Edges of the bars of evenness, and the bar from which a difference is over 1 ms."""

CHARTS: Final = 4
"""Outputs that get charts of their own; the tables have them all."""

LONGEST_AXIS: Final = 4e8
"""Microseconds: beyond them no step of the axis would be an edge of the bins."""

LEAST_REACH: Final = 0.001
"""Seconds that the axis of early keys has at least."""

QUANTILES: Final = (("half at most", 0.5), ("99 % at most", 0.99))

EVEN_READING = (
    "How far the time from one to the next was off the period. Each line up is ten times as many; orange "
    "bars in a frame are over 1 ms. A song steers frames by up to 2 % of their period, by more "
    "while it is caught."
)

KEY_READING = (
    "From the moment a key was struck to the moment the first packet that shows it had been handed to the "
    "system. The limit, a dashed line: the wait for the next frame and 1 ms. Not in it: the keyboard and its "
    "cable, and whatever lies behind the packet."
)


def evenness(show: Collected) -> str:
    """How even frames and packets came."""
    lines = [("turns of the show", show.evenness, show.period)]
    lines += [(log.name, log.evenness, log.period) for log in show.outputs]
    lines = [line for line in lines if line[1].count]
    if not lines:
        return ""
    charts = "".join(_even_chart(*line) for line in lines[: 1 + CHARTS])
    edges = [value / 1000.0 for value in EVEN_MS]
    words = [f"up to {value:g} ms" for value in EVEN_MS] + [f"over {EVEN_MS[-1]:g} ms"]
    counts = [(name, bins.between(edges)) for name, bins, _ in lines]
    behind = table(
        "How many times from one to the next were off by",
        ("off the period by", *(name for name, _ in counts)),
        [(word, *(f"{count[at]:,}" for _, count in counts)) for at, word in enumerate(words)],
    )
    summary = table(
        "Off the period, in short",
        ("from one to the next of", "period", *(word for word, _ in QUANTILES), "at most", "counted"),
        [(name, ms(period), *_quantiles(bins)) for name, bins, period in lines],
    )
    more = len(lines) - 1 - CHARTS
    left = note(f"{counted(more, 'more output')} in the table.") if more > 0 else ""
    return (
        heading("How even the frames came")
        + note(EVEN_READING)
        + f'<div class="charts">{charts}</div>{left}{summary}{numbers(behind)}'
    )


def _even_chart(name: str, bins: Bins, period: float) -> str:
    counts = bins.between([value / 1000.0 for value in EVEN_MS])
    told = f"{name}: off its {ms(period)} by {ms(bins.quantile(0.99))} in 99 %, {ms(bins.worst)} at most"
    edges = [(at + 1.0, f"{value:g}") for at, value in enumerate(EVEN_MS)]
    chart = histogram(told, counts, edges, EVEN_LATE)
    return f"<figure><figcaption>{text(name)}, ms off {text(ms(period))}</figcaption>{chart}</figure>"


def _quantiles(bins: Bins) -> tuple[str, ...]:
    return (*(ms(bins.quantile(share)) for _, share in QUANTILES), ms(bins.worst), f"{bins.count:,}")


def keys(show: Collected) -> str:
    """From a key to the wire."""
    begin = heading("From key to wire")
    logs = [log for log in show.outputs if log.steady.count or log.early.count or log.missed]
    if not logs:
        return begin + said("There was no key to follow." if show.outputs else "There was no output.")
    kinds = [(log, kind, bins) for log in logs for kind, bins in _kinds(log)]
    charts = "".join(_key_chart(*line) for line in kinds[: 2 * CHARTS])
    rows = [(f"{log.name}, {kind}", *_quantiles(bins), ms(log.limit)) for log, kind, bins in kinds]
    head = ("to the wire of", *(word for word, _ in QUANTILES), "at most", "keys", "limit")
    missed = "".join(
        said(f"{log.name}: {counted(log.missed, 'key')} struck while it was not up.")
        for log in logs
        if log.missed
    )
    return (
        begin
        + note(KEY_READING)
        + said(_judged(sum(bins.count for _, _, bins in kinds), sum(log.over for log in logs)))
        + f'<div class="charts">{charts}</div>'
        + (table("From key to wire", head, rows, quiet=True) if rows else "")
        + missed
    )


def _judged(keys_sent: int, over: int) -> str:
    if not keys_sent:
        return "No key was on the wire."
    if not over:
        return f"All {keys_sent:,} were on the wire within the limit."
    return f"{over:,} of {keys_sent:,} ({percent(over / keys_sent)}) took longer than the limit."


def _kinds(log: OutputLog) -> list[tuple[str, Bins]]:
    return [(kind, bins) for kind, bins in (("steady", log.steady), ("early", log.early)) if bins.count]


def _key_chart(log: OutputLog, kind: str, bins: Bins) -> str:
    # Early frames are far below the limit: their axis ends where they do.
    reach = log.limit if kind == "steady" else min(log.limit, max(LEAST_REACH, bins.worst))
    step, bars = key_axis(reach)
    counts = bins.between([step * number / 1e6 for number in range(1, bars + 1)])
    each = next(jump for jump in (1, 2, 5, 10, 20) if bars / jump <= 8)
    edges = [(float(number), f"{step * number / 1000:g}") for number in range(0, bars + 1, each)]
    limit = 1e6 * log.limit / step
    told = f"{log.name}, {kind} frames: {ms(bins.quantile(0.99))} in 99 %, {ms(bins.worst)} at most"
    line = limit if limit <= bars else None
    chart = histogram(told, counts, edges, math.ceil(limit - 1e-9), line)
    ends = [f"up to {step * number / 1000:g} ms" for number in range(1, bars + 1)]
    ends.append(f"over {step * bars / 1000:g} ms")
    rows = [(end, f"{count:,}") for end, count in zip(ends, counts, strict=True)]
    behind = numbers(table(f"{log.name}, {kind} frames", ("from key to wire", "keys"), rows))
    return f"<figure><figcaption>{text(log.name)}, {kind} frames, ms</figcaption>{chart}{behind}</figure>"


def key_axis(reach: float) -> tuple[int, int]:
    """Microseconds of a bar, and how many bars lead a fifth beyond `reach` seconds; one more holds the rest.

    Each end of a bar is an edge of `Bins`: from 10 microseconds up those hold every multiple of 1 up to 50,
    of 2 up to 50, of 5 up to 200, and so on in tens.
    """
    wanted = min(1e6 * reach * 1.2, LONGEST_AXIS)
    decade = 10
    while True:
        for step, most in ((1, 40), (2, 25), (5, 40)):
            if wanted <= step * decade * most:
                return step * decade, max(1, math.ceil(wanted / (step * decade)))
        decade *= 10
