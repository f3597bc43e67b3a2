"""LED driver chip of a step-up supply: switch, current feedback and over-volt pin in one body, averaged.

Coil from the input to the switch node, rectifier from there to the string, the string's current through a sense resistor. Not driving it
passes its input less the rectifier's drop to the string; with the string open it runs up to its over-volt limit once and latches.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

OFF, RUNS, LATCHED = 0.0, 1.0, 2.0
JUST = 0.004  # over its over-volt limit it is held there, so that the latch is asked for
FAST = 1e6  # at which a coil of microhenries is no short [Hz]
PIN, PULL_UP = 10e6, 2.0  # what its pins leak through, and to where the feedback pin is pulled [ohm, V]
BACK = 2.0  # less than this from the switch node to the output and every turn-on shorts the output [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The averaged cell while it drives, its own current; its pins leak a little, as pins do, to ground or up."""
    switch = s.inner("sw")
    s.resistor(pins["sw"], switch, 1e-3 + v["sw_open"])
    if s.powered:
        on = np.where(np.asarray(v["running"]) == RUNS, 1.0, 0.0) * v["alive"]
        over, amps = (1.0 + JUST) * np.asarray(v["ovp"]), np.maximum(on * v["amps"], 1e-12)
        s.boost_cell(switch, pins["gnd"], pins["back"], (pins["fb"], pins["ovp"]), amps=amps, feedback=v["feedback"], over=over)
        s.load(pins["vin"], pins["gnd"], amps=v["run"] * (0.2 + 0.8 * on), volts=v["von"])
    else:
        s.resistor(pins["back"], pins["gnd"], 1e12)
    s.resistor(switch, pins["gnd"], v["across"])
    s.resistor(pins["vin"], pins["gnd"], v["shorted"])
    s.resistor(pins["ovp"], pins["gnd"], PIN)
    # left open its feedback pin is pulled up, so that it stops rather than running away (common practice)
    s.source(pins["fb"], pins["gnd"], dc=PULL_UP if s.powered else 0.0, ohms=PIN)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts with its supply; latches at the over-volt limit until the supply has gone.

    Without a rectifier nothing takes the coil's current over, and a shorted one shorts the output at every turn-on: neither counts as running.
    """
    vin = probe.volts("vin", "gnd").mean(1)
    sound = probe.conducts("sw", "back") & (probe.looking_out("sw", "back", {}, FAST) > BACK)
    can = (vin > np.where(now == OFF, v["von"], 0.85 * v["von"])) & (np.asarray(v["alive"]) > 0.5) & sound
    over = probe.volts("ovp", "gnd").mean(1) > v["ovp"]
    return np.asarray(np.where(now == LATCHED, LATCHED, np.where(can, np.where((now == RUNS) & over, LATCHED, RUNS), OFF)))


FAMILY = Family(
    name="led-boost",
    words=("led-boost", "backlight-driver", "step-up"),
    letters=(),
    pins=("vin", "gnd", "sw", "fb", "ovp", "back"),
    params=(
        Param("feedback", "V", 0.2, 0.03, 1.2),
        Param("ovp", "V", 1.23, 0.02, 1.05),
        Param("amps", "A", 3.0, 0.1, 1.5),
        Param("von", "V", 4.5, 0.05, 1.2),
        Param("run", "A", 3e-3, 0.3, 1.5),
        slot("running"),
        slot("alive", 1.0),
        Param("sw_open", "ohm", 0.0, 0.0),
        Param("shorted", "ohm", 2e9, 0.0),
        across(),
    ),
    rate=0.45,
    rate_source=HDBK217 + ", linear IC 0.25, raised: a switch inside",
    ways=(
        Way("dead", 0.4, BENCH, put("alive", 0.0), "supplied but never drives", {"cracked": 0.1}, "open"),
        Way("short", 0.4, BENCH, spread("across", 0.05, 2.0), "its switch shorted to ground", {"cracked": 0.3, "burnt": 0.2}, "short"),
        Way("vin-short", 0.1, BENCH, spread("shorted", 0.2, 20.0), "its supply shorted inside", {"cracked": 0.2}, "short"),
        Way("open", 0.1, BENCH, put("sw_open", OPEN), "switch pin open", {}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.25,
    mode=Mode("running", OFF, settle, gave_up=(LATCHED, RUNS)),
    main_value="feedback",
    plus_minus=("vin", "gnd"),
    killers=("open string without over-volt limit", "rectifier slow or open", "surge on the adapter"),
    test="input volts, then MAX of its output in the first second of a switch-on: up to the over-volt limit means that it runs",
    substitute="same number; feedback and over-volt references differ between look-alikes",
    cold_reads=(("sw", "gnd", "r"), ("vin", "gnd", "r")),
    alone_reads=(("sw", "gnd", "r"), ("vin", "gnd", "r")),
    symbol=Box(("vin", "gnd"), ("sw", "fb", "ovp"), inner=("back",)),
)
