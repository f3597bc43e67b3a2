"""Reading lines: the notation's own table, its traps, and what is asked instead of guessed."""

from __future__ import annotations

import math
import re
import statistics
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from halfsplit.errors import EntryError, InputError, UnknownName
from halfsplit.jobs.entry import CardView, Names, ReadingEntry, StateEntry, Sticky, parse_line
from halfsplit.jobs.entry_types import Entry

PINS = {
    "C1": {"+": "bulk", "-": "hot-"},
    "bulk-cap": {"+": "bulk", "-": "hot-"},
    "C2": {"+": "+24", "-": "0V"},
    "C7": {"+": "vcc", "-": "hot-"},
    "vcc-cap": {"+": "vcc", "-": "hot-"},
    "D2": {"a": "drain", "k": "clamp"},
    "R3": {"a": "bulk", "b": "start"},
    "R14": {"1": "out", "2": "led"},
    "R21": {"1": "out", "2": "fb"},
    "R27": {"a": "src", "b": "hot-"},
    "TH1": {"1": "mt", "2": "N"},
    "K1": {"c+": "+24", "c-": "kd", "com": "live", "no": "heat"},
    "Q2": {"1": "N", "2": "mt", "g": "g"},
    "Q4": {"b": "b4", "c": "c4", "e": "0V"},
    "U2": {"a": "led", "k": "u3k", "c": "fb1", "e": "hot-"},
    "U3": {"a": "0V", "k": "u3k", "r": "fb"},
}
ENDS = {
    "C1": "+-",
    "bulk-cap": "+-",
    "C2": "+-",
    "C7": "+-",
    "vcc-cap": "+-",
    "D2": "ak",
    "R3": "ab",
    "R14": "12",
    "R21": "12",
    "R27": "ab",
    "TH1": "12",
}
BOARD = Names(
    nets=tuple(dict.fromkeys(n for pins in PINS.values() for n in pins.values())) + ("earth", "batt", "gate", "-12V", "+5"),
    parts=tuple(PINS),
    pins=PINS,
    controls=("bake", "knead"),
    across={part: (ends[0], ends[1]) for part, ends in ENDS.items()},
    aliases={
        "Q4": {"ce": ("c", "e"), "be": ("b", "e"), "b": ("b",), "c": ("c",), "e": ("e",)},
        "K1": {"coil": ("c+", "c-"), "no": ("com", "no")},
    },
    kinds=("bulk-cap", "vcc-cap", "mov", "latch", "rectifier", "start-up-R", "npn"),
)

ON = Sticky(power="on", black="0V")
DEAD = Sticky(power="dead", black="hot-")
ROUND = CardView(probes=(("R3", "r"), ("R14", "r"), ("R21", "r"), ("D2", "d"), ("D2", "d")))


def one(line: str, sticky: Sticky = ON, card: CardView | None = None) -> Any:
    entries = parse_line(line, BOARD, sticky, card)
    assert len(entries) == 1
    assert entries[0].text == line
    return entries[0]


def fields(entry: Entry, *names: str) -> tuple[Any, ...]:
    return tuple(getattr(entry, n) for n in names)


