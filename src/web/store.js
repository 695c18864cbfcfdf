// Where the page keeps a folder between two visits: the browser's own store, under a name
// of this file. A browser may refuse, or be full; then the folder lives as long as the page.
"use strict";
const permilStore = (() => {
  const NAME = "permil", KEY = location.pathname;
  const open = () => new Promise((done, failed) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore("folders");
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
    request.onblocked = () => failed(new Error("in use elsewhere"));
  });
  const run = async (mode, work) => {
    const base = await open();
    try {
      return await new Promise((done, failed) => {
        const change = base.transaction("folders", mode), request = work(change.objectStore("folders"));
        change.oncomplete = () => done(request.result);
        change.onerror = change.onabort = () => failed(change.error);
      });
    } finally {
      base.close();
    }
  };
  return {
    load: () => run("readonly", (store) => store.get(KEY)),
    save: (folder) => run("readwrite", (store) => store.put(folder, KEY)),
    clear: () => run("readwrite", (store) => store.delete(KEY)),
  };
})();
