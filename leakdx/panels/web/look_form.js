// What a look showed, thing by thing: only what was looked at is recorded.
// Gives: LookForm({model, look, sending, onRecord, onClose}), SIGNS_OF_A_FLUID.

// Signs that say nothing without a fluid, where the machine holds several.
const SIGNS_OF_A_FLUID = ["level_falls", "level_rises", "fluid_thinned", "fluid_emulsified"];
const LOOK_UNSEEN = { id: "", said: "Not looked" };

function lookChoices(machine, kind) {
  if (kind === "sign") return [{ id: "yes", said: "Yes" }, { id: "no", said: "No" }, LOOK_UNSEEN];
  const words = kind === "zone" ? machine.words.zone_states : machine.words.seal_states;
  const seen = words.filter((w) => w.id !== "not_looked");
  return [...seen.map((w) => ({ ...w, sign: h(MapStateSign, { state: w.id }) })), LOOK_UNSEEN];
}

function lookEntries(look, states, fluid) {
  return look.reads
    .filter((r) => states[r.id])
    .map((r) => {
      if (r.kind === "sign") {
        return { sign: r.id, value: states[r.id], ...(fluid && { fluid }) };
      }
      return { [r.kind]: r.id, state: states[r.id], inspection: look.inspection };
    });
}

function LookForm({ model, look, sending, onRecord, onClose }) {
  const machine = useTrait(model, "machine");
  const [states, setStates] = useState({});
  const [fluid, setFluid] = useState(machine.fluids[0] ? machine.fluids[0].id : "");
  const several = machine.fluids.length > 1 && look.reads.some((r) => r.kind === "sign");
  const entries = lookEntries(look, states, several ? fluid : null);
  const box = useRef(null);
  useEffect(() => box.current.querySelector("button").focus(), []);
  return h(
    "div",
    {
      class: "ldx-card ldx-stack ldx-look-form",
      role: "group",
      "aria-label": look.name,
      ref: box,
      onKeyDown: (event) => {
        if (event.key !== "Escape") return;
        event.stopPropagation();
        onClose();
      },
    },
    look.reads.map((r) =>
      h(
        Labelled,
        { key: r.id, label: r.name },
        h(Choice, {
          label: r.name,
          options: lookChoices(machine, r.kind),
          value: states[r.id] || "",
          onPick: (state) => setStates({ ...states, [r.id]: state }),
          control: "look",
        }),
      ),
    ),
    several &&
      h(PickBox, {
        label: "The signs are of",
        options: machine.fluids.map((f) => ({ id: f.id, said: f.name })),
        value: fluid,
        onPick: setFluid,
      }),
    h(
      "div",
      { class: "ldx-line" },
      h(
        Button,
        { look: "main", disabled: sending || !entries.length, onPress: () => onRecord(entries) },
        entries.length ? `Record ${entries.length === 1 ? "it" : `all ${entries.length}`}` : "Record",
      ),
      h(Button, { onPress: onClose }, "Close"),
    ),
    h(
      "p",
      { class: "ldx-quiet" },
      "What is left at \u201cNot looked\u201d is not recorded: it counts neither as wet nor as dry.",
    ),
  );
}
