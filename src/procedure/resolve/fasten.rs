//! Fastener groups: places, order of tightening, programme.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use crate::procedure::order::{cross, spiral};
use crate::procedure::shape::list;
use crate::procedure::written::{self, Pattern, Spot, Text};
use crate::quantity::{Amount, Angle, Kind, Limits, Quantity, Torque};
use rust_decimal::Decimal;

impl Resolver<'_, '_> {
    pub(super) fn fastener(&mut self, f: &written::Fastener) -> Fastener {
        self.places(f);
        let many = f.places.len() > 1;
        // What is looked up with the value stands in no file yet either.
        let later = f.value_later && f.stages.is_none() && f.no_value.is_none();
        let unordered = many && later && f.pattern.is_none() && f.order.is_none();
        let order = match many {
            true if unordered => (0..f.places.len()).collect(),
            true => self.order(f),
            false => vec![0],
        };
        let stages = f.stages.as_ref().map_or(0, |s| s.len());
        if many && f.plural.is_none() {
            self.missing(f, "plural", "the spoken name of several, such as \"pivot bolts\"");
        }
        if many && stages > 1 && f.runs.is_none() {
            self.missing(f, "runs", "\"one at a time\" or \"stage by stage\", as the source has it");
        }
        let maybe = |text: &Option<Text>| text.as_ref().map(|t| t.value.clone());
        Fastener {
            id: f.id.value.clone(),
            name: f.name.value.clone(),
            plural: maybe(&f.plural).unwrap_or_else(|| f.name.value.clone()),
            places: f.places.iter().map(|p| p.value.clone()).collect(),
            thread: maybe(&f.thread),
            class: maybe(&f.class),
            drive: maybe(&f.drive),
            left_hand: f.left_hand,
            lock: f.lock.as_ref().map(|t| t.value.clone()),
            tool: f.tool.as_ref().and_then(|id| self.find(What::Tool, id)).map(ToolIx),
            single_use: f.single_use,
            preparation: maybe(&f.preparation),
            order,
            runs: match f.runs {
                Some(written::Runs::StageByStage) => Runs::StageByStage,
                // For one fastener, or one stage, both ways are the same.
                Some(written::Runs::OneAtATime) | None => Runs::OneAtATime,
            },
            finish: self.finish(f),
            over: match f.over {
                written::Over::Restart => OverRule::Restart,
                written::Over::Renew => OverRule::Renew,
            },
            picture: maybe(&f.picture),
            source: maybe(&f.source),
        }
    }

    fn missing(&mut self, f: &written::Fastener, key: &str, wanted: &str) {
        let what = format!("fastener \"{}\" sits in {} places and has no \"{key}\"", f.id.value, f.places.len());
        self.report(Code::KeyMissing, f.id.span.clone(), what, format!("Write: {key} = {wanted}"));
    }

    fn places(&mut self, f: &written::Fastener) {
        for (n, place) in f.places.iter().enumerate() {
            if let Some(first) = f.places.iter().take(n).find(|p| p.value == place.value) {
                let what = format!("fastener \"{}\" has two places \"{}\"", f.id.value, place.value);
                let finding =
                    Finding::new(Code::PlaceTwice, place.span.clone(), what, "Give each place a name of its own");
                self.findings.push(finding.with(first.span.clone(), "the first one"));
            }
        }
    }

    /// Order of tightening: indices into the places, each once.
    fn order(&mut self, f: &written::Fastener) -> Vec<usize> {
        let count = f.places.len();
        let in_turn: Vec<usize> = (0..count).collect();
        match (&f.pattern, &f.order) {
            (None, None) => {
                self.report(
                    Code::OrderMissing,
                    f.places.span.clone(),
                    format!("fastener \"{}\" sits in {count} places and has no order of tightening", f.id.value),
                    "Write pattern = \"in turn\", \"cross\" or \"spiral\", or order = [the places in their order]",
                );
                in_turn
            }
            (Some(pattern), Some(order)) => {
                let what = format!("fastener \"{}\" has both a pattern and an order", f.id.value);
                let finding = Finding::new(Code::OrderBoth, order.span.clone(), what, "Keep one of them");
                self.findings.push(finding.with(pattern.span.clone(), "the pattern"));
                in_turn
            }
            (Some(pattern), None) => {
                match pattern.value {
                    Pattern::InTurn => in_turn,
                    Pattern::Cross => cross(count),
                    Pattern::Spiral if count.is_multiple_of(2) && count >= 4 => spiral(count),
                    Pattern::Spiral => {
                        self.report(
                        Code::OrderIncomplete,
                        pattern.span.clone(),
                        format!("a spiral runs over two rows of the same length, and {count} places are not two such rows"),
                        "Write order = [the places in their order] instead",
                    );
                        in_turn
                    }
                }
            }
            (None, Some(order)) => self.explicit_order(f, order).unwrap_or(in_turn),
        }
    }

