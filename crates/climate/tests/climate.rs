//! Weather years, design conditions, design days, tables: on years made up so that the answers are known.

use drycoil_air::raw as air;
use drycoil_climate::{
    AnnualPercentile, Bands, Calendar, ClimateError, Column, DAILY_RANGE_FRACTIONS, DegreeDayBases,
    DesignConditions, DesignDay, DesignDayKind, DesignDayOptions, DewPointRounding, EnteredConditions,
    EnteredPair, Exceedance, HourMoisture, Moisture, OpticalDepths, Origin, SkySource, Station,
    WeatherColumns, WeatherFormat, WeatherYear, design_day, design_days, dew_point_bands,
    hours_above_dew_point, joint_bins, monthly_table, solar_closure,
};
use drycoil_sun::{ClearSkyCoefficients, extraterrestrial_normal};
use drycoil_units::{Angle, Length, Pressure, Quantity, Temperature, TemperatureDifference};
use std::f64::consts::TAU;

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
}

fn station() -> Station {
    Station {
        name: "Made up".into(),
        region: Some("NC".into()),
        latitude: Angle::degrees(36.1),
        longitude: Angle::degrees(-79.95),
        elevation: Length::metres(273.0),
        utc_offset_hours: -5.0,
    }
}

/// A repeatable sequence in 0..1.
fn noise(seed: u64) -> f64 {
    let mut x = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (x ^ (x >> 31)) as f64 / u64::MAX as f64
}

/// Sine seasons and days with day-to-day noise; dew point always below dry bulb; a clear sky by the tau model of which
/// each day lets a share through.
fn columns(calendar: Calendar) -> WeatherColumns {
    let hours = calendar.hours();
    let wave = |hour: usize, mean: f64, season: f64, day: f64| {
        let (year, clock) = (hour as f64 / hours as f64, (hour % 24) as f64 / 24.0);
        mean - season * (TAU * (year - 0.05)).cos() - day * (TAU * (clock - 0.125)).cos()
            + 8.0 * (noise(hour as u64 / 24) - 0.5)
    };
    let dry_bulb_c: Vec<f64> = (0..hours).map(|h| wave(h, 15.0, 11.0, 5.0)).collect();
    let dew_point_c =
        dry_bulb_c.iter().enumerate().map(|(h, t)| t - 0.5 - 12.0 * noise(77 + h as u64 / 6)).collect();
    let nominal = WeatherColumns {
        station: station(),
        format: WeatherFormat::PlainCsv,
        dry_bulb_c,
        moisture: Moisture::DewPointC(dew_point_c),
        rounding: DewPointRounding::TENTH_KELVIN,
        pressure_pa: (0..hours).map(|h| 97_500.0 + 1_000.0 * noise(9_999 + h as u64)).collect(),
        wind_speed_m_per_s: vec![3.0; hours],
        wind_direction_deg: vec![225.0; hours],
        global_horizontal_w_per_m2: vec![0.0; hours],
        direct_normal_w_per_m2: vec![0.0; hours],
        diffuse_horizontal_w_per_m2: vec![0.0; hours],
        sky_infrared_w_per_m2: None,
    };
    let suns = WeatherYear::new(nominal.clone()).unwrap().sun_positions().unwrap();
    let mut with_sun = nominal;
    for (hour, sun) in suns.iter().enumerate() {
        let e0 = extraterrestrial_normal((hour / 24 + 1) as u16);
        let sky = ClearSkyCoefficients::Ashrae2013.irradiance(0.4, 2.2, sun.altitude(), e0).unwrap();
        let share = noise(31 + hour as u64 / 24);
        let beam = share * sky.beam_normal.si();
        let diffuse = sky.diffuse_horizontal.si();
        with_sun.direct_normal_w_per_m2[hour] = beam;
        with_sun.diffuse_horizontal_w_per_m2[hour] = diffuse;
        with_sun.global_horizontal_w_per_m2[hour] =
            diffuse + beam * sun.altitude().to_radians().sin().max(0.0);
    }
    with_sun
}

fn year() -> WeatherYear {
    WeatherYear::new(columns(Calendar::Common)).unwrap()
}

