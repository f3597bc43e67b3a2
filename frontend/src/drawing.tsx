// The board as it is known: the neighbourhood of the probes in the strip, the whole a tap away.
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { call, view } from "./link";
import { doubt, looked, panel, probe } from "./store";
import { rows } from "./side";
import { showBand } from "./values";

type Box = [number, number, number, number];
interface Drawn { svg: string; data: { size: Box; parts: Record<string, { box: Box }>; pins: Record<string, Record<string, [number, number]>>; nets: Record<string, { at: [number, number][] }> } }

export const drawn = { current: new Map<string, Drawn>() };

function useDrawing(): { drawing: Drawn | null; error: string | null; again: () => void } {
  const [turn, setTurn] = useState(0);
  const job = view.value?.job, version = view.value?.drawing;
  const [state, set] = useState<{ drawing: Drawn | null; error: string | null }>({ drawing: null, error: null });
  useEffect(() => {
    if (!job || !version) return;
    const have = drawn.current.get(`${job} ${version}`);
    if (have) { set({ drawing: have, error: null }); return; }
    let gone = false;
    call<Drawn>("GET", `/api/jobs/${job}/drawing?version=${version}`).then(
      (d) => { drawn.current.set(`${job} ${version}`, d); if (!gone) set({ drawing: d, error: null }); },
      (bad: Error) => { if (!gone) set({ drawing: null, error: bad.message }); });
    return () => { gone = true; };
  }, [job, version, turn]);
  return { ...state, again: () => setTurn(turn + 1) };
}

interface Mark { x: number; y: number; text: string; kind: string; key: string; up?: boolean; far?: boolean }

/** Where the probes, suspects and found values stand on the drawing. */
function marks(d: Drawn): Mark[] {
  const v = view.value, p = probe.value, out: Mark[] = [];
  const net = (name: string): [number, number] | undefined => d.data.nets[name]?.at[0];
  const seen = new Set<string>();
  for (const l of [...(v?.log ?? [])].reverse()) {
    if (l.struck || !l.verdict || l.verdict === "noted" || !l.where) continue;
    const at = net(l.where) ?? middle(d.data.parts[l.where]?.box);
    if (!at || seen.has(l.where)) continue;
    seen.add(l.where);
    const off = l.verdict !== "fits";
    out.push({ x: at[0], y: at[1], kind: off ? "off" : "fits", key: `v${l.where}`, text: off ? `${l.text.replace(`${l.where} `, "")}, not ${showBand(l.expected, l.unit ?? "")}` : `${l.text.replace(`${l.where} `, "")} fits` });
  }
  rows(v?.answer).slice(0, 5).forEach((r, i) => r.refs.forEach((ref) => {
    const box = d.data.parts[ref]?.box;
    if (box) out.push({ x: box[0] - 6, y: box[1] - 6, kind: "disc", key: `s${i}${ref}`, text: String(i + 1) });
  }));
  const sought = d.data.parts[looked.value ?? ""]?.box ?? undefined, spot = sought ? middle(sought) : looked.value ? net(looked.value) : undefined;
  if (spot) out.push({ x: spot[0], y: spot[1], kind: "found", key: "found", text: looked.value ?? "" });
  if (p && !doubt.value) {
    const red = pin(d, p.red_pin) ?? net(p.red), black = pin(d, p.black_pin) ?? net(p.black);
    const redAbove = !red || !black || red[1] <= black[1]; // the tags stand apart, whichever probe is the upper one
    if (red) out.push({ x: red[0], y: red[1], kind: "red", key: "red", text: "RED", up: redAbove });
    if (black) out.push({ x: black[0], y: black[1], kind: "black", key: "black", text: "BLACK", up: !redAbove });
    for (const m of out) if ((m.kind === "off" || m.kind === "fits") && [red, black].some((q) => q && Math.hypot(q[0] - m.x, q[1] - m.y) < 90)) m.far = true;
  }
  return out;
}

const middle = (b: Box | undefined): [number, number] | undefined => (b ? [b[0] + b[2] / 2, b[1] + b[3] / 2] : undefined);
function pin(d: Drawn, at: [string, string] | null): [number, number] | undefined { return at ? d.data.pins[at[0]]?.[at[1]] : undefined; }

