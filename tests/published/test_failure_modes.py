"""Shares of the ways of failing and rates of the families against the published tables that they name.

SOURCES  data/failure_modes.csv (MIL-HDBK-338B sec. 7.8, source and mark beside each row; some recalled) and
data/base_rates_217f.csv
         (MIL-HDBK-217F parts count, ground benign x commercial quality; read second-hand, sub-type names partly from memory).
TAKEN    a family that models only some of the handbook's modes has those of them shared anew to 1.
BOUND    0.1 for families that name the handbook alone: the second-hand tables differ that much between styles of one class.
Families
         that say they are shifted to bench practice stand in SHIFTS with the reason, and have to differ, or the word would be
         idle.
"""

from __future__ import annotations

import pytest

from halfsplit.parts import FAMILIES
from halfsplit.parts.common import BENCH, HDBK217, HDBK338, SHIFTED
from solver.figures import rows

MODES: dict[str, dict[str, float]] = {}
for _row in rows("failure_modes.csv"):
    MODES.setdefault(_row["part_class"], {})[_row["mode"]] = float(_row["fraction"])
RATES = {r["part_class"]: float(r["lambda_GB_x_piQ"]) for r in rows("base_rates_217f.csv")}

DRIFT = ("parameter_change", "change_in_value")
# family -> (class of the handbook, {handbook modes: ways of the family})
AS_PRINTED: dict[str, tuple[str, dict[tuple[str, ...], tuple[str, ...]]]] = {
    "resistor": ("resistor_fixed_film", {("open",): ("open",), DRIFT: ("up",)}),
    "diode": ("diode_rectifier", {("open",): ("open",), ("short",): ("short",), DRIFT: ("leaky",)}),
    "bridge": (
        "diode_rectifier",
        {("open",): tuple(f"open-{i}" for i in range(1, 5)), ("short",): tuple(f"short-{i}" for i in range(1, 5))},
    ),
    "npn": ("bjt", {("short",): ("short",), ("open",): ("open", "base-open")}),
    "pnp": ("bjt", {("short",): ("short",), ("open",): ("open", "base-open")}),
    "inductor": ("coil_inductor", {("open",): ("open",), ("short",): ("shorted-turns",)}),
    "choke": ("coil_inductor", {("open",): ("a-open", "b-open")}),
    "flyback": ("transformer", {("open",): ("primary-open", "secondary-open", "aux-open"), ("short",): ("shorted-turns",)}),
    "plain-flyback": ("transformer", {("open",): ("primary-open", "secondary-open"), ("short",): ("shorted-turns",)}),
    "bridge-transformer": ("transformer", {("open",): ("primary-open", "secondary-open"), ("short",): ("shorted-turns",)}),
    "boost-coil": ("coil_inductor", {("open",): ("open",), ("short",): ("shorted-turns",)}),
    "relay": ("relay", {("fails_to_trip",): ("coil-open", "stuck-open"), ("spurious_trip", "short"): ("welded",)}),
    "changeover": (
        "relay",
        {("fails_to_trip",): ("coil-open", "stuck-open", "rest-open"), ("spurious_trip", "short"): ("welded",)},
    ),
    "switch": ("switch_toggle", {("open",): ("open",), ("sticking",): ("resistive",)}),
    "opto-triac": ("led_or_emitter", {("open",): ("led-open",)}),
    "led": ("led_or_emitter", {("open",): ("open",), ("short",): ("short",)}),
    "connector": ("connector_connection", {("open",): ("open",), ("poor_contact_intermittent",): ("resistive",)}),
    "joint": ("connector_connection", {("open",): ("open",), ("poor_contact_intermittent",): ("resistive",)}),
    "ceramic": ("capacitor_ceramic", {("open",): ("open",), ("short",): ("short",), DRIFT: ("low", "leaky")}),
    "wirewound": ("resistor_wirewound", {("open",): ("open",), DRIFT: ("up",), ("short",): ("low",)}),
    "composition": ("resistor_composition", {("open",): ("open",), DRIFT: ("up",)}),
    "tantalum": ("capacitor_tantalum_electrolytic", {("short",): ("short",), ("open",): ("open",), DRIFT: ("leaky",)}),
    "op-amp": (
        "ic_linear",
        {("improper_output",): ("stuck-low", "stuck-high", "supply-short"), ("no_output",): ("dead",)},
    ),
    "comparator": (
        "ic_linear",
        {("improper_output",): ("stuck-low", "stuck-high", "supply-short"), ("no_output",): ("dead",)},
    ),
    "scr": ("thyristor_scr", {("short",): ("short",), ("open",): ("open",)}),
    "battery": (
        "battery_lead_acid",
        {("degraded_output",): ("weak",), ("short",): ("cells-short",), ("intermittent_output",): ("open",)},
    ),
}
SHIFTS: dict[str, tuple[str, dict[tuple[str, ...], tuple[str, ...]], str]] = {
    "y-cap": (
        "capacitor_ceramic",
        {("open",): ("open",), ("short",): ("short",), DRIFT: ("leaky",)},
        "a class made not to short; what goes is found as noise or as touch current",
    ),
    "ptc": (
        "thermistor",
        {("open",): ("open",), DRIFT: ("up",)},
        "a resettable one ages upward with every trip (trade page, section 4)",
    ),
    "capacitor": (
        "capacitor_film_plastic",
        {("open",): ("open",), ("short",): ("short",), DRIFT: ("low", "leaky")},
        "droppers lose capacitance by self-healing; that is their commonest fault by far",
    ),
    "zener": (
        "diode_zener_regulator",
        {("open",): ("open",), ("short",): ("short",), DRIFT: ("leaky",)},
        "those that hold a dropper's rail die shorted by over-current",
    ),
    "transformer": (
        "transformer",
        {("open",): ("primary-open", "secondary-open"), ("short",): ("shorted-turns",)},
        "the thermal link inside the primary opens first",
    ),
    "fet": (
        "mosfet_fet",
        {("open",): ("open",), ("short",): ("short", "gate-short")},
        "handbook counts output low and high and drift, which a switch at line volts does not live to show",
    ),
    **{
        name: (
            "mosfet_fet",
            {("open",): ("open",), ("short",): ("short", "gate-short")},
            "as the fet: what a switch does not live to show is left out",
        )
        for name in ("boost-fet", "bridge-fet", "class-d-fet")
    },
    "split-transformer": (
        "transformer",
        {("open",): ("primary-open", "upper-open", "lower-open"), ("short",): ("shorted-turns",)},
        "the thermal link inside the primary opens first",
    ),
    "oscillator": (
        "bjt",
        {("short",): ("short",), ("open",): ("open", "base-open")},
        "nothing else is left of one that switches mains volts: it goes short nearly always (common practice)",
    ),
    "buck-module": (
        "ic_linear",
        {("improper_output",): ("low", "through", "out-short", "in-short"), ("no_output",): ("no-output",)},
        "no output is what brings a set in; improper ones are found working",
    ),
    "opto": (
        "opto_sensor_isolator",
        {("open",): ("led-open", "open"), ("short",): ("short",)},
        "worn gain leads; LEDs open more than transistors short",
    ),
    "regulator": (
        "ic_linear",
        {("improper_output",): ("low", "through", "out-short"), ("no_output",): ("no-output",)},
        "no output is what brings a set in; improper ones are found working",
    ),
    "ldo": (
        "ic_linear",
        {("improper_output",): ("low", "through", "out-short"), ("no_output",): ("no-output",)},
        "no output is what brings a set in; improper ones are found working",
    ),
    "adjustable": (
        "ic_linear",
        {("improper_output",): ("low", "through"), ("no_output",): ("no-output",)},
        "no output is what brings a set in; improper ones are found working",
    ),
}


