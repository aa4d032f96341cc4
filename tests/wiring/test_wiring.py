"""Wire numbers, terminals, strip, colours, designations and lists as CSV, against the standards they follow."""

from __future__ import annotations

import csv
import io
from itertools import count, pairwise

import networkx as nx  # type: ignore[import-untyped]
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lark import Lark, Tree

from compiler.chart import Chart, Interlock, Step, Transition
from compiler.condition import Not, Rise, Signal
from compiler.machine import (
    Actuator,
    End,
    LimitSwitch,
    Machine,
    Medium,
    Motor,
    MotorKind,
    PressureSwitch,
    Rapid,
    RapidKind,
    Travel,
    TravelBasis,
    Valve,
    ValveKind,
)
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Form,
    Kind,
    Name,
    Network,
    Parallel,
    Series,
)
from targets.cells import csv_rows
from targets.choices import Letters, Standard, Supply
from targets.target import CAUTION
from targets.wiring.alike import unlike
from targets.wiring.colours import colour, colour_rule
from targets.wiring.connections import connections, strip, strip_name
from targets.wiring.designations import designated, designations
from targets.wiring.lists import Sheet, as_csv, sheets
from targets.wiring.nets import COMMON, LIVE, WiredCoil, WiredContact, wired
from targets.wiring.purposes import asked_of
from tests.relay.strategies import circuits
from tests.wiring.seal_in import SEAL_IN, circuit_of


def test_wires_and_terminals_of_a_seal_in_circuit_as_an_electrician_numbers_them() -> None:
    """Numbered by hand: rails 1 and 2, a new number after every contact, contacts counted along the rungs."""
    circuit = wired(circuit_of(SEAL_IN))
    found = [(c.device, c.terminals, c.left, c.right) for c in circuit.contacts]
    assert found == [
        ("START", ("13", "14"), 1, 3),
        ("CR1", ("13", "14"), 1, 3),
        ("STOP", ("11", "12"), 3, 4),
        ("TR1", ("15", "16"), 4, 5),
        ("CR1", ("23", "24"), 1, 6),
        ("LS1", ("13", "14"), 6, 7),
        ("CR1", ("33", "34"), 1, 8),
    ]
    assert [(c.device, c.terminals, c.left, c.right) for c in circuit.coils] == [
        ("CR1", ("A1", "A2"), 5, 2),
        ("TR1", ("A1", "A2"), 7, 2),
        ("SOL1", ("1", "2"), 8, 2),
        ("BUSY", ("X1", "X2"), 8, 2),
    ]


def electrically(circuit: Circuit) -> nx.Graph:
    """The points of a circuit, drawn from its tree alone: a node for each side of a network and each terminal, an
    edge where nothing lies between two. The devices' own terminals come last in a node."""
    graph = nx.Graph()
    numbers = count()

    def lay(network: Network, left: object, right: object) -> None:
        match network:
            case Contact(name=name):
                place = next(numbers)
                graph.add_edge(left, (place, name.text, 0))
                graph.add_edge((place, name.text, 1), right)
            case Series(parts=()):
                graph.add_edge(left, right)
            case Series(parts=parts):
                between = [("between", next(numbers)) for _ in parts[1:]]
                for part, (a, b) in zip(parts, pairwise([left, *between, right]), strict=True):
                    lay(part, a, b)
            case Parallel(parts=parts):
                for part in parts:
                    ends = ("in", next(numbers)), ("out", next(numbers))
                    graph.add_edges_from([(left, ends[0]), (ends[1], right)])
                    lay(part, *ends)

    for rung in circuit.rungs:
        end = ("end", rung.number)
        lay(rung.network, "live", end)
        for feed in rung.feeds:
            place = next(numbers)
            graph.add_edge(end, (place, feed.name.text, 0))
            graph.add_edge((place, feed.name.text, 1), "common")
    return graph


