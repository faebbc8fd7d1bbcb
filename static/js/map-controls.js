/* How a map is moved and enlarged: buttons, keys, dragging, pinching, the wheel. One global, `journalMapControls`:

     buttonsOf(map)        a paragraph of buttons
     listen(canvas, map)   keys, pointers and the wheel on a canvas

   map: {moveBy(px, py), enlarge(times, px, py), showAll(), show(members), nearest(px, py)}, in px of the canvas. */
"use strict";

(() => {
  const buttonsOf = ({ enlarge, showAll }) => {
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
      button("Whole map", "Whole map", showAll),
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
    0: ({ showAll }) => showAll(),
    Home: ({ showAll }) => showAll(),
  };

  const listen = (canvas, map) => {
    const { moveBy, enlarge, show, nearest } = map;
    const fingers = new Map();
    let moved = 0;
    let box = null; // where the map is on the screen, asked once: asking in every frame would lay the page out

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

  globalThis.journalMapControls = { buttonsOf, listen };
})();
