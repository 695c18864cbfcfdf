// The page without a server: engines in workers, a folder in memory that the browser's
// store keeps, and the choice of what to begin with. The rest is the page of
// `permil explore` (page.js), which asks this host in the place of a server.
"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const GONE = "The engine in this page stopped. A new one was started: try again, and load the page again where that does not help.";

  // --- Engines ----------------------------------------------------------------

  // Five characters for four bytes; how many bytes there are comes first (bundle.rs writes it).
  const from85 = (text) => {
    const letters = Array.from({ length: 94 }, (_, at) => String.fromCharCode(33 + at)).filter((letter) => !"\"&'<>\\`".includes(letter));
    const values = new Uint8Array(128);
    letters.forEach((letter, at) => { values[letter.charCodeAt(0)] = at; });
    const begin = text.indexOf(" ") + 1, length = Number(text.slice(0, begin));
    const bytes = new Uint8Array(Math.ceil(length / 4) * 4), view = new DataView(bytes.buffer);
    for (let at = begin, to = 0; to < bytes.length; at += 5, to += 4) {
      let value = 0;
      for (let k = 0; k < 5; k += 1) value = value * 85 + values[text.charCodeAt(at + k)];
      view.setUint32(to, value);
    }
    return bytes.subarray(0, length);
  };
  const bytesOf = async (id) => {
    const packed = from85($(id).textContent.trim());
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  };
  const source = URL.createObjectURL(new Blob([$("permil-worker").textContent], { type: "text/javascript" }));
  const compiled = bytesOf("permil-engine").then((bytes) => WebAssembly.compile(bytes));

  // An engine: one worker, one thing at a time.
  class Engine {
    constructor() {
      this.count = 0;
      this.waiting = new Map();
      this.version = -1;
      this.busy = 0;
      this.turn = Promise.resolve();
      this.worker = new Worker(source);
      this.worker.onmessage = ({ data }) => this.heard(data);
      this.worker.onerror = (event) => { event.preventDefault(); this.broken(event.message || "the worker failed"); };
      this.ready = compiled.then((module) => this.tell({ deed: "start", module }));
      this.ready.catch(() => {});
    }
    heard(data) {
      const waits = this.waiting.get(data.id);
      if (data.broken !== undefined) return this.broken(data.broken);
      if (!waits) return;
      if (data.line !== undefined) return waits.line?.(data.line);
      this.waiting.delete(data.id);
      waits.done(data);
    }
    broken(why) {
      this.isBroken = true;
      for (const waits of this.waiting.values()) waits.failed(new Error(why));
      this.waiting.clear();
      this.worker.terminate();
    }
    end() {
      this.isEnded = true;
      for (const waits of this.waiting.values()) waits.failed(new DOMException("ended", "AbortError"));
      this.waiting.clear();
      this.worker.terminate();
    }
    tell(message, line) {
      if (this.isBroken || this.isEnded) return Promise.reject(new Error("no engine"));
      this.count += 1;
      const id = this.count;
      return new Promise((done, failed) => {
        this.waiting.set(id, { done, failed, line });
        this.worker.postMessage({ ...message, id });
      });
    }
    // One after the other, with the folder as it is now.
    async ask(message, line) {
      this.busy += 1;
      const before = this.turn;
      let over;
      this.turn = new Promise((done) => { over = done; });
      try {
        await before.catch(() => {});
        await this.ready;
        if (this.version !== folder.version) {
          await this.tell({ deed: "open", brief: folder.brief, files: folder.files, made: folder.made });
          this.version = folder.version;
        }
        return await this.tell(message, line);
      } finally {
        this.busy -= 1;
        over();
      }
    }
  }

  // The letters are within the engine, for reports: they come with the first one.
  const letters = async (engine) => {
    for (const [weight, bold] of [["400", false], ["600", true]]) {
      const font = (await engine.ask({ deed: "font", bold })).told;
      document.fonts.add(await new FontFace("Inter", font, { weight }).load());
    }
  };

  // The one that moves are asked of, one for what is asked beside it, and a spare for when one is ended.
  let first = new Engine(), beside = null, spare = null;
  const spared = () => {
    const engine = spare && !spare.isBroken ? spare : new Engine();
    spare = null;
    setTimeout(() => { spare ||= new Engine(); }, 50);
    return engine;
  };
  const forMoves = () => {
    if (first.isBroken || first.isEnded) first = spared();
    if (first.busy) { first.end(); first = spared(); }
    return first;
  };
  const forOthers = () => {
    if (!first.busy && !first.isBroken && !first.isEnded) return first;
    if (!beside || beside.isBroken || beside.isEnded) beside = spared();
    return beside;
  };

  // --- The folder ---------------------------------------------------------------

  // `made` are files that the page has written, `edited` those that were changed by hand.
  const folder = { name: "", files: {}, brief: "brief.toml", made: [], edited: [], version: 0, kept: "", handle: null, taken: 0 };
  const keep = async () => {
    try {
      const { name, files, brief, made, edited } = folder;
      await permilStore.save({ name, files, brief, made, edited });
      folder.kept = "";
    } catch {
      folder.kept = "This browser keeps nothing of this folder: download it before you leave the page.";
    }
    told();
  };
  const hasOwn = (it) => (it.made || []).length > 0 || (it.edited || []).length > 0;
  const isUnsaved = () => (folder.kept !== "" && hasOwn(folder)) || texts.isChanged();
  addEventListener("beforeunload", (event) => { if (isUnsaved()) event.preventDefault(); });
  // Whether another folder may take the place of this one.
  const mayLeave = () => {
    const isHereAlone = !folder.handle && hasOwn(folder) && folder.taken !== folder.version;
    if (!isHereAlone && !texts.isChanged()) return true;
    return confirm("Begin with something else? What you saved and wrote here is nowhere but in this page: cancel, and All files as .zip takes it along.");
  };

  const take = async (name, files, brief, handle = null) => {
    if (!mayLeave()) return false;
    Object.assign(folder, { name, files, brief, made: [], edited: [], version: folder.version + 1, handle });
    texts.forget();
    history.replaceState(null, "", "#");
    await keep();
    await show();
    return true;
  };
  // Files that the engine wrote, or the user: kept here, and in the user's own folder where that
  // was opened.
  const wrote = async (written, by = "made") => {
    const names = Object.keys(written);
    if (!names.length) return;
    Object.assign(folder.files, written);
    folder[by] = [...new Set([...folder[by], ...names])];
    folder.version += 1;
    await keep();
    if (!folder.handle) return;
    for (const name of names) {
      try {
        let at = folder.handle;
        const steps = name.split("/");
        for (const step of steps.slice(0, -1)) at = await at.getDirectoryHandle(step, { create: true });
        const stream = await (await at.getFileHandle(steps[steps.length - 1], { create: true })).createWritable();
        await stream.write(written[name]);
        await stream.close();
      } catch {
        say(`${name} could not be written to your folder; this page has it, and All files as .zip takes it along.`);
      }
    }
  };

  // --- The host of the page --------------------------------------------------------

  const lines = (engine, message, signal) => {
    let stream;
    const body = new ReadableStream({ start: (control) => { stream = control; } });
    const encoder = new TextEncoder();
    const stop = () => engine.end();
    signal?.addEventListener("abort", stop, { once: true });
    engine.ask(message, (line) => stream.enqueue(encoder.encode(line))).then(
      () => { signal?.removeEventListener("abort", stop); try { stream.close(); } catch { /* ended already */ } },
      (error) => { signal?.removeEventListener("abort", stop); try { stream.error(error); } catch { /* ended already */ } },
    );
    return new Response(body, { headers: { "content-type": "application/x-ndjson" } });
  };
  const whole = async (engine, message) => {
    const told = await engine.ask(message);
    await wrote(JSON.parse(told.written));
    return new Response(told.content, { status: told.status, headers: { "content-type": told.kind } });
  };
  const host = {
    post: async (address, body, signal) => {
      const message = { deed: "ask", address, body: JSON.stringify(body) };
      if (address === "/solve") return lines(forMoves(), message, signal);
      if (address === "/ask") return lines(forOthers(), message, signal);
      // Nobody but this page changes the files that it holds.
      if (address === "/files") return new Response(JSON.stringify({ disk: $("bench")?.dataset.disk, fingerprint: "" }));
      return whole(forOthers(), message);
    },
    reopen: async (file, state) => {
      folder.brief = beside_(folder.brief, file);
      folder.version += 1;
      history.replaceState(null, "", state === "{}" ? "#" : "#" + encodeURIComponent(state));
      await keep();
      await show();
    },
    again: GONE,
    closed: GONE,
  };
  const beside_ = (brief, file) => brief.replace(/[^/]*$/, "") + file;

  // --- What is shown -----------------------------------------------------------------

  let close = () => {};
  const say = (text) => { $("said-shell").textContent = text; };
  const show = async () => {
    close();
    document.body.dataset.state = "busy";
    try {
      const told = JSON.parse((await forOthers().ask({ deed: "page", name: "" })).told);
      document.title = told.title + " · permil";
      $("page").innerHTML = told.body;
    } catch (error) {
      $("page").textContent = GONE + " (" + error.message + ")";
      document.body.dataset.state = "idle";
      return;
    }
    for (const hints of document.querySelectorAll("[data-hints]")) {
      hints.hidden = hints.dataset.hints !== folder.name || hasOwn(folder);
    }
    texts.list();
    told();
    close = permilPage(host);
  };
  const told = () => {
    const count = Object.keys(folder.files).length;
    const where = folder.handle ? "What you save goes to your own folder, too." : "Nothing leaves this computer.";
    $("where").textContent = (folder.kept || `${count} files are kept in this browser's own store, for this page alone. ${where}`);
  };

  const scenario = async (name) => {
    const files = JSON.parse((await forOthers().ask({ deed: "scenario", name })).told);
    if (await take(name, files, "brief.toml")) say("");
  };
  const texts = permilTexts({
    files: () => folder.files,
    first: () => folder.brief.replace(/[^/]*$/, "palette.toml"),
    put: async (name, text) => {
      await wrote({ [name]: text }, "edited");
      await show();
      say(`${name} is as you wrote it.`);
    },
  });
  const opening = permilOpen({
    take,
    say,
    imported: async (name, content) => JSON.parse((await forOthers().ask({ deed: "imported", name, content })).told),
  });

  // --- Sharing -------------------------------------------------------------------------

  const through = async (bytes, stream) => new Uint8Array(await new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer());
  const link = async () => {
    const state = decodeURIComponent(location.hash.slice(1)) || "{}";
    const packed = await through(new TextEncoder().encode(JSON.stringify({ s: folder.name, b: folder.brief, v: state })), new CompressionStream("deflate-raw"));
    const text = btoa(String.fromCharCode(...packed)).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
    return location.href.split("#")[0] + "#z" + text;
  };
  const unlink = async (text) => {
    const packed = Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (letter) => letter.charCodeAt(0));
    return JSON.parse(new TextDecoder().decode(await through(packed, new DecompressionStream("deflate-raw"))));
  };
  const save = (blob, name) => {
    const at = document.createElement("a");
    at.href = URL.createObjectURL(blob);
    at.download = name;
    at.click();
    setTimeout(() => URL.revokeObjectURL(at.href), 10000);
  };
  const deeds = {
    folder: () => opening.folder(),
    link: async () => {
      const address = await link();
      $("link").value = address;
      $("link").hidden = false;
      $("link").select();
      try { await navigator.clipboard.writeText(address); say("Copied: the link holds what was moved, not your files."); } catch { say("Copy the link from the field: it holds what was moved, not your files."); }
    },
    zip: () => { save(permilZip.pack(folder.files), (folder.name || "permil") + ".zip"); folder.kept &&= ""; folder.taken = folder.version; say("All files, as they are here, in one .zip."); },
    put: () => texts.put(),
    write: () => texts.open(folder.brief.replace(/[^/]*$/, "palette.toml")),
    clear: async () => {
      Object.assign(folder, { made: [], edited: [] });
      texts.forget();
      try { await permilStore.clear(); } catch { /* nothing was kept */ }
      try { sessionStorage.clear(); } catch { /* likewise */ }
      await scenario("rose");
      say("What this browser had kept for this page is gone.");
    },
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("#shell button");
    if (!button) return;
    if (button.dataset.scenario) scenario(button.dataset.scenario);
    else if (button.dataset.shell) deeds[button.dataset.shell]?.();
  });

  // --- Begin ------------------------------------------------------------------------------

  (async () => {
    let shared = null, kept = null;
    if (location.hash.startsWith("#z")) {
      try { shared = await unlink(location.hash.slice(2)); } catch { say("The link is not whole: the page begins without it."); }
      history.replaceState(null, "", "#");
    }
    try { kept = await permilStore.load(); } catch { folder.kept = "This browser keeps nothing of this folder: download it before you leave the page."; }
    const isKept = kept && kept.files && kept.files[kept.brief] !== undefined;
    // A link to another folder takes the place of one that was worked in only when told to.
    if (isKept && shared && shared.s !== kept.name && hasOwn(kept)
      && !confirm("The link is to another beginning. Follow it? What you saved and wrote in this page before is then gone: cancel, and All files as .zip takes it along.")) shared = null;
    if (isKept && (!shared || shared.s === kept.name)) {
      const { name, files, brief, made = [], edited = [] } = kept;
      Object.assign(folder, { name, files, brief, made, edited, version: 1 });
    } else {
      const known = [...document.querySelectorAll("[data-scenario]")].map((button) => button.dataset.scenario);
      const name = shared && known.includes(shared.s) ? shared.s : "rose";
      const files = JSON.parse((await forOthers().ask({ deed: "scenario", name })).told);
      Object.assign(folder, { name, files, brief: "brief.toml", made: [], version: 1 });
      keep();
    }
    if (shared && shared.v && shared.v !== "{}") history.replaceState(null, "", "#" + encodeURIComponent(shared.v));
    letters(forOthers()).catch(() => { /* the system's own will do */ });
    await show();
    spare ||= new Engine();
  })();
})();
