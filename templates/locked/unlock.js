/* The unlock page of a locked site: makes the key out of the passphrase, hands it to the worker, and opens the page that
   was asked for (`#to=…`). Where the journal is open already it offers to open it and to lock it; where anything of it
   is saved, to forget it. That asks first, and ends on this same page, which needs nothing from anywhere.

   Hooks
     [data-why]        the reason why nothing can be unlocked here
     [data-form]       passphrase, remember; [data-show] shows what is typed
     [data-open]       shown where it is open: [data-open-words], [data-go], [data-lock]
     [data-here]       shown where anything is saved: [data-forget], which asks by [data-asked] ([data-forget-now],
                       [data-forget-not]); [data-forgotten], with [data-forgotten-words], says what was done
     [data-status], progress[data-progress]   how far it is, and what went wrong */
"use strict";

(() => {
  const root = new URL("./", location.href);
  const part = (name) => document.querySelector(`[data-${name}]`);
  const [why, form, open, here, asked, forgotten] = ["why", "form", "open", "here", "asked", "forgotten"].map(part);
  const [status, bar] = ["status", "progress"].map(part);
  const STATE = `journal state ${root.pathname}`;
  const SHELL = `journal shell ${root.pathname}`;
  const POOL = `journal pool ${root.pathname}`;
  const CALIBRATION_ROUNDS = 30_000;
  const INSTALL_MS = 120_000;

  const show = (element, shown) => (element.hidden = !shown);
  const sleep = (ms) => new Promise((done) => setTimeout(done, ms));

  const say = (words, isFault = false) => {
    status.textContent = words;
    status.classList.toggle("need", isFault);
    if (isFault) show(bar, false);
  };

  const stop = (words) => {
    why.textContent = words;
    show(why, true);
    for (const each of [form, open, here, bar]) show(each, false);
  };

  const whyNot = () => {
    if (location.protocol === "file:") {
      return "A locked journal cannot be opened from a folder. Put its files on a web host that serves HTTPS, and open its address: the host cannot read them.";
    }
    if (!isSecureContext) return "This address does not use HTTPS, so the browser does not decrypt here. Open the journal by an address that begins with https://.";
    const isAble = "serviceWorker" in navigator && "locks" in navigator && "DecompressionStream" in globalThis;
    if (!isAble) return "This browser cannot open a locked journal (a private window, or an old browser).";
    return null;
  };

  const where = () => {
    const asked = new URLSearchParams(location.hash.slice(1)).get("to") ?? "";
    const target = new URL(asked || "index.html", root);
    const isInside = target.href.startsWith(root.href) && !target.pathname.endsWith("/unlock.html");
    return isInside ? target : new URL("index.html", root);
  };

  /** What a cache holds at an address; asked for so that none is made where there is none. */
  const kept = async (name, url) => ((await caches.has(name)) ? (await caches.open(name)).match(url) : undefined);

  const state = async (name) => (await kept(STATE, new URL(`state/${name}`, root)))?.json();

  // -- headers -------------------------------------------------------------------------------------------------
  const address = new URL("lock.json", root);

  /** The host's `lock.json`, past the worker; null where it cannot be reached. */
  const hostHeader = async () => {
    const answer = await fetch(address, { cache: "no-cache", headers: { "Journal-Pool": "1" } }).catch(() => null);
    return answer?.ok ? answer.text() : null;
  };

  const keptHeader = async () => (await kept(SHELL, address))?.text() ?? null;

  /** Both headers, checked, the host's first; a kept one makes up for a damaged one of the host. */
  const readHeaders = async (lock) => {
    const texts = [await hostHeader(), await keptHeader()].filter((text) => text !== null);
    const read = await Promise.allSettled([...new Set(texts)].map(lock.readHeader));
    const refused = read.find(({ reason }) => reason?.kind === "rounds") ?? read.find(({ reason }) => reason);
    const headers = read.flatMap(({ value }) => value ?? []);
    if (refused?.reason.kind === "rounds" || (headers.length === 0 && refused)) throw refused.reason;
    if (headers.length === 0) throw Object.assign(new Error("The server cannot be reached, and nothing is saved on this device."), { kind: "unreachable" });
    return headers;
  };

  // -- deriving ------------------------------------------------------------------------------------------------
  /** Runs the work and moves the bar by the clock: a browser does not tell how far it is with a key. */
  const withProgress = async (rounds, work) => {
    const { pbkdf2 } = globalThis.journalLockPrimitives;
    const began = performance.now();
    await pbkdf2(new Uint8Array(1), new Uint8Array(16), CALIBRATION_ROUNDS);
    const expected = ((performance.now() - began) * rounds) / CALIBRATION_ROUNDS;
    const from = performance.now();
    const timer = setInterval(() => (bar.value = Math.min(0.95, (performance.now() - from) / expected)), 80);
    bar.value = 0;
    show(bar, true);
    try {
      return await work();
    } finally {
      clearInterval(timer);
    }
  };

  const unlockAny = async (lock, headers, passphrase) => {
    let last = null;
    for (const header of headers) {
      try {
        return await withProgress(header.rounds, () => lock.unlock(header, passphrase));
      } catch (error) {
        if (error.kind !== "passphrase") throw error;
        last ??= error;
      }
    }
    throw last;
  };

  // -- the worker ----------------------------------------------------------------------------------------------
  const settled = (worker) =>
    new Promise((done) => {
      const look = () => ["installed", "activated", "redundant"].includes(worker.state) && done(worker.state);
      worker.addEventListener("statechange", look);
      look();
    });

  const hearCore = ({ data }) => {
    if (data.kind !== "core") return;
    say(`Downloading ${data.done} of ${data.of} files.`);
    show(bar, true);
    bar.value = data.done / data.of;
  };

  const broken = async (registration) => {
    const fault = await state("fault");
    if (!registration.active) await registration.unregister();
    return new Error(fault ? `It could not be opened: ${fault.message}.` : "The files could not be downloaded. Try again with a signal.");
  };

  /** Lets the worker take in the build of these keys, until it is the one that is shown. */
  const install = async (keys) => {
    const worker = new URL("sw.js", root);
    const isThere = async () => (await state("builds"))?.currentKey === keys.id;
    const earlier = await navigator.serviceWorker.getRegistration(root);
    const isReady = Boolean(earlier?.active) && (await isThere());
    // of an earlier time; a worker that is registered may fail before the next line
    if (!isReady) await (await caches.open(STATE)).delete(new URL("state/fault", root));
    const registration = await navigator.serviceWorker.register(worker, { scope: root.pathname, updateViaCache: "imports" });
    if (isReady) return;
    say("Downloading the pages.");
    const before = registration.installing ?? registration.waiting;
    if (!before && registration.active) await registration.update().catch(() => {});
    const fresh = registration.installing ?? registration.waiting ?? before;
    if (fresh && (await settled(fresh)) === "redundant") throw await broken(registration);
    if (!fresh && !registration.active) throw await broken(registration); // it had failed before it could be seen
    if (!fresh) registration.active.postMessage({ kind: "take in" });
    for (let waited = 0; !(await isThere()); waited += 100) {
      const { next } = (await state("builds")) ?? {};
      if (next) (registration.waiting ?? registration.active).postMessage({ kind: "take", build: next });
      if (waited > INSTALL_MS || (await state("fault"))) throw await broken(registration);
      await sleep(100);
    }
  };

  const go = async () => {
    await navigator.serviceWorker.ready;
    say("Opening.");
    location.replace(where());
  };

  // -- pressing ------------------------------------------------------------------------------------------------
  const submit = async (lock, headers) => {
    const button = form.querySelector("[type=submit]");
    button.disabled = true;
    say("Making the key out of the passphrase.");
    try {
      const keys = await unlockAny(lock, headers, form.elements.passphrase.value);
      if (form.elements.remember.checked) await lock.remember(keys);
      await install(keys);
      form.elements.passphrase.value = "";
      await go();
    } catch (error) {
      say(error.message, true);
    } finally {
      button.disabled = false;
    }
  };

  const forgetLooks = () => {
    for (const key of Object.keys(localStorage).filter((name) => name.startsWith("journal looked "))) localStorage.removeItem(key);
  };

  const deleted = (name) =>
    new Promise((done) => {
      const request = indexedDB.deleteDatabase(name);
      for (const ended of ["onsuccess", "onerror", "onblocked"]) request[ended] = done;
    });

  /** Deletes what is saved of it; says whether all of it is gone. */
  const deleteAll = async (lock) => {
    const registration = await navigator.serviceWorker.getRegistration(root);
    await registration?.unregister();
    for (const name of [POOL, STATE, SHELL]) await caches.delete(name);
    await deleted(lock.NAME);
    forgetLooks();
    const left = await Promise.all([POOL, STATE, SHELL].map((name) => caches.has(name)));
    const databases = (await indexedDB.databases?.()) ?? [];
    return !left.some(Boolean) && !databases.some(({ name }) => name === lock.NAME);
  };

  /** The same, until it stays so: what another page or the worker had begun may have ended after it, and stored more. */
  const forget = async (lock) => {
    await lock.lockUp("forgotten");
    let looks = 0;
    for (let tries = 0; tries < 20 && looks < 2; tries += 1) {
      if (tries > 0) await sleep(150);
      looks = (await deleteAll(lock)) ? looks + 1 : 0;
    }
    return looks === 2;
  };

  const sayForgotten = (isGone) => {
    part("forgotten-words").textContent = isGone
      ? "Deleted: the key, the encrypted copy of its pages and photos, and what was noted of your visits."
      : "The key is deleted. The browser did not let go of all of the encrypted copy: close the journal’s other tabs and clear this site’s data in the browser’s settings.";
    history.replaceState(null, "", `${root.pathname}unlock.html`);
    show(forgotten, true);
    forgotten.querySelector("h2").focus();
  };

  /** Offers to forget what is saved here, and asks before it does. */
  const offerForgetting = (lock) => {
    const others = [why, form, open, here].filter((each) => !each.hidden);
    const ask = (isAsked) => {
      for (const each of [...others, here]) show(each, !isAsked);
      show(asked, isAsked);
      say("");
      part(isAsked ? "forget-not" : "forget").focus();
    };
    show(here, true);
    part("forget").addEventListener("click", () => ask(true));
    part("forget-not").addEventListener("click", () => ask(false));
    part("forget-now").addEventListener("click", async () => {
      show(asked, false);
      say("Deleting.");
      const isGone = await forget(lock).catch(() => false);
      say("");
      sayForgotten(isGone);
    });
  };

  const showOpen = (lock) => {
    show(open, true);
    part("open-words").textContent = "This journal is unlocked on this device.";
    part("lock").addEventListener("click", async () => {
      await lock.lockUp();
      location.reload();
    });
    offerForgetting(lock);
  };

  const start = async () => {
    const reason = whyNot();
    if (reason) return stop(reason);
    const lock = globalThis.journalLock(root);
    new BroadcastChannel(STATE).addEventListener("message", hearCore);
    const headers = await readHeaders(lock);
    show(why, false);
    if (await lock.holds(headers[0].key)) {
      const { currentKey } = (await state("builds")) ?? {};
      if (currentKey !== headers[0].key) await install({ id: headers[0].key });
      if (location.hash.startsWith("#to=") || !location.pathname.endsWith("/unlock.html")) return go();
      return showOpen(lock);
    }
    show(form, true);
    part("show").addEventListener("change", ({ target }) => (form.elements.passphrase.type = target.checked ? "text" : "password"));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      submit(lock, headers);
    });
    if (await caches.has(POOL)) offerForgetting(lock);
    return form.elements.passphrase.focus();
  };

  start().catch((error) => stop(error.message));
})();
