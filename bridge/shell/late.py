"""Knows: how a folder offers names whose files are read only once somebody asks for them.

Must never know: what the names are.

For folders that many shows do without: what they stand on takes longer to load than a keyboard takes to be
answered. A show's start is measured in tests/benchmarks/start_and_memory.py.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def late(package: str, names: Mapping[str, str]) -> Callable[[str], Any]:
    """The `__getattr__` of a folder's `__init__`.

    Args:
        package: its `__name__`. names: each name and the file in the folder that has it.
    """

    def find(name: str) -> Any:
        if name not in names:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{names[name]}"), name)

    return find
