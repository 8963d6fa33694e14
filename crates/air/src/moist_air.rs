//! A state of moist air.

use crate::error::{AirError, PropertyKind};
use crate::range::ValidRange;
use crate::raw::{self, Root};
use drycoil_units::{
    Density, Fraction, HumidityRatio, Pressure, Quantity, SpecificEnthalpy, SpecificHeat, Temperature,
};

/// One given property of a state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Property {
    /// Dry-bulb temperature.
    DryBulb(Temperature),
    /// Thermodynamic wet-bulb temperature; over ice below 0 degC.
    WetBulb(Temperature),
    /// Dew-point temperature; frost point at or below 0.01 degC.
    DewPoint(Temperature),
    /// Relative humidity.
    RelativeHumidity(Fraction),
    /// Humidity ratio, per kg of dry air.
    HumidityRatio(HumidityRatio),
    /// Enthalpy, per kg of dry air.
    Enthalpy(SpecificEnthalpy),
}

impl Property {
    /// The kind of this property.
    pub const fn kind(self) -> PropertyKind {
        match self {
            Self::DryBulb(_) => PropertyKind::DryBulb,
            Self::WetBulb(_) => PropertyKind::WetBulb,
            Self::DewPoint(_) => PropertyKind::DewPoint,
            Self::RelativeHumidity(_) => PropertyKind::RelativeHumidity,
            Self::HumidityRatio(_) => PropertyKind::HumidityRatio,
            Self::Enthalpy(_) => PropertyKind::Enthalpy,
        }
    }
}

/// Excess over saturation, relative in humidity ratio, that is rounding and not fog.
pub const SATURATION_ROUNDING: f64 = 1e-9;
/// Largest residual of a wet bulb, kg/kg.
pub const WET_BULB_RESIDUAL: f64 = 1e-9;

/// A state of moist air: dry bulb, humidity ratio and pressure, within [`ValidRange`] and not above saturation.
///
/// Every constructor refuses what cannot exist. All per-mass properties are per kg of **dry air** unless the name says
/// mixture.
///
/// ```
/// use drycoil_air::MoistAir;
/// use drycoil_units::{Fraction, Pressure, Temperature};
/// // 75 degF and 50 % at sea level: dew point 55.1 degF.
/// let room = MoistAir::from_relative_humidity(
///     Temperature::fahrenheit(75.0),
///     Fraction::percent(50.0),
///     Pressure::pascals(101_325.0),
/// )?;
/// assert!((room.dew_point()?.to_fahrenheit() - 55.12).abs() < 0.02);
/// # Ok::<(), drycoil_air::AirError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistAir {
    dry_bulb_c: f64,
    w: f64,
    p_pa: f64,
}

impl MoistAir {
    /// From dry bulb and humidity ratio.
    pub fn new(
        dry_bulb: Temperature,
        humidity_ratio: HumidityRatio,
        pressure: Pressure,
    ) -> Result<Self, AirError> {
        Self::checked(dry_bulb.si(), humidity_ratio.si(), pressure.si())
    }

    fn checked(t: f64, w: f64, p: f64) -> Result<Self, AirError> {
        let p = ValidRange::PRESSURE.check(p)?;
        let t = ValidRange::DRY_BULB.check(t)?;
        let w = ValidRange::HUMIDITY_RATIO.check(w)?;
        let saturation = raw::saturation_humidity_ratio(t, p);
        // Where water boils (no saturation) the range of the humidity ratio is the only limit.
        if w > saturation * (1.0 + SATURATION_ROUNDING) {
            return Err(AirError::AboveSaturation { humidity_ratio: w, saturation, dry_bulb_c: t });
        }
        Ok(Self { dry_bulb_c: t, w, p_pa: p })
    }

    /// From dry bulb and relative humidity.
    pub fn from_relative_humidity(
        t: Temperature,
        rh: Fraction,
        pressure: Pressure,
    ) -> Result<Self, AirError> {
        Self::from_pair(Property::DryBulb(t), Property::RelativeHumidity(rh), pressure)
    }

    /// From dry bulb and dew point.
    pub fn from_dew_point(
        t: Temperature,
        dew_point: Temperature,
        pressure: Pressure,
    ) -> Result<Self, AirError> {
        Self::from_pair(Property::DryBulb(t), Property::DewPoint(dew_point), pressure)
    }

