//! What must be true of every command in every job. Each rule has a name, and the name is what a failure says.

use crate::branches;
use crate::order::{self, Due};
use crate::rounds;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use wrenchside::job::*;
use wrenchside::procedure::{Act, Deed, FastenerIx, Procedure, StageKind};
use wrenchside::quantity::Quantity;

/// Follows one job from its first command on.
#[derive(Default)]
pub struct Watch {
    /// Turns by an angle that were ever recorded: group, item, run, stage.
    turned: HashSet<(usize, usize, u32, usize)>,
    /// The ledger before each fact that stands.
    ledgers: Vec<Ledger>,
    /// Open points that the user said yes to, since the job was to be closed.
    confirmed: Vec<Open>,
    /// The question that was put last, by its words.
    asked: Option<Question>,
    /// The number that the user stood by last.
    stood_by: Option<Quantity>,
}

pub type Broken = Result<(), String>;

pub fn rule(name: &str, holds: bool) -> Broken {
    if holds { Ok(()) } else { Err(name.to_owned()) }
}

pub fn items(book: &Procedure) -> impl Iterator<Item = (FastenerIx, usize)> {
    let groups = book.fasteners.iter().enumerate();
    groups.flat_map(|(g, f)| (0..f.places.len()).map(move |i| (FastenerIx(g), i)))
}

fn turns(kind: Option<&StageKind>) -> bool {
    matches!(kind, Some(StageKind::Angle(_) | StageKind::BackOff(_) | StageKind::Slot(_)))
}

fn live(facts: &[Recorded]) -> Vec<usize> {
    (0..facts.len()).filter(|&i| !facts[i].taken_back).collect()
}

/// The same but for what nobody claims: whether an item may have been turned.
fn same_but_for_suspicion(a: &Item, b: &Item) -> bool {
    *a == Item { suspect: a.suspect, announced: a.announced, ..b.clone() }
}

impl Watch {
    /// Looks at one command.
    pub fn look(&mut self, before: &Job, command: &Command, reply: &Reply, after: &Job) -> Broken {
        rule("every command is answered", !reply.says.is_empty())?;
        if let (Command::Yes, Some(Question::Reading { value, .. })) = (command, before.question()) {
            self.stood_by = Some(*value);
        }
        what_is_recorded(before, reply, after)?;
        let rest = matches!(command, Command::Rest(_));
        rule("decimals alone only ask", !rest || before.facts().len() == after.facts().len())?;
        // What was recorded since the question, as a note is, is asked about first.
        let last = live(before.facts()).last().map(|&last| &before.facts()[last].fact);
        let undone =
            *command == Command::Yes && matches!(before.question(), Some(Question::Undo(asked)) if last == Some(asked));
        let corrected = matches!(before.question(), Some(Question::Correct { .. }))
            && live(before.facts()).last().is_some_and(|&last| after.facts()[last].taken_back);
        if undone {
            self.taking_back(before, after)?;
        } else if corrected {
            self.putting_right(before, command, after)?;
        } else {
            going_forward(before, command, after, self.stood_by)?;
        }
        if !corrected {
            self.facts(before, command, after)?;
        }
        doubt(before, command, undone, after)?;
        steps(before, command, undone, after)?;
        moving(before, command, after)?;
        questions(before, command, after)?;
        self.one_question(before, command, reply, after)?;
        interrupted(reply, after)?;
        self.closing(before, command, after)?;
        tightening(before, command, reply, after)?;
        cautions(before, reply, after)?;
        deferred(reply, after)?;
        again(before, after)?;
        rounds::counted(before, command, undone, reply, after)?;
        open_points(before, reply, after)
    }

    /// Whatever is said in between: "yes" answers what was asked last.
    fn one_question(&mut self, before: &Job, command: &Command, reply: &Reply, after: &Job) -> Broken {
        if *command == Command::Yes && before.question().is_some() {
            rule("yes answers the question asked last", before.question() == self.asked.as_ref())?;
        }
        let put: Vec<&Question> = reply.says.iter().filter_map(asked).collect();
        rule("one question is put at a time", put.len() <= 1)?;
        if let Some(question) = put.first() {
            self.asked = Some((*question).clone());
        }
        let stands = after.question().is_none() || after.question() == self.asked.as_ref();
        rule("the question that stands is the one put last", stands)?;
        let hidden = matches!(reply.says.last(), Some(Say::Refused(_) | Say::TimeUp)) && put.is_empty();
        rule("what is refused while a question stands ends with it", !hidden || after.question().is_none())
    }

