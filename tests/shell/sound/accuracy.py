"""Measures strokes, beats and tempo against songs whose truth is known, beside two others on the same files.

`python -m tests.shell.sound.accuracy [SONG]...` prints the table; songs are rendered by FluidSynth.
F-measures by mir_eval: strokes within 50 ms, beats within 70 ms (the usual windows of that field). Beside
ours: librosa's stroke and beat finders as they come, which see the whole file, and the simplest of all,
loudness over a threshold. `live` is heard in hops without looking ahead, and judged from second 10 on.
`chosen` is what is played from a file where librosa is installed: our beats of the file, or librosa's where
those fit better; `tempo` the share of beats told at the right tempo, live and chosen.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
from dataclasses import dataclass
from pathlib import Path

import mir_eval
import numpy as np
import soundfile

from bridge.parts.beat_choice import choose
from bridge.parts.beats import FRAME, whole
from bridge.shell.sound.ear import Ear
from bridge.shell.sound.whole import strokes_of
from bridge.values.sound import USUAL_HEARING, BeatHeard, Onset
from tests.shell.sound.songs import CHOOSING, HELD_OUT, SECONDS, TUNED, UNSEEN, Truth, merged, render

ONSET_WINDOW, BEAT_WINDOW = 0.05, 0.07
SETTLED = 10.0
NEAR_TEMPO = 0.04


@dataclass
class Result:
    """F-measures 0..1, and the share of beats told at the right tempo."""

    drums: float
    mix: float
    live: float
    tempo: float
    file: float


def onset_f(truth: list[float], found: list[float]) -> float:
    """F-measure of strokes."""
    score: float = mir_eval.onset.f_measure(np.array(truth), np.array(found), window=ONSET_WINDOW)[0]
    return score


def beat_f(truth: list[float], found: list[float], after: float = 0.0) -> float:
    """F-measure of beats from a second on; what is found where no music is does not count."""
    first, last = max(after, truth[0] - BEAT_WINDOW), truth[-1] + BEAT_WINDOW
    reference = np.array([t for t in truth if t >= first])
    estimate = np.array([t for t in found if first <= t <= last])
    score: float = mir_eval.beat.f_measure(reference, estimate, f_measure_threshold=BEAT_WINDOW)
    return score


def hear(path: Path) -> tuple[list[float], list[BeatHeard]]:
    """Strokes of all bands together, and beats, heard in hops as from an input."""
    sound, rate = soundfile.read(path, always_2d=True)
    ear = Ear(rate, USUAL_HEARING, "song")
    readings = [one for at in range(0, len(sound), ear.hop) for one in ear.hear(sound[at : at + ear.hop])]
    strokes = [one.stamp for one in readings if isinstance(one, Onset)]
    return merged(strokes), [one for one in readings if isinstance(one, BeatHeard) and one.bpm > 0]


def measure(name: str, folder: Path, seconds: float = SECONDS) -> Result:
    """Our results for a song."""
    drums, truth = render(name, folder, seconds, drums_only=True)
    stroke = onset_f(truth.drums, hear(drums)[0])
    mix, truth = render(name, folder, seconds)
    strokes, beats = hear(mix)
    found = [at for at, _ in whole(strokes_of(mix))]
    return Result(
        stroke,
        onset_f(truth.notes, strokes),
        beat_f(truth.beats, [one.stamp for one in beats], SETTLED),
        right_tempo(truth, beats),
        beat_f(truth.beats, found),
    )


def right_tempo(truth: Truth, beats: list[BeatHeard]) -> float:
    """Share of beats after second 10 whose tempo is within 4 % of the truth of two seconds around them."""
    return tempo_share(truth, [(one.stamp, one.bpm) for one in beats], SETTLED, (-2.0, 0.0))


def tempo_share(
    truth: Truth, beats: list[tuple[float, float]], after: float = 0.0, spread: tuple[float, ...] = (-2, 0, 2)
) -> float:
    """Share of (second, beats a minute) whose tempo is within 4 % of the truth, now or some seconds off."""
    at, bpm = zip(*truth.bpm, strict=True)
    told = [(t, tempo) for t, tempo in beats if after <= t <= truth.beats[-1]]

    def right(t: float, tempo: float) -> bool:
        # Where the tempo has just changed, either one is right.
        around = np.interp([t + off for off in spread], at, bpm)
        return bool(np.min(np.abs(tempo / around - 1.0)) <= NEAR_TEMPO)

    return float(np.mean([right(*one) for one in told])) if told else 0.0


def chosen(path: Path, truth: Truth, librosa: list[float]) -> tuple[float, float]:
    """F of the beats that a file is played with where librosa is installed, and their share at the tempo."""
    struck = strokes_of(path)
    beats, _ = choose(struck, FRAME, whole(struck), librosa)
    return beat_f(truth.beats, [at for at, _ in beats]), tempo_share(truth, beats)


def by_librosa(name: str, folder: Path) -> tuple[float, float, float, float, float]:
    """librosa as it comes: drums, mix, beats of the file; then what is `chosen`, and its tempo."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import librosa

        drums, truth = render(name, folder, drums_only=True)
        sound, rate = librosa.load(drums, sr=22050)
        stroke = onset_f(truth.drums, list(librosa.onset.onset_detect(y=sound, sr=rate, units="time")))
        mix, truth = render(name, folder)
        sound, rate = librosa.load(mix, sr=22050)
        strokes = list(librosa.onset.onset_detect(y=sound, sr=rate, units="time"))
        _, beats = librosa.beat.beat_track(y=sound, sr=rate, units="time")
    heard = [float(at) for at in beats]
    return stroke, onset_f(truth.notes, strokes), beat_f(truth.beats, heard), *chosen(mix, truth, heard)


