// The page without a server in Firefox, from a file: what tests/alone.rs sees of it in chromium, and figures.
// `node --experimental-websocket alone_firefox.mjs FIREFOX HTML`; tests/alone_check.sh runs it.
// It speaks WebDriver BiDi (the W3C's protocol) with the browser itself, so that no driver is needed.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [program, html] = process.argv.slice(2);
const PATIENCE = 60_000; // ms, the longest that anything may take to be seen
const MOVES = 50;
const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
const fail = (text) => { throw new Error(text); };

/** A browser with a profile of its own. */
class Browser {
  static async open() {
    const browser = new Browser();
    browser.profile = mkdtempSync(join(tmpdir(), "permil-firefox-"));
    const switches = ["--headless", "--no-remote", "--remote-debugging-port=0", "--profile", browser.profile];
    browser.child = spawn(program, switches, { stdio: ["ignore", "ignore", "pipe"] });
    const address = await new Promise((found, lost) => {
      let told = "";
      setTimeout(() => lost(new Error("the browser does not listen: " + told)), PATIENCE).unref();
      browser.child.once("exit", () => lost(new Error("the browser ended: " + told)));
      browser.child.stderr.on("data", (data) => {
        told += data;
        const seen = told.match(/WebDriver BiDi listening on (ws:\S+)/);
        if (seen) found(seen[1]);
      });
    });
    browser.waiting = new Map();
    browser.asked = [];
    browser.told = [];
    browser.last = 0;
    browser.socket = new WebSocket(address + "/session");
    await new Promise((done, lost) => { browser.socket.onopen = done; browser.socket.onerror = lost; });
    browser.socket.onmessage = ({ data }) => browser.heard(JSON.parse(data));
    browser.about = (await browser.send("session.new", { capabilities: {} })).capabilities;
    await browser.send("session.subscribe", { events: ["log.entryAdded", "network.beforeRequestSent"] });
    browser.context = (await browser.send("browsingContext.getTree", {})).contexts[0].context;
    return browser;
  }

  heard(message) {
    if (message.method === "log.entryAdded") this.told.push(message.params.text);
    if (message.method === "network.beforeRequestSent") this.asked.push(message.params.request.url);
    const waiting = this.waiting.get(message.id);
    if (!waiting) return;
    this.waiting.delete(message.id);
    message.type === "error" ? waiting.lost(new Error(message.error + ": " + message.message)) : waiting.done(message.result);
  }

  send(method, params) {
    const id = ++this.last;
    return new Promise((done, lost) => {
      this.waiting.set(id, { done, lost });
      this.socket.send(JSON.stringify({ id, method, params }));
    });
  }

  /** What a script gives, of numbers, texts and truths. */
  async run(expression) {
    const told = await this.send("script.evaluate", { expression, target: { context: this.context }, awaitPromise: true });
    return told.type === "exception" ? fail(told.exceptionDetails.text + " in " + expression) : told.result.value;
  }

  async until(condition) {
    const since = performance.now();
    while ((await this.run(`Boolean(${condition})`).catch(() => false)) !== true) {
      if (performance.now() - since > PATIENCE) fail(`${condition} did not come true on\n` + await this.run("document.body.innerText.slice(0, 1500)"));
      await sleep(10);
    }
    return performance.now() - since;
  }

  go(url) { return this.send("browsingContext.navigate", { context: this.context, url, wait: "complete" }); }
  before(source) { return this.send("script.addPreloadScript", { functionDeclaration: `() => { ${source} }` }); }
  size(width, height) { return this.send("browsingContext.setViewport", { context: this.context, viewport: { width, height } }); }
  text(css) { return this.run(`document.querySelector(${JSON.stringify(css)}).textContent`); }
  proven() { return this.until("document.body.dataset.kind === 'final'"); }

