// What an entry about one place is made of: pure parts first, then the controls.
// Gives: entryFound, entryDraft, entryOf, entryRemembered, EntryStates, EntryDetails,
// EntryContexts, EntryRenewal.

const ENTRY_USUAL = { method: "eyes", fluid: null };

// How one looks, and the fluid one follows, hold for the next entries too: per machine, until
// the page is left.
const entryKept = new Map();

function entryRemembered(machine) {
  return entryKept.get(machine.id) || ENTRY_USUAL;
}

// The reading of a place that counts, with the number that corrects it and all it says; or null.
function entryFound(job, kind, id) {
  const reading = (kind === "zone" ? job.zones : job.seals)[id];
  if (!reading) return null;
  const line = job.timeline.find((t) => t.entry === reading.entry);
  const data = (line && line.data) || {};
  const number = data.correct || reading.entry;
  const put = job.timeline.filter((t) => t.counts !== false && t.data && t.data.correct === number);
  const last = data.correct ? data.to : put.length ? put[put.length - 1].data.to : data;
  return {
    number,
    data: { ...last, state: reading.state },
    said: reading.said,
    old: Boolean(reading.old),
  };
}

// What the controls say at first: what the reading says, or what is remembered.
function entryDraft(found, kept) {
  const from = found || {};
  return {
    fluid: found ? from.fluid || null : kept.fluid,
    age: from.age || null,
    method: found ? from.method || "eyes" : kept.method,
    sure: from.sure || "normal",
    drops: from.drops_per_minute ? String(from.drops_per_minute) : "",
    note: from.note || "",
  };
}

// The entry as it goes into the timeline; what is usual, or says nothing there, is left out.
function entryOf(kind, id, state, draft) {
  const wet = kind === "zone" && mapTone(state) !== "dry";
  const drops = Number(draft.drops.replace(",", "."));
  const all = {
    [kind]: id,
    state,
    fluid: wet ? draft.fluid : null,
    age: wet ? draft.age : null,
    drops_per_minute: wet && state === "dripping" && drops > 0 ? drops : null,
    method: draft.method === "eyes" ? null : draft.method,
    sure: draft.sure === "normal" ? null : draft.sure,
    note: draft.note.trim() || null,
  };
  return Object.fromEntries(Object.entries(all).filter(([, value]) => value !== null));
}

// The large buttons: one tap is a whole entry.
function EntryStates({ label, states, state, onPick }) {
  return h(
    "div",
    { class: "ldx-states", role: "group", "aria-label": label },
    states.map((s) =>
      h(
        "button",
        {
          key: s.id,
          type: "button",
          class: "ldx-state",
          "aria-pressed": String(s.id === state),
          "data-state": s.id,
          onClick: () => onPick(s.id),
        },
        h(MapStateSign, { state: s.id }),
        h(
          "span",
          { class: "ldx-state-words" },
          h("span", { class: "ldx-state-said" }, s.said),
          " ",
          s.help && h("span", { class: "ldx-state-help" }, s.help),
        ),
      ),
    ),
  );
}

function EntryPick({ label, help, words, value, onPick }) {
  return h(
    "label",
    { class: "ldx-field" },
    h("span", { class: "ldx-field-name" }, label),
    h(
      "select",
      { value, onChange: (event) => onPick(event.currentTarget.value) },
      words.map((w) => h("option", { key: w.id, value: w.id, selected: w.id === value }, w.said)),
    ),
    h("span", { class: "ldx-field-help" }, help),
  );
}

function EntryChoice({ label, help, options, value, onPick, control }) {
  return h(
    "div",
    { class: "ldx-field" },
    h("span", { class: "ldx-field-name", "aria-hidden": "true" }, label),
    h(Choice, { label, options, value, onPick, control }),
    h("span", { class: "ldx-field-help" }, help),
  );
}

// What may be added to a state.  onChange is given the draft as it then is.
function EntryDetails({ kind, machine, draft, onChange, control }) {
  const { words } = machine;
  const put = (key) => (value) => onChange({ ...draft, [key]: value });
  const typed = (key) => (event) => put(key)(event.currentTarget.value);
  const fluids = [
    { id: "", said: "Don't know" },
    ...machine.fluids.map((f) => ({
      id: f.id,
      said: f.name,
      sign: h(MapMarkSign, { shape: f.shape }),
    })),
  ];
  const ages = [{ id: "", said: "Not told" }, ...words.ages];
  return h(
    "div",
    { class: "ldx-details" },
    kind === "zone" &&
      h(EntryChoice, {
        label: "Which fluid",
        help: "Kept for the next entries too; say so only where you can tell by colour, smell or feel.",
        options: fluids,
        value: draft.fluid || "",
        onPick: (id) => put("fluid")(id || null),
        control,
      }),
    kind === "zone" &&
      h(EntryChoice, {
        label: "How the residue looks",
        help: "Clean and shiny is fresh; dust that sticks to it makes it aged; dark and hard is baked.",
        options: ages,
        value: draft.age || "",
        onPick: (id) => put("age")(id || null),
        control,
      }),
    h(EntryPick, {
      label: "How you looked",
      help: "Kept for the next entries too.",
      words: words.methods,
      value: draft.method,
      onPick: put("method"),
    }),
    h(EntryChoice, {
      label: "How well you could see it",
      help: "A poor view counts for less.",
      options: words.sureness,
      value: draft.sure,
      onPick: put("sure"),
      control,
    }),
    kind === "zone" &&
      h(
        "label",
        { class: "ldx-field" },
        h("span", { class: "ldx-field-name" }, "Drops a minute"),
        h("input", {
          type: "text",
          inputmode: "decimal",
          value: draft.drops,
          "aria-invalid": String(!entryDropsFit(draft.drops)),
          onInput: typed("drops"),
        }),
        h(
          "span",
          { class: entryDropsFit(draft.drops) ? "ldx-field-help" : "ldx-field-fault" },
          entryDropsFit(draft.drops)
            ? "Count for a minute; it goes with \u201cdripping\u201d only."
            : "Write a number above 0, such as 12, or leave it empty.",
        ),
      ),
    h(
      "label",
      { class: "ldx-field" },
      h("span", { class: "ldx-field-name" }, "Note"),
      h("textarea", { rows: 2, value: draft.note, onInput: typed("note") }),
      h(
        "span",
        { class: "ldx-field-help" },
        "In your own words; it is kept with the entry and does not move the ranking.",
      ),
    ),
  );
}

