"""Sheets become circuits: places, families, ways, question marks, claims."""

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.bindings import place_ends
from halfsplit.circuit.checks import check_circuit
from halfsplit.circuit.model import Circuit, Part
from halfsplit.circuit.part_lines import parts_from_sheet
from halfsplit.circuit.sheet import read_sheet
from halfsplit.errors import InputError, SheetError, UnknownName
from halfsplit.parts import FAMILIES
from halfsplit.parts.base import Family

TRIAC = replace(
    FAMILIES["relay"],
    name="triac",
    words=("triac",),
    letters=(),
    pins=("t1", "t2", "g"),
    params=(),
    mode=None,
    aliases={"21": ("t2", "t1")},
    main_value=None,
    plus_minus=None,
)
BATTERY = replace(
    FAMILIES["load"], name="battery", words=("battery", "lead-acid"), letters=("B",), pins=("+", "-"), main_value=None
)
ALL: dict[str, Family] = {**FAMILIES, "triac": TRIAC, "battery": BATTERY}

PRINTER = "unit: label printer, 230V 50Hz, class II, 40W\n"
BREAD = """unit: bread maker, 230V 50Hz, class I, 600W
symptom: display resets every 2s at bake
ways:
- L F1(T10A) live
- live TL1(192C) K1.no heat HTR(heater 91R 580W) N
- live R1(100R fusible) C1(0.68u X2) drop
- C1 // R2(470k)
- live MOV1(300V) N
- +24 ZD1.ka(24V 1.3W) 0V
- +24 C2(470u 35V) 0V
- +24 K1.coil(24V 1440R 16A) kd Q1.ce 0V
- K1.coil // D1.ka(1N4148)
- U2.relay R6(4k7) Q1.b
- +5 C3(100u 10V) 0V
- C3 // C4(100n)
- +5 R7(100k) ntc RT1(NTC 100k) 0V
- live M1(motor 38R) mt Q2.21(triac 8A) N
- Q2.21 // R5(100R) C5(47n X2)
- mt R4(360R) U3.64 Q2.g
- U2.motor R8?(330R?) U3.12 0V        # not traced
parts:
- BR1 bridge 1A, ~=drop ~=N +=+24 -=0V
- U1 78L05, in=+24 out=+5 gnd=0V
- Q1 npn; U3 opto-triac
- U2 micro 5V ~12mA, vdd=+5 0v=0V adc=ntc, stops below 4V?
does:
  bake: U2.relay high
  knead: U2.motor high
"""


def built(ways: str = "", parts: str = "", more: str = "", start: Circuit | None = None) -> Circuit:
    """A circuit from a few lines under `ways` and `parts`, apart by /."""
    text = PRINTER + more
    for key, lines in (("ways", ways), ("parts", parts)):
        if lines:
            text += f"{key}:\n" + "".join(f"- {line.strip()}\n" for line in lines.split("|"))
    return build_circuit(read_sheet(text), ALL, start)


def test_bread_maker_gives_its_27_parts() -> None:
    """The sheet of the second case gives its 27 parts, each with its family, value and nets; the outlet is added."""
    circuit = build_circuit(read_sheet(BREAD), ALL)
    parts = {p.ref: p for p in circuit.parts if p.family != "mains"}
    assert sorted(parts) == sorted(
        "F1 TL1 K1 HTR R1 C1 R2 MOV1 ZD1 C2 Q1 D1 U2 R6 C3 C4 R7 RT1 M1 Q2 R5 C5 R4 U3 R8 BR1 U1".split()
    )
    assert len(parts) == 27
    outlet = circuit.part("mains")
    assert outlet.pins == {"L": "L", "N": "N"} and outlet.values == {"volts": 230.0, "hertz": 50.0}
    families = {r: p.family for r, p in parts.items()}
    assert (
        families["C1"] == "capacitor"
        and families["C2"] == "electrolytic"
        and families["HTR"] == "heater"
        and families["Q2"] == "triac"
    )
    assert parts["C1"].values["farads"] == 0.68e-6 and "x2" in parts["C1"].tags
    assert parts["K1"].values["ohms"] == 1440 and parts["K1"].values["volts"] == 24 and parts["K1"].ratings["amps"] == 16
    assert parts["F1"].values["amps"] == 10 and "slow" in parts["F1"].tags
    assert parts["K1"].pins == {"com": "TL1/K1", "no": "heat", "c+": "+24", "c-": "kd"}
    assert parts["TL1"].pins == {"a": "live", "b": "TL1/K1"}
    assert parts["BR1"].pins == {"~1": "drop", "~2": "N", "+": "+24", "-": "0V"}
    assert parts["HTR"].values["ohms"] == 91 and parts["HTR"].ratings["watts"] == 580


