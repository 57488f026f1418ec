//! Every thing the program can say, in both of its ways, in one table: `tests/snapshots/wording__everything_said.snap`.
//! Read it as a person would hear it.

mod common;

use common::{book, degrees, millimetres, nm, stage};
use rust_decimal::Decimal;
use std::sync::Arc;
use wrenchside::dialogue::{
    BookSay, Digits, Flaw, Language, LessonSay, Manner, Meaning, NotUnderstood, Notice, Odd, Sentence, ToolSay,
    ValueSay, commands,
};
use wrenchside::job::*;
use wrenchside::layout::Layout;
use wrenchside::procedure::{self, *};
use wrenchside::quantity::*;
use wrenchside::toolbox::*;
use wrenchside::values::{self, Refused, Shelf, Wanted};

fn pending(group: usize, item: usize, stage: usize, follows: Follows) -> Pending {
    let book = book();
    let fastener = &book.fasteners[group];
    Pending {
        group: FastenerIx(group),
        item,
        rank: item,
        items: fastener.places.len(),
        stage,
        stages: fastener.finish.len(),
        kind: fastener.finish.stage(stage).map(|s| s.kind.clone()),
        new: false,
        turned: None,
        interrupted: false,
        announced: false,
        waits: None,
        counted: None,
        follows,
    }
}

fn first() -> Pending {
    Pending { new: true, ..pending(0, 0, 0, Follows::Nothing) }
}

const G: FastenerIx = FastenerIx(0);

fn facts() -> Vec<Fact> {
    vec![
        Fact::StepDone(3),
        Fact::StepSkipped(3),
        Fact::Again(3),
        Fact::Variant(VariantIx(1)),
        Fact::Round { step: 4, round: 2 },
        Fact::Round { step: 3, round: 1 },
        Fact::InTime(4),
        Fact::Answered { step: 4, yes: true },
        Fact::Answered { step: 4, yes: false },
        Fact::Stage { group: G, item: 1, stage: 0 },
        Fact::Measured { step: 2, act: 0 },
        Fact::LeftOutside { step: 2, act: 0 },
        Fact::Acts { step: 1, from: 0, to: 1 },
        Fact::WaitBegun(1),
        Fact::Waited(1),
        Fact::Reading { group: G, item: 1, stage: 0 },
        Fact::NotBegun { group: G, item: 1, stage: 1 },
        Fact::Scrapped { group: G, item: 0, damage: Damage::Stripped },
        Fact::Item { group: G, item: 0, state: ItemState::InDoubt },
        Fact::State(ConditionIx(0)),
        Fact::Mark(4),
        Fact::Note { step: 4, note: Note::Typed("the boot is torn".to_owned()) },
    ]
}

fn open_points() -> Vec<Open> {
    vec![
        Open::Fasteners { group: G, items: vec![0, 1], state: ItemState::AtStage(1), over: vec![] },
        Open::Fasteners { group: G, items: vec![1], state: ItemState::InDoubt, over: vec![] },
        Open::Fasteners { group: FastenerIx(1), items: vec![0], state: ItemState::HandStarted, over: vec![] },
        Open::Fasteners {
            group: G,
            items: vec![0, 1],
            state: ItemState::HandStarted,
            over: vec![
                TooFar { item: 0, read: Some(Quantity::Torque(nm(30, 0))), remedy: Some(Remedy::Restart) },
                TooFar { item: 1, read: Some(Quantity::Angle(degrees(200))), remedy: Some(Remedy::Renew) },
            ],
        },
        Open::Fasteners {
            group: G,
            items: vec![0],
            state: ItemState::Slackened,
            over: vec![TooFar { item: 0, read: None, remedy: None }],
        },
        Open::Support(SupportIx(0)),
        Open::Component(ComponentIx(0), ComponentState::Hung),
        Open::Connection(ConnectionIx(0)),
        Open::Skipped(vec![2]),
        Open::NotDone(vec![0, 3, 4, 5, 6, 8]),
        Open::Due(vec![4]),
        Open::Outside { step: 2, act: 0, value: millimetres(8, 1) },
    ]
}

fn exactly(amount: i64) -> Bounds {
    let value = Some(Quantity::Torque(nm(amount, 0)));
    Bounds { least: value, most: value }
}

fn window() -> Bounds {
    Bounds { least: Some(Quantity::Angle(degrees(55))), most: Some(Quantity::Angle(degrees(70))) }
}

fn turned_fact() -> Fact {
    Fact::Stage { group: G, item: 0, stage: 1 }
}

fn questions() -> Vec<Question> {
    let limits = exactly(70);
    let reading = |verdict, far| Question::Reading {
        value: Quantity::Torque(nm(92, 0)),
        verdict,
        far,
        from: None,
        limits: limits.clone(),
    };
    let sent = |verdict, far| Question::Reading {
        value: Quantity::Torque(nm(92, 0)),
        verdict,
        far,
        from: Some("wrench".into()),
        limits: limits.clone(),
    };
    let none = Bounds { least: None, most: None };
    let correct = |fact, was, limits, value| Question::Correct { fact, was, limits, value };
    let damaged = |damage| Question::Damaged { group: G, item: 1, damage };
    let which = |damage| Question::Which { damage, choices: vec![(G, 0), (G, 1)] };
    let mut all = vec![
        sent(Verdict::Over, false),
        sent(Verdict::Within, false),
        sent(Verdict::Over, true),
        Question::Hold { step: 0 },
        Question::Until { step: 4, round: 2 },
        Question::Ask { step: 4 },
        Question::InTime { step: 4, reading: None },
        Question::InTime { step: 4, reading: Some(Waiting { value: millimetres(8, 1), from: None }) },
        Question::Variant { variant: VariantIx(0) },
        Question::Again { step: 3 },
        Question::Apart { steps: vec![3], again: true },
        Question::Apart { steps: vec![3, 5], again: false },
        Question::Skip { step: 3 },
        Question::GoTo { step: 11, not_done: vec![3], between: vec![] },
        Question::GoTo {
            step: 11,
            not_done: vec![3, 4, 5, 6, 8],
            between: vec![Between::Set(SupportIx(0)), Between::TakeAway(SupportIx(0)), Between::Until(4)],
        },
        Question::GoTo {
            step: 11,
            not_done: vec![3, 4],
            between: vec![
                Between::Hold(3),
                Between::Tighten(FastenerIx(0)),
                Between::Tighten(FastenerIx(1)),
                Between::Tighten(FastenerIx(2)),
            ],
        },
        Question::Angle(pending(0, 1, 1, Follows::Nothing)),
        reading(Verdict::Under, false),
        reading(Verdict::Within, false),
        reading(Verdict::Over, false),
        reading(Verdict::Over, true),
        damaged(Damage::Broken),
        damaged(Damage::Stripped),
        damaged(Damage::Lost),
        Question::State(ConditionIx(0)),
        which(Damage::Broken),
        which(Damage::Stripped),
        which(Damage::Lost),
        Question::Finish { open: Vec::new() },
        Question::Finish { open: open_points() },
        correct(turned_fact(), Quantity::Angle(degrees(68)), none.clone(), None),
        correct(Fact::Measured { step: 2, act: 0 }, millimetres(8, 1), none, None),
        correct(
            turned_fact(),
            Quantity::Angle(degrees(68)),
            window(),
            Some((Quantity::Angle(degrees(40)), Verdict::Under, false)),
        ),
        Question::Unit { value: Quantity::Torque(nm(38, 0)), not: Unit::Torque(TorqueUnit::PoundForceFoot) },
        Question::LeaveOutside { step: 2, act: 0, value: millimetres(8, 1) },
        Question::Wait { minutes_left: 15, unwatched: false },
        Question::Wait { minutes_left: 15, unwatched: true },
        Question::Wait { minutes_left: 0, unwatched: false },
        Question::Pause { instead: None },
        Question::Turned { pending: pending(0, 1, 1, Follows::Nothing), before: untouched() },
    ];
    all.extend(facts().into_iter().map(Question::Undo));
    all
}

