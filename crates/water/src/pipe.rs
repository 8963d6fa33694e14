//! Pipes: tables of sizes, pressure drop, and sizing.
//!
//! A pipe is sized by three limits together: friction per length, velocity, and the maximum flow of ASHRAE 90.1
//! Table 6.5.4.6 (chilled and condenser water, 2 1/2 in and larger). The selection names the limit that ruled
//! out the next smaller size.

use crate::WaterError;
use crate::error::within;
use crate::friction::{Conduit, ConduitDrop, Fluid, Regime};
use crate::liquid::WaterProperties;
use drycoil_units::{Length, PressureDifference, Quantity, Velocity, WaterFlow};

/// Roughness of new commercial steel, m (0.00015 ft; Moody 1944).
pub const ROUGHNESS_STEEL_M: f64 = 0.00015 * 0.3048;
/// Roughness of drawn copper tube, m (0.000005 ft; Moody 1944).
pub const ROUGHNESS_COPPER_M: f64 = 0.000005 * 0.3048;

/// A listed pipe size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeSize {
    /// Nominal size as written in the trade, inches: "2 1/2".
    pub nominal: &'static str,
    /// Nominal size, inches.
    pub nominal_in: f64,
    /// Outer diameter, inches.
    pub outer_in: f64,
    /// Wall thickness, inches.
    pub wall_in: f64,
    /// The material, which gives the roughness.
    pub material: PipeMaterial,
}

impl PipeSize {
    /// Inner diameter, m.
    pub fn inner_diameter_m(&self) -> f64 {
        (self.outer_in - 2.0 * self.wall_in) * 0.0254
    }

    /// Inner diameter.
    pub fn inner_diameter(&self) -> Length {
        Length::from_si(self.inner_diameter_m())
    }
}

/// A family of pipes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PipeMaterial {
    /// Carbon steel, schedule 40. Dimensions: ASME B36.10M (from memory, compared with a general-purpose fluid
    /// library).
    SteelSchedule40,
    /// Drawn copper water tube, type L. Dimensions: ASTM B88 (from memory).
    CopperTypeL,
}

macro_rules! sizes {
    ($material:expr; $($name:literal $nominal:literal $outer:literal $wall:literal),* $(,)?) => {
        &[$(PipeSize { nominal: $name, nominal_in: $nominal, outer_in: $outer, wall_in: $wall, material: $material }),*]
    };
}

static STEEL: &[PipeSize] = sizes![PipeMaterial::SteelSchedule40;
    "1/2" 0.5 0.840 0.109, "3/4" 0.75 1.050 0.113, "1" 1.0 1.315 0.133, "1 1/4" 1.25 1.660 0.140,
    "1 1/2" 1.5 1.900 0.145, "2" 2.0 2.375 0.154, "2 1/2" 2.5 2.875 0.203, "3" 3.0 3.500 0.216,
    "4" 4.0 4.500 0.237, "5" 5.0 5.563 0.258, "6" 6.0 6.625 0.280, "8" 8.0 8.625 0.322,
    "10" 10.0 10.750 0.365, "12" 12.0 12.750 0.406, "14" 14.0 14.000 0.438, "16" 16.0 16.000 0.500,
    "18" 18.0 18.000 0.562, "20" 20.0 20.000 0.594, "24" 24.0 24.000 0.688,
];

static COPPER: &[PipeSize] = sizes![PipeMaterial::CopperTypeL;
    "1/2" 0.5 0.625 0.040, "3/4" 0.75 0.875 0.045, "1" 1.0 1.125 0.050, "1 1/4" 1.25 1.375 0.055,
    "1 1/2" 1.5 1.625 0.060, "2" 2.0 2.125 0.070, "2 1/2" 2.5 2.625 0.080, "3" 3.0 3.125 0.090,
    "4" 4.0 4.125 0.110, "5" 5.0 5.125 0.125, "6" 6.0 6.125 0.140, "8" 8.0 8.125 0.200,
];

