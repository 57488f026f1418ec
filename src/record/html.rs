//! The record as one HTML page: nothing in it comes from outside, and it reads the same in black and white.

use super::document::*;
use crate::dialogue::Words;
use crate::drawing::{Look, symbol};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The style of every page of this room.
pub(super) const STYLE: &str = include_str!("page.css");

/// The page.
pub fn page(record: &Record, words: &Words<'_>) -> String {
    let l = |key| words.label(key);
    let body = html! {
        header {
            h1 { (record.job.title) }
            p.vehicle { (record.job.vehicle) @if let Some(variant) = &record.job.variant { ", " (variant) } }
            p { span.state { (job_state(record.job.state, words)) } }
            (times(record, words))
        }
        p.defer { strong { (record.deference) } }
        @for remark in face(record, words) { p.defer { strong { (remark) } } }
        (source(record, words))
        h2 { (l("open_points")) }
        @if record.open.is_empty() {
            p { (l("nothing_open")) }
        } @else {
            ul { @for open in &record.open { li.heavy { (open) } } }
        }
        h2 { (l("fasteners")) }
        (legend(words))
        @for group in &record.fasteners { (self::group(group, words)) }
        @if !record.measurements.is_empty() { (measurements(record, words)) }
        @if !record.parts.is_empty() { (parts(record, words)) }
        @if !record.cautions.is_empty() { (cautions(record, words)) }
        (confirmed(record, words))
        @if !record.notes.is_empty() { (notes(record, words)) }
        (steps(record, words))
        @if !record.pictures.is_empty() { (pictures(record, words)) }
        (facts(record, words))
        div.signature { span { (l("sign_name")) } span { (l("sign_date")) } span { (l("sign_hand")) } }
        p.small { (l("not_who")) }
        p.small { (made_of(record, words)) }
    };
    document(&record.job.title, words, body)
}

/// A whole page round its body.
pub(super) fn document(title: &str, words: &Words<'_>, body: Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang=(words.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                // Nothing may be loaded, whatever a text holds; pictures and the sound of notes are in the page.
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; media-src data:; img-src data:";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) }
        }
    };
    page.into_string()
}

/// A moment in the user's zone and in UTC, to the minute; JSON has the seconds.
pub(super) fn moment(moment: &Moment) -> String {
    let part = |text: &str, range: std::ops::Range<usize>| text.get(range).unwrap_or_default().to_owned();
    let (day, time, offset) =
        (part(&moment.local, 0..10), part(&moment.local, 11..16), part(&moment.local, 19..moment.local.len()));
    let (utc_day, utc_time) = (part(&moment.utc, 0..10), part(&moment.utc, 11..16));
    let told = match offset.as_str() {
        "+00:00" => format!("{day} {time} UTC"),
        _ if day == utc_day => format!("{day} {time} {offset} ({utc_time} UTC)"),
        _ => format!("{day} {time} {offset} ({utc_day} {utc_time} UTC)"),
    };
    moment.remark.as_ref().map_or(told.clone(), |remark| format!("{told}, {remark}"))
}

/// What a reader has to know before anything else: that the record is not whole, or the procedure had mistakes.
pub(super) fn face(record: &Record, words: &Words<'_>) -> Vec<String> {
    let l = |key| words.label(key);
    let broken = record.broken.as_ref().map(|b| format!("{} {}: {}.", l("not_followed"), b.line, b.reason));
    let unchecked = record.unchecked.map(|mistakes| format!("{}: {mistakes}.", l("unchecked")));
    broken.into_iter().chain(unchecked).collect()
}

/// The words for the state of a job.
pub(super) fn job_state<'a>(state: JobState, words: &Words<'a>) -> String {
    let key = match state {
        JobState::Running => "job_running",
        JobState::Paused => "job_paused",
        JobState::Closed => "job_closed",
        JobState::ClosedWithOpenPoints => "job_closed_open",
    };
    words.label(key).to_owned()
}

fn times(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    let job = &record.job;
    html! {
        table {
            tr { th { (l("job")) } td { (job.name) } }
            tr { th { (l("began")) } td { (moment(&job.began)) } }
            @if let Some(last) = &job.last { tr { th { (l("last")) } td { (moment(last)) } } }
            @if let Some(closed) = &job.closed { tr { th { (l("closed")) } td { (moment(closed)) } } }
            tr { th { (l("stands_at")) } td { (job.step) " / " (record.steps.len()) } }
        }
    }
}

