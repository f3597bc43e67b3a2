"""The plain rival of a model: one stored reading a cell, Gaussian, independent; the next reading by expected entropy two steps ahead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench import Bench, Fault, capacitors, hot_nets
from costs import Clock
from groups import Groups, Offered
from hands import Hands, Probe

Array = NDArray[np.float64]
SURE, ENOUGH, MOST = 0.95, 0.02, 25  # odds to stop at, bits under which a reading helps no more, readings at most
WIDE = 8  # candidates of the first step that are looked at two deep
OPEN = 9.0  # where OL lies on the scale of log ohms


@dataclass(frozen=True)
class Table:
    """z (rows, columns): stored readings on the scale of their function; sigma alike. Row 0 is the healthy board."""

    rows: tuple[Fault | None, ...]
    columns: tuple[Offered, ...]
    z: Array
    sigma: Array


def scaled(function: str, value: float) -> float:
    """Volts and amps by sign and logarithm, ohms by logarithm, diode test as it is."""
    if math.isinf(value):
        return OPEN
    if function == "r":
        return math.log10(max(value, 0.0) + 0.3)
    return value if function == "d" else math.copysign(math.log1p(abs(value) / 0.05), value)


def width(function: str, value: float) -> float:
    """Meter, 2 % and a floor for what no model knows, on the same scale."""
    if function == "r":
        return 0.02 if not math.isinf(value) else 0.3
    if function == "d":
        return 0.02 if not math.isinf(value) else 0.3
    return (0.02 * abs(value) + 0.05) / (0.05 + abs(value))


def table_of(groups: Groups) -> Table:
    """Cold ohms and diode test one way to the ground, DC and AC volts at rest and pressed: read once, kept with the groups."""
    cold = [r for r in groups.cold if r.function in ("r", "d") and r.black in groups.circuit.grounds.values()]
    columns = (*cold, *groups.live)
    values = np.array([[groups._cell(f, c) for c in columns] for f in groups.faults])
    groups._keep()
    z = np.array([[scaled(c.function, v) if not math.isnan(v) else math.nan for c, v in zip(columns, row)] for row in values])
    sigma = np.array([[width(c.function, v) if not math.isnan(v) else 1.0 for c, v in zip(columns, row)] for row in values])
    z = np.where(np.isnan(z), z[0], z)
    return Table(tuple(groups.faults), columns, np.nan_to_num(z), sigma)


def prior(rows: tuple[Fault | None, ...], complaint: bool) -> Array:
    """Parts evenly, then their ways evenly; the healthy board as the symptom says."""
    parts = [r[0] if r else "" for r in rows]
    count = len({p for p in parts if p})
    out = np.array([1.0 / count / parts.count(p) if p else 0.0 for p in parts])
    healthy = 0.004 if complaint else 0.15
    out = out * (1.0 - healthy)
    out[0] = healthy
    return out


def _log_density(z: Array, table: Table, j: int) -> Array:
    """(rows, outcomes): log of a Gaussian with a floor of one in a thousand."""
    s = table.sigma[:, j][:, None]
    d = (z[None, :] - table.z[:, j][:, None]) / s
    return np.asarray(np.log(0.995 * np.exp(-0.5 * d**2) / (s * 2.5066) + 0.005 / 10.0))


def _entropy(p: Array) -> Array:
    """Bits along the first axis."""
    return np.asarray(-(p * np.log2(np.maximum(p, 1e-12))).sum(axis=0))


def _after(p: Array, table: Table, j: int) -> Array:
    """(rows, outcomes): odds after each row's own reading turned up in column j."""
    log = np.log(np.maximum(p, 1e-300))[:, None] + _log_density(table.z[:, j], table, j)
    q = np.exp(log - log.max(axis=0))
    return np.asarray(q / q.sum(axis=0))


def gains(p: Array, table: Table, open_: list[int]) -> Array:
    """Bits that each open column is worth; only rows that still count are looked at."""
    heavy = np.flatnonzero(p > 1e-3)
    small = Table(tuple(table.rows[i] for i in heavy), table.columns, table.z[heavy], table.sigma[heavy])
    now = p[heavy] / p[heavy].sum()
    h = float(_entropy(now))
    return np.array([h - float((now * _entropy(_after(now, small, j))).sum()) for j in open_])


def next_column(p: Array, table: Table, open_: list[int], price: Array) -> tuple[int, float]:
    """(column, bits of the first step): the best two steps together for their price."""
    first = gains(p, table, open_)
    order = np.argsort(-first / price[open_])[:WIDE]
    best, at = -1.0, int(order[0])
    heavy = np.argsort(-p)[:6]
    for k in order:
        j = open_[int(k)]
        rest = [c for c in open_ if c != j]
        later = 0.0
        if rest and first[k] > 1e-6:
            q = _after(p, table, j)
            later = sum(float(p[i]) * float(gains(q[:, i], table, rest).max()) for i in heavy)
        worth = (float(first[k]) + later) / (price[j] + 0.33)
        if worth > best:
            best, at = worth, int(k)
    return open_[at], float(first[at])


class _Setup:
    """Where the set stands, and what a change of it takes."""

    def __init__(self, bench: Bench, clock: Clock) -> None:
        self.bench, self.clock, self.now = bench, clock, "cold"
        self.hot = hot_nets(bench.circuit)

    def name(self, column: Offered) -> str:
        return "cold" if column.pressed is None else " ".join(["on", *sorted(column.pressed)])

    def minutes(self, column: Offered) -> float:
        live_hot = column.pressed is not None and bool({column.red, column.black} & self.hot)
        return 0.33 + (0.0 if self.name(column) == self.now else 2.0) + (1.2 if live_hot else 0.0)

    def go(self, column: Offered) -> None:
        if self.name(column) == self.now:
            return
        if column.pressed is None:
            self.bench.switch_off()
            self.clock.discharge()
            for cap in capacitors(self.bench.circuit):
                if abs(self.bench.volts_on(cap.ref)) > 1.0:
                    self.bench.drain(cap.ref)
        else:
            if self.now == "cold":
                self.bench.switch_on()
                self.clock.switch_on()
            for control in set(self.bench.pressed) - column.pressed:
                self.bench.release(control)
            for control in column.pressed - set(self.bench.pressed):
                self.bench.press(control)
        self.now = self.name(column)


def work_dictionary(table: Table, bench: Bench, clock: Clock, hands: Hands, *, complaint: bool = True) -> dict[str, float]:
    """One job; part -> odds at the end, "" for a healthy board."""
    p = prior(table.rows, complaint)
    setup, open_ = _Setup(bench, clock), list(range(len(table.columns)))
    clock.discharge()
    while open_ and clock.readings < MOST and not clock.spent:
        if max(by_part(table, p).values()) >= SURE:
            break
        price = np.array([setup.minutes(c) for c in table.columns])
        j, bits = next_column(p, table, open_, price)
        if bits < ENOUGH:
            break
        column = table.columns[j]
        setup.go(column)
        taken = hands.take(Probe(column.function, column.red, column.black, f"{column.red} to {column.black}"))
        open_.remove(j)
        log = np.log(np.maximum(p, 1e-300)) + _log_density(np.array([scaled(column.function, taken.value)]), table, j)[:, 0]
        p = np.exp(log - log.max())
        p = p / p.sum()
    return by_part(table, p)


def by_part(table: Table, p: Array) -> dict[str, float]:
    out: dict[str, float] = {}
    for row, odds in zip(table.rows, p, strict=True):
        name = row[0] if row else ""
        out[name] = out.get(name, 0.0) + float(odds)
    return out
