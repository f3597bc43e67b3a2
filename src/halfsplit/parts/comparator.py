"""Comparator with open collector (393, 339): pulls its output down while in- is above in+, else lets it go."""

from __future__ import annotations

from halfsplit.parts.amplifier import PINS, RATE, RATE_SOURCE, READS, params, stamp, ways
from halfsplit.parts.base import Family
from halfsplit.parts.symbols import AMPLIFIER

FAMILY = Family(
    name="comparator",
    words=("comparator", "393", "339"),
    letters=(),
    pins=PINS,
    params=params(head=1.5, source=0.0, sink=16e-3, quiescent=0.5e-3),
    rate=RATE,
    rate_source=RATE_SOURCE,
    ways=ways(),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    plus_minus=("out", "v-"),
    killers=("surge on an input", "supply too high", "pull-up too small", "input driven past the supply"),
    test="supply, then both inputs: in- above in+ must read low at the output, else its pull-up's volts; no pull-up, no high",
    substitute="supply volts and sink current not less, open collector as it was, same pins",
    cold_reads=READS,
    alone_reads=READS,
    symbol=AMPLIFIER,
)
