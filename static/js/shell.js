/* Starts what works only for pages from a host, not from a folder: installing the journal and saving it offline.

   Hooks
     [data-device-why]    (on This device) gets the reason why nothing can be saved here
   The link to the manifest is added here, since from a folder it would only be an error. */
"use strict";

(() => {
  const root = document.documentElement.dataset.root || "./";

  const whyNot = () => {
    if (!location.protocol.startsWith("http")) return "This copy is opened from a folder, so everything is already on this device.";
    if (!isSecureContext) return "This address does not use HTTPS, so the browser cannot save the journal for offline use.";
    if (!("serviceWorker" in navigator && "locks" in navigator)) return "This browser cannot save the journal for offline use.";
    return null;
  };

  /** Where a newer version is offered (see offline.js); here and not in each page, which a device fetches anew. */
  const addOffer = () => {
    const [offer, words, button] = ["aside", "p", "button"].map((name) => document.createElement(name));
    Object.assign(offer, { className: "update-bar", hidden: true });
    offer.dataset.update = "";
    offer.setAttribute("role", "status");
    words.textContent = "A newer version of this journal is ready on this device.";
    Object.assign(button, { type: "button", textContent: "Update now" });
    button.dataset.updateNow = "";
    offer.append(words, button);
    document.querySelector(".head")?.after(offer);
  };

  const addManifest = () => {
    const link = document.createElement("link");
    link.rel = "manifest";
    link.href = `${root}manifest.webmanifest`;
    document.head.append(link);
  };

  const why = whyNot();
  if (location.protocol.startsWith("http")) {
    addManifest();
    addOffer();
  }
  for (const place of document.querySelectorAll("[data-device-why]")) {
    place.textContent = why ?? "";
    place.hidden = why === null;
  }
  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault(); // it is offered on This device, not over the page
    globalThis.journalInstallOffer = event;
    dispatchEvent(new Event("journalinstalloffer"));
  });
  document.head.append(Object.assign(document.createElement("script"), { src: `${root}static/js/scan.js` }));
  if (why === null) import("./offline.js").then((offline) => offline.start());
  if (location.protocol.startsWith("http")) {
    import("./recorded.js").then((recorded) => recorded.start());
    if (document.querySelector("[data-outbox]")) import("./outbox-page.js");
  }
})();