# Line, sticky state, then what the notation says it means (read: the notation's table of reading lines).
TABLE: list[tuple[str, Sticky, dict[str, Any]]] = [
    ("+24 24.0", ON, {"red_net": "+24", "black_net": "0V", "function": "v", "value": 24.0, "part": None, "shown": "24.0"}),
    ("C1 166", ON, {"part": "C1", "red_net": "bulk", "black_net": "hot-", "pins": ("+", "-"), "function": "v", "value": 166.0}),
    (
        "U3.k to 0V 13.4",
        ON,
        {"red_net": "u3k", "black_net": "0V", "part": "U3", "pins": ("k",), "value": 13.4, "black_said": True},
    ),
    ("+24 24.0>6.2 1.2s", ON, {"first": 24.0, "value": 6.2, "within": 1.2, "function": "v", "every": None}),
    (
        "out 3..9 max 17.2 every 1.1s",
        ON,
        {"lo": 3.0, "hi": 9.0, "value": None, "max": 17.2, "every": 1.1, "flags": frozenset({"pulsing"})},
    ),
    ("out 3..9", ON, {"lo": 3.0, "hi": 9.0, "function": "v"}),
    ("out max 17.2", ON, {"max": 17.2, "value": None, "function": "v"}),
    ("out every 1.1s", ON, {"every": 1.1, "value": None}),
    ("D2 1.0/1.0 r", DEAD, {"function": "r", "value": 1.0, "value2": 1.0, "red_net": "drain", "black_net": "clamp"}),
    ("R21 OL lifted", DEAD, {"value": math.inf, "flags": frozenset({"lifted"}), "function": None, "part": "R21"}),
    ("C1 0.221u removed", DEAD, {"function": "c", "value": 0.221e-6, "flags": frozenset({"removed"})}),
    ("U2.ce 38k", Sticky(power="bench", black="0V"), {"function": "r", "value": 38e3, "red_net": "fb1", "black_net": "hot-"}),
    ("bad: TH1 119ac after tap K1", ON, {"mark": "bad", "function": "ac", "value": 119.0, "after": "tap K1"}),
    ("ok: TH1 0.1ac", ON, {"mark": "ok", "function": "ac", "value": 0.1}),
    (
        "Q4.ce 3.26 twin 2.51",
        ON,
        {"value": 3.26, "twin": 2.51, "pins": ("c", "e"), "red_net": "c4", "black_net": "0V", "of_twin": False},
    ),
    ("R3 188k creeping", DEAD, {"value": 188e3, "function": "r", "flags": frozenset({"creeping"})}),
    ("vcc 9.3 shaky", ON, {"value": 9.3, "flags": frozenset({"shaky"})}),
    (
        "0V to earth 63ac lo-z",
        ON,
        {"red_net": "0V", "black_net": "earth", "function": "ac", "value": 63.0, "flags": frozenset({"lo-z"})},
    ),
    ("vcc 9.3", ON, {"value": 9.3, "function": "v"}),
    ("vcc-cap 3.1 esr", DEAD, {"function": "esr", "value": 3.1, "part": "vcc-cap"}),
]


@pytest.mark.parametrize(("line", "sticky", "means"), TABLE, ids=[t[0] for t in TABLE])
def test_a_line_means_what_the_notation_says(line: str, sticky: Sticky, means: dict[str, Any]) -> None:
    """Every reading line of the table comes out with the values it shows."""
    entry = one(line, sticky)
    assert isinstance(entry, ReadingEntry)
    assert means == {name: getattr(entry, name) for name in means}


def test_a_whole_round_goes_in_at_once() -> None:
    """Several bare values fill the card's probes in their order, each with its probe's function."""
    entries = parse_line("220k 218k OL 0.48/OL 0.6", BOARD, DEAD, ROUND)
    got = [fields(e, "card", "part", "function", "value", "value2") for e in entries]
    assert got == [
        (0, "R3", "r", 220e3, None),
        (1, "R14", "r", 218e3, None),
        (2, "R21", "r", math.inf, None),
        (3, "D2", "d", 0.48, math.inf),
        (4, "D2", "d", 0.6, None),
    ]


def test_one_bare_value_answers_the_first_probe_and_too_many_are_refused() -> None:
    """A bare value without a card, or one more than it asks for, says what to do."""
    card = CardView(probes=(("vcc", "v"), ("out", "v")))
    assert fields(one("9.3 shaky", ON, card), "where", "value", "flags", "card") == ("vcc", 9.3, frozenset({"shaky"}), 0)
    assert [e.flags for e in parse_line("9.3 14 shaky", BOARD, ON, card) if isinstance(e, ReadingEntry)] == [set(), {"shaky"}]
    with pytest.raises(EntryError, match="3 values, but the card asks for 2: vcc, out"):
        parse_line("9.3 1 2", BOARD, ON, card)
    with pytest.raises(EntryError, match="say where"):
        parse_line("9.3", BOARD, ON)


def test_two_functions_in_one_line_are_two_readings() -> None:
    """`C2 462u 0.12esr`; an act on the part holds for both."""
    entries = parse_line("C2 462u 0.12esr removed", BOARD, DEAD)
    assert [fields(e, "function", "value", "flags") for e in entries] == [("c", 462e-6, {"removed"}), ("esr", 0.12, {"removed"})]


def test_two_values_of_one_function_are_refused() -> None:
    """Both ways round has its own notation; anything else would be a guess."""
    with pytest.raises(EntryError, match="both ways round is 0.48/OL"):
        parse_line("C1 166 168", BOARD, ON)


