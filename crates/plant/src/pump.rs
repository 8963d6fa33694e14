//! Pumps: power from flow and head, and part load with differential-pressure control.

use crate::error::{PlantError, component, positive, within};
use crate::limits::{Limit, Limits};
use crate::solve::interpolate;
use drycoil_units::{
    Density, Fraction, GRAVITY_M_PER_S2, Length, Power, PressureDifference, Quantity, WaterFlow,
};

/// Pressure difference of a head of water.
pub fn head_to_pressure(head: Length, density: Density) -> PressureDifference {
    PressureDifference::pascals(head.si() * density.si() * GRAVITY_M_PER_S2)
}

/// Power of a pump at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpPower {
    /// Flow times pressure rise.
    pub hydraulic_power: Power,
    /// Power at the shaft.
    pub shaft_power: Power,
    /// Power from the supply.
    pub electric_power: Power,
    /// Heat into the water: the shaft power, as all hydraulic power ends as friction in the loop.
    pub heat_to_water: Power,
}

/// Power of a pump: `flow * pressure / efficiency`.
///
/// ```
/// use drycoil_plant::pump::{head_to_pressure, power};
/// use drycoil_units::{Density, Length, WaterFlow};
/// let rise = head_to_pressure(Length::feet(50.0), Density::kg_per_m3(998.2));
/// let p = power(WaterFlow::gpm(100.0), rise, 0.70, 0.93)?;
/// assert!((p.shaft_power.to_watts() - 1345.0).abs() < 3.0);
/// # Ok::<(), drycoil_plant::PlantError>(())
/// ```
///
/// # Errors
/// A negative flow or pressure, an efficiency outside 0.01 to 1.
pub fn power(
    flow: WaterFlow,
    pressure: PressureDifference,
    pump_efficiency: f64,
    motor_and_drive_efficiency: f64,
) -> Result<PumpPower, PlantError> {
    let p = drycoil_water::pump::pump_power(
        flow,
        pressure,
        Fraction::ratio(pump_efficiency),
        Fraction::ratio(motor_and_drive_efficiency),
    )
    .map_err(component("pump power"))?;
    Ok(PumpPower {
        hydraulic_power: p.hydraulic,
        shaft_power: p.shaft,
        electric_power: p.electric,
        heat_to_water: p.shaft,
    })
}

/// How a pump follows the flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PumpControl {
    /// Runs at full speed; valves throttle it along its curve.
    ConstantSpeed,
    /// Speed holds a differential pressure at the end of the loop: this share of the design pressure rise stays at
    /// every flow, the rest goes with the square of the flow.
    DifferentialPressure {
        /// Set point over design pressure rise, 0 to 1.
        set_point_share: f64,
    },
}

/// A pump chosen for a design point.
#[derive(Debug, Clone, PartialEq)]
pub struct Pump {
    /// Design flow.
    pub design_flow: WaterFlow,
    /// Design pressure rise.
    pub design_pressure: PressureDifference,
    /// Pressure rise without flow over design pressure rise, above 1; the curve between is a parabola.
    pub shutoff_ratio: f64,
    /// Pump efficiency at the design point.
    pub efficiency: f64,
    /// Efficiency of motor and speed controller at design speed.
    pub motor_and_drive_efficiency: f64,
    /// Share of design pump efficiency against flow over (design flow times speed ratio); rising first entries.
    pub efficiency_shape: Vec<(f64, f64)>,
    /// Share of design motor and drive efficiency against share of design shaft power; rising first entries.
    pub drive_shape: Vec<(f64, f64)>,
    /// Control.
    pub control: PumpControl,
    /// Smallest share of design flow, held by a bypass.
    pub minimum_share: f64,
}

/// A pump at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpState {
    /// Flow asked by the loop.
    pub flow_asked: WaterFlow,
    /// Flow through the pump, bypass included.
    pub flow: WaterFlow,
    /// Pressure rise.
    pub pressure: PressureDifference,
    /// Speed over design speed.
    pub speed_ratio: f64,
    /// Pump efficiency.
    pub pump_efficiency: f64,
    /// Motor and drive efficiency.
    pub drive_efficiency: f64,
    /// Powers.
    pub power: PumpPower,
    /// Limits reached.
    pub limits: Limits,
}

