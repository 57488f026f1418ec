//! Steps and what they do; a mirroring step does the reverse of the step it mirrors, last act first.

use super::{Resolver, What, added};
use crate::procedure::code::Code;
use crate::procedure::model::*;
use crate::procedure::written::{self, Spot, Text};
use crate::quantity::{Quantity, Unit};
use std::ops::Range;

/// What an act does, by the key that says so.
#[derive(Clone, Copy)]
enum Verb {
    Place,
    TakeAway,
    Reach,
    Leave,
    Fasten(Deed),
    TakeOff,
    Hang,
    PutOn,
    Disconnect,
    Connect,
    Measure,
    Clean,
    Apply,
}

/// The keys of which an act has exactly one.
const VERBS: &str = "place, take_away, reach, leave, slacken, remove, trap, hold, hand_start, tighten, unlock, lock, \
     take_off, hang, put_on, disconnect, connect, measure, clean, apply";

impl Resolver<'_, '_> {
    pub(super) fn steps(
        &mut self,
        steps: &[written::Step],
        fasteners: &[Fastener],
    ) -> (Vec<Step>, Vec<Vec<Range<usize>>>) {
        let mut spans: Vec<Vec<Range<usize>>> = Vec::with_capacity(steps.len());
        let mut resolved: Vec<Step> = Vec::with_capacity(steps.len());
        for (ix, step) in steps.iter().enumerate() {
            let (acts, places): (Vec<Act>, Vec<Range<usize>>) = match &step.mirrors {
                Some(mirrors) => {
                    let acts = self.mirrored(step, mirrors, &resolved, fasteners);
                    let places = vec![mirrors.span.clone(); acts.len()];
                    (acts, places)
                }
                None => {
                    let read = |a: &Spot<written::Act>| Some((self.act(a, fasteners)?, a.span.clone()));
                    step.acts.iter().filter_map(read).unzip()
                }
            };
            let until = self.until(steps, ix);
            let when = self.when(steps, ix);
            let within = self.within(steps, ix);
            resolved.push(Step { until, when, within, ..self.step(step, acts) });
            spans.push(places);
        }
        (resolved, spans)
    }

    fn step(&mut self, s: &written::Step, acts: Vec<Act>) -> Step {
        let maybe = |text: &Option<Text>| text.as_ref().map(|t| t.value.clone());
        Step {
            id: s.id.value.clone(),
            only: self.only(&s.only),
            when: None,
            phase: s.phase.value,
            say: s.say.value.clone(),
            helper: maybe(&s.helper),
            picture: maybe(&s.picture),
            why: maybe(&s.why),
            stuck: maybe(&s.stuck),
            cautions: s.cautions.iter().filter_map(|c| self.caution(c)).collect(),
            hold: maybe(&s.hold),
            ask: maybe(&s.ask),
            until: None,
            needs: self.needs(&s.needs),
            wait_minutes: s.wait_minutes,
            within: None,
            later: maybe(&s.later),
            minutes: s.minutes,
            source: maybe(&s.source),
            acts,
        }
    }

    fn caution(&mut self, caution: &Spot<written::Caution>) -> Option<Caution> {
        let c = &caution.value;
        let words = [
            (Signal::Note, &c.note),
            (Signal::Caution, &c.caution),
            (Signal::Warning, &c.warning),
            (Signal::Danger, &c.danger),
        ];
        let mut said = words.iter().filter_map(|(signal, text)| Some((*signal, text.as_ref()?)));
        match (said.next(), said.next()) {
            (Some((signal, say)), None) => Some(Caution { signal, say: say.value.clone() }),
            _ => {
                self.report(
                    Code::CautionUnclear,
                    caution.span.clone(),
                    "a caution has exactly one signal word",
                    "Write one of \"note\", \"caution\", \"warning\", \"danger\", such as { warning = \"…\" }",
                );
                None
            }
        }
    }

