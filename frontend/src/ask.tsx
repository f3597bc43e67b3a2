// The one thing to do now, in the place where the eye stays: reading, act, question, going live, or the end.
import { useEffect, useState } from "preact/hooks";
import { link, problem, view } from "./link";
import { answer, answers, at, boxes, card, doubt, enter, goingLive, peek, pointed, probe, sourceFirst, ticks, typed, unsure } from "./store";
import { aloud, setAloud, speak } from "./speech";
import type { Card, Probe } from "./types";
import { minutes, percent, showValue } from "./values";
import { cardAloud, fallsIn, partsOf, shownOf, splitLead } from "./words";

export function Ask() {
  const c = card.value;
  const v = view.value;
  return (
    <section class="ask" aria-label="What to do now">
      {unsure.value && v?.answer ? <p class="note inverted" role="alert">{link.value === "up" ? `The link to ${v.holder?.name || "who holds the probes"} is lost: how the set stands is not known.` : "The link is lost: how the set stands is not known here. What you type is kept and sent once."}</p> : null}
      {doubt.value ? <Question /> : !c ? <Waiting /> : c.kind === "round" ? <Round c={c} /> : c.kind === "act" ? <Act c={c} /> : c.kind === "end" ? <End c={c} /> : <Start c={c} />}
    </section>
  );
}

function Waiting() {
  const v = view.value;
  return <div class="calm"><h1>{v?.failed ? "The job can't be opened" : "Opening the job"}</h1><p role={v?.failed ? "alert" : "status"}>{v?.failed ?? v?.working ?? ""}</p></div>;
}

export function Aloud() {
  const say = () => speak(cardAloud(card.value, probe.value));
  return (
    <button type="button" class="small" onClick={say} onContextMenu={(e) => { e.preventDefault(); setAloud(!aloud.value); }}>Read aloud</button>
  );
}

function Head({ title, text }: { title: string; text: string }) {
  return <div class="askhead"><h1>{title}</h1><span>{text}</span><Aloud /></div>;
}

const Lead = ({ colour }: { colour: "red" | "black" }) => (
  <svg class={`prod ${colour}`} viewBox="0 0 108 16" aria-hidden="true"><path class="grip" d="M4 2h60q8 0 12 4h4v4h-4q-4 4-12 4H4q-4-6 0-12z" /><path class="tip" d="M80 8h28" /></svg>
);

/** As large as it fits: what is looked for from where both hands are busy. */
function fit(text: string): string { return text.length > 13 ? "far s3" : text.length > 8 ? "far s2" : "far"; }

function Where({ colour, word, lead, net }: { colour: "red" | "black"; word: string; lead: string; net: string }) {
  const [part, short, pin] = splitLead(lead);
  const whole = `${part} ${short}`.trim();
  return (
    <div class="where" role="group" aria-label={word}>
      <div class="cap"><Lead colour={colour} /> {word}</div>
      <div class={whole.length > 8 ? (fit(part) === "far" ? "far s2" : fit(part)) : "far"}>{part}{short ? <>{" "}<span class={whole.length > 8 ? "pin" : ""}>{short}</span></> : null}</div>
      <div class="sub">{pin && pin !== short ? `${pin}, ` : ""}net {net}</div>
    </div>
  );
}

const STATES: Record<string, string> = { dead: "set dead and discharged", alone: "part off the board, or a leg of it up" };

function firstDo(c: Card): string {
  const [word, ...rest] = (c.state ?? "").split(" less ");
  const less = rest.length ? `, ${rest.join(" ")} unplugged` : "";
  const state = STATES[word ?? ""] ?? (word?.startsWith("on+") ? `on, with ${word.slice(3)} pressed` : word === "on" ? "set on" : word ?? "");
  return `${state}${less}`;
}

