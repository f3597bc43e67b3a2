"""What the capacitors still hold, and how long a resistor takes to empty them.

Everything errs on the long and heavy side: capacitance at the top of its tolerance, unknown counts as heavy.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part
from halfsplit.errors import DomainError

SAFE_VOLTS = 10.0  # [V] verify below this (common practice)
HEAVY_JOULES = 0.25  # [J] a heavy shock (unsigned safety notice, read second-hand; project safety rules, no. 2)
TOP = 1.2  # a marked capacitor at the top of +-20 % (common practice for electrolytics)
TOP_ASSUMED = 2.0  # nobody has read the marking: the starting sheet's value may be out by this factor
LOW_VOLT_BANK = 63.0  # [V] up to here the 100 ohm tool (common practice: 100 ohm for low-volt banks)
TOOL_OHMS, BANK_OHMS, TOOL_WATTS = 2200.0, 100.0, 10.0  # common practice: 2.2 k, 5-10 W wirewound, insulated clips
PULSE_SECONDS = 10.0  # [s] a wirewound takes the energy of ten seconds at its rating in one pulse (common practice)


def _positive(name: str, value: float, unit: str, *, zero: bool = False) -> None:
    if math.isnan(value) or value < 0 or (value == 0 and not zero):
        raise DomainError(f"{name} must be {'at least' if zero else 'above'} 0 {unit}; got {value:g} {unit}")


def energy(farads: float, volts: float) -> float:
    """Energy held by a capacitor [J]. farads > 0 [F]; volts, either sign [V]. E = C V^2 / 2."""
    _positive("capacitance", farads, "F")
    return 0.5 * farads * volts**2


def seconds_to(farads: float, ohms: float, volts: float, *, down_to: float = SAFE_VOLTS) -> float:
    """Time until a resistor has emptied a capacitor to `down_to` [s]: R C ln(v0/v).

    Parameters: farads > 0 [F]; ohms > 0, inf where nothing bleeds it [ohm]; volts now, either sign [V]; down_to > 0 [V].
    Returns: 0 where already below, inf where nothing bleeds it.
    """
    _positive("capacitance", farads, "F")
    _positive("bleed resistance", ohms, "ohm")
    _positive("target", down_to, "V")
    if abs(volts) <= down_to:
        return 0.0
    return ohms * farads * math.log(abs(volts) / down_to)


def volts_after(farads: float, ohms: float, volts: float, seconds: float) -> float:
    """Volts left on a capacitor after bleeding for some seconds [V]: v0 exp(-t/RC). ohms inf holds it."""
    _positive("capacitance", farads, "F")
    _positive("bleed resistance", ohms, "ohm")
    _positive("time", seconds, "s", zero=True)
    return volts * math.exp(-seconds / (ohms * farads))


@dataclass(frozen=True)
class HeavyCap:
    """A capacitor whose volts have to be read. volts, joules: worst case; None where not known, which counts as heavy."""

    ref: str
    place: str | None
    farads: float | None
    volts: float | None
    joules: float | None

    @property
    def name(self) -> str:
        return self.place or self.ref


def _worst_farads(part: Part) -> float | None:
    if "farads" in part.doubts or "farads" not in part.values:
        return None
    return part.values["farads"] * (TOP_ASSUMED if part.assumed else TOP)


def heavy_caps(
    circuit: Circuit,
    volts: Mapping[str, float | None],
    *,
    more_than: float = HEAVY_JOULES,
    unvalued: frozenset[str] = frozenset(),
) -> tuple[HeavyCap, ...]:
    """Capacitors to be read before a side is dead, heaviest first, unknown ones foremost.

    Parameters: volts, ref or place -> the most that any heavy explanation leaves on it [V]; left out or None: its rated volts
    count, and without those it is unknown. unvalued: refs that are capacitors though no value is written (from their family).
    """
    found: list[HeavyCap] = []
    for part in circuit.parts:
        if not part.holds_charge and part.ref not in unvalued:
            continue
        farads = _worst_farads(part)
        left = volts.get(part.ref, volts.get(part.place or part.ref))
        rated = part.ratings.get("volts", part.values.get("volts")) if "volts" not in part.doubts else None
        at = abs(left) if left is not None and math.isfinite(left) else rated
        joules = None if farads is None or at is None else energy(farads, at)
        if at is not None and at < SAFE_VOLTS and left is not None:
            continue  # solved, and below the volts that count as dead anyway
        if joules is None or joules > more_than:
            found.append(HeavyCap(part.ref, part.place, farads, at, joules))
    return tuple(sorted(found, key=lambda cap: -(math.inf if cap.joules is None else cap.joules)))


@dataclass(frozen=True)
class Discharge:
    """How to empty one capacitor. seconds to 10 V, inf or None where that can't be said. advice: what to do otherwise, or ''."""

    name: str
    volts: float | None
    joules: float | None
    ohms: float
    peak_amps: float | None
    peak_watts: float | None
    seconds: float | None
    advice: str = ""


def plan_discharge(cap: HeavyCap, *, ohms: float | None = None, watts: float = TOOL_WATTS) -> Discharge:
    """The resistor, its pulse and the time for one capacitor. ohms None: the tool that the trade takes at these volts."""
    if ohms is None:
        ohms = BANK_OHMS if cap.volts is not None and cap.volts <= LOW_VOLT_BANK else TOOL_OHMS
    _positive("tool", ohms, "ohm")
    _positive("tool", watts, "W")
    if cap.volts is None:
        return Discharge(
            cap.name, None, cap.joules, ohms, None, None, None, "volts not known: read them first, then leave the tool on"
        )
    seconds = None if cap.farads is None else seconds_to(cap.farads, ohms, cap.volts)
    advice = ""
    if cap.farads is None:
        advice = "value not known: leave the tool on and watch the volts fall"
    elif cap.joules is not None and cap.joules > PULSE_SECONDS * watts:
        bigger = math.ceil(cap.joules / PULSE_SECONDS)
        advice = f"{cap.joules:.0f} J is more than this tool takes at once: use one of {bigger:d} W or more"
    return Discharge(cap.name, cap.volts, cap.joules, ohms, cap.volts / ohms, cap.volts**2 / ohms, seconds, advice)


def held_text(plan: Discharge) -> str:
    """What it may hold."""
    held = "unknown volts" if plan.volts is None else f"up to {plan.volts:.0f} V"
    return held + ("" if plan.joules is None else f", {plan.joules:.2g} J")


def tool_text(plan: Discharge) -> str:
    """The resistor and how long."""
    return f"{plan.ohms:g} ohm" + ("" if plan.seconds is None else f", {_round_up(plan.seconds)} s")


def discharge_text(plan: Discharge) -> str:
    """One line for the card: what it holds, the tool, the seconds, and to read it afterwards."""
    tail = f" {plan.advice[0].upper()}{plan.advice[1:]}." if plan.advice else ""
    how = f"Discharge through {tool_text(plan)}, never a screwdriver; read under 10 V, again after 1 min."
    return f"{plan.name}: {held_text(plan)}. {how}{tail}"


def _round_up(seconds: float) -> str:
    return f"{math.ceil(seconds * 10) / 10:g}" if seconds < 10 else f"{math.ceil(seconds):d}"
