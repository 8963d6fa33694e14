//! The search for the supply dew point against what is selected afterwards: the optimum can be built, the warmest water is
//! warmest by the units of the catalogue, exhaust and moisture of the search are those of the result.

#[path = "support/projects.rs"]
mod projects;

use drycoil_sizing::Service;
use projects::{close, f, need, read_example, size, text};

const OFFICES: &str = "id,name,floor,kind,floor_area [ft2],people\n\
    101,Office,1,office-enclosed,160,1\n\
    102,Meeting room,1,meeting,320,12\n\
    103,Office,1,office-open,2600,13\n";

/// Walls and windows for them, so that the wide office decides.
const FACADES: &str = "room,kind,construction,area [ft2],facing\n\
    101,wall,wall,80,S\n101,window,double,40,S\n102,wall,wall,120,S\n103,window,double,300,W\n";

fn ids(design: &drycoil_sizing::Design) -> Vec<&'static str> {
    design.findings.iter().map(drycoil_findings::Finding::id).collect()
}

#[test]
fn phys_an_optimum_without_pins_has_a_terminal_for_every_zone() {
    // Small projects of offices, whose first optimum once stood at water that no unit of the catalogue could use.
    let small = "id,floor,kind,floor_area [ft2],people\n1,1,office-open,1600,10\n";
    for (rooms, surfaces) in [(OFFICES, ""), (OFFICES, FACADES), (small, "")] {
        let design = size(&text("", rooms, surfaces));
        assert!(!ids(&design).contains(&"TU-021"), "{:#?}", design.findings);
        assert_eq!(design.dew_point.chosen.unserved_zones, 0);
        let zones = design.needs.iter().filter(|n| n.service == Service::Terminal).count();
        assert_eq!(design.terminals.len(), zones);
        let units: u32 = design.terminals.iter().map(|t| t.units).sum();
        assert_eq!(design.dew_point.chosen.terminal_units, units, "the search counts the units of selection");
        let boxes = design.terminals.iter().filter(|t| t.supplementary_m3_per_s > 0.0).count();
        assert_eq!(design.dew_point.chosen.supplementary_boxes as usize, boxes);
    }
}

#[test]
fn inv_the_warmest_water_is_where_selection_begins_to_fail() {
    let design = size(&text("", OFFICES, FACADES));
    let told = design.dew_point.binding.iter().any(|b| b.starts_with("warmest water"));
    assert!(told, "{:?}", design.dew_point.binding);
    // One step of the lattice of room limits (1/8 degF) warmer, at the same supply: a zone is left without a unit.
    let (limit, supply) = (design.dew_point.room_limit_c, design.dew_point.supply_dew_point_c);
    for (more, fails) in [(0.0, false), (0.125, true)] {
        let pins = format!(
            "[dew_point]\nroom_limit = \"{:.6} degF\"\nsupply = \"{:.6} degF\"\n",
            f(limit) + more,
            f(supply)
        );
        let pinned = size(&text(&pins, OFFICES, FACADES));
        assert_eq!(ids(&pinned).contains(&"TU-021"), fails, "{more} degF: {:#?}", pinned.findings);
        assert_eq!(pinned.dew_point.chosen.unserved_zones > 0, fails);
    }
}

#[test]
fn phys_terminals_that_cost_something_count_units_of_selection() {
    let prices = "[economics]\ncurrency = \"USD\"\nelectricity = \"0.11 per kWh\"\ndiscount_rate = \"3 %\"\nlife = \"20 year\"\n";
    let unpriced = size(&text(prices, OFFICES, ""));
    assert!(unpriced.dew_point.binding.iter().any(|b| b.contains("warm water looks free")));
    // So dear that a second unit cannot pay: fewer units, or as many, never more.
    let dear = size(&text(&format!("{prices}terminal_each = 1000000\n"), OFFICES, ""));
    let count = |d: &drycoil_sizing::Design| d.terminals.iter().map(|t| t.units).sum::<u32>();
    assert!(!dear.dew_point.binding.iter().any(|b| b.contains("warm water looks free")));
    assert!(count(&dear) <= count(&unpriced));
    assert!(count(&dear) == dear.dew_point.chosen.terminal_units);
    // Uniform capital recovery of 20 years at 3 % is 0.067216 (NIST Handbook 135, from its formula).
    let first = 1e6 * f64::from(count(&dear)) * 0.067_216;
    assert!(dear.dew_point.chosen.objective > first * 0.9999);
}

