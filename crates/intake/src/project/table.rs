//! Tables: titles with units, rows of cells, and one reader for CSV text and worksheets.

use super::section::{DefaultUsed, Log};
use super::spec::{
    KeySpec, Need, Problem, Value, ValueKind, in_limits, number_in, parse_text, placeholder, plain,
    unit_problem,
};
use super::text::Text;
use drycoil_findings::{Finding, Place, did_you_mean, registry::project as pf, registry::rooms as rm};
use drycoil_units::{
    AirFlowBasis, Quantity, QuantityKind, Unit, UnitError, parse_kind, parse_number, split_title,
};
use drycoil_working::{Origin, Sourced};
use std::borrow::Cow;
use std::sync::Arc;

/// Most columns that are read.
const MAX_COLUMNS: usize = 400;

/// What a worksheet cell holds beside its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum CellNature {
    Plain,
    /// A date or time of the spreadsheet.
    Date,
}

/// One cell.
#[derive(Debug, Clone)]
pub(crate) struct Cell {
    pub text: String,
    /// Byte offsets in the file; empty for worksheets.
    pub span: (usize, usize),
    pub nature: CellNature,
}

/// One row below the titles.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    /// Line of the text file, or row of the sheet, from 1.
    pub line: u32,
    pub cells: Vec<Cell>,
}

/// Titles and rows, not yet understood.
#[derive(Debug)]
pub(crate) struct Grid {
    pub file: String,
    pub titles: Line,
    pub lines: Vec<Line>,
    /// Whether cells are named like `C7`.
    pub sheet: bool,
    /// Whether commas may be decimal marks.
    pub decimal_comma: bool,
}

/// Splits delimited text into a grid.
pub(crate) fn grid_of(source: &Text, log: &mut Log) -> Option<Grid> {
    let s = source.text.as_str();
    let (separator_line, declared) = declared_delimiter(s);
    let Some(delimiter) = declared.or_else(|| delimiter_of(s)) else {
        log.findings
            .push(Finding::new(rm::NO_ROWS, "the table is empty").at(Place::file(source.name.clone())));
        return None;
    };
    let bytes = s.as_bytes();
    let mut lines: Vec<Line> = Vec::new();
    let (mut at, mut line) = (separator_line, 1 + u32::from(separator_line > 0));
    while at < bytes.len() {
        let first_line = line;
        // Comments and blank lines.
        let end = s[at..].find('\n').map_or(s.len(), |i| at + i);
        let whole = s[at..end].trim();
        if whole.is_empty() || whole.starts_with('#') {
            at = end + 1;
            line += 1;
            continue;
        }
        // Rows are mostly as long as the one before.
        let mut cells = Vec::with_capacity(lines.last().map_or(16, |l| l.cells.len()));
        loop {
            // One field.
            let start = at;
            let mut value = String::new();
            let lead = s[at..].bytes().take_while(|b| *b == b' ').count();
            if bytes.get(at + lead) == Some(&b'"') {
                at += lead + 1;
                loop {
                    let Some(next) = s[at..].find('"') else {
                        log.findings.push(
                            Finding::new(rm::OPEN_QUOTE, "a quotation mark is opened here and never closed")
                                .at(source.place(start..start + 1)),
                        );
                        return None;
                    };
                    line += s[at..at + next].bytes().filter(|b| *b == b'\n').count() as u32;
                    value.push_str(&s[at..at + next]);
                    at += next + 1;
                    if bytes.get(at) == Some(&b'"') {
                        value.push('"');
                        at += 1;
                    } else {
                        break;
                    }
                }
            }
            let stop =
                bytes[at..].iter().position(|b| *b == delimiter || *b == b'\n').map_or(s.len(), |i| at + i);
            let rest = s[at..stop].trim_end_matches('\r');
            at = stop;
            let text = if value.is_empty() {
                rest.trim().to_owned()
            } else {
                value.push_str(rest);
                value.trim().to_owned()
            };
            cells.push(Cell { text, span: (start, at), nature: CellNature::Plain });
            if cells.len() > MAX_COLUMNS {
                log.findings.push(
                    Finding::new(rm::ROW_SHAPE, "the row has too many fields")
                        .at(Place::line(source.name.clone(), first_line, 1))
                        .allowed(format!("up to {MAX_COLUMNS} columns")),
                );
                return None;
            }
            match bytes.get(at) {
                Some(b) if *b == delimiter => at += 1,
                Some(_) => {
                    at += 1;
                    line += 1;
                    break;
                }
                None => break,
            }
        }
        // A row of delimiters only is how spreadsheets write an empty row.
        if cells.iter().any(|c| !c.text.is_empty()) {
            lines.push(Line { line: first_line, cells });
        }
    }
    if lines.is_empty() {
        log.findings
            .push(Finding::new(rm::NO_ROWS, "the table is empty").at(Place::file(source.name.clone())));
        return None;
    }
    let titles = lines.remove(0);
    Some(Grid { file: source.name.clone(), titles, lines, sheet: false, decimal_comma: delimiter != b',' })
}

