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

  const tellWhy = (words) => {
    for (const place of document.querySelectorAll("[data-device-why]")) {
      place.textContent = words ?? "";
      place.hidden = words === null;
    }
  };

  const why = whyNot();
  if (location.protocol.startsWith("http")) {
    addManifest();
    addOffer();
  }
  tellWhy(why);
  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault(); // it is offered on This device, not over the page
    globalThis.journalInstallOffer = event;
    dispatchEvent(new Event("journalinstalloffer"));
  });
  document.head.append(Object.assign(document.createElement("script"), { src: `${root}static/js/scan.js` }));
  const offline = async () => {
    const isRefused = await Promise.resolve().then(() => caches.has("journal")).then(() => false, () => true);
    if (isRefused) return tellWhy("This browser blocks storage for this address, so the journal cannot be saved for offline use, and records are not kept. Allow site data for it in the browser’s settings.");
    const { fillIn, start } = await import("./offline.js");
    await fillIn();
    start();
    return undefined;
  };
  if (why === null) {
    const filled = offline();
    if (document.querySelector("[data-device]")) globalThis.journalWait?.(filled);
  }
  if (location.protocol.startsWith("http")) {
    // Where storage is blocked, This device and Record say so.
    import("./recorded.js").then((recorded) => recorded.start()).catch((error) => console.info(error));
    const outbox = document.querySelector("[data-outbox]") && import("./outbox-page.js").then(({ begun }) => begun);
    if (outbox) globalThis.journalWait?.(outbox.catch((error) => console.info(error)));
  }
})();