function neighbourhood(d: Drawn, all: Mark[], ratio: number): Box {
  const [left, top, w, h] = d.data.size;
  const asked = all.filter((m) => m.kind === "found");
  const near = asked.length ? asked : all.filter((m) => m.kind === "red" || m.kind === "black");
  const wanted = near.length ? near : all.filter((m) => m.kind === "disc").slice(0, 2);
  const height = Math.min(h, Math.max(230, h * 0.6));
  const width = height * ratio;
  if (!wanted.length || (width >= w && height >= h)) return fitted([left, top, w, h], ratio);
  const xs = wanted.map((m) => m.x), ys = wanted.map((m) => m.y);
  const need: Box = [Math.min(...xs) - 120, Math.min(...ys) - 80, Math.max(...xs) - Math.min(...xs) + 240, Math.max(...ys) - Math.min(...ys) + 160];
  const out = Math.max(1, need[2] / width, need[3] / height);
  const vw = Math.min(width * out, Math.max(w, h * ratio)), vh = vw / ratio;
  const clamp = (x: number, low: number, high: number) => (high < low ? (low + high) / 2 : Math.min(Math.max(x, low), high));
  return [clamp(need[0] + need[2] / 2 - vw / 2, left, left + w - vw), clamp(need[1] + need[3] / 2 - vh / 2, top, top + h - vh), vw, vh];
}

function fitted([x, y, w, h]: Box, ratio: number): Box {
  return w / h > ratio ? [x, y - (w / ratio - h) / 2, w, w / ratio] : [x - (h * ratio - w) / 2, y, h * ratio, h];
}

export function Drawing({ whole, pick }: { whole?: boolean; pick?: (net: string) => void }) {
  const { drawing, error, again } = useDrawing();
  const frame = useRef<HTMLDivElement>(null);
  const [room, setRoom] = useState<[number, number]>([960, 260]);
  useEffect(() => {
    const el = frame.current;
    if (!el) return;
    const watch = new ResizeObserver(() => setRoom([el.clientWidth, el.clientHeight]));
    watch.observe(el);
    return () => watch.disconnect();
  }, []);
  const [zoom, setZoom] = useState<Box | null>(null);
  const all = drawing ? marks(drawing) : [];
  const ratio = room[0] / Math.max(1, room[1]);
  const box = drawing && room[0] > 0 && room[1] > 0 ? zoom ?? (whole ? fitted(drawing.data.size, ratio) : neighbourhood(drawing, all, ratio)) : null;
  const scale = box ? room[0] / box[2] : 1;
  const inner = useMemo(() => ({ __html: drawing?.svg ?? "" }), [drawing]);
  const holder = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const svg = holder.current?.querySelector("svg");
    if (!svg || !box) return;
    svg.setAttribute("viewBox", box.map((n) => n.toFixed(1)).join(" "));
    svg.setAttribute("preserveAspectRatio", "xMidYMid meet");
    svg.removeAttribute("width");
    svg.removeAttribute("height");
    svg.classList.toggle("far", scale < 0.75);
    svg.style.setProperty("--k", Math.min(2.2, Math.max(1, (scale < 0.75 ? 1.05 : 1) / scale)).toFixed(2)); // labels keep their size on the screen
    const numbered = new Map<string, number>();
    rows(view.value?.answer).slice(0, 5).forEach((r, i) => r.refs.forEach((ref) => numbered.set(ref, i + 1)));
    const cleared = new Set((view.value?.answer?.cleared ?? []).flatMap((c) => c.parts));
    const refit = new Set(view.value?.answer?.state.refit ?? []);
    const end = view.value?.answer?.card;
    svg.querySelectorAll<SVGGElement>("[data-ref]").forEach((g) => {
      const ref = g.dataset.ref ?? "";
      const n = numbered.get(ref);
      g.classList.toggle("suspect", n !== undefined);
      g.classList.toggle("first", n === 1);
      g.classList.toggle("cleared", n === undefined && cleared.has(ref));
      g.classList.toggle("lifted", refit.has(ref));
      g.classList.toggle("convicted", end?.kind === "end" && end.verdict === "convicted" && (end.parts ?? []).includes(ref));
    });
  });
  const move = (factor: number) => { if (box && drawing) { const w = Math.min(box[2] * factor, drawing.data.size[2] * 1.5), h = w / ratio; setZoom([box[0] + (box[2] - w) / 2, box[1] + (box[3] - h) / 2, w, h]); } };
  const tidy = () => { const v = view.value; if (v) void call<Drawn>("POST", `/api/jobs/${v.job}/tidy`).then((d) => { drawn.current.set(`${v.job} ${v.drawing}`, d); again(); }); };
  const drag = useRef<[number, number] | null>(null);
  return (
    <section class={`drawing ${whole ? "whole" : ""}`} aria-label="Drawing">
      <div class="frame" ref={frame}
        onPointerDown={(e) => { if (whole && !pick) { drag.current = [e.clientX, e.clientY]; e.currentTarget.setPointerCapture(e.pointerId); } }}
        onPointerMove={(e) => { if (whole && drag.current && box) { const [x, y] = drag.current; drag.current = [e.clientX, e.clientY]; setZoom([box[0] - (e.clientX - x) / scale, box[1] - (e.clientY - y) / scale, box[2], box[3]]); } }}
        onPointerUp={() => { drag.current = null; }}
        onClick={(e) => { const net = (e.target as Element).closest<SVGElement>("[data-net]")?.dataset.net; if (net && pick) pick(net); }} onWheel={(e) => { if (whole) move(e.deltaY > 0 ? 1.15 : 0.87); }}>
        <div class="svg" ref={holder} dangerouslySetInnerHTML={inner} />
        {box ? <svg class="marks" viewBox={box.join(" ")} aria-hidden="true">{all.map((m) => <MarkAt key={m.key} m={m} scale={scale} box={box} />)}</svg> : null}
        {error ? <p class="note">{error}</p> : null}
      </div>
      <div class="tools">
        {whole ? <><button type="button" class="small" onClick={() => move(0.75)}>Nearer</button><button type="button" class="small" onClick={() => move(1.33)}>Farther</button><button type="button" class="small" onClick={() => setZoom(null)}>All of it</button><button type="button" class="small" onClick={tidy}>Draw anew</button>{pick ? null : <><a class="button small" href={`/api/jobs/${view.value?.job}/drawing.svg`} download>SVG</a><a class="button small" href={`/api/jobs/${view.value?.job}/drawing.pdf`} download>PDF</a><button type="button" class="small" onClick={() => { panel.value = null; }}>Close</button></>}</>
          : <><button type="button" class="small" onClick={() => (panel.value = "sheet")}>Sheet</button><button type="button" class="small" onClick={() => (panel.value = "drawing")}>Full screen</button><button type="button" class="small" onClick={() => (panel.value = "pictures")}>Pictures</button></>}
      </div>
    </section>
  );
}