fn untouched() -> Box<Item> {
    Box::new(Job::new(Arc::new(book())).ledger().item(G, 0).clone())
}

/// A stage that must not be done yet.
fn waiting(group: usize, stage: usize, follows: Follows) -> Pending {
    Pending { waits: Some(ConditionIx(0)), ..pending(group, 0, stage, follows) }
}

fn refusals() -> Vec<Refusal> {
    let unlawful = |act, state| Refusal::Unlawful { act, item: 0, state, open_step: Some(3) };
    let fasten = |deed| Act::Fasten { group: G, items: vec![0], deed };
    let remedy = |remedy| Refusal::RemedyFirst { group: G, item: 0, remedy };
    vec![
        Refusal::Unfinished { items: 2, stages: 3, pending: pending(0, 1, 0, Follows::Nothing) },
        Refusal::Unfinished { items: 1, stages: 1, pending: pending(1, 0, 0, Follows::Nothing) },
        Refusal::Unfinished { items: 2, stages: 3, pending: waiting(0, 0, Follows::Nothing) },
        Refusal::Unmeasured { step: 2, act: 0 },
        Refusal::NotNeeded { step: 3, on: Some(On::Measurement { step: 2, act: 0 }) },
        Refusal::NotNeeded { step: 3, on: Some(On::Answer { step: 2 }) },
        Refusal::NotNeeded { step: 3, on: None },
        Refusal::Undecided { step: 3, on: On::Answer { step: 2 } },
        Refusal::NotInState(ConditionIx(0)),
        unlawful(fasten(Deed::Tighten(None)), ThingState::Item(ItemState::Out)),
        unlawful(fasten(Deed::Slacken), ThingState::Item(ItemState::AtStage(1))),
        unlawful(fasten(Deed::Remove), ThingState::Item(ItemState::Scrapped)),
        unlawful(fasten(Deed::Trap), ThingState::Item(ItemState::Trapped)),
        unlawful(fasten(Deed::Hold), ThingState::Item(ItemState::Holding)),
        unlawful(fasten(Deed::HandStart), ThingState::Item(ItemState::AsFound)),
        unlawful(Act::Place(SupportIx(0)), ThingState::Placed(true)),
        unlawful(Act::TakeAway(SupportIx(0)), ThingState::Placed(false)),
        unlawful(Act::Reach(ConditionIx(0)), ThingState::In(true)),
        unlawful(Act::Leave(ConditionIx(0)), ThingState::In(false)),
        unlawful(Act::TakeOff(ComponentIx(0)), ThingState::Component(ComponentState::Off)),
        unlawful(Act::Hang(ComponentIx(0)), ThingState::Component(ComponentState::On)),
        unlawful(Act::PutOn(ComponentIx(0)), ThingState::Component(ComponentState::Hung)),
        unlawful(Act::Disconnect(ConnectionIx(0)), ThingState::Connected(false)),
        Refusal::Unlawful {
            act: Act::Connect(ConnectionIx(0)),
            item: 0,
            state: ThingState::Connected(true),
            open_step: None,
        },
        Refusal::NoSuchStep { asked: 50, steps: 5 },
        Refusal::AtFirst,
        Refusal::AtLast,
        Refusal::NothingPending,
        Refusal::NoReadingAwaited,
        Refusal::WrongKind { value: Quantity::Torque(nm(68, 0)), wanted: Unit::Angle(AngleUnit::Degree) },
        Refusal::TooSoon { value: Quantity::Torque(nm(70, 0)) },
        Refusal::Outside { step: 2, act: 0, value: millimetres(8, 1) },
        Refusal::NothingAsked,
        Refusal::AnswerFirst(Box::new(Question::Skip { step: 3 })),
        Refusal::NothingToUndo,
        Refusal::NothingToCorrect,
        Refusal::RestOfNumber,
        remedy(Remedy::Renew),
        remedy(Remedy::Restart),
        remedy(Remedy::Start),
        Refusal::AdapterOn,
        Refusal::RoundsOver { step: 4 },
        Refusal::TooLate { step: 4 },
        Refusal::NoVariant,
        Refusal::VariantStands,
        Refusal::Closed,
    ]
}

fn answers() -> Vec<Answer> {
    let caution = Caution { signal: Signal::Danger, say: "The spring is under load".to_owned() };
    let in_unit = |group, stage, unit| Answer::InUnit { pending: pending(group, 0, stage, Follows::Nothing), unit };
    vec![
        Answer::Value(first()),
        Answer::Value(pending(1, 0, 0, Follows::Nothing)),
        Answer::Value(Pending { interrupted: true, ..pending(0, 0, 1, Follows::Nothing) }),
        Answer::Value(waiting(0, 0, Follows::Nothing)),
        Answer::Which(waiting(0, 0, Follows::Nothing)),
        in_unit(0, 0, TorqueUnit::PoundForceFoot),
        in_unit(0, 0, TorqueUnit::NewtonMetre),
        in_unit(2, 0, TorqueUnit::PoundForceInch),
        in_unit(0, 1, TorqueUnit::PoundForceFoot),
        Answer::InUnit { pending: waiting(0, 0, Follows::Nothing), unit: TorqueUnit::PoundForceFoot },
        Answer::LastValue(pending(0, 1, 0, Follows::Nothing)),
        Answer::NothingPending,
        Answer::Size(vec![FastenerIx(0), FastenerIx(1)]),
        Answer::Size(vec![]),
        Answer::Tool(vec![FastenerIx(0), FastenerIx(1)]),
        Answer::Tool(vec![]),
        Answer::Which(pending(0, 1, 0, Follows::Nothing)),
        Answer::HowManyLeft { items: 2, stages: 3 },
        Answer::HowManyLeft { items: 0, stages: 0 },
        Answer::Cautions(vec![caution]),
        Answer::Cautions(vec![]),
        Answer::Why { step: 1 },
        Answer::Why { step: 0 },
        Answer::Stuck { step: 1 },
        Answer::Stuck { step: 0 },
        Answer::Source { page: Some("page 4-12".to_owned()), stock: None },
        Answer::Source { page: None, stock: None },
        Answer::Parts,
        Answer::Open(open_points()),
        Answer::Open(vec![]),
        Answer::HowLong { minutes: 45, without: 1, timers: vec![1, 15], unwatched: false },
        Answer::HowLong { minutes: 45, without: 1, timers: vec![10], unwatched: true },
        Answer::HowLong { minutes: 0, without: 3, timers: vec![], unwatched: false },
        Answer::HowLong { minutes: 108, without: 0, timers: vec![], unwatched: false },
        Answer::HowLong { minutes: 75, without: 0, timers: vec![], unwatched: false },
        Answer::HowLong { minutes: 120, without: 0, timers: vec![], unwatched: false },
    ]
}

