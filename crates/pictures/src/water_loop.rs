//! The water loops with their flows and temperatures.

use crate::axes::{Key, heading, heading_height, legend};
use crate::canvas::{
    AXIS, Align, Area, Canvas, Dash, Fill, HEADING, LABEL, Options, Pen, Picture, Point, STRONG, TICK,
};
use crate::error::{PictureError, finite, within};
use crate::ink::Ink;
use crate::show::{Shown, largest};
use drycoil_units::QuantityKind;
use std::fmt::Write as _;

/// How drying coil and terminals are joined to cold water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WaterArrangement {
    /// One cold plant; the terminals' supply is blended from cold water and their own return.
    SingleColdLoop,
    /// A cold plant for drying and a warm plant for the terminals.
    SeparatePlants,
    /// The drying coil's return supplies the terminals.
    ReturnReuse,
}

impl WaterArrangement {
    const fn words(self) -> &'static str {
        match self {
            Self::SingleColdLoop => "single cold loop",
            Self::SeparatePlants => "separate plants",
            Self::ReturnReuse => "return reuse",
        }
    }
}

/// A plant or a load: what flows through it and how warm it enters and leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterBranch {
    /// Flow, m3/s.
    pub flow_m3_per_s: f64,
    /// Temperature on the cold side: leaving a plant, entering a load, degC.
    pub supply_c: f64,
    /// Temperature on the warm side, degC.
    pub return_c: f64,
    /// Heat, W.
    pub load_w: f64,
}

/// A diagram of the water loops.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterLoop {
    /// Heading.
    pub title: String,
    /// The arrangement.
    pub arrangement: WaterArrangement,
    /// The plant at the cold temperature.
    pub cold_plant: WaterBranch,
    /// The plant at the terminals' temperature; with separate plants only.
    pub warm_plant: Option<WaterBranch>,
    /// Drying coil of the primary-air unit.
    pub drying: WaterBranch,
    /// All terminals.
    pub terminals: WaterBranch,
    /// Drying return that supplies the terminals, m3/s.
    pub reused_m3_per_s: f64,
    /// Cold water blended into the terminals' supply, m3/s.
    pub make_up_m3_per_s: f64,
    /// Terminals' own return blended into their supply, m3/s.
    pub recirculated_m3_per_s: f64,
}

const WIDTH: f64 = 720.0;
/// Flows may differ by as much where they meet: density is taken at one temperature by some and at each by others.
const BALANCE: f64 = 0.01;

/// Share of the largest flow below which a pipe stands: rounding of flows that cancel.
const STANDING: f64 = 1e-6;
const LINE: f64 = 14.0;

const COLD: Pen = Pen::new(Ink::Blue, 3.2);
const MIDDLE: Pen = Pen::new(Ink::Teal, 3.2).dash(Dash::Long);
const RETURN: Pen = Pen::new(Ink::Orange, 2.2).dash(Dash::Dashed);

