//! Findings that no example folder can show.

#[path = "support/projects.rs"]
mod projects;

use drycoil_intake::weather::read_weather;
use projects::{pool, project, text};
use std::fmt::Write as _;

#[test]
fn a_year_without_sun_has_no_design_conditions() {
    let mut year = String::from(
        "# station: Dark place\n# latitude: 40 deg\n# longitude: -80 deg\n# elevation: 0 m\n# utc_offset: -5 h\n\
         # hour_stamp: start\n\
         month,day,hour,dry_bulb [degC],dew_point [degC],pressure [hPa],wind_speed [m/s],wind_direction [deg],\
         global_horizontal [W/m2],direct_normal [W/m2],diffuse_horizontal [W/m2]\n",
    );
    for (month, days) in [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31].into_iter().enumerate() {
        for day in 1..=days {
            for hour in 0..24 {
                let t = 15.0 + month as f64 + 0.1 * f64::from(hour);
                writeln!(year, "{},{day},{hour},{t:.1},9.0,1013,2,180,0,0,0", month + 1).unwrap();
            }
        }
    }
    let (year, _) = read_weather("dark.csv", year.as_bytes(), None).unwrap_or_else(|f| panic!("{f:#?}"));
    let text = text("", "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n", "");
    let error = drycoil_sizing::size(&project(&text), &year, &pool(1)).expect_err("no sun, no cooling day");
    assert_eq!(error.findings[0].id(), "LD-001", "{error:#?}");
}
