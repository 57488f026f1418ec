//! Lines from bytes that come as they like: typed ones, and those of a tool.
//!
//! A line that is no text, or that does not end, is given as such, so that it can be told; what comes behind it is good
//! again. Knows nothing of what a line means.

use crate::job::At;

/// The longest line in bytes. Nobody types a longer one, and no tool sends one.
const LONGEST: usize = 4_096;

/// A line, without its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Line {
    /// Its text.
    Text(String),
    /// It is no text (UTF-8), or too long for a line.
    Unreadable,
}

/// Cuts bytes into lines. A carriage return ends a line as well as a line feed does: some tools send only that.
#[derive(Debug, Default)]
pub struct Framer {
    waiting: Vec<u8>,
    /// When the first byte of the line came.
    began: Option<At>,
    /// The line is too long, and the rest of it is passed over.
    too_long: bool,
}

impl Framer {
    /// Takes bytes that came at this moment, up to the end of the first line that is not empty; gives how many it took, and
    /// the line with the moment of its first byte.
    pub fn push(&mut self, bytes: &[u8], at: At) -> (usize, Option<(Line, At)>) {
        for (taken, &byte) in bytes.iter().enumerate() {
            if byte == b'\n' || byte == b'\r' {
                if let Some(line) = self.finish() {
                    return (taken + 1, Some(line));
                }
                continue;
            }
            self.began.get_or_insert(at);
            if self.waiting.len() < LONGEST {
                self.waiting.push(byte);
            } else {
                self.too_long = true;
            }
        }
        (bytes.len(), None)
    }

    /// The lines that end in bytes that came at this moment. `half`: up to the next end they are the rest of a line that was
    /// begun before, and none.
    pub fn lines_behind(&mut self, bytes: &[u8], half: &mut bool, at: At) -> Vec<(Line, At)> {
        let mut rest = bytes;
        if *half {
            let Some(end) = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')) else { return Vec::new() };
            rest = &rest[end..];
            *half = false;
        }
        let mut lines = Vec::new();
        while !rest.is_empty() {
            let (taken, line) = self.push(rest, at);
            rest = &rest[taken..];
            lines.extend(line);
        }
        lines
    }

    /// The line that was begun, taken as it is.
    pub fn finish(&mut self) -> Option<(Line, At)> {
        let began = self.began.take()?;
        let line = std::mem::take(&mut self.waiting);
        let too_long = std::mem::take(&mut self.too_long);
        let text = String::from_utf8(line).ok().filter(|_| !too_long);
        Some((text.map_or(Line::Unreadable, Line::Text), began))
    }

    /// Forgets what was begun.
    pub fn clear(&mut self) {
        *self = Framer::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lines(framer: &mut Framer, mut bytes: &[u8], at: i64) -> Vec<(Line, At)> {
        let mut lines = Vec::new();
        while !bytes.is_empty() {
            let (taken, line) = framer.push(bytes, At(at));
            bytes = &bytes[taken..];
            lines.extend(line);
        }
        lines
    }

    fn text(text: &str) -> Line {
        Line::Text(text.into())
    }

    #[test]
    fn a_line_is_of_the_moment_of_its_first_byte() {
        let mut framer = Framer::default();
        assert_eq!(lines(&mut framer, b"\r\n 3", 1), []);
        assert_eq!(lines(&mut framer, b"8.5 ", 2), []);
        let two = lines(&mut framer, b"Nm\r\n\r\n12\rx", 3);
        assert_eq!(two, [(text(" 38.5 Nm"), At(1)), (text("12"), At(3))]);
        assert_eq!(framer.finish(), Some((text("x"), At(3))));
        assert_eq!(framer.finish(), None);
    }

    #[test]
    fn what_is_no_line_is_told_and_the_next_one_is_good() {
        let mut framer = Framer::default();
        let long = vec![b'7'; LONGEST * 3];
        assert_eq!(lines(&mut framer, &long, 1), []);
        assert!(framer.waiting.len() <= LONGEST);
        assert_eq!(
            lines(&mut framer, b"7\n\xff\xfe\nok\n", 2).into_iter().map(|(l, _)| l).collect::<Vec<_>>(),
            [Line::Unreadable, Line::Unreadable, text("ok")]
        );
    }

    proptest! {
        /// However the bytes are cut up, they are the same lines.
        #[test]
        fn pieces_do_not_matter(bytes in prop::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), any::<u8>()], 0..60), cut in 0usize..60) {
            let (mut whole, mut cut_up) = (Framer::default(), Framer::default());
            let expected = lines(&mut whole, &bytes, 0);
            let (one, two) = bytes.split_at(cut.min(bytes.len()));
            let found = [lines(&mut cut_up, one, 0), lines(&mut cut_up, two, 0)].concat();
            prop_assert_eq!(expected, found);
            prop_assert_eq!(whole.finish(), cut_up.finish());
        }
    }
}
