// The live page: what is changed goes to the server on this machine, what comes back
// moves every picture. A first answer comes for the bearing set, the whole follows.
import { sketch } from "./sketch.js";

const by = (id) => document.getElementById(id);
const { start, choices } = JSON.parse(by("live-start").textContent);
const asked = { station: {}, setups: structuredClone(start.setups), wire: 0, to: start.to, date: start.date };
let version = 0, isBusy = false, timer = 0, last = null, isFirst = true;

const wire = () => asked.setups[asked.wire];
const say = (words, isWrong = false) => {
  by("status").textContent = words;
  by("status").classList.toggle("wrong", isWrong);
};
const send = (where, more) => fetch(where, {
  method: "POST",
  headers: { "Content-Type": "application/json" },
  body: JSON.stringify({ ...asked, ...more }),
});

// --- what comes back -----------------------------------------------------------

const bearingOf = (found) => {
  const set = wire().bearing_deg;
  return typeof set === "number" ? set : found.turn.wire;
};
const show = (found) => {
  last = found;
  by("ribbon").innerHTML = found.ribbon;
  tickRibbon();
  const slider = by("live-bearing"), bearing = bearingOf(found);
  slider.max = String(found.turn.turn - 1);
  if (bearing !== null) slider.value = String(Math.round(bearing % found.turn.turn));
  if (!found.coarse) worlds.clear();
  turnable(found.turn, { isKept: !isFirst, onTurn, onShow });
  if (isFirst && bearing !== null) slider.value = String(Math.round(bearing % found.turn.turn));
  isFirst = false;
  by("words").classList.toggle("old", found.coarse);
  if (!found.coarse) {
    by("title").textContent = found.title;
    by("words").replaceChildren(...found.words.map((line) => {
      const made = document.createElement("p");
      made.textContent = line;
      return made;
    }));
  }
  showForm(found.form);
  drawSketch();
};
const drawSketch = () => {
  if (last) sketch(last, wire(), bearingOf(last), { onTurn: worldMap.turnTo, onSize: setSize, onPoint: setPoint });
};


// --- the map: one hour and band at a time, kept until something changes ------------

const worlds = new Map();
let shown = null, isDrawing = false, isAsking = false;
const drawMap = () => {
  const key = `${shown.t} ${shown.band}`, world = worlds.get(key);
  const { bands, hours, targets } = last.turn;
  const chances = targets.map((_, k) => shown.chanceOf(k, shown.t, shown.band));
  const now = { t: shown.t, chances, names: targets.map((one) => one.name) };
  worldMap.show(last, world, 0, now, shown.wire, { onTurn: worldMap.turnTo, onPlace });
  by("map-shade").classList.toggle("old", !world);
  by("map-words").textContent = `${bands[shown.band]} at ${hours[shown.t]}. Click a place to make it the target.`;
  if (!world) askWorld();
};
const onShow = (now) => {
  shown = now;
  if (isDrawing) return;
  isDrawing = true;
  requestAnimationFrame(() => {
    isDrawing = false;
    if (last) drawMap();
  });
};
const askWorld = async () => {
  // After the answer, and one at a time.
  if (isAsking || isBusy) return;
  isAsking = true;
  const mine = version, { t, band } = shown;
  try {
    const reply = await send("world", { hour: t, band });
    const found = reply.status === 200 ? await reply.json() : { error: "later" };
    if (!found.error && mine === version) {
      worlds.set(`${t} ${band}`, worldMap.unpack(found));
    }
    if (found.error || mine !== version) return;
  } catch {
    return;
  } finally {
    isAsking = false;
  }
  drawMap();
};
const onPlace = ([lat, lon]) => {
  by("ask-to").value = `${lat.toFixed(2)},${lon.toFixed(2)}`;
  by("ask-to").onchange();
};
// Each hour waits for its map.
const hourAfter = () =>
  isBusy || isAsking ? null : (Number(by("live-hour").value) + 1) % last.turn.hours.length;
