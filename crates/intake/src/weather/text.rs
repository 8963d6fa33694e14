//! From bytes to lines, with every limit that keeps a reader bounded.

use super::report::Report;
use drycoil_findings::{Finding, registry::weather as wx};
use std::borrow::Cow;

/// Largest file that is read. A year of one-hour rows in the widest format takes 2 MB.
pub const MAX_FILE_BYTES: usize = 32 * 1024 * 1024;

/// Longest line that is read. The longest in use, a header of an NSRDB file, has under 2000 characters.
pub const MAX_LINE_BYTES: usize = 8192;

/// Most lines that are read: a year of minutes and a long legend.
pub const MAX_LINES: usize = 600_000;

/// The file as text: byte-order mark gone, UTF-8 or else Windows-1252.
pub(super) fn decode<'a>(report: &mut Report<'_>, bytes: &'a [u8]) -> Option<Cow<'a, str>> {
    if bytes.len() > MAX_FILE_BYTES {
        report.add(wx::TOO_LARGE, |r, f| {
            Finding { message: "the file is too large for one year of hours".into(), ..f }
                .at(r.whole())
                .value(format!("{} bytes", bytes.len()))
                .allowed(format!("up to {MAX_FILE_BYTES} bytes"))
        });
        return None;
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        report.add(wx::NOT_TEXT, |r, f| {
            Finding { message: "the file is in a two-byte text encoding (UTF-16)".into(), ..f }
                .at(r.whole())
                .allowed("UTF-8, or Windows-1252")
                .hint("save the file as UTF-8")
        });
        return None;
    }
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
    if bytes.iter().all(u8::is_ascii_whitespace) {
        report.add(wx::EMPTY_FILE, |r, f| {
            Finding { message: "the file holds nothing".into(), ..f }
                .at(r.whole())
                .value(format!("{} bytes", bytes.len()))
        });
        return None;
    }
    let control = |b: &u8| (*b < 0x20) & !matches!(b, b'\t' | b'\n' | b'\r' | 0x0c | 0x1a);
    // First whether there is one at all, without a branch a byte.
    let any = bytes.chunks(1024).any(|c| c.iter().fold(false, |any, b| any | control(b)));
    if let Some(position) = any.then(|| bytes.iter().position(control)).flatten() {
        let line = bytes[..position].split(|b| *b == b'\n').count() as u32;
        let byte = bytes[position];
        report.add(wx::NOT_TEXT, |r, f| {
            let what =
                if byte == 0 { "a zero byte".to_owned() } else { format!("the control byte {byte:#04x}") };
            let hint = if bytes.starts_with(b"PK") {
                "this is a ZIP archive or a spreadsheet: unpack it, or save it as CSV"
            } else if bytes.starts_with(&[0x1f, 0x8b]) {
                "this is a gzip archive: unpack it first"
            } else {
                "fetch the file again; save a spreadsheet as CSV"
            };
            Finding { message: format!("the file holds {what}, so it is not plain text"), ..f }
                .at(r.line(line))
                .value(format!("byte {byte} at offset {position}"))
                .hint(hint)
        });
        return None;
    }
    Some(match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|b| windows_1252(*b)).collect()),
    })
}

/// Only the printable half above 0xa0 occurs in names and unit signs; the rest keeps its code.
const fn windows_1252(byte: u8) -> char {
    match byte {
        0x80 => '\u{20ac}',
        0x91 | 0x92 => '\u{2019}',
        0x93 | 0x94 => '\u{201d}',
        0x96 => '\u{2013}',
        0x97 => '\u{2014}',
        other => other as char,
    }
}

