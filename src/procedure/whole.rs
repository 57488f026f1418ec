//! The text of a procedure as one, and where each piece of it stands: in the file itself, or in one that it includes.
//!
//! Findings are about bytes of the whole; whoever shows them asks here for the file and the line. Knows no TOML, and opens
//! nothing.

use super::finding::Finding;
use std::ops::Range;
use std::sync::Arc;

/// A text, put together of pieces of files.
#[derive(Debug, Clone)]
pub struct Whole {
    text: Arc<str>,
    files: Vec<SourceFile>,
    /// In the order of the text, which they cover without a gap.
    pieces: Vec<Piece>,
    /// What was found of the other files that it names, when it was opened.
    beside: Vec<Finding>,
}

/// A file that something was taken from, as it is called and as it was read.
#[derive(Debug, Clone)]
struct SourceFile {
    name: String,
    text: Arc<str>,
    /// Where its lines begin, so that a report of thousands of findings does not count them anew for each.
    lines: Vec<usize>,
}

/// A stretch of the whole that stands in one file in the same order.
#[derive(Debug, Clone, Copy)]
struct Piece {
    /// Where it begins in the whole.
    from: usize,
    file: usize,
    /// Where it begins in the file.
    at: usize,
    /// How much of the file it is; what was written in between stands for its last place.
    len: usize,
}

impl Whole {
    /// The text of one file. `name` is what the file is called.
    pub fn one(name: impl Into<String>, text: &str) -> Whole {
        let text: Arc<str> = text.into();
        let piece = Piece { from: 0, file: 0, at: 0, len: text.len() };
        let mut whole = Whole { text: text.clone(), files: Vec::new(), pieces: vec![piece], beside: Vec::new() };
        whole.file(name, text);
        whole
    }

    fn file(&mut self, name: impl Into<String>, text: Arc<str>) -> usize {
        let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        self.files.push(SourceFile { name: name.into(), text, lines });
        self.files.len() - 1
    }

    /// The same, with what was found of the files that it names.
    pub(super) fn with_beside(self, beside: Vec<Finding>) -> Whole {
        Whole { beside, ..self }
    }

    /// What was found of the files that it names.
    pub(super) fn beside(&self) -> &[Finding] {
        &self.beside
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What the file is called that includes the others.
    pub fn name(&self) -> &str {
        self.files.first().map_or("", |file| &file.name)
    }

    /// The text of the file itself, in which what it includes is only named.
    pub fn own_text(&self) -> &str {
        self.files.first().map_or("", |file| &file.text)
    }

    /// Where a range of the whole stands: in the file where it begins, and no further than the piece goes.
    pub fn place(&self, span: &Range<usize>) -> Place<'_> {
        let at = self.pieces.partition_point(|piece| piece.from <= span.start).saturating_sub(1);
        let Some(piece) = self.pieces.get(at) else { return Place { whole: self, file: 0, span: 0..0 } };
        let within = |offset: usize| piece.at + offset.saturating_sub(piece.from).min(piece.len);
        Place { whole: self, file: piece.file, span: within(span.start)..within(span.end.max(span.start)) }
    }
}

/// A place in one of the files.
#[derive(Debug, Clone)]
pub struct Place<'a> {
    whole: &'a Whole,
    pub(super) file: usize,
    /// In bytes of the file.
    pub span: Range<usize>,
}

impl<'a> Place<'a> {
    fn source(&self) -> Option<&'a SourceFile> {
        self.whole.files.get(self.file)
    }

    /// What the file is called.
    pub fn name(&self) -> &'a str {
        self.source().map_or("", |file| &file.name)
    }

    /// All of the file.
    pub(super) fn file_text(&self) -> Arc<str> {
        self.source().map_or_else(|| "".into(), |file| file.text.clone())
    }

    /// The text at this place.
    pub fn text(&self) -> &'a str {
        self.source().and_then(|file| file.text.get(self.span.clone())).unwrap_or_default()
    }

    /// Line and column where it begins, both counted from 1, the column in characters.
    pub fn begins(&self) -> (usize, usize) {
        self.position(self.span.start)
    }

    /// Line and column where it ends.
    pub fn ends(&self) -> (usize, usize) {
        self.position(self.span.end)
    }

    fn position(&self, offset: usize) -> (usize, usize) {
        let Some(SourceFile { text, lines, .. }) = self.source() else { return (1, 1) };
        let mut end = offset.min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let line = lines.partition_point(|start| *start <= end);
        let start = line.checked_sub(1).and_then(|n| lines.get(n)).copied().unwrap_or(0);
        (line, text[start..end].chars().count() + 1)
    }
}

/// Puts a whole together, piece by piece.
pub(super) struct Builder {
    whole: Whole,
    text: String,
}

impl Builder {
    /// Begins with the file that includes the others; nothing of it is taken yet.
    pub fn new(name: &str, text: &str) -> Builder {
        let mut whole = Whole { text: "".into(), files: Vec::new(), pieces: Vec::new(), beside: Vec::new() };
        whole.file(name, text.into());
        Builder { whole, text: String::new() }
    }

    /// Another file that pieces are taken from, by number; the first one is 0.
    pub fn file(&mut self, name: &str, text: &str) -> usize {
        self.whole.file(name, text.into())
    }

    /// Takes a piece of a file. Says where it begins in the whole.
    pub fn take(&mut self, file: usize, span: Range<usize>) -> usize {
        let from = self.text.len();
        let text = self.whole.files.get(file).and_then(|file| file.text.get(span.clone())).unwrap_or_default();
        self.text.push_str(text);
        self.whole.pieces.push(Piece { from, file, at: span.start, len: text.len() });
        from
    }

    /// Writes something in between that stands in no file; what is found there stands for the end of the last piece.
    pub fn write(&mut self, text: &str) {
        self.text.push_str(text);
    }

    /// How much there is by now.
    pub fn len(&self) -> usize {
        self.text.len()
    }

    pub fn ends_a_line(&self) -> bool {
        self.text.is_empty() || self.text.ends_with('\n')
    }

    pub fn done(mut self) -> Whole {
        self.whole.text = self.text.into();
        self.whole
    }
}
