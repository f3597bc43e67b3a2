"""Explanations solved beside the single faults, when the readings call for them: two faults at once, something not on the sheet.

All of them would be thousands of rows. The screens (`pairs`, "acts like a row at most places") need no solve and say which few
are worth one; these become rows of the outlook with the units, columns and states of all the others.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Part
from halfsplit.diagnosis.build import Block, Drawn
from halfsplit.diagnosis.outlook import Double, Outlook, Undrawn
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.suspects import Suspect, as_marked, both, severities
from halfsplit.diagnosis.undrawn import Site
from halfsplit.parts.base import Array

PAIR_WORTH = 0.01  # odds above which a screened pair is solved
MOST_PAIRS = 12  # solved for one entry
MOST_LINKED = 60  # of those that kill each other, by their priors: a large circuit has hundreds
LINKED_WORTH = 0.1  # odds of anything but a single drawn fault above which all that kill each other are solved
UNDRAWN_WORTH = 0.15  # odds of "not on the sheet" above which places are tried
TRIED = 3  # resistances in which every place is tried, a hundredfold apart, before
BEST = 8  # places are solved with tolerances


@dataclass
class Kept:
    """Rows solved so far: (block, draws, explanation) -> what it shows there (columns, units), and where it pulses (columns,)."""

    rows: dict[tuple[int, int, str], tuple[Array, NDArray[np.bool_]]] = field(default_factory=dict)
    blocks: dict[int, Block] = field(default_factory=dict)  # by id; held, so that no other block takes one over

    def of(
        self, block: Block, drawn: Drawn, wanted: Sequence[Suspect], undrawn: Sequence[Part], draws: int
    ) -> tuple[Array, NDArray[np.bool_]]:
        """(wanted, columns, units) values and (wanted, columns) pulsing; what is not there yet is solved, in so many draws."""
        missing = [s for s in wanted if (id(block), draws, name_of(s)) not in self.rows]
        if missing and block.again is not None:
            here = [p for p in undrawn if any(p.ref == q.ref for s in missing for q, _ in s.faults)]
            got = block.again(_with(drawn, missing, here, draws), tuple(here))
            self.blocks[id(block)] = block
            for k, s in enumerate(missing, 1):
                self.rows[id(block), draws, name_of(s)] = (got.value[k], got.pulsing[k])
        rows = [self.rows[id(block), draws, name_of(s)] for s in wanted]
        return np.array([v for v, _ in rows]), np.array([p for _, p in rows])


def name_of(suspect: Suspect) -> str:
    """What makes an explanation the one it is."""
    return " + ".join(f"{part.ref} {way.name}" for part, way in suspect.faults)


def _with(drawn: Drawn, suspects: Sequence[Suspect], undrawn: Sequence[Part], draws: int) -> Drawn:
    """The same units with other suspects; the healthy one stays first. Severities hang on the explanation alone."""
    some = [np.random.default_rng(zlib.crc32(name_of(s).encode())) for s in suspects]
    severity = np.stack([severities(draws, np.random.default_rng(0)), *(severities(draws, rng) for rng in some)])
    healthy = {**drawn.healthy, **{p.ref: as_marked(p, drawn.units) for p in undrawn}}
    return Drawn((drawn.suspects[0], *suspects), healthy, severity)


def worth_solving(post: Posterior, outlook: Outlook) -> tuple[tuple[int, int], ...]:
    """Pairs of rows that carry odds on the screen's word alone, heaviest first; and those that kill each other, once it looks
    as if no single fault were all: what they do together the screen can't know."""
    known = {(d.a, d.b) for d in outlook.doubles}
    screened = [(p.a, p.b) for p in post.pairs if p.odds > PAIR_WORTH and (p.a, p.b) not in known][:MOST_PAIRS]
    linked: list[tuple[int, int]] = []
    if outlook.kills is not None and post.not_on_sheet + post.two_at_once > LINKED_WORTH:
        linked = [(int(min(a, b)), int(max(a, b))) for a, b in np.argwhere(outlook.kills > 1.0)]
        prior = [row.prior for row in outlook.rows]
        linked = sorted(dict.fromkeys(linked), key=lambda p: -prior[p[0]] * prior[p[1]])[:MOST_LINKED]
    return tuple(p for p in dict.fromkeys((*screened, *linked)) if p not in known)


def grown(outlook: Outlook, blocks: Sequence[Block], drawn: Drawn, pairs: Sequence[tuple[int, int]], kept: Kept) -> Outlook:
    """The outlook with these pairs of its rows solved beside its single rows."""
    doubles = [both(drawn.suspects[a], drawn.suspects[b]) for a, b in pairs]
    got = [kept.of(block, drawn, doubles, (), drawn.draws) for block in blocks] if doubles else []
    n = outlook.singles
    bare = replace(_cut(outlook, n), doubles=tuple(Double(n + k, a, b) for k, (a, b) in enumerate(pairs)))
    return _laid(bare, doubles, got)


def with_places(
    outlook: Outlook, blocks: Sequence[tuple[Block, bool]], drawn: Drawn, places: Sequence[Site], among: int, kept: Kept, *, rough: bool = False
) -> Outlook:
    """The outlook with something undrawn at each of these places. among: places that there are; blocks: each with
    whether it need be known, since something was read there; rough: in a few resistances only, for a first look."""
    n = outlook.singles + len(outlook.doubles)
    draws = TRIED if rough else drawn.draws
    extra, parts = [site.suspect for site in places], [site.part for site in places]
    got = [kept.of(block, drawn, extra, parts, draws) if wanted else _unsaid(block, len(extra)) for block, wanted in blocks]
    undrawn = tuple(Undrawn(n + k, site.place, 1.0 / among) for k, site in enumerate(places))
    return _laid(replace(_cut(outlook, n), undrawn=undrawn), extra, got)


def _unsaid(block: Block, count: int) -> tuple[Array, NDArray[np.bool_]]:
    """Cells of which nothing is said."""
    return np.full((count, *block.value.shape[1:]), np.nan), np.zeros((count, len(block.columns)), bool)


def _cut(outlook: Outlook, n: int) -> Outlook:
    return replace(
        outlook, rows=outlook.rows[:n], value=outlook.value[:n], pulsing=outlook.pulsing[:n], undrawn=(),
        doubles=tuple(d for d in outlook.doubles if d.row < n),
    )  # fmt: skip


def _laid(outlook: Outlook, extra: Sequence[Suspect], got: Sequence[tuple[Array, NDArray[np.bool_]]]) -> Outlook:
    if not extra:
        return outlook
    return replace(
        outlook,
        rows=(*outlook.rows, *(replace(s.row, prior=0.0) for s in extra)),
        value=np.concatenate([outlook.value, np.concatenate([v for v, _ in got], axis=1)]),
        pulsing=np.concatenate([outlook.pulsing, np.concatenate([p for _, p in got], axis=1)]),
    )
