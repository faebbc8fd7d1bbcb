/* The work of each calculator: from the values of its form to its results and its formulas with the numbers put in.
   No hooks: `journalCalculatorResults` on the global object; the keys are those of journal/data/calculators.toml. */
"use strict";

(() => {
  const calculators = globalThis.journalCalculators;
  const { number, percent, mass, temperature, degrees, volume, flow, pressure, isUs } = globalThis.journalAmounts;

  const known = (...values) => values.every((value) => value !== null);
  const counted = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;

  const moistureResult = (moisturePct, wetTyped) => {
    const dryBasis = calculators.dryBasisPct(moisturePct);
    return {
      number: percent(moisturePct),
      words: "moisture, wet basis",
      beside: dryBasis === null ? null : `${percent(dryBasis)} on the dry basis`,
      workings: {
        wet: `${wetTyped} = ${percent(moisturePct)}`,
        dry: dryBasis === null ? null : `${percent(moisturePct)} / (100 − ${number(moisturePct)}) × 100 = ${percent(dryBasis)}`,
      },
    };
  };

  // -- a mix -------------------------------------------------------------------------------------------------

  const waterResult = (lot, wantedPct, us) => {
    const watered = calculators.waterToAdd(lot.massG, lot.moisturePct, wantedPct);
    const [to, now] = [percent(wantedPct), percent(lot.moisturePct)];
    const change = watered.waterG - watered.excessG;
    const tooWet = watered.excessG > 0;
    return {
      number: mass(Math.abs(change), us),
      words: tooWet ? `too much water for ${to}` : `water to add for ${to}`,
      beside: tooWet ? "let it drain or dry, or add dry material" : null,
      workings: { water: `${mass(lot.massG, us)} × (${to} − ${now}) / (100 % − ${to}) = ${mass(change, us)}` },
    };
  };

  const eachUnit = (grams, units, us) =>
    units === null ? null : `${mass(grams / units, us)} for each of ${counted(units, "unit")}`;

  const wateredResult = (lot, wantedPct, units, us) => {
    const { wetG, waterG, excessG } = calculators.waterToAdd(lot.massG, lot.moisturePct, wantedPct);
    if (excessG > 0) return undefined;
    return {
      number: mass(wetG, us),
      beside: eachUnit(wetG, units, us),
      workings: { wet: `${mass(lot.massG, us)} + ${mass(waterG, us)} = ${mass(wetG, us)}` },
    };
  };

  const drySum = (parts, dryG, us) => {
    const terms = parts.map((part) => `${part.typed} × ${percent(part.dryShare * 100)}`);
    return `${terms.join(" + ")} = ${mass(dryG, us)}`;
  };

  /** ask.parts: the rows of the mix as read, [{name, massG, dryShare, typed, unit}]. */
  const mix = (ask) => {
    const { parts } = ask;
    const [wantedPct, units] = [ask.required("wanted"), ask.optional("units")];
    const lot = calculators.mixed(parts);
    if (!ask.isWhole || lot.moisturePct === null) return {};
    const us = isUs(parts[0].unit);
    const [whole, dry] = [mass(lot.massG, us), mass(lot.dryG, us)];
    const results = {
      moisture: moistureResult(lot.moisturePct, `(${whole} − ${dry}) / ${whole} × 100`),
      dry: { number: dry, beside: eachUnit(lot.dryG, units, us), workings: { dry: drySum(parts, lot.dryG, us) } },
    };
    if (wantedPct === null) return results;
    return { ...results, water: waterResult(lot, wantedPct, us), wet: wateredResult(lot, wantedPct, units, us) };
  };

  // -- moisture and dry mass ---------------------------------------------------------------------------------

  const sample = (ask) => {
    const [wetG, dryG] = [ask.required("wet"), ask.required("dried")];
    if (!known(wetG, dryG)) return {};
    const moisturePct = calculators.moisturePct(wetG, dryG);
    if (moisturePct === null) {
      ask.markError("dried", "the dried sample cannot weigh more than the fresh one: check that they are not swapped");
      return {};
    }
    const [wet, dry] = [ask.typed("wet"), ask.typed("dried")];
    const share = percent((dryG / wetG) * 100);
    return {
      moisture: moistureResult(moisturePct, `(${wet} − ${dry}) / ${wet} × 100`),
      share: { number: share, workings: { share: `${dry} / ${wet} × 100 = ${share}` } },
    };
  };

  const dry = (ask) => {
    const [wetG, moisturePct, units] = [ask.required("wet"), ask.required("moisture"), ask.optional("units")];
    if (!known(wetG, moisturePct)) return {};
    const us = ask.us("wet");
    const dryG = calculators.dryMass(wetG, moisturePct);
    const one = mass(dryG, us);
    const unit = { number: one, workings: { unit: `${ask.typed("wet")} × (100 % − ${ask.typed("moisture")}) = ${one}` } };
    if (units === null) return { unit };
    const all = mass(dryG * units, us);
    return {
      unit,
      all: {
        number: all,
        words: `dry substrate in ${counted(units, "unit")}`,
        workings: { all: `${units} × ${one} = ${all}` },
      },
    };
  };

  // -- yield and spawn ----------------------------------------------------------------------------------

  const efficiency = (ask, key, freshG, dryG, units, words) => {
    const be = percent(calculators.biologicalEfficiencyPct(freshG, dryG * units));
    const over = `(${units} × ${ask.typed("dry")})`;
    return { number: be, words, workings: { [key]: `${ask.typed("fresh")} / ${over} × 100 = ${be}` } };
  };

  const be = (ask) => {
    const [freshG, dryG, units, lost] = [ask.required("fresh"), ask.required("dry"), ask.required("units"), ask.optional("lost") ?? 0];
    if (!known(freshG, dryG, units)) return {};
    if (lost > units) {
      ask.markError("lost", `more units are lost than the ${units} inoculated`);
      return {};
    }
    const words = `BE of the ${counted(units, "unit")} inoculated`;
    const survived = units - lost;
    return {
      inoculated: efficiency(ask, "inoculated", freshG, dryG, units, words),
      survived: survived
        ? efficiency(ask, "survived", freshG, dryG, survived, `BE of the ${counted(survived, "unit")} not lost before the first harvest`)
        : { number: "none", words: "BE of the units not lost before the first harvest: all were lost" },
    };
  };

  const spawnRate = (ask, spawnG, wetG, dryG) => {
    const [wet, typed] = [percent(calculators.spawnRateWetPct(spawnG, wetG)), ask.typed("spawn")];
    const onDry = dryG === null ? null : percent(calculators.spawnRateDryPct(spawnG, dryG));
    return {
      number: wet,
      beside: onDry && `${onDry} on the dry basis`,
      workings: {
        wet: `${typed} / ${ask.typed("wet")} × 100 = ${wet}`,
        dry: onDry && `${typed} / ${ask.typed("dry")} × 100 = ${onDry}`,
      },
    };
  };

  const spawn = (ask) => {
    const [wetG, dryG, ratePct] = [ask.required("wet"), ask.optional("dry"), ask.optional("rate")];
    const spawnG = ratePct === null ? ask.required("spawn") : ask.optional("spawn");
    if (known(wetG, dryG) && dryG > wetG) ask.markError("dry", "the dry mass cannot be more than the wet mass");
    if (wetG === null || ask.errors.length) return {};
    const results = spawnG === null ? {} : { rate: spawnRate(ask, spawnG, wetG, dryG) };
    if (ratePct === null) return results;
    const needed = mass(calculators.spawnForRateG(wetG, ratePct), ask.us("wet"));
    const working = `${ask.typed("wet")} × ${number(ratePct, 2)} / 100 = ${needed}`;
    return { ...results, needed: { number: needed, words: `spawn for ${percent(ratePct)}`, workings: { needed: working } } };
  };

  // -- air ---------------------------------------------------------------------------------------------------

  const dewResult = (tC, rhTyped, saturatedPa, vapourPa, dewC, us) => {
    const dew = temperature(dewC, us);
    const below = `${degrees(tC - dewC, us)} below the air`;
    return {
      number: dew,
      words: dewC > 0 ? "dew point" : "dew point, as frost",
      beside: `${below}: surfaces as cold as that, or colder, get ${dewC > 0 ? "wet" : "frosted"}`,
      workings: { dew: `${rhTyped} × ${pressure(saturatedPa)} = ${pressure(vapourPa)}, which is saturation at ${dew}` },
    };
  };

  const air = (ask) => {
    const [tC, rhPct] = [ask.required("temperature"), ask.required("humidity")];
    if (tC === null) return {};
    const saturatedPa = calculators.saturationPressurePa(tC);
    const over = tC > 0.01 ? "over water" : "over ice, by equation 5";
    const saturation = {
      number: pressure(saturatedPa),
      workings: { saturation: `${over}, T = ${number(tC + 273.15, 2)} K: p = ${pressure(saturatedPa)}` },
    };
    if (rhPct === null) return { saturation };
    const [dewC, typed] = [calculators.dewPointC(tC, rhPct), ask.typed("humidity")];
    const deficit = pressure(calculators.vapourPressureDeficitPa(tC, rhPct));
    const vapourPa = (saturatedPa * rhPct) / 100;
    return {
      saturation,
      dew: dewC === null ? undefined : dewResult(tC, typed, saturatedPa, vapourPa, dewC, ask.us("temperature")),
      deficit: {
        number: deficit,
        workings: { deficit: `${pressure(saturatedPa)} × (1 − ${typed}) = ${deficit}` },
      },
    };
  };

  const volumeResult = (ask, volumeM3) => {
    const us = ask.us("width");
    const sides = ["width", "depth", "height"].map(ask.typed).join(" × ");
    const shown = volume(volumeM3, us);
    const other = us ? volume(volumeM3) : null;
    return { number: shown, beside: other, workings: { volume: `${sides} = ${shown}` } };
  };

  const changesResult = (ask, perHour, working) => {
    const rated = ask.choice("flow_is") === "rated";
    const leaks = "leaks and air through the door are not counted";
    return {
      number: rated ? `at most ${number(perHour)}` : number(perHour),
      beside: rated ? `the rated flow is for free air, so the true value is lower; ${leaks}` : leaks,
      workings: { hour: `${working} = ${number(perHour)} an hour` },
    };
  };

  const runResult = (ask, inOneRun, working) => ({
    number: ask.choice("flow_is") === "rated" ? `at most ${number(inOneRun, 2)}` : number(inOneRun, 2),
    workings: { run: `${working} = ${number(inOneRun, 2)}` },
  });

  const changes = (ask) => {
    const sides = ["width", "depth", "height"].map(ask.required);
    const onCycle = ask.choice("runs") === "cycle";
    const [flowM3H, onMin, everyMin] = [ask.required("flow"), ...["on", "every"].map((name) => (onCycle ? ask.required(name) : 1))];
    if (!known(...sides)) return {};
    const volumeM3 = sides.reduce((product, side) => product * side, 1);
    const results = { volume: volumeResult(ask, volumeM3) };
    if (known(onMin, everyMin) && onMin > everyMin) ask.markError("on", "a run cannot be longer than the time from start to start");
    if (!known(flowM3H, onMin, everyMin) || ask.errors.length) return results;
    const [moved, held] = [flow(flowM3H), volume(volumeM3)];
    const cycle = onCycle ? ` × ${ask.typed("on")} / ${ask.typed("every")}` : "";
    const perHour = calculators.airChanges(volumeM3, flowM3H, onMin, everyMin);
    results.hour = changesResult(ask, perHour, `${moved}${cycle} / ${held}`);
    if (!onCycle) return results;
    const inOneRun = (perHour * everyMin) / 60;
    return { ...results, run: runResult(ask, inOneRun, `${moved} × ${ask.typed("on")} / 60 / ${held}`) };
  };

  // -- heat --------------------------------------------------------------------------------------------------

  const boil = (ask) => {
    const [elevationM, gaugePa] = [ask.required("elevation"), ask.optional("gauge")];
    if (elevationM === null || ask.errors.length) return {};
    const us = ask.us("elevation");
    const boils = temperature(calculators.boilingC(elevationM, 0), us);
    const results = { boils: { number: boils, workings: { boils: `h = ${ask.typed("elevation")}: T = ${boils}` } } };
    if (gaugePa === null) return results;
    const steam = temperature(calculators.boilingC(elevationM, gaugePa), us);
    return { ...results, steam: { number: steam, workings: { steam: `${ask.typed("gauge")} above that of the air: T = ${steam}` } } };
  };

  const f0 = (ask) => {
    const [startC, endC, minutes] = [ask.required("start"), ask.optional("end"), ask.required("minutes")];
    if (!known(startC, minutes) || ask.errors.length) return {};
    const value = calculators.f0Min(startC, endC ?? startC, minutes);
    const shown = (min) => `${number(min, min >= 10 ? 0 : min >= 0.1 ? 1 : 3)} min`;
    const off = 10 ** 0.05; // a probe that is 0.5 °C off
    const path = endC === null ? `T = ${ask.typed("start")}` : `T from ${ask.typed("start")} to ${ask.typed("end")}`;
    return {
      f0: {
        number: shown(value),
        beside: `${shown(value / off)} to ${shown(value * off)} if the probe is ${degrees(0.5, ask.us("start"))} off`,
        workings: { f0: `${path} over ${ask.typed("minutes")}: F₀ = ${shown(value)}` },
      },
    };
  };

  globalThis.journalCalculatorResults = { mix, sample, dry, be, spawn, air, changes, boil, f0 };
})();
