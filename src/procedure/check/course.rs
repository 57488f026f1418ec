//! What becomes of each thing in the course of the steps, done one after the other as written.

use super::Sight;
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use crate::procedure::resolve::What;
use crate::procedure::shape::list;
use std::ops::Range;

/// State of one fastener.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    AsFound,
    Slackened,
    Out,
    Trapped,
    Holding,
    HandStarted,
    /// So many stages are done, and more are to come.
    Through(usize),
    Final,
}

impl State {
    fn words(self) -> String {
        match self {
            State::AsFound => "as it was found".to_owned(),
            State::Slackened => "slackened".to_owned(),
            State::Out => "out".to_owned(),
            State::Trapped => "unscrewed but trapped".to_owned(),
            State::Holding => "only holding".to_owned(),
            State::HandStarted => "started by hand".to_owned(),
            State::Through(k) => format!("tightened through stage {k}"),
            State::Final => "in its end state".to_owned(),
        }
    }

    /// The state that a deed leads to; the error says what must come before it.
    fn after(self, deed: Deed, fastener: &Fastener) -> Result<State, &'static str> {
        let in_place = !matches!(self, State::Out | State::Trapped);
        match deed {
            Deed::Slacken if in_place && self != State::Slackened => Ok(State::Slackened),
            Deed::Slacken => Err("only what is tight can be slackened"),
            Deed::Remove if self != State::Out => Ok(State::Out),
            Deed::Remove => Err("it is out already"),
            Deed::Trap if in_place => Ok(State::Trapped),
            Deed::Trap => Err("only what is screwed in can be unscrewed"),
            Deed::Hold if matches!(self, State::Out | State::Trapped) => Ok(State::Holding),
            Deed::Hold => Err("only what is out can be put back to hold"),
            Deed::HandStart => match self {
                State::Out | State::Trapped | State::Slackened => Ok(State::HandStarted),
                State::Holding if !fastener.single_use => Ok(State::HandStarted),
                State::Holding => Err("it is single-use: take the old one out first"),
                _ => Err("take it out, or slacken it, first"),
            },
            Deed::Tighten(through) => {
                let stages = fastener.finish.len();
                let to = through.unwrap_or(stages);
                let from = match self {
                    State::HandStarted => 0,
                    State::Through(k) => k,
                    State::Final => stages,
                    State::Out | State::Trapped | State::Holding | State::Slackened => {
                        return Err("start it by hand first");
                    }
                    State::AsFound => return Err("it was never loosened"),
                };
                if from >= to {
                    return Err("that stage was done already, and a stage is done once");
                }
                Ok(if to >= stages { State::Final } else { State::Through(to) })
            }
        }
    }

    /// Stages done so far.
    fn done(self, stages: usize) -> usize {
        match self {
            State::Through(k) => k,
            State::Final => stages,
            _ => 0,
        }
    }
}

/// A state and the act that led to it.
#[derive(Debug, Clone)]
struct Now<S> {
    state: S,
    since: Range<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    On,
    Off,
    Hung,
}

struct Course<'a, 'f> {
    sight: &'a Sight<'a>,
    findings: &'f mut Vec<Finding>,
    items: Vec<Vec<Now<State>>>,
    supports: Vec<Now<bool>>,
    components: Vec<Now<Part>>,
    connections: Vec<Now<bool>>,
    conditions: Vec<bool>,
}

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    let p = sight.procedure();
    let all = |count: usize| vec![Now { state: false, since: 0..0 }; count];
    let mut course = Course {
        sight,
        findings,
        items: p.fasteners.iter().map(|f| vec![Now { state: State::AsFound, since: 0..0 }; f.places.len()]).collect(),
        supports: all(p.supports.len()),
        components: vec![Now { state: Part::On, since: 0..0 }; p.components.len()],
        connections: all(p.connections.len()),
        conditions: vec![false; p.conditions.len()],
    };
    let mut last = Phase::Prepare;
    for (ix, step) in p.steps.iter().enumerate() {
        if step.phase < last {
            let span = sight.written.step.get(ix).map_or(0..0, |s| s.phase.span.clone());
            let right = "Give the steps in the order prepare, strip, inspect, rebuild, close";
            let what = format!("step \"{}\" goes back to an earlier phase", step.id);
            course.findings.push(Finding::new(Code::PhaseOrder, span, what, right));
        }
        last = last.max(step.phase);
        course.step(ix, step);
    }
    course.end();
}

impl Course<'_, '_> {
    fn report(&mut self, what: What, code: Code, span: Range<usize>, said: String, right: impl Into<String>) {
        if self.sight.whole(what) {
            self.findings.push(Finding::new(code, span, said, right));
        }
    }

