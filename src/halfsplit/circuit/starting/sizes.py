"""The arithmetic of the bench behind the assumed sizes: standard values, mains peaks, transformers, reservoirs.

Every rule of thumb here is common practice; a starting sheet is only ever an assumption.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from halfsplit.units_codes import series

FUSE_AMPS = (
    0.05,
    0.063,
    0.08,
    0.1,
    0.125,
    0.16,
    0.2,
    0.25,
    0.315,
    0.4,
    0.5,
    0.63,
    0.8,
    1.0,
    1.25,
    1.6,
    2.0,
    2.5,
    3.15,
    4.0,
    5.0,
    6.3,
    8.0,
    10.0,
    12.5,
    16.0,
)
CAP_VOLTS = (6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 100.0, 160.0, 200.0, 250.0, 400.0, 450.0, 500.0)
DIODE_VOLTS = (40.0, 60.0, 100.0, 150.0, 200.0, 400.0, 600.0, 1000.0)
AMPS = (0.1, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 10.0, 16.0, 20.0, 30.0, 40.0, 60.0)
RESISTOR_WATTS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
SECONDARY_VOLTS = (6.0, 7.5, 9.0, 12.0, 15.0, 18.0, 20.0, 24.0, 27.0, 30.0, 36.0, 42.0, 48.0, 60.0)
TRANSFORMER_VA = (2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 40.0, 60.0, 100.0, 160.0, 250.0, 400.0, 630.0, 1000.0)
BRIDGE_DROP = 1.8  # [V] two diodes at their peak current; common practice, as in reservoir = 1.41 Vac - 1.8
DROPPER_BRIDGE_DROP = 1.6  # [V] two diodes at tens of milliamps; common practice


def at_least(x: float, steps: Iterable[float]) -> float:
    """The smallest standard step not below x; the largest there is when x is past the list."""
    steps = sorted(steps)
    return next((s for s in steps if s >= x * (1 - 1e-9)), steps[-1])


def nearest(x: float, steps: Iterable[float]) -> float:
    """The standard step nearest to x by ratio."""
    return min(steps, key=lambda s: abs(math.log(s / x)))


def next_value(x: float, name: str) -> float:
    """The value of a preferred-number series (E6, E12 ...) that is not below x."""
    decade = math.floor(math.log10(x))
    return at_least(x, [float(f"{m!r}e{d}") for d in (decade, decade + 1) for m in series(name)])


def peak(volts: float) -> float:
    """Peak of a sine of this rms value [V]."""
    return volts * math.sqrt(2)


def dropper_amps(farads: float, *, volts: float, hertz: float, rail: float, half_wave: bool = False) -> float:
    """Most current a series capacitor passes into a rail [A]: I = 4 f C (Vpk - V); half of it with a diode pair.

    Source: common practice (4 f C (Vpk - V), computed from the charge moved in each half-cycle).
    """
    full = 4 * hertz * farads * (peak(volts) - DROPPER_BRIDGE_DROP - rail)
    return full / 2 if half_wave else full


def dropper_farads(amps: float, *, volts: float, hertz: float, rail: float, half_wave: bool = False) -> float:
    """Smallest standard capacitor that passes `amps` into the rail [F]. No E6 step is skipped: more only heats the zener."""
    per_farad = dropper_amps(1.0, volts=volts, hertz=hertz, rail=rail, half_wave=half_wave)
    return next_value(amps / per_farad, "E6")


def bulk_farads(watts: float, volts: float) -> float:
    """Bulk capacitor [F]: 1 uF a watt at 230 V, 2 to 3 uF a watt at 120 V (common practice), next standard value up."""
    per_watt = 1e-6 if volts > 160 else 2e-6
    return next_value(max(watts * per_watt, 4.7e-6), "E12")


def bulk_volts(volts: float) -> float:
    """Working volts of a capacitor across rectified mains [V]: 200 V on 120 V mains, 400 V on 230 V (common practice)."""
    return at_least(peak(volts) * 1.12, CAP_VOLTS)


def bulk_mean(volts: float) -> float:
    """Mean bulk volts under load [V]: about 157 on 120 V, 311 on 230 V (common practice, computed for 1 to 2 uF a watt)."""
    return 0.955 * peak(volts)


def reservoir_farads(amps: float, hertz: float, ripple: float = 2.0) -> float:
    """Reservoir [F] so that the ripple I/(2 f C) stays at or below `ripple` volts, next standard value up."""
    return next_value(amps / (2 * hertz * ripple), "E6")


def loaded_dc(*, off_load: float, ohms: float, amps: float, drop: float = BRIDGE_DROP) -> float:
    """Mean volts on a reservoir behind a bridge [V], for a winding of `ohms` (all referred to it) that feeds `amps`.

    The mean of the current tips (2 Vpk / pi R)(sin a - a cos a) must equal the load; bisected over the conduction angle.
    Source: charge balance of a full-wave rectifier with series resistance and a large capacitor, computed.
    """
    top = peak(off_load)
    low, high = 0.0, math.pi / 2
    for _ in range(60):
        angle = (low + high) / 2
        given = 2 * top / (math.pi * ohms) * (math.sin(angle) - angle * math.cos(angle))
        low, high = (angle, high) if given < amps else (low, angle)
    return top * math.cos((low + high) / 2) - drop


def regulation(va: float) -> float:
    """How far a secondary rises off load, relative: +25 % for the smallest, +5 % for toroids (common practice).

    Source: makers' catalogues (recalled): 6 to 10 VA 20 to 25 %, 20 to 50 VA 12 to 18 %, 100 VA 8 to 10 %.
    """
    return 0.25 if va <= 6 else 0.20 if va <= 10 else 0.15 if va <= 40 else 0.10 if va <= 160 else 0.05


def transformer_values(label: float, va: float, *, volts: float, hertz: float) -> dict[str, float]:
    """Values of a mains transformer: half the copper loss in each winding, magnetising current 0.3 of the rated one.

    label: secondary volts at full load [V rms]; va: rating [VA]. Returns volts, out, rp, rs, mag.
    """
    rise = regulation(va)
    off_load = label * (1 + rise)
    whole = rise * label**2 / va  # ohms at the secondary that drop `rise` at the rated current
    turns = volts / off_load
    return {
        "volts": volts,
        "out": round(off_load, 2),
        "rs": float(f"{whole / 2:.3g}"),
        "rp": float(f"{whole / 2 * turns**2:.3g}"),
        "mag": float(f"{volts**2 / (2 * math.pi * hertz * 0.3 * va):.3g}"),
    }


def fuse_amps(amps: float, least: float = 0.05) -> float:
    """Fuse rating [A] for a steady rms current: twice, next standard value (common practice: starting currents)."""
    return at_least(max(2.0 * amps, least), FUSE_AMPS)
