/* The way back to where a find was: an arrow, how far it is, and how sure both ends are; works with no signal.

   Hooks
     [data-walk="58.3 -8.9 8"]   the section: latitude, longitude and the radius that the place is sure to (empty: not
                                         known); data-walk-units is "metric" or "us"
       [data-walk-start], [data-walk-stop]   buttons; the position is asked for on a tap, and no more while the page is hidden
       [data-walk-shown]                   what is shown while there is a position
         [data-walk-turn], [data-walk-north]  groups that are turned; [data-walk-arrow], and circles to scale
         [data-walk-distance], [data-walk-bearing], [data-walk-told], [data-walk-age]
       [data-walk-status]                  why there is no position
       [data-walk-said]                    the same for those who hear it: in words, and not more often than every ten seconds
       [data-walk-copy], [data-walk-link]  copy [data-walk-text]; open the place in the device's own maps
   Where the device has a compass and its use is allowed, the arrow turns with the device; else north is up. Distances and
   bearings are those of geodesic.js, their words those of amounts.js. Pure parts: `journalWalk` on the global object. */
"use strict";

(() => {
  const SAID_EVERY_MS = 10000;
  const OLD_MS = 30000;
  const PATIENCE_MS = 60000;
  const COARSE_M = 200;
  const MARK_AT = 80; // where the mark is in the drawing, from its middle

  const DIRECTIONS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
  const directionOf = (bearing) => DIRECTIONS[Math.round(bearing / 45) % 8];

  const { far, number, radius } = globalThis.journalAmounts;

  /** "240 m", "1.3 km"; "790 ft", "0.8 mi": no finer than it is worth on foot. */
  const lengthWords = (metres, units) => {
    const [unitM, unit] = units === "us" ? [0.3048, "ft"] : [1, "m"];
    const count = metres / unitM;
    const rounded = count < 100 ? number(count, 0) : String(number(count / 10, 0) * 10);
    return rounded < 1000 ? `${rounded} ${unit}` : far(metres, units === "us");
  };

  const spreadWords = (metres, units) => `± ${radius(metres, units === "us")}`;

  const agoWords = (ms) => {
    const seconds = Math.max(0, Math.round(ms / 1000));
    if (seconds < 90) return `${seconds} s ago`;
    return seconds < 5400 ? `${Math.round(seconds / 60)} min ago` : `${Math.round(seconds / 3600)} h ago`;
  };

  /** Which way to turn, of the bearing less the heading: "straight ahead", "to the left". */
  const turnWords = (turn) => {
    const angle = ((turn % 360) + 540) % 360 - 180;
    if (Math.abs(angle) <= 20) return "straight ahead";
    if (Math.abs(angle) >= 160) return "behind you";
    const side = angle < 0 ? "left" : "right";
    return Math.abs(angle) <= 60 ? `ahead, to the ${side}` : Math.abs(angle) <= 120 ? `to the ${side}` : `behind you, to the ${side}`;
  };

  /** What may honestly be said: `isHere` where the mark may be as near as both uncertainties reach. markM: null where not
      known; fixM: of the device's position. */
  const nearness = (awayM, markM, fixM, units) => {
    const markWords = markM === null ? "how sure the mark is is not known" : `the mark is sure to ${spreadWords(markM, units)}`;
    const fixWords = `your position to ${spreadWords(fixM, units)}`;
    if (markM !== null && awayM <= markM) return { isHere: true, words: `You are within the mark’s own ${spreadWords(markM, units)}: look around.` };
    if (awayM <= (markM ?? 0) + fixM) return { isHere: true, words: `You may be at the place: ${markWords}, ${fixWords}. Look around.` };
    if (fixM > COARSE_M) return { isHere: false, words: `Your position is only an approximate area, ${spreadWords(fixM, units)}: the arrow cannot lead you to the spot.` };
    return { isHere: false, words: `${markWords.replace(/^./, (letter) => letter.toUpperCase())}, ${fixWords}.` };
  };

  /** Which way the top of the device points, in degrees from north by east; null where the event does not say. iOS counts
      from magnetic north by itself; elsewhere alpha runs the other way round. *Source:* W3C Device Orientation Event
      Specification, section 4.1: alpha turns about the axis that points up. */
  const headingOf = (event, screenDeg) => {
    const compass = event.webkitCompassHeading;
    const isKnown = typeof compass === "number" && compass >= 0;
    const heading = isKnown ? compass : event.absolute && typeof event.alpha === "number" ? 360 - event.alpha : null;
    return heading === null ? null : (heading + screenDeg + 360) % 360;
  };

  globalThis.journalWalk = { lengthWords, spreadWords, agoWords, directionOf, turnWords, nearness, headingOf };

  const FAULTS = {
    1: "This browser may not use the position. Allow it in the browser’s or the device’s settings, then tap again. On an iPhone: Settings, Privacy, Location Services. On Android: Settings, Location, App permissions.",
    2: "The device has no position now. Go where the sky is open; it is tried on.",
    3: "No position yet. The first one can take minutes, sooner under open sky; it is tried on.",
  };
  const NONE = "This page cannot ask for the position, because its address does not use HTTPS or the browser has none. Copy the position, or open it in the maps application.";

  const start = (section) => {
    const $ = (name) => section.querySelector(`[data-walk-${name}]`);
    const [lat, lon, within] = section.dataset.walk.split(" ");
    const mark = { lat: Number(lat), lon: Number(lon), within: within ? Number(within) : null };
    const units = section.dataset.walkUnits;
    const state = { fix: null, heading: null, on: false, watching: null, timer: null, said: "", saidAt: 0, wasHere: null };
    let waiting = false;

    const status = (words) => {
      $("status").textContent = words ?? "";
      $("status").hidden = !words;
      if (words) say(words, true);
    };

    /** To those who hear the page: what is new, at most every ten seconds unless it has to be known at once. */
    const say = (words, isUrgent = false) => {
      const now = Date.now();
      if (words === state.said || (!isUrgent && now - state.saidAt < SAID_EVERY_MS)) return;
      Object.assign(state, { said: words, saidAt: now });
      $("said").textContent = words;
    };

    const draw = () => {
      waiting = false;
      const { fix, heading } = state;
      if (!state.on || !fix) return;
      const { metres, bearing } = globalThis.journalGeodesic.inverse(fix.lat, fix.lon, mark.lat, mark.lon);
      const { isHere, words } = nearness(metres, mark.within, fix.accuracy, units);
      const north = heading ?? 0;
      $("shown").hidden = false;
      $("north").setAttribute("transform", `rotate(${(-north).toFixed(1)})`);
      $("turn").setAttribute("transform", `rotate(${((bearing ?? 0) - north).toFixed(1)})`);
      // to scale: as far as the mark stands off, or as wide as the circles are where it may be here
      const perM = isHere ? 90 / Math.max(metres + (mark.within ?? 0), fix.accuracy, 1) : MARK_AT / metres;
      $("fix-circle").setAttribute("r", Math.min(300, fix.accuracy * perM).toFixed(1));
      for (const name of ["mark-circle", "spot"]) $(name).setAttribute("cy", (-metres * perM).toFixed(1));
      $("mark-circle").setAttribute("r", Math.min(300, (mark.within ?? 0) * perM).toFixed(1));
      $("arrow").setAttribute("visibility", isHere ? "hidden" : "visible");
      $("distance").textContent = isHere ? "about here" : lengthWords(metres, units); // a bearing would be chance
      const where = bearing === null ? "" : `to the ${directionOf(bearing)}, bearing ${Math.round(bearing) % 360}°`;
      const turn = bearing === null || heading === null ? "" : turnWords(bearing - heading);
      $("bearing").textContent = isHere ? "" : [turn, where, heading === null ? "north is up" : ""].filter(Boolean).join("; ");
      $("told").textContent = words;
      say(isHere ? words : `${lengthWords(metres, units)} ${[where, turn].filter(Boolean).join(", ")}. ${words}`, isHere !== state.wasHere);
      state.wasHere = isHere;
      tellAge();
    };

    const changed = () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(draw);
    };

    const tellAge = () => {
      if (!state.fix) return;
      const age = Date.now() - state.fix.at;
      const compass = state.heading === null ? "" : " The compass can be off by some degrees, and more near iron or magnets.";
      const old = age > OLD_MS ? " You may have moved since: the arrow can be wrong." : "";
      $("age").textContent = `Last position ${agoWords(age)}, sure to ${spreadWords(state.fix.accuracy, units)}.${old}${compass}`;
    };

    const turned = (event) => {
      const heading = headingOf(event, screen.orientation?.angle ?? 0);
      if (heading === null) return;
      state.heading = heading;
      changed();
    };

    const COMPASS = "ondeviceorientationabsolute" in globalThis ? "deviceorientationabsolute" : "deviceorientation";

    const watch = () => {
      const options = { enableHighAccuracy: true, maximumAge: 0, timeout: PATIENCE_MS };
      state.watching = navigator.geolocation.watchPosition(({ coords, timestamp }) => {
        state.fix = { lat: coords.latitude, lon: coords.longitude, accuracy: coords.accuracy, at: timestamp };
        status(null);
        changed();
      }, ({ code }) => {
        status(FAULTS[code]);
        if (code === 1) stop(true);
      }, options);
      if (state.hasCompass) addEventListener(COMPASS, turned);
      state.timer = setInterval(tellAge, 1000);
    };

    const stopWatching = () => {
      if (state.watching !== null) navigator.geolocation.clearWatch(state.watching);
      removeEventListener(COMPASS, turned);
      clearInterval(state.timer);
      Object.assign(state, { watching: null, heading: null });
    };

    const stop = (keepsStatus = false) => {
      stopWatching();
      Object.assign(state, { on: false, fix: null, wasHere: null });
      if (!keepsStatus) status(null);
      $("shown").hidden = $("stop").hidden = true;
      $("start").hidden = false;
    };

    const begin = async () => {
      if (!navigator.geolocation || !isSecureContext) {
        status(NONE);
        return;
      }
      state.on = true;
      $("start").hidden = true;
      $("stop").hidden = false;
      status("Waiting for a position");
      const allowed = mayTurn(); // within the tap, or iOS refuses to ask
      watch();
      state.hasCompass = await allowed;
      if (state.hasCompass && state.watching !== null) addEventListener(COMPASS, turned);
    };

    $("start").addEventListener("click", begin);
    $("stop").addEventListener("click", () => stop());
    $("start").hidden = false;
    document.addEventListener("visibilitychange", () => {
      if (!state.on) return;
      stopWatching();
      if (document.visibilityState === "visible") watch();
    });
    addEventListener("pagehide", () => state.on && stop());

    const copy = $("copy");
    copy.hidden = false;
    copy.addEventListener("click", async () => {
      const text = $("text");
      const done = await navigator.clipboard?.writeText(text.textContent).then(() => true, () => false);
      if (!done) getSelection().selectAllChildren(text);
      status(done ? "Position copied." : "This browser does not allow copying. The position is selected: copy it by hand.");
    });
    const link = $("link");
    const isApple = /iPhone|iPad|iPod|Macintosh/.test(navigator.userAgent);
    if (link && isApple) link.href = link.dataset.walkApple; // geo: opens nothing there
  };

  /** Whether the compass may be used: asked where the browser wants to be asked. */
  const mayTurn = async () => {
    const ask = globalThis.DeviceOrientationEvent?.requestPermission;
    if (!ask) return "DeviceOrientationEvent" in globalThis;
    return (await ask.call(globalThis.DeviceOrientationEvent).catch(() => "denied")) === "granted";
  };

  for (const section of document.querySelectorAll("[data-walk]")) start(section);
})();