  /** A click of a pointer in the middle of an element. */
  async click(css) {
    const place = `(() => { const it = document.querySelector(${JSON.stringify(css)}); it.scrollIntoView({ block: "center" });`
      + " const at = it.getBoundingClientRect(); return Math.round(at.x + at.width / 2) + ',' + Math.round(at.y + at.height / 2); })()";
    const [x, y] = (await this.run(place)).split(",").map(Number);
    const actions = [{ type: "pointerMove", x, y }, { type: "pointerDown", button: 0 }, { type: "pointerUp", button: 0 }];
    await this.send("input.performActions", { context: this.context, actions: [{ type: "pointer", id: "mouse", actions }] });
  }

  async keys(css, text) {
    await this.run(`document.querySelector(${JSON.stringify(css)}).focus()`);
    const actions = [...text].flatMap((value) => [{ type: "keyDown", value }, { type: "keyUp", value }]);
    await this.send("input.performActions", { context: this.context, actions: [{ type: "key", id: "keys", actions }] });
  }

  /** Waits for the proven formula after whatever is done. */
  async after(done) {
    const before = await this.run("document.body.dataset.seq || '0'");
    await done();
    return this.until(`document.body.dataset.seq !== '${before}' && document.body.dataset.kind === 'final'`);
  }

  /** Nothing was asked of anybody, and nothing complained. */
  quiet() {
    const asked = this.asked.filter((url) => !/^(file|blob|data|about|resource|chrome|moz-extension):/.test(url));
    if (asked.length) fail("it asked for " + asked.join(", "));
    if (this.told.length) fail("it complained: " + this.told.join(" | "));
  }

  async close() {
    this.socket.close();
    this.child.removeAllListeners("exit");
    const ended = new Promise((done) => this.child.once("exit", done));
    this.child.kill();
    await Promise.race([ended, sleep(5000)]);
    rmSync(this.profile, { recursive: true, force: true, maxRetries: 5 });
  }
}

const page = pathToFileURL(html).href;
const has = (condition, text) => condition || fail(text);
const PRICE = "input.number[data-path='[\"rules\",\"max_price\"]']";
const price = (value) => `(() => { const it = document.querySelector(${JSON.stringify(PRICE)}); it.value = '${value}';`
  + " for (const kind of ['input', 'change']) it.dispatchEvent(new Event(kind, { bubbles: true })); })()";

/** Every worker's first lines note its memory and tell it when asked: the page's own engine says nothing of it. */
const WEIGHED = `
  const noted = "{ const Own = WebAssembly.Instance; let memory; WebAssembly.Instance = new Proxy(Own, { construct(to, at) {"
    + " const made = new to(...at); memory = made.exports.memory; return made; } });"
    + " self.addEventListener('message', (event) => { if (event.data.deed !== 'memory') return;"
    + " event.stopImmediatePropagation(); event.data.port.postMessage(memory ? memory.buffer.byteLength : 0); }); }";
  const make = URL.createObjectURL;
  URL.createObjectURL = (blob) => make.call(URL, /javascript/.test(blob.type) ? new Blob([noted, blob], { type: blob.type }) : blob);
  const Own = Worker;
  window.engines = [];
  window.Worker = class extends Own { constructor(...at) { super(...at); window.engines.push(this); } };
  window.weigh = () => Promise.all(window.engines.map((engine) => Promise.race([
    new Promise((done) => { const line = new MessageChannel(); line.port1.onmessage = ({ data }) => done(data);
      engine.postMessage({ deed: "memory", port: line.port2 }, [line.port2]); }),
    new Promise((done) => setTimeout(() => done(0), 2000))]))).then((sizes) => Math.max(...sizes));`;