impl PipeMaterial {
    /// Every size of the family, small to large.
    pub fn sizes(self) -> &'static [PipeSize] {
        match self {
            Self::SteelSchedule40 => STEEL,
            Self::CopperTypeL => COPPER,
        }
    }

    /// The size with this nominal name.
    pub fn size(self, nominal: &str) -> Option<&'static PipeSize> {
        self.sizes().iter().find(|s| s.nominal == nominal)
    }

    /// Absolute roughness, m.
    pub fn roughness_m(self) -> f64 {
        match self {
            Self::SteelSchedule40 => ROUGHNESS_STEEL_M,
            Self::CopperTypeL => ROUGHNESS_COPPER_M,
        }
    }

    /// The words for this family.
    pub const fn label(self) -> &'static str {
        match self {
            Self::SteelSchedule40 => "steel schedule 40",
            Self::CopperTypeL => "copper type L",
        }
    }
}

/// Friction per metre in a listed pipe.
pub fn pressure_drop_per_metre(
    water: &WaterProperties,
    size: &PipeSize,
    flow: WaterFlow,
) -> Result<ConduitDrop, WaterError> {
    pressure_drop(water, size, flow, Length::from_si(1.0), 0.0)
}

/// Pressure drop of a run of listed pipe with the sum of its fitting coefficients.
pub fn pressure_drop(
    water: &WaterProperties,
    size: &PipeSize,
    flow: WaterFlow,
    length: Length,
    fittings_k: f64,
) -> Result<ConduitDrop, WaterError> {
    Conduit {
        diameter_m: size.inner_diameter_m(),
        roughness_m: size.material.roughness_m(),
        length_m: length.si(),
        fittings_k,
    }
    .drop(Fluid::from(water), flow.si())
}

/// Hours of operation per year: the columns of the standard's table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OperatingHours {
    /// At most 2000 h.
    UpTo2000,
    /// More than 2000 h, at most 4400 h.
    From2000To4400,
    /// More than 4400 h.
    Above4400,
}

impl OperatingHours {
    /// The column for this many hours a year, 0 to 8784.
    pub fn of(hours: f64) -> Result<Self, WaterError> {
        let h = within("operating hours in a year", hours, 0.0, 8784.0, "h")?;
        Ok(if h <= 2000.0 {
            Self::UpTo2000
        } else if h <= 4400.0 {
            Self::From2000To4400
        } else {
            Self::Above4400
        })
    }
}

/// How the flow of the system is controlled: the paired columns of the standard's table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FlowControl {
    /// Variable flow with variable pump speed.
    VariableFlowVariableSpeed,
    /// Any other system.
    Other,
}

/// Whether the standard's maximum flow applies to a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MaximumFlowRule {
    /// It applies with these columns.
    Applies(OperatingHours, FlowControl),
    /// The segment is outside its scope or excepted (off the critical circuit for more than 70 % of the hours, or
    /// not chilled or condenser water).
    Exempt,
}

// gpm: (nominal size, [<=2000 h, 2000 to 4400 h, >4400 h] as [other, variable flow and speed]).
// ASHRAE 90.1 Table 6.5.4.6, read in the text of WAC 51-11C-40337.
const MAXIMUM_FLOW_GPM: [(f64, [[f64; 2]; 3]); 8] = [
    (2.5, [[120.0, 180.0], [85.0, 130.0], [68.0, 110.0]]),
    (3.0, [[180.0, 270.0], [140.0, 210.0], [110.0, 170.0]]),
    (4.0, [[350.0, 530.0], [260.0, 400.0], [210.0, 320.0]]),
    (5.0, [[410.0, 620.0], [310.0, 470.0], [250.0, 370.0]]),
    (6.0, [[740.0, 1100.0], [570.0, 860.0], [440.0, 680.0]]),
    (8.0, [[1200.0, 1800.0], [900.0, 1400.0], [700.0, 1100.0]]),
    (10.0, [[1800.0, 2700.0], [1300.0, 2000.0], [1000.0, 1600.0]]),
    (12.0, [[2500.0, 3800.0], [1900.0, 2900.0], [1500.0, 2300.0]]),
];

// ft/s above 12 in up to 24 in.
const MAXIMUM_VELOCITY_FT_PER_S: [[f64; 2]; 3] = [[8.5, 13.0], [6.5, 9.5], [5.0, 7.5]];

