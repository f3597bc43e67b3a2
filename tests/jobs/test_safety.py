"""Dead is proven, not said; switch-on, bench supply and the cold side each have a gate, and what is not known is a no."""

from dataclasses import replace

import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.errors import InputError, UnknownName
from halfsplit.jobs.safety import (
    DEAD_LASTS,
    RECOVERY,
    Board,
    Damage,
    Go,
    Island,
    Islands,
    NoGo,
    SwitchOn,
    Waiver,
    bench_off,
    bench_on,
    boundary_parts,
    caution,
    hazard,
    live_card_confirm,
    may_bench,
    may_measure,
    may_switch_on,
    prove_cold,
    prove_dead,
    saw_volts,
)

FRESH = Islands({"hot": Island(named=("bulk-cap",)), "cold": Island(named=())})
BOARD = Board(
    island_of={"bulk": "hot", "out": "cold", "0V": "cold", "drain": "hot"},
    proven_cold=frozenset({"cold"}),
    switching=frozenset({"drain"}),
    cant=frozenset({"buried"}),
    peak={"bulk": 325.0, "out": 30.0, "0V": 0.0, "gate": 15.0, "drain": 650.0},
    rating=600.0,
    isolated_supply=True,
    confirmed=frozenset({"hot"}),
)


def after_use() -> Islands:
    """Switched on, the meter shown the inlet, unplugged, 300 V seen on the bulk."""
    state = FRESH.plugged_in().meter_showed("mine", read=231.0, known=230.0, now=0.0).unplugged()
    return saw_volts(state, "hot", "bulk-cap", 300.0)


def dead_at(now: float = 10.0, volts: float = 2.0) -> Islands:
    state, answer = prove_dead(after_use(), "hot", {"bulk-cap": volts}, meter="mine", now=now)
    assert answer
    return state


def ohms(state: Islands, now: float, net: str = "bulk", **more) -> Go | NoGo:
    return may_measure(state, "r", net, board=BOARD, now=now, **more)


def test_off_is_not_dead():
    """After `off` the bulk still holds: every cold function is refused, and the remedy names the capacitor."""
    for function in ("r", "d", "c", "esr"):
        answer = may_measure(after_use(), function, "bulk", board=BOARD, now=1.0)
        assert not answer
        assert "not proven dead" in answer.reason and "bulk-cap" in answer.remedy


def test_nothing_is_known_before_a_word():
    """A fresh or reloaded job is unknown: neither ohms nor volts, and no proof either."""
    for state in (FRESH, dead_at().forgotten()):
        assert state.power("hot", 20.0) == "unknown"
        assert not ohms(state, 20.0)
        assert not may_measure(state, "v", "bulk", board=BOARD, now=20.0)
        assert not prove_dead(state, "hot", {"bulk-cap": 1.0}, meter="mine", now=20.0)[1]


def test_low_volts_while_plugged_in_prove_nothing():
    """A blown fuse leaves the bulk at 2 V with the plug still in: dead takes the plug out first, and a bench feed taken off."""
    on = FRESH.plugged_in().meter_showed("mine", read=230.0, known=230.0, now=0.0)
    for state in (on, bench_on(on.unplugged(), "hot")):
        after, answer = prove_dead(state, "hot", {"bulk-cap": 2.0}, meter="mine", now=5.0)
        assert not answer and "not unplugged" in answer.reason
        assert not ohms(after, 6.0)


def test_dead_allows_ohms_for_half_an_hour_and_after_the_second_reading():
    """Proven dead allows ohms; a minute later the capacitors are read again; after 30 min the proof is over."""
    state = dead_at(10.0)
    assert ohms(state, 11.0)
    late = ohms(state, 10.0 + RECOVERY)
    assert not late and "recover" in late.remedy
    again, answer = prove_dead(state, "hot", {"bulk-cap": 3.0}, meter="mine", now=75.0)
    assert answer and ohms(again, 76.0) and ohms(again, 75.0 + DEAD_LASTS)
    assert not ohms(again, 75.1 + DEAD_LASTS)
    assert again.power("hot", 75.1 + DEAD_LASTS) == "unplugged"


