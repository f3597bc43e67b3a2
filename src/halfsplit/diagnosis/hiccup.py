"""What the peak of a hiccup says about its kind, before any odds: the trade's rule, in its words.

Common practice: peak of the output over what a healthy set holds. The odds go by the followed burst (solver/bursts.py); this is the sentence for the bench.
"""

from __future__ import annotations

OVERLOAD_BELOW = 0.4
ABOUT_RIGHT = (0.85, 1.07)  # a start may swing some per cents past its end
NOTHING_BELOW = 0.01


def kind_of(peak: float, healthy: float) -> str:
    """The sentence for a peak [V] of a rail that a healthy set holds at `healthy` [V]; empty where the rule has none."""
    if abs(healthy) < 1e-9:
        return ""
    share = peak / healthy
    if share < NOTHING_BELOW:
        return "no peak at all: sense, gate, shorted transformer, open clamp"
    told = f"peak {100 * share:.0f} % of healthy"
    if share < OVERLOAD_BELOW:
        return f"{told}: overload kind (short, rectifier, load); unplug loads one by one"
    if share > ABOUT_RIGHT[1]:
        return f"{told}: over-voltage kind (loop open: opto, reference, divider)"
    if share >= ABOUT_RIGHT[0]:
        return f"{told}: starts, then stops (Vcc feed, brown-out, heat, or a load that draws after the start)"
    return f"{told}: between the kinds; behind a lamp that is too small every supply hiccups"
