// The story: all that was entered, in order; nothing is ever lost.
// Gives: StoryPart({model, onChoose}).

const STORY_FEW = 30;
// What begins a new time, and stands across the story as a line.
const STORY_BREAKS = ["wash", "run_minutes", "renew"];

function StoryPart({ model, onChoose }) {
  const job = useTrait(model, "job");
  const [all, setAll] = useState(false);
  const { sending, send } = useSending(model, "story");
  const lines = useMemo(() => job.timeline.slice().reverse(), [job.timeline]);
  const shown = all ? lines : lines.slice(0, STORY_FEW);
  const turn = useCallback((entry) => send({ do: "undo", entry }), [model]);
  return h(
    Fragment,
    null,
    h(Fold, { title: "It was washed" }, h(WashForm, { model, control: "wash" })),
    h(Fold, { title: "It ran, or stood" }, h(RunForm, { model, control: "run" })),
    h(
      "div",
      { class: "ldx-line ldx-spread" },
      h("h3", null, "What was entered, the newest first"),
      h(Saving, { sending }),
    ),
    h(Fault, { model, control: "story" }),
    lines.length === 0 &&
      h("p", null, "Nothing yet. Tap the drawn machine where you looked, and say what you saw."),
    h(
      "ol",
      { class: "ldx-story", reversed: true },
      shown.map((line) => h(StoryLine, { key: line.entry, line, sending, onTurn: turn, onChoose })),
    ),
    lines.length > STORY_FEW &&
      h(
        Button,
        { onPress: () => setAll(!all), "aria-expanded": String(all) },
        all ? `Show the last ${STORY_FEW}` : `Show all ${lines.length}`,
      ),
  );
}

// Where on the machine an entry is about; null for one of the whole machine.
function storyPlace(data) {
  const about = data.to || data;
  if (about.zone) return { kind: "zone", id: about.zone };
  const seal = about.seal_point || about.renew;
  return seal ? { kind: "seal_point", id: seal } : null;
}

function StoryLine({ line, sending, onTurn, onChoose }) {
  const place = storyPlace(line.data);
  const back = line.kind === "withdraw";
  const kind = STORY_BREAKS.includes(line.kind) ? " ldx-story-break" : "";
  return h(
    "li",
    { class: `ldx-story-line${kind}${line.counts ? "" : " ldx-story-off"}`, value: line.entry },
    h("span", { class: "ldx-story-number", "aria-hidden": "true" }, line.entry),
    h(
      "div",
      { class: "ldx-story-words" },
      h("p", { class: "ldx-story-said" }, line.said),
      line.note && h("p", { class: "ldx-story-note" }, `\u201c${line.note}\u201d`),
      (line.at || !line.counts) &&
        h(
          "p",
          { class: "ldx-quiet" },
          [line.at, line.counts ? null : `Does not count: ${line.why_not || "taken back"}`]
            .filter(Boolean)
            .join(" \u00b7 "),
        ),
    ),
    h(
      "div",
      { class: "ldx-story-do" },
      place &&
        h(Button, { look: "quiet", "aria-label": `Show entry ${line.entry} on the machine`, onPress: () => onChoose(place) }, "Show"),
      line.counts &&
        h(
          Button,
          {
            look: "quiet",
            disabled: sending,
            "aria-label": `${back ? "Count again what entry" : "Take back entry"} ${line.entry}${back ? " took back" : ""}`,
            onPress: () => onTurn(line.entry),
          },
          back ? "Count it again" : "Take back",
        ),
    ),
  );
}
