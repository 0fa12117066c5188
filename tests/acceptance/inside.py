"""Knows: how to run a command inside the test's own process, as the console script would, and read its files.

Must never know: what a command does.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import pytest
import yaml

from bridge import cli


@dataclass
class Done:
    """How a command ended."""

    code: int
    out: str
    errors: str


Invoke = Callable[..., Done]


@pytest.fixture
def invoke(capfd: pytest.CaptureFixture[str]) -> Invoke:
    """Runs a command here; its exit code and what it wrote."""

    def run(*args: object) -> Done:
        capfd.readouterr()
        with pytest.raises(SystemExit) as ended:
            cli.app([str(arg) for arg in args], standalone_mode=True)
        out, errors = capfd.readouterr()
        return Done(int(ended.value.code or 0), out, errors)

    return run


def rows_of(path: Path) -> list[list[str]]:
    """A table without its head."""
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.reader(file))[1:]


class CoreLoader(yaml.SafeLoader):
    """A reader of YAML by the core rules of YAML 1.2 (chapter 10.3), beside ours: 025 is twenty-five."""

    yaml_implicit_resolvers: ClassVar[dict[str, list[Any]]] = {}


for kind, pattern, first in (
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("null", r"null|Null|NULL|~|", ["n", "N", "~", ""]),
):
    CoreLoader.add_implicit_resolver(f"tag:yaml.org,2002:{kind}", re.compile(f"^(?:{pattern})$"), first)
CoreLoader.add_constructor("tag:yaml.org,2002:int", lambda _loader, node: int(node.value, 10))


def core_yaml(path: Path) -> Any:
    """The content of a file."""
    return yaml.load(path.read_text("utf-8"), CoreLoader)
