//! The user's own tools: which wrench covers which value, what to set on it, which socket fits.
//!
//! Knows quantities and nothing else: not that there is a job, a procedure or a voice. Reads no clock and opens no
//! file; it is handed the text of the toolbox file ([`Toolbox::parse`]). A toolbox is the user's word about their
//! tools: what it does not say is not assumed.
//!
//! - [`wrench`]: torque wrenches, and the setting for a value.
//! - [`adapter`]: what an offset adapter does to a setting.
//! - [`size`]: sockets and bits, and what stands in for a missing one.

pub mod adapter;
mod file;
pub mod size;
#[cfg(test)]
mod tests;
pub mod wrench;

pub use adapter::{Adapter, AdapterError};
pub use file::ToolboxError;
pub use size::{Fit, Size, Socket, Square};
pub use wrench::{Setting, Uncovered, Wrench};

use crate::quantity::{Angle, Length, Limits, Torque};

/// Everything the user owns, as their file says it.
#[derive(Debug, Clone, PartialEq)]
pub struct Toolbox {
    /// Torque wrenches, in the order of the file.
    pub wrenches: Vec<Wrench>,
    /// The name of the angle gauge; `None` if the file says that there is none.
    pub angle_gauge: Option<String>,
    /// Offset adapters, in the order of the file.
    pub adapters: Vec<OwnAdapter>,
    /// Sockets and bits.
    pub sockets: Vec<Socket>,
    /// Other tools by name, as a procedure would call them.
    pub other: Vec<String>,
}

/// An adapter the user owns.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnAdapter {
    /// What it is called.
    pub name: String,
    /// From the centre of the wrench's square to the centre of the fastener.
    pub length: Length,
    /// The angle at which it is always used; `None` if it must be said each time.
    pub angle: Option<Angle>,
}

impl Toolbox {
    /// The best wrench for a value, with what to set on it. The best is one that is not in the lowest fifth of its
    /// scale, then one whose mark hits the value or window, then the smallest.
    pub fn choose(&self, wanted: &Limits<Torque>, adapter: Option<&Adapter>) -> Result<Setting<'_>, Uncovered> {
        match self.settings(wanted, adapter) {
            settings if settings.is_empty() => Err(self.why_uncovered(wanted, adapter)),
            mut settings => Ok(settings.swap_remove(0)),
        }
    }

    /// Every wrench that covers a value, the best first.
    pub fn settings(&self, wanted: &Limits<Torque>, adapter: Option<&Adapter>) -> Vec<Setting<'_>> {
        let mut all: Vec<Setting<'_>> =
            self.wrenches.iter().filter_map(|wrench| wrench.setting(wanted, adapter).ok()).collect();
        all.sort_by(|a, b| {
            (a.lowest_fifth, !a.within).cmp(&(b.lowest_fifth, !b.within)).then(a.wrench.high.cmp(&b.wrench.high))
        });
        all
    }

    /// The reason that says most: a wrench that would do but for its length comes before one of a wrong range, and of
    /// those the nearest marks are named.
    fn why_uncovered(&self, wanted: &Limits<Torque>, adapter: Option<&Adapter>) -> Uncovered {
        let (mut above, mut below, mut other) = (None::<(Torque, Torque)>, None::<(Torque, Torque)>, None);
        for reason in self.wrenches.iter().filter_map(|wrench| wrench.setting(wanted, adapter).err()) {
            match reason {
                Uncovered::Above { wanted, mark } if above.is_none_or(|(_, m)| mark > m) => {
                    above = Some((wanted, mark))
                }
                Uncovered::Below { wanted, mark } if below.is_none_or(|(_, m)| mark < m) => {
                    below = Some((wanted, mark))
                }
                Uncovered::NoLength { .. } | Uncovered::Adapter(_) => other = other.or(Some(reason)),
                _ => {}
            }
        }
        match (other, above, below) {
            (Some(other), ..) => other,
            (None, Some((wanted, low)), Some((_, high))) => Uncovered::Between { wanted, low, high },
            (None, Some((wanted, mark)), None) => Uncovered::Above { wanted, mark },
            (None, None, Some((wanted, mark))) => Uncovered::Below { wanted, mark },
            (None, None, None) => Uncovered::NoWrench,
        }
    }
}
