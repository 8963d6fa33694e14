// A grid of cells with only the visible rows in the document: keyboard, ranges, block copy and paste, fill down.
// One element keeps the focus and names the active cell, so that rows may come and go while they scroll.

import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";

export interface Column {
  title: string;
  unit?: string | null;
  number?: boolean;
  width: number;
  choices?: string[];
  help?: string;
}

export interface CellLook {
  text: string;
  mark?: "error" | "warning" | "note";
  hint?: string;
  link?: boolean;
}

export interface CellEdit {
  row: number;
  column: number;
  was: string;
  now: string;
}

export interface GridProps {
  label: string;
  columns: Column[];
  rows: number;
  cell: (row: number, column: number) => CellLook;
  editable: boolean;
  /** Rows may be added by pasting beyond the last one. */
  onEdit?: (label: string, edits: CellEdit[], added: string[][]) => void;
  onRemove?: (rows: number[]) => void;
  onInsert?: (row: number) => void;
  onOpen?: (row: number, column: number) => void;
  onMove?: (row: number, column: number) => void;
  /** What is being typed; null when it is finished. */
  onTyping?: (edit: CellEdit | null) => void;
  /** The cell to show; a new object shows it again. */
  target?: { row: number; column: number } | null;
  height?: string;
}

interface Spot {
  row: number;
  column: number;
}

const ROW = 26;
const OVERSCAN = 8;

let grids = 0;

/** Rows of a block as a spreadsheet puts it on the clipboard: tabs between cells, quotation marks where they must be. */
export function blockOf(text: string): string[][] {
  const rows: string[][] = [[]];
  let cell = "";
  let quoted = false;
  let at = 0;
  const push = (): void => {
    rows[rows.length - 1]?.push(cell.trim());
    cell = "";
  };
  while (at < text.length) {
    const c = text[at] as string;
    if (quoted) {
      if (c === '"' && text[at + 1] === '"') {
        cell += '"';
        at += 1;
      } else if (c === '"') quoted = false;
      else cell += c === "\n" || c === "\r" ? " " : c;
    } else if (c === '"' && cell === "") quoted = true;
    else if (c === "\t") push();
    else if (c === "\n") {
      push();
      rows.push([]);
    } else if (c !== "\r") cell += c;
    at += 1;
  }
  push();
  const last = rows[rows.length - 1];
  if (rows.length > 1 && last && last.length === 1 && last[0] === "") rows.pop();
  return rows;
}

