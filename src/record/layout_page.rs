//! The lay-out list on paper: as lines for the terminal, and as a page to print and tick.

use super::html::{capital, document};
use crate::dialogue::Words;
use crate::layout::{LaidTool, LaidTorque, LaidValue, Layout, Own};
use crate::procedure::{Part, Procedure};
use maud::{Markup, html};

/// A heading and the lines below it, each to tick.
type Section = (String, Vec<String>);

/// The list in sections; the same for terminal and page.
fn sections(layout: &Layout, book: &Procedure, words: &Words<'_>) -> Vec<Section> {
    let l = |key: &str| words.label(key).to_owned();
    let part = |p: &Part| {
        let number = p.number.as_ref().map_or(String::new(), |n| format!(" ({n})"));
        format!("{} × {}{number}", p.count, p.name)
    };
    let mut values: Vec<String> = layout.values.iter().map(|v| value(v, book, words)).collect();
    values.extend(layout.calibration_due.iter().map(|w| format!("{w}: {}", l("calibration_due"))));
    values.extend(layout.calibration_unknown.iter().map(|w| format!("{w}: {}", l("calibration_unknown"))));
    if layout.no_angle_gauge {
        values.push(l("no_angle_gauge"));
    }
    let all = [
        (l("tools"), layout.tools.iter().map(|t| tool(t, layout.compared, words)).collect()),
        (l("new_fasteners"), layout.new_fasteners.iter().map(part).collect()),
        (l("new_parts"), layout.parts.iter().map(part).collect()),
        (l("consumables"), layout.consumables.clone()),
        (l("wrenches"), values),
    ];
    all.into_iter().filter(|(_, lines): &Section| !lines.is_empty()).collect()
}

fn tool(tool: &LaidTool, compared: bool, words: &Words<'_>) -> String {
    let l = |key| words.label(key);
    let mut text = tool.name.clone();
    match &tool.own {
        Own::Exact { size, square } => text = format!("{text} ({}: {size}, {square})", l("yours")),
        Own::Named | Own::NotCompared => {}
        Own::Loose { size, play, torqued } => {
            let advice = if *torqued { l("loose_torqued") } else { l("loose") };
            text = format!("{text}: {}. {size}: {} {play}. {advice}", l("missing"), l("play"));
        }
        Own::Missing => text = format!("{text}: {}", l("missing")),
    }
    match &tool.stand_in {
        Some(stand_in) if !compared || matches!(tool.own, Own::Missing | Own::Loose { .. } | Own::NotCompared) => {
            format!("{text}. {} {stand_in}", l("in_its_place"))
        }
        _ => text,
    }
}

fn value(laid: &LaidValue, book: &Procedure, words: &Words<'_>) -> String {
    let l = |key| words.label(key);
    let what = format!("{}, {} {}", capital(&laid.fastener), l("stage"), laid.stage + 1);
    match &laid.torque {
        LaidTorque::Counted { from, by } => {
            let text = format!("{what}: {}", words.counted(*from, by));
            let step = book.named.get(from.0).map(|named| named.step + 1);
            step.map_or(text.clone(), |step| format!("{text}, {} {step}", l("measured_in_step")))
        }
        LaidTorque::Given { value, wrench: Ok(setting) } => {
            let mut text = format!("{what}: {value}. {}: {} {}", capital(&setting.wrench), l("set"), setting.set);
            if value.is_window() && !setting.within {
                text = format!("{text}, {}", l("no_mark"));
            }
            if setting.lowest_fifth {
                text = format!("{text}, {}", l("lowest_fifth"));
            }
            text
        }
        LaidTorque::Given { value, wrench: Err(uncovered) } => {
            format!("{what}: {value}. {}", words.uncovered(uncovered))
        }
    }
}

fn time(layout: &Layout, words: &Words<'_>) -> String {
    let l = |key| words.label(key);
    let mut text = format!(
        "{}: {}",
        l("work"),
        if layout.minutes > 0 { words.work_time(layout.minutes) } else { l("unknown").into() }
    );
    if layout.without_minutes > 0 {
        text = format!("{text}; {} {}", l("without_estimate"), layout.without_minutes);
    }
    text
}

/// The list as lines for the terminal.
pub fn text(layout: &Layout, book: &Procedure, words: &Words<'_>) -> String {
    let mut out = format!("{}\n{}\n{}\n", book.title, book.vehicle, time(layout, words));
    for (heading, lines) in sections(layout, book, words) {
        out.push_str(&format!("\n{heading}\n"));
        for line in lines {
            out.push_str(&format!("  [ ] {line}\n"));
        }
    }
    out.push_str(&format!("\n{}\n", defers(words)));
    if !layout.compared {
        out.push_str(&format!("{}\n", words.label("not_compared")));
    }
    out
}

/// The list as a page.
pub fn page(layout: &Layout, book: &Procedure, words: &Words<'_>) -> String {
    let body: Markup = html! {
        header {
            h1 { (words.label("to_lay_out")) }
            p.vehicle { (book.title) " · " (book.vehicle) }
            p { (time(layout, words)) }
        }
        @for (heading, lines) in sections(layout, book, words) {
            h2 { (heading) }
            ul.ticks { @for line in lines { li { label { input.box type="checkbox"; (line) } } } }
        }
        p.defer { strong { (defers(words)) } }
        p.small {
            (words.label("source")) ": " (book.source.title) ", " (book.source.edition) ". "
            @if let Some(note) = &book.source.note { (note) " " }
            @if !layout.compared { (words.label("not_compared")) }
        }
    };
    document(&format!("{}: {}", words.label("to_lay_out"), book.title), words, body)
}

fn defers(words: &Words<'_>) -> String {
    words.says(&[crate::job::Say::Opening]).pop().map(|s| s.written).unwrap_or_default()
}
