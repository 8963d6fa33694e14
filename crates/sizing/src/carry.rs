//! Which water temperatures the terminals of the catalogue can work with, asked by the search for the supply dew point.
//!
//! The question is that of selection, in its order: one unit of each model from the smallest up, a unit with a supplementary
//! box, then several units. For one zone at one candidate the answer is the first that carries the zone's sensible load with
//! spare, and the primary air that it controls at least. Only the capacity with everything open is asked here, which is what
//! water that is too warm takes away; it is computed by the same machine as in selection and kept per model, water and
//! flow. Where a zone passes here and then fails in selection for another reason (sound, water velocity, pressure), the
//! zone is put on record with [`Carrier::insist`], and from then on its candidates are answered by selection itself.

use crate::design::{Loads, Service};
use crate::machines::air_point;
use crate::needs::Prepared;
use crate::terminals::{self, Context, Ready, Share, Zone};
use drycoil_air::raw;
use drycoil_findings::Finding;
use drycoil_plant::air_point::AirPoint;
use drycoil_project::{CoilAir, Project, TerminalChoice};
use drycoil_units::{Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// What a unit does with everything open, apart from the cooling of its primary air.
#[derive(Debug, Clone, Copy)]
struct Open {
    /// Heat at the coil less the heat of the fan, W.
    net_w: f64,
    /// Most that the lowest discharge temperature lets the room get, W.
    cap_w: f64,
}

impl Open {
    /// What the room gets, with primary air that brings `primary_w`.
    fn given(self, primary_w: f64) -> f64 {
        (self.net_w + primary_w).min(self.cap_w)
    }
}

/// A model at one water temperature: all rooms with the same set point share it.
#[derive(Debug, Clone, Copy)]
struct Bounds {
    /// At the least and at the most primary air of the model; the coil and the fan lie between in between.
    ends: Option<[Open; 2]>,
}

/// One state of the search, apart from flows.
#[derive(Debug, Clone, Copy)]
pub(crate) struct At {
    pub water_c: f64,
    pub limit_w: f64,
    pub supply_w: f64,
    pub delivered_c: f64,
}

/// How selection would serve a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Carried {
    /// Least primary air that the unit (or units) can control, for the rooms of the zone together.
    pub minimum: f64,
    /// Units, 0 where none serves the zone.
    pub units: u32,
    /// Supplementary primary-air boxes.
    pub boxes: u32,
}

/// Model, bits of primary air, secondary state, water and humidity.
type OpenKey = (usize, u64, u64, u64, u64);
/// Bits of set point, water and humidity.
type BoundsKey = (u64, u64, u64);

/// The terminals of the project as the search sees them.
pub(crate) struct Carrier<'a> {
    project: &'a Project,
    pressure_pa: f64,
    /// Fitted models in the order of the catalogue.
    pub(crate) catalogue: Vec<Ready<'a>>,
    /// Models that cannot be used, and why.
    pub(crate) refused: Vec<Finding>,
    /// Zones with a terminal: what does not depend on flows.
    pub(crate) zones: Vec<Zone>,
    /// For each zone of the needs: its place in `zones`, and the share of the zone's primary air that its terminal gets.
    of: Vec<Option<(usize, f64)>>,
    /// Delivered dry bulb and humidity at which capacities are computed; the cooling of other primary air is added exactly.
    reference: (f64, f64),
    winter: AirPoint,
    outdoor_w: f64,
    insisted: RefCell<BTreeSet<usize>>,
    open: RefCell<BTreeMap<OpenKey, Option<Open>>>,
    bounds: RefCell<BTreeMap<BoundsKey, Rc<Vec<Bounds>>>>,
}

impl<'a> Carrier<'a> {
    pub(crate) fn new(
        project: &'a Project,
        climate: &crate::conditions::Climate,
        loads: &Loads,
        prepared: &Prepared,
        reference: (f64, f64),
    ) -> Self {
        let services: Vec<Service> = prepared.rooms.iter().map(|r| r.service).collect();
        let zones = terminals::shells(project, loads, &services);
        let place: BTreeMap<&str, usize> =
            zones.iter().enumerate().map(|(z, zone)| (zone.name.as_str(), z)).collect();
        let of = prepared
            .zones
            .iter()
            .map(|z| {
                let with: Vec<usize> =
                    z.rooms.iter().copied().filter(|i| services[*i] == Service::Terminal).collect();
                let name = project.rooms[*with.first()?].zone.value.as_str();
                let share: f64 = with.iter().map(|i| prepared.rooms[*i].share).sum();
                Some((*place.get(name)?, share))
            })
            .collect();
        let (catalogue, refused) = terminals::fitted(project);
        Self {
            project,
            pressure_pa: climate.site.pressure_pa,
            catalogue,
            refused,
            zones,
            of,
            reference,
            winter: air_point(
                project.primary_air.winter_temperature.value.to_celsius(),
                climate.conditions.heating.humidity_ratio_kg_per_kg,
            ),
            outdoor_w: climate.conditions.dehumidification.humidity_ratio_kg_per_kg,
            insisted: RefCell::default(),
            open: RefCell::default(),
            bounds: RefCell::default(),
        }
    }