/// The delimiter that a spreadsheet declares in a first line `sep=;`, and the bytes of that line.
fn declared_delimiter(s: &str) -> (usize, Option<u8>) {
    let end = s.find('\n').map_or(s.len(), |i| i + 1);
    let line = s[..end].trim_end_matches(['\n', '\r']);
    match line.split_at_checked(4) {
        Some((word, mark)) if word.eq_ignore_ascii_case("sep=") => match mark.as_bytes() {
            [d @ (b',' | b';' | b'\t')] => (end, Some(*d)),
            _ => (0, None),
        },
        _ => (0, None),
    }
}

/// The delimiter used most in the first line that is no comment.
fn delimiter_of(s: &str) -> Option<u8> {
    let first = s.lines().find(|l| !l.trim().is_empty() && !l.trim_start().starts_with('#'))?;
    let count = |d: char| {
        let mut quoted = false;
        first
            .chars()
            .filter(|c| {
                quoted ^= *c == '"';
                !quoted && *c == d
            })
            .count()
    };
    let (comma, semicolon, tab) = (count(','), count(';'), count('\t'));
    Some(if semicolon > comma && semicolon >= tab {
        b';'
    } else if tab > comma {
        b'\t'
    } else {
        b','
    })
}

/// A declared column that is there.
#[derive(Debug)]
struct Column {
    spec: &'static KeySpec,
    index: usize,
    title: Arc<str>,
    unit: ColumnUnit,
    limits: (f64, f64),
}

