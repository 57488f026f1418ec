//! What can be named on every command line instead of what the settings say.

use clap::Args as ClapArgs;
use std::path::PathBuf;

/// Parts that can be named instead of the usual ones.
#[derive(Debug, Default, Clone, ClapArgs)]
#[command(next_help_heading = "Parts")]
pub struct Parts {
    /// Folder of a vosk model to hear with
    #[arg(long, global = true, value_name = "FOLDER")]
    pub model: Option<PathBuf>,
    /// Folder of a piper voice to speak with
    #[arg(long, global = true, value_name = "FOLDER")]
    pub voice: Option<PathBuf>,
    /// Speech only, no tones
    #[arg(long, global = true)]
    pub no_tones: bool,
    /// Hear with vosk alone, under its stricter rule
    #[arg(long, global = true)]
    pub one_listener: bool,
    /// Also use the voice learnt under this name
    #[arg(long, global = true, value_name = "NAME", value_parser = profile_name)]
    pub own_voice: Option<String>,
    /// Folder for learnt voices
    #[arg(long, global = true, value_name = "FOLDER")]
    pub voices: Option<PathBuf>,
    /// Folder for jobs
    #[arg(long, global = true, value_name = "FOLDER")]
    pub jobs: Option<PathBuf>,
    /// Language file to use instead of English
    #[arg(long, global = true, value_name = "FILE")]
    pub language: Option<PathBuf>,
    /// File that lists your tools; docs/toolbox.toml is an example
    #[arg(long, global = true, value_name = "FILE")]
    pub toolbox: Option<PathBuf>,
    /// Page of values that you can ask for by name during a job; may be given several times; docs/values.toml is an example
    #[arg(long = "values", global = true, value_name = "FILE")]
    pub pages: Vec<PathBuf>,
}

/// Longest name of a profile, in bytes.
const LONGEST_NAME: usize = 40;

/// The name of a profile, which becomes the name of a file.
pub fn profile_name(text: &str) -> Result<String, String> {
    let fits = |c: char| c.is_alphanumeric() || c == '-';
    if text.is_empty() || text.len() > LONGEST_NAME || !text.chars().all(fits) || text.starts_with('-') {
        return Err(format!("a name has letters, digits and dashes, at most {LONGEST_NAME} of them, such as \"ann\""));
    }
    Ok(text.to_owned())
}
