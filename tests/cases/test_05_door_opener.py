"""Common practice, worked case: a garage-door opener dead after a storm: fuse, varistor, two diodes of the bridge, antenna clamp.

From a sheet of one's own. What holds of it: the fuse that reads OL is not taken for the fault while a shorted varistor may have blown it; the
varistor is convicted by its lifted reading, the fuse named as gone with it; with the winding lifted a shorted diode is found beside it. What doesn't:
with three and more dead parts at once (here five) the engine, which holds two, says "not on the sheet".
"""

from __future__ import annotations

from pathlib import Path

from case_support import Case, begun, check, involved, play, without_decisive

SHEET = """unit: garage-door opener, 120V 60Hz, class I, 250W
symptom: dead after storm; fuse black
ways:
- L F1(T10A) live
- live MOV1(150V) N
- live T1.p(transformer 20V 12VA) N
- raw C1(1000u 50V) 0V
- +5 C2(100u 10V) 0V
- raw C3(100n) 0V
- +5 C4(100n) 0V
- raw K1.coil(24V 660R) up Q1.ce 0V
- raw K2.coil(24V 660R) down Q2.ce 0V
- K1.coil // D5.ka(1N4148)
- K2.coil // D6.ka(1N4148)
- U2.up R5(4k7) Q1.b
- U2.down R6(4k7) Q2.b
- live K1.no up-w M1(motor 9R) N
- live K2.no down-w M2(motor 9R) N
- U2.in R7(1k) ant D8.ka(tvs 12V) 0V
parts:
- T1 transformer 20V 12VA, p1=live p2=N s1=ac-a s2=ac-b
- D1 1N4004, a=ac-a k=raw; D2 1N4004, a=ac-b k=raw; D3 1N4004, a=0V k=ac-a; D4 1N4004, a=0V k=ac-b
- U1 7805, in=raw out=+5 gnd=0V
- Q1 npn; Q2 npn
- U2 micro 5V ~20mA, vdd=+5 0v=0V
cold: raw, 0V, +5
does:
  open: U2.up high
"""
COLD = ("off", "dead 9V C1 0.2V 9V", "L to 0V OL r", "N to 0V OL r")
CASE = Case(SHEET, (*COLD, "F1 OL r", "MOV1 2.6r lifted"), ("MOV1", "short"), len(COLD) + 1, ("MOV1 2.6r lifted",))


def test_the_fuse_misleads_nobody_and_the_varistor_is_convicted(tmp_path: Path) -> None:
    got = check(CASE, tmp_path)
    assert got.misled["suspects"][0]["part"] == "MOV1"
    assert "F1 went with it" in got.end["card"]["text"] and "surge" in got.end["card"]["text"]


def test_without_the_varistor_read_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(CASE, tmp_path)


def test_a_shorted_diode_of_the_bridge_is_found_beside_the_varistor(tmp_path: Path) -> None:
    """The winding lifted, one diode reads 0.00 and its neighbours 0.56: two faults, and the fuse that went with the first."""
    work = begun(CASE, tmp_path)
    end = play(work, (*CASE.lines, "lift T1.s1", "D1 0.56d", "D3 0.56d", "D4 0.57d", "D2 0.00d"))
    assert end["pairs"] and set(end["pairs"][0]["parts"]) == {"MOV1", "D2"}
    assert set(list(involved(work))[:2]) == {"MOV1", "D2"}


def test_a_good_varistor_leaves_the_clean_fuse(tmp_path: Path) -> None:
    """Another fault: the varistor reads OL, and no storm was told of: the fuse by itself."""
    sheet = SHEET.replace("dead after storm; fuse black", "dead")
    end = play(begun(Case(sheet, (), ("", ""), 0, ()), tmp_path), (*COLD, "MOV1 OL r lifted", "F1 OL r"))
    assert (end["suspects"][0]["part"], end["suspects"][0]["way"]) == ("F1", "open") and end["suspects"][0]["odds"] > 0.8