/// The unit in the title.
#[derive(Debug, Clone, Copy)]
enum ColumnUnit {
    None,
    Unit(&'static Unit),
    /// An air flow with its basis.
    Flow(&'static Unit, AirFlowBasis),
}

/// A table whose titles are understood.
pub(crate) struct Table {
    pub grid: Grid,
    columns: Vec<Option<Column>>,
    keys: &'static [KeySpec],
    commas: Option<bool>,
    mixed_told: bool,
}

fn quantity_of(kind: ValueKind) -> Option<QuantityKind> {
    match kind {
        ValueKind::Quantity(q, _) => Some(q),
        ValueKind::AirFlow(_) => Some(QuantityKind::StandardAirFlow),
        ValueKind::Facing => Some(QuantityKind::Angle),
        _ => None,
    }
}

/// Letters of a sheet column, from 0.
pub(crate) fn letters(mut index: usize) -> String {
    let mut text = String::new();
    loop {
        text.insert(0, char::from(b'A' + (index % 26) as u8));
        index /= 26;
        if index == 0 {
            return text;
        }
        index -= 1;
    }
}

impl Grid {
    fn place(&self, line: &Line, row: Option<u32>, index: usize, title: &str) -> Place {
        let mut place = Place { file: Some(self.file.clone()), row, ..Place::default() };
        if self.sheet {
            place.key = Some(format!("{}{}", letters(index), line.line));
            return place;
        }
        place.line = Some(line.line);
        place.key = Some(title.to_owned());
        if let Some(cell) = line.cells.get(index) {
            place.span = Some(cell.span);
        }
        place
    }
}

impl Table {
    /// Understands the titles; every problem with them is in the log. `None` when a needed column is missing.
    pub fn new(grid: Grid, keys: &'static [KeySpec], log: &mut Log) -> Option<Self> {
        if let Some(titles) = lower_titles(&grid, keys) {
            let what = if grid.sheet { "row" } else { "line" };
            log.findings.push(
                Finding::new(
                    rm::MISSING_COLUMN,
                    format!(
                        "{what} {} holds none of the column titles; they look to be in {what} {titles}",
                        grid.titles.line
                    ),
                )
                .at(Place { key: None, ..grid.place(&grid.titles, None, 0, "") })
                .allowed(format!("titles in the first {what}"))
                .hint(if grid.sheet {
                    "delete the rows above the titles".to_owned()
                } else {
                    "delete the lines above the titles, or begin them with `#`".to_owned()
                }),
            );
            return None;
        }
        let mut columns: Vec<Option<Column>> = (0..keys.len()).map(|_| None).collect();
        for (index, cell) in grid.titles.cells.iter().enumerate() {
            if cell.text.is_empty() {
                if grid.lines.iter().any(|l| l.cells.get(index).is_some_and(|c| !c.text.is_empty())) {
                    log.findings.push(
                        Finding::new(rm::UNKNOWN_COLUMN, "a column with values has no title").at(grid.place(
                            &grid.titles,
                            None,
                            index,
                            &format!("column {}", letters(index)),
                        )),
                    );
                }
                continue;
            }
            let (name, unit_text) = split_title(&cell.text);
            let place = grid.place(&grid.titles, None, index, &cell.text);
            let Some(position) = keys.iter().position(|k| k.name == name) else {
                let mut finding =
                    Finding::new(rm::UNKNOWN_COLUMN, format!("`{name}` is not a column of this table"))
                        .at(place);
                finding = finding.hint(match of_other_word(name, unit_text, keys) {
                    Some(title) => format!("did you mean `{title}`?"),
                    None => format!(
                        "delete the column, or use one of the titles of docs/PROJECT_FORMAT.md; needed are {}",
                        needed_titles(keys)
                    ),
                });
                log.findings.push(finding);
                continue;
            };
            if let Some(first) = &columns[position] {
                log.findings.push(
                    Finding::new(rm::DUPLICATE_COLUMN, format!("the column `{name}` is there twice"))
                        .at(place)
                        .at(grid.place(&grid.titles, None, first.index, &first.title)),
                );
                continue;
            }
            let spec = &keys[position];
            let mut unit = ColumnUnit::None;
            match (quantity_of(spec.kind), unit_text) {
                (Some(q), Some(text)) => match column_unit(spec.kind, q, text) {
                    Ok(u) => unit = u,
                    Err(problem) => log.findings.push(problem.finding().at(place.clone())),
                },
                (Some(q), None) => {
                    let bare = grid.lines.iter().filter_map(|l| l.cells.get(index)).find(|c| {
                        parse_number(&c.text.replace(',', ".")).is_some_and(|(_, rest)| rest.is_empty())
                    });
                    if let Some(cell) = bare {
                        log.findings.push(
                            Finding::new(rm::COLUMN_WITHOUT_UNIT, format!("the column `{name}` has no unit"))
                                .at(place.clone())
                                .value(cell.text.clone())
                                .allowed(q.accepted())
                                .hint(if q.ip_symbol() == q.si_symbol() {
                                    format!("write the title as `{name} [{}]`", q.si_symbol())
                                } else {
                                    format!(
                                        "write the title as `{name} [{}]` or `{name} [{}]`",
                                        q.ip_symbol(),
                                        q.si_symbol()
                                    )
                                }),
                        );
                    }
                }
                (None, Some(text)) => {
                    if !(matches!(spec.kind, ValueKind::Number(..)) && matches!(text, "1" | "-" | "")) {
                        log.findings.push(
                            Finding::new(pf::WRONG_UNIT, format!("the column `{name}` takes no unit"))
                                .at(place.clone())
                                .value(text),
                        );
                    }
                }
                (None, None) => {}
            }
            let limits = match spec.kind {
                ValueKind::Quantity(q, l) => l.si(q),
                ValueKind::AirFlow(l) => l.si(QuantityKind::StandardAirFlow),
                ValueKind::Facing => (0.0, 360.0),
                _ => (0.0, 0.0),
            };
            columns[position] = Some(Column { spec, index, title: cell.text.as_str().into(), unit, limits });
        }
        let mut usable = true;
        for (spec, column) in keys.iter().zip(&columns) {
            if spec.need == Need::Required && column.is_none() {
                usable = false;
                log.findings.push(
                    Finding::new(rm::MISSING_COLUMN, format!("the column `{}` is missing", spec.name))
                        .at(Place {
                            key: Some(spec.name.into()),
                            ..grid.place(&grid.titles, None, usize::MAX, "")
                        }
                        .of_sheet(grid.sheet))
                        .hint(format!(
                            "add a column titled `{}`; needed are {}",
                            title_of(spec),
                            needed_titles(keys)
                        )),
                );
            }
        }
        if !usable {
            return None;
        }
        if grid.lines.is_empty() {
            log.findings.push(
                Finding::new(rm::NO_ROWS, "the table has titles and no rows")
                    .at(Place::file(grid.file.clone())),
            );
            return None;
        }
        let width = grid.titles.cells.len();
        for (i, line) in grid.lines.iter().enumerate() {
            if line.cells[width.min(line.cells.len())..].iter().any(|c| !c.text.is_empty()) {
                log.findings.push(
                    Finding::new(rm::ROW_SHAPE, "the row has more fields than there are titles")
                        .at(Place { key: None, ..grid.place(line, Some(i as u32 + 1), usize::MAX, "") })
                        .value(format!("{} fields", line.cells.len()))
                        .allowed(format!("up to {width}")),
                );
            }
        }
        for (spec, column) in keys.iter().zip(&columns) {
            if column.is_none()
                && let Need::Optional(words) = spec.need
            {
                log.defaults.push(DefaultUsed {
                    key: format!("{}: {}", grid.file, spec.name),
                    text: words.into(),
                    rule: "the column is not there".into(),
                    source: "docs/PROJECT_FORMAT.md".into(),
                });
            }
        }
        Some(Self { grid, columns, keys, commas: None, mixed_told: false })
    }

    pub fn rows(&self) -> usize {
        self.grid.lines.len()
    }

    /// A reader of one row, from 0.
    pub fn row<'a>(&'a mut self, index: usize, log: &'a mut Log) -> RowReader<'a> {
        RowReader { table: self, log, index }
    }
}

/// What a column holds, in words that begin small and have no final stop.
fn says(spec: &KeySpec) -> String {
    let doc = spec.doc.trim_end_matches('.');
    let mut letters = doc.chars();
    let doc = letters.next().map_or_else(String::new, |c| c.to_lowercase().chain(letters).collect());
    match quantity_of(spec.kind) {
        Some(q) => format!("the {doc} with its unit, as in `12 {}`", q.ip_symbol()),
        None => format!("the cell holds the {doc}"),
    }
}

/// How a title of this column is written.
fn title_of(spec: &KeySpec) -> String {
    match quantity_of(spec.kind) {
        Some(q) => format!("{} [{}]", spec.name, q.ip_symbol()),
        None => spec.name.to_owned(),
    }
}

/// The titles without which no row can be read.
fn needed_titles(keys: &[KeySpec]) -> String {
    let needed = keys.iter().filter(|k| k.need == Need::Required).map(|k| format!("`{}`", title_of(k)));
    needed.collect::<Vec<_>>().join(", ")
}

/// The line of the titles, when it is not the first one: that line holds no title, and one soon below it two or more.
fn lower_titles(grid: &Grid, keys: &[KeySpec]) -> Option<u32> {
    let count = |line: &Line| {
        let titles = line.cells.iter().filter(|c| !c.text.is_empty());
        titles
            .filter(|c| {
                let (name, unit) = split_title(&c.text);
                keys.iter().any(|k| k.name == name) || other_word(name, unit, keys).is_some()
            })
            .count()
    };
    if count(&grid.titles) > 0 {
        return None;
    }
    grid.lines.iter().take(LINES_ABOVE_TITLES).find(|l| count(l) >= 2).map(|l| l.line)
}

/// Titles are looked for in so many lines below the first.
const LINES_ABOVE_TITLES: usize = 10;

/// The title that was meant: the same name in another spelling, another word for it, or a name like it.
fn of_other_word(name: &str, unit: Option<&str>, keys: &[KeySpec]) -> Option<String> {
    other_word(name, unit, keys).or_else(|| {
        let near = did_you_mean(name, keys.iter().map(|k| k.name))?;
        keys.iter().find(|k| k.name == near).map(|spec| title_with(spec, unit))
    })
}

/// The title of which this is another spelling or another word. A unit may stand in round brackets.
fn other_word(name: &str, unit: Option<&str>, keys: &[KeySpec]) -> Option<String> {
    let (name, unit) = match name.strip_suffix(')').and_then(|n| n.rsplit_once('(')) {
        Some((name, inside)) if unit.is_none() => (name.trim(), Some(inside.trim())),
        _ => (name, unit),
    };
    let plain: String = name.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    let same = |text: &str| text.chars().filter(|c| c.is_alphanumeric()).eq(plain.chars());
    let word = |key: &str| {
        let words = OTHER_WORDS.iter().find(|(k, _)| *k == key);
        words.is_some_and(|(_, words)| words.iter().any(|w| same(w)))
    };
    if plain.is_empty() {
        return None;
    }
    let found = keys.iter().find(|k| same(k.name)).or_else(|| keys.iter().find(|k| word(k.name)));
    found.map(|spec| title_with(spec, unit))
}

/// How a title of this column is written in the unit that stands there, where it is one of the column.
fn title_with(spec: &KeySpec, unit: Option<&str>) -> String {
    match quantity_of(spec.kind).and_then(|q| q.unit(unit?)) {
        Some(unit) => format!("{} [{}]", spec.name, unit.symbol),
        None => title_of(spec),
    }
}

/// Words that room lists use for our columns. Case, spaces and signs do not count.
const OTHER_WORDS: &[(&str, &[&str])] = &[
    (
        "id",
        &[
            "room",
            "room id",
            "room no",
            "room number",
            "number",
            "no",
            "nr",
            "tag",
            "space",
            "space id",
            "mark",
        ],
    ),
    ("name", &["room name", "description", "title", "space name"]),
    ("floor", &["level", "storey", "story", "floor level", "building storey", "floor name"]),
    ("zone", &["thermal zone", "zone id", "zone name", "terminal zone", "control zone"]),
    (
        "kind",
        &[
            "use",
            "usage",
            "type",
            "room type",
            "space type",
            "function",
            "occupancy type",
            "category",
            "room kind",
        ],
    ),
    ("floor_area", &["area", "net area", "room area", "size", "nfa", "nia", "gross area", "net floor area"]),
    ("height", &["ceiling height", "clear height", "room height", "ceiling"]),
    (
        "people",
        &[
            "occupants",
            "persons",
            "person",
            "headcount",
            "seats",
            "capacity",
            "occupant count",
            "occupancy",
            "occ",
            "no of people",
            "no of occupants",
            "people count",
            "number of people",
            "pax",
        ],
    ),
    ("sensible_per_person", &["sensible heat", "sensible gain", "people sensible"]),
    ("latent_per_person", &["latent heat", "latent gain", "people latent"]),
    ("lighting", &["lights", "light", "lpd", "lighting power density", "lighting load"]),
    ("plugs", &["plug", "plug load", "plug loads", "equipment", "receptacles", "epd", "small power"]),
    ("process_sensible", &["process", "process heat", "process load"]),
    ("profile", &["schedule", "use profile", "hours"]),
    ("cooling_set_point", &["setpoint", "set point", "cooling setpoint", "room temperature", "temperature"]),
    (
        "outdoor_air_per_person",
        &["outdoor air", "outside air", "fresh air", "oa", "ventilation", "primary air"],
    ),
    ("outdoor_air_changes", &["ach", "air changes", "outdoor ach"]),
    ("exhaust", &["exhaust air", "extract", "extract air", "exhaust flow"]),
    ("terminal", &["unit", "terminal unit", "terminal type", "model"]),
    ("transfer_from", &["transfer", "transfer air", "transfer room"]),
    ("room", &["id", "room id", "room number", "room no", "space", "space id"]),
    ("construction", &["wall type", "assembly", "build-up", "glazing", "glass"]),
    ("facing", &["orientation", "direction", "azimuth", "aspect", "exposure"]),
    ("tilt", &["slope", "inclination"]),
    ("neighbour", &["neighbor", "adjacent temperature", "other side"]),
];

/// A title's unit.
fn column_unit(kind: ValueKind, q: QuantityKind, text: &str) -> Result<ColumnUnit, Problem> {
    if let ValueKind::AirFlow(_) = kind {
        let basis = match text {
            "scfm" | "scfm/person" => Some(AirFlowBasis::Standard),
            "acfm" | "acfm/person" => Some(AirFlowBasis::Actual),
            _ => None,
        };
        if let Some(basis) = basis {
            return Ok(ColumnUnit::Flow(q.unit("cfm").expect("cfm is a unit of air flow"), basis));
        }
    }
    if let Some(unit) = q.unit(text) {
        return Ok(ColumnUnit::Unit(unit));
    }
    let error = match parse_kind(q, &format!("1 {text}")) {
        Err(e) => e,
        Ok(_) => UnitError::Empty { kind: q },
    };
    Err(unit_problem(q, &error))
}

trait SheetPlace {
    fn of_sheet(self, sheet: bool) -> Self;
}

impl SheetPlace for Place {
    /// A missing column has no cell; on a sheet the place names the row of the titles.
    fn of_sheet(mut self, sheet: bool) -> Self {
        if sheet {
            self.line = None;
        }
        self.span = None;
        self
    }
}

/// Reads the cells of one row.
pub(crate) struct RowReader<'a> {
    table: &'a mut Table,
    pub log: &'a mut Log,
    index: usize,
}

impl RowReader<'_> {
    fn position(&self, name: &str) -> usize {
        self.table.keys.iter().position(|k| k.name == name).expect("a declared column")
    }

