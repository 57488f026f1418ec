//! What is on the page: the step, the value in hand, the picture of its group, what was said, what is open.

use crate::dialogue::{Sentence, Words};
use crate::drawing;
use crate::job::{Answer, Follows, Job, Open, Pending, Say};
use crate::procedure::{Signal, StageKind};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Who listens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ears {
    /// Commands are heard.
    Listening,
    /// Only the word to begin again is heard.
    Off,
    /// A note is recorded.
    Noting,
    /// The job is put down; only what takes it up again is heard.
    Waiting,
    /// Commands are typed; nobody listens.
    Typed,
}

/// What there is to show.
pub struct View<'a> {
    /// The job.
    pub job: &'a Job,
    /// What was said last.
    pub said: &'a [Sentence],
    /// Who listens.
    pub ears: Ears,
    /// Whose learnt voice is listened with.
    pub own_voice: Option<&'a str>,
    /// The procedure has mistakes that nobody put right.
    pub unchecked: bool,
}

/// Open points that find room.
const OPEN_SHOWN: usize = 4;
/// Sentences that find room.
const SAID_SHOWN: usize = 4;

/// A value, in three sizes.
struct Value {
    above: String,
    big: String,
    below: String,
}

impl View<'_> {
    /// The part of the page that changes.
    pub fn markup(&self, words: &Words<'_>) -> Markup {
        let (job, book) = (self.job, self.job.book());
        let step = &book.steps[job.position()];
        let pending = job.pending();
        let question = job.question().map(|q| words.says(&[Say::Question(q.clone())]));
        html! {
            header {
                p.step { (words.label("step")) " " (job.position() + 1) " " (words.label("glance_of")) " " (book.steps.len())
                    @if let Some(Say::Round { round, .. }) = job.round_in_hand() { " · " (words.label("glance_round")) " " (round) }
                }
                p.phase { (words.phase(step.phase)) }
                @if self.unchecked { p.unchecked { "⚠ " (words.label("glance_unchecked")) } }
                (self.ears(words))
            }
            div.work {
                section.now {
                    @if let Some(state) = self.over(words) {
                        p.big.mid { (state) }
                    } @else if let Some(question) = question {
                        p.name { (words.label("glance_question")) }
                        @for sentence in question { p.big.text { (sentence.written) } }
                    } @else if let Some(pending) = &pending {
                        (self.pending(pending, words))
                    } @else {
                        p.big.text { (step.say) }
                    }
                }
                @if let (Some(pending), None) = (&pending, self.over(words)) {
                    figure { (self.picture(pending, words)) }
                }
            }
            footer {
                // Warnings before everything else, and in smaller letters rather than cut off.
                @let news = self.news(words);
                section.said.many[news.len() >= 3] {
                    @for sentence in &news { (said(sentence, words)) }
                    @if pending.is_some() || job.question().is_some() { p { (step.say) } }
                }
                (self.open(words))
            }
        }
    }

    fn over(&self, words: &Words<'_>) -> Option<String> {
        let key = match (self.job.closed(), self.job.is_paused()) {
            (Some(_), _) => "glance_closed",
            (None, true) => "glance_paused",
            _ => return None,
        };
        Some(words.label(key).to_owned())
    }

    fn ears(&self, words: &Words<'_>) -> Markup {
        // A shape for each: it must not hang on the colour.
        let (shape, class, key) = match self.ears {
            Ears::Listening => ("●", "on", "glance_listening"),
            Ears::Off => ("✕", "off", "glance_not_listening"),
            Ears::Noting => ("◉", "noting", "glance_noting"),
            Ears::Waiting => ("‖", "off", "glance_waiting"),
            Ears::Typed => ("▭", "typed", "glance_typed"),
        };
        // Nobody's voice is listened with where commands are typed.
        let own = self.own_voice.filter(|_| self.ears != Ears::Typed);
        html! {
            p class={ "ears " (class) } {
                span aria-hidden="true" { (shape) } " " (words.label(key))
                @if let Some(own) = own { " · " (words.label("glance_own_voice")) " " (own) }
            }
        }
    }

    fn pending(&self, pending: &Pending, words: &Words<'_>) -> Markup {
        let value = value(pending, words);
        // Long values in smaller letters, so that they stay on their line.
        let size = match value.big.chars().count() {
            0..=8 => "huge",
            9..=14 => "large",
            15..=22 => "mid",
            _ => "text",
        };
        html! {
            p.name {
                (capital(&words.item(pending.group, pending.item)))
                @if pending.items > 1 { " " span.rank { (pending.rank + 1) " " (words.label("glance_of")) " " (pending.items) } }
            }
            @if pending.stages > 1 {
                p.stage { (words.label("stage")) " " (pending.stage + 1) " " (words.label("glance_of")) " " (pending.stages) }
            }
            @if !value.above.is_empty() { p.above { (value.above) } }
            p class={ "big " (size) } { (value.big) }
            @if !value.below.is_empty() { p.below { (value.below) } }
        }
    }

    fn picture(&self, pending: &Pending, words: &Words<'_>) -> Markup {
        let fastener = &self.job.book().fasteners[pending.group.0];
        let items = self.job.ledger().items(pending.group);
        let title = format!("{}: {}", fastener.plural, words.label("drawing"));
        drawing::svg(fastener, items, Some(pending.item), &title, |_| None)
    }

    /// What was said and is not on the page anyway.
    fn news(&self, words: &Words<'_>) -> Vec<&Sentence> {
        let shown = words.says(&self.shown());
        let serious = |s: &&Sentence| s.signal.is_some();
        let plain = |s: &&Sentence| s.signal.is_none() && !shown.iter().any(|other| other.written == s.written);
        let mut all: Vec<&Sentence> = self.said.iter().filter(serious).collect();
        // Warnings come first and are never crowded out.
        all.sort_by_key(|s| std::cmp::Reverse(s.signal));
        let room = SAID_SHOWN.saturating_sub(all.len());
        let others: Vec<&Sentence> = self.said.iter().filter(plain).collect();
        all.extend(&others[others.len().saturating_sub(room)..]);
        all
    }

    /// What the page shows in a way of its own, as it would be said.
    fn shown(&self) -> Vec<Say> {
        let (job, step) = (self.job, self.job.position());
        let phase = job.book().steps[step].phase;
        let mut says = vec![
            Say::Step { step, phase: None },
            Say::Step { step, phase: Some(phase) },
            Say::Where { step, steps: job.book().steps.len() },
        ];
        says.extend(job.question().map(|q| Say::Question(q.clone())));
        says.extend(job.round_in_hand());
        if let Some(pending) = job.pending() {
            says.push(Say::Answer(Answer::Value(pending.clone())));
            for follows in [Follows::Nothing, Follows::SameStage, Follows::SameItem, Follows::SameGroup] {
                says.push(Say::Pending(Pending { follows, ..pending.clone() }));
            }
        }
        says
    }

    fn open(&self, words: &Words<'_>) -> Markup {
        let open = match self.job.closed() {
            Some(open) => open.to_vec(),
            None => self.job.open_points(self.job.position()),
        };
        html! {
            section.open {
                h2 { (words.label("glance_open")) ": " (open.len()) }
                @if open.is_empty() { p { (words.label("nothing_open")) } }
                ul {
                    @for point in open.iter().take(OPEN_SHOWN) { li { (self.point(point, words)) } }
                    @if open.len() > OPEN_SHOWN { li.more { "+ " (open.len() - OPEN_SHOWN) } }
                }
            }
        }
    }
}