fn derived() -> DesignConditions {
    DesignConditions::from_year(&year(), &EnteredConditions::default()).unwrap()
}

#[test]
fn a_sound_year_is_taken_as_it_is() {
    let given = columns(Calendar::Common);
    let year = WeatherYear::new(given.clone()).unwrap();
    assert_eq!(year.hours(), 8760);
    assert_eq!(year.calendar(), Calendar::Common);
    assert_eq!(year.dry_bulb_c(), given.dry_bulb_c);
    assert_eq!(Moisture::DewPointC(year.dew_point_c().to_vec()), given.moisture);
    assert!(year.rounded_hours().is_empty());
    assert_eq!(year.stamp(4_000).unwrap().to_string(), "16 June 16:00");
    assert_eq!(year.stamp(8_760), None);
}

#[test]
fn a_leap_year_keeps_29_february() {
    let year = WeatherYear::new(columns(Calendar::Leap)).unwrap();
    assert_eq!(year.hours(), 8784);
    assert_eq!(year.stamp((31 + 28) * 24).unwrap().to_string(), "29 February 00:00");
    assert_eq!(year.sun_positions().unwrap().len(), 8784);
    let rows = monthly_table(&year, DegreeDayBases::default());
    assert_eq!(rows.iter().map(|r| r.hours).sum::<usize>(), 8784);
    assert_eq!(rows[1].hours, 29 * 24);
    let conditions = DesignConditions::from_year(&year, &EnteredConditions::default()).unwrap();
    let day =
        design_day(DesignDayKind::Cooling { month: 3 }, &conditions, &year, &DesignDayOptions::default())
            .unwrap();
    assert_eq!(day.day_of_year, 81);
}

#[test]
fn every_problem_of_a_year_is_listed_in_one_pass() {
    let mut bad = columns(Calendar::Common);
    bad.dry_bulb_c[10] = f64::NAN;
    bad.dry_bulb_c[20] = 75.0;
    bad.pressure_pa[30] = 1013.0;
    bad.wind_speed_m_per_s.pop();
    bad.global_horizontal_w_per_m2[12] = -9999.0;
    let errors = WeatherYear::new(bad).unwrap_err();
    assert_eq!(
        errors,
        [
            ClimateError::NotFinite { column: Column::DryBulb, hour: 10 },
            ClimateError::OutOfRange {
                column: Column::DryBulb,
                hour: 20,
                value: 75.0,
                low: -60.0,
                high: 60.0
            },
            ClimateError::OutOfRange {
                column: Column::Pressure,
                hour: 30,
                value: 1013.0,
                low: 60_000.0,
                high: 108_000.0
            },
            ClimateError::ColumnLength { column: Column::WindSpeed, found: 8759, expected: 8760 },
            ClimateError::OutOfRange {
                column: Column::GlobalHorizontal,
                hour: 12,
                value: -9999.0,
                low: 0.0,
                high: 1500.0
            },
        ]
    );
    assert_eq!(errors[1].to_string(), "dry bulb 75 degC of hour 20 is outside -60 to 60 degC");
}

#[test]
fn a_year_of_any_other_length_is_refused() {
    for length in [0, 1, 8759, 8761, 17_520] {
        let mut short = columns(Calendar::Common);
        short.dry_bulb_c.resize(length, 10.0);
        let errors = WeatherYear::new(short).unwrap_err();
        assert_eq!(errors[0], ClimateError::HourCount { found: length });
    }
}

