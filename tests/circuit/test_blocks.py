"""Blocks of a starting sheet are those that the trade splits a chain into (common practice). That every place has one: test_starting.py."""

from __future__ import annotations

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.circuit.starting.blocks import block_of

EU = Unit("bench set", 230.0, 50.0, "II", 40.0)


def test_a_flyback_is_split_where_the_trade_splits_it() -> None:
    """Common practice: mains input, rectifier and bulk, converter, output, feedback, load."""
    made = start_circuit("flyback with controller 16/10V; out 24V 1.5A", EU)
    told = {ref: block_of(made.part(ref)) for ref in ("fuse", "bulk-cap", "vcc-cap", "switch", "rectifier", "opto", "out-load")}
    assert told == {
        "fuse": "mains input", "bulk-cap": "rectifier and reservoir", "vcc-cap": "converter", "switch": "converter",
        "rectifier": "output", "opto": "feedback", "out-load": "load",
    }
    linear = start_circuit("linear 12V 1A, 5V", EU)
    assert block_of(linear.part("switch")) == "mains input" and block_of(linear.part("transformer")) == "mains transformer"
