// Pictures of the server, and what may be done on them: read a state of air, move the supply state, open a day, go to a room.

import { useEffect, useRef, useState } from "preact/hooks";
import { type DayView, type FormView, type PictureJson, type Plot, get } from "./api";
import { edit, openWorking, resultKey, say, showRoom, theme, units } from "./state";

/** A place on a picture, in units of its view box. */
function placeOf(event: MouseEvent, over: SVGSVGElement | null): [number, number] | null {
  const matrix = over?.getScreenCTM();
  if (!matrix) return null;
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return [p.x, p.y];
}

const inside = ([x, y]: [number, number], [l, t, r, b]: [number, number, number, number]): boolean => x >= l && x <= r && y >= t && y <= b;

/** Values of the axes at a place. */
function valuesAt([x, y]: [number, number], plot: Plot): [number, number] {
  const [l, t, r, b] = plot.box;
  return [
    plot.x[0] + ((x - l) / (r - l)) * (plot.x[1] - plot.x[0]),
    plot.y[0] + ((b - y) / (b - t)) * (plot.y[1] - plot.y[0]),
  ];
}

function placeAt([u, v]: [number, number], plot: Plot): [number, number] {
  const [l, t, r, b] = plot.box;
  return [l + ((u - plot.x[0]) / (plot.x[1] - plot.x[0])) * (r - l), b - ((v - plot.y[0]) / (plot.y[1] - plot.y[0])) * (b - t)];
}

/** Only the newest question is answered, one at a time. */
function useNewest<Q, A>(ask: (q: Q) => Promise<A>, take: (a: A | null) => void): (q: Q | null) => void {
  const waiting = useRef<Q | null>(null);
  const busy = useRef(false);
  const wanted = useRef(false);
  return (q) => {
    waiting.current = q;
    wanted.current = q !== null;
    if (q === null) take(null);
    if (busy.current || q === null) return;
    busy.current = true;
    void (async () => {
      while (waiting.current !== null) {
        const now = waiting.current;
        waiting.current = null;
        const answer = await ask(now).catch(() => null);
        if (wanted.current) take(answer);
      }
      busy.current = false;
    })();
  };
}

/** A picture of the server, in the colours of the page. */
export function PictureView({ name, title, stale, ready }: { name: string; title: string; stale: boolean; ready: boolean }) {
  const [picture, setPicture] = useState<PictureJson | null>(null);
  const [why, setWhy] = useState<string | null>(null);
  const [day, setDay] = useState<number | null>(null);
  const over = useRef<SVGSVGElement>(null);
  const key = resultKey.value;
  const look = theme.value;
  useEffect(() => {
    let gone = false;
    if (!ready) return;
    get<PictureJson>(`picture/${name}`, { units: units.value, theme: look })
      .then((p) => {
        if (gone) return;
        if (p.waiting) {
          setWhy(p.waiting);
          return;
        }
        setPicture(p);
        setWhy(null);
      })
      .catch((e: Error) => {
        // What stood there stays, marked as of an earlier state, until the new one can be drawn.
        if (!gone) setWhy(e.message);
      });
    return () => {
      gone = true;
    };
  }, [name, key, look, ready]);
  if (!picture) {
    return (
      <figure class="panel picture" aria-label={title}>
        <p class="empty">{title}{why ? `: ${why}` : ready ? "" : ": waits for its numbers"}</p>
      </figure>
    );
  }
  const plot = picture.plots[0];
  return (
    <figure class={`panel picture${stale || why || !ready ? " stale" : ""}`} aria-label={title}>
      <div class="stack">
        <div class="drawing" dangerouslySetInnerHTML={{ __html: picture.svg }} />
        <svg class="over" ref={over} viewBox={`0 0 ${picture.width} ${picture.height}`} role="group" aria-label={`${title}, to read and to change`}>
          {name === "chart" && plot ? <Chart over={over} plot={plot} supply={picture.supply} /> : null}
          {name === "trade-off" && plot && picture.supply ? <Curve over={over} plots={picture.plots} supply={picture.supply} /> : null}
          {name === "carpet" && plot ? <Days over={over} plot={plot} day={day} onDay={setDay} /> : null}
          {picture.spots.map((s) => {
            const open = (): void => {
              if (s.room) showRoom(s.room);
            };
            const [l, t, r, b] = s.box;
            const narrow = r - l < 40;
            return (
              <rect
                key={`${s.name}-${l}-${t}`}
                class="spot"
                x={l}
                y={t}
                width={Math.max(r - l, 1)}
                height={b - t}
                // Columns of the strip repeat the rows, and are reached through these by keyboard.
                {...(narrow ? { "aria-hidden": true } : { role: "button", tabindex: 0, "aria-label": `Room ${s.name}` })}
                onClick={open}
                onDblClick={() => {
                  if (s.zone) void openWorking(s.zone, "dew_point_margin");
                }}
                onKeyDown={(e) => {
                  if (e.key === "Enter" || e.key === " ") {
                    open();
                    e.preventDefault();
                  }
                }}
              >
                <title>{s.name}</title>
              </rect>
            );
          })}
        </svg>
      </div>
      {name === "chart" ? <p class="quiet caption">Point at the chart to read a state of air. Drag the ring to pin the supply dew point, or move it with the arrow keys and press Enter.</p> : null}
      {name === "trade-off" ? <p class="quiet caption">Drag the solid line to pin the supply dew point there, or move it with the arrow keys and press Enter.</p> : null}
      {name === "carpet" ? (day === null ? <p class="quiet caption">Click a day to see its hours.</p> : <Day day={day} onDay={setDay} />) : null}
      {name === "margins" ? <p class="quiet caption">Click a room to see its inputs.</p> : null}
    </figure>
  );
}

