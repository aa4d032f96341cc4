"""From a Machine and a Chart to rung lists, one for each arrangement that fits, and their ladders."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from compiler.chart import Chart
from compiler.condition import Rise, walk
from compiler.machine import Machine
from grammar.rungs import read, write
from grammar.rungs.tree import INPUTS, Circuit, Kind, wired
from grammar.source import Source
from targets.relay import cascade, off_delay, on_delay, one_hot, one_shot, step_chain, step_counter
from targets.relay.arrangement import Built
from targets.relay.chain import chain, no_way_home
from targets.relay.ladder import ladder
from targets.relay.network import Unfit
from targets.relay.poles import MOST
from targets.relay.sheet import tidy
from targets.slug import slug
from targets.target import CAUTION, Artefact, Options, Refusal

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["ARRANGEMENTS", "Arrangement", "emit", "parts"]

TARGET_NAME = "relay"
_WIDTH = 76


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A way to build a chart in relays: what the user types for it, its full name, and what builds it of a machine
    and a chart (with ``anti_repeat`` by keyword), or raises Unfit."""

    key: str
    name: str
    build: Callable[..., Built]


def _in_one_line(build: Callable[..., Built], *, home: bool = False) -> Callable[..., Built]:
    """The builder of an arrangement that takes the chart read as one line of steps, and one that leads ``home``."""

    def built(machine: Machine, chart: Chart, *, anti_repeat: bool) -> Built:
        read = chain(chart)
        return build(machine, read if home else no_way_home(read), anti_repeat=anti_repeat)

    return built


ARRANGEMENTS = (
    Arrangement("on-delay", "on-delay dwell", _in_one_line(on_delay.build)),
    Arrangement("off-delay", "off-delay dwell", _in_one_line(off_delay.build)),
    Arrangement("one-shot", "one-shot stroke", _in_one_line(one_shot.build)),
    Arrangement("step-chain", "step chain", step_chain.build),
    Arrangement("one-hot", "one-hot chain", one_hot.build),
    Arrangement("cascade", "cascade groups", _in_one_line(cascade.build, home=True)),
    Arrangement("step-counter", "step counter", _in_one_line(step_counter.build)),
)


def emit(machine: Machine, chart: Chart, *, options: Options) -> Iterator[Artefact | Refusal]:
    """A rung list and its ladder for each arrangement asked for (all, when none is named), or the reason why not."""
    for arrangement in ARRANGEMENTS:
        if options.arrangements and arrangement.key not in options.arrangements:
            continue
        made: tuple[Artefact | Refusal, ...]
        try:
            built = arrangement.build(machine, chart, anti_repeat=options.anti_repeat)
            made = _artefacts(machine, chart, arrangement, built, options)
        except Unfit as unfit:
            made = (Refusal(TARGET_NAME, f"{arrangement.name} rungs", str(unfit)),)
        yield from made
    known = [arrangement.key for arrangement in ARRANGEMENTS]
    for name in options.arrangements:
        if name not in known:
            yield Refusal(TARGET_NAME, name, f"no arrangement is called {name}; there are {', '.join(known)}")


def _artefacts(
    machine: Machine, chart: Chart, arrangement: Arrangement, built: Built, options: Options
) -> tuple[Artefact, ...]:
    title = tidy(machine.title or chart.title or "Sequence")
    poles = options.poles or MOST
    repeated = built.sheet.repeat_inputs()
    company = built.sheet.deal(poles, built.chained)
    notes = _notes(
        arrangement,
        built,
        anti_repeat=(options.anti_repeat or built.anti_repeat) and _pressed(machine, chart),
        poles=poles,
        company=company,
        repeated=repeated,
    )
    text = write(built.sheet.circuit(f"{title}: {arrangement.name}", notes))
    file = f"{slug(title)}-{arrangement.name.replace(' ', '-')}"
    reading = read(Source(f"{file}.rungs", text))
    if any(diagnostic.code == "RW415" for diagnostic in reading.diagnostics):
        raise Unfit("its conditions nest too deep to be written as rungs")
    if not reading.sound:  # nothing to draw; the build reads it again and tells what is wrong
        return (Artefact(TARGET_NAME, f"{arrangement.name} rungs", f"{file}.rungs", text, implementation=True),)
    circuit, words = reading.tree, built.sheet.words()
    lines = {
        reading.source.place(rung.span.start).line: words[rung.number]
        for rung in circuit.rungs
        if rung.number in words
    }
    rungs = Artefact(
        target=TARGET_NAME,
        name=f"{arrangement.name} rungs",
        file=f"{file}.rungs",
        text=text,
        implementation=True,
        announces=built.announces,
        parts=parts(circuit),
        lines=lines,
    )
    drawing = _environment().get_template("ladder.j2").render(drawing=ladder(circuit), caution=_wrapped(CAUTION))
    return rungs, Artefact(TARGET_NAME, f"{arrangement.name} ladder", f"{file}.ladder.txt", drawing)


