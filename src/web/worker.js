// One engine in a worker: it answers one thing at a time. Whoever wants it to stop ends it.
"use strict";
let engine = null, asking = 0;
self.permilTake = (line) => {
  self.postMessage({ id: asking, line: new TextDecoder().decode(line) });
  return true;
};
self.onmessage = ({ data }) => {
  asking = data.id;
  try {
    if (data.deed === "start") {
      wasm_bindgen.initSync({ module: data.module });
      return self.postMessage({ id: data.id, done: true });
    }
    if (data.deed === "scenario") return self.postMessage({ id: data.id, done: true, told: wasm_bindgen.scenario(data.name) });
    if (data.deed === "imported") return self.postMessage({ id: data.id, done: true, told: wasm_bindgen.imported(data.name, data.content) });
    if (data.deed === "font") return self.postMessage({ id: data.id, done: true, told: wasm_bindgen.font(data.bold) });
    if (data.deed === "open") {
      engine = new wasm_bindgen.Engine(data.brief, JSON.stringify(data.files), JSON.stringify(data.made));
      return self.postMessage({ id: data.id, done: true });
    }
    if (data.deed === "page") return self.postMessage({ id: data.id, done: true, told: engine.page(data.name) });
    const told = engine.ask(data.address, data.body);
    self.postMessage({ id: data.id, done: true, status: told.status, kind: told.kind, content: told.content, written: told.written });
  } catch (error) {
    // Whatever it was, this engine is not to be trusted any more.
    self.postMessage({ id: data.id, broken: String(error && error.message || error) });
  }
};
self.postMessage({ id: 0, ready: true });
