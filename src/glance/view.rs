//! What is on the page: the cautions that hold, the step or value in hand, the picture of its group, what was said, what is
//! open.

use super::top::Top;
use super::value::{capital, value};
use crate::dialogue::{Language, Sentence, Tone, Words};
use crate::drawing;
use crate::job::{Answer, Follows, Item, Open, Pending, Say};
use crate::procedure::{Act, Signal, Step};
use crate::session::{Measuring, Shown};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// A job on the page.
pub struct View<'a> {
    /// The job as it stands.
    pub job: &'a Shown,
    /// What was said last.
    pub said: &'a [Sentence],
}

/// Open points that find room.
const OPEN_SHOWN: usize = 4;
/// Sentences that find room.
const SAID_SHOWN: usize = 4;

impl View<'_> {
    /// How far the job is, in words.
    pub fn place(&self, language: &Language) -> String {
        let (at, of) = (self.job.step + 1, self.job.book.steps.len());
        let place = format!("{} {at} {} {of}", language.label("step"), language.label("glance_of"));
        match &self.job.round {
            Some(Say::Round { round, .. }) => format!("{place} · {} {round}", language.label("glance_round")),
            _ => place,
        }
    }

    fn step(&self) -> &Step {
        &self.job.book.steps[self.job.step]
    }

    /// The part of the page that changes.
    pub fn markup(&self, top: &Top<'_>, words: &Words<'_>) -> Markup {
        let (job, step) = (self.job, self.step());
        let pending = &job.pending;
        let over = self.over(words);
        let question = self.question(words);
        let due = if over.is_none() && question.is_empty() && pending.is_none() { self.due(words) } else { None };
        let beside =
            over.is_some() || !question.is_empty() || pending.is_some() || due.is_some() && job.waits.is_none();
        html! {
            (top.markup())
            (self.cautions(words))
            div.work {
                section.now {
                    @if let Some(state) = over {
                        p class={ "big " (size(&state)) } { (state) }
                        // Asked about the words that are waited for.
                        @for sentence in question { p.big.text { (sentence) } }
                    } @else if !question.is_empty() {
                        p.name { (words.label("glance_question")) }
                        @for sentence in question { p.big.text { (sentence) } }
                    } @else if let Some((pending, _)) = pending {
                        (self.pending(pending, words))
                    } @else if let Some(due) = due {
                        (due)
                    } @else {
                        p.big.text { (step.say) }
                    }
                    @for beside in self.beside(words) { p.below { (beside) } }
                }
                @if let (Some((pending, items)), None) = (pending, self.over(words)) {
                    figure { (self.picture(pending, items, words)) }
                }
            }
            footer {
                section.said {
                    @for sentence in self.news(words) { (said(sentence, words)) }
                    @if beside && !job.closed { p.say { (step.say) } }
                }
                (self.open(words))
            }
        }
    }

    /// What goes with the step in hand: the time there is for it, what a second person does, where its picture is.
    fn beside(&self, words: &Words<'_>) -> Vec<String> {
        let (job, step) = (self.job, self.step());
        if job.closed || job.paused {
            return Vec::new();
        }
        let mut told: Vec<String> = Vec::new();
        if step.within.is_some() {
            told.extend(words.says(job.time.as_slice()).into_iter().map(|s| s.written));
        }
        told.extend(
            words
                .says(&[Say::Step { step: job.step, phase: None }])
                .into_iter()
                .skip_while(|s| s.signal.is_some())
                .skip(1)
                .map(|s| s.written),
        );
        let of_group = job.stage().and_then(|pending| job.book.fasteners[pending.group.0].picture.as_ref());
        let pictures = step.picture.iter().chain(of_group.filter(|picture| step.picture.as_ref() != Some(*picture)));
        told.extend(pictures.map(|picture| format!("{}: {picture}", capital(words.label("picture")))));
        told
    }

    /// The cautions that hold, the worst first; they stay whatever is said meanwhile.
    fn cautions(&self, words: &Words<'_>) -> Markup {
        let mut all = self.held(words);
        all.sort_by_key(|s| std::cmp::Reverse(s.signal));
        html! {
            @if !all.is_empty() {
                section.cautions { @for sentence in &all { (said(sentence, words)) } }
            }
        }
    }

    fn held(&self, words: &Words<'_>) -> Vec<Sentence> {
        let mut says = self.job.in_force.clone();
        if !self.job.closed {
            // Which way left-hand threads turn is said with the step.
            says.push(Say::Step { step: self.job.step, phase: None });
        }
        let mut held = words.says(&says);
        held.retain(|s| s.signal.is_some());
        held
    }

    fn over(&self, words: &Words<'_>) -> Option<String> {
        let key = match (self.job.closed, self.job.paused) {
            (true, _) => "glance_closed",
            (false, true) => "glance_paused",
            _ => return None,
        };
        Some(words.label(key).to_owned())
    }

    /// The question that stands, or else what was asked last about the words that were heard.
    fn question(&self, words: &Words<'_>) -> Vec<String> {
        if let Some(question) = &self.job.question {
            return words.says(&[Say::Question(question.clone())]).into_iter().map(|s| s.written).collect();
        }
        let asked = self.said.last().filter(|s| s.tone == Tone::Question);
        asked.map(|s| s.written.clone()).into_iter().collect()
    }

    fn pending(&self, pending: &Pending, words: &Words<'_>) -> Markup {
        let value = value(pending, words);
        html! {
            p.name {
                (capital(&words.item(pending.group, pending.item)))
                @if pending.items > 1 { " " span.rank { (pending.rank + 1) " " (words.label("glance_of")) " " (pending.items) } }
            }
            @if pending.stages > 1 {
                p.stage { (words.label("stage")) " " (pending.stage + 1) " " (words.label("glance_of")) " " (pending.stages) }
            }
            @if !value.above.is_empty() { p.above { (value.above) } }
            p class={ "big " (size(&value.big)) } { (value.big) }
            @if !value.below.is_empty() { p.below { (value.below) } }
        }
    }

    /// What is due where it is no stage: a measurement with its limits, a new bolt, what stands in the way.
    fn due(&self, words: &Words<'_>) -> Option<Markup> {
        if let Some(measuring) = self.job.measuring.as_ref().and_then(|measuring| self.measuring(measuring, words)) {
            return Some(measuring);
        }
        if let Some(minutes) = self.job.waits {
            let minutes = words.minutes(minutes);
            return Some(html! { p.name { (self.step().say) } p class={ "big " (size(&minutes)) } { (minutes) } });
        }
        let due = words.says(&self.job.due);
        (!due.is_empty()).then(|| html! { @for sentence in due { p.big.text { (sentence.written) } } })
    }

    fn measuring(&self, measuring: &Measuring, words: &Words<'_>) -> Option<Markup> {
        let Act::Measure(m) = &self.step().acts[measuring.act] else { return None };
        let limits = words.bounds(&measuring.limits);
        // Behind what is to be measured stands what there is at hand for it.
        let awaits = |say: &&Say| matches!(say, Say::AwaitMeasure { .. } | Say::AwaitCounted { .. });
        let awaits = self.job.due.iter().find(awaits).map(std::slice::from_ref).unwrap_or_default();
        let at_hand = words.says(awaits).into_iter().skip(1).map(|s| s.written);
        Some(html! {
            p.name { (capital(&m.what)) }
            @if limits.is_empty() { p.big.text { (self.step().say) } } @else { p class={ "big " (size(&limits)) } { (capital(&limits)) } }
            @if let Some(value) = measuring.outside {
                p.above { (words.quantity(value)) ", " (words.label("outside")) }
                p.below { (m.otherwise) }
            }
            @for fits in at_hand { p { (fits) } }
        })
    }

    fn picture(&self, pending: &Pending, items: &[Item], words: &Words<'_>) -> Markup {
        let fastener = &self.job.book.fasteners[pending.group.0];
        let title = format!("{}: {}", fastener.plural, words.label("drawing"));
        drawing::svg(fastener, items, Some(pending.item), &title, |_| None)
    }

    /// What was said and is not on the page anyway.
    fn news(&self, words: &Words<'_>) -> Vec<&Sentence> {
        let (shown, asked) = (words.says(&self.shown()), self.question(words));
        let there = |s: &Sentence| shown.iter().any(|other| other.written == s.written) || asked.contains(&s.written);
        let new: Vec<&Sentence> = self.said.iter().filter(|s| !there(s)).collect();
        // Warnings come first and are never crowded out.
        let mut all: Vec<&Sentence> = new.iter().copied().filter(|s| s.signal.is_some()).collect();
        all.sort_by_key(|s| std::cmp::Reverse(s.signal));
        let room = SAID_SHOWN.saturating_sub(all.len());
        let others: Vec<&Sentence> = new.into_iter().filter(|s| s.signal.is_none()).collect();
        all.extend(&others[others.len().saturating_sub(room)..]);
        all
    }

    /// What the page shows in a way of its own, as it would be said.
    fn shown(&self) -> Vec<Say> {
        let (job, step) = (self.job, self.job.step);
        let phase = self.step().phase;
        let mut says = vec![
            Say::Step { step, phase: None },
            Say::Step { step, phase: Some(phase) },
            Say::Where { step, steps: job.book.steps.len() },
        ];
        says.extend(job.round.clone());
        for held in &job.in_force {
            if let Say::Caution(caution) | Say::Forewarning(caution) = held {
                says.push(Say::Standing(caution.clone()));
                says.push(Say::Caution(caution.clone()));
            }
            says.push(held.clone());
        }
        // That a number is awaited, and between which limits, stands large.
        says.extend(job.due.iter().filter(|say| !matches!(say, Say::AwaitCounted { .. })).cloned());
        if let Some(pending) = job.stage() {
            says.push(Say::Answer(Answer::Value(pending.clone())));
            for follows in [Follows::Nothing, Follows::SameStage, Follows::SameItem, Follows::SameGroup] {
                says.push(Say::Pending(Pending { follows, ..pending.clone() }));
            }
        }
        says
    }

    fn open(&self, words: &Words<'_>) -> Markup {
        let open = &self.job.open;
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

    /// An open point; of many fasteners only how many, for the line is short.
    fn point(&self, point: &Open, words: &Words<'_>) -> String {
        match point {
            Open::Fasteners { group, items, state, over } if items.len() > 1 && over.is_empty() => {
                let plural = &self.job.book.fasteners[group.0].plural;
                format!("{} {plural}: {}", items.len(), words.item_state(*group, *state))
            }
            other => words.open(other),
        }
    }
}

