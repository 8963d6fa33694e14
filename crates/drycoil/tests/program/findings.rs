//! How findings are drawn.

use drycoil::Exit;
use drycoil::render::findings::{self, Colour, Extent, Sources, Style};
use drycoil_findings::{Finding, FindingKind, Place, Severity, Stage, Waiver, registry};

static LOW_MARGIN: FindingKind = FindingKind {
    id: "XX-001",
    severity: Severity::Warning,
    stage: Stage::Result,
    title: "a finding of this test",
    why: "-",
    remedy: "-",
};

const SOURCE: &str = "format = 1\n\n[site]\nflor = 3\n";

fn unknown_key() -> Finding {
    Finding::new(registry::project::UNKNOWN_KEY, "`flor` is not a key of `[site]`")
        .at(Place::line("project.toml", 4, 1).key("site.flor").span(19, 23))
        .allowed("floors, name")
        .hint("did you mean `floors`?")
}

fn sources(text: &str) -> Sources {
    let mut sources = Sources::default();
    sources.add("project.toml", text);
    sources
}

fn drawn(list: &[Finding], sources: &Sources) -> String {
    findings::draw(list, sources, Style::Drawn, Extent::Short, Colour::Plain, 100)
}

#[test]
fn a_finding_with_its_source_shows_the_line() {
    let text = drawn(&[unknown_key()], &sources(SOURCE));
    assert_eq!(
        text,
        "\
error[PF-002]: `flor` is not a key of `[site]`
 --> project.toml:4:1
  |
4 | flor = 3
  | ^^^^ site.flor
  |
  = allowed: floors, name
  = hint: did you mean `floors`?

1 error, 0 warnings, 0 notes
"
    );
}

#[test]
fn a_finding_without_its_source_still_says_where() {
    for sources in [
        Sources::default(),
        sources("short"),
        sources("\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}\u{b0}"),
    ] {
        let text = drawn(&[unknown_key()], &sources);
        assert!(text.contains("at: project.toml:4:1, `site.flor`"), "{text}");
        assert!(text.contains("hint: did you mean"), "{text}");
    }
}

#[test]
fn ends_of_the_file_and_windows_line_ends_can_be_shown() {
    let windows = SOURCE.replace('\n', "\r\n");
    for span in [(0, 0), (22, 26), (windows.len(), windows.len()), (0, windows.len())] {
        let finding =
            Finding::new(registry::project::SYNTAX, "broken here")
                .at(Place::line("project.toml", 1, 1).span(span.0, span.1));
        let text = drawn(&[finding], &sources(&windows));
        assert!(text.contains("project.toml:"), "{span:?}: {text}");
    }
}

#[test]
fn rows_of_a_table_are_drawn_as_a_table() {
    let list: Vec<Finding> = (1..=4)
        .map(|row| {
            Finding::new(registry::project::UNKNOWN_KEY, format!("the area of row {row} has no unit"))
                .at(Place::file("rooms.csv").row(row).key("floor_area"))
                .value("120")
                .allowed("ft2, m2")
                .hint("write `120 ft2`")
        })
        .collect();
    let text = drawn(&list, &Sources::default());
    assert!(text.starts_with("4 errors in rooms.csv:\n"), "{text}");
    assert!(text.contains("row"), "{text}");
    assert!(!text.contains("line"), "an empty column is not shown: {text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    assert!(text.ends_with("4 errors, 0 warnings, 0 notes\n"));
}

static REMARK: FindingKind = FindingKind {
    id: "XX-002",
    severity: Severity::Note,
    stage: Stage::Result,
    title: "a note of this test",
    why: "-",
    remedy: "-",
};

#[test]
fn many_notes_are_counted_and_many_warnings_of_a_kind_are_cut() {
    let room = |kind: &'static FindingKind, n: u32| {
        Finding::new(kind, format!("about room {n}"))
            .at(Place { line: Some(n + 1), ..Place::file("rooms.csv").row(n).of(format!("R{n}")) })
            .value("2.0 degF")
            .allowed("at least 3.0 degF")
    };
    let mut list: Vec<Finding> = (1..=5).map(|n| room(&REMARK, n)).collect();
    let draw = |list: &[Finding], extent, style| {
        findings::draw(list, &Sources::default(), style, extent, Colour::Plain, 100)
    };
    // Five notes can be read.
    assert!(draw(&list, Extent::Short, Style::Drawn).contains("R5"));
    list.push(room(&REMARK, 6));
    assert_eq!(
        draw(&list, Extent::Short, Style::Drawn),
        "6 notes (XX-002 x 6): --notes lists them\n\n0 errors, 0 warnings, 6 notes\n"
    );
    assert!(draw(&list, Extent::Full, Style::Drawn).contains("R6"));
    list.extend((1..=12).map(|n| room(&LOW_MARGIN, n)));
    let text = draw(&list, Extent::Short, Style::Drawn);
    assert!(
        text.starts_with("10 warnings [XX-001] in rooms.csv: a finding of this test\nline  of"),
        "{text}"
    );
    assert!(text.contains("R10") && !text.contains("R11"), "{text}");
    assert!(text.contains("and 2 more of XX-001, a finding of this test: --notes lists them\n"), "{text}");
    assert!(text.ends_with("0 errors, 12 warnings, 6 notes\n"));
    let lines = |extent| draw(&list, extent, Style::Concise).lines().count();
    assert_eq!((lines(Extent::Short), lines(Extent::Full)), (12, 18));
}

