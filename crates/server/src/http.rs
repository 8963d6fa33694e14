//! Requests and answers of HTTP/1.1, as much as one page needs.
//!
//! A request is read within limits of size and time; what is longer, later or other is refused. Bodies need a length.

use std::io::{self, Read, Write};

/// Most bytes of a request line with its headers.
pub const MAX_HEAD: usize = 16 * 1024;
/// Most bytes of a body: a room list of ten thousand rooms, pasted as one block, is about 2 MB.
pub const MAX_BODY: usize = 16 * 1024 * 1024;
/// Most headers.
const MAX_HEADERS: usize = 64;

/// The methods that are answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Reads.
    Get,
    /// Changes.
    Post,
}

/// A request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// Method.
    pub method: Method,
    /// Path, as it was written.
    pub path: String,
    /// Names and values behind the question mark, decoded.
    pub query: Vec<(String, String)>,
    /// Names in lower case, and values.
    pub headers: Vec<(String, String)>,
    /// Body.
    pub body: Vec<u8>,
}

impl Request {
    /// The one header of this lower-case name; `None` when there is none or more than one.
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut all = self.headers.iter().filter(|(n, _)| n == name);
        match (all.next(), all.next()) {
            (Some((_, value)), None) => Some(value),
            _ => None,
        }
    }

    /// The first value of this name in the query.
    pub fn asked(&self, name: &str) -> Option<&str> {
        self.query.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str())
    }
}

/// Why there is no request.
#[derive(Debug)]
pub enum BadRequest {
    /// The other side went away.
    Closed,
    /// It was too slow, or the connection broke.
    Broken(io::Error),
    /// It is refused with this status.
    Refused(u16, &'static str),
}

/// Decodes `%41` and, in a query, `+`.
pub(crate) fn decoded(text: &str) -> Option<String> {
    let mut out = Vec::with_capacity(text.len());
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        match bytes[at] {
            b'%' => {
                let hex = bytes.get(at + 1..at + 3)?;
                if !hex.iter().all(u8::is_ascii_hexdigit) {
                    return None;
                }
                out.push(u8::from_str_radix(std::str::from_utf8(hex).ok()?, 16).ok()?);
                at += 3;
            }
            b'+' => {
                out.push(b' ');
                at += 1;
            }
            b => {
                out.push(b);
                at += 1;
            }
        }
    }
    String::from_utf8(out).ok()
}

fn query_of(text: &str) -> Option<Vec<(String, String)>> {
    text.split('&')
        .filter(|p| !p.is_empty())
        .map(|pair| {
            let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
            Some((decoded(name)?, decoded(value)?))
        })
        .collect()
}

/// Reads one request. `kept` holds bytes that were read beyond the request before; it is left holding those beyond this
/// one.
///
/// # Errors
/// As [`BadRequest`] says.
pub fn read_request(stream: &mut impl Read, kept: &mut Vec<u8>) -> Result<Request, BadRequest> {
    let mut buffer = [0u8; 8192];
    let mut more = |kept: &mut Vec<u8>| -> Result<(), BadRequest> {
        match stream.read(&mut buffer) {
            Ok(0) if kept.is_empty() => Err(BadRequest::Closed),
            Ok(0) => Err(BadRequest::Refused(400, "the request ends early")),
            Ok(n) => {
                kept.extend_from_slice(&buffer[..n]);
                Ok(())
            }
            Err(error) => Err(BadRequest::Broken(error)),
        }
    };
    let (mut request, head, length) = loop {
        let mut headers = [httparse::EMPTY_HEADER; MAX_HEADERS];
        let mut parsed = httparse::Request::new(&mut headers);
        match parsed.parse(kept) {
            Ok(httparse::Status::Complete(head)) => {
                if head > MAX_HEAD {
                    return Err(BadRequest::Refused(431, "the head of the request is too long"));
                }
                let (request, length) = understood(&parsed)?;
                break (request, head, length);
            }
            Ok(httparse::Status::Partial) if kept.len() > MAX_HEAD => {
                return Err(BadRequest::Refused(431, "the head of the request is too long"));
            }
            Ok(httparse::Status::Partial) => more(kept)?,
            Err(httparse::Error::TooManyHeaders) => {
                return Err(BadRequest::Refused(431, "the request has too many headers"));
            }
            Err(_) => return Err(BadRequest::Refused(400, "this is no request")),
        }
    };
    while kept.len() < head + length {
        more(kept)?;
    }
    request.body = kept[head..head + length].to_vec();
    kept.drain(..head + length);
    Ok(request)
}