def gaps(family: str, part_class: str, groups: dict[tuple[str, ...], tuple[str, ...]]) -> list[float]:
    """Share of each group in the family less its share in the handbook, both shared to 1 over the groups modelled."""
    own = {w.name: w.share for w in FAMILIES[family].ways}
    ours = [sum(own[w] for w in ways) for ways in groups.values()]
    theirs = [sum(MODES[part_class].get(m, 0.0) for m in modes) for modes in groups]
    assert all(t > 0 for t in theirs), (family, part_class)
    return [o / sum(ours) - t / sum(theirs) for o, t in zip(ours, theirs, strict=True)]


@pytest.mark.parametrize("family", AS_PRINTED)
def test_shares_as_printed(family):
    """Families that name the handbook alone."""
    part_class, groups = AS_PRINTED[family]
    assert all(abs(g) < 0.101 for g in gaps(family, part_class, groups)), gaps(family, part_class, groups)
    assert all(w.source == HDBK338 for w in FAMILIES[family].ways)


@pytest.mark.parametrize("family", ["resistor", "diode", "npn", "pnp"])
def test_shares_taken_straight_from_the_table(family):
    """These four are the handbook's figures to two digits."""
    part_class, groups = AS_PRINTED[family]
    assert all(abs(g) <= 0.011 for g in gaps(family, part_class, groups))


