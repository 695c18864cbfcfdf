//! The server of `permil explore`, asked as the page asks it, and as others
//! might.

mod support;

use std::collections::BTreeMap;
use std::io::{BufRead, Read, Write};
use std::process::Command;

use rand::seq::index::sample;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use support::page::{Server, of_kind};
use support::program::{Folder, permil};

fn six() -> (Folder, Server) {
    let folder = Folder::copy_of("profiles/six-materials");
    let server = Server::of(&folder.path("brief.toml"));
    (folder, server)
}

/// Material to parts.
fn doses(piece: &Value) -> BTreeMap<String, f64> {
    let doses = piece["doses"].as_object().unwrap();
    doses.iter().map(|(name, dose)| (name.clone(), dose.as_str().unwrap().parse().unwrap())).collect()
}

fn parts(report: &Value) -> BTreeMap<String, f64> {
    let parts = report["formula"]["parts"].as_object().unwrap();
    parts.iter().map(|(name, dose)| (name.clone(), dose.as_f64().unwrap())).collect()
}

#[test]
fn only_its_own_page_is_answered() {
    let (_folder, server) = six();
    let host = server.host();
    let body = json!({"view": {"page": "a"}, "seq": 1}).to_string();
    let good = server.request("/solve", &body);
    assert_eq!(server.raw(good.as_bytes()).status, 200);

    let refused = |request: String, why: &str| {
        let answer = server.raw(request.as_bytes());
        assert_eq!(answer.status, 403, "{why}: {}", answer.body);
        assert!(answer.body.len() < 200, "{why}: {}", answer.body);
    };
    let host_line = format!("Host: {host}\r\n");
    for foreign in
        ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example", "127.0.0.1.evil.example:80", ""]
    {
        refused(good.replace(&host_line, &format!("Host: {foreign}\r\n")), foreign);
        let page = format!("GET / HTTP/1.1\r\nHost: {foreign}\r\nConnection: close\r\n\r\n");
        refused(page, foreign);
    }
    refused(good.replace(&host_line, &format!("{host_line}Host: evil.example\r\n")), "two hosts");
    for foreign in
        ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1", &format!("https://{host}")]
    {
        refused(good.replace(&format!("Origin: http://{host}"), &format!("Origin: {foreign}")), foreign);
    }
    refused(good.replace("X-Permil-Token", "Sec-Fetch-Site: cross-site\r\nX-Permil-Token"), "another site");
    refused(good.replace(&format!("X-Permil-Token: {}\r\n", server.token), ""), "no token");
    refused(good.replace(&server.token, &"0".repeat(server.token.len())), "another token");
    refused(good.replace(&server.token, &server.token[1..]), "part of the token");
    for path in ["/save", "/ask", "/download"] {
        refused(good.replace("/solve", path).replace(&server.token, "x"), path);
    }
    let by_name = good.replace(&host_line, &format!("Host: localhost:{}\r\n", server.port));
    assert_eq!(server.raw(by_name.as_bytes()).status, 200);
    let put = server.raw(good.replace("POST", "PUT").as_bytes());
    assert_eq!(put.status, 405);
    assert_eq!(server.get("/solve").status, 405);
}