const SIZE = { wide: 168, line: 15 };

/** Reads states of air, and moves the supply state. */
function Chart({ over, plot, supply }: { over: { current: SVGSVGElement | null }; plot: Plot; supply: PictureJson["supply"] }) {
  const [at, setAt] = useState<[number, number] | null>(null);
  const [lines, setLines] = useState<[string, string][] | null>(null);
  const [held, setHeld] = useState<number | null>(null);
  const [text, setText] = useState<string | null>(null);
  const dragging = useRef(false);
  const askAir = useNewest<[number, number], [string, string][]>(
    async ([t, w]) => (await get<{ lines: [string, string][] }>("air", { t_c: String(t), w: String(w), units: units.value })).lines,
    setLines,
  );
  const askPin = useNewest<number, string>(async (w) => (await get<{ text: string }>("pin", { w: String(w), units: units.value })).text, setText);
  useEffect(() => {
    setHeld(null);
    askPin(null);
  }, [supply?.w, supply?.t_c]);

  const read = (event: MouseEvent): void => {
    const p = placeOf(event, over.current);
    if (!p) return;
    if (dragging.current) {
      hold(valuesAt(p, plot)[1]);
      return;
    }
    if (!inside(p, plot.box)) {
      setAt(null);
      askAir(null);
      return;
    }
    setAt(p);
    askAir(valuesAt(p, plot));
  };
  const hold = (w: number): void => {
    const kept = Math.min(Math.max(w, 0.0005), plot.y[1]);
    setHeld(kept);
    askPin(kept);
  };
  const drop = async (): Promise<void> => {
    if (held !== null && !(await pinAt({ w: String(held) }))) setHeld(null);
  };
  const [l, t, r, b] = plot.box;
  const box = (lines?.length ?? 0) * SIZE.line + 10;
  const left = at && at[0] + SIZE.wide + 20 > r ? at[0] - SIZE.wide - 12 : (at?.[0] ?? 0) + 12;
  const top = at ? Math.min(Math.max(at[1] - box / 2, t), b - box) : 0;
  const w = held ?? supply?.w ?? null;
  const ring = supply && w !== null ? placeAt([supply.t_c, w], plot) : null;
  return (
    <>
      <rect
        class="catch"
        x={l}
        y={t}
        width={r - l}
        height={b - t}
        onPointerMove={read}
        onPointerLeave={() => {
          if (dragging.current) return;
          setAt(null);
          askAir(null);
        }}
      />
      {at && lines ? (
        <g class="reading" aria-hidden="true">
          <path d={`M${l} ${at[1]}H${r}M${at[0]} ${t}V${b}`} />
          <rect x={left} y={top} width={SIZE.wide} height={box} rx={3} />
          {lines.map(([name, value], i) => (
            <g key={name}>
              <text x={left + 8} y={top + 16 + i * SIZE.line}>{name}</text>
              <text x={left + SIZE.wide - 8} y={top + 16 + i * SIZE.line} text-anchor="end" class="value">{value}</text>
            </g>
          ))}
        </g>
      ) : null}
      {ring ? (
        <g class={`handle${supply?.pinned ? " pinned" : ""}${held === null ? "" : " held"}`}>
          {held === null ? null : <path d={`M${l} ${ring[1]}H${r}`} />}
          <circle
            cx={ring[0]}
            cy={ring[1]}
            r={9}
            role="slider"
            tabindex={0}
            aria-label="Supply dew point"
            aria-orientation="vertical"
            aria-valuemin={0}
            aria-valuemax={Math.round(plot.y[1] * 1e5)}
            aria-valuenow={Math.round((w ?? 0) * 1e5)}
            aria-valuetext={text ?? (supply?.pinned ? "pinned" : "chosen by the search")}
            onPointerDown={(e) => {
              dragging.current = true;
              (e.currentTarget as Element).setPointerCapture(e.pointerId);
              setAt(null);
              askAir(null);
              e.preventDefault();
            }}
            onPointerMove={(e) => {
              if (dragging.current) read(e);
            }}
            onPointerUp={() => {
              dragging.current = false;
              void drop();
            }}
            onPointerCancel={() => {
              dragging.current = false;
              setHeld(null);
            }}
            onKeyDown={(e) => {
              const step = (plot.y[1] - plot.y[0]) / 400;
              if (e.key === "ArrowUp") hold((w ?? 0) + step);
              else if (e.key === "ArrowDown") hold((w ?? 0) - step);
              else if (e.key === "Enter") void drop();
              else if (e.key === "Escape") {
                setHeld(null);
                askPin(null);
              } else return;
              e.preventDefault();
            }}
          />
          {held !== null && text ? <text x={ring[0] + 14} y={ring[1] - 8}>{text}</text> : null}
        </g>
      ) : null}
    </>
  );
}

