"""What is discrete on the board: fuses, relays, chips that start and stop. Judged from the waveforms of a run.

Each rule looks at a run made with the modes as they are and says whether, and when, this mode would have changed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import class_d
from .deck import CHATTER, TRIPPED, VT, Deck, Setting
from .fitted import Fitted
from .spice import Array, Wave
from .stages import loop_ohms

HOLD_UP = 4e-3  # how long a controller has to last on its capacitor [s]
SETTLE = 100e-6  # nothing is judged while capacitors are being put to their state [s]


@dataclass(frozen=True)
class Flip:
    """A mode changes: when [s], whose, to what. weight: how far beyond its limit (the worst goes first)."""

    time: float
    ref: str
    mode: str
    value: float
    weight: float = 1.0


def cycle_mean(time: Array, x: Array, period: float) -> Array:
    """Mean over the period before each moment (over what there is, at the start)."""
    area = np.concatenate([[0.0], np.cumsum(0.5 * (x[1:] + x[:-1]) * np.diff(time))])
    start = np.maximum(time - period, time[0])
    span = np.maximum(time - start, 1e-9)
    mean = (area - np.interp(start, time, area)) / span
    mean[0] = x[0]
    return np.asarray(mean, dtype=np.float64)


def cycle_min(time: Array, x: Array, period: float) -> Array:
    """Lowest value in the period before each moment."""
    start = np.searchsorted(time, time - period)
    at = np.arange(time.size)
    return np.array([x[i : j + 1].min() for i, j in zip(start, at, strict=True)])


def last_cycle(wave: Wave, x: Array, period: float) -> float:
    """Mean of x over the last period of the run."""
    return float(cycle_mean(wave.time, x, period)[-1])


def between(deck: Deck, wave: Wave, part: Fitted, p: str, q: str) -> Array:
    """Volts from pin p to pin q, inside any opened leg."""
    return wave.of(deck.ends[part.ref, p]) - wave.of(deck.ends[part.ref, q])


Rule = Callable[[Deck, Wave, Fitted, float], "Flip | None"]


def _first(time: Array, crossed: NDArray[np.bool_], after: float) -> float | None:
    at = np.flatnonzero(crossed & (time > after))
    return float(time[at[0]]) if at.size else None


def _relay(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    coil = np.abs(cycle_mean(wave.time, between(deck, wave, part, "c+", "c-"), period))
    is_in = bool(deck.on(part, "in"))
    crossed = coil < 0.15 * part.values["volts"] if is_in else coil > 0.7 * part.values["volts"]
    when = _first(wave.time, crossed, period)
    return None if when is None else Flip(when, part.ref, "in", 0.0 if is_in else 1.0)


def _micro(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    vdd = cycle_min(wave.time, between(deck, wave, part, "vdd", "0v"), period)  # the bottom of the ripple resets it
    runs = bool(deck.on(part, "runs"))
    when = _first(wave.time, vdd < part.values["stop"] if runs else vdd > 1.03 * part.values["stop"], period)
    return None if when is None or "dead" in part.values else Flip(when, part.ref, "runs", 0.0 if runs else 1.0)


def _controller(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    now = deck.on(part, "runs")
    if now == CHATTER or "dead" in part.values:
        return None
    vcc, v = between(deck, wave, part, "vcc", "gnd"), part.values
    if now == 0.0:
        when = _first(wave.time, vcc >= v["von"], SETTLE)
        # Until the winding feeds it, it lives on its capacitor; the page asks 4 ms of that.
        lasts = _farads(deck, part) * (v["von"] - v["voff"]) / v["run"] > HOLD_UP
        return None if when is None else Flip(when, part.ref, "runs", 1.0 if lasts else CHATTER)
    low, high = (_first(wave.time, c, SETTLE) for c in (vcc < v["voff"], (vcc > v["ovp"]) & (now > 0.0)))
    if high is not None and (low is None or high < low):
        return Flip(high, part.ref, "runs", TRIPPED)
    return None if low is None else Flip(low, part.ref, "runs", 0.0)


def _dead_ohms(parts: Sequence[Fitted], plus: str, minus: str, hertz: float) -> float:
    """Size of what stands between two nets of the dead board at a frequency: resistors, capacitors and coils, junctions blocking [ohm]."""
    deck = Deck(parts, Setting())
    index: dict[str, int] = {}
    branches: list[tuple[int, int, complex]] = []
    for words in (line.split() for line in deck.lines):
        if words[0][0] in "RCL" and len(words) >= 4:
            i, j = (index.setdefault(n, len(index)) for n in words[1:3])
            x = float(words[3])
            y = {"R": 1.0 / x, "C": 2j * np.pi * hertz * x, "L": 1.0 / (2j * np.pi * hertz * max(x, 1e-12))}[words[0][0]]
            branches.append((i, j, y))
    a, b = (index.setdefault(deck.nodes[n], len(index)) for n in (plus, minus))
    y = np.full(len(index), 1e-12, complex) * np.eye(len(index))
    for i, j, g in branches:
        y[i, i] += g
        y[j, j] += g
        y[i, j] -= g
        y[j, i] -= g
    inject = np.zeros(len(index), complex)
    inject[a], inject[b] = 1.0, -1.0
    volts = np.linalg.solve(y, inject)
    return float(abs(volts[a] - volts[b]))


def _oscillator(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    """Starts on its base, goes on while the feedback gets through; what the base and the emitter see is taken of the dead board."""
    now, v, pins = bool(deck.on(part, "swings")), part.values, part.pins
    base = cycle_mean(wave.time, between(deck, wave, part, "b", "e"), period)
    top = -cycle_min(wave.time, -between(deck, wave, part, "c", "e"), period)
    seen, below = (_dead_ohms(deck.parts, pins[p], pins["gnd"], 50e3) for p in ("b", "e"))
    whole = 30.0 < seen < 5e3 and below < 100.0 and v["gain"] > 5.0 and not {"b", "c"} & set(part.legs)
    can = (top > 20.0) & whole
    when = _first(wave.time, ~can if now else can & (base > 0.57), period)
    return None if when is None else Flip(when, part.ref, "swings", 0.0 if now else 1.0)


BURST, PAUSE = 4, 4  # cycles that an auto-restart tries and rests: shorter than true, long enough to stand in either


def _switcher(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    """Waits, runs, or rests after it has been at its limit; bp and uv by their means over a cycle."""
    v, now = part.values, deck.on(part, "runs")
    if "dead" in v or _farads(deck, part, ("bp", "s")) < 50e-9:
        return None
    bp, fb, uv = (cycle_mean(wave.time, between(deck, wave, part, pin, "s"), period) for pin in ("bp", "fb", "uv"))
    may = uv > v["uvon"]
    if now == 0.0:
        when = _first(wave.time, may & (bp > 0.97 * v["von"]), period)
        return None if when is None else Flip(when, part.ref, "runs", 1.0)
    low = _first(wave.time, ~may | (bp < (0.95 if now == TRIPPED else 1.0) * v["voff"]), period)
    stop = (PAUSE if now == TRIPPED else BURST) * period
    turns = _first(wave.time, np.full(bp.shape, True) if now == TRIPPED else fb > 3.4, stop)
    if low is not None and (turns is None or low < turns):
        return Flip(low, part.ref, "runs", 0.0)
    return None if turns is None else Flip(turns, part.ref, "runs", 1.0 if now == TRIPPED else TRIPPED)


def _farads(deck: Deck, part: Fitted, supply: tuple[str, str] = ("vcc", "gnd")) -> float:
    """What is on the controller's supply [F]."""
    ends = {part.pins[pin] for pin in supply}
    held = {p.ref for p in deck.parts if set(p.pins.values()) == ends}
    return sum(c.farads for c in deck.caps if c.key in held)


