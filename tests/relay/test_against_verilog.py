"""An independent cross-check: random circuits as Verilog, run by a general-purpose simulator, wave for wave.

The translation shares nothing with compiler/circuit but the tree: relays are registers clocked once a round,
timers are counters written out from their descriptions.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from compiler.circuit import circuit_logic
from compiler.logic import Chattering
from grammar.rungs import read, write
from grammar.rungs.judge import forms
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Feed,
    Form,
    Kind,
    Name,
    Network,
    Parallel,
    Preset,
    Rung,
    Series,
    Terminal,
    TimerFunction,
)
from grammar.source import Source
from tests.relay.clock import CHATTERS, Player
from tests.relay.strategies import MACHINE

_ROUNDS = 48
_TICKS = 60
_MS = 1_000

History = list[tuple[bool, ...]]


# --- random circuits ------------------------------------------------------------------------------------------


def _network(rng: random.Random, devices: list[Device], depth: int) -> Network:
    if depth == 0 or rng.random() < 0.4:
        device = rng.choice(devices)
        return Contact(device.name, rng.choice(forms(device)))
    parts = [_network(rng, devices, depth - 1) for _ in range(rng.randint(2, 3))]
    if rng.random() < 0.5:
        return Series(
            tuple(inner for part in parts for inner in (part.parts if isinstance(part, Series) else (part,)))
        )
    return Parallel(
        tuple(inner for part in parts for inner in (part.parts if isinstance(part, Parallel) else (part,)))
    )


def _circuit(rng: random.Random, *, timers: bool, memories: bool = False) -> Circuit:
    inputs = [Device(Kind(str(i.kind)), Name(i.name)) for i in MACHINE.inputs]
    loads = [Device(Kind(str(load.kind)), Name(load.name)) for load in MACHINE.loads]
    relays = [Device(Kind.RELAY, Name(f"CR{k}")) for k in range(rng.randint(1, 5))]
    timed = [
        Device(Kind.TIMER, Name(f"TR{k}"), rng.choice(list(TimerFunction)), Preset(str(rng.randint(1, 9)), "ms"))
        for k in range(rng.randint(1, 4) if timers else 0)
    ]
    feeds = [Feed(d.name) for d in (*relays, *loads)]
    for timer in timed:
        apart = timer.function in (TimerFunction.ONE_SHOT, TimerFunction.RETRIGGERABLE) or rng.random() < 0.5
        feeds += [Feed(timer.name, t) for t in (Terminal.SUPPLY, Terminal.CONTROL)] if apart else [Feed(timer.name)]
    latching = [Device(Kind.LATCHING_RELAY, Name(f"KR{k}")) for k in range(rng.randint(1, 3) if memories else 0)]
    counters = [
        Device(Kind.COUNTER, Name(f"CT{k}"), None, Preset(str(rng.randint(1, 4))))
        for k in range(rng.randint(1, 3) if memories else 0)
    ]
    feeds += [Feed(d.name, t) for d in latching for t in (Terminal.LATCH, Terminal.UNLATCH)]
    feeds += [Feed(d.name, t) for d in counters for t in (Terminal.COUNT, Terminal.RESET)]
    contacts = [*inputs, *relays, *timed, *latching, *counters]
    rungs = [Rung(k, _network(rng, contacts, 3), (feed,)) for k, feed in enumerate(feeds, start=1)]
    return Circuit("", (), (*inputs, *relays, *timed, *latching, *counters, *loads), tuple(rungs))


def _history(rng: random.Random) -> History:
    now = [False] * len(MACHINE.inputs)
    history = [tuple(now)]
    for _ in range(_TICKS - 1):
        for k in range(len(now)):
            now[k] ^= rng.random() < 0.15
        history.append(tuple(now))
    return history


# --- as Verilog -----------------------------------------------------------------------------------------------


def _verilog(number: int, circuit: Circuit, history: History) -> Iterator[str]:
    names = {d.name.text: f"v{k}" for k, d in enumerate(circuit.devices)}
    kinds = {d.name.text: d for d in circuit.devices}
    inputs = [names[i.name] for i in MACHINE.inputs]
    relays = [names[d.name.text] for d in circuit.devices if d.kind is Kind.RELAY]
    relays += [names[d.name.text] for d in circuit.devices if d.kind is Kind.LATCHING_RELAY]
    counters = [names[d.name.text] for d in circuit.devices if d.kind is Kind.COUNTER]
    timers = [d for d in circuit.devices if d.kind is Kind.TIMER]
    fed = {(f.name.text, f.terminal): _boolean(r.network, names, kinds) for r in circuit.rungs for f in r.feeds}
    state = [*relays]
    for timer in timers:
        v = names[timer.name.text]
        state += [f"{v}_out", f"{v}_in", f"{v}_block", f"{v}_low", f"{v}_at"]
    yield f"module c{number};"
    yield f"  reg {', '.join(inputs)}; integer now, n; reg clk; reg stable;"
    for relay in relays:
        yield f"  reg {relay};"
    for timer in timers:
        v = names[timer.name.text]
        yield f"  reg {v}_out, {v}_in, {v}_block, {v}_low; integer {v}_at;"
    for counter in counters:
        state += [f"{counter}_n", f"{counter}_was"]
        yield f"  integer {counter}_n; reg {counter}_was;"
    yield f"  reg [{1 + 64 * len(state)}:0] before;"
    for k, load in enumerate(MACHINE.loads):
        yield f"  wire q{k} = {fed.get((load.name, Terminal.COIL), '0')};"
    yield "  always @(posedge clk) begin"
    for device in circuit.devices:
        name = device.name.text
        if device.kind is Kind.RELAY:
            yield f"    {names[name]} <= {fed[name, Terminal.COIL]};"
        if device.kind is Kind.TIMER:
            yield from _timer(device, names[name], fed)
        if device.kind is Kind.LATCHING_RELAY:
            latch, unlatch = fed[name, Terminal.LATCH], fed[name, Terminal.UNLATCH]
            yield f"    if ({unlatch}) {names[name]} <= 0; else if ({latch}) {names[name]} <= 1;"
        if device.kind is Kind.COUNTER:
            yield from _counter(device, names[name], fed)
    yield "  end"
    yield "  initial begin"
    yield "    clk = 0; " + " ".join(f"{s} = 0;" for s in state)
    for tick, made in enumerate(history):
        yield f"    now = {tick}; " + " ".join(f"{i} = {int(on)};" for i, on in zip(inputs, made, strict=True))
        yield f"    for (n = 0; n < {_ROUNDS}; n = n + 1) begin"
        yield f"      before = {{{', '.join(state)}}};"
        yield "      #1 clk = 1; #1 clk = 0;"
        yield "    end"
        yield f"    stable = (before == {{{', '.join(state)}}});"
        bits = ", ".join(f"q{k}" for k in range(len(MACHINE.loads)))
        shown = "%b" * len(MACHINE.loads)
        yield f'    $display("{number} {tick} %b {shown}", stable, {bits});'
    yield "  end"
    yield "endmodule"


def _counter(counter: Device, v: str, fed: dict[tuple[str, Terminal], str]) -> Iterator[str]:
    count, reset = (fed[counter.name.text, t] for t in (Terminal.COUNT, Terminal.RESET))
    assert counter.preset is not None
    yield f"    {v}_was <= {count};"
    yield f"    if ({reset}) {v}_n <= 0;"
    yield f"    else if ({count} && !{v}_was && {v}_n < {counter.preset.number}) {v}_n <= {v}_n + 1;"


def _timer(timer: Device, v: str, fed: dict[tuple[str, Terminal], str]) -> Iterator[str]:
    name = timer.name.text
    supply = fed.get((name, Terminal.SUPPLY), "1")
    control = fed.get((name, Terminal.COIL), fed.get((name, Terminal.CONTROL), "1"))
    assert timer.preset is not None
    over = f"(now - {v}_at >= {timer.preset.number})"
    lines: dict[TimerFunction, list[str]] = {
        # Picks up when its input has been made for the preset; drops out with it.
        TimerFunction.ON_DELAY: [
            f"if (!({control})) begin {v}_in <= 0; {v}_out <= 0; end",
            f"else if (!{v}_in) begin {v}_in <= 1; {v}_at <= now; end",
            f"else if ({over}) {v}_out <= 1;",
        ],
        # Operates with its input; drops out the preset after it has gone.
        TimerFunction.OFF_DELAY: [
            f"if ({control}) begin {v}_in <= 1; {v}_out <= 1; end",
            f"else if ({v}_in) begin {v}_in <= 0; {v}_at <= now; end",
            f"else if ({v}_out && {over}) {v}_out <= 0;",
        ],
        # One pulse at each rise of its input, blind while it runs; the input must go before the next.
        TimerFunction.ONE_SHOT: [
            f"if ({v}_out) begin if ({over}) begin {v}_out <= 0; {v}_block <= {control}; end end",
            f"else if (!({control})) {v}_block <= 0;",
            f"else if (!{v}_block) begin {v}_out <= 1; {v}_at <= now; end",
        ],
        # The same, but a new rise while it runs begins the time anew.
        TimerFunction.RETRIGGERABLE: [
            f"if ({v}_out) begin",
            f"  if ({v}_low && ({control})) begin {v}_at <= now; {v}_low <= 0; end",
            f"  else if ({over}) begin {v}_out <= 0; {v}_block <= {control}; {v}_low <= 0; end",
            f"  else {v}_low <= !({control}); end",
            f"else if (!({control})) {v}_block <= 0;",
            f"else if (!{v}_block) begin {v}_out <= 1; {v}_at <= now; {v}_low <= 0; end",
        ],
    }
    reset = f"{v}_out <= 0; {v}_in <= 0; {v}_block <= 0; {v}_low <= 0;"
    yield f"    if (!({supply})) begin {reset} end else begin"
    assert timer.function is not None
    yield from (f"      {line}" for line in lines[timer.function])
    yield "    end"


def _boolean(network: Network, names: dict[str, str], kinds: dict[str, Device]) -> str:
    match network:
        case Series(parts=parts):
            return "(" + " & ".join(_boolean(p, names, kinds) for p in parts) + ")"
        case Parallel(parts=parts):
            return "(" + " | ".join(_boolean(p, names, kinds) for p in parts) + ")"
        case Contact(name=name, form=form):
            device = kinds[name.text]
            at_rest = "~" if form in (Form.NC, Form.NCTO, Form.NCTC) else ""
            if device.kind is Kind.COUNTER:
                assert device.preset is not None
                return f"({at_rest}({names[name.text]}_n >= {device.preset.number}))"
            if device.kind is not Kind.TIMER:
                return f"({at_rest}{names[name.text]})"
            delays = device.function in (TimerFunction.ON_DELAY, TimerFunction.OFF_DELAY)
            instant = form in (Form.NO, Form.NC) and delays
            return f"({at_rest}{names[name.text]}_{'in' if instant else 'out'})"


# --- side by side ---------------------------------------------------------------------------------------------


def _ours(circuit: Circuit, history: History) -> list[str]:
    """Outputs tick by tick, one millisecond a tick; from the first chatter on nothing is told."""
    player = Player(circuit_logic(circuit, MACHINE))
    told: list[str] = []
    for tick, made in enumerate(history):
        if tick == 0:
            player.power_up(made, 0)
        else:
            player.react(made, tick * _MS)
        if player.outputs == CHATTERS:
            return told
        told.append("".join(str(int(bool(bit))) for bit in player.outputs))
    return told


@pytest.mark.parametrize(
    ("timers", "memories"),
    [(False, False), (True, False), (False, True), (True, True)],
    ids=["relays", "relays and timers", "relays, latching relays and counters", "everything"],
)
def test_random_circuits_agree_with_a_hardware_simulator(timers: bool, memories: bool, tmp_path: Path) -> None:
    if shutil.which("iverilog") is None or shutil.which("vvp") is None:
        assert not os.environ.get("CI"), "CI installs iverilog; this check must not be skipped there"
        pytest.skip("NO CROSS-CHECK OF THE RELAY SIMULATOR: install the Debian package iverilog to run it")
    rng = random.Random(f"circuits {timers}{' memories' * memories}")
    cases = [(_circuit(rng, timers=timers, memories=memories), _history(rng)) for _ in range(120)]
    source = tmp_path / "circuits.v"
    source.write_text(
        "\n".join(line for k, case in enumerate(cases) for line in _verilog(k, *case)), encoding="ascii"
    )
    subprocess.run(["iverilog", "-o", tmp_path / "circuits", source], check=True, timeout=120)
    run = subprocess.run(["vvp", tmp_path / "circuits"], check=True, timeout=120, capture_output=True, text=True)
    theirs: list[list[tuple[str, str]]] = [[] for _ in cases]
    for line in run.stdout.splitlines():
        number, _, stable, bits = line.split()
        theirs[int(number)].append((stable, bits))
    settled = 0
    for (circuit, history), waves in zip(cases, theirs, strict=True):
        circuit = read(Source("list", write(circuit))).tree
        told = _ours(circuit, history)
        steady = next((k for k, (stable, _) in enumerate(waves) if stable == "0"), len(waves))
        assert len(told) == steady, write(circuit)
        assert told == [bits for _, bits in waves[:steady]], write(circuit)
        settled += steady
    assert settled > 2_000, "too few settled ticks for the comparison to mean anything"


def test_chattering_is_what_the_hardware_simulator_never_settles_on() -> None:
    """The batch above must hold both kinds of circuit, or its verdict on chattering would be empty."""
    rng = random.Random("circuits False")
    kinds = set()
    for _ in range(120):
        circuit, history = _circuit(rng, timers=False), _history(rng)
        try:
            kinds.add(bool(circuit_logic(circuit, MACHINE).power_up(history[0])))
        except Chattering:
            kinds.add(False)
    assert kinds == {True, False}
