//! Changes of delimited tables. Fields, rows and comments that are not named keep their bytes.

use super::{Change, Changed, Refused, conflict, impossible, line_end};
use drycoil_intake::project::{RowText, TableText, table_text};
use serde_json::Value;
use std::ops::Range;

/// Longest text of a cell that is written.
const MAX_CELL: usize = 4096;

struct Written<'a> {
    file: &'a str,
    text: &'a str,
    table: TableText,
    delimiter: char,
}

impl<'a> Written<'a> {
    fn read(file: &'a str, text: &'a str) -> Result<Self, Refused> {
        let table =
            table_text(file, text).map_err(|e| impossible(format!("{file} cannot be changed: {e}")))?;
        let titles = &table.titles.cells;
        // What stands between two fields; a table of one column uses the comma.
        let delimiter = match titles.as_slice() {
            [first, _, ..] => text[first.span.1..].chars().next().unwrap_or(','),
            _ => ',',
        };
        Ok(Self { file, text, table, delimiter })
    }

    /// Bytes of a field without the line end that a last field may hold.
    fn field(&self, row: &RowText, column: usize) -> Option<Range<usize>> {
        let (start, end) = row.cells.get(column)?.span;
        Some(start..start + self.text[start..end].trim_end_matches('\r').len())
    }

    /// Bytes of the line of a row, with its line end.
    fn line(&self, row: &RowText) -> Range<usize> {
        let start = row.cells.first().map_or(0, |c| c.span.0);
        let end = row.cells.last().map_or(start, |c| c.span.1);
        let end = self.text[end..].find('\n').map_or(self.text.len(), |i| end + i + 1);
        start..end
    }

    fn quoted(&self, text: &str) -> Result<String, Refused> {
        if text.len() > MAX_CELL {
            return Err(impossible(format!("the text of a cell has at most {MAX_CELL} characters")));
        }
        if text.contains(['\n', '\r', '\0']) {
            return Err(impossible("the text of a cell has no line end"));
        }
        let must = text.contains(self.delimiter) || text.contains('"');
        Ok(if must { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() })
    }

    /// A line of cells that is a row, not a comment or an empty line.
    fn joined(&self, cells: &[String]) -> Result<String, Refused> {
        let titles = self.table.titles.cells.len();
        if cells.len() > titles {
            return Err(impossible(format!("the table has {titles} columns, the row {}", cells.len())));
        }
        if cells.iter().all(|c| c.trim().is_empty()) {
            return Err(impossible("an empty row is no row"));
        }
        let mut fields = cells.iter().map(|c| self.quoted(c.trim())).collect::<Result<Vec<_>, _>>()?;
        fields.resize(titles, String::new());
        if fields[0].starts_with('#') {
            fields[0] = format!("\"{}\"", fields[0]);
        }
        Ok(fields.join(&self.delimiter.to_string()))
    }

    /// The row that a change means: the one at its place when it has the key, else the only one with it.
    fn find(&self, row: usize, key: &str) -> Option<usize> {
        let first = |r: &RowText| r.cells.first().map_or("", |c| c.text.as_str()) == key;
        if self.table.rows.get(row).is_some_and(first) {
            return Some(row);
        }
        let mut all = (0..self.table.rows.len()).filter(|i| first(&self.table.rows[*i]));
        match (all.next(), all.next()) {
            (Some(only), None) => Some(only),
            _ => None,
        }
    }

    fn title(&self, column: usize) -> String {
        self.table
            .titles
            .cells
            .get(column)
            .map_or_else(|| format!("column {}", column + 1), |c| c.text.clone())
    }
}

fn spliced(text: &str, at: Range<usize>, new: &str) -> String {
    let mut out = String::with_capacity(text.len() + new.len());
    out.push_str(&text[..at.start]);
    out.push_str(new);
    out.push_str(&text[at.end..]);
    out
}

