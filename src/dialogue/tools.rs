//! The toolbox and the lay-out list in words.
//!
//! The toolbox says which wrench and which mark; this file only puts it into sentences, for the voice and for the eye.

use super::file::Language;
use super::render::Draft;
use super::templates::Templates;
use super::values::Teller;
use super::{Manner, Sentence, Tone};
use crate::layout::{LaidTorque, Layout, Own};
use crate::procedure::{Part, Procedure};
use crate::quantity::{Angle, Length, Quantity, Unit};
use crate::toolbox::{Setting, Uncovered};
use minijinja::context;

/// One thing to say about the user's tools.
#[derive(Debug, Clone, PartialEq)]
pub enum ToolSay<'a> {
    /// Which wrench to take and what to set on it.
    Set {
        /// The setting.
        setting: &'a Setting<'a>,
        /// The adapter it is reckoned with, by name.
        adapter: Option<&'a str>,
    },
    /// No wrench covers the value.
    Uncovered(&'a Uncovered),
    /// A reading lies in the window, but not by more than the accuracy of the wrench.
    NearTheEdge {
        /// The wrench.
        wrench: &'a str,
    },
    /// An adapter is reckoned with from now on.
    AdapterOn {
        /// Its name.
        adapter: &'a str,
        /// The angle at which it is used.
        angle: Angle,
    },
    /// The angle of an adapter is not known.
    AngleWanted {
        /// Its name.
        adapter: &'a str,
    },
    /// No adapter is reckoned with.
    AdapterOff,
    /// There is no adapter of this number.
    NoSuchAdapter {
        /// The number.
        asked: u32,
    },
}

