"use strict";
// The world around the station: distance and bearing from its middle are true. Shade is
// the chance as the wire runs, veiled where it is night; its end can be dragged.
const worldMap = (() => {
  const SIZE = 340, MID = 170, RIM = 142, HALF_KM = 20015.1, NEAR_KM = 3000;
  const RAD = Math.PI / 180;
  const by = (id) => document.getElementById(id);
  const draw = (parent, kind, attributes, text) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", kind);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text !== undefined) made.textContent = text;
    parent.append(made);
    return made;
  };
  const bytes = (packed) => Uint8Array.from(atob(packed), (sign) => sign.charCodeAt(0));
  let reach = HALF_KM, isHeld = false, land = null, outline = "", ground = null;

  // Where a pixel lies, on the sphere and on the picture; both ways by spherical triangles.
  const placeOf = ([lat, lon], away, bearing) => {
    const c = (away / HALF_KM) * Math.PI, up = lat * RAD;
    const there = Math.asin(Math.sin(up) * Math.cos(c) + Math.cos(up) * Math.sin(c) * Math.cos(bearing));
    const east = Math.atan2(Math.sin(bearing) * Math.sin(c) * Math.cos(up), Math.cos(c) - Math.sin(up) * Math.sin(there));
    return [there / RAD, ((lon + east / RAD + 540) % 360) - 180];
  };
  const seenFrom = ([lat, lon], [there, far]) => {
    const [a, b, d] = [lat * RAD, there * RAD, (far - lon) * RAD];
    const c = Math.acos(Math.min(Math.max(Math.sin(a) * Math.sin(b) + Math.cos(a) * Math.cos(b) * Math.cos(d), -1), 1));
    return [(c / Math.PI) * HALF_KM, Math.atan2(Math.sin(d) * Math.cos(b), Math.cos(a) * Math.sin(b) - Math.sin(a) * Math.cos(b) * Math.cos(d))];
  };
  const spot = ([away, bearing]) => {
    const r = (RIM * away) / reach;
    return [MID + r * Math.sin(bearing), MID - r * Math.cos(bearing)];
  };

  const shades = () => {
    const probe = document.createElement("i");
    document.body.append(probe);
    const found = ["shut", ...Array.from({ length: 10 }, (_, i) => `c${i + 1}`)].map((look) => {
      probe.className = look;
      const said = getComputedStyle(look === "shut" ? document.body : probe).backgroundColor;
      return said.match(/\d+/g).slice(0, 3).map(Number);
    });
    probe.remove();
    return found;
  };

  // Beside which places of the grid a place lies, and its shares of the further ones.
  const beside = ({ rings, rays }, away, bearing) => {
    let low = 0;
    while (low < rings.length - 2 && rings[low + 1] <= away) low += 1;
    const out = Math.min(Math.max((away - rings[low]) / (rings[low + 1] - rings[low]), 0), 1);
    const turn = (((bearing / RAD + 360) % 360) * rays) / 360, first = Math.floor(turn) % rays;
    return [low * rays + first, low * rays + ((first + 1) % rays), out, turn - Math.floor(turn)];
  };
  const at = (cells, rays, [first, second, out, turn]) => {
    const along = (row) => cells[first + row] * (1 - turn) + cells[second + row] * turn;
    return along(0) * (1 - out) + along(rays) * out;
  };
  // Chances of one map as the wire runs, between two bearings of those worked out.
  const asTurned = (world, m, wire) => {
    const { wires, turn, rings, rays, parts } = world, count = rings.length * rays;
    const deg = ((wire % turn) + turn) % turn;
    let low = wires.length - 1;
    while (low > 0 && wires[low] > deg) low -= 1;
    const high = (low + 1) % wires.length, end = high ? wires[high] : wires[0] + turn;
    const share = wires.length > 1 ? (deg - wires[low]) / (end - wires[low]) : 0;
    const one = (m * wires.length + low) * count, two = (m * wires.length + high) * count;
    return Float32Array.from({ length: count }, (_, i) =>
      (world.chance[one + i] * (1 - share) + world.chance[two + i] * share) / parts);
  };
  // What of each pixel does not change while a wire turns or an hour passes.
  const groundOf = (world, here, wide) => {
    const key = [here, reach, wide, world.rings.length, world.rays].join();
    if (ground?.key === key) return ground;
    const pixels = [];
    for (let y = 0; y < wide; y += 1) {
      for (let x = 0; x < wide; x += 1) {
        const east = ((x + 0.5) / wide) * SIZE - MID, north = MID - ((y + 0.5) / wide) * SIZE;
        const r = Math.hypot(east, north);
        if (r > RIM) continue;
        const away = (r / RIM) * reach, bearing = Math.atan2(east, north);
        const [lat, lon] = placeOf(here, away, bearing).map((deg) => deg * RAD);
        const up = [Math.cos(lat) * Math.cos(lon), Math.cos(lat) * Math.sin(lon), Math.sin(lat)];
        pixels.push([4 * (y * wide + x), beside(world, away, bearing), up]);
      }
    }
    ground = { key, pixels };
    return ground;
  };
  const paint = (world, cells, sun, here) => {
    const canvas = by("map-shade"), pen = canvas.getContext("2d"), wide = canvas.width;
    const picture = pen.createImageData(wide, wide), colours = shades();
    const [lat, lon] = sun.map((deg) => deg * RAD);
    const [x, y, z] = [Math.cos(lat) * Math.cos(lon), Math.cos(lat) * Math.sin(lon), Math.sin(lat)];
    // How much of a shade is kept, and the grey in the rest: night is the darker on any ground.
    const [day, night] = colours[0][0] < 128 ? [[0.86, 130], [0.75, 0]] : [[1, 0], [0.72, 90]];
    for (const [i, place, up] of groundOf(world, here, wide).pixels) {
      const chance = at(cells, world.rays, place);
      const colour = colours[chance < 0.05 ? 0 : Math.max(Math.round(10 * chance), 1)];
      // The sun's upper edge, with refraction, is gone at 50 minutes of arc.
      const [kept, grey] = up[0] * x + up[1] * y + up[2] * z < -0.0145 ? night : day;
      for (let k = 0; k < 3; k += 1) picture.data[i + k] = colour[k] * kept + (1 - kept) * grey;
      picture.data[i + 3] = 255;
    }
    pen.putImageData(picture, 0, 0);
  };

  const outlined = (here) => {
    const key = `${here} ${reach}`;
    if (outlined.key !== key) {
      outline = land.map((piece) => `M${piece.map((one) => spot(seenFrom(here, one)).map((v) => v.toFixed(1)).join(" ")).join("L")}`).join("");
      outlined.key = key;
    }
    return outline;
  };
  const tenths = (chance) => (chance < 0.05 ? "under 1 day in 20" : `${Math.max(Math.round(10 * chance), 1)} in 10`);

  // One map of those in `world`, or none yet; `shown` has its hour and the chance of each
  // target then; `wire` is null where turning changes nothing.
  const show = (found, world, m, shown, wire, { onTurn, onPlace }) => {
    const svg = by("live-map"), here = found.here, focused = document.activeElement === by("map-hold");
    const pointed = (event) => {
      const box = svg.getBoundingClientRect();
      const east = ((event.clientX - box.left) / box.width) * SIZE - MID;
      const north = MID - ((event.clientY - box.top) / box.height) * SIZE;
      return [(Math.hypot(east, north) / RIM) * reach, Math.atan2(east, north)];
    };
    const cells = world && asTurned(world, m, wire || 0);
    if (world) paint(world, cells, found.sun[shown.t], here);
    svg.replaceChildren();
    const rim = draw(draw(svg, "clipPath", { id: "map-rim" }), "circle", { cx: MID, cy: MID, r: RIM });
    const within = draw(svg, "g", { "clip-path": "url(#map-rim)" });
    if (land) draw(within, "path", { class: "land", d: outlined(here) });
    const ways = [], names = [], taken = [[MID, MID, 6]];
    found.spots.forEach((points, k) => {
      const most = Math.max(...points.map((one) => one[2]));
      points.forEach(([lat, lon, weight]) => {
        const [cx, cy] = spot(seenFrom(here, [lat, lon]));
        taken.push([cx, cy, 4]);
        draw(within, "circle", { class: "aim", cx, cy, r: (1 + 3 * Math.sqrt(weight / most)).toFixed(1) });
      });
      const heavy = points.find((one) => one[2] === most), seen = seenFrom(here, heavy);
      const name = shown.names[k].replace(/ \((M49|ISO) \w+\)$/, ""), short = name.length > 24 ? `${name.slice(0, 23)}\u2026` : name;
      ways.push(`M${MID} ${MID}L${spot(seen).join(" ")}`);
      // A target out of a near map is named at its rim.
      names.push([...spot([Math.min(seen[0], 0.93 * reach), seen[1]]), [short, tenths(shown.chances[k])]]);
    });
    draw(within, "path", { class: "way", d: ways.join("") });
    draw(svg, "circle", { class: "grid", cx: MID, cy: MID, r: RIM / 2 });
    draw(svg, "circle", { class: "rim", cx: MID, cy: MID, r: rim.getAttribute("r") });
    for (let deg = 0; deg < 360; deg += 90) {
      const [x, y] = spot([reach * 1.1, deg * RAD]);
      draw(svg, "text", { x, y: y + 4, "text-anchor": "middle" }, deg ? String(deg).padStart(3, "0") : "N");
      taken.push([x - 8, y, 6], [x + 8, y, 6]);
    }
    if (wire !== null) {
      const [x, y] = spot([0.45 * reach, wire * RAD]), [u, v] = spot([0.45 * reach, (wire + 180) * RAD]);
      draw(svg, "path", { class: "run", d: `M${x} ${y}L${u} ${v}` });
      for (let k = -4; k <= 4; k += 1) taken.push([MID + ((x - MID) * k) / 4, MID + ((y - MID) * k) / 4, k === 4 ? 11 : 3]);
      const knob = draw(svg, "circle", { id: "map-hold", class: "hold", cx: x, cy: y, r: 9, tabindex: 0, role: "slider", "aria-label": "Bearing of the wire on the map, degrees", "aria-valuenow": Math.round(wire), "aria-valuemin": 0, "aria-valuemax": 359 });
      knob.onpointerdown = (event) => {
        event.preventDefault();
        event.stopPropagation();
        isHeld = true;
        svg.setPointerCapture(event.pointerId);
      };
      // A finger's knob, drawn anew, no longer keeps the page from scrolling under it.
      knob.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
      knob.onkeydown = (event) => {
        const by = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10 }[event.key];
        if (by === undefined) return;
        event.preventDefault();
        onTurn(wire + by);
      };
      if (focused) knob.focus({ preventScroll: true });
    }
    // The scale, where on its ring it is farthest from dots and wire.
    const free = ([x, y]) => Math.min(...taken.map(([u, v]) => Math.hypot(u - x, (v - y) * 1.5)));
    const on = Array.from({ length: 12 }, (_, i) => spot([reach / 2, 30 * i * RAD]));
    const [x, y] = on.reduce((best, one) => (free(one) > free(best) ? one : best));
    draw(svg, "text", { class: "halo scale", x, y: y + 4, "text-anchor": "middle" }, `${Math.round(reach / 200) * 100} km`);
    for (let along = -27; along <= 27; along += 9) taken.push([x + along, y, 8]);
    for (const [x, y, lines] of names) {
      const made = lines.map((line) => draw(svg, "text", { class: "halo bold" }, line));
      const wide = Math.max(...made.map((one) => one.getComputedTextLength()));
      // Of the places beside it the first that hides fewest dots, names and the handle.
      let best = null;
      for (const down of [-22, 16, -44, 38, -66, 60, -88, 82]) {
        for (const right of [8, -8 - wide]) {
          const left = Math.min(Math.max(x + right, 2), SIZE - 2 - wide);
          const base = Math.min(Math.max(y + down, 12), SIZE - 16);
          const hides = taken.filter(([u, v, r]) => u > left - r && u < left + wide + r && v > base - 11 - r && v < base + 17 + r).length;
          if (!best || hides < best.hides) best = { left, base, hides };
        }
      }
      for (let along = 0; along <= wide; along += 9) taken.push([best.left + along, best.base, 8]);
      made.forEach((one, n) => {
        one.setAttribute("x", best.left);
        one.setAttribute("y", best.base + 13 * n);
      });
    }
    svg.onpointermove = (event) => isHeld && onTurn(pointed(event)[1] / RAD);
    svg.onpointerup = (event) => {
      const wasHeld = isHeld;
      isHeld = false;
      if (wasHeld || event.button !== 0) return;
      const [away, bearing] = pointed(event);
      // Nearer than a pixel or two nobody can point.
      if (away < reach && away > reach / 200) {
        onPlace(placeOf(here, away, bearing), away, bearing, cells ? at(cells, world.rays, beside(world, away, bearing)) : NaN);
      }
    };
    svg.onpointercancel = () => {
      isHeld = false;
    };
  };
  // Land comes once: pairs of whole hundredths of a degree, a pair out of range between two.
  const setLand = (packed) => {
    if (land) return;
    const all = new Int16Array(bytes(packed).buffer), pieces = [[]];
    for (let i = 0; i < all.length; i += 2) {
      if (all[i] === 32767) pieces.push([]);
      else pieces.at(-1).push([all[i] / 100, all[i + 1] / 100]);
    }
    land = pieces.filter((piece) => piece.length > 1);
  };
  const unpack = (world) => {
    setLand(world.land);
    return { ...world, chance: bytes(world.chance) };
  };
  // Turns the wire as its slider does.
  const turnTo = (deg) => {
    const slider = by("live-bearing"), turn = Number(slider.max) + 1;
    slider.value = String(Math.round(((deg % turn) + turn) % turn) % turn);
    slider.dispatchEvent(new Event("input"));
  };
  const slideTo = (t) => {
    by("live-hour").value = String(t);
    by("live-hour").dispatchEvent(new Event("input"));
  };
  // `next` tells the hour after the one shown, or null while that is waited for.
  const controls = (next, redraw) => {
    let passing = 0;
    by("play").onclick = () => {
      by("play").textContent = passing ? "Let the hours pass" : "Stop";
      if (passing) {
        clearInterval(passing);
        passing = 0;
        return;
      }
      passing = setInterval(() => {
        const t = next();
        if (t !== null) slideTo(t);
      }, 700);
    };
    by("map-near").onclick = () => {
      reach = reach === HALF_KM ? NEAR_KM : HALF_KM;
      by("map-near").textContent = reach === HALF_KM ? "Look nearer" : "The whole world";
      redraw();
    };
  };

  // A page worked out beforehand: what its sliders show is followed, at the nearest of
  // the hours that have a map.
  const follow = (data) => {
    const world = unpack(data.world);
    let shown = null, isDrawing = false;
    const mapOf = (t) => world.hours.reduce((best, hour, m) =>
      (Math.abs(hour - t) < Math.abs(world.hours[best] - t) ? m : best), 0);
    const redraw = () => {
      const m = mapOf(shown.t), t = world.hours[m], band = world.bands[m];
      const chances = data.targets.map((_, k) => shown.chanceOf(k, t, band));
      const names = data.targets.map((one) => one.name);
      show(data, world, m, { t, chances, names }, shown.wire, { onTurn: turnTo, onPlace });
      const far = t === shown.t ? "" : `, the map nearest to ${data.hours[shown.t]}`;
      by("map-words").textContent = `${data.bands[band]}, then best, at ${data.hours[t]}${far}. Click a place for its chance.`;
      by("map-at").textContent = "";
    };
    const onPlace = ([lat, lon], away, bearing, chance) => {
      const towards = String(Math.round((bearing / RAD + 360) % 360) % 360).padStart(3, "0");
      by("map-at").textContent = `${lat.toFixed(1)}, ${lon.toFixed(1)}: ${Math.round(away / 10) * 10} km towards ${towards}, ${tenths(chance)}.`;
    };
    controls(() => world.hours[(mapOf(shown.t) + 1) % world.hours.length], redraw);
    return (now) => {
      shown = now;
      if (isDrawing) return;
      isDrawing = true;
      const drawn = () => {
        isDrawing = false;
        redraw();
      };
      // The page is there first: the map is the dearest of what moves.
      if (document.readyState === "complete") requestAnimationFrame(drawn);
      else addEventListener("load", () => setTimeout(drawn), { once: true });
    };
  };
  return { show, unpack, turnTo, controls, follow };
})();
