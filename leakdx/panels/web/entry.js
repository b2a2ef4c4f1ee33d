// The sheet of one place: what was seen there, in one tap, and what may be added.
// Gives: EntrySheet({model, chosen, onDone}).

function EntrySheet({ model, chosen, onDone }) {
  const machine = useTrait(model, "machine");
  const job = useTrait(model, "job");
  if (!machine || !job || !chosen) return null;
  const { kind, id } = chosen;
  const thing = (kind === "zone" ? machine.zones : machine.seals).find((t) => t.id === id);
  if (!thing) return null;
  return h(EntryOf, {
    key: `${machine.id}/${kind}/${id}`,
    model,
    machine,
    job,
    kind,
    thing,
    onDone,
  });
}

// What was sent and not yet told to be kept; what was kept last, in words.
function useEntrySending(model, control) {
  const saved = useTrait(model, "saved") || [];
  const faults = useTrait(model, "faults") || [];
  const [sent, setSent] = useState(null);
  const [kept, setKept] = useState(null);
  useEffect(() => {
    if (!sent) return;
    if (saved.includes(sent.key)) {
      setKept(sent);
      setSent(null);
    } else if (faults.some((f) => f.key === sent.key)) {
      setSent(null);
    }
  }, [saved, faults, sent]);
  const send = (message, what) => {
    setKept(null);
    setSent({ key: sayTo(model, message, control), ...what });
  };
  return { sent, kept, send };
}

function EntryOf({ model, machine, job, kind, thing, onDone }) {
  const { id } = thing;
  const control = `${kind === "zone" ? "zone" : "seal"}:${id}`;
  const found = useMemo(() => entryFound(job, kind, id), [job, kind, id]);
  const current = found && !found.old ? found : null;
  const [draft, setDraft] = useState(() =>
    entryDraft(current && current.data, entryRemembered(machine)),
  );
  const [again, setAgain] = useState(false);
  const [open, setOpen] = useState(false);
  const [small, setSmall] = useState(false);
  const { sent, kept, send } = useEntrySending(model, control);
  const sheet = useRef(null);

  const stamp = current ? `${current.number} ${JSON.stringify(current.data)}` : "";
  useEffect(() => {
    setAgain(false);
    setDraft(entryDraft(current && current.data, entryRemembered(machine)));
  }, [stamp]);
  useEntryFocus(sheet);
  // On a phone the map is free again as soon as a state is kept.
  useEffect(() => {
    if (kept && kept.state && entryNarrow()) setSmall(true);
  }, [kept]);

  const close = () => {
    entryBack(sheet.current, `${kind}:${id}`);
    onDone();
  };
  const enter = (entry, what) => send({ do: "enter", entries: [entry] }, what);
  const undo = (entry, said) => send({ do: "undo", entry }, { said: `taken back: ${said}` });
  const change = (next) => {
    setDraft(next);
    if (current && !again) return;
    entryKept.set(machine.id, { method: next.method, fluid: next.fluid });
  };
  const put = current && !again ? current : null;
  const pick = (state) => {
    // A count that cannot be read is put right first, or it would be lost.
    if (kind === "zone" && state === "dripping" && !entryDropsFit(draft.drops)) {
      setOpen(true);
      return;
    }
    const entry = entryOf(kind, id, state, draft);
    if (put && entrySame(entry, put.data, kind, id)) return;
    enter(put ? { correct: put.number, to: entryWith(put.data, entry) } : entry, { state });
  };
  const changed = put && !entrySame(entryOf(kind, id, put.data.state, draft), put.data, kind, id);
  const states = kind === "zone" ? machine.words.zone_states : machine.words.seal_states;
  const said = entryTold({ sent, kept, found, thing });

  return h(
    "section",
    {
      class: `ldx-entry${small ? " ldx-entry-small" : ""}`,
      role: "dialog",
      "aria-label": `${kind === "zone" ? "Surface" : "Joint"} ${thing.number}, ${thing.name}`,
      ref: sheet,
      onKeyDown: (event) => {
        if (event.key !== "Escape") return;
        event.stopPropagation();
        close();
      },
    },
    h(
      EntryHead,
      { machine, kind, thing, small, onMore: () => setSmall(false), onClose: close },
      h("p", { class: "ldx-entry-told", role: "status" }, said),
    ),
    h(Fault, { model, control }),
    !small &&
      h(
        "div",
        { class: "ldx-entry-body" },
        found && h(EntryThere, { thing, found, again, onAgain: setAgain, onUndo: undo }),
        !put &&
          h(EntryRemembers, {
            machine,
            draft,
            onReset: () => change({ ...draft, ...ENTRY_USUAL }),
          }),
        h(
          "p",
          { class: "ldx-entry-ask" },
          kind === "zone" ? "What did you see here?" : "What did you see at this joint?",
        ),
        h(EntryStates, {
          label: "What you saw",
          states: states.filter((s) => mapTone(s.id)),
          state: put ? put.data.state : sent ? sent.state : null,
          onPick: pick,
        }),
        !found &&
          h(
            "p",
            { class: "ldx-field-help" },
            "Not looked at? Then tap nothing: without a reading it counts neither as wet nor as dry.",
          ),
        h(
          "details",
          { class: "ldx-fold", open, onToggle: (event) => setOpen(event.currentTarget.open) },
          h("summary", null, put ? "More about it" : "More about it, before you tap"),
          h(EntryDetails, { kind, machine, draft, onChange: change, control }),
          changed &&
            h(
              "button",
              { type: "button", class: "ldx-do", onClick: () => pick(put.data.state) },
              `Correct entry ${put.number}`,
            ),
        ),
        h(EntryContexts, {
          machine,
          job,
          kind,
          id,
          onEnter: (entry, what) => enter(entry, { said: what }),
          onUndo: undo,
        }),
        kind === "seal_point" &&
          h(EntryRenewal, {
            machine,
            job,
            seal: thing,
            control,
            onEnter: (entry, what) => enter(entry, { said: what }),
            onUndo: undo,
          }),
      ),
  );
}