/// Maximum flow of the standard's table for a listed size; `None` below 2 1/2 in, where it sets no limit.
///
/// ```
/// use drycoil_water::pipe::{FlowControl, OperatingHours, PipeMaterial, maximum_flow};
/// let four = PipeMaterial::SteelSchedule40.size("4").unwrap();
/// let limit = maximum_flow(four, OperatingHours::Above4400, FlowControl::Other).unwrap();
/// assert!((limit.to_gpm() - 210.0).abs() < 1e-9);
/// ```
pub fn maximum_flow(size: &PipeSize, hours: OperatingHours, control: FlowControl) -> Option<WaterFlow> {
    let row = match hours {
        OperatingHours::UpTo2000 => 0,
        OperatingHours::From2000To4400 => 1,
        OperatingHours::Above4400 => 2,
    };
    let column = match control {
        FlowControl::Other => 0,
        FlowControl::VariableFlowVariableSpeed => 1,
    };
    if size.nominal_in < 2.5 {
        return None;
    }
    if size.nominal_in > 12.0 {
        let d = size.inner_diameter_m();
        let v = MAXIMUM_VELOCITY_FT_PER_S[row][column] * 0.3048;
        return Some(WaterFlow::from_si(v * std::f64::consts::FRAC_PI_4 * d * d));
    }
    MAXIMUM_FLOW_GPM.iter().find(|(n, _)| *n == size.nominal_in).map(|(_, t)| WaterFlow::gpm(t[row][column]))
}

/// The limits a pipe has to meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeLimits {
    /// Largest friction, as pressure drop over one metre.
    pub friction_per_metre: PressureDifference,
    /// Largest velocity.
    pub velocity: Velocity,
    /// The standard's table.
    pub maximum_flow: MaximumFlowRule,
}

/// One limit of a pipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PipeLimit {
    /// Friction per length.
    Friction,
    /// Velocity.
    Velocity,
    /// The standard's maximum flow.
    MaximumFlow,
}

/// A size that was tried, and the limits it broke.
#[derive(Debug, Clone, PartialEq)]
pub struct TriedSize {
    /// The size.
    pub size: PipeSize,
    /// Its pressure drop over one metre.
    pub drop: ConduitDrop,
    /// The standard's maximum flow for this size, where one applies.
    pub maximum_flow: Option<WaterFlow>,
    /// The limits that the flow exceeds; empty for the chosen size.
    pub exceeded: Vec<PipeLimit>,
}

/// A chosen pipe, with every smaller size and why it failed.
#[derive(Debug, Clone, PartialEq)]
pub struct PipeSelection {
    /// The flow.
    pub flow: WaterFlow,
    /// The smallest size that meets every limit.
    pub chosen: TriedSize,
    /// The smaller sizes, small to large.
    pub smaller: Vec<TriedSize>,
    /// Set when the flow is laminar or transitional: heat transfer and friction then follow other laws.
    pub regime: Regime,
}

