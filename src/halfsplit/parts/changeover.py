"""Changeover relay: at rest its common contact is on nc, pulled in on no."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from halfsplit.parts.base import Values, Way
from halfsplit.parts.common import HDBK338, OPEN, put, slot
from halfsplit.parts.relay import FAMILY as RELAY
from halfsplit.parts.relay import stamp as make_contact
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import CHANGEOVER


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Coil and make contact as a relay's; the rest contact is closed unless it is pulled in, welded over or burnt."""
    make_contact(s, pins, v)
    pulled = np.asarray(v["pulled"]) > 0.5 if s.powered else np.zeros(np.shape(v["welded"]), bool)
    away = pulled | (np.asarray(v["welded"]) > 0.5) | (np.asarray(v["rest_burnt"]) > 0.5)
    s.resistor(pins["com"], pins["nc"], np.where(away, OPEN, v["contact"]))


FAMILY = replace(
    RELAY,
    name="changeover",
    words=("changeover", "changeover-relay", "spdt"),
    letters=(),
    pins=("c+", "c-", "com", "no", "nc"),
    params=(*RELAY.params, slot("rest_burnt")),
    ways=(
        Way("coil-open", 0.12, HDBK338, put("c_open", OPEN), "coil open", {}, "open"),
        Way("stuck-open", 0.33, HDBK338, put("stuck", 1.0), "make contact burnt, doesn't make", {"burnt": 0.2}, "open"),
        Way(
            "rest-open", 0.2, HDBK338, put("rest_burnt", 1.0), "rest contact burnt, doesn't make at rest", {"burnt": 0.2}, "open"
        ),
        Way("welded", 0.35, HDBK338, put("welded", 1.0), "contact welded over to no: on for good", {}, "short"),
    ),
    stamp=stamp,
    shaken=0.5,
    heated=0.1,
    sides=(("c+", "c-"), ("com", "no", "nc")),
    aliases={**RELAY.aliases, "nc": ("com", "nc")},
    test="coil ohms; at rest com to nc below 1 ohm and com to no OL; the other way round on bench volts",
    cold_reads=(("c+", "c-", "r"), ("com", "no", "r"), ("com", "nc", "r")),
    alone_reads=(("c+", "c-", "r"), ("com", "no", "r"), ("com", "nc", "r")),
    symbol=CHANGEOVER,
)
