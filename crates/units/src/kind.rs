//! Kinds of quantity and the units in which each may be written.

/// One way to write a quantity: `si = value * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// The spelling that the program prints.
    pub symbol: &'static str,
    /// Other spellings that are read.
    pub aliases: &'static [&'static str],
    /// SI value of one unit.
    pub factor: f64,
    /// SI value of zero of this unit.
    pub offset: f64,
}

const fn u(symbol: &'static str, aliases: &'static [&'static str], factor: f64) -> Unit {
    Unit { symbol, aliases, factor, offset: 0.0 }
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident $label:literal si=$si:literal ip=$ip:literal key=$key:literal [$($unit:expr),* $(,)?])*) => {
        /// What a number means; decides which units may be written.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum QuantityKind { $($(#[$doc])* $name,)* }

        impl QuantityKind {
            /// Every kind, in the order of declaration.
            pub const ALL: &'static [QuantityKind] = &[$(QuantityKind::$name,)*];

            /// The words for this kind in a message.
            pub const fn label(self) -> &'static str { match self { $(QuantityKind::$name => $label,)* } }

            /// The units in which this kind may be written; the first is SI.
            pub const fn units(self) -> &'static [Unit] {
                match self { $(QuantityKind::$name => { const U: &[Unit] = &[$($unit),*]; U })* }
            }

            /// Symbol of the unit shown in the SI system.
            pub const fn si_symbol(self) -> &'static str { match self { $(QuantityKind::$name => $si,)* } }

            /// Symbol of the unit shown in the inch-pound system.
            pub const fn ip_symbol(self) -> &'static str { match self { $(QuantityKind::$name => $ip,)* } }

            /// Unit suffix of an exported key, as in `supply_dew_point_c`.
            pub const fn key_suffix(self) -> &'static str { match self { $(QuantityKind::$name => $key,)* } }
        }
    };
}

/// Joules in one International Table British thermal unit.
pub const BTU_J: f64 = 1055.05585262;
const LB_KG: f64 = 0.453_592_37;
const FT_M: f64 = 0.3048;
const CFM: f64 = FT_M * FT_M * FT_M / 60.0;
const GALLON_M3: f64 = 3.785_411_784e-3;
const BTU_H: f64 = BTU_J / 3600.0;
const FT2: f64 = FT_M * FT_M;
/// Pa in one inch of water (conventional, 4 degC).
const IN_WG: f64 = 249.088_908_333;

