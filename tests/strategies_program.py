"""Whole valid programs for property tests: machines somebody could build, and cycles that make sense on them.

``programs()`` makes everything the language can say. ``sensible_programs()`` keeps to single rows of steps that a
machine can run: every stroke has somewhere to go and a way to end, every cylinder comes back to where it rested.
``working_programs()`` does so with work side by side, choices, repeats, counters, routines, letters and several
stations. A new feature of the language enters here in the same commit.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from hypothesis import strategies as st

from grammar.sequence import tree
from grammar.sequence.tree import Name, Quantity

__all__ = [
    "comments",
    "conditions",
    "programs",
    "quantities",
    "sensible_programs",
    "with_comments",
    "working_programs",
]

_CYLINDERS = ("PLATEN", "Clamp", "FEED", "Stößel", "1-CYL", "ZYLINDER_2")
_SENSORS = ("PART", "GUARD", "Doors", "2PX")
_COUNTERS = ("PARTS", "Passes")
_STATIONS = ("LOADER", "PRESS-2", "Unloader")
_ROUTINES = ("CLAMP_PART", "Eject")
_LOADS = ("BUSY", "ALARM", "Ready", "PUMP", "FAULT")
_UNITS = ("mm", "cm", "m", "in", "bar", "psi", "MPa", "kPa", "L/min", "gpm", "us", "ms", "s", "min", "h")
_TEXT = st.text(
    st.characters(exclude_categories=("C", "Z"), exclude_characters='"'), min_size=1, max_size=12
) | st.sampled_from(["clamp did not close", "stuck, or slow", "# not a comment", "it’s “here”", "a (b"])


def _times() -> st.SearchStrategy[Quantity]:
    return st.sampled_from([("250", "ms"), ("0.2", "s"), ("1.5", "s"), ("2", "s"), ("12", "s"), ("0.5", "min")]).map(
        lambda q: Quantity(*q)
    )


@st.composite
def quantities(draw: st.DrawFn) -> Quantity:
    """Any number the language can write, with a unit of time, length, pressure or flow."""
    whole = draw(st.integers(1, 9999))
    number = str(whole) if draw(st.booleans()) else f"{whole}.{draw(st.integers(0, 99))}"
    return Quantity(number, draw(st.sampled_from(_UNITS)))


@dataclass(frozen=True)
class Devices:
    """What a program may speak of."""

    cylinders: tuple[tree.Cylinder, ...]
    inputs: tuple[tree.InputDevice, ...]
    loads: tuple[tree.LoadDevice, ...]
    counters: tuple[tree.CounterDevice, ...] = ()
    signals: tuple[tree.SignalDevice, ...] = ()
    motors: tuple[tree.MotorDevice, ...] = ()

    @property
    def all(self) -> tuple[tree.Declaration, ...]:
        """Every device, in the order a program declares them."""
        return (*self.cylinders, *self.inputs, *self.loads, *self.counters, *self.signals, *self.motors)

    def lit(self) -> list[Name]:
        """What can be turned on and off."""
        return [*(d.name for d in self.loads), *(d.name for d in self.signals)]

    def switches(self) -> list[str]:
        """The names of every limit and pressure switch."""
        found = []
        for item in (i for c in self.cylinders for i in c.items):
            if isinstance(item.attribute, tree.LimitSwitch):
                found.append(item.attribute.switch.name.text)
            elif isinstance(item.attribute, tree.PressureSwitch):
                found.append(item.attribute.name.text)
        return found

    def named(self, kind: str) -> list[str]:
        """The names of the inputs of one kind."""
        return [d.name.text for d in self.inputs if d.kind == kind]


@st.composite
def _ratings(draw: st.DrawFn) -> list[tree.Attribute]:
    """What a cylinder may be said to work with."""
    spread = draw(st.none() | st.just(Quantity("10", "%")))
    load = draw(st.sampled_from([("2", "kN", False), ("120", "lbf", False), ("200", "kg", True)]))
    some: list[tree.Attribute] = [
        tree.Pressure(Quantity("100", "bar"), spread),
        tree.Load(Quantity(*load[:2]), draw(st.sampled_from(["extends", "retracts"])), load[2]),
        tree.Friction(draw(st.sampled_from([Quantity("5", "%"), Quantity("300", "N")]))),
        tree.Efficiency(Quantity("90", "%")),
        tree.ShiftTime(Quantity("40", "ms"), spread),
        tree.CushionTime(Quantity("0.2", "s")),
        draw(
            st.sampled_from([tree.Tube(Quantity("6", "mm"), Quantity("2", "m")), tree.Tube(Quantity("5.5", "in3"))])
        ),
    ]
    return [part for part in some if draw(st.booleans())]


_PUMP = tree.Pump(
    tuple(
        tree.Item(line)
        for line in (
            tree.Displacement(Quantity("16", "cm3/rev")),
            tree.TurningSpeed(Quantity("1450", "rpm")),
            tree.Efficiency(Quantity("95", "%"), "volumetric"),
            tree.Pressure(Quantity("160", "bar"), Quantity("5", "%")),
            tree.PumpControl(True),
            tree.CaseDrain(Quantity("1.2", "L/min")),
        )
    )
)


@st.composite
def _cylinder(draw: st.DrawFn, number: int, name: str) -> tree.Cylinder:
    contact = st.sampled_from(["normally open", "normally closed"])
    medium = draw(st.sampled_from(["hydraulic", "pneumatic"]))
    stroke = draw(st.sampled_from([("100", "mm"), ("25", "cm"), ("4", "in"), ("80.5", "mm")]))
    parts: list[tree.Attribute] = [tree.StrokeLength(Quantity(*stroke))]
    if draw(st.booleans()):
        parts += [tree.Bore(Quantity("80", "mm")), tree.Rod(Quantity("45", "mm")), tree.Flow(Quantity("12", "L/min"))]
        parts += draw(_ratings())
    if draw(st.booleans()):
        parts.append(tree.TravelTime("extends", Quantity("1", "s"), draw(st.none() | st.just(Quantity("1.5", "s")))))
        parts.append(tree.TravelTime("retracts", Quantity("800", "ms")))
    rests_extended = False
    solenoids = Name(f"SOL{number}A"), Name(f"SOL{number}B")
    match draw(st.sampled_from(["single", "double", "centred"])):
        case "single":
            parts.append(tree.SingleSolenoid(Name(f"SOL{number}")))
            if draw(st.booleans()):
                parts.append(tree.SingleActing())
            rests_extended = draw(st.booleans()) and draw(st.booleans())
        case "double":
            parts.append(tree.DoubleSolenoid(*solenoids))
        case _:
            parts.append(tree.ThreePosition(*solenoids, draw(st.sampled_from(["closed", "tandem", "float"]))))
            rests_extended = draw(st.booleans()) and draw(st.booleans())
    if draw(st.integers(0, 3)) == 0:
        parts.append(tree.RapidSolenoid(draw(st.sampled_from(["rapid", "regenerative"])), Name(f"SOL{number}C")))
        parts.append(tree.TravelTime("extends rapidly", Quantity("400", "ms"), None))
    if rests_extended:
        parts.append(tree.NormallyExtended())
    reset = st.none() | st.just(Quantity("2", "mm"))
    for k, at in enumerate(["end", "home"]):
        switch = tree.Switch(Name(f"{10 * number + k}LS"), at, draw(reset), draw(contact))
        parts.append(tree.LimitSwitch(switch))
    if draw(st.booleans()):
        switch = tree.Switch(Name(f"LS-{number}M"), Quantity("40", "mm"), draw(reset), draw(contact))
        parts.append(tree.LimitSwitch(switch))
    if draw(st.booleans()):
        direction = "retracts" if rests_extended else "extends"
        parts.append(tree.PressureSwitch(Name(f"PS{number}"), Quantity("6", "bar"), direction, draw(contact)))
    return tree.Cylinder(medium, Name(name), tuple(tree.Item(p) for p in parts))


@st.composite
def _devices(draw: st.DrawFn) -> Devices:
    names = draw(st.lists(st.sampled_from(_CYLINDERS), min_size=1, max_size=3, unique=True))
    cylinders = tuple(draw(_cylinder(n, name)) for n, name in enumerate(names, 1))
    contact = st.sampled_from(["normally open", "normally closed"])
    inputs = [
        tree.InputDevice("pushbutton", Name("START"), draw(contact)),
        tree.InputDevice("pushbutton", Name("STOP"), draw(contact)),
    ]
    for name in draw(st.lists(st.sampled_from(_SENSORS), max_size=2, unique=True)):
        inputs.append(tree.InputDevice("sensor", Name(name), draw(contact)))
    if draw(st.booleans()):
        inputs.append(tree.InputDevice("selector", Name("AUTO"), draw(contact)))
    loads = [
        tree.LoadDevice(draw(st.sampled_from(["lamp", "horn", "motor"])), Name(name))
        for name in draw(st.lists(st.sampled_from(_LOADS), max_size=2, unique=True))
    ]
    counters = tuple(
        tree.CounterDevice(Name(n)) for n in draw(st.lists(st.sampled_from(_COUNTERS), max_size=2, unique=True))
    )
    signals = tuple(tree.SignalDevice(Name(n)) for n in draw(st.lists(st.just("TRAY-READY"), max_size=1)))
    motors = tuple(
        tree.MotorDevice(
            draw(st.sampled_from(["hydraulic", "pneumatic", "electric"])), Name(n), Name(f"{n}F"), Name(f"{n}R")
        )
        for n in draw(st.lists(st.sampled_from(["WINCH", "Belt"]), max_size=2, unique=True))
    )
    return Devices(cylinders, tuple(inputs), tuple(loads), counters, signals, motors)


def _levels(devices: Devices) -> st.SearchStrategy[tree.Cond]:
    """Single conditions that hold for a while: none is a moment."""
    states = [(name, word) for name in devices.switches() for word in ("made", "not made")]
    states += [(name, word) for name in devices.named("sensor") for word in ("made", "not made", "open", "closed")]
    states += [(name, word) for name in devices.named("selector") for word in ("on", "off")]
    states += [("START", "held"), ("START", "released")]
    places = [(c.name.text, word) for c in devices.cylinders for word in ("at-end", "at-home")]
    return st.sampled_from(states).map(lambda s: tree.StateIs(Name(s[0]), s[1])) | st.builds(
        lambda p, negated: tree.PlaceIs(Name(p[0]), p[1], negated), st.sampled_from(places), st.booleans()
    )


def conditions(
    devices: Devices, *, extra: st.SearchStrategy[tree.Cond] | None = None
) -> st.SearchStrategy[tree.Cond]:
    """Conditions of any shape on the devices; ``extra`` single conditions enter outside ``not`` and ``for``."""
    level = _levels(devices)

    def grown(inner: st.SearchStrategy[tree.Cond]) -> st.SearchStrategy[tree.Cond]:
        pair = st.lists(inner, min_size=2, max_size=3).map(tuple)
        return st.builds(tree.AllOf, pair) | st.builds(tree.AnyOf, pair) | st.builds(tree.NotCond, inner)

    steady = st.recursive(level, grown, max_leaves=4)
    lasting = st.builds(tree.Sustained, steady, _times())
    leaves = steady | lasting if extra is None else steady | lasting | extra
    pair = st.lists(leaves, min_size=2, max_size=3).map(tuple)
    return leaves | st.builds(tree.AllOf, pair) | st.builds(tree.AnyOf, pair)


def _until(devices: Devices) -> st.SearchStrategy[tree.Cond]:
    start = st.just(tree.StateIs(Name("START"), "pressed"))
    return conditions(devices, extra=start | st.builds(tree.After, _times()))


@st.composite
def _within(draw: st.DrawFn) -> tree.Within | None:
    if draw(st.booleans()):
        return None
    text = draw(_TEXT).strip()
    return tree.Within(draw(_times()), tree.Fault(tree.Text(text or "late")))


@st.composite
def _sensible_steps(draw: st.DrawFn, devices: Devices) -> tuple[tree.CycleStep, ...]:
    """Strokes there and back: each cylinder goes from where it stands to the other end, and ends at rest."""
    rest = {c.name.text: _rests_extended(c) for c in devices.cylinders}
    out = dict(rest)
    steps: list[tree.CycleStep] = []
    lamp = draw(st.sampled_from((None, *devices.loads)))
    for _ in range(draw(st.integers(1, 3))):
        name = draw(st.sampled_from(sorted(out)))
        steps += draw(_stroke(devices, name, not out[name], lamp if not steps else None))
        out[name] = not out[name]
    if lamp is not None:
        steps.append(tree.CycleStep((tree.Turn(False, lamp.name),)))
    for name in sorted(out):
        if out[name] is not rest[name]:
            steps += draw(_stroke(devices, name, rest[name], None))
    return tuple(steps)


@st.composite
def _stroke(
    draw: st.DrawFn, devices: Devices, name: str, extend: bool, lamp: tree.LoadDevice | None
) -> list[tree.CycleStep]:
    quick = extend and name in [c.name.text for c in devices.cylinders if _has_rapid(c)] and draw(st.booleans())
    commands: list[tree.Command] = [tree.Stroke("extend" if extend else "retract", Name(name), quick)]
    if lamp is not None:
        commands.insert(0, tree.Turn(True, lamp.name))
    place = tree.PlaceIs(draw(st.sampled_from([None, Name(name)])), "at-end" if extend else "at-home")
    until = draw(st.sampled_from([None, tree.Until(place)]))
    stroke = tree.CycleStep(tuple(commands), until, None, draw(_within()) if until is not None else None)
    wait = draw(st.sampled_from(["none", "time", "condition"]))
    if wait == "time":
        return [stroke, tree.CycleStep((tree.Wait(draw(st.sampled_from(["hold", "wait"]))),), None, draw(_times()))]
    if wait == "condition":
        condition = draw(_until(devices))
        return [stroke, tree.CycleStep((tree.Wait("wait"),), tree.Until(condition), None, draw(_within()))]
    return [stroke]


def _rests_extended(cylinder: tree.Cylinder) -> bool:
    return any(isinstance(i.attribute, tree.NormallyExtended) for i in cylinder.items)


def _has_rapid(cylinder: tree.Cylinder) -> bool:
    return any(isinstance(i.attribute, tree.RapidSolenoid) for i in cylinder.items)


def _any_command(devices: Devices) -> st.SearchStrategy[tree.Command]:
    named = st.sampled_from([c.name for c in devices.cylinders])
    rapidly = st.sampled_from([False, False, True])
    kinds: list[st.SearchStrategy[tree.Command]] = [
        st.builds(tree.Stroke, st.sampled_from(["extend", "retract"]), st.none() | named, rapidly),
        st.builds(tree.Halt, named | st.sampled_from([m.name for m in devices.motors]) if devices.motors else named),
    ]
    if devices.lit():
        kinds.append(st.builds(tree.Turn, st.booleans(), st.sampled_from(devices.lit())))
    if devices.motors:
        motors = st.sampled_from([m.name for m in devices.motors])
        kinds.append(st.builds(tree.Run, motors, st.sampled_from(["forward", "reverse"])))
    if devices.counters:
        kinds.append(st.builds(tree.Count, st.sampled_from([c.name for c in devices.counters]), st.booleans()))
    return st.one_of(kinds)


@st.composite
def _any_step(draw: st.DrawFn, devices: Devices) -> tree.CycleStep:
    """A step the language can write, whether or not a machine could do it."""
    commands = tuple(draw(st.lists(_any_command(devices), min_size=0, max_size=3)))
    if not commands or draw(st.integers(0, 3)) == 0:
        commands = (*commands, tree.Wait(draw(st.sampled_from(["hold", "wait"]))))
    end = draw(st.sampled_from(["until", "time", "none"]))
    bare_place = st.builds(tree.PlaceIs, st.none(), st.sampled_from(["at-end", "at-home"]))
    until = tree.Until(draw(_until(devices) | bare_place)) if end == "until" else None
    duration = draw(_times()) if end == "time" else None
    return tree.CycleStep(commands, until, duration, draw(_within()))


def _any_statements(devices: Devices, depth: int = 2) -> st.SearchStrategy[tuple[tree.Statement, ...]]:
    """Statements the language can write, blocks within blocks to a depth."""
    return st.lists(_any_statement(devices, depth), min_size=1, max_size=4 if depth == 2 else 2).map(tuple)


@st.composite
def _any_statement(draw: st.DrawFn, devices: Devices, depth: int) -> tree.Statement:
    kinds = ["step", "step", "step", "letters", "do", "together", "choice", "repeat"]
    kind = draw(st.sampled_from(kinds if depth else kinds[:5]))
    inner = _any_statements(devices, depth - 1)
    match kind:
        case "step":
            return draw(_any_step(devices))
        case "letters":
            return draw(_any_letters(devices))
        case "do":
            return tree.Do(Name(draw(st.sampled_from(_ROUTINES))))
        case "together":
            return tree.Together(tuple(map(tree.Branch, draw(st.lists(inner, min_size=2, max_size=2)))))
        case "choice":
            cases = [tree.Case(draw(_asked(devices)), draw(inner)) for _ in range(draw(st.integers(1, 2)))]
            cases += [tree.Case(None, draw(inner))] if draw(st.booleans()) else []
            return tree.Choice(tuple(cases))
        case _:
            return draw(_any_repeat(devices, draw(inner)))


@st.composite
def _any_repeat(draw: st.DrawFn, devices: Devices, steps: tuple[tree.Statement, ...]) -> tree.Repeat:
    counter = draw(st.none() | st.sampled_from([c.name for c in devices.counters])) if devices.counters else None
    return draw(
        st.builds(tree.Repeat, st.just(steps), times=st.integers(1, 999_999), counter=st.just(counter))
        | st.builds(tree.Repeat, st.just(steps), until=_asked(devices))
        | st.builds(tree.Repeat, st.just(steps), while_=_asked(devices))
    )


def _any_letters(devices: Devices) -> st.SearchStrategy[tree.Letters]:
    move = st.builds(tree.Move, st.sampled_from([c.name for c in devices.cylinders]), st.booleans())
    group = st.lists(move, min_size=1, max_size=3, unique_by=lambda m: m.actuator.text).map(tuple)
    return st.builds(tree.Letters, st.lists(group, min_size=1, max_size=5).map(tuple))


def _asked(devices: Devices) -> st.SearchStrategy[tree.Cond]:
    """What a choice or a repeat may look at, counters and stations too."""
    rests: st.SearchStrategy[tree.Cond] = st.sampled_from(_STATIONS).map(lambda name: tree.AtRest(Name(name)))
    reached = st.builds(
        tree.HasReached, st.sampled_from([c.name for c in devices.counters] or [Name("N1")]), st.integers(1, 999_999)
    )
    extra = rests | reached
    return conditions(devices, extra=extra | extra.map(tree.NotCond))


@st.composite
def _any_cycles(draw: st.DrawFn, devices: Devices) -> list[tree.Declaration]:
    """One cycle, or several stations, and the routines they use."""
    pressed = tree.StateIs(Name("START"), "pressed")
    trigger_condition = tree.AllOf((pressed, draw(_levels(devices)))) if draw(st.booleans()) else pressed
    stations = draw(st.just([None]) | st.lists(st.sampled_from(_STATIONS), min_size=1, max_size=3, unique=True))
    made: list[tree.Declaration] = []
    for station in stations:
        trigger = draw(st.sampled_from([None, tree.Trigger(trigger_condition)]))
        again = draw(st.none() | st.builds(tree.Again, _asked(devices)))
        name = Name(station) if station is not None else None
        made.append(tree.Cycle(trigger, draw(_any_statements(devices)), name, again))
    for routine in draw(st.lists(st.sampled_from(_ROUTINES), max_size=2, unique=True)):
        made.append(tree.Routine(Name(routine), draw(_any_statements(devices, 1))))
    return made


@st.composite
def _any_rules(draw: st.DrawFn, devices: Devices) -> list[tree.Declaration]:
    """Further rules of every kind; nothing need be able to keep them."""
    outputs = st.sampled_from([*devices.lit(), *(m.forward for m in devices.motors), Name("SOL1")])
    kinds: st.SearchStrategy[tree.Declaration] = st.one_of(
        st.builds(tree.StopRule, _levels(devices), st.just(tree.FinishStep())),
        st.builds(tree.StopRule, _levels(devices), st.builds(tree.ReturnHome, _any_statements(devices, 1))),
        st.builds(tree.FinishCycle, conditions(devices)),
        st.builds(tree.FaultReset, st.just(tree.StateIs(Name("START"), "pressed")) | conditions(devices)),
        st.builds(tree.OnlyWhile, outputs, _asked(devices)),
        st.builds(tree.NeverWith, outputs, outputs),
    )
    return draw(st.lists(kinds, max_size=3))


@st.composite
def _program(draw: st.DrawFn, sensible: bool) -> tree.Program:
    devices = draw(_devices())
    if sensible:
        devices = replace(devices, counters=(), signals=(), motors=())
        cycles: list[tree.Declaration] = [
            tree.Cycle(tree.Trigger(tree.StateIs(Name("START"), "pressed")), draw(_sensible_steps(devices)))
        ]
    else:
        cycles = draw(_any_cycles(devices))
    rules = draw(_rules(devices, sensible))
    if not sensible:
        rules += draw(_any_rules(devices))
    return tree.Program((*draw(_heads(devices)), *cycles, *rules))


@st.composite
def _heads(draw: st.DrawFn, devices: Devices) -> list[tree.Declaration]:
    """The title, the devices and what home is."""
    heads = list(devices.all)
    if draw(st.booleans()) and draw(st.booleans()):
        heads.append(_PUMP)
    if draw(st.booleans()):
        heads.insert(0, tree.Machine(tree.Text(draw(_TEXT).strip() or "M")))
    if draw(st.booleans()):
        places = [tree.PlaceIs(c.name, "at-end" if _rests_extended(c) else "at-home") for c in devices.cylinders]
        heads.append(tree.Home(places[0] if len(places) == 1 else tree.AllOf(tuple(places))))
    return heads


@st.composite
def _rules(draw: st.DrawFn, devices: Devices, sensible: bool) -> list[tree.Declaration]:
    rules: list[tree.Declaration] = []
    alarms = [d for d in devices.loads if d.kind != "motor"]
    if draw(st.booleans()) and alarms:
        rules.append(tree.OnFault((tree.Turn(True, alarms[0].name),)))
    if draw(st.integers(0, 3)):
        rules.append(tree.StopRule(tree.StateIs(Name("STOP"), "pressed")))
    solenoids = [
        tree.StateIs(name, "made")
        for cylinder in devices.cylinders
        for item in cylinder.items
        if isinstance(item.attribute, tree.DoubleSolenoid | tree.ThreePosition)
        for name in (item.attribute.extends, item.attribute.retracts)
    ]
    if len(solenoids) >= 2 and draw(st.booleans()):
        rules.append(tree.Never(tree.AllOf((solenoids[0], solenoids[1]))))
        rules.append(tree.Always(tree.NotCond(tree.AllOf((solenoids[0], solenoids[1])))))
    if draw(st.booleans()):  # kept by whoever presses a button for any time at all
        pressed, held = (tree.StateIs(Name("START"), word) for word in ("pressed", "held"))
        rules.append(tree.Whenever(pressed, held, draw(_times())))
    if not sensible:
        rules += draw(st.lists(_requirements(devices), max_size=2))
    return rules


@st.composite
def _requirements(draw: st.DrawFn, devices: Devices) -> tree.Requirement:
    """A requirement of any kind; the machine need not keep it."""
    outputs = [d.name for d in devices.loads]
    lit = st.nothing() if not outputs else st.sampled_from(outputs).map(lambda name: tree.StateIs(name, "on"))
    lasting = conditions(devices) | lit
    standing = draw(st.sampled_from([tree.Never, tree.Always, None]))
    if standing is not None:
        return standing(draw(lasting), draw(st.none() | lasting))
    moments = conditions(devices, extra=st.just(tree.StateIs(Name("START"), "pressed"))) | lit
    return tree.Whenever(draw(moments), draw(moments), draw(_times()))


def programs() -> st.SearchStrategy[tree.Program]:
    """Programs of everything the language can say; a machine need not be able to do it."""
    return _program(False)


def sensible_programs() -> st.SearchStrategy[tree.Program]:
    """Programs a machine can run, START pressed to start: every stroke can happen and every cylinder comes home."""
    return _program(True)


# --- programs with blocks that a machine can run


@dataclass(frozen=True)
class _Work:
    """What a piece of work may use. Each leaves every rod where it found it, so that pieces can stand anywhere."""

    devices: Devices
    cylinders: tuple[str, ...]
    routines: dict[str, tuple[str, ...]]  # and the cylinders each moves
    counters: tuple[str, ...]

    def only(self, cylinders: tuple[str, ...], counters: tuple[str, ...] = ()) -> _Work:
        """With fewer cylinders and counters: work that goes on at the same time shares none."""
        return replace(self, cylinders=cylinders, counters=counters)


@st.composite
def _there_and_back(draw: st.DrawFn, work: _Work, depth: int) -> tuple[tree.Statement, ...]:
    """One rod out of rest and back, with further work or a wait between."""
    name = draw(st.sampled_from(work.cylinders))
    rests = {c.name.text: _rests_extended(c) for c in work.devices.cylinders}[name]
    others = tuple(c for c in work.cylinders if c != name)
    between: tuple[tree.Statement, ...] = ()
    if others and depth:
        between = draw(_pieces(work.only(others, work.counters), depth - 1, most=1))
    elif draw(st.booleans()):
        between = (tree.CycleStep((tree.Wait("hold"),), None, draw(_times())),)
    out = draw(_stroke(work.devices, name, not rests, None))
    return (*out, *between, *draw(_stroke(work.devices, name, rests, None)))


@st.composite
def _piece(draw: st.DrawFn, work: _Work, depth: int) -> tuple[tree.Statement, ...]:
    kinds = ["strokes", "strokes"]
    plain = [c for c in work.cylinders if not {x.name.text: _rests_extended(x) for x in work.devices.cylinders}[c]]
    usable = sorted(r for r, moved in work.routines.items() if set(moved) <= set(work.cylinders))
    kinds += ["letters"] if plain else []
    kinds += ["do"] if usable else []
    kinds += ["count"] if work.counters else []
    if depth:
        kinds += ["choice", "times", "until"] + (["together"] if len(work.cylinders) > 1 else [])
    inner = _pieces(work, max(0, depth - 1), most=1)
    match draw(st.sampled_from(kinds)):
        case "letters":
            name = Name(draw(st.sampled_from(plain)))
            return (tree.Letters(((tree.Move(name, True),), (tree.Move(name, False),))),)
        case "do":
            return (tree.Do(Name(draw(st.sampled_from(usable)))),)
        case "count":
            return (tree.CycleStep((tree.Count(Name(draw(st.sampled_from(work.counters))), draw(st.booleans())),)),)
        case "choice":
            cases = [tree.Case(draw(_looked_at(work)), draw(inner))]
            cases += [tree.Case(draw(st.none() | _looked_at(work)), draw(inner))] if draw(st.booleans()) else []
            return (tree.Choice(tuple(cases)),)
        case "times":
            return (tree.Repeat(_lasting(draw(inner)), draw(st.integers(2, 3))),)
        case "until":
            asked, steps = draw(_looked_at(work)), _lasting(draw(inner))
            after = draw(st.booleans())
            return (tree.Repeat(steps, until=asked) if after else tree.Repeat(steps, while_=asked),)
        case "together":
            cut = draw(st.integers(1, len(work.cylinders) - 1))
            one, other = work.only(work.cylinders[:cut], work.counters), work.only(work.cylinders[cut:])
            sides = (draw(_pieces(side, max(0, depth - 1), most=1)) for side in (one, other))
            return (tree.Together(tuple(tree.Branch(side) for side in sides)),)
        case _:
            return draw(_there_and_back(work, depth))


def _lasting(steps: tuple[tree.Statement, ...]) -> tuple[tree.Statement, ...]:
    """Steps that take time whatever is chosen: what is done again must."""
    strokes = [s for s in steps if isinstance(s, tree.CycleStep) and isinstance(s.commands[-1], tree.Stroke)]
    if strokes or any(isinstance(s, tree.Letters) for s in steps):
        return steps
    return (*steps, tree.CycleStep((tree.Wait("hold"),), None, Quantity("0.5", "s")))


def _pieces(work: _Work, depth: int, *, most: int = 2) -> st.SearchStrategy[tuple[tree.Statement, ...]]:
    rows = st.lists(_piece(work, depth), min_size=1, max_size=most)
    return rows.map(lambda rows: tuple(statement for row in rows for statement in row))


def _looked_at(work: _Work) -> st.SearchStrategy[tree.Cond]:
    """What a choice or a repeat looks at: inputs nobody commands, and counters."""
    words = [(n, w) for n in work.devices.named("sensor") for w in ("made", "not made")]
    words += [(n, w) for n in work.devices.named("selector") for w in ("on", "off")]
    words += [("START", "held")]
    seen: st.SearchStrategy[tree.Cond] = st.sampled_from(words).map(lambda s: tree.StateIs(Name(s[0]), s[1]))
    if work.counters:
        counters = st.sampled_from(work.counters).map(Name)
        seen |= st.builds(tree.HasReached, counters, st.integers(1, 4))
    return seen


@st.composite
def _working_program(draw: st.DrawFn, depth: int) -> tree.Program:
    devices = replace(draw(_devices()), signals=(), motors=())
    names = tuple(c.name.text for c in devices.cylinders)
    counters = tuple(c.name.text for c in devices.counters)
    all_ = _Work(devices, names, {}, counters)
    routines = {}
    for name in draw(st.lists(st.sampled_from(_ROUTINES), max_size=1)):
        moved = (draw(st.sampled_from(names)),)
        routines[name] = (moved, draw(_pieces(all_.only(moved), 0, most=1)))
    all_ = replace(all_, routines={name: moved for name, (moved, _) in routines.items()})
    trigger = tree.Trigger(tree.StateIs(Name("START"), "pressed"))
    cycles: list[tree.Declaration] = []
    if len(names) > 1 and draw(st.integers(0, 2)) == 0:  # two stations; the second waits for the first to rest
        one, other = all_.only(names[:1], counters), all_.only(names[1:])
        waits = tree.CycleStep((tree.Wait("wait"),), tree.Until(tree.AtRest(Name("LOADER"))))
        cycles.append(tree.Cycle(trigger, draw(_pieces(one, depth)), Name("LOADER")))
        cycles.append(tree.Cycle(trigger, (waits, *draw(_pieces(other, depth))), Name("PRESS-2")))
    else:
        again = draw(st.none() | _looked_at(all_).map(tree.Again))
        cycles.append(tree.Cycle(trigger, _lasting(draw(_pieces(all_, depth))), None, again))
    cycles += [tree.Routine(Name(name), steps) for name, (_, steps) in routines.items()]
    response = tree.DropOut() if draw(st.booleans()) else tree.FinishStep()
    stop = tree.StopRule(tree.StateIs(Name("STOP"), "pressed"), response)
    return tree.Program((*draw(_heads(devices)), *cycles, stop))


def working_programs(depth: int = 2) -> st.SearchStrategy[tree.Program]:
    """Programs with blocks ``depth`` deep, and of several stations, that a machine can run; START starts each."""
    return _working_program(depth)


comments = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), max_size=12).map(str.strip)
"""What a comment may say, without its ``#``."""


