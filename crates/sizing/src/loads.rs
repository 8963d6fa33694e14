//! Loads of rooms, floors and the building on the design days.
//!
//! Each room is a thermal network solved exactly for a repeated day ([`drycoil_rooms::periodic`]): twelve cooling days,
//! the dehumidification day, and the heating day. In occupied hours and the start-up hours before them the room is
//! between its set points, otherwise between the night limits. Peaks are taken over occupied hours; the start-up hours
//! are left out of them, since a unit that pulls a room down over those hours need not do it in the first one.

use crate::bins::facing_index;
use crate::conditions::Climate;
use crate::design::{GroupLoads, LoadParts, LoadPeak, Loads, RoomLoads, Service};
use crate::network::{self, ConstructionModels, Neighbours, OUTSIDE_FILM, Planes, ROOF_SKY_K, RoomNetwork};
use crate::size::SizingError;
use drycoil_air::raw;
use drycoil_climate::{DesignDay, DesignDayKind};
use drycoil_findings::{Finding, Place, registry};
use drycoil_project::{DayType, Project, Room, SurfaceKind, UseProfile, UseShare};
use drycoil_rooms::RoomError;
use drycoil_rooms::Source;
use drycoil_rooms::exact::{Control, Hold};
use drycoil_rooms::gains::{RadiantShare, scheduled};
use drycoil_rooms::periodic::{AirStream, Day, DayLoads, HeatSource, PeriodicRoom};
use drycoil_sun::raw::{PreparedSky, RawSky};
use drycoil_sun::{SkyModel, TiltedIrradiance};
use drycoil_units::{Fraction, Power, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use rayon::prelude::*;

/// Models of constructions, and the skies of the design days, made once.
struct Models {
    constructions: ConstructionModels,
    /// By day and hour.
    skies: Vec<[PreparedSky; 24]>,
}

/// Computes all loads.
pub(crate) fn compute(
    project: &Project,
    climate: &Climate,
    pool: &rayon::ThreadPool,
) -> Result<Loads, SizingError> {
    let models = models(project, climate, pool).map_err(|(name, e)| SizingError {
        findings: vec![Finding::new(registry::loads::CONSTRUCTION, e.to_string()).at(Place::part(name))],
    })?;
    let results: Vec<Result<RoomResult, (usize, RoomError)>> = pool.install(|| {
        project
            .rooms
            .par_iter()
            .enumerate()
            .map(|(i, room)| room_loads(project, climate, &models, room).map_err(|e| (i, e)))
            .collect()
    });
    let mut rooms = Vec::with_capacity(results.len());
    let mut findings = Vec::new();
    for r in results {
        match r {
            Ok(r) => rooms.push(r),
            Err((i, e)) => {
                let room = &project.rooms[i];
                findings.push(
                    Finding::new(registry::loads::ROOM, format!("room {}: {e}", room.id))
                        .at(room.place.clone().of(room.id.clone())),
                );
            }
        }
    }
    if !findings.is_empty() {
        return Err(SizingError { findings });
    }
    let mut names: Vec<&str> = Vec::new();
    for room in &project.rooms {
        if !names.contains(&room.floor.as_str()) {
            names.push(&room.floor);
        }
    }
    let (floors, building) = pool.install(|| {
        rayon::join(
            || {
                names
                    .par_iter()
                    .map(|f| group(project, climate, &rooms, f, |r| r.floor == *f))
                    .collect::<Vec<GroupLoads>>()
            },
            || group(project, climate, &rooms, "building", |_| true),
        )
    });
    Ok(Loads {
        days: climate.day_names.clone(),
        rooms: rooms.into_iter().map(|r| r.loads).collect(),
        floors,
        building,
    })
}

/// A room with what the group sums need beside it.
struct RoomResult {
    loads: RoomLoads,
    /// Sources by day and hour.
    parts: Vec<[LoadParts; 24]>,
}

fn models(
    project: &Project,
    climate: &Climate,
    pool: &rayon::ThreadPool,
) -> Result<Models, (String, RoomError)> {
    let constructions = ConstructionModels::new(project, pool)?;
    let skies = climate.days.iter().map(|d| std::array::from_fn(|h| sky(&d.hours[h]))).collect();
    Ok(Models { constructions, skies })
}

fn sky(hour: &drycoil_climate::DesignHour) -> PreparedSky {
    let sky = RawSky {
        zenith_deg: hour.sun.zenith.to_degrees(),
        azimuth_deg: hour.sun.azimuth.to_degrees(),
        direct_normal_w_per_m2: hour.direct_normal.si(),
        diffuse_horizontal_w_per_m2: hour.diffuse_horizontal.si(),
        global_horizontal_w_per_m2: hour.global_horizontal.si(),
        extraterrestrial_normal_w_per_m2: hour.extraterrestrial_normal.si(),
    };
    PreparedSky::new(SkyModel::Perez, &sky)
}

/// Whether a load is a new peak: of hours that differ by rounding only, as on the even heating day, the first one counts.
fn exceeds(load_w: f64, peak_w: f64) -> bool {
    load_w > peak_w + 1e-9 * peak_w.abs()
}

fn room_loads(
    project: &Project,
    climate: &Climate,
    models: &Models,
    room: &Room,
) -> Result<RoomResult, RoomError> {
    let mut planes = Planes::default();
    // A room with its own control stands among rooms that are used as it is: what it stores by night is its own to remove
    // by day. One without stands among rooms that are held.
    let neighbours = if crate::service::decide(project, room).0 == Service::Transfer {
        Neighbours::AtSetPoint
    } else {
        Neighbours::Alike
    };
    let network = network::of_room(project, &models.constructions, room, neighbours, &mut planes)?;
    let mut aperture = [0.0; 5];
    for pane in &network.panes {
        let s = pane.surface;
        let shade = 1.0 / (1.0 + s.overhang_ratio.value.to_ratio());
        aperture[facing_index(s.tilt.value.to_degrees(), s.facing.value.to_degrees())] +=
            s.area.value.to_square_metres() * pane.diffuse.total() * pane.kept * shade;
    }
    let modal = network.room.modal()?;
    let periodic = PeriodicRoom::new(&modal, 24, 3600.0, Hold::Mean)?;
    let infiltration = network.pressurized_infiltration_m3_per_s;
    let envelope = network.envelope_w_per_k;
    let profile = project.profile_of(room);
    let mut sensible = Vec::with_capacity(climate.days.len());
    let mut parts = Vec::with_capacity(climate.days.len());
    let mut cooling: Option<(f64, usize, usize)> = None;
    let mut heating: Option<(f64, usize, usize)> = None;
    let occupied = profile.occupied_hours(DayType::Weekday);
    let envelope_of = Enclosure { network: &network, planes };
    let mut inputs = DayInputs::new(project, room, profile, &occupied, &envelope_of)?;
    let mut guess = Vec::new();
    for (d, day) in climate.days.iter().enumerate() {
        let input = inputs.of(project, climate, day, &models.skies[d], &envelope_of);
        let solved = periodic.solve_from(input, &guess)?;
        let by_hour: [LoadParts; 24] = std::array::from_fn(|h| parts_at(&solved, h));
        let load: [f64; 24] = std::array::from_fn(|h| solved.load_w[h]);
        for h in 0..24 {
            if day.kind == DesignDayKind::Heating {
                if heating.is_none_or(|b| exceeds(-load[h], b.0)) {
                    heating = Some(((-load[h]).max(0.0), d, h));
                }
            } else if occupied[h] && cooling.is_none_or(|b| exceeds(load[h], b.0)) {
                cooling = Some((load[h].max(0.0), d, h));
            }
        }
        // The next day of a year is much like this one.
        guess = solved.modes;
        sensible.push(load);
        parts.push(by_hour);
    }
    let none = || LoadPeak {
        load_w: 0.0,
        day: "never occupied".to_owned(),
        day_index: 0,
        hour: 0,
        parts: LoadParts::default(),
    };
    let peak = |(load_w, d, h): (f64, usize, usize)| LoadPeak {
        load_w,
        day: climate.day_names[d].clone(),
        day_index: d,
        hour: h,
        parts: parts[d][h],
    };
    let heating = heating.map_or_else(none, peak);
    let cooling = cooling.map_or_else(none, peak);
    let people_w = room.people.value * room.latent_per_person.value.to_watts();
    let process_w = room.process_latent.value.to_watts();
    let plenum = project.terminals.plenum_share.value.to_ratio();
    let loads = RoomLoads {
        room: room.id.clone(),
        plenum_w: plenum * (cooling.parts.lighting_w + cooling.parts.roof_w).max(0.0),
        cooling,
        heating,
        latent_w: people_w + process_w,
        infiltration_m3_per_s: infiltration,
        sensible_w: sensible,
        latent_by_hour_w: std::array::from_fn(|h| {
            people_w * profile.share(UseShare::People, DayType::Weekday, h)
                + process_w * profile.share(UseShare::Process, DayType::Weekday, h)
        }),
        set_point_c: room.cooling_set_point.value.to_celsius(),
        heating_set_point_c: room.heating_set_point.value.to_celsius(),
        envelope_w_per_k: envelope,
        solar_aperture_m2: aperture,
    };
    Ok(RoomResult { loads, parts })
}

/// What stands between a room and the weather.
struct Enclosure<'a> {
    network: &'a RoomNetwork<'a>,
    planes: Planes,
}

