//! The schedules as a spreadsheet.

use drycoil_findings::Finding;
use drycoil_project::Project;
use drycoil_results::ResultDocument;
use drycoil_sizing::{Cell, Column, ColumnKind, Design, Schedule, schedules};
use drycoil_units::UnitSystem;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};

/// Widest and narrowest column, in characters.
const WIDTH: (f64, f64) = (9.0, 46.0);

/// The schedules of a design as an XLSX file, in a unit system. The same design gives the same bytes.
///
/// # Errors
/// When a name or text does not fit the format; the schedules have none that does not.
pub fn schedules_xlsx(
    project: &Project,
    design: &Design,
    document: &ResultDocument<'_>,
    findings: &[Finding],
    system: UnitSystem,
) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // A date of its own would make every file different.
    let properties = DocProperties::new()
        .set_title(format!("{}, schedules", project.name.value))
        .set_comment(format!("revision {}, {}", project.revision.value, document.program))
        .set_creation_datetime(&ExcelDateTime::from_ymd(2000, 1, 1)?);
    book.set_properties(&properties);
    for schedule in schedules(project, design) {
        // The only plain amounts of the dew-point schedule are prices.
        let money = if schedule.name == "Dew point" { design.dew_point.objective_unit.as_str() } else { "" };
        let sheet = book.add_worksheet();
        sheet.set_name(schedule.name)?;
        if schedule.upright {
            upright(sheet, &schedule, system, money)?;
        } else {
            table(sheet, &schedule, system)?;
        }
    }
    governing(book.add_worksheet(), design, system)?;
    rejected(book.add_worksheet(), design)?;
    list_findings(book.add_worksheet(), findings)?;
    about(book.add_worksheet(), document)?;
    book.save_to_buffer()
}

pub(crate) fn heading() -> Format {
    Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top).set_border_bottom(FormatBorder::Thin)
}

fn number(column: &Column, system: UnitSystem) -> Format {
    let decimals = column.decimals(system);
    let format = if decimals == 0 { "#,##0".to_owned() } else { format!("#,##0.{}", "0".repeat(decimals)) };
    Format::new().set_num_format(format)
}

/// A number of a schedule as it is read: rounded in the unit of its column, thousands apart.
pub fn shown_number(column: &Column, si: f64, system: UnitSystem) -> String {
    crate::numbers::grouped(column.shown(si, system), column.decimals(system)).replace(' ', "\u{202f}")
}

fn title(column: &Column, system: UnitSystem) -> String {
    let unit = column.unit(system);
    if unit.is_empty() { column.title.to_owned() } else { format!("{}\n[{unit}]", column.title) }
}

pub(crate) fn width(texts: impl Iterator<Item = usize>) -> f64 {
    (texts.max().unwrap_or(0) as f64 + 2.0).clamp(WIDTH.0, WIDTH.1)
}

fn table(sheet: &mut Worksheet, schedule: &Schedule, system: UnitSystem) -> Result<(), XlsxError> {
    let head = heading();
    let wrap = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    for (c, column) in schedule.columns.iter().enumerate() {
        let c = c as u16;
        sheet.write_string_with_format(0, c, title(column, system), &head)?;
        let format = number(column, system);
        // The column carries the format of its cells; only others name their own.
        let of_texts = column.kind == ColumnKind::Text;
        sheet.set_column_format(c, if of_texts { &wrap } else { &format })?;
        for (r, row) in schedule.rows.iter().enumerate() {
            let r = r as u32 + 1;
            match &row.cells[usize::from(c)] {
                Cell::Empty => {}
                Cell::Text(text) if of_texts => {
                    sheet.write_string(r, c, text)?;
                }
                Cell::Text(text) => {
                    sheet.write_string_with_format(r, c, text, &wrap)?;
                }
                Cell::Number(si) if !of_texts => {
                    sheet.write_number(r, c, column.shown(*si, system))?;
                }
                Cell::Number(si) => {
                    sheet.write_number_with_format(r, c, column.shown(*si, system), &format)?;
                }
            }
        }
        let texts = schedule.rows.iter().map(|row| match &row.cells[usize::from(c)] {
            Cell::Text(t) => t.chars().count(),
            _ => 8,
        });
        let longest = column.title.split(' ').map(str::len).max().unwrap_or(0);
        sheet.set_column_width(c, width(texts.chain([longest])))?;
    }
    sheet.set_row_height(0, 62)?;
    sheet.set_freeze_panes(1, 1)?;
    print_setup(sheet, schedule.title)?;
    Ok(())
}

