/* The review of a survey: pictures of what was seen and found, with the rows and the check points over them. */
import { DOUBTFUL, EDGE, POINT, POST, SURE } from "./review_marks.js";

const byId = (id) => document.getElementById(id);

function element(tag, words = "", kind = "") {
  const made = document.createElement(tag);
  made.textContent = words;
  if (kind) {
    made.className = kind;
  }
  return made;
}

/* A small drawing of a mark, for the legend. */
function drawing(parts) {
  const space = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(space, "svg");
  svg.setAttribute("viewBox", "0 0 30 18");
  svg.setAttribute("aria-hidden", "true");
  for (const [tag, attributes] of parts) {
    const part = document.createElementNS(space, tag);
    for (const [name, value] of Object.entries(attributes)) {
      part.setAttribute(name, value);
    }
    svg.append(part);
  }
  return svg;
}

function swatch(colour, striped) {
  const parts = [["rect", { x: 1, y: 1, width: 28, height: 16, fill: colour, stroke: "#7d858c" }]];
  for (let x = -8; striped && x < 30; x += 7) {
    parts.push(["path", { d: `M${x} 17L${x + 12} 1`, stroke: "#000000", "stroke-width": 2 }]);
  }
  return drawing(parts);
}

const line = (look) =>
  drawing([
    [
      "path",
      { d: "M1 9H29", stroke: look.color, "stroke-width": look.weight, "stroke-dasharray": look.dashArray || "none" },
    ],
  ]);

/* The review as a layer of the map. */
export function reviewLayer(edges) {
  const layer = L.layerGroup();
  layer.once("add", () => {
    const map = layer._map;
    map.fitBounds(edges, { padding: [16, 16], animate: false });
    show(map, JSON.parse(byId("plan-data").textContent));
    document.body.dataset.plan = "shown";
  });
  return layer;
}

function show(map, data) {
  byId("plan-name").textContent = data.name;
  document.title = `${data.name}: review of the survey`;
  L.control.scale({ imperial: false }).addTo(map);
  showPictures(map, data);
  const choose = (words) => {
    byId("chosen").textContent = words;
    byId("chosen").hidden = false;
  };
  const outline = L.layerGroup(
    data.outlines.map((rings) => L.polygon(rings, { fill: false, color: "#1c2329", weight: 2, interactive: false })),
  );
  const rows = data.rows.map((row) => showRow(map, row, choose));
  const points = data.points.map((point) => showPoint(point, choose));
  const doubtful = rows.filter((_, place) => data.rows[place].doubtful);
  const sure = rows.filter((_, place) => !data.rows[place].doubtful);
  const posts = data.posts.map((post) => showPost(map, post, choose));
  const doubtfulPosts = posts.filter((_, place) => data.posts[place].doubtful);
  const surePosts = posts.filter((_, place) => !data.posts[place].doubtful);
  byId("layers").append(
    toggle(map, line(SURE), "Rows", edged(sure), sure.length),
    toggle(map, line(DOUBTFUL), "Rows to look at", edged(doubtful), doubtful.length),
    toggle(map, drawing([["circle", { cx: 15, cy: 9, r: 5, ...POST.drawn }]]), "Posts", surePosts),
    toggle(map, triangle("translate(7 1)"), "Posts to look at", doubtfulPosts),
    toggle(map, drawing([["circle", { cx: 15, cy: 9, r: 6, ...POINT.drawn }]]), "Check points", points),
    toggle(map, line({ color: "#1c2329", weight: 2 }), "Block", [outline], data.outlines.length),
  );
  list("doubtful", "look", data.rows, (row, place) => {
    map.fitBounds(L.latLngBounds(row.line), { maxZoom: 21, padding: [40, 40], animate: false });
    rows[place].fire("click");
  });
  list("doubtful-posts", "look-posts", data.posts, (post, place) => {
    map.setView(post.at, 22, { animate: false });
    posts[place].fire("click");
  });
  byId("map-words").textContent = data.words;
  facts("accuracy", data.accuracy);
  facts("blocks", data.blocks);
  byId("assumed").append(...data.assumed.map((words) => element("li", words)));
  for (const finding of data.findings) {
    const item = element("li");
    item.append(element("span", finding.level, `level ${finding.level}`), ` ${finding.message} `);
    item.append(element("span", finding.place, "place"));
    byId("findings").append(item);
  }
}