#[test]
fn without_the_printed_key_nothing_is_served() {
    let (_folder, server) = six();
    let host = server.host();
    let ask = |path: &str, more: &str| {
        server.raw(format!("GET {path} HTTP/1.1\r\nHost: {host}\r\n{more}Connection: close\r\n\r\n").as_bytes())
    };
    for path in ["/", "/?key=", "/?key=0", "/?brief=brief.toml", "/page.js", "/page.css", "/nothing"] {
        let answer = ask(path, "");
        assert_eq!(answer.status, 403, "{path}");
        assert!(!answer.head.contains("set-cookie") && !answer.body.contains(&server.token), "{path}: {}", answer.body);
    }
    let front = ask("/", "").body;
    assert!(front.contains("the whole address") && front.contains("bookmark") && front.contains("--port"), "{front}");
    let key = server.address.split("key=").nth(1).unwrap();
    for wrong in [&key[1..], &format!("{key}0"), &"0".repeat(key.len())] {
        assert_eq!(ask(&format!("/?key={wrong}"), "").status, 403, "{wrong}");
    }
    // The key is exchanged at once, whatever led there, and is not the cookie.
    let entered = ask(
        &format!("/?key={key}"),
        "Sec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: navigate\r\nSec-Fetch-Dest: document\r\n",
    );
    assert_eq!(entered.status, 200);
    assert!(entered.head.contains("httponly") && entered.head.contains("samesite=strict"), "{}", entered.head);
    assert!(!entered.body.contains(key) && !entered.body.contains(&server.token) && !entered.head.contains(key));
    // A name that was made to lead here learns nothing, with the key or without.
    let rebound = server.raw(
        format!("GET /?key={key} HTTP/1.1\r\nHost: evil.example:{}\r\nConnection: close\r\n\r\n", server.port)
            .as_bytes(),
    );
    assert!(rebound.status == 403 && !rebound.head.contains("set-cookie"), "{}", rebound.head);
    // The token is not enough without the cookie, nor the cookie of another start.
    let good = server.request("/solve", &json!({"view": {"page": "a"}, "seq": 1}).to_string());
    let cookie = format!("Cookie: {}\r\n", server.cookie);
    assert_eq!(server.raw(good.replace(&cookie, "").as_bytes()).status, 403);
    let (_other_folder, other) = six();
    let foreign = format!("Cookie: permil-{}={}\r\n", server.port, other.cookie.split('=').nth(1).unwrap());
    assert_eq!(server.raw(good.replace(&cookie, &foreign).as_bytes()).status, 403);
}

/// Root alone can become somebody else; elsewhere this says nothing.
#[cfg(unix)]
#[test]
fn another_user_of_the_machine_can_neither_read_nor_write() {
    use std::os::unix::fs::PermissionsExt;
    let is_root = Command::new("id").arg("-u").output().is_ok_and(|it| it.stdout.starts_with(b"0\n"));
    let nobody = |arguments: &[&str]| {
        Command::new("setpriv")
            .args(["--reuid=65534", "--regid=65534", "--clear-groups"])
            .args(arguments)
            .current_dir("/")
            .output()
    };
    let can = |arguments: &[&str]| nobody(arguments).is_ok_and(|it| it.status.success());
    if !is_root || !can(&["true"]) || !can(&["curl", "--version"]) {
        eprintln!("not looked at: needs root, setpriv and curl");
        return;
    }
    let (folder, server) = six();
    let root = folder.path("");
    std::fs::set_permissions(&root, std::fs::Permissions::from_mode(0o700)).unwrap();
    assert!(!can(&["cat", &folder.path("brief.toml")]), "the folder is closed to them");
    let before = (folder.names(), folder.read("brief.toml"));
    let curl = |arguments: &[&str]| {
        let all = [&["curl", "-s", "-i", "-m", "20"], arguments].concat();
        String::from_utf8_lossy(&nobody(&all).unwrap().stdout).into_owned()
    };
    let page = curl(&[&format!("http://{}/", server.host())]);
    assert!(page.contains(" 403 ") && !page.contains("permil-token"), "{page}");
    let save =
        json!({"view": {"page": "x", "edits": {"rules": {"max_price": 1}}}, "brief": "brief.toml", "overwrite": true});
    let stolen = format!("X-Permil-Token: {}", server.token);
    for (path, body) in [
        ("save", save),
        ("solve", json!({"view": {"page": "x"}, "seq": 1})),
        ("download", json!({"view": {"page": "x"}, "file": "csv"})),
        ("files", json!({"view": {"page": "x"}})),
    ] {
        let url = format!("http://{}/{path}", server.host());
        let told = curl(&["-H", "Content-Type: application/json", "-H", &stolen, "-d", &body.to_string(), &url]);
        assert!(told.contains(" 403 "), "{path}: {told}");
    }
    assert_eq!((folder.names(), folder.read("brief.toml")), before);
    // Command lines are open to everybody.
    let line = nobody(&["cat", &format!("/proc/{}/cmdline", server.child.id())]).unwrap().stdout;
    let key = server.address.split("key=").nth(1).unwrap();
    assert!(!line.is_empty() && !String::from_utf8_lossy(&line).contains(key));
}

