/* A number and its unit, as an author types and reads them. No hooks: `journalAmounts` on the global object.

   The counterpart of journal/quantities.py (read) and journal/site/wording.py (worded); tests hold them together.
   Factors: A. Thompson and B. N. Taylor, Guide for the Use of the International System of Units, NIST Special
   Publication 811 (2008), appendix B.8. */
"use strict";

(() => {
  const FACTORS = {
    mass: { g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237 },
    length: { m: 1, cm: 0.01, ft: 0.3048, in: 0.0254 },
    flow: { "m³/h": 1, cfm: 1.69901079552 },
    pressure: { kPa: 1000, psi: 6894.757293168, bar: 100000 },
  };
  const US_UNITS = new Set(["oz", "lb", "ft", "in", "cfm", "°F", "psi"]);
  const NUMBER = /^(?:[+-]?(?:\d{1,3}(?: \d{3})+(?!\d)|\d+)(?:[.,]\d*)?|[+-]?[.,]\d+)/;
  const THOUSANDS_COMMA = /^[+-]?[1-9]\d{0,2},\d{3}$/;

  /** What a text says: {value}, with a `warning` where it should be checked, or {error} where it is not a number. */
  const readNumber = (text) => {
    const plain = text.normalize("NFKC").replace(/\s+/gu, " ").trim().replace("\u2212", "-");
    const written = NUMBER.exec(plain)?.[0];
    if (!written) return { error: `“${plain}” is not a number: write it like 1.5 or 1,5` };
    const rest = plain.slice(written.length).trim();
    if (/^[.,]/.test(rest)) return { error: `“${plain}” has two decimal marks: write thousands without a mark` };
    if (rest) return { error: `“${plain}” has more than a number in it: write only the number, the unit is next to the field` };
    const value = Number(written.replaceAll(" ", "").replace(",", "."));
    if (!THOUSANDS_COMMA.test(written)) return { value };
    return { value, warning: `“${written}” is read as ${value}: a comma is a decimal comma` };
  };

  /** A value in its kind's own unit (g, m, m³/h, °C, Pa) from one in `unit`; a kind with one unit alone is left as it is. */
  const toSi = (value, kind, unit) => {
    if (kind === "temperature") return unit === "°F" ? (value - 32) / 1.8 : value;
    return value * (FACTORS[kind]?.[unit] ?? 1);
  };

  const fromSi = (value, kind, unit) => {
    if (kind === "temperature") return unit === "°F" ? value * 1.8 + 32 : value;
    return value / (FACTORS[kind]?.[unit] ?? 1);
  };

  const isUs = (unit) => US_UNITS.has(unit);

  /** The unit of a kind in which a value is best typed. */
  const usualUnit = (value, kind, us) => {
    if (kind === "mass" && us) return value >= FACTORS.mass.lb ? "lb" : "oz";
    if (kind === "mass") return value >= 1000 ? "kg" : "g";
    return { length: us ? "ft" : "m", pressure: us ? "psi" : "kPa", flow: us ? "cfm" : "m³/h", temperature: us ? "°F" : "°C" }[kind] ?? "";
  };

  /** A number to be in a field: six digits that count, no trailing zeros. */
  const typed = (value) => String(Number(value.toPrecision(6)));

  // -- worded ------------------------------------------------------------------------------------------------

  // As journal/amounts.py has them: digits in which calculating with floats leaves nothing, and decimals beyond those
  // asked for that are never taken for what it left.
  const SURE_DIGITS = 14;
  const LEFT_ALONE = 3;

  /** With so many decimals, a half away from 0, of the decimal that is written for a number, less what calculating
      with floats has left in it. */
  const rounded = (value, decimals) => {
    if (!Number.isFinite(value)) return String(value);
    const [, lead, more = "", power] = /^(\d)(?:\.(\d+))?e(.+)$/.exec(Math.abs(value).toExponential());
    let [digits, place] = [BigInt(lead + more), Number(power) - more.length];
    for (const to of [Math.min(Number(power) + 1 - SURE_DIGITS, -decimals - LEFT_ALONE), -decimals]) {
      const unit = 10n ** BigInt(Math.max(0, to - place));
      [digits, place] = [(digits + unit / 2n) / unit, Math.max(to, place)];
    }
    const text = String(digits * 10n ** BigInt(place + decimals)).padStart(decimals + 1, "0");
    const point = text.length - decimals;
    const minus = value < 0 && digits ? "-" : "";
    return minus + text.slice(0, point) + (decimals ? "." : "") + text.slice(point);
  };

  const number = (value, decimals = 1) => {
    let text = rounded(value, decimals);
    if (text.includes(".")) text = text.replace(/0+$/, "").replace(/\.$/, "");
    return text.replace("-", "−");
  };

  const percent = (value) => `${number(value)} %`;

  const mass = (grams, us = false) => {
    if (!us && Math.abs(grams) >= 1000) return `${number(grams / 1000, 2)} kg`;
    if (!us) return `${number(grams, Math.abs(grams) >= 10 ? 0 : 1)} g`;
    const ounces = Number(rounded(grams / FACTORS.mass.oz, 1));
    const [pounds, rest] = [Math.floor(ounces / 16), ounces % 16];
    if (pounds <= 0) return `${number(ounces)} oz`;
    return number(rest) === "0" ? `${pounds} lb` : `${pounds} lb ${number(rest)} oz`;
  };

  const length = (metres, us = false) =>
    us ? `${number(metres / FACTORS.length.ft)} ft` : `${number(metres, metres < 10 ? 2 : 0)} m`;
  const FAR = { false: [1000, "km"], true: [1609.344, "mi"] };
  const NEAR = { false: [1, "m"], true: [FACTORS.length.ft, "ft"] };

  /** A distance in km or miles, however short: `1,288 km`, `0.4 km`; in US units `8.1 mi`. */
  const far = (metres, us = false) => {
    const [unitM, unit] = FAR[us];
    if (metres < 100 * unitM) return `${number(metres / unitM)} ${unit}`;
    return `${number(metres / unitM, 0).replace(/\B(?=(?:\d{3})+$)/g, ",")} ${unit}`;
  };

  /** A distance outdoors: `1,288 km`, `13 km`, `150 m`; in US units `8.1 mi`, `492 ft`. */
  const way = (metres, us = false) => {
    const [unitM, unit] = NEAR[us];
    return metres < FAR[us][0] ? `${number(metres / unitM, 0)} ${unit}` : far(metres, us);
  };

  const NO_MORE = 0.05; // of a metre, foot or tenth: what a radius kept in metres may be off where it was written in feet

  /** How sure a place is: `8 m`, `1.3 km`; in US units `27 ft`, `8.1 mi`. Rounded up: it is never told smaller than it is. */
  const radius = (metres, us = false) => {
    const [[unitM, unit], [farM, large]] = [NEAR[us], FAR[us]];
    if (metres < farM) return `${Math.ceil(metres / unitM - NO_MORE)} ${unit}`;
    return `${number(Math.ceil((metres / farM) * 10 - NO_MORE) / 10)} ${large}`;
  };
  const temperature = (celsius, us = false) => (us ? `${number(celsius * 1.8 + 32)} °F` : `${number(celsius)} °C`);
  const degrees = (kelvin, us = false) => (us ? `${number(kelvin * 1.8)} °F` : `${number(kelvin)} °C`);
  const volume = (m3, us = false) =>
    us ? `${number(m3 / FACTORS.length.ft ** 3)} ft³` : `${number(m3, 2)} m³`;
  const flow = (m3H, us = false) =>
    us ? `${number(m3H / FACTORS.flow.cfm, 0)} cfm` : `${number(m3H, 0)} m³/h`;
  const pressure = (pa) => `${rounded(pa / 1000, 3)} kPa`;

  globalThis.journalAmounts = {
    readNumber, toSi, fromSi, isUs, usualUnit, typed,
    number, percent, mass, length, far, way, radius, temperature, degrees, volume, flow, pressure,
  };
})();
