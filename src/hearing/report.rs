//! The tables, and the same for programs.

use super::losses::{Fate, Losses};
use super::moment::Moment;
use super::people;
use super::set::Part;
use super::tally::{Count, Ears, False, Tally, Who};
use super::trial::Stretch;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;

/// What is hoped for, on voices that nothing was chosen on.
const CLEAN: Goal = Goal { level: None, right: 97.0, wrong: 0.5 };
const NOISY: Goal = Goal { level: Some(10), right: 85.0, wrong: 1.0 };
const WAIT_MEDIAN: f64 = 250.0;
const WAIT_MOST: f64 = 400.0;
const IDLE: f64 = 5.0;
const AN_HOUR: f64 = 1.0;
const DENIED: f64 = 1.0;

struct Goal {
    level: Option<i32>,
    /// At least, in per cent.
    right: f64,
    /// At most.
    wrong: f64,
}

/// A quiet room, or so many decibels.
pub(super) fn level_name(level: Option<i32>) -> String {
    level.map_or("clean".into(), |db| format!("{db} dB"))
}

fn percent(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

/// The tables of the people or of the synthetic voices of one part.
pub fn tables(part: Part, who: Who, tallies: &[(Ears, Tally)]) -> String {
    let mut text = String::new();
    let Some((_, both)) = tallies.iter().find(|(ears, _)| *ears == Ears::Both) else { return text };
    if !both.levels.is_empty() {
        let _ = writeln!(
            text,
            "\nCommands, {}, {}: right / wrong (harmless+moves+claims) / missed",
            part.name(),
            who.name()
        );
        let _ = write!(text, "{:8} {:>5}", "", "of");
        for (ears, _) in tallies {
            let _ = write!(text, "  {:>29}", ears.name());
        }
        text.push('\n');
        for (level, count) in both
            .levels
            .iter()
            .rev()
            .filter(|(l, _)| l.is_none())
            .chain(both.levels.iter().rev().filter(|(l, _)| l.is_some()))
        {
            let _ = write!(text, "{:8} {:>5}", level_name(*level), count.of);
            for (_, tally) in tallies {
                let count = tally.levels.get(level).cloned().unwrap_or_default();
                let [harmless, moves, claims] = count.wrong;
                let shown = format!("{} / {harmless}+{moves}+{claims} / {}", count.right, count.missed);
                let _ = write!(
                    text,
                    "  {:>18} {:5.1}/{:4.1}",
                    shown,
                    percent(count.right, count.of),
                    percent(count.all_wrong(), count.of)
                );
            }
            text.push('\n');
        }
        people::tables(&mut text, both);
        asked(&mut text, tallies);
        let _ = writeln!(
            text,
            "\nFrom the last sample of speech to the decision, both listeners, in ms: half within / 95 of 100 within"
        );
        for (level, count) in &both.levels {
            if let (Some(half), Some(most)) = (count.wait(0.5), count.wait(0.95)) {
                let _ = writeln!(text, "{:40} {half:5.0} / {most:.0}", level_name(*level));
            }
        }
        for (open, count) in &both.could_go_on {
            let name =
                if *open { "clean, where a longer phrase may follow" } else { "clean, where nothing may follow" };
            if let (Some(half), Some(most)) = (count.wait(0.5), count.wait(0.95)) {
                let _ = writeln!(text, "{name:40} {half:5.0} / {most:.0}");
            }
        }
        if who == Who::Voices {
            by(&mut text, "By voice, both listeners: right / wrong / of", &voices(both));
        }
        by(&mut text, "By noise, both listeners: right / wrong / of", &noises(both));
        by(&mut text, "By moment, both listeners", &moments(both));
    }
    if !both.mistaken.is_empty() {
        let _ = writeln!(text, "\nMistaken, both listeners, clean to 10 dB: said, heard, times");
        for ((said, heard), times) in &both.mistaken {
            let _ = writeln!(text, "  {said:34} {heard:40} {times}");
        }
    }
    nothing(&mut text, tallies, both);
    people::talk(&mut text, both);
    text
}

/// Of what was missed, what a question saves.
fn asked(text: &mut String, tallies: &[(Ears, Tally)]) {
    let _ = writeln!(text, "\nMissed, but asked back (\"Did you say ...?\"): what was meant / something else");
    for (ears, tally) in tallies.iter().filter(|(ears, _)| ears.ask()) {
        let _ = write!(text, "  {:26}", ears.name());
        let clean = tally.levels.iter().filter(|(level, _)| level.is_none());
        for (level, count) in clean.chain(tally.levels.iter().rev().filter(|(level, _)| level.is_some())) {
            let shown = format!("{}/{} of {}", count.asked[0], count.asked[1], count.missed);
            let _ = write!(text, "  {}: {shown:12}", level_name(*level));
        }
        text.push('\n');
    }
}

type Row = (String, BTreeMap<Option<i32>, Count>);

fn voices(tally: &Tally) -> Vec<Row> {
    let mut rows: BTreeMap<String, BTreeMap<Option<i32>, Count>> = BTreeMap::new();
    for ((voice, level), count) in &tally.voices {
        rows.entry(voice.clone()).or_default().insert(*level, count.clone());
    }
    rows.into_iter().collect()
}

fn noises(tally: &Tally) -> Vec<Row> {
    let mut rows: BTreeMap<String, BTreeMap<Option<i32>, Count>> = BTreeMap::new();
    for ((noise, level), count) in &tally.noises {
        rows.entry(noise.clone()).or_default().insert(Some(*level), count.clone());
    }
    rows.into_iter().collect()
}

fn moments(tally: &Tally) -> Vec<Row> {
    tally
        .moments
        .iter()
        .map(|(moment, count)| (moment.name().to_owned(), BTreeMap::from([(None, count.clone())])))
        .collect()
}

fn by(text: &mut String, title: &str, rows: &[Row]) {
    if rows.is_empty() {
        return;
    }
    let _ = writeln!(text, "\n{title}");
    for (name, levels) in rows {
        let _ = write!(text, "  {name:26}");
        let clean = levels.iter().filter(|(level, _)| level.is_none());
        for (level, count) in clean.chain(levels.iter().rev().filter(|(level, _)| level.is_some())) {
            let shown = format!("{}/{}/{}", count.right, count.all_wrong(), count.of);
            let _ = write!(text, "  {}: {shown:10}", level_name(*level));
        }
        text.push('\n');
    }
}

fn nothing(text: &mut String, tallies: &[(Ears, Tally)], both: &Tally) {
    denials(text, tallies, both);
    if both.nothing.keys().all(is_denial) {
        return;
    }
    let _ = writeln!(text, "\nDone where nothing was meant: harmless+moves+claims");
    let _ = write!(text, "{:44} {:>6}", "", "hours");
    for (ears, _) in tallies {
        let _ = write!(text, "  {:>13}", ears.name());
    }
    let _ = writeln!(text, "  {:>11}", "asked, both");
    for (place, found) in both.nothing.iter().filter(|(place, _)| !is_denial(place)) {
        let _ = write!(text, "{:44} {:6.2}", place_name(place), found.hours);
        for (_, tally) in tallies {
            let [harmless, moves, claims] = tally.nothing.get(place).map_or([0; 3], |found| found.actions);
            let _ = write!(text, "  {:>13}", format!("{harmless}+{moves}+{claims}"));
        }
        let _ = writeln!(text, "  {:>11}", found.asked);
        for (phrase, times) in &found.phrases {
            let _ = writeln!(text, "    \"{phrase}\" {times}");
        }
    }
}

fn is_denial(place: &super::tally::Where) -> bool {
    place.1 == Stretch::Denial
}

/// Sentences that deny, doubt, ask or come close, each played by itself.
fn denials(text: &mut String, tallies: &[(Ears, Tally)], both: &Tally) {
    if !both.nothing.keys().any(is_denial) {
        return;
    }
    let _ = writeln!(text, "\nDenials taken for something: harmless+moves+claims, of so many");
    let _ = write!(text, "{:44} {:>6}", "", "of");
    for (ears, _) in tallies {
        let _ = write!(text, "  {:>13}", ears.name());
    }
    let _ = writeln!(text, "  {:>11}  {:>20}", "asked, both", "told what is to do");
    for (place, found) in both.nothing.iter().filter(|(place, _)| is_denial(place)) {
        let _ = write!(text, "{:44} {:6}", place.0.name(), found.of);
        for (_, tally) in tallies {
            let [harmless, moves, claims] = tally.nothing.get(place).map_or([0; 3], |found| found.actions);
            let _ = write!(text, "  {:>13}", format!("{harmless}+{moves}+{claims}"));
        }
        let _ = writeln!(text, "  {:>11}  {:>20}", found.asked, found.not_done);
        for (phrase, times) in &found.phrases {
            let _ = writeln!(text, "    \"{phrase}\" {times}");
        }
    }
}

fn place_name((moment, stretch, noise, level): &super::tally::Where) -> String {
    let what = match (stretch, noise, level) {
        (Stretch::Talk, _, Some(level)) => format!("talk at {level} dB"),
        (Stretch::Talk, _, None) => "talk".to_owned(),
        (Stretch::Denial, ..) => "denials".to_owned(),
        (Stretch::Noise, noise, _) => noise.as_deref().unwrap_or("noise").to_owned(),
    };
    format!("{what}, {}", moment.name())
}

/// Where nothing was meant, all of one moment together.
fn together(tally: &Tally, wanted: impl Fn(Moment) -> bool) -> False {
    let mut all = False::default();
    for ((moment, stretch, ..), found) in &tally.nothing {
        if wanted(*moment) && *stretch != Stretch::Denial {
            all.hours += found.hours;
            all.actions.iter_mut().zip(found.actions).for_each(|(sum, one)| *sum += one);
        }
    }
    all
}

/// The goals and how far they are reached, with both listeners on voices held out.
pub fn goals(tally: &Tally, idle: f64) -> String {
    let mut text = String::from("\nGoals, both listeners, held-out voices\n");
    let mut line = |met: bool, what: String| {
        let _ = writeln!(text, "  {}  {what}", if met { "met  " } else { "UNMET" });
    };
    for Goal { level, right, wrong } in [CLEAN, NOISY] {
        let Some(count) = tally.levels.get(&level) else { continue };
        let name = level_name(level);
        let found = percent(count.right, count.of);
        let all = (count.right, count.of);
        line(found >= right, format!("{name}: at least {right} % right: {found:.1} % ({} of {})", all.0, all.1));
        let found = percent(count.all_wrong(), count.of);
        line(
            found <= wrong,
            format!("{name}: at most {wrong} % wrong: {found:.1} % ({} of {})", count.all_wrong(), all.1),
        );
    }
    let job = together(tally, |moment| moment == Moment::Tightening);
    if job.hours > 0.0 {
        let claims = job.actions[2];
        line(claims == 0, format!("no claim in talk and noise: {claims} in {:.1} hours", job.hours));
        let rate = job.an_hour();
        let all: usize = job.actions.iter().sum();
        line(
            rate <= AN_HOUR,
            format!("at most {AN_HOUR} false action an hour: {rate:.1} ({all} in {:.1} hours)", job.hours),
        );
        let asked = together(tally, |moment| moment != Moment::Tightening);
        let claims = asked.actions[2];
        line(claims == 0, format!("no claim in talk while a question stands: {claims} in {:.1} hours", asked.hours));
    }
    let denied: Vec<&False> =
        tally.nothing.iter().filter(|(place, _)| is_denial(place)).map(|(_, found)| found).collect();
    if !denied.is_empty() {
        let sum = |count: &dyn Fn(&False) -> usize| denied.iter().map(|found| count(found)).sum::<usize>();
        let (of, claims, moves) = (sum(&|f| f.of), sum(&|f| f.actions[2]), sum(&|f| f.actions[1]));
        let all = sum(&|f| f.actions.iter().sum());
        line(claims + moves == 0, format!("no claim and no move by a denial: {claims} and {moves} of {of}"));
        line(percent(all, of) <= DENIED, format!("at most {DENIED} % of denials taken for anything: {all} of {of}"));
    }
    if let Some(count) = tally.levels.get(&None)
        && let (Some(half), Some(most)) = (count.wait(0.5), count.wait(0.95))
    {
        line(half <= WAIT_MEDIAN, format!("clean: half decided within {WAIT_MEDIAN} ms: {half:.0} ms"));
        line(most <= WAIT_MOST, format!("clean: 95 of 100 decided within {WAIT_MOST} ms: {most:.0} ms"));
    }
    let share = 100.0 * idle;
    line(share <= IDLE, format!("at most {IDLE} % of a core while nobody speaks: {share:.2} %"));
    text
}

/// One row of the counts, for programs.
#[derive(Debug, Serialize)]
pub struct CommandRow<'a> {
    part: Part,
    who: Who,
    ears: Ears,
    /// Decibels above the noise; none in a quiet room.
    level: Option<i32>,
    #[serde(flatten)]
    count: &'a Count,
    wait_ms_half: Option<f64>,
    wait_ms_95: Option<f64>,
}

