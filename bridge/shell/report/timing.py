"""Knows: the parts of a report that tell when: late frames and why, and the time line of the show.

Must never know: how times spread, outputs' ups and downs, guards, the machine, or how the page is set.
"""

from __future__ import annotations

import math

from bridge.shell.report.collect import Collected
from bridge.shell.report.drawing import heading, note, numbers, over, said, steps, strip, table
from bridge.shell.report.reasons import LATE, WORST, Late, Reason, Reasons
from bridge.shell.report.words import ADVICE, clock, counted, length, ms

LEAST = 1e-5
"""Seconds at the foot of the time line of lateness, whose scale goes in tenfold steps."""

MARKS = {2: "level"}
"""The mark at LATE is drawn as one that counts."""

READING = (
    "Late counts from the oldest frame that was due; a frame is left out when the next is due already. "
    "Of two reasons the larger is named."
)


def lateness(show: Collected) -> str:
    """Which frames came late, and why."""
    lates, begin = show.lates, heading("Late frames, and why")
    if not show.frames:
        return begin + said("There was no frame that could be late.")
    if not any(lates.turns.values()) and not show.failed:
        return begin + said(f"None: the latest came {ms(show.lateness.worst)} after its moment.")
    rows = [
        (reason.value, f"{lates.turns[reason]:,}", f"{lates.left_out[reason]:,}", ADVICE[reason])
        for reason in Reason
        if lates.turns[reason]
    ]
    if show.failed:
        at = ", ".join(clock(t, tenths=True) for t in show.failed_at)
        rows.append(("an error kept the frame before", f"{show.failed:,}", "0", f"please report it; at {at}"))
    head = ("reason", "late", "left out", "what helps")
    by_reason = table("Frames that came over 1 ms late, by reason", head, rows)
    return begin + by_reason + _latest(lates) + note(READING)


def _latest(lates: Reasons) -> str:
    worst = [_late_row(late) for late in lates.worst]
    if not worst:
        return ""
    head = ("in the show", "late by", "left out", "reason", "notes a second then", "song")
    return table(f"The latest {len(worst)}" if len(worst) == WORST else "Each of them", head, worst)


def _late_row(late: Late) -> tuple[str, ...]:
    song = f"{late.song} at {clock(late.song_at)}" if late.song else "none"
    return (
        clock(late.t, tenths=True),
        ms(late.behind),
        f"{late.skipped:,}",
        late.reason.value,
        f"{late.notes:,}",
        song,
    )


def along(show: Collected) -> str:
    """Lateness and notes over the show, one above the other."""
    if not show.frames:
        return ""
    line = show.worst
    count, width = len(line.values), line.width
    stretch = "second" if width == 1.0 else length(width).replace(".0 s", " s")
    decades = max(3, math.ceil(math.log10(max(show.lateness.worst, LATE) / LEAST) - 1e-9))
    marks = [(power / decades, _mark(power), MARKS.get(power, "grid")) for power in range(1, decades + 1)]
    heights = [math.log10(max(value, LEAST) / LEAST) / decades for value in line.values]
    worst = f"latest frame of each {stretch}"
    parts = [over(worst), steps(f"{worst}: {ms(show.lateness.worst)} at most", heights, marks, width, "bar")]
    if show.skipped:
        flags = [float(value > 0.0) for value in show.left_out.over(width, count)]
        parts += [over("frames left out"), strip("where frames were left out", flags, width, ("", "late"))]
    notes, top = show.notes.over(width, count), max(1, show.busiest)
    parts.append(over("notes begun in a second (of each stretch, in its busiest)"))
    heights = [value / top for value in notes]
    parts.append(steps(f"notes a second: {top} at most", heights, [(1.0, str(top), "grid")], width, "notes"))
    parts += [said(_dense(show)), numbers(_along_table(show, notes))]
    return heading("Along the show") + f"<figure>{''.join(parts)}</figure>"


def _dense(show: Collected) -> str:
    if not show.all_notes:
        return "No note began in this show."
    told = f"{counted(show.all_notes, 'note')} in all, {show.busiest:,} in the busiest second."
    worst = show.lates.latest
    if worst is None:
        return f"{told} No frame came over 1 ms late, there or elsewhere."
    where = "in a busy passage" if worst.notes >= 0.5 * show.busiest else "elsewhere"
    return f"{told} The latest frame came {where}, with {counted(worst.notes, 'note')} a second."


def _along_table(show: Collected, notes: list[float], most: int = 24) -> str:
    """The time line in at most so many rows."""
    values, width = show.worst.values, show.worst.width
    each = max(1, -(-len(values) // most))
    gaps = show.left_out.over(width, len(values))
    rows = [
        (
            f"{clock(at * width)} to {clock(min(len(values), at + each) * width)}",
            ms(max(values[at : at + each])),
            f"{max(notes[at : at + each]):.0f}",
            f"{max(gaps[at : at + each]):.0f}",
        )
        for at in range(0, len(values), each)
    ]
    head = ("in the show", "latest frame", "most notes in a second", "most left out at once")
    return table("Along the show", head, rows)


def _mark(power: int) -> str:
    """A mark of the axis of lateness: 0.1 ms, 10 ms, 1 s; `power` counts tenfold steps from LEAST."""
    return f"{10 ** (power - 2):g} ms" if power < 5 else f"{10 ** (power - 5)} s"