    fn closing(&mut self, before: &Job, command: &Command, after: &Job) -> Broken {
        if let Some(open) = before.closed() {
            return rule(
                "a closed job stays as it is",
                after.closed() == Some(open) && before.ledger() == after.ledger(),
            );
        }
        let asked_before = match before.question() {
            // Asked whether to take a break meanwhile, and no: the question that stood stands again.
            Some(Question::Pause { instead: Some(stood) }) => matches!(**stood, Question::Finish { .. }),
            asked => matches!(asked, Some(Question::Finish { .. })),
        };
        if let Some(Question::Finish { open }) = after.question() {
            if !asked_before || *command == Command::Finish {
                self.confirmed.clear();
            }
            let kinds: HashSet<_> = open.iter().map(std::mem::discriminant).collect();
            rule("one kind of open points is asked about at a time", kinds.len() <= 1)?;
        }
        let asked = match before.question() {
            Some(Question::Finish { open }) if *command == Command::Yes => open.as_slice(),
            _ => return rule("no job closes without a yes", after.closed().is_none()),
        };
        self.confirmed.extend(asked.iter().cloned());
        let Some(closed) = after.closed() else { return Ok(()) };
        let sorted = |open: &[Open]| {
            let mut names: Vec<String> = open.iter().map(|o| format!("{o:?}")).collect();
            names.sort();
            names
        };
        let all = after.open_points(after.book().steps.len());
        rule("all that is open was asked about", sorted(closed) == sorted(&all))?;
        rule("all that stays open had its yes", sorted(closed) == sorted(&self.confirmed))
    }

    /// Facts, one by one.
    fn facts(&mut self, before: &Job, command: &Command, after: &Job) -> Broken {
        let (old, new) = (before.facts(), after.facts());
        // A reading that waited for the answer whether it came in time comes behind that answer.
        let waited = matches!(before.question(), Some(Question::InTime { reading: Some(_), .. }));
        let most = 1 + usize::from(waited && *command == Command::Yes);
        rule("a command records one fact at most", new.len() <= old.len() + most)?;
        new[old.len()..].iter().try_for_each(|fact| self.fact(fact, before, command, after))
    }

    fn fact(&mut self, fact: &Recorded, before: &Job, command: &Command, after: &Job) -> Broken {
        if let (Fact::NotBegun { group, item, stage }, Some(Question::Turned { .. })) = (&fact.fact, before.question())
        {
            // By the user's word it was never made.
            self.turned.remove(&(group.0, *item, after.ledger().item(*group, *item).run, *stage));
        }
        self.ledgers.push(before.ledger().clone());
        let Fact::Stage { group, item, stage } = fact.fact else { return Ok(()) };
        let entry = before.ledger().item(group, item);
        let kind = before.book().fasteners[group.0].finish.stage(stage);
        let pending = before.pending().map(|p| (p.group, p.item, p.stage));
        rule("only the pending stage is recorded", pending == Some((group, item, stage)))?;
        rule("what was tightened too far gets no further stage", !entry.over)?;
        let said = matches!(command, Command::Finished);
        let in_state = kind.and_then(|k| k.needs).is_none_or(|needs| before.ledger().is_in(needs));
        rule("a stage is recorded in its state of the vehicle only", in_state || said)?;
        if turns(kind.map(|k| &k.kind)) {
            let first = self.turned.insert((group.0, item, entry.run, stage));
            rule("a turn is recorded once in a run, whatever was taken back", first)?;
            rule("a turn that may be made is recorded by the user's answer only", !entry.suspect || said)?;
        }
        Ok(())
    }

    /// Undo.
    fn taking_back(&mut self, before: &Job, after: &Job) -> Broken {
        let (old, new) = (live(before.facts()), live(after.facts()));
        rule("undo takes back the last fact and no other", old.split_last().map(|(_, rest)| rest) == Some(&new[..]))?;
        let asked = match before.question() {
            Some(Question::Undo(fact)) => fact,
            _ => return Err("undo is asked about".into()),
        };
        let last = &before.facts()[*old.last().ok_or("there was a fact")?];
        rule("undo takes back what it asked about", last.fact == *asked)?;
        let then = self.ledgers.pop().ok_or("there was a ledger")?;
        let now = after.ledger();
        for (group, item) in items(after.book()) {
            let (then, entry) = (then.item(group, item), now.item(group, item));
            let spent = entry.spent && entry.state == ItemState::InDoubt;
            rule(
                "undo brings every item back, or leaves a turn in doubt",
                spent || same_but_for_suspicion(then, entry),
            )?;
        }
        let steps = (0..after.book().steps.len()).all(|s| then.step(s) == now.step(s));
        rule("undo brings every step back", steps)?;
        let rest = (0..2).all(|i| {
            use wrenchside::procedure::{ComponentIx, ConditionIx, ConnectionIx, SupportIx};
            then.placed(SupportIx(i)) == now.placed(SupportIx(i))
                && then.component(ComponentIx(i)) == now.component(ComponentIx(i))
                && then.connected(ConnectionIx(i)) == now.connected(ConnectionIx(i))
                && then.is_in(ConditionIx(i)) == now.is_in(ConditionIx(i))
        });
        rule("undo brings everything else back", rest)?;
        let (Fact::Stage { group, item, stage } | Fact::Reading { group, item, stage }) = last.fact else {
            return Ok(());
        };
        let turned = turns(after.book().fasteners[group.0].finish.stage(stage).map(|s| &s.kind));
        rule("a turn taken back is doubt", !turned || now.item(group, item).spent)
    }

