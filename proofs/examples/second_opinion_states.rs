//! Prints seeded random states with the program's answers as CSV, for comparison with other libraries:
//! `cargo run -p drycoil-proofs --example second_opinion_states -- TOPIC COUNT SEED`.
#![allow(clippy::print_stdout, reason = "printing is what this example is for")]

use drycoil_air::{MoistAir, Property};
use drycoil_exchange::bypass::AirPoint;
use drycoil_exchange::effectiveness::{
    FlowArrangement, effectiveness, log_mean_temperature_difference, transfer_units,
};
use drycoil_exchange::fin::AnnularFin;
use drycoil_exchange::sensible_coil::{CoilCircuiting, SensibleCoil, Tubes};
use drycoil_exchange::tower::merkel_integral;
use drycoil_exchange::wet_coil::{DryingCoil, DryingEntering};
use drycoil_units::{
    Conductance, Conductivity, Fraction, HumidityRatio, Length, MassFlow, Pressure, Quantity, Temperature,
    ThermalTransmittance, WaterFlow,
};
use drycoil_water::friction::{Conduit, Fluid, TransitionalFlow, friction_factor};
use drycoil_water::liquid::WaterProperties;
use std::error::Error;

/// `SplitMix64`, as numbers in 0..1.
struct Random(u64);

impl Random {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let share = ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0;
        low + share * (high - low)
    }

    /// Evenly in the logarithm.
    fn scale(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [topic, count, seed] = arguments.as_slice() else {
        return Err("TOPIC COUNT SEED".into());
    };
    let count: usize = count.parse()?;
    let mut random = Random(seed.parse()?);
    match topic.as_str() {
        "moist_air" => moist_air(count, &mut random),
        "heat_exchange" => heat_exchange(count, &mut random),
        "friction" => friction(count, &mut random),
        "water" => water(count, &mut random),
        "moist_coil" => moist_coil(count, &mut random),
        "tower" => {
            tower(count, &mut random);
            Ok(())
        }
        other => Err(format!("unknown topic `{other}`").into()),
    }
}

fn moist_air(count: usize, random: &mut Random) -> Result<(), Box<dyn Error>> {
    println!(
        "t_c,rh,p_pa,p_ws_pa,w,w_s,h_j_per_kg,v_m3_per_kg,density,dew_point_c,wet_bulb_c,w_from_wet_bulb,w_from_dew_point,\
         wet_bulb_on_ice_c"
    );
    for _ in 0..count {
        let (t, rh) = (random.between(-40.0, 60.0), random.between(0.02, 1.0));
        let p = random.between(65e3, 106e3);
        let pressure = Pressure::pascals(p);
        let dry_bulb = Temperature::celsius(t);
        let air = MoistAir::from_relative_humidity(dry_bulb, Fraction::ratio(rh), pressure)?;
        let (dew_point, wet_bulb) = (air.dew_point()?, air.wet_bulb()?);
        let back = |other| MoistAir::from_pair(Property::DryBulb(dry_bulb), other, pressure);
        println!(
            "{t},{rh},{p},{},{},{},{},{},{},{},{},{},{},{}",
            drycoil_air::raw::saturation_pressure_pa(t),
            air.humidity_ratio().si(),
            drycoil_air::raw::saturation_humidity_ratio(t, p),
            air.enthalpy().si(),
            air.volume_m3_per_kg_dry_air(),
            air.mixture_density().si(),
            dew_point.si(),
            wet_bulb.si(),
            back(Property::WetBulb(wet_bulb))?.humidity_ratio().si(),
            back(Property::DewPoint(dew_point))?.humidity_ratio().si(),
            air.wet_bulb_on_ice().map_or(f64::NAN, Quantity::si),
        );
    }
    Ok(())
}

fn heat_exchange(count: usize, random: &mut Random) -> Result<(), Box<dyn Error>> {
    println!(
        "ntu,ratio,counterflow,parallel,both_unmixed,smaller_mixed,larger_mixed,one_shell,ntu_again,dt1,dt2,log_mean,\
         r1,r2,thickness,film,conductivity,fin"
    );
    for _ in 0..count {
        let (ntu, ratio) = (random.scale(0.05, 8.0), random.between(0.02, 1.0));
        let e = |arrangement| effectiveness(arrangement, ntu, ratio);
        let counterflow = e(FlowArrangement::Counterflow)?;
        let again = transfer_units(FlowArrangement::Counterflow, counterflow, ratio)?.ntu;
        let (dt1, dt2) = (random.scale(0.5, 80.0), random.scale(0.5, 80.0));
        let inner = random.between(3e-3, 12e-3);
        let outer = inner * random.between(1.3, 4.0);
        let (thickness, film, conductivity) =
            (random.between(0.08e-3, 0.5e-3), random.between(15.0, 150.0), random.between(40.0, 400.0));
        let fin = AnnularFin {
            inner_radius: Length::metres(inner),
            outer_radius: Length::metres(outer),
            thickness: Length::metres(thickness),
            film: ThermalTransmittance::w_per_m2_k(film),
            conductivity: Conductivity::w_per_m_k(conductivity),
        }
        .efficiency()?;
        println!(
            "{ntu},{ratio},{counterflow},{},{},{},{},{},{again},{dt1},{dt2},{},{inner},{outer},{thickness},{film},\
             {conductivity},{}",
            e(FlowArrangement::Parallel)?,
            e(FlowArrangement::CrossBothUnmixed)?,
            e(FlowArrangement::CrossSmallerMixed)?,
            e(FlowArrangement::CrossLargerMixed)?,
            e(FlowArrangement::OneShellPass)?,
            log_mean_temperature_difference(dt1, dt2)?,
            fin.exact,
        );
    }
    Ok(())
}

