"""A run as a value change dump (VCD: IEEE 1364, from memory), for any waveform viewer. Times in microseconds."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator

from compiler.simulation.run import Role, Run, Side
from compiler.simulation.traces import numbers, traces
from targets.target import CAUTION

__all__ = ["as_vcd"]

_SCOPES = {
    Role.INPUT: "inputs",
    Role.SUPPLY: "supply",
    Role.JAM: "jammed",
    Role.STUCK: "stuck",
    Role.INSIDE: "inside",
    Role.OUTPUT: "outputs",
}
_NOT_PLAIN = re.compile(r"[^A-Za-z0-9_]")
_COMMENT = (
    "A simulated run. Positions are micrometres from home, given where a rod sets out, stops or changes its speed, "
    "and straight in between."
)


def as_vcd(run: Run) -> str:
    """The run as a VCD file: a scope for what the world did, one for each logic, one for the rods. Counters are
    integers.

    Names are brought to letters, digits and underscores, as a simple identifier has them; two that would become the
    same get numbers. A comment in the file gives the caution and lists the names that were changed,
    each with its scope.
    """
    from vcd import VCDWriter  # only here: few commands need it

    out = io.StringIO()
    seen: dict[str, set[str]] = {"": {"machine"}}
    renamed: list[tuple[str, str]] = []

    def plain(scope: str, name: str) -> str:
        made = _simple(name, seen.setdefault(scope, set()))
        if made != name:
            renamed.append((f"{scope}.{made}" if scope else made, name))
        return made

    scopes = {Side.WORLD: "machine", Side.DRIVER: plain("", run.driver), Side.SHADOW: ""}
    if run.shadow:
        scopes[Side.SHADOW] = plain("", run.shadow)
    counted, single = numbers(traces(run))
    within = [f"{scopes[t.side]}.{_SCOPES[t.role]}" for t in single]
    signals = [(scope, plain(scope, t.name), t) for scope, t in zip(within, single, strict=True)]
    counters = [(scope, plain(scope, n.name), n) for n in counted for scope in [f"{scopes[n.side]}.counters"]]
    rods = {name: plain("machine.rods", name) for name in dict.fromkeys(m.actuator for m in run.moves)}
    with VCDWriter(out, timescale="1 us", date="", version="Rungwright", comment=_comment(run, renamed)) as writer:
        changes = []
        for scope, name, trace in signals:
            variable = writer.register_var(scope, name, "wire", size=1, init=int(trace.on(0)))
            changes += [(at_us, variable, int(on)) for at_us, on in trace.edges if at_us > 0]
        for scope, name, number in counters:
            variable = writer.register_var(scope, name, "integer", size=32, init=number.at(0))
            changes += [(at_us, variable, value) for at_us, value in number.values if at_us > 0]
        for name, made in rods.items():
            moves = [m for m in run.moves if m.actuator == name]
            start = moves[0].position_um  # it has not moved before its first move
            variable = writer.register_var("machine.rods", made, "integer", size=32, init=start)
            changes += [(m.at_us, variable, m.position_um) for m in moves if m.at_us > 0]
        for at_us, variable, value in sorted(changes, key=lambda change: change[0]):
            writer.change(variable, at_us, value)
        writer.close(run.ended_us)
    return out.getvalue()


def _simple(name: str, taken: set[str]) -> str:
    """A name of letters, digits and underscores that begins with no digit and is not taken yet."""
    made = _NOT_PLAIN.sub("_", name) or "_"
    made = f"_{made}" if made[0].isdigit() else made
    number = 2
    free = made
    while free in taken:
        free, number = f"{made}_{number}", number + 1
    taken.add(free)
    return free


def _comment(run: Run, renamed: list[tuple[str, str]]) -> str:
    told = [f"{_harmless(run.machine)}: {_harmless(run.scenario.name)}. {_COMMENT}", CAUTION, *_names(renamed)]
    return "\n".join(told)


def _names(renamed: list[tuple[str, str]]) -> Iterator[str]:
    for made, name in renamed:
        yield f"{made} stands for {_harmless(name)}"


def _harmless(text: str) -> str:
    """A text that ends no section of the file: plain ASCII on one line, no dollar sign."""
    return text.encode("ascii", "backslashreplace").decode().replace("$", "S").replace("\n", " ").replace("\r", " ")
