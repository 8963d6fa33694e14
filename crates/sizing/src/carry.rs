//! Which water temperatures the terminals of the catalogue can work with, asked by the search for the supply dew point.
//!
//! The question is that of selection, in its order: one unit of each model from the smallest up, a unit with a supplementary
//! box, then several units. For one zone at one candidate the answer is the first that carries the zone's sensible load with
//! spare, and the primary air that it controls at least. Only the capacity with everything open is asked here, which is what
//! water that is too warm takes away. It is computed by the same machine as in selection; where the load lies well above or
//! below what the model does at its least and its most primary air, a table of both ends over set points answers, kept per
//! water temperature and room limit. Where a zone passes here and then fails in selection for another reason (heating,
//! sound, water velocity, pressure), the zone is put on record with [`Carrier::insist`], and from then on its candidates are
//! answered by the tests of selection themselves.

use crate::design::{Loads, Service};
use crate::machines::air_point;
use crate::needs::Prepared;
use crate::terminals::{self, Context, Ready, Share, Zone, ZoneAir};
use drycoil_air::raw;
use drycoil_findings::Finding;
use drycoil_plant::air_point::AirPoint;
use drycoil_project::{CoilAir, Project, TerminalChoice};
use drycoil_units::STANDARD_AIR_DENSITY_KG_PER_M3 as RHO;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

/// Step of the tables over set points. Between its nodes the heat of a coil follows the set point in a straight line but for
/// the properties of water, far closer than [`SLACK`].
const NODE_K: f64 = 0.5;
/// Share of the load within which a table does not decide.
const SLACK: f64 = 1e-3;

/// What a unit does with everything open, apart from the cooling of its primary air.
#[derive(Debug, Clone, Copy)]
struct Open {
    /// Heat at the coil less the heat of the fan, W.
    net_w: f64,
    /// Most that the lowest discharge temperature lets the room get, W.
    cap_w: f64,
}

impl Open {
    /// On the straight line from `self` to `other`.
    fn towards(self, other: Self, share: f64) -> Self {
        Self {
            net_w: self.net_w + share * (other.net_w - self.net_w),
            cap_w: self.cap_w + share * (other.cap_w - self.cap_w),
        }
    }
}

/// A model at its least and at its most primary air; coil and fan lie between in between. `None` where it cannot run.
type Ends = Option<[Open; 2]>;

/// Every model at every node of the set points, `[node * models + model]`.
type Table = Vec<Ends>;

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
    /// Set points of the tables, in steps of [`NODE_K`], rising.
    nodes: Vec<i64>,
    /// For each of `zones`: the node below its set point, and how far it lies towards the next one.
    between: Vec<(usize, f64)>,
    winter: AirPoint,
    outdoor_w: f64,
    insisted: BTreeSet<usize>,
    /// By bits of water and humidity.
    tables: Mutex<BTreeMap<(u64, u64), Arc<Table>>>,
}

impl<'a> Carrier<'a> {
    pub(crate) fn new(
        project: &'a Project,
        climate: &crate::conditions::Climate,
        loads: &Loads,
        prepared: &Prepared,
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
        let steps = |zone: &Zone| {
            let x = zone.air.set_point_c / NODE_K;
            (x.floor() as i64, x - x.floor())
        };
        let nodes: BTreeSet<i64> = zones
            .iter()
            .map(steps)
            .flat_map(|(node, share)| [node, if share > 0.0 { node + 1 } else { node }])
            .collect();
        let nodes: Vec<i64> = nodes.into_iter().collect();
        let between = zones
            .iter()
            .map(steps)
            .map(|(node, share)| (nodes.partition_point(|n| *n < node), share))
            .collect();
        let (catalogue, refused) = terminals::fitted(project);
        Self {
            project,
            pressure_pa: climate.site.pressure_pa,
            catalogue,
            refused,
            zones,
            of,
            nodes,
            between,
            winter: air_point(
                project.primary_air.winter_temperature.value.to_celsius(),
                climate.conditions.heating.humidity_ratio_kg_per_kg,
            ),
            outdoor_w: climate.conditions.dehumidification.humidity_ratio_kg_per_kg,
            insisted: BTreeSet::new(),
            tables: Mutex::default(),
        }
    }

    /// From now on this zone of the terminals is answered by selection itself. `false` if it was already.
    pub(crate) fn insist(&mut self, zone: usize) -> bool {
        self.insisted.insert(zone)
    }

