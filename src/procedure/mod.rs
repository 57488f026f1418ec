//! What the book says: the procedure file, loading it with source positions, checking it.
//!
//! Knows quantities. Does not know that a job, a clock or sound exists.
//!
//! A file goes one way: its text, with what it `include`s in its place (`whole`; `written` describes the format, `shape`
//! walks over it, `each` makes steps of what stands there once for several places), is `resolve`d into the [`Procedure`]
//! that everybody else works by; of several variants of a vehicle, a job works by the one for its own (`variant`). Whatever
//! is wrong on the way, and whatever [`check()`] finds unwise, is a [`Finding`] with a [`Code`].

mod check;
mod code;
mod conduct;
mod draft;
mod each;
mod fastener;
mod finding;
mod include;
mod index;
mod latin;
pub mod lawful;
mod load;
mod measurement;
mod model;
mod open;
mod order;
pub mod picture;
mod report;
mod resolve;
mod shape;
mod stock;
mod variant;
mod whole;
mod written;

pub use check::{Course, Fault, check, course, findings};
pub(crate) use check::{Programme, alike, in_two_units, is_property_class, programme, unsayable};
pub use code::{Code, Severity};
pub use draft::draft_rebuild;
pub use finding::Finding;
pub use include::{Fetch, check_shared, is_shared, together};
pub(crate) use latin::latin;
pub(crate) use load::read_as;
pub use load::{FORMAT, Headline, LoadError, headline, parse, read_text};
pub use model::*;
pub use open::{load, open};
pub use order::ToldOrder;
pub(crate) use order::{cross, spiral};
pub use report::{Report, Shown};
pub use shape::json_schema;
pub(crate) use shape::{Shape, list, nearest, schema_of, shape_of};
pub use whole::{Place, Whole};
pub(crate) use written::{Source as WrittenSource, Spot, Stage as WrittenStage, Text};
