"""What a rung list must satisfy beyond its grammar: names, contact forms, what is fed and how timers are wired."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from grammar.diagnostic import Diagnostic, nearest
from grammar.rungs.faults import fault, warning
from grammar.rungs.tree import (
    INPUTS,
    LOADS,
    TERMINALS,
    Circuit,
    Contact,
    Device,
    Feed,
    Form,
    Kind,
    Name,
    Preset,
    Rung,
    Terminal,
    TimerFunction,
    contacts,
)
from grammar.rungs.words import UNITS

__all__ = ["count", "forms", "judge", "microseconds"]

_MOST_COUNTS = 999_999  # six digits, as on the dials of predetermining counters (common practice)
_LONGEST_US = 10_000 * UNITS["h"]
_INSTANT = (Form.NO, Form.NC)
_FORMS = {
    TimerFunction.ON_DELAY: (Form.NO, Form.NC, Form.NOTC, Form.NCTO),
    TimerFunction.OFF_DELAY: (Form.NO, Form.NC, Form.NOTO, Form.NCTC),
    TimerFunction.ONE_SHOT: _INSTANT,
    TimerFunction.RETRIGGERABLE: _INSTANT,
}


def microseconds(preset: Preset) -> int | None:
    """A preset in microseconds, or None when it is out of range or not a whole number of them."""
    time = Decimal(preset.number) * UNITS[preset.unit]
    return int(time) if time == int(time) and 0 < time <= _LONGEST_US else None


def count(preset: Preset) -> int | None:
    """A counter's preset, or None when it is out of range or not a whole number."""
    number = Decimal(preset.number)
    return int(number) if number == int(number) and 0 < number <= _MOST_COUNTS else None


def judge(circuit: Circuit, machine: Iterable[Device] = ()) -> list[Diagnostic]:
    """Every fault and warning about a circuit, in no particular order. Names of ``machine`` may have been meant."""
    known: dict[str, Device] = {}
    found: list[Diagnostic] = []
    for device in circuit.devices:
        found += _declared(device, known)
        known.setdefault(device.name.text.casefold(), device)
    machine = tuple(machine)
    names = list(dict.fromkeys(device.name.text for device in (*known.values(), *machine)))
    declare = _DECLARE_FITTING if machine else _DECLARE
    fed: dict[str, list[tuple[Rung, Feed]]] = {}
    used: dict[str, list[Contact]] = {}
    numbers: set[int] = set()
    for rung in circuit.rungs:
        if rung.number in numbers:
            span = rung.span
            found.append(fault("RW414", f"there is another rung {rung.number}", span.start, span.end, cure=_NUMBER))
        numbers.add(rung.number)
        for contact in contacts(rung.network):
            found += _contact(contact, known, names, declare)
            used.setdefault(contact.name.text.casefold(), []).append(contact)
        for feed in rung.feeds:
            found += _feed(feed, known, names, declare)
            fed.setdefault(feed.name.text.casefold(), []).append((rung, feed))
    for device in known.values():
        found += _fed(device, fed.get(device.name.text.casefold(), []))
        if device.kind is Kind.TIMER:
            found += _untimed(device, used.get(device.name.text.casefold(), []))
    return _once(found)


def _once(found: list[Diagnostic]) -> list[Diagnostic]:
    """Without repetition: contacts of a master are met again in every rung it feeds, and a name that is not declared
    is told where it is met first."""
    told = {(d.code, d.message) if d.code == "RW402" else d: d for d in reversed(found)}
    return list(reversed(told.values()))


_NUMBER = "number the rungs 1, 2, 3 from the top"


def _declared(device: Device, known: dict[str, Device]) -> Iterator[Diagnostic]:
    name = device.name
    other = known.get(name.text.casefold())
    if other is not None:
        case = "" if other.name.text == name.text else f" ({other.name.text}: letter case does not tell names apart)"
        message = f"{name.text} is already declared{case}"
        yield _about("RW413", message, name, cure="give one of the two another name")
    if device.preset is None:
        return
    span = device.preset.span
    if device.kind is Kind.COUNTER:
        if count(device.preset) is None:
            message = f"a preset of {device.preset.number} is out of range"
            yield fault("RW419", message, span.start, span.end, expected=f"a whole number from 1 to {_MOST_COUNTS}")
    elif microseconds(device.preset) is None:
        expected = "from 1 us to 10000 h, in whole microseconds"
        message = f"{device.preset.number} {device.preset.unit} is out of range"
        yield fault("RW419", message, span.start, span.end, expected=expected)


