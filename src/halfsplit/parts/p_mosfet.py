"""MOSFET, p-channel: high-side switch of a supply or battery: on while its gate is well below its source."""

from __future__ import annotations

from halfsplit.parts.mosfet import mosfet

FAMILY = mosfet("p-mosfet", ("p-mosfet", "p-channel", "pmos"), p_channel=True)
