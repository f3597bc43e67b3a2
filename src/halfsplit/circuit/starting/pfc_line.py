"""The start line of a PFC and half-bridge supply: sizes and options in, and the line that says them all again."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

OPTIONS = ("no bypass relay", "no x-cap")
KNOWN = ("out", "bulk", "standby", *OPTIONS, "press")


@dataclass(frozen=True)
class Wanted:
    """What the start line asked for. out [V], amps [A], bulk [V] held by the boost stage, standby [V]."""

    out: float
    amps: float
    bulk: float
    standby: float
    options: frozenset[str]
    press: str | None
    said: tuple[str, ...]

    @property
    def watts(self) -> float:
        return self.out * self.amps


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """The sizes and options out of the clauses; what wasn't said gets a default, and is told."""
    said: list[str] = []
    out, amps, bulk, standby, press = None, None, None, None, None
    options: set[str] = set()
    for clause in parts:
        if clause.has("press"):
            press = next((w for w in clause.words if w != "press"), None)
            continue
        refuse_leftovers(clause, KNOWN, ("output", "rail", "main"))
        options |= {o for o in OPTIONS if clause.has(*o.split())}
        volts, current = clause.size("volts"), clause.size("amps")
        if clause.has("bulk"):
            bulk = volts
        elif clause.has("standby"):
            standby = volts
        elif volts is not None:
            out, amps = volts, current
    if out is None:
        out = 24.0
        said.append("out 24V")
    if amps is None:
        amps = float(f"{(0.9 * unit.watts if unit.watts > 0 else 200.0) / out:.2g}")
        said.append(f"{amps:g}A")
    if bulk is None:
        bulk = 395.0
        said.append("bulk 395V")
    if standby is None:
        standby = 5.0
        said.append("standby 5V")
    _check(out, amps, bulk, standby)
    return Wanted(out, amps, bulk, standby, frozenset(options), press, tuple(said))


def _check(out: float, amps: float, bulk: float, standby: float) -> None:
    if not 370 <= bulk <= 420:
        raise InputError(f"start: bulk {bulk:g}V is not what a boost stage holds (370 to 420 V, mostly 385 to 400)")
    if not 3 <= standby <= 6:
        raise InputError(f"start: standby {standby:g}V: this sheet feeds a micro directly from it (3 to 6 V)")
    if out < 3.3:
        raise InputError(f"start: out {out:g}V is below what a 2.5 V reference with an opto can hold (3.3 V); trace it as ways")
    if out * amps > 1500:
        raise InputError(f"start: out {out:g}V {amps:g}A is {out * amps:.0f} W; such supplies give up to 1500 W")


def told(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = [f"PFC and half-bridge; out {want.out:g}V {want.amps:g}A", f"bulk {want.bulk:g}V", f"standby {want.standby:g}V"]
    bits += sorted(want.options)
    if want.press:
        bits.append(f"press {want.press}")
    return "; ".join(bits) + (f" (assumed: {', '.join(want.said)})" if want.said else "")
