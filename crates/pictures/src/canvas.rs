//! What pictures are drawn on: shapes, measured text, and a record of where each text stands.

use crate::error::PictureError;
use crate::hatch;
use crate::ink::{Appearance, Ink};
use crate::text::{ASCENT, DESCENT, Weight, checked, width};
use drycoil_units::UnitSystem;
use std::collections::BTreeSet;
use std::fmt;
use std::fmt::Write as _;
use svg::Node;
use svg::node::Text;
use svg::node::element::Element;

/// How a picture is drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// Unit system of axes and numbers.
    pub system: UnitSystem,
    /// Light or dark paper.
    pub appearance: Appearance,
    /// Name of the picture, unlike that of any other in the same document: a letter and then letters, digits, `-`
    /// and `_`.
    pub id: String,
    /// Width of the carpet, the months, the load duration and the margin strip; other pictures have one of their own.
    pub width: PictureWidth,
}

/// How wide a picture is. The type keeps its size, so a narrow picture reads well where it is printed small.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureWidth {
    /// 720 units, the width of a page.
    Usual,
    /// 520 units, for two beside each other.
    Narrow,
}

impl PictureWidth {
    /// The width in units of the view box.
    pub(crate) const fn units(self) -> f64 {
        match self {
            Self::Usual => 720.0,
            Self::Narrow => 520.0,
        }
    }
}

impl Options {
    /// Options of a picture on white paper.
    pub fn new(system: UnitSystem, id: impl Into<String>) -> Self {
        Self { system, appearance: Appearance::Light, id: id.into(), width: PictureWidth::Usual }
    }

    /// The same with another paper.
    #[must_use]
    pub fn appearance(mut self, appearance: Appearance) -> Self {
        self.appearance = appearance;
        self
    }

    /// The same with another width.
    #[must_use]
    pub fn width(mut self, width: PictureWidth) -> Self {
        self.width = width;
        self
    }
}

/// A text of a picture and the box it fills, in units of the view box.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// The text.
    pub text: String,
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Bottom edge.
    pub bottom: f64,
}

impl Label {
    pub(crate) fn area(&self) -> Area {
        Area { left: self.left, top: self.top, right: self.right, bottom: self.bottom }
    }
}

/// A field of a picture with axes, and what they stand for: for reading numbers off a place of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plot {
    /// Left edge, in units of the view box.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Bottom edge.
    pub bottom: f64,
    /// Values at the left and at the right edge, SI.
    pub x: [f64; 2],
    /// Values at the bottom and at the top edge, SI.
    pub y: [f64; 2],
}

/// A part of a picture that stands for something by name.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Name, as it was given to the picture.
    pub name: String,
    /// Left edge, in units of the view box.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Bottom edge.
    pub bottom: f64,
}

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    pub(crate) svg: String,
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) title: String,
    pub(crate) description: String,
    pub(crate) labels: Vec<Label>,
    pub(crate) plots: Vec<Plot>,
    pub(crate) spots: Vec<Spot>,
}

impl Picture {
    /// The picture as SVG text, ready to stand in an HTML document or, as it is, in a file of its own.
    pub fn svg(&self) -> &str {
        &self.svg
    }

    /// Width of the view box; 96 units are an inch.
    pub fn width(&self) -> f64 {
        self.width
    }

    /// Height of the view box.
    pub fn height(&self) -> f64 {
        self.height
    }

    /// The title, which is also the heading of the picture.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The text alternative: what the picture shows, with its main numbers.
    pub fn description(&self) -> &str {
        &self.description
    }

    /// Every text with its box.
    pub fn labels(&self) -> &[Label] {
        &self.labels
    }

    /// Fields with axes, in the order in which they are drawn; not every picture names its own.
    pub fn plots(&self) -> &[Plot] {
        &self.plots
    }

    /// Parts that stand for something by name.
    pub fn spots(&self) -> &[Spot] {
        &self.spots
    }

    /// Pairs of texts whose boxes overlap; none in a picture as it should be.
    pub fn overlapping(&self) -> Vec<(&str, &str)> {
        let mut found = Vec::new();
        for (i, a) in self.labels.iter().enumerate() {
            for b in &self.labels[i + 1..] {
                if a.area().overlaps(b.area()) {
                    found.push((a.text.as_str(), b.text.as_str()));
                }
            }
        }
        found
    }

