"""Whole valid programs for property tests: machines somebody could build, and cycles that make sense on them.

``programs()`` makes everything the language can say. ``sensible_programs()`` keeps to cycles that a machine can run:
every stroke has somewhere to go and a way to end, every cylinder comes back to where it rested. A new feature of
the language enters here in the same commit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from hypothesis import strategies as st

from grammar.sequence import tree
from grammar.sequence.tree import Name, Quantity

__all__ = ["comments", "conditions", "programs", "quantities", "sensible_programs", "with_comments"]

_CYLINDERS = ("PLATEN", "Clamp", "FEED", "Stößel", "1-CYL", "ZYLINDER_2")
_SENSORS = ("PART", "GUARD", "Doors", "2PX")
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
def _cylinder(draw: st.DrawFn, number: int, name: str) -> tree.Cylinder:
    contact = st.sampled_from(["normally open", "normally closed"])
    medium = draw(st.sampled_from(["hydraulic", "pneumatic"]))
    stroke = draw(st.sampled_from([("100", "mm"), ("25", "cm"), ("4", "in"), ("80.5", "mm")]))
    parts: list[tree.Attribute] = [tree.StrokeLength(Quantity(*stroke))]
    if draw(st.booleans()):
        parts += [tree.Bore(Quantity("80", "mm")), tree.Rod(Quantity("45", "mm")), tree.Flow(Quantity("12", "L/min"))]
    if draw(st.booleans()):
        parts.append(tree.TravelTime("extends", Quantity("1", "s"), draw(st.none() | st.just(Quantity("1.5", "s")))))
        parts.append(tree.TravelTime("retracts", Quantity("800", "ms")))
    rests_extended = False
    if draw(st.booleans()):
        parts.append(tree.SingleSolenoid(Name(f"SOL{number}")))
        if draw(st.booleans()):
            parts.append(tree.SingleActing())
        rests_extended = draw(st.booleans()) and draw(st.booleans())
    else:
        parts.append(tree.DoubleSolenoid(Name(f"SOL{number}A"), Name(f"SOL{number}B")))
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
    return Devices(cylinders, tuple(inputs), tuple(loads))


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
    commands: list[tree.Command] = [tree.Stroke("extend" if extend else "retract", Name(name))]
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


@st.composite
def _any_step(draw: st.DrawFn, devices: Devices) -> tree.CycleStep:
    """A step the language can write, whether or not a machine could do it."""
    cylinders = st.none() | st.sampled_from([c.name for c in devices.cylinders])
    strokes: st.SearchStrategy[tree.Command] = st.builds(
        tree.Stroke, st.sampled_from(["extend", "retract"]), cylinders
    )
    if devices.loads:
        strokes |= st.builds(tree.Turn, st.booleans(), st.sampled_from([d.name for d in devices.loads]))
    commands = tuple(draw(st.lists(strokes, min_size=0, max_size=3)))
    if not commands or draw(st.integers(0, 3)) == 0:
        commands = (*commands, tree.Wait(draw(st.sampled_from(["hold", "wait"]))))
    end = draw(st.sampled_from(["until", "time", "none"]))
    bare_place = st.builds(tree.PlaceIs, st.none(), st.sampled_from(["at-end", "at-home"]))
    until = tree.Until(draw(_until(devices) | bare_place)) if end == "until" else None
    duration = draw(_times()) if end == "time" else None
    return tree.CycleStep(commands, until, duration, draw(_within()))


@st.composite
def _program(draw: st.DrawFn, sensible: bool) -> tree.Program:
    devices = draw(_devices())
    pressed = tree.StateIs(Name("START"), "pressed")
    trigger_condition: tree.Cond = pressed
    if draw(st.booleans()):
        trigger_condition = tree.AllOf((pressed, draw(_levels(devices))))
    trigger: tree.Trigger | None = tree.Trigger(pressed)
    if sensible:
        steps = draw(_sensible_steps(devices))
    else:
        steps = tuple(draw(st.lists(_any_step(devices), min_size=1, max_size=5)))
        trigger = draw(st.sampled_from([None, tree.Trigger(trigger_condition)]))
    heads: list[tree.Declaration] = [*devices.cylinders, *devices.inputs, *devices.loads]
    if draw(st.booleans()):
        heads.insert(0, tree.Machine(tree.Text(draw(_TEXT).strip() or "M")))
    if draw(st.booleans()):
        places = [tree.PlaceIs(c.name, "at-end" if _rests_extended(c) else "at-home") for c in devices.cylinders]
        heads.append(tree.Home(places[0] if len(places) == 1 else tree.AllOf(tuple(places))))
    return tree.Program((*heads, tree.Cycle(trigger, steps), *draw(_rules(devices, sensible))))


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
        if isinstance(item.attribute, tree.DoubleSolenoid)
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


comments = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), max_size=12).map(str.strip)
"""What a comment may say, without its ``#``."""


@st.composite
def with_comments(draw: st.DrawFn, program: tree.Program) -> tree.Program:
    """The program with comments above and beside some of its lines, and below it."""

    def comment(node: tree.Line) -> tree.Comments:
        above = tuple(draw(st.lists(comments, max_size=2))) if draw(st.booleans()) else ()
        return tree.Comments(above, draw(comments) if draw(st.booleans()) else "")

    def commented(node: tree.Declaration) -> tree.Declaration:
        match node:
            case tree.Cylinder():
                node = replace(node, items=tuple(replace(i, comments=comment(i)) for i in node.items))
            case tree.Cycle():
                trigger = node.trigger and replace(node.trigger, comments=comment(node.trigger))
                steps = tuple(replace(s, comments=comment(s)) for s in node.steps)
                node = replace(node, trigger=trigger, steps=steps)
            case _:
                pass
        return replace(node, comments=comment(node))

    below = tuple(draw(st.lists(comments, max_size=2)))
    return replace(program, declarations=tuple(map(commented, program.declarations)), comments_below=below)