/// The inputs of the room on a cooling day and on the heating day, filled anew for each day.
struct DayInputs {
    cooling: Day,
    heating: Day,
    /// Sun on each plane by hour.
    sun: Vec<[TiltedIrradiance; 24]>,
}

impl DayInputs {
    fn new(
        project: &Project,
        room: &Room,
        profile: &UseProfile,
        occupied: &[bool; 24],
        of: &Enclosure<'_>,
    ) -> Result<Self, RoomError> {
        let area = room.floor_area.value;
        let people = room.sensible_per_person.value * room.people.value;
        let gains = [
            (Source::People, UseShare::People, people),
            (Source::Lights, UseShare::Lighting, room.lighting.value * area),
            (Source::Plugs, UseShare::Plugs, room.plugs.value * area),
            (Source::Process, UseShare::Process, room.process_sensible.value),
        ];
        let sun = HeatSource {
            source: Source::Solar,
            convective_w: Vec::new(),
            radiant_w: Vec::new(),
            solar_w: vec![0.0; 24],
        };
        let cooling_c = room.cooling_set_point.value.to_celsius();
        let heating_c = room.heating_set_point.value.to_celsius();
        let held = |boundaries: usize, windows: usize, heat, control, reference_c| {
            let mut boundary_c = vec![vec![0.0; 24]; boundaries];
            if of.network.inner_room {
                boundary_c.push(vec![reference_c; 24]);
            }
            Day {
                boundary_c,
                window_outside_c: vec![vec![0.0; 24]; windows],
                window_absorbed_w: vec![vec![0.0; 24]; windows],
                heat,
                air: vec![AirStream {
                    source: Source::Infiltration,
                    conductance_w_per_k: vec![0.0; 24],
                    supply_c: vec![0.0; 24],
                }],
                control,
                reference_c,
            }
        };
        // The heating day counts no gains.
        let control =
            vec![Control { cooling_capacity_w: 0.0, ..Control::between(heating_c, f64::INFINITY) }; 24];
        let heating =
            held(of.network.opaque.len(), of.network.panes.len(), vec![sun.clone()], control, heating_c);
        let mut heat = vec![sun];
        for (source, share, full) in gains {
            if full <= Power::watts(0.0) {
                continue;
            }
            let radiant = RadiantShare::default_for(source).map_or(Fraction::ratio(0.0), |r| r.radiant);
            let series: [f64; 24] = std::array::from_fn(|h| profile.share(share, DayType::Weekday, h));
            heat.push(scheduled(source, full, radiant, &series)?);
        }
        let control = schedule(project, occupied, cooling_c, heating_c);
        let cooling = held(of.network.opaque.len(), of.network.panes.len(), heat, control, cooling_c);
        Ok(Self { cooling, heating, sun: Vec::new() })
    }

