// Controls that several parts are made of, and how a part says what it waits for.
// Gives: Labelled, NumberBox, TextBox, PickBox, FileButton, Fold, Stale, Saving, useSending,
// numberOf, percentSaid, fluidName, saveFile.

// A name, a control and a sentence of help.  of: the id of the control, none for a group, which
// has its name by itself.
function Labelled({ label, help, children, of }) {
  return h(
    "div",
    { class: "ldx-field" },
    of
      ? h("label", { class: "ldx-field-name", for: of }, label)
      : h("span", { class: "ldx-field-name", "aria-hidden": "true" }, label),
    children,
    help && h("span", { class: "ldx-field-help", id: of && `${of}-help` }, help),
  );
}

// The number in a text, null where it is empty, NaN where it is none.  A comma is a point.
function numberOf(text) {
  const plain = String(text).trim().replace(",", ".");
  return plain === "" ? null : Number(plain);
}

function NumberBox({ label, unit, help, range, value, onInput }) {
  const id = useId("number");
  const [min, max] = range;
  const number = numberOf(value);
  const wrong = number !== null && !(number >= min && number <= max);
  return h(
    Labelled,
    {
      label: unit ? `${label}, ${unit}` : label,
      help: wrong ? null : help,
      of: id,
    },
    h("input", {
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      id,
      value,
      "aria-invalid": String(wrong),
      "aria-describedby": help || wrong ? `${id}-help` : undefined,
      onInput: (event) => onInput(event.currentTarget.value),
    }),
    wrong &&
      h(
        "span",
        { class: "ldx-field-fault", id: `${id}-help` },
        `A number from ${min} to ${max}, or leave it empty.`,
      ),
  );
}

function TextBox({ label, help, value, onInput, ...rest }) {
  const id = useId("text");
  return h(
    Labelled,
    { label, help, of: id },
    h("input", {
      type: "text",
      autocomplete: "off",
      id,
      value,
      "aria-describedby": help ? `${id}-help` : undefined,
      onInput: (event) => onInput(event.currentTarget.value),
      ...rest,
    }),
  );
}

function PickBox({ label, help, options, value, onPick }) {
  const id = useId("pick");
  return h(
    Labelled,
    { label, help, of: id },
    h(
      "select",
      {
        id,
        value,
        "aria-describedby": help ? `${id}-help` : undefined,
        onChange: (event) => onPick(event.currentTarget.value),
      },
      options.map((o) => h("option", { key: o.id, value: o.id, selected: o.id === value }, o.said)),
    ),
  );
}

// A button that asks for a file and gives its {name, text}.
function FileButton({ label, accept, onFile, look = "plain" }) {
  const input = useRef(null);
  const chosen = async (event) => {
    const file = event.currentTarget.files[0];
    event.currentTarget.value = "";
    if (file) onFile(await fileText(file));
  };
  return h(
    Fragment,
    null,
    h(Button, { look, onPress: () => input.current.click() }, label),
    h("input", {
      type: "file",
      accept,
      hidden: true,
      "aria-label": label,
      ref: input,
      onChange: chosen,
    }),
  );
}

function Fold({ title, open, children }) {
  return h(
    "details",
    { class: "ldx-fold", open },
    h("summary", null, title),
    h("div", { class: "ldx-stack ldx-fold-body" }, children),
  );
}

// Said of an answer that was worked out before the last entry.
function Stale({ answer, job, children }) {
  if (!answer || !job || answer.head === job.head) return null;
  return h(
    "p",
    { class: "ldx-stale" },
    h("span", { "aria-hidden": "true" }, "\u21bb"),
    h("span", null, children || "From before your last entry."),
  );
}

// What was sent stays "saving" until Python says that it is kept, or why not.
function useSending(model, control, onKept) {
  const saved = useTrait(model, "saved") || [];
  const faults = useTrait(model, "faults") || [];
  const [key, setKey] = useState(null);
  useEffect(() => {
    if (!key) return;
    if (saved.includes(key)) {
      setKey(null);
      if (onKept) onKept();
    } else if (faults.some((f) => f.key === key)) {
      setKey(null);
    }
  }, [saved, faults, key]);
  return { sending: key !== null, send: (message) => setKey(sayTo(model, message, control)) };
}

function Saving({ sending }) {
  return h("span", { class: "ldx-saving", role: "status" }, sending ? "Saving ..." : "");
}

// As Python says chances; never a false 0 % or 100 %.
function percentSaid(chance) {
  if (chance < 0.0005) return "< 0.1 %";
  if (chance > 0.9995) return "> 99.9 %";
  return `${(100 * chance).toFixed(chance < 0.1 || chance > 0.995 ? 1 : 0)} %`;
}

function fluidName(machine, id) {
  const fluid = machine && machine.fluids.find((f) => f.id === id);
  return fluid ? fluid.name : (id || "").replaceAll("_", " ");
}

// The browser's own download of a text.
function saveFile({ name, text, type }) {
  const url = URL.createObjectURL(new Blob([text], { type: type || "text/plain" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}
