//! The page in a real browser: chromium, driven through chromedriver. Not part
//! of `cargo test`; `tests/browser_check.sh` runs it.
//!
//! `CHROMEDRIVER` names the driver, `PERMIL_AXE` the file axe.min.js (without it
//! nothing is looked for), `PERMIL_PICTURES` a folder for screenshots.

#[path = "support/browser.rs"]
mod driver;
mod support;

use std::collections::BTreeSet;

use driver::Browser;
use fantoccini::Locator;
use fantoccini::key::Key;
use serde_json::{Value, json};
use support::page::Server;
use support::program::{Folder, permil};

const ROSY: &str = "input[type=range][data-path='[\"target\",\"rosy\",\"score\"]']";
const PRICE: &str = "input.number[data-path='[\"rules\",\"max_price\"]']";

#[tokio::test]
#[ignore = "needs chromium and chromedriver: tests/browser_check.sh"]
async fn the_page_in_a_browser() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let server = Server::of(&folder.path("brief.toml"));
    let address = format!("http://{}/", server.host());
    let browser = Browser::open().await;
    browser.size(1600, 1000).await;
    browser.client.goto(&server.address).await.unwrap();
    browser.until("document.body.dataset.kind === 'final'").await;
    browser.idle().await;
    assert!(browser.text("#headline").await.contains("93.63 %"));
    browser.picture("explore-wide").await;

    moves(&browser).await;
    collision(&browser).await;
    undo_and_lock(&browser).await;
    reload(&browser, &address).await;
    saving(&browser, &folder).await;
    questions(&browser).await;
    browser.axe("wide, light").await;
    browser.size(1600, 4200).await;
    browser.picture("explore-whole").await;
    browser.size(1600, 1000).await;
    narrow_and_dark(&browser).await;
    figures_as_they_are_typed(&browser).await;
    a_file_that_changes(&browser, &folder).await;
    keyboard(&browser, &address).await;

    let told = browser.log("browser").await;
    // That a file is there already is answered with a status of its own.
    let is_conflict =
        |line: &Value| line["message"].as_str().is_some_and(|text| text.contains("/save") && text.contains("409"));
    let errors: Vec<&Value> = told.iter().filter(|line| line["level"] == "SEVERE" && !is_conflict(line)).collect();
    assert!(errors.is_empty(), "{errors:?}");
    let mut asked = BTreeSet::new();
    for line in browser.log("performance").await {
        let message: Value = serde_json::from_str(line["message"].as_str().unwrap()).unwrap();
        if message["message"]["method"] == "Network.requestWillBeSent" {
            asked.insert(message["message"]["params"]["request"]["url"].as_str().unwrap().to_owned());
        }
    }
    assert!(asked.contains(&address), "{asked:?}");
    let away: Vec<&String> =
        asked.iter().filter(|url| !url.starts_with(&address) && !url.starts_with("blob:http://127.")).collect();
    assert!(away.is_empty(), "requests left this machine: {away:?}");
    browser.client.clone().close().await.unwrap();
}

/// Every move of a slider is followed by the proven formula; how soon is told.
async fn moves(browser: &Browser) {
    let mut seen: Vec<u64> = Vec::new();
    let (left, right) = (char::from(Key::Left).to_string(), char::from(Key::Right).to_string());
    for step in 0..24 {
        let key = if step < 12 { &left } else { &right };
        browser.after(async || browser.keys(ROSY, key).await).await;
        let ms = browser.run("return document.body.dataset.finalMs;").await;
        seen.push(ms.as_str().unwrap().parse().unwrap());
        if step == 11 {
            assert!(!browser.text("#headline").await.contains("93.63 %"), "another target, another match");
            assert!(browser.run("return location.hash.includes('rosy');").await == json!(true));
        }
    }
    seen.sort_unstable();
    println!(
        "move to proven formula seen, ms: median {}, worst {}, all {seen:?}",
        seen[seen.len() / 2],
        seen[seen.len() - 1]
    );
    let shown = browser.text("#ticks").await;
    assert!(shown.contains("As in the file."), "back where it was: {shown}");
    assert!(browser.text("#headline").await.contains("93.63 %"));
    assert!(browser.text("#said").await.contains("Match 93.63 percent, proven best"));
}

