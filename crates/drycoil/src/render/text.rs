//! Widths, wrapping and cleaning of text.

use drycoil_units::{Length, Quantity, QuantityKind, UnitSystem};
use unicode_width::UnicodeWidthStr;

/// Terminal columns that a text fills.
pub fn width(text: &str) -> usize {
    text.width()
}

/// The text with control characters made visible, so that a cell of a user's file cannot steer the terminal.
pub fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\t' => ' ',
            c if c.is_control() => char::REPLACEMENT_CHARACTER,
            c => c,
        })
        .collect()
}

/// The parts of a word between which it may be broken: after a hyphen or a stroke between letters.
pub fn pieces(word: &str) -> Vec<&str> {
    let mut out = Vec::new();
    let mut start = 0;
    let mut before = ' ';
    for (at, c) in word.char_indices() {
        let end = at + c.len_utf8();
        let letter_follows = word[end..].starts_with(char::is_alphabetic);
        if matches!(c, '-' | '/' | '\u{2010}') && before.is_alphabetic() && letter_follows {
            out.push(&word[start..end]);
            start = end;
        }
        before = c;
    }
    out.push(&word[start..]);
    out
}

/// The lines of a text, broken at spaces to at most `columns`; a longer word is broken behind a hyphen, or where it must.
pub fn lines(text: &str, columns: usize) -> Vec<String> {
    let columns = columns.max(1);
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in paragraph.split(' ').filter(|w| !w.is_empty()) {
            if !line.is_empty() && width(&line) + 1 + width(word) > columns {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            if width(word) <= columns {
                line.push_str(word);
                continue;
            }
            for piece in pieces(word) {
                if !line.is_empty() && width(&line) + width(piece) > columns {
                    lines.push(std::mem::take(&mut line));
                }
                for c in piece.chars() {
                    let mut one = [0u8; 4];
                    if width(&line) + width(c.encode_utf8(&mut one)) > columns {
                        lines.push(std::mem::take(&mut line));
                    }
                    line.push(c);
                }
            }
        }
        lines.push(line);
    }
    lines
}

/// The text broken to `columns`, every line after the first behind `indent`.
pub fn wrap(text: &str, columns: usize, indent: &str) -> String {
    let room = columns.saturating_sub(width(indent));
    lines(text, room).join(&format!("\n{indent}"))
}

/// `1 row`, `2 rows`.
pub fn count(number: usize, noun: &str) -> String {
    if number == 1 { format!("1 {noun}") } else { format!("{number} {noun}s") }
}

/// An elevation, to the whole metre or foot.
pub fn whole_length(system: UnitSystem, length: Length) -> String {
    format!("{:.0} {}", system.value(QuantityKind::Length, length.si()), system.symbol(QuantityKind::Length))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wraps_at_spaces_and_breaks_only_long_words() {
        assert_eq!(lines("one two three", 7), ["one two", "three"]);
        assert_eq!(lines("abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(lines("see dew-point-margin", 10), ["see", "dew-point-", "margin"]);
        assert_eq!(pieces("a-1/b-c"), ["a-1/b-", "c"]);
        assert_eq!(lines("", 3), [""]);
        assert_eq!(wrap("one two three", 9, "  "), "one two\n  three");
        for line in lines("a\u{b2} 温度が高い room", 4) {
            assert!(width(&line) <= 4, "{line}");
        }
    }

    #[test]
    fn escape_sequences_do_not_pass() {
        assert_eq!(clean("a\u{1b}[2Jb\nc"), "a\u{fffd}[2Jb c");
    }
}
