"""Every row of the textbook table is checked somewhere against the solver, or says here why a circuit solver has nothing to say to it.

SOURCE   data/textbook_power_examples.csv (source, page and mark beside each row). The bounds stand in the tests that are named here.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from solver.figures import rows

HERE = Path(__file__).resolve().parent
IDS = [r["id"] for r in rows("textbook_power_examples.csv")]

# file -> test -> rows that it answers
CHECKED: dict[str, dict[str, tuple[str, ...]]] = {
    "test_rectifiers.py": {
        "test_half_wave_without_filter": ("Malvino 4-1", "Malvino 4-2"),
        "test_full_wave_peaks": ("Malvino 4-3", "Malvino 4-5"),
        "test_reservoir_of_malvino": ("Malvino 4-6", "Malvino 4-7", "Malvino 4-8"),
        "test_bridge_with_real_drops_and_large_reservoir": ("Malvino 4-9",),
        "test_reverse_volts_without_filter": ("Malvino 4-10",),
        "test_boylestad_full_wave_at_50_milliamps": ("Boylestad 15.3", "Boylestad 15.4", "Boylestad 15.5"),
        "test_rc_section_divides_dc_and_ripple": ("Boylestad 15.6", "Boylestad 15.7"),
        "test_design_of_neamen_2_1": ("Neamen 2.1",),
        "test_filters_sized_by_neamen_and_sedra": ("Neamen 2.2", "Sedra 3.9"),
        "test_bridge_supply_of_neamen_2_3": ("Neamen 2.3",),
        "test_means_without_filter": ("Grob 27-4", "Grob 27-5", "Grob 27-6"),
        "test_grob_27_7_takes_an_exponential_fall": ("Grob 27-7",),
        "test_bell_half_wave_ripple": ("Bell 3.3",),
        "test_bell_capacitor_with_and_without_conduction_time": ("Bell 3.4", "Bell 3.5"),
        "test_transformer_current_of_bell": ("Bell 3.7", "Bell 3.11"),
        "test_peak_with_the_lower_drop_of_tooley": ("Tooley 6.1",),
    },
    "test_zeners.py": {
        "test_range_of_zener_current": ("Malvino 5-1",),
        "test_whether_it_conducts_and_how_much": ("Malvino 5-2", "Malvino 5-3"),
        "test_slope_moves_the_output": ("Malvino 5-7",),
        "test_ripple_is_divided_by_the_slope": ("Malvino 5-8",),
        "test_largest_series_resistor": ("Malvino 5-10", "Malvino 5-11"),
        "test_sedra_zener_regulator": ("Sedra 3.8",),
        "test_line_regulation_of_franco_11_3": ("Franco 11.3",),
        "test_lower_input_of_bell_3_16": ("Bell 3.16",),
        "test_series_resistor_of_tooley_6_4": ("Tooley 6.4",),
    },
    "test_droppers.py": {
        "test_capacitor_limited_led": ("Malvino 5-15",),
        "test_crude_formula_overestimates": ("dropper-1",),
        "test_half_wave_page_is_wrong_both_ways": ("dropper-2",),
        "test_charge_balance_of_a_bridge": ("dropper-3",),
        "test_reactance_table": ("dropper-4",),
    },
    "test_regulators.py": {
        "test_shunt_regulator": ("Malvino 24-1", "Boylestad 15.11"),
        "test_shunt_regulator_with_divider": ("Malvino 24-2",),
        "test_efficiency_of_that_shunt_regulator": ("Malvino 24-3",),
        "test_shunt_regulator_with_an_amplifier": ("Malvino 24-4",),
        "test_series_regulator": ("Malvino 24-7", "Malvino 24-8", "Boylestad 15.9"),
        "test_adjustable_three_terminal": ("Malvino 24-13", "Boylestad 15.15", "Boylestad 15.16"),
        "test_divider_that_sets_a_buck": ("Malvino 24-15",),
        "test_fixed_bias": ("Malvino 6-5",),
        "test_emitter_bias": ("Malvino 7-9",),
        "test_emitter_follower_regulator": ("Boylestad 15.8",),
        "test_series_regulator_with_an_amplifier": ("Boylestad 15.10",),
        "test_headroom_of_boylestad_15_14": ("Boylestad 15.14",),
        "test_line_and_load_of_franco_11_1": ("Franco 11.1",),
        "test_regulator_of_franco_11_9": ("Franco 11.9",),
        "test_current_limit_and_foldback_of_franco_11_10": ("Franco 11.10",),
        "test_watts_in_a_regulator": ("Franco 11.14", "Franco 11.20"),
        "test_shunt_reference_divider": ("431-1",),
        "test_7805_limits": ("78xx",),
    },
    "test_shunt_reference.py": {
        "test_bias_resistor_beside_the_led": ("431-2",),
        "test_resistor_across_the_led_keeps_the_reference_alive": ("431-3",),
        "test_nodes_of_a_healthy_five_volt_output": ("431-4",),
    },
    "test_transformers.py": {
        "test_rise_off_load": ("xfmr-reg",),
    },
}
EXCUSED = {
    "Malvino 24-6": "regulation as a quotient of given volts: no circuit is given, nothing to solve",
    "Boylestad 15.1": "ripple as a quotient of given volts: no circuit",
    "Boylestad 15.2": "regulation as a quotient of given volts: no circuit",
    "Bell 3.15": "load and source effect as quotients of given volts: no circuit",
    "Franco 11.15": "heat sink from thermal resistances: the solver has no temperatures",
    "Franco 11.17": "duty of a buck: switching is averaged over its period here, there is no duty and no buck",
    "Franco 11.18": "coil of a boost from its ripple current at 100 kHz: no switching period in the solver",
    "Franco 11.19": "capacitor of a boost from its ripple at 100 kHz: no switching period in the solver",
    "431-5": "headline data of designs; no node volts are given",
}


def functions(name: str) -> dict[str, str]:
    """Test -> its source with decorators."""
    text = (HERE / name).read_text(encoding="utf-8")
    lines = text.splitlines()
    out = {}
    for node in ast.parse(text).body:
        if isinstance(node, ast.FunctionDef):
            first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            out[node.name] = "\n".join(lines[first - 1 : node.end_lineno])
    return out


def test_every_row_is_checked_or_excused():
    """81 rows; none in both lists, none in neither, none twice."""
    checked = [row for tests in CHECKED.values() for answered in tests.values() for row in answered]
    assert sorted(checked + list(EXCUSED)) == sorted(IDS)
    assert len(IDS) == 81
    assert all(len(reason) > 20 for reason in EXCUSED.values())


@pytest.mark.parametrize("name", CHECKED)
def test_the_tests_named_here_speak_of_their_rows(name):
    """Each is a test of that file, and the row stands in it."""
    found = functions(name)
    for test, answered in CHECKED[name].items():
        for row in answered:
            assert re.search(re.escape(row) + r"(?!\d)", found[test]), (test, row)