/// Makes one change of a table.
///
/// # Errors
/// The change expected something else, or cannot be made.
pub fn apply(file: &str, text: &str, change: &Change) -> Result<Changed, Refused> {
    let w = Written::read(file, text)?;
    let changed = match change {
        Change::Cell { row, key, column, was, now, raw } => {
            cell(&w, *row, key, *column, [was, now], raw.as_deref())
        }
        Change::Insert { row, cells, raw } => insert(&w, *row, cells, raw.as_ref()),
        Change::Remove { row, was } => remove(&w, *row, was),
        Change::AddColumn { title } => add_column(&w, title),
        Change::DropColumn { title } => drop_column(&w, title),
        Change::Key { .. } | Change::Text { .. } => Err(impossible(format!("{file} is a table"))),
    }?;
    // Whatever was written, the table must still be one, with as many titles.
    table_text(file, &changed.text)
        .map_err(|e| impossible(format!("the table could not be read afterwards: {e}")))?;
    Ok(changed)
}

/// Changes of cells that were made together.
pub struct ManyChanged {
    /// The text.
    pub text: String,
    /// The ways back, in the order of the changes.
    pub back: Vec<Change>,
}

/// Makes many changes of cells at once: the table is divided once. `None` when they must be made one after the other,
/// because they rename rows, make them longer or meet in one cell.
///
/// # Errors
/// With the position of the change that expected something else or cannot be made.
pub fn apply_cells(
    file: &str,
    text: &str,
    changes: &[&Change],
) -> Result<Option<ManyChanged>, (usize, Refused)> {
    let w = Written::read(file, text).map_err(|e| (0, e))?;
    let mut pieces: Vec<(Range<usize>, String)> = Vec::with_capacity(changes.len());
    let mut back = Vec::with_capacity(changes.len());
    for (i, change) in changes.iter().enumerate() {
        let Change::Cell { row, key, column, was, now, raw } = change else { return Ok(None) };
        if *column == 0 {
            return Ok(None);
        }
        let (at, field, way_back) =
            cell_piece(&w, *row, key, *column, [was, now], raw.as_deref()).map_err(|e| (i, e))?;
        if at.is_empty() && field.starts_with(w.delimiter) {
            return Ok(None);
        }
        pieces.push((at, field));
        back.push(way_back);
    }
    let mut order: Vec<usize> = (0..pieces.len()).collect();
    order.sort_by_key(|i| (pieces[*i].0.start, pieces[*i].0.end));
    if order.windows(2).any(|p| pieces[p[0]].0.end > pieces[p[1]].0.start || pieces[p[0]].0 == pieces[p[1]].0)
    {
        return Ok(None);
    }
    let mut out = String::with_capacity(text.len() + 64);
    let mut from = 0;
    for i in order {
        let (at, field) = &pieces[i];
        out.push_str(&text[from..at.start]);
        out.push_str(field);
        from = at.end;
    }
    out.push_str(&text[from..]);
    table_text(file, &out)
        .map_err(|e| (0, impossible(format!("the table could not be read afterwards: {e}"))))?;
    Ok(Some(ManyChanged { text: out, back }))
}

fn cell(
    w: &Written<'_>,
    row: usize,
    key: &str,
    column: usize,
    texts: [&String; 2],
    raw: Option<&str>,
) -> Result<Changed, Refused> {
    let (at, field, back) = cell_piece(w, row, key, column, texts, raw)?;
    Ok(Changed { text: spliced(w.text, at, &field), back })
}

fn cell_piece(
    w: &Written<'_>,
    row: usize,
    key: &str,
    column: usize,
    [was, now]: [&String; 2],
    raw: Option<&str>,
) -> Result<(Range<usize>, String, Change), Refused> {
    let title = w.title(column);
    let text_value = |t: &str| Some(Value::from(t));
    let Some(index) = w.find(row, key) else {
        let what = format!("{}, row `{key}`, `{title}`: the row is gone", w.file);
        return Err(conflict(what, text_value(was), None, text_value(now)));
    };
    if column >= w.table.titles.cells.len() {
        return Err(impossible(format!("{} has no column {}", w.file, column + 1)));
    }
    let line = &w.table.rows[index];
    let there = line.cells.get(column).map_or("", |c| c.text.as_str());
    if there != was {
        let what = format!("{}, row `{key}`, `{title}`", w.file);
        return Err(conflict(what, text_value(was), text_value(there), text_value(now)));
    }
    let mut field = match raw {
        Some(raw) => raw.to_owned(),
        None => w.quoted(now.trim())?,
    };
    if column == 0 && field.starts_with('#') {
        field = format!("\"{field}\"");
    }
    let others_empty = line.cells.iter().enumerate().all(|(i, c)| i == column || c.text.is_empty());
    if now.trim().is_empty() && others_empty {
        return Err(impossible("the last text of a row cannot be taken away; remove the row"));
    }
    let (at, before) = if let Some(at) = w.field(line, column) {
        (at.clone(), w.text[at].to_owned())
    } else {
        // The row is shorter than the titles.
        let end = w.field(line, line.cells.len() - 1).map_or(0, |r| r.end);
        let gap = column - line.cells.len() + 1;
        field = format!("{}{field}", w.delimiter.to_string().repeat(gap));
        (end..end, String::new())
    };
    let new_key = if column == 0 { now.trim().to_owned() } else { key.to_owned() };
    let back = Change::Cell {
        row: index,
        key: new_key,
        column,
        was: now.trim().to_owned(),
        now: was.clone(),
        raw: Some(before),
    };
    Ok((at, field, back))
}

