"""A relay driver of a bench supply, half traced and whole: untraced legs bring nothing down, and one of two dead parts is not cleared."""

from __future__ import annotations

from pathlib import Path

from halfsplit.circuit.checks import check_circuit
from halfsplit.jobs.fold import circuit_of
from halfsplit.jobs.job import Job
from halfsplit.parts import FAMILIES

LINES = (
    "unit: bench supply, 120V 60Hz, class I, 60W",
    "symptom: tap relay doesn't pull in",
    "ways: L F1(T0.5A) in T1.p(transformer 12V 6VA) N",
    "ways: aux C5(1000u 25V) 0V",
    "ways: L K1.no tap HTR(heater 100R 140W) N",
    "parts: BR2 bridge 1A, ~=ac-a ~=ac-b +=aux -=0V; Q3 npn",
    "cold: aux, 0V",
    "off",
)


def test_an_untraced_leg_brings_nothing_down(tmp_path: Path) -> None:
    """Coil and transistor are named, but none of their legs traced: every line is taken, and the answer goes on to the discharge."""
    job = Job(tmp_path / "half.job")
    for line in LINES:
        out = job.send(line)
        assert not out["refused"], (line, out["refused"])
    assert out["card"]["kind"] and out["suspects"]


def test_the_sheet_still_says_which_legs_are_missing() -> None:
    """Solved or not, the check of the sheet names them; once a leg is traced it is no longer loose."""
    sheet = tuple((line.partition(":")[0], line.partition(":")[2].strip()) for line in LINES[:-1])
    circuit = circuit_of(sheet)
    assert circuit is not None
    assert circuit.part("Q3").pins == {"b": "Q3/b", "c": "Q3/c", "e": "Q3/e"}
    said = " ".join(check_circuit(circuit, FAMILIES))
    assert "Q3: leg b and c and e is on no net" in said and "K1: leg c+ and c-" in said
    more = circuit_of((*sheet, ("ways", "kd Q3.ce 0V")))
    assert more is not None and more.part("Q3").pins == {"b": "Q3/b", "c": "kd", "e": "0V"}


WHOLE = (
    "unit: bench supply, 120V 60Hz, class I, 60W",
    "symptom: tap relay doesn't pull in",
    "parts: BR2 bridge 1A, ~=ac-a ~=ac-b +=aux -=0V; Q3 npn; U3 comparator, in+=set in-=ref out=cout v+=aux v-=0V",
    "parts: T1 transformer 12V 6VA, p1=in p2=N s1=ac-a s2=ac-b",
    "ways: L F1(T0.5A) in",
    "ways: aux R21(100R 0.5W) coil K1.coil(12V 270R) kd Q3.ce 0V",
    "ways: K1.coil // D9.ka(1N4148)",
    "ways: aux C5(1000u 25V) 0V",
    "ways: aux R30(10k) ref R31(4k7) 0V",
    "ways: aux R32(4k7) set R33(10k) 0V",
    "ways: aux R34(4k7) cout R22(10k) Q3.b",
    "ways: L K1.no tap HTR(heater 100R 140W) N",
    "cold: aux, 0V",
    "off",
    "dead 9V mains 0 C5 0 9V",
    "OL OL",
    "U3.out 11k r",
    "HTR 100 r",
    "D9 0.3 r",
    "R21 OL r",
    "R22 10k r",
    "D9.ka 0 d",
    "R21 OL r",
)


def test_one_of_two_dead_parts_is_not_cleared(tmp_path: Path) -> None:
    """The diode across the coil reads its short, the resistor that fed it is burnt open (the usual pair, common practice): neither by itself explains
    both readings, so the resistor alone has next to no odds; as one of two it has, and isn't called cleared."""
    job = Job(tmp_path / "whole.job")
    for line in WHOLE:
        out = job.send(line)
        assert not out["refused"], (line, out["refused"])
    assert any({"R21", "D9"} == set(pair["parts"]) and pair["odds"] > 0.05 for pair in out["pairs"])
    assert not {"R21", "D9"} & {ref for block in out["cleared"] for ref in block["parts"]}