    fn line(&self) -> &Line {
        &self.table.grid.lines[self.index]
    }

    /// The place of a cell, or of the row when the column is not there.
    pub fn place(&self, name: &str) -> Place {
        self.place_at(self.position(name))
    }

    fn place_at(&self, position: usize) -> Place {
        match &self.table.columns[position] {
            Some(c) => self.table.grid.place(self.line(), Some(self.index as u32 + 1), c.index, &c.title),
            None => self.own_place(),
        }
    }

    /// The place of the row.
    pub fn own_place(&self) -> Place {
        let line = self.line();
        let mut place = Place {
            file: Some(self.table.grid.file.clone()),
            row: Some(self.index as u32 + 1),
            ..Place::default()
        };
        if self.table.grid.sheet {
            place.key = Some(format!("A{}", line.line));
        } else {
            place.line = Some(line.line);
            if let (Some(first), Some(last)) = (line.cells.first(), line.cells.last()) {
                place.span = Some((first.span.0, last.span.1));
            }
        }
        place
    }

    /// The text of a cell; `None` when empty or when the column is not there.
    pub fn cell(&self, name: &str) -> Option<&str> {
        self.cell_at(self.position(name))
    }

    fn cell_at(&self, position: usize) -> Option<&str> {
        let column = self.table.columns[position].as_ref()?;
        let cell = self.line().cells.get(column.index)?;
        if cell.text.is_empty() { None } else { Some(&cell.text) }
    }

