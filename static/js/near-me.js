/* Finds and patches by distance from this device. The position is asked for on a tap, used here and kept nowhere.

   Hooks
     [data-near]            the part of the page; [data-near-without] is taken away where scripts run
     [data-near-ask]        the button; [data-near-status] says what the position is, or why there is none
     [data-near-filter]     shown with the list; [data-near-season] leaves what fruited in these weeks in other years
     [data-near-list]       an `ol` that is filled; [data-near-more] shows the next rows
   `near-me/spots.js`, read before, leaves `journalSpots`: rows as `site/pages/patch_pages.py` has them, and the units.
   Pure parts: `journalNear` on the global object. */
"use strict";

(() => {
  const PATIENCE_MS = 60000;
  const GOOD_M = 10;
  const WEEKS_DAYS = 14;
  const ROWS = 50;
  const LOOK_M = 50;
  const DAY_MS = 86400000;

  // Semi-major axis and squared eccentricity of WGS 84 (NIMA TR8350.2), and the mean radius that bends chords.
  const A_M = 6378137;
  const E2 = 0.00669437999014;
  const MEAN_M = 6371008.8;
  const WINDS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];

  const point = (lat, lon) => {
    const [p, l] = [(lat * Math.PI) / 180, (lon * Math.PI) / 180];
    const normal = A_M / Math.sqrt(1 - E2 * Math.sin(p) ** 2);
    return [normal * Math.cos(p) * Math.cos(l), normal * Math.cos(p) * Math.sin(l), normal * (1 - E2) * Math.sin(p)];
  };

  /** Metres over the ground, and the bearing in degrees from north: by the chord through the Earth, so that poles and
      the antimeridian are as anywhere else. To 0.1 % within 1,000 km, 0.5 % within 10,000. */
  const way = (from, to) => {
    const [a, b] = [point(...from), point(...to)];
    const [dx, dy, dz] = [0, 1, 2].map((axis) => b[axis] - a[axis]);
    const chord = Math.hypot(dx, dy, dz);
    const [p, l] = [(from[0] * Math.PI) / 180, (from[1] * Math.PI) / 180];
    const east = dy * Math.cos(l) - dx * Math.sin(l);
    const north = dz * Math.cos(p) - (dx * Math.cos(l) + dy * Math.sin(l)) * Math.sin(p);
    const metres = 2 * MEAN_M * Math.asin(Math.min(1, chord / (2 * MEAN_M)));
    return { metres, bearing: ((Math.atan2(east, north) * 180) / Math.PI + 360) % 360 };
  };

  const wind = (bearing) => WINDS[Math.round(bearing / 45) % 8];

  const lengthWords = (metres, units) => globalThis.journalAmounts.way(metres, units === "us");
  const spreadWords = (metres, units) => `± ${globalThis.journalAmounts.radius(metres, units === "us")}`;

  /** What may be said of a distance: where both uncertainties together are larger, only what it is within. Gives the
      distance, and how sure it is. */
  const distanceWords = ({ metres, bearing }, accuracy, uncertainty, units) => {
    const spread = accuracy + (uncertainty ?? 0);
    if (metres <= spread) {
      const most = metres + spread;
      return [`within ${globalThis.journalAmounts.radius(most, units === "us")}`, most <= LOOK_M ? "look around" : "which way is not known"];
    }
    const more = uncertainty === null ? ", and its own uncertainty is not known" : "";
    return [`${lengthWords(metres, units)} ${wind(bearing)}`, `${spreadWords(spread, units)}${more}`];
  };

  /** Whether one of the days is within two weeks of today's date, in another year. */
  const fruitsNow = (days, today) => {
    const year = Number(today.slice(0, 4));
    const now = Date.parse(today);
    return days.some((day) => {
      if (Number(day.slice(0, 4)) === year) return false;
      const [month, date] = [Number(day.slice(5, 7)) - 1, Number(day.slice(8, 10))];
      return [-1, 0, 1].some((more) => Math.abs(Date.UTC(year + more, month, date) - now) <= WEEKS_DAYS * DAY_MS);
    });
  };

  /** The rows with their way from here, the nearest first; of a patch the way to its nearest find. */
  const byDistance = (rows, here) =>
    rows
      .map((row) => {
        const ways = row.places.map(([lat, lon, uncertainty]) => ({ ...way(here, [lat, lon]), uncertainty }));
        return { ...row, ...ways.reduce((best, one) => (one.metres < best.metres ? one : best)) };
      })
      .sort((one, other) => one.metres - other.metres || (one.title < other.title ? -1 : 1));

  const rowFrom = ([title, address, words, kind, places, days, lastLook, weeks, finds]) => ({
    title, address, words, kind, places, days, lastLook, weeks, finds,
  }); // prettier-ignore

  const FAULTS = {
    0: "This browser gives no position here. It does where the journal is installed or opened over https.",
    1: "The position was refused. Allow it for the journal in the browser’s or the device’s settings, then tap again.",
    2: "The device has no position now. Indoors and under dense trees it can take minutes; this page goes on waiting.",
    3: "No position within a minute. Try again under open sky.",
  };

  // -- the page ----------------------------------------------------------------------------------------------------

  const start = (spots, units) => {
    const page = document.querySelector("[data-near]");
    if (!page) return;
    const $ = (name) => page.querySelector(`[data-near-${name}]`);
    const root = document.documentElement.dataset.root ?? "./";
    const rows = spots.map(rowFrom);
    let watching = null;
    let timer = null;
    let fix = null;
    let shown = ROWS;

    const today = () => document.documentElement.dataset.asOf ?? globalThis.journalDays.localDate(new Date());

    const newElement = (name, text, more = {}) => Object.assign(document.createElement(name), { textContent: text, ...more });

    const link = (text, address, className = "") => newElement("a", text, { href: root + address, className });

    const season = (row) => {
      const last = row.lastLook && globalThis.journalDays.agoWords(globalThis.journalDays.daysBetween(row.lastLook, today()));
      const onPosition = row.kind === "patch" ? `fruiting ${row.weeks ?? "not seen"}` : row.weeks && `found in ${row.weeks}`;
      return [onPosition, last && `last visit ${last}`].filter(Boolean).join(" · ");
    };

    const item = (row) => {
      const li = document.createElement("li");
      const head = document.createElement("p");
      head.append(link(row.title, row.address, row.kind === "find" ? "id" : "title"));
      const [far, sure] = distanceWords(row, fix.accuracy, row.uncertainty, units);
      const distance = newElement("p", far, { className: "far" });
      distance.append(" ", newElement("small", sure));
      li.append(head, newElement("p", row.words), distance, newElement("p", season(row), { className: "soft" }));
      if (row.finds.some(([id]) => id !== row.title)) {
        const ids = document.createElement("p");
        for (const [id, address] of row.finds.slice(0, 8)) ids.append(link(id, address, "id"), " ");
        if (row.finds.length > 8) ids.append(`and ${row.finds.length - 8} more`);
        li.append(ids);
      }
      return li;
    };

    const list = () => {
      if (!fix) return;
      const near = byDistance(rows, [fix.lat, fix.lon]);
      const inSeason = $("season").checked ? near.filter((row) => fruitsNow(row.days, today())) : near;
      const none = newElement("li", "Nothing from other years is within these weeks.", { className: "soft" });
      $("list").replaceChildren(...(inSeason.length ? inSeason.slice(0, shown).map(item) : [none]));
      $("more").hidden = inSeason.length <= shown;
    };

    const say = (words) => ($("status").textContent = words);

    const stop = () => {
      if (watching !== null) navigator.geolocation.clearWatch(watching);
      watching = null;
      clearTimeout(timer);
      $("ask").disabled = false;
      if (fix) $("ask").textContent = "Update my position";
    };

    const sayAccuracy = () => {
      const at = new Date(fix.at).toTimeString().slice(0, 5);
      const better = watching === null ? "" : ", still improving";
      say(`Your position is known to ${spreadWords(fix.accuracy, units)}${better} (at ${at}).`);
    };

    const onPosition = ({ coords, timestamp }) => {
      if (watching === null || (fix && fix.of === watching && coords.accuracy > fix.accuracy)) return;
      fix = { lat: coords.latitude, lon: coords.longitude, accuracy: coords.accuracy, at: timestamp, of: watching };
      if (coords.accuracy <= GOOD_M) stop();
      $("filter").hidden = false;
      sayAccuracy();
      list();
    };

    const onFailure = (code) => {
      const isNew = fix !== null && fix.of === watching;
      stop();
      if (isNew) sayAccuracy();
      else say(FAULTS[code]);
    };

    const requestPosition = () => {
      if (!navigator.geolocation || !isSecureContext) return onFailure(0);
      $("ask").disabled = true;
      say("Waiting for a position. The first can take a minute.");
      timer = setTimeout(() => onFailure(3), PATIENCE_MS);
      const failed = ({ code }) => (code === 1 ? onFailure(1) : fix?.of === watching || say(FAULTS[2]));
      watching = navigator.geolocation.watchPosition(onPosition, failed, { enableHighAccuracy: true, maximumAge: 0 });
    };

    $("without").remove();
    $("ask").hidden = false;
    $("ask").addEventListener("click", requestPosition);
    $("season").addEventListener("input", () => {
      shown = ROWS;
      list();
    });
    $("more").addEventListener("click", () => {
      shown += ROWS;
      list();
    });
    addEventListener("pagehide", stop);
  };

  globalThis.journalNear = { way, wind, distanceWords, fruitsNow, byDistance };
  if (globalThis.journalSpots) start(...globalThis.journalSpots);
})();
