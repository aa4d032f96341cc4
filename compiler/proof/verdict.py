"""What a proof has to say, in plain lines."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from compiler.proof.world import Assumed
from compiler.simulation.run import Run

__all__ = ["Outside", "Proof", "Standing"]


class Standing(StrEnum):
    """How an implementation stands to another one over all runs."""

    SAME = "same"
    SAME_ONLY_IF = "same only if"
    DIFFERS = "differs"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class Outside:
    """A difference: the shortest run that goes beyond one assumption and keeps to the others, or beyond none. One
    that was found by trying need not be the shortest, and may go beyond ``also`` others at the same time. Where rods
    are ``hasty`` they cross quicker than they can, and the difference need not be real.

    ``run`` is None where the simulator, which lets all that is due at one instant happen together, does not show it.
    """

    beyond: Assumed | None
    run: Run | None
    also: tuple[Assumed, ...] = ()
    hasty: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """The verdict on ``shadow`` in place of ``driver``.

    ``needs`` is the weakest set of assumptions under which no run differs, when one ``holds``; ``base`` was assumed
    besides, in all that was tried. ``anywhere``: not even a machine, an operator or a working switch was assumed.
    ``situations`` and ``zones`` are what was covered in the last search; ``chatters`` what never settles in the
    driver. What was shown part by part was not searched: it rests on ``combinations`` that parts take together.
    ``tried`` are runs at random, where the search was given up; a difference that is told then was met in one.
    ``identical``: nothing was searched, for the two are the same word for word.
    """

    driver: str
    shadow: str
    standing: Standing
    situations: int
    zones: int
    combinations: int = 0
    tried: int = 0
    identical: bool = False
    needs: tuple[Assumed, ...] = ()
    holds: bool = False
    anywhere: bool = False
    base: tuple[Assumed, ...] = ()
    outside: tuple[Outside, ...] = ()
    chatters: tuple[str, ...] = ()

    @property
    def headline(self) -> str:
        """The verdict in one line, with what was covered."""
        covered = f"{self.situations} situations, every timing"
        if self.combinations:
            covered = f"by induction over {self.combinations} combinations, every timing"
        settling = f" in which {self.driver} settles" if self.chatters else ""
        match self.standing:
            case Standing.SAME if self.identical:
                return "same, word for word, once both are read"
            case Standing.SAME if self.anywhere:
                return f"same, whatever its inputs do ({covered})"
            case Standing.SAME:
                return f"same: no run differs{settling} ({covered})"
            case Standing.SAME_ONLY_IF:
                return f"same only if {' and '.join(self.needs)}{settling and ', in runs' + settling} ({covered})"
            case Standing.DIFFERS if self.tried:
                return f"differs{self._unless} (found by trying, so there may be a shorter run)"
            case Standing.DIFFERS:
                return "differs, whatever is assumed"
            case Standing.NOT_SETTLED if not self.situations:
                return f"nothing could be compared: {self.driver} does not even settle as the supply comes on"
            case Standing.NOT_SETTLED if self.holds:
                provided = f" if {' and '.join(self.needs)}" if self.needs else ""
                return f"not settled: same{provided} ({covered}), with less assumed the search was too large"
            case Standing.NOT_SETTLED if self.outside:
                return "not settled: no difference was found but in a run that cannot be real"
            case Standing.NOT_SETTLED:
                tried = f", nor in {self.tried} runs tried at random" if self.tried else ""
                covered = f"no difference in the {self.situations} situations covered{tried}"
                return f"not settled: {covered}; there are more"

    @property
    def _unless(self) -> str:
        """What a difference that was found by trying goes beyond: with that assumed nothing is known."""
        beyond = [a for outside in self.outside for a in (outside.beyond, *outside.also) if a is not None]
        return (
            f" unless {' or '.join(beyond)}, and with that it is not settled" if beyond else ", whatever is assumed"
        )
