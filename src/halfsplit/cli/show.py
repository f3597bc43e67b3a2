"""An answer as text for a person at the bench."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from halfsplit.units import format_quantity


def value_text(value: Any, unit: str) -> str:
    """A value with its unit; OL stays OL."""
    if value is None:
        return "?"
    return "OL" if value == "OL" else format_quantity(float(value), unit)


def band_text(band: list[Any] | None, unit: str) -> str:
    """A healthy band."""
    if band is None:
        return "can't be said"
    low, high = band
    if low == "OL":
        return "OL"
    if high == "OL":
        return f"above {value_text(low, unit)}"
    return f"{value_text(low, unit)} to {value_text(high, unit)}"


def outcome_text(band: list[Any], unit: str) -> str:
    """The range of an outcome; what reaches from below nothing upwards is simply under its end."""
    low, high = band
    below = isinstance(low, float) and isinstance(high, float) and low < 0 <= high
    return f"under {value_text(high, unit)}" if below else band_text(band, unit)


def pair_text(pair: dict[str, Any]) -> str:
    """Two faults in one line."""
    return " and ".join(f"{part} {way}" for part, way in zip(pair["parts"], pair["ways"], strict=True))


def show(answer: dict[str, Any]) -> str:
    """Found, suspects, cleared, doubt, card: in the order in which they are wanted."""
    lines: list[str] = []
    if answer.get("refused"):
        lines.append(f"NOT TAKEN: {answer['refused']}")
    elif answer.get("line"):
        lines.append(f"{answer['line']}. {answer['said']}")
    for f in answer.get("found", []):
        mark = {"fits": "=", "low": "<", "high": ">", "open": ">"}.get(f["verdict"], " ")
        lines.append(
            f"  {mark} {f['where']} {value_text(f['value'], f['unit'])} {f['verdict']}  (healthy {band_text(f['expected'], f['unit'])})"
        )
    lines += [f"  ! {w}" for w in answer.get("warn", [])]
    if answer.get("suspects") or answer.get("pairs"):
        lines.append("Suspects:")
        lines += [f"  {100 * s['odds']:5.1f} %  {s['part']} {s['way']}: {s['why']}" for s in answer["suspects"][:5]]
        lines += [f"  {100 * p['odds']:5.1f} %  {pair_text(p)}" for p in answer.get("pairs", [])[:2]]
        lines.append(
            f"  {100 * answer['nothing_wrong']:5.1f} %  nothing wrong;  {100 * answer['not_on_sheet']:.1f} % not on the sheet"
            + places_text(answer)
        )
    if answer.get("comes_and_goes"):
        lines.append(f"  {100 * answer['comes_and_goes']:5.1f} %  something that comes and goes, alone")
    lines += [f"Cleared, {c['block']}: {', '.join(c['parts'])}" for c in answer.get("cleared", [])]
    if answer.get("doubt"):
        doubt = answer["doubt"]
        lines.append(f"DOUBT: {doubt['ask']}  (if so, type: {doubt['type']['yes']})")
    if "tell" in answer:
        lines += tell_lines(answer["tell"])
    if answer.get("card") and not (answer["state"].get("follow") and not answer.get("speak", True)):
        lines += ["", *card_lines(answer["card"])]
    return "\n".join(lines)


def places_text(answer: Mapping[str, Any]) -> str:
    """Where it may be that is not on the sheet."""
    told = [f"{u['place']} {100 * u['odds']:.0f} %" for u in answer.get("undrawn", [])]
    return f", perhaps something from {', '.join(told)}" if told else ""


def tell_lines(told: dict[str, Any]) -> list[str]:
    """What would be worth seeing, best first, and values that the readings give."""
    lines = [f"  {t['saves']:4.0f} min saved for {t['minutes']:.1f}: {t['text']}" for t in told["trace"]]
    lines += [f"  {v['text']}" for v in told["values"]]
    return ["Worth seeing:", *lines] if lines else ["Nothing on the board is worth a look that readings don't give sooner."]


def card_lines(card: dict[str, Any]) -> list[str]:
    """One card."""
    kind = card.get("kind")
    if kind == "start":
        asks = {
            "unit": "What is it? e.g.  unit: label printer, 230V 50Hz, class II, 40W",
            "symptom": "What does it do? e.g.  symptom: dead, fuse good",
            "start": "Which starting sheet? e.g.  start: flyback with controller; out 24V 1.5A   "
            "(or dropper, linear, series chain, phase control, LED driver, LED boost, power tree)",
        }
        return [f"-> {asks[card['ask']]}"]
    if kind == "act":
        steps = card.get("steps", [card["text"]])
        lines = [f"DO: {steps[0]}   [{card['hazard']}, {card['minutes']:.1f} min]", *(f"    {step}" for step in steps[1:])]
        lines += [f"   [ ] {c}" for c in card.get("confirm", [])]
        return [*lines, f"   then type: {card['type']}"]
    if kind == "round":
        return round_lines(card)
    return [f"END: {card['text']}", f"   {card['power']}"]


def round_lines(card: dict[str, Any]) -> list[str]:
    """The readings of one round."""
    word, _, rest = card["state"].partition(" less ")
    state = {"dead": "dead and discharged", "alone": "off the board"}.get(word, word) + (f", {rest} unplugged" if rest else "")
    lines = [f"READ: meter on {card['meter']}, set {state}   [{card['hazard']}, {card['minutes']:.1f} min]"]
    if card.get("caution"):
        lines.append(f"   CAUTION {card['caution']}")
    lines += [f"   {card['text']}"] if card.get("text") else []
    lines += [f"   [ ] {c}" for c in card.get("confirm", [])]
    for i, p in enumerate(card["probes"], 1):
        lines.append(
            f"   {i}. {p['where']}: red on {p['red']} ({p['lead']}), black on {p['black']}; healthy {band_text(p['healthy'], p['unit'])}"
        )
        for o in p["outcomes"][:4]:
            lines.append(f"        {outcome_text(o['range'], p['unit'])}: {o['means']} ({100 * o['odds']:.0f} %)")
    lines.append(f"   why: {card['why']}")
    lines += [f"   or: {o['text']}" for o in card["others"]]
    return lines
