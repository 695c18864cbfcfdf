//! An answer that comes in pieces, one line of JSON for each, while the work goes on.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use maud::Markup;
use serde::Serialize;

use super::bench::Bench;
use super::shell::note;
use crate::clock::{Clock, Moment};
use crate::control::Control;
use crate::escape::escaped;

/// A piece of an answer.
#[derive(Debug, Default, Serialize)]
pub struct Piece {
    /// `continuous`, `better`, `final`, `none`, `wrong`, `around`, `answer` or
    /// `failed`.
    pub kind: &'static str,
    /// The number of the request.
    pub seq: u64,
    /// The fingerprint of the state that it answers; nothing where the state
    /// could not be read.
    pub fingerprint: String,
    /// The fingerprint of the files, likewise.
    pub disk: String,
    /// New content of elements, by their ids.
    pub html: BTreeMap<&'static str, String>,
    /// What a screen reader says.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub said: String,
    /// Parts per thousand by material, where the piece has a formula.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub doses: Option<BTreeMap<String, String>>,
    /// The blend's points by descriptor, likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blend: Option<BTreeMap<String, f64>>,
    /// Milliseconds since the request arrived.
    pub ms: f64,
}

impl Piece {
    /// A piece of a kind.
    pub fn new(kind: &'static str) -> Piece {
        Piece { kind, ..Piece::default() }
    }

    /// With the content of an element.
    pub fn with(mut self, id: &'static str, content: Markup) -> Piece {
        self.html.insert(id, content.into_string());
        self
    }
}

/// Takes a line; false where nobody reads any more.
type Taker = Box<dyn Fn(Vec<u8>) -> bool + Send + Sync>;

/// Where pieces go.
pub struct Sink {
    take: Taker,
    stop: Arc<AtomicBool>,
    seq: u64,
    clock: Clock,
    since: Moment,
    /// Fingerprints of what is answered and of its files.
    of: OnceLock<(String, String)>,
}

impl fmt::Debug for Sink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sink").field("seq", &self.seq).field("of", &self.of).finish_non_exhaustive()
    }
}

impl Sink {
    /// A way for the pieces of an answer that begins now. `take` gets each as a line
    /// of JSON, its end included, and tells whether anybody still reads; `stop` ends the
    /// work; `seq` is the number of the request.
    pub fn new(
        take: impl Fn(Vec<u8>) -> bool + Send + Sync + 'static,
        stop: Arc<AtomicBool>,
        seq: u64,
        clock: Clock,
    ) -> Sink {
        let since = clock.now();
        Sink { take: Box::new(take), stop, seq, clock, since, of: OnceLock::new() }
    }

    /// What all pieces from now on answer.
    pub(super) fn answers(&self, bench: &Bench) {
        // Said once for each answer.
        let _ = self.of.set((bench.fingerprint.clone(), bench.disk.clone()));
    }

    /// Sends a piece. Where nobody reads any more the work is told to stop.
    pub(super) fn send(&self, mut piece: Piece) {
        if self.stop.load(Ordering::Relaxed) {
            return;
        }
        piece.seq = self.seq;
        if let Some((fingerprint, disk)) = self.of.get() {
            (piece.fingerprint, piece.disk) = (fingerprint.clone(), disk.clone());
        }
        piece.ms = self.clock.since(self.since).as_secs_f64() * 1000.0;
        let Ok(mut line) = serde_json::to_vec(&piece) else { return };
        line.push(b'\n');
        if !(self.take)(line) {
            self.stop.store(true, Ordering::Relaxed);
        }
    }

    /// Whether the work is of use to anybody.
    pub fn is_wanted(&self) -> bool {
        !self.stop.load(Ordering::Relaxed)
    }

    /// Nobody reads any more.
    pub fn end(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Says in the place of an element that the program failed.
    pub fn failed(&self, element: &'static str, why: &str) {
        let sorry = "This could not be worked out: a fault of the program, not of your files. The page goes on.";
        let mut piece = Piece::new("failed").with(element, note("wrong", sorry));
        piece.said = format!("{sorry} ({})", escaped(why));
        self.send(piece);
    }

    /// The control of a computation that begins now.
    pub(super) fn control(&self, limit: Duration) -> Control {
        let control = Control { clock: self.clock.clone(), stop: Arc::clone(&self.stop), ..Control::default() };
        control.within(limit)
    }
}

/// What is worked out when the page has been left alone for a moment.
pub type Later = Box<dyn FnOnce(&Sink) + Send>;
