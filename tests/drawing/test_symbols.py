"""Every family has a shape whose legs are its pins, on the grid, in every way of standing."""

from __future__ import annotations

import pytest

from halfsplit.drawing.turned import STEP, stand, turned_leg
from halfsplit.parts import FAMILIES
from halfsplit.parts.symbols import Box, Symbol, boxed, shape_of


@pytest.mark.parametrize("family", FAMILIES.values(), ids=FAMILIES)
def test_legs_are_the_pins(family) -> None:  # type: ignore[no-untyped-def]
    symbol = shape_of(family.symbol, family.pins)
    assert set(symbol.legs) | set(symbol.inner) == set(family.pins)
    assert not set(symbol.legs) & set(symbol.inner)
    assert {pin for pair in symbol.through for pin in pair} <= set(symbol.legs)
    assert len({(leg.x, leg.y) for leg in symbol.legs.values()}) == len(symbol.legs)


@pytest.mark.parametrize("family", FAMILIES.values(), ids=FAMILIES)
def test_a_stroke_leads_to_every_leg(family) -> None:  # type: ignore[no-untyped-def]
    symbol = shape_of(family.symbol, family.pins)
    ends = {p for m in symbol.marks if m.kind != "text" for p in m.points}
    rings = [(m.points[0], m.size) for m in symbol.marks if m.kind == "round"]
    for pin, leg in symbol.legs.items():
        near = any(abs(((leg.x - c[0]) ** 2 + (leg.y - c[1]) ** 2) ** 0.5 - r) < 0.01 for c, r in rings)
        assert (leg.x, leg.y) in ends or near, pin


@pytest.mark.parametrize("family", FAMILIES.values(), ids=FAMILIES)
def test_no_leg_is_walled_in_by_its_own_part(family) -> None:  # type: ignore[no-untyped-def]
    symbol = shape_of(family.symbol, family.pins)
    for turn in symbol.turns:
        shape = stand(symbol, turn, (("ref", "R1"),), frozenset())
        for leg in shape.legs.values():
            dx, dy = STEP[leg.out]
            assert (leg.x + dx, leg.y + dy) not in shape.blocked
            assert (leg.x, leg.y) not in shape.blocked
            assert shape.hold[0] <= leg.x <= shape.hold[2]
            assert shape.hold[1] <= leg.y <= shape.hold[3]


def test_four_quarter_turns_and_two_mirrorings_change_nothing() -> None:
    symbol = FAMILIES["npn"].symbol
    assert isinstance(symbol, Symbol)
    leg = symbol.legs["c"]
    assert turned_leg(leg, 0) == leg
    assert turned_leg(turned_leg(leg, 1), 3) == leg
    assert turned_leg(turned_leg(leg, 4), 4) == leg


def test_a_part_with_more_legs_than_its_symbol_becomes_a_box() -> None:
    legs = ("a", "b", "third")
    assert set(shape_of(FAMILIES["resistor"].symbol, legs).legs) == set(legs)
    assert set(boxed(Box(("a",), ("b",)), legs).legs) == set(legs)
    assert set(shape_of(None, legs).legs) == set(legs)
