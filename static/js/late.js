/* Fetches what a page does without until it is asked for: the search at the first touch of its field, the viewer at the
   first tap on a photo. No photo is shown broken.

   Hooks
     input[data-search]         gets the roles of a combobox; hovered, touched or focused, the search (search.js)
     a[href$=".webp"] in main   a photo, linked at its largest: a tap opens the viewer (viewer.js) instead, and without
                                scripts the file
     [data-play]                a button that plays the page's photos; shown if there are several and motion is wanted
     .pic > img                 gets the class `unloaded` if it could not be loaded, so that only its blurred copy is seen
     p.lacking                  made here under the head, says that a script could not be fetched
   `journalScript(path)` fetches a classic script, once; it works from a folder and in a share too. `journalLate(path)`
   does so for what someone asked for, and says so if it fails. */
"use strict";

(() => {
  const root = document.documentElement.dataset.root || "./";
  const scripts = new Map();

  globalThis.journalScript = (path) => {
    const fetching = () =>
      new Promise((done, failed) => {
        const script = Object.assign(document.createElement("script"), { src: root + path });
        script.addEventListener("load", done);
        script.addEventListener("error", () => {
          scripts.delete(path); // not here now; fetched again when it is next asked for
          failed(new Error("This page is incomplete: load it again."));
        });
        document.head.append(script);
      });
    if (!scripts.has(path)) scripts.set(path, fetching());
    return scripts.get(path);
  };

  const LACKING = "What this needs is not on this device yet. Connect it to the internet, then try again.";

  globalThis.journalLate = async (path) => {
    try {
      await journalScript(path);
      document.querySelector(".lacking")?.remove();
    } catch (error) {
      const says = document.querySelector(".lacking") ?? Object.assign(document.createElement("p"), { className: "lacking" });
      says.setAttribute("role", "status");
      document.querySelector("header").after(says);
      says.textContent = LACKING;
      throw error;
    }
  };

  // -- search --------------------------------------------------------------------------------------------------
  const field = document.querySelector("[data-search]");
  const search = () => journalLate("static/js/search.js").catch(() => {}); // it says so itself
  for (const [name, value] of [
    ["role", "combobox"], ["aria-autocomplete", "list"], ["aria-expanded", "false"], ["autocomplete", "off"],
    ["autocapitalize", "off"], ["spellcheck", "false"], ["enterkeyhint", "search"],
  ]) field?.setAttribute(name, value); // prettier-ignore
  for (const touch of ["pointerenter", "focus"]) field?.addEventListener(touch, search);
  if (field && document.activeElement === field) search();

  // -- photos --------------------------------------------------------------------------------------------------
  const clear = (image) => image.parentElement?.classList.contains("pic") && image.classList.add("unloaded");
  for (const image of document.images) if (image.complete && image.src && image.naturalWidth === 0) clear(image);
  document.addEventListener("error", (event) => event.target instanceof HTMLImageElement && clear(event.target), true);

  const PHOTO = 'main a[href$=".webp"]';
  const addressOf = (link) => new URL(link.getAttribute("href"), location.href).href; // in a drawing `href` is no text
  const viewer = () => journalScript("static/js/viewer.js").then(() => globalThis.journalViewer);

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.(PHOTO);
    if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (!window.HTMLDialogElement) return;
    event.preventDefault();
    viewer().then(({ open }) => open(addressOf(link)), () => location.assign(addressOf(link))); // prettier-ignore
  });

  const isStill = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const photos = new Set([...document.querySelectorAll(PHOTO)].map(addressOf));
  for (const button of document.querySelectorAll("[data-play]")) {
    button.hidden = isStill || photos.size < 2;
    button.addEventListener("click", () => journalLate("static/js/viewer.js").then(() => globalThis.journalViewer.playAll(), () => {})); // prettier-ignore
  }
})();
