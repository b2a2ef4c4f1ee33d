// Nearer and back again: what part of a view is on the screen.
// Gives: useMapZoom, mapWhole, mapPlace.

const MAP_NEAREST = 6;
const MAP_EDGE = 12; // units round what is drawn

// All of a view, units; without its margins where no mark lies in them.
function mapWhole(view, marks) {
  const points = view.zones.flatMap((zone) => zone.points);
  const [xs, ys] = [points.map((p) => p[0]), points.map((p) => p[1])];
  const [x, y] = [Math.min(...xs) - MAP_EDGE, Math.min(...ys) - MAP_EDGE];
  const [w, h] = [Math.max(...xs) + MAP_EDGE - x, Math.max(...ys) + MAP_EDGE - y];
  const out = ({ at: [u, v] }) =>
    u < x + MAP_EDGE || v < y + MAP_EDGE || u > x + w - MAP_EDGE || v > y + h - MAP_EDGE;
  return marks.some(out) ? { x: 0, y: 0, w: view.width, h: view.height } : { x, y, w, h };
}

// A part of the whole, units, that keeps within it.
function mapWithin(whole, box) {
  const w = Math.min(Math.max(box.w, whole.w / MAP_NEAREST), whole.w);
  const h = (w * whole.h) / whole.w;
  return {
    x: Math.min(Math.max(box.x, whole.x), whole.x + whole.w - w),
    y: Math.min(Math.max(box.y, whole.y), whole.y + whole.h - h),
    w,
    h,
  };
}

// The same with a place (units) kept where it is on the screen.
function mapNearer(whole, box, factor, [x, y]) {
  const w = Math.min(Math.max(box.w / factor, whole.w / MAP_NEAREST), whole.w);
  const k = w / box.w;
  return mapWithin(whole, { x: x - (x - box.x) * k, y: y - (y - box.y) * k, w });
}

function mapPlace(svg, x, y) {
  const place = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM().inverse());
  return [place.x, place.y];
}

// box: what is shown.  size: points of the screen a unit.  near: whether it is a part only.
// nearer(factor) about the middle, all(), dragged() whether the last press moved the map.
function useMapZoom(holder, whole) {
  const [kept, keep] = useState({ whole, box: whole });
  const box = kept.whole === whole ? kept.box : whole;
  const [wide, setWide] = useState({ w: 344, h: 344 });
  const now = useRef(null);
  now.current = { whole, box, show: (next) => keep({ whole, box: next }) };
  const moved = useRef(false);

  useLayoutEffect(() => {
    const watch = new ResizeObserver(([entry]) => {
      const { width, height } = entry.contentRect;
      if (width && height) setWide({ w: width, h: height });
    });
    watch.observe(holder.current);
    return () => watch.disconnect();
  }, []);
  useEffect(() => mapListen(holder.current, now, moved), []);

  return {
    box,
    size: Math.min(wide.w / box.w, wide.h / box.h),
    wide: wide.w,
    near: box.w < whole.w - 0.5,
    nearest: box.w <= whole.w / MAP_NEAREST + 0.5,
    nearer: (factor) =>
      keep({ whole, box: mapNearer(whole, box, factor, [box.x + box.w / 2, box.y + box.h / 2]) }),
    all: () => keep({ whole, box: whole }),
    dragged: () => moved.current,
  };
}

// Two fingers, or one where the map has farther to go that way; else the page scrolls.
function mapListen(svg, now, moved) {
  let held = null;
  const drag = (x, y) => {
    const { whole, box, show } = now.current;
    const [a, b] = [mapPlace(svg, held.x, held.y), mapPlace(svg, x, y)];
    const next = mapWithin(whole, { ...box, x: box.x - b[0] + a[0], y: box.y - b[1] + a[1] });
    held = { ...held, x, y };
    show(next);
  };
  const canGo = (dx, dy) => {
    const { whole, box } = now.current;
    const room =
      Math.abs(dx) > Math.abs(dy)
        ? dx > 0
          ? box.x - whole.x
          : whole.x + whole.w - box.w - box.x
        : dy > 0
          ? box.y - whole.y
          : whole.y + whole.h - box.h - box.y;
    return room > 0.5;
  };
  const start = (event) => {
    moved.current = false;
    const [one, two] = event.touches;
    held = two
      ? {
          x: (one.clientX + two.clientX) / 2,
          y: (one.clientY + two.clientY) / 2,
          gap: mapApart(one, two),
        }
      : { x: one.clientX, y: one.clientY, ours: null };
  };
  const move = (event) => {
    if (!held) return;
    const [one, two] = event.touches;
    if (two && held.gap) {
      event.preventDefault();
      moved.current = true;
      const middle = [(one.clientX + two.clientX) / 2, (one.clientY + two.clientY) / 2];
      const gap = mapApart(one, two);
      const { whole, box, show } = now.current;
      show(mapNearer(whole, box, gap / held.gap, mapPlace(svg, ...middle)));
      held = { ...held, gap };
      return;
    }
    if (held.gap) return;
    const [dx, dy] = [one.clientX - held.x, one.clientY - held.y];
    if (held.ours === null && Math.hypot(dx, dy) > 6) held.ours = canGo(dx, dy);
    if (!held.ours) return;
    event.preventDefault();
    moved.current = true;
    drag(one.clientX, one.clientY);
  };
  const press = (event) => {
    if (event.pointerType === "touch" || event.button) return;
    moved.current = false;
    held = { x: event.clientX, y: event.clientY };
  };
  const pull = (event) => {
    if (event.pointerType === "touch" || !held || !event.buttons) return;
    const { whole, box } = now.current;
    const far = Math.hypot(event.clientX - held.x, event.clientY - held.y);
    if (box.w >= whole.w - 0.5 || (!moved.current && far < 6)) return;
    moved.current = true;
    drag(event.clientX, event.clientY);
  };
  const end = () => {
    held = null;
  };
  const turn = (event) => {
    // The wheel alone is the page's.
    if (!event.ctrlKey) return;
    event.preventDefault();
    const { whole, box, show } = now.current;
    const place = mapPlace(svg, event.clientX, event.clientY);
    show(mapNearer(whole, box, Math.exp(-event.deltaY / 200), place));
  };
  const heard = [
    ["touchstart", start],
    ["touchmove", move],
    ["touchend", end],
    ["touchcancel", end],
    ["pointerdown", press],
    ["pointermove", pull],
    ["pointerup", (event) => event.pointerType === "touch" || end()],
    ["wheel", turn],
  ];
  for (const [name, what] of heard) svg.addEventListener(name, what, { passive: false });
  return () => heard.forEach(([name, what]) => svg.removeEventListener(name, what));
}

function mapApart(one, two) {
  return Math.hypot(one.clientX - two.clientX, one.clientY - two.clientY) || 1;
}
