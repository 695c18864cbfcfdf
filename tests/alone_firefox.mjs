// The page without a server in Firefox, from a file: it opens, proves, moves, saves, is taken
// along as an archive and opened from it, survives a reload, begins with an empty shelf, asks
// nobody for anything and says nothing on the console.
//
//   node --experimental-websocket tests/alone_firefox.mjs target/permil.html
//
// Needs firefox or firefox-esr (FIREFOX names another) and node 20 or newer (from 22 on without
// the option). It speaks WebDriver BiDi with the browser itself, so no driver is needed.
import { spawn } from "node:child_process";
import { mkdtempSync, readdirSync, realpathSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const PATIENCE_MS = 180_000;
const html = realpathSync(process.argv[2] ?? "target/permil.html");
const home = mkdtempSync(join(tmpdir(), "permil-firefox-"));
const downloads = mkdtempSync(join(tmpdir(), "permil-downloads-"));
writeFileSync(join(home, "user.js"), [
  ["browser.download.folderList", 2],
  ["browser.download.dir", downloads],
  ["browser.download.alwaysOpenPanel", false],
  ["browser.shell.checkDefaultBrowser", false],
  ["datareporting.policy.dataSubmissionEnabled", false],
].map(([key, value]) => `user_pref(${JSON.stringify(key)}, ${JSON.stringify(value)});\n`).join(""));

const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
const started = (program) => new Promise((done, failed) => {
  const browser = spawn(program, ["--headless", "--no-remote", "--remote-debugging-port=0", "--profile", home], { stdio: ["ignore", "ignore", "pipe"] });
  const tooLate = setTimeout(() => failed(new Error(`${program} does not listen`)), PATIENCE_MS);
  let heard = "";
  browser.on("error", failed);
  browser.stderr.on("data", (some) => {
    heard += some;
    const found = heard.match(/WebDriver BiDi listening on (ws:\S+)/);
    if (found) { clearTimeout(tooLate); done({ browser, address: found[1] }); }
  });
});
const start = async () => {
  for (const program of process.env.FIREFOX ? [process.env.FIREFOX] : ["firefox-esr", "firefox"]) {
    try { return await started(program); } catch (error) { if (error.code !== "ENOENT") throw error; }
  }
  console.error("check in Firefox: NOT DONE, no firefox was found");
  process.exit(77);
};

const { browser, address } = await start();
const socket = new WebSocket(address + "/session");
await new Promise((done, failed) => { socket.onopen = done; socket.onerror = () => failed(new Error("no connection")); });
const waiting = new Map(), asked = [], said = [];
let count = 0;
socket.onmessage = ({ data }) => {
  const told = JSON.parse(data);
  if (told.type === "event") {
    if (told.method === "network.beforeRequestSent") asked.push(told.params.request.url);
    if (told.method === "log.entryAdded") said.push(`${told.params.level}: ${told.params.text}`);
    return;
  }
  const waits = waiting.get(told.id);
  waiting.delete(told.id);
  if (told.type === "error") waits?.failed(new Error(`${told.error}: ${told.message}`));
  else waits?.done(told.result);
};
const tell = (method, params = {}) => new Promise((done, failed) => {
  count += 1;
  waiting.set(count, { done, failed });
  socket.send(JSON.stringify({ id: count, method, params }));
  setTimeout(() => failed(new Error(`no answer to ${method} ${params.expression ?? ""}`)), 2 * PATIENCE_MS).unref();
});

const check = (holds, what) => { if (!holds) throw new Error(what); };
let context, step = "begin";
const run = async (expression) => {
  const told = await tell("script.evaluate", { expression, target: { context }, awaitPromise: true });
  if (told.type === "exception") throw new Error(`${told.exceptionDetails.text} in ${expression}`);
  return told.result.value;
};
const until = async (condition) => {
  const since = Date.now();
  for (;;) {
    // Between two documents there is nothing to ask.
    const holds = await run(`Boolean(${condition})`).catch(() => false);
    if (holds) return;
    check(Date.now() - since < PATIENCE_MS, `${condition} did not come true on\n${await run("document.body.innerText.slice(0, 1500)").catch(String)}`);
    await sleep(100);
  }
};
const text = (css) => run(`document.querySelector(${JSON.stringify(css)}).textContent`);
const click = (css) => run(`document.querySelector(${JSON.stringify(css)}).click()`);
const after = async (done) => {
  const before = await run("document.body.dataset.seq || '0'");
  await done();
  await until(`document.body.dataset.seq !== '${before}' && document.body.dataset.kind === 'final'`);
};
const SHOWN = "document.body.dataset.kind === 'final' && document.body.dataset.state === 'idle'";
const reload = async () => {
  await run("document.body.dataset.kind = ''; setTimeout(() => location.reload(), 0); 1");
  await until(SHOWN);
};

const main = async () => {
  const { capabilities } = await tell("session.new", { capabilities: { alwaysMatch: { unhandledPromptBehavior: { default: "accept" } } } });
  await tell("session.subscribe", { events: ["log.entryAdded", "network.beforeRequestSent"] });
  context = (await tell("browsingContext.getTree")).contexts[0].context;
  await tell("browsingContext.navigate", { context, url: pathToFileURL(html).href, wait: "complete" });
  step = "open";
  await until(SHOWN);
  check((await text("#headline")).includes("93.63 %"), "the rose is not proven as it should be");

  await after(() => click("[data-hints=rose] button"));
  const moved = await text("#headline .value");
  check(!moved.includes("93.63"), "the budget changed nothing");
  await until("document.body.dataset.state === 'idle'");

  step = "save";
  // Saved beside the brief, and there after a reload.
  await click("[data-do=save]");
  await run("document.getElementById('save-brief').value = 'cheaper.toml'; 1");
  await click("#save-go");
  await until("document.querySelector('.titles .soft')?.textContent.includes('cheaper.toml')");
  await until(SHOWN);
  step = "reload";
  await reload();
  check((await text(".titles .soft")).includes("cheaper.toml"), "what was saved is gone after a reload");
  check(await text("#headline .value") === moved, "what was saved gives another match after a reload");

  // Taken along, forgotten, and opened again.
  step = "take along";
  await click("[data-shell=zip]");
  let archive;
  const since = Date.now();
  while (!archive) {
    archive = readdirSync(downloads).find((name) => name.endsWith(".zip") && statSync(join(downloads, name)).size > 0);
    check(Date.now() - since < PATIENCE_MS, "no archive was downloaded");
    await sleep(50);
  }
  step = "forget";
  await click("[data-shell=clear]");
  await until("document.querySelector('.titles .soft')?.textContent.includes('brief.toml') && document.querySelector('#headline')?.textContent.includes('93.63')");
  await until(SHOWN);
  const names = "[...document.getElementById('text-file').options].map((it) => it.value).join(' ')";
  check(!(await run(names)).includes("cheaper.toml"), "what was to be forgotten is still there");
  step = "open the archive";
  const input = await tell("script.evaluate", { expression: "document.getElementById('file-input')", target: { context }, awaitPromise: false });
  await tell("input.setFiles", { context, element: { sharedId: input.result.sharedId }, files: [join(downloads, archive)] });
  await until("document.getElementById('said-shell').textContent.includes('Opened brief.toml')");
  await until(SHOWN);
  check((await run(names)).includes("cheaper.toml"), "the archive lacks what was saved");

  step = "empty shelf";
  // An empty shelf, and a bottle written by hand.
  await click("[data-scenario=empty]");
  await until(`document.title.startsWith('A first accord') && ${SHOWN}`);
  await click("[data-shell=write]");
  await run("document.getElementById('text').value = document.getElementById('text').value.replace('\"Linalool\"', '\"My own\"'); 1");
  await click("[data-shell=put]");
  await until(`document.getElementById('formula')?.textContent.includes('My own') && ${SHOWN}`);
  step = "reload the empty shelf";
  await reload();
  check((await text("#formula")).includes("My own"), "what was written is gone after a reload");

  const others = asked.filter((url) => url !== pathToFileURL(html).href && !/^(blob:|data:|about:)/.test(url) && !url.startsWith(pathToFileURL(html).href + "#"));
  check(others.length === 0, `requests: ${others.join(", ")}`);
  check(said.length === 0, `the console: ${said.join("\n")}`);
  console.log(`${capabilities.browserName} ${capabilities.browserVersion}: opens, proves, moves, saves, is taken along, reloads; ${asked.length} requests, all of them for the file or within it; the console is empty`);
};

let status = 0;
try {
  await main();
} catch (error) {
  console.error(`check in Firefox, at "${step}": ${error.message}`);
  status = 1;
}
browser.kill();
await new Promise((done) => { browser.on("exit", done); setTimeout(done, 5000); });
for (const folder of [home, downloads]) rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
process.exit(status);
