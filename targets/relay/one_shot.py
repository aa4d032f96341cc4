"""The one-shot stroke: one pulse, long enough for the stroke and the hold, and no switch at the end.

    TR one-shot: supply := STOP NC, control := START..      SOL := TR

The pulse starts when its control input is made and runs its whole time whatever the input does then (not
retriggerable). Its preset is the longest the stroke out may take, plus the hold: a quicker stroke holds longer, and a
cylinder that jams comes back all the same. STOP takes the supply away, which ends the pulse at once; a control input
that is already made when the supply returns starts a new one. A fault does not take the supply away: the pulse would
be over, and the fault's own coil dead, before its contact could hold it in. It breaks what the pulse feeds instead,
and so does STOP, which may drop out the fault before the timer.
"""

from __future__ import annotations

from compiler.machine import LimitSwitch, Machine
from grammar.rungs.tree import Terminal, TimerFunction
from targets.relay.arrangement import Built
from targets.relay.chain import Chain, sustained_words
from targets.relay.dwell import Dwell, dwell
from targets.relay.network import WIRE, Unfit, contact, nc, series, terms
from targets.relay.phases import Told, draw_besides
from targets.relay.sheet import Sheet, seconds
from targets.relay.start import runs, start_branch, switches_work
from targets.relay.watching import watch
from targets.target import Assumption

__all__ = ["build"]


def build(machine: Machine, chain: Chain, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    cycle = dwell(chain, machine)
    if any(term.rise is None for term in terms(chain.trigger)):
        raise Unfit("a one-shot starts at the moment of a press; this sequence starts on a condition that lasts")
    sheet = Sheet(machine, sustained_words=sustained_words(chain))
    timer = sheet.timer(TimerFunction.ONE_SHOT, cycle.out_us + cycle.hold_us)
    start = start_branch(sheet, chain.trigger, words=chain.trigger_words, anti_repeat=anti_repeat)
    faults = watch(sheet, chain)
    run = runs(sheet, chain.stop)
    lets = series(run, faults.well) if faults.relays else WIRE
    says = f"{timer} needs its supply to run; losing it, it drops out at once."
    sheet.rung(run, timer, says=says, words=chain.stop_words, terminal=Terminal.SUPPLY)
    parts = f"{seconds(cycle.out_us)} s for the stroke" + (
        f" and {seconds(cycle.hold_us)} s hold" * (cycle.hold_us > 0)
    )
    sheet.rung(
        series(start.network, faults.well),
        timer,
        says=f"{timer} starts one pulse when its control is made: {parts}.{_as_set(cycle.out_us + cycle.hold_us)}",
        words=chain.trigger_words,
        terminal=Terminal.CONTROL,
    )
    says = f"{cycle.solenoid} sends {cycle.actuator.name} out for as long as the pulse of {timer} lasts."
    sheet.rung(series(contact(timer), lets), cycle.solenoid, says=says, words=cycle.out_words)
    told = _told(timer, cycle)
    besides = draw_besides(sheet, chain, cycle, told, faults, runs=run, well=lets)
    start.draw(sheet, idle=nc(timer), runs=series(run, faults.well), words=chain.trigger_words)
    announces = {*start.announces, *switches_work(machine)}
    # The pulse is as long as a stroke from home. Within its reset travel the home switch is made already, or still.
    if cycle.switch is not None or not cycle.home_in_trigger:
        announces.add(Assumption.START_AT_HOME)
    if cycle.switch is not None:
        announces |= set() if _sees_a_jam(cycle) else {Assumption.NO_JAM}
        announces |= set() if cycle.exact else {Assumption.STROKE_TIME}
    how = f"One pulse of {timer} is the stroke and the hold together; no switch ends it."
    return Built(sheet, f"{how}{besides} {cycle.remark}".rstrip(), frozenset(announces))


def _as_set(time_us: int) -> str:
    """What to set on a scale of hundredths of a second, where the time reckoned is finer than that."""
    if not time_us % 10_000:
        return ""
    return f" Reckoned; set {seconds(-(-time_us // 10_000) * 10_000)} s, or as near as its scale allows."


def _sees_a_jam(cycle: Dwell) -> bool:
    """Whether a time limit ends the stroke before the pulse does; to a pressure switch a jam is the end of it."""
    limited = cycle.limit_us is not None and cycle.limit_us < cycle.out_us + cycle.hold_us
    return limited and isinstance(cycle.switch, LimitSwitch)


def _told(timer: str, cycle: Dwell) -> Told:
    """The pulse itself cannot tell the stroke from the hold; the switch can, where there is one."""
    pulse = contact(timer)
    if cycle.switch is None:
        return Told(pulse, None, None)
    return Told(pulse, series(pulse, nc(cycle.switch.name)), series(pulse, contact(cycle.switch.name)))
