/* Reads the fields of a calculator and writes its results. `journalCalculatorFields` on the global object.

   Hooks, in a form[data-calculator="dry"]
     input[data-field="wet"]        a value; data-kind is what it is of ("mass", "%", "count", …); data-least, -above,
                                    -most, -below its limits in the kind's own unit, data-why why they hold;
                                    its name is the first text of its label's span
     select[data-unit]              in the same .input-row: the unit it is typed in
     [data-status]                    one line: what to correct, or what is missing
   Hooks, in a [data-results="dry"]
     [data-result="unit"]           one number: [data-number], [data-words="what it is"], [data-beside], and for each
     [data-working="unit"]          of its formulas the place for the same with the numbers put in */
"use strict";

(() => {
  const { readNumber, toSi, fromSi, isUs, usualUnit, typed, number } = globalThis.journalAmounts;

  const LIMITS = [
    ["least", (value, limit) => value >= limit, "at least"],
    ["above", (value, limit) => value > limit, "more than"],
    ["most", (value, limit) => value <= limit, "at most"],
    ["below", (value, limit) => value < limit, "less than"],
  ];

  const unitOf = (input) => {
    const chosen = input.closest(".input-row").querySelector("[data-unit]")?.value;
    if (chosen) return chosen;
    return input.dataset.kind === "count" ? "" : input.dataset.kind;
  };

  const nameOf = (input) => input.labels[0].querySelector("span").firstChild.textContent.trim();

  const beyond = (input, value, unit) => {
    const { kind, why } = input.dataset;
    for (const [limit, holds, words] of LIMITS) {
      if (!(limit in input.dataset) || holds(value, Number(input.dataset[limit]))) continue;
      const shown = number(fromSi(Number(input.dataset[limit]), kind, unit), 2);
      return `write ${[words, shown, unit].filter(Boolean).join(" ")}, since ${why}`;
    }
    return kind === "count" && !Number.isInteger(value) ? "write a whole number" : null;
  };

  /** What is in a field: {value} in the kind's own unit, null where it is blank or has an error. */
  const readField = (input) => {
    if (!input.value.trim()) return { value: null, blank: true };
    const read = readNumber(input.value);
    if (read.error) return { value: null, error: read.error };
    const unit = unitOf(input);
    const value = toSi(read.value, input.dataset.kind, unit);
    const error = beyond(input, value, unit);
    return error ? { value: null, error } : { value, warning: read.warning };
  };

  /** A form while its calculator runs: its values, errors, missing fields and warnings. */
  const reading = (form) => {
    const [errors, missing, warnings] = [[], [], []];
    const field = (name) => form.querySelector(`[data-field="${name}"]`);

    const markError = (input, name, message) => {
      input.setAttribute("aria-invalid", "true");
      errors.push(`${name}: ${message}.`);
    };

    const take = (input, name = nameOf(input)) => {
      const read = readField(input);
      if (read.error) markError(input, name, read.error);
      if (read.warning) warnings.push(`${name}: ${read.warning}.`);
      return read;
    };

    for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
    return {
      errors, missing, warnings, take, form,
      /** An optional value; null where it is blank. */
      optional: (name) => take(field(name)).value,
      /** A value that is needed. */
      required: (name) => {
        const read = take(field(name));
        if (read.blank) missing.push(nameOf(field(name)).toLowerCase());
        return read.value;
      },
      choice: (name) => field(name).value,
      us: (name) => isUs(unitOf(field(name))),
      /** The value as it was typed, with its unit. */
      typed: (name) => `${field(name).value.trim()} ${unitOf(field(name))}`.trim(),
      markError: (name, message) => markError(field(name), nameOf(field(name)), message),
    };
  };

  // -- writing -----------------------------------------------------------------------------------------------

  const setText = (element, text) => {
    element.textContent = text ?? "";
    element.hidden = !text;
  };

  const writeResult = (item, result) => {
    const words = item.querySelector("[data-words]");
    item.classList.toggle("unknown", !result);
    item.querySelector("[data-number]").textContent = result?.number ?? "";
    words.textContent = result?.words ?? words.dataset.words;
    setText(item.querySelector("[data-beside]"), result?.beside);
    for (const place of item.querySelectorAll("[data-working]")) setText(place, result?.workings?.[place.dataset.working]);
  };

  const isBlank = (form) => [...form.querySelectorAll("input")].every((input) => !input.value.trim());

  /** The line under a form: its first error, else what is missing, else its first warning. */
  const statusOf = (form, { errors, missing, warnings }) => {
    if (errors.length) return errors[0];
    if (missing.length && !isBlank(form)) return `Missing: ${missing.join(", ")}.`;
    return warnings[0] ?? "";
  };

  /** results: {key: {number, words, beside, workings}}; what is not in it is not known. */
  const write = (form, results, read) => {
    for (const item of document.querySelectorAll(`[data-results="${form.dataset.calculator}"] [data-result]`)) {
      writeResult(item, results[item.dataset.result]);
    }
    const status = form.querySelector("[data-status]");
    const text = statusOf(form, read);
    if (status.textContent !== text) status.textContent = text; // so that a screen reader reads it out once
    status.classList.toggle("need", read.errors.length > 0);
  };

  /** Puts a value (in the kind's own unit, or null) into a field, in the unit it is best typed in. */
  const put = (input, value, us) => {
    const { kind } = input.dataset;
    const choice = input.closest(".input-row").querySelector("[data-unit]");
    if (choice && value !== null) choice.value = usualUnit(value, kind, us);
    input.value = value === null ? "" : typed(fromSi(value, kind, choice?.value));
  };

  globalThis.journalCalculatorFields = { reading, write, put, unitOf };
})();
