//! Files of the repository, and Rust text without its comments and literals.

use crate::Failed;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Files of the repository, relative to its root, sorted: those that are tracked or would be; without a repository,
/// as in an unpacked archive, all but build output.
pub fn files(root: &Path) -> Result<Vec<PathBuf>, Failed> {
    let listed = Command::new("git")
        .args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"])
        .current_dir(root)
        .output();
    let mut list: Vec<PathBuf> = match listed {
        Ok(output) if output.status.success() => String::from_utf8_lossy(&output.stdout)
            .split('\0')
            .filter(|name| !name.is_empty())
            .map(PathBuf::from)
            .filter(|path| root.join(path).is_file())
            .collect(),
        _ => {
            let mut list = Vec::new();
            walk(root, root, &mut list)
                .map_err(|error| Failed::new(format!("cannot list {}: {error}", root.display())))?;
            list
        }
    };
    list.sort();
    Ok(list)
}

fn walk(root: &Path, folder: &Path, list: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name();
        if [".git", "target", "node_modules", "results", ".venv", "__pycache__"]
            .iter()
            .any(|skip| name == *skip)
        {
            continue;
        }
        let path = entry.path();
        if entry.file_type()?.is_dir() {
            walk(root, &path, list)?;
        } else if let Ok(short) = path.strip_prefix(root) {
            list.push(short.to_path_buf());
        }
    }
    Ok(())
}

/// The code of a Rust file: comments, and what stands inside text and character literals, become spaces; lines stay
/// where they are.
///
/// ```
/// use xtask::source::code;
/// assert_eq!(code("a(\"b\"); // c"), "a(\" \");     ");
/// assert_eq!(code("&'a str"), "&'a str");
/// ```
pub fn code(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut i = 0;
    let blank = |c: char| if c == '\n' { '\n' } else { ' ' };
    while i < chars.len() {
        let next = chars.get(i + 1).copied();
        match chars[i] {
            '/' if next == Some('/') => {
                while i < chars.len() && chars[i] != '\n' {
                    out.push(' ');
                    i += 1;
                }
            }
            '/' if next == Some('*') => {
                let mut depth = 0;
                while i < chars.len() {
                    let pair = (chars[i], chars.get(i + 1).copied());
                    let step = match pair {
                        ('/', Some('*')) => {
                            depth += 1;
                            2
                        }
                        ('*', Some('/')) => {
                            depth -= 1;
                            2
                        }
                        _ => 1,
                    };
                    for c in &chars[i..i + step] {
                        out.push(blank(*c));
                    }
                    i += step;
                    if depth == 0 {
                        break;
                    }
                }
            }
            'r' if raw_text_starts(&chars, i) => {
                let hashes = chars[i + 1..].iter().take_while(|c| **c == '#').count();
                out.push('r');
                out.extend(std::iter::repeat_n('#', hashes));
                out.push('"');
                i += hashes + 2;
                while i < chars.len() {
                    if chars[i] == '"'
                        && chars[i + 1..].iter().take(hashes).filter(|c| **c == '#').count() == hashes
                    {
                        out.push('"');
                        out.extend(std::iter::repeat_n('#', hashes));
                        i += 1 + hashes;
                        break;
                    }
                    out.push(blank(chars[i]));
                    i += 1;
                }
            }
            '"' => {
                out.push('"');
                i += 1;
                while i < chars.len() && chars[i] != '"' {
                    let step = if chars[i] == '\\' { 2.min(chars.len() - i) } else { 1 };
                    for c in &chars[i..i + step] {
                        out.push(blank(*c));
                    }
                    i += step;
                }
                if i < chars.len() {
                    out.push('"');
                    i += 1;
                }
            }
            // A character, not a lifetime: 'x' or '\n'.
            '\'' if next == Some('\\') || chars.get(i + 2) == Some(&'\'') => {
                let end =
                    (i + 2..chars.len()).find(|j| chars[*j] == '\'' && (*j > i + 2 || next != Some('\\')));
                let end = end.unwrap_or(chars.len() - 1);
                out.push('\'');
                out.extend(std::iter::repeat_n(' ', end - i - 1));
                out.push('\'');
                i = end + 1;
            }
            c => {
                out.push(c);
                i += 1;
            }
        }
    }
    out
}

fn raw_text_starts(chars: &[char], i: usize) -> bool {
    let after_name = i > 0 && (chars[i - 1].is_alphanumeric() || chars[i - 1] == '_') && chars[i - 1] != 'b';
    let mut j = i + 1;
    while chars.get(j) == Some(&'#') {
        j += 1;
    }
    !after_name && chars.get(j) == Some(&'"')
}

/// The code before the test module, which by our style is the last item of a file.
pub fn without_tests(code: &str) -> &str {
    code.find("#[cfg(test)]").map_or(code, |end| &code[..end])
}

/// Whether a word stands in the code, not as a part of a longer name.
pub fn has_word(code: &str, word: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(word).any(|(at, _)| {
        let before = code[..at].chars().next_back();
        let after = code[at + word.len()..].chars().next();
        let longer_before = before.is_some_and(part) && word.starts_with(part);
        let longer_after = after.is_some_and(part) && word.ends_with(part);
        !longer_before && !longer_after
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_literals_are_blanked() {
        let text = "/* println!( */ let a = r#\"std::fs \"# ; let c = '\"'; let d = '\\''; // std::env\nx";
        let code = code(text);
        assert_eq!(code.chars().count(), text.chars().count());
        assert_eq!(code.lines().count(), 2);
        for gone in ["println", "std", "env"] {
            assert!(!code.contains(gone), "{code}");
        }
        for kept in ["let a", "let c", "let d", "x"] {
            assert!(code.contains(kept), "{code}");
        }
    }

    #[test]
    fn nested_comments_and_escapes_end_where_they_end() {
        assert_eq!(code("/* a /* b */ c */d").trim(), "d");
        assert!(code(r#"let s = "a\"b"; println!()"#).contains("println!()"));
        assert!(code("let b = br\"x\"; eprintln!()").contains("eprintln!()"));
        assert!(code("fn f<'a>(x: &'a str) { print!() }").contains("print!()"));
    }

    #[test]
    fn words_are_whole() {
        assert!(has_word("let x = Instant::now()", "Instant"));
        assert!(!has_word("let x = Instantaneous", "Instant"));
        assert!(!has_word("eprintln!(", "println!"));
    }
}
