//! Which version of the program wrote a line, and whose rules it goes by therefore.

use crate::job::Edition;

/// This program's version, as it is written with each line.
pub(super) const OWN: &str = env!("CARGO_PKG_VERSION");

/// The version that wrote journals of format 1, whose lines name none.
pub(super) const FIRST: &str = "0.1";

/// The rules of a version: the one place where versions become editions. `None` for one newer than this program, or for
/// what is no version.
pub(super) fn edition(version: &str) -> Option<Edition> {
    match parts(version)? {
        found if found > parts(OWN)? => None,
        found if found < (0, 2, 0) => Some(Edition::First),
        found if found < (0, 3, 0) => Some(Edition::Second),
        found if found < (0, 4, 0) => Some(Edition::Third),
        _ => Some(Edition::Fourth),
    }
}

fn parts(version: &str) -> Option<(u32, u32, u32)> {
    let mut parts = version.splitn(3, '.').map(|part| part.parse().ok());
    Some((parts.next()??, parts.next()??, parts.next().unwrap_or(Some(0))?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_version_up_to_this_one_has_its_rules_and_no_other_has() {
        for (version, rules) in [
            (FIRST, Some(Edition::First)),
            ("0.1.7", Some(Edition::First)),
            ("0.2.0", Some(Edition::Second)),
            ("0.2.9", Some(Edition::Second)),
            ("0.3.0", Some(Edition::Third)),
            ("0.3.9", Some(Edition::Third)),
            ("0.4.0", Some(Edition::Fourth)),
            (OWN, Some(Edition::NOW)),
            ("99.0.0", None),
            ("0.3", Some(Edition::Third)),
            ("", None),
            ("0.x.1", None),
            ("new", None),
        ] {
            assert_eq!(edition(version), rules, "{version}");
        }
    }
}
