// Odds over the entries, a place's predicted spread, a node's waveform: each drawn, and said in words.
import type { ComponentChildren } from "preact";
import { useAsked, type Asked } from "./asked";
import { view } from "./link";
import { Panel } from "./panels";
import { card, probe } from "./store";
import { percent, showValue, step, unitSign } from "./values";

interface Series { part: string; way: string; odds: (number | null)[] }
interface History { entries: { line: number | null; text: string }[]; suspects: Series[]; nothing_wrong: (number | null)[]; not_on_sheet: (number | null)[]; left: number; text: string }
type Value = number | "OL" | null;
interface Shown { name?: string; part?: string; way?: string; odds?: number; quantiles: Value[] | null; dots: Value[]; open: number; band: [Value, Value] | null }
interface Spread { refused?: string; place?: { where: string; unit: string; scale: string; function: string; state: string }; read?: Value[]; healthy?: Shown; suspects?: Shown[]; text: string }
interface Wave { refused?: string; ms?: number[]; healthy?: Curve; suspects?: (Curve & Series)[]; averaged?: boolean; caution?: string; text: string }
interface Curve { volts: number[] | null; other?: number[] | null; mean: number; ripple: number }

const DASH = ["", "9 5", "3 4", "12 4 3 4", "6 3", "2 6"];

export function Pictures() {
  const job = view.value?.job, now = view.value?.version, p = probe.value, c = card.value;
  const state = c?.state ? `&state=${encodeURIComponent(c.state)}` : "";
  const place = p ? `red=${encodeURIComponent(p.red)}&black=${encodeURIComponent(p.black)}` : null;
  const live = p && (p.function === "v" || p.function === "ac" || p.function === "max" || p.function === "min");
  const odds = useAsked<History>(`/api/jobs/${job}/odds`, now);
  const spread = useAsked<Spread>(place && p ? `/api/jobs/${job}/spread?${place}&function=${p.function}&alone=${p.alone}${state}` : null, now);
  const wave = useAsked<Wave>(place && live ? `/api/jobs/${job}/wave?${place}${state}` : null, now);
  return (
    <Panel title="Pictures" wide>
      <div class="pictures">
        <Figure title="Odds over the entries" text={textOf(odds)}>{odds.data?.entries.length ? <Odds h={odds.data} /> : null}</Figure>
        {p ? <Figure title={`What ${p.where} may show`} text={textOf(spread)}>{spread.data?.healthy ? <Spreads s={spread.data} /> : null}</Figure> : null}
        {live ? <Figure title={`${p.red} over one mains period`} text={textOf(wave)}>{wave.data?.ms ? <Waves w={wave.data} /> : null}</Figure> : null}
      </div>
      {p ? null : <p>The spread and the waveform of a place are drawn once a card asks for a reading there.</p>}
    </Panel>
  );
}

const textOf = ({ data, error }: Asked<{ text: string; caution?: string }>): string => error ?? (data ? [data.text, data.caution].filter(Boolean).join(" ") : "being worked out");

function Figure({ title, text, children }: { title: string; text: string; children: ComponentChildren }) {
  return <figure><figcaption>{title}</figcaption>{children}<p>{text}</p></figure>;
}

const W = 560, H = 250, L = 54, B = 34;
const across = (i: number, n: number): number => L + (n < 2 ? (W - L - 130) / 2 : (i * (W - L - 130)) / (n - 1));
const path = (points: ([number, number] | null)[]): string => points.reduce<[string, boolean]>(([d, on], q) => (q ? [`${d}${on ? "L" : "M"}${q[0].toFixed(1)} ${q[1].toFixed(1)}`, true] : [d, false]), ["", false])[0];

/** Labels at the right end of lines, pushed apart so that none lies on another. */
function spaced(ys: number[]): number[] {
  const order = ys.map((y, i) => [y, i] as const).sort((a, b) => b[0] - a[0]);
  const out = new Array<number>(ys.length).fill(0);
  let last = H - 6;
  for (const [y, i] of order) { last = Math.min(y, last - 16); out[i] = last; }
  return out;
}

function Odds({ h }: { h: History }) {
  const n = h.entries.length;
  const seen = [...h.suspects.flatMap((s) => s.odds), ...h.nothing_wrong, ...h.not_on_sheet].map((o) => o ?? 0);
  const top = [0.1, 0.25, 0.5, 1].find((t) => Math.max(...seen) <= t) ?? 1;
  const y = (o: number) => 12 + (1 - o / top) * (H - B - 12);
  const lines = [...h.suspects.slice(0, 4).map((s) => ({ name: `${s.part} ${s.way}`, odds: s.odds })), { name: "nothing wrong", odds: h.nothing_wrong }, { name: "not on the sheet", odds: h.not_on_sheet }]
    .filter((s) => s.odds.some((o) => (o ?? 0) > 0.02));
  const ends = spaced(lines.map((s) => y(s.odds[n - 1] ?? 0)));
  return (
    <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={h.text} class="chart">
      {[0, top / 2, top].map((o) => <g key={o}><path class="rule" d={`M${L} ${y(o)}H${W - 126}`} /><text class="tickword" x={L - 6} y={y(o) + 5} text-anchor="end">{percent(o)}</text></g>)}
      {h.entries.map((e, i) => (n <= 14 || i % Math.ceil(n / 14) === 0 ? <text key={i} class="tickword" x={across(i, n)} y={H - 12} text-anchor="middle">{e.line ?? "begin"}</text> : null))}
      {lines.map((s, k) => (
        <g key={s.name} class={`line l${k}`}>
          <path d={path(s.odds.map((o, i) => (o === null ? null : [across(i, n), y(o)])))} stroke-dasharray={DASH[k]} />
          {s.odds.map((o, i) => (o === null ? null : <circle key={i} cx={across(i, n)} cy={y(o)} r="2.6" />))}
          <text x={W - 118} y={(ends[k] ?? 0) + 5}>{s.name.slice(0, 18)}</text>
        </g>))}
    </svg>
  );
}