impl WaterLoop {
    /// Draws the diagram.
    ///
    /// # Errors
    /// A number that is not finite, a negative flow or load, flows that do not add up where they meet (by more than
    /// 1 %), a warm plant with another arrangement than separate plants or none with it.
    ///
    /// ```
    /// use drycoil_pictures::{Options, WaterArrangement, WaterBranch, WaterLoop};
    /// use drycoil_units::UnitSystem;
    /// let branch = |flow_m3_per_s, supply_c, return_c, load_w| WaterBranch {
    ///     flow_m3_per_s,
    ///     supply_c,
    ///     return_c,
    ///     load_w,
    /// };
    /// let mut water = WaterLoop {
    ///     title: "Water at design".into(),
    ///     arrangement: WaterArrangement::SeparatePlants,
    ///     cold_plant: branch(0.0065, 5.5, 12.8, 200e3),
    ///     warm_plant: Some(branch(0.009, 12.8, 16.0, 120e3)),
    ///     drying: branch(0.0065, 5.5, 12.8, 200e3),
    ///     terminals: branch(0.009, 12.8, 16.0, 120e3),
    ///     reused_m3_per_s: 0.0,
    ///     make_up_m3_per_s: 0.0,
    ///     recirculated_m3_per_s: 0.0,
    /// };
    /// assert!(water.draw(&Options::new(UnitSystem::Si, "water"))?.svg().contains("warm plant"));
    /// water.terminals.flow_m3_per_s = 0.02;
    /// assert!(water.draw(&Options::new(UnitSystem::Si, "water")).is_err());
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        self.check()?;
        let say = Say::new(self, options);
        let top = heading_height(&self.title, WIDTH);
        let height = top + 398.0;
        let mut canvas = Canvas::new(options, WIDTH, height)?;
        heading(&mut canvas, &self.title)?;
        canvas.text((12.0, top + 12.0), Align::Left, self.arrangement.words(), AXIS)?;
        if self.arrangement == WaterArrangement::SeparatePlants {
            self.separate(&mut canvas, &say, top + 34.0)?;
        } else {
            self.blended(&mut canvas, &say, top + 34.0)?;
        }
        let entries = [
            (Key::Line(COLD), "cold supply".to_owned()),
            (Key::Line(MIDDLE), "water for the terminals".to_owned()),
            (Key::Line(RETURN), "return".to_owned()),
        ];
        legend(&mut canvas, 12.0, height - 26.0, WIDTH - 24.0, &entries)?;
        let description = self.description(&say);
        canvas.finish(&self.title, &description)
    }

    fn check(&self) -> Result<(), PictureError> {
        let mut branches = vec![self.cold_plant, self.drying, self.terminals];
        branches.extend(self.warm_plant);
        for b in branches {
            within("water flow in m3/s", b.flow_m3_per_s, 0.0, 1e4)?;
            within("load in W", b.load_w, 0.0, 1e12)?;
            finite("water temperature in degC", b.supply_c)?;
            finite("water temperature in degC", b.return_c)?;
        }
        for flow in [self.reused_m3_per_s, self.make_up_m3_per_s, self.recirculated_m3_per_s] {
            within("water flow in m3/s", flow, 0.0, 1e4)?;
        }
        let meet = |node, inflow: f64, outflow: f64| {
            if (inflow - outflow).abs() <= BALANCE * inflow.max(outflow) {
                Ok(())
            } else {
                Err(PictureError::Unbalanced { node, inflow_m3_per_s: inflow, outflow_m3_per_s: outflow })
            }
        };
        let (cold, drying, terminals) =
            (self.cold_plant.flow_m3_per_s, self.drying.flow_m3_per_s, self.terminals.flow_m3_per_s);
        match (self.arrangement, self.warm_plant) {
            (WaterArrangement::SeparatePlants, None) => {
                Err(PictureError::Part { what: "separate plants need a warm plant" })
            }
            (WaterArrangement::SeparatePlants, Some(warm)) => {
                meet("the drying coil", cold, drying)?;
                meet("the terminals", warm.flow_m3_per_s, terminals)
            }
            (_, Some(_)) => Err(PictureError::Part { what: "only separate plants have a warm plant" }),
            (arrangement, None) => {
                if arrangement == WaterArrangement::SingleColdLoop && self.reused_m3_per_s > 0.0 {
                    return Err(PictureError::Part { what: "a single cold loop reuses no return" });
                }
                within("reused water in m3/s", self.reused_m3_per_s, 0.0, drying * (1.0 + BALANCE))?;
                meet("the cold plant", cold, drying + self.make_up_m3_per_s)?;
                meet(
                    "the blending valve",
                    self.reused_m3_per_s + self.make_up_m3_per_s + self.recirculated_m3_per_s,
                    terminals,
                )
            }
        }
    }

    /// Two loops of their own, one above the other.
    fn separate(&self, canvas: &mut Canvas, say: &Say, top: f64) -> Result<(), PictureError> {
        let warm = self.warm_plant.unwrap_or(self.cold_plant);
        for (row, plant_name, plant, load_name, load, pen) in [
            (0.0, "cold plant", self.cold_plant, "drying coil", self.drying, COLD),
            (1.0, "warm plant", warm, "terminals", self.terminals, MIDDLE),
        ] {
            let y = top + 34.0 + row * 170.0;
            let (supply, back) = (y + 14.0, y + 76.0);
            canvas_box(
                canvas,
                Area { left: 24.0, top: y, right: 184.0, bottom: y + 90.0 },
                plant_name,
                &say.load(plant.load_w),
            )?;
            canvas_box(
                canvas,
                Area { left: 536.0, top: y, right: 696.0, bottom: y + 90.0 },
                load_name,
                &say.load(load.load_w),
            )?;
            pipe(canvas, &[(184.0, supply), (536.0, supply)], pen);
            pipe(canvas, &[(536.0, back), (184.0, back)], RETURN);
            above(canvas, 360.0, supply, &say.pipe(load.flow_m3_per_s, load.supply_c))?;
            below(canvas, 360.0, back, &say.pipe(plant.flow_m3_per_s, plant.return_c))?;
        }
        Ok(())
    }

    /// One plant; a blending valve makes the terminals' water.
    fn blended(&self, canvas: &mut Canvas, say: &Say, top: f64) -> Result<(), PictureError> {
        let reuse = self.arrangement == WaterArrangement::ReturnReuse;
        let supply = top + 44.0;
        let back = supply + 236.0;
        let (plant_right, node, valve_left, valve, valve_right, load) =
            (132.0, 246.0, 394.0, 450.0, 506.0, 632.0);
        let coil = Area { left: node - 68.0, right: node + 68.0, top: supply + 34.0, bottom: supply + 84.0 };
        let outlet = supply + 138.0;
        let terminals =
            Area { left: load - 70.0, right: load + 70.0, top: supply + 92.0, bottom: supply + 144.0 };
        let valve_bottom = supply + 150.0;

        // Pipes first, boxes over their ends.
        pipe(canvas, &[(plant_right, supply), (node, supply), (node, coil.top)], COLD);
        self.pipe_if(canvas, self.make_up_m3_per_s, &[(node, supply), (valve_left, supply)], COLD);
        pipe(canvas, &[(valve_right, supply), (load, supply), (load, terminals.top)], MIDDLE);
        let to_plant = self.terminals.flow_m3_per_s - self.recirculated_m3_per_s;
        canvas.polyline(&[(load, terminals.bottom), (load, back), (valve, back)], RETURN);
        let recirculated = &[(valve, back), (valve, valve_bottom)];
        self.pipe_if(canvas, self.recirculated_m3_per_s, recirculated, RETURN);
        self.pipe_if(canvas, to_plant, &[(valve, back), (node, back)], RETURN);
        let surplus = self.drying.flow_m3_per_s - self.reused_m3_per_s;
        if reuse {
            canvas.line((node, coil.bottom), (node, outlet), RETURN);
            self.pipe_if(canvas, self.reused_m3_per_s, &[(node, outlet), (valve_left, outlet)], RETURN);
            self.pipe_if(canvas, surplus, &[(node, outlet), (node, back)], RETURN);
        } else {
            pipe(canvas, &[(node, coil.bottom), (node, back)], RETURN);
        }
        pipe(canvas, &[(node, back), (plant_right, back)], RETURN);

        let plant = Area { left: 12.0, right: plant_right, top: supply - 22.0, bottom: back + 22.0 };
        canvas_box(canvas, plant, "cold plant", &say.load(self.cold_plant.load_w))?;
        canvas_box(canvas, coil, "drying coil", &say.load(self.drying.load_w))?;
        canvas_box(canvas, terminals, "terminals", &say.load(self.terminals.load_w))?;
        let body = Area { left: valve_left, right: valve_right, top: supply - 22.0, bottom: valve_bottom };
        canvas_box(canvas, body, "blending valve", &say.t(self.terminals.supply_c))?;
        for at in [(node, supply), (node, back), (valve, back)] {
            canvas.mark(at, crate::canvas::Mark::Dot, 7.0, Ink::Main);
        }
        if reuse {
            canvas.mark((node, outlet), crate::canvas::Mark::Dot, 7.0, Ink::Main);
        }

        let middle = |a: f64, b: f64| f64::midpoint(a, b);
        above(
            canvas,
            middle(plant_right, node),
            supply,
            &say.pipe(self.cold_plant.flow_m3_per_s, self.cold_plant.supply_c),
        )?;
        above(
            canvas,
            middle(node, valve_left),
            supply,
            &say.pipe(self.make_up_m3_per_s, self.cold_plant.supply_c),
        )?;
        above(
            canvas,
            middle(valve_right, load + 56.0),
            supply,
            &say.pipe(self.terminals.flow_m3_per_s, self.terminals.supply_c),
        )?;
        below(
            canvas,
            middle(valve, load),
            back,
            &say.pipe(self.terminals.flow_m3_per_s, self.terminals.return_c),
        )?;
        below(canvas, middle(node, valve), back, &say.pipe(to_plant, self.terminals.return_c))?;
        below(
            canvas,
            middle(plant_right, node),
            back,
            &say.pipe(self.cold_plant.flow_m3_per_s, self.cold_plant.return_c),
        )?;
        beside(
            canvas,
            valve + 9.0,
            middle(valve_bottom, back),
            &say.pipe(self.recirculated_m3_per_s, self.terminals.return_c),
        )?;
        if reuse {
            above(
                canvas,
                middle(node, valve_left),
                outlet,
                &say.pipe(self.reused_m3_per_s, self.drying.return_c),
            )?;
            beside(canvas, node + 9.0, middle(outlet, back), &say.pipe(surplus, self.drying.return_c))?;
        } else {
            beside(
                canvas,
                node + 9.0,
                middle(coil.bottom, back),
                &say.pipe(self.drying.flow_m3_per_s, self.drying.return_c),
            )?;
        }
        Ok(())
    }

    /// A pipe without flow is drawn thin and dotted, without an arrow.
    fn pipe_if(&self, canvas: &mut Canvas, flow_m3_per_s: f64, points: &[Point], pen: Pen) {
        if flow_m3_per_s > self.cold_plant.flow_m3_per_s.max(self.terminals.flow_m3_per_s) * STANDING {
            pipe(canvas, points, pen);
        } else {
            canvas.polyline(points, Pen::new(Ink::Quiet, 1.0).dash(Dash::Dotted));
        }
    }

    fn description(&self, say: &Say) -> String {
        let branch = |name: &str, b: WaterBranch| {
            format!(
                " {name}: {}, {} to {}, {}.",
                say.flow(b.flow_m3_per_s),
                say.t(b.supply_c),
                say.t(b.return_c),
                say.load(b.load_w)
            )
        };
        let mut text = format!("Water loops with {}.", self.arrangement.words());
        text.push_str(&branch("Cold plant", self.cold_plant));
        if let Some(warm) = self.warm_plant {
            text.push_str(&branch("Warm plant", warm));
        }
        text.push_str(&branch("Drying coil", self.drying));
        text.push_str(&branch("Terminals", self.terminals));
        if self.warm_plant.is_none() {
            let _ = write!(
                text,
                " Into the blending valve flow {} of drying return, {} of cold make-up and {} of the terminals' own \
                 return.",
                say.flow(self.reused_m3_per_s),
                say.flow(self.make_up_m3_per_s),
                say.flow(self.recirculated_m3_per_s)
            );
        }
        text
    }
}

