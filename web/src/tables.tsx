// Tables of input cells, and schedules of results.

import { useEffect, useMemo, useState } from "preact/hooks";
import type { FileChange, Finding, InputTable, ShownTable } from "./api";
import { type CellEdit, type CellLook, Grid } from "./grid";
import { edit, findingsByPlace, keepDraft, openFile, openWorking, say, tables, target, units } from "./state";

const WIDTHS: Record<string, number> = { id: 72, room: 72, name: 168, floor: 72, zone: 62, kind: 138, system: 90, overrule_reason: 180, construction: 150, profile: 130 };

function worst(list: Finding[]): CellLook["mark"] {
  if (list.some((f) => f.severity === "error")) return "error";
  return list.some((f) => f.severity === "warning") ? "warning" : "note";
}

const words = (list: Finding[]): string => list.map((f) => `${f.id}: ${f.message}${f.hint ? ` (${f.hint})` : ""}`).join("\n");

/** One of the tables of a stage, edited in place. */
export function InputGrid({ files }: { files: string[] }) {
  const all = tables.value;
  const there = files.filter((f) => all[f]?.there);
  const file = there.includes(openFile.value) ? openFile.value : there[0];
  const table = file ? all[file] : undefined;
  return (
    <section class="panel inputs" aria-label="Tables">
      <div class="tabs" role="tablist" aria-label="Tables of this stage">
        {there.map((f) => (
          <button
            key={f}
            type="button"
            role="tab"
            aria-selected={f === file}
            class={f === file ? "tab on" : "tab"}
            onClick={() => {
              openFile.value = f;
            }}
          >
            {f} <span class="count">{all[f]?.rows.length}</span>
          </button>
        ))}
      </div>
      {table ? <OneTable table={table} /> : <p class="empty">There is no room list yet.</p>}
    </section>
  );
}

