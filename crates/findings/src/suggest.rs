//! Did-you-mean for names.

/// The candidate nearest to a misspelt name, when it is near enough to be worth saying.
///
/// ```
/// use drycoil_findings::did_you_mean;
/// assert_eq!(did_you_mean("flor_area", ["floor_area", "name"]), Some("floor_area"));
/// assert_eq!(did_you_mean("Open Office", ["corridor", "office-open"]), Some("office-open"));
/// assert_eq!(did_you_mean("xyz", ["floor_area", "name"]), None);
/// ```
pub fn did_you_mean<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let words = words_of(name);
    let name = name.to_lowercase();
    let limit = name.chars().take(LONGEST).count().max(3) / 3;
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        // The same words in another order, case or spelling of the gaps.
        if !words.is_empty() && words == words_of(candidate) {
            return Some(candidate);
        }
        let d = distance(&name, &candidate.to_lowercase());
        if d <= limit && best.is_none_or(|(b, _)| d < b) {
            best = Some((d, candidate));
        }
    }
    best.map(|(_, c)| c)
}

/// Words in small letters, sorted.
fn words_of(text: &str) -> Vec<String> {
    let mut words: Vec<String> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .take(LONGEST)
        .map(str::to_lowercase)
        .collect();
    words.sort();
    words
}

/// So many characters of a name are compared.
const LONGEST: usize = 80;

/// Edits (insert, delete, replace, swap of neighbours) between two texts.
fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().take(LONGEST).collect();
    let b: Vec<char> = b.chars().take(LONGEST).collect();
    let w = b.len() + 1;
    let mut d = vec![0usize; (a.len() + 1) * w];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            d[i * w + j] = if i == 0 {
                j
            } else if j == 0 {
                i
            } else {
                let cost = usize::from(a[i - 1] != b[j - 1]);
                let mut v =
                    (d[(i - 1) * w + j] + 1).min(d[i * w + j - 1] + 1).min(d[(i - 1) * w + j - 1] + cost);
                if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                    v = v.min(d[(i - 2) * w + j - 2] + 1);
                }
                v
            };
        }
    }
    d[a.len() * w + b.len()]
}
