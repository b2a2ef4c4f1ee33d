// A new job: its title, and which machine it is about.
// Gives: NewJob({model, shelf, onBack}).

const NEW_WAYS = [
  { id: "layout", said: "Choose what it is most like" },
  { id: "shipped", said: "The machine that comes with it" },
  { id: "file", said: "A machine file of my own" },
];

function NewJob({ model, shelf, onBack }) {
  const [title, setTitle] = useState("");
  const [way, setWay] = useState(shelf.layouts.length ? "layout" : "shipped");
  const [layout, setLayout] = useState(null);
  const [options, setOptions] = useState({});
  const [name, setName] = useState("");
  const [shipped, setShipped] = useState(shelf.machines.length ? shelf.machines[0].id : null);
  const [file, setFile] = useState(null);
  const { sending, send } = useSending(model, "begin");
  const chosen = shelf.layouts.find((l) => l.id === layout);
  const machine = newMachine({ way, chosen, options, name, shipped, file });
  const missing = newMissing(way, title, machine);
  const head = useRef(null);
  useEffect(() => head.current.focus(), []);
  const begin = (event) => {
    event.preventDefault();
    if (!missing && !sending) send({ do: "begin", title: title.trim(), machine });
  };
  return h(
    "main",
    { class: "ldx-shelf", id: "ldx-parts", tabindex: "-1" },
    h(
      "div",
      { class: "ldx-shelf-head" },
      h("h1", { tabindex: "-1", ref: head }, "New job"),
      h(Button, { onPress: onBack }, "Back"),
    ),
    h(
      "form",
      { class: "ldx-stack ldx-new", onSubmit: begin },
      h(
        "section",
        { class: "ldx-card ldx-stack" },
        h(TextBox, {
          label: "Title",
          help: "So that you find it again: the machine, the owner's complaint, the date.",
          value: title,
          onInput: setTitle,
        }),
      ),
      h(
        "section",
        { class: "ldx-card ldx-stack" },
        h("h2", null, "The machine"),
        h(Choice, {
          label: "How to choose the machine",
          options: NEW_WAYS.filter((w) => w.id !== "shipped" || shelf.machines.length),
          value: way,
          onPick: setWay,
          control: "begin",
        }),
        way === "layout" &&
          h(NewLayout, { shelf, layout, chosen, options, name, onLayout: setLayout, onOptions: setOptions, onName: setName }),
        way === "shipped" &&
          h(Labelled, { label: "Machine", help: "Invented; there to try things out on." },
            h(Choice, {
              label: "Machine",
              options: shelf.machines.map((m) => ({ id: m.id, said: m.name })),
              value: shipped,
              onPick: setShipped,
              control: "begin",
            })),
        way === "file" && h(NewFile, { file, onFile: setFile }),
      ),
      h(Fault, { model, control: "begin" }),
      h(
        "div",
        { class: "ldx-line ldx-new-end" },
        h(Button, { look: "main", type: "submit", disabled: Boolean(missing) || sending }, "Begin"),
        missing && h("p", { class: "ldx-quiet" }, missing),
        h(Saving, { sending }),
      ),
      sending && h(Bar, { done: 0, of: 0, said: "Making the machine ready" }),
    ),
  );
}

function NewLayout({ shelf, layout, chosen, options, name, onLayout, onOptions, onName }) {
  return h(
    "div",
    { class: "ldx-stack" },
    h("h3", null, "Which of these is most like your machine?"),
    h(
      "p",
      { class: "ldx-quiet" },
      "It need not be the very same: what matters is what sits where.",
    ),
    h(
      "div",
      { class: "ldx-layouts", role: "group", "aria-label": "Layouts" },
      shelf.layouts.map((l) =>
        h(
          "button",
          {
            key: l.id,
            type: "button",
            class: "ldx-choice-one",
            "aria-pressed": String(l.id === layout),
            onClick: () => {
              onLayout(l.id);
              onOptions({});
            },
          },
          l.name,
        ),
      ),
    ),
    chosen && chosen.options.length > 0 && h("h3", null, "How it is built"),
    chosen &&
      chosen.options.map((o) =>
        h(
          Labelled,
          { key: o.id, label: o.ask },
          h(Choice, {
            label: o.ask,
            options: o.choices.map((c) => ({ id: c.value, said: c.said })),
            value: options[o.id] || o.usual,
            onPick: (value) => onOptions({ ...options, [o.id]: value }),
            control: "begin",
          }),
        ),
      ),
    chosen &&
      h(TextBox, {
        label: "What you call it",
        help: "Left empty, it is called after the layout.",
        value: name,
        onInput: onName,
      }),
  );
}

function NewFile({ file, onFile }) {
  return h(
    "div",
    { class: "ldx-stack" },
    h(FileButton, { label: file ? "Choose another file" : "Choose the file", accept: ".yaml,.yml,.json", onFile }),
    file && h("p", null, "Chosen: ", h("span", { class: "ldx-path" }, file.name)),
    h(
      "p",
      { class: "ldx-quiet" },
      "A machine file, such as \u201cleakdx new\u201d makes; it is read, and kept with the job.",
    ),
  );
}

// What Python is to begin with; null as long as something is missing.
function newMachine({ way, chosen, options, name, shipped, file }) {
  if (way === "shipped") return shipped && { shipped };
  if (way === "file") return file && { file: file.name, text: file.text };
  if (!chosen) return null;
  const all = Object.fromEntries(chosen.options.map((o) => [o.id, options[o.id] || o.usual]));
  return { layout: chosen.id, options: all, name: name.trim() || chosen.name };
}

function newMissing(way, title, machine) {
  if (!machine) return way === "file" ? "Choose the file first." : "Choose a machine first.";
  if (!title.trim()) return "Give it a title first.";
  return null;
}
