//! Browsers: printing HTML to PDF with an installed one of the Chromium family, and showing the page in whichever the
//! user has. This is the only place that starts another program, and only when one of the two is asked for.

use crate::Failure;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// The variable that may name a browser.
pub const VARIABLE: &str = "BROWSER";

/// Names on the search path, the first found is taken.
const NAMES: [&str; 8] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "msedge",
    "brave-browser",
];

/// Where installers put it when it is not on the search path.
const PLACES: [&str; 6] = [
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
];

/// How long one document may take.
const PATIENCE: Duration = Duration::from_mins(5);

/// What the environment says about browsers.
#[derive(Debug, Clone, Default)]
pub struct Surroundings {
    /// Value of [`VARIABLE`].
    pub variable: Option<OsString>,
    /// Folders of the search path.
    pub search: Vec<PathBuf>,
    /// Where installers put it.
    pub places: Vec<PathBuf>,
}

impl Surroundings {
    /// Those of this process.
    pub fn of_process() -> Self {
        Self {
            variable: std::env::var_os(VARIABLE),
            search: std::env::var_os("PATH").map_or_else(Vec::new, |p| std::env::split_paths(&p).collect()),
            places: PLACES.iter().map(PathBuf::from).collect(),
        }
    }

    fn on_path(&self, name: &str) -> Option<PathBuf> {
        self.search
            .iter()
            .flat_map(|folder| [folder.join(name), folder.join(format!("{name}.exe"))])
            .find(|path| path.is_file())
    }
}

/// Whether a program by its name is of the family. The variable often names another browser, which cannot print unattended.
fn is_of_the_family(path: &Path) -> bool {
    let name = path.file_stem().unwrap_or_default().to_string_lossy().to_lowercase().replace(' ', "-");
    NAMES.contains(&name.as_str())
}

/// The browser: the one asked for, else that of the variable, else the first that is installed.
pub fn find(asked: Option<&Path>, around: &Surroundings) -> Result<PathBuf, Failure> {
    if let Some(path) = asked {
        let found = if path.components().count() == 1 {
            path.to_str().and_then(|name| around.on_path(name))
        } else {
            path.is_file().then(|| path.to_path_buf())
        };
        return found.ok_or_else(|| {
            Failure::usage(format!("there is no browser `{}`", path.display()))
                .hint("--browser takes the program file, or its name on the search path")
        });
    }
    if let Some(value) = &around.variable {
        let path = Path::new(value);
        if is_of_the_family(path) {
            let found = if path.components().count() == 1 {
                path.to_str().and_then(|name| around.on_path(name))
            } else {
                path.is_file().then(|| path.to_path_buf())
            };
            if let Some(path) = found {
                return Ok(path);
            }
        }
    }
    NAMES
        .iter()
        .find_map(|name| around.on_path(name))
        .or_else(|| around.places.iter().find(|p| p.is_file()).cloned())
        .ok_or_else(|| {
            Failure::bad_input("PDF needs an installed browser of the Chromium family, and none was found").hint(format!(
                "install one, or name it with --browser or {VARIABLE}; without --pdf the papers print from any browser"
            ))
        })
}

/// What opens an address, by system; the first word is the program.
fn openers() -> &'static [&'static [&'static str]] {
    match std::env::consts::OS {
        "macos" => &[&["open"]],
        "windows" => &[&["rundll32.exe", "url.dll,FileProtocolHandler"], &["explorer.exe"]],
        _ => &[&["xdg-open"], &["gio", "open"], &["sensible-browser"]],
    }
}

