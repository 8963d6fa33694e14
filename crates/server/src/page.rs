//! The built page. Its sources are in `web/`; `cargo xtask page` builds it, and a test of the repository compares the
//! stamp of the sources.

const FILES: [(&str, &str, &[u8]); 3] = [
    ("/", "text/html; charset=utf-8", include_bytes!("../page/index.html")),
    ("/page.js", "text/javascript; charset=utf-8", include_bytes!("../page/page.js")),
    ("/page.css", "text/css; charset=utf-8", include_bytes!("../page/page.css")),
];

/// Type and bytes of a file of the page.
///
/// ```
/// let (kind, bytes) = drycoil_server::page::file("/").unwrap();
/// assert!(kind.starts_with("text/html") && !bytes.is_empty());
/// assert!(drycoil_server::page::file("/../Cargo.toml").is_none());
/// ```
pub fn file(path: &str) -> Option<(&'static str, &'static [u8])> {
    FILES.iter().find(|(name, _, _)| *name == path).map(|(_, kind, bytes)| (*kind, *bytes))
}
