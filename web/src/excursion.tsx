// Excursions: the cases of the library with what came of them, and a player of one case over time.

import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { type CaseRow, type CaseView, type ExcursionView, get, post } from "./api";
import { say, state, theme, units } from "./state";

const trouble = (e: Error): void => say(e.message, true);

export function Excursion() {
  const [view, setView] = useState<ExcursionView | null>(null);
  const [chosen, setChosen] = useState<string | null>(null);
  const s = state.value;
  const summary = s?.excursions;
  const fresh = s?.design !== null && s?.design?.stale === false && s?.usable === true;
  const key = [units.value, summary?.generation, summary?.prepared, summary?.finished, summary?.doing?.case, summary?.doing?.done, summary?.trouble, s?.generation, fresh].join("/");
  useEffect(() => {
    let gone = false;
    get<ExcursionView>("excursion", { units: units.value })
      .then((v) => {
        if (gone) return;
        setView(v);
        setChosen((c) => c ?? v.cases.find((x) => x.result)?.name ?? null);
      })
      .catch(trouble);
    return () => {
      gone = true;
    };
  }, [key]);
  // The list of cases needs the building: it is prepared when the stage is opened.
  const asked = useRef<number | null>(null);
  useEffect(() => {
    if (!view || view.doing || view.trouble || !fresh || !s) return;
    if (!view.prepared && asked.current !== s.generation) {
      asked.current = s.generation;
      void post("excursion", { cases: [] }).catch(trouble);
    }
  }, [view, fresh]);
  const run = (cases: string[] | null): void => void post("excursion", { cases }).catch(trouble);
  const doing = view?.doing;
  const one = view?.cases.find((c) => c.name === chosen);
  return (
    <div class="halves excursion">
      <div class="half left">
        <section class="panel" aria-label="Cases">
          <div class="row-tools first">
            <button type="button" disabled={!view?.possible || !!doing} onClick={() => run(null)}>Run all cases</button>
            <button type="button" disabled={!view?.possible || !!doing || !one} onClick={() => chosen && run([chosen])}>Run the chosen case</button>
            {doing ? (
              <>
                <button type="button" onClick={() => void post("excursion-cancel", {}).catch(trouble)}>Stop</button>
                <progress max={Math.max(doing.of, 1)} value={doing.done} aria-label="Progress of the cases" />
                <span role="status">{doing.case ? `${doing.case}, ${doing.done} of ${doing.of} done` : "Preparing the building"}</span>
              </>
            ) : null}
          </div>
          {view?.trouble ? <p class="trouble" role="alert">{view.trouble}</p> : null}
          {view?.stale ? <p class="note-line">These cases were run on an earlier state of the files. Run them again.</p> : null}
          {view && view.cases.length > 0 ? <Cases cases={view.cases} chosen={chosen} stale={view.stale} onChoose={setChosen} /> : <p class="empty">{view?.possible ? "The cases are being made for this building." : "The cases wait for a design of the files as they are now."}</p>}
        </section>
      </div>
      <div class="half right">
        {one ? (
          one.result ? <Player key={one.name} name={one.name} version={`${view?.generation}/${summary?.finished}`} /> : (
            <section class="panel" aria-label={one.title}>
              <h2>{one.title}</h2>
              <p class="empty">{one.story} It was not run yet.</p>
            </section>
          )
        ) : (
          <p class="empty">Choose a case to see it over time.</p>
        )}
      </div>
    </div>
  );
}

