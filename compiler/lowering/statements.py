"""Statements of a cycle become steps and links of the net: each takes the ways that lead to it and gives those on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from compiler.chart import Words
from compiler.condition import (
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    negated,
    walk,
)
from compiler.lowering.commands import Given, arrival, lower_command
from compiler.lowering.conditions import Setting, lower_condition
from compiler.lowering.devices import Devices
from compiler.lowering.inside import InsideKind
from compiler.lowering.letters import as_steps
from compiler.lowering.named import find_inside
from compiler.lowering.net import Clear, Command, Count, Draft, Exit, Link, Part, Pulse, Switch, Ways, told
from compiler.lowering.work import Commanded, Work, settled
from compiler.machine import End, InputKind, LoadKind
from compiler.truth import covered, possible
from compiler.units import microseconds
from grammar.sequence import tree

__all__ = ["LASTING", "lower_statements"]

LASTING = Setting(moments=False)
"""Where a condition decides which way to go: "is pressed" means that it is down."""

_MOST_STEPS = 50_000


def lower_statements(work: Work, statements: Sequence[tree.Statement], ways: Ways) -> Ways:
    """The statements one after another: from the ways that lead to the first to those on from the last."""
    for statement in statements:
        match statement:
            case tree.CycleStep():
                ways = _step(work, statement, ways)
            case tree.Together():
                ways = _together(work, statement, ways)
            case tree.Choice():
                ways = _choice(work, statement, ways)
            case tree.Repeat():
                ways = _repeat(work, statement, ways)
            case tree.Do():
                ways = _do(work, statement, ways)
            case tree.Letters():
                ways = lower_statements(work, as_steps(statement), ways)
    return ways


# --- a step -------------------------------------------------------------------------------------------------------


def _step(work: Work, step: tree.CycleStep, ways: Ways) -> Ways:
    devices, net = work.devices, work.net
    ends = step.until is not None or step.duration is not None
    given = _given(work, step, ends=ends)
    words = work.words(step.span)
    made = net.draft(Part.WORK, told([*ways.told, words]))
    end = _end_of(devices, step, made.id, given)
    if end is None:
        net.forget(made.id)
        if step.within is not None:
            devices.fault("RW207", '"within" needs something to wait for', step.within.span,
                          expected='"until" and a condition before it')  # fmt: skip
        commands = [command for each in given for command in each.commands]
        return replace(ways.and_then(*commands), told=(*ways.told, words))
    made.commands = [*ways.pending, *(command for each in given for command in each.commands)]
    made.end = end
    made.idle = _idle(devices, made, end)
    net.lead(ways, made.id)
    if step.within is not None:
        _add_fault(work, step.within, made, end)
    return Ways((Exit((made.id,), end, words),))


def _idle(devices: Devices, step: Draft, end: Condition) -> bool:
    """Whether a step drives nothing that moves a load, and ends with a button, a selector or a sensor, in no time."""
    moving = {load.name for load in devices.loads if load.kind in (LoadKind.SOLENOID, LoadKind.CONTACTOR)}
    if any(isinstance(command, Switch | Pulse) and command.output in moving for command in step.commands):
        return False
    outside = {
        i.name for i in devices.inputs if i.kind in (InputKind.PUSHBUTTON, InputKind.SELECTOR, InputKind.SENSOR)
    }
    asked = [part for part in walk(end) if not isinstance(part, Not | And | Or | Sustained)]
    return bool(asked) and all(isinstance(part, Signal | Rise) and part.device in outside for part in asked)


def _given(work: Work, step: tree.CycleStep, *, ends: bool) -> list[Given]:
    """What the commands of a step mean, with who commands what noted."""
    devices, net = work.devices, work.net
    given = [lower_command(devices, command, ends=ends) for command in step.commands]
    for command in step.commands:
        if isinstance(command, tree.Wait) and not ends:
            message = f'"{command.word}" needs a time, or "until" and what to wait for'
            devices.fault("RW207", message, step.span)
    toward: dict[str, End | None] = {}
    for each in given:
        if each.actuator is not None and toward.setdefault(each.device, each.toward) is not each.toward:
            message = f"{each.device} is told to extend and to retract at once"
            devices.fault("RW210", message, each.span)
        work.commanded += [Commanded(o, each.device, net.station, net.path, each.span) for o in each.outputs]
    return given


def _end_of(devices: Devices, step: tree.CycleStep, name: str, given: list[Given]) -> Condition | None:
    """What ends a step, or None where nothing does and the next one follows at once.

    A condition at fault gives Elapsed of one microsecond, so that the rest of the program is still looked at.
    """
    stand_in = Elapsed(step=name, time_us=1)
    if step.until is not None:
        moving = tuple(each.actuator for each in given if each.actuator is not None)
        astray = any(isinstance(c, tree.Stroke) for c in step.commands) and not moving
        setting = Setting(step=name, moving=tuple(dict.fromkeys(moving)), astray=astray)
        return lower_condition(devices, step.until.condition, setting) or stand_in
    if step.duration is not None:
        time_us = devices.value(microseconds, step.duration)
        return Elapsed(step=name, time_us=time_us) if time_us else stand_in
    if any(isinstance(command, tree.Wait) for command in step.commands):
        return stand_in
    return arrival(given)


def _add_fault(work: Work, within: tree.Within, step: Draft, end: Condition) -> None:
    """A way out to a fault step when the time is up and the end condition does not hold at that very moment."""
    time_us = work.devices.value(microseconds, within.time)
    if time_us is None:
        return
    words = work.words(within.span)
    fault = work.net.draft(Part.FAULT, words)
    fault.fault = within.fault.message.text
    condition = both(Elapsed(step=step.id, time_us=time_us), negated(end))
    work.net.fault_links.append(Link((step.id,), (fault.id,), condition, words))


# --- blocks -------------------------------------------------------------------------------------------------------


def _together(work: Work, together: tree.Together, ways: Ways) -> Ways:
    """A fork to the first steps of all branches, a waiting step at the end of each, and a join of those."""
    net, here = work.net, work.net.path
    single = len(ways.exits) == 1 and len(ways.exits[0].sources) == 1
    if not single or not all(isinstance(command, Switch) for command in ways.pending):
        ways = settled(work, ways)
    (way,) = ways.exits
    fork = Link(way.sources, (), way.condition, way.words, fork=len(net.owned))
    net.links.append(fork)
    net.owned.append(())
    firsts, waiting, parts = [], [], []
    for k, branch in enumerate(together.branches):
        net.path = (*here, (fork.fork or 0, k))
        opening, before = _named(work.headline(branch.span), "this branch begins"), len(work.commanded)
        first = net.draft(Part.WORK, opening)
        first.end = Always()
        ended = lower_statements(work, branch.steps, Ways((Exit((first.id,), Always(), opening),)))
        ended = settled(work, ended) if _pulses(ended) else ended
        last = net.step(ended, Part.WAITING, _named(opening, "wait for the other branches"))
        firsts.append(first.id)
        waiting.append(last.id)
        parts.append(work.commanded[before:])
    net.path = here
    net.owned[fork.fork or 0] = tuple(frozenset(c.output for c in part) for part in parts)
    _opposed_branches(work, parts)
    fork.targets = tuple(firsts)
    net.enter(fork)
    _carry(work, fork, ways)
    done = _named(work.headline(together.span), "all branches done")
    return Ways((Exit(tuple(waiting), Always(), done),), over=done.text)


def _named(words: Words, text: str) -> Words:
    """What stands at some words, for which the program has none of its own."""
    return words.model_copy(update={"text": text})


def _pulses(ways: Ways) -> bool:
    return any(isinstance(command, Pulse) for command in ways.pending)


def _carry(work: Work, fork: Link, ways: Ways) -> None:
    """What was switched just before the fork is switched in the branch that commands it too, else in the first."""
    net = work.net
    owned = net.owned[fork.fork or 0]
    carried: dict[int, list[Command]] = {}
    for command in ways.pending:
        owner = next((k for k, mine in enumerate(owned) if isinstance(command, Switch) and command.output in mine), 0)
        carried.setdefault(owner, []).append(command)
    for k, first in enumerate(fork.targets):
        net.drafts[first].commands = carried.get(k, [])
        stands = net.drafts[net.merge_into_next(first)]
        if k in carried:
            stands.words = told([*ways.told, stands.words])


def _opposed_branches(work: Work, parts: list[list[Commanded]]) -> None:
    """A device belongs to one branch: commanded in two that go on at once, it would be told two things."""
    first: dict[str, tuple[int, Commanded]] = {}
    told_of: set[tuple[str, int]] = set()
    for k, part in enumerate(parts):
        for commanded in part:
            branch, other = first.setdefault(commanded.output, (k, commanded))
            if branch != k and (commanded.device, k) not in told_of:
                told_of.add((commanded.device, k))
                message = (
                    f"{commanded.device} is commanded in two branches that go on at once, here and in line "
                    f"{work.line(other.span)}"
                )
                work.devices.fault("RW221", message, commanded.span)


def _choice(work: Work, choice: tree.Choice, ways: Ways) -> Ways:
    """From one step a way into each case: its condition holds, and that of no earlier case."""
    way = settled(work, ways)
    earlier: list[Condition] = []
    exits: list[Exit] = []
    for case in choice.cases:
        holds: Condition = Always()
        if case.condition is not None:
            holds = lower_condition(work.devices, case.condition, LASTING) or Always()
        if not possible(holds) or covered(holds, earlier):
            place = case.condition.span if case.condition is not None else work.first_line(case.span)
            why = "an earlier case is always taken instead" if possible(holds) else "its condition never holds"
            work.devices.fault("RW333", f"this case is never taken: {why}", place)
        words = work.words(case.condition.span) if case.condition is not None else work.headline(case.span)
        taken = way.only_if(both(*(negated(e) for e in earlier), holds), words)
        ended = lower_statements(work, case.steps, taken)
        exits += (settled(work, ended) if ended.pending else ended).exits
        earlier.append(holds)
    if choice.cases[-1].condition is not None:
        otherwise = _named(work.headline(choice.span), "otherwise")
        exits += way.only_if(both(*(negated(e) for e in earlier)), otherwise).exits
    return Ways(tuple(exits), over="either way done" if len(choice.cases) < 3 else "whichever way, done")


def _repeat(work: Work, repeat: tree.Repeat, ways: Ways) -> Ways:
    """A way back to the first step of the pass, and one onward. Where passes are counted, that step counts them."""
    net, words = work.net, work.headline(repeat.span)
    ways = settled(work, ways) if ways.pending or repeat.while_ is not None else ways
    counter = None if repeat.times is None else _pass_counter(work, repeat)
    again = _goes_again(work, repeat, counter)
    skipped: tuple[Exit, ...] = ()
    if repeat.while_ is not None:
        skipped, ways = ways.only_if(negated(again), words).exits, ways.only_if(again, words)
    entry = net.step(ways, Part.WORK, words, () if counter is None else (Count(counter),))
    entry.end = Always()
    counting, work.counting = work.counting, (*work.counting, counter or "")
    ended = settled(work, lower_statements(work, repeat.steps, Ways((Exit((entry.id,), Always(), words),))))
    work.counting = counting
    first = net.merge_into_next(entry.id)
    if ended.exits[0].sources == (first,):
        ended = net.pass_through(replace(ended, over="end of the pass"))
    (way,) = ended.exits
    net.link(Link(way.sources, (first,), both(way.condition, again), words))
    if net.spins(first):
        message = "a pass of this repeat may take no time at all, and it would go round for ever in one moment"
        work.devices.fault("RW222", message, work.first_line(repeat.span))
    onward = Exit(way.sources, both(way.condition, negated(again)), way.words)
    return Ways((onward, *skipped), () if counter is None else (Clear(counter),), over="the repeat is over")


def _goes_again(work: Work, repeat: tree.Repeat, counter: str | None) -> Condition:
    """Whether there is another pass, as looked at between passes."""
    if repeat.times is not None:
        return negated(Counted(counter=counter or "", at_least=max(1, repeat.times)))  # 0 is told by the reader
    cond = repeat.until or repeat.while_
    looked_at = None if cond is None else lower_condition(work.devices, cond, LASTING)
    if cond is None or looked_at is None:
        return Always()
    over = looked_at if repeat.until is not None else negated(looked_at)
    if not possible(over):
        work.devices.fault("RW332", "this repeat never ends", cond.span)
    return negated(over)


def _pass_counter(work: Work, repeat: tree.Repeat) -> str:
    """The counter of a repeat: the one it names, or one of its own. It begins anew with every cycle."""
    net, devices = work.net, work.devices
    named = None if repeat.counter is None else find_inside(devices, repeat.counter, InsideKind.COUNTER)
    if repeat.counter is not None and named is not None and named.name in work.counting:
        message = f"{named.name} already counts the passes of the repeat around this one"
        devices.fault("RW211", message, repeat.counter.span)
    name = named.name if named is not None else _free_name(work)
    if name not in net.counters:
        net.counters.append(name)
    net.own_counters.append((net.station, name))
    return name


def _free_name(work: Work) -> str:
    number = len(work.net.own_counters) + 1
    while work.devices.find(f"C{number}") is not None or f"C{number}" in work.net.counters:
        number += 1
    return f"C{number}"


def _do(work: Work, do: tree.Do, ways: Ways) -> Ways:
    """The steps of a routine, here. Their words tell which routine they are in."""
    routine = find_inside(work.devices, do.routine, InsideKind.ROUTINE)
    if routine is None or routine.name not in work.routines:
        return ways
    if routine.name in work.calls:
        chain = ", which does ".join([*work.calls[work.calls.index(routine.name) :], routine.name])
        work.devices.fault("RW223", f"{routine.name} does itself: {chain}", do.span)
        return ways
    if len(work.net.drafts) > _MOST_STEPS:
        work.devices.fault("RW227", f"the routines come to more than {_MOST_STEPS} steps", do.span)
        return ways
    work.called.add(routine.name)
    calls, work.calls = work.calls, (*work.calls, routine.name)
    ways = lower_statements(work, work.routines[routine.name].steps, ways)
    work.calls = calls
    return ways