    fn explicit_order(&mut self, f: &written::Fastener, order: &Spot<Vec<Text>>) -> Option<Vec<usize>> {
        let indices = self.items(f.id.as_str(), f.places.iter().map(|p| p.value.as_str()), order)?;
        for (n, ix) in indices.iter().enumerate() {
            if indices.iter().take(n).any(|i| i == ix) {
                let place = order.get(n)?;
                self.report(
                    Code::OrderIncomplete,
                    place.span.clone(),
                    format!("the order of \"{}\" has \"{}\" twice", f.id.value, place.value),
                    "Write each place once",
                );
                return None;
            }
        }
        let left: Vec<&str> = f
            .places
            .iter()
            .enumerate()
            .filter(|(ix, _)| !indices.contains(ix))
            .map(|(_, p)| p.value.as_str())
            .collect();
        if !left.is_empty() {
            self.report(
                Code::OrderIncomplete,
                order.span.clone(),
                format!("the order of \"{}\" leaves out {}", f.id.value, list(left.iter().copied())),
                "Write each place once",
            );
            return None;
        }
        Some(indices)
    }

    /// The places that texts name; `None` if one is unknown, which is reported.
    pub(super) fn items<'p>(
        &mut self,
        group: &str,
        places: impl Iterator<Item = &'p str> + Clone,
        texts: &Spot<Vec<Text>>,
    ) -> Option<Vec<usize>> {
        let mut whole = true;
        let mut found = Vec::with_capacity(texts.len());
        for text in texts.iter() {
            match places.clone().position(|p| p == text.value) {
                Some(ix) => found.push(ix),
                None => {
                    whole = false;
                    let near = crate::procedure::shape::nearest(text, places.clone());
                    let near = near.map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
                    self.report(
                        Code::PlaceUnknown,
                        text.span.clone(),
                        format!("fastener \"{group}\" has no place \"{}\"", text.value),
                        format!("{near}Its places are: {}", list(places.clone())),
                    );
                }
            }
        }
        whole.then_some(found)
    }

    fn finish(&mut self, f: &written::Fastener) -> Finish {
        match (&f.stages, &f.no_value) {
            (Some(stages), Some(no_value)) => {
                let what = format!("fastener \"{}\" has both stages and \"no_value\"", f.id.value);
                let finding = Finding::new(Code::FinishBoth, no_value.span.clone(), what, "Keep one of them");
                self.findings.push(finding.with(stages.span.clone(), "the stages"));
            }
            (Some(stages), None) if f.value_later => {
                let what = format!("fastener \"{}\" has stages, and \"value_later\"", f.id.value);
                let right = "Take value_later out";
                self.findings.push(Finding::new(Code::FinishBoth, stages.span.clone(), what, right));
            }
            (None, Some(no_value)) if f.value_later => {
                let what = format!("fastener \"{}\" has \"no_value\" and \"value_later\"", f.id.value);
                self.findings.push(Finding::new(Code::FinishBoth, no_value.span.clone(), what, "Keep one of them"));
            }
            (None, None) if !f.value_later => self.report(
                Code::FinishMissing,
                f.id.span.clone(),
                format!("fastener \"{}\" has neither stages nor \"no_value\"", f.id.value),
                "Write stages = [{ torque = … }, …], or no_value = \"what the source says instead\"",
            ),
            _ => {}
        }
        match (&f.stages, &f.no_value) {
            (Some(stages), _) => {
                let stages: Vec<Stage> =
                    (0..stages.len()).filter_map(|n| self.stage(&stages[n], &stages[n + 1..])).collect();
                Finish::Stages(stages)
            }
            (None, None) if f.value_later => Finish::Later {
                order: f.places.len() > 1 && f.pattern.is_none() && f.order.is_none(),
                runs: f.places.len() > 1 && f.runs.is_none(),
            },
            (None, no_value) => {
                Finish::NoValue { instead: no_value.as_ref().map(|t| t.value.clone()).unwrap_or_default() }
            }
        }
    }

    fn stage(&mut self, stage: &Spot<written::Stage>, later: &[Spot<written::Stage>]) -> Option<Stage> {
        let s = &stage.value;
        let slacken = s.slacken.as_ref().filter(|truth| truth.value);
        let acts = [s.torque.is_some(), s.angle.is_some(), s.back_off.is_some(), s.slot.is_some(), slacken.is_some()];
        let count = acts.iter().filter(|a| **a).count();
        if count != 1 {
            let what =
                if count == 0 { "the stage says nothing to do" } else { "the stage says more than one thing to do" };
            self.report(
                Code::StageUnclear,
                stage.span.clone(),
                what,
                "Write one of \"torque\", \"angle\", \"back_off\", \"slot\", slacken = true in each stage",
            );
            self.gap(What::Fastener);
            return None;
        }
        if let (Some(also), None) = (&s.also, &s.torque) {
            let right = "Write \"also\" only beside \"torque\"";
            self.report(Code::StageExtra, also.span.clone(), "\"also\" gives a torque in a second unit", right);
        }
        let (mut from, mut share, mut second) = (None, None, None);
        let kind = if let Some(text) = s.torque.as_ref().filter(|text| written::is_share(text)) {
            if let Some(also) = &s.also {
                let right = "Write \"also\" beside the final torque, which the share is of";
                self.report(
                    Code::StageExtra,
                    also.span.clone(),
                    "a share of the final torque has no second unit",
                    right,
                );
            }
            let of_final = self.share(text, later);
            share = of_final.map(|(share, _)| share);
            of_final.map(|(_, limits)| StageKind::Torque(limits))
        } else if let Some(text) = &s.torque {
            second = s.also.as_ref().and_then(|also| self.limits::<Torque>(also)).map(|also| also.high().unit);
            let torque = self.torque(text);
            from = torque.and_then(|(from, _)| from);
            torque.map(|(_, limits)| StageKind::Torque(limits))
        } else if let Some(text) = &s.angle {
            self.limits(text).map(StageKind::Angle)
        } else if let Some(text) = &s.back_off {
            // "No more than a quarter turn" may be none at all.
            let limits = self.read::<Limits<Angle>>(text);
            limits
                .filter(|limits| self.not_below_nothing(text, limits.low()) && self.positive(text, limits.high()))
                .map(StageKind::BackOff)
        } else if let Some(text) = &s.slot {
            self.value::<Angle>(text).map(StageKind::Slot)
        } else {
            Some(StageKind::Slacken)
        };
        let needs = self.needs(&s.needs);
        let words = |text: &Option<Text>| text.as_ref().map(|t| t.value.clone());
        let (meanwhile, until, source) = (words(&s.meanwhile), words(&s.until), words(&s.source));
        match kind {
            Some(kind) => Some(Stage { kind, from, share, also: second, meanwhile, until, needs, source }),
            None => {
                self.gap(What::Fastener);
                None
            }
        }
    }

    /// "50 %": how much of the final torque, the last one of the programme, and what that comes to. No digit is rounded.
    fn share(&mut self, text: &Text, later: &[Spot<written::Stage>]) -> Option<(Decimal, Limits<Torque>)> {
        let share = text.trim().trim_end_matches('%').trim_end().parse::<Decimal>().ok();
        let Some(share) = share.filter(|share| *share > Decimal::ZERO && *share < Decimal::ONE_HUNDRED) else {
            let what = format!("\"{}\" is no share of the final torque", text.value);
            let right = "Write a number between 0 and 100 with the sign, such as \"50 %\"";
            self.report(Code::ValueUnreadable, text.span.clone(), what, right);
            return None;
        };
        let last = later.iter().rev().find_map(|stage| stage.torque.as_ref());
        let Some(last) = last.filter(|last| !written::is_share(last)) else {
            let what = format!("\"{}\" is a share of a final torque, and none follows", text.value);
            let right = "Write the stage with the final torque, such as { torque = \"70 N·m\" }, behind it";
            self.report(Code::ShareOfNothing, text.span.clone(), what, right);
            return None;
        };
        let Ok(whole) = last.parse::<Limits<Torque>>() else {
            // What cannot be read at all is reported where it stands.
            if self.torque(last).is_some() {
                let what =
                    format!("\"{}\" is a share of \"{}\", which is known only on the day", text.value, last.value);
                let right = "Write the torque of this stage as a value, as the source has it";
                let finding = Finding::new(Code::ShareOfNothing, text.span.clone(), what, right);
                self.findings.push(finding.with(last.span.clone(), "the final torque"));
            }
            return None;
        };
        let of =
            |torque: Torque| torque.amount.checked_mul(share).map(|amount| (amount / Decimal::ONE_HUNDRED).normalize());
        let (low, high) = (of(whole.low())?, of(whole.high())?);
        let new = |amount| Torque::new(amount, whole.low().unit);
        Some((
            share,
            if whole.is_window() {
                Limits::Window { low: new(low), high: new(high) }
            } else {
                Limits::Exactly(new(low))
            },
        ))
    }

    pub(super) fn limits<T: Amount>(&mut self, text: &Text) -> Option<Limits<T>> {
        let limits = self.read::<Limits<T>>(text)?;
        self.positive(text, limits.low()).then_some(limits)
    }

    /// Limits of a measurement in a second unit; only whether they can be read matters here.
    pub(super) fn limits_also(&mut self, also: &Text, kind: Kind) {
        if let Err(error) = Quantity::limits(kind, also) {
            let right = "Write both limits in the second unit of the source, such as also = \"0.008..0.035 in\"";
            let code = if error.lacks_unit() { Code::UnitMissing } else { Code::ValueUnreadable };
            self.report(code, also.span.clone(), error.to_string(), right);
        }
    }

    pub(super) fn value<T: Amount>(&mut self, text: &Text) -> Option<T> {
        let value = self.read::<T>(text)?;
        self.positive(text, value).then_some(value)
    }

    fn not_below_nothing<T: Amount>(&mut self, text: &Text, low: T) -> bool {
        let below = low.number() < Decimal::ZERO;
        if below {
            let what = format!("\"{}\" begins below nothing", text.value);
            self.report(Code::ValueNotPositive, text.span.clone(), what, "Write the value as the source has it");
        }
        !below
    }

    fn positive<T: Amount>(&mut self, text: &Text, least: T) -> bool {
        let positive = least.number() > Decimal::ZERO;
        if !positive {
            let what = format!("\"{}\" is not greater than nothing", text.value);
            self.report(Code::ValueNotPositive, text.span.clone(), what, "Write the value as the source has it");
        }
        positive
    }

    /// Reads an amount, and says what was wrong with it.
    pub(super) fn read<T: std::str::FromStr<Err: std::fmt::Display + Lacking>>(&mut self, text: &Text) -> Option<T> {
        if text.is_empty() {
            return None;
        }
        match text.parse::<T>() {
            Ok(value) => Some(value),
            Err(error) => {
                self.unreadable(text, &error);
                None
            }
        }
    }

    /// Says what is wrong with an amount.
    pub(super) fn unreadable(&mut self, text: &Text, error: &(impl std::fmt::Display + Lacking)) {
        let code = if error.lacks_unit() { Code::UnitMissing } else { Code::ValueUnreadable };
        let right = "Write the value as the source has it, with its unit";
        self.report(code, text.span.clone(), error.to_string(), right);
    }
}

