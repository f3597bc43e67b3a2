"""What a healthy supply with a boost stage is expected to show, on both mains, against the values that the trade goes by.

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
OFF, ON = frozenset[str](), frozenset({"on"})


@dataclass(frozen=True)
class Node:
    """low..high: what the trade calls healthy there [V, ohm]. pressed None: dead."""

    mains: tuple[float, float]
    pressed: frozenset[str] | None
    red: str
    black: str
    low: float
    high: float


NODES = (
    *(Node(mains, ON, "bulk", "hot-", 385, 400) for mains in (EU, US)),  # the same on both
    *(Node(mains, ON, "pfc-fb", "hot-", 2.46, 2.54) for mains in (EU, US)),  # 2.50 V
    *(Node(mains, ON, "mid", "hot-", 192.5, 200) for mains in (EU, US)),  # half of the bulk
    *(Node(mains, ON, "+5", "0V", 4.9, 5.2) for mains in (EU, US)),
    *(Node(mains, OFF, "+5", "0V", 4.9, 5.2) for mains in (EU, US)),
    Node(EU, OFF, "bulk", "hot-", 310, 336),  # idle: the rectified peak, 323 V and mains within 4 %
    Node(US, OFF, "bulk", "hot-", 160, 177),  # 167 V; 120 V mains within 5 %
    Node(EU, OFF, "pfc-fb", "hot-", 1.97, 2.13),  # the same over a good string, 2.1 V
    Node(US, OFF, "pfc-fb", "hot-", 1.01, 1.12),  # 1.08 V
    Node(EU, ON, "vcc", "hot-", 12, 18),
    Node(EU, ON, "out", "0V", 34.2, 37.8),  # +-5 %
    Node(EU, ON, "ref", "0V", 2.42, 2.55),
    Node(EU, ON, "opto-a", "opto-k", 1.0, 1.1),
    Node(EU, None, "string-b", "string-a", 0.66e6, 0.68e6),  # beside 2.02 M: the empty bulk joins both ends; 0.71 M once it has charged, minutes later
)
# Held far more closely here than the span that the trade allows all sets together: only that they lie inside it
WITHIN = {"vcc", "out"}


@lru_cache(maxsize=2)
def table(mains: tuple[float, float]) -> Table:
    return healthy_table(start_circuit("PFC and half-bridge; out 36V 10A", Unit("set", *mains, "I", 400.0), ()))


def band(node: Node) -> tuple[float, float]:
    condition = Condition(node.pressed is not None, node.pressed or frozenset())
    return band_at(table(node.mains), "r" if node.pressed is None else "v", node.red, node.black, condition)


@pytest.mark.parametrize("node", NODES, ids=lambda n: f"{n.mains[0]:g}V {'+'.join(n.pressed) if n.pressed is not None else 'dead'} {n.red}")
def test_a_healthy_node_shows_what_the_trade_goes_by(node: Node) -> None:
    low, high = band(node)
    if node.red in WITHIN:
        assert node.low <= low and high <= node.high, (low, high)
    else:
        assert low <= node.low and node.high <= high, (low, high)
        assert high - low <= 3 * (node.high - node.low), (low, high)
