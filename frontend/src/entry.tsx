// The line that everything goes through. It always has the focus; a button's word is a word that could be typed.
import { useEffect, useRef } from "preact/hooks";
import { busy, link, problem, takeBack, view, waiting } from "./link";
import { Said } from "./ask";
import { allTicked, answer, answers, at, card, doubt, enter, goingLive, holds, looked, notNow, panel, peek, probe, sourceFirst, ticks, boxes, typed } from "./store";
import { speak } from "./speech";
import { typedValues } from "./values";
import { cardAloud } from "./words";

const WORDS = ["off", "on", "dead", "same", "see", "smell", "lamp", "press", "release", "lift", "remove", "refit", "fit", "unplug", "plug", "cant", "no", "was", "black was", "bench", "meter", "tell", "ok", "bad", "twin", "tap", "flex", "warm", "cold", "cycles", "waive", "find"];
export const line = { current: null as HTMLInputElement | null };

/** The word that has begun, completed as far as it is sure. */
function complete(text: string): string {
  const begun = /(\S+)$/.exec(text)?.[1];
  if (!begun) return text;
  const names = view.value?.names;
  const all = [...(text.trim() === begun ? WORDS : []), ...(names?.parts ?? []), ...(names?.nets ?? []), ...(names?.controls ?? [])];
  const hits = [...new Set(all.filter((w) => w.toLowerCase().startsWith(begun.toLowerCase())))];
  if (!hits.length) return text;
  let common = hits[0] ?? "";
  for (const w of hits) while (!w.toLowerCase().startsWith(common.toLowerCase())) common = common.slice(0, -1);
  return text.slice(0, text.length - begun.length) + (common.length >= begun.length ? common : begun) + (hits.length === 1 ? " " : "");
}

let walked = -1;
function walk(step: number): void {
  const log = (view.value?.log ?? []).filter((l) => !l.sheet);
  walked = Math.min(Math.max(walked + step, -1), log.length - 1);
  typed.value = walked < 0 ? "" : log[log.length - 1 - walked]?.text ?? "";
}

function onKey(e: KeyboardEvent): void {
  const text = typed.value;
  const number = Number(e.key);
  if (e.key === "Enter") { e.preventDefault(); walked = -1; take(); }
  else if (e.key === "Escape") { if (text) typed.value = ""; else if (doubt.value) notNow(); else panel.value = null; problem.value = null; }
  else if (e.key === "Tab" && text && !e.shiftKey && !/\s$/.test(text)) { const full = complete(text); if (full !== text) { e.preventDefault(); typed.value = full; } }
  else if ((e.key === "ArrowUp" || e.key === "ArrowDown") && (text === "" || walked >= 0)) { e.preventDefault(); walk(e.key === "ArrowUp" ? 1 : -1); }
  else if ((e.key === "ArrowRight" || e.key === "ArrowLeft") && text === "" && (card.value?.probes?.length ?? 0) > 1) { e.preventDefault(); peek.value = Math.max(0, at.value + (e.key === "ArrowRight" ? 1 : -1)); }
  else if (e.key === " " && text === "") { e.preventDefault(); speak(cardAloud(card.value, probe.value)); }
  else if (text === "" && doubt.value && number >= 1 && number <= answers.value.length) { e.preventDefault(); typed.value = e.key; }
  else if (text === "" && goingLive.value && number >= 1 && number <= boxes.value.length) { e.preventDefault(); const now = new Set(ticks.value); if (!now.delete(number - 1)) now.add(number - 1); ticks.value = now; }
}

/** Words of the page itself; everything else goes to the bench. */
function own(word: string): boolean {
  const acts: Record<string, () => void> = {
    others: () => (panel.value = "others"), pad: () => (panel.value = panel.value === "pad" ? null : "pad"), undo: () => void enter("no"),
    sheet: () => (panel.value = "sheet"), drawing: () => (panel.value = "drawing"), why: () => (panel.value = "why"), log: () => (panel.value = "log"), pictures: () => (panel.value = "pictures"),
  };
  const act = acts[word];
  if (act) act();
  return act !== undefined;
}

export function take(): void {
  const text = typed.value.trim();
  const d = doubt.value;
  if (text === "") return;
  if (d && /^[1-9]$/.test(text) && Number(text) <= answers.value.length) { typed.value = ""; answer(Number(text) - 1); return; }
  if (goingLive.value && (text.toLowerCase() === "go live" || text.toLowerCase() === card.value?.type) && !allTicked.value) { problem.value = "tick every line first, by its number"; return; }
  if (goingLive.value && text.toLowerCase() === "go live") { typed.value = ""; void enter(card.value?.type); return; }
  if (d && typedValues(text) !== null) { problem.value = "one question first: its number, then Enter"; return; }
  const left = missing(text);
  if (left) { problem.value = left; return; }
  const strike = /^strike (\d+)$/i.exec(text);
  if (strike) { typed.value = ""; void enter(`no ${strike[1]}`); return; }
  const find = /^find (\S+)$/i.exec(text);
  if (find) {
    const names = view.value?.names, wanted = (find[1] ?? "").toLowerCase();
    looked.value = [...(names?.parts ?? []), ...(names?.nets ?? [])].find((n) => n.toLowerCase() === wanted) ?? null;
    if (looked.value === null) problem.value = `no part or net ${find[1]} on the sheet`;
    else typed.value = "";
    return;
  }
  if (own(text.toLowerCase())) { typed.value = ""; return; }
  if (text.toLowerCase() === "cant reach" && probe.value) { typed.value = ""; void enter(`cant ${probe.value.red}`); return; }
  void enter();
}

