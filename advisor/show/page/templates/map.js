// The world around the station: distance and bearing from its middle are true. Shade is
// the chance as the wire runs, veiled where it is night; its end can be dragged.
const SIZE = 340, MID = 170, RIM = 142, HALF_KM = 20015.1;
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

// Where a pixel lies, on the sphere and on the picture; both ways by spherical triangles.
export const placeOf = ([lat, lon], away, bearing) => {
  const c = (away / HALF_KM) * Math.PI, up = lat * RAD;
  const there = Math.asin(Math.sin(up) * Math.cos(c) + Math.cos(up) * Math.sin(c) * Math.cos(bearing));
  const east = Math.atan2(Math.sin(bearing) * Math.sin(c) * Math.cos(up), Math.cos(c) - Math.sin(up) * Math.sin(there));
  return [there / RAD, ((lon + east / RAD + 540) % 360) - 180];
};
export const seenFrom = ([lat, lon], [there, far]) => {
  const [a, b, d] = [lat * RAD, there * RAD, (far - lon) * RAD];
  const c = Math.acos(Math.min(Math.max(Math.sin(a) * Math.sin(b) + Math.cos(a) * Math.cos(b) * Math.cos(d), -1), 1));
  return [(c / Math.PI) * HALF_KM, Math.atan2(Math.sin(d) * Math.cos(b), Math.cos(a) * Math.sin(b) - Math.sin(a) * Math.cos(b) * Math.cos(d))];
};
const spot = ([away, bearing]) => {
  const r = (RIM * away) / HALF_KM;
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

// The shade of every pixel for one bearing of the wire, between the two worked out.
const paint = (world, sun, here, wire) => {
  const canvas = by("map-shade"), pen = canvas.getContext("2d");
  const wide = canvas.width, picture = pen.createImageData(wide, wide), colours = shades();
  const { rings, step, turns } = world, rays = 360 / step, cells = (rings.length - 1) * rays;
  const at = ((wire % (turns * step)) + turns * step) % (turns * step) / step;
  const low = Math.floor(at) % turns, high = (low + 1) % turns, share = at - Math.floor(at);
  const [sunUp, sunEast] = [sun[0] * RAD, sun[1] * RAD];
  for (let y = 0; y < wide; y += 1) {
    for (let x = 0; x < wide; x += 1) {
      const [east, north] = [((x + 0.5) / wide) * SIZE - MID, MID - ((y + 0.5) / wide) * SIZE];
      const r = Math.hypot(east, north);
      if (r > RIM) continue;
      const away = (r / RIM) * HALF_KM, bearing = Math.atan2(east, north);
      let ring = 0;
      while (ring < rings.length - 2 && rings[ring + 1] <= away) ring += 1;
      const cell = ring * rays + (Math.round((bearing / RAD + 360) / step) % rays);
      const chance = (world.chance[low * cells + cell] * (1 - share) + world.chance[high * cells + cell] * share) / 250;
      const [lat, lon] = placeOf(here, away, bearing);
      const lit = Math.sin(lat * RAD) * Math.sin(sunUp) + Math.cos(lat * RAD) * Math.cos(sunUp) * Math.cos(lon * RAD - sunEast);
      const colour = colours[chance < 0.05 ? 0 : Math.max(Math.round(10 * chance), 1)];
      const veil = lit < -0.0145 ? 0.72 : 1, i = 4 * (y * wide + x);
      colour.forEach((part, k) => {
        picture.data[i + k] = part * veil + (1 - veil) * 90;
      });
      picture.data[i + 3] = 255;
    }
  }
  pen.putImageData(picture, 0, 0);
};

let isHeld = false;
export const map = (found, world, shown, wire, { onTurn, onPlace }) => {
  const svg = by("map"), here = found.here, focused = document.activeElement === by("map-hold");
  const at = (event) => {
    const box = svg.getBoundingClientRect();
    const east = ((event.clientX - box.left) / box.width) * SIZE - MID;
    const north = MID - ((event.clientY - box.top) / box.height) * SIZE;
    return [(Math.hypot(east, north) / RIM) * HALF_KM, Math.atan2(east, north)];
  };
  if (world) paint(world, found.sun[shown.t], here, wire || 0);
  svg.replaceChildren();
  draw(svg, "circle", { class: "rim", cx: MID, cy: MID, r: RIM });
  if (map.land) {
    const outline = map.land.map((piece) => `M${piece.map((one) => spot(seenFrom(here, one)).map((v) => v.toFixed(1)).join(" ")).join("L")}`);
    draw(svg, "path", { class: "land", d: outline.join("") });
  }
  for (let deg = 0; deg < 360; deg += 90) {
    const [x, y] = spot([HALF_KM * 1.07, deg * RAD]);
    draw(svg, "text", { x, y: y + 4, "text-anchor": "middle" }, deg ? String(deg).padStart(3, "0") : "N");
  }
  const names = [];
  found.points.forEach((points, k) => {
    const most = Math.max(...points.map((one) => one[2]));
    points.forEach(([lat, lon, weight]) => {
      const [cx, cy] = spot(seenFrom(here, [lat, lon]));
      draw(svg, "circle", { class: "aim", cx, cy, r: (1 + 3 * Math.sqrt(weight / most)).toFixed(1) });
    });
    const heavy = points.find((one) => one[2] === most), [x, y] = spot(seenFrom(here, heavy));
    draw(svg, "path", { class: "way", d: `M${MID} ${MID}L${x} ${y}` });
    const name = found.turn.targets[k].name;
    names.push([x, y, name.length > 24 ? `${name.slice(0, 23)}\u2026` : name]);
  });
  if (wire !== null) {
    const [x, y] = spot([9000, wire * RAD]), [u, v] = spot([9000, (wire + 180) * RAD]);
    draw(svg, "path", { class: "run", d: `M${x} ${y}L${u} ${v}` });
    const knob = draw(svg, "circle", { id: "map-hold", class: "hold", cx: x, cy: y, r: 9, tabindex: 0, role: "slider", "aria-label": "Bearing of the wire on the map, degrees", "aria-valuenow": Math.round(wire), "aria-valuemin": 0, "aria-valuemax": 359 });
    knob.onpointerdown = (event) => {
      event.preventDefault();
      event.stopPropagation();
      isHeld = true;
      svg.setPointerCapture(event.pointerId);
    };
    knob.onkeydown = (event) => {
      const by = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10 }[event.key];
      if (by === undefined) return;
      event.preventDefault();
      onTurn(wire + by);
    };
    if (focused) knob.focus();
  }
  names.forEach(([x, y, name]) => {
    const isRight = x > 0.55 * SIZE;
    draw(svg, "text", { class: "halo bold", x: x + (isRight ? -8 : 8), y: y - 6, "text-anchor": isRight ? "end" : "start" }, name);
  });
  svg.onpointermove = (event) => isHeld && onTurn(at(event)[1] / RAD);
  svg.onpointerup = (event) => {
    const wasHeld = isHeld;
    isHeld = false;
    if (wasHeld || event.button !== 0) return;
    const [away, bearing] = at(event);
    // Nearer than a pixel or two nobody can point.
    if (away < HALF_KM && away > 100) onPlace(placeOf(here, away, bearing));
  };
  svg.onpointercancel = () => {
    isHeld = false;
  };
};
// Land comes once: pairs of whole hundredths of a degree, a pair out of range between two.
map.setLand = (packed) => {
  const all = new Int16Array(bytes(packed).buffer), pieces = [[]];
  for (let i = 0; i < all.length; i += 2) {
    if (all[i] === 32767) pieces.push([]);
    else pieces.at(-1).push([all[i] / 100, all[i + 1] / 100]);
  }
  map.land = pieces.filter((piece) => piece.length > 1);
};
map.unpack = (found) => ({ ...found, chance: bytes(found.chance) });
