"""What the bench charges: the minutes of every hand movement, the same for the technician and for his rival.

Bench estimates of the trade (common practice): 20 s a reading with the black lead clipped, 90 s for the first one on a live
hot ground, 60 s to discharge and verify, 180 s to lift a leg, 600 s to take out a 20-pin part, 120 s a power cycle *with* its
discharge.
"""

from __future__ import annotations

from dataclasses import dataclass, field

READING = 20.0
LIVE_HOT_FIRST = 90.0
DISCHARGE = 60.0
LIFT = 180.0
REMOVE_20_PIN = 600.0
POWER_CYCLE = 120.0
LOOK = 10.0
BUDGET_MINUTES = 60.0
BUDGET_READINGS = 40


@dataclass
class Clock:
    """Adds up one job. A power cycle is charged when it begins and pays for the discharge that follows it."""

    seconds: float = 0.0
    readings: int = 0
    live_hot: int = 0
    cycles: int = 0
    discharges: int = 0
    lifts: int = 0
    keystrokes: int = 0
    prepaid: bool = False
    clipped: set[str] = field(default_factory=set)

    @property
    def minutes(self) -> float:
        return self.seconds / 60.0

    @property
    def spent(self) -> bool:
        """The budget is gone: 60 minutes or 40 readings."""
        return self.minutes >= BUDGET_MINUTES or self.readings >= BUDGET_READINGS

    def read(self, *, live: bool, hot: bool, black: str) -> None:
        """One reading. On a live hot island the black lead has to be clipped with care first, once per power cycle."""
        self.readings += 1
        first = live and hot and black not in self.clipped
        self.live_hot += live and hot
        self.seconds += LIVE_HOT_FIRST if first else READING
        if first:
            self.clipped.add(black)

    def switch_on(self) -> None:
        self.cycles += 1
        self.prepaid = True
        self.clipped.clear()
        self.seconds += POWER_CYCLE

    def discharge(self) -> None:
        """Discharge and verify; the first one after a power cycle is in the price of the cycle."""
        self.discharges += 1
        self.seconds += 0.0 if self.prepaid else DISCHARGE
        self.prepaid = False
        self.clipped.clear()

    def look_again(self, places: int) -> None:
        """The second look at capacitors that were charged, a minute after they were emptied."""
        self.seconds += READING * places

    def lift(self) -> None:
        self.lifts += 1
        self.seconds += LIFT

    def take_out(self, pins: int) -> None:
        """A part out of the board: three legs as one lift, then in proportion up to the 20-pin part."""
        self.lifts += 1
        self.seconds += LIFT + (REMOVE_20_PIN - LIFT) * max(0, pins - 3) / 17.0

    def look(self) -> None:
        self.seconds += LOOK

    def key(self, line: str) -> None:
        """Characters of a line and the Enter after it."""
        self.keystrokes += len(line) + 1