/** A label of constant size on the screen, wherever the drawing is. */
function MarkAt({ m, scale, box }: { m: Mark; scale: number; box: Box }) {
  const k = 1 / scale;
  const long = m.text.length * 7.4 + 16;
  const lift: Record<string, [number, number]> = { red: [14, m.up ? -34 : 18], black: [14, m.up ? -34 : 18], due: [-long - 6, 16], fits: [m.far ? -long - 30 : -long / 2, m.far ? -58 : -36], off: [m.far ? -long - 30 : -long / 2, m.far ? -58 : -36], disc: [-8, -8], found: [-long / 2, 30] };
  let [dx, dy] = lift[m.kind] ?? [0, 0];
  const x = (m.x - box[0]) * scale, y = (m.y - box[1]) * scale, w = box[2] * scale, h = box[3] * scale;
  if (x + dx < 2) dx = 2 - x;
  if (x + dx + long > w) dx = w - long - x - 2;
  if (y + dy < 2) dy = 12;
  if (y + dy + 22 > h) dy = -34;
  if (m.kind === "disc") return <g transform={`translate(${m.x} ${m.y}) scale(${k})`} class="mark disc"><circle r="11" /><text text-anchor="middle" y="5">{m.text}</text></g>;
  return (
    <g transform={`translate(${m.x} ${m.y}) scale(${k})`} class={`mark ${m.kind}`}>
      <path class="stalk" d={`M0 0L${dx + Math.min(long / 2, 20)} ${dy + 10}`} />
      <circle class="ring" r="6" />
      <rect x={dx} y={dy} width={long} height="20" rx={m.kind === "red" ? 10 : 0} />
      <text x={dx + 8} y={dy + 15}>{m.text}</text>
    </g>
  );
}
