//! The files as they are edited: forms of keys, tables of cells.

use super::stages;
use crate::edit::{Refused, entries};
use crate::engine::Snapshot;
use crate::folder::{Folder, version};
use drycoil_intake::project::{self as intake, Field, FieldKind, FormShape, TableText};
use serde_json::{Map, Value, json};

fn field_as_json(field: &Field) -> Value {
    let mut out = json!({
        "name": field.name,
        "required": field.required,
        "otherwise": field.otherwise,
        "allowed": field.allowed,
        "doc": field.doc,
    });
    let (kind, more) = match field.kind {
        FieldKind::Quantity(q) => ("quantity", json!({ "si": q.si_symbol(), "ip": q.ip_symbol() })),
        FieldKind::Number => ("number", Value::Null),
        FieldKind::Count => ("count", Value::Null),
        FieldKind::Word(words) => ("word", json!(words)),
        FieldKind::Text => ("text", Value::Null),
        FieldKind::Flag => ("flag", Value::Null),
        FieldKind::List => ("list", Value::Null),
    };
    out["kind"] = json!(kind);
    match kind {
        "quantity" => out["units"] = more,
        "word" => out["words"] = more,
        _ => {}
    }
    out
}

fn text_of(folder: &dyn Folder, file: &str) -> Result<Option<String>, String> {
    let Some(bytes) = folder.read(file).map_err(|e| e.to_string())? else { return Ok(None) };
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(&bytes);
    std::str::from_utf8(bytes).map(|t| Some(t.to_owned())).map_err(|_| format!("{file} is not UTF-8 text"))
}

/// The keys of `project.toml` or `catalogue.toml` with what is written.
///
/// # Errors
/// The file cannot be read, in words.
pub fn forms(folder: &dyn Folder, file: &str, stage: Option<&str>) -> Result<Value, String> {
    let text = text_of(folder, file)?.unwrap_or_default();
    let (written, trouble) = match entries(file, &text) {
        Ok(written) => (written, None),
        Err(Refused::Impossible(why)) => (Vec::new(), Some(why)),
        Err(Refused::Conflict(c)) => (Vec::new(), Some(c.what)),
    };
    let mut out = Vec::new();
    for form in intake::forms().iter().filter(|f| f.file == file) {
        let base: Vec<&str> = form.path.split('.').filter(|p| *p != "NAME").collect();
        if stage.is_some_and(|s| stages::of_path(base[0]) != s) {
            continue;
        }
        // Names or positions of the tables that are there.
        let mut places: Vec<Vec<String>> = Vec::new();
        let own: Vec<String> = base.iter().map(|p| (*p).to_owned()).collect();
        if form.shape == FormShape::Single {
            places.push(own);
        } else {
            for e in &written {
                if e.path.len() > base.len() + 1 && e.path.iter().zip(&base).all(|(a, b)| a == b) {
                    let place = e.path[..=base.len()].to_vec();
                    if !places.contains(&place) {
                        places.push(place);
                    }
                }
            }
        }
        let instances: Vec<Value> = places
            .iter()
            .map(|place| {
                let mut values = Map::new();
                for e in &written {
                    if e.path.len() == place.len() + 1 && e.path.starts_with(place) {
                        let name = e.path[place.len()].clone();
                        values.insert(name, json!({ "source": e.source, "text": e.text, "line": e.line }));
                    }
                }
                json!({ "path": place, "values": values })
            })
            .collect();
        out.push(json!({
            "path": form.path,
            "shape": match form.shape {
                FormShape::Single => "single",
                FormShape::Named => "named",
                FormShape::List => "list",
            },
            "doc": form.doc,
            "fields": form.fields.iter().map(field_as_json).collect::<Vec<_>>(),
            "instances": instances,
        }));
    }
    Ok(json!({ "file": file, "version": version(text.as_bytes()), "trouble": trouble, "forms": out }))
}

/// A table of cells with the declarations of its columns.
///
/// # Errors
/// The file cannot be read, in words.
pub fn table(folder: &dyn Folder, file: &str, snapshot: &Snapshot) -> Result<Value, String> {
    let is_workbook = file == "rooms.xlsx";
    let declared = intake::columns(file);
    let empty = TableText { titles: intake::RowText { line: 1, cells: Vec::new() }, rows: Vec::new() };
    let mut trouble = None;
    let (table, version_text, there) = if is_workbook {
        match folder.read(file).map_err(|e| e.to_string())? {
            None => (empty, String::new(), false),
            Some(bytes) => {
                let read = intake::workbook_text(file, &bytes);
                (
                    read.unwrap_or_else(|why| {
                        trouble = Some(why);
                        empty
                    }),
                    version(&bytes),
                    true,
                )
            }
        }
    } else {
        match text_of(folder, file) {
            Ok(None) => (empty, String::new(), false),
            Err(why) => {
                trouble = Some(why);
                (empty, String::new(), true)
            }
            Ok(Some(text)) => {
                let read = intake::table_text(file, &text);
                (
                    read.unwrap_or_else(|why| {
                        trouble = Some(why);
                        empty
                    }),
                    version(text.as_bytes()),
                    true,
                )
            }
        }
    };
    let columns: Vec<Value> = table
        .titles
        .cells
        .iter()
        .map(|cell| {
            let (name, unit) = drycoil_units::split_title(&cell.text);
            let field = declared.iter().find(|f| f.name == name);
            let mut column =
                field.map_or_else(|| json!({ "kind": "unknown", "name": name, "doc": "" }), field_as_json);
            column["title"] = json!(cell.text);
            column["unit"] = json!(unit);
            column["choices"] = json!(choices(file, name, snapshot));
            column
        })
        .collect();
    let missing: Vec<Value> = declared
        .iter()
        .filter(|f| !table.titles.cells.iter().any(|c| drycoil_units::split_title(&c.text).0 == f.name))
        .map(field_as_json)
        .collect();
    let width = columns.len();
    let rows: Vec<Vec<&str>> = table
        .rows
        .iter()
        .map(|r| (0..width).map(|i| r.cells.get(i).map_or("", |c| c.text.as_str())).collect())
        .collect();
    Ok(json!({
        "file": file,
        "there": there,
        "version": format!("{version_text}-{}", version(json!(columns).to_string().as_bytes())),
        "editable": there && !is_workbook && trouble.is_none(),
        "trouble": trouble,
        "columns": columns,
        "missing": missing,
        "rows": rows,
        "lines": table.rows.iter().map(|r| r.line).collect::<Vec<_>>(),
    }))
}

/// Names that a column takes, beside the words of its declaration.
fn choices(file: &str, column: &str, snapshot: &Snapshot) -> Vec<String> {
    let job = snapshot.job.as_ref().or_else(|| snapshot.designed.as_ref().map(|d| &d.job));
    let mut out: Vec<String> = Vec::new();
    match (file, column) {
        ("rooms.csv", "kind") => match job {
            Some(job) => out.extend(job.loaded.project.kinds.iter().map(|k| k.name.clone())),
            None => out.extend(intake::built_in_kinds().iter().map(|k| k.name.clone())),
        },
        ("rooms.csv", "transfer_from") | ("surfaces.csv", "room") => {
            if let Some(job) = job {
                out.extend(job.loaded.project.rooms.iter().map(|r| r.id.clone()));
            }
        }
        ("rooms.csv", "floor") => {
            if let Some(job) = job {
                for room in &job.loaded.project.rooms {
                    if !out.contains(&room.floor) {
                        out.push(room.floor.clone());
                    }
                }
            }
        }
        _ => {}
    }
    out
}
