"""The cycles of a program become a Chart: one step for each stretch of time, each listing every output on in it.

Commanded motion persists. A spring-return solenoid stays on from ``extend`` to ``retract``; a memory valve's
solenoid is on for the step that commands the stroke, for the valve remembers. Commands that wait for nothing
join the step that follows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from compiler.chart import Chart, Forcing, Interlock, Requirement, Response
from compiler.condition import Always, Condition
from compiler.lowering.chart_of import Rules, chart_of
from compiler.lowering.conditions import lower_condition
from compiler.lowering.devices import Devices
from compiler.lowering.inside import InsideKind
from compiler.lowering.interlocks import lower_interlocks
from compiler.lowering.named import find_device, kind_of
from compiler.lowering.net import Exit, Part, Ways
from compiler.lowering.outputs import Outputs, outputs_of_steps
from compiler.lowering.requirements import lower_requirements
from compiler.lowering.signals import counted_by_somebody, settle_rest, signal_meanings
from compiler.lowering.statements import LASTING, lower_statements
from compiler.lowering.stations import FINISHING, Station, lower_station, only_at_home, waits_for_itself
from compiler.lowering.stopping import Stop, button_in, fault_resets, last_cycle, stop_rule
from compiler.lowering.work import Commanded, Work
from compiler.machine import Load, Machine
from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import tree
from grammar.source import Source, Span

__all__ = ["LoweredCycle", "lower_cycle"]


@dataclass(frozen=True, slots=True)
class LoweredCycle:
    """The finished Machine and Chart, and the faults met on the way to the Chart."""

    machine: Machine
    chart: Chart | None
    faults: tuple[Diagnostic, ...] = ()


def lower_cycle(program: tree.Program, devices: Devices, source: Source) -> LoweredCycle:
    """The Chart of a program's cycles. A fault anywhere still lets the rest be looked at."""
    before = len(devices.faults)
    work = Work(devices, source, _routines(program, devices))
    stations = _stations(program, work)
    stop = stop_rule(work, program, stations)
    last = last_cycle(work, program, stations)
    fault_resets(work, program, stations, stop)
    shown = _shown_on_fault(program, devices)
    interlocks = lower_interlocks(program, devices, work.words)
    requirements = lower_requirements(program, devices, work.words)
    outputs = outputs_of_steps(work.net, _output_names(devices))
    _nothing_lasts(work, program, stations, outputs)
    _left_on(work, stations, outputs)
    asked = list(_conditions(work, interlocks, requirements))
    counted_by_somebody(work, asked)
    meanings = settle_rest(work, stations, outputs)
    meanings |= signal_meanings(work, stations, outputs, shown, asked)
    meanings |= {} if last is None else {FINISHING.step: (last,)}
    buttons = (button_in(devices, station.trigger) for station in stations)
    machine = devices.machine(start=next((b for b in buttons if b is not None), None), stop=stop.button)
    faults = tuple(devices.faults[before:])
    del devices.faults[before:]
    broken = any(d.severity is Severity.FAULT for d in (*devices.faults, *faults))
    if broken or not stations or any(station.trigger is None for station in stations):
        return LoweredCycle(machine, None, faults)
    forcing = _with_memories(work, stop.forcing)
    rules = Rules(forcing, interlocks, requirements, shown, _cleared(work, stations, stop))
    return LoweredCycle(machine, chart_of(work.net, machine, outputs, rules, meanings), faults)


# --- stations and routines ----------------------------------------------------------------------------------------


def _stations(program: tree.Program, work: Work) -> list[Station]:
    """Every cycle as a station, with the home conditions on its trigger."""
    devices = work.devices
    cycles = [d for d in program.declarations if isinstance(d, tree.Cycle)]
    unnamed = [cycle for cycle in cycles if cycle.station is None]
    for extra in unnamed[len(unnamed) == len(cycles) :] if len(cycles) > 1 else ():
        devices.fault("RW211", "the program already has a cycle", extra.span,
                      cure="Where several go side by side, each names its station: cycle of LOADER.")  # fmt: skip
    if not cycles or not cycles[0].steps:
        devices.fault("RW212", "there is no cycle", program.span)
    finishes = any(isinstance(d, tree.FinishCycle) for d in program.declarations)
    stations = []
    for cycle in cycles:
        called = cycle.station.text if cycle.station is not None else ""
        name = called if len(cycles) > 1 else ""
        stations.append(replace(lower_station(work, cycle, name, finishes=finishes), called=called))
        waits_for_itself(work, stations[-1])
    _one_station_each(work)
    _unused_routines(work)
    homes = [d for d in program.declarations if isinstance(d, tree.Home)]
    at_home = [lower_condition(devices, home.condition, LASTING) for home in homes]
    only_at_home(work, stations, [condition for condition in at_home if condition is not None])
    return stations


def _one_station_each(work: Work) -> None:
    """A device belongs to one station: commanded by two that go on at once, it would be told two things."""
    first: dict[str, Commanded] = {}
    told_of: set[tuple[str, str]] = set()
    for commanded in work.commanded:
        other = first.setdefault(commanded.output, commanded)
        if other.station != commanded.station and (commanded.device, commanded.station) not in told_of:
            told_of.add((commanded.device, commanded.station))
            message = (
                f"{commanded.device} is commanded by two stations, {commanded.station} here and {other.station} in "
                f"line {work.line(other.span)}"
            )
            work.devices.fault("RW221", message, commanded.span)


