"""The settled powered state: runs of a few mains cycles, one mode change at a time, until nothing moves or it pulses.

Capacitor volts carry over from run to run. While nothing runs yet, slow capacitors are made smaller so that dead rails
settle; after that every run has the true ones, and what still creeps is extrapolated as a decay.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .deck import CHATTER, Deck, Setting
from .fitted import Fitted
from .modes import LATCHING, Flip, between, first_flip, last_cycle
from .passive import tungsten
from .spice import TRIES, Array, JudgeFailed, Wave, transient

BLOCK = 6  # mains cycles of one run
SHRINK = 30.0
PERIODS = 2  # of a pulsing set until its last one is taken
ROUNDS = 80  # runs until it is given up
PATIENCE = 24  # quiet runs after which what still creeps is called unsettled
JITTER = 0.2  # of the means of a board that fires in each half-cycle, from run to run: volts, or mA of a coil
EXACT_CYCLES, EXACT_STEPS = 3, 5  # of an exact run: its cycles, and how many times finer its steps are


# At 100 steps a cycle the ripple of a rail comes out 3 % small, its mean 0.01 % large; with these 0.1 % and nothing (measured against 2000 steps).
EXACT = (
    ".options method=gear reltol=1e-4 abstol=1e-9 chgtol=1e-11 vntol=1e-6 itl1=400 itl4=60 gmin=1e-12 rshunt=1e12 numdgt=9 temp=26.827 tnom=26.827",
    ".options method=gear reltol=3e-4 abstol=1e-9 chgtol=1e-10 vntol=1e-5 itl1=1000 itl4=200 gmin=1e-12 rshunt=1e12 numdgt=9 temp=26.827 tnom=26.827",
)


@dataclass(frozen=True)
class Piece:
    """A stretch of waveform; weight: the seconds it stands for."""

    deck: Deck
    wave: Wave
    weight: float


@dataclass(frozen=True)
class Settled:
    """pieces: one, or a whole period of what pulses. settled: nothing crept any more. before: the run before the last one of a set that stands."""

    pieces: tuple[Piece, ...]
    pulsing: bool
    settled: bool
    modes: Mapping[tuple[str, str], float]
    volts: Mapping[str, float]
    lamp: float
    before: Piece | None = None


def scale_of(key: str) -> float:
    """Coil amps are compared in mA, capacitor volts as they are."""
    return 1e3 if key.endswith(".amps") else 1.0


def run(parts: Sequence[Fitted], setting: Setting, stop: float, step: float, choices: Sequence[str] = TRIES) -> tuple[Deck, Wave]:
    """One transient; a failure is tried again with other integration and smaller steps before it is one."""
    said: Exception | None = None
    for attempt, options in enumerate(choices):
        deck, tight = Deck(parts, setting), step / (1.0, 2.0, 5.0)[attempt]
        tail = [f".tran {tight:.6g} {stop:.9g} 0 {tight:.6g}"]
        try:
            return deck, transient(deck.text(tail, [options]), stop)
        except JudgeFailed as failed:
            said = failed
    raise JudgeFailed(f"{('two', 'three')[len(choices) > 2]} tries: {said}")


def cap_volts(deck: Deck, wave: Wave, at: float) -> dict[str, float]:
    """Every capacitor's volts at a moment of the run."""
    return {c.key: float(np.interp(at, wave.time, wave.of(c.plus) - wave.of(c.minus))) for c in deck.caps}


def cut(wave: Wave, stop: float) -> Wave:
    keep = wave.time <= stop
    keep[:2] = True
    return Wave(wave.time[keep], {k: v[keep] for k, v in wave.volts.items()}, {k: v[keep] for k, v in wave.amps.items()})


