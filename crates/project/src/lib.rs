//! The validated model of a job: no files, no text.
