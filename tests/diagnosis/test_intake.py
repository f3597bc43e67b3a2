"""What the customer says moves the odds. Factors: bench estimates of the intake table of the trade page, section 1.1."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.diagnosis.intake import BOUNDS, TABLE, RowWords, nothing_wrong_odds, said_wrong, symptom_odds

MOV = RowWords(("varistor", "varistor"), "short")
BULK = RowWords(("bulk-cap", "electrolytic"), "short")
OUT = RowWords(("out-cap", "electrolytic"), "drift")
START = RowWords(("start-up-R", "resistor"), "open")
VCC = RowWords(("vcc-cap", "electrolytic"), "drift")
JOINT = RowWords(("joint",), "open")
LINK = RowWords(("link", "thermal-link"), "open")


def factor(symptom: str, row: RowWords) -> float:
    return float(symptom_odds((symptom,), (row,)).factors[0])


@pytest.mark.parametrize(
    ("symptom", "row", "wanted"),
    [
        ("bang at switch-on", MOV, 10.0),
        ("Breaker tripped", BULK, 10.0),
        ("fuse black", BULK, 10.0),
        ("bang", OUT, 0.3),
        ("found dead in the morning", START, 5.0),
        ("always on standby, dead", VCC, 5.0),
        ("SLOW TO START", OUT, 8.0),
        ("ticks, then runs", VCC, 24.0),  # 8 for the tired electrolytic and 3 for the tick
        ("stops when warm", JOINT, 6.0),
        ("dead after storms", MOV, 10.0),
        ("wrong supply voltage", LINK, 10.0),
    ],
)
def test_each_answer_moves_the_suspects_of_its_line(symptom, row, wanted):
    """An answer in any case or number moves the suspects of its own line by the table's factor."""
    assert factor(symptom, row) == pytest.approx(min(wanted, BOUNDS[1]))


@pytest.mark.parametrize("symptom", ["no bang, just dead", "fuse not black", "never smelt anything", "without smoke"])
def test_a_denied_phrase_is_not_heard(symptom):
    """ "No bang" is no bang."""
    assert factor(symptom, MOV) <= 1.0
    assert "bang" not in symptom_odds((symptom,), ()).heard


def test_a_good_fuse_speaks_against_a_primary_short():
    """A fuse found good: the switch is not shorted in at least 95 of 100 (bench estimate)."""
    assert factor("dead, fuse good", BULK) == pytest.approx(0.05)
    assert factor("dead, fuse good", START) == 1.0


def test_each_factor_names_the_phrase_that_caused_it():
    """A moved suspect can say which words moved it, an unmoved one says nothing."""
    odds = symptom_odds(("dead in the morning", "bang"), (START, MOV, LINK))
    assert odds.why[0] == (("dead in the morning", 5.0),)
    assert odds.why[1] == (("bang", 10.0),)
    assert odds.why[2] == ()


def test_a_storm_drops_the_single_fault_assumption():
    """After a storm several unrelated parts are to be thought of."""
    assert symptom_odds(("lightning strike",), ()).several
    assert not symptom_odds(("dead",), ()).several


def test_somebody_inside_asks_for_a_look_first():
    """An earlier repair moves nobody but asks for an inspection before all else."""
    odds = symptom_odds(("another shop fitted a bigger fuse",), (MOV,))
    assert odds.advice[0].startswith("inspect before all else")
    assert odds.several


@pytest.mark.parametrize(
    ("symptom", "wanted"),
    [
        ("dead, fuse good", {"dead", "fuse intact"}),
        ("display resets every 2s at bake", {"resets"}),
        ("display blanks, beeps, starts again", {"resets"}),
        ("ticks every 1.1s; battery was boiled", {"hiccup", "high output"}),
        ("blew its fuse; fitted another; blew again", {"fuse open"}),
        ("rollers turn, never ready", {"no output"}),
        ("doesn\u2019t start", {"dead"}),
        ("half-dead", {"half dead"}),
    ],
)
def test_what_is_said_wrong(symptom, wanted):
    """The symptom lines of the trade's own cases say what they say."""
    assert said_wrong((symptom,)) == wanted


def test_nothing_wrong_is_likelier_only_when_it_comes_and_goes():
    """0.15 where it works now or comes and goes, else 0.004 (bench estimates)."""
    for symptom in ("works now", "Intermittent", "intermittently dead", "works on the bench"):
        assert nothing_wrong_odds((symptom,)) == 0.15
    for symptom in ("dead", "not working on the bench", "never works now"):
        assert nothing_wrong_odds((symptom,)) == 0.004


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from([p for answer in TABLE for p in answer.phrases] + ["dead", "xyzzy", "no", ""]), max_size=6))
def test_any_symptom_leaves_every_suspect_possible(symptom):
    """No words of a customer rule anything out or in: factors stay finite and within their bounds."""
    odds = symptom_odds(tuple(symptom), (MOV, BULK, OUT, START, VCC, JOINT, LINK))
    assert np.all(odds.factors >= BOUNDS[0]) and np.all(odds.factors <= BOUNDS[1])


def test_every_phrase_of_the_table_is_heard_as_written():
    """Each phrase of the table is understood when a person says just that, whatever the case and the stops."""
    for answer in TABLE:
        for phrase in answer.phrases:
            assert symptom_odds((phrase.upper() + ".",), ()).heard, phrase