    /// Another number in place of the last one. What undo would bring back stays what it was.
    fn putting_right(&mut self, before: &Job, command: &Command, after: &Job) -> Broken {
        let (old, new) = (live(before.facts()), live(after.facts()));
        let rest = old.split_last().map(|(_, rest)| rest);
        rule("a number is put right by one other fact", rest == new.split_last().map(|(_, rest)| rest))?;
        let (was, is) = (&before.facts()[old[old.len() - 1]], &after.facts()[new[new.len() - 1]]);
        rule("what is put right was a number, and is one", was.reading.is_some() && is.reading.is_some())?;
        let of = |fact: &Fact| match *fact {
            Fact::Stage { group, item, stage } | Fact::Reading { group, item, stage } => Some((group, item, stage)),
            _ => None,
        };
        rule("a number is put right where it was", of(&was.fact) == of(&is.fact) && was.step == is.step)?;
        for (group, item) in items(after.book()) {
            let (old, new) = (before.ledger().item(group, item), after.ledger().item(group, item));
            let Some((_, _, stage)) = of(&was.fact).filter(|of| (of.0, of.1) == (group, item)) else {
                rule("nothing else is touched by it", same_but_for_suspicion(old, new))?;
                continue;
            };
            rule("no programme begins again by it", old.run == new.run && old.new == new.new)?;
            let confirmed = *command == Command::Yes;
            rule("no reading over its window is taken without a yes", !new.over || confirmed)?;
            if let Fact::Reading { .. } = is.fact {
                rule("a number that fell short after all needs a yes", confirmed)?;
                self.turned.remove(&(group.0, item, new.run, stage));
            } else {
                self.turned.insert((group.0, item, new.run, stage));
            }
        }
        Ok(())
    }
}

fn what_is_recorded(before: &Job, reply: &Reply, after: &Job) -> Broken {
    if reply.recorded {
        return Ok(());
    }
    let same = before.ledger() == after.ledger()
        && before.position() == after.position()
        && before.question() == after.question()
        && before.facts().len() == after.facts().len()
        && before.closed() == after.closed()
        && before.next_due() == after.next_due()
        && before.is_paused() == after.is_paused()
        && before.last_change() == after.last_change();
    rule("what is not recorded changes nothing", same)
}

/// Everything but undo.
fn going_forward(before: &Job, command: &Command, after: &Job, stood_by: Option<Quantity>) -> Broken {
    let kept = before.facts().iter().zip(after.facts()).all(|(a, b)| a.taken_back == b.taken_back);
    rule("nothing is taken back without undo", kept)?;
    for (group, item) in items(after.book()) {
        let fastener = &after.book().fasteners[group.0];
        let (old, new) = (before.ledger().item(group, item), after.ledger().item(group, item));
        let (was, is) = (old.stages_done(&fastener.finish), new.stages_done(&fastener.finish));
        if never_turned(before, command) == Some((group, item)) {
            rule("a turn that was never made is pending", !new.suspect && is.is_some() && new.run == old.run)?;
        } else if new.run == old.run {
            let lawful = is.is_none() || is == was || is == was.map(|k| k + 1);
            rule("no item skips a stage or goes back one", lawful)?;
        } else {
            rule("a programme begins again at its beginning", new.run == old.run + 1 && is == Some(0))?;
            let out = matches!(old.state, ItemState::Out | ItemState::Holding | ItemState::InDoubt);
            let renew = old.state == ItemState::Scrapped
                || (fastener.single_use && out)
                || (old.over && fastener.over == wrenchside::procedure::OverRule::Renew);
            rule("what must be renewed is renewed", new.new || !renew)?;
        }
        rule("a new fastener stays the new one", new.new || !old.new)?;
        let scrapped = new.state == ItemState::Scrapped && old.state != ItemState::Scrapped;
        let damaged = matches!(before.question(), Some(Question::Damaged { .. })) && *command == Command::Yes;
        rule("nothing is scrapped without a yes", !scrapped || damaged)?;
        let acts = &before.book().steps[before.position()].acts;
        let locked = new.state == ItemState::Locked && old.state != ItemState::Locked;
        rule(
            "who only goes on has fitted no lock",
            !locked || *command != Command::Next || !locks_behind(acts, group),
        )?;
        let over = new.over && !old.over;
        let confirmed = match before.question() {
            Some(Question::Reading { .. }) => *command == Command::Yes,
            // It had its yes before it was asked whether that was in time.
            Some(Question::InTime { reading: Some(waiting), .. }) => {
                *command == Command::Yes && stood_by == Some(waiting.value)
            }
            _ => false,
        };
        rule("no reading over its window is taken without a yes", !over || confirmed)?;
    }
    Ok(())
}

