"""Refused classes, by word and by signature; acts that defeat a protector."""

from dataclasses import replace

import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.errors import DomainError, Refused
from halfsplit.jobs.refusals import KINDS, Ask, bypassed, check_act, check_sheet_edit, refuse_circuit, refuse_unit, settle

# trade page, section 7: protectors stay
PROTECTORS = {"fuse", "thermal-link", "stat", "varistor", "fusible", "ptc", "tvs", "cut-off-resistor"}


def is_protector(part: Part) -> bool:
    return part.family in PROTECTORS or "fusible" in part.tags


@pytest.mark.parametrize(
    "words",
    [
        "microwave oven",
        "Microwave-Ovens, 900 W",
        "the microwave oven from the kitchen",
        "oven, microwave",
        "microwave oven control board",
        "CRT monitor",
        "picture tube television",
        "15 kV tester",
        "electric fence",
        "neon sign",
        "ccfl inverter",
        "ccfl",
        "photo flash",
        "flash unit",
        "studio flash",
        "strobe",
        "strobe lights",
        "laser driver",
        "laser cutter",
        "X-ray set",
        "xray generator",
        "defibrillator",
        "medical pump",
        "CPAP",
        "smoke alarms",
        "fire-alarm panel",
        "emergency light",
        "lift",
        "elevators",
        "stairlift",
        "gas boiler",
        "boiler",
        "combi boiler board",
        "gas igniter",
        "refrigerant circuit",
        "consumer unit",
        "fuse box",
        "solar inverter",
        "battery storage",
        "EV charger",
        "e-bike",
        "e-bike battery",
        "electric scooter",
        "swollen lithium pack",
        "cordless drill, swollen battery",
        "recalled toaster",
        "toaster and microwave oven",
    ],
)
def test_each_class_is_refused_by_its_word(words):
    """What the unit is called is refused in any case, number and spelling with or without a hyphen, and says so."""
    with pytest.raises(Refused, match="Stop: this class of equipment is outside what this tool supports"):
        refuse_unit(words, 230, 50)


@pytest.mark.parametrize(
    "words",
    [
        "stands next to a microwave oven",
        "clock radio, stands next to a microwave oven",
        "laminator with laser-cut cover",
        "laser printer",
        "not a microwave oven",
        "toy microwave oven",
        "mircowave oven",
        "defibrilator",
        "rice boiler",
        "desk lift",
        "usb flash drive",
        "e-bike charger",
        "lamp near the consumer unit",
        "bread maker, lid does not lift",
        "television",
        "fridge",
        "toaster under recall",
        "drill battery charger",
        "kettle beside the gas boiler",
    ],
)
def test_an_innocent_sentence_or_a_near_word_asks(words):
    """A telling word in another's company, or one merely near, neither refuses nor passes: it asks, and only yes goes on."""
    ask = refuse_unit(words, 230, 50)
    assert isinstance(ask, Ask)
    for no in (False, None):
        with pytest.raises(Refused):
            settle(ask, no)
    cleared = {settle(ask, True)}
    while (ask := refuse_unit(words, 230, 50, cleared=cleared)) is not None:
        assert ask.key not in cleared
        cleared.add(settle(ask, True))


@pytest.mark.parametrize(
    "words",  # the trade page's fifteen worked cases, and some plain household names
    [
        "integrated stereo amplifier",
        "bread maker",
        "LED panel lamp driver",
        "bench supply",
        "garage-door opener board",
        "sewing-machine pedal, electronic",
        "laminator",
        "synthesizer",
        "lead-acid charger",
        "air purifier",
        "powered subwoofer",
        "stage light 400 W supply",
        "photographer's light table",
        "vacuum-cleaner wall charger",
        "hotplate stirrer",
        "label printer",
        "kettle",
        "washing machine",
        "coffee machine",
        "toaster",
        "hair dryer",
        "radio",
        "fan heater",
    ],
)
def test_ordinary_sets_pass_without_a_question(words):
    """None of the trade's own worked cases is refused or asked about: ask, don't nag."""
    assert refuse_unit(words, 230, 50) is None


def test_a_yes_clears_only_its_own_class_and_never_a_refusal():
    """Two near words are two questions, and a refused name stays refused whatever was cleared."""
    every = {kind.key for kind in KINDS}
    first = refuse_unit("laser printer next to the fridge", 230)
    second = refuse_unit("laser printer next to the fridge", 230, cleared={first.key})
    assert second is not None and second.key != first.key
    with pytest.raises(Refused):
        refuse_unit("microwave oven", 230, cleared=every)