    /// Texts that reach out of the view box; none in a picture as it should be.
    pub fn outside(&self) -> Vec<&str> {
        let all = Area { left: 0.0, top: 0.0, right: self.width, bottom: self.height };
        self.labels.iter().filter(|l| !all.contains(l.area())).map(|l| l.text.as_str()).collect()
    }
}

impl fmt::Display for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.svg)
    }
}

/// A rectangle along the axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

impl Area {
    pub(crate) fn overlaps(self, other: Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    pub(crate) fn contains(self, other: Self) -> bool {
        other.left >= self.left
            && other.right <= self.right
            && other.top >= self.top
            && other.bottom <= self.bottom
    }

    pub(crate) fn grown(self, by: f64) -> Self {
        Self { left: self.left - by, top: self.top - by, right: self.right + by, bottom: self.bottom + by }
    }

    pub(crate) fn width(self) -> f64 {
        self.right - self.left
    }

    pub(crate) fn height(self) -> f64 {
        self.bottom - self.top
    }
}

/// A place in the view box.
pub(crate) type Point = (f64, f64);

/// How a line is broken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Dash {
    Solid,
    Dashed,
    Dotted,
    Alternating,
    Long,
}

impl Dash {
    fn array(self) -> Option<&'static str> {
        match self {
            Self::Solid => None,
            Self::Dashed => Some("6 4"),
            Self::Dotted => Some("1.5 3"),
            Self::Alternating => Some("8 3 1.5 3"),
            Self::Long => Some("12 5"),
        }
    }
}

/// A pen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pen {
    pub(crate) ink: Ink,
    pub(crate) width: f64,
    pub(crate) dash: Dash,
}

impl Pen {
    pub(crate) const fn new(ink: Ink, width: f64) -> Self {
        Self { ink, width, dash: Dash::Solid }
    }

    pub(crate) const fn dash(mut self, dash: Dash) -> Self {
        self.dash = dash;
        self
    }
}

/// What fills a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Fill {
    Ink(Ink),
    /// An ink that lets what is below shine through.
    Wash(Ink, f64),
}

/// What fills a rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Ground {
    Fill(Fill),
    /// Lines of an ink on paper, by the number of the hatching.
    Hatched(Ink, usize),
}

impl From<Fill> for Ground {
    fn from(fill: Fill) -> Self {
        Self::Fill(fill)
    }
}

/// Hatchings that are told apart without colour; the first is none.
pub(crate) const HATCHINGS: usize = 8;

/// Shape of a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Mark {
    Dot,
    Ring,
    Square,
    Diamond,
    Triangle,
    Cross,
}

/// Where a text stands in relation to its place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Align {
    Left,
    Middle,
    Right,
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Type {
    pub(crate) size: f64,
    pub(crate) weight: Weight,
    pub(crate) ink: Ink,
    pub(crate) halo: bool,
}

/// Heading of a picture.
pub(crate) const HEADING: Type = Type { size: 13.0, weight: Weight::Bold, ink: Ink::Main, halo: false };
/// Labels of what is shown.
pub(crate) const LABEL: Type = Type { size: 11.0, weight: Weight::Regular, ink: Ink::Main, halo: true };
/// The label that matters most.
pub(crate) const STRONG: Type = Type { size: 11.0, weight: Weight::Bold, ink: Ink::Main, halo: true };
/// Ticks and axes.
pub(crate) const TICK: Type = Type { size: 10.0, weight: Weight::Regular, ink: Ink::Quiet, halo: false };
/// Titles of axes.
pub(crate) const AXIS: Type = Type { size: 11.0, weight: Weight::Regular, ink: Ink::Main, halo: false };

impl Type {
    pub(crate) fn width(self, text: &str) -> f64 {
        width(text, self.size, self.weight)
    }

    pub(crate) fn height(self) -> f64 {
        (ASCENT + DESCENT) * self.size
    }

    pub(crate) const fn halo(mut self) -> Self {
        self.halo = true;
        self
    }
}

/// A number of a path or place: two decimals, which is a hundredth of the width of a thin line.
pub(crate) fn n(value: f64) -> String {
    let mut text = format!("{value:.2}");
    while text.ends_with('0') {
        text.pop();
    }
    if text.ends_with('.') {
        text.pop();
    }
    if text == "-0" { "0".to_owned() } else { text }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Use {
    Fill,
    Stroke,
}

impl Use {
    const fn word(self) -> &'static str {
        match self {
            Self::Fill => "fill",
            Self::Stroke => "stroke",
        }
    }
}

