"""Columns: which readings could be taken on a circuit, in which state, at what cost and hazard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.dummy import DUMMY, Dummy
from halfsplit.diagnosis.fed import Fed
from halfsplit.diagnosis.outlook import Column
from halfsplit.parts import family_of

DEAD = "dead"
ALONE = "alone"
SPANS = {"v": 50.0, "ac": 50.0, "max": 50.0, "min": 50.0, "r": 2e7, "d": 2.0, "c": 1e-2, "esr": 100.0, "every": 10.0}
UNITS = {"v": "V", "ac": "V", "max": "V", "min": "V", "r": "ohm", "d": "V", "c": "F", "esr": "ohm", "every": "s"}
MINUTES = {"v": 0.33, "ac": 0.33, "max": 0.5, "min": 0.5, "r": 0.25, "d": 0.25, "c": 0.5, "esr": 0.17, "every": 0.17}
LIFT_MINUTES = 3.0
OHM_LIMIT, DIODE_LIMIT, ESR_LIMIT, FARAD_LIMIT = 61e6, 2.5, 100.0, 0.1


@dataclass(frozen=True)
class Condition:
    """How the set stands while read. key: Column.state. pressed: control words. lamp [W] in series or None.

    without: loads that are unplugged (a heater, so that the rest fits on the isolation transformer).
    fed: unplugged, and the bench supply on it; powered then means that some of it works. dummy: a resistor in place of a load.
    """

    powered: bool
    pressed: frozenset[str] = frozenset()
    lamp: float | None = None
    without: frozenset[str] = frozenset()
    fed: Fed | None = None
    dummy: Dummy | None = None

    @property
    def key(self) -> str:
        instead = frozenset() if self.dummy is None else self.dummy.run.parts
        off = "" if self.dummy is None else f" with {self.dummy.key}"
        off += "".join(f" less {ref}" for ref in sorted(self.without - instead))
        if not self.powered:
            return DEAD + off
        words = ["on" if self.fed is None else self.fed.key, *sorted(self.pressed)]
        return "+".join(words) + (f"@{self.lamp:g}W" if self.lamp else "") + off

    def stands(self, circuit: Circuit) -> Circuit:
        """The circuit without the loads that are unplugged, the bench supply on it where one is."""
        if self.without:
            circuit = circuit.with_parts(tuple(p for p in circuit.parts if p.ref not in self.without))
        if self.dummy is not None:
            circuit = self.dummy.on(circuit)
        return circuit if self.fed is None else self.fed.on(circuit)


def unplugged_in(state: str) -> frozenset[str]:
    """Loads that a column's state has unplugged."""
    return frozenset(state.split(" less ")[1:])


def conditions(circuit: Circuit) -> tuple[Condition, ...]:
    """Dead, on, and on with each control pressed."""
    return (Condition(False), Condition(True), *(Condition(True, frozenset({c})) for c in circuit.controls))


def make_column(
    function: str, red: str, black: str, state: str, *, where: str, part: str | None = None, hazard: str = "H0"
) -> Column:
    """A column with its usual span, unit and minutes."""
    limit = {"r": OHM_LIMIT, "d": DIODE_LIMIT, "esr": ESR_LIMIT, "c": FARAD_LIMIT}.get(function, float("inf"))
    live = not state.startswith((DEAD, ALONE))
    minutes = MINUTES[function] + (LIFT_MINUTES if state.startswith(ALONE) else 0.0) + (0.6 if hazard == "H3" else 0.0)
    return Column(
        key=f"{state}|{function}|{red}|{black}" + (f"|{part}" if part and state.startswith(ALONE) else ""),
        function=function,
        red=red,
        black=black,
        where=where,
        state=state,
        live=live,
        hazard=hazard,
        minutes=minutes,
        span=SPANS[function],
        limit=limit,
        part=part,
        unit=UNITS[function],
    )


def ground_of(circuit: Circuit, net: str, islands: Mapping[str, str]) -> str:
    """The 0 V that readings of a net are taken against: that of its own side."""
    return circuit.grounds.get(islands.get(net, "hot"), circuit.grounds.get("hot", "N"))


def cold_columns(circuit: Circuit, state: str = DEAD) -> tuple[Column, ...]:
    """Readings across parts in circuit, dead and discharged."""
    out = []
    for part in (p for p in circuit.parts if p.ref != DUMMY):
        for plus, minus, function in family_of(part).cold_reads:
            out.append(_across(part, plus, minus, function, state))
    unique = {c.key: c for c in out if c.red != c.black and not ({c.red, c.black} & circuit.cant)}
    return tuple(unique.values())


def alone_columns(circuit: Circuit) -> tuple[Column, ...]:
    """Readings of a part with one leg up or out of the circuit."""
    out = [
        _across(part, plus, minus, function, ALONE)
        for part in circuit.parts
        for plus, minus, function in family_of(part).alone_reads
        if part.pins[plus] != part.pins[minus]
    ]
    return tuple({c.key: c for c in out}.values())


