//! Connections and routes.

use std::net::TcpListener;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpStream;
use tokio::sync::Semaphore;
use tokio::time::{sleep, timeout};

use super::guard::{guard, refusal};
use super::{Closer, ServerError, Shared, ask, download, page, save, solve};
use crate::chart::kit::font::{REGULAR_FOR_PAGES, SEMIBOLD_FOR_PAGES};

/// Connections at a time; the next one waits.
const CONNECTIONS: usize = 256;
/// How long the head of a request may take to arrive.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long a connection may live.
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
    shared.pages.end();
    runtime.shutdown_timeout(LAST_WORK);
    done.map_err(system)
}

async fn accept(listener: TcpListener, shared: &Arc<Shared>) -> std::io::Result<()> {
    listener.set_nonblocking(true)?;
    let listener = tokio::net::TcpListener::from_std(listener)?;
    let router = router(Arc::clone(shared));
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
            connection(stream, router).await;
            drop(place);
        });
    }
}

async fn connection(stream: TcpStream, router: Router) {
    // Small pieces of an answer go out at once.
    let _ = stream.set_nodelay(true);
    let serving = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router));
    // Whatever broke, the other side is gone or was told.
    let _ = timeout(LIFETIME, serving).await;
}

fn router(shared: Arc<Shared>) -> Router {
    let file = |kind: &'static str, bytes: &'static [u8]| {
        get(move || async move { ([(CONTENT_TYPE, HeaderValue::from_static(kind))], bytes) })
    };
    Router::new()
        .route("/", get(front))
        .route("/page.css", file("text/css; charset=utf-8", include_bytes!("page.css")))
        .route("/page.js", file("text/javascript; charset=utf-8", include_bytes!("page.js")))
        .route("/icon.svg", file("image/svg+xml", include_bytes!("icon.svg")))
        .route("/regular.woff2", file("font/woff2", REGULAR_FOR_PAGES))
        .route("/semibold.woff2", file("font/woff2", SEMIBOLD_FOR_PAGES))
        .route("/solve", post(solve::answer))
        .route("/ask", post(ask::answer))
        .route("/save", post(save::answer))
        .route("/download", post(download::answer))
        .fallback(|| async { refusal(StatusCode::NOT_FOUND, "there is nothing of that name") })
        .method_not_allowed_fallback(|| async {
            refusal(StatusCode::METHOD_NOT_ALLOWED, "nothing here takes that method")
        })
        .layer(DefaultBodyLimit::disable())
        .layer(from_fn_with_state(Arc::clone(&shared), guard))
        .with_state(shared)
}

/// The page itself.
async fn front(State(shared): State<Arc<Shared>>) -> Response {
    let made = tokio::task::spawn_blocking(move || page::page(&shared)).await;
    match made {
        Ok(html) => ([(CONTENT_TYPE, "text/html; charset=utf-8")], html).into_response(),
        Err(_) => refusal(StatusCode::INTERNAL_SERVER_ERROR, "the page could not be made"),
    }
}
