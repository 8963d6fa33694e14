//! The pages of the documentation do what they say: every command that they show is run.
//!
//! A page is run from top to bottom in an empty folder that holds a copy of `examples`, as if the reader stood in the
//! repository and typed what the page shows:
//!
//! - a block marked `console`: each line that begins with `$ ` is run (`drycoil`, or `cp FROM TO`); the lines below it must
//!   be what it prints, where `...` stands for any text, and a line `...` for any lines. Without lines below it, any
//!   output will do. Exit codes 0 and 1 are expected; a block marked `console exit=2` says otherwise;
//! - a block marked with `file=PATH` is written to that file, one with `append=PATH` is added to it;
//! - a block marked `diff file=PATH` changes it: the lines without `+` must stand in the file, once.

use crate::support::{read, root, run_in};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// One thing that a page asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Step {
    /// A file with this text.
    Write { path: String, text: String },
    /// A text at the end of a file.
    Append { path: String, text: String },
    /// A text of a file that gives way to another.
    Change { path: String, old: String, new: String },
    /// A command, the exit codes that it may end with, and what it prints.
    Run { line: usize, command: String, codes: Vec<i32>, expected: Vec<String> },
}

/// The steps of a page, or why it cannot be run.
fn steps(page: &str) -> Result<Vec<Step>, String> {
    let mut steps = Vec::new();
    let mut block: Option<(String, usize, Vec<&str>)> = None;
    for (index, line) in page.lines().enumerate() {
        match (&mut block, line.strip_prefix("```")) {
            (None, Some(info)) => block = Some((info.trim().to_owned(), index + 1, Vec::new())),
            (Some((info, start, lines)), Some("")) => {
                block_steps(info, *start, lines, &mut steps)?;
                block = None;
            }
            (Some((_, _, lines)), _) => lines.push(line),
            (None, None) => {}
        }
    }
    match block {
        None => Ok(steps),
        Some((_, start, _)) => Err(format!("line {start}: the block does not end")),
    }
}

fn block_steps(info: &str, start: usize, lines: &[&str], steps: &mut Vec<Step>) -> Result<(), String> {
    let word = |name: &str| info.split_whitespace().find_map(|w| w.strip_prefix(name)).map(str::to_owned);
    let language = info.split_whitespace().next().unwrap_or_default();
    if language == "console" {
        let codes = match word("exit=") {
            Some(code) => vec![code.parse().map_err(|_| format!("line {start}: `{code}` is no exit code"))?],
            None => vec![0, 1],
        };
        for (index, line) in lines.iter().enumerate() {
            if let Some(command) = line.strip_prefix("$ ") {
                steps.push(Step::Run {
                    line: start + index + 1,
                    command: command.to_owned(),
                    codes: codes.clone(),
                    expected: Vec::new(),
                });
            } else if let Some(Step::Run { expected, .. }) = steps.last_mut().filter(|_| index > 0) {
                expected.push((*line).to_owned());
            } else {
                return Err(format!("line {start}: the block does not begin with a command"));
            }
        }
        return Ok(());
    }
    let (Some(path), append) = (word("file=").or_else(|| word("append=")), word("append=").is_some()) else {
        return Ok(());
    };
    let text = |keep: &dyn Fn(&str) -> bool| {
        lines.iter().filter(|l| keep(l)).fold(String::new(), |mut text, line| {
            let line = if language == "diff" { line.get(1..).unwrap_or_default() } else { line };
            let _ = writeln!(text, "{line}");
            text
        })
    };
    steps.push(if language == "diff" {
        Step::Change { path, old: text(&|l| !l.starts_with('+')), new: text(&|l| !l.starts_with('-')) }
    } else if append {
        Step::Append { path, text: text(&|_| true) }
    } else {
        Step::Write { path, text: text(&|_| true) }
    });
    Ok(())
}

