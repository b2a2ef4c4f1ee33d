// The one next step of a repair: sheet, renew, wash, run, look again, and whether it is dry.
// Gives: RepairNow({model, job, stage, onChoose, onPart, onRenew, children}), repairStage(job, sheet).

const REPAIR_CARE_WORK = [
  "Hot parts, hot oil and hot coolant burn: let it cool before you reach in or open anything.",
  "Let the pressure off a fuel or coolant system slowly before a joint of it is opened; no flame, no spark.",
  "A lifted machine stands on rated stands on hard ground; never work under a jack.",
];
const REPAIR_CARE_WASH = [
  "Solvent vapour ignites: cold machine, fresh air, no flame or spark, gloves and eye protection.",
  "Stopped and off while it is washed; keep water out of intakes and electrics.",
];
const REPAIR_CARE_RUN = [
  "Belts and fans move: no loose clothing, no hand near; an electric fan can start by itself.",
  "Brake set, wheels chocked, fumes led outside, one person at the controls; nobody under a lifted machine that runs.",
];
const REPAIR_CARE_LOOK = [
  "Stopped before you reach in; hot parts burn.",
  "Never feel for a leak of fuel or of fluid under pressure with a hand: it goes through skin.",
];

// What was done, in the order in which it counts: a correction stands where the entry stood.
function repairCourse(timeline) {
  return timeline
    .filter((line) => line.counts && line.kind !== "withdraw")
    .map((line) => {
      if (line.kind !== "correct") return { kind: line.kind, place: line.entry };
      const kinds = ["renew", "wash", "run_minutes", "zone", "seal_point"];
      return { kind: kinds.find((k) => k in line.data.to) || null, place: line.data.correct };
    })
    .sort((one, other) => one.place - other.place);
}

// sheet -> renew -> wash -> run -> look -> cure.
function repairStage(job, sheet) {
  const course = repairCourse(job.timeline);
  const last = (kinds) => Math.max(0, ...course.filter((c) => kinds.includes(c.kind)).map((c) => c.place));
  const after = (kinds, place) => course.filter((c) => kinds.includes(c.kind) && c.place > place);
  const renewed = last(["renew"]);
  if (!renewed) return sheet && sheet.which === "job" ? "renew" : "sheet";
  const washed = after(["wash"], renewed);
  if (!washed.length) return "wash";
  const ran = after(["run_minutes"], washed[0].place);
  if (!ran.length) return "run";
  return after(["zone", "seal_point"], ran[0].place).length ? "cure" : "look";
}

const REPAIR_STAGES = {
  sheet: {
    title: "Print the job sheet",
    said: "It is for the joints that are ticked below: what comes off in which order, what to do at each, and how to prove it dry.",
    care: [],
  },
  renew: {
    title: "Renew them, then say what was renewed",
    said: "The job sheet is there. When the work is done, record it: each check makes the next answer surer.",
    care: REPAIR_CARE_WORK,
  },
  wash: {
    title: "Wash it",
    said: "Old fluid looks like a new leak. Only what comes back on a clean machine tells of the repair.",
    care: REPAIR_CARE_WASH,
  },
  run: {
    title: "Run it",
    said: "At working temperature, and longer rather than shorter: a small leak needs time to show.",
    care: REPAIR_CARE_RUN,
  },
  look: {
    title: "Look again",
    said: "Look where it was wet and at the joints that were renewed, and tap what you see: dry counts too.",
    care: REPAIR_CARE_LOOK,
  },
  cure: {
    title: "Is it dry now?",
    said: "It was renewed, washed, run and looked at: this says how sure it is that it holds.",
    care: [],
  },
};

