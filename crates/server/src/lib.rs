//! The page of Drycoil: a server for this machine alone, the files that it edits, and the worker behind it.
//!
//! The page computes nothing and the server decides nothing: a change goes into the same text files that a person would
//! edit, is read by the same readers, and what is shown comes from the same functions as on the command line.
//!
//! - [`listen`]: connections of the loopback address; the only network code of the program.
//! - [`guard`]: who is answered. [`http`]: requests within limits.
//! - [`desk`]: changes, compared with the disk, taken back and repeated. [`edit`]: changes of texts.
//! - [`engine`]: reads, sizes and simulates in the background.
//! - [`excursions`]: runs them when somebody asks.
//! - [`view`]: what is shown, as JSON. [`api`]: addresses.
//!
//! Nothing here opens a file: a [`Folder`] does.
//!
//! ```
//! use drycoil_server::{Folder, MemoryFolder, desk::{Desk, FileChange, Step}, edit::Change};
//! use std::sync::Arc;
//! let desk = Desk::new(Arc::new(MemoryFolder::new([("rooms.csv", "id,people\n101,4\n")])));
//! let change = Change::Cell { row: 0, key: "101".into(), column: 1, was: "4".into(), now: "6".into(), raw: None };
//! let step = Step { label: "people of 101".into(), changes: vec![FileChange { file: "rooms.csv".into(), change }] };
//! desk.make("window-1", &step).unwrap();
//! assert_eq!(desk.folder().read("rooms.csv").unwrap().unwrap(), b"id,people\n101,6\n");
//! desk.undo("window-1").unwrap();
//! assert_eq!(desk.folder().read("rooms.csv").unwrap().unwrap(), b"id,people\n101,4\n");
//! ```

// A change is refused rarely, and what is said then is whole.
#![allow(clippy::result_large_err)]

pub mod api;
pub mod desk;
pub mod edit;
pub mod engine;
pub mod excursions;
pub mod folder;
pub mod guard;
pub mod http;
pub mod listen;
pub mod page;
pub mod view;

pub use folder::{Folder, Guard, MemoryFolder};
pub use listen::{Parts, Server};
