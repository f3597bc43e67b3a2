"""The outlook: what every reading would show under every explanation. Everything asked is a reduction of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Column:
    """One reading that could be taken.

    function: v (DC volts), ac (AC volts), max, min, r (ohms), d (diode test), c (farads), esr (ohms), every (seconds from start to start
    of a hiccup; OL: it has none), count (an exact value).
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
    """One explanation. part "" with way "nothing wrong" is the healthy row. prior: its odds before any reading (not normalised).

    unheard: the same before the complaint was held against what the row would do; None where it was not."""

    part: str
    way: str
    prior: float
    why: str = ""
    unheard: float | None = None


@dataclass(frozen=True)
class Double:
    """Row `row` of the outlook was solved with the faults of rows a and b at once."""

    row: int
    a: int
    b: int


@dataclass(frozen=True)
class Undrawn:
    """Row `row` of the outlook was solved with something added that is not on the sheet. place: where. share: of the odds
    that something of the kind is there at all."""

    row: int
    place: str
    share: float


@dataclass(frozen=True)
class Outlook:
    """value (rows, columns, draws): what the meter would show, SI; inf = OL; NaN = cannot be said (density 1/span).
    pulsing (rows, columns): the display would not stand still. One draw is one unit, the same in every column.

    After the single faults come rows of prior 0 for what was solved beside them: doubles (two faults at once) and undrawn
    (something not on the sheet). kills (singles, singles): how much likelier the second comes with the first than by chance."""

    rows: tuple[Row, ...]
    columns: tuple[Column, ...]
    value: NDArray[np.float64]
    pulsing: NDArray[np.bool_]
    doubles: tuple[Double, ...] = ()
    undrawn: tuple[Undrawn, ...] = ()
    kills: NDArray[np.float64] | None = None

    @property
    def singles(self) -> int:
        """How many rows are explanations of their own: the first ones."""
        return len(self.rows) - len(self.doubles) - len(self.undrawn)


@dataclass(frozen=True)
class Reading:
    """One reading taken: column index, value as read in SI (inf = OL), and how it stood.

    sized: it shows the own value of a part whose size is only assumed; what it shows with nothing wrong [SI], else None.
    """

    column: int
    value: float
    pulsing: bool = False
    shaky: bool = False
    sized: float | None = None
