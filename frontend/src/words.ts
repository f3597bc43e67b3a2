// A card in the words that are read aloud, and the lead that is named on it.
import type { Card, Outcome, Probe } from "./types";
import { high, inBand, low, showBand } from "./values";

const SHORT: Record<string, string> = { plus: "+", minus: "−", "banded end": "band", "first leg": "leg 1", "other leg": "leg 2" };

/** "plus of C5": the part, its pin in short for big letters, the pin in words. */
export function splitLead(lead: string): [string, string, string] {
  const at = lead.lastIndexOf(" of ");
  if (at < 0) return [lead, "", ""];
  const pin = lead.slice(0, at);
  return [lead.slice(at + 4), SHORT[pin] ?? pin, pin];
}

export interface Part { low: number; high: number; text: string; odds: number; means: string; healthy: boolean }

const overlap = (a: [number, number], b: [number, number]): number => Math.min(a[1], b[1]) - Math.max(a[0], b[0]);

/** What the next reading may show, side by side from low to high; the healthy one in its place, and what is left. */
export function partsOf(probe: Probe): Part[] {
  const band = probe.healthy;
  const good = (o: Outcome) => o.means.split(", ").includes("nothing wrong") || (band !== null && covers(o, band));
  const parts: Part[] = probe.outcomes.map((o) => ({
    low: low(o.range), high: high(o.range), odds: o.odds, means: o.means, healthy: good(o), text: showBand(o.range, probe.unit),
  }));
  if (band && !parts.some((p) => p.healthy)) parts.push({ low: low(band), high: high(band), odds: 0, means: "", healthy: true, text: showBand(band, probe.unit) });
  for (const p of parts) if (p.healthy && band) p.text = showBand(band, probe.unit);
  return parts.sort((a, b) => a.low - b.low || a.high - b.high);
}

/** Those that are worth their width: the healthy one and the likeliest; the others together are "else". */
export function shownOf(parts: Part[], most = 4): Part[] {
  const ranked = parts.filter((p) => !p.healthy && p.odds >= 0.03).sort((a, b) => b.odds - a.odds).slice(0, most - 1);
  return parts.filter((p) => p.healthy || ranked.includes(p));
}

/** Whether an outcome is, roughly, the healthy band and not a wider range that happens to hold it. */
function covers(o: Outcome, band: [number | "OL" | null, number | "OL" | null]): boolean {
  const a: [number, number] = [low(o.range), high(o.range)], b: [number, number] = [low(band), high(band)];
  if (a[0] === Infinity) return b[1] === Infinity;
  if (b[1] === Infinity) return a[1] === Infinity && a[0] >= b[0] * 0.5;
  const share = (f: (x: number) => number) => overlap([f(a[0]), f(a[1])], [f(b[0]), f(b[1])]) / (Math.max(f(a[1]), f(b[1])) - Math.min(f(a[0]), f(b[0])) || 1);
  const plain = a[0] === b[0] && a[1] === b[1] ? 1 : share((x) => x);
  return plain > 0.35 || (Math.min(a[0], b[0]) > 0 && share(Math.log) > 0.35);
}

/** Which part a value falls in; -1 for none of them. The healthy band comes first where two overlap. */
export function fallsIn(parts: Part[], x: number, healthy: Probe["healthy"]): number {
  if (healthy && inBand(x, healthy)) return parts.findIndex((p) => p.healthy);
  return parts.findIndex((p) => !p.healthy && x >= p.low && x <= p.high);
}

export function cardAloud(card: Card | null, probe: Probe | null): string {
  if (!card) return "";
  if (card.kind === "round" && probe) {
    return `Red on ${probe.lead}. Black on ${probe.black_lead}. Meter on ${card.meter}. Healthy ${showBand(probe.healthy, probe.unit)}. ${card.caution ?? ""}`;
  }
  if (card.kind === "act") return [card.steps?.[0] ?? card.text ?? "", ...(card.confirm ?? [])].join(" ");
  return card.text ?? "";
}
