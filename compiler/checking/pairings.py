"""Families of runs in which something is wrong already when something else is done.

One fault at a time leaves a contact untried whose work another contact in its line does too: the contact of a home
condition while the operator waits for it, the switch in the rung of a fault while that switch works.
"""

from __future__ import annotations

from collections.abc import Iterator

from compiler.checking.families import Family, free_inputs, switch_names
from compiler.checking.trial import BRIEF_US, TAIL_US, Trial, middle, press, thinned
from compiler.simulation.run import Event, EventKind, Scenario, Stamp, Stretch

__all__ = ["PAIRINGS"]

_KINDS = ((EventKind.STUCK_OPEN, "never makes"), (EventKind.STUCK_MADE, "is always made"))


def _unready(trial: Trial) -> Iterator[Scenario]:
    """START pressed while one thing that ought to be so is not, all the others being as they should."""
    start = trial.machine.start
    if start is None:
        return
    pressed = press(start, trial.length_us() + TAIL_US, trial.length_us())
    for name in free_inputs(trial.machine):
        away = frozenset({name})
        yield trial.scenario(f"{name} left alone, START pressed", pressed, leaves=away, more_us=trial.length_us())
        kept = Event(at_us=1, kind=EventKind.INPUT, device=name, on=True)
        stamps = (Stamp(at_us=1, stretch=Stretch.OUTSIDE),)
        yield trial.scenario(
            f"{name} kept on, START pressed", (kept, *pressed), leaves=away, more_us=trial.length_us(), stamps=stamps
        )
    for name in switch_names(trial.machine):
        for kind, how in _KINDS:
            stuck = Event(at_us=0, kind=kind, device=name, on=True)
            yield trial.scenario(f"{name} {how}, START pressed", (stuck, *pressed), more_us=trial.length_us())


def _all_but_one(trial: Trial) -> Iterator[Scenario]:
    """START pressed with all that could be waited for given, one thing after the other, and one thing not.

    An implementation that starts where it should not shows it only when it can go on to a step with an output.
    """
    start = trial.machine.start
    names = free_inputs(trial.machine)
    after = trial.length_us() + TAIL_US
    for name in names if start is not None else ():
        given: list[Event] = [Event(at_us=after, kind=EventKind.INPUT, device=name, on=False)]
        given += press(start or "", after + BRIEF_US, trial.length_us())
        for number, other in enumerate(n for n in names if n != name):
            given += press(other, after + (2 + number) * BRIEF_US, trial.length_us())
        stamps = (Stamp(at_us=after, stretch=Stretch.OUTSIDE),)
        more = 2 * trial.length_us()
        told = f"all but {name} given, START pressed"
        yield trial.scenario(told, tuple(given), leaves=frozenset(names), more_us=more, stamps=stamps)
        yield trial.scenario(f"{told}, after a cycle", tuple(given), more_us=more, stamps=stamps)


def _start_under_stop(trial: Trial) -> Iterator[Scenario]:
    """STOP in a step and START while it is down, so that the machine stands anywhere as STOP is let go."""
    start, stop = trial.machine.start, trial.machine.stop
    if start is None or stop is None:
        return
    for step, begun, over in trial.spans():
        at_us = middle(begun, over)
        both = press(stop, at_us, 2 * BRIEF_US) + press(start, at_us + BRIEF_US, 2 * BRIEF_US)
        yield trial.scenario(
            f"STOP in step {step}, START pressed before it is let go", both, more_us=trial.length_us()
        )


def _fails_for_good(trial: Trial) -> Iterator[Scenario]:
    """A switch that worked until a step fails in it, and stays so."""
    spans = trial.spans()
    moments = [(name, span) for name in switch_names(trial.machine) for span in spans]
    for name, (step, begun, over) in thinned(moments, len(spans)):
        for kind, how in ((EventKind.STUCK_OPEN, "lets go"), (EventKind.STUCK_MADE, "is made")):
            failed = Event(at_us=middle(begun, over), kind=kind, device=name, on=True)
            yield trial.scenario(f"{name} {how} for good in step {step}", (failed,), cycles=2)


def _sensors_in_steps(trial: Trial) -> Iterator[Scenario]:
    """One sensor, selector or button goes on or off in a step, for a while."""
    spans = trial.spans()
    moments = [(name, span) for name in free_inputs(trial.machine) for span in spans]
    for name, (step, begun, over) in thinned(moments, len(spans)):
        at_us = middle(begun, over)
        for on in (False, True):
            turned = Event(at_us=at_us, kind=EventKind.INPUT, device=name, on=on)
            back = turned.model_copy(update={"at_us": at_us + BRIEF_US, "on": not on})
            stamps = (Stamp(at_us=at_us, stretch=Stretch.OUTSIDE),)
            yield trial.scenario(
                f"{name} {'on' if on else 'off'} for a moment in step {step}", (turned, back), cycles=2, stamps=stamps
            )


def _fault_with(trial: Trial) -> Iterator[Scenario]:
    """A time limit runs out with START held, or with another switch stuck."""
    switches = switch_names(trial.machine)
    jams = [
        _jammed(stroke.actuator, middle(stroke.from_us, stroke.to_us)) for stroke in thinned(trial.usual.strokes, 1)
    ]
    faulty = [(jam, fault) for jam in jams if (fault := trial.fault_us((jam,))) is not None]
    for jam, fault in faulty if trial.machine.start is not None else ():
        held = press(trial.machine.start or "", max(1, fault - BRIEF_US), 2 * BRIEF_US)
        yield trial.scenario(f"{jam.device} jams, START held as the fault comes", (jam, *held))
    table = [(jam, fault, name) for jam, fault in faulty for name in switches]
    for jam, fault, name in thinned(table, len(switches)):
        for kind, how in ((EventKind.STUCK_OPEN, "open"), (EventKind.STUCK_MADE, "made")):
            stuck = Event(at_us=max(1, fault - BRIEF_US), kind=kind, device=name, on=True)
            yield trial.scenario(f"{jam.device} jams, {name} sticks {how} before the fault comes", (jam, stuck))


def _jammed(actuator: str, at_us: int) -> Event:
    return Event(at_us=at_us, kind=EventKind.JAM, device=actuator, on=True)


PAIRINGS: tuple[Family, ...] = (
    _unready,
    _all_but_one,
    _start_under_stop,
    _fails_for_good,
    _sensors_in_steps,
    _fault_with,
)
"""Every family of this kind, in the order they are tried."""
