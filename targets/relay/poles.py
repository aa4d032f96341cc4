"""Contacts shared out among relays that have only so many poles.

A pole is taken by one contact, normally open or closed: the two sides of a changeover can serve two rungs only where
these share the wire at its common terminal, and nothing here counts on that. A relay that needs more contacts than it
has poles gets another beside it, its coil in parallel (CR2 and CR2A), and the contacts whose order matters most stay
on the first. Relays in parallel move in any order, and where the order is all, in a step chain, slave relays take
their place (see ``slaves``). A timer or a counter cannot be doubled, for two never agree to the moment: a slave relay
repeats it, fed by its last contact.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from grammar.rungs.tree import Contact, Device, Feed, Form, Kind, Name, Terminal, TimerFunction, contacts
from targets.relay.draft import Draft, Use, redrawn, uses
from targets.relay.network import Unfit
from targets.relay.slaves import Chained, enslaved, lettered

__all__ = ["MOST", "dealt", "most"]

MOST = 4
"""The poles of a common plug-in relay: four changeover contacts (common practice)."""

_SLAVE = {
    Form.NO: (Form.NO, Form.NO),
    Form.NC: (Form.NO, Form.NC),
    Form.NOTC: (Form.NOTC, Form.NO),
    Form.NCTO: (Form.NOTC, Form.NC),
    Form.NOTO: (Form.NOTO, Form.NO),
    Form.NCTC: (Form.NOTO, Form.NC),
}
"""For a contact of a timer or counter: the one that feeds its slave relay, and what the slave has in its place."""


def most(drafts: Sequence[Draft]) -> Counter[str]:
    """How many contacts are asked of each device."""
    return Counter(use.contact.name.text for use in uses(drafts))


def dealt(
    devices: Sequence[Device],
    drafts: Sequence[Draft],
    poles: int,
    taken: set[str],
    chained: Chained | None = None,
    repeating: frozenset[str] = frozenset(),
) -> tuple[list[Device], list[Draft], tuple[str, ...]]:
    """The devices and rungs with no device asked for more than so many contacts, and what was done, in words.

    Relays get slaves where some of them are ``chained``, and else others with their coils in parallel; those that are
    ``repeating`` an input always get such, so that all its contacts move at one moment. Names given to new relays are
    added to ``taken``. Raises Unfit for fewer than two poles.
    """
    if poles < 2:
        raise Unfit("a relay that seals itself in and does something besides needs two poles")
    found, rungs, told = list(devices), list(drafts), []
    needed = most(rungs)
    for device in devices:
        if device.kind in (Kind.TIMER, Kind.COUNTER) and needed[device.name.text] > poles:
            slaves, rungs = _repeated(device, rungs, poles, taken)
            found += slaves
            named = " and ".join(slave.name.text for slave in slaves)
            repeats = "repeats it" if len(slaves) == 1 else "repeat it"
            told.append(f"{device.name.text} needs {needed[device.name.text]} contacts: {named} {repeats}")
    needed = most(rungs)
    company: dict[str, list[str]] = {}
    for device in found:
        name = device.name.text
        alike = device.kind in (Kind.RELAY, Kind.LATCHING_RELAY) and (chained is None or name in repeating)
        if alike and needed[name] > poles:
            company[name] = [lettered(name, taken) for _ in range((needed[name] - 1) // poles)]
            where = "beside it" if chained is None else "in parallel to it"
            told.append(f"{name} needs {needed[name]} contacts: {', '.join(company[name])} {where}")
    found = [same for d in found for same in (d, *(replace(d, name=Name(n)) for n in company.get(d.name.text, ())))]
    rungs = _beside(company, rungs, poles) if company else rungs
    if chained is not None:
        found, rungs, enslaving = enslaved(found, rungs, poles, chained, taken)
        told += enslaving
    return found, rungs, tuple(told)


def _beside(company: dict[str, list[str]], drafts: list[Draft], poles: int) -> list[Draft]:
    """Contacts dealt out to a relay and those beside it, the most urgent ones to the relay itself."""
    every = tuple(uses(drafts))
    masters = {use.contact.name.text for use in every if use.master}
    asked: dict[str, list[int]] = {relay: [] for relay in company}
    for use in every:
        if use.contact.name.text in company:
            asked[use.contact.name.text].append(_urgency(use, drafts[use.first - 1], masters))
    given = {relay: iter(_dealt(ranks, (relay, *company[relay]), poles)) for relay, ranks in asked.items()}

    def another(contact: Contact) -> Contact:
        names = given.get(contact.name.text)
        return contact if names is None else replace(contact, name=Name(next(names)))

    return [replace(draft, feeds=tuple(_fed(draft.feeds, company))) for draft in redrawn(drafts, another)]


def _urgency(use: Use, draft: Draft, masters: set[str]) -> int:
    """Which contacts belong on one relay, since those beside it move a little sooner or later: the one that seals it
    in and those that make a master pick up, then those that break other relays or hold them back, then the loads'."""
    fed = {feed.name.text for feed in draft.feeds}
    if use.master or use.contact.name.text in fed or (fed & masters and use.contact.form is Form.NO):
        return 0
    if fed.isdisjoint(contact.name.text for contact in contacts(draft.network)):
        return 2
    return 1 if use.contact.form is Form.NC else 3


