//! Sol-air temperature: outdoor air, sun and long-wave sky exchange as one temperature beyond a wall.

use crate::error::{RoomError, within};
use drycoil_units::{Fraction, HeatFlux, Quantity, Temperature, ThermalTransmittance};

/// A sol-air temperature with its terms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolAir {
    /// Outdoor air.
    pub air: Temperature,
    /// Rise by absorbed sun, K.
    pub sun_k: f64,
    /// Fall by long-wave exchange with sky and ground, K.
    pub long_wave_k: f64,
    /// The sol-air temperature.
    pub temperature: Temperature,
}

/// `t_out + a I / h_o - e dR / h_o` (ASHRAE Fundamentals, load chapter).
///
/// `long_wave` is the emissivity times the difference between the long-wave radiation of a black surface at air
/// temperature and what sky and surroundings send: about 63 W/m2 on a horizontal surface under a clear sky, 0 on a
/// vertical one (from memory). Sun 0 to 1500 W/m2, long-wave -100 to 200 W/m2, film 1 to 100 W/(m2 K).
///
/// ```
/// use drycoil_rooms::sol_air::sol_air;
/// use drycoil_units::{Fraction, HeatFlux, Quantity, Temperature, ThermalTransmittance};
/// let dark_wall = sol_air(
///     Temperature::fahrenheit(95.0),
///     HeatFlux::parse("250 Btu/h ft2").unwrap(),
///     Fraction::ratio(0.9),
///     HeatFlux::from_si(0.0),
///     ThermalTransmittance::parse("3 Btu/h ft2 degF").unwrap(),
/// )?;
/// assert!((dark_wall.temperature.to_fahrenheit() - 170.0).abs() < 1e-9);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn sol_air(
    air: Temperature,
    sun: HeatFlux,
    absorptance: Fraction,
    long_wave: HeatFlux,
    film: ThermalTransmittance,
) -> Result<SolAir, RoomError> {
    let h = within("outside film coefficient", film.si(), 1.0, 100.0, "W/(m2 K)")?;
    let t = within("outdoor air temperature", air.si(), -80.0, 70.0, "degC")?;
    let i = within("irradiance on a surface", sun.si(), 0.0, 1500.0, "W/m2")?;
    let a = within("solar absorptance", absorptance.si(), 0.0, 1.0, "1")?;
    let r = within("long-wave loss", long_wave.si(), -100.0, 200.0, "W/m2")?;
    let (sun_k, long_wave_k) = (a * i / h, r / h);
    Ok(SolAir { air, sun_k, long_wave_k, temperature: Temperature::from_si(t + sun_k - long_wave_k) })
}

#[cfg(test)]
mod tests {
    use super::sol_air;
    use drycoil_units::{Fraction, HeatFlux, Quantity, Temperature, ThermalTransmittance};

    /// ASHRAE load chapter rule (from memory): `a/h_o` 0.30 dark, long-wave term 7 degF on a roof; 95 F and
    /// 250 Btu/h ft2 give 170.0 F on a wall and 163.0 F on a roof. Tolerance: rounding.
    #[test]
    fn val_dark_wall_and_roof() {
        let film = ThermalTransmittance::parse("3 Btu/h ft2 degF").unwrap();
        for (long_wave, wanted) in [(0.0, 170.0), (21.0, 163.0)] {
            let s = sol_air(
                Temperature::fahrenheit(95.0),
                HeatFlux::parse("250 Btu/h ft2").unwrap(),
                Fraction::ratio(0.9),
                HeatFlux::parse(&format!("{long_wave} Btu/h ft2")).unwrap(),
                film,
            )
            .unwrap();
            assert!((s.temperature.to_fahrenheit() - wanted).abs() < 1e-9);
        }
        let odd = sol_air(
            Temperature::celsius(20.0),
            HeatFlux::from_si(100.0),
            Fraction::ratio(1.4),
            HeatFlux::from_si(0.0),
            film,
        );
        assert!(odd.is_err());
    }
}