worldMap.controls(hourAfter, () => last && drawMap());

// --- asking: one question under way, the newest next -----------------------------

const pump = async () => {
  if (isBusy) return;
  isBusy = true;
  const mine = version;
  try {
    for (const coarse of [true, false]) {
      if (mine !== version) break;
      const reply = await send("answer", { coarse });
      if (reply.status !== 200) {
        // Overtaken, or more than the server takes at a time: asked again below.
        if (reply.status >= 500) say("The program failed at this: change it back.", true);
        else if (mine === version) setTimeout(want, 300);
        break;
      }
      const found = await reply.json();
      if (found.error) {
        if (mine === version) say(found.error, true);
        break;
      }
      if (mine === version) {
        show(found);
        say(coarse ? "Refining." : "Up to date.");
      }
    }
  } catch {
    say("The program has ended: start it again and open its new address.", true);
  } finally {
    isBusy = false;
    document.body.classList.toggle("waiting", mine !== version);
    if (mine !== version) pump();
    else if (last && shown) drawMap();
  }
};
const want = (delay = 0) => {
  version += 1;
  say("Working it out.");
  clearTimeout(timer);
  timer = setTimeout(pump, delay);
};

// --- changes ---------------------------------------------------------------------

// The pictures turn by themselves; the ribbon and the words want the engine.
const onTurn = (deg) => {
  if (deg === null) delete wire().bearing_deg;
  else wire().bearing_deg = deg;
  drawSketch();
  want(250);
};
const setSize = (key, value) => {
  if (value === null) delete wire()[key];
  else {
    wire()[key] = value;
    // A wire of one length is not cut for each band.
    if (key === "length_m") delete wire().cut;
  }
  const number = by(`size-${key}`), slider = by(`slide-${key}`);
  if (number && document.activeElement !== number) number.value = value ?? "";
  if (slider && document.activeElement !== slider && value !== null) slider.value = String(value);
  want();
};

const showForm = (form) => {
  by("wire-help").textContent = form.help;
  by("wire-shape").value = form.shape;
  by("best-way").hidden = !form.has_bearing;
  const box = by("sizes"), keys = form.fields.map((each) => each.key).join();
  if (box.dataset.keys !== keys + form.shape) {
    box.dataset.keys = keys + form.shape;
    box.replaceChildren(...form.fields.map((each) => {
      const line = document.createElement("p"), words = document.createElement("label");
      line.className = "size";
      words.htmlFor = `size-${each.key}`;
      words.textContent = `${each.words}${each.unit ? `, ${each.unit}` : ""}`;
      const step = each.unit ? 0.1 : each.high <= 1 ? 0.01 : 1;
      const number = document.createElement("input"), slider = document.createElement("input");
      Object.assign(number, { id: `size-${each.key}`, type: "number", step: "any", min: each.low, max: each.high });
      Object.assign(slider, { id: `slide-${each.key}`, type: "range", step, min: each.low, max: each.most });
      slider.setAttribute("aria-label", `${words.textContent}, slider`);
      number.oninput = () => {
        if (number.validity.valid) setSize(each.key, number.value === "" ? null : Number(number.value));
      };
      slider.oninput = () => {
        number.value = slider.value;
        setSize(each.key, Number(slider.value));
      };
      line.append(words, number, slider);
      return line;
    }));
  }
  for (const each of form.fields) {
    const number = by(`size-${each.key}`), slider = by(`slide-${each.key}`);
    const [low, high] = each.usual, set = wire()[each.key];
    number.placeholder = low === high ? `${low}` : `${low} to ${high}`;
    if (document.activeElement !== number) number.value = set ?? "";
    if (document.activeElement !== slider) slider.value = String(set ?? low);
  }
};
const showFeed = () => {
  document.querySelectorAll("[data-feed]").forEach((each) => {
    const set = wire()[each.dataset.feed];
    each.value = set === undefined ? "" : set === false ? "no" : set === true ? "" : String(set);
  });
};

