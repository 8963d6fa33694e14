//! `drycoil air --csv`: a table of states, read, computed and written row by row.

use super::{AirArgs, State, enthalpy_datum, volume_in};
use crate::files::AtomicFile;
use crate::render::progress::Progress;
use crate::render::text;
use crate::{Context, Exit, Failure, Form};
use drycoil_air::{MoistAir, Property, standard_pressure};
use drycoil_findings::did_you_mean;
use drycoil_units::{
    Fraction, HumidityRatio, Length, Pressure, Quantity, QuantityKind as K, SpecificEnthalpy, Temperature,
    Unit, UnitSystem, split_title,
};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::Path;

/// Refused rows that are named; the rest is counted.
pub(super) const ROWS_NAMED: u64 = 50;
/// The longest row that is read.
const ROW_LIMIT_BYTES: u64 = 1 << 20;

const COLUMNS: [(&str, Role, K); 8] = [
    ("dry_bulb", Role::DryBulb, K::Temperature),
    ("wet_bulb", Role::WetBulb, K::Temperature),
    ("dew_point", Role::DewPoint, K::Temperature),
    ("rh", Role::RelativeHumidity, K::Fraction),
    ("humidity_ratio", Role::HumidityRatio, K::HumidityRatio),
    ("enthalpy", Role::Enthalpy, K::SpecificEnthalpy),
    ("pressure", Role::Pressure, K::Pressure),
    ("altitude", Role::Altitude, K::Length),
];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    DryBulb,
    WetBulb,
    DewPoint,
    RelativeHumidity,
    HumidityRatio,
    Enthalpy,
    Pressure,
    Altitude,
}

impl Role {
    /// The property, for a column that is one.
    fn property(self, si: f64) -> Option<Property> {
        Some(match self {
            Self::DryBulb => Property::DryBulb(Temperature::from_si(si)),
            Self::WetBulb => Property::WetBulb(Temperature::from_si(si)),
            Self::DewPoint => Property::DewPoint(Temperature::from_si(si)),
            Self::RelativeHumidity => Property::RelativeHumidity(Fraction::from_si(si)),
            Self::HumidityRatio => Property::HumidityRatio(HumidityRatio::from_si(si)),
            Self::Enthalpy => Property::Enthalpy(SpecificEnthalpy::from_si(si)),
            Self::Pressure | Self::Altitude => return None,
        })
    }

    const fn is_place(self) -> bool {
        matches!(self, Self::Pressure | Self::Altitude)
    }
}

/// One column that is read.
#[derive(Debug, Clone, Copy)]
struct Column {
    index: usize,
    name: &'static str,
    role: Role,
    unit: &'static Unit,
    /// Taken off the SI value: the datum of an enthalpy in inch-pound units.
    datum: f64,
}

/// Whether two paths lead to one file that is there.
fn same_file(a: &Path, b: &Path) -> bool {
    a.canonicalize().is_ok_and(|a| b.canonicalize().is_ok_and(|b| a == b))
}

