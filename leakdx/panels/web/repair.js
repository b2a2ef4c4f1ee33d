// The repair: what to renew together, its sheets, what was done, and whether it is dry then.
// Gives: RepairPart({model, onChoose, onPart}).

const REPAIR_OTHERS = 12; // of the ranking, offered beside what the plan names
const REPAIR_SHORT = 6; // up to so many joints the list of the plan stands open

function RepairPart({ model, onChoose, onPart }) {
  const job = useTrait(model, "job");
  const machine = useTrait(model, "machine");
  const ranking = useTrait(model, "ranking");
  const next = (useTrait(model, "answers") || {}).next;
  const [picked, setPicked] = useState(null);
  if (!machine) return h(Working, { model, errands: ["draw"] });
  const plan = next ? next.plan.seals.map((s) => s.id) : [];
  const chosen = picked || plan;
  const own = picked !== null && (picked.length !== plan.length || picked.some((s) => !plan.includes(s)));
  return h(
    Fragment,
    null,
    h(RepairPlan, { model, job, next, own, onPart }),
    h(RepairJoints, { machine, ranking, plan, chosen, own, onPick: setPicked, onChoose }),
    h(Cautions, { cautions: next ? next.cautions : [REPAIR_FIRST] }),
    h(RepairSheets, { model, job, renew: own ? chosen : [], none: chosen.length === 0 }),
    h(RepairDone, { model, machine, job, chosen }),
    h(RepairCure, { model, job }),
    h(Fold, { title: "Costs in this workshop" }, h(CostsPart, { model })),
  );
}

const REPAIR_FIRST = "The maker's procedure and local rules come first.";

function RepairPlan({ model, job, next, own, onPart }) {
  if (!next) {
    return h(
      "section",
      { class: "ldx-stack" },
      h("h3", null, "What to renew"),
      h("p", null, "The plan comes with the next look; it is being worked out."),
      h(Working, { model, errands: ["settle", "next"] }),
    );
  }
  const { plan } = next;
  return h(
    "section",
    { class: "ldx-stack" },
    h("h3", null, "What to renew"),
    h(Stale, { answer: next, job }),
    plan.seals.length > 0 &&
      !own &&
      h(
        "dl",
        { class: "ldx-figures" },
        h("div", null, h("dt", null, "Joints"), h("dd", null, plan.seals.length)),
        h("div", null, h("dt", null, "Takes about"), h("dd", null, plan.said)),
        h("div", null, h("dt", null, "Nothing leaks then"), h("dd", null, plan.dry_said)),
      ),
    plan.seals.length === 0 && h("p", null, "Nothing is likely enough to be worth renewing yet."),
    own && h("p", null, "You chose otherwise than the plan; the job sheet says what that takes."),
    !next.stop &&
      next.looks.length > 0 &&
      h(
        "p",
        { class: "ldx-rank-step" },
        "A look still pays before anything comes apart. ",
        h(Button, { look: "quiet", onPress: () => onPart("next") }, "To the next look"),
      ),
  );
}

// Which joints: those of the plan to begin with, and the likeliest others to choose from.
function RepairJoints({ machine, ranking, plan, chosen, own, onPick, onChoose }) {
  const names = new Map(machine.seals.map((s) => [s.id, s.name]));
  const rows = ranking ? ranking.rows : [];
  const chances = new Map(rows.map((r) => [r.seal, r.said]));
  const others = rows.map((r) => r.seal).filter((s) => !plan.includes(s)).slice(0, REPAIR_OTHERS);
  const turn = (seal) =>
    onPick(chosen.includes(seal) ? chosen.filter((s) => s !== seal) : [...chosen, seal]);
  const line = (seal) =>
    h(CheckLine, {
      key: seal,
      said: names.get(seal) || seal,
      about: chances.get(seal),
      on: chosen.includes(seal),
      onTurn: () => turn(seal),
    });
  return h(
    "div",
    { class: "ldx-stack" },
    plan.length > 0 &&
      h(
        Fold,
        {
          title: plan.length === 1 ? "The joint of the plan" : `The ${plan.length} joints of the plan`,
          open: plan.length <= REPAIR_SHORT,
        },
        h(
          "div",
          { class: "ldx-checks-plain", role: "group", "aria-label": "What the plan renews" },
          plan.map(line),
        ),
      ),
    h(
      Fold,
      { title: "Choose other joints" },
      h("p", { class: "ldx-quiet" }, "The likeliest that the plan leaves; the chance is that it leaks now."),
      h("div", { class: "ldx-checks-plain", role: "group", "aria-label": "Other joints" }, others.map(line)),
    ),
    own && h("div", null, h(Button, { onPress: () => onPick(null) }, "Back to the plan")),
  );
}

