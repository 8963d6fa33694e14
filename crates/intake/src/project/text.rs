//! From bytes to text with lines.

use drycoil_findings::{Finding, Place, registry::project as pf};

/// Largest project file that is read.
pub const MAX_FILE_BYTES: usize = 64 * 1024 * 1024;

/// A text file and where its lines begin.
#[derive(Debug)]
pub(crate) struct Text {
    pub name: String,
    pub text: String,
    starts: Vec<usize>,
}

impl Text {
    pub fn new(name: &str, text: String) -> Self {
        let mut starts = vec![0];
        starts.extend(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1));
        Self { name: name.to_owned(), text, starts }
    }

    /// Line and column, both from 1, of a byte offset.
    pub fn line_column(&self, offset: usize) -> (u32, u32) {
        let offset = offset.min(self.text.len());
        let line = self.starts.partition_point(|s| *s <= offset);
        let start = self.starts[line - 1];
        let column = self.text.get(start..offset).map_or(1, |t| t.chars().count() + 1);
        (line as u32, column as u32)
    }

    /// The place of a byte range.
    pub fn place(&self, span: std::ops::Range<usize>) -> Place {
        let (line, column) = self.line_column(span.start);
        Place::line(self.name.clone(), line, column).span(span.start, span.end)
    }
}

/// Which encodings a file may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Encoding {
    /// UTF-8 only.
    Utf8,
    /// UTF-8, else Windows-1252 with a note.
    Utf8OrWindows1252,
}

/// Decodes a file; a byte-order mark is left out.
pub(crate) fn decode(
    name: &str,
    bytes: &[u8],
    encoding: Encoding,
    findings: &mut Vec<Finding>,
) -> Option<Text> {
    if bytes.len() > MAX_FILE_BYTES {
        findings.push(
            Finding::new(pf::TOO_LARGE, "the file is too large for a project")
                .at(Place::file(name))
                .value(format!("{} bytes", bytes.len()))
                .allowed(format!("up to {MAX_FILE_BYTES} bytes")),
        );
        return None;
    }
    let not_text = |message: &str, line: u32, hint: &str| {
        Finding::new(pf::NOT_TEXT, message).at(Place::line(name, line, 1)).hint(hint)
    };
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        findings.push(not_text(
            "the file is in a two-byte text encoding (UTF-16)",
            1,
            "save the file as UTF-8",
        ));
        return None;
    }
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
    let line_of = |at: usize| bytes[..at].split(|b| *b == b'\n').count() as u32;
    if let Some(at) = bytes.iter().position(|b| *b == 0) {
        let hint = if bytes.starts_with(b"PK") {
            "this is an archive or a workbook; save the table as CSV"
        } else {
            "save the file anew as UTF-8 text"
        };
        findings.push(not_text("the file holds a zero byte, so it is not plain text", line_of(at), hint));
        return None;
    }
    if bytes.contains(&b'\r') && !bytes.contains(&b'\n') {
        findings.push(not_text(
            "the lines end with a carriage return alone",
            1,
            "save the file with the line ends of Windows, Linux or macOS",
        ));
        return None;
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Some(Text::new(name, text.to_owned())),
        Err(error) if encoding == Encoding::Utf8 => {
            let at = error.valid_up_to();
            findings.push(not_text(
                &format!("the byte {:#04x} is not UTF-8 text", bytes[at]),
                line_of(at),
                "save the file as UTF-8",
            ));
            None
        }
        Err(error) => {
            let mut text = String::with_capacity(bytes.len() + bytes.len() / 8);
            for (at, byte) in bytes.iter().enumerate() {
                if let Some(c) = windows_1252(*byte) {
                    text.push(c);
                } else {
                    findings.push(not_text(
                        &format!("the byte {byte:#04x} is neither UTF-8 nor Windows-1252 text"),
                        line_of(at),
                        "save the file as UTF-8",
                    ));
                    return None;
                }
            }
            findings.push(
                Finding::new(pf::WINDOWS_TEXT, "the file is not UTF-8 and was read as Windows-1252 text")
                    .at(Place::line(name, line_of(error.valid_up_to()), 1)),
            );
            Some(Text::new(name, text))
        }
    }
}

/// The text of bytes for showing a line of them; bytes without a character become a question mark.
pub fn text_of(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|b| windows_1252(*b).unwrap_or('?')).collect(),
    }
}

/// The character of a Windows-1252 byte; five bytes have none.
fn windows_1252(byte: u8) -> Option<char> {
    const HIGH: [char; 32] = [
        '\u{20ac}', '\0', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2c6}',
        '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\0', '\u{17d}', '\0', '\0', '\u{2018}', '\u{2019}',
        '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2dc}', '\u{2122}', '\u{161}',
        '\u{203a}', '\u{153}', '\0', '\u{17e}', '\u{178}',
    ];
    match byte {
        0x80..=0x9f => Some(HIGH[usize::from(byte - 0x80)]).filter(|c| *c != '\0'),
        _ => Some(char::from(byte)),
    }
}
