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
   The canvas that it draws on has `shown`: {x, y, scale, marks}, the middle in metres, px a metre, and the marks in px.
   Only what is in view is drawn, and points that lie close together are one mark with their number, so that some
   thousands can be moved in every frame. What it is drawn from is in flat-map.js. */
"use strict";

(() => {
  const APART_PX = 40;
  const LEAST_CIRCLE_PX = 9;
  const MOST_PX_PER_M = 40;
  const { flatMap, clustered, graticuleOf, roundBelow } = globalThis.journalMap;

  // -- what is drawn -------------------------------------------------------------------------------------------
  const COLOURS = ["card", "ink", "soft", "line", "air", "buff", "rust", "paper"];

  /** The page's own colours and face, as its theme has them now. */
  const lookOf = (figure) => {
    const style = getComputedStyle(figure);
    const colours = COLOURS.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]);
    return { ...Object.fromEntries(colours), face: style.fontFamily };
  };

  const dot = (pen, x, y, radius) => {
    pen.beginPath();
    pen.arc(x, y, radius, 0, 2 * Math.PI);
  };

  /** A text with a rim in the colour of the ground, so that it can be read over lines. */
  const write = (pen, look, words, x, y, colour) => {
    pen.strokeStyle = look.card;
    pen.lineWidth = 3;
    pen.strokeText(words, x, y);
    pen.fillStyle = colour;
    pen.fillText(words, x, y);
  };

  /** What is to scale: the author's own map, the graticule, tracks. */
  const paintGround = (pen, look, map, view, dots) => {
    const perPx = 1 / view.scale;
    pen.setTransform(dots * view.scale, 0, 0, dots * view.scale, -view.left * view.scale * dots, -view.top * view.scale * dots);
    if (map.beneath?.complete) {
      pen.save();
      pen.transform(...map.matrix);
      pen.globalAlpha = 0.6;
      pen.drawImage(map.beneath, 0, 0, map.size[0], map.size[1]);
      pen.restore();
    }
    pen.strokeStyle = look.line;
    pen.lineWidth = perPx;
    pen.stroke(map.graticule.path);
    if (map.tracks) {
      pen.strokeStyle = look.air;
      pen.lineWidth = 2 * perPx;
      pen.setLineDash([5 * perPx, 3 * perPx]);
      pen.stroke(map.tracks);
      pen.setLineDash([]);
    }
    pen.setTransform(dots, 0, 0, dots, 0, 0);
  };

  const paintMarks = (pen, look, points, marks, scale) => {
    pen.fillStyle = look.buff;
    pen.strokeStyle = look.rust;
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
    pen.font = `600 14px ${look.face}`;
    for (const { x, y, members } of marks) {
      const { isArea } = points[members[0]];
      const count = members.length;
      dot(pen, x, y, count === 1 ? 6 : Math.min(20, 11 + 3 * Math.log10(count)));
      pen.lineWidth = 2;
      if (count === 1 && isArea) {
        pen.strokeStyle = look.rust;
        pen.stroke();
        continue;
      }
      pen.fillStyle = count === 1 ? look.rust : look.ink;
      pen.strokeStyle = look.card;
      pen.fill();
      pen.stroke();
      pen.fillStyle = look.paper;
      if (count > 1) pen.fillText(String(count), x, y + 5);
    }
  };

  const paintFrame = (pen, look, { width, height }, bar) => {
    pen.fillStyle = pen.strokeStyle = look.ink;
    pen.lineWidth = 3;
    pen.beginPath();
    pen.moveTo(width * 0.03, 16);
    pen.lineTo(width * 0.03 + bar.px, 16);
    pen.stroke();
    pen.textAlign = "start";
    pen.font = `14px ${look.face}`;
    write(pen, look, bar.words, width * 0.03, 33, look.ink);
    pen.beginPath();
    for (const [x, y] of [[-20, -68], [-12, -44], [-20, -49], [-28, -44]]) pen.lineTo(width + x, height + y);
    pen.fill();
    pen.textAlign = "center";
    pen.font = `600 14px ${look.face}`;
    write(pen, look, "N", width - 20, height - 30, look.ink);
  };

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
      return { words: text.textContent, x, y, half: text.textContent.length * 4.2 };
    });
    const track = svg.querySelector(".track");
    const image = svg.querySelector("image");
    const map = { graticule: null, tracks: track && new Path2D(track.getAttribute("d")), beneath: null };
    const state = { x: left0 + width0 / 2, y: top0 + height0 / 2, scale: 1, width: 0, height: 0, fits: 1, marks: [] };
    const levels = new Map();
    let look = lookOf(figure);
    let waiting = false;
    let named = null; // the scale at which names were last found room for

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

    const paintNames = (view) => {
      if (named !== view.scale) {
        named = view.scale;
        const taken = [];
        for (const name of names) {
          const [x, y] = [name.x * view.scale, name.y * view.scale];
          name.fits = taken.every(([otherX, otherY, half]) => Math.abs(x - otherX) >= half + name.half || Math.abs(y - otherY) >= 18);
          if (name.fits) taken.push([x, y, name.half]);
        }
      }
      pen.textAlign = "center";
      pen.font = `14px ${look.face}`;
      for (const { words, x, y, half, fits } of names) {
        const [px, py] = [(x - view.left) * view.scale, (y - view.top) * view.scale - 14];
        if (fits && px > -half && px < state.width + half && py > 0 && py < state.height + 14) write(pen, look, words, px, py, look.ink);
      }
    };

    /** The graticule is made again where the scale changes, or after half of a screen. */
    const paintDegrees = (view) => {
      const { lats, lons } = map.graticule;
      pen.textAlign = "start";
      pen.font = `12px ${look.face}`;
      for (const [y, words] of lats) {
        const py = (y - view.top) * view.scale - 3;
        if (py > 46 && py < state.height) write(pen, look, words, 4, py, look.soft);
      }
      for (const [x, words] of lons) {
        const px = (x - view.left) * view.scale + 3;
        if (px > 0 && px < state.width - 20) write(pen, look, words, px, state.height - 5, look.soft);
      }
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
      pen.fillStyle = look.card;
      pen.fillRect(0, 0, canvas.width, canvas.height);
      paintGround(pen, look, map, view, canvas.width / state.width);
      paintDegrees(view);
      state.marks = marksIn(view);
      paintMarks(pen, look, points, state.marks, scale);
      paintNames(view);
      const { metres, words } = roundBelow(view.width / 3, figure.dataset.units);
      paintFrame(pen, look, state, { px: metres * scale, words });
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

    const whole = () => {
      Object.assign(state, { x: left0 + width0 / 2, y: top0 + height0 / 2, scale: state.fits });
      changed();
    };

    const show = (members) => {
      const [xs, ys] = [members.map((i) => points[i].x), members.map((i) => points[i].y)];
      const [wide, high] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
      const scale = Math.min(MOST_PX_PER_M, 0.6 * Math.min(state.width / (wide || 1e-9), state.height / (high || 1e-9)));
      if (members.length === 1 || Math.max(wide, high) * MOST_PX_PER_M < APART_PX) return tell(members);
      Object.assign(state, { x: Math.min(...xs) + wide / 2, y: Math.min(...ys) + high / 2, scale: Math.max(scale, state.scale * 1.5) });
      return changed();
    };

    const told = document.createElement("div");
    const tell = (members) => {
      const copies = members.slice(0, 12).map((i) => {
        const copy = rows[i].cloneNode(true);
        copy.removeAttribute("data-point");
        return copy;
      });
      const list = document.createElement("ul");
      list.className = "rows";
      list.append(...copies);
      told.replaceChildren(list);
      if (members.length > 12) told.append(Object.assign(document.createElement("p"), { textContent: `and ${members.length - 12} more at the same place, in the list` }));
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
    listen(canvas, { moveBy, enlarge, whole, show, nearest });
    const hint = document.createElement("p");
    hint.className = "soft";
    hint.textContent = "Drag it, or use the arrow keys. Enlarge it with two fingers, with + and −, or with the wheel once you have clicked on it.";
    figure.append(buttonsOf({ enlarge, whole }), told, hint);
    told.className = "map-told";
    told.setAttribute("role", "status");

    if (image) {
      map.beneath = new Image();
      map.beneath.addEventListener("load", changed);
      map.beneath.src = image.getAttribute("href");
      map.size = ["width", "height"].map((name) => Number(image.getAttribute(name)));
      map.matrix = image.getAttribute("transform").match(/-?[\d.]+(?:e-?\d+)?/g).map(Number);
    }
    /** The points of the folded parts too. */
    const takeFolded = async () => {
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
        takeFolded();
      }, { rootMargin: "600px" });
      watch.observe(figure);
    }

    const again = () => {
      look = lookOf(figure);
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

  const buttonsOf = ({ enlarge, whole }) => {
    const acts = document.createElement("p");
    acts.className = "acts map-acts";
    const button = (text, name, press) => {
      const element = document.createElement("button");
      Object.assign(element, { type: "button", textContent: text });
      element.setAttribute("aria-label", name);
      element.addEventListener("click", press);
      return element;
    };
    acts.append(
      button("+", "Enlarge the map", () => enlarge(2)),
      button("−", "Reduce the map", () => enlarge(0.5)),
      button("Whole map", "Whole map", whole),
    );
    return acts;
  };

  const STEP_PX = 60;
  const KEYS = {
    ArrowLeft: ({ moveBy }) => moveBy(STEP_PX, 0),
    ArrowRight: ({ moveBy }) => moveBy(-STEP_PX, 0),
    ArrowUp: ({ moveBy }) => moveBy(0, STEP_PX),
    ArrowDown: ({ moveBy }) => moveBy(0, -STEP_PX),
    "+": ({ enlarge }) => enlarge(2),
    "=": ({ enlarge }) => enlarge(2),
    "-": ({ enlarge }) => enlarge(0.5),
    0: ({ whole }) => whole(),
    Home: ({ whole }) => whole(),
  };

  const listen = (canvas, map) => {
    const { moveBy, enlarge, show, nearest } = map;
    const fingers = new Map();
    let moved = 0;
    let box = null; // where the map stands on the screen, asked once: asking in every frame would lay the page out

    canvas.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in KEYS)) return;
      KEYS[event.key](map);
      event.preventDefault();
    });

    canvas.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "mouse" && event.button !== 0) return;
      if (fingers.size === 0) {
        moved = 0;
        box = canvas.getBoundingClientRect();
      }
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
    });
    canvas.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const now = [event.clientX, event.clientY];
      const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
      fingers.set(event.pointerId, now);
      moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
      if (moved < 6) return;
      if (!canvas.hasPointerCapture(event.pointerId)) canvas.setPointerCapture(event.pointerId);
      if (!other) {
        moveBy(now[0] - before[0], now[1] - before[1]);
        return;
      }
      const apart = ([x, y]) => Math.hypot(x - other[0], y - other[1]);
      const middle = ([x, y]) => [(x + other[0]) / 2 - box.left, (y + other[1]) / 2 - box.top];
      const [from, to] = [middle(before), middle(now)];
      moveBy(to[0] - from[0], to[1] - from[1]);
      if (apart(before) > 10) enlarge(apart(now) / apart(before), ...to);
    });
    for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, ({ pointerId }) => fingers.delete(pointerId));

    canvas.addEventListener("click", (event) => {
      box = canvas.getBoundingClientRect();
      const members = moved < 6 && nearest(event.clientX - box.left, event.clientY - box.top);
      if (members) show(members);
    });

    // A page that is scrolled past the map must not be held up by it: the wheel is the map's once it has the focus.
    canvas.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && document.activeElement !== canvas) return;
      event.preventDefault();
      box = canvas.getBoundingClientRect();
      const lines = event.deltaMode === 1 ? 16 : 1;
      enlarge(2 ** (-Math.max(-200, Math.min(200, event.deltaY * lines)) / (event.ctrlKey ? 60 : 240)), event.clientX - box.left, event.clientY - box.top);
    }, { passive: false });
  };

  for (const figure of document.querySelectorAll("[data-map]")) start(figure);
})();
