"use strict";
(() => {
const data = JSON.parse(document.getElementById("data").textContent);
const el = id => document.getElementById(id);
const dash = "–", height = 30;
const of = (column, row) => data[column][data.crater[row]];

// number shows three significant digits, a dash for what is missing.
const number = v => v === null ? dash : v !== 0 && Math.abs(v) < 1e-3 ? Number(v.toPrecision(2)).toExponential() : Number(v.toPrecision(3)).toString();
const chance = v => v !== null && v < 1e-12 ? "< 1e-12" : number(v);
const fixed = (v, n) => v === null ? dash : v.toFixed(n);

// Each column: heading, is it a number, what sorts it, what it shows.
const columns = [
  ["rank", true, r => of("rank", r) || null, r => of("rank", r) || dash],
  ["crater", false, r => label(data.crater[r]), null],
  ["species", false, r => data.speciesNames[data.species[r]], r => species(r)],
  ["status", false, r => data.statusNames[data.status[r]], r => data.statusNames[data.status[r]]],
  ["pattern", false, r => data.patternNames[data.pattern[r]], r => data.patternNames[data.pattern[r]] || dash],
  ["alarms", false, r => data.alarmNames[data.alarms[r]], r => data.alarmNames[data.alarms[r]] || dash],
  ["excess", true, r => data.excess[r], r => number(data.excess[r])],
  ["excess\nover s.e.", true, r => data.z[r], r => fixed(data.z[r], 1)],
  ["excess at\nthe rim", true, r => data.rim[r], r => number(data.rim[r])],
  ["q of the\nblanket", true, r => data.q[r], r => chance(data.q[r])],
  ["upper limit\n95 %", true, r => data.limit[r], r => number(data.limit[r])],
  ["axis\n(degrees)", true, r => data.axis[r], r => fixed(data.axis[r], 0)],
  ["q of the\ndirection", true, r => data.asym[r], r => chance(data.asym[r])],
  ["radius\n(km)", true, r => of("radius", r), r => number(of("radius", r))],
  ["longitude\n(° east)", true, r => of("lon", r), r => fixed(of("lon", r), 2)],
  ["latitude\n(°)", true, r => of("lat", r), r => fixed(of("lat", r), 2)],
];
const total = data.crater ? data.crater.length : 0;
const needles = (data.ids || []).map((id, c) => (id + "\n" + data.names[c]).toLowerCase());
let order = Uint32Array.from({length: total}, (_, i) => i);
let sortBy = 0, down = false;

function label(c) {
  const id = data.ids[c], name = data.names[c];
  return name && name !== id ? name + " (" + id + ")" : id;
}
function species(r) {
  const s = data.species[r], unit = data.units[s];
  return data.speciesNames[s] + (unit ? " (" + unit + ")" : "");
}
function make(tag, words, className) {
  const node = document.createElement(tag);
  if (words !== undefined) node.textContent = words;
  if (className) node.className = className;
  return node;
}

// Missing values come last whichever way the order goes.
function sort() {
  const key = columns[sortBy][2], keys = new Array(total);
  for (const r of order) keys[r] = key(r);
  const sign = down ? -1 : 1, numeric = columns[sortBy][1];
  const compare = numeric ? (a, b) => a - b : (a, b) => a < b ? -1 : a > b ? 1 : 0;
  const missing = v => v === null || v === undefined || v === "";
  order.sort((a, b) => {
    const x = keys[a], y = keys[b], mx = missing(x), my = missing(y);
    if (mx || my) return mx - my || a - b;
    return sign * compare(x, y) || a - b;
  });
}
function filter() {
  const words = el("f-text").value.trim().toLowerCase(), pick = id => el(id).value;
  const sp = pick("f-species"), pat = pick("f-pattern"), st = pick("f-status"), al = pick("f-alarms"), q = parseFloat(pick("f-q"));
  const hit = words ? needles.map(n => n.includes(words)) : null, kept = [];
  for (let r = 0; r < total; r++) {
    if (hit && !hit[data.crater[r]]) continue;
    if (sp !== "" && data.species[r] !== +sp || pat !== "" && data.pattern[r] !== +pat || st !== "" && data.status[r] !== +st) continue;
    if (al !== "" && (data.alarmNames[data.alarms[r]] !== "") !== (al === "some")) continue;
    if (!isNaN(q) && !(data.q[r] !== null && data.q[r] <= q)) continue;
    kept.push(r);
  }
  order = Uint32Array.from(kept);
}

// Only the rows in sight exist; two empty rows hold the place of the others.
const grid = el("grid"), body = el("rows");
function spacer(rows) {
  const tr = make("tr", undefined, "gap"), td = make("td");
  tr.setAttribute("aria-hidden", "true");
  td.colSpan = columns.length;
  td.style.height = rows * height + "px";
  tr.append(td);
  return tr;
}
function cell(r, k) {
  const [, numeric, , show] = columns[k], td = make("td", undefined, numeric ? "n" : "");
  if (show) {
    td.textContent = show(r);
    const about = k >= 3 && k <= 5 ? String(td.textContent).split(" ").map(w => data.words[w] ? w + ": " + data.words[w] : "").filter(Boolean).join("\n") : "";
    if (about) td.title = about;
    return td;
  }
  const c = data.crater[r], open = make("button", label(c), "open");
  open.type = "button";
  open.title = label(c);
  open.addEventListener("click", () => show_crater(c));
  td.append(open);
  return td;
}
let shown = "";
function draw(force) {
  const from = Math.max(0, Math.floor(grid.scrollTop / height) - 10);
  const to = Math.min(order.length, from + Math.ceil(grid.clientHeight / height) + 20);
  if (!force && shown === from + " " + to) return;
  shown = from + " " + to;
  const rows = [spacer(from)];
  for (let i = from; i < to; i++) {
    const tr = make("tr");
    tr.setAttribute("aria-rowindex", i + 2);
    for (let k = 0; k < columns.length; k++) tr.append(cell(order[i], k));
    rows.push(tr);
  }
  rows.push(spacer(order.length - to));
  const focused = document.activeElement && body.contains(document.activeElement) ? document.activeElement.textContent : null;
  body.replaceChildren(...rows);
  if (focused !== null) {
    const again = [...body.querySelectorAll(".open")].find(b => b.textContent === focused);
    (again || grid).focus({preventScroll: true});
  }
}
function refresh() {
  filter();
  sort();
  heads();
  el("table").setAttribute("aria-rowcount", order.length + 1);
  el("count").textContent = order.length + " of " + total + " rows, sorted by " + columns[sortBy][0].replace("\n", " ") + (down ? ", falling" : ", rising");
  grid.scrollTop = 0;
  fit();
  draw(true);
}
// The table is no taller than its rows.
function fit() {
  const bars = grid.offsetHeight - grid.clientHeight, head = el("head").offsetHeight || 50;
  grid.style.height = Math.min(32 * parseFloat(getComputedStyle(document.documentElement).fontSize), head + Math.max(order.length, 1) * height + bars + 2) + "px";
}
function heads() {
  columns.forEach(([name, numeric], k) => {
    const th = el("head").children[k];
    th.setAttribute("aria-sort", k !== sortBy ? "none" : down ? "descending" : "ascending");
    th.firstChild.textContent = name + (k !== sortBy ? "" : down ? " ▾" : " ▴");
  });
}

// A crater with a sheet is opened on the page, any other on a card.
function show_crater(c) {
  if (data.sheet[c]) {
    location.hash = "crater-" + (data.sheet[c] - 1);
    const sheet = el("crater-" + (data.sheet[c] - 1));
    if (sheet) sheet.focus();
    return;
  }
  el("card-h").textContent = label(c);
  const table = make("table");
  const findings = [];
  for (let r = 0; r < total; r++) if (data.crater[r] === c) findings.push(r);
  columns.forEach(([name, , , show], k) => {
    if (!show) return;
    const tr = make("tr"), th = make("th", name.replace("\n", " "));
    th.scope = "row";
    tr.append(th);
    for (const r of findings) tr.append(cell(r, k));
    table.append(tr);
  });
  const box = make("div", undefined, "scroll");
  box.append(table);
  el("card-body").replaceChildren(box);
  el("card-hint").textContent = "No sheet of this crater is in the page. The command “rimcast profile” with the id " + data.ids[c] + " draws its figures.";
  el("card").showModal();
}

// A click on the map opens the nearest crater within twelve pixels.
function onMap(event) {
  const box = el("mapbox"), size = box.getBoundingClientRect();
  if (event.target.closest && event.target.closest("a")) return;
  const list = key => box.dataset[key].split(" ").map(Number);
  const [w, h] = list("view"), [x0, y0, x1, y1] = list("frame"), [west, east, south, north] = list("region");
  const x = (event.clientX - size.left) * w / size.width, y = (event.clientY - size.top) * h / size.height;
  let best = -1, least = (12 * w / size.width) ** 2;
  for (let c = 0; c < data.ids.length; c++) {
    const px = x0 + (x1 - x0) * (data.lon[c] - west) / (east - west), py = y1 - (y1 - y0) * (data.lat[c] - south) / (north - south);
    const d = (px - x) ** 2 + (py - y) ** 2;
    if (d < least) [best, least] = [c, d];
  }
  if (best >= 0) show_crater(best);
}

function options(id, names) {
  names.forEach((name, i) => {
    const o = make("option", name || "not tested");
    o.value = i;
    el(id).append(o);
  });
}
options("f-species", data.speciesNames);
options("f-pattern", data.patternNames);
options("f-status", data.statusNames);
columns.forEach(([, numeric], k) => {
  const th = make("th", undefined, numeric ? "n" : ""), b = make("button");
  b.type = "button";
  b.addEventListener("click", () => {
    down = sortBy === k ? !down : false;
    sortBy = k;
    refresh();
  });
  th.scope = "col";
  th.append(b);
  el("head").append(th);
});
let wait = 0;
el("tools").addEventListener("input", () => { clearTimeout(wait); wait = setTimeout(refresh, 80); });
el("tools").addEventListener("reset", () => setTimeout(refresh));
el("tools").addEventListener("submit", e => e.preventDefault());
grid.addEventListener("scroll", () => requestAnimationFrame(() => draw(false)), {passive: true});
addEventListener("resize", () => { fit(); draw(true); });
addEventListener("beforeprint", () => document.querySelectorAll("details:not(.quiet)").forEach(d => { d.open = true; }));
if (el("mapbox")) el("mapbox").addEventListener("click", onMap);
refresh();
})();
