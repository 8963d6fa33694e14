//! The design basis: what was asked, what was decided and why, and what it rests on.

mod design;
mod rests_on;
mod year;

use crate::book::Sources;
use crate::issue::{Issue, PaperFile};
use crate::numbers::{W_PER_KBTU_H, W_PER_TON, grouped, quantity};
use crate::register::Register;
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use drycoil_units::{QuantityKind as K, UnitSystem};
use maud::{Markup, html};

pub(crate) const NAME: &str = "design-basis";

/// The sections in their order; their position is their number.
const SECTIONS: [(&str, &str); 13] = [
    ("result", "Result"),
    ("job", "The job"),
    ("climate", "Climate"),
    ("criteria", "Criteria"),
    ("off-system", "Rooms without a terminal"),
    ("system", "The system"),
    ("dew-point", "Supply dew point, room limit and water"),
    ("primary-air", "Primary air and rooms"),
    ("water", "Water plant"),
    ("year", "The year, against the all-air scheme"),
    ("cost", "Cost and emissions"),
    ("assumptions", "Assumptions and defaults"),
    ("findings", "Findings"),
];
const REFERENCES: (&str, &str) = ("references", "References");

/// The heading of a section, with its number.
fn heading(id: &str) -> Markup {
    let all = SECTIONS.iter().chain([&REFERENCES]);
    let found = all.enumerate().find(|(_, (i, _))| *i == id);
    html! { @if let Some((n, (id, title))) = found { h2 id=(id) { (n + 1) " " (title) } } }
}

/// A quantity with its unit.
fn show(issue: &Issue<'_>, kind: K, si: f64) -> String {
    quantity(issue.system, kind, si)
}

/// A heating load of plant size.
fn heating(issue: &Issue<'_>, w: f64) -> String {
    match issue.system {
        UnitSystem::Si => format!("{:.1}\u{a0}kW", w / 1e3),
        UnitSystem::Ip => format!("{:.0}\u{a0}kBtu/h", w / W_PER_KBTU_H),
    }
}

/// A cooling load of plant size.
fn load(issue: &Issue<'_>, w: f64) -> String {
    match issue.system {
        UnitSystem::Si => format!("{:.1}\u{a0}kW", w / 1e3),
        UnitSystem::Ip => format!("{:.1}\u{a0}ton", w / W_PER_TON),
    }
}

/// Sum of what is minimised.
fn objective(issue: &Issue<'_>, v: f64) -> String {
    let d = &issue.design.dew_point;
    let (v, unit) =
        if d.objective_unit == "kWh" { (v / 3.6e6, "kWh") } else { (v, d.objective_unit.as_str()) };
    if v.is_finite() { format!("{} {unit}", grouped(v, 0)).replace(' ', "\u{a0}") } else { "-".to_owned() }
}

pub(crate) fn document(
    issue: &Issue<'_>,
    set: &[Entry],
    register: &Register,
    sources: &Sources,
) -> PaperFile {
    let mut figures = Figures::default();
    let body = html! {
        nav.contents aria-label="Sections" {
            h2 { "Sections" }
            ul { @for (n, (id, title)) in SECTIONS.iter().chain([&REFERENCES]).enumerate() {
                li { a href={ "#" (id) } { (n + 1) " " (title) } }
            } }
        }
        (design::result(issue, register))
        (design::job(issue))
        (design::climate(issue))
        (design::criteria(issue))
        (design::off_system(issue))
        (design::system(issue))
        (design::dew_point(issue, &mut figures))
        (design::primary_air(issue, &mut figures))
        (design::water(issue, &mut figures))
        (year::comparison(issue, &mut figures))
        (year::cost(issue))
        (rests_on::assumptions(issue))
        (rests_on::findings(issue))
        (rests_on::references(issue, sources))
    };
    let paper = Paper { issue, set, name: NAME, lie: Lie::Upright, frame: Frame::Full, class: "basis" };
    paper.finish(&body, figures)
}
