//! Steps of moist air as lines that evaluate by themselves.

use super::{Cx, MOIST_AIR, above, constant};
use drycoil_air::raw;
use drycoil_units::{QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

const HYLAND_WEXLER: Source =
    Source::new("Hyland and Wexler 1983", "as printed in ASHRAE Fundamentals 2017 ch. 1, eq. 5 and 6");
const COEFFICIENT: &str = "coefficient of Hyland and Wexler";

/// Coefficients over ice and over water: of 1/T, 1, T, T^2, T^3, T^4 and ln T.
const ICE: [f64; 7] =
    [-5674.5359, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019];
const WATER: [f64; 7] = [-5800.2206, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673];

fn coefficients(t_c: f64) -> &'static [f64; 7] {
    if t_c > raw::SEAM_C { &WATER } else { &ICE }
}

fn with_coefficients(mut line: Line, c: &[f64; 7], used: &[usize]) -> Line {
    for i in used {
        if c[*i] != 0.0 {
            line = line.with_number(format!("a_{}", i + 1), c[*i], constant(COEFFICIENT));
        }
    }
    line
}

/// Lines up to the logarithm of the saturation pressure in Pa at a temperature. Symbols end in the tag.
fn ln_saturation(out: &mut Vec<Line>, tag: &str, t_c: f64, origin: Origin) -> f64 {
    let theta = t_c + 273.15;
    out.push(
        Line::new(
            format!("T_{tag}"),
            "absolute temperature in kelvin, as a number",
            format!("(t_{tag} - t_zero) / K_1"),
        )
        .with(format!("t_{tag}"), K::Temperature, t_c, origin)
        .with("t_zero", K::Temperature, -273.15, constant("absolute zero"))
        .with("K_1", K::TemperatureDifference, 1.0, constant("the unit in which the equation is published"))
        .result_number(theta)
        .source(Source::new("definition", "absolute temperature")),
    );
    let c = coefficients(t_c);
    let x = raw::ln_saturation_pressure(t_c);
    let fourth = if c[5] == 0.0 { "" } else { " + a_6 * T ^ 4" };
    let formula = format!("a_1 / T + a_2 + a_3 * T + a_4 * T ^ 2 + a_5 * T ^ 3{fourth} + a_7 * ln(T)");
    out.push(
        with_coefficients(
            Line::new(
                format!("x_{tag}"),
                format!(
                    "logarithm of the saturation pressure in Pa over {}",
                    if t_c > raw::SEAM_C { "water" } else { "ice" }
                ),
                formula,
            ),
            c,
            &[0, 1, 2, 3, 4, 5, 6],
        )
        .with_number("T", theta, above(&format!("T_{tag}")))
        .result_number(x)
        .source(HYLAND_WEXLER),
    );
    x
}

/// Humidity ratio of saturated air, as lines that end in `W_tag`.
pub(crate) fn saturated(
    cx: Cx<'_>,
    out: &mut Vec<Line>,
    tag: &str,
    t_c: f64,
    origin: Origin,
    meaning: &str,
) -> f64 {
    let x = ln_saturation(out, tag, t_c, origin);
    let p_ws = raw::saturation_pressure_pa(t_c);
    out.push(
        Line::new(format!("p_{tag}"), "saturation pressure", format!("p_1 * exp(x_{tag})"))
            .with("p_1", K::Pressure, 1.0, constant("the unit in which the equation is published"))
            .with_number(format!("x_{tag}"), x, above(&format!("x_{tag}")))
            .result(K::Pressure, p_ws)
            .source(HYLAND_WEXLER),
    );
    let w = raw::humidity_ratio_from_vapour_pressure(p_ws, cx.p());
    out.push(
        Line::new(format!("W_{tag}"), meaning, format!("0.621945 * p_{tag} / (p - p_{tag})"))
            .with(format!("p_{tag}"), K::Pressure, p_ws, above(&format!("p_{tag}")))
            .with("p", K::Pressure, cx.p(), cx.pressure_origin())
            .result(K::HumidityRatio, w)
            .source(MOIST_AIR),
    );
    w
}

