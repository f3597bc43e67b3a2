// Which job, how long, how the set stands, and who holds the probes.
import { useState } from "preact/hooks";
import { call, device, deviceName, link, problem, view } from "./link";
import { card, enter, goingLive, holds, panel, unsure } from "./store";

function place(): string {
  const s = view.value?.answer?.state;
  if (!s || unsure.value) return "";
  return s.power === "on" ? (s.lamp ? "lamp" : "direct") : s.power === "bench" ? "bench" : s.power === "dead" || s.power === "unplugged" ? "off" : "";
}

export function sidesText(): string {
  const s = view.value?.answer?.state;
  if (!s) return "";
  if (unsure.value) return "not known";
  const sides = Object.entries(s.sides);
  const told = new Set(Object.values(s.sides));
  if (told.size > 1) return sides.map(([k, v]) => `${k} ${v}`).join(", ");
  if (s.power === "dead") return "discharged, read dead";
  if (s.power === "unplugged") return "not read dead";
  return s.power === "unknown" ? "not said yet" : "";
}

export function Head() {
  const v = view.value;
  const now = place();
  const s = v?.answer?.state;
  const extra = [...(s?.pressed ?? []).map((p) => `${p} pressed`), ...(s?.refit.length ? [`refit ${s.refit.join(", ")}`] : []), ...(s?.twin ? ["meter on the twin"] : []), ...(s?.mark ? [s.mark] : [])].join("; ");
  const spent = v?.minutes ? `${Math.round(v.minutes.spent)}${v.minutes.limit ? ` of ${v.minutes.limit}` : ""} min` : "";
  const over = v?.minutes?.limit && v.minutes.spent > v.minutes.limit;
  return (
    <header>
      <a class="button" href="#/">Jobs</a>
      <div class="title"><b>{v?.ticket ? `${v.ticket} ` : ""}{v?.sheet?.unit ?? v?.job ?? ""}</b><span>{v?.sheet?.symptom} {spent ? <em class={over ? "inverted" : ""}>{spent}{over ? ", limit passed" : ""}</em> : null}{extra ? ` · ${extra}` : ""}</span></div>
      <Holder />
      <span class="setis" id="setis">The set is</span>
      <div class="places" role="group" aria-labelledby="setis">
        <Place on={now === "off"} name="Unplugged" text={now === "off" ? sidesText() : unsure.value ? "not known" : ""} live={false} />
        <Place on={now === "lamp"} name={s?.lamp ? `Live, lamp ${s.lamp} W` : "Live, lamp"} text={now === "lamp" ? "through the lamp" : ""} live />
        <Place on={now === "direct"} name="Live, direct" text={now === "direct" ? "on the mains" : ""} live />
        <Place on={now === "bench"} name="Bench supply" text="" live />
      </div>
    </header>
  );
}

function Place({ on, name, text, live }: { on: boolean; name: string; text: string; live: boolean }) {
  return (
    <button type="button" class={`place ${on ? (live ? "live" : "now") : ""}`} aria-pressed={on} onClick={() => (panel.value = panel.value === "power" ? null : "power")}>
      {on && live ? <i class="stripes" aria-hidden="true" /> : null}<span><b>{name}</b>{text ? <small>{text}</small> : null}</span>
    </button>
  );
}

/** Only where there is more than this device to think of. */
function Holder() {
  const h = view.value?.holder;
  const job = view.value?.job;
  const post = (what: string) => void call("POST", `/api/jobs/${job}/${what}`, { device, name: deviceName.value }).catch((bad: Error) => (problem.value = bad.message));
  if (link.value !== "up") return <span class="holder inverted" role="alert">Link lost</span>;
  if (holds.value || !job) return null;
  return <span class="holder"><span>{h ? `${h.name || "another device"} holds the probes${h.there ? "" : ", its link is lost"}` : "Nobody holds the probes"}</span>{!h || !h.there ? <button type="button" class="small" onClick={() => post("hold")}>Hold the probes</button> : null}</span>;
}

/** Moving the power: what was done by hand is said here. */
export function Power() {
  const v = view.value;
  const [lamp, setLamp] = useState("");
  const say = (line: string) => { panel.value = null; void enter(line); };
  const job = v?.job;
  return (
    <section class="panel" aria-label="The set is">
      <div class="panelhead"><h2>The set is</h2><button type="button" class="small" onClick={() => (panel.value = null)}>Close</button></div>
      <p>Say here what your hand did; this page switches nothing. {sidesText()}</p>
      <div class="choices">
        <button type="button" onClick={() => say("off")}><b>The plug is out</b><span>off</span></button>
        {goingLive.value ? <button type="button" onClick={() => (panel.value = null)}><b>Going live</b><span>its list is on the page</span></button> : <button type="button" onClick={() => say("on")}><b>It is switched on</b><span>on; refused while anything speaks against it</span></button>}
        <button type="button" onClick={() => say("lamp none")}><b>No lamp in series</b><span>lamp none</span></button>
        {(v?.lamps ?? []).map((w) => <button type="button" key={w} onClick={() => say(`lamp ${w}`)}><b>Lamp {w} W in series</b><span>lamp {w}</span></button>)}
        {(v?.names?.controls ?? []).map((c) => v?.answer?.state.pressed.includes(c) ? <button type="button" key={c} onClick={() => say(`release ${c}`)}><b>{c} released</b><span>release {c}</span></button> : <button type="button" key={c} onClick={() => say(`press ${c}`)}><b>{c} pressed</b><span>press {c}</span></button>)}
        <button type="button" onClick={() => say("bench none")}><b>Bench supply is off</b><span>bench none</span></button>
      </div>
      <form onSubmit={(e) => { e.preventDefault(); if (lamp) say(`bench ${lamp}`); }}><label>Bench supply into <input value={lamp} onInput={(e) => setLamp(e.currentTarget.value)} placeholder="out 14.5V 0.5A plus" /></label><button type="submit">Say it</button></form>
      {holds.value && job ? <p><button type="button" class="small" onClick={() => void call("POST", `/api/jobs/${job}/hand-over`, { device }).catch((bad: Error) => (problem.value = bad.message))}>Hand the probes over</button> This device, <input aria-label="Name of this device" value={deviceName.value} maxLength={20} onInput={(e) => (deviceName.value = e.currentTarget.value)} />, holds them: only here the power is moved.</p> : null}
      <p class="sub">{card.value?.kind === "act" && card.value.do === "off" ? card.value.text : ""}</p>
    </section>
  );
}