fn says() -> Vec<Say> {
    let caution = |signal, say: &str| Caution { signal, say: say.to_owned() };
    let reading =
        |verdict| Say::ReadingTaken { value: Quantity::Torque(nm(275, 1)), verdict, from: None, limits: exactly(27) };
    let taken = |value, verdict, limits| Say::ReadingTaken { value, verdict, from: None, limits };
    let sent = Say::ReadingTaken {
        value: Quantity::Torque(nm(275, 1)),
        verdict: Verdict::Within,
        from: Some("wrench".into()),
        limits: exactly(27),
    };
    let most = Bounds { least: None, most: Some(millimetres(5, 1)) };
    let least = Bounds { least: Some(millimetres(20, 0)), most: None };
    let corrected = |amount, verdict| Say::Corrected {
        fact: turned_fact(),
        was: Quantity::Angle(degrees(68)),
        value: Quantity::Angle(degrees(amount)),
        verdict,
        limits: window(),
    };
    let group = |group, items, state| Say::GroupDone { group: FastenerIx(group), items, state };
    let turned =
        |amount| Pending { turned: Some(Quantity::Angle(degrees(amount))), ..pending(0, 0, 1, Follows::SameItem) };
    let mut all = vec![
        sent,
        Say::Opening,
        Say::Resumed { last: At(0) },
        Say::Paused,
        Say::Closed { open: 0 },
        Say::Closed { open: 2 },
        Say::Caution(caution(Signal::Warning, "Never work under a vehicle that only a jack holds")),
        Say::Caution(caution(Signal::Note, "Mark the cam bolts")),
        Say::Caution(caution(Signal::Danger, "The spring is under load")),
        Say::Standing(caution(Signal::Caution, "The caliper hangs: do not pull its hose")),
        Say::Forewarning(caution(Signal::Danger, "The fuel line is open: keep fire and sparks away")),
        Say::Step { step: 1, phase: Some(Phase::Rebuild) },
        Say::Step { step: 0, phase: Some(Phase::Prepare) },
        Say::Step { step: 0, phase: Some(Phase::Strip) },
        Say::Step { step: 2, phase: Some(Phase::Inspect) },
        Say::Step { step: 3, phase: Some(Phase::Close) },
        Say::Step { step: 3, phase: None },
        Say::Where { step: 3, steps: 5 },
        Say::Round { step: 4, round: 2 },
        Say::Variant(VariantIx(1)),
        Say::Pending(first()),
        Say::Pending(Pending { new: true, ..pending(0, 1, 0, Follows::SameStage) }),
        Say::Pending(pending(0, 1, 1, Follows::SameItem)),
        Say::Pending(pending(0, 0, 1, Follows::SameGroup)),
        Say::Pending(pending(0, 0, 2, Follows::SameItem)),
        Say::Pending(pending(0, 0, 3, Follows::SameItem)),
        Say::Pending(pending(1, 0, 0, Follows::Nothing)),
        Say::Pending(Pending { new: true, ..pending(2, 2, 0, Follows::Nothing) }),
        Say::Pending(pending(2, 3, 0, Follows::SameStage)),
        Say::Pending(waiting(0, 0, Follows::Nothing)),
        Say::Pending(waiting(0, 1, Follows::SameItem)),
        Say::Pending(waiting(0, 2, Follows::SameGroup)),
        Say::Pending(waiting(2, 0, Follows::SameStage)),
        Say::Pending(turned(40)),
        Say::Pending(turned(80)),
        Say::Pending(Pending { turned: Some(Quantity::Angle(degrees(45))), ..pending(0, 0, 2, Follows::SameItem) }),
        Say::AwaitMeasure { step: 2, act: 0 },
        group(0, 2, ItemState::Final),
        group(2, 4, ItemState::Final),
        group(2, 4, ItemState::AtStage(1)),
        group(1, 1, ItemState::HandStarted),
        group(2, 3, ItemState::Slackened),
        reading(Verdict::Under),
        reading(Verdict::Within),
        reading(Verdict::Over),
        taken(Quantity::Angle(degrees(68)), Verdict::Within, window()),
        taken(Quantity::Angle(degrees(80)), Verdict::Over, window()),
        taken(millimetres(4, 1), Verdict::Within, most),
        taken(millimetres(19, 0), Verdict::Under, least),
        corrected(40, Verdict::Under),
        corrected(64, Verdict::Within),
        corrected(80, Verdict::Over),
        Say::OutsideLimits { step: 2, act: 0 },
        Say::LastStepDone,
        Say::NowInDoubt(pending(0, 1, 1, Follows::Nothing)),
        Say::Remedy { group: G, item: 0, remedy: Remedy::Renew },
        Say::Remedy { group: G, item: 0, remedy: Remedy::Restart },
        Say::Remedy { group: G, item: 0, remedy: Remedy::Start },
        Say::Scrapped { group: G, item: 0 },
        Say::OpenAgain { steps: vec![1, 3] },
        Say::Marked { step: 3 },
        Say::Noted { step: 3 },
        Say::Skipped { step: 3 },
        Say::Step { step: 4, phase: None },
        Say::NotNeeded { steps: vec![3] },
        Say::Undecided { steps: vec![3], on: On::Measurement { step: 2, act: 0 } },
        Say::Undecided { steps: vec![3, 4, 5], on: On::Answer { step: 2 } },
        Say::Within { step: 4 },
        Say::WithinUnwatched { step: 4 },
        Say::DueLater { steps: vec![4] },
        Say::NotNeeded { steps: vec![3, 4, 5, 6, 8] },
        Say::LeftAsItIs,
        Say::NotLogged { value: millimetres(8, 1) },
        Say::TimerStarted { minutes: 15 },
        Say::TimeUp,
        Say::TimerLeft { minutes: 7 },
        Say::ClockSet,
    ];
    all.extend(facts().into_iter().map(Say::TakenBack));
    all.extend(questions().into_iter().map(Say::Question));
    all.extend(refusals().into_iter().map(Say::Refused));
    all.extend(answers().into_iter().map(Say::Answer));
    all
}

fn manner() -> Manner {
    Manner { now: Some(At(2 * 86_400_000 + 5)), ..Manner::default() }
}

fn expect() -> Expect {
    Expect {
        steps: 5,
        yes_no: false,
        no_claims: false,
        angle: false,
        reading: Some(Quantity::Torque(nm(70, 0))),
        rest: false,
        fastener: true,
        places: vec![],
    }
}

fn listed(sentences: &[Sentence]) -> String {
    let mark = |s: &Sentence| match s.signal {
        Some(signal) => format!("{signal:?}"),
        None => format!("{:?}", s.tone),
    };
    sentences.iter().map(|s| format!("{:<8} {}\n{:<8} {}\n", mark(s), s.spoken, "", s.written)).collect()
}