def _triac(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    """Fired while its gate sees more than 0.6 V to t1, either way, at some moment of the cycle."""
    if any(p.family == "diac" for p in deck.parts) or "lost" in part.values:
        return None  # it latches within the cycle
    highest = -cycle_min(wave.time, -np.abs(between(deck, wave, part, "g", "t1")), period)
    fired = bool(deck.on(part, "fired"))
    when = _first(wave.time, highest < 0.6 if fired else highest > 0.6, period if fired else SETTLE)
    return None if when is None else Flip(when, part.ref, "fired", 0.0 if fired else 1.0)


def _fuse(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    if deck.on(part, "blown"):
        return None
    square = (between(deck, wave, part, "a", "b") / part.values["ohms"]) ** 2
    over = np.sqrt(last_cycle(wave, square, period)) / (1.7 * part.values["amps"])
    return Flip(float(wave.time[-1]), part.ref, "blown", 1.0, float(over)) if over > 1.0 else None


def _scr(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    """Fired by more than 0.6 V at its gate at some moment of the cycle; holds while it never carries less than its holding amps."""
    gate = -cycle_min(wave.time, -between(deck, wave, part, "g", "k"), period)
    if not deck.on(part, "fired"):
        when = _first(wave.time, gate > 0.6, SETTLE)
        return None if when is None else Flip(when, part.ref, "fired", 1.0)
    across = np.clip(between(deck, wave, part, "a", "k"), -1.0, 3.0)
    amps = 1.0 / np.expm1(1.1 / (1.9 * VT)) * np.expm1(across / (1.9 * VT))
    lost = (gate < 0.6) & (cycle_min(wave.time, amps, period) < (np.inf if "dead" in part.values else part.values["hold"]))
    when = _first(wave.time, lost, period)
    return None if when is None else Flip(when, part.ref, "fired", 0.0)


def _ptc(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    v, hot = part.values, bool(deck.on(part, "hot"))
    ohms = max(200.0 / v["amps"], v["ohms"]) if hot else v["ohms"]
    watts = last_cycle(wave, between(deck, wave, part, "a", "b") ** 2 / ohms, period)
    if hot:
        return Flip(float(wave.time[-1]), part.ref, "hot", 0.0) if watts < 0.02 else None
    over = watts / ((2.0 * v["amps"]) ** 2 * v["new"])
    return Flip(float(wave.time[-1]), part.ref, "hot", 1.0, float(np.sqrt(over))) if over > 1.0 else None


def _fusible(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    if (part.family == "resistor" and "fusible" not in part.tags) or deck.on(part, "blown"):
        return None
    watts = last_cycle(wave, between(deck, wave, part, "a", "b") ** 2 / part.values["ohms"], period)
    over = watts / ((2.0 if part.family == "cut-off-resistor" else 12.0) * part.values["watts"])
    return Flip(float(wave.time[-1]), part.ref, "blown", 1.0, float(np.sqrt(over))) if over > 1.0 else None


def _adapter(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    rms = np.sqrt(cycle_mean(wave.time, between(deck, wave, part, "L", "N") ** 2, period))
    fed = bool(deck.on(part, "fed"))
    when = _first(wave.time, rms <= 80.0 if fed else rms > 80.0, period if fed else SETTLE)
    return None if when is None else Flip(when, part.ref, "fed", 0.0 if fed else 1.0)


def _leads_on(deck: Deck, part: Fitted, end: str) -> bool:
    """Whether a good diode takes the coil's current over from this pin to `back`."""
    ends = (part.pins[end], part.pins["back"])
    return any(p.family == "diode" and (p.pins["a"], p.pins["k"]) == ends and not p.legs for p in deck.parts)


def _led_buck(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    now, v = deck.on(part, "runs"), part.values
    if "dead" in v or not _leads_on(deck, part, "d"):
        return None
    vdd = between(deck, wave, part, "vdd", "gnd")
    if now == 0.0:
        when = _first(wave.time, vdd >= v["von"], SETTLE)
        return None if when is None else Flip(when, part.ref, "runs", 1.0)
    stop = _first(wave.time, cycle_mean(wave.time, vdd, period) < v["voff"], period)
    if stop is not None:
        return Flip(stop, part.ref, "runs", 0.0)
    out = cycle_mean(wave.time, between(deck, wave, part, "back", "d"), period)
    when = _first(wave.time, out > v["ovp"] if now == 1.0 else out < v["ovp"] * v["again"], period)
    return None if when is None else Flip(when, part.ref, "runs", TRIPPED if now == 1.0 else 1.0)


def _led_boost(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    now, v = deck.on(part, "runs"), part.values
    shorted = any(p.family == "diode" and {p.pins["a"], p.pins["k"]} == {part.pins["sw"], part.pins["back"]}
                  and min((r for _, _, r in p.across), default=9.0) < 2.0 for p in deck.parts)
    if "dead" in v or now == TRIPPED or shorted or not _leads_on(deck, part, "sw"):
        return None
    vin = cycle_mean(wave.time, between(deck, wave, part, "vin", "gnd"), period)
    if now == 0.0:
        when = _first(wave.time, vin > v["von"], period)
        return None if when is None else Flip(when, part.ref, "runs", 1.0)
    over = _first(wave.time, cycle_mean(wave.time, between(deck, wave, part, "ovp", "gnd"), period) > v["ovp"], period)
    if over is not None:
        return Flip(over, part.ref, "runs", TRIPPED)
    when = _first(wave.time, vin < 0.85 * v["von"], period)
    return None if when is None else Flip(when, part.ref, "runs", 0.0)


def _pfc(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    if "dead" in part.values:
        return None
    v, runs = part.values, bool(deck.on(part, "runs"))
    vcc, fb = (cycle_mean(wave.time, between(deck, wave, part, pin, "gnd"), period) for pin in ("vcc", "fb"))
    wants = (vcc > (v["voff"] if runs else v["von"])) & (fb > v["guard"]) & (fb < v["stop"] * v["ref"])
    when = _first(wave.time, ~wants if runs else wants, period)
    return None if when is None else Flip(when, part.ref, "runs", 0.0 if runs else 1.0)


def _llc(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    if "dead" in part.values:
        return None
    v, runs = part.values, bool(deck.on(part, "runs"))
    vcc, bulk, fb = (cycle_mean(wave.time, between(deck, wave, part, pin, "gnd"), period) for pin in ("vcc", "bulk", "fb"))
    fails = (vcc < v["voff"]) | (bulk < v["brown_out"]) | (fb > v["over"])
    when = _first(wave.time, fails if runs else (vcc > v["von"]) & (bulk > v["brown_in"]), period)
    return None if when is None else Flip(when, part.ref, "runs", 0.0 if runs else 1.0)


def _standby(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    if "dead" in part.values:
        return None
    v, runs = part.values, bool(deck.on(part, "runs", 1.0))
    bulk, out, aux = (cycle_mean(wave.time, between(deck, wave, part, *pins), period) for pins in (("in+", "in-"), ("s+", "s-"), ("v+", "v-")))
    bad = (out < 0.6 * v["volts"]) | ((aux < 0.5 * v["aux"]) & ("no-aux" not in v))
    when = _first(wave.time, (bulk < 60.0) | bad if runs else bulk > 80.0, 2 * period)
    return None if when is None else Flip(when, part.ref, "runs", 0.0 if runs else 1.0)


def _shoots(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    """Driven while the other side of the node is short: for good."""
    if deck.on(part, "shoots"):
        return None
    if part.family == "bridge-fet":
        ohms = loop_ohms(deck.parts, part)
    elif part.family == "class-d-fet":
        ohms = class_d.loop_ohms(deck.parts, part) * 8.0 / 6.0  # its bound is 6 ohm
    else:
        near = [p for p in deck.parts if p.family == "diode" and p.pins["a"] == part.pins["d"]]
        ohms = min((r for p in near for _, _, r in p.across), default=np.inf)
    if ohms > 8.0:
        return None
    when = _first(wave.time, cycle_mean(wave.time, between(deck, wave, part, "g", "s"), period) > 0.3, period)
    return None if when is None else Flip(when, part.ref, "shoots", 1.0)


def _driver(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    """The class-D driver: 0 off, 1 runs, 2 with a sagging boot supply, 3 without one."""
    v, now = part.values, deck.on(part, "runs")
    if "dead" in v:
        return None
    vcc, mute, boot = (cycle_mean(wave.time, between(deck, wave, part, *pair), period) for pair in (("vcc", "com"), ("mute", "com"), ("boot", "vs")))
    runs = (vcc > (v["voff"] if now else v["von"])) & (mute < 1.5)
    full = 2.0 if 6e-6 > 1.5 * max(_held(deck, part, "boot", "vs"), 1e-12) else 1.0
    wants = np.where(runs, np.where(boot < 5.0, 3.0, full), 0.0)
    when = _first(wave.time, wants != now, 3 * period)
    return None if when is None else Flip(when, part.ref, "runs", float(wants[np.searchsorted(wave.time, when)]))


def _held(deck: Deck, part: Fitted, a: str, b: str) -> float:
    """What stands across two pins [F]."""
    ends = {part.pins[a], part.pins[b]}
    held = {p.ref for p in deck.parts if set(p.pins.values()) == ends}
    return sum(c.farads for c in deck.caps if c.key in held)


def _split(deck: Deck, wave: Wave, part: Fitted, period: float) -> Flip | None:
    if "dead" in part.values:
        return None
    v, runs = part.values, bool(deck.on(part, "runs", 1.0))
    bulk, plus, minus = (cycle_mean(wave.time, between(deck, wave, part, *pair), period) for pair in (("in+", "in-"), ("p", "0"), ("0", "m")))
    bad = ((plus < 0.9 * v["volts"]) & ("p_open" not in v)) | ((minus < 0.9 * v["volts"]) & ("m_open" not in v))
    when = _first(wave.time, (bulk < 80.0) | bad if runs else bulk > 100.0, 4 * period)
    return None if when is None else Flip(when, part.ref, "runs", 0.0 if runs else 1.0)


RULES: Mapping[str, Rule] = {"led-buck": _led_buck, "led-boost": _led_boost, "adapter": _adapter, "relay": _relay, "changeover": _relay,
                               "micro": _micro, "controller": _controller, "switcher": _switcher, "oscillator": _oscillator,
                               "fuse": _fuse, "resistor": _fusible,
                               "triac": _triac, "scr": _scr, "ptc": _ptc, "fusible": _fusible,
                               "cut-off-resistor": _fusible, "pfc-controller": _pfc, "llc-controller": _llc, "standby": _standby,
                               "bridge-fet": _shoots, "boost-fet": _shoots,
                               "class-d-fet": _shoots, "class-d-driver": _driver, "split-supply": _split}
LATCHING = "blown"


def first_flip(deck: Deck, wave: Wave, period: float) -> Flip | None:
    """The mode that changes first in this run; of those that change together the one furthest beyond its limit."""
    flips = [f for p in deck.parts if p.family in RULES and (f := RULES[p.family](deck, wave, p, period)) is not None]
    return min(flips, key=lambda f: (f.time, -f.weight)) if flips else None
