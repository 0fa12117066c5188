"""Textures played: what starts and ends them, how layers and keys join, changes of speed and tempo."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.beats import Beats
from bridge.core.engine import Engine
from bridge.values.events import Bend, Do, Event, NewMapping, PortGone, Program
from bridge.values.mapping import ChordRule, DoRule, Feel, Mapping, SetRule, Trigger
from bridge.values.rig import Rig
from bridge.values.texture import (
    TEXTURE_SETTINGS,
    Film,
    Options,
    Settings,
    Step,
    Still,
    Texture,
    TextureRule,
)
from tests.core.builders import cc, control, each, lit, off, on, rig

ALL = (0, 1, 2, 3)


def row() -> Rig:
    """Four lamps a metre apart."""
    made = rig(4)
    return replace(made, lamps=tuple(replace(lamp, at=(float(lamp.index), 0.0)) for lamp in made.lamps))


def flat(name: str, *levels: float, **texture: Any) -> Texture:
    """A texture that stands: a film of one frame."""
    values = np.array([[round(level * 65535) for level in levels]], dtype=np.uint16)
    return Texture(name, "film", ALL, film=Film((0.0,), 1.0, values), **texture)


def engine(*textures: Texture, rules: tuple[TextureRule, ...] = (), **mapping: Any) -> Engine:
    """An engine that has these textures and nothing else that lights."""
    return Engine(row(), made(*textures, rules=rules, **mapping))


def made(*textures: Texture, rules: tuple[TextureRule, ...] = (), **mapping: Any) -> Mapping:
    """The mapping of it."""
    named = {texture.name: texture for texture in textures}
    return Mapping("test", textures=named, texture_keys=rules, **mapping)


def key(note: int, texture: str, **rule: Any) -> TextureRule:
    """One key that plays a texture."""
    return TextureRule((note,), texture, **rule)


CHASE = Texture("chase", "chase", ALL, hz=1.0, settings=Settings(scale=1.0), run=True)
FULL = flat("full", 1, 1, 1, 1)
HALF = flat("half", 0.4, 0.4, 0.8, 0.8)


def test_it_runs_by_itself() -> None:
    """Without a key, a chase of a cycle a second is on the next lamp each quarter of a second."""
    play = engine(CHASE)
    assert play.textures == ["chase"]
    assert [lit(play.advance([], t)) for t in (0.0, 0.25, 0.5, 1.75)] == [
        [255, 0, 0, 0], [0, 255, 0, 0], [0, 0, 255, 0], [0, 0, 0, 255]
    ]  # fmt: skip


def test_a_held_key_shows_it() -> None:
    """It is seen while its key is down, at the strength of the strike, from its beginning."""
    chase = replace(CHASE, run=False)
    play = engine(chase, rules=(key(60, "chase"),))
    assert lit(play.advance([], 0.1)) == [0, 0, 0, 0]
    assert lit(play.advance([on(10.0, 60, 64)], 10.25)) == [0, round(255 * 64 / 127), 0, 0]
    assert lit(play.advance([off(10.3, 60)], 10.3)) == [0, 0, 0, 0]


def test_a_short_press_still_shows() -> None:
    """A key down and up between two frames shows in one."""
    play = engine(FULL, rules=(key(60, "full"),))
    assert lit(play.advance([on(0.01, 60), off(0.012, 60)], 0.025)) == [255] * 4
    assert lit(play.advance([], 0.05)) == [0] * 4


def test_a_latch_goes_on_and_off() -> None:
    """Press on, press off; letting go changes nothing."""
    play = engine(FULL, rules=(key(60, "full", mode="latch"),))
    assert lit(play.advance([on(0, 60), off(0.1, 60)], 0.2)) == [255] * 4
    assert lit(play.advance([on(0.3, 60)], 0.4)) == [0] * 4
    assert lit(play.advance([off(0.45, 60)], 0.5)) == [0] * 4


def test_what_is_started_stays_until_another_starts() -> None:
    """Started by a key it goes on without one; another that is started crossfades with it."""
    fade = {"mode": "start", "attack": 1.0, "release": 1.0}
    first, second = flat("first", 1, 1, 0, 0), flat("second", 0, 0, 1, 1)
    play = engine(first, second, rules=(key(60, "first", **fade), key(61, "second", **fade)))
    assert lit(play.advance([on(0, 60), off(0.1, 60)], 3.0)) == [255, 255, 0, 0]
    assert lit(play.advance([on(4.0, 61)], 4.25)) == [191, 191, 64, 64]
    assert lit(play.advance([], 6.0)) == [0, 0, 255, 255]


def test_a_punch_is_alone_at_once() -> None:
    """While its key is down no other texture is seen, whatever the feel says; then all is back."""
    spot = flat("spot", 0, 1, 0, 0)
    play = engine(replace(HALF, run=True), spot, rules=(key(60, "spot", mode="punch", attack=5.0),))
    before = lit(play.advance([], 0.1))
    assert lit(play.advance([on(0.2, 60)], 0.2)) == [0, 255, 0, 0]
    assert lit(play.advance([off(0.3, 60)], 0.3)) == before


@pytest.mark.parametrize(
    ("mix", "wanted"),
    [
        ("highest", [0.4, 0.5, 0.8, 0.8]),
        ("add", [0.4, 0.9, 0.8, 1.0]),
        ("multiply", [0.2, 0.4, 0.4, 0.8]),
        ("replace", [0.2, 0.7, 0.4, 0.9]),
    ],
)
def test_layers_join(mix: str, wanted: list[float]) -> None:
    """By hand at half strength: under it 0.4 0.4 0.8 0.8, itself 0 1 0 1."""
    top = flat("top", 0, 1, 0, 1, mix=mix, strength=0.5, run=True)
    play = engine(replace(HALF, run=True), top)
    assert lit(play.advance([], 1.0)) == pytest.approx([255 * level for level in wanted], abs=0.51)


def test_a_texture_masks_keys() -> None:
    """Keys are seen only through it; by itself it lights nothing."""
    mask = flat("mask", 1, 0.5, 0, 1, mask="of_keys", run=True)
    play = engine(mask, keys=(each(),))
    assert lit(play.advance([], 0.1)) == [0] * 4
    assert lit(play.advance([on(0.2, 60 + n) for n in range(4)], 0.3)) == [255, 128, 0, 255]


def test_keys_mask_a_texture() -> None:
    """It is seen only where keys light lamps, and adds nothing to what they give."""
    shy = flat("shy", 1, 1, 0.2, 1, mask="keys", run=True)
    lone = replace(shy, mix="add")
    play = engine(lone, keys=(each(),))
    assert lit(play.advance([], 0.1)) == [0] * 4
    assert lit(play.advance([on(0.2, 60, 64), on(0.2, 62)], 0.3)) == [round(255 * 64 / 127), 0, 255, 0]


def test_rings_grow_from_the_key() -> None:
    """The centre is the lamp of the key just struck; each key has rings of its own."""
    ring = Texture(
        "ring", "rings", ALL, hz=1.0, settings=Settings(scale=4.0, width=0.5),
        options=Options(profile="pulse", count=1), at_key=True,
    )  # fmt: skip
    rule = TextureRule((60, 61), "ring", lamps=((0,), (3,)))
    play = engine(ring, rules=(rule,))
    assert lit(play.advance([on(0, 60)], 0.125)) == [255, 0, 0, 0]
    assert lit(play.advance([], 0.375)) == [255, 255, 0, 0]
    play = engine(ring, rules=(rule,))
    assert lit(play.advance([on(0, 61)], 0.375)) == [0, 0, 255, 255]
    assert lit(play.advance([on(0.4, 60)], 0.45)) == [255, 0, 255, 255]


def test_knobs_move_settings_and_bend_too() -> None:
    """Strength, speed and the rest are set by controllers, the wheel's middle is the middle of its range."""
    fill = Texture("fill", "fill", ALL, settings=Settings(1e-6, 0.0, 1.0), run=True)
    sets = (
        SetRule(control(1), "strength", name="fill"),
        SetRule(Trigger("bend"), "amount", name="fill"),
        SetRule(control(2), "direction", between=(0.0, 180.0)),
    )
    play = engine(fill, sets=sets)
    assert lit(play.advance([], 0.0)) == [255] * 4
    assert lit(play.advance([Bend(0.1, "p", 1, 0)], 0.1)) == [255, 255, 0, 0]
    assert lit(play.advance([cc(0.2, 2, 127)], 0.2)) == [0, 0, 255, 255]
    assert lit(play.advance([cc(0.3, 1, 0)], 0.3)) == [0] * 4