#[cfg(unix)]
#[test]
fn the_browser_is_not_given_the_key_on_its_command_line() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::copy_of("profiles/six-materials");
    folder.write("xdg-open", &format!("#!/bin/sh\necho \"$@\" > {}\n", folder.path("told")));
    std::fs::set_permissions(folder.path("xdg-open"), std::fs::Permissions::from_mode(0o755)).unwrap();
    let path = format!("{}:{}", folder.path(""), std::env::var("PATH").unwrap());
    let mut command = support::program::command(&["explore", &folder.path("brief.toml")]);
    command.env("PATH", path).env("XDG_RUNTIME_DIR", folder.path(""));
    let server = Server::started(command);
    let since = std::time::Instant::now();
    while !folder.names().contains(&"told".to_owned()) || folder.read("told").is_empty() {
        assert!(since.elapsed().as_secs() < 60, "no browser was asked for");
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let told = folder.read("told");
    let key = server.address.split("key=").nth(1).unwrap();
    assert!(!told.contains(key), "{told}");
    let step = told.trim().to_owned();
    assert!(std::fs::read_to_string(&step).unwrap().contains(&server.address));
    assert_eq!(std::fs::metadata(&step).unwrap().permissions().mode() & 0o777, 0o600);
}

#[cfg(unix)]
#[test]
fn only_the_brief_and_what_the_page_made_is_written_over() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let (folder, server) = six();
    folder.write("trials.toml", "# mine\n");
    folder.write("elsewhere.txt", "# mine\n");
    symlink(folder.path("elsewhere.txt"), folder.path("link.toml")).unwrap();
    symlink(folder.path("nowhere.txt"), folder.path("dangling.toml")).unwrap();
    let view = json!({"page": "a", "edits": {"rules": {"max_price": 22}}});
    let save = |brief: &str, formula: &str| {
        server.post("/save", &json!({"view": view, "brief": brief, "formula": formula, "overwrite": true}))
    };
    for name in ["trials.toml", "formula.toml", "link.toml", "dangling.toml"] {
        for (brief, formula) in [(name, ""), ("", name), (name, "new.toml"), ("new.toml", name)] {
            assert_eq!(save(brief, formula).status, 400, "{brief} {formula}");
        }
    }
    assert_eq!((folder.read("trials.toml"), folder.read("elsewhere.txt")), ("# mine\n".into(), "# mine\n".into()));
    assert!(!folder.names().iter().any(|name| ["new.toml", "nowhere.txt"].contains(&name.as_str())));
    // Its own files it may, as long as nobody else changed them; their mode stays.
    assert_eq!(save("mod-2.toml", "mod-2-formula.toml").status, 200);
    let closed = std::fs::Permissions::from_mode(0o600);
    std::fs::set_permissions(folder.path("mod-2.toml"), closed.clone()).unwrap();
    std::fs::set_permissions(folder.path("brief.toml"), closed).unwrap();
    assert_eq!(save("mod-2.toml", "mod-2-formula.toml").status, 200);
    assert_eq!(save("brief.toml", "").status, 200);
    for name in ["mod-2.toml", "brief.toml"] {
        let mode = std::fs::metadata(folder.path(name)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{name}");
    }
    folder.write("mod-2-formula.toml", "# smelled today\n");
    assert_eq!(save("", "mod-2-formula.toml").status, 400);
    assert_eq!(folder.read("mod-2-formula.toml"), "# smelled today\n");
}

#[test]
fn an_answer_says_which_brief_palette_limits_and_changes_it_answers() {
    let (folder, server) = six();
    let print = |edits: &Value| {
        let pieces = server.solve("a", edits);
        let prints: Vec<&str> = pieces.iter().map(|piece| piece["fingerprint"].as_str().unwrap()).collect();
        assert!(prints.iter().all(|it| *it == prints[0] && it.len() == 64), "one answer, one state: {prints:?}");
        prints[0].to_owned()
    };
    let (plain, dear) = (print(&json!({})), print(&json!({"rules": {"max_price": 22}})));
    assert_ne!(plain, dear);
    assert_ne!(plain, print(&json!({"rules": {"max_price": 1}})), "a collision too");
    assert_eq!(plain, print(&json!({})), "the same state, the same fingerprint");
    let ask = json!({"view": {"page": "a"}, "question": "push", "material": "Eugenol"});
    assert_eq!(server.post("/ask", &ask).pieces()[0]["fingerprint"], plain.as_str());
    let page = server.get("/").body;
    let now = || server.post("/files", &json!({"view": {"page": "a"}})).json();
    assert!(page.contains(&format!("data-disk=\"{}\"", now()["disk"].as_str().unwrap())));
    let stale = json!({"page": "a", "shown": plain});
    let csv = json!({"view": stale, "file": "csv"});
    assert_eq!(server.post("/download", &csv).status, 200);
    // The palette is another: the number that the page shows is of no file now.
    let before = now();
    folder.write("palette.toml", &format!("# smelled again\n{}", folder.read("palette.toml")));
    assert_ne!(now()["disk"], before["disk"]);
    assert_ne!(print(&json!({})), plain);
    assert_eq!(server.post("/download", &csv).status, 422);
    assert_eq!(server.post("/save", &json!({"view": stale, "brief": "late.toml"})).status, 422);
    assert!(!folder.names().contains(&"late.toml".to_owned()));
}