/// Settings of every kind, adapters, and a lay-out list with everything there can be in it.
fn tools_said(language: &Language) -> Vec<Sentence> {
    let own = Toolbox::parse("toolbox.toml", include_str!("../docs/toolbox.toml")).expect("the example");
    let limits = |text: &str| text.parse::<Limits<Torque>>().expect(text);
    let set = |value: &str, adapter: Option<&str>| {
        let with: Option<Adapter> = adapter.map(|a| a.parse().expect(a));
        let chosen = own.choose(&limits(value), with.as_ref());
        let name = adapter.map(|_| "crowfoot");
        match &chosen {
            Ok(setting) => language.tool_says(&[ToolSay::Set { setting, adapter: name }], &book(), &manner()),
            Err(uncovered) => language.tool_says(&[ToolSay::Uncovered(uncovered)], &book(), &manner()),
        }
    };
    let mut said = Vec::new();
    for (value, adapter) in [
        ("140 N·m", None),
        ("25 N·m", None),
        ("55..70 N·m", None),
        ("70.0..70.2 N·m", None),
        ("28 lbf·ft", None),
        ("300 N·m", None),
        ("2 N·m", None),
        ("26 N·m", None),
        ("140 N·m", Some("48 mm@0 deg")),
        ("140 N·m", Some("48 mm@90 deg")),
        ("140 N·m", Some("900 mm@180 deg")),
    ] {
        said.extend(set(value, adapter));
    }
    let none = Uncovered::NoWrench;
    let no_length = Uncovered::NoLength { name: "big wrench".to_owned() };
    let says = [
        ToolSay::Uncovered(&none),
        ToolSay::Uncovered(&no_length),
        ToolSay::NearTheEdge { wrench: "big wrench" },
        ToolSay::AdapterOn { adapter: "crowfoot", angle: degrees(90) },
        ToolSay::AngleWanted { adapter: "crowfoot" },
        ToolSay::AdapterOff,
        ToolSay::NoSuchAdapter { asked: 3 },
    ];
    said.extend(language.tool_says(&says, &book(), &manner()));
    let day = "2027-03-01".parse().expect("a day");
    said.extend(language.lay_out(&Layout::new(&book(), None, day), &book(), &manner()));
    let mut poor = own.clone();
    poor.angle_gauge = None;
    poor.wrenches.truncate(1);
    poor.wrenches.push(Wrench { name: "old wrench".to_owned(), calibrated: None, ..poor.wrenches[0].clone() });
    poor.sockets.clear();
    poor.sockets.push(Socket {
        size: Size::parse("11/16 in").expect("a size"),
        written: "11/16 in".to_owned(),
        square: Square::Half,
    });
    let mut other = book();
    other.fasteners[0].drive = Some("17 mm hex".to_owned());
    other.tools[0].name = "17 mm socket".to_owned();
    other.tools.push(Tool { id: "x".to_owned(), name: "feeler gauge".to_owned(), stand_in: None, only: None });
    let spanner = Tool { id: "z".to_owned(), name: "17 mm ring spanner".to_owned(), stand_in: None, only: None };
    let collar = &mut other.fasteners[1];
    (collar.tool, collar.drive, collar.finish) =
        (Some(ToolIx(other.tools.len())), Some("17 mm hex".to_owned()), Finish::Later);
    other.tools.push(spanner);
    other.tools.push(Tool {
        id: "y".to_owned(),
        name: "puller".to_owned(),
        stand_in: Some("a lever".to_owned()),
        only: None,
    });
    said.extend(language.lay_out(&Layout::new(&other, Some(&poor), day), &other, &manner()));
    said
}

/// The values of the example, and everything else there is to say about values asked by name.
fn values_said(language: &Language) -> Vec<Sentence> {
    let page = values::parse("values.toml", include_str!("../docs/values.toml")).expect("the example");
    let (source, entries) = (&page.source, &page.entries);
    let mut says: Vec<ValueSay<'_>> =
        entries.iter().map(|entry| ValueSay::Told { entry, unit: None, source: None }).collect();
    let pounds = Some(TorqueUnit::PoundForceFoot);
    says.extend([
        ValueSay::Page { page: &page, told: None },
        ValueSay::Told { entry: &entries[0], unit: pounds, source: Some(source) },
        ValueSay::Told { entry: &entries[9], unit: pounds, source: None },
        ValueSay::Which(entries.iter().take(2).collect()),
        ValueSay::Which(entries.iter().collect()),
        ValueSay::Nothing { words: "gearbox bolt" },
        ValueSay::Source { source, of: Some(&entries[0]) },
        ValueSay::Source { source, of: None },
        ValueSay::NoJob,
        ValueSay::Over,
    ]);
    let said = says.iter().flat_map(|say| language.value_says(say, &manner()));
    let asks = language.asks(&Shelf::new(vec![("values.toml".to_owned(), page.clone())]).expect("one page"));
    said.chain([language.values_help(&asks)]).collect()
}

/// Everything said while a voice is learnt.
fn lesson_said(language: &Language) -> Vec<Sentence> {
    let says = [
        LessonSay::Begins { count: 96 },
        LessonSay::Say("next step"),
        LessonSay::Try("next step"),
        LessonSay::Alike("next step", "next one"),
        LessonSay::LeftOut("next step"),
        LessonSay::Progress { done: 12, of: 96 },
        LessonSay::Paused { left: 84 },
        LessonSay::Over { count: 95 },
    ];
    let again = Flaw::ALL.map(|flaw| LessonSay::Again("i am stuck", flaw));
    says.into_iter().chain(again).map(|say| language.lesson(say)).collect()
}

/// Everything said while values are told from the open book.
fn book_said(language: &Language) -> Vec<Sentence> {
    let page = values::parse("values.toml", include_str!("../docs/values.toml")).expect("the example");
    let entry = &page.entries[0];
    let check = Refused::Check { what: "the unit is missing".into(), right: "Write it".into() };
    let there = Refused::There(Box::new(entry.clone()));
    let says = [
        BookSay::Wanted(Wanted::Name),
        BookSay::Wanted(Wanted::Value(&entry.name)),
        BookSay::Wanted(Wanted::Page(&entry.name)),
        BookSay::Wanted(Wanted::Yes(entry)),
        BookSay::Kept(&entry.name),
        BookSay::TakenBack(&entry.name),
        BookSay::NoValue,
        BookSay::Later,
        BookSay::Refused(&Refused::Name),
        BookSay::Refused(&check),
        BookSay::Refused(&there),
        BookSay::NotKept("page.txt: cannot be written: no space left on the disk"),
        BookSay::NothingAsked,
        BookSay::NothingToUndo,
        BookSay::Over(0),
        BookSay::Over(1),
        BookSay::Over(3),
    ];
    let said = says.iter().flat_map(|say| language.book_says(say, &manner()));
    said.chain([language.book_help()]).collect()
}