@pytest.mark.parametrize("what", TEXTURE_SETTINGS)
def test_every_setting_can_be_moved(what: str) -> None:
    """Each word for a setting reaches the textures and changes what is seen, and no knob moves by itself."""
    kinds = [
        Texture(kind, kind, ALL, hz=0.3, settings=Settings(1.3, 20.0, 0.4, 0.6), run=True)
        for kind in ("wave", "rings", "drops", "fill")
    ]
    still, moved = (engine(*kinds, sets=(SetRule(control(1), what, between=(0.2, 0.9)),)) for _ in range(2))
    turns: list[Event] = [cc(0.5, 1, 127)]
    same = [lit(still.advance([], t)) for t in (0.4, 0.9, 1.7)]
    other = [lit(moved.advance(turns if t == 0.9 else [], t)) for t in (0.4, 0.9, 1.7)]
    assert same[0] == other[0]
    assert same[1:] != other[1:]


def test_a_change_of_speed_does_not_jump() -> None:
    """Twice the speed from half a second on: a chase half way round goes on from there."""
    play = engine(CHASE, sets=(SetRule(control(1), "speed", between=(0.0, 2.0)),))
    assert lit(play.advance([], 0.5)) == [0, 0, 255, 0]
    assert lit(play.advance([cc(0.5, 1, 127)], 0.5)) == [0, 0, 255, 0]
    assert lit(play.advance([], 0.75)) == [255, 0, 0, 0]


