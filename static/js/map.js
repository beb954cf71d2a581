// The map of the network (circuits/map.html). Where it lies is fetched once a revision, how it stands at every "look again" of
// live.js. Lines and devices are drawn from two sources for good; what is not energized, and the devices of which there is
// something to say, are hidden there and drawn from small ones.
const box = document.getElementById("map");
const said = document.getElementById("map-said");
const here = document.getElementById("map-here");
const PHASES = ["A", "B", "C"];
const NEAR = 15;  // from this zoom on, a stroke a phase
const MIDDLE = 13;  // from this zoom on, what is open as it normally is
const APART = 5;  // pixels between two phases
const [ENERGIZED, BACKFED, GENERATOR, DEENERGIZED] = [0, 1, 2, 3];  // circuits.core.trace.Answer, the most voltage first
const LOOKS = {
  [BACKFED]: {colour: "--now", width: 3, dash: [0, 2]},
  [GENERATOR]: {colour: "--soon", width: 3, dash: [3, 1.4, 0, 1.4]},
  [DEENERGIZED]: {colour: "--ink", width: 2.5, dash: [3.2, 2.4], cap: "butt"},
};
const colour = (name) => getComputedStyle(document.body).getPropertyValue(name).trim();
const page = (device) => box.dataset.device.replace("ID", encodeURIComponent(device));

let map, lie, stand, etag, every;
const hidden = {lines: new Set(), quiet: new Set()};  // the numbers that are drawn from the small sources instead
let placed = [];  // the labels that are on the map now

const at = (place) => [0, 1].map((axis) => (lie.corner[axis] + lie.places[2 * place + axis]) / 1e6);
const line = (number) => lie.lines.slice(6 * number, 6 * number + 6);
const drawn = (features) => ({type: "FeatureCollection", features});
const between = (start, end) => ({type: "LineString", coordinates: [at(start), at(end)]});
const point = (place) => ({type: "Point", coordinates: at(place)});

function answers(number) {
  return PHASES.map((phase, i) => [phase, lie.lines[6 * number + 3 + i]]).filter(([, section]) => section >= 0)
    .map(([phase, section]) => [phase, Number(stand.sections[section])]);
}

function words(number) {
  const [start, end, circuit] = line(number);
  const phases = new Map();
  for (const [phase, answer] of answers(number)) phases.set(answer, [...(phases.get(answer) || []), phase]);
  const states = [...phases].map(([answer, found]) => `${found.join(", ")}: ${stand.answers[answer]}`).join("; ");
  const street = lie.streets[lie.street[end]];
  return `${lie.names[start]} to ${lie.names[end]}${street ? `, ${street}` : ""}${circuit >= 0 ? `, ${lie.circuits[circuit][1]}` : ""}. ${states}.`;
}

function lines() {
  return Array.from({length: lie.lines.length / 6}, (_, number) => {
    const [start, end, , ...sections] = line(number);
    const phases = PHASES.filter((_, i) => sections[i] >= 0).join("");
    return {type: "Feature", id: number, properties: {phases, count: phases.length}, geometry: between(start, end)};
  });
}

// Lines of which some phase is not energized: a piece a phase for near, one for afar.
function cut() {
  const dead = new Set();
  for (let section = 0; section < stand.sections.length; section++) if (stand.sections[section] !== "0") dead.add(section);
  const out = [];
  const now = new Set();
  for (let number = 0; dead.size && number < lie.lines.length / 6; number++) {
    const [start, end, , ...sections] = line(number);
    if (!sections.some((section) => dead.has(section))) continue;
    now.add(number);
    const geometry = between(start, end);
    const found = answers(number);
    for (const [phase, answer] of found) out.push({type: "Feature", geometry, properties: {near: 1, answer, offset: APART * (PHASES.indexOf(phase) - 1)}});
    out.push({type: "Feature", geometry, properties: {near: 0, answer: Math.min(...found.map(([, answer]) => answer)), offset: 0}});
  }
  hide("lines", now);
  return drawn(out);
}

function hide(source, now) {
  for (const id of hidden[source]) if (!now.has(id)) map.removeFeatureState({source, id});
  for (const id of now) if (!hidden[source].has(id)) map.setFeatureState({source, id}, {hidden: true});
  hidden[source] = now;
}

// Every device closed and quiet; several at one pole stand side by side.
function devices() {
  const beside = new Map();
  return lie.devices.map(([, place], number) => {
    const nth = beside.get(place) || 0;
    beside.set(place, nth + 1);
    return {type: "Feature", id: number, geometry: point(place), properties: {number, icon: "closed", offset: [13 * nth, 0]}};
  });
}

