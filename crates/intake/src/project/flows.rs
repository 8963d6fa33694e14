//! From written air flows to standard air flows.

use super::section::Log;
use drycoil_findings::{Finding, Place, registry::project as pf};
use drycoil_units::{AirFlowBasis, StandardAirFlow};
use drycoil_working::{Origin, Sourced};

/// How flows without a basis are meant, and what an actual flow is worth at the site.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flows {
    pub basis: AirFlowBasis,
    /// Standard flow per actual flow; unknown without elevation.
    pub ratio: Option<f64>,
}

impl Flows {
    /// Standard flow. Actual flow is a volume at site pressure and the temperature of standard air, so its dry-air
    /// mass is in proportion to pressure.
    pub fn standard(
        self,
        flow: Sourced<(f64, Option<AirFlowBasis>)>,
        log: &mut Log,
    ) -> Sourced<StandardAirFlow> {
        let (si, basis) = flow.value;
        let ratio = match basis.unwrap_or(self.basis) {
            AirFlowBasis::Standard => 1.0,
            AirFlowBasis::Actual => self.ratio.unwrap_or_else(|| {
                // Once is enough: the remedy mends every flow.
                if !log.findings.iter().any(|f| f.kind.id == pf::NO_ELEVATION.id) {
                    let place = match &flow.origin {
                        Origin::File(place) => place.clone(),
                        _ => Place::file("project.toml"),
                    };
                    log.findings.push(
                        Finding::new(
                            pf::NO_ELEVATION,
                            "an actual air flow cannot be converted: the elevation of the site is not known",
                        )
                        .at(place)
                        .hint("write `elevation` in `[site]`, or the flow in scfm"),
                    );
                }
                1.0
            }),
        };
        Sourced::new(StandardAirFlow::m3_per_s(si * ratio), flow.origin)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_units::{Length, STANDARD_PRESSURE_PA};

    #[test]
    fn val_actual_flow_at_5000_ft() {
        // ASHRAE Handbook Fundamentals 2017 ch. 1 Table 1: 12.228 psia at 5000 ft; so 20 acfm is 16.64 scfm.
        let p = drycoil_air::standard_pressure(Length::feet(5000.0)).unwrap();
        assert!((p.to_psia() - 12.228).abs() < 0.002, "{}", p.to_psia());
        let flows = Flows { basis: AirFlowBasis::Actual, ratio: Some(p.to_pascals() / STANDARD_PRESSURE_PA) };
        let mut log = Log::default();
        let flow = Sourced::default_value((StandardAirFlow::cfm(20.0).to_m3_per_s(), None), "", "");
        let standard = flows.standard(flow, &mut log);
        assert!((standard.to_cfm() - 16.64).abs() < 0.01);
    }
}
