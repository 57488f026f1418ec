//! The command line.

use super::find;
use super::named::{Parts, profile_name};
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// A voice at the wrench: reads the steps, cautions and values of a repair aloud, and knows where the job stands, bolt
/// by bolt. Works offline. The vehicle maker's manual, local rules and licensed practice come first.
#[derive(Debug, Parser)]
#[command(
    version,
    after_help = "Exit codes: 0 it worked; 1 what was asked for failed; 2 wrong usage or unreadable input."
)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Verb,
    /// Settings to use instead of your own
    #[arg(long, global = true, value_name = "FILE")]
    pub config: Option<PathBuf>,
    #[command(flatten)]
    pub parts: Parts,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Start a new job from a procedure
    Start(Start),
    /// Take something apart without a procedure; what you say becomes one
    Strip(Strip),
    /// Take up a job where you left it
    Resume(Resume),
    /// List the jobs and what is open in each; the one you worked on last comes last, as number 1
    Jobs,
    /// Start a procedure file: from a few questions, from the text of a manual, or from the procedure for the other side
    New(New),
    /// List the procedures you can start by name, from the folders in your settings
    Procedures,
    /// Look values up by name, without a job; or add values to a page as you read them out of the manual
    Values(Values),
    /// Work out what to set on a torque wrench for a value
    Set(Set),
    /// List the tools, parts and materials to lay out before a job
    Layout(Layout),
    /// Write the record of a running or finished job
    Record(Record),
    /// Look for mistakes in procedure files and pages of values
    Check(Check),
    /// Show the steps of a procedure in order: what is done again, what depends on what, and what waits
    Outline(Outline),
    /// Draft the rebuild for a procedure that has only its strip-down; it is printed for the author to go through
    DraftRebuild(DraftRebuild),
    /// Play recorded or typed scenarios and compare what happens with what should
    Replay(Replay),
    /// Show what is understood in recordings, with scores and timing
    Hear(Hear),
    /// Measure how well it hears: play a set of many voices and noises through the listeners
    BenchHearing(BenchHearing),
    /// Learn your voice: you repeat phrases for about four minutes; you can stop and go on another time
    Learn(Learn),
    /// List the learnt voices
    Voices,
    /// Delete a learnt voice and everything that was kept of it
    Forget(Forget),
    /// Speak a text
    Say(Say),
    /// Test the microphone: its levels, then three phrases, and why one was not taken
    TryMicrophone(TryMicrophone),
    /// Check that every part is there and works
    Doctor,
    /// What the program starts for itself: the recogniser, in a process of its own
    #[command(hide = true)]
    Recogniser {
        /// The folder of the model
        folder: PathBuf,
    },
}

/// Where words come from and go to.
#[derive(Debug, Clone, ClapArgs)]
pub struct Channels {
    /// Read commands as lines from standard input, print the answers, use no sound
    #[arg(long, conflicts_with = "wav")]
    pub typed: bool,
    /// Take sound from this WAV or FLAC file instead of the microphone; it stops while the program speaks, and a claim
    /// within three seconds of the last one counts as said again
    #[arg(long, value_name = "FILE")]
    pub wav: Option<PathBuf>,
    /// Write the speech to this WAV file instead of playing it
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Microphone to use, by name
    #[arg(long, value_name = "NAME")]
    pub microphone: Option<String>,
    /// Loudspeaker to use, by name
    #[arg(long, value_name = "NAME")]
    pub loudspeaker: Option<String>,
    /// You wear a headset, so the microphone does not hear the voice and nothing has to be taken out of the sound
    #[arg(long)]
    pub headset: bool,
    /// Serve a page for a screen in the bay, on this machine only; for another address give --glance=ADDRESS:PORT,
    /// and whoever opens the page needs the token that is printed
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true, default_missing_value = crate::glance::DEFAULT_ADDRESS)]
    pub glance: Option<String>,
}

/// Take something apart.
///
/// "Took out two bolts, thirteen millimetre", "unplugged a connector", "took off a cover", each with its name; "scratch that" takes
/// the last back. At "that is everything" the procedure is written from it, and the rebuild begins as a job like any other.
#[derive(Debug, ClapArgs)]
pub struct Strip {
    /// What the job is called
    pub title: String,
    /// The vehicle, as the page of values has it
    #[arg(long, value_name = "TEXT")]
    pub vehicle: Option<String>,
    #[command(flatten)]
    pub channels: Channels,
}