/// The smallest listed pipe that meets every limit.
///
/// Limits: friction 1 to 5000 Pa/m, velocity 0.05 to 10 m/s.
///
/// ```
/// use drycoil_units::{PressureDifference, Temperature, Velocity, WaterFlow};
/// use drycoil_water::liquid::WaterProperties;
/// use drycoil_water::pipe::*;
///
/// let limits = PipeLimits {
///     friction_per_metre: PressureDifference::pascals(400.0),
///     velocity: Velocity::metres_per_second(2.4),
///     maximum_flow: MaximumFlowRule::Applies(OperatingHours::From2000To4400, FlowControl::VariableFlowVariableSpeed),
/// };
/// let water = WaterProperties::at(Temperature::fahrenheit(55.0)).unwrap();
/// let s = size_pipe(&water, PipeMaterial::SteelSchedule40, WaterFlow::gpm(100.0), &limits).unwrap();
/// assert_eq!(s.chosen.size.nominal, "3");
/// assert!(s.smaller.last().unwrap().exceeded.contains(&PipeLimit::Friction));
/// ```
pub fn size_pipe(
    water: &WaterProperties,
    material: PipeMaterial,
    flow: WaterFlow,
    limits: &PipeLimits,
) -> Result<PipeSelection, WaterError> {
    within("water flow", flow.si(), 1e-9, 10.0, "m3/s")?;
    within("friction limit", limits.friction_per_metre.si(), 1.0, 5000.0, "Pa/m")?;
    within("velocity limit", limits.velocity.si(), 0.05, 10.0, "m/s")?;
    let mut smaller = Vec::new();
    for size in material.sizes() {
        let drop = pressure_drop_per_metre(water, size, flow)?;
        let table = match limits.maximum_flow {
            MaximumFlowRule::Applies(hours, control) => maximum_flow(size, hours, control),
            MaximumFlowRule::Exempt => None,
        };
        let mut exceeded = Vec::new();
        if drop.friction_pa_per_m > limits.friction_per_metre.si() {
            exceeded.push(PipeLimit::Friction);
        }
        if drop.velocity_m_per_s > limits.velocity.si() {
            exceeded.push(PipeLimit::Velocity);
        }
        if table.is_some_and(|t| flow > t) {
            exceeded.push(PipeLimit::MaximumFlow);
        }
        let tried = TriedSize { size: *size, drop, maximum_flow: table, exceeded };
        if tried.exceeded.is_empty() {
            let regime = tried.drop.friction.map_or(Regime::Laminar, |f| f.regime);
            return Ok(PipeSelection { flow, chosen: tried, smaller, regime });
        }
        smaller.push(tried);
    }
    let largest = material.sizes().last().map_or("none", |s| s.nominal);
    Err(WaterError::NoSizeLargeEnough {
        flow_m3_per_s: flow.si(),
        largest: format!("{} in {}", largest, material.label()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_units::Temperature;

    #[test]
    fn val_steel_schedule_40_friction() {
        // Recomputed with a general-purpose fluid library for water at 60 degF, nu 1.217e-5 ft2/s; the 2, 3 and 4 in
        // rows agree with Cameron Hydraulic Data, new steel (4.67, 2.39, 2.27; from memory) within 0.3 %.
        // Tolerance 0.1 % on ours, 1 % on the printed three.
        let rho = 999.0;
        let nu = 1.217e-5 * 0.3048 * 0.3048;
        let fluid = Fluid::new(rho, nu * rho).unwrap();
        for (name, gpm, ft_per_s, head, printed) in [
            ("3/4", 4.0, 2.407, 4.210, None),
            ("1", 10.0, 3.712, 6.857, None),
            ("1 1/4", 20.0, 4.290, 6.344, None),
            ("1 1/2", 30.0, 4.728, 6.268, None),
            ("2", 50.0, 4.781, 4.684, Some(4.67)),
            ("2 1/2", 68.0, 4.557, 3.433, None),
            ("3", 100.0, 4.340, 2.395, Some(2.39)),
            ("4", 200.0, 5.040, 2.270, Some(2.27)),
            ("5", 250.0, 4.009, 1.120, None),
            ("6", 440.0, 4.886, 1.297, None),
            ("8", 700.0, 4.489, 0.792, None),
        ] {
            let size = PipeMaterial::SteelSchedule40.size(name).unwrap();
            let run = Conduit {
                diameter_m: size.inner_diameter_m(),
                roughness_m: ROUGHNESS_STEEL_M,
                length_m: 100.0,
                fittings_k: 0.0,
            };
            let d = run.drop(fluid, WaterFlow::gpm(gpm).si()).unwrap();
            assert!(
                (d.velocity_m_per_s / 0.3048 / ft_per_s - 1.0).abs() < 1e-3,
                "{name}: {}",
                d.velocity_m_per_s
            );
            assert!((d.head_m / head - 1.0).abs() < 1e-3, "{name}: {} against {head}", d.head_m);
            if let Some(p) = printed {
                assert!((d.head_m / p - 1.0).abs() < 1e-2);
            }
        }
    }

    #[test]
    fn val_inner_diameters() {
        // Inner diameters of schedule 40 used by the friction rows above (general-purpose fluid library).
        for (name, want) in [
            ("3/4", 0.824),
            ("1", 1.049),
            ("1 1/4", 1.380),
            ("1 1/2", 1.610),
            ("2", 2.067),
            ("2 1/2", 2.469),
            ("3", 3.068),
            ("4", 4.026),
            ("5", 5.047),
            ("6", 6.065),
            ("8", 7.981),
            ("10", 10.020),
            ("12", 11.938),
        ] {
            let d = PipeMaterial::SteelSchedule40.size(name).unwrap().inner_diameter().to_inches();
            assert!((d - want).abs() < 1e-9, "{name}: {d}");
        }
        // ASTM B88 type L inner diameters, from memory.
        for (name, want) in [("1/2", 0.545), ("3/4", 0.785), ("1", 1.025), ("2", 1.985), ("4", 3.905)] {
            let d = PipeMaterial::CopperTypeL.size(name).unwrap().inner_diameter().to_inches();
            assert!((d - want).abs() < 1e-9, "{name}: {d}");
        }
    }

    #[test]
    fn val_maximum_flow_table() {
        // WAC 51-11C-40337, every cell.
        let table: &[(&str, [f64; 6])] = &[
            ("2 1/2", [120.0, 180.0, 85.0, 130.0, 68.0, 110.0]),
            ("3", [180.0, 270.0, 140.0, 210.0, 110.0, 170.0]),
            ("4", [350.0, 530.0, 260.0, 400.0, 210.0, 320.0]),
            ("5", [410.0, 620.0, 310.0, 470.0, 250.0, 370.0]),
            ("6", [740.0, 1100.0, 570.0, 860.0, 440.0, 680.0]),
            ("8", [1200.0, 1800.0, 900.0, 1400.0, 700.0, 1100.0]),
            ("10", [1800.0, 2700.0, 1300.0, 2000.0, 1000.0, 1600.0]),
            ("12", [2500.0, 3800.0, 1900.0, 2900.0, 1500.0, 2300.0]),
        ];
        let hours = [OperatingHours::UpTo2000, OperatingHours::From2000To4400, OperatingHours::Above4400];
        for (name, row) in table {
            let size = PipeMaterial::SteelSchedule40.size(name).unwrap();
            for (i, h) in hours.iter().enumerate() {
                let other = maximum_flow(size, *h, FlowControl::Other).unwrap().to_gpm();
                let variable =
                    maximum_flow(size, *h, FlowControl::VariableFlowVariableSpeed).unwrap().to_gpm();
                assert!((other - row[2 * i]).abs() < 1e-9 && (variable - row[2 * i + 1]).abs() < 1e-9);
            }
        }
        let two = PipeMaterial::SteelSchedule40.size("2").unwrap();
        assert!(maximum_flow(two, OperatingHours::UpTo2000, FlowControl::Other).is_none());
        let twenty = PipeMaterial::SteelSchedule40.size("20").unwrap();
        let q = maximum_flow(twenty, OperatingHours::Above4400, FlowControl::Other).unwrap();
        let area = std::f64::consts::FRAC_PI_4 * twenty.inner_diameter_m().powi(2);
        assert!((q.si() / area / 0.3048 - 5.0).abs() < 1e-12);
    }

    #[test]
    fn phys_every_limit_can_govern() {
        let water = WaterProperties::at(Temperature::fahrenheit(55.0)).unwrap();
        let size = |gpm: f64, pa: f64, v: f64, rule| {
            size_pipe(
                &water,
                PipeMaterial::SteelSchedule40,
                WaterFlow::gpm(gpm),
                &PipeLimits {
                    friction_per_metre: PressureDifference::pascals(pa),
                    velocity: Velocity::metres_per_second(v),
                    maximum_flow: rule,
                },
            )
            .unwrap()
        };
        let table = MaximumFlowRule::Applies(OperatingHours::Above4400, FlowControl::Other);
        let by_table = size(115.0, 1500.0, 9.0, table);
        assert_eq!(by_table.chosen.size.nominal, "4");
        assert_eq!(by_table.smaller.last().unwrap().exceeded, vec![PipeLimit::MaximumFlow]);
        let by_velocity = size(115.0, 4000.0, 1.2, MaximumFlowRule::Exempt);
        assert_eq!(by_velocity.smaller.last().unwrap().exceeded, vec![PipeLimit::Velocity]);
        let by_friction = size(115.0, 200.0, 9.0, MaximumFlowRule::Exempt);
        assert_eq!(by_friction.smaller.last().unwrap().exceeded, vec![PipeLimit::Friction]);
    }

    #[test]
    fn phys_too_much_flow_is_refused_with_the_largest_size() {
        let water = WaterProperties::at(Temperature::fahrenheit(55.0)).unwrap();
        let e = size_pipe(
            &water,
            PipeMaterial::CopperTypeL,
            WaterFlow::gpm(5000.0),
            &PipeLimits {
                friction_per_metre: PressureDifference::pascals(400.0),
                velocity: Velocity::metres_per_second(2.0),
                maximum_flow: MaximumFlowRule::Exempt,
            },
        )
        .unwrap_err();
        assert!(e.to_string().contains("8 in copper type L"), "{e}");
        assert!(OperatingHours::of(9000.0).is_err());
        assert_eq!(OperatingHours::of(4400.0).unwrap(), OperatingHours::From2000To4400);
    }
}
