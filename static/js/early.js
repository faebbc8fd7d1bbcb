/* Gives what scripts fill in its place while the page is read, so that nothing moves once it is painted: is in the
   head, not deferred.

   Hooks
     [data-needs-scripts], form[data-filters], [data-number]   hidden in the page, shown here
     [data-without-scripts]     hidden here; shown again, and the others hidden, where a script is missing
     .results details           closed here
     tr[data-tick-key]          on pages from a host gets an empty place for its button (recorded-shown.js)
   `journalEarly(work)` does some work whenever more of the page has come in, before that is painted, and once it is
   whole. */
"use strict";

(() => {
  const works = [];
  const workAll = () => works.forEach((work) => work());

  globalThis.journalEarly = (work) => {
    if (document.readyState === "loading") works.push(work);
    else work();
  };

  const reading = new MutationObserver(() => {
    workAll();
    reading.takeRecords(); // of its own changes
  });
  reading.observe(document, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", () => {
    reading.disconnect();
    workAll();
  });

  const showNeeding = (isShown) => {
    for (const element of document.querySelectorAll("[data-needs-scripts], form[data-filters], [data-number]")) element.hidden = !isShown;
    for (const element of document.querySelectorAll("[data-without-scripts]")) element.hidden = isShown;
  };
  let isMissing = false;
  journalEarly(() => {
    if (isMissing) return;
    showNeeding(true);
    for (const details of document.querySelectorAll(".results details[open]")) details.open = false;
  });
  document.addEventListener("error", ({ target }) => {
    if (target.localName !== "script" || !target.defer) return;
    isMissing = true;
    showNeeding(false);
  }, true); // prettier-ignore

  // -- what is due, to be ticked off --------------------------------------------------------------------------------
  const cell = (row, name, mark) => {
    const made = document.createElement(name);
    made.dataset[mark] = "";
    row.append(made);
    return made;
  };

  const addTickPlaces = () => {
    for (const row of document.querySelectorAll("tr[data-tick-key]:not(:has([data-tick]))")) {
      const table = row.closest("table");
      if (!row.nextSibling && !table.nextSibling) continue; // its cells may still come in
      const head = table.querySelector("thead tr");
      if (head && !head.querySelector("[data-tick-head]")) cell(head, "th", "tickHead").textContent = "Done";
      const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Done …" });
      button.style.visibility = "hidden";
      cell(row, "td", "tick").append(button);
    }
  };
  if (location.protocol.startsWith("http")) journalEarly(addTickPlaces);
})();