    fn step(&mut self, ix: usize, step: &Step) {
        if let Some(needs) = step.needs {
            // The step may itself bring the vehicle into the state.
            let reached = step.acts.contains(&Act::Reach(needs));
            if !reached {
                let written = self.sight.written.step.get(ix).and_then(|s| s.needs.as_ref());
                let span = written.map_or(0..0, |n| n.span.clone());
                self.needs(needs, span, &format!("step \"{}\"", step.id));
            }
        }
        for (n, act) in step.acts.iter().enumerate() {
            let span = self.sight.act(ix, n);
            self.act(act, span);
        }
    }

    fn needs(&mut self, ix: ConditionIx, span: Range<usize>, who: &str) {
        if self.conditions.get(ix.0) == Some(&false) {
            let name = self.sight.procedure().conditions.get(ix.0).map_or("", |c| c.name.as_str());
            let said = format!("{who} needs the vehicle {name}, and it is not at that point");
            let right = "Put a step with \"reach\" before it, or move it to where the state holds";
            self.report(What::Condition, Code::ConditionUnmet, span, said, right);
        }
    }

    fn act(&mut self, act: &Act, span: Range<usize>) {
        let p = self.sight.procedure();
        match act {
            Act::Place(ix) | Act::TakeAway(ix) => {
                let place = matches!(act, Act::Place(_));
                let Some(now) = self.supports.get_mut(ix.0) else {
                    return;
                };
                let unlawful = now.state == place;
                *now = Now { state: place, since: span.clone() };
                if unlawful {
                    let name = p.supports.get(ix.0).map_or("", |s| s.name.as_str());
                    let said = format!("\"{name}\" is {} already", if place { "in place" } else { "away" });
                    let right = if place { "Take it away first" } else { "Place it first" };
                    self.report(What::Support, Code::SupportUnlawful, span, said, right);
                }
            }
            Act::Reach(ix) | Act::Leave(ix) => {
                let reach = matches!(act, Act::Reach(_));
                let Some(now) = self.conditions.get_mut(ix.0) else {
                    return;
                };
                let unlawful = *now == reach;
                *now = reach;
                if unlawful {
                    let name = p.conditions.get(ix.0).map_or("", |c| c.name.as_str());
                    let said = format!("the vehicle {} {name}", if reach { "is already" } else { "is not" });
                    let right = if reach { "Leave the state first" } else { "Put a step with \"reach\" before it" };
                    self.report(What::Condition, Code::ConditionUnlawful, span, said, right);
                }
            }
            Act::TakeOff(ix) | Act::Hang(ix) | Act::PutOn(ix) => {
                let Some(now) = self.components.get_mut(ix.0) else {
                    return;
                };
                let before = now.state;
                let after = match act {
                    Act::TakeOff(_) => Part::Off,
                    Act::Hang(_) => Part::Hung,
                    _ => Part::On,
                };
                *now = Now { state: after, since: span.clone() };
                if before == after {
                    let name = p.components.get(ix.0).map_or("", |c| c.name.as_str());
                    let state = match after {
                        Part::On => "on",
                        Part::Off => "off",
                        Part::Hung => "hung up",
                    };
                    let right = "Take this act out, or put in the one that is missing before it";
                    self.report(
                        What::Component,
                        Code::ComponentUnlawful,
                        span,
                        format!("\"{name}\" is {state} already"),
                        right,
                    );
                }
            }
            Act::Disconnect(ix) | Act::Connect(ix) => {
                let open = matches!(act, Act::Disconnect(_));
                let Some(now) = self.connections.get_mut(ix.0) else {
                    return;
                };
                let unlawful = now.state == open;
                *now = Now { state: open, since: span.clone() };
                if unlawful {
                    let name = p.connections.get(ix.0).map_or("", |c| c.name.as_str());
                    let said = format!("\"{name}\" is {} already", if open { "open" } else { "closed" });
                    let right = "Take this act out, or put in the one that is missing before it";
                    self.report(What::Connection, Code::ConnectionUnlawful, span, said, right);
                }
            }
            Act::Fasten { group, items, deed } => self.fasten(*group, items, *deed, span),
            Act::Measure(_) | Act::Clean(_) | Act::Apply(_) => {}
        }
    }

