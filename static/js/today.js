/* Turns the dates a page carries into words that are right on the day it is read.

   A page is built once and read later, so it carries dates and no words such as "yesterday". "Today" is this
   device's calendar date, or `html[data-as-of="2026-11-25"]` where the page names one. Every date is YYYY-MM-DD
   (more may follow it); one with no day ("2026-10") is left alone. The element's text is replaced: leave it empty
   where the date itself is beside it, or put the date in it for readers without scripts.

   Words
     data-day0="2026-10-06"            "day 50" (day 0 is the day itself; before it: "starts in 3 days")
       data-day-last="2026-11-13"        the count stops there
     data-due="2026-11-28"             "in 3 days", "tomorrow", "today", "3 days late"; class `late` or `due-today`
     data-ago="2026-11-22"             "3 days ago", "yesterday", "today"
     data-age="2026-09-12"             "24 days", "2 months", "3 years"
     data-expect-from="2026-11-28"     "in 3 to 9 days", "look now, usually within the next 4 days", "look now, past the usual time";
       data-expect-to="2026-12-04"       where there is a range; class `expected-now`
       data-expect-firm                  after the range "5 days later than usual", class `late`
     data-today                        "Wednesday, 25 November", this device's date (or the page's)
     data-lit-from="06:30"             "on now" or "off now", by this device's clock
       data-lit-to="18:30"
   Lists
     [data-due-list]                   any element round rows that are siblings: li, tr or article
       [data-row-due="2026-11-28"]       rows: the earliest first, those with no date last; class `late` or `due-today`
       data-due-within="14"              on the list: rows due in more than 14 days are hidden
       data-row-from="2026-11-26"        on a row: hidden before that day, the first of a window that ends when it is due
       data-row-soft                     on a row: something to look for, never late
     [data-recent="7"]                 any element round rows; those not of the last 7 days (today counts) are hidden
       [data-title="Lost this week"]     its heading, and what it says then
       [data-row-date="2026-11-22"]      rows
     in either: [data-when-none] is shown when no row is, [data-row-count] gets the number of rows shown.

   Where early.js is before it, all of this is done while the page is read, before it is painted. Everything is calculated again when the page
   is looked at again, and when rows came into it (`journalrows`). Pure parts: `journalDays` on the global object. */
"use strict";

