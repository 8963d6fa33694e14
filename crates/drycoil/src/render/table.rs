//! Aligned text tables.

use super::text;

/// How the cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Text.
    Left,
    /// Numbers.
    Right,
}

/// A table that is drawn with aligned columns. A title may hold a line end, to put the unit below the name.
///
/// ```
/// use drycoil::render::table::{Align, Table};
/// let mut table = Table::new(["room", "flow\ncfm"]).align(1, Align::Right);
/// table.row(["B-204", "120"]);
/// assert_eq!(table.draw(100), "room   flow\n        cfm\n-----  ----\nB-204   120\n");
/// ```
#[derive(Debug, Clone)]
pub struct Table {
    titles: Vec<String>,
    align: Vec<Align>,
    wrapping: Vec<usize>,
    rows: Vec<Vec<String>>,
}

/// Space between columns.
const GAP: usize = 2;
/// A column is not made narrower than this.
const NARROWEST: usize = 8;

impl Table {
    /// A table with these titles; every column holds text until told otherwise.
    pub fn new<T: Into<String>>(titles: impl IntoIterator<Item = T>) -> Self {
        let titles: Vec<String> = titles.into_iter().map(Into::into).collect();
        let align = vec![Align::Left; titles.len()];
        Self { titles, align, wrapping: Vec::new(), rows: Vec::new() }
    }

    /// Sets how a column stands.
    #[must_use]
    pub fn align(mut self, column: usize, align: Align) -> Self {
        self.align[column] = align;
        self
    }

    /// Right-aligns these columns.
    #[must_use]
    pub fn numbers(mut self, columns: impl IntoIterator<Item = usize>) -> Self {
        for column in columns {
            self.align[column] = Align::Right;
        }
        self
    }

    /// Lets a column be broken over lines first when the table is too wide.
    #[must_use]
    pub fn wrapping(mut self, column: usize) -> Self {
        self.wrapping.push(column);
        self
    }