/// Is a group locked by these acts only behind its tightening?
fn locks_behind(acts: &[Act], group: FastenerIx) -> bool {
    let of = |act: &Act| matches!(act, Act::Fasten { group: g, .. } if *g == group);
    let deed = |act: &Act| if let Act::Fasten { deed, .. } = act { Some(*deed) } else { None };
    let own: Vec<Deed> = acts.iter().filter(|act| of(act)).filter_map(deed).collect();
    let tightened = own.iter().position(|deed| matches!(deed, Deed::Tighten(_)));
    let locked = own.iter().position(|deed| *deed == Deed::Lock);
    matches!((tightened, locked), (Some(tightened), Some(locked)) if tightened < locked)
}

/// The item of which the user says now that the turn claimed a moment ago was never made.
fn never_turned(before: &Job, command: &Command) -> Option<(FastenerIx, usize)> {
    match (before.question(), command) {
        (Some(Question::Turned { pending, .. }), Command::No | Command::NotBegun) => {
            Some((pending.group, pending.item))
        }
        _ => None,
    }
}

fn doubt(before: &Job, command: &Command, undone: bool, after: &Job) -> Broken {
    for (group, item) in items(after.book()) {
        let (old, new) = (before.ledger().item(group, item), after.ledger().item(group, item));
        let denied = never_turned(before, command) == Some((group, item));
        if denied || old.state != ItemState::InDoubt || new.state == ItemState::InDoubt {
            continue;
        }
        let began = new.state == ItemState::HandStarted && new.run == old.run + 1;
        // Taken out, it may be put back to hold something before the same word is over.
        let taken_out = before.book().steps[before.position()].acts.iter().any(|act| {
            matches!(act, Act::Fasten { group: g, items, deed: Deed::Remove } if *g == group && items.contains(&item))
        });
        let held = new.state == ItemState::Holding && taken_out;
        let out = held || matches!(new.state, ItemState::Out | ItemState::Scrapped);
        // A "not sure" that is taken back is asked about again.
        let asked = undone && new.suspect;
        rule("doubt ends by the rule of the fastener, or by the word that made it", began || out || asked)?;
        rule("the doubt of a turn taken back ends by the rule only", !old.spent || began || out)?;
    }
    Ok(())
}

fn steps(before: &Job, command: &Command, undone: bool, after: &Job) -> Broken {
    for (n, step) in after.book().steps.iter().enumerate() {
        let (was, is) = (before.ledger().step(n), after.ledger().step(n));
        if was == is || undone {
            continue;
        }
        let yes = *command == Command::Yes;
        match is {
            StepState::Skipped => {
                let asked = matches!(before.question(), Some(Question::Skip { step }) if *step == n);
                // A step with a measurement that was left outside its limits stays open however it ends.
                let unmet = (0..step.acts.len()).any(|act| {
                    after.ledger().measured(n, act).is_some_and(|value| after.judge(n, act, value) != Verdict::Within)
                });
                rule("no step is skipped without a yes", (yes && asked) || unmet)?;
            }
            StepState::Done => {
                let held = yes && matches!(before.question(), Some(Question::Hold { step }) if *step == n);
                // A step that stayed open for a measurement outside its limits was held before.
                let held = held || before.ledger().held(n);
                rule("a hold point is confirmed before its step is done", step.hold.is_none() || held)?;
                let ended = yes && matches!(before.question(), Some(Question::Until { step, .. }) if *step == n);
                rule("rounds end with a yes", step.until.is_none() || ended)?;
                let answered = after.ledger().answered(n).is_some();
                rule("what other steps depend on is answered", step.ask.is_none() || answered)?;
                rule("a step is done where the job stands", before.position() == n)?;
                for (a, act) in step.acts.iter().enumerate() {
                    match act {
                        Act::Measure(m) if m.leads => {
                            let read = after.ledger().measured(n, a).is_some();
                            rule("a step is done when what others depend on is measured", read)?;
                        }
                        Act::Measure(_) => {
                            let value = after.ledger().measured(n, a);
                            let within = value.is_some_and(|value| after.judge(n, a, value) == Verdict::Within);
                            rule("a step is done when all is measured, and lies in its limits", within)?;
                        }
                        Act::Fasten { group, items, deed: Deed::Tighten(through) } => {
                            let undoes = |later: &Act| matches!(later, Act::Fasten { group: g, deed, .. } if g == group && !matches!(deed, Deed::Tighten(_)));
                            if step.acts[a + 1..].iter().any(undoes) {
                                continue;
                            }
                            let finish = &after.book().fasteners[group.0].finish;
                            let wanted = through.unwrap_or(finish.len());
                            let all = items.iter().all(|&i| {
                                let item = after.ledger().item(*group, i);
                                !item.over && item.stages_done(finish).is_some_and(|k| k >= wanted)
                            });
                            rule("a step is done when all is tightened", all)?;
                        }
                        _ => {}
                    }
                }
            }
            StepState::NotNeeded => {
                let needed = branches::needed(after, n);
                rule("a step is passed over only for what is in order", needed == Some(false))?;
                rule("what is begun is not passed over", !branches::begun(after, n))?;
            }
            // By what was done now, and it is said.
            StepState::Open => rule("a step is opened again by a fact", after.facts().len() > before.facts().len())?,
        }
    }
    Ok(())
}