/// Whether what was printed is what the page shows.
fn shows(expected: &[String], printed: &[&str]) -> bool {
    let Some((first, rest)) = expected.split_first() else { return printed.is_empty() };
    if first == "..." {
        return (0..=printed.len()).any(|n| shows(rest, &printed[n..]));
    }
    printed.split_first().is_some_and(|(line, below)| shows_line(first, line) && shows(rest, below))
}

fn shows_line(expected: &str, printed: &str) -> bool {
    let (expected, printed) = (expected.trim_end(), printed.trim_end());
    let mut parts = expected.split("...");
    let Some(mut rest) = parts.next().and_then(|first| printed.strip_prefix(first)) else { return false };
    let mut last = None;
    for part in parts {
        let Some(at) = rest.find(part) else { return false };
        rest = &rest[at + part.len()..];
        last = Some(part);
    }
    match last {
        // Nothing may follow a text without `...`; the last part may also stand at the very end.
        None => rest.is_empty(),
        Some(part) => part.is_empty() || rest.is_empty() || printed.ends_with(part),
    }
}

/// The words of a command; quotes hold words together.
fn words(command: &str) -> Vec<String> {
    let (mut words, mut word, mut quote) = (Vec::new(), None::<String>, None);
    for c in command.chars() {
        match quote {
            Some(q) if c == q => quote = None,
            None if c == '"' || c == '\'' => {
                word.get_or_insert_default();
                quote = Some(c);
            }
            None if c.is_whitespace() => words.extend(word.take()),
            Some(_) | None => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy_folder(&path, &target);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}

fn perform(step: &Step, folder: &Path) -> Result<(), String> {
    match step {
        Step::Write { path, text } => {
            let path = folder.join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).map_err(|e| e.to_string())
        }
        Step::Append { path, text } => {
            let file = folder.join(path);
            let old = fs::read_to_string(&file).map_err(|e| format!("{path}: {e}"))?;
            fs::write(&file, old + text).map_err(|e| e.to_string())
        }
        Step::Change { path, old, new } => {
            let file = folder.join(path);
            let text = fs::read_to_string(&file).map_err(|e| format!("{path}: {e}"))?.replace("\r\n", "\n");
            match text.matches(old.as_str()).count() {
                1 => fs::write(&file, text.replacen(old, new, 1)).map_err(|e| e.to_string()),
                n => Err(format!("these lines stand {n} times in {path}:\n{old}")),
            }
        }
        Step::Run { line, command, codes, expected } => {
            let words = words(command);
            let (program, arguments) = words.split_first().ok_or("no command")?;
            let failed = |what: String| format!("line {line}: `{command}`: {what}");
            match program.as_str() {
                "cp" if arguments.len() == 2 => {
                    let to = folder.join(&arguments[1]);
                    fs::copy(folder.join(&arguments[0]), to).map(|_| ()).map_err(|e| failed(e.to_string()))
                }
                "drycoil" => {
                    let ran = run_in(folder, arguments);
                    let (code, printed) = (ran.code, (ran.out + &ran.err).replace("\r\n", "\n"));
                    if !code.is_some_and(|c| codes.contains(&c)) {
                        return Err(failed(format!("ended with {code:?}, not {codes:?}\n{printed}")));
                    }
                    let lines: Vec<&str> = printed.lines().collect();
                    if expected.is_empty() || shows(expected, &lines) {
                        return Ok(());
                    }
                    Err(failed(format!("printed\n{printed}\nand the page shows\n{}", expected.join("\n"))))
                }
                _ => Err(failed("only `drycoil` and `cp FROM TO` are run".into())),
            }
        }
    }
}

/// Runs one page and returns how many commands it shows, or what it does not do.
fn run(name: &str) -> Result<usize, String> {
    let page = read(name);
    let steps = steps(&page).map_err(|e| format!("{name}: {e}"))?;
    let folder = tempfile::tempdir().unwrap();
    for example in ["weather", "public-services-building"] {
        copy_folder(&root().join("examples").join(example), &folder.path().join("examples").join(example));
    }
    for step in &steps {
        perform(step, folder.path()).map_err(|e| format!("{name}: {e}"))?;
    }
    Ok(steps.iter().filter(|s| matches!(s, Step::Run { .. })).count())
}

/// Pages that are written by hand, relative to the repository.
fn pages() -> Vec<String> {
    let mut pages = vec!["README.md".to_owned()];
    for folder in ["docs", "docs/how-to"] {
        for entry in fs::read_dir(root().join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|e| e == "md") {
                pages.push(format!("{folder}/{}", path.file_name().unwrap().to_string_lossy()));
            }
        }
    }
    pages.sort();
    pages
}