def test_a_clock_gone_backwards_ends_the_proof():
    """A time before the proof is not within it."""
    assert not ohms(dead_at(10.0), 9.0)


def test_replug_and_new_sitting_end_the_proof():
    """Plugged in again, or unplugged again after that, or a new sitting: proven dead no more."""
    for state in (dead_at().plugged_in(), dead_at().plugged_in().unplugged(), dead_at().unplugged(), dead_at().forgotten()):
        assert not ohms(state, 12.0)


def test_recovery_to_ten_volts_ends_the_proof():
    """Dielectric recovery that reaches 10 V at the second reading: discharge again."""
    state, answer = prove_dead(dead_at(10.0), "hot", {"bulk-cap": 12.0}, meter="mine", now=71.0)
    assert not answer and "holds 12 V" in answer.reason
    assert not ohms(state, 71.0)
    assert not ohms(saw_volts(dead_at(10.0), "hot", "bulk-cap", -15.0), 12.0)


def test_every_named_capacitor_is_read():
    """One capacitor left out is named; none worked out at all is no leave; one more added later ends the proof."""
    two = after_use().needing("hot", ("bulk-cap", "pfc-cap"))
    _, answer = prove_dead(two, "hot", {"bulk-cap": 1.0}, meter="mine", now=5.0)
    assert not answer and "pfc-cap" in answer.reason
    unknown = Islands({"hot": Island("unplugged")}, {"mine": 0.0})
    assert not prove_dead(unknown, "hot", {"C1": 1.0}, meter="mine", now=5.0)[1]
    assert not ohms(dead_at().needing("hot", ("bulk-cap", "pfc-cap")), 11.0)
    assert ohms(dead_at().needing("hot", ("bulk-cap",)), 11.0)


def test_a_capacitor_seen_charged_is_not_forgotten():
    """A capacitor that is on no list but was read at 50 V has to be read again too."""
    state = saw_volts(after_use(), "hot", "odd-cap", 50.0)
    _, answer = prove_dead(state, "hot", {"bulk-cap": 1.0}, meter="mine", now=5.0)
    assert not answer and "odd-cap" in answer.reason


def test_a_side_without_capacitors_still_wants_one_reading():
    """Where no capacitor is heavy, dead still takes at least one reading of volts."""
    state = after_use()
    assert not prove_dead(state, "cold", {}, meter="mine", now=5.0)[1]
    assert prove_dead(state, "cold", {"out-cap": 1.5}, meter="mine", now=5.0)[1]


def test_a_meter_that_showed_nothing_known_proves_nothing():
    """Live-dead-live: the same meter, this sitting, within half an hour, on a voltage known beforehand."""
    for meter, now in (("other", 5.0), ("mine", DEAD_LASTS + 1)):
        assert not prove_dead(after_use(), "hot", {"bulk-cap": 2.0}, meter=meter, now=now)[1]
    unproven = replace(after_use(), known={})
    for read, known in ((0.0, 230.0), (180.0, 230.0), (1.0, 1.0), (float("nan"), 230.0)):
        assert not unproven.meter_showed("mine", read=read, known=known, now=1.0).known
    assert unproven.meter_showed("mine", read=9.1, known=9.0, now=1.0).known


def test_exact_zero_on_a_charged_capacitor_is_doubted_until_the_source_is_read_again():
    """An open lead shows 0.0 as well: the second live of live-dead-live makes it good, by the same meter, soon."""
    state, answer = prove_dead(after_use(), "hot", {"bulk-cap": 0.0}, meter="mine", now=10.0)
    assert not answer and "open lead" in answer.reason
    assert not ohms(state, 11.0)
    assert ohms(state.meter_showed("mine", read=230.0, known=230.0, now=20.0), 21.0)
    assert not ohms(state.meter_showed("other", read=230.0, known=230.0, now=20.0), 21.0)
    assert not ohms(state.meter_showed("mine", read=0.0, known=230.0, now=20.0), 21.0)
    assert not ohms(state.meter_showed("mine", read=230.0, known=230.0, now=200.0), 201.0)


