// The map and what is always on it.
const map = L.map("map", {
  crs: L.CRS.Simple, attributionControl: false, minZoom: -8, maxZoom: 4, zoomSnap: 0.25, zoomAnimation: false,
  renderer: L.svg({ padding: 0.5 }), keyboardPanDelta: 100,
});
const whole = [[0, 0], [DATA.size_m[1], DATA.size_m[0]]];
map.fitBounds(whole);
const layers = {};
const PX_PER_MM = 2.6;

function pane(name, level) {
  map.createPane(name).style.zIndex = level;
  return name;
}
for (const [name, level] of [["limits", 410], ["waters", 420], ["givers", 405], ["course", 440], ["marks", 610]]) pane(name, level);

const lineStyle = (id, paneName) => ({
  color: LINE[id].colour, weight: LINE[id].width_mm * PX_PER_MM, fill: false, interactive: false, className: id, pane: paneName,
  dashArray: LINE[id].dash_mm.map((mm) => mm * PX_PER_MM).join(" ") || null, lineCap: id === "path" ? "round" : "butt",
});

function drawGround() {
  layers.ground = L.imageOverlay(DATA.shade.uri, whole, { alt: "", className: "ground" }).addTo(map);
}

function drawParcels() {
  layers.parcels = L.layerGroup().addTo(map);
  for (const road of DATA.roads) {
    L.polygon(road.rings.map(unpack), { color: "#888", weight: 0.6, fillColor: "#e4e4e4", fillOpacity: 0.7, interactive: false }).addTo(layers.parcels);
  }
  for (const parcel of DATA.parcels) {
    const style = STYLE[parcel.style];
    L.polygon(parcel.polygons, {
      color: PALETTE.outline, weight: 1, fillOpacity: style.pattern === "plain" ? 0.8 : 0.9, interactive: false,
      fillColor: style.pattern === "plain" ? style.fill : `url(#fill-${style.id})`,
    }).addTo(layers.parcels);
  }
  layers.marks = L.layerGroup().addTo(map);
}

// Marks only where the parcel is large enough on the screen to hold one.
function drawMarks() {
  layers.marks.clearLayers();
  if (!map.hasLayer(layers.parcels)) return;
  const view = map.getBounds(), scale = map.getZoomScale(map.getZoom(), 0);
  for (const parcel of DATA.parcels) {
    const [south, west, north, east] = parcel.box;
    if (Math.min(north - south, east - west) * scale < 26) continue;
    if (!view.intersects([[south, west], [north, east]])) continue;
    const style = STYLE[parcel.style];
    const icon = L.divIcon({ className: "mark", html: make("span", {}, style.mark), iconSize: [36, 20] });
    const marker = L.marker([(south + north) / 2, (west + east) / 2], { icon, interactive: false, keyboard: false, pane: "marks" });
    marker.addTo(layers.marks).getElement().style.color = style.text;
  }
}

function drawWaters() {
  layers.limits = L.layerGroup().addTo(map);
  for (const limit of DATA.limits) {
    L.polyline(limit.rings.map(unpack), lineStyle("watershed", "limits")).addTo(layers.limits);
  }
  layers.waters = L.layerGroup().addTo(map);
  for (const water of DATA.waters) {
    const shore = { ...lineStyle(water.style, "waters"), className: "shore", dashArray: null, weight: 1.5 };
    L.polygon(water.rings.map(unpack), { ...shore, fill: true, fillColor: LINE[water.style].colour, fillOpacity: 0.25 }).addTo(layers.waters);
  }
  for (const channel of DATA.channels) {
    L.polyline(unpack(channel.points), lineStyle(channel.style, "waters")).addTo(layers.waters);
  }
  for (const structure of DATA.structures) {
    const points = unpack(structure.points);
    L.polyline(points, { ...lineStyle("structure", "waters"), color: "#fff", weight: 6 }).addTo(layers.waters);
    L.polyline(points, lineStyle("structure", "waters")).addTo(layers.waters);
  }
}

function drawDoubts() {
  layers.doubts = L.layerGroup();
  for (const doubt of DATA.doubts) {
    const icon = L.divIcon({ className: "check", html: make("span", {}, "!"), iconSize: [20, 20] });
    const marker = L.marker([doubt.at[1] / 10, doubt.at[0] / 10], { icon, keyboard: true, alt: doubt.what, title: doubt.what, pane: "marks" });
    marker.on("click", () => showDoubt(doubt)).on("keypress", (event) => {
      if (event.originalEvent.key === "Enter") showDoubt(doubt);
    });
    marker.addTo(layers.doubts);
    marker.on("add", () => marker.getElement() && marker.getElement().setAttribute("aria-label", doubt.what));
    if (doubt.points.length > 2) {
      L.polyline(unpack(doubt.points), { color: "#111", weight: 3, interactive: false, pane: "waters", fill: false }).addTo(layers.doubts);
    }
  }
}