/// Where no job is in hand: what is asked or told instead, the last `large` sentences so. `closed` is the job closed before, if
/// one was.
pub fn without_job(top: &Top<'_>, said: &[Sentence], large: usize, closed: Option<(&Shown, &Words<'_>)>) -> Markup {
    let (before, last) = said.split_at(said.len().saturating_sub(large));
    html! {
        (top.markup())
        div.work {
            section.now { @for sentence in last { p.big.text { (sentence.written) } } }
        }
        footer {
            section.said { @for sentence in before { p { (sentence.written) } } }
            @if let Some((job, words)) = closed { (View { job, said }.open(words)) }
        }
    }
}

/// Long values in smaller letters, so that they stay on their line.
fn size(value: &str) -> &'static str {
    match value.chars().count() {
        0..=8 => "huge",
        9..=14 => "large",
        15..=22 => "mid",
        _ => "text",
    }
}

/// Of lines that hold several ways to say a thing each, as help is written, the first way of each.
fn first_phrases(text: &str) -> String {
    if !text.contains('\n') {
        return text.to_owned();
    }
    text.lines().map(|line| line.split(" · ").next().unwrap_or_default()).collect::<Vec<_>>().join(" · ")
}

fn said(sentence: &Sentence, words: &Words<'_>) -> Markup {
    let Some(signal) = sentence.signal else { return html! { p { (first_phrases(&sentence.written)) } } };
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
