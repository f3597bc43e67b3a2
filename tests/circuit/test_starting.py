"""Starting sheets: what a line means, and that every sheet is whole.

SOURCE of parts, pins, parameters: docs/families.md (read).
"""

from __future__ import annotations

import math
import re
from collections import Counter
from pathlib import Path

import pytest

from halfsplit.circuit.model import Circuit, Unit, circuit_from_data, circuit_to_data
from halfsplit.circuit.starting import STARTS, place_words, start_circuit
from halfsplit.circuit.starting.blocks import block_of
from halfsplit.errors import InputError, UnknownName

FAMILIES = Path(__file__).parents[2] / "docs" / "families.md"
EU = Unit("bench set", 230.0, 50.0, "II", 40.0)
US = Unit("bench set", 120.0, 60.0, "II", 40.0)
LINES = (
    "dropper, 24V relay board",
    "dropper, 12V relay board; half-wave; no varistor; no link; press brew",
    "dropper 5V; no relay",
    "flyback with controller 16/10V; out 24V 1.5A",
    "flyback with controller 8.4/7.6V; out 5V 2A; no choke; no varistor",
    "flyback with controller 16/10V; out 14.4V 5A; charger; over-volt latch",
    "flyback with controller; out 12V 1A; second out 5V 0.3A; main by relay; main 90W",
    "flyback; out 5V 1A; main by relay; half-wave",
    "flyback; out 12V; standby apart",
    "flyback; out 12V 1A; shared bulk; main 60W",
    "linear 12V 1A, 5V",
    "linear +-15V 0.5A",
    "linear 5V 0.2A; no switch; no fuse",
    "PFC and half-bridge; out 36V 10A",
    "PFC and LLC; out 24V; bulk 400V; no bypass relay; press on",
    "class-D amplifier; rails 45V; speaker 4R",
    "class-D; rails 30V",
    "LED driver 72V 240mA",
    "LED driver 36V 300mA; 12 LEDs; no varistor",
    "LED boost; adapter 12V; out 37V 180mA; 3 strings",
    "LED boost; adapter 24V; out 60V 0.3A",
    "power tree 12V, 5V 1A, 3.3V 0.5A",
    "power tree 24V, 5V 2A, 3.3V 0.5A",
    "series chain: fuse, link 216C, stat, contact, heater 350W",
    "series chain: fuse, link 216C, stat, relay 12V, heater 350W, heater 100W; press heat",
    "flyback with integrated switch; out 24V 1A; fan 0.45A; buck 5V 0.3A",
    "flyback with integrated switch; out 5V 2A; line sense; no choke; half-wave",
    "linear 5V 0.9A apart, +-15V 0.2A",
    "class-AB amplifier +-36V",
    "class-AB amplifier 60W; no relay; rail fuses",
    "lab supply 30V 3A",
    "lab supply 18V 5A; set 5V; load 1A",
    "phase control; motor 90W",
    "phase control; lamp 300W; no choke; press bright",
    "dimmer; heater 800W; no trimmer; no snubber",
    "self-oscillating flyback; out 26V 0.3A",
    "self-oscillating flyback; out 5V 1A; half-wave",
)


def families() -> dict[str, tuple[set[str], str]]:
    """Family -> (pins, text of the parameter column) out of the table that the documents publish."""
    out: dict[str, tuple[set[str], str]] = {}
    for row in FAMILIES.read_text(encoding="utf-8").splitlines():
        cells = [c.strip() for c in row.strip("|").split("|")]
        if row.startswith("|") and len(cells) == 5 and cells[0] not in ("family", "---"):
            out.update({name.strip(): (set(cells[1].split()), cells[2]) for name in cells[0].split(",")})
    return out


def both_mains() -> list[tuple[str, Unit]]:
    return [(line, unit) for line in LINES for unit in (EU, US)]


@pytest.fixture(params=both_mains(), ids=lambda p: f"{p[1].volts:g}V {p[0]}")
def circuit(request: pytest.FixtureRequest) -> Circuit:
    line, unit = request.param
    return start_circuit(line, unit)


def test_the_published_table_is_found():
    """The table has every family that the sheets draw on, so that the next test can fail."""
    table = families()
    assert {"mains", "fet", "flyback", "controller", "npn", "pnp", "stat", "choke"} <= set(table)
    assert table["relay"][0] == {"c+", "c-", "com", "no"}


