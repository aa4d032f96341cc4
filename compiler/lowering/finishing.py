"""STOP, "finish the stroke": each step comes to its end, and then the machine rests instead of going on. A wait for
somebody, in which nothing moves, is broken off: nobody would expect a machine that was stopped to go on waiting.

In parallel work a branch that has come to the end of its step waits, with what is on left on, until every branch has;
then all of it drops out at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from compiler.condition import Active, Always, Condition, both, either, negated
from compiler.lowering.net import Draft, Link, Net, Part
from compiler.lowering.stations import Station
from compiler.lowering.work import Work
from grammar.source import Span

__all__ = ["finish_steps"]


def finish_steps(work: Work, stations: Sequence[Station], asked: Condition, said: Span) -> None:
    """Give every step of the stations a way to rest, taken in place of its others once STOP was ``asked`` for."""
    net = work.net
    initial = {station.name: station.initial for station in stations}
    deep = [draft for draft in net.drafts.values() if len(draft.path) > 1]
    if deep:
        message = '"finish the stroke" cannot be told of parallel work inside parallel work'
        work.devices.fault("RW230", message, said)
        return
    steps = [d for d in net.drafts.values() if d.part in (Part.WORK, Part.WAITING) and not d.initial]
    ends = {draft.id: _end_of(net, draft) for draft in steps}
    resting = {station.rest for station in stations}
    plain = [d for d in steps if not d.path and ends[d.id] is not None and (d.idle or not _only_to(net, d, resting))]
    guarded = {draft.id for draft in plain} | {draft.id for draft in steps if draft.path}
    for link in net.links:
        if link.targets and guarded.issuperset(link.sources):
            link.condition = both(link.condition, negated(asked))
    for draft in plain:
        net.link(Link((draft.id,), (initial[draft.station],), both(ends[draft.id] or Always(), asked), draft.words))
    branches: dict[int, dict[int, list[Draft]]] = {}
    for draft in steps:
        for number, branch in draft.path:
            branches.setdefault(number, {}).setdefault(branch, []).append(draft)
    for parts in branches.values():
        _finish_together(net, list(parts.values()), ends, asked, initial)


def _only_to(net: Net, draft: Draft, resting: set[str]) -> bool:
    """Whether the machine rests after this step in any case."""
    return all(resting.issuperset(link.targets) for link in net.leaving.get(draft.id, ()))


def _end_of(net: Net, draft: Draft) -> Condition | None:
    """What ends a step that STOP finds; None for a waiting step, which ends with the others."""
    if draft.part is Part.WAITING:
        return None
    if draft.idle:
        return Always()
    leaving = [link.condition for link in net.leaving.get(draft.id, ())]
    return draft.end if draft.end is not None else either(*leaving) if leaving else None


def _finish_together(
    net: Net,
    branches: list[list[Draft]],
    ends: dict[str, Condition | None],
    asked: Condition,
    initial: dict[str, str],
) -> None:
    """Every step waits at its end (a step of its own keeps what is on); when all branches wait, all is over."""
    waiting: list[list[Draft]] = []
    over: list[Draft] = []
    for steps in branches:
        first = steps[0]
        net.station, net.path = first.station, first.path
        halted = []
        for draft in steps:
            end = ends[draft.id]
            if end is not None:
                words = draft.words.model_copy(update={"text": "stopped: wait for the other branches"})
                halt = net.draft(Part.WAITING, words)
                net.link(Link((draft.id,), (halt.id,), both(end, asked), draft.words))
                halted.append(halt)
        waiting.append([*halted, *(draft for draft in steps if draft.part is Part.WAITING)])
        done = net.draft(Part.WAITING, first.words.model_copy(update={"text": "stopped"}))
        done.dropped = True
        over.append(done)
    for k, here in enumerate(waiting):
        others = [either(*(Active(step=d.id) for d in there)) for j, there in enumerate(waiting) if j != k]
        for draft in here:
            net.link(Link((draft.id,), (over[k].id,), both(asked, *others), draft.words))
    net.station, net.path = "", ()
    first = over[0]
    net.link(Link(tuple(d.id for d in over), (initial[first.station],), Always(), first.words))
