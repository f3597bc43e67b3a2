"""The starting sheets: a whole assumed circuit from one line of words."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import (
    amplifier,
    class_d,
    dropper,
    flyback,
    flyback_integrated,
    flyback_line,
    flyback_oscillating,
    lab_supply,
    led_boost,
    led_driver,
    linear,
    pfc,
    pfc_line,
    phase,
    power_tree,
    series_chain,
)
from halfsplit.circuit.starting.build import check_mains
from halfsplit.circuit.starting.place_names import place_words
from halfsplit.circuit.starting.words import Clause, clauses
from halfsplit.errors import InputError, UnknownName

__all__ = ["STARTS", "Start", "place_words", "start_circuit"]


@dataclass(frozen=True)
class Start:
    """One starting sheet. said: pattern of the words that call it; example: a line to show; known: its further words."""

    name: str
    said: str
    example: str
    known: tuple[str, ...]
    build: Callable[[tuple[Clause, ...], Unit, tuple[str, ...]], Circuit]


STARTS: dict[str, Start] = {
    s.name: s
    for s in (
        Start("dropper", r"(?:capacitive[ -])?dropper", "dropper, 24V relay board", dropper.KNOWN, dropper.build),
        Start(
            "integrated switch",
            r"flyback with (?:an )?integrated[ -]switch|integrated[ -]switch flyback",
            "flyback with integrated switch; out 24V 1A",
            flyback_integrated.KNOWN,
            flyback_integrated.build,
        ),
        Start(
            "self-oscillating",
            r"self[ -]oscillating(?: flyback)?",
            "self-oscillating flyback; out 26V 0.3A",
            flyback_oscillating.KNOWN,
            flyback_oscillating.build,
        ),
        Start(
            "flyback",
            r"(?<!switch )(?<!oscillating )flyback(?! with (?:an )?integrated)",
            "flyback with controller 16/10V; out 24V 1.5A",
            flyback_line.KNOWN,
            flyback.build,
        ),
        Start("linear", r"linear", "linear 12V 1A, 5V", linear.KNOWN, linear.build),
        Start(
            "series chain",
            r"(?:series|heater)[ -]chain",
            "series chain: fuse, link 216C, stat, contact, heater 350W",
            series_chain.KNOWN,
            series_chain.build,
        ),
        Start(
            "PFC and half-bridge",
            r"pfc(?:[ ,+]+(?:and |with )?(?:half[ -]?bridge|llc))?",
            "PFC and half-bridge; out 36V 10A",
            pfc_line.KNOWN,
            pfc.build,
        ),
        Start(
            "class-AB amplifier",
            r"class[ -]?ab(?:[ -](?:audio[ -])?amplifier)?",
            "class-AB amplifier +-36V",
            amplifier.KNOWN,
            amplifier.build,
        ),
        Start("LED driver", r"LED[ -]driver", "LED driver 72V 240mA", led_driver.KNOWN, led_driver.build),
        Start("lab supply", r"(?:lab|laboratory|bench)[ -]supply", "lab supply 30V 3A", lab_supply.KNOWN, lab_supply.build),
        Start(
            "class-D amplifier",
            r"class[ -]?d(?:[ -](?:audio[ -])?amplifier)?",
            "class-D amplifier; rails 45V; speaker 4R",
            class_d.KNOWN,
            class_d.build,
        ),
        Start("LED boost", r"LED[ -]boost|backlight(?: boost)?", "LED boost; adapter 12V; out 37V 180mA", led_boost.KNOWN, led_boost.build),
        Start("phase control", r"phase[ -]control(?:ler)?|(?:lamp|heater|motor)[ -]dimmer|dimmer", "phase control; motor 90W", phase.KNOWN, phase.build),
        Start("power tree", r"power[ -]tree", "power tree 12V, 5V 1A, 3.3V 0.5A", power_tree.KNOWN, power_tree.build),
    )
}


def start_circuit(line: str, unit: Unit, symptom: tuple[str, ...] = ()) -> Circuit:
    """The assumed circuit that a `start:` line means.

    Parameters: line, the words after `start:`; remarks in brackets are skipped, so Circuit.start can be read again.
    unit, for mains and watts. symptom, trade words; "... at bake" names a control.
    Raises: UnknownName for a word nobody knows, InputError for a size that can't be.
    """
    bare = re.sub(r"\([^)]*\)", " ", line).strip()
    hits = [(s, m) for s in STARTS.values() if (m := re.search(rf"(?<![\w-])(?:{s.said})(?![\w-])", bare, re.IGNORECASE))]
    if not hits:
        first = next(iter(bare.replace(",", " ").replace(";", " ").split()), "")
        if not first:
            raise InputError("start: the line is empty; say one of: " + "; ".join(s.example for s in STARTS.values()))
        raise UnknownName("starting sheet", first, STARTS)
    if len(hits) > 1:
        both = ", ".join(s.name for s, _ in hits)
        raise InputError(f"start: {line!r} names two sheets ({both}); start with one, trace the other as ways")
    check_mains(unit)
    sheet, hit = hits[0]
    return sheet.build(clauses(bare[: hit.start()] + " " + bare[hit.end() :]), unit, symptom)
