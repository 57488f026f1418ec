//! The outline of a procedure: its steps in order, with what is done again, what depends on an answer, a measurement or the vehicle,
//! and what waits. For its author, who sees every way through it at a glance.
//!
//! Knows the procedure. Pure; leaves to `check` whether those ways are right. No two rounds overlap (`procedure::resolve`), so that
//! one bar beside the steps draws them all.

use crate::procedure::{Act, MeasureIx, Phase, Procedure, Step, Until, When};
use std::fmt::Write;

/// Columns of a line, as a terminal has them at least.
const WIDTH: usize = 80;

/// In front of a text: the bar, and a number of up to three digits.
const MARGIN: usize = 8;

/// The outline, as lines for a terminal.
pub fn outline(book: &Procedure) -> String {
    let mut lines = vec![format!("{} ({})", book.title, book.vehicle)];
    let mut phase = None;
    for (n, step) in book.steps.iter().enumerate() {
        let round = book.steps.iter().enumerate().skip(n).find_map(|(last, step)| {
            let until = step.until.as_ref()?;
            (until.from <= n).then_some((until, last))
        });
        if phase != Some(step.phase) {
            phase = Some(step.phase);
            lines.extend([String::new(), named(step.phase).to_owned()]);
        }
        let (first, rest) = match round {
            Some((until, last)) if until.from == last => ('↻', ' '),
            Some((until, _)) if until.from == n => ('┌', '│'),
            Some((_, last)) if last == n => ('└', ' '),
            Some(_) => ('│', '│'),
            None => (' ', ' '),
        };
        let texts = std::iter::once(said(book, step)).chain(notes(book, n));
        for (k, text) in texts.enumerate() {
            let indent = if k == 0 { 0 } else { 2 };
            for (m, line) in wrapped(&text, WIDTH - MARGIN - indent).into_iter().enumerate() {
                let head = match (k, m) {
                    (0, 0) => format!(" {first} {:>3}  ", n + 1),
                    _ => format!(" {rest}      {:indent$}", ""),
                };
                lines.push(head + &line);
            }
        }
    }
    lines.iter().fold(String::new(), |mut all, line| {
        all += line.trim_end();
        all.push('\n');
        all
    })
}

fn named(phase: Phase) -> &'static str {
    match phase {
        Phase::Prepare => "Prepare",
        Phase::Strip => "Strip",
        Phase::Inspect => "Inspect",
        Phase::Rebuild => "Rebuild",
        Phase::Close => "Close",
    }
}

/// What is done, behind what it depends on.
fn said(book: &Procedure, step: &Step) -> String {
    let mut conditions = Vec::new();
    if let Some(only) = step.only {
        conditions.push(format!("the vehicle {}", book.variants[only.0].name));
    }
    match step.when {
        Some(When::No(asked)) => conditions.push(format!("after a no to {}", asked + 1)),
        Some(When::Outside(ix)) => conditions.push(format!("{} outside its limits", measured(book, ix))),
        None => {}
    }
    match conditions.as_slice() {
        [] => step.say.clone(),
        all => format!("[only: {}] {}", all.join(", "), step.say),
    }
}

/// What goes with a step: what it waits for, measures and asks, in the order in which that comes.
fn notes(book: &Procedure, n: usize) -> Vec<String> {
    let step = &book.steps[n];
    let mut notes = Vec::new();
    if let Some(needs) = step.needs {
        notes.push(format!("the vehicle must be {}", book.conditions[needs.0].name));
    }
    if let Some(within) = &step.within {
        notes.push(format!("within {} of {}; later: {}", within.time, within.after + 1, within.late));
    }
    for act in &step.acts {
        if let Act::Measure(m) = act {
            let mut text = format!("measures {}", m.what);
            if m.limits.least.or(m.limits.most).is_none() {
                text += ", which is only recorded";
            } else if m.leads {
                text += "; what follows depends on it";
            } else {
                let _ = write!(text, "; outside its limits: {}", m.otherwise);
            }
            if let Some(from) = m.from {
                let _ = write!(text, " (its limits count from {})", measured(book, from));
            }
            notes.push(text);
        }
    }
    if let Some(minutes) = step.wait_minutes {
        notes.push(format!("waits {minutes} min"));
    }
    if let Some(question) = step.hold.as_ref() {
        notes.push(format!("goes on with a yes: {question}"));
    }
    if let Some(question) = step.ask.as_ref() {
        let led: Vec<String> =
            (1..).zip(&book.steps).filter(|(_, s)| s.when == Some(When::No(n))).map(|(n, _)| n.to_string()).collect();
        notes.push(format!("asks: {question} After a no: {}", led.join(", ")));
    }
    if let Some(until) = &step.until {
        notes.push(again(until, n));
    }
    if let Some(later) = &step.later {
        notes.push(format!("is due only after the job is closed: {later}"));
    }
    notes
}