    fn act(&mut self, act: &Spot<written::Act>, fasteners: &[Fastener]) -> Option<Act> {
        let a = &act.value;
        let keys = [
            (Verb::Place, &a.place),
            (Verb::TakeAway, &a.take_away),
            (Verb::Reach, &a.reach),
            (Verb::Leave, &a.leave),
            (Verb::Fasten(Deed::Slacken), &a.slacken),
            (Verb::Fasten(Deed::Remove), &a.remove),
            (Verb::Fasten(Deed::Trap), &a.trap),
            (Verb::Fasten(Deed::Hold), &a.hold),
            (Verb::Fasten(Deed::HandStart), &a.hand_start),
            (Verb::Fasten(Deed::Tighten(None)), &a.tighten),
            (Verb::Fasten(Deed::Unlock), &a.unlock),
            (Verb::Fasten(Deed::Lock), &a.lock),
            (Verb::TakeOff, &a.take_off),
            (Verb::Hang, &a.hang),
            (Verb::PutOn, &a.put_on),
            (Verb::Disconnect, &a.disconnect),
            (Verb::Connect, &a.connect),
            (Verb::Measure, &a.measure),
            (Verb::Clean, &a.clean),
            (Verb::Apply, &a.apply),
        ];
        let mut said = keys.iter().filter_map(|(verb, text)| Some((*verb, text.as_ref()?)));
        let (Some((verb, text)), None) = (said.next(), said.next()) else {
            let some = keys.iter().any(|(_, text)| text.is_some());
            let what = if some { "the entry does more than one thing" } else { "the entry says nothing to do" };
            let right = format!("Write one of these in each entry: {VERBS}");
            self.report(Code::ActUnclear, act.span.clone(), what, right);
            for what in [What::Fastener, What::Support, What::Component, What::Connection, What::Condition] {
                self.gap(what);
            }
            return None;
        };
        self.extras(a, verb);
        Some(match verb {
            Verb::Place => Act::Place(SupportIx(self.find(What::Support, text)?)),
            Verb::TakeAway => Act::TakeAway(SupportIx(self.find(What::Support, text)?)),
            Verb::Reach => Act::Reach(ConditionIx(self.find(What::Condition, text)?)),
            Verb::Leave => Act::Leave(ConditionIx(self.find(What::Condition, text)?)),
            Verb::TakeOff => Act::TakeOff(ComponentIx(self.find(What::Component, text)?)),
            Verb::Hang => Act::Hang(ComponentIx(self.find(What::Component, text)?)),
            Verb::PutOn => Act::PutOn(ComponentIx(self.find(What::Component, text)?)),
            Verb::Disconnect => Act::Disconnect(ConnectionIx(self.find(What::Connection, text)?)),
            Verb::Connect => Act::Connect(ConnectionIx(self.find(What::Connection, text)?)),
            Verb::Clean => Act::Clean(text.value.clone()),
            Verb::Apply => Act::Apply(text.value.clone()),
            Verb::Measure => Act::Measure(self.measurement(act, text)?),
            Verb::Fasten(deed) => self.fasten(a, text, deed, fasteners)?,
        })
    }

    /// Reports keys that do not belong to the act.
    fn extras(&mut self, a: &written::Act, verb: Verb) {
        let fasten = matches!(verb, Verb::Fasten(_));
        let tighten = matches!(verb, Verb::Fasten(Deed::Tighten(_)));
        let measure = matches!(verb, Verb::Measure);
        let span = |text: &written::Rare| text.as_ref().map(|t| t.span.clone());
        let keys = [
            ("items", a.items.as_ref().map(|i| i.span.clone()), fasten, "a fastener group"),
            ("through", a.through.as_ref().map(|i| i.span.clone()), tighten, "\"tighten\""),
            ("name", span(&a.name), measure, "\"measure\""),
            ("unit", span(&a.unit), measure, "\"measure\""),
            ("least", span(&a.least), measure, "\"measure\""),
            ("most", span(&a.most), measure, "\"measure\""),
            ("also", span(&a.also), measure, "\"measure\""),
            ("among", span(&a.among), measure, "\"measure\""),
            ("otherwise", span(&a.otherwise), measure, "\"measure\""),
            ("source", span(&a.source), measure, "\"measure\""),
        ];
        for (key, span, belongs, to) in keys {
            if let (Some(span), false) = (span, belongs) {
                let right = format!("Leave it out; it goes with {to} only");
                self.report(Code::ActExtra, span, format!("\"{key}\" does not belong to this act"), right);
            }
        }
    }