fn understood(parsed: &httparse::Request<'_, '_>) -> Result<(Request, usize), BadRequest> {
    let method = match parsed.method {
        Some("GET") => Method::Get,
        Some("POST") => Method::Post,
        _ => return Err(BadRequest::Refused(405, "only GET and POST are answered")),
    };
    let target = parsed.path.unwrap_or_default();
    let (path, query) = target.split_once('?').unwrap_or((target, ""));
    if !path.starts_with('/') {
        return Err(BadRequest::Refused(400, "the path does not begin with `/`"));
    }
    let query = query_of(query).ok_or(BadRequest::Refused(400, "the query cannot be decoded"))?;
    let mut headers = Vec::with_capacity(parsed.headers.len());
    for header in parsed.headers.iter() {
        let value = std::str::from_utf8(header.value)
            .map_err(|_| BadRequest::Refused(400, "a header is not text"))?;
        headers.push((header.name.to_ascii_lowercase(), value.trim().to_owned()));
    }
    let request = Request { method, path: path.to_owned(), query, headers, body: Vec::new() };
    if request.headers.iter().any(|(n, _)| n == "transfer-encoding") {
        return Err(BadRequest::Refused(411, "a body needs a length"));
    }
    let lengths: Vec<&str> =
        request.headers.iter().filter(|(n, _)| n == "content-length").map(|(_, v)| v.as_str()).collect();
    let length = match (lengths.as_slice(), method) {
        ([], Method::Get) => 0,
        ([], Method::Post) => return Err(BadRequest::Refused(411, "a body needs a length")),
        ([one], _) if one.bytes().all(|b| b.is_ascii_digit()) => {
            one.parse().map_err(|_| BadRequest::Refused(413, "the body is too long"))?
        }
        _ => return Err(BadRequest::Refused(400, "the length of the body is not clear")),
    };
    if length > MAX_BODY {
        return Err(BadRequest::Refused(413, "the body is too long"));
    }
    Ok((request, length))
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Response {
    /// Status.
    pub status: u16,
    /// Type of the body.
    pub kind: &'static str,
    /// Further headers.
    pub headers: Vec<(&'static str, String)>,
    /// Body.
    pub body: Vec<u8>,
}

/// What the page may load: itself, and nothing from elsewhere.
const OF_THE_PAGE: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; \
                           img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; \
                           frame-src 'self'; frame-ancestors 'self'";

impl Response {
    /// An answer with a body.
    pub fn new(status: u16, kind: &'static str, body: impl Into<Vec<u8>>) -> Self {
        Self { status, kind, headers: Vec::new(), body: body.into() }
    }

    /// An answer in words.
    pub fn words(status: u16, text: impl Into<String>) -> Self {
        Self::json(status, &serde_json::json!({ "error": text.into() }))
    }

    /// An answer as JSON.
    pub fn json(status: u16, value: &serde_json::Value) -> Self {
        Self::new(status, "application/json", value.to_string())
    }

    /// The same with one header more.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<String>) -> Self {
        self.headers.push((name, value.into()));
        self
    }

    /// Writes it.
    ///
    /// # Errors
    /// The other side went away.
    pub fn write(&self, stream: &mut impl Write, keep: Keep) -> io::Result<()> {
        let mut head = head(self.status, self.kind);
        if !self.headers.iter().any(|(n, _)| *n == "Content-Security-Policy") {
            push(&mut head, "Content-Security-Policy", OF_THE_PAGE);
        }
        for (name, value) in &self.headers {
            push(&mut head, name, value);
        }
        push(&mut head, "Content-Length", &self.body.len().to_string());
        push(&mut head, "Connection", if keep == Keep::Open { "keep-alive" } else { "close" });
        head.push_str("\r\n");
        let mut bytes = head.into_bytes();
        bytes.extend_from_slice(&self.body);
        stream.write_all(&bytes)?;
        stream.flush()
    }
}

/// Whether the connection stays open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// It does.
    Open,
    /// It is closed.
    Close,
}

fn push(head: &mut String, name: &str, value: &str) {
    head.push_str(name);
    head.push_str(": ");
    // A line end within a value would begin another header.
    head.extend(value.chars().filter(|c| !c.is_control()));
    head.push_str("\r\n");
}

