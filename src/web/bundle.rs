//! Writes the page without a server: one HTML file with the engine, the fonts, the style
//! and the script within.
//!
//! It builds the engine for a browser (the package beside this file; rustup is asked for the
//! target) and binds it with wasm-bindgen, of the version that the engine was built against;
//! where the machine has none it installs one from the registry, below `target/`. Nothing of it
//! is fetched when the page is opened.
//!
//! usage: `cargo run --release --bin bundle -- target/permil.html`

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

const TARGET: &str = "wasm32-unknown-unknown";
const PAGE_CSS: &str = include_str!("../explore/page.css");
const PAGE_JS: &str = include_str!("../explore/page.js");
const ICON: &str = include_str!("../explore/icon.svg");
const SHELL_CSS: &str = include_str!("shell.css");
const SHELL_HTML: &str = include_str!("shell.html");
const SCRIPTS: [&str; 6] = [
    include_str!("zip.js"),
    include_str!("store.js"),
    include_str!("texts.js"),
    include_str!("open.js"),
    PAGE_JS,
    include_str!("shell.js"),
];
const WORKER_JS: &str = include_str!("worker.js");

fn main() -> ExitCode {
    let Some(to) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("usage: bundle FILE.html");
        return ExitCode::from(2);
    };
    match bundled(&to) {
        Ok(bytes) => {
            println!("{}: {:.2} MB", to.display(), bytes as f64 / 1e6);
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}

fn bundled(to: &Path) -> Result<usize, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), PathBuf::from);
    let own = target.join("web");
    let manifest = root.join("src/web/Cargo.toml");
    // Without rustup the compiler has the target, or says that it has not.
    let _ = Command::new("rustup").args(["target", "add", TARGET]).stdout(Stdio::null()).stderr(Stdio::null()).status();
    run(Command::new("cargo")
        .args(["build", "--release", "--locked", "--target", TARGET, "--manifest-path"])
        .arg(&manifest)
        .env("RUSTFLAGS", flags(root))
        .env("CARGO_TARGET_DIR", &own))?;
    let tool = binder(root, &target)?;
    let bound = own.join("bound");
    run(Command::new(tool)
        .args(["--target", "no-modules", "--no-typescript", "--remove-name-section", "--remove-producers-section"])
        .arg("--out-dir")
        .arg(&bound)
        .arg(own.join(TARGET).join("release/permil_web.wasm")))?;
    let read = |name: &str| fs::read(bound.join(name)).map_err(|error| format!("{name}: {error}"));
    let engine = gzipped(&read("permil_web_bg.wasm")?)?;
    let glue = String::from_utf8(read("permil_web.js")?).map_err(|error| error.to_string())?;
    let html = page(&in_85(&engine), &glue)?;
    fs::write(to, &html).map_err(|error| format!("{}: {error}", to.display()))?;
    Ok(html.len())
}

/// How the engine is built: with instructions for several numbers at once, which every browser
/// has that unpacks the engine, and with no path of this machine in it, so that another one
/// gives the same bytes.
fn flags(root: &Path) -> String {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| std::env::home_dir().map(|home| home.join(".cargo"))).unwrap_or_default();
    let mapped =
        [(root, "/permil"), (&home, "/cargo")].map(|(path, to)| format!("--remap-path-prefix={}={to}", path.display()));
    format!("-C target-feature=+simd128 {}", mapped.join(" "))
}

