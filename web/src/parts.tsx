// Strip, rail, pictures, working, findings, conflicts.

import { useEffect, useRef, useState } from "preact/hooks";
import { type Finding, type Place, get } from "./api";
import {
  cancel,
  chosenUnits,
  conflict,
  connected,
  drafts,
  finishDraft,
  findingsOpen,
  go,
  insist,
  openWorking,
  redo,
  run,
  said,
  sheet,
  show,
  showRoom,
  stageId,
  state,
  theme,
  undo,
  units,
  yieldToThem,
} from "./state";

export function Strip() {
  const s = state.value;
  if (!s) return <header class="strip"><span class="brand">Drycoil</span></header>;
  const busy = s.busy;
  const share = busy.what === "year" && busy.of ? Math.round((100 * (busy.done ?? 0)) / busy.of) : null;
  const behind = busy.what === "idle" && s.wanted !== s.generation;
  const working = behind || busy.what === "reading" || busy.what === "sizing" || busy.what === "year" || busy.what === "telling";
  const doing = behind || busy.what === "reading" ? "Reading" : busy.what === "sizing" ? "Sizing" : busy.what === "year" ? `Year ${share} %` : busy.what === "telling" ? "Pricing" : busy.what === "cancelled" ? "Stopped" : s.usable ? "Up to date" : "Cannot be sized yet";
  const blocking = s.counts.error;
  return (
    <header class="strip" data-design={s.design && !s.design.stale ? s.design.generation : undefined} data-year={s.year && !s.year.stale ? s.year.generation : undefined}>
      <div class="job">
        <h1>{s.project?.name ?? "Drycoil"}</h1>
        <span class="quiet">{s.project ? `revision ${s.project.revision}` : ""}</span>
      </div>
      <div class="figures">
        {s.strip.map((f) => (
          <button
            key={f.key}
            type="button"
            class={`figure${f.stale ? " stale" : ""}${f.low ? " low" : ""}${f.wet ? " bad" : ""}`}
            onClick={() => {
              if (f.working && !f.stale) void openWorking(f.working.place, f.working.quantity);
              else if (f.stage) go(f.stage);
              else if (f.room) showRoom(f.room);
            }}
          >
            <span class="figure-label">{f.label}</span>
            <span class="figure-value">{f.value}</span>
            <span class="figure-detail">{f.detail}{f.stale ? ", of an earlier state" : ""}</span>
          </button>
        ))}
        <button
          type="button"
          class={`figure findings-figure${blocking ? " bad" : ""}`}
          aria-expanded={findingsOpen.value}
          onClick={() => {
            findingsOpen.value = !findingsOpen.value;
          }}
        >
          <span class="figure-label">Findings</span>
          <span class="figure-value">{s.counts.error + s.counts.warning}</span>
          <span class="figure-detail">{s.counts.error} errors, {s.counts.warning} warnings</span>
        </button>
      </div>
      <div class="tools">
        <div class="doing">
          <span class={working ? "dot on" : connected.value ? "dot" : "dot off"} aria-hidden="true" />
          <span role="status">{connected.value ? doing : "Not connected"}</span>
          {working ? (
            <button type="button" class="small" onClick={() => void cancel()}>Stop</button>
          ) : busy.what === "cancelled" ? (
            <button type="button" class="small" onClick={() => void run()}>Run</button>
          ) : null}
          <progress max={100} value={share ?? (working ? 5 : 100)} aria-label="Progress of the year" class={working ? "" : "hidden"} />
        </div>
        <div class="buttons">
          <button type="button" disabled={!s.history?.undo} title={s.history?.undo ? `Take back: ${s.history.undo}` : "Nothing to take back"} onClick={() => void undo()}>Undo</button>
          <button type="button" disabled={!s.history?.redo} title={s.history?.redo ? `Make again: ${s.history.redo}` : "Nothing to make again"} onClick={() => void redo()}>Redo</button>
          <div class="switch" role="group" aria-label="Units shown">
            {(["si", "ip"] as const).map((u) => (
              <button key={u} type="button" aria-pressed={units.value === u} onClick={() => { chosenUnits.value = u; }}>{u.toUpperCase()}</button>
            ))}
          </div>
          <button type="button" aria-pressed={theme.value === "dark"} onClick={() => { theme.value = theme.value === "dark" ? "light" : "dark"; }}>Dark</button>
        </div>
      </div>
    </header>
  );
}

