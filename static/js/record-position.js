/* Where the device is, for as long as it gets better, and whether a find takes that as its own. One global,
   `journalPosition`:

     watch(changed, fix)    asks at once and calls `changed(state)` with each change; the screen stays awake meanwhile.
                            Gives {stop}. state: {fix: {lat, lon, accuracy, at} or what was given, waiting: true while a
                            better fix may come, fault: words | null}
     panel(page, changed)   the part of the form of a find that shows it; changed(settled) is called with each change.
                            Gives {stop, isAsked, resume, consider, locate, later}: resume(draft) goes on from the fix
                            of a draft that was left unsaved a short while ago, and gives whether there is one;
                            consider(draft) chooses whether the position is used, until the author has; locate(draft,
                            place, us) gives the draft its position, where none was typed: that of the device while it
                            is used, for which it asks, else that of the place that it names, {name, where} or null; us:
                            words are in US units. It sets `fix`, where the position is that of the device, `placed`,
                            the name of the place whose position it is, and `refused`, where the author refused that of
                            the device; later() gives the position for a find that was saved while it was awaited, or
                            null */
"use strict";

globalThis.journalPosition = (() => {
  const PATIENCE_MS = 60000;
  const GOOD_M = 10;

  const FAULTS = {
    1: "This browser may not use the position. Allow it in the settings of the browser or device, or type it.",
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

  const watch = (changed, fix) => {
    const state = { fix, waiting: true, fault: null };
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
    const improved = ({ coords }) => {
      if (watching === null || (state.fix && coords.accuracy >= state.fix.accuracy)) return;
      state.fix = { lat: coords.latitude, lon: coords.longitude, accuracy: coords.accuracy, at: Date.now() };
      if (coords.accuracy <= GOOD_M) stop();
      changed(state);
    };

    if (!navigator.geolocation || !isSecureContext) {
      end("This browser gives no position. Save without it, or type it.");
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
  const RECENT_MS = 5 * 60000;
  const COARSE_M = 200;

  const isFromElsewhere = ({ photos }) => photos.length > 0 && photos.every((photo) => photo.source !== "camera");

  /** A position is that of the find only where it was measured when the find was made. */
  const isFresh = ({ date }, at = Date.now()) => Math.abs(at - Date.parse(date?.replace(" ", "T"))) < FRESH_MS;

  const POSITION = /^(-?[\d.]+), (-?[\d.]+)(.*)$/;

  /** How far a fix is from a place as a find has it, in words: on a sphere, which is near enough to tell by. */
  const distance = ({ lat, lon }, where, us) => {
    const [, north, east] = POSITION.exec(where);
    const turn = ((lon - east + 540) % 360) - 180;
    const metres = 111195 * Math.hypot(lat - north, turn * Math.cos((lat * Math.PI) / 180));
    return globalThis.journalAmounts.way(metres, us);
  };

  const panel = (page, changed) => {
    const $ = (selector) => page.querySelector(selector);
    const use = $("[data-position-use]");
    let watching = null;
    let state = {};
    let fix = null;
    let place = null;
    let us = false;
    let isTyped = false;
    let wasPlaced = null; // whether the record was saved with the position of a place

    const isCoarse = () => fix.accuracy > COARSE_M;
    const isTouched = () => "touched" in use.dataset;

    /** An approximate area takes the place of a place's position only on a tap. */
    const isMeasured = () => fix && use.checked && !(place && isCoarse() && !isTouched());

    const measured = () => journalEntry.position(fix, us);
    const around = (where) => POSITION.exec(where)[3].replace(" ", ": ");

    const placeWords = () => {
      const awaited = state.waiting ? " Waiting for that of this device." : "";
      return `Position of the place ${place.name}${around(place.where)}, as recorded before.${use.checked ? awaited : " That of this device is not used."}`;
    };

    const fixWords = () => {
      const better = state.waiting ? ", still improving" : "";
      const far = place && globalThis.journalAmounts && distance(fix, place.where, us);
      const from = far ? `, ${far} from that of ${place.name} as recorded before` : "";
      return `This ${isCoarse() ? "approximate area" : "position"}${around(measured())}${better}${from}`;
    };

    const show = () => {
      const words = fix ? fixWords() : (state.fault ?? "Waiting for a position; saving does not wait for it");
      const ownWords = isTyped ? "The position below is used." : words;
      $("[data-position-words]").textContent = place && !isMeasured() ? placeWords() : ownWords;
      use.parentElement.hidden = isTyped || (!fix && Boolean(state.fault));
      $("[data-position-again]").hidden = isTyped || state.waiting || fix?.accuracy <= 50;
    };

    const stop = () => watching?.stop();
    const ask = (from) => {
      stop();
      watching = watch((now) => {
        state = now;
        fix = state.fix ?? fix;
        show();
        changed(fix && !state.waiting);
      }, from);
    };

    const resume = (draft) => (fix = Date.now() - draft.fix?.at < RECENT_MS ? draft.fix : null);

    /** A photo from the gallery, or a find of some time ago, may be from another place: the present position is then only
        taken on a tap, and so where it was refused before, or that of a place was saved. */
    const consider = (draft) => {
      if (isTouched()) return;
      const isChosen = fix?.isTouched; // before the page was loaded anew
      if (draft.refused || isChosen) use.dataset.touched = "";
      wasPlaced ??= Boolean(draft.placed) && draft.revision > 0;
      const isKept = draft.refused || (wasPlaced && draft.placed);
      use.checked = isChosen || (!isKept && !isFromElsewhere(draft) && isFresh(draft, fix?.at));
      const question = isFromElsewhere(draft) ? "The photo was taken here: use" : "The find is here: use";
      $("[data-position-use] + span").textContent = `${use.checked ? "Use" : question} this device’s position`;
    };

    const locate = (draft, named, isUs) => {
      const { values } = draft;
      us = isUs;
      consider(draft);
      isTyped = Boolean(values.where);
      place = isTyped ? null : named;
      if (place) journalScript("static/js/amounts.js").then(show, () => {}); // without it no distance is told
      show();
      if (!isTyped && !watching && !(fix?.accuracy <= GOOD_M)) ask(fix);
      const isOwn = !isTyped && isMeasured();
      draft.fix = isOwn ? { ...fix, isTouched: isTouched() } : null;
      draft.placed = place && !isOwn ? place.name : null;
      const isRefused = isTouched() && !use.checked;
      if (isRefused || draft.refused) draft.refused = isRefused;
      const where = isOwn ? measured() : place?.where;
      if (where) values.where = where;
    };

    const later = () => (fix && !(place && isCoarse()) ? measured() : null);

    use.addEventListener("input", () => (use.dataset.touched = ""));
    $("[data-position-again]").addEventListener("click", () => ask());
    return { stop, isAsked: () => state.waiting && use.checked, resume, consider, locate, later };
  };

  return { watch, panel };
})();
