//! Room lists of spreadsheets.

use super::section::Log;
use super::spec::Problem;
use super::table::{Cell, CellNature, Grid, Line, letters};
use super::text::MAX_FILE_BYTES;
use calamine::{DataRef, Reader, Xlsx};
use drycoil_findings::{Finding, FindingKind, Place, registry::project as pf, registry::rooms as rm};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{Cursor, Read};

/// Most bytes that a workbook may unpack to. A room list of ten thousand rooms unpacks to about 20 MB.
const MAX_UNPACKED: u64 = 256 * 1024 * 1024;
/// Most parts of a workbook.
const MAX_PARTS: usize = 4096;
/// Last row and column that are read.
const MAX_ROW: u32 = 200_000;
const MAX_COLUMN: u32 = 400;

/// The room list of a workbook: the sheet named `rooms`, else the first one.
pub(crate) fn grid_of(name: &str, bytes: &[u8], log: &mut Log) -> Option<Grid> {
    match read(name, bytes, log) {
        Ok(grid) => grid,
        Err(problem) => {
            log.findings.push(problem.finding().at(Place::file(name)));
            None
        }
    }
}

fn bad(message: impl std::fmt::Display) -> Problem {
    Problem::new(rm::BAD_WORKBOOK, format!("the workbook cannot be read: {message}"))
        .hint("save the room list anew as XLSX without a password, or as CSV")
}

fn cell_finding(kind: &'static FindingKind, message: &str, file: &str, row: u32, column: u32) -> Finding {
    Finding::new(kind, message).at(Place::file(file).key(format!("{}{}", letters(column as usize), row + 1)))
}

