// The ground along a path, drawn small.
function profile(path, crossings, name) {
  const length = path[path.length - 1].along;
  const levels = path.map((point) => point.z);
  const low = Math.min(...levels), high = Math.max(...levels), span = Math.max(high - low, 0.5);
  const wide = 520, tall = 200, left = 52, right = 12, top = 26, bottom = 36;
  const x = (along) => left + (along / length) * (wide - left - right);
  const y = (z) => tall - bottom - ((z - low) / span) * (tall - top - bottom);
  const label = `Ground along ${name}: from ${levels[0].toFixed(2)} m to ${levels[levels.length - 1].toFixed(2)} m in ${metres(length)}`;
  const svg = makeSvg("svg", { viewBox: `0 0 ${wide} ${tall}`, class: "profile", role: "img", "aria-label": label });
  const line = path.map((point) => `${x(point.along).toFixed(1)} ${y(point.z).toFixed(1)}`).join(" L");
  svg.append(makeSvg("path", { d: `M${line} L${x(length)} ${tall - bottom} L${left} ${tall - bottom} z`, fill: PALETTE.ground.under }));
  const write = (content, attributes) => svg.append(makeSvg("text", { "font-size": 13, fill: "#111", ...attributes }, content));
  crossings.forEach((crossing, i) => {
    const at = x(crossing[1]);
    svg.append(makeSvg("line", { x1: at, x2: at, y1: top, y2: tall - bottom, stroke: "#111", "stroke-dasharray": "4 3" }));
    write(`${i + 1}`, { x: at, y: top - 8, "text-anchor": "middle", "font-weight": 700 });
  });
  svg.append(makeSvg("path", { d: `M${line}`, fill: "none", stroke: PALETTE.ground.line, "stroke-width": 2 }));
  svg.append(makeSvg("path", { d: `M${left} ${top} V${tall - bottom} H${wide - right}`, fill: "none", stroke: "#111" }));
  write(`${high.toFixed(1)} m`, { x: left - 5, y: top + 5, "text-anchor": "end" });
  write(`${low.toFixed(1)} m`, { x: left - 5, y: tall - bottom, "text-anchor": "end" });
  write("0", { x: left, y: tall - bottom + 16, "text-anchor": "middle" });
  write(metres(length), { x: wide - right, y: tall - bottom + 16, "text-anchor": "end" });
  const exaggeration = (tall - top - bottom) / span / ((wide - left - right) / length);
  write(`Heights drawn ${exaggeration.toFixed(0)} times as large as lengths. 0: where the water leaves.`, { x: left, y: tall - 4, "font-size": 12 });
  return svg;
}
