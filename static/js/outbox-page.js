/* The outbox: each record on this device and where else it is, its edit and deletion, the export to files, and the codes
   that say the files are in the journal. Hooks are those of templates/record/outbox.html. */
import { loadRecords, start } from "./recorded.js";
import { headlineOf, tagOf, thumbOf, whenOf } from "./recorded-shown.js";

const root = new URL(document.documentElement.dataset.root || "./", location.href);
await loadRecords();
await import("./record-archive.js");
const records = globalThis.journalRecords(root);
const archive = globalThis.journalArchive;
const $ = (selector) => document.querySelector(selector);
const element = (name, words, more = {}) => Object.assign(document.createElement(name), { textContent: words ?? "", ...more });
const UNDO_MS = 10000;
const sharesFiles = () => navigator.standalone === true && "share" in navigator; // a download strands an iOS app

let stopping = null;
let states = new Map();
let rows = [];
let drafted = new Set(); // records that have a draft
let deleted = new Map(); // record -> when it was, while that can be undone

const say = (words) => {
  $("[data-outbox-status]").textContent = words ?? "";
  $("[data-outbox-status]").hidden = !words;
};

const reportFault = (act) => () => Promise.resolve(act()).catch((fault) => say(fault.message));

const button = (words, act, label) => {
  const created = element("button", words, { type: "button" });
  if (label) created.setAttribute("aria-label", label);
  created.addEventListener("click", reportFault(act));
  return created;
};

