//! Instructions of the year's loop and of its set-up, counted and compared with kept counts, so that speed is kept without
//! a clock.
//!
//! The case is `benches/benches/year_loop.rs`: two lengths of the same run give the loop by their difference and the
//! set-up by what is left. The loop is counted with the widest vector instructions that the counting machine shows and
//! with plain ones. Counts are of an optimised build with the pinned toolchain, but without optimisation across crates,
//! so that it is ready soon; the loops over rooms are inlined into the crate of the year in either build.

use crate::{Failed, process, root};
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Kept counts: one line each, the last one holds. Date, three counts, reason. The first line, and later ones whose reason
/// begins with `release`, are those of releases.
const KEPT: &str = "benches/instructions.txt";
/// Where the reason of every kept line stands under its date.
const REASONS: &str = "docs/PERFORMANCE.md";
/// Days of the short and of the long run: a Monday among the differences.
const DAYS: [u64; 2] = [1, 4];
/// Rise that is a failure, above the last kept counts and above those of the last release.
const MOST_RISE: f64 = 0.05;

/// What was counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Counts {
    /// Per day of both schemes, by kernel: widest, plain.
    day: [u64; 2],
    /// Reading, sizing, reduction.
    set_up: u64,
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Counted, within the kept counts.
    Holds,
    /// The counting tool or the instructions counted are not there; why.
    Skipped(&'static str),
}

/// Counts and compares. Without the counting tool it says so and does nothing.
pub fn run() -> Result<Counted, Failed> {
    let skipped = |why: &'static str| {
        println!("SKIPPED: instruction counts, {why}");
        Ok(Counted::Skipped(why))
    };
    if !has_tool() {
        return skipped("which need valgrind; on Debian `apt-get install --yes valgrind`");
    }
    if !widest_is_known() {
        return skipped("which are kept for x86-64 with 256-bit instructions");
    }
    let program = build()?;
    let count = |days: u64, kernel: &str| total(&program, days, kernel);
    let [short, long] = DAYS;
    let first = count(short, "wide")?;
    let wide = (count(long, "wide")? - first) / (long - short);
    let plain = (count(long, "plain")? - count(short, "plain")?) / (long - short);
    let found = Counts { day: [wide, plain], set_up: first - short * wide };
    println!("instructions: a day of both schemes {wide} wide, {plain} plain; set-up {}", found.set_up);
    let text = std::fs::read_to_string(root().join(KEPT)).unwrap_or_default();
    let Kept { last, release } = kept(&text)?.ok_or_else(|| {
        let line = line_of(found);
        Failed::new(format!("{KEPT} keeps no counts; a first line would be `{line}`"))
    })?;
    compare(found, last, "the kept")?;
    compare(found, release, "the release's")?;
    Ok(Counted::Holds)
}

/// Whether the counting tool is there.
pub fn has_tool() -> bool {
    process::works(Command::new("valgrind").arg("--version"))
}

/// Whether this machine has the instructions of the kept counts.
#[cfg(target_arch = "x86_64")]
fn widest_is_known() -> bool {
    std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma")
}

/// Whether this machine has the instructions of the kept counts.
#[cfg(not(target_arch = "x86_64"))]
fn widest_is_known() -> bool {
    false
}

/// Builds the case; gives its file.
fn build() -> Result<PathBuf, Failed> {
    let mut cargo = process::cargo();
    cargo.args(["bench", "--package", "drycoil-benches", "--bench", "year_loop", "--no-run", "--locked"]);
    cargo.args(["--message-format", "json", "--quiet"]).current_dir(root()).stderr(Stdio::inherit());
    // What the kept counts were counted with.
    for profile in ["RELEASE", "BENCH"] {
        for (setting, value) in [("LTO", "off"), ("CODEGEN_UNITS", "16"), ("STRIP", "none"), ("DEBUG", "1")] {
            cargo.env(format!("CARGO_PROFILE_{profile}_{setting}"), value);
        }
    }
    cargo.env("CARGO_INCREMENTAL", "1").arg("--target-dir").arg(root().join("target").join("instructions"));
    eprintln!("+ {}", process::shown(&cargo));
    let output = cargo.output().map_err(|e| Failed::new(format!("cannot start cargo: {e}")))?;
    if !output.status.success() {
        return Err(Failed::new("the case for instruction counts does not build"));
    }
    let text = String::from_utf8_lossy(&output.stdout);
    text.lines()
        .filter(|l| l.contains("\"name\":\"year_loop\""))
        .find_map(|l| Some(PathBuf::from(l.split("\"executable\":\"").nth(1)?.split('"').next()?)))
        .ok_or_else(|| Failed::new("cargo names no program for the case of instruction counts"))
}

