"""Rung lists in a few words, and what their races are."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.circuit import CircuitLogic, circuit_logic
from compiler.logic import Bits
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from compiler.races import Races, Stimulus, open_world, races
from grammar.rungs import read
from grammar.rungs.tree import Circuit
from grammar.source import Source

__all__ = ["MACHINE", "analysed", "change", "circuit", "everywhere"]

MACHINE = Machine(
    inputs=(
        Input(name="START", kind=InputKind.PUSHBUTTON),
        Input(name="STOP", kind=InputKind.PUSHBUTTON),
        Input(name="LS1", kind=InputKind.LIMIT_SWITCH),
        Input(name="AUTO", kind=InputKind.SELECTOR),
    ),
    loads=(Load(name="SOL1", kind=LoadKind.SOLENOID), Load(name="LAMP1", kind=LoadKind.LAMP)),
)
_HEAD = "pushbutton START\npushbutton STOP\nlimit switch LS1\nselector AUTO\nsolenoid SOL1\nlamp LAMP1\n"
_NAMES = [i.name for i in MACHINE.inputs]


def circuit(text: str) -> Circuit:
    """The circuit of some device declarations and rungs; the machine's devices are declared already."""
    reading = read(Source("list", _HEAD + text))
    assert reading.sound, reading.diagnostics
    return reading.tree


def _bits(names: str) -> Bits:
    assert set(names.split()) <= set(_NAMES)
    return tuple(name in names.split() for name in _NAMES)


def change(logic: CircuitLogic, *history: str, expired: Iterable[int] = ()) -> Stimulus:
    """The last change of a history of inputs: the names of those actuated, from power-up on."""
    *steps, was, now = (_bits(names) for names in history)
    first, *later = *steps, was
    reaction = logic.power_up(first)
    for inputs in later:
        reaction = logic.react(reaction.state, inputs)
    return Stimulus(reaction.state, was, now, frozenset(expired))


def analysed(text: str, *history: str, expired: Iterable[int] = ()) -> Races:
    """The races of the last change of a history."""
    tree = circuit(text)
    return races(tree, MACHINE, [change(circuit_logic(tree, MACHINE), *history, expired=expired)])


def everywhere(text: str) -> Races:
    """The races in the open world."""
    tree = circuit(text)
    world = open_world(circuit_logic(tree, MACHINE))
    assert world.complete
    return races(tree, MACHINE, world.stimuli)