/** Reads the supply dew point under the pointer, and pins it where the line is dropped. */
function Curve({ over, plots, supply }: { over: { current: SVGSVGElement | null }; plots: Plot[]; supply: NonNullable<PictureJson["supply"]> }) {
  const [held, setHeld] = useState<number | null>(null);
  const [hover, setHover] = useState<number | null>(null);
  const [text, setText] = useState<string | null>(null);
  const dragging = useRef(false);
  const ask = useNewest<number, string>(async (c) => (await get<{ text: string }>("pin", { c: String(c), units: units.value })).text, setText);
  useEffect(() => {
    setHeld(null);
    ask(null);
  }, [supply.dew_point_c]);
  const first = plots[0];
  const last = plots.at(-1);
  if (!first || !last) return null;
  const whole: Plot = { ...first, box: [first.box[0], first.box[1], first.box[2], last.box[3]] };
  const [l, t, r, b] = whole.box;
  const hold = (c: number): void => {
    const kept = Math.min(Math.max(c, first.x[0]), first.x[1]);
    setHeld(kept);
    ask(kept);
  };
  const move = (e: MouseEvent): void => {
    const p = placeOf(e, over.current);
    if (!p) return;
    const c = valuesAt(p, whole)[0];
    if (dragging.current) hold(c);
    else {
      setHover(c);
      ask(c);
    }
  };
  const drop = async (): Promise<void> => {
    if (held !== null && !(await pinAt({ c: String(held) }))) setHeld(null);
  };
  const shown = held ?? hover;
  const x = shown === null ? null : placeAt([shown, 0], whole)[0];
  const line = placeAt([held ?? supply.dew_point_c, 0], whole)[0];
  return (
    <>
      <rect
        class="catch"
        x={l}
        y={t}
        width={r - l}
        height={b - t}
        onPointerMove={move}
        onPointerLeave={() => {
          setHover(null);
          if (held === null) ask(null);
        }}
      />
      {x === null ? null : (
        <g class="handle" aria-hidden="true">
          <path d={`M${x} ${t}V${b}`} />
          {text ? <text x={x + (x > (l + r) / 2 ? -6 : 6)} y={t + 12} text-anchor={x > (l + r) / 2 ? "end" : "start"}>{text}</text> : null}
        </g>
      )}
      <g class={`handle${supply.pinned ? " pinned" : ""}`}>
        <rect
          class="grip"
          x={line - 5}
          y={t}
          width={10}
          height={b - t}
          role="slider"
          tabindex={0}
          aria-label="Supply dew point on the curve"
          aria-valuemin={Math.round(first.x[0] * 100)}
          aria-valuemax={Math.round(first.x[1] * 100)}
          aria-valuenow={Math.round((held ?? supply.dew_point_c) * 100)}
          aria-valuetext={text ?? (supply.pinned ? "pinned" : "chosen by the search")}
          onPointerDown={(e) => {
            dragging.current = true;
            (e.currentTarget as Element).setPointerCapture(e.pointerId);
            setHover(null);
            e.preventDefault();
          }}
          onPointerMove={(e) => {
            if (dragging.current) move(e);
          }}
          onPointerUp={() => {
            dragging.current = false;
            void drop();
          }}
          onPointerCancel={() => {
            dragging.current = false;
            setHeld(null);
          }}
          onKeyDown={(e) => {
            const step = (first.x[1] - first.x[0]) / 200;
            if (e.key === "ArrowRight" || e.key === "ArrowUp") hold((held ?? supply.dew_point_c) + step);
            else if (e.key === "ArrowLeft" || e.key === "ArrowDown") hold((held ?? supply.dew_point_c) - step);
            else if (e.key === "Enter") void drop();
            else if (e.key === "Escape") {
              setHeld(null);
              ask(null);
            } else return;
            e.preventDefault();
          }}
        />
      </g>
    </>
  );
}