#[test]
fn dew_point_above_dry_bulb_is_listed_within_the_rounding_and_refused_beyond() {
    let with_excess = |excess: f64, rounding| {
        let mut given = columns(Calendar::Common);
        let dry_bulb = (given.dry_bulb_c[100] * 10.0).round() / 10.0;
        given.dry_bulb_c[100] = dry_bulb;
        given.rounding = rounding;
        if let Moisture::DewPointC(dew_point) = &mut given.moisture {
            dew_point[100] = dry_bulb + excess;
        }
        WeatherYear::new(given)
    };
    let year = with_excess(0.1, DewPointRounding::TENTH_KELVIN).unwrap();
    assert_eq!(year.rounded_hours().len(), 1);
    assert_eq!(year.rounded_hours()[0].hour, 100);
    near(year.rounded_hours()[0].excess_k, 0.1, 1e-9);
    // The hour is held saturated, so everything later finds a state that exists.
    assert_eq!(year.dew_point_c()[100], year.dry_bulb_c()[100]);
    near(year.wet_bulb_c().unwrap()[100], year.dry_bulb_c()[100], 1e-6);
    assert!(matches!(
        with_excess(0.2, DewPointRounding::TENTH_KELVIN).unwrap_err()[..],
        [ClimateError::DewPointAboveDryBulb { hour: 100, .. }]
    ));
    assert_eq!(with_excess(1.0, DewPointRounding::ONE_KELVIN).unwrap().rounded_hours().len(), 1);
    assert!(with_excess(1.1, DewPointRounding::ONE_KELVIN).is_err());
    assert!(DewPointRounding::step(0.0).is_err() && DewPointRounding::step(1.5).is_err());
    assert_eq!(DewPointRounding::step(0.01).unwrap().step_k(), 0.01);
}

/// One state, three ways to give its moisture. Tolerance: the residual of the dew-point iteration.
#[test]
fn inv_moisture_columns_agree() {
    let by_dew_point = year();
    let (t, w, p) = (by_dew_point.dry_bulb_c(), by_dew_point.humidity_ratio(), by_dew_point.pressure_pa());
    let mut given = columns(Calendar::Common);
    given.moisture = Moisture::HumidityRatio(w.to_vec());
    let by_ratio = WeatherYear::new(given.clone()).unwrap();
    let rh = (0..8760).map(|h| air::relative_humidity(t[h], w[h], p[h])).collect();
    given.moisture = Moisture::RelativeHumidity(rh);
    let by_humidity = WeatherYear::new(given).unwrap();
    for hour in 0..8760 {
        near(by_ratio.dew_point_c()[hour], by_dew_point.dew_point_c()[hour], 1e-8);
        near(by_humidity.dew_point_c()[hour], by_dew_point.dew_point_c()[hour], 1e-8);
    }
}

#[test]
fn saturated_air_by_relative_humidity_is_accepted_at_every_temperature() {
    let mut given = columns(Calendar::Common);
    given.moisture = Moisture::RelativeHumidity(vec![1.0; 8760]);
    let year = WeatherYear::new(given.clone()).unwrap();
    assert!(year.rounded_hours().is_empty());
    let wet_bulb = year.wet_bulb_c().unwrap();
    for (wet, dry) in wet_bulb.iter().zip(year.dry_bulb_c()) {
        near(*wet, *dry, 1e-6);
    }
    given.moisture = Moisture::RelativeHumidity(vec![0.0; 8760]);
    assert!(WeatherYear::new(given).is_err());
}

#[test]
fn fingerprint_follows_the_content() {
    let first = year().fingerprint();
    assert_eq!(first, year().fingerprint());
    let mut changed = columns(Calendar::Common);
    changed.wind_speed_m_per_s[5000] += 1e-9;
    assert_ne!(first, WeatherYear::new(changed).unwrap().fingerprint());
    let mut zero = columns(Calendar::Common);
    zero.direct_normal_w_per_m2[0] = -0.0;
    assert_eq!(first, WeatherYear::new(zero).unwrap().fingerprint());
    let mut moved = columns(Calendar::Common);
    moved.station.latitude = Angle::degrees(36.2);
    assert_ne!(first, WeatherYear::new(moved).unwrap().fingerprint());
}

/// By the definition: the count of hours above the value is `q n` to the half hour.
#[test]
fn phys_percentiles_count_their_hours_and_fall() {
    let year = year();
    let ranked = Exceedance::new(year.dry_bulb_c());
    let mut last = f64::INFINITY;
    for percent in [0.1, 0.4, 1.0, 2.0, 5.0, 50.0, 98.0, 99.0, 99.6] {
        let value = ranked.exceeded_in_percent(percent).unwrap();
        let above = year.dry_bulb_c().iter().filter(|&&t| t > value).count() as f64;
        near(above, percent / 100.0 * 8760.0, 1.0);
        assert!(value < last);
        last = value;
    }
    assert_eq!(ranked.exceeded_in_percent(0.0), None);
    assert_eq!(ranked.exceeded_in_percent(100.0), None);
    assert_eq!(Exceedance::new(&[]).exceeded_in_percent(50.0), None);
    assert_eq!(Exceedance::new(&[3.0, 1.0, 2.0]).exceeded_in_percent(50.0), Some(2.0));
}