function OneTable({ table }: { table: InputTable }) {
  const [at, setAt] = useState<{ row: number; column: number }>({ row: 0, column: 0 });
  const [wanted, setWanted] = useState<{ row: number; column: number } | null>(null);
  const places = findingsByPlace.value;
  const columns = useMemo(
    () =>
      table.columns.map((c) => ({
        title: c.name,
        unit: c.unit,
        number: c.kind === "quantity" || c.kind === "number" || c.kind === "count",
        width: WIDTHS[c.name] ?? 92,
        choices: c.words ?? c.choices,
        help: `${c.doc}${c.otherwise ? ` Left empty: ${c.otherwise}.` : ""}${c.allowed ? ` Allowed: ${c.allowed}.` : ""}`,
      })),
    [table.columns],
  );

  useEffect(() => {
    const t = target.value;
    if (!t || t.file !== table.file) return;
    let row = t.line === null ? -1 : table.lines.indexOf(t.line);
    if (row < 0 && t.part) row = table.rows.findIndex((r) => r[0] === t.part);
    if (row < 0) return;
    const column = Math.max(0, table.columns.findIndex((c) => c.title === t.key || c.name === t.key));
    setWanted({ row, column });
    target.value = null;
  }, [target.value, table]);

  const findingsAt = (row: number, column: number): Finding[] => {
    const line = `${table.file}:${table.lines[row]}:`;
    const own = places.get(line + (table.columns[column]?.title ?? "")) ?? [];
    if (column !== 0) return own;
    const part = table.file.startsWith("rooms") ? places.get(`part:${table.rows[row]?.[0] ?? ""}`) : undefined;
    return [...own, ...(places.get(line) ?? []), ...(part ?? [])].filter((f) => !f.waiver);
  };

  const cell = (row: number, column: number): CellLook => {
    const text = table.rows[row]?.[column] ?? "";
    const found = findingsAt(row, column);
    return found.length > 0 ? { text, mark: worst(found), hint: words(found) } : { text };
  };

  const change = (c: FileChange["change"]): FileChange => ({ file: table.file, change: c });

  const keep = (rows: string[][], lines: number[] = table.lines): void => {
    // What is shown is no version of the disk any more, so it is read again whatever stands there.
    tables.value = { ...tables.value, [table.file]: { ...table, version: "", rows, lines } };
  };

  const onEdit = (label: string, edits: CellEdit[], added: string[][]): void => {
    if (edits.length + added.length === 0) {
      say("The block is wider than the table; begin further to the left.", true);
      return;
    }
    const rows = table.rows.map((r) => r);
    const changes: FileChange[] = edits.map((e) => {
      const before = table.rows[e.row] ?? [];
      const next = (rows[e.row] ?? []).slice();
      next[e.column] = e.now;
      rows[e.row] = next;
      return change({ do: "cell", row: e.row, key: before[0] ?? "", column: e.column, was: e.was, now: e.now });
    });
    // Names of rows are changed last, so that their other cells are still found by them.
    changes.sort((a, b) => Number(isName(a)) - Number(isName(b)));
    added.forEach((cells, i) => changes.push(change({ do: "insert", row: table.rows.length + i, cells })));
    keep([...rows, ...added], [...table.lines, ...added.map(() => -1)]);
    void edit(edits.length === 1 && added.length === 0 ? `${label} of ${table.rows[edits[0]?.row ?? 0]?.[0] ?? "row"}` : label, changes);
  };

  const onTyping = (e: CellEdit | null): void => {
    if (!e || e.now === e.was) {
      keepDraft(null);
      return;
    }
    const key = table.rows[e.row]?.[0] ?? "";
    const name = table.columns[e.column]?.name ?? "cell";
    keepDraft({
      file: table.file,
      place: `${table.file}, ${key}, ${name}`,
      step: { label: `${name} of ${key}`, changes: [change({ do: "cell", row: e.row, key, column: e.column, was: e.was, now: e.now })] },
    });
  };

  const onRemove = (list: number[]): void => {
    const changes = list
      .slice()
      .reverse()
      .map((row) => change({ do: "remove", row, was: table.rows[row] ?? [] }));
    keep(table.rows.filter((_, r) => !list.includes(r)), table.lines.filter((_, r) => !list.includes(r)));
    void edit(list.length === 1 ? "row removed" : `${list.length} rows removed`, changes);
  };

  const onInsert = (row: number): void => {
    const before = table.rows[row - 1] ?? table.columns.map(() => "");
    // A row needs a name; the one above lends its own.
    const names = new Set(table.rows.map((r) => r[0]));
    let name = `${before[0] || "new"}-2`;
    for (let n = 3; names.has(name) && table.file.startsWith("rooms"); n += 1) name = `${before[0] || "new"}-${n}`;
    const cells = before.slice();
    if (table.file.startsWith("rooms")) cells[0] = name;
    const rows = table.rows.slice();
    rows.splice(row, 0, cells);
    const lines = table.lines.slice();
    lines.splice(row, 0, -1);
    keep(rows, lines);
    void edit("row added", [change({ do: "insert", row, cells })]);
    setWanted({ row, column: 0 });
  };

  const here = findingsAt(at.row, at.column);
  const column = table.columns[at.column];
  return (
    <>
      {table.trouble ? <p class="trouble" role="alert">{table.trouble}</p> : null}
      <Grid
        label={table.file}
        columns={columns}
        rows={table.rows.length}
        cell={cell}
        editable={table.editable}
        onEdit={onEdit}
        onRemove={onRemove}
        onInsert={onInsert}
        onMove={(row, c) => setAt({ row, column: c })}
        onTyping={onTyping}
        target={wanted}
      />
      <div class="cell-help">
        {here.length > 0 ? (
          here.map((f) => (
            <p key={f.id + f.message} class={`finding-line ${f.severity}`}>
              <b>{f.id}</b> {f.message}
              {f.hint ? <span class="hint"> {f.hint}</span> : null}
            </p>
          ))
        ) : column ? (
          <p>
            <b>{column.name}</b> {column.doc}
            {column.otherwise ? <span class="quiet"> Left empty: {column.otherwise}.</span> : null}
            {column.units ? <span class="quiet"> Another unit may be written behind the number, as in 12 {column.units[units.value]}.</span> : null}
          </p>
        ) : null}
      </div>
      {table.editable ? (
        <div class="row-tools">
          <button type="button" onClick={() => onInsert(at.row + 1)}>Add row</button>
          <button type="button" onClick={() => onRemove([at.row])} disabled={table.rows.length === 0}>Remove row</button>
          {table.missing.length > 0 ? (
            <label>
              Add column{" "}
              <select
                value=""
                onChange={(e) => {
                  const field = table.missing.find((f) => f.name === (e.currentTarget as HTMLSelectElement).value);
                  if (!field) return;
                  const title = field.units ? `${field.name} [${field.units[units.value]}]` : field.name;
                  void edit(`column ${field.name}`, [change({ do: "add-column", title })]);
                }}
              >
                <option value="">choose…</option>
                {table.missing.map((f) => (
                  <option key={f.name} value={f.name} title={f.doc}>{f.name}</option>
                ))}
              </select>
            </label>
          ) : null}
          <span class="quiet">Enter edits · Ctrl+C, Ctrl+V blocks · Ctrl+D fills down · Ctrl+Z takes back</span>
        </div>
      ) : table.file.endsWith(".xlsx") ? (
        <p class="quiet">A workbook is read, not written: change it in your spreadsheet, and this table follows.</p>
      ) : null}
    </>
  );
}

