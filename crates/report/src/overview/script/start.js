// Puts the page together.
function showDoubts() {
  const holder = document.getElementById("doubts");
  if (DATA.doubts.length === 0) holder.append(make("p", {}, "No place was found where the ground in the data is in doubt."));
  const list = make("ul");
  for (const doubt of DATA.doubts) {
    const see = () => {
      document.getElementById("show-doubts").checked || document.getElementById("show-doubts").click();
      map.setView([doubt.at[1] / 10, doubt.at[0] / 10], Math.max(map.getZoom(), 0));
      showDoubt(doubt);
    };
    list.append(make("li", {}, make("button", { type: "button", onclick: see }, doubt.id), ` ${doubt.what} ${doubt.advice}`));
  }
  holder.append(list);
  if (DATA.notes.length > 0) {
    holder.append(make("h3", {}, "What was put right in the data, or should be known"), make("ul", {}, ...DATA.notes.map((note) => make("li", {}, note))));
  }
}

function showAbout() {
  const facts = DATA.furniture;
  const sources = facts.sources.map((source) => (source.date ? `${source.name} (${source.date})` : source.name)).join(", ");
  document.getElementById("about").append(
    make("p", {}, `${facts.title}. Run ${facts.run_date} with Fallwright ${facts.version}, settings ${facts.settings_digest}, rules ${facts.profile}.`),
    make("p", {}, `Coordinates: ${facts.crs}, north is up. Heights: ${facts.heights}. Data: ${sources}.`),
    make("p", {}, facts.caution),
    make("h3", {}, "What was thinned"),
    make("ul", {}, ...DATA.thinned.map((line) => make("li", {}, line))),
  );
}

function press(north, east) {
  const parcel = parcelAt(north, east);
  const water = planes ? waterAt(north, east) : null;
  if (parcel) return choose(parcel, { water, focus: false });
  if (water) {
    drawWater(water, null);
    answer.replaceChildren(make("h2", {}, capitalised(landName(water.own))), ...fromPlace(water));
  } else {
    clearChosen();
    answer.replaceChildren(make("h2", {}, "No elevation here"), make("p", {}, "The data do not say where water goes from this place."));
  }
}

definitions();
drawGround();
drawParcels();
drawWaters();
drawDoubts();
drawMarks();
showLegend();
showScale();
showLayerChoices();
startSearch();
intro();
showDoubts();
showAbout();
map.on("moveend", drawMarks);
map.on("zoomend", showScale);
map.on("click", (event) => press(event.latlng.lat, event.latlng.lng));
const holder = document.getElementById("map");
holder.append(make("div", { class: "middle" }));
holder.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target === holder) press(map.getCenter().lat, map.getCenter().lng);
});
setTimeout(showTable, 0);
unpackPlanes().then(
  () => document.body.setAttribute("data-ready", "yes"),
  () => document.getElementById("about").append(make("p", {}, "This browser is too old to follow the water from any place pressed; the rest of the page works.")),
);
