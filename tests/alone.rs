//! The page without a server, in a real browser and from a file: it opens, proves, moves, saves
//! and loads again, survives a reload, a full disk and a refused picker, and asks nobody for
//! anything. Not part of `cargo test`; `tests/alone_check.sh` runs it.
//!
//! `PERMIL_HTML` names the file; the rest is as in browser.rs.

#[path = "support/browser.rs"]
mod driver;

use std::time::Duration;

use driver::Browser;
use serde_json::{Value, json};

/// Opens the file, with a script that runs before its own.
async fn open(browser: &Browser, before: &str) {
    let html = std::env::var("PERMIL_HTML").expect("PERMIL_HTML names the page");
    browser.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": before })).await;
    browser.client.goto(&format!("file://{html}")).await.expect("the page");
    proven(browser).await;
}

async fn proven(browser: &Browser) {
    browser.until("document.body.dataset.kind === 'final'").await;
}

#[tokio::test]
#[ignore = "needs chromium, chromedriver and the page: tests/alone_check.sh"]
async fn the_whole_program_in_one_file() {
    let browser = Browser::open().await;
    browser.size(1280, 1000).await;
    open(&browser, "").await;
    assert!(browser.text("#headline").await.contains("93.63 %"));
    browser.picture("alone").await;
    browser.axe("as it opens").await;
    for (width, height, name) in [(768, 1024, "alone-tablet"), (360, 780, "alone-phone"), (1280, 1000, "")] {
        browser.size(width, height).await;
        if !name.is_empty() {
            browser.picture(name).await;
        }
        let is_within = format!("return document.documentElement.scrollWidth <= {width};");
        assert_eq!(browser.run(&is_within).await, json!(true), "nothing is wider than {width}");
    }
    // What it is for, what to try and the caution are read without scrolling.
    for css in ["#shell strong", "[data-hints=rose] li:nth-child(3) button", "#where", "#headline .value"] {
        let script = format!(
            "const at = document.querySelector({css:?}).getBoundingClientRect(); return at.height > 0 && at.bottom <= innerHeight;"
        );
        assert_eq!(browser.run(&script).await, json!(true), "{css}");
    }

    // One of the things to try.
    browser.after(async || browser.click("[data-hints=rose] button").await).await;
    assert!(!browser.text("#headline").await.contains("93.63 %"));
    let moved = browser.text("#headline .value").await;

    // Moves faster than they are solved: engines are ended and the last move counts.
    for price in [66, 67, 68, 66, 68] {
        let script = format!(
            "const it = document.querySelector('input.number[data-path=\\'[\"rules\",\"max_price\"]\\']'); it.value = '{price}'; \
             it.dispatchEvent(new Event('input', {{ bubbles: true }})); it.dispatchEvent(new Event('change', {{ bubbles: true }})); return 1;"
        );
        browser.run(&script).await;
        tokio::time::sleep(Duration::from_millis(30)).await;
    }
    browser.until("document.querySelector('#ticks').textContent.includes('One change') && document.body.dataset.kind === 'final' && document.body.dataset.state === 'idle'").await;
    assert_ne!(browser.text("#headline .value").await, moved);

    // A link holds the view; a question is answered beside it.
    browser.click("[data-shell=link]").await;
    browser.until("document.getElementById('link').value.includes('#z')").await;
    let link =
        browser.run("return document.getElementById('link').value;").await.as_str().unwrap_or_default().to_owned();
    let seen = browser.text("#headline .value").await;
    browser.click("[data-ask=leeway]").await;
    browser.until("document.querySelector('#closer svg')").await;

    // Saved beside the brief, and there after a reload.
    browser.click("[data-do=save]").await;
    browser
        .client
        .find(fantoccini::Locator::Css("#save-brief"))
        .await
        .expect("the field")
        .clear()
        .await
        .expect("cleared");
    browser.keys("#save-brief", "cheaper.toml").await;
    browser.click("#save-go").await;
    browser.until("document.querySelector('.titles .soft')?.textContent.includes('cheaper.toml')").await;
    proven(&browser).await;
    browser.run("document.body.dataset.kind = ''; location.reload(); return 1;").await;
    browser.until("document.querySelector('.titles .soft')?.textContent.includes('cheaper.toml') && document.body.dataset.kind === 'final'").await;
    assert_eq!(browser.text("#headline .value").await, seen);

    // The link leads to the same view from the file as it was shipped.
    browser.click("[data-shell=clear]").await;
    browser.until("document.querySelector('.titles .soft')?.textContent.includes('brief.toml') && document.body.dataset.kind === 'final' && document.querySelector('#headline').textContent.includes('93.63')").await;
    browser.client.goto("about:blank").await.expect("a page");
    browser.client.goto(&link).await.expect("the link");
    browser.until("document.body.dataset.kind === 'final' && document.querySelector('#ticks').textContent.includes('One change')").await;
    assert_eq!(browser.text("#headline .value").await, seen);

    // The other scenarios, and a shelf as a sheet.
    browser.click("[data-scenario=six]").await;
    browser.until("document.title.startsWith('Six') || !document.title.startsWith('Rose')").await;
    proven(&browser).await;
    let sheet = "const data = new DataTransfer(); data.items.add(new File(['name,strength,price,rosy,green\\nA,100,5,8,1\\nB,50,3,1,7\\n'], 'shelf.csv')); \
                 const input = document.getElementById('file-input'); input.files = data.files; \
                 input.dispatchEvent(new Event('change')); return 1;";
    browser.run(sheet).await;
    browser.until("document.title.startsWith('A first brief') && document.body.dataset.kind === 'final'").await;

    browser.size(360, 800).await;
    let wide = browser.run("return document.documentElement.scrollWidth <= 360;").await;
    assert_eq!(wide, json!(true), "nothing is wider than a phone");
    browser.axe("on a phone").await;
    quiet(&browser).await;
}

