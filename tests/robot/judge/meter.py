"""The meter: what it shows of a powered waveform, and its cold functions as decks of their own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .deck import Deck, Setting
from .fitted import Fitted
from .powered import Piece, Settled, sampled
from .spice import OPTIONS, TRIES, Array, JudgeFailed, measures

RANGES = (600.0, 6e3, 60e3, 600e3, 6e6, 60e6)  # full scales of the ohms function [ohm]
OHMS_VOLTS = 0.5
DIODE_VOLTS, DIODE_OHMS, DIODE_OL = 3.0, 3e3, 2.5
EARLY, LATE = 3.0, 15.0  # the two moments at which a cold reading is taken [s]
BEFORE = 14.0  # a second earlier: whether the display still moves [s]
FUNCTIONS = ("ohms", "diode", "capacitance", "esr")
_FIRST = 3  # the first pass looks at so many ranges before the others are run


@dataclass(frozen=True)
class Cold:
    """value after 15 s, after_3s, and before: after 14 s; SI; inf = OL."""

    value: float
    after_3s: float
    before: float

    @property
    def creeping(self) -> bool:
        """The display still moves: the two differ by more than 2 %."""
        a, b = self.after_3s, self.value
        return a != b and (math.isinf(a) or math.isinf(b) or abs(a - b) > 0.02 * abs(b))


def read_volts(state: Settled, red: str, black: str) -> dict[str, float | bool]:
    """dc, ac (true rms without the dc), min and max (of what pulses: of means over a tenth of a mains cycle), peaks, pulsing, settled;
    before_*: one run earlier."""
    hertz = next((p.values["hertz"] for p in state.pieces[0].deck.parts if p.family == "mains"), 50.0)
    step = 1.0 / (hertz * 400.0)
    pieces = [_between(p, red, black, step) for p in state.pieces]
    weights = np.concatenate([np.full(x.size, p.weight / max(x.size, 1)) for p, x in zip(state.pieces, pieces, strict=True)])
    x = np.concatenate(pieces)
    if not state.pulsing:  # the last cycle only: a run starts with coils at rest, which shows in its first cycles
        x, weights = x[-400:], weights[-400:]
    dc = float(np.average(x, weights=weights))
    ac = math.sqrt(max(0.0, float(np.average((x - dc) ** 2, weights=weights))))
    fast = _display(x, 40) if state.pulsing else np.array([dc])
    slow, swing = (_display(x), np.sqrt(np.maximum(_display(x**2) - _display(x) ** 2, 0.0))) if state.pulsing else (np.array([dc]), np.array([ac]))
    earlier = _between(state.before, red, black, step)[-400:] if state.before is not None else np.array([math.nan])
    return {"dc": dc, "ac": ac, "min": float(fast.min()), "max": float(fast.max()), "peak_min": float(x.min()),
            "peak_max": float(x.max()), "settled": state.settled,
            "before_dc": float(earlier.mean()), "before_ac": float(earlier.std()), "before_pp": float(np.ptp(earlier)),
            "pulsing": _moves(slow), "ac_pulsing": _moves(swing), "ac_min": float(swing.min()), "ac_max": float(swing.max())}


def _moves(shown: Array) -> bool:
    """The display wanders by more than 5 % and 50 mV."""
    return bool(shown.max() - shown.min() > 0.05 * float(np.abs(shown).max()) + 0.05)


def _display(x: Array, many: int = 400) -> Array:
    """Means over so many samples (400: one mains cycle) before each sample."""
    if x.size <= many:
        return np.array([x.mean()])
    total = np.concatenate([[0.0], np.cumsum(x)])
    return np.asarray((total[many:] - total[:-many]) / many, dtype=np.float64)


def _between(piece: Piece, red: str, black: str, step: float) -> Array:
    return sampled(piece, piece.deck.nodes[red], step) - sampled(piece, piece.deck.nodes[black], step)


def read_cold(parts: Sequence[Fitted], setting: Setting, red: str, black: str, function: str) -> Cold:
    """A reading on the unplugged, discharged board. red, black: nets. function: one of FUNCTIONS."""
    if function not in FUNCTIONS:
        raise ValueError(f"no cold function {function!r}; known: {', '.join(FUNCTIONS)}")
    if red == black:
        zero = Cold(0.0, 0.0, 0.0)
        return zero if function in ("ohms", "diode", "esr") else Cold(math.inf, math.inf, math.inf)
    if function == "ohms":
        return _ohms(parts, setting, red, black)
    if function == "diode":
        found = _source(parts, setting, (red, black), DIODE_VOLTS, (DIODE_OHMS,))
        early, before, late = (v if v <= DIODE_OL else math.inf for v in found[0])
        return Cold(late, early, before)
    return _small_signal(parts, setting, red, black, function)


def _source(parts: Sequence[Fitted], setting: Setting, pair: tuple[str, str], volts: float, ohms: Sequence[float]
            ) -> list[tuple[float, float, float]]:
    """Volts at the probes after 3, 14 and 15 s from a source behind each of these ohms, each from discharged."""
    deck = Deck(parts, setting)
    red, black = (deck.node(n) for n in pair)
    tail = [f"Vtest test {black} PWL(0 0 10u {volts:g})", "Rtest test " + red + " 1k", ".control"]
    for k, r in enumerate(ohms):
        tail += [f"alter rtest = {r:g}", f"tran 0.2 {LATE * 1.001:g} 0 0.2", f"let d = {_vector(red, black)}",
                 f"meas tran early{k} find d at={EARLY:g}", f"meas tran before{k} find d at={BEFORE:g}",
                 f"meas tran late{k} find d at={LATE:g}", "destroy all"]
    got = _tried(deck, [*tail, "quit 0", ".endc"])
    try:
        return [(got[f"early{k}"], got[f"before{k}"], got[f"late{k}"]) for k in range(len(ohms))]
    except KeyError as miss:
        raise JudgeFailed(f"cold reading {pair}: no measure {miss.args[0]}") from None


def _tried(deck: Deck, tail: Sequence[str]) -> dict[str, float]:
    """What a deck prints; a failure is tried again with other options before it is one."""
    said: Exception | None = None
    for options in TRIES:
        try:
            return measures(deck.text(tail, [options]))
        except JudgeFailed as failed:
            said = failed
    raise JudgeFailed(f"{len(TRIES)} tries: {said}")


def _vector(red: str, black: str) -> str:
    return "-".join(f"v({n})" if n != "0" else "0" for n in (red, black))


def _ohms(parts: Sequence[Fitted], setting: Setting, red: str, black: str) -> Cold:
    found: list[tuple[float, float, float]] = []
    for group in (RANGES[:_FIRST], RANGES[_FIRST:]):
        found += _source(parts, setting, (red, black), OHMS_VOLTS, group)
        early, before, late = (_ranged(at) for at in zip(*found, strict=True))
        if math.isfinite(late) and math.isfinite(early):
            break
    return Cold(late, early, before)


def _ranged(volts: Sequence[float]) -> float:
    """The ohms shown on the lowest range that is not over its full scale; inf when all are."""
    for full, v in zip(RANGES, volts, strict=False):
        shown = full * v / max(OHMS_VOLTS - v, 1e-12)
        if shown <= full:
            return shown
    return math.inf


def _small_signal(parts: Sequence[Fitted], setting: Setting, red: str, black: str, function: str) -> Cold:
    """Capacitance (series value at 100 Hz) or ESR (real part at 100 kHz); OL where the meter would not lock."""
    deck = Deck(parts, setting)
    a, b = deck.node(red), deck.node(black)
    hertz = 100.0 if function == "capacitance" else 100e3
    tail = [f"Itest {b} {a} DC 0 AC 1", ".control", f"ac lin 1 {hertz:g} {hertz:g}", f"let z = {_vector(a, b)}",
            "let zr = real(z)", "let zi = imag(z)", "print zr", "print zi", "quit 0", ".endc"]
    got = measures(deck.text(tail, [OPTIONS]))
    if "zr" not in got or "zi" not in got:
        raise JudgeFailed(f"small-signal reading {red} to {black}: nothing printed")
    z = complex(got["zr"], got["zi"])
    if function == "esr":
        value = abs(z.real) if abs(z.real) <= 100.0 else math.inf
    else:  # the page: no reading where the real part is above three times the imaginary one, nor above 0.1 F
        locked = z.imag < 0.0 and abs(z.real) <= -3.0 * z.imag
        value = -1.0 / (2.0 * math.pi * hertz * z.imag) if locked else math.inf
        value = math.inf if value > 0.1 else value
    return Cold(value, value, value)
