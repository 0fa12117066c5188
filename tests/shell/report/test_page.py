"""What stands on the page, read back with an HTML parser; how it looks is for test_browser."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.report import Facts, Machine, ShowReport, check_writable
from bridge.shell.report.page import report_html
from bridge.values.beat import Beat, OutputState
from bridge.values.errors import DeviceError, UsageError
from bridge.values.rig import Rig, Supply
from tests.shell.report.shows import MACHINE, RIG, Stage, rough, steady

VOID = {"meta", "rect", "line", "path"}
KNOWN = {"html", "head", "meta", "title", "style", "body", "main", "header", "footer", "div", "h1", "h2", "p"}
KNOWN |= {"b", "ul", "li", "dl", "dt", "dd", "figure", "figcaption", "svg", "rect", "line", "path", "span"}
KNOWN |= {"table", "caption", "thead", "tbody", "tr", "th", "td", "details", "summary"}
EVIL = "<script>document.title='owned'</script>\"'&</style><img src=x onerror=alert(1)>"


class Reader(HTMLParser):
    """Tags, texts, tables and attributes of a page; fails on tags that do not close."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.rows: list[list[str]] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_startendtag(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        data = data.replace("\u00a0", " ")
        if data.strip() and "style" not in self.open:
            self.texts.append(data.strip())
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data

    def row(self, first: str) -> list[str]:
        """The cells behind that first cell."""
        return next(row[1:] for row in self.rows if row[0] == first)


def page_of(stage: Stage, **more: object) -> Reader:
    """The page of a show."""
    return Reader(report_html(stage.report, stage.facts(**more)))


def test_a_steady_show_reads_so() -> None:
    """The verdict, the figures and the tables say what was counted."""
    page = page_of(steady(60.0))
    assert page.texts[0] == "an evening song: report of the show"
    assert "Steady: every frame came within 1 ms of its moment." in page.texts
    assert "All 120 were on the wire within the limit." in page.texts
    assert page.row("sacn, steady")[-2:] == ["120", "26.0 ms"]
    assert page.row("sacn") == ["25.0 ms", *page.row("sacn")[1:4], "2,399"]
    assert page.row("load") == ["limit", "3 times", "moments", ""]
    assert page.row("heat") == ["warn", "never", "", "it only tells; everything goes out"]
    assert page.row("real-time priority") == ["yes: real-time priority (SCHED_FIFO 10)"]
    assert page.row("cores") == ["2"]
    assert page.row("rig") == ["24 lamps on 1 universe"]


def test_a_rough_show_tells_all_of_it() -> None:
    """Reasons, the worst frames with their song, an output's downs with reason and time, currents."""
    stage = rough(460.0)
    page = page_of(stage)
    late, out, *_ = page.row("our own work")
    assert int(late) == stage.report.lates.turns[next(iter(stage.report.lates.turns))] > 100
    assert int(out) > 0
    assert page.row("the machine slept or stood still")[:2] == ["1", "1,600"]
    assert ["5:00.0 to 5:42.0", "down", "ttyUSB0 does not answer; plug the adapter in again"] in [
        row[1:] for row in page.rows
    ]
    assert any("Harbour lights at 8:00" in row for row in page.rows)
    assert page.row("quay")[1:] == ["20.00 A", "25 A"]
    assert page.texts.count("The numbers") == 2 + 4
    assert "not known" not in page.texts


def test_each_picture_says_what_it_shows() -> None:
    """Every chart has its words for who cannot see it, and the page its language and its title."""
    page = page_of(rough(30.0))
    pictures = page.tags.count("svg")
    named = [value for name, value in page.attributes if name == "aria-label"]
    assert len(named) == pictures > 5
    assert all(named)
    assert ("lang", "en") in page.attributes
    assert page.tags.count("h1") == page.tags.count("main") == page.tags.count("title") == 1
    assert page.tags.count("caption") == page.tags.count("table")


