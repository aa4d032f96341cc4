"""The one-hot chain, one relay in at a time: each step relay breaks the one before; branches, joins, loops, stations.

    Kn := (K(n-1) and what ends step n-1, K(n-2) NC, or Kn), K(n+1) NC
    K0 := MCR NC or ((Klast and what ends the last step, or K0), K1 NC)      the step at rest
    MCR := STOP NC, (K0 or MCR)                                              the master of all other steps
    fork: several relays set by one, which drops out when all of them are in; join: the waiting relays in series
    choice: each way locks the other ones out        output := Kn or ..

Make before break: the next relay seals itself in while the one before is still in, and only then drops it out (break
chain, common textbook practice). So two steps that lead to each other need a third, idle one between them. A step is
left only when the relay before its own is out, so none runs ahead; what is left to the relays is that contacts change
over in less time than a relay takes to drop out. As the supply comes on, and after STOP, the relay at rest comes in
through the NC contact of the master, and the master waits for it.
"""

from __future__ import annotations

from compiler.chart import Chart, Step, Words
from compiler.machine import Machine
from compiler.spoken import spans
from grammar.rungs.tree import Network
from targets.relay.arrangement import Built
from targets.relay.board import (
    Board,
    coming,
    draw_memory,
    followed,
    followed_on,
    laid_out,
    listen,
    remembered,
    told_of,
)
from targets.relay.listening import Seen
from targets.relay.loads import commanded, draw_counters, draw_keepers, draw_loads, draw_timers, keepers
from targets.relay.net import net
from targets.relay.network import WIRE, contact, nc, parallel, series
from targets.relay.rails import Rails, laid
from targets.relay.sheet import tidy
from targets.relay.start import plain_start, plainly_started

__all__ = ["build"]


