//! From what happened to the record.

use super::document::*;
use super::evidence::Evidence;
use super::published;
use super::rounds::Rounds;
use crate::dialogue::Words;
use crate::drawing;
use crate::job::{
    At, ComponentState, Fact, Follows, Item, ItemState, Job, Note, Open, Pending, Say, StepState, Verdict,
};
use crate::journal::Broken;
use crate::procedure::{Act, ComponentIx, Deed, Fastener, FastenerIx, PartIx, StageKind, picture};
use crate::quantity::Quantity;
use base64::Engine;
use jiff::tz::TimeZone;
use std::collections::HashMap;
use std::path::Path;

/// The media type of a picture, and its bytes.
pub type Image = (&'static str, Vec<u8>);

/// What the record says besides what the journal holds.
pub struct Given<'a> {
    /// Name of the job.
    pub name: &'a str,
    /// SHA-256 of its procedure.
    pub sha256: &'a str,
    /// When it was begun.
    pub began: At,
    /// The moment now.
    pub now: At,
    /// The user's time zone.
    pub zone: TimeZone,
    /// Reads a note by the name the journal has for it; `None` where it is gone.
    pub read_note: &'a dyn Fn(&Path) -> Option<Vec<u8>>,
    /// Reads a picture by the name the procedure has for it, with its media type; `None` where it is gone.
    pub read_picture: &'a dyn Fn(&str) -> Option<Image>,
    /// Moments of sessions in which the machine's clock was set, by the clock as it was set.
    pub put_right: &'a HashMap<At, At>,
    /// How many findings of the check would have stopped the job.
    pub unchecked: usize,
    /// Where the journal could not be followed further.
    pub broken: Option<&'a Broken>,
}

/// Makes the record.
pub fn collect(job: &Job, evidence: &Evidence, given: &Given<'_>, words: &Words<'_>) -> Record {
    let collector = Collector { evidence, given, words, job };
    let book = collector.job.book();
    let deference = words.says(&[Say::Opening]).pop().map(|s| s.written).unwrap_or_default();
    Record {
        format: FORMAT,
        program: concat!("wrenchside ", env!("CARGO_PKG_VERSION")).to_owned(),
        written: collector.moment(given.now),
        unchecked: (given.unchecked > 0).then_some(given.unchecked),
        broken: given.broken.map(|broken| BrokenInfo { line: broken.line, reason: broken.why.to_string() }),
        job: collector.job_info(),
        procedure: ProcedureInfo {
            id: book.id.clone(),
            revision: book.revision.clone(),
            author: book.author.clone(),
            sha256: given.sha256.to_owned(),
        },
        source: SourceInfo {
            title: book.source.title.clone(),
            edition: book.source.edition.clone(),
            chapter: book.source.chapter.clone(),
            note: book.source.note.clone(),
        },
        deference,
        fasteners: (0..book.fasteners.len()).map(|ix| collector.group(FastenerIx(ix))).collect(),
        measurements: collector.measurements(),
        parts: collector.parts(),
        steps: collector.steps(),
        cautions: collector.cautions(),
        open: collector.open().iter().map(|open| words.open(open)).collect(),
        confirmed: collector.confirmed(),
        notes: collector.notes(),
        facts: collector.facts(),
        pictures: collector.pictures(),
    }
}

struct Collector<'a> {
    evidence: &'a Evidence,
    given: &'a Given<'a>,
    words: &'a Words<'a>,
    job: &'a Job,
}