@settings(deadline=None, max_examples=15)
@given(circuit=circuits(comments=False, leaves=5))
def test_wire_numbers_are_one_to_one_with_what_is_electrically_one(circuit: Circuit) -> None:
    """opentextbc "Basic Motor Control": one number for each electrically common point, another after each device.
    Points are the connected components of a graph made from the tree alone (networkx)."""
    parts = list(nx.connected_components(electrically(circuit)))
    devices = [[(node[1].casefold(), node[2]) for node in part if len(node) == 3] for part in parts]
    made = wired(circuit)
    sides: dict[int, list[tuple[str, int]]] = {}
    both: tuple[WiredContact | WiredCoil, ...] = (*made.contacts, *made.coils)
    for one in both:
        sides.setdefault(one.left, []).append((one.device.casefold(), 0))
        sides.setdefault(one.right, []).append((one.device.casefold(), 1))
    assert sorted(map(sorted, sides.values())) == sorted(sorted(part) for part in devices if part)
    assert sorted(made.points()) == sorted(sides)
    terminals = [(c.device.casefold(), c.terminals) for c in made.contacts]
    assert len(set(terminals)) == len(terminals)


@settings(deadline=None, max_examples=15)
@given(circuit=circuits(comments=False, leaves=5))
def test_the_machine_meets_the_panel_at_the_strip_only(circuit: Circuit) -> None:
    made = wired(circuit)
    inside = {Kind.RELAY, Kind.LATCHING_RELAY, Kind.TIMER, Kind.COUNTER, Kind.CONTACTOR}
    outside = {d.name.text.casefold() for d in circuit.devices if d.kind not in inside}
    for one in connections(made):
        ends = [one.here, one.there]
        if any(device.casefold() in outside for device, _ in ends):
            assert (strip_name(made), str(one.wire)) in ends
    assert {t.wire for t in strip(made)} >= {w for w in (LIVE, COMMON) if w in made.points()}


@given(cells=st.lists(st.text(max_size=12), min_size=1, max_size=4))
@example(cells=["\f=", "\u00a0-1"])
def test_csv_is_rfc_4180_and_no_cell_is_a_formula(cells: list[str]) -> None:
    text = as_csv(Sheet("x", "x", tuple(cells), (tuple(cells),)))
    assert text.endswith("\r\n")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len(rows) == 3
    assert rows[2] == [CAUTION, *[""] * (len(cells) - 1)]
    for cell, printed in zip(cells, rows[1], strict=True):
        bare = cell.lstrip("'")  # or an apostrophe of the name itself would be taken for one put before it
        risky = bare.strip()[:1] in {"=", "+", "-", "@"} or bare[:1] in {"\t", "\r"}
        assert printed == (f"'{cell}" if risky else cell)
        assert printed.strip()[:1] not in {"=", "+", "-", "@"}


def test_no_list_has_two_columns_of_one_name() -> None:
    """A reader by column names, such as pandas, would rename the second."""
    for sheet in sheets(wired(circuit_of(SEAL_IN)), Machine()):
        assert len({*sheet.heads}) == len(sheet.heads)
        assert all(len(row) == len(sheet.heads) for row in sheet.rows)


def test_the_strip_holds_one_conductor_a_place() -> None:
    """IEC 60204-1:2016 13.1.1 (from memory). Wire 3 joins START and LS2 out at the machine, nothing in the panel;
    wire 1 leads to one contact of CR1 and on from there."""
    text = SEAL_IN.replace("START or CR1, STOP NC", "(START and LS2) or CR1, STOP NC")
    made = wired(circuit_of(text.replace("limit switch LS1", "limit switch LS1\nlimit switch LS2")))
    (listed,) = (s for s in sheets(made, Machine()) if s.key == "strip")
    rows = {row[0]: row[1:] for row in listed.rows}
    assert rows["1"] == ("1", "CR1:13", "START:13", "CR1:23 CR1:33")
    assert rows["3"] == ("2, bridged", "", "START:14 LS2:13", "")
    landed = [end for one in connections(made) for end in (one.here, one.there) if end[0] == strip_name(made)]
    for row in listed.rows:
        assert landed.count((strip_name(made), row[0])) == len(row[2].split()) + len(row[3].split())


def test_a_quote_is_doubled_as_in_the_example_of_rfc_4180() -> None:
    assert as_csv(Sheet("x", "x", ("a",), (('a "b"',),))).startswith('a\r\n"a ""b"""\r\n')


