//! Settings of the dew-point sequence.

use super::keys::SEQUENCE_ZONE;
use super::section::Section;
use drycoil_project::{SensorPlan, SequenceInput, SequenceOrder, SequenceZone, ZoneSensorChoice};

/// `[sequence]`.
pub(crate) fn read(s: &mut Section<'_, '_>) -> SequenceInput {
    SequenceInput {
        order: s.choice("order", &[SequenceOrder::ValvesFirst, SequenceOrder::WaterFirst]),
        notice_hysteresis: s.quantity("notice_hysteresis"),
        notice_delay: s.quantity("notice_delay"),
        more_air_rise: s.quantity("more_air_rise"),
        more_air_delay: s.quantity("more_air_delay"),
        more_air_flow: s.quantity("more_air_flow"),
        release_delay: s.quantity("release_delay"),
        guard_margin: s.quantity("guard_margin"),
        guard_hysteresis: s.quantity("guard_hysteresis"),
        guard_delay: s.quantity("guard_delay"),
        shut_margin: s.quantity_if("shut_margin"),
        shut_hysteresis: s.quantity("shut_hysteresis"),
        shut_delay: s.quantity("shut_delay"),
        shut_release_delay: s.quantity("shut_release_delay"),
        water_offset: s.quantity("water_offset"),
        water_rise: s.quantity("water_rise"),
        water_lowest: s.quantity_if("water_lowest"),
        water_fall_per_minute: s.quantity("water_fall_per_minute"),
        water_follow_delay: s.quantity("water_follow_delay"),
        water_release_hysteresis: s.quantity("water_release_hysteresis"),
        water_release_delay: s.quantity("water_release_delay"),
        ignored_votes: s.count("ignored_votes"),
        primary_wet_limit: s.quantity_if("primary_wet_limit"),
        primary_wet_hysteresis: s.quantity("primary_wet_hysteresis"),
        primary_wet_delay: s.quantity("primary_wet_delay"),
        primary_wet_release_delay: s.quantity("primary_wet_release_delay"),
        primary_start_delay: s.quantity("primary_start_delay"),
        drying_limit: s.quantity_if("drying_limit"),
        drying_delay: s.quantity("drying_delay"),
        drying_time_limit: s.quantity("drying_time_limit"),
        start_delay: s.quantity("start_delay"),
        suspect_difference: s.quantity("suspect_difference"),
        suspect_hysteresis: s.quantity("suspect_hysteresis"),
        suspect_delay: s.quantity("suspect_delay"),
        sensor_return_delay: s.quantity("sensor_return_delay"),
        proxy_margin: s.quantity("proxy_margin"),
        sensor_low: s.quantity("sensor_low"),
        sensor_high: s.quantity("sensor_high"),
        water_sensor_low: s.quantity("water_sensor_low"),
        water_sensor_high: s.quantity("water_sensor_high"),
        sensors: s.choice("sensors", &[SensorPlan::EveryZone, SensorPlan::Listed]),
        neighbours: s.count("neighbours"),
        zones: s.rows("zones", SEQUENCE_ZONE, |z| SequenceZone {
            zone: z.text("zone"),
            sensor: z.sourced_choice_if("sensor", &[ZoneSensorChoice::Own, ZoneSensorChoice::Neighbours]),
            votes: z.count("votes"),
            neighbours: z.text_if("neighbours").map(|names| {
                names.map(|text| {
                    text.split(',')
                        .map(|name| name.trim().to_owned())
                        .filter(|name| !name.is_empty())
                        .collect()
                })
            }),
            place: z.own_place(),
        }),
    }
}