/// Runs the command on a file.
pub(super) fn run(args: &AirArgs, pressure: Pressure, context: &mut Context) -> Result<Exit, Failure> {
    let Some(path) = args.csv.as_deref() else { return Err(Failure::usage("no CSV file is given")) };
    if let Some(out) = &args.out
        && same_file(path, out)
    {
        return Err(Failure::usage(format!("the results would replace their own input, {}", path.display()))
            .hint("give --out another name"));
    }
    let system = context.settings.unit_system(None);
    let reading = |error: io::Error| Failure::reading(path, error);
    let file = File::open(path).map_err(reading)?;
    let metadata = file.metadata().map_err(reading)?;
    if metadata.is_dir() {
        return Err(reading(io::Error::from(io::ErrorKind::IsADirectory)));
    }
    let mut rows_of = Rows::new(BufReader::with_capacity(1 << 16, file));
    if !rows_of.next(path)? || rows_of.is_blank() {
        return Err(Failure::bad_input(format!(
            "`{}` has an empty first row; it must hold the column titles",
            path.display()
        )));
    }
    rows_of.begin();
    let titles: Vec<String> = rows_of.cells().map(decode).collect();
    let columns = read_titles(path, &titles, args)?;
    if args.altitude.is_none() && args.pressure.is_none() && !columns.iter().any(|c| c.role.is_place()) {
        context.note("pressure: sea level, 101.325 kPa (no pressure or altitude column, neither --altitude nor --pressure)");
    }

    let progress = Progress::new(&context.settings, "states", metadata.len());
    let form = context.settings.form;
    let mut output = match &args.out {
        Some(out) => Some(AtomicFile::create(out)?),
        None => None,
    };
    let wrap = |error: io::Error| match &args.out {
        Some(out) => Failure::writing(out, error),
        None => Failure::Stream(error),
    };
    let mut refused = Refused::default();
    let mut rows = 0u64;
    {
        let out: &mut dyn Write = match &mut output {
            Some(file) => file,
            None => &mut context.out,
        };
        let mut line = String::with_capacity(256);
        begin(&mut line, form, system);
        out.write_all(line.as_bytes()).map_err(wrap)?;
        let mut done_bytes = 0;
        let mut first = true;
        while rows_of.next(path)? {
            if rows_of.is_blank() {
                continue;
            }
            rows += 1;
            match state_of(&rows_of, titles.len(), &columns, pressure, system) {
                Ok(state) => {
                    line.clear();
                    write_state(&mut line, &state, rows_of.row, form, system, first);
                    first = false;
                    out.write_all(line.as_bytes()).map_err(wrap)?;
                }
                Err(reason) => refused.add(rows_of.row, &reason),
            }
            if rows.is_multiple_of(4096) {
                progress.advance(rows_of.bytes - done_bytes);
                done_bytes = rows_of.bytes;
            }
        }
        if form == Form::Json {
            out.write_all(b"\n]\n").map_err(wrap)?;
        }
    }
    drop(progress);
    if refused.count > 0 {
        return Err(refused.failure(path, rows, args.out.as_deref()));
    }
    if let Some(file) = output {
        file.commit()?;
    }
    context.note(&format!("{} computed", text::count(rows as usize, "state")));
    Ok(Exit::Clean)
}

/// Reads line by line in bounded memory, so that a row has the number that a spreadsheet shows. Cells may be quoted, but
/// hold no line ends: they are numbers and titles.
struct Rows<R> {
    inner: R,
    line: Vec<u8>,
    /// Starts and ends of the cells in `line`.
    spans: Vec<(usize, usize)>,
    delimiter: u8,
    row: u64,
    bytes: u64,
}

impl<R: BufRead> Rows<R> {
    fn new(inner: R) -> Self {
        Self { inner, line: Vec::new(), spans: Vec::new(), delimiter: b',', row: 0, bytes: 0 }
    }

    /// Reads the next line; false at the end.
    fn next(&mut self, path: &Path) -> Result<bool, Failure> {
        self.line.clear();
        let n = Read::by_ref(&mut self.inner)
            .take(ROW_LIMIT_BYTES + 1)
            .read_until(b'\n', &mut self.line)
            .map_err(|error| Failure::reading(path, error))?;
        self.row += 1;
        self.bytes += n as u64;
        if n as u64 > ROW_LIMIT_BYTES {
            return Err(Failure::bad_input(format!(
                "`{}` row {}: longer than 1 MiB",
                path.display(),
                self.row
            )));
        }
        while let Some(b'\n' | b'\r') = self.line.last() {
            self.line.pop();
        }
        self.split();
        Ok(n > 0)
    }

    /// Takes the byte-order mark off the first line and finds the delimiter in it.
    fn begin(&mut self) {
        if self.line.starts_with(b"\xef\xbb\xbf") {
            self.line.drain(..3);
        }
        let count = |d: u8| self.line.split(|b| *b == d).count();
        // The last of equals is taken, so the comma wins a tie.
        self.delimiter = [b'\t', b';', b','].into_iter().max_by_key(|d| count(*d)).unwrap_or(b',');
        self.split();
    }

    fn split(&mut self) {
        self.spans.clear();
        let (mut start, mut quoted) = (0, false);
        for (i, byte) in self.line.iter().enumerate() {
            if *byte == b'"' {
                quoted = !quoted;
            } else if *byte == self.delimiter && !quoted {
                self.spans.push((start, i));
                start = i + 1;
            }
        }
        self.spans.push((start, self.line.len()));
    }

    fn len(&self) -> usize {
        self.spans.len()
    }