def test_colours_follow_the_standard_chosen() -> None:
    """NFPA 79 13.2: ungrounded ac control red, dc control blue, grounded ac white. EN 60204-1 13.2.3: light blue."""
    assert colour(7, Standard.NFPA, Supply.AC) == "red"
    assert colour(7, Standard.NFPA, Supply.DC) == "blue"
    assert colour(COMMON, Standard.NFPA, Supply.AC) == "white"
    assert colour(COMMON, Standard.IEC, Supply.AC) == "light blue"
    assert colour(COMMON, Standard.NFPA, Supply.DC) == "white with blue stripe"
    assert colour(7, Standard.IEC, Supply.DC) == "blue"
    for standard in Standard:
        for supply in Supply:
            told = colour_rule(standard, supply)
            edition = {Standard.NFPA: "NFPA 79:2018", Standard.IEC: "IEC 60204-1:2016"}[standard]
            assert f"{edition} 13.2" in told
            made = sheets(wired(circuit_of(SEAL_IN)), Machine(), standard=standard, supply=supply)
            assert [s.note for s in made] == [told, "", "", "", ""]
            *_, said, _ = csv.reader(io.StringIO(as_csv(made[0]), newline=""))
            assert said == [told, "", "", "", "", ""]
            assert f"{supply} control circuit" in told
            assert "green" in told
            # Green is for protective conductors alone (EN 60204-1 13.2.2, NFPA 79 13.2).
            assert not any("green" in colour(wire, standard, supply) for wire in (LIVE, COMMON, 3))


def test_designations_by_jic_and_by_iec_81346() -> None:
    """JIC/NMTBA EGP1-1967: PB, LS, CR, TR, SOL, LT, the number first. IEC 81346-2: S, B, K, M, P."""
    devices = circuit_of(SEAL_IN).devices
    assert list(designations(devices, Letters.JIC).values()) == ["1PB", "2PB", "1LS", "1CR", "1TR", "1SOL", "1LT"]
    assert list(designations(devices, Letters.IEC).values()) == ["-S1", "-S2", "-B1", "-K1", "-K2", "-M1", "-P1"]


@pytest.mark.parametrize(
    ("kind", "jic", "iec"),
    [
        # JIC/NMTBA EGP1-1967 as reproduced in a fluid-power data sheet (AH from common practice); IEC 81346-2:2009,
        # Table 1 main classes (from memory but K, Q, F and S).
        ("pushbutton", "PB", "S"),
        ("selector", "SS", "S"),
        ("sensor", "PRS", "B"),
        ("limit switch", "LS", "B"),
        ("pressure switch", "PS", "B"),
        ("relay", "CR", "K"),
        ("latching relay", "CR", "K"),
        ("timer", "TR", "K"),
        ("counter", "CTR", "K"),
        ("solenoid", "SOL", "M"),
        ("lamp", "LT", "P"),
        ("horn", "AH", "P"),
        ("motor", "MTR", "M"),
        ("contactor", "CON", "Q"),
    ],
)
def test_the_letters_of_every_kind_of_device(kind: str, jic: str, iec: str) -> None:
    device = Device(Kind(kind), Name("X"))
    assert designations([device], Letters.JIC) == {"X": f"1{jic}"}
    assert designations([device], Letters.IEC) == {"X": f"-{iec}1"}


def test_a_circuit_under_its_designations_is_the_same_circuit_and_says_so_in_its_comments() -> None:
    text = SEAL_IN.replace("rung 2:", "# TR1 times CR1, not CR11 or cr1.\nrung 2:")
    text = f'circuit "Press"\n# CR1 seals itself in.\n\n{text}'
    circuit = circuit_of(text)
    names = designations(circuit.devices, Letters.IEC)
    shown = designated(circuit, names)
    assert shown.notes == ("-K1 seals itself in.",)
    assert shown.rungs[1].comments.above == ("-K2 times -K1, not CR11 or cr1.",)
    assert not list(unlike(designated(shown, {new: old for old, new in names.items()}), circuit))
    assert [d.name.text for d in shown.devices] == list(names.values())


@pytest.mark.parametrize(
    ("forms", "terminals"),
    [
        # EN 50011: a contactor relay 22E, contacts in the order make, break, break, make; 40E, four that make.
        ("NO NC NC NO", "13-14 21-22 31-32 43-44"),
        ("NO NO NO NO", "13-14 23-24 33-34 43-44"),
    ],
)
def test_terminals_of_a_contactor_relay(forms: str, terminals: str) -> None:
    contacts = ", ".join(f"CR1 {form}" for form in forms.split())
    circuit = circuit_of(f"pushbutton A\nrelay CR1\nlamp L\nrung 1: A, feeds CR1\nrung 2: {contacts}, feeds L\n")
    assert " ".join("-".join(c.terminals) for c in wired(circuit).contacts_of("CR1")) == terminals


