"""What every arrangement hands over: a circuit under construction, and what it takes for granted."""

from __future__ import annotations

from dataclasses import dataclass

from targets.relay.sheet import Sheet
from targets.relay.slaves import Chained
from targets.target import Assumption

__all__ = ["Built"]


@dataclass(frozen=True, slots=True)
class Built:
    """A filled sheet, in a sentence how it works, and the assumptions under which it does what was written.

    ``anti_repeat`` says that it is built in. Where the order of relays is all, ``chained`` are those that must keep
    it when their contacts are shared out.
    """

    sheet: Sheet
    how: str
    announces: frozenset[Assumption]
    anti_repeat: bool = False
    chained: Chained | None = None