@pytest.mark.parametrize("words", ["welding inverter", "UPS"])
def test_above_one_kilovolt_ampere_is_refused_and_unknown_asks(words):
    """Welding sets and uninterruptible supplies: above 1 kVA no, below yes, not known: a question."""
    with pytest.raises(Refused):
        refuse_unit(words, 230, 1500)
    assert refuse_unit(words, 230, 600) is None
    for unknown in (None, 0.0, float("nan")):
        assert isinstance(refuse_unit(words, 230, unknown), Ask)


def test_a_boiled_battery_in_the_symptom_asks():
    """The battery behind a charger is part of the job when the symptom names it."""
    assert refuse_unit("lead-acid charger", 120, 80, symptom="ticks; battery was boiled").key == "lithium"
    with pytest.raises(Refused):
        refuse_unit("torch charger", 120, 80, symptom="swollen battery")


def test_impossible_and_strange_mains():
    """No volts is an error, three-phase volts a question, a kilovolt refused."""
    with pytest.raises(DomainError):
        refuse_unit("toaster", 0)
    assert refuse_unit("toaster", 400).key == "mains-volts"
    with pytest.raises(Refused):
        refuse_unit("toaster", 1000)


# ---- by signature, the word removed


def circuit(*parts: Part, volts: float = 230.0, **more) -> Circuit:
    return Circuit(Unit("thing", volts, 50, "I", 50), parts, {"hot": "N"}, **more)


def two(
    ref: str, family: str, values: dict | None = None, ratings: dict | None = None, a: str = "p", b: str = "q", **more
) -> Part:
    return Part(ref, family, {"a": a, "b": b}, values or {}, ratings or {}, **more)


@pytest.mark.parametrize(
    "part",
    [
        two("C1", "capacitor", {"farads": 1e-6}, {"volts": 2100}),  # 1 uF/2.1 kV 2.2 J: trade page, section 7 [computed]
        two("C1", "capacitor", {"farads": 2e-9}, {"volts": 25e3}),  # a picture tube's own coating (common practice)
        two("C1", "capacitor", {"farads": 0.5e-9}, {"volts": 15e3}),  # door-knob type
        Part("C1", "electrolytic", {"+": "a", "-": "b"}, {"farads": 1e-9, "volts": 1200}),
        Part("T1", "transformer", {"p1": "L", "p2": "N", "s1": "a", "s2": "b"}, {"volts": 230, "out": 2000}),
        Part(
            "T1", "transformer", {"p1": "L", "p2": "N", "s1": "a", "s2": "b"}, {"volts": 115, "out": 400}
        ),  # on 230 V: 1131 V peak
        Part("T1", "transformer", {"p1": "x", "p2": "y", "s1": "a", "s2": "b"}, {"volts": 12, "out": 1000}),
        two("M1", "load", words="magnetron"),
        two("V1", "load", words="gas valve 24V"),
        two("X1", "lamp", words="flash tube"),
        two("B1", "battery", words="lithium 11.1V", ratings={"volts": 11.1}),
    ],
)
def test_the_signature_refuses_without_the_word(part):
    """The unit is called a thing: the part gives it away."""
    with pytest.raises(Refused, match=part.ref):
        refuse_circuit(circuit(part))


@pytest.mark.parametrize(
    "part",
    [
        two("C9", "capacitor", {"farads": 22e-9}, {"volts": 1000}),  # resonant capacitor of the trade page's case 12
        two("C4", "capacitor", {"farads": 2.2e-9}, {"volts": 1000}),  # clamp
        two("C5", "capacitor", {"farads": 10e-9}, {"volts": 2000}),  # snubber
        two("CY1", "capacitor", {"farads": 4.7e-9}, {"volts": 8000}, tags=frozenset({"Y1"})),  # impulse rating written
        Part("C1", "electrolytic", {"+": "a", "-": "b"}, {"farads": 270e-6, "volts": 450}),
        Part("T1", "transformer", {"p1": "L", "p2": "N", "s1": "a", "s2": "b"}, {"volts": 230, "out": 31}),
        Part("T1", "transformer", {"p1": "L", "p2": "N", "s1": "a", "s2": "b"}, {"volts": 230, "out": 400}),
        Part("BT1", "load", {"+": "a", "-": "b"}, {}, {"volts": 3.0}),  # memory cell of case 8
        two("B1", "battery", words="lead-acid 12V", ratings={"volts": 12}),
    ],
)
def test_ordinary_parts_pass(part):
    """Parts that ordinary supplies hold are no signature."""
    assert refuse_circuit(circuit(part)) is None