fn moving(before: &Job, command: &Command, after: &Job) -> Broken {
    rule("the job stands at a step", after.position() < after.book().steps.len())?;
    let moves = matches!(
        command,
        Command::Next | Command::Done | Command::Back | Command::GoTo(_) | Command::Skip | Command::Yes | Command::Open
    );
    let moves = moves || rounds::ends_one(before, command) || branches::answers_no(before, command);
    rule("only some commands move on", moves || before.position() == after.position())?;
    let leaves = match command {
        Command::Pause | Command::Resume | Command::Open => true,
        Command::Yes if matches!(before.question(), Some(Question::Pause { .. })) => true,
        Command::Back | Command::GoTo(_) | Command::Yes | Command::Skip => before.position() != after.position(),
        _ => false,
    };
    let Some(pending) = before.pending().filter(|p| leaves && turns(p.kind.as_ref())) else { return Ok(()) };
    if before.closed().is_some() {
        return Ok(());
    }
    let book = before.book();
    let needs = book.steps[before.position()].needs;
    let stage = book.fasteners[pending.group.0].finish.stage(pending.stage).and_then(|s| s.needs);
    let refused = needs.into_iter().chain(stage).any(|state| !before.ledger().is_in(state));
    let item = after.ledger().item(pending.group, pending.item);
    let settled = item.state == ItemState::InDoubt || item.state == ItemState::Scrapped;
    rule("a turn that is left half-way is asked about", item.suspect || refused || settled)
}

fn questions(before: &Job, command: &Command, after: &Job) -> Broken {
    let expects = after.expects();
    rule("a question can be answered", after.question().is_none() || expects.yes_no || expects.angle)?;
    rule("no answer without a question", after.question().is_some() || !(expects.yes_no || expects.angle))?;
    let several = matches!(after.question(), Some(Question::Which { .. } | Question::Damaged { .. }));
    rule("places are named where one is asked for", several != expects.places.is_empty())?;
    let distinct: HashSet<&String> = expects.places.iter().collect();
    rule("no two places are named alike", distinct.len() == expects.places.len())?;
    let waits = before.question().is_some();
    let pushes = matches!(command, Command::Done | Command::Next | Command::Finish | Command::Mark);
    let same = before.ledger() == after.ledger() && before.position() == after.position();
    rule("a question is answered before anything else is done", !(waits && pushes) || same)
}

fn asked(say: &Say) -> Option<&Question> {
    match say {
        Say::Question(question) => Some(question),
        Say::Refused(Refusal::AnswerFirst(question)) => Some(question),
        _ => None,
    }
}

/// What is said of a turn that may have been made never sounds as if it were to be made.
fn interrupted(reply: &Reply, after: &Job) -> Broken {
    for say in &reply.says {
        let (told, to_be_done) = match say {
            Say::Pending(pending) => (pending, true),
            Say::Answer(Answer::Value(p) | Answer::InUnit { pending: p, .. } | Answer::Which(p)) => (p, false),
            Say::Refused(Refusal::Unfinished { pending, .. }) => (pending, false),
            _ => continue,
        };
        let finish = &after.book().fasteners[told.group.0].finish;
        let item = after.ledger().item(told.group, told.item);
        let next = item.stages_done(finish) == Some(told.stage);
        let doubtful = next && item.suspect && turns(finish.stage(told.stage).map(|s| &s.kind));
        rule("an interrupted turn is named as interrupted", told.interrupted == doubtful)?;
        rule("an interrupted turn is never announced", !(doubtful && to_be_done))?;
    }
    let about_it = reply.says.iter().any(|say| {
        let stage = matches!(say, Say::Answer(Answer::Value(_) | Answer::InUnit { .. } | Answer::HowManyLeft { .. }));
        stage || matches!(say, Say::Answer(Answer::Which(_) | Answer::LastValue(_)))
    });
    let asks = matches!(reply.says.last(), Some(Say::Question(Question::Angle(_))));
    let stands = matches!(after.question(), Some(Question::Angle(_)));
    rule("every answer about an interrupted turn ends with the question", !(about_it && stands) || asks)
}

