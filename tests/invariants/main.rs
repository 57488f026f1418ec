//! Random jobs on random procedures, and what must be true of every one of them (`rules`).

#[path = "../common/book.rs"]
mod book;
mod books;
mod branches;
mod lawful;
mod moves;
mod order;
mod rounds;
mod rules;

use moves::Move;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;
use wrenchside::job::*;
use wrenchside::procedure::{Deed, Procedure};
use wrenchside::{procedure, quantity};

/// Runs of commands on each procedure, and how long each is at most.
const TALKS: usize = 20;
const LENGTH: usize = 50;

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, max_shrink_iters: 20_000, ..ProptestConfig::default() }
}

/// Says all this to a new job, and lets `look` see each command.
fn talk(
    book: &Arc<Procedure>,
    moves: &[Move],
    mut look: impl FnMut(&Job, &Command, &Reply, &Job) -> Result<(), String>,
) -> Result<(Job, Vec<(Command, At)>), TestCaseError> {
    let mut job = Job::new(Arc::clone(book));
    let mut recorded = Vec::new();
    let first = Move::Say(Command::Open);
    for (n, next) in std::iter::once(&first).chain(moves).enumerate() {
        // Three in quick succession, then a while.
        let (command, at) = (next.command(&job), At(n as i64 / 3 * 141_000 + n as i64 % 3 * 3_000));
        let before = job.clone();
        let reply = job.apply(command.clone(), at);
        if let Err(name) = look(&before, &command, &reply, &job) {
            let question = before.question();
            let (pending, step) = (before.pending(), before.position());
            return Err(TestCaseError::fail(format!(
                "{name}\nat command {n}, {command:?}, in step {step}\nasked: {question:?}\npending: {pending:?}\nreply: {reply:?}"
            )));
        }
        if reply.recorded {
            recorded.push((command, at));
        }
    }
    Ok((job, recorded))
}

fn same(a: &Job, b: &Job) -> bool {
    (a.ledger(), a.position(), a.question(), a.facts()) == (b.ledger(), b.position(), b.question(), b.facts())
        && (a.closed(), a.next_due(), a.last_change(), a.is_paused())
            == (b.closed(), b.next_due(), b.last_change(), b.is_paused())
        && a.digest() == b.digest()
}

fn many() -> impl Strategy<Value = (Procedure, Vec<Vec<Move>>)> {
    (books::procedures(), prop::collection::vec(moves::talks(LENGTH), TALKS))
}

/// What came up in the talks, by name: rules about what never comes up prove nothing.
#[derive(Default)]
struct Seen(std::cell::RefCell<BTreeMap<String, u32>>);

impl Seen {
    fn note(&self, thing: &impl std::fmt::Debug) {
        let text = format!("{thing:?}");
        let name: String = text.chars().take_while(|c| c.is_alphanumeric()).collect();
        *self.0.borrow_mut().entry(name).or_default() += 1;
    }

    fn look(&self, before: &Job, reply: &Reply, after: &Job) {
        if let Some(new) = after.facts().get(before.facts().len()) {
            self.note(&new.fact);
        }
        for say in &reply.says {
            match say {
                Say::Question(question) => self.note(question),
                Say::Refused(refusal) => self.note(refusal),
                Say::Remedy { remedy, .. } => self.note(remedy),
                other => self.note(other),
            }
        }
    }

    fn has_all(&self, wanted: &str) {
        let seen = self.0.borrow();
        let missing: Vec<&str> = wanted.split_whitespace().filter(|w| !seen.contains_key(*w)).collect();
        assert!(missing.is_empty(), "never came up: {missing:?}; what did: {seen:?}");
    }
}

