"""What stands on the sheet, read back with an HTML parser; how it looks is for test_browser."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.colours import COLOURS
from bridge.shell.cautions import cautions
from bridge.shell.files import rig_from_text
from bridge.shell.sheet import sheet_html, write_sheet
from bridge.shell.sheet.inks import LETTERS, letters, tint
from bridge.shell.sheet.picture import WIDE, draw
from bridge.shell.sheet.tables import dip, parts
from bridge.values.errors import DeviceError, UsageError
from bridge.values.rig import Lamp, Rig
from tests.shell.sheet.rigs import BOATHOUSE, HOSTILE, LARGE, RIGS

VOID = {"meta", "rect", "circle", "line"}
KNOWN = {"html", "head", "meta", "title", "style", "body", "header", "div", "section", "h1", "h2", "h3", "p"}
KNOWN |= {"span", "b", "ul", "li", "figure", "figcaption", "svg", "rect", "circle", "line", "text"}
KNOWN |= {"table", "thead", "tbody", "tr", "th", "td"}


class Reader(HTMLParser):
    """Tags, texts and attributes of a page; fails on tags that do not close."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.attributes: set[str] = set()
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if data.strip() and "style" not in self.open:
            self.texts.append(data.strip())


def page_of(text: str) -> Reader:
    """The sheet of a rig's text."""
    return Reader(sheet_html(rig_from_text(text)[0]))


@pytest.mark.parametrize("name", RIGS)
def test_every_lamp_has_its_row_and_box(name: str) -> None:
    """Each lamp stands once in the patch, by slot, with a box to tick; all cautions are there."""
    rig = rig_from_text(RIGS[name])[0]
    page = Reader(sheet_html(rig))
    rows = [lamp.name for part in parts(rig) for lamp in part.lamps]
    assert sorted(rows) == sorted(lamp.name for lamp in rig.lamps)
    assert all(
        [lamp.slot for lamp in part.lamps] == sorted(lamp.slot for lamp in part.lamps) for part in parts(rig)
    )
    html = sheet_html(rig)
    assert html.count('class="box"') == len(rig.lamps) + len(rig.cables)
    for lamp in rig.lamps:
        assert lamp.name in page.texts
    for caution in cautions(rig):
        assert caution in page.texts


def test_names_can_do_no_harm() -> None:
    """Whatever names hold, only our own tags and attributes stand on the page, and nothing may run."""
    page = page_of(HOSTILE)
    assert set(page.tags) <= KNOWN
    assert not [name for name in page.attributes if name.startswith("on") or name in ("src", "href")]
    html = sheet_html(rig_from_text(HOSTILE)[0])
    assert "default-src 'none'" in html
    assert html.count("<style>") == html.count("</style>") == 1


NAMES = st.text(
    st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs")),
    min_size=1,
    max_size=40,
)


@settings(max_examples=40)
@given(NAMES, NAMES)
def test_any_name_is_escaped(name: str, kind: str) -> None:
    """Any printable name comes back from the page as it was, between our own tags."""
    lamps = (Lamp(name, 0, 1, 1, kind=kind), Lamp("b", 1, 2, 512, at=(1.0, 0.0), colour="#00ff00"))
    page = Reader(sheet_html(Rig(name, lamps)))
    assert set(page.tags) <= KNOWN
    assert {name, kind} <= set(page.texts)


def test_warnings_come_first() -> None:
    """What the sums warn of, and guards that are off, stand in a frame above everything else."""
    html = sheet_html(rig_from_text(LARGE)[0])
    frame = html.index("Look at this first")
    assert frame < html.index("<figure>")
    assert "trunk: 16 % lost" in html
    assert "the flash guard is off" in html
    assert "an open end reflects" in html
    assert "Look at this first" not in sheet_html(rig_from_text(BOATHOUSE)[0])


def test_a_decoder_shows_its_switches() -> None:
    """A decoder has its address with nine switches and its lamps their outputs; a bare lamp has switches."""
    html = sheet_html(rig_from_text(LARGE)[0])
    assert f"address 097 {dip(97)}" in html
    assert 'aria-label="switches on: 1, 6, 7"' in dip(97)
    assert dip(97).count('class="on"') == 3
    assert dip(97).count('class="off"') == 6
    assert html.count("<th>output</th>") >= 3
    assert "<th>switches 1 to 9</th>" in html
    assert "512" in dip(512)


def test_colours_are_told_apart_without_colour() -> None:
    """Every colour has a letter of its own, unnamed ones a number; a tint leaves black print legible."""
    assert set(LETTERS) == set(COLOURS)
    signs = letters([*COLOURS, "#010203", "#ffffff", "#010203"])
    assert len(set(signs.values())) == len(signs) == len(COLOURS) + 2
    for colour in [*COLOURS, "#000000"]:
        light = [int(tint(colour)[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in light]
        luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        assert (luminance + 0.05) / 0.05 >= 4.5, colour


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.integers(1, 512), st.integers(1, 6)),
        min_size=1,
        max_size=40,
    )
)
def test_lamps_lie_within_the_picture(lamps: list[tuple[float, float, int, int]]) -> None:
    """Wherever lamps hang, each is drawn once, whole, in the picture, and what has no room is counted."""
    rig = Rig("any", tuple(Lamp(f"l{i}", i, u, s, at=(x, y)) for i, (x, y, s, u) in enumerate(lamps)))
    drawing = draw(rig)
    circles = re.findall(r'<circle cx="([-\d.]+)" cy="([-\d.]+)" r="([\d.]+)"', drawing.svg)
    assert len(circles) == len(lamps)
    for cx, cy, r in ((float(a), float(b), float(c)) for a, b, c in circles):
        assert r - 0.01 <= cx <= WIDE - r + 0.01
        assert r - 0.01 <= cy <= drawing.tall - r + 0.01
    assert drawing.svg.count('class="name"') == len(lamps) - drawing.nameless
    assert drawing.svg.count('class="slot"') == len(lamps) - drawing.numberless


def test_left_is_left_and_up_is_up() -> None:
    """x runs to the right and y up, as the audience sees it."""
    rig = Rig("two", (Lamp("low left", 0, 1, 1), Lamp("high right", 1, 1, 2, at=(2.0, 1.0))))
    (x0, y0), (x1, y1) = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)"', draw(rig).svg)
    assert float(x0) < float(x1)
    assert float(y0) > float(y1)


def test_the_file_is_written_whole(tmp_path: Path) -> None:
    """The page lands under its name; another kind of file, or no such folder, is refused in words."""
    rig = rig_from_text(BOATHOUSE)[0]
    write_sheet(rig, tmp_path / "sheet.html")
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8") == sheet_html(rig)
    with pytest.raises(UsageError, match=r"write --sheet sheet\.html, open it in a browser and print it"):
        write_sheet(rig, tmp_path / "sheet.pdf")
    with pytest.raises(DeviceError, match="cannot write"):
        write_sheet(rig, tmp_path / "nowhere" / "sheet.html")
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.html"]
