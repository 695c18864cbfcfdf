// Opening what is the user's own: a folder through the browser's picker, or dropped; an
// archive; a shelf as a sheet. Only texts that the program reads are taken, by their paths.
//
// The host has take(name, files, brief, handle), imported(name, bytes) and say(text).
"use strict";
const permilOpen = (host) => {
  const $ = (id) => document.getElementById(id);
  const LARGEST = 16 * 1024 * 1024;

  // A folder that was opened or dropped: texts by their paths, without what lies above the brief.
  const openTexts = async (name, read, handle = null) => {
    const files = Object.fromEntries(read.filter(([path]) => /\.(toml|md|csv)$/i.test(path)));
    const briefs = Object.keys(files).filter((path) => /(^|\/)[^/]*\.toml$/.test(path) && /^\s*(\[target\]|target_from\s*=)/m.test(files[path]));
    const sheet = Object.keys(files).find((path) => /\.csv$/i.test(path));
    if (!briefs.length && sheet) return openSheet(sheet, new TextEncoder().encode(files[sheet]));
    if (!briefs.length) return host.say("No brief was found in it: a .toml with [target] or target_from. A shelf alone may come as CSV.");
    const brief = briefs.find((path) => /(^|\/)brief\.toml$/.test(path)) || briefs.sort()[0];
    if (!await host.take(name, files, brief, handle)) return;
    host.say(`Opened ${brief}` + (briefs.length > 1 ? `, one of ${briefs.length} briefs.` : "."));
  };
  const openSheet = async (name, content) => {
    const told = await host.imported(name, content);
    if (told.faults) return host.say(`${name} cannot be read as a shelf: ${told.faults.slice(0, 3).join("; ")}`);
    const wanted = JSON.stringify(told.first || "");
    const brief = `title = "A first brief"\npalette = "palette.toml"\n\n[target]\n${wanted} = 5   # move the others on the page\n\n[formula]\nstep = 1\nmin_dose = 2\nmax_materials = 9\n`;
    if (!await host.take("sheet", { "palette.toml": told.palette, "brief.toml": brief }, "brief.toml")) return;
    host.say(["Read as a shelf; say on the left what you want it to smell of.", ...told.notes].join(" "));
  };
  const openFiles = async (list) => {
    const files = [...list];
    const single = files.length === 1 ? files[0] : null;
    try {
      if (single && /\.zip$/i.test(single.name)) return await openTexts(single.name, trimmed(await permilZip.unpack(single, LARGEST)));
      if (single && /\.csv$/i.test(single.name)) return await openSheet(single.name, new Uint8Array(await single.arrayBuffer()));
      const read = [];
      for (const file of files) {
        if (file.size <= LARGEST && /\.(toml|md|csv)$/i.test(file.name)) read.push([file.path_ || file.webkitRelativePath || file.name, await file.text()]);
      }
      await openTexts("folder", trimmed(read));
    } catch (error) {
      host.say("That could not be opened: " + error.message + ".");
    }
  };
  // Paths without the folder that holds all of them.
  const trimmed = (read) => {
    const top = read.length && read[0][0].includes("/") ? read[0][0].split("/")[0] + "/" : "";
    return top && read.every(([path]) => path.startsWith(top)) ? read.map(([path, text]) => [path.slice(top.length), text]) : read;
  };
  const walk = async (handle, at = "") => {
    const read = [];
    for await (const [name, inner] of handle.entries()) {
      if (name.startsWith(".")) continue;
      if (inner.kind === "directory") { if (at.split("/").length < 5) read.push(...await walk(inner, at + name + "/")); continue; }
      const file = await inner.getFile();
      if (file.size <= LARGEST && /\.(toml|md|csv)$/i.test(name)) read.push([at + name, await file.text()]);
    }
    return read;
  };
  const openFolder = async () => {
    if (!window.showDirectoryPicker) return $("folder-input").click();
    try {
      const handle = await window.showDirectoryPicker({ mode: "readwrite" });
      await openTexts(handle.name, await walk(handle), handle);
    } catch (error) {
      // Refused, or not allowed from here: the plain way is left.
      if (error.name === "AbortError") return host.say("No folder was opened.");
      $("folder-input").click();
    }
  };
  const entriesOf = async (entry, at = "") => {
    if (entry.isFile) {
      const file = await new Promise((done, failed) => entry.file(done, failed));
      file.path_ = at + entry.name;
      return [file];
    }
    const reader = entry.createReader(), found = [];
    for (;;) {
      const some = await new Promise((done, failed) => reader.readEntries(done, failed));
      if (!some.length) return found;
      for (const inner of some) found.push(...await entriesOf(inner, at + entry.name + "/"));
    }
  };
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("drop", async (event) => {
    event.preventDefault();
    const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
    const files = [...event.dataTransfer.files];
    if (entries.some((entry) => entry.isDirectory)) {
      const found = [];
      for (const entry of entries) found.push(...await entriesOf(entry));
      await openFiles(found);
    } else await openFiles(files);
  });
  $("folder-input").addEventListener("change", (event) => openFiles(event.target.files).then(() => { event.target.value = ""; }));
  $("file-input").addEventListener("change", (event) => openFiles(event.target.files).then(() => { event.target.value = ""; }));
  return { folder: openFolder };
};
