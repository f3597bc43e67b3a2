// The link to the bench: one stream of views, one line at a time outwards, each sent until it is answered and counted once.
import { effect, signal } from "@preact/signals";
import type { View } from "./types";

export type LinkState = "opening" | "up" | "lost";
export interface Waiting { job: string; line: string; key: string; stamp: string }

export const view = signal<View | null>(null);
export const link = signal<LinkState>("opening");
export const waiting = signal<Waiting | null>(null); // typed, not acknowledged yet
export const busy = signal<string | null>(null); // what the bench is at
export const problem = signal<string | null>(null); // why the last line was not taken

const SILENCE = 10_000; // ms without a sign of life after which the link counts as lost
const RETRY = 1_500;

const letters = "abcdefghijklmnopqrstuvwxyz0123456789";
export const newKey = (): string => Array.from(crypto.getRandomValues(new Uint8Array(20)), (b) => letters[b % 36]).join("");

function kept(name: string, make: () => string): string {
  const have = localStorage.getItem(name);
  if (have) return have;
  const made = make();
  localStorage.setItem(name, made);
  return made;
}
export const device = kept("halfsplit.device", newKey);
export const deviceName = signal(kept("halfsplit.name", () => (matchMedia("(pointer: coarse)").matches ? "tablet" : "laptop")));
effect(() => localStorage.setItem("halfsplit.name", deviceName.value));

export class Problem extends Error {
  constructor(text: string, readonly status: number) { super(text); }
}

export async function call<T>(method: string, path: string, body?: unknown): Promise<T> {
  const raw = body instanceof Blob;
  const answer = await fetch(path, {
    method,
    ...(body === undefined ? {} : { body: raw ? body : JSON.stringify(body), headers: { "content-type": raw ? body.type : "application/json" } }),
  });
  const data = await answer.json().catch(() => ({ error: `the bench answered ${answer.status}` }));
  if (!answer.ok) throw new Problem(data.error ?? data.detail ?? `the bench answered ${answer.status}`, answer.status);
  return data as T;
}

let source: EventSource | null = null;
let heard = 0;
let watch = 0;

export function openJob(job: string): void {
  closeJob();
  view.value = null;
  due = 0;
  busy.value = null;
  problem.value = null;
  link.value = "opening";
  const pending = localStorage.getItem("halfsplit.waiting");
  waiting.value = pending && (JSON.parse(pending) as Waiting).job === job ? (JSON.parse(pending) as Waiting) : null;
  connect(job);
  watch = window.setInterval(() => {
    if (Date.now() - heard > SILENCE && link.value === "up") {
      link.value = "lost";
      connect(job);
    }
  }, 1000);
}

export function closeJob(): void {
  source?.close();
  source = null;
  clearInterval(watch);
}

function connect(job: string): void {
  source?.close();
  heard = Date.now();
  const stream = new EventSource(`/api/jobs/${job}/events?device=${device}&name=${encodeURIComponent(deviceName.value)}`);
  source = stream;
  const alive = () => {
    heard = Date.now();
    if (link.value !== "up") {
      link.value = "up";
      void flush();
    }
  };
  stream.addEventListener("view", (e) => {
    view.value = JSON.parse((e as MessageEvent<string>).data) as View;
    if (view.value.version > due) busy.value = view.value.working;
    alive();
  });
  stream.addEventListener("working", (e) => { busy.value = (JSON.parse((e as MessageEvent<string>).data) as { text: string }).text; alive(); });
  stream.addEventListener("taken", alive);
  stream.addEventListener("pulse", alive);
  stream.onerror = () => {
    if (source !== stream) return;
    link.value = "lost";
    if (stream.readyState === EventSource.CLOSED) setTimeout(() => { if (source === stream) connect(job); }, RETRY);
  };
}

function keep(w: Waiting | null): void {
  waiting.value = w;
  if (w) localStorage.setItem("halfsplit.waiting", JSON.stringify(w));
  else localStorage.removeItem("halfsplit.waiting");
}

/** Send a line. True when it was taken; false when it was refused and belongs back on the entry line. While the link is lost it is kept. */
export async function send(line: string): Promise<boolean> {
  const now = view.value;
  if (!now || waiting.value) return false;
  problem.value = null;
  keep({ job: now.job, line, key: newKey(), stamp: now.stamp });
  return flush(false);
}

let flushing = false;
let due = 0; // version of the view in which the last line was taken: its meaning comes with a later one

/** late: nobody is waiting for the answer at the entry line any more. */
async function flush(late = true): Promise<boolean> {
  const w = waiting.value;
  if (!w || flushing) return true;
  flushing = true;
  try {
    const said = await call<{ taken: boolean; again: boolean; refused: string | null; version: number }>("POST", `/api/jobs/${w.job}/lines`, { line: w.line, key: w.key, stamp: w.stamp, device });
    keep(null);
    problem.value = said.refused;
    if (said.taken && !said.again && (view.value?.version ?? 0) <= said.version) { due = said.version; busy.value = "weighing"; }
    return said.taken;
  } catch (bad) {
    if (bad instanceof Problem && bad.status < 500) {
      keep(null);
      problem.value = bad.message;
      if (late) returned.value = w.line;
      return false;
    }
    link.value = "lost"; // kept; sent once more when the link is back, and counted once
    setTimeout(() => { if (waiting.value) void flush(); }, RETRY);
    return true;
  } finally {
    flushing = false;
  }
}

/** A line that was sent later and came back: it goes to the entry line again. */
export const returned = signal<string | null>(null);

/** Nothing is waiting any more: what was typed goes back on the line, to be looked at. */
export function takeBack(): void {
  if (waiting.value) returned.value = waiting.value.line;
  keep(null);
}
