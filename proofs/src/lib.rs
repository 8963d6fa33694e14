//! Published cases as data, and the one runner that checks them.
//!
//! A file of `proofs/cases` is one published table or worked example: where it was printed and how it was read, its
//! columns with their units, its rows, and for each result the tolerance with the reason of the tolerance. The
//! `run` module hands every row to the function of the program that the file names, and compares.
//!
//! - A row that cannot be read, an input that the function does not take, a result it does not give: each is a failure.
//! - A printed number that disagrees with physics or with its own inputs stays in the file, with the reason and the
//!   value that is right; the runner checks the program against the right value, *and* that the printed one really
//!   differs by more than the tolerance.
//! - A row may ask for a refusal.
//!
//! ```
//! let case = drycoil_proofs::Case::parse(
//!     "example.toml",
//!     r#"
//!     topic = "moist air"
//!     title = "Saturation pressure"
//!     function = "air.saturation_pressure"
//!     row_count = 1
//!     rows = [[25.0, 3169.7]]
//!     [source]
//!     key = "ashrae-fundamentals-2017"
//!     place = "chapter 1, Table 3"
//!     status = ["found"]
//!     read = "in the tests of an open library"
//!     [[column]]
//!     name = "dry_bulb"
//!     unit = "degC"
//!     [[column]]
//!     name = "saturation_pressure"
//!     unit = "Pa"
//!     tolerance = { kind = "rel", value = 3e-4, reason = "steam table against correlation" }
//!     "#,
//! )?;
//! let outcome = drycoil_proofs::run_case(&case);
//! assert!(outcome.pass() && outcome.rows == 1, "{:?}", outcome.failures);
//! # Ok::<(), drycoil_proofs::CaseError>(())
//! ```

mod case;
mod cases;
mod functions;
mod page;
mod references;
mod run;
mod value;

pub use case::{Case, CaseError, Cell, Column, Discrepancy, Role, Source, Status, Tolerance, ToleranceKind};
pub use cases::{CASE_FILES, all_cases};
pub use functions::{Function, function, functions};
pub use page::markdown;
pub use references::{REFERENCES_FILE, Reference, references};
pub use run::{Deviation, Outcome, run_all, run_case};
pub use value::{Found, FunctionError, Given};