#[test]
fn phys_design_conditions_are_ordered_and_physical() {
    let c = derived();
    let t = |v: Temperature| v.to_celsius();
    for pair in c.cooling.windows(2) {
        assert!(t(pair[0].dry_bulb.value) > t(pair[1].dry_bulb.value));
    }
    for pair in c.dehumidification.windows(2) {
        assert!(t(pair[0].dew_point.value) > t(pair[1].dew_point.value));
        assert!(pair[0].humidity_ratio > pair[1].humidity_ratio);
    }
    for pair in c.evaporation.windows(2) {
        assert!(t(pair[0].wet_bulb.value) > t(pair[1].wet_bulb.value));
    }
    assert!(t(c.heating[0].dry_bulb.value) < t(c.heating[1].dry_bulb.value));
    for month in &c.months {
        assert!(t(month.dry_bulb[0].dry_bulb.value) > t(month.dry_bulb[1].dry_bulb.value));
        for condition in month.dry_bulb {
            assert!(condition.wet_bulb.value <= condition.dry_bulb.value);
        }
        // The made-up day swings by 2 x 5 K, at clock hours that hit both its ends.
        near(month.mean_daily_range.value.to_kelvin(), 10.0, 0.15);
    }
    assert!((6..=8).contains(&c.hottest_month));
    assert!([12, 1, 2].contains(&c.coldest_month));
    for month in &c.months {
        assert!(
            t(month.dry_bulb[0].dry_bulb.value)
                <= t(c.months[usize::from(c.hottest_month) - 1].dry_bulb[0].dry_bulb.value) + 4.0
        );
    }
    assert_eq!(c.cooling[0].dry_bulb.origin, Origin::OneYear { hours: 8760 });
    assert!(matches!(c.cooling[0].wet_bulb.origin, Origin::OneYear { hours } if hours > 0));
    assert_eq!(c.hottest_month_daily_range(), c.months[usize::from(c.hottest_month) - 1].mean_daily_range);
}

/// A mean coincident value, taken again by hand.
#[test]
fn xchk_mean_coincident_wet_bulb() {
    let year = year();
    let c = derived().cooling[1];
    let design = c.dry_bulb.value.to_celsius();
    let wet_bulb = year.wet_bulb_c().unwrap();
    let beside: Vec<f64> =
        (0..8760).filter(|&h| (year.dry_bulb_c()[h] - design).abs() <= 0.5).map(|h| wet_bulb[h]).collect();
    near(c.wet_bulb.value.to_celsius(), beside.iter().sum::<f64>() / beside.len() as f64, 1e-9);
    assert_eq!(c.wet_bulb.origin, Origin::OneYear { hours: beside.len() });
}

#[test]
fn entered_values_win_and_say_so() {
    let f = Temperature::fahrenheit;
    let mut entered = EnteredConditions::default();
    entered.cooling[0] = EnteredPair { design: Some(f(92.6)), coincident: Some(f(74.6)) };
    entered.dehumidification[0].design = Some(f(74.1));
    entered.heating[1] = Some(f(20.0));
    entered.pressure = Some(Pressure::pascals(98_100.0));
    entered.months[6].mean_daily_range = Some(TemperatureDifference::fahrenheit(18.6));
    let c = DesignConditions::from_year(&year(), &entered).unwrap();
    assert_eq!(c.cooling[0].dry_bulb.value, f(92.6));
    assert_eq!(c.cooling[0].wet_bulb.origin, Origin::Entered);
    assert_eq!(c.dehumidification[0].dew_point.origin, Origin::Entered);
    assert!(matches!(c.dehumidification[0].dry_bulb.origin, Origin::OneYear { .. }));
    assert_eq!(c.heating[1].dry_bulb.origin, Origin::Entered);
    assert!(matches!(c.heating[0].dry_bulb.origin, Origin::OneYear { .. }));
    assert_eq!(c.pressure.origin, Origin::Entered);
    let expected = air::humidity_ratio_at_dew_point(f(74.1).to_celsius(), 98_100.0);
    near(c.dehumidification[0].humidity_ratio.si(), expected, 1e-12);
    // 92.6 degF dry bulb with 74.6 degF wet bulb at 98.1 kPa.
    let expected = air::humidity_ratio_at_wet_bulb(f(92.6).to_celsius(), f(74.6).to_celsius(), 98_100.0);
    near(c.cooling[0].humidity_ratio.si(), expected, 1e-12);
    assert_eq!(c.months[6].mean_daily_range.origin, Origin::Entered);
}

