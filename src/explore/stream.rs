//! An answer that comes in pieces: one line of JSON for each, while the work
//! goes on in a thread of its own.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::rejection::JsonRejection;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use maud::Markup;
use serde::Serialize;
use tokio::sync::mpsc;
use tokio::time::sleep;
use tokio_stream::StreamExt;
use tokio_stream::wrappers::ReceiverStream;

use super::Shared;
use super::bench::Bench;
use super::guard::refusal;
use super::shell::note;
use crate::clock::{Clock, Moment};
use crate::control::Control;
use crate::solve::quiet;

/// Pieces that may wait for a slow reader; beyond them the answer ends.
const WAITING: usize = 512;
/// How long a page is left alone before what is not asked for at once is worked
/// out: while a slider moves, the processor is the next formula's.
const REST: Duration = Duration::from_millis(200);
/// The longest sentence about a request that was not understood.
const LONGEST: usize = 300;

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

/// Where pieces go.
pub struct Sink {
    sender: mpsc::Sender<Bytes>,
    stop: Arc<AtomicBool>,
    seq: u64,
    clock: Clock,
    since: Moment,
    /// Fingerprints of what is answered and of its files.
    of: OnceLock<(String, String)>,
}

impl Sink {
    /// A way for the pieces of an answer that begins now.
    fn new(sender: mpsc::Sender<Bytes>, stop: Arc<AtomicBool>, seq: u64) -> Sink {
        let clock = Clock::default();
        let since = clock.now();
        Sink { sender, stop, seq, clock, since, of: OnceLock::new() }
    }

    /// What all pieces from now on answer.
    pub fn answers(&self, bench: &Bench) {
        // Said once for each answer.
        let _ = self.of.set((bench.fingerprint.clone(), bench.disk.clone()));
    }

    /// Sends a piece. Where nobody reads any more the work is told to stop.
    pub fn send(&self, mut piece: Piece) {
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
        if self.sender.try_send(line.into()).is_err() {
            self.stop.store(true, Ordering::Relaxed);
        }
    }

    /// Whether the work is of use to anybody.
    pub fn is_wanted(&self) -> bool {
        !self.stop.load(Ordering::Relaxed)
    }

    /// The control of a computation that begins now.
    pub fn control(&self, limit: Duration) -> Control {
        let control = Control { clock: self.clock.clone(), stop: Arc::clone(&self.stop), ..Control::default() };
        control.within(limit)
    }
}

/// Ends the work when the answer is dropped: the reader is gone.
struct Ends(Arc<AtomicBool>);

impl Drop for Ends {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// What is worked out when the page has been left alone for a moment.
pub type Later = Box<dyn FnOnce(&Sink) + Send>;

/// Whose turn it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lane {
    /// A move of the user, who looks at what follows.
    Move,
    /// Anything else.
    Side,
}

/// An answer in pieces. The work begins when there is a place for it; what it
/// does after its reader left, or after newer work of its page began, is lost.
pub fn answer(
    shared: Arc<Shared>,
    stop: Arc<AtomicBool>,
    lane: Lane,
    seq: u64,
    element: &'static str,
    work: impl FnOnce(&Shared, &Sink) -> Option<Later> + Send + 'static,
) -> Response {
    let Ok(ticket) = Arc::clone(&shared.queue).try_acquire_owned() else {
        return refusal(StatusCode::SERVICE_UNAVAILABLE, "too much is asked at once; try again in a moment");
    };
    let (sender, receiver) = mpsc::channel(WAITING);
    let sink = Arc::new(Sink::new(sender, Arc::clone(&stop), seq));
    tokio::spawn(async move {
        let own = Arc::clone(&shared);
        let later = in_its_place(&shared, lane, &sink, element, move |sink| work(&own, sink)).await;
        drop(ticket);
        if let Some(Some(later)) = later {
            sleep(REST).await;
            in_its_place(&shared, Lane::Side, &sink, element, later).await;
        }
    });
    let ends = Ends(stop);
    let pieces = ReceiverStream::new(receiver).map(move |piece: Bytes| {
        let _alive = &ends;
        Ok::<_, Infallible>(piece)
    });
    ([(CONTENT_TYPE, "application/x-ndjson")], Body::from_stream(pieces)).into_response()
}

/// Ends when nobody wants the work any more.
async fn unwanted(sink: &Sink) {
    const LOOK: Duration = Duration::from_millis(50);
    while sink.is_wanted() {
        sleep(LOOK).await;
    }
}

/// Does work in a thread of its own once there is a place for it; `None` where
/// nobody wants it any more.
async fn in_its_place<T: Send + 'static>(
    shared: &Shared,
    lane: Lane,
    sink: &Arc<Sink>,
    element: &'static str,
    work: impl FnOnce(&Sink) -> T + Send + 'static,
) -> Option<T> {
    let places = match lane {
        Lane::Move => &shared.moves,
        Lane::Side => &shared.work,
    };
    // What nobody wants any more does not wait for a place to say so.
    let _place = tokio::select! {
        place = places.acquire() => place.ok()?,
        () = unwanted(sink) => return None,
    };
    if !sink.is_wanted() {
        return None;
    }
    let sink = Arc::clone(sink);
    let ended = tokio::task::spawn_blocking(move || match quiet::catch(|| work(&sink)) {
        Ok(done) => Some(done),
        Err(why) => {
            let sorry = "This could not be worked out: a fault of the program, not of your files. The page goes on.";
            let mut piece = Piece::new("failed").with(element, note("wrong", sorry));
            piece.said = format!("{sorry} ({})", crate::escape::escaped(&why));
            sink.send(piece);
            None
        }
    });
    // A panic was caught inside; nothing else can fail there.
    ended.await.ok().flatten()
}

/// What is wrong with a request that was not understood, in one short sentence.
pub fn not_understood(rejection: &JsonRejection) -> Response {
    let told: String = crate::escape::escaped(&rejection.body_text()).chars().take(LONGEST).collect();
    refusal(rejection.status(), &told)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_ends_one_answer_and_frees_its_place() {
        let shared = Shared::for_tests();
        let (sender, mut receiver) = mpsc::channel(4);
        let sink = Arc::new(Sink::new(sender, Arc::default(), 7));
        let empty: Vec<u8> = Vec::new();
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let index = empty.len();
            assert_eq!(in_its_place(&shared, Lane::Side, &sink, "headline", move |_| empty[index]).await, None);
            assert_eq!(in_its_place(&shared, Lane::Side, &sink, "headline", |_| 5).await, Some(5));
        });
        let piece: serde_json::Value = serde_json::from_slice(&receiver.try_recv().unwrap()).unwrap();
        assert_eq!((piece["kind"].clone(), piece["seq"].clone()), ("failed".into(), 7.into()));
        assert!(piece["html"]["headline"].as_str().unwrap().contains("a fault of the program"));
        sink.stop.store(true, Ordering::Relaxed);
        assert_eq!(
            runtime.block_on(in_its_place(&shared, Lane::Side, &sink, "headline", |_| 5)),
            None,
            "nobody wants it"
        );
    }
}