    /// Adds a row.
    ///
    /// # Panics
    /// When the row has another number of cells than there are titles (a programming error).
    pub fn row<T: Into<String>>(&mut self, cells: impl IntoIterator<Item = T>) {
        let cells: Vec<String> = cells.into_iter().map(|c| text::clean(&c.into())).collect();
        assert_eq!(cells.len(), self.titles.len(), "cells of a row");
        self.rows.push(cells);
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Removes the columns in which every cell is empty.
    #[must_use]
    pub fn without_empty_columns(mut self) -> Self {
        let keep: Vec<bool> =
            (0..self.titles.len()).map(|c| self.rows.iter().any(|r| !r[c].is_empty())).collect();
        let mut new_index = 0;
        let moved: Vec<Option<usize>> = keep
            .iter()
            .map(|k| {
                k.then(|| {
                    new_index += 1;
                    new_index - 1
                })
            })
            .collect();
        self.wrapping = self.wrapping.iter().filter_map(|c| moved[*c]).collect();
        let kept = |i: usize| keep[i];
        self.titles = filter(self.titles, kept);
        self.align = filter(self.align, kept);
        self.rows = self.rows.into_iter().map(|row| filter(row, kept)).collect();
        self
    }

    /// The text, at most `columns` wide unless it has more columns than fit at all.
    pub fn draw(&self, columns: usize) -> String {
        let widths = self.widths(columns);
        let mut out = String::new();
        self.draw_row(&self.titles, &widths, &mut out);
        let rule: Vec<String> = widths.iter().map(|w| "-".repeat(*w)).collect();
        self.draw_row(&rule, &widths, &mut out);
        for row in &self.rows {
            self.draw_row(row, &widths, &mut out);
        }
        out
    }

    fn widths(&self, columns: usize) -> Vec<usize> {
        let mut widths: Vec<usize> = (0..self.titles.len())
            .map(|c| {
                let title = self.titles[c].split('\n').map(text::width).max().unwrap_or(0);
                self.rows.iter().map(|r| text::width(&r[c])).max().unwrap_or(0).max(title)
            })
            .collect();
        let room = columns.saturating_sub(GAP * widths.len().saturating_sub(1));
        if widths.iter().sum::<usize>() <= room {
            return widths;
        }
        let all_text: Vec<usize> = (0..widths.len()).filter(|c| self.align[*c] == Align::Left).collect();
        // Words stay whole as long as they can.
        let whole: Vec<usize> = (0..widths.len()).map(|c| self.longest_piece(c).max(NARROWEST)).collect();
        let broken = vec![NARROWEST; widths.len()];
        // First the columns that are meant to break, then any text; numbers stay whole.
        let steps =
            [(&self.wrapping, &whole), (&all_text, &whole), (&self.wrapping, &broken), (&all_text, &broken)];
        for (candidates, least) in steps {
            while widths.iter().sum::<usize>() > room {
                let widest =
                    candidates.iter().copied().filter(|c| widths[*c] > least[*c]).max_by_key(|c| widths[*c]);
                let Some(widest) = widest else { break };
                widths[widest] -= 1;
            }
        }
        widths
    }

    /// Width of the longest part of a column that is broken only when there is no room for it.
    fn longest_piece(&self, column: usize) -> usize {
        let cells = self.rows.iter().map(|r| r[column].as_str()).chain([self.titles[column].as_str()]);
        cells
            .flat_map(|cell| cell.split([' ', '\n']))
            .flat_map(text::pieces)
            .map(text::width)
            .max()
            .unwrap_or(0)
    }

    fn draw_row(&self, cells: &[String], widths: &[usize], out: &mut String) {
        let broken: Vec<Vec<String>> =
            cells.iter().zip(widths).map(|(cell, w)| text::lines(cell, *w)).collect();
        let height = broken.iter().map(Vec::len).max().unwrap_or(0);
        for level in 0..height {
            let mut line = String::new();
            for (column, cell) in broken.iter().enumerate() {
                if column > 0 {
                    line.push_str(&" ".repeat(GAP));
                }
                let part = cell.get(level).map_or("", String::as_str);
                let space = " ".repeat(widths[column].saturating_sub(text::width(part)));
                match self.align[column] {
                    Align::Left => line.extend([part, &space]),
                    Align::Right => line.extend([&space, part]),
                }
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
    }
}

fn filter<T>(items: Vec<T>, keep: impl Fn(usize) -> bool) -> Vec<T> {
    items.into_iter().enumerate().filter(|(i, _)| keep(*i)).map(|(_, item)| item).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_right_and_a_unit_stands_below_its_title() {
        let mut table = Table::new(["room", "dew-point margin\ndegF"]).numbers([1]);
        table.row(["B-204", "2.4"]);
        table.row(["A", "12.0"]);
        let text = table.draw(100);
        assert_eq!(
            text,
            "room   dew-point margin\n                   degF\n-----  ----------------\nB-204               2.4\nA                  12.0\n"
        );
    }

    #[test]
    fn a_wide_table_fits_by_breaking_text_only() {
        let mut table = Table::new(["id", "what", "value"]).numbers([2]).wrapping(1);
        table.row(["RM-001", &"many words ".repeat(30), "123456.7"]);
        let text = table.draw(60);
        assert!(text.lines().all(|l| text::width(l) <= 60), "{text}");
        assert!(text.contains("123456.7"));
    }

    #[test]
    fn wide_characters_keep_columns_aligned() {
        let mut table = Table::new(["name", "x"]);
        table.row(["会議室", "1"]);
        table.row(["office", "2"]);
        let text = table.draw(100);
        let columns: Vec<usize> =
            text.lines().skip(2).map(|l| text::width(&l[..l.rfind(['1', '2']).unwrap()])).collect();
        assert_eq!(columns[0], columns[1]);
    }

    #[test]
    fn empty_columns_go() {
        let mut table = Table::new(["a", "b", "c"]).wrapping(2);
        table.row(["1", "", "3"]);
        let table = table.without_empty_columns();
        assert_eq!(table.draw(100), "a  c\n-  -\n1  3\n");
    }
}