export function Rail() {
  const s = state.value;
  const count = new Map<string, { bad: number; warning: number }>();
  for (const f of s?.findings ?? []) {
    if (f.waiver || f.severity === "note") continue;
    const c = count.get(f.stage) ?? { bad: 0, warning: 0 };
    if (f.severity === "error") c.bad += 1;
    else c.warning += 1;
    count.set(f.stage, c);
  }
  return (
    <nav class="rail" aria-label="Stages">
      <ol>
        {(s?.stages ?? []).map((stage) => {
          const c = count.get(stage.id);
          return (
            <li key={stage.id}>
              <a
                href={`#${stage.id}`}
                aria-current={stage.id === stageId.value ? "page" : undefined}
                onClick={(e) => {
                  e.preventDefault();
                  go(stage.id);
                }}
              >
                <span>{stage.title}</span>
                {c ? <span class={`badge ${c.bad ? "error" : "warning"}`}>{c.bad + c.warning}<span class="sr"> findings</span></span> : null}
              </a>
            </li>
          );
        })}
      </ol>
      <p class="caution">Results are design aids for a licensed engineer, who remains responsible for the design.</p>
      <p class="quiet version">{s?.version}</p>
    </nav>
  );
}

function useDialog(open: boolean, close: () => void) {
  const ref = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const d = ref.current;
    if (!d) return;
    if (open && !d.open) d.showModal();
    if (!open && d.open) d.close();
  }, [open]);
  return { ref, onClose: close, onClick: (e: MouseEvent) => { if (e.target === ref.current) ref.current?.close(); } };
}

/** How a number was computed. */
export function Working() {
  const s = sheet.value;
  const dialog = useDialog(s !== null, () => {
    sheet.value = null;
  });
  useEffect(() => {
    // The other units, while it is open.
    if (sheet.value) void openWorking(sheet.value.place, sheet.value.quantity);
  }, [units.value]);
  return (
    <dialog class="drawer" aria-label="Working" {...dialog}>
      {s ? (
        <>
          <header>
            <h2>{s.title}</h2>
            <p class="quiet">{s.place} · {s.quantity.replaceAll("_", " ")}{s.stale ? " · of an earlier state of the files" : ""}</p>
            <button type="button" class="close" autofocus onClick={() => dialog.ref.current?.close()}>Close</button>
          </header>
          <ol class="lines">
            {s.lines.map((line, i) => (
              <li key={`${line.symbol}-${i}`}>
                <p class="meaning">{line.meaning}</p>
                <div class="equation">
                  <span>{line.symbol}</span><span>= {line.formula}</span>
                  {line.numbers !== line.formula ? <><span /><span>= {line.numbers}</span></> : null}
                  <span /><strong>= {line.result}</strong>
                </div>
                {line.source ? <p class="quiet">Source: {line.source.publication}, {line.source.method}</p> : null}
                {line.note ? <p class="quiet">{line.note}</p> : null}
                {line.inputs.length > 0 ? (
                  <table>
                    <tbody>
                      {line.inputs.map((input) => (
                        <tr key={input.symbol}>
                          <th scope="row">{input.symbol}</th>
                          <td class="number">{input.shown}</td>
                          <td>
                            {input.origin.place?.file ? (
                              <button
                                type="button"
                                class="place"
                                onClick={() => {
                                  const p = input.origin.place;
                                  sheet.value = null;
                                  if (p?.file) show(stageOf(p.file, p.key), p.file, p.line, p.key, null);
                                }}
                              >
                                {input.origin.text}
                              </button>
                            ) : (
                              input.origin.text
                            )}
                          </td>
                        </tr>
                      ))}
                    </tbody>
                  </table>
                ) : null}
              </li>
            ))}
          </ol>
        </>
      ) : null}
    </dialog>
  );
}

const STAGE_OF: Record<string, string> = {
  project: "site", site: "site", waive: "site", criteria: "rooms", room_kinds: "rooms", constructions: "rooms", glazings: "rooms",
  dew_point: "dew-point", terminals: "terminals", primary_air: "primary-air", ducts: "primary-air", water: "water", plant: "water",
  year: "year", all_air: "year", economics: "year", sequence: "sequence",
};

function stageOf(file: string, key: string | null): string {
  if (file.endsWith(".csv") || file.endsWith(".xlsx")) return "rooms";
  if (file === "catalogue.toml") return "terminals";
  return STAGE_OF[(key ?? "").split(".")[0] ?? ""] ?? "site";
}

const placeWords = (p: Place): string =>
  [p.file ? `${p.file}${p.line === null ? "" : `:${p.line}`}` : null, p.key, p.part].filter(Boolean).join(", ");