/// Where the tool is that binds the engine: that of the machine where it has the right
/// version, else one below the target folder, which is installed at need.
fn binder(root: &Path, target: &Path) -> Result<PathBuf, String> {
    let lock = fs::read_to_string(root.join("src/web/Cargo.lock")).map_err(|error| format!("Cargo.lock: {error}"))?;
    let mut lines = lock.lines().skip_while(|line| *line != "name = \"wasm-bindgen\"");
    let version = lines.nth(1).and_then(|line| line.strip_prefix("version = \"")?.strip_suffix('"'));
    let version = version.ok_or("Cargo.lock names no version of wasm-bindgen")?;
    let tools = target.join("tools");
    let installed = tools.join("bin/wasm-bindgen");
    for tool in [PathBuf::from("wasm-bindgen"), installed.clone()] {
        let said =
            Command::new(&tool).arg("--version").output().map(|it| String::from_utf8_lossy(&it.stdout).into_owned());
        if said.is_ok_and(|said| said.split_whitespace().any(|word| word == version)) {
            return Ok(tool);
        }
    }
    run(Command::new("cargo")
        .args(["install", "wasm-bindgen-cli", "--debug", "--quiet", "--version", version, "--root"])
        .arg(&tools)
        .env("CARGO_TARGET_DIR", tools.join("build")))?;
    Ok(installed)
}

fn run(command: &mut Command) -> Result<(), String> {
    let shown = format!("{command:?}");
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("{shown} ended with {status}")),
        Err(error) => Err(format!("{shown}: {error}")),
    }
}

/// Packed as small as the format allows; the same bytes each time.
fn gzipped(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let mut packed = Vec::new();
    zopfli::compress(zopfli::Options::default(), zopfli::Format::Gzip, bytes, &mut packed)
        .map_err(|error| error.to_string())?;
    Ok(packed)
}

/// Bytes as text: five characters for four of them, where base64 takes five and a third. All
/// characters are such as mean nothing in HTML; the last group is filled with zeros, which
/// whoever unpacks it passes over. shell.js reads it.
fn in_85(bytes: &[u8]) -> String {
    let letters: Vec<char> = ('!'..='~').filter(|letter| !"\"&'<>\\`".contains(*letter)).take(85).collect();
    let mut text = String::with_capacity(bytes.len() / 4 * 5 + 16);
    // How many bytes there are comes first.
    let _ = write!(text, "{} ", bytes.len());
    for group in bytes.chunks(4) {
        let mut four = [0; 4];
        four[..group.len()].copy_from_slice(group);
        let mut value = u32::from_be_bytes(four);
        let mut five = ['!'; 5];
        for place in five.iter_mut().rev() {
            *place = letters[(value % 85) as usize];
            value /= 85;
        }
        text.extend(five);
    }
    text
}

/// The whole file.
fn page(engine: &str, glue: &str) -> Result<String, String> {
    let script = SCRIPTS.join("\n");
    let worker = format!("{glue}\n{WORKER_JS}");
    // What ends an element would end it within as well.
    for text in [&script, &worker] {
        if text.to_lowercase().contains("</script") {
            return Err("a script holds the end of its own element".to_owned());
        }
    }
    // The letters are within the engine, for reports: the page takes them from there.
    let own: Vec<&str> = PAGE_CSS.lines().filter(|line| !line.starts_with("@font-face")).collect();
    let style = format!("{}\n{SHELL_CSS}", own.join("\n"));
    let hash = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
    let policy = format!(
        "default-src 'none'; script-src {} 'wasm-unsafe-eval'; worker-src blob:; style-src {}; \
         img-src data: blob:; base-uri 'none'; form-action 'none'",
        hash(&script),
        hash(&style)
    );
    let icon = format!("data:image/svg+xml;base64,{}", STANDARD.encode(ICON));
    let version = env!("CARGO_PKG_VERSION");
    Ok(format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" \
         content=\"{policy}\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta \
         name=\"color-scheme\" content=\"light dark\">\n<meta name=\"generator\" content=\"permil {version}\">\n<title>permil</title>\n\
         <link rel=\"icon\" href=\"{icon}\">\n<style>{style}</style>\n</head>\n<body>\n{SHELL_HTML}\n<script type=\"text/plain\" \
         id=\"permil-worker\">{worker}</script>\n<script type=\"text/plain\" id=\"permil-engine\">{engine}</script>\n\
         <script>{script}</script>\n</body>\n</html>\n"
    ))
}