def _routines(program: tree.Program, devices: Devices) -> dict[str, tree.Routine]:
    """Every routine by its name as declared; of two of one name (which is told elsewhere) the first."""
    found: dict[str, tree.Routine] = {}
    for routine in (d for d in program.declarations if isinstance(d, tree.Routine)):
        named = devices.find(routine.name.text)
        if named is not None and named.name == routine.name.text:
            found.setdefault(named.name, routine)
    return found


def _unused_routines(work: Work) -> None:
    """What is in a routine that nothing does is looked at all the same."""
    called = set(work.called)
    for name, routine in work.routines.items():
        if name not in called:
            work.devices.fault("RW331", f"nothing does {name}", routine.name.span)
            apart = Work(work.devices, work.source, work.routines, calls=(name,))
            begun = apart.net.draft(Part.WORK, apart.headline(routine.span))
            lower_statements(apart, routine.steps, Ways((Exit((begun.id,), Always(), begun.words),)))
            called |= apart.called


# --- what goes with it --------------------------------------------------------------------------------------------


def _output_names(devices: Devices) -> list[str]:
    """Everything that steps switch: loads, and signals."""
    signals = [inside.name for inside in devices.inside if inside.kind is InsideKind.SIGNAL]
    return [*(load.name for load in devices.loads), *signals]


def _conditions(
    work: Work, interlocks: Sequence[Interlock], requirements: Sequence[Requirement | Response]
) -> Iterator[Condition]:
    yield from (link.condition for link in (*work.net.links, *work.net.fault_links))
    yield from (interlock.only_while for interlock in interlocks)
    yield from (condition for requirement in requirements for condition in requirement.conditions)


def _nothing_lasts(work: Work, program: tree.Program, stations: Sequence[Station], outputs: Outputs) -> None:
    """A cycle that is over at once; told where nothing else is wrong with it, for then that is why."""
    cycles = [d for d in program.declarations if isinstance(d, tree.Cycle)]
    faults = [d.span for d in work.devices.faults if d.severity is Severity.FAULT and d.span is not None]
    for cycle, station in zip(cycles, stations, strict=True):
        own = [d for d in work.net.drafts.values() if d.station == station.name and d.part is Part.WORK]
        lasting = [draft for draft in own if not draft.passing and not draft.initial]
        if not cycle.steps or lasting or outputs.left[station.rest]:
            continue
        if any(cycle.span.start <= span.start < cycle.span.end for span in faults):
            continue
        place = work.first_line(cycle.steps[0].span)
        moved = {c.device for c in work.commanded if c.station == station.name}
        unseen = [a.name for a in work.devices.actuators if a.name in moved]
        if unseen:
            message = f"{unseen[0]} has no limit switch, so nothing tells when its stroke is over"
            work.devices.fault("RW204", message, place)
        else:
            work.devices.fault("RW212", "nothing in the cycle lasts or is waited for", place)


def _left_on(work: Work, stations: Sequence[Station], outputs: Outputs) -> None:
    """RW314: what is on at the end of a cycle that went one way, and off where it went another."""
    loads = {load.name for load in work.devices.loads}
    for station in stations:
        into = work.net.entering.get(station.rest, ())
        left = sorted(outputs.left[station.rest] & outputs.stored & loads)
        if left and into:
            be = "is" if len(left) == 1 else "are"
            message = f"at the end of the cycle {' and '.join(left)} {be} left on, where it went a way that does so"
            work.devices.fault("RW314", message, Span(into[0].words.start, into[0].words.end))


def _cleared(work: Work, stations: Sequence[Station], stop: Stop) -> dict[str, frozenset[str]]:
    """By step, the outputs that go off there if they are stored: in a fault, and at rest after a STOP by steps."""
    own: dict[str, set[str]] = {station.name: set() for station in stations}
    for commanded in work.commanded:
        own.setdefault(commanded.station, set()).add(commanded.output)
    faults = [d for d in work.net.drafts.values() if d.part is Part.FAULT]
    found = {draft.id: frozenset(own.get(draft.station, ())) for draft in faults}
    if stop.by_steps:
        found |= {station.initial: frozenset(own[station.name]) for station in stations}
    return found


def _with_memories(work: Work, forcing: Forcing | None) -> Forcing | None:
    """A forcing into steps of its own forces every memory back as well."""
    if forcing is None or not forcing.steps:
        return forcing
    memories = tuple(d.id for d in work.net.drafts.values() if d.part is Part.MEMORY and d.initial)
    return forcing.model_copy(update={"steps": (*forcing.steps, *memories)})


def _shown_on_fault(program: tree.Program, devices: Devices) -> frozenset[str]:
    names = [turn.load for d in program.declarations if isinstance(d, tree.OnFault) for turn in d.turns if turn.on]
    found = set()
    for name in names:
        load = find_device(devices, name)
        if isinstance(load, Load):
            found.add(load.name)
        elif load is not None:
            devices.fault("RW216", f"{load.name} is a {kind_of(load)}, and cannot be turned on", name.span)
    return frozenset(found)