@pytest.mark.parametrize(
    ("power", "function"), [("on", "v"), ("dead", None), ("unplugged", None), ("unknown", None), ("bench", None)]
)
def test_a_free_number_is_volts_while_on_and_asked_otherwise(power: str, function: str | None) -> None:
    """`0.58` on a dead set could be ohms or a diode: the job asks one key, the parser never guesses."""
    assert one("D2 0.58", Sticky(power=power)).function == function


@pytest.mark.parametrize(
    ("value", "function", "number"),
    [
        ("4k7", "r", 4700.0),
        ("0.22u", "c", 0.22e-6),
        ("119ac", "ac", 119.0),
        ("0.12esr", "esr", 0.12),
        ("0.58d", "d", 0.58),
        ("0.58 d", "d", 0.58),
        ("12V", "v", 12.0),
        ("119 ac", "ac", 119.0),
        ("0.43M", "r", 0.43e6),
        ("50Hz", "hz", 50.0),
        ("0.3A", "a", 0.3),
        ("100R", "r", 100.0),
        ("4.70 kohm", "r", 4700.0),
        ("OL r", "r", math.inf),
        ("OLd", "d", math.inf),
        ("20m v", "v", 0.02),
        ("4,7k", "r", 4700.0),
        ("0.22\u00b5", "c", 0.22e-6),
        ("\u22120.5 v", "v", -0.5),
        ("104 v", "v", 104.0),
    ],
)
def test_a_unit_settles_the_function(value: str, function: str, number: float) -> None:
    """Whatever the power state, a value with a unit or function word is never asked about."""
    for power in ("dead", "unknown", "on"):
        assert fields(one(f"C1 {value}", Sticky(power=power)), "function", "value") == (function, number)


def test_a_doubtful_value_is_shaky() -> None:
    """`~` and `?` beside a value say how sure it is."""
    assert one("vcc 9.3?").flags == {"shaky"}
    assert one("vcc ~9.3").flags == {"shaky"}


def test_a_place_on_the_card_takes_the_cards_function() -> None:
    """`bulk-cap 120` after a card that asks ohms there is ohms; ESR shown in ohms stays ESR; volts typed stay volts."""
    card = CardView(probes=(("bulk-cap", "r"), ("vcc-cap", "esr")))
    assert fields(one("bulk-cap 120", DEAD, card), "function", "card") == ("r", 0)
    assert fields(one("C1 120", DEAD, card), "function", "card") == (None, None)
    assert fields(one("vcc-cap 0.3R", DEAD, card), "function", "card") == ("esr", 1)
    assert one("bulk-cap 2V", DEAD, card).function == "v"
    assert one("119ac", ON, CardView(probes=(("TH1", "v"),))).function == "ac"


def test_sticky_state_is_never_retyped() -> None:
    """Black lead, mark and twin come from the prompt; a mark in the line wins."""
    sticky = Sticky(power="on", black="hot-", twin=True, ok_bad="bad")
    assert fields(one("gate 2.1", sticky), "black_net", "black_said", "mark", "of_twin") == ("hot-", False, "bad", True)
    assert one("ok: gate 2.1", sticky).mark == "ok"
    assert one("gate 2.1", Sticky(power="on")).black_net is None


# --- traps (read: the notation's list of traps met while trying) ---


@pytest.mark.parametrize(
    "verb", ["out", "off", "on", "lamp", "no", "see", "dead", "was", "same", "y", "why", "lift", "way", "max", "twin"]
)
def test_a_verb_never_hides_a_net(verb: str) -> None:
    """A net may have any name: with a value behind it, it is the net that is read."""
    names = Names(nets=(verb, "0V"))
    for line in (f"{verb} max 17.2", f"{verb} 5.1", f"{verb} to 0V 5.1"):
        (entry,) = parse_line(line, names, ON)
        assert isinstance(entry, ReadingEntry)
        assert entry.red_net == verb


def test_a_verb_still_works_beside_a_net_of_its_name() -> None:
    """Without a value the line is no reading, so `off` switches off."""
    (entry,) = parse_line("off", Names(nets=("off", "0V")), ON)
    assert isinstance(entry, StateEntry)
    assert entry.kind == "off"
    (dead,) = parse_line("dead R1 3V", Names(nets=("dead",), parts=("R1",)), ON)
    assert isinstance(dead, StateEntry)
    assert dead.dead == (("R1", 3.0),)