fn tightening(before: &Job, command: &Command, reply: &Reply, after: &Job) -> Broken {
    if let Some(pending) = after.pending() {
        let finish = &after.book().fasteners[pending.group.0].finish;
        let kind = finish.stage(pending.stage).map(|s| s.kind.clone());
        rule("a stage is given as it is published, never two summed", pending.kind == kind)?;
        if let Some(due) = order::due(after) {
            let model = Due::Stage(pending.group.0, pending.item, pending.stage);
            rule("the stage pending is the first one left in the order of the programme", due == model)?;
        }
        rule("what is pending is left", after.left().1 > 0)?;
    } else if let Some(Due::Stage(..)) = order::due(after) {
        let acts = &after.book().steps[after.position()].acts;
        let only = acts.iter().all(|a| matches!(a, Act::Fasten { deed: Deed::Tighten(_), .. }));
        let aside = branches::stands_aside(after, after.position());
        rule("the first stage left is pending", !only || aside)?;
    }
    let pending = before.pending().is_some_and(|pending| !pending.interrupted);
    let unfinished = *command == Command::Next && pending && before.question().is_none();
    if unfinished && before.closed().is_none() {
        let (items, stages) = before.left();
        let told = matches!(&reply.says[..],
            [Say::Refused(Refusal::Unfinished { items: i, stages: s, .. })] if (*i, *s) == (items, stages));
        rule("next on unfinished tightening is refused with what is missing", told && !reply.recorded)?;
    }
    Ok(())
}

/// A stage is named with the state of the vehicle that it waits for, whichever way it comes to be named.
fn deferred(reply: &Reply, after: &Job) -> Broken {
    for say in &reply.says {
        let (Say::Pending(pending)
        | Say::Answer(Answer::Value(pending) | Answer::Which(pending) | Answer::InUnit { pending, .. })
        | Say::Refused(Refusal::Unfinished { pending, .. })) = say
        else {
            continue;
        };
        let book = after.book();
        let stage = book.fasteners[pending.group.0].finish.stage(pending.stage).and_then(|s| s.needs);
        let needs = [stage, book.steps[after.position()].needs];
        let waits = needs.into_iter().flatten().any(|state| !after.ledger().is_in(state));
        // How far an interrupted turn went is asked, in whatever state the vehicle is now.
        rule(
            "a stage that waits is named with what it waits for",
            pending.interrupted || pending.waits.is_some() == waits,
        )?;
    }
    Ok(())
}

fn cautions(before: &Job, reply: &Reply, after: &Job) -> Broken {
    for standing in after.book().standing.iter().filter(|_| after.closed().is_none()) {
        let began = after.ledger().stands(standing.cause) && !before.ledger().stands(standing.cause);
        let warned = reply.says.contains(&Say::Caution(standing.caution.clone()));
        rule("a standing caution is spoken as soon as its cause begins", !began || warned)?;
    }
    let Some(at) = reply.says.iter().position(|s| matches!(s, Say::Step { phase: Some(_), .. })) else { return Ok(()) };
    let Say::Step { step, .. } = reply.says[at] else { return Ok(()) };
    let before_it = &reply.says[..at];
    let own = after.book().steps[step].cautions.iter().all(|c| before_it.contains(&Say::Caution(c.clone())));
    rule("a caution comes before its step", own)?;
    for standing in &after.book().standing {
        let (again, first) = (Say::Standing(standing.caution.clone()), Say::Caution(standing.caution.clone()));
        let said = before_it.contains(&again) || before_it.contains(&first);
        rule(
            "a standing caution is repeated with each phase while its cause stands, and no longer",
            said == after.ledger().stands(standing.cause),
        )?;
    }
    Ok(())
}