impl Language {
    /// Puts things about the user's tools into words.
    pub fn tool_says(&self, says: &[ToolSay<'_>], book: &Procedure, manner: &Manner) -> Vec<Sentence> {
        self.both(book, manner, |teller| says.iter().flat_map(|say| teller.tool_say(say)).collect())
    }

    /// The lay-out list.
    pub fn lay_out(&self, layout: &Layout, book: &Procedure, manner: &Manner) -> Vec<Sentence> {
        self.both(book, manner, |teller| teller.lay_out(layout))
    }

    fn both(&self, book: &Procedure, manner: &Manner, drafts: impl Fn(&Teller<'_>) -> Vec<Draft>) -> Vec<Sentence> {
        let teller = |spoken| Teller { language: self, book, manner, spoken };
        let (voice, eye) = (drafts(&teller(true)), drafts(&teller(false)));
        voice.into_iter().zip(eye).map(|(v, e)| self.finish(v, e)).collect()
    }
}

impl Teller<'_> {
    fn tool_say(&self, say: &ToolSay<'_>) -> Vec<Draft> {
        let draft = match say {
            ToolSay::Set { setting, adapter } => return self.set(setting, *adapter),
            ToolSay::Uncovered(uncovered) => self.uncovered(uncovered),
            ToolSay::NearTheEdge { wrench } => Draft::new("tool_near_the_edge", context! { wrench => *wrench }),
            ToolSay::AdapterOn { adapter, angle } => Draft::new(
                "adapter_on",
                context! { adapter => *adapter, angle => self.amounts(angle.amount, None, Unit::Angle(angle.unit)) },
            ),
            ToolSay::AngleWanted { adapter } => {
                Draft { tone: Tone::Question, ..Draft::new("adapter_angle_wanted", context! { adapter => *adapter }) }
            }
            ToolSay::AdapterOff => Draft::bare("adapter_off"),
            ToolSay::NoSuchAdapter { asked } => {
                Draft { tone: Tone::Refusal, ..Draft::new("adapter_unknown", context! { asked }) }
            }
        };
        vec![draft]
    }

    fn set(&self, setting: &Setting<'_>, adapter: Option<&str>) -> Vec<Draft> {
        let wrench = &setting.wrench.name;
        let value = self.quantity(Quantity::Torque(setting.set));
        // The eye is told what a rounded mark comes to; the voice only where the window is left.
        let published = setting.wanted.low().unit;
        let reached = setting.reached.in_unit(published);
        let rounded = reached.amount.round_sf(4).unwrap_or(reached.amount).normalize();
        let reached = self.quantity(Quantity::Torque(crate::quantity::Torque::new(rounded, published)));
        let outside = setting.wanted.is_window() && !setting.within;
        let key = if outside { "tool_set_outside" } else { "tool_set" };
        let reached = (!setting.within || adapter.is_some()).then_some(reached);
        let mut drafts = vec![Draft::new(key, context! { wrench, adapter, value, reached })];
        if setting.lowest_fifth {
            drafts.push(Draft::new("tool_lowest_fifth", context! { wrench }));
        }
        drafts
    }

    fn uncovered(&self, uncovered: &Uncovered) -> Draft {
        let draft = match uncovered {
            Uncovered::NoWrench => Draft::bare("tool_none"),
            Uncovered::Above { mark, .. } => {
                Draft::new("tool_none_above", context! { value => self.quantity(Quantity::Torque(*mark)) })
            }
            Uncovered::Below { mark, .. } => {
                Draft::new("tool_none_below", context! { value => self.quantity(Quantity::Torque(*mark)) })
            }
            Uncovered::Between { low, high, .. } => {
                let mark = |torque| self.quantity(Quantity::Torque(torque));
                Draft::new("tool_none_between", context! { low => mark(*low), high => mark(*high) })
            }
            Uncovered::NoLength { name } => Draft::new("tool_none_length", context! { wrench => name }),
            Uncovered::Adapter(_) => Draft::bare("tool_none_lever"),
        };
        Draft { tone: Tone::Refusal, ..draft }
    }

    fn lay_out(&self, layout: &Layout) -> Vec<Draft> {
        let minutes = (layout.minutes > 0).then(|| self.work_time(layout.minutes));
        let mut drafts = vec![Draft::new("lay_out_begins", context! { minutes, without => layout.without_minutes })];
        let mut list = |key, things: Vec<String>| {
            if !things.is_empty() {
                drafts.push(Draft::new(key, context! { things }));
            }
        };
        let part = |part: &Part| self.value("lay_out_part", context! { name => &part.name, count => part.count });
        list("lay_out_tools", layout.tools.iter().map(|t| t.name.clone()).collect());
        list("lay_out_new_fasteners", layout.new_fasteners.iter().map(part).collect());
        list("lay_out_parts", layout.parts.iter().map(part).collect());
        list("lay_out_consumables", layout.consumables.clone());
        let missing = layout.tools.iter().filter(|t| t.own == Own::Missing).map(|t| match &t.stand_in {
            Some(stand_in) => self.value("lay_out_stand_in", context! { name => &t.name, stand_in }),
            None => t.name.clone(),
        });
        list("lay_out_missing", missing.collect());
        for tool in &layout.tools {
            if let Own::Loose { size, play, torqued } = &tool.own {
                // More than a hundredth nobody can feel.
                let play = Length::new(play.amount.round_dp(2).normalize(), play.unit);
                let (name, play) = (&tool.name, self.quantity(Quantity::Length(play)));
                // The voice knows inches by their sign; "in" could be any word.
                let size = if self.spoken { size.replace(" in", "\"") } else { size.clone() };
                let key = if *torqued { "lay_out_loose_torqued" } else { "lay_out_loose" };
                drafts.push(Draft::new(key, context! { name, size, play }));
            }
        }
        for laid in &layout.values {
            if let LaidTorque::Given { value, wrench: Err(uncovered) } = &laid.torque {
                let why = self.uncovered(uncovered);
                drafts.push(Draft::new(
                    "lay_out_uncovered",
                    context! { name => &laid.fastener, value => self.torque(value, None) },
                ));
                drafts.push(why);
            }
        }
        for (key, things) in [
            ("lay_out_calibration_due", &layout.calibration_due),
            ("lay_out_calibration_unknown", &layout.calibration_unknown),
        ] {
            if !things.is_empty() {
                drafts.push(Draft::new(key, context! { things => things.clone() }));
            }
        }
        if layout.no_angle_gauge {
            drafts.push(Draft::bare("lay_out_no_angle_gauge"));
        }
        drafts
    }
}

const TOOL_SET: &[&str] = &["adapter", "reached", "value", "wrench"];

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates =
    &[("lay_out_part", &["count", "name"]), ("lay_out_stand_in", &["name", "stand_in"])];

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("tool_set", TOOL_SET),
    ("tool_set_outside", TOOL_SET),
    ("tool_lowest_fifth", &["wrench"]),
    ("tool_near_the_edge", &["wrench"]),
    ("tool_none", &[]),
    ("tool_none_above", &["value"]),
    ("tool_none_below", &["value"]),
    ("tool_none_between", &["high", "low"]),
    ("tool_none_length", &["wrench"]),
    ("tool_none_lever", &[]),
    ("adapter_on", &["adapter", "angle"]),
    ("adapter_off", &[]),
    ("adapter_angle_wanted", &["adapter"]),
    ("adapter_unknown", &["asked"]),
    ("lay_out_begins", &["minutes", "without"]),
    ("lay_out_tools", &["things"]),
    ("lay_out_new_fasteners", &["things"]),
    ("lay_out_parts", &["things"]),
    ("lay_out_consumables", &["things"]),
    ("lay_out_missing", &["things"]),
    ("lay_out_loose", &["name", "play", "size"]),
    ("lay_out_loose_torqued", &["name", "play", "size"]),
    ("lay_out_uncovered", &["name", "value"]),
    ("lay_out_calibration_due", &["things"]),
    ("lay_out_calibration_unknown", &["things"]),
    ("lay_out_no_angle_gauge", &[]),
];