#[test]
fn entered_values_that_contradict_each_other_are_refused() {
    let year = year();
    let f = Temperature::fahrenheit;
    let mut entered = EnteredConditions::default();
    entered.cooling[2] = EnteredPair { design: Some(f(80.0)), coincident: Some(f(90.0)) };
    let error = DesignConditions::from_year(&year, &entered).unwrap_err();
    assert!(matches!(error, ClimateError::Contradiction { .. }), "{error}");
    let mut entered = EnteredConditions::default();
    entered.dehumidification[0] = EnteredPair { design: Some(f(80.0)), coincident: Some(f(70.0)) };
    assert!(DesignConditions::from_year(&year, &entered).is_err());
    let mut entered = EnteredConditions::default();
    entered.cooling[0] = EnteredPair { design: Some(f(100.0)), coincident: Some(f(20.0)) };
    assert!(matches!(DesignConditions::from_year(&year, &entered), Err(ClimateError::MoistAir { .. })));
    let mut entered = EnteredConditions::default();
    entered.months[0].mean_daily_range = Some(TemperatureDifference::kelvin(-1.0));
    assert!(DesignConditions::from_year(&year, &entered).is_err());
    let entered =
        EnteredConditions { pressure: Some(Pressure::pascals(1013.0)), ..EnteredConditions::default() };
    assert!(matches!(DesignConditions::from_year(&year, &entered), Err(ClimateError::Setting { .. })));
}

fn mean_dry_bulb(day: &DesignDay) -> f64 {
    day.hours.iter().map(|h| h.dry_bulb.to_celsius()).sum::<f64>() / 24.0
}

#[test]
fn phys_design_days_hold_their_conditions() {
    let (year, c) = (year(), derived());
    let options = DesignDayOptions::default();
    let mean_fraction = DAILY_RANGE_FRACTIONS.iter().sum::<f64>() / 24.0;
    let days = design_days(&c, &year, &options).unwrap();
    assert_eq!(days.len(), 14);
    for day in &days {
        let p = day.pressure.to_pascals();
        for hour in &day.hours {
            let (t, w) = (hour.dry_bulb.to_celsius(), hour.humidity_ratio.si());
            assert!(w <= air::saturation_humidity_ratio(t, p) && w <= day.humidity_ratio.si());
            assert_eq!(hour.moisture == HourMoisture::AsDay, w == day.humidity_ratio.si());
            assert!(hour.dew_point.to_celsius() <= t + 1e-6);
            assert!(
                hour.wet_bulb.to_celsius() <= t + 1e-6 && hour.wet_bulb.si() >= hour.dew_point.si() - 1e-6
            );
            if hour.sun.altitude().to_degrees() < 0.0 {
                assert!(hour.global_horizontal.si() <= hour.diffuse_horizontal.si() + 1e-9);
            }
        }
        let highest = day.hours.iter().map(|h| h.dry_bulb.to_celsius()).fold(f64::MIN, f64::max);
        near(highest, day.highest_dry_bulb.to_celsius(), 1e-9);
        let range = day.daily_range.to_kelvin();
        near(mean_dry_bulb(day), highest - range * mean_fraction, 1e-9);
    }
    let july = &days[6];
    assert_eq!(july.kind, DesignDayKind::Cooling { month: 7 });
    assert_eq!(july.day_of_year, 202);
    assert_eq!(july.hours[14].dry_bulb, c.months[6].dry_bulb[0].dry_bulb.value);
    near(july.hours[14].wet_bulb.to_celsius(), c.months[6].dry_bulb[0].wet_bulb.value.to_celsius(), 1e-6);
    let humid = &days[12];
    let humid_condition = c.dehumidification[0];
    assert_eq!(humid.hours[14].dry_bulb, humid_condition.dry_bulb.value);
    assert_eq!(humid.month, c.most_humid_month);
    let room = humid_condition.dry_bulb.value - humid_condition.dew_point.value;
    near(humid.daily_range.to_kelvin(), humid.month_daily_range.to_kelvin().min(room.to_kelvin()), 1e-12);
    assert!(humid.daily_range < humid.month_daily_range, "the made-up year is humid enough for the limit");
    assert_eq!(humid.saturated_hours(), 0);
    assert!(humid.hours.iter().all(|h| h.humidity_ratio == humid_condition.humidity_ratio));
    near(humid.hours[14].dew_point.to_celsius(), c.dehumidification[0].dew_point.value.to_celsius(), 1e-9);
    let cold = &days[13];
    assert_eq!(cold.sky, SkySource::NoSun);
    assert_eq!(cold.daily_range.to_kelvin(), 0.0);
    assert!(cold.hours.iter().all(|h| h.dry_bulb == c.heating[0].dry_bulb.value));
    assert!(cold.hours.iter().all(|h| h.direct_normal.si() == 0.0 && h.global_horizontal.si() == 0.0));
}