function Round({ c }: { c: Card }) {
  const p = probe.value;
  if (!p) return null;
  const n = c.probes?.length ?? 1;
  return (
    <>
      <Head title={n > 1 ? `Reading ${at.value + 1} of ${n}` : "Next reading"} text={`${c.why ?? ""}, ${minutes(c.minutes ?? 0)}`} />
      <div class="leads">
        <Where colour="red" word="Red on" lead={p.lead} net={p.red} />
        <Where colour="black" word="Black on" lead={p.black_lead} net={p.black} />
        <div class="where" role="group" aria-label="Meter on"><div class="cap">Meter on</div><div class={fit(c.meter ?? "")}>{c.meter}</div><div class="sub">{p.alone ? `${p.part} by itself` : p.where}</div></div>
      </div>
      <div class="first">
        <p><b>First</b> {c.text || firstDo(c)}</p>
        {c.caution ? <p class="hazard"><i class="stripes" aria-hidden="true" />{c.caution}</p> : null}
        {(c.confirm ?? []).map((t) => <p key={t} class="sub">{t}</p>)}
        {n > 1 ? <ol class="round" aria-label="The round">{c.probes?.map((q, i) => <li key={i}><button type="button" aria-current={i === at.value ? "step" : undefined} onClick={() => (peek.value = i)}>{i + 1} {q.where}</button></li>)}</ol> : null}
      </div>
      {c.others?.length ? <ul class="more" aria-label="Other readings">{c.others.slice(0, 3).map((o) => <li key={o.text}>or {o.text}</li>)}</ul> : null}
      <Split p={p} />
    </>
  );
}

export function Split({ p }: { p: Probe }) {
  const parts = partsOf(p);
  const shown = shownOf(parts);
  const x = pointed.value;
  const part = x === null ? undefined : parts[fallsIn(parts, x, p.healthy)];
  const hit = x === null ? null : part ? shown.indexOf(part) : -1;
  const rest = Math.max(0, 1 - shown.reduce((s, q) => s + q.odds, 0));
  return (
    <ol class="split" aria-label="What it may show">
      {shown.map((q, i) => (
        <li key={i} class={`part ${q.healthy ? "good" : ""} ${hit === i ? "hit" : ""}`} data-size={size(q.odds)}>
          {hit === i ? <i class="pointer" aria-hidden="true" /> : null}
          <div class="range"><span class={`figure ${length(q.text)}`}>{q.text}</span></div>
          <div class="means"><b>{q.odds > 0 ? percent(q.odds) : ""}{q.healthy ? " Healthy." : ""}</b> {meaning(q.means)}</div>
        </li>
      ))}
      {rest > 0.005 || hit === -1 ? (
        <li class={`part else ${hit === -1 ? "hit" : ""}`} data-size="1">
          {hit === -1 ? <i class="pointer" aria-hidden="true" /> : null}
          <div class="range"><span class="figure s3">else</span></div><div class="means"><b>{percent(rest)}</b> {hit === -1 && part ? meaning(part.means) : ""}</div>
        </li>) : null}
    </ol>
  );
}

const length = (text: string): string => (text.length > 13 ? "s3" : text.length > 9 ? "s2" : "");
const size = (odds: number): string => String(Math.max(1, Math.min(8, Math.round(odds * 10))));
const meaning = (means: string): string => { const m = means.split(", ").filter((x) => x !== "nothing wrong"); return m.length ? (m.length > 4 ? `${m.slice(0, 4).join(", ")}, ${m.length - 4} more` : m.join(", ")) : ""; };

function Boxes() {
  const flip = (i: number) => { const now = new Set(ticks.value); if (!now.delete(i)) now.add(i); ticks.value = now; };
  return (
    <div class="boxes">
      {boxes.value.map((text, i) => (
        <button type="button" key={text} role="checkbox" aria-checked={ticks.value.has(i)} onClick={() => flip(i)}>
          <span class="tick" aria-hidden="true">{ticks.value.has(i) ? "✓" : ""}</span><span><b>{i + 1}</b> {text}</span>
        </button>
      ))}
    </div>
  );
}

