// Asks the engine of the page, outside of any browser, what tests/alone_bytes.rs asks of the native
// one: `node alone_bytes.mjs FOLDER CASES`, FOLDER with the bound engine, CASES a file of JSON.
// Writes what came of each as JSON. Time stands still, on the day that the test has.
import { readFileSync } from "node:fs";
import { createHash } from "node:crypto";

const [folder, cases] = process.argv.slice(2);
Date.now = () => 1_700_000_000_000;
performance.now = () => 0;
let lines = [];
globalThis.permilTake = (line) => { lines.push(new TextDecoder().decode(line)); return true; };
const glue = readFileSync(folder + "/permil_web.js", "utf8");
const wasm_bindgen = new Function("document", glue + "\nreturn wasm_bindgen;")({ currentScript: null });
wasm_bindgen.initSync({ module: readFileSync(folder + "/permil_web_bg.wasm") });
const digest = (bytes) => createHash("sha256").update(bytes).digest("hex");
const told = [];
for (const { name, files, brief, asked } of JSON.parse(readFileSync(cases, "utf8"))) {
  const engine = new wasm_bindgen.Engine(brief, JSON.stringify(files), "[]");
  for (const { address, body } of asked) {
    lines = [];
    const reply = engine.ask(address, JSON.stringify(body));
    told.push({ name, address, file: body.file || null, status: reply.status, kind: reply.kind, content: digest(reply.content), lines: digest(lines.join("")), bytes: reply.content.length });
  }
  engine.free();
}
process.stdout.write(JSON.stringify(told));
