//! Constructions, glass and exposed surfaces.

use drycoil_findings::Place;
use drycoil_units::{
    Angle, Area, Conductivity, Density, Fraction, Length, SpecificHeat, Temperature, ThermalResistance,
    ThermalTransmittance,
};
use drycoil_working::Sourced;

/// One layer, from outside to inside.
#[derive(Debug, Clone, PartialEq)]
pub enum ConstructionLayer {
    /// A material with mass.
    Material {
        /// Name in words.
        name: String,
        /// Thickness.
        thickness: Length,
        /// Conductivity.
        conductivity: Conductivity,
        /// Density.
        density: Density,
        /// Specific heat.
        specific_heat: SpecificHeat,
    },
    /// An air space or a membrane: resistance without mass.
    Resistance {
        /// Name in words.
        name: String,
        /// Resistance.
        resistance: ThermalResistance,
    },
}

/// An opaque construction.
#[derive(Debug, Clone, PartialEq)]
pub struct Construction {
    /// Unique name.
    pub name: String,
    /// Layers from outside to inside.
    pub layers: Vec<ConstructionLayer>,
    /// Solar absorptance of the outer face.
    pub solar_absorptance: Sourced<Fraction>,
    /// Where it is written.
    pub place: Place,
}

/// A window product.
#[derive(Debug, Clone, PartialEq)]
pub struct Glazing {
    /// Unique name.
    pub name: String,
    /// U-value of the whole window.
    pub u_value: Sourced<ThermalTransmittance>,
    /// Solar heat gain coefficient at normal incidence, whole window.
    pub solar_heat_gain: Sourced<Fraction>,
    /// Share of the solar gain that interior shading keeps out.
    pub interior_shading: Sourced<Fraction>,
    /// Where it is written.
    pub place: Place,
}

/// What an exposed surface is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SurfaceKind {
    /// Outer wall, net of its windows.
    Wall,
    /// Roof.
    Roof,
    /// Window.
    Window,
    /// Floor over outside air.
    ExposedFloor,
    /// Floor on the ground.
    GroundFloor,
    /// Wall, floor or ceiling to a space of given temperature.
    Partition,
}

/// One exposed surface of a room.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// Id of the room.
    pub room: String,
    /// What it is.
    pub kind: SurfaceKind,
    /// Name of the construction, or of the glazing for a window.
    pub construction: Sourced<String>,
    /// Net area.
    pub area: Sourced<Area>,
    /// Azimuth of the outward normal, clockwise from north. Not used for horizontal surfaces.
    pub facing: Sourced<Angle>,
    /// Tilt from horizontal: 0 roof, 90 wall.
    pub tilt: Sourced<Angle>,
    /// Depth of an overhang over the window divided by the window's height; 0 without.
    pub overhang_ratio: Sourced<Fraction>,
    /// Temperature of the space behind a partition.
    pub neighbour: Option<Sourced<Temperature>>,
    /// Where it is written.
    pub place: Place,
}
