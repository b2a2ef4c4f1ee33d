// The header of a job: its title, what can be taken back, and the seldom wanted.
// Gives: JobHeader({model, onWalk, theme}), ThemeChoice, useTheme.

const THEME_PLACE = "leakdx-theme";
const THEMES = [
  { id: "auto", said: "Auto" },
  { id: "light", said: "Light" },
  { id: "dark", said: "Dark" },
];

function useTheme() {
  const [theme, setTheme] = useState(() => {
    try {
      return localStorage.getItem(THEME_PLACE) || "auto";
    } catch (error) {
      return "auto"; // no storage in this window
    }
  });
  const pick = (id) => {
    setTheme(id);
    try {
      localStorage.setItem(THEME_PLACE, id);
    } catch (error) {
      // As above: it holds as long as the page is open.
    }
  };
  const dark = useDarkAround();
  return { theme, onTheme: pick, shown: theme === "auto" ? (dark ? "dark" : "light") : theme };
}

// Whether all around is dark: as the notebook is that the page is in, else as this computer asks
// for; either may change its mind at dusk.
function useDarkAround() {
  const asked = useMemo(() => window.matchMedia("(prefers-color-scheme: dark)"), []);
  const [dark, setDark] = useState(() => darkAround(asked));
  useEffect(() => {
    const changed = () => setDark(darkAround(asked));
    asked.addEventListener("change", changed);
    const watch = new MutationObserver(changed);
    watch.observe(document.body, { attributeFilter: [NOTEBOOK_LIGHT] });
    changed();
    return () => {
      asked.removeEventListener("change", changed);
      watch.disconnect();
    };
  }, [asked]);
  return dark;
}

// Where a notebook says whether it is light.
const NOTEBOOK_LIGHT = "data-jp-theme-light";

function darkAround(asked) {
  const light = document.body.getAttribute(NOTEBOOK_LIGHT);
  return light === null ? asked.matches : light === "false";
}

// theme: what was chosen; shown: what that comes to on this computer.
function ThemeChoice({ theme, onTheme }) {
  return h(
    "div",
    { class: "ldx-theme" },
    h(Choice, { label: "Light or dark", options: THEMES, value: theme, onPick: onTheme }),
  );
}

function JobHeader({ model, onWalk, theme }) {
  const job = useTrait(model, "job");
  return h(
    // No banner: the page may stand in one that has its own.
    "section",
    { class: "ldx-head", "aria-label": "This job" },
    h(
      "button",
      {
        type: "button",
        class: "ldx-button ldx-head-back",
        "aria-label": "Close this job, back to all jobs",
        onClick: () => sayTo(model, { do: "close" }, "close"),
      },
      h("span", { "aria-hidden": "true" }, "\u2039"),
      h("span", { class: "ldx-head-word" }, "Jobs"),
    ),
    h(
      "div",
      { class: "ldx-head-title" },
      h("h1", null, job.title),
      h("p", { class: "ldx-quiet" }, job.machine.name),
    ),
    h(WorkCount, { model }),
    h(HeaderTurn, { model, what: "Undo", sign: "\u21b6", turn: job.undo }),
    h(HeaderTurn, { model, what: "Redo", sign: "\u21b7", turn: job.redo }),
    h(HeaderMenu, { model, job, onWalk, theme }),
  );
}

function HeaderTurn({ model, what, sign, turn }) {
  const label = turn ? `${what}: ${turn.said}` : `Nothing to ${what.toLowerCase()}`;
  return h(
    "button",
    {
      type: "button",
      class: "ldx-button ldx-head-turn",
      "aria-label": label,
      title: label,
      disabled: !turn,
      // Redoing takes back the taking back.
      onClick: () => sayTo(model, { do: "undo", entries: turn.entries }, "undo"),
    },
    h("span", { "aria-hidden": "true" }, sign),
    h("span", { class: "ldx-head-word", "aria-hidden": "true" }, what),
  );
}

function HeaderMenu({ model, job, onWalk, theme }) {
  const menu = useRef(null);
  const [title, setTitle] = useState(job.title);
  useEffect(() => setTitle(job.title), [job.title]);
  const { sending, send } = useSending(model, "renamed");
  const close = () => {
    menu.current.open = false;
    menu.current.querySelector("summary").focus();
  };
  const rename = (event) => {
    event.preventDefault();
    if (title.trim() && title.trim() !== job.title) send({ do: "renamed", title: title.trim() });
  };
  useEffect(() => {
    const typed = (event) => event.key === "Escape" && menu.current.open && close();
    const tapped = (event) => {
      if (!menu.current.contains(event.target)) menu.current.open = false;
    };
    document.addEventListener("keydown", typed);
    document.addEventListener("pointerdown", tapped);
    return () => {
      document.removeEventListener("keydown", typed);
      document.removeEventListener("pointerdown", tapped);
    };
  }, []);
  return h(
    "details",
    { class: "ldx-menu", ref: menu },
    h("summary", { class: "ldx-button", "aria-label": "More" }, h("span", { "aria-hidden": "true" }, "\u22ee"), h("span", { class: "ldx-head-word" }, "More")),
    h(
      "div",
      { class: "ldx-menu-body ldx-card ldx-stack" },
      h(
        "form",
        { class: "ldx-stack", onSubmit: rename },
        h(TextBox, { label: "Title", value: title, onInput: setTitle }),
        h(
          "div",
          { class: "ldx-line" },
          h(Button, { type: "submit", disabled: sending || !title.trim() || title.trim() === job.title }, "Rename"),
          h(Saving, { sending }),
        ),
        h(Fault, { model, control: "renamed" }),
      ),
      h(Labelled, { label: "Light or dark", help: "Auto follows this computer." },
        h(ThemeChoice, theme)),
      h(
        "div",
        { class: "ldx-stack" },
        h(Button, { onPress: () => sayTo(model, { do: "export" }, "export") }, "Save a copy as a file"),
        h("p", { class: "ldx-quiet" }, "The job with its machine, to open on another computer."),
        h(Fault, { model, control: "export" }),
      ),
      h(Button, { onPress: () => { close(); onWalk(); } }, "Show me round"),
    ),
  );
}
