// What is on the bench, and how a job begins.
import { useEffect, useState } from "preact/hooks";
import { call } from "./link";
import { bigType, theme } from "./store";
import { aloud, setAloud } from "./speech";
import type { JobLine } from "./types";

export function Jobs() {
  const [jobs, set] = useState<JobLine[] | null>(null);
  const [bad, setBad] = useState("");
  const load = () => call<JobLine[]>("GET", "/api/jobs").then(set, (e: Error) => setBad(e.message));
  useEffect(() => { void load(); }, []);
  const close = (j: JobLine) => void call("POST", `/api/jobs/${j.job}/limits`, { closed: !j.closed }).then(load, (e: Error) => setBad(e.message));
  const list = (title: string, some: JobLine[]) => (some.length ? (
    <section aria-label={title}><h2>{title}</h2>
      <ul class="jobs">{some.map((j) => (
        <li key={j.job}>
          <a href={`#/job/${j.job}`}><b>{j.ticket || j.job.split("-")[0]}</b><span class="what"><b>{j.unit || j.job}</b><span>{j.broken ?? j.symptom}</span></span>
            <span class="spent">{j.entries} lines, {Math.round(j.minutes)}{j.limit ? ` of ${j.limit}` : ""} min</span><span class="when">{j.last ? j.last.slice(0, 16).replace("T", " ") : ""}</span></a>
          <button type="button" class="small" onClick={() => close(j)}>{j.closed ? "Open again" : "Close"}</button>
        </li>))}</ul></section>) : null);
  return (
    <main class="page">
      <div class="pagehead"><img src="/static/mark.svg" alt="" width="40" height="40" /><h1>Jobs</h1><a class="button strong" href="#/new">New job</a></div>
      {bad ? <p class="note inverted" role="alert">{bad}</p> : null}
      {jobs === null && !bad ? <p role="status">reading the list</p> : null}
      {jobs && !jobs.length ? <p>Nothing on the bench yet. New job asks for three lines: what it is, what it does, what kind of supply.</p> : null}
      {list("On the bench", (jobs ?? []).filter((j) => !j.closed))}
      {list("Closed", (jobs ?? []).filter((j) => j.closed))}
      <Settings />
      <p class="sub">Only if you are competent and permitted to work on live equipment where you are; local law, codes and your insurer decide. Guidance from general trade practice, not a certificate.</p>
    </main>
  );
}

function Settings() {
  return (
    <fieldset class="settings"><legend>This device</legend>
      <label><input type="checkbox" checked={theme.value === "light"} onChange={(e) => (theme.value = e.currentTarget.checked ? "light" : "dark")} /> light</label>
      <label><input type="checkbox" checked={bigType.value} onChange={(e) => (bigType.value = e.currentTarget.checked)} /> big type</label>
      <label><input type="checkbox" checked={aloud.value} onChange={(e) => setAloud(e.currentTarget.checked)} /> two words aloud after each entry</label>
    </fieldset>
  );
}

interface Starts { name: string; example: string }

export function NewJob() {
  const [form, setForm] = useState({ ticket: "", what: "", volts: "230V 50Hz", klass: "class II", watts: "", symptom: "", start: "", sheet: "", limit: "" });
  const [kind, setKind] = useState("");  // by its line two kinds that share a word can't be told apart
  const [starts, setStarts] = useState<Starts[]>([]);
  const [photo, setPhoto] = useState<File | null>(null);
  const [bad, setBad] = useState("");
  const [busy, setBusy] = useState(false);
  useEffect(() => { void call<Starts[]>("GET", "/api/starts").then(setStarts, () => undefined); }, []);
  const put = (key: keyof typeof form) => (e: { currentTarget: { value: string } }) => setForm({ ...form, [key]: e.currentTarget.value });
  const unit = [form.what.trim(), form.volts, form.klass, form.watts.trim() ? form.watts.trim().replace(/\s*w?$/i, "W") : ""].filter((t) => t !== "").join(", ");
  async function go(e: Event) {
    e.preventDefault();
    setBusy(true);
    setBad("");
    try {
      const made = await call<{ job: string }>("POST", "/api/jobs", { unit, symptom: form.symptom, start: form.start, sheet: form.sheet, ticket: form.ticket, limit: form.limit ? Number(form.limit) : null });
      if (photo) await call("POST", `/api/jobs/${made.job}/photos`, photo);
      location.hash = `#/job/${made.job}`;
    } catch (no) {
      setBad((no as Error).message);
    } finally {
      setBusy(false);
    }
  }
  return (
    <main class="page">
      <div class="pagehead"><a class="button" href="#/">Jobs</a><h1>New job</h1></div>
      <form class="intake" onSubmit={(e) => void go(e)}>
        <label class="wide">What is it?<input value={form.what} onInput={put("what")} placeholder="label printer" required={form.sheet === ""} autofocus /></label>
        <label>Mains<select value={form.volts} onChange={put("volts")}><option>230V 50Hz</option><option>120V 60Hz</option><option>240V 50Hz</option><option>100V 50Hz</option><option>100V 60Hz</option></select></label>
        <label>Class on the label<select value={form.klass} onChange={put("klass")}><option>class II</option><option>class I</option><option value="">not on it</option></select></label>
        <label>Watts<input value={form.watts} onInput={put("watts")} inputMode="decimal" placeholder="40" /></label>
        <label class="wide">What does it do?<input value={form.symptom} onInput={put("symptom")} placeholder="dead, fuse good" /></label>
        <fieldset class="wide"><legend>What kind of supply does it seem to have?</legend>
          <div class="choices">{starts.map((s) => <button type="button" key={s.name} aria-pressed={kind === s.name && form.start !== ""} onClick={() => { setKind(s.name); setForm({ ...form, start: s.example }); }}><b>{s.name}</b><span>{s.example}</span></button>)}</div>
          <label>Its line, sizes as on the label<input value={form.start} onInput={put("start")} placeholder="flyback with controller; out 24V 1.5A" /></label></fieldset>
        <label>Ticket<input value={form.ticket} onInput={put("ticket")} maxLength={40} /></label>
        <label>Minutes it may take<input value={form.limit} onInput={put("limit")} inputMode="numeric" /></label>
        <label class="file">Photograph of the label<input type="file" accept="image/jpeg,image/png,image/webp" capture="environment" onChange={(e) => setPhoto(e.currentTarget.files?.[0] ?? null)} /></label>
        <details class="wide"><summary>Or a sheet that was traced</summary><textarea rows={10} value={form.sheet} onInput={put("sheet")} spellcheck={false} aria-label="Sheet" /></details>
        {bad ? <p class="note inverted wide" role="alert">{bad}</p> : null}
        <p class="wide"><button class="primary" type="submit" disabled={busy}><b>{busy ? "Looking it over" : "Begin"}</b></button> <span class="sub">{form.sheet ? "" : `unit: ${unit}`}</span></p>
      </form>
    </main>
  );
}
