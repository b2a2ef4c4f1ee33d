// What is told of the whole machine: its signs, and what else is known of it and its fluids.
// Gives: FactsPart({model}).

function FactsPart({ model }) {
  const machine = useTrait(model, "machine");
  const job = useTrait(model, "job");
  const [fluid, setFluid] = useState(machine.fluids.length ? machine.fluids[0].id : null);
  const { sending, send } = useSending(model, "facts");
  const several = machine.fluids.length > 1;
  const told = { machine, job, fluid, sending, onSend: send };
  const ofFluid = machine.signs.filter((s) => SIGNS_OF_A_FLUID.includes(s.id));
  const ofMachine = machine.signs.filter((s) => !SIGNS_OF_A_FLUID.includes(s.id));
  const known = machine.contexts.filter((c) => c.about.includes("fluid") || c.about.includes("machine"));
  const count = job.signs.length;
  return h(
    Fold,
    { title: count ? `Signs of the whole machine (${count} told)` : "Signs of the whole machine" },
    h(
      "p",
      { class: "ldx-quiet" },
      "Answer only what you know; what is left at \u201cNot looked\u201d counts neither way.",
    ),
    h(Fault, { model, control: "facts" }),
    h(Saving, { sending }),
    several &&
      h(Labelled, { label: "Which fluid", help: "For the questions about a level or a fluid." },
        h(Choice, {
          label: "Which fluid",
          options: machine.fluids.map((f) => ({
            id: f.id,
            said: f.name,
            sign: h(MapMarkSign, { shape: f.shape }),
          })),
          value: fluid,
          onPick: setFluid,
          control: "facts",
        })),
    ofFluid.map((sign) => h(FactSign, { key: sign.id, sign, of: fluid, ...told })),
    known.length > 0 && h(FactsKnown, { known, ...told }),
    h("h3", null, "Of the machine"),
    ofMachine.map((sign) => h(FactSign, { key: sign.id, sign, of: null, ...told })),
  );
}

const FACT_ANSWERS = [{ id: "yes", said: "Yes" }, { id: "no", said: "No" }, LOOK_UNSEEN];

// The reading of a sign that stands; of a fluid where one is asked for.
function factRead(job, sign, of) {
  const all = job.signs.filter((s) => s.sign === sign && (!of || !s.fluid || s.fluid === of));
  return all[all.length - 1] || null;
}

function factKept(job, read) {
  const line = job.timeline.find((t) => t.entry === read.entry);
  const { fluid, at, note } = (line && (line.data.to || line.data)) || {};
  return { ...(fluid && { fluid }), ...(at && { at }), ...(note && { note }) };
}

function FactSign({ machine, job, sign, of, sending, onSend }) {
  const read = factRead(job, sign.id, of);
  // With one fluid its name goes without saying.
  const fluid = of && machine.fluids.length > 1 ? of : null;
  // A fluid is called by what comes before the comma: "engine oil, one pressure circuit".
  const name = of ? fluidName(machine, of).split(",")[0].toLowerCase() : "fluid";
  const ask = sign.ask.replace("the fluid", `the ${name}`);
  const pick = (value) => {
    if (sending || value === (read ? read.value : "")) return;
    const entry = { sign: sign.id, value, ...(fluid && { fluid }) };
    if (!value) onSend({ do: "undo", entry: read.entry });
    else if (read) {
      // What was told with it stays: the fluid, the time, the note.
      const to = { ...entry, ...factKept(job, read) };
      onSend({ do: "enter", entries: [{ correct: read.entry, to }] });
    } else onSend({ do: "enter", entries: [entry] });
  };
  return h(
    "div",
    { class: "ldx-fact" },
    h(
      "div",
      { class: "ldx-fact-words" },
      h("span", { class: "ldx-field-name" }, ask),
      h("span", { class: "ldx-field-help" }, sign.help),
    ),
    h(Choice, { label: ask, options: FACT_ANSWERS, value: read ? read.value : "", onPick: pick, control: "facts" }),
  );
}

// What else is known: tapped when it is so, tapped again to take it back.
function FactsKnown({ machine, job, known, fluid, sending, onSend }) {
  const entries = new Map();
  for (const line of job.timeline) {
    const { context, seal_point: seal, zone, fluid: of } = line.data;
    if (line.kind !== "context" || !line.counts || seal || zone) continue;
    if (!of || of === fluid) entries.set(context, line.entry);
  }
  const turn = (one) => {
    if (sending) return;
    if (entries.has(one.id)) onSend({ do: "undo", entry: entries.get(one.id) });
    else {
      const of = one.about.includes("fluid") ? { fluid } : {};
      onSend({ do: "enter", entries: [{ context: one.id, ...of }] });
    }
  };
  return h(
    Labelled,
    { label: "What else is known", help: "Tap what is so; tap again to take it back." },
    h(
      "div",
      { class: "ldx-knowns", role: "group", "aria-label": "What else is known" },
      known.map((one) =>
        h(
          "button",
          {
            key: one.id,
            type: "button",
            class: "ldx-known",
            "aria-pressed": String(entries.has(one.id)),
            onClick: () => turn(one),
          },
          h("span", { class: "ldx-known-said" }, one.said),
          h("span", { class: "ldx-known-help" }, one.help),
        ),
      ),
    ),
  );
}
