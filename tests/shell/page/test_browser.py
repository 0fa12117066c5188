"""The page in a real browser: played, taught, darkened, lost and found again, by keyboard alone."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.shell.page.browsers import (
    CHROMIUM,
    FLAGS,
    FOCUS,
    NEWS,
    SPOT,
    Program,
    brightness,
    missing,
    open_page,
    quiet,
)
from tests.shell.page.conftest import BOATHOUSE, wait_for


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A headless browser."""
    api = (
        pytest.importorskip("playwright.sync_api")
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") != "1"
        else None
    )
    if api is None:
        import playwright.sync_api as api
    if not CHROMIUM:
        missing("Chromium")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    """One show for all tests that leave it as it was."""
    folder = tmp_path_factory.mktemp("boathouse")
    for name in ("rig.yaml", "mapping.yaml"):
        shutil.copy(BOATHOUSE / name, folder / name)
    shown = Program(folder)
    shown.folder = folder  # type: ignore[attr-defined]
    yield shown
    shown.stop()


@pytest.fixture
def page(chromium: Any, program: Program) -> Iterator[Any]:
    """The page open and the caution answered; a mistake in its scripts fails the test."""
    yield from open_page(chromium, program.url)


def test_a_chord_of_letters_lights_three_lamps(page: Any, program: Program) -> None:
    """Three letters held at once are a chord: three notes go out, three lamps glow, then fade."""
    for key in "zcb":
        page.keyboard.down(key)
    lamps = ("roof.1.1", "roof.5.1", "roof.2.2")
    wait_for(lambda: all(brightness(page, lamp) > 400 for lamp in lamps))
    played = [wish for wish in program.wishes() if wish["wish"] == "Played"][-3:]
    assert {(wish["port"], wish["note"]) for wish in played} == {
        ("page piano", 48),
        ("page piano", 52),
        ("page piano", 55),
    }
    for key in "zcb":
        page.keyboard.up(key)
    wait_for(lambda: all(brightness(page, lamp) < 120 for lamp in lamps))


def test_touch_is_stronger_at_the_near_edge(chromium: Any, program: Program) -> None:
    """A finger near the player's edge of a key strikes harder than one at the far end; lifted, it lets go."""
    for page in open_page(chromium, program.url, "tablet", has_touch=True):
        box = page.locator(".key.natural").nth(8).bounding_box()
        done = len(program.wishes())
        for share in (0.7, 0.97):
            page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] * share)
        wait_for(lambda: len(program.wishes()) >= done + 4)  # noqa: B023
        soft, off, hard, gone = program.wishes()[done : done + 4]
        assert 60 < soft["velocity"] < hard["velocity"] <= 127
        assert (off["velocity"], gone["velocity"], soft["note"]) == (0, 0, hard["note"])


def test_blackout_is_one_press_away(page: Any, program: Program) -> None:
    """Escape darkens every lamp while a key is held, says so, gives light back; Backspace releases all."""
    page.keyboard.down("q")
    wait_for(lambda: brightness(page, "roof.1.3") > 300)
    page.keyboard.press("Escape")
    wait_for(lambda: brightness(page, "roof.1.3") < 120 and brightness(page, "door") < 80)
    wait_for(lambda: page.locator("#blackout").get_attribute("aria-pressed") == "true")
    assert page.locator("#dark").is_visible()
    assert "Blackout" in page.inner_text("#say")
    page.keyboard.press("Escape")
    wait_for(lambda: brightness(page, "roof.1.3") > 200)
    page.keyboard.press("Backspace")
    wait_for(lambda: program.asked("release_all"))
    quiet(page, "roof.1.3")
    page.keyboard.up("q")


def test_the_master_follows_the_hand(page: Any, program: Program) -> None:
    """The master's slider asks for its level, and shows the level in force."""
    page.locator("#master").focus()
    for _ in range(10):
        page.keyboard.press("ArrowLeft")
    wait_for(lambda: any(abs(wish["value"] - 0.9) < 1e-9 for wish in program.asked("master")))
    assert page.inner_text("#master-word") == "90 %"
    page.keyboard.press("End")
    wait_for(lambda: program.asked("master")[-1]["value"] == 1.0)


def test_a_lamp_pressed_in_the_window_lights(page: Any, program: Program) -> None:
    """Pressing a lamp identifies it for as long as it is pressed."""
    x, y, _ = page.evaluate(SPOT, "roof.3.3")
    done = len(program.asked("light"))
    page.mouse.move(x, y)
    page.mouse.down()
    wait_for(lambda: brightness(page, "roof.3.3") > 500)
    assert page.inner_text("#tag") == "roof.3.3"
    page.mouse.up()
    quiet(page, "roof.3.3")
    assert [(wish["name"], wish["value"]) for wish in program.asked("light")[done:]] == [
        ("roof.3.3", 1),
        ("roof.3.3", 0),
    ]