def test_volts_seen_after_a_doubted_zero_undo_it():
    """A zero that waits for the source is worth nothing once the same capacitor shows volts."""
    state, _ = prove_dead(after_use(), "hot", {"bulk-cap": 0.0}, meter="mine", now=10.0)
    state = saw_volts(state, "hot", "bulk-cap", 280.0).meter_showed("mine", read=230.0, known=230.0, now=20.0)
    assert not ohms(state, 21.0)


def test_expected_volts_make_a_zero_doubtful_too():
    """A capacitor that nobody saw charged, but that a heavy explanation leaves charged, is doubted at 0.0 just so."""
    state = FRESH.plugged_in().meter_showed("mine", read=230.0, known=230.0, now=0.0).unplugged()
    assert not prove_dead(state, "hot", {"bulk-cap": 0.0}, meter="mine", now=5.0, expected={"bulk-cap": 323.0})[1]
    assert prove_dead(state, "hot", {"bulk-cap": 0.0}, meter="mine", now=5.0, expected={"bulk-cap": 0.0})[1]


def test_falling_volts_are_trusted():
    """Read at 4 V and then at 0.0: the lead was on it, and the volts fell."""
    state = saw_volts(after_use(), "hot", "bulk-cap", 4.0)
    assert prove_dead(state, "hot", {"bulk-cap": 0.0}, meter="mine", now=10.0)[1]


def test_the_second_look_takes_only_what_was_really_charged():
    """Bulk at 300 V, the small one never above 2 V: a minute later the bulk alone is enough, and the half hour goes on from the proof."""
    state, answer = prove_dead(
        after_use().needing("hot", ("bulk-cap", "small")), "hot", {"bulk-cap": 2.0, "small": 1.0}, meter="mine", now=10.0
    )
    assert answer and state.side("hot").recovering == ("bulk-cap",)
    early, answer = prove_dead(state, "hot", {"bulk-cap": 2.0}, meter="mine", now=40.0)
    assert answer and not ohms(early, 71.0)
    assert not prove_dead(state, "hot", {"small": 1.0}, meter="mine", now=71.0)[1]
    late, answer = prove_dead(state, "hot", {"bulk-cap": 3.0}, meter="mine", now=71.0)
    assert answer and ohms(late, 72.0) and ohms(late, 10.0 + DEAD_LASTS) and not ohms(late, 10.1 + DEAD_LASTS)
    assert not ohms(prove_dead(state, "hot", {"bulk-cap": 11.0}, meter="mine", now=71.0)[0], 72.0)


def test_a_side_that_was_never_fed_nor_seen_charged_needs_no_second_look():
    """It came unpowered: what might be on its capacitors makes a zero doubtful, but nothing creeps back. After power it does."""
    came = FRESH.unplugged().meter_showed("mine", read=9.0, known=9.0, now=0.0)
    state, answer = prove_dead(came, "hot", {"bulk-cap": 0.4}, meter="mine", now=10.0, expected={"bulk-cap": 323.0})
    assert answer and ohms(state, 10.0 + 5 * RECOVERY)
    for before in (
        FRESH.plugged_in().unplugged(),
        FRESH.forgotten().unplugged(),
        bench_off(bench_on(FRESH.unplugged(), "hot"), "hot"),
    ):
        fed = before.meter_showed("mine", read=9.0, known=9.0, now=0.0)
        state, answer = prove_dead(fed, "hot", {"bulk-cap": 0.4}, meter="mine", now=10.0, expected={"bulk-cap": 323.0})
        assert answer and ohms(state, 11.0) and not ohms(state, 10.0 + RECOVERY)


def test_a_zero_made_good_counts_from_when_it_was_read():
    """The minute of recovery begins with the zero, not with the second look at the source."""
    state, _ = prove_dead(after_use(), "hot", {"bulk-cap": 0.0}, meter="mine", now=10.0)
    state = state.meter_showed("mine", read=230.0, known=230.0, now=60.0)
    assert ohms(state, 61.0) and not ohms(state, 10.0 + RECOVERY)


def test_both_leads_sides_must_be_dead():
    """Ohms across the boundary wants both sides proven dead."""
    state = dead_at()
    assert not ohms(state, 11.0, black="0V")
    both, answer = prove_dead(state, "cold", {"out-cap": 1.0}, meter="mine", now=10.5)
    assert answer and ohms(both, 11.0, black="0V")


