//! Schema and documentation from the declarations.

use super::keys::{self, MODEL, PROFILE_COLUMNS, ROOM_COLUMNS, SURFACE_COLUMNS, TABLES};
use super::section::example;
use super::spec::{KeySpec, Need, Shape, TableSpec, ValueKind};
use drycoil_units::QuantityKind;
use serde_json::{Map, Value, json};
use std::fmt::Write as _;

/// JSON Schema (2020-12) of `project.toml`, for editors that check TOML while it is typed.
///
/// ```
/// let schema = drycoil_intake::project::json_schema();
/// assert_eq!(schema["properties"]["project"]["properties"]["format"]["const"], 1);
/// ```
pub fn json_schema() -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for table in TABLES {
        let mut parts = table.path.split('.');
        let first = parts.next().expect("a name");
        let second = parts.next();
        let mut schema = object(table.keys, table.doc);
        match (table.shape, second) {
            (Shape::Named, _) => {
                schema = json!({
                    "type": "object",
                    "description": format!("{} Each table has a name of its own.", table.doc),
                    "additionalProperties": schema,
                });
                properties.insert(first.to_owned(), schema);
            }
            (Shape::List, _) => {
                properties.insert(first.to_owned(), json!({ "type": "array", "items": schema }));
            }
            (Shape::Single, None) => {
                if table.keys.iter().any(|k| k.need == Need::Required) {
                    required.push(first.to_owned());
                }
                properties.insert(first.to_owned(), schema);
            }
            (Shape::Single, Some(inner)) => {
                properties[first]["properties"][inner] = schema;
            }
        }
    }
    properties["project"]["properties"]["format"] =
        json!({ "const": drycoil_project::FORMAT, "description": "Number of the project format." });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Drycoil project.toml",
        "type": "object",
        "additionalProperties": false,
        "required": required,
        "properties": properties,
    })
}

fn object(keys: &[KeySpec], doc: &str) -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for key in keys {
        properties.insert(key.name.to_owned(), value_schema(key));
        if key.need == Need::Required {
            required.push(key.name);
        }
    }
    let mut object = json!({
        "type": "object",
        "description": doc,
        "additionalProperties": false,
        "properties": properties,
    });
    if !required.is_empty() {
        object["required"] = json!(required);
    }
    object
}

fn value_schema(key: &KeySpec) -> Value {
    let mut schema = match key.kind {
        ValueKind::Quantity(kind, _) => json!({ "type": "string", "pattern": unit_pattern(kind) }),
        ValueKind::AirFlow(_) => {
            json!({ "type": "string", "pattern": unit_pattern(QuantityKind::StandardAirFlow) })
        }
        ValueKind::Number(low, high) => json!({ "type": "number", "minimum": low, "maximum": high }),
        ValueKind::Count(low, high) => json!({ "type": "integer", "minimum": low, "maximum": high }),
        ValueKind::Word(words) => json!({ "enum": words }),
        ValueKind::Text | ValueKind::Facing => json!({ "type": "string" }),
        ValueKind::Name => json!({ "type": "string", "minLength": 1 }),
        ValueKind::Flag => json!({ "type": "boolean" }),
        ValueKind::Date => json!({ "type": "string", "format": "date" }),
        ValueKind::Days => {
            json!({ "type": "array", "items": { "type": "string", "pattern": "^[0-1][0-9]-[0-3][0-9]$" } })
        }
        ValueKind::Monthly(low, high) => json!({
            "type": "array", "minItems": 12, "maxItems": 12,
            "items": { "type": "number", "minimum": low, "maximum": high },
        }),
        ValueKind::Hourly(low, high) => json!({
            "type": "array", "minItems": 24, "maxItems": 24,
            "items": { "type": "number", "minimum": low, "maximum": high },
        }),
        ValueKind::Rows(keys) => json!({ "type": "array", "items": object(keys, key.doc) }),
    };
    let mut text = key.doc.to_owned();
    match key.need {
        Need::Required => {}
        Need::Optional(words) => {
            let _ = write!(text, " When not written: {words}.");
        }
        Need::Default { text: default, rule, source } => {
            let _ = write!(
                text,
                " Default: {} ({rule}; {source}).",
                if default.is_empty() { "none" } else { default }
            );
        }
    }
    if let ValueKind::Quantity(..) | ValueKind::AirFlow(_) = key.kind {
        let _ = write!(text, " Allowed: {}.", allowed(key.kind));
    }
    schema["description"] = json!(text);
    schema
}