#[test]
fn the_worst_comes_first_and_then_the_place() {
    let list = [
        Finding::new(&LOW_MARGIN, "c").at(Place::part("A-101")),
        Finding::new(registry::project::SYNTAX, "b").at(Place::line("project.toml", 9, 2)),
        Finding::new(registry::project::SYNTAX, "a").at(Place::line("project.toml", 10, 1)),
    ];
    let text = findings::draw(&list, &Sources::default(), Style::Concise, Extent::Short, Colour::Plain, 100);
    assert_eq!(
        text,
        "project.toml:9:2: error[PF-001]: b\nproject.toml:10:1: error[PF-001]: a\nA-101: warning[XX-001]: c\n"
    );
}

#[test]
fn the_exit_code_follows_the_severity() {
    let warning = Finding::new(&LOW_MARGIN, "c");
    let mut waived = warning.clone();
    waived.waiver = Some(Waiver {
        reason: "agreed".into(),
        role: "mechanical engineer".into(),
        date: "2026-01-31".into(),
    });
    let mut waived_input = unknown_key();
    waived_input.waiver = waived.waiver.clone();
    for (list, fail_on, exit) in [
        (vec![], Severity::Note, Exit::Clean),
        (vec![warning.clone()], Severity::Warning, Exit::Found),
        (vec![warning.clone()], Severity::Note, Exit::Found),
        (vec![warning], Severity::Error, Exit::Clean),
        (vec![waived.clone()], Severity::Warning, Exit::Clean),
        (vec![unknown_key()], Severity::Error, Exit::BadInput),
        (vec![waived_input], Severity::Error, Exit::BadInput),
    ] {
        assert_eq!(findings::exit(&list, fail_on), exit, "{list:?}");
    }
    assert_eq!(findings::summary(&[waived]), "0 errors, 1 warning (1 waived), 0 notes");
}

#[test]
fn the_json_of_a_finding_names_its_place() {
    let value = findings::as_json(&[unknown_key()]);
    assert_eq!(value[0]["id"], "PF-002");
    assert_eq!(value[0]["severity"], "error");
    assert_eq!(value[0]["stage"], "input");
    assert_eq!(value[0]["places"][0]["line"], 4);
    assert_eq!(value[0]["places"][0]["key"], "site.flor");
    assert!(value[0]["waiver"].is_null());
}

#[test]
fn a_message_cannot_steer_the_terminal() {
    let finding = Finding::new(&LOW_MARGIN, "a\u{1b}[2Jb").at(Place::part("\u{7}"));
    for style in [Style::Drawn, Style::Concise] {
        let text = findings::draw(
            std::slice::from_ref(&finding),
            &Sources::default(),
            style,
            Extent::Short,
            Colour::Plain,
            100,
        );
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{text:?}");
    }
}
