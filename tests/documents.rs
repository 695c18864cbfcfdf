//! README and the guide: every block of commands is run, in its order, and its
//! sample is what the program prints. Every link leads somewhere, and every
//! command that is spoken of exists.
//!
//! `PERMIL_WRITE=1 cargo test --test documents` writes the samples anew.

mod support;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use support::documents::{Sample, Step, differs, mended, steps, with_samples};
use support::program::permil;

/// The pages of the guide, each with a test below.
const PAGES: [&str; 10] =
    ["README", "anywhere", "shelf", "proposal", "how-sure", "over-time", "bench", "page", "jasmine", "learning"];

/// What a shell needs to run the blocks: the program under its name and through
/// cargo, long enough for every proof on a slow machine, without a browser, each
/// exit status written down. Nothing is built or installed.
const PRELUDE: &str = r#"
exec 2>&1
permil() {
    if [ "$1" = explore ]; then
        command permil "$@" --no-open > .address & pid=$!
        tries=0
        while [ ! -s .address ] && [ "$tries" -lt 300 ]; do sleep 0.1; tries=$((tries + 1)); done
        kill "$pid"; wait "$pid" 2> /dev/null
        grep -q '^http://127.0.0.1:' .address; ended=$?
    else
        case " $* " in
            *" --time-limit "*) command permil "$@" ;;
            *) if command permil "$1" --help | grep -q '^Search'
               then command permil "$@" --time-limit 300
               else command permil "$@"
               fi ;;
        esac
        ended=$?
    fi
    printf '%s %s\n' "$ended" "$*" >> "$STATUSES"
    return "$ended"
}
cargo() {
    case "$1" in
        run) while [ "$1" != -- ]; do shift; done; shift; permil "$@" ;;
        test | install) ;;
        *) echo "cargo $1 is not known here"; return 2 ;;
    esac
}
"#;
const MARK: &str = "\u{1e}";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(|entry| entry.unwrap()) {
        let target = to.join(entry.file_name());
        match entry.path().is_dir() {
            true => copy(&entry.path(), &target),
            false => drop(fs::copy(entry.path(), target).unwrap()),
        }
    }
}

/// Runs all blocks in one shell and gives what each printed, and the exit
/// status and arguments of every run of the program in it.
fn run(steps: &[Step], folder: &Path, statuses: &Path) -> Vec<(String, Vec<(i32, String)>)> {
    let mut script = PRELUDE.to_owned();
    for step in steps {
        script += &format!("{}\nprintf '{MARK}'; echo '{MARK}' >> \"$STATUSES\"\n", step.commands);
    }
    let program = Path::new(env!("CARGO_BIN_EXE_permil"));
    let mut path = std::ffi::OsString::from(program.parent().unwrap());
    path.push(":");
    path.push(std::env::var_os("PATH").unwrap_or_default());
    let mut shell = Command::new("sh");
    shell.arg("-c").arg(&script).current_dir(folder).stdin(Stdio::null());
    shell.env("PATH", path).env("STATUSES", statuses);
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS"] {
        shell.env_remove(name);
    }
    let printed = String::from_utf8(shell.output().unwrap().stdout).unwrap();
    let written = fs::read_to_string(statuses).unwrap();
    let status = |line: &str| {
        let (status, arguments) = line.split_once(' ').unwrap();
        (status.parse().unwrap(), arguments.to_owned())
    };
    let ended = written.split(MARK).map(|block| block.lines().filter(|line| !line.is_empty()).map(status).collect());
    let outcomes: Vec<_> = printed.split(MARK).map(str::to_owned).zip(ended).take(steps.len()).collect();
    assert_eq!(outcomes.len(), steps.len(), "the shell stopped: {printed}");
    outcomes
}

