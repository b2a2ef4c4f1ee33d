// The drawn machine: one view at a time, to be turned, brought nearer, tapped.
// Gives: MapPanel({model, chosen, onChoose}); chosen is {kind: "zone"|"seal_point", id} or null.

const MAP_SIDES = [
  ["left", "Left"],
  ["right", "Right"],
  ["top", "Top"],
  ["below", "Below"],
  ["front", "Front"],
  ["rear", "Rear"],
];
const MAP_SHOWS = [
  ["zones", "Surfaces"],
  ["seals", "Joints"],
  ["both", "Both"],
];
const MAP_WIDE = 560; // from here on there is room for surfaces and joints together
let mapPanels = 0;

function MapPanel({ model, chosen, onChoose }) {
  const machine = useTrait(model, "machine");
  if (!machine) return null;
  return h(MapOfMachine, { key: machine.id, model, machine, chosen, onChoose });
}

function MapOfMachine({ model, machine, chosen, onChoose }) {
  const job = useTrait(model, "job");
  const ranking = useTrait(model, "ranking");
  const [listed, setListed] = useState(false);
  const named = useMemo(
    () => ({
      zone: new Map(machine.zones.map((z) => [z.id, z])),
      seal_point: new Map(machine.seals.map((s) => [s.id, s])),
    }),
    [machine],
  );
  const told = useMemo(
    () => ({
      zones: (job && job.zones) || {},
      seals: (job && job.seals) || {},
      ranks: mapRanks(ranking),
    }),
    [job, ranking],
  );
  return h(
    "section",
    { class: "ldx-map", "aria-label": "The machine" },
    h(
      "div",
      { class: "ldx-map-kinds", role: "group", "aria-label": "How to choose a place" },
      h(MapPress, { on: !listed, onClick: () => setListed(false) }, "Drawing"),
      h(MapPress, { on: listed, onClick: () => setListed(true) }, "List of places"),
    ),
    listed
      ? h(ZoneList, { machine, told, chosen, onChoose })
      : h(MapDrawing, { machine, named, told, chosen, onChoose }),
  );
}

function MapPress({ on, children, ...rest }) {
  return h(
    "button",
    { type: "button", class: "ldx-press", "aria-pressed": String(on), ...rest },
    children,
  );
}

function MapDrawing({ machine, named, told, chosen, onChoose }) {
  const [side, setSide] = useState(machine.views[0].side);
  const [wanted, setWanted] = useState(null);
  const [pointed, setPointed] = useState(null);
  const [choice, setChoice] = useState(null);
  const prefix = useMemo(() => `ldx-map-${(mapPanels += 1)}`, []);
  const holder = useRef(null);
  const view = machine.views.find((v) => v.side === side) || machine.views[0];
  const [roomy, setRoomy] = useState(false);
  const shows = wanted || (roomy ? "both" : "zones");
  const items = useMemo(
    () => mapNumbered(view, shows, told.ranks, chosen, named),
    [view, shows, told.ranks, chosen, named],
  );
  const whole = useMapWhole(view, items);
  const zoom = useMapZoom(holder, whole);
  useLayoutEffect(() => setRoomy(zoom.wide >= MAP_WIDE), [zoom.wide]);
  // What was chosen elsewhere, in the list or the ranking, is turned to.
  useEffect(() => {
    const thing = chosen && named[chosen.kind].get(chosen.id);
    if (thing && !mapIsIn(view, chosen)) setSide(thing.view);
    if (thing && chosen.kind === "zone" && shows === "seals") setWanted("both");
  }, [chosen && chosen.kind, chosen && chosen.id]);
  useEffect(() => setChoice(null), [view, shows]);
  useEffect(
    () => mapShowChosen(holder.current),
    [chosen && chosen.kind, chosen && chosen.id, side],
  );

  const choose = useCallback((hit) => onChoose({ kind: hit.kind, id: hit.id }), [onChoose]);
  const hit = (hits) => {
    setChoice(hits.length > 1 ? hits : null);
    if (hits.length === 1) choose(hits[0]);
  };
  return h(
    Fragment,
    null,
    h(MapSides, { side: view.side, onTurn: setSide }),
    h("p", { class: "ldx-map-hint" }, mapHint(view)),
    h(
      "div",
      { class: "ldx-map-frame" },
      h(MapView, {
        view,
        items,
        named,
        told,
        chosen,
        lit: choice,
        whole,
        zoom,
        holder,
        prefix,
        shows,
        onHits: hit,
        onPoint: setPointed,
      }),
      choice &&
        h(MapChooser, { choice, named, told, holder, onPick: hit, onClose: () => setChoice(null) }),
    ),
    h(
      "p",
      { class: "ldx-map-caption", role: "status" },
      mapCaption(pointed || chosen, named, told),
    ),
    h(MapTools, { zoom, shows, onShow: setWanted }),
    h(MapLegend, { machine, prefix }),
  );
}