    /// The inputs on a design day.
    fn of(
        &mut self,
        project: &Project,
        climate: &Climate,
        day: &DesignDay,
        skies: &[PreparedSky; 24],
        of: &Enclosure<'_>,
    ) -> &Day {
        let input = if day.kind == DesignDayKind::Heating { &mut self.heating } else { &mut self.cooling };
        let outdoor: [f64; 24] = std::array::from_fn(|h| day.hours[h].dry_bulb.to_celsius());
        let ground_c = project
            .site
            .ground_temperature
            .as_ref()
            .map_or(climate.mean_dry_bulb_c, |g| g.value.to_celsius());
        let reflectance = project.site.ground_reflectance.value.to_ratio();
        self.sun.clear();
        self.sun.extend(
            of.planes.raw.iter().map(|p| std::array::from_fn::<_, 24, _>(|h| skies[h].on(p, reflectance))),
        );
        for (row, o) in input.boundary_c.iter_mut().zip(&of.network.opaque) {
            match o.surface.kind {
                SurfaceKind::GroundFloor => row.fill(ground_c),
                SurfaceKind::Partition => {
                    row.fill(o.surface.neighbour.as_ref().map_or(ground_c, |n| n.value.to_celsius()));
                }
                _ => {
                    let sky = if o.surface.kind == SurfaceKind::Roof { ROOF_SKY_K } else { 0.0 };
                    for h in 0..24 {
                        let sun = self.sun[o.plane][h].total().si();
                        row[h] = outdoor[h] + o.absorptance * sun / OUTSIDE_FILM - sky;
                    }
                }
            }
        }
        let transmitted = &mut input.heat[0].solar_w;
        transmitted.fill(0.0);
        for (row, pane) in input.window_absorbed_w.iter_mut().zip(&of.network.panes) {
            let a = pane.surface.area.value.to_square_metres() * pane.kept;
            row.fill(0.0);
            for h in (0..24).filter(|h| !skies[*h].is_dark()) {
                let t = &self.sun[pane.plane][h];
                let lit = network::sunlit(pane.surface, &day.hours[h].sun);
                let beam = pane.glass.raw_beam(t.cos_incidence);
                let direct = (t.beam.si() + t.circumsolar.si()) * lit;
                let even = t.dome.si() + t.horizon.si() + t.ground.si();
                transmitted[h] += a * (direct * beam.transmitted + even * pane.diffuse.transmitted);
                row[h] = a * (direct * beam.inward + even * pane.diffuse.inward) / pane.inward;
            }
        }
        for row in &mut input.window_outside_c {
            row.copy_from_slice(&outdoor);
        }
        // The coldest hours are at night, when no primary air keeps the outdoor air out.
        let leak = match day.kind {
            DesignDayKind::Heating => of.network.infiltration_m3_per_s,
            _ => of.network.pressurized_infiltration_m3_per_s,
        };
        let m_cp = leak * RHO * raw::humid_specific_heat_j_per_kg_k(day.humidity_ratio.si());
        input.air[0].conductance_w_per_k.fill(m_cp);
        input.air[0].supply_c.copy_from_slice(&outdoor);
        input
    }
}