#[test]
fn phys_a_day_too_cold_for_its_moisture_is_saturated_and_counted() {
    let mut entered = EnteredConditions::default();
    let f = Temperature::fahrenheit;
    entered.months[7].dry_bulb[0] = EnteredPair { design: Some(f(84.0)), coincident: Some(f(80.0)) };
    entered.months[7].mean_daily_range = Some(TemperatureDifference::fahrenheit(20.0));
    let year = year();
    let c = DesignConditions::from_year(&year, &entered).unwrap();
    let day =
        design_day(DesignDayKind::Cooling { month: 8 }, &c, &year, &DesignDayOptions::default()).unwrap();
    assert!(day.saturated_hours() > 8 && day.saturated_hours() < 24);
    let p = day.pressure.to_pascals();
    for hour in day.hours.iter().filter(|h| h.moisture == HourMoisture::Saturated) {
        near(hour.humidity_ratio.si(), air::saturation_humidity_ratio(hour.dry_bulb.to_celsius(), p), 1e-15);
    }
}

/// The year's sky is the tau sky times a share of each day, so its clearest days come close to the tau sky of the same
/// depths: the best three of 31 shares drawn from 0..1 average above 0.8.
#[test]
fn xchk_clearest_days_and_tau_sky() {
    let year = year();
    let mut entered = EnteredConditions::default();
    entered.months[6].optical_depths = Some(OpticalDepths { beam: 0.4, diffuse: 2.2 });
    let c = DesignConditions::from_year(&year, &entered).unwrap();
    let options = DesignDayOptions::default();
    let july = design_day(DesignDayKind::Cooling { month: 7 }, &c, &year, &options).unwrap();
    assert!(matches!(july.sky, SkySource::TauClearSky { .. }));
    let own = design_day(DesignDayKind::Cooling { month: 7 }, &derived(), &year, &options).unwrap();
    let SkySource::ClearestDays { days_of_month } = &own.sky else { panic!("{:?}", own.sky) };
    assert_eq!(days_of_month.len(), 3);
    let total = |d: &DesignDay| d.hours.iter().map(|h| h.direct_normal.si()).sum::<f64>();
    let ratio = total(&own) / total(&july);
    assert!(ratio > 0.8 && ratio < 1.02, "{ratio}");
    let noon = july.hours[12];
    let sky = ClearSkyCoefficients::Ashrae2013
        .irradiance(0.4, 2.2, noon.sun.altitude(), extraterrestrial_normal(202))
        .unwrap();
    assert_eq!(noon.direct_normal, sky.beam_normal);
    assert_eq!(noon.diffuse_horizontal, sky.diffuse_horizontal);
    near(noon.global_horizontal.si(), sky.global_horizontal.si(), 1e-9);
}