impl Pump {
    /// A pump with the usual shapes: efficiency a parabola in flow over speed, drive efficiency falling below 40 %
    /// of the shaft power (common practice, no source). Override the fields for a maker's data.
    ///
    /// # Errors
    /// A design value out of range.
    pub fn new(
        design_flow: WaterFlow,
        design_pressure: PressureDifference,
        efficiency: f64,
        motor_and_drive_efficiency: f64,
        control: PumpControl,
    ) -> Result<Self, PlantError> {
        let shape = |x: f64| (2.0 * x - x * x).max(0.05);
        let pump = Self {
            design_flow,
            design_pressure,
            shutoff_ratio: 1.25,
            efficiency,
            motor_and_drive_efficiency,
            efficiency_shape: (0..=12).map(|i| f64::from(i) / 10.0).map(|x| (x, shape(x))).collect(),
            drive_shape: vec![(0.0, 0.40), (0.1, 0.70), (0.2, 0.85), (0.4, 0.95), (0.7, 1.0), (1.5, 1.0)],
            control,
            minimum_share: 0.0,
        };
        pump.check()?;
        Ok(pump)
    }

    fn check(&self) -> Result<(), PlantError> {
        positive("pump design flow in m3/s", self.design_flow.si())?;
        positive("pump design pressure rise in Pa", self.design_pressure.si())?;
        within("pressure rise without flow over design", self.shutoff_ratio, 1.0001, 3.0)?;
        within("pump efficiency", self.efficiency, 0.01, 1.0)?;
        within("motor and drive efficiency", self.motor_and_drive_efficiency, 0.01, 1.0)?;
        within("smallest share of pump flow", self.minimum_share, 0.0, 1.0)?;
        if let PumpControl::DifferentialPressure { set_point_share } = self.control {
            within("differential pressure set point share", set_point_share, 0.0, 1.0)?;
        }
        Ok(())
    }

    /// Power at design.
    ///
    /// # Errors
    /// A design value out of range.
    pub fn design_power(&self) -> Result<PumpPower, PlantError> {
        power(self.design_flow, self.design_pressure, self.efficiency, self.motor_and_drive_efficiency)
    }

