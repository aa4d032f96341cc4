"""What a check has to say, in one plain line for each thing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from compiler.checking.assumption import Assumption
from compiler.checking.requirements import Broken
from compiler.simulation.run import Run, Stretch

__all__ = ["Beginning", "Found", "Standing", "Verdict"]


class Standing(StrEnum):
    """How an implementation stands to the sequence in the runs tried."""

    SAME = "same"
    SAME_ONLY_IF = "same only if"
    DIFFERS = "differs"


_WHEN = {
    Stretch.STOP: "after STOP",
    Stretch.START_HELD: "with START held",
    Stretch.START_EARLY: "with START pressed before the machine is home and ready",
    Stretch.START_WITH_STOP: "with START and STOP held together",
    Stretch.STROKE_TIMES: "with strokes quicker than their greatest time",
    Stretch.JAM: "when a stroke jams",
    Stretch.SWITCH: "when a switch sticks or lets go by itself",
    Stretch.SUPPLY: "when the supply is lost and comes back",
    Stretch.SUPPLY_WITH_START: "with START held as the supply returns",
    Stretch.OUTSIDE: "when sensors change at any moment",
}
_IMPLIES = {Stretch.START_WITH_STOP: Stretch.STOP, Stretch.SUPPLY_WITH_START: Stretch.SUPPLY}
_OF_THE_OPERATOR = {Assumption.START_RELEASED, Assumption.START_AT_HOME, Assumption.SUPPLY_WITH_START}


class Beginning(StrEnum):
    """What an implementation begins as it comes to differ while the sequence is at home or on its way there."""

    NOTHING = "differs"
    START = "starts"
    ANOTHER_START = "starts again"


@dataclass(frozen=True, slots=True)
class Found:
    """A difference: the shortest run found that shows it, what it stretches, and the announced assumptions it
    goes beyond (none: it was not announced)."""

    run: Run
    stretches: frozenset[Stretch]
    excused_by: frozenset[Assumption] = frozenset()
    beginning: Beginning = Beginning.NOTHING

    @property
    def at_us(self) -> int:
        """The moment of the difference."""
        return self.run.difference.at_us if self.run.difference is not None else self.run.ended_us

    @property
    def line(self) -> str:
        """When it differs, and how, in one line."""
        implied = {_IMPLIES[stretch] for stretch in self.stretches if stretch in _IMPLIES}
        told = [phrase for stretch, phrase in _WHEN.items() if stretch in self.stretches - implied]
        return f"{', '.join(told) or 'in the normal cycle'} {self._how()}"

    def _how(self) -> str:
        difference, at = self.run.difference, _seconds(self.at_us)
        if difference is None:
            return f"it ends at {at}"
        if difference.loop:
            return f"it never settles at {at}: {', '.join(difference.loop)}"
        doing = self.beginning.value
        has, other = ("on", "off") if difference.shadow_on else ("off", "on")
        return f"it {doing} at {at}: {difference.output} is {has}, in the sequence {other}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """The outcome of a check. ``keeping`` of the ``runs`` keep to the assumptions it ``needs``; ``alike`` showed
    no difference; ``unfinished`` could not be run to their end."""

    candidate: str
    standing: Standing
    runs: int = 0
    alike: int = 0
    keeping: int = 0
    needs: frozenset[Assumption] = frozenset()
    found: tuple[Found, ...] = ()
    broken: tuple[Broken, ...] = ()
    unfinished: int = 0
    misfit: str = ""

    @property
    def sound(self) -> bool:
        """Whether nothing was found that had not been announced."""
        return self.standing is not Standing.DIFFERS

    @property
    def lines(self) -> tuple[str, ...]:
        """What to print: the standing first, then each difference."""
        said = [self._headline()]
        said += [found.line for found in self.found]
        if self.unfinished:
            said.append(
                f"{_runs(self.unfinished)} not finished: the sequence never settles in them, or too much happens"
            )
        return tuple(said)

    def _headline(self) -> str:
        if self.misfit:
            return self.misfit
        match self.standing:
            case Standing.SAME:
                ended = self.runs - self.unfinished
                if not ended:
                    return "nothing could be compared"
                return f"no difference in the {_runs(ended)} {'that came to an end' if self.unfinished else 'tried'}"
            case Standing.SAME_ONLY_IF:
                return f"same {self._provided()} ({self.keeping} of {_runs(self.runs)})"
            case Standing.DIFFERS:
                return f"differs in {self.runs - self.alike - self.unfinished} of the {_runs(self.runs)} tried"

    def _provided(self) -> str:
        told = ["for a careful operator"] if self.needs & _OF_THE_OPERATOR else []
        rest = [str(a) for a in Assumption if a in self.needs - _OF_THE_OPERATOR]
        if rest:
            told.append(f"while {' and '.join(rest)}")
        return " ".join(told)


def _runs(count: int) -> str:
    return "1 run" if count == 1 else f"{count} runs"


def _seconds(time_us: int) -> str:
    return f"{time_us / 1_000_000:.3f}".rstrip("0").rstrip(".") + " s"
