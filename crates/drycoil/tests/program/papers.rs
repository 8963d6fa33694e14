//! `drycoil papers`: documents as a browser, a checker and a reader without eyes meet them.

use crate::support::{designed, example, run, run_in};
use drycoil_sizing::{Cell, ColumnKind, schedules};
use drycoil_units::UnitSystem;
use scraper::{ElementRef, Html, Selector};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::OnceLock;

/// Documents by name.
type Set = BTreeMap<String, String>;

fn read_set(folder: &Path) -> Set {
    std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "html"))
        .map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), std::fs::read_to_string(p).unwrap()))
        .collect()
}

fn issued(project: &str, more: &[&str]) -> Set {
    let folder = tempfile::tempdir().unwrap();
    let path = example(project).to_string_lossy().into_owned();
    let mut arguments = vec!["papers", path.as_str(), "--out", "papers"];
    arguments.extend(more);
    let ran = run_in(folder.path(), &arguments);
    assert!(matches!(ran.code, Some(0 | 1)), "{}{}", ran.out, ran.err);
    read_set(&folder.path().join("papers"))
}

/// The demonstration with everything, in its own units.
fn demo() -> &'static Set {
    static SET: OnceLock<Set> = OnceLock::new();
    SET.get_or_init(|| issued("public-services-building", &[]))
}

/// One room in SI, with its year and without.
fn small(without_year: bool) -> &'static Set {
    static WITH: OnceLock<Set> = OnceLock::new();
    static WITHOUT: OnceLock<Set> = OnceLock::new();
    if without_year {
        WITHOUT.get_or_init(|| issued("one-room", &["--units", "si", "--without-year"]))
    } else {
        WITH.get_or_init(|| issued("one-room", &["--units", "si"]))
    }
}

fn all() -> [(&'static str, &'static Set); 3] {
    [("demo", demo()), ("one room", small(false)), ("one room without year", small(true))]
}

fn pick<'a>(html: &'a Html, selector: &str) -> Vec<ElementRef<'a>> {
    html.select(&Selector::parse(selector).unwrap()).collect()
}