def _dealt(ranks: list[int], relays: tuple[str, ...], poles: int) -> list[str]:
    """For each contact in reading order, whose it is."""
    found = [""] * len(ranks)
    for place, k in enumerate(sorted(range(len(ranks)), key=ranks.__getitem__)):
        found[k] = relays[place // poles]
    return found


def _fed(feeds: tuple[Feed, ...], company: dict[str, list[str]]) -> Iterator[Feed]:
    for feed in feeds:
        yield feed
        yield from (replace(feed, name=Name(other)) for other in company.get(feed.name.text, ()))


def _repeated(device: Device, drafts: list[Draft], poles: int, taken: set[str]) -> tuple[list[Device], list[Draft]]:
    """The contacts that are too many, taken over by slave relays: one for each way the device's contacts move."""
    name = device.name.text
    forms = [use.contact.form for use in uses(drafts) if use.contact.name.text == name]
    ways = len({_feeding(device, form) for form in forms})
    left = poles - ways
    slaves: dict[Form, str] = {}

    def another(contact: Contact) -> Contact:
        nonlocal left
        if contact.name.text != name:
            return contact
        left -= 1
        if left >= 0:
            return contact
        slave = slaves.setdefault(_feeding(device, contact.form), "") or _number(taken)
        slaves[_feeding(device, contact.form)] = slave
        return Contact(Name(slave), _SLAVE[contact.form][1])

    rungs = redrawn(drafts, another)
    fed = [(draft.words, feed.terminal) for draft in drafts for feed in draft.feeds if feed.name.text == name]
    words = next((told for told, terminal in fed if told and terminal is not Terminal.SUPPLY), "")
    for form, slave in slaves.items():
        says = f"{slave} repeats {name}, which has too few contacts of its own."
        rungs.append(Draft(Contact(device.name, form), (Feed(Name(slave)),), says, words))
    return [Device(Kind.RELAY, Name(slave)) for slave in slaves.values()], rungs


def _feeding(device: Device, form: Form) -> Form:
    """The contact that feeds a slave. An on-delay's and an off-delay's instantaneous contacts move at another moment
    than the timed ones."""
    feeding = _SLAVE[form][0]
    one_way = device.function not in (TimerFunction.ON_DELAY, TimerFunction.OFF_DELAY)
    return Form.NO if one_way else feeding


def _number(taken: set[str]) -> str:
    number = 1
    while f"cr{number}" in taken:
        number += 1
    taken.add(f"cr{number}")
    return f"CR{number}"