fn source(record: &Record, words: &Words<'_>) -> Markup {
    let source = &record.source;
    html! {
        h2 { (words.label("source")) }
        p { (source.title) ", " (source.edition) @if let Some(chapter) = &source.chapter { ", " (chapter) } "." }
        @if let Some(note) = &source.note { p.heavy { (note) } }
        p.small { (words.label("written_down_by")) " " (record.procedure.author) "." }
    }
}

fn legend(words: &Words<'_>) -> Markup {
    let looks = [
        (Look::Untouched, "look_untouched"),
        (Look::Loose, "look_loose"),
        (Look::Started, "look_started"),
        (Look::Stage(1, 3), "look_stage"),
        (Look::Final, "look_final"),
        (Look::Doubt, "look_doubt"),
        (Look::Scrapped, "look_scrapped"),
    ];
    html! {
        p.legend.small { @for (look, key) in looks { span { (symbol(look)) (words.label(key)) } } }
        p.small.scheme { (words.label("scheme")) }
    }
}

/// What there is to know of a group besides its stages and states.
pub(super) fn kind(group: &Group, words: &Words<'_>) -> String {
    let l = |key| words.label(key);
    let line = [
        group.thread.clone(),
        group.class.as_ref().map(|c| format!("{} {c}", l("class"))),
        group.left_hand.then(|| l("left_hand_thread").to_owned()),
        group.lock.as_ref().map(|lock| format!("{} {lock}", l("lock"))),
        group.drive.clone(),
        group.preparation.clone(),
        group.single_use.then(|| l("single_use").to_owned()),
        group.page.clone(),
    ];
    line.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// A text with the page that it is from, if there is one.
pub(super) fn with_page(text: &str, page: Option<&String>) -> String {
    page.map_or_else(|| text.to_owned(), |page| format!("{text} ({page})"))
}

/// What is measured, with the pages of its limits and of the sizes that it chooses from.
pub(super) fn measured(m: &MeasurementInfo, words: &Words<'_>) -> String {
    let sizes = m.sizes_page.as_ref().map(|page| format!("{}: {page}", words.label("sizes_at_hand")));
    let pages: Vec<String> = m.page.iter().cloned().chain(sizes).collect();
    with_page(&m.what, Some(&pages.join("; ")).filter(|pages| !pages.is_empty()))
}

fn group(group: &Group, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        section.group {
            h3 { (capital(if group.items.len() == 1 { &group.name } else { &group.plural })) }
            p.small { (kind(group, words)) }
            div.side {
                (PreEscaped(&group.drawing))
                div {
                    table {
                        thead { tr { th { (l("stage")) } th { (l("asks")) } } }
                        @for (n, stage) in group.stages.iter().enumerate() {
                            tr { td { (n + 1) } td { (with_page(&stage.asks, stage.page.as_ref())) } }
                        }
                    }
                }
            }
            table {
                thead { tr { th { (l("order")) } th { (l("place")) } th { (l("state")) } th { (l("stages_done")) } } }
                @for item in in_order(group) {
                    tr {
                        td { (item.order) }
                        td { (item.place) }
                        td { (item_state(item, words)) }
                        td { @for stage in &item.stages { div { (stage_done(stage, words)) } } }
                    }
                }
            }
        }
    }
}

/// The items of a group in the order of tightening.
pub(super) fn in_order(group: &Group) -> Vec<&ItemInfo> {
    let mut items: Vec<&ItemInfo> = group.items.iter().collect();
    items.sort_by_key(|item| item.order);
    items
}

/// The state of an item in words, with what else there is to say of it.
pub(super) fn item_state(item: &ItemInfo, words: &Words<'_>) -> String {
    let mut text = item.state_text.clone();
    if item.new_used > 1 {
        text.push_str(&format!(", {} {}", item.new_used, words.label("new_used")));
    }
    for (is, key) in [(item.new && item.new_used <= 1, "new"), (item.runs > 1, "again")] {
        if is {
            text.push_str(", ");
            text.push_str(words.label(key));
        }
    }
    text
}

/// A stage that was done.
pub(super) fn stage_done(stage: &StageDone, words: &Words<'_>) -> String {
    let reading = stage
        .reading
        .as_ref()
        .map_or(String::new(), |r| format!(", {} {}", words.label("read"), sent(r, stage.from.as_ref())));
    format!("{} {}: {}{reading}", words.label("stage"), stage.stage, moment(&stage.at))
}

