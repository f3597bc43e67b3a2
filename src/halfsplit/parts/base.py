"""What a part family is: data and pure functions, one file each, read by everybody else.

A family never knows the circuit. `stamp` puts its electrical model into a network; every
way of failing is a change of parameter values, so that all faults share one network.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from halfsplit.parts.symbols import Box, Symbol

if TYPE_CHECKING:
    from halfsplit.parts.stamper import Stamper

Array = NDArray[np.float64]
Values = Mapping[str, Array]


@dataclass(frozen=True)
class Param:
    """One electrical parameter. tol: relative half-width of a known value; broad: factor by which
    a merely assumed value may lie either way (log-uniform)."""

    name: str
    unit: str
    default: float
    tol: float
    broad: float = 2.0


@dataclass(frozen=True)
class Way:
    """One way of failing. share: of the family's failures. change(values, u) -> changed values,
    u in 0..1 (batch,) is severity. looks: sign -> P(sign | failed so). why: one line for the bench."""

    name: str
    share: float
    source: str
    change: Callable[[Values, Array], dict[str, Array]]
    why: str
    looks: Mapping[str, float] = field(default_factory=dict)
    kind: str = "drift"  # "open" | "short" | "drift": what it does to its neighbours; "wrong": fitted so, nothing died


@dataclass(frozen=True)
class Mode:
    """A discrete state kept outside Newton (relay in, converter running, fuse blown).

    param: name of the 0/1 parameter that the stamp reads. start: its first value.
    settle(probe, values, now) -> wanted state (batch,), 0, 1 or another small whole number that the stamp knows; probe(pin) is the pin's waveform
    (batch, steps) [V], probe.rms(i) the rms through the part's i-th branch.
    pauses: of a chip that restarts by a timer of its own, (the state in which that runs, name of the parameter that says how long one try and one
    pause take together [s]).
    gave_up: (state it ended in, state before it): what the part did before it gave up stands in MAX, though never on the display.
    latching: once 1 it stays (a blown fuse). charged: where it begins when a control is pressed on a set that already stands:
    the full charge of its rail pulls a relay in, even where the rail then sags. None: as start.
    falls: of a chip that may hiccup, its running state being 1: falls(probe, values) -> (batch, steps), where in a waveform it would stop.
    supply: of such a chip, (plus pin, minus pin, span): what has to be charged before it starts again; span(values) -> volts from which that comes up
    after a stop, and at which it starts.
    """

    param: str
    start: float
    settle: Callable[[Any, Values, Array], Array]
    latching: bool = False
    charged: float | None = None
    falls: Callable[[Any, Values], NDArray[np.bool_]] | None = None
    supply: tuple[str, str, Callable[[Values], tuple[Array, Array]]] | None = None
    pauses: tuple[float, str] | None = None
    gave_up: tuple[float, float] | None = None


def no_types(word: str) -> dict[str, float]:
    """Most families have no type numbers that say a value."""
    return {}


def no_ratings(known: Mapping[str, float], mains: float) -> dict[str, float]:
    """Most families have no value that follows from another."""
    return {}


def nothing_follows(said: Mapping[str, float]) -> dict[str, float]:
    """Most families have no values that follow from what is written on them."""
    return {}


@dataclass(frozen=True)
class Family:
    """Everything the trade knows of one kind of part.

    rate: failures per 1e6 h, relative weight only. rating_checks: (rating, what, stress(probe, values)).
    test: how it is tested alone, in words. killers / kills: trade words of section "why it died".
    substitute: which way each rating may move. protector: never bridged, up-rated or left out.
    """

    name: str
    words: tuple[str, ...]
    letters: tuple[str, ...]
    pins: tuple[str, ...]
    params: tuple[Param, ...]
    rate: float
    rate_source: str
    ways: tuple[Way, ...]
    stamp: Callable[["Stamper", Mapping[str, str], Values], None]
    test: str
    substitute: str
    mode: Mode | None = None
    aliases: Mapping[str, tuple[str, str]] = field(default_factory=dict)  # ".ce" -> ("c", "e")
    main_value: str | None = None
    plus_minus: tuple[str, str] | None = None  # pins red and black go to, when only the part is named
    killers: tuple[str, ...] = ()
    protector: bool = False
    limiter: bool = False
    ratings: tuple[tuple[str, Callable[[Any, Values], Array]], ...] = ()
    outputs: tuple[str, ...] = ()
    type_values: Callable[[str], dict[str, float]] = no_types  # values that a generic type number says ("7812")
    # (what is written, mains volts) -> values that follow from it where they weren't written ("580W" says ohms)
    rated_values: Callable[[Mapping[str, float], float], dict[str, float]] = no_ratings
    follows: Callable[[Mapping[str, float]], dict[str, float]] = nothing_follows  # written values -> what roughly follows
    sides: tuple[tuple[str, ...], ...] = ()  # pins that are insulated from each other inside; empty: all hang together
    switching: tuple[str, ...] = ()  # pins that switch at a high frequency or exist in the model only: no meter touches their nets while on
    pulses: bool = False  # fires others part-way through a half-cycle, by pulses that no mean and no peak of a cycle tells of
    outlet: bool = False  # the wall outlet, which no sheet writes
    heard_as_fuse: bool = False  # who says "fuse good" or "fuse open" is taken to have looked at this too
    dies_alone: bool | None = None  # of age by itself; False: killed by another; None: neither is usual
    # share of its opens and drifts that come and go, as the part or a joint at its legs moves, or with warmth (bench estimates)
    shaken: float = 0.15
    heated: float = 0.05
    draws: bool = False  # its amps are what it takes at its own volts, not what it stands
    in_the_run: bool = False  # a load hangs on the board through it: plug, joint, the next LED of a string
    lights: bool = False  # one of a string that is a load as a whole
    visible: bool = False  # a customer sees, hears or feels whether it works
    cold_reads: tuple[tuple[str, str, str], ...] = ()  # (plus pin, minus pin, function) worth taking in circuit, dead
    alone_reads: tuple[tuple[str, str, str], ...] = ()  # the same with the part out of the circuit
    wrong: tuple[Way, ...] = ()  # another part fitted where this one belongs; weighed only once somebody was inside
    # tag -> pins whose volts across are worth reading while on, as they tell currents that no net against 0 V shows; "": of every part
    drop_live: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    across_live: tuple[str, str] | None = None  # pins that are worth an AC reading across while on
    # tag of such parts as the trade leaves off for readings while on: output transistors, so that what drives them shows; what hangs
    # at the terminals
    left_out: str = ""
    symbol: Symbol | Box | None = None  # how it is drawn; None: a box with named legs