/// Set points by hour: occupied and start-up hours between the set points, others between the night limits.
fn schedule(project: &Project, occupied: &[bool; 24], cooling_c: f64, heating_c: f64) -> Vec<Control> {
    let start_up = project.criteria.start_up.value.to_hours().round() as usize;
    let night_cooling = project.criteria.night_cooling.value.to_celsius().max(cooling_c);
    let night_heating = project.criteria.night_heating.value.to_celsius().min(heating_c);
    (0..24)
        .map(|h| {
            let on = (0..=start_up).any(|ahead| occupied[(h + ahead) % 24]);
            if on {
                Control::between(heating_c, cooling_c)
            } else {
                Control::between(night_heating, night_cooling)
            }
        })
        .collect()
}

fn parts_at(solved: &DayLoads, h: usize) -> LoadParts {
    let mut p = LoadParts::default();
    for part in &solved.parts {
        let w = part.load_w[h];
        match part.source {
            Source::People => p.people_w += w,
            Source::Lights => p.lighting_w += w,
            Source::Plugs => p.plugs_w += w,
            Source::Process | Source::Other => p.process_w += w,
            Source::Solar => p.solar_w += w,
            Source::Windows => p.glass_w += w,
            Source::Walls => p.walls_w += w,
            Source::Roofs => p.roof_w += w,
            Source::Floors | Source::Partitions => p.floors_w += w,
            Source::Infiltration | Source::Ventilation => p.infiltration_w += w,
            Source::Storage => p.storage_w += w,
        }
    }
    p
}