/// Half of the sequences, so that the two halves run side by side.
fn every_rule_holds(cases: u32) {
    let seen = Seen::default();
    let mut runner = proptest::test_runner::TestRunner::new(config(cases));
    let outcome = runner.run(&many(), |(book, talks)| {
        let book = Arc::new(book);
        for moves in &talks {
            let mut watch = rules::Watch::default();
            let (job, recorded) = talk(&book, moves, |b, c, r, a| {
                seen.look(b, r, a);
                watch.look(b, c, r, a)
            })?;
            // The journal holds what was recorded and nothing else.
            let mut replayed = Job::new(Arc::clone(&book));
            for (command, at) in recorded {
                prop_assert!(replayed.apply(command, at).recorded, "what was recorded is recorded again");
            }
            prop_assert!(same(&replayed, &job), "the same journal gives the same ledger, position and question");
        }
        Ok(())
    });
    if let Err(failure) = outcome {
        panic!("{failure}");
    }
    if cases < 1_000 {
        return; // too few for the rare things
    }
    seen.has_all(
        "Round Until RoundsOver StepDone StepSkipped Stage Measured Acts WaitBegun Waited Reading NotBegun Scrapped Item State Mark Ask Answered NotNeeded \
         Hold Again Apart Skip GoTo Unit LeaveOutside LeftOutside Outside WrongKind Corrected Undo Angle Damaged Wait Which Finish Unfinished Unmeasured NotInState Unlawful NoSuchStep AtFirst \
         AtLast NothingPending NoReadingAwaited NothingAsked AnswerFirst NothingToUndo NothingToCorrect RestOfNumber Correct RemedyFirst Closed Renew Restart \
         NowInDoubt OpenAgain GroupDone OutsideLimits TakenBack LastStepDone TimerStarted TimeUp Standing Caution \
         Forewarning Turned Pause",
    );
}

/// A fastener in doubt, taken out and put back to hold something by one word: only a rare random job comes this way.
#[test]
fn every_rule_holds_where_a_fastener_in_doubt_holds() {
    let fastener = book::group("bolt", &["front"], vec![book::torque("70 N·m"), book::angle("90 deg")]);
    let deeds = [vec![Deed::Remove, Deed::HandStart], vec![Deed::Tighten(None)], vec![Deed::Remove, Deed::Hold]];
    let steps = deeds.map(|deeds| book::step(deeds.into_iter().map(|deed| book::fasten(0, &[0], deed)).collect()));
    let book = Arc::new(book::book(vec![fastener], steps.into()));
    let said = [Command::Done, Command::Done, Command::NotSure, Command::GoTo(3), Command::Yes, Command::Done];
    let mut watch = rules::Watch::default();
    let look = |b: &Job, c: &Command, r: &Reply, a: &Job| watch.look(b, c, r, a);
    let (job, _) = talk(&book, &said.map(Move::Say), look).expect("every rule holds");
    assert_eq!(job.ledger().item(procedure::FastenerIx(0), 0).state, ItemState::Holding);
}

/// The lock of a step that tightens first waits for that when the step is done again: a fastener in doubt cannot be locked yet, and
/// one that stands beside it in the same act, tight, is not locked either.
#[test]
fn every_rule_holds_where_a_lock_waits_for_a_fastener_in_doubt() {
    for places in [&["front"][..], &["front", "rear"]] {
        let mut fastener = book::group("bolt", places, vec![book::torque("70 N·m"), book::angle("90 deg")]);
        fastener.lock = Some("cotter pin".into());
        let all: Vec<usize> = (0..places.len()).collect();
        let all = |deed| book::fasten(0, &all, deed);
        let first = |deed| book::fasten(0, &[0], deed);
        let steps = vec![
            book::step(vec![all(Deed::Remove), all(Deed::HandStart)]),
            book::step(vec![all(Deed::Tighten(None)), all(Deed::Lock)]),
            book::step(vec![first(Deed::Unlock), first(Deed::Slacken), first(Deed::HandStart)]),
            book::step(vec![first(Deed::Tighten(None))]),
        ];
        let book = Arc::new(book::book(vec![fastener], steps));
        let mut said = vec![Command::Done; 1 + 2 * places.len()];
        said.extend([Command::Done, Command::Done, Command::Done]);
        said.extend([Command::NotSure, Command::GoTo(2), Command::Yes, Command::Done, Command::Yes]);
        let said: Vec<Move> = said.into_iter().map(Move::Say).collect();
        let (mut watch, mut again) = (rules::Watch::default(), false);
        let look = |b: &Job, c: &Command, r: &Reply, a: &Job| {
            again |= matches!(a.facts().get(b.facts().len()), Some(Recorded { fact: Fact::Again(1), .. }));
            watch.look(b, c, r, a)
        };
        let (job, _) = talk(&book, &said, look).expect("every rule holds");
        assert!(again, "the step was done again");
        assert_eq!(job.ledger().item(procedure::FastenerIx(0), 0).state, ItemState::InDoubt);
    }
}

