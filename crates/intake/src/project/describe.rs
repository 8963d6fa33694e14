//! Schema and documentation from the declarations.

/// JSON Schema of `project.toml`.
pub fn json_schema() -> serde_json::Value {
    serde_json::Value::Null
}

/// The page `docs/PROJECT_FORMAT.md`.
pub fn project_format_page() -> String {
    String::new()
}