/// A picture in the making.
pub(crate) struct Canvas {
    pub(crate) width: f64,
    height: f64,
    pub(crate) options: Options,
    shapes: Vec<Element>,
    used: BTreeSet<(Ink, Use)>,
    labels: Vec<Label>,
    plots: Vec<Plot>,
    spots: Vec<Spot>,
}

impl Canvas {
    pub(crate) fn new(options: &Options, width: f64, height: f64) -> Result<Self, PictureError> {
        let id = options.id.as_str();
        let good = id.starts_with(|c: char| c.is_ascii_alphabetic())
            && id.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_'));
        if !good {
            return Err(PictureError::Id { id: id.to_owned() });
        }
        let mut canvas = Self {
            width,
            height,
            options: options.clone(),
            shapes: Vec::new(),
            used: BTreeSet::new(),
            labels: Vec::new(),
            plots: Vec::new(),
            spots: Vec::new(),
        };
        canvas.rect(Area { left: 0.0, top: 0.0, right: width, bottom: height }, Fill::Ink(Ink::Paper), None);
        Ok(canvas)
    }

    /// Says what the edges of a field stand for, in SI: left and right, bottom and top.
    pub(crate) fn plot(&mut self, area: Area, x: [f64; 2], y: [f64; 2]) {
        let Area { left, top, right, bottom } = area;
        self.plots.push(Plot { left, top, right, bottom, x, y });
    }

    /// Says what a part stands for.
    pub(crate) fn spot(&mut self, area: Area, name: &str) {
        let Area { left, top, right, bottom } = area;
        self.spots.push(Spot { name: name.to_owned(), left, top, right, bottom });
    }

    pub(crate) fn system(&self) -> UnitSystem {
        self.options.system
    }

    fn colour(&mut self, shape: &mut Element, parts: &[(Use, Ink)]) {
        let mut classes = Vec::new();
        for &(part, ink) in parts {
            self.used.insert((ink, part));
            shape.assign(part.word(), ink.colour(self.options.appearance));
            classes.push(format!("{}-{}", part.word(), ink.word()));
        }
        if !classes.is_empty() {
            shape.assign("class", classes.join(" "));
        }
    }

    fn shape(&mut self, mut shape: Element, fill: Option<Fill>, pen: Option<Pen>) {
        let mut parts = Vec::new();
        match fill {
            Some(Fill::Ink(ink)) => parts.push((Use::Fill, ink)),
            Some(Fill::Wash(ink, share)) => {
                parts.push((Use::Fill, ink));
                shape.assign("fill-opacity", n(share));
            }
            None => shape.assign("fill", "none"),
        }
        if let Some(pen) = pen {
            parts.push((Use::Stroke, pen.ink));
            shape.assign("stroke-width", n(pen.width));
            if let Some(array) = pen.dash.array() {
                shape.assign("stroke-dasharray", array);
            }
        }
        self.colour(&mut shape, &parts);
        self.shapes.push(shape);
    }

    pub(crate) fn line(&mut self, from: Point, to: Point, pen: Pen) {
        let mut line = Element::new("path");
        line.assign("d", format!("M{} {}L{} {}", n(from.0), n(from.1), n(to.0), n(to.1)));
        self.shape(line, None, Some(pen));
    }

    /// Lines through points; nothing where there are fewer than two.
    pub(crate) fn polyline(&mut self, points: &[Point], pen: Pen) {
        if points.len() > 1 {
            let mut line = Element::new("path");
            line.assign("d", path(points));
            line.assign("stroke-linejoin", "round");
            self.shape(line, None, Some(pen));
        }
    }

    pub(crate) fn polygon(&mut self, points: &[Point], fill: Fill, pen: Option<Pen>) {
        if points.len() > 2 {
            let mut shape = Element::new("path");
            shape.assign("d", format!("{}Z", path(points)));
            self.shape(shape, Some(fill), pen);
        }
    }

    /// A path of rectangles, one element for all, or two when they are hatched.
    pub(crate) fn rects(&mut self, areas: &[Area], ground: impl Into<Ground>, pen: Option<Pen>) {
        if areas.is_empty() {
            return;
        }
        let mut d = String::new();
        for a in areas {
            let _ = write!(
                d,
                "M{} {}h{}v{}h{}z",
                n(a.left),
                n(a.top),
                n(a.width()),
                n(a.height()),
                n(-a.width())
            );
        }
        let mut shape = Element::new("path");
        shape.assign("d", d);
        if pen.is_none() {
            shape.assign("shape-rendering", "crispEdges");
        }
        self.grounded(shape, areas, ground.into(), pen);
    }

