//! Printing quantities in a unit system.

use crate::kind::QuantityKind;

/// The system in which numbers are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum UnitSystem {
    /// International System.
    Si,
    /// Inch-pound.
    Ip,
}

impl UnitSystem {
    /// Symbol of the unit in which a kind is shown.
    pub const fn symbol(self, kind: QuantityKind) -> &'static str {
        match self {
            Self::Si => kind.si_symbol(),
            Self::Ip => kind.ip_symbol(),
        }
    }

    /// Value of an SI number in the unit shown.
    pub fn value(self, kind: QuantityKind, si: f64) -> f64 {
        let unit = kind.unit(self.symbol(kind)).expect("shown unit is in the table");
        (si - unit.offset) / unit.factor
    }

    /// Decimals with which a kind is shown.
    pub const fn decimals(self, kind: QuantityKind) -> usize {
        use QuantityKind as K;
        match (kind, self) {
            (
                K::Temperature
                | K::TemperatureDifference
                | K::HumidityRatio
                | K::Fraction
                | K::SpecificEnthalpy
                | K::AirChangesPerHour,
                _,
            )
            | (K::WaterFlow | K::Velocity, Self::Ip) => 1,
            (
                K::WaterFlow
                | K::ThermalTransmittance
                | K::ThermalResistance
                | K::Conductivity
                | K::EnergyPrice
                | K::StandardAirFlowPerArea
                | K::MassFlow,
                Self::Si,
            )
            | (K::ThermalTransmittance | K::ThermalResistance | K::Conductivity | K::EnergyPrice, Self::Ip) => {
                3
            }
            (
                K::Pressure
                | K::Length
                | K::HeatFlux
                | K::StandardAirFlowPerArea
                | K::SpecificFanPower
                | K::Density
                | K::SpecificHeat,
                _,
            )
            | (K::PressureDifference, Self::Ip)
            | (K::Velocity, Self::Si) => 2,
            _ => 0,
        }
    }
}

/// Text of an SI number in the shown unit, with the unit.
pub fn format_si(kind: QuantityKind, si: f64, system: UnitSystem) -> String {
    format!("{} {}", fixed(system.value(kind, si), system.decimals(kind)), system.symbol(kind))
}

/// Text of a number with so many decimals; what rounds to zero has no sign.
///
/// ```
/// use drycoil_units::fixed;
/// assert_eq!(fixed(-0.04, 1), "0.0");
/// assert_eq!(fixed(-0.06, 1), "-0.1");
/// ```
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// Text of a number with so many significant digits, without exponent where it reads well.
pub fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return format!("{value}");
    }
    let magnitude = value.abs().log10().floor() as i32;
    if !(-5..=9).contains(&magnitude) {
        return format!("{value:.*e}", digits.saturating_sub(1));
    }
    let decimals = digits.saturating_add_signed(-1 - magnitude as isize);
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::*;

    #[test]
    fn every_shown_unit_is_in_the_table() {
        for kind in QuantityKind::ALL {
            for system in [UnitSystem::Si, UnitSystem::Ip] {
                assert!(kind.unit(system.symbol(*kind)).is_some(), "{kind:?} {system:?}");
            }
            assert_eq!(kind.units()[0].offset, 0.0);
            assert_eq!(kind.units()[0].factor, 1.0, "{kind:?}: the first unit is the inner one");
        }
    }

    #[test]
    fn no_unit_is_spelt_twice_within_a_kind() {
        for kind in QuantityKind::ALL {
            let mut all: Vec<&str> = kind
                .units()
                .iter()
                .flat_map(|u| std::iter::once(u.symbol).chain(u.aliases.iter().copied()))
                .collect();
            all.sort_unstable();
            let n = all.len();
            all.dedup();
            assert_eq!(n, all.len(), "{kind:?}");
        }
    }

    #[test]
    fn inv_text_round_trip() {
        for kind in QuantityKind::ALL {
            for unit in kind.units() {
                let si = parse_kind(*kind, &format!("12.5 {}", unit.symbol)).unwrap();
                assert!((si - (12.5 * unit.factor + unit.offset)).abs() <= 1e-12 * si.abs().max(1.0));
            }
        }
    }

    #[test]
    fn refuses_what_it_cannot_know() {
        assert!(matches!(Temperature::parse("55"), Err(UnitError::NoUnit { .. })));
        assert!(matches!(Temperature::parse("55 cfm"), Err(UnitError::WrongUnit { other: Some(_), .. })));
        assert!(matches!(Temperature::parse("NaN degC"), Err(UnitError::NotFinite { .. })));
        assert!(matches!(Temperature::parse("1e999 degC"), Err(UnitError::NotFinite { .. })));
        assert!(matches!(Temperature::parse(""), Err(UnitError::Empty { .. })));
        assert_eq!(Temperature::parse("55 DEGF").unwrap_err().hint(), "did you mean `degF`?");
        assert!(matches!(parse_air_flow("1e999 acfm"), Err(UnitError::NotFinite { .. })));
        assert_eq!(parse_air_flow("20 acfm").unwrap().1, Some(AirFlowBasis::Actual));
        assert_eq!(parse_air_flow("20 cfm").unwrap().1, None);
        assert_eq!(split_title("floor_area [ft2]"), ("floor_area", Some("ft2")));
    }

    #[test]
    fn nothing_has_no_sign() {
        for system in [UnitSystem::Si, UnitSystem::Ip] {
            for kind in QuantityKind::ALL.iter().filter(|k| **k != QuantityKind::Temperature) {
                assert_eq!(format_si(*kind, -1e-12, system), format_si(*kind, 0.0, system), "{kind:?}");
            }
        }
        assert_eq!(format_si(QuantityKind::Temperature, -160.0 / 9.0 - 0.01, UnitSystem::Ip), "0.0 degF");
        assert_eq!(format_si(QuantityKind::TemperatureDifference, -0.1, UnitSystem::Ip), "-0.2 degF");
        assert_eq!(significant(-0.0, 3), "0");
    }

    #[test]
    fn val_conversion_factors() {
        // NIST Special Publication 811: Btu(IT) 1055.05585262 J, pound 0.45359237 kg, foot 0.3048 m.
        assert!((Power::btu_per_hour(12_000.0).to_watts() - 3516.852842).abs() < 1e-5);
        assert!((StandardAirFlow::cfm(1.0).to_m3_per_s() - 4.719_474_432e-4).abs() < 1e-15);
        assert!((SpecificEnthalpy::btu_per_lb(1.0).to_joules_per_kg() - 2326.0).abs() < 1e-9);
        assert!((STANDARD_AIR_DENSITY_KG_PER_M3 - 0.075 * 0.453_592_37 / 0.3048f64.powi(3)).abs() < 1e-6);
    }
}