const megabytes = (bytes) => (bytes < 1e6 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`);
const bytesOf = (record) => record.photos.reduce((sum, photo) => sum + photo.bytes, 0);
const inState = (...wanted) => rows.filter((record) => wanted.includes(states.get(record.record)));
const clearable = () => inState("in the journal").filter(({ record }) => !drafted.has(record));
const counted = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;

// -- records -------------------------------------------------------------------------------------------------
const remove = async (record) => {
  await records.remove(record);
  deleted.set(record.record, record);
  setTimeout(() => {
    deleted.delete(record.record);
    show();
  }, UNDO_MS);
  await show();
};

const restore = async (record) => {
  await records.restore(record);
  deleted.delete(record.record);
  await show();
};

const rowOf = (record) => {
  const row = element("li", "", { className: "row", id: record.record });
  const words = element("div", "", { className: "words" });
  const head = element("p");
  head.append(tagOf(record), " ", headlineOf(record));
  const photos = record.photos.length ? `, ${counted(record.photos.length, "photo")} (${megabytes(bytesOf(record))})` : "";
  const acts = element("p", "", { className: "acts" });
  const name = record.id ?? record.about[0] ?? "note";
  if (deleted.has(record.record)) {
    words.append(element("p", `${name} was deleted from this device.`));
    acts.append(button("Undo", () => restore(record)));
  } else {
    words.append(head, element("p", `${whenOf(record)}${photos} · ${states.get(record.record)}`, { className: "soft" }));
    const edit = element("a", "Edit", { className: "button", href: `../index.html?edit=${record.record}` });
    acts.append(edit, button("Delete", () => remove(record), `Delete ${name}`));
  }
  words.append(acts);
  row.append(thumbOf(record), words);
  return row;
};

const showRecords = () => {
  const all = [...rows, ...deleted.values()].sort((one, other) => new Date(other.saved) - new Date(one.saved));
  $("[data-records]").replaceChildren(...all.map(rowOf));
  $("[data-none]").hidden = all.length > 0;
  $("[data-clear]").hidden = !$("[data-clearing]").hidden || clearable().length === 0;
  $("[data-gone]").hidden = inState("no longer in the journal").length === 0;
};

let toClear = []; // the records that the question is about

const askToClear = () => {
  toClear = clearable();
  const photos = toClear.reduce((sum, record) => sum + record.photos.length, 0);
  const what = counted(toClear.length, "record") + (photos ? ` with ${counted(photos, "photo")}` : "");
  const kept = inState("in the journal").length - toClear.length;
  const stays = kept ? ` ${counted(kept, "record")} with unsaved changes will stay.` : "";
  $("[data-clearing-words]").textContent = `Delete ${what} from this device? The journal on the computer keeps ${toClear.length === 1 ? "it" : "them"}. This cannot be undone.${stays}`;
  $("[data-clear]").hidden = true;
  $("[data-clearing]").hidden = false;
  $("[data-clear-not]").focus();
};

const endClearing = async () => {
  $("[data-clearing]").hidden = true;
  await show();
  $("[data-clear]").focus();
};

const clear = async () => {
  for (const record of toClear) await records.clear(record);
  await endClearing();
};

// -- export --------------------------------------------------------------------------------------------------
const EXPORTED = ["exported", "no longer in the journal"];

const toExport = () => inState("only on this device", ...($("[data-export-again]").checked ? EXPORTED : []));

const showExport = () => {
  $("[data-again]").hidden = inState(...EXPORTED).length === 0;
  const recordsToExport = toExport();
  const bytes = recordsToExport.reduce((sum, record) => sum + bytesOf(record), 0);
  $("[data-export-words]").textContent = recordsToExport.length
    ? `${counted(recordsToExport.length, "record")}, about ${megabytes(bytes + 2000 * recordsToExport.length)}.`
    : "There is nothing to export.";
  $("[data-export]").disabled = recordsToExport.length === 0 || stopping !== null;
};

const download = (part) => {
  const link = element("a", "", { href: URL.createObjectURL(part.blob), download: part.name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
};

const share = (part) => navigator.share({ files: [new File([part.blob], part.name, { type: part.blob.type })] });

/** A part is given out when its button is pressed, or at once where the browser downloads; all of them given, the
    records are exported. */
const give = (parts, part, given, item) => async () => {
  if (sharesFiles()) await share(part);
  else download(part);
  given.add(part.part);
  item.querySelector("button").textContent = sharesFiles() ? "Share again" : "Download again";
  if (given.size === parts.length) await records.markSent(part.export);
};

const showParts = async (parts) => {
  const given = new Set();
  const items = parts.map((part) => {
    const item = element("li", "", { className: "row" });
    item.append(element("p", `${part.name}, ${megabytes(part.blob.size)}`, { className: "words" }));
    item.append(button(sharesFiles() ? "Share file" : "Download", () => give(parts, part, given, item)()));
    return item;
  });
  $("[data-parts]").replaceChildren(...items);
  if (!sharesFiles()) for (const [at, part] of parts.entries()) await give(parts, part, given, items[at])();
};

const build = async () => {
  const recordsToExport = toExport();
  const progress = $("[data-export-progress]");
  stopping = new AbortController();
  progress.hidden = $("[data-export-stop]").hidden = false;
  showExport();
  const lock = await navigator.wakeLock?.request("screen").catch(() => null);
  try {
    const onProgress = ({ done, total }) => (progress.value = total ? done / total : 0);
    const passphrase = $("[data-passphrase]").value || null;
    const parts = [];
    for await (const part of archive.build(recordsToExport, records, { passphrase, onProgress, signal: stopping.signal })) parts.push(part);
    const missing = parts[0]?.export.missing ?? [];
    say(missing.length ? `These photos are no longer on this device and are left out: ${missing.map((one) => one.name ?? one).join(", ")}` : null);
    await showParts(parts);
  } catch (fault) {
    if (fault.name !== "AbortError") throw fault;
    say("Stopped; nothing was exported.");
  } finally {
    stopping = null;
    lock?.release();
    progress.hidden = $("[data-export-stop]").hidden = true;
    await show();
  }
};

// -- receipts ------------------------------------------------------------------------------------------------
const codeWords = ({ here, waiting, changed, gone }) => {
  const told = [
    here && `${counted(here, "record")} ${here === 1 ? "is" : "are"} in the journal.`,
    waiting && `${counted(waiting, "record")} ${waiting === 1 ? "has" : "have"} photos in another file of that export: enter its code too.`,
    changed && `${counted(changed, "record")} ${changed === 1 ? "was" : "were"} changed on this device after that export; the journal has the version before that.`,
    gone && `${counted(gone, "record")} ${gone === 1 ? "is" : "are"} no longer in the journal, by its copy on this device. If you imported ${gone === 1 ? "it" : "them"} again since, update that.`,
  ];
  return told.filter(Boolean).join(" ") || "This code is right; the records of that file are no longer on this device.";
};

const takeCode = async (typed) => {
  say(codeWords(await records.takeCode(typed.split("#receipt=").pop()))); // a link has it behind that
  $("[data-code]").value = "";
  await show();
};

const CANNOT_SCAN = "This browser cannot scan codes: paste the code, or type it.";

const scan = async (file) => {
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  const found = await detector.detect(await createImageBitmap(file));
  if (!found.length) throw new Error("No code was found in that picture. Hold the camera closer, or paste the code.");
  await takeCode(found[0].rawValue);
};

const canScan = async () => ((await globalThis.BarcodeDetector?.getSupportedFormats().catch(() => [])) ?? []).includes("qr_code");

/** A picture is taken by the device's own camera, so that the page needs no leave to use it. */
const showScanning = async () => {
  const can = await canScan();
  $("[data-scan]").hidden = !can;
  $("[data-scan-words]").textContent = can ? "Take a picture of the code on the computer’s screen, or paste or type it." : CANNOT_SCAN;
};

/** `#receipt=CODE`, as a link to this page may carry it. */
const CODE_IN_ADDRESS = /^#receipt=([\w-]+)$/;
const codeInAddress = () => CODE_IN_ADDRESS.exec(location.hash)?.[1];

// -- beginning -----------------------------------------------------------------------------------------------
const show = async () => {
  states = await records.states();
  rows = (await records.latest()).filter((record) => !deleted.has(record.record));
  drafted = new Set((await records.drafts()).map(({ record }) => record));
  $("[data-unsaved-words]").hidden = drafted.size === 0;
  $("[data-unsaved-words] a").textContent = `${counted(drafted.size, "draft")} not saved`;
  showRecords();
  showExport();
};

const begin = async () => {
  const why = $("[data-outbox-why]");
  const { says } = globalThis.indexedDB ? await records.selfTest() : { says: "This browser stores nothing, so nothing can be recorded here." };
  if (says) {
    why.textContent = says;
    return;
  }
  why.hidden = true;
  $("[data-export-form]").addEventListener("submit", (event) => event.preventDefault());
  $("[data-export]").addEventListener("click", reportFault(build));
  $("[data-export-stop]").addEventListener("click", () => stopping?.abort());
  $("[data-export-again]").addEventListener("change", showExport);
  $("[data-passphrase-show]").addEventListener("change", ({ target }) => ($("[data-passphrase]").type = target.checked ? "text" : "password"));
  $("[data-clear]").addEventListener("click", askToClear);
  $("[data-clear-not]").addEventListener("click", reportFault(endClearing));
  $("[data-clear-now]").addEventListener("click", reportFault(clear));
  $("[data-receipt]").addEventListener("submit", (event) => {
    event.preventDefault();
    reportFault(() => takeCode($("[data-code]").value))();
  });
  await showScanning();
  $("[data-scan-file]").addEventListener("change", ({ target }) => {
    const [file] = target.files;
    target.value = ""; // the same picture may be chosen again
    if (file) reportFault(() => scan(file))();
  });
  await start();
  await show();
  for (const panel of ["export", "receipt", "records"]) $(`[data-${panel}-panel]`).hidden = false;
  records.on(() => show().catch(() => undefined));
  if (codeInAddress()) await reportFault(() => takeCode(codeInAddress()))();
  else if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
};

export const begun = begin().catch((fault) => say(fault.message));
