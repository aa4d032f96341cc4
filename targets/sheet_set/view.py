"""What a sheet set says of a build, before it is laid out as a page or on paper."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import usual_cycle
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.verdict import Standing
from compiler.simulation.causes import Causes, causes
from compiler.simulation.run import Run
from compiler.simulation.simulate import simulate
from compiler.simulation.timeline import timeline
from compiler.tell import tell
from compiler.understand import Understood
from compiler.walk.by_contacts import by_contacts
from grammar.diagnostic import Severity
from targets.build import Built, Printed, read_back
from targets.choices import Style
from targets.circuit_papers import CircuitPapers
from targets.counted import counted
from targets.motion import difference_chart, motion_step_chart, motion_time_chart, timing_chart
from targets.proof_report import claim, examined_lines, outside_line
from targets.slug import slug
from targets.target import CAUTION, Options
from targets.walkthrough import walk_through
from targets.walkthrough.told import Told
from targets.wiring.colours import colour_rule
from targets.wiring.lists import Sheet

__all__ = ["Circuit", "Difference", "Drawing", "SheetSet", "Text", "Verdict", "sheet_set"]

_MARKS = {Standing.SAME: "=", Standing.SAME_ONLY_IF: "≈", Standing.DIFFERS: "≠", Standing.NOT_SETTLED: "?"}
_AFTER_US = 2_000_000  # how long a run is shown after the cycle


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing as SVG, what it shows in words, and what a file of its own is called behind a dot, if it gets one."""

    svg: str
    shows: str
    suffix: str = ""


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference: how in a sentence, and where a run shows it that run drawn and in letters."""

    line: str
    drawing: Drawing | None
    run: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found of something printed: ``standing`` in a mark and a word or two, ``verdict`` in a line."""

    name: str
    parts: str
    standing: str
    verdict: str
    outside: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class Circuit:
    """An arrangement: its sheets in either style, its rung list, its lists, and a cycle told and drawn; ``brief`` is
    its verdict without what was covered, ``alike`` whether its wiring list says the same as its rungs, ``called`` by
    what other letters its drawings and lists call the devices, if by any."""

    key: str
    name: str
    brief: str
    verdict: str
    sheets: dict[Style, tuple[Drawing, ...]]
    rungs: str
    lists: tuple[Sheet, ...]
    alike: str
    called: str
    told: Told
    cycle: Drawing


@dataclass(frozen=True, slots=True)
class Text:
    """A printed text shown as it is, and its verdict in brief."""

    key: str
    name: str
    brief: str
    text: str


@dataclass(frozen=True, slots=True)
class SheetSet:
    """All of it. ``proved``: lines on the sequence itself, and whether each is as it should be. ``style`` is that of
    the symbols which the user chose."""

    title: str
    caution: str
    program: str
    told: tuple[str, ...]
    verdicts: tuple[Verdict, ...]
    claim: str
    proved: tuple[tuple[str, bool], ...]
    refused: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    advice: tuple[str, ...]
    drawings: tuple[Drawing, ...]
    motion: tuple[Drawing, ...]
    circuits: tuple[Circuit, ...]
    colours: str
    texts: tuple[Text, ...]
    style: Style


def sheet_set(understood: Understood, built: Built, circuits: Sequence[CircuitPapers], options: Options) -> SheetSet:
    """What there is to say of a build and the papers of its circuits."""
    assert understood.chart is not None
    machine = understood.machine
    brief = {one.artefact.name: _brief(one) for one in built.printed}
    proofs = [one.proof for one in built.printed if one.proof is not None]
    return SheetSet(
        title=machine.title or "Sequence",
        caution=CAUTION,
        program=understood.source.text.strip("\n"),
        told=tuple(tell(machine, understood.chart)),
        verdicts=tuple(_verdicts(understood, built, understood.chart)),
        claim=claim(proofs) if proofs else "",
        proved=() if built.examined is None else tuple(examined_lines(built.examined, machine, understood.chart)),
        refused=tuple(_refused(built)),
        warnings=tuple(d.message for d in understood.said(Severity.WARNING)),
        advice=tuple(dict.fromkeys(d.message for d in understood.said(Severity.ADVICE))),
        drawings=tuple(_drawings(built)),
        motion=tuple(_motion(machine, understood.chart)),
        circuits=tuple(
            _circuit(papers, understood, understood.chart, brief=brief[papers.artefact.name]) for papers in circuits
        ),
        colours=colour_rule(options.colours, options.supply),
        texts=tuple(_texts(built)),
        style=options.symbols,
    )