#[test]
fn after_a_save_the_page_starts_from_the_saved_brief() {
    let (folder, server) = six();
    let view = json!({"page": "a", "edits": {"rules": {"max_price": 22}}});
    assert_eq!(server.post("/save", &json!({"view": view, "brief": "mod 2.toml"})).status, 200);
    let page = server.get("/?brief=mod%202.toml").body;
    assert!(page.contains("data-file=\"mod 2.toml\"") && page.contains("data-file=\"22\""), "{page}");
    let body = json!({"view": {"page": "b", "brief": "mod 2.toml"}, "seq": 1});
    let pieces = server.post("/solve", &body).pieces();
    let run = permil(&["propose", &folder.path("mod 2.toml"), "--no-worth", "--format", "json"]).ended(0).json();
    assert_eq!(doses(of_kind(&pieces, "final")[0]), parts(&run));
    // No other file of the folder, and none of another folder.
    for name in ["formula.toml", "palette.toml", "..%2fbrief.toml", "nothing.toml"] {
        assert!(server.get(&format!("/?brief={name}")).body.contains("The brief cannot be read"), "{name}");
    }
}

#[test]
fn every_answer_forbids_what_the_page_does_not_need() {
    let (_folder, server) = six();
    for path in ["/", "/page.js", "/page.css", "/regular.woff2", "/nothing"] {
        let head = server.get(path).head;
        for line in [
            "content-security-policy: default-src 'none'; script-src 'self'",
            "x-content-type-options: nosniff",
            "cache-control: no-store",
            "referrer-policy: no-referrer",
            "x-frame-options: deny",
        ] {
            assert!(head.contains(line), "{line} in {path}: {head}");
        }
        assert!(!head.contains("access-control"), "{head}");
    }
    // Nothing of the page is loaded from elsewhere, or would need another policy.
    for path in ["/", "/page.js", "/page.css"] {
        let text = server.get(path).body;
        assert!(!text.contains("http://") && !text.contains("https://"), "{path}");
        assert!(!text.contains(" style=\"") && !text.contains(" onclick") && !text.contains("<script>"), "{path}");
    }
}

#[test]
fn no_path_leads_out() {
    let (folder, server) = six();
    for path in [
        "/../Cargo.toml",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/page.css/../../brief.toml",
        "/..%2f..%2fetc%2fpasswd",
        "/brief.toml",
        "//etc/passwd",
    ] {
        assert_eq!(server.get(path).status, 404, "{path}");
    }
    let before = folder.names();
    for name in
        ["../out.toml", "/tmp/out.toml", "a/b.toml", "..\\out.toml", ".out.toml", "out.txt", "out\u{0}.toml", ".."]
    {
        let answer = server.post("/save", &json!({"view": {"page": "a"}, "formula": name, "overwrite": true}));
        assert_eq!(answer.status, 400, "{name}: {}", answer.body);
    }
    assert_eq!(folder.names(), before);
}