    pub fn nature(&self, name: &str) -> CellNature {
        self.table.columns[self.position(name)]
            .as_ref()
            .and_then(|c| self.line().cells.get(c.index))
            .map_or(CellNature::Plain, |c| c.nature)
    }

    pub fn refuse(&mut self, name: &str, problem: Problem) {
        self.refuse_at(self.position(name), problem);
    }

    fn refuse_at(&mut self, position: usize, problem: Problem) {
        let finding = problem.finding().at(self.place_at(position));
        self.log.findings.push(finding);
    }

    /// The written value and its origin.
    fn written(&mut self, name: &str) -> Option<(Value, Origin)> {
        let position = self.position(name);
        let value = self.written_at(position)?;
        Some((value, Origin::File(self.place_at(position))))
    }

    /// The written value; `None` where nothing usable is written.
    pub fn written_if(&mut self, name: &str) -> Option<Value> {
        self.written_at(self.position(name))
    }

    /// The text of a cell, with the unit of its title where it is a bare number.
    pub fn text_with_unit(&self, name: &str) -> String {
        let position = self.position(name);
        let text = self.cell_at(position).unwrap_or_default();
        let unit = match self.table.columns[position].as_ref().map(|c| c.unit) {
            Some(ColumnUnit::Unit(unit) | ColumnUnit::Flow(unit, _)) => unit.symbol,
            _ => "",
        };
        let bare = parse_number(&self.decimals(text).0).is_some_and(|(_, rest)| rest.is_empty());
        if bare && !unit.is_empty() { format!("{text} {unit}") } else { text.to_owned() }
    }

