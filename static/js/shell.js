/* Starts what a page from a host can do and a page from a folder cannot: being installed, and being held.

   Hooks
     [data-phone-why]    (on This phone) gets the reason where nothing can be held here
   The link to the manifest is added here, since from a folder it would only be an error. */
"use strict";

(() => {
  const root = document.documentElement.dataset.root || "./";

  const whyNot = () => {
    if (!location.protocol.startsWith("http")) return "This copy is read from a folder, so it is all here already.";
    if (!isSecureContext) return "This address is not an https address, and a browser holds nothing from such a one.";
    if (!("serviceWorker" in navigator && "locks" in navigator)) return "This browser cannot hold the journal.";
    return null;
  };

  const addManifest = () => {
    const link = document.createElement("link");
    link.rel = "manifest";
    link.href = `${root}manifest.webmanifest`;
    document.head.append(link);
  };

  const why = whyNot();
  if (location.protocol.startsWith("http")) addManifest();
  for (const place of document.querySelectorAll("[data-phone-why]")) {
    place.textContent = why ?? "";
    place.hidden = why === null;
  }
  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault(); // it is offered on This phone, not over the page
    globalThis.journalInstallOffer = event;
    dispatchEvent(new Event("journalinstalloffer"));
  });
  if (why === null) import("./holding.js").then((holding) => holding.start());
})();
