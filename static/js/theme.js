/* The light or dark theme, set before the first paint, and the wait for scripts that make a page from what this device
   holds: is in the head, not deferred.

   Hooks
     html[data-theme]              set to "light" or "dark"
     html[data-hosted]             where the page comes from a host, so that things can be recorded on it
     html[data-loading]            until the deferred scripts have run, and what they hold with `journalWait` is done; two
                                   seconds at most. Record, the outbox and This device are shown then
                                   (record.css)
     button[data-theme-to="…"]     "light", "dark" or "automatic" (as the device has it); the one in force gets
                                   aria-pressed="true"
     the choices of earlier versions ("daylight", "lamp", "device") are read as these */
"use strict";

(() => {
  const KEY = "journal theme";
  const dark = matchMedia("(prefers-color-scheme: dark)");

  const bar = Object.assign(document.createElement("meta"), { name: "theme-color" }); // colours the browser's own bar
  document.head.append(bar);

  const EARLIER = { daylight: "light", lamp: "dark", device: "automatic" };

  const chosen = () => {
    try {
      const stored = localStorage.getItem(KEY) ?? "automatic";
      return EARLIER[stored] ?? stored;
    } catch {
      return "automatic"; // storage is blocked in some private windows
    }
  };

  const remember = (theme) => {
    try {
      localStorage.setItem(KEY, theme);
    } catch {
      // the choice then lasts as long as the page
    }
  };

  const apply = (choice) => {
    const theme = choice === "automatic" ? (dark.matches ? "dark" : "light") : choice;
    document.documentElement.dataset.theme = theme;
    bar.content = theme === "dark" ? "#131210" : "#fbfaf5";
    for (const button of document.querySelectorAll("[data-theme-to]")) {
      button.setAttribute("aria-pressed", String(button.dataset.themeTo === choice));
    }
  };

  const LONGEST_WAIT_MS = 2000;
  const root = document.documentElement;
  const waits = [];
  const show = () => delete root.dataset.loading;
  root.dataset.loading = "";
  if (location.protocol.startsWith("http")) root.dataset.hosted = "";
  setTimeout(show, LONGEST_WAIT_MS);
  globalThis.journalWait = (promise) => waits.push(promise);
  document.addEventListener("DOMContentLoaded", () => {
    if (waits.length === 0) show();
    else Promise.allSettled(waits).then(show);
  });

  apply(chosen());
  dark.addEventListener("change", () => apply(chosen()));
  addEventListener("storage", (event) => event.key === KEY && apply(chosen()));
  document.addEventListener("DOMContentLoaded", () => {
    apply(chosen());
    document.addEventListener("click", (event) => {
      const button = event.target.closest?.("[data-theme-to]");
      if (!button) return;
      remember(button.dataset.themeTo);
      apply(button.dataset.themeTo);
    });
  });
})();
