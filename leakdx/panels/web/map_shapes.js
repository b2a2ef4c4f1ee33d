// Shapes and signs of the drawn machine, and how what was seen is told on it.
// Gives: mapMemo, mapMarkPath, mapTone, MapGlyph, MapStateSign, MapMarkSign,
// MapPatterns, mapSeen, mapSaid, mapRanks.

// A component that is drawn again only when what it is given has changed: after a tap one zone
// of seventy has.
function mapMemo(draw) {
  return class extends preact.Component {
    shouldComponentUpdate(next) {
      const now = this.props;
      return Object.keys({ ...now, ...next }).some((key) => now[key] !== next[key]);
    }
    render(props) {
      return draw(props);
    }
  };
}

// The same eight shapes as on the sheets of `leakdx show`: corners, turn in degrees, size.
const MAP_CORNERS = [
  [0, 0, 1],
  [4, 45, 1.25],
  [4, 0, 1.4],
  [3, -90, 1.9],
  [6, 0, 1.12],
  [3, 90, 1.9],
  [5, -90, 1.2],
  [8, 22.5, 1.1],
];

// The outline of a mark about 0, 0; from the ninth fluid on a ring lies round it.
function mapMarkPath(shape, size) {
  let path = mapOutline(shape % MAP_CORNERS.length, size);
  for (let k = 0; k < Math.floor(shape / MAP_CORNERS.length); k += 1) {
    path += mapOutline(0, size * (1.75 + 0.3 * k));
  }
  return path;
}

function mapOutline(kind, size) {
  const [corners, turn, grow] = MAP_CORNERS[kind];
  const r = size * grow;
  if (!corners) {
    const arc = `a${r} ${r} 0 1 0`;
    return `M${-r} 0${arc} ${2 * r} 0${arc} ${-2 * r} 0Z`;
  }
  const points = Array.from({ length: corners }, (_, k) => {
    const angle = ((turn + (360 * k) / corners) * Math.PI) / 180;
    return `${(r * Math.cos(angle)).toFixed(1)} ${(r * Math.sin(angle)).toFixed(1)}`;
  });
  return `M${points.join("L")}Z`;
}

// What is seen on a zone and at a seal point has one colour and pattern where it is as wet.
const MAP_TONES = {
  dry: "dry",
  tight: "dry",
  film: "film",
  weeping: "film",
  running: "running",
  drops_form: "running",
  dripping: "dripping",
  wet: "wet",
};

function mapTone(state) {
  return MAP_TONES[state] || null;
}

// Signs in a square of 16 about 0, 0.
const MAP_GLYPHS = {
  dry: "M-5.5 0H5.5",
  film: "M-6.5 1.5q3.25-5 6.5 0t6.5 0",
  running: "M0-6.5V5.5M-4.5 1L0 6 4.5 1",
  dripping: "M0-6.5C0-6.5-4.6-1-4.6 2A4.6 4.6 0 0 0 4.6 2C4.6-1 0-6.5 0-6.5Z",
  wet: "M-6.5-3q3.25-5 6.5 0t6.5 0M-6.5 1.5q3.25-5 6.5 0t6.5 0M-6.5 6q3.25-5 6.5 0t6.5 0",
  drops_form: "M-6-5.5H6M0-4C0-4-3.6.4-3.6 2.8A3.6 3.6 0 0 0 3.6 2.8C3.6.4 0-4 0-4Z",
};
const MAP_FILLED = new Set(["dripping", "drops_form"]);

function mapGlyphOf(state) {
  return MAP_GLYPHS[state] ? state : mapTone(state);
}

// The sign of a state; within an SVG.
function MapGlyph({ state }) {
  const glyph = mapGlyphOf(state);
  if (!glyph) return null;
  const kind = MAP_FILLED.has(glyph) ? "ldx-glyph ldx-glyph-filled" : "ldx-glyph";
  return h("path", { class: kind, d: MAP_GLYPHS[glyph] });
}

// The sign of a state beside a word, as a picture of its own.
function MapStateSign({ state }) {
  const tone = mapTone(state);
  const box = { class: "ldx-sign", viewBox: "-11 -11 22 22", "aria-hidden": "true" };
  if (!tone) {
    return h("svg", box, h("circle", { class: "ldx-sign-none", r: 9.5 }));
  }
  return h(
    "svg",
    box,
    h("circle", { class: `ldx-disc ldx-tone-${tone}`, r: 10.5 }),
    h(MapGlyph, { state }),
  );
}

// The mark of a fluid beside its name.
function MapMarkSign({ shape }) {
  return h(
    "svg",
    { class: "ldx-sign", viewBox: "-13 -14.5 26 26", "aria-hidden": "true" },
    h("path", { class: `ldx-mark-shape ldx-fluid-${shape % 8}`, d: mapMarkPath(shape, 7.5) }),
  );
}

// Fillings of zones by tone: each has its own hatching, so that colour is not needed.
const MAP_HATCHES = {
  dry: { size: 11, draw: h("circle", { cx: 5.5, cy: 5.5, r: 1.1 }) },
  film: { size: 9, turn: 45, draw: h("path", { d: "M0 4.5H9", "stroke-width": 1.1 }) },
  running: { size: 7, draw: h("path", { d: "M3.5 0V7", "stroke-width": 1.7 }) },
  dripping: {
    size: 9,
    draw: h("path", { d: "M2.5 0V5M7 4.5V9", "stroke-width": 2.2, "stroke-linecap": "round" }),
  },
  wet: {
    size: 6,
    turn: 45,
    draw: h("path", { d: "M0 3H6M3 0V6", "stroke-width": 1.5 }),
  },
};

function MapPatterns({ prefix }) {
  return h(
    "defs",
    null,
    Object.entries(MAP_HATCHES).map(([tone, { size, turn, draw }]) =>
      h(
        "pattern",
        {
          key: tone,
          id: `${prefix}-${tone}`,
          class: `ldx-hatch ldx-tone-${tone}`,
          width: size,
          height: size,
          patternUnits: "userSpaceOnUse",
          patternTransform: turn ? `rotate(${turn})` : undefined,
        },
        draw,
      ),
    ),
  );
}

// What was seen of a zone or a seal point; where that is past it says so.
function mapSeen(thing, reading) {
  if (!reading) return "not looked at";
  if (!reading.old) return reading.said;
  // A joint is another one after work on it too; only a joint has zones.
  return `${reading.said}, ${thing.zones ? "before it was washed or worked on" : "before the wash"}`;
}

// "14, Head, rear face: film, fresh, engine oil".
function mapSaid(thing, reading) {
  return `${thing.number}, ${thing.name}: ${mapSeen(thing, reading)}`;
}

// The likeliest three seal points: id -> 1, 2, 3.
function mapRanks(ranking) {
  const rows = (ranking && ranking.rows) || [];
  return Object.fromEntries(rows.slice(0, 3).map((row, n) => [row.seal, n + 1]));
}
