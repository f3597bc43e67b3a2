"""MOSFET, n-channel: low-side switch of a load, coil or lamp: on while its gate is well above its source."""

from __future__ import annotations

from halfsplit.parts.mosfet import mosfet

FAMILY = mosfet("n-mosfet", ("n-mosfet", "n-channel", "nmos"), p_channel=False)