/// Everything said while something is taken apart.
fn strip_said(language: &Language) -> Vec<Sentence> {
    use wrenchside::strip::{Command, Deed, Kind, Name, Question, Refused, Say, StripLog, Things};
    let mut log = StripLog::new("Water pump");
    let bolts = Things { count: 2, kind: Kind::Bolt };
    let told = [
        Command::Supported,
        Command::Name(Name::Typed("sill".into())),
        Command::Fasteners { things: bolts, size: Some(13.into()), deed: Deed::Out },
        Command::Name(Name::Typed("pump, lower".into())),
        Command::Opened(Things { count: 1, kind: Kind::Clip }),
        Command::TakenOff(Things { count: 1, kind: Kind::Cover }),
        Command::HungUp,
        Command::Changed(Deed::Held),
    ];
    let mut said = language.strip_says(&log.opening(), &log, &manner());
    let mut apply = |log: &mut StripLog, command: Command| {
        let reply = log.apply(command, At(0));
        said.extend(language.strip_says(&reply.says, log, &manner()));
    };
    apply(&mut log, Command::Everything);
    for command in told {
        apply(&mut log, command);
    }
    let answers = [
        Command::Yes,
        Command::Everything,
        Command::Yes,
        Command::Value { stages: "25 N·m + 90 deg".into(), page: None },
        Command::Undo,
        Command::NoValue,
        Command::Undo,
        Command::Later,
        Command::Undo,
        Command::Value { stages: "25 N·m + 90 deg".into(), page: None },
        Command::NoPage,
        Command::Undo,
        Command::Page("7-1".into()),
        Command::Yes,
        Command::No,
        Command::Yes,
    ];
    for command in [Command::NoName, Command::WhatCameOff, Command::Undo, Command::No].into_iter().chain(answers) {
        apply(&mut log, command);
    }
    let rest = [
        Say::Resumed,
        Say::Told(0),
        Say::Noted,
        Say::Paused,
        Say::Question(Question::Support),
        Say::TakenBack(1),
        Say::Refused(Refused::AnswerFirst),
        Say::Refused(Refused::NothingAsked),
        Say::Refused(Refused::NothingToUndo),
        Say::Refused(Refused::NoSuchFasteners(Deed::Stuck)),
        Say::Refused(Refused::NothingToName),
        Say::Refused(Refused::NothingOff),
        Say::Refused(Refused::GoesTogether),
        Say::Refused(Refused::NoValue),
        Say::Refused(Refused::Count),
        Say::Refused(Refused::NoName),
        Say::Refused(Refused::NoPage),
        Say::Refused(Refused::SupportStands),
        Say::Refused(Refused::OnWheels),
        Say::Refused(Refused::Width),
        Say::GoesOn,
        Say::Question(Question::Hung(3)),
        Say::Question(Question::Width { of: 1, size: 15.into() }),
        Say::AnswerTakenBack(Question::Page(1)),
        Say::AnswerTakenBack(Question::Runs(1)),
        Say::AnswerTakenBack(Question::New(1)),
        Say::AnswerTakenBack(Question::Whole),
    ];
    said.extend(language.strip_says(&rest, &log, &manner()));
    let mut wheels = StripLog::new("Water pump");
    let bolt = Command::Fasteners { things: Things { count: 1, kind: Kind::Bolt }, size: None, deed: Deed::Out };
    for command in [Command::OnWheels, bolt, Command::NoName] {
        let reply = wheels.apply(command, At(0));
        said.extend(language.strip_says(&reply.says, &wheels, &manner()));
    }
    said.extend(language.strip_says(&[Say::CameOff], &StripLog::new("Water pump"), &manner()));
    let page = values::parse("values.toml", include_str!("../docs/values.toml")).expect("a page of values");
    said.push(language.strip_offers(1, &page.entries[0], &log, &manner()));
    let heard = wrenchside::strip::read("62 N·m + 50 deg").expect("stages");
    let offers = |page| language.strip_offers_heard(1, (heard.clone(), page), &log, &manner());
    said.extend([None, Some("7-1")].map(offers));
    said.extend(language.which_job(&["Front brakes".to_owned(), "Lower arm, left".to_owned()]));
    said.extend(language.which_next(&["Front brakes".to_owned(), "Lower arm, left".to_owned()]));
    said.push(language.begin_this("Front brakes"));
    said.push(language.cannot_begin("Front brakes"));
    said.extend([language.strip_not_understood(), language.strip_name_late(), language.strip_help()]);
    said.extend(values::no_stages("62", None).map(|why| language.strip_no_value(&why)));
    let why_not = |line| language.strip_why_not(line);
    said.extend(["took out two bolts half inch", "took out two bolts and a nut"].into_iter().filter_map(why_not));
    said
}

#[test]
fn the_voice_says_tools_and_values_in_words_only() {
    let language = Language::english();
    let told = strip_said(&language).into_iter().filter(|sentence| !sentence.written.contains("A value looks like"));
    for sentence in
        tools_said(&language).into_iter().chain(values_said(&language)).chain(book_said(&language)).chain(told)
    {
        let odd = |c: char| !(c.is_alphabetic() || " .,:;?!'-".contains(c));
        assert!(!sentence.spoken.contains(odd), "{:?}", sentence.spoken);
    }
}

#[test]
fn a_stage_that_waits_is_never_named_without_what_it_waits_for() {
    let ways = |pending: Pending| {
        vec![
            Say::Pending(pending.clone()),
            Say::Answer(Answer::Value(pending.clone())),
            Say::Answer(Answer::Which(pending.clone())),
            Say::Answer(Answer::InUnit { pending: pending.clone(), unit: TorqueUnit::PoundForceFoot }),
            Say::Refused(Refusal::Unfinished { items: 1, stages: 1, pending }),
        ]
    };
    for follows in [Follows::Nothing, Follows::SameStage, Follows::SameItem, Follows::SameGroup] {
        for (group, stage) in [(0, 0), (0, 1), (0, 2), (0, 3), (1, 0), (2, 0)] {
            for sentence in Language::english().render(&ways(waiting(group, stage, follows)), &book(), &manner()) {
                for text in [&sentence.spoken, &sentence.written] {
                    assert!(text.to_lowercase().contains("once the vehicle is at ride height"), "{text}");
                }
            }
        }
    }
}

/// A castle nut, and a wheel nut that is backed off until its pin goes in.
fn castle_book() -> Procedure {
    let mut book = book();
    let stage = |kind| Stage {
        kind,
        from: None,
        share: None,
        also: None,
        meanwhile: None,
        until: None,
        needs: None,
        source: None,
    };
    let snug = || Stage {
        meanwhile: Some("turning the shaft by hand".into()),
        ..stage(StageKind::Torque(Limits::Exactly(nm(40, 0))))
    };
    let slot = stage(StageKind::Slot(degrees(30)));
    let limits = Limits::Window { low: degrees(0), high: degrees(90) };
    let back = Stage { until: Some("a slot lines up with the hole".into()), ..stage(StageKind::BackOff(limits)) };
    let some = Limits::Window { low: degrees(60), high: degrees(90) };
    for (fastener, stages) in book.fasteners.iter_mut().zip([
        vec![snug(), slot],
        vec![snug(), back],
        vec![snug(), stage(StageKind::BackOff(some))],
    ]) {
        fastener.finish = Finish::Stages(stages);
        fastener.lock = Some("cotter pin".into());
    }
    book
}

/// A measurement that is only recorded; another one and a torque that count from it.
fn counted_book() -> Procedure {
    let mut book = book();
    let newton_metres = |n, scale| Quantity::Torque(nm(n, scale));
    let drag = Measurement {
        what: "drag of the bare shaft".into(),
        name: Some(MeasureIx(0)),
        unit: Unit::Torque(TorqueUnit::NewtonMetre),
        from: None,
        more: Vec::new(),
        leads: false,
        among: None,
        limits: Bounds { least: None, most: None },
        otherwise: String::new(),
        source: None,
    };
    let preload = Measurement {
        what: "drag of the preloaded shaft".into(),
        name: None,
        from: Some(MeasureIx(0)),
        more: Vec::new(),
        leads: false,
        among: None,
        limits: Bounds { least: Some(newton_metres(11, 1)), most: Some(newton_metres(45, 1)) },
        otherwise: "Choose another shim".into(),
        ..drag.clone()
    };
    let limits = Bounds { least: Some(millimetres(-8, 2)), most: Some(millimetres(-3, 2)) };
    let shim = Measurement {
        what: "thickness of the shim".into(),
        unit: Unit::Length(LengthUnit::Millimetre),
        limits,
        ..preload.clone()
    };
    // Of two measurements, with sizes to choose from.
    let sized = Measurement {
        what: "thickness of the new shim".into(),
        more: vec![Term { of: MeasureIx(1), less: false }, Term { of: MeasureIx(0), less: true }],
        among: Some(StockIx(0)),
        otherwise: "Order the size".into(),
        ..shim.clone()
    };
    book.steps[0].acts = [drag, preload, shim, sized].map(Act::Measure).into();
    let named = |id: &str, what: &str| Named { id: id.into(), what: what.into(), step: 0, act: 0 };
    book.named = vec![named("drag", "drag of the bare shaft"), named("gap", "gap at the flange")];
    let sizes = (40..46).map(|hundredths| millimetres(hundredths, 2)).collect();
    book.stocks = vec![Stock { id: "shims".into(), name: "shim".into(), sizes, source: Some("page 4-13".into()) }];
    let stage = |limits| Stage {
        kind: StageKind::Torque(limits),
        from: Some(MeasureIx(0)),
        share: None,
        also: None,
        meanwhile: None,
        until: None,
        needs: None,
        source: None,
    };
    book.fasteners[0].finish = Finish::Stages(vec![stage(Limits::Exactly(nm(25, 0)))]);
    book.fasteners[1].finish = Finish::Stages(vec![stage(Limits::Window { low: nm(20, 0), high: nm(30, 0) })]);
    book
}

