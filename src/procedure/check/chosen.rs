//! What is chosen by what was measured: sums of which a sign or a digit is wrong, and rows of sizes that one of them breaks.
//!
//! A part is chosen in place of another: new = old + gap - wanted. What the gap then comes to is what stands behind the minus,
//! whatever was measured, and that has to lie within the limits that the gap has itself. So much the file knows. Whether
//! a thicker part makes the room narrower, as a shim does, or wider, as a spacer may, it does not; only of what is called a gap
//! it is told.

use super::Sight;
use crate::procedure::code::Code;
use crate::procedure::conduct::When;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use crate::procedure::written::Text;
use crate::quantity::{Quantity, Unit};
use rust_decimal::Decimal;
use std::collections::HashMap;
use std::ops::Range;

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    for stock in &sight.written.stock {
        row(&stock.sizes.value, findings);
    }
    let p = sight.procedure();
    if !sight.resolved.gaps.is_empty() {
        return;
    }
    let english = p.language.to_lowercase().split('-').next() == Some("en");
    let mut like: HashMap<StockIx, (Vec<bool>, Range<usize>)> = HashMap::new();
    for (at, step) in p.steps.iter().enumerate() {
        for (n, act) in step.acts.iter().enumerate() {
            let Act::Measure(m) = act else { continue };
            let span = sight.act(at, n);
            if let (Some(stock), None) = (m.among.and_then(|ix| p.stocks.get(ix.0)), m.from)
                && stock.fitting(&m.limits).is_empty()
            {
                let what = format!("none of the sizes of \"{}\" lies within these limits", stock.id);
                findings.push(Finding::new(Code::StockOdd, span.clone(), what, "Compare limits and sizes"));
            }
            let fits = sum(p, step, m, english, &span, findings);
            if let (Some(stock), true, Some(_)) = (m.among, fits, m.from) {
                alike(m, stock, span, &mut like, findings);
            }
        }
    }
}

/// Is a sum of the same signs as another one that chooses from the same sizes?
fn alike(
    m: &Measurement,
    stock: StockIx,
    span: Range<usize>,
    like: &mut HashMap<StockIx, (Vec<bool>, Range<usize>)>,
    findings: &mut Vec<Finding>,
) {
    let signs: Vec<bool> = m.more.iter().map(|term| term.less).collect();
    let (first, other) = like.entry(stock).or_insert_with(|| (signs.clone(), span.clone()));
    if first.len() == signs.len() && *first != signs {
        let what = "this is added up with other signs than another choice from the same sizes";
        let right =
            "Compare both with the source: where the gap is wider, both take a thicker one, or both a thinner one";
        findings.push(Finding::new(Code::SumUnfit, span, what, right).with(other.clone(), "the other choice"));
    }
}

/// What the measurement that a part is chosen by comes to with it; is that what it has to be?
fn sum(
    p: &Procedure,
    step: &Step,
    m: &Measurement,
    english: bool,
    span: &Range<usize>,
    findings: &mut Vec<Finding>,
) -> bool {
    let (Some(first), [second]) = (m.from, m.more.as_slice()) else { return true };
    let taken = |ix: MeasureIx| {
        let named = p.named.get(ix.0)?;
        match p.steps.get(named.step)?.acts.get(named.act)? {
            Act::Measure(m) if m.from.is_none() => Some(m),
            _ => None,
        }
    };
    let (Some(one), Some(other)) = (taken(first), taken(second.of)) else { return true };
    let judged = |m: &Measurement| m.limits.least.is_some() || m.limits.most.is_some();
    let (gap, ix, gap_first) = match (judged(one), judged(other)) {
        (false, true) => (other, second.of, false),
        (true, false) => (one, first, true),
        _ => return true,
    };
    if m.among.is_none() && step.when != Some(When::Outside(ix)) {
        return true;
    }
    let unfit = |what: String, findings: &mut Vec<Finding>| {
        let right = "Compare every sign and digit of the sum with the source, as in \"old + gap - 0.22 mm\"";
        findings.push(Finding::new(Code::SumUnfit, span.clone(), what, right));
        false
    };
    if gap_first && second.less {
        return unfit("the thicker the old one was, the thinner is the new one by this sum".to_owned(), findings);
    }
    // With a part that is thicker by as much, a gap is narrower by as much, and where it is taken away, wider.
    let widens = second.less;
    let minus = |q: Quantity| Quantity::new(-q.amount(), q.unit());
    let (low, high) = match widens {
        true => (m.limits.least, m.limits.most),
        false => (m.limits.most.map(minus), m.limits.least.map(minus)),
    };
    let under = low.zip(gap.limits.least).is_some_and(|(comes_to, least)| comes_to < least);
    let over = high.zip(gap.limits.most).is_some_and(|(comes_to, most)| comes_to > most);
    if under || over {
        let comes_to = ends(low, high);
        let what = format!(
            "what it is chosen by would come to {comes_to} with it, and has to lie within {}",
            ends(gap.limits.least, gap.limits.most)
        );
        return unfit(what, findings);
    }
    let called = |word: &str| gap.what.to_lowercase().split(|c: char| !c.is_alphabetic()).any(|w| w == word);
    if widens && english && ["gap", "clearance", "lash"].into_iter().any(called) {
        let what = "by this sum the new one is thinner where the gap is wider";
        let right = "Compare the signs with the source: what fills a gap is \"old + gap - wanted\"";
        findings.push(Finding::new(Code::SumBackwards, span.clone(), what, right));
    }
    true
}

