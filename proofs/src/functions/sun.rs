//! Sun, sky and glass.

use super::{Function, unknown};
use crate::value::{Found, FunctionError, Given};
use drycoil_sun::raw::{RawSky, raw_tilted_irradiance};
use drycoil_sun::series::{
    constant_extinction_beam_w_per_m2, cooper_declination_deg, cos_incidence, solar_time_h,
    spencer_equation_of_time_min, zenith_and_azimuth_deg,
};
use drycoil_sun::{
    ClearSkyCoefficients, LocalTime, Pane, Place, Refraction, SkyModel, Surface, extraterrestrial_normal,
    interface_reflectance, sun_position,
};
use drycoil_units::{Angle, Fraction, HeatFlux, Quantity, Time};

pub const FUNCTIONS: &[Function] = &[
    Function { id: "sun.position", calls: "drycoil_sun::sun_position", run: position },
    Function { id: "sun.solar_time", calls: "drycoil_sun::series::solar_time_h", run: solar_time },
    Function { id: "sun.incidence", calls: "drycoil_sun::series::cos_incidence", run: incidence },
    Function { id: "sun.direction", calls: "drycoil_sun::series::zenith_and_azimuth_deg", run: direction },
    Function {
        id: "sun.declination",
        calls: "drycoil_sun::series::cooper_declination_deg",
        run: declination,
    },
    Function { id: "sun.beam_ratio", calls: "drycoil_sun::series::cos_incidence", run: beam_ratio },
    Function {
        id: "sun.constant_extinction",
        calls: "drycoil_sun::series::constant_extinction_beam_w_per_m2",
        run: constant_extinction,
    },
    Function { id: "sun.reflectance", calls: "drycoil_sun::interface_reflectance", run: reflectance },
    Function { id: "sun.clear_sky", calls: "drycoil_sun::ClearSkyCoefficients", run: clear_sky },
    Function { id: "sun.tilted", calls: "drycoil_sun::tilted_irradiance", run: tilted },
];

fn degrees(given: &Given, name: &str) -> Result<f64, FunctionError> {
    Ok(given.get::<Angle>(name)?.to_degrees())
}

fn position(given: &Given) -> Result<Found, FunctionError> {
    let place = Place {
        latitude: given.get("latitude")?,
        longitude: given.get("longitude")?,
        elevation: given.get("elevation")?,
    };
    let time = LocalTime {
        year: given.plain("year")? as i32,
        month: given.plain("month")? as u8,
        day: given.plain("day")? as u8,
        hour: given.get::<Time>("local_time")?.to_hours(),
        utc_offset_hours: given.plain("utc_offset")?,
    };
    let refraction =
        Refraction::Apparent { pressure: given.get("pressure")?, temperature: given.get("temperature")? };
    let sun = sun_position(&place, &time, refraction)?;
    let surface = Surface::new(given.get("tilt")?, given.get("surface_azimuth")?)?;
    Ok(Found::new()
        .with("zenith", sun.zenith)
        .with("azimuth", sun.azimuth)
        .with("incidence", surface.sun(&sun).incidence)
        .number("distance", sun.distance_au))
}

fn solar_time(given: &Given) -> Result<Found, FunctionError> {
    let day = given.plain("day")?;
    let hours = solar_time_h(
        given.get::<Time>("standard_time")?.to_hours(),
        degrees(given, "longitude")?,
        given.plain("utc_offset")?,
        day,
    );
    Ok(Found::new()
        .number("equation_of_time", spencer_equation_of_time_min(day))
        .with("solar_time", Time::hours(hours)))
}

fn incidence(given: &Given) -> Result<Found, FunctionError> {
    let cos = cos_incidence(
        degrees(given, "latitude")?,
        degrees(given, "declination")?,
        degrees(given, "hour_angle")?,
        degrees(given, "tilt")?,
        degrees(given, "surface_azimuth")?,
    );
    Ok(Found::new().number("cosine", cos).with("incidence", Angle::degrees(cos.acos().to_degrees())))
}