fn insert(
    w: &Written<'_>,
    row: usize,
    cells: &[String],
    raw: Option<&(String, usize)>,
) -> Result<Changed, Refused> {
    let end = line_end(w.text);
    let line = match raw {
        Some((raw, _)) => raw.clone(),
        None => format!("{}{end}", w.joined(cells)?),
    };
    let row = row.min(w.table.rows.len());
    let before = w.line(if row == 0 { &w.table.titles } else { &w.table.rows[row - 1] }).end;
    let next = w.table.rows.get(row).map_or(w.text.len(), |next| w.line(next).start);
    let at = match raw {
        // Where it stood among the comments.
        Some((_, gap)) => {
            Some(before + gap).filter(|at| *at <= next && w.text.is_char_boundary(*at)).unwrap_or(before)
        }
        None if row < w.table.rows.len() => next,
        None => before,
    };
    let open = at > 0 && !w.text[..at].ends_with('\n');
    let text = spliced(w.text, at..at, &if open { format!("{end}{line}") } else { line });
    let mut was: Vec<String> = cells.iter().map(|c| c.trim().to_owned()).collect();
    was.resize(was.len().max(w.table.titles.cells.len()), String::new());
    Ok(Changed { text, back: Change::Remove { row, was } })
}

fn texts(row: &RowText) -> Vec<String> {
    row.cells.iter().map(|c| c.text.clone()).collect()
}

/// Equal but for empty cells at the end.
fn alike(a: &[String], b: &[String]) -> bool {
    let bare = |list: &[String]| list.iter().rposition(|t| !t.is_empty()).map_or(0, |i| i + 1);
    a[..bare(a)] == b[..bare(b)]
}

fn remove(w: &Written<'_>, row: usize, was: &[String]) -> Result<Changed, Refused> {
    let at_place = w.table.rows.get(row).is_some_and(|r| alike(&texts(r), was));
    let index = if at_place {
        Some(row)
    } else {
        let mut all = (0..w.table.rows.len()).filter(|i| alike(&texts(&w.table.rows[*i]), was));
        match (all.next(), all.next()) {
            (Some(only), None) => Some(only),
            _ => None,
        }
    };
    let Some(index) = index else {
        let name = was.first().map_or("", String::as_str);
        let theirs = w.find(row, name).map(|i| Value::from(texts(&w.table.rows[i])));
        let what = format!("{}, row `{name}`", w.file);
        return Err(conflict(what, Some(Value::from(was.to_vec())), theirs, None));
    };
    let line = &w.table.rows[index];
    let at = w.line(line);
    let before = w.line(if index == 0 { &w.table.titles } else { &w.table.rows[index - 1] }).end;
    let raw = (w.text[at.clone()].to_owned(), at.start - before);
    Ok(Changed {
        text: spliced(w.text, at, ""),
        back: Change::Insert { row: index, cells: texts(line), raw: Some(raw) },
    })
}

fn add_column(w: &Written<'_>, title: &str) -> Result<Changed, Refused> {
    let title = title.trim();
    if title.is_empty() {
        return Err(impossible("a column has a title"));
    }
    if w.table.titles.cells.iter().any(|c| c.text == title) {
        return Err(impossible(format!("{} has a column `{title}`", w.file)));
    }
    let last = w.table.titles.cells.len() - 1;
    let end = w.field(&w.table.titles, last).map_or(0, |r| r.end);
    // Rows that are shorter than the titles are complete: empty fields at the end may be left out.
    let text = spliced(w.text, end..end, &format!("{}{}", w.delimiter, w.quoted(title)?));
    Ok(Changed { text, back: Change::DropColumn { title: title.to_owned() } })
}

