//! Whatever the writer does, and whenever the looks fall: each reading that is given is one that the writer wrote as a new one,
//! after the last one that was given. Some may be lost.

use super::*;
use proptest::prelude::*;

/// How the writer brings about what is to stand in its file.
#[derive(Debug, Clone, Copy)]
enum Way {
    /// It empties the file and writes.
    InPlace,
    /// It takes the file away, and makes one anew.
    Anew,
    /// It writes another one, and puts it in its place.
    Renamed,
}

#[derive(Debug, Clone, Copy)]
enum Act {
    /// Adds a new reading.
    Add(usize),
    /// Writes a new reading, and nothing else.
    Only(usize, Way),
    /// Writes all that stands there and a new reading.
    More(usize, Way),
    /// Writes all that stands there once more.
    Again(Way),
    /// Leaves the first or the last line only.
    Cut(bool, Way),
    /// Puts back what was cut down.
    Restore(Way),
    /// Moves the file away, and back again.
    AndBack,
    Touch,
    Empty,
    TakeAway,
}

/// A part of an act, between two of which a look may fall.
#[derive(Debug)]
enum Piece {
    Empty,
    Add(String),
    TakeAway,
    Put(String),
    MoveAway,
    MoveBack,
    /// What comes next ends a new reading.
    New(String),
}

fn way() -> impl Strategy<Value = Way> {
    prop_oneof![Just(Way::InPlace), Just(Way::Anew), Just(Way::Renamed)]
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        3 => (0..3usize).prop_map(Act::Add),
        4 => (0..3usize, way()).prop_map(|(reading, way)| Act::Only(reading, way)),
        2 => (0..3usize, way()).prop_map(|(reading, way)| Act::More(reading, way)),
        6 => way().prop_map(Act::Again),
        1 => (any::<bool>(), way()).prop_map(|(first, way)| Act::Cut(first, way)),
        1 => way().prop_map(Act::Restore),
        1 => Just(Act::AndBack),
        1 => Just(Act::Touch),
        1 => Just(Act::Empty),
        1 => Just(Act::TakeAway),
    ]
}

/// What stands in the file, as the writer knows it.
struct Content {
    /// None if there is no file.
    lines: Option<Vec<String>>,
    /// What stood there before it was cut down.
    cut: Option<Vec<String>>,
}

impl Content {
    fn pieces(&mut self, act: Act) -> Vec<Piece> {
        let reading = |n: usize| ["15 NM", "20 NM", "138.5 NM"][n].to_owned();
        let there = self.lines.is_some();
        let now = self.lines.clone().unwrap_or_default();
        let mut cut = None;
        let (lines, way, new) = match act {
            Act::Add(n) => {
                self.lines = Some([now, vec![reading(n)]].concat());
                self.cut = None;
                let (half, rest) = (reading(n)[..1].to_owned(), format!("{}\n", &reading(n)[1..]));
                return vec![Piece::Add(half), Piece::New(reading(n)), Piece::Add(rest)];
            }
            Act::Only(n, way) => (vec![reading(n)], way, Some(reading(n))),
            Act::More(n, way) => ([now, vec![reading(n)]].concat(), way, Some(reading(n))),
            Act::Again(way) if !now.is_empty() => {
                cut = self.cut.take();
                (now, way, None)
            }
            Act::Cut(first, way) if now.len() > 1 => {
                let kept = if first { now[0].clone() } else { now[now.len() - 1].clone() };
                cut = Some(self.cut.take().unwrap_or(now));
                (vec![kept], way, None)
            }
            Act::Restore(way) if self.cut.is_some() => (self.cut.take().unwrap(), way, None),
            Act::AndBack if there => return vec![Piece::MoveAway, Piece::MoveBack],
            Act::Touch if there => return vec![Piece::Add(String::new())],
            Act::Empty if there => {
                (self.lines, self.cut) = (Some(Vec::new()), None);
                return vec![Piece::Empty];
            }
            Act::TakeAway if there => {
                (self.lines, self.cut) = (None, None);
                return vec![Piece::TakeAway];
            }
            _ => return Vec::new(),
        };
        let mut pieces = written(&lines, way, new);
        pieces.retain(|piece| there || !matches!(piece, Piece::TakeAway));
        (self.lines, self.cut) = (Some(lines), cut);
        pieces
    }
}

