//! The ways into a session beside the sound: the keyboard, single keys of it, and a tool that sends its readings.
//!
//! One stream of what comes, whichever way it comes. What follows is the loop's to say.

use super::keyboard::{Keyboard, Typed};
use super::lines::Line;
use super::port::{Port, Said};
use crate::dialogue::Meaning;
use std::io;

/// The ways that are open.
#[derive(Default)]
pub struct Ways {
    keyboard: Option<Keyboard>,
    /// What the keys mean, in their order.
    keys: Vec<Meaning>,
    tool: Option<Port>,
}

/// What came.
#[derive(Debug)]
pub enum Came {
    /// A line was typed.
    Line(Line),
    /// A key that means this was pressed.
    Key(Meaning),
    /// A tool said something.
    Tool(Said),
    /// Nothing can be typed for now.
    Away,
    /// Nothing more will be typed.
    NoMoreLines,
}

impl Ways {
    /// With a keyboard on which keys have these meanings, and a tool.
    pub fn open(keys: Vec<(Vec<u8>, Meaning)>, tool: Option<Port>) -> Ways {
        let (sent, keys): (Vec<_>, Vec<_>) = keys.into_iter().unzip();
        Ways { keyboard: Some(Keyboard::open(sent)), keys, tool }
    }

    /// From now on keys are given as they are pressed.
    pub fn begin(&mut self) -> io::Result<()> {
        self.keyboard.as_mut().map_or(Ok(()), Keyboard::begin)
    }

    /// Is a claim to be held against when what it is about had been put to the user? Typed lines are deliberate.
    pub fn claims_in_time(&self) -> bool {
        self.tool.is_some() || !self.keys.is_empty()
    }

    /// What the user calls the tool.
    pub fn tool(&self) -> &str {
        self.tool.as_ref().map_or("", Port::name)
    }

    /// What comes next. Waiting can be given up at any time, and nothing is lost. A keyboard that fails is not asked again.
    pub async fn next(&mut self) -> io::Result<Came> {
        let typed = async {
            match &mut self.keyboard {
                Some(keyboard) => keyboard.next().await,
                None => std::future::pending().await,
            }
        };
        let said = async {
            match &mut self.tool {
                Some(tool) => tool.next().await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            typed = typed => match typed {
                Ok(Some(Typed::Line(line))) => Ok(Came::Line(line)),
                Ok(Some(Typed::Key(key))) => Ok(Came::Key(self.keys[key].clone())),
                Ok(Some(Typed::Away)) => Ok(Came::Away),
                over => {
                    self.keyboard = None;
                    over.map(|_| Came::NoMoreLines)
                }
            },
            said = said => Ok(Came::Tool(said)),
        }
    }
}
