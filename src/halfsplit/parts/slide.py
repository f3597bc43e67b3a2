"""Speed or brightness pot that a pedal or a knob moves: at rest at one end of its travel, pressed half-way or all the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from halfsplit.parts.base import Param, Values
from halfsplit.parts.common import pressing
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.variable import stamp as track
from halfsplit.parts.variable import variable

DOWN = 0.0  # share of the track from a to the wiper, all the way down
WHOLE, HALF = "w", "b"  # pins by which a control says how far: all the way, half-way


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """A pot whose wiper stands where the control leaves it."""
    whole, half = (np.asarray(v.get(pressing(pin), 0.0)) > 0.5 for pin in (WHOLE, HALF))
    at = np.where(whole, DOWN, np.where(half, v["half"], v["at"]))
    loose = {pin: s.inner(pin) for pin in ("w", "b")}  # an output may hang on nothing
    track(s, {**loose, **pins}, {**v, "at": at})


_POT = variable(
    "slide",
    ("slide", "speed-pot", "slide-pot"),
    letters=(),
    set_within=0.02,
    rate=0.9,
    test="a to wiper falls evenly as the pedal goes down, without jumps, from the whole track to an ohm or so",
    substitute="ohms, taper and travel equal, volts and watts not less; strapped as original, so that a lost wiper leaves the whole track",
)
FAMILY = replace(
    _POT,
    params=(replace(_POT.params[0], default=470e3), Param("at", "", 0.98, 0.02, 1.02), Param("half", "", 0.2, 0.1, 1.5), *_POT.params[2:]),
    stamp=stamp,
    outputs=(WHOLE, HALF),
)
