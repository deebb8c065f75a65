// The live page: what is changed goes to the server on this machine, what comes back
// moves every picture. A first answer comes for the bearing set, the whole follows.
import { sketch } from "./sketch.js";

const by = (id) => document.getElementById(id);
const { start } = JSON.parse(by("live-start").textContent);
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
  if (last) sketch(last, wire(), bearingOf(last), { onTurn: worldMap.turnTo, onSize: setSize });
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
  by("map-words").textContent = `${bands[shown.band]} at ${hours[shown.t]}: ${worldMap.KEY}${shown.wire === null ? "" : worldMap.TURN}; click a place to make it the target.`;
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

by("wire-name").onchange = (event) => {
  asked.wire = Number(event.target.value);
  showFeed();
  want();
};
by("wire-shape").onchange = (event) => {
  // Only what every shape has is kept.
  const { name, bands } = wire();
  asked.setups[asked.wire] = { name, shape: event.target.value, ...(bands ? { bands } : {}) };
  showFeed();
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
showFeed();
want();
