//! Checks of what the program must leave alone: the network, and what only one system has.

use super::Repository;
use crate::source::{code, has_word, without_tests};
use crate::{Failed, read};
use std::path::{Path, PathBuf};

/// Crates that speak to a network, or exist to report home. A name ending in `*` stands for all that begin so.
const NETWORK_CRATES: &[&str] = &[
    "async-std*",
    "attohttpc",
    "aws-*",
    "azure_*",
    "curl*",
    "dns-*",
    "h2",
    "h3",
    "hickory-*",
    "http",
    "http-*",
    "hyper*",
    "isahc",
    "lettre",
    "libp2p*",
    "metrics*",
    "mini_http*",
    "minreq",
    "mio",
    "native-tls",
    "openssl*",
    "opentelemetry*",
    "posthog*",
    "quinn*",
    "reqwest*",
    "rustls*",
    "schannel",
    "self_update",
    "sentry*",
    "smol",
    "socket2",
    "surf",
    "tiny_http",
    "tokio*",
    "tonic*",
    "trust-dns*",
    "tungstenite*",
    "update-informer",
    "ureq*",
    "webpki*",
    "websocket*",
];

/// What opens a connection.
const NETWORK_WORDS: &[&str] = &[
    "std::net",
    "core::net",
    "TcpStream",
    "TcpListener",
    "UdpSocket",
    "UnixStream",
    "UnixListener",
    "ToSocketAddrs",
];

/// The one file that may start another program: a browser, when PDF or the page is asked for.
const PRINTING: &str = "crates/drycoil/src/browser.rs";

/// The one file that may listen, and only to this machine: the server of the page.
const LISTENING: &str = "crates/server/src/listen.rs";

/// What only one system has, or what starts another program.
const SYSTEM_WORDS: &[&str] = &["std::os", "std::process::Command", "process::Command", "Command::new"];

/// Whether a crate of this name may not be in the tree.
fn speaks_to_a_network(name: &str) -> bool {
    NETWORK_CRATES.iter().any(|entry| match entry.strip_suffix('*') {
        Some(start) => name.starts_with(start),
        None => name == *entry,
    })
}

/// The names of the packages in a lock file.
fn locked(text: &str) -> impl Iterator<Item = &str> {
    text.lines().filter_map(|line| line.strip_prefix("name = \"")?.strip_suffix('"'))
}

/// Rust files that become part of the program, build scripts included; the code of each, without its tests.
fn program_files(repository: &Repository) -> Result<Vec<(PathBuf, String)>, Failed> {
    let mut files = Vec::new();
    for package in &repository.packages {
        let program =
            package.folder.starts_with(repository.root.join("crates")) || package.short() == "proofs";
        if !program {
            continue;
        }
        for below in ["src", "build.rs"] {
            for (path, text) in repository.rust_files(&package.folder.join(below))? {
                files.push((path.to_path_buf(), without_tests(&code(&text)).to_owned()));
            }
        }
    }
    Ok(files)
}

fn named(files: &[(PathBuf, String)], words: &[&str], what: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (path, text) in files {
        for (index, line) in text.lines().enumerate() {
            if let Some(word) = words.iter().find(|word| has_word(line, word)) {
                found.push(format!("{}:{}: {what}: `{word}`", path.display(), index + 1));
            }
        }
    }
    found
}

/// The program uses no network and sends nothing anywhere: no crate in the tree could, and no code of ours does.
pub fn no_network_and_no_telemetry(repository: &Repository) -> Result<Vec<String>, Failed> {
    let lock = read(&repository.root.join("Cargo.lock"))?;
    let mut found: Vec<String> = locked(&lock)
        .filter(|name| speaks_to_a_network(name))
        .map(|name| format!("Cargo.lock: `{name}` speaks to a network"))
        .collect();
    if locked(&lock).count() < repository.packages.len() {
        found.push("Cargo.lock: fewer packages than crates of the workspace; its form has changed".into());
    }
    let files = program_files(repository)?;
    let (listening, others): (Vec<_>, Vec<_>) =
        files.into_iter().partition(|(path, _)| path.ends_with(LISTENING));
    found.extend(named(&others, NETWORK_WORDS, "uses a network"));
    match listening.as_slice() {
        [(path, text)] => found.extend(listens_elsewhere(path, text)),
        _ => found.push(format!("{LISTENING}: gone, so its exception must go too")),
    }
    Ok(found)
}

