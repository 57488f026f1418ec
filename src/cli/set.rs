//! `set`: what to set on a wrench for a value, with or without an adapter.

use super::args::Set;
use super::config::Config;
use super::{Failure, parts};
use crate::quantity::{Length, Limits, Torque, TorqueUnit};
use crate::toolbox::{Adapter, Setting, Toolbox, Wrench};
use rust_decimal::{Decimal, RoundingStrategy};

/// Figures shown of a worked-out value; the setting itself is a mark of the wrench.
const FIGURES: u32 = 4;

/// Tells the setting. Exit code 1 if no wrench covers the value.
pub fn set(config: &Config, args: &Set) -> Result<(), Failure> {
    let wanted: Limits<Torque> = args.value.parse().map_err(Failure::unreadable)?;
    let adapter: Option<Adapter> = args.adapter.as_deref().map(str::parse).transpose().map_err(Failure::unreadable)?;
    if wanted.low().amount <= Decimal::ZERO {
        return Err(Failure::Unreadable(format!("{}: a torque to set is more than 0", args.value)));
    }
    outln!("{wanted} is {}", in_other_units(&wanted));
    if let Some(length) = &args.length {
        let length: Length = length.parse().map_err(Failure::unreadable)?;
        let Some(adapter) = adapter else {
            return Err(Failure::Unreadable("--length is for a wrench with --adapter".into()));
        };
        return bare(&wanted, &adapter, length);
    }
    let Some(own) = parts::toolbox(config)? else {
        if adapter.is_some() {
            return Err(Failure::Unreadable(
                "with an adapter the length of the wrench is needed: name a toolbox (--toolbox FILE) or give --length"
                    .into(),
            ));
        }
        outln!("No toolbox is named, so no wrench is assumed. docs/toolbox.toml shows how one is written.");
        return Ok(());
    };
    let own = match &args.wrench {
        Some(name) => only(own, name)?,
        None => own,
    };
    if let Some(adapter) = &adapter {
        outln!("with an adapter of {adapter}: S = T·L/(L + E·cos θ), after FAA AC 43.13-1B");
    }
    let settings = own.settings(&wanted, adapter.as_ref());
    if settings.is_empty() {
        let reason = own.choose(&wanted, adapter.as_ref()).err().map(|e| e.to_string()).unwrap_or_default();
        return Err(Failure::Failed(reason));
    }
    for setting in &settings {
        tell(setting);
    }
    Ok(())
}

/// A wrench of which only the length is known: nothing is rounded, for its marks are not known.
fn bare(wanted: &Limits<Torque>, adapter: &Adapter, length: Length) -> Result<(), Failure> {
    let low = adapter.scale(wanted.low(), length).map_err(Failure::failed)?;
    let high = adapter.scale(wanted.high(), length).map_err(Failure::failed)?;
    let shown = match wanted.is_window() {
        true => format!("{}..{}", short(low), short(high)),
        false => short(high).to_string(),
    };
    outln!("on a wrench of {length} with an adapter of {adapter} the scale shows {shown}");
    outln!("(S = T·L/(L + E·cos θ), after FAA AC 43.13-1B; not rounded to marks, which are not known)");
    Ok(())
}

fn only(own: Toolbox, name: &str) -> Result<Toolbox, Failure> {
    let found: Vec<Wrench> = own.wrenches.iter().filter(|w| w.name == name).cloned().collect();
    if found.is_empty() {
        let known: Vec<&str> = own.wrenches.iter().map(|w| w.name.as_str()).collect();
        return Err(Failure::Unreadable(format!("no wrench named {name:?}; there are: {}", known.join(", "))));
    }
    Ok(Toolbox { wrenches: found, ..own })
}

fn tell(setting: &Setting<'_>) {
    outln!("{}: set {}", setting.wrench.name, setting.set);
    let unit = setting.wanted.low().unit;
    let reached = short(setting.reached.in_unit(unit));
    match (setting.wanted.is_window(), setting.within) {
        (true, true) => outln!("  at the fastener that is {reached}, in the window"),
        (true, false) => outln!("  at the fastener that is {reached}, OUTSIDE the window: no mark lies in it"),
        (false, true) => outln!("  a mark of its scale"),
        (false, false) => {
            outln!("  rounded to its graduation from {}; at the fastener that is {reached}", short(setting.exact));
        }
    }
    if setting.lowest_fifth {
        outln!("  in the lowest fifth of its scale, where its accuracy is not proven (ISO 6789); take a smaller one");
    }
    match setting.wrench.accuracy {
        Some(accuracy) => outln!("  accuracy of its class: {accuracy} % of the value"),
        None => outln!("  its accuracy is not in the toolbox file"),
    }
}

fn in_other_units(wanted: &Limits<Torque>) -> String {
    let others = TorqueUnit::ALL.iter().filter(|unit| **unit != wanted.low().unit);
    let converted = others.map(|unit| {
        let there = wanted.map(|t| t.in_unit(*unit));
        let shown = there.map(short);
        format!("{}{shown}", if shown == there { "" } else { "≈ " })
    });
    converted.collect::<Vec<_>>().join(", ")
}

fn short(torque: Torque) -> Torque {
    let rounded = torque.amount.round_sf_with_strategy(FIGURES, RoundingStrategy::MidpointAwayFromZero);
    Torque::new(rounded.unwrap_or(torque.amount).normalize(), torque.unit)
}
