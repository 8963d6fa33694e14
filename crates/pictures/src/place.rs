//! Places for labels, so that none covers another.

use crate::canvas::{Align, Area, Canvas, Pen, Point, Type};
use crate::error::PictureError;
use crate::ink::Ink;
use crate::text::{ASCENT, DESCENT};

/// Knows what is taken.
pub(crate) struct Placer {
    bounds: Area,
    taken: Vec<Area>,
    lines: Vec<(Point, Point)>,
    marks: Vec<Area>,
}

/// Space kept between two labels.
const APART: f64 = 2.0;
/// Space between two lines of a label.
const LEADING: f64 = 0.5;
/// What a line behind a label costs, in units of distance.
const LINE_COST: f64 = 14.0;
/// What a mark behind a label costs.
const MARK_COST: f64 = 10.0;
/// What a line costs that leads across another line.
const CROSSING_COST: f64 = 12.0;
/// From this distance on a thin line leads from the label to its place.
const LEAD: f64 = 9.0;

impl Placer {
    pub(crate) fn new(bounds: Area) -> Self {
        Self { bounds, taken: Vec::new(), lines: Vec::new(), marks: Vec::new() }
    }

    /// Keeps an area free of labels.
    pub(crate) fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Keeps a mark visible.
    pub(crate) fn take_mark(&mut self, at: Point, size: f64) {
        let r = size / 2.0;
        self.take(Area { left: at.0 - r, top: at.1 - r, right: at.0 + r, bottom: at.1 + r });
    }

    /// A mark that labels avoid where they can.
    pub(crate) fn avoid_mark(&mut self, at: Point, size: f64) {
        let r = size / 2.0;
        self.marks.push(Area { left: at.0 - r, top: at.1 - r, right: at.0 + r, bottom: at.1 + r });
    }

    /// Lines that labels avoid where they can.
    pub(crate) fn avoid(&mut self, points: &[Point]) {
        self.lines.extend(points.windows(2).map(|w| (w[0], w[1])));
    }

    fn free(&self, area: Area) -> bool {
        self.bounds.contains(area) && !self.taken.iter().any(|t| t.overlaps(area.grown(APART)))
    }

    fn marks_in(&self, area: Area) -> usize {
        self.marks.iter().filter(|m| m.overlaps(area)).count()
    }

    fn line_cost(&self, area: Area) -> f64 {
        let marks = self.marks_in(area) as f64 * MARK_COST;
        marks + self.lines_in(area) as f64 * LINE_COST
    }

    fn lines_in(&self, area: Area) -> usize {
        self.lines.iter().filter(|(a, b)| crosses(*a, *b, area)).count()
    }

    /// The cheapest free place for a box around a point, nearest first; none when all tried places are taken.
    pub(crate) fn around(&mut self, at: Point, gap: f64, wide: f64, high: f64) -> Option<Area> {
        let mut best: Option<(f64, Area)> = None;
        for extra in [0.0, 5.0, 11.0, 18.0, 26.0, 36.0, 48.0, 62.0, 78.0, 96.0, 118.0, 142.0] {
            // Nothing farther out can be cheaper than its distance.
            if best.is_some_and(|(cost, _)| cost <= extra) {
                break;
            }
            let r = gap + extra;
            for (step, dislike) in
                [(1, 0.0), (15, 0.3), (7, 0.6), (9, 0.9), (0, 1.2), (8, 1.5), (4, 1.8), (12, 2.1)]
                    .into_iter()
                    .chain([
                        (2, 2.4),
                        (6, 2.4),
                        (10, 2.7),
                        (14, 2.7),
                        (3, 3.0),
                        (5, 3.0),
                        (11, 3.0),
                        (13, 3.0),
                    ])
            {
                let angle = f64::from(step) * std::f64::consts::TAU / 16.0;
                let (ux, uy) = (angle.cos(), -angle.sin());
                // The box touches the ray's end with the side or corner that looks at the point.
                let (cx, cy) =
                    (at.0 + ux * r + along(ux) * wide / 2.0, at.1 + uy * r + along(uy) * high / 2.0);
                let area = Area {
                    left: cx - wide / 2.0,
                    top: cy - high / 2.0,
                    right: cx + wide / 2.0,
                    bottom: cy + high / 2.0,
                };
                if !self.free(area) {
                    continue;
                }
                let mut cost = extra + dislike + self.line_cost(area);
                let end = nearest(area, at);
                if distance(end, at) > LEAD {
                    let start = toward(at, end, gap);
                    if self.taken.iter().any(|t| crosses(start, end, *t)) {
                        continue;
                    }
                    cost += self.lines.iter().filter(|(a, b)| segments_cross(*a, *b, start, end)).count()
                        as f64
                        * CROSSING_COST;
                }
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, area));
                }
            }
        }
        let (_, area) = best?;
        self.taken.push(area);
        Some(area)
    }

    /// Writes lines of text near a point, with a thin line to it when they stand apart. False when there is no place.
    pub(crate) fn label(
        &mut self,
        canvas: &mut Canvas,
        at: Point,
        gap: f64,
        lines: &[(String, Type)],
    ) -> Result<bool, PictureError> {
        let wide = lines.iter().map(|(t, set)| set.width(t)).fold(0.0, f64::max);
        let high = lines.iter().map(|(_, set)| set.height() + LEADING).sum::<f64>() - LEADING;
        let Some(area) = self.around(at, gap, wide, high) else { return Ok(false) };
        let end = nearest(area, at);
        if distance(end, at) > LEAD {
            let start = toward(at, end, gap * 0.6);
            canvas.line(start, end, Pen::new(Ink::Quiet, 0.7));
            self.lines.push((start, end));
        }
        // Text of a label to the left of its point ends at it.
        let align = if area.right < at.0 { Align::Right } else { Align::Left };
        let mut top = area.top;
        for (text, set) in lines {
            let x = if align == Align::Right { area.right } else { area.left };
            canvas.text((x, top + ASCENT * set.size), align, text, *set)?;
            top += set.height() + LEADING;
        }
        Ok(true)
    }

    /// Writes a text centred at the first of the free places with the fewest marks and lines behind it. False when all are taken.
    pub(crate) fn at_one_of(
        &mut self,
        canvas: &mut Canvas,
        places: impl IntoIterator<Item = Point>,
        text: &str,
        set: Type,
    ) -> Result<bool, PictureError> {
        let (w, h) = (set.width(text) / 2.0, set.height() / 2.0);
        let best = places
            .into_iter()
            .map(|(x, y)| Area { left: x - w, top: y - h, right: x + w, bottom: y + h })
            .filter(|area| self.free(*area))
            .min_by_key(|area| self.marks_in(*area) + self.lines_in(*area));
        let Some(area) = best else { return Ok(false) };
        self.taken.push(area);
        let base = f64::midpoint(area.top, area.bottom) + (ASCENT - DESCENT) / 2.0 * set.size;
        canvas.text((f64::midpoint(area.left, area.right), base), Align::Middle, text, set)?;
        Ok(true)
    }
}