@pytest.mark.parametrize(
    ("function", "contacts", "terminals"),
    [
        # EN 50005: functions 5-6 and 7-8 are delayed contacts (from memory); 1-2 and 3-4 follow at once.
        ("on-delay 4 s", "TR1 NOTC, TR1 NCTO, TR1", "17-18 25-26 33-34"),
        ("off-delay 4 s", "TR1 NOTO, TR1 NCTC, TR1 NC", "17-18 25-26 31-32"),
        ("one-shot 4 s", "TR1, TR1 NC", "17-18 25-26"),
    ],
)
def test_terminals_of_a_time_relay(function: str, contacts: str, terminals: str) -> None:
    feeds = "rung 1: A, feeds TR1 supply\nrung 2: B, feeds TR1 control\n"
    head = f"pushbutton A\npushbutton B\ntimer TR1, {function}\nlamp L\n"
    made = wired(circuit_of(f"{head}{feeds}rung 3: {contacts}, feeds L\n"))
    assert " ".join("-".join(c.terminals) for c in made.contacts_of("TR1")) == terminals
    assert [c.terminals for c in made.coils_of("TR1")] == [("A1", "A2"), ("B1", "A2")]


@settings(deadline=None, max_examples=15)
@given(circuit=circuits(comments=False, leaves=5))
def test_terminal_numbers_are_valid_by_en_50005(circuit: Circuit) -> None:
    """Both terminals of a contact share the first figure, which no other contact of the device has; the second
    figures are 1-2, 3-4, 5-6 or 7-8. The standard has nine first figures: what goes beyond the bill says."""
    made = wired(circuit)
    for device in circuit.devices:
        places = []
        for contact in made.contacts_of(device.name.text):
            one, other = contact.terminals
            assert one[:-1] == other[:-1]
            assert one[-1] + other[-1] in {"12", "34", "56", "78"}
            assert (one[-1] in "15") is (contact.contact.form in {Form.NC, Form.NCTO, Form.NCTC})
            places.append(one[:-1])
        assert places == [str(k + 1) for k in range(len(places))]


def test_the_bill_says_where_a_device_has_more_contacts_than_en_50005_has_numbers_for() -> None:
    said = {count: parts_of({"pushbutton": " ".join(["NO"] * count)})["pushbutton"][1] for count in (9, 10)}
    assert {count: "EN 50005" in note for count, note in said.items()} == {9: False, 10: True}


def parts_of(forms: dict[str, str]) -> dict[str, tuple[str, str]]:
    """For inputs with so many contacts: what the bill asks for and its note."""
    kinds = "".join(f"{kind} {kind.replace(' ', '-')}\n" for kind in forms)
    contacts = ", ".join(f"{kind.replace(' ', '-')} {f}" for kind, some in forms.items() for f in some.split())
    circuit = circuit_of(f"{kinds}lamp L\nrung 1: {contacts}, feeds L\n")
    bill = next(s for s in sheets(wired(circuit), Machine()) if s.key == "parts")
    return {
        row[1].partition(",")[0]: (row[1].partition(", ")[2], row[3]) for row in bill.rows if row[1] != "terminal"
    }


def test_the_bill_says_where_more_contacts_are_asked_than_such_a_device_has() -> None:
    """Common practice: a limit or pressure switch has 1 NO and 1 NC, a sensor one output, a button blocks."""
    usual = {"limit switch": "NO NC", "pressure switch": "NC", "sensor": "NO", "pushbutton": "NO NO NC NC"}
    assert {note for _, note in parts_of(usual).values()} == {""}
    many = {"limit switch": "NO NO NO", "pressure switch": "NC NC", "sensor": "NO NC", "pushbutton": "NO NO NO NO NC"}
    found = parts_of(many)
    assert found["limit switch"][0] == "3 NO"
    for kind in many:
        assert "input relay" in found[kind][1]


