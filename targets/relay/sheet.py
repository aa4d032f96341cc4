"""A circuit under construction: names given out, devices and rungs noted, then numbered and cross-referenced."""

from __future__ import annotations

import textwrap
from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal

from compiler.chart import Words
from compiler.condition import Active, Condition, Counted, Elapsed, Signal, Sustained
from compiler.machine import Machine
from compiler.tell import condition_words
from grammar.rungs.tree import (
    Circuit,
    Comments,
    Device,
    Feed,
    Form,
    Kind,
    Master,
    Name,
    Network,
    Preset,
    Rung,
    Terminal,
    TimerFunction,
    behind,
    contacts,
)
from targets.relay.draft import Draft, Use, uses
from targets.relay.network import Leaf, Unfit, contact, network, without_idle
from targets.relay.poles import dealt
from targets.relay.repeats import asked_by_make, repeated
from targets.relay.slaves import Chained

__all__ = ["Sheet", "seconds", "tidy"]

_WIDTH = 72  # fits beside the margin of a ladder
_ORDER = (Kind.RELAY, Kind.LATCHING_RELAY, Kind.TIMER, Kind.COUNTER)


@dataclass
class Sheet:
    """Relays and timers are numbered in the order they are asked for, past names the machine already uses.

    What an arrangement has contacts for, besides inputs: ``outputs``, times in steps (``elapsed``), ``active`` steps,
    and counters that have ``counted`` far enough.
    """

    machine: Machine
    outputs: dict[str, Network] = field(default_factory=dict)
    elapsed: dict[Elapsed, str] = field(default_factory=dict)
    active: dict[str, Network] = field(default_factory=dict)
    counted: dict[Counted, str] = field(default_factory=dict)
    sustained: dict[Sustained, str] = field(default_factory=dict)
    sustained_words: dict[Sustained, Words] = field(default_factory=dict)
    _devices: list[Device] = field(default_factory=list)
    _drafts: list[Draft] = field(default_factory=list)
    _repeating: list[str] = field(default_factory=list)
    _taken: set[str] = field(default_factory=set)
    _last: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        machine = self.machine
        self._taken = {d.name.casefold() for d in (*machine.inputs, *machine.loads, *machine.actuators)}

    def relay(self, prefix: str = "CR", *, kind: Kind = Kind.RELAY) -> str:
        """A new relay's name; of ``kind`` LATCHING_RELAY it has two coils."""
        name = self._fresh(prefix)
        self._devices.append(Device(kind, Name(name)))
        return name

    def timer(self, function: TimerFunction, preset_us: int) -> str:
        """A new timer's name."""
        name = self._fresh("TR")
        preset = Preset(seconds(preset_us), "s")
        self._devices.append(Device(Kind.TIMER, Name(name), function, preset))
        return name

    def counter(self, preset: int) -> str:
        """A new counter's name."""
        name = self._fresh("CT")
        self._devices.append(Device(Kind.COUNTER, Name(name), None, Preset(str(preset))))
        return name

    def _fresh(self, prefix: str) -> str:
        number = self._last.get(prefix, 0) + 1
        while f"{prefix}{number}".casefold() in self._taken:
            number += 1
        self._last[prefix] = number
        self._taken.add(f"{prefix}{number}".casefold())
        return f"{prefix}{number}"

    def rung(
        self,
        net: Network,
        name: str,
        *,
        says: str,
        words: Words | None = None,
        terminal: Terminal = Terminal.COIL,
        masters: tuple[Master, ...] = (),
    ) -> None:
        """A rung that feeds ``name``, behind these masters. ``says`` is its comment; ``words`` what it came from in
        the sequence."""
        told = tidy(words.text) if words is not None else ""
        slim = without_idle(net, (master.network for master in masters))
        self._drafts.append(Draft(slim, (Feed(Name(name), terminal),), says, told, masters))

    def deal(self, poles: int, chained: Chained | None) -> tuple[str, ...]:
        """Share the contacts of every relay out among relays of so many poles, and say which got company."""
        self._devices, self._drafts, told = dealt(
            self._devices, self._drafts, poles, self._taken, chained, frozenset(self._repeating)
        )
        return told

    def conducts(self, condition: Condition) -> Network:
        """The contacts of a condition without rises. Raises Unfit where contacts can't tell it."""
        return network(condition, self._leaf)

    def _leaf(self, part: Leaf) -> Network:
        match part:
            case Signal(device=name) if name in self.outputs:
                return self.outputs[name]
            case Signal(device=name) if any(i.name == name for i in self.machine.inputs):
                return contact(name)
            case Signal(device=name):
                raise Unfit(f"a condition looks at {name}, which has no contacts")
            case Elapsed() if part in self.elapsed:
                return contact(self.elapsed[part], Form.NOTC)
            case Elapsed():
                raise Unfit("a condition looks at the time in another step")
            case Sustained():
                return contact(self._sustained(part), Form.NOTC)
            case Active(step=name) if name in self.active:
                return self.active[name]
            case Active():
                raise Unfit("it asks which step is active inside a condition")
            case Counted() if part in self.counted:
                return contact(self.counted[part])
            case Counted(counter=name):
                raise Unfit(f"it asks how far {name} has counted")

    def _sustained(self, part: Sustained) -> str:
        name = self.sustained.get(part)
        if name is None:
            if any(c.name.text not in self._inputs() for c in contacts(self.conducts(part.of))):
                raise Unfit("a condition that must last looks at more than input devices")
            name = self.sustained[part] = self.timer(TimerFunction.ON_DELAY, part.time_us)
            lasts = condition_words(part.of, self.machine)
            says = f"{name} times how long {lasts} without a break, in whatever step."
            self.rung(self.conducts(part.of), name, says=says, words=self.sustained_words.get(part))
        return name

    def _inputs(self) -> set[str]:
        return {i.name for i in self.machine.inputs}

    def circuit(self, title: str, notes: tuple[str, ...]) -> Circuit:
        """The finished circuit: only devices in use are declared, inputs and loads in the machine's order."""
        used = {use.contact.name.text for use in uses(self._drafts)}
        fed = {feed.name.text for draft in self._drafts for feed in draft.feeds}
        inputs = [Device(Kind(str(i.kind)), Name(i.name)) for i in self.machine.inputs if i.name in used]
        loads = [Device(Kind(str(load.kind)), Name(load.name)) for load in self.machine.loads if load.name in fed]
        made = sorted(self._devices, key=lambda d: _ORDER.index(d.kind))
        told: dict[str, list[Use]] = {device.name.text: [] for device in made}
        for use in uses(self._drafts):
            if use.contact.name.text in told:
                told[use.contact.name.text].append(use)
        rungs = tuple(
            behind(draft.masters, Rung(k, draft.network, draft.feeds, Comments(_comment(draft, told))))
            for k, draft in enumerate(self._drafts, start=1)
        )
        return Circuit(title, notes, (*inputs, *made, *loads), rungs)

    def repeat_inputs(self) -> tuple[str, ...]:
        """Give a relay to each input that has too few contacts, and say which got one."""

        def named(prefix: str) -> str:
            self._repeating.append(self.relay(prefix))
            return self._repeating[-1]

        self._drafts, told = repeated(self.machine, self._drafts, named)
        return told

    def asked_by_make(self) -> tuple[str, ...]:
        """The normally closed pushbuttons that a make contact asks for: a broken wire to it goes unnoticed."""
        return asked_by_make(self.machine, self._drafts)

    def forms(self) -> str:
        """The contacts of relays and timers by form, for whoever buys them: ``3 NO, 1 timed NC``."""
        ours = {d.name.text for d in self._devices}
        used = [use.contact.form for use in uses(self._drafts) if use.contact.name.text in ours]
        timed = {Form.NOTC: "timed NO", Form.NOTO: "timed NO", Form.NCTO: "timed NC", Form.NCTC: "timed NC"}
        counts = Counter(timed.get(form, str(form)) for form in sorted(used, key=list(Form).index))
        return ", ".join(f"{count} {form}" for form, count in counts.items())

    def words(self) -> dict[int, str]:
        """For each rung number the words of the sequence it came from."""
        return {k: draft.words for k, draft in enumerate(self._drafts, start=1) if draft.words}


