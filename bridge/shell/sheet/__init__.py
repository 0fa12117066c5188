"""The sheet a person takes up the ladder: the rig drawn, its patch to tick off, loads and cautions, on A4.

Other folders take `sheet_html` and `write_sheet`; the rest may change.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from bridge.shell.cautions import cautions
from bridge.shell.guard_lines import off_lines
from bridge.shell.sheet.inks import letters, tint
from bridge.shell.sheet.loads import bars, cables, warnings
from bridge.shell.sheet.picture import RINGS, TALLEST, Drawing, draw
from bridge.shell.sheet.style import STYLE
from bridge.shell.sheet.tables import parts, patch
from bridge.shell.sums.loads import counted
from bridge.shell.whole_file import whole_file
from bridge.values.errors import UsageError
from bridge.values.rig import Rig

SHEET = 273.0
"""Millimetres between the margins of A4."""

SMALLEST_PICTURE = 60.0

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""Nothing on the sheet may load or run anything, whatever a name in a rig file says."""


def must_be_page(path: Path) -> None:
    """Refuse a name that is none of a page.

    Raises:
        UsageError: the name does not end in .html.
    """
    if path.suffix.lower() not in (".html", ".htm"):
        raise UsageError(
            f"the sheet is a page: write --sheet {path.with_suffix('.html').name}, open it in a browser and "
            "print it, to paper or to PDF"
        )


def write_sheet(rig: Rig, path: Path) -> None:
    """Write the sheet of a rig.

    Raises:
        UsageError: the name does not end in .html.
        DeviceError: the file cannot be written.
    """
    must_be_page(path)
    with whole_file(path) as file:
        file.write(sheet_html(rig).encode())


def sheet_html(rig: Rig) -> str:
    """The page as text; everything that comes from the file is escaped."""
    name = escape(rig.name or "Rig")
    drawing, left = _planned(rig)
    # The cautions before the patch: whoever stands on the ladder holds the first page.
    body = [_header(rig), _warnings(rig), _figure(rig, drawing), _cautions(rig), _loads(rig), cables(rig)]
    body += ["<h2>Patch</h2>", _lines(rig), patch(rig, left, SHEET)]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f'<meta name="viewport" content="width=device-width"><title>{name}: wiring sheet</title>'
        f"<style>{STYLE}</style></head>\n<body>\n"
        + "\n".join(part for part in body if part)
        + "\n</body></html>\n"
    )


def _header(rig: Rig) -> str:
    counts = [counted(len(rig.lamps), "lamp"), counted(len(rig.universes), "universe")]
    if rig.decoders:
        counts.append(counted(len(rig.decoders), "decoder"))
    if rig.supplies:
        counts.append(f"{len(rig.supplies)} {'supply' if len(rig.supplies) == 1 else 'supplies'}")
    lines = "".join(f"{word}<span></span>" for word in ("wired by", "checked by", "date"))
    return (
        f'<header><div class="top"><h1>{escape(rig.name or "Rig")}</h1>'
        f"<p>Wiring sheet: {', '.join(counts)}</p></div>"
        f'<div class="sign-off">{lines}</div></header>'
    )


def _warnings(rig: Rig) -> str:
    found = [*warnings(rig), *off_lines(rig)]
    if not found:
        return ""
    items = "".join(f"<li>{escape(text)}</li>" for text in found)
    return f'<div class="warn"><b>Look at this first</b><ul>{items}</ul></div>'


def _planned(rig: Rig) -> tuple[Drawing, float]:
    """The picture, as tall as one sheet lets it be, and the millimetres then left for the patch.

    A plan by rule of thumb: the browser does the setting, and nothing is cut where the plan is a little off.
    """
    rows = sum(1 if part.lamps else 0 for part in parts(rig)) * 10.0
    rows += (
        sum(-(-len(part.lamps) // 2) if len(part.lamps) > 4 else len(part.lamps) for part in parts(rig)) * 5.0
    )
    said = sum(-(-len(text) // 68) for text in cautions(rig)) / 2 * 3.3 + 12.0
    told = sum(-(-len(text) // 115) for text in (*warnings(rig), *off_lines(rig))) * 3.8
    loads = len(rig.supplies) * 12.5 + 14.0 if rig.supplies else 0.0
    runs = len(rig.cables) * 5.5 + 10.0 if rig.cables else 0.0
    above = 27.0 + told + loads + runs
    left = SHEET - above - rows - said
    drawing = draw(rig, left if left >= SMALLEST_PICTURE else TALLEST)
    return drawing, SHEET - above - drawing.tall - (14.0 if rig.dmx else 9.0)


def _lines(rig: Rig) -> str:
    """The data lines, as far as the file tells."""
    said = [
        f"Universe {line.universe}: {counted(line.devices, 'receiver')} on {line.length_m:g} m of data line, "
        + ("a terminator at its far end." if line.terminated else "NO terminator in the file: put one in.")
        for line in rig.dmx
    ]
    return f'<p class="none">{" ".join(said)}</p>' if said else ""


def _figure(rig: Rig, drawing: Drawing) -> str:
    if not drawing.svg:
        return ""
    signs = letters(lamp.colour for lamp in rig.lamps)
    keys = "".join(
        f'<span class="key"><span class="swatch" style="background:{tint(colour)}">{sign}</span> '
        f"{escape(colour)}</span>"
        for colour, sign in signs.items()
    )
    slots = "universe/slot" if len(rig.universes) > len(RINGS) else "its slot"
    rings = "".join(
        f" Universe {universe}: {ring} ring." for universe, ring in zip(rig.universes, RINGS, strict=False)
    )
    rings = rings if 1 < len(rig.universes) <= len(RINGS) else ""
    left_out = ""
    if drawing.nameless or drawing.numberless:
        left_out = " Names or slots without room are in the patch below."
    return (
        f"<figure>{drawing.svg}<figcaption>As the audience sees it; the number in a lamp is {slots}, "
        f"the letter its colour. {keys}{rings}{left_out}</figcaption></figure>"
    )


def _loads(rig: Rig) -> str:
    if not rig.supplies:
        return ""
    legend = (
        '<p class="legend">'
        "Dark: typical, every lamp at level 0.5. Grey: worst case, every lamp at its ceiling. "
        "Dashed: connected, the peak of pulse-width dimming. Frame: what the supply gives. "
        "Thick line: what may be used.</p>"
    )
    return f"<h2>Supplies</h2>{bars(rig)}{legend}"


def _cautions(rig: Rig) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in cautions(rig))
    return (
        f'<div class="last"><h2>Cautions</h2><ul class="cautions">{items}</ul>'
        '<p class="note">Print this page on A4. The figures are a planning aid: the local code and the '
        "makers&#39; sheets decide.</p></div>"
    )