fn read(name: &str, bytes: &[u8], log: &mut Log) -> Result<Option<Grid>, Problem> {
    if bytes.len() > MAX_FILE_BYTES {
        return Err(Problem::new(pf::TOO_LARGE, "the workbook is too large for a room list")
            .value(format!("{} bytes", bytes.len()))
            .allowed(format!("up to {MAX_FILE_BYTES} bytes")));
    }
    let xml = unpack(bytes)?;
    references(&xml)?;
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(bad)?;
    let names = book.sheet_names();
    let Some(sheet) =
        names.iter().find(|n| n.eq_ignore_ascii_case("rooms")).or_else(|| names.first()).cloned()
    else {
        return Err(bad("it has no sheet"));
    };

    let mut rows: BTreeMap<u32, BTreeMap<u32, Cell>> = BTreeMap::new();
    let mut cells = book.worksheet_cells_reader(&sheet).map_err(bad)?;
    while let Some(cell) = cells.next_cell().map_err(bad)? {
        let (row, column) = cell.get_position();
        let (text, nature) = match cell.get_value() {
            DataRef::Empty => continue,
            DataRef::Int(n) => (n.to_string(), CellNature::Plain),
            DataRef::Float(x) => (number(*x), CellNature::Plain),
            DataRef::String(s) => (s.trim().to_owned(), CellNature::Plain),
            DataRef::SharedString(s) => (s.trim().to_owned(), CellNature::Plain),
            DataRef::Bool(b) => (b.to_string(), CellNature::Plain),
            DataRef::DateTime(d) => {
                let (year, month, day, ..) = d.to_ymd_hms_milli();
                (format!("{year:04}-{month:02}-{day:02}"), CellNature::Date)
            }
            DataRef::DateTimeIso(s) | DataRef::DurationIso(s) => (s.clone(), CellNature::Date),
            DataRef::Error(e) => {
                log.findings.push(
                    cell_finding(
                        pf::NOT_A_NUMBER,
                        "the cell holds an error of the spreadsheet",
                        name,
                        row,
                        column,
                    )
                    .value(e.to_string()),
                );
                continue;
            }
        };
        if text.is_empty() {
            continue;
        }
        if row >= MAX_ROW || column >= MAX_COLUMN {
            return Err(bad(format!(
                "the cell {}{} lies outside a room list",
                letters(column as usize),
                row + 1
            )));
        }
        rows.entry(row).or_default().insert(column, Cell { text, span: (0, 0), nature });
    }
    drop(cells);

    // Formulas whose result was never stored.
    let mut formulas = book.worksheet_cells_reader(&sheet).map_err(bad)?;
    while let Some(formula) = formulas.next_formula().map_err(bad)? {
        let (row, column) = formula.get_position();
        let stored = rows.get(&row).is_some_and(|r| r.contains_key(&column));
        if !formula.get_value().is_empty() && !stored && row < MAX_ROW {
            log.findings.push(
                cell_finding(
                    rm::FORMULA_WITHOUT_VALUE,
                    "the formula has no stored result",
                    name,
                    row,
                    column,
                )
                .value(format!("={}", formula.get_value()))
                .hint("open the workbook in a spreadsheet and save it, or paste the values"),
            );
        }
    }
    drop(formulas);

    for merged in book.merge_cells_by_sheet_name(&sheet).map_err(bad)? {
        // A merged title above the table or an empty merged range does no harm.
        let inside = rows.keys().next().is_some_and(|first| merged.end.0 >= *first);
        if inside {
            log.findings.push(
                cell_finding(rm::MERGED_CELLS, "the cells are merged", name, merged.start.0, merged.start.1)
                    .value(format!(
                        "{}{}:{}{}",
                        letters(merged.start.1 as usize),
                        merged.start.0 + 1,
                        letters(merged.end.1 as usize),
                        merged.end.0 + 1
                    )),
            );
        }
    }

    let hidden = hidden_rows(&xml, &sheet);
    let shown: Vec<String> =
        hidden.iter().filter(|r| rows.contains_key(&(**r - 1))).map(u32::to_string).collect();
    if let Some(first) = shown.first() {
        log.findings.push(
            Finding::new(rm::HIDDEN_ROWS, format!("{} hidden row(s) were read", shown.len()))
                .at(Place::file(name).key(format!("A{first}")))
                .value(shown.iter().take(20).cloned().collect::<Vec<_>>().join(", ")),
        );
    }

    let mut lines = rows.into_iter().map(|(row, cells)| {
        let width = cells.keys().next_back().map_or(0, |c| *c as usize + 1);
        let empty = Cell { text: String::new(), span: (0, 0), nature: CellNature::Plain };
        let mut line = Line { line: row + 1, cells: vec![empty; width] };
        for (column, cell) in cells {
            line.cells[column as usize] = cell;
        }
        line
    });
    let Some(titles) = lines.next() else {
        log.findings
            .push(Finding::new(rm::NO_ROWS, format!("the sheet `{sheet}` is empty")).at(Place::file(name)));
        return Ok(None);
    };
    let lines: Vec<Line> = lines.collect();
    Ok(Some(Grid { file: name.to_owned(), titles, lines, sheet: true, decimal_comma: false }))
}

/// A number as it would be typed.
fn number(x: f64) -> String {
    // A cell such as 101 is held as 101.0.
    if x.fract() == 0.0 && x.abs() < 1e15 { format!("{x:.0}") } else { format!("{x}") }
}

/// Unpacks what is looked at here, and counts what all parts unpack to.
fn unpack(bytes: &[u8]) -> Result<BTreeMap<String, Vec<u8>>, Problem> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(bad)?;
    if archive.len() > MAX_PARTS {
        return Err(bad(format!("it has {} parts", archive.len())));
    }
    let mut kept = BTreeMap::new();
    let mut total = 0u64;
    for i in 0..archive.len() {
        let entry = archive.by_index(i).map_err(bad)?;
        let name = entry.name().map_err(bad)?.into_owned();
        let keep = name == "xl/workbook.xml"
            || name == "xl/_rels/workbook.xml.rels"
            || name.starts_with("xl/worksheets/");
        // The sizes that the archive states may be wrong, so the bytes themselves are counted.
        let mut left = entry.take(MAX_UNPACKED - total + 1);
        if keep {
            let mut content = Vec::new();
            left.read_to_end(&mut content).map_err(bad)?;
            total += content.len() as u64;
            kept.insert(name, content);
        } else {
            total += std::io::copy(&mut left, &mut std::io::sink()).map_err(bad)?;
        }
        if total > MAX_UNPACKED {
            return Err(bad(format!("it unpacks to more than {MAX_UNPACKED} bytes")));
        }
    }
    Ok(kept)
}

