"""What ``rungwright explain`` tells of every message about meaning: RW2xx from lowering, RW3xx about the chart."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Entry, Severity
from grammar.source import Span

__all__ = ["ENTRIES", "finding"]

_F, _W, _A = Severity.FAULT, Severity.WARNING, Severity.ADVICE

ENTRIES: tuple[Entry, ...] = (
    Entry("RW201", _F, "Two things share a name",
          "A name must mean one thing. Letter case does not tell names apart: IEC 61131-3 ignores it, so a1 and A1 "
          "would be one variable in the printed program.",
          "limit switch LS1 at end\nlamp Ls1", "Rename one of the two."),
    Entry("RW202", _F, "No device of that name",
          "The program speaks of a device that it does not declare.",
          "extend PLATTEN until at-end", "Correct the spelling, or declare the device above the cycle."),
    Entry("RW203", _F, "The word does not suit the device",
          "Pushbuttons are pressed, held or released; switches and sensors are made or not made; cylinders are "
          "at-end or at-home; loads are on or off.",
          "until LS1 is pressed", "Use the word that belongs to that kind of device."),
    Entry("RW204", _F, "The cylinder has no switch there",
          "at-end and at-home are seen by limit switches. Without one the control cannot know.",
          "extend PLATEN until at-end      # PLATEN has no limit switch at end",
          "Add \"limit switch LS1 at end\" under the cylinder, or write how long: \"extend PLATEN for 5 s\"."),
    Entry("RW205", _F, "Which cylinder?",
          "With more than one cylinder a stroke must name the one it means, and a bare at-end needs a stroke in "
          "the same step.",
          "extend until at-end             # two cylinders are declared", "Name the cylinder."),
    Entry("RW206", _F, "Not that kind of quantity",
          "Times, lengths, pressures and flows are different things, and none of them may be zero.",
          "hold 30 mm", "Write a quantity with a unit of the right kind."),
    Entry("RW207", _F, "The step cannot end",
          "A hold or a wait needs a time or an \"until\"; a \"within\" needs something to wait for.",
          "wait", "Write \"wait 2 s\" or \"wait until PART is made\"."),
    Entry("RW208", _F, "A moment cannot be used here",
          "\"is pressed\" is the moment of pressing. It cannot be negated, sustained, or be a home condition.",
          "until not START is pressed", "Use \"is held\" or \"is released\", which last."),
    Entry("RW209", _F, "A step cannot wait for that",
          "Steps wait for inputs and times. An output is what the sequence itself switches, and \"after\" counts "
          "the time of a step.",
          "until BUSY is on", "Wait for the switch or sensor that sees the result."),
    Entry("RW210", _F, "The motion opposes itself",
          "One step tells a cylinder to go both ways.",
          "extend A and retract A until at-end", "Put the two strokes in two steps."),
    Entry("RW211", _F, "Written twice", "This may be written only once.",
          "bore 50 mm, bore 63 mm", "Remove one of the two."),
    Entry("RW212", _F, "There is no cycle",
          "A program needs at least one step.", "pushbutton START",
          "Add \"cycle\" and its steps. A file of devices alone goes with compare and retell, as --machine."),
    Entry("RW213", _F, "Nothing starts the cycle",
          "The program declares inputs but none named START, and the cycle says no \"when\".",
          "pushbutton GO\ncycle\n    extend", "Add \"when GO is pressed\" under cycle."),
    Entry("RW214", _F, "The switch is not on the stroke",
          "A limit switch must sit between home and the end of the stroke, and its reset travel must fit in it.",
          "stroke 100 mm\nlimit switch LS3 at 140 mm", "Correct the distance or the stroke."),
    Entry("RW215", _F, "These do not go together",
          "Two statements about one cylinder exclude each other: its rod against its bore, two valves, or a "
          "single-acting cylinder on a double solenoid valve.",
          "bore 50 mm, rod 63 mm", "Correct one of them."),
    Entry("RW216", _F, "That cannot be turned on",
          "Only lamps, horns, motors and solenoids can be turned on and off.",
          "turn on START", "Name a load; a cylinder is extended or retracted."),
    Entry("RW217", _F, "Not a chart file",
          "The JSON does not hold a machine and a chart as the schema has them.",
          "a file that was cut short", "Build it again; \"rungwright schema\" prints the schema."),
    Entry("RW250", _F, "A quick stroke has a solenoid and a time",
          "A further solenoid makes the stroke out quick while it is on. Both its name and the time of the whole "
          "stroke then must be known; the time of a regenerative stroke is calculated from bore, rod and flow.",
          "rapid solenoid SOL3             # how quick?",
          "Write \"rapid solenoid SOL3\" and \"extends rapidly in 0.8 s to 1 s\"."),
    Entry("RW221", _F, "Commanded in two places at once",
          "Branches of parallel work, and stations, go on at the same time. A cylinder, motor or lamp that two of "
          "them command would be told two things at once.",
          "together\n    extend A\nmeanwhile\n    retract A",
          "Leave the device to one of them; let the other wait for its switch, or for a signal."),
    Entry("RW222", _F, "A pass that takes no time",
          "Nothing in a pass of the repeat is sure to last, so it could go round for ever in one moment.",
          "repeat until PART is made\n    count TRIES",
          "Give every way through it a stroke to a limit switch, a hold or a wait."),
    Entry("RW223", _F, "A routine that does itself",
          "A routine is written out wherever it is used, so one that does itself, straight or through others, would "
          "have no end.",
          "routine KNOCK\n    extend HAMMER\n    do KNOCK", "Use a repeat."),
    Entry("RW224", _F, "The letters do not close",
          "In letter notation every cylinder goes out and back by turns, and ends where it began; else the second "
          "cycle could not be run.",
          "A+ B+ A-", "Add the move that is missing, or leave out the one too many."),
    Entry("RW225", _F, "A requirement cannot ask a counter",
          "Requirements are judged by what can be seen of the machine, the same for every circuit and program. How "
          "far a counter has got is not to be seen from outside.",
          "never PARTS has reached 12 while SOL1", "Ask what the counter leads to: a lamp, a solenoid, a switch."),
    Entry("RW226", _F, "That cannot be stopped on its way",
          "With its solenoids off a spring-return valve sends its cylinder home, and a memory valve lets it complete "
          "its stroke. Only a three-position valve, or a motor, stops where it is.",
          "stop CLAMP", "Give it a three-position valve, or write where it goes: extend or retract."),
    Entry("RW227", _F, "Too many steps", "Routines that do other routines many times over come to more steps than "
          "anyone could build.", "do A, which does B ten times, which does C ten times ...", "Use a repeat."),
    Entry("RW228", _F, "It cannot go rapidly",
          "A rapid stroke needs a further solenoid that lets more oil in, or leads the rod side's oil back.",
          "extend PRESS rapidly     # its valve has no rapid solenoid",
          "Add \"rapid solenoid SOL3\" under the cylinder, or leave \"rapidly\" out."),
    Entry("RW229", _F, "No cycle begins again by itself",
          "\"stop at end of cycle\" makes the cycle under way the last one, and here every one is.",
          "stop at end of cycle when FINISH is pressed     # and no \"again while\"",
          "Add \"again while AUTO is on\" at the end of the cycle, or delete the rule."),
    Entry("RW230", _F, "That STOP cannot be carried out here",
          "\"finish the stroke\" is not told of parallel work inside parallel work, and \"return home\" begins at "
          "the moment a button is pressed.",
          "when GUARD is open, return home", "Write \"drop out everything\", or name a pushbutton that is pressed."),
    Entry("RW231", _F, "A signal that never comes",
          "Something waits for the signal, and no station turns it on.",
          "wait until READY is on     # and nothing turns READY on", "Add \"turn on READY\" where it is so."),
    Entry("RW232", _F, "It cannot exclude itself",
          "The two sides of \"never ... with ...\" are driven by one and the same output.",
          "never SOL1 with SOL1", "Name two outputs."),
    Entry("RW233", _F, "A station that waits for itself",
          "While its cycle is under way a station is not at rest, so it would wait for ever.",
          "cycle of LOADER\n    wait until LOADER is at rest", "Name the other station."),
    Entry("RW301", _W, "A step that is never reached",
          "No way leads from the start to this step, so whatever it does never happens.",
          "a chart with a step that no transition leads to", "Add the transition, or delete the step."),
    Entry("RW302", _W, "A step with no way out",
          "Once there, only STOP brings the machine on. Fault steps are meant to be so; others are not.",
          "a chart whose last step leads nowhere", "Add a transition."),
    Entry("RW303", _W, "A stroke with no feedback",
          "The sequence goes on without knowing whether the stroke arrived. A slow or jammed stroke is not noticed.",
          "extend PLATEN for 5 s", "Fit a limit or pressure switch and write \"until at-end\"."),
    Entry("RW304", _A, "No time limit on a stroke",
          "If the cylinder jams or the switch fails, this step waits for ever with its valve on.",
          "extend PLATEN until at-end", "Add to the step: within 8 s or fault \"platen did not arrive\""),
    Entry("RW305", _F, "Both solenoids of one valve, or both directions of a motor, are on",
          "A double solenoid valve with both coils on stays where it was, a three-position valve in its centre, and "
          "an ac coil that cannot pull in burns out. Both contactors of a motor short the lines (common practice).",
          "turn on SOL1A\nretract A       # SOL1B on as well", "Turn one off first; let strokes drive the valve."),
    Entry("RW306", _W, "The step waits at the wrong end",
          "The step sends the cylinder one way and waits for a switch it is moving away from.",
          "extend PLATEN until at-home", "Wait for the switch the stroke arrives at."),
    Entry("RW307", _A, "A held START starts again",
          "The cycle starts while the button is held, so it starts again at the end of every cycle until it is "
          "let go.",
          "when START is held", "Write \"when START is pressed\" for one cycle a press."),
    Entry("RW308", _W, "No STOP",
          "Nothing brings the machine to rest from any step.",
          "a program with START but no STOP", "Declare \"pushbutton STOP, normally closed\"."),
    Entry("RW309", _A, "The valve keeps its place when the supply drops",
          "A memory valve stays where it was put: on a lost supply, and on a STOP that drops out everything, an "
          "unfinished stroke completes, and the cylinder does not come home.",
          "double solenoid valve SOL1A extends, SOL1B retracts",
          "If that could hurt anyone, use a spring-return or centred valve; see your risk assessment."),
    Entry("RW310", _W, "The end condition is already true",
          "When the step begins its condition already holds, so the step is over at once and does nothing.",
          "retract PLATEN until at-home     # it is at home", "Delete the step, or wait for something else."),
    Entry("RW311", _W, "The time is shorter than the stroke",
          "A stroke that is only timed ends before a slow cylinder has arrived.",
          "extends in 2 s to 4 s\nextend PLATEN for 3 s", "Time it for the greatest travel, or use a switch."),
    Entry("RW312", _A, "The name will be written differently in structured text",
          "The name is a reserved word of IEC 61131-3 or not a valid identifier there. The printed program uses a "
          "safe spelling that Rungwright turns back.",
          "lamp STEP", "Nothing need be done; rename it if you want the same spelling everywhere."),
    Entry("RW313", _A, "A device that is never used",
          "It is declared but no step, condition or rule speaks of it.",
          "lamp BUSY     # never turned on", "Use it or delete it."),
    Entry("RW314", _W, "The cycle does not come back to its start",
          "After the last step a cylinder stands elsewhere, or a load is on that was off at first, so the second "
          "cycle differs from the first.",
          "extend A       # and never retract", "Retract, or turn off, before the cycle ends."),
    Entry("RW315", _A, "Times are assumed",
          "Nothing says how long the stroke takes, so the simulation tries 1 s to 4 s.",
          "a cylinder without times", "Write \"extends in 2 s to 3 s\", or bore, stroke and flow."),
    Entry("RW316", _A, "A fault that nobody sees",
          "The machine stops in a fault step, but no lamp or horn tells so.",
          "within 8 s or fault \"...\"    # and no fault lamp", "Add \"when a fault is shown, turn on ALARM\"."),
    Entry("RW317", _A, "START is obeyed away from home",
          "After STOP the cylinder may be anywhere; the cycle may be started before it is home.",
          "a cycle without a home condition", "Add \"home when PLATEN is at-home\"."),
    Entry("RW318", _W, "STOP is wired normally open",
          "A broken wire or loose terminal then goes unnoticed and STOP does nothing. Stop circuits open to stop "
          "(IEC 60204-1:2016 9.2, from memory).",
          "pushbutton STOP, normally open", "Wire STOP normally closed."),
    Entry("RW319", _W, "After STOP the machine cannot get home by itself",
          "START needs the cylinder at home, but after a STOP its valve leaves it out (memory) or where it is "
          "(three-position), and nothing brings it back.",
          "home when A is at-home   # A has a double solenoid valve",
          "Write \"when STOP is pressed, return home\" and its strokes, or add a way to send it home by hand."),
    Entry("RW320", _A, "A valve is assumed",
          "The cylinder names no valve, so a single solenoid valve with spring return is assumed.",
          "pneumatic cylinder CLAMP", "Write \"single solenoid valve SOL1, spring return\"."),
    Entry("RW321", _A, "The valve stops the cylinder where it is",
          "With both solenoids off a closed or tandem centre blocks the cylinder: it stands wherever it has come to, "
          "in mid-stroke too, and does not come home. The spool leaks, so that a load creeps (common practice); "
          "raised loads must be held or supported (ISO 4413:2010, from memory).",
          "three-position valve SOL1 extends, SOL2 retracts, closed centre",
          "If it must come home by itself use a spring-return valve; to hold a load for long, a pilot-operated check "
          "valve."),
    Entry("RW322", _A, "A float centre holds nothing",
          "With both solenoids off both ports of the cylinder are open to tank: on STOP and on a lost supply it is "
          "free, and a load may move it, or sink. Nothing here simulates that.",
          "three-position valve SOL1 extends, SOL2 retracts, float centre",
          "Where a load must be held use a closed or tandem centre."),
    Entry("RW323", _W, "Nothing holds the cylinder in this step",
          "The step waits with both solenoids of a float-centre valve off, away from where the cylinder rests: it "
          "may move by its load before the step is over.",
          "stop PRESS\nhold 5 s        # PRESS has a float centre",
          "Leave its solenoid on, or use a closed or tandem centre."),
    Entry("RW324", _A, "Without its solenoid the cylinder extends",
          "It rests extended: on STOP and on a lost supply its spring-return valve sends it out.",
          "normally extended, single solenoid valve SOL1, spring return",
          "If that could hurt anyone choose the valve the other way round; see your risk assessment."),
    Entry("RW325", _W, "The quick stroke is no quicker",
          "With the further solenoid on the stroke out should take less time than without it.",
          "extends in 2 s, extends rapidly in 3 s", "Correct one of the two times."),
    Entry("RW326", _W, "The solenoid for the quick stroke does nothing",
          "It makes only the stroke out quick; on the way back, and by itself, it does nothing.",
          "turn on SOL3        # rapid solenoid SOL3\nretract PRESS until at-home",
          "Turn it off when the stroke out is over."),
    Entry("RW327", _A, "A solenoid stays on at rest",
          "A stroke goes on until something else is said, so a three-position valve still drives its cylinder when "
          "the cycle is over: its coil stays warm, and the pump works against the relief valve (common practice).",
          "retract PRESS until at-home     # the last step; PRESS has a three-position valve",
          "End the cycle with: stop PRESS"),
    Entry("RW328", _W, "The cycle waits for a rod where it does not rest",
          "A machine is first switched on with every rod where it rests. Where START is obeyed only with one at its "
          "other end, no cycle begins, and what is proved of it says nothing.",
          "home when BOLT is at-end     # and BOLT rests at-home",
          "Where it rests out write \"normally extended\" in its lines, whatever its valve; or mend the rule."),
    Entry("RW331", _W, "A routine that is never used",
          "It is written, and nothing does it.", "routine KNOCK     # and no \"do KNOCK\"", "Use it or delete it."),
    Entry("RW332", _W, "A repeat that never ends",
          "What would end it can never be so, whatever the inputs do.",
          "repeat until PART is made and PART is not made", "Correct the condition."),
    Entry("RW333", _W, "A case that is never taken",
          "Cases are looked at in the order written, and the first whose condition holds is taken. Whenever this one "
          "holds, an earlier one does, or it never holds.",
          "if PART is made\n    ...\notherwise if PART is made and AUTO is on\n    ...",
          "Put the narrower case first, or delete it."),
    Entry("RW334", _W, "It does not wait for its turn on the way home",
          "As STOP is pressed everything drops out, and then the steps home are taken in order. A cylinder that a "
          "spring returns goes home at once.",
          "when STOP is pressed, return home\n    retract DRILL\n    retract CLAMP     # spring return",
          "Where the order matters, give it a double solenoid or three-position valve."),
    Entry("RW335", _W, "Nothing leads out of a fault",
          "Once a fault is shown the machine stands until its supply is switched off: a STOP that finishes the "
          "stroke leaves it as it is, and no button resets a fault.",
          "when STOP is pressed, finish the stroke     # and a within ... or fault",
          "Add \"a fault is reset by RESET\"."),
    Entry("RW336", _W, "A counter that nothing counts",
          "A condition asks how far it has got, and no step counts it.",
          "repeat until PARTS has reached 12     # and no \"count PARTS\"",
          "Add \"count PARTS\" where a part is done."),
    Entry("RW337", _W, "A counter that nothing clears",
          "A counter keeps its number over STOP and from cycle to cycle. Once it has reached what is asked of it, "
          "every cycle finds it so, until the supply is lost.",
          "repeat until TRAYS has reached 12\n    extend PUSHER, retract PUSHER\n    count TRAYS",
          "Say where it begins anew: clear TRAYS."),
    Entry("RW338", _A, "What another branch brings about may be over too soon",
          "A branch that comes late to its wait finds the switch let go again, for the other branch has sent the "
          "cylinder back meanwhile. It then waits for ever.",
          "together\n    extend CLAMP, retract CLAMP\nmeanwhile\n    hold 5 s, wait until CLAMP is at-end",
          "Let the other branch wait in its turn before it sends the cylinder back, or turn on a signal there and "
          "wait for that."),
    Entry("RW351", _A, "Not a preferred size",
          "Cylinders are made with preferred bores and rods (ISO 3320:2013; inch sizes of the NFPA; from memory). "
          "Another size is made to order, and its seals are.",
          "bore 77 mm", "Take the nearest preferred size, unless the cylinder is there already."),
    Entry("RW352", _W, "Not enough force for the load",
          "At the least pressure stated, what the pressure does on the piston is no more than load, weight and "
          "friction together: the stroke does not begin, or stops on its way.",
          "bore 50 mm, pressure 100 bar, load 40 kN", "A larger bore, more pressure, or less load."),
    Entry("RW353", _W, "The stroke is fast for a cylinder without cushions",
          "A piston that meets its end faster than about 0.5 m/s with oil, or 1 m/s with air, wears itself and its "
          "mountings out unless it is cushioned (common practice).",
          "bore 25 mm, flow 40 L/min", "Less flow, or a cylinder with cushions: cushion time 0.2 s."),
    Entry("RW354", _A, "The rod raises the pressure",
          "Where the rod port is throttled or blocked, the pressure on the full side is raised on the ring by the "
          "ratio of the areas, beyond the nominal pressure that the supply asks for (ISO 2944, from memory).",
          "bore 80 mm, rod 56 mm, pressure 160 bar",
          "Choose hoses, fittings and seals on the rod side for that pressure, or throttle what enters."),
    Entry("RW355", _W, "The stated time does not fit the cylinder",
          "The time that follows from bore, stroke and flow, within its tolerances, and the stated one have nothing "
          "in common. The stated one is used.",
          "bore 80 mm, stroke 400 mm, flow 40 L/min, extends in 10 s",
          "Correct the time, or what the cylinder is said to be."),
    Entry("RW356", _W, "The time limit is shorter than the stroke",
          "A slow stroke that is still within its limits ends in the fault.",
          "extends in 2 s to 4 s\nextend until at-end, within 3 s or fault \"late\"",
          "Allow for the slowest stroke, and something over."),
    Entry("RW357", _W, "Two strokes share the pump",
          "The time of each stroke is reckoned with the whole flow of the pump; together they are slower.",
          "extend A and B     # hydraulic, neither with a flow of its own",
          "State a flow for each of the two, as its flow control gives it, or the time it takes."),
)  # fmt: skip

_BY_CODE = {entry.code: entry for entry in ENTRIES}


def finding(code: str, message: str, start: int, end: int, *, expected: str = "", cure: str = "") -> Diagnostic:
    """A message of a known code, with that code's severity; its general cure unless a closer one is given.

    Raises KeyError when the code has no entry.
    """
    entry = _BY_CODE[code]
    span = Span(start, end) if end > start else None
    return Diagnostic(code, entry.severity, message, span, expected, cure or entry.cure)