/// Shows an address in the browser of the variable, or of the system; in words why none was started.
///
/// The variable may list programs, separated as in the search path, each with `%s` where the address goes; without it
/// the address is the last argument.
pub fn open_page(address: &str) -> Result<(), String> {
    let around = Surroundings::of_process();
    let mut candidates: Vec<Vec<OsString>> = Vec::new();
    if let Some(value) = &around.variable {
        for entry in std::env::split_paths(value).filter(|e| !e.as_os_str().is_empty()) {
            candidates.push(words_of(&entry, address));
        }
    }
    for words in openers() {
        candidates.push(words.iter().map(OsString::from).chain([OsString::from(address)]).collect());
    }
    let mut last = "there is none".to_owned();
    for words in candidates {
        let Some((program, arguments)) = words.split_first() else { continue };
        let started = Command::new(program)
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        match started {
            // It lives on by itself; nobody waits for it.
            Ok(_) => return Ok(()),
            Err(error) => last = format!("{}: {error}", program.to_string_lossy()),
        }
    }
    Err(last)
}

/// Program and arguments of an entry of the variable. An entry that is a file is one word, with blanks or without.
fn words_of(entry: &Path, address: &str) -> Vec<OsString> {
    let text = entry.to_string_lossy();
    let mut words: Vec<OsString> = if entry.is_file() {
        vec![entry.as_os_str().to_owned()]
    } else {
        text.split_whitespace().map(|w| OsString::from(w.replace("%s", address))).collect()
    };
    if entry.is_file() || !text.contains("%s") {
        words.push(OsString::from(address));
    }
    words
}

/// Prints an HTML file to PDF. `profile` is a folder that the browser may fill.
pub fn print(browser: &Path, html: &Path, pdf: &Path, profile: &Path) -> Result<(), Failure> {
    let said = match attempt(browser, html, pdf, profile, &[])? {
        Ok(()) => return Ok(()),
        Err(said) => said,
    };
    // An administrator's browser, as in a container, refuses to start with its sandbox. The documents are our own, hold
    // no script and load nothing.
    if said.contains("no-sandbox") || said.contains("No usable sandbox") {
        match attempt(browser, html, pdf, profile, &["--no-sandbox"])? {
            Ok(()) => return Ok(()),
            Err(said) => return Err(refused(browser, &said)),
        }
    }
    Err(refused(browser, &said))
}

fn refused(browser: &Path, said: &str) -> Failure {
    let last = said.lines().map(str::trim).rfind(|l| !l.is_empty()).unwrap_or("it said nothing");
    Failure::File {
        attempt: "cannot print with",
        path: browser.to_path_buf(),
        error: std::io::Error::other(last.to_owned()),
    }
}

/// One attempt; what the browser said when there is no PDF afterwards.
fn attempt(
    browser: &Path,
    html: &Path,
    pdf: &Path,
    profile: &Path,
    more: &[&str],
) -> Result<Result<(), String>, Failure> {
    let starting = |error| Failure::File { attempt: "cannot start", path: browser.to_path_buf(), error };
    let reading = |error| Failure::reading(html, error);
    let html = std::path::absolute(html).map_err(reading)?;
    let pdf = std::path::absolute(pdf).map_err(|error| Failure::writing(pdf, error))?;
    let profile = std::path::absolute(profile).map_err(|error| Failure::writing(profile, error))?;
    let log = profile.with_extension("log");
    let log_file = std::fs::File::create(&log).map_err(|error| Failure::writing(&log, error))?;
    let mut command = Command::new(browser);
    command
        .args(["--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check"])
        .args(["--disable-extensions", "--disable-sync", "--disable-component-update"])
        .args(["--disable-background-networking", "--disable-default-apps", "--no-pdf-header-footer"])
        .args([
            "--generate-pdf-document-outline",
            "--disable-dev-shm-usage",
            "--host-resolver-rules=MAP * ~NOTFOUND",
        ])
        .args(more)
        .arg(argument("--user-data-dir=", &profile))
        .arg(argument("--print-to-pdf=", &pdf))
        .arg(&html)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(log_file);
    let mut child = command.spawn().map_err(starting)?;
    let ended = wait(&mut child).map_err(starting)?;
    let said = std::fs::read(&log).map(|b| String::from_utf8_lossy(&b).into_owned()).unwrap_or_default();
    match ended {
        Some(true) if pdf.is_file() => Ok(Ok(())),
        Some(_) => Ok(Err(said)),
        None => Ok(Err(format!("it did not finish within {} s", PATIENCE.as_secs()))),
    }
}

