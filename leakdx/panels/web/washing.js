// A wash and a run: after them, what is seen counts anew.
// Gives: WashForm({model, control}), RunForm({model, control}).

const WASH_LONGEST = 100000; // minutes, more than two months of running
const WASH_CARE =
  "Keep degreaser off electrics too, and rinse it off seals and hoses at once: it can swell rubber.";
const RUN_CARE = "Hot parts, hot oil and hot coolant burn, while it runs and long after.";

function WashForm({ model, control }) {
  const machine = useTrait(model, "machine");
  const [whole, setWhole] = useState("whole");
  const [zones, setZones] = useState([]);
  const { sending, send } = useSending(model, control, () => setZones([]));
  const some = whole === "some";
  const turn = (id) =>
    setZones(zones.includes(id) ? zones.filter((z) => z !== id) : [...zones, id]);
  const record = () => send({ do: "enter", entries: [{ wash: some ? zones : "whole" }] });
  const count = zones.length === 1 ? "1 surface" : `${zones.length} surfaces`;
  return h(
    "div",
    { class: "ldx-stack" },
    h(Cautions, { cautions: [...REPAIR_CARE_WASH, WASH_CARE, REPAIR_FIRST] }),
    h(Labelled, { label: "What was washed", help: "What was seen there before stays in the story, and counts as from before the wash." },
      h(Choice, {
        label: "What was washed",
        options: [
          { id: "whole", said: "The whole machine" },
          { id: "some", said: "Only some surfaces" },
        ],
        value: whole,
        onPick: setWhole,
        control,
      })),
    some &&
      h(
        "div",
        { class: "ldx-checks", role: "group", "aria-label": "Surfaces that were washed", tabindex: "0" },
        machine.zones.map((z) =>
          h(CheckLine, { key: z.id, said: `${z.number}. ${z.name}`, on: zones.includes(z.id), onTurn: () => turn(z.id) }),
        ),
      ),
    h(
      "div",
      { class: "ldx-line" },
      h(
        Button,
        { look: "accent", disabled: sending || (some && !zones.length), onPress: record },
        !some ? "Record: washed whole" : zones.length ? `Record: washed ${count}` : "Tick what was washed",
      ),
      h(Saving, { sending }),
    ),
    h(Fault, { model, control }),
  );
}

function CheckLine({ said, about, on, onTurn }) {
  return h(
    "label",
    { class: "ldx-check" },
    h("input", { type: "checkbox", checked: on, onChange: onTurn }),
    h("span", { class: "ldx-check-said" }, said),
    about && h("span", { class: "ldx-rank-said" }, about),
  );
}

function RunForm({ model, control }) {
  const machine = useTrait(model, "machine");
  const [minutes, setMinutes] = useState("");
  const [use, setUse] = useState("");
  const [stand, setStand] = useState("");
  const [note, setNote] = useState("");
  const { sending, send } = useSending(model, control, () => {
    setMinutes("");
    setNote("");
  });
  const number = numberOf(minutes);
  const fits = number !== null && number > 0 && number <= WASH_LONGEST;
  const record = (event) => {
    event.preventDefault();
    if (!fits || sending) return;
    const entry = {
      run_minutes: number,
      ...(use && { use }),
      ...(stand && { stand }),
      ...(note.trim() && { note: note.trim() }),
    };
    send({ do: "enter", entries: [entry] });
  };
  return h(
    "form",
    { class: "ldx-stack", onSubmit: record },
    h(Cautions, { cautions: [...REPAIR_CARE_RUN, RUN_CARE, REPAIR_FIRST] }),
    h(NumberBox, {
      label: "How long",
      unit: "minutes",
      help: "From the wash to when you looked; an hour is 60.",
      range: [0.1, WASH_LONGEST],
      value: minutes,
      onInput: setMinutes,
    }),
    h(Labelled, { label: "What it did", help: "\u201cAs before\u201d: as is set under \u201cHow the machine stood and ran\u201d." },
      h(Choice, {
        label: "What it did in that time",
        options: [...machine.words.uses, { id: "", said: "As before" }],
        value: use,
        onPick: setUse,
        control,
      })),
    machine.stands.length > 0 &&
      h(PickBox, {
        label: "How it stood",
        options: [{ id: "", said: "As before" }, ...machine.stands.map((s) => ({ id: s.id, said: s.name }))],
        value: stand,
        onPick: setStand,
      }),
    h(TextBox, { label: "Note", help: "In your own words; it counts for nothing.", value: note, onInput: setNote }),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: "accent", type: "submit", disabled: sending || !fits }, "Record the run"),
      h(Saving, { sending }),
    ),
    h(Fault, { model, control }),
  );
}
