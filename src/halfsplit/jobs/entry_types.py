"""What one line at the bench can be: frozen entries, one kind each.

Every entry keeps the whole line as typed, because the log is read anew whenever the sheet changes.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Entry:
    """text: the whole line as typed. mark: "bad" or "ok", the fault was or wasn't showing; None when not said."""

    text: str
    mark: str | None = None


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where the leads went. where: as typed. red, black: nets, None while not known. pins: those named, or the two
    ends of a part that is read across. black_said: black stood in the line and is not the sticky one."""

    where: str
    red: str | None = None
    black: str | None = None
    part: str | None = None
    pins: tuple[str, ...] = ()
    black_said: bool = False


@dataclass(frozen=True, kw_only=True)
class ReadingEntry(Entry):
    """One reading. All values SI, inf for OL, None for what was not said.

    function: v ac r d c esr a hz l temp; None when the job has to ask. value: as it stood; value2: with the leads
    swapped; first: what it was before it went to `value` within `within` seconds; lo, hi: ends of a wandering
    display; max, min: held extremes; every: period [s]; twin: the same place on the good twin.
    flags: pulsing creeping shaky lifted removed lo-z. of_twin: taken on the twin. after: what provoked it.
    card: index of the card's probe that it answers. shown: the value as displayed.
    """

    where: str
    red_net: str | None = None
    black_net: str | None = None
    black_said: bool = False
    part: str | None = None
    pins: tuple[str, ...] = ()
    function: str | None = None
    value: float | None = None
    value2: float | None = None
    first: float | None = None
    within: float | None = None
    lo: float | None = None
    hi: float | None = None
    max: float | None = None
    min: float | None = None
    every: float | None = None
    twin: float | None = None
    of_twin: bool = False
    flags: frozenset[str] = frozenset()
    after: str = ""
    card: int | None = None
    shown: str = ""

    @property
    def count(self) -> int:
        """How many meter values this entry holds."""
        held = (self.value, self.value2, self.first, self.lo, self.hi, self.max, self.min, self.twin)
        return sum(v is not None for v in held)


@dataclass(frozen=True, kw_only=True)
class StateEntry(Entry):
    """How the set stands from now on.

    kind: off on dead meter lamp press release bench black mark twin. dead: volts read at each capacitor [V].
    before, after: what the meter showed on a known source before and after these [V]; of meter: before, shown where known [V]
    stands. lamp: watts [W], None without one. control: of press and release. net: fed by the bench supply, or the black
    lead's; None: bench supply off. volts, amps: of the bench supply. value: of mark ("bad", "ok", None), twin ("on", None) and
    bench ("plus" or "minus", the pole of the supply on net; None not said).
    """

    kind: str
    dead: tuple[tuple[str, float], ...] = ()
    before: float | None = None
    after: float | None = None
    known: float | None = None
    lamp: float | None = None
    control: str | None = None
    net: str | None = None
    volts: float | None = None
    amps: float | None = None
    value: str | None = None


@dataclass(frozen=True, kw_only=True)
class ActEntry(Entry):
    """Something done to the board that stays. act: lift unplug plug remove fit refit bridge dummy.
    The target is a part (with the pin lifted, if named) or a net (a connector); words: what was fitted.
    ohms [ohm], watts [W]: of a dummy load in place of the part; None: it is taken off again."""

    act: str
    part: str | None = None
    pin: str | None = None
    net: str | None = None
    words: str = ""
    ohms: float | None = None
    watts: float | None = None


@dataclass(frozen=True, kw_only=True)
class ProvokeEntry(Entry):
    """The set was provoked. how: tap flex warm cold. parts, nets: where; changed: the fault came or went with it."""

    how: str
    parts: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    changed: bool = False


@dataclass(frozen=True, kw_only=True)
class CyclesEntry(Entry):
    """So many starts, or times of use, in a row that all went well."""

    count: int


@dataclass(frozen=True, kw_only=True)
class LookEntry(Entry):
    """Seen, smelt, heard or felt. where: a known part or net, "lamp", or None. signs: the words between commas."""

    sense: str
    where: str | None
    signs: tuple[str, ...]

    @property
    def nothing(self) -> bool:
        """Looked, and there was nothing: evidence too."""
        return self.signs[0].split()[0].lower() == "nothing"


@dataclass(frozen=True, kw_only=True)
class BindEntry(Entry):
    """Which part is which place: refs as written (`R3+R4`), word: place or family, rest: values. absent: `no mov`."""

    refs: str
    word: str
    rest: str = ""
    absent: bool = False


@dataclass(frozen=True, kw_only=True)
class StrikeEntry(Entry):
    """Strike the last entry, or number n."""

    number: int | None = None


@dataclass(frozen=True, kw_only=True)
class CorrectEntry(Entry):
    """A misread value (`was 0.43M`, `no 3 was 0.43M`) or a black lead elsewhere (`black was hot-`, `black was hot- 3`).

    reading: the right values, its function None where the old one holds. number: of the entry, None the last.
    black: the net; count: for how many of the last readings, None when not said.
    """

    reading: ReadingEntry | None = None
    number: int | None = None
    black: str | None = None
    count: int | None = None


@dataclass(frozen=True, kw_only=True)
class CantEntry(Entry):
    """No probe gets there."""

    where: str
    net: str | None = None
    part: str | None = None
    pins: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SameEntry(Entry):
    """The last reading again gave the same."""


@dataclass(frozen=True, kw_only=True)
class SheetEntry(Entry):
    """A line of the sheet. key: unit symptom start parts ways does cold twin cant. words: what follows it."""

    key: str
    words: str


@dataclass(frozen=True, kw_only=True)
class WaiveEntry(Entry):
    """Written consent to go on with the cause open. name: who; reason: why."""

    name: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class AskEntry(Entry):
    """A question to the program. word: why others tell suspects found cleared log card sheet help; about: what follows."""

    word: str
    about: str = ""


@dataclass(frozen=True, kw_only=True)
class ModeEntry(Entry):
    """follow: the program leads; lead: the technician does. mode: the word as typed."""

    mode: str


@dataclass(frozen=True, kw_only=True)
class AnswerEntry(Entry):
    """The answer to a question that is open: y, n, or one of the words it offered."""

    answer: str
