//! The record as Markdown.

use super::document::*;
use super::html::{
    capital, face, given, held, in_order, item_state, job_state, kind, made_of, measured, moment, numbers, read,
    readings, sound, stage_done, step_state, told, with_page,
};
use crate::dialogue::Words;
use std::fmt::Write;

/// Dots of a line to write on.
const SIGNED: usize = 48;

/// The document.
pub fn document(record: &Record, words: &Words<'_>) -> String {
    let l = |key| words.label(key);
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    let job = &record.job;
    line(format!("# {}\n", plain(&job.title)));
    let variant = job.variant.as_ref().map_or(String::new(), |variant| format!(", {variant}"));
    line(format!("{}\n\n**{}**\n", plain(&format!("{}{variant}", job.vehicle)), job_state(job.state, words)));
    line(format!("> **{}**\n", plain(&record.deference)));
    for remark in face(record, words) {
        line(format!("> **{}**\n", plain(&remark)));
    }
    line(format!("- {}: {}", l("job"), plain(&job.name)));
    line(format!("- {}: {}", l("began"), moment(&job.began)));
    for (key, at) in [("last", &job.last), ("closed", &job.closed)] {
        if let Some(at) = at {
            line(format!("- {}: {}", l(key), moment(at)));
        }
    }
    line(format!("- {}: {} / {}", l("stands_at"), job.step, record.steps.len()));
    let source = &record.source;
    let chapter = source.chapter.as_ref().map_or(String::new(), |c| format!(", {c}"));
    line(format!("\n## {}\n\n{}.", l("source"), plain(&format!("{}, {}{chapter}", source.title, source.edition))));
    if let Some(note) = &source.note {
        line(format!("\n**{}**", plain(note)));
    }
    line(format!("\n{} {}.", l("written_down_by"), plain(&record.procedure.author)));
    line(format!("\n## {}\n", l("open_points")));
    if record.open.is_empty() {
        line(l("nothing_open").to_owned());
    }
    for open in &record.open {
        line(format!("- **{}**", plain(open)));
    }
    line(format!("\n## {}", l("fasteners")));
    for group in &record.fasteners {
        line(format!("\n### {}\n", plain(&capital(if group.items.len() == 1 { &group.name } else { &group.plural }))));
        let kind = kind(group, words);
        if !kind.is_empty() {
            line(format!("{}\n", plain(&kind)));
        }
        let asked =
            |(n, stage): (usize, &StageInfo)| vec![(n + 1).to_string(), with_page(&stage.asks, stage.page.as_ref())];
        line(table(&[l("stage"), l("asks")], group.stages.iter().enumerate().map(asked)));
        let rows = in_order(group).into_iter().map(|item| {
            let stages = item.stages.iter().map(|s| stage_done(s, words)).collect::<Vec<_>>().join("; ");
            vec![item.order.to_string(), item.place.clone(), item_state(item, words), stages]
        });
        line(table(&[l("order"), l("place"), l("state"), l("stages_done")], rows));
    }
    if !record.measurements.is_empty() {
        let all = record.measurements.iter().flat_map(|m| readings(m, words).into_iter().map(move |r| (m, r)));
        let rows = all.map(|(m, (reading, at))| {
            let what = measured(m, words);
            vec![m.step.to_string(), what, m.limits.clone(), reading, at]
        });
        line(format!("## {}\n", l("measurements")));
        line(table(&[l("step"), l("what"), l("limits"), l("reading"), l("time")], rows));
    }
    if !record.parts.is_empty() {
        let rows = record
            .parts
            .iter()
            .map(|p| vec![p.name.clone(), p.count.to_string(), p.number.clone().unwrap_or_default(), held(p, words)]);
        line(format!("## {}\n", l("parts")));
        line(table(&[l("part"), l("count"), l("number"), l("held")], rows));
    }
    if !record.cautions.is_empty() {
        let rows = record
            .cautions
            .iter()
            .map(|c| vec![c.signal_word.clone(), given(c, words), numbers(&c.steps), moment(&c.first)]);
        line(format!("## {}\n", l("cautions")));
        line(table(&[l("signal"), l("caution"), l("with_steps"), l("first_given")], rows));
    }
    let rows = record.confirmed.iter().map(|c| vec![moment(&c.at), c.step.to_string(), c.question.clone()]);
    line(format!("## {}\n\n{}\n", l("confirmed"), l("confirmed_how")));
    line(table(&[l("time"), l("step"), l("question")], rows));
    if !record.notes.is_empty() {
        line(format!("## {}\n", l("notes")));
        for note in &record.notes {
            let gone = note.file.is_some() && note.sound.is_none();
            let what = [
                note.text.clone(),
                note.file.as_ref().map(|file| sound(file, note.seconds)),
                gone.then(|| l("note_gone").to_owned()),
            ];
            let what = what.into_iter().flatten().collect::<Vec<_>>().join(". ");
            line(format!("- {}, {} {}: {}", moment(&note.at), l("step"), note.step, plain(&what)));
        }
        line(String::new());
    }
    let at = |s: &StepInfo| s.at.as_ref().map_or(String::new(), moment);
    let rows = record.steps.iter().map(|s| {
        let marked = if s.marked { format!(" ▸ {}", l("marked")) } else { String::new() };
        let say = format!("{}{marked}", told(s, words));
        vec![s.number.to_string(), s.phase.clone(), say, step_state(s, words), at(s)]
    });
    line(format!("## {}\n", l("steps")));
    line(table(&[l("step"), l("phase"), l("what"), l("state"), l("time")], rows));
    let rows = record.facts.iter().map(|f| {
        let reading = read(f, words);
        let back = f.taken_back.as_ref().map_or(String::new(), |at| format!(" ({} {})", l("taken_back"), moment(at)));
        vec![moment(&f.at), f.step.to_string(), format!("{}{reading}{back}", capital(&f.fact))]
    });
    line(format!("## {}\n", l("facts")));
    line(table(&[l("time"), l("step"), l("fact")], rows));
    for key in ["sign_name", "sign_date", "sign_hand"] {
        line(format!("{}: {}\n", l(key), ".".repeat(SIGNED)));
    }
    line(format!("{}\n", l("not_who")));
    line(plain(&made_of(record, words)));
    out
}

fn table(head: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut out = format!("| {} |\n|{}\n", head.join(" | "), " --- |".repeat(head.len()));
    for row in rows {
        let cells: Vec<String> = row.iter().map(|cell| plain(cell)).collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
    out
}

/// Text in which no sign means anything to Markdown.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '\n' | '\r' => out.push(' '),
            '\\' | '&' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '!' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    out
}
