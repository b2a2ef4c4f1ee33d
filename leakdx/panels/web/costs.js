// What a repair costs in this workshop; without it all is reckoned in minutes of labour.
// Gives: CostsPart({model}).

const COSTS_MOST = 1000000000;
const COSTS_NUMBERS = [
  { key: "labour_per_hour", label: "Labour an hour", help: "What an hour of work costs here." },
  {
    key: "comeback",
    label: "A leak left behind",
    help: "What a comeback costs beside the renewing: washing, the visit, goodwill.",
  },
  { key: "part", label: "A usual part", help: "Left empty: as is usual for each kind of part.", free: true },
];

function costsDraft(costs) {
  const from = costs || {};
  const texts = COSTS_NUMBERS.map(({ key }) => [key, from[key] ? String(from[key]) : ""]);
  return { currency: from.currency || "", ...Object.fromEntries(texts) };
}

// The costs as they are written, the parts told one by one kept; null while something is missing.
function costsOf(draft, costs) {
  const kept = costs && costs.parts ? { parts: costs.parts } : {};
  const all = { currency: draft.currency.trim(), ...kept };
  if (!all.currency || all.currency.length > 12) return null;
  for (const { key, free } of COSTS_NUMBERS) {
    const number = numberOf(draft[key]);
    if (number === null && free) continue;
    if (number === null || !(number > 0 && number <= COSTS_MOST)) return null;
    all[key] = number;
  }
  return all;
}

function CostsPart({ model }) {
  const job = useTrait(model, "job");
  const [draft, setDraft] = useState(() => costsDraft(job.costs));
  const stamp = JSON.stringify(job.costs);
  useEffect(() => setDraft(costsDraft(job.costs)), [stamp]);
  const { sending, send } = useSending(model, "costs");
  const put = (key) => (value) => setDraft({ ...draft, [key]: value });
  const costs = costsOf(draft, job.costs);
  const set = (event) => {
    event.preventDefault();
    if (costs && !sending) send({ do: "costs", costs });
  };
  return h(
    "form",
    { class: "ldx-stack", onSubmit: set },
    h("p", { class: "ldx-quiet" }, "With these, looks and repairs are weighed in money; without, in minutes of work."),
    h(TextBox, { label: "Currency", help: "As it is to be shown, up to 12 letters.", value: draft.currency, maxlength: 12, onInput: put("currency") }),
    COSTS_NUMBERS.map((one) =>
      h(NumberBox, {
        key: one.key,
        label: one.label,
        help: one.help,
        range: [0.01, COSTS_MOST],
        value: draft[one.key],
        onInput: put(one.key),
      }),
    ),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: "accent", type: "submit", disabled: sending || !costs }, "Set the costs"),
      job.costs && h(Button, { disabled: sending, onPress: () => send({ do: "costs", costs: null }) }, "Forget the costs"),
      h(Saving, { sending }),
    ),
    !costs &&
      h("p", { class: "ldx-field-help" }, "Needed: the currency, labour an hour, and what a leak left behind costs."),
    h(Fault, { model, control: "costs" }),
  );
}
