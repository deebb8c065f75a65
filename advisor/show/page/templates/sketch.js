// The wire from above and from the side, to be taken hold of.
const WIDE = 340, HIGH = 300, EDGE = 34;
const by = (id) => document.getElementById(id);
const draw = (parent, kind, attributes, text) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", kind);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
};
// Only what grows out of the picture, or shrinks to half, changes its scale: whatever
// is held stays under the finger.
const scales = {};
const scaleOf = (which, reach) => {
  const most = scales[which];
  if (!most || reach > most || reach < 0.45 * most) scales[which] = 1.25 * reach;
  return (WIDE / 2 - EDGE) / scales[which];
};
const step = (metres) => [1, 2, 5, 10, 20, 50, 100].find((each) => each >= metres / 4) || 100;

let held = null;
const hold = (svg, name, x, y, words, value, { onMove, onKey }) => {
  const knob = draw(svg, "circle", { class: "hold", id: name, cx: x, cy: y, r: 9, tabindex: 0, role: "slider", "aria-label": words, "aria-valuenow": value, "aria-valuemin": -1000, "aria-valuemax": 1000 });
  const place = (event) => {
    const box = svg.getBoundingClientRect();
    return [((event.clientX - box.left) * WIDE) / box.width, ((event.clientY - box.top) * HIGH) / box.height];
  };
  knob.onpointerdown = (event) => {
    event.preventDefault();
    knob.focus({ preventScroll: true });
    held = { name, onMove };
    svg.setPointerCapture(event.pointerId);
  };
  // A finger's knob, drawn anew, no longer keeps the page from scrolling under it.
  knob.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  // The knob is drawn anew while it is held: the picture is what listens.
  svg.onpointermove = (event) => held && held.svg !== null && event.buttons && held.onMove(...place(event));
  svg.onpointerup = svg.onpointercancel = () => {
    held = null;
  };
  knob.onkeydown = (event) => {
    const by = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (by === undefined) return;
    event.preventDefault();
    onKey(by, event.key);
  };
};

