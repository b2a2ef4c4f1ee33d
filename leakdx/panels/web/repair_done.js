// What was done: joints renewed, with what and how checked, then the wash and the run.
// Gives: RepairDone({model, machine, job, chosen, box, onRenewed}).

function RepairDone({ model, machine, job, chosen, box, onRenewed }) {
  const told = job.timeline.filter((t) => t.counts);
  const renewed = told.filter((t) => (t.data.to || t.data).renew);
  const last = renewed.length ? renewed[renewed.length - 1].entry : 0;
  const since = told.filter((t) => t.entry > last && ["wash", "run_minutes"].includes(t.kind));
  const count = renewed.length === 1 ? "1 renewal recorded" : `${renewed.length} renewals recorded`;
  return h(
    "section",
    { class: "ldx-stack" },
    h("h3", null, "When it is done"),
    renewed.length > 0 &&
      h(
        "ul",
        { class: "ldx-repair-course", "aria-label": "Done so far" },
        [count, ...since.map((t) => t.said)].map((said, k) =>
          h("li", { key: k }, h("span", { "aria-hidden": "true" }, "\u2713"), h("span", null, said)),
        ),
      ),
    renewed.length > 0 &&
      h(Fold, { title: "The renewals that are recorded" }, h(RankLines, { lines: renewed.map((t) => `${t.entry}. ${t.said}`) })),
    h(
      "div",
      { ref: box },
      h(Fold, { title: "Record what was renewed" }, h(RenewForm, { model, machine, job, chosen, onRenewed })),
    ),
    h(Fold, { title: "Record a wash, whole or in part" }, h(WashForm, { model, control: "repair-wash" })),
    h(Fold, { title: "Record a run, of any length" }, h(RunForm, { model, control: "repair-run" })),
  );
}

// All that was renewed in one go, alike; one that was done otherwise is recorded by itself.
function RenewForm({ model, machine, job, chosen, onRenewed }) {
  const [marks, setMarks] = useState({});
  const [picked, setHow] = useState("new_part");
  const [checks, setChecks] = useState([]);
  const { sending, send } = useSending(model, "renew", () => {
    setMarks({});
    setChecks([]);
    onRenewed();
  });
  const before = new Map(
    job.timeline
      .filter((t) => t.counts && (t.data.to || t.data).renew)
      .map((t) => [(t.data.to || t.data).renew, t.data.correct || t.entry]),
  );
  const seals = machine.seals.filter((s) => chosen.includes(s.id));
  // What is recorded already is not recorded twice unasked.
  const on = (seal) => marks[seal] ?? !before.has(seal);
  const done = seals.filter((s) => on(s.id));
  const hoses = done.length > 0 && done.every((s) => s.kind === "hose end");
  const hows = machine.words.hows.filter((w) => w.id !== "shortened" || hoses);
  const how = hows.find((w) => w.id === picked) || hows[0];
  const turn = (id) =>
    setChecks(checks.includes(id) ? checks.filter((c) => c !== id) : [...checks, id]);
  const record = () =>
    send({
      do: "enter",
      entries: done.map((s) => ({
        renew: s.id,
        ...(how.id !== "new_part" && { how: how.id }),
        ...(checks.length && { checks }),
      })),
    });
  if (!seals.length) return h("p", null, "Choose under \u201cWhat to renew\u201d which joints.");
  return h(
    "div",
    { class: "ldx-stack" },
    h(
      "div",
      { class: "ldx-checks-plain", role: "group", "aria-label": "Which were renewed" },
      seals.map((s) =>
        h(CheckLine, {
          key: s.id,
          said: s.name,
          about: before.has(s.id) ? `entry ${before.get(s.id)}` : null,
          on: on(s.id),
          onTurn: () => setMarks({ ...marks, [s.id]: !on(s.id) }),
        }),
      ),
    ),
    h("p", { class: "ldx-field-help" }, "Untick what was not done, or was done otherwise: record that by itself."),
    h(Labelled, { label: "With what", group: true, help: how.help },
      h(Choice, { label: "With what", options: hows, value: how.id, onPick: setHow, control: "renew" })),
    h(Labelled, { label: "Checked before closing up", group: true, help: "Tap only what was done on every one of them." },
      h(
        "div",
        { class: "ldx-knowns", role: "group", "aria-label": "Checked before closing up" },
        machine.words.checks.map((c) =>
          h(
            "button",
            {
              key: c.id,
              type: "button",
              class: "ldx-known",
              "aria-pressed": String(checks.includes(c.id)),
              onClick: () => turn(c.id),
            },
            h("span", { class: "ldx-known-said" }, c.said),
            h("span", { class: "ldx-known-help" }, c.help),
          ),
        ),
      )),
    h(
      "div",
      { class: "ldx-line" },
      h(
        Button,
        { look: "main", disabled: sending || !done.length, onPress: record },
        done.length === 1 ? "Record 1 renewal" : `Record ${done.length} renewals`,
      ),
      h(Saving, { sending }),
    ),
    h(Fault, { model, control: "renew" }),
  );
}
