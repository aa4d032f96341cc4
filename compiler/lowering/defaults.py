"""The devices of a program that declares none: a cylinder with two switches for every name that strokes use.

A cylinder named by letters (``A+``) has a valve that stays where it was put, as is usual where sequences are written
so (common practice), and switches a1 and a0 as textbooks name them; any other has a valve with spring return.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from compiler.lowering.inside import Inside
from compiler.lowering.travel import travel_time
from compiler.machine import (
    Actuator,
    Contact,
    End,
    Input,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Medium,
    Motor,
    Valve,
    ValveKind,
)
from grammar.sequence import tree

__all__ = ["DEFAULT_STROKE_UM", "USUAL_RESET_UM", "Device", "default_buttons", "default_cylinders", "statements_in"]

DEFAULT_STROKE_UM = 100_000
USUAL_RESET_UM = 1_000  # plunger limit switches: 0.3 to 1.3 mm (common practice)

Device = Actuator | Motor | Input | Load | Inside


def statements_in(statements: Iterable[tree.Statement]) -> Iterator[tree.Statement]:
    """Every statement, and those inside it after it."""
    for statement in statements:
        yield statement
        match statement:
            case tree.Together(branches=parts) | tree.Choice(cases=parts):
                for part in parts:
                    yield from statements_in(part.steps)
            case tree.Repeat(steps=steps):
                yield from statements_in(steps)
            case _:
                pass


def default_cylinders(program: tree.Program) -> list[Device]:
    """The cylinders that strokes and letters name, in the order of their first move, with valves and switches."""
    named: dict[str, tuple[str, bool | None]] = {}
    for declaration in program.declarations:
        if isinstance(declaration, tree.Cycle | tree.Routine):
            for name, out in _moves(declaration.steps):
                named.setdefault(name.casefold(), (name, out))
    found: list[Device] = []
    for k, (name, out) in enumerate(named.values() or [("CYLINDER", None)], 1):
        found += _plain_cylinder(name, k) if out is None else _lettered_cylinder(name, rests_home=out)
    return found


def default_buttons() -> tuple[Input, ...]:
    """START and STOP, which come with a machine whose program declares no input of its own."""
    buttons = (("START", Contact.NORMALLY_OPEN), ("STOP", Contact.NORMALLY_CLOSED))
    return tuple(Input(name=name, kind=InputKind.PUSHBUTTON, contact=contact) for name, contact in buttons)


def _moves(steps: Iterable[tree.Statement]) -> Iterator[tuple[str, bool | None]]:
    """What is named by each stroke and letter, and for a letter whether it goes out (None for a stroke)."""
    for statement in statements_in(steps):
        match statement:
            case tree.CycleStep(commands=commands):
                for command in commands:
                    if isinstance(command, tree.Stroke) and command.actuator is not None:
                        yield command.actuator.text, None
            case tree.Letters(moves=groups):
                yield from ((move.actuator.text, move.out) for group in groups for move in group)
            case _:
                pass


def _plain_cylinder(name: str, k: int) -> list[Device]:
    valve = Valve(kind=ValveKind.SPRING_RETURN, extend=f"SOL{k}")
    return _cylinder(name, Medium.HYDRAULIC, End.HOME, valve, (f"LS{2 * k - 1}", f"LS{2 * k}"))


def _lettered_cylinder(name: str, *, rests_home: bool) -> list[Device]:
    valve = Valve(kind=ValveKind.MEMORY, extend=f"SOL_{name}_OUT", retract=f"SOL_{name}_BACK")
    low = name.lower()
    switches = (f"{low}1", f"{low}0") if len(name) == 1 else (f"{name}_END", f"{name}_HOME")
    return _cylinder(name, Medium.PNEUMATIC, End.HOME if rests_home else End.END, valve, switches)


def _cylinder(name: str, medium: Medium, rest: End, valve: Valve, switches: tuple[str, str]) -> list[Device]:
    out, back = (travel_time(None, None, end) for end in (End.END, End.HOME))
    at_end, at_home = switches
    placed = (
        LimitSwitch(name=at_end, at_um=DEFAULT_STROKE_UM, reset_um=USUAL_RESET_UM, toward=End.END),
        LimitSwitch(name=at_home, at_um=0, reset_um=USUAL_RESET_UM, toward=End.HOME),
    )
    cylinder = Actuator(
        name=name,
        medium=medium,
        stroke_um=DEFAULT_STROKE_UM,
        rest=rest,
        valve=valve,
        extend_time=out,
        retract_time=back,
        limit_switches=placed,
    )
    inputs = [Input(name=switch.name, kind=InputKind.LIMIT_SWITCH) for switch in placed]
    loads = [Load(name=solenoid, kind=LoadKind.SOLENOID) for solenoid in valve.solenoids]
    return [cylinder, *inputs, *loads]
