// One view of the machine as a drawing that is tapped, or gone over with the arrow keys.
// Gives: MapView.

const MAP_LEAST_ROOM = 7; // points of the screen round a number
const MAP_KEYS = [
  "ArrowLeft",
  "ArrowRight",
  "ArrowUp",
  "ArrowDown",
  "Home",
  "End",
  "PageDown",
  "PageUp",
];

function mapKey(item) {
  return item ? `${item.kind}:${item.id}` : "";
}

const MapZoneFace = mapMemo(({ zone, state, old, hidden, button, said, chosen, tab, prefix }) => {
  const points = zone.points.map((p) => p.join(",")).join(" ");
  const tone = mapTone(state);
  const kind = zone.look === "ghost" ? "ldx-zone-ghost" : `ldx-zone-layer${zone.layer}`;
  const role = button
    ? {
        role: "button",
        tabindex: tab ? "0" : "-1",
        "aria-label": said,
        "aria-pressed": String(chosen),
        "data-key": `zone:${zone.zone}`,
      }
    : { "aria-hidden": "true" };
  return h(
    "g",
    {
      class: `ldx-zone ${kind}${hidden ? " ldx-zone-hidden" : ""}${old ? " ldx-old" : ""}`,
      ...role,
    },
    h("polygon", { class: "ldx-zone-face", points }),
    tone && h("polygon", { class: `ldx-zone-tint ldx-tone-${tone}`, points }),
    tone && h("polygon", { class: "ldx-zone-hatch", points, fill: `url(#${prefix}-${tone})` }),
  );
});

// What stands on a zone: its number where there is room, and the sign of what was seen.
const MapZoneLabel = mapMemo(({ zone, number, state, old, roomy, sign }) => {
  const [x, y] = zone.label;
  const tone = sign && mapTone(state);
  if (!tone && !roomy) return null;
  return h(
    "g",
    { class: `ldx-at${old ? " ldx-old" : ""}`, style: `--x:${x}px;--y:${y}px` },
    tone && h("circle", { class: `ldx-disc ldx-tone-${tone}`, r: 8.5, cy: roomy ? 6 : 0 }),
    tone &&
      h(
        "g",
        { class: roomy ? "ldx-lower" : "" },
        h("g", { class: "ldx-small" }, h(MapGlyph, { state })),
      ),
    roomy && h("text", { class: "ldx-zone-number", y: tone ? -6 : 4.5 }, number),
  );
});

const MapMark = mapMemo(({ mark, seal, state, old, rank, said, chosen, tab, large }) => {
  const [x, y] = mark.at;
  const tone = mapTone(state);
  const fluid = `ldx-fluid-${mark.shape % 8}`;
  return h(
    "g",
    {
      class: `ldx-at ldx-mark${mark.seen ? "" : " ldx-mark-covered"}${old ? " ldx-old" : ""}`,
      style: `--x:${x}px;--y:${y}px`,
      role: "button",
      tabindex: tab ? "0" : "-1",
      "aria-label": said,
      "aria-pressed": String(chosen),
      "data-key": `seal_point:${mark.seal}`,
    },
    h("circle", { class: "ldx-mark-reach", r: 14 }),
    h(
      "g",
      { class: large ? "ldx-large" : "" },
      h("path", { class: `ldx-mark-shape ${fluid}`, d: mapMarkPath(mark.shape, 8.5) }),
      h("text", { class: "ldx-mark-number", y: 3.6 }, seal.number),
      tone &&
        h(
          "g",
          { class: "ldx-mark-state" },
          h("circle", { class: `ldx-disc ldx-tone-${tone}`, r: 6.5 }),
          h("g", { class: "ldx-smaller" }, h(MapGlyph, { state })),
        ),
      rank && h("g", { class: "ldx-rank" }, h("circle", { r: 7 }), h("text", { y: 3.7 }, rank)),
    ),
  );
});

// From a mark that had to move to where its seal point is.
const MapTie = mapMemo(({ mark }) => {
  const [[x, y], [u, v]] = [mark.anchor, mark.at];
  if (mapGap(mark.anchor, mark.at) < 2) return null;
  return h(
    Fragment,
    null,
    h("path", { class: "ldx-tie-halo", d: `M${x} ${y}L${u} ${v}` }),
    h("path", { class: "ldx-tie", d: `M${x} ${y}L${u} ${v}` }),
    h(
      "g",
      { class: "ldx-at", style: `--x:${x}px;--y:${y}px` },
      h("circle", { class: "ldx-tie-end", r: 2 }),
    ),
  );
});

function MapRing({ view, item, kind }) {
  if (!item || item.kind !== "zone") {
    const mark = item && view.seals.find((m) => m.seal === item.id);
    if (!mark) return null;
    return h(
      "g",
      { class: "ldx-at", style: `--x:${mark.at[0]}px;--y:${mark.at[1]}px` },
      h("circle", { class: `ldx-ring ${kind}`, r: 17 }),
    );
  }
  const zone = view.zones.find((z) => z.zone === item.id);
  if (!zone) return null;
  const points = zone.points.map((p) => p.join(",")).join(" ");
  return h(
    Fragment,
    null,
    h("polygon", { class: "ldx-ring ldx-ring-halo", points }),
    h("polygon", { class: `ldx-ring ${kind}`, points }),
  );
}