/// Nothing was asked of anybody, and nothing complained.
async fn quiet(browser: &Browser) {
    let mut asked = Vec::new();
    for line in browser.log("performance").await {
        let message: Value = serde_json::from_str(line["message"].as_str().unwrap_or_default()).unwrap_or_default();
        let message = &message["message"];
        if message["method"] == "Network.requestWillBeSent" {
            let address = message["params"]["request"]["url"].as_str().unwrap_or_default().to_owned();
            if !["file:", "blob:", "data:", "about:"].iter().any(|kind| address.starts_with(kind)) {
                asked.push(address);
            }
        }
    }
    assert!(asked.is_empty(), "{asked:?}");
    let told: Vec<String> = browser.log("browser").await.iter().map(|line| line["message"].to_string()).collect();
    assert!(told.is_empty(), "{told:?}");
}

#[tokio::test]
#[ignore = "needs chromium, chromedriver and the page: tests/alone_check.sh"]
async fn a_browser_that_keeps_nothing_and_a_picker_that_is_refused() {
    let browser = Browser::open().await;
    let full = "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };\
                window.showDirectoryPicker = () => Promise.reject(new DOMException('no', 'AbortError'));";
    open(&browser, full).await;
    browser.until("document.getElementById('where').textContent.includes('keeps nothing')").await;
    browser.click("[data-shell=folder]").await;
    browser.until("document.getElementById('said-shell').textContent.includes('No folder was opened')").await;
    assert!(browser.text("#headline").await.contains("93.63 %"));
    // It goes on all the same.
    browser.after(async || browser.click("[data-hints=rose] button").await).await;
    quiet(&browser).await;
}

/// Writes a text into the field of texts and puts it into the folder.
async fn put_text(browser: &Browser, text: &str) {
    let script = format!("document.getElementById('text').value = {}; return 1;", json!(text));
    browser.run(&script).await;
    browser.click("[data-shell=put]").await;
    browser.until("document.getElementById('said-shell').textContent.includes('as you wrote it')").await;
    browser.run("document.getElementById('said-shell').textContent = ''; return 1;").await;
}