// Which of the wires, what it is called, its bands.
const showWire = () => {
  by("wire-name").replaceChildren(...asked.setups.map((one, n) => new Option(one.name, String(n))));
  by("wire-name").value = String(asked.wire);
  by("wire-called").value = wire().name;
  by("wire-less").disabled = asked.setups.length < 2;
  const bands = wire().bands ?? start.station.bands;
  document.querySelectorAll("[data-band]").forEach((each) => {
    each.checked = bands.includes(each.dataset.band);
  });
  showFeed();
  showLoads();
  showPoints();
  showFar();
};
const choose = (place) => {
  asked.wire = place;
  showWire();
  want();
};

// Parts in the wire: metres along, then what they are.
const ALONG = ["along, m", 0.01, 400];
const COIL = [["coil, \u00b5H", 0.01, 10000], ["Q", 1, 5000]];
const LOADS = {
  coils: { name: "Coil", figures: [ALONG, ...COIL], fresh: [10, 200] },
  traps: { name: "Trap", figures: [ALONG, COIL[0], ["capacitor, pF", 0.1, 100000], COIL[1]], fresh: [10, 50, 200] },
  resistors: { name: "Resistor", figures: [ALONG, ["ohm", 0.01, 100000]], fresh: [400] },
};
// Lists of figures by hand: a line each, that can be taken out.
const lines = (name, figures, list, { least = 0, onGone, tell = () => "" }) => list.map((part, n) => {
  const line = document.createElement("li"), told = document.createElement("output");
  const called = `${name} ${n + 1}`;
  told.textContent = tell(part);
  line.append(called, ...figures.map(([words, min, max], k) => {
    const label = document.createElement("label"), input = document.createElement("input");
    Object.assign(input, { type: "number", min, max, step: "any", value: part[k] });
    input.setAttribute("aria-label", `${called}, ${words}`);
    input.oninput = () => {
      if (!input.validity.valid || input.value === "") return;
      part[k] = Number(input.value);
      told.textContent = tell(part);
      want();
    };
    label.append(words, input);
    return label;
  }));
  const away = document.createElement("button");
  Object.assign(away, { type: "button", textContent: "Take out", disabled: list.length <= least });
  away.setAttribute("aria-label", `Take ${called} out`);
  away.onclick = () => {
    list.splice(n, 1);
    onGone();
    want();
  };
  line.append(told, away);
  return line;
});
const showLoads = () => {
  by("loads").replaceChildren(...Object.entries(LOADS).flatMap(([kind, { name, figures }]) => lines(name, figures, wire()[kind] ?? [], {
    tell: (part) => (kind === "traps" ? `tuned to ${(1000 / (2 * Math.PI * Math.sqrt(part[1] * part[2]))).toFixed(2)} MHz` : ""),
    onGone: () => {
      if (!wire()[kind].length) delete wire()[kind];
      showLoads();
      document.querySelector(`[data-load="${kind}"]`).focus();
    },
  })));
};

