"""The rating lines of a cylinder and of the pump become Ratings and Pump."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

from compiler.physics.supply import delivered_lpm
from compiler.ratings import Pump, Ratings
from compiler.units import (
    bar,
    cubic_centimetres_a_turn,
    kilograms,
    litres,
    litres_per_minute,
    micrometres,
    microseconds,
    newtons,
    share,
    turns_a_minute,
)
from grammar.sequence import tree
from grammar.sequence.words import dimension

if TYPE_CHECKING:
    from compiler.lowering.devices import Devices

__all__ = ["line_key", "pump_of", "ratings_of"]


def line_key(part: tree.Attribute) -> str:
    """What a cylinder may state once: lines of one key say the same thing twice."""
    match part:
        case tree.TravelTime(direction=direction):
            return direction
        case tree.Load(amount=amount) if dimension(amount.unit) == "mass":
            return "Load of mass"
        case tree.Load(direction=direction):
            return f"Load {direction}"
        case tree.Efficiency(kind=kind):
            return f"Efficiency {kind}".rstrip()
        case _:
            return type(part).__name__


def ratings_of(devices: Devices, once: dict[str, tree.Attribute], pump: Pump | None) -> Ratings:
    """What the lines of a cylinder state. A flow or pressure it does not state is the pump's, where there is one."""
    found: dict[str, object] = {}
    for part in once.values():
        match part:
            case tree.Bore(spread=spread):
                found["bore_spread"] = _spread(devices, spread)
            case tree.Flow(flow=flow, spread=spread):
                found["flow_lpm"] = devices.value(litres_per_minute, flow)
                found["flow_spread"] = _spread(devices, spread)
            case tree.Pressure(pressure=pressure, spread=spread):
                found["pressure_bar"] = devices.value(bar, pressure)
                found["pressure_spread"] = _spread(devices, spread)
            case tree.Load():
                found |= _load(devices, part)
            case tree.Friction(amount=amount):
                if _is(devices, amount, "force", "share", told="a force (N, kN, lbf) or a percentage (%)"):
                    by_force = dimension(amount.unit) == "force"
                    name, convert = ("friction_n", newtons) if by_force else ("friction_share", share)
                    found[name] = devices.value(convert, amount)
            case tree.Efficiency(share=amount):
                found["efficiency"] = devices.value(share, amount)
            case tree.ShiftTime(time=time, spread=spread):
                found["shift_us"] = devices.value(microseconds, time)
                found["shift_spread"] = _spread(devices, spread)
            case tree.CushionTime(time=time):
                found["cushion_us"] = devices.value(microseconds, time)
            case tree.Tube():
                found["tube_l"] = _tube(devices, part)
            case _:
                pass
    found = {name: value for name, value in found.items() if value is not None}
    return Ratings.model_validate(found | ({} if pump is None else _from_pump(pump, found)))


def _from_pump(pump: Pump, stated: dict[str, object]) -> dict[str, object]:
    given: dict[str, object] = {}
    flow = delivered_lpm(pump)
    if "flow_lpm" not in stated and flow is not None:
        given |= {"flow_lpm": flow, "flow_spread": pump.flow_spread, "from_pump": True}
    if "pressure_bar" not in stated and pump.pressure_bar is not None:
        given |= {"pressure_bar": pump.pressure_bar, "pressure_spread": pump.pressure_spread}
    return given


def _load(devices: Devices, part: tree.Load) -> dict[str, object]:
    out = part.direction == "extends"
    if not _is(devices, part.amount, "force", "mass", told="a force (N, kN, lbf) or a mass (kg, lb)"):
        return {}
    if dimension(part.amount.unit) == "mass":
        mass = devices.value(kilograms, part.amount)
        if not part.lifted and not out:
            devices.fault("RW215", "a mass that is moved level resists both strokes alike", part.span,
                          cure="leave the direction out, or add: lifted")  # fmt: skip
        return {"mass_kg": mass, "lifted_out": part.lifted and out, "lifted_back": part.lifted and not out}
    if part.lifted:
        devices.fault("RW215", "a force is not lifted, a mass is", part.span, cure="load 200 kg, lifted")
    return {"resists_out_n" if out else "resists_back_n": devices.value(newtons, part.amount)}


def _tube(devices: Devices, part: tree.Tube) -> float | None:
    """The volume of a tube in litres."""
    if part.length is None:
        told = "a volume (L, cm3, in3), or a diameter and a length as in 6 mm by 2 m"
        return devices.value(litres, part.amount) if _is(devices, part.amount, "volume", told=told) else None
    inside, length = devices.value(micrometres, part.amount), devices.value(micrometres, part.length)
    return None if inside is None or length is None else pi * (inside / 1e5) ** 2 / 4 * length / 1e5


def _is(devices: Devices, amount: tree.Quantity, *kinds: str, told: str) -> bool:
    """Whether a quantity is of one of some kinds; a fault, which tells what was expected, where it is not."""
    if dimension(amount.unit) in kinds:
        return True
    devices.fault("RW206", f"{amount.number} {amount.unit} does not fit here", amount.span, expected=told)
    return False


def _spread(devices: Devices, quantity: tree.Quantity | None) -> float | None:
    if quantity is None:
        return None
    spread = devices.value(share, quantity)
    if spread is not None and spread >= 1:
        devices.fault("RW206", "give or take all of it leaves nothing", quantity.span, expected="less than 100 %")
        return None
    return spread


def pump_of(devices: Devices, program: tree.Program) -> Pump | None:
    """The pump the program declares, or None; a second one is a fault."""
    pumps = [d for d in program.declarations if isinstance(d, tree.Pump)]
    for extra in pumps[1:]:
        devices.fault("RW211", "the machine already has a pump", extra.span)
    if not pumps:
        return None
    found: dict[str, object] = {}
    seen: set[str] = set()
    for part in (item.attribute for item in pumps[0].items):
        if line_key(part) in seen:
            devices.fault("RW211", "the pump already has this", part.span)
        seen.add(line_key(part))
        found |= _pump_line(devices, part)
    return Pump.model_validate({name: value for name, value in found.items() if value is not None})


def _pump_line(devices: Devices, part: tree.Attribute) -> dict[str, object]:
    match part:
        case tree.Displacement(amount=amount):
            return {"displacement_cm3": devices.value(cubic_centimetres_a_turn, amount)}
        case tree.TurningSpeed(speed=speed):
            return {"turns_rpm": devices.value(turns_a_minute, speed)}
        case tree.Flow(flow=flow, spread=spread):
            return {"flow_lpm": devices.value(litres_per_minute, flow), "flow_spread": _spread(devices, spread)}
        case tree.Pressure(pressure=pressure, spread=spread):
            return {"pressure_bar": devices.value(bar, pressure), "pressure_spread": _spread(devices, spread)}
        case tree.Efficiency(share=amount, kind=kind):
            return {kind: devices.value(share, amount)}
        case tree.CaseDrain(flow=flow):
            return {"case_drain_lpm": devices.value(litres_per_minute, flow)}
        case tree.PumpControl(compensated=compensated):
            return {"compensated": compensated}
        case _:
            raise AssertionError(f"{type(part).__name__} is no line of a pump")