#[test]
fn what_is_too_much_or_not_understood_gets_a_short_error() {
    let (_folder, server) = six();
    let large = server.request("/solve", &"x".repeat(300_000));
    assert_eq!(server.raw(large.as_bytes()).status, 413);
    let claimed = server.request("/solve", "").replace("Content-Length: 0", "Content-Length: 99999999999");
    assert_eq!(server.raw(claimed.as_bytes()).status, 413);
    let long = server.get(&format!("/{}", "x".repeat(5000)));
    assert!(long.status == 414 || long.status == 431, "{}", long.status);
    for body in [
        "",
        "{",
        "[]",
        "{\"view\":{\"page\":\"a\"}}",
        "{\"view\":{\"page\":\"a\",\"edits\":{\"rules\":{\"unknown\":1}}},\"seq\":1}",
        "{\"view\":{\"page\":\"a\",\"edits\":{\"rules\":{\"max_price\":\"much\"}}},\"seq\":1}",
        "{\"view\":{\"page\":\"a\",\"edits\":{\"rules\":{\"max_price\":1e999}}},\"seq\":1}",
        "{\"view\":{\"page\":\"\"},\"seq\":1}",
        "{\"view\":{\"page\":\"../x\"},\"seq\":1}",
        &"[".repeat(100_000),
    ] {
        let answer = server.raw(server.request("/solve", body).as_bytes());
        assert!([400, 422].contains(&answer.status), "{} for {body:.60}", answer.status);
        assert!(answer.json()["error"].is_string() && answer.body.len() < 500, "{}", answer.body);
    }
    let text = server.request("/solve", "{}").replace("application/json", "text/plain");
    assert_eq!(server.raw(text.as_bytes()).status, 415);
    assert_eq!(server.raw(b"\x16\x03\x01\x02\x00nonsense\r\n\r\n").status, 400);
    // It is still there.
    assert_eq!(of_kind(&server.solve("a", &json!({})), "final").len(), 1);
}

#[test]
fn a_slow_client_is_dropped_and_keeps_nobody_waiting() {
    let (_folder, server) = six();
    let mut half_a_head = server.connect();
    half_a_head.write_all(b"GET / HTTP/1.1\r\nHost: ").unwrap();
    let mut half_a_body = server.connect();
    let request = server.request("/solve", &json!({"view": {"page": "a"}, "seq": 1}).to_string());
    half_a_body.write_all(&request.as_bytes()[..request.len() - 5]).unwrap();
    assert_eq!(server.get("/").status, 200, "others are answered");
    let mut rest = String::new();
    let _ = half_a_head.read_to_string(&mut rest);
    assert!(!rest.contains("200 OK"), "{rest}");
    rest.clear();
    let _ = half_a_body.read_to_string(&mut rest);
    assert!(rest.contains(" 408 "), "{rest}");
}

#[test]
fn names_cannot_become_markup() {
    let folder = Folder::copy_of("profiles/six-materials");
    let name = "<img src=x onerror=alert(1)>\\\"'&";
    let palette = folder.read("palette.toml").replace("\"Linalool\"", &format!("\"{name}\""));
    let palette = palette.replace("fresh =", "\"<b>fresh</b>\" =");
    folder.write("palette.toml", &palette);
    let brief = folder.read("brief.toml").replace("fresh =", "\"<b>fresh</b>\" =");
    folder.write("brief.toml", &brief.replace("Small rose", "</title><script>alert(1)</script>"));
    let server = Server::of(&folder.path("brief.toml"));
    let page = server.get("/").body;
    let edits = json!({"doses": {"<img src=x onerror=alert(1)>\"'&": {"fixed": 10}}});
    let pieces = server.solve("a", &edits);
    assert_eq!(of_kind(&pieces, "final").len(), 1, "{pieces:?}");
    let starts = server.post("/ask", &json!({"view": {"page": "a"}, "question": "starts"})).pieces();
    let html = pieces.iter().chain(&starts).flat_map(|piece| piece["html"].as_object().unwrap().values());
    for text in html.map(|html| html.as_str().unwrap()).chain([page.as_str()]) {
        assert!(!text.contains("<img") && !text.contains("<b>fresh") && !text.contains("<script>alert"), "{text}");
    }
    assert!(page.contains("&lt;img"));
}