/** Writes the pin of the supply dew point; false when it stands there already. */
async function pinAt(where: Record<string, string>): Promise<boolean> {
  const [{ text: now }, form] = await Promise.all([
    get<{ text: string }>("pin", { ...where, units: units.value }),
    get<FormView>("form", { file: "project.toml", stage: "dew-point" }),
  ]);
  const written = form.forms.find((f) => f.path === "dew_point")?.instances[0]?.values.supply;
  if (written?.text === now) return false;
  await edit(`supply dew point ${now}`, [
    { file: "project.toml", change: { do: "key", path: ["dew_point", "supply"], was: written?.source ?? null, now: { text: now } } },
  ]);
  say(`Supply dew point pinned at ${now}. Undo takes it back.`);
  return true;
}

/** The days of the carpet. */
function Days({ over, plot, day, onDay }: { over: { current: SVGSVGElement | null }; plot: Plot; day: number | null; onDay: (day: number) => void }) {
  const [hover, setHover] = useState<number | null>(null);
  const [l, t, r, b] = plot.box;
  const wide = (r - l) / 365;
  const of = (event: MouseEvent): number | null => {
    const p = placeOf(event, over.current);
    return p && inside(p, plot.box) ? Math.min(364, Math.floor(valuesAt(p, plot)[0])) : null;
  };
  const column = (d: number, kind: string) => <rect class={kind} x={l + d * wide - 0.6} y={t} width={wide + 1.2} height={b - t} />;
  return (
    <>
      {hover === null ? null : column(hover, "day-hover")}
      {day === null ? null : column(day, "day-chosen")}
      <rect
        class="catch click"
        x={l}
        y={t}
        width={r - l}
        height={b - t}
        role="slider"
        tabindex={0}
        aria-label="Day of the year"
        aria-valuemin={1}
        aria-valuemax={365}
        aria-valuenow={(day ?? 0) + 1}
        onPointerMove={(e) => setHover(of(e))}
        onPointerLeave={() => setHover(null)}
        onClick={(e) => {
          const d = of(e);
          if (d !== null) onDay(d);
        }}
        onKeyDown={(e) => {
          const by: Record<string, number> = { ArrowRight: 1, ArrowLeft: -1, PageDown: 30, PageUp: -30 };
          const step = by[e.key];
          if (step !== undefined) onDay(Math.min(364, Math.max(0, (day ?? 0) + (day === null ? 0 : step))));
          else if (e.key === "Enter") onDay(day ?? 0);
          else return;
          e.preventDefault();
        }}
      />
    </>
  );
}

/** The hours of a day. */
function Day({ day, onDay }: { day: number; onDay: (day: number) => void }) {
  const [view, setView] = useState<DayView | null>(null);
  const key = resultKey.value;
  useEffect(() => {
    let gone = false;
    get<DayView>("day", { day: String(day), units: units.value })
      .then((v) => {
        if (!gone) setView(v);
      })
      .catch((e: Error) => say(e.message, true));
    return () => {
      gone = true;
    };
  }, [day, key]);
  if (!view) return null;
  return (
    <div class="day">
      <div class="row-tools">
        <button type="button" disabled={day === 0} onClick={() => onDay(day - 1)}>Day before</button>
        <h3>{view.title}</h3>
        <button type="button" disabled={day === 364} onClick={() => onDay(day + 1)}>Day after</button>
      </div>
      <div class="scroll" tabIndex={0} role="region" aria-label={`Hours of ${view.title}`}>
        <table class="plain">
          <thead>
            <tr>{view.columns.map((c) => <th key={c.title} scope="col">{c.title}{c.unit ? <span class="unit"> {c.unit}</span> : null}</th>)}</tr>
          </thead>
          <tbody>
            {view.hours.map((h) => (
              <tr key={h.cells[0]} class={h.wet ? "bad" : h.low ? "low" : undefined}>
                {h.cells.map((c, i) => (i === 0 ? <th key={i} scope="row">{c}</th> : <td key={i}>{c}</td>))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </div>
  );
}
