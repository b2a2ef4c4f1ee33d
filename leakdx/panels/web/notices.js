// What the page says unasked: what other windows did, what is not saved, what is likeliest now.
// Gives: Notices({model}), UnsavedBanner({model}), LikeliestSaid({model}).

function Notices({ model }) {
  const notices = useTrait(model, "notices") || [];
  return h(
    "div",
    { class: "ldx-notices", role: "status" },
    notices.map((n) =>
      h(
        "div",
        { key: n.id, class: "ldx-notice" },
        h("p", null, n.said),
        h(Button, { onPress: () => model.send({ do: "dismiss", key: n.id, control: "dismiss" }) }, "OK"),
      ),
    ),
  );
}

const NOTICE_WORDS = {
  enter: ["an entry", "entries"],
  undo: ["something taken back", "entries taken back"],
  conditions: ["the conditions", "changes of the conditions"],
  renamed: ["the new title", "new titles"],
  costs: ["the costs", "changes of the costs"],
};

function noticeCounted(list) {
  const kinds = [...new Set(list.map((u) => u.message.do))];
  return kinds
    .map((kind) => {
      const count = list.filter((u) => u.message.do === kind).length;
      return count === 1 ? NOTICE_WORDS[kind][0] : `${count} ${NOTICE_WORDS[kind][1]}`;
    })
    .join(", ");
}

// The page never shows as made what Python has not written; here it says what is still on its way.
function UnsavedBanner({ model }) {
  const { late, elsewhere, lost } = useUnsaved(model);
  const long = late.some((u) => Date.now() - u.at > 4 * UNSAVED_LATE);
  return h(
    "div",
    { role: "alert", class: "ldx-unsaved" },
    (late.length > 0 || lost) &&
      h(
        "div",
        { class: "ldx-banner" },
        h("span", { class: "ldx-sign-warn", "aria-hidden": "true" }, "!"),
        h(
          "p",
          null,
          h("strong", null, late.length ? `Not saved yet: ${noticeCounted(late)}. ` : "Not connected. "),
          lost || long
            ? "The program behind this page does not answer. Reload the page; what was not saved is sent again."
            : "Still waiting for the program behind this page.",
        ),
        (lost || long) && h(Button, { onPress: () => location.reload() }, "Reload the page"),
      ),
    elsewhere.length > 0 &&
      late.length === 0 &&
      h(
        "div",
        { class: "ldx-banner" },
        h("span", { class: "ldx-sign-warn", "aria-hidden": "true" }, "!"),
        h(
          "p",
          null,
          h("strong", null, "Not saved yet: "),
          `${noticeCounted(elsewhere)} of another job. Open that job again and it is sent once more.`,
        ),
      ),
  );
}

// One polite sentence after each new ranking, at most one a second.
function LikeliestSaid({ model }) {
  const ranking = useTrait(model, "ranking");
  const first = ranking && ranking.rows[0];
  const next = first ? `Likeliest now: ${first.name}, ${first.said}` : "";
  const [said, setSaid] = useState("");
  const last = useRef(0);
  useEffect(() => {
    const wait = Math.max(0, 1000 - (Date.now() - last.current));
    const timer = setTimeout(() => {
      last.current = Date.now();
      setSaid(next);
    }, wait);
    return () => clearTimeout(timer);
  }, [next]);
  return h("p", { class: "ldx-unseen", "aria-live": "polite" }, said);
}
