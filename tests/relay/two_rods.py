"""Programs for a machine of two rods, for arrangements that take any chart."""

from __future__ import annotations

__all__ = ["CYCLES", "DEVICES"]

DEVICES = """\
pneumatic cylinder A
    stroke 80 mm, extends in 0.6 s to 1 s, retracts in 0.5 s to 0.9 s
    single solenoid valve Y1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder B
    stroke 60 mm, extends in 2 s to 3 s, retracts in 1 s to 1.4 s
    double solenoid valve Y2 extends, Y3 retracts
    limit switch LS3 at end, LS4 at home
pushbutton START, normally open
pushbutton STOP, normally closed
pushbutton FINISH, normally open
selector AUTO
signal LOADED
counter DONE
"""

CYCLES = {
    "finish the stroke": """
cycle
    when START is pressed
    extend A, extend B, retract B, retract A
when STOP is pressed, finish the stroke
""",
    "return home": """
cycle
    when START is pressed
    extend A, extend B, retract B, retract A
when STOP is pressed, return home
    retract B until at-home
    retract A until at-home
""",
    "two stations and an interlock": """
cycle of LOADER
    when START is pressed
    extend A
    turn on LOADED
    retract A
    wait until PRESS is at rest
    turn off LOADED
cycle of PRESS
    when LOADED is on
    extend B, retract B
when STOP is pressed, drop out everything
never Y1 with Y2
""",
}
"""What is to be the same in each of them, by what it is about."""
