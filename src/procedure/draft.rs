//! Drafting the rebuild: from a file whose strip is written, the steps that give everything back, to be edited.
//!
//! What is given back, and when, follows from the state of each thing at the end of the strip: last off, first on.
//! Temporary refits fall away, tightening that waits for a state of the vehicle moves to where that state holds, and what no
//! program can decide is marked `??`. The text of the author is kept as it is, comments and all; the draft is added
//! below it. Knows nothing of values: it only points to the programmes that are in the file.

mod later;
mod track;
mod write;

use super::code::Code;
use super::finding::Finding;
use super::load::{self, Reading};
use super::model::*;
use super::report::Report;
use super::resolve::Resolved;
use super::whole::Whole;
use std::collections::{BTreeMap, BTreeSet};
use track::{Loose, Tracks};
use write::{Draft, Drafted};

/// Adds the draft of the rebuild to the text of a file; `name` is what the file is called. The report says what keeps
/// the file from being read, or that its rebuild is written already.
pub fn draft_rebuild(name: &str, text: &str) -> Result<String, Report> {
    Whole::one(name, text).draft_rebuild()
}

impl Whole {
    /// Adds the draft of the rebuild to the file's own text: what it includes stays where it is.
    pub fn draft_rebuild(&self) -> Result<String, Report> {
        let refused = |findings| Report::of(self.clone(), findings);
        let reading = load::read(self.text());
        let later = reading.written.as_ref().map(later::measured).unwrap_or_default();
        // What the rebuild measures stands in no step yet; with steps for it the torques that count from it can be read.
        let reading =
            if later.is_empty() { reading } else { load::read(&format!("{}{}", self.text(), later::steps(&later))) };
        let Reading { written: Some(written), resolved: Some(Resolved { procedure, .. }), findings, copies, .. } =
            reading
        else {
            return Err(refused(reading.findings));
        };
        if !findings.is_empty() {
            return Err(refused(findings));
        }
        if let Some(step) = written.step.iter().find(|s| s.phase.value >= Phase::Rebuild) {
            let finding = Finding::new(
                Code::RebuildThere,
                step.phase.span.clone(),
                format!("step \"{}\" belongs to the rebuild already", step.id.value),
                "Draft from a file that ends with its strip or its inspection",
            );
            return Err(refused(copies.told(vec![finding])));
        }
        let mut planner = Planner::new(&procedure);
        later.iter().for_each(|measured| planner.draft.measured(measured));
        planner.plan();
        let mut drafted = self.own_text().trim_end().to_owned();
        drafted.push('\n');
        drafted.push_str(planner.draft.text());
        Ok(drafted)
    }
}

/// Works out which step comes next, and hands it to the writer.
struct Planner<'p> {
    p: &'p Procedure,
    tracks: Tracks,
    draft: Draft<'p>,
    /// Fasteners that are not back yet, by group.
    missing: BTreeMap<usize, BTreeSet<usize>>,
    /// Tightening that waits for a condition: condition, group, through which stage.
    waiting: Vec<(ConditionIx, FastenerIx, Option<usize>)>,
}

