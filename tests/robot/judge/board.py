"""The board on the robot's bench: one unit with its own tolerances and, perhaps, one fault. Acts change it, readings don't."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from halfsplit.circuit.model import Circuit
from halfsplit.errors import UnknownName

from . import active, class_d, firing, stages  # noqa: F401  register their emitters
from .acts import OffTheBoard
from .deck import Deck, Setting
from .fitted import Fitted, fault_list, fit, spoil
from .impedance import ohms_between
from .meter import Cold, read_cold, read_volts
from .modes import LATCHING, first_flip
from .powered import Settled, Settler, cap_volts, cut, run
from .ratings import Excess, over_rating
from .spice import JudgeFailed

__all__ = ["Board", "Cold", "Excess", "JudgeFailed", "LiveState", "UnsafeReading", "fault_list"]

HIGH_OHMS = 50e3  # above this a 10 Mohm meter is fitted for real [ohm]
# More than both left on a capacitor and a cold reading is an unsafe act; the second lets a floating Y capacitor pass.
SAFE_VOLTS, SAFE_JOULES = 10.0, 1e-4  # [V], [J]


class UnsafeReading(Exception):
    """A cold function was used on a board that still holds volts."""


@dataclass
class LiveState:
    """One settled powered state. volts() shows what the meter shows there."""

    board: Board
    parts: tuple[Fitted, ...]
    setting: Setting
    settled: Settled
    lamp_watts: float | None
    _shown: dict[tuple[str, str], dict[str, float | bool]] = field(default_factory=dict)

    @property
    def pulsing(self) -> bool:
        """True when the board never stands still (hiccup, chatter)."""
        return self.settled.pulsing

    def volts(self, red: str, black: str) -> dict[str, float | bool]:
        """What a 10 Mohm meter shows, red to black: dc, ac, min, max, peak_min, peak_max, pulsing, settled, loaded.

        pulsing: whether its DC display wanders, between min and max; ac_pulsing, ac_min, ac_max: the same of its AC display.
        """
        red, black = self.board.point(red), self.board.point(black)
        if (red, black) not in self._shown:
            self._shown[red, black] = self._read(red, black)
        return dict(self._shown[red, black])

    def _read(self, red: str, black: str) -> dict[str, float | bool]:
        if red == black:
            zero: dict[str, float | bool] = dict.fromkeys(
                ("dc", "ac", "min", "max", "peak_min", "peak_max", "ac_min", "ac_max", "before_dc", "before_ac", "before_pp"), 0.0)
            return {**zero, "pulsing": False, "ac_pulsing": False, "settled": True, "loaded": False}
        state, loaded = self.settled, False
        if any(ohms_between(p, red, black) > HIGH_OHMS for p in self.settled.pieces):
            setting = replace(self.setting, meter=(red, black))
            state, loaded = self.board.settle(self.parts, setting, self.lamp_watts, self.settled), True
        return {**read_volts(state, red, black), "loaded": loaded}


class Board(OffTheBoard):
    """A simulated unit. fault: (ref, way) or None. spread: "judge" or "wide" (own tolerances) or "none" (all as
    marked, the fault at its middle severity). exact: what stands is looked at once more with fine steps, at twice the time.
    severity: of the fault, 0..1 as in docs/families.md; None: drawn with the seed. also: further faults, each with its severity.

    Nets are named as in the circuit; "R1.a" means whatever pin a of R1 is on now (its own end, when lifted).
    """

    def __init__(
        self, circuit: Circuit, fault: tuple[str, str] | None, seed: int, spread: str = "judge", exact: bool = False, *,
        severity: float | None = None, also: Sequence[tuple[tuple[str, str], float | None]] = (),
    ) -> None:
        self.circuit, self.fault, self.seed, self.exact = circuit, fault, seed, exact
        self._made = {p.ref: fit(p, seed, spread) for p in circuit.parts}
        for (name, way), given in ((fault, severity), *also) if fault is not None else ():
            ref = circuit.part(name).ref
            self._made[ref] = spoil(self._made[ref], way, seed, 0.5 if spread == "none" and given is None else given)
        super().__init__()
        self.blown: dict[tuple[str, str], float] = {}  # what a powered state has blown stays blown
        self.failures = 0
        self._left: dict[str, float] = {}
        self._last: LiveState | None = None
        self._cache: dict[object, object] = {}

    def point(self, name: str) -> str:
        """The net that a net name or "REF.pin" means now."""
        if name in self.circuit.nets:
            return name
        ref, _, pin = name.rpartition(".")
        if not ref:
            raise UnknownName("net", name, self.circuit.nets)
        self._pin(ref, pin)
        ref = self.circuit.part(ref).ref
        return f"{ref}.{pin}" if (ref, pin) in self.lifted else self._made[ref].pins[pin]

    def parts(self) -> tuple[Fitted, ...]:
        """The parts as they sit on the board after the acts."""
        def nets(f: Fitted) -> dict[str, str]:
            return {p: f"{f.ref}.{p}" if (f.ref, p) in self.lifted else n for p, n in f.pins.items()}

        return tuple(replace(f, pins=nets(f)) for ref, f in self._made.items() if ref not in self.removed)

    def _acts(self) -> object:
        return (frozenset(self.lifted), frozenset(self.removed), tuple(sorted(self.blown.items())))

    # -- powered ------------------------------------------------------------------------------------------------
    def live(self, pressed: frozenset[str] = frozenset(), lamp: float | None = None) -> LiveState:
        """Plugged in and on until it stands. pressed: control words. lamp: watts of a series lamp. Raises JudgeFailed."""
        key = ("live", self._acts(), frozenset(pressed), lamp)
        if key not in self._cache:
            setting = Setting(live=True, pressed=self._outputs(pressed))
            before = self.live(frozenset(), lamp).settled if pressed else None  # a control is pressed once the set stands
            settled = self.settle(self.parts(), setting, lamp, before)
            fresh = LiveState(self, self.parts(), setting, settled, lamp)
            self._cache[key] = fresh  # and below under what it is once it has blown something
            self.blown.update({k: v for k, v in settled.modes.items() if k[1] == LATCHING and v})
            self._cache["live", self._acts(), frozenset(pressed), lamp] = fresh
        found = self._cache[key]
        assert isinstance(found, LiveState)
        self._last, self._left = found, dict(found.settled.volts)
        return found

    def settle(self, parts: tuple[Fitted, ...], setting: Setting, lamp: float | None, start: Settled | None) -> Settled:
        """A settled state; from `start` when given (the meter was put on), else from switch-on with empty capacitors."""
        unit = self.circuit.unit
        settler = Settler(parts, self._hertz(), setting, lamp, unit.volts, self.exact and setting.meter is None, modes=dict(self.blown))
        if start is not None:
            settler.volts, settler.modes, settler.quick = dict(start.volts), dict(start.modes), False
        try:
            return settler.settle()
        except JudgeFailed:
            self.failures += 1
            raise

    def _hertz(self) -> float:
        return next((p.values["hertz"] for p in self._made.values() if p.family == "mains"), self.circuit.unit.hertz)

    def _outputs(self, pressed: frozenset[str]) -> frozenset[str]:
        """ "PART.output" of everything that these controls drive high."""
        found = set()
        for word in pressed:
            if word not in self.circuit.controls:
                raise ValueError(f"no control {word!r}; known: {', '.join(self.circuit.controls) or 'none'}")
            for name, level in self.circuit.controls[word].items():
                ref, _, pin = name.rpartition(".")
                if level == "high":
                    found.add(f"{self.circuit.part(ref).ref}.{pin}")
        return frozenset(found)

    def over_rating(self, pressed: frozenset[str] = frozenset(), lamp: float | None = None) -> list[Excess]:
        """Parts past their absolute ratings in this powered state."""
        return over_rating(self.live(pressed, lamp).settled, self._hertz())

    # -- charge -------------------------------------------------------------------------------------------------
    def charge(self, ref: str, seconds: float = 10.0) -> float:
        """Volts on a capacitor so long after the plug was pulled from the last powered state; 0 if it never was on."""
        return self.charges(seconds).get(self.circuit.part(ref).ref, 0.0)

    def charges(self, seconds: float = 10.0) -> Mapping[str, float]:
        """Volts on every capacitor, as `charge`."""
        if self._last is None or not any(abs(v) > 0.01 for v in self._left.values()):
            return {}
        modes = self._last.settled.modes
        key = ("charge", self._acts(), seconds, tuple(sorted(self._left.items())), tuple(sorted(modes.items())))
        if key not in self._cache:
            self._cache[key] = self._run_down(seconds)
        found = self._cache[key]
        assert isinstance(found, dict)
        return found

    def _run_down(self, seconds: float) -> dict[str, float]:
        """Unplugged: what runs goes on running on what the capacitors hold until its supply is gone."""
        assert self._last is not None
        volts = {k: v for k, v in self._left.items() if not k.endswith(".amps")}  # a coil lets go within milliseconds
        modes, period = dict(self._last.settled.modes), 1.0 / self._hertz()
        pressed, now, length = self._last.setting.pressed, 0.0, 0.1
        for _ in range(60):
            if now >= seconds - 1e-9:
                break
            stop = min(length, seconds - now)
            setting = Setting(modes=modes, pressed=pressed, volts=volts, idle=True)
            deck, wave = run(self.parts(), setting, stop, stop / 100.0)
            flip = first_flip(deck, wave, min(period, stop / 10.0))
            if flip is not None and flip.mode != LATCHING:
                wave, modes = cut(wave, flip.time), {**modes, (flip.ref, flip.mode): flip.value}
            volts = cap_volts(deck, wave, float(wave.time[-1]))
            now += float(wave.time[-1])
            length = 0.1 if flip is not None else 2.0 * length
        return {ref: v for ref, v in volts.items() if ref in self._made}

    def discharge(self, ref: str) -> None:
        """Bleed one capacitor to nothing."""
        self._left[self.circuit.part(ref).ref] = 0.0

    # -- unplugged ----------------------------------------------------------------------------------------------
    def cold(self, red: str, black: str, function: str) -> Cold:
        """Ohms, diode, capacitance or esr between two nets, unplugged. Raises UnsafeReading on a charged board."""
        for ref, volts in self.charges(10.0).items():
            if abs(volts) > SAFE_VOLTS and 0.5 * self._made[ref].values["farads"] * volts**2 > SAFE_JOULES:
                raise UnsafeReading(f"{ref} still holds {volts:.1f} V; discharge it first")
        return self._cold(self.parts(), self.point(red), self.point(black), function, self._acts())

    def alone(self, ref: str, function: str, red_pin: str, black_pin: str) -> Cold:
        """The same on one part out of the circuit."""
        for pin in (red_pin, black_pin):
            self._pin(ref, pin)
        made = self._made[self.circuit.part(ref).ref]
        one = replace(made, pins={p: f"{made.ref}.{p}" for p in made.pins})
        return self._cold((one,), one.pins[red_pin], one.pins[black_pin], function, ("alone", made.ref))

    def _cold(self, parts: tuple[Fitted, ...], red: str, black: str, function: str, state: object) -> Cold:
        key = ("cold", state, red, black, function)
        if key not in self._cache:
            try:
                self._cache[key] = read_cold(parts, Setting(modes=dict(self.blown)), red, black, function)
            except JudgeFailed:
                self.failures += 1
                raise
        found = self._cache[key]
        assert isinstance(found, Cold)
        return found

    def deck_text(self, live: bool = True) -> str:
        """The deck as ngspice gets it, for looking at."""
        return Deck(self.parts(), Setting(live=live, modes=dict(self.blown))).text([])