    /// From dry bulb and wet bulb.
    pub fn from_wet_bulb(
        t: Temperature,
        wet_bulb: Temperature,
        pressure: Pressure,
    ) -> Result<Self, AirError> {
        Self::from_pair(Property::DryBulb(t), Property::WetBulb(wet_bulb), pressure)
    }

    /// From dry bulb and enthalpy.
    pub fn from_enthalpy(
        t: Temperature,
        enthalpy: SpecificEnthalpy,
        pressure: Pressure,
    ) -> Result<Self, AirError> {
        Self::from_pair(Property::DryBulb(t), Property::Enthalpy(enthalpy), pressure)
    }

    /// Saturated air.
    pub fn saturated(t: Temperature, pressure: Pressure) -> Result<Self, AirError> {
        Self::from_relative_humidity(t, Fraction::ratio(1.0), pressure)
    }

    /// From any two properties that fix a state, in either order.
    ///
    /// Refused: the same property twice; dew point with humidity ratio (one gives the other at a pressure); wet bulb
    /// with enthalpy (lines of constant wet bulb and of constant enthalpy are nearly parallel).
    pub fn from_pair(first: Property, second: Property, pressure: Pressure) -> Result<Self, AirError> {
        use Property::{DewPoint, DryBulb, Enthalpy, HumidityRatio, RelativeHumidity, WetBulb};
        if first.kind() == second.kind() {
            return Err(AirError::SameProperty { property: first.kind() });
        }
        let (a, b) = if first.kind() < second.kind() { (first, second) } else { (second, first) };
        let p = ValidRange::PRESSURE.check(pressure.si())?;
        check_range(a)?;
        check_range(b)?;
        match (a, b) {
            (DryBulb(t), WetBulb(wb)) => from_dry_and_wet_bulb(t.si(), wb.si(), p),
            (DryBulb(t), DewPoint(dp)) => {
                let (t, dp) = (t.si(), dp.si());
                if dp > t {
                    return Err(AirError::DewPointAboveDryBulb { dew_point_c: dp, dry_bulb_c: t });
                }
                Self::checked(t, humidity_ratio_of_vapour(raw::saturation_pressure_pa(dp), p)?, p)
            }
            (DryBulb(t), RelativeHumidity(rh)) => {
                let p_w = rh.si() * raw::saturation_pressure_pa(t.si());
                Self::checked(t.si(), humidity_ratio_of_vapour(p_w, p)?, p)
            }
            (DryBulb(t), HumidityRatio(w)) => Self::checked(t.si(), w.si(), p),
            (DryBulb(t), Enthalpy(h)) => {
                let (t, h) = (t.si(), h.si());
                let w = raw::humidity_ratio_from_enthalpy(t, h);
                let saturation = raw::saturation_humidity_ratio(t, p);
                let highest = if saturation < ValidRange::HUMIDITY_RATIO.high {
                    saturation
                } else {
                    ValidRange::HUMIDITY_RATIO.high
                };
                if !(w >= 0.0 && w <= highest * (1.0 + SATURATION_ROUNDING)) {
                    return Err(AirError::EnthalpyOutOfReach {
                        enthalpy_j_per_kg: h,
                        low_j_per_kg: raw::enthalpy_j_per_kg(t, 0.0),
                        high_j_per_kg: raw::enthalpy_j_per_kg(t, highest),
                    });
                }
                Self::checked(t, w, p)
            }
            (WetBulb(wb), DewPoint(dp)) => {
                let (wb, dp) = (wb.si(), dp.si());
                if dp > wb {
                    return Err(AirError::DewPointAboveWetBulb { dew_point_c: dp, wet_bulb_c: wb });
                }
                from_wet_bulb_and_humidity_ratio(
                    wb,
                    humidity_ratio_of_vapour(raw::saturation_pressure_pa(dp), p)?,
                    p,
                )
            }
            (WetBulb(wb), RelativeHumidity(rh)) => from_wet_bulb_and_relative_humidity(wb.si(), rh.si(), p),
            (WetBulb(wb), HumidityRatio(w)) => from_wet_bulb_and_humidity_ratio(wb.si(), w.si(), p),
            (DewPoint(dp), RelativeHumidity(rh)) => {
                let p_w = raw::saturation_pressure_pa(dp.si());
                from_vapour_pressure_and_relative_humidity(p_w, rh.si(), p, dp.si())
            }
            (RelativeHumidity(rh), HumidityRatio(w)) => {
                let p_w = raw::vapour_pressure_pa(w.si(), p);
                if w.si() == 0.0 {
                    return Err(AirError::NotIndependent {
                        first: PropertyKind::RelativeHumidity,
                        second: PropertyKind::HumidityRatio,
                        reason: "dry air has relative humidity zero at every dry bulb",
                    });
                }
                from_vapour_pressure_and_relative_humidity(p_w, rh.si(), p, f64::NAN)
            }
            (DewPoint(dp), Enthalpy(h)) => {
                let w = humidity_ratio_of_vapour(raw::saturation_pressure_pa(dp.si()), p)?;
                from_humidity_ratio_and_enthalpy(w, h.si(), p)
            }
            (HumidityRatio(w), Enthalpy(h)) => from_humidity_ratio_and_enthalpy(w.si(), h.si(), p),
            (RelativeHumidity(rh), Enthalpy(h)) => from_relative_humidity_and_enthalpy(rh.si(), h.si(), p),
            (DewPoint(_), HumidityRatio(_)) => Err(AirError::NotIndependent {
                first: PropertyKind::DewPoint,
                second: PropertyKind::HumidityRatio,
                reason: "at a given pressure each follows from the other, and the dry bulb stays open",
            }),
            (WetBulb(_), Enthalpy(_)) => Err(AirError::NotIndependent {
                first: PropertyKind::WetBulb,
                second: PropertyKind::Enthalpy,
                reason: "lines of constant wet bulb and of constant enthalpy are nearly parallel, so the dry bulb stays open",
            }),
            _ => Err(AirError::SameProperty { property: a.kind() }),
        }
    }

