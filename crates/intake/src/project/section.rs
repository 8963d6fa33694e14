//! Reads a TOML table by its declaration.

use super::spec::{
    KeySpec, Need, Problem, Shape, TableSpec, Value, ValueKind, count_in, month_day, number_in, parse_text,
    placeholder,
};
use super::text::Text;
use drycoil_findings::{Finding, Place, did_you_mean, registry::project as pf};
use drycoil_units::{AirFlowBasis, Quantity};
use drycoil_working::{Origin, Sourced};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A default that applied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DefaultUsed {
    /// Dotted key, or `file: column`.
    pub key: String,
    /// The value as it would be written.
    pub text: String,
    /// What the default is.
    pub rule: String,
    /// Where it comes from.
    pub source: String,
}

/// Everything that is noticed while reading.
#[derive(Debug, Default)]
pub(crate) struct Log {
    pub findings: Vec<Finding>,
    pub defaults: Vec<DefaultUsed>,
}

/// Parses a whole file; `None` after syntax errors, which are all in the log.
pub(crate) fn parse<'t>(text: &'t Text, log: &mut Log) -> Option<Spanned<DeTable<'t>>> {
    let (table, errors) = DeTable::parse_recoverable(&text.text);
    if errors.is_empty() {
        return Some(table);
    }
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        let message = error.message().lines().collect::<Vec<_>>().join(", ");
        log.findings.push(Finding::new(pf::SYNTAX, message).at(text.place(span)));
    }
    None
}

/// Entries of a table in the order of the file.
pub(crate) fn in_order<'a, 't>(
    table: &'a DeTable<'t>,
) -> Vec<(&'a str, Range<usize>, &'a Spanned<DeValue<'t>>)> {
    let mut all: Vec<_> = table.iter().map(|(k, v)| (k.get_ref().as_ref(), k.span(), v)).collect();
    all.sort_by_key(|(_, span, _)| span.start);
    all
}

/// One table being read.
pub(crate) struct Section<'a, 't> {
    pub log: &'a mut Log,
    pub text: &'a Text,
    table: Option<&'a DeTable<'t>>,
    /// Where to point when a key is missing.
    anchor: Range<usize>,
    pub path: String,
    keys: &'static [KeySpec],
    note_defaults: bool,
}

impl<'a, 't> Section<'a, 't> {
    /// A table of this declaration, which may be absent. `tables` are the declared names of tables inside it.
    pub fn new(
        log: &'a mut Log,
        text: &'a Text,
        table: Option<(&'a DeTable<'t>, Range<usize>)>,
        path: &str,
        keys: &'static [KeySpec],
        tables: &[&str],
    ) -> Self {
        let (table, anchor) = match table {
            Some((t, span)) => (Some(t), span),
            None => (None, 0..0),
        };
        let section = Self { log, text, table, anchor, path: path.to_owned(), keys, note_defaults: true };
        section.refuse_unknown(tables)
    }

    /// Does not list the defaults of this table (for the rows of a list).
    pub fn quiet(mut self) -> Self {
        self.note_defaults = false;
        self
    }

    fn refuse_unknown(self, tables: &[&str]) -> Self {
        let Some(table) = self.table else { return self };
        for (key, span, value) in in_order(table) {
            if self.keys.iter().any(|k| k.name == key) || tables.contains(&key) {
                continue;
            }
            let names = self.keys.iter().map(|k| k.name).chain(tables.iter().copied());
            let what = if value.get_ref().is_table() { "table" } else { "key" };
            let place =
                if self.path.is_empty() { "project file".to_owned() } else { format!("`[{}]`", self.path) };
            let mut finding = Finding::new(pf::UNKNOWN_KEY, format!("`{key}` is not a {what} of {place}"))
                .at(self.text.place(span).key(self.dotted(key)));
            if let Some(near) = did_you_mean(key, names) {
                finding = finding.hint(format!("did you mean `{near}`?"));
            } else if let Some(home) = super::keys::home_of(key, &self.path) {
                finding = finding.hint(format!("`{key}` belongs to `[{home}]`"));
            }
            self.log.findings.push(finding);
        }
        self
    }