def fed_columns(circuit: Circuit, condition: Condition) -> tuple[tuple[Column, ...], tuple[Column, ...]]:
    """Of a set that the bench supply feeds: volts on the fed side, millivolts across its contacts and tracks, which tell where the current
    goes, and ohms on the dead side of what reaches across (an opto's transistor)."""
    if condition.fed is None:
        return (), ()
    islands = islands_of(circuit)
    side, black, key = islands.get(condition.fed.net), condition.fed.black, condition.key
    shut = circuit.switching | circuit.cant | {black}
    volts = [make_column("v", net, black, key, where=net, hazard="H1") for net in circuit.nets if islands[net] == side and net not in shut]
    for part in circuit.parts:
        nets = [part.pins[pin] for pin in family_of(part).across_live or ()]
        if len(set(nets)) == 2 and {islands[n] for n in nets} == {side} and not set(nets) & (circuit.switching | circuit.cant):
            volts.append(make_column("v", nets[0], nets[1], key, where=part.ref, part=part.ref, hazard="H1"))
    ohms = []
    for part in circuit.parts:
        if side in {islands[net] for net in part.pins.values()}:
            for plus, minus, function in family_of(part).alone_reads:
                ends = {part.pins[plus], part.pins[minus]}
                if function == "r" and len(ends) == 2 and not ends & circuit.cant and side not in {islands[net] for net in ends}:
                    where = f"{part.ref}.{plus} to {part.ref}.{minus}"
                    ohms.append(make_column("r", part.pins[plus], part.pins[minus], key, where=where, part=part.ref))
    return tuple({c.key: c for c in volts}.values()), tuple({c.key: c for c in ohms}.values())


def _across(part: Part, plus: str, minus: str, function: str, state: str) -> Column:
    main = family_of(part).plus_minus == (plus, minus)
    where = part.ref if main else f"{part.ref}.{plus} to {part.ref}.{minus}"
    if family_of(part).outlet:  # nobody measures the wall socket: the pins of the plug
        where = f"{part.pins[plus]} to {part.pins[minus]}"
    return make_column(function, part.pins[plus], part.pins[minus], state, where=where, part=part.ref)


def live_columns(
    circuit: Circuit, condition: Condition, how: Mapping[str, tuple[str, str]], ripple_nets: frozenset[str] = frozenset()
) -> tuple[Column, ...]:
    """Powered readings: each net against the 0 V of its side, or as `how` says (net -> function, other lead); AC across series contacts."""
    islands = islands_of(circuit)
    grounds = set(circuit.grounds.values())
    # What MAX holds is worked out for rails: a node beside one passes volts in between that neither running nor waiting has.
    rails = {frozenset(p.pins.values()) for p in circuit.parts if p.holds_charge}
    out = []
    for net in circuit.nets:
        if net in circuit.switching or net in circuit.cant:
            continue
        function, black = how.get(net, ("v", ground_of(circuit, net, islands)))
        if net == black or (net in grounds and net not in how):
            continue
        cold = islands[net] == "cold"
        hazard = "H1" if cold else "H3"
        where = net if black != "L" else f"L to {net}"
        red, other = (net, black) if black != "L" else ("L", net)
        if red == other:
            continue
        out.append(make_column(function, red, other, condition.key, where=where, hazard=hazard))
        if function == "v" and cold and frozenset((red, other)) in rails:
            out.append(make_column("max", red, other, condition.key, where=where, hazard=hazard))
        if function == "v" and net in ripple_nets:
            out.append(make_column("ac", red, other, condition.key, where=where, hazard=hazard))
    for part in circuit.parts:  # a rail that hangs from another net than the 0 V of its side is read across its capacitor
        ends = [part.pins[pin] for pin in ("+", "-") if pin in part.pins and part.holds_charge]
        if len(ends) == 2 and not set(ends) & (grounds | circuit.switching | circuit.cant) and islands[ends[0]] == islands[ends[1]]:
            hazard = "H1" if islands[ends[0]] == "cold" else "H3"
            out.append(make_column("v", ends[0], ends[1], condition.key, where=part.ref, hazard=hazard))
    for part in circuit.parts:
        pins = family_of(part).across_live
        if pins and not ({part.pins[pins[0]], part.pins[pins[1]]} & (circuit.switching | circuit.cant)):
            main = family_of(part).plus_minus == pins
            where = part.ref if main else f"{part.ref}.{pins[0]} to {part.ref}.{pins[1]}"
            out.append(
                make_column("ac", part.pins[pins[0]], part.pins[pins[1]], condition.key, where=where, part=part.ref, hazard="H3")
            )
    for part in circuit.parts:
        out += [
            make_column("v", part.pins[a], part.pins[b], condition.key, where=part.ref, part=part.ref, hazard=hazard)
            for tag, (a, b) in family_of(part).drop_live.items()
            if tag in ("", *part.tags) and not ({part.pins[a], part.pins[b]} & (circuit.switching | circuit.cant))
            for hazard in ("H1" if {islands[part.pins[a]], islands[part.pins[b]]} == {"cold"} else "H3",)
        ]
    return tuple({c.key: c for c in out}.values())