fn text(element: &ElementRef<'_>) -> String {
    element.text().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_document_parses_without_an_error_and_has_its_parts() {
    for (name, set) in all() {
        assert!(set.len() >= 6, "{name}: {:?}", set.keys());
        for (file, source) in set {
            let html = Html::parse_document(source);
            assert_eq!(html.errors, Vec::<std::borrow::Cow<'static, str>>::new(), "{name} {file}");
            for (selector, count) in [("html[lang=en]", 1), ("h1", 1), ("main", 1), ("body > header", 1)] {
                assert_eq!(pick(&html, selector).len(), count, "{name} {file}: {selector}");
            }
            assert!(pick(&html, "script, link, iframe, img, object, form").is_empty(), "{name} {file}");
            for table in pick(&html, "table") {
                assert!(
                    table.child_elements().next().is_some_and(|c| c.value().name() == "caption"),
                    "{file}"
                );
            }
            for th in pick(&html, "th") {
                let scope = th.value().attr("scope");
                assert!(matches!(scope, Some("col" | "row" | "rowgroup")), "{name} {file}: {}", th.html());
            }
            for svg in pick(&html, "svg") {
                let says = |key: &str| {
                    let id = svg.value().attr(key).unwrap();
                    text(&pick(&html, &format!("#{id}"))[0]).len()
                };
                assert!(says("aria-labelledby") > 5 && says("aria-describedby") > 40, "{name} {file}");
            }
            for word in ["NaN", ">inf<", "a picture cannot be drawn"] {
                assert!(!source.contains(word), "{name} {file}: {word}");
            }
        }
    }
}

#[test]
fn ids_are_unique_and_every_link_leads_somewhere() {
    for (name, set) in all() {
        let parsed: BTreeMap<&str, Html> =
            set.iter().map(|(file, source)| (file.as_str(), Html::parse_document(source))).collect();
        let ids: BTreeMap<&str, BTreeSet<&str>> = parsed
            .iter()
            .map(|(file, html)| {
                let list = pick(html, "[id]");
                let ids: BTreeSet<&str> = list.iter().filter_map(|e| e.value().attr("id")).collect();
                assert_eq!(ids.len(), list.len(), "{name} {file}: an id is given twice");
                (*file, ids)
            })
            .collect();
        for (file, html) in &parsed {
            let links = pick(html, "[href]");
            assert!(links.len() > 2, "{name} {file}");
            for link in links {
                let href = link.value().attr("href").unwrap();
                let (target, id) = href.split_once('#').unwrap_or((href, ""));
                let target = if target.is_empty() { *file } else { target };
                let there = ids.get(target).unwrap_or_else(|| panic!("{name} {file}: {href}"));
                assert!(id.is_empty() || there.contains(id), "{name} {file}: {href}");
            }
        }
    }
}

#[test]
fn schedules_and_calculation_book_point_at_each_other() {
    for (name, set) in all() {
        let schedules = Html::parse_document(&set["schedules.html"]);
        let mut back: BTreeMap<String, String> = BTreeMap::new();
        for (file, source) in set.iter().filter(|(f, _)| f.starts_with("calculation-book")) {
            let html = Html::parse_document(source);
            for sheet in pick(&html, "tbody > tr[id^='w']") {
                // A row without a link is a step that several numbers share.
                let links = pick_in(&sheet, "a[href^='schedules.html#']");
                let Some(href) = links.first().and_then(|a| a.value().attr("href")) else { continue };
                let here = format!("{file}#{}", sheet.value().attr("id").unwrap());
                back.insert(here, href.trim_start_matches("schedules.html#").to_owned());
            }
        }
        let numbers = pick(&schedules, "data").len();
        let cells = pick(&schedules, "main table a[id]");
        // Every number of every schedule has its working.
        assert_eq!(cells.len(), numbers, "{name}");
        let mut met = BTreeSet::new();
        for cell in &cells {
            let href = cell.value().attr("href").unwrap();
            let own = cell.value().attr("id").unwrap();
            let cell_of_sheet = back.get(href).unwrap_or_else(|| panic!("{name}: {href}"));
            met.insert(cell_of_sheet.as_str());
            // A number that stands in two schedules has one sheet, which leads to the first of the two.
            assert!(own == cell_of_sheet || met.contains(cell_of_sheet.as_str()), "{name}: {own}");
        }
        assert_eq!(met.len(), back.len(), "{name}: a sheet without a scheduled number");
    }
}

fn pick_in<'a>(element: &ElementRef<'a>, selector: &str) -> Vec<ElementRef<'a>> {
    element.select(&Selector::parse(selector).unwrap()).collect()
}

fn every_number(value: &Value, into: &mut Vec<f64>) {
    match value {
        Value::Number(n) => into.extend(n.as_f64()),
        Value::Array(list) => list.iter().for_each(|v| every_number(v, into)),
        Value::Object(map) => map.values().for_each(|v| every_number(v, into)),
        _ => {}
    }
}

/// What the schedules repeat from the room list; it is input, so the results do not hold it.
const INPUT: [&str; 3] = ["floor_area", "height", "people"];