/// The lines, without their ends (LF, CR LF, or CR alone).
pub(super) fn lines<'a>(report: &mut Report<'_>, text: &'a str) -> Option<Vec<&'a str>> {
    // CR LF counts twice here; this bound only keeps the list of lines small.
    let count = text.bytes().filter(|b| matches!(b, b'\n' | b'\r')).count();
    if count > 2 * MAX_LINES {
        report.add(wx::TOO_LARGE, |r, f| {
            Finding { message: "the file has too many lines for one year of hours".into(), ..f }
                .at(r.whole())
                .allowed(format!("up to {MAX_LINES} lines"))
        });
        return None;
    }
    let list: Vec<&str> = if text.contains('\n') {
        text.lines().collect()
    } else if text.contains('\r') {
        text.split_terminator('\r').collect()
    } else {
        vec![text]
    };
    let mut good = list.len() <= MAX_LINES;
    if !good {
        report.add(wx::TOO_LARGE, |r, f| {
            Finding { message: "the file has too many lines for one year of hours".into(), ..f }
                .at(r.whole())
                .value(format!("{} lines", list.len()))
                .allowed(format!("up to {MAX_LINES} lines"))
        });
    }
    for (i, line) in list.iter().enumerate() {
        if line.len() > MAX_LINE_BYTES {
            good = false;
            report.add(wx::TOO_LARGE, |r, f| {
                Finding { message: "a line is too long for a row of weather".into(), ..f }
                    .at(r.line(i as u32 + 1))
                    .value(format!("{} bytes", line.len()))
                    .allowed(format!("up to {MAX_LINE_BYTES} bytes"))
                    .hint("the line ends may have been lost in the transfer")
            });
        }
    }
    good.then_some(list)
}

/// Splits a line at the delimiter. A field in quotation marks is given without them.
///
/// Returns whether every quotation mark is closed.
pub(super) fn split<'a>(line: &'a str, delimiter: char, out: &mut Vec<&'a str>) -> bool {
    out.clear();
    if !line.contains('"') {
        // Every delimiter in use is one byte; a plain loop over bytes is four times as fast as the search for a character.
        let mut start = 0;
        for (at, byte) in line.bytes().enumerate() {
            if char::from(byte) == delimiter {
                out.push(&line[start..at]);
                start = at + 1;
            }
        }
        out.push(&line[start..]);
        return true;
    }
    let mut rest = line;
    loop {
        if let Some(inner) = rest.strip_prefix('"') {
            let Some(end) = closing_quote(inner) else {
                out.push(inner);
                return false;
            };
            out.push(&inner[..end]);
            rest = &inner[end + 1..];
            match rest.find(delimiter) {
                // Text between the closing mark and the delimiter is refused by the caller as an open quotation.
                Some(at) if rest[..at].trim().is_empty() => rest = &rest[at + delimiter.len_utf8()..],
                None if rest.trim().is_empty() => return true,
                _ => return false,
            }
        } else if let Some(at) = rest.find(delimiter) {
            out.push(&rest[..at]);
            rest = &rest[at + delimiter.len_utf8()..];
        } else {
            out.push(rest);
            return true;
        }
    }
}

/// Byte of the mark that closes a quoted field; a doubled mark stands for itself.
fn closing_quote(inner: &str) -> Option<usize> {
    let bytes = inner.as_bytes();
    let mut i = 0;
    while i < bytes.len() {
        if bytes[i] == b'"' {
            if bytes.get(i + 1) == Some(&b'"') {
                i += 2;
                continue;
            }
            return Some(i);
        }
        i += 1;
    }
    None
}

/// The beginning of a text of the file, for a message.
pub(super) fn shown(text: &str) -> String {
    let text = text.trim();
    let mut out: String = text.chars().take(40).collect();
    if out.len() < text.len() {
        out.push_str("...");
    }
    out
}

/// The delimiter of a line of titles: the one of comma, semicolon and tab that occurs most.
pub(super) fn delimiter_of(titles: &str) -> char {
    let count = |c: char| titles.matches(c).count();
    if count(';') > count(',') && count(';') >= count('\t') {
        ';'
    } else if count('\t') > count(',') {
        '\t'
    } else {
        ','
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_fields() {
        let mut out = Vec::new();
        assert!(split("a,\"b, c\",d", ',', &mut out));
        assert_eq!(out, ["a", "b, c", "d"]);
        assert!(split("\"x \"\"y\"\"\",", ',', &mut out));
        assert_eq!(out, ["x \"\"y\"\"", ""]);
        assert!(!split("a,\"b,c", ',', &mut out));
        assert!(!split("\"a\"b,c", ',', &mut out));
        assert!(split("", ',', &mut out));
        assert_eq!(out, [""]);
    }

    #[test]
    fn lone_carriage_returns_end_lines() {
        let mut report = Report::new("x");
        assert_eq!(lines(&mut report, "a\rb\r").unwrap(), ["a", "b"]);
        assert_eq!(lines(&mut report, "a\r\nb\r\n").unwrap(), ["a", "b"]);
    }
}
