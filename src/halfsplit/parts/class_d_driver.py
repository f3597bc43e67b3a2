"""Modulator and level-shift driver of a class-D amplifier, as one chip: both gates in turn, its middle held at its reference."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

OFF, RUNS, SAGS, LOW_ONLY = 0.0, 1.0, 2.0, 3.0
BOOT_AMPS = 0.6e-3  # what the upper half takes (common practice)
BASS, MOST_SAG, SAGGED = 10e-3, 1.5, 0.75  # [s] half a wave of bass, [V] sag over it that shows; what is then left of the supply
BOOT_STOPS, MUTED = 5.0, 1.5  # [V] boot supply under which the upper half rests; mute above which all of it does (recalled)
CATCH = 1.0  # [V] at its middle from one end of the duty to the other


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Draws its currents; shifts the boot supply up to the middle; drives both gates so that the middle's mean is the reference."""
    state = np.asarray(v["running"])
    on = np.where(state > 0.5, 1.0, 0.0) * v["alive"]
    com, vs = pins["com"], pins["vs"]
    if s.powered:
        copy = s.inner("middle")  # the middle against the reference, down at com
        s.load(pins["vcc"], com, amps=np.where(on > 0.5, v["run"], v["start"]) + 1e-9, volts=2.0)
        s.load(pins["boot"], vs, amps=BOOT_AMPS + 0.0 * on, volts=2.0)
        s.ideal((pins["feed"], com), (pins["boot"], vs), np.where(state == SAGS, SAGGED, 1.0), 2.0)
        s.ideal((pins["core"], "N"), (pins["rail"], com), 9.0, 0.01)
        s.ideal((vs, pins["ref"]), (copy, com), 1.0, 1e3)
        s.source(pins["mute"], com, dc=5.0 + 0.0 * on, ohms=200e3)
        upper = on * np.where(state == LOW_ONLY, 0.0, 1.0)
        s.driver(pins["ho"], vs, pins["ref"], vs, on=upper, trip=1.0, low=-0.5 * CATCH, span=CATCH)
        s.driver(pins["lo"], com, copy, com, on=on, trip=1.0, low=-0.5 * CATCH, span=CATCH)
    else:
        s.resistor(pins["feed"], pins["boot"], 1e-3)
        s.driver(pins["ho"], vs, vs, vs, on=0.0 * on - 1.0, trip=1.0)
        s.driver(pins["lo"], com, com, com, on=0.0 * on - 1.0, trip=1.0)
    s.resistor(pins["vcc"], com, v["across"])
    s.resistor(pins["ho"], vs, v["upper"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Runs on enough Vcc and unmuted; its upper half with it where there is a boot supply, a low one where its capacitor is too small."""
    vcc, mute, boot = (probe.volts(*pair).mean(1) for pair in (("vcc", "com"), ("mute", "com"), ("boot", "vs")))
    runs = (vcc > np.where(now > 0.5, v["voff"], v["von"])) & (mute < MUTED) & (np.asarray(v["alive"]) > 0.5)
    farads = 1.0 / (2 * np.pi * 100.0 * np.maximum(probe.looking_out("boot", "vs", {}, 100.0), 1e-3))
    sags = BOOT_AMPS * BASS / farads > MOST_SAG
    upper = np.where(boot < BOOT_STOPS, LOW_ONLY, np.where(sags, SAGS, RUNS))
    return np.asarray(np.where(runs, upper, OFF))


FAMILY = Family(
    name="class-d-driver",
    words=("class-d-driver", "class-d-modulator"),
    letters=(),
    pins=("vcc", "com", "boot", "feed", "vs", "ho", "lo", "ref", "mute", "rail", "core"),
    params=(
        Param("von", "V", 9.5, 0.05, 1.15),
        Param("voff", "V", 8.5, 0.05, 1.15),
        Param("start", "A", 1e-3, 0.4),
        Param("run", "A", 6e-3, 0.3),
        slot("running"),
        slot("alive", 1.0),
        across(),
        across("upper"),
    ),
    rate=0.4,
    rate_source=HDBK217 + ", linear IC, raised for its place beside the switches",
    ways=(
        Way("dead", 0.4, BENCH, put("alive", 0.0), "supplied but never drives", {"cracked": 0.15}, "open"),
        Way("vcc-short", 0.25, BENCH, spread("across", 1.0, 60.0), "its Vcc shorted inside", {"cracked": 0.3}, "short"),
        Way(
            "ho-short",
            0.35,
            BENCH,
            spread("upper", 1.0, 60.0),
            "its upper output shorted to the middle",
            {"cracked": 0.3},
            "short",
        ),
    ),
    stamp=stamp,
    switching=("ho", "lo", "core", "feed"),
    drop_live={"": ("boot", "vs")},
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    mode=Mode("running", OFF, settle),
    main_value="von",
    plus_minus=("vcc", "com"),
    aliases={"ho": ("ho", "vs"), "boot": ("boot", "vs"), "lo": ("lo", "com")},
    killers=("output pair short", "gate resistor", "Vcc zener", "boot diode"),
    test="Vcc, mute, boot supply, then both gates, on bench DC without the output pair",
    substitute="same number incl. suffix",
    cold_reads=(("vcc", "com", "r"), ("ho", "vs", "r")),
    alone_reads=(("vcc", "com", "r"), ("ho", "vs", "r")),
    symbol=Box(("vcc", "mute", "ref", "com"), ("feed", "boot", "ho", "vs", "lo", "rail"), "", ("core",)),
)