#[tokio::test]
#[ignore = "needs chromium, chromedriver and the page: tests/alone_check.sh"]
async fn an_empty_shelf_is_filled_in_the_page() {
    let browser = Browser::open().await;
    browser.size(1400, 1000).await;
    open(&browser, "").await;
    browser.click("[data-scenario=empty]").await;
    browser.until("document.title.startsWith('A first accord') && document.body.dataset.kind === 'final'").await;
    // Something is proven of the examples, and said to be of invented numbers.
    browser.until("document.getElementById('formula')?.textContent.includes('Linalool')").await;
    browser.until("document.querySelector('[data-hints=empty]').checkVisibility()").await;
    assert!(browser.text("[data-hints=empty]").await.contains("invented"));
    browser.axe("an empty shelf").await;
    browser.picture("alone-empty").await;

    // A bottle of one's own is written, and used where the target asks for it.
    browser.click("[data-shell=write]").await;
    browser.until("document.getElementById('text').checkVisibility()").await;
    browser.axe("the files as text").await;
    let examples = browser.run("return document.getElementById('text').value;").await;
    let examples = examples.as_str().expect("a text").to_owned();
    assert!(examples.contains("INVENTED"));
    let own = format!(
        "{examples}\n[[material]]\nname = \"My own moss\"\nstrength = 30\nscores = {{ earthy = 9 }}\nprice = 8\n"
    );
    put_text(&browser, &own).await;
    proven(&browser).await;
    let script = "const it = document.querySelector('input.number[data-path=\\'[\"target\",\"earthy\",\"score\"]\\']'); it.value = '5'; \
                  it.dispatchEvent(new Event('input', { bubbles: true })); it.dispatchEvent(new Event('change', { bubbles: true })); return 1;";
    browser.after(async || drop(browser.run(script).await)).await;
    browser.until("document.getElementById('formula')?.textContent.includes('My own moss')").await;

    // A slip is told with its line, and mended.
    put_text(&browser, &own.replace("earthy = 9 }", "erthy = 9 }")).await;
    browser.until("document.getElementById('page').textContent.includes('erthy')").await;
    put_text(&browser, &own).await;
    browser.until("document.getElementById('formula')?.textContent.includes('My own moss')").await;

    // It is there after a reload, and nothing takes its place without asking.
    browser.idle().await;
    browser.run("document.body.dataset.kind = ''; location.reload(); return 1;").await;
    browser.until("document.title.startsWith('A first accord') && document.body.dataset.kind === 'final'").await;
    browser.until("document.getElementById('formula')?.textContent.includes('My own moss')").await;
    browser.click("[data-scenario=jasmine]").await;
    wait_for_question(&browser).await;
    browser.client.dismiss_alert().await.expect("dismissed");
    assert!(browser.text("#formula").await.contains("My own moss"));
    browser.click("[data-scenario=jasmine]").await;
    wait_for_question(&browser).await;
    browser.client.accept_alert().await.expect("accepted");
    browser.until("document.title.startsWith('Jasmine')").await;
    quiet(&browser).await;
}

/// The page asks before it leaves what was written.
async fn wait_for_question(browser: &Browser) {
    let since = std::time::Instant::now();
    while browser.client.get_alert_text().await.is_err() {
        assert!(since.elapsed() < driver::PATIENCE, "nothing was asked");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

#[tokio::test]
#[ignore = "needs chromium, chromedriver and the page: tests/alone_check.sh"]
async fn an_engine_that_breaks_is_replaced() {
    let browser = Browser::open().await;
    open(&browser, "const Own = Worker; window.Worker = class extends Own { constructor(...at) { super(...at); (window.engines ||= []).push(this); } };").await;
    browser.idle().await;
    browser.run("for (const engine of window.engines) engine.dispatchEvent(new ErrorEvent('error', { message: 'broken', cancelable: true })); return 1;").await;
    browser.after(async || browser.click("[data-hints=rose] button").await).await;
    assert!(!browser.text("#headline").await.contains("93.63 %"));
}