@dataclass
class Settler:
    """Runs a board until it stands. Its fields are the state between two runs."""

    parts: Sequence[Fitted]
    hertz: float
    setting: Setting
    lamp_watts: float | None = None
    mains_volts: float = 230.0
    exact: bool = False  # look once more, closely, when it stands
    volts: dict[str, float] = field(default_factory=dict)
    modes: dict[tuple[str, str], float] = field(default_factory=dict)
    angle: float = 0.0
    quick: bool = True
    flips: Counter[tuple[str, str]] = field(default_factory=Counter)
    trail: list[Piece] = field(default_factory=list)
    marks: dict[tuple[str, str], list[int]] = field(default_factory=dict)  # where in the trail a pulsing part came on
    ends: list[dict[str, float]] = field(default_factory=list)
    lamp: float = 0.0
    calm: int = 0
    clock: float = 0.0
    times: dict[tuple[str, str], list[float]] = field(default_factory=dict)

    def settle(self) -> Settled:
        """Run until nothing changes (or it pulses). Raises JudgeFailed when it does neither."""
        period = 1.0 / self.hertz
        self.lamp = self._limiter(0.0)
        for _ in range(ROUNDS):
            deck, wave = self._block(BLOCK * period)
            flip = first_flip(deck, wave, period)
            if flip is not None:
                self._take(deck, wave, flip)
                whole = next((m for m in self.marks.values() if len(m) >= PERIODS + 1), None)
                if whole:
                    return self._result(self.trail[whole[-2] : whole[-1]], pulsing=True)
                continue
            moved = self._warm_up(deck, wave, period)
            self._end_of_block(deck, wave)
            stands = self._stands() and not moved
            if self.quick and (stands or self.calm >= 5):
                self.quick, self.ends, self.calm = False, [], 0
            elif stands or self.calm >= PATIENCE:
                if self.exact:
                    self._look_closely()
                return self._result(self.trail[-1:], pulsing=False, settled=stands)
            elif not self.quick and len(self.ends) >= 3:
                self._creep(period)
        raise JudgeFailed(f"no steady state after {ROUNDS} runs; modes now {self.modes}")

    # -- one run ------------------------------------------------------------------------------------------------
    def _block(self, stop: float) -> tuple[Deck, Wave]:
        setting = replace(self.setting, modes=self.modes, volts=self.volts, angle=self.angle, lamp=self.lamp,
                          shrink=SHRINK if self.quick else 1.0)
        return run(self.parts, setting, stop, 0.01 / self.hertz)

    def _take(self, deck: Deck, wave: Wave, flip: Flip) -> None:
        """Carry on from the moment a mode changed."""
        self.trail.append(Piece(deck, cut(wave, flip.time), flip.time))
        self.volts = cap_volts(deck, wave, flip.time)
        self.angle = (self.angle + 2.0 * math.pi * self.hertz * flip.time) % (2.0 * math.pi)
        self.modes = {**self.modes, (flip.ref, flip.mode): flip.value}
        self.ends, self.calm = [], 0
        if flip.mode == LATCHING:
            self._switch_on_again()
            return
        key = (flip.ref, flip.mode)
        self.flips[key] += 1
        self.clock += flip.time
        self.times.setdefault(key, []).append(self.clock)
        if len(self.times[key]) >= 5 and self.times[key][-1] - self.times[key][-5] < 0.25 / self.hertz:
            self.modes[key] = CHATTER
            self.flips[key] = 1
            self.marks.clear()
            return
        self.quick = max(self.flips.values()) == 1 and not self._driving()
        if flip.value > 0.0 and self.flips[key] >= 3 and self.clock > BLOCK / self.hertz:
            self.marks.setdefault(key, []).append(len(self.trail))

    def _switch_on_again(self) -> None:
        """After a fuse has gone: what the next switch-on finds."""
        self.modes = {k: v for k, v in self.modes.items() if k[1] == LATCHING and v}
        self.volts, self.quick, self.angle = {}, True, 0.0
        self.flips.clear()
        self.marks.clear()
        self.times.clear()

    def _driving(self) -> bool:
        """True while a converter runs: its loop must see the true capacitors."""
        kinds = {p.ref: p.family for p in self.parts}
        chips = ("controller", "switcher", "oscillator", "pfc-controller", "llc-controller")
        return any(value > 0.0 and mode in ("runs", "swings") and kinds[ref] in chips for (ref, mode), value in self.modes.items())

    def _end_of_block(self, deck: Deck, wave: Wave) -> None:
        stop = float(wave.time[-1])
        self.trail.append(Piece(deck, wave, stop))
        self.volts = cap_volts(deck, wave, stop)
        self.clock += stop
        period = 1.0 / self.hertz
        # a coil's amps count in mA: the bias that a half-wave load puts into a core creeps in as slowly as a capacitor charges
        means = {c.key: scale_of(c.key) * last_cycle(wave, wave.of(c.plus) - wave.of(c.minus), period)
                 for c in deck.caps if c.slow or scale_of(c.key) > 1.0}
        self.ends.append(means)
        self.calm += 1

    # -- is it standing? ----------------------------------------------------------------------------------------
    def _left(self, key: str, runs: float = math.inf) -> float:
        """How far it will still creep in so many more runs: d r (1 - r^n)/(1 - r), r the ratio of its last two steps d."""
        a, b, c = (e[key] for e in self.ends[-3:])
        last, first = c - b, b - a
        if abs(last) < 1e-4 * abs(c) + 5e-4 or last * first <= 0.0:
            return 0.0
        ratio = min(last / first, 0.985)
        return last * ratio * (1.0 - (ratio**runs if ratio < 1.0 else 1.0)) / (1.0 - ratio)

    def _stands(self) -> bool:
        if len(self.ends) < 2:
            return False
        before, now = self.ends[-2:]
        if any(p.family == "diac" for p in self.parts):  # moments of firing differ by some microseconds from cycle to cycle
            return all(abs(now[k] - before[k]) < 5e-3 * abs(now[k]) + JITTER for k in now)
        if all(abs(now[k] - before[k]) < 2e-5 * abs(now[k]) + 2e-4 for k in now):
            return True
        if len(self.ends) < 3 or any(abs(now[k] - before[k]) > 2e-3 * abs(now[k]) + 5e-3 for k in now):
            return False
        return all(abs(self._left(k)) < 3e-3 * abs(now[k]) + 5e-3 for k in now)

    def _creep(self, period: float) -> None:
        """Push what creeps to where it is going, but not past the volts at which a controller would start."""
        runs = min([200.0, *(self._runs_to_start(p) for p in self.parts if p.family == "controller")])
        for key, now in self.ends[-1].items():
            push = self._left(key, runs)
            self.volts[key] += math.copysign(min(abs(push), 2.0 * abs(now) + 5.0), push) / scale_of(key)
        if self.trail and max(self.flips.values(), default=0) >= 2:  # in a pulsing set the wait counts as time
            self.trail[-1] = replace(self.trail[-1], weight=self.trail[-1].weight + runs * BLOCK * period)
        self.ends = []

    def _runs_to_start(self, part: Fitted) -> float:
        """Runs until this standing controller's supply reaches von; inf when it never does."""
        if self.modes.get((part.ref, "runs")) or "dead" in part.values:
            return math.inf
        rails = {part.pins["vcc"], part.pins["gnd"]}
        keys = [p.ref for p in self.parts if p.ref in self.ends[-1] and set(p.pins.values()) == rails]
        for key in keys:
            gap = part.values["von"] - self.ends[-1][key]
            if 0.0 < gap < self._left(key):
                lo, hi = 0.0, 1.0
                while self._left(key, hi) < gap:
                    lo, hi = hi, 2.0 * hi
                while hi - lo > 0.05:
                    mid = 0.5 * (lo + hi)
                    lo, hi = (mid, hi) if self._left(key, mid) < gap else (lo, mid)
                return lo
        return math.inf

    def _look_closely(self) -> None:
        """Two runs with fine steps from where it stands; what creeps has no time to, but the ripple is true."""
        period = 1.0 / self.hertz
        for _ in range(2):
            setting = replace(self.setting, modes=self.modes, volts=self.volts, angle=self.angle, lamp=self.lamp)
            deck, wave = run(self.parts, setting, EXACT_CYCLES * period, 0.01 / self.hertz / EXACT_STEPS, EXACT)
            self.trail.append(Piece(deck, wave, float(wave.time[-1])))
            self.volts = cap_volts(deck, wave, float(wave.time[-1]))

    # -- filaments ----------------------------------------------------------------------------------------------
    def _limiter(self, rms: float) -> float:
        return tungsten(self.mains_volts, self.lamp_watts, rms) if self.lamp_watts else 0.0

    def _warm_up(self, deck: Deck, wave: Wave, period: float) -> bool:
        """Set filaments to the ohms of their rms volts; True while one still moves."""
        moved = False
        if self.lamp_watts and deck.wall:
            mains = next(p for p in self.parts if p.family == "mains")
            drop = wave.of(deck.wall) - wave.of(deck.ends[mains.ref, "L"])
            rms = math.sqrt(last_cycle(wave, drop**2, period)) * self.lamp / (self.lamp + mains.values["ohms"])
            ohms = math.sqrt(self._limiter(rms) * self.lamp)
            moved, self.lamp = abs(ohms / self.lamp - 1.0) > 0.02, ohms
        for part in self.parts:
            if part.family == "lamp":
                rms = math.sqrt(last_cycle(wave, between(deck, wave, part, "a", "b") ** 2, period))
                was = self.modes.get((part.ref, "rms"), 0.0)
                moved = moved or abs(rms - was) > 0.02 * part.values["volts"]
                self.modes = {**self.modes, (part.ref, "rms"): rms}
        return moved

    def _result(self, pieces: Sequence[Piece], pulsing: bool, settled: bool = True) -> Settled:
        before = self.trail[-2] if not pulsing and len(self.trail) > 1 else None
        return Settled(tuple(pieces), pulsing, settled, dict(self.modes), dict(self.volts), self.lamp, before)


def sampled(piece: Piece, node: str, step: float) -> Array:
    """A node's volts at even steps, for means and extremes."""
    grid = np.arange(piece.wave.time[0], piece.wave.time[-1], step)
    return np.interp(grid, piece.wave.time, piece.wave.of(node))