    pub fn dotted(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    fn spec(&self, key: &str) -> &'static KeySpec {
        self.keys.iter().find(|k| k.name == key).expect("a declared key")
    }

    pub fn raw(&self, key: &str) -> Option<&'a Spanned<DeValue<'t>>> {
        self.table.and_then(|t| t.get(key))
    }

    /// The place of a key's value, or of the table when the key is not there.
    pub fn place(&self, key: &str) -> Place {
        let span = self.raw(key).map_or_else(|| self.anchor.clone(), Spanned::span);
        self.text.place(span).key(self.dotted(key))
    }

    /// The place of the table itself.
    pub fn own_place(&self) -> Place {
        self.text.place(self.anchor.clone()).key(self.path.clone())
    }

    pub fn refuse(&mut self, key: &str, problem: Problem) {
        let finding = problem.finding().at(self.place(key));
        self.log.findings.push(finding);
    }

    /// The written value; `None` when nothing usable is written.
    pub fn written(&mut self, key: &str) -> Option<(Value, Origin)> {
        let spec = self.spec(key);
        let value = self.raw(key)?;
        match lower(spec.kind, value.get_ref()) {
            Ok(v) => Some((v, Origin::File(self.place(key)))),
            Err(problem) => {
                self.refuse(key, problem);
                None
            }
        }
    }

    /// The value: written, else default, else a placeholder with a finding.
    fn value(&mut self, key: &str) -> (Value, Origin) {
        let spec = self.spec(key);
        if let Some(found) = self.written(key) {
            return found;
        }
        match spec.need {
            Need::Default { text, rule, source } => {
                if self.raw(key).is_none() && self.note_defaults {
                    let key = self.dotted(key);
                    self.log.defaults.push(DefaultUsed {
                        key,
                        text: text.into(),
                        rule: rule.into(),
                        source: source.into(),
                    });
                }
                (parse_text(spec.kind, text).expect("declared default"), Origin::Default { rule, source })
            }
            Need::Required | Need::Optional(_) => {
                if self.raw(key).is_none() {
                    let place =
                        if self.path.is_empty() { String::new() } else { format!(" in `[{}]`", self.path) };
                    let mut problem = Problem::new(pf::MISSING_KEY, format!("`{key}` is missing{place}"));
                    problem.hint = Some(format!("{key}: {}; write {}", spec.doc, example(spec.kind)));
                    self.refuse(key, problem);
                }
                (placeholder(spec.kind), Origin::Default { rule: "placeholder", source: "refused input" })
            }
        }
    }

    pub fn quantity<Q: Quantity>(&mut self, key: &str) -> Sourced<Q> {
        let (v, origin) = self.value(key);
        Sourced::new(Q::from_si(si(&v)), origin)
    }

    pub fn quantity_if<Q: Quantity>(&mut self, key: &str) -> Option<Sourced<Q>> {
        self.written(key).map(|(v, origin)| Sourced::new(Q::from_si(si(&v)), origin))
    }

    /// SI value of a kind that has no type of its own, or a plain number.
    pub fn number(&mut self, key: &str) -> Sourced<f64> {
        let (v, origin) = self.value(key);
        Sourced::new(si(&v), origin)
    }

    pub fn number_if(&mut self, key: &str) -> Option<Sourced<f64>> {
        self.written(key).map(|(v, origin)| Sourced::new(si(&v), origin))
    }

    pub fn flow(&mut self, key: &str) -> Sourced<(f64, Option<AirFlowBasis>)> {
        let (v, origin) = self.value(key);
        match v {
            Value::Flow(x, basis) => Sourced::new((x, basis), origin),
            _ => unreachable!("declared as an air flow"),
        }
    }