// Fill patterns and arrow heads, used by the map and the legend.
function definitions() {
  const defs = makeSvg("defs");
  for (const style of PALETTE.standings.filter((style) => style.pattern !== "plain")) {
    const pattern = makeSvg("pattern", { id: `fill-${style.id}`, width: 8, height: 8, patternUnits: "userSpaceOnUse" });
    pattern.append(makeSvg("rect", { width: 8, height: 8, fill: style.fill }));
    if (style.pattern === "dots") pattern.append(makeSvg("circle", { cx: 4, cy: 4, r: 0.9, fill: style.over }));
    else pattern.append(makeSvg("path", { d: "M-2 2 L2 -2 M0 8 L8 0 M6 10 L10 6", stroke: style.over, "stroke-width": 2 }));
    defs.append(pattern);
  }
  for (const style of PALETTE.lines.filter((style) => style.arrow)) {
    defs.append(makeSvg("marker", {
      id: `arrow-${style.id}`, viewBox: "0 0 10 10", refX: 8, refY: 5, markerWidth: 9, markerHeight: 9, orient: "auto", markerUnits: "userSpaceOnUse",
    }, makeSvg("path", { d: "M0 0 L10 5 L0 10 z", fill: style.colour })));
  }
  document.body.prepend(makeSvg("svg", { width: 0, height: 0, "aria-hidden": "true" }, defs));
}

function showLegend() {
  const legend = document.getElementById("legend");
  const swatch = (...shapes) => makeSvg("svg", { width: 34, height: 20, "aria-hidden": "true" }, ...shapes);
  for (const style of PALETTE.standings) {
    const count = DATA.parcels.filter((parcel) => parcel.style === style.id).length;
    if (count === 0) continue;
    const fill = style.pattern === "plain" ? style.fill : `url(#fill-${style.id})`;
    const mark = makeSvg("text", { x: 17, y: 15, "text-anchor": "middle", "font-size": 13, "font-weight": 700, fill: style.text }, style.mark);
    legend.append(make("li", {}, swatch(makeSvg("rect", { x: 1, y: 1, width: 32, height: 18, fill, stroke: PALETTE.outline }), mark), `${style.label}: ${counted(count, "parcel", "parcels")}`));
  }
  const present = (id) => id === "path" || id === "watershed" || (id === "structure" ? DATA.structures.length > 0 : [...DATA.channels, ...DATA.waters].some((drawn) => drawn.style === id));
  for (const style of PALETTE.lines.filter((style) => present(style.id))) {
    const line = makeSvg("line", {
      x1: 1, y1: 10, x2: 31, y2: 10, stroke: style.colour, "stroke-width": style.width_mm * PX_PER_MM, "stroke-linecap": style.id === "path" ? "round" : "butt",
      "stroke-dasharray": style.dash_mm.map((mm) => mm * PX_PER_MM).join(" ") || "none", class: style.arrow ? style.id : "",
    });
    legend.append(make("li", {}, swatch(line), style.id === "path" ? "Water path: □ start, numbers where it enters other land, ◇ outlet or end" : style.label));
  }
}

function showScale() {
  const perPixel = 1 / map.getZoomScale(map.getZoom(), 0);
  const most = 140 * perPixel, ten = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((n) => n * ten).find((n) => n <= most);
  const bar = make("i");
  bar.style.width = `${length / perPixel}px`;
  document.getElementById("scale").replaceChildren(bar, length >= 1000 ? `${length / 1000} km` : `${length} m`);
}

function showLayerChoices() {
  const choices = [["parcels", "parcels by standing"], ["waters", "waterways"], ["limits", "watershed limits"], ["ground", "shape of the ground"], ["doubts", "places to check"]];
  for (const [name, label] of choices) {
    const box = make("input", { type: "checkbox", id: `show-${name}` });
    box.checked = map.hasLayer(layers[name]);
    box.addEventListener("change", () => {
      layers[name][box.checked ? "addTo" : "removeFrom"](map);
      drawMarks();
    });
    document.getElementById("layers").append(make("label", {}, box, ` ${label}`));
  }
}
