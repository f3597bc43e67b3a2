"""Lines that are no reading: states, acts, looks, bindings, corrections, questions."""

from __future__ import annotations

from typing import Any

import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.errors import EntryError, InputError, UnknownName
from halfsplit.jobs.entry import (
    ActEntry,
    AnswerEntry,
    AskEntry,
    BindEntry,
    CantEntry,
    CardView,
    CorrectEntry,
    Entry,
    LookEntry,
    ModeEntry,
    Names,
    ReadingEntry,
    SameEntry,
    SheetEntry,
    StateEntry,
    Sticky,
    StrikeEntry,
    WaiveEntry,
    names_of,
    parse_line,
)
from halfsplit.parts.base import Family

BOARD = Names(
    nets=("bulk", "hot-", "out", "0V", "batt", "gate"),
    parts=("C1", "bulk-cap", "C7", "R14", "R21", "TL1", "F1", "Q4", "FAN1"),
    pins={
        "C1": {"+": "bulk", "-": "hot-"},
        "R14": {"1": "out", "2": "0V"},
        "Q4": {"c": "out", "b": "gate", "e": "0V"},
        "FAN1": {"a": "out", "b": "0V"},
    },
    across={"C1": ("+", "-"), "R14": ("1", "2")},
    controls=("bake", "full speed"),
    kinds=("mov", "latch", "rectifier", "start-up-R", "npn", "vcc-cap"),
)
ON = Sticky(power="on", black="0V")


def parse(line: str, card: CardView | None = None, names: Names = BOARD) -> Any:
    (entry,) = parse_line(line, names, ON, card)
    assert entry.text == line
    return entry


