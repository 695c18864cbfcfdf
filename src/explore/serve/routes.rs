//! What is done for each address that the page asks.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::extract::rejection::JsonRejection;
use axum::http::header::CONTENT_TYPE;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use tokio::task::spawn_blocking;

use super::Shared;
use super::door::parameter;
use super::guard::refusal;
use super::stream::{Lane, answer as in_pieces, not_understood};
use crate::explore::ask::element;
use crate::explore::requests::View;
use crate::explore::save::Refused;
use crate::explore::{Ask, Download, Files, Save, Solve, ask as asked, download as downloaded, page, save as saved};
use crate::explore::{Desk, solve as solved};
use crate::solve::quiet;

/// A request as it arrived.
type Body<T> = Result<Json<T>, JsonRejection>;

/// A request that was understood and comes from a page that can be remembered, or what is
/// told otherwise.
fn sound<T>(body: Body<T>, view: impl Fn(&T) -> &View) -> Result<T, Box<Response>> {
    match body {
        Ok(Json(request)) if view(&request).is_sound() => Ok(request),
        Ok(_) => Err(Box::new(refusal(StatusCode::BAD_REQUEST, "the page has no name of its own"))),
        Err(rejection) => Err(Box::new(not_understood(&rejection))),
    }
}

/// The page itself.
pub async fn front(State(shared): State<Arc<Shared>>, uri: Uri) -> Response {
    // Names of files are plain in the address but for blanks and the like.
    let name = parameter(&uri, "brief").map(decoded).unwrap_or_default();
    let made = spawn_blocking(move || page::page(&shared.desk, &name, &shared.door.token)).await;
    match made {
        Ok(html) => ([(CONTENT_TYPE, "text/html; charset=utf-8")], html).into_response(),
        Err(_) => refusal(StatusCode::INTERNAL_SERVER_ERROR, "the page could not be made"),
    }
}

/// `POST /solve`.
pub async fn solve(State(shared): State<Arc<Shared>>, body: Body<Solve>) -> Response {
    let request = match sound(body, |request| &request.view) {
        Ok(request) => request,
        Err(response) => return *response,
    };
    let stop = shared.desk.pages.begin_move(&request.view.page);
    in_pieces(shared, stop, Lane::Move, request.seq, "headline", move |desk, sink| solved::solve(desk, &request, sink))
}

/// `POST /ask`.
pub async fn ask(State(shared): State<Arc<Shared>>, body: Body<Ask>) -> Response {
    let request = match sound(body, |request| &request.view) {
        Ok(request) => request,
        Err(response) => return *response,
    };
    // A question of a page does not end its search, only the older question
    // whose place its answer takes; the next move ends them all.
    let element = element(request.question);
    let stop = shared.desk.pages.begin(&format!("{}?{element}", request.view.page));
    in_pieces(shared, stop, Lane::Side, 0, element, move |desk, sink| {
        asked::ask(desk, &request, sink);
        None
    })
}

/// `POST /save`.
pub async fn save(State(shared): State<Arc<Shared>>, body: Body<Save>) -> Response {
    let request = match sound(body, |request| &request.view) {
        Ok(request) => request,
        Err(response) => return *response,
    };
    let Ok(_place) = shared.work.acquire().await else {
        return refusal(StatusCode::SERVICE_UNAVAILABLE, "the server ends");
    };
    let sorry = "this could not be saved: a fault of the program";
    done(&shared, sorry, move |desk| saved::save(desk, &request)).await
}

/// `POST /files`.
pub async fn files(State(shared): State<Arc<Shared>>, body: Body<Files>) -> Response {
    let request = match sound(body, |request| &request.view) {
        Ok(request) => request,
        Err(response) => return *response,
    };
    let sorry = "the files could not be looked at: a fault of the program";
    done(&shared, sorry, move |desk| saved::files(desk, &request)).await
}

/// `POST /download`.
pub async fn download(State(shared): State<Arc<Shared>>, body: Body<Download>) -> Response {
    let request = match sound(body, |request| &request.view) {
        Ok(request) => request,
        Err(response) => return *response,
    };
    let Ok(_place) = shared.work.acquire().await else {
        return refusal(StatusCode::SERVICE_UNAVAILABLE, "the server ends");
    };
    let work = Arc::clone(&shared);
    match spawn_blocking(move || quiet::catch(|| downloaded::made(&work.desk, &request))).await {
        Ok(Ok(Ok((kind, bytes)))) => ([(CONTENT_TYPE, kind)], bytes).into_response(),
        Ok(Ok(Err(words))) => refusal(StatusCode::UNPROCESSABLE_ENTITY, &words),
        _ => refusal(StatusCode::INTERNAL_SERVER_ERROR, "the file could not be made: a fault of the program"),
    }
}

/// Does work in a thread of its own and tells what came of it; `sorry` where it failed.
async fn done<T: Serialize + Send + 'static>(
    shared: &Arc<Shared>,
    sorry: &str,
    work: impl FnOnce(&Desk) -> Result<T, Refused> + Send + 'static,
) -> Response {
    let shared = Arc::clone(shared);
    match spawn_blocking(move || quiet::catch(|| work(&shared.desk))).await {
        Ok(Ok(Ok(told))) => Json(told).into_response(),
        Ok(Ok(Err(refused))) => {
            let status = StatusCode::from_u16(refused.why.status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
            (status, Json(refused)).into_response()
        }
        _ => refusal(StatusCode::INTERNAL_SERVER_ERROR, sorry),
    }
}

/// A text in which bytes may stand as `%2d`.
fn decoded(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((&first, behind)) = rest.split_first() {
        let hex = behind.get(..2).and_then(|two| u8::from_str_radix(std::str::from_utf8(two).ok()?, 16).ok());
        match (first, hex) {
            (b'%', Some(byte)) => {
                bytes.push(byte);
                rest = &behind[2..];
            }
            _ => {
                bytes.push(first);
                rest = behind;
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::decoded;

    #[test]
    fn names_in_an_address() {
        assert_eq!(decoded("mod%202%C3%A9.toml"), "mod 2é.toml");
        assert_eq!(decoded("100%.toml%2"), "100%.toml%2");
    }
}
