"""What a healthy amplifier and a healthy bench supply should show, against what the trade expects there.

SOURCE of every value: common practice (node table and worked cases of the trade, recalled): a single value has to lie inside the band that the
tool expects of a healthy set; of a range the band may not be wider than three times, and its middle has to lie within it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.build import cold_block, draw, live_block
from halfsplit.diagnosis.columns import DEAD, Condition, make_column
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.proposal import band_of
from halfsplit.diagnosis.scale import METER
from halfsplit.diagnosis.suspects import suspects
from halfsplit.parts import family_of

US = Unit("on the bench", 120.0, 60.0, "I", 200.0)
EU = Unit("on the bench", 230.0, 50.0, "I", 200.0)
Place = tuple[str, str, str]  # function, red, black


def made(circuit: Circuit, function: str, red: str, black: str, state: str) -> Column:
    """The column there: across a part where one offers its drop."""
    drops = [(p, tag, pins) for p in circuit.parts for tag, pins in family_of(p).drop_live.items()]
    parts = [p.ref for p, tag, (a, b) in drops if tag in ("", *p.tags) and (p.pins[a], p.pins[b]) == (red, black)]
    part = parts[0] if parts and state != DEAD else None
    return make_column(function, red, black, state, where=red, part=part)


def bands(line: str, unit: Unit, places: Sequence[Place], without: Sequence[str] = ()) -> list[tuple[float, float]]:
    """What the tool expects at these places of a healthy set, in the state that the function asks for."""
    circuit = start_circuit(line, unit)
    on = Condition(True, without=frozenset(without))
    drawn = draw(circuit, suspects(circuit)[:1])
    out = {}
    for live in (True, False):
        some = [p for p in places if (p[0] in ("v", "ac")) == live]
        columns = [made(circuit, f, a, b, on.key if live else DEAD) for f, a, b in some]
        if columns:
            block = live_block(on.stands(circuit), drawn, on, columns) if live else cold_block(circuit, drawn, columns)
            for j, (place, column) in enumerate(zip(some, columns, strict=True)):
                out[place] = band_of(column, block.value[0, j], np.ones(drawn.units), False, METER)
    found = [out[p] for p in places]
    assert all(b is not None for b in found)
    return found


AMPLIFIER = (  # place, value of a worked case or None, range
    (("v", "+36", "0V"), 36.6, (34.2, 37.8)), (("v", "0V", "-36"), 36.6, (34.2, 37.8)), (("v", "out", "0V"), 0.011, (-0.05, 0.05)),
    (("v", "drive-high", "drive-low"), 2.51, (2.0, 2.6)), (("v", "upper-emitter", "out"), 0.009, (0.005, 0.020)),
    (("v", "out", "lower-emitter"), 0.009, (0.005, 0.020)), (("v", "in", "0V"), 0.04, (-0.05, 0.05)),
    (("v", "vas-emitter", "-36"), 0.5, (0.3, 1.0)),
)  # fmt: skip


@pytest.mark.parametrize("unit", [US, EU], ids=["120V", "230V"])
def test_an_amplifier_as_the_trade_expects_it(unit: Unit) -> None:
    for (place, value, (low, high)), band in zip(AMPLIFIER, bands("class-AB amplifier +-36V", unit, [p for p, _, _ in AMPLIFIER]), strict=True):
        assert band[0] <= value <= band[1], (place, value, band)
        assert band[1] - band[0] <= 3 * (high - low), (place, band)


def test_an_amplifier_with_its_outputs_out_and_dead() -> None:
    """1.25 V between the drivers' emitters with the outputs pulled; a toroid's primary of about an ohm; emitter resistors as marked."""
    values = {("v", "upper-base", "lower-base"): 1.25, ("v", "out", "0V"): 0.011}
    got = bands("class-AB amplifier +-36V", US, list(values), without=("upper-output", "lower-output"))
    assert all(low <= x <= high for x, (low, high) in zip(values.values(), got, strict=True)), got
    cold = {("r", "primary", "N"): 1.1, ("r", "upper-emitter", "out"): 0.22, ("r", "out", "lower-emitter"): 0.22}
    got = bands("class-AB amplifier +-36V", US, list(cold))
    assert all(low <= x <= high for x, (low, high) in zip(cold.values(), got, strict=True)), got


SUPPLY = (("v", "raw", "0V"), ("v", "out", "out-"), ("v", "coil-feed", "coil-low"), ("v", "coil-low", "0V"), ("v", "ref", "out-"))


def test_a_bench_supply_on_its_high_tap_off_load() -> None:
    """Set 25 V: 49.4 V raw, 25.0 V out, 11.7 V across the coil. Its driver is said to stand at 0.2 V; the model of a
    transistor, without ohms at its collector, has half of that. Raw at least 4 V above what is set."""
    got = dict(zip(SUPPLY, bands("lab supply 30V 3A; set 25V; load 2A", US, SUPPLY, without=("load",)), strict=True))
    for place, value in zip(SUPPLY, (49.4, 25.0, 11.7, 0.1, 2.495), strict=True):
        assert got[place][0] <= value <= got[place][1], (place, value, got[place])
    assert got[SUPPLY[0]][0] >= 29.0
    assert got[SUPPLY[1]][1] - got[SUPPLY[1]][0] <= 6.0


def test_a_bench_supply_on_its_low_tap() -> None:
    """Set 10 V: 23.8 V raw off load, 20.6 V at 2 A, and the amplifier's two inputs within millivolts."""
    off = bands("lab supply 30V 3A; set 10V; load 2A", US, [SUPPLY[0]], without=("load",))[0]
    on, inputs = bands("lab supply 30V 3A; set 10V; load 2A", US, [SUPPLY[0], ("v", "cv-sense", "cv-set")])
    assert off[0] <= 23.8 <= off[1] and on[0] <= 20.6 <= on[1] and on[0] >= 14.0, (off, on)
    assert inputs[0] <= 0.0 <= inputs[1] and inputs[1] - inputs[0] <= 0.15  # 30 mV either way stands for whatever is drawn wrong