// A free wire goes from point to point.
const POINT = [["east, m", -1000, 1000], ["north, m", -1000, 1000], ["up, m", 0, 1000]];
const showPoints = () => {
  const points = wire().points_m ?? [];
  by("of-points").hidden = !points.length;
  by("points").replaceChildren(...lines("Point", POINT, points, {
    least: 2,
    onGone: () => {
      showPoints();
      by("point-more").focus();
    },
  }));
};
const setPoint = (n, place) => {
  wire().points_m[n] = place.map((metres, k) => Math.round(10 * Math.min(Math.max(metres, POINT[k][1]), POINT[k][2])) / 10);
  showPoints();
  drawSketch();
  want();
};
by("point-more").onclick = () => {
  const points = wire().points_m, [one, two] = points.slice(-2);
  points.push(two.map((metres, k) => (k < 2 ? 2 * metres - one[k] : metres)));
  showPoints();
  want();
};
// What hangs now, as points, if it is one wire.
const asPoints = () => {
  const found = [];
  for (const piece of last?.sketch?.wires ?? []) {
    const [from, to] = [piece.slice(0, 3), piece.slice(3)];
    if (!found.length) found.push(from);
    else if (found.at(-1).some((metres, k) => Math.abs(metres - from[k]) > 0.01)) break;
    found.push(to);
  }
  // Fed where it is fed now.
  const lengths = found.slice(1).map((point, k) => Math.hypot(...point.map((metres, i) => metres - found[k][i])));
  const before = found.findIndex((point) => last.sketch.feed.every((metres, i) => Math.abs(metres - point[i]) < 0.05));
  const sum = (some) => some.reduce((whole, one) => whole + one, 0);
  const share = before < 1 ? 0 : Math.round((100 * sum(lengths.slice(0, before))) / sum(lengths)) / 100;
  const points = found.length > 6 ? [found[0], found[found.length >> 1], found.at(-1)] : found;
  const isLow = points.some((point) => point[2] < 0.1);
  if (points.length < 2 || isLow) return { points_m: [[0, -10, 8], [0, 10, 8]] };
  return { points_m: points.map((point) => point.map((metres) => Math.round(10 * metres) / 10)), ...(share <= 0.95 ? { feed_share: share } : {}) };
};

// The far end: what its kind has unless it is told otherwise.
const far = { kind: "usual", ...start.station.far_end };
for (const [key, value] of Object.entries(choices.kind[far.kind])) if (far[key] === value) delete far[key];
const showFar = () => {
  by("far-antenna").replaceChildren(new Option("as its kind", ""), ...choices.antenna.map((name) => new Option(name)),
    ...asked.setups.map((one) => new Option(`one like ${one.name}`, `setup:${one.name}`)));
  document.querySelectorAll("[data-far]").forEach((each) => {
    const { far: key } = each.dataset, usual = choices.kind[far.kind][key];
    each.value = far[key] ?? "";
    if (each.type === "number") each.placeholder = usual ?? 1;
  });
  if (far.setup) by("far-antenna").value = `setup:${far.setup}`;
};
document.querySelectorAll("[data-far]").forEach((each) => {
  each.onchange = () => {
    const { far: key } = each.dataset, own = each.value.startsWith("setup:");
    if (refused(each)) return;
    if (key === "kind") ["antenna", "noise", "power_w", "setup"].forEach((one) => delete far[one]);
    if (key === "antenna") delete far.setup;
    if (each.value === "" || own) delete far[key];
    else far[key] = each.type === "number" ? Number(each.value) : each.value;
    if (own) far.setup = each.value.slice(6);
    asked.station.far_end = far;
    showFar();
    want();
  };
});

// The horizon: one figure, or a skyline by azimuth, which rises.
const SKYLINE = [["azimuth, deg", 0, 360], ["up, deg", 0, 60]];
const skyline = structuredClone(start.station.horizon ?? []);
const showSkyline = () => {
  by("skyline").replaceChildren(...lines("Skyline", SKYLINE, skyline, { least: 2, onGone: () => {
    showSkyline();
    by("skyline-more").focus();
  } }));
  by("skyline-less").disabled = !skyline.length;
  by("ask-horizon_deg").disabled = skyline.length > 0;
};
const setSkyline = (points) => {
  skyline.splice(0, skyline.length, ...points);
  asked.station.horizon = skyline;
  showSkyline();
  want();
};
by("skyline").addEventListener("input", () => {
  asked.station.horizon = skyline;
});
by("skyline-more").onclick = () => {
  const up = Number(by("ask-horizon_deg").value) || 0;
  if (!skyline.length) return setSkyline([[0, up], [180, up]]);
  // In the middle of the widest gap.
  const gaps = skyline.map(([deg], n) => [((skyline[n + 1]?.[0] ?? skyline[0][0] + 360) - deg), n]);
  const [wide, n] = gaps.reduce((one, two) => (two[0] > one[0] ? two : one));
  const added = [Math.round(skyline[n][0] + wide / 2) % 360, skyline[n][1]];
  return setSkyline([...skyline, added].sort((one, two) => one[0] - two[0]));
};
by("skyline-less").onclick = () => setSkyline([]);
document.querySelectorAll("[data-load]").forEach((each) => {
  each.onclick = () => {
    const kind = each.dataset.load, along = last?.sketch ? Math.round(2.5 * last.sketch.length) / 10 : 5;
    wire()[kind] = [...(wire()[kind] ?? []), [along, ...LOADS[kind].fresh]];
    showLoads();
    want();
  };
});