    pub fn count(&mut self, key: &str) -> Sourced<u32> {
        let (v, origin) = self.value(key);
        match v {
            Value::Count(n) => Sourced::new(n, origin),
            _ => unreachable!("declared as a count"),
        }
    }

    pub fn text(&mut self, key: &str) -> Sourced<String> {
        let (v, origin) = self.value(key);
        match v {
            Value::Text(t) => Sourced::new(t, origin),
            _ => unreachable!("declared as text"),
        }
    }

    pub fn text_if(&mut self, key: &str) -> Option<Sourced<String>> {
        self.written(key).map(|(v, origin)| match v {
            Value::Text(t) => Sourced::new(t, origin),
            _ => unreachable!("declared as text"),
        })
    }

    pub fn flag(&mut self, key: &str) -> Sourced<bool> {
        let (v, origin) = self.value(key);
        match v {
            Value::Flag(b) => Sourced::new(b, origin),
            _ => unreachable!("declared as a flag"),
        }
    }

    pub fn flag_if(&mut self, key: &str) -> Option<bool> {
        match self.written(key) {
            Some((Value::Flag(b), _)) => Some(b),
            _ => None,
        }
    }

    /// One of the declared words, in their order.
    pub fn choice<T: Copy>(&mut self, key: &str, of: &[T]) -> Sourced<T> {
        let (v, origin) = self.value(key);
        match v {
            Value::Word(i) => Sourced::new(of[i], origin),
            _ => unreachable!("declared as a word"),
        }
    }

    pub fn choice_if<T: Copy>(&mut self, key: &str, of: &[T]) -> Option<T> {
        match self.written(key) {
            Some((Value::Word(i), _)) => Some(of[i]),
            _ => None,
        }
    }

    pub fn sourced_choice_if<T: Copy>(&mut self, key: &str, of: &[T]) -> Option<Sourced<T>> {
        match self.written(key) {
            Some((Value::Word(i), origin)) => Some(Sourced::new(of[i], origin)),
            _ => None,
        }
    }

    pub fn days(&mut self, key: &str) -> Sourced<Vec<(u8, u8)>> {
        let (v, origin) = self.value(key);
        match v {
            Value::Days(d) => Sourced::new(d, origin),
            _ => unreachable!("declared as days"),
        }
    }

    pub fn monthly_if(&mut self, key: &str) -> Option<Sourced<[f64; 12]>> {
        self.written(key).map(|(v, origin)| match v {
            Value::Monthly(m) => Sourced::new(m, origin),
            _ => unreachable!("declared as monthly numbers"),
        })
    }

    pub fn hourly(&mut self, key: &str) -> Sourced<[f64; 24]> {
        let (v, origin) = self.value(key);
        match v {
            Value::Hourly(h) => Sourced::new(h, origin),
            _ => unreachable!("declared as hourly numbers"),
        }
    }

    /// Reads each table of a list.
    pub fn rows<R>(
        &mut self,
        key: &str,
        keys: &'static [KeySpec],
        mut read: impl FnMut(&mut Section<'_, 't>) -> R,
    ) -> Vec<R> {
        let path = self.dotted(key);
        let Some(value) = self.raw(key) else {
            if self.spec(key).need == Need::Required {
                let _ = self.value(key);
            }
            return Vec::new();
        };
        let DeValue::Array(items) = value.get_ref() else {
            self.refuse(key, wrong_type("a list of tables", value.get_ref()));
            return Vec::new();
        };
        let mut all = Vec::new();
        for (i, item) in items.iter().enumerate() {
            let path = format!("{path}[{}]", i + 1);
            if let DeValue::Table(table) = item.get_ref() {
                let mut section =
                    Section::new(self.log, self.text, Some((table, item.span())), &path, keys, &[]).quiet();
                all.push(read(&mut section));
            } else {
                let finding = wrong_type("a table", item.get_ref())
                    .finding()
                    .at(self.text.place(item.span()).key(path));
                self.log.findings.push(finding);
            }
        }
        all
    }
}

