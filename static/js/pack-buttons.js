/* One pack and its buttons, wherever it stands: on This device, or "the larger photos" on an ID's page.

   Hooks
     [data-pack="pages"]   "pages", "small", "larger" (all), or "larger:b-031" (ID in lower case); shown by the script
       data-label            what the pack is called later ("B-031"); for larger:…
       [data-pack-state]     words: "1,204 files, 18.2 MB, saved on this device"
       progress[data-pack-progress]
       [data-pack-save], [data-pack-stop], [data-pack-remove]   buttons; only those that apply are shown */
import { choose, chosenPacks, dropPack, pool, signals, buildToSave } from "./offline.js";
import { packState } from "./packs.js";

const number = new Intl.NumberFormat("en");

/** Bytes in words, decimal units. */
const sizeWords = (bytes) => {
  if (bytes < 1e6) return `${Math.ceil(bytes / 1e3)} KB`;
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(1)} MB` : `${(bytes / 1e9).toFixed(2)} GB`;
};

export const filesWords = (files, bytes) => `${number.format(files)} file${files === 1 ? "" : "s"}, ${sizeWords(bytes)}`;

const stateWords = (state, wanted) => {
  if (state.ofFiles === 0) return "There are none.";
  const all = filesWords(state.ofFiles, state.ofBytes);
  if (state.files === state.ofFiles) return `${all}, saved on this device`;
  if (state.files === 0 && !wanted) return `${all}, not saved on this device`;
  return `${number.format(state.files)} of ${all} saved on this device`;
};

const part = (row, name) => row.querySelector(`[data-pack-${name}]`);

const show = (row, name, shown) => {
  const element = part(row, name);
  if (element) element.hidden = !shown;
};

const write = (row, state, wanted) => {
  const whole = state.files === state.ofFiles;
  part(row, "state").textContent = stateWords(state, wanted);
  show(row, "save", !wanted && state.ofFiles > 0);
  show(row, "stop", wanted && !whole);
  show(row, "remove", state.files > 0 && (whole || !wanted));
};

/** How much of a pack there is, with no list fetched for what nobody has chosen. */
const stateOf = async (build, name, wanted) => {
  if (wanted || !name.startsWith("larger")) return packState(pool, build, name);
  if (name !== "larger") return null;
  const parts = (await pool.partsOf(build)).filter((row) => row.pack === name);
  const sum = (key) => parts.reduce((total, row) => total + row[key], 0);
  return { files: 0, bytes: 0, ofFiles: sum("files"), ofBytes: sum("bytes") };
};

const refreshRow = async (row, build, chosen) => {
  const name = row.dataset.pack;
  const wanted = Boolean(chosen[name]);
  row.hidden = false;
  const state = await stateOf(build, name, wanted).catch(() => "unknown");
  if (state === "unknown") return void (part(row, "state").textContent = "How many are saved is not known until the device is online.");
  if (state) return write(row, state, wanted);
  for (const each of ["stop", "drop", "progress"]) show(row, each, false);
  return show(row, "save", true);
};

const writeRows = async () => {
  const build = await buildToSave();
  if (build === null) {
    for (const row of document.querySelectorAll("[data-device] ~ .packs [data-pack]")) {
      row.hidden = false;
      part(row, "state").textContent = "Not saved on this device yet.";
    }
    return;
  }
  const chosen = await chosenPacks();
  for (const row of document.querySelectorAll("[data-pack]")) await refreshRow(row, build, chosen);
};

/** One writing after the other, so that what was read first is never written last. */
let writing = Promise.resolve();
const refresh = () => (writing = writing.catch(() => {}).then(writeRows));

const showProgress = ({ detail }) => {
  for (const row of document.querySelectorAll(`[data-pack="${detail.name}"]`)) {
    show(row, "progress", !detail.done && detail.files < detail.ofFiles);
    if (detail.done) continue;
    const bar = part(row, "progress");
    if (bar) bar.value = detail.ofBytes ? detail.bytes / detail.ofBytes : 1;
    write(row, detail, true);
  }
  if (detail.done) refresh();
};

const press = async (event) => {
  const button = event.target.closest?.("[data-pack-save], [data-pack-stop], [data-pack-remove]");
  const row = button?.closest("[data-pack]");
  if (!row) return;
  const name = row.dataset.pack;
  if ("packSave" in button.dataset) await choose(name, row.dataset.label ?? true);
  if ("packStop" in button.dataset) await choose(name, false);
  if ("packRemove" in button.dataset) await dropPack(name);
  await refresh();
};

export const start = () => {
  document.addEventListener("click", press);
  signals.addEventListener("progress", showProgress);
  signals.addEventListener("builds", refresh);
  return refresh();
};
