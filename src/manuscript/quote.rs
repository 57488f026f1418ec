//! How a draft quotes texts.

/// A text as TOML writes it, in one line.
pub(super) fn quoted(text: &str) -> String {
    // Its short form holds no line end and no quote that is not escaped.
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}