def test_the_lists_say_what_each_device_is_there_for_and_how_many_terminals_it_takes() -> None:
    """By hand: START and STOP meet on wire 3, SOL1 and BUSY on wires 2 and 8; wires 1, 4, 6 and 7 leave for one."""
    machine = Machine(start="START", stop="STOP")
    lists = {s.key: s for s in sheets(wired(circuit_of(SEAL_IN)), machine)}
    assert {row[1]: row[3:] for row in lists["devices"].rows} == {
        "START": ("", "starts it", "1"),
        "STOP": ("", "stops it", "1"),
        "LS1": ("", "", "2"),
        "CR1": ("", "", "1 2 3"),
        "TR1": ("on-delay 4 s", "", "1 2"),
        "SOL1": ("", "", "3"),
        "BUSY": ("", "", "3"),
    }
    assert lists["parts"].rows[-1][:3] == ("10", "terminal", "XD1")
    assert lists["contacts"].rows == (
        ("CR1", "NO", "13-14", "1", "1-3", "1 of 4"),
        ("CR1", "NO", "23-24", "2", "1-6", "2 of 4"),
        ("CR1", "NO", "33-34", "3", "1-8", "3 of 4"),
        ("TR1", "NCTO", "15-16", "1", "4-5", "1"),
    )


_WORKED = """\
pressure switch PS1
limit switch LS1
relay CR1
relay CR1A
latching relay KR1
timer TR1, on-delay 2 s
solenoid Y1
solenoid Y3
contactor M1
motor FAN

# CR1: step S1
# (extend). It follows START.
rung 1: PS1, feeds CR1 and CR1A
# KR1 is unlatched.
rung 2: LS1, feeds KR1 unlatch
# KR1, a memory: step 1. More.
rung 3: LS1 NC, CR1, CR1A, KR1, TR1 NOTC, feeds KR1 latch and TR1 and Y1 and Y3 and M1 and FAN
"""


def worked() -> Machine:
    second = Travel(least_us=1, usual_us=1, greatest_us=1, basis=TravelBasis.STATED)
    rapid = Rapid(kind=RapidKind.REGENERATIVE, solenoid="Y3", time=second)
    press = Actuator(
        name="PRESS", medium=Medium.HYDRAULIC, stroke_um=250_000, extend_time=second, retract_time=second,
        valve=Valve(kind=ValveKind.SPRING_RETURN, extend="Y1", rapid=rapid),
        limit_switches=(LimitSwitch(name="LS1", at_um=250_000, reset_um=1, toward=End.END),),
        pressure_switches=(PressureSwitch(name="PS1", pressure_bar=140),),
    )  # fmt: skip
    return Machine(
        actuators=(press,), motors=(Motor(name="BELT", kind=MotorKind.ELECTRIC, forward="M1", reverse="M2"),)
    )


def test_purposes_come_from_the_machine_and_from_the_rungs() -> None:
    lists = {s.key: s for s in sheets(wired(circuit_of(_WORKED)), worked())}
    assert {row[1]: row[4:] for row in lists["devices"].rows} == {
        "PS1": ("PRESS at 140 bar", "1"),
        "LS1": ("PRESS at 250 mm", "2 3"),
        "CR1": ("step S1 (extend)", "1 3"),
        "CR1A": ("repeats CR1", "1 3"),
        "KR1": ("a memory: step 1", "2 3"),
        "TR1": ("", "3"),
        "Y1": ("sends PRESS out", "3"),
        "Y3": ("makes PRESS quick on its way out (regenerative)", "3"),
        "M1": ("runs BELT forward", "3"),
        "FAN": ("", "3"),
    }


def test_what_a_sequence_asks_of_an_input_that_belongs_to_nothing_else() -> None:
    """By hand: F is waited for in S1 and S2, G lets Y1 come on and is waited for nowhere."""
    ways = (("S1", Signal(device="F")), ("S2", Not(of=Rise(device="F"))))
    chart = Chart(
        inputs=("F", "G"),
        outputs=("Y1",),
        steps=(Step(name="S1", initial=True), Step(name="S2")),
        transitions=tuple(
            Transition(name=f"T{k}", sources=(at,), targets=("S1",), condition=on) for k, (at, on) in enumerate(ways)
        ),
        interlocks=(Interlock(output="Y1", only_while=Signal(device="G")),),
    )
    circuit = circuit_of("sensor F\nsensor G\nsolenoid Y1\nrung 1: F, G, feeds Y1\n")
    lists = {s.key: s for s in sheets(wired(circuit), Machine(), asked=asked_of(chart))}
    assert {row[1]: row[4] for row in lists["devices"].rows} == {
        "F": "asked in steps S1, S2",
        "G": "lets Y1 come on",
        "Y1": "",
    }


