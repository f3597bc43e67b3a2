"""Where the search for a periodic state begins: from a neighbour that stood in the same modes, moved as a healthy unit of the same tolerances is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.solver.network import Array

Rows = NDArray[np.int64]


@dataclass(frozen=True)
class Visit:
    """How some rows of a batch stood in one pattern of modes (key). places: row of the batch -> place in the arrays.

    state (rows, states), minv (rows, states, states): as in Periodic. volts (rows, nodes): at the end of the cycle [V].
    """

    places: Mapping[int, int]
    state: Array
    minv: Array
    volts: Array


@dataclass(frozen=True)
class Start:
    """Where every row of a batch begins; known (batch,): minv is that of a neighbour in the same modes, fit for chord steps."""

    state: Array
    minv: Array
    volts: Array
    known: NDArray[np.bool_]

    def take(self, rows: Rows | NDArray[np.bool_]) -> Start:
        """The start of some rows."""
        return Start(self.state[rows], self.minv[rows], self.volts[rows], self.known[rows])


Visits = Mapping[bytes, Visit]


def near(start: Start, keys: Sequence[bytes], visits: Visits, rows: Rows, units: Visits, unit: Rows | None) -> Start:
    """Begin each row where its neighbour in `visits` (row rows[i]) stood in the same modes, if it did; else where `start` says.

    units: visits of healthy sets, of which number 0 has nominal values; unit: which of them has the tolerances of each row. Volts and amps
    are scaled as these scale them in a healthy set. (Not added: a dead rail stays dead. On leaks alone it would keep for ever what it is given.)
    """
    state, minv, volts, known = start.state.copy(), start.minv.copy(), start.volts.copy(), start.known.copy()
    for key in set(keys) & set(visits):
        visit, healthy = visits[key], units.get(key)
        own = np.array([i for i, k in enumerate(keys) if k == key and int(rows[i]) in visit.places], np.int64)
        at = np.array([visit.places[int(rows[i])] for i in own], np.int64)
        state[own], minv[own], volts[own], known[own] = visit.state[at], visit.minv[at], visit.volts[at], True
        if healthy is None or unit is None or 0 not in healthy.places:
            continue
        own = own[[int(unit[i]) in healthy.places for i in own]] if len(own) else own
        one, nominal = np.array([healthy.places[int(unit[i])] for i in own], np.int64), healthy.places[0]
        state[own] *= _ratio(healthy.state[one], healthy.state[nominal])
        volts[own] *= _ratio(healthy.volts[one], healthy.volts[nominal])
    return Start(state, minv, volts, known)


def _ratio(one: Array, nominal: Array) -> Array:
    """How a healthy set of other tolerances stands against the nominal one; 1 where there is hardly anything to compare."""
    much = np.abs(nominal) > 1e-3
    return np.where(much, np.clip(one / np.where(much, nominal, 1.0), 0.7, 1.4), 1.0)


def with_visits(visits: Visits, keys: Sequence[bytes], rows: Rows, start: Start) -> dict[bytes, Visit]:
    """The visits with those of some rows added: how each (rows[i]) stood in the modes keys[i]. Later ones replace earlier ones."""
    out = dict(visits)
    for key in set(keys):
        here = np.array([i for i, k in enumerate(keys) if k == key], np.int64)
        new = start.take(here)
        old = out.get(key)
        count = 0 if old is None else len(old.state)
        places = {**({} if old is None else old.places), **{int(rows[i]): count + n for n, i in enumerate(here)}}
        state, minv, volts = new.state, new.minv, new.volts
        if old is not None:
            state, minv, volts = (np.concatenate(p) for p in ((old.state, state), (old.minv, minv), (old.volts, volts)))
        out[key] = Visit(places, state, minv, volts)
    return out
