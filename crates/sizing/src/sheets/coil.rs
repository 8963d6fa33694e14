//! Exchangers as lines: film coefficients, resistances, transfer units, effectiveness, duty.

use super::{above, air, constant};
use crate::design::CoilSteps;
use drycoil_units::QuantityKind as K;
use drycoil_water::liquid::raw as liquid;
use drycoil_working::{Line, Origin, Source};
use std::fmt::Write as _;

const RESISTANCE: Source = Source::new("definition", "thermal resistances in series");
const NTU: Source = Source::new("effectiveness and transfer units", "as in any text on heat exchangers");
const FILM: Source = Source::new("Gnielinski 1976 and 2013", "flow in tubes, without entrance effects");
const UNMIXED: Source = Source::new(
    "Nusselt 1930",
    "cross-flow with both streams unmixed, exact series, terms below 1e-7 left out",
);

pub(crate) fn fitted(what: &str) -> Origin {
    Origin::Table {
        row: format!("{what} of the coil"),
        source: "fitted to the rating points of the catalogue by least squares; residual in the schedule"
            .into(),
        place: None,
    }
}

/// Where the values that enter a coil come from.
pub(crate) struct Entering<'a> {
    /// Tube rows.
    pub rows: u32,
    /// Origin of a value of the catalogue.
    pub catalogue: &'a dyn Fn(&str) -> Origin,
    /// Dry air through the coil.
    pub dry_air: Origin,
    /// Humidity ratio of that air.
    pub humidity: Origin,
    /// Its temperature.
    pub air: Origin,
    /// Water through the coil while it flows.
    pub flow: Origin,
    /// Its temperature.
    pub water: Origin,
}

/// A property of liquid water.
pub(crate) fn water_property(what: &str) -> Origin {
    Origin::Table {
        row: what.to_owned(),
        source: "IAPWS supplementary release on liquid water at 100 kPa, 2011".into(),
        place: None,
    }
}

/// Nusselt number of turbulent flow, as lines that end in the symbol.
fn turbulent(out: &mut Vec<Line>, symbol: &str, (re, re_o): (f64, Origin), pr: f64) -> f64 {
    let f = (0.79 * re.ln() - 1.64).powi(-2) / 8.0;
    out.push(
        Line::new(
            "f_8",
            "eighth of the friction factor of smooth tubes",
            "(0.79 * ln(Re) - 1.64) ^ (-2) / 8",
        )
        .with_number("Re", re, re_o.clone())
        .result_number(f)
        .source(FILM),
    );
    let nu = f * (re - 1000.0) * pr / (1.0 + 12.7 * f.sqrt() * (pr.cbrt().powi(2) - 1.0));
    out.push(
        Line::new(
            symbol,
            "Nusselt number of turbulent flow",
            "f_8 * (Re - 1000) * Pr / (1 + 12.7 * f_8 ^ 0.5 * (Pr ^ (2 / 3) - 1))",
        )
        .with_number("f_8", f, above("f_8"))
        .with_number("Re", re, re_o)
        .with_number("Pr", pr, above("Pr"))
        .result_number(nu)
        .source(FILM),
    );
    nu
}

