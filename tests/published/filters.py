"""The published filter benchmarks as circuits, solved by a small nodal analysis of its own, and as ordinary outlooks.

SOURCE  data/analog_fault_benchmarks.csv (values recalled; papers named there). The drawings were not reached: each is rebuilt here as the
        usual circuit that needs just these parts, and the file's centre frequency is the check of it.
TAKEN   ideal op-amps, 3 V of sine in, AC volts at the output at some frequencies, tolerances even within +-5 % (R) and +-10 % (C), the
        faulty part at +-50 % of its value, opens and shorts where the source has them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from halfsplit.diagnosis.outlook import Column, Outlook, Row

VOLTS = 3.0
OPEN, SHORT = 1e9, 1e-2  # times nominal


@dataclass(frozen=True, eq=False)
class Filter:
    """parts: name -> (net, net, value); op_amps: (plus, minus, out); net "in" is fed, "0" is ground, "out" is read."""

    name: str
    parts: dict[str, tuple[str, str, float]]
    op_amps: tuple[tuple[str, str, str], ...]
    hertz: tuple[float, ...]
    faults: tuple[str, ...]
    extra: tuple[tuple[str, str, float], ...] = ()

    @property
    def classes(self):
        """(part, way, times nominal), the healthy one first."""
        soft = [(p, way, times) for p in self.faults for way, times in (("up", 1.5), ("down", 0.5))]
        return [("", "nothing wrong", 1.0), *soft, *self.extra]


def magnitudes(circuit: Filter, values: dict[str, np.ndarray], hertz) -> np.ndarray:
    """(units, frequencies) |V(out)| by nodal analysis; an ideal op-amp is a row V+ = V- and a column for its output's current."""
    nets = sorted({n for a, b, _ in circuit.parts.values() for n in (a, b)} | {n for o in circuit.op_amps for n in o})
    at = {n: i for i, n in enumerate(n for n in nets if n != "0")}
    units, size = len(next(iter(values.values()))), len(at) + len(circuit.op_amps) + 1
    out = np.empty((units, len(hertz)))
    for k, f in enumerate(hertz):
        m, rhs = np.zeros((units, size, size), complex), np.zeros((units, size, 1), complex)
        for name, (a, b, _) in circuit.parts.items():
            y = 2j * np.pi * f * values[name] if name[0] == "C" else 1.0 / values[name]
            for p, q in ((a, b), (b, a)):
                if p != "0":
                    m[:, at[p], at[p]] += y
                    if q != "0":
                        m[:, at[p], at[q]] -= y
        for j, (plus, minus, fed) in enumerate(circuit.op_amps):
            line = len(at) + j
            m[:, at[fed], line] = 1.0
            if plus != "0":
                m[:, line, at[plus]] += 1.0
            m[:, line, at[minus]] -= 1.0
        m[:, at["in"], -1], m[:, -1, at["in"]], rhs[:, -1, 0] = 1.0, 1.0, VOLTS
        out[:, k] = np.abs(np.linalg.solve(m, rhs)[:, at["out"], 0])
    return out


def units_of(circuit: Filter, fault, count: int, rng) -> np.ndarray:
    """(count, frequencies) what fresh units with this fault show."""
    part, _, times = fault
    values = {}
    for name, (_, _, nominal) in circuit.parts.items():
        tolerance = 0.10 if name[0] == "C" else 0.05
        values[name] = nominal * (1 + tolerance * rng.uniform(-1, 1, count))
        if name == part:  # as the papers have it: the faulty part sits at its fault value
            values[name] = np.full(count, nominal * times)
    return magnitudes(circuit, values, circuit.hertz)


def outlook_of(circuit: Filter, draws: int = 64, seed: int = 1) -> Outlook:
    """Rows are the classes, columns the frequencies. A column's state is its frequency: another circuit in each."""
    rng = np.random.default_rng(seed)
    value = np.stack([units_of(circuit, fault, draws, rng).T for fault in circuit.classes])
    columns = tuple(
        Column(f"{f:.4g}", "ac", "out", "0", f"out at {f:.4g} Hz", f"on {f:.4g} Hz", live=True, span=float(value.max())) for f in circuit.hertz
    )
    rows = tuple(Row(part, way, 1.0) for part, way, _ in circuit.classes)
    return Outlook(rows, columns, value, np.zeros(value.shape[:2], dtype=bool))


