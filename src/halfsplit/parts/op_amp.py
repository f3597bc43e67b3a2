"""Op-amp of the common single-supply kind (358, 324): swings down to v- and to a volt and a half under v+."""

from __future__ import annotations

from halfsplit.parts.amplifier import PINS, RATE, RATE_SOURCE, READS, params, stamp, ways
from halfsplit.parts.base import Family
from halfsplit.parts.symbols import AMPLIFIER

FAMILY = Family(
    name="op-amp",
    words=("op-amp", "opamp", "358", "324", "4558"),
    letters=(),
    pins=PINS,
    params=params(head=1.5, source=20e-3, sink=15e-3, quiescent=0.5e-3),
    rate=RATE,
    rate_source=RATE_SOURCE,
    ways=ways(),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    plus_minus=("out", "v-"),
    killers=("surge on an input", "supply too high", "output shorted", "input driven past the supply"),
    test="supply first; with feedback both inputs within millivolts; inputs apart and the output on the wrong side: it is gone",
    substitute="supply volts not less, single-supply and rail-to-rail as it was, same pins; a comparator is no op-amp",
    cold_reads=READS,
    alone_reads=READS,
    symbol=AMPLIFIER,
)