def test_what_is_asked_for_is_rated_and_a_contactor_stands_in_the_panel() -> None:
    """EN 50005: a coil is A1-A2, a second one B1-B2; a delayed changeover 15-16-18; 1 and 2 are main contacts."""
    made = wired(circuit_of(_WORKED))
    asked = {row[2]: row for row in next(s for s in sheets(made, worked()) if s.key == "parts").rows}
    assert asked["PS1"][1] == "pressure switch set to 140 bar, 1 NO"
    assert "two coils 24 V dc (latch A1-A2, unlatch B1-B2)" in asked["KR1"][1]
    assert "15-16-18" in asked["TR1"][3]
    assert asked["M1"][1] == "contactor, coil 24 V dc"
    assert "coil of its contactor" in asked["FAN"][3]
    assert [one.terminals for one in made.coils_of("M1")] == [("A1", "A2")]
    assert not any(device == "M1" for terminal in strip(made) for device, _ in terminal.field)


def test_a_relay_with_more_contacts_than_poles_is_asked_for_by_itself() -> None:
    """Four changeover contacts are those of the usual plug-in relay (common practice)."""
    head = "pushbutton A\nrelay CR1\nrelay CR2\nlatching relay KR1\ntimer TR1, on-delay 2 s\nlamp L\n"
    latch = "rung 1: A, feeds CR1 and CR2 and KR1 latch and TR1\nrung 2: A NC, feeds KR1 unlatch\n"
    used = ", ".join(["CR1", "CR1 NC", "CR1", "CR1", "CR1", "CR2", "KR1", "TR1 NOTC", "TR1 NCTO", "TR1"])
    made = wired(circuit_of(f"{head}{latch}rung 3: {used}, feeds L\n"))
    lists = {s.key: s for s in sheets(made, Machine(), poles=4)}
    asked = {row[2]: row for row in lists["parts"].rows}
    assert asked["CR1"][1] == "relay, coil 24 V dc, 5 contacts"
    assert asked["CR1"][3] == "more than the 4 of one relay"
    assert asked["CR2"][:3] == ("1", "relay, coil 24 V dc, 4 changeover contacts", "CR2")
    assert "11-14" in asked["CR2"][3]
    assert asked["TR1"][1] == "timer, on-delay 2 s, supply 24 V dc, 1 NO and 1 NOTC and 1 NCTO"
    assert asked["A"][1] == "pushbutton, 1 NO and 1 NC"
    shares = [row[5] for row in lists["contacts"].rows if row[0] == "CR1"]
    assert shares == ["1 of 4", "2 of 4", "3 of 4", "4 of 4", "5 of 4, too many"]


_RFC_4180 = Lark(
    r"""
    start: record (CRLF record)* CRLF?
    record: field ("," field)*
    field: escaped | TEXT?
    escaped: DQUOTE
    DQUOTE: /"([^"]|"")*"/
    TEXT: /[^",\r\n]+/
    CRLF: "\r\n"
    """
)


def by_the_grammar(text: str) -> list[list[str]]:
    """The records of a file by the grammar of RFC 4180 section 2 (the texts in it may be any but the four signs)."""
    records = []
    for record in (child for child in _RFC_4180.parse(text).children if isinstance(child, Tree)):
        trees = [field for field in record.children if isinstance(field, Tree)]
        fields = [str(next(iter(field.scan_values(lambda _: True)), "")) for field in trees]
        records.append([f[1:-1].replace('""', '"') if f.startswith('"') else f for f in fields])
    return records


def test_lists_are_read_the_same_by_the_csv_module_and_by_the_grammar_of_rfc_4180() -> None:
    """pandas would be a third reader; it is too large to install for it."""
    text = SEAL_IN.replace(" LS1", ' "say, ""LS"" 1"'.replace('""', "'"))
    for sheet in sheets(wired(circuit_of(text)), Machine(), letters=Letters.IEC):
        printed = as_csv(sheet)
        read = list(csv.reader(io.StringIO(printed, newline="")))
        assert read == [row for row in by_the_grammar(printed) if row != [""]]
        assert csv_rows(printed)[1 : 1 + len(sheet.rows)] == [list(row) for row in sheet.rows]
        assert not any(cell[:1] in {"=", "+", "-", "@"} for row in read for cell in row)
