"""What healthy phase control is expected to show, on both mains, against the values that the trade goes by.

SOURCE  common practice: nothing at the load with pedal up or knob down; all but a few volts with it down; a cut of 90 degrees half-way, true rms
        volts over root 2 (163 V on 230 V); a closed triac under 1.5 V; load ohms volts squared over watts within 10 %; OL across triac and diac;
        a small universal motor's windings 113 ohm where 100 W are printed on it, at 230 V.
TAKEN   each value lies inside what the tool expects, which is no more than three times as wide as the trade's span. Half-way the trade has no span: every
        assumed value between a third more and less bears on it, and a quarter either way is taken for one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import pytest

from bands_support import band_at, healthy_table
from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.columns import Condition
from halfsplit.jobs.table import Table

EU, US = (230.0, 50.0), (120.0, 60.0)
MOTOR, LAMP, HEATER = "phase control; motor 100W", "phase control; lamp 300W", "phase control; heater 500W"
UP = frozenset[str]()


@dataclass(frozen=True)
class Node:
    """values: what the trade calls healthy between two nodes; low..high: its span [V rms, ohm]. pressed None: dead."""

    line: str
    mains: tuple[float, float]
    pressed: frozenset[str] | None
    red: str
    black: str
    values: tuple[float, ...]
    low: float
    high: float


def on(*words: str) -> frozenset[str]:
    return frozenset(words)


ALL, FULL = (MOTOR, LAMP, HEATER), ((MOTOR, "pedal"), (LAMP, "full"), (HEATER, "full"))
ROOT = 2**-0.5
NODES = (
    *(Node(line, m, UP, "run", "N", (), 0.0, 2.0) for line in (MOTOR, LAMP, HEATER) for m in (EU, US)),
    *(Node(line, m, UP, "chop", "run", (m[0],), 0.95 * m[0], 1.05 * m[0]) for line in (MOTOR, HEATER) for m in (EU, US)),
    *(Node(line, m, on(word), "run", "N", (0.985 * m[0],), 0.95 * m[0], 1.05 * m[0]) for line, word in FULL for m in (EU, US)),
    *(Node(line, m, on("half"), "run", "N", (ROOT * m[0],), 0.75 * ROOT * m[0], 1.25 * ROOT * m[0]) for line in ALL for m in (EU, US)),
    Node(MOTOR, EU, None, "run", "brush", (113.0,), 101.0, 125.0),
    Node(HEATER, EU, None, "run", "N", (106.0,), 95.0, 117.0),
    Node(HEATER, US, None, "run", "N", (28.8,), 25.9, 31.7),
)


@lru_cache(maxsize=6)
def table(line: str, mains: tuple[float, float]) -> Table:
    return healthy_table(start_circuit(line, Unit("set", *mains, "II", 0.0), ()))


@pytest.mark.parametrize(
    "node", NODES, ids=lambda n: f"{n.line[15:].split()[0]} {n.mains[0]:g}V {'+'.join(n.pressed) or 'up' if n.pressed is not None else 'dead'} {n.red}"
)
def test_a_healthy_node_shows_what_the_trade_goes_by(node: Node) -> None:
    condition = Condition(node.pressed is not None, node.pressed or frozenset())
    low, high = band_at(table(node.line, node.mains), "r" if node.pressed is None else "ac", node.red, node.black, condition)
    assert all(low <= v <= high for v in node.values), (low, high)
    assert low < node.high and high > node.low, (low, high)
    assert high - low <= 3 * (node.high - node.low), (low, high)


@pytest.mark.parametrize(("red", "black"), [("chop", "run"), ("time", "gate")])
def test_triac_and_diac_read_open(red: str, black: str) -> None:
    """The triac's terminals above 20 Mohm (the timing network and its blocking diac stand beside it); the diac OL."""
    low, _ = band_at(table(MOTOR, EU), "r", red, black, Condition(False, frozenset()))
    assert low > (20e6 if red == "chop" else 50e6)


def test_sizes_follow_from_label_and_mains() -> None:
    """A motor's ohms go with volts squared over watts; its fuse stands it held fast (2.0 A) and a half more; on 120 V the pot is half."""
    here = {p.ref: p for p in start_circuit(MOTOR, Unit("set", *EU, "II", 0.0), ()).parts}
    there = {p.ref: p for p in start_circuit(MOTOR, Unit("set", *US, "II", 0.0), ()).parts}
    assert here["motor"].values["ohms"] / there["motor"].values["ohms"] == pytest.approx((230 / 120) ** 2, rel=0.01)
    assert 230.0 / here["motor"].values["ohms"] < here["fuse"].values["amps"] <= 3.15
    assert there["speed-pot"].values["ohms"] == pytest.approx(0.53 * here["speed-pot"].values["ohms"], rel=0.02)
    assert not start_circuit(MOTOR, Unit("set", *EU, "II", 0.0), ()).cold_claims
