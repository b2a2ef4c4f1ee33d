// How the machine stood and ran while the fluid spread.
// Gives: ConditionsPart({model}).

const CONDITIONS_NUMBERS = [
  {
    key: "hours",
    label: "Run since it was last clean",
    unit: "hours",
    range: [0, 100000],
    help: "Left empty where nobody knows.",
  },
  {
    key: "fluid_temperature_C",
    label: "Temperature of the fluid",
    unit: "\u00b0C",
    range: [-60, 300],
    help: "As it was while it ran: hot oil runs farther than cold.",
  },
  {
    key: "airflow_m_s",
    label: "Air speed over the machine",
    unit: "m/s",
    range: [0, 100],
    help: "Left empty: as is usual for what it did. A fan blows about 3, a drive much more.",
  },
];
const CONDITIONS_TILT = [
  { key: "pitch_deg", label: "Nose up", unit: "degrees", range: [-90, 90], help: "Nose down: below 0." },
  {
    key: "roll_deg",
    label: "Left side up",
    unit: "degrees",
    range: [-180, 180],
    help: "Right side up: below 0.",
  },
];
const CONDITIONS_ALL = [...CONDITIONS_NUMBERS, ...CONDITIONS_TILT];

// The numbers that are asked for: the tilt only where it is told in degrees.
function conditionsAsked(draft) {
  return draft.stand === "tilt" ? CONDITIONS_ALL : CONDITIONS_NUMBERS;
}

function conditionsDraft(conditions) {
  const texts = CONDITIONS_ALL.map(({ key }) => [
    key,
    conditions[key] === undefined || conditions[key] === null ? "" : String(conditions[key]),
  ]);
  const tilted = CONDITIONS_TILT.some(({ key }) => conditions[key]);
  return {
    ...Object.fromEntries(texts),
    stand: conditions.stand || (tilted ? "tilt" : ""),
    use: conditions.use || "",
  };
}

// The conditions as they are written; what is not told is left out.
function conditionsOf(draft) {
  const numbers = conditionsAsked(draft)
    .map(({ key }) => [key, numberOf(draft[key])])
    .filter(([, number]) => number !== null);
  return {
    ...(draft.stand && draft.stand !== "tilt" && { stand: draft.stand }),
    ...(draft.use && { use: draft.use }),
    ...Object.fromEntries(numbers),
  };
}

function conditionsFit(draft) {
  return conditionsAsked(draft).every(({ key, range: [min, max] }) => {
    const number = numberOf(draft[key]);
    return number === null || (number >= min && number <= max);
  });
}

function ConditionsPart({ model }) {
  const machine = useTrait(model, "machine");
  const job = useTrait(model, "job");
  const [draft, setDraft] = useState(() => conditionsDraft(job.conditions));
  const stamp = JSON.stringify(job.conditions);
  useEffect(() => setDraft(conditionsDraft(job.conditions)), [stamp]);
  const { sending, send } = useSending(model, "conditions");
  const put = (key) => (value) => setDraft({ ...draft, [key]: value });
  const number = (one) => h(NumberBox, { ...one, value: draft[one.key], onInput: put(one.key) });
  const set = (event) => {
    event.preventDefault();
    if (conditionsFit(draft) && !sending) send({ do: "conditions", conditions: conditionsOf(draft) });
  };
  return h(
    "form",
    { class: "ldx-stack", onSubmit: set },
    job.conditions.said && h("p", null, "Now: ", h("strong", null, job.conditions.said), "."),
    h(PickBox, {
      label: "How it stood",
      help: "Fluid runs down: on a slope it goes elsewhere.",
      options: [
        { id: "", said: "Level" },
        ...machine.stands.map((s) => ({ id: s.id, said: s.name })),
        { id: "tilt", said: "On a slope, in degrees" },
      ],
      value: draft.stand,
      onPick: put("stand"),
    }),
    draft.stand === "tilt" && h("div", { class: "ldx-pair" }, CONDITIONS_TILT.map(number)),
    h(Labelled, { label: "What it did", help: "While the fluid spread." },
      h(Choice, {
        label: "What it did",
        options: [...machine.words.uses, { id: "", said: "Not told" }],
        value: draft.use,
        onPick: put("use"),
        control: "conditions",
      })),
    CONDITIONS_NUMBERS.map(number),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: "accent", type: "submit", disabled: sending || !conditionsFit(draft) }, "Set"),
      h(Saving, { sending }),
    ),
    h(Fault, { model, control: "conditions" }),
  );
}