fn measurements(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("measurements")) }
        table {
            thead { tr { th { (l("step")) } th { (l("what")) } th { (l("limits")) } th { (l("reading")) } th { (l("time")) } } }
            @for m in &record.measurements {
                @for (n, (reading, at)) in readings(m, words).into_iter().enumerate() {
                    tr {
                        @if n == 0 {
                            td { (m.step) }
                            td { (measured(m, words)) }
                            td { (m.limits) }
                        } @else {
                            td {} td {} td {}
                        }
                        td { (reading) }
                        td { (at) }
                    }
                }
            }
        }
    }
}

/// Every reading of a measurement with its verdict, in order, and when it was taken. What is to be done about one that
/// is outside stands with the last.
pub(super) fn readings(m: &MeasurementInfo, words: &Words<'_>) -> Vec<(String, String)> {
    if m.readings.is_empty() {
        let key = if m.not_needed { "step_not_needed" } else { "not_measured" };
        return vec![(words.label(key).to_owned(), String::new())];
    }
    let last = m.readings.iter().rposition(|r| !r.taken_back);
    let told = |(n, r): (usize, &MeasurementReading)| {
        let reading = sent(&r.reading, r.from.as_ref());
        let mut text = format!("{reading}{}", verdict(r.within, words));
        if r.taken_back {
            text = format!("{text}, {}", words.label("taken_back"));
        } else if r.within == Some(false) && Some(n) == last {
            let left = if m.left { format!(", {}", words.label("step_skipped")) } else { String::new() };
            text = format!("{text}{left}: {}", m.otherwise);
        }
        (text, moment(&r.at))
    };
    m.readings.iter().enumerate().map(told).collect()
}

fn parts(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("parts")) }
        table {
            thead { tr { th { (l("part")) } th { (l("count")) } th { (l("number")) } th { (l("held")) } } }
            @for part in &record.parts {
                tr {
                    td { (part.name) } td { (part.count) } td { (part.number.as_deref().unwrap_or("")) }
                    td { (held(part, words)) }
                }
            }
        }
    }
}

/// What the ledger holds of a part.
pub(super) fn held(part: &PartInfo, words: &Words<'_>) -> String {
    match part.held {
        Some(PartHeld::NewFasteners(n)) => format!("{n} {}", words.label("held_new")),
        Some(PartHeld::PutOn) => words.label("held_put_on").to_owned(),
        Some(PartHeld::NotPutOn) => words.label("held_not_put_on").to_owned(),
        Some(PartHeld::NotNeeded) => words.label("step_not_needed").to_owned(),
        None => words.label("held_nothing").to_owned(),
    }
}

/// A caution, and whether it stands while its cause does.
pub(super) fn given(caution: &CautionInfo, words: &Words<'_>) -> String {
    let standing = caution.standing.then(|| format!(" ({})", words.label("standing")));
    format!("{}{}", caution.say, standing.unwrap_or_default())
}

fn cautions(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("cautions")) }
        table {
            thead { tr { th { (l("signal")) } th { (l("caution")) } th { (l("with_steps")) } th { (l("first_given")) } } }
            @for c in &record.cautions {
                tr {
                    td.heavy { (c.signal_word) }
                    td { (given(c, words)) }
                    td { (numbers(&c.steps)) }
                    td { (moment(&c.first)) }
                }
            }
        }
    }
}

fn confirmed(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("confirmed")) }
        p.small { (l("confirmed_how")) }
        table {
            thead { tr { th { (l("time")) } th { (l("step")) } th { (l("question")) } } }
            @for c in &record.confirmed { tr { td { (moment(&c.at)) } td { (c.step) } td { (c.question) } } }
        }
    }
}

fn notes(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("notes")) }
        @for note in &record.notes {
            section.group {
                p.small { (moment(&note.at)) ", " (l("step")) " " (note.step) }
                @if let Some(text) = &note.text { p { (text) } }
                @if let Some(file) = &note.file {
                    @if let Some(sound) = &note.sound { audio controls src=(sound) {} } @else { p { (l("note_gone")) } }
                    p.small { (sound(file, note.seconds)) }
                }
            }
        }
    }
}

