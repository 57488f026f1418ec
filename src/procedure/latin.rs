//! Names in the plain letters that ids and files have.

/// A text in small Latin letters without marks, as far as its letters have such: "Kühlmittelpumpe" is "kuehlmittelpumpe", "révision" is
/// "revision". Other letters stay as they are.
pub fn latin(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.chars().flat_map(char::to_lowercase) {
        plain.push_str(match c {
            'à' | 'á' | 'â' | 'ã' | 'ā' | 'ă' | 'ą' => "a",
            'ä' | 'æ' => "ae",
            'å' => "aa",
            'ç' | 'ć' | 'ĉ' | 'ċ' | 'č' => "c",
            'ď' | 'đ' | 'ð' => "d",
            'è' | 'é' | 'ê' | 'ë' | 'ē' | 'ĕ' | 'ė' | 'ę' | 'ě' => "e",
            'ĝ' | 'ğ' | 'ġ' | 'ģ' => "g",
            'ĥ' | 'ħ' => "h",
            'ì' | 'í' | 'î' | 'ï' | 'ĩ' | 'ī' | 'ĭ' | 'į' | 'ı' => "i",
            'ĵ' => "j",
            'ķ' => "k",
            'ĺ' | 'ļ' | 'ľ' | 'ł' => "l",
            'ñ' | 'ń' | 'ņ' | 'ň' => "n",
            'ò' | 'ó' | 'ô' | 'õ' | 'ō' | 'ŏ' | 'ő' => "o",
            'ö' | 'ø' | 'œ' => "oe",
            'ŕ' | 'ŗ' | 'ř' => "r",
            'ś' | 'ŝ' | 'ş' | 'š' | 'ș' => "s",
            'ß' => "ss",
            'ţ' | 'ť' | 'ŧ' | 'ț' => "t",
            'þ' => "th",
            'ù' | 'ú' | 'û' | 'ũ' | 'ū' | 'ŭ' | 'ů' | 'ű' | 'ų' => "u",
            'ü' => "ue",
            'ŵ' => "w",
            'ý' | 'ÿ' | 'ŷ' => "y",
            'ź' | 'ż' | 'ž' => "z",
            // A mark by itself, as it stands behind its letter in a text of separate marks.
            '\u{300}'..='\u{36f}' => "",
            other => {
                plain.push(other);
                continue;
            }
        });
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_keep_what_they_sound_like() {
        for (text, plain) in [
            ("Kühlmittelpumpe", "kuehlmittelpumpe"),
            ("RÉVISION À 40", "revision a 40"),
            ("Größe", "groesse"),
            ("Łódź", "lodz"),
            ("e\u{301}tat", "etat"),
            ("насос", "насос"),
            ("İ", "i"),
        ] {
            assert_eq!(latin(text), plain);
        }
    }
}
