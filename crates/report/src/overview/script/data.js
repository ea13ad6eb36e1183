// What the page was given, and its geometry unpacked.
const read = (id) => JSON.parse(document.getElementById(id).textContent);
const DATA = read("data");
const PALETTE = read("palette");
const STYLE = Object.fromEntries(PALETTE.standings.map((style) => [style.id, style]));
const LINE = Object.fromEntries(PALETTE.lines.map((style) => [style.id, style]));
// Lands are positions of parcels, -1 for land of no parcel and no road, and from -4 down the roads.
const UNOWNED = -1, OUTLET = -2, FIRST_ROAD = -4;
const isRoad = (land) => land <= FIRST_ROAD;
const roadOf = (land) => DATA.roads[FIRST_ROAD - land];

// Flat whole decimetres, each after the first a difference, as [north, east] metres.
function unpack(flat) {
  const points = [];
  let x = 0, y = 0;
  for (let i = 0; i < flat.length; i += 2) {
    x += flat[i];
    y += flat[i + 1];
    points.push([y / 10, x / 10]);
  }
  return points;
}

// The same with ground levels; metres along each line are its chords, stretched to its length.
function unpackLine(line) {
  if (line.unpacked) return line.unpacked;
  const points = [];
  let x = 0, y = 0, z = 0, along = 0;
  for (let i = 0; i < line.points.length; i += 3) {
    const dx = line.points[i] / 10, dy = line.points[i + 1] / 10;
    x += dx; y += dy; z += line.points[i + 2] / 100;
    if (i > 0) along += Math.hypot(dx, dy);
    points.push({ x, y, z, along });
  }
  const stretch = along > 0 ? line.length_m / along : 1;
  for (const point of points) point.along *= stretch;
  line.unpacked = points;
  return points;
}

// The points from a place on a line down to the outlet, metres from that place.
function pathFrom(start, fraction) {
  const path = [];
  let before = 0;
  for (let position = start; position >= 0; position = DATA.lines[position].next) {
    const line = DATA.lines[position];
    const from = position === start ? fraction * line.length_m : 0;
    const points = unpackLine(line);
    points.forEach((point, i) => {
      if (point.along >= from) {
        if (path.length === 0 && point.along > from && i > 0) path.push({ ...between(points[i - 1], point, from), along: 0 });
        if (path.length === 0 || i > 0) path.push({ ...point, along: before + point.along - from });
      }
    });
    before += line.length_m - from;
  }
  return path;
}

function between(a, b, along) {
  const t = (along - a.along) / (b.along - a.along);
  return { x: a.x + t * (b.x - a.x), y: a.y + t * (b.y - a.y), z: a.z + t * (b.z - a.z) };
}

function bounds(parcel) {
  let box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [north, east] of parcel.outer.flat()) {
    box = [Math.min(box[0], north), Math.min(box[1], east), Math.max(box[2], north), Math.max(box[3], east)];
  }
  return box;
}

function inside(rings, north, east) {
  let odd = false;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [yi, xi] = ring[i], [yj, xj] = ring[j];
      if ((yi > north) !== (yj > north) && east < ((xj - xi) * (north - yi)) / (yj - yi) + xi) odd = !odd;
    }
  }
  return odd;
}

DATA.parcels.forEach((parcel, position) => {
  parcel.position = position;
  parcel.polygons = parcel.rings.map((polygon) => polygon.map(unpack));
  parcel.outer = parcel.polygons.map((polygon) => polygon[0]);
  parcel.box = bounds(parcel);
});
// Shares whose water crosses each parcel.
for (const parcel of DATA.parcels) {
  parcel.arriving = [];
}
for (const parcel of DATA.parcels) {
  for (const share of parcel.shares) {
    for (const to of new Set(share.crossings.map((crossing) => crossing[0]))) {
      if (to >= 0 && to !== parcel.position) DATA.parcels[to].arriving.push({ parcel, share });
    }
  }
}

function parcelAt(north, east) {
  return DATA.parcels.find(
    (parcel) =>
      north >= parcel.box[0] && east >= parcel.box[1] && north <= parcel.box[2] && east <= parcel.box[3] &&
      parcel.polygons.some((rings) => inside(rings, north, east)),
  );
}

// The grid of points whose water was followed at full resolution.
let planes = null;
async function unpackPlanes() {
  const bytes = Uint8Array.from(atob(DATA.click.planes), (character) => character.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const values = new DataView(await new Response(stream).arrayBuffer());
  const size = DATA.click.cols * DATA.click.rows;
  planes = (plane, cell) => values.getUint32(4 * (plane * size + cell), true);
}

// The land of a number of the second plane.
function landOf(number) {
  const road = number - 2 - DATA.parcels.length;
  return road >= 0 ? FIRST_ROAD - road : number - 2;
}

// What the water of the grid's point nearest to a place does; null outside the data.
function waterAt(north, east) {
  const grid = DATA.click;
  const nearest = (metres, first, step, count) => Math.min(count - 1, Math.max(0, Math.round((metres - first) / step)));
  if (north < 0 || east < 0 || north > DATA.size_m[1] || east > DATA.size_m[0]) return null;
  const col = nearest(east, grid.first_m[0], grid.step_m[0], grid.cols);
  const row = nearest(DATA.size_m[1] - north, grid.first_m[1], grid.step_m[1], grid.rows);
  const cell = row * grid.cols + col;
  const entry = planes(0, cell);
  if (entry === 0) return null;
  const lands = [];
  let [land, next] = grid.entries[entry - 1];
  while (land >= UNOWNED || isRoad(land)) {
    lands.push(land);
    [land, next] = grid.entries[next];
  }
  const line = planes(2, cell) - 1;
  return {
    east: grid.first_m[0] + col * grid.step_m[0],
    north: DATA.size_m[1] - grid.first_m[1] - row * grid.step_m[1],
    own: landOf(planes(1, cell)),
    lands,
    to: DATA.texts[next],
    hasOutlet: land === OUTLET,
    metres: planes(4, cell),
    path: line < 0 ? [] : pathFrom(line, planes(3, cell) / 65535),
  };
}
