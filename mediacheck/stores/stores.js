"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const NAMES = ["number", "name", "region", "place", "display", "face", "profile", "reason", "version",
    "due", "heard", "loop", "photo", "visit"];
  const rows = data.rows.map((packed) => {
    const row = { state: packed[0], age: packed[1] };
    NAMES.forEach((name, at) => { row[name] = data.texts[packed[at + 2]]; });
    row.all = [row.number, row.name, row.region, row.place, row.display, row.face, row.reason]
      .join(" ").toLowerCase();
    return row;
  });
  const displays = new Set(rows.map((row) => row.display));
  const STEP = 100;
  const body = document.getElementById("rows");
  const more = document.getElementById("more");
  const count = document.getElementById("count");
  const collator = new Intl.Collator("en", { numeric: true });
  const keys = {
    store: (a, b) => collator.compare(a.number, b.number) || collator.compare(a.face, b.face),
    region: (a, b) => collator.compare(a.region, b.region),
    face: (a, b) => collator.compare(a.face, b.face) || collator.compare(a.display, b.display),
    state: (a, b) => a.state - b.state,
    age: (a, b) => (b.age < 0 ? Infinity : b.age) - (a.age < 0 ? Infinity : a.age) || 0,
  };
  let wanted = new Set(), by = "state", down = false, found = [], shown = 0;

  const cell = (text, kind) => {
    const td = document.createElement("td");
    td.textContent = text;
    if (kind) td.className = kind;
    return td;
  };
  const shot = (key, title) => {
    if (!data.pictures[key]) return null;
    const image = document.createElement("img");
    image.src = data.pictures[key];
    image.alt = title;
    image.title = title;
    image.loading = "lazy";
    return image;
  };
  const drawn = (row) => {
    const tr = document.createElement("tr");
    const [state, words] = data.states[row.state];
    const mark = document.createElement("span");
    mark.className = `state ${state}`;
    mark.textContent = words;
    const marked = cell("");
    marked.append(mark);
    const shots = cell("", "shots");
    for (const image of [shot(row.loop, `version ${row.due} belongs there`), shot(row.photo, "the last photo")]) {
      if (image) shots.append(image);
    }
    const face = displays.size > 1 ? `${row.face} (${row.display})` : row.face;
    const place = row.place ? `${face}, ${row.place}` : face;
    tr.append(cell(`${row.number} ${row.name}`), cell(row.region, "wide"), cell(place), marked,
      cell(row.reason), cell(row.heard), shots);
    return tr;
  };
  const draw = (to) => {
    const part = document.createDocumentFragment();
    for (; shown < Math.min(to, found.length); shown += 1) part.append(drawn(found[shown]));
    body.append(part);
    more.hidden = shown >= found.length;
  };
  const value = (id) => (document.getElementById(id) || { value: "" }).value;
  const refresh = () => {
    const words = value("find").toLowerCase().split(/\s+/).filter(Boolean);
    const region = value("region"), display = value("display"), profile = value("profile");
    const age = value("age") === "" ? -1 : Number(value("age"));
    found = rows.filter((row) => (!wanted.size || wanted.has(row.state))
      && (!region || row.region === region) && (!display || row.display === display)
      && (!profile || row.profile === profile) && (age < 0 || row.age < 0 || row.age > age)
      && words.every((word) => row.all.includes(word)));
    const order = keys[by];
    found.sort(down ? (a, b) => order(b, a) : order);
    body.textContent = "";
    shown = 0;
    draw(STEP);
    count.textContent = `${found.length.toLocaleString("en")} of ${rows.length.toLocaleString("en")} faces`;
  };

  document.querySelectorAll("#totals button").forEach((button) => {
    const state = data.states.findIndex(([name]) => name === button.dataset.state);
    button.addEventListener("click", () => {
      const on = !wanted.has(state);
      if (on) wanted.add(state); else wanted.delete(state);
      button.setAttribute("aria-pressed", String(on));
      refresh();
    });
  });
  document.querySelectorAll("th[data-by]").forEach((head) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    head.textContent = "";
    head.append(button);
    button.addEventListener("click", () => {
      down = by === head.dataset.by && !down;
      by = head.dataset.by;
      document.querySelectorAll("th[data-by]").forEach((one) => {
        one.setAttribute("aria-sort", one !== head ? "none" : down ? "descending" : "ascending");
      });
      refresh();
    });
  });
  document.getElementById("filters").addEventListener("input", refresh);
  document.getElementById("filters").addEventListener("submit", (event) => event.preventDefault());
  document.getElementById("filters").hidden = false;
  more.addEventListener("click", () => draw(shown + 10 * STEP));
  let closed = [];
  window.addEventListener("beforeprint", () => {
    draw(found.length);
    closed = [...document.querySelectorAll("details:not([open])")];
    closed.forEach((one) => { one.open = true; });
  });
  window.addEventListener("afterprint", () => closed.forEach((one) => { one.open = false; }));
  refresh();
})();
