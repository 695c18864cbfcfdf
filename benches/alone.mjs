// How fast permil.html is in a browser, and what it takes:
//
//   node --experimental-websocket benches/alone.mjs target/permil.html
//
// Size of the file; from its opening to the first proven formula (a browser of its own each
// time, with nothing kept); a move of the budget until the next proven formula; the memory of all
// engines of the page after that, and of its process beside that of an empty page. Needs chromium
// (CHROMIUM names another) and node 20 or newer (from 22 on without the option).
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, realpathSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const OPENINGS = Number(process.env.OPENINGS ?? 10), MOVES = Number(process.env.MOVES ?? 30), PATIENCE_MS = 60_000;
const html = realpathSync(process.argv[2] ?? "target/permil.html");
const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
const sorted = (numbers) => [...numbers].sort((a, b) => a - b);
const median = (numbers) => sorted(numbers)[Math.floor(numbers.length / 2)];

// When a proven formula stood on the page, by its own clock.
const WATCH = `(() => {
  window.proven = [];
  const look = () => new MutationObserver(() => {
    if (document.body.dataset.kind === "final" && window.proven.at(-1)?.seq !== document.body.dataset.seq) window.proven.push({ seq: document.body.dataset.seq, at: performance.now() });
  }).observe(document.body, { attributes: true });
  document.body ? look() : new MutationObserver((_, own) => { if (document.body) { own.disconnect(); look(); } }).observe(document, { childList: true, subtree: true });
})();`;

class Browser {
  static async open() {
    const it = new Browser();
    it.home = mkdtempSync(join(tmpdir(), "permil-chromium-"));
    const options = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run", "--remote-debugging-port=0", `--user-data-dir=${it.home}`, "about:blank"];
    it.process = spawn(process.env.CHROMIUM ?? "chromium", options, { stdio: ["ignore", "ignore", "pipe"] });
    const address = await new Promise((done, failed) => {
      let heard = "";
      it.process.on("error", failed);
      it.process.stderr.on("data", (some) => {
        heard += some;
        const found = heard.match(/DevTools listening on (ws:\S+)/);
        if (found) done(found[1]);
      });
    });
    it.socket = new WebSocket(address);
    await new Promise((done, failed) => { it.socket.onopen = done; it.socket.onerror = failed; });
    it.waiting = new Map();
    it.count = 0;
    it.workers = [];
    it.socket.onmessage = ({ data }) => {
      const told = JSON.parse(data);
      if (told.method === "Target.attachedToTarget" && told.params.targetInfo.type === "worker") it.workers.push(told.params.sessionId);
      if (told.method === "Target.detachedFromTarget") it.workers = it.workers.filter((session) => session !== told.params.sessionId);
      const waits = it.waiting.get(told.id);
      it.waiting.delete(told.id);
      told.error ? waits?.failed(new Error(told.error.message)) : waits?.done(told.result);
    };
    const { targetInfos } = await it.tell("Target.getTargets");
    const page = targetInfos.find((target) => target.type === "page");
    it.session = (await it.tell("Target.attachToTarget", { targetId: page.targetId, flatten: true })).sessionId;
    await it.tell("Page.enable", {}, it.session);
    await it.tell("Target.setAutoAttach", { autoAttach: true, waitForDebuggerOnStart: false, flatten: true }, it.session);
    await it.tell("Page.addScriptToEvaluateOnNewDocument", { source: WATCH }, it.session);
    return it;
  }
  tell(method, params = {}, sessionId) {
    this.count += 1;
    return new Promise((done, failed) => {
      this.waiting.set(this.count, { done, failed });
      this.socket.send(JSON.stringify({ id: this.count, method, params, sessionId }));
    });
  }
  async run(expression, session = this.session) {
    const told = await this.tell("Runtime.evaluate", { expression, returnByValue: true, awaitPromise: true }, session);
    if (told.exceptionDetails) throw new Error(told.exceptionDetails.exception?.description ?? told.exceptionDetails.text);
    return told.result.value;
  }
  async until(condition) {
    const since = Date.now();
    while (!(await this.run(`Boolean(${condition})`).catch(() => false))) {
      if (Date.now() - since > PATIENCE_MS) throw new Error(`${condition} did not come true`);
      await sleep(20);
    }
  }
  // Of the processes that show pages, the one that takes most, in MiB: what it shares is divided.
  rendererMiB() {
    let most = 0;
    for (const id of readdirSync("/proc").filter((name) => /^\d+$/.test(name))) {
      try {
        const command = readFileSync(`/proc/${id}/cmdline`, "utf8");
        if (!command.includes("--type=renderer") || !command.includes(this.home)) continue;
        const kib = Number(readFileSync(`/proc/${id}/smaps_rollup`, "utf8").match(/^Pss:\s+(\d+)/m)[1]);
        most = Math.max(most, kib / 1024);
      } catch { /* it has ended meanwhile */ }
    }
    return most;
  }
  async close() {
    this.process.kill();
    await new Promise((done) => { this.process.on("exit", done); setTimeout(done, 5000); });
    rmSync(this.home, { recursive: true, force: true, maxRetries: 10, retryDelay: 200 });
  }
}

const opened = async () => {
  const browser = await Browser.open();
  const before = browser.rendererMiB();
  await browser.tell("Page.navigate", { url: pathToFileURL(html).href }, browser.session);
  await browser.until("window.proven?.length");
  const first = await browser.run("window.proven[0].at");
  return { browser, before, first };
};

const openings = [];
for (let k = 0; k < OPENINGS - 1; k += 1) {
  const { browser, first } = await opened();
  openings.push(first);
  await browser.close();
}
const { browser, before, first } = await opened();
openings.push(first);
await browser.until("document.body.dataset.state === 'idle'");
const moves = [];
for (let k = 0; k < MOVES; k += 1) {
  const price = 61 + (k * 7) % 19;
  moves.push(await browser.run(`(async () => {
    const it = document.querySelector('input.number[data-path=\\'["rules","max_price"]\\']');
    const count = window.proven.length, since = performance.now();
    it.value = "${price}";
    it.dispatchEvent(new Event("input", { bubbles: true }));
    it.dispatchEvent(new Event("change", { bubbles: true }));
    while (window.proven.length === count) await new Promise((done) => setTimeout(done, 2));
    return window.proven[count].at - since;
  })()`));
  // A person looks for a moment; what is asked beside the formula goes on meanwhile.
  await sleep(k % 2 ? 700 : 250);
}
await browser.until("document.body.dataset.state === 'idle'");
await sleep(500);
const engines = [];
for (const session of browser.workers) {
  const bytes = await browser.run("typeof wasm_bindgen === 'undefined' ? 0 : wasm_bindgen.initSync().memory.buffer.byteLength", session).catch(() => 0);
  if (bytes) engines.push(bytes / 2 ** 20);
}
const taken = browser.rendererMiB();
await browser.close();
const ms = (numbers) => `median ${median(numbers).toFixed(0)}, least ${sorted(numbers)[0].toFixed(0)}, most ${sorted(numbers).at(-1).toFixed(0)} ms`;
console.log(`size: ${(statSync(html).size / 1e6).toFixed(2)} MB`);
console.log(`from opening to the first proven formula, ${OPENINGS} openings: ${ms(openings)}`);
console.log(`a move of the budget to the next proven formula, ${MOVES} moves: ${ms(moves)}`);
console.log(`engines after that: ${engines.map((it) => it.toFixed(1)).join(" + ")} MiB; the page's process ${taken.toFixed(0)} MiB, ${before.toFixed(0)} with an empty page`);