@pytest.mark.parametrize("family", SHIFTS)
def test_shares_shifted_to_bench_practice_say_so(family):
    """Each differs from the handbook by more than the bound, and its ways say that they are shifted or a bench estimate."""
    part_class, groups, reason = SHIFTS[family]
    assert reason
    # within the modes that these model they keep near the handbook; the shift lies in the modes left out
    if family not in ("fet", "boost-fet", "bridge-fet", "class-d-fet", "oscillator"):
        assert max(abs(g) for g in gaps(family, part_class, groups)) > 0.1
    assert all(w.source in (SHIFTED, BENCH) or w.source.startswith(BENCH) for w in FAMILIES[family].ways)


def test_every_claim_on_the_handbook_is_checked():
    """No family names the handbook's modes without standing in one of the two tables."""
    claim = {f.name for f in FAMILIES.values() if any(HDBK338 in w.source for w in f.ways)}
    assert claim == set(AS_PRINTED) | set(SHIFTS)


def test_electrolytics_depart_from_the_handbook_on_purpose():
    """Handbook: open 35 %, short 53, leak 10, value 2, which understates dry-out of old consumer parts; repair practice: high ESR
    or
    low C about 80 %, leaking 15, short 5 (common practice). The family follows practice within 0.1."""
    own = {w.name: w.share for w in FAMILIES["electrolytic"].ways}
    assert own["dried"] + own["high-esr"] == pytest.approx(0.80, abs=0.01)
    assert own["short"] == pytest.approx(0.05, abs=0.01)
    assert own["leaky"] + own["open"] == pytest.approx(0.15, abs=0.1)
    assert own["short"] < 0.2 * MODES["capacitor_aluminium_electrolytic"]["short"]
    assert not any(HDBK338 in w.source for w in FAMILIES["electrolytic"].ways)


