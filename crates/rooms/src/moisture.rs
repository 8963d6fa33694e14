//! Moisture of a room: steady states and the exact step of its humidity.
//!
//! `M_eff dW/dt = sum_j m_j (W_j - W) + g - sum_s k_s (W - W_sat,s)+`, all flows of dry air. Between the instants at
//! which a surface passes its saturation the equation is linear with constant coefficients: each piece is solved
//! exactly and the instants are found in closed form, so the step has no error of its own at any length.

use crate::error::{RoomError, within};
use crate::phi::phi;
use drycoil_air::raw as air;
use drycoil_units::{
    Area, HumidityRatio, Mass, MassFlow, Power, Pressure, Quantity, Temperature, ThermalTransmittance, Time,
};

/// Enthalpy of water vapour, J/kg: what a latent heat gain divides by to become a vapour flow.
///
/// `2501 + 1.86 t` kJ/kg, t in degC (ASHRAE Fundamentals, psychrometrics chapter).
pub fn raw_vapour_enthalpy_j_per_kg(t_c: f64) -> f64 {
    2.501e6 + air::CP_VAPOUR_J_PER_KG_K * t_c
}

/// Vapour flow of a latent heat gain in a room at this temperature (-20 to 60 degC).
///
/// ```
/// use drycoil_rooms::moisture::vapour_flow;
/// use drycoil_units::{Power, Temperature};
/// let per_person = vapour_flow(Power::btu_per_hour(200.0), Temperature::fahrenheit(75.0))?;
/// assert!((per_person.to_lb_per_hour() - 200.0 / 1094.3).abs() < 1e-4);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn vapour_flow(latent: Power, room: Temperature) -> Result<MassFlow, RoomError> {
    let t = within("room temperature", room.si(), -20.0, 60.0, "degC")?;
    Ok(MassFlow::from_si(latent.si() / raw_vapour_enthalpy_j_per_kg(t)))
}

/// Air that enters the room and displaces as much room air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistFlow {
    /// Dry-air mass flow, kg/s.
    pub dry_air_kg_per_s: f64,
    /// Humidity ratio at which it enters, kg/kg.
    pub humidity_ratio: f64,
}

impl MoistFlow {
    /// A flow of 0 to 1e5 kg/s of dry air at 0 to 0.5 kg/kg.
    pub fn new(dry_air: MassFlow, humidity_ratio: HumidityRatio) -> Result<Self, RoomError> {
        Ok(Self {
            dry_air_kg_per_s: within("dry-air mass flow", dry_air.si(), 0.0, 1e5, "kg/s")?,
            humidity_ratio: within("humidity ratio", humidity_ratio.si(), 0.0, 0.5, "kg/kg")?,
        })
    }
}

/// How much moisture the room holds per change of its humidity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Buffering {
    /// Dry air mass times a stated factor of 1 to 100. No published value is known: 1 is the default.
    Multiplier(f64),
    /// Sorption of surfaces by their moisture buffer value (effective capacity: instant equilibrium with the air,
    /// linear about a state).
    Sorption {
        /// Area of the sorbing surfaces, m2.
        area_m2: f64,
        /// Moisture buffer value, kg per m2 and per percent of relative humidity (order of 0.0005 to 0.001).
        buffer_kg_per_m2_percent: f64,
        /// Room temperature, degC.
        temperature_c: f64,
        /// Humidity ratio about which the capacity is taken, kg/kg.
        humidity_ratio: f64,
        /// Pressure, Pa.
        pressure_pa: f64,
    },
}

/// A room's store of moisture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistureStore {
    effective_kg: f64,
    dry_air_kg: f64,
}

impl MoistureStore {
    /// From the dry-air mass (0.1 to 1e8 kg) and the buffering.
    pub fn new(dry_air: Mass, buffering: Buffering) -> Result<Self, RoomError> {
        let m = within("dry-air mass of the room", dry_air.si(), 0.1, 1e8, "kg")?;
        let effective_kg = match buffering {
            Buffering::Multiplier(f) => m * within("moisture capacity multiplier", f, 1.0, 100.0, "1")?,
            Buffering::Sorption {
                area_m2,
                buffer_kg_per_m2_percent,
                temperature_c,
                humidity_ratio,
                pressure_pa,
            } => {
                within("sorbing area", area_m2, 0.0, 1e7, "m2")?;
                within("moisture buffer value", buffer_kg_per_m2_percent, 0.0, 0.1, "kg/(m2 %)")?;
                within("room temperature", temperature_c, -20.0, 60.0, "degC")?;
                within("humidity ratio", humidity_ratio, 0.0, 0.5, "kg/kg")?;
                within("pressure", pressure_pa, 60e3, 108e3, "Pa")?;
                let e = air::MASS_RATIO;
                let percent_per_ratio = 100.0 * pressure_pa * e
                    / ((e + humidity_ratio).powi(2) * air::saturation_pressure_pa(temperature_c));
                m + area_m2 * buffer_kg_per_m2_percent * percent_per_ratio
            }
        };
        Ok(Self { effective_kg, dry_air_kg: m })
    }