def test_beats_follow_the_tempo_in_force() -> None:
    """Four beats a cycle at 120 are two seconds; at 240 from there on, one."""
    chase = replace(CHASE, hz=0.0, beats=4.0)
    play = engine(chase, sets=(SetRule(control(1), "tempo", between=(120.0, 240.0)),))
    assert lit(play.advance([], 1.0)) == [0, 0, 255, 0]
    assert lit(play.advance([cc(2.0, 1, 127)], 2.0)) == [255, 0, 0, 0]
    assert lit(play.advance([], 2.5)) == [0, 0, 255, 0]


@given(st.lists(st.tuples(st.floats(0.0, 4.0), st.floats(1.0, 999.0)), max_size=6), st.floats(0, 50))
def test_a_beat_is_the_sum_of_its_times(changes: list[tuple[float, float]], t: float) -> None:
    """The beat at any moment is the time at each tempo times that tempo, added up."""
    beats = Beats(120.0)
    now, tempo, wanted = 0.0, 120.0, 0.0
    for wait, faster in changes:
        wanted += wait * tempo / 60
        now, tempo = now + wait, faster
        beats.moment = now
        beats.tempo = faster
    assert beats.at(now + t) == pytest.approx(wanted + t * tempo / 60, abs=1e-6)


def test_chords_choose_a_texture() -> None:
    """A minor chord brings one in at its velocity, a major one another; shapes are drawn beside them."""
    chords = (
        ChordRule((0, 3, 7), texture="half", feel=Feel(release=1.0)),
        ChordRule((0, 4, 7), texture="full"),
        ChordRule((0, 3, 7), picture=((0, 1.0),)),
    )
    play = engine(HALF, FULL, chords=chords)
    minor: list[Event] = [on(0.0, note) for note in (57, 60, 64)]
    assert lit(play.advance(minor, 0.1)) == [255, 102, 204, 204]
    gone: list[Event] = [off(1.0, note) for note in (57, 60, 64)]
    assert lit(play.advance(gone, 1.52)) == [51, 51, 102, 102]
    assert lit(play.advance([on(3.0, note) for note in (60, 64, 67)], 3.1)) == [255] * 4
    assert lit(play.advance([], 9.0)) == [255] * 4


STEPS = Texture(
    "song", "steps", ALL, beats=8.0, run=True,
    steps=(Step("left", 4.0), Step("right", 2.0, 1.0), Step("", 2.0)),
)  # fmt: skip


def test_a_sequence_by_hand() -> None:
    """At 60 a beat is a second: four beats left, a crossfade of one beat to right, dark, and round again."""
    play = engine(flat("left", 1, 1, 0, 0), flat("right", 0, 0, 1, 1), STEPS, tempo=60.0)
    moments = (0.5, 3.9, 4.5, 5.5, 6.5, 8.5, 12.25)
    seen = [lit(play.advance([], t)) for t in moments]
    assert seen == [
        [255, 255, 0, 0], [255, 255, 0, 0], [128, 128, 128, 128], [0, 0, 255, 255], [0, 0, 0, 0],
        [255, 255, 0, 0], [191, 191, 64, 64],
    ]  # fmt: skip


def test_a_sequence_follows_the_tempo() -> None:
    """Twice as fast from beat 3 on, the second step comes after half a second."""
    play = engine(
        flat("left", 1, 1, 0, 0), flat("right", 0, 0, 1, 1), STEPS, tempo=60.0,
        sets=(SetRule(control(1), "tempo", between=(60.0, 120.0)),),
    )  # fmt: skip
    assert lit(play.advance([cc(3.0, 1, 127)], 3.4)) == [255, 255, 0, 0]
    assert lit(play.advance([], 4.1)) == [0, 0, 255, 255]


