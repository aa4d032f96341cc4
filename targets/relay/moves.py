"""A chain read as moves of cylinders with memory valves: each ended by its own limit switch, with holds between."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.condition import And, Condition, Elapsed, Signal
from compiler.machine import Actuator, End, LimitSwitch, Machine, ValveKind
from targets.relay.chain import Chain, Link, on_in
from targets.relay.groups import Move, opening
from targets.relay.network import Unfit, terms

__all__ = ["Act", "acts", "by_solenoid", "home_acts", "opposite", "starts_at_home"]


@dataclass(frozen=True, slots=True)
class Act:
    """A step of the sequence: its moves and the switches that end them, in the same order; or a hold with neither, or
    a wait for what the moves do not bring about and what may pass again."""

    link: Link
    moves: tuple[Move, ...] = ()
    switches: tuple[str, ...] = ()
    hold: bool = False

    @property
    def waits(self) -> bool:
        """Whether it is a wait."""
        return not self.moves and not self.hold


def acts(chain: Chain, machine: Machine) -> tuple[Act, ...]:
    """The acts a chain is made of. Raises Unfit, with the reason, when it is made of anything else."""
    if chain.rest is not None or on_in(chain.initial):
        raise Unfit("something stays on while the machine rests")
    cylinders = by_solenoid(machine)
    if any(on_in(exit_.step) & set(cylinders) for link in chain.links for exit_ in link.faults):
        raise Unfit("a fault moves a cylinder")
    moves = [_moves(link, cylinders) for link in chain.links]
    if not any(moves):
        raise Unfit("it moves no cylinder with a memory valve")
    reason = opening(moves)
    if reason:
        raise Unfit(f"the moves do not close: {reason}")
    steps = [step for link in chain.links for step in (link.step, *(exit_.step for exit_ in link.faults))]
    missing = {output for step in steps for output in on_in(step)} - {load.name for load in machine.loads}
    if missing:
        raise Unfit(f"the machine has no {', '.join(sorted(missing))}")
    ends: dict[Move, LimitSwitch] = {}
    found = tuple(_act(machine, link, of, ends) for link, of in zip(chain.links, moves, strict=True))
    for move, switch in ends.items():
        if move.out:
            _apart(move.letter, switch, ends[move.opposite])
    if found[-1].waits:
        raise Unfit("the last step waits for what may be so before it begins")
    return found


def home_acts(chain: Chain, machine: Machine) -> tuple[Act, ...]:
    """The acts of the way home. Raises Unfit, with the reason, where a step of it is no move."""
    cylinders, ends = by_solenoid(machine), dict[Move, LimitSwitch]()
    found = tuple(_act(machine, link, _moves(link, cylinders), ends) for link in chain.home)
    for act in found:
        if not act.moves:
            raise Unfit(f"step {act.link.step.name}, on the way home, moves no cylinder with a memory valve")
    return found


def by_solenoid(machine: Machine) -> dict[str, tuple[Actuator, Move]]:
    """By solenoid: the cylinder it moves, and which way."""
    return {
        solenoid: (actuator, Move(actuator.name, out))
        for actuator in machine.actuators
        for solenoid, out in ((actuator.valve.extend, True), (actuator.valve.retract, False))
        if solenoid is not None
    }


def opposite(machine: Machine, solenoid: str) -> str | None:
    """The other solenoid of a valve; None for what is no solenoid of a valve with two."""
    for actuator in machine.actuators:
        pair = (actuator.valve.extend, actuator.valve.retract)
        if solenoid in pair:
            return pair[1 - pair.index(solenoid)]
    return None


def starts_at_home(trigger: Condition, of: tuple[Act, ...]) -> bool:
    """Whether every start asks for the switch of each cylinder where the cycle leaves it.

    Otherwise a start in mid-stroke may find the switch behind a cylinder still made, and take its move for over.
    """
    left = {move.letter: switch for act in of for move, switch in zip(act.moves, act.switches, strict=True)}
    return all(set(left.values()) <= _signals(term.rest) for term in terms(trigger))


def _moves(link: Link, cylinders: dict[str, tuple[Actuator, Move]]) -> tuple[Move, ...]:
    found = [cylinders[output] for output in sorted(on_in(link.step)) if output in cylinders]
    for actuator, _ in found:
        if actuator.valve.kind is not ValveKind.MEMORY:
            raise Unfit(f"the valve of {actuator.name} does not stay where it was put; groups are for memory valves")
    return tuple(move for _, move in found)


def _act(machine: Machine, link: Link, moves: tuple[Move, ...], ends: dict[Move, LimitSwitch]) -> Act:
    """A step as an act; ``ends`` keeps the switch of each move, which must be the same each time."""
    if not moves:
        return Act(link, hold=isinstance(link.ends, Elapsed) and link.ends.step == link.step.name)
    switches = [_switch(machine.actuator(move.letter), move, link.ends) for move in moves]
    if len(_signals(link.ends)) != len(moves):
        raise Unfit(f"step {link.step.name} waits for more than the limit switches of its own moves")
    for move, switch in zip(moves, switches, strict=True):
        if ends.setdefault(move, switch) is not switch:
            raise Unfit(f"the move {move} ends at one switch at one time and at another the next")
    return Act(link, moves, tuple(switch.name for switch in switches))


def _signals(condition: Condition) -> set[str]:
    """The devices of a plain signal, or of those joined to it by ``and``; nothing where there is anything else."""
    parts = condition.of if isinstance(condition, And) else (condition,)
    plain = {part.device for part in parts if isinstance(part, Signal)}
    return plain if len(plain) == len(parts) else set()


def _switch(actuator: Actuator, move: Move, ends: Condition) -> LimitSwitch:
    """The limit switch that ends a move: of the cylinder itself, made from its place to the end it moves to."""
    toward, signals = End.END if move.out else End.HOME, _signals(ends)
    for switch in actuator.limit_switches:
        if switch.name in signals and switch.toward is toward:
            return switch
    raise Unfit(f"the move {move} is not ended by a limit switch at its end, which groups need")


def _apart(name: str, outer: LimitSwitch, inner: LimitSwitch) -> None:
    if outer.at_um - outer.reset_um <= inner.at_um + inner.reset_um:
        raise Unfit(f"{outer.name} and {inner.name} of {name} may be made at the same time")
