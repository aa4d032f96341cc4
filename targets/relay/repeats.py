"""Input relays: a button or a switch with more contacts than fit behind it is repeated by a relay.

All its contacts go over to the relay, so that they still move at one moment. As the supply comes back the relay is
out until it has picked up, and whatever asks for its NC contact might take a switch that is made for one that is not.
So a switch is repeated only where every rung with such a contact waits, just then, for another relay or a timer.

The relay of STOP is in while STOP is up: out at first, it tells of a press that nobody made, and the same holds for
it. STOP has one, too, where a make contact asks for a STOP that is wired normally closed: that contact would be dead
with a broken wire to the button, and nobody would know. No other button: a broken wire is to stop a machine, never to
start one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace

from compiler.machine import Contact as Closed
from compiler.machine import Input, InputKind, Machine
from grammar.rungs.tree import Contact, Feed, Form, Name, Network, Parallel, Series, contacts
from targets.relay.draft import Draft, redrawn, uses
from targets.relay.network import contact, nc, series
from targets.relay.poles import most

__all__ = ["BLOCKS", "asked_by_make", "repeated"]

BLOCKS = 4
"""Contact blocks that fit behind most pushbuttons, selectors and limit switches (common practice)."""

_OPPOSITE = {Form.NO: Form.NC, Form.NC: Form.NO}


def repeated(
    machine: Machine, drafts: list[Draft], relay: Callable[[str], str]
) -> tuple[list[Draft], tuple[str, ...]]:
    """The rungs with a relay for each input that needs one, and what was done, in words. ``relay`` names a new relay
    by a prefix."""
    rungs: list[Draft] = []
    told: list[str] = []
    found: list[str] = []
    needed = most(drafts)
    stop = machine.stop
    asked = stop is not None and (needed[stop] > BLOCKS or stop in asked_by_make(machine, drafts))
    own = {i.name for i in machine.inputs}
    if stop is not None and asked and not any(_early(draft, stop, own, Form.NO) for draft in drafts):
        name = relay("SR")
        says = f"{name} is in while {stop} is up and its wire is whole."
        rungs.append(Draft(nc(stop), (Feed(Name(name)),), says, _words(drafts, stop)))
        drafts = _gone_over(drafts, stop, name, opposite=True)
        told.append(f"{name} is in while {stop} is up, so that a broken wire to {stop} acts as a press of it.")
    for one in (one for one in machine.inputs if one.name != stop and needed[one.name] > BLOCKS):
        if _stops_by_a_broken_wire(one) or any(_early(draft, one.name, own, Form.NC) for draft in drafts):
            continue
        name = relay("IR")
        says = f"{name} repeats {one.name}, which has too few contacts of its own."
        rungs.append(Draft(contact(one.name), (Feed(Name(name)),), says, _words(drafts, one.name)))
        drafts = _gone_over([_told(draft, one.name, name) for draft in drafts], one.name, name)
        found.append(f"{name} repeats {one.name}, which needs {needed[one.name]}")
    if found:
        told.append(f"Buttons and switches are taken to have {BLOCKS} contacts at most: {'; '.join(found)}.")
    return [*rungs, *drafts], tuple(told)


def asked_by_make(machine: Machine, drafts: list[Draft]) -> tuple[str, ...]:
    """The normally closed pushbuttons that a make contact asks for: a broken wire to it goes unnoticed."""
    made = {use.contact.name.text for use in uses(drafts) if use.contact.form is Form.NO}
    return tuple(i.name for i in machine.inputs if _stops_by_a_broken_wire(i) and i.name in made)


def _stops_by_a_broken_wire(one: Input) -> bool:
    return one.kind is InputKind.PUSHBUTTON and one.contact is Closed.NORMALLY_CLOSED


def _words(drafts: Iterable[Draft], name: str) -> str:
    """The words of the first rung that asks for an input and has some."""
    asking = (draft.words for draft in drafts if any(use.contact.name.text == name for use in uses([draft])))
    return next(filter(None, asking), "")


def _gone_over(drafts: list[Draft], name: str, relay: str, *, opposite: bool = False) -> list[Draft]:
    """The rungs with contacts of a relay for those of an input."""

    def another(asked: Contact) -> Contact:
        if asked.name.text != name:
            return asked
        return replace(asked, name=Name(relay), form=_OPPOSITE[asked.form] if opposite else asked.form)

    return redrawn(drafts, another)


def _told(draft: Draft, name: str, relay: str) -> Draft:
    """The rung with the relay named in its comment, behind the input that the comment speaks of."""
    asked = any(use.contact.name.text == name for use in uses([draft]))
    said = re.sub(rf"(?<![\w'-]){re.escape(name)}(?![\w'-])", f"{name} ({relay})", draft.says, count=1)
    return replace(draft, says=said) if asked else draft


def _early(draft: Draft, name: str, inputs: set[str], form: Form) -> bool:
    """Whether a rung may conduct as the supply comes back, every relay and timer still out, only because the relay of
    an input is out too, whose contacts for those of this ``form`` are then made. Other inputs are taken to stand at
    their worst."""
    net = series(*(master.network for master in draft.masters), draft.network)
    if not any(c.name.text == name and c.form is form for c in contacts(net)):
        return False

    def closed(one: Contact, *, found_out: bool) -> bool:
        if one.name.text == name:
            return found_out and one.form is form
        if one.name.text in inputs:
            return found_out
        return one.form in (Form.NC, Form.NCTO, Form.NCTC)

    return _conducts(net, lambda c: closed(c, found_out=True)) and not _conducts(
        net, lambda c: closed(c, found_out=False)
    )


def _conducts(net: Network, closed: Callable[[Contact], bool]) -> bool:
    match net:
        case Contact():
            return closed(net)
        case Series(parts=parts):
            return all(_conducts(part, closed) for part in parts)
        case Parallel(parts=parts):
            return any(_conducts(part, closed) for part in parts)
