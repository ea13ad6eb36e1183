// Words, numbers and small pieces of the page.
const text = (position) => DATA.texts[position];
const hectares = (value) => `${value.toFixed(value < 10 ? 2 : 1)} ha`;
const metres = (value) => `${Math.round(value)} m`;
const counted = (count, one, many) => `${count} ${count === 1 ? one : many}`;

// An element with attributes and children; texts are only ever text.
function make(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "onclick") element.addEventListener("click", value);
    else if (value !== null && value !== undefined) element.setAttribute(key, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

function makeSvg(name, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

function landName(position) {
  if (isRoad(position)) return roadOf(position).name;
  if (position < 0) return DATA.no_parcel;
  const parcel = DATA.parcels[position];
  return parcel.owner || `the owner of parcel ${parcel.id}`;
}

const capitalised = (words) => words[0].toUpperCase() + words.slice(1);

function landButton(position) {
  if (position < 0) return landName(position);
  const parcel = DATA.parcels[position];
  return make("button", { type: "button", onclick: () => choose(parcel, { move: true }) }, parcel.id);
}

// Lands in order, each once.
const each = (lands) => lands.filter((land, i) => lands.indexOf(land) === i);

// Whose land the water crosses, in one sentence.
function sentence(whose, own, lands, to, hasOutlet) {
  const others = each(lands).filter((land) => land !== own);
  const owned = others.filter((land) => land >= 0);
  const end = hasOutlet ? `reaches ${to}` : to;
  if (others.length === 0) return `${whose} ${end} without crossing anyone else's land.`;
  const names = [];
  if (owned.length > 3) names.push(counted(owned.length, "other parcel", "other parcels"));
  else names.push(...each(owned.map((land) => `the land of ${landName(land)}`)));
  const roads = others.filter(isRoad);
  if (roads.length > 3) names.push(counted(roads.length, "road", "roads"));
  else names.push(...roads.map(landName));
  if (others.includes(UNOWNED)) names.push(landName(UNOWNED));
  const list = names.length > 1 ? `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}` : names[0];
  return `${whose} crosses ${list}, then ${end}.`;
}