fn direction(given: &Given) -> Result<Found, FunctionError> {
    let (zenith, azimuth) = zenith_and_azimuth_deg(
        degrees(given, "latitude")?,
        degrees(given, "declination")?,
        degrees(given, "hour_angle")?,
    );
    Ok(Found::new().with("zenith", Angle::degrees(zenith)).with("azimuth", Angle::degrees(azimuth)))
}

fn declination(given: &Given) -> Result<Found, FunctionError> {
    Ok(Found::new().with("declination", Angle::degrees(cooper_declination_deg(given.plain("day")?))))
}

/// Beam on a surface that faces south over beam on the horizontal, at one hour angle.
fn beam_ratio(given: &Given) -> Result<Found, FunctionError> {
    let (latitude, declination, hour_angle) =
        (degrees(given, "latitude")?, degrees(given, "declination")?, degrees(given, "hour_angle")?);
    let at = |tilt| cos_incidence(latitude, declination, hour_angle, tilt, 0.0);
    Ok(Found::new().number("ratio", at(degrees(given, "tilt")?) / at(0.0)))
}

fn constant_extinction(given: &Given) -> Result<Found, FunctionError> {
    let mass = 1.0 / degrees(given, "altitude")?.to_radians().sin();
    let apparent: HeatFlux = given.get("apparent")?;
    let beam = constant_extinction_beam_w_per_m2(apparent.si(), given.plain("optical_depth")?, mass);
    Ok(Found::new().number("air_mass", mass).with("beam", HeatFlux::from_si(beam)))
}

fn reflectance(given: &Given) -> Result<Found, FunctionError> {
    let index = given.plain("refractive_index")?;
    // A pane of this glass exists; its interface is what is compared.
    Pane::new(index, 0.0)?;
    let r = interface_reflectance(index, given.get("incidence")?)?;
    Ok(Found::new().number("reflectance", r.mean()))
}

fn clear_sky(given: &Given) -> Result<Found, FunctionError> {
    let coefficients = match given.words("edition")? {
        "2009" => ClearSkyCoefficients::Ashrae2009,
        "2013" => ClearSkyCoefficients::Ashrae2013,
        other => return Err(unknown("edition", other)),
    };
    let e0 = extraterrestrial_normal(given.plain("day")? as u16);
    let sky = coefficients.irradiance(
        given.plain("tau_beam")?,
        given.plain("tau_diffuse")?,
        given.get("altitude")?,
        e0,
    )?;
    let mass = sky.air_mass.ok_or_else(|| FunctionError::Refused("the sun is below the horizon".into()))?;
    Ok(Found::new()
        .number("air_mass", mass)
        .number("beam_exponent", sky.beam_exponent)
        .number("diffuse_exponent", sky.diffuse_exponent)
        .with("beam_normal", sky.beam_normal)
        .with("diffuse_horizontal", sky.diffuse_horizontal))
}

fn tilted(given: &Given) -> Result<Found, FunctionError> {
    let flux = |name: &str| given.get::<HeatFlux>(name).map(Quantity::si);
    let sky = RawSky {
        zenith_deg: degrees(given, "zenith")?,
        azimuth_deg: degrees(given, "azimuth")?,
        direct_normal_w_per_m2: flux("direct_normal")?,
        diffuse_horizontal_w_per_m2: flux("diffuse_horizontal")?,
        global_horizontal_w_per_m2: flux("global_horizontal")?,
        extraterrestrial_normal_w_per_m2: flux("extraterrestrial_normal")?,
    };
    let (tilt, facing) = (degrees(given, "tilt")?, degrees(given, "surface_azimuth")?);
    let ground: Fraction = given.get("ground_reflectance")?;
    let on = |model| raw_tilted_irradiance(model, tilt, facing, &sky, ground.si());
    let perez = on(SkyModel::Perez);
    Ok(Found::new()
        .number("cosine", perez.cos_incidence)
        .with("beam", perez.beam)
        .with("isotropic", on(SkyModel::Isotropic).sky_diffuse)
        .with("hay_davies", on(SkyModel::HayDavies).sky_diffuse)
        .with("perez", perez.sky_diffuse)
        .with("ground", perez.ground))
}