async fn collision(browser: &Browser) {
    let price = browser.client.find(Locator::Css(PRICE)).await.unwrap();
    price.clear().await.unwrap();
    price.send_keys("40\t").await.unwrap();
    browser.until("document.querySelector('#conflict button[data-edits]')").await;
    assert!(browser.text("#headline").await.contains("No blend keeps these rules"));
    assert!(browser.text("#conflict").await.contains("the cost is at most 40 EUR/kg"));
    browser.picture("explore-collision").await;
    browser.axe("collision").await;
    browser.after(async || browser.click("#conflict button[data-edits]").await).await;
    assert_eq!(browser.run("return document.querySelector('#conflict').childElementCount;").await, json!(0));
    browser.after(async || browser.click("[data-do=reset]").await).await;
    browser.idle().await;
}

async fn undo_and_lock(browser: &Browser) {
    let lock = "button[data-lock=Geraniol]";
    browser.after(async || browser.click(lock).await).await;
    assert_eq!(browser.run(&format!("return document.querySelector({lock:?}).ariaPressed;")).await, json!("true"));
    let held = browser
        .run("return document.querySelector('[data-path=\\'[\"doses\",\"Geraniol\",\"fixed\"]\\']').value;")
        .await;
    assert_eq!(held, json!("145"));
    browser.after(async || browser.click("[data-do=undo]").await).await;
    assert_eq!(browser.run(&format!("return document.querySelector({lock:?}).ariaPressed;")).await, json!("false"));
    browser.after(async || browser.press(&[char::from(Key::Control), 'y']).await).await;
    assert_eq!(browser.run(&format!("return document.querySelector({lock:?}).ariaPressed;")).await, json!("true"));
    // What is offered is taken.
    browser.idle().await;
    browser.until("document.querySelector('#worth button[data-edits]')").await;
    let before = browser.text("#headline .value").await;
    browser.after(async || browser.click("#worth button[data-edits]").await).await;
    assert!(browser.text("#headline .value").await > before);
    browser.after(async || browser.click("[data-do=undo]").await).await;
}

async fn reload(browser: &Browser, address: &str) {
    let headline = browser.text("#headline .value").await;
    let hash = browser.run("return location.hash;").await;
    browser.client.refresh().await.unwrap();
    browser.until("document.body.dataset.kind === 'final'").await;
    assert_eq!(
        (browser.text("#headline .value").await, browser.run("return location.hash;").await),
        (headline, hash.clone())
    );
    assert_eq!(browser.run("return document.querySelector('[data-do=undo]').disabled;").await, json!(false));
    // A bookmark opened elsewhere.
    browser.client.goto("about:blank").await.unwrap();
    browser.client.goto(&format!("{address}{}", hash.as_str().unwrap())).await.unwrap();
    browser.until("document.body.dataset.kind === 'final'").await;
    assert_eq!(
        browser.run("return document.querySelector('button[data-lock=Geraniol]').ariaPressed;").await,
        json!("true")
    );
}