def test_safety_comes_first() -> None:
    """A guard that is off, or only warns of flashes, stands above everything else; else there is no frame."""
    off = Rig("r", RIG.lamps, guards={"load": "limit", "flash": "off", "heat": "warn"})
    html = report_html(steady(1.0).report, steady(1.0).facts(rig=off))
    assert html.index("the flash guard is off") < html.index('class="verdict')
    assert "seizures in photosensitive people" in html
    assert "OFF" in Reader(html).row("flash")
    warn = Rig("r", RIG.lamps, guards={"load": "limit", "flash": "warn", "heat": "warn"})
    assert "The flash guard of this rig does not limit" in report_html(
        steady(1.0).report, steady(1.0).facts(rig=warn)
    )
    assert "Before the next show" not in report_html(steady(1.0).report, steady(1.0).facts())


@pytest.mark.parametrize("outputs", [(), ("only",), tuple(f"line {n}" for n in range(40))])
def test_any_number_of_outputs(outputs: tuple[str, ...]) -> None:
    """None, one, or forty: each has its rows, and few enough charts to look through."""
    stage = Stage(outputs=outputs)
    for k in range(100):
        stage.turn(notes=[k / 40.0])
    page = page_of(stage)
    for name in outputs:
        assert page.row(name)
        assert page.row(f"{name}, steady")
    assert page.tags.count("svg") <= 2 + 5 + 8 + 8


@pytest.mark.parametrize("frames", [0, 1, 2])
def test_a_show_that_hardly_began(frames: int) -> None:
    """No frame, one, two: still a page."""
    stage = Stage()
    for _ in range(frames):
        stage.turn()
    assert page_of(stage, interrupted=True, states=[]).texts[1] == "an evening song"


def test_names_can_do_no_harm() -> None:
    """Whatever names and notes hold, only our own tags and attributes stand on the page."""
    stage = Stage(outputs=(EVIL,))
    stage.song = lambda _t: (EVIL, 1.0)  # type: ignore[method-assign]
    stage.report = ShowReport(40.0, [(EVIL, 0.0)], (EVIL,), lambda _t: (EVIL, 1.0))
    for k in range(80):
        stage.states = [OutputState(EVIL, EVIL if k > 40 else "up", EVIL)]
        stage.turn(0.002, notes=[k / 40.0], held=(0.5,))
    stage.report.loads([1.0])
    rig = Rig(EVIL, RIG.lamps, supplies=(Supply(EVIL, 12.0, 2.0),), guards={EVIL: "warn", "flash": "off"})
    facts = Facts(
        EVIL, rig, EVIL, [OutputState(EVIL, "down", EVIL, 1, 1)], {EVIL: (0.1, 2)}, (False, EVIL),
        error=EVIL, program=EVIL, machine=Machine(EVIL, EVIL, 1),
    )  # fmt: skip
    html = report_html(stage.report, facts)
    page = Reader(html)
    assert set(page.tags) <= KNOWN
    assert not [name for name, _ in page.attributes if name.startswith("on") or name in ("src", "href")]
    assert "default-src 'none'" in html
    assert html.count("<style>") == html.count("</style>") == 1


NAMES = st.text(
    st.characters(exclude_categories=("C", "Z"), exclude_characters="/\\"), min_size=1, max_size=40
)


@settings(max_examples=40)
@given(NAMES, NAMES)
def test_any_name_is_escaped(title: str, name: str) -> None:
    """Any printable name comes back from the page as it was, between our own tags."""
    stage = Stage(outputs=(name,))
    stage.turn(notes=[0.0])
    stage.turn()
    page = page_of(stage, title=title)
    assert set(page.tags) <= KNOWN
    assert title in page.texts
    assert name in page.texts


