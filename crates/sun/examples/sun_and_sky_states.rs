//! Prints seeded random states with this crate's answers as CSV, for comparison with another library:
//! `cargo run -p drycoil-sun --example sun_and_sky_states -- COUNT SEED`.
#![allow(clippy::print_stdout, reason = "printing is what this example is for")]

use drycoil_sun::raw::{RawSky, raw_tilted_irradiance};
use drycoil_sun::{
    ClearSkyCoefficients, LocalTime, Place, Refraction, SkyModel, extraterrestrial_normal, sun_position,
};
use drycoil_units::{Angle, Length, Quantity};

/// `SplitMix64`, as numbers in 0..1.
struct Random(u64);

impl Random {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let share = ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0;
        low + share * (high - low)
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let count: usize = arguments.next().unwrap_or_else(|| "1000".into()).parse()?;
    let mut random = Random(arguments.next().unwrap_or_else(|| "1".into()).parse()?);
    println!(
        "year,month,day,hour_utc,latitude,longitude,elevation,zenith,azimuth,distance,tilt,surface_azimuth,dni,dhi,ghi,\
         e0,beam,isotropic,hay_davies,perez,ground,air_mass"
    );
    for _ in 0..count {
        let time = LocalTime {
            year: random.between(1990.0, 2030.0) as i32,
            month: random.between(1.0, 13.0) as u8,
            day: random.between(1.0, 29.0) as u8,
            hour: random.between(0.0, 24.0),
            utc_offset_hours: 0.0,
        };
        let (latitude, longitude) = (random.between(-66.0, 66.0), random.between(-180.0, 180.0));
        let elevation = random.between(0.0, 3000.0);
        let place = Place {
            latitude: Angle::degrees(latitude),
            longitude: Angle::degrees(longitude),
            elevation: Length::metres(elevation),
        };
        let sun = sun_position(&place, &time, Refraction::None)?;
        let day_of_year = (f64::from(time.month - 1) * 30.4 + f64::from(time.day)) as u16;
        let e0 = extraterrestrial_normal(day_of_year);
        let clear = ClearSkyCoefficients::Ashrae2013.irradiance(
            random.between(0.2, 0.8),
            random.between(1.2, 2.8),
            sun.altitude(),
            e0,
        )?;
        let dni = clear.beam_normal.si() * random.between(0.0, 1.0);
        let dhi = clear.diffuse_horizontal.si() * random.between(0.5, 2.0);
        let sky = RawSky {
            zenith_deg: sun.zenith.to_degrees(),
            azimuth_deg: sun.azimuth.to_degrees(),
            direct_normal_w_per_m2: dni,
            diffuse_horizontal_w_per_m2: dhi,
            global_horizontal_w_per_m2: dhi + dni * sun.altitude().to_radians().sin().max(0.0),
            extraterrestrial_normal_w_per_m2: e0.si(),
        };
        let (tilt, facing) = (random.between(0.0, 180.0), random.between(0.0, 360.0));
        let on = |model| raw_tilted_irradiance(model, tilt, facing, &sky, 0.2);
        let perez = on(SkyModel::Perez);
        println!(
            "{},{},{},{},{latitude},{longitude},{elevation},{},{},{},{tilt},{facing},{dni},{dhi},{},{},{},{},{},{},{},{}",
            time.year,
            time.month,
            time.day,
            time.hour,
            sky.zenith_deg,
            sky.azimuth_deg,
            sun.distance_au,
            sky.global_horizontal_w_per_m2,
            e0.si(),
            perez.beam.si(),
            on(SkyModel::Isotropic).sky_diffuse.si(),
            on(SkyModel::HayDavies).sky_diffuse.si(),
            perez.sky_diffuse.si(),
            perez.ground.si(),
            clear.air_mass.unwrap_or(0.0),
        );
    }
    Ok(())
}