async fn saving(browser: &Browser, folder: &Folder) {
    browser.click("[data-do=save]").await;
    browser.axe("saving").await;
    browser.click("#save-go").await;
    // The saved brief is what the page starts from now.
    let is_new = "location.search === '?brief=brief-2.toml' && document.body.dataset.kind === 'final'";
    browser.until(is_new).await;
    assert!(browser.text("#ticks").await.contains("As in the file."));
    assert_eq!(browser.run("return document.querySelector('[data-do=undo]').disabled;").await, json!(true));
    browser.idle().await;
    browser.click("[data-do=save]").await;
    browser.run("document.querySelector('#save-brief').value = 'brief-2.toml'; document.querySelector('#save-formula').value = 'brief-2-formula.toml';").await;
    browser.click("#save-go").await;
    browser.until("document.querySelector('#save-said').textContent.startsWith('There already')").await;
    browser.run("document.body.dataset.kind = '';").await;
    browser.click("#save-over").await;
    browser.until(is_new).await;
    let run = permil(&["propose", &folder.path("brief-2.toml"), "--no-worth", "--format", "json"]).ended(0).json();
    let shown = browser.text("#headline .value").await;
    assert!(shown.contains(&format!("{:.2}", run["fidelity"].as_f64().unwrap())), "{shown}");
    for (material, parts) in run["formula"]["parts"].as_object().unwrap() {
        let script = format!("return document.querySelector('[data-lock={:?}]').dataset.at;", material);
        assert_eq!(browser.run(&script).await, json!(parts.to_string()), "{material}");
    }
    assert!(folder.names().contains(&"brief-2-formula.toml".to_owned()));
}

async fn questions(browser: &Browser) {
    browser.click("[data-do=pin]").await;
    browser.until("!document.querySelector('#pinned').hidden").await;
    let price = browser.client.find(Locator::Css(PRICE)).await.unwrap();
    price.clear().await.unwrap();
    browser.after(async || price.send_keys("90\t").await.unwrap()).await;
    assert!(browser.text("#compare").await.contains("keeps the present rules"));
    // Two questions at once: neither ends the other.
    browser.idle().await;
    browser.click("[data-ask=starts]").await;
    browser.click("[data-ask=leeway]").await;
    browser.until("document.querySelector('#closer svg')").await;
    browser.until("document.querySelectorAll('.starts > li').length === 6").await;
    browser.run("document.querySelector('#closer-material').value = 'beta-Damascenone';").await;
    browser.click("[data-ask=push]").await;
    browser.until("document.querySelector('#closer').textContent.includes('How far beta-Damascenone can go')").await;
    let chart = "#closer .chart";
    browser.run(&format!("document.querySelector({chart:?}).focus();")).await;
    browser.press(&[char::from(Key::Right)]).await;
    let read = browser.text("#closer .readout").await;
    assert!(read.contains('‰') || read.contains('%'), "{read}");
    browser.idle().await;
    browser.until("document.querySelector('#tradeoff svg')").await;
    // A start that is taken is the formula.
    browser.after(async || browser.click(".starts > li:nth-child(2) button[data-edits]").await).await;
    assert!(browser.text("#ticks").await.contains("changes from the file"));
    browser.after(async || browser.click("[data-do=undo]").await).await;
    browser.idle().await;
}

/// Half a figure is no wish, and a comma is a point.
async fn figures_as_they_are_typed(browser: &Browser) {
    let price = browser.client.find(Locator::Css(PRICE)).await.unwrap();
    browser
        .run("window.seen = []; new MutationObserver(() => window.seen.push(document.querySelector('#headline').textContent))\
              .observe(document.querySelector('#headline'), {childList: true, subtree: true});")
        .await;
    price.clear().await.unwrap();
    browser.after(async || price.send_keys("82,5").await.unwrap()).await;
    assert!(
        browser.run("return decodeURIComponent(location.hash);").await.as_str().unwrap().contains("\"max_price\":82.5")
    );
    let collided = browser.run("return window.seen.some((text) => text.includes('No blend'));").await;
    assert_eq!(collided, json!(false), "8 on the way to 82,5");
    browser.after(async || browser.click("[data-do=reset]").await).await;
    browser.idle().await;
}