by("wire-name").onchange = (event) => choose(Number(event.target.value));
by("wire-called").onchange = (event) => {
  const had = wire().name;
  wire().name = event.target.value.trim() || wire().shape;
  if (far.setup === had) far.setup = wire().name;
  showWire();
  want();
};
by("wire-more").onclick = () => {
  const copy = structuredClone(wire()), taken = asked.setups.map((one) => one.name);
  for (let n = 2; taken.includes(copy.name); n += 1) copy.name = `${wire().name} ${n}`;
  asked.setups.push(copy);
  choose(asked.setups.length - 1);
};
by("wire-less").onclick = () => {
  asked.setups.splice(asked.wire, 1);
  choose(Math.max(asked.wire - 1, 0));
};
document.querySelectorAll("[data-band]").forEach((each) => {
  each.onchange = () => {
    // A band that is not among those offered stays.
    const { band } = each.dataset, had = (wire().bands ?? start.station.bands).filter((one) => one !== band);
    wire().bands = each.checked ? [...had, band] : had;
    want();
  };
});
by("wire-shape").onchange = (event) => {
  // Only what every shape has is kept; what takes points begins with what hangs now.
  const { name, bands, bearing_deg } = wire(), shape = event.target.value;
  const points = choices.points.includes(shape) ? { ...asPoints(), bearing_deg: bearing_deg ?? "any" } : {};
  asked.setups[asked.wire] = { name, shape, ...(bands ? { bands } : {}), ...points };
  showWire();
  want();
};
by("best-way").onclick = () => {
  wire().bearing_deg = "any";
  want();
};
const refused = (each) => {
  if (each.validity.valid) return false;
  say(`${each.labels[0]?.textContent.trim() ?? each.name}: ${each.validationMessage}`, true);
  return true;
};
document.querySelectorAll("[data-feed]").forEach((each) => {
  each.onchange = () => {
    const key = each.dataset.feed;
    if (refused(each)) return;
    if (each.value === "") delete wire()[key];
    else if (key === "tuner") wire()[key] = false;
    else wire()[key] = each.type === "number" ? Number(each.value) : each.value;
    want();
  };
});
document.querySelectorAll("[data-key]").forEach((each) => {
  each.onchange = () => {
    if (refused(each)) return;
    asked.station[each.dataset.key] = each.type === "number" ? Number(each.value) : each.value;
    want();
  };
});
by("ask-to").onchange = () => {
  asked.to = by("ask-to").value.split(";").map((each) => each.trim()).filter((each) => each);
  want();
};
by("ask-date").onchange = () => {
  if (by("ask-date").value) asked.date = by("ask-date").value.slice(0, 16);
  want();
};
document.querySelectorAll("[data-write]").forEach((each) => {
  each.onclick = async () => {
    say("Writing.");
    try {
      const reply = await send("write", { what: each.dataset.write });
      const told = await reply.json();
      say(told.said || told.error, !told.said);
    } catch {
      say("It could not be written.", true);
    }
  };
});

// While this page is open the program stays.
const here = new EventSource("events");
addEventListener("pagehide", () => here.close());
showWire();
showSkyline();
want();