fn along(u: f64) -> f64 {
    // Near the axes a box is centred on the ray, elsewhere it hangs on its corner.
    if u.abs() < 0.2 { 0.0 } else { u.signum() }
}

fn distance(a: Point, b: Point) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

fn toward(from: Point, to: Point, by: f64) -> Point {
    let d = distance(from, to);
    if d <= by { to } else { (from.0 + (to.0 - from.0) * by / d, from.1 + (to.1 - from.1) * by / d) }
}

/// The point of an area that is nearest to a point, off the corners along a long side.
fn nearest(area: Area, at: Point) -> Point {
    (at.0.clamp(area.left, area.right), at.1.clamp(area.top, area.bottom))
}

/// Whether a segment touches the inside of an area (the clipping of Liang and Barsky).
pub(crate) fn crosses(a: Point, b: Point, area: Area) -> bool {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (p, q) in
        [(-dx, a.0 - area.left), (dx, area.right - a.0), (-dy, a.1 - area.top), (dy, area.bottom - a.1)]
    {
        if p == 0.0 {
            if q <= 0.0 {
                return false;
            }
        } else if p < 0.0 {
            from = from.max(q / p);
        } else {
            to = to.min(q / p);
        }
    }
    from < to
}

fn segments_cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: Area = Area { left: 0.0, top: 0.0, right: 400.0, bottom: 300.0 };

    #[test]
    fn phys_places_never_overlap_and_stay_inside() {
        let mut placer = Placer::new(ALL);
        let mut placed: Vec<Area> = Vec::new();
        // A cloud of close points, more than there is room for.
        for i in 0..120_u32 {
            let at = (200.0 + f64::from(i % 11) * 4.0, 150.0 + f64::from(i % 7) * 3.0);
            if let Some(area) = placer.around(at, 4.0, 48.0, 12.0) {
                assert!(ALL.contains(area));
                assert!(placed.iter().all(|p| !p.overlaps(area)), "{i}");
                placed.push(area);
            }
        }
        assert!(placed.len() >= 8, "{}", placed.len());
        assert!(placed.len() < 120, "some find no place, and are told so");
    }

    #[test]
    fn a_line_is_avoided_where_there_is_room() {
        let mut placer = Placer::new(ALL);
        let line = [(100.0, 140.0), (300.0, 140.0)];
        placer.avoid(&line);
        let area = placer.around((200.0, 150.0), 4.0, 60.0, 12.0).unwrap();
        assert!(!crosses(line[0], line[1], area));
    }

    #[test]
    fn segments_and_areas() {
        let area = Area { left: 10.0, top: 10.0, right: 20.0, bottom: 20.0 };
        assert!(crosses((0.0, 15.0), (30.0, 15.0), area));
        assert!(crosses((12.0, 12.0), (13.0, 13.0), area));
        assert!(!crosses((0.0, 5.0), (30.0, 5.0), area));
        assert!(!crosses((0.0, 15.0), (9.0, 15.0), area));
        assert!(segments_cross((0.0, 0.0), (2.0, 2.0), (0.0, 2.0), (2.0, 0.0)));
        assert!(!segments_cross((0.0, 0.0), (2.0, 2.0), (3.0, 0.0), (3.0, 9.0)));
    }
}
