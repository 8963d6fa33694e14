//! A drawn project is a valid project.

use drycoil_intake::MemoryFiles;
use drycoil_intake::project::read_project;
use xtask::big::texts;

#[test]
fn a_drawn_project_has_no_errors() {
    let drawn = texts(300, 3);
    let files = MemoryFiles::new()
        .with("project.toml", &drawn.project)
        .with("rooms.csv", &drawn.rooms)
        .with("surfaces.csv", &drawn.surfaces)
        .with("profiles.csv", &drawn.profiles);
    match read_project(&files, None) {
        Ok(loaded) => assert_eq!(loaded.project.rooms.len(), 300),
        Err(findings) => {
            let text: Vec<String> = findings
                .iter()
                .filter(|f| f.is_bad_input())
                .take(10)
                .map(|f| {
                    format!(
                        "{} {} {:?} {:?}",
                        f.id(),
                        f.message,
                        f.value,
                        f.places.first().map(ToString::to_string)
                    )
                })
                .collect();
            panic!("{} findings\n{}", findings.len(), text.join("\n"));
        }
    }
}
