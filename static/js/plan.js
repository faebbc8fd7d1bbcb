/* The form of the page Plan: backwards from a day, to the day to inoculate and the units to inoculate.

   Hooks, in a [data-plan] (data-us: the journal is kept in US units)
     form[data-calculator="plan"]   fields as in calculator-fields.js; the options of its species have data-dry, and
                                    data-days-all, -days-first, -be-all, -be-first: low, middle and high;
                                    -days-all-own, -days-first-own: the days of the author's own batches
     input[data-field="by"]         the day wanted, as a date
     [data-needs-scripts]           shown, and [data-without-scripts] hidden, where this runs
   The day and the units are calculated by journalCalculators, as journal/analysis/planning.py does. */
"use strict";

(() => {
  const page = document.querySelector("[data-plan]");
  if (!page) return;
  const { reading, write, put } = globalThis.journalCalculatorFields;
  const { unitsNeeded, inoculateOn } = globalThis.journalCalculators;
  const { mass, percent, number } = globalThis.journalAmounts;
  const us = "us" in page.dataset;
  const form = page.querySelector("form");
  const field = (name) => form.querySelector(`[data-field="${name}"]`);
  const words = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });
  const dayWords = (iso) => words.format(new Date(`${iso}T00:00Z`));
  const today = () => document.documentElement.dataset.asOf ?? new Date().toISOString().slice(0, 10);
  const counted = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;

  const chosen = () => field("species").selectedOptions[0].dataset;
  const part = () => (field("part").value === "all" ? "All" : "First");

  /** {low, middle, high, words} of what is known, or null. */
  const known = (name) => {
    const [low, middle, high] = (chosen()[`${name}${part()}`] ?? "").split(" ").map(Number);
    return high === undefined ? null : { low, middle, high, words: chosen()[`${name}${part()}Words`] };
  };

  /** What the author's own batches say where any took longer than the range that is calculated from; else "". */
  const slowerOwn = (by, high) => {
    const own = (chosen()[`days${part()}Own`] ?? "").split(" ").filter(Boolean).map(Number);
    const slowest = Math.max(0, ...own);
    if (slowest <= high) return "";
    const batches = part() === "All" ? "finished batch" : "batch";
    const are = own.length === 1 ? batches : `${own.length} ${batches}es`;
    const isAll = own.length <= 3 && own.every((days) => days > high);
    const all = new Intl.ListFormat("en-GB").format(own.map((days) => number(days)));
    const took = isAll
      ? `Your ${are} took ${all} days, longer than this range`
      : `The slowest of your ${are} took ${number(slowest)} days, longer than this range`;
    const safe = inoculateOn(by, slowest);
    return `${took}: to be safe, inoculate by ${dayWords(safe)}${safe < today() ? ", which is past" : ""}. `;
  };

  const dayResult = (by) => {
    const days = known("days");
    if (!days || !by) return undefined;
    const [early, usual, late] = [days.high, days.middle, days.low].map((count) => inoculateOn(by, count));
    const isPast = early < today() ? " That day is past." : "";
    return {
      number: dayWords(early),
      words: `the day to inoculate, by the slow end of the days.${isPast}`,
      beside: `${slowerOwn(by, days.high)}${dayWords(usual)} by the middle of them, ${dayWords(late)} by the quick end`,
      workings: { day: `${dayWords(by)} − ${number(days.high)} days (${number(days.low)} to ${number(days.high)}; ${days.words})` },
    };
  };

  const unitsResult = (wantedG, dryG, own) => {
    const be = own === null ? known("be") : { low: own, middle: own, high: own, words: "as you expect" };
    if (!be || wantedG === null || dryG === null) return undefined;
    const [sure, usual, few] = [be.low, be.middle, be.high].map((pct) => unitsNeeded(wantedG, dryG, pct));
    const isOne = be.low === be.high;
    const beside = !isOne ? `${counted(usual, "unit")} by the middle of it, ${few} by the high end` : null;
    const over = `(${mass(dryG, us)} × ${percent(sure ? be.low : be.middle)})`;
    return {
      number: sure ? counted(sure, "unit") : "no number is sure",
      words: isOne ? `at a BE of ${percent(be.low)}` : "by the low end of the BE",
      beside,
      workings: { units: `${mass(wantedG, us)} / ${over} = ${counted(sure ?? usual, "unit")} (BE: ${be.words})` },
    };
  };

  const work = () => {
    const ask = reading(form);
    const [wantedG, dryG, be] = [ask.required("wanted"), ask.required("dry"), ask.optional("be")];
    const by = field("by").value;
    if (!by) ask.missing.push("the day it is wanted by");
    if (!known("be") && be === null) ask.missing.push("a BE: none is known for that; enter the one that you expect");
    if (!known("days")) ask.warnings.push("How many days it takes is not known for that.");
    write(form, { day: dayResult(by), units: unitsResult(wantedG, dryG, be) }, ask);
  };

  const fill = () => {
    const { dry } = chosen();
    put(field("dry"), dry ? Number(dry) : null, us);
    if (us && dry) field("dry").value = String(Number(Number(field("dry").value).toPrecision(3))); // 2.2 lb, not 2.20462
    work();
  };

  form.hidden = false;
  for (const element of page.querySelectorAll("[data-without-scripts]")) element.hidden = true;
  for (const number of page.querySelectorAll("[data-number]")) number.hidden = false;
  for (const details of page.querySelectorAll("details")) details.open = false;
  field("species").addEventListener("change", fill);
  form.addEventListener("input", work);
  form.addEventListener("submit", (event) => event.preventDefault());
  fill();
})();