// On a phone the sheet of a place covers the lower part of the screen; the place comes above it.
function mapShowChosen(svg) {
  const ring = svg.querySelector(".ldx-ring-chosen");
  if (!ring || !window.matchMedia("(max-width: 719.98px)").matches) return;
  const { top, bottom } = ring.getBoundingClientRect();
  if (top >= 0 && bottom <= 0.3 * window.innerHeight) return;
  const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  ring.scrollIntoView({ block: "start", inline: "nearest", behavior: still ? "auto" : "smooth" });
}

// What can be chosen, by number, zones first; with the zones the ranked joints, and the chosen.
function mapNumbered(view, shows, ranks, chosen, named) {
  const kept = new Set(Object.keys(ranks));
  if (chosen && chosen.kind === "seal_point") kept.add(chosen.id);
  const number = (item) => named[item.kind].get(item.id).number;
  return mapItems(view, shows, kept).sort((a, b) =>
    a.kind === b.kind ? number(a) - number(b) : a.kind === "zone" ? -1 : 1,
  );
}

// The same thing as long as it is as large, so that the view keeps still.
function useMapWhole(view, items) {
  const sealed = new Set(items.filter((i) => i.kind === "seal_point").map((i) => i.id));
  const whole = mapWhole(
    view,
    view.seals.filter((mark) => sealed.has(mark.seal)),
  );
  return useMemo(() => whole, [view, whole.x, whole.y, whole.w, whole.h]);
}

function mapIsIn(view, { kind, id }) {
  return kind === "zone"
    ? view.zones.some((z) => z.zone === id && z.look !== "edge")
    : view.seals.some((s) => s.seal === id);
}

function mapHint(view) {
  const what = view.across === "front" ? "front of the machine" : `${view.across} of the machine`;
  const down = Array.isArray(view.down) ? "down is down" : view.down;
  return `${view.title}: ${what} to the ${view.across_right ? "right" : "left"}, ${down}.`;
}

function mapCaption(item, named, told) {
  const thing = item && named[item.kind].get(item.id);
  if (!thing) return "Tap the place you looked at.";
  const reading = (item.kind === "zone" ? told.zones : told.seals)[item.id];
  return `${item.kind === "zone" ? "" : "Joint "}${mapSaid(thing, reading)}`;
}

// Six buttons in a row; the arrow keys go from one to the next.
function MapSides({ side, onTurn }) {
  const row = useRef(null);
  const typed = (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const now = MAP_SIDES.findIndex(([id]) => id === side);
    const next = (now + step + MAP_SIDES.length) % MAP_SIDES.length;
    onTurn(MAP_SIDES[next][0]);
    row.current.children[next].focus();
  };
  return h(
    "div",
    {
      class: "ldx-map-sides",
      role: "group",
      "aria-label": "Look from",
      ref: row,
      onKeyDown: typed,
    },
    MAP_SIDES.map(([id, said]) =>
      h(
        MapPress,
        {
          key: id,
          on: id === side,
          tabindex: id === side ? "0" : "-1",
          onClick: () => onTurn(id),
        },
        said,
      ),
    ),
  );
}

function MapTools({ zoom, shows, onShow }) {
  const nearer = (label, said, onClick, off) =>
    h(
      "button",
      {
        type: "button",
        class: "ldx-press ldx-square",
        "aria-label": label,
        title: label,
        onClick,
        disabled: off,
      },
      said,
    );
  return h(
    "div",
    { class: "ldx-map-tools" },
    h(
      "div",
      { class: "ldx-map-shows", role: "group", "aria-label": "What to show" },
      MAP_SHOWS.map(([id, said]) =>
        h(MapPress, { key: id, on: id === shows, onClick: () => onShow(id) }, said),
      ),
    ),
    h(
      "div",
      { class: "ldx-map-nearer", role: "group", "aria-label": "Nearer or farther" },
      nearer("Farther", "\u2212", () => zoom.nearer(1 / 1.6), !zoom.near),
      nearer("Nearer", "+", () => zoom.nearer(1.6), zoom.nearest),
      nearer("The whole view", "Whole", zoom.all, !zoom.near),
    ),
  );
}

