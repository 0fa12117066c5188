# ruff: noqa: E501 - a row of a table is one line
"""A text becomes a tree with places, or one mistake. Peer: PyYAML's own composer, on what both read alike."""

from __future__ import annotations

from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files.nodes import Listing, Node, Scalar, Table, describe, plain
from bridge.shell.files.report import Report
from bridge.shell.files.tree import DEEPEST, LOADER, MOST_COPIED, parse
from bridge.values.errors import FileError
from tests.shell.files.cases import agree, case, rig_told

LOADERS = pytest.mark.parametrize("loader", sorted({LOADER, yaml.SafeLoader}, key=str))


def tree(text: str, loader: Any = LOADER) -> Table:
    """The tree of a good text."""
    report = Report("a")
    top = parse(text, report, loader)
    assert report.finish() == []
    assert top is not None
    return top


def walk(node: Node) -> list[Node]:
    """A node and all below it."""
    inner: list[Node] = list(node.values()) if isinstance(node, Table) else []
    inner += list(node) if isinstance(node, Listing) else []
    return [node, *(deeper for child in inner for deeper in walk(child))]


@LOADERS
def test_every_node_has_its_place(loader: Any) -> None:
    """Lines and columns count from 1, in characters, keys and values apart."""
    top = tree("é: [a, {ö: 'b c'}]\nc:\n  d: |\n    x\n    y\n", loader)
    listing = top["é"]
    assert isinstance(listing, Listing)
    assert (listing.line, listing.column) == (1, 4)
    inner = listing[1]
    assert isinstance(inner, Table)
    assert (inner.line, inner.column) == (1, 8)
    assert inner.keys_at["ö"] == Scalar("ö", "ö", 1, 9)
    assert inner["ö"] == Scalar("b c", "b c", 1, 12)
    block = top["c"]
    assert isinstance(block, Table)
    assert (block.line, block.column) == (3, 3)
    assert block["d"] == Scalar("x\ny\n", "x\ny\n", 3, 6)
    assert block.place("nowhere") is block


@LOADERS
def test_quotes_make_text_and_raw_stays(loader: Any) -> None:
    """Only unquoted words have other values than text, and what was written is kept."""
    top = tree("a: [1.10, '1.10', \"on\", on, 025, ~, !!str 5, ! 6, !!int 7, !!float .5, !!null '']", loader)
    assert plain(top) == {"a": [1.1, "1.10", "on", "on", 25, None, "5", "6", 7, 0.5, None]}
    assert [str(node) for node in walk(top)[2:]][:5] == ["1.10", "1.10", "on", "on", "025"]


@LOADERS
def test_aliases_stand_for_what_they_name(loader: Any) -> None:
    """An alias is the anchored value with the anchor's place, also as a key."""
    top = tree("a: &x {b: [1]}\nc: *x\nd: &y word\n*y : 2\n", loader)
    assert plain(top) == {"a": {"b": [1]}, "c": {"b": [1]}, "d": "word", "word": 2}
    assert top["c"] is top["a"]


MISTAKES = [
    case("¶", "the file is empty; see the README for what to write"),
    case("¶# nothing\n", "the file is empty; see the README for what to write"),
    case("¶--- ~\n", "the file is empty; see the README for what to write"),
    case("¶hello", "the file holds the text 'hello'; write keys and values, like 'lamps:'"),
    case("¶- a\n- b", "the file holds a list; write keys and values, like 'lamps:'"),
    case("lamps:\n¶\t- a", "a tab where YAML wants spaces; indent with spaces"),
    case("rig: ¶@x", "text cannot begin with '@'; quote it"),
    case("rig: ¶%x", "text cannot begin with '%'; quote it"),
    case(
        "rig: a¶: c",
        "a ':' where no key can stand; put one key on a line, indent it like its neighbours, and quote text that "
        "holds ': '",
    ),
    case("rig: ¶- b", "a '- ' where no list can begin; begin a list on the line after its key"),
    case("lamps: ¶[{name: a, slot: 1}", "a '[' that is not closed, or a comma missing in it; write [one, two]"),
    case("lamps: [{name: a, slot: 1¶]", "a '{' that is not closed, or a comma missing in it; write {key: value, key: value}"),
    case("a: {b: 1 c¶: 2}", "a '{' that is not closed, or a comma missing in it; write {key: value, key: value}"),
    case(
        "lamps:\n  - ¶{name: a, colour: #ff8000}\n",
        "a bracket that is not closed; close it; a ' #' before its end begins a comment",
    ),
    case("rig: ¶'x\nlamps: []\n", "a quote that is not closed; close it"),
    case(
        "lamps:\n  - a\n ¶b: c",
        "a line that fits neither the list or table it stands in nor the one around it; indent it like its neighbours",
    ),
    case("a: b\n¶lamps\n", "a key without ': '; write key: value"),
    case("{a: b}¶}", "something after the end; take it out"),
    case("rig: ¶*.red", "a bare '*' means something else in YAML; quote the name, like \"*.red\""),
    case("lamps: [¶*.red]", "a bare '*' means something else in YAML; quote the name, like \"*.red\""),
    case("rig: ¶*red", "'*red' stands for nothing; quote a name that has a *, like \"*.red\""),
    case("rig: ¶& x", "a bare '&' means something else in YAML; quote the text"),
    case("rig: &a [¶*a]", "'*a' stands inside what it stands for; write it out"),
    case("rig: ¶!foo x", "the tag !foo does not fit 'x'; take it out, or quote text that begins with '!'"),
    case("rig: ¶!!int x", "the tag !!int does not fit 'x'; take it out, or quote text that begins with '!'"),
    case("rig: ¶!!python/name:os.system a", "the tag !!python/name:os.system does not fit 'a'; take it out, or quote text that begins with '!'"),
    case("rig: ¶!!set {a}", "the tag !!set does not fit a table; take it out, or quote text that begins with '!'"),
    case("rig: ¶!e!x y", "a '!' that names an unknown tag; quote the text"),
    case("rig: a\n¶---\nrig: b", "a second document in one file; take out the '---' and what follows it"),
    case("? ¶[a]\n: b", "a list or table as a key; a key is a word"),
    case("rig: a¶\0b", "the control character U+0000 cannot stand in this file; take it out; is this a text file?"),
    case("rig: a\r\nb: ¶\ud800", "the control character U+D800 cannot stand in this file; take it out; is this a text file?"),
    case("a: " + "[" * 39 + "¶[" + "]" * 40, "more than 40 lists or tables inside one another; write it with fewer levels"),
    case("rig: a\nlamps: []\n¶rig: b\n", "key 'rig' stands twice, first on line 1; keep one of them"),
    case(
        "lamps: [{name: a, slot: 1, ¶slot: 2, ¶name: b}]",
        "key 'slot' stands twice, first on line 1; keep one of them",
        "key 'name' stands twice, first on line 1; keep one of them",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), MISTAKES)