fn written(lines: &[String], way: Way, new: Option<String>) -> Vec<Piece> {
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    let new = new.map(Piece::New);
    let in_halves = [Piece::Add(text[..text.len() / 2].to_owned()), Piece::Add(text[text.len() / 2..].to_owned())];
    match way {
        Way::InPlace => [Piece::Empty].into_iter().chain(new).chain(in_halves).collect(),
        Way::Anew => [Piece::TakeAway, Piece::Empty].into_iter().chain(new).chain(in_halves).collect(),
        Way::Renamed => new.into_iter().chain([Piece::Put(text)]).collect(),
    }
}

impl Written {
    /// Looks as a session does: one that lost its file for another reason than that it is away opens it anew.
    fn looks(&mut self) -> Vec<String> {
        match self.seen() {
            Ok(lines) => lines.into_iter().map(|(text, _)| text).collect(),
            Err(error) if error.kind() == ErrorKind::NotFound => Vec::new(),
            Err(_) => {
                self.open();
                Vec::new()
            }
        }
    }

    fn does(&mut self, piece: Piece) {
        let moved = self.path.with_extension("moved");
        match piece {
            Piece::Empty => self.write(""),
            Piece::Add(text) => self.add(&text),
            Piece::TakeAway => self.away(),
            Piece::Put(text) => self.put(&text),
            Piece::MoveAway => fs::rename(&self.path, moved).unwrap(),
            Piece::MoveBack => fs::rename(moved, &self.path).unwrap(),
            Piece::New(_) => {}
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// Within an act the writer does not stop for as long as a file is left alone; what it wrote stands for longer than from
    /// one look to the next.
    #[test]
    fn nothing_old_is_given_and_nothing_twice(
        acts in prop::collection::vec((act(), prop_oneof![Just(60u64), Just(250), Just(1_500)], 5..150u64), 1..25),
        looks in prop::collection::vec(prop_oneof![20 => 15..35u64, 1 => 250..1_500u64], 40),
        opened in 0..600u64,
    ) {
        let mut file = Written::opened_with(Some("15 NM\n"));
        let mut content = Content { lines: Some(vec!["15 NM".to_owned()]), cut: None };
        let mut looks = looks.iter().cycle();
        let (mut time, mut next_look, mut is_open) = (0, opened, false);
        // What was written as new since the last one that was given, and what was given.
        let (mut new, mut given) = (Vec::new(), Vec::new());
        for (act, pause, gap) in acts.into_iter().chain([(Act::Touch, 3_000, 5)]) {
            let pieces = content.pieces(act);
            let last = pieces.len();
            for (n, piece) in pieces.into_iter().enumerate() {
                if let Piece::New(reading) = piece {
                    if is_open {
                        new.push(reading);
                    }
                    continue;
                }
                file.does(piece);
                let until = time + if n + 1 == last { pause } else { gap };
                while next_look <= until {
                    file.pass_unseen(next_look - time);
                    time = next_look;
                    next_look += looks.next().unwrap();
                    if !is_open {
                        file.open();
                        is_open = true;
                        // Of what was cut off before, nobody can know that it stood there once.
                        content.cut = None;
                    }
                    for reading in file.looks() {
                        let at = new.iter().position(|new| *new == reading);
                        prop_assert!(at.is_some(), "{} was not written since: {:?}, given: {:?}", reading, new, given);
                        new.drain(..=at.unwrap());
                        given.push(reading);
                    }
                }
                file.pass_unseen(until - time);
                time = until;
            }
        }
    }
}