fn si(value: &Value) -> f64 {
    match value {
        Value::Si(x) | Value::Number(x) | Value::Flow(x, _) => *x,
        _ => unreachable!("declared as a number"),
    }
}

/// How a value of this kind is written.
pub(crate) fn example(kind: ValueKind) -> String {
    match kind {
        ValueKind::Quantity(_, limits) | ValueKind::AirFlow(limits) => {
            format!("a text between \"{}\" and \"{}\"", limits.low, limits.high)
        }
        ValueKind::Number(low, high) => {
            format!("a number between {} and {}", super::spec::plain(low), super::spec::plain(high))
        }
        ValueKind::Count(low, high) => format!("a whole number between {low} and {high}"),
        ValueKind::Word(words) => format!("one of \"{}\"", words.join("\", \"")),
        ValueKind::Text | ValueKind::Name => "a text in double quotes".into(),
        ValueKind::Flag => "true or false".into(),
        ValueKind::Date => "a date such as \"2026-03-31\"".into(),
        ValueKind::Days => "a list such as [\"01-01\", \"07-04\"]".into(),
        ValueKind::Monthly(..) => "a list of twelve numbers, January first".into(),
        ValueKind::Hourly(..) => "a list of twenty-four numbers, from midnight".into(),
        ValueKind::Facing => "a compass word or an angle".into(),
        ValueKind::Rows(_) => "a list of tables".into(),
    }
}

fn wrong_type(expected: &str, found: &DeValue<'_>) -> Problem {
    Problem::new(pf::WRONG_TYPE, format!("expected {expected}, found {}", article(found)))
}

fn article(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn native_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(n) if n.radix() == 10 => n.as_str().parse().ok(),
        DeValue::Float(x) => x.as_str().parse().ok(),
        _ => None,
    }
}

/// A TOML value as a value of this kind.
pub(crate) fn lower(kind: ValueKind, value: &DeValue<'_>) -> Result<Value, Problem> {
    match (kind, value) {
        (ValueKind::Number(low, high), v) => match native_number(v) {
            Some(n) if n.is_finite() => number_in(n, low, high, &super::spec::plain(n)).map(Value::Number),
            Some(_) => Err(Problem::new(pf::NOT_A_NUMBER, "the number must be finite")),
            None => Err(wrong_type("a plain number", v)),
        },
        (ValueKind::Count(low, high), DeValue::Integer(n)) => {
            match i64::from_str_radix(n.as_str(), n.radix()) {
                Ok(n) => count_in(n, low, high).map(Value::Count),
                Err(_) => Err(Problem::new(pf::OUT_OF_RANGE, "the count is outside what is allowed")
                    .value(n.as_str())
                    .allowed(format!("{low} to {high}"))),
            }
        }
        (ValueKind::Count(..), v) => Err(wrong_type("a whole number", v)),
        (ValueKind::Flag, DeValue::Boolean(b)) => Ok(Value::Flag(*b)),
        (ValueKind::Flag, v) => Err(wrong_type("true or false", v)),
        (ValueKind::Days, DeValue::Array(items)) => {
            let mut days = Vec::new();
            for item in items {
                match item.get_ref() {
                    DeValue::String(s) => days.push(month_day(s)?),
                    other => return Err(wrong_type("a list of texts such as \"07-04\"", other)),
                }
            }
            Ok(Value::Days(days))
        }
        (ValueKind::Days, v) => Err(wrong_type("a list", v)),
        (ValueKind::Monthly(low, high), DeValue::Array(items)) => {
            numbers(low, high, items, "twelve numbers, January first").map(Value::Monthly)
        }
        (ValueKind::Hourly(low, high), DeValue::Array(items)) => {
            numbers(low, high, items, "twenty-four numbers, from midnight").map(Value::Hourly)
        }
        (ValueKind::Hourly(..), v) => Err(wrong_type("a list of twenty-four numbers", v)),
        (ValueKind::Monthly(..), v) => Err(wrong_type("a list of twelve numbers", v)),
        (ValueKind::Date, DeValue::Datetime(d)) => parse_text(kind, &d.to_string()),
        (_, DeValue::String(s)) => parse_text(kind, s),
        (ValueKind::Quantity(q, _), v) if native_number(v).is_some() => Err(bare(q, v)),
        (ValueKind::AirFlow(_), v) if native_number(v).is_some() => {
            Err(bare(drycoil_units::QuantityKind::StandardAirFlow, v))
        }
        (ValueKind::Quantity(..) | ValueKind::AirFlow(_), v) => {
            Err(wrong_type("a text with number and unit", v))
        }
        (_, v) => Err(wrong_type("a text", v)),
    }
}