def test_what_is_not_a_tree(marked: str, messages: tuple[str, ...]) -> None:
    """Every text that is no tree gives one clear mistake at its place (two keys twice: two)."""
    agree(rig_told(marked), messages)


def test_an_escape_that_the_slow_parser_trips_over() -> None:
    """A character that no computer has is one mistake in the build without C, where it is no YAML error."""
    report = Report("a.yaml")
    assert parse('rig: "\\UFFFFFFFF"', report, yaml.SafeLoader) is None
    with pytest.raises(FileError, match=r"^a\.yaml:1:1: this is not YAML; check the quotes and backslashes$"):
        report.finish()
    agree(rig_told('rig: "\\U¶FFFFFFFF"'), ("a backslash that means nothing here; use 'single' quotes",))


def test_depth_is_bounded_where_it_is_allowed() -> None:
    """A tree of the greatest depth is read; one level more, by brackets or by alias, is not."""
    assert len(walk(tree("a: " + "[" * (DEEPEST - 1) + "]" * (DEEPEST - 1)))) == DEEPEST
    half = "[" * 20
    deep = f"a: &a {half}{']' * 20}\nb: {half}*a{']' * 20}"
    agree(
        rig_told(deep.replace("*a", "¶*a")),
        ("more than 40 lists or tables inside one another; write it with fewer levels",),
    )


def test_a_bomb_of_aliases_is_one_mistake() -> None:
    """Aliases of aliases that would grow to a thousand million values are refused, whatever the words."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 9)]
    said, _ = rig_told("\n".join(lines))
    assert len(said) == 1
    assert said[0].endswith(f": the aliases (*) of this file copy more than {MOST_COPIED} values; use fewer")


def test_aliases_below_the_bound_are_read() -> None:
    """A tree copied by aliases up to the bound has as many nodes as if it were written out."""
    text = "a: &a [" + ", ".join("x" * 99) + "]\nb: [" + ", ".join(["*a"] * 199) + "]"
    assert len(walk(tree(text))) == 1 + 100 + 1 + 199 * 100


PLAIN = st.recursive(
    st.text("abcxyz .*&#-:'\"é\u2028\t\n", max_size=6).filter(lambda text: "\u2028" not in text)
    | st.integers(-999, 999)
    | st.booleans()
    | st.none(),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text("abc", min_size=1, max_size=3), inner, max_size=4)
    ),
    max_leaves=20,
)


@given(st.dictionaries(st.text("abc", min_size=1, max_size=3), PLAIN, min_size=1, max_size=5), st.booleans())
def test_what_pyyaml_writes_is_read_back(value: dict[str, Any], flow: bool) -> None:
    """Any tree that PyYAML writes is read as the same tree, in block and in flow style."""
    text = yaml.safe_dump(value, allow_unicode=True, default_flow_style=flow)
    assert plain(tree(text)) == value


@given(st.text(max_size=200) | st.text("ab:[]{},-?*&!|>'\"#%@` \n\t0", max_size=60))
def test_any_text_through_either_parser(text: str) -> None:
    """Any text gives a tree or mistakes, by both builds of the parser."""
    for loader in (LOADER, yaml.SafeLoader):
        report = Report("a")
        top = parse(text, report, loader)
        assert top is not None or report.failed


@pytest.mark.parametrize(
    ("text", "said"),
    [("~", "nothing"), ("true", "true"), ("1.50", "1.50"), ("'5'", "the text '5'"), ("[]", "a list"),
     ("{}", "a table of keys and values"), ('"a\\tb\\nc"', "the text 'a b c'"), ("x" * 50, f"the text '{'x' * 39}…'")],
)  # fmt: skip
def test_nodes_in_messages(text: str, said: str) -> None:
    """A node is named as it was written, on one line and not too long."""
    assert describe(tree(f"a: {text}")["a"]) == said


def test_a_file_of_mistakes_is_told_shortly() -> None:
    """A thousand mistakes are told and the rest counted, so that a wrong file does not flood the terminal."""
    report = Report("a.yaml")
    for line in range(1, 1501):
        report.error(Scalar("x", "x", line, 1), "wrong")
    with pytest.raises(FileError) as caught:
        report.finish()
    problems = caught.value.problems
    assert len(problems) == 1001
    assert str(problems[-1]) == "a.yaml: 500 mistakes more; mend these first"