def spread_about(centre: float, octaves: float = 2.0, count: int = 9) -> tuple[float, ...]:
    return tuple(centre * 2.0 ** np.linspace(-octaves, octaves, count))


SALLEN_KEY = Filter(
    "SK",
    {
        "R1": ("in", "a", 1e3), "R2": ("a", "out", 3e3), "R3": ("b", "0", 2e3), "R4": ("m", "0", 4e3), "R5": ("out", "m", 4e3),
        "C1": ("a", "b", 5e-9), "C2": ("a", "0", 5e-9),
    },
    (("b", "m", "out"),),
    spread_about(25e3),
    ("C1", "C2", "R2", "R3"),
)

# Two integrators in a loop, damped by R1; the fourth amplifier adds input, band-pass and low-pass to a high-pass, which asks for
# R1 = R2 = R3 as the file has them.
BIQUAD = Filter(
    "BQ",
    {
        "R1": ("m1", "bp", 6.2e3), "R2": ("in", "m1", 6.2e3), "R3": ("inv", "m1", 6.2e3), "C1": ("m1", "bp", 5e-9),
        "R4": ("bp", "m2", 1.6e3), "C2": ("m2", "lp", 5e-9), "R5": ("lp", "m3", 5.1e3), "R7": ("m3", "inv", 5.1e3),
        "R6": ("in", "m4", 10e3), "R8": ("bp", "m4", 10e3), "R9": ("inv", "m4", 10e3), "R10": ("m4", "out", 10e3),
    },
    (("0", "m1", "bp"), ("0", "m2", "lp"), ("0", "m3", "inv"), ("0", "m4", "out")),
    spread_about(10e3),
    ("C1", "C2", "R1", "R2", "R3", "R4"),
)

# Four integrators, the first and last damped, each fed back from the next; inverters behind the second and the fourth.
LEAPFROG = Filter(
    "LEAP",
    {
        "R1": ("in", "m1", 1e4), "R2": ("m1", "x1", 1e4), "R3": ("y2", "m1", 1e4), "C1": ("m1", "x1", 10e-9),
        "R4": ("x1", "m2", 1e4), "R5": ("x3", "m2", 1e4), "C2": ("m2", "x2", 20e-9),
        "R6": ("y2", "m3", 1e4), "R7": ("out", "m3", 1e4), "C3": ("m3", "x3", 20e-9),
        "R8": ("x3", "m4", 1e4), "R9": ("m4", "x4", 1e4), "C4": ("m4", "x4", 10e-9),
        "R10": ("x2", "n2", 1e4), "R11": ("n2", "y2", 1e4), "R12": ("x4", "n4", 1e4), "R13": ("n4", "out", 1e4),
    },
    (("0", "m1", "x1"), ("0", "m2", "x2"), ("0", "m3", "x3"), ("0", "m4", "x4"), ("0", "n2", "y2"), ("0", "n4", "out")),
    spread_about(1.4e3),
    ("R1", "R4", "R8", "C1", "C2", "C4"),
)

# Summing amplifier and two integrators; R6 and R7 bring the band-pass back to the other input and set the damping.
STATE_VARIABLE = Filter(
    "CTSV",
    {
        "R1": ("in", "m1", 1e4), "R2": ("out", "m1", 1e4), "R3": ("m1", "hp", 1e4), "R4": ("hp", "m2", 1e4), "C1": ("m2", "bp", 20e-9),
        "R5": ("bp", "m3", 1e4), "C2": ("m3", "out", 20e-9), "R6": ("p", "0", 3e3), "R7": ("bp", "p", 7e3),
    },
    (("p", "m1", "hp"), ("0", "m2", "bp"), ("0", "m3", "out")),
    spread_about(796.0),
    ("R1", "R2", "R3", "R6", "R7", "C1", "C2"),
    tuple((p, way, times) for p in ("R1", "R2", "R3", "R6", "R7") for way, times in (("open", OPEN), ("short", SHORT))),
)
EVERY = (SALLEN_KEY, BIQUAD, LEAPFROG, STATE_VARIABLE)