/// Rows of a sheet, from 1, that are hidden or filtered out.
fn hidden_rows(parts: &BTreeMap<String, Vec<u8>>, sheet: &str) -> BTreeSet<u32> {
    let attribute = |e: &quick_xml::events::BytesStart<'_>, name: &str| {
        e.attributes().flatten().find(|a| a.key.local_name().as_ref() == name).map(|a| a.value.into_owned())
    };
    // The sheet's relation, then the part that it names.
    let mut relation = None;
    each_tag(parts.get("xl/workbook.xml"), &["sheet"], |e| {
        if attribute(e, "name").as_deref() == Some(sheet) {
            relation = attribute(e, "id");
        }
    });
    let mut target = None;
    each_tag(parts.get("xl/_rels/workbook.xml.rels"), &["Relationship"], |e| {
        if relation.is_some() && attribute(e, "Id") == relation {
            target = attribute(e, "Target");
        }
    });
    let path = match target {
        Some(t) if t.starts_with('/') => t[1..].to_owned(),
        Some(t) => format!("xl/{t}"),
        None => return BTreeSet::new(),
    };
    let mut hidden = BTreeSet::new();
    let mut row = 0u32;
    each_tag(parts.get(&path), &["row"], |e| {
        row = attribute(e, "r").and_then(|r| r.parse().ok()).unwrap_or(row.saturating_add(1));
        if attribute(e, "hidden").is_some_and(|h| h == "1" || h == "true") {
            hidden.insert(row);
        }
    });
    hidden
}

/// Refuses references that name no cell: the reader of the workbook counts on them.
fn references(parts: &BTreeMap<String, Vec<u8>>) -> Result<(), Problem> {
    let is_cell = |r: &str| {
        let letters = r.bytes().take_while(u8::is_ascii_alphabetic).count();
        let digits = &r[letters..];
        letters <= 3 && digits.len() <= 7 && digits.bytes().all(|b| b.is_ascii_digit())
    };
    for (name, content) in parts.iter().filter(|(name, _)| name.starts_with("xl/worksheets/")) {
        let mut wrong = None;
        each_tag(Some(content), &["c", "row", "dimension", "mergeCell", "f"], |e| {
            for a in e.attributes().flatten().filter(|a| matches!(a.key.local_name().as_ref(), "r" | "ref")) {
                if wrong.is_none() && !a.value.split(':').all(is_cell) {
                    wrong = Some(a.value.chars().take(40).collect::<String>());
                }
            }
        });
        if let Some(wrong) = wrong {
            return Err(bad(format!("`{wrong}` in {name} is not the reference of a cell")));
        }
    }
    Ok(())
}