kinds! {
    /// A point on a temperature scale.
    Temperature "temperature" si="degC" ip="degF" key="c" [
        u("degC", &["C", "\u{b0}C"], 1.0),
        Unit { symbol: "degF", aliases: &["F", "\u{b0}F"], factor: 5.0 / 9.0, offset: -160.0 / 9.0 },
        Unit { symbol: "K", aliases: &["kelvin"], factor: 1.0, offset: -273.15 },
    ]
    /// A distance between two temperatures.
    TemperatureDifference "temperature difference" si="K" ip="degF" key="k" [
        u("K", &["degC", "C", "\u{b0}C"], 1.0), u("degF", &["F", "\u{b0}F", "R"], 5.0 / 9.0),
    ]
    /// Mass of water vapour per mass of dry air.
    HumidityRatio "humidity ratio" si="g/kg" ip="gr/lb" key="kg_per_kg" [
        u("kg/kg", &["lb/lb"], 1.0), u("g/kg", &[], 1e-3), u("gr/lb", &["grains/lb"], 1.0 / 7000.0),
    ]
    /// A share of one.
    Fraction "fraction" si="%" ip="%" key="fraction" [u("1", &["fraction"], 1.0), u("%", &["percent", "%RH"], 0.01)]
    /// Absolute pressure.
    Pressure "absolute pressure" si="kPa" ip="psia" key="pa" [
        u("Pa", &[], 1.0), u("kPa", &[], 1e3), u("hPa", &["mbar"], 100.0), u("bar", &[], 1e5),
        u("psia", &["psi"], 6_894.757_293_168), u("inHg", &[], 3_386.389), u("mmHg", &[], 133.322_387_415),
        u("atm", &[], 101_325.0),
    ]
    /// A difference of pressure.
    PressureDifference "pressure difference" si="Pa" ip="in wg" key="pa" [
        u("Pa", &[], 1.0), u("kPa", &[], 1e3), u("in wg", &["inwg", "inH2O", "in w.g."], IN_WG),
        u("ft wg", &["ftwg", "ftH2O", "ft"], 12.0 * IN_WG), u("m wg", &["mH2O"], 9_806.65),
        u("psi", &[], 6_894.757_293_168), u("bar", &[], 1e5),
    ]
    /// Enthalpy per mass of dry air or per mass of fluid.
    SpecificEnthalpy "specific enthalpy" si="kJ/kg" ip="Btu/lb" key="j_per_kg" [
        u("J/kg", &[], 1.0), u("kJ/kg", &[], 1e3), u("Btu/lb", &["BTU/lb"], 2326.0),
    ]
    /// Heat flow or work rate.
    Power "power" si="W" ip="Btu/h" key="w" [
        u("W", &[], 1.0), u("kW", &[], 1e3), u("MW", &[], 1e6), u("Btu/h", &["BTU/h", "Btuh", "BTUH"], BTU_H),
        u("kBtu/h", &["MBH", "kBTU/h"], BTU_H * 1e3), u("ton", &["tons"], BTU_H * 12e3), u("hp", &[], 745.699_871_582),
    ]
    /// Energy.
    Energy "energy" si="kWh" ip="kWh" key="j" [
        u("J", &[], 1.0), u("kJ", &[], 1e3), u("MJ", &[], 1e6), u("GJ", &[], 1e9), u("Wh", &[], 3.6e3),
        u("kWh", &[], 3.6e6), u("MWh", &[], 3.6e9), u("Btu", &["BTU"], BTU_J), u("kBtu", &[], BTU_J * 1e3),
        u("therm", &["therms"], BTU_J * 1e5), u("ton-h", &[], BTU_J * 12e3),
    ]
    /// Length.
    Length "length" si="m" ip="ft" key="m" [
        u("m", &[], 1.0), u("mm", &[], 1e-3), u("cm", &[], 1e-2), u("km", &[], 1e3), u("ft", &["'"], FT_M),
        u("in", &["inch", "\""], 0.0254),
    ]
    /// Area.
    Area "area" si="m2" ip="ft2" key="m2" [
        u("m2", &["m\u{b2}", "sq m"], 1.0), u("cm2", &["cm\u{b2}"], 1e-4),
        u("ft2", &["ft\u{b2}", "sq ft", "sf", "SF"], FT2), u("in2", &["in\u{b2}"], 0.0254 * 0.0254),
    ]
    /// Volume.
    Volume "volume" si="m3" ip="ft3" key="m3" [
        u("m3", &["m\u{b3}"], 1.0), u("L", &["l"], 1e-3), u("ft3", &["ft\u{b3}"], FT_M * FT_M * FT_M),
        u("gal", &[], GALLON_M3),
    ]
    /// Mass.
    Mass "mass" si="kg" ip="lb" key="kg" [u("kg", &[], 1.0), u("g", &[], 1e-3), u("lb", &[], LB_KG)]
    /// Speed.
    Velocity "velocity" si="m/s" ip="fpm" key="m_per_s" [
        u("m/s", &[], 1.0), u("fpm", &["ft/min"], FT_M / 60.0), u("ft/s", &["fps"], FT_M), u("mph", &[], 0.447_04),
        u("km/h", &[], 1.0 / 3.6),
    ]
    /// Volume flow of standard air: dry-air mass flow over 1.2014 kg/m3.
    StandardAirFlow "standard air flow" si="L/s" ip="cfm" key="m3_per_s" [
        u("m3/s", &["m\u{b3}/s"], 1.0), u("L/s", &["l/s", "L/s/person"], 1e-3),
        u("m3/h", &["m\u{b3}/h"], 1.0 / 3600.0), u("cfm", &["scfm", "CFM", "cfm/person"], CFM),
    ]
    /// Volume flow of air at a named state.
    ActualAirFlow "actual air flow" si="L/s" ip="acfm" key="m3_per_s" [
        u("m3/s", &["m\u{b3}/s"], 1.0), u("L/s", &["l/s"], 1e-3), u("m3/h", &["m\u{b3}/h"], 1.0 / 3600.0),
        u("acfm", &["cfm", "CFM"], CFM),
    ]
    /// Standard air flow per floor or facade area.
    StandardAirFlowPerArea "standard air flow per area" si="L/s m2" ip="cfm/ft2" key="m_per_s" [
        u("m3/s m2", &["m/s"], 1.0), u("L/s m2", &["L/s/m2", "L/(s m2)", "L/s.m2"], 1e-3),
        u("m3/h m2", &["m3/h/m2", "m3/(h m2)"], 1.0 / 3600.0), u("cfm/ft2", &["scfm/ft2", "cfm/sf"], CFM / FT2),
    ]
    /// Volume flow of water.
    WaterFlow "water flow" si="L/s" ip="gpm" key="m3_per_s" [
        u("m3/s", &["m\u{b3}/s"], 1.0), u("L/s", &["l/s"], 1e-3), u("L/min", &[], 1e-3 / 60.0),
        u("m3/h", &["m\u{b3}/h"], 1.0 / 3600.0), u("gpm", &["GPM"], GALLON_M3 / 60.0),
    ]
    /// Mass flow.
    MassFlow "mass flow" si="kg/s" ip="lb/h" key="kg_per_s" [
        u("kg/s", &[], 1.0), u("kg/h", &[], 1.0 / 3600.0), u("g/h", &[], 1e-3 / 3600.0), u("g/s", &[], 1e-3),
        u("lb/h", &[], LB_KG / 3600.0),
    ]
    /// Heat or power per area.
    HeatFlux "power per area" si="W/m2" ip="W/ft2" key="w_per_m2" [
        u("W/m2", &["W/m\u{b2}"], 1.0), u("W/ft2", &["W/ft\u{b2}", "W/sf"], 1.0 / FT2),
        u("Btu/h ft2", &["Btu/(h ft2)", "Btu/h/ft2"], BTU_H / FT2),
    ]
    /// Thermal transmittance or film coefficient.
    ThermalTransmittance "thermal transmittance" si="W/m2K" ip="Btu/h ft2 degF" key="w_per_m2_k" [
        u("W/m2K", &["W/m2 K", "W/(m2 K)", "W/m\u{b2}K", "W/(m\u{b2}K)"], 1.0),
        u("Btu/h ft2 degF", &["Btu/(h ft2 degF)", "Btu/h ft2 F", "Btu/(h ft2 F)", "Btu/hft2F"], BTU_H / FT2 * 1.8),
    ]
    /// Thermal resistance of an area.
    ThermalResistance "thermal resistance" si="m2K/W" ip="h ft2 degF/Btu" key="m2_k_per_w" [
        u("m2K/W", &["m2 K/W", "m\u{b2}K/W"], 1.0),
        u("h ft2 degF/Btu", &["h ft2 F/Btu", "hft2F/Btu", "R"], FT2 / BTU_H / 1.8),
    ]
    /// Thermal conductivity.
    Conductivity "thermal conductivity" si="W/mK" ip="Btu/h ft degF" key="w_per_m_k" [
        u("W/mK", &["W/m K", "W/(m K)"], 1.0), u("Btu/h ft degF", &["Btu/h ft F", "Btu/(h ft F)"], BTU_H / FT_M * 1.8),
        u("Btu in/h ft2 degF", &["Btu in/h ft2 F", "Btu in/(h ft2 F)"], BTU_H * 0.0254 / FT2 * 1.8),
    ]
    /// Density.
    Density "density" si="kg/m3" ip="lb/ft3" key="kg_per_m3" [
        u("kg/m3", &["kg/m\u{b3}"], 1.0), u("lb/ft3", &["lb/ft\u{b3}"], LB_KG / (FT_M * FT_M * FT_M)),
    ]
    /// Specific heat capacity.
    SpecificHeat "specific heat" si="J/kgK" ip="Btu/lb degF" key="j_per_kg_k" [
        u("J/kgK", &["J/kg K", "J/(kg K)"], 1.0), u("kJ/kgK", &["kJ/kg K", "kJ/(kg K)"], 1e3),
        u("Btu/lb degF", &["Btu/lb F", "Btu/(lb F)"], 4186.8),
    ]
    /// Heat flow per temperature difference.
    Conductance "thermal conductance" si="W/K" ip="Btu/h degF" key="w_per_k" [
        u("W/K", &[], 1.0), u("kW/K", &[], 1e3), u("Btu/h degF", &["Btu/h F", "Btu/(h degF)", "Btu/hF"], BTU_H * 1.8),
    ]
    /// Plane angle.
    Angle "angle" si="deg" ip="deg" key="deg" [u("deg", &["\u{b0}", "degrees"], 1.0), u("rad", &[], 180.0 / std::f64::consts::PI)]
    /// Time.
    Time "time" si="h" ip="h" key="s" [
        u("s", &["sec"], 1.0), u("min", &[], 60.0), u("h", &["hr", "hours"], 3600.0), u("day", &["d", "days"], 86_400.0),
        u("year", &["years", "yr"], 31_536_000.0),
    ]
    /// Room volumes of air per hour.
    AirChangesPerHour "air changes per hour" si="1/h" ip="1/h" key="per_h" [u("1/h", &["ach", "ACH", "per h"], 1.0)]
    /// Fan or pump power per volume flow.
    SpecificFanPower "power per air flow" si="W/(L/s)" ip="W/cfm" key="w_per_m3_per_s" [
        u("W/(m3/s)", &[], 1.0), u("kW/(m3/s)", &["kW per m3/s", "W/(L/s)"], 1e3), u("W/cfm", &[], 1.0 / CFM),
    ]
    /// Price of energy in the project's currency.
    EnergyPrice "energy price" si="per kWh" ip="per kWh" key="per_j" [
        u("per J", &[], 1.0), u("per kWh", &["/kWh", "$/kWh", "USD/kWh", "EUR/kWh"], 1.0 / 3.6e6),
        u("per MWh", &["/MWh", "$/MWh"], 1.0 / 3.6e9), u("per MJ", &["/MJ"], 1e-6),
        u("per therm", &["/therm", "$/therm", "USD/therm"], 1.0 / (BTU_J * 1e5)),
    ]
    /// Price of air-handling capacity in the project's currency.
    AirFlowPrice "price per air flow" si="per L/s" ip="per cfm" key="per_m3_per_s" [
        u("per m3/s", &[], 1.0), u("per L/s", &["/(L/s)"], 1e3), u("per m3/h", &[], 3600.0),
        u("per cfm", &["/cfm", "$/cfm", "USD/cfm"], 1.0 / CFM),
    ]
    /// Price of cooling or heating capacity in the project's currency.
    CapacityPrice "price per capacity" si="per kW" ip="per ton" key="per_w" [
        u("per W", &["/W"], 1.0), u("per kW", &["/kW", "$/kW", "EUR/kW"], 1e-3),
        u("per ton", &["/ton", "$/ton", "USD/ton"], 1.0 / (BTU_H * 12e3)),
    ]
    /// Price of water in the project's currency.
    VolumePrice "price per volume" si="per m3" ip="per 1000 gal" key="per_m3" [
        u("per m3", &["/m3", "per m\u{b3}"], 1.0), u("per 1000 gal", &["/1000 gal", "per kgal"], 1.0 / (1000.0 * GALLON_M3)),
        u("per gal", &["/gal"], 1.0 / GALLON_M3),
    ]
    /// Price per area in the project's currency.
    AreaPrice "price per area" si="per m2" ip="per ft2" key="per_m2" [
        u("per m2", &["/m2", "per m\u{b2}"], 1.0), u("per ft2", &["/ft2", "per sf"], 1.0 / FT2),
    ]
    /// Mass emitted per energy used.
    EmissionFactor "emissions per energy" si="kg/kWh" ip="lb/kWh" key="kg_per_j" [
        u("kg/J", &[], 1.0), u("kg/kWh", &[], 1.0 / 3.6e6), u("g/kWh", &["kg/MWh"], 1e-3 / 3.6e6),
        u("lb/kWh", &[], LB_KG / 3.6e6), u("lb/MWh", &[], LB_KG / 3.6e9), u("kg/therm", &[], 1.0 / (BTU_J * 1e5)),
        u("lb/therm", &[], LB_KG / (BTU_J * 1e5)),
    ]
    /// Pressure lost per length of pipe or duct.
    PressureGradient "pressure per length" si="Pa/m" ip="in wg/100 ft" key="pa_per_m" [
        u("Pa/m", &[], 1.0), u("kPa/m", &[], 1e3),
        u("in wg/100 ft", &["in wg per 100 ft", "inwg/100ft"], IN_WG / (100.0 * FT_M)),
        u("ft wg/100 ft", &["ft wg per 100 ft", "ft/100 ft", "ft/100ft"], 12.0 * IN_WG / (100.0 * FT_M)),
    ]
    /// People per floor area.
    PeopleDensity "people per area" si="person/m2" ip="person/1000 ft2" key="per_m2" [
        u("person/m2", &["people/m2", "person/m\u{b2}"], 1.0), u("person/100 m2", &["people/100 m2"], 0.01),
        u("person/1000 ft2", &["people/1000 ft2", "person/1000 ft\u{b2}"], 1.0 / (1000.0 * FT2)),
    ]
}

impl QuantityKind {
    /// The unit with this symbol, found while compiling: a conversion costs a multiplication, not a search.
    pub(crate) const fn declared_unit(self, symbol: &str) -> Unit {
        let units = self.units();
        let mut i = 0;
        while i < units.len() {
            if same_text(units[i].symbol, symbol) {
                return units[i];
            }
            i += 1;
        }
        panic!("a unit that is not in the table")
    }

    /// The unit with this exact symbol or alias.
    pub fn unit(self, text: &str) -> Option<&'static Unit> {
        let t = text.trim();
        self.units().iter().find(|x| x.symbol == t || x.aliases.contains(&t))
    }

    /// The symbols that may be written, for a message.
    pub fn accepted(self) -> String {
        self.units().iter().map(|x| x.symbol).collect::<Vec<_>>().join(", ")
    }
}

const fn same_text(a: &str, b: &str) -> bool {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    if a.len() != b.len() {
        return false;
    }
    let mut i = 0;
    while i < a.len() {
        if a[i] != b[i] {
            return false;
        }
        i += 1;
    }
    true
}