// Which of those that are about as near was meant.
function MapChooser({ choice, named, told, holder, onPick, onClose }) {
  const box = useRef(null);
  useEffect(() => {
    const first = box.current.querySelector("button");
    if (first) first.focus({ preventScroll: true });
  }, [choice]);
  const close = () => {
    onClose();
    const back = holder.current && holder.current.querySelector('[data-key][tabindex="0"]');
    if (back) back.focus({ preventScroll: true });
  };
  const typed = (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    close();
  };
  return h(
    "div",
    { class: "ldx-which", role: "dialog", "aria-label": "Which one?", ref: box, onKeyDown: typed },
    h("p", { class: "ldx-which-ask" }, "Which one?"),
    choice.map((item) => {
      const thing = named[item.kind].get(item.id);
      const reading = (item.kind === "zone" ? told.zones : told.seals)[item.id];
      return h(
        "button",
        { key: mapKey(item), type: "button", class: "ldx-row", onClick: () => onPick([item]) },
        h(MapRowOf, { kind: item.kind, thing, reading }),
      );
    }),
    h("button", { type: "button", class: "ldx-press", onClick: close }, "None of these"),
  );
}

function MapLegend({ machine, prefix }) {
  const { zone_states: zones, seal_states: seals } = machine.words;
  const line = (key, sign, said, help) =>
    h("li", { key }, sign, h("span", null, h("strong", null, said), help ? `: ${help}` : ""));
  const states = (words) =>
    words
      .filter((w) => mapTone(w.id))
      .map((w) => line(w.id, h(MapStateSign, { state: w.id }), w.said, w.help));
  return h(
    "details",
    { class: "ldx-legend" },
    h("summary", null, "What the signs mean"),
    h("h2", null, "Surfaces"),
    h(
      "ul",
      null,
      states(zones),
      line(
        "none",
        h(MapStateSign, { state: null }),
        "no sign",
        "not looked at, which is not the same as dry",
      ),
      line(
        "old",
        h(MapOldSign),
        "faint and dashed",
        "seen before a wash, or before work on that joint",
      ),
      line(
        "ghost",
        h(MapGhostSign),
        "dashed outline",
        "covered, or seen only when something is off",
      ),
    ),
    h("h2", null, "Joints"),
    h(
      "ul",
      null,
      machine.fluids.map((f) =>
        line(f.id, h(MapMarkSign, { shape: f.shape }), f.name, "a joint that holds it"),
      ),
      line("rank", h(MapRankSign), "1, 2, 3", "the likeliest three of the ranking"),
      line("open", h(MapCoveredSign), "outlined", "a joint that does not show from outside"),
      states(seals),
    ),
  );
}

function MapOldSign() {
  return h(
    "svg",
    { class: "ldx-sign", viewBox: "-11 -11 22 22", "aria-hidden": "true" },
    h(
      "g",
      { class: "ldx-old" },
      h("circle", { class: "ldx-disc ldx-tone-film", r: 9.5 }),
      h(MapGlyph, { state: "film" }),
    ),
  );
}

function MapGhostSign() {
  return h(
    "svg",
    { class: "ldx-sign", viewBox: "-11 -11 22 22", "aria-hidden": "true" },
    h(
      "g",
      { class: "ldx-zone ldx-zone-ghost" },
      h("rect", { class: "ldx-zone-face", x: -9, y: -7, width: 18, height: 14 }),
    ),
  );
}

function MapRankSign() {
  return h(
    "svg",
    { class: "ldx-sign", viewBox: "-11 -11 22 22", "aria-hidden": "true" },
    h("g", { class: "ldx-rank-sign" }, h("circle", { r: 9 }), h("text", { y: 4.5 }, "1")),
  );
}

function MapCoveredSign() {
  return h(
    "svg",
    { class: "ldx-sign", viewBox: "-16 -16 32 32", "aria-hidden": "true" },
    h(
      "g",
      { class: "ldx-mark-covered" },
      h("path", { class: "ldx-mark-shape ldx-fluid-0", d: mapMarkPath(0, 9) }),
    ),
  );
}