def test_bread_maker_orientation_and_joints() -> None:
    """`.ka` walks a diode backwards; // puts a part across; a pin's joint is shared by both that name it."""
    parts = {p.ref: p.pins for p in build_circuit(read_sheet(BREAD), ALL).parts}
    assert parts["ZD1"] == {"k": "+24", "a": "0V"}
    assert parts["D1"] == {"k": "+24", "a": "kd"}
    assert set(parts["R2"].values()) == set(parts["C1"].values()) == {"R1/C1", "drop"}
    assert parts["R6"]["a"] == parts["U2"]["relay"] and parts["R6"]["b"] == parts["Q1"]["b"]
    assert parts["R5"]["a"] == "mt" and parts["R5"]["b"] == parts["C5"]["a"] == "R5/C5" and parts["C5"]["b"] == "N"
    assert parts["Q2"] == {"t2": "mt", "t1": "N", "g": "U3/Q2"}
    assert parts["U3"]["k"] == "0V" and parts["U2"]["adc"] == "ntc"
    assert (parts["C4"]["a"], parts["C4"]["b"]) == ("+5", "0V")


def test_bread_maker_doubts_controls_and_grounds() -> None:
    """Question marks stay with what they stand behind; nothing is isolated, so 0 V is the hot ground."""
    circuit = build_circuit(read_sheet(BREAD), ALL)
    assert circuit.part("R8").doubts == {"part", "ohms"} and circuit.part("R8").values["ohms"] == 330
    assert {"stop", "amps"} <= circuit.part("U2").doubts and circuit.part("U2").values["stop"] == 4
    assert circuit.part("R4").doubts == frozenset()
    assert circuit.controls == {"bake": {"U2.relay": "high"}, "knead": {"U2.motor": "high"}}
    assert circuit.grounds == {"hot": "0V"} and circuit.cold_claims == frozenset()
    assert circuit.symptom == ("display resets every 2s at bake",)
    assert circuit.part("U2").pins["out"] == circuit.part("U2").pins["relay"]
    assert check_circuit(circuit, ALL) == []


def placed(place: str, family: str, pins: str, **values: float) -> Part:
    return Part(ref=place, family=family, pins=dict(p.split("=") for p in pins.split()), values=values, place=place, assumed=True)


def flyback_start() -> Circuit:
    """A small start of a flyback, enough to bind to."""
    unit = read_sheet(PRINTER).unit
    parts = (
        placed("mains", "mains", "L=L N=N", volts=230, hertz=50),
        placed("fuse", "fuse", "a=L b=live", amps=2),
        placed("varistor", "varistor", "a=live b=N", volts=300),
        placed("bridge", "bridge", "~1=live ~2=N +=bulk -=hot-"),
        placed("bulk-cap", "electrolytic", "+=bulk -=hot-", farads=47e-6, volts=400),
        placed("start-up-R", "resistor", "a=bulk b=vcc", ohms=470e3),
        placed("vcc-cap", "electrolytic", "+=vcc -=hot-", farads=22e-6),
        placed("rectifier", "diode", "a=sec k=out"),
        placed("out-cap", "electrolytic", "+=out -=0V", farads=470e-6, volts=35),
        placed("sec-load", "resistor", "a=sec b=0V", ohms=10),
        placed("divider-top", "resistor", "a=out b=ref", ohms=47e3),
        placed("divider-low", "resistor", "a=ref b=0V", ohms=10e3),
        placed("latch-zener", "zener", "a=latch-g k=vcc", volts=20),
        placed("latch-npn", "npn", "b=latch-g c=latch-b e=hot-"),
        placed("latch-pnp", "pnp", "b=latch-b c=latch-g e=vcc"),
        placed("latch-R", "resistor", "a=latch-g b=hot-", ohms=1e3),
    )
    return Circuit(
        unit=unit,
        parts=parts,
        grounds={"hot": "hot-", "cold": "0V"},
        start="flyback",
        chain=("fuse", "bridge", "bulk-cap", "start-up-R", "vcc-cap", "rectifier"),
    )


