//! Asking without a server: for a host that holds the program itself, such as a browser
//! in which it runs. The addresses, what is asked and what is told are the server's.

use std::sync::Arc;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::desk::{Desk, Why};
use super::piece::Sink;
use super::requests::{Ask, Download, Files, Save, Solve, View};
use super::save::Refused;
use super::{ask, download, save, solve};
use crate::clock::Clock;
use crate::escape::escaped;

/// What came of a request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// The status of HTTP that says how it went.
    pub status: u16,
    /// Media type of the content.
    pub kind: &'static str,
    /// The content; empty where it went out in pieces.
    pub content: Vec<u8>,
}

const JSON: &str = "application/json";
const LINES: &str = "application/x-ndjson";

impl Desk {
    /// Answers a request of a page: `address` as the server has it ("/solve"), `body` in JSON. Pieces
    /// go to `take`, each as a line; it tells whether anybody still reads. What is left to be
    /// worked out when a page rests is worked out at once.
    pub fn reply(
        &self,
        address: &str,
        body: &str,
        clock: Clock,
        take: impl Fn(Vec<u8>) -> bool + Send + Sync + 'static,
    ) -> Reply {
        match address {
            "/solve" => self.with(
                body,
                |request: &Solve| &request.view,
                |request| {
                    let stop = self.pages.begin_move(&request.view.page);
                    let sink = Sink::new(take, stop, request.seq, clock);
                    if let Some(later) = solve::solve(self, &request, &sink) {
                        later(&sink);
                    }
                    pieces()
                },
            ),
            "/ask" => self.with(
                body,
                |request: &Ask| &request.view,
                |request| {
                    let element = ask::element(request.question);
                    let stop = self.pages.begin(&format!("{}?{element}", request.view.page));
                    ask::ask(self, &request, &Sink::new(take, stop, 0, clock));
                    pieces()
                },
            ),
            "/save" => self.with(body, |request: &Save| &request.view, |request| told(save::save(self, &request))),
            "/files" => self.with(body, |request: &Files| &request.view, |request| told(save::files(self, &request))),
            "/download" => self.with(
                body,
                |request: &Download| &request.view,
                |request| match download::made(self, &request) {
                    Ok((kind, content)) => Reply { status: 200, kind, content },
                    Err(words) => refused(Why::Unworkable, &words),
                },
            ),
            _ => refused(Why::Wrong, "there is nothing of that name"),
        }
    }

    fn with<T: DeserializeOwned>(
        &self,
        body: &str,
        view: impl Fn(&T) -> &View,
        work: impl FnOnce(T) -> Reply,
    ) -> Reply {
        match serde_json::from_str::<T>(body) {
            Ok(request) if view(&request).is_sound() => work(request),
            Ok(_) => refused(Why::Wrong, "the page has no name of its own"),
            // As the server, which refuses what is well formed and means nothing.
            Err(error) => refused(Why::Unworkable, &escaped(&error.to_string())),
        }
    }

    /// Keeps that a page made a file: what a host remembers of an earlier one.
    pub fn has_made(&self, path: &std::path::Path) {
        self.own.made(&Arc::clone(&self.folder), path);
    }
}

fn pieces() -> Reply {
    Reply { status: 200, kind: LINES, content: Vec::new() }
}

fn told<T: Serialize>(done: Result<T, Refused>) -> Reply {
    match done {
        Ok(told) => Reply { status: 200, kind: JSON, content: serde_json::to_vec(&told).unwrap_or_default() },
        Err(refused) => {
            let content = serde_json::to_vec(&refused).unwrap_or_default();
            Reply { status: refused.why.status(), kind: JSON, content }
        }
    }
}

fn refused(why: Why, words: &str) -> Reply {
    told::<()>(Err(Refused::new(why, words)))
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::Mutex;
    use std::time::Duration;

    use super::*;
    use crate::explore::{Options, Shelf};
    use crate::files::shipped::Shipped;

    fn desk() -> (Desk, Arc<Shelf>) {
        let files = Shipped::Rose.files();
        let shelf = Arc::new(Shelf::of(
            files.map(|file| (Shipped::Rose.place(file).to_owned(), Shipped::Rose.text(file).into_bytes())),
        ));
        let options = Options::of("brief.toml".into(), Duration::from_secs(60));
        (Desk::new(options, Arc::clone(&shelf) as Arc<dyn crate::explore::Folder>), shelf)
    }

    #[test]
    fn a_host_without_a_server_asks_and_saves() {
        let (desk, shelf) = desk();
        let lines: Arc<Mutex<Vec<serde_json::Value>>> = Arc::default();
        let keep = Arc::clone(&lines);
        let take = move |line: Vec<u8>| {
            keep.lock().expect("the lines").push(serde_json::from_slice(&line).expect("JSON"));
            true
        };
        let view = r#""view": { "page": "a", "edits": { "rules": { "max_price": 120 } } }"#;
        let reply = desk.reply("/solve", &format!("{{ {view}, \"seq\": 3 }}"), Clock::default(), take);
        assert_eq!((reply.status, reply.kind), (200, LINES));
        let kinds: Vec<String> = lines
            .lock()
            .expect("the lines")
            .iter()
            .map(|it| it["kind"].as_str().unwrap_or_default().to_owned())
            .collect();
        assert!(
            kinds.iter().any(|kind| kind == "final") && kinds.last().is_some_and(|kind| kind == "around"),
            "{kinds:?}"
        );
        let save = |name: &str| {
            let body = format!("{{ {view}, \"brief\": \"{name}\", \"formula\": \"mod-9.toml\", \"overwrite\": true }}");
            desk.reply("/save", &body, Clock::default(), |_| true)
        };
        assert_eq!(save("cheap.toml").status, 200);
        let names: Vec<String> = shelf.written().iter().map(|(path, _)| path.to_string_lossy().into_owned()).collect();
        assert_eq!(names, ["cheap.toml", "mod-9.toml"]);
        let brief = crate::store::Store::text(&*shelf, Path::new("cheap.toml"), 99_999).expect("the brief");
        assert!(brief.contains("max_price = 120"), "{brief}");
        // What the page did not make is not written over.
        assert_eq!(save("palette.toml").status, 400);
        assert_eq!(desk.reply("/solve", "{}", Clock::default(), |_| true).status, 422);
        assert_eq!(desk.reply("/nothing", "{}", Clock::default(), |_| true).status, 400);
    }
}