/// Coincident loads of the rooms of a group, with the diversity of people.
fn group(
    project: &Project,
    climate: &Climate,
    rooms: &[RoomResult],
    name: &str,
    holds: impl Fn(&Room) -> bool,
) -> GroupLoads {
    let inside: Vec<(usize, f64)> = project
        .rooms
        .iter()
        .enumerate()
        .filter(|(_, r)| holds(r))
        .map(|(i, r)| (i, project.kind_of(r).diversity.to_ratio()))
        .collect();
    let heating_day = climate.heating_day();
    let days = climate.days.len();
    // Room after room, each through all hours, so that every hour adds the rooms in their order.
    let mut sums = vec![[(0.0, LoadParts::default()); 24]; days];
    let mut open = [false; 24];
    for (i, diversity) in &inside {
        let room = &rooms[*i];
        let own = project.profile_of(&project.rooms[*i]).occupied_hours(DayType::Weekday);
        open.iter_mut().zip(own).for_each(|(any, own)| *any |= own);
        for (d, sums) in sums.iter_mut().enumerate() {
            for (h, (load, parts)) in sums.iter_mut().enumerate() {
                let w = room.loads.sensible_w[d][h];
                if (d == heating_day) == (w < 0.0) {
                    let mut p = room.parts[d][h];
                    let absent = if d == heating_day { 0.0 } else { p.people_w * (1.0 - diversity) };
                    p.people_w -= absent;
                    *load += w - absent;
                    *parts = parts.plus(&p);
                }
            }
        }
    }
    let mut cooling: Option<LoadPeak> = None;
    let mut heating: Option<LoadPeak> = None;
    for (d, sums) in sums.iter().enumerate() {
        for (h, (load, parts)) in sums.iter().enumerate() {
            let load = *load;
            let peak = |load_w: f64| LoadPeak {
                load_w,
                day: climate.day_names[d].clone(),
                day_index: d,
                hour: h,
                parts: *parts,
            };
            if d == heating_day {
                if heating.as_ref().is_none_or(|b| exceeds(-load, b.load_w)) {
                    heating = Some(peak(-load));
                }
            } else if open[h] && cooling.as_ref().is_none_or(|b| exceeds(load, b.load_w)) {
                cooling = Some(peak(load));
            }
        }
    }
    let latent_w = (0..24)
        .map(|h| {
            inside.iter().map(|(i, diversity)| rooms[*i].loads.latent_by_hour_w[h] * diversity).sum::<f64>()
        })
        .fold(0.0, f64::max);
    let none = || LoadPeak {
        load_w: 0.0,
        day: "never occupied".to_owned(),
        day_index: 0,
        hour: 0,
        parts: LoadParts::default(),
    };
    GroupLoads {
        group: name.to_owned(),
        cooling: cooling.unwrap_or_else(none),
        cooling_sum_of_peaks_w: inside.iter().map(|(i, _)| rooms[*i].loads.cooling.load_w).sum(),
        heating: heating.unwrap_or_else(none),
        latent_w,
    }
}