    /// Dry bulb.
    pub fn dry_bulb(self) -> Temperature {
        Temperature::celsius(self.dry_bulb_c)
    }

    /// Humidity ratio, kg of water vapour per kg of dry air.
    pub fn humidity_ratio(self) -> HumidityRatio {
        HumidityRatio::from_si(self.w)
    }

    /// Absolute pressure.
    pub fn pressure(self) -> Pressure {
        Pressure::from_si(self.p_pa)
    }

    /// Vapour pressure.
    pub fn vapour_pressure(self) -> Pressure {
        Pressure::from_si(raw::vapour_pressure_pa(self.w, self.p_pa))
    }

    /// Relative humidity: vapour pressure over saturation pressure (over ice at or below 0.01 degC). No state is more
    /// humid than saturated, so what rounding adds to that is left away.
    pub fn relative_humidity(self) -> Fraction {
        Fraction::from_si(raw::relative_humidity(self.dry_bulb_c, self.w, self.p_pa).min(1.0))
    }

    /// Enthalpy per kg of dry air.
    pub fn enthalpy(self) -> SpecificEnthalpy {
        SpecificEnthalpy::from_si(raw::enthalpy_j_per_kg(self.dry_bulb_c, self.w))
    }

    /// Volume of the mixture, m3 per kg of dry air.
    pub fn volume_m3_per_kg_dry_air(self) -> f64 {
        raw::volume_m3_per_kg(self.dry_bulb_c, self.w, self.p_pa)
    }

    /// kg of dry air per m3 of mixture.
    pub fn dry_air_density(self) -> Density {
        Density::from_si(raw::dry_air_density_kg_per_m3(self.dry_bulb_c, self.w, self.p_pa))
    }

    /// kg of mixture per m3 of mixture.
    pub fn mixture_density(self) -> Density {
        Density::from_si(raw::mixture_density_kg_per_m3(self.dry_bulb_c, self.w, self.p_pa))
    }

    /// Specific heat of the mixture, per kg of dry air.
    pub fn humid_specific_heat(self) -> SpecificHeat {
        SpecificHeat::from_si(raw::humid_specific_heat_j_per_kg_k(self.w))
    }

    /// Dew point; the frost point at or below 0.01 degC; of saturated air exactly the dry bulb. Error for air drier than
    /// -100 degC dew point.
    pub fn dew_point(self) -> Result<Temperature, AirError> {
        let root = raw::saturation_temperature_solve(raw::vapour_pressure_pa(self.w, self.p_pa).ln());
        if root.value.is_nan() {
            return Err(AirError::NoDewPoint { humidity_ratio: self.w });
        }
        // 1e-10 relative in vapour pressure, about 2e-9 K.
        accept(PropertyKind::DewPoint, root, 1e-10).map(|t| Temperature::celsius(t.min(self.dry_bulb_c)))
    }

