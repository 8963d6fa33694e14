//! The publications that cases name.

use crate::CaseError;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Text of the list.
pub const REFERENCES_FILE: &str = include_str!("../references.toml");

/// One publication.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reference {
    /// Title, authors, publisher.
    pub title: String,
    /// Edition or year.
    pub edition: String,
}

/// Every publication by its key.
pub fn references() -> Result<BTreeMap<String, Reference>, CaseError> {
    toml::from_str(REFERENCES_FILE)
        .map_err(|error| CaseError { file: "references.toml".into(), reason: error.to_string() })
}
