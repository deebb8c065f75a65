"use strict";
(() => {
  const data = JSON.parse(document.getElementById("live-data").textContent);
  const by = (id) => document.getElementById(id);
  const target = by("live-target"), hour = by("live-hour"), bearing = by("live-bearing");
  const body = by("live-bands").tBodies[0];
  const isRound = data.wire === null;
  let follow = true, shown = 0;

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
  const gainAt = (cut, elevation, azimuth) => {
    const ups = data.elevations;
    let row = 0;
    while (row < ups.length - 2 && ups[row + 1] <= elevation) row += 1;
    const up = (elevation - ups[row]) / (ups[row + 1] - ups[row]);
    const place = wrap(azimuth, 360) / data.azimuthStep;
    const low = Math.floor(place), count = cut[0].length, share = place - low;
    const along = (line) =>
      mix(ratio(line[low % count]), ratio(line[(low + 1) % count]), share);
    return mix(along(cut[row]), along(cut[row + 1]), up);
  };

  const decibels = (gain) => 10 * Math.log10(Math.max(gain, 1e-6));

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
  const topOf = (cut) => {
    const greatest = Math.max(...cut.map((line) => Math.max(...line))) / data.gainParts;
    return 5 * Math.ceil(greatest / 5);
  };

  const drawCompass = ({ one, t, wire }) => {
    const svg = by("live-compass"), cut = data.cut[shown], top = topOf(cut);
    const asked = angle(one, "middle", t, shown);
    const elevation = Number.isNaN(asked) ? data.peakElevation[shown] / data.angleParts : asked;
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
      const level = decibels(gainAt(cut, elevation, deg - wire));
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
    const there = decibels(one.points.reduce(
      (sum, [deg, weight]) => sum + weight * gainAt(cut, elevation, deg - wire), 0));
    const where = one.allRound ? "all round" : `at ${three(one.bearing)} true`;
    const words = `${data.bands[shown]} at ${Math.round(elevation)} deg elevation: ${fixed(there)} dBi on average towards ${one.name}, ${where}.`;
    by("live-compass-title").textContent = `Compass. ${words}`;
    by("live-compass-words").textContent = `${words} Bar: the wire${data.end ? `, its square the ${data.end}` : ""}. Shaded: the target. MN: magnetic north.${data.good.length ? " Outer arcs: the wire may run there." : ""}`;
  };

  const LEFT = 44, RIGHT = 328, UPPER = 12, LOWER = 206;
  const drawLobe = ({ one, t, wire, gain }) => {
    const svg = by("live-lobe"), cut = data.cut[shown], top = topOf(cut);
    const x = (up) => LEFT + ((RIGHT - LEFT) * up) / 90;
    const y = (level) => UPPER + (LOWER - UPPER) * Math.min((top - level) / SPAN, 1);
    const low = angle(one, "low", t, shown), high = angle(one, "high", t, shown);
    const middle = angle(one, "middle", t, shown);
    clear(svg);
    if (!Number.isNaN(low)) {
      const wide = Math.max(x(high) - x(low), 3);
      draw(svg, "rect", { class: "zone", x: x(low), y: UPPER, width: wide, height: LOWER - UPPER });
    }
    for (const down of [0, 10, 20, 30]) {
      draw(svg, "path", { class: "grid", d: path([[LEFT, y(top - down)], [RIGHT, y(top - down)]]) });
      draw(svg, "text", { x: LEFT - 6, y: y(top - down) + 4, "text-anchor": "end" }, `${top - down}`);
    }
    for (const up of [0, 15, 30, 45, 60, 75, 90]) {
      draw(svg, "path", { class: "grid", d: path([[x(up), UPPER], [x(up), LOWER]]) });
      draw(svg, "text", { x: x(up), y: LOWER + 17, "text-anchor": "middle" }, `${up}`);
    }
    draw(svg, "text", { x: (LEFT + RIGHT) / 2, y: LOWER + 36, "text-anchor": "middle" }, "elevation, deg (upright: gain, dBi)");
    const towards = (up) => decibels(one.points.reduce(
      (sum, [deg, weight]) => sum + weight * gainAt(cut, up, deg - wire), 0));
    const curve = data.elevations.map((up) => [x(up), y(towards(up))]);
    draw(svg, "path", { class: "curve", d: path(curve) });
    if (!Number.isNaN(middle)) {
      draw(svg, "path", { class: "dash", d: path([[x(middle), UPPER], [x(middle), LOWER]]) });
      draw(svg, "circle", { class: "dot", cx: x(middle), cy: y(towards(middle)), r: 6 });
    }
    const words = Number.isNaN(low)
      ? `No hop carries ${data.bands[shown]} to ${one.name} at that hour.`
      : `${data.bands[shown]} needs ${range(one, t, shown)} deg (mostly ${one.mode[t][shown]}); over those angles the wire gives ${fixed(gain[shown])} dBi${cost(one, t, gain)}.`;
    by("live-lobe-title").textContent = `Lobe and hop. ${words}`;
    by("live-lobe-words").textContent = `${words} Curve: the wire towards the target. Shaded: angles the hops need.`;
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
    by("live-day-words").textContent = `${words} Figures: days in ten, a dot is less than one in twenty; framed: the hour and the band shown.`;
  };

  const shade = (cell, chance) => {
    const open = !Number.isNaN(chance) && chance >= data.open;
    cell.className = open ? `c${Math.max(Math.round(10 * chance), 1)}` : "shut";
  };

  const redraw = () => {
    const now = state(), { one, t, wire, chance, gain } = now;
    const best = bestOf(chance);
    if (follow) shown = best;
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
      `${data.hours[t]}${isRound ? "" : `, wire ${both(wire)}`}: ` +
      (open ? `${data.bands[best]} best, ${days(chance[best])}.` : "all bands closed.");
    drawCompass(now);
    drawLobe(now);
    drawDay(now);
    document.querySelectorAll("tr.now").forEach((row) => row.classList.remove("now"));
    const table = by(`hours-${target.value}`);
    if (table) table.tBodies[0].rows[t].classList.add("now");
  };

  // --- controls ----------------------------------------------------------------

  data.targets.forEach((one, place) => {
    target.append(new Option(one.name, String(place)));
  });
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
  // Hour of the greatest chance, bearing as advised.
  const reset = () => {
    const one = data.targets[Number(target.value)];
    const [at] = beside(isRound ? 0 : data.wire);
    const peaks = one.chance[at].map((bands) => Math.max(...bands));
    hour.value = String(peaks.indexOf(Math.max(...peaks)));
    if (!isRound) bearing.value = String(Math.round(data.wire));
    follow = true;
  };
  hour.max = String(data.hours.length - 1);
  bearing.max = String(data.turn - 1);
  by("live-target-line").hidden = data.targets.length < 2;
  by("live-bearing-line").hidden = isRound;
  target.addEventListener("change", redraw);
  hour.addEventListener("input", redraw);
  bearing.addEventListener("input", redraw);
  by("live-follow").addEventListener("click", () => {
    follow = true;
    redraw();
  });
  by("live-back").addEventListener("click", () => {
    reset();
    redraw();
  });
  document.querySelectorAll(".needs-script").forEach((each) => {
    each.hidden = false;
  });
  const marks = makeDay();
  reset();
  redraw();
})();