/* The doubtful of rows or posts as buttons that go there. */
function list(id, section, marks, go) {
  for (const [place, mark] of marks.entries()) {
    if (mark.doubtful) {
      const item = element("li");
      const button = element("button", mark.title);
      button.type = "button";
      button.addEventListener("click", () => go(mark, place));
      item.append(button);
      byId(id).append(item);
      byId(section).hidden = false;
    }
  }
}

function showPictures(map, data) {
  const overlays = data.pictures.map((picture) =>
    L.layerGroup(picture.images.map((image) => L.imageOverlay(image.picture, image.edges, { interactive: false }))),
  );
  const pick = (place) => {
    for (const [other, overlay] of overlays.entries()) {
      if (data.pictures[place].shows.includes(other)) {
        overlay.addTo(map);
      } else {
        overlay.remove();
      }
    }
    byId("under-note").textContent = data.pictures[place].note;
    byId("legend").replaceChildren(
      ...data.pictures[place].legend.map((entry) => {
        const item = element("li");
        item.append(swatch(entry.colour, entry.striped), element("span", entry.words));
        return item;
      }),
    );
  };
  for (const [place, picture] of data.pictures.entries()) {
    const label = element("label");
    const radio = element("input");
    radio.type = "radio";
    radio.name = "under";
    radio.checked = place === data.first;
    radio.addEventListener("change", () => pick(place));
    label.append(radio, picture.name);
    byId("views").append(label);
  }
  pick(data.first);
}

/* Lines with a pale edge under them, or nobody sees them on dark leaves. */
function edged(lines) {
  const edge = L.polyline(
    lines.map((one) => one.getLatLngs()),
    EDGE,
  );
  return lines.length ? [edge, ...lines] : [];
}

function showRow(map, row, choose) {
  const look = row.doubtful ? DOUBTFUL : SURE;
  const drawn = L.polyline(row.line, look);
  drawn.bindTooltip(element("span", row.title));
  drawn.on("click", () => {
    choose(row.words);
    drawn.setStyle({ weight: look.weight + 3 });
    map.once("click", () => drawn.setStyle(look));
  });
  return drawn;
}

const triangle = (transform = "translate(0 0)") =>
  drawing([["path", { d: POST.triangle, transform, ...POST.doubtful }]]);

function showPost(map, post, choose) {
  const icon = () => {
    const svg = triangle();
    svg.setAttribute("viewBox", "0 0 16 16");
    return L.divIcon({ className: "doubtful-post", html: svg, iconSize: [18, 18], iconAnchor: [9, 10] });
  };
  const drawn = post.doubtful
    ? L.marker(post.at, { icon: icon(), keyboard: false, alt: "" })
    : L.circleMarker(post.at, POST.sure);
  drawn.bindTooltip(element("span", post.title));
  drawn.on("click", () => {
    choose(post.words);
    const ring = L.circleMarker(post.at, { radius: 12, color: "#000000", weight: 2, fill: false, interactive: false });
    ring.addTo(map);
    map.once("click", () => ring.remove());
  });
  return drawn;
}

function showPoint(point, choose) {
  const drawn = L.circleMarker(point.at, point.used ? POINT.used : POINT.leftOut);
  drawn.bindTooltip(element("span", point.words));
  drawn.on("click", () => choose(point.words));
  return drawn;
}

function toggle(map, mark, words, layers, count = layers.length) {
  const group = L.layerGroup(layers).addTo(map);
  const item = element("li");
  const label = element("label");
  const box = element("input");
  box.type = "checkbox";
  box.checked = true;
  box.addEventListener("change", () => (box.checked ? group.addTo(map) : group.remove()));
  label.append(box, mark, element("span", words), element("span", String(count), "count"));
  item.append(label);
  item.hidden = !layers.length;
  return item;
}

function facts(id, pairs) {
  for (const [name, value] of pairs) {
    byId(id).append(element("dt", name), element("dd", value));
  }
}