    /// The pump at a flow of the loop. No flow, no power.
    ///
    /// # Errors
    /// A flow that is negative or above 1.0 of design; a design value or shape out of range.
    pub fn run(&self, flow: WaterFlow) -> Result<PumpState, PlantError> {
        self.check()?;
        let design = self.design_flow.si();
        let asked = within("pump flow in m3/s", flow.si(), 0.0, design * (1.0 + 1e-9))?;
        let mut limits = Limits::NONE;
        if asked == 0.0 {
            let zero = Power::watts(0.0);
            return Ok(PumpState {
                flow_asked: flow,
                flow,
                pressure: PressureDifference::pascals(0.0),
                speed_ratio: 0.0,
                pump_efficiency: self.efficiency,
                drive_efficiency: self.motor_and_drive_efficiency,
                power: PumpPower {
                    hydraulic_power: zero,
                    shaft_power: zero,
                    electric_power: zero,
                    heat_to_water: zero,
                },
                limits,
            });
        }
        let through = asked.max(self.minimum_share * design);
        if through > asked {
            limits.add(Limit::MinimumFlow);
        }
        let x = through / design;
        let s = self.shutoff_ratio;
        let (head, speed) = match self.control {
            PumpControl::ConstantSpeed => (s - (s - 1.0) * x * x, 1.0),
            PumpControl::DifferentialPressure { set_point_share } => {
                let head = set_point_share + (1.0 - set_point_share) * x * x;
                (head, ((head + (s - 1.0) * x * x) / s).sqrt())
            }
        };
        let shape = interpolate(&self.efficiency_shape, x / speed).ok_or(PlantError::OutOfRange {
            quantity: "flow over design flow at speed",
            value: x / speed,
            low: self.efficiency_shape.first().map_or(0.0, |p| p.0),
            high: self.efficiency_shape.last().map_or(0.0, |p| p.0),
        })?;
        let pump_efficiency = self.efficiency * shape;
        let pressure = self.design_pressure * head;
        let shaft_share = x * head / shape;
        let drive = interpolate(&self.drive_shape, shaft_share).ok_or(PlantError::OutOfRange {
            quantity: "share of design shaft power",
            value: shaft_share,
            low: self.drive_shape.first().map_or(0.0, |p| p.0),
            high: self.drive_shape.last().map_or(0.0, |p| p.0),
        })?;
        let drive_efficiency = self.motor_and_drive_efficiency * drive;
        let through = WaterFlow::from_si(through);
        Ok(PumpState {
            flow_asked: flow,
            flow: through,
            pressure,
            speed_ratio: speed,
            pump_efficiency,
            drive_efficiency,
            power: power(through, pressure, pump_efficiency, drive_efficiency)?,
            limits,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn val_pump_examples() {
        // Cengel and Cimbala, Fluid Mechanics, example 14-2 as transcribed in a textbook companion: 0.0233 m3/s,
        // 7.3 m at 70 % 2379 W, 21.9 m at 76.5 % 6530 W (998 kg/m3, 9.81 m/s2).
        for (head, eff, watts) in [(7.3, 0.70, 2379.0), (21.9, 0.765, 6530.0)] {
            let rise = head_to_pressure(Length::metres(head), Density::from_si(998.0));
            let p = power(WaterFlow::from_si(0.0233), rise, eff, 1.0).unwrap();
            // Whole watts and gravity rounded to 9.81.
            assert!((p.shaft_power.si() / watts - 1.0).abs() < 1e-3, "{}", p.shaft_power.si());
        }
        // Recomputed: 100 gpm, 50 ft, 70 %: 1.34579 kW exact in SI for water of 62.386 lb/ft3; 0.1 %.
        let rise = head_to_pressure(Length::feet(50.0), Density::from_si(62.386 * 16.018_463));
        let p = power(WaterFlow::gpm(100.0), rise, 0.70, 1.0).unwrap();
        assert!((p.shaft_power.si() / 1345.8 - 1.0).abs() < 1e-3, "{}", p.shaft_power.si());
    }

    fn pump(control: PumpControl) -> Pump {
        Pump::new(WaterFlow::from_si(0.02), PressureDifference::from_si(200e3), 0.75, 0.92, control).unwrap()
    }

    #[test]
    fn inv_design_point_is_reproduced() {
        for control in
            [PumpControl::ConstantSpeed, PumpControl::DifferentialPressure { set_point_share: 0.3 }]
        {
            let p = pump(control);
            let s = p.run(p.design_flow).unwrap();
            assert!((s.speed_ratio - 1.0).abs() < 1e-12);
            assert!((s.power.electric_power / p.design_power().unwrap().electric_power - 1.0).abs() < 1e-12);
        }
        let mut p = pump(PumpControl::ConstantSpeed);
        assert!(p.run(WaterFlow::from_si(0.03)).is_err());
        assert_eq!(p.run(WaterFlow::from_si(0.0)).unwrap().power.electric_power.si(), 0.0);
        p.minimum_share = 0.25;
        let s = p.run(WaterFlow::from_si(0.001)).unwrap();
        assert!(s.limits.has(Limit::MinimumFlow) && (s.flow.si() - 0.005).abs() < 1e-15);
        p.efficiency = 1.4;
        assert!(p.run(WaterFlow::from_si(0.01)).is_err());
    }

    proptest! {
        #[test]
        fn phys_lower_set_point_saves_and_nothing_beats_the_cube(x in 0.05f64..1.0, share in 0.0f64..0.8) {
            let at = |control| pump(control).run(WaterFlow::from_si(0.02 * x)).unwrap();
            let dp = at(PumpControl::DifferentialPressure { set_point_share: share });
            let higher = at(PumpControl::DifferentialPressure { set_point_share: share + 0.1 });
            let constant = at(PumpControl::ConstantSpeed);
            prop_assert!(dp.power.hydraulic_power.si() <= higher.power.hydraulic_power.si() * (1.0 + 1e-12));
            prop_assert!(higher.power.electric_power.si() <= constant.power.electric_power.si() * (1.0 + 1e-9));
            let cube = 0.02 * 200e3 / 0.75 / 0.92 * x.powi(3);
            prop_assert!(dp.power.electric_power.si() >= cube * (1.0 - 1e-12));
            prop_assert!(dp.pump_efficiency <= 0.75 + 1e-12 && dp.drive_efficiency <= 0.92 + 1e-12);
        }

        #[test]
        fn phys_power_rises_with_flow(x in 0.05f64..0.98) {
            let p = pump(PumpControl::DifferentialPressure { set_point_share: 0.35 });
            let a = p.run(WaterFlow::from_si(0.02 * x)).unwrap().power.electric_power.si();
            let b = p.run(WaterFlow::from_si(0.02 * (x + 0.02))).unwrap().power.electric_power.si();
            prop_assert!(b > a);
        }
    }
}