function isName(c: FileChange): boolean {
  return c.change.do === "cell" && c.change.column === 0;
}

/** A schedule; every number opens its working. */
export function Schedule({ table, stale }: { table: ShownTable; stale: boolean }) {
  const open = (row: number, column: number): void => {
    const r = table.rows[row];
    const c = table.columns[column];
    if (r && c?.number && table.working && r.cells[column]) void openWorking(r.place, r.prefix + c.key);
  };
  if (table.upright && table.rows.length > 0) {
    return (
      <section class={`panel schedule${stale ? " stale" : ""}`} aria-label={table.title}>
        <h2>{table.title}</h2>
        {table.rows.map((row, r) => (
          <dl key={row.place + row.prefix} class="upright">
            {table.columns.map((c, i) =>
              row.cells[i] ? (
                <div key={c.title}>
                  <dt>{c.title}</dt>
                  <dd>
                    {c.number && table.working ? (
                      <button type="button" class="number-link" onClick={() => open(r, i)}>
                        {row.cells[i]} <span class="unit">{c.unit}</span>
                      </button>
                    ) : (
                      <>{row.cells[i]} <span class="unit">{c.unit}</span></>
                    )}
                  </dd>
                </div>
              ) : null,
            )}
          </dl>
        ))}
      </section>
    );
  }
  return <FlatSchedule table={table} stale={stale} open={open} />;
}

function FlatSchedule({ table, stale, open }: { table: ShownTable; stale: boolean; open: (r: number, c: number) => void }) {
  const columns = useMemo(
    () =>
      table.columns.map((c, i) => {
        const longest = table.rows.slice(0, 200).reduce((n, r) => Math.max(n, r.cells[i]?.length ?? 0), 0);
        const word = Math.max(...c.title.split(" ").map((w) => w.length));
        return {
          title: c.title,
          unit: c.unit || null,
          number: c.number,
          width: Math.min(240, Math.max(64, longest * 7.2 + 22, word * 7.2 + 20, (c.title.length / 2) * 6.6 + 18)),
        };
      }),
    [table],
  );
  const cell = (row: number, column: number): CellLook => ({
    text: table.rows[row]?.cells[column] ?? "",
    link: table.working && table.columns[column]?.number,
  });
  const height = Math.min(420, table.rows.length * 26 + 72);
  return (
    <section class={`panel schedule${stale ? " stale" : ""}`} aria-label={table.title}>
      <h2>{table.title} <span class="count">{table.rows.length}</span></h2>
      <Grid label={table.title} columns={columns} rows={table.rows.length} cell={cell} editable={false} onOpen={open} height={`${height}px`} />
    </section>
  );
}
