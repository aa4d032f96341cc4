"""Moves, situations and outcomes in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from compiler.circuit import CircuitLogic
from compiler.logic import Bits, Reaction
from compiler.races.motion import Motion
from compiler.races.orders import Step
from compiler.races.parts import ANEW, Part, Role
from compiler.races.stimulus import Stimulus
from compiler.timers import Phase
from grammar.rungs.tree import Kind

__all__ = ["differing", "happening", "outcome", "setting", "told_moves"]

_SWITCH = ("lets go", "makes", "made")
_INPUTS = {
    Kind.PUSHBUTTON: ("is released", "is pressed", "held"),
    Kind.SELECTOR: ("is turned off", "is turned on", "turned on"),
}
"""What an input does as it changes, and how it stands when it is actuated."""

_LANDS = {
    Role.RELAY: (("drops out", "picks up"), ("falls back", "is pulled back in")),
    Role.LATCH: (("unlatches", "latches"), ("falls back", "latches again")),
}
"""How contacts come to rest at one side and at the other, and how they do where they have just come from it."""

_PHASES = {
    Phase.IDLE: "at rest",
    Phase.RUNNING: "timing",
    Phase.RELEASED: "timing, its input gone",
    Phase.DONE: "operated",
}


def told_moves(motion: Motion, steps: tuple[Step, ...]) -> tuple[str, ...]:
    """The moves of an order. A relay that left one side and comes back to it falls back, or is pulled back in."""
    left: dict[int, int] = {}
    told = []
    for (state, _), (k, value) in steps:
        told.append(_told_move(motion.parts[k], state[k], value, returns=left.get(k) == value))
        left[k] = state[k]
    return tuple(told)


def _told_move(part: Part, old: int, new: int, *, returns: bool) -> str:
    """One move. With both contact forms wired a relay's way is told in two, for much may happen in between."""
    if part.role is Role.CLOCK:
        return f"{part.name} {_clock(new)}"
    if part.role is Role.COUNT:
        return f"{part.name} {_count(old, new)}"
    if part.role in _LANDS and new != 1:
        lands, comes_back = _LANDS[part.role]
        return f"{part.name} {(comes_back if returns and old == 1 else lands)[new // 2]}"
    timed = "timed " if part.role is Role.TIMED else ""
    if not part.gap:
        return f"{part.name}'s {timed}contact {'operates' if new else 'goes back'}"
    form = "NO" if 2 in (old, new) else "NC"
    return f"{part.name}'s {timed}{form} contact {'opens' if new == 1 else 'closes'}"


def _count(old: int, new: int) -> str:
    """A count stands at twice itself, and 1 more while its coil is live."""
    if new // 2 > old // 2:
        return f"counts to {new // 2}"
    if new // 2 < old // 2:
        return "is reset"
    return "is live at its count coil" if new & 1 else "is no longer live at its count coil"


def _clock(value: int) -> str:
    match Phase(value % ANEW):
        case Phase.RUNNING if value >= ANEW:
            return "starts timing"
        case Phase.IDLE:
            return "is reset"
        case Phase.DONE:
            return "is energised"
        case _:
            return "times on"


def happening(stimulus: Stimulus, motion: Motion, logic: CircuitLogic) -> str:
    """What a stimulus is: "STOP is pressed"."""
    if stimulus.before is None:
        return "the supply comes on"
    happens = []
    for name, old, new in zip(motion.inputs, stimulus.was, stimulus.inputs, strict=True):
        if old != new:
            off, on, _ = _INPUTS.get(motion.kinds.get(name.casefold(), Kind.SENSOR), _SWITCH)
            happens.append(f"{name} {on if new else off}")
    happens += [f"{logic.timers[k].name} runs out" for k in sorted(stimulus.expired)]
    return _list(happens) or "nothing changes"


def setting(stimulus: Stimulus, motion: Motion, logic: CircuitLogic) -> str:
    """What the circuit is like as it happens: "CR1 in; START held, LS1 and LS2 made". Empty when all is at rest."""
    lit = logic.lit(stimulus.before) if stimulus.before is not None else ()
    told = [f"{_list(lit)} in"] if lit else []
    states: dict[str, list[str]] = {}
    for name, old, new in zip(motion.inputs, stimulus.was, stimulus.inputs, strict=True):
        if old and new:
            kind = motion.kinds.get(name.casefold(), Kind.SENSOR)
            states.setdefault(_INPUTS.get(kind, _SWITCH)[2], []).append(name)
    made = [f"{_list(names)} {state}" for state, names in states.items()]
    return "; ".join([*told, *([", ".join(made)] if made else [])])


def _list(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else "".join(words)


def differing(motion: Motion, first: Reaction, second: Reaction) -> tuple[str, ...]:
    """The devices that two outcomes leave in different states."""
    one, other = _states(motion, first), _states(motion, second)
    return tuple(name for name in one if one[name] != other[name])


def outcome(motion: Motion, reaction: Reaction, names: tuple[str, ...]) -> str:
    """How an outcome leaves these devices: "CR1 in, SOL1 on"."""
    states = _states(motion, reaction)
    return ", ".join(f"{name} {states[name]}" for name in names)


def _states(motion: Motion, reaction: Reaction) -> dict[str, str]:
    """Every device with a memory, and every load, in words. Two outcomes are one if these are."""
    assert isinstance(reaction.state, tuple)
    found: dict[str, str] = {}
    clocks = 0
    for part, value in zip(motion.memory, reaction.state, strict=True):
        match part.role:
            case Role.CLOCK:
                anew = " anew" if clocks in reaction.started else ""
                found[part.name] = _PHASES[Phase(value)].replace("timing", f"timing{anew}")
                clocks += 1
            case Role.COUNT:
                found[part.name] = f"at {value // 2}{' and live' if value & 1 else ''}"
            case Role.LATCH:
                found[part.name] = "latched" if value else "unlatched"
            case _:
                found[part.name] = "in" if value else "out"
    return found | _loads(motion, reaction.outputs)


def _loads(motion: Motion, outputs: Bits) -> dict[str, str]:
    return {name: "on" if on else "off" for name, on in zip(motion.loads, outputs, strict=True)}
