/* Sunrise, sunset and the end of civil twilight at a place, today; works with no signal.

   Hook: [data-sun="58.3 -8.9" data-zone="Europe/London"] (more may follow the position), an element that is hidden until
   its text is there. Day and hours are those of the journal's time zone, data-zone; it is named where this device is in
   another, or where it is far from the sun's time at the place, and so are the days there. `html[data-as-of]` is another
   day. On the global object:
     journalSun(lat, lon, year, month, day)   {rise, set, dawn, dusk}: Dates, null where the sun does not cross that height;
                                              always: "up" or "down" where it neither rises nor sets
     journalSun.dayIn(zone, moment)           "2026-11-30", of a Date; in this device's zone where it does not know that one
   Source: as journal/analysis/sun.py, which the same rows are checked with. */
"use strict";

(() => {
  const RAD = Math.PI / 180;
  const RISEN_DEG = -50 / 60;
  const CIVIL_DEG = -6;
  const J2000_MS = Date.UTC(2000, 0, 1, 12);

  /** Declination in degrees, and the equation of time in minutes. */
  const sunAt = (ms) => {
    const t = (ms - J2000_MS) / 86400000 / 36525;
    const mean = ((280.46646 + t * (36000.76983 + t * 0.0003032)) % 360) * RAD;
    const anomaly = (357.52911 + t * (35999.05029 - 0.0001537 * t)) * RAD;
    const e = 0.016708634 - t * (0.000042037 + 0.0000001267 * t);
    const centre = Math.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
      + Math.sin(2 * anomaly) * (0.019993 - 0.000101 * t) + Math.sin(3 * anomaly) * 0.000289;
    const node = (125.04 - 1934.136 * t) * RAD;
    const longitude = mean + (centre - 0.00569 - 0.00478 * Math.sin(node)) * RAD;
    const tilt = 23 + (26 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) / 60) / 60;
    const obliquity = (tilt + 0.00256 * Math.cos(node)) * RAD;
    const y = Math.tan(obliquity / 2) ** 2;
    const equation = y * Math.sin(2 * mean) - 2 * e * Math.sin(anomaly) + 4 * e * y * Math.sin(anomaly) * Math.cos(2 * mean)
      - 0.5 * y * y * Math.sin(4 * mean) - 1.25 * e * e * Math.sin(2 * anomaly);
    return { declination: Math.asin(Math.sin(obliquity) * Math.sin(longitude)) / RAD, equation: (4 * equation) / RAD };
  };

  const crossing = (lat, noonMs, height, side) => {
    let ms = noonMs;
    for (let turn = 0; turn < 3; turn += 1) {
      const { declination, equation } = sunAt(ms);
      const [phi, delta] = [lat * RAD, declination * RAD];
      const ratio = (Math.sin(height * RAD) - Math.sin(phi) * Math.sin(delta)) / (Math.cos(phi) * Math.cos(delta));
      if (!(ratio >= -1 && ratio <= 1)) return null;
      ms = noonMs + ((side * Math.acos(ratio) * 4) / RAD - equation) * 60000;
    }
    return new Date(ms);
  };

  const sunOn = (lat, lon, year, month, day) => {
    const noonMs = Date.UTC(year, month - 1, day, 12) - lon * 240000;
    const [rise, set] = [-1, 1].map((side) => crossing(lat, noonMs, RISEN_DEG, side));
    const [dawn, dusk] = [-1, 1].map((side) => crossing(lat, noonMs, CIVIL_DEG, side));
    const isUp = Math.abs(lat + sunAt(noonMs).declination) - 90 > RISEN_DEG;
    return { rise, set, dawn, dusk, always: rise && set ? null : isUp ? "up" : "down" };
  };

  const PARTS = { year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" };

  /** What clocks in a zone show: {zone, at(moment)}, which gives {day, time, utc}, utc being that clock read as UTC. */
  const clocksOf = (timeZone) => {
    let [format, zone] = [new Intl.DateTimeFormat("en-GB", PARTS), timeZone];
    try {
      format = new Intl.DateTimeFormat("en-GB", { ...PARTS, timeZone });
    } catch {
      zone = format.resolvedOptions().timeZone; // the other was named after this browser was made
    }
    const at = (moment) => {
      const { year, month, day, hour, minute } = Object.fromEntries(format.formatToParts(moment).map(({ type, value }) => [type, value]));
      return { day: `${year}-${month}-${day}`, time: `${hour}:${minute}`, utc: Date.UTC(year, month - 1, day, hour, minute) };
    };
    return { zone, at };
  };

  const dayIn = (zone, moment) => clocksOf(zone).at(moment).day;

  const FAR_H = 2; // as in journal/site/pages/finds.py

  const words = ({ rise, set, dusk, always }, lon, zone) => {
    if (always) return always === "up" ? "Today the sun does not set here." : "Today the sun does not rise here.";
    const clocks = clocksOf(zone);
    const toTheMinute = (exact) => new Date(Math.floor((exact.getTime() + 30000) / 60000) * 60000);
    const risen = toTheMinute(rise);
    const ahead = (clocks.at(risen).utc - risen) / 60000;
    const isFar = Math.abs(ahead / 60 - lon / 15) > FAR_H;
    const isNamed = isFar || ahead !== -risen.getTimezoneOffset() || clocks.zone !== zone;
    const clock = (exact) => {
      const { day, time } = clocks.at(toTheMinute(exact));
      return isFar ? `${time} on ${day}` : time;
    };
    const dark = dusk ? `twilight ends at ${clock(dusk)}` : "it does not get dark";
    const named = isNamed ? ` (all in the time of ${clocks.zone})` : "";
    return `${isFar ? "The" : "Today the"} sun rises here at ${clock(rise)} and sets at ${clock(set)}; ${dark}${named}. Under trees and in a valley it is dark sooner.`;
  };

  const show = () => {
    for (const element of document.querySelectorAll("[data-sun]")) {
      const [lat, lon] = element.dataset.sun.split(" ").map(Number);
      if (!Number.isFinite(lat) || !Number.isFinite(lon)) continue;
      const { zone } = element.dataset;
      const today = document.documentElement.dataset.asOf ?? dayIn(zone, new Date());
      element.textContent = words(sunOn(lat, lon, ...today.slice(0, 10).split("-").map(Number)), lon, zone);
      element.hidden = false;
    }
  };

  globalThis.journalSun = Object.assign(sunOn, { dayIn });
  if (typeof document === "undefined") return;
  document.addEventListener("DOMContentLoaded", show);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && show());
})();
