// What every part of the page is made with: hooks, messages to Python and the plain controls.
// Gives: h, Fragment, mountTree, useState, useEffect, useRef, useMemo, useCallback,
// useLayoutEffect, useTrait, sayTo, Help, Fault, Button, Choice, Bar.

const { h, Fragment, render: mountTree } = preact;
const { useState, useEffect, useRef, useMemo, useCallback, useLayoutEffect } = preactHooks;

// The value of a trait, drawn anew whenever Python replaces it.
function useTrait(model, name) {
  const [, turn] = useState(0);
  useLayoutEffect(() => {
    const changed = () => turn((n) => n + 1);
    model.on(`change:${name}`, changed);
    return () => model.off(`change:${name}`, changed);
  }, [model, name]);
  return model.get(name);
}

function wordsKey() {
  // A page that was not opened on loopback has no randomUUID.
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
}

// Sends a message and gives its key.  What changes the job is kept until Python says it is saved.
function sayTo(model, message, control) {
  const key = wordsKey();
  const whole = unsavedKeep(model, { ...message, key, control: control || message.do });
  wordsSend(model, whole);
  return key;
}

function wordsSend(model, message) {
  try {
    model.send(message);
  } catch (error) {
    // A closed connection: the banner tells of it, and what is unsaved is sent after a reload.
    unsavedLost();
  }
}

let wordsCount = 0;

function useId(stem) {
  return useMemo(() => `ldx-${stem}-${(wordsCount += 1)}`, [stem]);
}

// One sentence, unfolded by a button beside the control it is about.
function Help({ text, about }) {
  const [open, setOpen] = useState(false);
  const id = useId("help");
  if (!text) return null;
  return h(
    "span",
    { class: "ldx-help" },
    h(
      "button",
      {
        type: "button",
        class: "ldx-help-ask",
        "aria-expanded": String(open),
        "aria-controls": id,
        "aria-label": about ? `Help: ${about}` : "Help",
        onClick: () => setOpen(!open),
      },
      "?",
    ),
    h("span", { class: "ldx-help-said", id, hidden: !open }, text),
  );
}

// What Python could not do that this control asked for.
function Fault({ model, control }) {
  const faults = (useTrait(model, "faults") || []).filter((f) => f.control === control);
  return h(
    "div",
    { class: "ldx-faults", role: "alert" },
    faults.map((fault) =>
      h(
        "div",
        { key: fault.key, class: "ldx-fault" },
        h("p", { class: "ldx-fault-said" }, h("strong", null, "Not done. "), fault.said),
        fault.details &&
          h("details", null, h("summary", null, "Details"), h("pre", null, fault.details)),
        h(
          Button,
          { onPress: () => model.send({ do: "dismiss", key: fault.key, control: "dismiss" }) },
          "Dismiss",
        ),
      ),
    ),
  );
}

// look: "main" for the one next step, "plain", "quiet" for what is seldom wanted.  A disabled one
// keeps the focus, so that the keyboard does not lose its place while something is saved.
function Button({ look = "plain", onPress, disabled, children, ...rest }) {
  const pressed = (event) => {
    if (disabled) event.preventDefault();
    else if (onPress) onPress(event);
  };
  return h(
    "button",
    {
      type: "button",
      class: `ldx-button ldx-button-${look}`,
      "aria-disabled": disabled ? "true" : undefined,
      onClick: pressed,
      ...rest,
    },
    children,
  );
}

// One of a few.  options: [{id, said, help, sign}].
function Choice({ label, options, value, onPick, control }) {
  return h(
    "div",
    { class: "ldx-choice", role: "group", "aria-label": label, "data-control": control },
    options.map((option) =>
      h(
        "button",
        {
          key: option.id,
          type: "button",
          class: "ldx-choice-one",
          "aria-pressed": String(option.id === value),
          title: option.help || undefined,
          onClick: () => onPick(option.id),
        },
        option.sign || null,
        h("span", null, option.said),
      ),
    ),
  );
}

// How far a piece of work is; of: 0 where that is not known.
function Bar({ done, of, said }) {
  const known = of > 0;
  const share = known ? Math.max(0.02, Math.min(1, done / of)) : 0.3;
  return h(
    "div",
    {
      class: `ldx-bar${known ? "" : " ldx-bar-unknown"}`,
      role: "progressbar",
      "aria-label": said || "Working",
      "aria-valuemin": "0",
      "aria-valuemax": known ? String(of) : undefined,
      "aria-valuenow": known ? String(Math.min(done, of)) : undefined,
      "aria-valuetext": known ? `${said || "Working"}, ${done} of ${of}` : said || "Working",
    },
    h("div", { class: "ldx-bar-done", style: { transform: `scaleX(${share})` } }),
  );
}
