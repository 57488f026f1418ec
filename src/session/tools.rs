//! The user's tools in the conversation: which wrench to take and what to set, said behind a value; the adapter that is
//! on the wrench.
//!
//! Knows the toolbox, the job's replies and the language. The adapter is no fact of the job: the torque at the fastener
//! stays the published one, and only what is set on the wrench depends on it. So it is not in the journal, and a job
//! that is taken up again says that it reckons with none. That no number of a changed scale is taken is the job's rule.

use crate::dialogue::{Language, Manner, Notice, Sentence, Talk, ToolSay};
use crate::job::{Answer, Follows, Pending, Say, Verdict};
use crate::layout::Layout;
use crate::procedure::{Procedure, StageKind};
use crate::quantity::{Angle, AngleUnit, Limits, Quantity, Torque, TorqueUnit};
use crate::toolbox::{Adapter, OwnAdapter, Toolbox, Wrench};
use jiff::civil::Date;
use rust_decimal::Decimal;

/// The adapter that is on the wrench.
#[derive(Debug, Clone)]
struct Fitted {
    /// Which one of the toolbox.
    which: usize,
    /// Its angle, once that is known.
    angle: Option<Angle>,
}

/// The toolbox, and what is in hand of it.
#[derive(Debug, Default)]
pub(super) struct Tools {
    toolbox: Option<Toolbox>,
    fitted: Option<Fitted>,
    /// The wrench named last, an index into the toolbox.
    wrench: Option<usize>,
    /// The unit of a setting that was said, until somebody asks for it.
    said_in: Option<TorqueUnit>,
}

impl Tools {
    pub fn new(toolbox: Option<Toolbox>) -> Tools {
        Tools { toolbox, ..Tools::default() }
    }

    /// Puts what the job says into words, with the setting behind each value that is new.
    pub fn render(
        &mut self,
        language: &Language,
        says: &[Say],
        before: Option<&Pending>,
        book: &Procedure,
        manner: &Manner,
    ) -> Vec<Sentence> {
        let mut sentences = Vec::new();
        for say in says {
            sentences.extend(language.render(std::slice::from_ref(say), book, manner));
            sentences.extend(self.set_for(language, say, before, book, manner));
        }
        sentences
    }

    /// What is said of the tools after the job has said this.
    fn set_for(
        &mut self,
        language: &Language,
        say: &Say,
        before: Option<&Pending>,
        book: &Procedure,
        manner: &Manner,
    ) -> Vec<Sentence> {
        match say {
            // The next bolt of the same stage: wrench and setting are as they were.
            Say::Pending(p) if p.follows == Follows::SameStage => Vec::new(),
            // Nothing is set for a stage that must not be done yet.
            Say::Pending(p) | Say::Answer(Answer::Value(p)) if p.waits.is_some() => Vec::new(),
            Say::Pending(p) | Say::Answer(Answer::Value(p)) => match torque(p) {
                Some(wanted) => self.setting(language, &wanted, book, manner),
                None => Vec::new(),
            },
            Say::ReadingTaken { value: Quantity::Torque(read), verdict: Verdict::Within, .. } => {
                let wrench = self.wrench().zip(before.and_then(torque));
                match wrench.filter(|(wrench, wanted)| wrench.may_be_outside(wanted, *read) == Some(true)) {
                    Some((wrench, _)) => {
                        language.tool_says(&[ToolSay::NearTheEdge { wrench: &wrench.name }], book, manner)
                    }
                    None => Vec::new(),
                }
            }
            // The adapter was not written down anywhere.
            Say::Resumed { .. } if self.has_adapters() => language.tool_says(&[ToolSay::AdapterOff], book, manner),
            _ => Vec::new(),
        }
    }

    fn setting(
        &mut self,
        language: &Language,
        wanted: &Limits<Torque>,
        book: &Procedure,
        manner: &Manner,
    ) -> Vec<Sentence> {
        let Some(own) = &self.toolbox else { return Vec::new() };
        let name = self.fitted.as_ref().and_then(|f| own.adapters.get(f.which)).map(|a| a.name.as_str());
        let adapter = match (&self.fitted, name) {
            (Some(fitted), Some(name)) => match fitted.angle.zip(own.adapters.get(fitted.which)) {
                Some((angle, adapter)) => Some(Adapter { length: adapter.length, angle }),
                // Without its angle nothing can be set; it was asked for.
                None => return language.tool_says(&[ToolSay::AngleWanted { adapter: name }], book, manner),
            },
            _ => None,
        };
        match own.choose(wanted, adapter.as_ref()) {
            Ok(setting) => {
                let sentences = language.tool_says(&[ToolSay::Set { setting: &setting, adapter: name }], book, manner);
                self.said_in = Some(setting.set.unit);
                self.wrench = own.wrenches.iter().position(|w| w == setting.wrench);
                sentences
            }
            Err(uncovered) => language.tool_says(&[ToolSay::Uncovered(&uncovered)], book, manner),
        }
    }