/// The two ways on when a file changes under the page.
async fn a_file_that_changes(browser: &Browser, folder: &Folder) {
    let file = browser.run("return document.querySelector('#bench').dataset.file;").await;
    let file = file.as_str().unwrap();
    browser.after(async || browser.keys(ROSY, &char::from(Key::Left).to_string()).await).await;
    browser.idle().await;
    let (brief, rosy) =
        (folder.read(file), browser.run(&format!("return document.querySelector({ROSY:?}).value;")).await);
    for (button, stays) in [("mine", true), ("theirs", false)] {
        folder.write(file, &format!("# {button}\n{brief}"));
        browser.until("document.querySelector('#changed button')").await;
        assert_eq!(
            browser.run("return document.querySelector('#formula button').ariaDisabled;").await,
            json!("true"),
            "an answer about files that are gone"
        );
        assert!(
            browser.run("return document.querySelectorAll('.outdated:not([hidden])').length > 5;").await == json!(true)
        );
        browser.picture(&format!("explore-changed-{button}")).await;
        browser.run("document.body.dataset.kind = 'before';").await;
        browser.click(&format!("#changed [data-do={button}]")).await;
        browser.until("document.body.dataset.kind === 'final' && !document.querySelector('#changed button')").await;
        browser.idle().await;
        let now = browser.run(&format!("return document.querySelector({ROSY:?}).value;")).await;
        assert_eq!(now == rosy, stays, "{button}: {now} and {rosy}");
        assert_eq!(browser.run("return document.querySelectorAll('.outdated:not([hidden])').length;").await, json!(0));
    }
}

async fn narrow_and_dark(browser: &Browser) {
    let ground = "return getComputedStyle(document.documentElement).backgroundColor;";
    let light = browser.run(ground).await;
    browser.media(&[("prefers-color-scheme", "dark"), ("prefers-reduced-motion", "reduce")]).await;
    assert_ne!(browser.run(ground).await, light);
    browser.picture("explore-dark").await;
    browser.axe("wide, dark").await;
    let moving = "return [...document.querySelectorAll('*')].filter((it) => { const style = getComputedStyle(it); return \
        parseFloat(style.transitionDuration) > 0 || parseFloat(style.animationDuration) > 0; }).length;";
    assert_eq!(browser.run(moving).await, json!(0), "nothing moves where that is asked for");
    browser.size(360, 740).await;
    browser.axe("narrow, dark").await;
    browser.media(&[]).await;
    browser.run("document.querySelectorAll('.controls > details').forEach((it) => { it.open = true; }); window.scrollTo(0, 0);").await;
    let too_wide = "return [...document.querySelectorAll('body *')].filter((it) => it.checkVisibility() && !it.closest('.scroll, .chart, .hidden, .skip') && \
        it.getBoundingClientRect().right > innerWidth + 1 && it.getBoundingClientRect().width > 0).map((it) => it.outerHTML.slice(0, 120));";
    assert_eq!(browser.run(too_wide).await, json!([]));
    assert_eq!(browser.run("return document.documentElement.scrollWidth <= innerWidth;").await, json!(true));
    browser.picture("explore-narrow").await;
    browser.axe("narrow, light").await;
    browser.size(1600, 1000).await;
}