/// A number followed by one of the accepted units.
fn unit_pattern(kind: QuantityKind) -> String {
    let mut all: Vec<String> = Vec::new();
    for unit in kind.units() {
        for spelling in std::iter::once(unit.symbol).chain(unit.aliases.iter().copied()) {
            all.push(escape(spelling));
        }
    }
    if kind == QuantityKind::StandardAirFlow {
        all.extend(["acfm".to_owned(), "acfm/person".to_owned(), "scfm/person".to_owned()]);
    }
    format!(r"^\s*[-+]?[0-9.][0-9_.]*([eE][-+]?[0-9]+)?\s*({})\s*$", all.join("|"))
}

fn escape(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if r"\.+*?()[]{}|^$".contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

fn allowed(kind: ValueKind) -> String {
    match kind {
        ValueKind::Quantity(_, l) | ValueKind::AirFlow(l) => format!("{} to {}", l.low, l.high),
        other => example(other),
    }
}

/// The page `docs/PROJECT_FORMAT.md`.
pub fn project_format_page() -> String {
    let mut page = String::from(INTRODUCTION);
    page.push_str("\n## Keys of `project.toml`\n");
    for table in TABLES {
        table_section(&mut page, table);
    }
    for (title, rows) in [
        ("A period of `electricity_periods` and `fuel_periods`", keys::PRICE_PERIOD),
        ("A charge of `electricity_demand`", keys::DEMAND_CHARGE),
        ("A month of `electricity_emissions_by_hour`", keys::EMISSION_MONTH),
        ("A layer of a construction", keys::LAYER),
    ] {
        let _ = writeln!(page, "\n{title} has these keys:\n");
        key_table(&mut page, rows, "key");
    }
    page.push_str("\n## `rooms.csv` or `rooms.xlsx`\n\n");
    page.push_str(ROOMS);
    key_table(&mut page, ROOM_COLUMNS, "column");
    page.push_str(
        "\n## `surfaces.csv`\n\nOptional. Without it every room is an inside room, and a note says so.\n\n",
    );
    key_table(&mut page, SURFACE_COLUMNS, "column");
    page.push_str(PROFILES);
    key_table(&mut page, &PROFILE_COLUMNS[..4], "column");
    page.push_str("\n`h01` to `h23` are like `h00`.\n");
    page.push_str("\n## `catalogue.toml`\n\n");
    page.push_str(CATALOGUE);
    table_section(&mut page, &MODEL);
    for (title, rows) in [
        ("A point of `coil` and `heating_coil`", keys::COIL_POINT),
        ("A point of `fan`", keys::FAN_POINT),
        ("A point of `sound`", keys::SOUND_POINT),
        ("A point of `inlet`", keys::INLET_POINT),
    ] {
        let _ = writeln!(page, "\n{title}:\n");
        key_table(&mut page, rows, "key");
    }
    built_in(&mut page);
    page
}

fn table_section(page: &mut String, table: &TableSpec) {
    let title = match table.shape {
        Shape::Single | Shape::Named => format!("[{}]", table.path),
        Shape::List => format!("[[{}]]", table.path),
    };
    let _ = writeln!(page, "\n### `{title}`\n\n{}\n", table.doc);
    key_table(page, table.keys, "key");
}

fn key_table(page: &mut String, keys: &[KeySpec], word: &str) {
    let _ = writeln!(page, "| {word} | value | when not written | meaning |\n|---|---|---|---|");
    for key in keys {
        let value = match key.kind {
            ValueKind::Quantity(kind, l) => format!("{}, {} to {}", kind.label(), l.low, l.high),
            ValueKind::AirFlow(l) => format!("air flow, {} to {}", l.low, l.high),
            ValueKind::Word(words) => format!("`{}`", words.join("`, `")),
            ValueKind::Text | ValueKind::Name => "text".into(),
            ValueKind::Rows(_) => "list of tables".into(),
            ValueKind::Facing => "compass word or angle, 0 deg to 360 deg".into(),
            other => example(other),
        };
        let absent = match key.need {
            Need::Required => "needed".to_owned(),
            Need::Optional(words) => words.to_owned(),
            Need::Default { text, rule, source } => {
                let text = if text.is_empty() { "none" } else { text };
                format!("{text} ({rule}; {source})")
            }
        };
        let row = format!("| `{}` | {value} | {absent} | {} |", key.name, key.doc);
        let _ = writeln!(page, "{row}");
    }
}

fn built_in(page: &mut String) {
    page.push_str("\n## Built-in room kinds\n\nRates in cfm per person and cfm/ft2; density in people per 1000 ft2; `drycoil working` prints the source of each value that was used.\n\n| kind | name | per person | per area | density | latent, Btu/h | profile | standby | remark |\n|---|---|---|---|---|---|---|---|---|\n");
    for k in super::built_in_kinds() {
        let (per_person, per_area) = k.ventilation.as_ref().map_or_else(
            || ("-".to_owned(), "-".to_owned()),
            |v| (super::spec::plain(v.per_person.to_cfm()), super::spec::plain(v.per_area.to_cfm_per_ft2())),
        );
        let remark = match (&k.screen, &k.health_care, k.transfer_only) {
            (Some(_), _, _) => "proposed for conventional cooling".to_owned(),
            (_, Some(h), _) => {
                let changes = |c: Option<drycoil_units::AirChangesPerHour>| {
                    c.map_or_else(|| "-".to_owned(), |c| super::spec::plain(c.to_per_hour()))
                };
                format!("air changes: outdoor {}, total {}", changes(h.outdoor), changes(h.total))
            }
            (_, _, true) => "transfer air, no terminal".to_owned(),
            _ => String::new(),
        };
        let density = super::spec::plain(k.people_per_m2.value * 0.3048 * 0.3048 * 1000.0);
        let latent = super::spec::plain(k.activity.latent.to_btu_per_hour());
        let _ = writeln!(
            page,
            "| `{}` | {} | {per_person} | {per_area} | {density} | {latent} | `{}` | {} | {remark} |",
            k.id,
            k.name,
            k.profile,
            if k.standby_allowed { "yes" } else { "no" }
        );
    }
    let names: Vec<String> = super::built_in_profiles().iter().map(|p| format!("`{}`", p.name)).collect();
    let _ = writeln!(page, "\n## Built-in profiles\n\n{}.", names.join(", "));
}

const INTRODUCTION: &str = "\
# The project folder

This page is generated from the declarations that the reader itself uses (`cargo xtask generate`).

A project is one folder of plain text:

| file | needed | what it holds |
|---|---|---|
| `project.toml` | yes | site, criteria, systems, prices, constructions, room kinds, waivers |
| `rooms.csv` or `rooms.xlsx` | yes, one of the two | one row a room |
| `surfaces.csv` | no | exposed walls, windows, roofs and floors by room |
| `profiles.csv` | no | use profiles of the project |
| `catalogue.toml` | no | terminal units of the project |
| the weather file | yes | named by `site.weather`; may lie outside the folder, as in `\"../weather/year.csv\"` |

The smallest `project.toml`:

```toml
[project]
format = 1
name = \"One room\"

[site]
weather = \"year.csv\"
```

and the smallest `rooms.csv`:

```csv
id,floor,kind,floor_area [ft2]
101,1,meeting,400
```

## Rules

- A quantity is a text with its unit: `\"55 degF\"`, `\"12.8 degC\"`, `\"20 cfm\"`. A number without a unit is refused. `drycoil units` lists the units. Each value may use either unit system.
- In a table the unit stands in the column title, `floor_area [ft2]`, or in the cell, `120 ft2`. A cell with its own unit does not need the title's.
- An air flow in `scfm` is standard flow (dry-air mass flow over 0.075 lb/ft3), in `acfm` it is volume at the pressure of the site and the temperature of standard air. In `cfm`, `L/s` or `m3/h` it has the basis `primary_air.flow_basis`. Rates of room kinds and flows of the catalogue are standard flows unless written in `acfm`.
- What has an honest common default need not be written; `drycoil check --verbose` lists every default that applied, with its source.
- A key or column that is not known is refused, because it would have no effect. A line of a table that begins with `#` is a remark.
- Tables may be delimited by comma, semicolon or tab; with semicolon or tab the decimal mark may be a comma, the same in the whole file. UTF-8 (with or without byte-order mark) and Windows-1252 are read.
- `format` is the number of this format. A newer number is refused; there is no older one.
- Nothing is clamped, guessed or repaired: every problem is reported with its place, all in one pass.
";

const ROOMS: &str = "\
The workbook's sheet is the one named `rooms`, else the first one. Merged cells and formulas without a stored result are refused; hidden rows count, and a note says so. Titles stand in the first row that is not empty.

";

const PROFILES: &str = "
## `profiles.csv`

Optional; a profile with the name of a built-in one replaces it. A use without rows is zero all year; a use with rows needs every type of day. A room is occupied in the hours with people above zero, or with a process when the profile never has people.

";

const CATALOGUE: &str = "\
Optional. The built-in catalogue is neutral and invented, good for a first design; the maker's rating points belong here. Units of the project are tried before the built-in ones; to leave the built-in ones out, name models in the room list.
";
