//! The lay-out list: what a procedure needs at hand before the job, and how far the user's toolbox has it.
//!
//! Knows the procedure, the toolbox and quantities. Pure; words are for `dialogue`, pages for `record`. Without a toolbox
//! it says what the procedure says and compares nothing.

use crate::procedure::{Finish, MeasureIx, Part, Procedure, StageKind, Step, ToolIx, VariantIx};
use crate::quantity::{Length, Limits, Torque};
use crate::toolbox::{Fit, Setting, Toolbox, Uncovered};
use jiff::civil::Date;

/// What to lay out.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Sum of the estimates of all steps; of several variants of the vehicle, that of the longest.
    pub minutes: u32,
    /// Steps without an estimate.
    pub without_minutes: usize,
    /// Tools, in the order of the procedure.
    pub tools: Vec<LaidTool>,
    /// New fasteners that take the place of ones used once only.
    pub new_fasteners: Vec<Part>,
    /// Other new parts.
    pub parts: Vec<Part>,
    /// Greases, cleaners, compounds.
    pub consumables: Vec<String>,
    /// Values to tighten to, each once, with the wrench for it; empty without a toolbox.
    pub values: Vec<LaidValue>,
    /// Wrenches whose calibration is older than twelve months.
    pub calibration_due: Vec<String>,
    /// Wrenches of which no calibration is known.
    pub calibration_unknown: Vec<String>,
    /// Something is turned by an angle, and the toolbox has no angle gauge.
    pub no_angle_gauge: bool,
    /// Was it compared with a toolbox?
    pub compared: bool,
}

/// A tool of the procedure.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidTool {
    /// Its name in the procedure.
    pub name: String,
    /// What the procedure says stands in for it.
    pub stand_in: Option<String>,
    /// What the toolbox has for it.
    pub own: Own,
}

/// What the toolbox has for a tool.
#[derive(Debug, Clone, PartialEq)]
pub enum Own {
    /// There is no toolbox to compare with, or the drive is not one that can be compared.
    NotCompared,
    /// The very size.
    Exact {
        /// As the user wrote it.
        size: String,
        /// Its square.
        square: String,
    },
    /// A tool of that name.
    Named,
    /// None of the size; this one goes on with play.
    Loose {
        /// As the user wrote it.
        size: String,
        /// How much.
        play: Length,
        /// A fastener with a value is tightened with this tool: then it is for slackening only.
        torqued: bool,
    },
    /// The toolbox does not have it.
    Missing,
}

/// A value to tighten to.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidValue {
    /// The fastener it is for.
    pub fastener: String,
    /// Which stage, from 0.
    pub stage: usize,
    /// How tight.
    pub torque: LaidTorque,
}

/// How tight, as far as it is known before the job.
#[derive(Debug, Clone, PartialEq)]
pub enum LaidTorque {
    /// The procedure says.
    Given {
        /// The value.
        value: Limits<Torque>,
        /// The wrench for it, or why there is none.
        wrench: Result<LaidSetting, Uncovered>,
    },
    /// It counts from a measurement of the job: until that is taken there is nothing to set.
    Counted {
        /// Which measurement.
        from: MeasureIx,
        /// What is added to it, which is no torque to tighten to.
        by: Limits<Torque>,
    },
}

/// What to set for a value.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidSetting {
    /// The wrench.
    pub wrench: String,
    /// The mark.
    pub set: Torque,
    /// Is the value met?
    pub within: bool,
    /// Is the mark in the lowest fifth of the scale?
    pub lowest_fifth: bool,
}