    fn cell(&self, index: usize) -> &[u8] {
        let (start, end) = self.spans[index];
        let cell = self.line[start..end].trim_ascii();
        match cell {
            [b'"', inner @ .., b'"'] => inner.trim_ascii(),
            _ => cell,
        }
    }

    fn cells(&self) -> impl Iterator<Item = &[u8]> {
        (0..self.len()).map(|i| self.cell(i))
    }

    fn is_blank(&self) -> bool {
        self.cells().all(<[u8]>::is_empty)
    }
}

/// UTF-8, or else Windows-1252 as spreadsheets write it; they differ from Latin-1 in signs that no title needs.
fn decode(bytes: &[u8]) -> String {
    std::str::from_utf8(bytes).map_or_else(|_| bytes.iter().map(|b| char::from(*b)).collect(), str::to_owned)
}

fn read_titles(path: &Path, titles: &[String], args: &AirArgs) -> Result<Vec<Column>, Failure> {
    let mut problems = Vec::new();
    let mut columns: Vec<Column> = Vec::new();
    for (index, title) in titles.iter().enumerate() {
        let (name, unit_text) = split_title(title);
        let Some(&(name, role, kind)) = COLUMNS.iter().find(|c| c.0 == name) else {
            let near = did_you_mean(name, COLUMNS.iter().map(|c| c.0))
                .map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
            problems.push(format!("no column is called `{}`{near}", text::clean(name)));
            continue;
        };
        if columns.iter().any(|c| c.role == role) {
            problems.push(format!("column `{name}` stands twice"));
            continue;
        }
        match unit_text.map(|u| (u, kind.unit(u))) {
            Some((_, Some(unit))) => {
                let datum = if role == Role::Enthalpy { enthalpy_datum(unit.symbol) } else { 0.0 };
                columns.push(Column { index, name, role, unit, datum });
            }
            Some((unit, None)) => problems.push(format!(
                "column `{name}`: `{}` is not a unit of {}; accepted units: {}",
                text::clean(unit),
                kind.label(),
                kind.accepted()
            )),
            None => problems.push(format!(
                "column `{name}` has no unit in its title; write it as `{name} [{}]`; accepted units: {}",
                kind.si_symbol(),
                kind.accepted()
            )),
        }
    }
    let places = columns.iter().filter(|c| c.role.is_place()).count();
    let properties = columns.len() - places;
    if problems.is_empty() {
        if properties != 2 {
            problems.push(format!(
                "a state needs exactly two of dry_bulb, wet_bulb, dew_point, rh, humidity_ratio, enthalpy; the titles have {properties}"
            ));
        }
        if places > 1 {
            problems.push("both a pressure and an altitude column; one of them decides".to_owned());
        }
    }
    if !problems.is_empty() {
        let mut message = format!("the titles of `{}` cannot be used", path.display());
        for problem in problems {
            let _ = write!(message, "\n  row 1: {problem}");
        }
        return Err(Failure::bad_input(message));
    }
    if places == 1 && (args.altitude.is_some() || args.pressure.is_some()) {
        return Err(Failure::usage(
            "the file has its own pressure or altitude column; leave out --altitude and --pressure",
        ));
    }
    Ok(columns)
}

fn state_of<R: BufRead>(
    record: &Rows<R>,
    fields: usize,
    columns: &[Column],
    pressure: Pressure,
    system: UnitSystem,
) -> Result<State, String> {
    if record.len() != fields {
        return Err(format!("{}, but there are {fields} titles", text::count(record.len(), "field")));
    }
    let mut pressure = pressure;
    let mut properties: [Option<Property>; 2] = [None; 2];
    let mut count = 0;
    let mut wet_bulb = None;
    for column in columns {
        let si = number(record.cell(column.index), column, record.delimiter)?;
        match column.role {
            Role::Pressure => pressure = Pressure::from_si(si),
            Role::Altitude => {
                pressure = standard_pressure(Length::from_si(si)).map_err(|e| e.describe(system))?;
            }
            role => {
                if role == Role::WetBulb {
                    wet_bulb = Some(Temperature::from_si(si));
                }
                if let Some(slot) = properties.get_mut(count) {
                    *slot = role.property(si);
                }
                count += 1;
            }
        }
    }
    let [Some(first), Some(second)] = properties else { return Err("two quantities are needed".to_owned()) };
    MoistAir::from_pair(first, second, pressure)
        .and_then(|air| State::of(air, wet_bulb))
        .map_err(|e| e.describe(system))
}

