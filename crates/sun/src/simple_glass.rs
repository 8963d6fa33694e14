//! A window known by its solar heat gain coefficient at normal incidence.

use crate::error::{SunError, within};
use crate::glass::hemisphere;
use drycoil_units::{Angle, Fraction, Quantity};

/// Transmitted share of the solar heat gain coefficient of clear 6 mm double glass, 0.61 / 0.70: ASHRAE Fundamentals
/// ch. 15, table of glazing properties (from memory). Coated and tinted glass lie at about 0.80 to 0.90.
pub const TRANSMITTED_SHARE_OF_CLEAR_DOUBLE_GLASS: f64 = 0.61 / 0.70;

/// How the solar heat gain coefficient falls with the angle of incidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AngularModifier {
    /// The polynomial of Karlsson and Roos, Solar Energy 69 (2000) 321 (from memory):
    /// `1 - a z^alpha - b z^2 - c z^gamma` with `z` = angle / 90 deg, `a = 8`, `b = 0.25 / q`, `c = 1 - a - b`,
    /// `alpha = 5.2 + 0.7 q`, `gamma = 5.26 + 0.06 p + (0.73 + 0.04 p) q`. For some pairs of p and q the polynomial dips
    /// below zero, by less than 0.01, in the last degrees before 90; glass passes nothing less than zero there.
    KarlssonRoos {
        /// Number of panes `p`, 1 to 4.
        panes: u8,
        /// Category of coating `q`, 1 to 10; 4 is uncoated glass.
        category: u8,
    },
    /// Solar heat gain coefficients as a catalogue prints them, linear between the angles and zero at 90 deg.
    Tabulated {
        /// At 0, 40, 50, 60, 70 and 80 deg; 0 to 1, the first above zero.
        at_0_40_50_60_70_80: [f64; 6],
    },
}

impl Default for AngularModifier {
    /// Two panes, uncoated.
    fn default() -> Self {
        Self::KarlssonRoos { panes: 2, category: 4 }
    }
}

const TABLE_ANGLES_DEG: [f64; 7] = [0.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0];

impl AngularModifier {
    fn check(&self) -> Result<(), SunError> {
        match self {
            Self::KarlssonRoos { panes, category } => {
                within("number of panes", f64::from(*panes), 1.0, 4.0, "")?;
                within("category of coating", f64::from(*category), 1.0, 10.0, "")?;
            }
            Self::Tabulated { at_0_40_50_60_70_80: values } => {
                within("solar heat gain coefficient at 0 deg", values[0], 0.01, 1.0, "")?;
                for &value in &values[1..] {
                    within("solar heat gain coefficient", value, 0.0, 1.0, "")?;
                }
            }
        }
        Ok(())
    }

    /// Ratio to normal incidence; `incidence_deg` from 0 to 90.
    fn ratio(&self, incidence_deg: f64) -> f64 {
        match self {
            Self::KarlssonRoos { panes, category } => {
                let (p, q) = (f64::from(*panes), f64::from(*category));
                let z = incidence_deg / 90.0;
                let (a, b) = (8.0, 0.25 / q);
                let c = 1.0 - a - b;
                let alpha = 5.2 + 0.7 * q;
                let gamma = 5.26 + 0.06 * p + (0.73 + 0.04 * p) * q;
                let ratio = 1.0 - a * z.powf(alpha) - b * z * z - c * z.powf(gamma);
                // At 90 deg the terms cancel to a rounding error.
                if incidence_deg >= 90.0 { 0.0 } else { ratio.max(0.0) }
            }
            Self::Tabulated { at_0_40_50_60_70_80: values } => {
                let i = TABLE_ANGLES_DEG[1..6].iter().take_while(|&&angle| incidence_deg >= angle).count();
                let (low, high) = (TABLE_ANGLES_DEG[i], TABLE_ANGLES_DEG[i + 1]);
                let next = values.get(i + 1).copied().unwrap_or(0.0);
                let share = (incidence_deg - low) / (high - low);
                (values[i] + share * (next - values[i])) / values[0]
            }
        }
    }
}

/// How the solar heat gain coefficient splits into radiation passed and absorbed heat that flows indoors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SolarSplit {
    /// The solar transmittance at normal incidence is known.
    Transmittance(Fraction),
    /// The transmitted part is this share of the solar heat gain coefficient; the neutral choice is
    /// [`TRANSMITTED_SHARE_OF_CLEAR_DOUBLE_GLASS`].
    ShareOfGain(Fraction),
}

