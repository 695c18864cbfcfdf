// Times the engine of the page for benches/alone.rs: `node alone_engine.mjs FOLDER CASES RUNS`,
// FOLDER with the bound engine, CASES a file of JSON. Writes, for each case, the least time and
// the first in ms, and the memory that the engine has taken by then, in MiB.
import { readFileSync } from "node:fs";

const [folder, cases, runs] = process.argv.slice(2);
let since = 0, took = 0;
globalThis.permilTake = (line) => {
  const isFinal = new TextDecoder().decode(line).includes('"kind":"final"');
  if (isFinal) took = performance.now() - since;
  // What comes after the formula is not asked for.
  return !isFinal;
};
const glue = readFileSync(folder + "/permil_web.js", "utf8");
const module = readFileSync(folder + "/permil_web_bg.wasm");
const told = [];
for (const { files } of JSON.parse(readFileSync(cases, "utf8"))) {
  const wasm_bindgen = new Function("document", glue + "\nreturn wasm_bindgen;")({ currentScript: null });
  const { memory } = wasm_bindgen.initSync({ module });
  const engine = new wasm_bindgen.Engine("brief.toml", JSON.stringify(files), "[]");
  const times = [];
  for (let seq = 1; seq <= Number(runs); seq += 1) {
    took = NaN;
    since = performance.now();
    engine.ask("/solve", JSON.stringify({ view: { page: "a" }, seq }));
    times.push(took);
  }
  told.push([Math.min(...times), times[0], memory.buffer.byteLength / 2 ** 20]);
  engine.free();
}
process.stdout.write(JSON.stringify(told));
