"""The Logic of a structured text program: one scan a look, rescanned at one instant until nothing changes."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass
from operator import ne
from typing import cast

from compiler.logic import Bits, Chattering, Reaction, Timer
from compiler.machine import Contact, Machine
from compiler.program.layout import TIMERS, Layout, layout
from compiler.program.scan import OVERDUE, Scan, State, scan_function
from compiler.timers import Phase, operated
from grammar.diagnostic import Diagnostic, nearest
from grammar.structured_text.blocks import Kind
from grammar.structured_text.constant import constant_duration
from grammar.structured_text.declared import Declared, key, statements, written
from grammar.structured_text.faults import fault
from grammar.structured_text.tree import Call, Given, Unit

__all__ = ["ProgramLogic", "program_logic"]

_MOST_SCANS = 2000


def program_logic(
    unit: Unit, machine: Machine, variables: Mapping[str, str]
) -> ProgramLogic | tuple[Diagnostic, ...]:
    """The Logic of a unit that was read without a fault, or what keeps it from driving this machine.

    ``variables`` gives for every device of the machine the name it has in the program.
    """
    plan = layout(unit)
    told = [*_device_faults(unit, plan, machine, variables)]
    presets = _presets(unit, plan, told)
    if told:
        return tuple(told)
    wires = {
        name: k
        for k, device in enumerate(machine.inputs)
        if (name := variables[device.name].casefold()) in plan.names
    }
    try:
        scan = scan_function(unit, plan, wires, {where: k for k, where in enumerate(presets)})
    except (RecursionError, SyntaxError, MemoryError):
        return (fault("RW517", "the statements are nested too deep to be run", unit.name.span),)
    timers = tuple(Timer(plan.names[where].name.text, preset) for where, preset in presets.items())
    places = tuple(plan.index(where, "phase") or 0 for where in presets)
    outputs = tuple(plan.index(variables[load.name].casefold()) or 0 for load in machine.loads)
    closed = tuple(device.contact is Contact.NORMALLY_CLOSED for device in machine.inputs)
    return ProgramLogic(
        inputs=tuple(device.name for device in machine.inputs),
        outputs=tuple(load.name for load in machine.loads),
        timers=timers,
        plan=plan,
        scan=scan,
        closed=closed,
        timer_places=places,
        output_places=outputs,
    )


@dataclass(frozen=True)
class ProgramLogic:
    """See ``compiler.logic.Logic``. ``closed`` says which inputs are wired normally closed."""

    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    timers: tuple[Timer, ...]
    plan: Layout
    scan: Scan
    closed: Bits
    timer_places: tuple[int, ...]
    output_places: tuple[int, ...]
    name: str = "the structured text"

    def power_up(self, inputs: Bits) -> Reaction:
        """The first stable situation: every variable at its initial value, then scans."""
        return self._settle(self.plan.start, inputs)

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``."""
        now = cast(State, state)
        if expired:
            due = {place for k, place in enumerate(self.timer_places) if k in expired}
            now = tuple(OVERDUE if k in due and value == Phase.RUNNING else value for k, value in enumerate(now))
        return self._settle(now, inputs)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """Numbers with their values, true variables, and blocks whose output is on, in the order declared."""
        return tuple(_lit(self.plan, cast(State, state)))

    def _settle(self, state: State, inputs: Bits) -> Reaction:
        # What a wire carries: live when the device is actuated, the other way round when it is normally closed.
        wires = tuple(map(ne, inputs, self.closed))
        started: set[int] = set()
        seen: dict[State, None] = {}
        while (after := self.scan(state, wires, started)) != state:
            if after in seen or len(seen) > _MOST_SCANS:
                raise Chattering(self._changing([*seen, after]))
            seen[after] = None
            state = after
        running = frozenset(k for k, place in enumerate(self.timer_places) if state[place] == Phase.RUNNING)
        outputs = tuple(bool(state[place]) for place in self.output_places)
        return Reaction(state, outputs, running, frozenset(started) & running)

    def _changing(self, states: list[State]) -> tuple[str, ...]:
        """The variables that differ among the states that come round again."""
        loop = states[states.index(states[-1]) :]
        return tuple(
            dict.fromkeys(
                slot.name
                for k, slot in enumerate(self.plan.slots)
                if any(state[k] != loop[0][k] for state in loop[1:] or states)
            )
        )


def _lit(plan: Layout, state: State) -> Iterator[str]:
    for slot, value in zip(plan.slots, state, strict=True):
        kind = plan.names[slot.key]
        if not slot.field:
            if kind.kind is Kind.INT:
                yield f"{slot.name} = {value}"
            elif value:
                yield slot.name
        elif slot.field == "phase":
            phase = Phase.RUNNING if value == OVERDUE else Phase(value)
            if operated(TIMERS[kind.type], phase):
                yield f"{slot.name}.Q"
        elif slot.field in ("Q", "Q1") and value:
            yield f"{slot.name}.{slot.field}"


def _device_faults(unit: Unit, plan: Layout, machine: Machine, variables: Mapping[str, str]) -> Iterator[Diagnostic]:
    for load in machine.loads:
        name = variables[load.name]
        one = plan.names.get(name.casefold())
        if one is None or one.section != "VAR_OUTPUT":
            message = f"the machine's output {load.name} is not among the outputs of {unit.name.text}"
            yield fault("RW551", message, unit.name.span, expected=f"{name} : BOOL; under VAR_OUTPUT")
        elif one.kind is not Kind.BOOL:
            yield _not_bool(one, load.name)
    fed = {variables[device.name].casefold(): device.name for device in machine.inputs}
    for where, one in plan.names.items():
        if one.section != "VAR_INPUT":
            continue
        if where not in fed:
            near = nearest(one.name.text, [variables[device.name] for device in machine.inputs])
            cure = f"did you mean {near}?" if near else "take it out"
            yield fault("RW552", f"no device of the machine feeds {one.name.text}", one.name.span, cure=cure)
        elif one.kind is not Kind.BOOL:
            yield _not_bool(one, fed[where])


def _not_bool(one: Declared, device: str) -> Diagnostic:
    message = f"{device} is on or off, and {one.name.text} is {one.type}"
    return fault("RW553", message, one.name.span, expected="BOOL")


def _presets(unit: Unit, plan: Layout, told: list[Diagnostic]) -> dict[str, int]:
    """The preset of every timer that is called, in the order of declaration; each timer has one."""
    found: dict[str, int] = {}
    calls = [one for one in statements(unit.body) if isinstance(one, Call)]
    changed = written(unit)
    for call in calls:
        where = key(call.block)
        for argument in call.arguments:
            if isinstance(argument, Given) and argument.pin.text.upper() == "PT":
                preset = constant_duration(argument.value, plan.names, changed) or 0
                if found.setdefault(where, preset) != preset:
                    message = f"{call.block.text} has one preset already, and this is another"
                    told.append(fault("RW516", message, argument.span, cure="use a timer for each time"))
    for call in calls:
        where = key(call.block)
        if plan.names[where].type in TIMERS and where not in found:
            found[where] = 0
            told.append(
                fault("RW516", f"{call.block.text} has no preset", call.span, expected="PT := T#5s or the like")
            )
    return {where: found[where] for where in plan.names if where in found}
