// The page as a whole: the start screen, or the five parts of one job.
// Gives: the default export that the widget is drawn with.

function App({ model }) {
  const job = useTrait(model, "job");
  const theme = useTheme();
  const box = useRef(null);
  const width = useWidth(box);
  const [step, setStep] = useKept("leakdx-walk", null);
  const [, setPart] = useKept("leakdx-part", "map");
  const walk = () => {
    setStep(0);
    setPart("map");
  };
  useEffect(() => {
    const told = (content) => content && content.file && saveFile(content.file);
    model.on("msg:custom", told);
    return () => model.off("msg:custom", told);
  }, [model]);
  useReopened(model, job);
  const beside = partsBeside(width);
  return h(
    "div",
    {
      class: `ldx-desk ldx-${beside.kind}`,
      "data-theme": theme.shown,
      ref: box,
      lang: "en",
    },
    h("a", { class: "ldx-skip", href: "#ldx-parts", onClick: skipTo }, "Skip to the parts of the page"),
    h(UnsavedBanner, { model }),
    h(Notices, { model }),
    h("div", { class: "ldx-top-faults" }, ["page", "undo", "close"].map((c) => h(Fault, { key: c, model, control: c }))),
    job
      ? h(JobPage, { key: job.id, model, job, beside, theme, step, onStep: setStep, onWalk: walk })
      : h(Shelf, { model, theme, onWalk: walk }),
  );
}

// In a notebook an address with a # would lead elsewhere.
function skipTo(event) {
  event.preventDefault();
  const parts = document.getElementById("ldx-parts");
  if (parts) parts.focus();
}

// A window that is loaded anew shows the job it had, even where another window opened a later one.
function useReopened(model, job) {
  const [kept, keep] = useKept("leakdx-job", null);
  const first = useRef(true);
  useEffect(() => {
    const id = job ? job.id : null;
    if (first.current) {
      first.current = false;
      if (kept && kept !== id) sayTo(model, { do: "open", job: kept }, "page");
      if (kept) return;
    }
    if (id !== kept) keep(id);
  }, [job && job.id]);
}

function JobPage({ model, job, beside, theme, step, onStep, onWalk }) {
  const [kept, setPart] = useKept("leakdx-part", "map");
  const [chosen, setChosen] = useState(null);
  const [why, setWhy] = useState(null);
  const parts = useRef(null);
  const turns = beside.turns.map((p) => p.id);
  const part = turns.includes(kept) ? kept : turns[0];
  const toPart = useCallback(
    (id) => {
      // A part that is always in sight takes no turn.
      if (beside.fixed.includes(id)) {
        const there = document.getElementById(`ldx-part-${id}`);
        if (there) there.scrollIntoView({ block: "nearest" });
        return;
      }
      setPart(id);
      if (beside.kind === "one") window.scrollTo({ top: 0 });
    },
    [beside.kind],
  );
  const choose = useCallback(
    (thing) => {
      setChosen(thing);
      if (thing && beside.kind === "one") toPart("map");
    },
    [beside.kind],
  );
  const ask = useCallback((seal) => {
    setWhy(seal);
    toPart("ranking");
    askFor(model, "why", { seal });
  }, []);
  const told = { model, job, chosen, onChoose: choose, onPart: toPart, why, onWhy: ask, onWhyEnd: () => setWhy(null) };
  const lit = walkPanel(model, job, step);
  const shown = (id) => h(Part, { key: id, id, lit: id === lit }, h(JobPart, { id, ...told }));
  return h(
    Fragment,
    null,
    h(JobHeader, { model, theme, onWalk: () => startWalk(model, onWalk, job) }),
    h(WalkCard, { model, step, onStep, onPart: toPart, onChoose: choose }),
    h(
      "main",
      { class: "ldx-parts", id: "ldx-parts", tabindex: "-1", ref: parts },
      beside.fixed.map(shown),
      h(
        "div",
        { class: "ldx-turns" },
        beside.kind !== "one" && h(PartsNav, { parts: beside.turns, part, onPart: toPart }),
        shown(part),
      ),
    ),
    beside.kind === "one" &&
      h(
        "div",
        { class: "ldx-foot" },
        part === "map" && h(RankStrip, { model, onPart: toPart }),
        h(PartsNav, { parts: beside.turns, part, onPart: toPart }),
      ),
    h(LikeliestSaid, { model }),
  );
}

// The walk speaks of its own example, so that is opened where another job is.
function startWalk(model, onWalk, job) {
  const shelf = model.get("shelf");
  onWalk();
  if (shelf && shelf.walk && !walkIsHere(shelf, job)) {
    sayTo(model, { do: "example", job: shelf.walk.job }, "page");
  }
}

function JobPart({ id, model, job, chosen, onChoose, onPart, why, onWhy, onWhyEnd }) {
  switch (id) {
    case "map":
      return h(MapPart, { model, chosen, onChoose, onPart });
    case "ranking":
      return h(
        Fragment,
        null,
        why && h(WhyPart, { key: why, model, seal: why, onClose: onWhyEnd }),
        h(RankingPart, { model, onChoose, onWhy, onPart }),
      );
    case "next":
      return h(LookPart, { model, onChoose, onPart });
    case "story":
      return h(StoryOfJob, { model, onChoose });
    default:
      return h(RepairPart, { model, onChoose, onPart });
  }
}

function MapPart({ model, chosen, onChoose, onPart }) {
  const machine = useTrait(model, "machine");
  return h(
    Fragment,
    null,
    machine ? h(MapPanel, { model, chosen, onChoose }) : h(Working, { model, errands: ["draw"] }),
    chosen && h(EntrySheet, { model, chosen, onDone: () => onChoose(null) }),
    h(
      "div",
      { class: "ldx-line" },
      h(Button, { onPress: () => onPart("story") }, "Signs, washes and runs of the whole machine"),
    ),
  );
}

function StoryOfJob({ model, onChoose }) {
  const machine = useTrait(model, "machine");
  if (!machine) return h(Working, { model, errands: ["draw"] });
  return h(
    Fragment,
    null,
    h(FactsPart, { model }),
    h(Fold, { title: "How the machine stood and ran" }, h(ConditionsPart, { model })),
    h(StoryPart, { model, onChoose }),
  );
}

export default {
  render({ model, el }) {
    el.classList.add("ldx-root");
    mountTree(h(App, { model }), el);
    return () => mountTree(null, el);
  },
};