/// Two ends in words, one of which may be missing.
fn ends(low: Option<Quantity>, high: Option<Quantity>) -> String {
    match (low, high) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("{low} or more"),
        (None, Some(high)) => format!("{high} or less"),
        (None, None) => "anything".to_owned(),
    }
}

/// A row of sizes shorter than this has no step of its own.
const SHORTEST: usize = 5;
/// One size in so many may break the row; where more do, it is no row with one step.
const ODD_IN: usize = 4;
/// A size at either end may lie so many steps from the rest.
const FARTHEST: i64 = 10;

/// Sizes that break the row of the others: out of order, between its steps, or far from it.
fn row(sizes: &[Text], findings: &mut Vec<Finding>) {
    let read = |text: &Text| text.parse::<Quantity>().ok();
    let Some(read) = sizes.iter().map(read).collect::<Option<Vec<Quantity>>>() else { return };
    let unit = read.first().map(Quantity::unit);
    // What is there twice, or in another unit, is told of by whoever reads it.
    let twice = |n: usize| read.iter().skip(n + 1).take(1).any(|next| *next == read[n]);
    if read.iter().any(|size| Some(size.unit()) != unit) || (0..read.len()).any(twice) || read.len() < SHORTEST {
        return;
    }
    let mut row: Vec<(Decimal, &Text)> = read.iter().map(Quantity::amount).zip(sizes).collect();
    if row.iter().filter(|(size, _)| *size > row[0].0).count() * 2 < row.len() {
        row.reverse();
    }
    let step = step(&row);
    let between = step.map(|step| between(&row, step)).unwrap_or_default();
    if between.len() * ODD_IN > row.len() {
        return;
    }
    // The others are held against each other without those.
    let others: Vec<usize> = (0..row.len()).filter(|at| between.binary_search(at).is_err()).collect();
    let in_row: Vec<Decimal> = others.iter().map(|at| row[*at].0).collect();
    let mut odd = out_of_order(&in_row);
    odd.extend(step.map(|step| far(&in_row, step)).unwrap_or_default());
    let mut odd: Vec<usize> = odd.into_iter().map(|at| others[at]).chain(between.iter().copied()).collect();
    odd.sort_unstable();
    odd.dedup();
    if odd.len() * ODD_IN > row.len() {
        return;
    }
    for at in odd {
        let steps = match (step, unit) {
            (Some(step), Some(unit)) if between.contains(&at) => format!(", which rise by {}", in_unit(step, unit)),
            _ => String::new(),
        };
        let text = row[at].1;
        let what = format!("\"{}\" does not go with the sizes beside it{steps}", text.value);
        let right = "Compare it with the source, and write the sizes in their order";
        findings.push(Finding::new(Code::StockOdd, text.span.clone(), what, right));
    }
}

fn in_unit(number: Decimal, unit: Unit) -> Quantity {
    Quantity::new(number.normalize(), unit)
}

/// Those that do not lie between their neighbours, which are in order.
fn out_of_order(row: &[Decimal]) -> Vec<usize> {
    if row.len() < 3 {
        return Vec::new();
    }
    let (size, last) = (|at: usize| row[at], row.len() - 1);
    let odd = |at: &usize| match *at {
        0 => size(0) > size(1) && size(0) > size(2),
        at if at == last => size(last) < size(last - 1) && size(last) < size(last - 2),
        at => size(at - 1) < size(at + 1) && !(size(at - 1) < size(at) && size(at) < size(at + 1)),
    };
    (0..row.len()).filter(odd).collect()
}

/// The step by which the sizes rise, where at least half of them do.
fn step(row: &[(Decimal, &Text)]) -> Option<Decimal> {
    let rises = row.windows(2).filter_map(|pair| pair[1].0.checked_sub(pair[0].0));
    let mut counts: HashMap<Decimal, usize> = HashMap::new();
    rises.filter(|rise| *rise > Decimal::ZERO).for_each(|rise| *counts.entry(rise.normalize()).or_default() += 1);
    let (step, count) = counts.into_iter().max_by_key(|(rise, count)| (*count, std::cmp::Reverse(*rise)))?;
    (count * 2 >= row.len() - 1).then_some(step)
}

/// Those that lie on no step counted from most of the others.
fn between(row: &[(Decimal, &Text)], step: Decimal) -> Vec<usize> {
    let rest = |at: usize| row[at].0.checked_rem(step).map(|rest| rest.normalize());
    let mut counts: HashMap<Option<Decimal>, usize> = HashMap::new();
    (0..row.len()).for_each(|at| *counts.entry(rest(at)).or_default() += 1);
    let most = counts.into_iter().max_by_key(|(rest, count)| (*count, std::cmp::Reverse(*rest)));
    (0..row.len()).filter(|at| most.is_some_and(|(most, _)| rest(*at) != most)).collect()
}

/// The first or the last, where it lies many steps from the next one.
fn far(row: &[Decimal], step: Decimal) -> Vec<usize> {
    let Some(farthest) = step.checked_mul(Decimal::from(FARTHEST)).filter(|_| row.len() > 2) else { return Vec::new() };
    let apart = |a: usize, b: usize| row[b].checked_sub(row[a]).is_none_or(|apart| apart > farthest);
    let last = row.len() - 1;
    [(0, apart(0, 1)), (last, apart(last - 1, last))].into_iter().filter(|(_, far)| *far).map(|(at, _)| at).collect()
}
