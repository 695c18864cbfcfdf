//! Standard output and standard error: the answer on the one, everything else
//! on the other.

use std::io::{self, ErrorKind, IsTerminal, Write};

use super::Ending;
use super::colour::Colour;
use super::shared::Shown;
use crate::escape::escaped;
use crate::files::Faults;
use crate::formats::{Report, render};
use crate::text::Page;

/// The narrowest and the widest page that text is set on.
const WIDTHS: (usize, usize) = (60, 100);

/// The page of standard output: as wide as its terminal, 80 columns elsewhere.
pub fn page(shown: &Shown) -> Page {
    let stdout = io::stdout();
    let terminal = stdout.is_terminal().then(terminal_size::terminal_size).flatten();
    let width = terminal.map_or(80, |(width, _)| usize::from(width.0).clamp(WIDTHS.0, WIDTHS.1));
    Page { width, colour: shown.color.on(&stdout), full: shown.full, ..Page::default() }
}

/// Whether progress may be drawn on standard error.
pub fn may_draw() -> bool {
    let unwanted = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    io::stderr().is_terminal() && !unwanted
}

/// Writes a report to standard output on such a page. The ending is the one
/// given, or `Wrong` where it could not be written; a closed pipe is not worth a
/// word.
pub fn answer_on(page: &Page, report: &impl Report, shown: &Shown, ending: Ending) -> Ending {
    print(&render(report, shown.format.into(), page), ending)
}

/// Writes a text to standard output, likewise.
pub fn print(text: &str, ending: Ending) -> Ending {
    let mut stdout = io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Ok(()) => ending,
        Err(error) if error.kind() == ErrorKind::BrokenPipe => ending,
        Err(error) => {
            complain(&format!("standard output cannot be written: {error}"));
            Ending::Wrong
        }
    }
}

/// Says what is wrong on standard error. The text is fit to be shown.
pub fn complain(text: &str) {
    // Nobody is left to be told when standard error is closed.
    let _ = writeln!(io::stderr().lock(), "permil: {text}");
}

/// Says on standard error what was done.
pub fn note(text: &str) {
    let _ = writeln!(io::stderr().lock(), "permil: {text}");
}

/// Says what may not be what was meant.
pub fn warn(warnings: &[String], quiet: bool) {
    if !quiet {
        let mut stderr = io::stderr().lock();
        for warning in warnings {
            let _ = writeln!(stderr, "warning: {}", escaped(warning));
        }
    }
}

/// Shows all that is wrong with input files.
pub fn faults(faults: &Faults, colour: Colour) -> Ending {
    let stderr = io::stderr();
    let text = faults.render(colour.on(&stderr));
    let _ = stderr.lock().write_all(text.as_bytes());
    Ending::Wrong
}