// Those that are open on some phase, tagged, or out of their normal position.
function loud() {
  const moved = new Set(stand.moved);
  const now = new Set();
  lie.devices.forEach(([id], number) => { if (id in stand.open || id in stand.tags || id in stand.notes || moved.has(id)) now.add(number); });
  hide("quiet", now);
  return drawn([...now].map((number) => {
    const [id, , phases] = lie.devices[number];
    const open = stand.open[id] || "";
    const state = open.length === phases.length ? "open" : open ? "half" : "closed";
    const {geometry, properties} = every[number];
    const normal = !(id in stand.tags || moved.has(id));
    return {type: "Feature", geometry, properties: {...properties, normal, icon: id in stand.tags ? `${state}-tagged` : state}};
  }));
}

function bands() {
  return drawn(stand.bands.flatMap((band) => [
    ...band.pairs.map(([start, end]) => ({type: "Feature", properties: {}, geometry: between(start, end)})),
    ...band.alone.map((place) => ({type: "Feature", properties: {}, geometry: point(place)})),
  ]));
}

function icon(state, tagged) {
  const canvas = Object.assign(document.createElement("canvas"), {width: tagged ? 44 : 24, height: 24});
  const pen = canvas.getContext("2d");
  [pen.fillStyle, pen.strokeStyle, pen.lineWidth] = [colour("--raised"), colour("--ink"), 3];
  if (tagged) {  // the shape of a tag behind it
    pen.stroke(new Path2D("M12 4h20l9 8l-9 8h-20z"));
    pen.fill(new Path2D("M12 4h20l9 8l-9 8h-20z"));
  }
  pen.fillRect(3, 3, 18, 18);
  pen.strokeRect(3, 3, 18, 18);
  pen.fillStyle = colour("--ink");
  if (state !== "open") pen.fillRect(3, 3, state === "half" ? 9 : 18, 18);
  return pen.getImageData(0, 0, canvas.width, canvas.height);
}

function layers() {
  const wide = (low, high) => ["interpolate", ["exponential", 1.4], ["zoom"], 11, low, 18, high];
  const shown = ["case", ["boolean", ["feature-state", "hidden"], false], 0, 1];
  const round = {"line-cap": "round"};
  const found = [
    {id: "ground", type: "background", paint: {"background-color": "--raised"}},
    {id: "edge", type: "line", source: "bands", layout: round, paint: {"line-color": "--band-line", "line-width": wide(8, 37)}},
    {id: "held", type: "line", source: "bands", layout: round, paint: {"line-color": "--band", "line-width": wide(6, 34)}},
    {id: "held-pole", type: "circle", source: "bands", filter: ["==", ["geometry-type"], "Point"], paint: {"circle-color": "--band", "circle-stroke-color": "--band-line", "circle-stroke-width": 1.5, "circle-radius": wide(4, 17)}},
    {id: "far", type: "line", source: "lines", maxzoom: NEAR, layout: round, paint: {"line-color": "--muted", "line-opacity": shown, "line-width": ["interpolate", ["linear"], ["zoom"], 11, ["*", 0.5, ["get", "count"]], NEAR, ["*", 1.1, ["get", "count"]]]}},
    ...PHASES.map((phase, i) => ({id: `near-${phase}`, type: "line", source: "lines", minzoom: NEAR, filter: ["in", phase, ["get", "phases"]], layout: round, paint: {"line-color": "--muted", "line-opacity": shown, "line-width": 2, "line-offset": APART * (i - 1)}})),
  ];
  for (const near of [0, 1]) {
    const zooms = near ? {minzoom: NEAR} : {maxzoom: NEAR};
    const of = (answer) => ["all", ["==", ["get", "near"], near], ["==", ["get", "answer"], answer]];
    found.push({id: `${ENERGIZED}-${near}`, type: "line", source: "cut", ...zooms, filter: of(ENERGIZED), layout: round, paint: {"line-color": "--muted", "line-width": 2, "line-offset": ["get", "offset"]}});
    for (const [answer, {colour, width, dash, cap = "round"}] of Object.entries(LOOKS))
      found.push({id: `${answer}-${near}`, type: "line", source: "cut", ...zooms, filter: of(Number(answer)), layout: {"line-cap": cap}, paint: {"line-color": colour, "line-width": width, "line-dasharray": dash, "line-offset": ["get", "offset"]}});
  }
  const symbols = {"icon-image": ["get", "icon"], "icon-allow-overlap": true, "icon-ignore-placement": true, "icon-offset": ["array", "number", 2, ["get", "offset"]]};
  found.push({id: "quiet", type: "symbol", source: "quiet", minzoom: NEAR, layout: symbols, paint: {"icon-opacity": shown}});
  found.push({id: "normal", type: "symbol", source: "loud", minzoom: MIDDLE, filter: ["get", "normal"], layout: symbols});
  found.push({id: "loud", type: "symbol", source: "loud", filter: ["!", ["get", "normal"]], layout: symbols});
  return found;
}

