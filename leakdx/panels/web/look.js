// The next look: what to do now, what it costs, what it could show, and one tap to say so.
// Gives: LookPart({model, onChoose, onPart}), Cautions.

function LookPart({ model, onChoose, onPart }) {
  const job = useTrait(model, "job");
  const next = (useTrait(model, "answers") || {}).next;
  const [picked, setPicked] = useState(null);
  const best = next && next.looks[0] && next.looks[0].inspection;
  // Another best look puts itself forward.
  useEffect(() => setPicked(null), [best]);
  if (!next) {
    return h(
      Fragment,
      null,
      h("p", null, "Weighing which look tells most for its minutes."),
      h(Working, { model, errands: ["settle", "next"] }),
    );
  }
  // Before anything was seen, no look is put forward.
  const first = next.begin ? undefined : next.looks[0];
  const look = next.looks.find((l) => l.inspection === picked) || first;
  const others = next.looks.filter((l) => l !== look);
  return h(
    Fragment,
    null,
    h(Stale, { answer: next, job }),
    h(Working, { model, errands: ["settle", "next"] }),
    h(LookSentence, { said: look && look !== first ? lookSentence(look) : next.sentence }),
    next.begin &&
      h("div", null, h(Button, { look: "main", onPress: () => onPart("map") }, "To the drawn machine")),
    next.stop &&
      !next.begin &&
      h(
        "div",
        { class: "ldx-card ldx-stack ldx-look-stop" },
        h("p", null, h("strong", null, "No look pays now. "), capitalSaid(next.stop), "."),
        h(Button, { look: "main", onPress: () => onPart("repair") }, "To the repair"),
      ),
    look && h(LookOne, { key: look.inspection, model, look, onChoose, onPart }),
    !look && h(Cautions, { cautions: next.cautions }),
    picked &&
      look !== first &&
      h(Button, { onPress: () => setPicked(null) }, first ? "Back to the best look" : "Back to all looks"),
    next.telling && h("p", { class: "ldx-quiet" }, next.telling.said),
    h(LookOthers, { others, onPick: setPicked }),
    h(LookAhead, { model, job }),
    h(LookClosed, { next }),
  );
}

function capitalSaid(text) {
  return text.charAt(0).toUpperCase() + text.slice(1).replace(/\.$/, "");
}

// What to do, large; what would follow from it, one thing a line.
function LookSentence({ said }) {
  const [first, ...then] = said.split("; ");
  return h(
    "div",
    null,
    h("p", { class: "ldx-look-sentence" }, then.length ? `${first}.` : first),
    then.length > 0 &&
      h(
        "ul",
        { class: "ldx-look-then" },
        then.map((line) => h("li", { key: line }, `${capitalSaid(line)}.`)),
      ),
  );
}

function lookSentence(look) {
  return `${look.name}, about ${minutesSaid(look.minutes)}.`;
}

function minutesSaid(minutes) {
  const whole = Math.max(1, Math.round(minutes));
  if (whole < 60) return whole === 1 ? "1 minute" : `${whole} minutes`;
  const rest = whole % 60;
  return `${Math.floor(whole / 60)} h${rest ? ` ${rest} min` : ""}`;
}

// Cautions come before what they are about, with a sign, a word and a frame.
function Cautions({ cautions }) {
  if (!cautions.length) return null;
  return h(
    "div",
    { class: "ldx-cautions" },
    h("p", { class: "ldx-cautions-title" }, h(WarnSign), "Take care"),
    h("ul", null, cautions.map((c) => h("li", { key: c }, c))),
  );
}

function WarnSign() {
  return h(
    "svg",
    { class: "ldx-warn-sign", viewBox: "0 0 24 24", "aria-hidden": "true" },
    h("path", { d: "M12 2.5 22.5 21H1.5Z" }),
    h("path", { class: "ldx-warn-mark", d: "M12 9v6M12 17.6v.8" }),
  );
}