def test_black_needs_to() -> None:
    """`+24 0V` reads 0 volts, although 0V is a net too."""
    assert fields(one("+24 0V"), "red_net", "black_net", "value", "function") == ("+24", "0V", 0.0, "v")
    assert fields(one("+24 0V", DEAD), "black_net", "value", "function") == ("hot-", 0.0, "v")
    with pytest.raises(UnknownName, match="word 'hot-'"):
        parse_line("+24 hot- 5", BOARD, ON)
    with pytest.raises(EntryError, match="black needs `to`"):
        parse_line("+24 R27 5", BOARD, ON)


def test_a_net_alone_is_never_taken_for_a_value() -> None:
    """`+24` with Enter too early is no 24 V for the card: it is refused, and the text shows both ways on."""
    card = CardView(probes=(("out", "v"),))
    for word in ("+24", "0V", "R27"):
        with pytest.raises(EntryError, match=rf"`out {re.escape(word)}`"):
            parse_line(word, BOARD, ON, card)
    assert fields(one("out 0V", ON, card), "where", "value", "card") == ("out", 0.0, 0)
    assert one("24", ON, card).value == 24.0


def test_an_unknown_designator_is_never_taken_for_a_value() -> None:
    """R8 could be read as 0.8 ohm; with R8 not on the board the line is refused, also while a round is open."""
    with pytest.raises(UnknownName, match="no part 'R8'"):
        parse_line("R8 330", BOARD, DEAD, ROUND)


def test_minus_signs_and_capitals_do_not_make_new_names() -> None:
    """A real minus is the same net; any case will do unless only the case tells two nets apart."""
    assert one("\u221212V 5.0").red_net == "-12V"
    assert one("VCC 5.0").red_net == "vcc"
    names = Names(nets=("n", "N"))
    assert [e.red_net for e in parse_line("N 5", names, ON) if isinstance(e, ReadingEntry)] == ["N"]
    with pytest.raises(EntryError, match="Ab or AB"):
        parse_line("ab 5", Names(nets=("Ab", "AB")), ON)


@pytest.mark.parametrize(
    ("where", "red", "black"),
    [
        ("Q2.21", "mt", "N"),
        ("K1.coil", "+24", "kd"),
        ("K1.c+c-", "+24", "kd"),
        ("R14.1", "out", "0V"),
        ("q4.be", "b4", "0V"),
        ("D2", "drain", "clamp"),
        ("K1.no", "live", "heat"),
        ("K1.no to N", "heat", "N"),
        ("0V to K1.no", "0V", "heat"),
    ],
)
def test_legs_are_found_by_name_or_by_two_names(where: str, red: str, black: str) -> None:
    """Aliases of the family, two legs written together, or one leg against the sticky black."""
    assert fields(one(f"{where} 5.0"), "red_net", "black_net") == (red, black)


def test_a_function_may_stand_before_its_value() -> None:
    """Said as it is read aloud: `C2 esr 0.12`, and two of them in a line."""
    assert fields(one("C2 esr 0.12"), "function", "value") == ("esr", 0.12)
    both = parse_line("C2 c 462u esr 0.12", BOARD, DEAD)
    assert [fields(e, "function", "value") for e in both] == [("c", pytest.approx(462e-6)), ("esr", 0.12)]
    assert [fields(e, "function", "value") for e in parse_line("R3 4.7 r", BOARD, DEAD)] == [("r", 4.7)]


