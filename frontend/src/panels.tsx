// What is a tap away: other readings, why, the whole log, pictures.
import type { ComponentChildren } from "preact";
import { call, view } from "./link";
import { card, enter, panel, typed } from "./store";
import { LogRow, rows } from "./side";
import { line } from "./entry";
import { percent } from "./values";

export function Panel({ title, children, wide }: { title: string; children: ComponentChildren; wide?: boolean }) {
  return (
    <section class={`panel ${wide ? "wide" : ""}`} aria-label={title}>
      <div class="panelhead"><h2>{title}</h2><button type="button" class="small" onClick={() => { panel.value = null; line.current?.focus(); }}>Close</button></div>
      {children}
    </section>
  );
}

export function Others() {
  const pick = (type: string) => { typed.value = type; panel.value = null; line.current?.focus(); };
  const others = card.value?.others ?? [];
  return (
    <Panel title="Other readings">
      <div class="choices one">{others.map((o) => <button type="button" key={o.text} onClick={() => pick(o.type)}><b>{o.text}</b></button>)}</div>
      {others.length ? null : <p>Nothing else is worth reading as the set stands now.</p>}
    </Panel>
  );
}

export function Why() {
  const a = view.value?.answer;
  const told = a?.tell;
  return (
    <Panel title="Why, and the rest" wide>
      {a?.warn.length ? <ul class="warn">{a.warn.map((w) => <li key={w}>{w}</li>)}</ul> : null}
      <table><caption>Suspects</caption><thead><tr><th scope="col">Odds</th><th scope="col">Part</th><th scope="col">Because it would be</th></tr></thead>
        <tbody>{rows(a).map((r) => <tr key={r.key}><td>{percent(r.odds)}</td><th scope="row">{r.name}</th><td>{r.text}</td></tr>)}
          <tr><td>{percent(a?.nothing_wrong ?? 0)}</td><th scope="row">nothing wrong</th><td>all readings as they should be</td></tr>
          <tr><td>{percent(a?.not_on_sheet ?? 0)}</td><th scope="row">not on the sheet</th><td>{(a?.undrawn ?? []).map((u) => `${u.place} ${percent(u.odds)}: ${u.check}`).join("; ")}</td></tr></tbody></table>
      {a?.blocks.length ? <p><b>By block:</b> {a.blocks.map((b) => `${b.block} ${percent(b.odds)}`).join(", ")}</p> : null}
      {(a?.cleared ?? []).map((c) => <p key={c.block}><b>Cleared, {c.block}:</b> {c.parts.join(", ")}</p>)}
      <p><button type="button" onClick={() => void enter("tell")}>What would be worth tracing</button></p>
      {told ? <ul>{told.trace.map((t) => <li key={t.text}>{t.text} <small>saves {Math.round(t.saves)} min</small></li>)}{told.values.map((t) => <li key={t.text}>{t.text}</li>)}{told.trace.length + told.values.length ? null : <li>Nothing on the board is worth a look that readings don't give sooner.</li>}</ul> : null}
    </Panel>
  );
}

export function WholeLog() {
  const v = view.value;
  const upload = (file: File | undefined) => { if (file && v) void call("POST", `/api/jobs/${v.job}/photos`, file).catch((bad: Error) => alert(bad.message)); };
  return (
    <Panel title="Log" wide>
      <ol class="log whole">{(v?.log ?? []).map((l) => <LogRow key={l.n} l={l} acts />)}</ol>
      <h3>Photographs</h3>
      <div class="photos">{(v?.photos ?? []).map((p) => <a key={p} href={`/api/jobs/${v?.job}/photos/${p}`} target="_blank" rel="noreferrer"><img src={`/api/jobs/${v?.job}/photos/${p}`} alt={`Photograph ${p.replace(".jpg", "")}`} /></a>)}</div>
      <label class="file">Add a photograph <input type="file" accept="image/jpeg,image/png,image/webp" capture="environment" onChange={(e) => upload(e.currentTarget.files?.[0])} /></label>
    </Panel>
  );
}
