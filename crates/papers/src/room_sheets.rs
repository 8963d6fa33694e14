//! Room sheets: one page for each room, from its loads to its margin.

use crate::book::place_id;
use crate::issue::{Issue, PaperFile};
use crate::numbers::{grouped, quantity};
use crate::pictures;
use crate::register::{Register, link};
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use crate::table::{RowKind, Tr, numbers, row, table, words};
use drycoil_findings::{Finding, Severity};
use drycoil_pictures::Options;
use drycoil_sizing::{LoadParts, Need, RoomLoads, RoomNeeds, Service, TerminalDesign, service_word};
use drycoil_units::QuantityKind as K;
use drycoil_year::findings::moment_words;
use drycoil_year::result::RoomYear;
use maud::{Markup, html};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Units that were not taken and whose reason is told, so that a sheet stays one page.
const REJECTED_TOLD: usize = 4;

pub(crate) const NAME: &str = "room-sheets";

/// Name of the sheet of a room.
pub(crate) fn room_id(index: usize) -> String {
    format!("r{}", index + 1)
}

pub(crate) fn document(issue: &Issue<'_>, set: &[Entry], register: &Register) -> PaperFile {
    let rooms = &issue.project.rooms;
    let look_up = LookUp::new(issue);
    let sheets: Vec<(Markup, Figures)> =
        (0..rooms.len()).into_par_iter().map(|i| sheet(issue, register, &look_up, i)).collect();
    let mut figures = Figures::default();
    let body = html! {
        nav.contents aria-label="Rooms" {
            h2 { "Rooms" }
            ul { @for (i, r) in rooms.iter().enumerate() { li { a href={ "#" (room_id(i)) } { (r.id) " " (r.name) } } } }
        }
        @for (sheet, own) in sheets { (sheet) (figures.join(own)) }
    };
    let paper = Paper { issue, set, name: NAME, lie: Lie::Upright, frame: Frame::Full, class: "rooms" };
    paper.finish(&body, figures)
}

/// What the sheets look up by room or zone.
struct LookUp<'a> {
    terminals: BTreeMap<&'a str, &'a TerminalDesign>,
    findings: BTreeMap<&'a str, Vec<&'a Finding>>,
}

impl<'a> LookUp<'a> {
    fn new(issue: &Issue<'a>) -> Self {
        let mut findings: BTreeMap<&str, Vec<&Finding>> = BTreeMap::new();
        for f in issue.findings.iter().filter(|f| f.severity() > Severity::Note) {
            if let Some(part) = f.places.first().and_then(|p| p.part.as_deref()) {
                findings.entry(part).or_default().push(f);
            }
        }
        Self { terminals: issue.design.terminals.iter().map(|t| (t.zone.as_str(), t)).collect(), findings }
    }
}

fn sheet(issue: &Issue<'_>, register: &Register, look_up: &LookUp<'_>, i: usize) -> (Markup, Figures) {
    let (project, design) = (issue.project, issue.design);
    let (room, loads, needs) = (&project.rooms[i], &design.loads.rooms[i], &design.needs[i]);
    let s = issue.system;
    let show = |kind: K, v: f64| quantity(s, kind, v);
    let options = |what: &str| Options::new(s, format!("{what}-{}", i + 1));
    let mut figures = Figures::default();
    let terminal = (needs.service == Service::Terminal)
        .then(|| look_up.terminals.get(room.zone.value.as_str()).copied())
        .flatten();
    let working = register.place(&room.id).and_then(|at| {
        let volume = &register.volumes[register.places[at].volume].name;
        link(NAME, issue.links, volume, &place_id(at))
    });
    let markup = html! {
        section.sheet {
            h2 id=(room_id(i)) { (room.id) " " (room.name) }
            dl.facts {
                dt { "Floor, zone, kind" } dd { (room.floor) ", " (room.zone.value) ", " (project.kind_of(room).name) }
                dt { "Served by" } dd { (service_word(needs.service)) (screens(needs)) }
                dt { "Size" } dd {
                    (show(K::Area, room.floor_area.value.to_square_metres())) ", height "
                    (show(K::Length, room.height.value.to_metres())) ", " (people(room.people.value)) ", profile " (room.profile.value)
                }
                dt { "Set points" } dd {
                    (show(K::Temperature, loads.set_point_c)) " cooling, " (show(K::Temperature, loads.heating_set_point_c)) " heating"
                }
                @if let Some(href) = working { dt { "Working" } dd { a href=(href) { "calculation book, " (room.id) } } }
            }
            div.pair {
                div { (load_table(issue, loads)) (need_table(issue, needs)) }
                div {
                    (figures.figure(
                        pictures::sensible_day(loads, &options("day")),
                        &format!("Sensible load by hour, {}.", loads.cooling.day),
                    ))
                    @if loads.latent_by_hour_w.iter().any(|w| *w > 0.0) {
                        (figures.figure(
                            pictures::latent_day(loads, &options("latent")),
                            "Latent gain by hour of a weekday.",
                        ))
                    }
                    @if needs.dew_point_c.is_finite() { (moisture(issue, needs)) }
                }
            }
            @if let Some(t) = terminal { (terminal_part(issue, t)) }
            (year_part(issue, i))
            (room_findings(look_up.findings.get(room.id.as_str()).map_or(&[], Vec::as_slice)))
        }
    };
    (markup, figures)
}