// Draw both; the bearing is what is set, which the answer may not have caught up with.
export const sketch = (found, set, bearing, { onTurn, onSize, onPoint }) => {
  const focused = document.activeElement && document.activeElement.id;
  const plan = by("plan"), side = by("side"), { sketch: hung, form } = found;
  plan.replaceChildren();
  side.replaceChildren();
  if (!hung) {
    draw(side, "text", { x: WIDE / 2, y: HIGH / 2, "text-anchor": "middle" }, "A quarter wave, upright");
    draw(plan, "text", { x: WIDE / 2, y: HIGH / 2, "text-anchor": "middle" }, "It radiates alike all round");
    return;
  }
  const turn = ((bearing || 0) * Math.PI) / 180;
  const ends = hung.wires.flatMap(([a, b, c, d, e, f]) => [[a, b, c], [d, e, f]]);
  const all = [...ends, ...hung.below.flatMap(([a, b, c, d, e, f]) => [[a, b, c], [d, e, f]])];
  const away = Math.max(4, ...all.map(([x, y]) => Math.hypot(x, y)));

  // From above: north is up.
  const scale = scaleOf("plan", away);
  const above = ([x, y]) => [
    WIDE / 2 + scale * (x * Math.cos(turn) + y * Math.sin(turn)),
    HIGH / 2 - scale * (y * Math.cos(turn) - x * Math.sin(turn)),
  ];
  const lines = (svg, at, kind, pieces) => pieces.forEach(([a, b, c, d, e, f]) => {
    const [x1, y1] = at([a, b, c]), [x2, y2] = at([d, e, f]);
    draw(svg, "line", { class: kind, x1, y1, x2, y2 });
  });
  draw(plan, "text", { x: WIDE / 2, y: 14, "text-anchor": "middle" }, "N");
  const long = step(scales.plan);
  draw(plan, "line", { class: "mast", x1: 10, x2: 10 + long * scale, y1: HIGH - 8, y2: HIGH - 8 });
  draw(plan, "text", { x: 10, y: HIGH - 14 }, `${long} m`);
  hung.supports.forEach((each) => {
    const [cx, cy] = above(each);
    draw(plan, "circle", { class: "foot", cx, cy, r: 5 });
  });
  lines(plan, above, "under", hung.below);
  lines(plan, above, "wire", hung.wires);
  const [feedX, feedY] = above(hung.feed);
  draw(plan, "rect", { class: "feed", x: feedX - 5, y: feedY - 5, width: 10, height: 10 });
  const marked = (svg, at) => hung.parts.forEach((each) => {
    const [x, y] = at(each);
    draw(svg, "path", { class: "part", d: `M${x} ${y - 8}l7 8l-7 8l-7-8z` });
  });
  marked(plan, above);
  const far = ends.reduce((one, two) => (two[1] > one[1] ? two : one));
  const near = ends.reduce((one, two) => (two[1] < one[1] ? two : one));
  const resized = (ratio) => {
    // A finger is not steady: a length changes only if it is pulled.
    if (form.length && Math.abs(ratio - 1) > 0.12) onSize("length_m", Math.round(10 * hung.length * ratio) / 10);
  };
  if (form.has_points && set.points_m) {
    set.points_m.forEach(([east, north, up], n) => {
      const [x, y] = above([east, north]);
      hold(plan, `hold-point-${n}`, x, y, `Point ${n + 1}, ${east} m east, ${north} m north; arrows move it`, east, {
        onMove: (px, py) => {
          const [right, ahead] = [(px - WIDE / 2) / scale, (HIGH / 2 - py) / scale];
          onPoint(n, [right * Math.cos(turn) - ahead * Math.sin(turn), right * Math.sin(turn) + ahead * Math.cos(turn), up]);
        },
        onKey: (by, key) => {
          const isUp = ["ArrowUp", "ArrowDown", "PageUp", "PageDown"].includes(key);
          onPoint(n, [east + (isUp ? 0 : 0.1 * by), north + (isUp ? 0.1 * by : 0), up]);
        },
      });
    });
  } else if (form.has_bearing) {
    [["first", far], ["other", near]].forEach(([name, end]) => {
      if (Math.hypot(end[0], end[1]) < 1) return;
      const [x, y] = above(end), own = Math.atan2(end[0], end[1]);
      hold(plan, `hold-${name}`, x, y, "Bearing of the wire, degrees", Math.round(bearing || 0), {
        onMove: (px, py) => {
          const east = (px - WIDE / 2) / scale, north = (HIGH / 2 - py) / scale;
          if (Math.hypot(east, north) < 0.5) return;
          onTurn(((Math.atan2(east, north) - own) * 180) / Math.PI);
          resized(Math.hypot(east, north) / Math.hypot(end[0], end[1]));
        },
        onKey: (by) => onTurn((bearing || 0) + by),
      });
    });
  }

  // From the side: along the wire, over the ground.
  const high = Math.max(2, ...all.map((each) => each[2]), ...hung.supports.map((each) => each[2]));
  const sized = Math.min(scaleOf("side", away), (HIGH - 2 * EDGE) / (1.25 * high));
  const beside = ([, y, z]) => [WIDE / 2 + sized * y, HIGH - EDGE - sized * z];
  draw(side, "line", { class: "ground", x1: 0, x2: WIDE, y1: HIGH - EDGE, y2: HIGH - EDGE });
  hung.supports.forEach(([, y, z]) => {
    const [x, top] = beside([0, y, z]);
    draw(side, "line", { class: "mast", x1: x, x2: x, y1: HIGH - EDGE, y2: top });
  });
  lines(side, beside, "under", hung.below);
  lines(side, beside, "wire", hung.wires);
  const [fx, fy] = beside(hung.feed);
  draw(side, "rect", { class: "feed", x: fx - 5, y: fy - 5, width: 10, height: 10 });
  marked(side, beside);
  const top = ends.reduce((one, two) => (two[2] > one[2] + 0.01 ? two : one));
  const [tx, ty] = beside(top);
  draw(side, "text", { x: Math.min(Math.max(tx, 30), WIDE - 30), y: ty - 14, "text-anchor": "middle" }, `${top[2].toFixed(1)} m`);
  draw(side, "text", { x: WIDE / 2, y: HIGH - EDGE + 18, "text-anchor": "middle" }, `${hung.length.toFixed(1)} m of wire`);
  if (form.has_points && set.points_m) {
    set.points_m.forEach((point, n) => {
      const [x, y] = beside(point), raised = (up) => onPoint(n, [point[0], point[1], up]);
      hold(side, `hold-high-${n}`, x, y, `Point ${n + 1}, metres up`, point[2], {
        onMove: (_, py) => raised((HIGH - EDGE - py) / sized),
        onKey: (by) => raised(point[2] + 0.1 * by),
      });
    });
  }
  if (form.top) {
    const size = form.fields.find((each) => each.key === form.top);
    const clamped = (value) => Math.round(10 * Math.min(Math.max(value, size.low), size.high)) / 10;
    const now = set[form.top] ?? size.usual[0];
    hold(side, "hold-top", tx, ty, `${size.words}, metres`, now, {
      onMove: (_, py) => onSize(form.top, clamped((HIGH - EDGE - py) / sized)),
      onKey: (by) => onSize(form.top, clamped((set[form.top] ?? now) + 0.1 * by)),
    });
  }
  if (focused && focused.startsWith("hold-") && by(focused)) by(focused).focus({ preventScroll: true });
};
