import { render } from "preact";
import { useEffect, useState } from "preact/hooks";
import { type StageView, get } from "./api";
import { Forms } from "./forms";
import { Excursion } from "./excursion";
import { ConflictDialog, Drafts, Findings, Rail, Said, Strip, Working } from "./parts";
import { PictureView } from "./picture";
import { forms, redo, resultKey, stageId, start, state, undo, units, view } from "./state";
import { InputGrid, Schedule } from "./tables";
import "./style.css";

function Papers() {
  const [list, setList] = useState<{ name: string; title: string }[] | null>(null);
  const [open, setOpen] = useState<string | null>(null);
  const [why, setWhy] = useState<string | null>(null);
  const design = state.value?.design;
  const ready = design !== null && design !== undefined && !design.stale && design.whole && state.value?.usable === true;
  useEffect(() => {
    if (!ready) {
      setWhy("The papers wait for a design of the files as they are now.");
      return;
    }
    get<{ name: string; title: string }[]>("papers", { units: units.value })
      .then((l) => {
        setList(l);
        setWhy(null);
        setOpen((o) => o ?? l[0]?.name ?? null);
      })
      .catch((e: Error) => setWhy(e.message));
  }, [resultKey.value, ready]);
  return (
    <div class="papers">
      <section class="panel" aria-label="Documents">
        {why ? <p class="empty">{why}</p> : null}
        <ul class="paper-list">
          {(list ?? []).map((p) => (
            <li key={p.name}>
              <button type="button" aria-pressed={open === p.name} class={open === p.name ? "tab on" : "tab"} onClick={() => setOpen(p.name)}>{p.title}</button>
              <a href={`/api/papers/${p.name}?units=${units.value}`} target="_blank" rel="noreferrer">open<span class="sr"> {p.title}</span></a>
            </li>
          ))}
        </ul>
        <p class="quiet">`drycoil papers` writes the same documents, and the workbook of schedules, into the project folder.</p>
        <p><a href="/api/result/design.json" download>design.json</a> · <a href="/api/result/year.json" download>year.json</a></p>
      </section>
      {open && ready ? <iframe title={list?.find((p) => p.name === open)?.title ?? "Paper"} class="panel paper" src={`/api/papers/${open}?units=${units.value}`} /> : null}
    </div>
  );
}

/** The sequence in words, with the numbers of the project. */
function Written({ parts }: { parts: NonNullable<StageView["written"]> }) {
  return (
    <section class="panel prose" aria-label="Dew-point sequence in words">
      {parts.map((p, i) =>
        p.kind === "heading" ? <h2 key={i}>{p.text}</h2>
        : p.kind === "setting" ? <p key={i} class="setting"><span>{p.name}</span> <b>{p.text}</b></p>
        : p.kind === "stage" ? <p key={i}><b>{p.name}.</b> {p.text}</p>
        : p.kind === "item" ? <p key={i} class="item">{p.text}</p>
        : <p key={i} class={p.kind === "trouble" ? "trouble" : undefined}>{p.text}</p>,
      )}
    </section>
  );
}

function Stage() {
  const v = view.value;
  const id = stageId.value;
  const s = state.value;
  const ready = v && v.id === id ? v : null;
  return (
    <main class={`stage stage-${id}`} id="stage" tabIndex={-1}>
      <div class="question">
        <h2>{s?.stages.find((x) => x.id === id)?.title}</h2>
        <p>{ready?.question}</p>
      </div>
      <Drafts />
      {id === "papers" ? (
        <Papers />
      ) : id === "excursion" ? (
        <Excursion />
      ) : (
        <div class="halves">
          <div class="half left">
            {id === "rooms" ? <InputGrid files={["rooms.csv", "rooms.xlsx", "surfaces.csv", "profiles.csv"]} /> : null}
            <Forms view={forms.value[id]} />
            {ready?.tables.filter((t) => t.upright).map((t) => <Schedule key={t.name} table={t} stale={ready.stale} />)}
            {id === "terminals" ? <Forms view={forms.value.catalogue} /> : null}
          </div>
          <div class="half right">
            {ready?.pictures.map((p) => <PictureView key={p.name} name={p.name} title={p.title} stale={ready.stale} ready={p.ready} />)}
            
            {ready?.tables.filter((t) => !t.upright).map((t) => <Schedule key={t.name} table={t} stale={ready.stale} />)}
            {ready?.written ? <Written parts={ready.written} /> : null}
            {ready && ready.pictures.length + ready.tables.length === 0 && !ready.written ? <p class="empty">There are no results to show here.</p> : null}
          </div>
        </div>
      )}
    </main>
  );
}

function Page() {
  useEffect(() => {
    const key = (e: KeyboardEvent): void => {
      const typing = e.target instanceof HTMLInputElement || e.target instanceof HTMLTextAreaElement;
      if (!(e.ctrlKey || e.metaKey) || e.altKey || typing) return;
      const letter = e.key.toLowerCase();
      if (letter === "z" && !e.shiftKey) void undo();
      else if (letter === "y" || (letter === "z" && e.shiftKey)) void redo();
      else return;
      e.preventDefault();
    };
    addEventListener("keydown", key);
    return () => removeEventListener("keydown", key);
  }, []);
  return (
    <>
      <a class="skip" href="#stage">To the stage</a>
      <Strip />
      <Rail />
      <Stage />
      <Working />
      <Findings />
      <ConflictDialog />
      <Said />
    </>
  );
}

start();
render(<Page />, document.getElementById("page") as HTMLElement);