    fn written_at(&mut self, position: usize) -> Option<Value> {
        let column = self.table.columns[position].as_ref()?;
        let (kind, unit, limits) = (column.spec.kind, column.unit, column.limits);
        let cell = self.line().cells.get(column.index)?;
        if cell.text.is_empty() {
            return None;
        }
        let numeric = !matches!(kind, ValueKind::Text | ValueKind::Name | ValueKind::Word(_));
        let result = if numeric && cell.nature == CellNature::Date {
            Err(Problem::new(pf::NOT_A_NUMBER, "the cell holds a date where a number is expected")
                .value(cell.text.clone()))
        } else if numeric {
            let (text, mark) = self.decimals(&cell.text);
            let result = read_number(kind, unit, limits, &text);
            if result.is_ok() {
                self.watch_marks(position, mark);
            }
            result
        } else {
            parse_text(kind, &cell.text)
        };
        match result {
            Ok(value) => Some(value),
            Err(problem) => {
                // The whole column without a unit was told once, at its title.
                if !(problem.kind.id == pf::NO_UNIT.id && matches!(unit, ColumnUnit::None)) {
                    self.refuse_at(position, problem);
                }
                None
            }
        }
    }

    /// The text with a decimal point, and which mark it had.
    fn decimals<'t>(&self, text: &'t str) -> (Cow<'t, str>, Option<bool>) {
        if self.table.grid.decimal_comma
            && text.matches(',').count() == 1
            && !text.contains('.')
            && text.split_once(',').is_some_and(|(a, b)| {
                a.ends_with(|c: char| c.is_ascii_digit()) && b.starts_with(|c: char| c.is_ascii_digit())
            })
        {
            return (Cow::Owned(text.replace(',', ".")), Some(true));
        }
        let mark = if text.contains('.') && parse_number(text).is_some() { Some(false) } else { None };
        (Cow::Borrowed(text), mark)
    }

    fn watch_marks(&mut self, position: usize, mark: Option<bool>) {
        if self.table.grid.sheet {
            return;
        }
        let Some(comma) = mark else { return };
        match self.table.commas {
            None => self.table.commas = Some(comma),
            Some(first) if first != comma && !self.table.mixed_told => {
                self.table.mixed_told = true;
                let (has, had) = if comma { ("comma", "points") } else { ("point", "commas") };
                let problem = Problem::new(
                    rm::MIXED_DECIMALS,
                    format!("a decimal {has} in a table with decimal {had}"),
                )
                .value(self.cell_at(position).unwrap_or_default());
                self.refuse_at(position, problem);
            }
            Some(_) => {}
        }
    }

    /// The value of a needed cell; a placeholder with a finding when it is empty or bad.
    fn value_at(&mut self, position: usize) -> Value {
        let spec = &self.table.keys[position];
        if self.cell_at(position).is_none() {
            self.refuse_at(
                position,
                Problem::new(rm::EMPTY_CELL, format!("`{}` is empty", spec.name))
                    .hint(format!("{}; fill the cell, or delete the row", says(spec))),
            );
            return placeholder(spec.kind);
        }
        self.written_at(position).unwrap_or_else(|| placeholder(spec.kind))
    }

    fn value(&mut self, name: &str) -> (Value, Origin) {
        let position = self.position(name);
        let value = self.value_at(position);
        (value, Origin::File(self.place_at(position)))
    }

    pub fn text(&mut self, name: &str) -> Sourced<String> {
        match self.value(name) {
            (Value::Text(t), origin) => Sourced::new(t, origin),
            _ => unreachable!("declared as text"),
        }
    }

    pub fn text_if(&mut self, name: &str) -> Option<Sourced<String>> {
        match self.written(name)? {
            (Value::Text(t), origin) => Some(Sourced::new(t, origin)),
            _ => unreachable!("declared as text"),
        }
    }

    pub fn word<T: Copy>(&mut self, name: &str, of: &[T]) -> Sourced<T> {
        match self.value(name) {
            (Value::Word(i), origin) => Sourced::new(of[i], origin),
            _ => unreachable!("declared as a word"),
        }
    }

    pub fn word_if<T: Copy>(&mut self, name: &str, of: &[T]) -> Option<Sourced<T>> {
        match self.written(name)? {
            (Value::Word(i), origin) => Some(Sourced::new(of[i], origin)),
            _ => unreachable!("declared as a word"),
        }
    }

    pub fn quantity<Q: Quantity>(&mut self, name: &str) -> Sourced<Q> {
        let (value, origin) = self.value(name);
        Sourced::new(Q::from_si(number_of(&value)), origin)
    }

    pub fn quantity_if<Q: Quantity>(&mut self, name: &str) -> Option<Sourced<Q>> {
        let (value, origin) = self.written(name)?;
        Some(Sourced::new(Q::from_si(number_of(&value)), origin))
    }

    /// Numbers of neighbouring declared columns, from the one of this name, whose places nobody asks for later.
    pub fn bare_numbers<const N: usize>(&mut self, first: &str) -> [f64; N] {
        let position = self.position(first);
        std::array::from_fn(|i| number_of(&self.value_at(position + i)))
    }

    pub fn number_if(&mut self, name: &str) -> Option<Sourced<f64>> {
        let (value, origin) = self.written(name)?;
        Some(Sourced::new(number_of(&value), origin))
    }

    pub fn flow_if(&mut self, name: &str) -> Option<Sourced<(f64, Option<AirFlowBasis>)>> {
        match self.written(name)? {
            (Value::Flow(x, basis), origin) => Some(Sourced::new((x, basis), origin)),
            _ => unreachable!("declared as an air flow"),
        }
    }
}