// Whether an entry says what a reading says already.
function entrySame(entry, data, kind, id) {
  const was = entryOf(kind, id, data.state, entryDraft(data, ENTRY_USUAL));
  const keys = new Set([...Object.keys(entry), ...Object.keys(was)]);
  return [...keys].every((key) => entry[key] === was[key]);
}

// A corrected entry keeps what the sheet does not ask for: its time and its look.
function entryWith(data, entry) {
  const kept = Object.fromEntries(
    ["at", "inspection"].filter((key) => data[key]).map((key) => [key, data[key]]),
  );
  return { ...kept, ...entry };
}

function entryTold({ sent, kept, found, thing }) {
  if (sent) return "Saving ...";
  if (!kept) return "";
  const what = kept.state ? (found ? found.said : kept.state) : kept.said;
  return `Saved: ${thing.name}: ${what}`;
}

function entryNarrow() {
  return window.matchMedia("(max-width: 719.98px)").matches;
}

// The focus goes into the sheet when it opens, and back to the place when it is closed.
function useEntryFocus(sheet) {
  useEffect(() => {
    const head = sheet.current.querySelector("h2");
    head.focus({ preventScroll: true });
    if (!entryNarrow()) sheet.current.scrollIntoView({ block: "nearest" });
  }, []);
}

function entryBack(sheet, key) {
  const desk = sheet.closest(".ldx-desk") || document;
  const place =
    desk.querySelector(`.ldx-map [data-key="${key}"]`) || desk.querySelector(".ldx-map [data-key]");
  if (place) place.focus({ preventScroll: true });
}

function EntryHead({ machine, kind, thing, small, onMore, onClose, children }) {
  const near =
    kind === "zone"
      ? thing.hidden
        ? "Seen only when something is off."
        : ""
      : `${thing.kind}, ${(machine.fluids.find((f) => f.id === thing.fluid) || {}).name || thing.fluid}`;
  return h(
    "div",
    { class: "ldx-entry-head" },
    h(
      "h2",
      { tabindex: "-1", class: small ? "ldx-unseen" : "" },
      h("span", { class: "ldx-entry-number" }, thing.number),
      " ",
      h("span", null, kind === "zone" ? thing.name : `Joint: ${thing.name}`),
    ),
    children,
    small && h("button", { type: "button", class: "ldx-press", onClick: onMore }, "More"),
    h("button", { type: "button", class: "ldx-press", onClick: onClose }, "Close"),
    !small && near && h("p", { class: "ldx-field-help" }, near),
  );
}

// What is there already, and whether a tap puts it right or adds to it.
function EntryThere({ thing, found, again, onAgain, onUndo }) {
  const options = [
    { id: "right", said: `Put entry ${found.number} right` },
    { id: "again", said: "I looked again" },
  ];
  return h(
    "div",
    { class: "ldx-entry-there" },
    h(
      "p",
      { class: "ldx-there" },
      h("span", null, `Entry ${found.number}: ${mapSeen(thing, found)}`),
      h(
        "button",
        { type: "button", class: "ldx-press", onClick: () => onUndo(found.number, found.said) },
        "Take back",
      ),
    ),
    !found.old &&
      h(EntryChoice, {
        label: "Another tap below means",
        help: "Put it right where you mistapped; look again where it has changed: then both count.",
        options,
        value: again ? "again" : "right",
        onPick: (id) => onAgain(id === "again"),
      }),
  );
}

// What each entry says besides, so that nothing is said unseen.
function EntryRemembers({ machine, draft, onReset }) {
  const method = machine.words.methods.find((m) => m.id === draft.method);
  const fluid = machine.fluids.find((f) => f.id === draft.fluid);
  const said = [draft.method !== "eyes" && method && method.said, fluid && fluid.name].filter(
    Boolean,
  );
  if (!said.length) return null;
  return h(
    "p",
    { class: "ldx-there ldx-remembers" },
    h("span", null, `Each entry now says: ${said.join("; ")}.`),
    h("button", { type: "button", class: "ldx-press", onClick: onReset }, "Reset"),
  );
}