function textOf(rows: string[][]): string {
  const quote = (t: string): string => (/["\t\n]/.test(t) ? `"${t.replaceAll('"', '""')}"` : t);
  return rows.map((r) => r.map(quote).join("\t")).join("\n");
}

const plural = (n: number, what: string): string => `${n} ${what}${n === 1 ? "" : "s"}`;

export function Grid(props: GridProps) {
  const { columns, rows, cell, editable } = props;
  const id = useMemo(() => `grid-${(grids += 1)}`, []);
  const scroller = useRef<HTMLDivElement>(null);
  const input = useRef<HTMLInputElement>(null);
  const [active, setActive] = useState<Spot>({ row: 0, column: 0 });
  const [anchor, setAnchor] = useState<Spot>({ row: 0, column: 0 });
  const [editing, setEditing] = useState<{ spot: Spot; was: string; text: string; replace: boolean } | null>(null);
  const [top, setTop] = useState(0);
  const [tall, setTall] = useState(600);
  const dragging = useRef(false);
  const done = useRef(false);

  const spot = { row: Math.min(active.row, Math.max(rows - 1, 0)), column: Math.min(active.column, columns.length - 1) };
  const box = {
    top: Math.min(spot.row, anchor.row),
    bottom: Math.min(Math.max(spot.row, anchor.row), Math.max(rows - 1, 0)),
    left: Math.min(spot.column, anchor.column),
    right: Math.max(spot.column, anchor.column),
  };
  const lefts = useMemo(() => {
    let sum = 0;
    return columns.map((c) => {
      const at = sum;
      sum += c.width;
      return at;
    });
  }, [columns]);
  const wide = columns.reduce((sum, c) => sum + c.width, 0);
  const head = columns.some((c) => c.unit) ? 54 : 36;

  useLayoutEffect(() => {
    const element = scroller.current;
    if (!element) return;
    const measure = new ResizeObserver(() => setTall(element.clientHeight));
    measure.observe(element);
    setTall(element.clientHeight);
    return () => measure.disconnect();
  }, []);

  const reveal = (at: Spot): void => {
    const element = scroller.current;
    if (!element) return;
    const y = at.row * ROW;
    if (y < element.scrollTop) element.scrollTop = y;
    else if (y + ROW + head > element.scrollTop + element.clientHeight)
      element.scrollTop = y + ROW + head - element.clientHeight + 2;
    const first = columns[0]?.width ?? 0;
    const x = lefts[at.column] ?? 0;
    const w = columns[at.column]?.width ?? 0;
    if (at.column > 0) {
      if (x - first < element.scrollLeft) element.scrollLeft = x - first;
      else if (x + w > element.scrollLeft + element.clientWidth)
        element.scrollLeft = x + w - element.clientWidth + 2;
    }
  };

  const move = (to: Spot, extend: boolean): void => {
    const next = {
      row: Math.max(0, Math.min(to.row, rows - 1)),
      column: Math.max(0, Math.min(to.column, columns.length - 1)),
    };
    setActive(next);
    if (!extend) setAnchor(next);
    reveal(next);
    props.onMove?.(next.row, next.column);
  };

  useEffect(() => {
    if (props.target) {
      move(props.target, false);
      scroller.current?.focus();
    }
    // Only a new target moves.
  }, [props.target]);

  // Before the next key arrives, not after the next frame: what is typed fast would go nowhere.
  useLayoutEffect(() => {
    if (editing && input.current) {
      input.current.focus();
      if (editing.replace) input.current.setSelectionRange(editing.text.length, editing.text.length);
      else input.current.select();
    }
  }, [editing?.spot.row, editing?.spot.column, editing !== null]);

  const begin = (at: Spot, typed: string | null): void => {
    if (!editable || rows === 0) return;
    const was = cell(at.row, at.column).text;
    done.current = false;
    setEditing({ spot: at, was, text: typed ?? was, replace: typed !== null });
  };

  const commit = (next: Spot | null): void => {
    if (!editing || done.current) return;
    done.current = true;
    const now = (input.current?.value ?? editing.text).trim();
    setEditing(null);
    props.onTyping?.(null);
    if (now !== editing.was) {
      props.onEdit?.(`${columns[editing.spot.column]?.title ?? "cell"}`, [
        { row: editing.spot.row, column: editing.spot.column, was: editing.was, now },
      ], []);
    }
    scroller.current?.focus();
    if (next) move(next, false);
  };

  const selected = (): string[][] => {
    const out: string[][] = [];
    for (let r = box.top; r <= box.bottom; r += 1) {
      const line: string[] = [];
      for (let c = box.left; c <= box.right; c += 1) line.push(cell(r, c).text);
      out.push(line);
    }
    return out;
  };

  const change = (label: string, values: (r: number, c: number) => string | null): void => {
    const edits: CellEdit[] = [];
    for (let r = box.top; r <= box.bottom; r += 1) {
      for (let c = box.left; c <= box.right; c += 1) {
        const now = values(r, c);
        const was = cell(r, c).text;
        if (now !== null && now !== was) edits.push({ row: r, column: c, was, now });
      }
    }
    if (edits.length > 0) props.onEdit?.(label, edits, []);
  };

  const clear = (): void => change("cleared", () => "");
  const fill = (): void => change("filled down", (r, c) => (r === box.top ? null : cell(box.top, c).text));

  const paste = (text: string): void => {
    const block = blockOf(text);
    const tallBlock = block.length;
    const wideBlock = Math.max(...block.map((b) => b.length));
    const single = tallBlock === 1 && wideBlock === 1;
    const high = single ? box.bottom - box.top + 1 : tallBlock;
    const broad = single ? box.right - box.left + 1 : wideBlock;
    if (box.left + broad > columns.length) {
      props.onEdit?.("too wide", [], []);
      return;
    }
    const edits: CellEdit[] = [];
    const added: string[][] = [];
    for (let i = 0; i < high; i += 1) {
      const r = box.top + i;
      const source = single ? block[0] : block[i];
      if (r >= rows) {
        const line = columns.map(() => "");
        source?.forEach((t, j) => {
          line[box.left + j] = t;
        });
        if (line.some((t) => t !== "")) added.push(line);
        continue;
      }
      for (let j = 0; j < broad; j += 1) {
        const now = (single ? source?.[0] : source?.[j]) ?? null;
        const was = cell(r, box.left + j).text;
        if (now !== null && now !== was) edits.push({ row: r, column: box.left + j, was, now });
      }
    }
    if (edits.length + added.length > 0) props.onEdit?.(`${plural(high * broad, "cell")} pasted`, edits, added);
    setAnchor({ row: box.top, column: box.left });
    setActive({ row: Math.min(box.top + high - 1, rows + added.length - 1), column: box.left + broad - 1 });
  };

  const page = Math.max(1, Math.floor((tall - head) / ROW) - 1);

  const key = (event: KeyboardEvent): void => {
    if (editing) return;
    const { row, column } = spot;
    const ctrl = event.ctrlKey || event.metaKey;
    const extend = event.shiftKey;
    let handled = true;
    switch (event.key) {
      case "ArrowDown":
        move({ row: ctrl ? rows - 1 : row + 1, column }, extend);
        break;
      case "ArrowUp":
        move({ row: ctrl ? 0 : row - 1, column }, extend);
        break;
      case "ArrowRight":
        move({ row, column: ctrl ? columns.length - 1 : column + 1 }, extend);
        break;
      case "ArrowLeft":
        move({ row, column: ctrl ? 0 : column - 1 }, extend);
        break;
      case "PageDown":
        move({ row: row + page, column }, extend);
        break;
      case "PageUp":
        move({ row: row - page, column }, extend);
        break;
      case "Home":
        move({ row: ctrl ? 0 : row, column: 0 }, extend);
        break;
      case "End":
        move({ row: ctrl ? rows - 1 : row, column: columns.length - 1 }, extend);
        break;
      case "Enter":
        if (editable) begin(spot, null);
        else props.onOpen?.(row, column);
        break;
      case "F2":
        begin(spot, null);
        break;
      case "Delete":
      case "Backspace":
        if (editable) clear();
        break;
      case "Escape":
        setAnchor(spot);
        break;
      default:
        handled = false;
        if (ctrl && !event.altKey) {
          const letter = event.key.toLowerCase();
          if (letter === "a") {
            setAnchor({ row: 0, column: 0 });
            setActive({ row: rows - 1, column: columns.length - 1 });
            handled = true;
          } else if (letter === "d" && editable) {
            fill();
            handled = true;
          } else if ((event.key === "-" || event.key === "Subtract") && editable) {
            removeRows();
            handled = true;
          } else if ((event.key === "+" || event.key === "=") && editable) {
            props.onInsert?.(box.bottom + 1);
            handled = true;
          }
        } else if (editable && event.key.length === 1 && !event.altKey) {
          begin(spot, event.key);
          handled = true;
        }
    }
    if (handled) {
      event.preventDefault();
      event.stopPropagation();
    }
  };

  const removeRows = (): void => {
    const list: number[] = [];
    for (let r = box.top; r <= box.bottom; r += 1) list.push(r);
    props.onRemove?.(list);
  };

  const onCopy = (event: ClipboardEvent): void => {
    if (editing || !event.clipboardData) return;
    event.clipboardData.setData("text/plain", textOf(selected()));
    event.preventDefault();
    if (event.type === "cut" && editable) clear();
  };

  const onPaste = (event: ClipboardEvent): void => {
    if (editing || !editable) return;
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (text) paste(text);
    event.preventDefault();
  };

  const spotOf = (event: MouseEvent): Spot | null => {
    const found = (event.target as Element).closest<HTMLElement>("[data-r]");
    return found ? { row: Number(found.dataset.r), column: Number(found.dataset.c) } : null;
  };

  const from = Math.max(0, Math.floor(top / ROW) - OVERSCAN);
  const to = Math.min(rows, Math.ceil((top + tall) / ROW) + OVERSCAN);
  const shown: number[] = [];
  for (let r = from; r < to; r += 1) shown.push(r);
  const template = columns.map((c) => `${c.width}px`).join(" ");
  const choices = editing ? columns[editing.spot.column]?.choices ?? [] : [];

  const rowOf = (r: number) => (
      <div
        key={r}
        class={`grid-row${r % 2 ? " odd" : ""}`}
        role="row"
        aria-rowindex={r + 2}
        style={{ gridTemplateColumns: template, top: `${r * ROW + head}px`, height: `${ROW}px` }}
      >
        {columns.map((column, c) => {
          const look = cell(r, c);
          const inBox = r >= box.top && r <= box.bottom && c >= box.left && c <= box.right;
          const isActive = r === spot.row && c === spot.column;
          const isEditing = editing?.spot.row === r && editing.spot.column === c;
          return (
            <div
              key={column.title}
              id={`${id}-${r}-${c}`}
              role={c === 0 && !editable ? "rowheader" : "gridcell"}
              aria-colindex={c + 1}
              aria-selected={inBox}
              aria-invalid={look.mark === "error" ? true : undefined}
              data-r={r}
              data-c={c}
              title={look.hint}
              class={`cell${column.number ? " number" : ""}${c === 0 ? " first" : ""}${inBox ? " in" : ""}${isActive ? " active" : ""}${look.mark ? ` has-${look.mark}` : ""}${look.link ? " link" : ""}`}
            >
              {isEditing ? (
                <input
                  ref={input}
                  class="editor"
                  defaultValue={editing.text}
                  aria-label={`${column.title}, row ${r + 1}`}
                  list={choices.length > 0 ? `${id}-choices` : undefined}
                  autocomplete="off"
                  spellcheck={false}
                  onInput={(e) =>
                    props.onTyping?.({ row: r, column: c, was: editing.was, now: (e.currentTarget as HTMLInputElement).value.trim() })
                  }
                  onBlur={() => commit(null)}
                  onKeyDown={(e) => {
                    e.stopPropagation();
                    if (e.key === "Enter") {
                      commit({ row: r + (e.shiftKey ? -1 : 1), column: c });
                      e.preventDefault();
                    } else if (e.key === "Tab") {
                      commit({ row: r, column: c + (e.shiftKey ? -1 : 1) });
                      e.preventDefault();
                    } else if (e.key === "Escape") {
                      done.current = true;
                      setEditing(null);
                      props.onTyping?.(null);
                      scroller.current?.focus();
                      e.preventDefault();
                    } else if (editing.replace && (e.key === "ArrowDown" || e.key === "ArrowUp") && choices.length === 0) {
                      commit({ row: r + (e.key === "ArrowDown" ? 1 : -1), column: c });
                      e.preventDefault();
                    }
                  }}
                />
              ) : (
                <span class="text">{look.text}</span>
              )}
            </div>
          );
        })}
      </div>
  );
  // While it scrolls only rows that come into view are made.
  const made = useRef<{ by: unknown[]; rows: Map<number, ReturnType<typeof rowOf>> }>({ by: [], rows: new Map() });
  const by = [cell, columns, editable, editing, choices.length, spot.row, spot.column, box.top, box.bottom, box.left, box.right];
  if (by.some((x, i) => x !== made.current.by[i])) made.current = { by, rows: new Map() };
  const row = (r: number) => {
    const known = made.current.rows.get(r);
    if (known) return known;
    const next = rowOf(r);
    made.current.rows.set(r, next);
    return next;
  };

  return (
    <div
      class="grid"
      ref={scroller}
      id={id}
      role="grid"
      aria-label={props.label}
      aria-rowcount={rows + 1}
      aria-colcount={columns.length}
      aria-multiselectable="true"
      aria-readonly={!editable}
      aria-activedescendant={rows > 0 ? `${id}-${spot.row}-${spot.column}` : undefined}
      tabIndex={0}
      style={{ height: props.height ?? "100%" }}
      onScroll={(e) => setTop((e.currentTarget as HTMLElement).scrollTop)}
      onKeyDown={key}
      onCopy={onCopy}
      onCut={onCopy}
      onPaste={onPaste}
      onMouseDown={(e) => {
        const at = spotOf(e);
        if (!at || e.button !== 0) return;
        if (editing && editing.spot.row === at.row && editing.spot.column === at.column) return;
        if (editing) commit(null);
        dragging.current = true;
        move(at, e.shiftKey);
        scroller.current?.focus();
        e.preventDefault();
      }}
      onMouseMove={(e) => {
        if (!dragging.current) return;
        if (e.buttons === 0) {
          dragging.current = false;
          return;
        }
        const at = spotOf(e);
        if (at) move(at, true);
      }}
      onMouseUp={() => {
        dragging.current = false;
      }}
      onClick={(e) => {
        const at = spotOf(e);
        if (at && !editable && !e.shiftKey && cell(at.row, at.column).link) props.onOpen?.(at.row, at.column);
      }}
      onDblClick={(e) => {
        const at = spotOf(e);
        if (at && editable) begin(at, null);
      }}
    >
      <div class="grid-inner" role="presentation" style={{ width: `${wide}px`, height: `${rows * ROW + head}px` }}>
        <div class="grid-row grid-head" role="row" aria-rowindex={1} style={{ gridTemplateColumns: template, height: `${head}px` }}>
          {columns.map((c, i) => (
            <div
              key={c.title}
              role="columnheader"
              aria-colindex={i + 1}
              class={`cell${c.number ? " number" : ""}${i === 0 ? " first" : ""}`}
              title={c.help}
            >
              <span class="head-title">{c.title}</span>
              {c.unit ? <span class="head-unit">{c.unit}</span> : null}
            </div>
          ))}
        </div>
        {shown.map(row)}
      </div>
      {choices.length > 0 ? (
        <datalist id={`${id}-choices`}>
          {choices.map((c) => (
            <option key={c} value={c} />
          ))}
        </datalist>
      ) : null}
    </div>
  );
}
