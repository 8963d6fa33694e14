//! A dry coil as lines: resistances, transfer units, effectiveness, duty.

use super::{above, constant};
use crate::design::CoilSteps;
use drycoil_units::QuantityKind as K;
use drycoil_working::{Line, Origin, Source};

const RESISTANCE: Source = Source::new("definition", "thermal resistances in series");
const NTU: Source = Source::new("effectiveness and transfer units", "as in any text on heat exchangers");

/// Lines from the resistances of a coil to its duty, `Q_coil` (positive cools the air).
pub(crate) fn duty(out: &mut Vec<Line>, c: &CoilSteps, rows: u32, water: Origin, air: Origin) {
    let fitted = |what: &str| Origin::Table {
        row: format!("{what}, at this flow and temperature"),
        source: "fitted to the rating points of the catalogue by least squares; residual in the schedule"
            .into(),
    };
    let total = c.air_k_per_w + c.metal_k_per_w + c.water_k_per_w;
    let conductance = |r: f64| 1.0 / r;
    out.push(
        Line::new("UA", "overall conductance", "1 / (1 / G_air + 1 / G_metal + 1 / G_water)")
            .with("G_air", K::Conductance, conductance(c.air_k_per_w), fitted("air side"))
            .with("G_metal", K::Conductance, conductance(c.metal_k_per_w), fitted("metal"))
            .with("G_water", K::Conductance, conductance(c.water_k_per_w), fitted("water side"))
            .result(K::Conductance, 1.0 / total)
            .source(RESISTANCE),
    );
    let least = c.air_w_per_k.min(c.water_w_per_k);
    out.push(
        Line::new("C_min", "smaller capacity rate", "min(C_air, C_water)")
            .with("C_air", K::Conductance, c.air_w_per_k, constant("dry air times its specific heat"))
            .with(
                "C_water",
                K::Conductance,
                c.water_w_per_k,
                constant("water flow times density and specific heat at its mean temperature"),
            )
            .result(K::Conductance, least)
            .source(NTU),
    );
    out.push(
        Line::new("NTU", "transfer units", "UA / C_min")
            .with("UA", K::Conductance, 1.0 / total, above("UA"))
            .with("C_min", K::Conductance, least, above("C_min"))
            .result_number(1.0 / total / least)
            .source(NTU),
    );
    let how = if rows <= 1 {
        "cross-flow, both streams unmixed, exact series".to_owned()
    } else {
        format!("{rows} rows in cross-counterflow, each exact cross-flow")
    };
    out.push(
        Line::new("Q_coil", "heat from air to water", "e * C_min * (t_air - t_water)")
            .with_number(
                "e",
                c.effectiveness,
                Origin::Table {
                    row: format!("effectiveness at NTU and C_min/C_max: {how}"),
                    source: "heat-exchanger theory".into(),
                },
            )
            .with("C_min", K::Conductance, least, above("C_min"))
            .with("t_air", K::Temperature, c.air_entering_c, air)
            .with("t_water", K::Temperature, c.water_entering_c, water)
            .result(K::Power, c.duty_w)
            .source(NTU),
    );
}
