//! Colours: our own, few, and told apart by lightness as well as by hue.
//!
//! Six series colours keep a distance of at least [`LEAST_DISTANCE`] in CIELAB from each other, for usual sight and for
//! simulated deuteranopia and protanopia, on white and on dark paper; each has a contrast of at least 3 to 1 with its
//! paper, and inks for text at least 4.5 to 1. The tests of this module compute all of that.

use std::fmt::Write as _;

/// Least distance of two series colours in CIELAB (CIE 1976), for every kind of sight tested. Around 2 is just
/// noticeable side by side; our own choice is ten times that, for thin lines apart from each other.
pub const LEAST_DISTANCE: f64 = 20.0;

/// The paper a picture is drawn for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Appearance {
    /// White paper, and print.
    Light,
    /// Dark screen.
    Dark,
}

impl Appearance {
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Dark => "dark",
        }
    }
}

macro_rules! inks {
    ($($(#[$doc:meta])* $name:ident $word:literal $light:literal $dark:literal)*) => {
        /// A role of colour.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub(crate) enum Ink { $($(#[$doc])* $name,)* }

        impl Ink {
            pub(crate) const ALL: &'static [Ink] = &[$(Ink::$name,)*];

            /// Name of the custom property without its prefix.
            pub(crate) const fn word(self) -> &'static str { match self { $(Ink::$name => $word,)* } }

            /// The colour where nothing overrides it.
            pub(crate) const fn colour(self, appearance: Appearance) -> &'static str {
                match (self, appearance) {
                    $((Ink::$name, Appearance::Light) => $light, (Ink::$name, Appearance::Dark) => $dark,)*
                }
            }
        }
    };
}

inks! {
    Paper "paper" "#ffffff" "#14181d"
    /// Text and outlines.
    Main "ink" "#1a1d21" "#e8ecf0"
    /// Text of axes and notes.
    Quiet "quiet" "#56606a" "#a9b3bd"
    /// Lines of a chart's net.
    Net "net" "#d5dade" "#38414a"
    /// Faint lines that still carry a label.
    Faint "faint" "#a7b0b8" "#5d6873"
    /// A field that lies below everything.
    Field "field" "#eef1f4" "#20262d"
    Blue "blue" "#16467d" "#79b4f2"
    Orange "orange" "#c8620a" "#f09a4b"
    Teal "teal" "#2a9d8f" "#5fc4ae"
    Claret "claret" "#5c0f2b" "#bd4a60"
    Violet "violet" "#7a7ff0" "#9457e0"
    Olive "olive" "#574a00" "#f3eebb"
    // Dry margin from large to none, then wet. Lightness falls (on dark paper: rises) without a turn, with the largest
    // jump where the sign changes.
    Dry7 "dry-7" "#f1f6f2" "#1d2a2c"
    Dry6 "dry-6" "#dcebe4" "#21393c"
    Dry5 "dry-5" "#c3ddd7" "#26494e"
    Dry4 "dry-4" "#a8cdcb" "#2c5a61"
    Dry3 "dry-3" "#8bbbc0" "#336c75"
    Dry2 "dry-2" "#70a7b5" "#3b7f8a"
    Dry1 "dry-1" "#5a92aa" "#4592a0"
    Wet1 "wet-1" "#7a1023" "#ffb68a"
    Wet2 "wet-2" "#3a0413" "#ffe9d2"
}

/// Declarations of the custom properties for a page: `--drycoil-ink:#1a1d21;` and so on. A page that sets them on
/// `:root`, or under `prefers-color-scheme`, colours every picture that is part of it.
///
/// ```
/// use drycoil_pictures::{Appearance, custom_properties};
/// assert!(custom_properties(Appearance::Dark).starts_with("--drycoil-paper:#14181d;"));
/// ```
pub fn custom_properties(appearance: Appearance) -> String {
    let mut text = String::new();
    for ink in Ink::ALL {
        let _ = write!(text, "--drycoil-{}:{};", ink.word(), ink.colour(appearance));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    const SERIES: [Ink; 6] = [Ink::Blue, Ink::Orange, Ink::Teal, Ink::Claret, Ink::Violet, Ink::Olive];
    const RAMP: [Ink; 9] =
        [Ink::Dry7, Ink::Dry6, Ink::Dry5, Ink::Dry4, Ink::Dry3, Ink::Dry2, Ink::Dry1, Ink::Wet1, Ink::Wet2];
    const PAPERS: [Appearance; 2] = [Appearance::Light, Appearance::Dark];

    /// Kinds of sight as matrices on linear sRGB: usual, and the full loss of a cone after G. M. Machado, M. M. Oliveira
    /// and L. A. F. Fernandes, "A physiologically-based model for simulation of color vision deficiency", 2009 (from
    /// memory; each row adds up to 1, which the test below checks).
    const SIGHT: [(&str, [[f64; 3]; 3]); 3] = [
        ("usual", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "deuteranopia",
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
        ),
        (
            "protanopia",
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
        ),
    ];

    /// Linear sRGB (IEC 61966-2-1).
    fn linear(colour: &str) -> [f64; 3] {
        [1, 3, 5].map(|at| {
            let c = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        })
    }

    fn seen(matrix: &[[f64; 3]; 3], rgb: [f64; 3]) -> [f64; 3] {
        matrix.map(|row| row.iter().zip(rgb).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0))
    }

    fn luminance(rgb: [f64; 3]) -> f64 {
        0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]
    }

    /// CIE 1976 L*a*b* under D65.
    fn lab(rgb: [f64; 3]) -> [f64; 3] {
        let x = 0.4124 * rgb[0] + 0.3576 * rgb[1] + 0.1805 * rgb[2];
        let z = 0.0193 * rgb[0] + 0.1192 * rgb[1] + 0.9505 * rgb[2];
        let f = |t: f64| if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 };
        let (fx, fy, fz) = (f(x / 0.9505), f(luminance(rgb)), f(z / 1.089));
        [116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)]
    }

    /// Contrast of two colours (Web Content Accessibility Guidelines 2.1).
    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(linear(a)), luminance(linear(b)));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn matrices_of_sight_keep_white() {
        for (name, m) in SIGHT {
            for row in m {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{name}");
            }
        }
    }

    #[test]
    fn series_colours_are_told_apart_by_every_kind_of_sight() {
        for paper in PAPERS {
            for (name, m) in SIGHT {
                for (i, a) in SERIES.iter().enumerate() {
                    for b in &SERIES[i + 1..] {
                        let [x, y] = [a, b].map(|ink| lab(seen(&m, linear(ink.colour(paper)))));
                        let d = x.iter().zip(y).map(|(p, q)| (p - q).powi(2)).sum::<f64>().sqrt();
                        assert!(d >= LEAST_DISTANCE, "{paper:?} {name}: {a:?} {b:?} {d:.1}");
                    }
                }
            }
        }
    }

    #[test]
    fn contrast_with_the_paper() {
        // 4.5 for text and 3 for graphical objects: Web Content Accessibility Guidelines 2.1, level AA.
        for appearance in PAPERS {
            let paper = Ink::Paper.colour(appearance);
            for ink in [Ink::Main, Ink::Quiet] {
                for ground in [paper, Ink::Field.colour(appearance)] {
                    assert!(contrast(ink.colour(appearance), ground) >= 4.5, "{appearance:?} {ink:?}");
                }
            }
            for ink in SERIES {
                let c = contrast(ink.colour(appearance), paper);
                assert!(c >= 3.0, "{appearance:?} {ink:?} {c:.2}");
            }
        }
    }

    #[test]
    fn the_ramp_runs_one_way_in_grey_and_jumps_at_the_sign() {
        for appearance in PAPERS {
            for (name, m) in SIGHT {
                let lightness = RAMP.map(|ink| lab(seen(&m, linear(ink.colour(appearance))))[0]);
                let way = if appearance == Appearance::Light { -1.0 } else { 1.0 };
                let steps: Vec<f64> = lightness.windows(2).map(|w| way * (w[1] - w[0])).collect();
                assert!(steps.iter().all(|s| *s > 3.0), "{appearance:?} {name} {steps:.1?}");
                let dry = steps[..6].iter().fold(0.0, |a: f64, b| a.max(*b));
                assert!(steps[6] > 2.0 * dry, "{appearance:?} {name} {steps:.1?}");
            }
        }
    }
}
