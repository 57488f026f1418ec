//! Waits and timers run on time that only grows: what passed while the program watched.

use super::*;
use Command::{Done, No, Yes};
use proptest::prelude::*;

/// Ten minutes of wait, of which four passed before the program went away.
fn four_of_ten() -> Bay {
    let steps = vec![Step { wait_minutes: Some(10), ..step(vec![Act::Apply("sealant".into())]) }, step(Vec::new())];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.say(Done);
    bay.now += 4 * MINUTE - 1_000;
    bay.say(Command::Mark);
    bay
}

fn wait_asked(says: &[Say], minutes: u32) -> bool {
    says.contains(&Say::Question(Question::Wait { minutes_left: minutes, unwatched: true }))
}

#[test]
fn what_passed_while_the_program_was_away_is_asked_about() {
    for (away, set) in [
        (3 * MINUTE, false),
        (60 * 24 * MINUTE, false),
        (-13_137 * MINUTE, true),
        (1_790_000_000_000, true),
        (i64::MAX / 2, true),
        (i64::MIN / 2, true),
    ] {
        let mut bay = four_of_ten();
        bay.now = bay.now.saturating_add(away).saturating_sub(1_000);
        let says = bay.say(Command::Resume);
        assert!(wait_asked(&says, 6), "{away}: {says:?}");
        assert_eq!(says.contains(&Say::ClockSet), set, "{away}");
        let told = says.iter().find_map(|say| if let Say::Resumed { last } = say { Some(*last) } else { None });
        assert_eq!(told == Some(At(bay.now)), set, "how long ago it was is not known once the clock was set");
        let mut other = Bay { job: bay.job.clone(), now: bay.now };
        other.say(Yes);
        assert_eq!(other.job.position(), 1, "the user knows");
        bay.say(No);
        assert_eq!(bay.job.position(), 0);
        if away != i64::MAX / 2 {
            bay.now += 6 * MINUTE;
            bay.say(Done);
            assert_eq!(bay.job.position(), 1, "{away}: it goes on from where it was");
        }
    }
}

#[test]
fn a_timer_goes_on_from_where_it_was_and_says_so() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new())]);
    bay.say(Command::Timer(10));
    bay.now += 7 * MINUTE;
    bay.say(Command::Mark);
    bay.now += 600 * MINUTE;
    let says = bay.say(Command::Resume);
    assert!(says.contains(&Say::TimerLeft { minutes: 3 }), "{says:?}");
    assert!(bay.job.until_due(At(bay.now)).is_some_and(|left| left > 2 * MINUTE));
    bay.now += 3 * MINUTE;
    assert_eq!(bay.say(Command::TimeUp), [Say::TimeUp]);
}

#[test]
fn by_the_rules_of_version_0_1_the_clock_alone_counts() {
    let mut bay = four_of_ten();
    bay.job.follow(Edition::First);
    bay.now += 30 * MINUTE;
    let says = bay.say(Command::Resume);
    assert!(
        !says.iter().any(|say| matches!(say, Say::Question(_) | Say::ClockSet | Say::TimerLeft { .. })),
        "{says:?}"
    );
    bay.say(Done);
    assert_eq!(bay.job.position(), 1);
}

#[derive(Debug, Clone)]
enum Turn {
    /// So long in the session.
    Pass(i64),
    /// The program goes away; when it is back the clock shows this.
    Away(i64),
    Say(Command),
}

fn turns() -> impl Strategy<Value = Vec<Turn>> {
    let away = prop_oneof![any::<i64>(), -100_000_000..100_000_000i64];
    let said = prop::sample::select(vec![Done, No, Command::Next, Command::TimeUp, Command::Mark, Command::Timer(3)]);
    let turn = prop_oneof![(0..200_000i64).prop_map(Turn::Pass), away.prop_map(Turn::Away), said.prop_map(Turn::Say)];
    prop::collection::vec(turn, 1..60)
}

proptest! {
    /// However the clock jumps while the program is away, no wait is over before its time was watched; nobody says yes.
    #[test]
    fn no_wait_is_over_before_its_time_was_watched(turns in turns()) {
        let steps = vec![Step { wait_minutes: Some(10), ..step(Vec::new()) }, step(Vec::new())];
        let mut job = Job::new(Arc::new(book(Vec::new(), steps)));
        let (mut now, mut watched) = (0, 0);
        job.apply(Command::Open, At(now));
        job.apply(Done, At(now));
        for turn in turns {
            let before = job.digest();
            let said = match turn {
                Turn::Pass(time) => {
                    (now, watched) = (now.saturating_add(time), watched + time);
                    continue;
                }
                Turn::Away(then) => {
                    now = then;
                    Command::Resume
                }
                Turn::Say(said) => said,
            };
            let reply = job.apply(said, At(now));
            prop_assert!(reply.recorded || job.digest() == before);
            if job.position() > 0 {
                prop_assert!(watched >= 10 * MINUTE, "{watched}");
                break;
            }
            let left = job.until_due(At(now));
            prop_assert!(left.is_none_or(|left| left <= 10 * MINUTE), "{left:?}");
        }
    }
}