/// What the slider of time says, and what stands beside it.
async fn at_a_time(browser: &Browser) -> (String, Vec<String>, Vec<String>) {
    let told = browser
        .run("const all = (css) => [...document.querySelectorAll(css)].map((it) => it.textContent); \
              return [document.getElementById('time').getAttribute('aria-valuetext'), all('.time .profile .is'), all('.time tr[data-row] .n .n')];")
        .await;
    let list = |at: usize| -> Vec<String> { serde_json::from_value(told[at].clone()).unwrap() };
    (told[0].as_str().unwrap().to_owned(), list(1), list(2))
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver: tests/browser_check.sh"]
async fn time_on_a_blotter() {
    // One formula alone keeps the rules: what it is is known without the page.
    let folder = Folder::copy_of("profiles/rose-otto");
    let mod_1 = folder.read("mod-1.toml");
    let parts = mod_1.split("[parts]").nth(1).expect("its parts");
    let fixed = parts.lines().filter_map(|line| {
        let (name, dose) = line.split('#').next()?.split_once('=')?;
        Some(format!("{} = {{ fixed = {} }}\n", name.trim(), dose.trim()))
    });
    let stages = folder.read("stages.toml");
    let stages = stages.split("[blotter]").nth(1).expect("its stages").replace("kept = { min = 50 }", "");
    let brief = format!(
        "title = \"Over time\"\npalette = \"palette.toml\"\ntarget_from = \"Rose otto\"\n[target]\nrosy = 7.5\n[formula]\nmax_materials = 9\n\
         [doses]\n{}[blotter]{stages}",
        fixed.collect::<String>()
    );
    std::fs::write(folder.path("held.toml"), brief).unwrap();
    let server = Server::of(&folder.path("held.toml"));
    let browser = Browser::open().await;
    browser.size(1280, 1000).await;
    browser.client.goto(&server.address).await.unwrap();
    browser.until("document.body.dataset.kind === 'final' && document.getElementById('time')").await;
    browser.idle().await;
    let first = at_a_time(&browser).await;
    assert_eq!(first.0, "5 min, opening");
    assert_eq!(browser.text("#time-said").await, first.0);
    assert_eq!(
        browser.run("return document.getElementById('time').labels[0].textContent.trim();").await,
        json!("Time after dipping")
    );

    // With the keys, to the end: the last stage.
    browser.run("document.getElementById('time').focus();").await;
    browser.press(&[char::from(Key::Right)]).await;
    let next = at_a_time(&browser).await;
    assert!(next.0.ends_with("min, between opening and heart"), "{}", next.0);
    browser.press(&[char::from(Key::End)]).await;
    let last = at_a_time(&browser).await;
    assert_eq!(last.0, "8 h, drydown");
    assert!(last.1 != first.1 && last.2 != first.2, "profile and shares move with it");
    let figures = browser.text("#time-figures").await;
    assert!(figures.contains("match") && figures.contains("strength kept"), "{figures}");
    // What the page shows is what `permil strip` says.
    let asked = ["strip", &folder.path("mod-1.toml"), "--brief", &folder.path("held.toml"), "--format", "json"];
    let dried = permil(&asked).ended(0).json();
    let stage = &dried["stages"][2];
    let shares: Vec<String> = (dried["materials"].as_array().unwrap().iter())
        .map(|line| stage["shares"][line["material"].as_str().unwrap()].as_f64().unwrap_or(0.0))
        .map(|share| format!("{share:.1}"))
        .collect();
    assert_eq!(last.2, shares);
    let fidelity = format!("match {:.1} %", stage["fidelity"].as_f64().unwrap());
    assert!(figures.contains(&fidelity), "{figures}: {fidelity}");
    // Buttons lead to the stages.
    browser.click("[data-time]:nth-child(2)").await;
    assert_eq!(at_a_time(&browser).await.0, "2 h, heart");

    // Where it stands stays when the formula changes, and so does the focus.
    browser.run("document.getElementById('time').focus();").await;
    browser.after(async || {
        let script = format!("const it = document.querySelector({ROSY:?}); it.value = '6'; it.dispatchEvent(new Event('input', {{ bubbles: true }}));");
        browser.run(&script).await;
    })
    .await;
    browser.idle().await;
    assert_eq!(at_a_time(&browser).await.0, "2 h, heart");
    assert_eq!(browser.run("return document.activeElement.id;").await, json!("time"));

    for (width, height) in [(1280, 1500), (768, 1500), (360, 1500)] {
        browser.size(width, height).await;
        browser.run("document.querySelectorAll('.controls > details').forEach((it) => { it.open = false; }); document.getElementById('on-paper').scrollIntoView();").await;
        let too_wide = "return document.documentElement.scrollWidth <= innerWidth;";
        assert_eq!(browser.run(too_wide).await, json!(true), "at {width}");
        browser.axe(&format!("a blotter, {width} pixels")).await;
        if width == 1280 {
            browser.picture("explore-blotter").await;
        }
    }
    browser.client.clone().close().await.unwrap();
}

/// Everything can be reached and used with the keys, and what has the focus is
/// marked.
async fn keyboard(browser: &Browser, address: &str) {
    browser.client.goto("about:blank").await.unwrap();
    browser.client.goto(address).await.unwrap();
    browser.until("document.body.dataset.kind === 'final'").await;
    browser.idle().await;
    let mut reached = BTreeSet::new();
    let mut unmarked = Vec::new();
    for _ in 0..400 {
        browser.press(&[char::from(Key::Tab)]).await;
        let at = browser
            .run("const at = document.activeElement; const style = getComputedStyle(at); return at === document.body ? null : \
                  [at.dataset.path ? at.type + at.dataset.path : (at.dataset.do || at.dataset.ask || at.id || at.className || at.textContent).slice(0, 40), \
                  at.checkVisibility() && style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2];")
            .await;
        let Some(name) = at[0].as_str() else { break };
        if at[1] != json!(true) {
            unmarked.push(name.to_owned());
        }
        reached.insert(name.to_owned());
    }
    assert_eq!(unmarked, Vec::<String>::new(), "focus that cannot be seen");
    for wanted in [
        "range[\"target\",\"rosy\",\"score\"]",
        "text[\"rules\",\"max_price\"]",
        "select-one[\"doses\",\"Linalool\",\"use\"]",
        "save",
        "pin",
        "starts",
        "push",
        "chart",
        "against",
    ] {
        assert!(reached.contains(wanted), "{wanted} in {reached:?}");
    }
    // A brief is changed, undone and saved without a pointer.
    browser.run("document.querySelector('.skip').focus();").await;
    browser.run(&format!("document.querySelector({ROSY:?}).focus();")).await;
    browser.after(async || browser.press(&[char::from(Key::Home)]).await).await;
    browser.after(async || browser.press(&[char::from(Key::Control), 'z']).await).await;
    assert!(browser.text("#headline").await.contains("93.63 %"));
    browser.run("document.querySelector('[data-do=save]').focus();").await;
    browser.press(&[char::from(Key::Enter)]).await;
    browser.until("document.querySelector('#saving').open").await;
    browser.press(&[char::from(Key::Escape)]).await;
    browser.until("!document.querySelector('#saving').open").await;
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver: tests/browser_check.sh"]
async fn what_a_page_says_when_its_program_is_gone_or_its_address_is_broken() {
    let folder = Folder::copy_of("profiles/six-materials");
    let mut server = Server::of(&folder.path("brief.toml"));
    let address = format!("http://{}/", server.host());
    let browser = Browser::open().await;
    browser.client.goto(&address).await.unwrap();
    assert!(browser.text("h1").await.contains("closed"), "no key, no page");
    browser.client.goto(&server.address).await.unwrap();
    browser.until("document.body.dataset.kind === 'final'").await;
    assert_eq!(browser.run("return document.cookie;").await, json!(""), "no script reads it");
    assert_eq!(browser.run("return location.href;").await, json!(address), "the key does not stay in the address");
    for broken in [
        r#"{"e":{"target":"x"}}"#,
        r#"{"e":{"target":{"rosy":{"score":"much"}},"rules":{"max_price":-4,"max_materials":[1]}}}"#,
        r#"{"e":[1],"p":5,"a":"nothing"}"#,
        "%E0%A4%A",
        "{",
    ] {
        browser.client.goto("about:blank").await.unwrap();
        browser.client.goto(&format!("{address}#{broken}")).await.unwrap();
        browser.until("document.body.dataset.kind === 'final' && document.body.dataset.state === 'idle'").await;
        assert!(browser.text("#ticks").await.contains("As in the file."), "{broken}");
        browser.after(async || browser.keys(ROSY, &char::from(Key::Left).to_string()).await).await;
    }
    browser.idle().await;
    server.child.kill().unwrap();
    browser.until("document.querySelector('#headline').textContent.includes('does not answer')").await;
    assert_eq!(browser.run("return document.querySelector('#formula button').ariaDisabled;").await, json!("true"));
    assert!(!browser.text("#headline").await.contains("proven"));
    browser.picture("explore-gone").await;
    browser.client.clone().close().await.unwrap();
}
