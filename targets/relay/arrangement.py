"""What every arrangement hands over: a circuit under construction, and what it takes for granted."""

from __future__ import annotations

from dataclasses import dataclass

from targets.relay.sheet import Sheet
from targets.target import Assumption

__all__ = ["Built"]


@dataclass(frozen=True, slots=True)
class Built:
    """A filled sheet, in a sentence how it works, and the assumptions under which it does what was written.

    ``poles`` is how many contacts its relays are taken to have unless the user says otherwise; 0 for as many as are
    needed. ``anti_repeat`` says that it is built in.
    """

    sheet: Sheet
    how: str
    announces: frozenset[Assumption]
    poles: int = 0
    anti_repeat: bool = False