#[test]
fn design_days_that_cannot_be_made_are_refused() {
    let (year, c) = (year(), derived());
    let options = DesignDayOptions::default();
    for month in [0, 13] {
        assert!(matches!(
            design_day(DesignDayKind::Cooling { month }, &c, &year, &options),
            Err(ClimateError::Setting { .. })
        ));
    }
    let mut dark = columns(Calendar::Common);
    dark.direct_normal_w_per_m2.fill(0.0);
    let dark = WeatherYear::new(dark).unwrap();
    assert_eq!(
        design_day(DesignDayKind::Cooling { month: 5 }, &c, &dark, &options),
        Err(ClimateError::NoSuchDay { what: "day with direct sun", month: 5 })
    );
    let mut entered = EnteredConditions::default();
    entered.months[4].optical_depths = Some(OpticalDepths { beam: 9.0, diffuse: 2.0 });
    let c = DesignConditions::from_year(&year, &entered).unwrap();
    assert!(matches!(
        design_day(DesignDayKind::Cooling { month: 5 }, &c, &year, &options),
        Err(ClimateError::Sun { .. })
    ));
}

/// The fractions as remembered: they start and end on the same curve and span exactly one range.
#[test]
fn phys_daily_range_fractions_span_one_range() {
    assert_eq!(DAILY_RANGE_FRACTIONS.iter().copied().fold(f64::MIN, f64::max), 1.0);
    assert_eq!(DAILY_RANGE_FRACTIONS.iter().copied().fold(f64::MAX, f64::min), 0.0);
    let turns = (0..24)
        .filter(|&i| {
            let (a, b, c) = (
                DAILY_RANGE_FRACTIONS[(i + 22) % 24],
                DAILY_RANGE_FRACTIONS[(i + 23) % 24],
                DAILY_RANGE_FRACTIONS[i],
            );
            (b - a > 0.0 && c - b < 0.0) || (b - a <= 0.0 && c - b > 0.0)
        })
        .count();
    assert_eq!(turns, 2, "one high and one low a day");
}

#[test]
fn phys_bands_and_bins_hold_every_hour_once() {
    let year = year();
    for width in [0.5, 1.0, 5.0 / 9.0 * 5.0, 50.0] {
        let bands = Bands::new(Temperature::fahrenheit(55.0), TemperatureDifference::kelvin(width)).unwrap();
        let table = dew_point_bands(&year, bands);
        assert_eq!(table.iter().map(|b| b.hours).sum::<usize>(), 8760);
        assert!(table.first().unwrap().hours > 0 && table.last().unwrap().hours > 0);
        for pair in table.windows(2) {
            near(pair[0].high.to_celsius(), pair[1].low.to_celsius(), 1e-9);
        }
        let from = Temperature::fahrenheit(55.0);
        let above: usize = table.iter().filter(|b| b.low >= from).map(|b| b.hours).sum();
        assert_eq!(above, hours_above_dew_point(&year, from));
        let bins = joint_bins(&year, bands, bands, 0..8760).unwrap();
        assert_eq!(bins.iter().map(|b| b.hours).sum::<usize>(), 8760);
        let weighted = |f: fn(&drycoil_climate::JointBin) -> f64| {
            bins.iter().map(|b| b.hours as f64 * f(b)).sum::<f64>() / 8760.0
        };
        let mean = |v: &[f64]| v.iter().sum::<f64>() / 8760.0;
        near(weighted(|b| b.mean_dry_bulb_c), mean(year.dry_bulb_c()), 1e-9);
        near(weighted(|b| b.mean_humidity_ratio), mean(year.humidity_ratio()), 1e-12);
        near(weighted(|b| b.mean_pressure_pa), mean(year.pressure_pa()), 1e-6);
        near(weighted(|b| b.mean_global_horizontal_w_per_m2), mean(year.global_horizontal_w_per_m2()), 1e-9);
    }
    let bands = Bands::new(Temperature::celsius(0.0), TemperatureDifference::kelvin(2.0)).unwrap();
    let office = (0..8760).filter(|h| (8..18).contains(&(h % 24)));
    let bins = joint_bins(&year, bands, bands, office).unwrap();
    assert_eq!(bins.iter().map(|b| b.hours).sum::<usize>(), 365 * 10);
    assert!(joint_bins(&year, bands, bands, [8760]).is_err());
    assert!(Bands::new(Temperature::celsius(0.0), TemperatureDifference::kelvin(0.0)).is_err());
}