/// Water-side conductance, as lines that end in `G_water`.
fn water_side(out: &mut Vec<Line>, c: &CoilSteps, from: &Entering<'_>) {
    let t = c.water_mean_c;
    let (rho_in, rho) = (liquid::density_kg_per_m3(c.water_entering_c), liquid::density_kg_per_m3(t));
    let (mu, k, cp) =
        (liquid::viscosity_pa_s(t), liquid::conductivity_w_per_m_k(t), liquid::specific_heat_j_per_kg_k(t));
    let mean =
        |what: &str| water_property(&format!("{what} of water at the mean of entering and leaving water"));
    let fit = &c.fit;
    let circuits = (fit.flow_area_m2 / (std::f64::consts::FRAC_PI_4 * fit.diameter_m.powi(2))).round();
    out.push(
        Line::new("A_flow", "flow area of all circuits", "0.7853981634 * d ^ 2 * n")
            .with("d", K::Length, fit.diameter_m, (from.catalogue)("inner diameter of the tubes"))
            .with_number("n", circuits, (from.catalogue)("parallel circuits"))
            .result(K::Area, fit.flow_area_m2)
            .source(Source::new("definition", "circle")),
    );
    let v = c.water_m3_per_s * rho_in / (rho * fit.flow_area_m2);
    out.push(
        Line::new("v_w", "velocity of the water in the tubes", "V_w * rho_in / (rho_m * A_flow)")
            .with("V_w", K::WaterFlow, c.water_m3_per_s, from.flow.clone())
            .with(
                "rho_in",
                K::Density,
                rho_in,
                water_property("density of water at its entering temperature"),
            )
            .with("rho_m", K::Density, rho, mean("density"))
            .with("A_flow", K::Area, fit.flow_area_m2, above("A_flow"))
            .result(K::Velocity, v)
            .source(Source::new("mass balance of water", "mean velocity")),
    );
    let re = rho * v * fit.diameter_m / mu;
    out.push(
        Line::new("Re", "Reynolds number; viscosity in Pa s", "rho_m * v_w * d / mu")
            .with("rho_m", K::Density, rho, mean("density"))
            .with("v_w", K::Velocity, v, above("v_w"))
            .with("d", K::Length, fit.diameter_m, (from.catalogue)("inner diameter of the tubes"))
            .with_number("mu", mu, mean("viscosity"))
            .result_number(re)
            .source(Source::new("definition", "Reynolds number")),
    );
    let pr = cp * mu / k;
    let prandtl = Line::new("Pr", "Prandtl number; viscosity in Pa s", "c_w * mu / k_w")
        .with("c_w", K::SpecificHeat, cp, mean("specific heat"))
        .with_number("mu", mu, mean("viscosity"))
        .with("k_w", K::Conductivity, k, mean("conductivity"))
        .result_number(pr)
        .source(Source::new("definition", "Prandtl number"));
    let nu = if re <= 2300.0 {
        out.push(super::given_number(
            "Nu",
            "Nusselt number of laminar flow",
            3.66,
            constant("round tube with an even wall temperature, fully developed"),
        ));
        3.66
    } else if re >= 4000.0 {
        out.push(prandtl);
        turbulent(out, "Nu", (re, above("Re")), pr)
    } else {
        out.push(prandtl);
        let top = turbulent(
            out,
            "Nu_4000",
            (4000.0, constant("Reynolds number from which the flow counts as turbulent")),
            pr,
        );
        let nu = 3.66 + (re - 2300.0) / 1700.0 * (top - 3.66);
        out.push(
            Line::new(
                "Nu",
                "Nusselt number between laminar and turbulent",
                "3.66 + (Re - 2300) / 1700 * (Nu_4000 - 3.66)",
            )
            .with_number("Re", re, above("Re"))
            .with_number("Nu_4000", top, above("Nu_4000"))
            .result_number(nu)
            .source(FILM),
        );
        nu
    };
    out.push(
        Line::new("G_water", "conductance of the water side", "Nu * k_w / d * A_w")
            .with_number("Nu", nu, above("Nu"))
            .with("k_w", K::Conductivity, k, mean("conductivity"))
            .with("d", K::Length, fit.diameter_m, (from.catalogue)("inner diameter of the tubes"))
            .with("A_w", K::Area, fit.water_area_m2, fitted("inner surface for which the film counts"))
            .result(K::Conductance, 1.0 / c.water_k_per_w)
            .source(FILM),
    );
}

