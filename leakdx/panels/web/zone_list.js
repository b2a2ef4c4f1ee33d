// Every place by name: all that the drawing does can be done from here.
// Gives: ZoneList({machine, told, chosen, onChoose}), MapRowOf.

// One place in a row: its number or mark, its name, what was seen.
function MapRowOf({ kind, thing, reading, rank }) {
  return h(
    Fragment,
    null,
    h(
      "span",
      { class: "ldx-row-number" },
      kind === "zone"
        ? thing.number
        : h(Fragment, null, h(MapMarkSign, { shape: thing.shape }), thing.number),
    ),
    h(
      "span",
      { class: "ldx-row-words" },
      h("span", { class: "ldx-row-name" }, kind === "zone" ? "" : "Joint: ", thing.name),
      " ",
      h(
        "span",
        { class: "ldx-row-said" },
        mapSeen(thing, reading),
        rank ? `; number ${rank} of the ranking` : "",
      ),
    ),
    h(
      "span",
      { class: reading && reading.old ? "ldx-old" : "" },
      h(MapStateSign, { state: reading ? reading.state : null }),
    ),
  );
}

// All the words asked for, each somewhere in the name; or the number.
function zoneListFits(thing, asked) {
  const name = `${thing.name} ${thing.kind || ""}`.toLowerCase();
  const words = asked.toLowerCase().split(/\s+/).filter(Boolean);
  return words.every((word) =>
    /^\d+$/.test(word) ? String(thing.number) === word : name.includes(word),
  );
}

function ZoneList({ machine, told, chosen, onChoose }) {
  const [asked, setAsked] = useState("");
  const zones = machine.zones.filter((z) => zoneListFits(z, asked));
  const seals = machine.seals.filter((s) => zoneListFits(s, asked));
  const none = !zones.length && !seals.length;
  const rows = (kind, things, readings, ranks) =>
    h(
      "ul",
      { class: "ldx-rows" },
      things.map((thing) =>
        h(
          "li",
          { key: thing.id },
          h(ZoneListRow, {
            kind,
            thing,
            reading: readings[thing.id] || null,
            rank: ranks[thing.id] || null,
            on: Boolean(chosen && chosen.kind === kind && chosen.id === thing.id),
            onChoose,
          }),
        ),
      ),
    );
  return h(
    "div",
    { class: "ldx-places" },
    h(
      "label",
      { class: "ldx-find" },
      h("span", null, "Find by name or number"),
      h("input", {
        type: "search",
        value: asked,
        autocomplete: "off",
        onInput: (event) => setAsked(event.currentTarget.value),
      }),
    ),
    h(
      "p",
      { class: "ldx-map-caption", role: "status" },
      none
        ? "No place has such a name or number. Try a shorter word."
        : `${zones.length} of ${machine.zones.length} surfaces, ${seals.length} of ${machine.seals.length} joints`,
    ),
    zones.length > 0 && h("h2", null, "Surfaces"),
    zones.length > 0 && rows("zone", zones, told.zones, {}),
    seals.length > 0 && h("h2", null, "Joints"),
    seals.length > 0 && rows("seal_point", seals, told.seals, told.ranks),
  );
}

const ZoneListRow = mapMemo(({ kind, thing, reading, rank, on, onChoose }) =>
  h(
    "button",
    {
      type: "button",
      class: "ldx-row",
      "aria-pressed": String(on),
      "data-key": `${kind}:${thing.id}`,
      onClick: () => onChoose({ kind, id: thing.id }),
    },
    h(MapRowOf, { kind, thing, reading, rank }),
  ),
);
