"""What coils and loads do, and which rung made them: the sentences of one round."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from compiler.circuit.wiring import count_of, timer_kind
from compiler.timers import Phase, TimerKind
from compiler.walk.changes import CoilChange, OutputChange, Sealed, TerminalChange
from compiler.walk.continuity import Key, key
from grammar.rungs.tree import Device, Form, Kind, Terminal
from targets.walkthrough.cascades import Cascade
from targets.walkthrough.told import Sentence
from targets.walkthrough.words import capital, listed, named_contacts, rung_words

__all__ = [
    "back_to_rest",
    "cascade_sentences",
    "coil_verb",
    "fallen_back",
    "output_sentences",
    "plural",
    "preset_text",
    "round_sentences",
]

_MOST_RUNGS = 9  # of more, only how many there are is told


def round_sentences(
    changes: Iterable[CoilChange], sealed: Iterable[Sealed], effects: Iterable[TerminalChange] | None
) -> Iterator[Sentence]:
    """The coils of one round, those that one rung moves together in one sentence; then what their contacts do, but
    for those that have ``effects``, with which they are told, and for those of ``fallen_back``. Without effects the
    contacts are not told of."""
    told = _told_with(effects or ())
    groups = _groups(changes)
    holds = {one.device: one for one in sealed}
    for group in groups.values():
        verbs: dict[str, list[str]] = {}
        for change in group:
            verbs.setdefault(coil_verb(change), []).append(change.signal)
        doing = listed(f"{listed(names)} {plural(verb, names)}" for verb, names in verbs.items())
        reason = _reasons(group)
        text = f"{reason}: {doing}." if reason else f"{doing}."
        rungs = tuple(t.rung for change in group for t in _telling(change))
        yield Sentence(capital(text), rungs, tuple(group))
        if effects is None or _falls_back(group, told):
            continue
        for change in group:
            whose = "its" if len(group) == 1 else f"{change.signal}'s"
            yield from _moving(change, whose, holds.get(change.signal) if change.after else None, told)


def fallen_back(changes: Iterable[CoilChange], effects: Iterable[TerminalChange]) -> tuple[str, ...]:
    """The relays of one round that drop out and whose contacts are told of all together: ``back_to_rest``."""
    told = _told_with(effects)
    return tuple(c.signal for group in _groups(changes).values() if _falls_back(group, told) for c in group)


def back_to_rest(names: Iterable[str]) -> Iterator[Sentence]:
    """What the contacts of relays do that dropped out one after the other."""
    said = listed(names)
    if said:
        yield Sentence(f"The contacts of {said} go back to rest.")


def cascade_sentences(
    chain: Cascade, effects: Iterable[TerminalChange] | None, *, first_too: bool
) -> Iterator[Sentence]:
    """A chain of relays in one sentence; where they pick up, what their contacts do in another, but for those that
    have ``effects``. ``first_too`` tells that the contacts of the relay it began with are not told of elsewhere."""
    each = listed(f"{c.signal} ({rung_words(t.rung for t in c.terminals)})" for c in chain.members)
    doing = "pick up as well, each brought in" if chain.up else "drop out as well, each let go"
    also = "" if chain.up or not first_too else f" and those of {chain.first}"
    rest = "" if chain.up or effects is None else f"; all their contacts{also} go back to rest"
    yield Sentence(f"One after the other {each} {doing} by one before it{rest}.", chain.rungs, chain.members)
    if effects is None:
        return
    told = _told_with(effects)
    moves = [m for c in chain.members for m in c.contacts if (key(m.contact), m.rung) not in told]
    wanted = [m for m in moves if m.rung not in chain.rungs] if chain.up else []
    parts, named = [], set[int]()
    for closed in (True, False):
        rungs = sorted({m.rung for m in wanted if m.closed is closed})
        if rungs:
            few = len(rungs) <= _MOST_RUNGS
            named.update(rungs if few else ())
            where = rung_words(rungs) if few else f"{len(rungs)} rungs"
            parts.append(f"{'NO contacts close' if closed else 'NC contacts open'} in {where}")
    if parts:
        yield Sentence(f"Their {listed(parts)}.", tuple(sorted(named)))


def _told_with(effects: Iterable[TerminalChange]) -> set[tuple[Key, int]]:
    return {(key(c), effect.rung) for effect in effects for c in effect.cause.contacts}


def _groups(changes: Iterable[CoilChange]) -> dict[object, list[CoilChange]]:
    """Coils that the same contacts moved."""
    groups: dict[object, list[CoilChange]] = {}
    for change in changes:
        groups.setdefault(_reason_key(change), []).append(change)
    return groups


def _falls_back(group: list[CoilChange], told: set[tuple[Key, int]]) -> bool:
    """Whether relays drop out whose contacts move in more rungs than are worth naming: they only go back to rest, and
    whatever comes of that is told."""
    moves = {(key(m.contact), m.rung) for change in group for m in change.contacts} - told
    return all(c.device.kind is Kind.RELAY and not c.after for c in group) and len({rung for _, rung in moves}) > 2


def output_sentences(outputs: Iterable[OutputChange]) -> Iterator[Sentence]:
    """The loads that came on or went off, those of one rung together."""
    groups: dict[object, list[OutputChange]] = {}
    for change in outputs:
        groups.setdefault((change.on, None if change.terminal is None else _cause_key(change.terminal)), []).append(
            change
        )
    for group in groups.values():
        names = [change.signal for change in group]
        doing = f"{listed(names)} {plural('comes on' if group[0].on else 'goes off', names)}"
        terminals = [change.terminal for change in group if change.terminal is not None]
        reason = _reason(terminals, bare=True) if terminals else ""
        text = f"{reason}: {doing}." if reason else f"{doing}."
        yield Sentence(capital(text), tuple(t.rung for t in terminals), tuple(group))


# --- reasons ----------------------------------------------------------------------------------------------------


def _reason_key(change: CoilChange) -> object:
    """What moves coils together: the same contacts, in one rung or in several alike; the loss of the supply."""
    if change.expired:
        return ("time", change.signal)
    terminals = _telling(change)
    if len(terminals) == 1 and terminals[0].feed.terminal is Terminal.COIL:
        return _cause_key(terminals[0])
    return tuple((t.rung, t.feed.terminal, t.live) for t in terminals)


def _telling(change: CoilChange) -> list[TerminalChange]:
    """The terminals that a change is due to. What unlatches or resets does so whatever else changes; to latch and to
    count, that must also have gone where it was there."""
    terminals = list(change.terminals)
    live = {t.feed.terminal for t in terminals if t.live}
    decisive = live & {Terminal.UNLATCH, Terminal.RESET}
    return [t for t in terminals if t.feed.terminal in decisive] if decisive else terminals


def _cause_key(change: TerminalChange) -> object:
    moved = tuple(key(c) for c in change.cause.contacts)
    return (change.live, moved, change.cause.needed, tuple(key(c) for c in change.through))


def _reasons(group: list[CoilChange]) -> str:
    terminals = _telling(group[0])
    if len(terminals) == 1 and terminals[0].feed.terminal is Terminal.COIL:
        return _reason([t for change in group for t in _telling(change)], bare=True)
    return listed(_reason([t], bare=False) for t in terminals)


def _reason(changes: list[TerminalChange], *, bare: bool) -> str:
    """``START completes rung 1 through LS2 and STOP NC``; without ``bare`` with the terminal that the rung feeds."""
    if not changes:
        return ""
    change = changes[0]
    terminal = "" if bare or change.feed.terminal is Terminal.COIL else f" ({change.feed.terminal} terminal)"
    rung = f"{rung_words(c.rung for c in changes)}{terminal}"
    moved = change.cause.contacts
    blamed = {key(c) for c in moved}
    rest = [c for c in change.through if key(c) not in blamed]
    through = f" through {named_contacts(rest)}" if rest else ""
    if not moved:
        return f"{rung} {'are' if len({c.rung for c in changes}) > 1 else 'is'} live at once{through}"
    one, many_words = ("completes", "complete") if change.live else ("opens", "open")
    alone = "" if change.cause.needed else f", {'either' if len(moved) == 2 else 'any one'} of which would do"
    return f"{named_contacts(moved)} {one if len(moved) == 1 else many_words} {rung}{through}{alone}"


def _moving(change: CoilChange, whose: str, seal: Sealed | None, told: set[tuple[Key, int]]) -> Iterator[Sentence]:
    """What the contacts of a device do: by form, with the rungs they stand in, and whether one holds it in now."""
    groups: dict[tuple[Form, bool], list[int]] = {}
    for move in (m for m in change.contacts if (key(m.contact), m.rung) not in told):
        groups.setdefault((move.contact.form, move.closed), []).append(move.rung)
    if not groups:
        return
    parts, began = [], whose
    named: set[int] = set()
    for (form, now), rungs in groups.items():
        many = len(set(rungs)) > 1
        few = len(set(rungs)) <= _MOST_RUNGS
        where = rung_words(rungs) if few else f"{len(set(rungs))} rungs"
        named.update(rungs if few else ())
        doing = f"{began} {form} contact{'s' if many else ''} in {where} {_open_or_close(now, many)}"
        if seal is not None and form is Form.NO and now:
            doing += f", and the one in {rung_words([seal.rung])} now holds it in" if many else " and now holds it in"
            named.add(seal.rung)
        parts.append(doing)
        began = "its"
    text = "; ".join(parts) if seal is not None and len(parts) > 1 else listed(parts)
    yield Sentence(f"{capital(text)}.", tuple(sorted(named)), () if seal is None else (seal,))


def _open_or_close(closed: bool, many: bool) -> str:
    verb = "close" if closed else "open"
    return verb if many else f"{verb}s"


# --- verbs ------------------------------------------------------------------------------------------------------


def preset_text(device: Device) -> str:
    """The time of a timer, as a person writes it."""
    return "" if device.preset is None else f"{device.preset.number} {device.preset.unit}"


def coil_verb(change: CoilChange) -> str:
    """What a device did, for one of that name."""
    match change.device.kind:
        case Kind.LATCHING_RELAY:
            return "latches" if change.after else "unlatches"
        case Kind.COUNTER:
            return _counter_verb(change)
        case Kind.TIMER:
            return _timer_verb(change)
        case _:
            return "picks up" if change.after else "drops out"


def _counter_verb(change: CoilChange) -> str:
    count, preset = change.after // 2, count_of(change.device)
    if count < change.before // 2:
        return "goes back to nought"
    return f"has counted {count} of {preset}" if count < preset else f"has counted all {preset}"


def _timer_verb(change: CoilChange) -> str:
    kind, before, after = timer_kind(change.device), Phase(change.before), Phase(change.after)
    time = preset_text(change.device)
    if change.expired and before in (Phase.RUNNING, Phase.RELEASED) and after in (Phase.DONE, Phase.IDLE):
        return _over(kind, after, time)
    match kind, before, after:
        case TimerKind.ON_DELAY, _, Phase.RUNNING:
            return f"begins to time {time}"
        case TimerKind.ON_DELAY, Phase.RUNNING, _:
            return "drops out before its time is over"
        case TimerKind.OFF_DELAY, _, Phase.DONE:
            return "picks up"
        case TimerKind.OFF_DELAY, _, Phase.RUNNING:
            return f"stays in and begins to time {time}"
        case ((TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE), Phase.RELEASED, Phase.RUNNING):
            return f"begins its pulse of {time} anew"
        case ((TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE), _, Phase.RUNNING):
            return f"begins a pulse of {time}"
        case _, _, Phase.RELEASED:
            return "lets its pulse run on"
        case ((TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE), Phase.DONE, _):
            return "is ready for another pulse"
        case ((TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE), Phase.IDLE, Phase.DONE):
            return "waits for its input to be let go"
        case _:
            return "drops out"


def _over(kind: TimerKind, after: Phase, time: str) -> str:
    match kind:
        case TimerKind.ON_DELAY if after is Phase.DONE:
            return f"has timed its {time}"
        case TimerKind.ON_DELAY:
            return "drops out just as its time would be over"
        case TimerKind.OFF_DELAY if after is Phase.DONE:
            return "picks up again just as its time would be over"
        case TimerKind.OFF_DELAY:
            return f"has timed its {time} and drops out"
        case _:
            return f"ends its pulse of {time}"


def plural(verb: str, names: list[str]) -> str:
    """The verb of several names."""
    if len(set(names)) == 1:
        return verb
    one, *rest = verb.split(" ")
    many = " ".join([_MANY.get(one, one), *(_MANY.get(w, w) if w == "begins" else w for w in rest)])
    return many.replace("holds itself in", "hold themselves in").replace("its time is", "their times are")


_MANY = {
    "picks": "pick", "drops": "drop", "latches": "latch", "unlatches": "unlatch", "comes": "come", "goes": "go",
    "begins": "begin", "has": "have", "lets": "let", "ends": "end", "stays": "stay", "is": "are", "waits": "wait",
}  # fmt: skip
