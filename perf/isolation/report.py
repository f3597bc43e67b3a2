"""Tables from the lines of a run: by kind, against the aims, rivals, and how often a claim of each weight held."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from perf.isolation.plot import reliability_svg
from perf.isolation.scoring import Bin, expected_calibration_error, reliability

Line = dict[str, Any]
HEAD = ("kind", "boards", "first", "in three", "in group", "heaviest odds", "log loss", "Brier", "wrong above 0.9", "minutes", "readings",
        "live hot", "keystrokes", "violations", "doubts", "no answer", "left out")
WANTED = 300  # claims a bin before its share says much


def share(flags: Iterable[bool]) -> str:
    some = list(flags)
    return f"{sum(some)}/{len(some)} ({100 * sum(some) / len(some):.0f} %)" if some else "-"


def mean(values: Iterable[float], digits: int = 2) -> str:
    some = [float(v) for v in values]
    return f"{float(np.mean(some)):.{digits}f}" if some else "-"


def median(values: Iterable[float], digits: int = 1) -> str:
    some = [float(v) for v in values]
    return f"{float(np.median(some)):.{digits}f}" if some else "-"


def done(lines: Iterable[Line]) -> list[Line]:
    """Boards with a result."""
    return [x for x in lines if not x.get("failed") and not x.get("error")]


def kind_row(name: str, lines: Sequence[Line]) -> str:
    """One line of the table by kind."""
    ok = done(lines)
    cells = [name, str(len(ok)), share(x["first"] for x in ok), share(x["three"] for x in ok), share(x["in_group"] for x in ok),
             share(x["top_odds"] for x in ok), mean(-x["log"] for x in ok), mean(x["brier"] for x in ok),
             share(x["sure_wrong"] for x in ok), median(x["minutes"] for x in ok), mean((x["readings"] for x in ok), 1),
             mean(x["live_hot"] for x in ok), median((x["keystrokes"] for x in ok), 0), str(sum(len(x["violations"]) for x in ok)),
             mean(x["doubts"] for x in ok), share(x["no_answer"] for x in ok), str(len(lines) - len(ok))]
    return "| " + " | ".join(cells) + " |"


def kind_table(lines: Sequence[Line]) -> list[str]:
    """By kind, with the sorts of a kind below it, and all."""
    out = ["| " + " | ".join(HEAD) + " |", "|" + "---|" * len(HEAD)]
    for kind in sorted({x["kind"] for x in lines}, key=lambda k: (k != "single", k)):
        mine = [x for x in lines if x["kind"] == kind]
        out.append(kind_row(kind, mine))
        subs = sorted({x.get("sub", "") for x in done(mine)} - {""})
        if 1 < len(subs) <= 8:
            out += [kind_row(f"- {s}", [x for x in mine if x.get("sub") == s]) for s in subs]
    return [*out, kind_row("all", lines)]


def final_sure(lines: Iterable[Line]) -> list[bool]:
    """Claims above 0.95 at the end of a job, and whether each held. Odds that round up to the edge are not above it."""
    return [name in x["true"] for x in done(lines) if x["claims"] for name, odds in x["claims"][-1][1].items()
            if odds > 0.95 and not name.startswith("~")]


def all_claims(lines: Iterable[Line]) -> list[tuple[float, bool]]:
    """(odds, came true) of every claim after every answer."""
    return [(odds, name in x["true"]) for x in done(lines) for _, claims in x["claims"] for name, odds in claims.items()
            if not name.startswith("~")]


def _of(lines: Sequence[Line], *kinds: str) -> list[Line]:
    return [x for x in done(lines) if x["kind"] in kinds]


def _rate(flags: Iterable[bool]) -> float:
    some = list(flags)
    return sum(some) / len(some) if some else math.nan


def aims(lines: Sequence[Line]) -> list[str]:
    """Measured beside aimed at; met or not where anything was measured."""
    single, double, healthy, slip = (_of(lines, k) for k in ("single", "double", "healthy", "slip-one"))
    gone = [x for x in _of(lines, "missing-part") if x["root"] == "?"]
    starts = [x for x in _of(lines, "start-only", "other-start") if x.get("block_in_two") is not None]
    sure = final_sure(lines)
    minutes = half_minutes(lines)
    rows: list[tuple[str, float, float, Callable[[float, float], bool], str, int]] = [
        ("single: first", _rate(x["first"] for x in single), 0.94, float.__ge__, "%", len(single)),
        ("single: in the first three", _rate(x["three"] for x in single), 0.985, float.__ge__, "%", len(single)),
        ("single: log loss", float(np.mean([-x["log"] for x in single])) if single else math.nan, 0.20, float.__le__, "", len(single)),
        ("double: root first", _rate(x["first"] for x in double), 0.60, float.__ge__, "%", len(double)),
        ("double: any of the two first", _rate(x["any_first"] for x in double), 0.93, float.__ge__, "%", len(double)),
        ("healthy called healthy", _rate(x["first"] for x in healthy), 0.90, float.__ge__, "%", len(healthy)),
        ("healthy, accused of a gap", _rate(x["gap"] for x in healthy), 0.03, float.__le__, "%", len(healthy)),
        ("single, accused of a gap", _rate(x["gap"] for x in single), 0.03, float.__le__, "%", len(single)),
        ("one slip: first", _rate(x["first"] for x in slip), 0.85, float.__ge__, "%", len(slip)),
        ("part not drawn: in the first three", _rate(x["three"] for x in gone), 0.85, float.__ge__, "%", len(gone)),
        ("part not drawn: wrong above 0.9", _rate(x["sure_wrong"] for x in gone), 0.25, float.__le__, "%", len(gone)),
        ("starting sheet only: block in the first two", _rate(x["block_in_two"] for x in starts), 0.90, float.__ge__, "%", len(starts)),
        ("claims above 95 % at the end that hold", _rate(sure), 0.95, float.__ge__, "%", len(sure)),
        ("live hot readings a board", float(np.mean([x["live_hot"] for x in done(lines)])) if done(lines) else math.nan, 0.3, float.__le__, "",
         len(done(lines))),
        ("minutes, share of half-splitting's", minutes[0], 0.60, float.__le__, "%", minutes[1]),
        ("violations", float(sum(len(x["violations"]) for x in done(lines))), 0.0, float.__le__, "", len(done(lines))),
    ]
    out = ["| | measured | aim | of | |", "|---|---|---|---|---|"]
    for name, got, aim, good, unit, count in rows:
        shown, wanted = (f"{100 * v:.1f} %" if unit else f"{v:.2f}" for v in (got, aim))
        word = "-" if math.isnan(got) else "met" if good(got, aim) else "missed"
        out.append(f"| {name} | {'-' if math.isnan(got) else shown} | {wanted} | {count} | {word} |")
    return out


def half_minutes(lines: Sequence[Line]) -> tuple[float, int]:
    """Minutes of all boards together over those of half-splitting on the same boards, and how many boards."""
    both = [x for x in done(lines) if x.get("rivals", {}).get("half-splitting")]
    theirs = sum(x["rivals"]["half-splitting"]["minutes"] for x in both)
    return (sum(x["minutes"] for x in both) / theirs if theirs else math.nan), len(both)


def rivals(lines: Sequence[Line]) -> list[str]:
    """Every rival on the boards it worked on, with the tool on the same ones."""
    names = sorted({n for x in done(lines) for n in x.get("rivals", {})})
    out = ["| rival | boards | first | in three | log loss | minutes | readings | tool on these: first | log loss | minutes | readings |",
           "|" + "---|" * 11]
    for name in names:
        both = [x for x in done(lines) if name in x.get("rivals", {})]
        r = [x["rivals"][name] for x in both]
        cells = [name, str(len(both)), share(q["first"] for q in r), share(q["three"] for q in r if "three" in q),
                 mean(-q["log"] for q in r if "log" in q), median(q["minutes"] for q in r), mean((q["readings"] for q in r), 1),
                 share(x["first"] for x in both), mean(-x["log"] for x in both), median(x["minutes"] for x in both),
                 mean((x["readings"] for x in both), 1)]
        out.append("| " + " | ".join(cells) + " |")
    return out if names else ["No rival was run."]


def bins_table(bins: Sequence[Bin]) -> list[str]:
    out = ["| claimed | claims | mean claim | held | |", "|---|---|---|---|---|"]
    for b in bins:
        shown = ("-", "-") if not b.count else (f"{b.mean:.3f}", f"{b.held:.3f}")
        out.append(f"| {b.low:g} to {b.high:g} | {b.count} | {shown[0]} | {shown[1]} | {'' if b.count >= WANTED else 'few'} |")
    return out


def markdown(lines: Sequence[Line], *, seed: int, words: str = "") -> str:
    """The whole report."""
    bins = reliability(all_claims(lines))
    sure, broken = final_sure(lines), [x for x in lines if x.get("error")]
    head = f"Seed {seed}. {len(lines)} boards, {len(done(lines))} with a result; {len(broken)} broke the bench itself. {words}".strip()
    notes = ("No answer counts as a miss in `first`, `in three` and `in group`; `heaviest odds` asks the odds alone. `in group`: the part named is "
             "one that no offered reading tells from the true one (the judge's own table, fixed by circuit and fault). Log loss: natural, "
             "floored at 1e-4. Minutes and keystrokes: medians; readings, live hot readings and doubts: means a board.")
    seconds = [float(x["seconds"]) for x in lines if "seconds" in x]
    own, judge = ([float(x[k]) for x in lines if k in x] for k in ("cpu", "cpu_judge"))
    return "\n".join([
        head, "", *kind_table(lines), "", notes, "", *aims(lines), "", *rivals(lines), "",
        "Claims after every answer, of every part, of nothing wrong and of something not on the sheet:", "", *bins_table(bins), "",
        f"Expected calibration error {expected_calibration_error(bins):.3f}. Above 95 % at the end of a job: {share(sure)} held.",
        f"Time a board: mean {mean(seconds, 0)} s, median {median(seconds, 0)} s on the clock; CPU: mean {mean(own, 1)} s "
        f"of the tool and the bench, {mean(judge, 1)} s of the simulator.", ""])


def write_report(lines: Sequence[Line], out: Path, *, seed: int, words: str = "") -> None:
    """isolation.md, and the plots beside it: all kinds, and every kind that has enough claims."""
    (out / "isolation.md").write_text(markdown(lines, seed=seed, words=words), encoding="utf-8")
    (out / "reliability.svg").write_text(reliability_svg(reliability(all_claims(lines)), "all kinds"), encoding="utf-8")
    for kind in sorted({x["kind"] for x in done(lines)}):
        bins = reliability(all_claims([x for x in lines if x["kind"] == kind]))
        (out / f"reliability-{kind}.svg").write_text(reliability_svg(bins, kind), encoding="utf-8")
