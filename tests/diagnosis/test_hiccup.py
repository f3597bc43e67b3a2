"""The trade's rule for the peak of a hiccup (common practice): 0 to 40 % overload, 105 to 130 % over-voltage, about right and gone: supply of the chip."""

from __future__ import annotations

import pytest

from halfsplit.diagnosis.hiccup import kind_of


@pytest.mark.parametrize(("peak", "healthy", "word"), [
    (2.7, 24.0, "overload"), (6.0, 45.0, "overload"), (-6.0, -45.0, "overload"), (17.2, 14.4, "over-voltage"),
    (23.8, 24.0, "starts, then stops"), (0.0, 24.0, "no peak"), (15.0, 24.0, "between"), (5.0, 0.0, ""),
])  # fmt: skip
def test_the_peak_names_the_kind(peak: float, healthy: float, word: str) -> None:
    """2.7 V of 24, 6 of 45 and 17.2 of 14.4 are worked cases of the trade."""
    said = kind_of(peak, healthy)
    assert (word in said) if word else said == ""
