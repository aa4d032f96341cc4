"""A circuit under construction: names given out, devices and rungs noted, then numbered and cross-referenced."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, field
from decimal import Decimal

from compiler.chart import Words
from compiler.condition import Condition, Elapsed, Signal, Sustained
from compiler.machine import Machine
from grammar.rungs.tree import (
    Circuit,
    Comments,
    Device,
    Feed,
    Form,
    Kind,
    Name,
    Network,
    Preset,
    Rung,
    Terminal,
    TimerFunction,
    contacts,
)
from targets.relay.network import Unfit, contact, network

__all__ = ["Sheet", "seconds", "tidy"]

_WIDTH = 72  # fits beside the margin of a ladder


@dataclass(frozen=True, slots=True)
class _Draft:
    network: Network
    feed: Feed
    says: str
    words: str


@dataclass
class Sheet:
    """Relays and timers are numbered in the order they are asked for, past names the machine already uses."""

    machine: Machine
    outputs: dict[str, Network] = field(default_factory=dict)
    elapsed: dict[Elapsed, str] = field(default_factory=dict)
    sustained: dict[Sustained, str] = field(default_factory=dict)
    sustained_words: dict[Sustained, Words] = field(default_factory=dict)
    _devices: list[Device] = field(default_factory=list)
    _drafts: list[_Draft] = field(default_factory=list)
    _taken: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        machine = self.machine
        self._taken = {d.name.casefold() for d in (*machine.inputs, *machine.loads, *machine.actuators)}

    def relay(self, prefix: str = "CR") -> str:
        """A new relay's name."""
        name = self._fresh(prefix)
        self._devices.append(Device(Kind.RELAY, Name(name)))
        return name

    def timer(self, function: TimerFunction, preset_us: int) -> str:
        """A new timer's name."""
        name = self._fresh("TR")
        preset = Preset(seconds(preset_us), "s")
        self._devices.append(Device(Kind.TIMER, Name(name), function, preset))
        return name

    def _fresh(self, prefix: str) -> str:
        number = 1
        while f"{prefix}{number}".casefold() in self._taken:
            number += 1
        self._taken.add(f"{prefix}{number}".casefold())
        return f"{prefix}{number}"

    def rung(
        self, net: Network, name: str, *, says: str, words: Words | None = None, terminal: Terminal = Terminal.COIL
    ) -> None:
        """A rung that feeds ``name``. ``says`` is its comment; ``words`` what it came from in the sequence."""
        told = tidy(words.text) if words is not None else ""
        self._drafts.append(_Draft(net, Feed(Name(name), terminal), says, told))

    def conducts(self, condition: Condition) -> Network:
        """The contacts of a condition without rises. Raises Unfit where contacts can't tell it."""
        return network(condition, self._leaf)

    def _leaf(self, part: Signal | Elapsed | Sustained) -> Network:
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

    def _sustained(self, part: Sustained) -> str:
        name = self.sustained.get(part)
        if name is None:
            if any(c.name.text not in self._inputs() for c in contacts(self.conducts(part.of))):
                raise Unfit("a condition that must last looks at more than input devices")
            name = self.sustained[part] = self.timer(TimerFunction.ON_DELAY, part.time_us)
            says = f"{name} times how long this has lasted without a break, whatever step is on."
            self.rung(self.conducts(part.of), name, says=says, words=self.sustained_words.get(part))
        return name

    def _inputs(self) -> set[str]:
        return {i.name for i in self.machine.inputs}

    def circuit(self, title: str, notes: tuple[str, ...]) -> Circuit:
        """The finished circuit: only devices in use are declared, inputs and loads in the machine's order."""
        used = {c.name.text for draft in self._drafts for c in contacts(draft.network)}
        fed = {draft.feed.name.text for draft in self._drafts}
        inputs = [Device(Kind(str(i.kind)), Name(i.name)) for i in self.machine.inputs if i.name in used]
        loads = [Device(Kind(str(load.kind)), Name(load.name)) for load in self.machine.loads if load.name in fed]
        made = sorted(self._devices, key=lambda d: d.kind is Kind.TIMER)
        rungs = tuple(
            Rung(k, draft.network, (draft.feed,), Comments(self._comment(draft)))
            for k, draft in enumerate(self._drafts, start=1)
        )
        return Circuit(title, notes, (*inputs, *made, *loads), rungs)

    def forms(self) -> str:
        """The contacts of relays and timers by form, for whoever buys them: ``3 NO, 1 NCTO``."""
        ours = {d.name.text for d in self._devices}
        used = [c.form for draft in self._drafts for c in contacts(draft.network) if c.name.text in ours]
        return ", ".join(f"{used.count(form)} {form}" for form in Form if form in used)

    def words(self) -> dict[int, str]:
        """For each rung number the words of the sequence it came from."""
        return {k: draft.words for k, draft in enumerate(self._drafts, start=1) if draft.words}

    def _comment(self, draft: _Draft) -> tuple[str, ...]:
        lines = textwrap.wrap(draft.says, _WIDTH)
        name = draft.feed.name.text
        if any(d.name.text == name for d in self._devices) and draft.feed.terminal is not Terminal.SUPPLY:
            lines += textwrap.wrap(f"contacts of {name}: {self._places(name)}", _WIDTH)
        return tuple(lines)

    def _places(self, name: str) -> str:
        by_form: dict[Form, list[int]] = {}
        for k, draft in enumerate(self._drafts, start=1):
            for used in contacts(draft.network):
                if used.name.text == name:
                    by_form.setdefault(used.form, []).append(k)
        told = [f"{form} in {_rungs(by_form[form])}" for form in Form if form in by_form]
        return "; ".join(told) or "none in use"


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