function RepairDone({ model, machine, job, chosen }) {
  const renewed = job.timeline.filter((t) => t.kind === "renew" && t.counts);
  return h(
    "section",
    { class: "ldx-stack" },
    h("h3", null, "When it is done"),
    renewed.length > 0 && h(RankLines, { lines: renewed.map((t) => `${t.entry}. ${t.said}`) }),
    h(Fold, { title: "We renewed ..." }, h(RenewForm, { model, machine, chosen })),
    h(Fold, { title: "Then it was washed" }, h(WashForm, { model, control: "repair-wash" })),
    h(Fold, { title: "Then it ran" }, h(RunForm, { model, control: "repair-run" })),
  );
}

// All that was renewed in one go, alike; one that was done otherwise is told at its own joint.
function RenewForm({ model, machine, chosen }) {
  const [left, setLeft] = useState([]);
  const [how, setHow] = useState("new_part");
  const [checks, setChecks] = useState([]);
  const { sending, send } = useSending(model, "renew", () => setChecks([]));
  const seals = machine.seals.filter((s) => chosen.includes(s.id));
  const done = seals.filter((s) => !left.includes(s.id));
  const hoses = done.length > 0 && done.every((s) => s.kind === "hose end");
  const hows = machine.words.hows.filter((w) => w.id !== "shortened" || hoses);
  const turn = (list, set) => (id) =>
    set(list.includes(id) ? list.filter((x) => x !== id) : [...list, id]);
  const record = () =>
    send({
      do: "enter",
      entries: done.map((s) => ({
        renew: s.id,
        ...(how !== "new_part" && { how }),
        ...(checks.length && { checks }),
      })),
    });
  if (!seals.length) return h("p", null, "Choose above which joints.");
  return h(
    "div",
    { class: "ldx-stack" },
    h(
      "div",
      { class: "ldx-checks-plain", role: "group", "aria-label": "What was renewed" },
      seals.map((s) =>
        h(CheckLine, { key: s.id, said: s.name, on: !left.includes(s.id), onTurn: () => turn(left, setLeft)(s.id) }),
      ),
    ),
    h(Labelled, { label: "With what", group: true, help: "The same part put back is more likely to leak than a new one." },
      h(Choice, { label: "With what", options: hows, value: how, onPick: setHow, control: "renew" })),
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
              onClick: () => turn(checks, setChecks)(c.id),
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
        { look: "accent", disabled: sending || !done.length, onPress: record },
        done.length === 1 ? "Record: 1 joint renewed" : `Record: ${done.length} joints renewed`,
      ),
      h(Saving, { sending }),
    ),
    h(Fault, { model, control: "renew" }),
  );
}

function RepairCure({ model, job }) {
  const cure = (useTrait(model, "answers") || {}).cure;
  const busy = isWorking(useTrait(model, "work"), "cure");
  return h(
    "section",
    { class: "ldx-stack" },
    h("h3", null, "Is it dry now?"),
    h(
      "p",
      { class: "ldx-quiet" },
      "After the repair, the wash and the run: how sure it is that it holds, and how much longer to run.",
    ),
    !busy &&
      h("div", null, h(Button, { look: "accent", onPress: () => askFor(model, "cure", {}) }, cure ? "Work it out anew" : "Work it out")),
    h(Working, { model, errands: ["cure"] }),
    h(Fault, { model, control: "cure" }),
    h(Stale, { answer: cure, job }),
    cure && cure.said.map((line) => h("p", { key: line }, line)),
    cure &&
      cure.sections.map((s) =>
        h("section", { key: s.title, class: "ldx-stack" }, h("h4", null, s.title), h(RankLines, { lines: s.lines })),
      ),
  );
}
