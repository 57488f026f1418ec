//! What may have to be said next, so that the voice can make it in time.

use super::Conversation;
use crate::job::{Ask, At, Command};

impl Conversation {
    /// The beginnings of what may have to be said next, likeliest first, so that they can be made in time. The job is
    /// pure, so what it would answer is found by asking a copy of it.
    pub fn foresee(&self, at: At) -> Vec<String> {
        let expects = self.job.expects();
        let mut commands = Vec::new();
        if expects.yes_no {
            commands.extend([Command::Yes, Command::No]);
        }
        if expects.angle {
            commands.extend([Command::Finished, Command::NotBegun, Command::NotSure]);
        }
        commands.extend([Command::Done, Command::Next]);
        let asks = [Ask::Value, Ask::Size, Ask::Which, Ask::HowManyLeft, Ask::Tool, Ask::LastValue, Ask::Cautions];
        commands.extend(asks.map(Command::Ask));
        commands.extend([Command::WhereAmI, Command::Back]);
        let mut texts: Vec<String> = Vec::new();
        for command in commands {
            let reply = self.job.clone().apply(command, at);
            let sentences = self.language.render(&reply.says, self.job.book(), &self.manner);
            if let Some(first) = sentences.into_iter().next()
                && !texts.contains(&first.spoken)
            {
                texts.push(first.spoken);
            }
        }
        texts
    }
}
