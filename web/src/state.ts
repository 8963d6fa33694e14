// What all parts of the page share.

import { batch, computed, effect, signal } from "@preact/signals";
import {
  type Conflict,
  type Draft,
  type FileChange,
  type Finding,
  type FormView,
  type InputTable,
  Refusal,
  type Sheet,
  type StageView,
  type State,
  type Units,
  get,
  post,
  windowName,
} from "./api";

export type Theme = "light" | "dark";

export const state = signal<State | null>(null);
export const stageId = signal<string>(location.hash.slice(1) || "rooms");
export const view = signal<StageView | null>(null);
export const tables = signal<Record<string, InputTable>>({});
export const forms = signal<Record<string, FormView>>({});
/** Units chosen in this browser; without a choice those of the project. */
export const chosenUnits = signal<Units | null>(localStorage.getItem("units") as Units | null);
export const theme = signal<Theme>(
  (localStorage.getItem("theme") as Theme | null) ??
    (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light"),
);
export const units = computed<Units>(() => chosenUnits.value ?? state.value?.project?.units ?? "si");
export const connected = signal(true);
/** The last thing that was said to the user; also read aloud. */
export const said = signal<{ text: string; bad: boolean } | null>(null);
export const sheet = signal<Sheet | null>(null);
export const findingsOpen = signal(false);
export const conflict = signal<{ label: string; changes: FileChange[]; conflicts: Conflict[] } | null>(null);
/** A place that was asked for: the grid or form that holds it shows it. */
export const target = signal<{ file: string; line: number | null; key: string | null; part: string | null; n: number } | null>(null);
export const openFile = signal<string>("rooms.csv");

export function say(text: string, bad = false): void {
  said.value = { text, bad };
}

function problem(error: unknown): void {
  if (error instanceof Refusal) say(error.message, true);
  else say("The server does not answer. Is `drycoil open` still running?", true);
}

// --- reading ---------------------------------------------------------------------------------------------------------

let reading = false;
let again = false;

/** Asks for the state; asked meanwhile, it asks once more afterwards. */
export async function refresh(): Promise<void> {
  if (reading) {
    again = true;
    return;
  }
  reading = true;
  try {
    do {
      again = false;
      const query: Record<string, string> = { window: windowName };
      if (chosenUnits.value) query.units = chosenUnits.value;
      const next = await get<State>("state", query);
      const before = state.value;
      state.value = next;
      connected.value = true;
      if (before?.wanted !== next.wanted || before?.generation !== next.generation) void refreshInputs();
      await refreshStage();
    } while (again);
  } catch (error) {
    if (!(error instanceof Refusal)) connected.value = false;
    else problem(error);
  } finally {
    reading = false;
  }
}

let shownKey = "";

/** What the results of a stage depend on. */
export const resultKey = computed(() => {
  const s = state.value;
  return [units.value, s?.design?.generation, s?.design?.whole, s?.design?.stale, s?.year?.generation, s?.year?.stale, s?.usable].join("/");
});

async function refreshStage(): Promise<void> {
  const id = stageId.value;
  const key = `${id}|${resultKey.value}`;
  if (key === shownKey) return;
  const next = await get<StageView>(`stage/${id}`, { units: units.value });
  if (id !== stageId.value) return;
  shownKey = key;
  view.value = next;
}

const FILES_OF: Record<string, string[]> = { rooms: ["rooms.csv", "rooms.xlsx", "surfaces.csv", "profiles.csv"] };

export async function refreshInputs(): Promise<void> {
  const id = stageId.value;
  try {
    const wanted = FILES_OF[id] ?? [];
    const [form, ...list] = await Promise.all([
      get<FormView>("form", { file: "project.toml", stage: id }),
      ...wanted.map((file) => {
        // What was changed here and not read back is read whatever its version.
        const have = tables.value[file]?.version;
        return get<InputTable>("table", have ? { file, have } : { file });
      }),
    ]);
    const catalogue = id === "terminals" ? await get<FormView>("form", { file: "catalogue.toml" }) : null;
    batch(() => {
      // What is being written is not overwritten by what was there before; it is read again afterwards.
      if (pending > 0) {
        late = true;
        return;
      }
      const newer = list.filter((t) => !t.same);
      if (newer.length > 0) tables.value = { ...tables.value, ...Object.fromEntries(newer.map((t) => [t.file, t])) };
      forms.value = {
        ...forms.value,
        [id]: form as FormView,
        ...(catalogue ? { catalogue } : {}),
      };
    });
  } catch (error) {
    problem(error);
  }
}

export function go(id: string): void {
  if (stageId.value === id) return;
  stageId.value = id;
  history.replaceState(null, "", `#${id}`);
  void refreshInputs();
  void refresh();
}

addEventListener("hashchange", () => {
  const id = location.hash.slice(1);
  if (id && id !== stageId.value) go(id);
});

function listen(): void {
  const events = new EventSource("/api/events");
  events.onmessage = () => void refresh();
  events.onopen = () => {
    connected.value = true;
  };
  events.onerror = () => {
    connected.value = false;
  };
}

export function start(): void {
  effect(() => {
    document.documentElement.dataset.theme = theme.value;
    localStorage.setItem("theme", theme.value);
  });
  effect(() => {
    if (chosenUnits.value) localStorage.setItem("units", chosenUnits.value);
    void refresh();
  });
  void refreshInputs();
  void readDrafts();
  listen();
}

// --- changing --------------------------------------------------------------------------------------------------------

let pending = 0;
/** Inputs were read while something was being written. */
let late = false;
let queue: Promise<void> = Promise.resolve();

/** One after the other, in the order in which they were made. */
function inTurn(work: () => Promise<void>): Promise<void> {
  pending += 1;
  queue = queue.then(work).catch(problem).finally(() => {
    pending -= 1;
    if (pending === 0 && late) {
      late = false;
      void refreshInputs();
    }
  });
  return queue;
}

interface Done {
  done: string | null;
  history: State["history"];
}

function took(done: Done): void {
  if (state.value) state.value = { ...state.value, history: done.history };
}

export function edit(label: string, changes: FileChange[]): Promise<void> {
  if (changes.length === 0) return Promise.resolve();
  return inTurn(async () => {
    try {
      took(await post<Done>("edit", { window: windowName, step: { label, changes } }));
    } catch (error) {
      if (error instanceof Refusal && error.conflicts.length > 0) {
        conflict.value = { label, changes, conflicts: error.conflicts };
      } else {
        problem(error);
      }
      setTimeout(() => void refreshInputs(), 0);
    }
  });
}

/** Writes mine where somebody else changed the same, on purpose. */
export async function insist(): Promise<void> {
  const c = conflict.value;
  if (!c) return;
  conflict.value = null;
  const changes = c.changes.map((fileChange, index) => {
    const other = c.conflicts.find((x) => x.index === index);
    const { change } = fileChange;
    if (other && (change.do === "cell" || change.do === "key")) {
      return { ...fileChange, change: { ...change, was: (other.theirs ?? (change.do === "key" ? null : "")) as string } };
    }
    return fileChange;
  }) as FileChange[];
  await edit(c.label, changes);
  await refreshInputs();
}

export function yieldToThem(): void {
  conflict.value = null;
  void refreshInputs();
}

async function step(path: "undo" | "redo"): Promise<void> {
  await inTurn(async () => {
    try {
      const done = await post<Done>(path, { window: windowName });
      took(done);
      say(`${path === "undo" ? "Taken back" : "Made again"}: ${done.done}`);
    } catch (error) {
      if (error instanceof Refusal && error.conflicts.length > 0 && path === "undo") {
        say("Somebody else changed the same since, so this step cannot be taken back; their text stays.", true);
        took(await post<Done>("forget", { window: windowName }));
      } else {
        problem(error);
      }
    }
  });
  await refreshInputs();
}

export const undo = (): Promise<void> => step("undo");
export const redo = (): Promise<void> => step("redo");
export const cancel = (): Promise<unknown> => post("cancel", {}).catch(problem);
export const run = (): Promise<unknown> => post("run", {}).catch(problem);

// --- what is being typed ---------------------------------------------------------------------------------------------

/** Text that was being typed when a browser or the program ended without notice. */
export const drafts = signal<Record<string, Draft>>({});
let typing: Draft | null = null;
let told: string | null = null;
let timer: ReturnType<typeof setInterval> | null = null;

function tellDraft(): void {
  const text = JSON.stringify(typing);
  if (text === (told ?? "null")) return;
  told = text;
  post("draft", { window: windowName, draft: typing }).catch(() => {
    // Without the program nothing can be kept; that it is gone is said elsewhere.
    told = null;
  });
}

/** Keeps what is being typed once a second; null when it is finished or dropped. */
export function keepDraft(draft: Draft | null): void {
  typing = draft;
  if (draft) timer ??= setInterval(tellDraft, 1000);
  else {
    if (timer) clearInterval(timer);
    timer = null;
    tellDraft();
  }
}

async function readDrafts(): Promise<void> {
  const all = await get<Record<string, Draft>>("drafts").catch(() => ({}));
  // A window that is open still types; only it knows. One that is gone does not say so, so its text is offered here.
  drafts.value = all;
}

/** Puts a kept text in, or drops it. */
export async function finishDraft(window: string, put: boolean): Promise<void> {
  const draft = drafts.value[window];
  const { [window]: _gone, ...rest } = drafts.value;
  drafts.value = rest;
  if (draft && put) await edit(draft.step.label, draft.step.changes);
  await post("draft", { window, draft: null }).catch(problem);
}

// --- looking ---------------------------------------------------------------------------------------------------------

export async function openWorking(place: string, quantity: string): Promise<void> {
  try {
    sheet.value = await get<Sheet>("working", { place, quantity, units: units.value });
  } catch (error) {
    problem(error);
  }
}

let asked = 0;

/** Shows a place of the files or of the building. */
export function show(stage: string, file: string | null, line: number | null, key: string | null, part: string | null): void {
  asked += 1;
  const table = file?.endsWith(".csv") || file?.endsWith(".xlsx");
  target.value = { file: file ?? "rooms.csv", line, key, part, n: asked };
  if (table && file) openFile.value = file;
  else if (!file && part) openFile.value = "rooms.csv";
  go(file || !part ? stage : "rooms");
}

export function showRoom(room: string): void {
  show("rooms", null, null, null, room);
}

/** Findings of a file by line, and of parts of the building. */
export const findingsByPlace = computed(() => {
  const map = new Map<string, Finding[]>();
  const put = (key: string, finding: Finding): void => {
    const list = map.get(key);
    if (list) list.push(finding);
    else map.set(key, [finding]);
  };
  for (const finding of state.value?.findings ?? []) {
    for (const place of finding.places) {
      if (place.file && place.line !== null) put(`${place.file}:${place.line}:${place.key ?? ""}`, finding);
      else if (place.file && place.key) put(`${place.file}::${place.key}`, finding);
      else if (place.part) put(`part:${place.part}`, finding);
    }
  }
  return map;
});
