"""What op-amps and comparators share. One family part is one amplifier: a body of two or four is U4A, U4B ... on the sheet."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Param, Values, Way
from halfsplit.parts.common import CLEAR, HDBK217, HDBK338, put, slot, spread
from halfsplit.parts.stamper import Stamper

PINS = ("in+", "in-", "out", "v+", "v-")
RATE = 0.1
RATE_SOURCE = HDBK217 + ", small linear IC"
READS = (("v+", "v-", "r"), ("out", "v-", "r"), ("v+", "out", "r"))
LIVE_VOLTS = 3.0  # what these need at least [V] (makers' figure of the common ones, recalled)


def params(head: float, source: float, sink: float, quiescent: float) -> tuple[Param, ...]:
    """head: how far short of v+ it drives [V]. source, sink: most it gives and takes [A]. quiescent: own current [A]."""
    return (
        Param("head", "V", head, 0.15),
        Param("source", "A", source, 0.3),
        Param("sink", "A", sink, 0.3),
        Param("quiescent", "A", quiescent, 0.3, 2.0),
        slot("path", 1.0),
        Param("low", "ohm", CLEAR, 0.0),
        Param("high", "ohm", CLEAR, 0.0),
        Param("across", "ohm", CLEAR, 0.0),
    )


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The amplifier and its own current while on; unplugged only its body, for its inputs leave no ohms behind."""
    if s.powered:
        inputs, supply = (pins["in+"], pins["in-"]), (pins["v+"], pins["v-"])
        s.amplifier(inputs, pins["out"], supply, head=v["head"], source=v["source"], sink=v["sink"], path=v["path"])
        s.load(pins["v+"], pins["v-"], amps=v["quiescent"], volts=LIVE_VOLTS)
    s.resistor(pins["in+"], pins["v-"], CLEAR)
    s.resistor(pins["in-"], pins["v-"], CLEAR)
    s.resistor(pins["out"], pins["v-"], v["low"])
    s.resistor(pins["v+"], pins["out"], v["high"])
    s.resistor(pins["v+"], pins["v-"], v["across"])


def ways() -> tuple[Way, ...]:
    """Handbook: improper output 77 %, none 23; which improper one is a bench estimate within that."""
    return (
        Way(
            "stuck-low",
            0.34,
            HDBK338,
            spread("low", 1.0, 50.0),
            "output shorted to its lower supply, whatever the inputs",
            {},
            "short",
        ),
        Way(
            "stuck-high",
            0.33,
            HDBK338,
            spread("high", 1.0, 50.0),
            "output shorted to its upper supply, whatever the inputs",
            {},
            "short",
        ),
        Way("supply-short", 0.1, HDBK338, spread("across", 1.0, 40.0), "supply pins shorted inside", {"cracked": 0.2}, "short"),
        Way("dead", 0.23, HDBK338, put("path", 0.0), "supplied but its output does nothing", {}, "open"),
    )