def test_working_volts_found_by_solving_count_as_well():
    """A capacitor rated low, or without a rating, that stands at 1 kV in the solved circuit is refused."""
    part = two("C1", "capacitor", {"farads": 1e-6})
    assert refuse_circuit(circuit(part)) is None
    with pytest.raises(Refused):
        refuse_circuit(circuit(part), working_volts={"C1": 1500.0})


def test_two_cells_in_series_are_refused_without_a_word_on_chemistry():
    """B1 and B2 of 3.7 V, plus to minus: refused; side by side: not a series pack."""
    first = Part("B1", "load", {"+": "a", "-": "m"}, {}, {"volts": 3.7})
    series = Part("B2", "load", {"+": "m", "-": "b"}, {}, {"volts": 3.7})
    beside = Part("B2", "load", {"+": "a", "-": "m"}, {}, {"volts": 3.7})
    with pytest.raises(Refused, match="series"):
        refuse_circuit(circuit(first, series))
    assert refuse_circuit(circuit(first, beside)) is None


def test_what_is_not_sure_asks_and_stays_refused_without_a_yes():
    """A kilovolt capacitor of doubted value, a battery of untold kind: one question each; yes goes on."""
    doubted = two("C1", "capacitor", {"farads": 1e-9}, {"volts": 2000}, doubts=frozenset({"farads"}))
    ask = refuse_circuit(circuit(doubted))
    assert isinstance(ask, Ask)
    assert refuse_circuit(circuit(doubted), cleared={settle(ask, True)}) is None
    assert isinstance(refuse_circuit(circuit(two("B1", "battery", ratings={"volts": 36}))), Ask)
    assert isinstance(refuse_circuit(circuit(two("B1", "battery", words="lithium", ratings={"volts": 3.7}))), Ask)
    assert isinstance(refuse_circuit(circuit(two("R1", "resistor", words="beside the gas valve"))), Ask)


# ---- protectors

HEATER = circuit(
    Part("F1", "fuse", {"a": "L", "b": "live"}, {"amps": 10.0}, tags=frozenset({"T"})),
    Part("TL1", "thermal-link", {"a": "live", "b": "warm"}, {"ohms": 0.005}, {"celsius": 192.0, "amps": 10.0}),
    Part("K1", "relay", {"c+": "+24", "c-": "kd", "com": "warm", "no": "heat"}, {"volts": 24.0}),
    Part("HTR", "heater", {"a": "heat", "b": "N"}, {"ohms": 91.0}),
    Part("MOV1", "varistor", {"a": "live", "b": "N"}, {"volts": 300.0}),
    Part("R1", "resistor", {"a": "live", "b": "drop"}, {"ohms": 100.0}, tags=frozenset({"fusible"})),
    Part("RF2", "fusible", {"a": "+24", "b": "+24b"}, {"ohms": 10.0, "watts": 1.0}),
    Part("PTC1", "ptc", {"a": "+24b", "b": "+24c"}, {"amps": 1.1}),
    Part("TVS1", "tvs", {"k": "+24c", "a": "0V"}, {"volts": 15.0}),
    Part("C1", "capacitor", {"a": "drop", "b": "ac"}, {"farads": 0.68e-6}),
    Part("BR1", "bridge", {"~1": "ac", "~2": "N", "+": "+24", "-": "0V"}),
    Part("C2", "electrolytic", {"+": "+24", "-": "0V"}, {"farads": 470e-6}),
    Part("Q1", "npn", {"b": "b", "c": "kd", "e": "0V"}),
)


@pytest.mark.parametrize(
    "act",
    [
        "bridge TL1",
        "Bridge tl1",
        "short F1",
        "jumper MOV1",
        "link R1",
        "bypass TL1",
        "bridge L live",
        "bridge live warm",
        "link L heat",
        "bridge live heat",
        "bridge F1.a warm",
        "bridge L K1.com",
        "bridge drop L",
        "bridge L N",
        "bridge the door interlock",
        "defeat earth",
        "delete F1",
        "omit MOV1",
        "delete TL1",
        "fit F1 T12A",
        "fit F1 F10A",
        "fit F1 T10A?",
        "fit TL1 216C",
        "fit MOV1 420V",
        "fit R1 100R 2W",
        "fit R1 10R",
        "fit RF2 10R 2W",
        "fit RF2 4.7R 1W",
        "fit PTC1 3A",
        "fit TVS1 24V",
        "bridge RF2",
        "omit TVS1",
    ],
)
def test_a_protector_is_never_bridged_up_rated_or_left_out(act):
    """Refused by family, by name, by number and by the way round; there is no waiver."""
    with pytest.raises(Refused):
        check_act(act, HEATER, is_protector)


