// Who is suspected, and what was entered.
import { view } from "./link";
import { enter, panel } from "./store";
import type { Answer, LogLine } from "./types";
import { percent, showBand } from "./values";

interface Row { key: string; name: string; text: string; odds: number; refs: string[] }

/** One row a suspect, ways of one part together, pairs as they are; numbered as on the drawing. */
export function rows(a: Answer | null | undefined): Row[] {
  if (!a) return [];
  const byPart = new Map<string, Row>();
  for (const s of a.suspects) {
    const have = byPart.get(s.part);
    if (have) { have.odds += s.odds; if (!have.text.includes("; ")) have.text += `; or ${s.why}`; }
    else byPart.set(s.part, { key: s.part, name: s.part, text: s.why, odds: s.odds, refs: [s.part] });
  }
  const pairs = a.pairs.map((p) => ({ key: p.parts.join("+"), name: p.parts.join(" and "), text: p.ways.join(", ") + (p.root ? `; ${p.root} took the other` : ""), odds: p.odds, refs: p.parts }));
  return [...byPart.values(), ...pairs].sort((x, y) => y.odds - x.odds);
}

export function Suspects() {
  const a = view.value?.answer;
  const all = rows(a);
  const shown = all.slice(0, 5);
  const rest = [
    a && a.nothing_wrong >= 0.005 ? `nothing wrong ${percent(a.nothing_wrong)}` : "",
    a && a.not_on_sheet >= 0.005 ? `not on the sheet ${percent(a.not_on_sheet)}` : "",
    a?.comes_and_goes ? `comes and goes ${percent(a.comes_and_goes)}` : "",
  ].filter((t) => t !== "").join(", ");
  return (
    <section class="suspects" aria-label="Suspects">
      <div class="sidehead"><h2>Suspects</h2><button type="button" class="small" onClick={() => (panel.value = "why")}>Why, and the rest</button></div>
      <ol>
        {shown.map((r, i) => (
          <li key={r.key}>
            <span class="disc" aria-hidden="true">{i + 1}</span>
            <div><b class={r.name.length > 16 ? "long" : ""}>{r.name}</b><span>{r.text}</span></div>
            <strong>{percent(r.odds)}</strong>
            <svg class="bar" viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true"><rect width={Math.max(0.5, 100 * r.odds)} height="4" /></svg>
          </li>
        ))}
      </ol>
      <p class="rest">{rest}</p>
    </section>
  );
}

const WORD: Record<string, string> = { fits: "fits", low: "low", high: "high", open: "open", noted: "" };

export function LogRow({ l, acts }: { l: LogLine; acts?: boolean }) {
  const doubted = !l.struck && (view.value?.answer?.doubt?.lines ?? []).includes(l.n);
  const word = doubted ? "doubt" : l.strikes !== null ? "" : l.struck ? "struck" : l.lost ? "no longer fits" : l.corrected ? "corrected" : WORD[l.verdict ?? ""] ?? "";
  const off = word !== "" && word !== "fits";
  return (
    <li class={l.struck ? "struck" : ""}>
      <span class="n">{l.n}</span>
      <span class="text">{l.struck ? <s>{l.text}</s> : l.text}{acts && l.expected && off ? <small> healthy {showBand(l.expected, l.unit ?? "")}</small> : null}{acts && l.lost ? <small> {l.lost}</small> : null}</span>
      {word ? <span class={off && !l.struck ? "word inverted" : "word"}>{word}</span> : <span />}
      {acts ? (l.sheet || l.strikes !== null ? <span /> : l.struck ? <button type="button" class="small" onClick={() => void enter(`no ${strikeOf(l.n)}`)}>Restore</button> : <button type="button" class="small" onClick={() => void enter(`no ${l.n}`)}>Strike</button>) : null}
    </li>
  );
}

const strikeOf = (n: number): number => (view.value?.log ?? []).findLast((l) => l.strikes === n && !l.struck)?.n ?? n;

export function Log() {
  const lines = (view.value?.log ?? []).filter((l) => !l.sheet);
  return (
    <section class="log" aria-label="Log">
      <div class="sidehead"><h2>Log</h2><button type="button" class="small" onClick={() => (panel.value = "log")}>All</button></div>
      <ol>{lines.slice(-7).map((l) => <LogRow key={l.n} l={l} />)}</ol>
    </section>
  );
}
