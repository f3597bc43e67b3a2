"""The outlook: what every reading would show under every explanation. Everything asked is a reduction of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Column:
    """One reading that could be taken.

    function: v (DC volts), ac (AC volts), max, min, r (ohms), d (diode test), c (farads), esr (ohms), count (an exact value).
    red, black: nets. where: what a person types for it. state: name of the condition it is taken in; columns of one
    state share set-up costs. live: powered. hazard: "H0".."H3". minutes: of the reading itself [min].
    span: width over which a nonsense value could fall, in the column's own unit (> 0). limit: values above read OL (inf).
    part: the part that is read across or alone, if any.
    """

    key: str
    function: str
    red: str
    black: str
    where: str
    state: str
    live: bool = False
    hazard: str = "H0"
    minutes: float = 0.33
    span: float = 1.0
    limit: float = np.inf
    part: str | None = None
    unit: str = ""


@dataclass(frozen=True)
class Row:
    """One explanation. part "" with way "nothing wrong" is the healthy row. prior: its odds before any reading (not normalised)."""

    part: str
    way: str
    prior: float
    why: str = ""


@dataclass(frozen=True)
class Outlook:
    """value (rows, columns, draws): what the meter would show, SI; inf = OL; NaN = cannot be said (density 1/span).
    pulsing (rows, columns): the display would not stand still. One draw is one unit, the same in every column."""

    rows: tuple[Row, ...]
    columns: tuple[Column, ...]
    value: NDArray[np.float64]
    pulsing: NDArray[np.bool_]


@dataclass(frozen=True)
class Reading:
    """One reading taken: column index, value as read in SI (inf = OL), and how it stood."""

    column: int
    value: float
    pulsing: bool = False
    shaky: bool = False
