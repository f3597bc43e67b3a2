"""Good starts in a row: how likely a fault that comes and goes keeps quiet for so long.

Each start shows it with the same chance q, so N quiet ones have the chance (1 - q)^N (geometric distribution, textbook). q is not
known, only that it lies between once in `RARE` starts and every time, each power of ten as likely (log-uniform; bench estimate).
"""

from __future__ import annotations

import math

from halfsplit.errors import InputError

RARE = 300  # starts: rarer than that nobody brings a set in for it (bench estimate)


def quiet(cycles: int, rare: float = RARE) -> float:
    """P(nothing shows in so many starts | it comes and goes): the mean of (1 - q)^N over log-uniform q in 1/rare .. 1.

    Closed form: with a = 1/rare the integral of (1 - q)^N / q over a..1 is ln(1/a) - sum over k = 1..N of (1 - a)^k / k,
    since each further start takes off the integral of (1 - q)^(N-1). Raises InputError for a number that is none.
    """
    if cycles < 0 or not rare > 1.0:
        raise InputError(f"{cycles} starts and once in {rare:g} make no chance; write a whole number, 1 or more")
    whole = math.log(rare)
    keep, power, taken = 1.0 - 1.0 / rare, 1.0, 0.0
    for k in range(1, cycles + 1):
        power *= keep
        taken += power / k
    return max(whole - taken, 0.0) / whole