impl View<'_> {
    /// An open point; of many fasteners only how many, for the line is short.
    fn point(&self, point: &Open, words: &Words<'_>) -> String {
        match point {
            Open::Fasteners { group, items, state } if items.len() > 1 => {
                let plural = &self.job.book().fasteners[group.0].plural;
                format!("{} {plural}: {}", items.len(), words.item_state(*group, *state))
            }
            other => words.open(other),
        }
    }
}

fn said(sentence: &Sentence, words: &Words<'_>) -> Markup {
    let Some(signal) = sentence.signal else { return html! { p { (sentence.written) } } };
    let word = words.signal(signal);
    let text = sentence
        .written
        .strip_prefix(word)
        .map_or(sentence.written.as_str(), |t| t.trim_start_matches(['.', ',', ' ']));
    let class = match signal {
        Signal::Note => "signal note",
        Signal::Caution => "signal caution",
        Signal::Warning => "signal warning",
        Signal::Danger => "signal danger",
    };
    html! { p { strong class=(class) { (word) } " " (text) } }
}

/// The value of a stage, below what it waits for.
fn value(pending: &Pending, words: &Words<'_>) -> Value {
    let value = bare(&Pending { waits: None, ..pending.clone() }, words);
    match words.once(pending) {
        Some(once) => Value { above: format!("{}. {}", capital(&once), value.above).trim().to_owned(), ..value },
        None => value,
    }
}

