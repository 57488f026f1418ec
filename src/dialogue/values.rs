//! Values as they are said and shown: amounts, windows, conversions, flats, stages.

use super::file::Language;
use super::templates::Templates;
use super::units::UnitWords;
use super::{Digits, Manner};
use crate::job::{Counted, Pending, Verdict};
use crate::procedure::{Bounds, Finish, MeasureIx, Measurement, Procedure, StageKind, Stock, Term};
use crate::quantity::{Angle, AngleUnit, Limits, PercentageUnit, Quantity, Torque, TorqueUnit, Unit};
use minijinja::context;
use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};

/// So many sizes are told one by one.
const MOST_SIZES: usize = 4;

/// Puts things into words in one of the two ways.
pub(super) struct Teller<'a> {
    pub language: &'a Language,
    pub book: &'a Procedure,
    pub manner: &'a Manner,
    /// For the voice? Otherwise for the eye.
    pub spoken: bool,
}

/// Figures that a converted value keeps: a wrench shows no more.
const CONVERTED_FIGURES: u32 = 3;

impl Teller<'_> {
    pub fn value(&self, key: &str, context: minijinja::Value) -> String {
        self.language.value(self.spoken, key, context)
    }

    /// One amount.
    pub fn quantity(&self, quantity: Quantity) -> String {
        match quantity {
            Quantity::Angle(angle) => self.angle(&Limits::Exactly(angle)),
            other => self.amounts(other.amount(), None, other.unit()),
        }
    }

    /// So many minutes, as they were set or as the book has them.
    pub fn minutes(&self, minutes: u32) -> String {
        self.whole(minutes, self.language.units().minute())
    }

    /// How long work takes, by estimate: from sixty minutes on in hours and minutes.
    pub fn work_time(&self, minutes: u32) -> String {
        let (hours, rest) = (minutes / 60, minutes % 60);
        let hours = (hours > 0).then(|| self.whole(hours, self.language.units().hour()));
        let rest = (rest > 0 || hours.is_none()).then(|| self.minutes(rest));
        let parts: Vec<String> = hours.into_iter().chain(rest).collect();
        parts.join(if self.spoken { ", " } else { " " })
    }

    fn whole(&self, count: u32, words: &UnitWords) -> String {
        let (n, one) = (Decimal::from(count), count == 1);
        if !self.spoken {
            return format!("{n}{}", words.written);
        }
        let said = format!("{} {}", self.language.numbers().say(n), if one { &words.one } else { &words.many });
        self.with_digits(said, &[n])
    }

    /// A torque, in the user's unit first if there is one, and then as it was published as well.
    pub fn torque(&self, limits: &Limits<Torque>, unit: Option<TorqueUnit>) -> String {
        self.torque_by(limits, unit, ["converted", "converted_about"])
    }

    /// One that was counted out, and is published nowhere.
    pub fn torque_counted(&self, limits: &Limits<Torque>, unit: Option<TorqueUnit>) -> String {
        self.torque_by(limits, unit, ["converted_counted", "converted_counted_about"])
    }

    fn torque_by(&self, limits: &Limits<Torque>, unit: Option<TorqueUnit>, [exact, rounded]: [&str; 2]) -> String {
        let (low, high) = (limits.low(), limits.is_window().then(|| limits.high()));
        let published = self.window(Quantity::Torque(low), high.map(Quantity::Torque));
        let Some(unit) = unit.filter(|unit| *unit != low.unit || high.is_some_and(|h| h.unit != *unit)) else {
            return published;
        };
        // A window is rounded inwards, so that the rounded one never leaves the published one.
        let (up, down) = (RoundingStrategy::ToPositiveInfinity, RoundingStrategy::ToNegativeInfinity);
        let nearest = RoundingStrategy::MidpointAwayFromZero;
        let round = |torque: Torque, strategy| {
            let exact = torque.in_unit(unit).amount;
            let rounded = exact.round_sf_with_strategy(CONVERTED_FIGURES, strategy).unwrap_or(exact).normalize();
            (rounded, rounded != exact)
        };
        let ((mut from, mut about), mut to) =
            (round(low, if high.is_some() { up } else { nearest }), high.map(|high| round(high, down)));
        if to.is_some_and(|(to, _)| to < from) {
            // Too narrow to be rounded inwards.
            (from, about) = round(low, nearest);
            to = high.map(|high| round(high, nearest));
        }
        let about = about || to.is_some_and(|(_, about)| about);
        let value = self.amounts(from, to.map(|(to, _)| to), Unit::Torque(unit));
        self.value(if about { rounded } else { exact }, context! { value, published })
    }

    /// An angle; with flats of a hexagon where they come out even, and in degrees where it was published in other units.
    pub fn angle(&self, limits: &Limits<Angle>) -> String {
        let (low, high) = (limits.low(), limits.is_window().then(|| limits.high()));
        let value = self.window(Quantity::Angle(low), high.map(Quantity::Angle));
        let degrees = |angle: Angle| angle.in_unit(AngleUnit::Degree).amount;
        let also = if low.unit == AngleUnit::Degree {
            self.flats(degrees(low), high.map(degrees))
        } else {
            Some(self.amounts(degrees(low), high.map(degrees), Unit::Angle(AngleUnit::Degree)))
        };
        match also {
            Some(flats) => self.value("with_flats", context! { value, flats }),
            None => value,
        }
    }

    /// An angle of a window that may be none at all: "not more than" its high end.
    pub fn angle_up_to(&self, limits: &Limits<Angle>) -> String {
        match limits {
            Limits::Window { low, high } if low.amount.is_zero() => self.angle_at_most(*high),
            limits => self.angle(limits),
        }
    }

    pub fn angle_at_most(&self, most: Angle) -> String {
        self.value("most", context! { value => self.angle(&Limits::Exactly(most)) })
    }

    /// So many quarters of a flat, if it is a whole number of them.
    fn flats(&self, low: Decimal, high: Option<Decimal>) -> Option<String> {
        let quarters = |degrees: Decimal| {
            let quarters = degrees / Decimal::from(15);
            quarters.fract().is_zero().then(|| quarters.to_u64()).flatten().filter(|q| *q > 0)
        };
        let (low, high) = (quarters(low)?, high.map(quarters));
        let (words, numbers) = (self.language.units().of(Unit::Angle(AngleUnit::Flat)), self.language.numbers());
        let full = |quarters| match self.spoken {
            true => numbers.quarters(quarters, &words.one, &words.many),
            false => {
                let unit = if quarters == 4 { format!(" {}", words.one) } else { words.written.clone() };
                format!("{}{unit}", numbers.quarters_written(quarters))
            }
        };
        let Some(high) = high else { return Some(full(low)) };
        let high = full(high?);
        let low = match self.spoken {
            // Less than one flat has no number of its own: "half a flat to one flat".
            true if low < 4 => full(low),
            true => numbers.quarters_bare(low),
            false => numbers.quarters_written(low),
        };
        Some(self.value("range", context! { low, high }))
    }

    /// One amount or a window of them, as published.
    fn window(&self, low: Quantity, high: Option<Quantity>) -> String {
        match high {
            Some(high) if high.unit() != low.unit() => {
                let (low, high) =
                    (self.amounts(low.amount(), None, low.unit()), self.amounts(high.amount(), None, high.unit()));
                self.value("range", context! { low, high })
            }
            high => self.amounts(low.amount(), high.map(|h| h.amount()), low.unit()),
        }
    }

    /// Numbers of one unit, with their digits where they could be taken for others.
    pub(super) fn amounts(&self, low: Decimal, high: Option<Decimal>, unit: Unit) -> String {
        let (words, numbers) = (self.language.units().of(unit), self.language.numbers());
        let say = |n: Decimal| if self.spoken { numbers.say(n) } else { n.to_string() };
        let range = |low: String, high: Option<String>| match high {
            Some(high) => self.value("range", context! { low, high }),
            None => low,
        };
        let value = range(say(low), high.map(say));
        let one = high.is_none() && low == Decimal::ONE;
        if !self.spoken {
            return format!(
                "{value}{}",
                if one && words.written.contains(&words.many) {
                    format!(" {}", words.one)
                } else {
                    words.written.clone()
                }
            );
        }
        let said = format!("{value} {}", if one { &words.one } else { &words.many });
        let all: Vec<Decimal> = [Some(low), high].into_iter().flatten().collect();
        self.with_digits(said, &all)
    }

    /// A share of something. It is nothing to set, so it is said once.
    fn share(&self, share: Decimal) -> String {
        let unit = Unit::Percentage(PercentageUnit::Percent);
        match self.spoken {
            true => format!("{} {}", self.language.numbers().say(share), self.language.units().of(unit).many),
            false => self.amounts(share, None, unit),
        }
    }

    fn with_digits(&self, value: String, amounts: &[Decimal]) -> String {
        let numbers = self.language.numbers();
        let wanted = amounts.iter().any(|n| match self.manner.digits {
            Digits::Confusable => numbers.confusable(*n),
            Digits::All => n.abs() >= Decimal::TEN || !n.fract().is_zero(),
        });
        if !wanted {
            return value;
        }
        let mut digits = amounts.iter().map(|n| numbers.digits(&n.to_string()));
        let (low, high) = (digits.next().unwrap_or_default(), digits.next());
        let digits = match high {
            Some(high) => self.value("range", context! { low, high }),
            None => low,
        };
        self.value("with_digits", context! { value, digits })
    }

    /// Between which values a measurement must lie.
    pub fn bounds(&self, bounds: &Bounds) -> String {
        match (bounds.least, bounds.most) {
            // What counts from a measurement may come out so.
            (_, Some(high)) if high.amount() < Decimal::ZERO && !high.kind().may_be_negative() => {
                let most = self.quantity(high);
                self.value(
                    "below_nothing",
                    context! { value => bounds.least.map_or(most, |low| self.window(low, Some(high))) },
                )
            }
            (Some(low), Some(high)) => {
                let value = self.window(low, Some(high));
                self.value("between", context! { value })
            }
            (Some(least), None) => self.value("least", context! { value => self.quantity(least) }),
            (None, Some(most)) => self.value("most", context! { value => self.quantity(most) }),
            (None, None) => String::new(),
        }
    }

    /// The same of a measurement as the book has it; of one that counts from another without a sum.
    pub fn bounds_of(&self, measurement: &Measurement) -> String {
        match measurement.from {
            Some(from) => {
                let more = measurement.more.iter().map(|term| (*term, None));
                self.added((from, None), more, &measurement.limits)
            }
            None => self.bounds(&measurement.limits),
        }
    }

    /// What a value is made of: "drag of the shaft 0.9 plus 1.1 to 4.5 newton metres".
    pub fn parts(&self, counted: &Counted) -> String {
        let more = counted.more.iter().map(|(term, value)| (*term, Some(*value)));
        self.added((counted.from, Some(counted.base)), more, &counted.by)
    }

    /// A torque that counts from a measurement, before that is taken.
    pub fn torque_added(&self, from: MeasureIx, by: &Limits<Torque>) -> String {
        let (low, high) = (Quantity::Torque(by.low()), Quantity::Torque(by.high()));
        self.added((from, None), [].into_iter(), &Bounds { least: Some(low), most: Some(high) })
    }

    fn added(
        &self,
        (from, base): (MeasureIx, Option<Quantity>),
        more: impl Iterator<Item = (Term, Option<Quantity>)>,
        by: &Bounds,
    ) -> String {
        let what = |ix: MeasureIx| self.book.named.get(ix.0).map_or("", |named| named.what.as_str());
        let ends: Vec<Quantity> = by.least.into_iter().chain(by.most.filter(|most| by.least != Some(*most))).collect();
        let less =
            ends.iter().all(|end| end.amount() <= Decimal::ZERO) && ends.iter().any(|end| !end.amount().is_zero());
        // "Less 0.03 to 0.08": the smaller number first.
        let mut ends: Vec<Quantity> =
            ends.into_iter().map(|end| if less { Quantity::new(-end.amount(), end.unit()) } else { end }).collect();
        if less {
            ends.reverse();
        }
        let Some(first) = ends.first() else { return what(from).to_owned() };
        // The unit is said once, behind what is added.
        let alone = |base: Quantity| match base.unit() == first.unit() {
            true if self.spoken => self.language.numbers().say(base.amount()),
            true => base.amount().to_string(),
            false => self.quantity(base),
        };
        let (mut what_all, mut base) = (what(from).to_owned(), base.map(alone));
        for (term, value) in more {
            let by = match value.map(alone) {
                Some(value) => format!("{} {value}", what(term.of)),
                None => what(term.of).to_owned(),
            };
            let key = if term.less { "counted_minus" } else { "counted_plus" };
            (what_all, base) = (self.value(key, context! { what => what_all, base, by }), None);
        }
        let what = what_all;
        let by = self.window(*first, ends.get(1).copied());
        self.value(if less { "counted_minus" } else { "counted_plus" }, context! { what, base, by })
    }

    /// The sizes at hand that lie within limits; the smallest and the largest of many.
    pub fn fitting(&self, stock: &Stock, limits: &Bounds) -> Vec<String> {
        match stock.fitting(limits)[..] {
            [first, .., last] if stock.fitting(limits).len() > MOST_SIZES => vec![self.window(first, Some(last))],
            ref few => few.iter().map(|size| self.quantity(*size)).collect(),
        }
    }

    /// What a reading was held against.
    pub fn against(&self, bounds: &Bounds, verdict: Verdict) -> String {
        let amount = |q: Quantity| self.amounts(q.amount(), None, q.unit());
        match (bounds.least, bounds.most) {
            (Some(low), Some(high)) if low == high => self.value("against_value", context! { value => amount(low) }),
            (Some(low), Some(high)) => {
                let key = if verdict == Verdict::Within { "against_inside" } else { "against_outside" };
                self.value(key, context! { value => self.window(low, Some(high)) })
            }
            (Some(least), None) => self.value("against_least", context! { value => amount(least) }),
            (None, Some(most)) => self.value("against_most", context! { value => amount(most) }),
            (None, None) => String::new(),
        }
    }

    /// What a stage asks for, said after "stage two:"; one that waits is never named without what it waits for.
    pub fn act(&self, pending: &Pending, unit: Option<TorqueUnit>) -> String {
        let mut act = self.act_itself(pending, unit);
        let finish = &self.book.fasteners[pending.group.0].finish;
        if let Some(stage) = finish.stage(pending.stage).filter(|_| !pending.interrupted) {
            if let Some(until) = &stage.until {
                act = self.value("until", context! { until, act });
            }
            if let Some(meanwhile) = &stage.meanwhile {
                act = self.value("meanwhile", context! { meanwhile, act });
            }
        }
        if self.book.fasteners[pending.group.0].left_hand {
            // Which way is "on" must not be left to habit, at any stage.
            act = self.value("left_hand", context! { act });
        }
        match self.once(pending) {
            Some(once) => self.value("deferred", context! { once, act }),
            None => act,
        }
    }

    /// What a stage waits for: "once the vehicle is at ride height".
    pub fn once(&self, pending: &Pending) -> Option<String> {
        let condition = &self.book.conditions[pending.waits?.0];
        Some(self.value("once", context! { name => &condition.name }))
    }

    fn act_itself(&self, pending: &Pending, unit: Option<TorqueUnit>) -> String {
        let stage = self.book.fasteners[pending.group.0].finish.stage(pending.stage);
        if let (Some(from), Some(StageKind::Torque(limits))) = (stage.and_then(|s| s.from), &pending.kind) {
            return match &pending.counted {
                Some(counted) => {
                    let (parts, value) = (self.parts(counted), self.torque_counted(limits, unit));
                    self.value("counted", context! { parts, value })
                }
                // Before it was measured there is no sum, and what is added is no torque to tighten to.
                None => self.torque_added(from, limits),
            };
        }
        let unknown = if pending.announced { "announced" } else { "interrupted" };
        match &pending.kind {
            Some(StageKind::Angle(limits)) if pending.interrupted => {
                self.value(unknown, context! { value => self.angle(limits) })
            }
            Some(StageKind::BackOff(limits)) if pending.interrupted => {
                let whole = if limits.low().amount.is_zero() { Limits::Exactly(limits.high()) } else { *limits };
                self.value(unknown, context! { value => self.angle(&whole) })
            }
            Some(StageKind::Slot(most)) if pending.interrupted => {
                self.value(unknown, context! { value => self.angle(&Limits::Exactly(*most)) })
            }
            Some(StageKind::Torque(limits)) => {
                match stage.and_then(|s| s.share) {
                    // The only torque that is named is the one to tighten to.
                    Some(share) => {
                        let value = self.torque_counted(limits, unit);
                        let share = self.share(share);
                        self.value("share", context! { share, value })
                    }
                    None => self.value("torque", context! { value => self.torque(limits, unit) }),
                }
            }
            Some(StageKind::Angle(limits)) => match pending.turned {
                Some(Quantity::Angle(turned)) => self.rest("rest", limits, turned),
                _ => self.value("angle", context! { value => self.angle(limits) }),
            },
            Some(StageKind::BackOff(limits)) => match pending.turned {
                Some(Quantity::Angle(turned)) => self.rest("rest_back_off", limits, turned),
                _ => self.value("back_off", context! { value => self.angle_up_to(limits) }),
            },
            Some(StageKind::Slot(most)) => self.value("slot", context! { value => self.angle_at_most(*most) }),
            Some(StageKind::Slacken) => self.value("slacken", context! {}),
            None if self.book.fasteners[pending.group.0].finish.is_later() => self.value("value_later", context! {}),
            None => {
                let instead = match &self.book.fasteners[pending.group.0].finish {
                    Finish::NoValue { instead } => instead.trim().trim_end_matches('.'),
                    Finish::Stages(_) | Finish::Later { .. } => "",
                };
                self.value("no_value", context! { instead })
            }
        }
    }

    /// What is left of a turn, on or back, after a part of it.
    fn rest(&self, key: &str, limits: &Limits<Angle>, turned: Angle) -> String {
        let done = turned.in_unit(AngleUnit::Degree).amount;
        let left = |angle: Angle| {
            let left = angle.in_unit(AngleUnit::Degree).amount - done;
            Angle::new(left.max(Decimal::ZERO).normalize(), AngleUnit::Degree)
        };
        let turned = self.amounts(turned.amount, None, Unit::Angle(turned.unit));
        let (low, high) = (left(limits.low()), left(limits.high()));
        if high.amount.is_zero() {
            return self.value("turned_enough", context! { turned });
        }
        let left = if limits.is_window() { Limits::Window { low, high } } else { Limits::Exactly(low) };
        self.value(key, context! { turned, value => self.angle(&left) })
    }
}

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates = &[
    ("range", &["high", "low"]),
    ("with_digits", &["digits", "value"]),
    ("with_flats", &["flats", "value"]),
    ("converted", &["published", "value"]),
    ("converted_about", &["published", "value"]),
    ("converted_counted", &["published", "value"]),
    ("converted_counted_about", &["published", "value"]),
    ("least", &["value"]),
    ("most", &["value"]),
    ("between", &["value"]),
    ("below_nothing", &["value"]),
    ("against_value", &["value"]),
    ("against_inside", &["value"]),
    ("against_outside", &["value"]),
    ("against_least", &["value"]),
    ("against_most", &["value"]),
    ("torque", &["value"]),
    ("share", &["share", "value"]),
    ("angle", &["value"]),
    ("announced", &["value"]),
    ("interrupted", &["value"]),
    ("rest", &["turned", "value"]),
    ("rest_back_off", &["turned", "value"]),
    ("turned_enough", &["turned"]),
    ("back_off", &["value"]),
    ("slacken", &[]),
    ("left_hand", &["act"]),
    ("meanwhile", &["meanwhile", "act"]),
    ("until", &["until", "act"]),
    ("slot", &["value"]),
    ("counted", &["parts", "value"]),
    ("counted_plus", &["what", "base", "by"]),
    ("counted_minus", &["what", "base", "by"]),
    ("once", &["name"]),
    ("deferred", &["act", "once"]),
    ("no_value", &["instead"]),
    ("value_later", &[]),
];
