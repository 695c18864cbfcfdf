// The files of the folder as texts, to be changed by hand: a shelf is written here, where
// there is no other editor. What was changed is put into the folder with a button, or when
// another file is looked at; the page is then shown anew, with what is wrong by its line.
"use strict";
const permilTexts = (host) => {
  const $ = (id) => document.getElementById(id);
  const panel = $("texts"), which = $("text-file"), text = $("text");
  let shown = "";
  // A field of text knows one end of a line; the file keeps its own.
  const before = () => (host.files()[shown] ?? "").replace(/\r\n?/g, "\n");
  const isChanged = () => shown !== "" && text.value !== before();
  const look = (name) => {
    shown = name;
    which.value = name;
    text.value = before();
  };
  const put = async () => {
    if (!isChanged()) return;
    const isOther = (host.files()[shown] ?? "").includes("\r\n");
    await host.put(shown, isOther ? text.value.replace(/\n/g, "\r\n") : text.value);
  };
  which.addEventListener("change", async () => {
    const next = which.value;
    await put();
    look(next);
  });
  return {
    isChanged,
    put,
    // Another folder has taken the place of the one that this was about.
    forget: () => { shown = ""; },
    // The list as the folder now is; the same file stays in sight where it is still there.
    list: () => {
      const names = Object.keys(host.files()).sort();
      which.replaceChildren(...names.map((name) => new Option(name, name)));
      if (isChanged() && names.includes(shown)) which.value = shown;
      else look(names.includes(shown) ? shown : names.includes(host.first()) ? host.first() : names[0] ?? "");
    },
    open: (name) => {
      panel.open = true;
      look(name);
    },
  };
};