/// Effectiveness in cross-flow with both streams unmixed, as lines that end in the symbol.
pub(crate) fn unmixed(
    out: &mut Vec<Line>,
    symbol: &str,
    meaning: &str,
    (ntu, ntu_o): (f64, Origin),
    (ratio, ratio_o): (f64, Origin),
    value: f64,
) {
    let x = ratio * ntu;
    out.push(
        Line::new("X", "transfer units of the larger stream", "R * NTU")
            .with_number("R", ratio, ratio_o)
            .with_number("NTU", ntu, ntu_o.clone())
            .result_number(x)
            .source(NTU),
    );
    let (mut n, mut power_n, mut power_x, mut factorial) = (0_u32, 1.0, 1.0, 1.0);
    let (mut polynomial_n, mut polynomial_x) = (0.0, 0.0);
    let (mut text_n, mut text_x) = (String::new(), String::new());
    let mut terms: Vec<(String, f64)> = Vec::new();
    loop {
        polynomial_n += power_n / factorial;
        polynomial_x += power_x / factorial;
        if n == 0 {
            text_n.push('1');
            text_x.push('1');
        } else {
            let _ = write!(text_n, " + NTU ^ {n} / {factorial}");
            let _ = write!(text_x, " + X ^ {n} / {factorial}");
        }
        let term = (1.0 - (-ntu).exp() * polynomial_n) * (1.0 - (-x).exp() * polynomial_x);
        let name = format!("s_{n}");
        out.push(
            Line::new(
                name.clone(),
                format!("term {n} of the series"),
                format!("(1 - exp(-NTU) * ({text_n})) * (1 - exp(-X) * ({text_x}))"),
            )
            .with_number("NTU", ntu, ntu_o.clone())
            .with_number("X", x, above("X"))
            .result_number(term)
            .source(UNMIXED),
        );
        terms.push((name, term));
        n += 1;
        power_n *= ntu;
        power_x *= x;
        factorial *= f64::from(n);
        if (f64::from(n) > x && term < 1e-7) || n > 20 {
            break;
        }
    }
    let names: Vec<&str> = terms.iter().map(|(name, _)| name.as_str()).collect();
    let mut line =
        Line::new(symbol, meaning, format!("sum({}) / X", names.join(", "))).with_number("X", x, above("X"));
    for (name, term) in &terms {
        line = line.with_number(name.clone(), *term, above(name));
    }
    out.push(line.result_number(value).source(UNMIXED));
}

/// Effectiveness of a coil of several rows, as lines that end in `e`.
fn rows_in_counterflow(
    out: &mut Vec<Line>,
    from: &Entering<'_>,
    air_smaller: bool,
    ntu: f64,
    ratio: f64,
    value: f64,
) {
    let n = f64::from(from.rows);
    let one = ntu / n;
    out.push(
        Line::new("NTU_1", "transfer units of one row", "NTU / n")
            .with_number("NTU", ntu, above("NTU"))
            .with_number("n", n, (from.catalogue)("rows of the coil"))
            .result_number(one)
            .source(NTU),
    );
    // Air is unmixed in a row, water is mixed.
    let (formula, e_1) = if air_smaller {
        ("(1 - exp(-R * (1 - exp(-NTU_1)))) / R", -(-ratio * -(-one).exp_m1()).exp_m1() / ratio)
    } else {
        ("1 - exp(-(1 - exp(-R * NTU_1)) / R)", -((-ratio * one).exp_m1() / ratio).exp_m1())
    };
    out.push(
        Line::new("e_1", "effectiveness of one row: air unmixed, water mixed", formula)
            .with_number("R", ratio, above("R"))
            .with_number("NTU_1", one, above("NTU_1"))
            .result_number(e_1)
            .source(NTU),
    );
    out.push(
        Line::new(
            "e",
            "effectiveness of the rows in counterflow",
            "1 - (1 - R) / (((1 - e_1 * R) / (1 - e_1)) ^ n - R)",
        )
        .with_number("R", ratio, above("R"))
        .with_number("e_1", e_1, above("e_1"))
        .with_number("n", n, (from.catalogue)("rows of the coil"))
        .result_number(value)
        .source(NTU),
    );
}

