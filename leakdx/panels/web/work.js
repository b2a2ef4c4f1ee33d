// What is being worked out: a bar in the part that asked, and a count in the header.
// Gives: Working({model, errands}), WorkCount({model}), isWorking(work, errand), askFor.

function isWorking(work, errand) {
  return (work || []).some((w) => w.errand === errand);
}

function askFor(model, errand, about) {
  return sayTo(model, { do: "ask", errand, ...about }, errand);
}

function Working({ model, errands, about }) {
  const work = (useTrait(model, "work") || []).filter((w) => errands.includes(w.errand));
  return h(
    "div",
    { class: "ldx-working" },
    work.map((w) =>
      h(
        "div",
        { key: w.errand, class: "ldx-work" },
        h(
          "div",
          { class: "ldx-work-told" },
          h(
            "p",
            { class: "ldx-work-said" },
            about ? `${about}: ` : "",
            w.status === "waiting" ? "waiting for its turn" : w.said || "beginning",
          ),
          h(Bar, { done: w.done, of: w.of, said: w.said || "Working it out" }),
        ),
        w.stop &&
          h(
            Button,
            { onPress: () => sayTo(model, { do: "stop", errand: w.errand }, w.errand) },
            "Stop",
          ),
      ),
    ),
  );
}

function WorkCount({ model }) {
  const work = useTrait(model, "work") || [];
  const said = work.length ? work[0].said || "working it out" : "";
  return h(
    "span",
    { class: "ldx-work-count", title: said },
    work.length > 0 && h("span", { class: "ldx-work-dot", "aria-hidden": "true" }),
    work.length > 0 && h("span", null, work.length === 1 ? "Working" : `${work.length} at work`),
  );
}
