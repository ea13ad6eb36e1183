// All parcels as a table, and the search.
const rowOf = new Map();
const mainShare = (parcel) => parcel.shares.find((share) => !share.is_remainder);
const crossed = (parcel) => each((mainShare(parcel) || { crossings: [] }).crossings.map((crossing) => crossing[0])).filter((land) => land !== parcel.position);
const COLUMNS = [
  ["Roll number", (parcel) => parcel.id],
  ["Owner", (parcel) => parcel.owner || ""],
  ["Legal description", (parcel) => parcel.legal || ""],
  ["Standing", (parcel) => `${STYLE[parcel.style].mark} ${STYLE[parcel.style].short}`],
  ["Hectares", (parcel) => parcel.area_ha, (value) => value.toFixed(2)],
  ["Goes to", (parcel) => (mainShare(parcel) ? text(mainShare(parcel).to) : "")],
  ["Crosses", (parcel) => crossed(parcel).length],
  ["Metres to there", (parcel) => (mainShare(parcel) ? mainShare(parcel).path_m : 0), (value) => value.toFixed(0)],
  ["Arriving, ha", (parcel) => parcel.run_on_ha, (value) => value.toFixed(2)],
  ["Confidence", (parcel) => parcel.confidence],
];
const order = { column: 0, down: false };

function showTable() {
  const table = document.getElementById("all");
  const head = make("tr");
  COLUMNS.forEach(([name], column) => {
    const sort = () => {
      Object.assign(order, { down: order.column === column && !order.down, column });
      sortTable();
    };
    head.append(make("th", { scope: "col", class: isFigure(column) ? "figure" : null }, make("button", { type: "button", onclick: sort }, name)));
  });
  table.append(make("thead", {}, head), make("tbody"));
  for (const parcel of DATA.parcels) {
    const row = make("tr");
    COLUMNS.forEach(([, value, format], column) => {
      const shown = format ? format(value(parcel)) : `${value(parcel)}`;
      const content = column === 0 ? make("button", { type: "button", onclick: () => choose(parcel, { move: true, scroll: true }) }, shown) : shown;
      row.append(make("td", { class: isFigure(column) ? "figure" : null }, content));
    });
    rowOf.set(parcel, row);
  }
  sortTable();
}

const isFigure = (column) => DATA.parcels.length > 0 && typeof COLUMNS[column][1](DATA.parcels[0]) === "number";

function sortTable() {
  const value = COLUMNS[order.column][1];
  const compare = (a, b) => (typeof value(a) === "number" ? value(a) - value(b) : value(a).localeCompare(value(b), "en", { numeric: true }));
  const sorted = [...DATA.parcels].sort((a, b) => (order.down ? -1 : 1) * compare(a, b) || a.position - b.position);
  const table = document.getElementById("all");
  table.tBodies[0].replaceChildren(...sorted.map((parcel) => rowOf.get(parcel)));
  table.querySelectorAll("thead th").forEach((head, column) => {
    if (column === order.column) head.setAttribute("aria-sort", order.down ? "descending" : "ascending");
    else head.removeAttribute("aria-sort");
  });
}

function markRow(parcel) {
  for (const row of document.querySelectorAll("#all tr.chosen")) row.classList.remove("chosen");
  const row = rowOf.get(parcel);
  if (row) row.classList.add("chosen");
}

function startSearch() {
  const input = document.getElementById("find"), list = document.getElementById("found");
  const MOST = 12;
  let found = [], current = -1;
  const plain = (words) => (words || "").toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "");
  const close = () => { list.hidden = true; input.setAttribute("aria-expanded", "false"); input.removeAttribute("aria-activedescendant"); };
  const take = (parcel) => { close(); input.value = parcel.id; choose(parcel, { move: true }); };
  const point = (to) => {
    current = to;
    [...list.children].forEach((item, i) => item.setAttribute("aria-selected", `${i === current}`));
    if (list.children[current]) { input.setAttribute("aria-activedescendant", list.children[current].id); list.children[current].scrollIntoView({ block: "nearest" }); }
  };
  input.addEventListener("input", () => {
    const words = plain(input.value).split(/\s+/).filter(Boolean);
    if (words.length === 0) return close();
    found = DATA.parcels.filter((parcel) => {
      const all = plain([parcel.id, parcel.owner, parcel.legal].join(" "));
      return words.every((word) => all.includes(word));
    });
    list.replaceChildren(...found.slice(0, MOST).map((parcel, i) =>
      make("li", { role: "option", id: `found-${i}`, "aria-selected": "false", onclick: () => take(parcel) }, [parcel.owner, parcel.id, parcel.legal].filter(Boolean).join(" · "))));
    if (found.length === 0) list.append(make("li", { role: "option", "aria-disabled": "true", "aria-selected": "false" }, "No land found"));
    if (found.length > MOST) list.append(make("li", { role: "option", "aria-disabled": "true", "aria-selected": "false" }, `${found.length - MOST} more; write more of it`));
    list.hidden = false;
    input.setAttribute("aria-expanded", "true");
    point(found.length === 1 ? 0 : -1);
  });
  input.addEventListener("keydown", (event) => {
    const last = Math.min(found.length, MOST) - 1;
    if (event.key === "Escape") return close();
    if (list.hidden) return;
    if (event.key === "ArrowDown") { event.preventDefault(); point(Math.min(last, current + 1)); }
    else if (event.key === "ArrowUp") { event.preventDefault(); point(Math.max(0, current - 1)); }
    else if (event.key === "Enter" && last >= 0) { event.preventDefault(); take(found[Math.max(0, current)]); }
  });
  document.addEventListener("click", (event) => { if (!event.target.closest(".find")) close(); });
}
