// The paths of what is chosen.
const chosen = L.layerGroup().addTo(map);

function clearChosen() {
  chosen.clearLayers();
}

function outline(parcel, options = {}) {
  L.polygon(parcel.polygons, { color: "#000", weight: 5, fill: false, interactive: false, pane: "course", ...options }).addTo(chosen);
}

function drawPath(points, isMain) {
  const at = points.map((point) => [point.y, point.x]);
  if (at.length < 2) return;
  const style = lineStyle("path", "course");
  L.polyline(at, { ...style, color: "#fff", weight: isMain ? 7 : 4, dashArray: null, opacity: 0.9, className: "casing" }).addTo(chosen);
  L.polyline(at, isMain ? { ...style, weight: 3.4, dashArray: "0.1 6" } : { ...style, weight: 1.8, dashArray: "0.1 4", className: "" }).addTo(chosen);
}

function sign(at, content, className, size) {
  const icon = L.divIcon({ className, html: content, iconSize: [size, size] });
  L.marker(at, { icon, interactive: false, keyboard: false, pane: "marks" }).addTo(chosen);
}

const startSign = (point) => sign([point.y, point.x], make("span", { class: "end" }), "sign", 14);
const endSign = (point) => sign([point.y, point.x], make("span", { class: "end diamond" }), "sign", 14);

function pointAlong(path, along) {
  for (let i = 1; i < path.length; i++) {
    if (path[i].along >= along) return path[i].along > path[i - 1].along ? between(path[i - 1], path[i], along) : path[i];
  }
  return path[path.length - 1];
}

// Start, end and a number where the path enters other land.
function drawSigns(path, crossings) {
  if (path.length === 0) return;
  crossings.forEach((crossing, i) => {
    const point = pointAlong(path, crossing[1]);
    sign([point.y, point.x], make("span", {}, `${i + 1}`), "number", 25);
  });
  startSign(path[0]);
  endSign(path[path.length - 1]);
}

function drawLeaving(parcel, share) {
  clearChosen();
  for (const other of parcel.shares) {
    if (other !== share && other.line !== null) drawPath(pathFrom(other.line, 0), false);
  }
  outline(parcel);
  const path = share && share.line !== null ? pathFrom(share.line, 0) : [];
  drawPath(path, true);
  drawSigns(path, share ? share.crossings : []);
  return path;
}

function drawArriving(parcel) {
  clearChosen();
  for (const [giver] of parcel.receives) {
    if (giver >= 0) outline(DATA.parcels[giver], { weight: 3, dashArray: "2 5", pane: "givers" });
  }
  for (const { share } of parcel.arriving) {
    if (share.line === null) continue;
    const path = pathFrom(share.line, 0);
    const entry = share.crossings.findIndex((crossing) => crossing[0] === parcel.position);
    const end = share.crossings[entry][1] + share.crossings[entry][2];
    drawPath(path.filter((point) => point.along <= end), share.hectares >= 1);
  }
  outline(parcel);
}

function drawWater(water, parcel) {
  clearChosen();
  if (parcel) outline(parcel);
  const start = { x: water.east, y: water.north };
  if (water.path.length > 0) {
    const first = water.path[0];
    L.polyline([[start.y, start.x], [first.y, first.x]], { color: "#000", weight: 2, dashArray: "6 4", interactive: false, pane: "course" }).addTo(chosen);
    drawPath(water.path, true);
    endSign(water.path[water.path.length - 1]);
  }
  startSign(start);
}