fn counted_says() -> Vec<Say> {
    let book = counted_book();
    let newton_metres = |n, scale| Quantity::Torque(nm(n, scale));
    let limits = |act: usize| match &book.steps[0].acts[act] {
        Act::Measure(m) => m.limits.clone(),
        _ => unreachable!("all are measurements"),
    };
    let counted = |base, by| Counted { from: MeasureIx(0), base, more: Vec::new(), by };
    let sum = Bounds { least: Some(newton_metres(20, 1)), most: Some(newton_metres(54, 1)) };
    let pounds = Quantity::Torque(Torque::new(Decimal::from(8), TorqueUnit::PoundForceInch));
    let stage = |group, limits: Limits<Torque>, by: Bounds| Pending {
        kind: Some(StageKind::Torque(limits)),
        counted: Some(counted(newton_metres(21, 1), by)),
        stages: 1,
        ..pending(group, 0, 0, Follows::Nothing)
    };
    let one = Bounds { least: Some(newton_metres(25, 0)), most: Some(newton_metres(25, 0)) };
    let two = Bounds { least: Some(newton_metres(20, 0)), most: Some(newton_metres(30, 0)) };
    let less = Bounds { least: Some(newton_metres(-1, 0)), most: Some(newton_metres(-1, 0)) };
    let taken = |value, limits| Say::ReadingTaken { value, verdict: Verdict::Within, from: None, limits };
    let sized = |low, high| Say::AwaitCounted {
        step: 0,
        act: 3,
        limits: Bounds { least: Some(millimetres(low, 2)), most: Some(millimetres(high, 2)) },
        counted: Counted {
            more: vec![
                (Term { of: MeasureIx(1), less: false }, millimetres(30, 2)),
                (Term { of: MeasureIx(0), less: true }, millimetres(5, 2)),
            ],
            ..counted(millimetres(50, 2), limits(2))
        },
    };
    let thin = Bounds { least: Some(millimetres(42, 2)), most: Some(millimetres(47, 2)) };
    vec![
        Say::Answer(Answer::Source { page: Some("page 4-12".to_owned()), stock: Some(StockIx(0)) }),
        Say::AwaitMeasure { step: 0, act: 0 },
        taken(newton_metres(9, 1), limits(0)),
        Say::Question(Question::Reading {
            value: newton_metres(9, 1),
            verdict: Verdict::Within,
            far: false,
            from: Some("wrench".into()),
            limits: limits(0),
        }),
        Say::AwaitCounted { step: 0, act: 1, limits: sum.clone(), counted: counted(newton_metres(9, 1), limits(1)) },
        Say::AwaitCounted { step: 0, act: 1, limits: sum.clone(), counted: counted(pounds, limits(1)) },
        Say::AwaitCounted { step: 0, act: 2, limits: thin, counted: counted(millimetres(50, 2), limits(2)) },
        sized(40, 42),
        sized(40, 40),
        sized(40, 45),
        sized(46, 50),
        taken(newton_metres(30, 1), sum),
        Say::OutsideLimits { step: 0, act: 1 },
        Say::Refused(Refusal::Outside { step: 0, act: 1, value: newton_metres(60, 1) }),
        Say::Refused(Refusal::Unmeasured { step: 0, act: 0 }),
        Say::Refused(Refusal::NoTorque(Box::new(counted(newton_metres(9, 1), less)))),
        Say::Pending(stage(0, Limits::Exactly(nm(271, 1)), one)),
        Say::Pending(stage(1, Limits::Window { low: nm(221, 1), high: nm(321, 1) }, two)),
        // As the record lists it before anything is measured.
        Say::Pending(Pending {
            kind: book.fasteners[0].finish.stage(0).map(|s| s.kind.clone()),
            stages: 1,
            ..pending(0, 0, 0, Follows::Nothing)
        }),
    ]
}

fn locked_says() -> Vec<Say> {
    let stage = |group: usize, stage: usize| {
        let kind = castle_book().fasteners[group].finish.stage(stage).map(|s| s.kind.clone());
        Pending { stages: 2, kind, ..pending(group, 0, 0, Follows::SameItem) }
    };
    let stage = |group: usize, n: usize| Pending { stage: n, ..stage(group, n) };
    let unlawful = |deed, state| {
        let act = Act::Fasten { group: G, items: vec![0], deed };
        Say::Refused(Refusal::Unlawful { act, item: 0, state: ThingState::Item(state), open_step: Some(3) })
    };
    let open = |group, state| Open::Fasteners { group: FastenerIx(group), items: vec![0], state, over: vec![] };
    let done = |group, items| Say::GroupDone { group: FastenerIx(group), items, state: ItemState::Final };
    vec![
        Say::Pending(stage(0, 0)),
        Say::Pending(stage(0, 1)),
        Say::Pending(Pending { interrupted: true, ..stage(0, 1) }),
        Say::Pending(stage(1, 1)),
        Say::Pending(stage(2, 1)),
        Say::Pending(Pending { turned: Some(Quantity::Angle(degrees(45))), ..stage(2, 1) }),
        Say::Question(Question::GoTo {
            step: 11,
            not_done: vec![3],
            between: vec![Between::Lock(FastenerIx(0)), Between::Lock(FastenerIx(1))],
        }),
        Say::Answer(Answer::Value(stage(1, 1))),
        Say::Question(Question::Angle(stage(0, 1))),
        Say::Question(Question::Angle(Pending { announced: true, interrupted: true, ..stage(0, 1) })),
        done(0, 2),
        done(1, 1),
        Say::Lock { group: FastenerIx(1) },
        Say::Refused(Refusal::NotLocked { group: G }),
        Say::Refused(Refusal::NotLocked { group: FastenerIx(1) }),
        unlawful(Deed::Lock, ItemState::AtStage(1)),
        unlawful(Deed::HandStart, ItemState::Locked),
        unlawful(Deed::Lock, ItemState::Slackened),
        Say::Answer(Answer::Open(vec![open(0, ItemState::Final), open(1, ItemState::Final)])),
        Say::Answer(Answer::Open(vec![open(2, ItemState::Unlocked)])),
        Say::TakenBack(Fact::Item { group: G, item: 0, state: ItemState::Locked }),
    ]
}

fn left_hand_book() -> Procedure {
    let mut book = book();
    book.fasteners[0].left_hand = true;
    book.fasteners[0].drive = None;
    book
}

#[test]
fn a_left_hand_thread_is_named_at_every_stage() {
    let book = left_hand_book();
    for follows in [Follows::Nothing, Follows::SameStage, Follows::SameItem, Follows::SameGroup] {
        for stage in 0..book.fasteners[0].finish.len() {
            let pending = pending(0, 0, stage, follows);
            let says = [Say::Pending(pending.clone()), Say::Answer(Answer::Value(pending))];
            for sentence in Language::english().render(&says, &book, &manner()) {
                for text in [&sentence.spoken, &sentence.written] {
                    assert!(text.to_lowercase().contains("left-hand thread"), "{text}");
                }
            }
        }
    }
}