/// Lines from the fitted constants of a coil to its duty, `Q_coil` (positive cools the air).
pub(crate) fn duty(out: &mut Vec<Line>, c: &CoilSteps, from: &Entering<'_>) {
    let total = c.air_k_per_w + c.metal_k_per_w + c.water_k_per_w;
    let conductance = |r: f64| 1.0 / r;
    let m = c.dry_air_kg_per_s;
    out.push(
        Line::new("G_air", "conductance of the air side", "G_1 * (m_air / m_1) ^ k")
            .with("G_1", K::Conductance, c.fit.air_w_per_k, fitted("air-side conductance at 1 kg/s"))
            .with("m_air", K::MassFlow, m, from.dry_air.clone())
            .with("m_1", K::MassFlow, 1.0, constant("flow for which the conductance is given"))
            .with_number("k", c.fit.air_exponent, fitted("exponent of the air-side conductance"))
            .result(K::Conductance, conductance(c.air_k_per_w))
            .source(Source::new("power law of forced convection", "through the rating points")),
    );
    water_side(out, c, from);
    out.push(
        Line::new("UA", "overall conductance", "1 / (1 / G_air + 1 / G_metal + 1 / G_water)")
            .with("G_air", K::Conductance, conductance(c.air_k_per_w), above("G_air"))
            .with("G_metal", K::Conductance, conductance(c.metal_k_per_w), fitted("conductance of the metal"))
            .with("G_water", K::Conductance, conductance(c.water_k_per_w), above("G_water"))
            .result(K::Conductance, 1.0 / total)
            .source(RESISTANCE),
    );
    let cp = air::cp(out, "c_air", "the air in the coil", c.humidity_ratio_kg_per_kg, from.humidity.clone());
    out.push(
        Line::new("C_air", "capacity rate of the air", "m_air * c_air")
            .with("m_air", K::MassFlow, m, from.dry_air.clone())
            .with("c_air", K::SpecificHeat, cp, above("c_air"))
            .result(K::Conductance, c.air_w_per_k)
            .source(NTU),
    );
    out.push(
        Line::new("C_water", "capacity rate of the water", "V_w * rho_in * c_w")
            .with("V_w", K::WaterFlow, c.water_m3_per_s, from.flow.clone())
            .with(
                "rho_in",
                K::Density,
                liquid::density_kg_per_m3(c.water_entering_c),
                water_property("density of water at its entering temperature"),
            )
            .with(
                "c_w",
                K::SpecificHeat,
                liquid::specific_heat_j_per_kg_k(c.water_mean_c),
                water_property("specific heat of water at the mean of entering and leaving water"),
            )
            .result(K::Conductance, c.water_w_per_k)
            .source(NTU),
    );
    let (least, most) = (c.air_w_per_k.min(c.water_w_per_k), c.air_w_per_k.max(c.water_w_per_k));
    for (symbol, meaning, formula, value) in [
        ("C_min", "smaller capacity rate", "min(C_air, C_water)", least),
        ("C_max", "larger capacity rate", "max(C_air, C_water)", most),
    ] {
        out.push(
            Line::new(symbol, meaning, formula)
                .with("C_air", K::Conductance, c.air_w_per_k, above("C_air"))
                .with("C_water", K::Conductance, c.water_w_per_k, above("C_water"))
                .result(K::Conductance, value)
                .source(NTU),
        );
    }
    let (ntu, ratio) = (1.0 / total / least, least / most);
    out.push(
        Line::new("NTU", "transfer units", "UA / C_min")
            .with("UA", K::Conductance, 1.0 / total, above("UA"))
            .with("C_min", K::Conductance, least, above("C_min"))
            .result_number(ntu)
            .source(NTU),
    );
    out.push(
        Line::new("R", "ratio of the capacity rates", "C_min / C_max")
            .with("C_min", K::Conductance, least, above("C_min"))
            .with("C_max", K::Conductance, most, above("C_max"))
            .result_number(ratio)
            .source(NTU),
    );
    if from.rows <= 1 {
        let meaning = "effectiveness, cross-flow with both streams unmixed";
        unmixed(out, "e", meaning, (ntu, above("NTU")), (ratio, above("R")), c.effectiveness);
    } else {
        rows_in_counterflow(out, from, c.air_w_per_k <= c.water_w_per_k, ntu, ratio, c.effectiveness);
    }
    out.push(
        Line::new(
            "t_m",
            "mean water temperature: the one at which the properties above were taken",
            "t_water + e * C_min * (t_air - t_water) / C_water / 2",
        )
        .with("t_water", K::Temperature, c.water_entering_c, from.water.clone())
        .with_number("e", c.effectiveness, above("e"))
        .with("C_min", K::Conductance, least, above("C_min"))
        .with("t_air", K::Temperature, c.air_entering_c, from.air.clone())
        .with("C_water", K::Conductance, c.water_w_per_k, above("C_water"))
        .result(K::Temperature, c.water_mean_c)
        .source(Source::new("heat balance", "iteration on the mean water temperature, closed to 1e-11 K")),
    );
    out.push(
        Line::new("Q_coil", "heat from air to water", "e * C_min * (t_air - t_water)")
            .with_number("e", c.effectiveness, above("e"))
            .with("C_min", K::Conductance, least, above("C_min"))
            .with("t_air", K::Temperature, c.air_entering_c, from.air.clone())
            .with("t_water", K::Temperature, c.water_entering_c, from.water.clone())
            .result(K::Power, c.duty_w)
            .source(NTU),
    );
}
