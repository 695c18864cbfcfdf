// The page of `permil explore`. It keeps what was moved (the difference from
// the brief's file) in the address, asks its host to solve again with every
// change, and puts the pieces of HTML that come back into their places.
//
// The host is the program: behind a connection, or within the page itself. It has
//   post(address, body, signal)  a Response, as fetch gives it
//   reopen(file, state)          shows the page of a brief of the folder, with that state
//   again, closed               what to say when it does not answer, or knows the page no more
"use strict";
const permilPage = (host) => {
  const $ = (id) => document.getElementById(id);
  const bench = $("bench");
  if (!bench) return () => {};
  // Ends what listens and looks beyond the page's own elements.
  const life = new AbortController();
  const whileOpen = { signal: life.signal };
  const page = Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");

  // --- State ---------------------------------------------------------------

  // Objects without a prototype: names come from the user's files.
  const bare = (value) => {
    if (Array.isArray(value) || value === null || typeof value !== "object") return value;
    const made = Object.create(null);
    for (const key of Object.keys(value)) made[key] = bare(value[key]);
    return made;
  };
  const isObject = (it) => it !== null && typeof it === "object" && !Array.isArray(it);
  let state = { edits: bare({}), pin: null, against: "price" };

  const get = (path) => {
    let at = state.edits;
    for (const key of path) {
      if (!isObject(at) || !(key in at)) return undefined;
      at = at[key];
    }
    return at;
  };
  const put = (path, value) => {
    let at = state.edits;
    const above = [];
    for (const key of path.slice(0, -1)) {
      above.push([at, key]);
      if (!isObject(at[key])) at[key] = bare({});
      at = at[key];
    }
    const last = path[path.length - 1];
    if (value === undefined) delete at[last]; else at[last] = value;
    for (const [parent, key] of above.reverse()) if (Object.keys(parent[key]).length === 0) delete parent[key];
  };
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  const packed = () => {
    const out = {};
    if (Object.keys(state.edits).length) out.e = state.edits;
    if (state.pin) out.p = state.pin;
    if (state.against !== "price") out.a = state.against;
    return JSON.stringify(out);
  };
  // What an address may hold: tables of tables of plain values, and where a
  // control stands for it, a value of its kind. Anything else would leave the
  // control and the brief saying different things.
  const isLabels = (it) => Array.isArray(it) && it.every((label) => typeof label === "string");
  const fits = (value, path) => {
    const control = controls.get(JSON.stringify(path));
    if (!control) return value === null || isLabels(value) || typeof value === "string" || typeof value === "boolean" || Number.isFinite(value);
    const element = control.elements[control.elements.length - 1];
    if (element.dataset.kind === "list") return isLabels(value);
    if (element.dataset.kind === "text") return typeof value === "string";
    if (element.tagName === "SELECT") return [...element.options].some((option) => option.value === value);
    return (value === null && !element.required) || (Number.isFinite(value) && value >= 0);
  };
  let dropped = 0;
  const usable = (edits, path = []) => {
    const out = bare({});
    for (const key of Object.keys(edits)) {
      const value = edits[key], at = [...path, key];
      if (isObject(value)) {
        const inner = at.length < 4 && !controls.has(JSON.stringify(at)) ? usable(value, at) : bare({});
        if (Object.keys(inner).length) out[key] = inner; else dropped += 1;
      } else if (at.length > 1 && fits(value, at)) out[key] = value;
      else dropped += 1;
    }
    return out;
  };
  const unpack = (text) => {
    let read = {};
    // What cannot be read, or is nested beyond reason, is left out.
    try { read = JSON.parse(text) || {}; bare(read); } catch { read = {}; }
    const pin = isObject(read.p) && typeof read.p.name === "string" && isObject(read.p.parts) && Object.values(read.p.parts).every((dose) => typeof dose === "number");
    state = { edits: usable(bare(isObject(read.e) ? read.e : {})), pin: pin ? bare(read.p) : null, against: [...$("against").options].some((option) => option.value === read.a) ? read.a : "price" };
  };
  const fromAddress = () => {
    try { return decodeURIComponent(location.hash.slice(1)) || "{}"; } catch { return "{}"; }
  };
  const toAddress = () => {
    const text = packed();
    host.remember?.(text);
    history.replaceState(null, "", text === "{}" ? location.pathname + location.search : "#" + encodeURIComponent(text));
  };

  // --- Undo and redo -------------------------------------------------------

  const KEPT = 200;
  const memory = "permil-undo:" + bench.dataset.file;
  let past = [], future = [], present = "{}";
  const remember = () => {
    try { sessionStorage.setItem(memory, JSON.stringify({ past, future, present })); } catch { /* full or forbidden: undo ends with the page */ }
  };
  const recall = () => {
    try {
      const kept = JSON.parse(sessionStorage.getItem(memory) || "null");
      if (kept && kept.present === present) ({ past, future } = kept);
    } catch { /* nothing to recall */ }
  };
  const commit = () => {
    const now = packed();
    if (now === present) return;
    past.push(present);
    past = past.slice(-KEPT);
    future = [];
    present = now;
    remember();
    buttons();
  };
  const step = (from, to, word) => {
    if (!from.length) return;
    to.push(present);
    present = from.pop();
    unpack(present);
    remember();
    changed();
    say(word);
  };
  const buttons = () => {
    document.querySelector('[data-do="undo"]').disabled = past.length === 0;
    document.querySelector('[data-do="redo"]').disabled = future.length === 0;
    document.querySelector('[data-do="reset"]').disabled = Object.keys(state.edits).length === 0;
  };

  // --- Controls ------------------------------------------------------------

  const controls = new Map();
  for (const element of bench.querySelectorAll("[data-path]")) {
    const key = element.dataset.path;
    if (!controls.has(key)) controls.set(key, { path: JSON.parse(key), file: JSON.parse(element.dataset.file), elements: [] });
    controls.get(key).elements.push(element);
  }
  const valueOf = (control) => {
    const set = get(control.path);
    return set === undefined ? control.file : set;
  };
  // A figure with a point or a comma; both, or two of either, could be read in
  // two ways.
  const figure = (text) => (/^\s*\d*[.,]?\d*\s*$/.test(text) && /\d/.test(text) ? Number(text.trim().replace(",", ".")) : NaN);
  const labels = (text) => text.split(",").map((label) => label.trim()).filter(Boolean);
  // What a control says: undefined where it says nothing that can be used.
  const read = (element) => {
    if (element.dataset.kind === "list") return labels(element.value);
    if (element.dataset.kind === "text") return element.value;
    if (element.type === "range") return Number(element.value);
    if (element.value.trim() === "") return element.required ? undefined : null;
    const number = figure(element.value);
    return Number.isFinite(number) && number >= 0 ? number : undefined;
  };
  const show = (element, control) => {
    const value = valueOf(control);
    if (element.type === "range") {
      const open = String(control.path[control.path.length - 1]).endsWith("_min") ? element.min : element.max;
      element.value = value === null ? open : value;
      element.setAttribute("aria-valuetext", value === null ? "none" : String(value));
    } else if (element !== document.activeElement || !element.matches(":focus")) {
      element.value = value === null ? "" : Array.isArray(value) ? value.join(", ") : value;
    }
    element.classList.toggle("moved", !same(value, control.file));
    element.removeAttribute("aria-invalid");
  };
  const set = (control, value) => put(control.path, same(value, control.file) ? undefined : value);
  const controlAt = (...path) => controls.get(JSON.stringify(path));

  const showAll = () => {
    for (const control of controls.values()) for (const element of control.elements) show(element, control);
    $("against").value = state.against;
    for (const row of bench.querySelectorAll(".target > li")) {
      const name = row.dataset.descriptor;
      const said = [];
      const weight = valueOf(controlAt("target", name, "weight")), ceiling = valueOf(controlAt("target", name, "max"));
      if (weight !== 1) said.push("weight " + weight);
      if (ceiling !== null) said.push("at most " + ceiling);
      row.querySelector(".changed").textContent = said.length ? ": " + said.join(", ") : "";
    }
    locks();
    buttons();
  };
  // Everything after the state has changed as a whole.
  const changed = () => {
    document.activeElement?.matches?.("input.number") && document.activeElement.blur();
    showAll();
    toAddress();
    solve();
  };

  bench.addEventListener("input", (event) => {
    const element = event.target;
    if (element.id === "find") return find(element.value);
    if (!element.dataset.path) return;
    clearTimeout(typing.get(element));
    // A figure is whole once the keys rest: "7" on the way to "70" is no wish.
    if (element.tagName !== "SELECT" && element.type !== "range") typing.set(element, setTimeout(() => apply(element), PAUSE));
    else apply(element);
  });
  const PAUSE = 400;
  const typing = new Map();
  const apply = (element) => {
    clearTimeout(typing.get(element));
    typing.delete(element);
    const control = controls.get(element.dataset.path);
    const value = read(element);
    if (value === undefined) {
      element.setAttribute("aria-invalid", "true");
      return;
    }
    if (same(value, valueOf(control))) return void element.removeAttribute("aria-invalid");
    set(control, value);
    // A material that is locked is used, one that is never used is not locked.
    const [table, name, key] = control.path;
    if (table === "doses" && key === "fixed" && value !== null && valueOf(controlAt(table, name, "use")) === "never") set(controlAt(table, name, "use"), "may");
    if (table === "doses" && key === "use" && value === "never") set(controlAt(table, name, "fixed"), null);
    // A descriptor that the brief did not name weighed as an off-note; named,
    // it keeps the weight that is shown, or gets one.
    const weight = table === "target" && key === "score" && element.closest("[data-unnamed]") ? controlAt(table, name, "weight") : null;
    if (weight && weight.file !== 1 && get(weight.path) === undefined && value > 0) put(weight.path, weight.file > 0 ? weight.file : 1);
    showAll();
    toAddress();
    solve();
    if (element.type !== "range") commit();
  };
  // What is still being typed counts before anything else is done with it.
  const applyAll = () => { for (const element of [...typing.keys()]) apply(element); };
  bench.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.dataset.path && event.target.tagName === "INPUT") apply(event.target);
  });
  bench.addEventListener("change", (event) => {
    if (typing.has(event.target)) apply(event.target);
    if (event.target.id === "against") {
      state.against = event.target.value;
      prints.set("tradeoff", "");
      toAddress();
      solve();
    } else if (event.target.dataset.path) {
      showAll();
    }
    commit();
  });
  const find = (text) => {
    const wanted = text.trim().toLowerCase();
    for (const row of bench.querySelectorAll(".shelf > li")) row.hidden = !row.dataset.material.toLowerCase().includes(wanted);
  };

  // Changes that a button of the answer offers.
  const merge = (into, more) => {
    for (const key of Object.keys(more)) {
      if (!isObject(more[key])) into[key] = more[key];
      else { if (!isObject(into[key])) into[key] = bare({}); merge(into[key], more[key]); }
    }
  };
  const take = (edits) => {
    merge(state.edits, bare(edits));
    for (const control of controls.values()) {
      const value = get(control.path);
      if (value !== undefined) set(control, value);
    }
    for (const [name, edit] of Object.entries(edits.doses || {})) {
      if (edit.use === "never" && controlAt("doses", name, "fixed")) set(controlAt("doses", name, "fixed"), null);
    }
    commit();
    changed();
  };

  // --- Solving -------------------------------------------------------------

  const post = host.post;
  const view = () => ({ page, brief: bench.dataset.file, edits: state.edits, pin: state.pin });

  // --- Answers and what they answer -----------------------------------------

  // Each answer carries the fingerprint of brief, palette, limits and changes;
  // a panel that shows another one than the present is out of date, and its
  // buttons do nothing.
  const PANELS = ["headline", "conflict", "formula", "near", "profile", "blotter", "compare", "tradeoff", "worth", "without", "limits", "starts", "closer", "care"].filter((id) => $(id));
  const prints = new Map();
  const lines = new Map();
  for (const id of PANELS) {
    const line = document.createElement("p");
    line.className = "note warn outdated";
    line.textContent = "Out of date: this answers an earlier state.";
    line.hidden = true;
    $(id).before(line);
    lines.set(id, line);
  }
  // The fingerprint of what the controls say now; nothing while it is not known.
  let currentPrint = null;
  const isOutdated = (id) => prints.has(id) && (currentPrint === null || prints.get(id) !== currentPrint);
  const mark = () => {
    for (const id of PANELS) {
      const old = isOutdated(id);
      lines.get(id).hidden = !old || $(id).childElementCount === 0;
      $(id).classList.toggle("stale", old);
      for (const button of $(id).querySelectorAll("button")) {
        if (old) button.setAttribute("aria-disabled", "true"); else button.removeAttribute("aria-disabled");
      }
    }
    for (const what of ['[data-do="pin"]', "[data-download]"]) {
      for (const button of document.querySelectorAll(what)) button.disabled = isOutdated("formula") || latest === null;
    }
  };
  let marking = 0;
  // What is answered within a blink is not greyed in between: that would
  // flicker. Buttons ask isOutdated themselves and are off at once.
  const unknown = (now) => {
    currentPrint = null;
    clearTimeout(marking);
    if (now) mark(); else marking = setTimeout(mark, 120);
  };
  const known = (piece) => {
    if (!piece.fingerprint || piece.disk !== bench.dataset.disk) {
      if (piece.fingerprint) filesChanged();
      return unknown(true);
    }
    currentPrint = piece.fingerprint;
    clearTimeout(marking);
  };
  const pieces = async (response, use) => {
    const reader = response.body.getReader();
    const decoder = new TextDecoder();
    let rest = "";
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      rest += decoder.decode(value, { stream: true });
      const lines = rest.split("\n");
      rest = lines.pop();
      for (const line of lines) if (line) use(JSON.parse(line));
    }
  };
  const told = async (response) => {
    try { return (await response.json()).error || "The program did not answer."; } catch { return "The program did not answer."; }
  };
  const alarm = (text) => {
    const line = document.createElement("p");
    line.className = "note wrong";
    line.textContent = text;
    $("headline").replaceChildren(line);
    $("ticks").textContent = "";
    prints.delete("headline");
    mark();
    say(text);
  };

  let seq = 0, flight = null, waiting = false, moved = 0, latest = null;
  const questions = new Map();
  const ended = (place) => {
    questions.delete(place);
    place.removeAttribute("aria-busy");
    if (!prints.has(place.id)) place.textContent = "Ended by your change: ask again.";
  };
  const solve = () => {
    moved = performance.now();
    unknown(false);
    // A move outranks what was asked beside it.
    for (const [place, question] of questions) if (!question.signal.aborted) { question.abort(); ended(place); }
    seq += 1;
    if (waiting) return;
    waiting = true;
    queueMicrotask(() => { waiting = false; go(seq); });
  };
  const go = async (own) => {
    flight?.abort();
    flight = new AbortController();
    const since = moved;
    document.body.dataset.state = "busy";
    try {
      const response = await post("/solve", { view: view(), seq: own, against: state.against }, flight.signal);
      if (!response.ok) {
        const why = await told(response);
        const old = response.status === 422 ? "The address of this page holds something that it does not know; press As in the file to begin afresh. " : "";
        if (own !== seq) return;
        document.body.dataset.state = "idle";
        latest = null;
        unknown(true);
        return alarm(response.status === 403 ? closed : old + why);
      }
      await pieces(response, (piece) => own === seq && receive(piece, since));
      if (own === seq) {
        for (const id of ["tradeoff", "worth", "without"]) $(id).setAttribute("aria-busy", "false");
        mark();
        document.body.dataset.state = "idle";
      }
    } catch (error) {
      if (error.name === "AbortError" || own !== seq) return;
      console.error(error);
      document.body.dataset.state = "idle";
      latest = null;
      unknown(true);
      alarm("The program does not answer. " + again);
    }
  };
  const again = host.again, closed = host.closed;

  let later = 0;
  const receive = (piece, since) => {
    clearTimeout(later);
    // What is about to be proven is not shown half done: that would flicker.
    if (piece.kind === "continuous") {
      const left = 25 - (performance.now() - since);
      if (left > 0) { later = setTimeout(() => place(piece, since), left); return; }
    }
    place(piece, since);
  };
  const place = (piece, since) => {
    const focused = document.activeElement?.dataset?.key;
    known(piece);
    for (const [id, html] of Object.entries(piece.html)) {
      const element = $(id);
      element.innerHTML = html;
      if (piece.fingerprint) prints.set(id, piece.fingerprint); else prints.delete(id);
      element.removeAttribute("aria-busy");
      for (const chart of element.querySelectorAll(".chart")) readable(chart);
      if (id === "blotter") onPaper(element);
    }
    $("pinned").hidden = $("compare").childElementCount === 0;
    if (focused && !document.activeElement?.dataset?.key) {
      document.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
    }
    const lost = piece.kind === "wrong" || piece.kind === "none" || piece.kind === "failed";
    if (lost || piece.doses) latest = null;
    if (piece.kind === "wrong") $("conflict").replaceChildren();
    if (piece.doses) shelf(piece);
    if (piece.kind === "final") {
      latest = piece.doses;
      for (const id of ["tradeoff", "worth", "without"]) $(id).setAttribute("aria-busy", "true");
    }
    mark();
    locks();
    if (piece.said) say(piece.said);
    if (["final", "none", "wrong", "continuous", "better"].includes(piece.kind)) {
      // Seen: once the next frame is drawn.
      requestAnimationFrame(() => setTimeout(() => {
        const ms = Math.round(performance.now() - since);
        document.body.dataset[piece.kind + "Ms"] = ms;
        document.body.dataset.kind = piece.kind;
        document.body.dataset.seq = piece.seq;
        const count = countEdits(state.edits);
        const from = count === 0 ? "As in the file." : count === 1 ? "One change from the file." : `${count} changes from the file.`;
        $("ticks").textContent = `${from} ${piece.kind === "final" ? "Solved again and shown" : "Shown"} in ${ms} ms.`;
      }, 0));
    }
  };
  const countEdits = (edits) => {
    if (!isObject(edits)) return 1;
    return Object.values(edits).reduce((sum, inner) => sum + countEdits(inner), 0);
  };
  const short = (parts) => String(Number(Number(parts).toPrecision(4)));
  const shelf = (piece) => {
    for (const row of bench.querySelectorAll(".shelf > li")) {
      const dose = piece.doses[row.dataset.material];
      row.querySelector(".now").textContent = dose === undefined ? "" : short(dose) + " ‰";
      row.classList.toggle("in", dose !== undefined);
    }
    for (const row of bench.querySelectorAll(".target > li")) {
      const blend = piece.blend[row.dataset.descriptor];
      row.querySelector(".blend").textContent = blend === undefined ? "" : "is " + blend.toFixed(1);
    }
  };
  const locks = () => {
    for (const button of document.querySelectorAll("[data-lock]")) {
      const control = controlAt("doses", button.dataset.lock, "fixed");
      const locked = control !== undefined && valueOf(control) !== null;
      button.setAttribute("aria-pressed", String(locked));
      const word = locked ? "Locked" : "Lock";
      button.textContent = word;
      button.setAttribute("aria-label", button.getAttribute("aria-label").replace(/^Lock(ed)?/, word));
    }
  };
  const say = (text) => { $("said").textContent = text; };

  // --- Charts that can be read ----------------------------------------------

  const readable = (chart) => {
    const readout = chart.nextElementSibling;
    const marks = [...chart.querySelectorAll("g")].filter((g) => g.firstElementChild?.tagName === "title");
    if (!readout || !marks.length) return;
    let at = -1;
    const readAt = (mark) => {
      chart.querySelector(".read")?.classList.remove("read");
      mark.classList.add("read");
      readout.textContent = mark.firstElementChild.textContent;
    };
    chart.addEventListener("mouseover", (event) => {
      const mark = event.target.closest("g");
      if (mark && marks.includes(mark)) { at = marks.indexOf(mark); readAt(mark); }
    });
    chart.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (by) at = (at + by + marks.length) % marks.length;
      else if (event.key === "Home") at = 0;
      else if (event.key === "End") at = marks.length - 1;
      else return;
      event.preventDefault();
      readAt(marks[at]);
    });
  };

  // --- Time on a blotter ------------------------------------------------------

  // Everything that is said at a time comes with the answer; the slider puts it into its
  // place. Where it stood, in minutes, stays from one formula to the next.
  let minutesNow = 0, timeTo = () => {};
  const onPaper = (panel) => {
    const box = panel.querySelector(".time");
    if (!box) { timeTo = () => {}; return; }
    const { wanted, points } = JSON.parse(box.dataset.course);
    const slider = $("time");
    const plot = panel.querySelector("g.plot");
    const line = plot && document.createElementNS(plot.namespaceURI, "line");
    if (line) { line.setAttribute("class", "cursor"); plot.append(line); }
    const set = (element, attributes) => { for (const key of Object.keys(attributes)) element.setAttribute(key, attributes[key]); };
    timeTo = (at) => {
      const point = points[at], targets = wanted[point.wanted];
      slider.value = at;
      slider.setAttribute("aria-valuetext", point.words);
      $("time-said").textContent = point.words;
      $("time-figures").textContent = point.figures;
      for (const row of box.querySelectorAll(".profile > li")) {
        const [place, is, gap, verdict] = point.blend[row.dataset.row], [target, of] = targets[row.dataset.row];
        set(row.querySelector("line.gap"), { x1: target, x2: place, class: "gap " + verdict });
        set(row.querySelector("circle.target"), { cx: target });
        set(row.querySelector("circle.blend"), { cx: place, class: "blend " + verdict });
        row.querySelector(".is").textContent = is;
        row.querySelector(".of").textContent = of;
        const number = row.querySelector("span.gap");
        number.textContent = gap;
        number.className = "gap " + verdict;
      }
      for (const row of box.querySelectorAll("tr[data-row]")) {
        const [share, left] = point.materials[row.dataset.row];
        row.querySelector(".fill").setAttribute("width", share + "%");
        row.querySelector(".n .n").textContent = share;
        row.querySelector(".left").textContent = left;
      }
      if (line) {
        const { from, to, left, right, top, bottom } = plot.dataset;
        const part = Math.log(point.minutes / from) / Math.log(to / from);
        const x = Number(left) + Math.min(1, Math.max(0, part)) * (right - left);
        set(line, { x1: x, x2: x, y1: top, y2: bottom });
      }
      for (const button of box.querySelectorAll("[data-time]")) button.setAttribute("aria-pressed", String(Number(button.dataset.time) === at));
    };
    slider.addEventListener("input", () => { const at = Number(slider.value); minutesNow = points[at].minutes; timeTo(at); });
    const log = (minutes) => Math.log(Math.max(minutes, points[0].minutes));
    const apart = (point) => Math.abs(log(point.minutes) - log(minutesNow));
    timeTo(points.reduce((best, point, at) => (apart(point) < apart(points[best]) ? at : best), 0));
  };
  const goTo = (at) => {
    $("time").value = at;
    $("time").dispatchEvent(new Event("input", { bubbles: true }));
  };

  // --- Questions, saving, downloads ------------------------------------------

  const ask = async (question) => {
    const place = $(question === "starts" ? "starts" : "closer");
    questions.get(place)?.abort();
    const own = new AbortController();
    questions.set(place, own);
    place.setAttribute("aria-busy", "true");
    if (!place.childElementCount) place.textContent = "Working …";
    try {
      const response = await post("/ask", { view: view(), question, material: $("closer-material").value }, own.signal);
      if (!response.ok) { prints.delete(place.id); place.textContent = response.status === 403 ? closed : await told(response); }
      else await pieces(response, (piece) => placeAnswer(piece));
    } catch (error) {
      if (error.name === "AbortError") return;
      prints.delete(place.id);
      place.textContent = "The program does not answer. " + again;
      unknown(true);
    }
    if (questions.get(place) === own) questions.delete(place);
    place.removeAttribute("aria-busy");
    mark();
  };
  const placeAnswer = (piece) => {
    for (const [id, html] of Object.entries(piece.html)) {
      $(id).innerHTML = html;
      if (piece.fingerprint) prints.set(id, piece.fingerprint); else prints.delete(id);
      for (const chart of $(id).querySelectorAll(".chart")) readable(chart);
    }
    if (piece.fingerprint && piece.disk !== bench.dataset.disk) { filesChanged(); unknown(true); }
    mark();
    if (piece.said) say(piece.said);
  };

  // Loads the page anew from a file: controls, undo and "As in the file" are
  // those of that file. `mine`: values that are to stay whatever it says.
  // Changes for which there is no control, such as an offered ratio.
  const leaves = (edits, path = []) => Object.keys(edits).flatMap((key) => {
    const at = [...path, key];
    if (isObject(edits[key])) return leaves(edits[key], at);
    return controls.has(JSON.stringify(at)) ? [] : [[at, edits[key]]];
  });
  const begin = (file, said, mine, more) => {
    try {
      sessionStorage.removeItem("permil-undo:" + file);
      sessionStorage.setItem("permil-begin", JSON.stringify({ file, said, mine, more }));
    } catch { /* forbidden: the file's values are shown, and nothing is said */ }
    const kept = JSON.stringify({ ...(state.pin ? { p: state.pin } : {}), ...(state.against !== "price" ? { a: state.against } : {}) });
    host.reopen(file, kept);
  };
  const begun = () => {
    try {
      const kept = JSON.parse(sessionStorage.getItem("permil-begin") || "null");
      sessionStorage.removeItem("permil-begin");
      if (!kept || kept.file !== bench.dataset.file) return "";
      for (const [key, value] of kept.mine || []) if (controls.has(key)) set(controls.get(key), value);
      for (const [path, value] of kept.more || []) put(path, value);
      return kept.said;
    } catch { return ""; }
  };

  // The files as somebody else left them: two ways on, and nothing in between.
  const filesChanged = () => {
    if ($("changed").childElementCount) return;
    const line = document.createElement("p");
    line.className = "note warn";
    line.textContent = `${bench.dataset.file}, or a file that it names, was changed on disk since this page was loaded. Take theirs starts from the files as they are now and drops what you moved. Keep mine reads palette and limits anew, and leaves what is wanted and allowed as shown here.`;
    const two = document.createElement("p");
    two.className = "buttons";
    for (const [deed, words] of [["theirs", "Take theirs"], ["mine", "Keep mine"]]) {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.do = deed;
      button.textContent = words;
      two.append(button);
    }
    $("changed").replaceChildren(line, two);
    say("A file was changed on disk.");
  };
  let looking = false, gone = false;
  const look = async () => {
    if (looking || document.hidden) return;
    looking = true;
    try {
      const response = await post("/files", { view: { page, brief: bench.dataset.file } });
      const now = response.ok ? (await response.json()).disk : response.status === 422 ? "" : bench.dataset.disk;
      if (now !== bench.dataset.disk) { filesChanged(); unknown(true); }
      const refused = response.status === 403;
      if (refused && !gone) { latest = null; unknown(true); alarm(closed); }
      if (gone && response.ok) solve();
      gone = refused;
    } catch {
      // Told once, not every three seconds.
      if (!gone) { latest = null; unknown(true); alarm("The program does not answer. " + again); }
      gone = true;
    }
    looking = false;
  };
  const looks = setInterval(look, 3000);
  life.signal.addEventListener("abort", () => clearInterval(looks));
  document.addEventListener("visibilitychange", look, whileOpen);

  const save = async (overwrite) => {
    const brief = $("save-brief").value.trim();
    $("save-over").hidden = true;
    if (currentPrint === null) {
      $("save-said").textContent = $("changed").childElementCount ? "Not saved: a file was changed on disk. Close this, and choose Take theirs or Keep mine first." : "Not saved: what the page shows is not the answer to the present state yet.";
      return;
    }
    $("save-said").textContent = "Saving …";
    try {
      const response = await post("/save", { view: { ...view(), shown: currentPrint }, brief: $("save-brief").value.trim(), formula: $("save-formula").value.trim(), overwrite });
      const answer = await response.json();
      if (response.ok) {
        const said = "Saved: " + answer.saved.join(" and ") + ".";
        $("save-said").textContent = said;
        // From now on the saved brief is the file that the page starts from.
        if (answer.saved.includes(brief)) begin(brief, said);
      } else if (response.status === 409) {
        $("save-said").textContent = "There already: " + answer.exists.join(" and ") + ". Choose another name, or write over it.";
        $("save-over").hidden = false;
      } else {
        $("save-said").textContent = "Not saved: " + answer.error + ".";
      }
    } catch {
      $("save-said").textContent = "Not saved: the program does not answer.";
    }
  };
  $("save-form").addEventListener("submit", (event) => { event.preventDefault(); save(false); });
  $("save-over").addEventListener("click", () => save(true));
  for (const id of ["save-brief", "save-formula"]) $(id).addEventListener("input", () => { $("save-over").hidden = true; });

  const download = async (button) => {
    if (currentPrint === null) return say("Not given: wait for the answer to the present state.");
    const body = { view: { ...view(), shown: currentPrint }, file: button.dataset.download };
    if (body.file === "weigh" || body.file === "report") { body.batch = figure($("batch").value); body.balance = figure($("balance").value); }
    try {
      const response = await post("/download", body);
      if (!response.ok) return alarm(await told(response));
      const link = document.createElement("a");
      link.href = URL.createObjectURL(await response.blob());
      link.download = bench.dataset.file.replace(/\.toml$/, "") + "." + button.dataset.ending;
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
      say("Downloaded " + link.download);
    } catch { alarm("The program does not answer."); }
  };

  const pin = (parts, name) => {
    const numbers = bare({});
    for (const [material, dose] of Object.entries(parts)) numbers[material] = Number(dose);
    state.pin = { name, parts: numbers };
    commit();
    changed();
    say("Pinned.");
  };
  const deeds = {
    undo: () => step(past, future, "Undone."),
    redo: () => step(future, past, "Done again."),
    theirs: () => begin(bench.dataset.file, "Taken from the files as they are now."),
    mine: () => begin(bench.dataset.file, "Kept as it was here; palette and limits are read anew.", [...controls].map(([key, control]) => [key, valueOf(control)]), leaves(state.edits)),
    reset: () => { state.edits = bare({}); commit(); changed(); },
    pin: () => latest && !isOutdated("formula") && pin(latest, "the formula of " + new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })),
    unpin: () => { state.pin = null; commit(); changed(); },
    save: () => { $("save-said").textContent = ""; $("save-over").hidden = true; $("saving").showModal(); },
    close: () => $("saving").close(),
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const data = button.dataset;
    applyAll();
    const panel = button.closest(PANELS.map((id) => "#" + id).join());
    if (panel && isOutdated(panel.id)) return say("Out of date: wait for the answer to the present state.");
    if (data.do) deeds[data.do]?.();
    else if (data.edits) take(JSON.parse(data.edits));
    else if (data.lock !== undefined) {
      const control = controlAt("doses", data.lock, "fixed");
      if (!control) return;
      take({ doses: { [data.lock]: valueOf(control) === null ? { fixed: Number(data.at), ...(valueOf(controlAt("doses", data.lock, "use")) === "never" ? { use: "may" } : {}) } : { fixed: null } } });
    } else if (data.time !== undefined) goTo(data.time);
    else if (data.pin) pin(JSON.parse(data.pin), data.name);
    else if (data.ask) ask(data.ask);
    else if (data.download) download(button);
  }, whileOpen);
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || $("saving").open) return;
    const inText = event.target.matches("input:not([type=range])");
    const key = event.key.toLowerCase();
    if (inText || (key !== "z" && key !== "y")) return;
    event.preventDefault();
    if (key === "y" || event.shiftKey) deeds.redo(); else deeds.undo();
  }, whileOpen);
  document.addEventListener("click", (event) => {
    for (const menu of document.querySelectorAll("details.menu[open]")) if (!menu.contains(event.target)) menu.open = false;
  }, whileOpen);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const menu of document.querySelectorAll("details.menu[open]")) { menu.open = false; menu.querySelector("summary").focus(); }
  }, whileOpen);
  window.addEventListener("hashchange", () => { unpack(fromAddress()); commit(); changed(); }, whileOpen);

  // --- Begin -----------------------------------------------------------------

  // On a phone the shelf opens when it is wanted.
  if (matchMedia("(max-width: 979px)").matches) for (const card of bench.querySelectorAll(".controls > details:not(:first-child)")) card.open = false;
  unpack(fromAddress());
  present = packed();
  recall();
  const said = begun();
  commit();
  showAll();
  toAddress();
  solve();
  if (said) say(said);
  if (dropped) say("Some of this address could not be used and was left out.");
  return () => { flight?.abort(); life.abort(); };
};

// Behind a connection: the server of `permil explore`.
const permilToken = document.querySelector('meta[name="permil-token"]')?.content;
if (permilToken) permilPage({
  post: (address, body, signal) => fetch(address, {
    method: "POST",
    headers: { "content-type": "application/json", "x-permil-token": permilToken },
    body: JSON.stringify(body), signal, credentials: "same-origin", redirect: "error",
  }),
  reopen: (file, state) => {
    history.replaceState(null, "", "/?brief=" + encodeURIComponent(file) + (state === "{}" ? "" : "#" + encodeURIComponent(state)));
    location.reload();
  },
  again: "If it was ended, start permil explore again and open the address that it prints. What you moved stands in this page's address, from the # on: put that behind the address of the page that opens.",
  closed: "The program was started again since this page was opened, and does not know it any more. Open the address that it printed now, then load this page again.",
});
