"""What a healthy flyback of each kind is expected to show, against the values that the trade goes by.

Every bound is common practice: the span of a node in a healthy set, or one healthy figure with the tolerance that a bench would allow it.
A healthy value has to lie inside what the tool expects, which may be no more than three times as wide as the trade's own.
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
INTEGRATED = "flyback with integrated switch; out 24V 1A; fan 0.45A; buck 5V 0.3A"
CHARGER = "flyback with controller 16/10V; out 14.4V 5A; charger; over-volt latch"
SWINGING = "self-oscillating flyback; out 26V 0.3A"


@dataclass(frozen=True)
class Node:
    """low..high: what the trade calls healthy there [V]. state: on or dead."""

    start: str
    mains: tuple[float, float]
    red: str
    black: str
    low: float
    high: float
    function: str = "v"


NODES = (
    Node(INTEGRATED, EU, "bulk", "hot-", 300, 323),
    Node(INTEGRATED, US, "bulk", "hot-", 150, 167),
    Node(INTEGRATED, EU, "bp", "hot-", 5.6, 6.0),  # 5.8 V, from memory of makers' data
    Node(INTEGRATED, EU, "out", "0V", 22.8, 25.2),  # +-5 %
    Node(INTEGRATED, EU, "+5", "0V", 4.85, 5.15),  # +-3 %
    Node(INTEGRATED, EU, "ref", "0V", 2.42, 2.55),  # beyond these the trade calls the rail low, or the loop broken; 2.48 to 2.51 V is what is found
    Node(INTEGRATED, EU, "opto-a", "opto-k", 1.0, 1.15),
    Node(CHARGER, US, "bulk", "hot-", 150, 167),
    Node(CHARGER, EU, "bulk", "hot-", 300, 323),
    Node(CHARGER, US, "vcc", "hot-", 12, 18),
    Node(CHARGER, US, "source", "hot-", 0.01, 0.15),
    Node(CHARGER, US, "fb", "hot-", 1.0, 3.0),
    Node(CHARGER, US, "out", "0V", 14.1, 14.7),  # a charger's constant volts +-2 %: reference and both resistors 1 %
    Node(CHARGER, US, "ref", "0V", 2.42, 2.55),
    Node(CHARGER, US, "opto-a", "opto-k", 1.0, 1.15),
    Node(SWINGING, US, "bulk", "hot-", 150, 167),
    Node(SWINGING, EU, "bulk", "hot-", 300, 323),
    Node(SWINGING, US, "bulk", "hot-", 4, 16, "ac"),  # 4 to 12 V; the worked case has 11.6
    Node(SWINGING, EU, "bulk", "hot-", 5, 15, "ac"),
    Node(SWINGING, US, "base", "hot-", -1.0, 0.3),
    Node(SWINGING, US, "out", "0V", 23.4, 28.6),  # +-10 %
    Node(INTEGRATED, EU, "sec", "out", 0.45, 0.52, "d"),  # the worked case: 0.48 V
)


@lru_cache(maxsize=4)
def table(start: str, mains: tuple[float, float]) -> Table:
    return healthy_table(start_circuit(start, Unit("set", *mains, "II", 30.0), ()))


def band(node: Node) -> tuple[float, float]:
    return band_at(table(node.start, node.mains), node.function, node.red, node.black, Condition(node.function in ("v", "ac")))


@pytest.mark.parametrize("node", NODES, ids=lambda n: f"{n.mains[0]:g}V {n.red} {n.start.partition(';')[0]}")
def test_a_healthy_node_shows_what_the_trade_goes_by(node: Node) -> None:
    low, high = band(node)
    middle = 0.5 * (node.low + node.high)
    assert low <= middle <= high or (node.low <= low and high <= node.high), (low, high)  # about it, or all of it within
    assert high - low <= 3.0 * (node.high - node.low), (low, high)
    assert low < node.high and high > node.low