def test_a_net_of_no_side_is_hot():
    """What nobody placed is on the mains side."""
    both, _ = prove_dead(after_use(), "cold", {"out-cap": 1.0}, meter="mine", now=10.5)
    assert may_measure(both, "r", "out", board=BOARD, now=11.0)
    assert not may_measure(both, "r", "stray", board=BOARD, now=11.0)


# ---- live readings


def test_volts_on_the_isolated_side_go_without_a_list():
    """A proven cold rail within the meter's rating is read without further ado."""
    board = replace(BOARD, confirmed=frozenset(), isolated_supply=False)
    assert may_measure(FRESH.plugged_in(), "v", "out", board=board, now=0.0, black="0V")


@pytest.mark.parametrize(
    ("change", "net", "reason"),
    [
        ({}, "drain", "switches"),
        ({"peak": {}}, "bulk", "not known"),
        ({"peak": {"bulk": float("nan")}}, "bulk", "not known"),
        ({"peak": {"bulk": 700.0}}, "bulk", "700 V peak"),
        ({"rating": 0.0}, "bulk", "meter stands 0 V"),
        ({"isolated_supply": False}, "bulk", "no isolation transformer"),
        ({"confirmed": frozenset()}, "bulk", "mains side"),
        ({"proven_cold": frozenset(), "confirmed": frozenset()}, "out", "mains side"),
        ({}, "buried", "no probe reaches"),
    ],
)
def test_no_live_reading_where_it_bites(change, net, reason):
    """Switching nodes, unknown or too high peaks, no isolation, no yes, an unproven cold side: each is a no with its reason."""
    answer = may_measure(FRESH.plugged_in(), "v", net, board=replace(BOARD, **change), now=0.0)
    assert not answer and reason in answer.reason


def test_a_confirmed_mains_reading_goes():
    """With isolation, a known peak under the rating and the yes, the bulk may be read."""
    assert may_measure(FRESH.plugged_in(), "v", "bulk", board=BOARD, now=0.0)


def test_the_claim_cold_does_not_make_the_hot_side_cold():
    """Not even a list that says so makes the mains side isolated."""
    board = replace(BOARD, proven_cold=frozenset({"hot", "cold"}), confirmed=frozenset())
    assert not may_measure(FRESH.plugged_in(), "v", "bulk", board=board, now=0.0)


def test_volts_are_how_dead_is_proven():
    """Unplugged, volts may always be read, also at a node that switches while on."""
    assert may_measure(after_use(), "v", "bulk", board=BOARD, now=1.0)
    assert may_measure(after_use(), "v", "drain", board=BOARD, now=1.0)


def test_current_in_series_is_never_proposed_on_the_mains_side():
    """Current on the mains side is read across a known resistor, in any state."""
    for state in (FRESH.plugged_in(), after_use(), dead_at()):
        answer = may_measure(state, "a", "bulk", board=BOARD, now=11.0)
        assert not answer and "across a resistor" in answer.remedy


def test_looks_need_no_probe_and_nonsense_is_no_function():
    """Looking is always possible; a function that no meter has is an error."""
    assert may_measure(FRESH, "look", "buried", board=BOARD, now=0.0)
    with pytest.raises(UnknownName):
        may_measure(dead_at(), "q", "bulk", board=BOARD, now=11.0)


# ---- words


def test_hazard_levels():
    """H0 only when dead, H3 for the mains side and whatever is not proven cold, H2 above 60 V or with energy, H1 below."""
    assert hazard("bulk", 325, proven_cold=False, dead=True) == "H0"
    assert hazard("out", 12, proven_cold=False, dead=False) == "H3"
    assert hazard("out", 12, proven_cold=True, dead=False) == "H1"
    assert hazard("out", None, proven_cold=True, dead=False) == "H2"
    assert hazard("out", 50, proven_cold=True, dead=False, energy=12.5) == "H2"