fn argument(key: &str, path: &Path) -> OsString {
    let mut text = OsString::from(key);
    text.push(path);
    text
}

/// Whether the program ended well; none when it had to be stopped.
fn wait(child: &mut Child) -> std::io::Result<Option<bool>> {
    let begun = Instant::now();
    loop {
        if let Some(status) = child.try_wait()? {
            return Ok(Some(status.success()));
        }
        if begun.elapsed() > PATIENCE {
            child.kill()?;
            child.wait()?;
            return Ok(None);
        }
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// The date that every PDF carries, so that the same design gives the same bytes.
const DATE: &[u8] = b"20000101000000";

/// Sets the dates of a PDF to one that does not change from run to run. The length stays, so its table of places holds.
pub fn without_dates(pdf: &mut [u8]) {
    for key in [&b"/CreationDate (D:"[..], b"/ModDate (D:"] {
        let mut from = 0;
        while let Some(at) = find_bytes(&pdf[from..], key) {
            let begin = from + at + key.len();
            from = begin;
            if let Some(digits) = pdf.get_mut(begin..begin + DATE.len())
                && digits.iter().all(u8::is_ascii_digit)
            {
                digits.copy_from_slice(DATE);
            }
        }
    }
}

fn find_bytes(within: &[u8], wanted: &[u8]) -> Option<usize> {
    within.windows(wanted.len()).position(|w| w == wanted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_variable_says_where_the_address_goes() {
        let words = |entry: &str| words_of(Path::new(entry), "http://x/");
        assert_eq!(words("nobrowser"), ["nobrowser", "http://x/"]);
        assert_eq!(words("nobrowser --new %s -q"), ["nobrowser", "--new", "http://x/", "-q"]);
    }

    fn folder_with(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            std::fs::write(folder.path().join(name), b"").unwrap();
        }
        folder
    }

    #[test]
    fn the_browser_asked_for_comes_first_then_the_variable_then_the_path() {
        let folder = folder_with(&["chromium", "google-chrome", "own-build", "firefox"]);
        let at = |name: &str| folder.path().join(name);
        let mut around = Surroundings {
            variable: Some(at("google-chrome").into()),
            search: vec![folder.path().to_path_buf()],
            places: Vec::new(),
        };
        assert_eq!(find(Some(&at("own-build")), &around).unwrap(), at("own-build"));
        assert_eq!(find(Some(Path::new("own-build")), &around).unwrap(), at("own-build"));
        assert_eq!(find(None, &around).unwrap(), at("google-chrome"));
        around.variable = Some(at("firefox").into());
        assert_eq!(find(None, &around).unwrap(), at("chromium"));
        around.search.clear();
        around.places = vec![at("google-chrome")];
        assert_eq!(find(None, &around).unwrap(), at("google-chrome"));
    }

    #[test]
    fn a_browser_that_is_missing_is_named_with_a_way_out() {
        let nothing = Surroundings::default();
        let failure = find(None, &nothing).unwrap_err();
        assert!(failure.text().contains("--browser"), "{}", failure.text());
        let failure = find(Some(Path::new("no/such/browser")), &nothing).unwrap_err();
        assert!(failure.text().contains("no/such/browser"), "{}", failure.text());
    }

    #[test]
    fn dates_give_way_and_nothing_else_moves() {
        let mut pdf =
            b"<</CreationDate (D:20261125134700+00'00')\n/ModDate (D:20261125134701+00'00')>> D:2026"
                .to_vec();
        let length = pdf.len();
        without_dates(&mut pdf);
        assert_eq!(pdf.len(), length);
        assert_eq!(
            pdf,
            b"<</CreationDate (D:20000101000000+00'00')\n/ModDate (D:20000101000000+00'00')>> D:2026"
        );
    }
}