/// `money` is the unit of plain amounts.
fn upright(
    sheet: &mut Worksheet,
    schedule: &Schedule,
    system: UnitSystem,
    money: &str,
) -> Result<(), XlsxError> {
    let head = heading();
    for (c, text) in ["Quantity", "Value", "Unit"].iter().enumerate() {
        sheet.write_string_with_format(0, c as u16, *text, &head)?;
    }
    let mut r = 0;
    for row in &schedule.rows {
        for (column, cell) in schedule.columns.iter().zip(&row.cells) {
            r += 1;
            sheet.write_string(r, 0, column.title)?;
            match cell {
                Cell::Empty => {}
                Cell::Text(text) => {
                    sheet.write_string(r, 1, text)?;
                }
                Cell::Number(si) => {
                    sheet.write_number_with_format(
                        r,
                        1,
                        column.shown(*si, system),
                        &number(column, system),
                    )?;
                }
            }
            if column.kind != ColumnKind::Text {
                let unit = if column.kind == ColumnKind::Number(0) { money } else { column.unit(system) };
                sheet.write_string(r, 2, unit)?;
            }
        }
    }
    sheet.set_column_width(0, width(schedule.columns.iter().map(|c| c.title.len())))?;
    sheet.set_column_width(1, 16)?;
    sheet.set_column_width(2, 10)?;
    sheet.set_freeze_panes(1, 0)?;
    print_setup(sheet, schedule.title)?;
    Ok(())
}

pub(crate) fn print_setup(sheet: &mut Worksheet, title: &str) -> Result<(), XlsxError> {
    sheet.set_landscape().set_print_fit_to_pages(1, 0);
    sheet.set_header(format!("&L{title}"));
    sheet.set_footer("&LDesign aid for a licensed engineer; see the sheet About&R&P of &N");
    sheet.set_repeat_rows(0, 0)?;
    Ok(())
}

/// Rooms that force the supply dew point.
fn governing(sheet: &mut Worksheet, design: &Design, system: UnitSystem) -> Result<(), XlsxError> {
    use drycoil_units::QuantityKind as K;
    sheet.set_name("Governing rooms")?;
    let d = &design.dew_point;
    let energy = d.objective_unit == "kWh";
    let t = system.symbol(K::Temperature);
    let f = system.symbol(K::StandardAirFlow);
    let titles = [
        "Room".to_owned(),
        format!("Supply dew point needed at fixed flow\n[{t}]"),
        format!("Primary air above fixed flow\n[{f}]"),
        format!("Saved a year by serving it and those above separately\n[{}]", d.objective_unit),
        format!("Supply dew point then\n[{t}]"),
        "Ways".to_owned(),
    ];
    let head = heading();
    for (c, text) in titles.iter().enumerate() {
        sheet.write_string_with_format(0, c as u16, text, &head)?;
        sheet.set_column_width(c as u16, if c == 5 { 60 } else { 18 })?;
    }
    let one = Format::new().set_num_format("#,##0.0");
    let whole = Format::new().set_num_format("#,##0");
    for (r, g) in d.governing.iter().enumerate() {
        let r = r as u32 + 1;
        sheet.write_string(r, 0, &g.room)?;
        let mut put = |c: u16, v: Option<f64>, format: &Format| -> Result<(), XlsxError> {
            if let Some(v) = v.filter(|v| v.is_finite()) {
                sheet.write_number_with_format(r, c, v, format)?;
            }
            Ok(())
        };
        put(1, g.required_dew_point_c.map(|c| system.value(K::Temperature, c)), &one)?;
        put(2, Some(system.value(K::StandardAirFlow, g.extra_flow_m3_per_s)), &one)?;
        put(3, Some(if energy { g.saving_if_separate / 3.6e6 } else { g.saving_if_separate }), &whole)?;
        put(4, Some(system.value(K::Temperature, g.supply_dew_point_if_separate_c)), &one)?;
        sheet.write_string(r, 5, g.ways.join("; "))?;
    }
    sheet.set_row_height(0, 62)?;
    sheet.set_freeze_panes(1, 1)?;
    print_setup(sheet, "Rooms that force the supply dew point, driest first")
}