/// Which way it turns is said before it is turned: by whoever loosens it from habit the thread is stripped.
#[test]
fn a_left_hand_thread_is_named_before_it_is_loosened_or_put_in() {
    let told = |acts: &[(usize, Deed)], say: &str, caution: Option<&str>| {
        let mut book = left_hand_book();
        book.fasteners[1].left_hand = false;
        let act = |&(group, deed)| Act::Fasten { group: FastenerIx(group), items: vec![0], deed };
        let step = &mut book.steps[0];
        (step.acts, step.say) = (acts.iter().map(act).collect(), say.into());
        step.cautions = caution.map(|say| Caution { signal: Signal::Note, say: say.into() }).into_iter().collect();
        let rendered = Language::english().render(&[Say::Step { step: 0, phase: None }], &book, &manner());
        rendered.into_iter().map(|sentence| sentence.written).collect::<Vec<_>>()
    };
    let name = left_hand_book().fasteners[0].name.clone();
    let step = "Step 1. Take it out.";
    let loosens = format!("Note. Left-hand thread on the {name}: it loosens clockwise.");
    let goes_in = format!("Note. Left-hand thread on the {name}: it goes in anticlockwise.");
    for (deeds, sentences) in [
        (&[Deed::Slacken, Deed::Remove][..], vec![&*loosens, step]),
        (&[Deed::Trap], vec![&loosens, step]),
        (&[Deed::HandStart], vec![&goes_in, step]),
        (&[Deed::Remove, Deed::Hold], vec![&loosens, &goes_in, step]),
        // Said with each stage.
        (&[Deed::Tighten(None)], vec![step]),
        (&[Deed::Unlock], vec![step]),
    ] {
        let acts: Vec<(usize, Deed)> = deeds.iter().map(|&deed| (0, deed)).collect();
        assert_eq!(told(&acts, "Take it out.", None), sentences, "{deeds:?}");
    }
    assert_eq!(told(&[(1, Deed::Remove)], "Take it out.", None), [step], "a right-hand thread");
    // The author says it.
    let remove = [(0, Deed::Remove)];
    assert_eq!(told(&remove, "Take it out, left-hand thread.", None), ["Step 1. Take it out, left-hand thread."]);
    assert_eq!(told(&remove, "Take it out.", Some("It has a left-hand thread.")), [step]);
}

/// English, with each sentence beginning with a word made of its key.
fn english_with_its_keys() -> (Language, Vec<String>) {
    let mut file: toml::Table = include_str!("../src/dialogue/languages/en.toml").parse().expect("the language file");
    let sentences = file.get_mut("sentences").and_then(toml::Value::as_table_mut).expect("a table of sentences");
    let mut marks = Vec::new();
    for (key, text) in sentences {
        let mark = format!("key{}", key.replace('_', ""));
        *text = format!("{mark} {}", text.as_str().expect("a text")).into();
        marks.push(mark);
    }
    (Language::from_toml("en.toml", &file.to_string()).unwrap_or_else(|error| panic!("{error}")), marks)
}

/// No sentence that the program can say is left out of the table.
#[test]
fn every_sentence_is_in_the_table() {
    let (language, marks) = english_with_its_keys();
    let table = everything(&language).to_lowercase();
    let missing: Vec<String> = marks.into_iter().filter(|mark| !table.contains(&format!("{mark} "))).collect();
    assert_eq!(missing, Vec::<String>::new(), "not in the table");
}

#[test]
fn everything_said() {
    insta::assert_snapshot!(everything(&Language::english()));
}

/// What every command that is said without a number or a name is answered with, where a stage is pending.
fn commands_answered(language: &Language) -> String {
    let bracket = procedure::parse("bench-bracket.toml", include_str!("data/bench-bracket.toml"));
    let mut job = Job::new(Arc::new(bracket.unwrap_or_else(|report| panic!("{report}"))));
    job.apply(Command::Open, At(0));
    for _ in 0..20 {
        if job.pending().is_none() {
            let answer = if job.question().is_some() { Command::Yes } else { Command::Done };
            job.apply(answer, At(0));
        }
    }
    assert!(job.pending().is_some(), "no stage is pending in any step");
    let told = commands().filter_map(|(key, meaning)| match meaning {
        Meaning::Command(command) => {
            let reply = job.clone().apply(command.clone(), At(0));
            Some(format!("{key}:\n{}", listed(&language.render(&reply.says, job.book(), &manner()))))
        }
        _ => None,
    });
    told.collect()
}

fn everything(language: &Language) -> String {
    let mut table = listed(&language.render(&says(), &book(), &manner()));
    table.push_str("\nIn foot pounds first:\n");
    let pounds = Manner { unit: Some(TorqueUnit::PoundForceFoot), digits: Digits::All, ..manner() };
    let values = [
        Say::Pending(first()),
        Say::Pending(pending(2, 0, 0, Follows::Nothing)),
        Say::Pending(pending(0, 0, 1, Follows::SameItem)),
        Say::Answer(Answer::Value(first())),
    ];
    table.push_str(&listed(&language.render(&values, &book(), &pounds)));
    table.push_str("\nOf a left-hand thread of which no size is given:\n");
    let left = left_hand_book();
    let sized = Say::Answer(Answer::Size(vec![G]));
    table.push_str(&listed(&language.render(&[Say::Pending(first()), sized], &left, &manner())));
    let mut turned = left_hand_book();
    turned.steps[0].acts =
        [Deed::Remove, Deed::HandStart].map(|deed| Act::Fasten { group: G, items: vec![0], deed }).into();
    table.push_str(&listed(&language.render(&[Say::Step { step: 0, phase: None }], &turned, &manner())));
    table.push_str("\nOf what is backed off, turned on to a slot, and locked:\n");
    table.push_str(&listed(&language.render(&locked_says(), &castle_book(), &manner())));
    table.push_str("\nOf what counts from a measurement:\n");
    table.push_str(&listed(&language.render(&counted_says(), &counted_book(), &manner())));
    table.push_str("\nIn every unit:\n");
    for unit in Kind::ALL.iter().flat_map(|kind| Unit::all(*kind)) {
        let amount = |n: i64, scale| Quantity::new(Decimal::new(n, scale), unit);
        let limits = Bounds { least: Some(amount(1, 0)), most: Some(amount(20, 0)) };
        let taken = Say::ReadingTaken { value: amount(125, 1), verdict: Verdict::Within, from: None, limits };
        table.push_str(&listed(&language.render(&[taken], &book(), &manner())));
    }
    table.push_str("\nOf the user's tools:\n");
    table.push_str(&listed(&tools_said(language)));
    table.push_str("\nOf pages of values:\n");
    table.push_str(&listed(&values_said(language)));
    table.push_str("\nFrom the open book:\n");
    table.push_str(&listed(&book_said(language)));
    table.push_str("\nOf a strip-down:\n");
    table.push_str(&listed(&strip_said(language)));
    table.push_str("\nWhile it learns a voice:\n");
    table.push_str(&listed(&lesson_said(language)));
    table.push_str("\nOf itself:\n");
    for notice in Notice::ALL {
        table.push_str(&listed(&[language.notice(*notice)]));
    }
    table.push_str(&listed(&[language.unfinished(&["Front brakes: pads and discs".into(), "Cylinder head".into()])]));
    let lost = |near: &[&str]| NotUnderstood {
        line: "nxt stp".to_owned(),
        near: near.iter().map(|n| (*n).to_owned()).collect(),
        left_over: None,
        odd: None,
    };
    table.push_str(&listed(&[language.not_understood(&lost(&["next step", "what size"]))]));
    table.push_str(&listed(&[language.not_understood(&lost(&[]))]));
    let more = NotUnderstood { left_over: Some("and a bit".to_owned()), ..lost(&[]) };
    table.push_str(&listed(&[language.not_understood(&more)]));
    let slots = lost(&["reading {number} {unit}", "go to step {number}"]);
    table.push_str(&listed(&[language.not_understood(&slots)]));
    for odd in [Odd::Asked, Odd::Comma, Odd::BelowZero, Odd::Prefix] {
        let odd = NotUnderstood { odd: Some(odd), ..lost(&[]) };
        table.push_str(&listed(&[language.not_understood(&odd)]));
    }
    table.push_str(&listed(&[language.did_you_say("next step")]));
    table.push_str(&listed(&language.help(&expect())));
    table.push_str("\nTo each command, where a stage is pending:\n");
    table.push_str(&commands_answered(language));
    table
}

