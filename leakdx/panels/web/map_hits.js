// What a finger, a mouse or an arrow key means on the drawn machine.
// Gives: mapItems, mapHits, mapNearestTo, mapGap.  Pure functions; lengths are points of the
// screen, but where they say units.

const MAP_REACH = 22; // half a fingertip
const MAP_TINY = 8; // room in points of the screen below which a zone is hard to meet at all
const MAP_ABOUT_AS_NEAR = { tiny: 6, small: 3.5, large: 0 };
const MAP_RINGS = [0, 3, 6, 9, 12, 15, 18, 22];
const MAP_MARK_RADIUS = 11;

// What can be chosen in a view, each with where it is, in units.
//   shows: "zones", "seals" or "both"; kept: seal points that show with the zones too.
function mapItems(view, shows, kept) {
  const zones = view.zones
    .filter((zone) => zone.look !== "edge" && shows !== "seals")
    .map((zone) => ({ kind: "zone", id: zone.zone, at: zone.label }));
  const seals = view.seals
    .filter((mark) => shows !== "zones" || kept.has(mark.seal))
    .map((mark) => ({ kind: "seal_point", id: mark.seal, at: mark.at }));
  return [...zones, ...seals];
}

// What was tapped at a place in units: nothing, one, or several that are about as near, the
// nearest first.  size: points of the screen a unit.  rough: tapped with a finger.
function mapHits(view, items, place, size, rough) {
  const near = [
    ...mapMarksNear(view, items, place, size),
    ...mapZonesNear(view, items, place, size),
  ]
    .filter((hit) => hit.away <= (rough ? MAP_REACH : hit.kind === "zone" ? MAP_REACH : 4))
    .sort((a, b) => a.away - b.away);
  if (!near.length) return [];
  const [best] = near;
  if (!rough) return [best];
  // Beside everything it may be any; within one it is another only where that is small.
  const slack = (hit) => MAP_ABOUT_AS_NEAR[best.away > 0 ? "tiny" : hit.how];
  return near.filter((hit) => hit === best || hit.away - best.away <= slack(hit));
}

// Marks lie over zones: where one is met, nothing below it is meant.
function mapMarksNear(view, items, place, size) {
  const there = new Set(items.filter((i) => i.kind === "seal_point").map((i) => i.id));
  const found = [];
  for (const mark of view.seals) {
    const gap = mapGap(mark.at, place) * size - MAP_MARK_RADIUS;
    if (there.has(mark.seal) && gap <= MAP_REACH - MAP_MARK_RADIUS) {
      const away = gap <= 0 ? gap - 2 * MAP_ABOUT_AS_NEAR.tiny : gap;
      found.push({ kind: "seal_point", id: mark.seal, away, how: "tiny" });
    }
  }
  return found;
}

// How far the nearest place is where a zone lies on top.  One that is smaller than a
// fingertip is reached from farther off; one that is covered everywhere only by its number.
function mapZonesNear(view, items, place, size) {
  const there = new Set(items.filter((i) => i.kind === "zone").map((i) => i.id));
  if (!there.size) return [];
  const solid = view.zones.filter((zone) => zone.look !== "ghost");
  const close = solid.filter((zone) => mapBoxNear(zone.points, place, MAP_REACH / size));
  const away = new Map();
  for (const ring of MAP_RINGS) {
    const steps = ring ? 16 : 1;
    for (let k = 0; k < steps; k += 1) {
      const angle = (2 * Math.PI * k) / steps;
      const spot = [
        place[0] + (ring / size) * Math.cos(angle),
        place[1] + (ring / size) * Math.sin(angle),
      ];
      const top = mapTop(close, spot);
      if (top && !away.has(top)) away.set(top, ring);
    }
  }
  const found = [];
  for (const [zone, gap] of away) {
    // A strip, seen from its edge, is chosen only where nothing else is near.
    const strip = zone.look === "edge";
    const room = strip ? MAP_REACH : zone.room * size;
    const how = room < MAP_TINY ? "tiny" : room < MAP_REACH ? "small" : "large";
    found.push({ kind: "zone", id: zone.zone, away: strip ? gap + 10 : gap, how });
  }
  for (const zone of view.zones) {
    const gap = mapGap(zone.label, place) * size;
    if (zone.look === "ghost" && there.has(zone.zone) && gap <= MAP_REACH) {
      found.push({ kind: "zone", id: zone.zone, away: Math.max(gap - 10, 0), how: "tiny" });
    }
  }
  return found;
}

function mapGap(one, other) {
  return Math.hypot(one[0] - other[0], one[1] - other[1]);
}

function mapBoxNear(points, [x, y], reach) {
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  return (
    x >= Math.min(...xs) - reach &&
    x <= Math.max(...xs) + reach &&
    y >= Math.min(...ys) - reach &&
    y <= Math.max(...ys) + reach
  );
}

// The zone painted last at a place.
function mapTop(zones, place) {
  for (let n = zones.length - 1; n >= 0; n -= 1) {
    if (mapInside(zones[n].points, place)) return zones[n];
  }
  return null;
}

function mapInside(points, [x, y]) {
  let inside = false;
  for (let a = 0, b = points.length - 1; a < points.length; b = a, a += 1) {
    const [p, q] = points[a];
    const [u, v] = points[b];
    if (q > y !== v > y && x < ((u - p) * (y - q)) / (v - q) + p) inside = !inside;
  }
  return inside;
}

const MAP_WAYS = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

// Where a key leads from an item: its nearest in that direction; to the first or the last;
// with the page keys to the one before or after, so that each can be reached.
function mapNearestTo(items, from, key) {
  if (key === "Home") return items[0];
  if (key === "End") return items[items.length - 1];
  const here = items.indexOf(from);
  if (key === "PageDown") return items[(here + 1) % items.length];
  if (key === "PageUp") return items[(here + items.length - 1) % items.length];
  const [dx, dy] = MAP_WAYS[key];
  let best = null;
  let least = Infinity;
  for (const item of items) {
    const x = item.at[0] - from.at[0];
    const y = item.at[1] - from.at[1];
    const along = x * dx + y * dy;
    const across = Math.abs(x * dy) + Math.abs(y * dx);
    const cost = along + 2.2 * across;
    if (item !== from && along > 0.5 && cost < least) [best, least] = [item, cost];
  }
  return best || from;
}
