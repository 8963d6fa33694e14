//! The working of a number, on a sheet that is made up here.

use drycoil::commands::working::{Sheets, answer};
use drycoil::{Context, Exit, Failure, Form, Settings};
use drycoil_findings::Place;
use drycoil_units::{QuantityKind, UnitSystem};
use drycoil_working::{Line, Origin, Sheet, Source, check};
use std::io::Write;
use std::sync::{Arc, Mutex};

#[derive(Clone, Default)]
struct Memory(Arc<Mutex<Vec<u8>>>);

impl Write for Memory {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

struct MadeUp;

impl Sheets for MadeUp {
    fn places(&self) -> Vec<String> {
        vec!["B-204".into(), "B-205".into(), "primary air".into()]
    }
    fn quantities(&self, place: &str) -> Vec<String> {
        match place {
            "B-204" | "B-205" => vec!["primary_air_flow".into(), "latent_gain".into()],
            _ => vec!["supply_dew_point".into()],
        }
    }
    fn sheet(&self, place: &str, quantity: &str) -> Option<Sheet> {
        // 60 W of latent heat from a person: a made-up number of this test.
        let line = Line::new("q_latent", "latent gain of the room", "people * q_person")
            .with_number("people", 8.0, Origin::File(Place::line("rooms.csv", 7, 1).row(6).key("people")))
            .with(
                "q_person",
                QuantityKind::Power,
                60.0,
                Origin::default_value("seated, light work", "this test"),
            )
            .result(QuantityKind::Power, 480.0)
            .source(Source::new("this test", "made up"))
            .note("the note of the line");
        (quantity == "latent_gain").then(|| Sheet {
            place: place.into(),
            quantity: quantity.into(),
            title: "latent gain at design".into(),
            lines: vec![line],
        })
    }
}

fn ask(
    place: Option<&str>,
    quantity: Option<&str>,
    system: UnitSystem,
    form: Form,
) -> (Result<Exit, Failure>, String) {
    let out = Memory::default();
    let settings = Settings { form, ..Settings::plain() };
    let mut context = Context::new(settings, Box::new(out.clone()), Box::new(std::io::sink()));
    let result = answer(&MadeUp, place, quantity, system, &mut context);
    let text = String::from_utf8(out.0.lock().unwrap().clone()).unwrap();
    (result, text)
}

#[test]
fn a_sheet_shows_formula_numbers_result_source_and_origins() {
    let (result, text) = ask(Some("B-204"), Some("latent_gain"), UnitSystem::Si, Form::Human);
    assert_eq!(result.unwrap(), Exit::Clean);
    assert_eq!(
        text,
        "\
B-204, latent_gain: latent gain at design

1. latent gain of the room
   q_latent = people * q_person
            = 8.0000000 * 60.000000 W
            = 480.000 W
   source: this test, made up
   note: the note of the line
     where     is         from
     --------  ---------  ---------------------------------------
     people    8.00000    rooms.csv:7:1, row 6, `people`
     q_person  60.0000 W  default: seated, light work (this test)
"
    );
}

#[test]
fn the_printed_numbers_give_the_printed_result_in_both_unit_systems() {
    for system in [UnitSystem::Si, UnitSystem::Ip] {
        let (_, text) = ask(Some("B-204"), Some("latent_gain"), system, Form::Human);
        let values: Vec<f64> = text
            .lines()
            .filter_map(|l| l.trim_start().strip_prefix("= "))
            .map(|l| check::evaluate(l).unwrap())
            .collect();
        // Six digits are printed of the result.
        assert_eq!(values.len(), 2);
        assert!((values[0] / values[1] - 1.0).abs() < 1e-5, "{text}");
    }
}

#[test]
fn the_json_holds_si_values_and_the_place_of_an_input() {
    let (_, text) = ask(Some("B-204"), Some("latent_gain"), UnitSystem::Ip, Form::Json);
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let line = &value["lines"][0];
    assert_eq!(line["si"], 480.0);
    assert_eq!(line["si_unit"], "W");
    assert!(line["result"].as_str().unwrap().ends_with("Btu/h"));
    assert_eq!(line["inputs"][0]["origin"]["kind"], "file");
    assert_eq!(line["inputs"][0]["origin"]["place"]["row"], 6);
    assert_eq!(line["inputs"][1]["origin"]["kind"], "default");
}

#[test]
fn names_that_are_nearly_right_get_a_suggestion() {
    let (result, _) = ask(Some("B-240"), Some("latent_gain"), UnitSystem::Si, Form::Human);
    let failure = result.unwrap_err();
    assert_eq!(failure.exit(), Exit::Usage);
    assert_eq!(failure.text(), "error: no place is called `B-240`\n  hint: did you mean `B-204`?\n");
    let (result, _) = ask(Some("b-204"), Some("latent-gains"), UnitSystem::Si, Form::Human);
    assert_eq!(
        result.unwrap_err().text(),
        "error: no quantity is called `latent_gains`\n  hint: did you mean `latent_gain`?\n"
    );
    let (result, _) = ask(Some("B-204"), Some("colour"), UnitSystem::Si, Form::Human);
    assert!(result.unwrap_err().text().contains("B-204 has primary_air_flow, latent_gain"));
    // The name is known, but this design has no such number.
    let (result, _) = ask(Some("B-204"), Some("primary_air_flow"), UnitSystem::Si, Form::Human);
    assert_eq!(result.unwrap_err().exit(), Exit::Usage);
}

#[test]
fn what_may_be_asked_is_listed() {
    let (result, text) = ask(None, None, UnitSystem::Si, Form::Human);
    assert!(result.is_ok());
    assert_eq!(text, "B-204, B-205\n    primary_air_flow, latent_gain\nprimary air\n    supply_dew_point\n");
    let (_, text) = ask(Some("primary air"), None, UnitSystem::Si, Form::Human);
    assert_eq!(text, "supply_dew_point\n");
    let (_, text) = ask(None, None, UnitSystem::Si, Form::Json);
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["primary air"][0], "supply_dew_point");
}
