"""What both bipolar families share."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, HDBK338, across, put, slot, spread
from halfsplit.parts.stamper import Stamper

PARAMS = (Param("gain", "", 150.0, 0.5, 2.0), slot("base", 1.0), slot("path", 1.0), across())
RATE = 0.12
RATE_SOURCE = HDBK217 + ", between small signal and power, raised for relay and switch drivers"
TEST = "two junctions 0.55 to 0.7 V alike, C-E OL both ways"
SUBSTITUTE = "volts, amps, watts, SOA not less; gain similar; package and pin order"


def wire(s: Stamper, pins: Mapping[str, str], v: Values, *, pnp: bool) -> None:
    """The transistor and what is across C-E."""
    s.transistor(pins["c"], pins["b"], pins["e"], gain=v["gain"], pnp=pnp, base=v["base"], path=v["path"])
    s.resistor(pins["c"], pins["e"], v["across"])


# Collector and emitter changed over, as where the pin order of the type fitted is another: gain of one to eight (textbook: reverse gain).
WRONG = (Way("wrong part, turned", 1.0, BENCH, spread("gain", 1.0, 8.0), "collector and emitter changed over", {}, "wrong"),)


def ways() -> tuple[Way, ...]:
    """Ways in which a bipolar transistor fails."""
    return (
        Way("short", 0.73, HDBK338, spread("across", 0.05, 5.0), "C-E shorted", {"burnt": 0.2, "cracked": 0.2}, "short"),
        Way("open", 0.13, HDBK338, put("path", 0.0), "collector open", {}, "open"),
        Way("base-open", 0.14, HDBK338, lambda v, u: {"base": 0.0 * u, "path": 0.0 * u}, "base open", {}, "open"),
    )