@st.composite
def with_comments(draw: st.DrawFn, program: tree.Program) -> tree.Program:
    """The program with comments above and beside some of its lines, and below it."""

    def comment(node: tree.Line) -> tree.Comments:
        above = tuple(draw(st.lists(comments, max_size=2))) if draw(st.booleans()) else ()
        return tree.Comments(above, draw(comments) if draw(st.booleans()) else "")

    def commented(node: Any) -> Any:
        """The node with comments on itself, where it starts a line, and on the lines in it."""
        lines: dict[str, Any] = {
            f.name: tuple(map(commented, inner)) if isinstance(inner, tuple) else commented(inner)
            for f in fields(node)
            for inner in [getattr(node, f.name)]
            if isinstance(inner, tree.Line | tree.ReturnHome)
            or (isinstance(inner, tuple) and inner and isinstance(inner[0], tree.Line))
        }
        if isinstance(node, tree.Together | tree.Choice):  # their first lines are said by the same words
            parts = next(iter(lines.values()))
            lines = dict.fromkeys(lines, (replace(parts[0], comments=tree.Comments()), *parts[1:]))
        node = replace(node, **lines)
        return replace(node, comments=comment(node)) if isinstance(node, tree.Line) else node

    below = tuple(draw(st.lists(comments, max_size=2)))
    whole = tuple(map(commented, program.declarations))
    return replace(program, declarations=whole, comments_below=below)