def test_the_first_step_comes_out_of_the_dark() -> None:
    """With a crossfade on the first step, it fades in once, and later fades over from the last."""
    steps = replace(STEPS, beats=4.0, steps=(Step("left", 2.0, 1.0), Step("right", 2.0)))
    play = engine(flat("left", 1, 1, 0, 0), flat("right", 0, 0, 1, 1), steps, tempo=60.0)
    assert lit(play.advance([], 0.5)) == [128, 128, 0, 0]
    assert lit(play.advance([], 4.5)) == [128, 128, 128, 128]


def test_a_film_shows_its_frames_in_their_time() -> None:
    """Frames of unequal length stand as long as they say; blended, straight lines lead to the next."""
    levels = np.array([[0, 0, 0, 0], [65535] * 4, [13107] * 4], dtype=np.uint16)
    film = Film((0.0, 1.0, 1.5), 2.0, levels)
    play = engine(Texture("film", "film", ALL, hz=0.5, film=film, run=True))
    assert [lit(play.advance([], t))[0] for t in (0.9, 1.1, 1.4, 1.6, 2.5, 3.2)] == [0, 255, 255, 51, 0, 255]
    play = engine(Texture("film", "film", ALL, hz=0.5, film=replace(film, blend=True), run=True))
    assert [lit(play.advance([], t))[0] for t in (0.5, 1.25, 1.75)] == [128, 153, 26]


def test_a_still_goes_round() -> None:
    """A picture of two pixels that moves a picture a cycle: half a cycle on, they have changed places."""
    areas = np.array([[[0.0, 0, 0], [0, 1, 1]]])
    boxes = np.array([[0.0, 1, 0, 1], [1.0, 2, 1, 2], [0.0] * 4, [1.0] * 4])
    none = np.zeros(4, dtype=np.intp)
    still = Still(areas, none, boxes, np.array([[0.0, 1.0]]), none)
    play = engine(Texture("still", "still", ALL, hz=0.25, still=still, run=True))
    assert [lit(play.advance([], t))[:2] for t in (0.0, 1.0, 2.0, 4.0)] == [
        [255, 0], [128, 128], [0, 255], [255, 0]
    ]  # fmt: skip


def test_tint_and_range() -> None:
    """Each lamp takes its share of the colour; the darkest and the brightest are as the file says."""
    play = engine(flat("f", 0, 1, 1, 1, between=(0.2, 0.6), tint=(1.0, 1.0, 0.5, 0.0), run=True))
    assert lit(play.advance([], 0.1)) == [51, 153, 77, 0]


def test_backwards_is_time_turned_round() -> None:
    """Backwards a chase takes the lamps in the opposite order."""
    play = engine(replace(CHASE, backwards=True))
    assert [lit(play.advance([], t)).index(255) for t in (0.0, 0.25, 0.5)] == [0, 3, 2]


def test_an_action_starts_and_ends_it() -> None:
    """`does: texture` starts one, another in its place, or with no name none; the page can say so too."""
    does = (
        DoRule(Trigger("program", (1,)), "texture", texture="full"),
        DoRule(Trigger("program", (2,)), "texture", fade=1.0),
    )
    play = engine(FULL, HALF, does=does)
    assert lit(play.advance([Program(0, "p", 1, 1)], 0.1)) == [255] * 4
    assert lit(play.advance([Do(1.0, "texture", "half")], 1.1)) == [102, 102, 204, 204]
    assert lit(play.advance([Program(2, "p", 1, 2)], 2.5)) == [51, 51, 102, 102]
    assert lit(play.advance([], 3.1)) == [0] * 4


def test_the_pedal_holds_it_unless_it_is_ignored() -> None:
    """A held texture stays while the sustain pedal is down; with `pedal: ignore` it does not."""
    rules = (key(60, "full"), key(61, "half", pedal=False))
    play = engine(FULL, HALF, rules=rules)
    assert lit(play.advance([cc(0, 64, 127), on(0.1, 60), off(0.2, 60)], 0.3)) == [255] * 4
    assert lit(play.advance([cc(0.4, 64, 0)], 0.5)) == [0] * 4
    assert lit(play.advance([cc(0.6, 64, 127), on(0.7, 61)], 0.75)) == [102, 102, 204, 204]
    assert lit(play.advance([off(0.8, 61)], 0.9)) == [0] * 4


