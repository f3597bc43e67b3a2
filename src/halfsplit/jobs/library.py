"""The library for other programs: circuit from plain data, readings from a list of your own, odds and next round as plain data.

Everything goes through the same outlook, posterior and planner as the work loop; only the technician's words are left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from halfsplit.circuit.model import Circuit, circuit_from_data
from halfsplit.diagnosis.build import Block
from halfsplit.diagnosis.columns import ALONE, DEAD, Condition, make_column
from halfsplit.diagnosis.outlook import Column, Outlook, Reading
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import Posterior, Setting, posterior
from halfsplit.diagnosis.proposal import Prices
from halfsplit.diagnosis.rounds import round_of
from halfsplit.diagnosis.verdict import verdict
from halfsplit.errors import InputError, UnknownName
from halfsplit.jobs.job import clean
from halfsplit.jobs.kit import Kit, default_kit
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.weigh import make_suspects, meter_accuracy
from halfsplit.parts import family_of

Plain = dict[str, Any]


class Diagnosis:
    """One faulty set as a program sees it.

    circuit: a Circuit or its plain data (circuit_to_data shows the shape). readings: what may be read, each a dict with
    function (v ac max min r d c esr), red, black and state ("dead", "alone", "on", "on+CONTROL") and, for alone, part;
    None: everything that the work loop would offer. No safety gate stands here: this answers questions and touches nothing.
    """

    def __init__(
        self, circuit: Circuit | Mapping[str, Any], *, readings: Sequence[Mapping[str, Any]] | None = None, kit: Kit | None = None
    ) -> None:
        self.circuit = circuit if isinstance(circuit, Circuit) else circuit_from_data(circuit)
        self.kit = kit or default_kit()
        self.table = Table(self.circuit, make_suspects(self.circuit))
        self.acts = Acts()
        self.taken: list[tuple[Plain, Acts]] = []
        self.offered = None if readings is None else [self._column(r) for r in readings]

    # ---- what is said

    def enter(self, reading: Mapping[str, Any]) -> None:
        """One reading: function, red, black, state, value (float, inf or "OL"); pulsing, shaky if so. Raises InputError."""
        value = reading.get("value")
        if value is None:
            raise InputError(f"reading {dict(reading)!r} has no value; give a number, or OL")
        self._column(reading)
        self.taken.append((dict(reading), self.acts))

    def act(self, act: str, target: str) -> None:
        """lift "R1.a", remove "R1" or refit "R1"; readings entered later are of the set as it then stands. Raises InputError."""
        name, _, pin = target.partition(".")
        part = self.circuit.part(name)
        lifted, removed = set(self.acts.lifted), set(self.acts.removed)
        if act == "lift":
            if pin not in part.pins:
                raise UnknownName("pin", pin, part.pins)
            lifted.add((part.ref, pin))
        elif act == "remove":
            if family_of(part).protector:
                raise InputError(f"{part.ref} is a protector; it is read in its place, never taken out for a test under power")
            removed.add(part.ref)
        elif act == "refit":
            lifted = {(r, p) for r, p in lifted if r != part.ref}
            removed.discard(part.ref)
        else:
            raise UnknownName("act", act, ("lift", "remove", "refit"))
        self.acts = Acts(frozenset(lifted), frozenset(removed))

    # ---- what comes of it

    def outlook(self) -> Outlook:
        """The whole table for the readings on offer and those taken."""
        return self._weighed()[0]

    def posterior(self) -> Plain:
        """parts: part -> odds; ways: "part way" -> odds; nothing_wrong; not_on_sheet; two_at_once. They sum to one over ways and these three."""
        _, post = self._weighed()
        ways = {f"{r.part} {r.way}": float(o) for r, o in zip(post.rows, post.row_odds, strict=True) if r.part}
        plain: Plain = clean(
            {
                "parts": post.part_odds,
                "ways": dict(sorted(ways.items(), key=lambda x: -x[1])),
                "nothing_wrong": post.nothing_wrong,
                "not_on_sheet": post.not_on_sheet,
                "two_at_once": post.two_at_once,
            }
        )
        return plain

    def next_round(self, *, now: str = "", most: int = 6) -> Plain:
        """verdict and, unless it is done, the readings to take next: red, black, function, state, healthy band, gain, minutes."""
        outlook, post = self._weighed()
        prices = Prices(now=now)
        done = {r.column for r in post.readings}
        available = [i for i in range(self._count) if i not in done]
        proposals = next_readings(outlook, post, prices=prices, available=available)
        say = verdict(outlook, post, proposals, available=available)
        chosen = round_of(outlook, post, prices=prices, available=available)[:most] if say.kind == "go on" else ()
        plain: Plain = clean(
            {
                "verdict": say.kind,
                "parts": say.parts,
                "odds": say.odds,
                "readings": [
                    {
                        "function": c.function,
                        "red": c.red,
                        "black": c.black,
                        "state": c.state,
                        "part": c.part,
                        "where": c.where,
                        "unit": c.unit,
                        "healthy": p.healthy,
                        "bits": p.gain,
                        "minutes": p.price,
                    }
                    for p in chosen
                    for c in (outlook.columns[p.column],)
                ],
            }
        )
        return plain

    # ---- pieces

    def _column(self, reading: Mapping[str, Any]) -> Column:
        try:
            function, red, black, state = (str(reading[k]) for k in ("function", "red", "black", "state"))
        except KeyError as miss:
            raise InputError(
                f"reading {dict(reading)!r} lacks {miss.args[0]!r}; it needs function, red, black and state"
            ) from None
        nets = self.acts.nets(self.circuit)
        for net in (red, black):
            if net not in nets:
                raise UnknownName("net", net, sorted(nets))
        self._condition(state)
        return make_column(function, red, black, state, where=str(reading.get("where", red)), part=reading.get("part"))

    def _condition(self, state: str) -> Condition:
        if state in (DEAD, ALONE):
            return Condition(False)
        words = state.split("+")
        unknown = [w for w in words[1:] if w not in self.circuit.controls]
        if words[0] != "on" or unknown:
            raise UnknownName("state", state, (DEAD, ALONE, *(c.key for c in self.table.conditions() if c.powered)))
        return Condition(True, frozenset(words[1:]))

    def _blocks(self) -> list[Block]:
        if self.offered is None:
            return [self.table.cold(), self.table.alone(), *(self.table.live(c) for c in self.table.conditions() if c.powered)]
        return [self._one(c, Acts()) for c in self.offered]

    def _one(self, column: Column, acts: Acts) -> Block:
        if column.state == ALONE:
            whole = self.table.alone()
            at = [i for i, c in enumerate(whole.columns) if c.key == column.key]
            if not at:
                raise InputError(f"{column.part} has no reading {column.function} from {column.red} to {column.black} by itself")
            return Block((whole.columns[at[0]],), whole.value[:, at], whole.pulsing[:, at], {})
        return self.table.extra(column, self._condition(column.state), acts)

    def _weighed(self) -> tuple[Outlook, Posterior]:
        blocks = self._blocks()
        keys: list[tuple[str, tuple[str, ...]]] = [(c.key, ()) for b in blocks for c in b.columns]
        self._count = len(keys)
        readings = []
        for raw, acts in self.taken:
            column = self._column(raw)
            key = (column.key, acts.refs if column.state != ALONE else ())
            if key not in keys:
                keys.append(key)
                blocks.append(self._one(column, acts))
            value = float("inf") if raw["value"] == "OL" else float(raw["value"])
            readings.append(Reading(keys.index(key), value, bool(raw.get("pulsing", False)), bool(raw.get("shaky", False))))
        outlook = self.table.outlook(blocks)
        return outlook, posterior(outlook, readings, setting=Setting(meter=meter_accuracy(self.kit)))


__all__ = ["Diagnosis"]
