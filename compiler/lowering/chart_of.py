"""The whole net becomes a Chart: names are given, and what stood for steps yet unknown finds them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from compiler.chart import (
    Action,
    ActionKind,
    Chart,
    Counting,
    CountingKind,
    Forcing,
    Interlock,
    Requirement,
    Response,
    Step,
    Transition,
)
from compiler.condition import (
    Active,
    And,
    Condition,
    Elapsed,
    Not,
    Or,
    Sustained,
    either,
)
from compiler.lowering.net import Clear, Count, Draft, Link, Net, Part
from compiler.lowering.outputs import Outputs
from compiler.machine import Machine

__all__ = ["Rules", "chart_of"]

_NONE: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Rules:
    """What goes into a Chart beside its steps and transitions."""

    forcing: Forcing | None
    interlocks: tuple[Interlock, ...]
    requirements: tuple[Requirement | Response, ...]
    shown: frozenset[str]  # what is on in fault steps
    cleared: dict[str, frozenset[str]]  # by step: the outputs that go off there, if they are stored


def _step_names(net: Net, machine: Machine) -> dict[str, str]:
    """The name of every step, by id: S0, S1 and so on; waiting, fault and other steps by letters of their own. Steps
    of a letter that would be called like a device (a switch S3, a lamp H1) all get an X before it (IEC 60848:2013
    calls the step variable of step 3 X3), and another while that is taken, too."""
    taken = {each.name.casefold() for each in (*machine.actuators, *machine.motors, *machine.inputs, *machine.loads)}
    taken |= {name.casefold() for name in net.counters}
    parted: dict[tuple[str, Part], list[str]] = {}
    for draft in net.drafts.values():
        parted.setdefault((draft.station, draft.part), []).append(draft.id)
    names: dict[str, str] = {}
    for (station, part), ids in parted.items():
        first = 0 if part in (Part.WORK, Part.MEMORY) else 1
        letter = f"{station}_{part}" if station else str(part)
        while any(f"{letter}{number}".casefold() in taken for number, _ in enumerate(ids, first)):
            letter = f"X{letter}"
        names |= {id: f"{letter}{number}" for number, id in enumerate(ids, first)}
    return names


def _renamed(condition: Condition, settle: Callable[[Active], Condition], names: dict[str, str]) -> Condition:
    """The condition with its steps by name, and every activity as ``settle`` says."""
    match condition:
        case Active():
            return settle(condition)
        case Elapsed(step=step, time_us=time_us):
            return Elapsed(step=names[step], time_us=time_us)
        case Not(of=of):
            return Not(of=_renamed(of, settle, names))
        case Sustained(of=of, time_us=time_us):
            return Sustained(of=_renamed(of, settle, names), time_us=time_us)
        case And(of=parts):
            return And(of=tuple(_renamed(part, settle, names) for part in parts))
        case Or(of=parts):
            return either(*(_renamed(part, settle, names) for part in parts))
        case _:
            return condition


def chart_of(
    net: Net, machine: Machine, outputs: Outputs, rules: Rules, meanings: dict[str, tuple[str, ...]]
) -> Chart:
    """The Chart of a whole net. ``meanings`` tells for made-up steps (a signal is on) which steps they stand for."""
    names = _step_names(net, machine)

    def settle(active: Active) -> Condition:
        stands_for = meanings.get(active.step, (active.step,))
        return either(*(Active(step=names[name]) for name in stands_for))

    def named(condition: Condition) -> Condition:
        return _renamed(condition, settle, names)

    def transition(link: Link, name: str, aborts: tuple[str, ...] = ()) -> Transition:
        sources, targets, left = (tuple(names[n] for n in each) for each in (link.sources, link.targets, aborts))
        condition = named(link.condition)
        return Transition(
            name=name, sources=sources, targets=targets, condition=condition, aborts=left, words=link.words
        )

    loads = tuple(load.name for load in machine.loads)
    links = [link for link in net.links if link.targets]
    drafts = sorted(net.drafts.values(), key=lambda draft: draft.part is Part.FAULT)
    return Chart(
        title=machine.title,
        inputs=tuple(i.name for i in machine.inputs),
        outputs=loads,
        steps=tuple(_step(draft, names[draft.id], loads, rules, outputs) for draft in drafts),
        transitions=(
            *(transition(link, f"T{k}") for k, link in enumerate(links, 1)),
            *(transition(link, f"T{names[link.targets[0]]}", _aborted(net, link)) for link in net.fault_links),
        ),
        forcing=None if rules.forcing is None else _forcing(rules.forcing, names, named),
        counters=tuple(net.counters),
        interlocks=tuple(i.model_copy(update={"only_while": named(i.only_while)}) for i in rules.interlocks),
        requirements=tuple(_required(r, named) for r in rules.requirements),
    )


def _forcing(forcing: Forcing, names: dict[str, str], named: Callable[[Condition], Condition]) -> Forcing:
    steps = tuple(names[step] for step in forcing.steps)
    return forcing.model_copy(update={"condition": named(forcing.condition), "steps": steps})


def _step(draft: Draft, name: str, loads: Iterable[str], rules: Rules, outputs: Outputs) -> Step:
    fault = draft.part is Part.FAULT
    on = rules.shown if fault else outputs.on.get(draft.id, _NONE)
    cleared = rules.cleared.get(draft.id, _NONE) & outputs.stored | outputs.resets.get(draft.id, _NONE)
    actions = []
    for load in loads:
        if load in on:
            actions.append(Action(output=load))
        if load in outputs.sets.get(draft.id, _NONE):
            actions.append(Action(output=load, kind=ActionKind.SET_ON_ENTRY))
        elif load in cleared:
            actions.append(Action(output=load, kind=ActionKind.RESET_ON_ENTRY))
    return Step(
        name=name,
        initial=draft.initial,
        actions=tuple(actions),
        counting=tuple(_counting(draft)),
        fault=draft.fault,
        words=draft.words,
    )


def _counting(draft: Draft) -> Iterator[Counting]:
    for command in draft.commands:
        match command:
            case Count(counter=counter):
                yield Counting(counter=counter)
            case Clear(counter=counter):
                yield Counting(counter=counter, kind=CountingKind.CLEAR)
            case _:
                pass


def _aborted(net: Net, link: Link) -> tuple[str, ...]:
    """The steps that go on beside the one a fault leaves: those of every other branch of its parallel work."""
    inside = dict(net.drafts[link.sources[0]].path)
    if not inside:
        return ()
    return tuple(
        draft.id
        for draft in net.drafts.values()
        if draft.part is not Part.FAULT and any(inside.get(k, branch) != branch for k, branch in draft.path)
    )


def _required(required: Requirement | Response, named: Callable[[Condition], Condition]) -> Requirement | Response:
    match required:
        case Requirement(never=never):
            return required.model_copy(update={"never": named(never)})
        case Response(whenever=cause, then=effect):
            return required.model_copy(update={"whenever": named(cause), "then": named(effect)})
