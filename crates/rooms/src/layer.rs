//! Layers and plane constructions.

use crate::error::{RoomError, within};
use drycoil_units::{
    Conductivity, Density, Length, Quantity, SpecificHeat, ThermalResistance, ThermalTransmittance, Time,
};

/// One plane layer of a construction, with values checked by its constructors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Layer {
    /// A solid that conducts and stores heat.
    Solid(Solid),
    /// A pure resistance (air space, membrane), m2 K/W.
    Resistance(f64),
}

/// A conducting and storing layer; made by [`Layer::solid`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solid {
    thickness_m: f64,
    conductivity_w_per_m_k: f64,
    density_kg_per_m3: f64,
    specific_heat_j_per_kg_k: f64,
}

impl Solid {
    /// Thickness, m.
    pub fn thickness_m(&self) -> f64 {
        self.thickness_m
    }
    /// Thermal conductivity, W/(m K).
    pub fn conductivity_w_per_m_k(&self) -> f64 {
        self.conductivity_w_per_m_k
    }
    /// Density times specific heat, J/(m3 K).
    pub fn volumetric_capacity_j_per_m3_k(&self) -> f64 {
        self.density_kg_per_m3 * self.specific_heat_j_per_kg_k
    }
    /// Thermal diffusivity, m2/s.
    pub fn diffusivity_m2_per_s(&self) -> f64 {
        self.conductivity_w_per_m_k / self.volumetric_capacity_j_per_m3_k()
    }
    /// Periodic penetration depth `sqrt(k T / (pi rho c))`, m (ISO 13786).
    pub fn penetration_depth(&self, period: Time) -> Length {
        Length::from_si((self.diffusivity_m2_per_s() * period.si() / std::f64::consts::PI).sqrt())
    }
    /// Admittance of a very thick layer without film, `sqrt(k rho c w)`, W/(m2 K).
    pub fn thick_admittance(&self, period: Time) -> ThermalTransmittance {
        let w = 2.0 * std::f64::consts::PI / period.si();
        ThermalTransmittance::from_si(
            (self.conductivity_w_per_m_k * self.volumetric_capacity_j_per_m3_k() * w).sqrt(),
        )
    }
}

impl Layer {
    /// A solid layer.
    ///
    /// Valid: thickness 0.0001 to 10 m, conductivity 0.001 to 1000 W/(m K), density 1 to 25 000 kg/m3, specific
    /// heat 50 to 10 000 J/(kg K); anything else is an error.
    ///
    /// ```
    /// use drycoil_rooms::Layer;
    /// use drycoil_units::{Conductivity, Density, Length, Quantity, SpecificHeat};
    /// let brick = Layer::solid(
    ///     Length::metres(0.1025),
    ///     Conductivity::from_si(0.77),
    ///     Density::from_si(1700.0),
    ///     SpecificHeat::from_si(1000.0),
    /// )?;
    /// assert!((brick.resistance().si() - 0.13312).abs() < 1e-5);
    /// # Ok::<(), drycoil_rooms::RoomError>(())
    /// ```
    pub fn solid(
        thickness: Length,
        conductivity: Conductivity,
        density: Density,
        specific_heat: SpecificHeat,
    ) -> Result<Self, RoomError> {
        Ok(Self::Solid(Solid {
            thickness_m: within("layer thickness", thickness.si(), 1e-4, 10.0, "m")?,
            conductivity_w_per_m_k: within("thermal conductivity", conductivity.si(), 1e-3, 1e3, "W/(m K)")?,
            density_kg_per_m3: within("density", density.si(), 1.0, 25_000.0, "kg/m3")?,
            specific_heat_j_per_kg_k: within(
                "specific heat",
                specific_heat.si(),
                50.0,
                10_000.0,
                "J/(kg K)",
            )?,
        }))
    }

    /// A pure resistance, 0.0001 to 100 m2 K/W.
    pub fn air_space(resistance: ThermalResistance) -> Result<Self, RoomError> {
        Ok(Self::Resistance(within("thermal resistance", resistance.si(), 1e-4, 100.0, "m2 K/W")?))
    }

    /// Thermal resistance of the layer.
    pub fn resistance(&self) -> ThermalResistance {
        ThermalResistance::from_si(self.raw_resistance())
    }

    pub(crate) fn raw_resistance(&self) -> f64 {
        match self {
            Self::Solid(s) => s.thickness_m / s.conductivity_w_per_m_k,
            Self::Resistance(r) => *r,
        }
    }

    /// Heat capacity per area, J/(m2 K); 0 for a pure resistance.
    pub fn raw_areal_capacity_j_per_m2_k(&self) -> f64 {
        match self {
            Self::Solid(s) => s.thickness_m * s.volumetric_capacity_j_per_m3_k(),
            Self::Resistance(_) => 0.0,
        }
    }
}

/// Surface film resistances of a construction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Films {
    inside_m2_k_per_w: f64,
    outside_m2_k_per_w: f64,
}

impl Films {
    /// Films of 0 to 10 m2 K/W each.
    pub fn new(inside: ThermalResistance, outside: ThermalResistance) -> Result<Self, RoomError> {
        Ok(Self {
            inside_m2_k_per_w: within("inside film resistance", inside.si(), 0.0, 10.0, "m2 K/W")?,
            outside_m2_k_per_w: within("outside film resistance", outside.si(), 0.0, 10.0, "m2 K/W")?,
        })
    }

    /// ISO 6946 values for horizontal heat flow, 0.13 and 0.04 m2 K/W (from memory).
    pub fn iso_6946_horizontal() -> Self {
        Self { inside_m2_k_per_w: 0.13, outside_m2_k_per_w: 0.04 }
    }

    /// Inside film resistance.
    pub fn inside(&self) -> ThermalResistance {
        ThermalResistance::from_si(self.inside_m2_k_per_w)
    }

    /// Outside film resistance.
    pub fn outside(&self) -> ThermalResistance {
        ThermalResistance::from_si(self.outside_m2_k_per_w)
    }
}

/// A plane construction: layers in order from inside to outside.
#[derive(Debug, Clone, PartialEq)]
pub struct Construction {
    layers: Vec<Layer>,
}

impl Construction {
    /// From layers listed from inside to outside; at least one.
    pub fn new(layers: Vec<Layer>) -> Result<Self, RoomError> {
        if layers.is_empty() {
            return Err(RoomError::Empty { what: "list of layers" });
        }
        Ok(Self { layers })
    }

    /// Layers from inside to outside.
    pub fn layers(&self) -> &[Layer] {
        &self.layers
    }

    /// The same construction seen from the other side.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self { layers: self.layers.iter().rev().copied().collect() }
    }

    /// Resistance from surface to surface.
    pub fn resistance(&self) -> ThermalResistance {
        ThermalResistance::from_si(self.layers.iter().map(Layer::raw_resistance).sum())
    }

    /// Thermal transmittance `1 / (R_inside + sum R + R_outside)`.
    pub fn transmittance(&self, films: Films) -> ThermalTransmittance {
        ThermalTransmittance::from_si(
            1.0 / (films.inside_m2_k_per_w + self.resistance().si() + films.outside_m2_k_per_w),
        )
    }

    /// Heat capacity per area, J/(m2 K).
    pub fn raw_areal_capacity_j_per_m2_k(&self) -> f64 {
        self.layers.iter().map(Layer::raw_areal_capacity_j_per_m2_k).sum()
    }
}