#[test]
fn the_pages_formula_is_that_of_the_saved_brief() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let server = Server::of(&folder.path("brief.toml"));
    let edits = json!({
        "target": {"rosy": {"score": 7}, "green": {"score": 2.5, "weight": 1.5}, "metallic": {"max": null}},
        "rules": {"max_price": 82.5, "max_materials": 8, "strength_max": 90},
        "uses": {"1": {"dosage": 2}},
        "doses": {"Linalool": {"fixed": 30}, "Nerol": {"use": "may"}, "Eugenol": {"use": "never"}, "Rose oxide": {"max": 1.5}},
        "ratios": {"Citronellol/Geraniol": {"max": 4}},
    });
    let pieces = server.solve("a", &edits);
    let [last] = of_kind(&pieces, "final")[..] else { panic!("{pieces:?}") };
    assert!(of_kind(&pieces, "continuous").len() == 1 && last["html"]["headline"].as_str().unwrap().contains("proven"));
    let saved = server.post(
        "/save",
        &json!({"view": {"page": "a", "edits": edits}, "brief": "mod-2.toml", "formula": "mod-2-formula.toml"}),
    );
    assert_eq!(saved.status, 200, "{}", saved.body);
    let run = permil(&["propose", &folder.path("mod-2.toml"), "--no-worth", "--format", "json"]).ended(0).json();
    assert_eq!(run["status"], "optimal");
    assert_eq!(doses(last), parts(&run));
    let compared =
        permil(&["compare", &folder.path("mod-2.toml"), &folder.path("mod-2-formula.toml"), "--format", "json"]);
    let compared = compared.ended(0).json();
    assert_eq!(parts(&compared["formulas"][0]), parts(&run));
    assert_eq!(compared["formulas"][0]["broken"], json!([]));
    // Comments stay, and what was not moved.
    let (old, new) = (folder.read("brief.toml"), folder.read("mod-2.toml"));
    for comment in old.lines().filter(|line| line.starts_with('#')) {
        assert!(new.contains(comment), "{comment}");
    }
    assert!(new.contains("honeyed = { weight = 1.5 }") && !new.contains("= 70"), "{new}");
}

#[test]
fn nothing_is_written_over_unless_that_is_said() {
    let (folder, server) = six();
    let before: Vec<String> = ["brief.toml", "formula.toml", "palette.toml"].map(|name| folder.read(name)).into();
    let view = json!({"page": "a", "edits": {"rules": {"max_price": 22}}});
    let both = json!({"view": view, "brief": "brief.toml", "formula": "new.toml"});
    let refused = server.post("/save", &both);
    assert_eq!((refused.status, refused.json()["exists"].clone()), (409, json!(["brief.toml"])));
    for (brief, formula) in
        [("palette.toml", ""), ("", "palette.toml"), ("", "brief.toml"), ("x.toml", "x.toml"), ("", "")]
    {
        let save = json!({"view": view, "brief": brief, "formula": formula, "overwrite": true});
        assert_eq!(server.post("/save", &save).status, 400, "{brief} {formula}");
    }
    let after: Vec<String> = ["brief.toml", "formula.toml", "palette.toml"].map(|name| folder.read(name)).into();
    assert_eq!(after, before);
    assert!(!folder.names().contains(&"new.toml".to_owned()), "both or neither");

    let mut both = both;
    both["overwrite"] = json!(true);
    assert_eq!(server.post("/save", &both).status, 200);
    assert_eq!(folder.read("brief.toml"), before[0].replace("max_price = 19", "max_price = 22"));
    assert!(folder.names().contains(&"new.toml".to_owned()));
    // A brief that cannot be solved can be saved; its formula cannot.
    let view = json!({"page": "a", "edits": {"rules": {"max_price": 1}}});
    let none = server.post("/save", &json!({"view": view, "brief": "cheap.toml", "formula": "cheap-formula.toml"}));
    assert_eq!(none.status, 422, "{}", none.body);
    assert!(!folder.names().iter().any(|name| name.contains("cheap")));
}

#[test]
fn an_impossible_brief_says_what_collides_and_offers_what_makes_room() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let server = Server::of(&folder.path("brief.toml"));
    let pieces = server.solve("a", &json!({"rules": {"max_price": 40}}));
    assert!(of_kind(&pieces, "final").is_empty());
    let last = pieces.last().unwrap();
    let html = last["html"]["conflict"].as_str().unwrap();
    assert!(html.contains("the cost is at most 40 EUR/kg") && html.contains("Rose otto is exactly 5 ‰"), "{html}");
    let offers: Vec<Value> = html
        .split("data-edits=\"")
        .skip(1)
        .map(|rest| serde_json::from_str(&rest.split('"').next().unwrap().replace("&quot;", "\"")).unwrap())
        .collect();
    assert!(offers.len() >= 2, "{html}");
    for offer in offers {
        // As the page does it: the offer is merged into what was moved.
        let mut edits = json!({"rules": {"max_price": 40}});
        for (table, inner) in offer.as_object().unwrap() {
            for (key, value) in inner.as_object().unwrap() {
                edits[table][key] = value.clone();
            }
        }
        assert_eq!(of_kind(&server.solve("b", &edits), "final").len(), 1, "{edits}");
    }
}

