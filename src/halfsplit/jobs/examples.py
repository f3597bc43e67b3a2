"""The shipped example: an invented job, typed as a technician would."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Example:
    """kit: text of a bench kit file. lines: what is typed."""

    kit: str
    lines: tuple[str, ...]


DEMO = Example(
    kit="""meter:
  stands: CAT III 600V
  input: 10M
  counts: 4000
  v: 0.5% + 3, to 600V
  ac: 1% + 5, to 600V
  r: 0.8% + 3, to 40M
  d: 1% + 3, to 2V
  hold: 100ms
esr meter: 3% + 2, to 99R
isolation transformer: 250VA
discharge tool: 2k2 10W
""",
    lines=(
        "unit: label printer, 230V 50Hz, class II, 40W",
        "symptom: dead, fuse good",
        "start: flyback with controller; out 24V 1.5A",
        "off",
        "dead 9V bulk-cap 0.4V out-cap 0.3V vcc-cap 0.2V x-cap 0.1V",
        "OL OL",
        "see nothing",
        "aux-diode.k to aux-diode.a 398k r",
        "inrush 5.2 r",
        "switch.g to switch.s 9.1k r",
        "R9 start-up-R 470k",
        "R9 712k r",
    ),
)