#[test]
fn every_number_of_the_schedules_is_that_of_the_results_and_is_rounded_right() {
    for (project, set, system) in
        [("public-services-building", demo(), UnitSystem::Ip), ("one-room", small(false), UnitSystem::Si)]
    {
        let (job, design) = designed(project, 2);
        let mut results = Vec::new();
        every_number(&serde_json::to_value(&design).unwrap(), &mut results);
        results.sort_by(f64::total_cmp);
        // Reading JSON may be off in the last bit.
        let is_result = |si: f64| {
            let at = results.partition_point(|v| *v < si - si.abs() * 1e-14);
            results.get(at).is_some_and(|v| (v - si).abs() <= si.abs() * 1e-14)
        };
        let html = Html::parse_document(&set["schedules.html"]);
        let cells: BTreeMap<&str, ElementRef<'_>> =
            pick(&html, "main table a[id]").into_iter().map(|a| (a.value().attr("id").unwrap(), a)).collect();
        let mut seen = 0;
        for (s, schedule) in schedules(&job.loaded.project, &design).iter().enumerate() {
            for (r, row) in schedule.rows.iter().enumerate() {
                for (c, (column, cell)) in schedule.columns.iter().zip(&row.cells).enumerate() {
                    let Cell::Number(si) = cell else { continue };
                    if column.kind == ColumnKind::Text {
                        continue;
                    }
                    let id = format!("s{}-{}-{c}", s + 1, r + 1);
                    let data = pick_in(&cells[id.as_str()], "data")[0];
                    let value: f64 = data.value().attr("value").unwrap().parse().unwrap();
                    assert_eq!(value.to_bits(), si.to_bits(), "{project} {id} {}", column.key);
                    let given = INPUT.contains(&column.key) && schedule.name == "Rooms";
                    assert!(given || is_result(value), "{project} {id} {}: {value}", column.key);
                    let shown: f64 = text(&data).split_whitespace().collect::<String>().parse().unwrap();
                    let half = 0.5 * 0.1_f64.powi(i32::try_from(column.decimals(system)).unwrap());
                    let exact = column.shown(value, system);
                    assert!(
                        (shown - exact).abs() <= half * (1.0 + 1e-9),
                        "{project} {id}: {shown} for {exact}"
                    );
                    seen += 1;
                }
            }
        }
        assert_eq!(seen, cells.len(), "{project}");
    }
}

#[test]
fn every_document_says_what_it_is_of() {
    let (job, _) = designed("public-services-building", 2);
    let project = &job.loaded.project;
    let fingerprint = format!("{:016x}", project.fingerprint);
    for (file, source) in demo() {
        for part in [
            project.name.value.as_str(),
            &format!("revision {}", project.revision.value),
            &fingerprint,
            drycoil::VERSION,
            "licensed engineer",
            "authority having jurisdiction",
            "smoke control",
        ] {
            assert!(source.contains(part), "{file}: {part}");
        }
        if file != "owners-page.html" {
            for edition in drycoil_results::editions(project) {
                assert!(source.contains(&edition), "{file}: {edition}");
            }
        }
    }
}

#[test]
fn what_is_accepted_is_printed_with_reason_role_and_date() {
    let (job, _) = designed("public-services-building", 2);
    let basis = &demo()["design-basis.html"];
    let waivers = &job.loaded.project.waivers;
    assert!(!waivers.is_empty());
    for w in waivers {
        for part in [&w.id, &w.waiver.reason, &w.waiver.role, &w.waiver.date] {
            assert!(basis.contains(part.as_str()), "{part}");
        }
    }
}

#[test]
fn paper_follows_the_units_and_can_be_chosen() {
    assert!(demo()["design-basis.html"].contains("size:letter;"));
    assert!(demo()["schedules.html"].contains("size:letter landscape;"));
    assert!(small(true)["design-basis.html"].contains("size:A4;"));
    let set = issued("one-room", &["--units", "si", "--paper", "letter", "--without-year"]);
    assert!(set["design-basis.html"].contains("size:letter;"));
}

#[test]
fn without_the_year_documents_say_so() {
    let set = small(true);
    assert_eq!(set["design-basis.html"].matches("The year was not simulated for this issue").count(), 2);
    assert!(set["owners-page.html"].contains("was not simulated for this page"));
    assert!(!small(false)["design-basis.html"].contains("was not simulated"));
    // Four pictures in both cases.
    for set in [set, small(false), demo()] {
        let html = Html::parse_document(&set["owners-page.html"]);
        assert_eq!(pick(&html, "figure > svg").len(), 4);
    }
}

/// A duct main that fits no listed size has no sheet to price.
#[test]
fn what_is_not_known_is_no_number() {
    for (name, html) in &issued("bad/duct-too-high", &[]) {
        assert!(!html.contains("NaN"), "{name}: {:?}", html.split("NaN").next().map(|t| &t[t.len() - 300..]));
    }
}

