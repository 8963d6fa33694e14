//! Tokens of Structured Text (IEC 61131-3, annex of the textual languages; from memory).

#[derive(Debug, Clone, PartialEq)]
pub enum Token {
    /// Lower case: the language does not distinguish case.
    Word(String),
    Integer(i64),
    Real(f64),
    Sign(&'static str),
}

const SIGNS: [&str; 24] = [
    ":=", "<=", ">=", "<>", "..", "=>", "**", "+", "-", "*", "/", "(", ")", "[", "]", ",", ";", ":", ".",
    "#", "=", "<", ">", "&",
];

pub fn tokens(text: &str) -> Result<Vec<(Token, usize)>, String> {
    let bytes = text.as_bytes();
    let mut out = Vec::new();
    let (mut at, mut line) = (0, 1);
    while at < bytes.len() {
        let c = bytes[at];
        if c == b'\n' {
            line += 1;
            at += 1;
        } else if c.is_ascii_whitespace() {
            at += 1;
        } else if text[at..].starts_with("(*") {
            let end = text[at + 2..].find("*)").ok_or(format!("line {line}: comment without end"))?;
            line += text[at..at + 2 + end].matches('\n').count();
            at += end + 4;
        } else if text[at..].starts_with("//") {
            at += text[at..].find('\n').unwrap_or(text.len() - at);
        } else if c.is_ascii_alphabetic() || c == b'_' {
            let start = at;
            while at < bytes.len() && (bytes[at].is_ascii_alphanumeric() || bytes[at] == b'_') {
                at += 1;
            }
            let word = text[start..at].to_ascii_lowercase();
            // The standard allows no doubled and no trailing underscore.
            if word.contains("__") || word.ends_with('_') {
                return Err(format!("line {line}: `{word}` is no identifier"));
            }
            out.push((Token::Word(word), line));
        } else if c.is_ascii_digit() {
            let start = at;
            let digits = |mut k: usize| {
                while k < bytes.len() && (bytes[k].is_ascii_digit() || bytes[k] == b'_') {
                    k += 1;
                }
                k
            };
            at = digits(at);
            let is_real = at + 1 < bytes.len() && bytes[at] == b'.' && bytes[at + 1].is_ascii_digit();
            if is_real {
                at = digits(at + 1);
                if at < bytes.len() && matches!(bytes[at], b'e' | b'E') {
                    let mut k = at + 1;
                    if k < bytes.len() && matches!(bytes[k], b'+' | b'-') {
                        k += 1;
                    }
                    if k == bytes.len() || !bytes[k].is_ascii_digit() {
                        return Err(format!("line {line}: exponent without digits"));
                    }
                    at = digits(k);
                }
            }
            let number = text[start..at].replace('_', "");
            out.push((
                if is_real {
                    Token::Real(number.parse().map_err(|e| format!("line {line}: {number}: {e}"))?)
                } else {
                    Token::Integer(number.parse().map_err(|e| format!("line {line}: {number}: {e}"))?)
                },
                line,
            ));
        } else {
            let sign = SIGNS
                .iter()
                .find(|sign| text[at..].starts_with(**sign))
                .ok_or_else(|| format!("line {line}: `{}` is no sign", c as char))?;
            out.push((Token::Sign(sign), line));
            at += sign.len();
        }
    }
    Ok(out)
}
