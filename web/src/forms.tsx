// Forms of keys: what is written, and what holds where nothing is.

import { useEffect, useRef, useState } from "preact/hooks";
import type { Field, FileChange, Finding, FormTable, FormView } from "./api";
import { edit, findingsByPlace, keepDraft, target, units } from "./state";

const title = (path: string): string => path.replaceAll("_", " ").replaceAll("-", " ");

export function Forms({ view }: { view: FormView | undefined }) {
  if (!view) return null;
  return (
    <section class="panel forms" aria-label={view.file}>
      {view.trouble ? <p class="trouble" role="alert">{view.trouble}</p> : null}
      {view.forms.map((form) => (
        <OneForm key={form.path} form={form} file={view.file} alone={view.forms.length === 1} />
      ))}
    </section>
  );
}

function OneForm({ form, file, alone }: { form: FormTable; file: string; alone: boolean }) {
  const [name, setName] = useState("");
  const base = form.path.split(".").filter((p) => p !== "NAME");
  const writable = form.fields.filter((f) => f.name !== "format");
  const written = form.instances.reduce((n, i) => n + Object.keys(i.values).length, 0);
  if (form.shape === "single") {
    return (
      <details open={written > 0 || alone}>
        <summary>
          <span class="form-title">{title(form.path)}</span> <span class="quiet">{form.doc}</span>
        </summary>
        {form.instances.map((instance) => (
          <Fields key={instance.path.join(".")} file={file} fields={writable} path={instance.path} values={instance.values} />
        ))}
      </details>
    );
  }
  return (
    <details>
      <summary>
        <span class="form-title">{title(base.join(" "))}</span> <span class="count">{form.instances.length}</span>{" "}
        <span class="quiet">{form.doc}</span>
      </summary>
      {form.instances.map((instance) => (
        <details key={instance.path.join(".")} class="instance">
          <summary>{form.shape === "list" ? `${instance.values.id?.text ?? Number(instance.path.at(-1)) + 1}` : instance.path.at(-1)}</summary>
          <Fields file={file} fields={writable} path={instance.path} values={instance.values} />
        </details>
      ))}
      <div class="row-tools">
        {form.shape === "named" ? (
          <label>
            Name <input value={name} onInput={(e) => setName((e.currentTarget as HTMLInputElement).value)} />
          </label>
        ) : null}
        <button
          type="button"
          disabled={form.shape === "named" && !name.trim()}
          onClick={() => {
            const place = [...base, form.shape === "named" ? name.trim() : String(form.instances.length)];
            const first = writable.find((f) => f.required) ?? writable[0];
            if (!first) return;
            const now = first.kind === "text" || first.kind === "quantity" || first.kind === "word" ? { text: first.words?.[0] ?? "" } : { literal: "[]" };
            void edit(`${title(base.join(" "))} added`, [{ file, change: { do: "key", path: [...place, first.name], was: null, now } }]);
            setName("");
          }}
        >
          Add
        </button>
      </div>
    </details>
  );
}

function Fields(props: {
  file: string;
  fields: Field[];
  path: string[];
  values: Record<string, { source: string; text: string; line: number }>;
}) {
  return (
    <div class="fields">
      {props.fields.map((field) => (
        <OneField key={field.name} field={field} file={props.file} path={[...props.path, field.name]} value={props.values[field.name]} />
      ))}
    </div>
  );
}

