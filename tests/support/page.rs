//! The page's server as a small client sees it: requests written by hand, so
//! that they can be wrong in any way.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::Value;

use super::program::command;

/// A running `permil explore`, ended with the test.
pub struct Server {
    pub child: Child,
    pub port: u16,
    pub token: String,
    /// The printed address, with its key.
    pub address: String,
    /// The cookie that the key is exchanged for.
    pub cookie: String,
}

impl Server {
    /// Serves a brief on a free port.
    pub fn of(brief: &str) -> Server {
        Server::with(&["explore", brief, "--no-open", "--time-limit", "300"])
    }

    pub fn with(arguments: &[&str]) -> Server {
        Server::started(command(arguments))
    }

    pub fn started(mut command: Command) -> Server {
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().to_owned();
        let (host, key) = address.strip_prefix("http://127.0.0.1:").unwrap().split_once('/').unwrap();
        let (port, key) = (host.parse().unwrap(), format!("/{key}"));
        let mut server = Server { child, port, token: String::new(), address, cookie: String::new() };
        let entered = server.get(&key);
        let cookie = entered.head.lines().find_map(|line| line.strip_prefix("set-cookie: ")).expect("a cookie");
        server.cookie = cookie.split(';').next().unwrap().to_owned();
        let page = server.get("/").body;
        let token = page.split("name=\"permil-token\" content=\"").nth(1).expect("a token");
        server.token = token.split('"').next().unwrap().to_owned();
        server
    }

    pub fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Sends bytes and reads until the connection is closed.
    pub fn raw(&self, request: &[u8]) -> Answer {
        let mut stream = self.connect();
        // Where the server has heard enough it may close before all is sent.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        Answer::of(&bytes)
    }

    pub fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(400))).unwrap();
        stream
    }

    pub fn get(&self, path: &str) -> Answer {
        self.raw(
            format!(
                "GET {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
                self.host(),
                self.cookie
            )
            .as_bytes(),
        )
    }

    /// The text of a request with the token and everything that the page sends.
    pub fn request(&self, path: &str, body: &str) -> String {
        format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nX-Permil-Token: {}\r\nCookie: {}\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            self.token,
            self.cookie,
            body.len(),
            host = self.host(),
        )
    }

    pub fn post(&self, path: &str, body: &Value) -> Answer {
        self.raw(self.request(path, &body.to_string()).as_bytes())
    }

    /// All pieces of an answer to a state.
    #[track_caller]
    pub fn solve(&self, page: &str, edits: &Value) -> Vec<Value> {
        let answer = self.post("/solve", &serde_json::json!({"view": {"page": page, "edits": edits}, "seq": 1}));
        assert_eq!(answer.status, 200, "{}", answer.body);
        answer.pieces()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What came back.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub bytes: Vec<u8>,
    pub body: String,
}

impl Answer {
    fn of(bytes: &[u8]) -> Answer {
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").unwrap_or(bytes.len());
        let head = String::from_utf8_lossy(&bytes[..end]).to_lowercase();
        let rest = bytes.get(end + 4..).unwrap_or_default();
        let body = if head.contains("transfer-encoding: chunked") { unchunked(rest) } else { rest.to_vec() };
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        Answer { status, head, body: String::from_utf8_lossy(&body).into_owned(), bytes: body }
    }

    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error} in {}", self.body))
    }

    pub fn pieces(&self) -> Vec<Value> {
        self.body.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }
}

fn unchunked(mut rest: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    while let Some(end) = rest.windows(2).position(|two| two == b"\r\n") {
        let size = usize::from_str_radix(&String::from_utf8_lossy(&rest[..end]), 16).unwrap_or(0);
        let Some(chunk) = rest.get(end + 2..end + 2 + size) else { break };
        whole.extend_from_slice(chunk);
        rest = rest.get(end + 2 + size + 2..).unwrap_or_default();
        if size == 0 {
            break;
        }
    }
    whole
}

/// The pieces of a kind.
pub fn of_kind<'a>(pieces: &'a [Value], kind: &str) -> Vec<&'a Value> {
    pieces.iter().filter(|piece| piece["kind"] == kind).collect()
}