/// The file of a spoken note, and how long it is.
pub(super) fn sound(file: &str, seconds: Option<f64>) -> String {
    seconds.map_or_else(|| file.to_owned(), |seconds| format!("{file}, {seconds:.1} s"))
}

/// The program and the procedure, so that both can be told from any other.
pub(super) fn made_of(record: &Record, words: &Words<'_>) -> String {
    let (procedure, written) = (&record.procedure, moment(&record.written));
    format!(
        "{} · {} {written} · {} {} · SHA-256 {}",
        record.program,
        words.label("written"),
        procedure.id,
        procedure.revision,
        procedure.sha256
    )
}

fn steps(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("steps")) }
        table {
            thead { tr { th { (l("step")) } th { (l("phase")) } th { (l("what")) } th { (l("state")) } th { (l("time")) } } }
            @for step in &record.steps {
                tr {
                    td { (step.number) } td { (step.phase) } td { (told(step, words)) @if step.marked { strong { " ▸ " (l("marked")) } } }
                    td { (step_state(step, words)) } td { @if let Some(at) = &step.at { (moment(at)) } }
                }
            }
        }
    }
}

fn pictures(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (capital(l("picture"))) }
        @for picture in &record.pictures {
            figure {
                img src=(picture.image) alt=(picture.name);
                figcaption.small {
                    (picture.name)
                    @if !picture.steps.is_empty() { " · " (l("step")) " " (numbers(&picture.steps)) }
                    @for group in &picture.groups { " · " (capital(group)) }
                }
            }
        }
    }
}

/// The sentence of a step, and what goes with it.
pub(super) fn told(step: &StepInfo, words: &Words<'_>) -> String {
    let picture = step.picture.as_ref().map(|picture| format!("({}: {picture})", words.label("picture")));
    let later = step.later.as_ref().map(|later| format!("({} {later})", words.label("due_later")));
    // Somebody else does that.
    let helper = step.helper.as_ref().map(|helper| format!("({}: {helper})", words.label("second_person")));
    let all = [Some(step.say.clone()), helper, step.within.clone(), later, picture];
    all.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// The state of a step in words.
pub(super) fn step_state(step: &StepInfo, words: &Words<'_>) -> String {
    let key = match step.state {
        StepStateName::Open => "step_open",
        StepStateName::Skipped => "step_skipped",
        StepStateName::Done => "step_done",
        StepStateName::NotNeeded => "step_not_needed",
    };
    let state = words.label(key).to_owned();
    step.rounds_done.map_or(state.clone(), |rounds| format!("{state}, {}: {rounds}", words.label("rounds")))
}

/// The reading that came with a fact, and its verdict.
pub(super) fn read(fact: &FactInfo, words: &Words<'_>) -> String {
    let Some(reading) = &fact.reading else { return String::new() };
    format!(": {}{}", sent(reading, fact.from.as_ref()), verdict(fact.within, words))
}

/// Where a reading lies, put behind it; nothing where it is held against nothing.
fn verdict(within: Option<bool>, words: &Words<'_>) -> String {
    within.map_or_else(String::new, |within| format!(", {}", words.label(if within { "within" } else { "outside" })))
}

/// A reading, with the tool that sent it if one did.
fn sent(reading: &str, from: Option<&String>) -> String {
    from.map_or_else(|| reading.to_owned(), |tool| format!("{reading} ({tool})"))
}

fn facts(record: &Record, words: &Words<'_>) -> Markup {
    let l = |key| words.label(key);
    html! {
        h2 { (l("facts")) }
        table.small {
            thead { tr { th { (l("time")) } th { (l("step")) } th { (l("fact")) } } }
            @for fact in &record.facts {
                tr {
                    td { (moment(&fact.at)) } td { (fact.step) }
                    td {
                        span.gone[fact.taken_back.is_some()] { (capital(&fact.fact)) (read(fact, words)) }
                        @if let Some(at) = &fact.taken_back { " " (l("taken_back")) " " (moment(at)) }
                    }
                }
            }
        }
    }
}

/// Numbers in a row, runs of them shortened.
pub(super) fn numbers(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let shown = runs.iter().map(|(from, to)| match to - from {
        0 => format!("{from}"),
        1 => format!("{from}, {to}"),
        _ => format!("{from}–{to}"),
    });
    shown.collect::<Vec<_>>().join(", ")
}

/// The text with its first letter as a capital.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