    fn fasten(&mut self, group: FastenerIx, items: &[usize], deed: Deed, span: Range<usize>) {
        let p = self.sight.procedure();
        let Some(fastener) = p.fasteners.get(group.0) else {
            return;
        };
        let Some(states) = self.items.get_mut(group.0) else {
            return;
        };
        let stages = fastener.finish.len();
        let mut refused: Vec<(State, &'static str, Vec<&str>)> = Vec::new();
        let mut from = stages;
        for &item in items {
            let (Some(now), Some(place)) = (states.get_mut(item), fastener.places.get(item)) else {
                continue;
            };
            from = from.min(now.state.done(stages));
            let after = match now.state.after(deed, fastener) {
                Ok(after) => after,
                Err(why) => {
                    match refused.iter_mut().find(|(state, _, _)| *state == now.state) {
                        Some((_, _, places)) => places.push(place),
                        None => refused.push((now.state, why, vec![place])),
                    }
                    // Go on as if it had been lawful, so that one mistake is one finding.
                    match deed {
                        Deed::Slacken => State::Slackened,
                        Deed::Remove => State::Out,
                        Deed::Trap => State::Trapped,
                        Deed::Hold => State::Holding,
                        Deed::HandStart => State::HandStarted,
                        Deed::Tighten(_) if matches!(now.state, State::Through(_) | State::Final) => now.state,
                        Deed::Tighten(Some(k)) if k < stages => State::Through(k),
                        Deed::Tighten(_) => State::Final,
                    }
                }
            };
            *now = Now { state: after, since: span.clone() };
        }
        for (state, why, places) in refused {
            let places = places_of(fastener, &places);
            let said = format!("{} is {} and cannot be {}", places, state.words(), done(deed));
            self.report(
                What::Fastener,
                Code::FastenerUnlawful,
                span.clone(),
                said,
                format!("Correct the order of the steps: {why}"),
            );
        }
        if let Deed::Tighten(through) = deed {
            for k in from..through.unwrap_or(stages) {
                if let Some(needs) = fastener.finish.stage(k).and_then(|s| s.needs) {
                    self.needs(needs, span.clone(), &format!("stage {} of \"{}\"", k + 1, fastener.id));
                }
            }
        }
    }

    /// What is left open at the end.
    fn end(mut self) {
        let p = self.sight.procedure();
        for (fastener, states) in p.fasteners.iter().zip(std::mem::take(&mut self.items)) {
            let mut left: Vec<(Now<State>, Vec<&str>)> = Vec::new();
            for (now, place) in states.into_iter().zip(&fastener.places) {
                if matches!(now.state, State::AsFound | State::Final) {
                    continue;
                }
                match left.iter_mut().find(|(n, _)| n.state == now.state && n.since == now.since) {
                    Some((_, places)) => places.push(place),
                    None => left.push((now, vec![place])),
                }
            }
            for (now, places) in left {
                let (code, right) = match now.state {
                    State::HandStarted => (Code::FastenerHandTight, "Add a later step that tightens it"),
                    State::Holding => {
                        (Code::FastenerHolding, "Add a later step that takes it out, and one that fits it for good")
                    }
                    State::Through(_) => (Code::FastenerHalfDone, "Add a later step that tightens it to the end"),
                    _ => (Code::FastenerUnfinished, "Add later steps that start it by hand and tighten it"),
                };
                let said = format!("{} is still {} at the end", places_of(fastener, &places), now.state.words());
                self.report(What::Fastener, code, now.since, said, right);
            }
        }
        for (support, now) in p.supports.iter().zip(std::mem::take(&mut self.supports)) {
            if now.state {
                let said = format!("\"{}\" is still in place at the end", support.name);
                self.report(What::Support, Code::SupportLeft, now.since, said, "Add a later step that takes it away");
            }
        }
        for (component, now) in p.components.iter().zip(std::mem::take(&mut self.components)) {
            let (code, state) = match now.state {
                Part::On => continue,
                Part::Off => (Code::ComponentOff, "off"),
                Part::Hung => (Code::ComponentHung, "hung up"),
            };
            let said = format!("\"{}\" is still {state} at the end", component.name);
            self.report(What::Component, code, now.since, said, "Add a later step that puts it on");
        }
        for (connection, now) in p.connections.iter().zip(std::mem::take(&mut self.connections)) {
            if now.state {
                let said = format!("\"{}\" is still open at the end", connection.name);
                self.report(What::Connection, Code::ConnectionOpen, now.since, said, "Add a later step that closes it");
            }
        }
    }
}

fn places_of(fastener: &Fastener, places: &[&str]) -> String {
    if fastener.places.len() == 1 || places.len() == fastener.places.len() {
        format!("fastener \"{}\"", fastener.id)
    } else {
        format!("fastener \"{}\" at {}", fastener.id, list(places.iter().copied()))
    }
}

fn done(deed: Deed) -> &'static str {
    match deed {
        Deed::Slacken => "slackened",
        Deed::Remove => "removed",
        Deed::Trap => "unscrewed",
        Deed::Hold => "put back to hold",
        Deed::HandStart => "started by hand",
        Deed::Tighten(_) => "tightened",
    }
}
