/* Daylight or lamp, before the first paint: stands in the head, not deferred.

   Hooks
     html[data-theme]              set to "daylight" or "lamp"
     button[data-theme-to="…"]     "daylight", "lamp", or "device" (as the device has it); the one in force gets
                                   aria-pressed="true"
     meta[name="theme-color"][data-daylight][data-lamp]   its content follows the theme */
"use strict";

(() => {
  const KEY = "journal theme";
  const dark = matchMedia("(prefers-color-scheme: dark)");

  const chosen = () => {
    try {
      return localStorage.getItem(KEY) ?? "device";
    } catch {
      return "device"; // storage is shut in some private windows
    }
  };

  const remember = (theme) => {
    try {
      localStorage.setItem(KEY, theme);
    } catch {
      // the choice then lasts as long as the page
    }
  };

  const apply = (choice) => {
    const theme = choice === "device" ? (dark.matches ? "lamp" : "daylight") : choice;
    document.documentElement.dataset.theme = theme;
    for (const button of document.querySelectorAll("[data-theme-to]")) {
      button.setAttribute("aria-pressed", String(button.dataset.themeTo === choice));
    }
    for (const meta of document.querySelectorAll('meta[name="theme-color"][data-daylight]')) {
      meta.content = meta.dataset[theme];
    }
  };

  apply(chosen());
  dark.addEventListener("change", () => apply(chosen()));
  addEventListener("storage", (event) => event.key === KEY && apply(chosen()));
  document.addEventListener("DOMContentLoaded", () => {
    apply(chosen());
    document.addEventListener("click", (event) => {
      const button = event.target.closest?.("[data-theme-to]");
      if (!button) return;
      remember(button.dataset.themeTo);
      apply(button.dataset.themeTo);
    });
  });
})();
