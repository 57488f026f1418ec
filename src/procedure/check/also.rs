//! One value in two units, each as the source prints it: is it one value?
//!
//! Sources round: to the last digit that they print, cut off, or both to fives, as tables do. What rounding explains is no slip.

use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::written::Text;
use crate::quantity::{Limits, Quantity, Torque, Unit};
use rust_decimal::{Decimal, RoundingStrategy};

/// Says so if the two are not the same value, but for the rounding of both.
pub(super) fn agree(
    value: (&Text, &Limits<Quantity>),
    also: (&Text, &Limits<Quantity>),
    what: What,
    findings: &mut Vec<Finding>,
) {
    let ((text, value), (also, other)) = (value, also);
    let same = whole(value, other, what);
    if same == Same::Yes {
        return;
    }
    let code = if same == Same::Rounded { Code::AlsoRounded } else { Code::AlsoDisagrees };
    let unit = other.low().unit();
    let shown = value.map(|end| {
        let places = other.low().amount().scale() + 1;
        in_unit(end, unit, what).map_or(end, |amount| Quantity::new(amount.round_dp(places).normalize(), unit))
    });
    let shown = match shown {
        Limits::Exactly(value) => value.to_string(),
        Limits::Window { low, high } => format!("{}..{high}", low.amount()),
    };
    let what = format!("\"{}\" is {shown}, and \"also\" says \"{}\"", text.value, also.value);
    let right = "Compare both with the source, and write both as it has them";
    findings.push(Finding::new(code, also.span.clone(), what, right).with(text.span.clone(), "this value"));
}

/// Is it one value in two units, but for the rounding of both?
pub(crate) fn in_two_units(one: &Limits<Torque>, other: &Limits<Torque>) -> bool {
    let whole = |limits: &Limits<Torque>| limits.map(Quantity::Torque);
    self::whole(&whole(one), &whole(other), What::Size) == Same::Yes
}

/// What two values are compared as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    /// As they are: 80 °C is 176 °F.
    Size,
    /// As what is added to another: 5 °C more is 9 °F more.
    Step,
}

/// Are two values, each as printed, one value?
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Same {
    /// Each is the other, rounded to its last digit.
    Yes,
    /// Only if one of them was cut off, or both were rounded to fives, as tables do.
    Rounded,
    /// No rounding makes one the other.
    No,
}

/// The most that rounding may take two values of one line apart: past it a slip is likelier.
const ROUNDED_APART: Decimal = Decimal::from_parts(6, 0, 0, false, 2);

/// The same, of both ends.
fn whole(one: &Limits<Quantity>, other: &Limits<Quantity>, what: What) -> Same {
    if one.is_window() != other.is_window() {
        return Same::No;
    }
    same(one.low(), other.low(), what).max(same(one.high(), other.high(), what))
}

/// The number in another unit; `None` of another kind.
fn in_unit(value: Quantity, unit: Unit, what: What) -> Option<Decimal> {
    let there = value.in_unit(unit)?.amount();
    match what {
        What::Size => Some(there),
        What::Step => there.checked_sub(Quantity::new(Decimal::ZERO, value.unit()).in_unit(unit)?.amount()),
    }
}

fn same(a: Quantity, b: Quantity, what: What) -> Same {
    judged(a, b, what).unwrap_or(Same::No)
}

fn judged(a: Quantity, b: Quantity, what: What) -> Option<Same> {
    if a.unit() == b.unit() {
        return None;
    }
    let base = Unit::all(a.kind()).first().copied()?;
    let size = |q: Quantity| in_unit(q, base, what);
    // Half a unit of the last digit.
    let half =
        |q: Quantity| in_unit(Quantity::new(Decimal::new(5, q.amount().scale() + 1), q.unit()), base, What::Step);
    let (x, y) = (size(a)?, size(b)?);
    let apart = x.checked_sub(y)?.abs();
    if apart <= half(a)?.checked_add(half(b)?)? {
        return Some(Same::Yes);
    }
    // Of the first, is it what is left of the second when the digits behind its last one are cut off?
    let cut = |q: Quantity, of: Quantity| {
        let exact = in_unit(of, q.unit(), what)?;
        Some(exact.round_dp_with_strategy(q.amount().scale(), RoundingStrategy::ToZero) == q.amount())
    };
    // Is it the multiple of five nearest to the second? Only if each is that of the other was it both that were rounded so:
    // where one has a digit of its own, that digit decides, or a wrong one would pass for a round number's neighbour.
    let fives = |q: Quantity, of: Quantity| {
        let five = Decimal::new(5, q.amount().scale());
        Some(in_unit(of, q.unit(), what)?.checked_div(five)?.round().checked_mul(five)? == q.amount())
    };
    let rounded = cut(a, b)? || cut(b, a)? || fives(a, b)? && fives(b, a)?;
    let near = apart <= ROUNDED_APART.checked_mul(x.abs().max(y.abs()))?;
    Some(if rounded && near { Same::Rounded } else { Same::No })
}

#[cfg(test)]
mod tests {
    use super::{Quantity, Same, What, same};

    fn told(a: &str, b: &str, what: What) -> Same {
        let read = |text: &str| text.parse::<Quantity>().expect("an amount");
        let (a, b) = (read(a), read(b));
        assert_eq!(same(a, b, what), same(b, a, what));
        same(a, b, what)
    }

    #[test]
    fn two_units_are_one_value_as_far_as_rounding_makes_them_so() {
        for (a, b) in [
            ("25 N·m", "18 lbf·ft"),
            ("98 N·m", "10 kgf·m"),
            ("70 N·m", "51 lbf·ft"),
            ("70 N·m", "52 lbf·ft"),
            ("0.20 mm", "0.008 in"),
            ("0.08 mm", "0.003 in"),
            ("80 °C", "176 °F"),
            ("-18 °C", "0 °F"),
            ("2.2 bar", "32 psi"),
            ("0.55 l", "1.16 US pt"),
        ] {
            assert_eq!(told(a, b, What::Size), Same::Yes, "{a} {b}");
        }
        for (a, b) in
            [("25.6 N·m", "18 lbf·ft"), ("120 N·m", "90 lbf·ft"), ("50 N·m", "36 lbf·ft"), ("0.25 mm", "0.0098 in")]
        {
            let one = if b.ends_with("in") { Same::Yes } else { Same::Rounded };
            assert_eq!(told(a, b, What::Size), one, "{a} {b}");
        }
        // A wrong digit beside a round number is a wrong digit.
        for (a, b) in [
            ("70 N·m", "54 lbf·ft"),
            ("140 N·m", "107 lbf·ft"),
            ("30 N·m", "21 lbf·ft"),
            ("25 N·m", "19.2 lbf·ft"),
            ("0.20 mm", "0.080 in"),
            ("80 °C", "146 °F"),
            ("0.20 mm", "0.008 mm"),
            ("0.20 mm", "8 bar"),
        ] {
            assert_eq!(told(a, b, What::Size), Same::No, "{a} {b}");
        }
        // Five degrees more are nine more, and not forty-one.
        assert_eq!(told("5 °C", "9 °F", What::Step), Same::Yes);
        assert_eq!(told("5 °C", "41 °F", What::Step), Same::No);
        assert_eq!(told("5 °C", "41 °F", What::Size), Same::Yes);
    }
}