@settings(max_examples=30)
@given(
    st.floats(1.0, 200.0),
    st.floats(0.0, 300.0),  # its own rate
    st.lists(
        st.tuples(st.floats(0.0, 5.0), st.integers(0, 10**7), st.floats(0.0, 5.0), st.integers(0, 3)),
        max_size=30,
    ),
)
def test_any_show_makes_a_page(hz: float, own: float, turns: list[tuple[float, int, float, int]]) -> None:
    """However late, busy and long, it is drawn, and every number on the page is one."""
    stage = Stage(hz, ("a",), own_hz=own)
    for late, skipped, busy, notes in turns:
        stage.turn(late, skipped, busy, [stage.k / hz] * notes)
    html = report_html(stage.report, stage.facts(slept=90.0, error="x"))
    Reader(html)
    assert re.findall(r"\b(?:nan|inf|NaN|Infinity)\b|\d[eE][+-]?\d", html.split("</style>")[1]) == []


def test_it_is_written_whole_and_replaces(tmp_path: Path) -> None:
    """A report that is there is replaced, as any output of ours; nothing else is left in the folder."""
    path = tmp_path / "show.html"
    path.write_text("before", encoding="utf-8")
    stage = steady(1.0)
    stage.report.write(path, stage.facts())
    assert path.read_bytes().startswith(b"<!doctype html>")
    assert [one.name for one in tmp_path.iterdir()] == ["show.html"]


def test_a_folder_that_has_gone_is_told(tmp_path: Path) -> None:
    """What cannot be written at the end is the one error of devices."""
    stage = steady(1.0)
    with pytest.raises(DeviceError, match=r"cannot write .*show\.html"):
        stage.report.write(tmp_path / "gone" / "show.html", stage.facts())


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("show.png", r"write --report show\.html"),
        ("show", r"write --report show\.html"),
        ("gone/show.html", "there is no folder"),
        ("folder.html", "that is a folder"),
    ],
)
def test_a_name_that_cannot_be_is_refused_before_the_show(name: str, told: str, tmp_path: Path) -> None:
    """No page's name, no folder to write in, or a folder: told before the first frame, and what would do."""
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(UsageError, match=told):
        check_writable(tmp_path / name)


def test_a_folder_that_takes_no_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that is there and may not be written in; a good one is left as it was."""
    import tempfile

    check_writable(tmp_path / "show.html")
    assert list(tmp_path.iterdir()) == []

    def refuse(**_: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    # The tests may run as root, whom no folder refuses.
    monkeypatch.setattr(tempfile, "NamedTemporaryFile", refuse)
    with pytest.raises(UsageError, match="it cannot be written there: Permission denied"):
        check_writable(tmp_path / "show.html")


@pytest.mark.parametrize("length", [240, 250, 300, 5000])
def test_a_name_too_long_for_the_disk_is_refused_in_one_line(length: int, tmp_path: Path) -> None:
    """Also one that would do, but not while the page is being written beside its place."""
    with pytest.raises(UsageError, match=r"[Nn]ame too long; "):
        check_writable(tmp_path / ("a" * length + ".html"))
    assert list(tmp_path.iterdir()) == []


def test_a_report_never_replaces_the_take_of_its_show(tmp_path: Path) -> None:
    """The name of the recording is refused, however it is spelled; any other will do."""
    (tmp_path / "in").mkdir()
    take = tmp_path / "show.html"
    with pytest.raises(UsageError, match="that is where the show is recorded to"):
        check_writable(tmp_path / "in" / ".." / "show.html", take)
    check_writable(tmp_path / "other.html", take)


def test_a_show_without_a_frame_claims_nothing() -> None:
    """Ended before its first frame: no frame is called in time, and no output down all along."""
    page = page_of(Stage())
    assert "There was no frame that could be late." in page.texts
    assert page.row("sacn")[0] == "not seen"


def test_the_facts_of_this_machine_stand_unless_given() -> None:
    """A report needs no more than a title and a rig."""
    report = ShowReport(40.0)
    report.turn(Beat(0, 0.0), 0.0, 0.0)
    html = report_html(report, Facts("x", RIG))
    assert "not known" in html
    assert report_html(report, Facts("x", RIG, machine=MACHINE)) != html
