"""What trimmer and panel potentiometer share: a track with a wiper on it. The wiper loses the track first."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, put, spread, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import TRIMMER

NEAR = 1e-3  # of the track, left between wiper and end at the very stop (end resistance, makers' figure recalled: under 1 %)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Two pieces of track from the wiper to the ends, the wiper's own contact between them and its leg."""
    on_track = s.inner("track")
    at = np.clip(np.asarray(v["at"]), NEAR, 1.0 - NEAR)
    s.resistor(pins["a"], on_track, v["ohms"] * at + v["a_open"])
    s.resistor(on_track, pins["b"], v["ohms"] * (1.0 - at) + v["b_open"])
    s.resistor(on_track, pins["w"], v["contact"])


def ways() -> tuple[Way, ...]:
    """Ways in which a track or its wiper fails."""
    dirty = "wiper on dirt or oxide: ohms in series with it, jumps as it is turned"
    return (
        Way("wiper-open", 0.45, BENCH, put("contact", OPEN), "wiper off its track", {}, "open"),
        Way("dirty", 0.35, BENCH, spread("contact", 100.0, 100e3), dirty),
        Way("a-open", 0.1, BENCH, put("a_open", OPEN), "track broken at the end a", {"burnt": 0.2}, "open"),
        Way("b-open", 0.1, BENCH, put("b_open", OPEN), "track broken at the end b", {"burnt": 0.2}, "open"),
    )


def variable(
    name: str, words: tuple[str, ...], *, letters: tuple[str, ...], set_within: float, rate: float, test: str, substitute: str
) -> Family:
    """A family of such. set_within: how well the place of its wiper is known, relative, of `at` (share of the track from a to w)."""
    return Family(
        name=name,
        words=words,
        letters=letters,
        pins=("a", "b", "w"),
        params=(
            Param("ohms", "ohm", 10e3, 0.1, 3.0),
            Param("at", "", 0.5, set_within, 2.0),
            Param("contact", "ohm", 1.0, 0.5),
            Param("a_open", "ohm", 0.0, 0.0),
            Param("b_open", "ohm", 0.0, 0.0),
        ),
        rate=rate,
        rate_source=HDBK217 + ", variable composition and wirewound, raised for open old ones",
        ways=ways(),
        wrong=wrong_value("ohms", 1.8, 12.0, "ohms"),
        stamp=stamp,
        shaken=0.6,
        heated=0.1,
        dies_alone=True,
        main_value="ohms",
        plus_minus=("a", "w"),
        aliases={"ab": ("a", "b"), "aw": ("a", "w"), "wb": ("w", "b"), "track": ("a", "b"), "wiper": ("w", "a")},
        killers=("dirt", "wiper turned under current", "heat"),
        test=test,
        substitute=substitute,
        cold_reads=(("a", "b", "r"), ("a", "w", "r"), ("w", "b", "r")),
        alone_reads=(("a", "b", "r"), ("a", "w", "r"), ("w", "b", "r")),
        symbol=TRIMMER,
    )
