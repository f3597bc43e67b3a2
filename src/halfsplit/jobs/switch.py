"""Putting power on: the mains, once every heavy explanation was solved as the set stands; and the bench supply."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from halfsplit.circuit.model import Part
from halfsplit.diagnosis.build import stress_of
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.dummy import DUMMY
from halfsplit.jobs.entry import StateEntry
from halfsplit.jobs.gate import Gate, is_protector
from halfsplit.jobs.safety import HEAVY_ODDS, Damage, Go, NoGo, SwitchOn, may_bench, may_switch_on
from halfsplit.parts import family_of
from halfsplit.parts.base import Array
from halfsplit.solver.powered import Powered

PAST = {"volts": 1.15, "in volts": 1.15, "watts": 5.0}  # stress over rating past which a part goes at switch-on (bench estimate)
PAST_DUMMY = 1.1  # a dummy load stands in for minutes: the trade runs 10.4 W in one of 10 W for ten (worked case of the air purifier)
UNITS = {"volts": "V", "in volts": "V", "watts": "W"}
DRAWS_FROM = 1 / 3  # of its volts: below, chips and loads take next to nothing (common practice: at most a volt into a rail with a short)
LOW = 0.5  # ohms under this part of the lowest healthy ones fail the cold gate (bench estimate; the trade asks for gross shorts)


def damage(gate: Gate, condition: Condition) -> tuple[Damage, ...]:
    """What every heavy explanation would put the rated parts to, in this condition, with the acts as they stand."""
    acts = gate.standing.acts
    solved = gate.table.nominal(condition, acts)
    here = acts.on(condition.stands(gate.circuit))
    out = []
    for (ref, rating), ratio in stress_of(here, solved, gate.table.drawn, condition).items():
        limit = PAST_DUMMY if ref == DUMMY else PAST.get(rating, 1.15)
        ratio = _of_either_state(here.part(ref), solved, ratio) if ref == DUMMY else ratio
        for row in np.flatnonzero((gate.odds > HEAVY_ODDS) & ~(ratio <= limit)):
            suspect = gate.table.suspects[row].row
            if suspect.part == ref:
                continue  # the failed part itself has no rating left to lose
            part = here.part(ref)
            if is_protector(part) and ref in solved.modes and solved.modes[ref][row] > 0.5:
                continue  # it has opened, as it is there to do: what then stands across it puts it to nothing
            rated, bad = part.ratings.get(rating, part.values.get(rating, 0.0)), float(ratio[row])
            stress = None if np.isnan(bad) else bad * rated
            tale, odds = f"{suspect.part} {suspect.way}".strip(), float(gate.odds[row])
            if ref == DUMMY and stress is not None:
                tale += f" ({math.sqrt(stress * part.values['ohms']):.3g} V between {part.pins['+']} and {part.pins['-']})"
            out.append(Damage(ref, rating, UNITS.get(rating, ""), rated * limit, stress, odds, tale))
    return tuple(sorted(out, key=lambda d: -d.odds))


def _of_either_state(dummy: Part, solved: Powered, ratio: Array) -> Array:
    """Watts over rating of a dummy load (rows,); where the set pulses, those of its highest volts as if they stood."""
    volts = solved.peak(dummy.pins["+"], dummy.pins["-"])
    return np.asarray(np.where(solved.pulsing, volts**2 / dummy.values["ohms"] / dummy.ratings["watts"], ratio))


def switch_on(gate: Gate, condition: Condition, convicted: Sequence[str] = ()) -> Go | NoGo:
    """Whether mains may be put on the set as it stands. convicted: parts that were convicted and whose cause nobody has cleared."""
    s = gate.standing
    out = [gate.circuit.part(ref) for ref in s.acts.refs if ref in gate.circuit.names]
    left = cold_gate_left(gate)
    facts = SwitchOn(
        solved=True,
        damage=damage(gate, condition),
        protectors_out=tuple(p.ref for p in out if is_protector(p)),
        limiters_out=tuple(p.ref for p in out if family_of(p).limiter),
        refit=tuple(s.acts.refs),
        convicted=tuple(convicted),
        cause_open=bool(convicted),
        waiver=s.waiver,
        fitted=tuple(name for _, name in s.fitted),
        cold_gate=not left,
        bench_on=s.power == "bench",
        isolated=gate.isolation_ok(condition.without),
        transformer_va=gate.kit.isolation,
        set_watts=gate.watts(condition.without),
    )
    answer = may_switch_on(facts)
    if isinstance(answer, NoGo) and left and "cold gate" in answer.reason:
        return NoGo(answer.reason, f"{answer.remedy}: {', '.join(left)}")
    return answer


# ---- the cold gate after a part was fitted


def cold_gate_left(gate: Gate) -> tuple[str, ...]:
    """Ohms still to be read after the last part that was fitted: across the plug, across every heavy capacitor, across the part.

    One that was read and is far below what a healthy set shows is left too. Empty: passed, or nothing was fitted.
    """
    s = gate.standing
    if not s.fitted:
        return ()
    since = max(line for line, _ in s.fitted)
    places = [p for p in gate.circuit.parts if family_of(p).outlet]
    places += [gate.circuit.part(cap.ref) for cap in gate.heavy]
    places += [gate.circuit.part(name) for _, name in s.fitted if name in gate.circuit.names]
    wanted = {p.ref: p for p in places if len(p.pins) == 2 or family_of(p).plus_minus}
    return tuple(f"{p.place or p.ref} r" for p in wanted.values() if not _reads_well(gate, p, since))


def _reads_well(gate: Gate, part: Part, since: int) -> bool:
    """The last ohms across this part, taken dead after that line, are not far below the healthy ones."""
    ends = family_of(part).plus_minus or tuple(part.pins)
    nets = {part.pins[ends[0]], part.pins[ends[1]]}
    read = [
        t.entry
        for t in gate.standing.readings
        if t.line > since and t.power != "on" and t.entry.function == "r" and {t.entry.red_net, t.entry.black_net} == nets
    ]
    if not read or read[-1].value is None:
        return False
    healthy = gate.table.healthy_ohms(str(read[-1].red_net), str(read[-1].black_net))
    return healthy is not None and read[-1].value >= LOW * healthy - 1.0  # leads and a low range: an ohm is within the meter


# ---- the bench supply


def bench_supply(gate: Gate, entry: StateEntry) -> Go | NoGo:
    """Whether the bench supply may be put on a net: safety.may_bench with what is solved and written of this set.

    gate: with the sides as the sheet claims them, so that the other side has to be proven dead whether it is isolated or not.
    """
    net, volts, amps = entry.net or "", entry.volts or 0.0, entry.amps or 0.0
    side = gate.side_of(net)
    ground = gate.circuit.grounds.get(side)
    if ground is None or net == ground:
        return NoGo(f"{net} is no rail against a 0 V of its side", "name the rail that plus or minus goes to, not its 0 V")
    if len(gate.sides) == 1 and not gate.is_dead():  # no other side to vouch for: then this one holds nothing any more itself
        caps = " ".join(f"{cap.name} 0.3V" for cap in gate.named(gate.sides))
        return NoGo(
            f"the set is {gate.standing.power}, not proven dead", f"`off`, then `dead 9V {caps}` with the volts read there"
        )
    healthy = gate.table.healthy_volts(net, ground)
    if healthy is not None and entry.value is not None and (healthy < 0) != (entry.value == "minus"):
        right = "minus" if healthy < 0 else "plus"
        return NoGo(
            f"{entry.value} on {net} is the wrong way round: healthy it has {healthy:.3g} V against {ground}",
            f"{right} of the supply on {net}, the other lead on {ground}",
        )
    weakest, name = weakest_amps(gate, side, abs(volts))
    answer = may_bench(
        gate.islands,
        side,
        volts=abs(volts),
        amps=amps,
        healthy=None if healthy is None else abs(healthy),
        weakest=weakest,
        polarity=entry.value is not None,
        now=gate.now,
    )
    if isinstance(answer, NoGo) and weakest is not None and amps > weakest and "weakest" in answer.reason:
        return NoGo(f"{answer.reason} ({name})", answer.remedy)
    if isinstance(answer, NoGo) and entry.value is None and "polarity" in answer.reason:
        pole = "minus" if healthy is not None and healthy < 0 else "plus"
        return NoGo(answer.reason, f"{pole} goes on {net}, the other lead on {ground}: end the line with `{pole}` if it does")
    return answer


def weakest_amps(gate: Gate, side: str, volts: float) -> tuple[float | None, str]:
    """Least amps that a part of this side is written to stand, and whose; None where nothing says so.

    A resistor counts where these volts straight across it would be past its watts, as they are when what it feeds is shorted. What draws
    its amps at its own volts takes next to nothing under a third of them, and does not count there.
    """
    found: list[tuple[float, str]] = []
    for part in gate.circuit.parts:
        if not any(gate.side_of(net) == side for net in part.pins.values()):
            continue
        if family_of(part).draws and volts <= DRAWS_FROM * part.values.get("volts", 0.0):
            continue
        rated = part.ratings.get("amps", part.values.get("amps"))
        watts, ohms = part.ratings.get("watts", part.values.get("watts")), part.values.get("ohms")
        name = part.place or part.ref
        if rated is not None and "amps" not in part.doubts:
            found.append((rated, name))
        if watts and ohms and {"watts", "ohms"}.isdisjoint(part.doubts) and volts**2 / ohms > watts:
            found.append((math.sqrt(watts / ohms), name))
    return min(found, default=(None, ""))
