// What is said about the land or the place that was chosen.
const answer = document.getElementById("answer");
const state = { parcel: null, share: null, mode: "leaving", water: null };

function intro() {
  answer.replaceChildren(
    make("h2", {}, "Whose land does your water cross?"),
    make("p", { class: "lead" }, "Press your land on the map, or find it by roll number, owner or legal description."),
    make("p", {}, "The map shows it as a line of dots from □ to ◇, with a number wherever it enters somebody else's land. The same numbers stand here with the owners' names."),
    make("p", {}, "A press anywhere also follows the water from that very place."),
  );
}

function standing(parcel) {
  const style = STYLE[parcel.style];
  const badge = make("p", { class: "standing" }, `${style.mark} ${style.label}`);
  badge.style.background = style.fill;
  badge.style.color = style.text;
  return badge;
}

const SUFFICIENCY = {
  sufficient: "Is that outlet large enough? The data given say yes.",
  insufficient: "Is that outlet large enough? The data given say no.",
  not_checked: "Is that outlet large enough? Not checked.",
};

function sufficiency(parcel) {
  const where = parcel.sufficiency === "not_checked" ? "Data are missing at" : "The limiting reach is";
  const limit = parcel.limiting_reach ? ` ${where} ${parcel.limiting_reach}.` : "";
  return make("p", { class: "sufficiency" }, (SUFFICIENCY[parcel.sufficiency] || parcel.sufficiency) + limit);
}

function choose(parcel, options = {}) {
  state.parcel = parcel;
  state.share = parcel.shares.find((share) => !share.is_remainder) || null;
  state.mode = options.mode || "leaving";
  state.water = options.water || null;
  if (options.move) showOnMap(parcel);
  show();
  markRow(parcel);
  if (options.focus !== false) answer.focus({ preventScroll: !options.scroll });
}

// The parcel and the whole of its water's path.
function showOnMap(parcel) {
  const share = parcel.shares.find((share) => share.line !== null);
  const path = share ? pathFrom(share.line, 0) : [];
  const points = [...parcel.outer.flat(), ...path.map((point) => [point.y, point.x])];
  map.fitBounds(L.latLngBounds(points), { padding: [30, 30], maxZoom: 1 });
}

function show() {
  const { parcel, share, mode, water } = state;
  let path = [];
  if (mode === "arriving") drawArriving(parcel);
  else if (water) drawWater(water, parcel);
  else path = drawLeaving(parcel, share);
  const press = (label, pressed, action) => make("button", { type: "button", "aria-pressed": `${pressed}`, onclick: action }, label);
  const change = (changes) => { Object.assign(state, changes); show(); };
  answer.replaceChildren(
    make("h2", {}, parcel.owner || "Owner not given"),
    make("p", {}, [parcel.id, parcel.legal, hectares(parcel.area_ha)].filter(Boolean).join(" · ")),
    standing(parcel),
    sufficiency(parcel),
    make("div", { class: "choice", role: "group", "aria-label": "Which water" },
      press("Water leaving", mode === "leaving" && !water, () => change({ mode: "leaving", water: null })),
      press("Water arriving", mode === "arriving", () => change({ mode: "arriving", water: null })),
      water ? press("From the place pressed", true, () => {}) : null),
    ...(mode === "arriving" ? arriving(parcel) : water ? fromPlace(water) : leaving(parcel, share, path)),
    ...(mode === "arriving" || water ? [] : finding(parcel)),
  );
}