# family -> (class, what its own source text says was done to the figure, least and most factor that this allows)
RATE_CLAIMS: dict[str, tuple[str, str, float, float]] = {
    "switch": ("switch_toggle_pushbutton", "sensitive and toggle", 1.0, 3.0 / 0.02),
    "ntc": ("thermistor", "halved", 0.4, 0.6),
    "stat": ("relay_thermal_bimetal", "cut down", 0.05, 0.5),
    "resistor": ("resistor_film_power", "film power", 0.7, 1.4),
    "capacitor": ("capacitor_metallized_plastic", "raised", 1.2, 4.0),
    "electrolytic": ("capacitor_aluminium_oxide", "x 4", 3.6, 4.4),
    "inductor": ("coil_fixed", "", 0.4, 2.5),
    "choke": ("coil_fixed", "", 0.4, 2.5),
    "transformer": ("transformer_power", "power transformer", 0.7, 1.4),
    "flyback": ("transformer_pulse_lowpower", "pulse transformer", 0.7, 2.0),
    "diode": ("diode_fast_recovery_power", "halved", 0.4, 0.6),
    "bridge": ("diode_power_rectifier_schottky", "four power diodes", 4.0, 4 * 0.52 / 0.0224),
    "zener": ("diode_zener", "raised", 1.2, 10.0),
    "npn": ("bjt_power", "raised", 1.2, 4.0),
    "pnp": ("bjt_power", "raised", 1.2, 4.0),
    "fet": ("fet_silicon", "x 5", 4.5, 5.5),
    "opto": ("opto_isolator", "opto isolator", 0.7, 1.4),
    "opto-triac": ("opto_isolator", "", 0.4, 2.5),
    "triac": ("thyristor_scr_triac", "raised", 1.2, 25.0),
    "reference": ("ic_linear_1_100_transistors", "small linear IC", 0.7, 1.4),
    "regulator": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "n-mosfet": ("fet_silicon", "silicon FET", 0.7, 1.4),
    "p-mosfet": ("fet_silicon", "silicon FET", 0.7, 1.4),
    "op-amp": ("ic_linear_1_100_transistors", "small linear IC", 0.7, 1.4),
    "comparator": ("ic_linear_1_100_transistors", "small linear IC", 0.7, 1.4),
    "ldo": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "adjustable": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "controller": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "relay": ("relay_general", "general relay", 0.7, 1.4),
    "changeover": ("relay_general", "general relay", 0.7, 1.4),
    "trimmer": ("resistor_variable_composition", "raised", 0.5, 4.0),
    "pot": ("resistor_variable_composition", "raised", 0.5, 4.0),
    "slide": ("resistor_variable_composition", "raised", 0.5, 6.0),
    "split-transformer": ("transformer_power", "power transformer", 0.7, 1.4),
    "plain-flyback": ("transformer_pulse_lowpower", "pulse transformer", 0.7, 2.0),
    "bridge-transformer": ("transformer_pulse_lowpower", "pulse transformer", 0.7, 2.0),
    "switcher": ("fet_silicon", "x 5", 4.5, 7.5),
    "oscillator": ("bjt_power", "raised", 1.2, 15.0),
    "buck-module": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "boost-coil": ("coil_fixed", "coil", 0.4, 2.5),
    "boost-fet": ("fet_silicon", "x 5", 4.5, 5.5),
    "bridge-fet": ("fet_silicon", "x 4", 3.5, 4.5),
    "pfc-controller": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "llc-controller": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "led-buck": ("fet_silicon", "x 5", 4.5, 5.5),
    "led-boost": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "class-d-fet": ("fet_silicon", "x 4.5", 4.0, 5.0),
    "class-d-driver": ("ic_linear_101_300", "raised", 1.2, 4.0),
    "lamp": ("lamp_incandescent_ac", "incandescent AC", 0.7, 1.4),
    "micro": ("ic_micro_mos_8bit", "8-bit MOS", 0.4, 1.4),
    "ceramic": ("capacitor_ceramic_general", "general ceramic", 0.7, 1.4),
    "x-cap": ("capacitor_metallized_plastic", "raised", 1.2, 4.0),
    "y-cap": ("capacitor_ceramic_general", "raised", 1.2, 4.0),
    "wirewound": ("resistor_wirewound_power", "power wirewound", 0.7, 1.4),
    "composition": ("resistor_composition", "raised ten-fold", 7.0, 14.0),
    "fusible": ("resistor_film_power", "film power", 0.7, 1.4),
    "connector": ("connector_multipin", "raised", 1.2, 10.0),
    "joint": ("joint_hand_solder", "raised twenty-fold", 15.0, 25.0),
    "led": ("led_emitter", "raised", 1.2, 25.0),
    "tvs": ("transient_suppressor_varistor", "transient suppressor", 0.7, 1.4),
    "tantalum": ("capacitor_tantalum_solid", "raised", 1.2, 4.0),
    "ptc": ("thermistor", "halved", 0.4, 0.6),
    "scr": ("thyristor_scr_triac", "raised", 1.2, 25.0),
}


@pytest.mark.parametrize("family", RATE_CLAIMS)
def test_rate_against_its_class(family):
    """Rate over the class's own figure lies where the family's words put it: as printed within 40 %, halved, multiplied,
    raised."""
    part_class, words, least, most = RATE_CLAIMS[family]
    assert words in FAMILIES[family].rate_source
    assert least <= FAMILIES[family].rate / RATES[part_class] <= most


def test_every_rate_claim_is_checked():
    """Whoever names the handbook of rates stands in the table; everybody else says bench estimate or no suspect."""
    assert {f.name for f in FAMILIES.values() if HDBK217 in f.rate_source} == set(RATE_CLAIMS)
    for f in FAMILIES.values():
        assert HDBK217 in f.rate_source or f.rate_source.startswith(BENCH) or f.rate == 0.0