/// The fasteners that are out if what goes on top has come apart, where that was asked.
fn come_apart(before: &Job) -> BTreeSet<(FastenerIx, usize)> {
    let Some(Question::Apart { steps, .. }) = before.question() else { return BTreeSet::new() };
    let acts = steps.iter().flat_map(|&step| &before.book().steps[step].acts);
    let put_in = acts.filter_map(|act| match act {
        Act::Fasten { group, items, deed: Deed::HandStart | Deed::Hold } => Some((*group, items)),
        _ => None,
    });
    put_in.flat_map(|(group, items)| items.iter().map(move |&item| (group, item))).collect()
}

/// A step done once more leaves its things as its acts leave them, one after the other; what may follow what, the table
/// of lawful changes says.
fn again(before: &Job, after: &Job) -> Broken {
    let Some(Recorded { fact: Fact::Again(step), .. }) = after.facts().get(before.facts().len()) else { return Ok(()) };
    let book = after.book();
    let acts = &book.steps[*step].acts;
    let state = |(group, item)| before.ledger().item(group, item).state;
    let mut states: BTreeMap<_, _> = items(book).map(|it| (it, (state(it), false))).collect();
    for (n, act) in acts.iter().enumerate() {
        let Act::Fasten { group, items, deed } = act else { continue };
        if matches!(deed, Deed::Tighten(_)) {
            continue;
        }
        let finds = |item: &usize| states[&(*group, *item)].0.after(*deed, &book.fasteners[group.0]).on_the_day();
        let Some(to) = items.iter().map(finds).collect::<Option<Vec<_>>>() else {
            // Some of them are to be tightened again in between, and the lock comes after that.
            let tightens = |a: &Act| matches!(a, Act::Fasten { group: g, deed: Deed::Tighten(_), .. } if g == group);
            rule("what is done again is lawful", *deed == Deed::Lock && acts[..n].iter().any(tightens))?;
            continue;
        };
        for (item, to) in items.iter().zip(to) {
            states.insert((*group, *item), (to, true));
        }
    }
    let loosened = come_apart(before);
    for ((group, item), (state, opened)) in states {
        let entry = after.ledger().item(group, item);
        if loosened.contains(&(group, item)) {
            let out = matches!(entry.state, ItemState::Out | ItemState::Slackened | ItemState::Trapped);
            rule("what has come apart is out, or is left as it is", out || entry.state == state)?;
            continue;
        }
        rule("what is done again brings a fastener into the state of the act", entry.state == state)?;
        if opened && !matches!(entry.state, ItemState::AsFound | ItemState::Final | ItemState::Locked) {
            let due = |s: usize| {
                let about = |act: &&Act| matches!(act, Act::Fasten { group: g, items, .. } if *g == group && items.contains(&item));
                let last = book.steps[s].acts.iter().rfind(about);
                let tightens = matches!(last, Some(Act::Fasten { deed: Deed::Tighten(None), .. }));
                tightens && after.ledger().step(s) == StepState::Done
            };
            rule("no later step stays done that had brought it to its end", !(step + 1..book.steps.len()).any(due))?;
            let started = |s: usize| {
                let starts = |act: &Act| matches!(act, Act::Fasten { group: g, items, deed: Deed::HandStart } if *g == group && items.contains(&item));
                book.steps[s].acts.iter().any(starts) && after.ledger().step(s) == StepState::Done
            };
            let out = before.ledger().item(group, item).state != ItemState::Out && entry.state == ItemState::Out;
            rule("what is out again is started by hand again", !out || !(step + 1..book.steps.len()).any(started))?;
        }
    }
    for act in acts {
        let ledger = after.ledger();
        let last = |is: &dyn Fn(&Act) -> bool| acts.iter().rfind(|a| is(a)) == Some(act);
        let as_it_says = match *act {
            Act::Place(ix) | Act::TakeAway(ix) => {
                let about = |a: &Act| *a == Act::Place(ix) || *a == Act::TakeAway(ix);
                !last(&about) || ledger.placed(ix) == (*act == Act::Place(ix))
            }
            Act::Reach(ix) | Act::Leave(ix) => {
                let about = |a: &Act| *a == Act::Reach(ix) || *a == Act::Leave(ix);
                !last(&about) || ledger.is_in(ix) == (*act == Act::Reach(ix))
            }
            Act::TakeOff(ix) | Act::Hang(ix) | Act::PutOn(ix) => {
                let about = |a: &Act| [Act::TakeOff(ix), Act::Hang(ix), Act::PutOn(ix)].contains(a);
                !last(&about) || (ledger.component(ix) == ComponentState::On) == (*act == Act::PutOn(ix))
            }
            Act::Disconnect(ix) | Act::Connect(ix) => {
                let about = |a: &Act| *a == Act::Disconnect(ix) || *a == Act::Connect(ix);
                !last(&about) || ledger.connected(ix) == (*act == Act::Connect(ix))
            }
            _ => true,
        };
        rule("what is done again brings everything else into the state of the act", as_it_says)?;
    }
    Ok(())
}