impl<'p> Planner<'p> {
    fn new(p: &'p Procedure) -> Planner<'p> {
        let tracks = Tracks::of(p);
        let mut missing: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for (group, item) in tracks.items.keys() {
            missing.entry(*group).or_default().insert(*item);
        }
        Planner { p, tracks, draft: Draft::new(p), missing, waiting: Vec::new() }
    }

    fn plan(&mut self) {
        if !self.p.steps.iter().any(|s| s.phase == Phase::Inspect) {
            self.draft.inspection();
        }
        let steps = self.p.steps.iter().enumerate().rev();
        let (close, rebuild): (Vec<_>, Vec<_>) = steps.partition(|(_, s)| s.phase == Phase::Prepare);
        for (ix, step) in rebuild {
            self.give_back(ix, step, Phase::Rebuild);
        }
        // What waits for a state that the steps so far never leave is reached for its own sake, before the close.
        self.tighten_in_new_states(Phase::Rebuild);
        for (ix, step) in close {
            self.give_back(ix, step, Phase::Close);
        }
        self.tighten_in_new_states(Phase::Close);
    }

    /// The steps that give back what this step took.
    fn give_back(&mut self, ix: usize, step: &'p Step, phase: Phase) {
        let mut notes = Vec::new();
        if self.tracks.temporary.contains(&ix) {
            notes.push("It put something back only to hold things together; that falls away here. Is anything held in another way?".to_owned());
        }
        if self.tracks.lent.contains(&ix) {
            notes.push("It used a support that was there for a time only. Is it needed here too?".to_owned());
        }
        if step.acts.iter().any(|a| matches!(a, Act::Fasten { deed: Deed::Trap, .. })) {
            notes.push("A fastener was trapped here. Must it be in its place before the part goes in?".to_owned());
        }
        let alone = notes.len();
        if !step.cautions.is_empty() {
            notes.push("It warned of something. Does that hold here too?".to_owned());
        }
        let mut on = Vec::new();
        let mut started: Vec<(FastenerIx, Vec<usize>)> = Vec::new();
        let mut back: Vec<FastenerIx> = Vec::new();
        let mut others = Vec::new();
        for act in step.acts.iter().rev() {
            match act {
                Act::TakeOff(c) | Act::Hang(c) if self.tracks.components.get(&c.0) == Some(&ix) && !on.contains(c) => {
                    on.push(*c);
                }
                Act::Disconnect(c) if self.tracks.connections.get(&c.0) == Some(&ix) => {
                    others.push(Drafted::Connect(*c));
                }
                Act::Place(s) if self.tracks.supports.get(&s.0) == Some(&ix) => others.push(Drafted::TakeAway(*s)),
                Act::Leave(c) if self.tracks.left.get(&c.0) == Some(&ix) => others.push(Drafted::Reach(*c)),
                Act::Fasten { group, items, .. } => {
                    let here: Vec<usize> = items
                        .iter()
                        .copied()
                        .filter(|item| self.tracks.items.get(&(group.0, *item)).is_some_and(|t| t.at == ix))
                        .filter(|item| self.missing.get(&group.0).is_some_and(|m| m.contains(item)))
                        .collect();
                    let loose = |item: &usize| self.tracks.items.get(&(group.0, *item)).map(|t| t.loose);
                    let out: Vec<usize> =
                        here.iter().copied().filter(|i| loose(i).is_some_and(Loose::is_loose)).collect();
                    if !out.is_empty() {
                        started.push((*group, out));
                    }
                    if let Some(missing) = self.missing.get_mut(&group.0) {
                        missing.retain(|item| !here.contains(item));
                        if missing.is_empty() && !here.is_empty() {
                            back.push(*group);
                        }
                    }
                }
                _ => {}
            }
        }
        let mut reached = Vec::new();
        if !on.is_empty() || !started.is_empty() {
            for (group, items) in &mut started {
                items.sort_unstable();
                let held = |i: &usize| self.tracks.items.get(&(group.0, *i)).is_some_and(|t| t.loose == Loose::Holding);
                if items.iter().any(held) {
                    notes.push("The old fastener still holds things together here. Take it out first.".to_owned());
                }
            }
            let holding = self.tracks.holding(&started);
            self.draft.step(phase, step, &mut notes, Drafted::Fit { on, holding, started });
        }
        for other in others {
            if let Drafted::Reach(condition) = other {
                reached.push(condition);
            }
            self.draft.step(phase, step, &mut notes, other);
        }
        if !notes.is_empty() {
            // Nothing is given back here, so there is nothing to warn of either.
            notes.truncate(alone);
            self.draft.aside(step, &notes);
        }
        for group in back {
            self.tighten(group, phase, step);
        }
        for condition in reached {
            self.tighten_waiting(condition, phase);
        }
    }

    /// Tightens a group that is back whole, as far as its programme waits for nothing; the rest waits its turn.
    fn tighten(&mut self, group: FastenerIx, phase: Phase, from: &Step) {
        let Some(fastener) = self.p.fasteners.get(group.0) else {
            return;
        };
        // Those that nothing but the lock was taken out of are tight.
        if self.turned(group).is_empty() {
            if let Some(lock) = self.locking(group) {
                self.draft.step(phase, from, &mut Vec::new(), lock);
            }
            return;
        }
        let stages = fastener.finish.len();
        let held = |needs: Option<ConditionIx>| needs.is_none_or(|c| self.tracks.held.contains(&c.0));
        let needs = |k: usize| fastener.finish.stage(k).and_then(|s| s.needs).filter(|c| !held(Some(*c)));
        let mut k = 0;
        let mut waits = None;
        while k < stages {
            let need = needs(k);
            let mut end = k + 1;
            while end < stages && (needs(end) == need || (need.is_some() && needs(end).is_none())) {
                end += 1;
            }
            let through = (end < stages).then_some(end);
            // A stage that waits for nothing still comes after the one before it.
            waits = need.or(waits);
            match waits {
                None => self.draft.step(phase, from, &mut Vec::new(), self.tightening(group, through)),
                Some(condition) => self.waiting.push((condition, group, through)),
            }
            k = end;
        }
        if let (None, Some(lock)) = (waits, self.locking(group)) {
            self.draft.step(phase, from, &mut Vec::new(), lock);
        }
    }

    /// The fasteners of a group that were turned.
    fn turned(&self, group: FastenerIx) -> Vec<usize> {
        let of_group = self.tracks.items.iter().filter(|((g, _), _)| *g == group.0);
        of_group.filter(|(_, track)| track.loose != Loose::Unlocked).map(|((_, item), _)| *item).collect()
    }

    /// Locks a group that is tight again, if something locks it.
    fn locking(&self, group: FastenerIx) -> Option<Drafted> {
        self.p.fasteners.get(group.0)?.lock.as_ref()?;
        let items = self.tracks.items.keys().filter(|(g, _)| *g == group.0).map(|(_, item)| *item).collect();
        Some(Drafted::Lock { group, items })
    }

    fn tightening(&self, group: FastenerIx, through: Option<usize>) -> Drafted {
        Drafted::Tighten { group, items: self.turned(group), through }
    }

    fn tighten_waiting(&mut self, condition: ConditionIx, phase: Phase) {
        let (now, later) = std::mem::take(&mut self.waiting).into_iter().partition(|(c, _, _)| *c == condition);
        self.waiting = later;
        let now: Vec<(ConditionIx, FastenerIx, Option<usize>)> = now;
        for (_, group, through) in now {
            let drafted = self.tightening(group, through);
            self.draft.deferred(phase, condition, drafted);
            if let Some(lock) = self.locking(group).filter(|_| through.is_none()) {
                self.draft.deferred(phase, condition, lock);
            }
        }
    }

    /// Reaches the states that no step given back will reach, tightens what waits for them, and leaves them.
    fn tighten_in_new_states(&mut self, phase: Phase) {
        loop {
            let waiting = self.waiting.iter().map(|(c, _, _)| *c);
            let next = waiting.into_iter().find(|c| phase == Phase::Close || !self.tracks.left.contains_key(&c.0));
            let Some(condition) = next else { return };
            self.draft.state(phase, Drafted::Reach(condition));
            self.tighten_waiting(condition, phase);
            self.draft.state(phase, Drafted::Leave(condition));
        }
    }
}
