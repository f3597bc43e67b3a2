"""One suite that every part family passes: complete data, honest ways, readings of the part alone that tell open from short."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.diagnosis.build import alone_block, draw
from halfsplit.diagnosis.columns import ALONE, make_column
from halfsplit.diagnosis.suspects import nominal, suspects
from halfsplit.parts import FAMILIES
from halfsplit.parts.base import Family
from halfsplit.parts.stamper import Stamper
from halfsplit.solver.network import build_network

ALL = pytest.mark.parametrize("family", FAMILIES.values(), ids=lambda f: f.name)
WAYS = [(f, w) for f in FAMILIES.values() for w in f.ways]
EACH_WAY = pytest.mark.parametrize(("family", "way"), WAYS, ids=lambda x: x.name)
FUNCTIONS = {"r", "d", "c", "esr"}
SIGNS = {"burnt", "cracked", "domed", "leaked", "vented", "clean"}


def alone(family: Family) -> Part:
    """One part of the family with default values, each pin on its own net."""
    return Part("X1", family.name, {pin: f"n{i}" for i, pin in enumerate(family.pins)})


def lone_circuit(part: Part) -> Circuit:
    return Circuit(Unit("part", 230.0, 50.0, "II", 1.0), (part,), {"hot": "N"})


# -- data ----------------------------------------------------------------------------------------------------


@ALL
def test_the_key_is_the_name_and_words_find_it(family):
    """A family is listed under its name and can be written by at least one word of its own."""
    assert FAMILIES[family.name] is family
    assert family.words and all(w == w.lower() and w.strip() for w in family.words)


def test_no_word_means_two_families():
    """A word on a sheet names one family."""
    seen: dict[str, str] = {}
    for f in FAMILIES.values():
        for word in f.words:
            assert word not in seen, (word, f.name, seen.get(word))
            seen[word] = f.name


@ALL
def test_text_is_there(family):
    """How it is tested alone, what may replace it, where its rate comes from; a suspect has a rate."""
    assert family.test.strip() and family.substitute.strip() and family.rate_source.strip()
    assert (family.rate > 0) == bool(family.ways)


@ALL
def test_shares_sum_to_one(family):
    """The ways are everything that happens to it; their names differ."""
    if family.ways:
        assert sum(w.share for w in family.ways) == pytest.approx(1.0, abs=0.02)
        assert all(0 < w.share <= 1 for w in family.ways)
        assert len({w.name for w in family.ways}) == len(family.ways)


@ALL
def test_pins_are_named_right_everywhere(family):
    """Aliases, plus and minus, readings and live readings name pins that exist, and two different ones."""
    pins = set(family.pins)
    assert len(pins) == len(family.pins)
    pairs = [*family.aliases.values(), *((a, b) for a, b, _ in (*family.cold_reads, *family.alone_reads))]
    pairs += [p for p in (family.plus_minus, family.across_live) if p]
    for a, b in pairs:
        assert a in pins and b in pins and a != b, (family.name, a, b)
    assert {f for _, _, f in (*family.cold_reads, *family.alone_reads)} <= FUNCTIONS
    assert set(family.outputs) <= pins and set(family.switching) <= pins


@ALL
def test_params_are_sound(family):
    """Names differ, tolerances and factors make sense, the main value is one of them."""
    names = [p.name for p in family.params]
    assert len(set(names)) == len(names)
    for p in family.params:
        assert math.isfinite(p.default) and 0 <= p.tol < 1 and p.broad >= 1
    assert family.main_value is None or family.main_value in names
    if family.mode:
        assert family.mode.param in names
        assert {p.name: p.default for p in family.params}[family.mode.param] == family.mode.start


@EACH_WAY
def test_a_way_is_complete(family, way):
    """Source, one line for the bench, signs of a known kind with probabilities, one of three kinds."""
    assert way.source.strip() and way.why.strip()
    assert way.kind in {"open", "short", "drift"}
    assert all(0 <= p <= 1 for p in way.looks.values())
    assert set(way.looks) <= SIGNS, way.looks


@EACH_WAY
def test_a_way_changes_known_parameters_and_something(family, way):
    """Names it changes are parameters; results are finite, one per severity; at the middle it really differs from healthy."""
    base = {k: np.full(5, float(x)) for k, x in nominal(alone(family)).items()}
    changed = way.change(base, np.linspace(0, 1, 5))
    assert changed and set(changed) <= set(base)
    for name, x in changed.items():
        assert np.shape(x) == (5,) and np.isfinite(x).all(), name
    assert any(not np.allclose(x, base[name], atol=0.0) for name, x in changed.items())


@EACH_WAY
def test_a_way_does_not_touch_what_it_is_given(family, way):
    """Values are shared between rows; a way returns new arrays."""
    base = {k: np.full(3, float(x)) for k, x in nominal(alone(family)).items()}
    before = {k: x.copy() for k, x in base.items()}
    way.change(base, np.array([0.0, 0.5, 1.0]))
    for k, x in base.items():
        np.testing.assert_array_equal(x, before[k])


# -- the stamp -----------------------------------------------------------------------------------------------


def record(stamper: Stamper) -> list[tuple[tuple[str, ...], int]]:
    groups = (stamper.linear, stamper.caps, stamper.coils, stamper.sources, stamper.devices)
    return [(e.nodes, e.kind) for g in groups for e in g]


@ALL
@pytest.mark.parametrize("powered", [True, False])
def test_every_fault_shares_one_network(family, powered):
    """A stamp puts down the same elements whatever the values: all faults are values in one pattern."""
    part = alone(family)
    base = {k: np.full(2, float(x)) for k, x in nominal(part).items()}
    variants = [base] + [{**base, **w.change(base, np.array([0.1, 0.9]))} for w in family.ways]
    shapes = []
    for values in variants:
        stamper = Stamper(powered=powered, prefix="X1")
        family.stamp(stamper, part.pins, values)
        shapes.append(record(stamper))
        for group in (stamper.linear, stamper.caps, stamper.coils, stamper.sources, stamper.devices):
            for e in group:
                for x in e.numbers:
                    assert np.isfinite(x).all() and np.shape(np.broadcast_to(x, (2,))) == (2,)
    assert all(s == shapes[0] for s in shapes)


@ALL
def test_a_stamp_touches_only_its_own_pins(family):
    """Nodes are its pins, inner nodes of its own, or the reference."""
    part = alone(family)
    stamper = Stamper(powered=True, prefix="X1")
    family.stamp(stamper, part.pins, {k: np.full(1, float(x)) for k, x in nominal(part).items()})
    for nodes, _ in record(stamper):
        assert all(n in part.pins.values() or n.startswith("~X1.") or n == "N" for n in nodes), nodes


@ALL
def test_every_pin_is_connected_to_something(family):
    """No pin hangs in the air of its own part (a net that only this part is on would have no volts)."""
    part = alone(family)
    values = {"X1": {k: np.full(1, float(x)) for k, x in nominal(part).items()}}
    for powered in (True, False):
        network = build_network(lone_circuit(part), values, 1, powered=powered)
        stamped = {
            n
            for group in network.pattern.ends
            for n in np.ravel(group)
        }
        if powered:
            assert all(network.nets[net] in stamped for net in part.pins.values()), family.name


# -- readings of the part alone ------------------------------------------------------------------------------


def alone_table(family: Family):
    """(columns, rows, value (rows, columns)): readings of the part out of the circuit, nominal, row 0 healthy."""
    part = alone(family)
    c = lone_circuit(part)
    columns = [make_column(f, part.pins[a], part.pins[b], ALONE, where="X1", part="X1") for a, b, f in family.alone_reads]
    drawn = draw(c, suspects(c), draws=1)
    return columns, drawn.suspects, alone_block(c, drawn, columns).value[:, :, 0]


ALONE_FAMILIES = [f for f in FAMILIES.values() if f.alone_reads and f.ways]
# Ways that no ohmmeter shows on the part alone; each with the reason.
NOT_ALONE = {
    ("triac", "open"): "healthy terminals read OL until fired",
    ("triac", "half-wave"): "healthy terminals read OL until fired",
    ("diac", "open"): "no meter reaches its breakover",
    ("scr", "open"): "healthy terminals read OL until fired",
    ("reference", "open"): "never conducts at a meter's volts either way",
    ("regulator", "no-output"): "shows only under power",
    ("regulator", "low"): "shows only under power",
    ("ldo", "no-output"): "shows only under power",
    ("ldo", "low"): "shows only under power",
    ("adjustable", "no-output"): "shows only under power",
    ("adjustable", "low"): "shows only under power",
    ("led-buck", "dead"): "never drives: under power only",
    ("led-buck", "open"): "a healthy switch reads OL",
    ("led-boost", "dead"): "never drives: under power only",
    ("led-boost", "open"): "a healthy switch reads OL",
    ("buck-module", "no-output"): "shows only under power",
    ("buck-module", "low"): "shows only under power",
    ("adapter", "dead"): "shows only on the mains",
    ("adapter", "weak"): "shows only on the mains and under load",
    ("adapter", "low"): "shows only on the mains",
    ("op-amp", "dead"): "under power only",
    ("comparator", "dead"): "under power only",
    ("power-load", "open"): "a module's watts",
    ("power-load", "heavy"): "a module's watts",
    ("controller", "dead"): "supplied but does not drive: under power only",
    ("pfc-controller", "dead"): "supplied but does not drive: under power only",
    ("llc-controller", "dead"): "supplied but does not drive: under power only",
    ("standby", "dead"): "a whole supply: under power only",
    ("standby", "low"): "a whole supply: under power only",
    ("standby", "no-aux"): "a whole supply: under power only",
    ("class-d-driver", "dead"): "supplied but does not drive: under power only",
    **{("split-supply", way): "a whole supply: under power only" for way in ("dead", "low", "plus-open", "minus-open")},
    ("opto", "weak"): "needs current through its LED",
    ("opto", "open"): "C-E of a healthy one reads OL",
    ("oscillator", "tired"): "its gain shows under power only",
    ("switcher", "dead"): "supplied but does not switch: under power only",
    ("switcher", "unfed"): "under power only",
    ("plain-flyback", "shorted-turns"): "a ring test, not ohms",
    ("load", "open"): "an untraced board's amps",
    ("load", "heavy"): "an untraced board's amps",
    ("micro", "dead"): "under power only",
    ("micro", "out-stuck-low"): "under power only",
    ("varistor", "open"): "a healthy one reads OL: only its looks or the next surge tell",
    ("changeover", "stuck-open"): "a healthy make contact is open at rest",
    ("relay", "stuck-open"): "a healthy contact is open at rest",
    ("flyback", "shorted-turns"): "a ring test, not ohms",
    ("transformer", "shorted-turns"): "a share of its primary ohms only; ring test",
}


FLOOR = {"r": 0.02, "esr": 0.02, "d": 0.02, "c": 1e-11}  # below this no meter tells two figures apart [ohm, ohm, V, F]


def differs(function: str, healthy: float, failed: float) -> bool:
    """A tenth off, or one of them OL."""
    if np.isinf(healthy) or np.isinf(failed):
        return healthy != failed
    return abs(failed - healthy) > 0.1 * abs(healthy) + FLOOR[function]


@pytest.mark.parametrize("family", ALONE_FAMILIES, ids=lambda f: f.name)
def test_alone_readings_exist_and_are_sane(family):
    """A healthy part gives a figure or OL in each reading, never nonsense."""
    _, _, value = alone_table(family)
    assert not np.isnan(value).any() and (value >= 0).all()


@pytest.mark.parametrize("family", ALONE_FAMILIES, ids=lambda f: f.name)
def test_alone_readings_tell_ways_from_healthy(family):
    """Out of the circuit each way shows in some reading, except those that only power or a ring test shows."""
    columns, rows, value = alone_table(family)
    for k, suspect in enumerate(rows):
        if suspect.way is None:
            continue
        seen = any(differs(c.function, h, x) for c, h, x in zip(columns, value[0], value[k], strict=True))
        excused = (family.name, suspect.way.name) in NOT_ALONE
        if suspect.way.name.startswith("shorted-turns"):
            continue  # partial shorts: seen or not, as severity has it
        assert seen != excused, (family.name, suspect.way.name, value[0], value[k])


@pytest.mark.parametrize("family", ALONE_FAMILIES, ids=lambda f: f.name)
def test_short_reads_few_ohms_and_open_reads_far_higher(family):
    """kind short: some ohms or diode reading falls, to 600 ohm at the most or to a volt-drop of nothing; kind open: some reading
    goes to
    OL, or far up (a capacitance: to nothing)."""
    columns, rows, value = alone_table(family)
    for k, suspect in enumerate(rows):
        way = suspect.way
        if way is None or (family.name, way.name) in NOT_ALONE or way.name.startswith("shorted-turns"):
            continue
        pairs = [(c.function, h, x) for c, h, x in zip(columns, value[0], value[k], strict=True) if differs(c.function, h, x)]
        if way.kind == "short":
            assert any((f == "r" and x < 600 and x < 0.71 * h) or (f == "d" and x < 0.1) for f, h, x in pairs), (
                family.name,
                way.name,
                pairs,
            )
        if way.kind == "open":
            assert any(
                (f in "rd" and (math.isinf(x) or x > 20 * h)) or (f == "c" and x < 0.01 * h) or f == "esr" for f, h, x in pairs
            ), (family.name, way.name, pairs)


def test_a_lone_part_answers_whatever_its_order_of_pins():
    """The same part on differently named nets reads the same."""
    for family in ALONE_FAMILIES[:8]:
        _, _, value = alone_table(family)
        part = alone(family)
        other = replace(part, pins={pin: f"z{len(family.pins) - i}" for i, pin in enumerate(family.pins)})
        c = lone_circuit(other)
        columns = [make_column(f, other.pins[a], other.pins[b], ALONE, where="X1", part="X1") for a, b, f in family.alone_reads]
        again = alone_block(c, draw(c, suspects(c), draws=1), columns).value[:, :, 0]
        np.testing.assert_allclose(again, value, rtol=1e-6)