fn number_of(value: &Value) -> f64 {
    match value {
        Value::Si(x) | Value::Number(x) | Value::Flow(x, _) => *x,
        _ => unreachable!("declared as a number"),
    }
}

/// Reads a numeric cell: its own unit first, else the unit of the title.
fn read_number(kind: ValueKind, unit: ColumnUnit, limits: (f64, f64), text: &str) -> Result<Value, Problem> {
    let parsed = parse_number(text);
    let bare = parsed.filter(|(_, rest)| rest.is_empty()).map(|(n, _)| n);
    if let (ValueKind::Number(low, high), Some(n)) = (kind, bare)
        && n.is_finite()
    {
        return number_in(n, low, high, text).map(Value::Number);
    }
    let (Some(n), Some(q)) = (bare, quantity_of(kind)) else {
        if let ValueKind::Number(low, high) = kind
            && let Some((n, "%")) = parsed
            && high <= 1.0
        {
            return number_in(n / 100.0, low, high, text).map(Value::Number);
        }
        return parse_text(kind, text);
    };
    let (unit, basis) = match unit {
        ColumnUnit::None => return parse_text(kind, text),
        ColumnUnit::Unit(u) => (u, None),
        ColumnUnit::Flow(u, basis) => (u, Some(basis)),
    };
    let si = n * unit.factor + unit.offset;
    if !si.is_finite() {
        return Err(unit_problem(q, &UnitError::NotFinite { kind: q, text: text.to_owned() }));
    }
    // The text with its unit is made only when it must be shown.
    let si = if let Ok(si) = in_limits(q, si, limits, "") {
        si
    } else {
        let shown = if n.is_finite() { plain_or(text, n) } else { text.to_owned() };
        in_limits(q, si, limits, &format!("{shown} {}", unit.symbol))?
    };
    Ok(match kind {
        ValueKind::AirFlow(_) => Value::Flow(si, basis),
        _ => Value::Si(si),
    })
}

