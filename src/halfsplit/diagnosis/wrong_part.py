"""A wrong part fitted by somebody before: rows of their own, and only where something says that somebody was inside.

They would double the table for nothing in a set that nobody has touched. What can be fitted wrongly is each family's own data
(`Family.wrong`); the way is named "wrong part", "wrong part, low" and so on.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.intake import WORKED_ON, heard
from halfsplit.diagnosis.outlook import Row
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.parts import family_of

NEW_SIGNS = ("new", "fresh", "replaced", "resolder", "other solder", "not original", "non-original")  # beside a part, or anywhere
INSIDE = 0.08  # odds that what is wrong is a wrong part, once somebody was inside (bench estimate)
LOOKS_NEW = 0.06  # and beside it for each part that looks new (bench estimate)
MOST = 0.3


def worked_on(symptom: Sequence[str]) -> bool:
    """Whether the complaint says that somebody was inside."""
    return heard(WORKED_ON, symptom) is not None


def looks_new(signs: Collection[str]) -> bool:
    """Whether one of the signs seen says new part or fresh solder."""
    return any(any(word in sign.lower() for word in NEW_SIGNS) for sign in signs)


def wrong_suspects(
    circuit: Circuit, others: Sequence[Suspect], new: Collection[str] = (), *, inside: bool
) -> tuple[Suspect, ...]:
    """Rows for wrong parts beside `others`, which keep their odds among each other.

    Parameters: new, designators or places of parts that look new; inside, whether somebody was inside at all.
    Returns: nothing where neither is so.
    """
    named = {circuit.names[name].ref for name in new if name in circuit.names}
    fitted = [p for p in circuit.parts if family_of(p).wrong and (inside or p.ref in named)]
    share = min(MOST, (INSIDE if inside else 0.0) + LOOKS_NEW * sum(p.ref in named for p in fitted))
    if not fitted or share <= 0.0:
        return ()
    rates = sum(family_of(p).rate for p in fitted)
    odds = {
        p.ref: (INSIDE * family_of(p).rate / rates if inside else 0.0) + (LOOKS_NEW if p.ref in named else 0.0) for p in fitted
    }
    whole = sum(s.row.prior for s in others) * share / (1.0 - share) / sum(odds.values())
    return tuple(
        Suspect(Row(p.ref, way.name, whole * odds[p.ref] * way.share, f"wrong part: {way.why}"), p, way)
        for p in fitted
        for way in family_of(p).wrong
    )
