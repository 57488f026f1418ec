//! What was told of the book: the value of a group with where it stands, and what is asked of it. Leaves to `book` what the job does
//! with it.

use crate::procedure::{FastenerIx, StageKind, ToldOrder};
use crate::values;
use serde::{Deserialize, Serialize};

/// A group of so many or more has an order of tightening. For two, all orders but the one and its reverse are the same.
pub const ORDERED: usize = 3;

/// What the book says of a group, as it was told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BookValue {
    /// Stages joined by "+", as a page of values has them; nothing where the book has no value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stages: Option<String>,
    /// Where it stands ("page 7-1"); nothing where that was not told, or is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub page: Option<String>,
    /// Title and edition of the list of values that it was taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub list: Option<(String, String)>,
    /// What stands in the book's place: of a value that there is not, or of a page that is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instead: Option<String>,
}

impl BookValue {
    /// The stages; nothing where there is no value, or one that cannot be read, is no tightening, or cannot be right.
    pub fn read(&self) -> Option<Vec<StageKind>> {
        let text = self.stages.as_deref()?.trim();
        let one = !text.contains([':', ',', '\n', '#']);
        one.then(|| values::stages(text)).flatten().filter(|stages| !stages.is_empty())
    }

    /// Where it stands, as a book has it.
    pub fn source(&self) -> Option<String> {
        match (&self.page, &self.list) {
            (Some(page), Some((title, edition))) => Some(format!("{page}, {title}, {edition}")),
            (Some(page), None) => Some(page.clone()),
            (None, _) => self.instead.clone().filter(|_| self.stages.is_some()),
        }
    }
}

/// What was told of a group so far.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Telling {
    /// Which group.
    pub group: FastenerIx,
    /// Its value.
    pub value: BookValue,
    /// The order of tightening, if it was asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order: Option<ToldOrder>,
    /// Whether all go through a stage before the next stage begins, if it was asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together: Option<bool>,
    /// What is asked now.
    pub asks: BookAsks,
}

/// What is asked of a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum BookAsks {
    /// On which page the value stands.
    Page,
    /// In which order the group is tightened.
    Order,
    /// Whether all go through a stage before the next one begins.
    Runs,
    /// Whether what was told is right.
    Right,
}
