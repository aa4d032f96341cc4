"""A chain read as a dwell cycle: one cylinder goes out, holds, and comes back. What three arrangements fit."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Words
from compiler.condition import Always, And, Condition, Elapsed, Not, Signal, walk
from compiler.machine import Actuator, End, LimitSwitch, Machine, PressureSwitch, ValveKind
from targets.relay.chain import Chain, Link, on_in
from targets.relay.network import Unfit, terms

__all__ = ["Dwell", "dwell", "end_switch"]

_SOMETHING_ELSE = (
    "it fits one cylinder that extends, holds for a time and retracts; this sequence does something else"
)


@dataclass(frozen=True, slots=True)
class Dwell:
    """``switch`` ends the stroke out, or None when a time does; ``hold_us`` is 0 where there is no dwell.

    ``out_us`` is the longest the stroke out can take; ``exact`` says that it never takes less.
    """

    actuator: Actuator
    solenoid: str
    switch: LimitSwitch | PressureSwitch | None
    out_us: int
    exact: bool
    hold_us: int
    out: Link
    held: Link | None
    back: Link | None
    home_in_trigger: bool
    waits_for_home: bool

    @property
    def limit_us(self) -> int | None:
        """The time after which the stroke out is given up as a fault, or None where nobody looks."""
        limits = [p.time_us for f in self.out.faults for p in walk(f.condition) if isinstance(p, Elapsed)]
        return min(limits, default=None)

    @property
    def out_words(self) -> Words:
        """What was said of the stroke out."""
        return self.out.step.words

    @property
    def hold_words(self) -> Words:
        """What was said of the hold; of the stroke out where there is none."""
        return (self.held or self.out).step.words

    @property
    def remark(self) -> str:
        """What is left to say of a start branch with a home contact: the one instant it takes differently."""
        if not (self.waits_for_home and self.home_in_trigger):
            return ""
        return "A press at the very moment the cylinder comes home starts a cycle here; as written it comes too soon."


def dwell(chain: Chain, machine: Machine) -> Dwell:
    """The dwell cycle a chain makes. Raises Unfit, with the reason, when it makes none."""
    if chain.rest is not None or on_in(chain.initial):
        resting = on_in(chain.initial) | (on_in(chain.rest) if chain.rest is not None else set())
        raise Unfit(f"{', '.join(sorted(resting)) or 'something'} stays on while the machine rests")
    solenoid, actuator = _cylinder(chain.links[0], machine)
    out, held, back = _phases(chain, solenoid)
    _limited(out, held, back, solenoid)
    switch, out_us, exact = _stroke(out, actuator)
    hold_us = _hold(held) if held is not None else 0
    last = back.ends if back is not None else Always()
    home = {s.name for s in actuator.limit_switches if s.toward is End.HOME}
    home |= {last.device} if isinstance(last, Signal) else set()
    return Dwell(
        actuator=actuator,
        solenoid=solenoid,
        switch=switch,
        out_us=out_us,
        exact=exact,
        hold_us=hold_us,
        out=out,
        held=held,
        back=back,
        home_in_trigger=all(_asks_for(term.rest, home) for term in terms(chain.trigger)),
        waits_for_home=not isinstance(last, Always),
    )


def end_switch(cycle: Dwell) -> LimitSwitch | PressureSwitch:
    """The switch that starts the dwell timer. Raises Unfit where nothing sees the stroke end, or nothing is timed."""
    if cycle.switch is None:
        raise Unfit("the stroke out ends after a time, so there is no switch to start the dwell timer")
    if not cycle.hold_us:
        raise Unfit("there is no dwell to time")
    return cycle.switch


def _phases(chain: Chain, solenoid: str) -> tuple[Link, Link | None, Link | None]:
    """The stroke out, the hold and the stroke back."""
    on = [link for link in chain.links if solenoid in on_in(link.step)]
    off = [link for link in chain.links if solenoid not in on_in(link.step)]
    if (*on, *off) != chain.links or not 1 <= len(on) <= 2 or len(off) > 1:
        raise Unfit(_SOMETHING_ELSE)
    return on[0], (on[1] if len(on) > 1 else None), (off[0] if off else None)


def _limited(out: Link, held: Link | None, back: Link | None, solenoid: str) -> None:
    """Raises Unfit for a fault that is no time limit on a stroke, or that leaves the solenoid on."""
    for link in (link for link in (out, held, back) if link is not None):
        for exit_ in link.faults:
            limit = exit_.condition.of if isinstance(exit_.condition, And) else ()
            others = [part for part in limit if part != Not(of=link.ends)]
            in_time = len(others) == 1 and isinstance(others[0], Elapsed) and others[0].step == link.step.name
            if link is held or len(limit) != len(others) + 1 or not in_time:
                raise Unfit(f"it can tell a stroke that takes too long, and no other fault: '{exit_.step.fault}'")
            if solenoid in on_in(exit_.step):
                raise Unfit(f"the fault '{exit_.step.fault}' leaves {solenoid} on")


def _cylinder(out: Link, machine: Machine) -> tuple[str, Actuator]:
    """The solenoid of the stroke out: of several that come on with it, the one whose own switch ends it."""
    lit = on_in(out.step)
    moved = [a for a in machine.actuators if lit & {a.valve.extend, a.valve.retract}]
    if not lit:
        raise Unfit(_SOMETHING_ELSE)
    if not moved:
        raise Unfit(f"{', '.join(sorted(lit))} {'does' if len(lit) == 1 else 'do'} not move a cylinder")
    actuator = next((a for a in moved if out.ends in _ends_of(a)), moved[0])
    valve = actuator.valve
    if valve.kind is not ValveKind.SPRING_RETURN:
        stays = "stays where it was put" if valve.kind is ValveKind.MEMORY else "goes to its centre"
        raise Unfit(f"the valve of {actuator.name} {stays}; a dwell circuit needs a spring return")
    if valve.extend is None:
        raise Unfit(f"{actuator.name} rests extended")
    return valve.extend, actuator


def _ends_of(actuator: Actuator) -> list[Signal]:
    return [Signal(device=s.name) for s in (*actuator.limit_switches, *actuator.pressure_switches)]


def _stroke(out: Link, actuator: Actuator) -> tuple[LimitSwitch | PressureSwitch | None, int, bool]:
    travel = actuator.extend_time
    match out.ends:
        case Elapsed(step=step, time_us=time) if step == out.step.name:
            return None, time, True
        case Signal(device=name):
            for limit in actuator.limit_switches:
                if limit.name == name and limit.toward is End.END:
                    part = -(-travel.greatest_us * limit.at_um // actuator.stroke_um)
                    whole = limit.at_um == actuator.stroke_um
                    return limit, part, whole and travel.least_us == travel.greatest_us
            for pressure in actuator.pressure_switches:
                if pressure.name == name and pressure.toward is End.END:
                    exact = travel.least_us == travel.greatest_us
                    return pressure, travel.greatest_us + pressure.build_up_us, exact
    raise Unfit(
        f"the stroke of {actuator.name} does not end at one switch of its own that stays made through the hold"
    )


def _hold(held: Link) -> int:
    match held.ends:
        case Elapsed(step=step, time_us=time) if step == held.step.name:
            return time
    raise Unfit("the hold does not end after a time")


def _asks_for(rest: Condition, home: set[str]) -> bool:
    parts = rest.of if isinstance(rest, And) else (rest,)
    return any(isinstance(part, Signal) and part.device in home for part in parts)