    /// Effective dry-air mass, kg: moisture held per unit of humidity ratio.
    pub fn effective_kg(&self) -> f64 {
        self.effective_kg
    }

    /// Dry-air mass alone, kg.
    pub fn dry_air_kg(&self) -> f64 {
        self.dry_air_kg
    }
}

/// A surface on which water condenses when the room's dew point is above its temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WettableSurface {
    /// Humidity ratio of air saturated at the surface temperature, kg/kg.
    pub saturation: f64,
    /// Mass transfer, kg/s of dry air: area times film over humid specific heat (Lewis number 1).
    pub transfer_kg_per_s: f64,
}

impl WettableSurface {
    /// From the convective film and the surface temperature (-20 to 60 degC).
    pub fn new(
        area: Area,
        convective: ThermalTransmittance,
        surface: Temperature,
        pressure: Pressure,
    ) -> Result<Self, RoomError> {
        let t = within("surface temperature", surface.si(), -20.0, 60.0, "degC")?;
        let p = within("pressure", pressure.si(), 60e3, 108e3, "Pa")?;
        let a = within("surface area", area.si(), 0.0, 1e6, "m2")?;
        let h = within("convective coefficient", convective.si(), 0.0, 1e3, "W/(m2 K)")?;
        let saturation = air::saturation_humidity_ratio(t, p);
        let cp = air::CP_DRY_AIR_J_PER_KG_K + air::CP_VAPOUR_J_PER_KG_K * saturation;
        Ok(Self { saturation, transfer_kg_per_s: a * h / cp })
    }
}

/// Humidity ratio at which a room settles without condensation; an error when no air flows.
///
/// ```
/// use drycoil_rooms::moisture::{MoistFlow, steady_humidity_ratio};
/// use drycoil_units::{HumidityRatio, MassFlow};
/// let primary = MoistFlow::new(MassFlow::lb_per_hour(90.0), HumidityRatio::grains_per_pound(50.146))?;
/// // One person, 200 Btu/h at 75 F, 20 standard cfm: the room sits at 55 F dew point, 64.36 gr/lb.
/// let w = steady_humidity_ratio(&[primary], MassFlow::lb_per_hour(200.0 / 1094.3))?;
/// assert!((w.to_grains_per_pound() - 64.36).abs() < 0.01);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn steady_humidity_ratio(flows: &[MoistFlow], vapour: MassFlow) -> Result<HumidityRatio, RoomError> {
    let m: f64 = flows.iter().map(|f| f.dry_air_kg_per_s).sum();
    if m <= 0.0 {
        return Err(RoomError::Empty { what: "list of air flows that carry moisture away" });
    }
    let carried: f64 = flows.iter().map(|f| f.dry_air_kg_per_s * f.humidity_ratio).sum();
    let w = (carried + vapour.si()) / m;
    Ok(HumidityRatio::from_si(within("steady humidity ratio", w, 0.0, 0.5, "kg/kg")?))
}

/// Humidity ratio at which primary air must enter so that a room settles at `limit`.
///
/// `others` are infiltration and transfer air at their own humidity. A negative result (the flow is too small for
/// the moisture) is an error that shows the value.
pub fn required_supply_humidity_ratio(
    primary_dry_air: MassFlow,
    others: &[MoistFlow],
    vapour: MassFlow,
    limit: HumidityRatio,
) -> Result<HumidityRatio, RoomError> {
    let m = within("primary dry-air mass flow", primary_dry_air.si(), 1e-9, 1e5, "kg/s")?;
    let other: f64 = others.iter().map(|f| f.dry_air_kg_per_s * (f.humidity_ratio - limit.si())).sum();
    let w = limit.si() - (vapour.si() + other) / m;
    Ok(HumidityRatio::from_si(within("required supply humidity ratio", w, 0.0, 0.5, "kg/kg")?))
}

/// Result of one step of a room's humidity.
#[derive(Debug, Clone, PartialEq)]
pub struct MoistureStep {
    /// Humidity ratio at the end, kg/kg.
    pub humidity_ratio: f64,
    /// Mean humidity ratio over the step, kg/kg.
    pub mean_humidity_ratio: f64,
    /// Water brought (net) by each air flow, kg.
    pub flows_kg: Vec<f64>,
    /// Water released in the room, kg.
    pub released_kg: f64,
    /// Water condensed on each surface, kg.
    pub condensed_kg: Vec<f64>,
    /// Growth of the water held, kg.
    pub stored_kg: f64,
    /// Pieces into which passing saturation cut the step.
    pub pieces: usize,
}

impl MoistureStep {
    /// Everything in, minus condensate and growth, kg.
    pub fn residual_kg(&self) -> f64 {
        self.flows_kg.iter().sum::<f64>() + self.released_kg
            - self.condensed_kg.iter().sum::<f64>()
            - self.stored_kg
    }
}