/// One row of what was done where nothing was meant, for programs.
#[derive(Debug, Serialize)]
pub struct NothingRow<'a> {
    part: Part,
    who: Who,
    ears: Ears,
    moment: Moment,
    stretch: Stretch,
    noise: Option<&'a str>,
    level: Option<i32>,
    #[serde(flatten)]
    found: &'a False,
}

/// What became of the commands of one source in a quiet room, for programs.
#[derive(Debug, Serialize)]
pub struct LossRow<'a> {
    part: Part,
    who: Who,
    source: &'a str,
    of: usize,
    fates: &'a BTreeMap<Fate, usize>,
}

/// What is told of one part.
pub struct OfPart {
    /// Which.
    pub part: Part,
    /// The counts, people first.
    pub tallies: Vec<(Who, Vec<(Ears, Tally)>)>,
    /// What became of the commands.
    pub losses: BTreeMap<(Who, String), Losses>,
}

/// All counts, for programs.
#[derive(Debug, Serialize)]
pub struct Report<'a> {
    /// Share of a core while nobody speaks.
    idle: f64,
    commands: Vec<CommandRow<'a>>,
    nothing: Vec<NothingRow<'a>>,
    people: Vec<people::Row<'a>>,
    losses: Vec<LossRow<'a>>,
}

/// The counts for programs.
pub fn report(idle: f64, parts: &[OfPart]) -> Report<'_> {
    let mut report = Report { idle, commands: Vec::new(), nothing: Vec::new(), people: Vec::new(), losses: Vec::new() };
    for OfPart { part, tallies, losses } in parts {
        let part = *part;
        for (who, ears, tally) in
            tallies.iter().flat_map(|(who, all)| all.iter().map(|(ears, tally)| (*who, *ears, tally)))
        {
            report.commands.extend(tally.levels.iter().map(|(level, count)| CommandRow {
                part,
                who,
                ears,
                level: *level,
                count,
                wait_ms_half: count.wait(0.5),
                wait_ms_95: count.wait(0.95),
            }));
            report.nothing.extend(tally.nothing.iter().map(|((moment, stretch, noise, level), found)| NothingRow {
                part,
                who,
                ears,
                moment: *moment,
                stretch: *stretch,
                noise: noise.as_deref(),
                level: *level,
                found,
            }));
            report.people.extend(people::rows(part, ears, tally));
        }
        report.losses.extend(losses.iter().map(|((who, source), losses)| LossRow {
            part,
            who: *who,
            source,
            of: losses.of(),
            fates: &losses.fates,
        }));
    }
    report
}