/// Numbers in the units of the picture.
struct Say {
    /// Flow below which a pipe stands, m3/s.
    least: f64,
    flow: Shown,
    decimals: usize,
    temperature: Shown,
    power: Shown,
}

impl Say {
    fn new(water: &WaterLoop, options: &Options) -> Self {
        let flow = Shown::of(QuantityKind::WaterFlow, options.system);
        let largest_flow = largest([water.cold_plant.flow_m3_per_s, water.terminals.flow_m3_per_s]);
        let most = flow.value(largest_flow);
        Self {
            least: largest_flow * STANDING,
            decimals: if most < 1.0 {
                3
            } else if most < 10.0 {
                2
            } else {
                usize::from(most < 1000.0)
            },
            flow,
            temperature: Shown::of(QuantityKind::Temperature, options.system),
            power: Shown::cooling(
                options.system,
                largest([water.cold_plant.load_w, water.drying.load_w, water.terminals.load_w]),
            ),
        }
    }

    fn flow(&self, si: f64) -> String {
        self.flow.text_with(si, self.decimals)
    }

    /// What is written at a pipe: water that stands has no temperature to state.
    fn pipe(&self, m3_per_s: f64, c: f64) -> Vec<String> {
        if m3_per_s > self.least { vec![self.flow(m3_per_s), self.t(c)] } else { vec!["no flow".to_owned()] }
    }