function entryDropsFit(text) {
  return !text.trim() || Number(text.replace(",", ".")) > 0;
}

// What is known of the place besides: each button makes an entry, and takes it back.
function EntryContexts({ machine, job, kind, id, onEnter, onUndo }) {
  const about = machine.contexts.filter((c) => c.about.includes(kind));
  if (!about.length) return null;
  const known = new Map();
  for (const line of job.timeline) {
    if (line.kind === "context" && line.counts !== false && line.data[kind] === id) {
      known.set(line.data.context, line.entry);
    }
  }
  return h(
    "details",
    { class: "ldx-fold", open: known.size > 0 },
    h(
      "summary",
      null,
      kind === "zone" ? "What else is known of it" : "What else is known of this joint",
    ),
    h(
      "div",
      { class: "ldx-knowns", role: "group", "aria-label": "What else is known" },
      about.map((c) =>
        h(
          "button",
          {
            key: c.id,
            type: "button",
            class: "ldx-known",
            "aria-pressed": String(known.has(c.id)),
            onClick: () =>
              known.has(c.id)
                ? onUndo(known.get(c.id), c.said)
                : onEnter({ context: c.id, [kind]: id }, c.said),
          },
          h("span", { class: "ldx-known-said" }, c.said),
          " ",
          c.help && h("span", { class: "ldx-known-help" }, c.help),
        ),
      ),
    ),
    h("p", { class: "ldx-field-help" }, "Tap what is so; tap again to take it back."),
  );
}

// The joint was renewed just now, how, and what was checked before closing up.
function EntryRenewal({ machine, job, seal, onEnter, onUndo, control }) {
  const [how, setHow] = useState("new_part");
  const [checks, setChecks] = useState([]);
  const done = job.timeline.filter(
    (t) => t.kind === "renew" && t.counts !== false && t.data.renew === seal.id,
  );
  // Only a hose end can be cut back.
  const hows = machine.words.hows.filter((w) => w.id !== "shortened" || seal.kind === "hose end");
  const turn = (id) =>
    setChecks(checks.includes(id) ? checks.filter((c) => c !== id) : [...checks, id]);
  const record = () => {
    const all = {
      renew: seal.id,
      ...(how !== "new_part" && { how }),
      ...(checks.length && { checks }),
    };
    onEnter(all, "renewed");
    setChecks([]);
  };
  return h(
    "details",
    { class: "ldx-fold", open: done.length > 0 },
    h("summary", null, "It was renewed"),
    done.map((t) =>
      h(
        "p",
        { key: t.entry, class: "ldx-there" },
        h("span", null, `Entry ${t.entry}: ${t.said}`),
        h(
          "button",
          { type: "button", class: "ldx-press", onClick: () => onUndo(t.entry, t.said) },
          "Take back",
        ),
      ),
    ),
    h(EntryChoice, {
      label: "With what",
      help: "The same part put back is more likely to leak than a new one.",
      options: hows,
      value: how,
      onPick: setHow,
      control,
    }),
    h("p", { class: "ldx-field-name", "aria-hidden": "true" }, "Checked before closing up"),
    h(
      "div",
      { class: "ldx-knowns", role: "group", "aria-label": "Checked before closing up" },
      machine.words.checks.map((c) =>
        h(
          "button",
          {
            key: c.id,
            type: "button",
            class: "ldx-known",
            "aria-pressed": String(checks.includes(c.id)),
            onClick: () => turn(c.id),
          },
          h("span", { class: "ldx-known-said" }, c.said),
          " ",
          c.help && h("span", { class: "ldx-known-help" }, c.help),
        ),
      ),
    ),
    h(
      "p",
      { class: "ldx-field-help" },
      "Tap only what was done: each check makes a fault of the refit less likely.",
    ),
    h("button", { type: "button", class: "ldx-do", onClick: record }, "Record: renewed now"),
  );
}
