"""The sheet in a real browser: nothing over the edge of A4 or on top of another, contrast by WCAG 2.2 AA."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from bridge.shell.files import rig_from_text
from bridge.shell.sheet import POLICY, sheet_html
from tests.shell.sheet.rigs import RIGS

CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), ""
)
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run")
A4 = (794, 1123)
"""Pixels of A4 at 96 to the inch."""

MEASURE = r"""
<script>
const parse = c => { const m = c.match(/[\d.]+/g).map(Number);
  return m.length > 3 && m[3] === 0 ? null : m; };
const light = c => { const l = c.slice(0, 3).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 :
  ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]; };
const contrast = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p);
  return (x + 0.05) / (y + 0.05); };
const behind = e => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor);
  if (c) return c; } return [255, 255, 255]; };
const inside = getComputedStyle(document.body), edge = document.body.getBoundingClientRect().right
  - parseFloat(inside.paddingRight) + 1;
const over = [], lows = [], clipped = [], small = [];
for (const e of document.body.querySelectorAll("*")) {
  const r = e.getBoundingClientRect();
  if (r.width && r.right > edge) over.push(e.tagName + " " + e.textContent.slice(0, 40));
  if (e.tagName === "TD" && e.scrollWidth > e.clientWidth + 1) clipped.push(e.textContent);
}
const fills = [[255, 255, 255], ...[...document.querySelectorAll("circle")].map(
  c => parse(getComputedStyle(c).fill))];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const e = walker.currentNode.parentElement, style = getComputedStyle(e);
  if (!walker.currentNode.data.trim() || e.tagName === "SCRIPT") continue;
  const drawn = e.tagName === "text";
  const grounds = drawn ? fills : [behind(e)];
  const least = Math.min(...grounds.map(g => contrast(parse(drawn ? style.fill : style.color), g)));
  lows.push(least);
  small.push(parseFloat(style.fontSize) * (drawn ? 96 / 25.4 : 1) * 72 / 96);
}
const boxes = [...document.querySelectorAll("figure text")].map(t => t.getBoundingClientRect());
let touching = 0;
boxes.forEach((a, i) => boxes.slice(i + 1).forEach(b => {
  // The frame of a text is taller than its letters.
  const trim = 0.22 * Math.min(a.height, b.height);
  const across = a.left < b.right && b.left < a.right;
  if (across && a.top + trim < b.bottom - trim && b.top + trim < a.bottom - trim) touching++; }));
document.title = JSON.stringify({ wide: document.documentElement.scrollWidth, over, clipped, touching,
  contrast: Math.min(...lows), smallest: Math.min(...small), texts: lows.length, before: document.title });
</script>
"""


@pytest.fixture(scope="module", autouse=True)
def _needs_chromium() -> None:
    if not CHROMIUM:
        reason = "Chromium is not installed (apt install chromium)"
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
            pytest.fail(reason)
        pytest.skip(reason)


def browse(folder: Path, page: str, *ask: str) -> str:
    """What Chromium writes of a page."""
    file = folder / "sheet.html"
    file.write_text(page, encoding="utf-8")
    done = subprocess.run(
        [CHROMIUM, *FLAGS, f"--user-data-dir={folder / 'profile'}", *ask, file.as_uri()],
        capture_output=True,
        timeout=90,
        check=True,
    )
    return done.stdout.decode("utf-8")


def measured(folder: Path, rig: str) -> dict[str, Any]:
    """What the sheet of a rig measures on A4."""
    page = sheet_html(rig_from_text(rig)[0])
    assert page.count(POLICY) == 1
    # Our own script needs leave that the page gives to none.
    open_page = page.replace(POLICY, "").replace("</body>", MEASURE + "</body>")
    dom = browse(folder, open_page, f"--window-size={A4[0]},{A4[1]}", "--dump-dom")
    title = re.search(r"<title>(.*?)</title>", dom, re.DOTALL)
    assert title is not None
    found: dict[str, Any] = json.loads(unescape(title[1]))
    return found


@pytest.mark.parametrize("name", ["boathouse", "large", "hostile"])
def test_the_sheet_fits_and_reads(name: str, tmp_path: Path) -> None:
    """Nothing over the edge or cut off, no label on another, contrast 4.5 and 4.8 points at least."""
    found = measured(tmp_path, RIGS[name])
    assert found["wide"] <= A4[0]
    assert found["over"] == []
    assert found["clipped"] == []
    assert found["touching"] == 0
    assert found["contrast"] >= 4.5
    assert found["smallest"] >= 4.8
    assert found["texts"] > 30
    assert "owned" not in found["before"].split("wiring sheet")[1]


@pytest.mark.parametrize(("name", "sheets"), [("boathouse", 1), ("large", 4)])
def test_it_prints_on_few_sheets(name: str, sheets: int, tmp_path: Path) -> None:
    """The boathouse is one sheet of A4; 246 lamps are four."""
    page = sheet_html(rig_from_text(RIGS[name])[0])
    browse(tmp_path, page, "--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'out.pdf'}")
    pdf = (tmp_path / "out.pdf").read_bytes()
    assert re.findall(rb"/Count (\d+)", pdf) == [str(sheets).encode()]
    (box,) = set(re.findall(rb"/MediaBox ?\[([^\]]*)\]", pdf))
    wide, tall = (float(number) for number in box.split()[2:])
    assert abs(wide - 595) < 1.5
    assert abs(tall - 842) < 1.5
