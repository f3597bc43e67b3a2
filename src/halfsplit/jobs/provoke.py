"""Whether the set may be tapped, flexed, warmed or cooled as it stands.

No rule is made milder here: live, a rod or a blower comes where a probe may come, and under the same list; hands stay off a board
that has power or a charge. Common practice of the trade; the gates are those of jobs/safety.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from halfsplit.circuit.model import Part
from halfsplit.jobs.entry_types import ProvokeEntry
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.safety import Go, NoGo, caution, hazard, may_measure
from halfsplit.parts import family_of

HANDS = frozenset({"flex"})
SPRAYED = frozenset({"cold"})  # wets what it chills


def may_provoke(gate: Gate, entry: ProvokeEntry) -> Go | NoGo:
    """Whether this may be done as things stand. What is refused names the node and its volts where they are known."""
    power = gate.standing.power
    nets = nets_of(gate, entry)
    if power in ("unknown", "unplugged"):
        if gate.is_dead():
            return Go()
        line = gate.dead_line(gate.named(gate.sides))
        first = "" if power == "unplugged" else "`off`, then "
        return NoGo(
            f"the set is {power}, not proven dead: hands, rod and spray stay off a charge",
            f"{first}`{line}` with the volts read there",
        )
    if entry.how in HANDS:
        return NoGo(
            f"a board with power on it is not flexed: {_worst(gate, nets)}",
            "flex it dead, meter clipped on ohms; or tap it with an insulated rod",
        )
    hot = [net for net in nets if gate.side_of(net) != "cold"]
    if entry.how in SPRAYED and hot:
        return NoGo(f"spray is wet, and {_worst(gate, hot)}", "`off`, chill it dead, let it dry off and switch on again")
    for net in nets:
        answer = _rod_at(gate, net)
        if isinstance(answer, NoGo):
            return NoGo(f"{answer.reason} ({_worst(gate, [net])})", answer.remedy)
    return Go(f"insulated rod, little force, one hand: {_worst(gate, nets)}")


def nets_of(gate: Gate, entry: ProvokeEntry) -> list[str]:
    """Every net that is touched."""
    parts = [gate.circuit.part(name) for name in entry.parts]
    return list(dict.fromkeys([*(net for part in parts for net in part.pins.values()), *entry.nets]))


def _rod_at(gate: Gate, net: str) -> Go | NoGo:
    """As for a voltmeter's probe, save what only an instrument minds: a rod has no rating, and may touch what switches."""
    condition = gate.condition() if gate.standing.power == "on" else None
    board = replace(gate.board(condition), switching=frozenset(), cant=frozenset(), rating=math.inf)
    return may_measure(gate.islands, "v", net, board=board, now=gate.now)


def _worst(gate: Gate, nets: Sequence[str]) -> str:
    """The caution of the net with most volts; one of which the volts aren't known comes first."""
    peaks = gate.peaks(gate.condition()) if gate.standing.power == "on" else {}

    def volts(net: str) -> float:
        v = peaks.get(net, math.nan)
        return math.inf if math.isnan(v) else abs(v)

    net = max(nets, key=lambda n: (gate.side_of(n) != "cold", volts(n)))
    known = None if math.isinf(volts(net)) else volts(net)
    return caution(net, known, hazard(net, known, proven_cold=gate.side_of(net) == "cold", dead=False))


def worth_provoking(gate: Gate, heavy: Sequence[Part]) -> list[dict[str, str]]:
    """Parts to tap, or to warm or chill, that may be provoked as the set stands: text with its caution, and the line to type."""
    out = []
    for part in heavy:
        how = "tap" if family_of(part).shaken >= family_of(part).heated else "warm"
        answer = may_provoke(gate, ProvokeEntry(text="", how=how, parts=(part.ref,)))
        if answer:
            tool = "an insulated rod, lightly" if how == "tap" else "warm air on that part alone"
            note = f"; {answer.note}" if isinstance(answer, Go) and answer.note else ""
            out.append(
                {"text": f"{how} {part.ref} with {tool}{note}; then say `changed` or `same`", "type": f"{how} {part.ref} "}
            )
    return out
