//! Any bytes as the profile of a voice.
#![no_main]

use libfuzzer_sys::fuzz_target;
use wrenchside::own_voice::{Matcher, Profile};

fuzz_target!(|bytes: &[u8]| {
    match Profile::parse(bytes) {
        Ok(profile) => {
            assert_eq!(Profile::parse(&profile.to_bytes()).as_ref(), Ok(&profile));
            let matcher = Matcher::new(&profile);
            let takes = profile.phrases().flat_map(|(_, takes)| takes).flat_map(|take| &take.copies);
            for frames in takes.take(3) {
                let _ = matcher.compare(frames, matcher.learnt().take(20));
            }
        }
        Err(refused) => _ = refused.to_string(),
    }
});
