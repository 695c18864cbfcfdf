//! What a request must have before anything is done for it.

use std::sync::Arc;
use std::time::Duration;

use axum::Json;
use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, HOST, HeaderName, HeaderValue, ORIGIN, REFERRER_POLICY,
    X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use tokio::time::timeout;

use super::Shared;
use super::door::{closed, parameter};

/// Header of the token.
pub const TOKEN: &str = "x-permil-token";
/// The largest body that is read, in bytes.
const LARGEST_BODY: usize = 256 * 1024;
/// The longest address that is looked at, in bytes.
const LONGEST_ADDRESS: usize = 2048;
/// How long a body may take to arrive.
const PATIENCE: Duration = Duration::from_secs(5);
/// The page may use nothing but what this server gives it.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; \
                      connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// A short error.
#[derive(Debug, Serialize)]
struct Told<'a> {
    error: &'a str,
}

/// An answer that says what is wrong in one short sentence.
pub fn refusal(status: StatusCode, error: &str) -> Response {
    (status, Json(Told { error })).into_response()
}

/// Lets through what comes from the page itself, and sets the headers of every
/// answer.
pub async fn guard(State(shared): State<Arc<Shared>>, request: Request, next: Next) -> Response {
    let mut response = match refused(&shared, &request) {
        _ if is_stranger_at_the_front(&shared, &request) => shared.door.answer(request.uri()).unwrap_or_else(|| {
            closed("Nobody has opened it in this browser yet, or the program was started again since.")
        }),
        Some((status, why)) => refusal(status, why),
        None => match with_whole_body(request).await {
            Ok(request) => next.run(request).await,
            Err((status, why)) => refusal(status, why),
        },
    };
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers.insert(name, HeaderValue::from_static(value));
    };
    set(CONTENT_SECURITY_POLICY, POLICY);
    set(X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(X_FRAME_OPTIONS, "DENY");
    set(REFERRER_POLICY, "no-referrer");
    set(CACHE_CONTROL, "no-store");
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    response
}

/// Whether somebody comes to the page itself, at its own name, and either
/// brings a key or has no cookie yet.
fn is_stranger_at_the_front(shared: &Shared, request: &Request) -> bool {
    let headers = request.headers();
    *request.method() == Method::GET
        && request.uri().path() == "/"
        && request.uri().to_string().len() <= LONGEST_ADDRESS
        && is_own_host(headers, shared.port)
        && !is_cross_site(headers)
        && (parameter(request.uri(), "key").is_some() || !shared.door.is_open_to(headers))
}

fn refused(shared: &Shared, request: &Request) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    if request.uri().to_string().len() > LONGEST_ADDRESS {
        return Some((StatusCode::URI_TOO_LONG, "the address is too long"));
    }
    // A name that was made to lead here would make this page one of its own.
    if !is_own_host(headers, shared.port) {
        return Some((StatusCode::FORBIDDEN, "this page answers to 127.0.0.1 and localhost alone"));
    }
    if headers.get(ORIGIN).is_some_and(|origin| !is_own_origin(origin, shared.port)) || is_cross_site(headers) {
        return Some((StatusCode::FORBIDDEN, "this page answers no other page"));
    }
    let claimed = headers.get(CONTENT_LENGTH).and_then(|length| length.to_str().ok()?.parse::<u64>().ok());
    if claimed.is_some_and(|length| length > LARGEST_BODY as u64) {
        return Some((StatusCode::PAYLOAD_TOO_LARGE, "the request is too large"));
    }
    if !shared.door.is_open_to(headers) {
        return Some((StatusCode::FORBIDDEN, "closed: open the whole address that permil explore printed"));
    }
    match *request.method() {
        Method::GET | Method::HEAD => None,
        Method::POST if headers.get(TOKEN).is_some_and(|given| shared.door.is_token(given)) => None,
        Method::POST => Some((StatusCode::FORBIDDEN, "the page's token is missing or old: load the page again")),
        _ => Some((StatusCode::METHOD_NOT_ALLOWED, "nothing here takes that method")),
    }
}

fn own_names(port: u16) -> [String; 2] {
    [format!("127.0.0.1:{port}"), format!("localhost:{port}")]
}

fn is_own_host(headers: &HeaderMap, port: u16) -> bool {
    let mut hosts = headers.get_all(HOST).iter();
    let (Some(host), None) = (hosts.next(), hosts.next()) else { return false };
    // Browsers leave the port of plain HTTP away.
    let host = host.to_str().unwrap_or_default();
    own_names(port).iter().any(|own| own == host) || (port == 80 && ["127.0.0.1", "localhost"].contains(&host))
}

fn is_own_origin(origin: &HeaderValue, port: u16) -> bool {
    let own = |name: &String| origin.as_bytes() == format!("http://{name}").as_bytes();
    let plain = ["http://127.0.0.1", "http://localhost"].iter().any(|name| origin.as_bytes() == name.as_bytes());
    own_names(port).iter().any(own) || (port == 80 && plain)
}

/// Browsers say where a request comes from. Following a link to the page from
/// elsewhere is no harm.
fn is_cross_site(headers: &HeaderMap) -> bool {
    let said = |name: &str| headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let is_link = said("sec-fetch-mode") == "navigate" && said("sec-fetch-dest") == "document";
    ["cross-site", "same-site"].contains(&said("sec-fetch-site")) && !is_link
}

/// The request with its body read, no longer and no larger than allowed.
async fn with_whole_body(request: Request) -> Result<Request, (StatusCode, &'static str)> {
    let (parts, body) = request.into_parts();
    match timeout(PATIENCE, to_bytes(body, LARGEST_BODY)).await {
        Ok(Ok(bytes)) => Ok(Request::from_parts(parts, Body::from(bytes))),
        Ok(Err(_)) => Err((StatusCode::PAYLOAD_TOO_LARGE, "the request is too large, or broke off")),
        Err(_) => Err((StatusCode::REQUEST_TIMEOUT, "the request took too long to arrive")),
    }
}
