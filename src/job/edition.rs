//! Whose rules a command is applied by.
//!
//! A journal holds commands, and what a command does may change from one version of the program to the next. So that a
//! job means for ever what it meant when it was worked, each line of a journal is applied by the rules of the program
//! that wrote it. A rule that makes an old line do something else than it did asks for the edition first.

/// The rules of one version of the program or of several in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Edition {
    /// Version 0.1.
    First,
    /// Version 0.2.
    Second,
    /// Version 0.3.
    Third,
    /// Version 0.4 and later.
    Fourth,
}

impl Edition {
    /// The rules that commands given now are applied by.
    pub const NOW: Edition = Edition::Fourth;
}