#[test]
fn the_readme_does_what_it_says() {
    assert!(run("README.md").unwrap_or_else(|e| panic!("{e}")) > 5);
}

#[test]
fn the_tutorial_does_what_it_says() {
    assert!(run("docs/tutorial.md").unwrap_or_else(|e| panic!("{e}")) > 5);
}

#[test]
fn every_how_to_does_what_it_says() {
    let pages: Vec<String> = pages().into_iter().filter(|p| p.starts_with("docs/how-to/")).collect();
    assert!(pages.len() > 5, "{pages:?}");
    let mut failed = Vec::new();
    for page in pages {
        let text = read(&page);
        // The list of the pages shows no commands.
        if !page.ends_with("README.md") {
            assert!(text.contains("```console"), "{page} shows no command");
        }
        failed.extend(run(&page).err());
    }
    assert!(failed.is_empty(), "{}", failed.join("\n\n"));
}

#[test]
fn no_page_shows_a_command_that_nobody_runs() {
    for page in pages() {
        let run = page == "README.md" || page == "docs/tutorial.md" || page.starts_with("docs/how-to/");
        let text = read(&page);
        assert!(run || !text.contains("```console"), "{page} has console blocks; no test runs them");
    }
}

#[test]
fn a_page_that_says_something_else_is_found() {
    let expected = |lines: &[&str]| lines.iter().map(|l| (*l).to_owned()).collect::<Vec<_>>();
    assert!(shows(&expected(&["a", "...", "d"]), &["a", "b", "c", "d"]));
    assert!(shows(&expected(&["...", "b ... d", "..."]), &["a", "b c d"]));
    assert!(!shows(&expected(&["a", "...", "d"]), &["a", "b", "c"]));
    assert!(!shows(&expected(&["a"]), &["a", "b"]));
    assert!(!shows(&expected(&["a", "b"]), &["a"]));
    assert!(!shows_line("margin 3.0 degF", "margin 2.9 degF"));
    assert!(!shows_line("margin ... degF", "margin 2.9 K"));
    assert!(shows_line("margin ... degF", "margin 2.9 degF"));

    let folder = tempfile::tempdir().unwrap();
    let outcome = |page: &str| -> Result<(), String> {
        steps(page)?.iter().try_for_each(|step| perform(step, folder.path()))
    };
    assert!(outcome("```console\n$ drycoil explain DP-003\nDP-003...\n...\n```\n").is_ok());
    assert!(outcome("```console\n$ drycoil explain DP-003\nDP-004...\n...\n```\n").is_err());
    assert!(outcome("```console exit=2\n$ drycoil explain DP-003\n```\n").is_err());
    assert!(outcome("```console\n$ rm -r folder\n```\n").is_err());
    assert!(outcome("```console\n$ drycoil units\n").is_err());
    assert!(outcome("```csv file=a.csv\nx\ny\n```\n```diff file=a.csv\n x\n-y\n+z\n```\n").is_ok());
    assert_eq!(fs::read_to_string(folder.path().join("a.csv")).unwrap(), "x\nz\n");
    assert!(outcome("```diff file=a.csv\n-y\n+z\n```\n").is_err());
    assert_eq!(words("a \"b c\" '' d"), ["a", "b c", "", "d"]);
}
