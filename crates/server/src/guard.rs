//! Who may ask: a browser on this machine that was given the address with its token.
//!
//! - The name of the host must be that of this machine and this port, so that no name from elsewhere leads here.
//! - The first request carries the token in the address; from then on a cookie does, which no other site is sent to.
//! - A change must come from the page itself: its origin is this server, and its body is JSON.

use crate::http::{Method, Request};

/// Whether a request is answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Entry {
    /// It is.
    Open,
    /// The token in the address is right: a cookie is set, and the address without it asked for again.
    Enter,
    /// It is refused with this status.
    Refused(u16, &'static str),
}

/// The keeper of one server.
#[derive(Debug, Clone)]
pub struct Keeper {
    token: String,
    port: u16,
}

/// Equal, in a time that does not tell where they differ.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0u8, |acc, (x, y)| acc | (x ^ y)) == 0
}

impl Keeper {
    /// A keeper of a port with a token.
    pub fn new(token: String, port: u16) -> Self {
        Self { token, port }
    }

    /// The address that opens the page.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/?token={}", self.port, self.token)
    }

    /// The cookie that is set on entry. Cookies do not tell ports apart, so its name does.
    pub fn cookie(&self) -> String {
        format!("drycoil-{}={}; HttpOnly; SameSite=Strict; Path=/", self.port, self.token)
    }

    fn has_cookie(&self, request: &Request) -> bool {
        let name = format!("drycoil-{}", self.port);
        request
            .headers
            .iter()
            .filter(|(n, _)| n == "cookie")
            .flat_map(|(_, v)| v.split(';'))
            .filter_map(|pair| pair.trim().split_once('='))
            .any(|(n, v)| n == name && same(v, &self.token))
    }

    fn is_here(&self, host: &str) -> bool {
        [format!("127.0.0.1:{}", self.port), format!("localhost:{}", self.port)].iter().any(|h| h == host)
    }

    /// Judges a request.
    pub fn judge(&self, request: &Request) -> Entry {
        match request.header("host") {
            Some(host) if self.is_here(host) => {}
            _ => return Entry::Refused(403, "the page is answered under its own address only"),
        }
        let own = |origin: &str| origin.strip_prefix("http://").is_some_and(|host| self.is_here(host));
        let origins = request.headers.iter().filter(|(n, _)| n == "origin").count();
        match (request.header("origin"), request.method) {
            (Some(origin), _) if !own(origin) => {
                return Entry::Refused(403, "the request comes from another page");
            }
            (None, Method::Post) => {
                return Entry::Refused(403, "the request does not say where it comes from");
            }
            (None, Method::Get) if origins > 1 => {
                return Entry::Refused(403, "the request does not say where it comes from");
            }
            _ => {}
        }
        let entering = request.path == "/"
            && request.method == Method::Get
            && request.asked("token").is_some_and(|t| same(t, &self.token));
        if entering {
            return Entry::Enter;
        }
        // Another site may make the browser send a request, but not with this said of it.
        if request.header("sec-fetch-site").is_some_and(|s| !matches!(s, "same-origin" | "none")) {
            return Entry::Refused(403, "the request comes from another page");
        }
        if !self.has_cookie(request) {
            return Entry::Refused(403, "open the address that `drycoil open` printed");
        }
        if request.method == Method::Post && request.header("content-type") != Some("application/json") {
            return Entry::Refused(415, "a change is sent as JSON");
        }
        Entry::Open
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keeper() -> Keeper {
        Keeper::new("0123456789abcdef".into(), 4321)
    }

    fn request(method: Method, path: &str, headers: &[(&str, &str)]) -> Request {
        let (path, query) = path.split_once('?').unwrap_or((path, ""));
        Request {
            method,
            path: path.into(),
            query: query.split_once('=').map(|(n, v)| (n.to_owned(), v.to_owned())).into_iter().collect(),
            headers: headers.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect(),
            body: Vec::new(),
        }
    }

    const HOST: (&str, &str) = ("host", "127.0.0.1:4321");
    const COOKIE: (&str, &str) = ("cookie", "other=1; drycoil-4321=0123456789abcdef");
    const ORIGIN: (&str, &str) = ("origin", "http://127.0.0.1:4321");
    const JSON: (&str, &str) = ("content-type", "application/json");

    fn refused(method: Method, path: &str, headers: &[(&str, &str)]) -> u16 {
        match keeper().judge(&request(method, path, headers)) {
            Entry::Refused(status, _) => status,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn the_page_itself_is_answered() {
        assert_eq!(keeper().judge(&request(Method::Get, "/api/state", &[HOST, COOKIE])), Entry::Open);
        assert_eq!(
            keeper().judge(&request(Method::Post, "/api/edit", &[HOST, COOKIE, ORIGIN, JSON])),
            Entry::Open
        );
        assert_eq!(keeper().judge(&request(Method::Get, "/?token=0123456789abcdef", &[HOST])), Entry::Enter);
    }

    #[test]
    fn everybody_else_is_not() {
        let evil = ("origin", "http://elsewhere.example");
        // A name from elsewhere that leads to this machine.
        assert_eq!(refused(Method::Get, "/api/state", &[("host", "elsewhere.example:4321"), COOKIE]), 403);
        assert_eq!(refused(Method::Get, "/?token=0123456789abcdef", &[("host", "elsewhere.example")]), 403);
        assert_eq!(refused(Method::Get, "/api/state", &[COOKIE]), 403);
        assert_eq!(refused(Method::Get, "/api/state", &[HOST, HOST, COOKIE]), 403);
        // Another port of this machine.
        assert_eq!(refused(Method::Get, "/api/state", &[("host", "127.0.0.1:80"), COOKIE]), 403);
        assert_eq!(
            refused(Method::Post, "/api/edit", &[HOST, COOKIE, ("origin", "http://127.0.0.1:80"), JSON]),
            403
        );
        // No cookie, a wrong one, one of another server, a wrong token.
        assert_eq!(refused(Method::Get, "/api/state", &[HOST]), 403);
        assert_eq!(
            refused(Method::Get, "/api/state", &[HOST, ("cookie", "drycoil-4321=0123456789abcdee")]),
            403
        );
        assert_eq!(
            refused(Method::Get, "/api/state", &[HOST, ("cookie", "drycoil-4322=0123456789abcdef")]),
            403
        );
        assert_eq!(refused(Method::Get, "/?token=0123", &[HOST]), 403);
        // The token is no key to anything but the first page.
        assert_eq!(refused(Method::Get, "/api/state?token=0123456789abcdef", &[HOST]), 403);
        // Another page that makes the browser ask.
        assert_eq!(refused(Method::Post, "/api/edit", &[HOST, COOKIE, evil, JSON]), 403);
        assert_eq!(refused(Method::Post, "/api/edit", &[HOST, COOKIE, JSON]), 403);
        assert_eq!(refused(Method::Post, "/api/edit", &[HOST, COOKIE, ("origin", "null"), JSON]), 403);
        assert_eq!(refused(Method::Get, "/api/state", &[HOST, COOKIE, evil]), 403);
        assert_eq!(
            refused(Method::Get, "/api/state", &[HOST, COOKIE, ("sec-fetch-site", "cross-site")]),
            403
        );
        // A form can be sent from anywhere, JSON cannot.
        assert_eq!(
            refused(Method::Post, "/api/edit", &[HOST, COOKIE, ORIGIN, ("content-type", "text/plain")]),
            415
        );
    }
}