def test_the_caution_names_the_node_and_the_volts():
    """One caution: the lead that the hand finds, the node, the volts."""
    assert "banded end of D7 (out): 24 V" in caution("out", 24.0, "H1", lead="banded end of D7")
    assert caution("bulk", None, "H3").startswith("bulk: volts not known")
    assert caution("bulk", 325.0, "H0") == ""


def test_the_going_live_list():
    """Isolation, black lead and its clip, volts, each capacitor's charge, the person's own leave; without isolation none."""
    lines = live_card_confirm(
        "vcc", 15.0, black="hot-", capacitors={"bulk-cap": 323.0, "C9": None}, transformer_va=250.0, set_watts=40.0
    )
    said = " ".join(lines)
    for words in (
        "isolation transformer (250 VA)",
        "clipped on hot-",
        "vcc may show 15 V",
        "bulk-cap holds 323 V",
        "C9 holds unknown volts",
        "permitted",
    ):
        assert words in said
    for va in (None, 0.0, 79.0):
        with pytest.raises(InputError, match="no mains-side card"):
            live_card_confirm("vcc", 15.0, black="hot-", capacitors={}, transformer_va=va, set_watts=40.0)


# ---- cold side

SPLIT = Circuit(
    Unit("printer", 230, 50, "II", 40),
    (
        Part("T1", "flyback", {"p+": "bulk", "p-": "drain", "s+": "sec", "s-": "0V"}),
        Part("U2", "opto", {"a": "out", "k": "k", "c": "fb", "e": "hot-"}),
        Part("CY1", "capacitor", {"a": "hot-", "b": "0V"}),
        Part("D7", "diode", {"a": "sec", "k": "out"}),
    ),
    {"hot": "hot-", "cold": "0V"},
)


def test_the_boundary_is_what_joins_both_sides():
    """Transformer, opto and Y capacitor bridge the gap; the rectifier lies wholly on one side."""
    assert boundary_parts(SPLIT, {"sec", "0V", "out", "k"}) == ("T1", "U2", "CY1")


def test_a_claim_is_cold_only_when_named_and_read():
    """All boundary parts named, L and N above 1 Mohm, no joining fault left: go, and it says what it doesn't show."""
    good = {"ohms_l": float("inf"), "ohms_n": 4.7e6, "breach_odds": 0.001}
    answer = prove_cold(("T1", "U2"), ("U2", "T1"), **good)
    assert answer and "not the strength of the insulation" in answer.note
    assert "U2" in prove_cold(("T1", "U2"), ("T1",), **good).reason
    assert not prove_cold((), (), **good)
    for bad in (
        {"ohms_l": 0.9e6},
        {"ohms_n": 1e6},
        {"ohms_n": None},
        {"ohms_l": float("nan")},
        {"breach_odds": 0.02},
        {"breach_odds": None},
        {"breach_odds": float("nan")},
    ):
        assert not prove_cold(("T1",), ("T1",), **{**good, **bad})


# ---- switching on

FINE = SwitchOn(solved=True, damage=(Damage("C2", "volts", "V", 35.0, 24.0, 0.9),), cause_open=False)


def test_nothing_said_is_a_no():
    """Facts that nobody filled in are a no."""
    assert not may_switch_on(SwitchOn())