    /// Commands about tools, while this stage of the book is to be done; `None` for every other.
    pub fn talk(
        &mut self,
        talk: Talk,
        language: &Language,
        book: &Procedure,
        pending: Option<Pending>,
        manner: &Manner,
        today: Date,
    ) -> Option<Vec<Sentence>> {
        let says = |says: &[ToolSay<'_>]| language.tool_says(says, book, manner);
        if talk == Talk::LayOut {
            return Some(language.lay_out(&Layout::new(book, self.toolbox.as_ref(), today), book, manner));
        }
        if !matches!(talk, Talk::Adapter(_) | Talk::AdapterAngle(_) | Talk::NoAdapter) {
            return None;
        }
        let Some(own) = &self.toolbox else { return Some(vec![language.notice(Notice::NoToolbox)]) };
        match talk {
            Talk::Adapter(number) => {
                let which = usize::try_from(number).ok().and_then(|n| n.checked_sub(1));
                let Some((which, adapter)) = which.and_then(|w| Some((w, own.adapters.get(w)?))) else {
                    return Some(says(&[ToolSay::NoSuchAdapter { asked: number }]));
                };
                let said = says(&[on(adapter, adapter.angle)]);
                self.fitted = Some(Fitted { which, angle: adapter.angle });
                Some(self.and_setting(said, language, book, pending, manner))
            }
            Talk::AdapterAngle(degrees) => {
                // With one adapter in the toolbox there is no question which one it is.
                let which = self.fitted.as_ref().map(|f| f.which).or((own.adapters.len() == 1).then_some(0));
                let Some((which, adapter)) = which.and_then(|w| Some((w, own.adapters.get(w)?))) else {
                    return Some(says(&[ToolSay::NoSuchAdapter { asked: 1 }]));
                };
                let angle = Some(Angle::new(Decimal::from(degrees), AngleUnit::Degree));
                let said = says(&[on(adapter, angle)]);
                self.fitted = Some(Fitted { which, angle });
                Some(self.and_setting(said, language, book, pending, manner))
            }
            _ => {
                self.fitted = None;
                let said = says(&[ToolSay::AdapterOff]);
                Some(self.and_setting(said, language, book, pending, manner))
            }
        }
    }

    /// What was said, and what is to be set now.
    fn and_setting(
        &mut self,
        mut said: Vec<Sentence>,
        language: &Language,
        book: &Procedure,
        pending: Option<Pending>,
        manner: &Manner,
    ) -> Vec<Sentence> {
        let waits = self.fitted.as_ref().is_some_and(|f| f.angle.is_none());
        let pending = pending.filter(|p| p.waits.is_none());
        if let Some(wanted) = pending.as_ref().and_then(torque).filter(|_| !waits) {
            said.extend(self.setting(language, &wanted, book, manner));
        }
        said
    }

    /// Does the scale of the wrench show something else than the torque at the fastener?
    pub fn distorts_scale(&self) -> bool {
        match (&self.fitted, &self.toolbox) {
            (Some(fitted), Some(own)) => match (fitted.angle, own.adapters.get(fitted.which)) {
                (Some(angle), Some(adapter)) => !Adapter { length: adapter.length, angle }.changes_nothing(),
                _ => true,
            },
            _ => false,
        }
    }

    /// The unit of the setting that was said since this was asked last.
    pub fn take_said_in(&mut self) -> Option<TorqueUnit> {
        self.said_in.take()
    }

    /// Are there adapters to speak of?
    pub fn has_adapters(&self) -> bool {
        self.toolbox.as_ref().is_some_and(|own| !own.adapters.is_empty())
    }

    fn wrench(&self) -> Option<&Wrench> {
        self.toolbox.as_ref()?.wrenches.get(self.wrench?)
    }
}

fn on(adapter: &OwnAdapter, angle: Option<Angle>) -> ToolSay<'_> {
    match angle {
        Some(angle) => ToolSay::AdapterOn { adapter: &adapter.name, angle },
        None => ToolSay::AngleWanted { adapter: &adapter.name },
    }
}

fn torque(pending: &Pending) -> Option<Limits<Torque>> {
    match pending.kind {
        Some(StageKind::Torque(wanted)) => Some(wanted),
        _ => None,
    }
}
