// The repair: what to renew together, its sheets, what was done, and whether it is dry then.
// Gives: RepairPart({model, onChoose, onPart}), REPAIR_FIRST.

const REPAIR_FIRST = "The maker's procedure and local rules come first.";
const REPAIR_OTHERS = 10; // of the ranking, offered at first beside what the plan names

function RepairPart({ model, onChoose, onPart }) {
  const job = useTrait(model, "job");
  const machine = useTrait(model, "machine");
  const ranking = useTrait(model, "ranking");
  const { next, sheet } = useTrait(model, "answers") || {};
  const [picked, setPicked] = useState(null);
  const renewing = useRef(null);
  if (!machine) return h(Working, { model, errands: ["draw"] });
  const plan = next ? next.plan.seals.map((s) => s.id) : [];
  const chosen = picked || plan;
  const own = picked !== null && (picked.length !== plan.length || picked.some((s) => !plan.includes(s)));
  const toRenewing = () => {
    const fold = renewing.current.querySelector("details");
    fold.open = true;
    fold.scrollIntoView({ block: "start" });
    fold.querySelector("summary").focus({ preventScroll: true });
  };
  const stage = repairStage(job, sheet);
  const after = !["sheet", "renew"].includes(stage);
  const joints = [
    h(RepairPlan, { key: "plan", model, job, next, own, onPart }),
    h(RepairJoints, { key: "joints", machine, ranking, plan, chosen, own, onPick: setPicked }),
  ];
  // Before the repair the plan leads; after it, how it went.
  const what = after
    ? h(Fold, { key: "more", title: "What to renew now" }, joints)
    : h("section", { key: "what", class: "ldx-stack" }, h("h3", null, "What to renew"), joints);
  const sheets = h(RepairSheets, { key: "sheets", model, job, own, chosen, stage });
  const done = h(RepairDone, {
    key: "done",
    model,
    machine,
    job,
    chosen,
    box: renewing,
    onRenewed: () => {
      setPicked(null);
      // What is left on the list is not to be recorded by a second tap.
      renewing.current.querySelector("details").open = false;
    },
  });
  const cure = h(RepairCure, { key: "cure", model, job, now: stage === "cure" });
  // What belongs to the next step stands in its card.
  const inside = { sheet: sheets, renew: sheets, cure }[stage] || null;
  const below = after ? [stage === "cure" ? null : cure, done, what, sheets] : [what, done, cure];
  return h(
    Fragment,
    null,
    h(RepairNow, { key: "now", model, job, stage, onChoose, onPart, onRenew: toRenewing }, inside),
    below,
    h(Fold, { key: "costs", title: "Costs in this workshop" }, h(CostsPart, { model })),
    h("p", { key: "first", class: "ldx-quiet" }, REPAIR_FIRST),
  );
}

function RepairPlan({ model, job, next, own, onPart }) {
  if (!next) {
    return h(
      Fragment,
      null,
      h("p", null, "The plan comes with the next look; it is being worked out."),
      h(Working, { model, errands: ["settle", "next"] }),
    );
  }
  const { plan } = next;
  const any = plan.seals.length > 0;
  return h(
    Fragment,
    null,
    h(Stale, { answer: next, job }),
    any && !own && h(RepairFigures, { plan }),
    any && !own &&
      h("p", { class: "ldx-quiet" }, "Renewed together, these cost least on average, comebacks counted. All dry then: the chance that nothing else leaks."),
    !any && h("p", null, "Nothing is likely enough to be worth renewing yet."),
    own && h("p", null, "You chose otherwise than the plan; the job sheet says what that takes."),
    next.stop && h("p", null, h("strong", null, "No look pays any more: "), `${next.stop.replace(/\.$/, "")}.`),
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

function RepairFigures({ plan }) {
  const figures = [
    ["Joints", plan.seals.length],
    ["Takes", plan.said],
    ["All dry then", plan.dry_said],
  ];
  return h(
    "dl",
    { class: "ldx-figures" },
    figures.map(([name, said]) => h("div", { key: name }, h("dt", null, name), h("dd", null, said))),
  );
}

// Which joints: those of the plan to begin with, and the likeliest others to choose from.
function RepairJoints({ machine, ranking, plan, chosen, own, onPick }) {
  const [all, setAll] = useState(false);
  const names = new Map(machine.seals.map((s) => [s.id, s.name]));
  const rows = ranking ? ranking.rows : [];
  const chances = new Map(rows.map((r) => [r.seal, r.said]));
  const others = rows.map((r) => r.seal).filter((s) => !plan.includes(s));
  const shown = all ? others : others.filter((s, k) => k < REPAIR_OTHERS || chosen.includes(s));
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
    Fragment,
    null,
    plan.length > 0 &&
      h("p", { class: "ldx-field-help" }, "The chance beside each is that it leaks now; untick what is to stay."),
    plan.length > 0 &&
      h("div", { class: "ldx-checks-plain", role: "group", "aria-label": "What the plan renews" }, plan.map(line)),
    h(
      Fold,
      { title: "Choose other joints" },
      h("p", { class: "ldx-quiet" }, "The likeliest that the plan leaves, with the chance that each leaks now."),
      h("div", { class: "ldx-checks-plain", role: "group", "aria-label": "Other joints" }, shown.map(line)),
      others.length > shown.length || all
        ? h("div", null, h(Button, { onPress: () => setAll(!all), "aria-expanded": String(all) }, all ? "Show the likeliest" : `Show all ${others.length}`))
        : null,
    ),
    own && h("div", null, h(Button, { onPress: () => onPick(null) }, "Back to the plan")),
  );
}

function RepairCure({ model, job, now }) {
  const cure = (useTrait(model, "answers") || {}).cure;
  const busy = isWorking(useTrait(model, "work"), "cure");
  const fresh = cure && cure.head === job.head;
  return h(
    "section",
    { class: "ldx-stack" },
    !now && h("h3", null, "Is it dry now?"),
    h("p", { class: "ldx-quiet" }, "How sure it is that the repair holds, and how much longer to run it; it takes some seconds."),
    !busy &&
      h("div", null, h(Button, { look: now && !fresh ? "main" : "accent", onPress: () => askFor(model, "cure", {}) }, cure ? "Work it out anew" : "Work it out")),
    h(Working, { model, errands: ["cure"] }),
    h(Fault, { model, control: "cure" }),
    h(Stale, { answer: cure, job }),
    cure &&
      h(
        "div",
        { class: "ldx-card ldx-stack ldx-cure" },
        cure.said.map((line, k) => h("p", { key: line, class: k ? null : "ldx-cure-first" }, line)),
      ),
    cure && cure.sections.map((s) => h(RepairCureSection, { key: s.title, section: s })),
  );
}

// Only the cautions of an answer stand open; what it rests on is folded away.
function RepairCureSection({ section }) {
  if (section.title === "Take care") return h(Cautions, { cautions: section.lines });
  return h(Fold, { title: section.title }, h(RankLines, { lines: section.lines }));
}