function Cases({ cases, chosen, stale, onChoose }: { cases: CaseRow[]; chosen: string | null; stale: boolean; onChoose: (name: string) => void }) {
  const names = cases.find((c) => c.result)?.result?.criteria.map((c) => `${c.what}, at most ${c.allowed}`) ?? [];
  const heads = ["Drips", "Film", "Recovery", "Cooling lost"];
  return (
    <div class={`scroll${stale ? " stale" : ""}`} tabIndex={0} role="region" aria-label="Table of cases">
      <table class="plain cases">
        <thead>
          <tr>
            <th scope="col">Case</th>
            <th scope="col">Result</th>
            <th scope="col">Least margin</th>
            <th scope="col">Zone</th>
            {heads.map((h, i) => <th key={h} scope="col" title={names[i]}>{h}</th>)}
          </tr>
        </thead>
        <tbody>
          {cases.map((c) => (
            <tr key={c.name} class={c.name === chosen ? "chosen" : undefined}>
              <th scope="row">
                <button type="button" class="number-link left" aria-pressed={c.name === chosen} title={c.story} onClick={() => onChoose(c.name)}>{c.title}</button>
              </th>
              {c.result ? (
                <>
                  <td class="word"><span class={`badge ${c.result.passed ? "pass" : "error"}`}>{c.result.passed ? "passes" : "fails"}</span></td>
                  <td>{c.result.margin}</td>
                  <td>{c.result.worst}</td>
                  {c.result.criteria.map((x) => <td key={x.what} class={x.passed ? undefined : "missed"} title={`${x.what}: ${x.value}, at most ${x.allowed}`}>{x.value}{x.passed ? null : <span class="sr"> missed</span>}</td>)}
                </>
              ) : (
                <td class="word quiet" colSpan={7}>not run</td>
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

const CLASSES = ["valve shut", "dry", "below the required margin", "water colder than the dew point", "water on the coil"];

function Player({ name, version }: { name: string; version: string }) {
  const [view, setView] = useState<CaseView | null>(null);
  const [zone, setZone] = useState<string | null>(null);
  const [at, setAt] = useState(0);
  const [playing, setPlaying] = useState(false);
  const look = theme.value;
  useEffect(() => {
    let gone = false;
    get<CaseView>(`excursion/${encodeURIComponent(name)}`, { units: units.value, theme: look, ...(zone ? { zone } : {}) })
      .then((v) => {
        if (gone) return;
        setView((before) => {
          // The story begins where something happens.
          if (!before) setAt(Math.max(0, v.times_s.findIndex((t) => t >= v.trigger_s)));
          return v;
        });
      })
      .catch(trouble);
    return () => {
      gone = true;
    };
  }, [name, zone, units.value, look, version]);
  const count = view?.times_s.length ?? 0;
  useEffect(() => {
    if (!playing) return;
    const timer = setInterval(() => {
      setAt((a) => {
        if (a + 1 >= count) {
          setPlaying(false);
          return a;
        }
        return a + 1;
      });
    }, 50);
    return () => clearInterval(timer);
  }, [playing, count]);
  const drawing = useMemo(() => (view ? <div class="drawing" dangerouslySetInnerHTML={{ __html: view.svg }} /> : null), [view?.svg]);
  if (!view || count === 0) return <p class="empty">Reading the case…</p>;
  const now = Math.min(at, count - 1);
  const t = view.times_s[now] ?? 0;
  const moment = view.moments[now] ?? [];
  const classes = view.classes[now] ?? "";
  const cursors = view.plots.map((plot) => {
    const [l, top, r, b] = plot.box;
    const x = l + ((t - plot.x[0]) / (plot.x[1] - plot.x[0])) * (r - l);
    return `M${x} ${top}V${b}`;
  });
  const stage = (list: CaseView["stages"]): number => list.findIndex((s) => t >= s.from_s && t < s.to_s);
  const current = stage(view.stages);
  return (
    <section class="panel player" aria-label={view.title}>
      <h2>{view.title} <span class={`badge ${view.result.passed ? "pass" : "error"}`}>{view.result.passed ? "passes" : "fails"}</span></h2>
      <p class="story">{view.story} <span class="quiet">{view.result.day}.</span></p>
      <div class="transport">
        <button
          type="button"
          aria-pressed={playing}
          onClick={() => {
            if (!playing && now + 1 >= count) setAt(0);
            setPlaying(!playing);
          }}
        >
          {playing ? "Pause" : "Play"}
        </button>
        <input
          type="range"
          min={0}
          max={count - 1}
          value={now}
          aria-label="Time"
          aria-valuetext={view.clock[now]}
          onInput={(e) => setAt(Number((e.currentTarget as HTMLInputElement).value))}
        />
        <output class="clock">{view.clock[now]}</output>
      </div>
      <dl class="moment">
        {view.labels.map((label, i) => (
          <div key={label}><dt>{label}</dt><dd>{moment[i]}</dd></div>
        ))}
      </dl>
      <div class="stack">
        {drawing}
        <svg class="over plain-over" viewBox={`0 0 ${view.width} ${view.height}`} aria-hidden="true"><path class="cursor" d={cursors.join("")} /></svg>
      </div>
      <h3 id="zones-now">All zones at {view.clock[now]}</h3>
      <ul class="legend" aria-hidden="true">
        {CLASSES.map((c, i) => <li key={c}><span class={`tile c${i}`} /> {c}</li>)}
      </ul>
      <div class="tiles" role="group" aria-labelledby="zones-now">
        {view.zones.map((z, i) => (
          <button
            key={z}
            type="button"
            class={`tile c${classes[i] ?? "0"}`}
            aria-pressed={z === view.zone}
            aria-label={`Zone ${z}: ${CLASSES[Number(classes[i] ?? "0")]}`}
            title={`${z}: ${CLASSES[Number(classes[i] ?? "0")]}`}
            onClick={() => setZone(z)}
          >
            {z}
          </button>
        ))}
      </div>
      <h3>Stages of zone {view.zone}</h3>
      <ol class="stages">
        {view.stages.map((s, i) => (
          <li key={`${s.from_s}-${s.stage}`} class={i === current ? "now" : undefined}>
            <button type="button" class="number-link left" onClick={() => setAt(Math.max(0, view.times_s.findIndex((x) => x >= s.from_s)))}>{s.from}</button> <b>{s.stage}</b> <span class="quiet">{s.reason}</span>
          </li>
        ))}
      </ol>
    </section>
  );
}