/// Dear maintenance of the decoupled scheme outweighs what it saves in energy, and the owner is told.
#[test]
fn the_owner_hears_when_the_whole_cost_is_higher() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job");
    std::fs::create_dir(&job).unwrap();
    let from = example("public-services-building");
    for name in ["rooms.csv", "surfaces.csv"] {
        std::fs::copy(from.join(name), job.join(name)).unwrap();
    }
    std::fs::copy(example("weather/greensboro-nc-tmy3.csv"), job.join("year.csv")).unwrap();
    let toml = std::fs::read_to_string(from.join("project.toml")).unwrap();
    let toml = toml
        .replace("../weather/greensboro-nc-tmy3.csv", "year.csv")
        .replace("[economics]\n", "[economics]\npump_each = 30000\n");
    std::fs::write(job.join("project.toml"), toml).unwrap();
    let ran = run_in(folder.path(), &["papers", "job", "--out", "papers"]);
    assert!(matches!(ran.code, Some(0 | 1)), "{}{}", ran.out, ran.err);
    let page = &read_set(&folder.path().join("papers"))["owners-page.html"];
    assert!(page.contains("MORE today: it does NOT win"), "{page}");
    // Without every price only energy is compared, and the page says what is not in it.
    assert!(
        demo()["owners-page.html"].contains("building, replacing, water and maintenance are not in that")
    );
}

#[test]
fn the_same_input_gives_the_same_bytes_on_any_number_of_threads() {
    let again = issued("public-services-building", &["--threads", "1"]);
    for (file, source) in demo() {
        assert!(again[file] == *source, "{file} differs");
    }
    assert_eq!(again.len(), demo().len());
}

#[test]
fn other_units_change_the_numbers_and_keep_the_values() {
    let ip = issued("one-room", &["--units", "ip", "--without-year"]);
    let values = |set: &Set| -> Vec<String> {
        let html = Html::parse_document(&set["schedules.html"]);
        pick(&html, "data").iter().map(|d| d.value().attr("value").unwrap().to_owned()).collect()
    };
    assert_eq!(values(&ip), values(small(true)));
    assert!(ip["schedules.html"].contains("cfm") && !ip["schedules.html"].contains("L/s"));
    assert!(!small(true)["schedules.html"].contains("cfm"));
}

/// The text of a document as it is read, a line for each row or block, without pictures and what names the build.
fn reading(source: &str) -> String {
    let html = Html::parse_document(source);
    let mut out = String::new();
    for block in pick(&html, "h1, h2, h3, p, caption, tr, li, dt, dd") {
        let inside = block.ancestors().filter_map(ElementRef::wrap).any(|e| {
            matches!(e.value().name(), "svg" | "nav")
                || (e.value().name() == "li" && block.value().name() != "li")
        });
        if inside {
            continue;
        }
        let line = if block.value().name() == "tr" {
            block.child_elements().map(|c| text(&c)).collect::<Vec<_>>().join(" | ")
        } else {
            text(&block)
        };
        let line = line.replace(drycoil::VERSION, "VERSION");
        if !line.is_empty() {
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}

#[test]
fn regress_room_sheet_and_design_basis_of_one_room() {
    let set = small(true);
    insta::assert_snapshot!("room_sheets", reading(&set["room-sheets.html"]));
    insta::assert_snapshot!("design_basis", reading(&set["design-basis.html"]));
}

#[test]
fn regress_schedules_of_one_room() {
    insta::assert_snapshot!("schedules", reading(&small(true)["schedules.html"]));
}

#[test]
fn a_missing_browser_is_known_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let ran =
        run_in(folder.path(), &["papers", &project, "--out", "papers", "--pdf", "--browser", "no/such"]);
    assert_eq!(ran.code, Some(3), "{}", ran.err);
    assert!(ran.err.contains("no browser `no/such`"), "{}", ran.err);
    assert!(std::fs::read_dir(folder.path()).unwrap().next().is_none());
    let ran = run_in(folder.path(), &["papers", &project, "--browser", "chromium"]);
    assert_eq!(ran.code, Some(3), "{}", ran.err);
    // A program that is no browser: what it says is passed on, and nothing half is left.
    let program = env!("CARGO_BIN_EXE_drycoil");
    let ran = run_in(
        folder.path(),
        &["papers", &project, "--out", "papers", "--without-year", "--pdf", "--browser", program],
    );
    assert_eq!(ran.code, Some(4), "{}", ran.err);
    assert!(ran.err.contains("cannot print with"), "{}", ran.err);
    let left: Vec<String> = std::fs::read_dir(folder.path().join("papers"))
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.contains(".part") || n.contains(".pdf"))
        .collect();
    assert_eq!(left, Vec::<String>::new());
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("taken"), b"").unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let ran = run_in(folder.path(), &["papers", &project, "--out", "taken", "--without-year"]);
    assert_eq!(ran.code, Some(4), "{}", ran.err);
    assert!(ran.err.contains("taken"), "{}", ran.err);
}

