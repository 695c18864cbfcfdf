//! Title, subtitle with its keys, and notes.

use super::canvas::{BODY, Canvas, SMALL, Stroke, Style};
use super::colour::{INK, PAPER, SOFT};
use super::{MARGIN, WIDTH};

/// The width that text may take.
pub const MEASURE: f64 = WIDTH - 2.0 * MARGIN;
/// Height of a line of the subtitle.
const LEADING: f64 = 20.0;

/// A mark beside a word of the subtitle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// No mark.
    None,
    /// A disc.
    Disc(&'static str),
    /// An open circle.
    Ring,
    /// A filled square.
    Square(&'static str),
    /// An upright stroke.
    Tick,
    /// The same in a colour.
    Upright(&'static str),
    /// A line with an upright stroke at each end.
    Whisker(&'static str),
    /// An open circle in a colour.
    Hollow(&'static str),
    /// A full line.
    Line(&'static str),
    /// A dashed line.
    Dashes(&'static str),
}

/// A piece of the subtitle.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Words, broken where a line ends.
    Words(String),
    /// A mark and what it stands for, never parted.
    Key(Mark, String, &'static str),
}

/// The longest text of a key in pixels.
const LONGEST_KEY: f64 = 380.0;

impl Mark {
    /// What it takes of the line, in pixels.
    fn width(self) -> f64 {
        match self {
            Mark::None => 0.0,
            Mark::Line(_) | Mark::Dashes(_) | Mark::Whisker(_) => 28.0,
            Mark::Tick | Mark::Upright(_) => 10.0,
            Mark::Disc(_) | Mark::Ring | Mark::Hollow(_) | Mark::Square(_) => 17.0,
        }
    }
}

impl Piece {
    /// What a key takes of the line in pixels, with the space after it.
    fn width(&self, blank: f64) -> f64 {
        match self {
            Piece::Words(_) => 0.0,
            Piece::Key(mark, text, _) => mark.width() + BODY.bold().width(text).min(LONGEST_KEY) + 3.5 * blank,
        }
    }
}

/// Words of a subtitle.
pub fn words(text: &str) -> Piece {
    Piece::Words(text.to_owned())
}

/// A mark and what it stands for, in a colour fit for text.
pub fn key(mark: Mark, text: &str, colour: &'static str) -> Piece {
    Piece::Key(mark, text.to_owned(), colour)
}

/// Sets title and subtitle, and gives the y below them.
pub fn head(canvas: &mut Canvas, title: &str, subtitle: &[Piece], description: &str) -> f64 {
    canvas.describe(title, description);
    let (style, lines) = title_lines(title);
    let mut y = MARGIN + 12.0;
    for (at, line) in lines.iter().enumerate() {
        y += if at > 0 { style.size * 1.25 } else { 0.0 };
        canvas.text(MARGIN, y, line, style);
    }
    y = pieces(canvas, y + 26.0, subtitle);
    y + 12.0
}

/// A title on one line if it can be, on two of about the same length if it
/// must be; the letters as large as that allows.
fn title_lines(title: &str) -> (Style, Vec<String>) {
    let sizes = |sizes: &'static [f64], most: usize| {
        sizes.iter().find_map(move |&size| {
            let style = BODY.size(size).bold();
            let lines = style.wrapped(title, MEASURE);
            (lines.len() <= most).then_some((style, lines))
        })
    };
    if let Some(one) = sizes(&[22.0, 21.0, 20.0, 19.0], 1) {
        return one;
    }
    if let Some((style, lines)) = sizes(&[20.0, 18.0], 2) {
        // The narrowest measure that still gives two lines balances them.
        let narrow = (1..20).map(|at| style.wrapped(title, MEASURE * (1.0 - 0.025 * f64::from(at))));
        let balanced =
            narrow.take_while(|tried| tried.len() == lines.len() && tried.iter().all(|line| !line.contains('…')));
        return (style, balanced.last().unwrap_or(lines));
    }
    let style = BODY.size(17.0).bold();
    let mut lines = style.wrapped(title, MEASURE);
    if lines.len() > 3 {
        let rest = lines.split_off(2).join(" ");
        lines.push(style.shortened(&rest, MEASURE));
    }
    (style, lines)
}

/// Sets pieces in lines from a baseline on, and gives the last baseline.
pub fn pieces(canvas: &mut Canvas, y: f64, pieces: &[Piece]) -> f64 {
    let soft = BODY.colour(SOFT);
    let blank = soft.width("a a") - soft.width("aa");
    let (mut x, mut y) = (MARGIN, y);
    for (at, piece) in pieces.iter().enumerate() {
        // Keys stay together if a line can hold them.
        if matches!(piece, Piece::Key(..)) && (at == 0 || !matches!(pieces[at - 1], Piece::Key(..))) {
            let run = pieces[at..].iter().take_while(|piece| matches!(piece, Piece::Key(..)));
            let wide: f64 = run.map(|piece| piece.width(blank)).sum();
            if x > MARGIN {
                x += 1.5 * blank;
            }
            if x + wide > WIDTH - MARGIN + 3.5 * blank && x > MARGIN {
                (x, y) = (MARGIN, y + LEADING + 2.0);
            }
        }
        match piece {
            Piece::Words(text) => {
                // Words that share a line are one text.
                let mut line = String::new();
                for word in text.split_whitespace() {
                    let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
                    if x + soft.width(&longer) > WIDTH - MARGIN && (x > MARGIN || !line.is_empty()) {
                        canvas.text(x, y, &line, soft);
                        (x, y) = (MARGIN, y + LEADING);
                        line = word.to_owned();
                    } else {
                        line = longer;
                    }
                }
                x += canvas.text(x, y, &line, soft) + blank;
            }
            Piece::Key(mark, text, colour) => {
                let style = BODY.bold().colour(colour);
                let text = style.shortened(text, LONGEST_KEY);
                let lead = mark.width();
                if x + lead + style.width(&text) > WIDTH - MARGIN && x > MARGIN {
                    (x, y) = (MARGIN, y + LEADING);
                }
                draw(canvas, *mark, x, y - 5.0);
                x += lead;
                x += canvas.text(x, y, &text, style) + 3.5 * blank;
            }
        }
    }
    y
}

/// Draws a mark whose left edge is at `x`, around `y`.
pub fn draw(canvas: &mut Canvas, mark: Mark, x: f64, y: f64) {
    match mark {
        Mark::None => {}
        Mark::Disc(colour) => canvas.disc((x + 6.0, y), 5.0, colour, Stroke::new(PAPER, 1.0)),
        Mark::Ring => canvas.disc((x + 6.0, y), 5.0, PAPER, Stroke::new(INK, 1.6)),
        Mark::Hollow(colour) => canvas.disc((x + 6.0, y), 4.6, PAPER, Stroke::new(colour, 1.8)),
        Mark::Whisker(colour) => whisker(canvas, (x, x + 22.0), y, 4.0, colour),
        Mark::Square(colour) => canvas.rect(x + 0.5, y - 5.5, 11.0, 11.0, colour, 1.0),
        Mark::Tick => canvas.rect(x + 2.0, y - 7.0, 2.5, 14.0, INK, 1.0),
        Mark::Upright(colour) => canvas.rect(x + 2.0, y - 7.0, 2.5, 14.0, colour, 1.0),
        Mark::Line(colour) => canvas.line((x, y), (x + 22.0, y), Stroke::new(colour, 2.5)),
        Mark::Dashes(colour) => canvas.line((x, y), (x + 22.0, y), Stroke::dashed(colour, 2.5)),
    }
}

/// Draws how far something may lie to either side: a line with an upright
/// stroke of twice `half` at each end.
pub fn whisker(canvas: &mut Canvas, (from, to): (f64, f64), y: f64, half: f64, colour: &'static str) {
    let stroke = Stroke::new(colour, 1.4);
    canvas.line((from, y), (to, y), stroke);
    canvas.line((from, y - half), (from, y + half), stroke);
    canvas.line((to, y - half), (to, y + half), stroke);
}

/// Sets a note at the foot, ends the sheet below it.
pub fn foot(canvas: &mut Canvas, y: f64, note: &str) {
    let mut last = y - 17.0;
    for line in SMALL.wrapped(note, MEASURE) {
        last += 17.0;
        canvas.text(MARGIN, last, &line, SMALL);
    }
    canvas.set_height(last + MARGIN - 8.0);
}