def test_five_minutes_of_sheet() -> None:
    """Places are bound, in series and side by side; what was looked for and is not there is gone."""
    text = (
        PRINTER
        + """symptom: dead, fuse good
start: flyback with controller; out 24V 1.5A
parts:
- C5 bulk-cap 68u 400V; R3+R4 start-up-R 220k+220k; C7 vcc-cap 47u 50V
- D8//D9 rectifier; no mov; no latch; no snubber
ways:
- vcc ... U1.aux?
cold: out, 0V
"""
    )
    with pytest.raises(SheetError, match="U1"):
        build_circuit(read_sheet(text.replace("vcc ... U1.aux?", "vcc R9(1k) U1.aux?")), ALL, flyback_start())
    circuit = build_circuit(read_sheet(text), ALL, flyback_start())
    c5 = circuit.part("bulk-cap")
    assert (c5.ref, c5.assumed, c5.values["farads"], c5.values["volts"], c5.doubts) == ("C5", False, 68e-6, 400.0, frozenset())
    assert circuit.part("R3").pins == {"a": "bulk", "b": "R3/R4"} and circuit.part("R4").pins == {"a": "R3/R4", "b": "vcc"}
    assert circuit.part("R3").values["ohms"] == circuit.part("R4").values["ohms"] == 220e3
    assert place_ends(circuit, "start-up-R") == ("bulk", "vcc") and place_ends(circuit, "bulk-cap") == ("bulk", "hot-")
    assert circuit.part("D8").pins == circuit.part("D9").pins == {"a": "sec", "k": "out"}
    assert circuit.part("rectifier").ref == "D8"
    assert circuit.absent == {"mov", "latch", "snubber"}
    assert not [p for p in circuit.parts if p.place and (p.place.startswith("latch") or p.place == "varistor")]
    assert circuit.cold_claims == {"out", "0V"} and circuit.grounds == {"hot": "hot-", "cold": "0V"}
    assert circuit.chain == ("fuse", "bridge", "bulk-cap", "R3", "R4", "vcc-cap", "D8", "D9")
    assert any("protector" in line for line in check_circuit(circuit, ALL))


def test_values_nobody_wrote_stay_assumed() -> None:
    """A designator alone keeps the assumed value, shared out among several, and marks it doubtful."""
    circuit = built(parts="C7 vcc-cap|R3+R4 start-up-R|C8//C9 out-cap", start=flyback_start())
    assert circuit.part("C7").values["farads"] == 22e-6 and circuit.part("C7").doubts == {"farads"}
    assert circuit.part("R3").values["ohms"] == 235e3 and circuit.part("C9").values["farads"] == 235e-6
    assert circuit.part("C9").values["volts"] == 35


def test_charger_lines() -> None:
    """Pairs, `each`, mixed values in series, doubtful contacts and loads of the ninth case."""
    parts = (
        "ZD1 latch-zener 20V; Q2+Q3 latch-pair|C7//C8 out-cap 1000u 25V each|R15+R16 divider-top 47k+820R; R17 divider-low 10k"
        "|F1 fuse T3.15A; BR1 bridge"
    )
    circuit = built("out K1.no?(relay ?) batt B1(lead-acid 12V) 0V|out FAN1?(fan 12V?) 0V", parts, start=flyback_start())
    assert (circuit.part("latch-npn").ref, circuit.part("latch-pnp").ref) == ("Q2", "Q3")
    assert [circuit.part(c).values["farads"] for c in ("C7", "C8")] == [1000e-6] * 2
    assert [circuit.part(r).values["ohms"] for r in ("R15", "R16", "R17")] == [47e3, 820.0, 10e3]
    assert circuit.part("F1").values["amps"] == 3.15 and circuit.part("fuse").tags == {"slow"}
    relay = circuit.part("K1")
    assert relay.pins == {"com": "out", "no": "batt"} and {"pin:com", "pin:no", "volts"} <= relay.doubts
    assert circuit.part("B1").pins == {"+": "batt", "-": "0V"} and circuit.part("B1").ratings["volts"] == 12
    assert "part" in circuit.part("FAN1").doubts and circuit.part("FAN1").family == "motor"


def test_a_comma_glued_to_a_net_makes_no_new_net() -> None:
    """Commas separate, also without a blank; a decimal comma stays in its value."""
    circuit = built("+5 R7(4,7k) ntc R9(1k) 0V", "U2 micro 5V, vdd=+5 0v=0V adc=ntc, stops below 4V")
    assert circuit.part("U2").pins["adc"] == "ntc" and circuit.part("R7").values["ohms"] == 4700
    assert not [n for n in circuit.nets if "," in n]
    assert parts_from_sheet(read_sheet(PRINTER + "parts:\n- U2 micro 5V,vdd=+5,0v=0V\n"), ALL).parts[0].pins == {
        "vdd": "+5",
        "0v": "0V",
    }