/// Begin a job.
#[derive(Debug, ClapArgs)]
pub struct Start {
    /// The procedure: its file, or words of its title or its number in `procedures`; asked for if none is given
    #[arg(add = find::complete_procedures())]
    pub procedure: Option<String>,
    /// Start although the check finds errors; the record of the job will say so. For the first job of the session only
    #[arg(long)]
    pub unchecked: bool,
    #[command(flatten)]
    pub channels: Channels,
}

/// Take up a job.
#[derive(Debug, ClapArgs)]
pub struct Resume {
    /// The job: its number in `jobs`, its name or folder, or words of its title; the one worked on last if none is given
    #[arg(add = find::complete_jobs())]
    pub job: Option<String>,
    /// Cut a damaged journal off after its last good line; the lines cut off are kept in a file beside it
    #[arg(long)]
    pub salvage: bool,
    /// Choose among the jobs that are not closed, by voice or typed ("number two"); strip-downs are taken up by name
    #[arg(long, conflicts_with_all = ["job", "salvage"])]
    pub choose: bool,
    #[command(flatten)]
    pub channels: Channels,
}

/// Answer questions for values, or add values to a page.
///
/// "Value for the gearbox mount" gets the value with its stages; "name the source", "in foot pounds", "say again", "talk
/// slower", "stop listening" and "help" do what they do in a job, and "pause job" ends it. With --add the program asks instead:
/// "sixty two newton metres, then fifty degrees, page seven dash one" is read back number by number, and is on the page after "yes".
#[derive(Debug, ClapArgs)]
pub struct Values {
    /// Pages of values (TOML, CSV, or lines in a .txt); those of --values and the settings besides
    pub files: Vec<PathBuf>,
    /// Add to this page (.txt or .toml; made if it is not there) the values that you read out of the manual
    #[arg(long, value_name = "FILE", conflicts_with = "files")]
    pub add: Option<PathBuf>,
    /// The things to ask about, one name a line; those already on the page are left out
    #[arg(long, value_name = "FILE", requires = "add")]
    pub names: Option<PathBuf>,
    /// Read questions as lines from standard input, print the answers, use no sound
    #[arg(long, conflicts_with = "wav")]
    pub typed: bool,
    /// Take sound from this WAV or FLAC file instead of the microphone; it stops while the program speaks
    #[arg(long, value_name = "FILE")]
    pub wav: Option<PathBuf>,
    /// Microphone to use, by name
    #[arg(long, value_name = "NAME")]
    pub microphone: Option<String>,
    /// Loudspeaker to use, by name
    #[arg(long, value_name = "NAME")]
    pub loudspeaker: Option<String>,
}

/// Work out a setting.
#[derive(Debug, ClapArgs)]
pub struct Set {
    /// The value at the fastener, one or a window: "70 N·m", "55..70 Nm", "52 ft-lb"
    pub value: String,
    /// Adapter between wrench and fastener: its length from the square, and its angle to the line of the wrench
    /// (0 deg makes it longer, 90 deg changes nothing, 180 deg points back along the handle), such as "48 mm@45 deg"
    #[arg(long, value_name = "LENGTH@ANGLE")]
    pub adapter: Option<String>,
    /// Use this wrench from the toolbox only
    #[arg(long, value_name = "NAME")]
    pub wrench: Option<String>,
    /// Length of the wrench, from the square to the middle of the grip, if the toolbox does not say
    #[arg(long, value_name = "LENGTH", conflicts_with = "wrench")]
    pub length: Option<String>,
}

/// List what to lay out.
#[derive(Debug, ClapArgs)]
pub struct Layout {
    /// The procedure: its file, or words of its title or its number in `procedures`
    #[arg(add = find::complete_procedures())]
    pub procedure: String,
    /// Also write a page to print and tick off
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
}

/// Show the outline of a procedure.
#[derive(Debug, ClapArgs)]
pub struct Outline {
    /// The procedure: its file, or words of its title or its number in `procedures`
    #[arg(add = find::complete_procedures())]
    pub procedure: String,
}

