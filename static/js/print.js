/* A button that prints the page.

   [data-print]   a button, hidden in the page: shown where scripts run, since it does nothing without them.

   Returns quietly where there is none. */
"use strict";

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
