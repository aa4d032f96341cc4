"""A walk-through to read: as Markdown, as HTML, a fragment or a page, and on the terminal.

A rung that is spoken of and a moment link to their anchors (``targets.anchors``). ``prefix`` goes before them, so
that walk-throughs of several arrangements may stand in one page.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from textwrap import wrap
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from targets.anchors import moment_anchor, rung_anchor
from targets.walkthrough.told import Passage, Sentence, Told

__all__ = ["as_html", "as_markdown", "as_page", "as_text", "pieces"]

_ENVIRONMENT = Environment(
    loader=PackageLoader("targets.walkthrough"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    keep_trailing_newline=True,
)
_NOTHING = Markup("")
_NUMBERS = re.compile(r"\b[Rr]ungs? \d+(?:(?:, | and )\d+)*")
_RUNG = re.compile(r"(?:^[Rr]ung )?(\d+)")
_MARKED = re.compile(r"([\\`*_{}\[\]#|~])")


def as_markdown(told: Told, *, prefix: str = "", rungs: bool = True, chart: str = "", note: str = "") -> str:
    """CommonMark. Moments link to a ``chart`` in a file beside it, where there is one, else to where they are told;
    the anchors of those are in it. With ``rungs`` the rungs are written out, and have theirs. A ``note`` stands above
    everything."""

    def link(words: str, number: int) -> str:
        return f"[{words}](#{rung_anchor(number, prefix)})"

    lines = [f"# {_plain(_title(told))}", "", *([_plain(note), ""] if note else [])]
    for section in told.sections:
        lines += [f"## {_plain(section.title)}", ""]
        if section.opening:
            lines += [_plain(section.opening), ""]
        for passage in section.passages:
            lines += _passage(passage, prefix, link, quote(chart))
    if rungs and told.rungs:
        lines += ["## The rungs", ""]
        for number, text in told.rungs:
            lines.append(f'- <a id="{rung_anchor(number, prefix)}"></a>rung {number}: {_plain(text)}')
        lines.append("")
    return "\n".join([*lines, f"> {told.caution}"]) + "\n"


def as_html(told: Told, *, prefix: str = "", rungs: bool = True, moments: bool = True, heading: int = 2) -> str:
    """A fragment: ``<section>`` elements whose headings begin at that level. With ``moments`` it has the anchors of
    moments itself, with ``rungs`` those of rungs; without them they are those of drawings beside it."""

    def link(words: str, number: int) -> Markup:
        return Markup('<a href="#{}">{}</a>').format(rung_anchor(number, prefix), words)

    view = _View(told, prefix, rungs, moments, heading, link)
    return _ENVIRONMENT.get_template("walkthrough.html.j2").render(view=view)


def as_page(told: Told, *, drawn: Markup = _NOTHING, styles: Markup = _NOTHING, prefix: str = "") -> str:
    """A whole page of its own, with its anchors. Those of moments are in a chart, where one is ``drawn``, in its own
    ``styles``; ``prefix`` is that of its names."""
    fragment = Markup(as_html(told, heading=1, prefix=prefix, moments=not drawn).rstrip())
    return _ENVIRONMENT.get_template("page.html.j2").render(
        title=_title(told), fragment=fragment, drawn=drawn, styles=styles
    )


def as_text(told: Told, width: int = 80) -> str:
    """For the terminal: no line longer than ``width``, a moment in the margin."""
    lines = wrap(_title(told), width)
    for section in told.sections:
        lines += ["", section.title]
        if section.opening:
            lines += wrap(section.opening, width, initial_indent="  ", subsequent_indent="  ")
        for passage in section.passages:
            text = " ".join(s.text for s in passage.sentences)
            if not passage.in_margin and passage.heading:
                lines += wrap(f"{passage.heading}:", width, initial_indent="  ", subsequent_indent="    ")
                lines += wrap(text, width, initial_indent="    ", subsequent_indent="    ")
                continue
            if not passage.in_margin:
                for sentence in passage.sentences:
                    lines += wrap(sentence.text, width, initial_indent="  ", subsequent_indent="    ")
                continue
            lines += wrap(text, width, initial_indent=f"{passage.heading:>10}  ", subsequent_indent=" " * 12)
    return "\n".join([*lines, "", *wrap(told.caution, width)]) + "\n"


# --- Markdown ---------------------------------------------------------------------------------------------------


def _passage(passage: Passage, prefix: str, link: Callable[[str, int], str], chart: str) -> list[str]:
    sentences = [_linked(s, _plain(s.text), link) for s in passage.sentences]
    anchor = "" if passage.at_us is None else f'<a id="{moment_anchor(passage.at_us, prefix)}"></a>'
    heading, moment = _plain(passage.heading), passage.moment_us
    if heading:
        to = "" if moment is None else f"{chart}#{moment_anchor(moment, prefix)}"
        shown = f"[{heading}]({to})" if to else heading
        return [f"{anchor}**{shown}{'' if passage.in_margin else '.'}** {' '.join(sentences)}", ""]
    if len(sentences) == 1:
        return [sentences[0], ""]
    return [*(f"- {sentence}" for sentence in sentences), ""]


def _plain(text: str) -> str:
    """Text in which nothing means anything to Markdown, nor to the HTML that is made of it."""
    return _MARKED.sub(r"\\\1", html.escape(" ".join(text.split()), quote=False))


def _linked(sentence: Sentence, text: str, link: Callable[[str, int], str]) -> str:
    """The text of a sentence with each number of a rung it speaks of as a link."""

    def one(found: re.Match[str]) -> str:
        words = found.group(0)
        return _RUNG.sub(lambda m: _one_rung(m.group(0), sentence, link), words)

    return _NUMBERS.sub(one, text)


def pieces(sentence: Sentence) -> Iterator[tuple[str, int]]:
    """The words of a sentence in turn, each with the number of the rung that they name, or 0."""
    text, done = sentence.text, 0
    for numbers in _NUMBERS.finditer(text):
        for one in _RUNG.finditer(numbers[0]):
            number, start = int(one[1]), numbers.start() + one.start()
            if number in sentence.rungs:
                yield text[done:start], 0
                yield one[0], number
                done = start + len(one[0])
    yield text[done:], 0


def _one_rung(words: str, sentence: Sentence, link: Callable[[str, int], str]) -> str:
    number = int(words.rpartition(" ")[2])
    return link(words, number) if number in sentence.rungs else words


# --- HTML -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _View:
    """What the template lays out."""

    told: Told
    prefix: str
    with_rungs: bool
    moments: bool
    heading: int
    link: Callable[[str, int], Markup]

    @property
    def title(self) -> str:
        return _title(self.told)

    def words(self, sentence: Sentence) -> Markup:
        """A sentence with its links; everything else is escaped."""
        return Markup(_linked(sentence, str(escape(sentence.text)), self.link))

    def rung(self, number: int) -> str:
        return rung_anchor(number, self.prefix)

    def moment(self, at_us: int) -> str:
        return moment_anchor(at_us, self.prefix)


def _title(told: Told) -> str:
    return f"{told.title or 'Sequence'}: walk-through of {told.driver}"
