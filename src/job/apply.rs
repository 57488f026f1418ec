//! What a command does: first what is always allowed, then what answers the question that stands, then what works on the
//! step in hand.
//!
//! Knows which command belongs where, and in which order they are tried. What each does stands in the files beside this one.

use super::work::Work;
use super::{Answer, At, Command, Follows, Job, Question, Refusal, Reply, Say, said_twice};

impl Job {
    /// Applies a command given at that moment.
    pub fn apply(&mut self, command: Command, at: At) -> Reply {
        self.changed = false;
        let before = self.last;
        let stood = self.question.clone();
        self.now = self.watch_after(&command, at);
        let (matter, causes) = (self.matter(), self.causes());
        let claims = said_twice::claims_what_is_pending(&command);
        (self.from, self.apart) = (self.sent_by(&command), None);
        if command == Command::Undo {
            self.undo_asked = at;
        }
        let mut says = self.follow_command(command, before, at);
        if self.changed {
            (self.last, self.watch) = (at, self.now);
            self.paused = says.contains(&Say::Paused);
        }
        if !self.not_needed_now.is_empty() {
            says.insert(0, Say::NotNeeded { steps: std::mem::take(&mut self.not_needed_now) });
        }
        if !self.opened_again.is_empty() {
            says.insert(0, Say::OpenAgain { steps: std::mem::take(&mut self.opened_again) });
        }
        if says.is_empty() {
            says = self.where_am_i();
        }
        self.ask_again(stood.as_ref(), &mut says);
        self.warn_of_new(&causes, &mut says);
        self.shorten(&mut says);
        let news = self.changed && (claims || self.matter() != matter);
        let announces = self.announce_by(&says, news);
        Reply { says, recorded: self.changed, announces }
    }

    /// Of a job that is closed, and before the variant is known, next to nothing is followed.
    fn follow_command(&mut self, command: Command, last: At, at: At) -> Vec<Say> {
        if self.closed.is_some() && changes_things(&command) {
            return vec![Say::Refused(Refusal::Closed)];
        }
        if self.waits_for_variant(&command) {
            return self.variant_first();
        }
        let always = self.always(&command, last, at);
        let answered = always.or_else(|| self.answering(&command, at));
        answered.unwrap_or_else(|| self.on_the_step(&command, at))
    }

    /// What is followed whether a question stands or not.
    fn always(&mut self, command: &Command, last: At, at: At) -> Option<Vec<Say>> {
        Some(match command {
            Command::Open => self.open(),
            Command::Resume => self.resume(last, at),
            Command::Ask(ask) => self.asked(*ask),
            Command::WhereAmI => self.where_am_i(),
            Command::Stuck => vec![Say::Answer(Answer::Stuck { step: self.step })],
            Command::TimeUp => self.time_up(),
            Command::Timer(minutes) => self.start_timer(*minutes),
            // What was spoken is on disk already, so a question that stands does not keep it out.
            Command::Note(note) => self.note(note.clone(), at),
            Command::Pause => self.pause(),
            Command::TakeBreak => self.ask_pause(),
            Command::Back => self.back(),
            Command::GoTo(number) => self.go_to(*number),
            _ => return None,
        })
    }

    /// What answers the question that stands, or takes its place. All else has to wait until it is answered.
    fn answering(&mut self, command: &Command, at: At) -> Option<Vec<Say>> {
        Some(match command {
            Command::Place(place) => self.place(*place),
            Command::Rest(rest) => self.rest_of_number(*rest, at),
            _ if self.question.is_none() => return None,
            Command::Yes | Command::No | Command::NotBegun | Command::Finished | Command::NotSure => {
                self.resolve(command, at)
            }
            Command::Skip | Command::Undo | Command::Correct | Command::Damaged(_) | Command::Finish
                if self.gives_way_to(command) =>
            {
                self.instead(command)
            }
            // A new number in place of the one asked about is a correction.
            Command::Reading(_) | Command::Number { .. } if self.takes_readings() => self.reading(command, at),
            // What was wrong before only the user can put right.
            Command::FromTool { .. } if self.takes_readings_of_tools() => self.reading(command, at),
            _ => self.answer_first(),
        })
    }

    /// What is about the step in hand, or about the last fact.
    fn on_the_step(&mut self, command: &Command, at: At) -> Vec<Say> {
        match command {
            Command::Reading(_) | Command::Number { .. } | Command::FromTool { .. } => self.reading(command, at),
            Command::Next => self.next(at),
            Command::Done => self.done(at),
            Command::Skip => self.ask_skip(),
            Command::Mark => self.mark(at),
            Command::NotSure => self.not_sure(at),
            Command::Damaged(damage) => self.damaged(*damage),
            Command::Undo => self.undo(),
            Command::Correct => self.correct(),
            Command::Finish => self.finish(),
            // Answers, to nothing.
            Command::Yes
            | Command::No
            | Command::NotBegun
            | Command::Finished
            | Command::Place(_)
            | Command::Rest(_) => vec![Say::Refused(Refusal::NothingAsked)],
            // Followed already, whatever the step.
            Command::Open
            | Command::Resume
            | Command::Ask(_)
            | Command::WhereAmI
            | Command::Stuck
            | Command::TimeUp
            | Command::Timer(_)
            | Command::Note(_)
            | Command::Pause
            | Command::TakeBreak
            | Command::Back
            | Command::GoTo(_) => Vec::new(),
        }
    }

    /// The tool that sent the number which this command gives, or confirms.
    fn sent_by(&self, command: &Command) -> Option<String> {
        match (command, &self.question) {
            (Command::FromTool { tool, .. }, _) => Some(tool.clone()),
            (Command::Yes, Some(Question::Reading { from, .. })) => from.clone(),
            (Command::Yes, Some(Question::InTime { reading: Some(waiting), .. })) => waiting.from.clone(),
            _ => None,
        }
    }

    /// What the step needs next, put to the user; asks where it must be asked.
    pub(super) fn announce(&mut self) -> Vec<Say> {
        match self.work() {
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            // What it waits for, if anything, is part of it.
            Work::Stage(pending) => vec![Say::Pending(pending)],
            _ => self.due(),
        }
    }

    /// That the question which stands has to be answered before anything else.
    pub(super) fn answer_first(&self) -> Vec<Say> {
        self.question.iter().map(|q| Say::Refused(Refusal::AnswerFirst(Box::new(q.clone())))).collect()
    }

    /// Works out how much of each pending stage has to be said after the one before, and remembers the last.
    fn shorten(&mut self, says: &mut [Say]) {
        for say in says {
            let Say::Pending(pending) = say else { continue };
            pending.follows = match &self.said {
                Some((step, before)) if *step == self.step && before.group == pending.group => {
                    match (before.item == pending.item, before.stage == pending.stage) {
                        (true, true) => Follows::Nothing,
                        (true, false) => Follows::SameItem,
                        (false, true) => Follows::SameStage,
                        (false, false) => Follows::SameGroup,
                    }
                }
                _ => Follows::Nothing,
            };
            self.said = Some((self.step, pending.clone()));
        }
    }
}

/// Commands that a closed job no longer follows.
fn changes_things(command: &Command) -> bool {
    !matches!(command, Command::Ask(_) | Command::WhereAmI | Command::Stuck | Command::Resume)
}
