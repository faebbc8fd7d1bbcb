/* Saves the journal on this device: registers the worker, completes the chosen packs, checks for updates, and offers
   one when all of it is here. Started by shell.js; the modules for buttons hang on `signals`.

   Hooks
     [data-update]   shown while a newer version is here whole and not yet in use
     [data-update-now]    button in it
     [data-unsaved]       anything that bears it keeps its page from being loaded anew, and the offer from being made
   A page that has saved sends itself `journalsaved`. */
import "./pool.js";

const CHECK_EVERY_MS = 6 * 3600 * 1000;
const SHOW_EVERY_MS = 200;

export const pool = globalThis.journalPool(new URL(document.documentElement.dataset.root || "./", location.href));
const channel = new BroadcastChannel(pool.STATE);

/** What happens to the offline copy, here or in another tab: "builds", "taken", "chosen", "checked", "progress". */
export const signals = new EventTarget();

const hear = (message) => signals.dispatchEvent(new CustomEvent(message.kind, { detail: message }));

const announce = (message) => {
  channel.postMessage(message);
  hear(message);
};

// -- what is to be saved --------------------------------------------------------------------------------------

/** Which packs this device keeps: name -> true, a label, or false. Settled on the first visit: pages and small photos
    come unasked, save where the device asks to save data. */
export const chosenPacks = async () => {
  const unasked = !navigator.connection?.saveData;
  const first = { pages: unasked, small: unasked };
  const chosen = await pool.readState("chosen", {});
  if (Object.keys(first).every((name) => name in chosen)) return chosen;
  // Full storage takes not even the choice.
  return pool.changeState("chosen", {}, (before) => ({ ...first, ...before })).catch(() => ({ ...first, ...chosen }));
};

export const namesOf = (chosen) => Object.keys(chosen).filter((name) => chosen[name]);

/** Chooses a pack (by true or its label) or no longer chooses it; what is saved of it stays. */
export const choose = async (name, want) => {
  await pool.changeState("chosen", {}, (chosen) => ({ ...chosen, [name]: want }));
  announce({ kind: "chosen", name });
  if (want) await askToKeep();
};

/** Asks the browser to keep what is saved, and remembers its answer. */
const askToKeep = async () => {
  const persisted = await navigator.storage?.persist?.().catch(() => null);
  await pool.writeState("persisted", persisted ?? null);
};

/** The build this device works on: the newer one where there is one. */
export const buildToSave = async () => {
  const { current, next } = await pool.builds();
  return next ?? current;
};

/** No longer chooses a pack, and drops what no other chosen pack holds too. */
export const dropPack = async (name) => {
  const isNoted = await choose(name, false).then(() => true, () => false); // full storage takes it after the drop
  const { current } = await pool.builds();
  const build = await buildToSave();
  const others = ["core", ...namesOf(await chosenPacks()).filter((other) => other !== name)];
  const needed = await Promise.all([...others.map((other) => pool.filesOf(build, other)), pool.filesOf(current, "core")]);
  const spared = new Set(needed.flat().map((file) => file.digest));
  const files = await pool.filesOf(build, name);
  await pool.drop(files.map((file) => file.digest).filter((digest) => !spared.has(digest)));
  if (!isNoted) await choose(name, false).catch((error) => recordFaults([error]));
  announce({ kind: "builds" });
  wake(); // where it was chosen again meanwhile
};

// -- making packs whole --------------------------------------------------------------------------------------

let running = null; // {name, control} of the pack being fetched by this page

const progressOf = (name) => {
  let shownAt = 0;
  return (state) => {
    const now = performance.now();
    if (now - shownAt < SHOW_EVERY_MS && state.files < state.ofFiles) return;
    shownAt = now;
    announce({ kind: "progress", name, ...state });
  };
};

const fetchPacks = async (build, names) => {
  const { fetchPack } = await import("./packs.js"); // most pages are opened when all of it is here
  // The worker has fetched the core; what was damaged of it since is gone.
  const faults = await fetchPack(pool, build, "core", new AbortController().signal, () => {}).catch((error) => [error]);
  for (const name of names) {
    running = { name, control: new AbortController() };
    const { signal } = running.control;
    faults.push(...(await fetchPack(pool, build, name, signal, progressOf(name)).catch((error) => [error])));
    running = null;
    announce({ kind: "progress", name, done: true });
  }
  return faults;
};

const recordFaults = async (faults) => {
  const [first] = faults;
  const isOffline = first && faults.every((each) => each.kind === "unreachable");
  if (isOffline && (await lastFault())?.kind === "harmed") return; // that says already what is missing, and why
  const message = faults.length > 1 ? `${first.message}, and ${faults.length - 1} more` : first?.message;
  faultHere = first ? { at: new Date().toISOString(), kind: first.kind, message } : null;
  await pool.writeState("fault", faultHere).catch(() => {}); // full storage keeps not even this
  announce({ kind: "builds" });
};

let faultHere = null;

/** What went wrong last, here or in another page. */
export const lastFault = async () => faultHere ?? pool.readState("fault").catch(() => null);

const selection = async () => {
  const build = await buildToSave();
  return { build, names: namesOf(await chosenPacks()), drops: await pool.readState("drops") };
};

/** With the last drop: what is dropped while the files are counted makes the mark old. */
const markOf = ({ build, names, drops }) => JSON.stringify([build, ...names, drops]);

/** Whether all that is chosen of the build to save is here; remembered, since counting thousands takes a second. */
export const isWhole = async () => (await pool.readState("whole")) === markOf(await selection());