function Spreads({ s }: { s: Spread }) {
  const place = s.place, healthy = s.healthy;
  if (!place || !healthy) return null;
  const rows: [string, Shown][] = [["healthy", healthy], ...(s.suspects ?? []).slice(0, 3).map((q): [string, Shown] => [`${q.name ?? `${q.part} ${q.way}`}${q.odds === undefined ? "" : `, ${percent(q.odds)}`}`, q])];
  const all = [...rows.flatMap(([, q]) => [...q.dots, ...(q.quantiles ?? [])]), ...(s.read ?? [])].filter((x): x is number => typeof x === "number");
  const ol = rows.some(([, q]) => q.open > 0 || q.dots.includes("OL")) || (s.read ?? []).includes("OL");
  const log = place.scale === "decades" && all.every((x) => x > -1e-12);
  const floor = Math.max(Math.min(...all.filter((x) => x > 0), Infinity), 1e-15);
  const to = (x: number) => (log ? Math.log10(Math.max(x, floor)) : x);
  const lo = Math.min(...all.map(to)), hi = Math.max(...all.map(to), lo + 1e-9);
  const right = ol ? W - 60 : W - 16;
  const x = (v: Value) => (v === "OL" ? W - 28 : v === null ? -99 : 150 + ((to(v) - lo) / (hi - lo)) * (right - 160));
  const high = 36, height = rows.length * high + 44;
  const ticks = [0, 1, 2, 3].map((k) => lo + ((hi - lo) * k) / 3).map((t) => (log ? 10 ** t : t));
  const q = (r: Shown, k: number) => r.quantiles?.[k] ?? null;
  return (
    <svg viewBox={`0 0 ${W} ${height}`} role="img" aria-label={s.text} class="chart">
      {rows.map(([name, r], i) => (
        <g key={name} class={i === 0 ? "spread good" : "spread"}>
          <text x="142" y={i * high + 26} text-anchor="end">{name.slice(0, 20)}</text>
          {r.quantiles ? <path class="whisker" d={`M${x(q(r, 0))} ${i * high + 21}H${x(q(r, 4))}`} /> : null}
          {r.quantiles ? <rect class="box" x={x(q(r, 1))} y={i * high + 13} width={Math.max(2, x(q(r, 3)) - x(q(r, 1)))} height="16" /> : null}
          {r.dots.slice(0, 64).map((d, k) => <circle key={k} cx={x(d)} cy={i * high + 14 + ((k * 7) % 14)} r="2" />)}
        </g>))}
      {(s.read ?? []).map((v, k) => <g key={k} class="read"><path d={`M${x(v)} 2V${rows.length * high + 6}`} /><text x={Math.min(x(v), W - 70)} y={rows.length * high + 18} text-anchor="middle">read {showValue(v, place.unit)}</text></g>)}
      {ticks.map((t, k) => <text key={k} class="tickword" x={x(t)} y={height - 6} text-anchor="middle">{showValue(t, place.unit)}</text>)}
      {ol ? <text class="tickword" x={W - 28} y={height - 6} text-anchor="middle">OL</text> : null}
    </svg>
  );
}

function Waves({ w }: { w: Wave }) {
  const ms = w.ms ?? [];
  const curves = [{ name: "healthy", volts: w.healthy?.volts ?? null }, ...(w.suspects ?? []).map((s) => ({ name: `${s.part} ${s.way}`, volts: s.volts }))].filter((c): c is { name: string; volts: number[] } => c.volts !== null);
  const all = curves.flatMap((c) => c.volts);
  const lo = Math.min(0, ...all), hi = Math.max(...all, lo + 1e-6), end = ms[ms.length - 1] ?? 20;
  const y = (v: number) => 12 + (1 - (v - lo) / (hi - lo)) * (H - B - 12);
  const x = (t: number) => L + (t / end) * (W - L - 130);
  const [size, prefix] = step(Math.max(Math.abs(lo), Math.abs(hi)));
  const ends = spaced(curves.map((c) => y(c.volts[c.volts.length - 1] ?? 0)));
  return (
    <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={w.text} class="chart">
      {[lo, (lo + hi) / 2, hi].map((v) => <g key={v}><path class="rule" d={`M${L} ${y(v)}H${W - 126}`} /><text class="tickword" x={L - 6} y={y(v) + 5} text-anchor="end">{(v / size).toPrecision(3)} {prefix}{unitSign("V")}</text></g>)}
      {[0, 0.5, 1].map((k) => <text key={k} class="tickword" x={x(end * k)} y={H - 12} text-anchor="middle">{(end * k).toFixed(1)} ms</text>)}
      {curves.map((c, k) => <g key={c.name} class={`line ${k === 0 ? "good" : `l${k}`}`}><path d={path(c.volts.map((v, i) => [x(ms[i] ?? 0), y(v)]))} stroke-dasharray={DASH[k]} /><text x={W - 118} y={(ends[k] ?? 0) + 5}>{c.name.slice(0, 18)}</text></g>)}
    </svg>
  );
}