/// The value by itself; the unit and the published value are part of it.
fn bare(pending: &Pending, words: &Words<'_>) -> Value {
    let whole = words.stage(pending);
    let split = |text: &str| match text.split_once(" (") {
        Some((big, below)) => (big.to_owned(), below.trim_end_matches(')').to_owned()),
        None => (text.to_owned(), String::new()),
    };
    match &pending.kind {
        Some(StageKind::Torque(_)) => {
            // "Left-hand thread" stands above the number, which stays the largest thing on the page.
            let torque = words.torque_of(pending).unwrap_or_default();
            let (above, value) = whole.strip_suffix(&torque).map_or(("", &whole), |above| (above, &torque));
            let (big, below) = split(value);
            Value { above: capital(above.trim_end_matches([',', ' '])), big, below }
        }
        // A turn that was begun or interrupted is told in full.
        Some(StageKind::Angle(_) | StageKind::BackOff(_) | StageKind::Slot(_))
            if pending.turned.is_none() && !pending.interrupted =>
        {
            let angle = words.angle_of(pending).unwrap_or_default();
            let above = whole.strip_suffix(&angle).unwrap_or_default().trim().to_owned();
            let (big, below) = split(&angle);
            Value { above: capital(&above), big, below }
        }
        _ => Value { above: String::new(), big: capital(&whole), below: String::new() },
    }
}

/// The whole page round what changes. `events`: where its changes come from.
pub fn page(words_tag: &str, lost: &str, title: &str, events: &str, now: &str) -> String {
    let page = html! {
        (DOCTYPE)
        html lang=(words_tag) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                link rel="stylesheet" href="/glance.css";
                noscript { meta http-equiv="refresh" content="4"; }
            }
            body {
                p #lost hidden role="alert" { (lost) }
                main #page data-events=(events) { (PreEscaped(now)) }
                script src="/glance.js" {}
            }
        }
    };
    page.into_string()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialogue::{Language, Manner};
    use crate::job::Follows;
    use crate::procedure::FastenerIx;
    use crate::quantity::TorqueUnit;

    #[test]
    fn the_torque_of_a_left_hand_thread_is_the_largest_thing_too() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/tarnfell-front-lower-arm-left.toml");
        let mut book = crate::procedure::load(path.as_ref()).unwrap();
        let group = book
            .fasteners
            .iter()
            .position(|f| matches!(f.finish.stage(0).map(|s| &s.kind), Some(StageKind::Torque(_))));
        let group = group.unwrap();
        let pending = Pending {
            group: FastenerIx(group),
            item: 0,
            rank: 0,
            items: 1,
            stage: 0,
            stages: 1,
            kind: Some(StageKind::Torque("38 N·m".parse().unwrap())),
            new: false,
            turned: None,
            interrupted: false,
            counted: None,
            waits: None,
            follows: Follows::Nothing,
        };
        for (left_hand, above) in [(false, ""), (true, "Left-hand thread")] {
            book.fasteners[group].left_hand = left_hand;
            for unit in [None, Some(TorqueUnit::PoundForceFoot)] {
                let manner = Manner { unit, ..Manner::default() };
                let language = Language::english();
                let value = value(&pending, &language.words(&book, &manner));
                assert_eq!(value.above, above);
                let number = if unit.is_none() { "38 N·m" } else { "≈ 28 lbf·ft" };
                assert_eq!(value.big, number);
                assert_eq!(value.below.is_empty(), unit.is_none(), "{}", value.below);
            }
        }
    }
}
