//! Versioned result documents and their JSON.
