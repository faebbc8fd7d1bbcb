/* Scan: a label's code in a picture that the device's camera takes, or its ID typed, leads to the page of what it names;
   what the journal does not know yet leads to a record of it.

   Hooks
     html[data-site]      the journal's address, where its settings have one: labels may hold it
     .scan-open           the button, whose first press fetches this script (shell.js)

   The panel is made here, since it does nothing without scripts. Where the browser reads no codes, it says so, and the ID
   is typed. `journalScan` has `toggle`, which shows or hides the panel, and `lacks`. */
"use strict";

(() => {
  const root = document.documentElement.dataset.root || "./";
  const { site } = document.documentElement.dataset;
  const here = new URL(root, location.href);
  const baseUrls = [here.href, ...(site ? [site] : [])];
  const OFFERED = 4;

  const element = (name, words, more = {}) => Object.assign(document.createElement(name), { textContent: words ?? "", ...more });

  const link = (words, address) => element("a", words, { href: address, className: "button" });

  const script = (name) => journalScript(`static/js/${name}.js`);

  // -- what an ID leads to -------------------------------------------------------------------------------------
  const bare = (id) => id.toLowerCase().replace(/[^a-z0-9]/g, "");

  /** Every ID of the journal, with its own page: {id, path}. */
  const known = async () => {
    await script("search");
    await journalSearch.readAll();
    const found = new Map();
    for (const { id, path } of journalSearch.rows) {
      const earlier = found.get(id.toLowerCase());
      const isOwnPage = path.toLowerCase().replace(/index\.html$/, "").endsWith(`/${id.toLowerCase()}/`) || path.endsWith(`#${id.toLowerCase()}`);
      if (id && (!earlier || isOwnPage)) found.set(id.toLowerCase(), { id, path: isOwnPage || !path.includes("#") ? path : path.split("#")[0] });
    }
    return found;
  };

  /** Letters that differ, are missing or change places between two short texts (optimal string alignment). */
  const distance = (one, other) => {
    let [before, row] = [[], [...Array(other.length + 1).keys()]];
    for (let i = 1; i <= one.length; i += 1) {
      const next = [i];
      for (let j = 1; j <= other.length; j += 1) {
        next[j] = Math.min(row[j] + 1, next[j - 1] + 1, row[j - 1] + (one[i - 1] === other[j - 1] ? 0 : 1));
        if (i > 1 && j > 1 && one[i - 1] === other[j - 2] && one[i - 2] === other[j - 1]) next[j] = Math.min(next[j], before[j - 2] + 1);
      }
      [before, row] = [row, next];
    }
    return row[other.length];
  };

  /** An ID as it may be typed in haste: without its hyphens, without the zeros before its numbers. */
  const withoutZeros = (id) => bare(id.replace(/(^|\D)0+(?=\d)/g, "$1"));

  /** The IDs that were most likely meant by what was typed, as written or in haste: those that begin so, then those at
      most two letters off, of a short one one. */
  const nearest = (typed, rows) => {
    const bareTyped = bare(typed);
    const distanceTo = (id) => (id.startsWith(bareTyped) ? 0 : distance(bareTyped, id));
    const ranked = rows.map((row) => ({ row, off: Math.min(distanceTo(bare(row.id)), distanceTo(withoutZeros(row.id))) }));
    const near = ranked.filter(({ off }) => off <= (bareTyped.length > 3 ? 2 : 1));
    return near.sort((a, b) => a.off - b.off || (a.row.id < b.row.id ? -1 : 1)).slice(0, OFFERED).map(({ row }) => row);
  };

  /** What the journal has under a typed ID: that ID itself, else the only one that reads so when typed in haste. */
  const meant = (id, rows) => {
    const similar = [...rows.values()].filter((row) => withoutZeros(row.id) === withoutZeros(id));
    return rows.get(id.toLowerCase()) ?? (new Set(similar.map(({ path }) => path)).size === 1 ? similar[0] : undefined);
  };

  const withoutPart = (text) => text.trim().replace(/(?:\.\d*)?(?:\+.?)?$/, "");

  const addressOf = ({ path }, number) => root + (number && !path.includes("#") ? `${path}#${number}` : path);

  /** Of a record that is on this device only. */
  const recorded = async (id) => {
    const rows = globalThis.journalRecords ? await journalRecords(here).latest().catch(() => []) : [];
    return rows.find((row) => row.id?.toLowerCase() === id.toLowerCase())?.record ?? null;
  };

  const recordAddress = (id) => `${root}record/index.html?${new URLSearchParams({ id })}`;

  /** Why a thing of the journal has no part of this number; null where it has, or where that is not known here. */
  const lacks = async (id, part) => {
    if (!part || !location.protocol.startsWith("http")) return null;
    const read = (path) => fetch(root + path).then((answer) => (answer.ok ? answer.json() : {}));
    const readKnown = async () => {
      if (!globalThis.journalEntry) await script("records");
      return journalEntry.known(await read("record/data.json"), read);
    };
    const known = await readKnown().catch(() => null);
    const facts = known?.ids?.[id] ?? {};
    const count = facts.units ?? facts.vessels ?? (facts.kind === "find" ? 0 : Infinity);
    if (part <= count) return null;
    return `${id} has ${count || "no"} ${facts.units ? (facts.unit ?? "unit") : facts.vessels ? "vessel" : "part"}${count === 1 ? "" : "s"}, so there is no ${id}.${part}.`;
  };

  // -- the panel -----------------------------------------------------------------------------------------------
  const open = document.querySelector(".scan-open");
  const panel = element("section", "", { className: "scan-panel", hidden: true });
  panel.setAttribute("aria-label", "Scan a label");
  const words = element("p", "");
  const file = element("input", "", { type: "file", accept: "image/*", className: "file" });
  file.setAttribute("capture", "environment");
  const camera = element("label", "", { className: "button tall", hidden: true });
  camera.append(file, element("span", "Take a picture of the label"));
  const form = element("form", "");
  const typed = element("input", "", { type: "text", autocomplete: "off", spellcheck: false, enterKeyHint: "go" });
  typed.setAttribute("autocapitalize", "characters");
  typed.setAttribute("aria-label", "ID on the label");
  typed.placeholder = "B-031";
  form.append(typed, element("button", "Open", { type: "submit" }));
  const says = element("p", "");
  says.setAttribute("role", "status");
  const offers = element("p", "", { className: "acts" });
  panel.append(words, camera, form, says, offers);
  document.querySelector("header.head").after(panel);

  const NO_SCANNER =
    "This browser cannot read codes in pictures. Point the device’s own camera app at the label, or type the ID on it.";

  const canScan = async () => ((await globalThis.BarcodeDetector?.getSupportedFormats().catch(() => [])) ?? []).includes("qr_code");

  const offer = (sentence, links = []) => {
    says.textContent = sentence;
    offers.replaceChildren(...links.flatMap((one) => [one, " "]));
  };

  /** isTyped: by a person, who may have meant an ID that is near; a picture's text is taken as it is, or not at all. */
  const goTo = async (text, isTyped) => {
    await script("label-code");
    const rows = await known();
    const named = journalLabel.read(text, baseUrls, isTyped ? rows : null);
    const row = named && (isTyped ? meant(named.id, rows) : rows.get(named.id.toLowerCase()));
    const why = row && (await lacks(row.id, named.part));
    if (why) return offer(why, [link(row.id, addressOf(row))]);
    if (row) return location.assign(addressOf(row, named.part));
    const own = named && (await recorded(named.id));
    if (own) return location.assign(`${root}record/index.html?edit=${own}`);
    const near = isTyped && text.length <= 40 ? nearest(withoutPart(text), [...rows.values()]) : [];
    const links = near.map((one) => link(one.id, addressOf(one)));
    if (!named) {
      const isChecked = /^[\w.-]{1,40}\+/.test(text.trim());
      return offer(isChecked ? "The check character does not fit this ID: type it once more." : "This is not a label of this journal.", links);
    }
    return offer(`There is no ${named.id} in the journal on this device.`, [...links, link(`Record ${named.id} as new`, recordAddress(named.id))]);
  };

  const scan = async (picture) => {
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    const found = await detector.detect(await createImageBitmap(picture));
    if (found.length === 0) return offer("No code was found in that picture. Hold the camera closer, or type the ID.");
    if (found.length > 1) return offer("There are several codes in that picture: take one of a single label.");
    return goTo(found[0].rawValue, false);
  };

  const reportFault = (act) => Promise.resolve(act).catch((fault) => offer(fault.message));

  const toggle = async () => {
    panel.hidden = !panel.hidden;
    open.setAttribute("aria-expanded", String(!panel.hidden));
    if (panel.hidden) return;
    const can = await canScan();
    camera.hidden = !can;
    words.textContent = can ? "Take a picture of one label, or type the ID on it." : NO_SCANNER;
    typed.focus();
  };
  globalThis.journalScan = { toggle, lacks };
  file.addEventListener("change", () => {
    const [picture] = file.files;
    file.value = "";
    if (picture) reportFault(scan(picture));
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (typed.value.trim()) reportFault(goTo(typed.value, true));
  });
  typed.addEventListener("input", async () => {
    const rows = typed.value.trim().length > 1 ? nearest(withoutPart(typed.value), [...(await known()).values()]) : [];
    offer("", rows.map((row) => link(row.id, addressOf(row))));
  });
})();