def test_a_rule_is_taught_and_taken_back(page: Any, program: Program) -> None:
    """A key, a lamp, a word: the rule stands in the file, comments kept, plays at once, can be undone."""
    path: Path = program.folder / "mapping.yaml"  # type: ignore[attr-defined]
    before = path.read_text()
    page.click("[data-sheet=teach]")
    page.keyboard.press("q")
    wait_for(lambda: page.locator("#teach-heard [aria-checked=true]").inner_text() == "C4 · piano")
    x, y, _ = page.evaluate(SPOT, "door")
    page.mouse.click(x, y)
    assert page.locator("#teach-lamps .chip").all_inner_texts() == ["door ×"]
    page.click("#teach-write")
    wait_for(lambda: page.locator("#teach-answer").is_visible())
    line = "  - {notes: C4, from: piano, lamps: door, between: [0.15, 1]}\n"
    after = path.read_text()
    assert after.replace(line, "", 1) == before
    wait_for(lambda: page.locator("[data-is='60']").get_attribute("aria-label") == "C4, plays 2 lamps")
    page.keyboard.down("q")
    wait_for(lambda: brightness(page, "door") > 400)
    page.keyboard.up("q")
    page.click("#teach-undo")
    wait_for(lambda: path.read_text() == before)


def test_a_lamp_is_dragged_to_another_place(page: Any, program: Program) -> None:
    """Dragging the door lamp writes its new place into the rig file, and it is shown there."""
    path: Path = program.folder / "rig.yaml"  # type: ignore[attr-defined]
    before = path.read_text()
    page.click("[data-sheet=teach]")
    page.click("#teach-hang summary")
    page.check("#teach-drag")
    x, y, scale = page.evaluate(SPOT, "door")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + scale, y - scale / 2, steps=4)
    page.mouse.up()
    wait_for(lambda: "name: door, type: workshop, supply: quay, at: [4, 1.1]" in path.read_text())
    page.click("#teach-undo")
    wait_for(lambda: path.read_text() == before)


def test_a_page_finds_its_show_again(chromium: Any, tmp_path: Path) -> None:
    """A show that is gone is said to be; when it is back the page plays on by itself."""
    for name in ("rig.yaml", "mapping.yaml"):
        shutil.copy(BOATHOUSE / name, tmp_path / name)
    program = Program(tmp_path)
    for page in open_page(chromium, program.url):
        program.say("pause")
        wait_for(lambda: "no pictures" in page.inner_text("#weather"))  # noqa: B023
        program.say("resume")
        wait_for(lambda: not page.locator("#weather").is_visible())  # noqa: B023
        program.stop()
        wait_for(lambda: "out of reach" in page.inner_text("#weather"))  # noqa: B023
        assert page.locator("#quay").get_attribute("data-off") == "true"
        page.keyboard.press("q")
        program.start()
        wait_for(lambda: page.locator("#quay").get_attribute("data-off") == "false", 10)  # noqa: B023
        page.keyboard.down("q")
        wait_for(lambda: brightness(page, "roof.1.3") > 300)  # noqa: B023
        page.keyboard.up("q")
        wait_for(
            lambda: (
                [wish["velocity"] > 0 for wish in program.wishes() if wish["wish"] == "Played"]
                == [True, False]
            )
        )
    program.stop()


def test_nothing_flashes_until_it_was_agreed_to(chromium: Any, program: Program) -> None:
    """Before the caution is answered, and where steady light was chosen, a struck lamp rises slowly."""
    for page in open_page(chromium, program.url, live=False, reduced_motion="reduce"):
        assert page.locator("#caution").is_visible()
        assert page.evaluate("document.activeElement.id") == "caution-steady"
        page.keyboard.press("Enter")
        page.keyboard.down("w")
        rises = [0]
        end = time.monotonic() + 0.6
        while time.monotonic() < end:
            rises.append(page.evaluate("window.lampwright.rig.shown[window.lampwright.indexOf('roof.3.3')]"))
            time.sleep(0.05)
        page.keyboard.up("w")
        # 90 of 255 a second at most, where as played it would be there at once.
        assert 10 < rises[-1] < 90
        page.reload()
        page.wait_for_selector(".key")
        assert not page.locator("#caution").is_visible()
        assert page.is_checked("#steady")
    for page in open_page(chromium, program.url, live=False):
        page.keyboard.press("Escape")
        assert page.is_checked("#steady")
        assert not page.locator("#dark").is_visible()