#[test]
fn what_the_reader_refuses_is_told_and_the_page_goes_on() {
    let (_folder, server) = six();
    for edits in [
        json!({"target": {"rosy": {"score": 11}}}),
        json!({"target": {"nothing of that name": {"score": 1}}}),
        json!({"doses": {"Linalool": {"use": "perhaps"}}}),
        json!({"rules": {"max_materials": 2.5}}),
        json!({"target": {"rosy": {"score": 0}, "fresh": {"score": 0}, "green": {"score": 0}, "spicy": {"score": 0}}}),
    ] {
        let pieces = server.solve("a", &edits);
        assert_eq!(pieces.len(), 1, "{edits}");
        assert_eq!(pieces[0]["kind"], "wrong", "{edits}");
    }
    assert_eq!(of_kind(&server.solve("a", &json!({})), "final").len(), 1);
}

#[test]
fn a_question_is_answered_with_a_picture() {
    let (_folder, server) = six();
    for (question, element, words) in
        [("starts", "starts", "Start 2"), ("push", "closer", "<svg"), ("leeway", "closer", "<svg")]
    {
        let ask = json!({"view": {"page": "a"}, "question": question, "material": "Eugenol"});
        let pieces = server.post("/ask", &ask).pieces();
        let html = pieces[0]["html"][element].as_str().unwrap();
        assert!(html.contains(words) && !html.contains("style="), "{question}: {html}");
    }
    let unknown = json!({"view": {"page": "a"}, "question": "push", "material": "Nothing"});
    assert!(server.post("/ask", &unknown).body.contains("Choose a material"));
}

#[test]
fn a_pinned_formula_stands_beside_the_present_one() {
    let (_folder, server) = six();
    let first = server.solve("a", &json!({}));
    let pinned = doses(of_kind(&first, "final")[0]);
    let edits = json!({"rules": {"max_price": 17}});
    let body = json!({"view": {"page": "a", "edits": edits, "pin": {"name": "<first>", "parts": pinned}}, "seq": 2});
    let pieces = server.post("/solve", &body).pieces();
    let html = of_kind(&pieces, "final")[0]["html"]["compare"].as_str().unwrap();
    assert!(html.contains("&lt;first&gt;") && html.contains("breaks rules") && html.contains("at most 17"), "{html}");
    // What does not fit the shelf is no formula.
    let body = json!({"view": {"page": "a", "pin": {"name": "x", "parts": {"Nothing": 1000}}}, "seq": 3});
    assert_eq!(of_kind(&server.post("/solve", &body).pieces(), "final")[0]["html"]["compare"], "");
}

#[test]
fn files_are_given() {
    let (folder, server) = six();
    let give = |file: &str| server.post("/download", &json!({"view": {"page": "a"}, "file": file}));
    let csv = permil(&["propose", &folder.path("brief.toml"), "--no-worth", "--format", "csv"]).ended(0).stdout;
    assert_eq!(give("csv").body, csv);
    assert!(give("svg").body.starts_with("<svg"));
    assert!(give("png").bytes.starts_with(b"\x89PNG"));
    let sheet = give("weigh");
    assert!(sheet.head.contains("text/html") && sheet.body.contains("Reading") && sheet.body.contains("Small rose"));
    let report = give("report").body;
    let page = folder.path("report.html");
    permil(&["report", &folder.path("brief.toml"), "--save", &page]).ended(0);
    assert_eq!(report, folder.read("report.html"));
    assert_eq!(give("palette.toml").status, 422);
    let none = json!({"view": {"page": "a", "edits": {"rules": {"max_price": 1}}}, "file": "csv"});
    assert_eq!(server.post("/download", &none).status, 422);
    let batch = json!({"view": {"page": "a"}, "file": "weigh", "batch": -1});
    assert_eq!(server.post("/download", &batch).status, 422);
}

/// A shelf of a thousand made-up materials and a target that asks a little of
/// everything, ten materials at most: its proof takes far longer than any test.
fn endless() -> Folder {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut palette = "[descriptors]\n".to_owned();
    let mut brief =
        "palette = \"palette.toml\"\n[formula]\nstep = 1\nmin_dose = 2\nmax_materials = 10\n[target]\n".to_owned();
    for descriptor in 0..80 {
        palette += &format!("d{descriptor} = \"made up\"\n");
        brief += &format!("d{descriptor} = {:.1}\n", random.random_range(0.5..4.0));
    }
    for material in 0..1000 {
        let strength = 10_f64.powf(random.random_range(-1.0..3.0));
        palette += &format!("[[material]]\nname = \"M{material}\"\nstrength = {strength:.3}\nscores = {{ ");
        let scores: Vec<String> = sample(&mut random, 80, 6)
            .into_iter()
            .map(|d| format!("d{d} = {:.1}", random.random_range(1.0..9.0)))
            .collect();
        palette += &format!("{} }}\n", scores.join(", "));
    }
    Folder::of(&[("palette.toml", &palette), ("brief.toml", &brief)])
}

