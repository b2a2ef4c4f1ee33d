// The sheets to print: the job sheet for the workshop, and the sheet for the owner.
// Gives: RepairSheets({model, job, renew, none}).

function RepairSheets({ model, job, renew, none }) {
  const sheet = (useTrait(model, "answers") || {}).sheet;
  const busy = isWorking(useTrait(model, "work"), "sheet");
  const [closed, setClosed] = useState(null);
  const ask = (which) => askFor(model, "sheet", { which, ...(renew.length && { renew }) });
  const open = sheet && sheet !== closed;
  return h(
    "section",
    { class: "ldx-stack" },
    h("h3", null, "Sheets to print"),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: "accent", disabled: busy || none, onPress: () => ask("job") }, "Job sheet"),
      h(Button, { disabled: busy || none, onPress: () => ask("customer") }, "Sheet for the owner"),
    ),
    h(
      "p",
      { class: "ldx-quiet" },
      "The job sheet: what comes off, in order, with every part. The owner's: what was found, in plain words.",
    ),
    h(Working, { model, errands: ["sheet"] }),
    h(Fault, { model, control: "sheet" }),
    open && h(SheetShown, { job, sheet, onClose: () => setClosed(sheet) }),
  );
}

function SheetShown({ job, sheet, onClose }) {
  const [shut, setShut] = useState(false);
  const head = useRef(null);
  useEffect(() => {
    head.current.focus({ preventScroll: true });
    head.current.scrollIntoView({ block: "nearest" });
  }, [sheet]);
  const print = () => setShut(!sheetPrinted(sheet));
  return h(
    "section",
    {
      class: "ldx-sheet ldx-stack",
      "aria-label": sheet.title,
      onKeyDown: (event) => event.key === "Escape" && onClose(),
    },
    h("h4", { tabindex: "-1", ref: head }, sheet.title),
    h(Stale, { answer: sheet, job }),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: "accent", onPress: print }, "Print"),
      h(
        Button,
        { onPress: () => saveFile({ name: sheet.filename, text: sheet.html, type: "text/html" }) },
        "Save",
      ),
      h(Button, { onPress: onClose }, "Close"),
    ),
    shut && h("p", { role: "alert" }, "The browser kept the new window shut. Save the sheet, open it and print it from there."),
    // Without any right: no script of a sheet could run, nor reach the page.
    h("iframe", { class: "ldx-sheet-page", sandbox: "", srcdoc: sheet.html, title: sheet.title, tabindex: "0" }),
  );
}

// Prints from a window of its own; false where the browser does not open one.
function sheetPrinted(sheet) {
  const url = URL.createObjectURL(new Blob([sheet.html], { type: "text/html" }));
  const page = window.open(url, "_blank");
  setTimeout(() => URL.revokeObjectURL(url), 60000);
  if (!page) return false;
  page.addEventListener("load", () => page.print());
  return true;
}
