//! Many clients at once on the page's server: `cargo bench --bench explore_load
//! -- CLIENTS SECONDS [BRIEF]`. Each moves the budget, reads until the proven
//! formula is there and moves on; the memory of the server is read while it works.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

/// What one client saw, in milliseconds.
#[derive(Default)]
struct Seen {
    continuous: Vec<f64>,
    proven: Vec<f64>,
    errors: Vec<String>,
}

fn main() {
    let numbers: Vec<String> = std::env::args().skip(1).filter(|argument| !argument.starts_with("--")).collect();
    let number = |at: usize, default: u64| numbers.get(at).and_then(|text| text.parse().ok()).unwrap_or(default);
    let (clients, seconds) = (number(0, 50), number(1, 20));
    let brief = numbers.get(2).map_or("profiles/rose-otto/brief.toml", String::as_str);
    let mut child = Command::new(env!("CARGO_BIN_EXE_permil"))
        .args(["explore", brief, "--no-open"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program");
    let mut line = String::new();
    BufReader::new(child.stdout.take().expect("its output")).read_line(&mut line).expect("an address");
    let (host, key) = line.trim().trim_start_matches("http://").split_once('/').expect("a key");
    let host = host.to_owned();
    let token = token(&host, key);
    let memory = |key: &str| -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let line = status.lines().find(|line| line.starts_with(key)).unwrap_or_default();
        line.split_whitespace().nth(1).and_then(|text| text.parse().ok()).unwrap_or(0)
    };
    let before = memory("VmRSS");
    let ends = AtomicBool::new(false);
    let mut half = 0;
    let seen: Vec<Seen> = thread::scope(|scope| {
        let work: Vec<_> = (0..clients)
            .map(|client| {
                scope.spawn({
                    let (host, token, ends) = (&host, &token, &ends);
                    move || moves(host, token, client, ends)
                })
            })
            .collect();
        thread::sleep(Duration::from_secs(seconds) / 2);
        half = memory("VmRSS");
        thread::sleep(Duration::from_secs(seconds) / 2);
        ends.store(true, Ordering::Relaxed);
        work.into_iter().filter_map(|client| client.join().ok()).collect()
    });
    let (after, peak) = (memory("VmRSS"), memory("VmHWM"));
    let all = |of: fn(&Seen) -> &Vec<f64>| {
        let mut all: Vec<f64> = seen.iter().flat_map(|seen| of(seen).iter().copied()).collect();
        all.sort_by(f64::total_cmp);
        all
    };
    let errors: Vec<&String> = seen.iter().flat_map(|seen| &seen.errors).collect();
    println!("{clients} clients, {seconds} s: {} errors {:?}", errors.len(), errors.first());
    for (what, all) in [("continuous", all(|seen| &seen.continuous)), ("proven", all(|seen| &seen.proven))] {
        let at = |share: f64| all.get(((all.len() as f64 - 1.0) * share) as usize).copied().unwrap_or(0.0);
        println!(
            "{what}: {} answers, ms: median {:.0}, 95 % {:.0}, worst {:.0}",
            all.len(),
            at(0.5),
            at(0.95),
            at(1.0)
        );
    }
    println!(
        "memory, MiB: before {}, half way {}, after {}, peak {}",
        before / 1024,
        half / 1024,
        after / 1024,
        peak / 1024
    );
    let _ = child.kill();
    let _ = child.wait();
}

/// The token with the line of the cookie.
fn token(host: &str, key: &str) -> String {
    let page = |path: &str, more: &str| {
        let mut stream = TcpStream::connect(host).expect("a connection");
        write!(stream, "GET /{path} HTTP/1.1\r\nHost: {host}\r\n{more}Connection: close\r\n\r\n").expect("written");
        let mut page = String::new();
        stream.read_to_string(&mut page).expect("the page");
        page
    };
    let entered = page(key, "");
    let cookie = entered.lines().find_map(|line| line.strip_prefix("set-cookie: ")).expect("a cookie");
    let cookie = format!("Cookie: {}\r\n", cookie.split(';').next().unwrap_or_default());
    let page = page("", &cookie);
    let rest = page.split("name=\"permil-token\" content=\"").nth(1).expect("a token");
    format!("{}\r\n{}", rest.split('"').next().unwrap_or_default(), cookie.trim_end())
}

/// Moves the budget until the end.
fn moves(host: &str, token: &str, client: u64, ends: &AtomicBool) -> Seen {
    let mut seen = Seen::default();
    let mut at = client;
    while !ends.load(Ordering::Relaxed) {
        at = at.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let budget = 66.0 + ((at >> 33) % 400) as f64 / 10.0;
        let body = format!(
            "{{\"view\":{{\"page\":\"client-{client}\",\"edits\":{{\"rules\":{{\"max_price\":{budget}}}}}}},\"seq\":1}}"
        );
        if let Err(error) = one(host, token, &body, &mut seen) {
            seen.errors.push(error);
        }
    }
    seen
}

fn one(host: &str, token: &str, body: &str, seen: &mut Seen) -> Result<(), String> {
    let said = |error: std::io::Error| error.to_string();
    let since = Instant::now();
    let mut stream = TcpStream::connect(host).map_err(said)?;
    stream.set_read_timeout(Some(Duration::from_secs(60))).map_err(said)?;
    write!(
        stream,
        "POST /solve HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nX-Permil-Token: {token}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .map_err(said)?;
    let mut lines = BufReader::new(stream);
    let mut line = String::new();
    loop {
        line.clear();
        if lines.read_line(&mut line).map_err(said)? == 0 {
            return Err("the answer broke off".to_owned());
        }
        let ms = since.elapsed().as_secs_f64() * 1000.0;
        if line.starts_with("HTTP/1.1") && !line.contains(" 200 ") {
            return Err(line.trim().to_owned());
        } else if line.contains("\"kind\":\"continuous\"") {
            seen.continuous.push(ms);
        } else if line.contains("\"kind\":\"final\"") {
            seen.proven.push(ms);
            return Ok(());
        } else if ["wrong", "failed", "none"].iter().any(|kind| line.contains(&format!("\"kind\":\"{kind}\""))) {
            return Err(line.chars().take(200).collect());
        }
    }
}
