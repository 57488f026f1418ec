//! What the program says of itself, not of the job.

use super::file::Language;
use super::meaning::{MEANINGS, Shape, row_of};
use super::templates::Templates;
use super::understand::{NotUnderstood, Odd};
use super::{Sentence, Tone};
use crate::job::Expect;
use minijinja::{Value, context};

/// What the program can say of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Notice {
    /// Something was said and not understood.
    Misheard,
    /// It listens only for the word to begin again.
    ListeningOff,
    /// It listens again.
    ListeningOn,
    /// It speaks slower.
    Slower,
    /// It speaks faster.
    Faster,
    /// It speaks louder.
    Louder,
    /// It speaks more quietly.
    Quieter,
    /// Slower, faster, louder or quieter than this is not on offer.
    NoMore,
    /// There is nothing to say again.
    NothingToRepeat,
    /// The journal lost its last line.
    TornLine,
    /// A damaged end of the journal was cut off, because the user asked for it.
    Salvaged {
        /// Lines cut off.
        dropped: usize,
    },
    /// The job was begun with version 0.1 of the program.
    Older,
    /// The job goes by a procedure in which the check had found mistakes.
    Unchecked,
    /// The machine's clock was set while the session lasts.
    ClockSet,
    /// The procedure file is not the one the job began with.
    BookChanged,
    /// No microphone any more.
    MicrophoneLost,
    /// The microphone works again.
    MicrophoneBack,
    /// The microphone brings dead silence: it may be muted.
    MicrophoneSilent,
    /// The voice in it is faint.
    MicrophoneFaint,
    /// The voice in it is cut off at full scale.
    MicrophoneClipped,
    /// A steady noise is in it.
    MicrophoneHum,
    /// No loudspeaker any more.
    LoudspeakerLost,
    /// The loudspeaker works again.
    LoudspeakerBack,
    /// Sound comes faster than it can be listened to, and is dropped.
    HearingLost,
    /// Sound is listened to again.
    HearingBack,
    /// Something may have been said that could not be heard.
    Unheard,
    /// The program's own voice cannot be taken out of the sound any more.
    EchoLost,
    /// One of the two listeners does not answer any more.
    SecondLost,
    /// The session is in the background of a shell, where nothing can be typed.
    KeyboardAway,
    /// The session cannot go on.
    HaveToStop,
    /// The job is put down, and nothing is listened for but what takes it up again.
    Waiting,
    /// Nobody has taken the job up again for so long that nothing is listened for any more.
    WaitedLong,
    /// No job was chosen for too long, and it is not listened for any longer.
    NothingChosen,
    /// A note is recorded from now on.
    NoteBegins,
    /// Nothing was spoken into the note.
    NoteNothing,
    /// Where there is no microphone a note is typed.
    NoteTyped,
    /// The command needs a toolbox, and none is named.
    NoToolbox,
    /// What a tool sends is not in the form that the settings describe.
    ToolUnreadable,
    /// A tool sends nothing any more.
    ToolLost,
    /// It is there again.
    ToolBack,
    /// A typed line is no text, or too long.
    LineUnreadable,
    /// A value is asked by name, and no page of values is named.
    NoValues,
    /// A value is asked about, and none was told yet.
    ValueFirst,
}

