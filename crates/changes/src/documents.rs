//! Two result files, key by key.

use crate::SAME;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;

/// Keys of a document that say who and when, not what.
const HEAD: [&str; 5] = ["format", "program", "project", "revision", "fingerprint"];

/// What tells the entries of a list apart, tried in this order.
const NAMES: [&str; 14] = [
    "room",
    "zone",
    "id",
    "group",
    "place",
    "name",
    "scheme",
    "case",
    "state",
    "what",
    "model",
    "arrangement",
    "loop_name",
    "title",
];

/// Lists of numbers longer than this, such as hours of a year, are told in one line.
const LONG: usize = 24;

/// A key whose value differs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KeyChange {
    /// The key: names joined by `.`, entries of lists by their name or number: `design.terminals[301].fan_m3_per_s`.
    pub path: String,
    /// Value in the old file; null where there is none. Of a long list, the entry that differs most.
    pub old: Value,
    /// Value in the new file; null where there is none. Of a long list, the entry that differs most.
    pub new: Value,
    /// How many entries of a long list differ; null otherwise.
    pub entries: Option<usize>,
}

/// What differs between two result documents. What identifies them is left out.
///
/// ```
/// use drycoil_changes::compare_documents;
/// use serde_json::json;
/// let a = json!({ "format": 1, "rooms": [{ "room": "A", "flow_m3_per_s": 0.1 }, { "room": "B", "flow_m3_per_s": 0.2 }] });
/// let b = json!({ "format": 1, "rooms": [{ "room": "B", "flow_m3_per_s": 0.3 }, { "room": "A", "flow_m3_per_s": 0.1 }] });
/// let list = compare_documents(&a, &b);
/// assert_eq!(list.len(), 1);
/// assert_eq!(list[0].path, "rooms[B].flow_m3_per_s");
/// ```
pub fn compare_documents(before: &Value, after: &Value) -> Vec<KeyChange> {
    let mut out = Vec::new();
    walk("", before, after, &mut out);
    out
}

fn same(a: &Value, b: &Value) -> bool {
    match (a.as_f64(), b.as_f64()) {
        (Some(x), Some(y)) => (x - y).abs() <= SAME * x.abs().max(y.abs()),
        _ => a == b,
    }
}

fn walk(path: &str, a: &Value, b: &Value, out: &mut Vec<KeyChange>) {
    match (a, b) {
        (Value::Object(x), Value::Object(y)) => {
            let keys = y.keys().chain(x.keys().filter(|k| !y.contains_key(*k)));
            for key in keys {
                if path.is_empty() && HEAD.contains(&key.as_str()) {
                    continue;
                }
                let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                walk(&path, x.get(key).unwrap_or(&Value::Null), y.get(key).unwrap_or(&Value::Null), out);
            }
        }
        (Value::Array(x), Value::Array(y)) => list(path, x, y, out),
        (a, b) if same(a, b) => {}
        (a, b) => {
            out.push(KeyChange { path: path.to_owned(), old: a.clone(), new: b.clone(), entries: None });
        }
    }
}

fn list(path: &str, x: &[Value], y: &[Value], out: &mut Vec<KeyChange>) {
    if x.len() == y.len() && x.len() > LONG && x.iter().chain(y).all(|v| v.is_number() || v.is_null()) {
        let apart = |i: &usize| match (x[*i].as_f64(), y[*i].as_f64()) {
            (Some(a), Some(b)) => (a - b).abs(),
            _ => f64::INFINITY,
        };
        let differing: Vec<usize> = (0..x.len()).filter(|i| !same(&x[*i], &y[*i])).collect();
        if let Some(most) =
            differing.iter().copied().max_by(|a, b| apart(a).total_cmp(&apart(b)).then(b.cmp(a)))
        {
            out.push(KeyChange {
                path: format!("{path}[{most}]"),
                old: x[most].clone(),
                new: y[most].clone(),
                entries: Some(differing.len()),
            });
        }
        return;
    }
    if let Some(key) = naming(x, y) {
        let find =
            |list: &[Value], name: &str| list.iter().find(|v| v[key] == name).cloned().unwrap_or(Value::Null);
        let names = |list: &[Value]| -> Vec<String> {
            list.iter().filter_map(|v| v[key].as_str().map(str::to_owned)).collect()
        };
        let new = names(y);
        let gone = names(x).into_iter().filter(|n| !new.contains(n));
        for name in new.iter().cloned().chain(gone) {
            walk(&format!("{path}[{name}]"), &find(x, &name), &find(y, &name), out);
        }
        return;
    }
    for i in 0..x.len().max(y.len()) {
        let at = |list: &[Value]| list.get(i).cloned().unwrap_or(Value::Null);
        walk(&format!("{path}[{i}]"), &at(x), &at(y), out);
    }
}

/// The key that names every entry of both lists.
fn naming(x: &[Value], y: &[Value]) -> Option<&'static str> {
    let unlike = |list: &[Value], key: &str| {
        let names: Option<BTreeSet<&str>> = list.iter().map(|v| v.get(key)?.as_str()).collect();
        names.is_some_and(|n| n.len() == list.len())
    };
    if x.is_empty() && y.is_empty() {
        return None;
    }
    NAMES.into_iter().find(|key| unlike(x, key) && unlike(y, key))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn entries_come_and_go_by_name() {
        let a = json!({ "rooms": [{ "room": "A", "x": 1 }, { "room": "B", "x": 2 }] });
        let b = json!({ "rooms": [{ "room": "B", "x": 2 }, { "room": "C", "x": 3 }] });
        let paths: Vec<String> = compare_documents(&a, &b).into_iter().map(|c| c.path).collect();
        assert_eq!(paths, ["rooms[C]", "rooms[A]"]);
    }

    #[test]
    fn rounding_is_no_difference_and_the_head_is_left_out() {
        let a = json!({ "program": "1", "revision": "A", "x": 1.0, "n": null });
        let b = json!({ "program": "2", "revision": "B", "x": 1.0 + 1e-12, "n": null });
        assert_eq!(compare_documents(&a, &b), []);
    }

    #[test]
    fn a_long_list_is_told_by_what_differs_most() {
        let hours: Vec<f64> = (0..100).map(f64::from).collect();
        let mut other = hours.clone();
        other[3] = 3.5;
        other[70] = 60.0;
        let list = compare_documents(&json!({ "h": hours }), &json!({ "h": other }));
        assert_eq!(list.len(), 1);
        assert_eq!((list[0].path.as_str(), list[0].entries), ("h[70]", Some(2)));
        assert_eq!((&list[0].old, &list[0].new), (&json!(70.0), &json!(60.0)));
    }
}
