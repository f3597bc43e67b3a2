"""A switching supply with two equal rails, taken as one block: from the bulk to plus and minus so many volts on the cold side."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, across, put, scaled, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

STARTS, STOPS = 100.0, 80.0  # bulk volts [V] (bench estimate)
PUMPED = 1.25  # times its volts, what a rail is held under when its load gives back more than it takes (bench estimate)
ABOVE = 3.0  # [V] what stands before its regulation
DROP = 0.1  # of its volts that a rail may lose before it counts as overloaded


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Both rails held, up to 1.5 x amps; constant watts from the bulk."""
    on = np.asarray(v["runs"]) * v["alive"]
    if s.powered:
        s.power(pins["in+"], pins["in-"], watts=v["watts"] * on + 1e-6, volts=STARTS)
        for end, sign, lost in (("p", 1.0, "p_open"), ("m", -1.0, "m_open")):
            there, raw = on * (1.0 - np.asarray(v[lost])), s.inner(end)
            s.source(raw, pins["0"], dc=sign * (v["volts"] + ABOVE) * there, ohms=np.where(there > 0.5, 0.05, 1e5))
            s.regulator(raw, pins[end], pins["0"], volts=sign * v["volts"], drop=0.5, amps=v["amps"], quiescent=1e-3)
            s.resistor(pins[end], pins["0"], 1e5)
            low, high = (pins["0"], pins[end]) if sign > 0 else (pins[end], pins["0"])
            s.junction(low, high, isat=0.0, breakdown=PUMPED * np.asarray(v["volts"]))
    else:
        s.resistor(pins["p"], pins["0"], 1e6)
        s.resistor(pins["0"], pins["m"], 1e6)
    s.resistor(pins["in+"], pins["in-"], v["across"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """On from STARTS to STOPS of bulk; with a rail overloaded it gives up and tries again."""
    bulk = probe.volts("in+", "in-").mean(1)
    least = (1.0 - DROP) * v["volts"]
    good = [(probe.volts(a, b).mean(1) > least) | (np.asarray(v[lost]) > 0.5) for a, b, lost in (("p", "0", "p_open"), ("0", "m", "m_open"))]
    alive = np.asarray(v["alive"]) > 0.5
    return np.asarray(np.where(now > 0.5, (bulk > STOPS) & good[0] & good[1], bulk > STARTS) & alive, float)


FAMILY = Family(
    name="split-supply",
    words=("split-supply",),
    letters=(),
    pins=("in+", "in-", "p", "0", "m"),
    params=(
        Param("volts", "V", 45.0, 0.04, 1.1),
        Param("amps", "A", 6.0, 0.2, 1.5),
        Param("watts", "W", 12.0, 0.4, 2.0),
        Param("p_open", "", 0.0, 0.0),
        Param("m_open", "", 0.0, 0.0),
        slot("runs", 1.0),
        slot("alive", 1.0),
        across(),
    ),
    rate=1.2,
    rate_source=BENCH + ": a whole switching supply, all its parts together",
    ways=(
        Way("dead", 0.5, BENCH, put("alive", 0.0), "the supply gives nothing", {"burnt": 0.15}, "open"),
        Way("plus-open", 0.1, BENCH, put("p_open", 1.0), "its rectifier of the plus rail open", {}, "open"),
        Way("minus-open", 0.1, BENCH, put("m_open", 1.0), "its rectifier of the minus rail open", {}, "open"),
        Way("low", 0.1, BENCH, scaled("volts", 0.6, 0.9), "its rails are low", {}),
        Way("short", 0.2, BENCH, spread("across", 0.1, 5.0), "its switch shorted", {"cracked": 0.5, "burnt": 0.3}, "short"),
    ),
    stamp=stamp,
    shaken=0.2,
    heated=0.2,
    sides=(("in+", "in-"), ("p", "0", "m")),
    mode=Mode("runs", 1.0, settle),
    main_value="volts",
    plus_minus=("p", "0"),
    killers=("overload", "tired electrolytics", "surge"),
    test="its rails with what they feed lifted; then as a supply of its own",
    substitute="repair as a supply of its own, or donor board",
    cold_reads=(("in+", "in-", "r"), ("p", "0", "r"), ("0", "m", "r")),
    alone_reads=(("in+", "in-", "r"),),
    symbol=Box(("in+", "in-"), ("p", "0", "m"), "supply"),
)
