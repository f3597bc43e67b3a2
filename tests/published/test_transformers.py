"""How far small mains transformers rise off load: makers' catalogues against the assumed transformers of the starting sheets.

SOURCES  data/textbook_power_examples.csv, row xfmr-reg (makers' catalogues, recalled). Second check: a secondary stands 5 to 25 %
         above its label off load (common practice).
TAKEN    label volts into a resistive load of the rated volt-amperes; off load only the magnetising current flows.
BOUND    the catalogue's ranges, which both ends of a class touch; between two classes the neighbours' nearer ends. 0.5 % for values rounded to
         three digits and for 0.3 of the rated current magnetising half the winding.
"""

from __future__ import annotations

import re

import pytest

from halfsplit.circuit.starting.sizes import TRANSFORMER_VA, transformer_values
from solver.figures import Book
from solver.rig import circuit, part, read, run

BOOK = Book("textbook_power_examples.csv")
CLASSES = [
    (float(low), float(high or low), float(least) / 100, float(most) / 100)
    for low, high, least, most in re.findall(r"(\d+)(?:-(\d+))?: (\d+)-(\d+) %", BOOK.rows["xfmr-reg"]["given"])
]


def allowed(va: float) -> tuple[float, float]:
    """Least and most rise that the catalogues allow for a size."""
    under = max((c for c in CLASSES if c[0] <= va), key=lambda c: c[0])
    if va <= under[1]:
        return under[2:]
    above = min((c for c in CLASSES if c[0] > va), key=lambda c: c[0])
    return above[2], under[3]


def test_the_row_is_read_whole():
    """Four classes, rising in size and falling in regulation."""
    assert [c[:2] for c in CLASSES] == [(1.0, 3.0), (6.0, 10.0), (20.0, 50.0), (100.0, 100.0)]


@pytest.mark.parametrize("va", [v for v in TRANSFORMER_VA if v <= 100])
@pytest.mark.parametrize(("volts", "hertz"), [(120.0, 60.0), (230.0, 50.0)])
def test_rise_off_load(va, volts, hertz):
    """xfmr-reg: rated load against none, solved."""
    values = transformer_values(12.0, va, volts=volts, hertz=hertz)
    c = circuit(
        part("T", "transformer", "L N a b", **values),
        part("R", "resistor", "a b", ohms=144.0 / va),
        volts=volts,
        hertz=hertz,
        ohms=1e-3,
    )
    loaded = read(run(c), "a", "b", "ac")
    assert loaded == pytest.approx(12.0, rel=0.02)  # what is written on it
    free = read(run(c.with_parts(tuple(p for p in c.parts if p.ref != "R"))), "a", "b", "ac")
    least, most = allowed(va)
    assert least - 5e-3 < free / loaded - 1 < most + 5e-3
    assert 0.05 < free / loaded - 1 < 0.255
