/* What can hardly be so in a form of Record: asked about once, under its field, before it is saved. Nothing is refused; a
   second tap on Save keeps it. The limits are those of `journal check`. One global, `journalDoubts`:

     of(record, known, bare, now)   [[key, words]]: each doubt, and the key it is under ("part" and "when" too); known: what
                                    record/data.json says; bare: keys with a number that has no unit; now: a Date
     checkClock(page, parts)        warns where the device's clock is years behind
     asks(form, record, known)      whether there is something to ask first: it then stands in the form, one thing at a time

   The page fetches it when a form is opened; where it cannot be had, nothing is asked. */
"use strict";

globalThis.journalDoubts = (() => {
  const GRAMS = { g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237 }; // as in amounts.js
  const OTHER = { g: "kg", kg: "g", oz: "lb", lb: "oz" };
  const AMOUNT = /^([+-]?[\d.]+) ?(%|°?[CF]|g|kg|oz|lb)$/;
  const AIR = /^(humidity|temperature) (reading|set point)$/;
  const LIMIT = { humidity: "humidity_pct", temperature: "temperature_c" };

  const amount = (text) => {
    const [, number, unit] = AMOUNT.exec(text ?? "") ?? [];
    return unit ? { value: Number(number), unit } : null;
  };

  const grams = (text) => {
    const { value, unit } = amount(text) ?? {};
    return GRAMS[unit] ? value * GRAMS[unit] : null;
  };

  const massWords = (g, units) => {
    const unit = units === "us" ? "lb" : g < 1000 ? "g" : "kg";
    return `${Number((g / GRAMS[unit]).toFixed(2))} ${unit}`;
  };

  const DAY = /^\d{4}-\d{2}-\d{2}/;
  const dayOf = (date) => DAY.exec(date ?? "")?.[0] ?? "";

  const dayWords = (day, now) =>
    new Date(day).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: day.startsWith(now.getFullYear()) ? undefined : "numeric", timeZone: "UTC" });

  /** low, high: null where there is no such limit. */
  const isOutside = (value, [low, high]) => (low !== null && value < low) || (high !== null && value > high);

  const outOfRange = ([key, text], { limits = {} }) => {
    const limit = limits[LIMIT[AIR.exec(key)?.[1]]];
    const { value, unit } = amount(text) ?? {};
    if (!limit || !unit) return null;
    const isF = unit.endsWith("F");
    if (!isOutside(isF ? (value - 32) / 1.8 : value, limit)) return null;
    const [low, high] = limit.map((edge) => Number((isF ? edge * 1.8 + 32 : edge).toFixed(1)));
    return [key, `${text} is outside ${low} to ${high} ${unit}.`];
  };

  const guessed = ([key, text], { limits = {} }, bare) => {
    const [mass, limit] = [grams(text), limits.mass_without_unit_g];
    if (!bare.includes(key) || !mass || !limit || !isOutside(mass, limit)) return null;
    const { value, unit } = amount(text);
    return [key, `Read as ${text}, since no unit was typed. Or is it ${value} ${OTHER[unit]}?`];
  };

  /** A harvest above the wet mass of all that it can be from. */
  const tooHeavy = ({ about, values }, { ids, limits = {}, units }) => {
    const [id, part] = (about[0] ?? "").split(".");
    const { wet_g: wet, unit = "unit", units: all } = ids[id] ?? {};
    const count = part ? about.length : all;
    const most = wet * count;
    if (!(grams(values.harvest) > most * limits.flush_over_wet_mass?.[1])) return [];
    const weighed = count > 1 ? `${count} ${unit}s` : unit;
    return [["harvest", `${values.harvest} is more than the ${weighed} weighed wet (${massWords(most, units)}).`]];
  };

  /** What only the living can do, told of what was lost before. */
  const afterItsEnd = ({ about, date, values }, { ids, growing = [] }, now) => {
    const key = ["harvest", "moved to", "stage"].find((name) => values[name] && (name !== "stage" || growing.includes(values.stage)));
    for (const named of about) {
      const [id, part] = named.split(".");
      const gone = ids[id]?.gone ?? {};
      const [of, day] = part && gone[part] ? [named, gone[part]] : [id, key && gone[""]];
      if (day && (key || values.lost) && dayOf(date) > day) return [[part ? "part" : key, `${of} was lost on ${dayWords(day, now)}, before this.`]];
    }
    return [];
  };

  /** date: with the time and its offset, or only a day; what is less or none is not judged. */
  const inTheFuture = ({ date }, now) => {
    if (!dayOf(date)) return [];
    const isLater = date.length > 10 ? Date.parse(date.replace(" ", "T")) > now : date > journalEntry.moment(now).slice(0, 10);
    return isLater ? [["when", `${date.slice(0, 16)} is in the future by this device’s clock.`]] : [];
  };

  const of = (record, known, bare, now) => {
    const rows = Object.entries(record.values);
    const amounts = rows.flatMap((row) => [outOfRange(row, known), guessed(row, known, bare)]).filter(Boolean);
    return [...amounts, ...tooHeavy(record, known), ...afterItsEnd(record, known, now), ...inTheFuture(record, now)];
  };

  /** A clock that is years behind, as after the battery was empty, would date records wrongly. parts: of the journal, by
      time (`2025`, `2026-q3`, `2026-11`). */
  const checkClock = (page, parts = []) => {
    const today = new Date();
    const newest = Math.max(...parts.map((part) => Number.parseInt(part, 10)));
    const place = page.querySelector("[data-record-clock]");
    place.hidden = !(newest > today.getFullYear());
    place.textContent = `This device’s clock says that today is ${today.toLocaleDateString("en-GB", { dateStyle: "long" })}, but the journal has entries from ${newest}. Set the clock before you record, or correct When in the form: records are dated by it.`;
  };

  // -- in the form -------------------------------------------------------------------------------------------
  let asked = new Set();
  let askedOf = null;

  const show = ([key, words], form) => {
    const control = form.querySelector(key === "when" ? "[data-when]" : `[name="${CSS.escape(key)}"]`);
    const place = control?.closest(".field, fieldset") ?? form;
    const line = document.createElement("span");
    Object.assign(line, { className: "need", role: "alert", textContent: `${words} Save again to keep it.` });
    line.dataset.doubt = key;
    place.append(line);
    place.addEventListener("input", () => line.remove(), { once: true });
    place.closest("details")?.setAttribute("open", "");
    line.scrollIntoView({ block: "center" });
  };

  const asks = (form, record, known) => {
    if (askedOf !== record.record) asked = new Set();
    askedOf = record.record;
    form.querySelector("[data-doubt]")?.remove();
    const isBare = ({ value, dataset }) => dataset.unit && journalEntry.number(value) !== null;
    const bare = [...form.elements].filter(isBare).map((control) => control.name);
    const doubt = of(record, known, bare, new Date()).find((row) => !asked.has(String(row)));
    if (!doubt) return false;
    asked.add(String(doubt));
    show(doubt, form);
    return true;
  };

  return { of, asks, checkClock };
})();