fn people(count: f64) -> String {
    if count == 1.0 {
        "1 person".to_owned()
    } else {
        format!("{} people", grouped(count, usize::from(count.fract() != 0.0)))
    }
}

fn screens(needs: &RoomNeeds) -> Markup {
    html! {
        @for screen in &needs.screens {
            @match &screen.overruled {
                Some(why) => { "; " (screen.reason) ": overruled, " (why) }
                None => { "; " (screen.reason) "; instead: " (screen.instead) }
            }
        }
    }
}

/// Sources of a load in the order of the schedules.
fn parts(p: &LoadParts) -> [(&'static str, f64); 11] {
    [
        ("People", p.people_w),
        ("Lighting", p.lighting_w),
        ("Plug loads", p.plugs_w),
        ("Processes", p.process_w),
        ("Sun through glass", p.solar_w),
        ("Conduction through glass", p.glass_w),
        ("Walls", p.walls_w),
        ("Roof", p.roof_w),
        ("Floors and partitions", p.floors_w),
        ("Infiltration", p.infiltration_w),
        ("Stored heat", p.storage_w),
    ]
}

fn load_table(issue: &Issue<'_>, loads: &RoomLoads) -> Markup {
    let s = issue.system;
    let unit = s.symbol(K::Power);
    let number = |w: f64| if w == 0.0 { String::new() } else { grouped(s.value(K::Power, w), 0) };
    let mut rows: Vec<Tr> = parts(&loads.cooling.parts)
        .iter()
        .zip(parts(&loads.heating.parts))
        // A source that a room does not have takes no line.
        .filter(|((_, c), (_, h))| *c != 0.0 || *h != 0.0)
        .map(|((name, c), (_, h))| row([(*name).to_owned(), number(*c), number(-h)]))
        .collect();
    let total = |w: f64| grouped(s.value(K::Power, w), 0);
    rows.push(
        row(["Sum".to_owned(), total(loads.cooling.load_w), total(loads.heating.load_w)]).kind(RowKind::Sum),
    );
    rows.push(row(["Latent gain".to_owned(), total(loads.latent_w), String::new()]));
    rows.push(row(["To the plenum, beside the sum".to_owned(), total(loads.plenum_w), String::new()]));
    let when = |p: &drycoil_sizing::LoadPeak| format!("{}, hour that begins {:02}:00", p.day, p.hour);
    html! {
        (table(
            "Loads by source at their peaks",
            &[words("Source"), numbers("Cooling", unit), numbers("Heating", unit)],
            &rows,
        ))
        p.note { "Cooling peak: " (when(&loads.cooling)) ". Heating peak: " (when(&loads.heating)) "." }
    }
}

fn need_table(issue: &Issue<'_>, n: &RoomNeeds) -> Markup {
    let s = issue.system;
    let f = K::StandardAirFlow;
    let number = |v: f64| grouped(s.value(f, v), usize::from(s == drycoil_units::UnitSystem::Si));
    let one = |name: &str, v: f64, need: Need| {
        let governs = n.governing == need;
        let name = if governs { format!("{name} (governs)") } else { name.to_owned() };
        row([name, number(v)]).kind(if governs { RowKind::Marked } else { RowKind::Plain })
    };
    let mut rows = vec![
        one("Ventilation", n.ventilation_m3_per_s, Need::Ventilation),
        one("Flow per person", n.per_person_m3_per_s, Need::PerPerson),
        one("Moisture", n.latent_need_m3_per_s, Need::Latent),
        one("Exhaust make-up", n.exhaust_m3_per_s, Need::Exhaust),
        one("Pressurization", n.pressurization_m3_per_s, Need::Pressurization),
        one("Outdoor air changes", n.air_changes_m3_per_s, Need::AirChanges),
    ];
    if n.zone_minimum_m3_per_s > 0.0 || n.governing == Need::TerminalMinimum {
        rows.push(one("Least of the terminal", n.zone_minimum_m3_per_s, Need::TerminalMinimum));
    }
    let name = match n.governing {
        Need::ZoneShare => "Primary air (share of the zone)",
        _ => "Primary air",
    };
    rows.push(row([name.to_owned(), number(n.primary_m3_per_s)]).kind(RowKind::Sum));
    table("Primary-air needs", &[words("Need"), numbers("Air", s.symbol(f))], &rows)
}

fn moisture(issue: &Issue<'_>, n: &RoomNeeds) -> Markup {
    let show = |kind: K, v: f64| quantity(issue.system, kind, v);
    html! {
        h3 { "Moisture" }
        dl.facts {
            dt { "Dew point at design" } dd { (show(K::Temperature, n.dew_point_c)) }
            dt { "Limit" } dd { (show(K::Temperature, n.dew_point_limit_c)) }
            dt { "Highest, occupied" } dd { (show(K::Temperature, n.worst_dew_point_c)) ", " (n.worst_when) }
            dt { "Supply needed at fixed flow" } dd {
                (n.required_dew_point_c.map_or_else(|| "none would do, or none is needed".to_owned(), |c| show(K::Temperature, c)))
            }
            @if let Some(from) = &n.transfer_from {
                dt { "Transfer air" } dd { (show(K::StandardAirFlow, n.transfer_in_m3_per_s)) " from " (from) }
            }
        }
    }
}

fn terminal_part(issue: &Issue<'_>, t: &TerminalDesign) -> Markup {
    let show = |kind: K, v: f64| quantity(issue.system, kind, v);
    let wet = t.water_margin_k < 0.0;
    let short = t.water_margin_k < t.required_margin_k - 1e-9;
    html! {
        h3 { "Terminal " (t.zone) ": " (t.units) " x " (t.model) @if t.rooms.len() > 1 { ", for rooms " (t.rooms.join(", ")) } }
        ul.key {
            li.alarm[short] {
                "Dew-point margin" b { (show(K::TemperatureDifference, t.water_margin_k)) }
                @if wet { "not dry" } @else if short { "below the required " (show(K::TemperatureDifference, t.required_margin_k)) }
                @else { "required " (show(K::TemperatureDifference, t.required_margin_k)) }
            }
            li { "Coil duty, one unit" b { (show(K::Power, t.coil_duty_w)) } "of " (show(K::Power, t.coil_capacity_w)) " with the valve open" }
            li { "Fan air" b { (show(K::StandardAirFlow, t.fan_m3_per_s)) } "of it primary " (show(K::StandardAirFlow, t.primary_m3_per_s)) }
            li {
                "Water" b { (show(K::WaterFlow, t.water_m3_per_s)) }
                (show(K::Temperature, t.water_entering_c)) " to " (show(K::Temperature, t.water_leaving_c))
            }
        }
        dl.facts {
            dt { "Coil air" } dd { (show(K::Temperature, t.coil_air_dew_point_c)) " dew point, from " (t.coil_air_from) }
            dt { "Discharge" } dd { (show(K::Temperature, t.discharge_c)) " cooling, " (show(K::Temperature, t.discharge_heating_c)) " heating" }
            dt { "Heating" } dd { (show(K::Power, t.heating_load_w)) " of " (show(K::Power, t.heating_capacity_w)) }
            dt { "Fan power" } dd { (format!("{:.0} W", t.fan_power_w)) @if let Some(nc) = t.sound_nc { ", NC " (format!("{nc:.0}")) } }
            @if t.supplementary_m3_per_s > 0.0 {
                dt { "Supplementary box" } dd { (show(K::StandardAirFlow, t.supplementary_m3_per_s)) }
            }
            @if !t.rejected.is_empty() {
                dt { "Not taken" } dd {
                    // Those next in size say why; all stand in the workbook.
                    @let left_out = t.rejected.len().saturating_sub(REJECTED_TOLD);
                    @for (i, r) in t.rejected[left_out..].iter().enumerate() { @if i > 0 { "; " } (r.model) ": " (r.reason) }
                    @if left_out > 0 { "; and " (left_out) " more, told in the workbook of the schedules" }
                }
            }
        }
    }
}

fn year_part(issue: &Issue<'_>, i: usize) -> Markup {
    let Some(parts) = &issue.year else { return html! {} };
    let k = K::TemperatureDifference;
    let s = issue.system;
    let rows: Vec<Tr> = parts
        .year
        .schemes
        .iter()
        .filter_map(|scheme| Some((scheme.scheme, scheme.rooms.get(i)?)))
        .map(|(scheme, r): (_, &RoomYear)| {
            let h = |v: f64| grouped(v, usize::from(v > 0.0 && v < 10.0));
            let m = r.margin.as_ref();
            row([
                scheme.word().to_owned(),
                m.map_or_else(String::new, |m| format!("{:.1}", s.value(k, m.smallest_k))),
                m.map_or_else(String::new, |m| moment_words(&m.at)),
                m.map_or_else(String::new, |m| h(m.occupied.below_zero_h)),
                h(r.unmet.warm_h),
                h(r.unmet.cold_h),
                h(r.occupied_h),
                r.humidity.highest_occupied_rh.map_or_else(String::new, |v| format!("{:.0}", v * 100.0)),
            ])
        })
        .collect();
    table(
        "The simulated year",
        &[
            words("Scheme"),
            numbers("Smallest margin", s.symbol(k)),
            words("When"),
            numbers("Wet while in use", "h"),
            numbers("Too warm", "h"),
            numbers("Too cold", "h"),
            numbers("In use", "h"),
            numbers("Highest humidity in use", "%"),
        ],
        &rows,
    )
}

fn room_findings(own: &[&Finding]) -> Markup {
    html! {
        @if !own.is_empty() {
            h3 { "Findings" }
            ul {
                @for f in own {
                    li {
                        (f.severity().word()) " " (f.id()) ": " (f.message)
                        @if let Some(w) = &f.waiver { " (accepted, " (w.role) ", " (w.date) ": " (w.reason) ")" }
                    }
                }
            }
        }
    }
}
