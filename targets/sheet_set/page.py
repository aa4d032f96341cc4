"""One self-contained HTML page of a build: no network, no script; drawings are inside it as data.

Drawings go in as images, so that nothing in one drawing's style sheet touches another or the page, and each has a
text that says what it shows.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Template
from markupsafe import Markup

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import make_scenarios
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.causes import Causes, causes
from compiler.simulation.run import Run
from compiler.simulation.simulate import simulate
from compiler.simulation.timeline import timeline
from compiler.tell import tell
from compiler.understand import Understood
from grammar.diagnostic import Severity
from targets.build import Built, read_back
from targets.choices import Style
from targets.circuit_papers import CircuitPapers
from targets.counted import counted
from targets.drawing.svg import environment
from targets.motion import motion_step_chart, motion_time_chart, timing_chart
from targets.proof_report import claim, examined_lines, outside_line
from targets.slug import slug
from targets.target import CAUTION, Artefact, Options
from targets.walkthrough import as_html, walk_through
from targets.wiring.colours import colour_rule
from targets.wiring.lists import Sheet

__all__ = ["sheet_set"]

_AFTER_US = 2_000_000  # how long a run is shown after the cycle


@dataclass(frozen=True, slots=True)
class _Drawing:
    """A drawing as data, and what it shows in words."""

    data: str
    shows: str


@dataclass(frozen=True, slots=True)
class _Outside:
    """A difference: how in a sentence, and the run drawn."""

    line: str
    run: str


@dataclass(frozen=True, slots=True)
class _Verdict:
    name: str
    parts: str
    verdict: str
    outside: tuple[_Outside, ...]


@dataclass(frozen=True, slots=True)
class _Circuit:
    """An arrangement: its sheets in either style, its rung list, its lists, and a cycle told and drawn. ``told`` is
    HTML, escaped where it was made."""

    key: str
    name: str
    verdict: str
    sheets: dict[str, tuple[_Drawing, ...]]
    rungs: str
    lists: tuple[Sheet, ...]
    told: Markup
    cycle: _Drawing


@dataclass(frozen=True, slots=True)
class _Text:
    """A printed text shown as it is."""

    key: str
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    caution: str
    program: str
    told: tuple[str, ...]
    verdicts: tuple[_Verdict, ...]
    claim: str
    proved: tuple[tuple[str, bool], ...]
    refused: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    drawings: tuple[_Drawing, ...]
    motion: tuple[_Drawing, ...]
    circuits: tuple[_Circuit, ...]
    colours: str
    texts: tuple[_Text, ...]
    north_american: bool


def sheet_set(understood: Understood, built: Built, circuits: Sequence[CircuitPapers], options: Options) -> Artefact:
    """The page of a build and the papers of its circuits."""
    assert understood.chart is not None
    machine = understood.machine
    proofs = [one.proof for one in built.printed if one.proof is not None]
    page = _Page(
        title=machine.title or "Sequence",
        caution=CAUTION,
        program=understood.source.text.strip("\n"),
        told=tuple(tell(machine, understood.chart)),
        verdicts=tuple(_verdicts(understood, built)),
        claim=claim(proofs) if proofs else "",
        proved=() if built.examined is None else tuple(examined_lines(built.examined, machine)),
        refused=tuple((refusal.name, refusal.reason) for refusal in built.refused),
        warnings=tuple(d.message for d in understood.said(Severity.WARNING)),
        drawings=tuple(_drawings(built)),
        motion=tuple(_motion(machine, understood.chart)),
        circuits=tuple(_circuit(papers, understood, understood.chart) for papers in circuits),
        colours=colour_rule(options.colours, options.supply),
        texts=tuple(_texts(built)),
        north_american=options.symbols is Style.NORTH_AMERICAN,
    )
    name = f"{slug(machine.title)}.html"
    return Artefact("sheet-set", "sheet set (HTML)", name, _template().render(page=page, styles=tuple(Style)))


def _verdicts(understood: Understood, built: Built) -> Iterator[_Verdict]:
    for one in built.printed:
        if not one.artefact.implementation:
            continue
        parts = ", ".join(counted(count, what) for what, count in one.artefact.parts if count)
        outside = () if one.proof is None else one.proof.outside
        yield _Verdict(
            one.artefact.name,
            parts,
            one.headline,
            tuple(
                _Outside(
                    outside_line(each, understood.machine),
                    "" if each.run is None else timeline(each.run, understood.machine, chart=understood.chart),
                )
                for each in outside
            ),
        )


def _drawings(built: Built) -> Iterator[_Drawing]:
    for one in built.printed:
        if one.artefact.target == "grafcet":
            yield _Drawing(_data(one.artefact.text), "the steps and transitions of the sequence, drawn as a GRAFCET")


def _circuit(papers: CircuitPapers, understood: Understood, chart: Chart) -> _Circuit:
    machine, logic, name = understood.machine, read_back(papers.artefact, understood.machine), papers.name
    walked = walk_through(machine, chart, logic)
    return _Circuit(
        slug(name),
        name,
        papers.verdict,
        {
            style.name: tuple(
                _Drawing(_data(sheet), f"ladder sheet {k} of {len(made)} of the {name}; its rungs stand below")
                for k, sheet in enumerate(made, 1)
            )
            for style, made in papers.sheets.items()
        },
        papers.artefact.text,
        papers.lists,
        Markup(as_html(walked, prefix=f"{slug(name)}-", heading=3)),  # escaped where it was made
        _Drawing(_data(_timing(machine, chart, logic)), f"timing chart of a cycle of the {name}"),
    )


def _cycle(machine: Machine, chart: Chart, logic: Logic) -> tuple[Run, Causes]:
    """A normal cycle driven by a logic, and why what happened in it happened."""
    run = simulate(machine, logic, make_scenarios(machine, chart)[0], after_us=_AFTER_US)
    return run, causes(run, machine, logic)


def _motion(machine: Machine, chart: Chart) -> Iterator[_Drawing]:
    """A normal cycle of the sequence: against steps, against time, and every signal."""
    run, why = _cycle(machine, chart, chart_logic(chart))
    if machine.actuators:
        yield _Drawing(_data(motion_step_chart(run, machine, why=why)), "a cycle: how the rods move, step by step")
        yield _Drawing(_data(motion_time_chart(run, machine, why=why)), "a cycle: how the rods move, against time")
    yield _Drawing(_data(timing_chart(run, machine, why=why, chart=chart)), "a cycle: what is on when, and why")


def _timing(machine: Machine, chart: Chart, logic: Logic) -> str:
    run, why = _cycle(machine, chart, logic)
    return timing_chart(run, machine, why=why, chart=chart)


def _texts(built: Built) -> Iterator[_Text]:
    for one in built.printed:
        artefact = one.artefact
        if artefact.implementation and not artefact.file.endswith((".rungs", ".json")):
            yield _Text(slug(artefact.name), artefact.name, artefact.text)


def _data(svg: str) -> str:
    return "data:image/svg+xml;base64," + b64encode(svg.encode()).decode()


@cache
def _template() -> Template:
    return environment("targets.sheet_set").get_template("page.html.j2")
