/* Where the device is, for as long as it gets better: `journalPosition.watch(changed)` asks at once and calls
   `changed(state)` with each change; the screen stays awake meanwhile.

   state: {fix: {lat, lon, accuracy, at} | null, waiting: true while a better fix may come, fault: words | null}
   `watch` gives {stop}. */
"use strict";

globalThis.journalPosition = (() => {
  const PATIENCE_MS = 60000;
  const GOOD_M = 10;

  const FAULTS = {
    1: "This browser may not use the position. Allow it in the browser’s or the device’s settings, or type the position.",
    2: "The device has no position now. Save without it, or type it.",
    3: "No position within a minute. Save without it, or try again under open sky.",
  };

  const keepAwake = () => {
    let lock = null;
    let over = false;
    const ask = async () => {
      if (over || document.visibilityState !== "visible") return;
      lock = (await navigator.wakeLock?.request("screen").catch(() => null)) ?? null;
      if (over) lock?.release();
    };
    ask();
    document.addEventListener("visibilitychange", ask);
    return () => {
      over = true;
      document.removeEventListener("visibilitychange", ask);
      lock?.release();
    };
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

  return { watch };
})();