// items: what can be chosen, by number.  named: kind -> id -> zone or seal point of the machine.
// told: {zones, seals, ranks} of the job.  onHits is told what was tapped; onPoint what is
// pointed at or has the focus.
function MapView({
  view,
  items,
  named,
  told,
  chosen,
  lit,
  whole,
  zoom,
  holder,
  prefix,
  shows,
  onHits,
  onPoint,
}) {
  const [last, setLast] = useState(null);
  const [ringed, setRinged] = useState(false);
  const rough = useRef(false);
  const keys = new Map(items.map((item) => [mapKey(item), item]));
  const stop = keys.get(last) || keys.get(mapKey(chosen)) || items[0];
  const { box, size } = zoom;

  const keyOf = (event) => {
    const at = event.target.closest("[data-key]");
    return at && at.getAttribute("data-key");
  };
  const focusOn = (item) => {
    setLast(mapKey(item));
    const found = holder.current.querySelector(`[data-key="${mapKey(item)}"]`);
    if (found) found.focus({ preventScroll: true });
  };
  const pressed = (event) => {
    if (zoom.dragged()) return;
    const direct = keys.get(keyOf(event));
    // A click without a pointer comes from a screen reader or a voice.
    if (!event.detail) {
      if (direct) onHits([direct], event);
      return;
    }
    const place = mapPlace(holder.current, event.clientX, event.clientY);
    const hits = mapHits(view, items, place, size, rough.current);
    if (hits.length === 1) setLast(mapKey(hits[0]));
    if (hits.length) onHits(hits, event);
  };
  const typed = (event) => {
    const from = keys.get(keyOf(event));
    if (!from || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      onHits([from], event);
    } else if (MAP_KEYS.includes(event.key)) {
      event.preventDefault();
      focusOn(mapNearestTo(items, from, event.key));
    }
  };
  const sealed = new Set(items.filter((i) => i.kind === "seal_point").map((i) => i.id));
  const marks = view.seals.filter((mark) => sealed.has(mark.seal));
  const drawn = h(
    "svg",
    {
      ref: holder,
      class: `ldx-view ldx-shows-${shows}`,
      role: "group",
      "aria-label": `${view.title}: ${items.length} places to choose`,
      viewBox: `${box.x} ${box.y} ${box.w} ${box.h}`,
      style: `--u:${(1 / size).toFixed(4)};aspect-ratio:${whole.w}/${whole.h}`,
      onClick: pressed,
      onKeyDown: typed,
      onPointerDown: (event) => {
        rough.current = event.pointerType !== "mouse";
      },
      onPointerMove: (event) => {
        if (event.pointerType !== "mouse" || event.buttons) return;
        const place = mapPlace(holder.current, event.clientX, event.clientY);
        onPoint(mapHits(view, items, place, size, false)[0] || null);
      },
      onPointerLeave: () => onPoint(null),
    },
    h(MapPatterns, { prefix }),
    h(
      "g",
      { class: "ldx-zones" },
      view.zones.map((zone) => {
        const reading = told.zones[zone.zone];
        const of = named.zone.get(zone.zone);
        const key = `zone:${zone.zone}`;
        return h(MapZoneFace, {
          key: zone.zone,
          zone,
          state: reading ? reading.state : null,
          old: Boolean(reading && reading.old),
          hidden: of.hidden,
          button: keys.has(key),
          said: mapSaid(of, reading),
          chosen: mapKey(chosen) === key,
          tab: mapKey(stop) === key,
          prefix,
        });
      }),
    ),
    h(
      "g",
      { "aria-hidden": "true", class: "ldx-over" },
      marks.map((mark) => h(MapTie, { key: mark.seal, mark })),
      view.zones
        .filter((zone) => zone.look !== "edge" && shows !== "seals")
        .map((zone) => {
          const reading = told.zones[zone.zone];
          return h(MapZoneLabel, {
            key: zone.zone,
            zone,
            number: named.zone.get(zone.zone).number,
            state: reading ? reading.state : null,
            old: Boolean(reading && reading.old),
            roomy: zone.room * size >= MAP_LEAST_ROOM * (reading ? 2 : 1),
            sign: true,
          });
        }),
      (lit || []).map((item) =>
        h(MapRing, { key: mapKey(item), view, item, kind: "ldx-ring-lit" }),
      ),
      chosen && h(MapRing, { view, item: chosen, kind: "ldx-ring-chosen" }),
    ),
    marks.map((mark) => {
      const reading = told.seals[mark.seal];
      const key = `seal_point:${mark.seal}`;
      const rank = told.ranks[mark.seal] || null;
      const said = mapSaid(named.seal_point.get(mark.seal), reading);
      return h(MapMark, {
        key: mark.seal,
        mark,
        seal: named.seal_point.get(mark.seal),
        state: reading ? reading.state : null,
        old: Boolean(reading && reading.old),
        rank,
        said: `Joint ${said}${rank ? `; number ${rank} of the ranking` : ""}`,
        chosen: mapKey(chosen) === key,
        tab: mapKey(stop) === key,
        large: zoom.wide > 560,
      });
    }),
    ringed &&
      h(
        "g",
        { "aria-hidden": "true", class: "ldx-over" },
        h(MapRing, { view, item: stop, kind: "ldx-ring-focus" }),
      ),
  );
  // A drawing that hears of the focus itself would be one more stop of the tab key.
  return h(
    "div",
    {
      onFocusIn: (event) => {
        const key = keyOf(event);
        if (!key) return;
        setLast(key);
        setRinged(event.target.matches(":focus-visible"));
        onPoint(keys.get(key));
      },
      onFocusOut: () => {
        setRinged(false);
        onPoint(null);
      },
    },
    drawn,
  );
}
