//! A typed line made plain, so that it can be compared with phrases.

use super::units;

/// Is the line put as a question?
pub(super) fn is_question(line: &str) -> bool {
    line.contains(['?', '？', '¿', '؟'])
}

/// Lower case, no punctuation, digits apart from letters, the parts of a unit together ("27.5N·m" is "27.5 nm"), milli and mega
/// written out where only a capital tells them apart. Signs that could change an amount ("<38", "38%", "38'") stay, as words that nothing knows, so that no amount is read without them.
pub(super) fn normalise(line: &str) -> String {
    let chars: Vec<char> = line.chars().collect();
    let mut out = String::with_capacity(line.len() + 8);
    // A mark of inches has no other before or after it, as marks of quotation do.
    let inches = chars.iter().filter(|c| matches!(c, '"' | '″')).count() == 1;
    // The last mark that was no space.
    let mut last = None;
    for (at, &c) in chars.iter().enumerate() {
        let before = at.checked_sub(1).map(|i| chars[i]);
        let after = chars.get(at + 1).copied();
        let both = |is: fn(char) -> bool| before.is_some_and(is) && after.is_some_and(is);
        let digit = |c: char| c.is_ascii_digit();
        let after_digit = before.is_some_and(|c| c.is_numeric());
        if c.is_alphanumeric() {
            let apart = before.is_some_and(|b| digit(b) != digit(c) && b.is_alphanumeric());
            if apart {
                out.push(' ');
            }
            let begins = !before.is_some_and(char::is_alphabetic) && last.is_some_and(char::is_numeric);
            match units::prefix(&chars[at..]).filter(|_| begins) {
                Some(prefix) => out.push_str(prefix),
                None => out.extend(c.to_lowercase()),
            }
        } else if c == '°' {
            out.push_str(" ° ");
        } else if c == '.' && after.is_some_and(digit) && !before.is_some_and(|b| b.is_alphabetic()) {
            // "27.5" stays one figure, and so does ".5".
            out.push('.');
        } else if c == '/' && both(|c| c.is_alphanumeric()) {
            // "3/16" and "lbf/in²" stay together.
            out.push('/');
        } else if matches!(c, '·' | '-') && both(|c| c.is_ascii_digit()) {
            // "4-12" is no figure and must not become one.
            out.push(' ');
        } else if matches!(c, '.' | '·' | '-' | '\'' | '’') && both(char::is_alphabetic) {
            // Joins the letters of "N.m", "ft-lb", "I'm".
        } else if matches!(c, '-' | '−') && after.is_some_and(|c| c.is_ascii_digit() || c == '.') {
            // A minus is kept, so that no one's "-5" is taken for 5.
            out.push_str(" -");
        } else if matches!(c, '"' | '″') && after_digit && inches {
            out.push_str(" \" ");
        } else if matches!(c, '%' | '^')
            || after_digit && matches!(c, '\'' | '’' | '/' | '*')
            || after.is_some_and(|c| c.is_ascii_digit())
                && matches!(c, '<' | '>' | '≤' | '≥' | '±' | '~' | '≈' | '/' | '*')
        {
            out.extend([' ', c, ' ']);
        } else {
            out.push(' ');
        }
        last = Some(c).filter(|c| !c.is_whitespace()).or(last);
    }
    out
}