fn plain_or(text: &str, n: f64) -> String {
    if text.len() <= 12 { text.to_owned() } else { plain(n) }
}

/// Whether a spreadsheet made a date of this text.
pub(crate) fn looks_like_date(text: &str) -> bool {
    const MONTHS: [&str; 12] =
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let is_digits = |t: &str, min: usize, max: usize| {
        (min..=max).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit())
    };
    let is_month = |t: &str| {
        t.len() >= 3
            && t.is_ascii()
            && MONTHS.contains(&t[..3].to_ascii_lowercase().as_str())
            && t.bytes().all(|b| b.is_ascii_alphabetic())
    };
    let day = text.split([' ', 'T']).next().unwrap_or(text);
    for separator in ['/', '-', '.'] {
        let parts: Vec<&str> = day.split(separator).collect();
        match parts.as_slice() {
            [a, b]
                if separator != '.'
                    && ((is_digits(a, 1, 2) && is_month(b)) || (is_month(a) && is_digits(b, 1, 4))) =>
            {
                return true;
            }
            [a, b, c]
                if (is_digits(a, 1, 2) && is_digits(b, 1, 2) && is_digits(c, 4, 4))
                    || (is_digits(a, 4, 4) && is_digits(b, 1, 2) && is_digits(c, 1, 2))
                    || (is_digits(a, 1, 2) && is_month(b) && (is_digits(c, 2, 2) || is_digits(c, 4, 4))) =>
            {
                return true;
            }
            _ => {}
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_known_and_plain_ids_are_not() {
        for date in
            ["1-Feb", "2/1/2026", "Feb-01", "2026-02-01", "2026-02-01 00:00:00", "1.2.2026", "01-Feb-26"]
        {
            assert!(looks_like_date(date), "{date}");
        }
        for id in ["101", "1-101", "A-12", "2.14", "1/2", "R1-01", "EG-101", "B-May", "3-mar2"] {
            assert!(!looks_like_date(id), "{id}");
        }
    }

    #[test]
    fn sheet_letters() {
        assert_eq!([0, 25, 26, 51, 52, 701, 702].map(letters), ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }

    #[test]
    fn quoted_fields_keep_delimiters_and_line_ends() {
        let text =
            Text::new("t.csv", "# remark\r\nid;name\r\n1;\"a \"\"b\"\"; c\nd\"\r\n\r\n;;\r\n2;x".into());
        let mut log = Log::default();
        let grid = grid_of(&text, &mut log).unwrap();
        assert!(log.findings.is_empty());
        assert_eq!(grid.lines.len(), 2);
        assert_eq!(grid.lines[0].cells[1].text, "a \"b\"; c\nd");
        assert_eq!((grid.lines[0].line, grid.lines[1].line), (3, 7));
    }
}
