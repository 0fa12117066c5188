"""Knows: how the tables of keys in README.md are drawn from the published schemas.

`python -m tests.tables` writes them into README.md; a test fails while they differ.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from bridge.parts.chords import ALIASES, QUALITIES
from bridge.shell.files import schema_of

README = Path(__file__).parent.parent / "README.md"
MARK = re.compile(r"(<!-- keys: (\w+) (\w+)(?: without ([\w, ]+))? -->\n).*?(<!-- end -->)", re.DOTALL)

CHORDS = re.compile(r"(<!-- chords -->\n).*?(<!-- end -->)", re.DOTALL)


def table(kind: str, model: str, without: frozenset[str] = frozenset()) -> str:
    """The keys of one table of a file: `model` is a name under $defs, or `top`."""
    schema = schema_of(kind)
    part: dict[str, Any] = schema if model == "top" else schema["$defs"][model]
    must = part.get("required", [])
    lines = ["| key | what it is |", "|---|---|"]
    for key, entry in part["properties"].items():
        if key not in without:
            text = " ".join(str(entry.get("description", "")).split()).replace("|", "\\|")
            lines.append(f"| `{key}` | {text}{' **(needed)**' if key in must else ''} |")
    return "\n".join(lines) + "\n"


def chords() -> str:
    """The chords that have a name, with the other ways to write them and their semitones above the root."""
    lines = ["| chord | also | semitones above the root |", "|---|---|---|"]
    for name, intervals in QUALITIES.items():
        also = ", ".join(f"`{word}`" for word in ALIASES[name])
        lines.append(f"| `{name}` | {also} | {' '.join(map(str, intervals))} |")
    return "\n".join(lines) + "\n"


def filled(text: str) -> str:
    """README.md with every table as the schemas, and the list of chords, now say."""

    def draw(found: re.Match[str]) -> str:
        left_out = frozenset(word.strip() for word in (found[4] or "").split(",") if word.strip())
        return f"{found[1]}{table(found[2], found[3], left_out)}{found[5]}"

    text = CHORDS.sub(lambda found: f"{found[1]}{chords()}{found[2]}", text)
    return MARK.sub(draw, text)


if __name__ == "__main__":
    README.write_text(filled(README.read_text(encoding="utf-8")), encoding="utf-8")