fn number(cell: &[u8], column: &Column, delimiter: u8) -> Result<f64, String> {
    let name = column.name;
    let text = std::str::from_utf8(cell).unwrap_or("?").trim();
    if text.is_empty() {
        return Err(format!("{name} is empty"));
    }
    // A decimal comma cannot be mistaken where commas do not separate.
    let value: Result<f64, _> = if delimiter != b',' && !text.contains('.') && text.matches(',').count() == 1
    {
        text.replace(',', ".").parse()
    } else {
        text.parse()
    };
    match value {
        Ok(v) if v.is_finite() => Ok(v * column.unit.factor + column.unit.offset - column.datum),
        Ok(_) => Err(format!("{name} must be finite, found `{}`", text::clean(text))),
        Err(_) => {
            let short: String = text.chars().take(40).collect();
            Err(format!("{name} is not a number: `{}`", text::clean(&short)))
        }
    }
}

fn begin(line: &mut String, form: Form, system: UnitSystem) {
    line.clear();
    if form == Form::Json {
        line.push('[');
        return;
    }
    let t = system.symbol(K::Temperature);
    let _ = writeln!(
        line,
        "row,dry_bulb [{t}],wet_bulb [{t}],dew_point [{t}],rh [%],humidity_ratio [{}],enthalpy [{}],volume [{}],pressure [{}]",
        system.symbol(K::HumidityRatio),
        system.symbol(K::SpecificEnthalpy),
        volume_in(system).1,
        system.symbol(K::Pressure)
    );
}

fn write_state(line: &mut String, s: &State, row: u64, form: Form, system: UnitSystem, first: bool) {
    // Writing to a String cannot fail.
    if form == Form::Json {
        let dew = s.dew_point_c.map_or_else(|| "null".to_owned(), |t| t.to_string());
        let _ = write!(
            line,
            "{}\n{{\"row\":{row},\"dry_bulb_c\":{},\"wet_bulb_c\":{},\"dew_point_c\":{dew},\"relative_humidity\":{},\
             \"humidity_ratio\":{},\"enthalpy_j_per_kg\":{},\"volume_m3_per_kg\":{},\"pressure_pa\":{}}}",
            if first { "" } else { "," },
            s.dry_bulb_c,
            s.wet_bulb_c,
            s.relative_humidity,
            s.humidity_ratio,
            s.enthalpy_j_per_kg,
            s.volume_m3_per_kg,
            s.pressure_pa
        );
        return;
    }
    let datum = if system == UnitSystem::Ip { enthalpy_datum("Btu/lb") } else { 0.0 };
    let _ = write!(
        line,
        "{row},{},{},",
        system.value(K::Temperature, s.dry_bulb_c),
        system.value(K::Temperature, s.wet_bulb_c)
    );
    if let Some(t) = s.dew_point_c {
        let _ = write!(line, "{}", system.value(K::Temperature, t));
    }
    let _ = writeln!(
        line,
        ",{},{},{},{},{}",
        system.value(K::Fraction, s.relative_humidity),
        system.value(K::HumidityRatio, s.humidity_ratio),
        system.value(K::SpecificEnthalpy, s.enthalpy_j_per_kg + datum),
        s.volume_m3_per_kg / volume_in(system).0,
        system.value(K::Pressure, s.pressure_pa)
    );
}

/// Rows that were refused, in one pass.
#[derive(Debug, Default)]
struct Refused {
    count: u64,
    named: String,
}

impl Refused {
    fn add(&mut self, row: u64, reason: &str) {
        self.count += 1;
        if self.count <= ROWS_NAMED {
            let _ = write!(self.named, "\n  row {row}: {reason}");
        }
    }

    fn failure(self, path: &Path, rows: u64, out: Option<&Path>) -> Failure {
        let mut message =
            format!("{} of {rows} rows of `{}` are refused{}", self.count, path.display(), self.named);
        if self.count > ROWS_NAMED {
            let _ = write!(
                message,
                "\n  and {} more (the first {ROWS_NAMED} are named)",
                self.count - ROWS_NAMED
            );
        }
        Failure::bad_input(message).hint(match out {
            Some(out) => format!("`{}` was not written", out.display()),
            None => "the other rows were written, each with its row number".to_owned(),
        })
    }
}