def test_a_sound_set_goes():
    """Solved, within every rating, nothing out, nothing convicted: go."""
    assert may_switch_on(FINE)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"protectors_out": ("TL1",)}, ("TL1", "no waiver")),
        ({"protectors_changed": ("F1",)}, ("F1", "no waiver")),
        ({"limiters_out": ("ZD1",)}, ("ZD1", "limits")),
        ({"refit": ("R21",)}, ("R21", "refit")),
        ({"bench_on": True}, ("bench supply",)),
        ({"solved": False}, ("worked out",)),
        ({"doubts": ("C1.farads",)}, ("C1.farads", "question mark")),
        ({"damage": (Damage("C2", "volts", "V", 35.0, 325.0, 0.02, "ZD1 open"),)}, ("C2", "325 V", "35 V", "ZD1 open")),
        ({"damage": (Damage("C2", "volts", "V", None, 24.0, 0.5),)}, ("C2", "not known")),
        ({"damage": (Damage("C2", "volts", "V", 35.0, None, 0.5),)}, ("C2", "not known")),
        ({"damage": (Damage("C2", "volts", "V", 35.0, float("nan"), 0.5),)}, ("C2", "not known")),
        ({"damage": (Damage("C2", "volts", "V", 35.0, -40.0, float("nan")),)}, ("C2",)),
        ({"convicted": ("Q1",), "cause_open": True}, ("Q1", "cause")),
        ({"fitted": ("Q1",)}, ("Q1", "cold gate")),
        ({"fitted": ("Q1",), "cold_gate": False}, ("Q1", "cold gate")),
        ({"isolated": True, "set_watts": 500.0, "transformer_va": 250.0}, ("250 VA", "500 W", "dummy")),
        ({"isolated": True, "set_watts": 50.0}, ("no isolation transformer",)),
        ({"isolated": True, "transformer_va": 250.0}, ("watts",)),
    ],
)
def test_each_reason_is_named_with_its_remedy(change, words):
    """Each gate by itself says no, names the part and what would make it possible."""
    answer = may_switch_on(replace(FINE, **change))
    assert not answer
    for word in words:
        assert word in str(answer)


def test_dropper_without_its_zener():
    """Case 2 of the trade page, ZD1 out: C2 of 35 V heads for 325 V [computed there]. Refused as limiter and by the volts."""
    burst = Damage("C2", "volts", "V", 35.0, 325.0, 0.9)
    assert not may_switch_on(replace(FINE, limiters_out=("ZD1",), damage=(burst,)))
    assert "C2" in may_switch_on(replace(FINE, damage=(burst,))).reason


def test_a_light_row_does_not_stop_the_job():
    """A row at or below 1 % is no reason."""
    assert may_switch_on(replace(FINE, damage=(Damage("C2", "volts", "V", 35.0, 325.0, 0.01),)))


def test_only_the_cause_may_be_waived_in_writing():
    """Name and reason waive an open cause; an empty one doesn't, and no waiver reaches a protector."""
    open_cause = replace(FINE, convicted=("Q1",), cause_open=True)
    assert may_switch_on(replace(open_cause, waiver=Waiver("A. Tech", "owner accepts the risk")))
    for waiver in (Waiver("", "owner accepts"), Waiver("A. Tech", " "), Waiver("A. Tech", "ok")):
        assert not may_switch_on(replace(open_cause, waiver=waiver))
    assert not may_switch_on(replace(open_cause, waiver=Waiver("A. Tech", "owner accepts the risk"), protectors_out=("F1",)))


# ---- bench supply


def test_bench_supply_wants_the_other_side_dead():
    """Into the cold side only while the hot side is proven dead; then ohms are allowed on the hot side, not on the fed one."""
    gate = {"volts": 14.5, "amps": 0.5, "healthy": 14.5, "weakest": 0.5, "polarity": True, "now": 11.0}
    refused = may_bench(after_use(), "cold", **gate)
    assert not refused and "hot side" in refused.reason
    assert may_bench(dead_at(), "cold", **gate)
    fed = bench_on(dead_at(), "cold")
    assert ohms(fed, 11.0) and not may_measure(fed, "r", "out", board=BOARD, now=11.0)
    assert may_measure(fed, "v", "out", board=BOARD, now=11.0)
    assert bench_off(fed, "cold").power("cold", 11.0) == "unplugged"
    assert not may_bench(FRESH.plugged_in(), "cold", **gate)


@pytest.mark.parametrize(
    "change",
    [
        {"volts": 15.0},
        {"volts": 0.0},
        {"volts": -12.0},
        {"amps": 1.0},
        {"amps": 0.0},
        {"healthy": None},
        {"weakest": None},
        {"polarity": False},
        {"now": 5000.0},
        {"volts": float("nan")},
    ],
)
def test_bench_supply_keeps_within_the_healthy_rail(change):
    """No more volts than healthy, no more amps than the weakest part, polarity in words, and the other proof still fresh."""
    gate = {"volts": 14.5, "amps": 0.5, "healthy": 14.5, "weakest": 0.5, "polarity": True, "now": 11.0}
    assert not may_bench(dead_at(), "cold", **{**gate, **change})
