// The five parts of a job, how many of them stand side by side, and the way between them.
// Gives: PARTS, partsBeside, PartsNav({parts, part, onPart}), Part({id, lit, children}),
// useWidth, useKept.

const PARTS = [
  { id: "map", said: "Machine", sign: "M4 20V8l8-4 8 4v12zM9 20v-7h6v7" },
  { id: "ranking", said: "Ranking", sign: "M4 6h16M4 12h11M4 18h6" },
  { id: "next", said: "Next look", sign: "M10.5 4a6.5 6.5 0 1 0 0 13 6.5 6.5 0 0 0 0-13M15.5 15.5 21 21" },
  { id: "story", said: "Story", sign: "M12 3v18M12 7h7M12 12H6M12 17h7" },
  { id: "repair", said: "Repair", sign: "M5 19 14 10M14 10a4 4 0 0 1 5-5l-2.5 3 1.5 1.5L21 7a4 4 0 0 1-5 5z" },
];
const PARTS_NARROW = 720;
const PARTS_WIDE = 1200;

// Which parts stay in sight at a width, and which of the rest take turns.
function partsBeside(width) {
  if (width < PARTS_NARROW) return { kind: "one", fixed: [], turns: PARTS };
  if (width < PARTS_WIDE) return { kind: "two", fixed: ["map"], turns: PARTS.slice(1) };
  return { kind: "three", fixed: ["map", "ranking"], turns: PARTS.slice(2) };
}

// The width the page has, which in a notebook is not that of the window.
function useWidth(box) {
  const [width, setWidth] = useState(() => window.innerWidth);
  useLayoutEffect(() => {
    const measure = () => {
      const found = box.current ? box.current.clientWidth : 0;
      if (found) setWidth(found);
    };
    measure();
    const watch = new ResizeObserver(measure);
    watch.observe(box.current);
    return () => watch.disconnect();
  }, []);
  return width;
}

// A value that outlives a reload of this window.
function useKept(place, first) {
  const [value, setValue] = useState(() => {
    try {
      return JSON.parse(sessionStorage.getItem(place)) ?? first;
    } catch (error) {
      return first; // no storage in this window
    }
  });
  const keep = useCallback(
    (next) => {
      setValue(next);
      try {
        sessionStorage.setItem(place, JSON.stringify(next));
      } catch (error) {
        // As above: it holds as long as the page is open.
      }
    },
    [place],
  );
  return [value, keep];
}

function PartsNav({ parts, part, onPart }) {
  return h(
    "nav",
    { class: "ldx-tabs", "aria-label": "Parts of the job" },
    parts.map((p) =>
      h(
        "button",
        {
          key: p.id,
          type: "button",
          class: "ldx-tab",
          "aria-current": p.id === part ? "true" : undefined,
          onClick: () => onPart(p.id),
        },
        h("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" }, h("path", { d: p.sign })),
        h("span", null, p.said),
      ),
    ),
  );
}

function Part({ id, lit, children }) {
  const title = PARTS.find((p) => p.id === id).said;
  return h(
    "section",
    { class: `ldx-part ldx-part-${id}${lit ? " ldx-lit" : ""}`, id: `ldx-part-${id}`, "aria-label": title },
    h("h2", { class: "ldx-part-title" }, title),
    h("div", { class: "ldx-stack" }, children),
  );
}