/// A nut that is locked already when the step that tightens it is open again, by another round, for a bolt beside it.
#[test]
fn every_rule_holds_where_another_round_finds_a_nut_locked() {
    let mut nut = book::group("nut", &["front"], vec![book::torque("70 N·m")]);
    nut.lock = Some("cotter pin".into());
    let bolt = book::group("bolt", &["front"], vec![book::torque("70 N·m")]);
    let loosen = [(0, Deed::Unlock), (0, Deed::Slacken), (0, Deed::HandStart), (1, Deed::Remove), (1, Deed::HandStart)];
    let acts = |deeds: &[(usize, Deed)]| deeds.iter().map(|&(group, deed)| book::fasten(group, &[0], deed)).collect();
    let steps = vec![
        book::step(acts(&loosen)),
        book::step(acts(&[(0, Deed::Tighten(None)), (1, Deed::Tighten(None))])),
        procedure::Step { until: book::until(1, None), ..book::step(acts(&[(0, Deed::Lock)])) },
    ];
    let book = Arc::new(book::book(vec![nut, bolt], steps));
    // The bolt is left for the second round.
    let said = [Command::Done, Command::Done, Command::Skip, Command::Yes, Command::Done, Command::No];
    let mut watch = rules::Watch::default();
    let look = |b: &Job, c: &Command, r: &Reply, a: &Job| watch.look(b, c, r, a);
    let (job, _) = talk(&book, &said.map(Move::Say), look).expect("every rule holds");
    assert_eq!(job.pending().map(|p| (p.group.0, p.item)), Some((1, 0)));
}