def test_a_net_with_one_end_is_asked_about() -> None:
    """A slip in a net's name shows as an end without a neighbour."""
    doubts = check_circuit(built("L F1(T2A) live|live R1(1k) N|lvie R2(1k) N"), ALL)
    assert [d for d in doubts if "one end" in d] == ["lvie has one end only, at R2; a slip of the pen, or where does it go on?"]


@pytest.mark.parametrize(
    ("ways", "said"),
    [
        ("L F1(T2A) N", "F1"),
        ("L F1(T2A) live|live TL1(192C) N", "F1, TL1"),
        ("L R9(0.05R) N", "R9"),
    ],
)
def test_shorted_mains_is_refused(ways: str, said: str) -> None:
    """L joined to N through wire-like parts alone is a slip of the pen, and is named with its path."""
    with pytest.raises(SheetError, match=f"one piece of wire through {said};"):
        built(ways)
    built(ways.replace("TL1(192C)", "R5(1k)").replace("0.05R", "10R").replace("F1(T2A) N", "R5(1k) N"))


def test_protectors_are_not_deleted_by_a_word() -> None:
    """`no fuse` on a starting sheet would leave the mains hanging in the air; it is refused with the line."""
    with pytest.raises(SheetError, match="sheet:3:3: no fuse.*protector"):
        built(parts="no fuse", start=flyback_start())
    assert "mov" in built(parts="no mov", start=flyback_start()).absent
    assert check_circuit(built("L R1(1k) N", "no fuse"), ALL)[0].startswith("no fuse: a fuse is a protector")


@pytest.mark.parametrize(
    ("ways", "column", "said"),
    [
        ("live R1(100R) C1(100n)", 17, "ends on C1"),
        ("R1(100R) live", 3, "begins on a net"),
        ("live heat R1(1k) N", 8, "side by side"),
        ("live Q1(npn) N", 8, "say the two you pass"),
        ("live R1(100R N", 10, "not closed"),
        ("live R1)100R( N", 10, "missing or too many"),
        ("live R1(1k)x N", 8, "blank belongs after"),
        ("live, R1(1k) N", 3, "leave out the comma"),
        ("live R1.(1k) N", 8, "legs after the dot"),
        ("live (1k) N", 8, "part before them"),
        ("live mt2 N", 8, "looks like a part"),
        ("live", 3, "lies beyond"),
        ("C1 // R2(1k)", 3, "C1"),
        ("a R1(1k) b|a R1 b", 5, "walked already .line 3"),
        ("a R1(1k 2k) b", 5, "2 values in ohms"),
        ("a R1(9zz) b", 5, "9zz"),
        ("a C1(2.2u) b", 5, "could be capacitor or electrolytic"),
        ("a R1(1k) b //", 14, "between two parts"),
        ("a Q1.b(npn) b", 15, "join a and b"),
    ],
)
def test_slips_in_ways_are_named_at_their_place(ways: str, column: int, said: str) -> None:
    """A slip in a way is refused at its own column, with what to write instead."""
    with pytest.raises(SheetError, match=said) as caught:
        built(ways)
    assert caught.value.column == column and caught.value.line is not None and caught.value.line >= 3


@pytest.mark.parametrize(
    ("ways", "parts", "said"),
    [
        ("", "C5 bulkcap 68u", "bulk-cap"),
        ("", "R1 rezistor 1k", "resistor"),
        ("a R1(rezistor 1k) b", "", "resistor"),
        ("", "U1 78L05, im=+24", "in"),
        ("a Q1.cf(npn) b", "", "pin"),
    ],
)
def test_unknown_words_show_the_nearest(ways: str, parts: str, said: str) -> None:
    """A word, place or pin that nobody knows is never taken as a mere description."""
    with pytest.raises(UnknownName, match=said):
        built(ways, parts, start=flyback_start())


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ("R1+R2 start-up-R 51k", "one value for 2 parts; write 51k.51k"),
        ("R1+R2 start-up-R 51k+51k+51k", "3 values for 2"),
        ("C5 bulk-cap; C6 bulk-cap", "already C5"),
        ("R1 1k; R1 2k", "second time"),
        ("R1 1k, a", None),
        ("R1//R2+R3 1k each", "mixes"),
        ("5R 1k", "no designator"),
        ("R1 1k, a=b=c", "no pin and net"),
        ("BR1 bridge, ~=a", "nothing"),
        ("Q1+Q2 bridge", "legs"),
        ("U1 78L05, in=a in=b", "stands twice"),
        ("Q9 latch-pair", "give 2 designators"),
    ],
)
def test_slips_in_parts_lines(parts: str, said: str | None) -> None:
    """A parts line that is not certain is refused with the remedy."""
    if said in (None, "nothing"):
        assert built(parts=parts, start=flyback_start()).parts
        return
    with pytest.raises(SheetError, match=said):
        built(parts=parts, start=flyback_start())