/// Write a record.
#[derive(Debug, ClapArgs)]
pub struct Record {
    /// The job: its number in `jobs`, its name or folder, or words of its title; the one worked on last if none is given
    #[arg(add = find::complete_jobs())]
    pub job: Option<String>,
    /// Write a page with everything in it, to read and print
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Write Markdown; without any of these options it goes to standard output
    #[arg(long, value_name = "FILE")]
    pub markdown: Option<PathBuf>,
    /// Write JSON, for programs
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Print the schema of the JSON and write nothing
    #[arg(long, conflicts_with_all = ["job", "html", "markdown", "json"])]
    pub schema: bool,
}

/// How findings are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// For programs
    Json,
}

/// Check procedures.
#[derive(Debug, ClapArgs)]
pub struct Check {
    /// Procedure files and pages of values (TOML, CSV, or lines in a .txt)
    #[arg(required = true)]
    pub files: Vec<PathBuf>,
    /// How to show the findings
    #[arg(long, value_enum, default_value = "text")]
    pub format: Format,
}

/// Begin a procedure file.
///
/// A file that is already there is never overwritten. What only its author can know is marked "# ??" at its place.
#[derive(Debug, ClapArgs)]
pub struct New {
    /// The file to write
    pub file: PathBuf,
    /// Numbered text or Markdown of the job: steps, tools, cautions, torques; with --values, values by the names of the fasteners
    #[arg(long, value_name = "TEXT", conflicts_with = "mirror")]
    pub from: Option<PathBuf>,
    /// The procedure for the other side; left and right are swapped
    #[arg(long, value_name = "PROCEDURE", add = find::complete_procedures())]
    pub mirror: Option<String>,
}

/// Draft a rebuild.
#[derive(Debug, ClapArgs)]
pub struct DraftRebuild {
    /// The procedure file
    pub file: PathBuf,
}

/// Replay scenarios.
#[derive(Debug, ClapArgs)]
pub struct Replay {
    /// Scenario files
    #[arg(required = true)]
    pub scenarios: Vec<PathBuf>,
    /// Play in real time instead of as fast as possible
    #[arg(long)]
    pub real_time: bool,
    /// Write a report for programs (JSON)
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Show the conversation as it goes, and the ledger at the end
    #[arg(long)]
    pub show: bool,
    /// Write both sides to a stereo WAV file, microphone left and voice right; for one scenario
    #[arg(long, value_name = "FILE")]
    pub tape: Option<PathBuf>,
    /// Do not speak the answers; their times are not measured then
    #[arg(long, conflicts_with = "tape")]
    pub silent: bool,
    /// Keep the jobs, in the folder for jobs, instead of throwing them away
    #[arg(long)]
    pub keep: bool,
}

/// Hear recordings.
#[derive(Debug, ClapArgs)]
pub struct Hear {
    /// WAV or FLAC files
    #[arg(required = true)]
    pub files: Vec<PathBuf>,
    /// Listen for what may be said at the start of this procedure
    #[arg(long, value_name = "FILE")]
    pub procedure: Option<PathBuf>,
    /// The step in hand, by number, if not the first
    #[arg(long, value_name = "NUMBER", requires = "procedure")]
    pub step: Option<u32>,
    /// Listen for what may be said when this job is taken up: its number, name or folder
    #[arg(long, conflicts_with_all = ["procedure", "step"])]
    pub job: Option<String>,
}

/// Try the microphone.
#[derive(Debug, ClapArgs)]
pub struct TryMicrophone {
    /// Try this WAV or FLAC file instead of the microphone: the quiet first, then the phrases
    #[arg(long, value_name = "FILE")]
    pub wav: Option<PathBuf>,
    /// Seconds to measure the level for
    #[arg(long, value_name = "NUMBER", default_value = "5", value_parser = clap::value_parser!(u8).range(1..=60))]
    pub seconds: u8,
    /// Microphone to use, by name
    #[arg(long, value_name = "NAME")]
    pub microphone: Option<String>,
    /// Loudspeaker to use, by name
    #[arg(long, value_name = "NAME")]
    pub loudspeaker: Option<String>,
}

