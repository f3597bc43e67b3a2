import { render } from "preact";
import { useEffect } from "preact/hooks";
import { Ask } from "./ask";
import { Drawing } from "./drawing";
import { Entry, Pad } from "./entry";
import { Head, Power } from "./head";
import { Jobs, NewJob } from "./jobs";
import { busy, closeJob, openJob, view, waiting } from "./link";
import { Others, WholeLog, Why } from "./panels";
import { Pictures } from "./pictures";
import { Sheet } from "./sheet";
import { Log, Suspects } from "./side";
import { panel, route } from "./store";

function Bench({ job }: { job: string }) {
  useEffect(() => { openJob(job); return closeJob; }, [job]);
  const p = panel.value;
  return (
    <main class={`bench ${p === "pad" ? "withpad" : ""}`} aria-label="Bench" aria-busy={busy.value !== null || waiting.value !== null || !view.value?.answer}>
      <Head />
      <Ask />
      {p === "pad" ? <Pad /> : <><Suspects /><Log /></>}
      <Drawing />
      <Entry />
      {p === "others" ? <Others /> : p === "why" ? <Why /> : p === "log" ? <WholeLog /> : p === "power" ? <Power /> : p === "sheet" ? <Sheet /> : p === "pictures" ? <Pictures />
        : p === "drawing" ? <div class="panel full"><Drawing whole /></div> : null}
      <nav class="tabs" aria-label="More">{(["drawing", "why", "log"] as const).map((t) => <button type="button" key={t} aria-expanded={p === t} onClick={() => (panel.value = p === t ? null : t)}>{t === "drawing" ? "Drawing" : t === "why" ? "Suspects" : `Log ${view.value?.log?.length ?? ""}`}</button>)}</nav>
    </main>
  );
}

function Page() {
  const at = route.value;
  const job = /^#\/job\/([a-z0-9-]+)/.exec(at)?.[1];
  useEffect(() => { document.title = job ? `${job}, halfsplit bench` : "halfsplit bench"; }, [job]);
  return job ? <Bench job={job} /> : at === "#/new" ? <NewJob /> : <Jobs />;
}

const page = document.getElementById("page");
if (page) { page.replaceChildren(); render(<Page />, page); }