(() => {
  const DAY_MS = 86400000;
  const DAY = /^\d{4}-\d{2}-\d{2}/;

  /** Days since 1970-01-01 of "YYYY-MM-DD…"; null where no day is named. */
  const dayNumber = (iso) => (DAY.test(iso ?? "") ? Date.parse(iso.slice(0, 10)) / DAY_MS : null);

  /** Whole days from one ISO date to another; null where either has no day. */
  const daysBetween = (from, to) => {
    const [a, b] = [dayNumber(from), dayNumber(to)];
    return a === null || b === null ? null : b - a;
  };

  /** This device's calendar date as YYYY-MM-DD. */
  const localDate = (now) => {
    const two = (n) => String(n).padStart(2, "0");
    return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  };

  const plural = (n, unit) => `${n} ${unit}${n === 1 ? "" : "s"}`;

  /** A span in words: days up to two months, then months, then years from two on. */
  const spanWords = (days) => {
    if (days < 62) return plural(days, "day");
    if (days < 731) return plural(Math.round(days / 30.44), "month");
    return plural(Math.round(days / 365.25), "year");
  };

  const countWords = (days) => (days < 0 ? `starts in ${spanWords(-days)}` : `day ${days}`);

  const dueWords = (days) => {
    if (days === 0) return "today";
    if (days === 1) return "tomorrow";
    return days < 0 ? `${spanWords(-days)} late` : `in ${spanWords(days)}`;
  };

  const agoWords = (days) => {
    if (days === 0) return "today";
    if (days === 1) return "yesterday";
    return days < 0 ? dueWords(-days) : `${spanWords(days)} ago`;
  };

  /** A window in words, from days until its first and its last day (null: no range is known). */
  const windowWords = (first, last, isFirm) => {
    if (last === null) return first > 0 ? dueWords(first) : "look now";
    if (last < 0) return isFirm ? `${spanWords(-last)} later than usual` : "look now, past the usual time";
    if (first > 0) return first === last ? dueWords(first) : `in ${first} to ${spanWords(last)}`;
    if (last < 2) return `look now, usually by ${dueWords(last)}`;
    return `look now, usually within the next ${spanWords(last)}`;
  };

  /** Whether a clock time HH:MM is in [from, to), which may run past midnight. */
  const isLit = (from, to, clock) => (from <= to ? clock >= from && clock < to : clock >= from || clock < to);

  const markDue = (element, days) => {
    element.classList.toggle("late", days !== null && days < 0);
    element.classList.toggle("due-today", days === 0);
  };

  const fill = (name, today, write) => {
    for (const element of document.querySelectorAll(`[data-${name}]`)) {
      const days = daysBetween(today, element.getAttribute(`data-${name}`));
      if (days !== null) write(element, days);
    }
  };

  const fillWords = (today) => {
    fill("day0", today, (element, days) => {
      const stopped = daysBetween(element.dataset.day0, element.dataset.dayLast);
      element.textContent = countWords(stopped === null ? -days : Math.min(-days, stopped));
    });
    fill("due", today, (element, days) => {
      element.textContent = dueWords(days);
      markDue(element, days);
    });
    fill("ago", today, (element, days) => (element.textContent = agoWords(-days)));
    fill("age", today, (element, days) => (element.textContent = spanWords(Math.max(0, -days))));
    fill("expect-from", today, (element, first) => {
      const [last, isFirm] = [daysBetween(today, element.dataset.expectTo), "expectFirm" in element.dataset];
      element.textContent = windowWords(first, last, isFirm);
      element.classList.toggle("expected-now", first <= 0 && (last === null || last >= 0));
      element.classList.toggle("late", isFirm && last < 0);
    });
  };

  const fillLight = (now) => {
    const clock = now.toTimeString().slice(0, 5);
    for (const element of document.querySelectorAll("[data-lit-from][data-lit-to]")) {
      const lit = isLit(element.dataset.litFrom, element.dataset.litTo, clock);
      element.textContent = lit ? "on now" : "off now";
    }
  };

  const nameDay = (today) => {
    const words = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long", timeZone: "UTC" });
    for (const place of document.querySelectorAll("[data-today]")) place.textContent = words.format(Date.parse(today));
  };

  const tally = (list, rows) => {
    const shown = rows.filter((row) => !row.hidden).length;
    for (const none of list.querySelectorAll("[data-when-none]")) none.hidden = shown > 0;
    for (const count of list.querySelectorAll("[data-row-count]")) count.textContent = String(shown);
  };

  const arrangeDue = (list, today) => {
    const within = list.dataset.dueWithin === undefined ? Infinity : Number(list.dataset.dueWithin);
    const rows = [...list.querySelectorAll("[data-row-due]")];
    const daysOf = new Map(rows.map((row) => [row, daysBetween(today, row.dataset.rowDue)]));
    for (const [row, days] of daysOf) {
      markDue(row, "rowSoft" in row.dataset ? null : days);
      row.hidden = (days !== null && days > within) || daysBetween(today, row.dataset.rowFrom) > 0;
    }
    const far = (row) => daysOf.get(row) ?? Number.MAX_SAFE_INTEGER;
    const sorted = [...rows].sort((a, b) => far(a) - far(b));
    if (sorted.some((row, at) => row !== rows[at])) for (const row of sorted) row.parentNode.append(row);
    tally(list, rows);
  };

  const arrangeRecent = (list, today) => {
    const rows = [...list.querySelectorAll("[data-row-date]")];
    for (const row of rows) {
      const days = daysBetween(row.dataset.rowDate, today);
      row.hidden = days === null || days < 0 || days >= Number(list.dataset.recent);
    }
    const head = list.querySelector("[data-title]");
    if (head) head.textContent = head.dataset.title;
    tally(list, rows);
  };

  const calculate = () => {
    const now = new Date();
    const today = document.documentElement.dataset.asOf ?? localDate(now);
    fillWords(today);
    fillLight(now);
    nameDay(today);
    for (const list of document.querySelectorAll("[data-due-list]")) arrangeDue(list, today);
    for (const list of document.querySelectorAll("[data-recent]")) arrangeRecent(list, today);
  };

  globalThis.journalDays = { daysBetween, localDate, spanWords, countWords, dueWords, agoWords, windowWords, isLit };
  if (globalThis.journalEarly) journalEarly(calculate);
  else calculate();
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && calculate());
  document.addEventListener("journalrows", calculate);
  addEventListener("pageshow", (event) => event.persisted && calculate());
})();
