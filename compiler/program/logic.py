"""The Logic of a structured text program: one scan a look, rescanned at one instant until nothing changes."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass
from operator import ne
from typing import cast

from compiler.logic import Bits, Chattering, Reaction, Timer
from compiler.machine import Contact, Machine
from compiler.program.binding import bind
from compiler.program.flow import TIMERS
from compiler.program.layout import Layout, layout
from compiler.program.lit import lit
from compiler.program.scan import OVERDUE, Scan, ScanText, State, scan_function, scan_text
from compiler.timers import Phase
from grammar.diagnostic import Diagnostic
from grammar.structured_text.constant import constant_duration
from grammar.structured_text.declared import key, statements, written
from grammar.structured_text.faults import fault
from grammar.structured_text.tree import Call, Expression, Given, Name, Pin, PinAssignment, Unit

__all__ = ["ProgramLogic", "program_logic"]

_MOST_SCANS = 2000
_RUNNING = int(Phase.RUNNING)


def program_logic(
    unit: Unit, machine: Machine, variables: Mapping[str, str]
) -> ProgramLogic | tuple[Diagnostic, ...]:
    """The Logic of a unit that was read without a fault, or what keeps it from driving this machine.

    ``variables`` gives for every device of the machine the name it has in the program.
    """
    plan = layout(unit)
    bound = bind(unit, plan.names, machine, variables)
    told = list(bound.faults)
    presets = _presets(unit, plan, told)
    if told:
        return tuple(told)
    try:
        text = scan_text(unit, plan, bound.wires, bound.outputs)
        scan = scan_function(text)
    except (RecursionError, SyntaxError, MemoryError):
        return (fault("RW517", "the statements are nested too deep to be run", unit.name.span),)
    return ProgramLogic(
        inputs=tuple(device.name for device in machine.inputs),
        outputs=tuple(load.name for load in machine.loads),
        timers=tuple(Timer(plan.names[where].name.text, presets[where]) for where in plan.timers),
        plan=plan,
        scan=scan,
        text=text,
        closed=tuple(device.contact is Contact.NORMALLY_CLOSED for device in machine.inputs),
        notices=bound.notices,
    )


@dataclass(frozen=True)
class ProgramLogic:
    """See ``compiler.logic.Logic``. ``closed`` says which inputs are wired normally closed; ``notices`` are worth
    knowing about the program on this machine. The phases of the timers are the first part of a state."""

    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    timers: tuple[Timer, ...]
    plan: Layout
    scan: Scan
    text: ScanText
    closed: Bits
    notices: tuple[Diagnostic, ...] = ()
    name: str = "the structured text"

    def power_up(self, inputs: Bits) -> Reaction:
        """The first stable situation: every variable at its initial value, then scans."""
        return self._settle(self.plan.start, inputs)

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``."""
        now = cast(State, state)
        if expired:
            late = list(now)
            for timer in expired:
                if late[timer] == _RUNNING:
                    late[timer] = OVERDUE
            now = tuple(late)
        return self._settle(now, inputs)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """Numbers with their values, true variables, and blocks whose output is on, in the order declared; of all
        these, what is remembered from one scan to the next."""
        return lit(self.plan, cast(State, state))

    def _settle(self, state: State, inputs: Bits) -> Reaction:
        # What a wire carries: live when the device is actuated, the other way round when it is normally closed.
        wires = tuple(map(ne, inputs, self.closed))
        started: set[int] = set()
        seen: dict[State, None] = {}
        timed = len(self.timers)
        while True:
            after, outputs, moved = self.scan(state, wires, started)
            if after == state or (not moved and after[timed:] == state[timed:]):
                break
            if after in seen or len(seen) > _MOST_SCANS:
                raise Chattering(self._changing([*seen, after]))
            seen[after] = None
            state = after
        state = after
        running = _running(state[:timed])
        return Reaction(state, outputs, running, running.intersection(started))

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


def _running(phases: State) -> frozenset[int]:
    """The numbers of the timers that run. Searching is left to the tuple, since of many timers few run at once."""
    found: list[int] = []
    at = -1
    for _ in range(phases.count(_RUNNING)):
        at = phases.index(_RUNNING, at + 1)
        found.append(at)
    return frozenset(found)


def _presets(unit: Unit, plan: Layout, told: list[Diagnostic]) -> dict[str, int]:
    """The preset of every timer that has one or is called; each timer has one."""
    found: dict[str, int] = {}
    changed = written(unit)
    calls = [one for one in statements(unit.body) if isinstance(one, Call)]
    for block, value in _preset_words(unit):
        preset = constant_duration(value, plan.names, changed) or 0
        if found.setdefault(key(block), preset) != preset:
            message = f"{block.text} has one preset already, and this is another"
            told.append(fault("RW516", message, value.span, cure="use a timer for each time"))
    for call in calls:
        where = key(call.block)
        if plan.names[where].type in TIMERS and where not in found:
            found[where] = 0
            told.append(
                fault("RW516", f"{call.block.text} has no preset", call.span, expected="PT := T#5s or the like")
            )
    return found


def _preset_words(unit: Unit) -> Iterator[tuple[Name, Expression]]:
    """Every time given to a timer, and its block."""
    for statement in statements(unit.body):
        match statement:
            case PinAssignment(pin=Pin(block=block, pin=pin), value=value) if pin.text.upper() == "PT":
                yield block, value
            case Call(block=block, arguments=arguments):
                given = (a for a in arguments if isinstance(a, Given))
                yield from ((block, a.value) for a in given if a.pin.text.upper() == "PT")
            case _:
                pass