// The colours are those of the page, by day and by night.
function inked(layer) {
  const paint = Object.entries(layer.paint || {}).map(([name, value]) => [name, typeof value === "string" ? colour(value) : value]);
  return {...layer, paint: Object.fromEntries(paint)};
}

function style() {
  every = devices();
  const data = {lines: drawn(lines()), cut: drawn([]), quiet: drawn(every), loud: drawn([]), bands: drawn([])};
  const sources = Object.entries(data).map(([name, found]) => [name, {type: "geojson", data: found, maxzoom: 16}]);
  return {version: 8, sources: Object.fromEntries(sources), layers: layers().map(inked)};
}

function icons() {
  for (const state of ["closed", "open", "half"]) for (const tagged of [false, true]) {
    const name = tagged ? `${state}-tagged` : state;
    if (map.hasImage(name)) map.updateImage(name, icon(state, tagged)); else map.addImage(name, icon(state, tagged), {pixelRatio: 2});
  }
}

function renew() {
  map.getSource("cut").setData(cut());
  map.getSource("loud").setData(loud());
  map.getSource("bands").setData(bands());
  label();
}

// Which places are in view.
function view() {
  const [west, south, east, north] = map.getBounds().toArray().flat().map((degrees, i) => degrees * 1e6 - lie.corner[i % 2]);
  return (place) => lie.places[2 * place] >= west && lie.places[2 * place] <= east && lie.places[2 * place + 1] >= south && lie.places[2 * place + 1] <= north;
}

// What may stand beside its place, the weightiest first: [place, words, class, address].
function* labels() {
  const zoom = map.getZoom();
  const seen = view();
  const sought = found();
  if (sought && !sought.id) yield [sought.place, lie.names[sought.place], "mark found"];
  for (const {words, pairs, alone} of stand.bands) if (pairs.length || alone.length) yield [pairs.length ? pairs[Math.floor(pairs.length / 2)][0] : alone[0], words, "mark held"];
  const moved = new Set(stand.moved);
  const weight = (id) => id === sought?.id ? 0 : id in stand.tags || id in stand.notes ? 1 : moved.has(id) ? 2 : 3;
  const told = [...hidden.quiet].map((number) => lie.devices[number]).filter(([id]) => zoom >= MIDDLE || weight(id) < 3);
  if (sought?.id && !told.some(([id]) => id === sought.id)) told.push(lie.devices.find(([id]) => id === sought.id));
  for (const [id, place, phases] of told.sort(([one], [other]) => weight(one) - weight(other))) {
    const open = stand.open[id];
    const stands = open ? ` ${[...open].join(" ")} open` : moved.has(id) ? ` ${[...phases].join(" ")} closed` : "";
    const tags = id in stand.tags ? ` · tag ${stand.tags[id].join(", ")}` : "";
    const notes = (stand.notes[id] ?? []).map((words) => ` · ${words}`).join("");
    yield [place, `${id}${stands}${tags}${notes}`, `mark loud${id === sought?.id ? " found" : ""}`, page(id)];
  }
  for (const place of lie.stations) yield [place, lie.names[place], "mark loud"];
  if (zoom < NEAR) return;
  if (zoom >= 16) for (const [number, [id, place]] of lie.devices.entries()) if (seen(place) && !hidden.quiet.has(number)) yield [place, id, "mark", page(id)];
  const streets = new Map();
  const near = [...lie.names.keys()].filter(seen);
  for (const place of near) streets.set(lie.street[place], [...(streets.get(lie.street[place]) || []), place]);
  for (const [street, places] of streets) if (street) yield [places[Math.floor(places.length / 2)], lie.streets[street], "mark street"];
  if (zoom >= 16.5) for (const place of near) yield [place, lie.names[place], "mark pole"];
}

// Labels that do not lie over each other, no more than can be read.
function label() {
  for (const marker of placed) marker.remove();
  placed = [];
  const taken = [];
  const {width, height} = box.getBoundingClientRect();
  for (const [place, text, name, address] of labels()) {
    const {x, y} = map.project(at(place));
    if (x < 0 || y < 0 || x > width || y > height) continue;
    if (placed.length >= 80) break;
    const half = 3.8 * text.length + 8;
    const free = (down) => {
      const [left, top, right, bottom] = [x - half, y + down - 9, x + half, y + down + 9];
      return left >= 0 && right <= width && top >= 0 && bottom <= height && taken.every((other) => left >= other[2] || other[0] >= right || top >= other[3] || other[1] >= bottom) && taken.push([left, top, right, bottom]);
    };
    const down = (name === "mark pole" ? [16] : name.includes("street") ? [-18] : [-18, 18, -38, 38]).find(free);
    if (down === undefined) continue;
    const element = document.createElement(address ? "a" : "span");
    element.className = name;
    element.textContent = text;
    if (address) element.href = address;
    placed.push(new maplibregl.Marker({element, offset: [0, down]}).setLngLat(at(place)).addTo(map));
    element.removeAttribute("aria-label");  // MapLibre would call every one of them "Map marker"
  }
}

