"""What a healthy class-D amplifier is expected to show, against the values that the trade goes by.

Every bound is common practice: the span of a node in a healthy set. It has to lie inside what the tool expects, which may be no more than three times as wide.
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


@dataclass(frozen=True)
class Node:
    """low..high: what the trade calls healthy there [V, ohm]. on False: dead."""

    mains: tuple[float, float]
    red: str
    black: str
    low: float
    high: float
    on: bool = True


NODES = (
    Node(EU, "bulk", "hot-", 308, 323),  # without a signal
    Node(US, "bulk", "hot-", 158, 167),
    Node(EU, "+45", "0V", 43, 47),  # 45.6 and 45.4 V in the worked case
    Node(EU, "-45", "0V", -47, -43),
    Node(EU, "vcc", "-45", 10, 12),
    Node(EU, "boot", "mid", 9, 11),
    Node(EU, "out", "0V", -0.03, 0.03),
    Node(EU, "out", "0V", 3.15, 3.65, on=False),  # a 4 ohm woofer
)


@lru_cache(maxsize=2)
def table(mains: tuple[float, float]) -> Table:
    return healthy_table(start_circuit("class-D amplifier; rails 45V; speaker 3.4R", Unit("set", *mains, "II", 200.0)))


@pytest.mark.parametrize("node", NODES, ids=lambda n: f"{n.mains[0]:g}V {n.red} to {n.black} {'on' if n.on else 'dead'}")
def test_a_healthy_node_shows_what_the_trade_goes_by(node: Node) -> None:
    low, high = found = band_at(table(node.mains), "v" if node.on else "r", node.red, node.black, Condition(node.on))
    assert low <= node.low and node.high <= high, found
    assert high - low <= 3 * (node.high - node.low), found