/// Nothing is left as it must not be left that the audit does not name.
fn open_points(before: &Job, reply: &Reply, after: &Job) -> Broken {
    let (book, ledger) = (after.book(), after.ledger());
    let open = after.open_points(book.steps.len());
    let named: HashSet<(usize, usize)> = open
        .iter()
        .flat_map(|o| match o {
            Open::Fasteners { group, items, .. } => items.iter().map(|&i| (group.0, i)).collect::<Vec<_>>(),
            _ => Vec::new(),
        })
        .collect();
    for (group, item) in items(book) {
        let entry = ledger.item(group, item);
        let end = match book.fasteners[group.0].lock {
            Some(_) => ItemState::Locked,
            None => ItemState::Final,
        };
        let loose = ![ItemState::AsFound, end].contains(&entry.state) || entry.over;
        rule("every fastener that is not as it must be is open", named.contains(&(group.0, item)) == loose)?;
    }
    for point in &open {
        let Open::Fasteners { group, items, over, .. } = point else { continue };
        let told: Vec<usize> = over.iter().map(|over| over.item).collect();
        let is: Vec<usize> = items.iter().copied().filter(|&item| ledger.item(*group, item).over).collect();
        rule("what was tightened too far is told so", told == is)?;
        rule("and never together with what was not", is.is_empty() || is.len() == items.len())?;
    }
    for (ix, _) in book.supports.iter().enumerate() {
        let ix = wrenchside::procedure::SupportIx(ix);
        rule("every support in place is open", open.contains(&Open::Support(ix)) == ledger.placed(ix))?;
    }
    for (ix, _) in book.components.iter().enumerate() {
        let ix = wrenchside::procedure::ComponentIx(ix);
        let state = ledger.component(ix);
        let is_open = open.contains(&Open::Component(ix, state));
        rule("every component that is not on is open", is_open == (state != ComponentState::On))?;
    }
    for (ix, _) in book.connections.iter().enumerate() {
        let ix = wrenchside::procedure::ConnectionIx(ix);
        rule(
            "every connection that is not closed is open",
            open.contains(&Open::Connection(ix)) != ledger.connected(ix),
        )?;
    }
    let listed = |step: usize, state: StepState| {
        open.iter().any(|o| match o {
            Open::Skipped(steps) => state == StepState::Skipped && steps.contains(&step),
            Open::NotDone(steps) => state == StepState::Open && steps.contains(&step),
            _ => false,
        })
    };
    for step in 0..book.steps.len() {
        let state = ledger.step(step);
        let over = matches!(state, StepState::Done | StepState::NotNeeded);
        rule("every step that is not done is open", over || listed(step, state))?;
        let needed = branches::needed(after, step);
        rule("no step that is to be done is passed over", state != StepState::NotNeeded || needed == Some(false))?;
        let begun = branches::begun(after, step);
        rule("no step of what is begun is passed over", state != StepState::NotNeeded || !begun)?;
        let waits = matches!(state, StepState::Open | StepState::Skipped) && needed == Some(false) && !begun;
        rule("no step that is not to be done is asked for", !waits)?;
        let claimed = state == StepState::Done && before.ledger().step(step) != StepState::Done;
        let own = claimed && after.facts().len() > before.facts().len();
        rule("nothing is claimed of a step that stands aside", !own || !branches::stands_aside(before, step))?;
        let told = reply.says.iter().any(|say| match say {
            Say::Step { step: told, .. } => *told == step,
            _ => false,
        });
        let unknown = state != StepState::NotNeeded && branches::stands_aside(after, step);
        rule("a step of which nobody knows whether it is to be done is not told as work", !told || !unknown)?;
        let was_left = before.ledger().step(step) == StepState::Skipped && state == StepState::NotNeeded;
        let said = reply.says.iter().any(|say| matches!(say, Say::NotNeeded { steps } if steps.contains(&step)));
        rule("what was left open is not quietly called needless", !was_left || said)?;
    }
    let told: Vec<usize> = reply
        .says
        .iter()
        .flat_map(|say| match say {
            Say::OpenAgain { steps } => steps.clone(),
            _ => Vec::new(),
        })
        .collect();
    for step in 0..book.steps.len() {
        let opened = before.ledger().step(step) == StepState::Done && ledger.step(step) == StepState::Open;
        let by_itself = step == before.position() || step == after.position() || rounds::begins_with(reply, book, step);
        rule("what is opened again is told", !opened || told.contains(&step) || by_itself)?;
        rule("what is told to be open again is open", !told.contains(&step) || ledger.step(step) == StepState::Open)?;
    }
    Ok(())
}
