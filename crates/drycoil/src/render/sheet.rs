//! Calculation sheets as text.

use super::table::Table;
use super::text;
use drycoil_units::UnitSystem;
use drycoil_working::{Line, Sheet};
use std::fmt::Write as _;

/// The sheet as text: for each line the formula, with numbers, the result, the source and the origin of each input.
pub fn draw(sheet: &Sheet, system: UnitSystem, width: usize) -> String {
    let mut out = String::new();
    let title = format!("{}, {}: {}", sheet.place, sheet.quantity, sheet.title);
    let _ = writeln!(out, "{}", text::wrap(&text::clean(&title), width, "  "));
    for (index, line) in sheet.lines.iter().enumerate() {
        draw_line(index + 1, line, system, width, &mut out);
    }
    out
}

fn draw_line(number: usize, line: &Line, system: UnitSystem, width: usize, out: &mut String) {
    let head = format!("{number}. {}", text::clean(&line.meaning));
    let _ = writeln!(out, "\n{}", text::wrap(&head, width, "   "));
    let symbol = text::clean(&line.symbol);
    let pad = " ".repeat(text::width(&symbol));
    let hang = format!("   {pad}     ");
    let mut put = |left: &str, right: &str| {
        let equation = format!("   {left} = ");
        let room = width.saturating_sub(text::width(&equation));
        let _ = writeln!(out, "{equation}{}", text::lines(right, room).join(&format!("\n{hang}")));
    };
    put(&symbol, &line.formula);
    // A line without symbols, such as a value that is taken as written, has no numbers to put in.
    let numbers = line.numbers(system);
    if numbers != line.formula {
        put(&pad, &numbers);
    }
    put(&pad, &line.shown(system));
    if let Some(source) = &line.source {
        let _ = writeln!(
            out,
            "   {}",
            text::wrap(
                &format!("source: {}, {}", source.publication, source.method),
                width - 3,
                "           "
            )
        );
    }
    if let Some(note) = &line.note {
        let _ = writeln!(
            out,
            "   {}",
            text::wrap(&format!("note: {}", text::clean(note)), width - 3, "         ")
        );
    }
    if !line.inputs.is_empty() {
        let mut table = Table::new(["where", "is", "from"]).wrapping(2);
        for input in &line.inputs {
            table.row([input.symbol.clone(), input.shown(system), input.origin.to_string()]);
        }
        for row in table.draw(width - 5).lines().filter(|l| !l.is_empty()) {
            let _ = writeln!(out, "     {row}");
        }
    }
}
