//! The engine as a page without a server asks it: files come from the page, and answers
//! go back to it, in pieces while a search goes on.
//!
//! One engine is one worker of the browser and works on one thing at a time. To stop it,
//! the page ends the worker.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use permil::chart::kit::font::{REGULAR_FOR_PAGES, SEMIBOLD_FOR_PAGES};
use permil::clock::Clock;
use permil::explore::{Content, Desk, Folder, Options, Shelf, content};
use permil::files::sheet::{Reading, import_shelf_in};
use permil::files::shipped::Shipped;
use permil::files::palette_text;
use wasm_bindgen::prelude::*;

#[wasm_bindgen]
extern "C" {
    /// The page's own: takes a line of an answer.
    #[wasm_bindgen(js_name = permilTake)]
    fn take(line: &[u8]) -> bool;

    /// Milliseconds since the worker began.
    #[wasm_bindgen(js_namespace = performance)]
    fn now() -> f64;

    /// Milliseconds since 1970-01-01 (UTC).
    #[wasm_bindgen(js_namespace = Date, js_name = now)]
    fn since_1970_ms() -> f64;
}

/// The longest that one search may take.
const LONGEST: Duration = Duration::from_secs(10);

/// The files of a scenario, as a JSON object of their texts by their paths; null where there
/// is no such scenario.
#[wasm_bindgen]
pub fn scenario(name: &str) -> String {
    let known = Shipped::ALL.iter().find(|(own, _)| *own == name);
    let files = known.map(|(_, scenario)| {
        scenario.files().map(|file| (scenario.place(file), scenario.text(file))).collect::<std::collections::BTreeMap<_, _>>()
    });
    json(&files)
}

/// A sheet of materials as palette.toml: a JSON object with `palette` and `notes`, or with
/// `faults`.
#[wasm_bindgen]
pub fn imported(name: &str, content: &[u8]) -> String {
    let shelf = Shelf::of([(name.to_owned(), content.to_vec())]);
    json(&match import_shelf_in(&shelf, Path::new(name), &Reading::default()) {
        Ok(read) => {
            let first = read.palette.descriptors.first().map(|descriptor| descriptor.name.clone());
            serde_json::json!({ "palette": palette_text(&read.palette), "notes": read.notes, "first": first })
        }
        Err(faults) => serde_json::json!({ "faults": faults.iter().map(ToString::to_string).collect::<Vec<_>>() }),
    })
}

/// The letters of the page, as woff2: those of running text, or bold ones.
#[wasm_bindgen]
pub fn font(bold: bool) -> Vec<u8> {
    if bold { SEMIBOLD_FOR_PAGES.to_vec() } else { REGULAR_FOR_PAGES.to_vec() }
}

fn json<T: serde::Serialize>(value: &T) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

/// One brief and the folder that it stands in.
#[wasm_bindgen]
#[derive(Debug)]
pub struct Engine {
    desk: Desk,
    shelf: Arc<Shelf>,
}

/// What came of a request.
#[wasm_bindgen(getter_with_clone)]
#[derive(Debug)]
pub struct Told {
    /// The status of HTTP that says how it went.
    pub status: u16,
    /// Media type of the content.
    pub kind: String,
    /// The content; empty where it went out in pieces.
    pub content: Vec<u8>,
    /// Files that were written: a JSON object of their texts by their paths.
    pub written: String,
}

#[wasm_bindgen]
impl Engine {
    /// An engine for a brief; `files` are texts by their paths, `made` the paths of those that
    /// the page itself has written, both in JSON.
    ///
    /// # Errors
    /// What is wrong with the arguments.
    #[wasm_bindgen(constructor)]
    pub fn new(brief: &str, files: &str, made: &str) -> Result<Engine, String> {
        let files: std::collections::BTreeMap<String, String> =
            serde_json::from_str(files).map_err(|error| error.to_string())?;
        let made: Vec<String> = serde_json::from_str(made).map_err(|error| error.to_string())?;
        let shelf = Arc::new(Shelf::of(files.into_iter().map(|(path, text)| (path, text.into_bytes()))));
        let since_1970 = || Some(Duration::from_secs_f64(since_1970_ms().max(0.0) / 1000.0));
        let options = Options { brief: brief.into(), time_limit: LONGEST, since_1970 };
        let desk = Desk::new(options, Arc::clone(&shelf) as Arc<dyn Folder>);
        made.iter().for_each(|path| desk.has_made(Path::new(path)));
        Ok(Engine { desk, shelf })
    }

    /// The page of a brief of the folder, as a JSON object with `title` and `body`.
    pub fn page(&self, name: &str) -> String {
        let Content { title, body } = content(&self.desk, name);
        json(&serde_json::json!({ "title": title, "body": body.into_string() }))
    }

    /// Answers a request as the server of `permil explore` does.
    pub fn ask(&self, address: &str, body: &str) -> Told {
        let clock = Clock::lent(|| Duration::from_secs_f64(now().max(0.0) / 1000.0));
        let reply = self.desk.reply(address, body, clock, |line| take(&line));
        let written = self.shelf.written();
        let written: std::collections::BTreeMap<String, String> =
            written.into_iter().map(|(path, text)| (path.to_string_lossy().into_owned(), text)).collect();
        Told { status: reply.status, kind: reply.kind.to_owned(), content: reply.content, written: json(&written) }
    }
}