@pytest.mark.parametrize(
    ("line", "error", "said"),
    [
        ("vccc 5", UnknownName, "did you mean vcc"),
        ("Q4.x 5", UnknownName, "leg of Q4"),
        ("Q4 5", EntryError, "say the two"),
        ("vcc 5 wobbly", UnknownName, "no word 'wobbly'"),
        ("vcc", EntryError, "no value"),
        ("vcc lifted 5", EntryError, "name the part"),
        ("vcc 5q", InputError, "5q"),
        ("vcc 5W", EntryError, "nothing a meter shows"),
        ("R3 4k7 c", InputError, "4k7"),
        ("C2 462u/3k", EntryError, "mixes"),
        ("vcc to", EntryError, "black to what"),
        ("D2 to 0V 5", EntryError, "both leads already"),
        ("vcc max", EntryError, "wants its value"),
        ("vcc twin esr", EntryError, "no value"),
        ("+24 twin R3", EntryError, "names a part"),
        ("vcc twin", EntryError, "no value"),
        ("vcc 5 after", EntryError, "after what"),
        ("vcc r", EntryError, "has no value"),
        ("vcc r lifted", EntryError, "no value"),
        ("vcc 5 r d", EntryError, "both r and d"),
        ("vcc 1..2..3", InputError, "1..2|2..3"),
        ("vcc 5>", InputError, "no value"),
        ("C1 20m", InputError, "unit"),
        ("vcc 5\t6", EntryError, "tab"),
        ("", EntryError, "nothing was typed"),
        ("ok: off", EntryError, "its own line"),
        ("R3 -5 r", InputError, "negative"),
        ("out 5 every 0s", EntryError, "time"),
    ],
)
def test_what_is_not_understood_says_so_with_the_remedy(line: str, error: type[Exception], said: str) -> None:
    """Unknown words show the nearest names; a value that cannot be says why."""
    with pytest.raises(error, match=said):
        parse_line(line, BOARD, DEAD)


def test_the_median_reading_needs_twelve_keys_at_most() -> None:
    """Over the reading lines of the notation: characters and Enter, for each meter value that the line carries."""
    keys: list[float] = []
    lines = [(line, sticky, None) for line, sticky, _ in TABLE]
    for line, sticky, card in [*lines, ("220k 218k OL 0.48/OL 0.6", DEAD, ROUND), ("C2 462u 0.12esr", DEAD, None)]:
        readings = [e for e in parse_line(line, BOARD, sticky, card) if isinstance(e, ReadingEntry)]
        count = sum(max(1, e.count) for e in readings)
        keys += [(len(line) + 1) / count] * count
    assert len(keys) > len(TABLE)
    assert statistics.median(keys) <= 12


def test_the_median_plain_line_needs_twelve_keys_at_most() -> None:
    """The same without counting values: lines that carry one value and nothing about how it stood."""
    plain = [line for line, sticky, _ in TABLE if (e := one(line, sticky)).count == 1 and not (e.flags or e.mark or e.after)]
    assert len(plain) >= 6
    assert statistics.median(len(line) + 1 for line in plain) <= 12


WORDS = st.sampled_from(
    [
        *BOARD.nets,
        *BOARD.parts,
        "Q4.ce",
        "R14.1",
        "to",
        "max",
        "min",
        "every",
        "twin",
        "after",
        "OL",
        "0.48/OL",
        "3..9",
        "24>6",
        "1.2s",
        "4k7",
        "5",
        "esr",
        "r",
        "d",
        "lifted",
        "creeping",
        "off",
        "on",
        "dead",
        "lamp",
        "press",
        "bake",
        "bench",
        "black",
        "was",
        "no",
        "3",
        "cant",
        "see",
        "nothing",
        "lift",
        "refit",
        "same",
        "why",
        "C9",
        "bulk-cap",
        "mov",
        ";",
        "ok:",
        "bad:",
        "unit:",
        "way",
        "y",
        "~",
        "?",
        ".",
        "/",
        ">",
        "\u221e",
    ]
)


@settings(max_examples=600, deadline=None, derandomize=True)
@given(
    st.one_of(
        st.text(max_size=25),
        st.lists(WORDS, max_size=7).map(" ".join),
        st.lists(WORDS | st.text(max_size=4), max_size=5).map("".join),
    ),
    st.sampled_from(["unknown", "dead", "on", "bench"]),
    st.sampled_from([None, ROUND, CardView(answers=("y", "1"))]),
)
@example("no \u00b2", "on", None)
@example("dead C1 " + "9" * 400, "dead", ROUND)
def test_no_line_breaks_the_parser(line: str, power: str, card: CardView | None) -> None:
    """Whatever is typed: entries that keep the line, or an InputError with a text; never anything else."""
    try:
        entries = parse_line(line, BOARD, Sticky(power=power, black="0V"), card)
    except InputError as refused:
        assert len(str(refused)) > 10
        return
    assert entries
    for entry in entries:
        assert entry.text == line
        if isinstance(entry, ReadingEntry):
            assert entry.red_net in BOARD.nets
            assert entry.count or entry.every is not None
            assert not any(isinstance(v, float) and math.isnan(v) for v in vars(entry).values())