#[test]
fn xchk_search_and_unit_count_on_the_same_exhaust() {
    for name in ["public-services-building", "two-storey-school"] {
        let job = read_example(name);
        let design =
            drycoil_sizing::size(&job.loaded.project, &job.weather.year, &projects::pool(2)).unwrap();
        // The drying coil of the final unit delivers what the search asked for.
        assert!(!ids(&design).contains(&"PA-002"), "{name}");
        let chosen = &design.dew_point.chosen;
        // And its terminals are those that the search counted.
        let units: u32 = design.terminals.iter().map(|t| t.units).sum();
        let boxes = design.terminals.iter().filter(|t| t.supplementary_m3_per_s > 0.0).count();
        assert_eq!((chosen.terminal_units, chosen.supplementary_boxes as usize), (units, boxes), "{name}");
        let unit = design.primary_unit.cases.iter().map(|c| c.coil_total_w).fold(0.0, f64::max);
        // The share of exhaust may differ by the hundredth that the search allows.
        let own = chosen.drying_load_w;
        assert!(unit <= own * 1.02, "{name}: {unit} against {own}");
    }
}

#[test]
fn phys_rooms_off_the_system_balance_by_their_own_units() {
    let job = read_example("public-services-building");
    let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &projects::pool(2)).unwrap();
    let entered: f64 = job
        .loaded
        .project
        .rooms
        .iter()
        .zip(&design.needs)
        .filter(|(_, n)| n.service == Service::OffSystem)
        .map(|(r, _)| r.exhaust.value.to_m3_per_s())
        .sum();
    let building = design.balance.last().unwrap();
    assert!(entered > 0.0, "the demo has a kitchen hood");
    // Everything that its hoods take is in the balance, and something makes it up.
    assert!(building.own_units_exhaust_m3_per_s >= entered * (1.0 - 1e-12));
    let drawn: f64 =
        design.needs.iter().filter(|n| n.service == Service::OffSystem).map(|n| n.transfer_in_m3_per_s).sum();
    assert!(
        building.own_units_outdoor_m3_per_s + drawn >= building.own_units_exhaust_m3_per_s * (1.0 - 1e-12)
    );
}

#[test]
fn phys_transfer_air_of_a_more_humid_room_needs_more_primary_air() {
    // A room with its own lower limit and an exhaust larger than its primary air draws air of a room at the limit of the
    // building. Balance at the limits: m_p (W_own - W_s) = q/h_g + m_tr (W_limit - W_own).
    let rooms = |limit: &str| {
        format!(
            "id,floor,kind,floor_area [ft2],people,exhaust [cfm],transfer_from,dew_point_limit [degF]\n\
             1,1,office-open,1600,10,,,\n2,1,office-enclosed,200,2,150,1,{limit}\n"
        )
    };
    let toml = "[criteria]\ninfiltration = \"0 cfm/ft2\"\npressurization = \"0 cfm/ft2\"\n\n\
                [dew_point]\nroom_limit = \"56 degF\"\nsupply = \"48 degF\"\n";
    let design = size(&text(toml, &rooms("53"), ""));
    let n = need(&design, "2");
    assert!(n.transfer_in_m3_per_s > 0.0);
    let w = |c: f64| drycoil_air::raw::humidity_ratio_at_dew_point(c, design.site.pressure_pa);
    let (own, limit, supply) =
        (w(projects::c(53.0)), w(projects::c(56.0)), design.dew_point.supply_humidity_ratio_kg_per_kg);
    let rho = drycoil_units::STANDARD_AIR_DENSITY_KG_PER_M3;
    let carry = n.design_hour.gain_kg_per_s + n.transfer_in_m3_per_s * rho * (limit - own);
    assert!(close(n.latent_need_m3_per_s, carry / (own - supply) / rho, 1e-9), "{n:#?}");
    // So the room holds its own limit in every occupied hour.
    assert!(
        n.worst_dew_point_c <= n.dew_point_limit_c + 1e-6,
        "{} {}",
        n.worst_dew_point_c,
        n.dew_point_limit_c
    );
    // At the same limit as its source the transfer air brings nothing.
    let same = size(&text(toml, &rooms("56"), ""));
    let m = need(&same, "2");
    assert!(close(m.latent_need_m3_per_s, m.design_hour.gain_kg_per_s / (limit - supply) / rho, 1e-9));
}