    fn fasten(&mut self, a: &written::Act, group: &Text, deed: Deed, fasteners: &[Fastener]) -> Option<Act> {
        let ix = self.find(What::Fastener, group)?;
        let fastener = fasteners.get(ix)?;
        let mut items: Vec<usize> = match &a.items {
            Some(texts) => match self.items(group, fastener.places.iter().map(String::as_str), texts) {
                Some(items) => items,
                None => {
                    self.gap(What::Fastener);
                    return None;
                }
            },
            None => (0..fastener.places.len()).collect(),
        };
        if matches!(deed, Deed::Lock | Deed::Unlock) && fastener.lock.is_none() {
            let what = format!("fastener \"{}\" has nothing that locks it", group.value);
            let right = "Write in the fastener what does, such as lock = \"cotter pin\"";
            self.report(Code::LockNone, group.span.clone(), what, right);
        }
        items.sort_unstable();
        if let Some(twice) = items.windows(2).find(|w| w[0] == w[1]).and_then(|w| fastener.places.get(w[0])) {
            let span = a.items.as_ref().map_or(group.span.clone(), |i| i.span.clone());
            let what = format!("\"{twice}\" is written twice");
            self.report(Code::PlaceTwice, span, what, "Write each place once");
        }
        items.dedup();
        let deed = match (deed, &a.through) {
            (Deed::Tighten(_), Some(through)) => {
                let stages = fastener.finish.len();
                let k = usize::try_from(through.value).ok().filter(|k| (1..=stages).contains(k));
                if k.is_none() && !self.gaps.contains(&What::Fastener) {
                    self.report(
                        Code::StageUnknown,
                        through.span.clone(),
                        format!("fastener \"{}\" has no stage {}", group.value, through.value),
                        format!("Its stages are 1 to {stages}; leave \"through\" out to tighten to the end"),
                    );
                }
                Deed::Tighten(k)
            }
            (deed, _) => deed,
        };
        Some(fasten(FastenerIx(ix), fastener, items, deed))
    }

    fn measurement(&mut self, act: &Spot<written::Act>, what: &Text) -> Option<Measurement> {
        let a = &act.value;
        let name = a.name.as_ref().and_then(|name| self.find(What::Measurement, name)).map(MeasureIx);
        let source = a.source.as_ref().map(|t| t.value.clone());
        if a.least.is_none() && a.most.is_none() {
            let Some(text) = &a.unit else {
                let right = "Write \"least\", \"most\" or both, such as most = \"2 mm\"; of what is only recorded, unit = \"mm\"";
                self.report(Code::LimitsMissing, act.span.clone(), "the measurement has no limit", right);
                return None;
            };
            if let Some(among) = &a.among {
                let right = "Write \"least\" and \"most\": they decide which of the sizes is the one";
                let what = "without limits any of the sizes would do";
                self.report(Code::ActExtra, among.span.clone(), what, right);
                self.gap(What::Stock);
            }
            if let Some(also) = &a.also {
                let right = "Leave it out, or write \"least\" and \"most\": it gives limits in a second unit";
                self.report(Code::ActExtra, also.span.clone(), "the measurement has no limit", right);
            }
            let unit = self.read::<Unit>(text)?;
            let limits = Bounds { least: None, most: None };
            let (what, otherwise) = (what.value.clone(), String::new());
            let (from, more, among, leads) = (None, Vec::new(), None, false);
            return Some(Measurement { what, name, unit, from, more, leads, among, limits, otherwise, source });
        }
        if let Some(text) = &a.unit {
            let right = "Leave it out; the limits have their unit";
            self.report(
                Code::ActExtra,
                text.span.clone(),
                "\"unit\" does not belong to a measurement with limits",
                right,
            );
        }
        let ends = || [&a.least, &a.most].into_iter().flatten();
        let kind = ends().find_map(|end| Some(added(end)?.0.parse::<Quantity>().ok()?.kind()));
        let least = a.least.as_ref().and_then(|t| self.limit(t, kind));
        let most = a.most.as_ref().and_then(|t| self.limit(t, kind));
        if let (Some((a, low)), Some((b, high))) = (&least, &most)
            && (low.unit() != high.unit() || low > high || a != b)
        {
            let shown = |q: &Quantity, from: &[Term]| {
                if from.is_empty() { q.to_string() } else { format!("counted, {q}") }
            };
            let what = format!("\"least\" is {} and \"most\" is {}", shown(low, a), shown(high, b));
            let right =
                "Write both in one unit, the lower one as \"least\", and both from the same measurements if one is";
            self.report(Code::LimitsMixed, act.span.clone(), what, right);
        }
        let Some(otherwise) = &a.otherwise else {
            let right = "Write otherwise = \"what to do when it is outside\"";
            self.report(Code::KeyMissing, act.span.clone(), "the measurement has no \"otherwise\"", right);
            return None;
        };
        let (terms, any) = most.clone().or_else(|| least.clone())?;
        let (from, more) = (terms.first().map(|first| first.of), terms.into_iter().skip(1).collect());
        let limits = Bounds { least: least.map(|(_, q)| q), most: most.map(|(_, q)| q) };
        if let Some(also) = &a.also {
            if ends().all(|end| added(end).is_none()) {
                let right = "Leave it out: the limits are what was measured, and nothing is added to it";
                self.report(Code::ActExtra, also.span.clone(), "there is no value to give in a second unit", right);
            } else {
                self.limits_also(also, any.kind());
            }
        }
        let among = a.among.as_ref().and_then(|id| self.among(id, any.unit()));
        let (what, otherwise) = (what.value.clone(), otherwise.value.clone());
        let leads = a.name.as_ref().is_some_and(|name| self.leading.contains(&name.value));
        Some(Measurement { what, name, unit: any.unit(), from, more, leads, among, limits, otherwise, source })
    }

