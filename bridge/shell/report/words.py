"""Knows: how times, counts and shares are said, and what a show was like in plain words.

Must never know: HTML, or where a number came from.
"""

from __future__ import annotations

from bridge.shell.report.collect import Collected
from bridge.shell.report.reasons import Reason

RARELY = 0.001
"""Share of late frames up to which a show still counts as steady. Our choice."""

AWAY = "the machine slept or stood still"
WHY = {
    Reason.OWN: "our own work took too long",
    Reason.SYSTEM: "the system woke us late",
    Reason.AWAY: AWAY,
}
ADVICE = {
    Reason.OWN: "play it with fewer rules and textures at once or a lower refresh_hz, and please report it",
    Reason.SYSTEM: "close other programs, plug the computer in, and ask the command lampwright ports about "
    "real-time priority",
    Reason.AWAY: "switch its sleep off for the evening",
}


def ms(seconds: float) -> str:
    """A short time: 0.05 ms, 3.2 ms, 120 ms, 2.5 s."""
    if seconds >= 0.9995:
        return length(seconds)
    number = seconds * 1000.0
    digits = 2 if number < 0.9995 else 1 if number < 99.95 else 0
    return f"{number:.{digits}f} ms"


def length(seconds: float) -> str:
    """How long something took: 2.5 s, 3 min 20 s, 2 h 5 min."""
    if seconds < 59.95:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 60:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def clock(t: float, tenths: bool = False) -> str:
    """A moment of the show: 0:07, 12:05, 1:02:03; or 0:07.3."""
    whole = int(t * 10 + 1e-6) if tenths else int(t + 1e-6) * 10
    minutes, rest = divmod(whole, 600)
    hours, minutes = divmod(minutes, 60)
    seconds = f"{rest // 10:02d}" + (f".{rest % 10}" if tenths else "")
    return f"{hours}:{minutes:02d}:{seconds}" if hours else f"{minutes}:{seconds}"


def counted(count: int, word: str, words: str = "") -> str:
    """A number and its word: 1 frame, 12,000 frames."""
    return f"{count:,} {word if count == 1 else words or word + 's'}"


def percent(share: float) -> str:
    """A share: 0 %, 0.02 %, 4.1 %, 100 %; what is not whole is never said to be."""
    if share <= 0.0 or share >= 1.0:
        return "100 %" if share >= 1.0 else "0 %"
    if share < 0.0001:
        return "less than 0.01 %"
    if share < 0.1:
        return f"{100 * share:.2g} %"
    return f"{min(99.9, 100 * share):.3g} %"


def headline(show: Collected) -> str:
    """How long, how many frames, at which rate, how many left out."""
    if not show.frames:
        return "The show ended before its first frame."
    rate = f", {show.rate:.2f} a second of {show.hz:g} wanted" if show.frames > 1 else ""
    early = f", {show.early:,} early ones between them" if show.early else ""
    out = f"{show.skipped:,} left out" if show.skipped else "none left out"
    asleep = show.skipped - show.lates.skipped
    slept = f" ({asleep:,} of them while the machine slept)" if asleep else ""
    return f"{length(show.span + show.period)}, {counted(show.frames, 'frame')}{rate}, {out}{slept}{early}."


def verdict(show: Collected) -> list[str]:
    """What it was like, for a player, in sentences."""
    if not show.frames:
        return ["There is nothing to judge."]
    said = [_steadiness(show)]
    if sleeps := show.lates.turns[Reason.AWAY]:
        times = "once" if sleeps == 1 else f"{sleeps:,} times"
        advice = ADVICE[Reason.AWAY]
        said.append(f"{_capital(AWAY)} {times}, for {length(show.away)} in all: {advice}.")
    if show.failed:
        turns = counted(show.failed, "turn")
        said.append(f"{turns} failed in our own program and kept the frame before: please report it.")
    if show.dropped:
        said.append(f"{counted(show.dropped, 'event')} came faster than they could be taken and were lost.")
    for log in show.outputs:
        down = log.seconds - log.up_seconds
        if log.seconds and log.up_seconds <= 0.0:
            said.append(f"{log.name} was never up.")
        elif down > 1.0:
            said.append(f"{log.name} was not up for {length(down)}.")
    return said


def is_steady(show: Collected) -> bool:
    """True where no frame was left out and at most RARELY of them came late, sleeps of the machine apart."""
    return not show.lates.skipped and show.lates.late <= RARELY * show.frames


def _steadiness(show: Collected) -> str:
    lates, worst, main = show.lates, show.lates.latest, show.lates.main
    if main is None:
        return "Steady: every frame came within 1 ms of its moment."
    came = f"{counted(lates.late, 'frame')} came over 1 ms late"
    at = f", the latest by {ms(worst.behind)} at {clock(worst.t)}" if worst is not None else ""
    if is_steady(show):
        return f"Steady: {came} ({percent(lates.late / show.frames)}){at}; none was left out."
    out = f" and {counted(lates.skipped, 'was', 'were')} left out" if lates.skipped else ""
    mostly = "Mostly " if all(lates.turns[reason] for reason in (Reason.OWN, Reason.SYSTEM)) else ""
    why = f"{WHY[main]}: {ADVICE[main]}"
    return f"Not steady: {came}{out}{at}. {mostly + why if mostly else _capital(why)}."


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
