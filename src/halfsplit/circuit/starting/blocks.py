"""Blocks of a starting sheet: the stages of the chain from plug to load that a technician splits first (common practice)."""

from __future__ import annotations

import re
from collections.abc import Mapping

from halfsplit.circuit.model import Part

# block -> places, as patterns; the first block that has the place is meant. A place that means two things is told apart as "place:family".
BLOCKS: Mapping[str, str] = {
    "bias": r"spreader.*|bias-trimmer|trimmer-strap",
    "input and gain stage": r"input-.*|tail-R|collector-R|vas|vas-R|boot-.*|mute-R",
    "output stage": r"(?:upper|lower)-.*|zobel-.*|out-C|(?:plus|minus)-fuse|pass-\d|ballast-\d|drive-R|control-.*|reverse-diode",
    "protection": r"hold-.*|(?:plus|minus)-sense|sense-in-.*",
    "volts and amps loops": r"reference-R|voltage-pot|current-.*|c[cv]-(?:amp|diode)",
    "mains input": r"mains|lead|ptc|fuse|varistor|inrush|x-cap|choke|y-cap|switch:switch|fusible|fusible-R|return:joint|bypass-relay|neutral-link"
    r"|adapter|adapter-.*|in-fuse|main-fuse|motor-x-cap|discharge-R",
    "mains transformer": r"(?:minus-|aux-|\w+V-)?transformer:(?:split-)?transformer|tap-relay",
    "rectifier and reservoir": r"(?:minus-|main-|aux-|\w+V-)?bridge|(?:minus-|plus-|aux-)?reservoir"
    r"|(?:plus|minus)-cap|bleeder|\w+V-reservoir|mains-diode|bulk-cap|rect-C|main-bulk|(?:return|rail)-diode|bleed-.*|rail-bleed",
    "boost stage": r"pfc-.*|string-.*|fb-cap|bypass-diode",
    "standby and enable": r"standby.*|enable-.*",
    "dropper": r"dropper-C|zener|rail-cap|bleed-R",
    "feedback": r"out-zener|divider-.*|fb-R|reference|opto|opto-.*|loop-.*|shunt|feedback-.*",
    "output": r"rectifier.*|out-cap|second-.*|out-coil|freewheel|choke-out|output-.*",
    "converter": r"supply|oscillator|start-R|limit-R|controller|switch|switcher|transformer|start-up-.*|vcc-.*|aux-.*|gate-.*|sense-.*|clamp-.*"
    r"|latch-.*|bypass-cap|line-sense-.*|llc-.*|high-.*|low-.*"
    r"|resonant-.*|base-.*|emitter-.*|limiter.*|led-driver.*|boost-.*|buck-.*|coil|inductor",
    "rails and tracks": r"track-.*|far-cap|micro-cap",
    "regulator": r"buck|ldo|ldo-cap|(?:minus-|\w+V-)*(?:regulator|in-cap|out-cap)|5V-cap",
    "control": r"micro|relay.*|tap-.*|driver.*|coil-diode|supervisor.*|crystal.*|reset.*",
    "heat and motor": r"heater.*|motor.*|link|stat|contact|lamp|triac.*|diac.*|phase-.*|snubber-.*|field.*|armature.*|brush.*"
    r"|fixed-R|trimmer-min|speed-pot|timing-C",
    "load": r".*load|pad-.*|plug-(?:plus|minus)|board|fan|main|led.*|speaker.*|string.*",
}


def block_of(part: Part) -> str | None:
    """The block that a part of a starting sheet belongs to; None for a part without a place, or one that no block has."""
    if part.place is None:
        return None
    told = f"{part.place}:{part.family}"
    return next((name for name, places in BLOCKS.items() if re.fullmatch(places, told) or re.fullmatch(places, part.place)), None)


def blocks(parts: tuple[Part, ...]) -> dict[str, str]:
    """Designator -> block, of those parts that have one."""
    return {p.ref: block for p in parts if (block := block_of(p)) is not None}
