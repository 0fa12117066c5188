"""The page in a real browser: it fits a laptop, a phone and paper, reads well, and its policy holds."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bridge.values.rig import Rig
from tests.shell.page.browsers import CHROMIUM, FLAGS, SIZES, missing
from tests.shell.report.shows import RIG, Stage, rough, steady
from tests.shell.report.test_page import EVIL

MEASURE = r"""() => {
  const parse = (c) => { const m = c.match(/[\d.]+/g).map(Number);
    return m.length > 3 && m[3] === 0 ? null : m; };
  const light = (c) => { const l = c.slice(0, 3).map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 :
    ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]; };
  const contrast = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p);
    return (x + 0.05) / (y + 0.05); };
  const behind = (e) => { for (; e; e = e.parentElement) {
    const c = parse(getComputedStyle(e).backgroundColor); if (c) return c; } return [255, 255, 255]; };
  let low = 99, small = 99, texts = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const e = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || e.closest(".unseen")) continue;
    texts += 1;
    low = Math.min(low, contrast(parse(getComputedStyle(e).color), behind(e)));
    small = Math.min(small, parseFloat(getComputedStyle(e).fontSize));
  }
  const edge = document.body.getBoundingClientRect().right;
  const over = [...document.querySelectorAll("svg, p, h1, h2, figure, dd, .plot, .wide, .xs span")].filter(
    (e) => e.getBoundingClientRect().right > edge + 1).map((e) => e.tagName + e.textContent.slice(0, 30));
  // Bars against the paper: a graphic needs 3 to 1.
  const bars = [...document.querySelectorAll("svg .bar, svg .late, svg .up, svg .notes")].map(
    (e) => contrast(parse(getComputedStyle(e).fill), [255, 255, 255]));
  const marks = [...document.querySelectorAll(".xs, .ys")].map((axis) => {
    const boxes = [...axis.children].map((e) => e.getBoundingClientRect());
    const side = axis.className === "xs" ? ["left", "right"] : ["top", "bottom"];
    boxes.sort((a, b) => a[side[0]] - b[side[0]]);
    return boxes.slice(1).filter((b, i) => b[side[0]] < boxes[i][side[1]]).length; });
  return { wide: document.documentElement.scrollWidth, low, small, texts, over, bar: Math.min(...bars),
    touching: marks.reduce((a, b) => a + b, 0), title: document.title };
}"""


def hostile() -> Stage:
    """A show whose names are made to break out."""
    stage = Stage(outputs=(EVIL, "W" * 300))
    for k in range(200):
        stage.turn(0.003 if k % 50 == 0 else 0.0, notes=[k / 40.0])
    return stage


def long() -> Stage:
    """Nearly four hours at two frames a second, with many notes."""
    stage = Stage(2.0)
    for k in range(27_000):
        stage.turn(0.0001 * (k % 7), notes=[k / 2.0] * (k % 5))
    return stage


SHOWS = {"steady": steady, "rough": rough, "hostile": hostile, "long": long}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A headless browser."""
    if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") != "1":
        pytest.importorskip("playwright.sync_api")
    from playwright import sync_api

    if not CHROMIUM:
        missing("Chromium")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Each show's page."""
    folder = tmp_path_factory.mktemp("reports")
    off = Rig("r", RIG.lamps, supplies=RIG.supplies, guards={"load": "limit", "flash": "off", "heat": "warn"})
    for name, make in SHOWS.items():
        stage = make()
        told = {"title": EVIL, "rig": off} if name == "hostile" else {}
        stage.report.write(folder / f"{name}.html", stage.facts(**told))
    return {name: folder / f"{name}.html" for name in SHOWS}


@pytest.mark.parametrize("size", ["laptop", "phone"])
@pytest.mark.parametrize("name", SHOWS)
def test_it_fits_and_reads(name: str, size: str, chromium: Any, pages: dict[str, Path]) -> None:
    """Nothing over the edge, no mark on another, contrast 4.5 (bars 3) to 1, no letter under 10 pixels."""
    width, height = SIZES[size]
    context = chromium.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    told: list[str] = []
    page.on("console", lambda line: told.append(line.text))
    page.on("request", lambda request: told.append(request.url) if request.url[:5] != "file:" else None)
    page.goto(pages[name].as_uri())
    found = page.evaluate(MEASURE)
    context.close()
    assert told == []
    assert found["wide"] <= width
    assert found["over"] == []
    assert found["touching"] == 0
    assert found["low"] >= 4.5
    assert found["bar"] >= 3.0
    assert found["small"] >= 10.0
    assert found["texts"] > 60
    assert found["title"].endswith(": report of the show")


def test_paper_shows_the_numbers_too(chromium: Any, pages: dict[str, Path]) -> None:
    """In print the tables behind the charts stand open, and nothing to press remains."""
    context = chromium.new_context(viewport={"width": 720, "height": 1000})
    page = context.new_page()
    page.goto(pages["rough"].as_uri())
    assert page.locator("details table").first.is_visible() is False
    page.emulate_media(media="print")
    assert page.locator("summary").first.is_visible() is False
    shown = page.locator("details table").first.bounding_box()
    context.close()
    assert shown is not None
    assert shown["height"] > 50