impl Layout {
    /// The list for a procedure, compared with a toolbox if there is one; `today` is for the calibration.
    pub fn new(book: &Procedure, toolbox: Option<&Toolbox>, today: Date) -> Layout {
        let renews = |part: &&Part| part.renews.is_some_and(|ix| book.fasteners[ix.0].single_use);
        let tools = (0..book.tools.len()).filter(|&ix| book.applies(book.tools[ix].only));
        let parts = || {
            let applies = book.parts.iter().filter(|part| book.applies(part.only));
            applies.map(|part| Part { name: book.marked(&part.name, part.only), ..part.clone() })
        };
        let steps = longest(book);
        let minutes = estimated(&steps);
        let wrenches = || toolbox.iter().flat_map(|own| &own.wrenches);
        let due = |wanted| {
            let due = wrenches().filter(move |w| w.calibration_is_due(today) == wanted);
            due.map(|w| w.name.clone()).collect()
        };
        let turned = book.fasteners.iter().any(|f| match &f.finish {
            Finish::Stages(stages) => stages.iter().any(|s| matches!(s.kind, StageKind::Angle(_))),
            Finish::NoValue { .. } | Finish::Later { .. } => false,
        });
        Layout {
            minutes,
            without_minutes: steps.iter().filter(|s| s.minutes.is_none()).count(),
            tools: tools.map(|ix| tool(book, toolbox, ToolIx(ix))).collect(),
            new_fasteners: parts().filter(|p| renews(&p)).collect(),
            parts: parts().filter(|p| !renews(&p)).collect(),
            consumables: book.consumables.clone(),
            values: toolbox.map_or(Vec::new(), |own| values(book, own)),
            calibration_due: due(Some(true)),
            calibration_unknown: due(None),
            no_angle_gauge: turned && toolbox.is_some_and(|own| own.angle_gauge.is_none()),
            compared: toolbox.is_some(),
        }
    }
}

/// The steps; while it is not chosen which variant of the vehicle it is, those of the one that takes longest.
fn longest(book: &Procedure) -> Vec<&Step> {
    let of = |variant| book.steps_of(VariantIx(variant)).into_iter().map(|ix| &book.steps[ix]).collect::<Vec<_>>();
    match book.is_undecided() {
        true => (0..book.variants.len()).map(of).max_by_key(|steps| estimated(steps)).unwrap_or_default(),
        false => book.steps.iter().collect(),
    }
}

fn estimated(steps: &[&Step]) -> u32 {
    steps.iter().filter_map(|s| s.minutes).fold(0, u32::saturating_add)
}

fn tool(book: &Procedure, toolbox: Option<&Toolbox>, ix: ToolIx) -> LaidTool {
    let tool = &book.tools[ix.0];
    let laid = |own| LaidTool { name: book.marked(&tool.name, tool.only), stand_in: tool.stand_in.clone(), own };
    let Some(own) = toolbox else { return laid(Own::NotCompared) };
    let used = || book.fasteners.iter().filter(|f| f.tool == Some(ix));
    let Some(first) = used().next() else {
        return laid(if own.has_other(&tool.name) { Own::Named } else { Own::Missing });
    };
    let torqued = used().any(|f| match &f.finish {
        Finish::Stages(stages) => stages.iter().any(|s| matches!(s.kind, StageKind::Torque(_) | StageKind::Angle(_))),
        Finish::NoValue { .. } | Finish::Later { .. } => false,
    });
    laid(match first.drive.as_deref().map_or(Fit::Unknown, |drive| own.fit(drive)) {
        _ if own.has_other(&tool.name) => Own::Named,
        Fit::Exact(socket) => Own::Exact { size: socket.written.clone(), square: socket.square.to_string() },
        Fit::Loose { socket, play } => Own::Loose { size: socket.written.clone(), play, torqued },
        Fit::Missing => Own::Missing,
        Fit::Unknown => Own::NotCompared,
    })
}

/// Every torque of the procedure once, in its order.
fn values(book: &Procedure, own: &Toolbox) -> Vec<LaidValue> {
    let mut values: Vec<LaidValue> = Vec::new();
    for fastener in &book.fasteners {
        let Finish::Stages(stages) = &fastener.finish else { continue };
        for (stage, this) in stages.iter().enumerate() {
            let StageKind::Torque(value) = this.kind else { continue };
            let torque = match this.from {
                Some(from) => LaidTorque::Counted { from, by: value },
                None => LaidTorque::Given { value, wrench: own.choose(&value, None).map(|s| setting(&s)) },
            };
            if !values.iter().any(|v| v.torque == torque && v.fastener == fastener.name) {
                values.push(LaidValue { fastener: fastener.name.clone(), stage, torque });
            }
        }
    }
    values
}

fn setting(setting: &Setting<'_>) -> LaidSetting {
    LaidSetting {
        wrench: setting.wrench.name.clone(),
        set: setting.set,
        within: setting.within,
        lowest_fifth: setting.lowest_fifth,
    }
}
