"""The start line of a flyback supply: sizes and options in, and the line that says them all again."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting.build import relay_amps
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

OPTIONS = ("charger", "over-volt latch", "standby apart", "shared bulk", "main by relay", "no varistor", "no choke", "half-wave")
KNOWN = ("controller", "out", "second out", "main", *OPTIONS, "press")


@dataclass(frozen=True)
class Wanted:
    """What the start line asked for. out [V], amps [A] at out; second: (V, A) or None; von, voff [V]."""

    von: float
    voff: float
    out: float
    amps: float
    second: tuple[float, float] | None
    options: frozenset[str]
    main_watts: float
    press: str | None
    said: tuple[str, ...]

    @property
    def relay_share(self) -> float:
        """Part of the output current that relay and micro take [A]."""
        return relay_amps(self.out) if "main by relay" in self.options else 0.0

    @property
    def whole_amps(self) -> float:
        """Everything that leaves the rectifier at full load [A]."""
        return self.amps + (self.second[1] if self.second else 0.0)

    @property
    def watts(self) -> float:
        return self.out * self.whole_amps


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """The sizes and options out of the clauses; what wasn't said gets a default, and is told."""
    said: list[str] = []
    von, voff, out, amps = 16.0, 10.0, None, None
    second: tuple[float, float] | None = None
    options: set[str] = set()
    main_watts, press = None, None
    for clause in parts:
        if clause.has("press"):
            press = next((w for w in clause.words if w not in ("press", "relay")), None)
            continue
        refuse_leftovers(clause, KNOWN, ("overvolt", "by", "relay", "output", "chip", "rail"))
        options |= {o for o in OPTIONS if clause.has(*o.split())}
        volts, current = clause.size("volts"), clause.size("amps")
        pair = next((s for s in clause.sizes if s.kind == "volts" and s.second is not None), None)
        if pair is not None:
            von, voff = pair.value, float(pair.second or 0.0)
        elif clause.has("second"):
            second = (volts or 5.0, current or 0.5)
        elif clause.has("main"):
            main_watts = clause.size("watts")
        elif volts is not None:
            out, amps = volts, current
    if not any(c.size("volts") and any(s.second for s in c.sizes) for c in parts):
        said.append("controller 16/10V")
    if von <= voff + 0.3:
        raise InputError(f"start: controller {von:g}/{voff:g}V must switch on above where it stops; write on/off, as 16/10V")
    if out is None:
        out = 12.0
        said.append("out 12V")
    if amps is None:
        amps = _default_amps(unit, out, options)
        said.append(f"{amps:g}A")
    if "main by relay" in options and "shared bulk" in options:
        raise InputError("start: main by relay feeds a main bridge of its own, so `shared bulk` can't hold; say one of the two")
    if main_watts is None and options & {"main by relay", "standby apart", "shared bulk"}:
        main_watts = max(unit.watts - out * amps, 20.0)
        said.append(f"main {main_watts:g}W")
    return Wanted(von, voff, out, amps, _checked_second(second, out), frozenset(options), main_watts or 0.0, press, tuple(said))


def _default_amps(unit: Unit, out: float, options: set[str]) -> float:
    """1 A for a standby supply or when the watts aren't known, else 0.8 of the unit's watts."""
    standby = options & {"main by relay", "standby apart", "shared bulk"}
    return 1.0 if standby or not unit.watts > 0 else float(f"{0.8 * unit.watts / out:.2g}")


def _checked_second(second: tuple[float, float] | None, out: float) -> tuple[float, float] | None:
    if second is not None and second[0] > out - 2:
        raise InputError(
            f"start: second out {second[0]:g}V is made from out {out:g}V by a regulator here and needs 2 V of headroom; "
            "name the higher rail `out`, the lower one `second out`"
        )
    return second


def told(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = [f"flyback with controller {want.von:g}/{want.voff:g}V", f"out {want.out:g}V {want.amps:g}A"]
    if want.second:
        bits.append(f"second out {want.second[0]:g}V {want.second[1]:g}A")
    bits += sorted(o for o in want.options if o != "second out")
    if want.main_watts:
        bits.append(f"main {want.main_watts:g}W")
    if want.press:
        bits.append(f"press {want.press}")
    return "; ".join(bits) + (f" (assumed: {', '.join(want.said)})" if want.said else "")