    /// From now on this zone of the terminals is answered by selection itself. `false` if it was already.
    pub(crate) fn insist(&self, zone: &str) -> bool {
        match self.zones.iter().position(|z| z.name == zone) {
            Some(z) => self.insisted.borrow_mut().insert(z),
            None => false,
        }
    }

    /// What depends on the state alone, for the zones of one candidate.
    pub(crate) fn at(&self, at: At) -> State<'_, 'a> {
        State { carrier: self, at, known: None }
    }

    fn cx(&self, at: At) -> Context<'a> {
        Context {
            project: self.project,
            pressure_pa: self.pressure_pa,
            outdoor_w: self.outdoor_w,
            water_c: at.water_c,
            supply: air_point(at.delivered_c, at.supply_w),
            winter_supply: self.winter,
            required_margin_k: self.project.criteria.required_margin().to_kelvin(),
            units: self.project.told_units(),
        }
    }

    /// A model with everything open at this primary air.
    fn open(&self, index: usize, zone: &Zone, share: Share, at: At) -> Option<Open> {
        let ready = &self.catalogue[index];
        let zone = &zone.at_humidity(at.limit_w);
        let reference = At { delivered_c: self.reference.0, supply_w: self.reference.1, ..at };
        let cx = self.cx(reference);
        let air = terminals::first_secondary(&cx, ready, zone, share);
        let key = (
            index,
            share.primary.to_bits(),
            air.dry_bulb.si().to_bits(),
            at.water_c.to_bits(),
            air.humidity_ratio.si().to_bits(),
        );
        if let Some(known) = self.open.borrow().get(&key) {
            return *known;
        }
        let open = terminals::everything_open(&cx, ready, zone, share).ok().map(|(top, cap)| Open {
            net_w: top.room_cooling.to_watts() - top.primary_cooling.to_watts(),
            cap_w: cap,
        });
        self.open.borrow_mut().insert(key, open);
        open
    }

    /// Every model between its least and its most primary air, for coils that draw room air.
    fn bounds(&self, zone: &Zone, at: At) -> Rc<Vec<Bounds>> {
        let key = (zone.set_point_c.to_bits(), at.water_c.to_bits(), at.limit_w.to_bits());
        if let Some(known) = self.bounds.borrow().get(&key) {
            return Rc::clone(known);
        }
        let list = (0..self.catalogue.len())
            .map(|index| {
                let m = self.catalogue[index].model;
                let end = |primary: f64| {
                    let share = Share {
                        count: 1,
                        primary,
                        supplementary: 0.0,
                        load_w: 0.0,
                        plenum_w: 0.0,
                        heating_w: 0.0,
                    };
                    self.open(index, zone, share, at)
                };
                let ends = end(m.primary_min.to_m3_per_s()).zip(end(m.primary_max.to_m3_per_s()));
                Bounds { ends: ends.map(|(a, b)| [a, b]) }
            })
            .collect();
        let list = Rc::new(list);
        self.bounds.borrow_mut().insert(key, Rc::clone(&list));
        list
    }
}

/// A candidate of the search while its zones are asked.
pub(crate) struct State<'c, 'a> {
    carrier: &'c Carrier<'a>,
    at: At,
    /// Set point of the last zone and its bounds: neighbours mostly share it.
    known: Option<(u64, Rc<Vec<Bounds>>)>,
}

impl State<'_, '_> {
    /// Serves zone `index` of the needs, which asks for `need` of primary air, as selection would; `None` for a zone
    /// without a terminal.
    pub(crate) fn serve(&mut self, index: usize, need: f64) -> Option<Carried> {
        let (z, part) = self.carrier.of[index]?;
        let zone = &self.carrier.zones[z];
        let need = need * part;
        let (carried, primary) = self.first(zone, z, need);
        // The units are asked at the flow that their least raises the zone to.
        Some(Carried { minimum: if primary > need { primary / part } else { 0.0 }, ..carried })
    }

