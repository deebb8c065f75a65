"use strict";
// The ribbon: where the reader's own clock stands on it, and what changes next.
const tickRibbon = () => {
  const day = document.getElementById("day");
  if (!day) return;
  const start = Date.parse(day.dataset.start), count = Number(day.dataset.count);
  const HOUR = 3600000, mark = day.querySelector(".now");
  const clock = (hour) => `${new Date(start + hour * HOUR).toISOString().slice(11, 13)}Z`;
  const days = (chance) => {
    if (chance >= 0.95) return "nearly every day";
    return `${Math.max(Math.round(10 * chance), 1)} day${chance >= 0.15 ? "s" : ""} in 10`;
  };
  const at = (Date.now() - start) / HOUR, isOn = at >= 0 && at < count;
  mark.hidden = !isOn;
  mark.style.left = `${(100 * at) / count}%`;
  const told = day.querySelectorAll(".next");
  [...day.querySelectorAll(".lane")].forEach((lane, k) => {
    told[k].hidden = !isOn;
    if (!isOn) return;
    const runs = [...lane.querySelectorAll(".runs b")].map((run) => run.dataset);
    const now = runs.findIndex((run) => at < Number(run.last) + 1), next = runs[now + 1];
    const chance = Number(lane.querySelectorAll(".cells i")[Math.floor(at)].dataset.chance);
    const here = runs[now].band ? `${runs[now].band}, ${days(chance)}` : "closed";
    const then = next ? `${next.band || "closed"} from ${clock(Number(next.first))}` : `so to ${clock(count)}`;
    const time = new Date(Date.now()).toISOString().slice(11, 16);
    told[k].querySelector("span").textContent = `Now, ${time}Z: ${here}; ${then}.`;
  });
};
tickRibbon();
document.addEventListener("visibilitychange", tickRibbon);
setInterval(tickRibbon, 20000);
// What can be turned and slid; called again with other data it may keep what is set.
const turnable = (data, { isKept = false, onTurn = () => {}, onShow = () => {} } = {}) => {
  const by = (id) => document.getElementById(id);
  const target = by("live-target"), hour = by("live-hour"), bearing = by("live-bearing");
  const body = by("live-bands").tBodies[0];
  const isRound = data.wire === null;
  let follow = true, shown = 0;
  if (isKept && turnable.kept) {
    follow = turnable.kept.follow;
    shown = Math.max(data.bands.indexOf(turnable.kept.band), 0);
    if (!data.works[shown]) follow = true;
  }

  // --- numbers: interpolate and rotate, nothing else ---------------------------

  const wrap = (deg, turn) => ((deg % turn) + turn) % turn;
  const mix = (a, b, share) => a + share * (b - a);

  // Places of the two tried bearings beside one, and the share of the second.
  const beside = (deg) => {
    const tried = data.bearings, at = wrap(deg, data.turn), last = tried.length - 1;
    if (last === 0) return [0, 0, 0];
    let low = last;
    while (low > 0 && tried[low] > at) low -= 1;
    const high = low === last ? 0 : low + 1;
    const end = high === 0 ? tried[0] + data.turn : tried[high];
    return [low, high, (at - tried[low]) / (end - tried[low])];
  };

  const turned = (grid, [low, high, share], t, b, parts) => {
    const first = grid[low][t][b], second = grid[high][t][b];
    return first === null || second === null ? NaN : mix(first, second, share) / parts;
  };

  const ratio = (parts) => 10 ** (parts / data.gainParts / 10);

  // Gain as a ratio in one band's pattern, linear both ways as the engine does it.
  const lookUp = (cut, elevation, azimuth, valueOf) => {
    const ups = data.elevations;
    let row = 0;
    while (row < ups.length - 2 && ups[row + 1] <= elevation) row += 1;
    const up = (elevation - ups[row]) / (ups[row + 1] - ups[row]);
    const place = wrap(azimuth, 360) / data.azimuthStep;
    const low = Math.floor(place), count = cut[0].length, share = place - low;
    const along = (line) =>
      mix(valueOf(line[low % count]), valueOf(line[(low + 1) % count]), share);
    return mix(along(cut[row]), along(cut[row + 1]), up);
  };

  // Tables of the hills: two bytes a figure, a row an elevation; read once.
  const unpack = (packed) => {
    const whole = new Int16Array(Uint8Array.from(atob(packed), (sign) => sign.charCodeAt(0)).buffer);
    const count = whole.length / data.elevations.length;
    return data.elevations.map((_, row) => whole.subarray(row * count, (row + 1) * count));
  };
  const hills = data.hills.map((each) => each && { free: each.free.map(unpack), change: each.change.map(unpack) });

  // On a true bearing, with what the hills there add to a wire so turned.
  const gainAt = (b, elevation, bearing, wire) => {
    const flat = lookUp(data.cut[b], elevation, bearing - wire, ratio), over = hills[b];
    if (!over) return flat;
    return Math.max(over.free.reduce((sum, free, n) =>
      sum + lookUp(free, elevation, bearing - wire, ratio) *
        lookUp(over.change[n], elevation, bearing, (parts) => parts / data.changeParts), flat), 0);
  };

  const decibels = (gain) => 10 * Math.log10(Math.max(gain, 1e-6));

  // Ways of one hour and band: six bytes each, read once.
  const read = (one, t, b) => {
    const packed = one.ways.rows[t][b];
    if (typeof packed !== "string") return packed;
    const bytes = Uint8Array.from(atob(packed), (sign) => sign.charCodeAt(0));
    const rows = [];
    for (let i = 0; i < bytes.length; i += 6) {
      rows.push({
        p: bytes[i] + 256 * bytes[i + 1],
        name: one.ways.names[bytes[i + 2] & 127],
        back: bytes[i + 2] > 127,
        up: (bytes[i + 3] + 256 * bytes[i + 4]) / data.angleParts,
        share: ratioOf(-bytes[i + 5] / one.ways.parts),
      });
    }
    one.ways.rows[t][b] = rows.sort((x, y) => x.up - y.up);
    return rows;
  };
  const ratioOf = (level) => 10 ** (level / 10);

  // What the sky offers and what gets through on a bearing, as the engine has it.
  const waysAt = (one, t, b, wire) => {
    const sums = one.points.map(() => [0, 0]);
    const found = read(one, t, b).map((way) => {
      const towards = one.points[way.p][0] + (way.back ? 180 : 0);
      const power = way.share * gainAt(b, way.up, towards, wire);
      sums[way.p][0] += way.share;
      sums[way.p][1] += power;
      return { ...way, power };
    });
    return found.map((way) => {
      const weight = one.points[way.p][1], [all, got] = sums[way.p];
      return { ...way, offered: (weight * way.share) / all, through: (weight * way.power) / got };
    });
  };
  // The value up to which a share of the weight lies; rows rise by it.
  const quantile = (rows, share) => {
    const total = rows.reduce((sum, way) => sum + way.through, 0);
    let passed = 0;
    for (const way of rows) {
      passed += way.through;
      if (passed >= share * total) return way.up;
    }
    return NaN;
  };
  const throughRange = (rows) => {
    const low = Math.round(quantile(rows, 0.1)), high = Math.round(quantile(rows, 0.9));
    return low === high ? `${low}` : `${low}-${high}`;
  };
  const byName = (found) => {
    const total = found.reduce((sum, way) => sum + way.through, 0);
    return [...new Set(found.map((way) => way.name))].map((name) => {
      const mine = found.filter((way) => way.name === name);
      const sum = (value) => mine.reduce((whole, way) => whole + value(way), 0);
      const gain = decibels(sum((way) => (way.offered * way.power) / way.share) / sum((way) => way.offered));
      return { name, through: sum((way) => way.through) / total, up: quantile(mine, 0.5), gain };
    }).filter((way) => way.through >= 0.05).sort((x, y) => y.through - x.through).slice(0, 4);
  };

  const state = () => {
    const one = data.targets[Number(target.value)];
    const t = Number(hour.value), wire = isRound ? 0 : Number(bearing.value);
    const place = beside(wire);
    const chance = data.bands.map((_, b) =>
      data.works[b] ? turned(one.chance, place, t, b, data.chanceParts) : NaN);
    const gain = data.bands.map((_, b) =>
      data.works[b] ? turned(one.gain, place, t, b, data.gainParts) : NaN);
    return { one, t, wire, chance, gain };
  };

  // --- words -------------------------------------------------------------------

  const three = (deg) => String(Math.round(wrap(deg, 360)) % 360).padStart(3, "0");
  const point = (deg) => data.points[Math.round(wrap(deg, 360) / 22.5) % 16];
  const ends = (deg) => `${three(deg)}-${three(deg + 180)}`;
  const both = (deg) =>
    data.end
      ? `from ${point(deg + 180)} (${data.end}) towards ${point(deg)}: ${three(deg)} true (${three(deg - data.declination)} by compass)`
      : `${ends(deg)} true (${ends(deg - data.declination)} by compass), ${point(deg)} to ${point(deg + 180)}`;
  const fixed = (value) => (Number.isNaN(value) ? "-" : (Math.round(10 * value) / 10 + 0).toFixed(1));
  const angle = (one, which, t, b) => {
    const value = one[which][t][b];
    return value === null ? NaN : value / data.angleParts;
  };
  const range = (one, t, b) => {
    const low = Math.round(angle(one, "low", t, b)), high = Math.round(angle(one, "high", t, b));
    if (Number.isNaN(low)) return "-";
    return low === high ? `${low}` : `${low}-${high}`;
  };
  const days = (chance) => {
    if (Number.isNaN(chance) || chance < data.open) return "less than 1 day in 20";
    if (chance >= 0.95) return "nearly every day";
    const count = Math.max(Math.round(10 * chance), 1);
    return `${count} day${chance >= 0.15 ? "s" : ""} in 10`;
  };
  const bestOf = (chance) =>
    chance.reduce((best, each, b) => (each > (chance[best] || 0) ? b : best), data.works.indexOf(true));

  // --- drawing -----------------------------------------------------------------

  const draw = (parent, kind, attributes, text) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", kind);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text !== undefined) made.textContent = text;
    parent.append(made);
    return made;
  };
  const clear = (svg) => {
    while (svg.lastChild !== svg.firstElementChild) svg.lastChild.remove();
  };
  const path = (points, closed) =>
    `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}${closed ? "Z" : ""}`;

  const SPAN = 30, RIM = 118, MIDDLE = 170;
  const spot = (deg, radius) => {
    const turn = (deg * Math.PI) / 180;
    return [MIDDLE + radius * Math.sin(turn), MIDDLE - radius * Math.cos(turn)];
  };
  const arc = (from, to, radius) => {
    const wide = wrap(to - from, 360), points = [];
    for (let i = 0; i <= 40; i += 1) points.push(spot(from + (wide * i) / 40, radius));
    return points;
  };
  const label = (svg, [x, y], text, look) =>
    draw(svg, "text", { x, y: y + 4, "text-anchor": "middle", class: look || "halo" }, text);
  // The ray, halfway between two that carry figures, farthest from what is drawn.
  const freeRay = (taken) => {
    const apart = (deg) => Math.min(...taken.map((each) => {
      const off = wrap(deg - each, 360);
      return Math.min(off, 360 - off);
    }));
    const rays = Array.from({ length: 12 }, (_, i) => 15 + 30 * i);
    return rays.reduce((best, deg) => (apart(deg) > apart(best) ? deg : best));
  };
  const topOf = (b) => {
    const greatest = Math.max(...data.cut[b].map((line) => Math.max(...line))) / data.gainParts;
    // Hills double a field at most.
    return 5 * Math.ceil((greatest + (hills[b] ? 6 : 0)) / 5);
  };

  const drawCompass = ({ one, t, wire, gain }) => {
    const svg = by("live-compass"), top = topOf(shown);
    // Mean over the angles offered, as if all came one way.
    const ups = new Map();
    for (const way of waysAt(one, t, shown, wire)) {
      const up = Math.round(way.up);
      ups.set(up, (ups.get(up) || 0) + way.offered);
    }
    const asked = ups.size > 0, peak = data.peakElevation[shown] / data.angleParts;
    if (!asked) ups.set(peak, 1);
    const offered = [...ups.values()].reduce((sum, share) => sum + share, 0);
    const round = (deg) => [...ups].reduce((sum, [up, share]) => sum + share * gainAt(shown, up, deg, wire), 0) / offered;
    const free = freeRay([0, data.declination, ...(one.allRound ? [] : [one.bearing]), ...(isRound ? [] : [wire, wire + 180])]);
    clear(svg);
    if (!one.allRound) {
      const wide = Math.max(wrap(one.to - one.from, 360), 2);
      const wedge = arc(one.from, one.from + wide, RIM);
      draw(svg, "path", { class: "zone", d: path([...wedge, [MIDDLE, MIDDLE]], true) });
    }
    for (const down of [0, 10, 20]) {
      const r = RIM * (1 - down / SPAN);
      draw(svg, "circle", { class: down ? "grid" : "rim", cx: MIDDLE, cy: MIDDLE, r });
      label(svg, spot(free, r), `${top - down} dBi`);
    }
    for (let deg = 0; deg < 360; deg += 30) {
      draw(svg, "path", { class: "grid", d: path([[MIDDLE, MIDDLE], spot(deg, RIM)]) });
      const north = wrap(deg - data.declination + 180, 360) - 180;
      if (deg && Math.abs(north) > 12) label(svg, spot(deg, RIM + 16), three(deg));
    }
    const curve = [];
    for (let deg = 0; deg < 360; deg += 2) {
      const level = decibels(round(deg));
      curve.push(spot(deg, RIM * Math.max((level - top) / SPAN + 1, 0)));
    }
    draw(svg, "path", { class: "curve", d: path(curve, true) });
    for (const [from, to] of data.good) {
      draw(svg, "path", { class: "good", d: path(arc(from, to, RIM + 30)) });
    }
    if (!isRound) {
      const run = [spot(wire, 56), spot(wire + 180, 56)];
      draw(svg, "path", { class: "run", d: path(run) });
      label(svg, spot(wire, 74), three(wire), "bold halo");
      if (!data.end) label(svg, spot(wire + 180, 74), three(wire + 180), "bold halo");
      if (data.end) {
        const [x, y] = spot(wire + 180, 56);
        draw(svg, "rect", { class: "run", x: x - 6, y: y - 6, width: 12, height: 12, fill: "none" });
        // A word is wide: over or under the square where it would run into it.
        const aside = 18 * Math.abs(Math.sin((wire * Math.PI) / 180));
        const [wordX, wordY] = spot(wire + 180, 76 - aside / 2);
        label(svg, [wordX, wordY + (y > MIDDLE ? aside : -aside)], data.end, "bold halo");
      }
    }
    draw(svg, "path", { class: "dash", d: path([spot(data.declination, RIM - 26), spot(data.declination, RIM + 22)]) });
    label(svg, spot(data.declination, RIM + 36), "MN");
    label(svg, spot(0, RIM + 18), "N", "bold halo");
    const where = one.allRound ? "all round" : `at ${three(one.bearing)} true`;
    const words = asked
      ? `${data.bands[shown]}, over the ${range(one, t, shown)} deg that the sky offers: the wire gives ${fixed(gain[shown])} dBi to ${one.name}, ${where}.`
      : `${data.bands[shown]} at ${Math.round(peak)} deg, where the wire is strongest; ${one.name} lies ${where}.`;
    by("live-compass-title").textContent = `Compass. ${words}`;
    by("live-compass-words").textContent = words;
  };

  // The fan: lobe from the side, what the sky offers, what gets through.
  const LOBE = 116, ANGLES = 127, OFFERED = 140, THROUGH = 178, FAN_RIM = 222;
  const AT_X = 14, AT_Y = 232, STEP_DEG = 3, LABELS = 246;
  const raised = (up, radius) => {
    const turn = (up * Math.PI) / 180;
    return [AT_X + radius * Math.cos(turn), AT_Y - radius * Math.sin(turn)];
  };
  const bow = (from, to, radius) => {
    const points = [];
    for (let i = 0; i <= 30; i += 1) points.push(raised(from + ((to - from) * i) / 30, radius));
    return points;
  };
  const drawFan = ({ one, t, wire, gain }) => {
    const svg = by("live-fan"), found = waysAt(one, t, shown, wire);
    const back = new Set(found.filter((way) => way.back).map((way) => way.p));
    const towards = (up) => one.points.reduce((sum, [deg, weight], p) =>
      sum + weight * gainAt(shown, up, deg + (back.has(p) ? 180 : 0), wire), 0);
    const gains = data.elevations.map(towards), most = Math.max(...gains);
    const reach = (power) => LOBE * Math.sqrt(power / most);
    clear(svg);
    let last = Infinity;
    for (const ring of [10, 5, 0, -5, -10, -20]) {
      const radius = reach(10 ** (ring / 10));
      if (radius > LOBE || last - radius < 30 || radius < 24) continue;
      last = radius;
      draw(svg, "path", { class: "grid", d: path(bow(0, 90, radius)) });
      draw(svg, "text", { x: AT_X + radius, y: AT_Y + 16, "text-anchor": "middle" }, ring ? `${ring > 0 ? "+" : ""}${ring}` : "0 dBi");
    }
    // Smooth between the elevations of the data.
    const curve = [];
    for (let up = 0; up <= 90; up += 1) curve.push(raised(up, reach(towards(up))));
    draw(svg, "path", { class: "lobe", d: path([[AT_X, AT_Y], ...curve], true) });
    const named = byName(found), total = found.reduce((sum, way) => sum + way.through, 0) || 1;
    const steps = Array.from({ length: 90 / STEP_DEG }, () => [0, 0]);
    for (const way of found) {
      const step = steps[Math.min(Math.floor(way.up / STEP_DEG), steps.length - 1)];
      step[0] += way.offered / total;
      step[1] += way.through / total;
    }
    const fullest = Math.max(...steps.flat(), 1e-9);
    named.forEach((way) => {
      draw(svg, "path", { class: "ray", "stroke-width": (1 + 15 * way.through).toFixed(1), d: path([[AT_X, AT_Y], raised(way.up, THROUGH)]) });
    });
    [["offered", OFFERED, THROUGH], ["through", THROUGH, FAN_RIM]].forEach(([kind, foot, head], which) => {
      draw(svg, "path", { class: "grid", d: path(bow(0, 90, foot)) });
      steps.forEach((step, n) => {
        const high = (0.92 * (head - foot) * step[which]) / fullest;
        if (step[which] / fullest < 0.005) return;
        const [low, up] = [STEP_DEG * n, STEP_DEG * (n + 1)];
        draw(svg, "path", { class: kind, d: path([...bow(low, up, foot), ...bow(up, low, foot + high)], true) });
      });
      const names = which ? ["gets", "through"] : ["sky", "offers"];
      const beside = { x: AT_X + THROUGH + (which ? 3 : -5), "text-anchor": which ? "start" : "end" };
      names.forEach((name, n) => draw(svg, "text", { ...beside, y: AT_Y + 16 + 14 * n }, name));
    });
    draw(svg, "path", { class: "curve", d: path(curve) });
    for (let up = 15; up <= 90; up += 15) label(svg, raised(up, ANGLES), `${up}`);
    draw(svg, "path", { class: "ground", d: path([[0, AT_Y], [AT_X + FAN_RIM, AT_Y]]) });
    let floor = 12;
    const rising = [...named].sort((one, two) => one.up - two.up);
    const heights = rising.map((way) => {
      const height = Math.max(AT_Y - raised(way.up, FAN_RIM)[1], floor);
      floor = height + 34;
      return height;
    });
    for (let i = heights.length - 1, top = FAN_RIM - 8; i >= 0; i -= 1) {
      heights[i] = Math.min(heights[i], top);
      top = heights[i] - 34;
    }
    rising.forEach((way, i) => {
      const [x, y] = raised(way.up, reach(towards(way.up)));
      draw(svg, "circle", { class: "dot", cx: x, cy: y, r: 5 });
      draw(svg, "path", { class: "lead", d: path([raised(way.up, THROUGH), raised(way.up, FAN_RIM), [LABELS - 3, AT_Y - heights[i]]]) });
      draw(svg, "text", { class: "bold", x: LABELS, y: AT_Y - heights[i] - 2 }, way.name);
      draw(svg, "text", { x: LABELS, class: "share", y: AT_Y - heights[i] + 13 }, `${Math.round(100 * way.through)} %, ${fixed(way.gain)} dBi`);
    });
    const words = !found.length
      ? `No hop carries ${data.bands[shown]} to ${one.name} at that hour.`
      : `${data.bands[shown]}: the sky offers ${range(one, t, shown)} deg; the wire gives ${fixed(gain[shown])} dBi there${cost(one, t, gain)}; ${throughRange(found)} deg gets through, ${Math.round(100 * named[0].through)} % of the power as ${named[0].name}; the contact comes oftenest by ${one.mode[t][shown]}.`;
    by("live-fan-title").textContent = `Fan. ${words}`;
    by("live-fan-words").textContent = words;
  };

  // What the bearing costs against the advised one, on the band shown.
  const cost = (one, t, gain) => {
    if (isRound) return "";
    const less = turned(one.gain, beside(data.wire), t, shown, data.gainParts) - gain[shown];
    if (Number.isNaN(less) || Math.abs(less) < 0.05) return "";
    return `, ${fixed(Math.abs(less))} dB ${less > 0 ? "less" : "more"} than as advised`;
  };

  // Every band at every hour on the bearing set; made once, then only refilled.
  const WORKED = data.bands.map((_, b) => b).filter((b) => data.works[b]);
  const DAY_LEFT = 46, DAY_UPPER = 22, DAY_HIGH = 20;
  const dayWide = Math.max(294 / data.hours.length, 12.25);
  const dayCells = [];
  const makeDay = () => {
    const svg = by("live-day"), wide = DAY_LEFT + dayWide * data.hours.length;
    const high = DAY_UPPER + DAY_HIGH * WORKED.length;
    svg.setAttribute("viewBox", `0 0 ${wide.toFixed(1)} ${high + 2}`);
    if (data.hours.length > 24) {
      svg.style.width = `${wide}px`;
      svg.style.maxWidth = "none";
      by("live-day-box").tabIndex = 0;
    }
    data.hours.forEach((name, t) => {
      if (dayWide > 40 || t % 3 === 0) {
        draw(svg, "text", { x: DAY_LEFT + dayWide * (t + 0.5), y: 14, "text-anchor": "middle" }, name.slice(0, 3));
      }
    });
    WORKED.forEach((b, row) => {
      const y = DAY_UPPER + DAY_HIGH * row;
      draw(svg, "text", { x: DAY_LEFT - 5, y: y + 14, "text-anchor": "end" }, data.bands[b]);
      dayCells.push(data.hours.map((_, t) => {
        const x = DAY_LEFT + dayWide * t;
        const ground = draw(svg, "rect", { x, y, width: dayWide, height: DAY_HIGH });
        const figure = draw(svg, "text", { class: "figure", x: x + dayWide / 2, y: y + 14, "text-anchor": "middle" }, "");
        for (const each of [ground, figure]) {
          each.addEventListener("click", () => {
            hour.value = String(t);
            follow = false;
            shown = b;
            redraw();
          });
        }
        return { ground, figure, tenths: -1 };
      }));
    });
    const at = draw(svg, "rect", { class: "at", y: DAY_UPPER, width: dayWide, height: DAY_HIGH * WORKED.length });
    const on = draw(svg, "rect", { class: "at on", width: dayWide, height: DAY_HIGH });
    return { at, on };
  };
  const drawDay = ({ one, t, wire }) => {
    let best = [0, 0, 0];
    const place = beside(wire);
    WORKED.forEach((b, row) => {
      dayCells[row].forEach((cell, u) => {
        const chance = turned(one.chance, place, u, b, data.chanceParts);
        const tenths = chance >= data.open ? Math.max(Math.round(10 * chance), 1) : 0;
        if (tenths !== cell.tenths) {
          cell.tenths = tenths;
          cell.ground.setAttribute("class", `f${tenths}`);
          cell.figure.textContent = tenths ? String(tenths) : ".";
        }
        if (chance > best[0]) best = [chance, b, u];
      });
    });
    const x = DAY_LEFT + dayWide * t;
    marks.at.setAttribute("x", x);
    marks.on.setAttribute("x", x);
    marks.on.setAttribute("y", DAY_UPPER + DAY_HIGH * WORKED.indexOf(shown));
    const words = best[0] >= data.open
      ? `${isRound ? "B" : "On this bearing b"}est to ${one.name} of all hours: ${data.bands[best[1]]} at ${data.hours[best[2]]}, ${days(best[0])}.`
      : `No band opens to ${one.name} in these hours${isRound ? "" : " on this bearing"}.`;
    by("live-day-title").textContent = `Band by hour. ${words}`;
    by("live-day-words").textContent = words;
  };

  const shade = (cell, chance) => {
    const open = !Number.isNaN(chance) && chance >= data.open;
    cell.className = open ? `c${Math.max(Math.round(10 * chance), 1)}` : "shut";
  };

  const redraw = () => {
    const now = state(), { one, t, wire, chance, gain } = now;
    const best = bestOf(chance);
    if (follow) shown = best;
    turnable.kept = { follow, band: data.bands[shown] };
    by("live-hour-shown").textContent = data.hours[t];
    hour.setAttribute("aria-valuetext", data.hours[t]);
    if (!isRound) {
      by("live-bearing-shown").textContent = both(wire);
      bearing.setAttribute("aria-valuetext", both(wire));
    }
    for (const row of body.rows) {
      const b = Number(row.dataset.band), cells = row.cells;
      cells[0].querySelector("input").checked = b === shown;
      row.className = b === shown ? "shown" : "";
      cells[1].textContent = fixed(10 * chance[b]) + (b === best && chance[b] >= data.open ? "*" : "");
      shade(cells[1], chance[b]);
      cells[2].textContent = range(one, t, b);
      cells[3].textContent = fixed(gain[b]);
      cells[4].textContent = one.mode[t][b] || "-";
    }
    const open = chance[best] >= data.open;
    by("live-words").textContent =
      (open ? `${data.bands[best]} best, ${days(chance[best])}` : "All bands closed") +
      `: ${data.hours[t]}${isRound ? "" : `, wire ${both(wire)}`}.`;
    drawCompass(now);
    drawFan(now);
    drawDay(now);
    document.querySelectorAll("tr.now").forEach((row) => row.classList.remove("now"));
    const table = by(`hours-${target.value}`);
    if (table) table.tBodies[0].rows[t].classList.add("now");
    const place = beside(wire);
    const chanceOf = (k, hourShown, b) =>
      turned(data.targets[k].chance, place, hourShown, b, data.chanceParts);
    onShow({ t, band: shown, wire: isRound ? null : wire, chanceOf });
  };

  // --- controls ----------------------------------------------------------------

  const asked = isKept ? Math.min(Number(target.value), data.targets.length - 1) : 0;
  target.replaceChildren(...data.targets.map((one, place) => new Option(one.name, String(place))));
  target.value = String(asked);
  body.replaceChildren();
  data.bands.forEach((name, b) => {
    if (!data.works[b]) return;
    const row = body.insertRow(), head = document.createElement("th");
    row.dataset.band = String(b);
    head.scope = "row";
    const words = document.createElement("label"), pick = document.createElement("input");
    pick.type = "radio";
    pick.name = "live-band";
    pick.addEventListener("click", () => {
      follow = false;
      shown = b;
      redraw();
    });
    words.append(pick, name);
    head.append(words);
    row.append(head);
    for (let i = 0; i < 4; i += 1) row.insertCell();
  });
  // Now if that is among the hours, else that of the greatest chance; as advised.
  const reset = () => {
    const one = data.targets[Number(target.value)];
    const [at] = beside(isRound ? 0 : data.wire);
    const peaks = one.chance[at].map((bands) => Math.max(...bands));
    const now = Math.floor((Date.now() - Date.parse(data.start)) / 3600000);
    const isOn = now >= 0 && now < data.hours.length;
    hour.value = String(isOn ? now : peaks.indexOf(Math.max(...peaks)));
    if (!isRound) bearing.value = String(Math.round(data.wire));
    follow = true;
  };
  hour.max = String(data.hours.length - 1);
  bearing.max = String(data.turn - 1);
  by("live-target-line").hidden = data.targets.length < 2;
  by("live-bearing-line").hidden = isRound;
  target.onchange = redraw;
  hour.oninput = redraw;
  bearing.oninput = () => {
    redraw();
    onTurn(Number(bearing.value));
  };
  by("live-follow").onclick = () => {
    follow = true;
    redraw();
  };
  by("live-back").onclick = () => {
    reset();
    redraw();
    onTurn(data.wire);
  };
  document.querySelectorAll(".needs-script").forEach((each) => {
    each.hidden = false;
  });
  clear(by("live-day"));
  const marks = makeDay();
  if (!isKept) reset();
  redraw();
};
if (document.getElementById("live-data")) {
  const data = JSON.parse(document.getElementById("live-data").textContent);
  turnable(data, { onShow: worldMap.follow(data) });
}