/// What the server does beyond listening at the loopback address.
fn listens_elsewhere(path: &Path, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let connects = ["connect", "UdpSocket", "ToSocketAddrs", "UNSPECIFIED", "IpAddr", "Ipv6Addr"]
            .iter()
            .any(|word| has_word(line, word));
        let binds =
            line.contains("TcpListener::bind") && !line.contains("TcpListener::bind((Ipv4Addr::LOCALHOST,");
        if connects || binds {
            found.push(format!("{}:{}: more than listening to this machine", path.display(), index + 1));
        }
    }
    found
}

/// The program starts no other program, but for browsers, and uses nothing that only one system has.
pub fn the_program_is_portable(repository: &Repository) -> Result<Vec<String>, Failed> {
    let files = program_files(repository)?;
    let files_without_printing: Vec<(PathBuf, String)> =
        files.iter().filter(|(path, _)| !path.ends_with(PRINTING)).cloned().collect();
    if files_without_printing.len() + 1 != files.len() {
        return Ok(vec![format!("{PRINTING}: gone, so its exception must go too")]);
    }
    let mut found = named(&files_without_printing, SYSTEM_WORDS, "not on every system");
    // Names that one of the systems cannot store, or takes for the same.
    let mut seen: std::collections::BTreeMap<String, &Path> = std::collections::BTreeMap::new();
    for path in &repository.files {
        let name = path.to_string_lossy();
        if name.chars().any(|c| "<>:\"|?*\\".contains(c)) || !name.is_ascii() {
            found.push(format!("{name}: a name that not every system can store"));
        }
        if let Some(other) = seen.insert(name.to_lowercase(), path) {
            found.push(format!("{name}: the same name as {} where case does not count", other.display()));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_client_in_the_tree_is_found() {
        let lock = "[[package]]\nname = \"reqwest\"\nversion = \"1\"\n\n[[package]]\nname = \"hyper-util\"\n\n[[package]]\nname = \"csv\"\n";
        let names: Vec<&str> = locked(lock).filter(|name| speaks_to_a_network(name)).collect();
        assert_eq!(names, ["reqwest", "hyper-util"]);
    }

    #[test]
    fn the_server_listens_to_this_machine_only() {
        let found = |text: &str| listens_elsewhere(Path::new("a.rs"), text).len();
        assert_eq!(found("TcpListener::bind((Ipv4Addr::LOCALHOST, port))"), 0);
        assert_eq!(found("TcpListener::bind((\"0.0.0.0\", port))"), 1);
        assert_eq!(found("TcpListener::bind((Ipv4Addr::UNSPECIFIED, port))"), 1);
        assert_eq!(found("TcpStream::connect(there)"), 1);
    }

    #[test]
    fn a_connection_and_a_shell_are_found() {
        let file = |text: &str| vec![(PathBuf::from("a.rs"), without_tests(&code(text)).to_owned())];
        let text = "use std::net::TcpStream; // std::os";
        assert_eq!(named(&file(text), NETWORK_WORDS, "").len(), 1);
        assert!(named(&file(text), SYSTEM_WORDS, "").is_empty());
        assert_eq!(named(&file("fn f() { Command::new(\"sh\"); }"), SYSTEM_WORDS, "").len(), 1);
        assert_eq!(named(&file("use std::os::unix::fs::PermissionsExt;"), SYSTEM_WORDS, "").len(), 1);
    }
}