#[test]
fn bad_input_is_reported_as_by_every_command() {
    let ran = run(&["papers", "bad/no-such-project"]);
    assert_eq!(ran.code, Some(4), "{}", ran.err);
}

#[test]
fn documents_of_an_earlier_issue_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let papers = folder.path().join("papers");
    std::fs::create_dir(&papers).unwrap();
    std::fs::write(papers.join("calculation-book-99.html"), b"old").unwrap();
    std::fs::write(papers.join("notes.html"), b"mine").unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let ran = run_in(folder.path(), &["papers", &project, "--out", "papers", "--without-year"]);
    assert!(ran.err.contains("calculation-book-99.html is of an earlier issue"), "{}", ran.err);
    assert!(!ran.err.contains("notes.html"), "{}", ran.err);
    assert_eq!(std::fs::read(papers.join("calculation-book-99.html")).unwrap(), b"old");
}

#[test]
fn the_list_of_files_as_json() {
    let folder = tempfile::tempdir().unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let ran = run_in(folder.path(), &["papers", &project, "--out", "papers", "--without-year", "--json"]);
    let json = ran.json();
    let files = json["files"].as_array().unwrap();
    assert!(files.len() >= 7 && json["fingerprint"].as_str().unwrap().len() == 16);
    for file in files {
        assert!(folder.path().join(file.as_str().unwrap()).is_file(), "{file}");
    }
}

/// Prints with the browser of this machine; says so where there is none.
#[test]
#[allow(clippy::print_stderr)]
fn a_real_browser_prints_the_owners_page_on_one_page_and_the_same_bytes_twice() {
    let browser = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"]
        .into_iter()
        .find(|p| Path::new(p).is_file());
    let Some(browser) = browser else {
        eprintln!("NOT RUN: there is no browser of the Chromium family on this machine");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let mut prints: Vec<BTreeMap<String, Vec<u8>>> = Vec::new();
    for out in ["a", "b"] {
        let mut command = crate::support::command(
            folder.path(),
            &["papers", &project, "--out", out, "--pdf", "--browser", browser],
        );
        command.env("PATH", "/usr/bin:/bin").env("HOME", folder.path());
        let ran = crate::support::Ran::from(command.output().unwrap());
        assert!(matches!(ran.code, Some(0 | 1)), "{}", ran.err);
        let pdfs = std::fs::read_dir(folder.path().join(out))
            .unwrap()
            .map(|e| e.unwrap().path())
            .filter(|p| p.extension().is_some_and(|e| e == "pdf"))
            .map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), std::fs::read(p).unwrap()))
            .collect();
        prints.push(pdfs);
    }
    let pages = |name: &str| String::from_utf8_lossy(&prints[0][name]).matches("/Type /Page\n").count();
    assert_eq!(pages("owners-page.pdf"), 1);
    assert!((2..=6).contains(&pages("room-sheets.pdf")), "{}", pages("room-sheets.pdf"));
    assert!(pages("design-basis.pdf") >= 6 && pages("schedules.pdf") >= 6);
    assert!(prints[0] == prints[1], "two prints differ");
}
