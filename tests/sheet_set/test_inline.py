"""Drawings put into a page: nothing lost, nothing twice, no rule of one for another."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from collections import Counter
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from targets.choices import Style
from targets.sheet_set.inline import inline, style_kinds, style_sheet
from tests.sheet_set.made import EXAMPLES, NASTY, ONE_LINE, page_of, sheets_of

SVG = "http://www.w3.org/2000/svg"
SHEET = "svg { color: #111; --quiet: #555 } .wire, text { fill: var(--quiet) } .rung:target .wire { stroke: red }"
DARK = "@media (prefers-color-scheme: dark) { svg { color: #eee } .wire { fill: #aaa } }"


def drawn(inside: str, style: str = SHEET) -> str:
    return f'<svg xmlns="{SVG}" width="90" height="60"><title>t</title><style>{style}</style>{inside}</svg>'


Shown = Counter[tuple[str, str, str, str]]


def shapes(root: Xml.Element, hidden: str = "") -> Shown:
    """What a drawing shows: each shape with its numbers and words, and the name of the group it is in."""

    def within(parent: Xml.Element, name: str) -> Iterator[tuple[str, str, str, str]]:
        for one in parent:
            tag = one.tag.split("}")[-1]
            if tag == "g" and one.get("class") != hidden:
                yield from within(one, one.get("id", name))
            elif tag not in ("g", "title", "desc", "style"):
                numbers = sorted((k, v) for k, v in one.attrib.items() if k not in ("id", "data-wire"))
                yield tag, str(numbers), one.text or "", name
                yield from within(one, name)

    return Counter(within(root, ""))


@pytest.mark.parametrize("text", [ONE_LINE, NASTY, (EXAMPLES / "crate-stamp.seq").read_text(encoding="utf-8")])
def test_each_style_of_symbols_shows_what_its_own_sheets_do(text: str) -> None:
    """The sheet in the page, with one style hidden, has just the shapes and words of the other's sheet."""
    for circuit in sheets_of(text).circuits:
        drawings = list(zip(*circuit.sheets.values(), strict=True))
        for same in drawings:
            both = [(one.svg, style.name) for one, style in zip(same, circuit.sheets, strict=True)]
            kinds = style_kinds(svg for svg, _ in both)
            assert len(kinds) == 1  # or what they share would not look alike
            made = inline(both, "x", kinds, prefix="a-")
            root = Xml.fromstring(str(made.markup).replace(' id="a-', ' id="'))
            for (svg, _), other in zip(both, reversed(Style), strict=True):
                assert shapes(root, other.name) == shapes(Xml.fromstring(svg))


def words() -> st.SearchStrategy[str]:
    return st.text(st.sampled_from("ab<>&\"'; {}%"), max_size=8)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(words(), st.integers(0, 3)), max_size=8), st.lists(st.tuples(words(), st.integers(0, 3))))
def test_two_drawings_of_one_thing_are_both_there(one: list[tuple[str, int]], other: list[tuple[str, int]]) -> None:
    """Whatever they say, in whichever groups, and though one has groups that the other has not."""
    svgs = []
    for texts in (one, other):
        root = Xml.Element("svg", xmlns=SVG, width="9", height="9")
        groups = {k: Xml.SubElement(root, "g", id=f"rung-{k}") for k in sorted({k for _, k in texts})}
        for said, k in texts:
            (Xml.SubElement(groups[k], "text", x=said) if k else Xml.SubElement(root, "text")).text = said
        svgs.append(Xml.tostring(root, encoding="unicode"))
    made = inline([(svgs[0], "A"), (svgs[1], "B")], "<x>", {"": "drawn-1"}, prefix="p-")
    root = Xml.fromstring(str(made.markup).replace(' id="p-', ' id="'))
    assert shapes(root, "B") == shapes(Xml.fromstring(svgs[0]))
    assert shapes(root, "A") == shapes(Xml.fromstring(svgs[1]))
    assert made.names == {f"p-rung-{k}" for _, k in one + other if k} | {"p-rung-0" for _, k in one + other if not k}


def test_rules_are_held_to_the_drawings_of_their_kind() -> None:
    kinds = style_kinds([drawn("", SHEET), drawn("", DARK), drawn("<line/>", SHEET)])
    assert list(kinds.values()) == ["drawn-1", "drawn-2"]
    assert style_sheet(kinds).splitlines() == [
        ".drawn-1 { color: #111; --quiet: #555 }",
        ".drawn-1 .wire, .drawn-1 text { fill: var(--quiet) }",
        ".drawn-1 .rung:target .wire { stroke: red }",
        "@media (prefers-color-scheme: dark) { .drawn-2 { color: #eee } .drawn-2 .wire { fill: #aaa } }",
    ]


def test_a_rule_that_is_not_understood_is_not_passed_on() -> None:
    with pytest.raises(ValueError, match="not understood"):
        style_sheet({"@import 'x'; svg { color: red }": "drawn-1"})


def test_without_a_prefix_there_are_no_names() -> None:
    svg = drawn('<g id="rung-1"><line class="wire" x1="1" data-wire="7"/></g>')
    made = inline([(svg, "")], 'a "b" <c>', style_kinds([svg]))
    assert made.names == frozenset()
    assert " id=" not in made.markup
    assert 'aria-label="a &quot;b&quot; &lt;c&gt;"' in made.markup
    assert "title" not in made.markup


def test_the_page_and_its_drawings_have_no_class_in_common() -> None:
    """So no rule of the page changes a drawing."""
    head, body = page_of(ONE_LINE).split("<body>")
    own = head.split(".drawn-1")[0]
    drawings = "".join(re.findall("<svg[^>]*>(.*?)</svg>", body, re.DOTALL))
    used = {name for names in re.findall('class="([^"]*)"', drawings) for name in names.split()}
    assert {"wire", "rung", "signal"} <= used
    assert (used & set(re.findall(r"\.([\w-]+)", own))) <= {style.name for style in Style}
