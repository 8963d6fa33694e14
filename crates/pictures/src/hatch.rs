//! Hatching of rectangles as lines. A fill by pattern would be turned into a bitmap by the browser that prints.

use crate::canvas::{Area, Point, n};
use std::fmt::Write as _;

/// Distance of the lines of a hatching.
const STEP: f64 = 6.0;

/// Width of the lines of each hatching, by its number; 0 is none.
pub(crate) const fn line_width(pattern: usize) -> f64 {
    match pattern {
        1 => 2.2,
        2 | 6 => 1.0,
        3 => 1.2,
        4 => 1.6,
        5 => 1.7,
        _ => 0.9,
    }
}

/// The lines of a hatching over some rectangles. They lie on one net, so that neighbours continue each other.
pub(crate) fn lines(areas: &[Area], pattern: usize) -> String {
    let mut d = String::new();
    for area in areas {
        one(area, pattern, &mut d);
    }
    d
}

fn one(area: &Area, pattern: usize, d: &mut String) {
    let wide = line_width(pattern);
    if area.width() <= wide || area.height() <= wide {
        return;
    }
    // Half a line stays within the rectangle.
    let inset = wide / 2.0;
    let area = Area {
        left: area.left + inset,
        top: area.top + inset,
        right: area.right - inset,
        bottom: area.bottom - inset,
    };
    let mut put = |from: Point, to: Point| {
        if let Some((a, b)) = clipped(&area, from, to) {
            let _ = write!(d, "M{} {}L{} {}", n(a.0), n(a.1), n(b.0), n(b.1));
        }
    };
    let columns = (area.left / STEP).floor() as i64..=(area.right / STEP).ceil() as i64;
    let rows = (area.top / STEP).floor() as i64..=(area.bottom / STEP).ceil() as i64;
    let across = |y: f64| ((area.left, y), (area.right, y));
    let down = |x: f64| ((x, area.top), (x, area.bottom));
    match pattern {
        1 => {
            let (low, high) = (area.left + area.top, area.right + area.bottom);
            for k in (low / STEP).floor() as i64..=(high / STEP).ceil() as i64 {
                let sum = k as f64 * STEP;
                put((sum - area.bottom, area.bottom), (sum - area.top, area.top));
            }
        }
        3 => {
            let (low, high) = (area.left - area.bottom, area.right - area.top);
            for k in (low / STEP).floor() as i64..=(high / STEP).ceil() as i64 {
                let difference = k as f64 * STEP;
                put((area.top + difference, area.top), (area.bottom + difference, area.bottom));
            }
        }
        2 => {
            for at in rows.flat_map(|r| [1.5, 4.5].map(|y| r as f64 * STEP + y)) {
                let (a, b) = across(at);
                put(a, b);
            }
        }
        5 => {
            for at in columns.flat_map(|c| [1.5, 4.5].map(|x| c as f64 * STEP + x)) {
                let (a, b) = down(at);
                put(a, b);
            }
        }
        6 => {
            for (a, b) in rows
                .map(|r| across(r as f64 * STEP + 3.0))
                .chain(columns.map(|c| down(c as f64 * STEP + 3.0)))
            {
                put(a, b);
            }
        }
        4 => {
            for r in rows {
                for c in columns.clone() {
                    let (x, y) = (c as f64 * STEP, r as f64 * STEP);
                    put((x + 1.0, y + 1.5), (x + 2.6, y + 1.5));
                    put((x + 4.0, y + 4.5), (x + 5.6, y + 4.5));
                }
            }
        }
        _ => {
            for r in rows {
                for c in columns.clone() {
                    let (x, y) = (c as f64 * STEP + 3.0, r as f64 * STEP + 3.0);
                    put((x, y - 2.0), (x, y + 2.0));
                    put((x - 2.0, y), (x + 2.0, y));
                }
            }
        }
    }
}

/// The part of a line inside a rectangle; none when it passes by or is a point.
fn clipped(area: &Area, from: Point, to: Point) -> Option<(Point, Point)> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (step, room) in [
        (-dx, from.0 - area.left),
        (dx, area.right - from.0),
        (-dy, from.1 - area.top),
        (dy, area.bottom - from.1),
    ] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            enter = enter.max(room / step);
        } else {
            leave = leave.min(room / step);
        }
    }
    let at = |t: f64| (from.0 + t * dx, from.1 + t * dy);
    (leave - enter > 1e-9).then(|| (at(enter), at(leave)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_leaves_its_rectangle() {
        let area = Area { left: 3.2, top: 11.7, right: 40.1, bottom: 22.9 };
        for pattern in 1..8 {
            let d = lines(&[area], pattern);
            let points: Vec<f64> =
                d.split(['M', 'L', ' ']).filter(|t| !t.is_empty()).map(|t| t.parse().unwrap()).collect();
            assert!(points.len() >= 12, "{pattern}: {d}");
            for p in points.chunks(2) {
                assert!(p[0] >= 3.2 && p[0] <= 40.1 && p[1] >= 11.7 && p[1] <= 22.9, "{pattern}: {p:?}");
            }
        }
    }

    #[test]
    fn a_rectangle_thinner_than_a_line_is_empty() {
        assert_eq!(lines(&[Area { left: 0.0, top: 0.0, right: 20.0, bottom: 0.5 }], 5), "");
    }
}
