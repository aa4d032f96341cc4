"""The on-delay dwell: the timer's NC timed-open contact breaks the seal-in at the end of the hold.

    CR := (START.. or CR), STOP NC, TR NCTO        SOL := CR
    TR on-delay := CR, switch

The cylinder is out while CR is in. Its switch starts the timer; when the time is over the timer drops CR out, CR
drops the timer, and the spring brings the cylinder home. STOP drops CR out at any moment, also in mid-timing.
CR forgets the cycle while the cylinder is still on its way home: unless the start branch has a home contact, START
must wait until it is there.
"""

from __future__ import annotations

from compiler.machine import Machine
from grammar.rungs.tree import Form, TimerFunction
from targets.relay.arrangement import Built
from targets.relay.chain import Chain, sustained_words
from targets.relay.dwell import dwell, end_switch
from targets.relay.network import contact, nc, parallel, series
from targets.relay.phases import Told, draw_besides
from targets.relay.sheet import Sheet
from targets.relay.start import runs, start_branch, switches_work
from targets.relay.watching import watch
from targets.target import Assumption

__all__ = ["build"]


def build(machine: Machine, chain: Chain, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    cycle = dwell(chain, machine)
    switch = end_switch(cycle)
    sheet = Sheet(machine, sustained_words=sustained_words(chain))
    relay = sheet.relay()
    timer = sheet.timer(TimerFunction.ON_DELAY, cycle.hold_us)
    start = start_branch(sheet, chain.trigger, words=chain.trigger_words, anti_repeat=anti_repeat)
    faults = watch(sheet, chain)
    stop = runs(sheet, chain.stop)
    run = series(stop, faults.well)
    sheet.rung(
        series(parallel(start.network, contact(relay)), run, contact(timer, Form.NCTO)),
        relay,
        says=f"{relay} runs the cycle: the start branch picks it up and its own contact seals it in, until "
        f"{timer} has timed the hold.",
        words=chain.trigger_words,
    )
    sheet.rung(
        series(contact(relay), contact(switch.name)),
        timer,
        says=f"{timer} times the hold, from the moment {switch.name} is made.",
        words=cycle.hold_words,
    )
    says = f"{cycle.solenoid} sends {cycle.actuator.name} out and keeps it there while {relay} is in."
    sheet.rung(contact(relay), cycle.solenoid, says=says, words=cycle.out_words)
    told = Told(contact(relay), series(contact(relay), nc(switch.name)), series(contact(relay), contact(switch.name)))
    besides = draw_besides(sheet, chain, cycle, told, faults, runs=stop)
    start.draw(sheet, idle=nc(relay), runs=run, words=chain.trigger_words)
    announces = {*start.announces, *switches_work(machine)}
    if cycle.waits_for_home and not cycle.home_in_trigger:
        announces.add(Assumption.START_AT_HOME)
    how = f"{timer} breaks the seal-in of {relay} when the hold is over."
    return Built(sheet, f"{how}{besides} {cycle.remark}".rstrip(), frozenset(announces))