def test_every_part_is_one_that_the_documents_publish(circuit: Circuit):
    """Family, pins and parameters of every part stand in docs/families.md."""
    table = families()
    for part in circuit.parts:
        pins, params = table[part.family]
        assert set(part.pins) == pins, part.ref
        for name, value in part.values.items():
            assert re.search(rf"\b{name}\b", params), f"{part.ref}: {part.family} has no parameter {name}"
            assert math.isfinite(value) and value != 0, f"{part.ref} {name}"


def test_every_net_has_two_ends_and_none_floats(circuit: Circuit):
    """A net with one end is a slip; and each part hangs together with the mains, through parts or over the barrier."""
    ends = Counter(net for part in circuit.parts for net in part.pins.values())
    assert [net for net, count in ends.items() if count < 2] == []
    reached, fresh = {"L", "N"}, True
    while fresh:
        fresh = {n for p in circuit.parts if reached & set(p.pins.values()) for n in p.pins.values()} - reached
        reached |= fresh
    assert reached == set(ends)


def test_everything_is_assumed_and_named_by_its_place(circuit: Circuit):
    """A fresh sheet claims nothing: every part is assumed and its designator is its place."""
    assert all(p.assumed and p.ref == p.place for p in circuit.parts)
    assert max(Counter(p.ref for p in circuit.parts).values()) == 1


def test_nets_look_neither_like_parts_nor_like_places(circuit: Circuit):
    """A way can tell a net from a part: no letters-then-digits, and no net bears a place's name."""
    assert [n for n in circuit.nets if re.fullmatch(r"[A-Za-z]+\d+", n)] == []
    assert set(circuit.nets) & {p.ref for p in circuit.parts} == set()


def test_what_a_circuit_names_is_there(circuit: Circuit):
    """Grounds, claims, switching nets, chain and controls name nets and parts that the circuit has."""
    nets, refs = set(circuit.nets), {p.ref for p in circuit.parts}
    assert "hot" in circuit.grounds and set(circuit.grounds.values()) <= nets
    assert circuit.cold_claims <= nets and circuit.switching <= nets and set(circuit.chain) <= refs
    assert circuit.chain[:2] == ("mains", "lead")
    outputs = {out for does in circuit.controls.values() for out in does}
    assert outputs <= {f"{p.ref}.{pin}" for p in circuit.parts for pin in p.pins}


def test_every_place_lies_in_a_block(circuit: Circuit):
    """So that a complaint can be split by stages before anything is traced."""
    assert [p.ref for p in circuit.parts if block_of(p) is None] == []


def test_no_claim_is_wired_to_the_mains(circuit: Circuit):
    """Only transformers, opto, Y capacitor and relay join claimed nets to the rest; a dropper and a plain chain claim nothing."""
    barrier = {"adapter", "bridge-transformer", "flyback", "opto", "plain-flyback", "relay", "split-supply", "split-transformer", "standby", "transformer"}
    for part in circuit.parts:
        claimed = {n for n in part.pins.values() if n in circuit.cold_claims}
        if claimed and claimed != set(part.pins.values()):
            assert part.family in barrier or "y1" in part.tags, part.ref
    assert circuit.grounds["hot"] not in circuit.cold_claims


def test_the_told_line_gives_the_same_parts_again(circuit: Circuit):
    """Circuit.start says every default, so that reading it again makes the same circuit."""
    again = start_circuit(circuit.start, circuit.unit)
    assert again.parts == circuit.parts and again.controls == circuit.controls


def test_a_sheet_survives_as_plain_data(circuit: Circuit):
    """Written to plain data and read back nothing changes."""
    assert circuit_from_data(circuit_to_data(circuit)) == circuit


def test_every_starting_sheet_builds_its_own_example():
    """The example that a sheet shows when nothing fits is a line that works."""
    for start in STARTS.values():
        assert len(start_circuit(start.example, EU).parts) >= 6


@pytest.mark.parametrize(("line", "shown"), [
    ("dropper, 24V relais board", "relay"), ("flyback with controler; out 24V", "controller"),
    ("series chain: fuse, lnk, heater 350W", "link"), ("dropr 24V", "dropper"),
])
def test_an_unknown_word_is_shown_with_its_nearest(line: str, shown: str):
    """A slip of the pen comes back with the word that was meant."""
    with pytest.raises(UnknownName, match=f"did you mean .*{shown}"):
        start_circuit(line, EU)


