// Why: what speaks for and against one joint, how firm that is, and what else would explain it.
// Gives: WhyPart({model, seal, onClose}).

function WhyPart({ model, seal, onClose }) {
  const job = useTrait(model, "job");
  const machine = useTrait(model, "machine");
  const why = (useTrait(model, "answers") || {}).why;
  const work = useTrait(model, "work");
  const there = why && why.seal === seal ? why : null;
  const busy = isWorking(work, "why");
  const head = useRef(null);
  const name = (machine.seals.find((s) => s.id === seal) || { name: seal }).name;
  useEffect(() => {
    head.current.focus({ preventScroll: true });
    head.current.scrollIntoView({ block: "start" });
  }, [seal]);
  const ask = () => askFor(model, "why", { seal });
  return h(
    "section",
    {
      class: "ldx-why ldx-stack",
      "aria-label": `Why: ${name}`,
      onKeyDown: (event) => event.key === "Escape" && onClose(),
    },
    h(
      "div",
      { class: "ldx-line ldx-spread ldx-why-head" },
      h("h3", { tabindex: "-1", ref: head }, `Why: ${name}`),
      h(Button, { onPress: onClose }, "Close"),
    ),
    h(Working, { model, errands: ["why"] }),
    h(Fault, { model, control: "why" }),
    h(Stale, { answer: there, job }),
    !busy && (!there || there.head !== job.head) &&
      h("div", null, h(Button, { look: "main", onPress: ask }, there ? "Work it out anew" : "Work it out")),
    there && h(WhyTold, { why: there }),
  );
}

function WhyTold({ why }) {
  const most = Math.max(10, ...[...why.for, ...why.against].map((s) => Math.abs(s.decibans)));
  return h(
    Fragment,
    null,
    h("p", { class: "ldx-why-sentence" }, why.sentence),
    h(
      "p",
      { class: "ldx-quiet" },
      "A deciban is a small step of evidence: 3 make a thing about twice as likely as before against its opposite, 10 ten times.",
    ),
    h(WhySpeaks, { title: "Speaks for it", side: "for", speaks: why.for, most }),
    h(WhySpeaks, { title: "Speaks against it", side: "against", speaks: why.against, most }),
    why.doubts.length > 0 && h(WhyLines, { title: "What hangs on one reading", lines: why.doubts }),
    why.picture && h(WhyPicture, { why }),
    why.rivals.length > 0 && h(WhyRivals, { rivals: why.rivals }),
    h(Fold, { title: "How firm it is", open: true },
      h("p", null, why.firm_said),
      why.firm.length > 0 && h(WhyFirm, { why }),
      why.swings.length > 0 && h("h4", null, "Which numbers matter most"),
      why.swings.length > 0 && h(RankLines, { lines: why.swings.map((s) => s.said) })),
    why.conflict.length > 0 &&
      h(Fold, { title: "Do the readings fit together" }, h(RankLines, { lines: why.conflict })),
    why.together.length > 0 &&
      h(Fold, { title: "What would explain several leaks at once" }, h(RankLines, { lines: why.together })),
    !why.picture && why.routes.length > 0 &&
      h(Fold, { title: "Which way the fluid goes" }, h(RankLines, { lines: why.routes.map((r) => r.said) })),
  );
}

function WhyLines({ title, lines }) {
  return h("section", { class: "ldx-stack" }, h("h4", null, title), h(RankLines, { lines }));
}

// Each reading with the evidence it brings, drawn to one length.
function WhySpeaks({ title, side, speaks, most }) {
  return h(
    "section",
    { class: "ldx-stack" },
    h("h4", null, title),
    speaks.length === 0
      ? h("p", { class: "ldx-quiet" }, "Nothing that was read.")
      : h(
          "ul",
          { class: `ldx-speaks ldx-speaks-${side}` },
          speaks.map((s) =>
            h(
              "li",
              { key: s.reading },
              h("span", { class: "ldx-other-said" }, s.said),
              h(
                "span",
                { class: "ldx-decibans" },
                `${s.decibans > 0 ? "+" : "\u2212"}${Math.abs(s.decibans).toFixed(1)}`,
                h("span", { class: "ldx-unseen" }, " decibans"),
              ),
              h(
                "span",
                { class: "ldx-rank-bar", "aria-hidden": "true" },
                h("span", {
                  class: "ldx-rank-fill",
                  style: { transform: `scaleX(${Math.abs(s.decibans) / most})` },
                }),
              ),
            ),
          ),
        ),
  );
}

// Our own drawing, made in Python and free of scripts.
function WhyPicture({ why }) {
  const picture = useMemo(() => ({ __html: why.picture }), [why.picture]);
  return h(
    "section",
    { class: "ldx-stack" },
    h("h4", null, "Which way the fluid goes"),
    h(
      "figure",
      { class: "ldx-picture" },
      h("div", {
        class: "ldx-picture-sheet",
        role: "img",
        tabindex: "0",
        "aria-label": `Drawn: the way of the fluid from ${why.name}`,
        dangerouslySetInnerHTML: picture,
      }),
      h("figcaption", null, h(RankLines, { lines: why.routes.map((r) => r.said) })),
    ),
  );
}

function WhyRivals({ rivals }) {
  return h(
    "section",
    { class: "ldx-stack" },
    h("h4", null, "What else would explain it"),
    h(
      "ul",
      { class: "ldx-others" },
      rivals.map((r) =>
        h(
          "li",
          { key: r.said },
          h("span", { class: "ldx-other-said" }, r.said),
          h("span", { class: "ldx-rank-said" }, r.text),
        ),
      ),
    ),
  );
}

function WhyFirm({ why }) {
  const own = why.firm.find((f) => f.seal === why.seal);
  if (!own) return null;
  return h("p", null, `${own.name}: from ${own.said}.`);
}