/// 2,500 procedures with 20 talks each, twice: 100,000 sequences of commands. More or fewer by INVARIANT_CASES.
fn cases() -> u32 {
    std::env::var("INVARIANT_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(2_500)
}

#[test]
fn every_rule_holds_for_any_commands() {
    every_rule_holds(cases());
}

#[test]
fn every_rule_holds_for_any_commands_second_half() {
    every_rule_holds(cases());
}

/// A user who does what is asked: goes through the steps in order, leaves out what is refused, and closes.
fn patient(job: &mut Job, at: At) -> Result<usize, String> {
    let steps = job.book().steps.len();
    let mut said = 0;
    let mut say = |job: &mut Job, command: Command| {
        said += 1;
        job.apply(command, at)
    };
    say(job, Command::Resume);
    for step in 0..steps {
        for _ in 0..200 {
            let command = match job.question() {
                Some(Question::Angle(_)) => Command::Finished,
                Some(
                    Question::Hold { .. }
                    | Question::Until { .. }
                    | Question::InTime { .. }
                    | Question::Wait { .. }
                    | Question::State(_)
                    | Question::Reading { .. }
                    | Question::GoTo { .. },
                ) => Command::Yes,
                Some(_) => Command::No,
                None if job.position() != step => Command::GoTo(step as u32 + 1),
                None if job.ledger().step(step) != StepState::Open => break,
                None => match (job.pending(), job.expects().reading) {
                    (None, Some(awaited)) => {
                        Command::Reading(Reading { amount: awaited.amount(), unit: Some(awaited.unit()) })
                    }
                    _ => Command::Done,
                },
            };
            let reply = say(job, command);
            let in_the_way = |refusal: &Refusal| {
                matches!(refusal, Refusal::Unlawful { .. } | Refusal::NotInState(_) | Refusal::Undecided { .. })
            };
            if reply.says.iter().any(|s| matches!(s, Say::Refused(refusal) if in_the_way(refusal)))
                && job.position() == step
                && job.question().is_none()
                && !reply.recorded
            {
                say(job, Command::Skip);
                say(job, Command::Yes);
            }
        }
        if job.ledger().step(step) == StepState::Open {
            return Err(format!("step {step} comes to no end: {:?}", job.pending()));
        }
    }
    say(job, Command::Finish);
    for _ in 0..8 {
        if job.closed().is_none() {
            say(job, Command::Yes);
        }
    }
    match job.closed() {
        Some(_) => Ok(said),
        None => Err(format!("the job does not close: {:?}", job.question())),
    }
}

proptest! {
    #![proptest_config(config(3_000))]

    /// From wherever a job was brought, a patient user brings every step to an end and closes it.
    #[test]
    fn no_job_is_a_dead_end(book in books::procedures(), moves in moves::talks(LENGTH)) {
        let (mut job, _) = talk(&Arc::new(book), &moves, |_, _, _, _| Ok(()))?;
        if job.closed().is_none() {
            patient(&mut job, At(10_000_000)).map_err(TestCaseError::fail)?;
        }
    }

    /// A claim that began before what is pending was announced to its end changes nothing, and one that began after it
    /// counts as if it had been typed.
    #[test]
    fn said_twice_counts_once(book in books::procedures(), moves in moves::talks(LENGTH)) {
        let mut job = Job::new(Arc::new(book));
        job.apply(Command::Open, At(0));
        let mut now = 0;
        for next in &moves {
            now += 47_000;
            job.announced(At(now));
            let command = next.command(&job);
            let ends_a_round = command == Command::No && matches!(job.question(), Some(Question::Until { .. }));
            let typed = job.clone().apply(command.clone(), At(now));
            let spoken = job.hear(command.clone(), At(now), At(now));
            prop_assert_eq!(&spoken, &typed);
            let claims = matches!(command, Command::Done | Command::Reading(_) | Command::Yes | Command::Finished
                | Command::NotBegun | Command::NotSure) || ends_a_round;
            if !(claims && spoken.recorded) || job.closed().is_some() {
                continue;
            }
            let before = job.clone();
            for gap in [200, 900, 3_000] {
                let again = job.hear(command.clone(), At(now + gap), At(now + gap));
                prop_assert!(!again.recorded && !again.says.is_empty(), "{:?}: {:?}", command, again);
                prop_assert!(same(&before, &job));
            }
        }
    }

    /// The same commands give the same replies, to the last word.
    #[test]
    fn a_job_is_pure(book in books::procedures(), moves in moves::talks(LENGTH)) {
        let book = Arc::new(book);
        let mut replies = Vec::new();
        talk(&book, &moves, |_, _, reply, _| { replies.push(reply.clone()); Ok(()) })?;
        let mut replies = replies.into_iter();
        talk(&book, &moves, |_, _, reply, _| match replies.next() {
            Some(first) if first == *reply => Ok(()),
            other => Err(format!("the reply differs: {other:?}")),
        })?;
    }

    /// Every stage comes in the order of two loops, one in the other, whatever is scrapped and begun again meanwhile.
    #[test]
    fn a_programme_runs_as_two_loops_would(
        fastener in books::fastener(),
        parts in prop::collection::vec((1..=4usize, any::<prop::sample::Index>()), 0..4),
        broken in prop::collection::vec(prop::bool::weighted(0.1), 64),
    ) {
        let mut fastener = fastener;
        if let procedure::Finish::Stages(stages) = &mut fastener.finish {
            stages.iter_mut().for_each(|s| s.needs = None);
        }
        let (runs, stages, all) = (fastener.runs, fastener.finish.len(), fastener.order.clone());
        let mut tightenings: Vec<(Vec<usize>, usize)> =
            parts.iter().map(|(k, some)| (all[..=some.index(all.len())].to_vec(), *k.min(&stages))).collect();
        tightenings.push((all.clone(), stages));
        let mut steps = vec![book::step(vec![book::fasten(0, &all, Deed::Remove), book::fasten(0, &all, Deed::HandStart)])];
        steps.extend(tightenings.iter().map(|(items, k)| book::step(vec![book::fasten(0, items, Deed::Tighten(Some(*k)))])));
        let mut job = Job::new(Arc::new(book::book(vec![fastener], steps)));
        job.apply(Command::Open, At(0));
        let say = |job: &mut Job, command: Command| job.apply(command, At(0));
        say(&mut job, Command::Done);

        let mut done = vec![0; all.len()];
        let mut broken = broken.into_iter();
        for (items, wanted) in tightenings {
            loop {
                let next = match runs {
                    procedure::Runs::OneAtATime => items.iter().find(|&&i| done[i] < wanted).map(|&i| (i, done[i])),
                    procedure::Runs::StageByStage => (0..wanted)
                        .flat_map(|k| items.iter().map(move |&i| (i, k)))
                        .find(|&(i, k)| done[i] == k),
                };
                prop_assert_eq!(job.pending().map(|p| (p.item, p.stage)), next);
                let Some((item, stage)) = next else { break };
                if broken.next() == Some(true) {
                    for command in [Command::Damaged(Damage::Broken), Command::Yes, Command::Done] {
                        say(&mut job, command);
                    }
                    done[item] = 0;
                } else {
                    say(&mut job, Command::Done);
                    done[item] = stage + 1;
                }
            }
            say(&mut job, Command::Next);
        }
        prop_assert!(job.ledger().items(procedure::FastenerIx(0)).iter().all(|i| i.state == ItemState::Final));
    }
}

/// A step whose hold point was confirmed with a measurement left outside its limits is done once that lies inside them.
#[test]
fn every_rule_holds_where_a_step_held_before_is_measured_again() {
    let fastener = book::group("bolt", &["front"], vec![book::torque("70 N·m")]);
    let measured = book::step(vec![book::measure("2.0 mm", "3.0 mm")]);
    let held = procedure::Step { hold: Some("Is it so?".into()), ..measured };
    let book = Arc::new(book::book(vec![fastener], vec![held, book::step(vec![book::fasten(0, &[0], Deed::Slacken)])]));
    let [yes, skip, back] = [Command::Yes, Command::Skip, Command::Back].map(Move::Say);
    let said = [Move::Read(20), yes.clone(), skip, yes.clone(), yes, back, Move::Read(100)];
    let mut watch = rules::Watch::default();
    let (job, _) = talk(&book, &said, |b, c, r, a| watch.look(b, c, r, a)).expect("every rule holds");
    assert_eq!(job.ledger().step(0), StepState::Done);
}

/// What a step cannot do is refused before it is asked what that would do to a later one; so no "no" brings the same refusal for ever.
#[test]
fn what_cannot_be_done_asks_nothing_about_what_is_on_top_of_it() {
    let fastener = book::group("bolt", &["front"], vec![book::torque("70 N·m")]);
    let one = |deed| book::step(vec![book::fasten(0, &[0], deed)]);
    let within = Some(procedure::Within { time: "3 min".parse().unwrap(), after: 0, late: "Begin again.".into() });
    let steps = vec![
        one(Deed::Slacken),
        one(Deed::Remove),
        procedure::Step { within, ..one(Deed::HandStart) },
        one(Deed::Tighten(None)),
    ];
    let book = Arc::new(book::book(vec![fastener], steps));
    let mut said = vec![Command::GoTo(2), Command::Yes, Command::Done, Command::Done];
    said.extend([Command::GoTo(2), Command::Done, Command::Yes, Command::GoTo(1), Command::Done]);
    let said: Vec<Move> = said.into_iter().map(Move::Say).collect();
    let (mut job, _) = talk(&book, &said, |_, _, _, _| Ok(())).expect("no rule is asked");
    assert_eq!((job.position(), job.question()), (0, None));
    patient(&mut job, At(10_000_000)).expect("a patient user comes to the end");
}