    /// What depends on the state alone, for the zones of one candidate.
    pub(crate) fn at(&self, at: At) -> State<'_, 'a> {
        // A plenum warms the coil air of each zone in its own way, so that no table serves it.
        let table = (self.project.terminals.coil_air.value == CoilAir::Room).then(|| self.table(at));
        State { carrier: self, at, cx: self.cx(at), table }
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

    /// The table of a water temperature and a humidity of the rooms, made where it is not known.
    fn table(&self, at: At) -> Arc<Table> {
        let key = (at.water_c.to_bits(), at.limit_w.to_bits());
        let known = self.tables.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        known.unwrap_or_else(|| {
            let models = self.catalogue.len();
            let table: Table = (0..self.nodes.len() * models)
                .into_par_iter()
                .with_min_len(8)
                .map(|i| self.ends(&self.catalogue[i % models], self.nodes[i / models], at))
                .collect();
            let table = Arc::new(table);
            let mut tables = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
            tables.insert(key, Arc::clone(&table));
            table
        })
    }

    /// A model at its least and its most primary air.
    fn ends(&self, ready: &Ready<'_>, node: i64, at: At) -> Ends {
        let set_point_c = node as f64 * NODE_K;
        let air = ZoneAir::new(set_point_c, at.limit_w);
        // Primary air as warm and humid as the room brings nothing; what it does bring is added exactly.
        let cx = self.cx(At { supply_w: at.limit_w, delivered_c: set_point_c, ..at });
        let end = |primary: f64| {
            let share =
                Share { count: 1, primary, supplementary: 0.0, load_w: 0.0, plenum_w: 0.0, heating_w: 0.0 };
            let most = terminals::at_most(&cx, ready, air, share).ok()?;
            Some(Open { net_w: most.room_w - most.primary_w, cap_w: most.cap_w })
        };
        let m = ready.model;
        Some([end(m.primary_min.to_m3_per_s())?, end(m.primary_max.to_m3_per_s())?])
    }
}

/// A candidate of the search while its zones are asked.
pub(crate) struct State<'c, 'a> {
    carrier: &'c Carrier<'a>,
    at: At,
    cx: Context<'a>,
    table: Option<Arc<Table>>,
}

impl State<'_, '_> {
    /// Serves zone `index` of the needs, which asks for `need` of primary air, as selection would; `None` for a zone
    /// without a terminal.
    pub(crate) fn serve(&self, index: usize, need: f64) -> Option<Carried> {
        let (z, part) = self.carrier.of[index]?;
        let need = need * part;
        let (carried, primary) = self.first(z, need);
        // The units are asked at the flow that their least raises the zone to.
        Some(Carried { minimum: if primary > need { primary / part } else { 0.0 }, ..carried })
    }

    fn first(&self, z: usize, need: f64) -> (Carried, f64) {
        let c = self.carrier;
        let zone = &c.zones[z];
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
                if self.carries(index, z, zone.share(count, flow)) {
                    return (Carried { minimum: 0.0, units: count, boxes: 0 }, flow);
                }
            }
            if count == 1
                && let Some(carried) = self.with_box(z, need, terminals::BoxShare::Smaller)
            {
                return (carried, need);
            }
        }
        if let Some(carried) = self.with_box(z, need, terminals::BoxShare::Any) {
            return (carried, need);
        }
        // Nothing serves it: the smallest least of the catalogue, so that selection says what it lacks.
        let least =
            candidates().map(|(_, r)| r.model.primary_min.to_m3_per_s()).fold(f64::INFINITY, f64::min);
        (Carried { minimum: 0.0, units: 0, boxes: 0 }, if least.is_finite() { need.max(least) } else { need })
    }

    fn with_box(&self, z: usize, need: f64, size: terminals::BoxShare) -> Option<Carried> {
        let c = self.carrier;
        let zone = &c.zones[z];
        for (index, ready) in c.catalogue.iter().enumerate() {
            if let TerminalChoice::Model(name) = &zone.choice
                && ready.model.model != *name
            {
                continue;
            }
            if let Some(share) = terminals::box_share(&self.cx, ready, zone, zone.share(1, need), size)
                && self.carries(index, z, share)
            {
                return Some(Carried { minimum: 0.0, units: 1, boxes: 1 });
            }
        }
        None
    }

    fn carries(&self, index: usize, z: usize, share: Share) -> bool {
        let c = self.carrier;
        let t = &c.project.terminals;
        let ready = &c.catalogue[index];
        if ready.model.external_pressure < t.external_pressure.value {
            return false;
        }
        let zone = &c.zones[z];
        let air = ZoneAir { humidity_ratio: self.at.limit_w, ..zone.air };
        let wanted = share.load_w * (1.0 + t.spare.value.to_ratio());
        let able = self.decided(index, z, share.primary, wanted).unwrap_or_else(|| {
            terminals::at_most(&self.cx, ready, air, share).is_ok_and(|m| m.room_w.min(m.cap_w) >= wanted)
        });
        able && (!c.insisted.contains(&z) || terminals::serves(&self.cx, ready, zone, air, share))
    }

    /// What the table says about a model with this primary air, where the load lies clear of it.
    fn decided(&self, index: usize, z: usize, primary: f64, wanted: f64) -> Option<bool> {
        let c = self.carrier;
        let table = self.table.as_deref()?;
        let models = c.catalogue.len();
        let (node, share) = c.between[z];
        let [mut a, mut b] = table[node * models + index]?;
        if share > 0.0 {
            let [next_a, next_b] = table[(node + 1) * models + index]?;
            (a, b) = (a.towards(next_a, share), b.towards(next_b, share));
        }
        let primary_w = primary
            * RHO
            * raw::humid_specific_heat_j_per_kg_k(self.at.supply_w)
            * (c.zones[z].air.set_point_c - self.at.delivered_c);
        let least = (a.net_w.min(b.net_w) + primary_w).min(a.cap_w.min(b.cap_w));
        let most = (a.net_w.max(b.net_w) + primary_w).min(a.cap_w.max(b.cap_w));
        let slack = SLACK * wanted.abs().max(100.0);
        if least > wanted + slack {
            Some(true)
        } else if most < wanted - slack {
            Some(false)
        } else {
            None
        }
    }
}
