"""A bench for the robot's own tests: resistances only, solved by nodal analysis; and a tool that follows a script.

Nothing here judges the real tool; it is here so that the technician can be tested without a simulator and without the program.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from halfsplit.circuit.model import Circuit, Part, Unit

OPEN = 1e12
OHMS = {"lead": 0.05, "fuse": 0.05, "thermal-link": 0.005, "stat": 0.01, "switch": 0.02, "ntc": 5.0, "varistor": 200e6,
        "capacitor": 1e10, "electrolytic": 1e7}
UNIT = Unit("test set", 230.0, 50.0, "I", 350.0)


def two(ref: str, family: str, a: str, b: str, **values: float) -> Part:
    names = {"electrolytic": ("+", "-"), "mains": ("L", "N")}.get(family, ("a", "b"))
    return Part(ref, family, dict(zip(names, (a, b), strict=True)), values, place=ref)


def chain_circuit() -> Circuit:
    """Plug, fuse, link, stat, heater; and two capacitors that hold what the test says they hold."""
    parts = (
        two("mains", "mains", "L", "N"), two("lead", "lead", "L", "inlet"), two("fuse", "fuse", "inlet", "live"),
        two("link", "thermal-link", "live", "mid"), two("stat", "stat", "mid", "hot"),
        two("heater", "heater", "hot", "N", ohms=151.0),
        two("R1", "resistor", "live", "tap", ohms=100e3), two("R2", "resistor", "tap", "N", ohms=47e3),
        two("bulk-cap", "electrolytic", "live", "N", farads=68e-6, volts=400.0),
        two("far-cap", "electrolytic", "tap", "N", farads=10e-6, volts=400.0),
    )
    return Circuit(UNIT, parts, {"hot": "N"}, chain=("mains", "lead", "fuse", "link", "stat", "heater"))


@dataclass
class FakeLive:
    board: FakeBoard

    def volts(self, red: str, black: str) -> Mapping[str, float | bool]:
        v = self.board.nodes()
        ac = abs(v[red] - v[black])
        pulsing = self.board.wander.get(red)
        low, high = pulsing or (-ac * math.sqrt(2), ac * math.sqrt(2))
        return {"dc": (low + high) / 2 if pulsing else 0.0, "ac": ac, "min": low, "max": high, "pulsing": pulsing is not None}


@dataclass
class FakeBoard:
    """Two-pin resistive parts. fault: (ref, "open"|"short"). charges: volts of a capacitor right after switch-off."""

    circuit: Circuit
    fault: tuple[str, str] | None = None
    seed: int = 0
    charges: dict[str, float] = field(default_factory=dict)
    past: list[str] = field(default_factory=list)
    wander: dict[str, tuple[float, float]] = field(default_factory=dict)
    gone: dict[str, str | None] = field(default_factory=dict)
    ran: int = 0

    def ohms(self, part: Part) -> float:
        if part.ref in self.gone:
            return OPEN
        return self.own_ohms(part)

    def own_ohms(self, part: Part) -> float:
        if self.fault and self.fault[0] == part.ref:
            return OPEN if self.fault[1] == "open" else 0.3
        return part.values.get("ohms", OHMS.get(part.family, 1.0))

    def conductances(self, mains: bool) -> tuple[list[str], np.ndarray]:
        nets = list(self.circuit.nets)
        g = np.zeros((len(nets), len(nets)))
        for p in self.circuit.parts:
            if p.family == "mains":
                continue
            a, b = (nets.index(n) for n in p.pins.values())
            y = 1.0 / self.ohms(p)
            g[a, a] += y
            g[b, b] += y
            g[a, b] -= y
            g[b, a] -= y
        return nets, g

    def nodes(self) -> dict[str, float]:
        """AC volts of each net against N, 230 V behind 0.6 ohm."""
        nets, g = self.conductances(True)
        n, line = nets.index("N"), nets.index("L")
        g[line, line] += 1 / 0.6
        current = np.zeros(len(nets))
        current[line] = 230 / 0.6
        keep = [i for i in range(len(nets)) if i != n]
        v = np.zeros(len(nets))
        v[keep] = np.linalg.solve(g[np.ix_(keep, keep)], current[keep])
        return dict(zip(nets, v, strict=True))

    def live(self, pressed: frozenset[str], lamp: float | None) -> FakeLive:
        self.ran += 1
        return FakeLive(self)

    def cold(self, red: str, black: str, function: str) -> float:
        if function in ("c", "esr"):
            return 68e-6 if function == "c" else 0.2
        nets, g = self.conductances(False)
        keep = [i for i, n in enumerate(nets) if n != black]
        inject = np.zeros(len(nets))
        inject[nets.index(red)] = 1.0
        ohms = float(np.linalg.solve(g[np.ix_(keep, keep)], inject[keep])[keep.index(nets.index(red))])
        if function == "d":
            return 1e-3 * ohms if ohms < 2000 else math.inf
        return ohms if ohms < 6e7 else math.inf

    def alone(self, ref: str, function: str, red_pin: str, black_pin: str) -> float:
        ohms = self.own_ohms(self.circuit.part(ref))
        if function == "c":
            return self.circuit.part(ref).values["farads"]
        if function == "esr":
            return 0.2
        return ohms if ohms < 6e7 else math.inf

    def charge(self, ref: str, seconds: float) -> float:
        return self.charges.get(ref, 0.0) * math.exp(-seconds / 600.0)

    def discharge(self, ref: str) -> None:
        self.charges[ref] = 0.0

    def lift(self, ref: str, pin: str) -> None:
        self.gone[ref] = pin

    def remove(self, ref: str) -> None:
        self.gone[ref] = None

    def refit(self, ref: str) -> None:
        self.gone.pop(ref, None)

    def over_rating(self, pressed: frozenset[str], lamp: float | None) -> Sequence[str]:
        return list(self.past)


def fake_faults(circuit: Circuit) -> list[tuple[str, str]]:
    return [(p.ref, way) for p in circuit.parts if p.family != "mains" for way in ("open", "short")]


SCRIPTED_PROCESS = '''
import json, re, sys
steps = json.load(open(sys.argv[1], encoding="utf-8"))
print(json.dumps(steps[0]), flush=True)
number, at = 0, 1
for line in sys.stdin:
    line = line.rstrip("\\n")
    wanted, answer = steps[at]
    if re.fullmatch(wanted, line):
        number += 1
        at += 1
        print(json.dumps({"line": number, "ok": True, "refused": None, **answer}), flush=True)
    else:
        last = steps[at - 1][1] if at > 1 else steps[0]
        refusal = {"line": None, "ok": False, "refused": f"wanted {wanted}, got {line}", "card": last.get("card")}
        print(json.dumps(refusal), flush=True)
'''