/** What could not be made whole from this page: two pages would else send each other on without end. */
let failed = null;

const makeWholeOnce = async () => {
  if ((await buildToSave()) === null || (await isWhole())) return true;
  await pool.changeState("drops", null, (held) => held ?? crypto.randomUUID()).catch(() => {}); // a reset makes it another too
  const want = await selection();
  const faults = await fetchPacks(want.build, want.names);
  const moved = markOf(await selection()) !== markOf(want);
  if (moved) return false;
  failed = faults.length > 0 ? markOf(want) : null;
  await recordFaults(faults);
  if (faults.length === 0) {
    await pool.writeState("whole", markOf(want));
    if (!(await pool.readState("persisted"))) await askToKeep();
  }
  announce({ kind: "builds" });
  return true;
};

/** One page at a time makes the packs whole; where it is closed, the next goes on. */
const makeWhole = () =>
  navigator.locks.request(`${pool.STATE} fetching`, async () => {
    while (!(await makeWholeOnce())); // again where another build or choice came meanwhile
  });

const wake = () =>
  makeWhole().catch(async (error) => {
    failed = markOf(await selection());
    await recordFaults([error]);
  });

// -- newer builds --------------------------------------------------------------------------------------------

const timingMarks = () => performance.getEntriesByType("navigation")[0]?.serverTiming ?? [];

/** Whether this page came from `journal show`, which answers with the journal as it is now: then it is as new as any. */
const isFromShow = () => timingMarks().some((mark) => mark.name === "shown");

const showOffer = async () => {
  const { next } = await pool.builds();
  const ready = next !== null && (await isWhole()) && !document.querySelector("[data-unsaved]");
  if (ready && isFromShow()) return takeNewer();
  for (const offer of document.querySelectorAll("[data-update]")) offer.hidden = !ready;
};

const takeNewer = async () => {
  const { next } = await pool.builds();
  if (!(await isWhole())) return showOffer(); // another came since it was offered, or something of it was damaged
  const registration = await navigator.serviceWorker.getRegistration(pool.root);
  return (registration.waiting ?? registration.active).postMessage({ kind: "take", build: next });
};

const reload = () => {
  if (!isFromShow() && !document.querySelector("[data-unsaved]")) location.reload();
};

/** The build the worker answered this page from; undefined where the host itself answered. */
const shownBuild = () => timingMarks().find((mark) => mark.name === "build")?.description;

/** A page that was on its way while a newer build was taken, or that comes back from memory, is loaded anew. */
const reloadIfStale = async () => {
  const { current } = await pool.builds();
  const shown = shownBuild();
  if (!current || !shown || shown === "none" || shown === current) return;
  if (sessionStorage.getItem("journal reloaded for") === current) return;
  sessionStorage.setItem("journal reloaded for", current);
  reload();
};

/** Asks the host whether there is a newer build. */
export const check = async () => {
  const registration = await navigator.serviceWorker.getRegistration(pool.root);
  const heard = await registration.update().then(() => true).catch(() => false);
  if (heard) await pool.writeState("checked", new Date().toISOString()).catch(() => {}); // nor does full storage take this
  announce({ kind: "checked", heard });
  wake();
  return heard;
};

const NOT_INSTALLED = Object.assign(new Error("the journal could not be saved: it could not be downloaded completely, or the browser gives it too little storage"), { kind: "install" });

/** The browser's words on a worker that it does not take, behind ours: they name only the script. */
const refused = ({ message }) =>
  Object.assign(new Error(`the journal could not be saved: the server does not have sw.js as it was built, or the browser refuses it (${message})`), { kind: "install" });

const BLOCKED = Object.assign(new Error("the journal could not be saved: this browser blocks service workers, in its settings or by an extension"), { kind: "install" });

const register = async () => {
  const options = { scope: pool.root.pathname, updateViaCache: "imports" };
  const registration = await navigator.serviceWorker.register(new URL("sw.js", pool.root), options).catch(async (fault) => {
    const earlier = await navigator.serviceWorker.getRegistration(pool.root);
    if (!earlier) throw refused(fault); // else there is one, and no network now
    return earlier;
  });
  if (!registration) throw BLOCKED;
  const worker = registration.active ? null : registration.installing; // an update that fails is tried again
  worker?.addEventListener("statechange", async () => {
    if (worker.state === "redundant" && !(await lastFault())) await recordFaults([NOT_INSTALLED]); // it may have said why itself
  });
  const { active } = await navigator.serviceWorker.ready;
  const { current } = await pool.builds();
  // The browser has cleared what was saved. The build of a worker that waits is the one that the host has.
  if (current === null) (registration.waiting ?? active).postMessage({ kind: "take in" });
};

export const listen = () => {
  channel.addEventListener("message", (event) => hear(event.data));
  signals.addEventListener("builds", showOffer);
  signals.addEventListener("taken", reload);
  signals.addEventListener("chosen", (event) => {
    if (running?.name === event.detail.name) running.control.abort();
    wake();
  });
  channel.addEventListener("message", async (event) => {
    if (event.data.kind === "builds" && markOf(await selection()) !== failed) wake();
  });
  for (const button of document.querySelectorAll("[data-update-now]")) button.addEventListener("click", takeNewer);
  addEventListener("online", check);
  addEventListener("journalsaved", showOffer);
  addEventListener("pageshow", (event) => event.persisted && reloadIfStale());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && check());
  setInterval(check, CHECK_EVERY_MS);
};

export const start = async () => {
  try {
    await reloadIfStale();
    await showOffer();
    await register();
    await check();
  } catch (error) {
    await recordFaults([error]);
  }
};
