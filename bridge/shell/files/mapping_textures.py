"""Knows: how the section `textures`, and the rules under `keys` that play one, become values.

Must never know: other rules, how a texture is drawn, how a picture is decoded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.parts.colours import linear, share
from bridge.parts.textures import TEXTURES, USUAL, USUAL_HZ
from bridge.shell.files.check import Item, check, entries, items
from bridge.shell.files.mapping_shared import Shared
from bridge.shell.files.nodes import Node, Scalar, Table
from bridge.shell.files.note_sets import notes_of
from bridge.shell.files.report import quote
from bridge.shell.files.texture_model import DARK, MADE, SHOWN, SOURCES, TextureEntry, TextureKeyEntry
from bridge.shell.pictures import PictureError, missing_of, plan_for, seen_by_lamps
from bridge.values.mapping import Feel
from bridge.values.rig import Lamp, Lamps, Rig
from bridge.values.texture import Film, Options, Settings, Step, Still, Texture, TextureRule

KEY = "key"
"""The centre that is the lamp of the key just struck."""

FLASHES = 3.0
"""Flashes in a second that count as safe (WCAG 2.2, 2.3.1, which is written for screens)."""

FLASHING = ("wave", "rings", "crossing", "glints", "chase", "swell")
"""Kinds that light each lamp once a cycle."""

Textures = dict[str, Texture | None]
"""By name; None for one that could not be read and has been reported."""


@dataclass(frozen=True, slots=True)
class Pictures:
    """From where pictures are named, and whether one that cannot be used is a mistake."""

    folder: Path
    strict: bool = True


def read_textures(top: Table, rig: Rig, shared: Shared, pictures: Pictures) -> Textures:
    """The section `textures`, pictures decoded."""
    read: Textures = {}
    shared.textures = read
    written: dict[str, Item[TextureEntry]] = {}
    for name, node in entries(top, "textures", shared.report):
        if name.raw in (DARK, "none"):
            shared.report.error(
                name, f"a texture called {name.raw}", "the word means no texture; call it else"
            )
        item = check(TextureEntry, node, shared.report, "a texture")
        read[name.raw] = None
        if item is not None:
            written[name.raw] = item
            read[name.raw] = _texture(name.raw, item, rig, pictures, shared)
    for name_, item in written.items():
        _check_steps(name_, item, written, shared)
    return read


def _texture(
    name: str, item: Item[TextureEntry], rig: Rig, pictures: Pictures, shared: Shared
) -> Texture | None:
    entry = item.value
    lamps = tuple(lamp.index for lamp in rig.lamps)
    if entry.lamps is not None:
        lamps = shared.names.resolve(entry.lamps, shared.report)
    given = [key for key in SOURCES if key in item.node]
    if len(given) != 1 and item.good(*SOURCES):
        what = f"a texture has both {' and '.join(given)}" if given else "a texture shows nothing"
        shared.report.error(item.node, what, "give one of kind, picture, steps")
    if len(given) != 1:
        return None
    _check_keys(item, given[0], shared)
    centre, at_key = _centre(item, rig, shared)
    kind = entry.kind or "steps"
    usual = USUAL.get(kind, Settings())
    settings = Settings(
        usual.scale if entry.scale is None else entry.scale,
        usual.direction if entry.direction is None else entry.direction,
        usual.amount if entry.amount is None else entry.amount,
        usual.width if entry.width is None else entry.width,
        _middle(lamps, rig.lamps) if centre is None else centre,
    )
    texture = Texture(
        name,
        kind,
        lamps,
        hz=entry.hz if entry.hz is not None else USUAL_HZ.get(kind, 0.0),
        beats=entry.beats or 0.0,
        backwards=entry.backwards,
        settings=settings,
        options=Options(entry.seed, entry.profile, entry.count, entry.angle),
        tint=_tint(entry.colour, [rig.lamps[lamp] for lamp in lamps]),
        between=entry.between,
        strength=entry.strength,
        mix=entry.mix,
        mask="of_keys" if entry.masks else "keys" if entry.masked_by else "",
        run=entry.run,
        fade=entry.fade_ms / 1000.0,
        at_key=at_key,
        line=item.node.line,
    )
    if entry.steps is not None:
        steps = tuple(
            Step("" if step.name.raw == DARK else step.name.raw, step.beats, step.fade)
            for step in entry.steps
        )
        return replace(texture, kind="steps", steps=steps, beats=sum(step.beats for step in steps))
    if entry.picture is not None:
        return _with_picture(texture, item, rig, pictures, shared)
    return texture if kind in TEXTURES else None


def _check_keys(item: Item[TextureEntry], source: str, shared: Shared) -> None:
    """Report keys that have no bearing on what the texture shows."""
    idle = {"kind": SHOWN, "picture": MADE, "steps": (*MADE, *SHOWN, "hz", "beats", "direction")}[source]
    for key in idle:
        if key in item.node and item.good(key):
            shared.report.warn(item.node.keys_at[key], f"{key} does nothing beside {source}", "take it out")
    if "hz" in item.node and "beats" in item.node and item.good("hz", "beats"):
        shared.report.error(item.node.keys_at["beats"], "both hz and beats", "give one")
    entry = item.value
    if entry.kind in FLASHING and (entry.hz or 0.0) > FLASHES:
        what = f"{entry.hz:g} cycles a second light a lamp more than three times a second"
        right = "that can bring on a seizure, and the flash guard holds it back; give 3 or less"
        shared.report.warn(item.node.place("hz"), what, right)
    if item.value.masks and item.value.masked_by:
        shared.report.error(item.node.keys_at["masked_by"], "both masks and masked_by", "give one")


def _centre(item: Item[TextureEntry], rig: Rig, shared: Shared) -> tuple[tuple[float, float] | None, bool]:
    """The centre in metres, None where the file gives none; and whether it is that of the key."""
    centre = item.value.centre
    if not isinstance(centre, Scalar):
        return centre, False
    if centre.raw == KEY:
        return None, True
    lamps = shared.names.resolve([centre], shared.report)
    return _middle(lamps, rig.lamps), False


def _middle(lamps: Lamps, rig: Sequence[Lamp]) -> tuple[float, float]:
    """The middle of the outline of some lamps."""
    xs, ys = [rig[lamp].at[0] for lamp in lamps], [rig[lamp].at[1] for lamp in lamps]
    return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2) if lamps else (0.0, 0.0)


def _tint(colour: str | None, lamps: Sequence[Lamp]) -> tuple[float, ...]:
    """The share of a colour that each lamp can show: white lamps all of it."""
    if colour is None:
        return ()
    light = linear(colour)
    top = max(*light, 1e-9)
    white = share("white")
    shares = [share(lamp.colour) for lamp in lamps]
    tint = [
        1.0 if each == white else min(1.0, sum(w * c / top for w, c in zip(each, light, strict=True)))
        for each in shares
    ]
    return tuple(tint)


def _with_picture(
    texture: Texture, item: Item[TextureEntry], rig: Rig, pictures: Pictures, shared: Shared
) -> Texture | None:
    entry = item.value
    lamps = [rig.lamps[lamp] for lamp in texture.lamps]
    if not lamps or entry.picture is None:
        return None
    moves = bool(entry.hz or entry.beats)
    plan = plan_for(lamps, entry.fit, entry.area, entry.radius, entry.blend, moves)
    try:
        seen: Film | Still = seen_by_lamps(pictures.folder / entry.picture, plan)
    except PictureError as error:
        tell = shared.report.error if pictures.strict else shared.report.warn
        tell(item.node.place("picture"), f"{quote(entry.picture)}: {error.what}", error.right)
        return None
    if missing := missing_of(pictures.folder / entry.picture, seen):
        shared.report.warn(
            item.node.place("picture"), f"{quote(entry.picture)}: {missing}", "copy or save it again"
        )
    if isinstance(seen, Still):
        return replace(texture, kind="still", still=seen)
    hz = texture.hz
    if entry.hz is None and len(seen.starts) > 1:
        hz = 1.0 / seen.length
    return replace(texture, kind="film", film=seen, hz=hz)


def _check_steps(
    name: str, item: Item[TextureEntry], known: dict[str, Item[TextureEntry]], shared: Shared
) -> None:
    """Report steps that are no textures, or sequences themselves."""
    for step in item.value.steps or ():
        if step.name.raw == DARK:
            continue
        if step.name.raw not in known:
            shared.report.unknown(step.name, "texture", step.name.raw, [*known, DARK])
        elif known[step.name.raw].value.steps is not None:
            what = "itself" if step.name.raw == name else "a sequence"
            shared.report.error(
                step.name, f"the step {quote(step.name.raw)} is {what}", "give a kind or a picture"
            )


def plays_texture(node: Node) -> bool:
    """True for a rule under `keys` that plays a texture."""
    return isinstance(node, Table) and "texture" in node


def read_texture_keys(top: Table, textures: Textures, shared: Shared) -> tuple[TextureRule, ...]:
    """The rules under `keys` that play a texture."""
    rules = []
    for node in items(top, "keys", shared.report):
        item = check(TextureKeyEntry, node, shared.report, "a rule") if plays_texture(node) else None
        if item is not None:
            rules.append(_rule(item, textures, shared))
    return tuple(rules)


def _rule(item: Item[TextureKeyEntry], textures: Textures, shared: Shared) -> TextureRule:
    entry = item.value
    if item.good("texture"):
        shared.texture(entry.texture)
    if entry.fade_ms is not None and entry.feel is not None:
        shared.report.error(item.node.keys_at["fade_ms"], "both feel and fade_ms", "give one")
    notes = notes_of(entry.notes, shared.middle_c, shared.report)
    at = shared.names.resolve(entry.at or (), shared.report)
    found = textures.get(entry.texture.raw)
    if entry.fade_ms is not None:
        feel, feel_name = Feel(entry.fade_ms / 1000.0, 0.0, 1.0, entry.fade_ms / 1000.0), ""
    elif entry.feel is not None:
        feel, feel_name = shared.feel_of(entry.feel) or Feel(), entry.feel.raw
    else:
        fade = found.fade if found is not None else 0.0
        feel, feel_name = Feel(fade, 0.0, 1.0, fade), ""
    if found is not None and found.at_key and not at and item.good("at"):
        what = f"{quote(found.name)} has its centre at the key, and this rule says no lamps for its notes"
        shared.report.warn(item.node, what, "say at: and lamps, one for each note")
    return TextureRule(
        notes=notes,
        texture=entry.texture.raw,
        lamps=tuple((at[n % len(at)],) for n in range(len(notes))) if at else (),
        mode=entry.mode,
        attack=feel.attack,
        decay=feel.decay,
        sustain=feel.sustain,
        release=feel.release,
        feel_name=feel_name,
        velocities=entry.velocity,
        curve=shared.curve if entry.curve is None else entry.curve,
        between=entry.between,
        pedal=entry.pedal == "follow",
        channel=entry.channel,
        source=shared.source(entry.source),
        line=item.node.line,
    )


def warn_unseen(top: Table, textures: Textures, shared: Shared) -> None:
    """Warn of textures that nothing shows."""
    in_steps = {step.texture for texture in textures.values() if texture for step in texture.steps}
    for name, _ in entries(top, "textures", shared.report):
        texture = textures.get(name.raw)
        if texture is not None and not texture.run and name.raw not in shared.shown | in_steps:
            what = f"nothing shows the texture {quote(name.raw)}"
            shared.report.warn(name, what, "say run: true, or name it in a rule or in steps")