fn each_tag(
    content: Option<&Vec<u8>>,
    tags: &[&str],
    mut look: impl FnMut(&quick_xml::events::BytesStart<'_>),
) {
    use quick_xml::events::Event;
    let Some(content) = content else { return };
    let mut reader = quick_xml::Reader::from_reader(content.as_slice());
    loop {
        match reader.read_event() {
            Ok(Event::Start(e) | Event::Empty(e)) if tags.contains(&e.local_name().as_ref()) => look(&e),
            // A damaged part was refused before; hidden rows are only a note.
            Ok(Event::Eof) | Err(_) => return,
            Ok(_) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;
    use zip::write::SimpleFileOptions;

    /// A workbook with this one sheet.
    fn book(sheet: &[u8]) -> Vec<u8> {
        let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let parts: [(&str, &[u8]); 5] = [
            (
                "[Content_Types].xml",
                br#"<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>"#,
            ),
            (
                "_rels/.rels",
                br#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#,
            ),
            (
                "xl/workbook.xml",
                br#"<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="List" sheetId="1" r:id="rId1"/></sheets></workbook>"#,
            ),
            (
                "xl/_rels/workbook.xml.rels",
                br#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#,
            ),
            ("xl/worksheets/sheet1.xml", sheet),
        ];
        for (name, content) in parts {
            zip.start_file(name, SimpleFileOptions::default()).unwrap();
            zip.write_all(content).unwrap();
        }
        zip.finish().unwrap().into_inner()
    }

    fn ids(bytes: &[u8]) -> (Option<Grid>, Vec<&'static str>) {
        let mut log = Log::default();
        let grid = grid_of("rooms.xlsx", bytes, &mut log);
        (grid, log.findings.iter().map(Finding::id).collect())
    }

    #[test]
    fn a_small_sheet_is_read_and_numbers_become_text() {
        let (grid, ids) = ids(&book(
            br#"<worksheet><sheetData><row r="2"><c r="A2" t="inlineStr"><is><t> id </t></is></c></row><row r="4" hidden="1"><c r="A4"><v>101</v></c><c r="C4"><v>12.5</v></c></row></sheetData></worksheet>"#,
        ));
        assert_eq!(ids, ["RM-028"]);
        let grid = grid.unwrap();
        assert_eq!(grid.titles.cells[0].text, "id");
        let texts: Vec<&str> = grid.lines[0].cells.iter().map(|c| c.text.as_str()).collect();
        assert_eq!((grid.lines[0].line, texts), (4, vec!["101", "", "12.5"]));
    }

    #[test]
    fn a_cell_at_the_end_of_the_sheet_takes_no_memory() {
        let (grid, ids) = ids(&book(
            br#"<worksheet><sheetData><row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>"#,
        ));
        assert!(grid.is_none());
        assert_eq!(ids, ["RM-026"]);
        let mut log = Log::default();
        let far =
            br#"<worksheet><sheetData><row r="1"><c r="XFD1"><v>1</v></c></row></sheetData></worksheet>"#;
        assert!(grid_of("rooms.xlsx", &book(far), &mut log).is_none());
        assert!(log.findings[0].message.contains("XFD1 lies outside"), "{:?}", log.findings[0]);
    }

    #[test]
    fn a_reference_that_names_no_cell_is_refused() {
        for sheet in [
            r#"<worksheet><sheetData><row r="1"><c r="ZZZZZZZZ99999999999"><v>1</v></c></row></sheetData></worksheet>"#,
            r#"<worksheet><sheetData><row r="99999999999"><c r="A1"><v>1</v></c></row></sheetData></worksheet>"#,
            r#"<worksheet><dimension ref="A1:ZZZZZZZZ1"/><sheetData><row r="1"><c r="A1"><v>1</v></c></row></sheetData></worksheet>"#,
            r#"<worksheet><sheetData><row r="1"><c r="A1"><v>1</v></c></row></sheetData><mergeCells><mergeCell ref="A1:AAAAAAAAA2"/></mergeCells></worksheet>"#,
        ] {
            let mut log = Log::default();
            assert!(grid_of("rooms.xlsx", &book(sheet.as_bytes()), &mut log).is_none(), "{sheet}");
            assert!(log.findings[0].message.contains("is not the reference of a cell"), "{:?}", log.findings);
        }
    }

    #[test]
    fn a_workbook_that_unpacks_without_end_is_refused() {
        let bytes = book(&vec![b' '; MAX_UNPACKED as usize + 1]);
        assert!(bytes.len() < 1 << 20, "it is small on the disk");
        assert_eq!(ids(&bytes).1, ["RM-026"]);
    }

    #[test]
    fn a_cut_off_workbook_is_refused() {
        let whole = book(b"<worksheet><sheetData/></worksheet>");
        for cut in [0, 10, whole.len() / 2, whole.len() - 1] {
            assert_eq!(ids(&whole[..cut]).1, ["RM-026"], "{cut}");
        }
        assert_eq!(ids(&whole).1, ["RM-021"]);
    }
}