export function Findings() {
  const s = state.value;
  const [about, setAbout] = useState<{ id: string; why: string; remedy: string } | null>(null);
  const [notes, setNotes] = useState(false);
  const dialog = useDialog(findingsOpen.value, () => {
    findingsOpen.value = false;
  });
  const rank: Record<Finding["severity"], number> = { error: 0, warning: 1, note: 2 };
  const list = (s?.findings ?? [])
    .filter((f) => notes || f.severity !== "note")
    .slice()
    .sort((a, b) => rank[a.severity] - rank[b.severity]);
  return (
    <dialog class="drawer" aria-label="Findings" {...dialog}>
      <header>
        <h2>Findings</h2>
        <label class="quiet"><input type="checkbox" checked={notes} onChange={() => setNotes(!notes)} /> Show notes</label>
        <button type="button" class="close" autofocus onClick={() => dialog.ref.current?.close()}>Close</button>
      </header>
      {list.length === 0 ? <p class="empty">Nothing is wrong.</p> : null}
      <ul class="finding-list">
        {list.map((f, i) => (
          <li key={`${f.id}-${i}`} class={f.severity}>
            <p>
              <span class={`badge ${f.severity}`}>{f.severity}</span>{" "}
              <button
                type="button"
                class="place"
                title="Why it matters, and what to do"
                onClick={() => void get<{ id: string; why: string; remedy: string }>("explain", { id: f.id }).then((e) => setAbout(about?.id === e.id ? null : e))}
              >
                {f.id}
              </button>{" "}
              {f.message}
              {f.value ? <span class="quiet"> Is {f.value}.</span> : null}
              {f.allowed ? <span class="quiet"> Allowed: {f.allowed}.</span> : null}
            </p>
            {about?.id === f.id ? <div class="explained"><p>{about.why}</p><p>{about.remedy}</p></div> : null}
            {f.hint ? <p class="quiet">{f.hint}</p> : null}
            {f.waiver ? <p class="quiet">Accepted by {f.waiver.role}, {f.waiver.date}: {f.waiver.reason}</p> : null}
            <p>
              {f.places.slice(0, 6).map((p, j) => (
                <button
                  key={j}
                  type="button"
                  class="place"
                  onClick={() => {
                    findingsOpen.value = false;
                    show(f.stage, p.file, p.line, p.key, p.part);
                  }}
                >
                  {placeWords(p)}
                </button>
              ))}
            </p>
          </li>
        ))}
      </ul>
    </dialog>
  );
}

const shownValue = (v: unknown): string => (v === null || v === undefined ? "nothing" : typeof v === "string" ? v : JSON.stringify(v));

export function ConflictDialog() {
  const c = conflict.value;
  const dialog = useDialog(c !== null, () => {
    if (conflict.value) yieldToThem();
  });
  return (
    <dialog class="ask" aria-label="Somebody else changed the same" {...dialog} onClick={undefined}>
      {c ? (
        <>
          <h2>Somebody else changed the same</h2>
          <p>Another window, another program or a person with an editor wrote here since you looked. Nothing of yours is written yet.</p>
          <table>
            <thead><tr><th scope="col">Where</th><th scope="col">Was</th><th scope="col">Theirs</th><th scope="col">Yours</th></tr></thead>
            <tbody>
              {c.conflicts.slice(0, 50).map((x) => (
                <tr key={x.index}><th scope="row">{x.what}</th><td>{shownValue(x.was)}</td><td>{shownValue(x.theirs)}</td><td>{shownValue(x.mine)}</td></tr>
              ))}
            </tbody>
          </table>
          <div class="row-tools">
            <button type="button" autofocus onClick={() => yieldToThem()}>Keep theirs</button>
            <button type="button" onClick={() => void insist()}>Write mine</button>
          </div>
        </>
      ) : null}
    </dialog>
  );
}

/** Text that was typed and not finished when a window or the program ended. */
export function Drafts() {
  const list = Object.entries(drafts.value);
  if (list.length === 0) return null;
  return (
    <aside class="drafts" aria-label="Text that was not finished">
      {list.map(([window, draft]) => {
        const change = draft.step.changes[0]?.change;
        const text = change?.do === "cell" ? change.now : change?.do === "key" && change.now ? ("text" in change.now ? change.now.text : change.now.literal) : "";
        return (
          <p key={window}>
            Typed and not finished, {draft.place}: <b>{text || "(empty)"}</b>{" "}
            <button type="button" class="small" onClick={() => void finishDraft(window, true)}>Put it in</button>{" "}
            <button type="button" class="small" onClick={() => void finishDraft(window, false)}>Drop it</button>
          </p>
        );
      })}
    </aside>
  );
}

export function Said() {
  const s = said.value;
  useEffect(() => {
    if (!s || s.bad) return;
    const timer = setTimeout(() => {
      said.value = null;
    }, 4000);
    return () => clearTimeout(timer);
  }, [s]);
  return (
    <div class={`said${s ? " on" : ""}${s?.bad ? " bad" : ""}`} role={s?.bad ? "alert" : "status"}>
      {s?.text}
      {s ? <button type="button" class="small" aria-label="Close this message" onClick={() => { said.value = null; }}>×</button> : null}
    </div>
  );
}
