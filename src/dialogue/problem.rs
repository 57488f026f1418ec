//! What can be wrong with a language file, and where.

/// What is wrong with a language file, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}:{line}: {problem}")]
pub struct LanguageError {
    /// The name of the file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// What is wrong there.
    pub problem: LanguageProblem,
}

/// What can be wrong with a language file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LanguageProblem {
    /// It is not TOML, or a key has a value of another kind, or a table or its key is not known.
    #[error("{0}")]
    Toml(String),
    /// A key that must be there is not.
    #[error("`{key}` is missing in [{table}]")]
    MissingKey {
        /// The table.
        table: &'static str,
        /// The key.
        key: String,
    },
    /// A key that means nothing.
    #[error("`{key}` is not a key of [{table}]{}", near.as_ref().map(|n| format!("; did you mean `{n}`?")).unwrap_or_default())]
    UnknownKey {
        /// The table.
        table: &'static str,
        /// The key.
        key: String,
        /// A key that is known and looks like it.
        near: Option<String>,
    },
    /// A meaning without a phrase.
    #[error("`{0}` needs at least one phrase")]
    NoPhrase(String),
    /// A phrase that no recogniser takes.
    #[error("\"{phrase}\": {why}")]
    OddPhrase {
        /// The phrase.
        phrase: String,
        /// What is odd about it.
        why: String,
    },
    /// A phrase that would mean two things, or a decoy that means something.
    #[error("\"{phrase}\" means both `{first}` and `{second}`")]
    TwoMeanings {
        /// The phrase.
        phrase: String,
        /// One meaning.
        first: String,
        /// The other.
        second: String,
    },
    /// A table of words that does not fit together.
    #[error("{0}")]
    Words(String),
    /// A template that does not compile, or that fails when it is rendered.
    #[error("`{key}`: {message}")]
    Template {
        /// Its key.
        key: String,
        /// What the template engine says.
        message: String,
    },
    /// A template that names a variable it does not get.
    #[error("`{key}` knows no variable `{variable}`; it has: {}", allowed.join(", "))]
    UnknownVariable {
        /// Its key.
        key: String,
        /// The variable.
        variable: String,
        /// What it may name.
        allowed: Vec<String>,
    },
}