/// A window by its solar heat gain coefficient, of the glazed area, at normal incidence.
///
/// Simplification: the split between the two parts is the same at every angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimpleGlass {
    solar_heat_gain_coefficient: f64,
    transmitted_share: f64,
    modifier: AngularModifier,
    diffuse_ratio: f64,
}

/// What a window lets in; shares of the irradiance on its glazed area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowGain {
    /// Solar heat gain coefficient over its value at normal incidence.
    pub modifier: f64,
    /// Passed as short-wave radiation.
    pub transmitted: f64,
    /// Absorbed in the glass and given off indoors.
    pub inward: f64,
}

impl WindowGain {
    /// Both parts together.
    pub fn total(&self) -> f64 {
        self.transmitted + self.inward
    }
}

impl SimpleGlass {
    /// A window by its solar heat gain coefficient, 0.01 to 1.
    ///
    /// # Errors
    /// [`SunError::OutOfRange`] for a coefficient or share out of range; [`SunError::ShareAboveOne`] when the
    /// transmittance is above the solar heat gain coefficient.
    ///
    /// ```
    /// use drycoil_sun::{AngularModifier, SimpleGlass, SolarSplit};
    /// use drycoil_units::{Angle, Fraction};
    /// let glass = SimpleGlass::new(
    ///     Fraction::ratio(0.40),
    ///     SolarSplit::Transmittance(Fraction::ratio(0.33)),
    ///     AngularModifier::KarlssonRoos { panes: 2, category: 4 },
    /// )
    /// .unwrap();
    /// let normal = glass.beam(Angle::degrees(0.0)).unwrap();
    /// assert!((normal.transmitted - 0.33).abs() < 1e-12 && (normal.inward - 0.07).abs() < 1e-12);
    /// assert!(glass.beam(Angle::degrees(75.0)).unwrap().total() < 0.27);
    /// ```
    pub fn new(
        solar_heat_gain_coefficient: Fraction,
        split: SolarSplit,
        modifier: AngularModifier,
    ) -> Result<Self, SunError> {
        let shgc = within("solar heat gain coefficient", solar_heat_gain_coefficient.si(), 0.01, 1.0, "")?;
        modifier.check()?;
        let transmitted_share = match split {
            SolarSplit::Transmittance(fraction) => {
                let transmittance = within("solar transmittance", fraction.si(), 0.0, 1.0, "")?;
                if transmittance > shgc {
                    return Err(SunError::ShareAboveOne {
                        what: "solar transmittance over the solar heat gain coefficient does",
                        sum: transmittance / shgc,
                    });
                }
                transmittance / shgc
            }
            SolarSplit::ShareOfGain(fraction) => {
                within("transmitted share of the solar heat gain coefficient", fraction.si(), 0.0, 1.0, "")?
            }
        };
        let diffuse_ratio = hemisphere().map(|(angle, weight)| weight * modifier.ratio(angle)).sum();
        Ok(Self { solar_heat_gain_coefficient: shgc, transmitted_share, modifier, diffuse_ratio })
    }

    fn gain(&self, modifier: f64) -> WindowGain {
        let total = self.solar_heat_gain_coefficient * modifier;
        let transmitted = total * self.transmitted_share;
        WindowGain { modifier, transmitted, inward: total - transmitted }
    }

    /// Shares for beam at an angle of incidence of 0 to 90 deg; for a sun behind the surface there is no beam to ask
    /// about.
    ///
    /// # Errors
    /// [`SunError::OutOfRange`] for other angles.
    pub fn beam(&self, incidence: Angle) -> Result<WindowGain, SunError> {
        let incidence_deg = within("angle of incidence", incidence.to_degrees(), 0.0, 90.0, "deg")?;
        Ok(self.gain(self.modifier.ratio(incidence_deg)))
    }

    /// [`SimpleGlass::beam`] by the cosine of the angle, for loops; zero when the sun is behind the surface.
    pub fn raw_beam(&self, cos_incidence: f64) -> WindowGain {
        if cos_incidence <= 0.0 {
            self.gain(0.0)
        } else {
            self.gain(self.modifier.ratio(cos_incidence.acos().to_degrees()))
        }
    }

    /// Shares for diffuse irradiance that is even over the half space in front of the window.
    pub fn diffuse(&self) -> WindowGain {
        self.gain(self.diffuse_ratio)
    }

    /// Solar heat gain coefficient at normal incidence.
    pub fn solar_heat_gain_coefficient(&self) -> Fraction {
        Fraction::ratio(self.solar_heat_gain_coefficient)
    }
}
