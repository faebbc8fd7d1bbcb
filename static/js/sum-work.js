/* Each sum of the page worked: what it takes from its form, what it gives, and its formulas with the numbers put in.
   No hooks: `journalSumWork` on the global object; the keys are those of journal/site/pages/sum_sheets.py. */
"use strict";

(() => {
  const sums = globalThis.journalSums;
  const { number, percent, mass, temperature, degrees, volume, flow, pressure, isUs } = globalThis.journalAmounts;

  const known = (...values) => values.every((value) => value !== null);
  const counted = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;

  const moistureResult = (moisturePct, wetSays) => {
    const dryBasis = sums.dryBasisPct(moisturePct);
    return {
      number: percent(moisturePct),
      words: "moisture, wet basis",
      beside: dryBasis === null ? null : `${percent(dryBasis)} on the dry basis`,
      workings: {
        wet: `${wetSays} = ${percent(moisturePct)}`,
        dry: dryBasis === null ? null : `${percent(moisturePct)} / (100 − ${number(moisturePct)}) × 100 = ${percent(dryBasis)}`,
      },
    };
  };

  // -- a mix -------------------------------------------------------------------------------------------------

  const waterResult = (lot, wantedPct, us) => {
    const watered = sums.waterToAdd(lot.massG, lot.moisturePct, wantedPct);
    const [to, now] = [percent(wantedPct), percent(lot.moisturePct)];
    const change = watered.waterG - watered.excessG;
    const tooWet = watered.excessG > 0;
    return {
      number: mass(Math.abs(change), us),
      words: tooWet ? `of water too much for ${to}` : `of water to add for ${to}`,
      beside: tooWet ? "let it drain or dry, or add what is dry" : null,
      workings: { water: `${mass(lot.massG, us)} × (${to} − ${now}) / (100 % − ${to}) = ${mass(change, us)}` },
    };
  };

  const eachUnit = (grams, units, us) =>
    units === null ? null : `${mass(grams / units, us)} a unit, of ${counted(units, "unit")}`;

  const wateredResult = (lot, wantedPct, units, us) => {
    const { wetG, waterG, excessG } = sums.waterToAdd(lot.massG, lot.moisturePct, wantedPct);
    if (excessG > 0) return undefined;
    return {
      number: mass(wetG, us),
      beside: eachUnit(wetG, units, us),
      workings: { wet: `${mass(lot.massG, us)} + ${mass(waterG, us)} = ${mass(wetG, us)}` },
    };
  };

  const drySum = (parts, dryG, us) => {
    const terms = parts.map((part) => `${part.said} × ${percent(part.dryShare * 100)}`);
    return `${terms.join(" + ")} = ${mass(dryG, us)}`;
  };

  /** ask.parts: the rows of the mix as read, [{name, massG, dryShare, said, unit}]. */
  const mix = (ask) => {
    const { parts } = ask;
    const [wantedPct, units] = [ask.need("wanted"), ask.may("units")];
    const lot = sums.mixed(parts);
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
    const [wetG, dryG] = [ask.need("wet"), ask.need("dried")];
    if (!known(wetG, dryG)) return {};
    const moisturePct = sums.moisturePct(wetG, dryG);
    if (moisturePct === null) {
      ask.mend("dried", "nothing weighs more dried than before, so look which is which");
      return {};
    }
    const [wet, dry] = [ask.said("wet"), ask.said("dried")];
    const share = percent((dryG / wetG) * 100);
    return {
      moisture: moistureResult(moisturePct, `(${wet} − ${dry}) / ${wet} × 100`),
      share: { number: share, workings: { share: `${dry} / ${wet} × 100 = ${share}` } },
    };
  };

  const dry = (ask) => {
    const [wetG, moisturePct, units] = [ask.need("wet"), ask.need("moisture"), ask.may("units")];
    if (!known(wetG, moisturePct)) return {};
    const us = ask.us("wet");
    const dryG = sums.dryMass(wetG, moisturePct);
    const one = mass(dryG, us);
    const unit = { number: one, workings: { unit: `${ask.said("wet")} × (100 % − ${ask.said("moisture")}) = ${one}` } };
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

  // -- what it gave, what went in ----------------------------------------------------------------------------

  const efficiency = (ask, key, freshG, dryG, units, words) => {
    const be = percent(sums.biologicalEfficiencyPct(freshG, dryG * units));
    const over = `(${units} × ${ask.said("dry")})`;
    return { number: be, words, workings: { [key]: `${ask.said("fresh")} / ${over} × 100 = ${be}` } };
  };

  const be = (ask) => {
    const [freshG, dryG, units, lost] = [ask.need("fresh"), ask.need("dry"), ask.need("units"), ask.may("lost") ?? 0];
    if (!known(freshG, dryG, units)) return {};
    if (lost > units) {
      ask.mend("lost", `no more can be lost than the ${units} begun`);
      return {};
    }
    const begun = `BE of the ${counted(units, "unit")} begun`;
    const lived = units - lost;
    return {
      begun: efficiency(ask, "begun", freshG, dryG, units, begun),
      lived: lived
        ? efficiency(ask, "lived", freshG, dryG, lived, `BE of the ${counted(lived, "unit")} that lived`)
        : { number: "–", words: "BE of the units that lived: none did" },
    };
  };

  const spawnRate = (ask, spawnG, wetG, dryG) => {
    const [wet, said] = [percent(sums.spawnRateWetPct(spawnG, wetG)), ask.said("spawn")];
    const onDry = dryG === null ? null : percent(sums.spawnRateDryPct(spawnG, dryG));
    return {
      number: wet,
      beside: onDry && `${onDry} on the dry basis`,
      workings: {
        wet: `${said} / ${ask.said("wet")} × 100 = ${wet}`,
        dry: onDry && `${said} / ${ask.said("dry")} × 100 = ${onDry}`,
      },
    };
  };

  const spawn = (ask) => {
    const [wetG, dryG, ratePct] = [ask.need("wet"), ask.may("dry"), ask.may("rate")];
    const spawnG = ratePct === null ? ask.need("spawn") : ask.may("spawn");
    if (known(wetG, dryG) && dryG > wetG) ask.mend("dry", "there is no more dry substance than wet substrate");
    if (wetG === null || ask.faults.length) return {};
    const results = spawnG === null ? {} : { rate: spawnRate(ask, spawnG, wetG, dryG) };
    if (ratePct === null) return results;
    const needed = mass(sums.spawnForRateG(wetG, ratePct), ask.us("wet"));
    const says = `${ask.said("wet")} × ${number(ratePct, 2)} / 100 = ${needed}`;
    return { ...results, needed: { number: needed, words: `of spawn for ${percent(ratePct)}`, workings: { needed: says } } };
  };

  // -- air ---------------------------------------------------------------------------------------------------

  const dewResult = (tC, rhSays, saturatedPa, heldPa, dewC, us) => {
    const dew = temperature(dewC, us);
    const below = `${degrees(tC - dewC, us)} below the air`;
    return {
      number: dew,
      words: dewC > 0 ? "dew point" : "dew point, as frost",
      beside: `${below}: what is as cold as that, or colder, gets ${dewC > 0 ? "wet" : "frosted"}`,
      workings: { dew: `${rhSays} × ${pressure(saturatedPa)} = ${pressure(heldPa)}, which saturates air of ${dew}` },
    };
  };

  const air = (ask) => {
    const [tC, rhPct] = [ask.need("temperature"), ask.need("humidity")];
    if (tC === null) return {};
    const saturatedPa = sums.saturationPressurePa(tC);
    const over = tC > 0.01 ? "over water" : "over ice, by equation 5";
    const saturation = {
      number: pressure(saturatedPa),
      workings: { saturation: `${over}, T = ${number(tC + 273.15, 2)} K: p = ${pressure(saturatedPa)}` },
    };
    if (rhPct === null) return { saturation };
    const [dewC, said] = [sums.dewPointC(tC, rhPct), ask.said("humidity")];
    const deficit = pressure(sums.vapourPressureDeficitPa(tC, rhPct));
    const heldPa = (saturatedPa * rhPct) / 100;
    return {
      saturation,
      dew: dewC === null ? undefined : dewResult(tC, said, saturatedPa, heldPa, dewC, ask.us("temperature")),
      deficit: {
        number: deficit,
        workings: { deficit: `${pressure(saturatedPa)} × (1 − ${said}) = ${deficit}` },
      },
    };
  };

  const volumeResult = (ask, volumeM3) => {
    const us = ask.us("width");
    const sides = ["width", "depth", "height"].map(ask.said).join(" × ");
    const shown = volume(volumeM3, us);
    const other = us ? volume(volumeM3) : null;
    return { number: shown, beside: other, workings: { volume: `${sides} = ${shown}` } };
  };

  const changesResult = (ask, perHour, says) => {
    const rated = ask.choice("flow_is") === "rated";
    const leaks = "what leaks, and what comes in by the door, is not counted";
    return {
      number: rated ? `at most ${number(perHour)}` : number(perHour),
      beside: rated ? `the rated flow is free air, so it is no more than this; ${leaks}` : leaks,
      workings: { hour: `${says} = ${number(perHour)} an hour` },
    };
  };

  const runResult = (ask, inOneRun, says) => ({
    number: ask.choice("flow_is") === "rated" ? `at most ${number(inOneRun, 2)}` : number(inOneRun, 2),
    workings: { run: `${says} = ${number(inOneRun, 2)}` },
  });

  const changes = (ask) => {
    const sides = ["width", "depth", "height"].map(ask.need);
    const onCycle = ask.choice("runs") === "cycle";
    const [flowM3H, onMin, everyMin] = [ask.need("flow"), ...["on", "every"].map((name) => (onCycle ? ask.need(name) : 1))];
    if (!known(...sides)) return {};
    const volumeM3 = sides.reduce((product, side) => product * side, 1);
    const results = { volume: volumeResult(ask, volumeM3) };
    if (known(onMin, everyMin) && onMin > everyMin) ask.mend("on", "no run is longer than from start to start");
    if (!known(flowM3H, onMin, everyMin) || ask.faults.length) return results;
    const [moved, held] = [flow(flowM3H), volume(volumeM3)];
    const cycle = onCycle ? ` × ${ask.said("on")} / ${ask.said("every")}` : "";
    const perHour = sums.airChanges(volumeM3, flowM3H, onMin, everyMin);
    results.hour = changesResult(ask, perHour, `${moved}${cycle} / ${held}`);
    if (!onCycle) return results;
    const inOneRun = (perHour * everyMin) / 60;
    return { ...results, run: runResult(ask, inOneRun, `${moved} × ${ask.said("on")} / 60 / ${held}`) };
  };

  globalThis.journalSumWork = { mix, sample, dry, be, spawn, air, changes };
})();
