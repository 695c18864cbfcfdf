//! A browser of the machine: chromium, driven through chromedriver.

#![allow(dead_code, reason = "each test binary uses a part of it")]

use std::fs;
use std::net::TcpListener;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::wd::{Capabilities, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

/// The longest that anything may take to be seen.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// A command of chromium's own: its path behind the session, and its body.
#[derive(Debug)]
struct Own(&'static str, Value);

impl WebDriverCompatibleCommand for Own {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.0))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.1.to_string()))
    }
}

struct Driver(Child);

impl Drop for Driver {
    fn drop(&mut self) {
        // Asked to end it takes its browser along; killed it would leave it behind.
        if !Command::new("kill").arg(self.0.id().to_string()).status().is_ok_and(|status| status.success()) {
            let _ = self.0.kill();
        }
        let _ = self.0.wait();
    }
}

pub struct Browser {
    pub client: Client,
    _driver: Driver,
}

impl Browser {
    pub async fn open() -> Browser {
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let program = std::env::var("CHROMEDRIVER").unwrap_or("chromedriver".to_owned());
        let child =
            Command::new(&program).arg(format!("--port={port}")).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
        let driver = Driver(child.unwrap_or_else(|error| panic!("{program}: {error}")));
        let mut wanted = Capabilities::new();
        let arguments =
            ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars"];
        wanted.insert("goog:chromeOptions".to_owned(), json!({"args": arguments}));
        wanted.insert("goog:loggingPrefs".to_owned(), json!({"browser": "ALL", "performance": "ALL"}));
        let since = Instant::now();
        loop {
            let mut builder = ClientBuilder::new(HttpConnector::new());
            match builder.capabilities(wanted.clone()).connect(&format!("http://127.0.0.1:{port}")).await {
                Ok(client) => return Browser { client, _driver: driver },
                Err(error) => assert!(since.elapsed() < PATIENCE, "{error}"),
            }
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
    }

    pub async fn own(&self, path: &'static str, body: Value) -> Value {
        self.client.issue_cmd(Own(path, body)).await.unwrap()
    }

    pub async fn devtools(&self, command: &str, parameters: Value) -> Value {
        self.own("goog/cdp/execute", json!({"cmd": command, "params": parameters})).await
    }

    pub async fn run(&self, script: &str) -> Value {
        self.client.execute(script, Vec::new()).await.unwrap_or_else(|error| panic!("{error} in {script}"))
    }

    /// Waits until a script gives true.
    pub async fn until(&self, condition: &str) {
        let since = Instant::now();
        while self.run(&format!("return Boolean({condition});")).await != json!(true) {
            let text = || async { self.run("return document.body.innerText.slice(0, 1500);").await };
            if since.elapsed() > PATIENCE {
                panic!("{condition} did not come true on\n{}", text().await);
            }
            tokio::time::sleep(Duration::from_millis(15)).await;
        }
    }

    /// Waits for the proven formula after whatever is done.
    pub async fn after(&self, done: impl AsyncFnOnce()) {
        let before = self.run("return document.body.dataset.seq || '0';").await;
        done().await;
        self.until(&format!("document.body.dataset.seq !== {before} && document.body.dataset.kind === 'final'")).await;
    }

    pub async fn idle(&self) {
        self.until("document.body.dataset.state === 'idle'").await;
    }

    pub async fn click(&self, css: &str) {
        self.run(&format!("document.querySelector({css:?})?.scrollIntoView({{block: 'center'}});")).await;
        self.client
            .find(Locator::Css(css))
            .await
            .unwrap_or_else(|error| panic!("{css}: {error}"))
            .click()
            .await
            .unwrap();
    }

    pub async fn keys(&self, css: &str, keys: &str) {
        self.client.find(Locator::Css(css)).await.unwrap().send_keys(keys).await.unwrap();
    }

    pub async fn text(&self, css: &str) -> String {
        let script = format!("return document.querySelector({css:?}).textContent;");
        self.run(&script).await.as_str().unwrap_or_default().to_owned()
    }

    pub async fn press(&self, keys: &[char]) {
        let mut actions = KeyActions::new("keys".to_owned());
        for key in keys {
            actions = actions.then(KeyAction::Down { value: *key });
        }
        for key in keys.iter().rev() {
            actions = actions.then(KeyAction::Up { value: *key });
        }
        self.client.perform_actions(actions).await.unwrap();
    }

    pub async fn size(&self, width: u32, height: u32) {
        let size = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.devtools("Emulation.setDeviceMetricsOverride", size).await;
    }

    pub async fn media(&self, features: &[(&str, &str)]) {
        let features: Vec<Value> = features.iter().map(|(name, value)| json!({"name": name, "value": value})).collect();
        self.devtools("Emulation.setEmulatedMedia", json!({"features": features})).await;
    }

    pub async fn picture(&self, name: &str) {
        if let Ok(folder) = std::env::var("PERMIL_PICTURES") {
            tokio::time::sleep(Duration::from_millis(300)).await;
            let png = self.client.screenshot().await.unwrap();
            fs::write(format!("{folder}/{name}.png"), png).unwrap();
        }
    }

    /// Violations of serious and critical level.
    pub async fn axe(&self, what: &str) {
        let Ok(path) = std::env::var("PERMIL_AXE") else {
            println!("{what}: not looked at for accessibility, PERMIL_AXE is not set");
            return;
        };
        let source = fs::read_to_string(path).unwrap();
        self.client.execute(&format!("{source}\nreturn 1;"), Vec::new()).await.unwrap();
        let script = "const done = arguments[arguments.length - 1]; axe.run(document).then(\
            (found) => done(found.violations.filter((it) => ['serious', 'critical'].includes(it.impact)).map((it) => \
            it.id + ': ' + it.nodes.slice(0, 4).map((node) => node.html.slice(0, 160) + ' ' + node.failureSummary).join(' | '))), \
            (error) => done(String(error)));";
        let found = self.client.execute_async(script, Vec::new()).await.unwrap();
        assert_eq!(found, json!([]), "{what}");
    }

    pub async fn log(&self, kind: &str) -> Vec<Value> {
        self.own("se/log", json!({"type": kind})).await.as_array().cloned().unwrap_or_default()
    }
}
