"""What the user names on the command line as an implementation: a file of any kind we read, or an arrangement."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from compiler.chart_logic import chart_logic
from compiler.circuit import CircuitLogic
from compiler.logic import Logic, Renamed
from compiler.machine import Machine
from compiler.understand import Understood, understand
from grammar.diagnostic import Diagnostic, Severity
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.given import source_of
from targets.simulation import NoSuchThing
from targets.target import Options, find_targets

__all__ = ["Implementation", "Unusable", "implementation", "machine_of"]

SEQUENCE = "sequence"
_ONLY_DEVICES = {"RW212"}  # a file of devices alone has no cycle, and needs none


class Unusable(Exception):
    """A file that cannot be used, with what is wrong in it."""

    def __init__(self, understood: Understood) -> None:
        super().__init__(understood.source.name)
        self.understood = understood


@dataclass(frozen=True, slots=True)
class Implementation:
    """One way to drive a machine. ``source`` is what it was read from, ``target`` the name of the target that read it
    (``sequence`` for a program in words)."""

    logic: Logic
    target: str
    source: Source

    @property
    def notices(self) -> tuple[Diagnostic, ...]:
        """What is worth knowing about the text, though nothing is wrong with it."""
        inner = self.logic.logic if isinstance(self.logic, Renamed) else self.logic
        notices: tuple[Diagnostic, ...] = getattr(inner, "notices", ())
        return notices

    @property
    def circuit(self) -> CircuitLogic | None:
        """The relay circuit it is, if it is one."""
        inner = self.logic.logic if isinstance(self.logic, Renamed) else self.logic
        return inner if isinstance(inner, CircuitLogic) else None


def machine_of(file: str) -> Understood:
    """A program whose devices are the machine; it may have no cycle. Raises Unusable."""
    understood = understand(source_of(file, None))
    faults = {d.code for d in understood.said(Severity.FAULT)}
    if faults - _ONLY_DEVICES:
        raise Unusable(understood)
    return understood


def implementation(name: str, machine: Understood, options: Options) -> Implementation:
    """What drives the machine under that name: ``sequence`` for the machine file's own cycle, a file, or an artefact
    of that cycle. Raises NoSuchThing, Unusable, or grammar.reading.ReadBack."""
    if name == SEQUENCE:
        return _own_sequence(machine)
    if name == "-":
        raise NoSuchThing("standard input has no name that tells what it is; give the implementation as a file")
    if not Path(name).is_file():
        return _arrangement(name, machine, options)
    source = source_of(name, None)
    target = next((t for t in find_targets() if name.casefold().endswith(t.suffixes)), None)
    if target is not None:
        logic = target.read(source.text, source.name, machine.machine)
        return Implementation(Renamed(logic, Path(name).name), target.name, source)
    return _sequence(source, machine.machine)


def _own_sequence(machine: Understood) -> Implementation:
    if machine.chart is None:
        file = machine.source.name
        raise NoSuchThing(
            f"{file} has no cycle, only devices; write one, or hold two against each other: "
            f"rungwright compare A B --machine {file}"
        )
    return Implementation(chart_logic(machine.chart), SEQUENCE, machine.source)


def _sequence(source: Source, machine: Machine) -> Implementation:
    understood = understand(source)
    if {d.code for d in understood.said(Severity.FAULT)} == _ONLY_DEVICES:
        raise NoSuchThing(f"{source.name} has no cycle, only devices; give it as --machine {source.name}")
    if understood.chart is None:
        raise Unusable(understood)
    chart = understood.chart
    devices, loads = {i.name for i in machine.inputs}, {load.name for load in machine.loads}
    logic = chart_logic(chart)
    strangers = [name for name in logic.reads if name not in devices]
    strangers += [a.output for step in chart.steps for a in step.actions if a.output not in loads]
    if strangers:
        named = ", ".join(dict.fromkeys(strangers))
        raise NoSuchThing(
            f"{source.name} uses {named}, which the machine does not have; give its devices the same names"
        )
    return Implementation(Renamed(logic, Path(source.name).name), SEQUENCE, source)


def _arrangement(name: str, machine: Understood, options: Options) -> Implementation:
    a_file = name.casefold().endswith((".seq", *(suffix for target in find_targets() for suffix in target.suffixes)))
    if machine.chart is None:
        beside = "" if a_file else f", and no cycle in {machine.source.name} to print arrangements of"
        raise NoSuchThing(f"there is no file {name}{beside}")
    artefacts, refused = emit_all(machine, options)
    usable = [a for a in artefacts if a.implementation]
    exact = [a for a in usable if name.casefold() in (a.name.casefold(), a.file.casefold())]
    found = exact or [a for a in usable if _means(name, a.name)]
    if len(found) > 1:
        raise NoSuchThing(f"{name} may mean {' or '.join(a.name for a in found)}; write more of the name")
    if not found:
        for refusal in refused:
            if _means(name, refusal.name):
                raise NoSuchThing(f"{refusal.name}: {refusal.reason}")
        if a_file:
            raise NoSuchThing(f"there is no file {name}")
        there = ", ".join([SEQUENCE, *(a.name for a in usable)])
        raise NoSuchThing(f"there is neither a file nor an arrangement {name}; there are: {there}")
    (one,) = found
    return Implementation(read_back(one, machine.machine), one.target, Source(one.file, one.text))


def _means(words: str, name: str) -> bool:
    """Whether these are words of a name, the last perhaps cut short: "on-delay" means "on-delay dwell rungs"."""
    said, named = (" ".join(text.casefold().replace("-", " ").split()) for text in (words, name))
    return bool(said) and f" {said}" in f" {named}"