def test_claims_must_name_what_is_here() -> None:
    """Cold nets, nets out of reach and driven pins that are not on the sheet are refused with the nearest name."""
    for more in ("cold: oot\n", "cant: vvc\n", "does:\n  bake: U2.relai high\n", "does:\n  bake: U3.relay high\n"):
        with pytest.raises(UnknownName):
            built("out R1(1k) vcc|U2.relay R2(1k) vcc", "U2 micro, vdd=vcc 0v=out", more)
    with pytest.raises(SheetError, match="no output"):
        built("out R1(1k) vcc|U2.relay R2(1k) vcc", "U2 micro, vdd=vcc 0v=out", "does:\n  bake: press it\n")


def test_grounds() -> None:
    """The hot ground is hot-, else an 0 V that nobody claims cold, else N; a cold island only where it is claimed."""
    assert built("L R1(1k) hot-|hot- R2(1k) N|hot- C1(2n2) 0V").grounds == {"hot": "hot-"}
    assert built("L R1(1k) 0V|0V R2(1k) N").grounds == {"hot": "0V"}
    assert built("L R1(1k) N|out C1(1n) N|out R2(1k) 0V", more="cold: out, 0V\n").grounds == {"hot": "N", "cold": "0V"}


def test_a_sheet_edit_of_values_on_a_starting_part() -> None:
    """A way may say the value of a placed part, but not move it."""
    assert built("C5(100u 450V) // R9(1M)", "C5 bulk-cap", start=flyback_start()).part("C5").values["farads"] == 100e-6
    with pytest.raises(SheetError, match="bulk and hot-"):
        built("bulk bulk-cap(68u) 0V", start=flyback_start())


WORDS = st.sampled_from(
    "L N live +24 0V hot- R1 R1(4k7) C1(100n) C2(470u 35V) // ... K1.no K1.coil(24V 1440R) Q1.ce Q1(npn) U3.64 D1.ka D1 "
    "(?) (330R?) R8? ( ) a,b U2.relay +3.3 .. . = ; F1(T2A) HTR(heater 91R) HTR T1 x# ~12mA 1N4148 bulk-cap start-up-R".split()
)
PARTS = st.sampled_from(
    "R1 C5 R3+R4 C7//C8 bulk-cap start-up-R 68u 400V 220k+220k each , = in=+24 ~=N ; no mov fuse ? ?? npn 78L05 BR1 bridge U2 "
    "micro adc=ntc? -=0V latch-pair Q2+Q3 + // 1e9 OL -5V".split()
)


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.lists(WORDS, max_size=8), st.lists(PARTS, max_size=7), st.booleans())
def test_random_words_raise_nothing_but_input_errors(ways: list[str], parts: list[str], started: bool) -> None:
    """Any words in any order are a circuit with one name a part, or an input error that says something."""
    text = PRINTER + "ways:\n- a " + " ".join(ways) + "\nparts:\n- R99 1k; " + " ".join(parts) + "\n"
    try:
        circuit = build_circuit(read_sheet(text), ALL, flyback_start() if started else None)
    except InputError as refused:
        assert re.search(r"\w{3}", str(refused))
        return
    refs = [p.ref for p in circuit.parts]
    assert len(refs) == len(set(refs)) and all(net for net in circuit.nets)
    check_circuit(circuit, ALL)


def test_a_way_that_ends_untraced_leaves_the_part_a_leg_of_its_own() -> None:
    """`...` behind a part, or before one: it is there, one leg on the net that was walked, the other on a net that nobody has followed yet."""
    text = PRINTER + "ways:\n- L F1(T1A) live R1(4k7) ...\n- ... R2(100R) N\n- live R3(1k) N\n"
    circuit = build_circuit(read_sheet(text), ALL, None)
    ends = [net for p in circuit.parts for net in p.pins.values()]
    one, two = circuit.part("R1").pins, circuit.part("R2").pins
    assert one["a"] == "live" and two["b"] == "N"
    assert ends.count(one["b"]) == 1 and ends.count(two["a"]) == 1
