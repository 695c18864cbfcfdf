//! Documents as data: their blocks of commands, the samples of what these
//! print, and samples made anew where the program says it otherwise now.

use strsim::normalized_levenshtein;

/// A block of commands, and the sample of what they print.
pub struct Step {
    /// The line of the document on which the commands begin, from 1.
    pub line: usize,
    pub commands: String,
    pub sample: Option<Sample>,
}

/// An excerpt of what is printed; a line of three dots stands for what is left
/// out, as the beginning and the end may be without a word.
pub struct Sample {
    /// Its first line in the document, from 0, without the fence.
    pub first: usize,
    pub lines: Vec<String>,
}

/// The blocks in the order of the document. A block of `text` that is the next
/// one after a block of `sh` is its sample.
///
/// # Panics
/// Where a block says no language: then nobody runs it.
pub fn steps(document: &str) -> Vec<Step> {
    let lines: Vec<&str> = document.lines().collect();
    let (mut steps, mut at) = (Vec::<Step>::new(), 0);
    let mut follows_commands = false;
    while at < lines.len() {
        let Some(language) = lines[at].strip_prefix("```") else {
            at += 1;
            continue;
        };
        assert!(!language.is_empty(), "line {}: a block without a language", at + 1);
        let first = at + 1;
        let length = lines[first..].iter().position(|line| *line == "```").expect("a block that ends");
        let inside = &lines[first..first + length];
        match language {
            "sh" => steps.push(Step { line: first + 1, commands: inside.join("\n"), sample: None }),
            "text" if follows_commands => {
                let lines = inside.iter().map(|line| (*line).to_owned()).collect();
                steps.last_mut().expect("commands before it").sample = Some(Sample { first, lines });
            }
            _ => {}
        }
        follows_commands = language == "sh";
        at = first + length + 1;
    }
    steps
}

fn is_gap(line: &str) -> bool {
    line.trim() == "..."
}

/// The stretches of a sample between its gaps.
fn stretches(sample: &[String]) -> impl Iterator<Item = &[String]> {
    sample.split(|line| is_gap(line)).filter(|stretch| stretch.iter().any(|line| !line.trim().is_empty()))
}

/// The place of a stretch in what was printed, from a line on.
fn place(stretch: &[String], printed: &[&str], from: usize) -> Option<usize> {
    let fits = |at: usize| stretch.iter().zip(&printed[at..]).all(|(a, b)| a.trim_end() == b.trim_end());
    (from..=printed.len().checked_sub(stretch.len())?).find(|&at| fits(at))
}

/// Whether a sample is an excerpt of what was printed; else the stretch that
/// is not in it, in that order.
pub fn differs(sample: &[String], printed: &str) -> Option<String> {
    let printed: Vec<&str> = printed.lines().collect();
    let mut from = 0;
    for stretch in stretches(sample) {
        match place(stretch, &printed, from) {
            Some(at) => from = at + stretch.len(),
            None => return Some(stretch.join("\n")),
        }
    }
    None
}

/// How alike two lines are, figures aside: 1 is the same.
fn alike(a: &str, b: &str) -> f64 {
    let plain = |line: &str| -> String {
        let words: Vec<&str> = line.split_whitespace().collect();
        words.join(" ").chars().map(|c| if c.is_ascii_digit() { '0' } else { c }).collect()
    };
    normalized_levenshtein(&plain(a), &plain(b))
}

/// The lines of what was printed that say what a stretch said: the best local
/// alignment, in which a line that is new costs less than one that is gone.
fn found(stretch: &[String], printed: &[&str], from: usize) -> Option<(usize, usize)> {
    const ENOUGH: f64 = 0.3;
    let (mut best, mut ends) = (ENOUGH, None);
    let width = printed.len() - from;
    // The score of the best alignment that ends here, and where it began.
    let mut above = vec![(0.0, 0); width + 1];
    for old in stretch {
        let mut row = vec![(0.0, 0); width + 1];
        for at in 1..=width {
            let new = printed[from + at - 1];
            let gain = match (old.trim().is_empty(), new.trim().is_empty()) {
                (true, true) => 0.05,
                (false, false) => alike(old, new) - 0.5,
                _ => -0.5,
            };
            let (before, start) = above[at - 1];
            let both = (before + gain, if before > 0.0 { start } else { at - 1 });
            let gone = (above[at].0 - 0.3, above[at].1);
            let added = (row[at - 1].0 - 0.1, row[at - 1].1);
            let top = [both, gone, added].into_iter().fold((0.0, at), |a, b| if b.0 > a.0 { b } else { a });
            row[at] = top;
            if top.0 > best {
                (best, ends) = (top.0, Some((from + top.1, from + at)));
            }
        }
        above = row;
    }
    ends
}

/// A sample made anew of what is printed now, stretch by stretch, and how many
/// stretches are not to be found any more: these are left out, and somebody
/// should look. A sample of which nothing is left shows the beginning.
pub fn mended(sample: &[String], printed: &str) -> (Vec<String>, usize) {
    let printed: Vec<&str> = printed.lines().map(str::trim_end).collect();
    let (mut from, mut lost) = (0, 0);
    let mut pieces: Vec<(usize, usize)> = Vec::new();
    for stretch in stretches(sample) {
        let same = place(stretch, &printed, from).map(|at| (at, at + stretch.len()));
        match same.or_else(|| found(stretch, &printed, from)) {
            Some(piece) => {
                from = piece.1;
                pieces.push(piece);
            }
            None => lost += 1,
        }
    }
    if pieces.is_empty() {
        pieces.push((0, printed.len().min(12)));
    }
    let ended = sample.last().is_some_and(|line| is_gap(line));
    let began = sample.first().is_some_and(|line| is_gap(line));
    let gap = sample.iter().find(|line| is_gap(line)).cloned().unwrap_or_else(|| "...".to_owned());
    let mut lines: Vec<String> = if began { vec![gap.clone()] } else { Vec::new() };
    for (index, &(start, end)) in pieces.iter().enumerate() {
        if index > 0 && start > pieces[index - 1].1 {
            lines.push(gap.clone());
        }
        lines.extend(printed[start..end].iter().map(|line| (*line).to_owned()));
    }
    if ended && pieces.last().is_some_and(|piece| piece.1 < printed.len()) {
        lines.push(gap);
    }
    (lines, lost)
}

/// A document with other lines in the places of its samples; the last first.
pub fn with_samples(document: &str, samples: &[(&Sample, Vec<String>)]) -> String {
    let mut lines: Vec<String> = document.lines().map(str::to_owned).collect();
    for (sample, new) in samples.iter().rev() {
        lines.splice(sample.first..sample.first + sample.lines.len(), new.iter().cloned());
    }
    lines.join("\n") + "\n"
}