    /// The reverse of an earlier step.
    fn mirrored(&mut self, step: &written::Step, mirrors: &Text, before: &[Step], fasteners: &[Fastener]) -> Vec<Act> {
        if let Some(first) = step.acts.first() {
            let what = format!("step \"{}\" has both \"mirrors\" and \"do\"", step.id.value);
            self.report(Code::MirrorAndDo, first.span.clone(), what, "Keep one of them");
        }
        let Some(ix) = self.find(What::Step, mirrors) else {
            for what in [What::Fastener, What::Support, What::Component, What::Connection, What::Condition] {
                self.gap(what);
            }
            return Vec::new();
        };
        let Some(acts) = before.get(ix).map(|s| &s.acts) else {
            let what = format!("step \"{}\" comes no earlier than the step that mirrors it", mirrors.value);
            self.report(Code::MirrorLater, mirrors.span.clone(), what, "Mirror an earlier step");
            return Vec::new();
        };
        let mut reversed: Vec<Act> = Vec::with_capacity(acts.len());
        for act in acts.iter().rev() {
            match reverse(act, fasteners) {
                Reverse::Act(act) => {
                    // Taken off and then hung up is put on once; slackened and then taken out is started once.
                    let act = unstarted(act, &reversed);
                    if let Some(act) = act.filter(|act| !reversed.contains(act)) {
                        reversed.push(act);
                    }
                }
                Reverse::Nothing => {}
                Reverse::Unclear(word) => {
                    let what = format!("step \"{}\" does \"{word}\", which has no plain reverse", mirrors.value);
                    let right = "Write with \"do\" what this step does";
                    self.report(Code::MirrorUnclear, mirrors.span.clone(), what, right);
                }
            }
        }
        reversed
    }
}

/// An act on fasteners, the items in the order of tightening where that matters, in the order of the places otherwise.
fn fasten(group: FastenerIx, fastener: &Fastener, mut items: Vec<usize>, deed: Deed) -> Act {
    if matches!(deed, Deed::Tighten(_)) {
        items.sort_by_key(|item| fastener.order.iter().position(|o| o == item));
    }
    Act::Fasten { group, items, deed }
}

/// The act without the fasteners that were started by hand before; `None` if none is left.
fn unstarted(act: Act, before: &[Act]) -> Option<Act> {
    let Act::Fasten { group, mut items, deed: Deed::HandStart } = act else { return Some(act) };
    for other in before {
        if let Act::Fasten { group: same, items: started, deed: Deed::HandStart } = other
            && *same == group
        {
            items.retain(|item| !started.contains(item));
        }
    }
    (!items.is_empty()).then_some(Act::Fasten { group, items, deed: Deed::HandStart })
}

enum Reverse {
    Act(Act),
    Nothing,
    Unclear(&'static str),
}

fn reverse(act: &Act, fasteners: &[Fastener]) -> Reverse {
    Reverse::Act(match act {
        Act::Place(ix) => Act::TakeAway(*ix),
        Act::TakeAway(ix) => Act::Place(*ix),
        Act::Reach(ix) => Act::Leave(*ix),
        Act::Leave(ix) => Act::Reach(*ix),
        Act::TakeOff(ix) | Act::Hang(ix) => Act::PutOn(*ix),
        Act::Disconnect(ix) => Act::Connect(*ix),
        Act::Fasten { group, items, deed } => {
            let Some(fastener) = fasteners.get(group.0) else {
                return Reverse::Nothing;
            };
            let deed = match deed {
                // What was loosened is started by hand; bringing it to its end state is a step of its own.
                Deed::Slacken | Deed::Remove | Deed::Trap => Deed::HandStart,
                Deed::Hold => Deed::Remove,
                Deed::HandStart => return Reverse::Unclear("hand_start"),
                Deed::Tighten(_) => return Reverse::Unclear("tighten"),
                // It is locked once it is tight, and that is a step of its own.
                Deed::Unlock => return Reverse::Nothing,
                Deed::Lock => return Reverse::Unclear("lock"),
            };
            fasten(*group, fastener, items.clone(), deed)
        }
        Act::PutOn(_) => return Reverse::Unclear("put_on"),
        Act::Connect(_) => return Reverse::Unclear("connect"),
        Act::Measure(_) | Act::Clean(_) | Act::Apply(_) => return Reverse::Nothing,
    })
}
