"""Safety seen from the job: which capacitors to read, which columns may be offered, whether it may be switched on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.columns import DEAD, Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.jobs.fold import Standing
from halfsplit.jobs.kit import Kit, functions_available
from halfsplit.jobs.safety import Damage, Go, NoGo, SwitchOn, may_switch_on
from halfsplit.jobs.table import Table
from halfsplit.parts import family_of
from halfsplit.repair.discharge import HeavyCap, heavy_caps

HEAVY = 0.01  # odds of an explanation that must be reckoned with
PAST = {
    "volts": 1.15,
    "in volts": 1.15,
    "watts": 5.0,
}  # stress over rating at which a part is past it at switch-on (bench estimate)
UNITS = {"volts": "V", "in volts": "V", "watts": "W"}
DEAD_LASTS = 30 * 60.0  # a proof of dead holds so long [s]
RECOVERY = 60.0
COLD_OHMS = 1e6
DEAD_VOLTS = 10.0
NAMED_JOULES = 1e-4  # [J] bench estimate: above this the volts of a capacitor are read before ohms


def is_protector(part: Part) -> bool:
    """A part that nobody may bridge, up-rate or leave out."""
    return family_of(part).protector or "fusible" in part.tags


def cautious(odds: np.ndarray, prior: np.ndarray) -> np.ndarray:
    """Odds as safety takes them: a row counts until the readings have put it well below its prior; the sum stays what it was."""
    return np.asarray(odds / max(float(odds.sum()), 1e-12))


def _load_watts(circuit: Circuit, ref: str) -> float:
    """Power of a load that hangs on the mains and can be unplugged [W]; 0 for any other part."""
    part = circuit.part(ref)
    ohms = part.values.get("ohms", 0.0)
    return circuit.unit.volts**2 / ohms if family_of(part).visible and ohms > 0 and "ohms" not in part.doubts else 0.0


@dataclass(frozen=True)
class Gate:
    """What safety needs of one moment. odds (rows,): of every explanation now."""

    standing: Standing
    table: Table
    kit: Kit
    odds: np.ndarray
    now: float

    @property
    def circuit(self) -> Circuit:
        return self.table.circuit

    # ---- dead or not

    def heavy(self) -> tuple[HeavyCap, ...]:
        """Capacitors to be read before the set counts as dead: all that a heavy explanation may leave above 10 V.

        0.25 J hurts a hand; a tenth of a millijoule still lies to an ohmmeter, so these are named too.
        """
        volts = self.table.cap_volts([Condition(True)])
        heavy = np.flatnonzero(self.odds > HEAVY)
        rows = heavy if len(heavy) else np.array([0])
        left: dict[str, float | None] = {ref: float(np.nanmax(v[rows], initial=0.0)) for ref, v in volts.items()}
        here = self.standing.acts.on(self.circuit)
        found = heavy_caps(here, left, more_than=NAMED_JOULES)
        pairs: dict[frozenset[str], HeavyCap] = {}
        for cap in found:  # heaviest first: what lies straight across it is emptied and read with it
            pairs.setdefault(frozenset(here.part(cap.ref).pins.values()), cap)
        return tuple(pairs.values())

    def is_dead(self) -> bool:
        """Proven, not expired, and every reading under 10 V."""
        s = self.standing
        if s.power != "dead" or s.proven_at is None or not 0 <= self.now - s.proven_at <= DEAD_LASTS:
            return False
        return all(abs(v) < DEAD_VOLTS for v in s.dead.values())

    def missing_caps(self) -> tuple[str, ...]:
        """Named capacitors whose volts have not been read, or read too high, since the plug was out."""
        read = {self._ref(name): v for name, v in self.standing.dead.items()}
        return tuple(cap.name for cap in self.heavy() if not abs(read.get(cap.ref, 1e9)) < DEAD_VOLTS)

    def _ref(self, name: str) -> str:
        return self.circuit.part(name).ref if name in self.circuit.names else name

    # ---- which side is isolated

    def claims_cold(self) -> bool:
        return bool(self.circuit.grounds.get("cold")) and bool(self.circuit.cold_claims)

    def cold_proof(self) -> dict[str, float]:
        """Ohms read from L and from N to the claimed cold 0 V, dead."""
        cold = self.circuit.grounds.get("cold")
        out: dict[str, float] = {}
        for taken in self.standing.readings:
            e = taken.entry
            ends = {e.red_net, e.black_net}
            if taken.power == "dead" and e.function == "r" and cold in ends and e.value is not None:
                for line in ("L", "N"):
                    if line in ends:
                        out[line] = e.value
        return out

    def cold_proven(self) -> bool:
        """Both lines above 1 Mohm to it, and its boundary named by eye. Shows topology, not the strength of the insulation."""
        proof = self.cold_proof()
        return self.claims_cold() and self.standing.eye_named and {"L", "N"} <= proof.keys() and min(proof.values()) > COLD_OHMS

    def side_is_cold(self, column: Column) -> bool:
        islands = islands_of(self.circuit)
        cold = self.circuit.grounds.get("cold")
        return self.cold_proven() and all(islands.get(n) == "cold" or n == cold for n in (column.red, column.black))

    # ---- what may be offered

    def isolation_ok(self, without: frozenset[str] = frozenset()) -> bool:
        """Twice the watts of the set as it stands; a heater that is unplugged doesn't count."""
        return self.kit.isolation is not None and self.kit.isolation >= 2.0 * self.watts(without)

    def watts(self, without: frozenset[str]) -> float:
        """Watts of the set less what is unplugged: the label's, less volts squared over ohms of each [W]."""
        off = sum(_load_watts(self.circuit, ref) for ref in without)
        return max(self.circuit.unit.watts - off, 10.0) if off else self.circuit.unit.watts

    def to_unplug(self) -> frozenset[str]:
        """Loads to unplug so that the rest fits on the isolation transformer; none where it fits, or where that can't help."""
        off = set(self.standing.unplugged)
        loads = sorted(
            (p.ref for p in self.circuit.parts if _load_watts(self.circuit, p.ref) > 0 and p.ref not in off),
            key=lambda r: -_load_watts(self.circuit, r),
        )
        while not self.isolation_ok(frozenset(off)) and loads:
            off.add(loads.pop(0))
        return frozenset(off) if self.isolation_ok(frozenset(off)) else self.standing.unplugged

    def allowed(
        self, columns: Sequence[Column], peaks: Mapping[str, Mapping[str, float]], go_on: Mapping[str, bool]
    ) -> list[int]:
        """Columns that this bench can read and safety lets be offered (their state may have to be reached first)."""
        can = functions_available(self.kit)
        rating = self.kit.rating or 0.0
        out = []
        for i, column in enumerate(columns):
            if column.function not in can or {column.red, column.black} & (self.standing.cant | self.circuit.cant):
                continue
            if not column.live:
                out.append(i)
                continue
            if {column.red, column.black} & self.circuit.switching or not go_on.get(column.state, False):
                continue
            peak = peaks.get(column.state, {})
            highest = max(peak.get(column.red, np.inf), peak.get(column.black, 0.0))
            if not highest <= rating:
                continue
            if self.side_is_cold(column) or self.isolation_ok(self.to_unplug()):
                out.append(i)
        return out

    # ---- switching on

    def damage(self, condition: Condition) -> tuple[Damage, ...]:
        """What every heavy explanation would put the rated parts to, in this condition, with the acts as they stand."""
        from halfsplit.diagnosis.build import stress_of

        circuit = self.standing.acts.on(condition.stands(self.circuit))
        solved = self.table.nominal(condition, self.standing.acts)
        out = []
        for (ref, rating), ratio in stress_of(circuit, solved, self.table.drawn, condition).items():
            limit = PAST.get(rating, 1.15)
            for row in np.flatnonzero((self.odds > HEAVY) & ~(ratio <= limit)):
                suspect = self.table.suspects[row].row
                bad = float(ratio[row])
                if np.isnan(bad) or suspect.part == ref:
                    continue  # the failed part itself has no rating left to lose; an unresolved row is not silent: see reasons
                part = circuit.part(ref)
                rated = part.ratings.get(rating, part.values.get(rating, 0.0))
                out.append(
                    Damage(
                        ref,
                        rating,
                        UNITS.get(rating, ""),
                        rated * limit,
                        bad * rated,
                        float(self.odds[row]),
                        f"{suspect.part} {suspect.way}",
                    )
                )
        return tuple(sorted(out, key=lambda d: -d.odds))

    def switch_on(self, condition: Condition, convicted: Sequence[str] = ()) -> Go | NoGo:
        """Whether mains may be put on the set as it stands."""
        s = self.standing
        out = [self.circuit.part(ref) for ref in s.acts.refs if ref in self.circuit.names]
        facts = SwitchOn(
            solved=True,
            damage=self.damage(condition),
            protectors_out=tuple(p.ref for p in out if is_protector(p)),
            limiters_out=tuple(p.ref for p in out if family_of(p).limiter),
            refit=tuple(ref for ref, _ in s.acts.lifted),
            convicted=tuple(convicted),
            cause_open=bool(convicted),
            fitted=s.fitted,
            cold_gate=None if s.fitted else True,
            isolated=self.isolation_ok(condition.without),
            transformer_va=self.kit.isolation,
            set_watts=self.watts(condition.without),
        )
        return may_switch_on(facts)


__all__ = ["DEAD", "Gate", "is_protector"]
