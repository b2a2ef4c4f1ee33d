// What is told of the whole machine: its signs, and what else is known of it and its fluids.
// Gives: FactsPart({model}).

function FactsPart({ model }) {
  const machine = useTrait(model, "machine");
  const job = useTrait(model, "job");
  const [fluid, setFluid] = useState(machine.fluids.length ? machine.fluids[0].id : null);
  // What was tapped last: beside it stands whether it is saved, or why not.
  const [tapped, setTapped] = useState(null);
  const { sending, send } = useSending(model, "facts");
  const several = machine.fluids.length > 1;
  const onSend = (id, message) => {
    if (sending) return;
    setTapped(id);
    send(message);
  };
  const answer = (id) =>
    id === tapped && h(Fragment, null, h(Saving, { sending }), h(Fault, { model, control: "facts" }));
  const told = { machine, job, fluid, answer, onSend };
  const ofFluid = machine.signs.filter((s) => SIGNS_OF_A_FLUID.includes(s.id));
  const ofMachine = machine.signs.filter((s) => !SIGNS_OF_A_FLUID.includes(s.id));
  const about = (what) => machine.contexts.filter((c) => c.about.includes(what));
  const count = job.signs.length;
  return h(
    Fold,
    { title: count ? `Signs of the whole machine (${count} told)` : "Signs of the whole machine" },
    h(
      "p",
      { class: "ldx-quiet" },
      "Answer only what you know; what is left at \u201cNot looked\u201d counts neither way.",
    ),
    tapped === null && h(Fault, { model, control: "facts" }),
    ofMachine.map((sign) => h(FactSign, { key: sign.id, sign, of: null, ...told })),
    h(FactsKnown, { label: "What else is known of the machine", known: about("machine"), of: null, ...told }),
    fluid && h("h3", { class: "ldx-facts-of" }, several ? "Of one fluid" : "Of the fluid"),
    several &&
      h(Labelled, { label: "Which fluid", help: "All below is told of this one." },
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
    fluid && ofFluid.map((sign) => h(FactSign, { key: sign.id, sign, of: fluid, ...told })),
    fluid &&
      h(FactsKnown, {
        label: `What else is known of the ${factFluid(machine, fluid)}`,
        known: about("fluid"),
        of: fluid,
        ...told,
      }),
  );
}

const FACT_ANSWERS = [{ id: "yes", said: "Yes" }, { id: "no", said: "No" }, LOOK_UNSEEN];
// Of each pair only one can be so.
const FACT_OTHER = {
  ventilation_blocked: "ventilation_clear",
  ventilation_clear: "ventilation_blocked",
};

// A fluid as in a sentence: what comes before the comma of "Engine oil, one pressure circuit".
function factFluid(machine, id) {
  const name = fluidName(machine, id).split(",")[0];
  return /^.[a-z]/.test(name) ? name[0].toLowerCase() + name.slice(1) : name;
}

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

function FactSign({ machine, job, sign, of, answer, onSend }) {
  const read = factRead(job, sign.id, of);
  // With one fluid its name goes without saying.
  const fluid = of && machine.fluids.length > 1 ? of : null;
  const ask = sign.ask.replace("the fluid", `the ${of ? factFluid(machine, of) : "fluid"}`);
  const pick = (value) => {
    if (value === (read ? read.value : "")) return;
    const entry = { sign: sign.id, value, ...(fluid && { fluid }) };
    // What was told with it stays: the fluid, the time, the note.
    const to = read && { ...entry, ...factKept(job, read) };
    if (!value) onSend(sign.id, { do: "undo", entry: read.entry });
    else onSend(sign.id, { do: "enter", entries: [read ? { correct: read.entry, to } : entry] });
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
    answer(sign.id),
  );
}

// What is known of one fluid, or of the machine: the number of the entry that says it.
function factsEntered(job, of) {
  const entered = new Map();
  const back = new Set(job.timeline.filter((t) => t.counts).map((t) => t.data.withdraw));
  for (const line of job.timeline) {
    const { context, seal_point: seal, zone, fluid } = line.data.to || line.data;
    const entry = line.data.correct || line.entry;
    if (!context || !line.counts || back.has(entry) || seal || zone) continue;
    if (!of || !fluid || fluid === of) entered.set(context, entry);
  }
  return entered;
}

// Tapped when it is so, tapped again to take it back.
function FactsKnown({ label, job, known, of, answer, onSend }) {
  const entered = factsEntered(job, of);
  const turn = (one) => {
    const there = entered.get(one.id);
    const other = entered.get(FACT_OTHER[one.id]);
    const entry = { context: one.id, ...(of && { fluid: of }) };
    if (there) onSend(label, { do: "undo", entry: there });
    else onSend(label, { do: "enter", entries: other ? [{ withdraw: other }, entry] : [entry] });
  };
  if (!known.length) return null;
  return h(
    Labelled,
    { label, help: "Tap what is so; tap again to take it back." },
    h(
      "div",
      { class: "ldx-knowns", role: "group", "aria-label": label },
      known.map((one) =>
        h(
          "button",
          {
            key: one.id,
            type: "button",
            class: "ldx-known",
            "aria-pressed": String(entered.has(one.id)),
            "data-control": "facts",
            onClick: () => turn(one),
          },
          h("span", { class: "ldx-known-said" }, one.said),
          h("span", { class: "ldx-known-help" }, one.help),
        ),
      ),
    ),
    answer(label),
  );
}
