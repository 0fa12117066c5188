"""The stage page: the rig in a browser, played, taught, watched and run from there.

Other folders take what is named here; the rest may change. Each is fetched when it is first asked for: the
show process needs the settings alone, and a web server has no business there.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bridge.shell.page.qr import qr_lines
    from bridge.shell.page.server import PageServer
    from bridge.shell.page.settings import DEFAULT_PORT, PageSettings, page_settings
    from bridge.shell.page.teach import Lesson, NewLamp, Taught, Teacher

__all__ = [
    "DEFAULT_PORT",
    "Lesson",
    "NewLamp",
    "PageServer",
    "PageSettings",
    "Taught",
    "Teacher",
    "page_settings",
    "qr_lines",
]

_HOMES = {"PageServer": "server", "qr_lines": "qr"} | dict.fromkeys(
    ("DEFAULT_PORT", "PageSettings", "page_settings"), "settings"
)


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES.get(name, 'teach')}"), name)
