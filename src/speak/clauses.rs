//! Where a text may be cut: into clauses, each with the mark that ends it.
//!
//! Knows punctuation only. The voice needs the marks (they make pauses and melody) and gets lost without the cuts.

/// A stretch of text and the mark that ended it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clause<'a> {
    /// Never empty, no white space at either end, and no mark at the end.
    pub text: &'a str,
    /// One of `.,;:!?`; `None` if the text just ended.
    pub mark: Option<char>,
}

impl Clause<'_> {
    /// Whether the mark ends a sentence, not only a part of one.
    pub fn ends_sentence(&self) -> bool {
        !matches!(self.mark, Some(',' | ';' | ':'))
    }

    /// The clause as it is handed to a voice: the text and its mark.
    pub fn to_text(&self) -> String {
        let mut text = self.text.to_owned();
        text.extend(self.mark);
        text
    }
}

fn is_mark(c: char) -> bool {
    matches!(c, '.' | ',' | ';' | ':' | '!' | '?')
}

/// Closes a quotation or an aside, and may stand between a mark and the white space after it.
fn is_closer(c: char) -> bool {
    matches!(c, ')' | ']' | '"' | '\'' | '”' | '’')
}

/// The clauses of `text`, in order. A mark cuts only before white space or at the end, so "1.5" and "10:30" stay
/// whole; of several marks in a row the first counts ("what?!", "wait...").
pub fn clauses(text: &str) -> impl Iterator<Item = Clause<'_>> {
    let mut rest = text;
    std::iter::from_fn(move || {
        loop {
            rest = rest.trim_start();
            if rest.is_empty() {
                return None;
            }
            let (piece, after) = rest.split_at(cut(rest));
            rest = after;
            let body = piece.trim_end_matches(is_closer).trim_end_matches(is_mark);
            let mark = piece[body.len()..].chars().next().filter(|c| is_mark(*c));
            // Without a mark the closers belong to the text; the voice ignores them.
            let body = if mark.is_some() { body } else { piece }.trim();
            if !body.is_empty() {
                return Some(Clause { text: body, mark });
            }
            // Nothing but marks: there is nothing to say.
        }
    })
}

/// Length of the first piece of `text`: through the first mark that cuts, and the closers after it.
fn cut(text: &str) -> usize {
    let mut after_mark = false;
    for (at, c) in text.char_indices() {
        if after_mark && c.is_whitespace() {
            return at;
        }
        after_mark = is_mark(c) || (after_mark && is_closer(c));
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn split(text: &str) -> Vec<String> {
        clauses(text).map(|c| c.to_text()).collect()
    }

    #[test]
    fn cuts_at_marks_before_white_space_or_the_end() {
        assert_eq!(
            split("Step four. Torque to 1.5, then stop: now!"),
            ["Step four.", "Torque to 1.5,", "then stop:", "now!"]
        );
        assert_eq!(split("at 10:30 sharp"), ["at 10:30 sharp"]);
        assert_eq!(split("  One ,  two .  "), ["One,", "two."]);
    }

    #[test]
    fn takes_the_first_of_several_marks() {
        assert_eq!(split("What?! Wait... go"), ["What?", "Wait.", "go"]);
        assert_eq!(split("Say \"done.\" Then go (slowly.)"), ["Say \"done.", "Then go (slowly."]);
    }

    #[test]
    fn says_nothing_where_there_is_nothing_to_say() {
        assert!(split("").is_empty());
        assert!(split(" \n\t").is_empty());
        assert!(split("... ! ?").is_empty());
    }

    proptest! {
        /// Nothing is lost and nothing is added but white space, repeated marks and closers.
        #[test]
        fn keeps_every_letter_in_order(text in "[a-z0-9 .,;:!?\\n()äé”-]{0,60}") {
            let letters = |s: &str| s.chars().filter(|c| c.is_alphanumeric()).collect::<String>();
            let joined: String = split(&text).join(" ");
            prop_assert_eq!(letters(&joined), letters(&text));
        }

        #[test]
        fn every_clause_is_clean(text in any::<String>()) {
            for clause in clauses(&text) {
                prop_assert!(!clause.text.is_empty());
                prop_assert_eq!(clause.text, clause.text.trim());
                prop_assert!(clause.mark.is_none_or(is_mark));
                prop_assert!(clause.mark.is_none() || !clause.text.ends_with(is_mark));
            }
        }

        /// Cutting what was cut changes nothing: a clause is a clause.
        #[test]
        fn is_stable(text in "[a-z0-9 .,;:!?]{0,60}") {
            for piece in split(&text) {
                prop_assert_eq!(split(&piece), vec![piece.clone()]);
            }
        }

        /// Numbers are never cut.
        #[test]
        fn numbers_stay_whole(a in 0u32..1000, b in 0u32..1000, mark in "[.,:]") {
            let number = format!("{a}{mark}{b}");
            prop_assert_eq!(split(&format!("to {number} now.")), vec![format!("to {number} now.")]);
        }
    }
}
