"""Proofs on the screen and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, fields
from typing import TYPE_CHECKING

from compiler.chart import Chart
from compiler.chart_logic import ChartLogic
from compiler.machine import InputKind, Machine
from compiler.physics.cycle import cycle_times
from compiler.proof.cycle import CycleTime
from compiler.proof.examine import Examined, Question
from compiler.proof.required import Kept
from compiler.proof.station import StationTime
from compiler.proof.supply import WithSupply
from compiler.proof.telling import happening, seconds, sentence
from compiler.proof.verdict import Outside, Proof, Standing
from compiler.proof.world import Assumed
from compiler.shape import shape_of
from compiler.simulation.run import Run
from compiler.simulation.timeline import timeline
from compiler.spoken import spans
from targets.screen import console, heading, paragraph, write_text
from targets.target import CAUTION

if TYPE_CHECKING:
    from compiler.races import Races
    from compiler.retell.retell import Retold
    from compiler.understand import Understood

__all__ = [
    "CLAIM",
    "STYLES",
    "claim",
    "examined_json",
    "examined_lines",
    "outside_line",
    "proof_json",
    "proofs_json",
    "requirement_line",
    "run_json",
    "show_proof",
    "show_table",
]

STYLES = {
    Standing.SAME: "green",
    Standing.SAME_ONLY_IF: "yellow",
    Standing.DIFFERS: "bold red",
    Standing.NOT_SETTLED: "bold magenta",
}
CLAIM = (
    "Proved over every run: every stroke time within its limits, every moment of every press, the supply lost and "
    "back at any moment, and one failure that stays, a rod that jams or a switch that sticks. Assumed: one thing "
    "happens after another, and contacts and scans act at once."
)
_CLAIM_WORKING = (
    "Proved over every run: every stroke time within its limits, every moment of every press, the supply lost and "
    "back at any moment, and a jam of one rod that stays. Assumed: switches work, one thing "
    "happens after another, and contacts and scans act at once."
)
_CLAIM_ANYWHERE = (
    "Proved whatever the inputs do, stuck switches included, with the supply lost and back at any moment. Assumed: "
    "contacts and scans act at once."
)
_CAREFUL = (
    "A careful operator presses START only when the machine stands ready, lets go before the next step or time "
    "begins, and never has STOP down with it."
)
_BEYOND = {
    Assumed.CAREFUL: "without a careful operator",
    Assumed.APART: "with START and STOP down together",
    Assumed.EXACT: "with strokes quicker than their greatest time",
    Assumed.NO_JAM: "when a stroke jams",
    Assumed.SUPPLIED: "when the supply is lost",
    Assumed.SWITCHES: "when a switch sticks",
}


def claim(proofs: Sequence[Proof]) -> str:
    """What was proved and what was assumed: less, where nothing but the implementations was needed; where all differ
    nothing was proved, and it tells what was looked through."""
    if proofs and all(proof.anywhere for proof in proofs):
        return _CLAIM_ANYWHERE
    told = _CLAIM_WORKING if any(Assumed.SWITCHES in proof.base for proof in proofs) else CLAIM
    if any(proof.standing is Standing.NOT_SETTLED for proof in proofs):
        told = told.replace("Proved over every run", "What is settled is proved over every run", 1)
    if proofs and all(proof.standing is Standing.DIFFERS for proof in proofs):
        shown = (
            "A run is shown, of all these" if any(p.tried for p in proofs) else "The shortest of all runs is shown"
        )
        return told.replace("Proved over every run", shown, 1)
    return f"{told} {_CAREFUL}" if any(Assumed.CAREFUL in proof.needs for proof in proofs) else told


def outside_line(outside: Outside, machine: Machine) -> str:
    """When it differs, and how, in one sentence."""
    beyond = [_BEYOND[assumed] for assumed in (outside.beyond, *outside.also) if assumed is not None]
    when = f"{' and '.join(beyond)}: " if beyond else ""
    if outside.run is None:
        return f"{when}no simulated run was found that shows it"
    told = when + sentence(outside.run, machine)
    if not outside.hasty:
        return told
    rods = " and ".join(outside.hasty)
    return f"{told}. But {rods} cannot be so quick: turned round twice, a rod may be anywhere as far as this is told"


def show_proof(proof: Proof, program: Understood, *, draw: bool) -> None:
    """A verdict with its reasons, each drawn if asked for. Steps are told in the words of the program they are of."""
    machine = program.machine
    heading(f"{proof.shadow} beside {proof.driver}")
    paragraph(proof.headline, 2, STYLES[proof.standing])
    if proof.chatters:
        paragraph(f"{proof.driver} never settles in some runs: {', '.join(proof.chatters)}", 4, "bold red")
    for outside in proof.outside:
        paragraph(outside_line(outside, machine), 4)
        if draw and outside.run is not None:
            console().print()
            chart = program.chart if proof.driver == ChartLogic.name else None
            write_text(timeline(outside.run, machine, chart=chart, width=min(console().width, 80)))
            console().print()


def show_table(proofs: Sequence[Proof]) -> None:
    """Several verdicts, a line each."""
    from rich.table import Table
    from rich.text import Text

    table = Table("", "beside", "verdict", "only if", box=None, pad_edge=False, header_style="bold")
    for proof in proofs:
        verdict = Text(str(proof.standing), style=STYLES[proof.standing])
        table.add_row(proof.shadow, proof.driver, verdict, ", ".join(proof.needs))
    console().print(table)


def requirement_line(kept: Kept, machine: Machine) -> tuple[str, bool]:
    """Whether a requirement is kept, and whether that is good news."""
    if kept.broken:
        happens = "" if kept.run is None else happening(kept.run, machine, kept.at_us)
        return f"broken at {seconds(kept.at_us)}{': ' * bool(happens)}{happens}", False
    if not kept.settled:
        return "not settled: the search was given up", False
    return ("kept in every run" if kept.free else "kept in every run without STOP, a jam or a loss of supply"), True


def run_json(run: Run | None) -> object:
    """A run as JSON."""
    return None if run is None else run.model_dump(mode="json")


def show_races(races: Races, *, whole: bool, most: int | None) -> None:
    """What a race analysis found, the first few races or all of them."""
    if not whole:
        paragraph("not settled: the machine brings the circuit into more situations than were met", 0, "bold magenta")
    first, *rest = races.lines
    paragraph(first, 0, "green" if races.free else "bold red")
    heads = [k for k, line in enumerate(rest) if not line.startswith(" ")]
    shown = rest if most is None or len(heads) <= most else rest[: heads[most]]
    for line in shown:
        paragraph(line.strip(), 4 if line.startswith(" ") else 2)
    if len(shown) < len(rest):
        paragraph(f"and {len(heads) - (most or 0)} more; --all shows them", 2, "dim")
    console().print()
    paragraph(CAUTION, 0)


def show_retold(retold: Retold, *, written: str | None, draw: bool) -> None:
    """What was told of an implementation, the proof, and what words do not say."""
    if written is not None and retold.text:
        paragraph(f"Written to {written}", 0)
    elif retold.text:
        write_text(retold.text)
    for note in retold.notes:
        paragraph(note, 0, "yellow")
    if retold.proof is not None and retold.understood is not None:
        show_proof(retold.proof, retold.understood, draw=draw)
        console().print()
        paragraph(claim([retold.proof]), 0, "dim")
    console().print()
    paragraph(CAUTION, 0)


def _opposed_lines(examined: Examined, machine: Machine) -> Iterator[tuple[str, bool]]:
    """Whether what drives a cylinder or a motor one way is ever on with what drives it the other way."""
    valves = "no valve ever has both solenoids on" if any(a.valve.opposed for a in machine.actuators) else ""
    motors = "no motor is ever driven both ways at once" if machine.motors else ""
    both = ", ".join(examined.both_on)
    if both:
        yield f"may be driven both ways at once: {both}", False
    elif (valves or motors) and Question.OPPOSED not in examined.open:
        yield ", and ".join(filter(None, (valves, motors))), True


def _home_lines(examined: Examined, chart: Chart) -> Iterator[tuple[str, bool]]:
    """Whether it comes home, by anything that may be done and by STOP alone."""
    stuck = ", ".join(examined.stuck)
    if stuck:
        yield f"it can get stuck in {stuck}: no press, switch or time leads from there to rest at home", False
        return
    yield "rest at home can be reached from everywhere, jams aside", True
    if examined.away:
        yield f"STOP alone may leave the machine away from home ({_away(examined.away, chart)})", True
    elif examined.away is not None:
        once = chart.forcing is not None and not chart.forcing.steps
        again = "" if once else ", pressed again where need be,"
        yield f"STOP{again} brings it home from everywhere, jams aside", True


def _away(away: Sequence[str], chart: Chart) -> str:
    """Steps in which STOP leaves the machine away from home, in the order of the chart; those at rest apart."""
    rest = shape_of(chart).rest
    ordered = [step.name for step in chart.steps if step.name in away]
    working, resting = ([name for name in ordered if (name in rest) is at_rest] for at_rest in (False, True))
    told = [f"in {spans(working)}"] if working else []
    return ", and ".join([*told, *([f"at rest in {spans(resting)}"] if resting else [])])


def _supply_lines(examined: Examined) -> Iterator[tuple[str, bool]]:
    """What comes on by itself as a lost supply comes back."""
    if examined.supply is None:
        return
    for condition in examined.supply.begins:
        yield f"a supply that comes back may begin a cycle by itself: {condition}", False
    if examined.supply.on:
        yield f"a supply that comes back switches on at once: {', '.join(examined.supply.on)}", False
    if examined.supply == WithSupply():
        yield "a supply that comes back switches nothing on by itself", True


def examined_lines(examined: Examined, machine: Machine, chart: Chart) -> Iterator[tuple[str, bool]]:
    """What was proved of a sequence by itself, and whether each is good news."""
    for question in examined.open:
        named = f": {', '.join(examined.unmet)}" if question is Question.REACHED else ""
        yield f"not settled: {question}{named}", False
    if examined.open:
        yield f"the search was given up after {examined.situations} situations", False
    loop = ", ".join(examined.chatters)
    if loop:
        yield f"it never settles in some runs: {loop}", False
    elif Question.SETTLES not in examined.open:
        yield "it settles in every run", True
    yield from _opposed_lines(examined, machine)
    if Question.HOME not in examined.open:
        yield from _home_lines(examined, chart)
    yield from _supply_lines(examined)
    for station in examined.stations:
        told = f"{_span(station.cycle)}{_granted(station)}{_rough(station.cycle)}"
        yield f"a cycle of {station.station or 'it'} by itself takes {told}", True
    if examined.cycle is not None:
        waits = _waits(machine, chart) if examined.cycle.greatest_us is None else None
        told = f"{_span(examined.cycle)}{_awaited(waits)}{_rough(examined.cycle)}"
        yield f"a cycle takes {told}", True


def _granted(station: StationTime) -> str:
    """What a cycle waits for, which is not counted."""
    return f", not counting the waits for {_and(station.waits)}" if station.waits else ""


def _and(names: Sequence[str]) -> str:
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def _rough(cycle: CycleTime) -> str:
    """That the times are not exact."""
    if not cycle.rough:
        return ""
    return " (roughly: a stroke that stops, turns or changes speed midway counts as anything up to its whole time)"


def _span(cycle: CycleTime) -> str:
    """The least and the greatest time; where it waits for somebody, the least."""
    least = seconds(cycle.least_us)
    if cycle.greatest_us is None:
        return f"at least {least}"
    greatest = seconds(cycle.greatest_us)
    return f"{least} exactly" if least == greatest else f"{least} to {greatest}"


def _awaited(waits: Sequence[str] | None) -> str:
    """What is to be added to the least time; None where nothing is."""
    if waits is None:
        return ", undisturbed"
    if not waits:
        return ", plus what it waits for"
    return f", plus the wait{'s' * (len(waits) > 1)} for {_and(waits)}"


def _waits(machine: Machine, chart: Chart) -> tuple[str, ...]:
    """What a cycle waits for: inputs that no rod of the machine works, and who works buttons and selectors."""
    names = {name for station in cycle_times(machine, chart) for name in station.waits}
    waited = [i for i in machine.inputs if i.name in names]
    by_hand = (InputKind.PUSHBUTTON, InputKind.SELECTOR)
    operator = ("the operator",) if any(i.kind in by_hand for i in waited) else ()
    return (*(i.name for i in waited if i.kind not in by_hand), *operator)


def examined_json(examined: Examined) -> dict[str, object]:
    """What was proved of a sequence by itself, as JSON; requirements are told apart."""
    cycle = None if examined.cycle is None else asdict(examined.cycle)
    apart = ("cycle", "kept", "stations", "supply")
    told = {f.name: getattr(examined, f.name) for f in fields(examined) if f.name not in apart}
    return {
        "settled": examined.settled,
        **told,
        "open": [str(question) for question in examined.open],
        "cycle": cycle,
        "stations": [asdict(station) for station in examined.stations],
        "supply": None if examined.supply is None else asdict(examined.supply),
    }


def proof_json(proof: Proof, machine: Machine) -> dict[str, object]:
    """One verdict as JSON."""
    return {
        "by": "proof",
        "driver": proof.driver,
        "shadow": proof.shadow,
        "standing": str(proof.standing),
        "needs": [str(assumption) for assumption in proof.needs],
        "holds": proof.holds,
        "anywhere": proof.anywhere,
        "situations": proof.situations,
        "zones": proof.zones,
        "combinations": proof.combinations,
        "line": proof.headline,
        "driver never settles": list(proof.chatters),
        "differences": [
            {
                "beyond": None if outside.beyond is None else str(outside.beyond),
                "line": outside_line(outside, machine),
                "run": run_json(outside.run),
            }
            for outside in proof.outside
        ],
    }


def proofs_json(proofs: Sequence[Proof], machine: Machine, messages: Sequence[object]) -> str:
    """All verdicts of a command as JSON, and the messages about the implementations."""
    report = {
        "caution": CAUTION,
        "messages": messages,
        "claim": claim(proofs),
        "verdicts": [proof_json(proof, machine) for proof in proofs],
    }
    return json.dumps(report, indent=2, ensure_ascii=False)
