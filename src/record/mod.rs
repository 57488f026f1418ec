//! The running or finished job as a document: for people as one HTML page or Markdown, for machines as JSON.
//!
//! Knows the job, the procedure and the words of the language. Changes nothing: it plays the commands of a journal into a
//! job of its own and writes down what that holds. So there is no claim in a record that the ledger does not hold; where
//! the program does not know something, such as who spoke, the record says so.
//!
//! - [`evidence`]: what happened, command by command.
//! - [`document`]: the record as data, with its JSON schema.
//! - [`html`], [`markdown`]: the same for people.
//! - [`layout_page`]: the lay-out list, to print and tick.

mod collect;
pub mod document;
pub mod evidence;
pub mod html;
pub mod layout_page;
pub mod markdown;
mod published;
mod rounds;
mod states;
#[cfg(test)]
mod tests;

pub use collect::{Given, collect};
pub use document::{FORMAT, Record, json_schema};
pub use evidence::Evidence;