/// Measure hearing.
///
/// Plays every recording of a set, clean and in noise, as a microphone would bring it, at a moment of a job where what is
/// said means something; then hours of talk and noise in which nothing is meant. Counts what the rule for accepting makes
/// of it: with both listeners, with vosk alone, with the second alone. scripts/make-hearing-set makes a set.
#[derive(Debug, ClapArgs)]
pub struct BenchHearing {
    /// Folder of the set, with its manifest.tsv
    pub set: PathBuf,
    /// Only what this voice says, this part of the voices (tune, held-out), or people from this source
    #[arg(long, value_name = "NAME")]
    pub only: Option<String>,
    /// Only one in so many of the recordings, for a quick look; which ones does not depend on their order
    #[arg(long, value_name = "NUMBER", default_value = "1")]
    pub every: usize,
    /// Mix each command of a synthetic voice with each kind of generated noise, not with one in turn; takes about five times
    /// as long
    #[arg(long)]
    pub all_noises: bool,
    /// Recorded noises and rooms, which people meet in place of the generated noises: a folder with a manifest.tsv of file,
    /// kind, seconds, source, licence; train/ is for the part tune, held/ for held-out, and so are rir/train/ and rir/held/
    #[arg(long, value_name = "FOLDER")]
    pub noise: Option<PathBuf>,
    /// Let the synthetic voices meet the recorded noises as well
    #[arg(long, requires = "noise", conflicts_with = "all_noises")]
    pub noise_for_all: bool,
    /// Let each voice be learnt before: a folder with a manifest.tsv of file, text, voice, its takes, which are not played; words
    /// that are no commands are played among the words of all takes
    #[arg(long, value_name = "FOLDER")]
    pub takes: Option<PathBuf>,
    /// Learn another voice than the one that is played, to see what is believed of strangers
    #[arg(long, requires = "takes")]
    pub strangers: bool,
    /// Let the second listener judge by another network of phones, to count it before it is taken into use: a folder with phones.onnx
    /// and lexicon.txt, as models/training makes them. What it writes freely, and learnt voices, stay as they are
    #[arg(long, value_name = "FOLDER", conflicts_with = "sounds")]
    pub phones: Option<PathBuf>,
    /// Threads to listen on
    #[arg(long, value_name = "NUMBER", default_value = "2")]
    pub threads: usize,
    /// Keep what the listeners made of the sound in this file, and take it from there if the file is there already
    #[arg(long, value_name = "FILE")]
    pub scores: Option<PathBuf>,
    /// Look for the thresholds that do best on the part of the voices that may be tuned on, and show them
    #[arg(long)]
    pub calibrate: bool,
    /// Write the counts for programs (JSON)
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Write the commands as they are played, for another recogniser to hear, with their list and their grammars
    #[arg(long, value_name = "FOLDER")]
    pub sounds: Option<PathBuf>,
}

/// Learn a voice.
///
/// It names a phrase, you say it, and so on; each is checked and asked for again if it is of no use. Kept are numbers made from
/// the sound, in a file of your own, and not the sound. Learn with the microphone that you work with.
#[derive(Debug, ClapArgs)]
pub struct Learn {
    /// Whose voice: a name for the profile, letters, digits and dashes
    #[arg(value_parser = profile_name)]
    pub name: String,
    /// Takes of each phrase: one is enough in a quiet bay, two are better
    #[arg(long, value_name = "NUMBER", default_value = "1", value_parser = clap::value_parser!(u8).range(1..=2))]
    pub takes: u8,
    /// Take sound from this WAV or FLAC file instead of the microphone: the phrases in their order
    #[arg(long, value_name = "FILE")]
    pub wav: Option<PathBuf>,
    /// List the phrases in the order they are asked for, and learn nothing
    #[arg(long)]
    pub list: bool,
    /// Microphone to use, by name
    #[arg(long, value_name = "NAME")]
    pub microphone: Option<String>,
    /// Loudspeaker to use, by name
    #[arg(long, value_name = "NAME")]
    pub loudspeaker: Option<String>,
}

/// Delete a voice.
#[derive(Debug, ClapArgs)]
pub struct Forget {
    /// Its name
    #[arg(value_parser = profile_name)]
    pub name: String,
}

/// Speak.
#[derive(Debug, ClapArgs)]
pub struct Say {
    /// The text
    pub text: String,
    /// Write a WAV file instead of playing it
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// 1 is the voice's own speed, 2 twice as fast; the one in the settings if none is given
    #[arg(long, value_name = "FACTOR")]
    pub pace: Option<f32>,
    /// Loudspeaker to use, by name
    #[arg(long, value_name = "NAME")]
    pub loudspeaker: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::Args;
    use clap::CommandFactory;

    /// No two arguments of one command have the same name, and the like: what clap finds only when it meets the command.
    #[test]
    fn the_arguments_of_every_command_go_together() {
        Args::command().debug_assert();
    }
}