/// Instructions of one run.
fn total(program: &PathBuf, days: u64, kernel: &str) -> Result<u64, Failed> {
    let mut valgrind = Command::new("valgrind");
    valgrind
        .args(["--tool=callgrind", "--callgrind-out-file=/dev/null"])
        .arg(program)
        .args([&days.to_string(), kernel])
        .current_dir(root());
    eprintln!("+ {}", process::shown(&valgrind));
    let output = valgrind.output().map_err(|e| Failed::new(format!("cannot start valgrind: {e}")))?;
    let said = String::from_utf8_lossy(&output.stderr);
    let counted = said
        .lines()
        .find_map(|l| l.split("Collected :").nth(1)?.trim().parse().ok())
        .filter(|_| output.status.success());
    counted.ok_or_else(|| Failed::new(format!("the case under callgrind failed: {said}")))
}

/// Kept counts that rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Kept {
    last: Counts,
    release: Counts,
}

/// Lines of the kept counts: date, counts, whether those of a release.
fn lines(text: &str) -> Result<Vec<(String, Counts, bool)>, Failed> {
    let mut found = Vec::new();
    for line in text.lines().filter(|l| !l.starts_with('#') && !l.trim().is_empty()) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let wrong = || Failed::new(format!("{KEPT}: `{line}` is not DATE WIDE PLAIN SET-UP REASON"));
        let number = |i: usize| words.get(i).and_then(|w| w.parse().ok()).ok_or_else(wrong);
        let reason = words.get(4).ok_or_else(wrong)?;
        let counts = Counts { day: [number(1)?, number(2)?], set_up: number(3)? };
        found.push((words[0].to_owned(), counts, found.is_empty() || *reason == "release"));
    }
    Ok(found)
}

/// The counts that rule.
fn kept(text: &str) -> Result<Option<Kept>, Failed> {
    let lines = lines(text)?;
    let last = lines.last().map(|l| l.1);
    let release = lines.iter().rfind(|l| l.2).map(|l| l.1);
    Ok(last.zip(release).map(|(last, release)| Kept { last, release }))
}

/// A line to keep.
fn line_of(found: Counts) -> String {
    format!("DATE {} {} {} REASON", found.day[0], found.day[1], found.set_up)
}

/// Refuses a rise above kept counts; a fall of the same size asks for new ones.
fn compare(found: Counts, kept: Counts, whose: &str) -> Result<(), Failed> {
    let line = line_of(found);
    for (what, found, kept) in [
        ("a day of both schemes with the widest instructions", found.day[0], kept.day[0]),
        ("a day of both schemes with plain instructions", found.day[1], kept.day[1]),
        ("the set-up", found.set_up, kept.set_up),
    ] {
        let rise = found as f64 / kept as f64 - 1.0;
        if rise > MOST_RISE {
            return Err(Failed::new(format!(
                "{what} takes {found} instructions, {:.1} % more than {whose} {kept}; at most {:.0} % are \
                 allowed; with a reason in {REASONS}, `{line}` goes into {KEPT}",
                rise * 100.0,
                MOST_RISE * 100.0
            )));
        }
        if rise < -MOST_RISE {
            println!(
                "{what} takes {:.1} % fewer instructions than {whose}; `{line}` in {KEPT} keeps it so",
                -rise * 100.0
            );
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn counts(wide: u64, plain: u64, set_up: u64) -> Counts {
        Counts { day: [wide, plain], set_up }
    }

    /// A rise of 4 % passes, one of 6 % in any of the three counts does not.
    #[test]
    fn rise_is_a_failure() {
        let kept = counts(1000, 2000, 3000);
        let against = |a: u64, b: u64, c: u64| compare(counts(a, b, c), kept, "the kept");
        assert!(against(1040, 2080, 3120).is_ok());
        assert!(against(1060, 2000, 3000).is_err());
        assert!(against(1000, 2120, 3000).is_err());
        assert!(against(1000, 2000, 3180).is_err());
        assert!(against(500, 1000, 1500).is_ok());
    }

    #[test]
    fn last_line_and_last_release_rule() {
        let text = "# counts\n2026-01-01 1 2 3 first\n2026-02-01 4 5 6 wider lanes\n";
        let found = kept(text).unwrap().unwrap();
        assert_eq!((found.last, found.release), (counts(4, 5, 6), counts(1, 2, 3)));
        let found = kept(&format!("{text}2026-03-01 7 8 9 release 1\n2026-04-01 9 9 9 more\n")).unwrap();
        assert_eq!(found.unwrap().release, counts(7, 8, 9));
        assert!(kept("2026-02-01 4 5 6\n").is_err());
        assert!(kept("2026-02-01 4 x 6 reason\n").is_err());
        assert_eq!(kept("# none\n").unwrap(), None);
    }

    /// The file of the repository can be read, every line has its reason under its date, and no rise since a release is
    /// above what is allowed.
    #[test]
    fn kept_counts_have_their_reasons() {
        let text = std::fs::read_to_string(root().join(KEPT)).expect("kept counts");
        let reasons = std::fs::read_to_string(root().join(REASONS)).expect("reasons");
        let found = kept(&text).unwrap().expect("a line");
        for (date, ..) in lines(&text).unwrap() {
            assert!(reasons.contains(&date), "{REASONS} says nothing of {date}");
        }
        compare(found.last, found.release, "the release's").unwrap();
    }
}