async function wholeProgram(browser) {
  await browser.size(1400, 1000);
  await browser.go(page);
  await browser.proven();
  has((await browser.text("#headline")).includes("93.63 %"), "the rose is not proven: " + await browser.text("#headline"));
  await browser.after(() => browser.click("#hints button"));
  has(!(await browser.text("#headline")).includes("93.63 %"), "nothing moved");
  const moved = await browser.text("#headline .value");
  for (const value of [66, 67, 68, 66, 68]) {
    await browser.run(price(value));
    await sleep(30);
  }
  await browser.until("document.querySelector('#ticks').textContent.includes('One change') && document.body.dataset.kind === 'final' && document.body.dataset.state === 'idle'");
  has((await browser.text("#headline .value")) !== moved, "the last move does not count");

  await browser.click("[data-shell=link]");
  await browser.until("document.getElementById('link').value.includes('#z')");
  const link = await browser.run("document.getElementById('link').value");
  const seen = await browser.text("#headline .value");
  await browser.click("[data-ask=leeway]");
  await browser.until("document.querySelector('#closer svg')");

  await browser.click("[data-do=save]");
  await browser.until("document.querySelector('#save-brief')?.getClientRects().length");
  await browser.run("document.querySelector('#save-brief').value = ''");
  await browser.keys("#save-brief", "cheaper.toml");
  await browser.click("#save-go");
  await browser.until("document.querySelector('.titles .soft')?.textContent.includes('cheaper.toml')");
  await browser.proven();
  await browser.send("browsingContext.reload", { context: browser.context, wait: "complete" });
  await browser.until("document.querySelector('.titles .soft')?.textContent.includes('cheaper.toml') && document.body.dataset.kind === 'final'");
  has((await browser.text("#headline .value")) === seen, "a reload loses the saved brief");

  await browser.click("[data-shell=clear]");
  await browser.until("document.querySelector('.titles .soft')?.textContent.includes('brief.toml') && document.body.dataset.kind === 'final' && document.querySelector('#headline').textContent.includes('93.63')");
  await browser.go("about:blank");
  await browser.go(link);
  await browser.until("document.body.dataset.kind === 'final' && document.querySelector('#ticks').textContent.includes('One change')");
  has((await browser.text("#headline .value")) === seen, "the link leads elsewhere");

  await browser.click("[data-scenario=six]");
  await browser.until("document.title.startsWith('Six') || !document.title.startsWith('Rose')");
  await browser.proven();
  await browser.run("(() => { const data = new DataTransfer(); data.items.add(new File(['name,strength,price,rosy,green\\nA,100,5,8,1\\nB,50,3,1,7\\n'], 'shelf.csv'));"
    + " const input = document.getElementById('file-input'); input.files = data.files; input.dispatchEvent(new Event('change')); })()");
  await browser.until("document.title.startsWith('A first brief') && document.body.dataset.kind === 'final'");
  await browser.size(360, 800);
  has(await browser.run("document.documentElement.scrollWidth <= 360"), "something is wider than a phone");
}

async function keepsNothing(browser) {
  await browser.before("IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };"
    + " window.showDirectoryPicker = () => Promise.reject(new DOMException('no', 'AbortError'));");
  await browser.go(page);
  await browser.proven();
  await browser.until("document.getElementById('where').textContent.includes('keeps nothing')");
  await browser.click("[data-shell=folder]");
  await browser.until("document.getElementById('said-shell').textContent.includes('No folder was opened')");
  has((await browser.text("#headline")).includes("93.63 %"), "the formula is gone");
  await browser.after(() => browser.click("#hints button"));
}

/** Not checked against anything: how long it takes, and how much memory the largest engine has. */
async function figures(browser) {
  await browser.before(WEIGHED);
  await browser.size(1400, 1000);
  const since = performance.now();
  await browser.go(page);
  await browser.proven();
  const opened = performance.now() - since;
  await browser.until("document.body.dataset.state === 'idle'");
  const took = [];
  for (let move = 0; move < MOVES; move++) took.push(await browser.after(() => browser.run(price(60 + (move * 7) % 60))));
  took.sort((a, b) => a - b);
  await browser.until("document.body.dataset.state === 'idle'");
  const memory = await browser.run("window.weigh()");
  console.log(`opened to the first proven formula: ${opened.toFixed(0)} ms; ${MOVES} moves: median ${took[MOVES / 2].toFixed(0)} ms, worst ${took.at(-1).toFixed(0)} ms;`
    + ` memory of the largest engine then: ${(memory / 2 ** 20).toFixed(1)} MiB`);
}

for (const check of [wholeProgram, keepsNothing, figures]) {
  const browser = await Browser.open();
  try {
    await check(browser);
    if (check !== figures) browser.quiet();
    console.log(`${browser.about.browserName} ${browser.about.browserVersion}: ${check.name} ok`);
  } finally {
    await browser.close();
  }
}
