//! Answers to questions that change nothing, put into words.

use super::render::{Draft, PENDING};
use super::speakable::DigitsOf;
use super::templates::Templates;
use super::values::Teller;
use crate::job::Answer;
use crate::procedure::{FastenerIx, Part, StageKind};
use minijinja::context;

impl Teller<'_> {
    pub(super) fn answer(&self, answer: &Answer) -> Vec<Draft> {
        let book = self.book;
        let unit = self.manner.unit;
        let one = match answer {
            Answer::Value(pending) => Draft::new("answer_value", self.pending(pending, unit)),
            Answer::InUnit { pending, unit } => {
                let torque = matches!(pending.kind, Some(StageKind::Torque(_)));
                let key = if torque { "answer_in_unit" } else { "answer_in_unit_none" };
                Draft::new(key, self.pending(pending, Some(*unit)))
            }
            Answer::LastValue(pending) => Draft::new("answer_last_value", self.pending(pending, unit)),
            Answer::NothingPending => Draft::bare("answer_nothing_pending"),
            Answer::Size(groups) if groups.is_empty() => Draft::bare("answer_size_none"),
            Answer::Size(groups) => {
                let size = |group: &FastenerIx| {
                    let fastener = &book.fasteners[group.0];
                    let draft =
                        Draft::new("answer_size", context! { name => &fastener.name, drive => &fastener.drive });
                    Draft { digits_of: DigitsOf::All, ..draft }
                };
                return groups.iter().map(size).collect();
            }
            Answer::Tool(groups) if groups.is_empty() => Draft::bare("answer_tool_none"),
            Answer::Tool(groups) => return groups.iter().map(|group| self.tool(*group)).collect(),
            Answer::Which(pending) => Draft::new("answer_which", self.pending(pending, unit)),
            Answer::HowManyLeft { items, stages } => {
                let left = self.value("left", context! { items, stages });
                Draft::new("answer_left", context! { left, stages })
            }
            Answer::Cautions(cautions) if cautions.is_empty() => Draft::bare("answer_no_cautions"),
            Answer::Cautions(cautions) => return cautions.iter().map(|c| self.caution("caution", c)).collect(),
            Answer::Why { step } => match &book.steps[*step].why {
                Some(say) => Draft::new("answer_why", context! { say }),
                None => Draft::bare("answer_why_none"),
            },
            Answer::Stuck { step } => match &book.steps[*step].stuck {
                Some(say) => Draft::new("answer_stuck", context! { say }),
                None => Draft::bare("answer_stuck_none"),
            },
            Answer::Source { page, stock } => {
                let source = &book.source;
                let (source_title, edition, chapter) = (&source.title, &source.edition, &source.chapter);
                let of_all = Draft::new("answer_source", context! { source_title, edition, chapter, page });
                let stock = stock.and_then(|ix| book.stocks.get(ix.0));
                let of_sizes = stock.and_then(|stock| {
                    let (name, page) = (&stock.name, stock.source.as_ref()?);
                    Some(Draft::new("answer_source_sizes", context! { name, page }))
                });
                return [of_all].into_iter().chain(of_sizes).collect();
            }
            Answer::Parts if !book.parts.iter().any(|part| book.applies(part.only)) => Draft::bare("answer_parts_none"),
            Answer::Parts => {
                let part = |part: &Part| {
                    let (name, count, part_number) = (&part.name, part.count, &part.number);
                    Draft::new("answer_parts", context! { name, count, part_number })
                };
                return book.parts.iter().filter(|part| book.applies(part.only)).map(part).collect();
            }
            Answer::Open(open) if open.is_empty() => Draft::bare("answer_open_none"),
            Answer::Open(open) => Draft::new("answer_open", context! { open_list => self.open_list(open) }),
            Answer::HowLong { minutes, without, timers, unwatched } => {
                let work = match (minutes, without) {
                    (0, 1..) => Draft::bare("answer_how_long_unknown"),
                    _ => Draft::new("answer_how_long", context! { minutes => self.work_time(*minutes), without }),
                };
                let key = if *unwatched { "timer_left" } else { "answer_timer" };
                let timer = |left: &u32| Draft::new(key, context! { minutes => self.minutes(*left) });
                return std::iter::once(work).chain(timers.iter().map(timer)).collect();
            }
        };
        vec![one]
    }

    fn tool(&self, group: FastenerIx) -> Draft {
        let fastener = &self.book.fasteners[group.0];
        let name = &fastener.name;
        let draft = match fastener.tool {
            Some(tool) => {
                let tool = &self.book.tools[tool.0];
                Draft::new("answer_tool", context! { name, tool => &tool.name, stand_in => &tool.stand_in })
            }
            None => Draft::new("answer_tool_unknown", context! { name, drive => &fastener.drive }),
        };
        Draft { digits_of: DigitsOf::All, ..draft }
    }
}

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("answer_value", PENDING),
    ("answer_in_unit", PENDING),
    ("answer_in_unit_none", PENDING),
    ("answer_last_value", PENDING),
    ("answer_nothing_pending", &[]),
    ("answer_size", &["drive", "name"]),
    ("answer_size_none", &[]),
    ("answer_tool", &["name", "stand_in", "tool"]),
    ("answer_tool_unknown", &["drive", "name"]),
    ("answer_tool_none", &[]),
    ("answer_which", PENDING),
    ("answer_left", &["left", "stages"]),
    ("answer_no_cautions", &[]),
    ("answer_why", &["say"]),
    ("answer_why_none", &[]),
    ("answer_stuck", &["say"]),
    ("answer_stuck_none", &[]),
    ("answer_source", &["chapter", "edition", "page", "source_title"]),
    ("answer_source_sizes", &["name", "page"]),
    ("answer_parts", &["count", "name", "part_number"]),
    ("answer_parts_none", &[]),
    ("answer_open", &["open_list"]),
    ("answer_open_none", &[]),
    ("answer_how_long", &["minutes", "without"]),
    ("answer_how_long_unknown", &[]),
    ("answer_timer", &["minutes"]),
];