def _comment(draft: Draft, told: dict[str, list[Use]]) -> tuple[str, ...]:
    """What a rung says, and where the contacts are of what it feeds."""
    lines = textwrap.wrap(draft.says, _WIDTH, break_on_hyphens=False)
    for feed in draft.feeds:
        name = feed.name.text
        if name in told and feed.terminal not in (Terminal.SUPPLY, Terminal.RESET, Terminal.UNLATCH):
            lines += textwrap.wrap(f"contacts of {name}: {_places(told[name])}", _WIDTH, break_on_hyphens=False)
    return tuple(lines)


def _places(used: list[Use]) -> str:
    by_form: dict[Form, list[int]] = {}
    masters: list[str] = []
    for use in used:
        if use.master:
            masters.append(f"{use.contact.form} as master of {_span(use.first, use.last)}")
        else:
            by_form.setdefault(use.contact.form, []).append(use.first)
    told = [f"{form} in {_rungs(by_form[form])}" for form in Form if form in by_form]
    return "; ".join([*told, *masters]) or "none in use"


def _span(first: int, last: int) -> str:
    return f"rung {first}" if first == last else f"rungs {first} to {last}"


def _rungs(numbers: list[int]) -> str:
    times = {number: numbers.count(number) for number in numbers}
    told = [str(n) if count == 1 else f"{n} (x{count})" for n, count in times.items()]
    return ("rung " if len(times) == 1 else "rungs ") + ", ".join(told)


def seconds(time_us: int) -> str:
    """A time in seconds, exactly, without needless zeros."""
    exact = (Decimal(time_us) / 1_000_000).normalize()
    return f"{exact:f}"


def tidy(text: str) -> str:
    """Words on one line, safe inside a comment or a title."""
    printable = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(printable.replace('"', "'").split())