def _contact(contact: Contact, known: dict[str, Device], names: list[str], declare: str) -> Iterator[Diagnostic]:
    device = known.get(contact.name.text.casefold())
    span = contact.span
    if device is None:
        function = _FUNCTION_OF.get(contact.form)
        likely = f"timer {contact.name.text}, {function} 30 s" if function else ""
        likely = likely or _likely(contact.name.text, Kind.PUSHBUTTON)
        yield _unknown(contact.name, names, declare.format(likely))
    elif device.kind in LOADS:
        message = f"the {device.kind} {device.name.text} has no contacts"
        yield _about("RW405", message, contact.name, cure="use a contact of the relay that feeds it")
    elif contact.form not in forms(device):
        expected = _or(forms(device))
        what = f"{device.function} timer" if device.function else str(device.kind)
        message = f"the {what} {device.name.text} has no {contact.form} contact"
        function = _FUNCTION_OF.get(contact.form) if device.kind is Kind.RELAY else None
        cure = f"if it is a timer, declare it: timer {device.name.text}, {function} 30 s" if function else ""
        yield fault("RW404", message, span.start, span.end, expected=expected, cure=cure)


_FUNCTION_OF = {
    Form.NOTC: TimerFunction.ON_DELAY,
    Form.NCTO: TimerFunction.ON_DELAY,
    Form.NOTO: TimerFunction.OFF_DELAY,
    Form.NCTC: TimerFunction.OFF_DELAY,
}


def forms(device: Device) -> tuple[Form, ...]:
    """The contact forms a device can have."""
    return _INSTANT if device.function is None else _FORMS[device.function]


def _feed(feed: Feed, known: dict[str, Device], names: list[str], declare: str) -> Iterator[Diagnostic]:
    device = known.get(feed.name.text.casefold())
    name, span = feed.name.text, feed.span
    if device is None:
        likely = _DECLARED.get(feed.terminal, "").format(name) or _likely(name, Kind.SOLENOID, Kind.MOTOR, Kind.RELAY)
        yield _unknown(feed.name, names, declare.format(likely))
    elif device.kind in INPUTS:
        message = f"the {device.kind} {name} is an input: no rung feeds it"
        yield _about("RW416", message, feed.name, cure="feed a relay, a timer or a load")
    elif feed.terminal not in TERMINALS[device.kind]:
        terminals = TERMINALS[device.kind]
        if feed.terminal is Terminal.COIL:
            lacks = f"has two coils, {' and '.join(terminals)}"
        else:
            lacks = f"has {'a coil only, ' * (len(terminals) == 1)}no {feed.terminal}"
        message = f"the {device.kind} {device.name.text} {lacks}"
        cure = "write " + _or([f"'{f'feeds {device.name.text} {terminal}'.rstrip()}'" for terminal in terminals])
        yield fault("RW418", message, span.start, span.end, cure=cure)


_DECLARED = {
    Terminal.SUPPLY: "timer {}, on-delay 30 s",
    Terminal.CONTROL: "timer {}, on-delay 30 s",
    Terminal.COUNT: "counter {}, preset 5",
    Terminal.RESET: "counter {}, preset 5",
    Terminal.LATCH: "latching relay {}",
    Terminal.UNLATCH: "latching relay {}",
}


def _fed(device: Device, feeds: list[tuple[Rung, Feed]]) -> Iterator[Diagnostic]:
    name = device.name
    if device.kind in INPUTS:
        return
    if not feeds:
        yield _unfed(device, "")
        return
    seen: dict[Terminal, Rung] = {}
    for rung, feed in feeds:
        if feed.terminal in seen:
            what = f"{name.text} {feed.terminal}".rstrip()
            message = f"{what} is already fed by rung {seen[feed.terminal].number}"
            span = feed.span
            yield fault("RW403", message, span.start, span.end, cure="put both networks in one rung, with 'or'")
        seen.setdefault(feed.terminal, rung)
    if not set(seen) <= set(TERMINALS[device.kind]):
        return
    if device.kind is Kind.TIMER:
        yield from _timer(device, set(seen))
    else:
        yield from (_unfed(device, terminal) for terminal in TERMINALS[device.kind] if terminal not in seen)


