//! An answer that comes in pieces over a connection, while the work goes on in a
//! thread of its own.

use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::rejection::JsonRejection;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use tokio::sync::mpsc;
use tokio::time::sleep;
use tokio_stream::StreamExt;
use tokio_stream::wrappers::ReceiverStream;

use super::Shared;
use super::guard::refusal;
use crate::clock::Clock;
use crate::explore::{Desk, Later, Sink};
use crate::solve::quiet;

/// Pieces that may wait for a slow reader; beyond them the answer ends.
const WAITING: usize = 512;
/// How long a page is left alone before what is not asked for at once is worked
/// out: while a slider moves, the processor is the next formula's.
const REST: Duration = Duration::from_millis(200);
/// The longest sentence about a request that was not understood.
const LONGEST: usize = 300;

/// Ends the work when the answer is dropped: the reader is gone.
struct Ends(Arc<AtomicBool>);

impl Drop for Ends {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

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
    work: impl FnOnce(&Desk, &Sink) -> Option<Later> + Send + 'static,
) -> Response {
    let Ok(ticket) = Arc::clone(&shared.queue).try_acquire_owned() else {
        return refusal(StatusCode::SERVICE_UNAVAILABLE, "too much is asked at once; try again in a moment");
    };
    let (sender, receiver) = mpsc::channel(WAITING);
    let sink = Arc::new(to_reader(sender, Arc::clone(&stop), seq));
    tokio::spawn(async move {
        let own = Arc::clone(&shared);
        let later = in_its_place(&shared, lane, &sink, element, move |sink| work(&own.desk, sink)).await;
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

/// Pieces that go to a reader as they come; one that is too slow ends the answer.
fn to_reader(sender: mpsc::Sender<Bytes>, stop: Arc<AtomicBool>, seq: u64) -> Sink {
    Sink::new(move |line| sender.try_send(line.into()).is_ok(), stop, seq, Clock::default())
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
            sink.failed(element, &why);
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
        let sink = Arc::new(to_reader(sender, Arc::default(), 7));
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
        sink.end();
        assert_eq!(
            runtime.block_on(in_its_place(&shared, Lane::Side, &sink, "headline", |_| 5)),
            None,
            "nobody wants it"
        );
    }
}