@pytest.mark.parametrize(
    "act",
    [
        "fit F1 T10A",
        "fit F1",
        "fit TL1 192C 16A",
        "fit TL1 184C",
        "fit MOV1 300V",
        "fit R1 100R",
        "fit RF2 10R 1W",
        "fit PTC1 1.1A",
        "fit TVS1 15V 1500W",
        "bridge C2 470u",
        "bridge +24 kd",
        "fit C1 1u",
        "press bake",
        "",
        "see F1 black",
        "bridge heat K1.com",
    ],
)
def test_what_defeats_nothing_passes(act):
    """The right part in a protector's place, a good capacitor across one, a contact bridged: no refusal."""
    assert check_act(act, HEATER, is_protector) == ()


@pytest.mark.parametrize(
    ("act", "refit"), [("lift R1.a", ("R1",)), ("remove MOV1", ("MOV1",)), ("lift TL1", ("TL1",)), ("delete C2", ("C2",))]
)
def test_what_is_lifted_goes_on_the_refit_list(act, refit):
    """A leg may be lifted for a test; it stands on the list until it is back."""
    assert check_act(act, HEATER, is_protector) == refit


def test_an_unread_marking_is_no_leave_to_up_rate():
    """A fuse whose amps are supposed or doubted takes no amps until its marking was read."""
    for part in (replace(HEATER.part("F1"), assumed=True), replace(HEATER.part("F1"), doubts=frozenset({"amps"}))):
        with pytest.raises(Refused, match="not known"):
            check_act("fit F1 T3.15A", HEATER.with_parts((part, *HEATER.parts[1:])), is_protector)


def test_the_way_round_names_the_protectors():
    """From before the fuse to behind the link leads round both; across the heater's own contact round none."""
    assert set(bypassed("L", "heat", HEATER, is_protector)) == {"F1", "TL1"}
    assert bypassed("warm", "heat", HEATER, is_protector) == ()


def test_a_sheet_edit_cannot_lose_a_protector():
    """Deleted, up-rated, joined, turned into a wire on the sheet: refused. Bound to a designator, or another part: fine."""
    fuse, rest = HEATER.parts[0], HEATER.parts[1:]
    for bad in (
        HEATER.with_parts(rest),
        HEATER.with_parts((replace(fuse, values={"amps": 16.0}), *rest)),
        HEATER.with_parts((replace(fuse, pins={"a": "live", "b": "live"}), *rest)),
        HEATER.with_parts((replace(fuse, family="lead"), *rest)),
    ):
        with pytest.raises(Refused, match="F1"):
            check_sheet_edit(HEATER, bad, is_protector)
    check_sheet_edit(HEATER, HEATER, is_protector)
    check_sheet_edit(HEATER, HEATER.with_parts(HEATER.parts[:-1]), is_protector)
    assumed = HEATER.with_parts((replace(fuse, ref="fuse", place="fuse", assumed=True), *rest))
    bound = HEATER.with_parts((replace(fuse, place="fuse", values={"amps": 16.0}), *rest))
    check_sheet_edit(assumed, bound, is_protector)


def test_a_supposed_protector_that_was_looked_for_may_go():
    """ "no mov": a starting sheet's own supposition, looked for and not there, is no protector taken off."""
    parts = tuple(replace(p, assumed=True, place="varistor") if p.ref == "MOV1" else p for p in HEATER.parts)
    before = HEATER.with_parts(parts)
    without = HEATER.with_parts(tuple(p for p in parts if p.ref != "MOV1"))
    check_sheet_edit(before, replace(without, absent=frozenset({"varistor"})), is_protector)
    with pytest.raises(Refused):
        check_sheet_edit(before, without, is_protector)
    with pytest.raises(Refused):
        check_sheet_edit(HEATER, replace(without, absent=frozenset({"varistor", "MOV1"})), is_protector)
