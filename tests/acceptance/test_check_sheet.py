"""`check` with its sums and its sheet, as typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, invoke
from tests.shell.files.test_rig_wiring import WIRED

__all__ = ["invoke"]


@pytest.fixture
def rig(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A rig with decoders, cables, LEDs and a data line in the current folder."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "rig.yaml"
    path.write_text(WIRED, "utf-8")
    return path


@pytest.mark.usefixtures("rig")
def test_every_sum_has_its_section(invoke: Invoke) -> None:
    """Supplies, decoders, cables, resistors, the data line, the plan of addresses, rates and cautions."""
    done = invoke("check")
    assert done.code == 0
    titles = [
        "Supplies",
        "Decoders",
        "Cables",
        "LED resistors",
        "DMX line",
        "Address plan",
        "Refresh rate",
        "Cautions",
    ]
    assert [title for title in titles if f"\n{title}" not in done.out] == []
    assert "the local code and the data sheets decide" in done.out


@pytest.mark.usefixtures("rig")
def test_the_sheet_is_written_beside(invoke: Invoke) -> None:
    """`--sheet` writes the page and says what to do with it."""
    done = invoke("check", "--sheet", "sheet.html")
    assert done.code == 0
    assert "wrote sheet.html: open it in a browser and print it on A4" in done.out
    assert "<h2>Patch</h2>" in Path("sheet.html").read_text("utf-8")


def test_a_sheet_of_another_kind_is_refused_at_once(rig: Path, invoke: Invoke) -> None:
    """A PDF is printed by a browser: that is said before anything else, and nothing is written."""
    done = invoke("check", "--sheet", "sheet.pdf")
    assert (done.code, done.out) == (2, "")
    assert "write --sheet sheet.html, open it in a browser" in done.errors
    rig.write_text("lamps: [{name: a}]", "utf-8")
    assert invoke("check", "--sheet", "sheet.html").code == 2
    assert [path.name for path in rig.parent.iterdir()] == ["rig.yaml"]