/// Why each unit that was tried before the selected one was not taken.
fn rejected(sheet: &mut Worksheet, design: &Design) -> Result<(), XlsxError> {
    sheet.set_name("Units tried")?;
    let head = heading();
    for (c, (text, w)) in
        [("Zone", 14.0), ("Selected", 18.0), ("Tried before it", 18.0), ("Why it failed", 90.0)]
            .iter()
            .enumerate()
    {
        sheet.write_string_with_format(0, c as u16, *text, &head)?;
        sheet.set_column_width(c as u16, *w)?;
    }
    let mut r = 0;
    for t in &design.terminals {
        for x in &t.rejected {
            r += 1;
            let selected = if t.units == 1 { t.model.clone() } else { format!("{} x {}", t.units, t.model) };
            for (c, text) in [&t.zone, &selected, &x.model, &x.reason].iter().enumerate() {
                sheet.write_string(r, c as u16, *text)?;
            }
        }
    }
    sheet.set_freeze_panes(1, 0)?;
    print_setup(sheet, "Why each terminal tried before the selected one was not taken")
}

fn list_findings(sheet: &mut Worksheet, findings: &[Finding]) -> Result<(), XlsxError> {
    sheet.set_name("Findings")?;
    let head = heading();
    let columns = [
        ("Severity", 10.0),
        ("Id", 9.0),
        ("Place", 34.0),
        ("Finding", 70.0),
        ("Value", 18.0),
        ("Allowed", 22.0),
        ("What to do", 50.0),
        ("Accepted", 50.0),
    ];
    for (c, (text, w)) in columns.iter().enumerate() {
        sheet.write_string_with_format(0, c as u16, *text, &head)?;
        sheet.set_column_width(c as u16, *w)?;
    }
    let wrap = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    for c in 0..columns.len() {
        sheet.set_column_format(c as u16, &wrap)?;
    }
    for (r, f) in findings.iter().enumerate() {
        let accepted =
            f.waiver.as_ref().map_or_else(String::new, |w| format!("{}, {}: {}", w.date, w.role, w.reason));
        let place = f.places.first().map_or_else(String::new, ToString::to_string);
        let cells = [
            f.severity().word().to_owned(),
            f.id().to_owned(),
            place,
            f.message.clone(),
            f.value.clone().unwrap_or_default(),
            f.allowed.clone().unwrap_or_default(),
            f.advice(),
            accepted,
        ];
        for (c, text) in cells.iter().enumerate() {
            sheet.write_string(r as u32 + 1, c as u16, text)?;
        }
    }
    sheet.set_freeze_panes(1, 0)?;
    print_setup(sheet, "Findings")
}

pub(crate) fn about(sheet: &mut Worksheet, document: &ResultDocument<'_>) -> Result<(), XlsxError> {
    sheet.set_name("About")?;
    let bold = Format::new().set_bold();
    let wrap = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    let mut rows = vec![
        ("Project", document.project.clone()),
        ("Revision", document.revision.clone()),
        ("Program", format!("drycoil {}", document.program)),
        ("Input fingerprint", document.fingerprint.clone()),
        (
            "Air flows",
            "standard air, 1.2014 kg of dry air per m3 (0.075 lb/ft3), unless a title says actual".to_owned(),
        ),
        ("How a number was made", "drycoil working PROJECT PLACE QUANTITY".to_owned()),
    ];
    rows.extend(document.editions.iter().map(|e| ("Edition", e.clone())));
    rows.extend(document.cautions.iter().map(|c| ("Caution", c.clone())));
    for (r, (key, text)) in rows.iter().enumerate() {
        sheet.write_string_with_format(r as u32, 0, *key, &bold)?;
        sheet.write_string_with_format(r as u32, 1, text, &wrap)?;
    }
    sheet.set_column_width(0, 24)?;
    sheet.set_column_width(1, 100)?;
    Ok(())
}
