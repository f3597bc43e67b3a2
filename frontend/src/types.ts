// What the page is told: docs/protocol.md, with the log and who holds the probes round it.

export type Num = number | "OL" | null;

export interface Outcome { range: [Num, Num]; means: string; odds: number }

export interface Probe {
  red: string; black: string; where: string; point: string; lead: string; black_lead: string; red_pin: [string, string] | null; black_pin: [string, string] | null; function: string; unit: string;
  part: string | null; alone: boolean; healthy: [Num, Num] | null; outcomes: Outcome[]; type: string;
}

export interface Cause { status: string; killers: string[]; check: string[]; alive: { part: string; way: string; odds: number }[] }

export interface Card {
  kind: "start" | "act" | "round" | "end";
  ask?: string; type?: string; do?: string; text?: string; steps?: string[]; minutes?: number; hazard?: string; caution?: string; confirm?: string[];
  state?: string; function?: string; meter?: string; why?: string; probes?: Probe[]; others?: { text: string; type: string }[];
  caps?: string[]; places?: { name: string; held: string; tool: string; mind: string }[]; wait?: number; live?: string; watch?: boolean; about?: string;
  verdict?: string; parts?: string[]; ways?: string[]; odds?: number; cause?: Cause | null; power?: string;
}

export interface Suspect { part: string; way: string; odds: number; why: string; group?: number }
export interface Pair { parts: string[]; ways: string[]; odds: number; root: string | null }

export interface Found { line: number; where: string; value: Num; unit: string; expected: [Num, Num] | null; verdict: string; note?: string }

export interface Answer {
  line: number | null; ok: boolean; said: string; refused: string | null;
  state: { power: string; sides: Record<string, string>; lamp: number | null; pressed: string[]; black: string | null; dead: string[]; refit: string[]; mark?: string; twin?: boolean };
  found: Found[]; suspects: Suspect[]; pairs: Pair[]; nothing_wrong: number; not_on_sheet: number; comes_and_goes?: number;
  blocks: { block: string; odds: number }[];
  undrawn: { place: string; odds: number; check: string }[]; cleared: { block: string; parts: string[] }[];
  doubt: { ask: string; lines?: number[]; type: { yes: string; no: string; wrong?: string } } | null; speak: boolean; warn: string[]; card: Card;
  tell?: { trace: { text: string; type: string; minutes: number; saves: number }[]; values: { text: string }[] };
}

export interface LogLine {
  n: number; time: string; text: string; sheet: boolean; struck: boolean; corrected: boolean; strikes: number | null; verdict: string | null; where: string | null;
  expected: [Num, Num] | null; unit: string | null; lost: string | null;
}

export interface View {
  job: string; version: number; working: string | null; failed: string | null; answer: Answer | null; stamp: string;
  holder: { device: string; name: string; there: boolean } | null;
  sheet?: { unit: string; symptom: string; start: string };
  log?: LogLine[]; minutes?: { spent: number; limit: number | null }; ticket?: string; photos?: string[]; lamps?: number[];
  names?: { nets: string[]; parts: string[]; controls: string[] }; drawing?: string;
}

export interface JobLine {
  job: string; ticket: string; limit: number | null; closed: boolean; broken: string | null; unit: string; symptom: string; minutes: number; entries: number; last: string | null;
}
