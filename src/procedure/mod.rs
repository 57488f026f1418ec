//! What the book says: the procedure file, loading it with source positions, checking it.
//!
//! Knows quantities. Does not know that a job, a clock or sound exists.

mod model;

pub use model::*;