/// Exact step of a room's humidity ratio.
///
/// `vapour` is everything released in the room (people, process), constant over the step. Ends with an error when
/// the humidity ratio leaves 0 to 0.5 kg/kg.
pub fn step(
    store: &MoistureStore,
    start: HumidityRatio,
    length: Time,
    flows: &[MoistFlow],
    vapour: MassFlow,
    surfaces: &[WettableSurface],
) -> Result<MoistureStep, RoomError> {
    let w0 = within("humidity ratio", start.si(), 0.0, 0.5, "kg/kg")?;
    let h = within("step", length.si(), 1e-3, 1e7, "s")?;
    let g = within("vapour released", vapour.si(), -1e3, 1e3, "kg/s")?;
    let m_eff = store.effective_kg;
    let m: f64 = flows.iter().map(|f| f.dry_air_kg_per_s).sum();
    let carried: f64 = flows.iter().map(|f| f.dry_air_kg_per_s * f.humidity_ratio).sum();
    let slope = |w: f64| {
        carried + g
            - m * w
            - surfaces.iter().map(|s| s.transfer_kg_per_s * (w - s.saturation).max(0.0)).sum::<f64>()
    };
    // The equation is autonomous in one variable, so W moves one way only and passes each surface at most once.
    let rising = slope(w0) > 0.0;
    let mut wet: Vec<bool> =
        surfaces.iter().map(|s| w0 > s.saturation || (w0 == s.saturation && rising)).collect();
    let mut condensed_kg = vec![0.0; surfaces.len()];
    let (mut w, mut left, mut integral, mut pieces) = (w0, h, 0.0, 0);
    loop {
        pieces += 1;
        let (mut a, mut c) = (m, carried + g);
        for (s, on) in surfaces.iter().zip(&wet) {
            if *on {
                a += s.transfer_kg_per_s;
                c += s.transfer_kg_per_s * s.saturation;
            }
        }
        // Next saturation in the direction of motion.
        let next = surfaces
            .iter()
            .enumerate()
            .filter(
                |(i, s)| if rising { !wet[*i] && s.saturation >= w } else { wet[*i] && s.saturation <= w },
            )
            .min_by(|(_, p), (_, q)| (p.saturation - w).abs().total_cmp(&(q.saturation - w).abs()));
        let crossing = next.and_then(|(i, s)| {
            let distance = s.saturation - w;
            let speed = (c - a * w) / m_eff;
            let rate = a / m_eff;
            // distance = speed (1 - exp(-rate t)) / rate
            let time = if rate * distance.abs() < 1e-12 * speed.abs() {
                distance / speed
            } else {
                -(-rate * distance / speed).ln_1p() / rate
            };
            (speed != 0.0 && time.is_finite() && time >= 0.0 && time < left).then_some((i, time))
        });
        let t = crossing.map_or(left, |(_, t)| t);
        let [p1, p2, _] = phi(-a / m_eff * t);
        let piece = w * t * p1 + c / m_eff * t * t * p2;
        for ((kg, s), on) in condensed_kg.iter_mut().zip(surfaces).zip(&wet) {
            if *on {
                *kg += s.transfer_kg_per_s * (piece - s.saturation * t);
            }
        }
        integral += piece;
        left -= t;
        if let Some((i, _)) = crossing {
            w = surfaces[i].saturation;
            wet[i] = rising;
        } else {
            w += (c - a * w) / m_eff * t * p1;
            break;
        }
    }
    within("humidity ratio at the end of a step", w, 0.0, 0.5, "kg/kg")?;
    Ok(MoistureStep {
        humidity_ratio: w,
        mean_humidity_ratio: integral / h,
        flows_kg: flows.iter().map(|f| f.dry_air_kg_per_s * (f.humidity_ratio * h - integral)).collect(),
        released_kg: g * h,
        condensed_kg,
        stored_kg: m_eff * (w - w0),
        pieces,
    })
}

/// Dew point of a humidity ratio, degC.
pub fn dew_point(w: HumidityRatio, pressure: Pressure) -> Result<Temperature, RoomError> {
    let w = within("humidity ratio", w.si(), 1e-6, 0.5, "kg/kg")?;
    let p = within("pressure", pressure.si(), 60e3, 108e3, "Pa")?;
    Ok(Temperature::from_si(air::dew_point_c(w, p)))
}

/// Latent cooling that infiltration puts on a room, `m (W_out - W_room) h_g`; negative when outdoor air is drier.
///
/// ```
/// use drycoil_rooms::moisture::latent_gain;
/// use drycoil_units::{HumidityRatio, MassFlow, Temperature};
/// let q = latent_gain(
///     MassFlow::lb_per_hour(450.0),
///     HumidityRatio::grains_per_pound(71.471),
///     Temperature::fahrenheit(75.0),
/// )?;
/// assert!((q.to_btu_per_hour() - 5027.9).abs() < 1.0);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn latent_gain(dry_air: MassFlow, excess: HumidityRatio, room: Temperature) -> Result<Power, RoomError> {
    let t = within("room temperature", room.si(), -20.0, 60.0, "degC")?;
    Ok(Power::from_si(dry_air.si() * excess.si() * raw_vapour_enthalpy_j_per_kg(t)))
}
