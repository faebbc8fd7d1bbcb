/* Opens the folded parts of a long list in place, and filters all of it, folded parts included. The rows of a part come
   from a classic script, so that it works from a folder too; where that cannot be read, the link to the part's page is
   left.

   Hooks
     p.fold[data-rows="lists/finds/2025.js"]   a link to a part's page; becomes a `details` that takes its rows in
     form[data-filters]                        shown; a control's name `place` stands for the rows' `data-place`
       [data-filtered]                         gets how many rows are shown
     [data-list]                               the open rows that are filtered too
     #year-2025                                is opened where the page is sent there
     #2025-07-14                               so is the part that has a row with this ID, where no open row has
   A part's script calls `journalRows(script, html)`. What was taken in is told by the event `journalrows` on the
   document. `journalFolds.all()` reads every part and gives all rows, those that are still folded too. */
"use strict";

(() => {
  const root = document.documentElement.dataset.root || "./";
  const folds = new Map(); // script -> {details, room, html, reading}
  const ROWS = "li.row, tbody > tr";

  globalThis.journalRows = (script, html) => {
    const fold = folds.get(script);
    if (!fold || fold.html) return;
    fold.html = html;
    fold.container.innerHTML = html; // of this site's own build, with its own policy
    document.dispatchEvent(new CustomEvent("journalrows", { detail: fold.container }));
  };

  const read = (script) => {
    const fold = folds.get(script);
    fold.reading ??= new Promise((done) => {
      const element = document.createElement("script");
      element.src = root + script;
      element.addEventListener("load", done);
      element.addEventListener("error", () => {
        fold.reading = null; // not here now; asked for again when it is opened again
        fold.container.replaceChildren(fold.link);
        done();
      });
      document.head.append(element);
    });
    return fold.reading;
  };

  const prepare = (place) => {
    const script = place.dataset.rows;
    const link = place.querySelector("a");
    const details = document.createElement("details");
    const summary = document.createElement("summary");
    const container = document.createElement("div");
    Object.assign(details, { className: "fold", id: place.id });
    summary.append(...[...link.childNodes].map((node) => node.cloneNode(true)));
    details.append(summary, container);
    place.replaceWith(details);
    folds.set(script, { details, container, link });
    details.addEventListener("toggle", () => details.open && read(script));
  };
  for (const place of document.querySelectorAll("p.fold[data-rows]")) prepare(place);

  const readAll = () => Promise.all([...folds.keys()].map(read));
  const lists = () => [...document.querySelectorAll("[data-list]"), ...[...folds.values()].map(({ container }) => container)];
  const allRows = () => lists().flatMap((list) => [...list.querySelectorAll(ROWS)]);
  globalThis.journalFolds = { all: () => readAll().then(allRows) };

  // -- filters -------------------------------------------------------------------------------------------------
  const form = document.querySelector("[data-filters]");
  const plain = (text) => text.toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "").trim();

  /** What is asked for: [field, words], of the controls that are filled in. */
  const filtersSet = () => [...form.elements].filter(({ name, value }) => name && value.trim()).map(({ name, value }) => [name, plain(value)]);

  const answers = (row, chosen) => chosen.every(([field, words]) => plain(row.dataset[field] ?? "").includes(words));

  /** Shows the rows that answer, and opens or hides the parts round them. */
  const apply = (chosen) => {
    const rows = allRows();
    let shown = 0;
    for (const row of rows) {
      row.hidden = !answers(row, chosen);
      if (!row.hidden) shown += 1;
    }
    for (const { details, container } of folds.values()) {
      const has = Boolean(container.querySelector(":is(li.row, tbody > tr):not([hidden])"));
      details.hidden = chosen.length > 0 && !has;
      if (chosen.length > 0) details.open = has;
    }
    for (const year of document.querySelectorAll("details.year")) {
      const has = Boolean(year.querySelector("details.fold:not([hidden])"));
      year.hidden = !has;
      if (chosen.length > 0) year.open = has;
    }
    for (const section of document.querySelectorAll("[data-list] section")) section.hidden = !section.querySelector("li.row:not([hidden])");
    form.querySelector("[data-filtered]").textContent = chosen.length ? `${shown} of ${rows.length} shown` : "";
  };

  let wasFiltered = false;
  const filter = async () => {
    const chosen = filtersSet();
    if (chosen.length === 0 && !wasFiltered) return;
    if (chosen.length > 0) await readAll();
    wasFiltered = chosen.length > 0;
    apply(filtersSet());
    if (!wasFiltered) for (const fold of document.querySelectorAll("details.fold, details.year")) fold.open = false;
  };

  if (form) {
    form.hidden = false;
    form.addEventListener("input", filter);
    form.addEventListener("submit", (event) => event.preventDefault());
    if (filtersSet().length) filter(); // filled in again by the browser, as after going back
  }

  // -- jumps ---------------------------------------------------------------------------------------------------
  /** Opens the part with the row that a date names, as labels and earlier links do. */
  const openDated = async (id) => {
    const ofYear = [...folds].filter(([script]) => script.split("/").pop().startsWith(id.slice(0, 4)));
    await Promise.all(ofYear.map(([script]) => read(script)));
    const found = ofYear.map(([, fold]) => fold).find(({ container }) => container.querySelector(`#${CSS.escape(id)}`));
    if (!found) return;
    const year = found.details.closest("details.year");
    for (const details of [year, found.details]) if (details) details.open = true;
    location.replace(location.hash); // a row is the target only if it was there
    document.getElementById(id).scrollIntoView();
  };

  const openTarget = () => {
    const id = decodeURIComponent(location.hash.slice(1));
    if (/^\d{4}(-|$)/.test(id) && !document.getElementById(id)) openDated(id);
    const target = /^#year-\d{4}$/.test(location.hash) && document.getElementById(location.hash.slice(1));
    if (target instanceof HTMLDetailsElement) target.open = true;
  };
  addEventListener("hashchange", openTarget);
  openTarget();
})();
