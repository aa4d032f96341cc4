"""Timers as small state machines without a clock.

A timer is told whether its input is energised and whether its time has run out; it answers with its phase and
whether its clock starts anew. Who owns the clock (the simulator, a proof over all timings) stays outside, so one
meaning serves both. Behaviour per IEC 61131-3:2013 Table 46 (TON, TOF, TP) and the time-relay functions of
IEC 61812-1:2011 clause 3 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum

__all__ = ["Phase", "TimerKind", "Turn", "advance", "instant", "operated"]


class TimerKind(StrEnum):
    """What starts the time and what the contacts do meanwhile."""

    ON_DELAY = "on-delay"
    OFF_DELAY = "off-delay"
    ONE_SHOT = "one-shot"
    RETRIGGERABLE = "retriggerable one-shot"


class Phase(IntEnum):
    """IDLE: at rest. RUNNING: the clock runs. RELEASED: a retriggerable pulse runs, its input has gone.
    DONE: the input is still on and the clock is not running (for an off-delay: not yet running)."""

    IDLE = 0
    RUNNING = 1
    RELEASED = 2
    DONE = 3


@dataclass(frozen=True, slots=True)
class Turn:
    """The phase after one look at the input; ``started`` when the clock begins again from zero."""

    phase: Phase
    started: bool = False


def advance(kind: TimerKind, phase: Phase, energised: bool, expired: bool) -> Turn:
    """One look at a timer's input. ``expired`` says that the running clock reached its preset at this instant.

    An on-delay whose input goes at the very instant it expires does not operate (the input is looked at first);
    a one-shot ignores its input while its pulse runs.
    """
    running = phase in (Phase.RUNNING, Phase.RELEASED)
    over = expired and running
    match kind:
        case TimerKind.ON_DELAY:
            if not energised:
                return Turn(Phase.IDLE)
            if phase is Phase.IDLE:
                return Turn(Phase.RUNNING, started=True)
            return Turn(Phase.DONE if over else phase)
        case TimerKind.OFF_DELAY:
            if energised:
                return Turn(Phase.DONE)
            if phase is Phase.DONE:
                return Turn(Phase.RUNNING, started=True)
            return Turn(Phase.IDLE if over else phase)
        case TimerKind.ONE_SHOT:
            if running and not over:
                return Turn(phase)
            if running:
                return Turn(Phase.DONE if energised else Phase.IDLE)
            return _wait_for_rise(phase, energised)
        case TimerKind.RETRIGGERABLE:
            if phase is Phase.RELEASED and energised:
                return Turn(Phase.RUNNING, started=True)
            if over:
                return Turn(Phase.DONE if energised else Phase.IDLE)
            if running:
                return Turn(Phase.RUNNING if energised else Phase.RELEASED)
            return _wait_for_rise(phase, energised)


def _wait_for_rise(phase: Phase, energised: bool) -> Turn:
    if not energised:
        return Turn(Phase.IDLE)
    return Turn(Phase.RUNNING, started=True) if phase is Phase.IDLE else Turn(Phase.DONE)


def operated(kind: TimerKind, phase: Phase) -> bool:
    """Whether the timer's output is on: TON.Q, TOF.Q or TP.Q; its NOTC or NOTO contact is closed."""
    match kind:
        case TimerKind.ON_DELAY:
            return phase is Phase.DONE
        case TimerKind.OFF_DELAY:
            return phase in (Phase.DONE, Phase.RUNNING)
        case TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE:
            return phase in (Phase.RUNNING, Phase.RELEASED)


def instant(kind: TimerKind, phase: Phase) -> bool:
    """Whether NO and NC of a timer are operated: they follow its input at once, and on a one-shot its pulse."""
    match kind:
        case TimerKind.ON_DELAY:
            return phase is not Phase.IDLE
        case TimerKind.OFF_DELAY:
            return phase is Phase.DONE
        case TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE:
            return operated(kind, phase)