fn head(status: u16, kind: &str) -> String {
    let reason = match status {
        200 => "OK",
        303 => "See Other",
        304 => "Not Modified",
        400 => "Bad Request",
        403 => "Forbidden",
        404 => "Not Found",
        405 => "Method Not Allowed",
        408 => "Request Timeout",
        409 => "Conflict",
        411 => "Length Required",
        413 => "Content Too Large",
        415 => "Unsupported Media Type",
        422 => "Unprocessable Content",
        431 => "Request Header Fields Too Large",
        503 => "Service Unavailable",
        _ => "Internal Server Error",
    };
    let mut head = format!("HTTP/1.1 {status} {reason}\r\n");
    push(&mut head, "Content-Type", kind);
    push(&mut head, "Cache-Control", "no-store");
    push(&mut head, "X-Content-Type-Options", "nosniff");
    push(&mut head, "Referrer-Policy", "no-referrer");
    push(&mut head, "Cross-Origin-Resource-Policy", "same-origin");
    push(&mut head, "Cross-Origin-Opener-Policy", "same-origin");
    head
}

/// The head of a stream of events, which ends with the connection.
pub(crate) fn event_head() -> String {
    let mut head = head(200, "text/event-stream");
    push(&mut head, "Connection", "close");
    head.push_str("\r\n");
    head
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Request, BadRequest> {
        read_request(&mut text.as_bytes(), &mut Vec::new())
    }

    fn status(text: &str) -> u16 {
        match read(text) {
            Err(BadRequest::Refused(status, _)) => status,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn two_requests_of_one_connection() {
        let text =
            "POST /api/edit?a=1%202 HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\n\r\n{}GET / HTTP/1.1\r\n\r\n";
        let mut stream = text.as_bytes();
        let mut kept = Vec::new();
        let first = read_request(&mut stream, &mut kept).unwrap();
        assert_eq!(
            (first.method, first.path.as_str(), first.body.as_slice()),
            (Method::Post, "/api/edit", &b"{}"[..])
        );
        assert_eq!(first.asked("a"), Some("1 2"));
        assert_eq!(read_request(&mut stream, &mut kept).unwrap().path, "/");
        assert!(matches!(read_request(&mut stream, &mut kept), Err(BadRequest::Closed)));
    }

    #[test]
    fn what_is_too_long_or_not_clear_is_refused() {
        assert_eq!(status(&format!("GET /{} HTTP/1.1\r\n\r\n", "a".repeat(MAX_HEAD))), 431);
        assert_eq!(status(&format!("GET / HTTP/1.1\r\n{}\r\n", "a: b\r\n".repeat(MAX_HEADERS + 1))), 431);
        assert_eq!(status(&format!("POST / HTTP/1.1\r\nContent-Length: {}\r\n\r\n", MAX_BODY + 1)), 413);
        assert_eq!(status("POST / HTTP/1.1\r\nContent-Length: 99999999999999999999999\r\n\r\n"), 413);
        assert_eq!(status("POST / HTTP/1.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nab"), 400);
        assert_eq!(status("POST / HTTP/1.1\r\nContent-Length: -1\r\n\r\n"), 400);
        assert_eq!(status("POST / HTTP/1.1\r\n\r\n"), 411);
        assert_eq!(
            status("POST / HTTP/1.1\r\nTransfer-Encoding: chunked\r\nContent-Length: 2\r\n\r\nab"),
            411
        );
        assert_eq!(status("DELETE / HTTP/1.1\r\n\r\n"), 405);
        assert_eq!(status("GET http://elsewhere/ HTTP/1.1\r\n\r\n"), 400);
        assert_eq!(status("GET /?a=%zz HTTP/1.1\r\n\r\n"), 400);
        assert_eq!(status("GET / HTTP/1.1\r\nHost: x"), 400);
        assert_eq!(status("nonsense\r\n\r\n"), 400);
    }

    #[test]
    fn a_header_cannot_begin_another() {
        let mut out = Vec::new();
        let response = Response::new(200, "text/plain", "x").with("Location", "/\r\nSet-Cookie: a=b");
        response.write(&mut out, Keep::Close).unwrap();
        assert!(!String::from_utf8(out).unwrap().contains("\r\nSet-Cookie"));
    }

    #[test]
    fn a_header_that_is_there_twice_is_none() {
        let r = read("GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n").unwrap();
        assert_eq!(r.header("host"), None);
    }
}
