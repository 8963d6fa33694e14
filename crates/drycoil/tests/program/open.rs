//! `drycoil open` as a program: it serves a folder of the disk, loses nothing when it is killed, and two of them on one
//! folder lose nothing of each other.

use crate::support::command;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Stdio};

struct Page {
    child: Child,
    port: u16,
    token: String,
}

impl Page {
    fn open(folder: &Path) -> Self {
        let mut child = command(folder, &["open", "--no-browser", "--quiet", "."])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let rest = line.trim().strip_prefix("http://127.0.0.1:").unwrap_or_else(|| panic!("{line}"));
        let (port, token) = rest.split_once("/?token=").unwrap();
        Self { port: port.parse().unwrap(), token: token.to_owned(), child }
    }

    fn send(&self, method: &str, path: &str, body: &str) -> Option<(u16, String)> {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).ok()?;
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nOrigin: http://127.0.0.1:{p}\r\nCookie: drycoil-{p}={t}\r\n\
             Content-Type: application/json\r\nContent-Length: {n}\r\nConnection: close\r\n\r\n{body}",
            p = self.port,
            t = self.token,
            n = body.len()
        );
        stream.write_all(request.as_bytes()).ok()?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer).ok()?;
        let (head, body) = answer.split_once("\r\n\r\n")?;
        Some((head.split(' ').nth(1)?.parse().ok()?, body.to_owned()))
    }

    /// Writes a number of people into a room; the answer, or none when the program is gone.
    fn people(&self, row: usize, was: u32, now: u32) -> Option<u16> {
        let body = serde_json::json!({ "window": "w", "step": { "label": "people", "changes": [{ "file": "rooms.csv",
            "change": { "do": "cell", "row": row, "key": (101 + row).to_string(), "column": 4,
            "was": was.to_string(), "now": now.to_string() } }] } });
        self.send("POST", "/api/edit", &body.to_string()).map(|(status, _)| status)
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn project() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    // Without weather: this is about the files.
    write("project.toml", "[project]\nformat = 1\nname = \"A\"\n[site]\nweather = \"none.csv\"\n");
    write(
        "rooms.csv",
        "# as surveyed\nid,floor,kind,floor_area [m2],people\n101,1,meeting,40,0\n102,1,meeting,40,0\n",
    );
    folder
}

fn rooms(folder: &Path) -> (u32, u32) {
    let text = std::fs::read_to_string(folder.join("rooms.csv")).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 4, "half a file: {text:?}");
    assert_eq!(lines[..2], ["# as surveyed", "id,floor,kind,floor_area [m2],people"]);
    let number = |line: &str| line.rsplit(',').next().unwrap().parse().unwrap();
    (number(lines[2]), number(lines[3]))
}

#[test]
fn what_was_answered_is_on_the_disk_when_the_program_is_killed() {
    let folder = project();
    for round in 0..4 {
        let mut page = Page::open(folder.path());
        let (first, _) = rooms(folder.path());
        let mut answered = first;
        let id = page.child.id();
        let killer = std::thread::spawn(move || {
            std::thread::sleep(std::time::Duration::from_millis(120 + 67 * round));
            id
        });
        // Edits as fast as they are answered, until the program is killed at any moment between.
        loop {
            if killer.is_finished() {
                page.child.kill().unwrap();
            }
            match page.people(0, answered, answered + 1) {
                Some(200) => answered += 1,
                Some(other) => panic!("{other}"),
                None => break,
            }
        }
        killer.join().unwrap();
        page.child.wait().unwrap();
        let (now, _) = rooms(folder.path());
        assert!(now == answered || now == answered + 1, "answered {answered}, on the disk {now}");
        assert!(answered > first, "no edit was answered");
    }
}

/// Edits of each of two programs.
const EDITS: u32 = 40;

#[test]
fn two_programs_on_one_folder_lose_nothing() {
    let folder = project();
    let pages = [Page::open(folder.path()), Page::open(folder.path())];
    std::thread::scope(|scope| {
        for (row, page) in pages.iter().enumerate() {
            scope.spawn(move || {
                for n in 0..EDITS {
                    assert_eq!(page.people(row, n, n + 1), Some(200), "row {row}, edit {n}");
                }
            });
        }
    });
    assert_eq!(rooms(folder.path()), (EDITS, EDITS));
    // The same cell: the second is told, and the first stays.
    assert_eq!(pages[0].people(0, EDITS, 7), Some(200));
    assert_eq!(pages[1].people(0, EDITS, 8), Some(409));
    assert_eq!(rooms(folder.path()), (7, EDITS));
}

#[test]
fn a_path_out_of_the_folder_is_refused() {
    let outer = tempfile::tempdir().unwrap();
    let folder = outer.path().join("job");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("project.toml"), "[project]\nformat = 1\nname = \"A\"\n").unwrap();
    std::fs::write(outer.path().join("secret.csv"), "id\nnobody asks\n").unwrap();
    let page = Page::open(&folder);
    for path in
        ["/../secret.csv", "/api/table?file=../secret.csv", "/api/form?file=../secret.csv", "/project.toml"]
    {
        let (status, body) = page.send("GET", path, "").unwrap();
        assert_eq!(status, 404, "{path}");
        assert!(!body.contains("nobody asks"), "{path}");
    }
    let edit = r#"{"window":"w","step":{"label":"","changes":[{"file":"../secret.csv","change":{"do":"add-column","title":"x"}}]}}"#;
    assert_eq!(page.send("POST", "/api/edit", edit).unwrap().0, 422);
    assert_eq!(std::fs::read_to_string(outer.path().join("secret.csv")).unwrap(), "id\nnobody asks\n");
}

#[test]
fn a_folder_that_is_not_there_and_a_port_that_is_taken_are_said() {
    let folder = project();
    let none = command(folder.path(), &["open", "--no-browser", "no/such/folder"]).output().unwrap();
    assert_eq!(none.status.code(), Some(4));
    let page = Page::open(folder.path());
    let port = page.port.to_string();
    let taken = command(folder.path(), &["open", "--no-browser", "--port", &port]).output().unwrap();
    assert_eq!(taken.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&taken.stderr).contains("is taken"));
    // Off a terminal a bare `open` where there is no project asks nothing.
    let empty = tempfile::tempdir().unwrap();
    let bare = command(empty.path(), &["open", "--no-browser"]).output().unwrap();
    assert_eq!(bare.status.code(), Some(3), "{}", String::from_utf8_lossy(&bare.stderr));
    assert!(String::from_utf8_lossy(&bare.stderr).contains("drycoil new"));
}
