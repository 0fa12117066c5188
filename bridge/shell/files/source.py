"""Knows: how the text of a player's file is fetched and what makes it no text at all.

Must never know: YAML, or what the file is about.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

from bridge.shell.files.report import WHOLE_FILE, Place, Report
from bridge.shell.given_file import PLAIN, odd, piped_bytes

LARGEST = 1_000_000
"""Bytes a file may have; a rig of 512 lamps written out one by one has about 50,000."""

_BREAKS = re.compile(r"\r\n|\r|\n")
_UNPRINTABLE = re.compile("[^\t\n\r -~\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Everything but the printable characters of YAML 1.2 (chapter 5.1)."""


def read_file(path: str | os.PathLike[str], report: Report) -> str | None:
    """The text of a file; None, with the reason in `report`, where there is none."""
    place = Path(path)
    try:
        what = odd(place)
        if what == "a pipe":
            return _through_pipe(place, report)
        if what:
            right = "give the name of the file in it" if what == "a folder" else PLAIN
            report.error(WHOLE_FILE, f"this is {what}", right)
            return None
        # The size is asked first, so that a film given by mistake is refused at once.
        size = place.stat().st_size
        if size > LARGEST:
            return _too_large(size, report)
        with place.open("rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        report.error(WHOLE_FILE, "there is no such file", "check its name and the folder you are in")
        return None
    except PermissionError:
        report.error(WHOLE_FILE, "this file may not be read", "give yourself the right to read it")
        return None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        report.error(WHOLE_FILE, f"this file cannot be read: {reason}", "check its name")
        return None
    return decode(data, report)


def _through_pipe(place: Path, report: Report) -> str | None:
    """The text that another program writes, as a shell hands it over in place of a file."""
    try:
        data = piped_bytes(place, LARGEST)
    except TimeoutError as error:
        report.error(WHOLE_FILE, str(error.strerror), PLAIN)
        return None
    if not data:
        report.error(WHOLE_FILE, "this pipe is empty", "have something written to it, or give a file")
        return None
    return decode(data, report)


def decode(data: bytes, report: Report) -> str | None:
    """The text of a file's bytes, which must be UTF-8 (a byte order mark is let pass)."""
    if len(data) > LARGEST:
        return _too_large(len(data), report)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # utf-8-sig counts from behind the mark it takes off.
        start = error.start + 3 * data.startswith(b"\xef\xbb\xbf")
        before = data[:start].decode("utf-8-sig")
        if b"\0" in data[:LARGEST]:
            report.error(WHOLE_FILE, "this is not a text file", "give a YAML file in UTF-8")
        else:
            report.error(
                _end_of(before),
                f"byte {data[start]:#04x} is not UTF-8",
                "save the file as UTF-8 in your editor",
            )
        return None


def cleaned(text: str, report: Report) -> str | None:
    """The text without a byte order mark; None, with the reason in `report`, where it cannot be YAML."""
    if len(text) > LARGEST:
        return _too_large(len(text), report)
    text = text.removeprefix("\ufeff")
    if found := _UNPRINTABLE.search(text):
        report.error(
            _end_of(text[: found.start()]),
            f"the control character U+{ord(found[0]):04X} cannot stand in this file",
            "take it out; is this a text file?",
        )
        return None
    return text


def _end_of(text: str) -> Place:
    """The place behind a text."""
    lines = _BREAKS.split(text)
    return Place(len(lines), len(lines[-1]) + 1)


def _too_large(size: int, report: Report) -> str | None:
    report.error(
        WHOLE_FILE, f"{size} bytes are too many for this file", f"a rig or a mapping has at most {LARGEST}"
    )
    return None
