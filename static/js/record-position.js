/* Where the device is, for as long as it gets better, and whether a find takes that as its own. One global,
   `journalPosition`:

     watch(changed)         asks at once and calls `changed(state)` with each change; the screen stays awake meanwhile.
                            Gives {stop}. state: {fix: {lat, lon, accuracy, at} | null, waiting: true while a better fix
                            may come, fault: words | null}
     panel(page, changed)   the part of the form of a find that shows it; changed(settled) is called with each change.
                            Gives {ask, stop, isAsked, consider, at, here, where}: consider(draft) chooses whether the
                            position is used, until the author has; at(place) takes that of a place, {name, where}, for
                            it, or null; here() is where the device is, where() `where` of the find; both may be null */
"use strict";

globalThis.journalPosition = (() => {
  const PATIENCE_MS = 60000;
  const GOOD_M = 10;

  const FAULTS = {
    1: "This browser may not use the position. Allow it in the browser’s or the device’s settings, or type the position.",
    2: "The device has no position now. Save without it, or type it.",
    3: "No position within a minute. Save without it, or try again under open sky.",
  };

  /** Keeps the screen on; gives what ends that. A browser lets go of a page that is hidden, so it is asked again. */
  const keepAwake = () => {
    let lock = null;
    let over = false;
    const ask = async () => {
      const isHeld = lock !== null && !lock.released;
      if (over || isHeld || document.visibilityState !== "visible") return;
      lock = (await navigator.wakeLock?.request("screen").catch(() => null)) ?? null;
      if (over) lock?.release();
    };
    const end = () => {
      over = true;
      document.removeEventListener("visibilitychange", ask);
      removeEventListener("pagehide", end);
      lock?.release();
    };
    ask();
    document.addEventListener("visibilitychange", ask);
    addEventListener("pagehide", end);
    return end;
  };

  const watch = (changed) => {
    const state = { fix: null, waiting: true, fault: null };
    let release = () => {};
    let watching = null;
    let timer = null;

    const stop = () => {
      if (watching !== null) navigator.geolocation.clearWatch(watching);
      watching = null;
      clearTimeout(timer);
      release();
      release = () => {};
      state.waiting = false;
    };
    const end = (fault) => {
      stop();
      if (!state.fix) state.fault = fault;
      changed(state);
    };
    const improved = ({ coords, timestamp }) => {
      if (watching === null || (state.fix && coords.accuracy >= state.fix.accuracy)) return;
      state.fix = { lat: coords.latitude, lon: coords.longitude, accuracy: coords.accuracy, at: timestamp };
      if (coords.accuracy <= GOOD_M) stop();
      changed(state);
    };

    if (!navigator.geolocation || !isSecureContext) {
      end("This browser gives no position. Type it, or save without it.");
      return { stop };
    }
    release = keepAwake();
    timer = setTimeout(() => end(FAULTS[3]), PATIENCE_MS);
    const options = { enableHighAccuracy: true, maximumAge: 0 };
    const failed = (fault) => {
      if (fault.code === 1) end(FAULTS[1]); // anything else may pass: the wait goes on
      else if (!state.fix) changed(Object.assign(state, { fault: FAULTS[fault.code] }));
    };
    watching = navigator.geolocation.watchPosition(improved, failed, options);
    changed(state);
    return { stop };
  };

  // -- in the form of a find ---------------------------------------------------------------------------------
  const FRESH_MS = 15 * 60000;

  const isFromElsewhere = ({ photos }) => photos.length > 0 && photos.every((photo) => photo.source !== "camera");

  /** The present position is that of the find only while the find is new. */
  const isFresh = ({ date }) => Math.abs(Date.now() - Date.parse(date.replace(" ", "T"))) < FRESH_MS;

  const panel = (page, changed) => {
    const $ = (selector) => page.querySelector(selector);
    const use = $("[data-position-use]");
    let watching = null;
    let fix = null;
    let place = null;

    const show = (state) => {
      fix = state.fix ?? fix;
      const accuracy = fix && Math.ceil(fix.accuracy);
      const better = state.waiting ? ", still improving" : "";
      const sort = accuracy > 200 ? "approximate area" : "position";
      $("[data-position-words]").textContent = fix
        ? `This ${sort}: ±${accuracy} m${better}`
        : (state.fault ?? "Waiting for a position; saving does not wait for it");
      use.parentElement.hidden = !fix && Boolean(state.fault);
      $("[data-position-again]").hidden = state.waiting || Boolean(fix && accuracy <= 50);
      changed(Boolean(fix) && !state.waiting);
    };

    const stop = () => watching?.stop();
    const ask = () => {
      stop();
      if (place) return;
      watching = watch(show);
    };

    /** A photo from the gallery, or a find that was begun some time ago, may be from another place: the present position
        is then only taken on a tap. */
    const consider = (draft) => {
      if ("touched" in use.dataset) return;
      use.checked = !isFromElsewhere(draft) && isFresh(draft);
      const question = isFromElsewhere(draft) ? "The photo was taken here: use this position" : "The find is here: use this position";
      $("[data-position-use] + span").textContent = use.checked ? "Use this position" : question;
    };

    const showPlace = () => {
      const around = /±.*$/.exec(place.where)?.[0];
      const named = around ? `${place.name}: ${around}` : place.name;
      $("[data-position-words]").textContent = `Position of the place ${named}, as recorded before. The position of this device is not used.`;
      use.parentElement.hidden = $("[data-position-again]").hidden = true;
    };

    const at = (named) => {
      if (named?.name === place?.name) return;
      const isLeft = place !== null && named === null;
      place = named;
      if (place) {
        stop();
        showPlace();
      } else if (isLeft) {
        use.parentElement.hidden = false;
        ask();
      }
    };

    const here = () => (fix ? globalThis.journalEntry.position({ latitude: fix.lat, longitude: fix.lon, accuracy: fix.accuracy }) : null);

    use.addEventListener("input", () => (use.dataset.touched = ""));
    $("[data-position-again]").addEventListener("click", ask);
    return { ask, stop, isAsked: () => watching !== null && !place && use.checked, consider, at, here, where: () => place?.where ?? (use.checked ? here() : null) };
  };

  return { watch, panel };
})();
