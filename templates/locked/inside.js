/* On every page of a locked site: holds the key, so that the worker can ask for it, leads to where it is locked again,
   and says when the site has got another key. */
"use strict";

(() => {
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  if (!("serviceWorker" in navigator)) return;
  const lock = (globalThis.journalLockHere = globalThis.journalLock(root));
  lock.gather();
  // a share's pages have no script that looks for a newer version
  const isShare = document.querySelector("script[src$='static/js/share.js']");
  if (isShare) navigator.serviceWorker.getRegistration(root).then((registration) => registration?.update()).catch(() => {});

  const link = (words) => Object.assign(document.createElement("a"), { textContent: words, href: new URL("unlock.html", root) });

  const state = async (name) => {
    const stored = await caches.match(new URL(`state/${name}`, root), { cacheName: `journal state ${root.pathname}` });
    return stored?.json();
  };

  const sayOtherKey = async () => {
    const fault = await state("fault");
    if (fault?.kind !== "key" || document.querySelector("[data-other-key]")) return;
    const bar = document.createElement("p");
    bar.className = "caution";
    bar.dataset.otherKey = "";
    bar.append("A newer version of this journal has another key. ", link("Unlock it"));
    const main = document.querySelector("main");
    if (main) main.before(bar);
    else document.body.prepend(bar);
  };

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelector(".foot nav")?.append(link("Lock"));
    sayOtherKey();
  });
  new BroadcastChannel(`journal state ${root.pathname}`).addEventListener("message", ({ data }) => data.kind === "builds" && sayOtherKey());
})();
