// What the server answers, and how it is asked. The page shows these texts; it computes none of them.

export type Units = "si" | "ip";

export interface Place {
  file: string | null;
  line: number | null;
  column: number | null;
  row: number | null;
  key: string | null;
  part: string | null;
}

export interface Finding {
  id: string;
  severity: "note" | "warning" | "error";
  title: string;
  message: string;
  value: string | null;
  allowed: string | null;
  hint: string | null;
  places: Place[];
  waiver: { reason: string; role: string; date: string } | null;
  stage: string;
  blocks: boolean;
}

export interface Figure {
  key: string;
  label: string;
  value: string;
  detail: string;
  stale: boolean;
  low?: boolean;
  wet?: boolean;
  room?: string | null;
  stage?: string;
  working?: { place: string; quantity: string };
}

export interface State {
  serial: number;
  generation: number;
  /** State of the files that is wanted: ahead of `generation` until it was read. */
  wanted: number;
  busy: { what: "idle" | "cancelled" | "reading" | "sizing" | "year" | "telling"; done?: number; of?: number };
  usable: boolean;
  project: { name: string; revision: string; units: Units; rooms: number } | null;
  design: { generation: number; stale: boolean; milliseconds: number; whole: boolean } | null;
  year: { generation: number; stale: boolean; milliseconds: number } | null;
  no_year: string | null;
  excursions: { generation: number; prepared: boolean; finished: number; trouble: boolean; doing: Doing | null };
  strip: Figure[];
  counts: { error: number; warning: number; note: number };
  findings: Finding[];
  stages: { id: string; title: string }[];
  history: { undo: string | null; redo: string | null };
  units: Units;
  version: string;
}

export interface Doing {
  /** Empty while the building is prepared. */
  case: string;
  done: number;
  of: number;
}

export interface ShownTable {
  name: string;
  title: string;
  upright: boolean;
  working: boolean;
  columns: { key: string; title: string; unit: string; number: boolean }[];
  rows: { place: string; prefix: string; cells: string[] }[];
}

export interface StageView {
  id: string;
  title: string;
  question: string;
  serial: number;
  stale: boolean;
  files: string[];
  tables: ShownTable[];
  written: { kind: "heading" | "text" | "setting" | "stage" | "item" | "trouble"; name?: string; text: string }[] | null;
  pictures: { name: string; title: string; ready: boolean }[];
}

type Box = [number, number, number, number];

/** A field with axes: edges in units of the view box; values at left and right, bottom and top, in SI. */
export interface Plot {
  box: Box;
  x: [number, number];
  y: [number, number];
}

export interface PictureJson {
  /** Why it cannot be drawn yet; nothing else is told. */
  waiting?: string;
  svg: string;
  width: number;
  height: number;
  plots: Plot[];
  spots: { box: Box; name: string; room: string | null; zone: string | null }[];
  supply: { t_c: number; w: number; dew_point_c: number; pinned: boolean } | null;
}

export interface DayView {
  title: string;
  columns: { title: string; unit: string }[];
  hours: { cells: string[]; low: boolean; wet: boolean }[];
  stale: boolean;
}

export interface CaseResult {
  passed: boolean;
  criteria: { what: string; value: string; allowed: string; passed: boolean }[];
  day: string;
  worst: string;
  margin: string;
  peak: string;
  noticed: string;
  condensate: string;
  condensate_without: string;
}

export interface CaseRow {
  name: string;
  title: string;
  story: string;
  result: CaseResult | null;
}

export interface ExcursionView {
  generation: number;
  stale: boolean;
  prepared: boolean;
  possible: boolean;
  trouble: string | null;
  doing: Doing | null;
  cases: CaseRow[];
}

interface StageSpan {
  from_s: number;
  to_s: number;
  from: string;
  stage: string;
  reason: string;
}

export interface CaseView {
  name: string;
  title: string;
  story: string;
  zone: string;
  zones: string[];
  svg: string;
  width: number;
  height: number;
  plots: Plot[];
  trigger_s: number;
  cause_ends_s: number;
  times_s: number[];
  clock: string[];
  labels: string[];
  moments: string[][];
  /** By moment, one digit a zone. */
  classes: string[];
  stages: StageSpan[];
  building_stages: StageSpan[];
  result: CaseResult;
}

export interface Draft {
  file: string;
  place: string;
  step: { label: string; changes: FileChange[] };
}

export interface Field {
  name: string;
  kind: "quantity" | "number" | "count" | "word" | "text" | "flag" | "list" | "unknown";
  required?: boolean;
  otherwise?: string;
  allowed?: string;
  doc: string;
  units?: { si: string; ip: string };
  words?: string[];
}

export interface FormTable {
  path: string;
  shape: "single" | "named" | "list";
  doc: string;
  fields: Field[];
  instances: { path: string[]; values: Record<string, { source: string; text: string; line: number }> }[];
}

export interface FormView {
  file: string;
  version: string;
  trouble: string | null;
  forms: FormTable[];
}

export interface InputColumn extends Field {
  title: string;
  unit: string | null;
  choices: string[];
}

export interface InputTable {
  file: string;
  there: boolean;
  version: string;
  editable: boolean;
  trouble: string | null;
  columns: InputColumn[];
  missing: Field[];
  rows: string[][];
  lines: number[];
  /** The window has this version already; nothing else is told. */
  same?: boolean;
}

export interface SheetLine {
  symbol: string;
  meaning: string;
  formula: string;
  numbers: string;
  result: string;
  source: { publication: string; method: string } | null;
  note: string | null;
  inputs: { symbol: string; shown: string; origin: { text: string; place: Place | null } }[];
}

export interface Sheet {
  place: string;
  quantity: string;
  title: string;
  stale: boolean;
  lines: SheetLine[];
}

export type Change =
  | { do: "cell"; row: number; key: string; column: number; was: string; now: string }
  | { do: "insert"; row: number; cells: string[] }
  | { do: "remove"; row: number; was: string[] }
  | { do: "add-column"; title: string }
  | { do: "key"; path: string[]; was: string | null; now: { text: string } | { literal: string } | null };

export interface FileChange {
  file: string;
  change: Change;
}

export interface Conflict {
  index: number;
  what: string;
  was: unknown;
  theirs: unknown;
  mine: unknown;
}

/** The server refused; `conflicts` says what somebody else changed. */
export class Refusal extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly conflicts: Conflict[] = [],
  ) {
    super(message);
  }
}

/** Name of this window: each takes its own changes back. A reload keeps it. */
export const windowName: string = (() => {
  const kept = sessionStorage.getItem("window");
  if (kept) return kept;
  const name = `w-${crypto.randomUUID()}`;
  sessionStorage.setItem("window", name);
  return name;
})();

async function answered(response: Response): Promise<Response> {
  if (response.ok) return response;
  const body = (await response.json().catch(() => ({}))) as { error?: string; conflicts?: Conflict[] };
  throw new Refusal(response.status, body.error ?? `the server answered ${response.status}`, body.conflicts);
}

export async function get<T>(path: string, query: Record<string, string> = {}): Promise<T> {
  const response = await answered(await fetch(`/api/${path}?${new URLSearchParams(query)}`));
  return (await response.json()) as T;
}

export async function post<T>(path: string, body: unknown): Promise<T> {
  const response = await fetch(`/api/${path}`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });
  return (await (await answered(response)).json()) as T;
}
