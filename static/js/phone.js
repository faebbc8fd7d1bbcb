/* This phone: what is held, said in plain words, and the way out where it has gone wrong.

   Hooks, all inside [data-phone] (the packs are keeping.js's)
     [data-phone-build]     short digest of the build shown
     [data-phone-held]      files and bytes held of it
     [data-phone-newer]     words on a newer build
     [data-phone-checked]   when the host was last asked
     [data-phone-fault]     what last went wrong, or "nothing"
     [data-phone-lasting]   what the browser says about keeping it
     [data-phone-look]      button: look for a newer build
     [data-larger-list]     gets one row for each ID whose larger photos are kept, made from
       template[data-larger-row]   holding one [data-pack] (as keeping.js says) with a [data-larger-id]
     [data-mend]            button: drop caches and worker, never a record
     [data-mend-says]       words beside it */
import { chosenPacks, look, namesOf, pool, signals } from "./holding.js";
import { filesWords } from "./keeping.js";

const moment = new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" });
const momentWords = (iso) => moment.format(new Date(iso));

const say = (name, words) => {
  for (const place of document.querySelectorAll(`[data-phone-${name}]`)) place.textContent = words;
};

/** Files held of the current build: each content once, whichever packs name it. */
const heldOf = async (build) => {
  const names = ["core", "pages", "small", ...namesOf(await chosenPacks()).filter((name) => name.startsWith("larger"))];
  const files = (await Promise.all(names.map((name) => pool.filesOf(build, name)))).flat();
  const here = await pool.heldAmong(files.map((file) => file.digest));
  const held = new Map(files.filter((file) => here.has(file.digest)).map((file) => [file.digest, file.bytes]));
  return filesWords(held.size, [...held.values()].reduce((total, bytes) => total + bytes, 0));
};

const newerWords = async (next) => {
  if (next === null) return "none known of";
  const ready = (await pool.readState("whole"))?.startsWith(`["${next}"`);
  return ready ? `${next.slice(0, 8)}, here and ready` : `${next.slice(0, 8)}, being fetched`;
};

const LASTING = {
  true: "The browser has promised to keep this until you remove it.",
  false: "The browser may clear this when the phone runs short of room. It can be fetched again.",
  null: "Not asked yet. The browser may clear this when the phone runs short of room.",
};

let reached = true; // whether the host answered when it was last asked

const checkedWords = (checked) => {
  const when = checked ? momentWords(checked) : "not yet";
  return reached ? when : `${when}; the host could not be reached just now`;
};

const writeWords = async () => {
  const { current, next } = await pool.builds();
  const [checked, fault] = [await pool.readState("checked"), await pool.readState("fault")];
  say("build", current ? current.slice(0, 8) : "none yet");
  say("held", current ? await heldOf(current) : "nothing yet");
  say("newer", await newerWords(next));
  say("checked", checkedWords(checked));
  say("fault", fault ? `${momentWords(fault.at)}: ${fault.says}` : "nothing");
  say("lasting", LASTING[String(await pool.readState("persisted"))]);
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

const sayMend = (words) => {
  for (const place of document.querySelectorAll("[data-mend-says]")) {
    place.textContent = words;
    place.hidden = false;
  }
};

const hostAnswers = () => pool.fetchAnswer("sw.js").then(() => true).catch(() => false);

/** Drops caches and worker; databases (records made on this phone) are not touched. */
const mend = async () => {
  const registration = await navigator.serviceWorker.getRegistration(pool.root);
  await registration?.unregister();
  await caches.delete(pool.POOL);
  await caches.delete(pool.STATE);
  location.reload();
};

const pressMend = async (event) => {
  const button = event.currentTarget;
  if (button.dataset.mend === "sure" || (await hostAnswers())) return mend();
  button.dataset.mend = "sure";
  sayMend("There is no signal: mending now leaves this phone with no journal until there is. Press again to mend it all the same.");
  return undefined;
};

const pressLook = () => {
  say("checked", "asking the host");
  return look();
};

const hearChecked = (event) => {
  reached = event.detail.heard;
  refresh();
};

export const start = async () => {
  await addLargerRows();
  for (const button of document.querySelectorAll("[data-mend]")) button.addEventListener("click", pressMend);
  for (const button of document.querySelectorAll("[data-phone-look]")) button.addEventListener("click", pressLook);
  for (const kind of ["builds", "chosen"]) signals.addEventListener(kind, refresh);
  signals.addEventListener("checked", hearChecked);
  signals.addEventListener("progress", (event) => event.detail.done && refresh());
  await refresh();
};
