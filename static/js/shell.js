/* Starts what works only for pages from a host, not from a folder: installing the journal and saving it offline. Adds
   what a share has not: Scan, the ways to Labels, and on the page of a part Record about that part.

   Hooks
     html[data-about]     the ID that the page is of
     .search-form, .foot nav   the button Scan stands behind the search; the way to the page Labels is in the foot, and
     .over                on the page of a culture or batch (html[data-place]) beside its ID
     .to-record           the link to the page Record
     [data-device-why]    (on This device) gets the reason why nothing can be saved here
   The link to the manifest is added here, since from a folder it would only be an error, and the button and the ways,
   since pages are smaller so. The button's first press fetches scan.js. `journalLacks(id, part)` gives why a thing of the
   journal has no part of this number; null where it has, or where that is not known here. */
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

  const addScan = () => {
    const { about, place } = document.documentElement.dataset;
    const record = document.querySelector(".to-record");
    const part = /^#([1-9]\d{0,5})$/.exec(location.hash)?.[1];
    if (record && about && part) record.href = `${root}record/index.html?about=${encodeURIComponent(about)}.${part}`;
    const search = document.querySelector(".search-form");
    if (!search) return;
    const open = Object.assign(document.createElement("button"), { type: "button", className: "scan-open", textContent: "Scan" });
    open.setAttribute("aria-expanded", "false");
    open.addEventListener("click", () => journalLate("static/js/scan.js").then(() => globalThis.journalScan.toggle(), () => {})); // prettier-ignore
    search.after(open);
    const labels = document.createElement("a");
    Object.assign(labels, { textContent: about ? `Labels of ${about}` : "Labels", href: `${root}labels/index.html${about ? "#" : ""}${about ?? ""}` });
    document.querySelector(".foot nav")?.append(labels);
    const tag = about && ["Cultures", "Batches"].includes(place) && [...document.querySelectorAll(".over > .id")].at(-1);
    if (tag) tag.after(Object.assign(labels.cloneNode(), { className: "to-labels", textContent: "Labels", ariaLabel: labels.textContent }));
  };

  globalThis.journalLacks = (id, part) => journalScript("static/js/scan.js").then(() => globalThis.journalScan.lacks(id, part), () => null);

  const why = whyNot();
  addScan();
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
  const offline = async () => {
    const isRefused = await Promise.resolve().then(() => caches.has("journal")).then(() => false, () => true);
    if (isRefused) return tellWhy("This browser blocks storage for this address, so the journal cannot be saved for offline use, and records are not kept. Allow site data for it in the browser’s settings.");
    const { listen, start } = await import("./offline.js");
    listen();
    if (document.querySelector("[data-device]")) await (await import("./device.js")).start(); // it adds packs
    if (document.querySelector("[data-pack]")) await (await import("./pack-buttons.js")).start();
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
