// What only this device knows: what is typed, what is open, which boxes are ticked.
import { computed, effect, signal } from "@preact/signals";
import { link, problem, returned, send, view, waiting } from "./link";
import { aloud, speak } from "./speech";
import type { Card, Probe } from "./types";
import { typedValues } from "./values";

export type Panel = null | "pad" | "others" | "why" | "power" | "drawing" | "log" | "sheet" | "pictures" | "suspects";

export const typed = signal("");
export const panel = signal<Panel>(null);
export const ticks = signal<ReadonlySet<number>>(new Set());
export const route = signal(location.hash);
export const theme = signal<"dark" | "light">((localStorage.getItem("halfsplit.theme") as "dark" | "light" | null) ?? (matchMedia("(prefers-color-scheme: light)").matches ? "light" : "dark"));
export const bigType = signal(localStorage.getItem("halfsplit.type") === "big");
const putOff = signal<string | null>(null); // the doubt that was answered with no

addEventListener("hashchange", () => { route.value = location.hash; panel.value = null; });
effect(() => {
  document.documentElement.dataset.theme = theme.value;
  document.documentElement.dataset.type = bigType.value ? "big" : "plain";
  localStorage.setItem("halfsplit.theme", theme.value);
  localStorage.setItem("halfsplit.type", bigType.value ? "big" : "plain");
});

export const card = computed<Card | null>(() => view.value?.answer?.card ?? null);
export const doubt = computed(() => {
  const d = view.value?.answer?.doubt ?? null;
  return d && d.ask !== putOff.value ? d : null;
});
export const holds = computed(() => view.value?.holder?.device === localStorage.getItem("halfsplit.device"));
export const unsure = computed(() => link.value !== "up" || (view.value?.holder ? !view.value.holder.there : false));
/** Volts are to begin with a source that is known: this meter has shown nothing yet. */
export const sourceFirst = computed(() => card.value?.meter === "prove");
export const goingLive = computed(() => card.value?.kind === "act" && (card.value.do === "on" || card.value.do === "confirm"));
export const boxes = computed(() => (card.value?.kind === "act" ? card.value.confirm ?? [] : []));
export const allTicked = computed(() => boxes.value.every((_, i) => ticks.value.has(i)));

/** The part or net that was asked for on the drawing. */
export const looked = signal<string | null>(null);

/** A later reading of the round that is looked at before its turn. */
export const peek = signal<number | null>(null);

/** Which probe of a round is on show: the one that the next value is for, by what stands on the line. */
export const at = computed(() => {
  const probes = card.value?.probes ?? [];
  if (peek.value !== null && typed.value === "") return Math.min(peek.value, Math.max(probes.length - 1, 0));
  const values = typedValues(typed.value);
  const done = values === null ? 0 : typed.value === "" || /\s$/.test(typed.value) ? values.length : values.length - 1;
  return Math.min(Math.max(done, 0), Math.max(probes.length - 1, 0));
});
export const probe = computed<Probe | null>(() => card.value?.probes?.[at.value] ?? null);
/** The value that is being typed for this probe. */
export const pointed = computed(() => {
  const values = typedValues(typed.value);
  return values && values.length && !/\s$/.test(typed.value) ? values[values.length - 1] ?? null : null;
});

// What is being typed outlives a reload.
const draft = (): string => `halfsplit.typed.${view.value?.job ?? ""}`;
let drafted = "";
effect(() => {
  const job = view.value?.job;
  if (job === undefined) { drafted = ""; return; }
  if (drafted !== job) { drafted = job; giveBack(localStorage.getItem(draft()) ?? ""); return; }
  if (typed.value) localStorage.setItem(draft(), typed.value);
  else localStorage.removeItem(draft());
});

let last = "";
effect(() => {
  const v = view.value;
  const key = v ? `${v.job} ${v.stamp}` : "";
  if (key !== last) {
    last = key;
    ticks.value = new Set();
    peek.value = null;
    looked.value = null;
    if (panel.value === "others" || panel.value === "power") panel.value = null;
  }
});
effect(() => {
  if (returned.value !== null) {
    typed.value = returned.value;
    returned.value = null;
  }
});
let spoken = 0;
effect(() => {
  const v = view.value;
  if (!v?.answer?.line || v.answer.line === spoken) return;
  const first = spoken === 0;
  spoken = v.answer.line;
  if (aloud.value && !first) speak(v.answer.said);
});

/** Numbers alone, where capacitors are to be read dead, are their volts: the word goes before them. */
export function asSent(line: string): string {
  const c = card.value;
  const text = line.trim();
  if (c?.kind === "act" && c.caps && text !== "" && text.split(/\s+/).every((w) => /^\d+([.,]\d+)?v?$/i.test(w))) {
    const words = text.split(/\s+/).map((w) => w.replace(/v$/i, ""));
    if (sourceFirst.value) words[0] = `${words[0]}V`; // the known source comes first
    if (words.length > c.caps.length + (sourceFirst.value ? 1 : 0)) words[words.length - 1] += "V";
    return `dead ${words.join(" ")}`;
  }
  if (c?.kind === "start" && text !== "" && !text.includes(":")) return `${c.type ?? ""}${text}`;
  if (c?.kind === "act" && c.do === "meter" && /^\d+([.,]\d+)?v?$/i.test(text)) return `meter ${text.replace(/v$/i, "")}V`;
  return text;
}

export async function enter(line?: string): Promise<void> {
  const raw = typed.value.trim();
  const text = line ?? asSent(raw);
  if (text === "" || waiting.value) return;
  if (line === undefined) typed.value = "";
  const ok = await send(text);
  if (!ok && line === undefined && typed.value === "") giveBack(raw);
  if (!ok && aloud.value && problem.value) speak("not taken");
}

/** What was refused stands on the line again, marked, so that typing takes its place. */
function giveBack(raw: string): void {
  typed.value = raw;
  requestAnimationFrame(() => (document.getElementById("line") as HTMLInputElement | null)?.select());
}

/** What can be answered to the open question, in order: the lines, empty where it stays as it is. */
export const answers = computed<string[]>(() => {
  const t = doubt.value?.type;
  if (!t) return [];
  return [...Object.entries(t).filter(([key, line]) => key !== "no" && line !== "").map(([, line]) => line as string), t.no];
});

export function answer(n: number): void {
  const line = answers.value[n];
  if (line === undefined) return;
  if (line) void enter(line);
  else notNow();
}

export function notNow(): void { putOff.value = view.value?.answer?.doubt?.ask ?? null; }