fn bare(q: drycoil_units::QuantityKind, value: &DeValue<'_>) -> Problem {
    let text = match value {
        DeValue::Integer(n) => n.as_str().to_owned(),
        DeValue::Float(x) => x.as_str().to_owned(),
        _ => String::new(),
    };
    let shown =
        q.units().iter().find(|u| u.symbol == q.ip_symbol()).map_or(q.units()[0].symbol, |u| u.symbol);
    Problem::new(pf::NO_UNIT, format!("`{text}` has no unit; a {} needs one", q.label()))
        .value(text.clone())
        .allowed(q.accepted())
        .hint(format!("write number and unit as one text, as in \"{text} {shown}\""))
}

fn numbers<const N: usize>(
    low: f64,
    high: f64,
    items: &toml::de::DeArray<'_>,
    expected: &str,
) -> Result<[f64; N], Problem> {
    if items.len() != N {
        return Err(Problem::new(pf::BAD_LIST, format!("expected {expected}"))
            .value(format!("{} entries", items.len())));
    }
    let mut all = [0.0; N];
    for (slot, item) in all.iter_mut().zip(items.iter()) {
        *slot = match native_number(item.get_ref()) {
            Some(n) if n.is_finite() => number_in(n, low, high, &super::spec::plain(n))?,
            _ => {
                return Err(Problem::new(
                    pf::BAD_LIST,
                    format!("expected {expected}, found {}", article(item.get_ref())),
                ));
            }
        };
    }
    Ok(all)
}

/// The table of a name inside the document, with a finding when it is no table.
pub(crate) fn child<'a, 't>(
    log: &mut Log,
    text: &Text,
    parent: Option<&'a DeTable<'t>>,
    path: &str,
) -> Option<(&'a DeTable<'t>, Range<usize>)> {
    let name = path.rsplit('.').next().expect("a name");
    let value = parent?.get(name)?;
    if let DeValue::Table(table) = value.get_ref() {
        return Some((table, value.span()));
    }
    let finding = wrong_type("a table", value.get_ref()).finding().at(text.place(value.span()).key(path));
    log.findings.push(finding);
    None
}

/// The named tables inside `[path]`, in the order of the file.
pub(crate) fn named<'a, 't>(
    log: &mut Log,
    text: &Text,
    root: Option<&'a DeTable<'t>>,
    spec: &TableSpec,
) -> Vec<(&'a str, &'a DeTable<'t>, Range<usize>)> {
    debug_assert_eq!(spec.shape, Shape::Named);
    let base = spec.path.strip_suffix(".NAME").expect("a named table");
    let Some((parent, _)) = child(log, text, root, base) else { return Vec::new() };
    let mut all = Vec::new();
    for (name, span, value) in in_order(parent) {
        match value.get_ref() {
            DeValue::Table(table) => all.push((name, table, span)),
            other => {
                let finding = wrong_type("a table", other)
                    .finding()
                    .at(text.place(value.span()).key(format!("{base}.{name}")));
                log.findings.push(finding);
            }
        }
    }
    all
}
