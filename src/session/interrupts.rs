//! What asks from outside for the end.

use tokio::signal::unix::{Signal, SignalKind, signal};

/// Ctrl-C, a polite kill, a terminal that closes. Listened to from the start to the
/// end of the session, so that none is lost while something else is being done.
pub(super) struct Interrupts([Signal; 3]);

impl Interrupts {
    pub(super) fn listen() -> std::io::Result<Interrupts> {
        let kinds = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()];
        let [a, b, c] = kinds.map(signal);
        Ok(Interrupts([a?, b?, c?]))
    }

    pub(super) async fn next(&mut self) {
        let [a, b, c] = &mut self.0;
        tokio::select! {
            _ = a.recv() => {}
            _ = b.recv() => {}
            _ = c.recv() => {}
        }
    }
}