def by_loudness(name: str, folder: Path) -> tuple[float, float]:
    """A stroke is where 10 ms are half as loud again as the second before: drums, mix."""

    def strokes(path: Path) -> list[float]:
        sound, rate = soundfile.read(path, always_2d=True)
        hop = rate // 100
        power = np.array([np.mean(sound[at : at + hop] ** 2) for at in range(0, len(sound) - hop, hop)])
        out: list[float] = []
        for n in range(100, len(power)):
            if power[n] > 1.5 * power[n - 100 : n].mean() + 1e-7 and (not out or n / 100 - out[-1] > 0.1):
                out.append(n / 100)
        return out

    drums, truth = render(name, folder, drums_only=True)
    mix, whole_truth = render(name, folder)
    return onset_f(truth.drums, strokes(drums)), onset_f(whole_truth.notes, strokes(mix))


HEAD = f"{'song':10} | {'drums: ours':>11} {'librosa':>7} {'loudness':>8} | {'mix: ours':>9} {'librosa':>7} {'loudness':>8} | {'beats live':>10} {'file':>5} {'librosa':>7} {'chosen':>6} | tempo"  # noqa: E501


GROUPS = (
    ("may be tuned on", TUNED),
    ("held out", HELD_OUT),
    ("the choice was tuned on", CHOOSING),
    ("held out of all", UNSEEN),
)


def main(names: list[str]) -> None:
    """Print the table, the songs that were held out apart."""
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        for title, group in GROUPS:
            rows = []
            chosen = [name for name in group if not names or name in names]
            if not chosen:
                continue
            print(f"\n{title}\n{HEAD}")
            for name in chosen:
                ours, peer, plain = measure(name, folder), by_librosa(name, folder), by_loudness(name, folder)
                row = (ours.drums, peer[0], plain[0], ours.mix, peer[1], plain[1])
                rows.append((*row, ours.live, ours.file, peer[2], peer[3], ours.tempo, peer[4]))
                _print(name, rows[-1])
            _print("mean", tuple(np.mean(rows, axis=0)))


def _print(name: str, row: tuple[float, ...]) -> None:
    a, b, c, d, e, f, g, h, i, j, k, m = row
    print(
        f"{name:10} | {a:11.2f} {b:7.2f} {c:8.2f} | {d:9.2f} {e:7.2f} {f:8.2f} "
        f"| {g:10.2f} {h:5.2f} {i:7.2f} {j:6.2f} | {100 * k:.0f} {100 * m:.0f} %",
        flush=True,
    )


if __name__ == "__main__":
    main(sys.argv[1:])
