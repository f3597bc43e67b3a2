"""E-series against the table of IEC 60063 (data/eseries.csv, each row with its source; mark: read)."""

import csv
import math
from pathlib import Path

import pytest

from halfsplit.errors import DomainError, UnknownName
from halfsplit.units_codes import SERIES, nearest_value, series

ROWS = list(csv.DictReader((Path(__file__).parent / "data" / "eseries.csv").read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("name", SERIES)
def test_series_is_the_table(name: str) -> None:
    """Every series has exactly the values of the table, in its order."""
    table = [float(r["value"]) for r in ROWS if r["series"] == name]
    assert len(table) == int(name[1:])
    assert list(series(name)) == table


@pytest.mark.parametrize("name", SERIES)
def test_each_value_is_its_own_nearest(name: str) -> None:
    """A value of the series is its own nearest value in every decade of the bench."""
    for row in (r for r in ROWS if r["series"] == name):
        for power in (-12, -6, 0, 3, 6):
            value = float(f"{row['value']}e{power}")
            assert nearest_value(value, name) == pytest.approx(value, rel=1e-12)


def test_nearest_is_by_ratio_and_crosses_the_decade() -> None:
    """9.9 kohm in E12 is 10 kohm of the next decade, not 8.2 kohm."""
    assert nearest_value(9.9e3, "E12") == 1e4
    middle = math.sqrt(10 * 15)
    assert nearest_value(middle * 0.999, "E6") == 10 and nearest_value(middle * 1.001, "E6") == 15


@pytest.mark.parametrize("value", [0.0, -1.0, math.inf, math.nan])
def test_no_nearest_for_what_is_no_value(value: float) -> None:
    """Nothing is near to zero, minus or open."""
    with pytest.raises(DomainError):
        nearest_value(value)


def test_unknown_series_is_refused() -> None:
    """A series that does not exist is named."""
    with pytest.raises(UnknownName, match="E13"):
        nearest_value(1.0, "E13")
