//! Tables: titles with units, a name at the head of each row.

use maud::{Markup, html};

/// Title of a column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Head {
    pub title: String,
    pub unit: String,
    pub numeric: bool,
    /// Whether its cells stay on one line.
    pub held: bool,
}

/// A column of words.
pub(crate) fn words(title: impl Into<String>) -> Head {
    Head { title: title.into(), unit: String::new(), numeric: false, held: false }
}

/// A column of short words that stay on one line: ids, dates.
pub(crate) fn marks(title: impl Into<String>) -> Head {
    Head { held: true, ..words(title) }
}

/// A column of numbers.
pub(crate) fn numbers(title: impl Into<String>, unit: impl Into<String>) -> Head {
    Head { title: title.into(), unit: unit.into(), numeric: true, held: false }
}

/// What a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum RowKind {
    #[default]
    Plain,
    /// A sum of those above.
    Sum,
    /// The one that decides.
    Marked,
}

/// A row.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tr {
    pub kind: RowKind,
    pub cells: Vec<Markup>,
}

/// A plain row of texts.
pub(crate) fn row<T: AsRef<str>>(cells: impl IntoIterator<Item = T>) -> Tr {
    Tr { kind: RowKind::Plain, cells: cells.into_iter().map(|c| html! { (c.as_ref()) }).collect() }
}

impl Tr {
    pub fn kind(mut self, kind: RowKind) -> Self {
        self.kind = kind;
        self
    }
}

/// Class of the cells of a column.
fn class(head: &Head) -> Option<&'static str> {
    if head.numeric { Some("n") } else { head.held.then_some("k") }
}

/// The title row.
pub(crate) fn head(heads: &[Head]) -> Markup {
    html! {
        thead {
            tr {
                @for h in heads {
                    th scope="col" class=[h.numeric.then_some("n")] {
                        (h.title)
                        @if !h.unit.is_empty() { span { (h.unit) } }
                    }
                }
            }
        }
    }
}

/// A table; nothing when it has no rows.
pub(crate) fn table(caption: &str, heads: &[Head], rows: &[Tr]) -> Markup {
    if rows.is_empty() {
        return html! {};
    }
    // A short table stays on one page.
    let short = rows.len() <= 14;
    html! {
        table.short[short] {
            caption { (caption) }
            (head(heads))
            tbody {
                @for r in rows {
                    tr class=[match r.kind {
                        RowKind::Plain => None,
                        RowKind::Sum => Some("sum"),
                        RowKind::Marked => Some("mark"),
                    }] {
                        @for (i, cell) in r.cells.iter().enumerate() {
                            @let class = heads.get(i).and_then(class);
                            @if i == 0 { th scope="row" class=[class] { (cell) } }
                            @else { td class=[class] { (cell) } }
                        }
                    }
                }
            }
        }
    }
}
