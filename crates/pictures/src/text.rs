//! Widths of text, so that labels are placed before anything is drawn.

use crate::error::PictureError;

/// How heavy a text is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Weight {
    Regular,
    Bold,
}

// Advance widths in thousandths of the type size for U+0020 to U+007E and then U+00A0 to U+00FF: of each character the
// wider one of two free sans faces, a narrow one with the widths of the common office face and a wide one. So a text is
// never wider than measured, whichever of them a reader has.
const REGULAR: [u16; 191] = [
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337, 637, 637, 637, 637, 637,
    637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 557, 1016, 685, 687, 723, 771, 667, 611, 778, 752, 295,
    500, 667, 558, 863, 749, 788, 667, 788, 723, 667, 611, 732, 685, 989, 686, 667, 686, 391, 337, 391, 838,
    557, 500, 613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580, 278, 975, 634, 612, 635, 635, 412, 521,
    393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838, 318, 401, 637, 637, 637, 637, 337, 557, 500, 1000,
    472, 612, 838, 361, 1000, 553, 500, 838, 401, 401, 500, 637, 637, 333, 500, 401, 472, 612, 970, 970, 970,
    611, 685, 685, 685, 685, 685, 685, 1000, 723, 667, 667, 667, 667, 295, 295, 295, 295, 775, 749, 788, 788,
    788, 788, 788, 838, 788, 732, 732, 732, 732, 667, 667, 630, 613, 613, 613, 613, 613, 613, 982, 550, 616,
    616, 616, 616, 278, 278, 278, 278, 612, 634, 612, 612, 612, 612, 612, 838, 612, 634, 634, 634, 634, 592,
    635, 592,
];
const BOLD: [u16; 191] = [
    349, 457, 521, 838, 696, 1002, 873, 307, 458, 458, 523, 838, 380, 416, 380, 366, 696, 696, 696, 696, 696,
    696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 611, 1000, 774, 763, 734, 831, 684, 684, 821, 837, 373,
    557, 775, 638, 996, 837, 851, 733, 851, 771, 721, 683, 813, 774, 1104, 771, 725, 726, 458, 366, 458, 838,
    557, 500, 675, 716, 593, 716, 679, 436, 716, 712, 343, 343, 666, 343, 1042, 712, 688, 716, 716, 494, 596,
    479, 712, 652, 924, 646, 652, 583, 712, 366, 712, 838, 349, 457, 696, 696, 637, 696, 366, 557, 500, 1000,
    564, 646, 838, 416, 1000, 553, 500, 838, 438, 438, 500, 736, 637, 380, 500, 438, 564, 646, 1036, 1036,
    1036, 611, 774, 774, 774, 774, 774, 774, 1085, 734, 684, 684, 684, 684, 373, 373, 373, 373, 838, 837,
    851, 851, 851, 851, 851, 838, 851, 813, 813, 813, 813, 725, 738, 720, 675, 675, 675, 675, 675, 675, 1048,
    593, 679, 679, 679, 679, 343, 343, 343, 343, 688, 712, 688, 688, 688, 688, 688, 838, 688, 712, 712, 712,
    712, 652, 716, 652,
];

/// Width of a character outside the table: wider than any Latin, Greek or Cyrillic letter.
const OTHER: u16 = 1250;

/// Share of the type size above the base line.
pub(crate) const ASCENT: f64 = 0.78;
/// Share of the type size below the base line.
pub(crate) const DESCENT: f64 = 0.24;

fn advance(character: char, weight: Weight) -> u16 {
    let table = match weight {
        Weight::Regular => &REGULAR,
        Weight::Bold => &BOLD,
    };
    let code = character as usize;
    match code {
        0x20..=0x7e => table[code - 0x20],
        0xa0..=0xff => table[code - 0xa0 + 95],
        _ => OTHER,
    }
}

/// Width of a text at a type size.
pub(crate) fn width(text: &str, size: f64, weight: Weight) -> f64 {
    f64::from(text.chars().map(|c| u32::from(advance(c, weight))).sum::<u32>()) * size / 1000.0
}

/// The text, or as much of its beginning as fits with three dots after it.
pub(crate) fn shorten(text: &str, size: f64, weight: Weight, room: f64) -> String {
    if width(text, size, weight) <= room {
        return text.to_owned();
    }
    let left = room - width("...", size, weight);
    let mut kept = String::new();
    let mut used = 0.0;
    for c in text.chars() {
        used += f64::from(advance(c, weight)) * size / 1000.0;
        if used > left {
            break;
        }
        kept.push(c);
    }
    format!("{}...", kept.trim_end())
}

/// The words of a text in lines that fit; a single word that does not is shortened.
pub(crate) fn wrap(text: &str, size: f64, weight: Weight, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        if let Some(last) = lines.last_mut() {
            let longer = format!("{last} {word}");
            if width(&longer, size, weight) <= room {
                *last = longer;
                continue;
            }
        }
        lines.push(shorten(word, size, weight, room));
    }
    lines
}

/// A text that a document can hold.
pub(crate) fn checked(text: &str) -> Result<&str, PictureError> {
    match text.chars().find(|&c| c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}')) {
        Some(character) => Err(PictureError::Text { character, text: text.to_owned() }),
        None => Ok(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phys_a_longer_text_is_wider_and_bold_is_not_narrower() {
        let mut text = String::new();
        let mut before = 0.0;
        for c in (' '..='~').chain('\u{a0}'..='\u{ff}') {
            text.push(c);
            let now = width(&text, 11.0, Weight::Regular);
            assert!(now >= before, "{c:?}");
            before = now;
        }
        assert!(width("Conference", 11.0, Weight::Bold) > width("Conference", 11.0, Weight::Regular));
    }

    #[test]
    fn what_is_shortened_fits() {
        let name = "Conference room with a very long name on the second floor";
        for room in [20.0, 50.0, 100.0, 200.0] {
            let short = shorten(name, 11.0, Weight::Regular, room);
            assert!(width(&short, 11.0, Weight::Regular) <= room, "{short:?}");
            assert!(short.ends_with("..."));
            for line in wrap(name, 11.0, Weight::Regular, room) {
                assert!(width(&line, 11.0, Weight::Regular) <= room, "{line:?}");
            }
        }
        assert_eq!(shorten("short", 11.0, Weight::Regular, 100.0), "short");
        assert_eq!(wrap(name, 11.0, Weight::Regular, 150.0).join(" "), name);
    }

    #[test]
    fn control_characters_are_refused() {
        assert!(matches!(checked("a\u{0}b"), Err(PictureError::Text { character: '\u{0}', .. })));
        assert!(checked("a <b> & \"c\"").is_ok());
    }
}
