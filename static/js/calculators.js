/* The formulas of the calculators: pure functions on `journalCalculators`, in SI units, null where there is no result. No hooks.

   Each is the counterpart of the function of the same name in journal/analysis/ (mixes, water, yields, spawn,
   psychrometrics, ventilation, heat), which has its source; one table of cases, tests/outside/calculator_cases.json, is run
   against both. */
"use strict";

(() => {
  const WET_WORDS = new Set(
    ["fresh", "wet", "soaked", "green", "cooked", "boiled", "hydrated", "moist", "spent", "steamed"],
  );
  const KEPT_PLURALS = new Set(["shavings", "molasses"]);

  // -- what a mix is made of ---------------------------------------------------------------------------------

  const singular = (word) => {
    if (KEPT_PLURALS.has(word) || word.endsWith("ss")) return word;
    return word.length > 3 && word.endsWith("s") ? word.slice(0, -1) : word;
  };

  const wordsOf = (name) => {
    const plain = name.normalize("NFKC").toLowerCase().replaceAll("ß", "ss");
    return plain.split(/[\s_-]+/u).filter(Boolean).map(singular);
  };

  /** {share, own}: the dry share 0-1 of an ingredient, and whether the author measured it; null where none is known.

      own, common: lists of [name, share]; the author's own come first and match by the whole name alone, the common
      ones also by the words the name ends in. */
  const dryShareOf = (name, own, common) => {
    const words = wordsOf(name);
    const whole = words.join(" ");
    const measured = new Map(own.map(([known, share]) => [wordsOf(known).join(" "), share]));
    const usual = new Map(common);
    if (measured.has(whole)) return { share: measured.get(whole), own: true };
    if (usual.has(whole)) return { share: usual.get(whole), own: false };
    if (words.slice(0, -1).some((word) => WET_WORDS.has(word)) && words.at(-1) !== "water") return null;
    const ending = words.map((_, at) => words.slice(at).join(" ")).find((some) => usual.has(some));
    return ending === undefined ? null : { share: usual.get(ending), own: false };
  };

  const moisturePct = (wetG, dryG) => (wetG > 0 && dryG >= 0 && dryG <= wetG ? ((wetG - dryG) / wetG) * 100 : null);

  /** Water over dry substance, from water over everything; null from 100 on, where no dry substance is left. */
  const dryBasisPct = (wetBasisPct) =>
    wetBasisPct >= 0 && wetBasisPct < 100 ? (wetBasisPct / (100 - wetBasisPct)) * 100 : null;

  /** parts: [{name, massG, dryShare}], a share null where it is not known; then dryG and moisturePct are null too. */
  const mixed = (parts) => {
    const missing = [...new Set(parts.filter((part) => part.dryShare === null).map((part) => part.name))];
    const massG = parts.reduce((sum, part) => sum + part.massG, 0);
    const dryG = missing.length ? null : parts.reduce((sum, part) => sum + part.massG * part.dryShare, 0);
    return { massG, dryG, missing, moisturePct: dryG === null ? null : moisturePct(massG, dryG) };
  };

  const waterToAdd = (wetG, moistureNowPct, wantedPct) => {
    if (!(wetG > 0 && moistureNowPct >= 0 && moistureNowPct <= 100 && wantedPct >= 0 && wantedPct < 100)) return null;
    const waterG = (wetG * (wantedPct - moistureNowPct)) / (100 - wantedPct);
    return {
      waterG: Math.max(0, waterG),
      excessG: Math.max(0, -waterG),
      wetG: wetG + waterG,
      dryG: wetG * (1 - moistureNowPct / 100),
    };
  };

  const dryMass = (wetG, moistPct) => (wetG > 0 && moistPct >= 0 && moistPct < 100 ? wetG * (1 - moistPct / 100) : null);

  // -- yield and spawn ----------------------------------------------------------------------------------

  const biologicalEfficiencyPct = (freshG, dryG) => (dryG > 0 && freshG >= 0 ? (freshG / dryG) * 100 : null);

  const ratePct = (spawnG, substrateG) => (substrateG > 0 && spawnG >= 0 ? (spawnG / substrateG) * 100 : null);

  const spawnForRateG = (wetG, rate) => (wetG >= 0 && rate >= 0 ? (wetG * rate) / 100 : null);

  // -- air ---------------------------------------------------------------------------------------------------

  const ZERO_C_K = 273.15;
  const TRIPLE_POINT_C = 0.01;
  const [COLDEST_C, HOTTEST_C] = [-100, 200];

  /** ln of the pressure in Pa, T in K. ASHRAE Handbook, Fundamentals, 2017, chapter 1, equations 5 (ice), 6 (water). */
  const lnOverIce = (T) =>
    -5.6745359e3 / T + 6.3925247 - 9.677843e-3 * T + 6.2215701e-7 * T ** 2 + 2.0747825e-9 * T ** 3 -
    9.484024e-13 * T ** 4 + 4.1635019 * Math.log(T);
  const lnOverWater = (T) =>
    -5.8002206e3 / T + 1.3914993 - 4.8640239e-2 * T + 4.1764768e-5 * T ** 2 - 1.4452093e-8 * T ** 3 +
    6.5459673 * Math.log(T);

  const saturationPressurePa = (tC) => {
    if (!(tC >= COLDEST_C && tC <= HOTTEST_C)) return null;
    const ln = tC <= TRIPLE_POINT_C ? lnOverIce : lnOverWater;
    return Math.exp(ln(tC + ZERO_C_K));
  };

  /** The temperature whose saturation pressure is the vapour's: the equations above, inverted by halving the span. */
  const dewPointC = (tC, rhPct) => {
    const saturatedPa = saturationPressurePa(tC);
    if (saturatedPa === null || !(rhPct > 0 && rhPct <= 100)) return null;
    const vapourPa = (saturatedPa * rhPct) / 100;
    if (vapourPa < saturationPressurePa(COLDEST_C)) return null;
    let [low, high] = [COLDEST_C, tC];
    for (let step = 0; step < 60; step += 1) {
      const middle = (low + high) / 2;
      if (saturationPressurePa(middle) < vapourPa) low = middle;
      else high = middle;
    }
    return high;
  };

  const vapourPressureDeficitPa = (tC, rhPct) => {
    const saturatedPa = saturationPressurePa(tC);
    return saturatedPa === null || !(rhPct >= 0 && rhPct <= 100) ? null : saturatedPa * (1 - rhPct / 100);
  };

  /** Mean air changes an hour of a fan that runs onMin of every everyMin. */
  const airChanges = (volumeM3, flowM3H, onMin, everyMin) => {
    if (!(volumeM3 > 0 && flowM3H >= 0 && onMin >= 0 && everyMin > 0)) return null;
    return (flowM3H * Math.min(1, onMin / everyMin)) / volumeM3;
  };

  // -- heat --------------------------------------------------------------------------------------------------

  const REFERENCE_C = 121.1;
  const Z_K = 10;

  /** Minutes at 121.1 °C that so many minutes on a straight line from one temperature to another stand for. */
  const f0Min = (oneC, otherC, minutes) => {
    const half = ((Math.log(10) / Z_K) * Math.abs(otherC - oneC)) / 2;
    return minutes * 10 ** (((oneC + otherC) / 2 - REFERENCE_C) / Z_K) * (half > 1e-6 ? Math.sinh(half) / half : 1);
  };

  const N = [
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
  ];

  /** Temperature of saturated steam at an absolute pressure: IAPWS R7-97 (2012), region 4, equation 31. */
  const saturationC = (steamPa) => {
    const beta = (steamPa / 1e6) ** 0.25;
    const [e, f, g] = [0, 1, 2].map((at) => (at ? N[at - 1] : 1) * beta ** 2 + N[at + 2] * beta + N[at + 5]);
    const d = (2 * g) / (-f - Math.sqrt(f ** 2 - 4 * e * g));
    return (N[9] + d - Math.sqrt((N[9] + d) ** 2 - 4 * (N[8] + N[9] * d))) / 2 - ZERO_C_K;
  };

  /** Where water boils in the standard atmosphere, under a pressure above that of the air; null where that is not known.
      ASHRAE Handbook, Fundamentals, 2017, chapter 1, equation 3. */
  const boilingC = (elevationM, gaugePa) =>
    elevationM >= -500 && elevationM <= 9000
      ? saturationC(101325 * (1 - 2.25577e-5 * elevationM) ** 5.2559 + gaugePa)
      : null;

  // -- backwards from a day ----------------------------------------------------------------------------------

  /** Units for a mass at this BE; null where nothing is wanted, or nothing would come. */
  const unitsNeeded = (wantedG, dryG, bePct) =>
    wantedG > 0 && dryG > 0 && bePct > 0 ? Math.ceil(wantedG / ((dryG * bePct) / 100) - 1e-9) : null;

  /** The day, as YYYY-MM-DD, so many days before another. */
  const inoculateOn = (by, days) => {
    const day = new Date(`${by}T00:00Z`);
    day.setUTCDate(day.getUTCDate() - Math.ceil(days - 1e-9));
    return day.toISOString().slice(0, 10);
  };

  globalThis.journalCalculators = {
    dryShareOf, moisturePct, dryBasisPct, mixed, waterToAdd, dryMass,
    biologicalEfficiencyPct, spawnRateWetPct: ratePct, spawnRateDryPct: ratePct, spawnForRateG,
    saturationPressurePa, dewPointC, vapourPressureDeficitPa, airChanges, f0Min, boilingC, unitsNeeded,
    inoculateOn,
  };
})();