def _verdicts(understood: Understood, built: Built, chart: Chart) -> Iterator[Verdict]:
    for one in built.printed:
        if one.artefact.implementation:
            parts = ", ".join(counted(count, what) for what, count in one.artefact.parts if count)
            outside = tuple(_differences(one, understood.machine, chart))
            yield Verdict(one.artefact.name, parts, _standing(one), one.headline, outside)


def _differences(one: Printed, machine: Machine, chart: Chart) -> Iterator[Difference]:
    """The differences that were proved of something printed, each in the shortest run that shows it."""
    if one.proof is None or not one.proof.outside:
        return
    logics = chart_logic(chart), read_back(one.artefact, machine)
    for outside in one.proof.outside:
        line = outside_line(outside, machine)
        if outside.run is None:
            yield Difference(line, None, "")
            continue
        drawn = difference_chart(outside.run, machine, *logics, chart=chart, said=line)
        shows = f"the sequence as written and the {one.artefact.name} in one timing chart: {line}"
        yield Difference(line, Drawing(drawn, shows), timeline(outside.run, machine, chart=chart))


def _refused(built: Built) -> Iterator[tuple[str, str]]:
    """What was not built and why, what has the same reason together."""
    for reason in dict.fromkeys(refusal.reason for refusal in built.refused):
        yield ", ".join(refusal.name for refusal in built.refused if refusal.reason == reason), reason


def _standing(one: Printed) -> str:
    """The verdict in the fewest words."""
    if one.proof is not None:
        return f"{_MARKS[one.proof.standing]} {one.proof.standing}"
    return "not proved" if one.verdict is not None else "not read back"


def _brief(one: Printed) -> str:
    """The verdict in a line, without what was covered."""
    return one.headline.split(" (")[0]


def _drawings(built: Built) -> Iterator[Drawing]:
    for one in built.printed:
        if one.artefact.target == "grafcet":
            yield Drawing(one.artefact.text, "the steps and transitions of the sequence, drawn as a GRAFCET")


def _circuit(papers: CircuitPapers, understood: Understood, chart: Chart, *, brief: str) -> Circuit:
    machine, logic, name = understood.machine, read_back(papers.artefact, understood.machine), papers.name
    walked = walk_through(machine, chart, logic)
    timed = _timing(machine, chart, logic, walked, papers.called)
    return Circuit(
        slug(name),
        name,
        brief,
        papers.verdict,
        {
            style: tuple(
                Drawing(sheet, f"ladder sheet {k} of {len(made)} of the {name}; its rungs stand below")
                for k, sheet in enumerate(made, 1)
            )
            for style, made in papers.sheets.items()
        },
        papers.artefact.text,
        papers.lists,
        _alike(papers),
        papers.called,
        walked,
        Drawing(timed, f"timing chart of a cycle of the {name}", "timing"),
    )


def _alike(papers: CircuitPapers) -> str:
    """What came of reading the wiring list back."""
    if papers.unlike:
        return f"Do not wire from this list: {'; '.join(papers.unlike)}"
    return "Read back from the lists alone: every coil stands behind the same contacts as in its rungs."


def _cycle(machine: Machine, chart: Chart, logic: Logic) -> tuple[Run, Causes]:
    """A normal cycle driven by a logic, and why what happened in it happened."""
    run = simulate(machine, logic, usual_cycle(machine, chart), after_us=_AFTER_US)
    return run, by_contacts(causes(run, machine, logic), run, machine, logic)


def _motion(machine: Machine, chart: Chart) -> Iterator[Drawing]:
    """A normal cycle of the sequence: against steps, against time, and every signal."""
    run, why = _cycle(machine, chart, chart_logic(chart))
    if machine.actuators or machine.motors:
        by_step = motion_step_chart(run, machine, why=why)
        yield Drawing(by_step, "a cycle: how the machine moves, step by step", "motion-step")
        by_time = motion_time_chart(run, machine, why=why)
        yield Drawing(by_time, "a cycle: how the machine moves, against time", "motion-time")
    drawn = timing_chart(run, machine, why=why, chart=chart)
    yield Drawing(drawn, "a cycle: what is on when, and why", "timing")


def _timing(machine: Machine, chart: Chart, logic: Logic, told: Told, called: str) -> str:
    """The timing chart of a cycle, with a place for every moment that is told of it; below it by what other letters
    the sheets call the devices, if by any."""
    run, why = _cycle(machine, chart, logic)
    moments = {p.at_us for section in told.sections for p in section.passages if p.at_us is not None}
    return timing_chart(run, machine, why=why, chart=chart, told=moments, note=called)


def _texts(built: Built) -> Iterator[Text]:
    for one in built.printed:
        artefact = one.artefact
        if artefact.implementation and not artefact.file.endswith((".rungs", ".json")):
            yield Text(slug(artefact.name), artefact.name, _brief(one), artefact.text)
