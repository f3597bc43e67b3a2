// The sheet as text, looked over while typing, beside the drawing; and a form for a part that is picked on the board.
import { signal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import { useAsked } from "./asked";
import { Drawing } from "./drawing";
import { call, device, newKey, view } from "./link";
import { Panel } from "./panels";

interface Looked { ok: boolean; error?: string; line?: number | null; column?: number | null; parts?: number; seen?: number; nets?: number }
interface Kind { name: string; letters: string[]; pins: string[]; unit: string }

/** The net that was touched on the drawing last, for the leg that waits for one. */
export const touched = signal<string | null>(null);

export function Sheet() {
  const job = view.value?.job;
  const [text, setText] = useState<string | null>(null);
  const [saved, setSaved] = useState("");
  const [looked, setLooked] = useState<Looked | null>(null);
  const [said, setSaid] = useState("");
  const area = useRef<HTMLTextAreaElement>(null);
  useEffect(() => { void call<{ text: string }>("GET", `/api/jobs/${job}/sheet`).then((d) => { setText(d.text); setSaved(d.text); }, (bad: Error) => setSaid(bad.message)); }, [job]);
  useEffect(() => {
    if (text === null) return;
    const soon = setTimeout(() => void call<Looked>("POST", "/api/sheet/check", { text }).then(setLooked, (bad: Error) => setSaid(bad.message)), 300);
    return () => clearTimeout(soon);
  }, [text]);
  function goTo(line: number, column: number | null | undefined) {
    const at = (text ?? "").split("\n").slice(0, line - 1).reduce((n, l) => n + l.length + 1, 0);
    const end = (text ?? "").indexOf("\n", at);
    area.current?.focus();
    area.current?.setSelectionRange(at + Math.max(0, (column ?? 1) - 1), end < 0 ? (text ?? "").length : end);
  }
  async function enter() {
    try {
      const done = await call<{ lines: number }>("POST", `/api/jobs/${job}/sheet`, { text, key: newKey(), device });
      setSaved(text ?? "");
      setSaid(done.lines ? `entered, ${done.lines} line${done.lines > 1 ? "s" : ""} of the log` : "nothing was changed");
    } catch (bad) { setSaid((bad as Error).message); }
  }
  const add = (line: string, key: "ways" | "parts") => setText(withLine(text ?? "", line, key));
  return (
    <Panel title="Sheet" wide>
      <div class="sheet">
        <div class="sheettext">
          <textarea ref={area} value={text ?? ""} onInput={(e) => { setText(e.currentTarget.value); setSaid(""); }} spellcheck={false} aria-label="Sheet" aria-invalid={looked?.ok === false} />
          <p class="looked" role="status">{looked === null ? "" : looked.ok ? `${looked.parts} parts, ${looked.seen} of them seen, ${looked.nets} nets` : <button type="button" class="small" onClick={() => looked.line && goTo(looked.line, looked.column)}>{looked.line ? <b>Line {looked.line}: </b> : null}{looked.error}</button>}</p>
          <p><button type="button" class="primary" disabled={!looked?.ok || text === saved} onClick={() => void enter()}><b>Enter the sheet</b></button> <span class="sub" role="status">{said}</span></p>
        </div>
        <div class="sheetside"><Drawing whole pick={(net) => (touched.value = net)} /><AddPart add={add} /></div>
      </div>
    </Panel>
  );
}

/** The line put under its key, which is made if it isn't there. */
function withLine(text: string, line: string, key: "ways" | "parts"): string {
  const lines = text.replace(/\n+$/, "").split("\n");
  const at = lines.findIndex((l) => l.trim() === `${key}:`);
  if (at < 0) return [...lines, `${key}:`, `- ${line}`, ""].join("\n");
  let end = at + 1;
  while (end < lines.length && /^\s*-/.test(lines[end] ?? "")) end += 1;
  return [...lines.slice(0, end), `- ${line}`, ...lines.slice(end), ""].join("\n");
}

const COLOURS = ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white", "gold", "silver"];

function AddPart({ add }: { add: (line: string, key: "ways" | "parts") => void }) {
  const kinds = useAsked<Kind[]>("/api/families").data ?? [];
  const [kind, setKind] = useState("resistor");
  const [ref, setRef] = useState("");
  const [value, setValue] = useState("");
  const [bands, setBands] = useState<string[]>([]);
  const [nets, setNets] = useState<Record<string, string>>({});
  const [leg, setLeg] = useState("");
  const [bad, setBad] = useState("");
  const family = kinds.find((k) => k.name === kind);
  const pins = family?.pins ?? [];
  useEffect(() => {
    if (touched.value && pins.length) {
      const at = leg || pins.find((p) => !nets[p]) || pins[0] || "";
      setNets({ ...nets, [at]: touched.value });
      setLeg(pins[(pins.indexOf(at) + 1) % pins.length] ?? "");
      touched.value = null;
    }
  }, [touched.value]);
  useEffect(() => {
    if (bands.length < 3) return;
    void call<{ text: string }>("GET", `/api/bands?colours=${bands.join(",")}`).then((d) => { setValue(d.text); setBad(""); }, (no: Error) => setBad(no.message));
  }, [bands]);
  function put(e: Event) {
    e.preventDefault();
    const words = `${kind} ${value}`.trim();
    if (pins.length === 2) add(`${nets[pins[0] ?? ""] || "..."} ${ref}(${words}) ${nets[pins[1] ?? ""] || "..."}`, "ways");
    else add(`${ref} ${words}, ${pins.filter((p) => nets[p]).map((p) => `${p}=${nets[p]}`).join(" ")}`, "parts");
    setRef(""); setValue(""); setBands([]); setNets({}); setLeg("");
  }
  return (
    <form class="addpart" onSubmit={put}>
      <h3>Add a part</h3>
      <label>Kind<select value={kind} onChange={(e) => { setKind(e.currentTarget.value); setNets({}); setLeg(""); }}>{kinds.map((k) => <option key={k.name}>{k.name}</option>)}</select></label>
      <label>Designator<input value={ref} onInput={(e) => setRef(e.currentTarget.value)} placeholder={`${family?.letters[0] ?? "R"}12`} required pattern="[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?" /></label>
      <label>Value or code<input value={value} onInput={(e) => setValue(e.currentTarget.value)} placeholder={family?.unit === "ohm" ? "4k7" : family?.unit === "F" ? "104" : ""} /></label>
      {family?.unit === "ohm" ? <div class="bands" role="group" aria-label="Colour bands">{COLOURS.map((c) => <button type="button" class={`band ${c}`} key={c} onClick={() => setBands([...bands, c].slice(0, 5))}>{c}</button>)}<button type="button" class="small" onClick={() => setBands([])}>clear: {bands.join(" ") || "no bands"}</button></div> : null}
      <div class="legs">{pins.map((p) => <label key={p} class={leg === p ? "now" : ""}>leg {p}<input value={nets[p] ?? ""} list="nets" onFocus={() => setLeg(p)} onInput={(e) => setNets({ ...nets, [p]: e.currentTarget.value })} placeholder="net, or touch it" /></label>)}</div>
      <datalist id="nets">{(view.value?.names?.nets ?? []).map((n) => <option key={n} value={n} />)}</datalist>
      {bad ? <p role="alert">{bad}</p> : null}
      <button type="submit">Put it on the sheet</button>
    </form>
  );
}