function LookOne({ model, look, onChoose, onPart }) {
  const [form, setForm] = useState(false);
  const { sending, send } = useSending(model, "look", () => setForm(false));
  const record = (entries) => {
    if (!sending) send({ do: "enter", entries });
  };
  const facts = [
    ["Takes", minutesSaid(look.minutes)],
    look.steps.length && ["Has to come off", look.steps.join("; ")],
    look.state.length && ["The machine must be", look.state.join(", ")],
    look.saves && ["Saves on average", look.saves],
  ].filter(Boolean);
  return h(
    "div",
    { class: "ldx-stack" },
    h(Cautions, { cautions: look.cautions }),
    h(
      "dl",
      { class: "ldx-facts" },
      facts.map(([name, said]) => h("div", { key: name }, h("dt", null, name), h("dd", null, said))),
    ),
    [...look.ready, ...look.spoils, ...look.risks].length > 0 &&
      h(RankLines, { lines: [...look.ready, ...look.risks, ...look.spoils] }),
    h(
      "div",
      { class: "ldx-line ldx-places-line" },
      h("span", { class: "ldx-rank-label" }, "Where to look:"),
      look.reads
        .filter((r) => r.kind !== "sign")
        .map((r) =>
          h(Button, { key: r.id, onPress: () => onChoose({ kind: r.kind, id: r.id }) }, r.name),
        ),
    ),
    h("h3", null, "What did it show?"),
    look.washes
      ? h(LookWashed, { onPart })
      : h(
          "p",
          { class: "ldx-quiet" },
          "One tap records it; it can be taken back. The chance is what to expect by what is known.",
        ),
    !look.washes &&
      h(
        "ul",
        { class: "ldx-outcomes" },
        look.outcomes.map((o) =>
          h(LookOutcome, { key: o.label, outcome: o, sending, onRecord: record, onForm: () => setForm(true) }),
        ),
      ),
    h(
      "div",
      { class: "ldx-line" },
      h(
        Button,
        { onPress: () => setForm(!form), "aria-expanded": String(form) },
        "Say each thing by itself",
      ),
      h(Saving, { sending }),
    ),
    form && h(LookForm, { model, look, sending, onRecord: record, onClose: () => setForm(false) }),
    h(Fault, { model, control: "look" }),
  );
}

function LookWashed({ onPart }) {
  return h(
    "div",
    { class: "ldx-stack" },
    h("p", null, "This look is made on what was washed and then run: record the wash and the run first."),
    h("div", null, h(Button, { onPress: () => onPart("story") }, "To the wash and the run")),
  );
}

function LookOutcome({ outcome, sending, onRecord, onForm }) {
  const whole = outcome.entries !== null;
  return h(
    "li",
    { class: "ldx-outcome" },
    h(
      "button",
      {
        type: "button",
        class: "ldx-outcome-tap",
        "aria-disabled": sending ? "true" : undefined,
        onClick: () => (whole ? onRecord(outcome.entries) : onForm()),
      },
      h("span", { class: "ldx-outcome-said" }, `I looked: ${outcome.said}`, whole ? "" : " ..."),
      h("span", { class: "ldx-outcome-text" }, outcome.text),
      h(RankBar, { leaks: outcome.chance, low: null, high: null }),
    ),
    outcome.then.length > 0 &&
      h(
        "p",
        { class: "ldx-outcome-then" },
        "Then likeliest: ",
        outcome.then.slice(0, 2).map((t) => `${t.name}, ${t.text}`).join("; "),
      ),
  );
}

function LookOthers({ others, onPick }) {
  if (!others.length) return null;
  return h(
    Fold,
    { title: `Other looks (${others.length})` },
    h(
      "p",
      { class: "ldx-quiet" },
      "\u201cTells\u201d: how much it says about what leaks, in bits; one bit is an even yes or no.",
    ),
    h(
      "ul",
      { class: "ldx-other-looks" },
      others.map((l) =>
        h(
          "li",
          { key: l.inspection },
          h(
            "button",
            { type: "button", class: "ldx-job", onClick: () => onPick(l.inspection) },
            h("span", { class: "ldx-job-title" }, l.name),
            h(
              "span",
              { class: "ldx-job-about" },
              `${minutesSaid(l.minutes)} \u00b7 tells ${l.bits.toFixed(2)} bits \u00b7 saves ${l.saves}`,
            ),
          ),
        ),
      ),
    ),
  );
}

function LookAhead({ model, job }) {
  const ahead = (useTrait(model, "answers") || {}).ahead;
  const work = useTrait(model, "work");
  return h(
    Fold,
    { title: "Two looks ahead", open: Boolean(ahead) },
    h(
      "p",
      { class: "ldx-quiet" },
      "Two looks may pay together where one by itself does not; working it out takes some seconds.",
    ),
    !isWorking(work, "ahead") &&
      h("div", null, h(Button, { onPress: () => askFor(model, "ahead", {}) }, "Look two looks ahead")),
    h(Working, { model, errands: ["ahead"] }),
    h(Fault, { model, control: "ahead" }),
    h(Stale, { answer: ahead, job }),
    ahead && h(RankLines, { lines: ahead.said }),
    ahead &&
      h(
        "ol",
        { class: "ldx-aheads" },
        ahead.rows.map((row) =>
          h(
            "li",
            { key: row.first },
            h("p", null, h("strong", null, row.first), ` \u2013 saves ${row.saves}`),
            h(RankLines, { lines: row.then }),
          ),
        ),
      ),
  );
}

function LookClosed({ next }) {
  if (!next.closed.length && !next.left_out.length) return null;
  return h(
    Fold,
    { title: "Looks that are not weighed" },
    h(RankLines, { lines: [...next.closed.map((c) => `${c.name}: ${c.why}`), ...next.left_out] }),
  );
}
