"""The off-delay dwell: the timer's NO timed-open contact keeps the solenoid on while the hold lasts.

    CR := (START.. or CR), STOP NC, switch NC      SOL := TR NOTO
    TR off-delay: supply := STOP NC, control := CR

CR is in only while the cylinder goes out; its timer operates with it. The switch drops CR out, and that is when the
time begins: the timed contact opens, and the solenoid drops out, when it is over. STOP takes the supply from the
timer, which resets it and opens its contacts at once.
CR does not pick up while the switch is still made, nor does anything remember the way home: unless the start branch
has a home contact, START must wait until the cylinder is there.
"""

from __future__ import annotations

from compiler.machine import Machine, PressureSwitch
from grammar.rungs.tree import Form, Terminal, TimerFunction
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
    timer = sheet.timer(TimerFunction.OFF_DELAY, cycle.hold_us)
    switch_open = nc(switch.name)
    start = start_branch(
        sheet,
        chain.trigger,
        words=chain.trigger_words,
        anti_repeat=anti_repeat,
        extra=switch_open if anti_repeat else series(),
    )
    faults = watch(sheet, chain)
    stop = runs(sheet, chain.stop)
    run = series(stop, faults.well)
    sheet.rung(
        series(parallel(start.network, contact(relay)), run, switch_open),
        relay,
        says=f"{relay} is in while {cycle.actuator.name} goes out: the start branch picks it up, its own contact "
        f"seals it in, and {switch.name} drops it out at the end of the stroke.",
        words=chain.trigger_words,
    )
    says = f"{timer} needs its supply to hold; losing it, it drops out at once."
    sheet.rung(run, timer, says=says, words=chain.stop_words, terminal=Terminal.SUPPLY)
    sheet.rung(
        contact(relay),
        timer,
        says=f"{timer} operates with {relay} and times the hold from the moment {relay} drops out.",
        words=cycle.hold_words,
        terminal=Terminal.CONTROL,
    )
    sheet.rung(
        contact(timer, Form.NOTO),
        cycle.solenoid,
        says=f"{cycle.solenoid} sends {cycle.actuator.name} out and stays on until {timer} has timed the hold.",
        words=cycle.out_words,
    )
    told = Told(contact(timer, Form.NOTO), contact(relay), series(nc(relay), contact(timer, Form.NOTO)))
    besides = draw_besides(sheet, chain, cycle, told, faults, runs=stop)
    start.draw(sheet, idle=nc(relay), runs=run, words=chain.trigger_words)
    announces = {*start.announces, *switches_work(machine)}
    # A pressure switch may still be made as the cylinder is home again, or where it has jammed close to home.
    if not cycle.home_in_trigger or isinstance(switch, PressureSwitch):
        announces.add(Assumption.START_AT_HOME)
    how = f"{switch.name} drops {relay} out; the timed contact of {timer} keeps {cycle.solenoid} on for the hold."
    return Built(sheet, f"{how}{besides} {cycle.remark}".rstrip(), frozenset(announces))
