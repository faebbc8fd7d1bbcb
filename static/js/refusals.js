/* What the worker answers in words where it has no page. Two globals:

     journalRefusals   why -> [HTTP status, title, sentences]
     journalPlainPage(root, title, sentences, [way, path])   HTML of a page that says them; way: words of a link to a path
                       below the root */
"use strict";

globalThis.journalRefusals = (() => {
  const otherBuild = [
    404,
    "Not saved from this version",
    [
      "This device shows an earlier version of the journal, and this page or photo was not saved with it.",
      "The server already has a newer version. Update when the update is offered, then open this again.",
    ],
  ];
  return {
    unknown: [404, "Page not found", ["There is no page at this address in the journal on this device."]],
    "other build": otherBuild,
    missing: otherBuild,
    unreachable: [
      504,
      "Not saved on this device",
      ["This page or photo is not saved on this device, and the device is offline.", "Open it again when you are online."],
    ],
    harmed: [
      504,
      "Damaged on this device",
      [
        "The copy of this page or photo that was saved on this device was damaged, so it was removed. The device is offline.",
        "Open it again when you are online: it is then downloaded again. Records made on this device are kept apart from it.",
      ],
    ],
    locked: [403, "Locked", ["This journal is locked. Open it with the passphrase first."]],
    key: [403, "Another key", ["This file is under another key than this device has. Unlock the journal again."]],
    damaged: [
      500,
      "Damaged file",
      [
        "This page or photo is damaged: it is not what the author’s computer wrote.",
        "If it was damaged on the server, it works again once the site was uploaded anew. If it was damaged on this device, press Reset offline copy on the page This device.",
      ],
    ],
  };
})();

globalThis.journalPlainPage = (root, title, sentences, [way, path]) => {
  const { pathname, search } = new URL(path, root);
  const escaped = (words) => words.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`); // names of files are in them
  const text = sentences.map((sentence) => `<p>${escaped(sentence)}</p>`).join("\n");
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width"><meta name="color-scheme" content="light dark">
<link rel="stylesheet" href="${escaped(root.pathname)}static/css/journal.css">
<script src="${escaped(root.pathname)}static/js/first.js"></script>
<title>${title}</title></head><body><main><h1>${title}</h1>
${text}
<p><a class="button tall" href="${escaped(pathname + search)}">${escaped(way)}</a></p></main></body></html>`;
};
