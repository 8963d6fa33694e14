//! The table of crates in `docs/ARCHITECTURE.md`: which crate may use which.

use crate::metadata::{Package, packages, short};
use crate::{Failed, read, root};
use std::fmt::Write as _;

/// Where the table begins.
pub const BEGIN: &str = "<!-- crates: begin -->";
/// Where the table ends.
pub const END: &str = "<!-- crates: end -->";

/// One row of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Short name of the crate.
    pub name: String,
    /// What it holds.
    pub holds: String,
    /// Short names of the crates of ours that it uses.
    pub ours: Vec<String>,
    /// Other crates that it uses.
    pub others: Vec<String>,
}

/// The rows of the table in this text, in its order.
pub fn rows(text: &str) -> Result<Vec<Row>, Failed> {
    let (_, rest) =
        text.split_once(BEGIN).ok_or_else(|| Failed::new("docs/ARCHITECTURE.md has no table of crates"))?;
    let (table, _) = rest.split_once(END).ok_or_else(|| Failed::new("the table of crates does not end"))?;
    let mut rows = Vec::new();
    for line in table.lines().filter(|l| l.starts_with("| `")) {
        let cells: Vec<&str> = line.trim().trim_matches('|').split('|').map(str::trim).collect();
        let [name, holds, ours, others] = cells.as_slice() else {
            return Err(Failed::new(format!("a row of the table of crates has not four cells: {line}")));
        };
        let list = |cell: &str| -> Vec<String> {
            cell.split(',').map(|w| w.trim().trim_matches('`').to_owned()).filter(|w| !w.is_empty()).collect()
        };
        rows.push(Row {
            name: name.trim_matches('`').to_owned(),
            holds: (*holds).to_owned(),
            ours: list(ours),
            others: list(others),
        });
    }
    Ok(rows)
}

/// How the table differs from the manifests.
pub fn differences(rows: &[Row], packages: &[Package]) -> Vec<String> {
    let mut found = Vec::new();
    for package in packages {
        let Some(row) = rows.iter().find(|r| r.name == package.short()) else {
            found.push(format!("docs/ARCHITECTURE.md: the crate `{}` is not in the table", package.short()));
            continue;
        };
        let ours: Vec<&str> = package.ours.iter().map(|n| short(n)).collect();
        for (what, table, manifest) in [
            ("crates of ours", row.ours.iter().map(String::as_str).collect::<Vec<_>>(), ours),
            (
                "other crates",
                row.others.iter().map(String::as_str).collect(),
                package.others.iter().map(String::as_str).collect(),
            ),
        ] {
            let (mut table, mut manifest) = (table, manifest);
            table.sort_unstable();
            manifest.sort_unstable();
            if table != manifest {
                found.push(format!(
                    "docs/ARCHITECTURE.md: {what} of `{}` are [{}] in the table and [{}] in its manifest",
                    row.name,
                    table.join(", "),
                    manifest.join(", ")
                ));
            }
        }
    }
    for row in rows {
        if !packages.iter().any(|p| p.short() == row.name) {
            found.push(format!("docs/ARCHITECTURE.md: there is no crate `{}`", row.name));
        }
    }
    found
}

/// Crates that use one which stands below them in the table: data flows one way.
pub fn upward(rows: &[Row]) -> Vec<String> {
    let mut found = Vec::new();
    for (index, row) in rows.iter().enumerate() {
        for used in &row.ours {
            if rows.iter().position(|r| r.name == *used).is_none_or(|at| at >= index) {
                found.push(format!(
                    "docs/ARCHITECTURE.md: `{}` uses `{used}`, which does not stand above it",
                    row.name
                ));
            }
        }
    }
    found
}

/// The text with its table brought in line with the manifests. The order and the words of the rows stay; a new crate
/// is added at the end with the description of its manifest.
pub fn updated(text: &str, packages: &[Package]) -> Result<String, Failed> {
    let mut rows = rows(text)?;
    for package in packages {
        if !rows.iter().any(|r| r.name == package.short()) {
            rows.push(Row {
                name: package.short().to_owned(),
                holds: package.description.clone(),
                ours: Vec::new(),
                others: Vec::new(),
            });
        }
    }
    let mut table = String::from("\n| crate | holds | uses of ours | uses of others |\n|---|---|---|---|\n");
    for row in &rows {
        let Some(package) = packages.iter().find(|p| p.short() == row.name) else { continue };
        let code = |names: Vec<&str>| names.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", ");
        let ours = code(package.ours.iter().map(|n| short(n)).collect());
        let others = code(package.others.iter().map(String::as_str).collect());
        let _ = writeln!(table, "| `{}` | {} | {ours} | {others} |", row.name, row.holds);
    }
    let begin = text.find(BEGIN).expect("just read") + BEGIN.len();
    let end = text.find(END).expect("just read");
    Ok(format!("{}{table}{}", &text[..begin], &text[end..]))
}

/// Rewrites the table from the manifests.
pub fn write() -> Result<(), Failed> {
    let path = root().join("docs/ARCHITECTURE.md");
    let text = read(&path)?;
    let new = updated(&text, &packages()?)?;
    if new != text {
        crate::write(&path, new.as_bytes())?;
        println!("wrote docs/ARCHITECTURE.md");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn package(name: &str, ours: &[&str]) -> Package {
        Package {
            name: format!("drycoil-{name}"),
            description: "new".into(),
            folder: std::path::PathBuf::new(),
            ours: ours.iter().map(|n| format!("drycoil-{n}")).collect(),
            others: vec!["libm".into()],
            development: Vec::new(),
        }
    }

    const TEXT: &str =
        "a\n<!-- crates: begin -->\n| `units` | quantities |  | `libm` |\n<!-- crates: end -->\nb\n";

    #[test]
    fn a_forgotten_dependency_is_found_and_written() {
        let packages = [package("units", &[]), package("air", &["units"])];
        let found = differences(&rows(TEXT).unwrap(), &packages);
        assert_eq!(found, ["docs/ARCHITECTURE.md: the crate `air` is not in the table"]);
        let text = updated(TEXT, &packages).unwrap();
        assert!(text.starts_with("a\n") && text.ends_with("\nb\n"), "{text}");
        assert!(text.contains("| `air` | new | `units` | `libm` |"), "{text}");
        assert!(differences(&rows(&text).unwrap(), &packages).is_empty());
        assert_eq!(updated(&text, &packages).unwrap(), text);
        let changed = [package("units", &[]), package("air", &[])];
        assert_eq!(differences(&rows(&text).unwrap(), &changed).len(), 1);
    }

    #[test]
    fn a_crate_that_uses_one_below_it_is_found() {
        let text =
            "<!-- crates: begin -->\n| `air` | a | `units` | |\n| `units` | b | | |\n<!-- crates: end -->";
        assert_eq!(upward(&rows(text).unwrap()).len(), 1);
    }
}
