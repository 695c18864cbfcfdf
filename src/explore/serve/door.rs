//! Who may come in: the secret of the printed address, exchanged for a cookie.
//!
//! 127.0.0.1 is open to every user of the machine, so that an address alone
//! proves nothing. The printed one holds a key, new with every start. Whoever
//! brings it gets a cookie that no script can read and no other site can send;
//! without it nothing is served but a page that says how to get in.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use axum::http::header::{CONTENT_TYPE, COOKIE, HeaderMap, HeaderValue, SET_COOKIE};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};

/// Bytes of a secret: more than can be tried.
const SECRET_BYTES: usize = 32;

/// The secrets of one start of the server.
pub struct Door {
    /// What the printed address holds.
    key: String,
    /// What the cookie holds.
    pass: String,
    /// What a request has to carry besides that asks for work or writes a file:
    /// a page of another port of this machine is sent the same cookies, but
    /// cannot set this header.
    pub token: String,
    /// Name of the cookie: ports share their cookies.
    cookie: String,
}

impl Door {
    /// New secrets.
    ///
    /// # Errors
    /// The system gives no randomness.
    pub fn new(port: u16) -> Result<Door, getrandom::Error> {
        let (key, pass, token) = (secret()?, secret()?, secret()?);
        Ok(Door { key, pass, token, cookie: format!("permil-{port}") })
    }

    /// What the printed address has behind its port.
    pub fn entrance(&self) -> String {
        format!("/?key={}", self.key)
    }

    /// Whether a request carries the cookie.
    pub fn is_open_to(&self, headers: &HeaderMap) -> bool {
        let cookies = headers.get_all(COOKIE).iter().filter_map(|line| line.to_str().ok());
        let mut cookies = cookies.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
        cookies.any(|(name, value)| name == self.cookie && is_same_secret(value.as_bytes(), &self.pass))
    }

    /// Whether a text is the token.
    pub fn is_token(&self, given: &HeaderValue) -> bool {
        is_same_secret(given.as_bytes(), &self.token)
    }

    /// The answer to an address that holds a key: `None` where it holds none.
    ///
    /// The right key is answered with a page that goes on by itself rather than
    /// by a redirection: a browser sends a strict cookie only where the page
    /// before is of the same site, and a link in a terminal or a mail is not.
    pub fn answer(&self, uri: &Uri) -> Option<Response> {
        let key = (uri.path() == "/").then(|| parameter(uri, "key")).flatten()?;
        if !is_same_secret(key.as_bytes(), &self.key) {
            return Some(closed("The key in this address is that of an earlier start, or not whole."));
        }
        let page = document(
            &html! {
                meta http-equiv="refresh" content="0;url=/";
            },
            &html! { p { a href="/" { "To the page" } } },
        );
        let cookie = format!("{}={}; Path=/; HttpOnly; SameSite=Strict", self.cookie, self.pass);
        let mut response = ([(CONTENT_TYPE, "text/html; charset=utf-8")], page).into_response();
        if let Ok(cookie) = HeaderValue::from_str(&cookie) {
            response.headers_mut().insert(SET_COOKIE, cookie);
        }
        Some(response)
    }
}

/// The value of a parameter of an address, as it stands there.
pub fn parameter<'a>(uri: &'a Uri, name: &str) -> Option<&'a str> {
    uri.query()?.split('&').filter_map(|pair| pair.split_once('=')).find(|(key, _)| *key == name).map(|(_, it)| it)
}

/// The page that says how to get in.
pub fn closed(why: &str) -> Response {
    let page = document(
        &html! { title { "permil explore: closed" } },
        &html! {
            h1 { "This page is closed" }
            p { (why) }
            p {
                "It belongs to whoever started " code { "permil explore" } ", and opens with the whole address that the program "
                "printed in the terminal, " code { "…/?key=…" } " included. Open that address once in this browser; this one, "
                "and every bookmark of it, then works until the program ends."
            }
            p {
                "Each start has a key of its own. After a restart open the newly printed address, then your bookmark again: what "
                "you had moved stands in the bookmark, behind the " code { "#" } ". Bookmarks need the same port each time: "
                code { "--port 8080" } "."
            }
        },
    );
    (StatusCode::FORBIDDEN, [(CONTENT_TYPE, "text/html; charset=utf-8")], page).into_response()
}

fn document(head: &Markup, body: &Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                (head)
            }
            body { (body) }
        }
    }
    .into_string()
}

/// A file that only its owner can read and that leads a browser to an address;
/// it goes when it is dropped.
///
/// The command line of a browser can be read by every user of the machine, and
/// so it may not hold the key.
pub struct Doorstep(PathBuf);

impl Doorstep {
    /// Lays it.
    ///
    /// # Errors
    /// What the system says.
    pub fn to(address: &str) -> std::io::Result<Doorstep> {
        let name = secret().map_err(std::io::Error::other)?;
        // A folder of the user's own where there is one.
        let folder = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from).filter(|folder| folder.is_dir());
        let path = folder.unwrap_or_else(std::env::temp_dir).join(format!("permil-{}.html", &name[..16]));
        let page = document(
            &html! { meta http-equiv="refresh" content={ "0;url=" (address) }; },
            &html! { p { a href=(address) { "To the page" } } },
        );
        let mut file = own(&path)?;
        let step = Doorstep(path);
        file.write_all(page.as_bytes())?;
        Ok(step)
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Doorstep {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
    }
}

/// A new file that nobody else can read.
fn own(path: &Path) -> std::io::Result<std::fs::File> {
    let mut options = std::fs::File::options();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

/// Random hexadecimal digits.
fn secret() -> Result<String, getrandom::Error> {
    let mut bytes = [0_u8; SECRET_BYTES];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    }))
}

/// Compares in a time that does not tell how much was right.
fn is_same_secret(given: &[u8], secret: &str) -> bool {
    given.len() == secret.len()
        && std::hint::black_box(given.iter().zip(secret.bytes()).fold(0, |all, (a, b)| all | (a ^ b))) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_whole_cookie_opens() {
        let door = Door::new(8080).unwrap();
        let with = |cookie: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(COOKIE, HeaderValue::from_str(cookie).unwrap());
            door.is_open_to(&headers)
        };
        let pass = &door.pass;
        assert!(with(&format!("permil-8080={pass}")) && with(&format!("a=b; permil-8080={pass}; c=d")));
        for wrong in [
            String::new(),
            "permil-8080=".to_owned(),
            format!("permil-8080={}", &pass[1..]),
            format!("permil-8080={pass}0"),
            format!("permil-8081={pass}"),
            format!("permil-8080={}", door.key),
            pass.clone(),
        ] {
            assert!(!with(&wrong), "{wrong}");
        }
        assert!(!door.is_open_to(&HeaderMap::new()));
        assert_ne!(Door::new(8080).unwrap().key, door.key, "new with every start");
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_can_read_the_key_that_the_browser_is_given() {
        use std::os::unix::fs::PermissionsExt;
        let step = Doorstep::to("http://127.0.0.1:1/?key=abc").unwrap();
        let path = step.path().to_owned();
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        assert!(std::fs::read_to_string(&path).unwrap().contains("url=http://127.0.0.1:1/?key=abc"));
        drop(step);
        assert!(!path.exists());
    }
}