@pytest.mark.parametrize(("line", "said"), [
    ("", "empty"), ("flyback dropper", "two sheets"), ("flyback; out 2.5V 1A", "3.3 V"), ("linear 12V, 12V", "twice"),
    ("linear 48V 1A", "2.5 to 40"), ("flyback with controller 10/16V; out 5V 1A", "on/off"), ("dropper 0V", "above 0"),
    ("flyback; out 5V 1A; second out 5V 1A", "headroom"), ("flyback; out 5V 0.05A; main by relay", "more amps"),
    ("flyback; main by relay; shared bulk", "one of the two"), ("dropper 24V 100Hz", "Hz"), ("dropper, 90V relay", "60 V"),
    ("series chain: relay 12V, relay 12V, heater", "second relay"), ("series chain: 350W", "names no part"),
])
def test_what_cannot_be_is_refused_with_a_remedy(line: str, said: str):
    """A size that can't be, or two sheets at once, is refused in the trade's words."""
    with pytest.raises(InputError, match=re.escape(said)):
        start_circuit(line, EU)


@pytest.mark.parametrize("unit", [Unit("x", 12.0, 50.0, "III", 5.0), Unit("x", 230.0, 400.0, "I", 5.0)])
def test_only_mains_units_get_a_starting_sheet(unit: Unit):
    """12 V or 400 Hz is no mains outlet."""
    with pytest.raises(InputError, match="unit:"):
        start_circuit(LINES[0], unit)


def test_order_blanks_and_case_do_not_matter():
    """The same sizes in another order and spelling give the same parts."""
    one = start_circuit("flyback with controller 16/10V; out 24V 1.5A; over-volt latch", EU)
    two = start_circuit("Over-volt latch, OUT 1.5 A 24 V; controller 16V/10V flyback", EU)
    assert one.parts == two.parts


def test_a_decimal_comma_is_no_parting_comma():
    """1,5A is one and a half ampere."""
    assert start_circuit("flyback; out 24V 1,5A", EU).part("out-load").values["amps"] == 1.5


def test_the_symptom_names_the_control():
    """`resets at bake` makes `press bake` possible; `relay` always is."""
    made = start_circuit(LINES[0], EU, ("display resets every 2s at bake", "dead at switch-on"))
    assert dict(made.controls) == {"relay": {"micro.out": "high"}, "bake": {"micro.out": "high"}}
    assert set(start_circuit("dropper, 24V relay board; press brew", EU).controls) == {"relay", "brew"}


@pytest.mark.parametrize(("line", "words"), [
    (3, {"main filter": "bulk-cap", "raw b+": "bulk", "ntc": "inrush", "start resistor": "start-up-R", "431": "reference"}),
    (0, {"dropper": "dropper-C", "thermal fuse": "link", "element": "heater", "bleeder": "bleed-R"}),
    (10, {"main filter": "reservoir", "b+": "raw", "mains switch": "switch"}),
])
def test_trade_words_find_their_place(line: int, words: dict[str, str]):
    """What people say at the bench leads to this circuit's place or net, and never to one that isn't there."""
    made = start_circuit(LINES[line], EU)
    found = place_words(made)
    assert {w: found[w] for w in words} == words
    assert set(found.values()) <= set(made.nets) | {p.ref for p in made.parts}


@pytest.mark.parametrize(("unit", "symptom", "start"), [
    ("bread maker, 230V 50Hz, class I", "display resets every 2s at bake", "dropper, 24V relay board"),
    ("label printer, 230V 50Hz, class II, 40W", "dead, fuse good", "flyback with controller; out 24V 1.5A"),
    ("laminator, 230V 50Hz, class I, 350W", "never ready", "series chain: fuse, link 216C, stat, relay 12V"),
    ("synthesizer, 120V 60Hz, class I", "now and then boots", "linear 5V 0.9A, +-15V 0.2A"),
])
def test_three_lines_start_a_job_in_few_keys(unit: str, symptom: str, start: str):
    """The three lines of a job take at most 120 keys, Enter counted, and the last of them makes a circuit."""
    assert sum(len(line) + 1 for line in (f"unit: {unit}", f"symptom: {symptom}", f"start: {start}")) <= 120
    assert len(start_circuit(start, EU, (symptom,)).parts) > 6