    fn t(&self, c: f64) -> String {
        self.temperature.text(c)
    }

    fn load(&self, w: f64) -> String {
        self.power.text(w)
    }
}

fn pipe(canvas: &mut Canvas, points: &[Point], pen: Pen) {
    canvas.polyline(points, pen);
    let (from, end) = (points[points.len() - 2], points[points.len() - 1]);
    // The tip stops short of the dot where pipes meet.
    let length = (end.0 - from.0).hypot(end.1 - from.1).max(1e-9);
    let back = |a: f64, b: f64| b - (b - a) / length * 3.5;
    canvas.arrow_head(from, (back(from.0, end.0), back(from.1, end.1)), 11.0, pen.ink);
}

/// A box with a name and a number in its middle.
fn canvas_box(canvas: &mut Canvas, area: Area, name: &str, number: &str) -> Result<(), PictureError> {
    canvas.rounded(area, Fill::Ink(Ink::Field), Some(Pen::new(Ink::Main, 1.4)));
    let (x, y) = (f64::midpoint(area.left, area.right), f64::midpoint(area.top, area.bottom));
    let plain = crate::canvas::Type { halo: false, ..STRONG };
    canvas.text((x, y - 3.0), Align::Middle, name, plain)?;
    canvas.text((x, y + 13.0), Align::Middle, number, AXIS)?;
    debug_assert!(plain.width(name) < area.width() && HEADING.size > TICK.size);
    Ok(())
}

/// Flow and temperature above a pipe.
fn above(canvas: &mut Canvas, x: f64, y: f64, lines: &[String]) -> Result<(), PictureError> {
    write(canvas, (x, y - 8.0 - LINE * (lines.len() as f64 - 1.0)), Align::Middle, lines)
}

/// Flow and temperature below a pipe.
fn below(canvas: &mut Canvas, x: f64, y: f64, lines: &[String]) -> Result<(), PictureError> {
    write(canvas, (x, y + 17.0), Align::Middle, lines)
}

/// Flow and temperature to the right of an upright pipe.
fn beside(canvas: &mut Canvas, x: f64, y: f64, lines: &[String]) -> Result<(), PictureError> {
    write(canvas, (x, y - 2.0), Align::Left, lines)
}

fn write(canvas: &mut Canvas, at: Point, align: Align, lines: &[String]) -> Result<(), PictureError> {
    for (i, line) in lines.iter().enumerate() {
        canvas.text((at.0, at.1 + LINE * i as f64), align, line, LABEL)?;
    }
    Ok(())
}