/// Errors that know whether it is the unit that lacks.
pub(super) trait Lacking {
    fn lacks_unit(&self) -> bool;
}

impl Lacking for crate::quantity::ParseError {
    fn lacks_unit(&self) -> bool {
        self.problem == crate::quantity::Problem::NoUnit
    }
}

impl Lacking for crate::quantity::QuantityError {
    fn lacks_unit(&self) -> bool {
        match self {
            crate::quantity::QuantityError::Kind(error) => error.lacks_unit(),
            crate::quantity::QuantityError::Unknown { problem, .. } => *problem == crate::quantity::Problem::NoUnit,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{cross, spiral};

    #[test]
    fn patterns_go_over_every_fastener_once() {
        assert_eq!(cross(5), [0, 2, 4, 1, 3]);
        assert_eq!(cross(4), [0, 2, 1, 3]);
        assert_eq!(cross(6), [0, 3, 1, 4, 2, 5]);
        assert_eq!(spiral(10), [2, 7, 1, 8, 3, 6, 0, 9, 4, 5]);
        assert_eq!(spiral(8), [1, 6, 2, 5, 0, 7, 3, 4]);
        for count in 2..60 {
            let mut order = cross(count);
            order.sort_unstable();
            assert!(order.into_iter().eq(0..count), "cross {count}");
            if count.is_multiple_of(2) && count >= 4 {
                let mut order = spiral(count);
                order.sort_unstable();
                assert!(order.into_iter().eq(0..count), "spiral {count}");
            }
        }
    }
}
