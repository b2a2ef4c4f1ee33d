// The start screen: the jobs there are, and the ways to a new one.
// Gives: Shelf({model, onWalk, theme}).

const SHELF_FILES = ".yaml,.yml,.json";

function Shelf({ model, onWalk, theme }) {
  const shelf = useTrait(model, "shelf");
  const [making, setMaking] = useState(false);
  if (!shelf) return h("main", { class: "ldx-shelf" }, h(Bar, { done: 0, of: 0, said: "Opening" }));
  if (making) return h(NewJob, { model, shelf, onBack: () => setMaking(false) });
  const first = shelf.jobs.length === 0;
  const [example, ...more] = shelf.examples;
  const walk = example && h(ShelfWalk, { model, example, first, onWalk });
  return h(
    "main",
    { class: "ldx-shelf", id: "ldx-parts", tabindex: "-1" },
    h(
      "div",
      { class: "ldx-shelf-head" },
      h(
        "div",
        null,
        h("p", { class: "ldx-mark-name" }, "leakdx"),
        h("h1", null, first ? "Which joint leaks?" : "Your jobs"),
      ),
    ),
    first && h(ShelfWelcome),
    h(ShelfBegin, { model, first, onNew: () => setMaking(true) }, first && walk),
    !first && h(ShelfJobs, { model, jobs: shelf.jobs }),
    // Whoever has jobs comes for them; who has none yet is shown round.
    h("div", { class: "ldx-ways" }, !first && walk, h(ShelfMore, { model, examples: more })),
    h(
      "p",
      { class: "ldx-quiet ldx-shelf-foot" },
      "Your jobs are kept on this computer only, in ",
      h("span", { class: "ldx-path" }, shelf.folder),
      ".",
    ),
    h(ThemeChoice, theme),
  );
}

function ShelfWelcome() {
  return h(
    "div",
    { class: "ldx-card ldx-welcome" },
    h("p", null, "Fluid is all over the machine, and any of many joints may have let it out."),
    h(
      "ol",
      null,
      h("li", null, h("strong", null, "Tap "), "the drawn machine where you looked, and say what you saw: dry counts too."),
      h("li", null, h("strong", null, "Read "), "which joints most likely leak, and why."),
      h("li", null, h("strong", null, "Do "), "the look that pays most next, or the repair."),
    ),
  );
}

function ShelfBegin({ model, first, onNew, children }) {
  return h(
    "div",
    { class: "ldx-ways" },
    children,
    h(ShelfWay, {
      look: first ? "plain" : "main",
      said: "New job",
      help: "Choose what your machine is most like, and begin.",
      onPress: onNew,
    }),
    h(
      "div",
      { class: "ldx-way" },
      h(FileButton, {
        label: "Open a file",
        accept: SHELF_FILES,
        onFile: ({ name, text }) => sayTo(model, { do: "import", file: name, text }, "import"),
      }),
      h("p", { class: "ldx-quiet" }, "A job or case file that was saved here or on another computer."),
    ),
    h(Fault, { model, control: "import" }),
  );
}

function ShelfWalk({ model, example, first, onWalk }) {
  const walk = () => {
    onWalk();
    sayTo(model, { do: "example", job: example.id }, "example");
  };
  return h(
    Fragment,
    null,
    h(ShelfWay, {
      look: first ? "main" : "plain",
      said: "Walk through a short example",
      help: `About five minutes. ${example.machine}.`,
      onPress: walk,
    }),
    h(Fault, { model, control: "example" }),
  );
}

function ShelfWay({ look, said, help, onPress }) {
  return h(
    "div",
    { class: "ldx-way" },
    h(Button, { look, onPress }, said),
    h("p", { class: "ldx-quiet" }, help),
  );
}

function ShelfMore({ model, examples }) {
  if (!examples.length) return null;
  return h(
    "details",
    { class: "ldx-fold ldx-shelf-more" },
    h("summary", null, "More invented examples"),
    h(
      "ul",
      { class: "ldx-jobs" },
      examples.map((e) =>
        h(
          "li",
          { key: e.id },
          h(
            "button",
            {
              type: "button",
              class: "ldx-job",
              onClick: () => sayTo(model, { do: "example", job: e.id }, "example"),
            },
            h("span", { class: "ldx-job-title" }, e.title),
            h("span", { class: "ldx-job-about" }, e.machine),
          ),
        ),
      ),
    ),
  );
}

// As many as one looks through by eye; from there on they can be searched.
const SHELF_FEW = 12;

// The jobs that have every word in their title, machine or date.
function shelfFound(jobs, words) {
  const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
  return jobs.filter((job) => {
    const told = `${job.title} ${job.machine} ${job.changed}`.toLowerCase();
    return wanted.every((word) => told.includes(word));
  });
}

function ShelfJobs({ model, jobs }) {
  const [words, setWords] = useState("");
  const [all, setAll] = useState(false);
  const found = useMemo(() => shelfFound(jobs, words), [jobs, words]);
  const shown = all ? found : found.slice(0, SHELF_FEW);
  return h(
    "section",
    { class: "ldx-stack", "aria-label": "Jobs, the newest first" },
    h(Fault, { model, control: "open" }),
    jobs.length > SHELF_FEW &&
      h(TextBox, {
        label: "Find a job",
        help: "Words of its title, its machine or its date.",
        type: "search",
        value: words,
        onInput: setWords,
      }),
    h(
      "p",
      { class: "ldx-quiet ldx-shelf-found", role: "status" },
      words.trim() && (found.length ? `${found.length} of ${jobs.length} jobs` : "No job has these words."),
    ),
    h("ul", { class: "ldx-jobs" }, shown.map((job) => h(ShelfJob, { key: job.id, model, job }))),
    found.length > SHELF_FEW &&
      h(
        Button,
        { onPress: () => setAll(!all), "aria-expanded": String(all) },
        all ? `Show the newest ${SHELF_FEW}` : `Show all ${found.length}`,
      ),
  );
}

function ShelfJob({ model, job }) {
  return h(
    "li",
    null,
    h(
      "button",
      {
        type: "button",
        class: "ldx-job",
        onClick: () => sayTo(model, { do: "open", job: job.id }, "open"),
      },
      h("span", { class: "ldx-job-title" }, job.title),
      h(
        "span",
        { class: "ldx-job-about" },
        `${job.machine} \u00b7 ${job.entries === 1 ? "1 entry" : `${job.entries} entries`}`,
      ),
      h("span", { class: "ldx-job-when" }, job.changed),
    ),
  );
}