function leaving(parcel, share, path) {
  if (!share) return [make("p", { class: "lead" }, "No water path was drawn for this land.")];
  const lands = share.crossings.map((crossing) => crossing[0]);
  const part = `${hectares(share.hectares)} of ${hectares(parcel.own_ha)}`;
  const whose = parcel.shares.length > 1 ? `The water of your largest leaving point (${part})` : "Your water";
  const first = share === parcel.shares[0];
  const parts = [make("p", { class: "lead" }, sentence(first ? whose : "This water", parcel.position, lands, text(share.to), share.has_outlet))];
  const way = share.path_m > 0 ? ` From there it runs ${metres(share.path_m)} and falls ${share.fall_m.toFixed(2)} m.` : " The outlet is on this land.";
  parts.push(make("p", {}, `${part} leave at this place.${way}`));
  parts.push(course(share));
  if (parcel.shares.length > 1) parts.push(shareChoice(parcel, share));
  if (path.length > 1) parts.splice(3, 0, profile(path, share.crossings, `the path from ${parcel.id}`));
  return parts;
}

function course(share) {
  const list = make("ol", { class: "way", "aria-label": "Lands crossed, in order" });
  list.append(make("li", {}, make("span", { class: "end" }), " leaves this land"));
  share.crossings.forEach(([land, at, on, carrier, care], i) => {
    list.append(make("li", {}, make("span", { class: "number" }, `${i + 1}`), " ", make("strong", {}, landName(land)), " ",
      land >= 0 ? landButton(land) : null, make("br"),
      `from ${metres(at)} on: ${metres(on)}, ${text(carrier)}; maintenance: ${text(care)}`));
  });
  list.append(make("li", {}, make("span", { class: "end diamond" }), " ", make("strong", {}, text(share.to))));
  return list;
}

const SHARE = { right: "right indicated", acquire: "to be acquired", undecided: "not decided" };

function shareChoice(parcel, share) {
  const select = make("select", { id: "share" });
  parcel.shares.forEach((other, i) => {
    const name = other.is_remainder ? "small leaving points together" : `leaving point ${i + 1}`;
    const option = make("option", { value: i }, `${name}: ${hectares(other.hectares)}, ${SHARE[other.standing]}, ${text(other.to)}`);
    option.disabled = other.line === null && other.is_remainder;
    select.append(option);
  });
  select.value = parcel.shares.indexOf(share);
  select.addEventListener("change", () => {
    state.share = parcel.shares[select.value];
    show();
    document.getElementById("share").focus();
  });
  return make("p", {}, make("label", { for: "share" }, `The water of this land leaves at ${counted(parcel.shares.length, "place", "places")}. Show `), select);
}

function arriving(parcel) {
  const total = parcel.run_on_ha;
  if (parcel.receives.length === 0) return [make("p", { class: "lead" }, "No other land drains across this land.")];
  const rows = [...parcel.receives].sort((a, b) => b[1] - a[1]);
  const body = make("tbody");
  for (const [land, area] of rows) {
    body.append(make("tr", {}, make("td", {}, landButton(land)), make("td", {}, land >= 0 ? landName(land) : ""), make("td", { class: "figure" }, hectares(area))));
  }
  const givers = rows.filter(([land]) => land >= 0).length;
  return [
    make("p", { class: "lead" }, `${hectares(total)} of other land drain across this land, from ${counted(givers, "parcel", "parcels")}.`),
    make("p", {}, "They have a broken outline on the map; the lines of dots are their water paths as far as they cross this land."),
    make("table", {}, make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "From"), make("th", { scope: "col" }, "Owner"), make("th", { scope: "col", class: "figure" }, "Hectares"))), body),
  ];
}

// The answer to a press on the map; exact for the point that it names.
function fromPlace(water) {
  const list = make("ol", { class: "way", id: "lands", "aria-label": "Lands crossed, in order" });
  list.append(make("li", {}, make("span", { class: "end" }), " starts here"));
  for (const land of water.lands) list.append(make("li", {}, make("strong", {}, landName(land)), " ", land >= 0 ? landButton(land) : null));
  list.append(make("li", {}, make("span", { class: "end diamond" }), " ", make("strong", {}, water.to), `, after ${metres(water.metres)}`));
  const [east, north] = [DATA.corner[0] + water.east, DATA.corner[1] + water.north].map((value) => value.toFixed(1));
  return [
    make("p", { class: "lead" }, sentence("The water from this place", water.own, water.lands, water.to, water.hasOutlet)),
    list,
    make("p", { id: "place" }, `Worked out for the point ${east} E, ${north} N (${DATA.furniture.crs}), the nearest of a grid of ${DATA.click.step_m[0].toFixed(1)} m. The first part of the line, with long dashes, is only drawn straight.`),
  ];
}

