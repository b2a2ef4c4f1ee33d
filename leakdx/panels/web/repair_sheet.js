// The sheets to print: the job sheet for the workshop, and the sheet for the owner.
// Gives: RepairSheets({model, job, own, chosen, stage}), SheetView, sheetPrinted.

function RepairSheets({ model, job, own, chosen, stage }) {
  const sheet = (useTrait(model, "answers") || {}).sheet;
  const busy = isWorking(useTrait(model, "work"), "sheet");
  // Its text tells one sheet from another: all answers are replaced whenever one of them is.
  const html = sheet ? sheet.html : null;
  // One that was there before this part was turned to waits to be asked for.
  const before = useRef(html);
  const asked = useRef(null);
  const came = useRef(null);
  const [shown, setShown] = useState(null);
  useEffect(() => {
    if (html === before.current) return;
    before.current = html;
    came.current = asked.current;
    setShown(html);
  }, [html]);
  const ask = (which) => {
    const about = { which, ...(own && { renew: chosen }) };
    const wish = JSON.stringify([about, job.head]);
    // The same sheet of the same job is there already.
    if (wish === came.current && html === before.current) return setShown(html);
    asked.current = wish;
    return askFor(model, "sheet", about);
  };
  const open = html !== null && shown === html;
  const left = own && chosen.length === 0;
  const first = stage === "sheet";
  const after = !first && stage !== "renew";
  return h(
    "section",
    { class: "ldx-stack", "aria-label": "Sheets to print" },
    after && h("h3", null, "Sheets to print"),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { look: first ? "main" : "accent", disabled: busy || chosen.length === 0, onPress: () => ask("job") }, "Job sheet"),
      h(Button, { look: "accent", disabled: busy || left, onPress: () => ask("customer") }, "Customer sheet"),
    ),
    chosen.length === 0 && h("p", { class: "ldx-field-help" }, "For a job sheet choose at least one joint."),
    h(
      "p",
      { class: "ldx-quiet" },
      "The job sheet: what comes off, in order, with every part. The customer sheet: what was ",
      after ? "found, what was done and what to watch" : "found and what is proposed",
      ", in plain words for the owner.",
    ),
    h(Working, { model, errands: ["sheet"] }),
    h(Fault, { model, control: "sheet" }),
    sheet && !open && h("div", null, h(Button, { onPress: () => setShown(html) }, `Show again: ${sheet.title}`)),
    open && h(SheetView, { job, sheet, onClose: () => setShown(null) }),
  );
}

function SheetView({ job, sheet, onClose }) {
  const [shut, setShut] = useState(false);
  const head = useRef(null);
  useEffect(() => {
    head.current.focus({ preventScroll: true });
    head.current.scrollIntoView({ block: "nearest" });
  }, [sheet.html]);
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
      h(Button, { look: "main", onPress: print }, "Print"),
      h(
        Button,
        { onPress: () => saveFile({ name: sheet.filename, text: sheet.html, type: "text/html" }) },
        "Save",
      ),
      h(Button, { onPress: onClose }, "Close"),
    ),
    h("p", { class: "ldx-field-help" }, "Print opens a window of its own; a saved sheet opens in any browser, without a connection."),
    shut && h("p", { role: "alert" }, "The browser kept the new window shut. Save the sheet, open it and print it from there."),
    // Without any right: no script of a sheet could run, nor reach the page.
    h("iframe", { class: "ldx-sheet-page", sandbox: "", srcdoc: sheet.html, title: sheet.title, tabindex: "0" }),
  );
}

// Prints from a window of its own, for a frame without rights may not; false where the browser
// does not open one.
function sheetPrinted(sheet) {
  const url = URL.createObjectURL(new Blob([sheet.html], { type: "text/html" }));
  const page = window.open(url, "_blank");
  setTimeout(() => URL.revokeObjectURL(url), 60000);
  if (!page) return false;
  page.addEventListener("load", () => page.print());
  return true;
}