// children: what the step is done with where that is a part of its own, as the sheets are.
function RepairNow({ model, job, stage, onChoose, onPart, onRenew, children }) {
  const told = REPAIR_STAGES[stage];
  const { sending, send } = useSending(model, "repair");
  const head = useRef(null);
  const before = useRef(stage);
  // Whoever recorded a step finds the next one.
  useEffect(() => {
    if (before.current === stage) return;
    before.current = stage;
    // The sheet that has just come takes the eye itself.
    if (stage === "renew") return;
    head.current.focus({ preventScroll: true });
    head.current.scrollIntoView({ block: "nearest" });
  }, [stage]);
  const does = {
    sheet: () => null,
    renew: () => h(RepairNowButton, { said: "Record what was renewed", onPress: onRenew }),
    wash: () =>
      h(RepairNowButton, {
        said: "Record: washed whole",
        off: sending,
        onPress: () => send({ do: "enter", entries: [{ wash: "whole" }] }),
      }),
    run: () => h(RepairRunQuick, { model, sending, onSend: send }),
    look: () => h(RepairLook, { model, job, onChoose, onPart }),
    cure: () => null,
  };
  return h(
    "section",
    { class: "ldx-card ldx-stack ldx-repair-now", "aria-label": "The next step" },
    h(
      "div",
      null,
      h("p", { class: "ldx-repair-when" }, "The next step"),
      h("h3", { tabindex: "-1", ref: head }, told.title),
    ),
    h("p", null, told.said),
    h(Cautions, { cautions: told.care.length ? [...told.care, REPAIR_FIRST] : [] }),
    does[stage](),
    h(Saving, { sending }),
    h(Fault, { model, control: "repair" }),
    children,
  );
}

function RepairNowButton({ said, off, onPress }) {
  return h("div", null, h(Button, { look: "main", disabled: Boolean(off), onPress }, said));
}

const REPAIR_PLACES = 6; // to look at, offered by name

// Where a joint that was renewed would show first.
function RepairLook({ model, job, onChoose, onPart }) {
  const machine = useTrait(model, "machine");
  const renewed = new Set(job.timeline.filter((t) => t.counts).map((t) => (t.data.to || t.data).renew));
  const seen = new Set(machine.seals.filter((s) => renewed.has(s.id)).flatMap((s) => s.zones.slice(0, 2)));
  const zones = machine.zones.filter((z) => seen.has(z.id)).slice(0, REPAIR_PLACES);
  // On a wide page the machine stands beside this part.
  const toMachine = () => {
    const beside = document.getElementById("ldx-part-map");
    if (!beside) return onPart("map");
    beside.scrollIntoView({ block: "start" });
    return beside.querySelector("button").focus({ preventScroll: true });
  };
  return h(
    "div",
    { class: "ldx-stack" },
    h(RepairNowButton, { said: "To the machine", onPress: toMachine }),
    h(
      "div",
      { class: "ldx-line" },
      h("span", { class: "ldx-rank-label" }, "What was renewed shows first at:"),
      zones.map((z) => h(Button, { key: z.id, onPress: () => onChoose({ kind: "zone", id: z.id }) }, z.name)),
    ),
  );
}

const REPAIR_RUNS = [10, 20, 30, 60].map((n) => ({ id: n, said: `${n} minutes` }));

// A run in three taps; one that was otherwise is told in the form below.
function RepairRunQuick({ model, sending, onSend }) {
  const machine = useTrait(model, "machine");
  const [minutes, setMinutes] = useState(null);
  const [use, setUse] = useState(null);
  const uses = machine.words.uses.filter((u) => u.id !== "parked");
  const ready = minutes !== null && use !== null;
  const picked = uses.find((u) => u.id === use);
  return h(
    "div",
    { class: "ldx-stack" },
    h(Labelled, { label: "How long", group: true, help: "From the wash until you look." },
      h(Choice, { label: "How long", options: REPAIR_RUNS, value: minutes, onPick: setMinutes, control: "repair" })),
    h(Labelled, { label: "What it did", group: true, help: picked ? picked.help : "A drive shows more than idling does." },
      h(Choice, { label: "What it did", options: uses, value: use, onPick: setUse, control: "repair" })),
    h(RepairNowButton, {
      said: ready ? `Record: ${minutes} minutes ${picked.said.toLowerCase()}` : "Record the run",
      off: sending || !ready,
      onPress: () => onSend({ do: "enter", entries: [{ run_minutes: minutes, use }] }),
    }),
  );
}