function finding(parcel) {
  const parts = [make("div", { class: "next" }, make("h3", {}, "What to do next"), make("p", {}, parcel.next_step))];
  parts.push(make("p", {}, `Of this land ${hectares(parcel.right_ha)} have a right of drainage indicated, ${hectares(parcel.acquire_ha)} need an outlet to be acquired, ${hectares(parcel.undecided_ha)} are not decided.${parcel.piped_ha > 0 ? ` ${hectares(parcel.piped_ha)} are drained by pipe.` : ""} Confidence: ${parcel.confidence}.`));
  if (parcel.reasons.length > 0) {
    parts.push(make("h3", {}, "Why"), make("ul", {}, ...parcel.reasons.map((reason) => make("li", {}, text(reason)))));
  }
  if (parcel.piped.length > 0) parts.push(make("h3", {}, "Tile water"), ...parcel.piped.map((sentences) => make("p", {}, sentences)));
  if (parcel.ways.length > 0) parts.push(make("h3", {}, "Ways to acquire an outlet"), ...parcel.ways.map(wayToAcquire));
  parts.push(make("h3", {}, "What works would meet"), make("ul", {}, ...parcel.constraints.map((sentence) => make("li", {}, text(sentence)))));
  if (parcel.receives.length > 0) {
    parts.push(make("h3", {}, "Who drains across this land"), make("p", {}, `${hectares(parcel.run_on_ha)} from ${counted(parcel.receives.length, "neighbour", "neighbours")}; press “Water arriving” above for the list.`));
  }
  if (parcel.evidence.length > 0) parts.push(evidence(parcel));
  return parts;
}

function wayToAcquire(way) {
  const through = way.through.map((land) => landName(land));
  return make("details", {}, make("summary", {}, text(way.label)),
    through.length > 0 ? make("p", {}, `With: ${each(through).join("; ")}.`) : null,
    make("ol", {}, ...way.steps.map((step) => make("li", {}, text(step)))),
    make("p", {}, `Source: ${text(way.source)}.`));
}

function evidence(parcel) {
  const body = make("tbody");
  for (const [rule, source, feature, measure, value, unit] of parcel.evidence) {
    const shown = value === true ? "yes" : value === false ? "no" : typeof value === "number" ? `${+value.toFixed(2)} ${unit || ""}` : `${value}`;
    body.append(make("tr", {}, make("td", {}, text(rule)), make("td", {}, feature || ""), make("td", {}, text(measure)), make("td", { class: "figure" }, shown), make("td", {}, text(source))));
  }
  const heads = ["Rule", "Feature", "What was measured", "Value", "Source"].map((name) => make("th", { scope: "col" }, name));
  return make("details", {}, make("summary", {}, `Evidence (${parcel.evidence.length})`), make("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Evidence" }, make("table", {}, make("thead", {}, make("tr", {}, ...heads)), body)));
}

function showDoubt(doubt) {
  clearChosen();
  const depends = doubt.depends;
  answer.replaceChildren(
    make("h2", {}, `Place to check: ${doubt.id}`),
    make("p", { class: "lead" }, doubt.what),
    make("p", {}, doubt.advice),
    make("p", {}, doubt.parcels.length > 0 ? "Water paths that cross it come from " : "No water path to an outlet crosses it.", ...doubt.parcels.flatMap((land) => [landButton(land), " "])),
    make("p", {}, depends === null ? "Which findings change without it was not worked out." : depends.length === 0 ? "No finding changes without it." : "Findings that change without it: ", ...(depends || []).flatMap((land) => [landButton(land), " "])),
  );
  answer.focus({ preventScroll: true });
}
