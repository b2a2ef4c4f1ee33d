// The rows of the ranking; a row keeps its place in the page while it moves in the order.
// Gives: RankRows, RankBar.

const RANK_FEW = 8;

// seal -> places gained since the ranking of the last entry but one; the same entry, reckoned
// anew, is compared with the same ranking.
function useRankMoves(ranking) {
  const kept = useRef({ head: null, base: null, last: null });
  return useMemo(() => {
    const now = new Map(ranking.rows.map((row, place) => [row.seal, place]));
    const { head, last } = kept.current;
    const base = head === ranking.head ? kept.current.base : last;
    kept.current = { head: ranking.head, base, last: now };
    if (!base) return new Map();
    return new Map(
      ranking.rows.map((row, place) => [row.seal, (base.get(row.seal) ?? place) - place]),
    );
  }, [ranking]);
}

function RankRows({ model, machine, ranking, onChoose, onWhy }) {
  const [all, setAll] = useState(false);
  const [open, setOpen] = useState(null);
  const moves = useRankMoves(ranking);
  const rows = all ? ranking.rows : ranking.rows.slice(0, RANK_FEW);
  const turn = useCallback((seal) => setOpen((was) => (was === seal ? null : seal)), []);
  return h(
    Fragment,
    null,
    h(
      "ol",
      { class: "ldx-ranks", "data-head": ranking.head },
      rows.map((row, place) =>
        h(RankRow, {
          key: row.seal,
          machine,
          row,
          place,
          moved: moves.get(row.seal) || 0,
          open: open === row.seal,
          onTurn: turn,
          onChoose,
          onWhy,
        }),
      ),
    ),
    ranking.rows.length > RANK_FEW &&
      h(
        Button,
        { onPress: () => setAll(!all), "aria-expanded": String(all) },
        all ? `Show the first ${RANK_FEW}` : `Show all ${ranking.rows.length}`,
      ),
  );
}

const RankRow = mapMemo((props) => {
  const { machine, row, place, moved, open, onTurn, onChoose, onWhy } = props;
  const more = `ldx-rank-${row.seal}`;
  return h(
    "li",
    { class: `ldx-rank-one${open ? " ldx-rank-open" : ""}`, "data-seal": row.seal },
    h(
      "button",
      {
        type: "button",
        class: "ldx-rank-head",
        "aria-expanded": String(open),
        "aria-controls": open ? more : undefined,
        onClick: () => onTurn(row.seal),
      },
      h("span", { class: "ldx-rank-place" }, place + 1),
      h("span", { class: "ldx-rank-name" }, row.name),
      h(RankMoved, { moved }),
      h("span", { class: "ldx-rank-said" }, row.said),
      h(RankBar, { leaks: row.leaks, low: row.low, high: row.high }),
    ),
    open && h(RankMore, { id: more, machine, row, onChoose, onWhy }),
  );
});

// A length from none to certain; the thin line is the interval, told in words below.
function RankBar({ leaks, low, high }) {
  return h(
    "span",
    { class: "ldx-rank-bar", "aria-hidden": "true" },
    h("span", { class: "ldx-rank-fill", style: { transform: `scaleX(${leaks})` } }),
    low !== null &&
      h("span", {
        class: "ldx-rank-whisker",
        style: { left: `${100 * low}%`, width: `${100 * (high - low)}%` },
      }),
  );
}

function RankMoved({ moved }) {
  if (!moved) return h("span", { class: "ldx-rank-moved" });
  const by = Math.abs(moved);
  return h(
    "span",
    { class: `ldx-rank-moved ldx-rank-${moved > 0 ? "up" : "down"}` },
    h("span", { "aria-hidden": "true" }, `${moved > 0 ? "\u25b2" : "\u25bc"}${by}`),
    h("span", { class: "ldx-unseen" }, `${moved > 0 ? "up" : "down"} ${by}`),
  );
}

function RankMore({ id, machine, row, onChoose, onWhy }) {
  const zones = new Map(machine.zones.map((z) => [z.id, z]));
  return h(
    "div",
    { class: "ldx-rank-more", id },
    h(
      "p",
      { class: "ldx-quiet" },
      `${fluidName(machine, row.fluid)}. `,
      row.low === null
        ? "How firm this is, is not worked out yet."
        : `Between ${percentSaid(row.low)} and ${percentSaid(row.high)} under other plausible numbers.`,
    ),
    row.zones.length > 0 && h("p", { class: "ldx-rank-label" }, "Shows first at:"),
    h(
      "div",
      { class: "ldx-line" },
      row.zones.map((zone) =>
        h(
          Button,
          { key: zone, onPress: () => onChoose({ kind: "zone", id: zone }) },
          (zones.get(zone) || { name: zone }).name,
        ),
      ),
    ),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: "accent", onPress: () => onWhy(row.seal) }, "Why?"),
      h(
        Button,
        { onPress: () => onChoose({ kind: "seal_point", id: row.seal }) },
        "Show this joint",
      ),
    ),
  );
}
