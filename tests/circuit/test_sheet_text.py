"""The sheet as text: keys, positions, and the lines that YAML would misread."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.circuit.model import Unit
from halfsplit.circuit.sheet import KEYS, compose_sheet, read_sheet, read_sheet_bytes
from halfsplit.errors import InputError, SheetError

UNIT = "unit: label printer, 230V 50Hz, class II, 40W\n"
FIVE_MINUTES = (
    UNIT
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


def test_level_0_is_three_lines() -> None:
    """Unit, symptom and start are enough."""
    sheet = read_sheet(UNIT + "symptom: dead; fuse good\nstart: dropper, 24V relay board\n")
    assert sheet.unit == Unit("label printer", 230.0, 50.0, "II", 40.0)
    assert [s.text for s in sheet.symptom] == ["dead", "fuse good"]
    assert sheet.start is not None and sheet.start.text == "dropper, 24V relay board"
    assert sheet.parts == () and sheet.ways == () and sheet.cold == ()


def test_each_item_keeps_its_place() -> None:
    """Line and column of an entry are those of its own first letter, also behind a semicolon."""
    sheet = read_sheet(FIVE_MINUTES, "printer")
    places = {p.text.split()[0]: (p.line, p.column, p.name) for p in sheet.parts if not p.text.startswith("no")}
    assert places == {"C5": (5, 3, "printer"), "R3+R4": (5, 25, "printer"), "C7": (5, 53, "printer"), "D8//D9": (6, 3, "printer")}
    assert [(c.text, c.line, c.column) for c in sheet.cold] == [("out", 9, 7), ("0V", 9, 12)]
    assert [w.text for w in sheet.ways] == ["vcc ... U1.aux?"]


def test_unit_needs_all_that_safety_needs() -> None:
    """Whatever is missing is named, each on its own and all together."""
    for gone, said in [
        (" 50Hz", "hertz"),
        ("230V", "volts"),
        (", class II", "class"),
        (", 40W", "watts"),
        ("label printer, ", "what it is"),
    ]:
        with pytest.raises(SheetError, match=f"sheet:1:7.*lacks {said}"):
            read_sheet(UNIT.replace(gone, ""))
    with pytest.raises(SheetError, match="volts.*hertz.*watts.*class"):
        read_sheet("unit: kettle\n")
    with pytest.raises(SheetError, match="unit is missing"):
        read_sheet("symptom: dead\n")


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("kettle, 230V 50Hz, class I, class II, 2kW", "two classes"),
        ("kettle, 230V 120V 50Hz, class I, 2kW", "volts twice"),
        ("kettle, 100-240V 50Hz, class I, 2kW", "100-240V"),
        ("kettle, 230V? 50Hz, class I, 2kW", "certain"),
        ("kettle, 230V 50/60Hz, class I, 2kW", "50/60Hz"),
        ("kettle, 0V 50Hz, class I, 2kW", "above 0"),
    ],
)
def test_unit_must_be_certain(unit: str, said: str) -> None:
    """Two classes, a range or a question mark in the unit line are not taken."""
    with pytest.raises(SheetError, match=said):
        read_sheet(f"unit: {unit}\n")


@pytest.mark.parametrize(
    "unit", ["kettle, 230V 50Hz, class I, 2.2kW", "kettle 230V~ 50Hz class 1 2200W", "kettle, 2200W, class-I, 50 Hz, 230 V"]
)
def test_unit_in_any_order(unit: str) -> None:
    """Order, blanks and commas of the rating plate do not matter."""
    assert read_sheet(f"unit: {unit}\n").unit == Unit("kettle", 230.0, 50.0, "I", 2200.0)


TRAPS = [  # line under `parts:` (line 3 of the sheet), column, what is said
    ("- wire #3 loose", 8, "cut off the rest"),
    ("- ? C7", 3, "question mark"),
    ("- &b R1 4k7", 3, "and sign"),
    ("- !R1 4k7", 3, "exclamation"),
    ("- *R1", 3, "star"),
    ("* R1 4k7", 1, "star"),
    ("% R1", 1, "per cent"),
    ("`R1` 4k7", 1, "backtick"),
    ("- `R1`", 3, "backtick"),
    ("-\tR1 4k7", 2, "tab"),
    ("\t- R1 4k7", 1, "tab"),
    ("R1:4k7", 3, "blank is missing after the colon"),
    ("- R1:4k7", 5, "takes no colon"),
    ("- seen: R21: charred", 7, "colon"),
    ("- C7 seen: domed", 10, "colon"),
    ("-R1 4k7", 2, "blank is missing after the dash"),
    ("- - R1", 3, "second dash"),
    ("- [R1, R2]", 3, "bracket"),
    ('- "R1 4k7"', 3, "quotation"),
    ("- R1 4k7\n  carbon film", 3, "cannot go on"),
    ("---", 1, "ends the sheet"),
    ("...", 1, "ends the sheet"),
    ("- R1 \x07", 6, "cannot stand"),
    ("- | R1", 3, "bar"),
    ("- R1\u2028", 5, "cannot stand"),
]


@pytest.mark.parametrize(("line", "column", "said"), TRAPS)
def test_traps_are_named_in_our_words(line: str, column: int, said: str) -> None:
    """What YAML drops, bends or blames on the next line is refused at its own place, without a parser's words."""
    with pytest.raises(SheetError, match=said) as caught:
        read_sheet(UNIT + "parts:\n" + line + "\n- R9 1k\n")
    assert caught.value.column == column
    assert caught.value.line == (4 if "\n" in line else 3)
    for foreign in ("scalar", "mapping", "token", "anchor", "alias", "yaml"):
        assert foreign not in str(caught.value).lower()


