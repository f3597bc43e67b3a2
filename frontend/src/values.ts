// Values as a bench writes and reads them. The server reads what is typed; this only places a pointer while typing.
import type { Num } from "./types";

const PREFIX: Record<string, number> = { p: 1e-12, n: 1e-9, u: 1e-6, "µ": 1e-6, "μ": 1e-6, m: 1e-3, r: 1, R: 1, "": 1, k: 1e3, K: 1e3, M: 1e6, G: 1e9 };
const STEPS: [number, string][] = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"], [1e-12, "p"]];
const SIGN: Record<string, string> = { ohm: "Ω", V: "V", F: "F", Hz: "Hz" };

/** 24.1, 4k7, 0.43M, R47, 119ac, OL, 2..9 (its middle): the number in SI, or null while it is none yet. */
export function parseValue(text: string): number | null {
  const t = text.replace("−", "-").replace(",", ".").replace(/(ac|dc|esr|ohms?|Ω|hz|v|f)$/i, "");
  if (/^(ol|inf|>?open)$/i.test(t)) return Infinity;
  const span = /^(-?[\d.]+)\.\.(-?[\d.]+)$/.exec(t);
  if (span) return (Number(span[1]) + Number(span[2])) / 2;
  const infix = /^(-?)(\d*)([pnuµμmrRkKMG])(\d+)$/.exec(t);
  if (infix) return Number(`${infix[1]}${infix[2] || "0"}.${infix[4]}`) * (PREFIX[infix[3] ?? ""] ?? 1);
  const plain = /^(-?(?:\d+\.?\d*|\.\d+))([pnuµμmrRkKMG]?)$/.exec(t);
  return plain ? Number(plain[1]) * (PREFIX[plain[2] ?? ""] ?? 1) : null;
}

/** What stands on the line so far, as values of a round: only plain values count; anything else is a line of its own. */
export function typedValues(line: string): number[] | null {
  const words = line.trim().split(/\s+/).filter((w) => w !== "");
  const values = words.map(parseValue);
  return values.every((v) => v !== null) ? (values as number[]) : null;
}

export function step(x: number): [number, string] {
  const size = Math.abs(x);
  return STEPS.find(([s]) => size >= s * 0.9995) ?? (size === 0 ? [1, ""] : [1e-12, "p"]);
}

const digits = (x: number): string => {
  const size = Math.abs(x);
  const text = size >= 99.95 ? x.toFixed(0) : size >= 9.995 ? x.toFixed(1) : x.toFixed(2);
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
};

export function unitSign(unit: string): string { return SIGN[unit] ?? unit; }

export function showValue(value: Num, unit: string): string {
  if (value === null) return "?";
  if (value === "OL") return "OL";
  const [size, prefix] = step(value);
  return `${digits(value / size)} ${prefix}${unitSign(unit)}`;
}

/** A range with its unit said once: "22.8–25.2 V", "over 61 MΩ", "under 4 V". */
export function showBand(band: [Num, Num] | null, unit: string): string {
  if (band === null) return "can't be said";
  const [low, high] = band;
  if (low === "OL") return "OL";
  if (high === "OL" || high === null) return `over ${showValue(low, unit)}`;
  if (low === null || (low <= 0 && high > 0)) return `under ${showValue(high, unit)}`;
  const [size, prefix] = step(high);
  const [lowSize] = step(low);
  if (lowSize !== size && low / size < 0.01) return `${showValue(low, unit)}–${showValue(high, unit)}`;
  const a = digits(low / size), b = digits(high / size);
  return a === b ? `${a} ${prefix}${unitSign(unit)}` : `${a}–${b} ${prefix}${unitSign(unit)}`;
}

export const inBand = (x: number, band: [Num, Num]): boolean => x >= low(band) && x <= high(band);
export const low = (band: [Num, Num]): number => (band[0] === "OL" ? Infinity : band[0] ?? -Infinity);
export const high = (band: [Num, Num]): number => (band[1] === "OL" || band[1] === null ? Infinity : band[1]);

export function percent(odds: number): string {
  const p = 100 * odds;
  return p > 0 && p < 0.5 ? "<1 %" : p > 99.5 && p < 100 ? ">99 %" : `${p.toFixed(0)} %`;
}

export function minutes(m: number): string {
  if (m < 0.75) return `${Math.max(5, Math.round((m * 60) / 5) * 5)} s`;
  return `${Math.round(m * 2) / 2} min`;
}