/// A value printed in whole degF falls into the band that starts there.
#[test]
fn band_edges_in_the_other_unit_system_belong_to_their_band() {
    let mut given = columns(Calendar::Common);
    given.dry_bulb_c.fill(40.0);
    let fahrenheit: Vec<f64> = (0..8760).map(|h| 20.0 + 5.0 * f64::from(h % 11)).collect();
    given.moisture =
        Moisture::DewPointC(fahrenheit.iter().map(|f| Temperature::fahrenheit(*f).to_celsius()).collect());
    let year = WeatherYear::new(given).unwrap();
    let bands = Bands::new(Temperature::fahrenheit(0.0), TemperatureDifference::fahrenheit(5.0)).unwrap();
    for band in dew_point_bands(&year, bands) {
        let low = band.low.to_fahrenheit();
        let expected = fahrenheit.iter().filter(|f| (*f - low).abs() < 1e-6).count();
        assert_eq!(band.hours, expected);
    }
}

/// Degree-days of a constant year are plain products.
#[test]
fn val_degree_days_of_a_constant_year() {
    let mut given = columns(Calendar::Common);
    given.dry_bulb_c.fill(15.0);
    given.moisture = Moisture::DewPointC(vec![5.0; 8760]);
    let rows = monthly_table(&WeatherYear::new(given).unwrap(), DegreeDayBases::default());
    let base = |f: f64| Temperature::fahrenheit(f).to_celsius();
    near(rows[0].heating_degree_days_k, 31.0 * (base(65.0) - 15.0), 1e-9);
    near(rows[3].cooling_degree_days_k, 30.0 * (15.0 - base(50.0)), 1e-9);
    assert_eq!(rows[5].dry_bulb.high, rows[5].dry_bulb.low);
    near(rows[5].dew_point.mean.to_celsius(), 5.0, 1e-12);
}

#[test]
fn phys_monthly_table_adds_to_the_year() {
    let year = year();
    let rows = monthly_table(&year, DegreeDayBases::default());
    let total = year.global_horizontal_w_per_m2().iter().sum::<f64>() / 1000.0;
    near(rows.iter().map(|r| r.global_horizontal_kwh_per_m2).sum(), total, 1e-9);
    for row in rows {
        assert!(row.dry_bulb.low <= row.dry_bulb.mean && row.dry_bulb.mean <= row.dry_bulb.high);
        assert!(row.dew_point.mean < row.dry_bulb.mean);
        assert!(row.hours == Calendar::Common.days_in_month(row.month) * 24);
    }
}

/// The made-up sky closes by construction; shifted by an hour it does not.
#[test]
fn phys_solar_closure_sees_a_shifted_clock() {
    let right = solar_closure(&year()).unwrap();
    assert!(right.hours > 3000 && right.root_mean_square_w_per_m2 < 1e-9 && right.night_hours_with_sun == 0);
    let mut shifted = columns(Calendar::Common);
    shifted.global_horizontal_w_per_m2.rotate_right(1);
    shifted.direct_normal_w_per_m2.rotate_right(1);
    shifted.diffuse_horizontal_w_per_m2.rotate_right(1);
    assert!(solar_closure(&WeatherYear::new(shifted).unwrap()).unwrap().root_mean_square_w_per_m2 > 20.0);
}

#[test]
fn percentiles_are_in_the_order_of_their_arrays() {
    let c = derived();
    for (percentile, condition) in AnnualPercentile::ALL.into_iter().zip(c.cooling) {
        assert_eq!(percentile.percent(), condition.exceeded_percent);
        assert_eq!(percentile as usize, AnnualPercentile::ALL.iter().position(|p| *p == percentile).unwrap());
    }
}