/// Runs a document in a folder and compares its samples, or writes them anew.
fn check(document: &str, folder: &Path) {
    let path = root().join(document);
    let text = fs::read_to_string(&path).unwrap();
    let steps = steps(&text);
    assert!(!steps.is_empty(), "{document} has no commands");
    let statuses = tempfile::NamedTempFile::new().unwrap();
    let outcomes = run(&steps, folder, statuses.path());
    let mut anew: Vec<(&Sample, Vec<String>)> = Vec::new();
    let mut wrong = Vec::new();
    for (step, (printed, ended)) in steps.iter().zip(&outcomes) {
        // A sample may show what an error looks like.
        let shows_error = step.sample.as_ref().is_some_and(|it| it.lines.iter().any(|line| line.contains("error:")));
        for (status, arguments) in ended {
            let is_fine = matches!(status, 0 | 1) || (shows_error && *status == 2);
            assert!(is_fine, "{document}:{}: permil {arguments} ended with {status}\n{printed}", step.line);
        }
        let Some(sample) = &step.sample else { continue };
        if let Some(missing) = differs(&sample.lines, printed) {
            let (lines, lost) = mended(&sample.lines, printed);
            if lost > 0 {
                eprintln!("{document}:{}: {lost} stretches of the sample are gone; look at it", sample.first);
            }
            anew.push((sample, lines));
            wrong.push(format!("{document}:{}: not printed:\n{missing}\n--- printed:\n{printed}", sample.first));
        }
    }
    if std::env::var_os("PERMIL_WRITE").is_some() {
        if !anew.is_empty() {
            fs::write(&path, with_samples(&text, &anew)).unwrap();
        }
        return;
    }
    assert!(wrong.is_empty(), "{}\nPERMIL_WRITE=1 cargo test --test documents", wrong.join("\n"));
}

/// A page of the guide, in a folder as `permil new` writes it.
fn page(name: &str) {
    let place = tempfile::tempdir().unwrap();
    let mine = place.path().join("mine");
    // The first page writes that folder itself.
    if name == "README" {
        return check("profiles/guide/README.md", place.path());
    }
    permil(&["new", mine.to_str().unwrap()]).ended(0);
    check(&format!("profiles/guide/{name}.md"), &mine);
}

#[test]
fn readme() {
    let place = tempfile::tempdir().unwrap();
    copy(&root().join("profiles"), &place.path().join("profiles"));
    check("README.md", place.path());
}

#[test]
fn guide_begins() {
    page("README");
}

#[test]
fn guide_shelf() {
    page("shelf");
}

#[test]
fn guide_proposal() {
    page("proposal");
}

#[test]
fn guide_how_sure() {
    page("how-sure");
}

#[test]
fn guide_over_time() {
    page("over-time");
}

#[test]
fn guide_bench() {
    page("bench");
}

#[test]
fn guide_page() {
    page("page");
}

#[test]
fn guide_jasmine() {
    page("jasmine");
}

#[test]
fn guide_anywhere() {
    page("anywhere");
}

#[test]
fn guide_learning() {
    page("learning");
}

#[test]
fn every_page_is_run_and_listed() {
    let index = fs::read_to_string(root().join("profiles/guide/README.md")).unwrap();
    let names = fs::read_dir(root().join("profiles/guide")).unwrap();
    let names: BTreeSet<String> = names.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(names, PAGES.iter().map(|page| format!("{page}.md")).collect());
    for page in PAGES.iter().filter(|page| **page != "README") {
        assert!(index.contains(&format!("]({page}.md)")), "{page}");
    }
}

#[test]
fn readme_is_short_and_knows_every_command() {
    let text = fs::read_to_string(root().join("README.md")).unwrap();
    assert!(text.lines().count() <= 150, "{} lines", text.lines().count());
    for command in commands() {
        assert!(command == "help" || text.contains(&format!("permil {command}")), "{command}");
    }
}

/// The names of all commands.
fn commands() -> BTreeSet<String> {
    let help = permil(&["--help"]).ended(0).stdout;
    let listed = help.lines().take_while(|line| *line != "Options:").filter(|line| line.starts_with("  "));
    let names: BTreeSet<String> = listed.filter_map(|line| Some(line.split_whitespace().next()?.to_owned())).collect();
    assert!(names.len() > 20 && names.contains("new"), "{names:?}");
    names
}