    /// Thermodynamic wet bulb: over liquid water wherever that has a solution at or above 0 degC, else over ice.
    pub fn wet_bulb(self) -> Result<Temperature, AirError> {
        let root = raw::wet_bulb_solve(self.dry_bulb_c, self.w, self.p_pa);
        accept(PropertyKind::WetBulb, root, WET_BULB_RESIDUAL).map(Temperature::celsius)
    }

    /// The second wet bulb, over ice, of air whose wet bulb over liquid water is just above 0 degC.
    pub fn wet_bulb_on_ice(self) -> Option<Temperature> {
        raw::wet_bulb_on_ice_c(self.dry_bulb_c, self.w, self.p_pa).map(Temperature::celsius)
    }
}

fn accept(what: PropertyKind, root: Root, tolerance: f64) -> Result<f64, AirError> {
    if root.residual.abs() <= tolerance {
        Ok(root.value)
    } else {
        Err(AirError::NotConverged { what, residual: root.residual, iterations: root.iterations })
    }
}

fn check_range(property: Property) -> Result<(), AirError> {
    match property {
        Property::DryBulb(t) => ValidRange::DRY_BULB.check(t.si()),
        Property::WetBulb(t) => ValidRange::WET_BULB.check(t.si()),
        Property::DewPoint(t) => ValidRange::DEW_POINT.check(t.si()),
        Property::RelativeHumidity(rh) => ValidRange::RELATIVE_HUMIDITY.check(rh.si()),
        Property::HumidityRatio(w) => ValidRange::HUMIDITY_RATIO.check(w.si()),
        Property::Enthalpy(h) => ValidRange::ENTHALPY.check(h.si()),
    }
    .map(|_| ())
}

fn humidity_ratio_of_vapour(p_w: f64, p: f64) -> Result<f64, AirError> {
    let w = raw::humidity_ratio_from_vapour_pressure(p_w, p);
    if w.is_nan() {
        return Err(AirError::VapourReachesPressure { vapour_pressure_pa: p_w, pressure_pa: p });
    }
    Ok(w)
}

fn from_dry_and_wet_bulb(t: f64, wb: f64, p: f64) -> Result<MoistAir, AirError> {
    if wb > t {
        return Err(AirError::WetBulbAboveDryBulb { wet_bulb_c: wb, dry_bulb_c: t });
    }
    humidity_ratio_of_vapour(raw::saturation_pressure_pa(wb), p)?;
    let w = raw::humidity_ratio_at_wet_bulb(t, wb, p);
    if w < 0.0 {
        let root = raw::wet_bulb_solve(t, 0.0, p);
        let lowest_c = accept(PropertyKind::WetBulb, root, WET_BULB_RESIDUAL)?;
        return Err(AirError::WetBulbBelowDryAir { wet_bulb_c: wb, dry_bulb_c: t, lowest_c });
    }
    MoistAir::checked(t, w, p)
}

fn from_wet_bulb_and_humidity_ratio(wb: f64, w: f64, p: f64) -> Result<MoistAir, AirError> {
    let saturation = humidity_ratio_of_vapour(raw::saturation_pressure_pa(wb), p)?;
    if w > saturation * (1.0 + SATURATION_ROUNDING) {
        return Err(AirError::AboveSaturation { humidity_ratio: w, saturation, dry_bulb_c: wb });
    }
    let t = raw::dry_bulb_from_wet_bulb_and_humidity_ratio_c(wb, w, p);
    MoistAir::checked(t, w, p)
}

fn from_wet_bulb_and_relative_humidity(wb: f64, rh: f64, p: f64) -> Result<MoistAir, AirError> {
    humidity_ratio_of_vapour(raw::saturation_pressure_pa(wb), p)?;
    let root = raw::dry_bulb_from_wet_bulb_and_relative_humidity(wb, rh, p, ValidRange::DRY_BULB.high);
    let t = match accept(PropertyKind::DryBulb, root, WET_BULB_RESIDUAL) {
        Ok(t) => t,
        // The crossing lies above the highest dry bulb.
        Err(_) if root.value >= ValidRange::DRY_BULB.high - 1e-6 => {
            return Err(AirError::OutOfRange { range: ValidRange::DRY_BULB, value: f64::INFINITY });
        }
        Err(e) => return Err(e),
    };
    MoistAir::from_pair(
        Property::DryBulb(Temperature::celsius(t)),
        Property::RelativeHumidity(Fraction::from_si(rh)),
        Pressure::from_si(p),
    )
}