function OneField({ field, file, path, value }: {
  field: Field;
  file: string;
  path: string[];
  value: { source: string; text: string; line: number } | undefined;
}) {
  const id = `f-${path.join("-").replaceAll(" ", "_")}`;
  const places = findingsByPlace.value;
  const dotted = path.join(".");
  const found: Finding[] = [
    ...(value ? places.get(`${file}:${value.line}:${dotted}`) ?? places.get(`${file}:${value.line}:`) ?? [] : []),
    ...(places.get(`${file}::${dotted}`) ?? []),
  ].filter((f) => !f.waiver);
  const bad = found.some((f) => f.severity !== "note");
  const element = useRef<HTMLElement | null>(null);
  const [draft, setDraft] = useState<string | null>(null);
  // What was sent and is not read back yet: Enter and leaving the field send it once.
  const sent = useRef<string | null>(null);

  useEffect(() => setDraft(null), [value?.source]);
  useEffect(() => {
    sent.current = null;
  }, [value]);
  useEffect(() => {
    const t = target.value;
    if (t && t.file === file && (t.key === dotted || (t.line !== null && t.line === value?.line))) {
      for (let d = element.current?.closest("details"); d; d = d.parentElement?.closest("details") ?? null) d.open = true;
      element.current?.focus();
      element.current?.scrollIntoView({ block: "center" });
      target.value = null;
    }
  }, [target.value]);

  const literal = field.kind === "number" || field.kind === "count" || field.kind === "flag" || field.kind === "list";
  const text = value ? (literal ? value.source : value.text) : "";

  const changeTo = (now: string): FileChange => ({
    file,
    change: {
      do: "key",
      path,
      was: value?.source ?? null,
      now: now === "" ? null : literal ? { literal: now } : { text: now },
    },
  });
  const typing = (typed: string): void => {
    setDraft(typed);
    const now = typed.trim();
    keepDraft(now === text.trim() ? null : { file, place: `${file}, ${dotted}`, step: { label: dotted, changes: [changeTo(now)] } });
  };
  const commit = (typed: string): void => {
    const now = typed.trim();
    keepDraft(null);
    if (now === sent.current) return;
    if (now === text.trim()) {
      setDraft(null);
      return;
    }
    sent.current = now;
    void edit(dotted, [changeTo(now)]);
  };

  const common = {
    id,
    ref: (e: HTMLElement | null) => {
      element.current = e;
    },
    "aria-describedby": `${id}-about`,
    "aria-invalid": bad ? (true as const) : undefined,
    "aria-required": field.required ? (true as const) : undefined,
  };
  const options = field.kind === "word" ? (field.words ?? []) : field.kind === "flag" ? ["true", "false"] : null;
  return (
    <div class={`field${value ? " written" : ""}${bad ? " bad" : ""}`}>
      <label for={id}>{title(field.name)}</label>
      {options ? (
        <select {...common} value={text} onChange={(e) => commit((e.currentTarget as HTMLSelectElement).value)}>
          <option value="">{field.required ? "" : `(${field.otherwise})`}</option>
          {text && !options.includes(text) ? <option value={text}>{text}</option> : null}
          {options.map((w) => (
            <option key={w} value={w}>{w}</option>
          ))}
        </select>
      ) : field.kind === "list" ? (
        <textarea
          {...common}
          rows={Math.min(8, (draft ?? text).split("\n").length)}
          value={draft ?? text}
          placeholder={field.otherwise}
          spellcheck={false}
          onInput={(e) => typing((e.currentTarget as HTMLTextAreaElement).value)}
          onBlur={(e) => commit((e.currentTarget as HTMLTextAreaElement).value)}
        />
      ) : (
        <input
          {...common}
          value={draft ?? text}
          placeholder={field.otherwise || (field.units ? field.units[units.value] : "")}
          spellcheck={false}
          autocomplete="off"
          onInput={(e) => typing((e.currentTarget as HTMLInputElement).value)}
          onBlur={(e) => commit((e.currentTarget as HTMLInputElement).value)}
          onKeyDown={(e) => {
            if (e.key === "Enter") commit((e.currentTarget as HTMLInputElement).value);
            else if (e.key === "Escape") {
              setDraft(null);
              keepDraft(null);
            }
          }}
        />
      )}
      <p class="about" id={`${id}-about`}>
        {found.map((f) => (
          <span key={f.id + f.message} class={`finding-line ${f.severity}`}>
            <b>{f.id}</b> {f.message}{f.hint ? ` ${f.hint}` : ""}{" "}
          </span>
        ))}
        <span class="quiet">{field.doc}{field.allowed ? ` ${field.allowed}.` : ""}</span>
      </p>
    </div>
  );
}
