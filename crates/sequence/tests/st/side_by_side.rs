//! One sequence on both sides: the interpreter, and the exported text in the evaluator.

use crate::compiler::{Scalar, Unit, compile};
use drycoil_sequence::{
    BuildingInputs, BuildingSlot, Declaration, Direction, Kind, Machine, Scope, Setup, ZoneInputs, ZoneSlot,
};
use drycoil_units::{QuantityKind, Time, UnitSystem};

/// A signal on both sides.
struct Pair {
    name: String,
    address: usize,
    kind: Option<Kind>,
    zone: Option<usize>,
    direction: Direction,
    slot: Slot,
}

enum Slot {
    Building(BuildingSlot),
    Zone(usize, ZoneSlot),
}

pub struct Twin {
    pub unit: Unit,
    pub machine: Machine,
    pairs: Vec<Pair>,
    cycle: usize,
    system: UnitSystem,
}

fn to_text(kind: Option<Kind>, si: f64, system: UnitSystem, old: Scalar) -> Scalar {
    match kind {
        Some(Kind::Boolean) => Scalar::Bool(si != 0.0),
        Some(Kind::Count) => Scalar::Int(si as i64),
        Some(Kind::Temperature) => Scalar::Real(system.value(QuantityKind::Temperature, si)),
        Some(Kind::Difference) => Scalar::Real(system.value(QuantityKind::TemperatureDifference, si)),
        Some(_) => Scalar::Real(si),
        None => match old {
            Scalar::Enum(of, _) => Scalar::Enum(of, si as usize),
            other => other,
        },
    }
}

impl Twin {
    pub fn new(
        declaration: &Declaration,
        setup: &Setup,
        system: UnitSystem,
        text: &str,
    ) -> Result<Self, String> {
        let unit = compile(text)?;
        let machine = Machine::new(declaration, setup).map_err(|e| e.to_string())?;
        let mut pairs = Vec::new();
        let signals = declaration.signals.iter().map(|s| (s.name, Some(s.kind), s.scope, s.direction));
        let regions = declaration.regions().map(|(scope, r)| (r.name, None, scope, Direction::Output));
        for (name, kind, scope, direction) in signals.chain(regions) {
            match scope {
                Scope::Building => {
                    let address = unit.address(&format!("b.{name}"))?;
                    let slot = Slot::Building(machine.building_slot(name).unwrap());
                    pairs.push(Pair { name: name.to_owned(), address, kind, zone: None, direction, slot });
                }
                Scope::Zone => {
                    for zone in 0..setup.zones().len() {
                        let address = unit.address(&format!("zones[{}].{name}", zone + 1))?;
                        let slot = Slot::Zone(zone, machine.zone_slot(name).unwrap());
                        pairs.push(Pair {
                            name: name.to_owned(),
                            address,
                            kind,
                            zone: Some(zone),
                            direction,
                            slot,
                        });
                    }
                }
            }
        }
        let cycle = unit.address("cycle_s")?;
        Ok(Self { unit, machine, pairs, cycle, system })
    }

    /// One step on both sides; what differs.
    pub fn step(&mut self, dt: f64, building: &BuildingInputs, zones: &[ZoneInputs]) -> Result<(), String> {
        self.machine.step(Time::seconds(dt), building, zones).map_err(|e| e.to_string())?;
        self.unit.memory[self.cycle] = Scalar::Real(dt);
        for pair in self.pairs.iter().filter(|p| p.direction == Direction::Input) {
            let si = match pair.zone {
                Some(zone) => zones[zone].value(&pair.name),
                None => building.value(&pair.name),
            }
            .unwrap();
            let old = self.unit.memory[pair.address];
            self.unit.memory[pair.address] = to_text(pair.kind, si, self.system, old);
        }
        self.unit.cycle("dewpointsequence")?;
        for pair in self.pairs.iter().filter(|p| p.direction != Direction::Input) {
            let si = match pair.slot {
                Slot::Zone(zone, slot) => self.machine.zone_value(zone, slot),
                Slot::Building(slot) => self.machine.building_value(slot),
            };
            let found = self.unit.memory[pair.address];
            let wanted = to_text(pair.kind, si, self.system, found);
            let same = match (found, wanted) {
                // Inner distances of a reading that is not a number are themselves none.
                (Scalar::Real(a), Scalar::Real(b)) if pair.direction == Direction::Inner => {
                    a == b || a.is_nan() && b.is_nan() || (a - b).abs() < self.tolerance()
                }
                (Scalar::Real(a), Scalar::Real(b)) => a == b || (a - b).abs() < self.tolerance(),
                (a, b) => a == b,
            };
            if !same {
                return Err(format!(
                    "{} of zone {:?}: text {found:?}, interpreter {wanted:?}",
                    pair.name, pair.zone
                ));
            }
        }
        Ok(())
    }

    /// In SI both sides do the same sums: not a bit may differ. In degF roundings of the conversion remain.
    fn tolerance(&self) -> f64 {
        match self.system {
            UnitSystem::Si => 0.0,
            UnitSystem::Ip => 1e-9,
        }
    }
}