#[test]
fn newer_input_ends_older_work() {
    let folder = endless();
    let server = Server::of(&folder.path("brief.toml"));
    let older = server.request("/solve", &json!({"view": {"page": "a"}, "seq": 1}).to_string());
    let mut stream = server.connect();
    stream.write_all(older.as_bytes()).unwrap();
    let mut first = [0; 600];
    stream.read_exact(&mut first).unwrap();
    let newer = json!({"rules": {"step": null, "min_dose": null, "max_materials": null}});
    let pieces = server.solve("a", &newer);
    assert_eq!(of_kind(&pieces, "final").len(), 1);
    let mut rest = Vec::new();
    let _ = stream.read_to_end(&mut rest);
    let text = String::from_utf8_lossy(&first).into_owned() + &String::from_utf8_lossy(&rest);
    assert!(text.contains("\"kind\":\"continuous\"") && !text.contains("\"kind\":\"final\""), "{text:.300}");
}

#[test]
fn a_move_does_not_wait_for_questions() {
    let folder = endless();
    let server = Server::of(&folder.path("brief.toml"));
    // Two pages whose questions take every place that there is for questions.
    let mut asked = Vec::new();
    for page in ["a", "b", "c"] {
        let body = json!({"view": {"page": page}, "question": "starts"}).to_string();
        let mut stream = server.connect();
        stream.write_all(server.request("/ask", &body).as_bytes()).unwrap();
        asked.push(stream);
    }
    std::thread::sleep(std::time::Duration::from_millis(500));
    let quick = json!({"rules": {"step": null, "min_dose": null, "max_materials": null}});
    let body = json!({"view": {"page": "a", "edits": quick}, "seq": 1}).to_string();
    let mut moved = server.connect();
    moved.write_all(server.request("/solve", &body).as_bytes()).unwrap();
    // What goes with the formula waits its turn: the formula does not.
    let mut lines = std::io::BufReader::new(moved).lines().map_while(Result::ok);
    assert!(lines.any(|line| line.contains("\"kind\":\"final\"")), "answered while the others are at it");
    // The question of the same page was ended by it: its answer ends too.
    let mut rest = Vec::new();
    let _ = asked[0].read_to_end(&mut rest);
    assert!(!String::from_utf8_lossy(&rest).contains("Start 2"));
}

#[cfg(unix)]
#[test]
fn a_signal_ends_it_cleanly_whatever_it_does() {
    for signal in ["-TERM", "-INT"] {
        let folder = endless();
        let mut server = Server::of(&folder.path("brief.toml"));
        let mut stream = server.connect();
        stream
            .write_all(server.request("/solve", &json!({"view": {"page": "a"}, "seq": 1}).to_string()).as_bytes())
            .unwrap();
        let mut first = [0; 600];
        stream.read_exact(&mut first).unwrap();
        assert!(Command::new("kill").args([signal, &server.child.id().to_string()]).status().unwrap().success());
        assert_eq!(server.child.wait().unwrap().code(), Some(0), "{signal}");
    }
}

#[test]
fn faults_are_told_before_a_page_opens() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("brief.toml", "max_price = 19", "max_price = \"cheap\"");
    let ran = permil(&["explore", &folder.path("brief.toml"), "--no-open"]).ended(2);
    assert!(ran.stderr.contains("brief.toml:") && ran.stdout.is_empty(), "{}", ran.stderr);
    let (_folder, server) = six();
    let port = server.port.to_string();
    let taken = permil(&["explore", "profiles/six-materials/brief.toml", "--no-open", "--port", &port]).ended(2);
    assert!(taken.stderr.contains("cannot be used"), "{}", taken.stderr);
}

#[test]
fn help() {
    let help = permil(&["explore", "--help"]).ended(0).stdout;
    let lines: Vec<&str> = help.lines().map(str::trim_end).collect();
    insta::assert_snapshot!("help", lines.join("\n"));
}
