"""Common practice, worked case: an amplifier that blew its fuse, twice. Both outputs of a channel are shorted; the bias trimmer killed them.

By hand: the spreader has 0.70 V (1 + (1.5k + R)/680): 2.5 V with 0.16k of the trimmer in, 3.3 V with the whole strapped 1k, which with new
outputs forces (3.3 - 2.6)/2 V or so upon each 0.22 ohm: an ampere at rest, 36 W a device.
Misleading: 11 mV at the output with the outputs pulled, "the channel is healthy, fit outputs".
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from case_support import Case, begun, check, involved, play, without_decisive

COLD = (
    "off", "dead 9V plus-reservoir 0.3V minus-reservoir 0.2V boot-cap 0.1V", "see transformer, relay", "L to 0V OL r", "N to 0V OL r",
    "transformer.p 1.1r", "+36 to -36 0.5r", "upper-output.ce 0.03r", "lower-output.ce 0.03r", "upper-driver.be 0.58d", "lower-driver.eb 0.59d",
    "upper-emitter-R 0.22r", "lower-emitter-R 0.22r",
)  # fmt: skip
PULLED = ("remove upper-output", "remove lower-output", "lamp 60")
LIVE = ("on", "L to N 119ac", "+36 36.6", "-36 -36.6", "out 0.011", "spreader 3.26", "upper-base to lower-base 1.97")
TRIMMER = (
    "off", "dead plus-reservoir 1.3V minus-reservoir 1.2V boot-cap 0.4V", "trimmer-strap 0.0 r", "bias-trimmer.ab 1.00k r removed",
    "bias-trimmer.aw OL r removed",
)  # fmt: skip
START = Case(
    begin=(
        "unit: stereo amplifier, 120V 60Hz, class I, 200W", "symptom: blew its fuse; new fuse blew again", "start: class-AB amplifier +-36V",
    ),
    lines=(*COLD, *PULLED, *LIVE, *TRIMMER),
    true=("bias-trimmer", "wiper-open"),
    misled=len(COLD) + len(PULLED) + 5,
    decisive=("spreader 3.26", "bias-trimmer.aw OL r removed"),
)  # fmt: skip

SHEET = """\
unit: stereo amplifier, 120V 60Hz, class I, 200W
symptom: blew its fuse; new fuse blew again
ways:
- L F1(T5A) live SW1(switch) prim
- in R1(22k) 0V
- +36 R2(18k) tail
- vasb R3(1k2) -36
- vase R4(68R) -36
- +36 R5(2k2) boot R6(2k2) high
- boot C5(47u 63V) out
- mid R7(1k5) base R8(680R) low
- wiper JT1 high
- out R11(22k) fb R12(1k) fbl C6(100u 25V) 0V
- ub R9(220R 1W) out R10(220R 1W) lb
- ue R13(0.22R 5W wirewound) out R14(0.22R 5W wirewound) le
- out R15(10R 1W) zob C7(100n 100V) 0V
- out K1.no spk LS1(dummy-load 6.4R) 0V
- +36 R17(680R 1W) coil K1.coil 0V
parts:
- T1 centre-tapped 120V 27V 300VA, p1=prim p2=N s1=sa ct=0V s2=sb
- BR1 bridge 25A, ~=sa ~=sb +=+36 -=-36
- C1 6800u 50V, +=+36 -=0V
- C2 6800u 50V, +=0V -=-36
- Q1 pnp, b=in c=vasb e=tail
- Q2 pnp, b=fb c=-36 e=tail
- Q3 npn, b=vasb c=low e=vase
- Q4 npn spreader, b=base c=high e=low
- VR1 trimmer 1k, a=mid b=high w=wiper
- Q5 npn 1A, b=high c=+36 e=ub
- Q6 pnp 1A, b=low c=-36 e=lb
- Q7 npn output 150V 15A, b=ub c=+36 e=ue
- Q8 pnp output 150V 15A, b=lb c=-36 e=le
- K1 relay 24V 1440R
cold: 0V, +36, -36, sa, sb, out, in, tail, vasb, vase, boot, high, low, mid, base, wiper, fb, fbl, ub, lb, ue, le, zob, spk, coil
"""
PLACES = {
    "plus-reservoir": "C1", "minus-reservoir": "C2", "boot-cap": "C5", "transformer": "T1", "relay": "K1", "upper-output": "Q7",
    "lower-output": "Q8", "upper-driver": "Q5", "lower-driver": "Q6", "upper-emitter-R": "R13", "lower-emitter-R": "R14", "bias-trimmer": "VR1",
    "trimmer-strap": "JT1", "spreader 3.26": "Q4.ce 3.26 twin 2.51", "upper-base to lower-base 1.97": "ub to lb 1.97 twin 1.25",
}  # fmt: skip


def on_the_sheet(line: str) -> str:
    """The same line with the designators of the sheet, and what the good channel shows where that was read."""
    for place, ref in PLACES.items():
        line = line.replace(place, ref)
    return line


FULL = Case(SHEET, tuple(on_the_sheet(x) for x in START.lines), ("VR1", "wiper-open"), START.misled, ())


def test_both_outputs_are_named_while_they_are_in(tmp_path: Path) -> None:
    work = begun(START, tmp_path)
    end = play(work, COLD)
    assert {"upper-output", "lower-output"} == set(end["pairs"][0]["parts"]) and end["pairs"][0]["odds"] > 0.9


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    """Misled by a good output, the outputs that were pulled stay accused; at the end the trimmer is, and the outputs as its victims."""
    got = check(START, tmp_path)
    assert {s["part"] for s in got.misled["suspects"][:2]} == {"upper-output", "lower-output"}
    assert got.end["state"]["refit"] == ["upper-output", "lower-output"]


def test_without_the_decisive_readings_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(START, tmp_path)


def test_a_tail_that_is_open_drives_the_output_to_the_rail(tmp_path: Path) -> None:
    """By hand: no tail current, so nothing holds the voltage amplifier on; its load pulls the output to the plus rail less two junctions,
    and the whole rail stands across the tail resistor. The protector keeps the speaker off."""
    work = begun(replace(START, begin=(START.begin[0], "symptom: no sound; relay does not click", START.begin[2])), tmp_path)
    lines = (*COLD[:5], "lamp 100", "on", "L to N 119ac", "+36 35.8", "-36 -36.1", "out 34.6", "in 0.000", "tail -0.1", "upper-emitter-R 0.0")
    end = play(work, lines)
    assert end["suspects"][0]["part"] == "tail-R" and involved(work)["tail-R"] > 0.6, end["suspects"][:4]