@pytest.mark.parametrize(
    ("line", "means"),
    [
        ("off", StateEntry(text="off", kind="off")),
        ("unplug", StateEntry(text="unplug", kind="off")),
        ("on", StateEntry(text="on", kind="on")),
        ("dead", StateEntry(text="dead", kind="dead")),
        ("dead C1 3V", StateEntry(text="dead C1 3V", kind="dead", dead=(("C1", 3.0),))),
        (
            "dead bulk-cap 2V C7 0.4",
            StateEntry(text="dead bulk-cap 2V C7 0.4", kind="dead", dead=(("bulk-cap", 2.0), ("C7", 0.4))),
        ),
        ("lamp 60", StateEntry(text="lamp 60", kind="lamp", lamp=60.0)),
        ("lamp 60W", StateEntry(text="lamp 60W", kind="lamp", lamp=60.0)),
        ("lamp none", StateEntry(text="lamp none", kind="lamp")),
        ("direct", StateEntry(text="direct", kind="lamp")),
        ("press bake", StateEntry(text="press bake", kind="press", control="bake")),
        ("release Full speed", StateEntry(text="release Full speed", kind="release", control="full speed")),
        ("bench out 14.5V 0.5A", StateEntry(text="bench out 14.5V 0.5A", kind="bench", net="out", volts=14.5, amps=0.5)),
        (
            "bench out 14.5V 0.5A plus",
            StateEntry(text="bench out 14.5V 0.5A plus", kind="bench", net="out", volts=14.5, amps=0.5, value="plus"),
        ),
        ("dead 9V C1 3V", StateEntry(text="dead 9V C1 3V", kind="dead", dead=(("C1", 3.0),), before=9.0)),
        (
            "dead 9.1V C1 0 230ac",
            StateEntry(text="dead 9.1V C1 0 230ac", kind="dead", dead=(("C1", 0.0),), before=9.1, after=230.0),
        ),
        ("meter 9V", StateEntry(text="meter 9V", kind="meter", before=9.0, known=9.0)),
        ("meter 9.2V 9V", StateEntry(text="meter 9.2V 9V", kind="meter", before=9.2, known=9.0)),
        (
            "waive A. Person: owner saw it",
            WaiveEntry(text="waive A. Person: owner saw it", name="A. Person", reason="owner saw it"),
        ),
        ("bench none", StateEntry(text="bench none", kind="bench")),
        ("black hot-", StateEntry(text="black hot-", kind="black", net="hot-")),
        ("black C1.-", StateEntry(text="black C1.-", kind="black", net="hot-")),
        ("bad:", StateEntry(text="bad:", kind="mark", value="bad")),
        ("unmarked", StateEntry(text="unmarked", kind="mark")),
        ("twin", StateEntry(text="twin", kind="twin", value="on")),
        ("twin off", StateEntry(text="twin off", kind="twin")),
        ("lift R14.1", ActEntry(text="lift R14.1", act="lift", part="R14", pin="1")),
        ("lift R14", ActEntry(text="lift R14", act="lift", part="R14")),
        ("unplug batt", ActEntry(text="unplug batt", act="unplug", net="batt")),
        ("unplug FAN1", ActEntry(text="unplug FAN1", act="unplug", part="FAN1")),
        ("remove C7", ActEntry(text="remove C7", act="remove", part="C7")),
        ("fit F1 T3.15A", ActEntry(text="fit F1 T3.15A", act="fit", part="F1", words="T3.15A")),
        ("refit R21", ActEntry(text="refit R21", act="refit", part="R21")),
        ("bridge C7 100u", ActEntry(text="bridge C7 100u", act="bridge", part="C7", words="100u")),
        ("see lamp flash, dull", LookEntry(text="see lamp flash, dull", sense="see", where="lamp", signs=("flash", "dull"))),
        ("see C7 domed", LookEntry(text="see C7 domed", sense="see", where="C7", signs=("domed",))),
        ("see nothing", LookEntry(text="see nothing", sense="see", where=None, signs=("nothing",))),
        ("smell C7 fish", LookEntry(text="smell C7 fish", sense="smell", where="C7", signs=("fish",))),
        (
            "bad: see lamp bright",
            LookEntry(text="bad: see lamp bright", mark="bad", sense="see", where="lamp", signs=("bright",)),
        ),
        ("C5 bulk-cap 68u 400V", BindEntry(text="C5 bulk-cap 68u 400V", refs="C5", word="bulk-cap", rest="68u 400V")),
        ("C7 vcc-cap", BindEntry(text="C7 vcc-cap", refs="C7", word="vcc-cap")),
        (
            "R3+R4 start-up-R 220k+220k",
            BindEntry(text="R3+R4 start-up-R 220k+220k", refs="R3+R4", word="start-up-R", rest="220k+220k"),
        ),
        ("no mov", BindEntry(text="no mov", refs="", word="mov", absent=True)),
        ("no", StrikeEntry(text="no")),
        ("no 3", StrikeEntry(text="no 3", number=3)),
        ("strike 7", StrikeEntry(text="strike 7", number=7)),
        ("undo", StrikeEntry(text="undo")),
        ("black was hot-", CorrectEntry(text="black was hot-", black="hot-")),
        ("black was hot- 3", CorrectEntry(text="black was hot- 3", black="hot-", count=3)),
        ("cant gate", CantEntry(text="cant gate", where="gate", net="gate")),
        ("can't reach Q4.b", CantEntry(text="can't reach Q4.b", where="Q4.b", net="gate", part="Q4", pins=("b",))),
        ("cant Q4", CantEntry(text="cant Q4", where="Q4", part="Q4")),
        ("same", SameEntry(text="same")),
        ("why", AskEntry(text="why", word="why")),
        ("why 2", AskEntry(text="why 2", word="why", about="2")),
        ("others", AskEntry(text="others", word="others")),
        ("tell", AskEntry(text="tell", word="tell")),
        ("suspects", AskEntry(text="suspects", word="suspects")),
        ("follow", ModeEntry(text="follow", mode="follow")),
        ("lead", ModeEntry(text="lead", mode="lead")),
        ("y", AnswerEntry(text="y", answer="y")),
        ("Yes", AnswerEntry(text="Yes", answer="y")),
        ("n", AnswerEntry(text="n", answer="n")),
        ("way L F1(T10A) live", SheetEntry(text="way L F1(T10A) live", key="way", words="L F1(T10A) live")),
        ("symptom: dead, fuse good", SheetEntry(text="symptom: dead, fuse good", key="symptom", words="dead, fuse good")),
        ("unit: printer, 230V", SheetEntry(text="unit: printer, 230V", key="unit", words="printer, 230V")),
        ("START: flyback", SheetEntry(text="START: flyback", key="start", words="flyback")),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_line_is_the_entry_that_the_notation_says(line: str, means: Entry) -> None:
    """Every line of the notation that is no reading, field for field."""
    assert means == parse(line)


def test_a_misread_value_is_corrected_by_number_or_the_last() -> None:
    """`was 0.43M`, `no 3 was ...`, `3 was ...`; without a unit the old function holds."""
    for line, number in (("was 0.43M", None), ("no 3 was 0.43M", 3), ("3 was 0.43M", 3)):
        entry = parse(line, CardView(probes=(("gate", "v"),)))
        assert isinstance(entry, CorrectEntry)
        assert isinstance(entry.reading, ReadingEntry)
        assert (entry.number, entry.reading.value, entry.reading.function) == (number, 430e3, "r")
    assert parse("was 23.9").reading.function is None


def test_several_bindings_stand_between_semicolons() -> None:
    """`D8//D9 rectifier; no mov; no latch` is three entries."""
    entries = parse_line("D8//D9 rectifier; no mov; no latch", BOARD, ON)
    assert [(e.refs, e.word, e.absent) for e in entries if isinstance(e, BindEntry)] == [
        ("D8//D9", "rectifier", False),
        ("", "mov", True),
        ("", "latch", True),
    ]


def test_an_open_question_takes_its_own_answers_first() -> None:
    """`1` answers a question that offers 1; otherwise it is a value for the card."""
    asked = CardView(probes=(("out", "v"),), answers=("1", "2", "r"))
    assert parse("1", asked) == AnswerEntry(text="1", answer="1")
    assert parse("R", asked).answer == "r"
    assert parse("1", CardView(probes=(("out", "v"),))).value == 1.0
    assert parse("3", asked).value == 3.0


def test_bare_volts_answer_the_card_and_a_source_stands_at_its_ends() -> None:
    """In the card's order; one value more is the source, before them while the meter is to be proven, else after."""
    card = CardView(caps=("C1", "C7"))
    read = (("C1", 3.0), ("C7", 0.0))
    assert (parse("dead 3 0", card).dead, parse("dead 3 0", card).before) == (read, None)
    assert (parse("dead 3 0 9V", card).dead, parse("dead 3 0 9V", card).after) == (read, 9.0)
    prove = CardView(caps=("C1", "C7"), prove=True)
    assert (parse("dead 9V 3 0", prove).dead, parse("dead 9V 3 0", prove).before) == (read, 9.0)
    both = parse("dead 9V 3 0 9V", prove)
    assert (both.dead, both.before, both.after) == (read, 9.0, 9.0)
    for line in ("dead 3", "dead 9V 3 0 9V 1"):
        with pytest.raises(EntryError, match="C1, C7"):
            parse(line, card)


def test_off_is_not_dead() -> None:
    """Switching off carries no volts; only `dead` does, and only as read."""
    assert parse("off").dead == ()
    for line in (
        "dead C1",
        "dead 3V",
        "dead 3V C1 1V",
        "dead C1 1V C7 2V 3V",
        "meter",
        "meter 4V",
        "meter OL",
        "meter 7V 9V",
        "waive A. Person",
        "waive : owner saw it",
        "waive A. Person: yes",
        "bench out 5V 1A sideways",
        "dead C1 OL",
        "dead C1 3ac",
        "dead C1 3kR",
        "dead C1 3?",
        "dead C1 3V C1 4V",
        "dead C99 3V",
        "dead bulk 3V",
    ):
        with pytest.raises(InputError):
            parse_line(line, BOARD, ON)


def test_a_known_place_is_needed_for_every_act() -> None:
    """Nothing is done to a part that nobody knows; the nearest names are shown."""
    for line, near in (
        ("lift R15", "R14"),
        ("remove C8", "C7"),
        ("press bakee", "bake"),
        ("bench outt 5V 1A", "out"),
        ("see C8 domed", "C7"),
        ("unplug bat", "batt"),
        ("C5 bulk-capp 68u", "bulk-cap"),
        ("no movv", "mov"),
        ("cant gat", "gate"),
        ("black hot", "hot-"),
    ):
        with pytest.raises(UnknownName, match=near):
            parse_line(line, BOARD, ON)


@pytest.mark.parametrize(
    "line",
    [
        "lamp",
        "lamp 0",
        "lamp -60",
        "lamp 60V",
        "press",
        "bench out",
        "bench out 5V",
        "bench out 5V 0A",
        "bench out 5A 1V",
        "on now",
        "off C1",
        "lift",
        "remove C7 C1",
        "lift Q4.ce",
        "see",
        "see C7",
        "no 3 4",
        "was",
        "was 1 2",
        "black",
        "black was",
        "black was hot- x",
        "black C1",
        "cant",
        "cant gate bulk",
        "same 3",
        "follow me",
        "y y",
        "way",
        "way L",
        "unit:",
        "dead C1 3 C7",
        "undo it",
        "twin 3",
        "refit",
    ],
)
def test_half_a_line_is_refused(line: str) -> None:
    """What is incomplete or too much never counts; the text shows how it is written."""
    with pytest.raises(EntryError if not line.startswith(("lamp", "bench out 5A")) else InputError):
        parse_line(line, BOARD, ON)


def test_a_bare_flag_list_or_second_designator_is_no_binding() -> None:
    """Two designators in a row are a slip in a reading; a known part with an unknown word is one too."""
    with pytest.raises(EntryError, match="black needs `to`"):
        parse_line("C1 R14", BOARD, ON)
    with pytest.raises(UnknownName, match="word 'wobbly'"):
        parse_line("C1 wobbly", BOARD, ON)


def test_names_come_from_the_circuit() -> None:
    """Designator and place, legs and their other names, ends by the family's plus and minus, grounds and controls."""
    cap = Family(
        name="cap",
        words=(),
        letters=("C",),
        pins=("-", "+"),
        params=(),
        rate=1.0,
        rate_source="",
        ways=(),
        stamp=lambda *_: None,
        test="",
        substitute="",
        plus_minus=("+", "-"),
    )
    bjt = Family(
        name="bjt",
        words=(),
        letters=("Q",),
        pins=("b", "c", "e"),
        params=(),
        rate=1.0,
        rate_source="",
        ways=(),
        stamp=lambda *_: None,
        test="",
        substitute="",
        aliases={"ce": ("c", "e"), "xy": ("x", "y")},
    )
    circuit = Circuit(
        unit=Unit("lamp", 230.0, 50.0, "II", 10.0),
        parts=(
            Part("C1", "cap", {"-": "hot-", "+": "bulk"}, place="bulk-cap"),
            Part("Q1", "bjt", {"b": "g", "c": "bulk", "e": "hot-"}),
            Part("R1", "unheard-of", {"a": "bulk", "b": "g"}),
        ),
        grounds={"hot": "hot-", "cold": "0V"},
        controls={"go": {"U1.out": "high"}},
    )
    names = names_of(circuit, {"cap": cap, "bjt": bjt}, kinds=("mov",))
    assert names.nets == ("hot-", "bulk", "g", "0V")
    assert set(names.parts) == {"C1", "bulk-cap", "Q1", "R1"}
    assert names.across == {"C1": ("+", "-"), "bulk-cap": ("+", "-"), "R1": ("a", "b")}
    assert names.aliases["Q1"] == {"b": ("b",), "c": ("c",), "e": ("e",), "ce": ("c", "e")}
    assert (names.controls, names.kinds) == (("go",), ("mov",))
    entry = parse("bulk-cap 166", names=names)
    assert (entry.red_net, entry.black_net, entry.part) == ("bulk", "hot-", "bulk-cap")
