/* Sorts a table by the heading that is pressed.

   Hooks
     table[data-sortable]     one row of headings in thead; the rows of its first tbody are sorted
     th[data-unsortable]      gets no button
     td[data-sort="874"]      what to sort by, where the cell's text will not do: a number, a date, an ID
   Tables that come in later (the event `journalrows`, whose detail holds them) are taken in too.
   The script puts a `button.sort-by` into each heading and sets `aria-sort` on the heading sorted by. A column is
   sorted as numbers where every value it has is one; values that are missing stay last either way. */
"use strict";

(() => {
  const words = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });

  const valueOf = (row, column) => {
    const cell = row.cells[column];
    return (cell?.dataset.sort ?? cell?.textContent ?? "").trim();
  };

  /** The rows in order of one column; direction 1 or -1. Equal rows keep their order. */
  const sorted = (rows, column, direction) => {
    const pairs = rows.map((row) => [row, valueOf(row, column)]);
    const known = pairs.filter(([, value]) => value !== "");
    const numeric = known.every(([, value]) => Number.isFinite(Number(value)));
    const compare = numeric ? (a, b) => a - b : words.compare;
    known.sort(([, a], [, b]) => direction * compare(a, b));
    return [...known, ...pairs.filter(([, value]) => value === "")].map(([row]) => row);
  };

  const sortBy = (table, heading) => {
    const direction = heading.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", direction === 1 ? "ascending" : "descending");
    const body = table.tBodies[0];
    body.append(...sorted([...body.rows], heading.cellIndex, direction));
  };

  const addButton = (table, heading) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "sort-by";
    button.append(...heading.childNodes);
    button.addEventListener("click", () => sortBy(table, heading));
    heading.append(button);
  };

  const prepare = (part) => {
    for (const table of part.querySelectorAll("table[data-sortable]:has(tbody)")) {
      for (const heading of table.tHead?.rows[0]?.cells ?? []) {
        if (!("unsortable" in heading.dataset || heading.querySelector(".sort-by"))) addButton(table, heading);
      }
    }
  };

  if (globalThis.journalEarly) journalEarly(() => prepare(document));
  else prepare(document);
  document.addEventListener("journalrows", (event) => prepare(event.detail));
})();
