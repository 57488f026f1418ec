//! The second listener's tokens: pieces of words, numbered in the order in which they were learnt.
//!
//! Knows the layout of `tokenizer.bin` and how text is cut into pieces. Leaves it to `spelling` what text there is.

use std::collections::HashMap;
use std::path::Path;

use crate::listen::ListenError;

/// Begins every text.
pub(super) const BEGIN: u32 = 1;
/// Ends every text.
pub(super) const END: u32 = 2;
/// The first numbers are signs and then the 256 bytes, for text that has no pieces.
const FIRST_BYTE: u32 = 3;
const FIRST_PIECE: u32 = FIRST_BYTE + 256;
/// Stands for a space in pieces, and before every first word.
const SPACE: char = '\u{2581}';

/// The pieces.
#[derive(Debug)]
pub(super) struct Tokens {
    numbers: HashMap<Vec<u8>, u32>,
    /// What each stands for, by its number; for signs nothing.
    entries: Vec<Vec<u8>>,
}

impl Tokens {
    /// Reads `tokenizer.bin`: entry after entry, each with its length before it.
    pub(super) fn read(path: &Path) -> Result<Self, ListenError> {
        let bytes =
            crate::files::read(path, crate::files::DATA).map_err(|e| ListenError::model(path, e.to_string()))?;
        Self::parse(&bytes).ok_or_else(|| ListenError::model(path, "this is not a list of tokens, or it is cut short"))
    }

    fn parse(bytes: &[u8]) -> Option<Self> {
        let mut numbers = HashMap::new();
        let mut entries: Vec<Vec<u8>> = Vec::new();
        let mut rest = bytes;
        while let Some((&first, after)) = rest.split_first() {
            let mut length = usize::from(first);
            rest = after;
            if length >= 128 {
                let (&second, after) = rest.split_first()?;
                length = usize::from(second) * 128 + length - 128;
                rest = after;
            }
            let (entry, after) = rest.split_at_checked(length)?;
            rest = after;
            let number = entries.len() as u32;
            entries.push(match number.checked_sub(FIRST_BYTE) {
                None => Vec::new(),
                Some(byte) => u8::try_from(byte).map_or_else(|_| entry.to_vec(), |byte| vec![byte]),
            });
            if number >= FIRST_PIECE {
                numbers.entry(entry.to_vec()).or_insert(number);
            }
        }
        (entries.len() > FIRST_PIECE as usize).then_some(Self { numbers, entries })
    }

    /// How many there are, signs and bytes included.
    pub(super) fn count(&self) -> usize {
        self.entries.len()
    }

    /// The marks that may close a phrase, and the end itself. Not the comma: it would let "Next door's dog" pass for
    /// "Next".
    pub(super) fn closings(&self) -> Vec<u32> {
        let marks = ['.', '?', '!'].map(|mark| self.numbers.get(mark.to_string().as_bytes()).copied());
        std::iter::once(END).chain(marks.into_iter().flatten()).collect()
    }

    /// The text of these pieces.
    pub(super) fn text(&self, pieces: &[u32]) -> String {
        let bytes = pieces.iter().filter_map(|&piece| self.entries.get(piece as usize)).flatten().copied();
        String::from_utf8_lossy(&bytes.collect::<Vec<_>>()).replace(SPACE, " ").trim().to_owned()
    }

    /// Cuts `text` into pieces. No piece crosses a space, so words are cut one by one.
    pub(super) fn cut(&self, text: &str, known: &mut HashMap<String, Vec<u32>>) -> Vec<u32> {
        let mut pieces = Vec::new();
        for word in text.split(' ') {
            if let Some(cut) = known.get(word) {
                pieces.extend_from_slice(cut);
                continue;
            }
            let cut = self.cut_word(&format!("{SPACE}{word}"));
            pieces.extend_from_slice(&cut);
            known.insert(word.to_owned(), cut);
        }
        pieces
    }