impl Notice {
    /// All of them.
    pub const ALL: &'static [Notice] = &[
        Notice::Misheard,
        Notice::ListeningOff,
        Notice::ListeningOn,
        Notice::Slower,
        Notice::Faster,
        Notice::Louder,
        Notice::Quieter,
        Notice::NoMore,
        Notice::NothingToRepeat,
        Notice::TornLine,
        Notice::Salvaged { dropped: 1 },
        Notice::Salvaged { dropped: 12 },
        Notice::Older,
        Notice::Unchecked,
        Notice::ClockSet,
        Notice::BookChanged,
        Notice::MicrophoneLost,
        Notice::MicrophoneBack,
        Notice::MicrophoneSilent,
        Notice::MicrophoneFaint,
        Notice::MicrophoneClipped,
        Notice::MicrophoneHum,
        Notice::LoudspeakerLost,
        Notice::LoudspeakerBack,
        Notice::HearingLost,
        Notice::HearingBack,
        Notice::Unheard,
        Notice::EchoLost,
        Notice::SecondLost,
        Notice::KeyboardAway,
        Notice::HaveToStop,
        Notice::Waiting,
        Notice::WaitedLong,
        Notice::NothingChosen,
        Notice::NoteBegins,
        Notice::NoteNothing,
        Notice::NoteTyped,
        Notice::NoToolbox,
        Notice::ToolUnreadable,
        Notice::ToolLost,
        Notice::ToolBack,
        Notice::LineUnreadable,
        Notice::NoValues,
        Notice::ValueFirst,
    ];

    fn key(self) -> &'static str {
        match self {
            Notice::Misheard => "notice_misheard",
            Notice::ListeningOff => "notice_listening_off",
            Notice::ListeningOn => "notice_listening_on",
            Notice::Slower => "notice_slower",
            Notice::Faster => "notice_faster",
            Notice::Louder => "notice_louder",
            Notice::Quieter => "notice_quieter",
            Notice::NoMore => "notice_no_more",
            Notice::NothingToRepeat => "notice_nothing_to_repeat",
            Notice::TornLine => "notice_torn_line",
            Notice::Salvaged { .. } => "notice_salvaged",
            Notice::Older => "notice_older",
            Notice::Unchecked => "notice_unchecked",
            Notice::ClockSet => "notice_clock_set",
            Notice::BookChanged => "notice_book_changed",
            Notice::MicrophoneLost => "notice_microphone_lost",
            Notice::MicrophoneBack => "notice_microphone_back",
            Notice::MicrophoneSilent => "notice_microphone_silent",
            Notice::MicrophoneFaint => "notice_microphone_faint",
            Notice::MicrophoneClipped => "notice_microphone_clipped",
            Notice::MicrophoneHum => "notice_microphone_hum",
            Notice::LoudspeakerLost => "notice_loudspeaker_lost",
            Notice::LoudspeakerBack => "notice_loudspeaker_back",
            Notice::HearingLost => "notice_hearing_lost",
            Notice::HearingBack => "notice_hearing_back",
            Notice::Unheard => "notice_unheard",
            Notice::EchoLost => "notice_echo_lost",
            Notice::SecondLost => "notice_second_lost",
            Notice::KeyboardAway => "notice_keyboard_away",
            Notice::HaveToStop => "notice_have_to_stop",
            Notice::Waiting => "notice_waiting",
            Notice::WaitedLong => "notice_waited_long",
            Notice::NothingChosen => "notice_nothing_chosen",
            Notice::NoteBegins => "notice_note_begins",
            Notice::NoteNothing => "notice_note_nothing",
            Notice::NoteTyped => "notice_note_typed",
            Notice::NoToolbox => "notice_no_toolbox",
            Notice::ToolUnreadable => "notice_tool_unreadable",
            Notice::ToolLost => "notice_tool_lost",
            Notice::ToolBack => "notice_tool_back",
            Notice::LineUnreadable => "notice_line_unreadable",
            Notice::NoValues => "notice_no_values",
            Notice::ValueFirst => "notice_value_first",
        }
    }
}

/// As many phrases as a listener keeps in mind.
const SPOKEN_HELP: usize = 6;

impl Language {
    /// The sentence for a notice.
    pub fn notice(&self, notice: Notice) -> Sentence {
        let tone = if notice == Notice::Misheard { Tone::Refusal } else { Tone::Plain };
        let count = match notice {
            Notice::Salvaged { dropped } => Some(dropped),
            _ => None,
        };
        self.told(notice.key(), tone, |_| context! { count })
    }

    /// The sentence for a typed line that is no command.
    pub fn not_understood(&self, line: &NotUnderstood) -> Sentence {
        match line.odd {
            Some(Odd::Asked) => return self.was_a_question(),
            Some(Odd::Comma) => return self.told("notice_comma", Tone::Refusal, |_| context! {}),
            Some(Odd::BelowZero) => return self.told("notice_below_zero", Tone::Refusal, |_| context! {}),
            Some(Odd::Prefix) => return self.told("notice_prefix", Tone::Refusal, |_| context! {}),
            None => {}
        }
        let near = |spoken: bool| -> Vec<String> {
            let slot = |name: &str| if spoken { String::new() } else { format!("‹{}›", self.word(name)) };
            let number = if spoken { self.word("said_number").to_owned() } else { slot("slot_number") };
            let fill = |text: &String| self.filled(text, &number, &slot("slot_unit"));
            line.near.iter().map(fill).map(|text| text.trim().to_owned()).collect()
        };
        self.told("notice_not_understood", Tone::Refusal, |spoken| {
            context! { near => near(spoken), left_over => &line.left_over }
        })
    }

    /// The sentence for a line that would be more than a question, but is put as one.
    pub fn was_a_question(&self) -> Sentence {
        self.told("notice_was_a_question", Tone::Refusal, |_| context! {})
    }

    /// Tells which other jobs are unfinished.
    pub fn unfinished(&self, titles: &[String]) -> Sentence {
        self.told("notice_unfinished", Tone::Plain, |_| context! { things => titles.to_vec() })
    }

    /// Asks back about a phrase that may have been said.
    pub fn did_you_say(&self, phrase: &str) -> Sentence {
        let words = self.shown(phrase);
        self.told("notice_did_you_say", Tone::Question, |_| context! { words => &words })
    }

    /// A phrase with its slots filled.
    fn filled(&self, phrase: &str, number: &str, unit: &str) -> String {
        let minute = &self.units().minute().many;
        phrase.replace("{number}", number).replace("{unit}", unit).replace("{minutes}", minute)
    }

