// Drawn points: labels of zones, dots of connections, and the symbols of everything else.
function districtPoint(feature, place) {
  const said = feature.properties;
  if (said.role === "label") {
    const icon = L.divIcon({className: "zone-label", html: "<span>" + said.label + "</span>", iconSize: [0, 0]});
    return L.marker(place, {icon: icon, interactive: false, keyboard: false, pane: "labels"});
  }
  if (said.symbol === "dot" || said.symbol === "critical") {
    const critical = said.symbol === "critical";
    return L.circleMarker(place, {
      radius: critical ? 6 : 3.5, weight: critical ? 3 : 1, color: "#1d2327",
      fillColor: critical ? "#ffffff" : "#8b9196", fillOpacity: 1
    });
  }
  // Several at one place stand in a row.
  const icon = L.divIcon({
    className: "symbol symbol-" + said.symbol, html: districtSymbols[said.symbol],
    iconSize: [22, 22], iconAnchor: [11 - 21 * (said.beside || 0), 11]
  });
  const marker = L.marker(place, {icon: icon});
  marker.on("add", function () {
    const plain = new DOMParser().parseFromString(said.tip, "text/html").body.textContent;
    marker.getElement().setAttribute("aria-label", plain);
  });
  return marker;
}
// How a feature is drawn, by its number among the styles of its layer.
function districtLook(styles) {
  return feature => styles[feature.properties.look];
}
// What a click on a pipe shows is put together only then: there may be thousands.
function districtTold(feature) {
  const said = feature.properties;
  if (said.told) Object.defineProperty(said, "popup", {get: () => districtCard(said.title, said.told)});
}
// `told` holds a text for each label of districtParts, escaped already; '' where there is none.
function districtCard(title, told) {
  let at = 0;
  const parts = districtParts.map(([heading, labels]) => {
    const lines = labels.map(label => [label, told[at++]]).filter(([, text]) => text);
    const rows = lines.map(([label, text]) => "<dt>" + label + "</dt><dd>" + text + "</dd>").join("");
    return rows && (heading && "<h4>" + heading + "</h4>") + "<dl>" + rows + "</dl>";
  });
  return '<div class="card"><h3>' + title + "</h3>" + parts.join("") + "</div>";
}
// Metres only; on a wide screen the layer list stands beside the map, on a phone the legend is folded.
function districtDress(map, corners) {
  L.control.scale({imperial: false}).addTo(map);
  if (window.innerWidth <= 700) {
    document.querySelector(".side details").removeAttribute("open");
  } else {
    document.querySelector(".side .layers").append(document.querySelector(".leaflet-control-layers"));
  }
  map.invalidateSize();
  map.on("zoomend", districtScale);
  map.on("layeradd", districtLabels);
  map.on("layeradd layerremove", districtAhead);
  const edge = window.innerWidth <= 700 ? 10 : 24;
  map.fitBounds(corners, {padding: [edge, edge]});
  districtScale.call(map);
}
// While other lines are shown, such as those of the next leak, the main ones and their legend are not.
function districtAhead() {
  for (const role of ["smallest", "walk", "risk"]) {
    const shown = this.getPane("ahead").querySelector(".ahead-" + role) !== null;
    document.body.classList.toggle("shows-" + role, shown);
  }
}
// Thinner lines and smaller symbols where a pixel covers more than four metres.
function districtScale() {
  const metres = 156543 * Math.cos(this.getCenter().lat * Math.PI / 180) / Math.pow(2, this.getZoom());
  this.getContainer().classList.toggle("far", metres > 4);
  districtLabels();
}
// A label that would cover an earlier one is left out until there is room.
function districtLabels() {
  const taken = [];
  for (const label of document.querySelectorAll(".zone-label > span")) {
    label.style.visibility = "visible";
    const box = label.getBoundingClientRect();
    const clash = taken.some(other => box.left < other.right && other.left < box.right &&
      box.top < other.bottom && other.top < box.bottom);
    label.style.visibility = clash ? "hidden" : "visible";
    if (!clash) taken.push(box);
  }
}
