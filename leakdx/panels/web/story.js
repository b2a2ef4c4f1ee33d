// The story: all that was entered, in order; nothing is ever lost.
// Gives: StoryPart({model, onChoose}).

const STORY_FEW = 30;
// What begins a new time, and stands across the story as a line.
const STORY_BREAKS = ["wash", "run_minutes", "renew"];

function StoryPart({ model, onChoose }) {
  const job = useTrait(model, "job");
  const [all, setAll] = useState(false);
  // The entry that was turned last: beside it stands whether that is saved, or why not.
  const [turned, setTurned] = useState(null);
  const list = useRef(null);
  const { sending, send } = useSending(model, "story", () => storyFocus(list.current, turned));
  const lines = useMemo(() => job.timeline.slice().reverse(), [job.timeline]);
  const shown = all ? lines : lines.slice(0, STORY_FEW);
  const byPlace = new Map(job.timeline.map((t) => [t.entry, t]));
  const turn = (entry) => {
    setTurned(entry);
    send({ do: "undo", entry });
  };
  const line = (one) =>
    h(
      StoryLine,
      { key: one.entry, line: one, back: storyBack(one, byPlace), sending, onTurn: turn, onChoose },
      one.entry === turned &&
        h(Fragment, null, h(Saving, { sending }), h(Fault, { model, control: "story" })),
    );
  return h(
    Fragment,
    null,
    h(Fold, { title: "It was washed" }, h(WashForm, { model, control: "wash" })),
    h(Fold, { title: "It ran, or stood" }, h(RunForm, { model, control: "run" })),
    h("h3", null, "What was entered, the newest first"),
    turned === null && h(Fault, { model, control: "story" }),
    lines.length === 0 &&
      h("p", null, "Nothing yet. Tap the drawn machine where you looked, and say what you saw."),
    h("ol", { class: "ldx-story", reversed: true, ref: list }, shown.map(line)),
    lines.length > STORY_FEW &&
      h(
        Button,
        { onPress: () => setAll(!all), "aria-expanded": String(all) },
        all ? `Show the last ${STORY_FEW}` : `Show all ${lines.length}`,
      ),
  );
}

// Its button is gone once an entry is taken back; whoever uses keys goes on from the entry.
function storyFocus(list, entry) {
  const free = document.activeElement === document.body || document.activeElement === null;
  const there = free && list && list.querySelector(`[value="${entry}"]`);
  if (there) there.focus({ preventScroll: true });
}

// Where on the machine an entry is about; null for one of the whole machine.
function storyPlace(data) {
  const about = data.to || data;
  if (about.zone) return { kind: "zone", id: about.zone };
  const seal = about.seal_point || about.renew;
  return seal ? { kind: "seal_point", id: seal } : null;
}

// Whether an entry took back something seen or done, which may count again.
function storyBack(line, byPlace) {
  const earlier = line.kind === "withdraw" && byPlace.get(line.data.withdraw);
  return Boolean(earlier) && earlier.kind !== "withdraw";
}

// The time of an entry: as it was told, or to the minute.
function storyWhen(at) {
  return at && at.replace(/^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)(:[\d.]+)?/, "$1 $2");
}

function StoryLine({ line, back, sending, onTurn, onChoose, children }) {
  const place = storyPlace(line.data);
  const kind = STORY_BREAKS.includes(line.kind) ? " ldx-story-break" : "";
  const when = [storyWhen(line.at), !line.counts && `Does not count: ${line.why_not || "taken back"}`];
  const about = when.filter(Boolean).join(" \u00b7 ");
  return h(
    "li",
    {
      class: `ldx-story-line${kind}${line.counts ? "" : " ldx-story-off"}`,
      value: line.entry,
      tabindex: "-1",
    },
    h("span", { class: "ldx-story-number", "aria-hidden": "true" }, line.entry),
    h(
      "div",
      { class: "ldx-story-words" },
      place
        ? h(StoryTo, { line, onPress: () => onChoose(place) })
        : h("p", { class: "ldx-story-said" }, line.said),
      line.note && h("p", { class: "ldx-story-note" }, `\u201c${line.note}\u201d`),
      about && h("p", { class: "ldx-quiet" }, about),
    ),
    line.counts &&
      h(
        Button,
        {
          look: "quiet",
          disabled: sending,
          "aria-label": back ? `Count it again: entry ${line.data.withdraw}` : `Take back entry ${line.entry}`,
          "data-control": "story",
          onPress: () => onTurn(line.entry),
        },
        back ? "Count it again" : "Take back",
      ),
    children && h("div", { class: "ldx-story-answer" }, children),
  );
}

// The words of an entry of a surface or a joint lead to it on the drawn machine.
function StoryTo({ line, onPress }) {
  return h(
    "button",
    { type: "button", class: "ldx-story-to", onClick: onPress },
    h("span", { class: "ldx-story-said" }, line.said),
    h("span", { class: "ldx-unseen" }, ". Show it on the machine"),
    h("span", { class: "ldx-story-way", "aria-hidden": "true" }, "\u203a"),
  );
}
