"""What MOSFETs that simply switch or regulate share. The averaged switch of a converter is the family `fet`."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, across, peak_volts, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import N_FET, P_FET

# Gate volts at which its on-resistance is marked [V], and threshold of a logic-level one over that of a plain one (makers'
# usual figures, recalled: 10 and 4.5 V; 2 to 4 and 1 to 2.5 V).
FULL_GATE, LOGIC_GATE, LOGIC = 10.0, 4.5, 0.55
BODY_DROP, BODY_IDEALITY = 0.85, 1.7  # body diode at 1 A


def _wire(s: Stamper, pins: Mapping[str, str], v: Values, p_channel: bool) -> None:
    """Square-law channel while on, body diode, what is across it and what its gate leaks; unplugged its gate is empty."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, 1e-4 + v["d_open"])
    if s.powered:
        logic = np.asarray(v["logic"]) > 0.5
        threshold = v["vth"] * np.where(logic, LOGIC, 1.0)
        gain = 1.0 / (np.asarray(v["ron"]) * np.maximum(np.where(logic, LOGIC_GATE, FULL_GATE) - threshold, 0.5))
        s.field_effect(drain, pins["g"], pins["s"], threshold=threshold, gain=gain, p_channel=p_channel)
    a, k = (drain, pins["s"]) if p_channel else (pins["s"], drain)
    s.junction(a, k, isat=saturation(np.asarray(BODY_DROP), np.asarray(BODY_IDEALITY)), ideality=BODY_IDEALITY)
    s.resistor(drain, pins["s"], v["across"])
    # while on, 10 Mohm empty a gate that is left behind an open resistor
    s.resistor(pins["g"], pins["s"], 1.0 / (1.0 / v["gate"] + (1e-7 if s.powered else 0.0)))


def mosfet(name: str, words: tuple[str, ...], *, p_channel: bool) -> Family:
    """One channel type as a family."""

    def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
        _wire(s, pins, v, p_channel)

    on, off = ("s", "d") if p_channel else ("d", "s")  # plus and minus of what it blocks
    return Family(
        name=name,
        words=words,
        letters=(),
        pins=("g", "d", "s"),
        params=(
            Param("vth", "V", 3.0, 0.2, 1.5),
            Param("ron", "ohm", 0.05, 0.3, 3.0),
            Param("d_open", "ohm", 0.0, 0.0),
            slot("logic"),
            across(),
            across("gate"),
        ),
        rate=0.12,
        rate_source=HDBK217 + ", silicon FET",
        ways=(
            Way(
                "short",
                0.65,
                BENCH,
                spread("across", 0.05, 2.0),
                "D-S shorted: on for good",
                {"cracked": 0.3, "burnt": 0.3},
                "short",
            ),
            Way("gate-short", 0.2, BENCH, spread("gate", 1.0, 500.0), "gate leaks to source: never turns on", {}, "short"),
            Way("open", 0.15, BENCH, put("d_open", OPEN), "drain open", {"cracked": 0.3}, "open"),
        ),
        stamp=stamp,
        shaken=0.1,
        heated=0.25,
        dies_alone=False,
        main_value="ron",
        plus_minus=(on, off),
        aliases={"ds": ("d", "s"), "sd": ("s", "d"), "gs": ("g", "s"), "dg": ("d", "g"), "gd": ("g", "d")},
        ratings=(("volts", peak_volts("d", "s")),),
        killers=("flyback diode open", "shorted load", "gate driven too little: it runs hot", "static at the gate"),
        test="D-S 0.4 to 0.6 V one way and OL the other, gate OL to both; charged at its gate it conducts, discharged it doesn't",
        substitute="channel, volts, amps, watts not less; on-resistance not much more; logic-level stays logic-level",
        cold_reads=((on, off, "r"), (off, on, "d"), ("g", "s", "r")),
        alone_reads=((on, off, "r"), (off, on, "d"), ("g", "s", "r")),
        symbol=P_FET if p_channel else N_FET,
    )