/// Dew point of a humidity ratio, as lines that end in `symbol` with exactly the value given.
pub(crate) fn dew_point(
    cx: Cx<'_>,
    out: &mut Vec<Line>,
    symbol: &str,
    meaning: &str,
    (w, w_origin): (f64, Origin),
    value_c: f64,
) {
    let p_w = raw::vapour_pressure_pa(w, cx.p());
    out.push(
        Line::new("p_w", "vapour pressure", "p * W / (0.621945 + W)")
            .with("p", K::Pressure, cx.p(), cx.pressure_origin())
            .with("W", K::HumidityRatio, w, w_origin)
            .result(K::Pressure, p_w)
            .source(MOIST_AIR),
    );
    let x = ln_saturation(
        out,
        "0",
        value_c,
        constant("temperature found by Newton steps; the last line shows that no further step is needed"),
    );
    let c = coefficients(value_c);
    let theta = value_c + 273.15;
    let slope = raw::ln_saturation_pressure_slope_per_k(value_c);
    let fourth = if c[5] == 0.0 { "" } else { " + 4 * a_6 * T ^ 3" };
    out.push(
        with_coefficients(
            Line::new(
                "s",
                "slope of that logarithm, per kelvin",
                format!("-a_1 / T ^ 2 + a_3 + 2 * a_4 * T + 3 * a_5 * T ^ 2{fourth} + a_7 / T"),
            ),
            c,
            &[0, 2, 3, 4, 5, 6],
        )
        .with_number("T", theta, above("T_0"))
        .result_number(slope)
        .source(HYLAND_WEXLER),
    );
    out.push(
        Line::new(symbol, meaning, "t_0 - (x_0 - ln(p_w / p_1)) / s * K_1")
            .with("t_0", K::Temperature, value_c, constant("the solved temperature"))
            .with_number("x_0", x, above("x_0"))
            .with("p_w", K::Pressure, p_w, above("p_w"))
            .with("p_1", K::Pressure, 1.0, constant("the unit in which the equation is published"))
            .with_number("s", slope, above("s"))
            .with("K_1", K::TemperatureDifference, 1.0, constant("one kelvin"))
            .result(K::Temperature, value_c)
            .source(Source::new(
                "Newton's method",
                "one step from the solved temperature, which stays where it is",
            )),
    );
}

/// Specific heat of moist air, as a line.
pub(crate) fn cp(out: &mut Vec<Line>, symbol: &str, what: &str, w: f64, origin: Origin) -> f64 {
    let v = raw::humid_specific_heat_j_per_kg_k(w);
    out.push(
        Line::new(symbol, format!("specific heat of {what}, per mass of dry air"), "c_da + c_v * W")
            .with("c_da", K::SpecificHeat, 1006.0, constant("specific heat of dry air"))
            .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
            .with("W", K::HumidityRatio, w, origin)
            .result(K::SpecificHeat, v)
            .source(MOIST_AIR),
    );
    v
}

/// Enthalpy of water vapour at a temperature, as a line.
pub(crate) fn vapour(out: &mut Vec<Line>, symbol: &str, t_c: f64, origin: Origin) -> f64 {
    let v = raw::vapour_enthalpy_j_per_kg(t_c);
    out.push(
        Line::new(symbol, "enthalpy of the vapour that people and processes add", "h_0 + c_v * (t - t_0)")
            .with("h_0", K::SpecificEnthalpy, 2_501_000.0, constant("heat of vaporization at 0 degC"))
            .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
            .with("t", K::Temperature, t_c, origin)
            .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
            .result(K::SpecificEnthalpy, v)
            .source(MOIST_AIR),
    );
    v
}

/// Enthalpy of moist air, as a line.
pub(crate) fn enthalpy(
    symbol: &str,
    meaning: &str,
    (t_c, t_o): (f64, Origin),
    (w, w_o): (f64, Origin),
) -> Line {
    Line::new(symbol, meaning, "c_da * (t - t_0) + W * (h_0 + c_v * (t - t_0))")
        .with("c_da", K::SpecificHeat, 1006.0, constant("specific heat of dry air"))
        .with("t", K::Temperature, t_c, t_o)
        .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
        .with("W", K::HumidityRatio, w, w_o)
        .with("h_0", K::SpecificEnthalpy, 2_501_000.0, constant("heat of vaporization at 0 degC"))
        .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
        .result(K::SpecificEnthalpy, raw::enthalpy_j_per_kg(t_c, w))
        .source(MOIST_AIR)
}

/// Density of the dry air in moist air, as a line.
pub(crate) fn density(
    cx: Cx<'_>,
    symbol: &str,
    meaning: &str,
    (t_c, t_o): (f64, Origin),
    (w, w_o): (f64, Origin),
) -> (Line, f64) {
    let rho = 1.0 / raw::volume_m3_per_kg(t_c, w, cx.p());
    let line = Line::new(symbol, meaning, "p / (R * (t - t_zero) * (1 + 1.607858 * W))")
        .with("p", K::Pressure, cx.p(), cx.pressure_origin())
        .with("R", K::SpecificHeat, 287.042, constant("gas constant of dry air"))
        .with("t", K::Temperature, t_c, t_o)
        .with("t_zero", K::Temperature, -273.15, constant("absolute zero"))
        .with("W", K::HumidityRatio, w, w_o)
        .result(K::Density, rho)
        .source(MOIST_AIR);
    (line, rho)
}

/// Dry-air mass flow of a standard flow, as a line.
pub(crate) fn mass_flow(symbol: &str, what: &str, v: f64, origin: Origin) -> (Line, f64) {
    let m = v * RHO;
    let line = Line::new(symbol, format!("dry air of {what}"), "V * rho_0")
        .with("V", K::StandardAirFlow, v, origin)
        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
        .result(K::MassFlow, m)
        .source(super::STANDARD_FLOW);
    (line, m)
}
