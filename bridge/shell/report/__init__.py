"""The report of a show: one page that draws what happened, for the player who wants to know why.

Other folders take `ShowReport`, `Facts`, `check_writable`; the rest may change.
"""

from __future__ import annotations

from pathlib import Path

from bridge.shell.report.collect import Collected
from bridge.shell.report.facts import Facts, Machine, this_machine


class ShowReport(Collected):
    """Collects while the show goes on, and writes the page at its end."""

    def write(self, path: Path, facts: Facts) -> None:
        """Write the page; a file that is there is replaced, whole or not at all.

        Raises:
            DeviceError: the file cannot be written.
        """
        # A show must not wait for what only its end needs.
        from bridge.shell.report.page import write_report

        write_report(self, path, facts)


def check_writable(path: Path, take: Path | None = None) -> None:
    """Refuse, before the show, a name under which no report could be written after it.

    Args:
        take: where the show is recorded to.

    Raises:
        UsageError: no name of a page, a folder, no folder to write in, one that may not be written in, or
            the name of the take.
    """
    from bridge.shell.report.page import check_writable as check

    check(path, take)


__all__ = ["Facts", "Machine", "ShowReport", "check_writable", "this_machine"]