#[test]
fn the_voice_gets_words_only() {
    let language = Language::english();
    for unit in [None, Some(TorqueUnit::KilogramForceMetre), Some(TorqueUnit::PoundForceInch)] {
        for sentence in language.render(&says(), &book(), &Manner { unit, ..manner() }) {
            let odd = |c: char| !(c.is_alphabetic() || " .,:;?!'-".contains(c));
            assert!(!sentence.spoken.contains(odd), "{:?}", sentence.spoken);
            assert!(!sentence.spoken.is_empty() && !sentence.written.is_empty());
            assert!(!sentence.spoken.contains("  ") && !sentence.spoken.contains(" ,"), "{:?}", sentence.spoken);
        }
    }
}

#[test]
fn a_group_in_one_state_is_named_as_a_group() {
    let mut book = book();
    let mut wheel = book.fasteners[0].clone();
    wheel.plural = "wheel bolts".into();
    wheel.places = ["top", "upper right", "lower right", "lower left", "upper left"].map(String::from).to_vec();
    book.fasteners.push(wheel);
    let group = FastenerIx(book.fasteners.len() - 1);
    let asked = |items: Vec<usize>| {
        let open = vec![Open::Fasteners { group, items, state: ItemState::HandStarted, over: vec![] }];
        let sentence = Language::english().render(&[Say::Answer(Answer::Open(open))], &book, &manner()).remove(0);
        (sentence.spoken, sentence.written)
    };
    let both = |spoken: &str, written: &str| (spoken.to_owned(), written.to_owned());
    assert_eq!(
        asked((0..5).collect()),
        both("Open: all five wheel bolts: only started by hand.", "Open: all 5 wheel bolts: only started by hand.")
    );
    let four = "Open: wheel bolts, top, upper right, lower right and lower left: only started by hand.";
    assert_eq!(asked((0..4).collect()), both("Open: four of the five wheel bolts: only started by hand.", four));
    let three = "Open: wheel bolts, top, upper right and lower right: only started by hand.";
    assert_eq!(asked((0..3).collect()), both(three, three));
}

#[test]
fn the_end_of_a_programme_is_named_by_what_is_done_last() {
    let (language, manner) = (Language::english(), manner());
    let told = |stages: usize| {
        let mut book = book();
        if let Finish::Stages(all) = &mut book.fasteners[0].finish {
            all.truncate(stages);
        }
        let said = |say: Say| language.render(&[say], &book, &manner).remove(0).spoken;
        let act = Act::Fasten { group: G, items: vec![0], deed: Deed::HandStart };
        let state = ThingState::Item(ItemState::Final);
        let refused = Say::Refused(Refusal::Unlawful { act, item: 0, state, open_step: None });
        let group = said(Say::GroupDone { group: G, items: 2, state: ItemState::Final });
        [group, said(refused), language.words(&book, &manner).item_state(G, ItemState::Final)]
    };
    let tight = told(2);
    assert_eq!(tight[0], "Both inner pivot bolts are fully tightened.");
    assert!(tight[1].contains(": fully tightened, so it cannot be") && tight[2] == "fully tightened", "{tight:?}");
    let back = told(3);
    assert_eq!(back[0], "Both inner pivot bolts are backed off ninety degrees, nine zero.");
    assert!(
        back[1].contains(": backed off ninety degrees, nine zero, so it cannot be") && back[2] == "backed off 90°",
        "{back:?}"
    );
    let slack = told(4);
    assert_eq!(slack[0], "Both inner pivot bolts are left slackened.");
    assert!(slack[1].contains(": left slackened, so it cannot be") && slack[2] == "left slackened", "{slack:?}");
}

#[test]
fn a_spoken_torque_is_the_published_one_or_called_about() {
    let language = Language::english();
    let say = |unit| {
        let manner = Manner { unit: Some(unit), ..manner() };
        language.render(&[Say::Answer(Answer::Value(first()))], &book(), &manner).remove(0).spoken
    };
    assert!(say(TorqueUnit::NewtonMetre).ends_with("seventy newton metres, seven zero."));
    let pounds = say(TorqueUnit::PoundForceFoot);
    assert!(pounds.contains("about fifty one point six foot pounds"), "{pounds}");
    assert!(pounds.contains("published as seventy newton metres"), "{pounds}");
}

#[test]
fn a_converted_window_stays_inside_the_published_one() {
    let language = Language::english();
    let manner = Manner { unit: Some(TorqueUnit::PoundForceInch), ..manner() };
    let says = [Say::Answer(Answer::Value(pending(2, 0, 0, Follows::Nothing)))];
    let written = language.render(&says, &book(), &manner).remove(0).written;
    // 27 N·m is 238.97 lbf·in and 33 N·m is 292.07 lbf·in.
    assert!(written.contains("≈ 239..292 lbf·in (published: 27..33 N·m)"), "{written}");
    let inch = |amount: i64| Torque::new(Decimal::from(amount), TorqueUnit::PoundForceInch);
    assert!(inch(239) >= nm(27, 0) && inch(292) <= nm(33, 0));
}

#[test]
fn what_of_a_back_off_is_left_is_all_that_is_told() {
    let turned = |group: usize, at: usize| Pending {
        turned: Some(Quantity::Angle(degrees(45))),
        kind: castle_book().fasteners[group].finish.stage(at).map(|s| s.kind.clone()),
        stages: 2,
        ..pending(group, 0, at, Follows::SameItem)
    };
    let told = Language::english().render(&[Say::Pending(turned(2, 1))], &castle_book(), &manner());
    let text = &told[0].written;
    assert!(text.contains("so far 45°; to go, back off 15..45°") && !text.contains("60"), "{text}");
}

#[test]
fn a_turn_to_a_slot_wants_no_angle_gauge() {
    let own = Toolbox::parse("toolbox.toml", include_str!("../docs/toolbox.toml")).expect("the example");
    let own = Toolbox { angle_gauge: None, ..own };
    let day = "2027-03-01".parse().expect("a day");
    let with = |kind| {
        let mut book = book();
        for fastener in &mut book.fasteners {
            fastener.finish = Finish::Stages(vec![stage(StageKind::Torque(Limits::Exactly(nm(40, 0))))]);
        }
        book.fasteners[0].finish = Finish::Stages(vec![stage(kind)]);
        Layout::new(&book, Some(&own), day).no_angle_gauge
    };
    assert!(with(StageKind::Angle(Limits::Exactly(degrees(90)))));
    assert!(!with(StageKind::Slot(degrees(30))), "the slot says how far");
}

/// Who speaks is told that the number is enough where the unit is no word that can be heard; who reads may type it.
#[test]
fn a_number_alone_is_asked_for_where_its_unit_cannot_be_heard() {
    for (limit, alone) in [("12.4 V", true), ("40 mA", true), ("0.2 Ω", true), ("0.5 mm", false), ("9 N·m", false)] {
        let mut book = book();
        let Act::Measure(m) = &mut book.steps[2].acts[0] else { unreachable!("it measures") };
        let most: Quantity = limit.parse().unwrap();
        (m.unit, m.limits) = (most.unit(), Bounds { least: None, most: Some(most) });
        let told = Language::english().render(&[Say::AwaitMeasure { step: 2, act: 0 }], &book, &manner());
        assert_eq!(told[0].spoken.contains("Say the number alone."), alone, "{told:?}");
        assert!(!told[0].written.contains("Say the number"), "{told:?}");
    }
}