function Act({ c }: { c: Card }) {
  if (goingLive.value) return <GoingLive c={c} />;
  if (c.caps) return <ReadDead c={c} />;
  const steps = c.steps ?? [c.text ?? ""];
  const [headline, ...rest] = steps;
  return (
    <>
      <Head title={c.do === "tell" ? "Look first" : c.watch ? "Leave it clipped" : "Do this"} text={c.minutes ? `about ${minutes(c.minutes)}` : ""} />
      <div class="order">
        <p class={`headline ${(headline ?? "").length > 90 ? "long" : ""}`}>{headline}</p>
        {rest.map((s) => <p key={s}>{s}</p>)}
      </div>
      {c.do === "tell" ? <div class="answers"><button type="button" class="answer" onClick={() => void enter("card")}><b>Go on without</b><span>card</span></button></div> : null}
      <Mind texts={c.confirm ?? []} />
    </>
  );
}

function Mind({ texts }: { texts: string[] }) {
  return texts.length ? <ul class="mind">{texts.map((t) => <li key={t}>{/\d+ V/.test(t) ? <i class="stripes" aria-hidden="true" /> : null}<span>{t}</span></li>)}</ul> : null;
}

/** Seconds that are left of a wait, from when the card came. */
function useSecondsLeft(wait: number): number {
  const [left, set] = useState(wait);
  useEffect(() => {
    const until = Date.now() + wait * 1000;
    const tick = () => set(Math.max(0, Math.ceil((until - Date.now()) / 1000)));
    tick();
    const every = setInterval(tick, 500);
    return () => clearInterval(every);
  }, [wait, view.value?.stamp]);
  return left;
}

/** Empty and read each capacitor, in the order in which the volts are typed. */
function ReadDead({ c }: { c: Card }) {
  const left = useSecondsLeft(c.wait ?? 0);
  const words = typed.value.trim().replace(/^dead\s*/i, "").split(/\s+/).filter((w) => w !== "");
  const source = sourceFirst.value ? [{ name: "a known source", held: "9 V battery, say", tool: "same leads" }] : [];
  const caps = c.places ?? (c.caps ?? []).map((name) => ({ name, held: "once more", tool: "" }));
  const zero = words.slice(source.length, source.length + caps.length).some((w) => Number(w.replace(/v$/i, "")) === 0);
  const fields = [...source, ...caps, ...(zero ? [{ name: "the source again", held: "0.0 shown: is a lead open?", tool: "" }] : [])];
  return (
    <>
      <Head title={c.places ? "Empty them, then read the volts" : "Read the volts once more"} text={left ? `in ${left} s` : c.wait ? "now" : c.minutes ? `about ${minutes(c.minutes)}` : ""} />
      <ol class="fields" aria-label="Volts, in this order">
        {fields.map((f, i) => (
          <li key={f.name} class={i === words.length ? "now" : i < words.length ? "done" : ""}>
            <b>{f.name}</b><span>{f.held}</span><span>{f.tool}</span><strong>{words[i] !== undefined ? `${words[i]?.replace(/v$/i, "")} V` : "\u00a0"}</strong>
          </li>
        ))}
      </ol>
      {c.places ? <p class="sub">Through the resistor, never a screwdriver. Under 10 V is dead; read again after a minute. {c.places.map((p) => (p.mind ? `${p.name}: ${p.mind}. ` : ""))}</p> : <p class="sub">Some of the charge creeps back within a minute; ohms only after that.</p>}
      <Mind texts={(c.confirm ?? []).filter((t) => /\d+ V/.test(t))} />
    </>
  );
}