impl Collector<'_> {
    fn moment(&self, at: At) -> Moment {
        let at = *self.given.put_right.get(&at).unwrap_or(&at);
        let moment = jiff::Timestamp::from_millisecond(at.0).unwrap_or_default();
        let seconds = moment.round(jiff::Unit::Second).unwrap_or(moment);
        let local = seconds.to_zoned_datetime(self.given.zone.clone());
        let remark = (!at.may_be_right()).then(|| self.words.label("clock_not_set").to_owned());
        Moment { utc: seconds.to_string(), local: local.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(), remark }
    }

    fn job_info(&self) -> JobInfo {
        let book = self.job.book();
        JobInfo {
            name: self.given.name.to_owned(),
            title: book.title.clone(),
            vehicle: book.vehicle.clone(),
            variant: book.variant.and_then(|ix| book.variants.get(ix.0)).map(|variant| variant.name.clone()),
            state: match self.job.closed() {
                Some([]) => JobState::Closed,
                Some(_) => JobState::ClosedWithOpenPoints,
                None if self.job.is_paused() => JobState::Paused,
                None => JobState::Running,
            },
            began: self.moment(self.given.began),
            last: self.evidence.last.map(|at| self.moment(at)),
            closed: self.evidence.closed.map(|at| self.moment(at)),
            step: self.job.position() + 1,
        }
    }

    /// The points that were left open; while the job goes on, those open now.
    fn open(&self) -> Vec<Open> {
        match self.job.closed() {
            Some(open) => open.to_vec(),
            None => self.job.open_points(self.job.position()),
        }
    }

    fn group(&self, ix: FastenerIx) -> Group {
        let fastener = &self.job.book().fasteners[ix.0];
        let items = self.job.ledger().items(ix);
        let last_reading = |item: usize| items[item].readings.last().map(|(_, reading)| reading.to_string());
        let title = format!("{}: {}", fastener.plural, self.words.label("drawing"));
        Group {
            id: fastener.id.clone(),
            name: fastener.name.clone(),
            plural: fastener.plural.clone(),
            thread: fastener.thread.clone(),
            class: fastener.class.clone(),
            drive: fastener.drive.clone(),
            left_hand: fastener.left_hand,
            lock: fastener.lock.clone(),
            single_use: fastener.single_use,
            preparation: fastener.preparation.clone(),
            page: fastener.source.clone(),
            stages: (0..fastener.finish.len()).map(|stage| self.stage(ix, fastener, stage)).collect(),
            items: items.iter().enumerate().map(|(item, entry)| self.item(ix, fastener, item, entry)).collect(),
            drawing: drawing::svg(fastener, items, None, &title, last_reading).into_string(),
        }
    }

    fn stage(&self, group: FastenerIx, fastener: &Fastener, stage: usize) -> StageInfo {
        let this = fastener.finish.stage(stage);
        let (kind, counted) = match this.and_then(|s| self.job.counted(s)) {
            Some((torque, counted)) => (Some(StageKind::Torque(torque)), Some(counted)),
            None => (this.map(|s| s.kind.clone()), None),
        };
        let comes_to = match (&kind, &counted) {
            (Some(StageKind::Torque(torque)), Some(_)) => Some(torque.to_string()),
            _ => None,
        };
        let pending = Pending {
            group,
            item: 0,
            rank: 0,
            items: fastener.places.len(),
            stage,
            stages: fastener.finish.len(),
            kind,
            new: false,
            turned: None,
            interrupted: false,
            announced: false,
            waits: None,
            counted,
            follows: Follows::Nothing,
        };
        StageInfo {
            asks: self.words.stage(&pending),
            published: this.and_then(|stage| published::value(self.job.book(), stage)),
            comes_to,
            page: this.and_then(|s| s.source.clone()),
        }
    }

    fn item(&self, group: FastenerIx, fastener: &Fastener, item: usize, entry: &Item) -> ItemInfo {
        let done = entry.stages_done(&fastener.finish).unwrap_or(0);
        let mut stages: Vec<StageDone> = Vec::new();
        for (n, fact) in self.job.facts().iter().enumerate() {
            let Fact::Stage { group: g, item: i, stage } = fact.fact else { continue };
            // Stages of a run that was begun again since are no part of the state.
            let counts = !fact.taken_back && self.evidence.runs.get(&n) == Some(&entry.run) && stage < done;
            if g == group && i == item && counts {
                let reading = fact.reading.map(|r| r.to_string());
                let from = fact.from.clone();
                stages.push(StageDone { stage: stage + 1, at: self.moment(fact.at), reading, from });
            }
        }
        ItemInfo {
            place: fastener.places[item].clone(),
            order: fastener.order.iter().position(|&i| i == item).map_or(item, |rank| rank) + 1,
            state: state_name(entry.state),
            state_text: self.words.item_as_it_is(group, item, entry),
            new: entry.new,
            new_used: entry.fitted,
            over: entry.over,
            runs: entry.run,
            stages,
        }
    }

    fn measurements(&self) -> Vec<MeasurementInfo> {
        let (book, ledger) = (self.job.book(), self.job.ledger());
        let mut all = Vec::new();
        for (step, this) in book.steps.iter().enumerate() {
            for (act, measure) in this.acts.iter().enumerate() {
                let Act::Measure(m) = measure else { continue };
                let reading = ledger.measured(step, act);
                let fact =
                    self.job.facts().iter().rev().find(|f| !f.taken_back && f.fact == (Fact::Measured { step, act }));
                let plain = |q: &Quantity| q.to_string();
                // What counts from another measurement has its limits once that is taken.
                let limits = self.job.limits(step, act);
                let is_outside = |value: Quantity| self.job.judge(step, act, value) != Verdict::Within;
                let known = m.from.is_none() || limits.least.or(limits.most).is_some();
                all.push(MeasurementInfo {
                    what: m.what.clone(),
                    step: step + 1,
                    least: limits.least.as_ref().map(plain),
                    most: limits.most.as_ref().map(plain),
                    limits: if known { self.words.bounds(&limits) } else { self.words.bounds_of(m) },
                    reading: reading.as_ref().map(plain),
                    within: reading.filter(|_| self.has_limits(step, act)).map(|value| !is_outside(value)),
                    at: fact.filter(|_| reading.is_some()).map(|f| self.moment(f.at)),
                    readings: self.readings(step, act),
                    left: ledger.left_outside(step, act) && reading.is_some(),
                    not_needed: ledger.step(step) == StepState::NotNeeded && reading.is_none(),
                    otherwise: m.otherwise.clone(),
                    page: m.source.clone(),
                    sizes_page: m.among.and_then(|ix| self.job.book().stocks.get(ix.0)?.source.clone()),
                });
            }
        }
        all
    }

    /// All readings of a measurement, in order.
    fn readings(&self, step: usize, act: usize) -> Vec<MeasurementReading> {
        let measured = Fact::Measured { step, act };
        let facts = self.job.facts().iter().filter(|fact| fact.fact == measured);
        let info = |fact: &crate::job::Recorded| {
            let value = fact.reading?;
            Some(MeasurementReading {
                reading: value.to_string(),
                from: fact.from.clone(),
                within: self.is_within(&measured, value),
                at: self.moment(fact.at),
                taken_back: fact.taken_back,
            })
        };
        facts.filter_map(info).collect()
    }

    /// The new parts of the procedure, and behind them new fasteners that were used without being on its list.
    fn parts(&self) -> Vec<PartInfo> {
        let book = self.job.book();
        let applies = |ix: &usize| book.applies(book.parts[*ix].only);
        let listed = (0..book.parts.len()).filter(applies).map(|ix| self.part(PartIx(ix)));
        let unlisted = (0..book.fasteners.len()).map(FastenerIx).filter_map(|group| {
            let used = self.new_used(group);
            let on_the_list = book.parts.iter().any(|part| part.renews == Some(group));
            (used > 0 && !on_the_list).then(|| PartInfo {
                name: book.fasteners[group.0].name.clone(),
                count: 0,
                number: None,
                held: Some(PartHeld::NewFasteners(used)),
            })
        });
        listed.chain(unlisted).collect()
    }

    /// How many new fasteners of a group were used, those among them that were scrapped since.
    fn new_used(&self, group: FastenerIx) -> u32 {
        self.job.ledger().items(group).iter().map(|item| item.fitted).sum()
    }

    fn part(&self, ix: PartIx) -> PartInfo {
        let (book, ledger) = (self.job.book(), self.job.ledger());
        let part = &book.parts[ix.0];
        let component = book.components.iter().position(|c| c.part == Some(ix)).map(ComponentIx);
        let fits = |act: &Act| match *act {
            Act::PutOn(of) => component == Some(of),
            Act::Fasten { group, deed: Deed::HandStart, .. } => part.renews == Some(group),
            _ => false,
        };
        let mut fitting = (0..book.steps.len()).filter(|&step| book.steps[step].acts.iter().any(fits)).peekable();
        let not_needed = fitting.peek().is_some() && fitting.all(|step| ledger.step(step) == StepState::NotNeeded);
        let held = match (part.renews, component) {
            (Some(group), _) if not_needed && self.new_used(group) == 0 => Some(PartHeld::NotNeeded),
            (None, Some(component)) if not_needed && ledger.component(component) == ComponentState::On => {
                Some(PartHeld::NotNeeded)
            }
            (Some(group), _) => Some(PartHeld::NewFasteners(self.new_used(group))),
            (None, Some(component)) => {
                let put_on = book.steps.iter().enumerate().any(|(step, this)| {
                    ledger.step(step) == StepState::Done && this.acts.contains(&Act::PutOn(component))
                });
                let on = ledger.component(component) == ComponentState::On;
                Some(if on && put_on { PartHeld::PutOn } else { PartHeld::NotPutOn })
            }
            (None, None) => None,
        };
        PartInfo { name: part.name.clone(), count: part.count, number: part.number.clone(), held }
    }

    /// Each picture once, however many steps name it.
    fn pictures(&self) -> Vec<PictureInfo> {
        let book = self.job.book();
        let named = |picture: &Option<String>, name: &str| picture.as_deref().and_then(picture::file) == Some(name);
        let info = |name: &str| {
            let (kind, bytes) = (self.given.read_picture)(name)?;
            let steps = book.steps.iter().enumerate().filter(|(_, step)| named(&step.picture, name));
            let groups = book.fasteners.iter().filter(|f| named(&f.picture, name));
            Some(PictureInfo {
                name: name.to_owned(),
                steps: steps.map(|(step, _)| step + 1).collect(),
                groups: groups.map(|f| if f.places.len() == 1 { f.name.clone() } else { f.plural.clone() }).collect(),
                image: format!("data:{kind};base64,{}", base64::engine::general_purpose::STANDARD.encode(bytes)),
            })
        };
        book.picture_files().into_iter().filter_map(info).collect()
    }

    fn steps(&self) -> Vec<StepInfo> {
        let (book, ledger) = (self.job.book(), self.job.ledger());
        // One pass over the facts: the last that stands of each step, and the marks.
        let mut last = vec![None; book.steps.len()];
        let mut marked = vec![false; book.steps.len()];
        let mut rounds = vec![Vec::new(); book.steps.len()];
        let mut counts = vec![Rounds::default(); book.steps.len()];
        for fact in self.job.facts().iter().filter(|f| !f.taken_back) {
            match fact.fact {
                Fact::Mark(step) => marked[step] = true,
                Fact::Note { .. } => {}
                _ => last[fact.step] = Some(fact.at),
            }
            if let Fact::Round { step, round } = fact.fact {
                rounds[step].push(RoundInfo { round, at: self.moment(fact.at) });
                counts[step].with_no(round);
            } else if let Fact::StepDone(step) = fact.fact
                && let Some(until) = &book.steps[step].until
            {
                counts[step].done(until.at_most);
            }
        }
        let mut info = |(step, this): (usize, &crate::procedure::Step)| {
            let state = match ledger.step(step) {
                StepState::Open => StepStateName::Open,
                StepState::Skipped => StepStateName::Skipped,
                StepState::Done => StepStateName::Done,
                StepState::NotNeeded => StepStateName::NotNeeded,
            };
            StepInfo {
                number: step + 1,
                phase: self.words.phase(this.phase).to_owned(),
                say: this.say.clone(),
                helper: this.helper.clone(),
                picture: this.picture.clone(),
                within: this
                    .within
                    .as_ref()
                    .and_then(|_| self.words.says(&[Say::Within { step }]).pop())
                    .map(|s| s.written),
                later: this.later.clone(),
                state,
                at: last[step].filter(|_| state != StepStateName::Open).map(|at| self.moment(at)),
                marked: marked[step],
                rounds_done: counts[step].told(),
                rounds: std::mem::take(&mut rounds[step]),
            }
        };
        book.steps.iter().enumerate().map(&mut info).collect()
    }

    fn cautions(&self) -> Vec<CautionInfo> {
        let info = |given: &super::evidence::GivenCaution| CautionInfo {
            signal: given.caution.signal,
            signal_word: self.words.signal(given.caution.signal).to_owned(),
            say: given.caution.say.clone(),
            standing: given.standing,
            steps: given.steps.iter().map(|step| step + 1).collect(),
            times: given.times,
            first: self.moment(given.first),
        };
        self.evidence.cautions.iter().map(info).collect()
    }

    fn confirmed(&self) -> Vec<ConfirmedInfo> {
        let info = |confirmed: &super::evidence::Confirmed| {
            let asked = self.words.says(&[Say::Question(confirmed.question.clone())]);
            ConfirmedInfo {
                at: self.moment(confirmed.at),
                step: confirmed.step + 1,
                question: asked.into_iter().map(|s| s.written).collect::<Vec<_>>().join(" "),
            }
        };
        self.evidence.confirmed.iter().map(info).collect()
    }

    fn notes(&self) -> Vec<NoteInfo> {
        let mut notes = Vec::new();
        for fact in self.job.facts().iter().filter(|f| !f.taken_back) {
            let Fact::Note { step, note } = &fact.fact else { continue };
            let (at, step) = (self.moment(fact.at), step + 1);
            notes.push(match note {
                Note::Typed(text) => {
                    NoteInfo { at, step, text: Some(text.clone()), file: None, seconds: None, sound: None }
                }
                Note::Sound { file, milliseconds } => {
                    let data = (self.given.read_note)(Path::new(file));
                    let encode = |bytes| base64::engine::general_purpose::STANDARD.encode(bytes);
                    NoteInfo {
                        at,
                        step,
                        text: None,
                        file: Some(file.clone()),
                        seconds: Some(*milliseconds as f64 / 1000.0),
                        sound: data.map(|bytes| format!("data:audio/wav;base64,{}", encode(bytes))),
                    }
                }
            });
        }
        notes
    }

    /// Is there anything that a reading of this measurement could be held against? One without limits is only recorded,
    /// and one whose limits count from what was taken back has none just now.
    fn has_limits(&self, step: usize, act: usize) -> bool {
        let limits = self.job.limits(step, act);
        limits.least.or(limits.most).is_some()
    }

    /// A stage is recorded with a number that fits only; one that does not is a fact of its own.
    fn is_within(&self, fact: &Fact, value: Quantity) -> Option<bool> {
        match *fact {
            Fact::Stage { .. } => Some(true),
            Fact::Reading { .. } => Some(false),
            Fact::Measured { step, act } if !self.has_limits(step, act) => None,
            Fact::Measured { step, act } => Some(self.job.judge(step, act, value) == Verdict::Within),
            _ => None,
        }
    }

    fn facts(&self) -> Vec<FactInfo> {
        let info = |(n, fact): (usize, &crate::job::Recorded)| FactInfo {
            at: self.moment(fact.at),
            step: fact.step + 1,
            fact: self.words.fact(&fact.fact),
            reading: fact.reading.map(|r| r.to_string()),
            from: fact.from.clone(),
            within: fact.reading.and_then(|value| self.is_within(&fact.fact, value)),
            taken_back: self.evidence.taken_back.get(&n).map(|at| self.moment(*at)),
        };
        self.job.facts().iter().enumerate().map(info).collect()
    }
}

fn state_name(state: ItemState) -> ItemStateName {
    match state {
        ItemState::AsFound => ItemStateName::AsFound,
        ItemState::Slackened => ItemStateName::Slackened,
        ItemState::Out => ItemStateName::Out,
        ItemState::Trapped => ItemStateName::Trapped,
        ItemState::Holding => ItemStateName::Holding,
        ItemState::HandStarted => ItemStateName::HandStarted,
        ItemState::AtStage(_) => ItemStateName::AtStage,
        ItemState::Final => ItemStateName::Final,
        ItemState::Locked => ItemStateName::Locked,
        ItemState::Unlocked => ItemStateName::Unlocked,
        ItemState::InDoubt => ItemStateName::InDoubt,
        ItemState::Scrapped => ItemStateName::Scrapped,
    }
}