fn from_vapour_pressure_and_relative_humidity(
    p_w: f64,
    rh: f64,
    p: f64,
    at_saturation_c: f64,
) -> Result<MoistAir, AirError> {
    let w = humidity_ratio_of_vapour(p_w, p)?;
    if rh == 0.0 {
        return Err(AirError::NotIndependent {
            first: PropertyKind::RelativeHumidity,
            second: PropertyKind::HumidityRatio,
            reason: "relative humidity zero means dry air, and this air holds vapour",
        });
    }
    let t = if rh == 1.0 && !at_saturation_c.is_nan() {
        at_saturation_c
    } else {
        let root = raw::saturation_temperature_solve((p_w / rh).ln());
        if root.value.is_nan() {
            let value = if p_w / rh > 1.0 { f64::INFINITY } else { f64::NEG_INFINITY };
            return Err(AirError::OutOfRange { range: ValidRange::DRY_BULB, value });
        }
        accept(PropertyKind::DryBulb, root, 1e-10)?
    };
    MoistAir::checked(t, w, p)
}

fn from_humidity_ratio_and_enthalpy(w: f64, h: f64, p: f64) -> Result<MoistAir, AirError> {
    let t = raw::dry_bulb_from_enthalpy_c(h, w);
    let highest = raw::enthalpy_j_per_kg(ValidRange::DRY_BULB.high, w);
    // Saturation is the lower end where this air can condense within the range.
    let dew = raw::dew_point_c(w, p);
    let lowest_t = if dew > ValidRange::DRY_BULB.low { dew } else { ValidRange::DRY_BULB.low };
    let lowest = raw::enthalpy_j_per_kg(lowest_t, w);
    match MoistAir::checked(t, w, p) {
        Err(AirError::AboveSaturation { .. } | AirError::OutOfRange { range: ValidRange::DRY_BULB, .. }) => {
            Err(AirError::EnthalpyOutOfReach {
                enthalpy_j_per_kg: h,
                low_j_per_kg: lowest,
                high_j_per_kg: highest,
            })
        }
        other => other,
    }
}

fn from_relative_humidity_and_enthalpy(rh: f64, h: f64, p: f64) -> Result<MoistAir, AirError> {
    let (low, high) = (ValidRange::DRY_BULB.low, ValidRange::DRY_BULB.high);
    let lowest =
        raw::enthalpy_j_per_kg(low, humidity_ratio_of_vapour(rh * raw::saturation_pressure_pa(low), p)?);
    // Where the vapour would reach the air pressure below the highest dry bulb, the humidity ratio ends the range.
    let w_high = raw::humidity_ratio_from_relative_humidity(high, rh, p);
    let highest = if w_high <= ValidRange::HUMIDITY_RATIO.high {
        raw::enthalpy_j_per_kg(high, w_high)
    } else {
        let p_w = raw::vapour_pressure_pa(ValidRange::HUMIDITY_RATIO.high, p);
        let end = raw::saturation_temperature_solve((p_w / rh).ln());
        raw::enthalpy_j_per_kg(end.value, ValidRange::HUMIDITY_RATIO.high)
    };
    if !(h >= lowest && h <= highest) {
        return Err(AirError::EnthalpyOutOfReach {
            enthalpy_j_per_kg: h,
            low_j_per_kg: lowest,
            high_j_per_kg: highest,
        });
    }
    let root = raw::dry_bulb_from_enthalpy_and_relative_humidity(h, rh, p, low, high);
    // 1e-6 J/kg is 1e-9 K at low humidity; relative for steam-like states.
    let t = accept(PropertyKind::DryBulb, root, 1e-6 + 1e-11 * h.abs())?;
    MoistAir::from_pair(
        Property::DryBulb(Temperature::celsius(t)),
        Property::RelativeHumidity(Fraction::from_si(rh)),
        Pressure::from_si(p),
    )
}
