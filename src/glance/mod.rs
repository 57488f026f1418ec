//! The page for a screen in the bay: where the job stands, readable at three metres.
//!
//! Knows the job and the words of the language; changes nothing and takes no commands. One page is served on this
//! machine only; on another address only if it was asked for, and then only to whoever has the token. It serves, and
//! never calls out: there is no network client in the program.
//!
//! - [`view`]: what is on the page, as markup; `top`: what stands above it whatever it is; `value`: a value in three sizes.
//! - `board`: when it changes.
//! - [`server`]: the page and its changes, over HTTP, on a thread of its own; besides `session` the only place with
//!   `tokio`.

mod board;
pub mod server;
mod top;
mod value;
pub mod view;

pub use board::Board;
pub use server::{DEFAULT_ADDRESS, Frame, GlanceError, Server};
pub use top::{Ears, Top};
pub use view::View;
