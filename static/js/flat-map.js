/* What a sketch map is drawn from: a flat map about a place, points in clusters, the graticule, round lengths. No page is
   touched here; one global, `journalMap`:

     flatMap(lat, lon)             {metres(lat, lon) -> [east, south], place(east, south) -> [lat, lon]}
     clustered(points, apart)      [{x, y, members}], of points {x, y} in metres
     graticuleOf(flat, lon, view)  {d, lats: [[y, words]], lons: [[x, words]]}; view: {left, top, width, height} in metres
     roundBelow(metres, units)     {metres, words}: a round length that is not longer */
"use strict";

(() => {
  const A_M = 6378137;
  const E2 = (2 - 1 / 298.257223563) / 298.257223563;
  const RAD = Math.PI / 180;

  const normalLon = (lon) => lon - 360 * Math.round(lon / 360);

  const fromAxis = (lat, turn) => {
    const normal = A_M / Math.sqrt(1 - E2 * Math.sin(lat) ** 2);
    return [normal * Math.cos(lat) * Math.cos(turn), normal * Math.cos(lat) * Math.sin(turn), normal * (1 - E2) * Math.sin(lat)];
  };

  /** The flat map about a place, as journal/geo/flat_map.py has it: `metres` east and south of it, and back. */
  const flatMap = (lat0, lon0) => {
    const lat = lat0 * RAD;
    const radius = (A_M * Math.sqrt(1 - E2)) / (1 - E2 * Math.sin(lat) ** 2);
    const [x0, , z0] = fromAxis(lat, 0);
    const metres = (toLat, toLon) => {
      const [x, y, z] = fromAxis(toLat * RAD, (toLon - lon0) * RAD);
      const north = (z - z0) * Math.cos(lat) - (x - x0) * Math.sin(lat);
      const up = (z - z0) * Math.sin(lat) + (x - x0) * Math.cos(lat);
      const level = Math.hypot(y, north);
      if (level < 1e-9) return [0, Math.abs(up) < 1 ? 0 : Math.PI * radius];
      const arc = 2 * radius * Math.asin(Math.min(1, Math.hypot(level, up) / (2 * radius)));
      return [(y / level) * arc, (-north / level) * arc];
    };
    const place = (east, south) => {
      const away = Math.hypot(east, south);
      if (!away) return [lat0, lon0];
      const [c, toNorth, toEast] = [away / radius, -south / away, east / away];
      const sine = Math.sin(lat) * Math.cos(c) + Math.cos(lat) * Math.sin(c) * toNorth;
      const turn = Math.atan2(toEast * Math.sin(c), Math.cos(lat) * Math.cos(c) - toNorth * Math.sin(lat) * Math.sin(c));
      return [Math.asin(Math.max(-1, Math.min(1, sine))) / RAD, normalLon(lon0 + turn / RAD)];
    };
    return { metres, place };
  };

  /** Points in groups, as `clustered` in journal/site/charts/sketch_map.py has them: [{x, y, members}]. */
  const clustered = (points, apart) => {
    const cells = new Map();
    const keyOf = (column, row) => `${column} ${row}`;
    points.forEach(({ x, y }, at) => {
      const key = keyOf(Math.floor(x / apart), Math.floor(y / apart));
      if (!cells.has(key)) cells.set(key, []);
      cells.get(key).push(at);
    });
    const isTaken = new Uint8Array(points.length);
    const found = [];
    points.forEach(({ x, y }, at) => {
      if (isTaken[at]) return;
      const members = [];
      const [column, row] = [Math.floor(x / apart), Math.floor(y / apart)];
      for (const dx of [-1, 0, 1]) {
        for (const dy of [-1, 0, 1]) {
          const key = keyOf(column + dx, row + dy);
          const here = cells.get(key);
          if (!here) continue;
          const left = [];
          for (const i of here) (Math.hypot(points[i].x - x, points[i].y - y) < apart ? members : left).push(i);
          cells.set(key, left);
        }
      }
      let [sumX, sumY] = [0, 0];
      for (const i of members) {
        isTaken[i] = 1;
        sumX += points[i].x;
        sumY += points[i].y;
      }
      members.sort((a, b) => a - b);
      found.push({ x: sumX / members.length, y: sumY / members.length, members });
    });
    return found;
  };

  const UNITS = { metric: [1, 1000, "m", "km"], us: [0.3048, 1609.344, "ft", "mi"] };

  /** The longest of 1, 2, 5 times a power of ten that is not longer than this: {metres, words}. */
  const roundBelow = (lengthM, units) => {
    const [smallM, largeM, small, large] = UNITS[units];
    const isLarge = lengthM >= largeM;
    const unitM = isLarge ? largeM : smallM;
    const power = 10 ** Math.floor(Math.log10(lengthM / unitM));
    const times = [5, 2, 1].find((one) => power * one <= (lengthM / unitM) * (1 + 1e-9));
    const count = Number((power * times).toPrecision(1));
    return { metres: unitM * count, words: `${count} ${isLarge ? large : small}` };
  };

  const STEPS = [30, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 5e-4, 2e-4, 1e-4, 5e-5, 2e-5, 1e-5, 5e-6];
  const stepOf = (span) => STEPS.find((step) => span / step >= 2) ?? STEPS.at(-1);

  const degreesWords = (value, step) => {
    const text = value.toFixed(Math.max(0, Math.ceil(-Math.log10(step) - 1e-9)));
    return `${Number(text) === 0 || value === -180 ? text.replace("-", "") : text.replace("-", "−")}°`;
  };

  /** The graticule of a view and of as much again on each side of it: a path, and its numbers with the metres at which
      their lines meet the left edge (lats) and the lower one (lons). */
  const graticuleOf = (flat, centreLon, seen) => {
    const [width, height] = [seen.width * 3, seen.height * 3];
    const [left, top] = [seen.left - seen.width, seen.top - seen.height];
    const found = { d: "", lats: [], lons: [] };
    if (width > 24e6) return found;
    const lats = [];
    const turns = [];
    for (let at = 0; at <= 8; at += 1) {
      const [x, y] = [left + (width * (at * 1.06 - 0.24)) / 8, top + (height * (at * 1.06 - 0.24)) / 8];
      const edges = [[x, top - height * 0.03], [x, top + height * 1.03], [left - width * 0.03, y], [left + width * 1.03, y]];
      for (const edge of edges) {
        const [lat, lon] = flat.place(...edge);
        lats.push(lat);
        turns.push(normalLon(lon - centreLon));
      }
    }
    const holds = ([x, y]) => x >= left && x <= left + width && y >= top && y <= top + height;
    const poles = [-90, 90].filter((pole) => holds(flat.metres(pole, 0)));
    const [south, north] = [Math.min(...lats, ...poles), Math.max(...lats, ...poles)];
    const isRound = poles.length > 0;
    const west = isRound ? -180 : centreLon + Math.min(...turns);
    const east = isRound ? 180 : centreLon + Math.max(...turns);
    const latStep = stepOf(seen.height / 111320);
    const lonStep = stepOf(Math.min(180, seen.width / 111320 / Math.max(0.001, Math.cos(((south + north) / 2) * RAD))));
    const pieces = isRound ? 36 : width < 5000 ? 1 : 8;
    const draw = (from, to, edge, axis, met) => {
      let before = null;
      for (let at = 0; at <= pieces; at += 1) {
        const point = flat.metres(...[0, 1].map((i) => from[i] + ((to[i] - from[i]) * at) / pieces));
        found.d += `${before ? "L" : "M"}${point[0].toFixed(1)} ${point[1].toFixed(1)}`;
        if (before && (before[axis] - edge) * (point[axis] - edge) <= 0 && before[axis] !== point[axis]) {
          const share = (edge - before[axis]) / (point[axis] - before[axis]);
          met(before[1 - axis] + share * (point[1 - axis] - before[1 - axis]));
        }
        before = point;
      }
    };
    for (let n = Math.ceil(south / latStep); n * latStep <= north; n += 1) {
      const lat = Number((n * latStep).toFixed(6));
      draw([lat, west], [lat, east], seen.left, 0, (y) => found.lats.push([y, degreesWords(lat, latStep)]));
    }
    for (let n = Math.ceil(west / lonStep); n * lonStep <= east - (isRound ? lonStep / 2 : 0); n += 1) {
      const lon = Number((n * lonStep).toFixed(6));
      const words = degreesWords(normalLon(lon), lonStep);
      draw([south, lon], [north, lon], seen.top + seen.height, 1, (x) => found.lons.push([x, words]));
    }
    return found;
  };

  globalThis.journalMap = { flatMap, clustered, graticuleOf, roundBelow };
})();