@pytest.mark.parametrize("mode", ["hold", "latch", "start", "punch"])
@pytest.mark.parametrize("end", ["release_all", "all sound off", "port gone"])
def test_what_ends_it(mode: str, end: str) -> None:
    """Release of all and all sound off end every mode; a vanished port what its keys hold; none what runs."""
    play = engine(FULL, replace(HALF, run=True), rules=(key(60, "full", mode=mode),))
    ends: Event = {
        "release_all": Do(1.0, "release_all"), "all sound off": cc(1.0, 120, 0),
        "port gone": PortGone(1.0, "p"),
    }[end]  # fmt: skip
    assert lit(play.advance([on(0, 60)], 0.5)) == [255] * 4
    after = lit(play.advance([ends], 1.1))
    stays = end == "port gone" and mode in ("latch", "start")
    assert after == ([255] * 4 if stays else [102, 102, 204, 204])


def test_a_saved_mapping_takes_over() -> None:
    """Held and running textures go on in step; a changed speed holds from then; what is gone fades out."""
    rules = (key(60, "full", release=1.0), key(61, "half"))
    play = engine(CHASE, FULL, HALF, rules=rules)
    play.advance([on(0.0, 61)], 0.5)
    new = made(replace(CHASE, hz=2.0), HALF, rules=(key(61, "half"),))
    assert lit(play.advance([NewMapping(0.5, new)], 0.5)) == [102, 102, 255, 204]
    assert lit(play.advance([], 0.625)) == [102, 102, 204, 255]
    assert lit(play.advance([off(0.7, 61)], 0.75)) == [255, 0, 0, 0]
    play = engine(FULL, rules=rules[:1])
    play.advance([on(0.0, 60)], 0.5)
    assert lit(play.advance([NewMapping(1.0, made(HALF))], 1.0)) == [255] * 4
    assert lit(play.advance([], 2.1)) == [0] * 4


def test_a_change_of_song_lets_go() -> None:
    """Without `keep` what keys hold is let go, and what both mappings run goes on in step."""
    play = engine(CHASE, FULL, rules=(key(60, "full"),))
    play.advance([on(0.0, 60)], 0.5)
    new = made(CHASE, FULL, rules=(key(60, "full"),))
    assert lit(play.advance([NewMapping(0.5, new, keep=False)], 0.5)) == [0, 0, 255, 0]


def test_rates_agree() -> None:
    """At 25 and at 40 frames a second, moments in common show the same bytes, whatever is played."""

    def show(hz: int) -> dict[float, bytes]:
        textures = (
            Texture("drift", "drift", ALL, hz=0.4, run=True), replace(STEPS, mix="add", strength=0.4),
            flat("left", 1, 0, 0, 0), Texture("right", "wave", ALL, beats=2.0), replace(CHASE, run=False),
        )  # fmt: skip
        play = engine(
            *textures,
            rules=(key(60, "chase", attack=0.7, release=0.9),),
            sets=(SetRule(control(1), "speed"), SetRule(control(2), "tempo", between=(60, 180))),
        )
        events: list[Event] = [on(0.33, 60), cc(1.01, 1, 90), cc(2.2, 2, 80), off(2.41, 60), cc(3.3, 1, 20)]
        out = {}
        for k in range(5 * hz):
            due = [event for event in events if (k - 1) / hz < event.stamp <= k / hz]
            out[k / hz] = play.advance(due, k / hz).slots.tobytes()
        return out

    slow, fast = show(25), show(40)
    common = sorted(slow.keys() & fast.keys())
    assert len(common) == 25
    assert [slow[t] for t in common] == [fast[t] for t in common]


@given(st.lists(st.tuples(st.floats(0, 5), st.integers(60, 64), st.booleans()), max_size=20))
@settings(max_examples=30)
def test_no_texture_stays_lit(moves: list[tuple[float, int, bool]]) -> None:
    """After any presses, release of all leaves only what runs, once every release has run out."""
    modes = ("hold", "latch", "start", "punch", "hold")
    rules = tuple(key(60 + n, "full", mode=mode, release=0.5) for n, mode in enumerate(modes))
    play = engine(FULL, rules=rules)
    events = [on(t, note) if down else off(t, note) for t, note, down in sorted(moves)]
    play.advance(events, 5.0)
    play.advance([Do(5.0, "release_all")], 5.0)
    assert lit(play.advance([], 6.0)) == [0] * 4


def test_a_standing_texture_costs_nothing() -> None:
    """A film of one frame that stands does not keep the engine busy: the frame is the one before."""
    play = engine(replace(FULL, run=True))
    play.advance([], 0.0)
    first = play.advance([], 0.1)
    assert play.advance([], 0.2).slots is first.slots
