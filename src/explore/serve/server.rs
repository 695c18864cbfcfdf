//! Connections and routes.

use std::net::TcpListener;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::from_fn_with_state;
use axum::routing::{get, post};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpStream;
use tokio::sync::Semaphore;
use tokio::time::{sleep, timeout};

use super::guard::{guard, refusal};
use super::{Closer, ServerError, Shared, routes};
use crate::chart::kit::font::{REGULAR_FOR_PAGES, SEMIBOLD_FOR_PAGES};

/// Connections at a time; the next one waits.
const CONNECTIONS: usize = 256;
/// How long the head of a request may take to arrive.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long a connection may take new requests.
const LIFETIME: Duration = Duration::from_secs(15 * 60);
/// How long work may go on after the end.
const LAST_WORK: Duration = Duration::from_millis(500);

/// Answers until it is closed.
pub fn run(listener: TcpListener, shared: &Arc<Shared>, closer: &Closer) -> Result<(), ServerError> {
    let system = |error: std::io::Error| ServerError::System(error.to_string());
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().map_err(system)?;
    let done = runtime.block_on(async {
        tokio::select! {
            done = accept(listener, shared) => done,
            () = closer.0.notified() => Ok(()),
        }
    });
    shared.desk.pages.end();
    runtime.shutdown_timeout(LAST_WORK);
    done.map_err(system)
}

async fn accept(listener: TcpListener, shared: &Arc<Shared>) -> std::io::Result<()> {
    listener.set_nonblocking(true)?;
    let listener = tokio::net::TcpListener::from_std(listener)?;
    let router = router(Arc::clone(shared));
    // The relaxation, the search, and what is looked for beside it.
    let grace = shared.desk.options.time_limit.saturating_mul(4).saturating_add(LIFETIME);
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    loop {
        let Ok(place) = Arc::clone(&places).acquire_owned().await else { return Ok(()) };
        // A connection that failed before it was there, or too many open
        // files: the next one may do better.
        let Ok((stream, _)) = listener.accept().await else {
            sleep(Duration::from_millis(20)).await;
            continue;
        };
        let router = router.clone();
        tokio::spawn(async move {
            connection(stream, router, LIFETIME, grace).await;
            drop(place);
        });
    }
}

/// Serves a connection. After `lifetime` it takes no further request; an answer
/// that is under way has `grace` to come to its end.
async fn connection(stream: TcpStream, router: Router, lifetime: Duration, grace: Duration) {
    // Small pieces of an answer go out at once.
    let _ = stream.set_nodelay(true);
    let serving = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router));
    let mut serving = std::pin::pin!(serving);
    // Whatever broke, the other side is gone or was told.
    if timeout(lifetime, serving.as_mut()).await.is_err() {
        serving.as_mut().graceful_shutdown();
        let _ = timeout(grace, serving).await;
    }
}

fn router(shared: Arc<Shared>) -> Router {
    let file = |kind: &'static str, bytes: &'static [u8]| {
        get(move || async move { ([(CONTENT_TYPE, HeaderValue::from_static(kind))], bytes) })
    };
    Router::new()
        .route("/", get(routes::front))
        .route("/page.css", file("text/css; charset=utf-8", include_bytes!("../page.css")))
        .route("/page.js", file("text/javascript; charset=utf-8", include_bytes!("../page.js")))
        .route("/icon.svg", file("image/svg+xml", include_bytes!("../icon.svg")))
        // What a browser asks for by itself, on a page that names none.
        .route("/favicon.ico", file("image/svg+xml", include_bytes!("../icon.svg")))
        .route("/regular.woff2", file("font/woff2", REGULAR_FOR_PAGES))
        .route("/semibold.woff2", file("font/woff2", SEMIBOLD_FOR_PAGES))
        .route("/solve", post(routes::solve))
        .route("/ask", post(routes::ask))
        .route("/save", post(routes::save))
        .route("/files", post(routes::files))
        .route("/download", post(routes::download))
        .fallback(|| async { refusal(StatusCode::NOT_FOUND, "there is nothing of that name") })
        .method_not_allowed_fallback(|| async {
            refusal(StatusCode::METHOD_NOT_ALLOWED, "nothing here takes that method")
        })
        .layer(DefaultBodyLimit::disable())
        .layer(from_fn_with_state(Arc::clone(&shared), guard))
        .with_state(shared)
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    #[test]
    fn an_old_connection_is_not_cut_in_the_middle_of_an_answer() {
        let slow = get(|| async {
            sleep(Duration::from_millis(600)).await;
            "whole"
        });
        let router = Router::new().route("/", slow);
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
        let answer = runtime.block_on(async {
            let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
            let mut client = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
            let (stream, _) = listener.accept().await.unwrap();
            let lifetime = Duration::from_millis(100);
            tokio::spawn(connection(stream, router, lifetime, Duration::from_secs(30)));
            client.write_all(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n").await.unwrap();
            let mut answer = String::new();
            client.read_to_string(&mut answer).await.unwrap();
            answer
        });
        assert!(answer.ends_with("whole"), "{answer}");
    }
}