    fn first(&mut self, zone: &Zone, z: usize, need: f64) -> (Carried, f64) {
        let c = self.carrier;
        let insisted = c.insisted.borrow().contains(&z);
        let candidates = || {
            c.catalogue.iter().enumerate().filter(|(_, r)| match &zone.choice {
                TerminalChoice::Model(name) => r.model.model == *name,
                _ => true,
            })
        };
        let most = c.project.terminals.most_per_room.value.max(1);
        for count in 1..=most {
            let n = f64::from(count);
            for (index, ready) in candidates() {
                let flow = need.max(ready.model.primary_min.to_m3_per_s() * n);
                if flow > ready.model.primary_max.to_m3_per_s() * n * (1.0 + 1e-9) {
                    continue;
                }
                if self.carries(index, zone, zone.share(count, flow), insisted) {
                    return (Carried { minimum: 0.0, units: count, boxes: 0 }, flow);
                }
            }
            if count == 1
                && let Some(carried) = self.with_box(zone, need, terminals::BoxShare::Smaller, insisted)
            {
                return (carried, need);
            }
        }
        if let Some(carried) = self.with_box(zone, need, terminals::BoxShare::Any, insisted) {
            return (carried, need);
        }
        // Nothing serves it: the smallest least of the catalogue, so that selection says what it lacks.
        let least =
            candidates().map(|(_, r)| r.model.primary_min.to_m3_per_s()).fold(f64::INFINITY, f64::min);
        (Carried { minimum: 0.0, units: 0, boxes: 0 }, if least.is_finite() { need.max(least) } else { need })
    }

    fn with_box(
        &mut self,
        zone: &Zone,
        need: f64,
        size: terminals::BoxShare,
        insisted: bool,
    ) -> Option<Carried> {
        let c = self.carrier;
        let cx = c.cx(self.at);
        for (index, ready) in c.catalogue.iter().enumerate() {
            if let TerminalChoice::Model(name) = &zone.choice
                && ready.model.model != *name
            {
                continue;
            }
            if let Some(share) = terminals::box_share(&cx, ready, zone, zone.share(1, need), size)
                && self.carries(index, zone, share, insisted)
            {
                return Some(Carried { minimum: 0.0, units: 1, boxes: 1 });
            }
        }
        None
    }

    fn carries(&mut self, index: usize, zone: &Zone, share: Share, insisted: bool) -> bool {
        let c = self.carrier;
        let t = &c.project.terminals;
        let m = c.catalogue[index].model;
        if m.external_pressure < t.external_pressure.value {
            return false;
        }
        let wanted = share.load_w * (1.0 + t.spare.value.to_ratio());
        let primary_w = share.primary
            * RHO
            * raw::humid_specific_heat_j_per_kg_k(self.at.supply_w)
            * (zone.set_point_c - self.at.delivered_c);
        let mut decided = None;
        if t.coil_air.value == CoilAir::Room {
            let key = zone.set_point_c.to_bits();
            let list = match &self.known {
                Some((k, list)) if *k == key => Rc::clone(list),
                _ => {
                    let list = c.bounds(zone, self.at);
                    self.known = Some((key, Rc::clone(&list)));
                    list
                }
            };
            if let Some([a, b]) = list[index].ends {
                let (x, y) = (a.given(primary_w), b.given(primary_w));
                let least = a.net_w.min(b.net_w) + primary_w;
                let least = least.min(a.cap_w.min(b.cap_w));
                // A little room, since the ends are computed at the reference state.
                let slack = 1e-3 * wanted.abs().max(100.0);
                if least > wanted + slack {
                    decided = Some(true);
                } else if x.max(y) < wanted - slack
                    && (a.net_w.max(b.net_w) + primary_w).min(a.cap_w.max(b.cap_w)) < wanted - slack
                {
                    decided = Some(false);
                }
            }
        }
        let able = decided.unwrap_or_else(|| {
            c.open(index, zone, share, self.at).is_some_and(|o| o.given(primary_w) >= wanted)
        });
        if !able || !insisted {
            return able;
        }
        let whole = zone.at_humidity(self.at.limit_w);
        terminals::attempt(&c.cx(self.at), &c.catalogue[index], &whole, share).is_ok()
    }
}
