//! Writes the page without a server: one HTML file with the engine, the fonts, the style
//! and the script within.
//!
//! It builds the engine for a browser (the package beside this file) and binds it with
//! wasm-bindgen, of the version that the engine was built against; where the machine has
//! none it installs one from the registry, below `target/`. Nothing of it is fetched when the
//! page is opened.
//!
//! usage: `cargo run --release --bin bundle -- target/permil.html`

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::{Compression, GzBuilder};
use sha2::{Digest, Sha256};

const TARGET: &str = "wasm32-unknown-unknown";
const PAGE_CSS: &str = include_str!("../explore/page.css");
const PAGE_JS: &str = include_str!("../explore/page.js");
const ICON: &str = include_str!("../explore/icon.svg");
const SHELL_CSS: &str = include_str!("shell.css");
const SHELL_HTML: &str = include_str!("shell.html");
const SCRIPTS: [&str; 4] = [include_str!("zip.js"), include_str!("store.js"), PAGE_JS, include_str!("shell.js")];
const WORKER_JS: &str = include_str!("worker.js");
const FONTS: [(&str, &[u8]); 2] = [
    ("/regular.woff2", include_bytes!("../../assets/fonts/Inter-Regular-sub.woff2")),
    ("/semibold.woff2", include_bytes!("../../assets/fonts/Inter-SemiBold-sub.woff2")),
];

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
    run(Command::new("cargo")
        .args(["build", "--release", "--locked", "--target", TARGET, "--manifest-path"])
        .arg(&manifest)
        .env("CARGO_TARGET_DIR", &own))?;
    let tool = binder(root, &target)?;
    let bound = own.join("bound");
    run(Command::new(tool)
        .args(["--target", "no-modules", "--no-typescript", "--out-dir"])
        .arg(&bound)
        .arg(own.join(TARGET).join("release/permil_web.wasm")))?;
    let read = |name: &str| fs::read(bound.join(name)).map_err(|error| format!("{name}: {error}"));
    let engine = gzipped(&read("permil_web_bg.wasm")?)?;
    let glue = String::from_utf8(read("permil_web.js")?).map_err(|error| error.to_string())?;
    let html = page(&STANDARD.encode(engine), &glue)?;
    fs::write(to, &html).map_err(|error| format!("{}: {error}", to.display()))?;
    Ok(html.len())
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

/// Packed without a name or a time: the same bytes each time.
fn gzipped(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let mut packer = GzBuilder::new().mtime(0).write(Vec::new(), Compression::best());
    packer.write_all(bytes).and_then(|()| packer.finish()).map_err(|error| error.to_string())
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
    let mut style = format!("{PAGE_CSS}\n{SHELL_CSS}");
    for (name, font) in FONTS {
        style = style.replace(name, &format!("data:font/woff2;base64,{}", STANDARD.encode(font)));
    }
    let hash = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
    let policy = format!(
        "default-src 'none'; script-src {} 'wasm-unsafe-eval'; worker-src blob:; style-src {}; font-src data:; \
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