function GoingLive({ c }: { c: Card }) {
  const stands = boxes.value.find((t) => /\d+ V/.test(t));
  return (
    <>
      <Head title="Going live" text="asked once for each change of condition" />
      <div class="order live"><i class="stripes big" aria-hidden="true" /><div><p class="headline">{c.text}</p>{stands ? <p>{stands}</p> : null}</div></div>
      <Boxes />
      <p class="sub">You switch on by hand: this page switches nothing. To stop: mains switch, by hand.</p>
    </>
  );
}

function Question() {
  const d = doubt.value;
  if (!d) return null;
  return (
    <>
      <Head title="One question first" text="the reading is kept either way" />
      <div class="order"><p class="headline">{d.ask}</p></div>
      <div class="answers">
        {answers.value.map((line, i) => (
          <button type="button" class="answer" key={line} onClick={() => answer(i)}><b>{i + 1} {line ? answerWords(line) : "Keep it"}</b><span>{line || "it is as it was read"}</span></button>
        ))}
      </div>
    </>
  );
}

/** What a line that owns up says, in a word or two. */
function answerWords(line: string): string {
  const was = /^(?:(?:no )?\d+ )?was (.+)$/.exec(line), strike = /^no (\d+)$/.exec(line), black = /^black was (\S+)/.exec(line);
  return was ? `It was ${was[1]}` : strike ? `Strike ${strike[1]}` : black ? `Black was on ${black[1]}` : line === "same" ? "The same again" : line;
}

const ENDS: Record<string, string> = { convicted: "Convicted", group: "One of these", "nothing found": "Nothing found", "not on the sheet": "Not on the sheet", refused: "We stop here", "no reading helps": "No reading is worth it" };

function End({ c }: { c: Card }) {
  const cause = c.cause;
  return (
    <>
      <Head title={ENDS[c.verdict ?? ""] ?? "The end"} text={c.odds ? percent(c.odds) : ""} />
      <div class="order long">
        {c.verdict === "convicted" || c.verdict === "group" ? <p class={`headline ${(c.ways ?? []).length > 2 ? "long" : ""}`}>{(c.ways ?? []).join(" or ")}</p> : null}
        <p>{c.text}</p>
        {c.verdict !== "convicted" && c.verdict !== "group" && c.parts?.length ? <p>Heaviest: <b>{c.parts.join(", ")}</b></p> : null}
        {cause?.check?.length ? <><h2>Before a new one goes in</h2><ul>{cause.check.slice(0, 4).map((t) => <li key={t}>{t}</li>)}</ul></> : null}
        <p class="power"><b>{c.power}</b></p>
      </div>
    </>
  );
}

function Start({ c }: { c: Card }) {
  const asks: Record<string, [string, string]> = {
    unit: ["What is it?", "label printer, 230V 50Hz, class II, 40W"], symptom: ["What does it do?", "dead, fuse good"], start: ["What kind of supply?", "flyback with controller; out 24V 1.5A"],
  };
  const [q, example] = asks[c.ask ?? ""] ?? ["", ""];
  return <><Head title={q} text="" /><div class="order"><p class="headline">{q}</p><p>such as: {example}</p></div></>;
}

/** What stands beside the entry line: what became of the last line, or what is being typed. */
export function Said() {
  const v = view.value, p = probe.value, x = pointed.value;
  if (problem.value) return <p class="said no" role="alert">Not taken: {problem.value}</p>;
  if (x !== null && p) {
    const parts = partsOf(p);
    const hit = fallsIn(parts, x, p.healthy);
    const part = parts[hit];
    return <p class="said">{x === Infinity ? "OL" : showValue(x, p.unit)} falls in<br /><b class={part?.healthy ? "go" : ""}>{part ? (part.healthy ? "healthy" : part.text) : "none of these"}</b></p>;
  }
  const f = v?.answer?.found ?? [];
  if (f.length) return <p class="said" role="status">{f.map((r) => <span key={r.where}>{r.where} <b>{r.verdict}</b>{r.note ? <i> {r.note}</i> : null}<br /></span>)}</p>;
  return <p class="said" role="status">{v?.answer?.said ?? ""}</p>;
}
