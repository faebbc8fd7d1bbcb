/* Draws a sketch map anew for the screen it is on, and lets it be moved and enlarged: by dragging and pinching, by the
   wheel, by keys and by buttons. Without this script the map in the page stands as it is.

   Hooks
     [data-map]                     a figure with an svg.map as templates/parts/map.html makes it
       data-view="L T W H"            what is drawn at first, in metres east and south of the centre
       data-centre="58.3 -8.9"        the centre's latitude and longitude
       data-units="metric"            or "us"
     [data-at="58.3 -8.9 8"]        the same of rows in folded parts of the list, with latitude and longitude; they are read
                                    when the map is near the screen
     [data-point="X Y R"]           rows of a list beside it, one a point: metres east and south, radius of the uncertainty
                                    (0: not known), and `area` where only an area is told. A row that is chosen on the map
                                    is shown under it
   The canvas that it draws on has `shown`: {x, y, scale, marks, names}, the middle in metres, px a metre, the marks
   in px, and of each name that is there its words and its box.
   Only what is in view is drawn, and points that lie close together are one mark with their number, so that some
   thousands can be moved in every frame. What it is drawn from is in flat-map.js, its buttons, keys and gestures are in map-controls.js. */
"use strict";

(() => {
  const APART_PX = 40;
  const LEAST_CIRCLE_PX = 9;
  const MOST_PX_PER_M = 40;
  const CLEAR_PX = 18; // half of the room that a mark takes
  const MOST_NAMES = 40;
  const { flatMap, clustered, graticuleOf, roundBelow } = globalThis.journalMap;
  const { buttonsOf, listen } = globalThis.journalMapControls;

  // -- what is drawn -------------------------------------------------------------------------------------------
  const COLOURS = ["card", "ink", "soft", "line", "air", "buff", "rust", "paper"];

  /** The page's own colours and face, as its theme has them now. */
  const styleOf = (figure) => {
    const style = getComputedStyle(figure);
    const colours = COLOURS.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]);
    return { ...Object.fromEntries(colours), face: style.fontFamily };
  };

  const dot = (pen, x, y, radius) => {
    pen.beginPath();
    pen.arc(x, y, radius, 0, 2 * Math.PI);
  };

  /** What is to scale: the author's own map, the graticule, tracks. */
  const paintGround = (pen, style, map, view, dots) => {
    const perPx = 1 / view.scale;
    pen.setTransform(dots * view.scale, 0, 0, dots * view.scale, -view.left * view.scale * dots, -view.top * view.scale * dots);
    if (map.beneath?.complete) {
      pen.save();
      pen.transform(...map.matrix);
      pen.globalAlpha = 0.6;
      pen.drawImage(map.beneath, 0, 0, map.size[0], map.size[1]);
      pen.restore();
    }
    pen.strokeStyle = style.line;
    pen.lineWidth = perPx;
    pen.stroke(map.graticule.path);
    if (map.tracks) {
      pen.strokeStyle = style.air;
      pen.lineWidth = 2 * perPx;
      pen.setLineDash([5 * perPx, 3 * perPx]);
      pen.stroke(map.tracks);
      pen.setLineDash([]);
    }
    pen.setTransform(dots, 0, 0, dots, 0, 0);
  };

  const paintMarks = (pen, style, points, marks, scale) => {
    pen.fillStyle = style.buff;
    pen.strokeStyle = style.rust;
    pen.lineWidth = 1;
    for (const { x, y, members } of marks) {
      const radius = members.length === 1 ? points[members[0]].radius * scale : 0;
      if (radius < LEAST_CIRCLE_PX) continue;
      dot(pen, x, y, radius);
      pen.globalAlpha = 0.28;
      pen.fill();
      pen.globalAlpha = 1;
      pen.stroke();
    }
    pen.textAlign = "center";
    pen.font = `600 14px ${style.face}`;
    for (const { x, y, members } of marks) {
      const { isArea } = points[members[0]];
      const count = members.length;
      dot(pen, x, y, count === 1 ? 6 : Math.min(20, 11 + 3 * Math.log10(count)));
      pen.lineWidth = 2;
      if (count === 1 && isArea) {
        pen.strokeStyle = style.rust;
        pen.stroke();
        continue;
      }
      pen.fillStyle = count === 1 ? style.rust : style.ink;
      pen.strokeStyle = style.card;
      pen.fill();
      pen.stroke();
      pen.fillStyle = style.paper;
      if (count > 1) pen.fillText(String(count), x, y + 5);
    }
  };

  /** What is in a gutter: texts at their places, as many as there are. */
  const setTexts = (svg, rows) => {
    while (svg.childElementCount > rows.length) svg.lastElementChild.remove();
    while (svg.childElementCount < rows.length) svg.append(document.createElementNS("http://www.w3.org/2000/svg", "text"));
    rows.forEach(([words, place], at) => {
      const text = svg.children[at];
      for (const [name, value] of Object.entries(place)) text.setAttribute(name, value);
      if (text.textContent !== words) text.textContent = words;
    });
  };

  /** Where a name may stand, by the px from its point to its middle and its baseline; the nearest first. */
  const beside = (half) => [22, 36, 52].flatMap((away) => [
    [0, -away], [0, away + 12], [half + away, 5], [-half - away, 5],
    [half + 4, -away], [-half - 4, -away], [half + 4, away + 12], [-half - 4, away + 12],
  ]); // prettier-ignore

  const start = (figure) => {
    const svg = figure.querySelector("svg.map");
    const rows = [...document.querySelectorAll("[data-point]")];
    const pointOf = ([x, y, radius, area]) => ({ x: Number(x), y: Number(y), radius: Number(radius), isArea: area === "area" });
    const points = rows.map((row) => pointOf(row.dataset.point.split(" ")));
    const hasFolds = Boolean(document.querySelector("details.fold")) && Boolean(globalThis.journalFolds);
    if (points.length === 0 && !hasFolds) return;
    const [left0, top0, width0, height0] = figure.dataset.view.split(" ").map(Number);
    const [lat0, lon0] = figure.dataset.centre.split(" ").map(Number);
    const flat = flatMap(lat0, lon0);
    const canvas = document.createElement("canvas");
    const pen = canvas.getContext("2d", { alpha: false });
    const names = [...svg.querySelectorAll(".names text")].map((text) => {
      const [x, y] = text.dataset.at.split(" ").map(Number);
      return { words: text.textContent, x, y, half: undefined, beside: null };
    });
    const gutters = { lats: figure.querySelector(".lats"), lons: figure.querySelector(".lons"), foot: figure.querySelector(".map-foot") };
    const track = svg.querySelector(".track");
    const image = svg.querySelector("image");
    const map = { graticule: null, tracks: track && new Path2D(track.getAttribute("d")), beneath: null };
    const state = { x: left0 + width0 / 2, y: top0 + height0 / 2, scale: 1, width: 0, height: 0, fits: 1, marks: [], names: [] };
    const levels = new Map();
    let style = styleOf(figure);
    let waiting = false;
    let namedAtScale = null; // the scale at which names were last found room for

    const clustersNow = () => {
      const level = Math.round(Math.log2(APART_PX / state.scale));
      if (!levels.has(level)) levels.set(level, clustered(points, 2 ** level));
      return levels.get(level);
    };

    /** The marks that are in view, in px. */
    const marksIn = (view) => {
      const found = [];
      for (const { x, y, members } of clustersNow()) {
        const [px, py] = [(x - view.left) * view.scale, (y - view.top) * view.scale];
        const out = Math.max(30, members.length === 1 ? points[members[0]].radius * view.scale : 0);
        if (px > -out && px < state.width + out && py > -out && py < state.height + out) found.push({ x: px, y: py, members });
      }
      return found;
    };

    /** Whether a name's box is clear of tracks, marks and names. box: left, top, right, bottom in px; places: of marks. */
    const isClear = (box, taken, places, view, dots) => {
      const [left, top, right, foot] = box;
      if (taken.some(([l, t, r, f]) => left < r && l < right && top < f && t < foot)) return false;
      if (places.some(([x, y]) => left < x + CLEAR_PX && x - CLEAR_PX < right && top < y + CLEAR_PX && y - CLEAR_PX < foot)) return false;
      if (!map.tracks) return true;
      pen.setTransform(dots * view.scale, 0, 0, dots * view.scale, -view.left * view.scale * dots, -view.top * view.scale * dots);
      pen.lineWidth = 8 / view.scale;
      const across = Array.from({ length: Math.ceil((right - left) / 5) + 1 }, (_, at) => Math.min(right, left + at * 5));
      const isCrossed = across.some((x) => [top, (top + foot) / 2, foot].some((y) => pen.isPointInStroke(map.tracks, x * dots, y * dots)));
      pen.setTransform(dots, 0, 0, dots, 0, 0);
      return !isCrossed;
    };

    /** The px of a name's point, and the box of the name at one of the places beside it. */
    const pointOfName = ({ x, y }, view) => [(x - view.left) * view.scale, (y - view.top) * view.scale];
    const boxOf = (name, [dx, dy], view) => {
      const [x, y] = pointOfName(name, view);
      return [x + dx - name.half, y + dy - 13, x + dx + name.half, y + dy + 5];
    };
    const isWhole = ([left, top, right, foot]) => left >= 0 && top >= 1 && right <= state.width && foot <= state.height;

    /** Finds where a name stands beside its point, whole in the view if it can be; none where there is no room. */
    const placeName = (name, taken, view, dots) => {
      const places = clustersNow().map(({ x, y }) => [(x - view.left) * view.scale, (y - view.top) * view.scale]);
      const clear = beside(name.half).filter((one) => isClear(boxOf(name, one, view), taken, places, view, dots));
      name.beside = clear.find((one) => isWhole(boxOf(name, one, view))) ?? clear[0] ?? null;
    };

    /** Where the names stand is found anew for each scale; while the map is moved, only of a name that would be cut. */
    const placeNames = (view, dots) => {
      const isNew = namedAtScale !== view.scale;
      namedAtScale = view.scale;
      const some = names.slice(0, MOST_NAMES);
      const boxes = new Map(isNew ? [] : some.filter((name) => name.beside).map((name) => [name, boxOf(name, name.beside, view)]));
      for (const name of some) {
        const [x, y] = pointOfName(name, view);
        const isThere = x > 0 && y > 0 && x < state.width && y < state.height;
        if (!isNew && !(isThere && boxes.has(name) && !isWhole(boxes.get(name)))) continue;
        boxes.delete(name);
        placeName(name, [...boxes.values()], view, dots);
        if (name.beside) boxes.set(name, boxOf(name, name.beside, view));
      }
    };

    const paintNames = (view, dots) => {
      pen.textAlign = "center";
      pen.font = `14px ${style.face}`;
      for (const name of names) name.half ??= pen.measureText(name.words).width / 2 + 3;
      placeNames(view, dots);
      state.names = [];
      for (const name of names) {
        const box = name.beside && boxOf(name, name.beside, view);
        if (!box || !isWhole(box)) continue; // it would be cut
        const [left, top, right] = box;
        state.names.push([name.words, ...box]);
        pen.fillStyle = style.card;
        pen.fillRect(left, top, right - left, 18);
        pen.fillStyle = style.ink;
        pen.fillText(name.words, (left + right) / 2, top + 13);
      }
    };

    /** Degrees, scale and north, in the gutters beside and under the map. */
    const setGutters = (view) => {
      const lats = map.graticule.lats.map(([y, words]) => [words, (y - view.top) * view.scale]);
      setTexts(gutters.lats, lats.filter(([, y]) => y > 4 && y < state.height - 4).map(([words, y]) => [words, { x: "100%", y, dx: -6, dy: 4 }]));
      let taken = -60;
      const lons = map.graticule.lons.map(([x, words]) => [words, (x - view.left) * view.scale]).filter(([words, x]) => {
        const half = words.length * 3.5;
        const fits = x > 0 && x + half <= state.width && x - half >= taken;
        if (fits) taken = x + half + 4;
        return fits;
      });
      setTexts(gutters.lons, lons.map(([words, x]) => [words, { x, y: 14 }]));
      const { metres, words } = roundBelow(view.width / 3, figure.dataset.units);
      const start = state.width * 0.03;
      const [line, text] = [gutters.foot.querySelector("line"), gutters.foot.querySelector(".scale")];
      line.setAttribute("x2", start + metres * view.scale);
      text.setAttribute("x", start + metres * view.scale);
      if (text.textContent !== words) text.textContent = words;
    };

    const renewGraticule = (view) => {
      const of = map.graticule?.view;
      const isNear = of && of.scale === view.scale && of.width === view.width &&
        Math.abs(of.left - view.left) < view.width / 2 && Math.abs(of.top - view.top) < view.height / 2;
      if (isNear) return;
      const { d, lats, lons } = graticuleOf(flat, lon0, view);
      map.graticule = { view, path: new Path2D(d), lats, lons };
    };

    const draw = () => {
      waiting = false;
      const { scale } = state;
      const view = { scale, width: state.width / scale, height: state.height / scale };
      view.left = state.x - view.width / 2;
      view.top = state.y - view.height / 2;
      renewGraticule(view);
      pen.setTransform(1, 0, 0, 1, 0, 0);
      pen.fillStyle = style.card;
      pen.fillRect(0, 0, canvas.width, canvas.height);
      paintGround(pen, style, map, view, canvas.width / state.width);
      state.marks = marksIn(view);
      paintMarks(pen, style, points, state.marks, scale);
      paintNames(view, canvas.width / state.width);
      setGutters(view);
    };

    const changed = () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(draw);
    };

    // -- moving it -------------------------------------------------------------------------------------------
    const moveBy = (px, py) => {
      state.x -= px / state.scale;
      state.y -= py / state.scale;
      changed();
    };

    /** Enlarges about a point of the screen that stays where it is. */
    const enlarge = (times, px = state.width / 2, py = state.height / 2) => {
      const scale = Math.max(state.fits / 4, Math.min(MOST_PX_PER_M, state.scale * times));
      const [dx, dy] = [px - state.width / 2, py - state.height / 2];
      state.x += dx / state.scale - dx / scale;
      state.y += dy / state.scale - dy / scale;
      state.scale = scale;
      changed();
    };

    const showAll = () => {
      Object.assign(state, { x: left0 + width0 / 2, y: top0 + height0 / 2, scale: state.fits });
      changed();
    };

    const show = (members) => {
      const [xs, ys] = [members.map((i) => points[i].x), members.map((i) => points[i].y)];
      const [wide, high] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
      const scale = Math.min(MOST_PX_PER_M, 0.6 * Math.min(state.width / (wide || 1e-9), state.height / (high || 1e-9)));
      if (members.length === 1 || Math.max(wide, high) * MOST_PX_PER_M < APART_PX) return listMembers(members);
      Object.assign(state, { x: Math.min(...xs) + wide / 2, y: Math.min(...ys) + high / 2, scale: Math.max(scale, state.scale * 1.5) });
      return changed();
    };

    const memberList = document.createElement("div");
    const listMembers = (members) => {
      const copies = members.slice(0, 12).map((i) => {
        const copy = rows[i].cloneNode(true);
        copy.removeAttribute("data-point");
        return copy;
      });
      const list = document.createElement("ul");
      list.className = "rows";
      list.append(...copies);
      memberList.replaceChildren(list);
      if (members.length > 12) memberList.append(Object.assign(document.createElement("p"), { textContent: `and ${members.length - 12} more at the same place, in the list` }));
    };

    const nearest = (px, py) => {
      const away = ({ x, y }) => Math.hypot(x - px, y - py);
      const found = state.marks.reduce((best, mark) => (!best || away(mark) < away(best) ? mark : best), null);
      return found && away(found) <= 24 ? found.members : null;
    };

    canvas.className = "map";
    canvas.shown = state;
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "application");
    canvas.setAttribute("aria-label", svg.querySelector("title").textContent);
    svg.setAttribute("hidden", "");
    svg.before(canvas);
    figure.classList.add("moves");
    listen(canvas, { moveBy, enlarge, showAll, show, nearest });
    const hint = document.createElement("p");
    hint.className = "soft";
    hint.textContent = "Drag it, or use the arrow keys. Enlarge it with two fingers, with + and −, or with the wheel once you have clicked on it.";
    figure.append(buttonsOf({ enlarge, showAll }), memberList, hint);
    memberList.className = "map-told";
    memberList.setAttribute("role", "status");

    if (image) {
      map.beneath = new Image();
      map.beneath.addEventListener("load", changed);
      map.beneath.src = image.getAttribute("href");
      map.size = ["width", "height"].map((name) => Number(image.getAttribute(name)));
      map.matrix = image.getAttribute("transform").match(/-?[\d.]+(?:e-?\d+)?/g).map(Number);
    }
    /** The points of the folded parts too. */
    const addFolded = async () => {
      const folded = (await globalThis.journalFolds.all()).filter((row) => row.dataset.at);
      for (const row of folded) {
        const [lat, lon, ...rest] = row.dataset.at.split(" ");
        points.push(pointOf([...flat.metres(Number(lat), Number(lon)), ...rest]));
        rows.push(row);
      }
      levels.clear();
      changed();
    };
    if (hasFolds) {
      const watch = new IntersectionObserver(([seen]) => {
        if (!seen.isIntersecting) return;
        watch.disconnect();
        addFolded();
      }, { rootMargin: "600px" });
      watch.observe(figure);
    }

    const again = () => {
      style = styleOf(figure);
      changed();
    };
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
    new MutationObserver(again).observe(document.documentElement, { attributeFilter: ["data-theme"] });
    new ResizeObserver(() => {
      const box = canvas.getBoundingClientRect();
      const before = state.fits;
      const dots = Math.min(2, devicePixelRatio);
      Object.assign(state, { width: box.width, height: box.height, fits: box.width / width0 });
      Object.assign(canvas, { width: Math.round(box.width * dots), height: Math.round(box.height * dots) });
      state.scale *= state.fits / before;
      changed();
    }).observe(canvas);
  };

  for (const figure of document.querySelectorAll("[data-map]")) start(figure);
})();
