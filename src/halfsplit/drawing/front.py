"""The way in from the plug, laid by rule and not by trial: line and neutral as two straight rails, rungs between them."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.circuit.model import Circuit, Part
from halfsplit.drawing.nets import Plan
from halfsplit.drawing.turned import Shape
from halfsplit.parts.symbols import LENGTH

Member = tuple[str, int, int, Shape]  # ref, x, y, way of standing


def front_end(circuit: Circuit, plan: Plan, shapes: Mapping[str, tuple[Shape, ...]]) -> tuple[Member, ...]:
    """Plug, what lies in the line one after the other, what stands between the rails; ends where the line forks."""
    parts = {p.ref: p for p in circuit.parts}
    plug = next((p for p in circuit.parts if plan.symbols[p.ref].end < 0 and len(plan.symbols[p.ref].legs) == 2), None)
    if plug is None:
        return ()
    shape = shapes[plug.ref][0]
    upper, lower = sorted(shape.legs, key=lambda pin: shape.legs[pin].y)
    line, neutral = plug.pins[upper], plug.pins[lower]
    out: list[Member] = [(plug.ref, 0, 0, shape)]
    edge = shape.hold[2] + 0.5
    left = {
        ref: p for ref, p in parts.items() if ref != plug.ref and (plan.sides[ref] == "hot" or len(plan.symbols[ref].legs) > 2)
    }
    while True:
        for ref in [r for r, p in left.items() if _pair(p, plan) == {line, neutral}]:
            rung = next((s for s in shapes[ref] if _out_of(left[ref], s, line) == "u"), None)
            if rung is not None:
                x = int(edge - rung.body[0] + 1.5)
                out.append((ref, x, 0, rung) if _at(left[ref], rung, line) == (0, 0) else (ref, x, LENGTH, rung))
                edge = x + rung.hold[2] + 0.5
                del left[ref]
        onward = [p for p in left.values() if line in (p.pins[pin] for pin in plan.symbols[p.ref].legs)]
        pairs = [(p, s) for p in onward for s in shapes[p.ref] if _takes_pair(p, s, line, neutral)]
        if pairs:
            part, shape = pairs[0]
            x = int(edge - min(shape.hold[0], 0) + 1.9)
            out.append((part.ref, x, 0, shape))
            edge = x + shape.hold[2] + 0.5
            del left[part.ref]
            after = None if plan.sides[part.ref] == "across" else _pair_after(part, shape)
            if after is None or {part.pins[a] for a in after} & {line, neutral}:
                return tuple(out)
            line, neutral = part.pins[after[0]], part.pins[after[1]]
            continue
        ahead = [p for p in onward if plan.symbols[p.ref].through]
        if len(onward) > 1:
            ahead = [p for p in ahead if _leads_on(p, line, neutral, left, plan, shapes)]
        if len(onward) != 1 and len(ahead) != 1:
            break
        part = onward[0] if len(onward) == 1 else ahead[0]
        lying = next((s for s in shapes[part.ref] if _out_of(part, s, line) == "l" and len(s.legs) == 2 and not s.feet), None)
        if lying is None or len(_pair(part, plan)) != 2:
            break
        pin = next(pin for pin, leg in lying.legs.items() if part.pins[pin] == line)
        x = int(edge - lying.hold[0] - lying.legs[pin].x + 1.5) if not lying.legs[pin].x else int(edge - lying.hold[0] + 1.5)
        out.append((part.ref, x, -lying.legs[pin].y, lying))
        edge = max(x + lying.hold[2], x + max(leg.x for leg in lying.legs.values())) + 0.5
        del left[part.ref]
        line = next(part.pins[other] for other in lying.legs if part.pins[other] != line)
    return tuple(out)


def _leads_on(
    part: Part, line: str, neutral: str, left: Mapping[str, Part], plan: Plan, shapes: Mapping[str, tuple[Shape, ...]]
) -> bool:
    """Going on through this part, and others that lie in the line, one comes to a part that takes both rails."""
    seen, todo, used = {line}, [part], {part.ref}
    while todo:
        p = todo.pop()
        for net in {p.pins[pin] for pin in plan.symbols[p.ref].legs} - seen - {neutral}:
            seen.add(net)
            here = [q for q in left.values() if q.ref not in used and net in (q.pins[pin] for pin in plan.symbols[q.ref].legs)]
            if any(_takes_pair(q, s, net, neutral) for q in here for s in shapes[q.ref]):
                return True
            fresh = [q for q in here if plan.symbols[q.ref].through and len(plan.symbols[q.ref].legs) == 2]
            used |= {q.ref for q in fresh}
            todo += fresh
    return False


def _pair(part: Part, plan: Plan) -> set[str]:
    """The two nets of a part with two legs, else nothing."""
    legs = plan.symbols[part.ref].legs
    if len(legs) != 2 or any((part.ref, pin) in plan.returned for pin in legs):
        return set()
    return {part.pins[pin] for pin in legs}


def _out_of(part: Part, shape: Shape, net: str) -> str:
    """Which way the leg on a net looks."""
    return next((leg.out for pin, leg in shape.legs.items() if part.pins[pin] == net), "")


def _at(part: Part, shape: Shape, net: str) -> tuple[int, int]:
    return next((leg.x, leg.y) for pin, leg in shape.legs.items() if part.pins[pin] == net)


def _takes_pair(part: Part, shape: Shape, line: str, neutral: str) -> bool:
    """It has one leg for each rail on its left, at the distance of the rails."""
    here = {(leg.x, leg.y): part.pins[pin] for pin, leg in shape.legs.items() if leg.out == "l"}
    return here.get((0, 0)) == line and here.get((0, LENGTH)) == neutral


def _pair_after(part: Part, shape: Shape) -> tuple[str, str] | None:
    """The legs on its right where the pair of rails goes on: of a part that lets both through."""
    right = {leg.y: pin for pin, leg in shape.legs.items() if leg.out == "r"}
    if len(shape.legs) != 4 or shape.feet or 0 not in right or LENGTH not in right:
        return None
    return right[0], right[LENGTH]