/** Which of the volts that a card asks for were not typed; empty where all were, or the line is another. */
function missing(text: string): string {
  const c = card.value;
  if (!c?.caps || !/^[\d.,\sv]+$/i.test(text)) return "";
  const wanted = [...(sourceFirst.value ? ["a known source"] : []), ...c.caps];
  const typed = text.split(/\s+/).length;
  return typed < wanted.length ? `${typed} values, ${wanted.length} wanted; still to read: ${wanted.slice(typed).join(", ")}` : "";
}

const ACTS: Record<string, string> = { off: "Plug is out", on: "Go live", confirm: "Go live", "bench none": "Supply is off", no: "Strike it" };

/** The button that answers the card without typing, where one word does it. */
function Primary() {
  const c = card.value;
  const whole = c?.kind === "act" && c.type && !/\s$/.test(c.type) && !c.caps && !["tell", "meter"].includes(c.do ?? "") ? c.type : null;
  const ready = !goingLive.value || allTicked.value;
  if (typed.value.trim() !== "" || !whole || doubt.value)
    return <button type="button" class="primary" disabled={typed.value.trim() === ""} onClick={take}><b>{doubt.value ? "Answer" : "Take"}</b><span>Enter</span></button>;
  const left = boxes.value.length - ticks.value.size;
  return <button type="button" class="primary" disabled={!ready || !holds.value} onClick={() => void enter(whole)}><b>{ACTS[c?.do ?? ""] ?? "Done"}</b><span>{ready ? whole : left === 1 ? "one box left" : `${left} boxes left`}</span></button>;
}

export function Entry() {
  const box = useRef<HTMLInputElement>(null);
  useEffect(() => {
    line.current = box.current;
    box.current?.focus();
    const back = (e: KeyboardEvent) => {
      const t = e.target as HTMLElement;
      if (t === box.current || /^(INPUT|TEXTAREA|SELECT)$/.test(t.tagName) || e.ctrlKey || e.altKey || e.metaKey) return;
      if (e.key.length === 1 && e.key !== " ") { box.current?.focus(); }
    };
    addEventListener("keydown", back);
    return () => removeEventListener("keydown", back);
  }, []);
  const p = probe.value, c = card.value, w = waiting.value;
  const label = doubt.value ? ["Answer", `1 to ${answers.value.length}, Enter`] : goingLive.value ? ["Going live", `1 to ${boxes.value.length} tick a box`] : c?.kind === "round" && p ? ["Reading", view.value?.answer?.state.black ? `${p.where}; black stays on ${view.value.answer.state.black}` : p.where] : c?.caps ? ["Volts", c.caps.join(", ")] : ["Line", "what was read, seen or done"];
  return (
    <section class="entry" aria-label="Entry">
      <label for="line"><b>{label[0]}</b><span>{label[1]}</span></label>
      <input id="line" ref={box} value={typed.value} onInput={(e) => { typed.value = e.currentTarget.value; problem.value = null; walked = -1; }} onKeyDown={onKey}
        autocomplete="off" autocapitalize="off" spellcheck={false} inputMode={panel.value === "pad" ? "none" : "text"} enterkeyhint="send" disabled={false} />
      <span class="unit" aria-hidden="true">{c?.kind === "round" && p && typed.value !== "" ? { ohm: "Ω", F: "F", V: "V" }[p.unit] ?? "" : ""}</span>
      {w ? <p class="said" role="status">{link.value === "lost" ? <>Kept here, 1 to send <button type="button" class="small" onClick={takeBack}>Take back</button></> : "sending"}</p>
        : busy.value ? <p class="said" role="status">{busy.value} <i class="dots" aria-hidden="true" /></p> : <Said />}
      <div class="acts">
        <Primary />
        {c?.kind === "round" ? <button type="button" onClick={() => (panel.value = panel.value === "others" ? null : "others")} aria-expanded={panel.value === "others"}><b>Others</b><span>{c.others?.length ?? 0} more</span></button> : null}
        {c?.kind === "round" && p ? <button type="button" onClick={() => void enter(`cant ${p.red}`)}><b>Can't<br />reach</b></button> : null}
        <button type="button" onClick={() => void enter("no")}><b>Undo</b></button>
        <button type="button" aria-pressed={panel.value === "pad"} onClick={() => { panel.value = panel.value === "pad" ? null : "pad"; }}><b>Pad</b></button>
      </div>
    </section>
  );
}

const KEYS = ["7", "8", "9", "k", "4", "5", "6", "M", "1", "2", "3", "u", "0", ".", "OL", "n", "−", "/", "was", "m"];
export function Pad() {
  const put = (k: string) => { typed.value += k === "−" ? "-" : k === "was" ? "was " : k; problem.value = null; };
  return (
    <section class="pad" aria-label="Pad">
      {KEYS.map((k) => <button type="button" key={k} onClick={() => put(k)}>{k}</button>)}
      <button type="button" class="w2" onClick={() => put(" ")}>next value</button>
      <button type="button" class="w2" onClick={() => { typed.value = typed.value.slice(0, -1); }}>Rub out</button>
      <button type="button" class="w2" onClick={() => put(" shaky")}>twitching</button>
      <button type="button" class="w2" onClick={() => put(" creeping")}>creeping</button>
    </section>
  );
}
