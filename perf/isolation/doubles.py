"""Two faults at once, as boards come in: what killed and what it killed, a surge, an open that hides a short.

The list of who kills whom is common practice of the trade; it is this bench's own and not the engine's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from perf.isolation.case import Flaw

from bench import Fault
from halfsplit.circuit.model import Circuit, Part
from judge.fitted import fault_list

SERIES = frozenset({"resistor", "fusible", "wirewound", "cut-off-resistor", "composition"})
OPENERS = frozenset({"fuse", "thermal-link", "ntc", "lead", "switch", "stat", "choke", "joint", "connector", *SERIES})
# (killer family, its ways) -> (victim family, its ways); both share a net that is no ground
KILLS: tuple[tuple[frozenset[str], tuple[str, ...], frozenset[str], tuple[str, ...]], ...] = (
    (frozenset({"fet", "n-mosfet", "p-mosfet", "npn", "pnp", "triac", "scr"}), ("short", "gate-short"), SERIES, ("open", "up")),
    (frozenset({"bridge", "diode", "varistor", "tvs", "x-cap", "capacitor"}), ("short", "short-1", "short-2", "short-3", "short-4"),
     frozenset({"fuse", "ntc", "choke", *SERIES}), ("open", "a-open")),
    (frozenset({"zener", "electrolytic", "tantalum", "ceramic"}), ("short", "leaky"), SERIES, ("open", "up")),
    (frozenset({"electrolytic", "tantalum"}), ("short",), frozenset({"bridge", "diode"}), ("open", "open-1", "open-2", "short")),
    (frozenset({"load", "resistive-load", "power-load", "micro", "relay", "motor", "heater"}), ("short", "heavy", "low"),
     frozenset({"regulator", "ldo", "adjustable", "npn", "n-mosfet", "diode", "bridge"}), ("no-output", "open", "open-1", "through", "short")),
    (frozenset({"diode"}), ("open",), frozenset({"npn", "n-mosfet"}), ("short", "open")),
    (frozenset({"zener"}), ("open",), frozenset({"electrolytic", "micro", "regulator", "relay"}), ("short", "dead", "coil-open", "through")),
    (frozenset({"fet"}), ("short", "gate-short"), frozenset({"controller"}), ("dead", "vcc-short")),
    (frozenset({"electrolytic"}), ("dried", "high-esr", "open"), frozenset({"diode", "regulator", "controller", "fet"}),
     ("short", "leaky", "no-output", "dead", "open")),
)
SURGE = frozenset({"varistor", "bridge", "diode", "fuse", "fet", "controller", "micro", "transformer", "capacitor", "x-cap", "regulator",
                   "opto", "triac", "opto-triac", "op-amp", "comparator"})


def _live_nets(circuit: Circuit, part: Part) -> set[str]:
    return set(part.pins.values()) - set(circuit.grounds.values()) - {"N", "0V", "hot-"}


def collateral(circuit: Circuit) -> list[tuple[Fault, Fault]]:
    """(killer, victim) for every pair of this circuit that the list knows; a fuse counts wherever it sits in the way."""
    listed = fault_list(circuit)
    out = []
    for killers, how, victims, ways in KILLS:
        for part, way in listed:
            a = circuit.part(part)
            if a.family not in killers or way not in how:
                continue
            for other, dies in listed:
                b = circuit.part(other)
                near = b.family == "fuse" or bool(_live_nets(circuit, a) & _live_nets(circuit, b))
                if other != part and b.family in victims and dies in ways and near:
                    out.append(((part, way), (other, dies)))
    return out


def surge(circuit: Circuit) -> list[tuple[Fault, Fault]]:
    """Two parts that a surge takes, independent of each other; the one nearer to the plug (earlier on the sheet) is the root."""
    listed = [(p, w) for p, w in fault_list(circuit) if circuit.part(p).family in SURGE]
    return [(a, b) for i, a in enumerate(listed) for b in listed[i + 1 :] if a[0] != b[0]]


def masked(circuit: Circuit) -> list[tuple[Fault, Fault]]:
    """A short that an open in the way from the mains hides. The short is the root: it is what will do it again."""
    listed = fault_list(circuit)
    opens = [(p, w) for p, w in listed if circuit.part(p).family in OPENERS and w in ("open", "a-open", "b-open")]
    shorts = [(p, w) for p, w in listed if w.startswith("short") and circuit.part(p).family not in OPENERS]
    return [(s, o) for s in shorts for o in opens if s[0] != o[0] and _in_front(circuit, o[0], s[0])]


def _in_front(circuit: Circuit, opener: str, short: str) -> bool:
    """What the mains comes in through is in front of everything; a resistor only of what it leads to."""
    a, b = circuit.part(opener), circuit.part(short)
    return a.family not in SERIES or bool(_live_nets(circuit, a) & _live_nets(circuit, b))


SORTS: dict[str, Callable[[Circuit], Iterable[tuple[Fault, Fault]]]] = {"collateral": collateral, "surge": surge, "masked": masked}


def two_flaws(
    circuit: Circuit, sort: str, rng: np.random.Generator, severity: Callable[[np.random.Generator], float]
) -> Callable[[], tuple[Flaw, ...]] | None:
    """Draws of such a pair, root part evenly first; None where the circuit has none."""
    pairs = list(SORTS[sort](circuit))
    roots = list(dict.fromkeys(a[0] for a, _ in pairs))
    if not pairs:
        return None

    def pick() -> tuple[Flaw, ...]:
        root = roots[int(rng.integers(len(roots)))]
        mine = [p for p in pairs if p[0][0] == root]
        a, b = mine[int(rng.integers(len(mine)))]
        return Flaw(*a, severity(rng)), Flaw(*b, severity(rng))

    return pick
