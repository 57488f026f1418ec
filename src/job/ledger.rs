//! The state of every single thing.

/// State of one fastener.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ItemState {
    /// Not touched yet.
    AsFound,
    /// Loosened, still in.
    Slackened,
    /// Out.
    Out,
    /// Unscrewed, but it cannot come out yet.
    Trapped,
    /// Put back only to hold things together.
    Holding,
    /// Started by hand.
    HandStarted,
    /// So many stages of its programme are recorded, more are to come. Never 0.
    AtStage(usize),
    /// Its programme is complete.
    Final,
    /// Nobody knows whether its angle stage was done.
    InDoubt,
    /// No longer fit for use; a new one takes its place.
    Scrapped,
}

/// State of a component.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ComponentState {
    /// On the vehicle.
    On,
    /// Off.
    Off,
    /// Hung up.
    Hung,
}