def test_by_keyboard_alone(page: Any, program: Program) -> None:
    """Every control is reached with Tab; keys are walked with arrows and struck with the space bar."""
    seen = set()
    page.evaluate("document.activeElement.blur()")
    for _ in range(40):
        page.keyboard.press("Tab")
        seen.add(page.evaluate(FOCUS))
    assert {"blackout", "release", "master", "teach", "watch", "evening", "hands"} <= seen
    page.locator("[data-is='48']").focus()
    page.keyboard.press("ArrowRight")
    done = len(program.wishes())
    page.keyboard.down(" ")
    wait_for(lambda: len(program.wishes()) == done + 1)
    page.keyboard.up(" ")
    wait_for(lambda: len(program.wishes()) == done + 2)
    assert [(wish["note"], wish["velocity"] > 0) for wish in program.wishes()[done:]] == [
        (49, True),
        (49, False),
    ]


def test_what_the_show_tells_is_shown(page: Any, program: Program) -> None:
    """Mistakes, outputs, loads, guards, songs and takes have their place; their buttons ask."""
    program.say("news " + json.dumps(NEWS))
    page.click("[data-sheet=watch]")
    wait_for(lambda: "did you mean 'bell'" in page.inner_text("#w-notices"))
    assert "no route" in page.inner_text("#w-outputs")
    assert "of 20" in page.inner_text("#w-loads")
    assert "heat · warn" in page.inner_text("#w-guards")
    page.click("[data-sheet=evening]")
    wait_for(lambda: "0:31 of 2:05" in page.inner_text("#e-set"))
    for text in ("Next", "Start", "Record", "Replay", "dusk"):
        page.locator("#evening").get_by_role("button", name=text, exact=True).click()
    wait_for(lambda: program.asked("look"))
    words = [wish["word"] for wish in program.wishes() if wish["wish"] == "Asked"]
    assert words[-5:] == ["set_next", "set_start", "record_on", "replay", "look"]
    assert program.asked("replay")[-1]["name"] == "1"
    wait_for(lambda: page.locator("[data-is=dusk]").get_attribute("aria-pressed") == "true")
    page.locator("#evening").get_by_role("button", name="no look").click()


def test_names_are_text_whatever_they_are(chromium: Any, tmp_path: Path) -> None:
    """A lamp or look named like markup is shown as it is written and does nothing."""
    evil = "<img src=x onerror=alert(1)>"
    (tmp_path / "rig.yaml").write_text(f"rig: '{evil}'\nlamps: [{{name: '{evil}', slot: 1}}]\n")
    (tmp_path / "mapping.yaml").write_text(
        f"keys: [{{notes: 60, lamps: '{evil}'}}]\nlooks: {{'{evil}': {{'{evil}': 1}}}}\n"
    )
    program = Program(tmp_path)
    for page in open_page(chromium, program.url):
        assert page.inner_text("#rig-name") == evil
        page.click("[data-sheet=evening]")
        assert evil in page.inner_text("#e-looks")
        assert page.locator("img").count() == 0
    program.stop()


def test_the_accessibility_checker_finds_nothing_serious(
    chromium: Any, program: Program, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """axe-core finds nothing serious or critical in any sheet, at laptop and phone size."""
    script = axe(tmp_path_factory.mktemp("axe"))
    program.say("news " + json.dumps(NEWS))
    found: list[str] = []
    for size in ("laptop", "phone"):
        # The checker is put in by the test, which the page's own policy rightly forbids.
        for page in open_page(chromium, program.url, size, live=False, bypass_csp=True):
            page.add_script_tag(content=script)
            found += serious(page, f"{size} caution")
            page.click("#caution-live")
            page.keyboard.press("q")
            found += serious(page, f"{size} play")
            for sheet in ("hands", "teach", "watch", "evening"):
                page.click(f"[data-sheet={sheet}]")
                page.wait_for_timeout(250)
                found += serious(page, f"{size} {sheet}")
            page.keyboard.press("Escape")
            wait_for(lambda: page.locator("#dark").is_visible())  # noqa: B023
            found += serious(page, f"{size} dark")
            page.keyboard.press("Escape")
    assert not found, "\n".join(found)


def axe(folder: Path) -> str:
    """The source of axe-core, from npm into a folder of the test's."""
    npm = shutil.which("npm")
    if npm is None:
        missing("npm")
    command = [
        str(npm),
        "install",
        "--no-audit",
        "--no-fund",
        "--ignore-scripts",
        "--prefix",
        str(folder),
        "axe-core@4",
    ]
    done = subprocess.run(command, capture_output=True, timeout=60, check=False)
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    if done.returncode or not script.exists():
        missing("axe-core")
    return script.read_text(encoding="utf-8")


def serious(page: Any, where: str) -> list[str]:
    """Serious and critical findings, one line each."""
    result = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
    return [
        f"{where}: {one['id']}: {one['help']}: {[node['target'] for node in one['nodes']][:4]}"
        for one in result["violations"]
        if one["impact"] in ("serious", "critical")
    ]