def _unfed(device: Device, terminal: str) -> Diagnostic:
    name = device.name
    what = f"{name.text} {terminal}".rstrip()
    cure = f"add a rung that feeds {what}" if terminal else _TAKE_OUT
    return warning("RW417", f"no rung feeds {what}", name.span.start, name.span.end, cure=cure)


_TAKE_OUT = "add its rung, or take out the declaration"


def _timer(device: Device, fed: set[Terminal]) -> Iterator[Diagnostic]:
    name = device.name.text
    one_shot = device.function in (TimerFunction.ONE_SHOT, TimerFunction.RETRIGGERABLE)
    apart = {Terminal.SUPPLY, Terminal.CONTROL}
    if Terminal.COIL in fed and (fed & apart or one_shot):
        cure = f"feed '{name} supply' and '{name} control' from rungs of their own"
        reason = "takes supply and control apart" if one_shot else "has its coil fed and its supply or control too"
        yield _about("RW418", f"the {device.function} timer {name} {reason}", device.name, cure=cure)
    elif Terminal.COIL not in fed and Terminal.SUPPLY not in fed:
        yield _about(
            "RW418", f"the timer {name} has no supply", device.name, cure=f"add a rung that feeds {name} supply"
        )
    elif fed == {Terminal.SUPPLY} and device.function is not TimerFunction.ON_DELAY:
        cure = f"add a rung that feeds {name} control"
        yield _about("RW418", f"the {device.function} timer {name} has no control input", device.name, cure=cure)


def _untimed(device: Device, seen: list[Contact]) -> Iterator[Diagnostic]:
    """A delay whose contacts all follow its coil at once, so that its time has no part in anything."""
    timed = [form for form in forms(device) if form not in _INSTANT]
    if timed and seen and all(contact.form in _INSTANT for contact in seen):
        name, span = device.name.text, seen[0].span
        message = f"nothing waits for the time of {name}: its NO and NC follow it at once"
        cure = f"write {_or([f'{name} {form}' for form in timed])} where the time is meant"
        yield warning("RW429", message, span.start, span.end, cure=cure)


_DECLARE = "declare it at the top, for example '{}'"
_DECLARE_FITTING = "declare it, for example '{}': inputs and loads in the machine's file, others at the top here"


def _unknown(name: Name, names: list[str], declare: str) -> Diagnostic:
    close = nearest(name.text, names)
    cure = f"did you mean {close}? if not, {declare}" if close else declare
    return _about("RW402", f"{name.text} is not declared", name, cure=cure)


def _likely(name: str, *otherwise: Kind) -> str:
    """Declarations that fit the letters of a name; designations of the JIC electrical standard (from memory)."""
    letters = re.split("[^A-Z]", name.upper())[0]
    kinds = (_DESIGNATIONS[letters],) if letters in _DESIGNATIONS else otherwise
    return "', '".join(f"{kind} {name}" for kind in kinds[:-1]) + "' or '" * (len(kinds) > 1) + f"{kinds[-1]} {name}"


_DESIGNATIONS = {
    "PB": Kind.PUSHBUTTON,
    "SS": Kind.SELECTOR,
    "LS": Kind.LIMIT_SWITCH,
    "PS": Kind.PRESSURE_SWITCH,
    "PRS": Kind.SENSOR,
    "CR": Kind.RELAY,
    "SOL": Kind.SOLENOID,
    "LT": Kind.LAMP,
    "AH": Kind.HORN,
    "MTR": Kind.MOTOR,
}


def _about(code: str, message: str, name: Name, *, cure: str) -> Diagnostic:
    return fault(code, message, name.span.start, name.span.end, cure=cure)


def _or(words: Sequence[str]) -> str:
    return " or ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]
