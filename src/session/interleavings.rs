//! Every order in which what happens at the same time can come, in small: a stop and the clause that was begun before it, a
//! claim and the end of what it is about. Each producer's own events keep their order; all else is worked through whole.

use super::announcing::Announcing;
use crate::dialogue::{Sentence, Tone};
use crate::job::{At, Command, Job, Reply};
use crate::procedure;
use crate::speak::queue::queue;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// All orders in which producers with so many events each can take turns: whose event comes, each time.
fn orders(events: &[usize]) -> Vec<Vec<usize>> {
    if events.iter().all(|&left| left == 0) {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for who in (0..events.len()).filter(|&who| events[who] > 0) {
        let mut left = events.to_vec();
        left[who] -= 1;
        all.extend(orders(&left).into_iter().map(|rest| [vec![who], rest].concat()));
    }
    all
}

#[test]
fn orders_are_all_there_are() {
    assert_eq!(orders(&[1, 2]), [[0, 1, 1], [1, 0, 1], [1, 1, 0]]);
    assert_eq!(orders(&[3, 3, 3]).len(), 1_680);
}

/// The voice begins a clause and puts it in by two pieces, somebody stops it up to twice, and the device plays.
#[test]
fn a_clause_that_was_begun_before_a_stop_is_not_heard_after_it() {
    let (mut whole, mut cut) = (0, 0);
    for order in orders(&[3, 2, 3]) {
        let (mut queue, mut feed) = queue(Duration::from_secs(1), 1_000);
        let stop = queue.stop_handle();
        let (mut begun, mut events, mut stopped, mut played, mut late) = (0, [0; 3], false, 0, 0);
        for who in &order {
            match (who, events[*who]) {
                (0, 0) => begun = stop.count(),
                (0, _) => drop(queue.put_since(begun, &[0.8; 20])),
                (1, _) => {
                    stop.stop();
                    stopped = events[0] > 0;
                    late = 0;
                }
                _ => {
                    let mut buffer = [0.0f32; 10];
                    feed.fill(&mut buffer, 1);
                    played += buffer.iter().filter(|&&sample| sample > 0.0).count();
                    late += buffer.iter().filter(|&&sample| stopped && sample > 0.0).count();
                }
            }
            events[*who] += 1;
        }
        // Five milliseconds in which it falls silent.
        assert!(late <= 5, "{order:?}: {late}");
        (whole, cut) = (whole + usize::from(played == 30), cut + usize::from(stopped && played < 6));
        // What is said next is whole.
        let mut buffer = [0.0f32; 100];
        if stopped {
            assert_eq!(queue.put_since(stop.count(), &[0.3; 20]), Some(20));
            feed.fill(&mut buffer, 1);
            assert_eq!(buffer.iter().filter(|&&sample| sample == 0.3).count(), 20, "{order:?}");
        }
    }
    assert!(whole > 0 && cut > 0, "both happen: {whole} {cut}");
}

/// A session in small, with events a second apart.
struct Session {
    job: Job,
    announcing: Announcing,
    begin: Instant,
    now: u64,
    /// The order that the voice is saying, and the number of the last.
    saying: Option<u64>,
    order: u64,
    /// Orders that were played to their end, and not looked at yet.
    played: Vec<(u64, Instant)>,
    /// When what is pending had in truth been heard.
    heard: Option<u64>,
}

impl Session {
    /// At a bolt, which is being named.
    fn new(book: &Arc<procedure::Procedure>) -> Session {
        let mut job = Job::new(book.clone());
        for command in [Command::Open, Command::Done, Command::Yes, Command::Done] {
            job.apply(command, At(0));
        }
        let begin = Instant::now();
        let announcing = Announcing::default();
        let mut session =
            Session { job, announcing, begin, now: 0, saying: None, order: 0, played: Vec::new(), heard: None };
        let reply = session.job.apply(Command::Done, At(0));
        session.show(&reply);
        session
    }

    fn at(&self) -> Instant {
        self.begin + Duration::from_secs(self.now)
    }

    fn moment(of: u64) -> At {
        At(of as i64 * 1_000)
    }

    /// As the host does with each turn: silence first, then the words.
    fn show(&mut self, reply: &Reply) {
        self.announcing.drop();
        self.order += 1;
        self.saying = Some(self.order);
        if reply.announces {
            self.heard = None;
            let text = "Stage one: fifteen newton metres.".to_owned();
            let words = Sentence { spoken: text.clone(), written: text, signal: None, tone: Tone::Plain };
            self.announcing.begin(&[words], Some(self.order), self.at());
        }
    }

    /// Somebody claimed it, with the first sound then; says whether it was recorded.
    fn claimed(&mut self, began: u64) -> bool {
        let legitimate = self.heard.is_some_and(|heard| heard < began);
        let reply = self.job.hear(Command::Done, Session::moment(began), Session::moment(self.now));
        assert!(legitimate || !reply.recorded, "claimed before it was heard");
        self.show(&reply);
        reply.recorded
    }

    /// The voice has said its last sample.
    fn ends(&mut self) {
        if let Some(order) = self.saying.take() {
            self.played.push((order, self.at()));
            self.heard.get_or_insert(self.now);
        }
    }

    /// The loop looks after the voice.
    fn looks(&mut self) {
        let ended = std::mem::take(&mut self.played);
        if let Some(end) = self.announcing.ended(&ended, false, self.at()) {
            self.job.announced(At((end - self.begin).as_millis() as i64));
        }
    }

    /// "Quiet": whoever does not want to hear it has heard enough.
    fn quiet(&mut self) {
        self.job.announced(Session::moment(self.now));
        self.announcing.drop();
        self.saying = None;
        self.heard.get_or_insert(self.now);
    }
}

/// Two claims, of which the first is being said for a while; a voice that comes to its ends, seen later; somebody who asks where
/// the job stands, and somebody who wants silence.
#[test]
fn nothing_is_claimed_before_it_was_heard() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/bench-bracket.toml");
    let book = Arc::new(procedure::load(&path).unwrap());
    let mut recorded = [0; 3];
    for order in orders(&[3, 3, 2]) {
        let mut session = Session::new(&book);
        let (mut events, mut began, mut count) = ([0; 3], 0, 0);
        for &who in &order {
            session.now += 1;
            match (who, events[who]) {
                (0, 0) => began = session.now,
                (0, 1) => count += usize::from(session.claimed(began)),
                (0, _) => count += usize::from(session.claimed(session.now)),
                (1, 0 | 2) => session.ends(),
                (1, _) => session.looks(),
                (_, 0) => {
                    let reply = session.job.apply(Command::WhereAmI, Session::moment(session.now));
                    session.show(&reply);
                }
                _ => session.quiet(),
            }
            events[who] += 1;
        }
        recorded[count] += 1;
    }
    assert!(recorded.iter().all(|&count| count > 0), "none, one and both: {recorded:?}");
}