/// All documents of the repository, by their paths.
fn documents() -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = ["README.md", "DEVELOPERS.md"].iter().map(|name| root().join(name)).collect();
    let mut folders = vec![root().join("profiles"), root().join("benches"), root().join("plots")];
    while let Some(folder) = folders.pop() {
        for path in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|extension| extension == "md") {
                all.push(path);
            }
        }
    }
    assert!(all.len() > 10, "{all:?}");
    all
}

/// The name under which a heading is linked to.
fn anchor(heading: &str) -> String {
    let words = heading.trim_start_matches('#').trim().to_lowercase();
    words.chars().filter(|c| c.is_alphanumeric() || " -_".contains(*c)).collect::<String>().replace(' ', "-")
}

#[test]
fn links_lead_somewhere() {
    let mut links = 0;
    for document in documents() {
        let text = fs::read_to_string(&document).unwrap();
        for target in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if target.starts_with("http") || target.contains(char::is_whitespace) {
                continue;
            }
            let (file, place) = target.split_once('#').unwrap_or((target, ""));
            let path = if file.is_empty() { document.clone() } else { document.parent().unwrap().join(file) };
            assert!(path.exists(), "{}: {target}", document.display());
            if !place.is_empty() {
                let there = fs::read_to_string(&path).unwrap();
                let has = there.lines().filter(|line| line.starts_with('#')).any(|line| anchor(line) == place);
                assert!(has, "{}: {target}", document.display());
            }
            links += 1;
        }
    }
    assert!(links > 30, "only {links} links");
}

#[test]
fn commands_that_documents_name_exist() {
    let commands = commands();
    let mut seen = 0;
    for document in documents() {
        let text = fs::read_to_string(&document).unwrap();
        for rest in text.split("`permil ").skip(1) {
            let word: String = rest.chars().take_while(|c| c.is_ascii_lowercase()).collect();
            let follows = rest[word.len()..].chars().next();
            if !word.is_empty() && follows.is_some_and(|c| c == ' ' || c == '`') {
                assert!(commands.contains(&word), "{}: permil {word}", document.display());
                seen += 1;
            }
        }
    }
    assert!(seen > 30, "only {seen} commands");
}

fn owned(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|line| (*line).to_owned()).collect()
}

#[test]
fn a_sample_is_an_excerpt_in_its_order() {
    let printed = "head\n  a  1\n  b  2\n  c  3\nfoot\n";
    for sample in [&["  a  1", "  b  2"][..], &["head", "...", "  c  3"], &["...", "  b  2"], &["foot"]] {
        assert_eq!(differs(&owned(sample), printed), None, "{sample:?}");
    }
    for sample in [&["  a  1", "  c  3"][..], &["  c  3", "...", "  a  1"], &["  a  7"], &["head", "...", "footing"]] {
        assert!(differs(&owned(sample), printed).is_some(), "{sample:?}");
    }
}

#[test]
fn a_sample_follows_what_is_printed() {
    let printed = "head\n  rose  17\n  new   1\n  clove  2\n\nother words\n  end  9\n  after  3\n";
    let old = owned(&["  rose  15", "  clove  4", "...", "  end  8"]);
    let (new, lost) = mended(&old, printed);
    assert_eq!((new, lost), (owned(&["  rose  17", "  new   1", "  clove  2", "...", "  end  9"]), 0));
    let (new, lost) = mended(&owned(&["  rose  17", "...", "something that nobody says"]), printed);
    assert_eq!((new, lost), (owned(&["  rose  17"]), 1));
    let (new, lost) = mended(&owned(&["@@@@@@@@@@@@@@@"]), printed);
    assert_eq!((new.len(), lost), (8, 1));
    let document = "x\n```sh\npermil a\n```\nso\n```text\nold\n```\ny\n";
    let found = steps(document);
    assert_eq!((found.len(), found[0].line, found[0].commands.as_str()), (1, 3, "permil a"));
    let sample = found[0].sample.as_ref().unwrap();
    let text = with_samples(document, &[(sample, owned(&["new", "lines"]))]);
    assert_eq!(text, document.replace("old", "new\nlines"));
}