def test_remarks_stay_remarks() -> None:
    """A # with a blank behind it, or a line of its own, is a remark and changes nothing."""
    sheet = read_sheet("# bench 3\n" + UNIT + "ways:\n- live R8?(330R?) N        # not traced\n  # later\n")
    assert [w.text for w in sheet.ways] == ["live R8?(330R?) N"]


def test_a_repeated_key_is_refused() -> None:
    """A second `parts` would silently replace the first."""
    with pytest.raises(SheetError, match="sheet:4:1.*second time.*line 2"):
        read_sheet(UNIT + "parts:\n- R1 1k\nparts:\n- R2 1k\n")
    with pytest.raises(SheetError, match="control 'bake'.*second time"):
        read_sheet(UNIT + "does:\n  bake: U2.relay high\n  bake: U2.motor high\n")


def test_a_real_minus_is_the_same_net() -> None:
    """The typographic minus and the micro signs read as the plain ones, columns unmoved."""
    plain, typed = (
        read_sheet(UNIT + f"ways:\n- {minus}12 R1(1{micro}) 0V\n") for minus, micro in [("-", "u"), ("\u2212", "\u00b5")]
    )
    assert plain.ways == typed.ways


def test_unknown_key_and_wrong_shapes() -> None:
    """A wrong key lists the known ones; a list where words belong is refused, and the other way round."""
    with pytest.raises(SheetError, match="sheet:2:1.*'part' is no key.*parts"):
        read_sheet(UNIT + "part: R1\n")
    with pytest.raises(SheetError, match="sheet:3:1.*not a list"):
        read_sheet(UNIT + "symptom:\n- dead\n".replace("symptom", "twin"))
    with pytest.raises(SheetError, match="each line is"):
        read_sheet(UNIT + "does:\n- bake\n")
    with pytest.raises(SheetError, match="begin with `- `"):
        read_sheet(UNIT + "ways:\n  a: b\n")
    with pytest.raises(SheetError, match="no key found"):
        read_sheet("# nothing\n")
    with pytest.raises(SheetError, match="nothing stands after"):
        read_sheet("unit:\n")


def test_bytes() -> None:
    """UTF-8 with or without its mark reads; other bytes are named with their place and the remedy."""
    assert read_sheet_bytes(b"\xef\xbb\xbf" + UNIT.encode()).unit.words == "label printer"
    assert read_sheet_bytes(UNIT.replace("\n", "\r\n").encode()).unit.watts == 40
    with pytest.raises(SheetError, match="sheet:2:16.*0xb5.*save the sheet as UTF-8"):
        read_sheet_bytes(UNIT.encode() + b"start: dropper \xb5\n")
    with pytest.raises(SheetError, match="UTF-16"):
        read_sheet_bytes(UNIT.encode("utf-16"))


def test_single_lines_make_the_same_sheet() -> None:
    """A log of single lines reads like the sheet written at once; a later unit line replaces the earlier."""
    lines = [
        ("unit", "kettle, 230V 50Hz, class I, 2kW"),
        ("parts", "C5 bulk-cap 68u; R1 1k"),
        ("cold", "out"),
        ("does", "bake: U2.relay high"),
        ("ways", "out R2(1k) 0V"),
        ("parts", "C7 vcc-cap"),
        ("cold", "0V"),
        ("unit", UNIT[6:].strip()),
    ]
    sheet = read_sheet(compose_sheet(lines))
    assert [p.text for p in sheet.parts] == ["C5 bulk-cap 68u", "R1 1k", "C7 vcc-cap"]
    assert sheet.unit.watts == 40 and [c.text for c in sheet.cold] == ["out", "0V"]
    assert [(a.text, b.text) for a, b in sheet.does] == [("bake", "U2.relay high")]
    with pytest.raises(InputError, match="no key"):
        compose_sheet([("part", "R1")])


LINE = st.text(alphabet="R1C7kuV 0:;-#?!&*%\t()[]{}|>'\"`~=/.,+\u2212\u00b5\n", max_size=40)


@settings(max_examples=300, derandomize=True)
@given(
    st.one_of(
        st.text(max_size=60),
        LINE,
        st.lists(st.tuples(st.sampled_from(KEYS), LINE), max_size=6).map(
            lambda rows: UNIT + "".join(f"{k}: {v}\n" for k, v in rows)
        ),
    )
)
def test_random_text_raises_nothing_but_input_errors(text: str) -> None:
    """Any text is a sheet or an input error that says something."""
    try:
        sheet = read_sheet(text)
    except InputError as refused:
        assert len(str(refused)) > 10
        return
    assert sheet.unit.volts > 0 and sheet.unit.klass in ("I", "II", "III")


@settings(max_examples=200, derandomize=True)
@given(st.binary(max_size=60))
def test_random_bytes_raise_nothing_but_input_errors(data: bytes) -> None:
    """Any bytes behind a good first line are a sheet or an input error."""
    try:
        sheet = read_sheet_bytes(UNIT.encode() + data)
    except InputError as refused:
        assert str(refused)
        return
    assert sheet.unit.watts == 40