fn drop_column(w: &Written<'_>, title: &str) -> Result<Changed, Refused> {
    let last = w.table.titles.cells.len() - 1;
    let there = w.table.titles.cells[last].text.as_str();
    let used = w.table.rows.iter().any(|r| r.cells.get(last).is_some_and(|c| !c.text.is_empty()));
    if last == 0 || there != title || used {
        let what = format!("{}, column `{title}`: it is not the last one, or is used", w.file);
        return Err(conflict(what, Some(Value::from(title)), Some(Value::from(there)), None));
    }
    let mut text = w.text.to_owned();
    // From the end, so that earlier places stay.
    for row in w.table.rows.iter().rev().chain([&w.table.titles]) {
        if let Some(at) = w.field(row, last) {
            text.replace_range(at.start - w.delimiter.len_utf8()..at.end, "");
        }
    }
    Ok(Changed { text, back: Change::AddColumn { title: title.to_owned() } })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = "# surveyed\r\nid,name,people\r\n101,\"A, B\",4\r\n# above\r\n102,C\r\n\r\n103,D,7";

    fn set(row: usize, key: &str, column: usize, was: &str, now: &str) -> Change {
        Change::Cell { row, key: key.into(), column, was: was.into(), now: now.into(), raw: None }
    }

    #[track_caller]
    fn there_and_back(text: &str, change: &Change, expected: &str) {
        let changed = apply("rooms.csv", text, change).unwrap();
        assert_eq!(changed.text, expected);
        let back = apply("rooms.csv", expected, &changed.back).unwrap();
        assert_eq!(back.text, text);
        // Forward again, as a redo does.
        assert_eq!(apply("rooms.csv", text, &back.back).unwrap().text, expected);
    }

    #[test]
    fn inv_one_cell_changes_and_every_other_byte_stays() {
        there_and_back(TABLE, &set(0, "101", 2, "4", "6"), &TABLE.replace(",4\r", ",6\r"));
        there_and_back(TABLE, &set(0, "101", 1, "A, B", "AB"), &TABLE.replace("\"A, B\"", "AB"));
        there_and_back(
            TABLE,
            &set(2, "103", 1, "D", "say \"D\""),
            &TABLE.replace(",D,", ",\"say \"\"D\"\"\","),
        );
        there_and_back(TABLE, &set(2, "103", 2, "7", ""), &TABLE.replace(",D,7", ",D,"));
        there_and_back(TABLE, &set(2, "103", 0, "103", "#3"), &TABLE.replace("103", "\"#3\""));
    }

    #[test]
    fn a_short_row_grows() {
        let changed = apply("rooms.csv", TABLE, &set(1, "102", 2, "", "3")).unwrap();
        assert_eq!(changed.text, TABLE.replace("102,C", "102,C,3"));
        // Taken back, the row may keep its empty field.
        let back = apply("rooms.csv", &changed.text, &changed.back).unwrap();
        assert_eq!(back.text, TABLE.replace("102,C", "102,C,"));
    }

    #[test]
    fn inv_rows_come_and_go() {
        let cells = |list: &[&str]| list.iter().map(|t| (*t).to_owned()).collect::<Vec<_>>();
        let insert = |row, list: &[&str]| Change::Insert { row, cells: cells(list), raw: None };
        there_and_back(TABLE, &insert(1, &["101a", "x"]), &TABLE.replace("102,C", "101a,x,\r\n102,C"));
        let behind = apply("rooms.csv", TABLE, &insert(99, &["104", "E; F", "1"])).unwrap();
        assert_eq!(behind.text, format!("{TABLE}\r\n104,E; F,1\r\n"));
        there_and_back(
            TABLE,
            &Change::Remove { row: 0, was: cells(&["101", "A, B", "4"]) },
            &TABLE.replace("101,\"A, B\",4\r\n", ""),
        );
        assert!(apply("rooms.csv", TABLE, &insert(1, &["", " "])).is_err());
        assert!(apply("rooms.csv", TABLE, &insert(1, &["a", "b", "c", "d"])).is_err());
    }

    #[test]
    fn inv_a_column_comes_and_goes() {
        let add = Change::AddColumn { title: "height [ft]".into() };
        there_and_back(TABLE, &add, &TABLE.replace("name,people", "name,people,height [ft]"));
        assert!(apply("rooms.csv", TABLE, &Change::AddColumn { title: "name".into() }).is_err());
        assert!(apply("rooms.csv", TABLE, &Change::DropColumn { title: "people".into() }).is_err());
    }

    #[test]
    fn a_row_is_found_by_its_key_when_others_were_added() {
        let moved = TABLE.replace("101,", "100,Z,1\r\n101,");
        let changed = apply("rooms.csv", &moved, &set(0, "101", 2, "4", "6")).unwrap();
        assert_eq!(changed.text, moved.replace(",4\r", ",6\r"));
    }

    #[test]
    fn what_somebody_else_changed_is_a_conflict() {
        let Err(Refused::Conflict(c)) = apply("rooms.csv", TABLE, &set(0, "101", 2, "5", "6")) else {
            panic!()
        };
        assert_eq!((c.was, c.theirs, c.mine), (Some("5".into()), Some("4".into()), Some("6".into())));
        let Err(Refused::Conflict(c)) = apply("rooms.csv", TABLE, &set(0, "999", 2, "4", "6")) else {
            panic!()
        };
        assert_eq!(c.theirs, None);
        let gone = Change::Remove { row: 0, was: vec!["101".into(), "A, B".into(), "5".into()] };
        assert!(matches!(apply("rooms.csv", TABLE, &gone), Err(Refused::Conflict(_))));
    }

    #[test]
    fn a_cell_cannot_break_the_table() {
        assert!(matches!(
            apply("rooms.csv", TABLE, &set(0, "101", 2, "4", "6\n7")),
            Err(Refused::Impossible(_))
        ));
        assert!(matches!(apply("rooms.csv", TABLE, &set(0, "101", 9, "", "6")), Err(Refused::Impossible(_))));
        let long = "x".repeat(MAX_CELL + 1);
        assert!(matches!(
            apply("rooms.csv", TABLE, &set(0, "101", 2, "4", &long)),
            Err(Refused::Impossible(_))
        ));
        let one = "id,name\n,x\n";
        assert!(matches!(apply("rooms.csv", one, &set(0, "", 1, "x", "")), Err(Refused::Impossible(_))));
    }

    #[test]
    fn xchk_a_block_is_the_same_as_its_cells_one_by_one() {
        let block = [set(0, "101", 1, "A, B", "x"), set(2, "103", 2, "7", "8"), set(0, "101", 2, "4", "")];
        let all: Vec<&Change> = block.iter().collect();
        let many = apply_cells("rooms.csv", TABLE, &all).unwrap().unwrap();
        let mut text = TABLE.to_owned();
        for change in &block {
            text = apply("rooms.csv", &text, change).unwrap().text;
        }
        assert_eq!(many.text, text);
        let back: Vec<&Change> = many.back.iter().rev().collect();
        assert_eq!(apply_cells("rooms.csv", &text, &back).unwrap().unwrap().text, TABLE);
        // What has to be made one after the other.
        let longer = [set(1, "102", 2, "", "3"), set(0, "101", 2, "4", "5")];
        assert!(apply_cells("rooms.csv", TABLE, &longer.iter().collect::<Vec<_>>()).unwrap().is_none());
        let twice = [set(0, "101", 2, "4", "5"), set(0, "101", 2, "4", "6")];
        assert!(apply_cells("rooms.csv", TABLE, &twice.iter().collect::<Vec<_>>()).unwrap().is_none());
        let wrong = [set(0, "101", 2, "4", "5"), set(2, "103", 2, "9", "6")];
        assert!(matches!(
            apply_cells("rooms.csv", TABLE, &wrong.iter().collect::<Vec<_>>()),
            Err((1, Refused::Conflict(_)))
        ));
    }

    #[test]
    fn semicolons_and_tabs_stay() {
        there_and_back("id;name\n1;a\n", &set(0, "1", 1, "a", "b;c"), "id;name\n1;\"b;c\"\n");
        there_and_back("id\tname\n1\ta\n", &set(0, "1", 1, "a", "b,c"), "id\tname\n1\tb,c\n");
    }
}
