"""The step chain: a sealed-in relay a step, each needing the one before; the last one drops out the first, and all.

    K1 := (start or K1), STOP NC, F.. NC, Klast NC
    Kn := K(n-1), (what ends step n-1 or Kn)
    Klast := K(last step), (what ends it or Klast)
    output := K1, (Ka, Kb NC or ..)          for each stretch of steps a .. b-1 in which it is on
    TRn on-delay := Kn                       the time of step n;  for a timeout := Kn, K(n+1) NC
    F := (Kn, K(n+1) NC, what goes wrong there, or F), STOP NC, Klast NC
    fork: one relay is the first of every branch; join: the last relays of all branches in series
    choice: each way has an NC contact of the other ones' relays
    repeat: KB := K(before), (.. or KB); Kfirst := KB, RR NC; RR := K(last of the pass), (once more, Kx NC, or RR)

Latch-through (accumulating) chain, common textbook practice: step n is on while Kn is in and what follows it is not.
As each relay is fed through the one before, they drop out in the order in which they came in. So no output that
asks for an earlier relay in and a later one out comes on as the chain drops out, and Klast, the last to go, keeps
the first one out until all are: START held starts a cycle with a chain that is all out. A repeat is a chain within
the chain, whose renewing relay RR drops out the first relay of the pass and goes last (see ``renewal``). A relay that
needs more contacts than it has poles is repeated by links of the chain (see ``slaves``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.chart import Chart, Step, Words
from compiler.condition import Elapsed, Rise, Signal, walk
from compiler.machine import Machine
from grammar.rungs.tree import Comments, Master, Network
from targets.relay.arrangement import Built
from targets.relay.board import draw_memory, followed_on, listen, name_parts, remembered, said, told_of
from targets.relay.loads import draw_counters, draw_keepers, draw_loads, draw_timers, keepers
from targets.relay.net import Way, net, written
from targets.relay.network import WIRE, contact, factored, nc, parallel, series
from targets.relay.rails import stop, stops_plainly
from targets.relay.renewal import lines, reached
from targets.relay.sheet import tidy
from targets.relay.slaves import Chained
from targets.relay.start import plain_start, plainly_started, runs
from targets.relay.staying import Staying, set_out

__all__ = ["build"]


@dataclass(frozen=True, slots=True)
class _Stop:
    """``run`` conducts while nothing stops the cycle; ``relay`` is that of a stop that leads to steps of its own, or
    nothing, picked up by ``force``; a press counts only while ``free`` conducts as it comes."""

    run: Network
    free: Network
    relay: str = ""
    force: Network = WIRE

    @property
    def goes_on(self) -> Network:
        """Opens as a stop drops out everything."""
        return series(self.run, nc(self.relay)) if self.relay else self.run

    @property
    def rail(self) -> tuple[Master, ...]:
        """What a stop drops out besides the chain."""
        return (Master(self.goes_on, Comments(("What a stop drops out.",))),) if self.goes_on != WIRE else ()


def build(machine: Machine, chart: Chart, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    read = net(chart, parted=False)
    plain = frozenset() if anti_repeat else plain_start(machine, chart, read)
    board = set_out(machine, chart, lines(read), plain=plain)
    name_parts(board)
    kept = keepers(board)
    commands = board.commanded(kept)
    board.sheet.outputs.update(commands)
    ending = _stop(board)
    listen(board)
    kept_in = [remembered(board, memory) for memory in read.memories]
    _draw_stop(board, ending)
    for step in board.net.steps:
        if step.name in board.relays and board.lines.first[step.name] == step.name:
            _draw_step(board, step, ending, kept)
    _draw_seen(board, ending)
    for memory, network in zip(read.memories, kept_in, strict=True):
        draw_memory(board, memory, series(network, ending.goes_on))
    draw_keepers(board, kept, lambda _: ending.rail)
    draw_counters(board, lambda _: ())
    draw_timers(board, lambda part: _timed(board, part, ending))
    draw_loads(board, commands)
    announces = plainly_started(machine, chart) if plain else frozenset()
    return Built(board.sheet, _how(board), announces, _waits_for_release(board), _chained(board))


def _chained(board: Staying) -> Chained:
    last = (*board.lines.over.values(), *board.lines.renewing)
    return Chained(frozenset(board.relays.values()), frozenset(board.relays[name] for name in last))


def _stop(board: Staying) -> _Stop:
    """What stops the machine. A stop that leads to steps of its own lasts until their line is all out and begun."""
    forcing, lines = board.chart.forcing, board.lines
    if forcing is None:
        return _Stop(WIRE, WIRE)
    if stops_plainly(board):
        run = runs(board.sheet, forcing.condition)
        return _Stop(run, run)
    relay = board.sheet.relay("QR")
    amiss: list[Network] = []
    for station in lines.rest:
        if station in lines.forced:
            name = lines.forced[station]
            amiss += [nc(board.relays[name]), *(contact(board.relays[s]) for s in _behind(board, name))]
        else:
            amiss += [
                contact(board.relays[of]) for name in lines.sealed(station) for of in (name, *_behind(board, name))
            ]
    force, free = stop(board, relay, *amiss)
    return _Stop(WIRE, free, relay, force)


def _behind(board: Staying, name: str) -> list[str]:
    reach = reached(board.lines, (name,)) - {name}
    return sorted(reach, key=board.net.rank.__getitem__)


def _draw_stop(board: Staying, ending: _Stop) -> None:
    forcing, lines = board.chart.forcing, board.lines
    if not ending.relay or forcing is None:
        return
    for seen in (seen for seen in board.listening.seen.values() if not seen.places):
        board.sheet.rung(seen.network(), seen.relay, says=seen.says(), words=forcing.words)
    arrived = " and ".join(board.relays[name] for name in lines.forced.values())
    brings = f"brings in {arrived} and " if arrived else ""
    says = f"{ending.relay}: a stop. It {brings}drops out all the rest."
    board.sheet.rung(ending.force, ending.relay, says=says, words=forcing.words)


def _draw_step(board: Staying, step: Step, ending: _Stop, kept: dict[str, str]) -> None:
    relay, lines, station = board.relays[step.name], board.lines, board.net.station[step.name]
    if step.name in lines.faults.get(station, ()):
        ways = board.net.into[step.name]
        branches = [series(*(board.on(name) for name in way.sources), board.ends[way]) for way in ways]
    else:
        branches = [*_coming(board, step, ending, kept)]
    if step.name in lines.renewing:
        branches += _handing_on(board, step.name)
    if step.name in lines.sealed(station):
        others = [nc(board.relays[name]) for name in _renewing_others(board, step.name)]
        branches.append(series(contact(relay), *others))
        net = series(parallel(*branches), *_broken(board, step.name, ending))
    else:
        net = parallel(*branches)
    board.sheet.rung(net, relay, says=_says(board, step), words=_words(board, step))


def _coming(board: Staying, step: Step, ending: _Stop, kept: dict[str, str]) -> Iterable[Network]:
    """What picks up the relay of a step, and what it is sealed in through: the relays before it."""
    relay, lines = board.relays[step.name], board.lines
    apart = [nc(board.relays[name]) for name in lines.beside.get(step.name, ())]
    sealed = series(contact(relay), *(nc(board.relays[name]) for name in _renewing_others(board, step.name)))
    fed: dict[tuple[str, ...], list[Network]] = {}
    for way in board.net.into[step.name]:
        picks_up = series(board.ends[way], *_settled(board, way, kept), *_locks(board, way), *apart)
        fed.setdefault(way.sources, []).append(picks_up)
    if lines.forced.get(board.net.station[step.name]) == step.name:
        yield contact(ending.relay)
    for begins in (begins for begins in lines.renewing.values() if begins == step.name and apart):
        yield from (contact(board.relays[name]) for name, of in lines.renewing.items() if of == begins)
    alike: dict[tuple[Network, ...], list[Network]] = {}
    for sources, picks in fed.items():
        if sources[0] in lines.rest.values():
            yield parallel(*picks)
            continue
        feeds = [contact(board.relays[name]) for name in sources]
        broken = [nc(board.relays[name]) for source in sources for name in lines.begun.get(source, ())]
        broken += [nc(ending.relay) for name in sources if name in lines.forced.values()]
        if len(feeds) == 1:
            alike.setdefault(tuple(picks), []).append(series(*feeds, *broken, parallel(*picks, sealed)))
        else:
            yield from (series(*feeds, *broken, parallel(*picks)), series(parallel(*feeds), *broken, sealed))
    yield from (factored(*fed_alike) for fed_alike in alike.values())


def _renewing_others(board: Staying, name: str) -> list[str]:
    """The relays that begin the same repeat with another step."""
    lines = board.lines
    return [of for of in lines.begun.get(name, ()) if lines.renewing[of] != name]


def _handing_on(board: Staying, name: str) -> list[Network]:
    """A repeat that may begin with one step or another: its renewing relay stays in until that has changed over."""
    begins = board.lines.renewing[name]
    others = board.lines.beside[begins]
    if not others:
        return []
    changed = parallel(nc(board.relays[begins]), *(contact(board.relays[other]) for other in others))
    return [series(contact(board.relays[name]), changed)]


def _settled(board: Staying, way: Way, kept: dict[str, str]) -> list[Network]:
    """A step that sets or resets an output is left only when the relay that keeps it has moved."""
    return [
        contact(kept[output]) if on else nc(kept[output])
        for name in way.sources
        for output, on in written(board.net.named[name]).items()
        if output in kept
    ]


def _locks(board: Staying, way: Way) -> list[Network]:
    """The first relays of all other ways out of a step: once one is gone, the others are locked."""
    last = set(board.lines.over.values())  # breaks the whole line as it is: no need to ask for it
    own = board.relays[way.targets[0]]
    onward = (other.targets[0] for name in way.sources for other in board.onward(name))
    others = dict.fromkeys(board.relays[name] for name in onward if name not in last)
    return [nc(relay) for relay in others if relay != own]


def _broken(board: Staying, name: str, ending: _Stop) -> list[Network]:
    """What drops out a relay that seals itself in."""
    lines, station = board.lines, board.net.station[name]
    faults, after_stop = lines.faults.get(station, ()), lines.after_stop(station)
    before = faults[: faults.index(name)] if name in faults else () if name in after_stop else faults
    before = (*before, *(() if name in after_stop else after_stop))
    over = lines.over.get(station)
    found = [] if name in after_stop else [ending.run]
    if ending.relay and not after_stop:
        found.append(nc(ending.relay))
    found += [nc(board.relays[of]) for of in before]
    found += [nc(board.relays[over])] if over is not None and over in reached(lines, (name,)) else []
    return found


def _draw_seen(board: Staying, ending: _Stop) -> None:
    for one in (one for one in board.listening.seen.values() if one.places):
        free = ending.free if set(board.lines.rest.values()).intersection(one.places) else WIRE
        board.sheet.rung(one.network(free), one.relay, says=one.says(), words=one.words)


def _timed(board: Staying, part: Elapsed, ending: _Stop) -> Network:
    """The time of a step runs with its relay; one that only watches stops when the step is over. That of the first
    step home runs anew where another stop finds the step over, for its relay stays in."""
    ends = any(part in walk(way.condition) for way in board.onward(part.step))
    if part.step in board.lines.rest.values() or not ends:
        return board.on(part.step)
    relay = contact(board.relays[part.step])
    if part.step not in board.lines.forced.values():
        return relay
    return factored(series(relay, nc(ending.relay)), board.on(part.step))


def _waits_for_release(board: Staying) -> bool:
    return any(rest in one.places for one in board.listening.seen.values() for rest in board.lines.rest.values())


def _says(board: Staying, step: Step) -> str:
    relay, lines, station = board.relays[step.name], board.lines, board.net.station[step.name]
    over = board.relays.get(lines.over.get(station, ""))
    if step.name in lines.over.values():
        drops = [board.relays[name] for name in lines.sealed(station) if step.name in reached(lines, (name,))]
        dropped = drops[0] if len(drops) == 1 else f"whichever is in of {', '.join(drops)}"
        return (
            f"{relay}: the cycle is over. It drops out {dropped} and with it the whole chain, and goes last itself."
        )
    if step.name in lines.renewing:
        first = board.relays[_first_of(board, lines.renewing[step.name])]
        return (
            f"{relay}: one pass is over and another follows. It drops out {first}, so the pass, and goes last itself."
        )
    if step.name in lines.begun:
        return f"{relay}: a repeat has begun; it stays in through all passes.{_follows(board, step)}"
    if step.name in lines.faults.get(station, ()):
        until = "until it is reset" if board.net.out_of[step.name] else "until STOP"
        until = until if board.net.out_of[step.name] or board.chart.forcing else "until the supply goes"
        return f"{relay}: fault '{tidy(step.fault)}'. It drops out the chain and stays in {until}."
    steps = [board.net.named[name] for name, of in lines.first.items() if of == step.name]
    told = " and ".join(told_of(one) if one.name not in board.net.passing else "a count" for one in steps)
    together = ", side by side" if len(steps) > 1 else ""
    if step.name in lines.starts.get(station, ()):
        dropped = f"; {over}, which comes in when the last step is over, drops it out" if over else ""
        faults = ", ".join(board.relays[name] for name in lines.faults.get(station, ()))
        told = "the cycle" if step.name in board.net.passing else told
        and_faults = f", and so does a fault ({faults})" if faults else ""
        begins = f"{_begins(board, step)}, and its own contact seals it in"
        return f"{relay}: {told}{together}. {begins}{dropped}{and_faults}."
    return f"{relay}: {told}{together}.{_follows(board, step)}"


def _begins(board: Staying, step: Step) -> str:
    """What picks up a relay at rest: the start, where that is asked for, or what is asked instead."""
    asked = [way.condition for way in board.net.into[step.name]]
    start = board.machine.start
    if any(isinstance(p, Rise | Signal) and p.device == start for condition in asked for p in walk(condition)):
        return "The start picks it up"
    return f"It comes in from rest when {', or '.join(said(board, condition) for condition in asked)}"


def _first_of(board: Staying, begun: str) -> str:
    return board.net.out_of[begun][0].targets[0]


def _follows(board: Staying, step: Step) -> str:
    ways, rest = board.net.into[step.name], board.lines.rest.values()
    begins = ["rest" if board.machine.start is None else "the start" for way in ways if way.sources[0] in rest]
    found = [*begins[:1], *followed_on(board, step.name, (way for way in ways if way.sources[0] not in rest))]
    return f" It follows {', or '.join(dict.fromkeys(found))}." if found else ""


def _words(board: Staying, step: Step) -> Words:
    """The words of a step; of one that has none, those of what leads to it."""
    ways = [way for way in board.net.into[step.name] if way.words.text]
    return step.words if step.words.text or not ways else ways[0].words


def _how(board: Staying) -> str:
    lines = board.lines
    told = ["Accumulating: one relay a step, and every relay stays in until the end of the cycle."]
    lasts = [board.relays[name] for name in lines.over.values()]
    if lasts:
        firsts = " and ".join(board.relays[name] for of in lines.starts.values() for name in of)
        drops = "drops" if len(lasts) == 1 else "drop"
        told.append(
            f"{' and '.join(lasts)} then {drops} out {firsts}, and with that, one after another, the whole chain."
        )
    renewing = [board.relays[name] for name in lines.renewing]
    if renewing:
        do = "does" if len(renewing) == 1 else "do"
        told.append(f"{' and '.join(renewing)} {do} the same for one pass of a repeat.")
    told.append("Contacts must change over in less time than a relay takes to drop out, as they commonly do.")
    return " ".join(told)