def _pressed(machine: Machine, chart: Chart) -> bool:
    """Whether a cycle begins at a press of START, so that holding it could repeat one."""
    press = Rise(device=machine.start or "")
    return any(press in walk(t.condition) for t in chart.transitions)


def _notes(
    arrangement: Arrangement,
    built: Built,
    *,
    anti_repeat: bool,
    poles: int,
    company: tuple[str, ...],
    repeated: tuple[str, ...],
) -> tuple[str, ...]:
    assumed = sorted(built.announces)
    if assumed:
        told = ["It does what was written as long as:", *(f"- {assumption}" for assumption in assumed)]
    else:
        told = ["It takes nothing for granted of the operator or the machine."]
    text = (
        _environment()
        .get_template("notes.j2")
        .render(
            arrangement=arrangement.name,
            anti_repeat=anti_repeat,
            how=_wrapped(f"{built.how}"),
            poles=_wrapped(_poles(poles, company, slaves=built.chained is not None)),
            repeated=[line for one in repeated for line in _wrapped(one)],
            unnoticed=_wrapped(_unnoticed(built)),
            roles=_wrapped(_roles(built.sheet.machine)),
            assumptions=told,
            forms=built.sheet.forms(),
            caution=_wrapped(CAUTION),
        )
    )
    return tuple(line.rstrip() for line in text.rstrip("\n").split("\n"))


def _roles(machine: Machine) -> str:
    """What START and STOP, as these papers say, are called on this machine; empty where they are called just so."""
    parts = {"START": machine.start, "STOP": machine.stop}
    others = [f"{part} is {name}" for part, name in parts.items() if name is not None and name.upper() != part]
    return f"In what is told here {' and '.join(others)}." if others else ""


def _unnoticed(built: Built) -> str:
    """What a broken wire would do unseen; empty where nothing."""
    names = built.sheet.asked_by_make()
    if not names:
        return ""
    return (
        f"Mind: {' and '.join(names)} acts here by a make contact, so a broken wire to it goes unnoticed and the "
        "button is dead."
    )


def _poles(poles: int, company: tuple[str, ...], *, slaves: bool) -> str:
    """The rule by which contacts are shared out, and for which relays it took more than one."""
    rule = f"Relays are taken to have {poles} poles; a contact takes one."
    if not company:
        return f"{rule} No relay needs more."
    beside = "another has its coil in parallel, and a timer or counter is repeated by a slave relay"
    if slaves:
        beside = (
            "slave relays repeat it, which come in and drop out after it; what a step relay feeds next waits for "
            "its last slave, so that all keep their order (each slave adds the time it takes to move, to a stop too)"
        )
    return f"{rule} Where one needs more, {beside}: {'; '.join(company)}."


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, break_on_hyphens=False)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loader = PackageLoader("targets.relay", "templates")
    return Environment(
        loader=loader, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True
    )


def parts(circuit: Circuit) -> tuple[tuple[str, int], ...]:
    """What must be bought and wired: relays, timers, counters, their contacts, and contact blocks on inputs."""
    kinds = {device.name.text: device.kind for device in circuit.devices}
    used = wired(circuit)
    on_switches = sum(kinds[contact.name.text] in INPUTS for contact in used)
    counts = [
        ("relays", sum(kind is Kind.RELAY for kind in kinds.values())),
        ("latching relays", sum(kind is Kind.LATCHING_RELAY for kind in kinds.values())),
        ("timers", sum(kind is Kind.TIMER for kind in kinds.values())),
        ("counters", sum(kind is Kind.COUNTER for kind in kinds.values())),
        ("contacts", len(used) - on_switches),
        ("switch contact blocks", on_switches),
    ]
    return tuple((name, count) for name, count in counts if count or name in ("relays", "timers", "contacts"))
