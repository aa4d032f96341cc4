"""What a rung list must satisfy beyond its grammar: names, contact forms, what is fed and how timers are wired."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from grammar.diagnostic import Diagnostic, nearest
from grammar.rungs.faults import fault, warning
from grammar.rungs.tree import (
    INPUTS,
    LOADS,
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

__all__ = ["judge", "microseconds"]

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


def judge(circuit: Circuit) -> list[Diagnostic]:
    """Every fault and warning about a circuit, in no particular order."""
    known: dict[str, Device] = {}
    found: list[Diagnostic] = []
    for device in circuit.devices:
        found += _declared(device, known)
        known.setdefault(device.name.text.casefold(), device)
    fed: dict[str, list[tuple[Rung, Feed]]] = {}
    numbers: set[int] = set()
    for rung in circuit.rungs:
        if rung.number in numbers:
            span = rung.span
            found.append(fault("RW414", f"there is another rung {rung.number}", span.start, span.end, cure=_NUMBER))
        numbers.add(rung.number)
        for contact in contacts(rung.network):
            found += _contact(contact, known)
        for feed in rung.feeds:
            found += _feed(feed, known)
            fed.setdefault(feed.name.text.casefold(), []).append((rung, feed))
    for device in known.values():
        found += _fed(device, fed.get(device.name.text.casefold(), []))
    return found


_NUMBER = "number the rungs 1, 2, 3 from the top"


def _declared(device: Device, known: dict[str, Device]) -> Iterator[Diagnostic]:
    name = device.name
    other = known.get(name.text.casefold())
    if other is not None:
        case = "" if other.name.text == name.text else f" ({other.name.text}: letter case does not tell names apart)"
        message = f"{name.text} is already declared{case}"
        yield _about("RW413", message, name, cure="give one of the two another name")
    if device.preset is not None and microseconds(device.preset) is None:
        span = device.preset.span
        expected = "from 1 us to 10000 h, in whole microseconds"
        message = f"{device.preset.number} {device.preset.unit} is out of range"
        yield fault("RW419", message, span.start, span.end, expected=expected)


def _contact(contact: Contact, known: dict[str, Device]) -> Iterator[Diagnostic]:
    device = known.get(contact.name.text.casefold())
    span = contact.span
    if device is None:
        yield _unknown(contact.name, known)
    elif device.kind in LOADS:
        message = f"the {device.kind} {device.name.text} has no contacts"
        yield _about("RW405", message, contact.name, cure="use a contact of the relay that feeds it")
    elif contact.form not in forms(device):
        expected = _or(forms(device))
        what = f"{device.function} timer" if device.function else str(device.kind)
        message = f"the {what} {device.name.text} has no {contact.form} contact"
        yield fault("RW404", message, span.start, span.end, expected=expected)


def forms(device: Device) -> tuple[Form, ...]:
    """The contact forms a device can have."""
    return _INSTANT if device.function is None else _FORMS[device.function]


def _feed(feed: Feed, known: dict[str, Device]) -> Iterator[Diagnostic]:
    device = known.get(feed.name.text.casefold())
    if device is None:
        yield _unknown(feed.name, known)
    elif device.kind in INPUTS:
        message = f"the {device.kind} {device.name.text} is an input: no rung feeds it"
        yield _about("RW416", message, feed.name, cure="feed a relay, a timer or a load")
    elif device.kind is not Kind.TIMER and feed.terminal is not Terminal.COIL:
        span = feed.span
        message = f"the {device.kind} {device.name.text} has a coil only, no {feed.terminal}"
        yield fault("RW418", message, span.start, span.end, cure=f"write 'feeds {device.name.text}'")


def _fed(device: Device, feeds: list[tuple[Rung, Feed]]) -> Iterator[Diagnostic]:
    name = device.name.text
    if device.kind in INPUTS:
        return
    if not feeds:
        yield warning("RW417", f"no rung feeds {name}", device.name.span.start, device.name.span.end, cure=_TAKE_OUT)
        return
    seen: dict[Terminal, Rung] = {}
    for rung, feed in feeds:
        if feed.terminal in seen:
            what = f"{name} {feed.terminal}".rstrip()
            message = f"{what} is already fed by rung {seen[feed.terminal].number}"
            span = feed.span
            yield fault("RW403", message, span.start, span.end, cure="put both networks in one rung, with 'or'")
        seen.setdefault(feed.terminal, rung)
    if device.kind is Kind.TIMER:
        yield from _timer(device, set(seen))


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


def _unknown(name: Name, known: dict[str, Device]) -> Diagnostic:
    close = nearest(name.text, [device.name.text for device in known.values()])
    cure = f"did you mean {close}?" if close else "declare it at the top, for example 'relay CR1'"
    return _about("RW402", f"{name.text} is not declared", name, cure=cure)


def _about(code: str, message: str, name: Name, *, cure: str) -> Diagnostic:
    return fault(code, message, name.span.start, name.span.end, cure=cure)


def _or(words: tuple[Form, ...]) -> str:
    return ", ".join(words[:-1]) + " or " + words[-1]