def build(machine: Machine, chart: Chart, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    read = net(chart)
    plain = frozenset() if anti_repeat else plain_start(machine, chart, read)
    board = laid_out(machine, chart, read, plain=plain)
    rails = laid(board)
    listen(board)
    kept_in = [remembered(board, memory) for memory in read.memories]
    _draw_master(board, rails)
    for step in (step for step in read.steps if step.name in rails.at_once):
        _draw_step(board, rails, step)
    resting = rails.at_once | {memory.off for memory in read.memories}
    seen = [one for one in board.listening.seen.values() if one.places]
    for one in (one for one in seen if resting.intersection(one.places)):
        board.sheet.rung(one.network(rails.free), one.relay, says=one.says(), words=one.words)
    for memory, network in zip(read.memories, kept_in, strict=True):
        draw_memory(board, memory, network, rails.above)
    seen = [one for one in seen if not resting.intersection(one.places)]
    for one in (one for one in seen if not rails.broken.keys() >= set(one.places)):
        _draw_seen(board, rails, one)
    seen = [one for one in seen if rails.broken.keys() >= set(one.places)]
    for step in sorted(read.steps, key=lambda step: _place(board, rails, step)):
        if step.name not in rails.at_once:
            _draw_step(board, rails, step)
            for one in (one for one in seen if one.places[0] == step.name):
                _draw_seen(board, rails, one)
    kept = keepers(board)
    draw_keepers(board, kept, rails.lasting)
    draw_counters(board, rails.of)
    draw_timers(board, lambda part: contact(board.relays[part.step]))
    draw_loads(board, commanded(board, kept))
    return Built(
        board.sheet, _how(board, rails), plainly_started(machine, chart) if plain else frozenset(), not plain
    )


def _place(board: Board, rails: Rails, step: Step) -> tuple[bool, int]:
    """Steps behind a master of their own come last, station by station."""
    return step.name in rails.broken, board.net.station[step.name] if step.name in rails.broken else 0


def _how(board: Board, rails: Rails) -> str:
    told = [
        "One relay in at a time: each step has one, which seals itself in while the one before is still in, and then "
        "breaks it (make before break). Its contacts must change over in less time than a relay takes to drop out, "
        "as they commonly do.",
        f"{rails.master} is the master of all steps but those at rest.",
    ]
    if board.net.passing:
        relays = ", ".join(board.relays[s.name] for s in board.net.steps if s.name in board.net.passing)
        one = len(board.net.passing) == 1
        told.append(
            f"{relays} {'is no step' if one else 'are no steps'} of the sequence: where two steps follow each other "
            "in turn, each would hold the other out, and so one comes between them and passes at once."
        )
    return " ".join(told)


def _draw_master(board: Board, rails: Rails) -> None:
    sheet, starts = board.sheet, [board.relays[name] for name in board.net.starts]
    forcing = board.chart.forcing
    leading = next((_leading_on(board, step) for step in board.net.steps if step.initial), None)
    words = leading if forcing is None else forcing.words
    if rails.forcing:
        for seen in board.listening.seen.values():
            if not seen.places:
                sheet.rung(seen.network(), seen.relay, says=seen.says(), words=words)
        arrived = ", ".join(board.relays[name] for name in board.net.forced)
        says = f"{rails.forcing} brings in {arrived} and drops out every other step."
        sheet.rung(rails.force, rails.forcing, says=says, words=words)
    ready = series(*(contact(relay) for relay in starts))
    net = series(rails.run, parallel(ready, contact(rails.master)) if starts else WIRE)
    picks_up = f" when {' and '.join(starts)} {'are' if len(starts) > 1 else 'is'} in" if starts else ""
    drops = " When it drops out, so does every other step." if rails.run != WIRE else ""
    sheet.rung(net, rails.master, says=f"{rails.master}, master: it picks up{picks_up}.{drops}", words=words)


def _draw_step(board: Board, rails: Rails, step: Step) -> None:
    relay, read = board.relays[step.name], board.net
    picks_up = coming(board, step)
    onward = [way for way in read.leaving(step.name) if not rails.covers(step.name, way)]
    broken = series(*(followed(board, way) for way in onward), *_outrun(board, rails, step))
    branches: list[Network] = [series(parallel(*picks_up, contact(relay)), broken)]
    if step.name in read.starts:
        if rails.forcing and step.name not in read.forced:
            branches = [series(*branches, nc(rails.forcing))]
        branches = [nc(rails.master), *branches]
    if rails.forcing and step.name in read.forced:
        branches.append(contact(rails.forcing))
    board.sheet.rung(
        parallel(*branches),
        relay,
        says=_says(board, step),
        words=step.words if step.words.text else _leading_on(board, step),
        masters=rails.of([step.name]),
    )


def _leading_on(board: Board, step: Step) -> Words:
    """The words of what leads on from a step of rest or a passing one, which has none of its own, or to it."""
    ways = [t for t in board.chart.transitions if step.name in (*t.sources, *t.targets) and t.words.text]
    return min(ways, key=lambda t: step.name not in t.sources).words if ways else step.words


def _outrun(board: Board, rails: Rails, step: Step) -> list[Network]:
    """Contacts of the faults that come before a way into a step, were both to be gone at one moment."""
    read = board.net
    if not read.aborting:
        return []
    order = {way: k for k, way in enumerate(read.ways)}
    found: dict[str, Network] = {}
    for way in read.into[step.name]:
        for abort in [abort for source in way.sources for abort in read.aborting.get(source, ())]:
            first = abort.targets[0]
            later = order[abort] > order[way] and set(abort.sources) & set(way.aborts)
            leads_back = any(step.name in back.targets for back in read.out_of[first])
            if not later and not leads_back and first != step.name and not rails.covers(step.name, abort):
                found[first] = nc(board.relays[first])
    return list(found.values())


def _says(board: Board, step: Step) -> str:
    relay, read = board.relays[step.name], board.net
    after = followed_on(board, step.name, read.into[step.name])
    told = f"fault '{tidy(step.fault)}'" if step.fault else told_of(step)
    if step.name in read.passing:
        told = f"{_between(board, step)}, left at once, so that neither keeps the other out"
    if step.name in read.starts:
        told += ", at rest; in with the supply"
    said = f" It follows {', or '.join(after)}" if after else ""
    onward = dict.fromkeys(" and ".join(board.relays[t] for t in way.targets) for way in read.leaving(step.name))
    if onward and after:
        said += f", until {' or '.join(onward)}"
    return f"{relay}: {told}.{said}{'.' * bool(said)}"


def _between(board: Board, step: Step) -> str:
    """The steps that a passing one parts."""
    before = [name for way in board.net.into[step.name] for name in way.sources]
    after = [name for way in board.net.out_of[step.name] for name in way.targets]
    return f"between {spans(list(dict.fromkeys(before)))} and {spans(list(dict.fromkeys(after)))}"


def _draw_seen(board: Board, rails: Rails, seen: Seen) -> None:
    masters = rails.of(seen.places)
    board.sheet.rung(seen.network(), seen.relay, says=seen.says(), words=seen.words, masters=masters)
