/* Photos: a viewer of all that a page links to, in the order in which they were taken. Fetched by late.js at the first
   tap on one.

   Hooks
     a[href$=".webp"] in main   a photo, linked at its largest
       data-photo                 when it was taken, ISO 8601, where no `figcaption time` says so; else the time of the
                                  entry around it (`.entry time`)

   In the viewer: swipe or arrow keys for the photo before or after in time, pinch, double tap or + and - to enlarge,
   Escape or Back to close. Nothing plays until it is asked for, and nothing at all where motion is not wanted. */
"use strict";

(() => {
  const STEP_MS = 1400;
  const SWIPE_PX = 45;
  const MOST = 6; // how far a photo can be enlarged
  const stills = matchMedia("(prefers-reduced-motion: reduce)");

  // -- the photos of the page ----------------------------------------------------------------------------------

  const addressOf = (link) => new URL(link.getAttribute("href"), location.href).href; // in a drawing `href` is no text
  const words = (element) => element?.textContent.replace(/\s+/g, " ").trim() ?? "";
  /** A head with its day, or time, set apart from the date before it. */
  const headOf = (head) => {
    const small = words(head?.querySelector("small"));
    return small ? words(head).replace(` ${small}`, ` · ${small}`) : words(head);
  };
  const UNIT = /\b[A-Za-z][A-Za-z0-9-]*\.\d+\b/g;

  const described = (link) => {
    const [entryElement, image] = [link.closest(".entry"), link.querySelector(".pic > img:last-child")];
    const [caption, head] = [link.closest("figure")?.querySelector("figcaption"), entryElement?.querySelector("h3")];
    const taken = caption?.querySelector("time")?.dateTime || link.dataset.photo || entryElement?.querySelector("time")?.getAttribute("datetime") || "";
    const label = image?.alt || link.getAttribute("aria-label") || "";
    const units = `${label} ${words(entryElement?.querySelector("h3"))} ${words(entryElement?.querySelector(".facts"))}`.match(UNIT) ?? [];
    const day = words(caption?.querySelector("time")) || taken.slice(0, 10);
    return { link, href: addressOf(link), small: image, label, taken, day, units, head: headOf(head), entry: entryElement?.id ?? "" };
  };

  /** Every photo once, in the order in which they were taken; what an entry shows comes before the same elsewhere. */
  const photosOf = (page) => {
    const links = [...page.querySelectorAll('a[href$=".webp"]')];
    const found = new Map();
    for (const link of links.sort((a, b) => Boolean(b.closest(".entry")) - Boolean(a.closest(".entry")))) {
      if (!found.has(addressOf(link))) found.set(addressOf(link), described(link));
    }
    return [...found.values()].sort((a, b) => (a.taken < b.taken ? -1 : a.taken > b.taken ? 1 : 0));
  };

  /** The photo to compare one with: of the same block the earliest of another day, else the one before or after it. */
  const toCompare = (photos, at) => {
    const [{ taken, units }, other] = [photos[at], (one) => one.taken.slice(0, 10) !== photos[at].taken.slice(0, 10)];
    const same = photos.findIndex((one) => other(one) && one.units.some((unit) => units.includes(unit)));
    if (same >= 0) return same;
    const before = photos.findLastIndex((one) => one.taken < taken && other(one));
    return before >= 0 ? before : at > 0 ? at - 1 : 1;
  };

  // -- the dialog ----------------------------------------------------------------------------------------------

  const element = (name, more = {}, ...inside) => {
    const created = Object.assign(document.createElement(name), more);
    created.append(...inside);
    return created;
  };
  const button = (name, act) => {
    const created = element("button", { type: "button", textContent: name });
    created.addEventListener("click", act);
    return created;
  };

  let view = null; // the parts of the dialog, made when it is first opened
  let photos = [];
  let [at, other, playing, pushed, then] = [0, -1, 0, false, null];

  const fill = (image, photo) => {
    image.alt = photo.label;
    image.onerror = () => {
      image.onerror = null;
      const smaller = photo.small?.currentSrc;
      if (smaller) image.src = smaller; // offline, the larger one is perhaps not saved
      view.note.textContent = "The larger photo is not saved on this device.";
    };
    image.src = photo.href;
  };

  const show = () => {
    const photo = photos[at];
    view.note.textContent = "";
    zoom.reset();
    fill(view.image, photo);
    view.beside.hidden = other < 0;
    if (other >= 0) fill(view.second, photos[other]);
    view.secondWords.textContent = other >= 0 ? photos[other].day : "";
    view.caption.textContent = photo.label;
    view.when.textContent = [photo.day, `${at + 1} of ${photos.length}`].filter(Boolean).join(" · ");
    view.entry.textContent = photo.head;
    view.entry.href = `#${photo.entry}`;
    view.entry.hidden = !photo.entry;
    [view.earlier.disabled, view.later.disabled] = [at === 0, at === photos.length - 1];
    view.compare.setAttribute("aria-pressed", String(other >= 0));
    view.choice.hidden = other < 0;
    view.choose.value = String(other);
  };

  const stop = () => {
    clearInterval(playing);
    playing = 0;
    if (view) view.play.textContent = "Play";
  };
  const step = (by) => {
    stop();
    at = Math.min(photos.length - 1, Math.max(0, at + by));
    show();
  };
  const play = () => {
    if (playing) return stop();
    other = -1;
    if (at === photos.length - 1) at = 0;
    show();
    view.play.textContent = "Stop";
    playing = setInterval(() => {
      if (at < photos.length - 1) at += 1;
      show();
      if (at === photos.length - 1) stop();
    }, STEP_MS);
    return undefined;
  };
  const compare = () => {
    stop();
    other = other < 0 ? toCompare(photos, at) : -1;
    show();
  };

  const close = () => view.dialog.close();
  const closed = () => {
    stop();
    photos[at].link.scrollIntoView({ block: "nearest" });
    photos[at].link.focus({ preventScroll: true });
    if (pushed) history.back();
    else left();
  };
  /** Once the viewer is no longer in the history: on to the entry that was asked for. */
  const left = () => {
    pushed = false;
    if (then) location.hash = then;
    then = null;
  };

  const keys = { ArrowLeft: () => step(-1), ArrowRight: () => step(1), Home: () => step(-at), End: () => step(photos.length),
    "+": () => zoom.by(1.5), "=": () => zoom.by(1.5), "-": () => zoom.by(1 / 1.5), 0: () => zoom.reset() }; // prettier-ignore

  const make = () => {
    const stage = element("div", { className: "stage" });
    const parts = {
      image: element("img", { draggable: false }), second: element("img", { draggable: false }),
      secondWords: element("figcaption"), caption: element("p"), when: element("p", { className: "soft" }),
      note: element("p", { className: "soft" }), entry: element("a", { className: "whole" }), choose: element("select"),
      earlier: button("Earlier", () => step(-1)), later: button("Later", () => step(1)), play: button("Play", play),
      compare: button("Compare", compare), close: button("Close", close),
    }; // prettier-ignore
    parts.beside = element("figure", { className: "beside", hidden: true }, parts.second, parts.secondWords);
    parts.choice = element("label", { className: "with", hidden: true }, "Beside it ", parts.choose);
    stage.append(parts.beside, element("figure", {}, parts.image));
    const label = element("div", { className: "caption" }, parts.caption, parts.when, parts.note, parts.entry);
    label.setAttribute("role", "status");
    const acts = element("div", { className: "acts" }, parts.earlier, parts.later, parts.compare, parts.play, parts.close);
    const dialog = element("dialog", { className: "viewer" }, stage, label, parts.choice, acts);
    dialog.setAttribute("aria-label", "Photos");
    dialog.addEventListener("close", closed);
    dialog.addEventListener("keydown", (event) => {
      if (event.target === parts.choose || event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });
    parts.entry.addEventListener("click", (event) => {
      event.preventDefault();
      then = parts.entry.hash;
      close();
    });
    parts.choose.addEventListener("change", () => {
      other = Number(parts.choose.value);
      show();
    });
    document.body.append(dialog);
    view = { ...parts, dialog, stage };
    zoom.on(stage);
  };

  // -- enlarging, and the swipe --------------------------------------------------------------------------------

  const zoom = (() => {
    const fingers = new Map();
    let [scale, x, y, before, swiped] = [1, 0, 0, null, 0];
    const draw = () => (view.image.style.transform = scale === 1 && !swiped ? "" : `translate(${x + swiped}px, ${y}px) scale(${scale})`);
    const reset = () => {
      [scale, x, y, swiped] = [1, 0, 0, 0];
      draw();
    };
    /** Enlarges by a factor about a point, in px from the middle of the photo's place. */
    const about = (factor, px, py) => {
      const next = Math.min(MOST, Math.max(1, scale * factor));
      [x, y] = [px - ((px - x) * next) / scale, py - ((py - y) * next) / scale];
      scale = next;
      if (scale === 1) [x, y] = [0, 0];
      draw();
    };
    const middle = () => {
      const box = view.image.parentElement.getBoundingClientRect();
      const all = [...fingers.values()];
      const [mx, my] = ["clientX", "clientY"].map((key) => all.reduce((sum, one) => sum + one[key], 0) / all.length);
      const apart = all.length > 1 ? Math.hypot(all[0].clientX - all[1].clientX, all[0].clientY - all[1].clientY) : 0;
      return { x: mx - box.left - box.width / 2, y: my - box.top - box.height / 2, apart };
    };
    const move = (event) => {
      if (!fingers.has(event.pointerId)) return;
      fingers.set(event.pointerId, event);
      const now = middle();
      if (fingers.size > 1 && before.apart) about(now.apart / before.apart, now.x, now.y);
      if (scale > 1) [x, y] = [x + now.x - before.x, y + now.y - before.y];
      else if (fingers.size === 1) swiped += now.x - before.x;
      before = now;
      draw();
    };
    const lift = (event) => {
      if (!fingers.delete(event.pointerId)) return;
      const by = swiped;
      swiped = 0;
      before = fingers.size ? middle() : null;
      if (fingers.size === 0 && scale === 1 && Math.abs(by) > SWIPE_PX) return step(by < 0 ? 1 : -1);
      return draw();
    };
    const on = (stage) => {
      stage.addEventListener("pointerdown", (event) => {
        stage.setPointerCapture(event.pointerId);
        fingers.set(event.pointerId, event);
        before = middle();
        stop();
      });
      stage.addEventListener("pointermove", move);
      for (const end of ["pointerup", "pointercancel"]) stage.addEventListener(end, lift);
      stage.addEventListener("dblclick", () => (scale > 1 ? reset() : about(2.5, before?.x ?? 0, before?.y ?? 0)));
    };
    return { on, reset, by: (factor) => about(factor, 0, 0) };
  })();

  // -- opening -------------------------------------------------------------------------------------------------

  const open = (href) => {
    if (view?.dialog.open) return; // tapped twice while this was on its way
    photos = photosOf(document.querySelector("main"));
    at = Math.max(0, photos.findIndex((one) => one.href === href));
    other = -1;
    if (!view) make();
    view.choose.replaceChildren(...photos.map((one, place) => element("option", { value: String(place), textContent: [one.day, one.label].filter(Boolean).join(", ") })));
    const alone = photos.length < 2;
    for (const part of [view.earlier, view.later, view.compare]) part.hidden = alone;
    view.play.hidden = alone || stills.matches;
    view.dialog.showModal();
    show();
    view.close.focus();
    try {
      history.pushState(null, ""); // so that a phone's Back closes the viewer and not the page
      pushed = true;
    } catch {
      pushed = false;
    }
  };

  addEventListener("popstate", () => {
    if (!pushed) return;
    left();
    if (view.dialog.open) close();
  });

  const playAll = () => {
    open(photosOf(document.querySelector("main"))[0].href);
    play();
  };

  globalThis.journalViewer = { open, playAll, photosOf, toCompare };
})();