    /// The phrases of a meaning as they may be said now: each with each place, if it is of places.
    pub(super) fn phrases_of(&self, key: &str, expect: &Expect) -> Vec<String> {
        let texts = self.patterns(key).iter().map(|p| &p.text);
        let placed = |text: &String| match text.contains("{place}") {
            true => expect.places.iter().map(|place| text.replace("{place}", place)).collect(),
            false => vec![text.clone()],
        };
        texts.flat_map(placed).collect()
    }

    /// What can be said now: spoken the few most useful, written all of it.
    pub fn help(&self, expect: &Expect) -> Vec<Sentence> {
        let allowed: Vec<&str> = MEANINGS.iter().filter(|row| row.allowed(expect)).map(|row| row.key).collect();
        let fill = |text: &str, number: &str, unit: &str| self.shown(&self.filled(text, number, unit));
        // While a question stands its answers are all that helps.
        let useful = |key: &str| match key {
            "yes" | "no" | "not_begun" | "finished" => true,
            "not_sure" => expect.angle,
            _ => !expect.yes_no && !expect.angle && says_itself(key),
        };
        let first = allowed.iter().filter(|key| useful(key)).take(SPOKEN_HELP).filter_map(|key| {
            let first = self.patterns(key).first()?;
            Some(fill(&first.text, self.word("said_number"), ""))
        });
        let context = context! { phrases => first.collect::<Vec<_>>() };
        let spoken = self.speakable(&self.sentence(true, "help_spoken", context));
        let slot = |name: &str| format!("‹{}›", self.word(name));
        let (number, unit) = (slot("slot_number"), slot("slot_unit"));
        let line = |key: &&str| {
            let phrases = self.phrases_of(key, expect);
            phrases.iter().map(|text| fill(text, &number, &unit)).collect::<Vec<_>>().join(" · ")
        };
        let written = allowed.iter().map(line).collect::<Vec<_>>().join("\n");
        vec![Sentence { spoken, written, signal: None, tone: Tone::Plain }]
    }

    /// A sentence in both ways, whose variables do not depend on a procedure.
    pub(super) fn told(&self, key: &str, tone: Tone, context: impl Fn(bool) -> Value) -> Sentence {
        let spoken = self.speakable(&self.sentence(true, key, context(true)));
        Sentence { spoken, written: self.sentence(false, key, context(false)), signal: None, tone }
    }
}

/// Can the phrase be said as it stands, or is it known by its number ("reading …")?
fn says_itself(key: &str) -> bool {
    matches!(row_of(key).map(|row| &row.shape), Some(Shape::Plain(_) | Shape::Reading))
}

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("notice_misheard", &[]),
    ("notice_did_you_say", &["words"]),
    ("notice_not_understood", &["left_over", "near"]),
    ("notice_was_a_question", &[]),
    ("notice_comma", &[]),
    ("notice_below_zero", &[]),
    ("notice_prefix", &[]),
    ("notice_listening_off", &[]),
    ("notice_listening_on", &[]),
    ("notice_slower", &[]),
    ("notice_faster", &[]),
    ("notice_louder", &[]),
    ("notice_quieter", &[]),
    ("notice_no_more", &[]),
    ("notice_nothing_to_repeat", &[]),
    ("notice_torn_line", &[]),
    ("notice_salvaged", &["count"]),
    ("notice_older", &[]),
    ("notice_unchecked", &[]),
    ("notice_clock_set", &[]),
    ("notice_book_changed", &[]),
    ("notice_microphone_lost", &[]),
    ("notice_microphone_back", &[]),
    ("notice_microphone_silent", &[]),
    ("notice_microphone_faint", &[]),
    ("notice_microphone_clipped", &[]),
    ("notice_microphone_hum", &[]),
    ("notice_loudspeaker_lost", &[]),
    ("notice_loudspeaker_back", &[]),
    ("notice_hearing_lost", &[]),
    ("notice_hearing_back", &[]),
    ("notice_unheard", &[]),
    ("notice_echo_lost", &[]),
    ("notice_second_lost", &[]),
    ("notice_keyboard_away", &[]),
    ("notice_have_to_stop", &[]),
    ("notice_unfinished", &["things"]),
    ("notice_waiting", &[]),
    ("notice_waited_long", &[]),
    ("notice_nothing_chosen", &[]),
    ("notice_note_begins", &[]),
    ("notice_note_nothing", &[]),
    ("notice_note_typed", &[]),
    ("notice_no_toolbox", &[]),
    ("notice_tool_unreadable", &[]),
    ("notice_tool_lost", &[]),
    ("notice_tool_back", &[]),
    ("notice_line_unreadable", &[]),
    ("notice_no_values", &[]),
    ("notice_value_first", &[]),
    ("help_spoken", &["phrases"]),
];
