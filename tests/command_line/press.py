"""A dwell press of our own, to be proved and compared."""

from __future__ import annotations

__all__ = ["PRESS"]

PRESS = """\
machine "Bung press"
hydraulic cylinder RAM
    stroke 150 mm, extends in 2 s to 3 s, retracts in 2 s to 3 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
cycle
    when START is pressed
    extend RAM until at-end
    hold 4 s
    retract RAM until at-home
"""
