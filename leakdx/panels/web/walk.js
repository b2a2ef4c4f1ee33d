// The walk a person is led through the first time, step by step.
// Gives: WalkCard({model, step, onStep, onPart, onChoose}), walkIsHere,
// walkPanel.

function walkIsHere(shelf, job) {
  const walk = shelf && shelf.walk;
  return Boolean(walk && job && (job.id === walk.job || job.id.startsWith(`${walk.job}_`)));
}

// The part that the step speaks of; null where there is none.
function walkPanel(model, job, step) {
  const shelf = model.get("shelf");
  if (step === null || !walkIsHere(shelf, job)) return null;
  const now = shelf.walk.steps[step];
  return now ? now.panel : null;
}

function WalkCard({ model, step, onStep, onPart, onChoose }) {
  const shelf = useTrait(model, "shelf");
  const job = useTrait(model, "job");
  const machine = useTrait(model, "machine");
  const said = useRef(null);
  const here = step !== null && walkIsHere(shelf, job);
  const now = here ? shelf.walk.steps[step] : null;
  useEffect(() => {
    if (!now) return;
    if (now.panel) onPart(now.panel);
    if (said.current) said.current.focus({ preventScroll: true });
  }, [here, step]);
  if (!now) return null;
  const count = shelf.walk.steps.length;
  const read = now.zone && job.zones[now.zone];
  const done = Boolean(read && read.state === now.state && !read.old);
  const zone = now.zone && machine && machine.zones.find((z) => z.id === now.zone);
  const last = step === count - 1;
  return h(
    "aside",
    {
      class: "ldx-walk ldx-card",
      "aria-label": shelf.walk.title,
      onKeyDown: (event) => event.key === "Escape" && onStep(null),
    },
    h("p", { class: "ldx-walk-count" }, `${shelf.walk.title}: ${step + 1} of ${count}`),
    h("p", { class: "ldx-walk-said", tabindex: "-1", ref: said }, now.say),
    zone &&
      h(
        "p",
        { class: "ldx-quiet", role: "status" },
        done ? "\u2713 Saved." : `Tap ${zone.name} on the drawing, or find it in the list.`,
      ),
    h(
      "div",
      { class: "ldx-line" },
      step > 0 && h(Button, { onPress: () => onStep(step - 1) }, "Back"),
      zone &&
        !done &&
        h(Button, { onPress: () => onChoose({ kind: "zone", id: now.zone }) }, "Choose it for me"),
      h(
        Button,
        { look: !zone || done ? "main" : "plain", onPress: () => onStep(last ? null : step + 1) },
        last ? "End" : "Next",
      ),
      !last && h(Button, { look: "quiet", onPress: () => onStep(null) }, "Leave"),
    ),
  );
}
