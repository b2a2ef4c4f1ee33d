// The ranking: what most likely leaks, and how sure that is.
// Gives: RankingPart({model, onChoose, onWhy, onPart}), RankStrip.

function RankingPart({ model, onChoose, onWhy, onPart }) {
  const machine = useTrait(model, "machine");
  const job = useTrait(model, "job");
  const ranking = useTrait(model, "ranking");
  if (!ranking) {
    return h(
      Fragment,
      null,
      h("p", null, "Reckoning what most likely leaks."),
      h(Working, { model, errands: ["settle", "ready"] }),
    );
  }
  if (ranking.fault) return h(RankFailed, { model, job, ranking, onPart });
  return h(
    Fragment,
    null,
    h(RankMark, { model, job, ranking }),
    h(RankRows, { model, machine, ranking, onChoose, onWhy }),
    h(
      "p",
      { class: "ldx-quiet" },
      "Each chance stands by itself, and more than one joint may leak: together they need not make 100 %. ",
      "The thin line: how far it may be off.",
    ),
    h(RankOthers, { others: ranking.others }),
    ranking.step && h("p", { class: "ldx-rank-step" }, ranking.step),
    h(RankTogether, { ranking }),
    ranking.causes.length > 0 &&
      h(Fold, { title: "What may be behind it" }, h(RankLines, { lines: ranking.causes })),
    ranking.notes.length > 0 &&
      h(Fold, { title: "Taken for granted" }, h(RankLines, { lines: ranking.notes })),
  );
}

function RankLines({ lines }) {
  return h("ul", { class: "ldx-lines" }, lines.map((line, k) => h("li", { key: k }, line)));
}

// Says what the ranking is not yet.
function RankMark({ model, job, ranking }) {
  const old = job && ranking.head !== job.head;
  const work = useTrait(model, "work");
  const settling = isWorking(work, "settle");
  if (ranking.fine && !old && !settling) return null;
  const said = old
    ? "From before your last entry."
    : ranking.fine
      ? "Worked out in full."
      : "First reckoning.";
  return h(
    "div",
    { class: "ldx-rank-mark" },
    h(
      "p",
      { class: "ldx-stale" },
      h("span", { "aria-hidden": "true" }, ranking.fine && !old ? "\u2713" : "\u21bb"),
      h("span", null, said, settling ? (ranking.fine && !old ? " Now the rest:" : " Working it out in full:") : ""),
    ),
    h(Working, { model, errands: ["settle", "ready"] }),
  );
}

function RankOthers({ others }) {
  if (!others.length) return null;
  return h(
    "section",
    null,
    h("h3", null, "Or else"),
    h(
      "ul",
      { class: "ldx-others" },
      others.map((o) =>
        h(
          "li",
          { key: o.said },
          h("span", { class: "ldx-other-said" }, o.said),
          h("span", { class: "ldx-rank-said" }, o.text),
          h(RankBar, { leaks: o.chance, low: null, high: null }),
        ),
      ),
    ),
  );
}

function RankTogether({ ranking }) {
  if (!ranking.sets.length) return null;
  return h(
    Fold,
    { title: "What leaks together" },
    h("p", { class: "ldx-quiet" }, "Just these leak, and no other listed joint:"),
    h(
      "ul",
      { class: "ldx-others" },
      ranking.sets.map((set) =>
        h(
          "li",
          { key: set.names.join("+") },
          h("span", { class: "ldx-other-said" }, set.names.join(" + ")),
          h("span", { class: "ldx-rank-said" }, set.text),
        ),
      ),
    ),
  );
}

// The readings cannot all be true, or the work failed: said in words, with the ways out.
function RankFailed({ model, job, ranking, onPart }) {
  const { fault } = ranking;
  const told = job.timeline.filter((t) => t.counts && rankIsTold(fault, t));
  return h(
    "div",
    { class: "ldx-fault" },
    h("h3", null, told.length ? "These readings cannot all be so" : "It could not be ranked"),
    h("p", null, fault.said),
    told.map((t) =>
      h(
        "div",
        { key: t.entry, class: "ldx-line ldx-spread" },
        h("span", null, `${t.entry}. ${t.said}`),
        h(Button, { onPress: () => sayTo(model, { do: "undo", entry: t.entry }, "ranking") }, "Take back"),
      ),
    ),
    h(
      "div",
      { class: "ldx-line" },
      !told.length &&
        h(Button, { look: "main", onPress: () => askFor(model, "settle", {}) }, "Work it out anew"),
      job.undo &&
        h(
          Button,
          { onPress: () => sayTo(model, { do: "undo", entries: job.undo.entries }, "ranking") },
          `Undo: ${job.undo.said}`,
        ),
      h(Button, { onPress: () => onPart("story") }, "Look through the story"),
    ),
    h(Working, { model, errands: ["settle"] }),
    fault.details && h("details", null, h("summary", null, "Details"), h("pre", null, fault.details)),
    h(Fault, { model, control: "ranking" }),
  );
}

// Whether a fault names the entry, as "entry 5" or "5: head_rear running".
function rankIsTold(fault, line) {
  const text = `${fault.said}\n${fault.details || ""}`;
  return new RegExp(`\\bentry ${line.entry}\\b|(^|[\\s(,;])${line.entry}: `, "m").test(text);
}

// On a phone the first place and the next look stay in sight while one taps the machine.
function RankStrip({ model, onPart }) {
  const ranking = useTrait(model, "ranking");
  const job = useTrait(model, "job");
  const answers = useTrait(model, "answers") || {};
  const first = ranking && !ranking.fault && ranking.rows[0];
  const next = answers.next;
  const old = ranking && job && ranking.head !== job.head;
  return h(
    "div",
    { class: "ldx-strip" },
    h(
      "button",
      { type: "button", class: "ldx-strip-line ldx-strip-first", onClick: () => onPart("ranking") },
      h(
        "span",
        { class: "ldx-strip-said" },
        first
          ? `Likeliest: ${first.name}`
          : ranking && ranking.fault
            ? "It could not be ranked: why?"
            : "Reckoning ...",
      ),
      first && h("span", { class: "ldx-rank-said" }, old ? "\u21bb " : "", first.said),
      first && h(RankBar, { leaks: first.leaks, low: null, high: null }),
    ),
    next &&
      h(
        "button",
        { type: "button", class: "ldx-strip-line", onClick: () => onPart("next") },
        h("span", { class: "ldx-strip-said" }, job && next.head !== job.head ? "\u21bb " : "", next.sentence.split(";")[0]),
        h("span", { "aria-hidden": "true" }, "\u203a"),
      ),
  );
}
