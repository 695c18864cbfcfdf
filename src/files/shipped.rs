//! The scenarios that the program carries within, to start from without its
//! sources.

/// A scenario to start from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shipped {
    /// A rose otto stand-in with limits, trials, matches and a wishlist.
    Rose,
    /// Six materials, small enough to check by hand.
    Six,
    /// A shelf on which an accord stands ready mixed.
    Base,
    /// A jasmine shelf with much that is nearly odourless, and a published composition.
    Jasmine,
    /// A shelf to fill: three examples of how a material is written.
    Empty,
}

/// A file of a scenario.
#[derive(Clone, Copy, Debug)]
pub struct ShippedFile {
    /// Its path in `profiles/`, with `/` on every system.
    pub path: &'static str,
    /// Its text there.
    pub text: &'static str,
    /// What it is, for whoever has just got it.
    pub about: &'static str,
}

macro_rules! shipped {
    ($($path:literal: $about:literal,)*) => {
        &[$(ShippedFile { path: $path, text: include_str!(concat!("../../profiles/", $path)), about: $about },)*]
    };
}

const ROSE: &[ShippedFile] = shipped! {
    "rose-otto/brief.toml": "what is wanted: a rose otto stand-in, its rules",
    "rose-otto/palette.toml": "the shelf: 45 materials, their scores and prices",
    "rose-otto/limits.toml": "limits of the trade and of the law on this shelf",
    "rose-otto/mod-1.toml": "a first formula, written by hand",
    "rose-otto/trials.toml": "ten smellings, to learn from",
    "rose-otto/matches.toml": "dilutions that were smelled side by side",
    "rose-otto/stages.toml": "the same rose, judged on a blotter at three times",
    "rose-otto/lasting.toml": "another, at three times and for two noses",
    "rose-otto/second-nose.toml": "what a second person makes of nine materials",
    "rose-otto/wishlist.toml": "seven materials that could be bought",
    "rose-otto/README.md": "what the scenario shows",
};

const SIX: &[ShippedFile] = shipped! {
    "six-materials/brief.toml": "what is wanted, and the rules",
    "six-materials/palette.toml": "the shelf: six materials and a carrier",
    "six-materials/formula.toml": "a formula, written by hand",
    "six-materials/README.md": "the arithmetic, worked by hand",
};

const BASE: &[ShippedFile] = shipped! {
    "rose-base/brief.toml": "what is wanted: a powdery rose around the base",
    "rose-base/palette.toml": "the shelf, with a base that stands ready mixed",
    "rose-base/mod-1.toml": "a first formula, written by hand",
    "six-materials/formula.toml": "what the base is mixed from",
    "six-materials/palette.toml": "the shelf that it was mixed from",
};

const JASMINE: &[ShippedFile] = shipped! {
    "jasmine/brief.toml": "what is wanted: a jasmine stand-in, its rules",
    "jasmine/palette.toml": "the shelf: 65 materials, many of them weak",
    "jasmine/numbers-alone.toml": "the same wish without what is usual",
    "jasmine/near-the-oil.toml": "the same, near what an analysis found",
    "jasmine/flower-oil.toml": "that analysis, a century old",
    "jasmine/mod-1.toml": "a first formula, written by hand",
    "jasmine/README.md": "what the scenario shows",
};

const EMPTY: &[ShippedFile] = shipped! {
    "empty-shelf/palette.toml": "the shelf to fill, with three examples",
    "empty-shelf/brief.toml": "what is wanted: a few rules that any shelf can keep",
};

const BESIDE: &[ShippedFile] = shipped! {
    "FILES.md": "every key of these files",
    "limits/ifra.toml": "limits of the trade, for orientation",
    "limits/eu.toml": "limits of EU law, for orientation",
    "limits/eu-allergens.toml": "what EU law wants named on a label",
    "limits/substances.toml": "the numbers and names that these speak of",
};

/// Where the rules of a formula begin in a brief.
const FORMULA: &str = "[formula]\n";
/// The rule that a new brief has besides; it counts nothing until the shelf names
/// usual doses.
const MAX_UNUSUAL: &str =
    "max_unusual = 2   # doses outside the `usual` range of a material, where the shelf names one\n";
/// Likewise, of what fills the bottle and is not heard: a quarter at most.
const MAX_IDLE: &str = "max_idle = 250    # parts that bring less than a tenth of their share of the odour\n";

impl Shipped {
    /// All of them, by the names that they are asked for with.
    pub const ALL: [(&str, Shipped); 5] = [
        ("rose", Shipped::Rose),
        ("six", Shipped::Six),
        ("base", Shipped::Base),
        ("jasmine", Shipped::Jasmine),
        ("empty", Shipped::Empty),
    ];

    /// Its own folder in `profiles/`.
    #[must_use]
    pub fn folder(self) -> &'static str {
        match self {
            Shipped::Rose => "rose-otto",
            Shipped::Six => "six-materials",
            Shipped::Base => "rose-base",
            Shipped::Jasmine => "jasmine",
            Shipped::Empty => "empty-shelf",
        }
    }

    /// All its files: its own first, then those beside it that it needs, then
    /// what every scenario is given.
    pub fn files(self) -> impl Iterator<Item = &'static ShippedFile> {
        let own = match self {
            Shipped::Rose => ROSE,
            Shipped::Six => SIX,
            Shipped::Base => BASE,
            Shipped::Jasmine => JASMINE,
            Shipped::Empty => EMPTY,
        };
        own.iter().chain(BESIDE)
    }

    /// Where a file goes below a new folder: those of the scenario's own folder
    /// to the top, what lies beside that in `profiles/` within it.
    #[must_use]
    pub fn place(self, file: &ShippedFile) -> &'static str {
        file.path.strip_prefix(self.folder()).and_then(|path| path.strip_prefix('/')).unwrap_or(file.path)
    }

    /// The text that goes there: paths lead to where the files now are, and a brief
    /// counts unusual doses, for when the shelf is the user's own.
    #[must_use]
    pub fn text(self, file: &ShippedFile) -> String {
        match file.path.rsplit('/').next() {
            // Commands, as they are typed within the folder.
            Some(name) if name.ends_with(".md") => file.text.replace(&format!("profiles/{}/", self.folder()), ""),
            // Unless it says so itself.
            Some("brief.toml")
                if !file.text.contains(
                    "
max_unusual",
                ) =>
            {
                file.text.replace("../", "").replace(FORMULA, &format!("{FORMULA}{MAX_UNUSUAL}{MAX_IDLE}"))
            }
            _ => file.text.replace("../", ""),
        }
    }
}
