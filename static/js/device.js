/* This device: what is saved offline, updates, installing, and the reset of the offline copy.

   Hooks, all inside [data-device] (the packs are pack-buttons.js's)
     [data-device-version]   short digest of the version shown
     [data-device-saved]     files and bytes saved of it
     [data-device-update]    words on an update
     [data-device-checked]   when the host was last asked
     [data-device-error]     the last error, or "none"
     [data-device-storage]   whether the browser promised to keep it
     [data-device-check]     button: check for updates
     [data-larger-list]     gets one row for each ID whose larger photos are saved, made from
       template[data-larger-row]   holding one [data-pack] (as pack-buttons.js says) with a [data-larger-id]
     [data-reset]            button: delete caches and worker, never a record
     [data-reset-status]       words beside it
     [data-install]           button, shown where the browser offers an install
     [data-install-by-hand]   words for the browsers that have no such offer (Share, then Add to Home Screen)
     [data-installed]         words, shown where the journal runs as an app */
import { chosenPacks, check, isWhole, lastFault, namesOf, pool, signals } from "./offline.js";
import { filesWords } from "./pack-buttons.js";

const moment = new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" });
const momentWords = (iso) => moment.format(new Date(iso));

const say = (name, words) => {
  for (const place of document.querySelectorAll(`[data-device-${name}]`)) place.textContent = words;
};

/** Files saved of the current build: each content once, whichever packs name it. */
const savedOf = async (build) => {
  const names = ["core", "pages", "small", ...namesOf(await chosenPacks()).filter((name) => name.startsWith("larger"))];
  const files = (await Promise.all(names.map((name) => pool.filesOf(build, name)))).flat();
  const here = await pool.savedAmong(files.map((file) => file.digest));
  const saved = new Map(files.filter((file) => here.has(file.digest)).map((file) => [file.digest, file.bytes]));
  return filesWords(saved.size, [...saved.values()].reduce((total, bytes) => total + bytes, 0));
};

const updateWords = async (next) => {
  if (next === null) return "none available";
  return (await isWhole()) ? `${next.slice(0, 8)}, ready` : `${next.slice(0, 8)}, downloading`;
};

const STORAGE = {
  true: "The browser keeps the offline copy until you remove it.",
  false: "The browser may delete the offline copy when storage runs low, and does when a private window is closed. It can be downloaded again.",
  null: "The browser may delete the offline copy when storage runs low.",
};

let reached = true; // whether the host answered when it was last asked

const checkedWords = (checked) => {
  const when = checked ? momentWords(checked) : "not yet";
  return reached ? when : `${when}; the server could not be reached just now`;
};

const writeWords = async () => {
  const { current, next } = await pool.builds();
  const [checked, fault] = [await pool.readState("checked"), await lastFault()];
  say("version", current ? current.slice(0, 8) : "none yet");
  say("saved", current ? await savedOf(current).catch(() => "not known until the device is online") : "nothing yet");
  say("update", await updateWords(next));
  say("checked", checkedWords(checked));
  say("error", fault ? `${momentWords(fault.at)}: ${fault.message ?? fault.says}` : "none");
  say("storage", STORAGE[String(await pool.readState("persisted"))]);
};

/** One writing after the other, so that what was read first is never written last. */
let writing = Promise.resolve();
const refresh = () => (writing = writing.catch(() => {}).then(writeWords));

const addLargerRows = async () => {
  const list = document.querySelector("[data-larger-list]");
  const mould = document.querySelector("template[data-larger-row]");
  const chosen = await chosenPacks();
  for (const name of namesOf(chosen).filter((each) => each.startsWith("larger:"))) {
    if (!list || list.querySelector(`[data-pack="${name}"]`)) continue;
    const row = mould.content.cloneNode(true);
    const pack = row.querySelector("[data-pack]");
    Object.assign(pack.dataset, { pack: name, label: chosen[name] });
    pack.querySelector("[data-larger-id]").textContent = chosen[name];
    list.append(row);
  }
};

const sayReset = (words) => {
  for (const place of document.querySelectorAll("[data-reset-status]")) {
    place.textContent = words;
    place.hidden = false;
  }
};

const hostAnswers = () => pool.fetchAnswer("sw.js").then(() => true).catch(() => false);

/** Deletes caches and worker; databases (records made on this device) are not touched. */
const reset = async () => {
  const registration = await navigator.serviceWorker.getRegistration(pool.root);
  await registration?.unregister();
  await caches.delete(pool.POOL);
  await caches.delete(pool.STATE);
  location.reload();
};

const pressReset = async (event) => {
  const button = event.currentTarget;
  if (button.dataset.reset === "sure" || (await hostAnswers())) return reset();
  button.dataset.reset = "sure";
  sayReset("You are offline: after a reset the journal cannot be opened on this device until you are online again. Press again to reset anyway.");
  return undefined;
};

const pressCheck = () => {
  say("checked", "checking");
  return check();
};

const hearChecked = (event) => {
  reached = event.detail.heard;
  refresh();
};

// -- installing -----------------------------------------------------------------------------------------------

const setHidden = (selector, hidden) => {
  for (const element of document.querySelectorAll(selector)) element.hidden = hidden;
};

const showOffer = () => setHidden("[data-install]", !globalThis.journalInstallOffer);

const install = async () => {
  const offer = globalThis.journalInstallOffer;
  globalThis.journalInstallOffer = null; // an offer can be used once
  showOffer();
  await offer?.prompt();
};

const startInstall = () => {
  const installed = matchMedia("(display-mode: standalone)").matches || navigator.standalone === true;
  setHidden("[data-installed]", !installed);
  setHidden("[data-install-by-hand]", installed || !("standalone" in navigator));
  addEventListener("journalinstalloffer", showOffer);
  for (const button of document.querySelectorAll("[data-install]")) button.addEventListener("click", install);
  showOffer();
};

export const start = async () => {
  startInstall();
  await addLargerRows();
  for (const button of document.querySelectorAll("[data-reset]")) button.addEventListener("click", pressReset);
  for (const button of document.querySelectorAll("[data-device-check]")) button.addEventListener("click", pressCheck);
  for (const kind of ["builds", "chosen"]) signals.addEventListener(kind, refresh);
  signals.addEventListener("checked", hearChecked);
  signals.addEventListener("progress", (event) => event.detail.done && refresh());
  await refresh();
};