    pub(crate) fn rect(&mut self, area: Area, ground: impl Into<Ground>, pen: Option<Pen>) {
        let mut shape = Element::new("rect");
        for (name, value) in
            [("x", area.left), ("y", area.top), ("width", area.width()), ("height", area.height())]
        {
            shape.assign(name, n(value));
        }
        self.grounded(shape, &[area], ground.into(), pen);
    }

    fn grounded(&mut self, shape: Element, areas: &[Area], ground: Ground, pen: Option<Pen>) {
        match ground {
            Ground::Fill(fill) => self.shape(shape, Some(fill), pen),
            Ground::Hatched(ink, number) => {
                self.shape(shape, Some(Fill::Ink(Ink::Paper)), pen);
                let d = hatch::lines(areas, number);
                if !d.is_empty() {
                    let mut lines = Element::new("path");
                    lines.assign("d", d);
                    self.shape(lines, None, Some(Pen::new(ink, hatch::line_width(number))));
                }
            }
        }
    }

    pub(crate) fn rect_outline(&mut self, area: Area, pen: Pen) {
        let Area { left, top, right, bottom } = area;
        self.polyline(&[(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], pen);
    }

    pub(crate) fn rounded(&mut self, area: Area, fill: Fill, pen: Option<Pen>) {
        self.rect(area, fill, pen);
        if let Some(last) = self.shapes.last_mut() {
            last.assign("rx", "5");
        }
    }

    pub(crate) fn mark(&mut self, at: Point, mark: Mark, size: f64, ink: Ink) {
        let (x, y) = at;
        let r = size / 2.0;
        let halo = Some(Pen::new(Ink::Paper, 1.0));
        match mark {
            Mark::Dot | Mark::Ring => {
                let mut shape = Element::new("circle");
                for (name, value) in [("cx", x), ("cy", y), ("r", r)] {
                    shape.assign(name, n(value));
                }
                if mark == Mark::Dot {
                    self.shape(shape, Some(Fill::Ink(ink)), halo);
                } else {
                    self.shape(shape, Some(Fill::Ink(Ink::Paper)), Some(Pen::new(ink, 1.3)));
                }
            }
            Mark::Square => {
                let r = r * 0.9;
                self.rect(
                    Area { left: x - r, top: y - r, right: x + r, bottom: y + r },
                    Fill::Ink(ink),
                    halo,
                );
            }
            Mark::Diamond => {
                let r = r * 1.25;
                self.polygon(&[(x, y - r), (x + r, y), (x, y + r), (x - r, y)], Fill::Ink(ink), halo);
            }
            Mark::Triangle => {
                let r = r * 1.2;
                self.polygon(&[(x, y - r), (x + r, y + 0.8 * r), (x - r, y + 0.8 * r)], Fill::Ink(ink), halo);
            }
            Mark::Cross => {
                let pen = Pen::new(ink, 1.8);
                self.line((x - r, y - r), (x + r, y + r), pen);
                self.line((x - r, y + r), (x + r, y - r), pen);
            }
        }
    }

    /// The head of an arrow whose tip is at `tip` and which comes from `from`.
    pub(crate) fn arrow_head(&mut self, from: Point, tip: Point, size: f64, ink: Ink) {
        let (dx, dy) = (tip.0 - from.0, tip.1 - from.1);
        let length = dx.hypot(dy);
        if length < 1e-9 {
            return;
        }
        let (ux, uy) = (dx / length, dy / length);
        let back = (tip.0 - ux * size, tip.1 - uy * size);
        let half = size * 0.42;
        self.polygon(
            &[tip, (back.0 - uy * half, back.1 + ux * half), (back.0 + uy * half, back.1 - ux * half)],
            Fill::Ink(ink),
            None,
        );
    }

    /// A text on a base line. The box is recorded.
    pub(crate) fn text(
        &mut self,
        at: Point,
        align: Align,
        text: &str,
        set: Type,
    ) -> Result<Area, PictureError> {
        // Series colours have the contrast of lines, not of text.
        debug_assert!(matches!(set.ink, Ink::Main | Ink::Quiet));
        let text = checked(text)?;
        let wide = set.width(text);
        let (anchor, left) = match align {
            Align::Left => ("start", at.0),
            Align::Middle => ("middle", at.0 - wide / 2.0),
            Align::Right => ("end", at.0 - wide),
        };
        let mut element = Element::new("text");
        element.assign("x", n(at.0));
        element.assign("y", n(at.1));
        element.assign("font-size", n(set.size));
        if anchor != "start" {
            element.assign("text-anchor", anchor);
        }
        if set.weight == Weight::Bold {
            element.assign("font-weight", "bold");
        }
        let mut parts = vec![(Use::Fill, set.ink)];
        if set.halo {
            parts.push((Use::Stroke, Ink::Paper));
            element.assign("stroke-width", "3");
            element.assign("stroke-linejoin", "round");
            element.assign("paint-order", "stroke");
        }
        element.append(Text::new(text));
        self.colour(&mut element, &parts);
        self.shapes.push(element);
        let area = Area {
            left,
            top: at.1 - ASCENT * set.size,
            right: left + wide,
            bottom: at.1 + DESCENT * set.size,
        };
        self.labels.push(Label {
            text: text.to_owned(),
            left: area.left,
            top: area.top,
            right: area.right,
            bottom: area.bottom,
        });
        Ok(area)
    }

    /// A text whose box has its upper left corner at a place.
    pub(crate) fn text_in(
        &mut self,
        left: f64,
        top: f64,
        text: &str,
        set: Type,
    ) -> Result<Area, PictureError> {
        self.text((left, top + ASCENT * set.size), Align::Left, text, set)
    }

    fn style(&self) -> String {
        let mut style = String::new();
        for (ink, part) in &self.used {
            let (word, name) = (part.word(), ink.word());
            let colour = ink.colour(self.options.appearance);
            let paper = self.options.appearance.word();
            let _ = write!(style, ".drycoil-{paper} .{word}-{name}{{{word}:var(--drycoil-{name},{colour})}}");
        }
        style
    }

    /// The finished picture.
    pub(crate) fn finish(self, title: &str, description: &str) -> Result<Picture, PictureError> {
        let (title, description) = (checked(title)?.to_owned(), checked(description)?.to_owned());
        let id = self.options.id.clone();
        let mut root = Element::new("svg");
        root.assign("xmlns", "http://www.w3.org/2000/svg");
        root.assign("viewBox", format!("0 0 {} {}", n(self.width), n(self.height)));
        root.assign("width", n(self.width));
        root.assign("height", n(self.height));
        root.assign("role", "img");
        root.assign("aria-labelledby", format!("{id}-title"));
        root.assign("aria-describedby", format!("{id}-desc"));
        root.assign("class", format!("drycoil-picture drycoil-{}", self.options.appearance.word()));
        root.assign("font-family", "sans-serif");
        for (name, text) in [("title", &title), ("desc", &description)] {
            let mut element = Element::new(name);
            element.assign("id", format!("{id}-{name}"));
            element.append(Text::new(text.as_str()));
            root.append(element);
        }
        let mut style = Element::new("style");
        style.append(Text::new(self.style()));
        root.append(style);
        for shape in self.shapes {
            root.append(shape);
        }
        let mut svg = root.to_string();
        svg.push('\n');
        Ok(Picture {
            svg,
            width: self.width,
            height: self.height,
            title,
            description,
            labels: self.labels,
            plots: self.plots,
            spots: self.spots,
        })
    }
}

fn path(points: &[Point]) -> String {
    let mut d = String::new();
    for (i, (x, y)) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if i == 0 { 'M' } else { 'L' }, n(*x), n(*y));
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_places() {
        assert_eq!(n(1.0), "1");
        assert_eq!(n(-0.001), "0");
        assert_eq!(n(12.345), "12.35");
        assert_eq!(n(100.0), "100");
        assert_eq!(n(0.5), "0.5");
    }

    #[test]
    fn overlaps_and_reaching_out_are_seen() {
        let options = Options::new(UnitSystem::Si, "p");
        let mut canvas = Canvas::new(&options, 100.0, 50.0).unwrap();
        canvas.text((10.0, 20.0), Align::Left, "one", LABEL).unwrap();
        canvas.text((20.0, 24.0), Align::Left, "two", LABEL).unwrap();
        canvas.text((95.0, 45.0), Align::Left, "three", LABEL).unwrap();
        let picture = canvas.finish("t", "d").unwrap();
        assert_eq!(picture.overlapping(), [("one", "two")]);
        assert_eq!(picture.outside(), ["three"]);
    }

    #[test]
    fn a_bad_name_is_refused() {
        for id in ["", "1a", "a b", "a\"b", "é"] {
            let options = Options::new(UnitSystem::Si, id);
            assert!(matches!(Canvas::new(&options, 1.0, 1.0), Err(PictureError::Id { .. })), "{id}");
        }
    }
}
