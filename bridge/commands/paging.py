"""Knows: how the options about the stage page become settings.

Must never know: servers, browsers.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from bridge.shell.page.settings import PageSettings, page_settings


@dataclass(frozen=True, slots=True)
class PageWanted:
    """The options about the page as they were given."""

    off: bool = False
    host: str = "127.0.0.1"
    port: int | None = None
    view_only: bool = False

    def settings(self, rig: Path | None = None, mapping: Path | None = None) -> PageSettings | None:
        """How the page is served, None for no page; the files are those it may teach."""
        if self.off:
            return None
        return page_settings(self.host, self.port, self.view_only, mapping, rig)