// What the address asks for: #device-C-208 or #pole-P-208.
function found() {
  const [, kind, id] = decodeURIComponent(location.hash).match(/^#(device|transformer|pole)-(.+)$/) || [];
  if (kind === "device") {
    const device = lie.devices.find(([name]) => name === id);
    return device ? {id, place: device[1]} : null;
  }
  const place = kind ? lie.ids.indexOf(id) : -1;
  return place >= 0 ? {place} : null;
}

function goto() {
  const sought = found();
  if (sought) { map.jumpTo({center: at(sought.place), zoom: 17}); box.scrollIntoView({block: "nearest"}); label(); }
  else if (location.hash.length > 1) said.textContent = `${decodeURIComponent(location.hash).replace(/^#[a-z]+-/, "")} has no place on the map.`;
}

function press({point: {x, y}}) {
  const area = [[x - 9, y - 9], [x + 9, y + 9]];
  const hit = map.queryRenderedFeatures(area, {layers: ["quiet", "normal", "loud"]}).map((feature) => lie.devices[feature.properties.number][0]);
  const ids = [...new Set(hit)];
  if (ids.length === 1) { location.assign(page(ids[0])); return; }
  if (ids.length) {
    here.replaceChildren("Several devices here: ", ...ids.flatMap((id) => [Object.assign(document.createElement("a"), {href: page(id), textContent: id}), " "]));
    return;
  }
  const near = map.queryRenderedFeatures(area, {layers: ["far", "near-A", "near-B", "near-C"]}).map((feature) => feature.id);
  const all = [...new Set(near)];
  here.textContent = all.length ? all.slice(0, 4).map(words).join(" ") : "Nothing of the network is here.";
}

async function ask(address, known) {
  const answer = await fetch(address, known ? {cache: "no-store", headers: {"If-None-Match": known}} : {});
  if (answer.status !== 304 && !answer.ok) throw new Error(`${address} answered ${answer.status}`);
  return answer;
}

async function read() {
  const answer = await ask(box.dataset.state, etag);
  if (answer.status === 304) return false;
  etag = answer.headers.get("ETag");
  stand = await answer.json();
  return true;
}

async function look() {
  try {
    if (await read()) {
      if (stand.revision !== lie.revision) location.reload();
      else renew();
    }
    said.textContent = "";
  } catch {
    const clock = new Intl.DateTimeFormat("en-GB", {hour: "2-digit", minute: "2-digit", timeZone: document.body.dataset.zone || undefined});
    said.textContent = `The map could not be renewed at ${clock.format(Date.now())}: it may be old.`;
  }
}

async function start() {
  [lie] = await Promise.all([ask(box.dataset.network).then((answer) => answer.json()), read()]);
  if (!lie.places.length) { said.textContent = "Nothing of the network has coordinates, so there is no map."; return; }
  const ends = [0, 1].map((axis) => lie.places.filter((_, i) => i % 2 === axis));
  const corners = [Math.min, Math.max].map((pick) => [0, 1].map((axis) => (lie.corner[axis] + ends[axis].reduce((one, other) => pick(one, other))) / 1e6));
  box.replaceChildren();
  map = new maplibregl.Map({container: box, style: style(), bounds: corners, fitBoundsOptions: {padding: 40}, maxZoom: 20, attributionControl: false, dragRotate: false, pitchWithRotate: false, fadeDuration: 0});
  map.touchZoomRotate.disableRotation();
  map.keyboard.disableRotation();
  map.addControl(new maplibregl.NavigationControl({showCompass: false}));
  map.addControl(new maplibregl.ScaleControl({unit: "imperial"}));
  map.once("load", () => {
    icons();
    renew();
    goto();
    map.on("moveend", label);
    map.on("click", press);
    addEventListener("hashchange", goto);
    document.addEventListener("board:look", look);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      for (const layer of layers().map(inked)) for (const [name, value] of Object.entries(layer.paint)) map.setPaintProperty(layer.id, name, value);
      icons();
    });
    map.once("idle", () => { box.dataset.drawn = ""; });
  });
}

start().catch((error) => {
  box.replaceChildren();
  said.textContent = "The map can't be drawn in this browser, or the board did not answer: the lists say the same.";
  console.warn(error);
});