fn friction(count: usize, random: &mut Random) -> Result<(), Box<dyn Error>> {
    println!(
        "reynolds,roughness,factor,density,viscosity,diameter,roughness_m,length,fittings,flow,drop_pa,flow_again"
    );
    for _ in 0..count {
        // Some laminar, most turbulent; between the limits the program refuses.
        let reynolds = if random.between(0.0, 1.0) < 0.1 {
            random.scale(10.0, 2300.0)
        } else {
            random.scale(4000.0, 1e8)
        };
        let roughness = if random.between(0.0, 1.0) < 0.1 { 0.0 } else { random.scale(1e-6, 0.05) };
        let f = friction_factor(reynolds, roughness, TransitionalFlow::Refuse)?;
        let (density, viscosity) = (random.between(900.0, 1000.0), random.scale(0.3e-3, 1.5e-3));
        let diameter = random.scale(0.015, 0.6);
        let conduit = Conduit {
            diameter_m: diameter,
            roughness_m: diameter * random.scale(1e-6, 0.02),
            length_m: random.between(1.0, 300.0),
            fittings_k: random.between(0.0, 20.0),
        };
        let velocity = random.between(0.5, 4.0);
        let flow = velocity * std::f64::consts::PI / 4.0 * diameter * diameter;
        let fluid = Fluid::new(density, viscosity)?;
        let drop = conduit.drop(fluid, flow)?.total_pa;
        println!(
            "{reynolds},{roughness},{},{density},{viscosity},{diameter},{},{},{},{flow},{drop},{}",
            f.darcy,
            conduit.roughness_m,
            conduit.length_m,
            conduit.fittings_k,
            conduit.flow_for_drop(fluid, drop)?.0,
        );
    }
    Ok(())
}

fn water(count: usize, random: &mut Random) -> Result<(), Box<dyn Error>> {
    println!("t_c,density,specific_heat,viscosity,conductivity");
    for _ in 0..count {
        let t = random.between(0.5, 99.0);
        let w = WaterProperties::at(Temperature::celsius(t))?;
        println!(
            "{t},{},{},{},{}",
            w.density.si(),
            w.specific_heat.si(),
            w.viscosity_pa_s,
            w.conductivity.si()
        );
    }
    Ok(())
}

/// Drying coils: entering states, resistances and what leaves. Rows that the program refuses are left out and counted
/// in the last line, which is a comment.
fn moist_coil(count: usize, random: &mut Random) -> Result<(), Box<dyn Error>> {
    println!(
        "t_c,w,p_pa,air_kg_per_s,water_c,c_water,outer,inner,duty,leaving_t_c,leaving_w,leaving_water_c"
    );
    let mut refused = 0;
    for _ in 0..count {
        let p = random.between(80e3, 103e3);
        let t = random.between(22.0, 38.0);
        let w = drycoil_air::raw::humidity_ratio_from_relative_humidity(t, random.between(0.3, 0.95), p);
        let pressure = Pressure::pascals(p);
        let air = AirPoint::new(Temperature::celsius(t), HumidityRatio::kg_per_kg(w), pressure)?;
        let flow = random.scale(0.5, 5.0);
        let water_flow = flow * random.between(0.6e-3, 2.5e-3);
        let entering = DryingEntering {
            air,
            pressure,
            dry_air: MassFlow::from_si(flow),
            water: Temperature::celsius(random.between(4.0, 9.0)),
            water_flow: WaterFlow::from_si(water_flow),
        };
        let size = flow * random.between(1.0e3, 6.0e3);
        let coil = DryingCoil {
            coil: SensibleCoil {
                circuiting: CoilCircuiting::Counterflow,
                tubes: Tubes {
                    inner_diameter: Length::metres(0.0148),
                    parallel_circuits: (water_flow / 1.7e-4).ceil() as u32,
                },
                reference_air: MassFlow::from_si(flow),
                reference_water: WaterFlow::from_si(water_flow),
                reference_water_temperature: Temperature::celsius(8.0),
                air_side: Conductance::from_si(size),
                air_exponent: 0.6,
                metal: Conductance::from_si(size * 12.0),
                water_side: Conductance::from_si(size * 3.0),
            },
        };
        let Ok(r) = coil.solve(&entering) else {
            refused += 1;
            continue;
        };
        let [air_side, metal, water_side] = r.resistance_k_per_w;
        println!(
            "{t},{w},{p},{flow},{},{},{},{},{},{},{},{}",
            entering.water.si(),
            r.water_capacity_w_per_k,
            1.0 / air_side,
            1.0 / (metal + water_side),
            r.duty.si(),
            r.leaving.dry_bulb.si(),
            r.leaving.humidity_ratio.si(),
            r.leaving_water.si(),
        );
    }
    // Refusals are part of the answer: the script has a gate on their number.
    println!("# refused {refused}");
    Ok(())
}

fn tower(count: usize, random: &mut Random) {
    println!("hot_c,cold_c,wet_bulb_c,water_over_air,p_pa,kav_over_l,refused");
    for _ in 0..count {
        let wet_bulb = random.between(2.0, 28.0);
        let cold = wet_bulb + random.between(1.5, 10.0);
        let hot = cold + random.between(1.0, 12.0);
        let (ratio, p) = (random.between(0.5, 2.0), random.between(80e3, 103e3));
        let c = Temperature::celsius;
        match merkel_integral(c(hot), c(cold), c(wet_bulb), ratio, Pressure::pascals(p)) {
            Ok(m) => println!("{hot},{cold},{wet_bulb},{ratio},{p},{},0", m.exact),
            Err(_) => println!("{hot},{cold},{wet_bulb},{ratio},{p},0,1"),
        }
    }
}