    /// Joins neighbours, those first that were learnt first, until no two make a piece.
    fn cut_word(&self, word: &str) -> Vec<u32> {
        let mut parts: Vec<Vec<u8>> = word.chars().map(|letter| letter.to_string().into_bytes()).collect();
        loop {
            let joined = |pair: &[Vec<u8>]| self.numbers.get(&pair.concat()).copied();
            let best = parts.windows(2).enumerate().filter_map(|(at, pair)| Some((joined(pair)?, at))).min();
            let Some((_, at)) = best else { break };
            let second = parts.remove(at + 1);
            parts[at].extend(second);
        }
        parts
            .iter()
            .flat_map(|part| match self.numbers.get(part) {
                Some(&number) => vec![number],
                None => part.iter().map(|&byte| FIRST_BYTE + u32::from(byte)).collect(),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Signs and bytes as in the real list, then these pieces.
    fn tokens(pieces: &[&str]) -> Tokens {
        let mut bytes = Vec::new();
        for sign in ["<unk>", "<s>", "</s>"] {
            bytes.push(sign.len() as u8);
            bytes.extend(sign.bytes());
        }
        for byte in 0..=255u8 {
            bytes.extend([1, byte]);
        }
        for piece in pieces {
            bytes.push(piece.len() as u8);
            bytes.extend(piece.bytes());
        }
        Tokens::parse(&bytes).unwrap()
    }

    #[test]
    fn what_was_learnt_first_is_joined_first() {
        let tokens = tokens(&["st", "ep", "▁st", "step", "▁step", "▁", "s", "t", "e", "p", "."]);
        let mut known = HashMap::new();
        assert_eq!(tokens.cut("step", &mut known), [FIRST_PIECE + 4]);
        assert_eq!(tokens.cut("step st", &mut known), [FIRST_PIECE + 4, FIRST_PIECE + 2]);
        assert_eq!(tokens.cut("pest", &mut known), [5, 9, 8, 0].map(|at| FIRST_PIECE + at));
        // The mark has its piece, not its byte.
        assert_eq!(tokens.cut("step.", &mut known), [FIRST_PIECE + 4, FIRST_PIECE + 10]);
    }

    #[test]
    fn what_has_no_piece_is_told_by_its_bytes() {
        let tokens = tokens(&["▁"]);
        assert_eq!(tokens.cut("é", &mut HashMap::new()), [FIRST_PIECE, FIRST_BYTE + 0xc3, FIRST_BYTE + 0xa9]);
    }

    #[test]
    fn closings_leave_out_the_comma() {
        let tokens = tokens(&[".", ",", "?", "!"]);
        assert_eq!(tokens.closings(), [END, FIRST_PIECE, FIRST_PIECE + 2, FIRST_PIECE + 3]);
    }

    #[test]
    fn long_entries_have_two_bytes_of_length() {
        let mut bytes = Vec::new();
        for _ in 0..FIRST_PIECE {
            bytes.extend([1, b'x']);
        }
        bytes.extend([128 + 2, 1]);
        bytes.extend([b'y'; 130]);
        let tokens = Tokens::parse(&bytes).unwrap();
        assert_eq!(tokens.count(), FIRST_PIECE as usize + 1);
        assert_eq!(tokens.text(&[FIRST_PIECE]).len(), 130);
        assert_eq!(tokens.numbers.get(&vec![b'y'; 130]), Some(&FIRST_PIECE));
    }

    proptest! {
        /// Any bytes are read or refused, without a panic; a list cut short is refused.
        #[test]
        fn any_file_is_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..2_000)) {
            let _ = Tokens::parse(&bytes);
        }

        /// Any text can be cut, and the pieces put together are the text.
        #[test]
        fn no_text_is_lost(text in "\\PC{0,20}") {
            let pieces = ["▁", "a", "b", "ab", "▁a", "e", "er"];
            let tokens = tokens(&pieces);
            let mut back = Vec::new();
            for number in tokens.cut(&text, &mut HashMap::new()) {
                match number.checked_sub(FIRST_PIECE) {
                    Some(piece) => back.extend(pieces[piece as usize].bytes()),
                    None => back.push((number - FIRST_BYTE) as u8),
                }
            }
            prop_assert_eq!(String::from_utf8(back).unwrap(), format!("▁{}", text.replace(' ', "▁")));
            let cut = tokens.cut(&text, &mut HashMap::new());
            let plain = text.replace(SPACE, " ");
            prop_assert_eq!(tokens.text(&cut), plain.trim());
        }
    }
}
