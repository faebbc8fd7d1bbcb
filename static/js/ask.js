/* Ask about this: a few lines with the reference of an entry, to copy into any message. Nothing is sent from here.

   Hooks
     button[data-ask="About B-031, …"]   the text to begin with; hidden in the page, shown where scripts run. Pressed, a
                                         div.ask follows its paragraph: a field with the text to write on in, a button
                                         that copies it, and one that shuts it
   Where the clipboard is shut, the text is marked, so that it can be copied by hand.
   Returns quietly where there is none. */
"use strict";

(() => {
  const buttons = document.querySelectorAll("[data-ask]");
  if (buttons.length === 0) return;

  const made = (tag, text, name = "") => {
    const element = document.createElement(tag);
    element.textContent = text;
    if (name) element.className = name;
    return element;
  };

  const button = (text, press) => {
    const element = made("button", text);
    element.type = "button";
    element.addEventListener("click", press);
    return element;
  };

  /** Whether the text is on the clipboard now: by the clipboard, else by the older command, which some pages from a
      folder still have. */
  const copied = async (field) => {
    try {
      await navigator.clipboard.writeText(field.value);
      return true;
    } catch {
      field.select();
      return document.execCommand?.("copy") ?? false;
    }
  };

  const copy = async (field, status) => {
    const done = await copied(field);
    status.textContent = done ? "Copied. Paste it into a message." : "This browser does not allow copying. The text is selected: copy it by hand.";
    if (done) return;
    field.focus();
    field.select();
  };

  let count = 0;

  const panelOf = (opener) => {
    const panel = made("div", "", "ask");
    const field = document.createElement("textarea");
    field.id = `ask-${(count += 1)}`;
    field.value = opener.dataset.ask;
    field.rows = field.value.split("\n").length + 2;
    const label = made("label", "Write your question under these lines, then copy it and paste it into a message. Nothing is sent from here.");
    label.htmlFor = field.id;
    const status = made("p", "");
    status.setAttribute("role", "status");
    const acts = made("p", "", "acts");
    acts.append(button("Copy", () => copy(field, status)), button("Close", () => shut(opener, panel)));
    panel.append(label, field, acts, status);
    return panel;
  };

  const panels = new Map();

  const shut = (opener, panel) => {
    panel.hidden = true;
    opener.setAttribute("aria-expanded", "false");
    opener.focus();
  };

  const open = (opener) => {
    if (!panels.has(opener)) {
      panels.set(opener, panelOf(opener));
      opener.closest("p").after(panels.get(opener));
    }
    const panel = panels.get(opener);
    if (!panel.hidden && opener.getAttribute("aria-expanded") === "true") return shut(opener, panel);
    panel.hidden = false;
    opener.setAttribute("aria-expanded", "true");
    const field = panel.querySelector("textarea");
    field.focus();
    return field.setSelectionRange(field.value.length, field.value.length);
  };

  for (const opener of buttons) {
    opener.hidden = false;
    opener.setAttribute("aria-expanded", "false");
    opener.addEventListener("click", () => open(opener));
  }
})();