/// How a round ends.
fn again(until: &Until, n: usize) -> String {
    let from = if until.from == n { "done again".to_owned() } else { format!("again from {}", until.from + 1) };
    let ends = match &until.ask {
        Some(ask) => format!("until the answer is yes: {ask}"),
        None => "until that is inside its limits".to_owned(),
    };
    match (until.at_most, &until.otherwise) {
        (Some(most), Some(otherwise)) => format!("{from} {ends} At most {most} times, then: {otherwise}"),
        _ => format!("{from} {ends}"),
    }
}

/// A measurement, by what is measured and where.
fn measured(book: &Procedure, ix: MeasureIx) -> String {
    let named = &book.named[ix.0];
    format!("{} ({})", named.what, named.step + 1)
}

/// A text in lines of so many columns at most, but for a word that is longer.
fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines
            .last_mut()
            .filter(|line| line.chars().count() + 1 + word.chars().count() <= columns || line.is_empty());
        match line {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) => {
                line.push(' ');
                line.push_str(word);
            }
            None => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::{self, ConditionIx, VariantIx};

    #[test]
    fn every_way_through_a_procedure_is_seen() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/tarnfell-charging.toml");
        let mut book = procedure::load(path.as_ref()).unwrap();
        book.steps.drain(..9);
        for step in &mut book.steps {
            (step.when, step.within, step.needs) = (None, None, None);
            step.until.iter_mut().for_each(|until| until.from -= 9);
        }
        book.named.iter_mut().for_each(|named| named.step = named.step.saturating_sub(9));
        book.steps[3].until = None;
        book.steps[2].when = Some(When::Outside(MeasureIx(0)));
        book.steps[2].until = Some(Until {
            ask: Some("Is it full?".into()),
            from: 1,
            at_most: Some(3),
            otherwise: Some("Renew the battery.".into()),
        });
        book.steps[4].ask = Some("Is it cold?".into());
        book.steps[5].when = Some(When::No(4));
        book.steps[5].only = Some(VariantIx(0));
        book.steps[5].needs = Some(ConditionIx(0));
        book.steps[5].until = Some(Until { ask: Some("Is it so?".into()), from: 5, at_most: None, otherwise: None });
        book.steps[5].later = Some("after 50 km".into());
        book.steps.truncate(6);
        let (what, named) = (&book.named[0].what, book.named[0].step + 1);
        let condition = format!("the vehicle must be {}", book.conditions[0].name);
        let variant = format!("[only: the vehicle {}, after a no to 5]", book.variants[0].name);
        let text = outline(&book);
        for line in [
            "Inspect",
            " ┌   2  ",
            &format!(" └   3  [only: {what} ({named}) outside its limits]"),
            "          again from 2 until the answer is yes: Is it full? At most 3 times,",
            "          asks: Is it cold? After a no: 6",
            &format!(" ↻   6  {variant}"),
            &format!("          {condition}"),
            "          done again until the answer is yes: Is it so?",
            "          is due only after the job is closed: after 50 km",
        ] {
            assert!(text.lines().any(|shown| shown.starts_with(line)), "{line:?} in\n{text}");
        }
    }

    #[test]
    fn a_step_begins_one_line_and_no_line_is_longer_than_a_terminal() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures");
        let paths = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let books: Vec<_> = paths.filter(|path| path.extension().is_some_and(|ending| ending == "toml")).collect();
        assert!(books.len() > 5, "{books:?}");
        for path in books {
            let book = procedure::load(&path).unwrap();
            let text = outline(&book);
            assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
            let begun = text.lines().filter_map(|line| {
                let number: String = line.chars().skip(2).take(4).collect();
                number.trim().parse::<usize>().ok()
            });
            assert!(begun.eq(1..=book.steps.len()), "{text}");
        }
    }

    #[test]
    fn a_long_word_is_not_lost() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("incomprehensibilities at last", 7), ["incomprehensibilities", "at last"]);
        assert_eq!(wrapped("", 7), [""]);
    }
}
